//! The starter's shop records: they pass their schemas, are read, and hold nothing that a shop would have to fix.
//!
//! How schemas, Rust types and samples hold together is in `tests/schemas`.

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use underlit::making::calendar::ShopCalendar;
use underlit::making::routes::Routes;
use underlit::power::controls::Controls;
use underlit::power::drivers::Drivers;
use underlit::power::lights::Lights;
use underlit::power::wire_stock::WireStock;
use underlit::store::schemas;

use crate::starter::starter;

/// The starter's file passes its schema, is written as it was read, and has no fault; it says that it is invented.
fn is_sound<T: DeserializeOwned + Serialize, F: ToString>(kind: &str, faults: impl Fn(&T) -> Vec<F>) -> T {
    let name = format!("{kind}.schema.json");
    let (_, text) =
        schemas::published().iter().find(|(n, _)| *n == name).unwrap_or_else(|| panic!("no {name}"));
    let schema: Value = serde_json::from_str(text).unwrap_or_else(|e| panic!("{name}: {e}"));
    let value: Value = starter(kind);
    let validator = jsonschema::draft202012::new(&schema).unwrap_or_else(|e| panic!("{kind}: {e}"));
    let errors: Vec<String> =
        validator.iter_errors(&value).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(errors.is_empty(), "{kind}: {errors:?}");
    let typed: T = serde_json::from_value(value.clone()).unwrap_or_else(|e| panic!("{kind}: {e}"));
    let found: Vec<String> = faults(&typed).iter().map(ToString::to_string).collect();
    assert!(found.is_empty(), "{kind}: {found:?}");
    assert!(
        serde_json::to_value(&typed).is_ok_and(|written| written == value),
        "{kind} is written otherwise"
    );
    assert_eq!(value["$schema"], format!("../schema/{kind}.schema.json"));
    let note = value["note"].as_str().unwrap_or_default();
    assert!(note.starts_with("Invented"), "{kind} does not say that it is invented: {note:?}");
    typed
}

#[test]
fn the_starters_records_are_sound() {
    is_sound::<Routes, _>("routes", Routes::faults);
    is_sound::<Lights, _>("lights", Lights::faults);
    is_sound::<WireStock, _>("wire", WireStock::faults);
    is_sound::<ShopCalendar, _>("calendar", ShopCalendar::faults);
    let drivers = is_sound::<Drivers, _>("drivers", Drivers::faults);
    let controls = is_sound::<Controls, _>("controls", Controls::faults);
    for dimmer in &controls.dimmers {
        for id in &dimmer.tried_with {
            let driver =
                drivers.get(id).unwrap_or_else(|| panic!("{} was tried with no driver {id}", dimmer.id));
            assert!(driver.dimming.contains(&dimmer.method), "{id} cannot be dimmed by {}", dimmer.id);
        }
    }
}

//! The shop's records: schema, Rust type, starter file and samples hold together.
//!
//! Not here: what the records mean; each room tests that beside its own code.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use underlit::making::calendar::{Allowances, Holiday, HolidayCalendar, ShopCalendar};
use underlit::making::routes::{Route, Routes};
use underlit::power::controls::{Controller, Controls, Dimmer};
use underlit::power::drivers::{Driver, Drivers};
use underlit::power::lights::{CctRange, Channel, FaceShare, Light, Lights};
use underlit::power::wire_stock::{Cable, WireStock};

fn folder(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn read(path: &Path) -> Value {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn schema(kind: &str) -> Value {
    read(&folder(&format!("schema/{kind}.schema.json")))
}

fn samples(kind: &str, which: &str) -> Vec<(String, Value)> {
    let path = folder(&format!("tests/samples/{kind}/{which}"));
    let mut found: Vec<_> = fs::read_dir(&path)
        .unwrap_or_else(|e| panic!("{}: {e}", path.display()))
        .map(|entry| entry.expect("the samples folder can be listed").path())
        .map(|path| {
            (path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default(), read(&path))
        })
        .collect();
    found.sort_by(|a, b| a.0.cmp(&b.0));
    assert!(!found.is_empty(), "{} is empty", path.display());
    found
}

/// The keys that a type reads, as serde lists them when it meets a key it does not know.
fn keys_of_type<T: DeserializeOwned>() -> BTreeSet<String> {
    let refusal = serde_json::from_str::<T>(r#"{"no such key":0}"#).err().map(|e| e.to_string());
    let refusal = refusal.expect("a type that denies unknown fields refuses an unknown key");
    let (_, list) = refusal.split_once("expected ").expect("serde lists the known keys");
    list.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

fn keys_of_schema(object: &Value) -> BTreeSet<String> {
    object["properties"].as_object().expect("an object's schema has properties").keys().cloned().collect()
}

/// Starter file and valid samples pass the schema, are read by the type and written back the same; invalid
/// samples are refused by the schema.
fn holds_together<T: DeserializeOwned + Serialize>(kind: &str, faults: impl Fn(&T) -> Vec<String>) {
    let schema = schema(kind);
    assert_eq!(schema["$id"], format!("{kind}.schema.json"));
    let validator = jsonschema::draft202012::new(&schema).unwrap_or_else(|e| panic!("{kind}: {e}"));
    let mut good = samples(kind, "valid");
    good.push(("starter".into(), read(&folder(&format!("src/starter/shop/{kind}.json")))));
    for (name, value) in good {
        let errors: Vec<String> =
            validator.iter_errors(&value).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(errors.is_empty(), "{kind}/{name}: {errors:?}");
        let typed: T = serde_json::from_value(value.clone()).unwrap_or_else(|e| panic!("{kind}/{name}: {e}"));
        assert_eq!(faults(&typed), Vec::<String>::new(), "{kind}/{name}");
        let written = serde_json::to_value(&typed).expect("a record can be written");
        assert!(written == value, "{kind}/{name} is not written as it was read: {written}");
    }
    for (name, value) in samples(kind, "invalid") {
        assert!(!validator.is_valid(&value), "{kind}/invalid/{name} is accepted by the schema");
    }
}

fn messages<F: ToString>(faults: Vec<F>) -> Vec<String> {
    faults.iter().map(ToString::to_string).collect()
}

#[test]
fn routes_hold_together() {
    holds_together::<Routes>("routes", |r| messages(r.faults()));
}

#[test]
fn lights_hold_together() {
    holds_together::<Lights>("lights", |l| messages(l.faults()));
}

#[test]
fn drivers_hold_together() {
    holds_together::<Drivers>("drivers", |d| messages(d.faults()));
}

#[test]
fn controls_hold_together() {
    holds_together::<Controls>("controls", |c| messages(c.faults()));
}

#[test]
fn wire_holds_together() {
    holds_together::<WireStock>("wire", |w| messages(w.faults()));
}

#[test]
fn calendar_holds_together() {
    holds_together::<ShopCalendar>("calendar", |c| messages(c.faults()));
}

#[test]
fn every_key_of_a_type_is_in_its_schema_and_the_other_way_round() {
    let (routes, lights, drivers) = (schema("routes"), schema("lights"), schema("drivers"));
    let (controls, wire, calendar) = (schema("controls"), schema("wire"), schema("calendar"));
    let light = &lights["$defs"]["light"];
    let holidays = &calendar["$defs"]["holiday_calendar"];
    for (what, of_type, of_schema) in [
        ("routes", keys_of_type::<Routes>(), &routes),
        ("route", keys_of_type::<Route>(), &routes["$defs"]["route"]),
        ("lights", keys_of_type::<Lights>(), &lights),
        ("light", keys_of_type::<Light>(), light),
        ("channel", keys_of_type::<Channel>(), &lights["$defs"]["channel"]),
        ("cct range", keys_of_type::<CctRange>(), &light["properties"]["cct_range_k"]),
        ("face share", keys_of_type::<FaceShare>(), &light["properties"]["face_share"]),
        ("drivers", keys_of_type::<Drivers>(), &drivers),
        ("driver", keys_of_type::<Driver>(), &drivers["$defs"]["driver"]),
        ("controls", keys_of_type::<Controls>(), &controls),
        ("controller", keys_of_type::<Controller>(), &controls["$defs"]["controller"]),
        ("dimmer", keys_of_type::<Dimmer>(), &controls["$defs"]["dimmer"]),
        ("wire", keys_of_type::<WireStock>(), &wire),
        ("cable", keys_of_type::<Cable>(), &wire["$defs"]["cable"]),
        ("calendar", keys_of_type::<ShopCalendar>(), &calendar),
        ("holiday calendar", keys_of_type::<HolidayCalendar>(), holidays),
        ("holiday", keys_of_type::<Holiday>(), &holidays["properties"]["holidays"]["items"]),
        ("allowances", keys_of_type::<Allowances>(), &calendar["properties"]["allowances"]),
    ] {
        assert_eq!(of_type, keys_of_schema(of_schema), "{what}");
    }
}

#[test]
fn every_schema_field_is_described() {
    fn walk(at: &str, schema: &Value) {
        let Some(object) = schema.as_object() else { return };
        if let Some(properties) = object.get("properties").and_then(Value::as_object) {
            for (key, field) in properties {
                let at = format!("{at}/{key}");
                assert!(
                    field["title"].is_string() && field["description"].is_string(),
                    "{at} is not described"
                );
                if matches!(field["type"].as_str(), Some("number" | "integer")) {
                    let text = field["description"].as_str().unwrap_or_default();
                    assert!(text.contains("Unit: "), "{at} does not say its unit");
                    assert!(field["maximum"].is_number(), "{at} has no upper end");
                }
                walk(&at, field);
            }
            assert_eq!(object["additionalProperties"], false, "{at} lets unknown fields through");
        }
        for definition in object.get("$defs").and_then(Value::as_object).into_iter().flatten() {
            walk(&format!("{at}/{}", definition.0), definition.1);
        }
        if let Some(items) = object.get("items") {
            walk(at, items);
        }
    }
    for kind in ["routes", "lights", "drivers", "controls", "wire", "calendar"] {
        walk(kind, &schema(kind));
    }
}

#[test]
fn the_starter_files_say_that_their_figures_are_invented() {
    for kind in ["routes", "lights", "drivers", "controls", "wire", "calendar"] {
        let value = read(&folder(&format!("src/starter/shop/{kind}.json")));
        let note = value["note"].as_str().unwrap_or_default();
        assert!(note.starts_with("Invented"), "{kind}: {note:?}");
        assert_eq!(value["$schema"], format!("../schema/{kind}.schema.json"));
    }
}

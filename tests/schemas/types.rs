//! Schema and Rust type ask for the same fields: what one needs the other needs, and `null` is no value.

use std::collections::BTreeSet;

use serde::de::DeserializeOwned;
use serde_json::Value;
use underlit::model::attachment::Attachment;
use underlit::model::book::Book;
use underlit::model::conflict::{Conflict, Side};
use underlit::model::handover::{AsBuilt, BuiltPanel, Installation, ServiceCard};
use underlit::model::kind::Kind;
use underlit::model::moves::Move;
use underlit::model::panel::{Panel, PanelLight, Seam, Supply};
use underlit::model::project::{Project, ProjectPeople, Site};
use underlit::model::rendering::Rendering;
use underlit::model::request::Request;
use underlit::model::roster::{Key, Person, Roster};
use underlit::model::rules::{ApprovalRule, EvidenceRule, Rules};
use underlit::model::statement::{Evidence, RosterRef, Statement, Subject};
use underlit::model::swatch::{Found, PhotoReading, Slab, Swatch, Transmittance};
use underlit::model::trial::Trial;

use crate::files::{samples, schema, validator};
use crate::kinds::read_and_write;
use crate::walk::fields_of_record;

/// Written as `null` where there is none, so that a chain's beginning is said and not merely left out.
const NULLABLE: &[&str] = &["roster#/properties/previous", "move#/properties/previous"];

/// Any JSON value, `null` too.
const ANY_VALUE: &[&str] = &["conflict#/properties/base", "conflict#/$defs/side/properties/value"];

/// Needed or not depending on what follows it.
const CONDITIONAL: &[&str] = &["outline#/$defs/way/properties/start_mm"];

/// The record with the field of an object taken out or set to null.
fn without(record: &Value, object: &str, key: &str, instead: Option<Value>) -> Value {
    let mut record = record.clone();
    let object =
        record.pointer_mut(object).and_then(Value::as_object_mut).expect("the field's object is there");
    match instead {
        Some(value) => object.insert(key.into(), value),
        None => object.remove(key),
    };
    record
}

#[test]
fn a_field_is_required_exactly_where_the_type_needs_it() {
    let mut tried = 0;
    for kind in Kind::WITH_SCHEMA {
        for (name, record) in samples(kind.name(), "valid") {
            for field in fields_of_record(kind.name(), &record) {
                if NULLABLE.contains(&field.place.as_str()) || CONDITIONAL.contains(&field.place.as_str()) {
                    continue;
                }
                let taken = read_and_write(*kind, &without(&record, &field.object, &field.key, None));
                assert_eq!(taken.is_err(), field.required, "{name} without {}: {taken:?}", field.place);
                tried += 1;
            }
        }
    }
    assert!(tried > 1000, "only {tried} fields were tried");
}

#[test]
fn null_is_no_value_but_where_it_says_that_there_is_none() {
    for kind in Kind::WITH_SCHEMA {
        let validator = validator(kind.name());
        for (name, record) in samples(kind.name(), "valid") {
            for field in fields_of_record(kind.name(), &record) {
                let place = field.place.as_str();
                if ANY_VALUE.contains(&place) || NULLABLE.contains(&place) {
                    continue;
                }
                let nulled = without(&record, &field.object, &field.key, Some(Value::Null));
                assert!(!validator.is_valid(&nulled), "{name} with null for {place} is accepted");
            }
        }
    }
}

/// The keys that a type reads, as serde lists them when it meets a key it does not know.
fn keys_of_type<T: DeserializeOwned>() -> BTreeSet<String> {
    let refusal = serde_json::from_str::<T>(r#"{"no such key":0}"#).err().map(|e| e.to_string());
    let refusal = refusal.expect("a type that denies unknown fields refuses an unknown key");
    let (_, list) = refusal.split_once("expected ").expect("serde lists the known keys");
    list.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[test]
fn every_key_of_a_type_is_in_its_schema_and_the_other_way_round() {
    let shared = |name: &str| ("definitions", format!("/$defs/{name}"));
    let own = |file, name: &str| (file, format!("/$defs/{name}"));
    let at = |file, pointer: &str| (file, pointer.to_owned());
    for ((file, pointer), keys) in [
        (at("book", ""), keys_of_type::<Book>()),
        (at("roster", ""), keys_of_type::<Roster>()),
        (own("roster", "person"), keys_of_type::<Person>()),
        (own("roster", "key"), keys_of_type::<Key>()),
        (at("rules", ""), keys_of_type::<Rules>()),
        (own("rules", "approval"), keys_of_type::<ApprovalRule>()),
        (at("rules", "/properties/evidence"), keys_of_type::<EvidenceRule>()),
        (at("project", ""), keys_of_type::<Project>()),
        (at("project", "/properties/people"), keys_of_type::<ProjectPeople>()),
        (at("project", "/properties/site"), keys_of_type::<Site>()),
        (at("swatch", ""), keys_of_type::<Swatch>()),
        (at("swatch", "/properties/slab"), keys_of_type::<Slab>()),
        (own("swatch", "transmittance"), keys_of_type::<Transmittance>()),
        (own("swatch", "photo_reading"), keys_of_type::<PhotoReading>()),
        (own("swatch", "found"), keys_of_type::<Found>()),
        (at("request", ""), keys_of_type::<Request>()),
        (at("trial", ""), keys_of_type::<Trial>()),
        (at("panel", ""), keys_of_type::<Panel>()),
        (at("panel", "/properties/light"), keys_of_type::<PanelLight>()),
        (at("panel", "/properties/supply"), keys_of_type::<Supply>()),
        (at("rendering", ""), keys_of_type::<Rendering>()),
        (at("as-built", ""), keys_of_type::<AsBuilt>()),
        (own("as-built", "built_panel"), keys_of_type::<BuiltPanel>()),
        (at("installation", ""), keys_of_type::<Installation>()),
        (at("installation", "/properties/service_card"), keys_of_type::<ServiceCard>()),
        (at("sign-off", ""), keys_of_type::<Statement>()),
        (at("move", ""), keys_of_type::<Move>()),
        (at("conflict", ""), keys_of_type::<Conflict>()),
        (own("conflict", "side"), keys_of_type::<Side>()),
        (shared("attachment"), keys_of_type::<Attachment>()),
        (shared("seam"), keys_of_type::<Seam>()),
        (shared("subject"), keys_of_type::<Subject>()),
        (shared("roster_reference"), keys_of_type::<RosterRef>()),
        (shared("evidence"), keys_of_type::<Evidence>()),
    ] {
        let object =
            schema(file).pointer(&pointer).unwrap_or_else(|| panic!("{file}#{pointer} is not there"));
        let properties = object["properties"].as_object().expect("an object's schema has properties");
        let described: BTreeSet<String> = properties.keys().cloned().collect();
        assert_eq!(keys, described, "{file}#{pointer}");
    }
}

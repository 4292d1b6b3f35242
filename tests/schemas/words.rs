//! Closed lists: each one of the schemas is the Rust list, word for word and in its order.

use std::collections::BTreeMap;
use std::fmt::Display;

use serde_json::Value;
use underlit::making::bending::Forming;
use underlit::making::calendar::DayName;
use underlit::making::mount::{Mount, OpeningWay};
use underlit::making::routes::LayerKind;
use underlit::model::book::FORMAT;
use underlit::model::kind::Kind;
use underlit::model::panel::{BendAxis, BendFace, FeedBasis, Position};
use underlit::model::roster::{KeyState, Role};
use underlit::model::rules::Ask;
use underlit::model::site_facts::BasisKind;
use underlit::model::sizes::SizeOf;
use underlit::model::stage::Stage;
use underlit::model::statement::{Decision, Topic, View};
use underlit::model::swatch::{Certainty, FoundBy, Material, Part};
use underlit::power::conductor::Conductor;
use underlit::power::controls::ControlInput;
use underlit::power::vocabulary::{Basis, CodeRegion, CommonRail, Dimming, Location, Place, WireTable};
use underlit::power::wire_stock::LeadEnd;
use underlit::shape::MarkKind;
use underlit::units::DisplayUnits;
use underlit::words::{Face, LightKind, Texture, Tone};

use crate::files::{schema, schemas};
use crate::walk::parts;

fn all<T: Display>(words: &[T]) -> Vec<String> {
    words.iter().map(ToString::to_string).collect()
}

/// The places of the schemas that list words, with the Rust list of each.
fn lists() -> Vec<(&'static str, Vec<String>)> {
    let units = [DisplayUnits::Mm, DisplayUnits::In].map(|u| serde_json::to_value(u).expect("a word"));
    let units = units.iter().filter_map(Value::as_str).map(str::to_owned).collect();
    let dimming: Vec<Dimming> = Dimming::ALL.iter().copied().filter(|d| *d != Dimming::Off).collect();
    let roots = ["book.json", "rules.json"].map(str::to_owned).into_iter();
    let shop = Kind::WITH_SCHEMA.iter().map(|kind| format!("shop/{}.json", kind.name()));
    let sealed = roots.chain(shop.filter(|path| Kind::of_path(path).is_some_and(Kind::is_sealed_by_roster)));
    vec![
        ("calendar#/properties/working_days/items", all(DayName::ALL)),
        ("controls#/$defs/controller/properties/common_rail", all(CommonRail::ALL)),
        ("controls#/$defs/controller/properties/inputs/items", all(ControlInput::ALL)),
        ("controls#/$defs/controller/properties/kinds/items", all(LightKind::ALL)),
        ("controls#/$defs/controller/properties/place", all(Place::ALL)),
        // A dimmer dims: every method but none.
        ("controls#/$defs/dimmer/properties/method", all(&dimming)),
        ("controls#/$defs/dimmer/properties/place", all(Place::ALL)),
        ("definitions#/$defs/decision", all(Decision::ALL)),
        ("definitions#/$defs/display_units", units),
        ("definitions#/$defs/face", all(Face::ALL)),
        ("definitions#/$defs/key_state", all(KeyState::ALL)),
        ("definitions#/$defs/light_kind", all(LightKind::ALL)),
        ("definitions#/$defs/material", all(Material::ALL)),
        ("definitions#/$defs/mount", all(Mount::ALL)),
        ("definitions#/$defs/place", all(Place::ALL)),
        ("definitions#/$defs/role", all(Role::ALL)),
        ("definitions#/$defs/stage", all(Stage::ALL)),
        ("definitions#/$defs/texture", all(Texture::ALL)),
        ("definitions#/$defs/tone", all(Tone::ALL)),
        ("definitions#/$defs/topic", all(Topic::ALL)),
        ("definitions#/$defs/view", all(View::ALL)),
        ("drivers#/$defs/driver/properties/dimming/items", all(Dimming::ALL)),
        ("drivers#/$defs/driver/properties/locations/items", all(Location::ALL)),
        ("drivers#/$defs/driver/properties/place", all(Place::ALL)),
        ("lights#/$defs/light/properties/basis", all(Basis::ALL)),
        ("lights#/$defs/light/properties/common_rail", all(CommonRail::ALL)),
        ("lights#/$defs/light/properties/kind", all(LightKind::ALL)),
        ("lights#/$defs/light/properties/place", all(Place::ALL)),
        ("outline#/$defs/mark/properties/kind", all(MarkKind::ALL)),
        ("panel#/properties/basis/properties/kind", all(BasisKind::ALL)),
        ("panel#/properties/bent/properties/axis", all(BendAxis::ALL)),
        ("panel#/properties/bent/properties/face", all(BendFace::ALL)),
        ("panel#/properties/bent/properties/formed", all(Forming::ALL)),
        ("routes#/$defs/bend/properties/formed", all(Forming::ALL)),
        ("panel#/properties/opening/properties/way", all(OpeningWay::ALL)),
        ("panel#/properties/position", all(Position::ALL)),
        ("panel#/properties/feed_basis", all(FeedBasis::ALL)),
        ("panel#/properties/sizes/properties/outline_is", all(SizeOf::ALL)),
        ("panel#/properties/supply/properties/location", all(Location::ALL)),
        ("project#/properties/site/properties/code_region", all(CodeRegion::ALL)),
        ("roster#/properties/sealed/propertyNames", sealed.collect()),
        ("routes#/$defs/layer/properties/faces/items", all(Face::ALL)),
        ("routes#/$defs/layer/properties/what", all(LayerKind::ALL)),
        ("routes#/$defs/route/properties/light_kinds/items", all(LightKind::ALL)),
        ("routes#/$defs/route/properties/mounts/items", all(Mount::ALL)),
        ("routes#/$defs/stone_density/properties/material", all(Material::ALL)),
        ("rules#/properties/asks/items", all(Ask::ALL)),
        ("swatch#/$defs/found/properties/by", all(FoundBy::ALL)),
        ("swatch#/$defs/found/properties/certainty", all(Certainty::ALL)),
        ("swatch#/$defs/transmittance/properties/part", all(Part::ALL)),
        ("wire#/$defs/cable/properties/table", all(WireTable::ALL)),
        ("wire#/$defs/connector/properties/at/items", all(LeadEnd::ALL)),
        ("wire#/$defs/connector/properties/place", all(Place::ALL)),
        ("wire#/$defs/fuse/properties/place", all(Place::ALL)),
    ]
}

#[test]
fn every_list_of_words_is_the_rust_list() {
    let mut found = BTreeMap::new();
    for part in schemas().keys().flat_map(|file| parts(file)) {
        if let Some(words) = part.schema.get("enum").and_then(Value::as_array) {
            let words: Vec<String> = words.iter().filter_map(Value::as_str).map(str::to_owned).collect();
            found.insert(part.place(), words);
        }
    }
    // Sizes are rows of the wire tables, no closed list of words: see below.
    let sizes = found.remove("wire#/$defs/cable/properties/size").expect("the wire sizes are listed");
    let expected: BTreeMap<String, Vec<String>> =
        lists().into_iter().map(|(p, w)| (p.to_owned(), w)).collect();
    assert_eq!(found, expected);

    let mut rows: Vec<&str> = Vec::new();
    for size in WireTable::ALL.iter().flat_map(|table| Conductor::names(*table)) {
        if !rows.contains(&size) {
            rows.push(size);
        }
    }
    assert_eq!(sizes, rows);
}

#[test]
fn the_topics_of_a_view_share_out_all_topics() {
    let rules =
        schema("definitions")["$defs"]["topic_of_view"]["allOf"].as_array().expect("the rules are a list");
    let mut topics: Vec<String> = Vec::new();
    for rule in rules {
        let topic = &rule["then"]["properties"]["topic"];
        topics.extend(topic["const"].as_str().map(str::to_owned));
        topics.extend(
            topic["enum"].as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned),
        );
    }
    topics.sort();
    let mut expected = all(Topic::ALL);
    expected.sort();
    assert_eq!(topics, expected);
}

#[test]
fn only_the_owners_files_are_sealed_and_all_of_them() {
    let paths = &schema("roster")["properties"]["sealed"]["propertyNames"]["enum"];
    let paths: Vec<&str> = paths.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    assert!(paths.iter().all(|p| Kind::of_path(p).is_some_and(Kind::is_sealed_by_roster)), "{paths:?}");
    assert_eq!(paths.len(), Kind::WITH_SCHEMA.iter().filter(|k| k.is_sealed_by_roster()).count());
}

#[test]
fn the_book_has_the_format_that_this_underlit_reads() {
    assert_eq!(schema("book")["properties"]["format"]["maximum"], FORMAT);
}

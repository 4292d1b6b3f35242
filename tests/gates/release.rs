//! A released job is one only as long as nothing sealed is changed, and stays one when anything else is.
//!
//! Every value of the records is changed in turn, in every way that its type lets pass, and taken out where it
//! may be missing. Files follow their records, so that nothing but the seal can object.

use std::collections::BTreeMap;

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use underlit::digest::Sha256Digest;
use underlit::gates::{facts, is_released};
use underlit::ids::PanelId;
use underlit::model::rendering::Rendering;
use underlit::model::statement::{Fact, Subject};
use underlit::model::view::{choice, is_unsealed};

use crate::job::{Job, digest, name};

/// One value of a record: its JSON pointer, and its dotted path with list places left out.
struct Place {
    pointer: String,
    path: String,
}

fn places(value: &Value, pointer: &str, path: &str, found: &mut Vec<Place>) {
    match value {
        Value::Object(fields) => {
            for (key, inner) in fields {
                let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                found.push(Place { pointer: format!("{pointer}/{key}"), path: path.clone() });
                places(inner, &format!("{pointer}/{key}"), &path, found);
            }
        }
        Value::Array(items) => {
            for (at, inner) in items.iter().enumerate() {
                found.push(Place { pointer: format!("{pointer}/{at}"), path: path.to_owned() });
                places(inner, &format!("{pointer}/{at}"), path, found);
            }
        }
        _ => {}
    }
}

/// How many other values are tried in one place.
const MOST_WAYS: usize = 2;

/// Other values that could stand in a place.
fn others(value: &Value) -> Vec<Value> {
    let words = [
        "x",
        "other",
        "dry",
        "wet",
        "diffused",
        "static-white",
        "rgbw",
        "marble",
        "white",
        "veined",
        "tray",
        "dana",
        "2026-08-08",
        "spectrum",
        "in-wall-box",
        "level",
        "photo-midway",
        "estimated",
        "vein",
        "survey",
    ];
    match value {
        Value::Number(n) if n.is_f64() => vec![json!(n.as_f64().map(|v| v + 0.25))],
        Value::Number(n) => vec![json!(n.as_i64().map(|v| v + 1)), json!(n.as_i64().map(|v| v + 100))],
        Value::String(_) => words.iter().map(|w| json!(w)).chain([json!(digest("another"))]).collect(),
        Value::Array(items) => {
            let shorter = items.split_last().map(|(_, rest)| json!(rest));
            let doubled =
                items.first().map(|first| json!([items.as_slice(), std::slice::from_ref(first)].concat()));
            // A list of a fixed length takes another value only.
            let moved = items.first().and_then(Value::as_f64).map(|first| {
                let rest = items.iter().skip(1).cloned();
                json!(std::iter::once(json!(first + 1.0)).chain(rest).collect::<Vec<_>>())
            });
            shorter.into_iter().chain(doubled).chain(moved).collect()
        }
        Value::Bool(yes) => vec![json!(!yes)],
        _ => Vec::new(),
    }
}

fn changed(whole: &Value, pointer: &str, instead: Option<&Value>) -> Value {
    let mut whole = whole.clone();
    let (before, last) = pointer.rsplit_once('/').expect("a pointer has a slash");
    let around = whole.pointer_mut(before).expect("the place is there");
    match (around, instead) {
        (Value::Object(fields), Some(value)) => {
            fields.insert(last.to_owned(), value.clone());
        }
        (Value::Object(fields), None) => {
            fields.shift_remove(last);
        }
        (Value::Array(items), Some(value)) => {
            items[last.parse::<usize>().expect("a place in a list")] = value.clone()
        }
        (Value::Array(items), None) => {
            items.remove(last.parse::<usize>().expect("a place in a list"));
        }
        _ => panic!("{before} is no record and no list"),
    }
    whole
}

/// Changes every value of one record of a released job, one at a time. Gives how many ways were tried of each path.
fn try_all<T: Serialize + DeserializeOwned + PartialEq>(
    kind: &str,
    record: &T,
    put: impl Fn(&mut Job, T),
) -> BTreeMap<String, usize> {
    let job = Job::complete();
    let whole = serde_json::to_value(record).expect("a record is JSON");
    let mut all = Vec::new();
    places(&whole, "", "", &mut all);
    let sealed_before = facts::of(&job.case(), &Subject::release());
    let mut tried = BTreeMap::new();
    for place in &all {
        let unsealed = is_unsealed(kind, &place.path);
        let old = whole.pointer(&place.pointer).expect("the place is there");
        // What is not sealed may still be asked for; only sealed values are also taken out.
        let mut ways: Vec<Option<Value>> = others(old).into_iter().map(Some).collect();
        if !unsealed {
            ways.push(None);
        }
        let mut done = 0;
        for way in ways {
            // Two other values, and none, tell as much as twenty.
            if done == MOST_WAYS && way.is_some() {
                continue;
            }
            let value = changed(&whole, &place.pointer, way.as_ref());
            let Ok(other) = serde_json::from_value::<T>(value) else { continue };
            if other == *record {
                continue;
            }
            let mut job = job.clone();
            put(&mut job, other);
            // The drawing is read anew from what the record names.
            for (id, panel) in &job.project.panels {
                if let Some(Ok(drawing)) = job.project.drawings.get_mut(id) {
                    drawing.digest = panel.outline.sha256;
                }
            }
            job.put_files();
            let label = format!("{kind} {} as {way:?}", place.path);
            let case = job.case();
            let sealed_now = facts::of(&case, &Subject::release());
            assert_eq!(sealed_now == sealed_before, unsealed, "{label}: the facts of the release");
            // What a waiver or an acknowledgement seals is asked for again, and holds the release as well.
            let asked = ["no_test_panel.", "dates.ordered_ahead"];
            let nothing_left = way.as_ref().is_some_and(|value| *value == json!([]));
            let waived = !nothing_left && asked.iter().any(|field| place.path.starts_with(field));
            assert_eq!(is_released(&case), unsealed && !waived, "{label}: {:?}", job.missing());
            *tried.entry(place.path.clone()).or_insert(0) += 1;
            done += 1;
        }
    }
    tried
}

/// Every path of a record was changed in some way.
fn none_left_out<T: Serialize>(kind: &str, record: &T, tried: &BTreeMap<String, usize>) {
    let whole = serde_json::to_value(record).expect("a record is JSON");
    let mut all = Vec::new();
    places(&whole, "", "", &mut all);
    for place in all {
        let leaf = whole.pointer(&place.pointer).is_some_and(|v| !v.is_object());
        assert!(!leaf || tried.contains_key(&place.path), "{kind} {} was never changed", place.path);
    }
}

#[test]
fn a_panels_every_field() {
    for id in ["bar", "desk"] {
        let panel = Job::complete().project.panels[&name(id)].clone();
        let tried = try_all("panel", &panel, |job, other| {
            job.project.panels.insert(name(id), other);
        });
        none_left_out("panel", &panel, &tried);
        assert!(tried.len() > 20, "{tried:?}");
    }
}

#[test]
fn a_swatchs_every_field() {
    let swatch = Job::complete().project.swatches[&name("honey")].clone();
    let tried = try_all("swatch", &swatch, |job, other| {
        job.project.swatches.insert(name("honey"), other);
    });
    none_left_out("swatch", &swatch, &tried);
    assert!(tried.len() > 20, "{tried:?}");
}

#[test]
fn the_projects_every_field() {
    let project = Job::complete().project.project;
    let tried = try_all("project", &project, |job, other| job.project.project = other);
    none_left_out("project", &project, &tried);
    assert!(tried.len() > 15, "{tried:?}");
}

#[test]
fn a_renderings_every_field() {
    let drawn = Job::complete().project.renderings[&name("desk")].clone();
    let tried = try_all("rendering", &drawn, |job, other| {
        job.project.renderings.insert(name("desk"), other);
    });
    none_left_out("rendering", &drawn, &tried);
    assert!(tried.len() > 15, "{tried:?}");
}

/// Records of which no view seals anything: what they say may change, so long as what the gates ask stays there.
#[test]
fn remarks_and_evidence_that_come_later_take_nothing_back() {
    let mut job = Job::complete();
    for request in job.project.requests.values_mut() {
        (request.note, request.consignment) = (Some("By hand after all.".into()), None);
    }
    for trial in job.project.trials.values_mut() {
        (trial.seen, trial.rating) = ("Seen again.".into(), 5);
    }
    job.try_stone("honey");
    // Another stone that no panel uses.
    job.project.swatches.insert(name("spare"), crate::job::swatch("spare"));
    job.put_files();
    assert!(job.released(), "{:?}", job.missing());
}

/// A panel more or less is another build.
#[test]
fn a_panel_added_or_taken_out_takes_the_release_back() {
    let mut job = Job::complete();
    let mut twin = job.project.panels[&name("bar")].clone();
    twin.id = name("bar-two");
    job.project.panels.insert(twin.id.clone(), twin);
    let drawing = job.project.drawings[&name("bar")].clone();
    job.project.drawings.insert(name("bar-two"), drawing);
    assert!(!job.released());
    let mut job = Job::complete();
    job.project.panels.remove(&name("bar"));
    assert!(!job.released());
    let sealed = job.findings("release-signed")[0].clone();
    assert!(sealed.changes.iter().any(|c| c.fact.starts_with("panels.bar.") && c.now.is_none()));
}

/// A measurement is evidence; but the build pack states the light that is worked out from it.
#[test]
fn another_measurement_takes_the_release_back() {
    let mut job = Job::complete();
    job.swatch("honey", |s| {
        let mut another = s.measured[0].clone();
        another.id = name("meter-2");
        s.measured.push(another);
    });
    job.put_files();
    let sealed = job.findings("release-signed")[0].clone();
    assert!(sealed.changes.iter().any(|c| c.fact == "pack.sha256"), "{:?}", sealed.changes);
    assert!(!job.released());
}

/// The shop's lists decide what the plan comes to, and the plan is sealed.
#[test]
fn another_figure_in_the_shops_lists_takes_the_release_back() {
    let mut job = Job::complete();
    let tape = job.project.panels[&name("bar")].tape.clone().expect("the tape is settled");
    for light in job.shop.lights.lights.iter_mut().filter(|l| l.id == tape.as_str()) {
        light.channels[0].watts_per_m += 0.5;
    }
    assert!(!job.released());
    let sealed = job.findings("release-signed")[0].clone();
    assert!(sealed.changes.iter().any(|c| c.fact == "panels.bar.plan.power_mw"), "{:?}", sealed.changes);
}

/// What is drawn for a job is drawn for what is built; how the shop or the client spells a name is neither.
#[test]
fn a_name_spelled_otherwise_takes_nothing_back() {
    let mut job = Job::complete();
    let before = job.project.renderings[&name::<PanelId>("desk")].clone();
    job.shop.book.shop = "Another spelling of the shop".into();
    job.shop.roster.people.iter_mut().for_each(|person| person.name.push_str(", Esq."));
    assert_eq!(job.missing(), Vec::<String>::new());
    assert!(job.released());
    // A sheet of before names were left out states the digest with them. It fits as long as they are the same.
    let job = Job::complete();
    let desk = &job.project.panels[&name::<PanelId>("desk")];
    let mut shown = choice(desk, job.project.stone_of(desk));
    for (fact, text) in [
        ("shop", job.shop.book.shop.clone()),
        ("project", job.project.project.title.clone()),
        ("panel", desk.title.clone()),
        ("client", job.shop.roster.name_of(&job.project.project.people.client)),
    ] {
        shown.insert(fact.to_owned(), Fact::Text(text));
    }
    let spelled = serde_json::to_string(&shown).expect("facts are JSON");
    let older = Rendering { shows_sha256: Sha256Digest::of(spelled.as_bytes()), ..before.clone() };
    assert_ne!(older.shows_sha256, before.shows_sha256);
    assert!(facts::sheet_fits(&job.case(), desk, &older));
    assert!(!facts::sheet_fits(&job.case(), desk, &Rendering { shows_sha256: digest("x"), ..before }));
}

//! Every field of every schema is sealed by a named view, or stands in a list that says why it is not.
//!
//! The schemas are walked: properties at every depth, through references and lists. Each field is then put into
//! a record by itself and its view asked whether it has a fact for it.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};
use underlit::model::kind::Kind;
use underlit::model::statement::Facts;
use underlit::model::view::{
    CHOICE_PANEL, CHOICE_SWATCH, UNSEALED, UNSEALED_KINDS, choice, is_unsealed, record_facts, release_panel,
    rendering,
};
use underlit::store::schemas;

use crate::job::{Job, name, record};

/// A field of a schema: its dotted path, lists left out, and the schema of its value.
#[derive(Clone, Debug)]
struct Field {
    path: String,
    schema: Value,
    /// True where the value is a record or a list of records, which are no facts themselves.
    is_record: bool,
    /// True where it is a list.
    is_list: bool,
}

fn schema(file: &str) -> Value {
    let found = schemas::FILES.iter().find(|(name, _)| *name == file);
    let (_, text) = found.unwrap_or_else(|| panic!("there is no schema {file}"));
    serde_json::from_str(text).unwrap_or_else(|e| panic!("{file}: {e}"))
}

/// A part of a schema with its references followed, and the file in which the last one ended.
fn followed(file: &str, part: &Value) -> (String, Value) {
    let (mut file, mut part) = (file.to_owned(), part.clone());
    while let Some(reference) = part.get("$ref").and_then(Value::as_str) {
        let (other, pointer) = reference.split_once('#').unwrap_or((reference, ""));
        if !other.is_empty() {
            file = other.to_owned();
        }
        let whole = schema(&file);
        part = whole.pointer(pointer).unwrap_or_else(|| panic!("{file}: {reference} leads nowhere")).clone();
    }
    (file, part)
}

/// Every field of a kind's schema.
fn fields(kind: &str) -> Vec<Field> {
    let file = format!("{kind}.schema.json");
    let mut found = Vec::new();
    walk(&file, &schema(&file), "", &mut found);
    found
}

fn walk(file: &str, part: &Value, before: &str, found: &mut Vec<Field>) {
    let (file, part) = followed(file, part);
    for choice in part["oneOf"].as_array().into_iter().flatten() {
        walk(&file, choice, before, found);
    }
    for (key, value) in part["properties"].as_object().into_iter().flatten() {
        let path = if before.is_empty() { key.clone() } else { format!("{before}.{key}") };
        let (mut inner_file, mut inner) = followed(&file, value);
        let is_list = inner["type"] == "array";
        while inner["type"] == "array" && inner["items"].is_object() {
            (inner_file, inner) = followed(&inner_file, &inner["items"]);
        }
        let is_record = inner["properties"].is_object() || inner["oneOf"].is_array();
        found.push(Field { path: path.clone(), schema: inner.clone(), is_record, is_list });
        if is_record {
            walk(&inner_file, &inner, &path, found);
        }
    }
}

/// A record that holds one field alone, with a list around every list of records on the way.
fn with_only(all: &[Field], field: &Field) -> Value {
    let number = field.schema["type"] == "integer" || field.schema["type"] == "number";
    let value = if number { json!(7) } else { json!("x") };
    let mut value = if field.is_list { json!([value]) } else { value };
    let mut path = field.path.as_str();
    loop {
        let (before, key) = path.rsplit_once('.').unwrap_or(("", path));
        value = Value::Object(Map::from_iter([(key.to_owned(), value)]));
        if before.is_empty() {
            return value;
        }
        if all.iter().any(|f| f.path == before && f.is_list) {
            value = json!([value]);
        }
        path = before;
    }
}

/// True where the view of a kind makes a fact of the field.
fn is_sealed(kind: &str, all: &[Field], field: &Field) -> bool {
    if let Some(list) = list_named_by(all, field) {
        // The name of a thing in a list stands in the names of its other facts.
        let facts = record_facts(kind, "record", &json!({ list: [{ "id": "x", "beside": 7 }] }));
        return facts.keys().any(|k| *k == format!("record.{list}.x.beside"));
    }
    !record_facts(kind, "record", &with_only(all, field)).is_empty()
}

/// The list whose things are named by this field.
fn list_named_by<'a>(all: &[Field], field: &'a Field) -> Option<&'a str> {
    let list = field.path.strip_suffix(".id")?;
    all.iter().any(|f| f.path == list && f.is_list && f.is_record).then_some(list)
}

fn listed(kind: &str) -> bool {
    UNSEALED_KINDS.iter().any(|(k, _)| *k == kind)
}

/// The kinds whose records a view seals field by field.
fn sealed_kinds() -> Vec<&'static str> {
    Kind::WITH_SCHEMA.iter().map(|k| k.name()).filter(|k| !listed(k)).collect()
}

#[test]
fn the_walk_finds_what_is_there() {
    let paths = |kind: &str| fields(kind).into_iter().map(|f| f.path).collect::<BTreeSet<_>>();
    for (kind, path) in [
        ("panel", "light.cct_k"),
        ("panel", "outline.sha256"),
        ("panel", "seams.from_mm"),
        ("swatch", "slab.density_kg_m3"),
        ("swatch", "measured.spectrum.file"),
        ("project", "people.client"),
        ("rendering", "pdf.sha256"),
        ("outline", "outer.segments.bulge"),
        ("sign-off", "evidence.scan.sha256"),
    ] {
        assert!(paths(kind).contains(path), "{kind} {path} is not found: {:?}", paths(kind));
    }
}

#[test]
fn every_field_is_sealed_or_listed_with_a_reason() {
    let mut seen = 0;
    for kind in Kind::WITH_SCHEMA {
        let kind = kind.name();
        if listed(kind) {
            continue;
        }
        let all = fields(kind);
        assert!(all.len() > 5, "only {} fields of {kind}", all.len());
        for field in all.iter().filter(|f| !f.is_record) {
            let (sealed, excused) = (is_sealed(kind, &all, field), is_unsealed(kind, &field.path));
            assert!(sealed || excused, "{kind} {}: no view seals it and no list says why", field.path);
            assert!(
                !(sealed && excused),
                "{kind} {}: listed as unsealed, and sealed all the same",
                field.path
            );
            seen += 1;
        }
    }
    assert!(seen > 70, "only {seen} fields were walked");
    assert_eq!(sealed_kinds(), ["project", "swatch", "request", "panel", "rendering"]);
}

#[test]
fn no_entry_is_dead_or_without_a_reason() {
    for (kind, path, reason) in UNSEALED {
        assert!(!listed(kind), "{kind} is not sealed at all, and {path} of it is listed by itself");
        assert!(fields(kind).iter().any(|f| f.path == *path), "{kind} has no field {path}");
        assert!(reason.len() > 5, "{kind} {path} has no reason");
        let doubled = UNSEALED.iter().filter(|(k, p, _)| k == kind && p == path).count();
        assert_eq!(doubled, 1, "{kind} {path} is listed twice");
    }
    for (kind, reason) in UNSEALED_KINDS {
        assert!(Kind::WITH_SCHEMA.iter().any(|k| k.name() == *kind), "there is no kind {kind}");
        assert!(reason.len() > 5, "{kind} has no reason");
    }
    let shop: Vec<&str> =
        Kind::WITH_SCHEMA.iter().filter(|k| k.is_sealed_by_roster()).map(|k| k.name()).collect();
    for kind in shop {
        assert!(listed(kind), "{kind} is sealed by the roster, and the table does not say so");
    }
}

/// The choice seals single fields by name; a name that no schema has would seal nothing.
#[test]
fn the_fields_of_the_choice_are_there() {
    for (kind, names) in [("panel", CHOICE_PANEL), ("swatch", CHOICE_SWATCH)] {
        for path in names {
            assert!(fields(kind).iter().any(|f| f.path == *path), "{kind} has no field {path}");
            assert!(!is_unsealed(kind, path), "the choice seals {kind} {path}, and the release does not");
        }
    }
}

/// The only thing of the whole job that stands in a list under a name of its own.
const MEASUREMENT: &str = "meter-1";

/// The names under which a whole job's views really have facts, with panel names and list places taken out.
fn sealed_in_a_whole_job() -> BTreeSet<(String, String)> {
    let mut job = Job::complete();
    let desk = name("desk");
    // A job that is released as a whole has no release groups.
    job.panel("desk", |p| {
        p.groups = record(json!([{ "group": "level-3", "quantity": 2, "rooms": ["301"] }]))
    });
    job.panel("desk", |p| {
        p.sizes = Some(record(json!({
            "outline_is": "clear-opening", "fit": "bar-front", "stone_over_mm": 20, "clearance_mm": 2,
            "movement_mm": 3.5, "lit_border_mm": 12, "plain_border_mm": 6, "cutout_border_mm": 5, "butt_edges": [2]
        })));
    });
    let floor = job.project.panels[&name("bar")].floor.clone();
    job.panel("desk", |p| p.floor = floor);
    let panel = &job.project.panels[&desk];
    let (stone, drawn) = (job.project.stone_of(panel), job.project.renderings.get(&desk));
    let request = job.project.requests.values().next().expect("a test panel was asked for");
    let mut found = BTreeSet::new();
    let mut take = |kind: &str, prefix: &str, facts: &Facts| {
        for name in facts.keys() {
            if let Some(rest) = name.strip_prefix(prefix) {
                let named = rest.split('.').any(|p| p == MEASUREMENT);
                if named {
                    let list = rest.split('.').next().unwrap_or_default();
                    found.insert((kind.to_owned(), format!("{list}.id")));
                }
                let steps = rest.split('.').filter(|p| p.parse::<usize>().is_err() && *p != MEASUREMENT);
                let path = steps.collect::<Vec<_>>().join(".");
                let path = path.strip_suffix("_um").map_or(path.clone(), |stem| format!("{stem}_mm"));
                found.insert((kind.to_owned(), path));
            }
        }
    };
    take("project", "project.", &record_facts("project", "project", &job.project.project));
    take("request", "request.", &record_facts("request", "request", request));
    let release = release_panel(&desk, panel, stone, drawn);
    take("swatch", "panels.desk.stone.", &release);
    take("rendering", "panels.desk.rendering.", &release);
    take("panel", "panels.desk.", &release);
    take("panel", "panel.", &choice(panel, stone));
    take("swatch", "swatch.", &choice(panel, stone));
    take("rendering", "rendering.", &rendering(panel, drawn));
    found
}

/// As [`every_field_is_sealed_or_listed_with_a_reason`], asked of the views of real records that have every field.
#[test]
fn the_views_of_a_record_with_every_field_have_a_fact_for_each() {
    let facts = sealed_in_a_whole_job();
    for kind in sealed_kinds() {
        for field in fields(kind).iter().filter(|f| !f.is_record && !is_unsealed(kind, &f.path)) {
            let there = facts.contains(&(kind.to_owned(), field.path.clone()));
            assert!(there, "{kind} {}: the whole job has no fact for it", field.path);
        }
    }
}

/// A list of words is sealed as one text; were its words free, two lists could read as one.
#[test]
fn a_sealed_list_holds_no_free_text() {
    for kind in sealed_kinds() {
        let all = fields(kind);
        for field in all.iter().filter(|f| f.is_list && !f.is_record && !is_unsealed(kind, &f.path)) {
            let names =
                field.schema["pattern"].as_str().is_some_and(|p| p.ends_with("[a-z0-9]+(-[a-z0-9]+)*$"));
            let numbers = field.schema["type"] == "integer" || field.schema["type"] == "number";
            let closed = numbers || names || field.schema["enum"].is_array();
            assert!(closed, "{kind} {}: {}", field.path, field.schema);
        }
    }
}

/// What is sealed fits into a sign-off as its schema has it: names, and numbers that every reader keeps.
#[test]
fn the_facts_of_every_view_fit_the_schema_of_a_sign_off() {
    let job = Job::complete();
    for signoff in &job.project.signoffs {
        let value = serde_json::to_value(&signoff.statement).expect("a statement is JSON");
        let bytes = serde_json::to_vec(&value).expect("a statement is JSON");
        let path = format!("projects/quay-hotel/signoffs/{}.json", signoff.digest);
        let faults =
            underlit::store::read::check_bytes(&path, Kind::SignOff, &bytes).err().unwrap_or_default();
        assert!(faults.is_empty(), "{}: {faults:?}", signoff.statement.about);
        let again: underlit::model::statement::Statement =
            serde_json::from_value(value).expect("what was written is read");
        assert_eq!(again, signoff.statement);
    }
}

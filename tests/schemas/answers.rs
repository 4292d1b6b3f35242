//! The schemas of what verbs answer to programs: closed, described, with units, and a name means one thing in all of them.
//! That answers are as their schemas say is held wherever a test asks for one, in `tests/answers`.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::files::{answers, schema};

/// Whole objects of which other schemas say what stands in them.
const OPEN: &[&str] = &["definitions#/$defs/record"];

/// Every part of a schema that is an object of fields, by its place.
fn objects<'a>(at: &str, value: &'a Value, found: &mut Vec<(String, &'a Value)>) {
    match value {
        Value::Object(fields) => {
            if fields.get("type").is_some_and(|t| *t == "object" || t[0] == "object") {
                found.push((at.to_owned(), value));
            }
            for (key, value) in fields {
                objects(&format!("{at}/{key}"), value, found);
            }
        }
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(n, item)| objects(&format!("{at}/{n}"), item, found));
        }
        _ => {}
    }
}

/// Every field of every answer: the place of its object, its name, its schema.
fn fields() -> Vec<(String, &'static str, &'static Value)> {
    let mut found = Vec::new();
    for (name, value) in answers() {
        objects(&format!("{name}#"), value, &mut found);
    }
    let of = |(at, object): (String, &'static Value)| {
        let fields = object["properties"].as_object().into_iter().flatten();
        fields.map(move |(name, field)| (at.clone(), name.as_str(), field)).collect::<Vec<_>>()
    };
    found.into_iter().flat_map(of).collect()
}

/// The types that a part takes, `null` left out, following references.
fn types(file: &str, part: &Value) -> BTreeSet<String> {
    if let Some(reference) = part["$ref"].as_str() {
        let (path, name) = reference.split_once("#/$defs/").expect("a reference to a definition");
        let (file, whole) = match path {
            "" => (file, &answers()[file]),
            "definitions.schema.json" => ("definitions", &answers()["definitions"]),
            "../definitions.schema.json" => return types_of_shared(name),
            other => panic!("{file}: a reference to {other}"),
        };
        let target = &whole["$defs"][name];
        assert!(target.is_object(), "{file}: there is no definition {reference}");
        return types(file, target);
    }
    if let Some(all) = part["anyOf"].as_array() {
        return all.iter().flat_map(|part| types(file, part)).collect();
    }
    let named = match &part["type"] {
        Value::Array(all) => all.iter().filter_map(Value::as_str).collect(),
        one => vec![one.as_str().unwrap_or_else(|| panic!("{file}: no type: {part}"))],
    };
    let numbers = |name: &str| if name == "integer" { "number".to_owned() } else { name.to_owned() };
    named.into_iter().filter(|name| *name != "null").map(numbers).collect()
}

fn types_of_shared(name: &str) -> BTreeSet<String> {
    let target = &schema("definitions")["$defs"][name];
    assert!(target.is_object(), "schema/definitions.schema.json has no {name}");
    let named = target["type"].as_str().unwrap_or("string");
    BTreeSet::from([if named == "integer" { "number" } else { named }.to_owned()])
}

fn file_of(place: &str) -> &str {
    place.split('#').next().expect("a file")
}

#[test]
fn every_schema_of_an_answer_is_valid_closed_and_described() {
    assert!(answers().len() > 40);
    let mut described = 0;
    for (name, value) in answers() {
        let wrong = jsonschema::draft202012::meta::validate(value).map_err(|e| e.to_string());
        assert_eq!(wrong, Ok(()), "{name}");
        for word in ["title", "description"] {
            assert!(value[word].as_str().is_some_and(|text| text.len() >= 4), "{name} has no {word}");
        }
        let mut found = Vec::new();
        objects(&format!("{name}#"), value, &mut found);
        for (place, object) in found {
            let open = OPEN.contains(&place.as_str());
            assert_eq!(object["additionalProperties"], Value::Bool(open), "{place}");
            assert!(object["description"].as_str().is_some_and(|text| text.len() >= 4), "{place}");
        }
    }
    for (place, name, field) in fields() {
        assert!(field["description"].as_str().is_some_and(|text| text.len() >= 4), "{place}: {name}");
        described += 1;
    }
    assert!(described > 400, "{described}");
}

#[test]
fn every_number_says_its_unit() {
    for (place, name, field) in fields() {
        let text = field["description"].as_str().unwrap_or_default();
        let mut part = field;
        while part["items"].is_object() {
            part = &part["items"];
        }
        // What is defined elsewhere says it there.
        let referred = part.to_string().contains(r#""$ref""#);
        if types(file_of(&place), part).contains("number") && !referred {
            assert!(text.contains("Unit: "), "{place}: {name}: {text}");
        }
    }
}

#[test]
fn a_name_means_one_thing_in_all_answers() {
    let mut all: BTreeMap<&str, BTreeMap<BTreeSet<String>, Vec<String>>> = BTreeMap::new();
    for (place, name, field) in fields() {
        all.entry(name).or_default().entry(types(file_of(&place), field)).or_default().push(place);
    }
    all.retain(|_, forms| forms.len() > 1);
    assert!(all.is_empty(), "{all:#?}");
}

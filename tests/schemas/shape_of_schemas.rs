//! The schemas themselves: valid 2020-12, every field described, every number bounded, every object closed.

use serde_json::Value;

use crate::files::schemas;
use crate::walk::{Part, is_field, parts};

/// Fields that take any JSON value, each with the reason.
const ANY_VALUE: &[(&str, &str)] = &[
    ("conflict#/properties/base", "whatever the field was"),
    ("conflict#/$defs/side/properties/value", "whatever the edit made of it"),
];

/// Keywords by which a part says what it takes.
const SAYS_WHAT: &[&str] = &["type", "$ref", "const", "enum", "anyOf", "oneOf"];

#[test]
fn every_schema_is_valid_and_named_after_its_file() {
    for (file, schema) in schemas() {
        let wrong: Vec<String> = match jsonschema::draft202012::meta::validate(schema) {
            Ok(()) => Vec::new(),
            Err(error) => vec![format!("{}: {error}", error.instance_path())],
        };
        assert!(wrong.is_empty(), "{file}: {wrong:?}");
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema", "{file}");
        // A relative one sends some validators to look for the definitions in the folder that they were started in.
        assert!(schema.get("$id").is_none(), "{file} has an $id");
        let shared = crate::files::schema("definitions")["$defs"].as_object().expect("definitions");
        let own = schema["$defs"].as_object().filter(|_| file != "definitions");
        let twice: Vec<_> =
            own.into_iter().flatten().filter(|(name, _)| shared.contains_key(*name)).collect();
        assert!(twice.is_empty(), "{file} calls one of its own definitions like a shared one: {twice:?}");
        for key in ["title", "description"] {
            assert!(schema[key].as_str().is_some_and(|t| !t.trim().is_empty()), "{file} has no {key}");
        }
        crate::files::validator(file);
    }
}

#[test]
fn every_field_is_described() {
    let mut seen = 0;
    for file in schemas().keys() {
        for part in parts(file).iter().filter(|p| is_field(&p.place())) {
            let described = part
                .chain()
                .iter()
                .any(|p| p.schema["description"].as_str().is_some_and(|text| text.trim().len() >= 8));
            assert!(described, "{} is not described", part.place());
            seen += 1;
        }
    }
    assert!(seen > 250, "only {seen} fields were found");
}

#[test]
fn every_number_is_bounded_and_says_its_unit() {
    let bounded = |schema: &Value| {
        let lower = schema["minimum"].is_number() || schema["exclusiveMinimum"].is_number();
        lower && (schema["maximum"].is_number() || schema["exclusiveMaximum"].is_number())
    };
    for file in schemas().keys() {
        for part in parts(file).iter().filter(|p| p.is_of_type("number") || p.is_of_type("integer")) {
            let by_choice =
                part.schema["oneOf"].as_array().is_some_and(|c| !c.is_empty() && c.iter().all(bounded));
            let fixed = part.has("const");
            assert!(bounded(part.schema) || by_choice || fixed, "{} has no range", part.place());
            let text = part.schema["description"].as_str().unwrap_or_default().to_lowercase();
            let says_unit = ["unit: ", "without unit", "millimetres", "micrometres", "radians", "degrees"]
                .iter()
                .any(|words| text.contains(words));
            let counts = part.place() == "outline#/$defs/spline/properties/degree";
            let in_list = part.pointer.ends_with("/items");
            assert!(
                says_unit || fixed || counts || in_list,
                "{} does not say its unit: {text}",
                part.place()
            );
        }
    }
}

#[test]
fn every_object_is_closed_and_every_list_ends() {
    for file in schemas().keys() {
        for part in parts(file) {
            let place = part.place();
            if part.is_of_type("object") {
                assert!(is_closed(&part), "{place} lets unknown fields through");
            }
            if part.is_of_type("array") && file != "outline" {
                assert!(part.schema["maxItems"].is_u64(), "{place} may go on without end");
                assert!(part.has("items"), "{place} does not say what it lists");
            }
            if part.is_of_type("string") && file != "outline" {
                let ends = ["maxLength", "pattern", "enum"].iter().any(|keyword| part.has(keyword));
                assert!(ends, "{place} may go on without end");
            }
        }
    }
}

/// Closed by its own fields, by the names that a map takes, or by each of the forms that it may have.
fn is_closed(part: &Part) -> bool {
    let map = part.has("propertyNames")
        && part.has("maxProperties")
        && part.schema["additionalProperties"].is_object();
    let forms = part.schema["oneOf"].as_array().map(|forms| {
        !forms.is_empty()
            && forms.iter().all(|form| {
                let form = Part { schema: form, ..part.clone() }.referred();
                form.is_some_and(|f| f.schema["additionalProperties"] == false)
            })
    });
    part.schema["additionalProperties"] == false || map || forms == Some(true)
}

#[test]
fn every_field_says_what_it_takes() {
    let mut open = Vec::new();
    for file in schemas().keys() {
        for part in parts(file).iter().filter(|p| is_field(&p.place())) {
            if !SAYS_WHAT.iter().any(|keyword| part.has(keyword)) {
                open.push(part.place());
            }
        }
    }
    let reasoned: Vec<&str> = ANY_VALUE.iter().map(|(place, _)| *place).collect();
    open.sort();
    let mut expected = reasoned.clone();
    expected.sort_unstable();
    assert_eq!(open, expected);
}

/// A rule between fields fails with a keyword alone; its sentence is what a reader gets to see.
#[test]
fn every_rule_between_fields_has_its_sentence() {
    let mut seen = 0;
    for file in schemas()
        .keys()
        .filter(|f| !["lights", "wire", "controls", "drivers", "routes"].contains(&f.as_str()))
    {
        for part in parts(file) {
            for rule in part.schema.get("allOf").and_then(Value::as_array).into_iter().flatten() {
                let described = rule["description"].as_str().is_some_and(|text| text.ends_with('.'));
                assert!(
                    described || rule["$ref"].is_string(),
                    "{}: a rule without a sentence: {rule}",
                    part.place()
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 15, "only {seen} rules were found");
}

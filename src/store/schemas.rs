//! The schemas: embedded in the program, copied into a new book, and asked for everything that is wrong
//! with a record at once.
//!
//! Nothing is ever fetched: a reference that is not embedded is a bug. A schema is compiled when it is
//! first needed.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use jsonschema::error::ValidationErrorKind;
use jsonschema::{Registry, Validator};
use serde_json::Value;

use crate::fault::Fault;
use crate::model::kind::Kind;

macro_rules! embedded {
    ($($name:literal),+ $(,)?) => {
        /// Every schema file by its name, in the order of their names.
        pub const FILES: &[(&str, &str)] = &[$(
            (concat!($name, ".schema.json"), include_str!(concat!("../../schema/", $name, ".schema.json"))),
        )+];
    };
}

embedded!(
    "as-built",
    "book",
    "calendar",
    "conflict",
    "controls",
    "definitions",
    "drivers",
    "installation",
    "lights",
    "move",
    "outline",
    "panel",
    "project",
    "rendering",
    "request",
    "roster",
    "routes",
    "rules",
    "sign-off",
    "swatch",
    "trial",
    "wire",
);

/// The text of one kind's schema.
#[must_use]
pub fn text_of(kind: Kind) -> Option<&'static str> {
    let name = format!("{}.schema.json", kind.name());
    FILES.iter().find(|(file, _)| *file == name).map(|(_, text)| *text)
}

const BASE: &str = "underlit:/schema/";

fn registry() -> &'static Registry<'static> {
    static REGISTRY: OnceLock<Registry<'static>> = OnceLock::new();
    REGISTRY.get_or_init(|| {
        let resources = FILES.iter().map(|(name, text)| {
            let schema: Value = serde_json::from_str(text).unwrap_or(Value::Bool(false));
            (format!("{BASE}{name}"), schema)
        });
        let mut registry = Registry::new();
        for (uri, schema) in resources {
            registry = match registry.add(uri, schema) {
                Ok(next) => next,
                Err(error) => unreachable!("an embedded schema has a wrong address: {error}"),
            };
        }
        match registry.prepare() {
            Ok(registry) => registry,
            Err(error) => unreachable!("an embedded schema refers to one that is not embedded: {error}"),
        }
    })
}

fn validator(kind: Kind) -> Option<&'static Validator> {
    static VALIDATORS: [OnceLock<Option<Validator>>; Kind::WITH_SCHEMA.len()] =
        [const { OnceLock::new() }; Kind::WITH_SCHEMA.len()];
    let at = Kind::WITH_SCHEMA.iter().position(|k| *k == kind)?;
    VALIDATORS[at]
        .get_or_init(|| {
            let address = format!("{BASE}{}.schema.json", kind.name());
            jsonschema::options()
                .with_registry(registry())
                .should_validate_formats(true)
                .build(&serde_json::json!({ "$ref": address }))
                .ok()
        })
        .as_ref()
}

/// Everything that a kind's schema says against a value, each with its pointer and the way to mend it.
///
/// Lines and files are added by the caller, who has the bytes.
#[must_use]
pub fn faults(kind: Kind, value: &Value) -> Vec<Fault> {
    let Some(validator) = validator(kind) else {
        return vec![Fault::new(
            crate::fault::Class::Bug,
            "schema-missing",
            format!("no schema for {}", kind.name()),
        )];
    };
    let mut faults: Vec<Fault> = Vec::new();
    let mut formless = BTreeSet::new();
    for error in validator.iter_errors(value) {
        let keyword = error.kind().keyword();
        let pointer = error.instance_path().to_string();
        let mend = remedy(keyword, description_at(kind, error.evaluation_path().as_str()));
        let one = |message: String, pointer: String| {
            Fault::data("schema", shortened(&message)).at_pointer(pointer).mend(mend.clone())
        };
        match error.kind() {
            // Said where it stands, and of each by itself.
            ValidationErrorKind::AdditionalProperties { unexpected }
            | ValidationErrorKind::UnevaluatedProperties { unexpected } => {
                faults.extend(unexpected.iter().map(|field| {
                    let escaped = field.replace('~', "~0").replace('/', "~1");
                    one(
                        format!("the field `{field}` is not one of this record's"),
                        format!("{pointer}/{escaped}"),
                    )
                }));
            }
            // The pattern itself says nothing to a person.
            ValidationErrorKind::Pattern { .. } => {
                formless.insert(pointer.clone());
                faults.push(one(format!("{} does not have the right form", error.instance()), pointer));
            }
            _ => faults.push(one(error.to_string(), pointer)),
        }
    }
    // What has not even the form of a day need not be told that it is no day.
    faults.retain(|f| {
        !(f.message.ends_with("is not a \"date\"")
            && f.pointer.as_ref().is_some_and(|p| formless.contains(p)))
    });
    faults.sort_by(|a, b| (&a.pointer, &a.message).cmp(&(&b.pointer, &b.message)));
    faults.dedup();
    faults
}

fn shortened(message: &str) -> String {
    const MOST: usize = 300;
    match message.char_indices().nth(MOST) {
        Some((at, _)) => format!("{}…", &message[..at]),
        None => message.to_owned(),
    }
}

fn remedy(keyword: &str, description: Option<String>) -> String {
    let advice = match keyword {
        "additionalProperties" | "unevaluatedProperties" => {
            "take the field out, or write it as the schema names it, with its unit in the name"
        }
        "required" => "add the field",
        "enum" | "const" => "use one of the words that the schema lists",
        "type" => "write it as that type; numbers stand without quotes",
        "pattern" => "write it in that form",
        "minimum" | "exclusiveMinimum" | "maximum" | "exclusiveMaximum" => {
            "write a value within the range, in the unit that the name states"
        }
        _ => "write it as the schema says",
    };
    match description {
        Some(description) => format!("{advice}. The schema: {description}"),
        None => advice.to_owned(),
    }
}

/// The description nearest to the rule that was broken, following references.
fn description_at(kind: Kind, path: &str) -> Option<String> {
    let root: Value = serde_json::from_str(text_of(kind)?).ok()?;
    let definitions: Value = FILES
        .iter()
        .find(|(n, _)| *n == "definitions.schema.json")
        .and_then(|(_, t)| serde_json::from_str(t).ok())?;
    let mut document = &root;
    let mut at = &root;
    let mut found = None;
    // The first part is the reference with which the validator enters the kind's schema.
    for part in path.split('/').skip(2) {
        if part == "$ref" {
            let reference = at.get("$ref").and_then(Value::as_str)?;
            let (file, fragment) = reference.split_once('#').unwrap_or((reference, ""));
            document = match file {
                "" => document,
                "definitions.schema.json" => &definitions,
                _ => return found,
            };
            at = document.pointer(fragment)?;
        } else {
            at = match at {
                Value::Array(items) => items.get(part.parse::<usize>().ok()?)?,
                _ => match at.get(part) {
                    Some(next) => next,
                    None => return found,
                },
            };
        }
        if let Some(text) = at.get("description").and_then(Value::as_str) {
            found = Some(text.to_owned());
        }
    }
    found
}

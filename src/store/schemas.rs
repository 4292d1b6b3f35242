//! The schemas: embedded in the program, copied into a new book, and asked for everything that is wrong
//! with a record at once.
//!
//! The files in `schema/` share `definitions.schema.json`; what is published, and what judges, is each kind's schema with
//! the definitions that it needs inside, so that nothing is ever fetched. A schema is compiled when it is first needed.

use std::collections::BTreeSet;
use std::sync::{LazyLock, OnceLock};

use jsonschema::Validator;
use jsonschema::error::ValidationErrorKind;
use serde_json::Value;

use crate::fault::{Fault, Means};
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
    "note",
    "wire",
);

/// The text of one kind's schema.
#[must_use]
pub(crate) fn text_of(kind: Kind) -> Option<&'static str> {
    let name = format!("{}.schema.json", kind.name());
    FILES.iter().find(|(file, _)| *file == name).map(|(_, text)| *text)
}

/// The schemas as an editor or any other validator takes them, by file name: each carries the shared definitions that
/// it needs, so that one file alone, without options or other files, says everything.
#[must_use]
pub fn published() -> &'static [(String, String)] {
    static PUBLISHED: OnceLock<Vec<(String, String)>> = OnceLock::new();
    PUBLISHED.get_or_init(|| {
        let whole = Kind::WITH_SCHEMA.iter().map(|kind| {
            let mut text = format!("{:#}", self_contained(*kind));
            text.push('\n');
            (format!("{}.schema.json", kind.name()), text)
        });
        whole.collect()
    })
}

/// One kind's schema with the shared definitions that it needs.
fn self_contained(kind: Kind) -> Value {
    bundled(text_of(kind).unwrap_or_default(), &[("definitions.schema.json", shared())])
}

/// The definitions that records share, read once.
pub(crate) fn shared() -> &'static Value {
    static SHARED: LazyLock<Value> =
        LazyLock::new(|| parsed(include_str!("../../schema/definitions.schema.json")));
    &SHARED
}

/// A schema's text as a value.
#[must_use]
pub(crate) fn parsed(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or(Value::Bool(false))
}

/// A schema with the definitions inside that it needs of other files. Each of these has the path by which a schema refers to
/// it; a file may refer to those after it.
#[must_use]
pub(crate) fn bundled(text: &str, files: &[(&str, &Value)]) -> Value {
    let mut schema = parsed(text);
    let (mut wanted, mut next) = (Vec::new(), 0);
    localise(&mut schema, &mut wanted, files, None);
    while let Some((name, of)) = wanted.get(next).cloned() {
        next += 1;
        let mut definition = files[of].1["$defs"][&name].clone();
        localise(&mut definition, &mut wanted, files, Some(of));
        schema["$defs"][&name] = definition;
    }
    schema
}

/// Turns each reference into another file into one within the schema, and notes the names that it wants, each with its file.
/// In a definition of such a file, a reference within that file is one, too.
fn localise(
    value: &mut Value,
    wanted: &mut Vec<(String, usize)>,
    files: &[(&str, &Value)],
    of: Option<usize>,
) {
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                match value {
                    Value::String(reference) if key == "$ref" => {
                        let Some((file, name)) = reference.split_once("#/$defs/") else { continue };
                        let Some(file) = files.iter().position(|(path, _)| *path == file).or(of) else {
                            continue;
                        };
                        let one = (name.to_owned(), file);
                        *reference = format!("#/$defs/{name}");
                        if !wanted.contains(&one) {
                            wanted.push(one);
                        }
                    }
                    _ => localise(value, wanted, files, of),
                }
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| localise(item, wanted, files, of)),
        _ => {}
    }
}

/// A kind's schema, compiled when it is first needed.
struct Compiled {
    schema: Value,
    validator: Validator,
}

fn compiled(kind: Kind) -> Option<&'static Compiled> {
    static COMPILED: [OnceLock<Option<Compiled>>; Kind::WITH_SCHEMA.len()] =
        [const { OnceLock::new() }; Kind::WITH_SCHEMA.len()];
    let at = Kind::WITH_SCHEMA.iter().position(|k| *k == kind)?;
    COMPILED[at]
        .get_or_init(|| {
            let schema = self_contained(kind);
            let validator = jsonschema::options().should_validate_formats(true).build(&schema).ok()?;
            Some(Compiled { schema, validator })
        })
        .as_ref()
}

/// The title that a kind's schema gives a field, by the keys on the way to it; `0` stands for any entry of a list.
#[must_use]
pub(crate) fn title_at(kind: Kind, keys: &[String]) -> Option<String> {
    let schema = &compiled(kind)?.schema;
    let mut at = vec![schema];
    for key in keys {
        let parts: Vec<&Value> = at.iter().flat_map(|part| alternatives(schema, part)).collect();
        let below = |part: &&'static Value| {
            part.get("properties")
                .and_then(|p| p.get(key))
                .or_else(|| part.get("items").filter(|_| key == "0"))
        };
        at = parts.iter().filter_map(below).collect();
    }
    let titled = at.iter().flat_map(|part| std::iter::once(*part).chain(alternatives(schema, part)));
    titled.filter_map(|part| part.get("title")?.as_str()).map(str::to_owned).next()
}

/// A part of a schema with whatever it refers to or chooses from.
fn alternatives(schema: &'static Value, part: &'static Value) -> Vec<&'static Value> {
    let mut found = vec![part];
    let mut next = 0;
    while let Some(part) = found.get(next).copied() {
        next += 1;
        let referred =
            part.get("$ref").and_then(Value::as_str).and_then(|r| schema.pointer(r.strip_prefix('#')?));
        let choices =
            ["oneOf", "anyOf", "allOf"].iter().filter_map(|word| part.get(word)?.as_array()).flatten();
        found.extend(referred.into_iter().chain(choices));
    }
    found
}

/// Everything that a kind's schema says against a value, each with its pointer and the way to fix it.
///
/// Lines and files are added by the caller, who has the bytes.
#[must_use]
pub fn faults(kind: Kind, value: &Value) -> Vec<Fault> {
    let Some(Compiled { schema, validator }) = compiled(kind) else {
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
        let fix = remedy(keyword, description_at(schema, error.evaluation_path().as_str()));
        let one = |message: String, pointer: String| {
            Fault::data("schema", shortened(&message))
                .that_means(Means::Schema)
                .at_pointer(pointer)
                .fix(fix.clone())
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
    // Text that does not have the form of a date is not also called a wrong date.
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
fn description_at(schema: &Value, path: &str) -> Option<String> {
    let mut at = schema;
    let mut found = None;
    for part in path.split('/').skip(1) {
        let next = match (part, at) {
            ("$ref", Value::Object(fields)) => {
                schema.pointer(fields.get("$ref")?.as_str()?.strip_prefix('#')?)
            }
            (_, Value::Array(items)) => items.get(part.parse::<usize>().ok()?),
            _ => at.get(part),
        };
        match next {
            Some(next) => at = next,
            None => return found,
        }
        if let Some(text) = at.get("description").and_then(Value::as_str) {
            found = Some(text.to_owned());
        }
    }
    found
}

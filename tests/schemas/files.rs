//! Where the schemas and samples lie, and validators that fetch nothing.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use jsonschema::{Registry, Validator};
use serde_json::{Value, json};

/// Stands before a schema's file name in the registry; nothing answers there.
const BASE: &str = "schemas:/";

pub(crate) fn folder(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn read(path: &Path) -> Value {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The names in a folder, in order.
pub(crate) fn names_in(path: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(path)
        .unwrap_or_else(|e| panic!("{}: {e}", path.display()))
        .map(|entry| entry.expect("the folder can be listed").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// Every schema by its file's name without the ending, the shared definitions among them.
pub(crate) fn schemas() -> &'static BTreeMap<String, Value> {
    static SCHEMAS: OnceLock<BTreeMap<String, Value>> = OnceLock::new();
    SCHEMAS.get_or_init(|| {
        let path = folder("schema");
        schemas_in(&path, |name| name != "answers")
    })
}

/// Every schema of what verbs answer, in the same way.
pub(crate) fn answers() -> &'static BTreeMap<String, Value> {
    static ANSWERS: OnceLock<BTreeMap<String, Value>> = OnceLock::new();
    ANSWERS.get_or_init(|| schemas_in(&folder("schema/answers"), |_| true))
}

fn schemas_in(path: &Path, wanted: impl Fn(&str) -> bool) -> BTreeMap<String, Value> {
    let names = names_in(path).into_iter().filter(|name| wanted(name));
    let schema = |name: String| {
        let kind = name.strip_suffix(".schema.json");
        let kind = kind.unwrap_or_else(|| panic!("{}/{name} is no schema by its name", path.display()));
        (kind.to_owned(), read(&path.join(&name)))
    };
    names.map(schema).collect()
}

pub(crate) fn schema(kind: &str) -> &'static Value {
    schemas().get(kind).unwrap_or_else(|| panic!("schema/{kind}.schema.json is not there"))
}

/// A validator for `kind`, or for one definition: `definitions#/$defs/date`. Formats are checked, too.
pub(crate) fn validator(address: &str) -> Validator {
    static REGISTRY: OnceLock<Registry<'static>> = OnceLock::new();
    let registry = REGISTRY.get_or_init(|| {
        let add = |registry: jsonschema::RegistryBuilder<'static>,
                   (name, schema): (&String, &'static Value)| {
            registry
                .add(format!("{BASE}{name}.schema.json"), schema)
                .unwrap_or_else(|e| panic!("{name}: {e}"))
        };
        let registry = schemas().iter().fold(Registry::new(), add);
        registry.prepare().unwrap_or_else(|e| panic!("a reference leads out of schema/: {e}"))
    });
    let (file, fragment) = address.split_once('#').unwrap_or((address, ""));
    jsonschema::options()
        .with_draft(jsonschema::Draft::Draft202012)
        .with_registry(registry)
        .should_validate_formats(true)
        .build(&json!({ "$ref": format!("{BASE}{file}.schema.json#{fragment}") }))
        .unwrap_or_else(|e| panic!("{address}: {e}"))
}

/// The samples of a kind that are `valid` or `invalid`, by their names.
pub(crate) fn samples(kind: &str, which: &str) -> Vec<(String, Value)> {
    let path = folder(&format!("tests/samples/{kind}/{which}"));
    let found: Vec<_> = names_in(&path)
        .into_iter()
        .map(|name| {
            let value = read(&path.join(&name));
            let stem = name.strip_suffix(".json").unwrap_or_else(|| panic!("{kind}/{which}/{name}"));
            (format!("{kind}/{which}/{stem}"), value)
        })
        .collect();
    assert!(!found.is_empty(), "{} is empty", path.display());
    found
}

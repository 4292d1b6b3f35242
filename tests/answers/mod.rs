//! Holds every answer for programs to its published schema, whatever test asked for it, and keeps one answer of each form
//! for validators of other make: tests/outside/schema/test_answers.py.
#![allow(clippy::unwrap_used)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{LazyLock, Mutex};

use jsonschema::Validator;
use serde_json::Value;
use underlit::digest::Sha256Digest;
use underlit::model::kind::Kind;
use underlit::store::schemas;

/// The published schemas of answers, by the words of their verbs joined by hyphens.
struct Published {
    validators: BTreeMap<String, Validator>,
    /// Where answers are kept that these schemas take.
    kept: PathBuf,
}

static PUBLISHED: LazyLock<Published> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let into = folder.path().display().to_string();
    let written =
        Command::new(env!("CARGO_BIN_EXE_underlit")).args(["schemas", "--answers", "--into", &into]).output();
    assert!(written.unwrap().status.success(), "underlit schemas --answers");
    let (mut validators, mut all) = (BTreeMap::new(), Vec::new());
    let mut files: Vec<PathBuf> =
        fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        all.extend_from_slice(text.as_bytes());
        let name =
            file.file_name().unwrap().to_str().unwrap().strip_suffix(".schema.json").unwrap().to_owned();
        let schema: Value = serde_json::from_str(&text).unwrap();
        validators.insert(
            name.clone(),
            jsonschema::draft202012::new(&schema).unwrap_or_else(|e| panic!("{name}: {e}")),
        );
    }
    let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join("answers").join(Sha256Digest::of(&all).hex());
    Published { validators, kept }
});

/// The verb of a command line: its first words that are neither options nor their values, as far as a schema is named so.
fn verb_of(arguments: &[&str]) -> Option<String> {
    let (mut plain, mut words) = (Vec::new(), arguments.iter());
    while let Some(word) = words.next() {
        match *word {
            "--book" | "--me" | "--key" => drop(words.next()),
            option if option.starts_with('-') => {}
            word => plain.push(word),
        }
    }
    let known = |name: &String| PUBLISHED.validators.contains_key(name);
    let both = plain.get(..2).map(|two| two.join("-")).filter(known);
    both.or_else(|| plain.first().map(|word| (*word).to_owned()).filter(known))
}

/// Holds what a command line with `--json` wrote to standard output to the schema of its verb, or to that of failures.
#[track_caller]
pub(crate) fn hold(arguments: &[impl AsRef<str>], stdout: &str) {
    let arguments: Vec<&str> = arguments.iter().map(AsRef::as_ref).collect();
    if !arguments.contains(&"--json") || !stdout.starts_with('{') {
        return;
    }
    let line = arguments.join(" ");
    for answer in serde_json::Deserializer::from_str(stdout).into_iter::<Value>() {
        let answer = answer.unwrap_or_else(|e| panic!("underlit {line}: no JSON: {e}\n{stdout}"));
        let fields: BTreeSet<&str> = answer.as_object().unwrap().keys().map(String::as_str).collect();
        let verb = if fields == BTreeSet::from(["error", "errors"]) {
            "failure".to_owned()
        } else {
            verb_of(&arguments)
                .unwrap_or_else(|| panic!("underlit {line}: no schema says what it answers:\n{stdout}"))
        };
        let wrong: Vec<String> = PUBLISHED.validators[&verb]
            .iter_errors(&answer)
            .map(|e| format!("{}: {e:.300}", e.instance_path()))
            .collect();
        assert!(wrong.is_empty(), "underlit {line}: not as {verb}.schema.json says: {wrong:#?}\n{answer:#}");
        for (kind, record) in records(&verb, &answer) {
            assert_eq!(schemas::faults(kind, record), [], "underlit {line}: {record:#}");
        }
        keep(&verb, &answer);
    }
}

/// The records that stand in an answer as they are stored.
fn records<'a>(verb: &str, answer: &'a Value) -> Vec<(Kind, &'a Value)> {
    match verb {
        "show" if answer["record"].is_object() => {
            let kind = Kind::WITH_SCHEMA.iter().find(|kind| answer["kind"] == kind.name());
            kind.map(|kind| (*kind, &answer["record"])).into_iter().collect()
        }
        "roster-show" => vec![(Kind::Roster, &answer["roster"])],
        _ => Vec::new(),
    }
}

/// Keeps an answer where none of its form is kept yet: the same fields with values of the same types.
fn keep(verb: &str, answer: &Value) {
    static SEEN: Mutex<BTreeSet<(String, String)>> = Mutex::new(BTreeSet::new());
    let mut form = BTreeSet::new();
    form_of(answer, "", &mut form);
    let digest = Sha256Digest::of(form.into_iter().collect::<String>().as_bytes()).hex();
    if !SEEN.lock().unwrap().insert((verb.to_owned(), digest.clone())) {
        return;
    }
    let folder = PUBLISHED.kept.join(verb);
    fs::create_dir_all(&folder).unwrap();
    let beside = tempfile::NamedTempFile::new_in(&folder).unwrap();
    fs::write(beside.path(), answer.to_string()).unwrap();
    beside.persist(folder.join(format!("{}.json", &digest[..16]))).unwrap();
}

fn form_of(value: &Value, at: &str, form: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            fields.iter().for_each(|(key, value)| form_of(value, &format!("{at}/{key}"), form));
        }
        Value::Array(items) => items.iter().for_each(|item| form_of(item, &format!("{at}/0"), form)),
        Value::Null => _ = form.insert(format!("{at} null\n")),
        Value::Bool(_) => _ = form.insert(format!("{at} bool\n")),
        Value::Number(_) => _ = form.insert(format!("{at} number\n")),
        Value::String(_) => _ = form.insert(format!("{at} text\n")),
    }
}

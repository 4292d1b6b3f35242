//! One entry of the shop's lists added, changed or taken out: held to its schema and to the other lists as every sealed file
//! is, and sealed by the asking owner in the same commit.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value};

use super::desk::Desk;
use super::roster::{SealedAnswers, Versioned, seal_answers};
use crate::fault::{Fault, Outcome};
use crate::ids::StockId;
use crate::store::{BookFiles, Changes, strict_json, write};
use crate::words::{self, words};

words! {
    /// A list of the shop, by what an entry of it is.
    List, "list of the shop" {
        /// A way to build.
        Route = "route",
        /// A tape.
        Tape = "tape",
        /// A driver.
        Driver = "driver",
        /// A controller.
        Controller = "controller",
        /// A dimmer.
        Dimmer = "dimmer",
        /// A cable.
        Cable = "cable",
        /// A connector.
        Connector = "connector",
        /// A fuse.
        Fuse = "fuse",
        /// A way in which finished panels travel.
        Freight = "freight",
    }
}

words! {
    /// What is done to a list.
    Act, "act on a list" {
        /// An entry that is not there yet.
        Add = "add",
        /// Fields of one that is there.
        Change = "change",
        /// One that is there.
        Remove = "remove",
    }
}

impl List {
    /// The file and the field of it that holds the list.
    fn place(self) -> (&'static str, &'static str) {
        match self {
            List::Route => ("shop/routes.json", "routes"),
            List::Tape => ("shop/lights.json", "lights"),
            List::Driver => ("shop/drivers.json", "drivers"),
            List::Controller => ("shop/controls.json", "controllers"),
            List::Dimmer => ("shop/controls.json", "dimmers"),
            List::Cable => ("shop/wire.json", "cables"),
            List::Connector => ("shop/wire.json", "connectors"),
            List::Fuse => ("shop/wire.json", "fuses"),
            List::Freight => ("shop/routes.json", "freights"),
        }
    }
}

/// One field that is another after the change.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Changed {
    /// The field.
    pub field: String,
    /// What it was; none where it was not there.
    pub before: Option<Value>,
    /// What it is; none where it is gone.
    pub after: Option<Value>,
}

/// Makes one change to a list and seals it. `whole` are fields as JSON; `fields` are single ones as `field=value`, the value as
/// JSON or else as text, nothing after the sign to take the field out, a point to reach into a field that holds others.
///
/// # Errors
/// `field`, `already-there`, `unknown-record`, `still-named`, and everything that the schema, the other lists and the roster
/// say against the result.
pub(crate) fn edit(
    desk: &Desk<'_>,
    list: List,
    act: Act,
    id: &StockId,
    whole: &Map<String, Value>,
    fields: &[String],
) -> Result<(Vec<Changed>, Versioned), Vec<Fault>> {
    let (path, key) = list.place();
    let bytes = desk.reading.book.read(path, strict_json::LARGEST)?;
    let mut file = strict_json::parse(&bytes).map_err(|f| vec![f.in_file(path)])?;
    let entries = match file.as_object_mut().map(|f| f.entry(key).or_insert_with(|| Value::Array(Vec::new())))
    {
        Some(Value::Array(entries)) => entries,
        _ => return Err(vec![Fault::data("not-a-list", format!("{key} is no list")).in_file(path)]),
    };
    let name = |entry: &Value| entry.get("id").and_then(Value::as_str).unwrap_or_default().to_owned();
    let at = entries.iter().position(|entry| name(entry) == id.as_str());
    let before = at.map(|at| entries[at].clone());
    match (act, at) {
        (Act::Add, Some(_)) => {
            return Err(vec![
                Fault::usage("already-there", format!("there is a {list} {id} already"))
                    .in_file(path)
                    .fix(format!("change it: underlit shop {list} change {id} FIELD=VALUE")),
            ]);
        }
        (Act::Change | Act::Remove, None) => {
            let known: Vec<String> = entries.iter().map(name).collect();
            let none = format!("add it: underlit shop {list} add {id} FIELD=VALUE");
            return Err(vec![
                Fault::usage("unknown-record", format!("there is no {list} {id}"))
                    .in_file(path)
                    .fix(words::instead_of(id.as_str(), known.iter().map(String::as_str), &none)),
            ]);
        }
        (Act::Remove, Some(at)) => {
            not_named(desk, list, id)?;
            entries.remove(at);
        }
        (Act::Add, None) => {
            let start = Value::Object(Map::from_iter([("id".to_owned(), Value::from(id.as_str()))]));
            entries.push(with(start, whole, fields)?);
        }
        (Act::Change, Some(at)) => entries[at] = with(entries[at].clone(), whole, fields)?,
    }
    let after = entries.iter().find(|entry| name(entry) == id.as_str()).cloned();
    let changed = differing(before.as_ref(), after.as_ref());
    if changed.is_empty() {
        let fault = Fault::usage("no-change", format!("{list} {id} says all of that already"));
        return Err(vec![fault.fix(format!("see it: underlit show --shop {}", path_kind(path)))]);
    }
    let files = BTreeMap::from([(path.to_owned(), write::to_bytes(&file)?)]);
    let none = BTreeSet::new();
    let answers =
        SealedAnswers { files: &files, questions: &none, beside: &Changes::new(), settles_beside: &none };
    let done = match act {
        Act::Add => "added",
        Act::Change => "changed",
        Act::Remove => "taken out",
    };
    Ok((changed, seal_answers(desk, &format!("{list} {id} {done}"), &answers)?))
}

fn path_kind(path: &str) -> &str {
    path.trim_start_matches("shop/").trim_end_matches(".json")
}

/// An entry with what is said of it.
fn with(entry: Value, whole: &Map<String, Value>, fields: &[String]) -> Outcome<Value> {
    let Value::Object(mut entry) = entry else { return Ok(entry) };
    entry.extend(
        whole.iter().filter(|(key, _)| *key != "id").map(|(key, value)| (key.clone(), value.clone())),
    );
    let mut entry = Value::Object(entry);
    for text in fields {
        let Some((field, value)) =
            text.split_once('=').filter(|(field, _)| !field.is_empty() && *field != "id")
        else {
            let fault = Fault::usage("field", format!("“{text}” is no field with its value"));
            return Err(Box::new(
                fault.fix("write it like rating_w=96; the fields stand in the schema of the list"),
            ));
        };
        let value = match value {
            "" => None,
            text => Some(strict_json::parse(text.as_bytes()).unwrap_or_else(|_| text.into())),
        };
        set(&mut entry, field, value);
    }
    Ok(entry)
}

/// Sets or takes out a field by its dotted path.
fn set(entry: &mut Value, path: &str, value: Option<Value>) {
    if !entry.is_object() {
        *entry = Value::Object(Map::new());
    }
    let Some(fields) = entry.as_object_mut() else { return };
    match (path.split_once('.'), value) {
        (Some((first, rest)), value) => set(fields.entry(first).or_insert(Value::Null), rest, value),
        (None, Some(value)) => drop(fields.insert(path.to_owned(), value)),
        (None, None) => drop(fields.shift_remove(path)),
    }
}

fn differing(before: Option<&Value>, after: Option<&Value>) -> Vec<Changed> {
    let of = |entry: Option<&Value>| entry.and_then(Value::as_object).cloned().unwrap_or_default();
    let (before, after) = (of(before), of(after));
    let keys = before.keys().chain(after.keys().filter(|key| !before.contains_key(*key)));
    keys.filter(|key| before.get(*key) != after.get(*key))
        .map(|key| Changed {
            field: key.clone(),
            before: before.get(key).cloned(),
            after: after.get(key).cloned(),
        })
        .collect()
}

/// Refuses to take out what a panel or a trial of some job names.
fn not_named(desk: &Desk<'_>, list: List, id: &StockId) -> Result<(), Vec<Fault>> {
    for project in desk.reading.book.projects()? {
        let Ok(job) = desk.reading.project(&project) else { continue };
        let by_panel = job.panels.values().find(|panel| {
            let named = match list {
                List::Route => &panel.route,
                List::Tape => &panel.tape,
                List::Driver => &panel.driver,
                List::Controller | List::Dimmer => &panel.control,
                List::Cable => &panel.wire,
                List::Connector | List::Fuse => &None,
                List::Freight => job.project.dates.as_ref().map_or(&None, |dates| &dates.freight),
            };
            named.as_ref() == Some(id)
        });
        let trial = job.trials.values().find(|t| list == List::Tape && t.panel_tape.as_ref() == Some(id));
        let by = by_panel
            .map(|panel| format!("panel {}", panel.id))
            .or_else(|| trial.map(|trial| format!("trial {}", trial.id)));
        if let Some(by) = by {
            return Err(vec![
                Fault::usage("still-named", format!("{list} {id} is used by {by} of {project}"))
                    .fix("choose another there first, or leave it in the list"),
            ]);
        }
    }
    Ok(())
}

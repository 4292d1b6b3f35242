//! One spelling of a pack's data, so that anybody can check their digest with stock tools: JSON with sorted
//! keys, no space, UTF-8 as it is, whole numbers only. In Python `json.dumps(data, sort_keys=True,
//! separators=(",", ":"), ensure_ascii=False)` spells it the same.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use crate::model::statement::{Fact, Facts};

/// The data as a JSON value.
#[must_use]
pub(crate) fn value<T: Serialize>(data: &T) -> Value {
    // Whole numbers, text and lists of them: there is nothing that JSON could not hold.
    serde_json::to_value(data).unwrap_or(Value::Null)
}

/// The one spelling.
#[must_use]
pub(crate) fn bytes(value: &Value) -> Vec<u8> {
    let mut spelled = Vec::new();
    spell(value, &mut spelled);
    spelled
}

fn spell(value: &Value, into: &mut Vec<u8>) {
    match value {
        Value::Object(fields) => {
            let sorted: BTreeMap<&String, &Value> = fields.iter().collect();
            into.push(b'{');
            for (nth, (name, value)) in sorted.into_iter().enumerate() {
                if nth > 0 {
                    into.push(b',');
                }
                plain(name, into);
                into.push(b':');
                spell(value, into);
            }
            into.push(b'}');
        }
        Value::Array(items) => {
            into.push(b'[');
            for (nth, item) in items.iter().enumerate() {
                if nth > 0 {
                    into.push(b',');
                }
                spell(item, into);
            }
            into.push(b']');
        }
        one => plain(one, into),
    }
}

fn plain(one: &impl Serialize, into: &mut Vec<u8>) {
    // Nothing keeps text and numbers from memory.
    let _ = serde_json::to_writer(into, one);
}

/// Every figure under its own name, for telling two packs apart: things in a list go by their `id`, `number`,
/// `run`, `swatch` or `key`, so that one more panel does not look like a change of all that follow it.
#[must_use]
pub(crate) fn facts(value: &Value) -> Facts {
    let mut facts = Facts::new();
    walk("", value, &mut facts);
    facts
}

fn walk(name: &str, value: &Value, facts: &mut Facts) {
    let under = |part: &str| if name.is_empty() { part.to_owned() } else { format!("{name}.{part}") };
    match value {
        Value::Null => {}
        Value::Object(fields) => fields.iter().for_each(|(part, v)| walk(&under(part), v, facts)),
        Value::Array(items) => {
            for (at, item) in items.iter().enumerate() {
                walk(&under(&called(item).unwrap_or_else(|| (at + 1).to_string())), item, facts);
            }
        }
        Value::Number(number) => {
            let fact = number.as_i64().map_or_else(|| Fact::Text(number.to_string()), Fact::Number);
            facts.insert(name.to_owned(), fact);
        }
        Value::String(text) => {
            facts.insert(name.to_owned(), Fact::Text(text.clone()));
        }
        Value::Bool(yes) => {
            facts.insert(name.to_owned(), Fact::Text(if *yes { "yes" } else { "no" }.into()));
        }
    }
}

/// What a thing in a list goes by.
fn called(item: &Value) -> Option<String> {
    if let (Some(driver), Some(output)) = (item.get("driver"), item.get("output")) {
        return Some(format!("driver-{driver}.output-{output}"));
    }
    let text = |part: &str| item.get(part).and_then(Value::as_str);
    if let Some(key) = text("key") {
        let about = ["panel", "tape", "stone"].iter().find_map(|part| text(part));
        return Some(about.map_or_else(|| key.to_owned(), |about| format!("{key}-{about}")));
    }
    if let (Some(what), Some(id)) = (text("what"), item.pointer("/item/id").and_then(Value::as_str)) {
        let panel = text("panel").map(|panel| format!("-{panel}")).unwrap_or_default();
        return Some(format!("{what}-{id}{panel}"));
    }
    let name = ["id", "run", "swatch", "number", "mark"].iter().find_map(|key| item.get(key))?;
    Some(name.as_str().map_or_else(|| name.to_string(), str::to_owned))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn keys_are_sorted_at_every_depth_and_nothing_is_spaced() {
        let value = json!({ "b": [ { "z": 1, "a": "ä\n" } ], "a": null });
        assert_eq!(bytes(&value), "{\"a\":null,\"b\":[{\"a\":\"ä\\n\",\"z\":1}]}".as_bytes());
    }

    #[test]
    fn a_panel_more_is_no_change_of_the_others() {
        let one = json!({ "panels": [ { "id": "b", "w": 1 } ] });
        let two = json!({ "panels": [ { "id": "a", "w": 2 }, { "id": "b", "w": 1 } ] });
        let changes = crate::model::view::changes(&facts(&one), &facts(&two));
        assert!(changes.iter().all(|c| c.fact.starts_with("panels.a")), "{changes:?}");
        assert_eq!(changes.len(), 2);
    }
}

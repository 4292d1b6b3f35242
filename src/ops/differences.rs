//! Where two forms of a record differ, field by field, in the trade's words: what the schema calls the field, what it was
//! and what it would be.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::Value;

use crate::merge::same;
use crate::model::conflict::{shown, unit_of};
use crate::model::kind::Kind;
use crate::model::references::attachment;
use crate::store::schemas;

/// One field that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Difference {
    /// Where, as a JSON pointer; an element that has an id is named by it.
    pub pointer: String,
    /// What the schema calls the field.
    pub field: String,
    /// What it is; none where nothing is there.
    pub before: Option<String>,
    /// What it would be; none where it goes.
    pub after: Option<String>,
}

impl Difference {
    /// The difference in one line: `Title: “Bar” → “Long bar”`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let side = |text: &Option<String>| text.clone().unwrap_or_else(|| "nothing".to_owned());
        format!("{}: {} → {}", self.field, side(&self.before), side(&self.after))
    }
}

/// Every field in which two forms of a record differ, at or beneath a place.
#[must_use]
pub(crate) fn between(kind: Option<Kind>, before: Option<&Value>, after: Option<&Value>) -> Vec<Difference> {
    let mut found = Vec::new();
    differ(before, after, String::new(), &mut |pointer, before, after| {
        found.push(difference(kind, &pointer, before, after));
    });
    found
}

/// A field that differs, in words.
#[must_use]
pub(crate) fn difference(
    kind: Option<Kind>,
    pointer: &str,
    before: Option<&Value>,
    after: Option<&Value>,
) -> Difference {
    let steps: Vec<String> =
        pointer.split('/').skip(1).map(|step| step.replace("~1", "/").replace("~0", "~")).collect();
    let unit = steps.last().and_then(|last| unit_of(last)).map_or("", |(_, unit)| unit);
    let told = |value: Option<&Value>| value.map(|value| shown(value, unit));
    Difference {
        pointer: pointer.to_owned(),
        field: field(kind, &steps),
        before: told(before),
        after: told(after),
    }
}

/// The field's name as the schema has it, and which element it is of where there are several: `Channels warm, Colour
/// temperature`.
fn field(kind: Option<Kind>, steps: &[String]) -> String {
    let (mut names, mut keys): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    for (n, step) in steps.iter().enumerate() {
        let element = step
            .split_once('=')
            .map(|(_, id)| id.to_owned())
            .or_else(|| step.parse::<usize>().ok().map(|nth| (nth + 1).to_string()));
        keys.push(if element.is_some() { "0".to_owned() } else { step.clone() });
        match element {
            Some(element) => {
                if let Some(last) = names.last_mut() {
                    *last = format!("{last} {element}");
                }
            }
            // A field within a field is named alone where that says enough.
            None => {
                let title = kind.and_then(|kind| schemas::title_at(kind, &keys));
                let title = title.unwrap_or_else(|| {
                    let words = unit_of(step).map_or(step.as_str(), |(stem, _)| stem);
                    words.replace('_', " ")
                });
                if n > 0 && names.last().is_some_and(|last| title.contains(last.as_str())) {
                    names.pop();
                }
                names.push(title);
            }
        }
    }
    if names.is_empty() { "the whole record".to_owned() } else { names.join(", ") }
}

/// Hears of each place that differs, with what it is and what it would be.
type Tell<'t> = dyn FnMut(String, Option<&Value>, Option<&Value>) + 't;

fn differ(before: Option<&Value>, after: Option<&Value>, place: String, tell: &mut Tell<'_>) {
    let is_attachment = |v: Option<&Value>| v.is_some_and(|v| attachment(v).is_some());
    match (before, after) {
        _ if same(before, after) => {}
        (Some(Value::Object(a)), Some(Value::Object(b)))
            if !is_attachment(before) && !is_attachment(after) =>
        {
            for key in
                a.keys().chain(b.keys().filter(|key| !a.contains_key(*key))).filter(|k| *k != "$schema")
            {
                let step = key.replace('~', "~0").replace('/', "~1");
                differ(a.get(key), b.get(key), format!("{place}/{step}"), tell);
            }
        }
        (Some(Value::Array(a)), Some(Value::Array(b)))
            if a.iter().chain(b).all(|item| item.get("id").is_some_and(Value::is_string)) =>
        {
            let id = |item: &Value| item.get("id").and_then(Value::as_str).map(ToOwned::to_owned);
            let ids: BTreeSet<String> = a.iter().chain(b).filter_map(id).collect();
            for wanted in ids {
                let of = |items: &'_ [Value]| {
                    items.iter().find(|item| id(item).as_ref() == Some(&wanted)).cloned()
                };
                let (a, b) = (of(a), of(b));
                differ(a.as_ref(), b.as_ref(), format!("{place}/id={wanted}"), tell);
            }
        }
        (before, after) => tell(place, before, after),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn fields_are_called_as_the_schema_calls_them_and_have_their_units() {
        let before = json!({"id": "bar", "title": "Bar", "light": {"kind": "static-white", "cct_k": 2700}, "outline": {"file": "bar.outline.json", "sha256": "00aa11bb22"}});
        let mut after = before.clone();
        after["title"] = json!("Long bar");
        after["light"]["cct_k"] = json!(3000);
        after["outline"]["sha256"] = json!("ffaa11bb22");
        after["feed_length_m"] = json!(8);
        let found: Vec<String> = between(Some(Kind::Panel), Some(&before), Some(&after))
            .iter()
            .map(Difference::in_words)
            .collect();
        assert_eq!(
            found,
            [
                "Title: “Bar” → “Long bar”",
                "Light, Colour temperature: 2700 K → 3000 K",
                "Outline: file bar.outline.json (00aa11bb) → file bar.outline.json (ffaa11bb)",
                "Feed length: nothing → 8 m",
            ]
        );
        assert!(between(None, Some(&after), Some(&after)).is_empty());
    }
}

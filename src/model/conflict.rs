//! `conflicts/<id>.json`: an open question between people's edits, kept as data until answered.
//!
//! The record that it is about keeps the base value meanwhile. The merge writes these; this is their type
//! for readers.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::references::attachment;
use crate::visible::on_one_line;

/// Edits of one place that cannot all stand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Conflict {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The file that the question is about, relative to the book.
    pub path: String,
    /// The JSON pointer to the place; empty for the whole file.
    pub pointer: String,
    /// What it was before any edit; absent where nothing was there.
    #[serde(default, skip_serializing_if = "Option::is_none", with = "present")]
    pub base: Option<Value>,
    /// The edits, earliest first; at least two.
    pub sides: Vec<Side>,
    /// Why the history does not show that anybody asked this; none where it does, and where nobody looked. No part of
    /// the record.
    #[serde(skip)]
    pub unproven: Option<Unproven>,
}

/// Why nobody can tell who asked a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unproven {
    /// The clone lacks the older part of the history.
    CutOff,
    /// Nobody made these edits.
    Nobody,
}

impl Unproven {
    /// In words.
    #[must_use]
    pub(crate) fn in_words(self) -> &'static str {
        match self {
            Unproven::Nobody => "nothing in the history shows who asked this",
            Unproven::CutOff => {
                "this clone lacks older commits, so who asked this cannot be looked up (underlit part --past)"
            }
        }
    }
}

/// One person's edit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Side {
    /// The value; absent where the place was taken out, or where the edit is kept as a file.
    #[serde(default, skip_serializing_if = "Option::is_none", with = "present")]
    pub value: Option<Value>,
    /// The path of the file that keeps the edit, where it is no record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The digest of that file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sha256: Option<String>,
    /// Who made it, as the commit says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The address that the commit names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// When, as the commit says, in UTC.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// The commit, 40 hexadecimal digits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub commit: Option<String>,
}

/// The name of a question, from the path of its record.
#[must_use]
pub(crate) fn question_of(path: &str) -> &str {
    path.rsplit('/').next().and_then(|file| file.strip_suffix(".json")).unwrap_or(path)
}

/// A file of a book in words: `panel front`, `the shop's list wire`.
#[must_use]
pub(crate) fn place_of(path: &str) -> String {
    let inside = path.strip_prefix("projects/").and_then(|p| p.split_once('/')).map_or(path, |p| p.1);
    if let Some(stem) = inside.strip_prefix("panels/").and_then(|file| file.strip_suffix(".outline.json")) {
        return format!("the drawing of panel {stem}");
    }
    match inside.strip_suffix(".json").and_then(|stem| stem.split_once('/')) {
        Some(("shop", list)) => format!("the shop's list {list}"),
        Some(("roster", number)) => format!("roster version {}", number.trim_start_matches('0')),
        Some(("renderings", rest)) => {
            format!("the rendering of panel {}", rest.trim_end_matches("/manifest"))
        }
        None if inside == "project.json" => "the project".to_owned(),
        None if inside == "as-built.json" => "the as-built record".to_owned(),
        None if inside == "installation.json" => "the installation record".to_owned(),
        None if inside == "rules.json" => "the rules of approval".to_owned(),
        None if inside == "book.json" => "the book's own settings".to_owned(),
        Some((folder, stem)) if !stem.contains('/') => {
            let kind = folder.strip_suffix("es").filter(|k| k.ends_with("ch")).or(folder.strip_suffix('s'));
            format!("{} {stem}", kind.unwrap_or(folder))
        }
        _ => inside.to_owned(),
    }
}

/// What somebody made of a place, in words.
const REMOVED: &str = "removed";
const ANOTHER_FILE: &str = "another file";
/// What is said where nobody can tell what was there before the edits.
const AS_IT_IS: &str = "It stays as it is until somebody answers";
/// What is said of an edit that leaves the place as it was.
pub(crate) const KEPT: &str = "kept as it was";

impl Conflict {
    /// The question in one line of trade words: `panel front, light cct: 3000 K or 4000 K? It stays 2700 K until somebody
    /// answers`. It names nobody, because who made an edit is for the history to say and not for this record.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        self.in_words_of(self.unproven)
    }

    /// The same, where it is known of the whole question that nobody can tell who asked it.
    #[must_use]
    pub(super) fn in_words_of(&self, unproven: Option<Unproven>) -> String {
        let mut sides: Vec<String> = self.sides.iter().map(|side| self.side_in_words(side)).collect();
        if sides.iter().all(|side| side == ANOTHER_FILE) {
            sides = vec![format!("which of {} files", self.sides.len())];
        }
        let mut seen = std::collections::BTreeSet::new();
        sides.retain(|side| seen.insert(side.clone()));
        // What somebody removed is in question, and is asked about first.
        sides.sort_by_key(|side| side != REMOVED);
        let (place, sides) = (self.place(), sides.join(" or "));
        on_one_line(&match unproven {
            None => format!("{place}: {sides}? {}", self.meanwhile()),
            Some(why) => format!("{place}: a record asks “{sides}?”, and {}. {AS_IT_IS}", why.in_words()),
        })
    }

    /// What is true until the question is answered.
    #[must_use]
    pub(crate) fn meanwhile(&self) -> String {
        if self.unproven.is_some() {
            return AS_IT_IS.to_owned();
        }
        let stays = match &self.base {
            Some(Value::Object(_) | Value::Array(_)) => "as it was".to_owned(),
            Some(base) => shown(base, self.unit()),
            None if self.pointer.is_empty() => "as it is".to_owned(),
            None => "empty".to_owned(),
        };
        format!("It stays {stays} until somebody answers")
    }

    /// What one edit made of the place, in a few words.
    #[must_use]
    pub(crate) fn side_in_words(&self, side: &Side) -> String {
        let text = match (&side.value, &side.file) {
            (None, None) => REMOVED,
            (None, Some(_)) if side.by.is_none() && side.commit.is_none() => KEPT,
            (None, Some(_)) => ANOTHER_FILE,
            (value, _) if *value == self.base => KEPT,
            (Some(Value::Object(_)), _) if self.pointer.is_empty() => "changed",
            (Some(value), _) if attachment(value).is_some() => ANOTHER_FILE,
            (Some(value), _) => return shown(value, self.unit()),
        };
        text.to_owned()
    }

    /// True where one of the edits took the place out.
    #[must_use]
    pub(crate) fn has_removal(&self) -> bool {
        self.sides.iter().any(Side::is_removal)
    }

    /// The place that the question is about, in words.
    #[must_use]
    pub(crate) fn place(&self) -> String {
        let file = place_of(&self.path);
        if self.pointer.is_empty() {
            return file;
        }
        let names: Vec<String> =
            self.pointer.split('/').skip(1).map(|part| part.replace("id=", "")).collect();
        let mut words = names.join(" ");
        if let Some((stem, _)) = unit_of(&words) {
            words.truncate(stem.len());
        }
        format!("{file}, {}", words.replace('_', " "))
    }

    fn unit(&self) -> &'static str {
        unit_of(&self.pointer).map_or("", |(_, unit)| unit)
    }
}

/// A name without the unit that it ends in, and the unit as people write it.
#[must_use]
pub(crate) fn unit_of(name: &str) -> Option<(&str, &'static str)> {
    let (stem, ending) = name.rsplit_once('_')?;
    let unit = match ending {
        "mm" => " mm",
        "mm2" => " mm²",
        "m" => " m",
        "k" => " K",
        "v" => " V",
        "w" => " W",
        "a" => " A",
        "lx" => " lx",
        "pct" => " %",
        _ => return None,
    };
    Some((stem, unit))
}

/// A value as people read it: text in quotes, a number with its unit, the parts of a whole one after another.
#[must_use]
pub(crate) fn shown(value: &Value, unit: &str) -> String {
    let text = match value {
        Value::String(text) => format!("“{text}”"),
        Value::Number(number) => format!("{number}{unit}"),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Array(items) if items.is_empty() => "none".to_owned(),
        Value::Array(items) => items.iter().map(|item| shown(item, unit)).collect::<Vec<_>>().join(", "),
        Value::Object(fields) => match attachment(value) {
            Some((file, digest)) => format!("file {file} ({})", digest.get(..8).unwrap_or(digest)),
            None => {
                let parts = fields.iter().map(|(key, value)| {
                    let (name, unit) = unit_of(key).unwrap_or((key, ""));
                    format!("{} {}", name.replace('_', " "), shown(value, unit))
                });
                parts.collect::<Vec<_>>().join(", ")
            }
        },
        Value::Null => "nothing".to_owned(),
    };
    match text.char_indices().nth(LONGEST_SHOWN) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text,
    }
}

/// A longer value is cut off where it is shown.
const LONGEST_SHOWN: usize = 160;

impl Side {
    /// True where the edit took the place out.
    #[must_use]
    pub(crate) fn is_removal(&self) -> bool {
        self.value.is_none() && self.file.is_none()
    }
}

/// Keeps a JSON null apart from an absent value.
mod present {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};
    use serde_json::Value;

    pub(super) fn serialize<S: Serializer>(value: &Option<Value>, serializer: S) -> Result<S::Ok, S::Error> {
        value.serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Value>, D::Error> {
        Value::deserialize(deserializer).map(Some)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(by: &str, day: &str, value: Value) -> Side {
        let at = Some(format!("{day}T08:00:00Z"));
        Side {
            value: Some(value),
            file: None,
            sha256: None,
            by: Some(by.into()),
            email: None,
            at,
            commit: None,
        }
    }

    #[test]
    fn a_question_in_trade_words() {
        let sides = vec![side("Rep", "2026-09-01", 3000.into()), side("Designer", "2026-09-02", 4000.into())];
        let mut question = Conflict {
            schema: String::new(),
            path: "projects/quay/panels/front.json".into(),
            pointer: "/light/cct_k".into(),
            base: Some(2700.into()),
            sides,
            unproven: None,
        };
        assert_eq!(
            question.in_words(),
            "panel front, light cct: 3000 K or 4000 K? It stays 2700 K until somebody answers"
        );
        question.unproven = Some(Unproven::Nobody);
        assert_eq!(
            question.in_words(),
            "panel front, light cct: a record asks “3000 K or 4000 K?”, and nothing in the history shows who asked this. \
             It stays as it is until somebody answers"
        );
        question.unproven = None;
        for (path, place) in [
            ("projects/quay/swatches/alba.json", "swatch alba, light cct"),
            ("projects/quay/project.json", "the project, light cct"),
            ("rules.json", "the rules of approval, light cct"),
            ("shop/wire.json", "the shop's list wire, light cct"),
            ("roster/0004.json", "roster version 4, light cct"),
            ("README.md", "README.md, light cct"),
        ] {
            question.path = path.into();
            assert_eq!(question.place(), place);
        }
        question.pointer = String::new();
        question.base = None;
        assert_eq!(question.in_words(), "README.md: 3000 or 4000? It stays as it is until somebody answers");
        question.sides[0].value = None;
        question.sides[1].value = Some(serde_json::json!({"id": "front"}));
        question.base = question.sides[1].value.clone();
        assert!(question.in_words().starts_with("README.md: removed or kept as it was? It stays as it was"));
    }
}

//! `conflicts/<id>.json`: an open question between people's edits, kept as data until answered.
//!
//! The record that it is about keeps the base value meanwhile. The merge writes these; this is their type
//! for readers.

use serde::{Deserialize, Serialize};
use serde_json::Value;

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
pub fn question_of(path: &str) -> &str {
    path.rsplit('/').next().and_then(|file| file.strip_suffix(".json")).unwrap_or(path)
}

impl Conflict {
    /// The question in trade words: `panel front, light cct: Mara Quill chose 3000 K on Tuesday 2026-09-01, Imke Voss
    /// 4000 K on Wednesday 2026-09-02; it stays 2700 K until somebody settles it`.
    #[must_use]
    pub fn in_words(&self) -> String {
        let unit = self.unit();
        let left = |side: &Side| side.by.is_none() && side.file.is_none() && side.value == self.base;
        let sides: Vec<String> = self
            .sides
            .iter()
            .map(|side| if left(side) { "somebody left it as it was".to_owned() } else { side.chose(unit) })
            .collect();
        let stays = match &self.base {
            Some(base) => format!("it stays {} until somebody settles it", shown(base, unit)),
            None => "it waits for somebody to settle it".to_owned(),
        };
        on_one_line(&format!("{}: {}; {stays}", self.place(), sides.join(", ")))
    }

    /// The place that the question is about, in words.
    #[must_use]
    pub fn place(&self) -> String {
        let inside = self
            .path
            .strip_prefix("projects/")
            .and_then(|p| p.split_once('/'))
            .map_or(self.path.as_str(), |p| p.1);
        let file = match inside.strip_suffix(".json").and_then(|stem| stem.split_once('/')) {
            Some(("shop", list)) => format!("the shop's list {list}"),
            Some(("roster", number)) => format!("roster version {}", number.trim_start_matches('0')),
            None if inside == "rules.json" => "the rules of approval".to_owned(),
            None if inside == "book.json" => "the book's own settings".to_owned(),
            Some((folder, stem)) if !stem.contains('/') => {
                let kind =
                    folder.strip_suffix("es").filter(|k| k.ends_with("ch")).or(folder.strip_suffix('s'));
                format!("{} {stem}", kind.unwrap_or(folder))
            }
            _ => inside.to_owned(),
        };
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
fn unit_of(name: &str) -> Option<(&str, &'static str)> {
    let (stem, ending) = name.rsplit_once('_')?;
    let unit = match ending {
        "mm" => " mm",
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

fn shown(value: &Value, unit: &str) -> String {
    match value {
        Value::String(text) => format!("“{text}”"),
        Value::Number(number) => format!("{number}{unit}"),
        other => other.to_string(),
    }
}

impl Side {
    /// The edit in words.
    #[must_use]
    pub fn in_words(&self) -> String {
        on_one_line(&self.chose(""))
    }

    fn chose(&self, unit: &str) -> String {
        let who = self.by.as_deref().unwrap_or("somebody");
        let day = self.at.as_deref().and_then(|at| at.get(..10)).map_or_else(String::new, |day| {
            match day.parse::<jiff::civil::Date>() {
                Ok(date) => format!(" on {}", date.strftime("%A %Y-%m-%d")),
                Err(_) => format!(" on {day}"),
            }
        });
        match (&self.value, &self.file) {
            (Some(value), _) => format!("{who} chose {}{day}", shown(value, unit)),
            (None, Some(file)) if self.by.is_none() => format!("as it was before (kept as {file})"),
            (None, Some(file)) => format!("{who} put another file there{day} (kept as {file})"),
            (None, None) => format!("{who} took it out{day}"),
        }
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
        };
        assert_eq!(
            question.in_words(),
            "panel front, light cct: Rep chose 3000 K on Tuesday 2026-09-01, Designer chose 4000 K on Wednesday \
             2026-09-02; it stays 2700 K until somebody settles it"
        );
        for (path, place) in [
            ("projects/quay/swatches/alba.json", "swatch alba, light cct"),
            ("projects/quay/project.json", "project.json, light cct"),
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
        assert!(question.in_words().starts_with("README.md: Rep chose 3000 on"));
        assert!(question.in_words().ends_with("it waits for somebody to settle it"));
    }
}

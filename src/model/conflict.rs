//! `conflicts/<id>.json`: an open question between people's edits, kept as data until answered.
//!
//! The record that it is about keeps the base value meanwhile. The merge writes these; this is their type
//! for readers.

use serde::{Deserialize, Serialize};
use serde_json::Value;

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

impl Conflict {
    /// The question in trade words: `panels/front.json light cct k: Mara has 3000 (2026-09-02), Jonas has 4000 (…)`.
    #[must_use]
    pub fn in_words(&self) -> String {
        let what = if self.pointer.is_empty() {
            self.path.clone()
        } else {
            format!("{}{}", self.path, self.pointer.replace(['/', '_'], " "))
        };
        let sides: Vec<String> = self.sides.iter().map(Side::in_words).collect();
        format!("{what}: {}", sides.join(", "))
    }
}

impl Side {
    /// The edit in words.
    #[must_use]
    pub fn in_words(&self) -> String {
        let who = self.by.as_deref().unwrap_or("somebody");
        let day =
            self.at.as_deref().and_then(|at| at.get(..10)).map(|d| format!(" ({d})")).unwrap_or_default();
        match (&self.value, &self.file) {
            (Some(value), _) => format!("{who} has {value}{day}"),
            (None, Some(file)) => format!("{who} has the file {file}{day}"),
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

//! `conflicts/<id>.json`: an open question between two people's edits, kept as data until answered.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Two edits of one field that cannot both stand. The record keeps the base value meanwhile.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Conflict {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The file that the question is about, relative to the book.
    pub path: String,
    /// The JSON pointer to the field; empty for the whole file.
    pub pointer: String,
    /// What it was before either edit; absent where it was not there.
    #[serde(default, skip_serializing_if = "Option::is_none", with = "present")]
    pub base: Option<Value>,
    /// One edit.
    pub ours: Side,
    /// The other.
    pub theirs: Side,
}

/// One person's edit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Side {
    /// The value; absent where the field or file was taken out.
    #[serde(default, skip_serializing_if = "Option::is_none", with = "present")]
    pub value: Option<Value>,
    /// Who made it, as the commit says.
    pub who: String,
    /// When, as the commit says.
    pub when: String,
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

//! `notes/<id>.json`: a remark that somebody added to a record. Nobody signs it, no gate asks for it, nothing is built from
//! it; it is added and never changed, so that two made at once are both kept.

use serde::{Deserialize, Serialize};

use crate::ids::{NoteId, PersonId};

/// A remark on a project or on one of its records.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The note's name, which is also its file's.
    pub id: NoteId,
    /// The record that it is on, as kind and name: `panel/front`; none for the project as a whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// Who wrote it.
    pub by: PersonId,
    /// When, for people only.
    pub time: String,
    /// What it says.
    pub text: String,
}

impl Note {
    /// What it is on, as people say it: `panel front`.
    #[must_use]
    pub(crate) fn subject(&self) -> Option<String> {
        self.on.as_ref().map(|on| {
            let (kind, name) = on.split_once('/').unwrap_or((on, ""));
            let short = name.get(..12).filter(|_| name.len() == 64).unwrap_or(name);
            format!("{kind} {short}").trim_end().to_owned()
        })
    }
}

//! Whether the history bears out what the record of a question says. Anybody can write such a record: what it says was
//! edited, and by whom, is told as a fact only where a commit did just that.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::digest::Sha256Digest;
use crate::git::{GitError, Repo};
use crate::merge::{at, same};
use crate::model::conflict::{Conflict, Side, Unproven};
use crate::store::{BookFiles, strict_json};

/// Notes of each record whether the history shows who asked. Where the book lies in no
/// folder with a history, nothing is noted. Costs nothing where there is no question.
pub(crate) fn prove(book: &dyn BookFiles, conflicts: &mut BTreeMap<String, Conflict>) {
    if conflicts.is_empty() {
        return;
    }
    let Some(Ok(repo)) = book.on_disk().map(Repo::open) else { return };
    for conflict in conflicts.values_mut() {
        conflict.unproven = unproven(&repo, conflict);
    }
}

/// Why nobody can tell who asked a question: an edit that nobody made, or a value that the place never had before.
#[must_use]
pub(crate) fn unproven(repo: &Repo, conflict: &Conflict) -> Option<Unproven> {
    let made = conflict.sides.iter().filter(|side| !leaves_it(conflict, side));
    let mut asked = made.map(|side| made_by(repo, conflict, side).is_some()).peekable();
    let proven = asked.peek().is_some() && asked.all(|made| made) && base_was_there(repo, conflict);
    match (proven, repo.is_shallow()) {
        (true, _) => None,
        (false, true) => Some(Unproven::CutOff),
        (false, false) => Some(Unproven::Nobody),
    }
}

/// True where the place has, or had at some time, what the record calls its value before any edit.
fn base_was_there(repo: &Repo, conflict: &Conflict) -> bool {
    let Some(base) = &conflict.base else { return true };
    let is = |bytes: Option<&[u8]>| {
        let now = bytes.and_then(|bytes| strict_json::parse(bytes).ok());
        now.is_some_and(|now| same(at(&now, &conflict.pointer), Some(base)))
    };
    let now = || -> Result<bool, GitError> {
        let now = repo.head_snapshot()?.file(&conflict.path)?;
        Ok(is(now.as_deref()) || repo.when_it_was(&conflict.path, &is)?.is_some())
    };
    now().unwrap_or(false)
}

/// True where an edit leaves the place as it was, so that nobody need have made it.
fn leaves_it(conflict: &Conflict, side: &Side) -> bool {
    let left = side.by.is_none() && side.commit.is_none();
    let same = side.file.is_none() && side.value == conflict.base;
    (same && (side.value.is_some() || !conflict.pointer.is_empty())) || (left && side.file.is_some())
}

/// Who made an edit, as the history tells it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Maker {
    /// The name on the commit.
    #[serde(rename = "who")]
    pub name: String,
    /// When, as the commit says, in UTC.
    pub at: String,
    /// The commit.
    pub commit: String,
}

impl Maker {
    /// The name and the day: `Mara Quill on Tuesday 2026-09-01`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let day = self.at.get(..10).unwrap_or(&self.at);
        match day.parse::<jiff::civil::Date>() {
            Ok(date) => format!("{} on {}", self.name, date.strftime("%A %Y-%m-%d")),
            Err(_) => self.name.clone(),
        }
    }
}

/// Who made an edit: the commit that the record names where the history has it and it did that, else the newest that did.
/// None where nobody is found, or where the edit leaves the place as it was.
#[must_use]
pub(crate) fn made_by(repo: &Repo, conflict: &Conflict, side: &Side) -> Option<Maker> {
    if leaves_it(conflict, side) {
        return None;
    }
    let read = |bytes: &[u8]| strict_json::parse(bytes).ok();
    let is = |bytes: Option<&[u8]>| match (&side.value, &side.sha256, bytes) {
        (Some(value), _, Some(bytes)) => {
            read(bytes).is_some_and(|now| same(at(&now, &conflict.pointer), Some(value)))
        }
        (None, Some(digest), Some(bytes)) => Sha256Digest::of(bytes).hex() == *digest,
        (None, None, Some(bytes)) if !conflict.pointer.is_empty() => {
            read(bytes).is_some_and(|now| at(&now, &conflict.pointer).is_none())
        }
        (None, None, None) => true,
        _ => false,
    };
    let claimed = side.commit.as_deref().filter(|c| c.len() == 40).and_then(|commit| commit.parse().ok());
    let commit = repo.who_turned(&conflict.path, claimed, &is).ok()??.commit;
    Some(Maker { name: commit.author.name, at: commit.at.to_string(), commit: commit.id.to_string() })
}

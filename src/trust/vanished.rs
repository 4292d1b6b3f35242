//! Questions that went away without an answer: a commit took the record out, and neither said that it settles the place
//! nor set it. Nobody need notice, since the gates open again; so everybody is told until the question is asked again
//! and answered. All of it follows from the history.

use std::collections::{BTreeSet, HashMap};
use std::path::Path;

use serde::{Deserialize as _, Serialize};
use serde_json::Value;

use super::about::About;
use super::noted;
use super::proof::Maker;
use crate::fault::Outcome;
use crate::git::{CommitId, Entry, GitError, Hub, PathChange};
use crate::merge::{at, same};
use crate::model::conflict::Conflict;
use crate::model::kind::Kind;
use crate::store::strict_json;
use crate::visible::on_one_line;

/// The line of a commit's message that says of a record that it is answered.
#[must_use]
pub(crate) fn settles(conflict: &Conflict) -> String {
    on_one_line(format!("settles {} {}", conflict.path, conflict.pointer).trim_end())
}

/// The end of a message whose commit answers records: a paragraph with a line for each place, or nothing.
#[must_use]
pub(crate) fn settling<'c>(answered: impl Iterator<Item = &'c Conflict>) -> String {
    let lines: BTreeSet<String> = answered.map(|conflict| format!("{}\n", settles(conflict))).collect();
    if lines.is_empty() { String::new() } else { format!("\n{}", String::from_iter(lines)) }
}

/// A question that went away without an answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Vanished {
    /// Where its record lay.
    #[serde(rename = "file")]
    pub record: String,
    /// What it was about, in words.
    pub place: String,
    /// Who took it out.
    #[serde(rename = "taken_out_by")]
    pub by: Maker,
    #[serde(skip)]
    taken_out: CommitId,
    #[serde(skip)]
    was_in: CommitId,
    #[serde(skip)]
    conflict: Conflict,
}

impl Vanished {
    /// In one line.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        on_one_line(&format!(
            "the question about {} was removed without an answer, by {}: `underlit resolve {} --ask-again` \
             brings it back",
            self.place,
            self.by.in_words(),
            self.about()
        ))
    }

    /// Whose question it was.
    #[must_use]
    pub(crate) fn about(&self) -> About {
        About::of_path(&self.record)
    }
}

/// The name of the note up to which commit no question is missing.
const NOTE: &str = "no-question-missing";

/// The questions that went away without an answer behind a book's newest commit; none where there is no history.
///
/// # Errors
/// What git says.
pub fn of_book(root: &Path) -> Outcome<Vec<Vanished>> {
    let Ok(hub) = Hub::open(root) else { return Ok(Vec::new()) };
    match hub.resolve("HEAD") {
        Ok(tip) => behind(&hub, tip),
        Err(_) => Ok(Vec::new()),
    }
}

/// Those of one project, or of the shop.
///
/// # Errors
/// What git says.
pub(crate) fn of(root: &Path, about: &About) -> Outcome<Vec<Vanished>> {
    Ok(of_book(root)?.into_iter().filter(|gone| gone.about() == *about).collect())
}

/// The questions that went away without an answer behind a commit. Where none is missing at all, that is noted, so that
/// the next look goes through what is new since.
///
/// # Errors
/// What git says.
pub(crate) fn behind(hub: &Hub, tip: CommitId) -> Outcome<Vec<Vanished>> {
    let local = hub.clone_local();
    let noted = noted::commit(&local, NOTE);
    if let Some(noted) = noted.filter(|at| hub.has_behind(tip, *at)) {
        if noted == tip {
            return Ok(Vec::new());
        }
        if Past::read(hub, tip, &[noted])?.vanished()?.is_empty() {
            let _ = noted::note(&local, NOTE, tip);
            return Ok(Vec::new());
        }
    }
    // What answers a question may be older than what is new here.
    let missing = Past::read(hub, tip, &[])?.vanished()?;
    // A look at an older commit leaves the note of a newer one.
    if missing.is_empty() && !noted.is_some_and(|at| hub.has_behind(at, tip)) {
        let _ = noted::note(&local, NOTE, tip);
    }
    Ok(missing)
}

/// The questions that went away without an answer on a clone's way from one commit to another.
///
/// # Errors
/// What git says.
pub(crate) fn came(root: &Path, before: Option<CommitId>, after: Option<CommitId>) -> Outcome<Vec<Vanished>> {
    let Some(after) = after else { return Ok(Vec::new()) };
    let hub = Hub::open(root)?;
    let missing = behind(&hub, after)?;
    let new = |gone: &Vanished| before.is_none_or(|before| !hub.has_behind(before, gone.taken_out));
    Ok(missing.into_iter().filter(new).collect())
}

impl Vanished {
    /// The record as it was last, and the files that it keeps, by path.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn as_it_was(&self, hub: &Hub) -> Outcome<Vec<(String, Vec<u8>)>> {
        let was = hub.snapshot(Some(self.was_in))?;
        let kept = self.conflict.sides.iter().filter_map(|side| side.file.as_deref());
        let mut files = Vec::new();
        for path in kept.chain([self.record.as_str()]) {
            files.extend(was.file(path)?.map(|bytes| (path.to_owned(), bytes)));
        }
        Ok(files)
    }
}

/// The place that a question is about.
type Place = (String, String);

fn place_of(conflict: &Conflict) -> Place {
    (conflict.path.clone(), conflict.pointer.clone())
}

/// A commit that touched records of questions.
struct Touched {
    id: CommitId,
    message: String,
    by: Maker,
    parents: usize,
    /// Each record that a parent has and the commit has not, with that parent.
    gone: Vec<(CommitId, String, Conflict)>,
    /// The places that it asks about and a parent does not.
    asked: BTreeSet<Place>,
}

impl Touched {
    /// True where it says that it answers a question: by a line for it, or, as answers said before, by its subject.
    fn settles(&self, conflict: &Conflict) -> bool {
        let line = settles(conflict);
        if self.message.lines().any(|said| said.trim() == line) {
            return true;
        }
        let subject = self.message.lines().next().unwrap_or_default();
        let of_before = subject.contains(": settles ") && !self.message.lines().any(is_a_line);
        of_before && self.gone.iter().any(|(_, _, gone)| place_of(gone) == place_of(conflict))
    }
}

fn is_a_line(said: &str) -> bool {
    said.trim().starts_with("settles ")
}

/// What a part of the history did to questions, newest first.
struct Past<'h> {
    hub: &'h Hub,
    tip: CommitId,
    steps: Vec<Touched>,
}

impl<'h> Past<'h> {
    fn read(hub: &'h Hub, tip: CommitId, since: &[CommitId]) -> Result<Self, GitError> {
        let mut steps: Vec<Touched> = Vec::new();
        let mut read: HashMap<Entry, Option<Conflict>> = HashMap::new();
        let tree = hub.snapshot(Some(tip))?;
        let mut conflict = |entry: Option<Entry>| -> Result<Option<Conflict>, GitError> {
            let Some(entry) = entry else { return Ok(None) };
            if let Some(known) = read.get(&entry) {
                return Ok(known.clone());
            }
            let value = strict_json::parse(&tree.bytes(entry)?).ok();
            let found = value.and_then(|value| Conflict::deserialize(&value).ok());
            read.insert(entry, found.clone());
            Ok(found)
        };
        let is_record = |change: &&PathChange| Kind::of_path(&change.path) == Some(Kind::Conflict);
        for commit in hub.newest_first(&[tip], since, "")? {
            let commit = commit?;
            if !commit.against.iter().flatten().any(|change| is_record(&change)) {
                continue;
            }
            let (message, parents) = hub.message_and_parents(commit.id)?;
            let by =
                Maker { name: commit.author.name, at: commit.at.to_string(), commit: commit.id.to_string() };
            let (mut gone, mut asked) = (Vec::new(), BTreeSet::new());
            for (nth, changes) in commit.against.iter().enumerate() {
                for record in changes.iter().filter(is_record) {
                    match (record.after, commit.parents.get(nth)) {
                        (Some(after), _) => asked.extend(conflict(Some(after))?.as_ref().map(place_of)),
                        (None, Some(parent)) => {
                            let was = conflict(record.before)?;
                            gone.extend(was.map(|was| (*parent, record.path.clone(), was)));
                        }
                        (None, None) => {}
                    }
                }
            }
            steps.push(Touched { id: commit.id, message, by, parents, gone, asked });
        }
        Ok(Past { hub, tip, steps })
    }

    fn vanished(&self) -> Result<Vec<Vanished>, GitError> {
        let mut found: Vec<Vanished> = Vec::new();
        for step in &self.steps {
            for (parent, record, conflict) in &step.gone {
                if found.iter().any(|known| known.record == *record)
                    || self.is_accounted_for(step, *parent, record, conflict)?
                {
                    continue;
                }
                found.push(Vanished {
                    record: record.clone(),
                    place: conflict.place(),
                    by: step.by.clone(),
                    taken_out: step.id,
                    was_in: *parent,
                    conflict: conflict.clone(),
                });
            }
        }
        found.sort_by(|a, b| a.record.cmp(&b.record));
        Ok(found)
    }

    /// True where a question that a commit took out was answered, is asked still or again, or went with its project.
    fn is_accounted_for(
        &self,
        step: &Touched,
        parent: CommitId,
        record: &str,
        conflict: &Conflict,
    ) -> Result<bool, GitError> {
        let place = place_of(conflict);
        let answers = |other: &&Touched| other.settles(conflict);
        // An answer that the commit has behind it was given to an earlier question about the place.
        let behind = |other: &Touched| other.id != step.id && self.hub.has_behind(step.id, other.id);
        if self.steps.iter().filter(answers).any(|other| !behind(other))
            || self.asks(step.id, record, &place)?
            || self.asks(self.tip, record, &place)?
            || self.has_no_project(record)?
        {
            return Ok(true);
        }
        let asked_since = |other: &&Touched| {
            other.asked.contains(&place) && other.id != step.id && self.hub.has_behind(other.id, step.id)
        };
        if self.steps.iter().any(|other| asked_since(&other)) {
            return Ok(true);
        }
        match step.parents {
            // Somebody who edits by hand sets the place in the same breath.
            0 | 1 => self.sets(parent, step.id, conflict),
            // What the other side of a merge took out was judged there.
            _ => Ok(self.steps.iter().any(|other| {
                let takes_it_out = other.gone.iter().any(|(_, path, _)| path == record);
                other.id != step.id
                    && takes_it_out
                    && self.hub.has_behind(step.id, other.id)
                    && !self.hub.has_behind(parent, other.id)
            })),
        }
    }

    /// True where a commit has a question about a place, beside a record.
    fn asks(&self, commit: CommitId, record: &str, place: &Place) -> Result<bool, GitError> {
        let tree = self.hub.snapshot(Some(commit))?;
        let folder = record.rsplit_once('/').map_or("", |(folder, _)| folder);
        for file in tree.files(folder)? {
            let record = Kind::of_path(&file.path) == Some(Kind::Conflict);
            let value = if record { strict_json::parse(&tree.bytes(file.entry)?).ok() } else { None };
            let about = value.and_then(|value| Conflict::deserialize(&value).ok());
            if about.is_some_and(|conflict| place_of(&conflict) == *place) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// True where the project of a record is gone.
    fn has_no_project(&self, record: &str) -> Result<bool, GitError> {
        let About::Project(id) = About::of_path(record) else { return Ok(false) };
        Ok(self.hub.snapshot(Some(self.tip))?.entry(&format!("projects/{id}/project.json"))?.is_none())
    }

    /// True where a commit sets the place that a question is about.
    fn sets(&self, before: CommitId, after: CommitId, conflict: &Conflict) -> Result<bool, GitError> {
        let now = |commit| self.hub.snapshot(Some(commit))?.file(&conflict.path);
        let (before, after) = (now(before)?, now(after)?);
        let value = |bytes: &Option<Vec<u8>>| -> Option<Value> {
            let value = strict_json::parse(bytes.as_deref()?).ok()?;
            at(&value, &conflict.pointer).cloned()
        };
        let is_record = Kind::of_path(&conflict.path).is_some_and(Kind::has_schema);
        Ok(before != after && !(is_record && same(value(&before).as_ref(), value(&after).as_ref())))
    }
}

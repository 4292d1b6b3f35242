//! The files of a tree merge one by one, and the questions that stay open, written as records into the tree.
//!
//! A question that one side opened counts as a change of its place on that side, so that a third change of the
//! place joins the question instead of overtaking it. An answer counts as a change too, even where it is the base.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::digest::Sha256Digest;
use crate::merge::{
    Decided, FileQuestion, Held, Keep, Layout, MergeConflict, Question, Side, Three, Touched, Treatment,
    combine, merge_file, same,
};
use crate::model::conflict::Conflict;

use super::together::{Leaf, Plan};
use super::{CommitId, Entry, EntryKind, GitError, Repo, Snapshot};

/// The place that a question is about: file and pointer.
type Place = (String, String);

/// The question records that one side has opened, by place.
type Opened = BTreeMap<Place, Vec<(String, Arc<MergeConflict>)>>;

/// A question with the path of its record, where it has one.
type Found = (Option<String>, Arc<MergeConflict>);

/// What happened to questions on each side since the base.
#[derive(Debug, Default)]
pub(crate) struct Questions {
    pub(crate) opened: Three<Opened>,
    /// The paths of the records that are gone.
    pub(crate) answered: Three<BTreeMap<Place, String>>,
}

/// A merge under way.
pub(crate) struct Work<'w, 'repo> {
    pub(crate) repo: &'repo Repo,
    pub(crate) layout: &'w Layout,
    pub(crate) questions: Questions,
    pub(crate) tips: (CommitId, CommitId),
    pub(crate) hidden: Vec<CommitId>,
    pub(crate) trees: &'w Three<Snapshot<'repo>>,
    pub(crate) edits: BTreeMap<String, Option<Entry>>,
    pub(crate) asked: Vec<MergeConflict>,
    pub(crate) kept: Vec<String>,
}

impl Work<'_, '_> {
    pub(crate) fn decide(&mut self, leaf: &Leaf) -> Result<(), GitError> {
        let three = leaf.three;
        let touched = self.touched(&leaf.path);
        let treatment = self.layout.treatment(&leaf.path);
        let (result, questions) = match leaf.decision {
            Plan::Ask(keep) => {
                let result = three.of(keep);
                // What both sides made alike is asked about as well where it has to stay as it was for the sake of
                // something else that is asked about: the answer to that brings what both made.
                let alike = three.ours == three.theirs && three.ours == result;
                (result, if alike { Vec::new() } else { vec![self.whole(&leaf.path, three)?] })
            }
            Plan::Merge if three.ours == three.theirs => (three.ours, Vec::new()),
            Plan::Merge
                if *treatment != Treatment::AddOnly && touched.is_empty() && three.theirs == three.base =>
            {
                (three.ours, Vec::new())
            }
            Plan::Merge
                if *treatment != Treatment::AddOnly && touched.is_empty() && three.ours == three.base =>
            {
                (three.theirs, Vec::new())
            }
            Plan::Merge => self.by_bytes(leaf, &touched)?,
        };
        if *treatment == Treatment::AddOnly && three.base.is_some() && result == three.base {
            self.kept.push(leaf.path.clone());
        }
        if leaf.here != result {
            self.edits.insert(leaf.path.clone(), result);
        }
        for question in questions {
            self.ask(&leaf.path, three, question)?;
        }
        Ok(())
    }

    fn by_bytes(
        &self,
        leaf: &Leaf,
        touched: &Touched,
    ) -> Result<(Option<Entry>, Vec<FileQuestion>), GitError> {
        let three = leaf.three;
        for entry in [three.base, three.ours, three.theirs].into_iter().flatten() {
            if matches!(entry.kind, EntryKind::Link | EntryKind::Submodule) {
                return Err(GitError::NotAFile { path: leaf.path.clone() });
            }
        }
        let bytes = self.bytes(three)?;
        let sides = Three {
            base: bytes.base.as_deref(),
            ours: bytes.ours.as_deref(),
            theirs: bytes.theirs.as_deref(),
        };
        let Decided { held, questions } = merge_file(self.layout, &leaf.path, sides, touched);
        let result = match held {
            Held::Kept(Keep::Base) => three.base,
            Held::Kept(side) => three.of(side).map(|entry| self.with_kind(three, entry)),
            Held::New(bytes) => {
                let id = self.repo.git.blob(&bytes)?;
                Some(self.with_kind(three, Entry { kind: EntryKind::File, id }))
            }
        };
        Ok((result, questions))
    }

    /// The executable bit follows the side that changed it.
    fn with_kind(&self, three: Three<Option<Entry>>, entry: Entry) -> Entry {
        let kind = |side: Option<Entry>| side.map(|entry| entry.kind);
        let merged = if kind(three.ours) == kind(three.base) { kind(three.theirs) } else { kind(three.ours) };
        let both = three.ours.is_some() && three.theirs.is_some();
        Entry { kind: merged.filter(|_| both).unwrap_or(entry.kind), id: entry.id }
    }

    fn bytes(&self, three: Three<Option<Entry>>) -> Result<Three<Option<Vec<u8>>>, GitError> {
        let read = |entry: Option<Entry>| entry.map(|entry| self.trees.ours.bytes(entry)).transpose();
        Ok(Three { base: read(three.base)?, ours: read(three.ours)?, theirs: read(three.theirs)? })
    }

    /// A file as one whole question: by its value where every side is a record, by its bytes where not.
    fn whole(&self, path: &str, three: Three<Option<Entry>>) -> Result<FileQuestion, GitError> {
        if !matches!(self.layout.treatment(path), Treatment::Record(_)) {
            return Ok(FileQuestion::Bytes);
        }
        let bytes = self.bytes(three)?;
        let read = |bytes: Option<Vec<u8>>| bytes.map(|bytes| self.layout.read(path, &bytes)).transpose();
        Ok(match (read(bytes.base), read(bytes.ours), read(bytes.theirs)) {
            (Ok(base), Ok(ours), Ok(theirs)) => {
                FileQuestion::Place(Question { pointer: String::new(), base, ours, theirs })
            }
            _ => FileQuestion::Bytes,
        })
    }

    fn touched(&self, path: &str) -> Touched {
        fn places<V>(places: &BTreeMap<Place, V>, path: &str) -> Vec<String> {
            let from = (path.to_owned(), String::new());
            places
                .range(from..)
                .map(|(place, _)| place)
                .take_while(|p| p.0 == path)
                .map(|p| p.1.clone())
                .collect()
        }
        let q = &self.questions;
        let side = |opened: &Opened, answered: &BTreeMap<Place, String>| -> BTreeSet<String> {
            places(opened, path).into_iter().chain(places(answered, path)).collect()
        };
        Touched {
            ours: side(&q.opened.ours, &q.answered.ours),
            theirs: side(&q.opened.theirs, &q.answered.theirs),
        }
    }

    fn ask(
        &mut self,
        path: &str,
        three: Three<Option<Entry>>,
        question: FileQuestion,
    ) -> Result<(), GitError> {
        let (pointer, base, values) = match &question {
            FileQuestion::Place(q) => {
                (q.pointer.as_str(), q.base.clone(), Some((q.ours.clone(), q.theirs.clone())))
            }
            FileQuestion::Bytes => ("", None, None),
        };
        let place = (path.to_owned(), pointer.to_owned());
        let mut sides = Vec::new();
        for theirs in [false, true] {
            let opened = if theirs { &self.questions.opened.theirs } else { &self.questions.opened.ours };
            // Where this side opened a question itself, its sides take part, and its record goes. What stands there
            // beside it is one more side only where somebody has set it since.
            let mut joined: Vec<Side> = Vec::new();
            for (file, record) in opened.get(&place).into_iter().flatten() {
                joined.extend(record.sides.iter().cloned());
                self.edits.insert(file.clone(), None);
            }
            let entry = if theirs { three.theirs } else { three.ours };
            let value = match &values {
                Some((ours, their)) => if theirs { their } else { ours }.clone(),
                None => None,
            };
            let set_since = match &values {
                Some(_) => {
                    !same(value.as_ref(), base.as_ref())
                        && joined.iter().all(|s| !same(s.value.as_ref(), value.as_ref()))
                }
                None => entry != three.base,
            };
            if joined.is_empty() || set_since {
                let answered =
                    if theirs { &self.questions.answered.theirs } else { &self.questions.answered.ours };
                let tip = if theirs { self.tips.1 } else { self.tips.0 };
                // Who answered a question with the base changed nothing but the question's record.
                let record = answered.get(&place).filter(|_| !set_since).map(|record| (record.as_str(), ""));
                let who =
                    self.repo.who_set(self.layout, tip, &self.hidden, record.unwrap_or((path, pointer)))?;
                let file = match &values {
                    Some(_) => None,
                    None => entry.map(|entry| self.keep(path, entry)).transpose()?,
                };
                if joined.iter().all(|s| s.file.is_none() || s.file != file) {
                    joined.push(Side { value, file, who });
                }
            }
            sides.extend(joined);
        }
        let asked = MergeConflict::new(path, pointer, base, sides);
        // Where the history tells nothing of either side, two that are alike are one, and there is nothing to choose.
        if asked.sides.len() > 1 {
            self.asked.push(asked);
        }
        Ok(())
    }

    /// Keeps a side's bytes beside the question about them, named by content.
    fn keep(&mut self, path: &str, entry: Entry) -> Result<(String, String), GitError> {
        let digest = Sha256Digest::of(&self.trees.ours.bytes(entry)?).hex();
        let name = path.rsplit('/').next().unwrap_or(path);
        let ending = name.rsplit_once('.').map(|(_, ending)| format!(".{ending}")).unwrap_or_default();
        // A kept record must not be taken for a question.
        let ending = if ending == ".json" { ".json.kept".to_owned() } else { ending };
        let short: String = digest.chars().take(32).collect();
        let kept = format!("{}/{short}{ending}", self.layout.conflict_folder(path));
        self.edits.insert(kept.clone(), Some(Entry { kind: EntryKind::File, id: entry.id }));
        Ok((kept, digest))
    }

    /// Writes the records of what was asked, joins questions about the same place, and sees that what a question
    /// keeps is there.
    pub(crate) fn write_questions(&mut self) -> Result<Vec<(String, Conflict)>, GitError> {
        let mut folders: BTreeSet<String> =
            self.asked.iter().map(|asked| self.layout.conflict_folder(&asked.path)).collect();
        for opened in [&self.questions.opened.ours, &self.questions.opened.theirs] {
            folders.extend(opened.keys().map(|(path, _)| self.layout.conflict_folder(path)));
        }
        let mut open: BTreeMap<Place, Vec<Found>> = BTreeMap::new();
        for folder in &folders {
            for (path, entry) in self.now_in(folder)? {
                if let Some(conflict) = self.repo.read_conflict(self.layout, &path, Some(entry))? {
                    let place = (conflict.path.clone(), conflict.pointer.clone());
                    open.entry(place).or_default().push((Some(path), conflict));
                }
            }
        }
        for asked in std::mem::take(&mut self.asked) {
            open.entry((asked.path.clone(), asked.pointer.clone()))
                .or_default()
                .push((None, Arc::new(asked)));
        }
        let mut opened = Vec::new();
        for group in open.into_values() {
            let mut joined: Vec<(BTreeSet<String>, bool, Arc<MergeConflict>)> = Vec::new();
            for (file, conflict) in group {
                let met = joined.iter_mut().find_map(|(files, new, one)| {
                    combine(one, &conflict).map(|both| {
                        files.extend(file.clone());
                        *new = true;
                        *one = Arc::new(both);
                    })
                });
                if met.is_none() {
                    let new = file.is_none();
                    joined.push((file.into_iter().collect(), new, conflict));
                }
            }
            for (files, new, conflict) in joined {
                self.see_kept(&conflict)?;
                if !new {
                    continue;
                }
                let path = format!("{}/{}.json", self.layout.conflict_folder(&conflict.path), conflict.id());
                if files.len() == 1 && files.contains(&path) {
                    continue;
                }
                for file in files.iter().filter(|file| **file != path) {
                    self.edits.insert(file.clone(), None);
                }
                let schema = self.layout.conflict_schema_at(&path);
                let bytes = self.layout.write(&path, &conflict.to_value(schema.as_deref()));
                let id = self.repo.git.blob(&bytes)?;
                self.edits.insert(path.clone(), Some(Entry { kind: EntryKind::File, id }));
                opened.push((path, conflict.record(schema.as_deref().unwrap_or_default())));
            }
        }
        Ok(opened)
    }

    /// What lies in a folder as the merge stands now.
    fn now_in(&self, folder: &str) -> Result<Vec<(String, Entry)>, GitError> {
        let mut now: BTreeMap<String, Entry> =
            self.trees.ours.files(folder)?.into_iter().map(|file| (file.path, file.entry)).collect();
        for (path, edit) in self.edits.iter().filter(|(path, _)| path.starts_with(&format!("{folder}/"))) {
            match edit {
                Some(entry) => now.insert(path.clone(), *entry),
                None => now.remove(path),
            };
        }
        Ok(now.into_iter().collect())
    }

    /// Brings back a kept file that the other side removed when it answered an earlier form of the question.
    fn see_kept(&mut self, conflict: &MergeConflict) -> Result<(), GitError> {
        for kept in conflict.kept_files() {
            let now = match self.edits.get(kept) {
                Some(edit) => *edit,
                None => self.trees.ours.entry(kept)?,
            };
            if now.is_some() {
                continue;
            }
            for tree in [&self.trees.ours, &self.trees.theirs, &self.trees.base] {
                if let Some(entry) = tree.entry(kept)? {
                    self.edits.insert(kept.to_owned(), Some(entry));
                    break;
                }
            }
        }
        Ok(())
    }
}

//! An answer worked out before anything is written: the places in question get what was chosen, the files that records
//! name follow, what a removal would leave without its ground goes back to what it was, and the whole is judged.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::layout::layout;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::git::Repo;
use crate::ids::ProjectId;
use crate::merge::{at, put, take};
use crate::model::conflict::{Conflict, Side};
use crate::model::kind::Kind;
use crate::model::question::{Question, files_in_question};
use crate::model::references::{self, Named};
use crate::store::{BookFiles, Changes, Edits, safe_path, strict_json};
use crate::trust::about::{About, Chosen};

/// What answers come to.
#[derive(Clone, Debug, Default)]
pub(crate) struct Plan {
    /// The files that change, those of the questions not among them.
    pub files: Edits,
    /// The records of questions that are answered by it, and the files that only they keep.
    pub settled: BTreeSet<String>,
}

impl Plan {
    /// Everything that is written and taken out.
    #[must_use]
    pub(crate) fn all(&self) -> Edits {
        let mut all = self.files.clone();
        all.extend(self.settled.iter().map(|path| (path.clone(), None)));
        all
    }
}

/// What a place gets.
enum Pick<'q> {
    /// What it has.
    Stands,
    /// What it was before any edit.
    Before,
    /// What an edit made of it.
    Side(&'q Side),
    /// Something else.
    Value(&'q Value),
}

/// Answers under way.
struct Draft<'d> {
    book: &'d dyn BookFiles,
    repo: Option<&'d Repo>,
    open: &'d [Question],
    /// The project's records as they lie there; none for the shop.
    records: BTreeMap<String, Value>,
    overlay: Edits,
    /// Whole files that somebody chose; nothing else may take their place.
    chosen: BTreeSet<String>,
    /// The records of questions that are answered, by path.
    answered: BTreeSet<String>,
}

/// Works out answers to some of the open questions, by their places in `open`.
///
/// # Errors
/// What cannot be put together at all, and what git and the disk say.
pub(crate) fn work_out(
    (book, repo): (&dyn BookFiles, Option<&Repo>),
    about: &About,
    open: &[Question],
    answers: &[(usize, Chosen)],
) -> Outcome<Plan> {
    let mut draft = Draft {
        book,
        repo,
        open,
        records: match about {
            About::Project(id) => records_of(book, id),
            About::Shop => BTreeMap::new(),
        },
        overlay: Edits::new(),
        chosen: BTreeSet::new(),
        answered: BTreeSet::new(),
    };
    for (nth, chosen) in answers {
        if let Some(question) = open.get(*nth) {
            draft.answer(about, question, chosen)?;
        }
    }
    if let About::Project(id) = about {
        draft.follow(id)?;
    }
    Ok(draft.plan())
}

/// The records of a project that name others or are named, as far as they can be read.
fn records_of(book: &dyn BookFiles, id: &ProjectId) -> BTreeMap<String, Value> {
    let (paths, _) = book.walk(&format!("projects/{id}"));
    let of_people = |path: &String| {
        Kind::of_path(path).is_some_and(|k| k.has_schema() && !k.is_add_only() && k != Kind::Conflict)
    };
    paths
        .into_iter()
        .filter(of_people)
        .filter_map(|path| {
            let bytes = book.read(&path, strict_json::LARGEST).ok()?;
            Some((path, strict_json::parse(&bytes).ok()?))
        })
        .collect()
}

impl Draft<'_> {
    fn bytes(&self, path: &str) -> Option<Vec<u8>> {
        match self.overlay.get(path) {
            Some(bytes) => bytes.clone(),
            None => self.book.read(path, safe_path::LARGEST_ATTACHMENT).ok(),
        }
    }

    fn digest(&self, path: &str) -> Option<String> {
        self.bytes(path).map(|bytes| Sha256Digest::of(&bytes).hex())
    }

    /// A record as it would be.
    fn record(&self, path: &str) -> Option<Value> {
        match self.overlay.get(path) {
            Some(bytes) => strict_json::parse(bytes.as_ref()?).ok(),
            None => match self.records.get(path) {
                Some(value) => Some(value.clone()),
                None => strict_json::parse(&self.bytes(path)?).ok(),
            },
        }
    }

    fn set(&mut self, path: &str, bytes: Option<Vec<u8>>) {
        let there = self.book.read(path, safe_path::LARGEST_ATTACHMENT).ok() == bytes;
        if there {
            self.overlay.remove(path);
        } else {
            self.overlay.insert(path.to_owned(), bytes);
        }
    }

    /// Every record as it would be.
    fn state(&self) -> BTreeMap<String, Value> {
        let mut state = self.records.clone();
        for (path, bytes) in &self.overlay {
            state.remove(path);
            let record = Kind::of_path(path).is_some_and(Kind::has_schema);
            if let Some(bytes) = bytes.as_ref().filter(|_| record)
                && let Ok(value) = strict_json::parse(bytes)
            {
                state.insert(path.clone(), value);
            }
        }
        state
    }

    fn answer(&mut self, about: &About, question: &Question, chosen: &Chosen) -> Outcome<()> {
        let named = files_named(question.first());
        for (nth, (record, conflict)) in question.records.iter().enumerate() {
            if About::of_path(&conflict.path) != *about || Kind::of_path(&conflict.path).is_none() {
                let fault = Fault::data("not-of-a-book", format!("a question is about {}", conflict.path));
                return Err(Box::new(
                    fault
                        .in_file(record)
                        .fix("no such file belongs in this part of a book: remove the question's record"),
                ));
            }
            self.answered.insert(record.clone());
            let pick = match chosen {
                Chosen::Base => Pick::Before,
                Chosen::Value(value) if nth == 0 => Pick::Value(value),
                Chosen::Side(side) if nth == 0 => conflict.sides.get(*side).map_or(Pick::Stands, Pick::Side),
                // What lies beside a record comes with it.
                _ if named.contains(&conflict.path) => Pick::Stands,
                Chosen::Value(_) => Pick::Stands,
                Chosen::Side(side) => question.goes_with(*side, conflict).map_or(Pick::Stands, Pick::Side),
            };
            self.put(conflict, &pick)?;
        }
        Ok(())
    }

    /// Gives a place what was picked for it.
    fn put(&mut self, conflict: &Conflict, pick: &Pick<'_>) -> Outcome<()> {
        let path = conflict.path.as_str();
        if conflict.pointer.is_empty() {
            let bytes = match pick {
                // The file still is what it was before.
                Pick::Stands | Pick::Before => return Ok(()),
                Pick::Side(Side { file: Some(file), .. }) => Some(self.kept(path, file)?),
                Pick::Side(Side { value: Some(value), .. }) => Some(layout().write(path, value)),
                Pick::Value(value) => Some(layout().write(path, value)),
                Pick::Side(_) => None,
            };
            self.chosen.insert(path.to_owned());
            self.set(path, bytes);
            return Ok(());
        }
        let value = match pick {
            Pick::Stands => return Ok(()),
            Pick::Before => conflict.base.as_ref(),
            Pick::Side(side) => side.value.as_ref(),
            Pick::Value(value) => Some(*value),
        };
        let gone = |what: String| {
            let fault = Fault::data("place-gone", what).in_file(path).at_pointer(&conflict.pointer);
            Box::new(fault.fix("leave it as it is: --take base"))
        };
        let Some(mut record) = self.record(path) else {
            // Left as it is, there is nothing to do.
            return match pick {
                Pick::Before => Ok(()),
                _ => Err(gone("the record that the question is about is gone".into())),
            };
        };
        let done = match value {
            Some(value) => put(&mut record, &conflict.pointer, value.clone()),
            None => {
                at(&record, &conflict.pointer).is_none() || take(&mut record, &conflict.pointer).is_some()
            }
        };
        if !done && !matches!(pick, Pick::Before) {
            return Err(gone("the place that the question is about is gone".into()));
        }
        // A record that stays as it is keeps its bytes, however they are laid out.
        if self.record(path).as_ref() != Some(&record) {
            self.set(path, Some(layout().write(path, &record)));
        }
        Ok(())
    }

    /// The bytes that a question keeps in a file beside it.
    fn kept(&self, path: &str, file: &str) -> Outcome<Vec<u8>> {
        if file.rsplit_once('/').map(|(folder, _)| folder) != Some(layout().conflict_folder(path).as_str()) {
            let fault =
                Fault::data("not-of-a-book", format!("a question keeps {file} elsewhere than beside it"));
            return Err(Box::new(fault.fix("take another edit, or leave it as it is: --take base")));
        }
        self.book.read(file, safe_path::LARGEST_ATTACHMENT)
    }

    /// Brings everything else in line with what was picked.
    fn follow(&mut self, id: &ProjectId) -> Outcome<()> {
        if self.overlay.get(&format!("projects/{id}/project.json")).is_some_and(Option::is_none) {
            return self.take_out_project(id);
        }
        for _ in 0..100 {
            if !self.undo_naming()? && !self.bring_attachments()? {
                break;
            }
        }
        self.drop_unnamed(id);
        Ok(())
    }

    /// A project goes with everything in it, unless something was signed.
    fn take_out_project(&mut self, id: &ProjectId) -> Outcome<()> {
        let (files, _) = self.book.walk(&format!("projects/{id}"));
        for path in files {
            if Kind::of_path(&path).is_some_and(Kind::is_add_only) {
                let what =
                    format!("{id} cannot be removed: people signed something in it, which always stays");
                return Err(Box::new(
                    Fault::data("signed-in", what).in_file(path).fix("keep the project: --take base"),
                ));
            }
            if Kind::of_path(&path) == Some(Kind::Conflict) {
                self.answered.insert(path);
            } else {
                self.set(&path, None);
            }
        }
        Ok(())
    }

    /// Takes back what names a record that goes: a record goes that never named another, and a place gets what it had
    /// before, as the history tells it.
    fn undo_naming(&mut self) -> Outcome<bool> {
        let gone: BTreeSet<String> =
            self.overlay.iter().filter(|(_, bytes)| bytes.is_none()).map(|(path, _)| path.clone()).collect();
        let mut changed = false;
        for (path, value) in self.state() {
            let Some(kind) = Kind::of_path(&path) else { continue };
            let named = references::records(&path, kind, &value);
            let Some(lost) = named.into_iter().find(|named| gone.contains(&named.path)) else { continue };
            // What was built stays recorded.
            if kind != Kind::AsBuilt
                && let Some(earlier) = self.before_it_named(&path, kind, &lost)?
            {
                self.set(&path, earlier.map(|value| layout().write(&path, &value)));
                changed = true;
            }
        }
        Ok(changed)
    }

    /// A record without the place that names what goes: as that place was before, or no record where it never was without.
    /// None where the history does not tell.
    fn before_it_named(&self, path: &str, kind: Kind, lost: &Named) -> Outcome<Option<Option<Value>>> {
        let names = |bytes: Option<&[u8]>| {
            let value = bytes.and_then(|bytes| strict_json::parse(bytes).ok());
            value.is_some_and(|v| references::records(path, kind, &v).iter().any(|n| n.path == lost.path))
        };
        let Some(repo) = self.repo else { return Ok(None) };
        let Some(turned) = repo.who_turned(path, None, &names)? else { return Ok(None) };
        let Some(before) = turned.before else { return Ok(Some(None)) };
        let (Some(mut now), Ok(before)) = (self.record(path), strict_json::parse(&before)) else {
            return Ok(None);
        };
        let array = lost.pointer.rsplit_once('/').and_then(|(array, _)| now.pointer(array)?.as_array());
        if array.is_some() {
            take(&mut now, &lost.pointer);
        } else if let Some(was) = at(&before, &lost.pointer) {
            put(&mut now, &lost.pointer, was.clone());
        } else {
            return Ok(None);
        }
        Ok(Some(Some(now)))
    }

    /// Sees that what changed records name lies beside them: from what questions keep, or from the history.
    fn bring_attachments(&mut self) -> Outcome<bool> {
        let mut changed = false;
        for (path, value) in self.state() {
            let Some(kind) = Kind::of_path(&path) else { continue };
            for named in references::attached(&path, kind, &value) {
                let concerned = self.overlay.contains_key(&path) || self.overlay.contains_key(&named.path);
                if !concerned || self.chosen.contains(&named.path) || self.digest(&named.path) == named.sha256
                {
                    continue;
                }
                let Some(wanted) = &named.sha256 else { continue };
                if let Some(bytes) = self.find(&named.path, wanted)? {
                    self.set(&named.path, Some(bytes));
                    changed = true;
                }
            }
        }
        Ok(changed)
    }

    fn find(&self, path: &str, digest: &str) -> Outcome<Option<Vec<u8>>> {
        let sides =
            self.open.iter().flat_map(|q| &q.records).flat_map(|(_, c)| c.sides.iter().map(move |s| (c, s)));
        for (conflict, side) in sides {
            if side.sha256.as_deref() == Some(digest)
                && let Some(file) = &side.file
                && let Ok(bytes) = self.kept(&conflict.path, file)
                && Sha256Digest::of(&bytes).hex() == digest
            {
                return Ok(Some(bytes));
            }
        }
        let is = |bytes: Option<&[u8]>| bytes.is_some_and(|b| Sha256Digest::of(b).hex() == digest);
        let Some(repo) = self.repo else { return Ok(None) };
        repo.when_it_was(path, &is).map_err(Into::into)
    }

    /// Takes out files that a changed record named before and that none names afterwards.
    fn drop_unnamed(&mut self, id: &ProjectId) {
        let attached = |path: &String, value: &Value| {
            let kind = Kind::of_path(path);
            kind.map_or_else(Vec::new, |kind| references::attached(path, kind, value))
        };
        let (answered, still): (Vec<&Question>, Vec<&Question>) =
            self.open.iter().partition(|q| q.records.iter().all(|(path, _)| self.answered.contains(path)));
        let mut candidates = files_in_question(answered);
        let changed = self.records.iter().filter(|(path, _)| self.overlay.contains_key(*path));
        candidates.extend(changed.flat_map(|(path, value)| attached(path, value)).map(|n| n.path));
        let mut stay = files_in_question(still);
        stay.extend(self.state().iter().flat_map(|(path, value)| attached(path, value)).map(|n| n.path));
        let beside = format!("projects/{id}/");
        for path in candidates {
            let kind = Kind::of_path(&path);
            let file = matches!(kind, Some(Kind::Attachment | Kind::Outline)) && path.starts_with(&beside);
            // A file that records never named has its own question, and the answer to that.
            let own = self.records_named_ever(&path);
            if file && own && !stay.contains(&path) && self.bytes(&path).is_some() {
                self.set(&path, None);
            }
        }
    }

    /// True for a file that some record named before this, or that an answered edit of a record names.
    fn records_named_ever(&self, path: &str) -> bool {
        let names = |(of, value): (&String, &Value)| {
            let kind = Kind::of_path(of);
            kind.is_some_and(|kind| references::attached(of, kind, value).iter().any(|n| n.path == path))
        };
        self.records.iter().any(names)
            || self.open.iter().flat_map(|q| &q.records).any(|(_, c)| files_named(c).contains(path))
    }

    fn plan(self) -> Plan {
        let mut settled = self.answered;
        let records = || self.open.iter().flat_map(|q| &q.records);
        // A question about what goes with the answer goes too.
        let gone = |path: &str| self.overlay.get(path).is_some_and(Option::is_none);
        settled.extend(records().filter(|(_, c)| gone(&c.path)).map(|(path, _)| path.clone()));
        let kept = |all: bool| -> BTreeSet<String> {
            records()
                .filter(|(path, _)| settled.contains(path) == all)
                .flat_map(|(_, c)| c.sides.iter().filter_map(|s| s.file.clone()))
                .collect()
        };
        let (of_settled, of_open) = (kept(true), kept(false));
        let inside = |file: &String, settled: &BTreeSet<String>| {
            let folder = file.rsplit_once('/').map(|(folder, _)| folder);
            settled.iter().any(|record| record.rsplit_once('/').map(|(folder, _)| folder) == folder)
        };
        let files: Vec<String> = of_settled
            .into_iter()
            .filter(|file| {
                !of_open.contains(file)
                    && inside(file, &settled)
                    && self.book.lies_there(file).unwrap_or_default()
            })
            .collect();
        settled.extend(files);
        let mut files = self.overlay;
        files.retain(|path, _| !settled.contains(path));
        Plan { files, settled }
    }
}

/// The files beside records that a question's edits name.
fn files_named(conflict: &Conflict) -> BTreeSet<String> {
    let Some(kind) = Kind::of_path(&conflict.path) else { return BTreeSet::new() };
    let values = conflict.sides.iter().filter_map(|side| side.value.as_ref()).chain(&conflict.base);
    let whole = values.map(|value| references::nested(&conflict.pointer, value));
    whole.flat_map(|value| references::attached(&conflict.path, kind, &value)).map(|n| n.path).collect()
}

/// Takes out the records of questions, and the files that no other open question beside them keeps.
pub(super) fn take_out(
    book: &dyn BookFiles,
    conflicts: &BTreeMap<String, Conflict>,
    settled: &BTreeSet<String>,
    changes: &mut Changes,
) {
    let kept = |of_settled: bool| -> BTreeSet<&String> {
        let records = conflicts.iter().filter(|(path, _)| settled.contains(*path) == of_settled);
        records.flat_map(|(_, c)| c.sides.iter().filter_map(|side| side.file.as_ref())).collect()
    };
    for record in settled {
        changes.remove(record.clone());
    }
    let folder = |path: &str| path.rsplit_once('/').map(|(folder, _)| folder.to_owned());
    let folders: BTreeSet<Option<String>> = settled.iter().map(|record| folder(record)).collect();
    for file in kept(true).difference(&kept(false)) {
        if folders.contains(&folder(file)) && book.lies_there(file).unwrap_or_default() {
            changes.remove((*file).clone());
        }
    }
}

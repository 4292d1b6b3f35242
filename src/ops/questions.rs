//! The open questions between people's edits, as somebody who has to answer one needs them: what each edit would change,
//! who made it as the history tells it, whether it fits everything else, and the command that takes it.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use super::answering::{self, Plan};
use super::differences::{self, Difference};
use super::reading::Reading;
use crate::fault::{Fault, Means, Outcome};
use crate::git::Repo;
use crate::ids::ProjectId;
use crate::model::conflict::{Conflict, KEPT, Side, Unproven, place_of};
use crate::model::kind::Kind;
use crate::model::question::{Question, questions, short_name};
use crate::model::references::{self, attachment};
use crate::store::{BookFiles as _, Edits, Overlay, read, safe_path, strict_json};
pub use crate::trust::about::{About, Chosen};
use crate::trust::check;
use crate::trust::proof::{self, Maker, made_by};
use crate::trust::referred;

/// The open questions of a project or of the shop, in the order of what they are about.
///
/// # Errors
/// Everything that is wrong with their records.
pub fn open(reading: &Reading, about: &About) -> Result<Vec<Question>, Vec<Fault>> {
    match about {
        About::Project(id) if !reading.book.root().join(format!("projects/{id}")).exists() => {
            reading.project(id).map(|_| Vec::new())
        }
        // The questions alone are read: nobody is kept from answering by another record of the project.
        About::Project(_) => {
            let mut conflicts: BTreeMap<String, Conflict> = BTreeMap::new();
            for path in reading.book.files_of(&about.folder(), Kind::Conflict)? {
                let conflict = read::record(&reading.book, &path, Kind::Conflict)?;
                conflicts.insert(path, conflict);
            }
            proof::prove(&reading.book, &mut conflicts);
            Ok(questions(&conflicts))
        }
        About::Shop => Ok(questions(&reading.shop.conflicts)),
    }
}

/// Everybody whose questions are open: the shop first, then the projects by name.
///
/// # Errors
/// What the disk says.
pub(crate) fn with_questions(reading: &Reading) -> Outcome<Vec<About>> {
    let mut found = Vec::new();
    for about in std::iter::once(About::Shop).chain(reading.book.projects()?.into_iter().map(About::Project))
    {
        if !reading.book.files_of(&about.folder(), Kind::Conflict)?.is_empty() {
            found.push(about);
        }
    }
    Ok(found)
}

/// The one edit that is the asking person's own, or the one that is not.
///
/// # Errors
/// `no-such-side`, where there is none or more than one.
pub(crate) fn whose(repo: &Repo, me: &str, about: &About, question: &Question, mine: bool) -> Outcome<usize> {
    let first = question.first();
    let is_mine = |side: &Side| made_by(repo, first, side).is_some_and(|maker| maker.name == me);
    let found: Vec<usize> =
        first.sides.iter().enumerate().filter(|(_, s)| is_mine(s) == mine).map(|(n, _)| n).collect();
    match found.as_slice() {
        [one] => Ok(*one),
        several => {
            let whose = if mine { format!("{me}'s") } else { format!("not {me}'s") };
            let edits = crate::words::counted(several.len(), "edit", "edits");
            let are = if several.len() == 1 { "is" } else { "are" };
            let what = format!("{edits} of {} {are} {whose}", first.place());
            Err(Box::new(
                Fault::usage("no-such-side", what)
                    .fix(format!("take one by its number: `underlit resolve {about}` shows them")),
            ))
        }
    }
}

/// Judges answers to a project's questions before they are given.
#[derive(Debug)]
pub(crate) struct Judge<'r> {
    reading: &'r Reading,
    repo: Option<&'r Repo>,
    about: &'r About,
    open: &'r [Question],
    /// What is wrong with the project already, which no answer is blamed for.
    before: Vec<Fault>,
}

impl<'r> Judge<'r> {
    /// Ready to judge answers to the open questions of a project or of the shop.
    ///
    #[must_use]
    pub(crate) fn new(
        reading: &'r Reading,
        repo: Option<&'r Repo>,
        about: &'r About,
        open: &'r [Question],
    ) -> Self {
        let mut judge = Judge { reading, repo, about, open, before: Vec::new() };
        if let About::Project(id) = about {
            judge.before = judge.project_with(id, &Edits::new());
        }
        judge
    }

    /// Everything that is wrong with a project once some files are as they would be.
    fn project_with(&self, id: &ProjectId, edits: &Edits) -> Vec<Fault> {
        let Reading { book, chain, shop, .. } = self.reading;
        let folder = format!("projects/{id}");
        let would_be = Overlay::of(book, &folder, edits);
        match would_be.lies_there(&folder) {
            Ok(true) => check::project(&would_be, id, chain, &shop.rules),
            _ => Vec::new(),
        }
    }

    /// What answers come to, all of them as one change, by the places of their questions.
    ///
    /// # Errors
    /// Everything that would be wrong afterwards and is not wrong now.
    pub(crate) fn plan(&self, answers: &[(usize, Chosen)]) -> Result<Plan, Vec<Fault>> {
        let plan = answering::work_out((&self.reading.book, self.repo), self.about, self.open, answers)?;
        let faults = match self.about {
            About::Project(id) => {
                let mut found = self.project_with(id, &plan.all());
                let alike =
                    |a: &Fault, b: &Fault| (a.code, &a.file, &a.message) == (b.code, &b.file, &b.message);
                found.retain(|fault| !self.before.iter().any(|known| alike(known, fault)));
                found
            }
            About::Shop => {
                let files = plan.files.iter().filter_map(|(path, bytes)| Some((path, bytes.as_ref()?)));
                let rules = Some(&self.reading.shop.rules);
                files.flat_map(|(path, bytes)| check::of_file(path, bytes, rules).0).collect()
            }
        };
        if faults.is_empty() { Ok(plan) } else { Err(faults) }
    }

    /// The answers to one question that fit, as they are typed after `--take`, the others being answered as given.
    fn that_fit(&self, nth: usize, others: &[(usize, Chosen)]) -> Vec<String> {
        let Some(question) = self.open.get(nth) else { return Vec::new() };
        let sides = (0..question.first().sides.len()).map(Chosen::Side);
        let mut fit: Vec<String> = Vec::new();
        for chosen in sides.chain([Chosen::Base]) {
            let mut all: Vec<(usize, Chosen)> = others.iter().filter(|(n, _)| *n != nth).cloned().collect();
            all.push((nth, chosen.clone()));
            if self.plan(&all).is_ok() {
                fit.push(taking(&chosen));
            }
        }
        fit
    }

    /// Why answers are refused, and which would fit instead.
    #[must_use]
    pub(crate) fn refusal(&self, answers: &[(usize, Chosen)], faults: Vec<Fault>) -> Vec<Fault> {
        // A value that somebody typed is told what is wrong with it, and no more.
        let typed = answers.iter().any(|(_, chosen)| matches!(chosen, Chosen::Value(_)));
        if typed && faults.iter().any(|f| f.means == Means::Schema) {
            return faults;
        }
        let mut fitting = Vec::new();
        for (nth, chosen) in answers {
            let Some(question) = self.open.get(*nth) else { continue };
            if fitting.len() >= MOST_ANSWERS
                || (answers.len() > 1 && self.plan(&[(*nth, chosen.clone())]).is_ok())
            {
                continue;
            }
            let name = self.short(*nth);
            fitting.extend(
                self.that_fit(*nth, if answers.len() > 1 { &[] } else { answers })
                    .into_iter()
                    .map(|take| format!("`underlit resolve {}{name} --take {take}`", self.about))
                    .map(|command| format!("{command} for {}", question.first().place())),
            );
        }
        let remedy = if fitting.is_empty() {
            "answer the questions one at a time: `underlit resolve` shows what fits".to_owned()
        } else {
            format!("these answers fit: {}", fitting.join("; "))
        };
        let places: Vec<String> =
            answers.iter().filter_map(|(n, _)| Some(self.open.get(*n)?.first().place())).collect();
        let what = format!(
            "this answer to {} does not fit the rest of the records, and nothing was changed",
            places.join(", ")
        );
        let mut all = vec![Fault::data("answer-does-not-fit", what).fix(remedy)];
        all.extend(faults);
        all
    }

    /// The beginning of a question's name that no other has, after a space; nothing where it is the only one.
    #[must_use]
    pub(crate) fn short(&self, nth: usize) -> String {
        short_name(self.open, nth)
    }
}

/// As an answer is typed after `--take`.
fn taking(chosen: &Chosen) -> String {
    match chosen {
        Chosen::Side(nth) => (nth + 1).to_string(),
        _ => "base".to_owned(),
    }
}

/// An open question as it is shown.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Shown {
    /// Its name.
    pub id: String,
    /// What it is about, in words.
    pub place: String,
    /// The question in one line.
    pub text: String,
    /// The file and the place in it, and everything that is open with it.
    pub files: Vec<String>,
    /// What is true until somebody answers.
    pub meanwhile: String,
    /// Why nobody can tell who asked it; none where the history shows it.
    pub unproven: Option<Unproven>,
    /// What uses the thing that somebody removed.
    pub used_by: Vec<String>,
    /// The answers to choose from.
    pub choices: Vec<Choice>,
    /// The command that gives another value; none where a value cannot be typed.
    pub value_command: Option<String>,
    /// The record of what is in question, with those who made the edits as the history tells it.
    pub question: Conflict,
}

/// An answer to choose from.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Choice {
    /// As it is typed after `--take`.
    pub take: String,
    /// True for an edit, false where it leaves the thing as it was.
    pub is_an_edit: bool,
    /// Who made the edit, as the history tells it.
    #[serde(rename = "made_by")]
    pub by: Option<Maker>,
    /// True for the asking person's own edit.
    pub yours: bool,
    /// What it makes of the thing, in a few words.
    pub text: String,
    /// What it changes in the thing.
    pub changes: Vec<Difference>,
    /// What it changes elsewhere.
    pub also: Vec<String>,
    /// Whether it fits everything else.
    pub fits: bool,
    /// Why it does not.
    pub why_not: Option<String>,
    /// The command that takes it.
    pub command: String,
}

/// More answers than that are not judged beforehand, only when they are given.
const MOST_ANSWERS: usize = 40;

/// The open questions as they are shown to somebody, by that person's name on the roster.
///
/// # Errors
/// Everything that is wrong with their records.
pub(crate) fn shown(reading: &Reading, about: &About, me: Option<&str>) -> Result<Vec<Shown>, Vec<Fault>> {
    let open = open(reading, about)?;
    let repo = Repo::open(reading.book.root()).ok();
    let answers: usize = open.iter().map(|q| q.first().sides.len() + 1).sum();
    let judge = match open.is_empty() || answers > MOST_ANSWERS {
        true => None,
        false => Some(Judge::new(reading, repo.as_ref(), about, &open)),
    };
    let users = match about {
        About::Project(id) if !open.is_empty() => referred::named_by(&reading.book, id),
        _ => BTreeMap::new(),
    };
    let shown = open.iter().enumerate().map(|(nth, question)| {
        let first = question.first();
        let short = short_name(&open, nth);
        let sides = first.sides.iter().enumerate().map(|(n, side)| (Chosen::Side(n), Some(side)));
        // Where an edit leaves it as it was, that says the same as the base.
        let left = |side: &Side| first.side_in_words(side) == KEPT;
        let base = (!first.sides.iter().any(left)).then_some((Chosen::Base, None));
        let choice = |(chosen, side): (Chosen, Option<&Side>)| {
            let by = side.and_then(|side| made_by(repo.as_ref()?, first, side));
            let planned = judge.as_ref().map(|judge| judge.plan(&[(nth, chosen.clone())]));
            let (changes, also) = match planned.as_ref().and_then(|p| p.as_ref().ok()) {
                Some(plan) => effects(reading, first, plan),
                None => (Vec::new(), Vec::new()),
            };
            let why_not = planned.and_then(Result::err).and_then(|f| f.first().map(ToString::to_string));
            Choice {
                take: taking(&chosen),
                is_an_edit: side.is_some_and(|side| first.side_in_words(side) != KEPT),
                yours: by.as_ref().is_some_and(|by| Some(by.name.as_str()) == me),
                by,
                text: side.map_or_else(|| "leave it as it is".to_owned(), |s| first.side_in_words(s)),
                changes,
                also,
                fits: why_not.is_none(),
                why_not,
                command: format!("underlit resolve {about}{short} --take {}", taking(&chosen)),
            }
        };
        let used = users.get(&first.path).filter(|_| first.pointer.is_empty() && first.has_removal());
        Shown {
            id: question.name().to_owned(),
            place: first.place(),
            text: question.in_words(),
            meanwhile: first.meanwhile(),
            unproven: question.unproven(),
            files: question.records.iter().map(|(_, c)| format!("{}{}", c.path, c.pointer)).collect(),
            used_by: used
                .into_iter()
                .flatten()
                .map(|user| user_of(repo.as_ref(), user, &first.path))
                .collect(),
            choices: sides.chain(base).map(choice).collect(),
            value_command: (!first.pointer.is_empty() && first.sides.iter().all(may_be_typed))
                .then(|| format!("underlit resolve {about}{short} --value JSON")),
            question: as_the_history_tells(repo.as_ref(), first),
        }
    });
    Ok(shown.collect())
}

/// What is in question, as its record says; without the names that it gives where the history shows nobody who asked.
#[must_use]
pub(crate) fn as_it_may_be_told(question: &Question) -> Conflict {
    match question.unproven() {
        Some(_) => as_the_history_tells(None, question.first()),
        None => question.first().clone(),
    }
}

/// A record with nobody named as a maker of an edit but those whom the history names.
fn as_the_history_tells(repo: Option<&Repo>, conflict: &Conflict) -> Conflict {
    let mut told = conflict.clone();
    for side in &mut told.sides {
        let by = repo.and_then(|repo| made_by(repo, conflict, side));
        side.email = None;
        (side.by, side.at, side.commit) =
            by.map_or((None, None, None), |by| (Some(by.name), Some(by.at), Some(by.commit)));
    }
    told
}

/// True for an edit whose value could be typed: a file cannot.
fn may_be_typed(side: &Side) -> bool {
    side.file.is_none() && side.value.as_ref().is_none_or(|value| attachment(value).is_none())
}

/// A record that names another, and who made it do so: `panel bar (Mara Quill on Tuesday 2026-09-01)`.
fn user_of(repo: Option<&Repo>, user: &str, named: &str) -> String {
    let names = |bytes: Option<&[u8]>| {
        let value = bytes.and_then(|bytes| strict_json::parse(bytes).ok());
        let (Some(kind), Some(value)) = (Kind::of_path(user), value) else { return false };
        references::records(user, kind, &value).iter().any(|n| n.path == named)
    };
    match repo.and_then(|repo| repo.who_turned(user, None, &names).ok()?) {
        Some(turned) => {
            let commit = turned.commit;
            let maker =
                Maker { name: commit.author.name, at: commit.at.to_string(), commit: commit.id.to_string() };
            format!("{} ({})", place_of(user), maker.in_words())
        }
        None => place_of(user),
    }
}

/// What a plan changes in the thing in question, field by field, and elsewhere, in words.
fn effects(reading: &Reading, first: &Conflict, plan: &Plan) -> (Vec<Difference>, Vec<String>) {
    let value = |path: &str, bytes: Option<&Vec<u8>>| -> Option<Value> {
        let record = Kind::of_path(path).is_some_and(Kind::has_schema);
        bytes.filter(|_| record).and_then(|bytes| strict_json::parse(bytes).ok())
    };
    let (mut changes, mut also) = (Vec::new(), Vec::new());
    for (path, bytes) in &plan.files {
        let now = reading.book.read(path, safe_path::LARGEST_ATTACHMENT).ok();
        let (before, after) = (value(path, now.as_ref()), value(path, bytes.as_ref()));
        let kind = Kind::of_path(path);
        let both = before.is_some() && after.is_some() && kind != Some(Kind::Outline);
        // What lies beside a record comes and goes with it, and says nothing more.
        if matches!(kind, Some(Kind::Attachment | Kind::Outline)) {
            continue;
        }
        if both {
            let found = differences::between(kind, before.as_ref(), after.as_ref());
            if *path == first.path {
                changes = found;
            } else {
                let fields: Vec<String> = found.iter().map(Difference::in_words).collect();
                also.push(format!("{}: {}", place_of(path), fields.join("; ")));
            }
        } else if *path != first.path {
            let what = match (&now, bytes) {
                (_, None) => "removed",
                (None, Some(_)) => "added",
                (Some(_), Some(_)) => "another file",
            };
            also.push(format!("{}: {what}", place_of(path)));
        }
    }
    (changes, also)
}

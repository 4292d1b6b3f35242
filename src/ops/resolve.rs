//! Answers open questions between people's edits, about a project's records or about files outside any project. All the
//! answers of one command are one change: judged together before anything is written, and one commit.
//!
//! An answer about a file that the owners seal is for an owner to give, and seals it anew: the file, the next roster
//! version and the end of the question are one commit. Where several owners must sign, the question stays open until
//! they have.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use serde_json::Value;

use super::answering::{Plan, take_out};
use super::desk::Desk;
use super::questions::{self, Judge};
use super::roster::{self, SealedAnswers, Versioned};
use crate::fault::{Fault, Outcome};
use crate::git::Hub;
use crate::model::conflict::Conflict;
use crate::model::kind::Kind;
use crate::model::question::Question;
use crate::model::roster::Role;
use crate::store::Changes;
use crate::trust::about::{About, Chosen};
use crate::trust::proof;
use crate::trust::vanished;
use crate::trust::vanished::settling;

/// The answer to a question.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// What was there before any edit.
    Base,
    /// One of the edits, counted from 1 as they are shown.
    Side(usize),
    /// The asking person's own edit.
    Mine,
    /// The edit that is not the asking person's, where it is the only other one.
    Others,
    /// Something else.
    Value(Value),
}

/// Which questions get which answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Answers {
    /// The only one that is open.
    Sole(Answer),
    /// Every one that is open.
    All(Answer),
    /// Some of them, by the beginnings of their names.
    Named(Vec<(String, Answer)>),
}

/// What became of the questions that were answered.
#[derive(Clone, Debug, Default)]
pub struct Settled {
    /// The questions that are answered for good.
    pub questions: Vec<Question>,
    /// The questions about sealed files whose answer changed them.
    pub of_sealed: Vec<Question>,
    /// The roster version that seals those answers.
    pub sealed: Option<Versioned>,
}

/// Answers questions, all of them in one change.
///
/// # Errors
/// `unknown-question`, `no-such-side`, `answer-does-not-fit` with the answers that do, `role` where only an owner may
/// seal an answer, and everything that the schema says against a value.
pub fn resolve(desk: &Desk<'_>, about: &About, answers: &Answers) -> Result<Settled, Vec<Fault>> {
    let open = questions::open(&desk.reading, about)?;
    let asked = asked(about, &open, answers)?;
    let mut chosen: Vec<(usize, Chosen)> = Vec::new();
    for (nth, answer) in asked {
        let Some(question) = open.get(nth) else { continue };
        let what = choose(desk, about, question, answer)?;
        match chosen.iter().find(|(n, _)| *n == nth) {
            Some((_, known)) if *known == what => {}
            Some(_) => {
                let fault = Fault::usage("usage", format!("{} gets two answers", question.first().place()));
                return Err(vec![fault.fix("these edits are one question: answer it once")]);
            }
            None => chosen.push((nth, what)),
        }
    }
    if chosen.is_empty() {
        return Ok(Settled::default());
    }
    let judge = Judge::new(&desk.reading, Some(&desk.repo), about, &open);
    let plan = match judge.plan(&chosen) {
        Ok(plan) => plan,
        Err(faults) => return Err(judge.refusal(&chosen, faults)),
    };
    let said = said(desk, &open, &chosen);
    let questions: Vec<Question> = chosen.iter().filter_map(|(n, _)| open.get(*n)).cloned().collect();
    let whose = match about {
        About::Project(id) => id.as_str(),
        About::Shop => return settle_shop(desk, &plan, questions, &said),
    };
    let answered = open.iter().flat_map(|q| &q.records).filter(|(path, _)| plan.settled.contains(path));
    let message = message(whose, &questions, &said, answered.map(|(_, record)| record));
    desk.save(&changes_of(&plan), &message)?;
    if !desk.around.dry_run && plan.files.get(&format!("projects/{whose}/project.json")) == Some(&None) {
        remove_empty(&desk.reading.book.root().join(format!("projects/{whose}")));
    }
    Ok(Settled { questions, ..Settled::default() })
}

/// Which of the open questions are meant, by their places.
fn asked<'a>(
    about: &About,
    open: &[Question],
    answers: &'a Answers,
) -> Result<Vec<(usize, &'a Answer)>, Vec<Fault>> {
    match answers {
        Answers::All(answer) => Ok((0..open.len()).map(|nth| (nth, answer)).collect()),
        Answers::Sole(answer) => match open {
            [] => Ok(Vec::new()),
            [_] => Ok(vec![(0, answer)]),
            several => {
                let what = format!("{} questions are open, and the answer names none", several.len());
                let remedy =
                    format!("`underlit resolve {about}` shows them, each with the command that answers it");
                Err(vec![Fault::usage("missing-argument", what).fix(remedy)])
            }
        },
        Answers::Named(named) => named.iter().map(|(name, answer)| Ok((find(open, name)?, answer))).collect(),
    }
}

fn find(open: &[Question], name: &str) -> Result<usize, Vec<Fault>> {
    let found: Vec<usize> =
        open.iter().enumerate().filter(|(_, q)| q.is_called(name)).map(|(nth, _)| nth).collect();
    if let [one] = found.as_slice() {
        return Ok(*one);
    }
    let what = match found.len() {
        0 => format!("no open question is called {name}"),
        many => format!("the names of {many} questions begin with {name}"),
    };
    let names: Vec<&str> = open.iter().map(Question::name).collect();
    let remedy = if names.is_empty() {
        "no question is open".to_owned()
    } else {
        format!("open: {}", names.join(", "))
    };
    Err(vec![Fault::usage("unknown-question", what).fix(remedy)])
}

fn choose(desk: &Desk<'_>, about: &About, question: &Question, answer: &Answer) -> Outcome<Chosen> {
    let me = || Ok::<String, Box<Fault>>(desk.reading.chain.newest().name_of(&desk.me()?));
    let sides = question.first().sides.len();
    Ok(match answer {
        Answer::Base => Chosen::Base,
        Answer::Value(value) => Chosen::Value(value.clone()),
        Answer::Mine => Chosen::Side(questions::whose(&desk.repo, &me()?, about, question, true)?),
        Answer::Others => Chosen::Side(questions::whose(&desk.repo, &me()?, about, question, false)?),
        Answer::Side(number) => match number.checked_sub(1).filter(|nth| *nth < sides) {
            Some(nth) => Chosen::Side(nth),
            None => {
                let what = format!("{} has {sides} edits to choose from", question.first().place());
                return Err(Box::new(
                    Fault::usage("no-such-side", what).fix("name one by its number, or take the base"),
                ));
            }
        },
    })
}

/// What was taken, for the commit.
fn said(desk: &Desk<'_>, open: &[Question], chosen: &[(usize, Chosen)]) -> Vec<String> {
    let one = |(nth, chosen): &(usize, Chosen)| {
        let question = open.get(*nth)?;
        let first = question.first();
        let taken = match chosen {
            Chosen::Base => "what it was before".to_owned(),
            Chosen::Value(value) => value.to_string(),
            Chosen::Side(side) => {
                let side = first.sides.get(*side)?;
                let by = proof::made_by(&desk.repo, first, side);
                let by = by.map_or_else(String::new, |by| format!(", by {}", by.in_words()));
                format!("{}{by}", first.side_in_words(side))
            }
        };
        Some(format!("{}. Taken: {taken}.", question.in_words()))
    };
    chosen.iter().filter_map(one).collect()
}

/// What the commit of answers says: for people, and a line for each record that they answer, by which everybody knows
/// it for an answer.
fn message<'c>(
    whose: &str,
    questions: &[Question],
    said: &[String],
    answered: impl Iterator<Item = &'c Conflict>,
) -> String {
    let subject = match questions {
        [one] => one.first().place(),
        several => format!("{} questions", several.len()),
    };
    format!("{whose}: settles {subject}\n\n{}\n{}", said.join("\n"), settling(answered))
}

fn changes_of(plan: &Plan) -> Changes {
    let mut changes = Changes::new();
    for (path, bytes) in plan.all() {
        match bytes {
            Some(bytes) => changes.put(path, bytes),
            None => changes.remove(path),
        };
    }
    changes
}

/// Saves answers about files outside any project; where they change a file that the owners seal, it is sealed anew.
fn settle_shop(
    desk: &Desk<'_>,
    plan: &Plan,
    questions: Vec<Question>,
    said: &[String],
) -> Result<Settled, Vec<Fault>> {
    let mut sealed: BTreeMap<String, Vec<u8>> = BTreeMap::new();
    let mut beside = Plan::default();
    for (path, bytes) in &plan.files {
        let kind = Kind::of_path(path);
        if kind.is_some_and(Kind::is_add_only) {
            return Err(vec![add_only(desk, path, kind)]);
        }
        match bytes {
            Some(bytes) if kind.is_some_and(Kind::is_sealed_by_roster) => {
                sealed.insert(path.clone(), bytes.clone());
            }
            None if kind.is_some_and(Kind::is_sealed_by_roster) => {
                let fault = Fault::usage("sealed-file-gone", format!("a book has to have {path}"));
                return Err(vec![fault.fix("take another side, or a value of your own with --value")]);
            }
            _ => {
                beside.files.insert(path.clone(), bytes.clone());
            }
        }
    }
    let about_sealed = |q: &Question| q.records.iter().any(|(_, c)| sealed.contains_key(&c.path));
    let (of_sealed, questions): (Vec<Question>, Vec<Question>) =
        questions.into_iter().partition(about_sealed);
    let records = |of: &[Question]| -> BTreeSet<String> {
        of.iter().flat_map(|q| &q.records).map(|(path, _)| path.clone()).collect()
    };
    let (settles, others) = (records(&of_sealed), records(&questions));
    let conflicts = &desk.reading.shop.conflicts;
    let message =
        || message("the shop", &questions, said, others.iter().filter_map(|path| conflicts.get(path)));
    let mut changes = changes_of(&beside);
    if sealed.is_empty() {
        take_out(&desk.reading.book, conflicts, &others, &mut changes);
        desk.save(&changes, &message())?;
        return Ok(Settled { questions, ..Settled::default() });
    }
    desk.my_role_among(&[Role::Owner], "answer a question about a file that the owners seal")?;
    let places: Vec<String> = of_sealed.iter().map(|q| q.first().place()).collect();
    let answers =
        SealedAnswers { files: &sealed, questions: &settles, beside: &changes, settles_beside: &others };
    let reason = format!("settles {}", places.join(", "));
    let version = roster::seal_answers(desk, &reason, &answers)?;
    if matches!(version, Versioned::Proposed { .. }) && !questions.is_empty() {
        // What owners still have to sign waits; what needs no owner does not.
        take_out(&desk.reading.book, conflicts, &others, &mut changes);
        desk.save(&changes, &message())?;
    }
    Ok(Settled { questions, of_sealed, sealed: Some(version) })
}

fn add_only(desk: &Desk<'_>, path: &str, kind: Option<Kind>) -> Fault {
    let now = desk.reading.book.root().join(path).exists();
    let place = crate::model::conflict::place_of(path);
    Fault::trust("add-only", format!("{place} must never be changed")).in_file(path).fix(
        match (kind, now) {
            (Some(Kind::Roster), _) => {
                "take what is there; an owner makes the other change again in a next version: `underlit roster --help`"
            }
            _ => "take what is there, and let whoever made the other sign it again",
        },
    )
}

/// Takes out folders that hold nothing, at or beneath one.
fn remove_empty(folder: &Path) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.path().is_dir() {
            remove_empty(&entry.path());
        }
    }
    // One that holds something stays.
    let _ = fs::remove_dir(folder);
}

/// Asks again what went away without an answer, about a project or the shop: the records come back as they were, with the
/// files that they keep. Gives back what they are about.
///
/// # Errors
/// What git and the disk say.
pub(crate) fn ask_again(desk: &Desk<'_>, about: &About) -> Result<Vec<String>, Vec<Fault>> {
    let root = desk.reading.book.root();
    let hub = Hub::open(root)?;
    let gone = vanished::of(root, about)?;
    let mut changes = Changes::new();
    for one in &gone {
        for (path, bytes) in one.as_it_was(&hub)? {
            if !desk.reading.book.lies_there(&path)? {
                changes.put(path, bytes);
            }
        }
    }
    let places: Vec<String> = gone.into_iter().map(|one| one.place).collect();
    let whose = match about {
        About::Project(id) => id.to_string(),
        About::Shop => "the shop".to_owned(),
    };
    if !places.is_empty() {
        desk.save(&changes, &format!("{whose}: asks again about {}\n", places.join(", ")))?;
    }
    Ok(places)
}

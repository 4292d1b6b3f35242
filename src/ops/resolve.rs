//! Answers an open question between people's edits, about a project's records or about a file outside any project.
//!
//! An answer about a file that the owners seal is for an owner to give, and seals it anew: the file, the next roster
//! version and the end of the question are one commit. Where several owners must sign, the question stays open until
//! they have.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde_json::Value;

use super::check;
use super::desk::{Desk, Reading};
use super::layout::layout;
use super::roster::{self, SealedAnswer, Versioned};
use super::shop;
use crate::fault::{Fault, Outcome};
use crate::merge::{at, put, same, take};
use crate::model::conflict::{Conflict, Side, question_of};
use crate::model::id::ProjectId;
use crate::model::kind::Kind;
use crate::model::roster::Role;
use crate::store::{Changes, read, safe_path, strict_json};

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

/// Whose questions: one project's, or those about files outside any project.
#[derive(Clone, Debug, PartialEq)]
pub enum About {
    /// A project's records.
    Project(ProjectId),
    /// The shop's lists, rules, roster, and everything else that is the whole book's.
    Shop,
}

impl std::fmt::Display for About {
    /// As the command line names it.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            About::Project(id) => id.fmt(f),
            About::Shop => f.write_str("--shop"),
        }
    }
}

impl About {
    /// Whose question is recorded at a path of the book.
    #[must_use]
    pub fn of_path(path: &str) -> About {
        ProjectId::of_path(path).map_or(About::Shop, About::Project)
    }

    /// The folder in which their questions lie.
    fn folder(&self) -> String {
        match self {
            About::Project(id) => format!("projects/{id}/{}", shop::CONFLICTS),
            About::Shop => shop::CONFLICTS.to_owned(),
        }
    }
}

/// What became of a question.
#[derive(Clone, Debug)]
pub struct Settled {
    /// The question.
    pub conflict: Conflict,
    /// The roster version that seals the answer, where it is about a sealed file and changed it.
    pub sealed: Option<Versioned>,
}

/// The open questions of a project or of the shop, by name.
///
/// # Errors
/// Everything that is wrong with their records.
pub fn open_questions(desk: &Reading, about: &About) -> Result<Vec<(String, Conflict)>, Vec<Fault>> {
    let conflicts: BTreeMap<String, Conflict> = match about {
        About::Project(id) => desk.project(id)?.conflicts,
        About::Shop => desk.shop.conflicts.clone(),
    };
    Ok(conflicts.into_iter().map(|(path, c)| (question_of(&path).to_owned(), c)).collect())
}

/// Everybody whose questions are open: the shop first, then the projects by name. A project that cannot be read is
/// left out; `check` says what is wrong with it.
///
/// # Errors
/// What the disk says.
pub fn with_questions(desk: &Reading) -> Outcome<Vec<About>> {
    let mut found = Vec::new();
    for about in std::iter::once(About::Shop).chain(desk.book.projects()?.into_iter().map(About::Project)) {
        if !desk.book.files_of(&about.folder(), Kind::Conflict)?.is_empty() {
            found.push(about);
        }
    }
    Ok(found)
}

/// Answers one question: puts the answer into the record and takes the question out, in one commit.
///
/// # Errors
/// `unknown-question`, `no-such-side`, `role` where only an owner may seal the answer, and everything that the schema
/// says against the result.
pub fn resolve(
    desk: &Desk<'_>,
    about: &About,
    question: &str,
    answer: &Answer,
) -> Result<Settled, Vec<Fault>> {
    let questions = open_questions(&desk.reading, about)?;
    let matching: Vec<&(String, Conflict)> =
        questions.iter().filter(|(name, _)| name.starts_with(question)).collect();
    let [(name, conflict)] = matching.as_slice() else {
        let names: Vec<&str> = questions.iter().map(|(n, _)| n.as_str()).collect();
        let remedy = if names.is_empty() {
            "no question is open".to_owned()
        } else {
            format!("open: {}", names.join(", "))
        };
        return Err(vec![
            Fault::usage("unknown-question", format!("{} questions are called {question}", matching.len()))
                .mend(remedy),
        ]);
    };
    let mut changes = Changes::new();
    let root = desk.reading.book.root();
    let side = match answer {
        Answer::Side(n) => Some(side(conflict, *n)?),
        Answer::Mine => Some(whose(desk, about, conflict, true)?),
        Answer::Others => Some(whose(desk, about, conflict, false)?),
        Answer::Base | Answer::Value(_) => None,
    };
    if conflict.pointer.is_empty() {
        whole_file(desk, conflict, side, answer, &mut changes)?;
    } else {
        let kind = Kind::of_path(&conflict.path).unwrap_or(Kind::Project);
        let document = read::document(root, &conflict.path, kind)?;
        let mut record = document.value;
        let value = match (answer, side) {
            (Answer::Base, _) => conflict.base.clone(),
            (Answer::Value(value), _) => Some(value.clone()),
            (_, side) => side.and_then(|s| s.value.clone()),
        };
        match value {
            Some(value) => {
                put(&mut record, &conflict.pointer, value);
            }
            None if at(&record, &conflict.pointer).is_some() => {
                take(&mut record, &conflict.pointer);
            }
            None => {}
        }
        let bytes = layout().write(&conflict.path, &record);
        read::check_bytes(&conflict.path, kind, &bytes)?;
        if bytes != document.bytes {
            changes.put(conflict.path.clone(), bytes);
        }
    }
    let chosen = match (answer, side) {
        (Answer::Base, _) => "what it was before".to_owned(),
        (Answer::Value(value), _) => value.to_string(),
        (_, Some(side)) => side.in_words(),
        (_, None) => String::new(),
    };
    let record = format!("{}/{name}.json", about.folder());
    if let Some(sealed) = seal(desk, conflict, &changes, &record)? {
        return Ok(Settled { conflict: conflict.clone(), sealed: Some(sealed) });
    }
    let torn = torn(desk, about, &questions, conflict, &changes);
    if !torn.is_empty() {
        return Err(torn);
    }
    take_out(root, &record, conflict, &mut changes);
    let whose = match about {
        About::Project(id) => id.as_str(),
        About::Shop => "the shop",
    };
    let message = format!(
        "{whose}: settles {} {}\n\n{}. Taken: {chosen}.\n",
        conflict.path,
        conflict.pointer,
        conflict.in_words()
    );
    desk.save(&changes, &message)?;
    Ok(Settled { conflict: conflict.clone(), sealed: None })
}

/// What an answer would tear apart, such as taking out a stone that a panel still names. What another open question is
/// about waits for that one's answer.
fn torn(
    desk: &Desk<'_>,
    about: &About,
    questions: &[(String, Conflict)],
    conflict: &Conflict,
    changes: &Changes,
) -> Vec<Fault> {
    let About::Project(id) = about else { return Vec::new() };
    let overlay = changes.files().map(|(path, bytes)| (path.to_owned(), bytes.map(<[u8]>::to_vec))).collect();
    let waits = |path: &str| questions.iter().any(|(_, q)| q.path != conflict.path && q.path == path);
    let mut found = check::torn_by(&desk.reading.book, id, &overlay);
    found.retain(|fault| !fault.is_about(waits));
    found
}

/// Where the answer changes a file that the owners seal, seals it anew.
fn seal(
    desk: &Desk<'_>,
    conflict: &Conflict,
    changes: &Changes,
    question: &str,
) -> Result<Option<Versioned>, Vec<Fault>> {
    let Some((path, bytes)) = changes.files().find(|(path, _)| *path == conflict.path) else {
        return Ok(None);
    };
    let Some(kind) = Kind::of_path(path) else { return Ok(None) };
    if kind.is_add_only() {
        let now = desk.reading.book.root().join(path).exists();
        return Err(vec![
            Fault::trust("add-only", format!("{} is never changed once it is there", conflict.place()))
                .in_file(path)
                .mend(match (kind, now) {
                    (Kind::Roster, _) => "take what stands there; an owner makes the other change again in a next version: `underlit roster --help`",
                    _ => "take what stands there, and let whoever made the other say it again",
                }),
        ]);
    }
    if !kind.is_sealed_by_roster() {
        return Ok(None);
    }
    desk.my_role_among(&[Role::Owner], "answer a question about a file that the owners seal")?;
    let Some(bytes) = bytes else {
        return Err(vec![
            Fault::usage("sealed-file-gone", format!("a book has to have {path}"))
                .mend("take another side, or a value of your own with --value"),
        ]);
    };
    let answer = SealedAnswer { path, bytes, question };
    Ok(Some(roster::seal_answer(desk, &format!("settles {}", conflict.place()), &answer)?))
}

/// Takes a question's record out, and the files that no other open question beside it keeps.
pub(super) fn take_out(root: &Path, record: &str, conflict: &Conflict, changes: &mut Changes) {
    changes.remove(record);
    let folder = record.rsplit_once('/').map_or("", |(folder, _)| folder);
    let mut others = BTreeSet::new();
    for entry in std::fs::read_dir(root.join(folder)).into_iter().flatten().flatten() {
        let Ok(name) = entry.file_name().into_string() else { continue };
        let path = format!("{folder}/{name}");
        if path != record && Kind::of_path(&path) == Some(Kind::Conflict) {
            let other = read::record::<Conflict>(root, &path, Kind::Conflict);
            others.extend(other.into_iter().flat_map(|c| c.sides).filter_map(|s| s.file));
        }
    }
    let inside = |file: &&String| file.rsplit_once('/').is_some_and(|(at, _)| at == folder);
    for kept in conflict.sides.iter().filter_map(|s| s.file.as_ref()).filter(inside) {
        if !others.contains(kept) && root.join(kept).exists() {
            changes.remove(kept.clone());
        }
    }
}

fn side(conflict: &Conflict, number: usize) -> Outcome<&Side> {
    number.checked_sub(1).and_then(|n| conflict.sides.get(n)).ok_or_else(|| {
        Box::new(
            Fault::usage("no-such-side", format!("this question has {} sides", conflict.sides.len()))
                .mend("name one by its number, or take the base"),
        )
    })
}

/// The one side that is the asking person's own, or the one that is not.
fn whose<'c>(desk: &Desk<'_>, about: &About, conflict: &'c Conflict, mine: bool) -> Outcome<&'c Side> {
    let me = desk.reading.chain.newest().name_of(&desk.me()?);
    let sides: Vec<&Side> =
        conflict.sides.iter().filter(|side| (side.by.as_deref() == Some(me.as_str())) == mine).collect();
    match sides.as_slice() {
        [one] => Ok(one),
        several => {
            let whose = if mine { format!("{me}'s") } else { format!("not {me}'s") };
            Err(Box::new(
                Fault::usage(
                    "no-such-side",
                    format!("{} edits of {} are {whose}", several.len(), conflict.place()),
                )
                .mend(format!("take one by its number: `underlit resolve {about}` shows them")),
            ))
        }
    }
}

fn whole_file(
    desk: &Desk<'_>,
    conflict: &Conflict,
    side: Option<&Side>,
    answer: &Answer,
    changes: &mut Changes,
) -> Result<(), Vec<Fault>> {
    let root = desk.reading.book.root();
    let now = safe_path::read_plain(root, &conflict.path, safe_path::LARGEST_ATTACHMENT).ok();
    let mut put_bytes = |bytes: Vec<u8>| {
        if now.as_ref() != Some(&bytes) {
            changes.put(conflict.path.clone(), bytes);
        }
    };
    let written = |value: &Value| -> Result<Vec<u8>, Vec<Fault>> {
        let bytes = layout().write(&conflict.path, value);
        if let Some(kind) = Kind::of_path(&conflict.path).filter(|k| k.has_schema()) {
            strict_json::parse(&bytes)?;
            read::check_bytes(&conflict.path, kind, &bytes)?;
        }
        Ok(bytes)
    };
    match (answer, side) {
        // The file still is what it was before.
        (Answer::Base, _) | (_, None) if !matches!(answer, Answer::Value(_)) => {}
        (Answer::Value(value), _) | (_, Some(Side { value: Some(value), .. })) => put_bytes(written(value)?),
        (_, Some(Side { file: Some(file), .. })) => {
            put_bytes(safe_path::read_plain(root, file, safe_path::LARGEST_ATTACHMENT)?);
        }
        _ => {
            if now.is_some() {
                changes.remove(conflict.path.clone());
            }
        }
    }
    Ok(())
}

/// At most so many places are shown.
const PLACES: usize = 8;

/// Where a side's file differs from the one that stands, for records: each place with what stands there and what the
/// side has. Nothing where one of the two is no record.
#[must_use]
pub fn differences(root: &Path, conflict: &Conflict, side: &Side) -> Vec<String> {
    let read = |path: &str| {
        let bytes = safe_path::read_plain(root, path, strict_json::LARGEST).ok()?;
        strict_json::parse(&bytes).ok()
    };
    let (Some(now), Some(kept)) = (read(&conflict.path), side.file.as_deref().and_then(read)) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    differ(Some(&now), Some(&kept), String::new(), &mut found);
    let more = found.len().saturating_sub(PLACES);
    found.truncate(PLACES);
    if more > 0 {
        found.push(format!("and {more} more"));
    }
    found
}

fn differ(now: Option<&Value>, kept: Option<&Value>, place: String, found: &mut Vec<String>) {
    match (now, kept) {
        _ if same(now, kept) => {}
        (Some(Value::Object(a)), Some(Value::Object(b))) => {
            for key in a.keys().chain(b.keys().filter(|key| !a.contains_key(*key))) {
                differ(a.get(key), b.get(key), format!("{place}/{key}"), found);
            }
        }
        (Some(Value::Array(a)), Some(Value::Array(b))) => {
            let name = |items: &[Value], n: usize| {
                let id = items.get(n).and_then(|item| item.get("id")).and_then(Value::as_str);
                id.map_or_else(|| n.to_string(), ToOwned::to_owned)
            };
            let names: Vec<String> = (0..a.len())
                .map(|n| name(a, n))
                .chain((0..b.len()).map(|n| name(b, n)))
                .collect::<BTreeSet<_>>()
                .into_iter()
                .collect();
            let named = |items: &[Value], wanted: &str| {
                (0..items.len()).find(|n| name(items, *n) == wanted).and_then(|n| items.get(n).cloned())
            };
            for wanted in names {
                let (a, b) = (named(a, &wanted), named(b, &wanted));
                differ(a.as_ref(), b.as_ref(), format!("{place}/{wanted}"), found);
            }
        }
        (a, b) => {
            let shown = |v: Option<&Value>| v.map_or_else(|| "nothing".to_owned(), ToString::to_string);
            found.push(format!("{place}: {} instead of {}", shown(b), shown(a)));
        }
    }
}

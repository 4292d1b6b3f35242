//! Answers an open question between people's edits.

use std::collections::BTreeSet;

use serde_json::Value;

use super::desk::Desk;
use super::layout::layout;
use crate::fault::{Fault, Outcome};
use crate::merge::{at, put, take};
use crate::model::conflict::{Conflict, Side};
use crate::model::id::ProjectId;
use crate::model::kind::Kind;
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

/// The open questions of a project, by name.
///
/// # Errors
/// Everything that is wrong with their records.
pub fn open_questions(
    desk: &super::desk::Reading,
    id: &ProjectId,
) -> Result<Vec<(String, Conflict)>, Vec<Fault>> {
    let snapshot = desk.project(id)?;
    Ok(snapshot.conflicts.into_iter().map(|(path, c)| (name_of(&path), c)).collect())
}

fn name_of(path: &str) -> String {
    path.rsplit('/').next().and_then(|f| f.strip_suffix(".json")).unwrap_or(path).to_owned()
}

/// Answers one question: puts the answer into the record and takes the question out, in one commit.
///
/// # Errors
/// `unknown-question`, `no-such-side`, and everything that the schema says against the result.
pub fn resolve(
    desk: &Desk<'_>,
    id: &ProjectId,
    question: &str,
    answer: &Answer,
) -> Result<Conflict, Vec<Fault>> {
    let questions = open_questions(&desk.reading, id)?;
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
        Answer::Mine => Some(whose(desk, conflict, true)?),
        Answer::Others => Some(whose(desk, conflict, false)?),
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
    let folder = format!("projects/{id}/conflicts");
    changes.remove(format!("{folder}/{name}.json"));
    // What lies there by its digest may be kept for another question too.
    let others = questions.iter().filter(|(other, _)| other != name).flat_map(|(_, other)| &other.sides);
    let needed: BTreeSet<&str> = others.filter_map(|side| side.file.as_deref()).collect();
    for kept in conflict.sides.iter().filter_map(|s| s.file.as_ref()).filter(|f| f.starts_with(&folder)) {
        if root.join(kept).exists() && !needed.contains(kept.as_str()) {
            changes.remove(kept.clone());
        }
    }
    let chosen = match (answer, side) {
        (Answer::Base, _) => "what it was before".to_owned(),
        (Answer::Value(value), _) => value.to_string(),
        (_, Some(side)) => side.in_words(),
        (_, None) => String::new(),
    };
    let message = format!(
        "{id}: settles {} {}\n\n{}. Taken: {chosen}.\n",
        conflict.path,
        conflict.pointer,
        conflict.in_words()
    );
    desk.save(&changes, &message)?;
    Ok((*conflict).clone())
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
fn whose<'c>(desk: &Desk<'_>, conflict: &'c Conflict, mine: bool) -> Outcome<&'c Side> {
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
                .mend("take one by its number: `underlit resolve PROJECT` shows them"),
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
    let put_value = |value: &Value, changes: &mut Changes| -> Result<(), Vec<Fault>> {
        let bytes = layout().write(&conflict.path, value);
        if let Some(kind) = Kind::of_path(&conflict.path).filter(|k| k.has_schema()) {
            strict_json::parse(&bytes)?;
            read::check_bytes(&conflict.path, kind, &bytes)?;
        }
        changes.put(conflict.path.clone(), bytes);
        Ok(())
    };
    match (answer, side) {
        // The file still is what it was before.
        (Answer::Base, _) => Ok(()),
        (Answer::Value(value), _) => put_value(value, changes),
        (_, Some(Side { value: Some(value), .. })) => put_value(value, changes),
        (_, Some(Side { file: Some(file), .. })) => {
            let bytes = safe_path::read_plain(root, file, safe_path::LARGEST_ATTACHMENT)?;
            changes.put(conflict.path.clone(), bytes);
            Ok(())
        }
        (_, Some(_)) => {
            if root.join(&conflict.path).exists() {
                changes.remove(conflict.path.clone());
            }
            Ok(())
        }
        (_, None) => Ok(()),
    }
}

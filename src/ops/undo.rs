//! Takes back one's own last change that was not sent, by a new commit: the history keeps both, so nothing is lost, and what
//! is taken back can be had again.
//!
//! What people said is never taken out of a book, only answered: for a sign-off, a move, a note and a roster version the
//! refusal names the verb that does that.

use super::desk::Desk;
use crate::fault::{Fault, Outcome};
use crate::git::{CommitId, LogEntry};
use crate::model::kind::Kind;
use crate::store::{Changes, read};

/// The line of a commit that says which one it takes back.
const TAKES_BACK: &str = "Takes-back: ";

/// What was taken back.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Undone {
    /// The commit that was taken back.
    pub commit: CommitId,
    /// What it was, in a line.
    pub what: String,
    /// The files that are as they were before it.
    pub files: Vec<String>,
}

/// Takes back the asking person's last change that was not sent.
///
/// # Errors
/// `nothing-to-undo`, `made-by-another`, `cannot-undo` with the verb that answers it instead, `changed-since`.
pub(crate) fn undo(desk: &Desk<'_>) -> Result<Undone, Vec<Fault>> {
    let last = last_unsent(desk)?;
    let me = desk.author()?;
    let what = last.message.lines().next().unwrap_or_default().to_owned();
    if last.author.name != me.name {
        let message = format!("the last change that was not sent is by {}: {what}", last.author.name);
        return Err(vec![
            Fault::usage("made-by-another", message).fix("ask them, or change the record yourself"),
        ]);
    }
    let ([parent], None) = (last.parents.as_slice(), refusal(&last)) else {
        let why = refusal(&last).unwrap_or_else(|| {
            Fault::usage("cannot-undo", "it brings two lines of changes together")
                .fix("change what is wrong in the records themselves")
        });
        return Err(vec![Fault {
            message: format!("“{what}” cannot be undone: {}", why.message), ..why
        }]);
    };
    let (before, after) = (desk.repo.snapshot(*parent)?, desk.repo.snapshot(last.id)?);
    let now = desk.repo.head_snapshot()?;
    let mut changes = Changes::new();
    for path in last.changes.iter().map(|change| &change.path) {
        if now.file(path)? != after.file(path)? {
            return Err(vec![
                Fault::usage("changed-since", format!("{path} was changed again after “{what}”"))
                    .in_file(path)
                    .fix("change what is wrong in the record itself"),
            ]);
        }
        match before.file(path)? {
            None => {
                changes.remove(path.clone());
            }
            Some(bytes) => {
                if let Some(kind) = Kind::of_path(path).filter(|kind| kind.has_schema()) {
                    read::check_bytes(path, kind, &bytes)?;
                }
                changes.put(path.clone(), bytes);
            }
        }
    }
    let files = changes.paths();
    desk.save(&changes, &format!("Takes back: {what}\n\n{TAKES_BACK}{}\n", last.id))?;
    Ok(Undone { commit: last.id, what, files })
}

/// The newest change that the remote has not and that was neither taken back nor takes another back.
fn last_unsent(desk: &Desk<'_>) -> Outcome<LogEntry> {
    let repo = &desk.repo;
    let sent = repo.remote(None).ok().and_then(|remote| repo.last_seen(&remote).ok()?);
    let head: Vec<CommitId> = repo.head()?.into_iter().collect();
    let mut taken_back: Vec<String> = Vec::new();
    for entry in repo.log_of(&head, sent.as_slice(), "")? {
        let entry = entry?;
        let answers = entry.message.lines().find_map(|line| line.strip_prefix(TAKES_BACK));
        match answers {
            Some(other) => taken_back.push(other.to_owned()),
            None if taken_back.contains(&entry.id.to_string()) => {}
            None => return Ok(entry),
        }
    }
    Err(Box::new(
        Fault::usage("nothing-to-undo", "every change that was made here was sent, or taken back already")
            .fix("what others have is changed by a new command; see what was done: underlit history"),
    ))
}

/// Why a change cannot be taken back, with the verb that answers it; none where it can.
fn refusal(entry: &LogEntry) -> Option<Fault> {
    let kinds = || entry.changes.iter().filter_map(|change| Kind::of_path(&change.path));
    let has = |kind: Kind| kinds().any(|k| k == kind);
    let (what, fix) = if entry.parents.is_empty() {
        ("it makes the book", "make another book: underlit init")
    } else if has(Kind::SignOff) {
        (
            "somebody signed in it, and a signature is never taken out",
            "withdraw it: underlit sign … --withdraw",
        )
    } else if has(Kind::Move) {
        ("the job moved in it, and a move is never taken out", "move it back: underlit reopen … --reason …")
    } else if has(Kind::Note) {
        ("a note is never taken out", "add another note that corrects it: underlit note …")
    } else if kinds().any(|kind| kind == Kind::Roster || kind.is_sealed_by_roster()) {
        ("owners signed it with the roster", "change it again: underlit roster …, underlit shop …")
    } else if kinds().any(Kind::is_add_only) {
        ("it holds what somebody said", "say otherwise: underlit sign … --withdraw")
    } else {
        return None;
    };
    Some(Fault::usage("cannot-undo", what).fix(fix))
}

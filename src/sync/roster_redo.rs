//! A roster version that was made at the same time as another owner's: the one that was sent first stands, and the other
//! is taken back with its pin and made again on top, by whoever made it.

use std::collections::BTreeMap;
use std::path::Path;

use super::again::replay;
use super::judge::{Judge, fork};
use crate::fault::{Class, Fault, Means};
use crate::git::{Bounds, CommitId, GitError, Repo};
use crate::ids::PersonId;
use crate::model::roster::{Person, Roster};
use crate::ops::desk::{self, Desk};
use crate::ops::roster::{self, Versioned};
use crate::store::{BookFolder, safe_path, write};
use crate::trust::chain::{self, Pin};
use crate::trust::guard;
use crate::trust::incoming::States;
use crate::trust::refused;
use crate::trust::shop::SEALED;
use crate::trust::surroundings::Surroundings;

/// What taking a version back and making it again came to.
#[derive(Clone, Debug)]
pub(crate) struct Redone {
    /// The version that was taken back; the other owner's of that number stands.
    pub taken_back: u32,
    /// The version that was made in its place; none where it says nothing that is not there already, or was not wanted.
    pub made: Option<Versioned>,
    /// Commits that do not fit after it, such as what was signed under the version that was taken back.
    pub left_out: Vec<CommitId>,
    /// Sealed files that both versions changed, which stand as the other version seals them.
    pub theirs_stand: Vec<String>,
    /// The name under which the old branch stays.
    pub old: String,
}

/// Takes back this clone's own unsent version and makes it again on top of the one that was sent first. With `drop` it is
/// only taken back.
///
/// # Errors
/// `nothing-to-redo`, `roster-both-changed`, `role`, and what git, the remote and the disk say.
pub(crate) fn redo(from: &Path, around: &Surroundings<'_>, drop_it: bool) -> Result<Redone, Vec<Fault>> {
    let book = BookFolder::find(from)?;
    let repo = Repo::open(book.root())?;
    let lock = desk::lock_settled(&repo)?;
    let local = repo.clone_local_dir()?;
    if !desk::meant(&book, &repo.changed_paths("")?).is_empty() {
        return Err(vec![
            Fault::usage("edits-first", "there are edits that are not taken in yet")
                .fix("underlit check, then underlit sync --offline; then this again"),
        ]);
    }
    let remote = repo.remote(None)?;
    let (fetched, _) = repo.let_go_while(&lock, || repo.fetch(&around.git, &remote, None))?;
    fetched?;
    let (Some(head), Some(theirs)) = (repo.head()?, repo.last_seen(&remote)?) else {
        return Err(vec![nothing()]);
    };
    let mut states = States::default();
    let judged: Vec<CommitId> = refused::judged(&repo, &local).into_iter().collect();
    let inspector = repo.inspector(Bounds::default());
    let sorted = guard::sort_history(&inspector, &judged, theirs)?;
    if !sorted.refused.is_empty() {
        return Err(vec![
            Fault::trust("incoming-refused", "the remote holds commits that do not pass")
                .that_means(Means::Whose)
                .fix("put that right first: underlit sync says how"),
        ]);
    }
    let Some(fork) = fork(&repo, Some(&remote), &mut states, head, theirs)? else {
        return Err(vec![nothing()]);
    };
    let (mine, other) = (states.chain(&repo.snapshot(head)?)?, states.chain(&repo.snapshot(theirs)?)?);
    let pinned = chain::pin(&local)?;
    let known = |pin: &Pin| pin.holds(&mine).is_ok() || pin.holds(&other).is_ok();
    let base = fork.version.checked_sub(1).and_then(|before| mine.version(before)).map(|(roster, _)| roster);
    let (Some(base), true, true) = (base, fork.unsent, pinned.as_ref().is_none_or(known)) else {
        return Err(vec![
            Fault::trust(
                "roster-forked",
                format!(
                    "roster version {} of this clone was on the remote, which now has another",
                    fork.version
                ),
            )
            .fix("ask the shop's owners which of the two is theirs, by telephone; nothing was changed"),
        ]);
    };
    let wanted = together(base, mine.newest(), other.newest());
    let (wanted, both) = match wanted {
        Ok(wanted) => (Some(wanted), Vec::new()),
        Err(both) => (None, both),
    };
    if !both.is_empty() && !drop_it {
        return Err(vec![
            Fault::usage("roster-both-changed", format!("both versions change {}", both.join(", "))).fix(
                "take yours back without making it again, and then make the change by hand: underlit roster redo --drop",
            ),
        ]);
    }
    let shared = repo.shared(head, theirs)?;
    let (sealed, theirs_stand) = sealed_here(&repo, shared, head, theirs)?;
    let own = inspector.between(&[theirs], head).map_err(|_| vec![nothing()])?;
    if around.dry_run {
        return Ok(Redone {
            taken_back: fork.version,
            made: None,
            left_out: Vec::new(),
            theirs_stand,
            old: String::new(),
        });
    }
    let mut judge = Judge::new(&repo, &local);
    judge.pinned = false;
    let leave = |path: &str| path.starts_with("roster/") || SEALED.contains(&path);
    let replayed = replay(&repo, &mut judge, theirs, &own, &leave)?;
    let old = repo.set_aside(head)?;
    // The pin first: a kill in between leaves a clone in which this can be done again.
    chain::write_pin(&local, &Pin::of(&other))?;
    let pin_before = pinned.unwrap_or_else(|| Pin::of(&mine));
    let moved = repo.move_branch(&lock, Some(head), replayed.head, "roster: taken back");
    if let Err(error) = moved {
        chain::write_pin(&local, &pin_before)?;
        return Err(error.into());
    }
    drop(lock);
    let says_more = wanted.as_ref().is_some_and(|(people, threshold)| {
        *people != other.newest().people || *threshold != other.newest().threshold
    });
    let mut made = None;
    if !drop_it && (says_more || !sealed.is_empty()) {
        let reason = mine.newest().reason.clone();
        match make_again(from, around, &reason, wanted, &sealed) {
            Ok(version) => made = Some(version),
            Err(why) => return Err(put_back(&repo, (head, replayed.head), (&local, &pin_before), &old, why)),
        }
    }
    refused::note_judged(&local, replayed.head)?;
    Ok(Redone { taken_back: fork.version, made, left_out: replayed.left_out, theirs_stand, old })
}

/// Puts branch and pin back to where they stood before the version was taken back, which could not be made again; where
/// somebody went on from there meanwhile, says what was done instead.
fn put_back(
    repo: &Repo,
    (head, replayed): (CommitId, CommitId),
    (local, pin): (&Path, &Pin),
    old: &str,
    mut why: Vec<Fault>,
) -> Vec<Fault> {
    let back = || -> Result<(), Vec<Fault>> {
        let lock = desk::lock_settled(repo)?;
        repo.move_branch(&lock, Some(replayed), head, "roster: not taken back")?;
        Ok(chain::write_pin(local, pin)?)
    };
    let fault = match back() {
        Ok(()) => Fault::new(
            why.iter().map(|fault| fault.class).max().unwrap_or(Class::Trust),
            "not-made-again",
            "your roster version could not be made again on top of the other owner's, so it was not taken back either; nothing was changed",
        )
        .fix("put right what stands below, and then: underlit roster redo; or only take it back: underlit roster redo --drop"),
        Err(more) => {
            why.extend(more);
            Fault::io(
                "not-made-again",
                format!("your roster version was taken back and could not be made again; the branch with it stays as {old}"),
            )
            .fix("make the change to the roster again by hand: underlit roster --help")
        }
    };
    why.insert(0, fault);
    why
}

fn nothing() -> Fault {
    Fault::usage("nothing-to-redo", "no roster version of this clone stands beside another one of the remote")
        .fix("underlit sync brings both to the same; underlit roster show lists who is who")
}

/// Makes the version again, with the sealed files as they were to be.
fn make_again(
    from: &Path,
    around: &Surroundings<'_>,
    reason: &str,
    wanted: Option<(Vec<Person>, u32)>,
    sealed: &BTreeMap<String, Vec<u8>>,
) -> Result<Versioned, Vec<Fault>> {
    let desk = Desk::open_to_seal(from, around)?;
    let root = desk.reading.book.root().to_path_buf();
    let mut before = Vec::new();
    for (path, bytes) in sealed {
        before.push((path, std::fs::read(root.join(path)).ok()));
        write::write_whole(&root.join(path), bytes)
            .map_err(|e| vec![safe_path::io_fault(path, "write", &e)])?;
    }
    let made = roster::next_version(&desk, reason, |roster| {
        if let Some((people, threshold)) = wanted {
            roster.people = people;
            roster.threshold = threshold;
        }
        Ok(())
    });
    // A version that waits for another owner carries the files itself.
    if !matches!(made, Ok(Versioned::InForce(_))) {
        for (path, bytes) in before {
            if let Some(bytes) = bytes {
                write::write_whole(&root.join(path), &bytes)
                    .map_err(|e| vec![safe_path::io_fault(path, "write", &e)])?;
            }
        }
    }
    made
}

/// Files by path, as they are to be.
type Wanted = BTreeMap<String, Vec<u8>>;

/// The sealed files that this clone changed and the other version did not, with what they were to be; and those that both
/// changed.
fn sealed_here(
    repo: &Repo,
    shared: Option<CommitId>,
    ours: CommitId,
    theirs: CommitId,
) -> Result<(Wanted, Vec<String>), GitError> {
    let (base, ours, theirs) = (repo.snapshot_of(shared)?, repo.snapshot(ours)?, repo.snapshot(theirs)?);
    let (mut wanted, mut both) = (BTreeMap::new(), Vec::new());
    for path in SEALED {
        let (was, mine, other) = (base.file(path)?, ours.file(path)?, theirs.file(path)?);
        match mine {
            Some(mine) if Some(&mine) != was.as_ref() && Some(&mine) != other.as_ref() => {
                if was == other {
                    wanted.insert((*path).to_owned(), mine);
                } else {
                    both.push((*path).to_owned());
                }
            }
            _ => {}
        }
    }
    Ok((wanted, both))
}

/// The people and the threshold of two versions that follow one: each person as the version has them that changed them.
fn together(base: &Roster, mine: &Roster, other: &Roster) -> Result<(Vec<Person>, u32), Vec<String>> {
    let mut both = Vec::new();
    let mut people: Vec<Person> = Vec::new();
    let mut ids: Vec<&PersonId> = other.people.iter().map(|p| &p.id).collect();
    ids.extend(mine.people.iter().map(|p| &p.id).filter(|id| other.person(id).is_none()));
    for id in ids {
        let (was, ours, theirs) = (base.person(id), mine.person(id), other.person(id));
        let one = if ours == was || ours == theirs {
            theirs
        } else if theirs == was {
            ours
        } else {
            both.push(id.to_string());
            theirs
        };
        people.extend(one.cloned());
    }
    let threshold = match (mine.threshold == base.threshold, other.threshold == base.threshold) {
        (true, _) => other.threshold,
        (false, true) => mine.threshold,
        (false, false) if mine.threshold == other.threshold => mine.threshold,
        _ => {
            both.push("how many owners must sign".to_owned());
            other.threshold
        }
    };
    if both.is_empty() { Ok((people, threshold)) } else { Err(both) }
}

//! A book fetched for the first time: its whole history judged, its fingerprint pinned, and who is asking remembered.

use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::beginning::{self, Heard, Which};
use super::judge::Judge;
use super::newest::newest;
use super::part::{self, Wanted};
use super::stop::{Stop, blames_others};
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::{Bounds, Branches, CommitId, Held, NewCommit, Part, Person, Repo};
use crate::ops::desk;
use crate::ops::init::remember;
use crate::ops::new_folder::NewFolder;
use crate::ops::reading::Me;
use crate::store::BookFolder;
use crate::trust::chain::{self, Chain};
use crate::trust::refused::{self, Refused};
use crate::trust::shop;
use crate::trust::surroundings::Surroundings;

/// A book that was joined.
#[derive(Clone, Debug)]
pub(crate) struct Joined {
    /// Its folder.
    pub folder: PathBuf,
    /// Its fingerprint.
    pub fingerprint: Sha256Digest,
    /// The branch that holds it.
    pub branch: String,
    /// What of the remote's branch does not pass: the clone stands at the last good state before it.
    pub refused: Option<Refused>,
    /// How much of the book the clone holds; none where it holds the whole.
    pub held: Option<Held>,
    /// False where a part was asked for and the remote sent everything.
    pub filtered: bool,
    /// How many commits were judged.
    pub commits: usize,
}

/// Fetches a book from a remote, judges its whole history, pins its fingerprint, and remembers who is asking. Where the
/// remote holds something that does not pass, the clone begins at the last good state before it. Where a part is wanted, the
/// files of that part alone are fetched and judged; and of the history, where a day is given, what was made from then on.
///
/// # Errors
/// What git says; everything that is wrong with the book that came.
pub(crate) fn join(
    address: &str,
    folder: &Path,
    me: Option<Me>,
    part: &Wanted,
    from: Option<Date>,
    around: &Surroundings<'_>,
) -> Result<Joined, Vec<Fault>> {
    let place = NewFolder::begin(folder)?;
    let joined = (|| {
        let (repo, filtered) = match part.is_nothing() {
            true => (Repo::clone_without_files(&around.git, address, place.path())?, true),
            false => Repo::clone_partial(&around.git, address, place.path(), from)?,
        };
        let local = repo.clone_local_dir()?;
        let (branch, tip) = branch_of_the_book(&repo, address)?;
        if !part.is_nothing() {
            let projects = part::wanted(&repo, tip, part, me.as_ref().map(|me| &me.person), around)?;
            let part = Part { projects, mine: part.mine, history_from: repo.history_from(tip)? };
            repo.list_for_git(&around.git, Some(&part), tip)?;
            repo.note_part(&around.git, Some(&part))?;
            repo.bring(&around.git, &[tip], &[])?;
        }
        let (head, refused, commits) = judge_whole(&repo, &local, &branch, tip, around)?;
        repo.check_out_first(&around.git, &branch, head)?;
        let book = BookFolder::at(repo.root().to_path_buf());
        let chain = Chain::load(&book)?;
        shop::load(&book, &chain)?;
        chain::hold_to_pin(&repo, &chain)?;
        if let Some(me) = me {
            remember(&chain, &me, &local)?;
        }
        if refused.is_some() {
            hear(&repo, &chain, tip, around)?;
        }
        let (fingerprint, held) = (chain.fingerprint(), repo.held()?);
        Ok(Joined { folder: folder.to_path_buf(), fingerprint, branch, refused, held, filtered, commits })
    })();
    match joined {
        Ok(joined) if !around.dry_run => Ok(Joined { folder: place.keep()?, ..joined }),
        joined => {
            place.drop_all();
            joined
        }
    }
}

/// The branch that holds the book, with its commit: the one that the remote's HEAD names where that is one, else the only
/// one, else `main`.
fn branch_of_the_book(repo: &Repo, address: &str) -> Result<(String, CommitId), Vec<Fault>> {
    let Branches { all: branches, named } = repo.cloned_branches()?;
    let mut books = Vec::new();
    for (branch, tip) in &branches {
        let state = repo.snapshot(*tip)?;
        if state.entry("book.json")?.is_some() && state.entry(&chain::path_of(1))?.is_some() {
            books.push((branch.clone(), *tip));
        }
    }
    let of = |wanted: &str| books.iter().find(|(branch, _)| branch == wanted).cloned();
    let found = named.as_deref().and_then(of).or_else(|| match books.as_slice() {
        [only] => Some(only.clone()),
        _ => of("main"),
    });
    let names = |all: &[(String, CommitId)]| {
        all.iter().map(|(branch, _)| branch.as_str()).collect::<Vec<_>>().join(", ")
    };
    found.ok_or_else(|| {
        vec![match (branches.as_slice(), books.as_slice()) {
            ([], _) => Fault::usage("remote-empty", format!("there is nothing at {address} yet"))
                .fix("whoever made the book sends it first: git remote add origin ADDRESS, then underlit sync"),
            (all, []) => Fault::usage("not-a-book", format!("no branch at {address} holds a book ({})", names(all)))
                .fix("name the address of a book's repository"),
            (_, several) => Fault::usage(
                "which-branch",
                format!("several branches at {address} hold a book: {}", names(several)),
            )
            .fix("let whoever keeps the repository name the right one: git symbolic-ref HEAD refs/heads/BRANCH"),
        }]
    })
}

/// Judges all the history that was fetched, for a clone that has seen nothing of it yet: the commit to begin with, what
/// stands refused beyond it, and how many commits were judged.
///
/// # Errors
/// Why nothing of it may be taken.
fn judge_whole(
    repo: &Repo,
    local: &Path,
    branch: &str,
    tip: CommitId,
    around: &Surroundings<'_>,
) -> Result<(CommitId, Option<Refused>, usize), Vec<Fault>> {
    let mut judge = Judge::new(repo, local);
    let judged = judge.admit(None, tip);
    let reason = match judged.and_then(|()| judge.state(None, tip, &[]).map_err(Stop::reason)) {
        Ok(_) => {
            refused::note_judged(local, tip)?;
            return Ok((tip, None, judge.sorted.clean.len()));
        }
        Err(reason) if !blames_others(&reason) => return Err(reason),
        Err(reason) => reason,
    };
    let sorted = judge.sorted.clone();
    let candidates: Vec<CommitId> = judge.beginning().into_iter().filter(|id| *id != tip).collect();
    let good = newest(&candidates, |id| match judge.state(None, id, &[]).map_err(Stop::reason) {
        Ok(_) => Ok(true),
        Err(other) if !blames_others(&other) => Err(other),
        Err(_) => Ok(false),
    })?;
    if let Some(id) = good {
        let inspector = repo.inspector(Bounds::default());
        let rest = inspector.between(&[id], tip).unwrap_or_default();
        let last = if sorted.refused.is_empty() { rest.as_slice() } else { &[] };
        let last = last.iter().filter_map(|id| Some((*id, inspector.author(*id).ok()?.name)));
        let name = format!("origin/{branch}");
        let mut stands = Refused::of(&name, tip, &sorted, &[], &reason, &around.stamp());
        stands.and_of(last);
        refused::note_judged(local, id)?;
        return Ok((id, Some(refused::note(local, stands)?), sorted.clean.len()));
    }
    let none = if repo.is_shallow() {
        Fault::trust("no-good-state", "no commit at that address passes, from that day on")
            .fix("join with an earlier day, or with the whole history: without --since")
    } else {
        Fault::trust("no-good-state", "no commit at that address passes, from the first one on")
            .fix("ask the shop's owner for the right address")
    };
    Err([vec![none], reason].concat())
}

/// Takes over, in a clone that has just begun, the refusals that people signed in what it does not take.
///
/// # Errors
/// What git and the disk say.
fn hear(repo: &Repo, chain: &Chain, theirs: CommitId, around: &Surroundings<'_>) -> Result<(), Vec<Fault>> {
    let local = repo.clone_local_dir()?;
    let lock = repo.lock()?;
    let Some(head) = repo.head()? else { return Ok(()) };
    let mut judge = Judge::new(repo, &local);
    // What cannot be heard holds nobody up.
    let heard = beginning::statements(repo, &mut judge.states, head, theirs, Which::Refusals);
    let Ok(Some(Heard { files, message })) = heard else { return Ok(()) };
    // Whoever joins need not have said yet who they are.
    let author = match desk::author(repo, chain, &local, around) {
        Ok(author) => author,
        Err(_) => Person::new("underlit", "underlit@localhost")?,
    };
    let new = NewCommit { message: &message, author: &author, at: around.moment() };
    if let Ok(Some(heard)) = judge.commit_files(head, &files, &new) {
        repo.move_branch(&lock, Some(head), heard, "join")?;
        refused::note_judged(&local, heard)?;
    }
    Ok(())
}

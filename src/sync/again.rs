//! Commits made again on another state, for work that rests on a commit which nobody takes.

use super::beginning::{self, Heard, Which};
use super::judge::Judge;
use super::stop::{Stop, blames_others};
use super::{Here, Progress};
use crate::fault::Fault;
use crate::git::{CommitId, NewCommit, Repo};
use crate::ops::desk;
use crate::ops::layout::layout;

/// A branch that was made again without commits that do not pass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MadeAgain {
    /// The commits that were left out.
    pub left_out: Vec<CommitId>,
    /// How many were made again.
    pub kept: usize,
    /// The name under which the old branch stays.
    pub old: String,
}

/// What came of making commits again.
pub(super) struct Replayed {
    /// The last commit that was made, or the state that it began with.
    pub(super) head: CommitId,
    /// How many were made.
    pub(super) made: usize,
    /// Those that do not fit there, oldest first.
    pub(super) left_out: Vec<CommitId>,
}

/// Makes commits again on `onto`, oldest first, each merged over its own parent and judged like any that comes in. `leave`
/// names files of which nothing is taken over. No branch moves.
///
/// # Errors
/// Why this machine could not judge one.
pub(super) fn replay(
    repo: &Repo,
    judge: &mut Judge<'_>,
    onto: CommitId,
    commits: &[CommitId],
    leave: &dyn Fn(&str) -> bool,
) -> Result<Replayed, Vec<Fault>> {
    let layout = layout();
    let mut done = Replayed { head: onto, made: 0, left_out: Vec::new() };
    for id in commits {
        let made = repo.made_again(&layout, done.head, *id, leave).map_err(Stop::from);
        let judged = made.and_then(|made| match made {
            Some(made) => judge.commit(done.head, made).map(|()| Some(made)),
            None => Ok(None),
        });
        match judged {
            Ok(None) => {}
            Ok(Some(made)) => {
                done.head = made;
                done.made += 1;
            }
            Err(Stop::Refused { reason, .. }) if !blames_others(&reason) => return Err(reason),
            Err(_) => done.left_out.push(*id),
        }
    }
    Ok(done)
}

/// What [`make_again`] made.
pub(super) struct Made {
    pub(super) head: CommitId,
    pub(super) kept: usize,
    pub(super) left_out: Vec<CommitId>,
    pub(super) old: String,
}

/// Makes some commits again on `start`, and takes over what people signed up to `old`, which stays under a name. No branch
/// moves.
pub(super) fn make_again(
    here: Here<'_>,
    (start, old): (CommitId, CommitId),
    own: &[CommitId],
    tell: &mut dyn FnMut(Progress<'_>),
) -> Result<Made, Vec<Fault>> {
    let Here { repo, local, around, .. } = here;
    tell(Progress::Merging);
    let mut judge = Judge::new(repo, local);
    let chain = judge.states.chain(&repo.snapshot(start)?)?;
    let made = replay(repo, &mut judge, start, own, &|_| false)?;
    let mut head = made.head;
    let heard = beginning::statements(repo, &mut judge.states, head, old, Which::All)?;
    if let Some(Heard { files, message }) = heard {
        let author = desk::author(repo, &chain, local, around)?;
        let new = NewCommit { message: &message, author: &author, at: around.moment() };
        if let Ok(Some(more)) = judge.commit_files(head, &files, &new) {
            head = more;
        }
    }
    let old = repo.set_aside(old)?;
    Ok(Made { head, kept: made.made, left_out: made.left_out, old })
}

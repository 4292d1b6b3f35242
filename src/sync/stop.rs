//! Why a sync or a merge stops, and what is said of it.

use std::collections::BTreeSet;

use super::{Asked, Here};
use crate::fault::{Fault, Means};
use crate::git::{GitError, LogEntry};
use crate::trust::guard;
use crate::trust::refused::{self, Refused};

/// Why a sync or a merge stops. The book stays as it is.
pub(super) enum Stop {
    /// Git or the network.
    Git(GitError),
    /// This clone, or the edits made by hand in it.
    Faults(Vec<Fault>),
    /// What came in may not become the book.
    Refused {
        /// Why.
        reason: Vec<Fault>,
        /// The commits that came in, newest first, with who made them.
        commits: Vec<LogEntry>,
    },
    /// Files that do not fit together whichever side of them is held.
    Unsettled(Vec<String>),
}

impl From<GitError> for Stop {
    fn from(error: GitError) -> Self {
        Stop::Git(error)
    }
}

impl From<Vec<Fault>> for Stop {
    fn from(faults: Vec<Fault>) -> Self {
        Stop::Faults(faults)
    }
}

impl From<Box<Fault>> for Stop {
    fn from(fault: Box<Fault>) -> Self {
        Stop::Faults(fault.into())
    }
}

impl Stop {
    /// A refusal of commits that are not told one by one.
    pub(super) fn refused(reason: Vec<Fault>) -> Self {
        Stop::Refused { reason, commits: Vec::new() }
    }

    /// Why something was refused, whatever else a sync could say.
    pub(super) fn reason(self) -> Vec<Fault> {
        match self {
            Stop::Refused { reason, .. } => reason,
            other => other.faults(),
        }
    }

    /// In faults.
    pub(super) fn faults(self) -> Vec<Fault> {
        match self {
            Stop::Git(error) => error.into(),
            Stop::Faults(faults) => faults,
            Stop::Refused { mut reason, commits } => {
                if blames_others(&reason) {
                    reason.insert(0, of_the_commits(&commits));
                }
                reason
            }
            Stop::Unsettled(paths) => paths
                .into_iter()
                .map(|path| {
                    Fault::data("merge-unsettled", "the two sides of this file cannot be merged")
                        .in_file(path)
                        .fix("put the file back to what it was on one side, and sync again")
                })
                .collect(),
        }
    }

    /// In faults; a refusal of what came in is noted, so that board, status and pack show it.
    pub(super) fn noted(self, here: Here<'_>, asked: &Asked, sorted: &guard::Sorted) -> Vec<Fault> {
        let (reason, commits) = match self {
            Stop::Refused { reason, commits } if blames_others(&reason) => (reason, commits),
            other => return other.faults(),
        };
        let Ok(remote) = here.repo.remote(asked.remote.as_deref()) else { return reason };
        let Ok(Some(tip)) = here.repo.last_seen(&remote) else { return reason };
        let name = format!("{}/{}", remote.name, remote.branch);
        let mut stands = Refused::of(&name, tip, sorted, &commits, &reason, &here.around.stamp());
        if !here.around.dry_run {
            // The clone stands at a state that was judged, whatever is refused beyond it.
            let judged = here.repo.head().ok().flatten().map(|head| refused::note_judged(here.local, head));
            let _ = judged;
            match refused::note(here.local, stands.clone()) {
                Ok(noted) => stands = noted,
                Err(fault) => return [reason, vec![*fault]].concat(),
            }
        }
        [vec![refusal(&stands)], reason].concat()
    }
}

/// True where faults are about what came in, and not about this machine, this clone's own roster, or a program that is too
/// old for a format that the owners have sealed since.
pub(super) fn blames_others(faults: &[Fault]) -> bool {
    let ours = |fault: &Fault| matches!(fault.means, Means::MadeTwice | Means::OtherFormat);
    !guard::is_of_this_machine(faults) && !faults.iter().any(ours)
}

/// The first line of a refusal: what it means for whoever syncs, whose it is, and what is to be done.
fn refusal(stands: &Refused) -> Fault {
    Fault::trust(
        "incoming-refused",
        format!(
            "the incoming changes of {} were rejected: {} does not pass; this clone stays at its last good \
             state, with everything good before it, and nothing was sent",
            stands.remote,
            stands.whose_in_words()
        ),
    )
    .that_means(Means::Whose)
    .fix("an owner takes it off the remote: underlit sync --drop-refused; then everybody syncs again. Your own work is safe here, and goes on")
}

/// A refusal of what another git asked to be merged.
fn of_the_commits(commits: &[LogEntry]) -> Fault {
    let who: BTreeSet<String> =
        commits.iter().map(|c| format!("{} ({})", c.author.name, c.id.short())).collect();
    let who: Vec<String> = who.into_iter().take(5).collect();
    let by = if who.is_empty() { String::new() } else { format!("; it was made by {}", who.join(", ")) };
    Fault::trust(
        "incoming-refused",
        format!("what is to be merged does not pass, and nothing was changed{by}"),
    )
    .that_means(Means::Whose)
    .fix("run `underlit sync`, which takes the good part and says what to do about the rest")
}

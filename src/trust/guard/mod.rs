//! The judge of a push: what a shared repository may be given, by the book that it holds already.
//!
//! A book's history only grows, so what comes is judged twice. What a later commit cannot fix must hold of *every*
//! commit: plain files under names that every system can hold, sizes with an end, add-only files that stay as they
//! are against every parent, a roster that follows from the one before, statements that were rightly signed when
//! they were made, moves through gates that were open. What a later commit can fix must hold of the *last* one:
//! records against their schemas and one another, the shop's seals, no marks of an unfinished merge. The measure is
//! always the roster that the repository held before the push, and what follows from it by its owners' signatures.
//!
//! | file | what it holds |
//! |---|---|
//! | [`references`] | which branches and tags a push may move |
//! | [`history`] | what must hold of every commit |
//! | [`tip`] | what must hold of the last |
//! | [`beside_records`] | files that no record names |
//! | [`install`] | the hook and the settings of a shared repository |
//!
//! What is not here: who may push. That is the host's matter; the guard judges what is pushed, whoever does it.
//!
#![doc = include_str!("NOTES.md")]

pub mod beside_records;
pub mod history;
pub mod install;
pub mod references;
pub mod tip;

use std::collections::BTreeSet;
use std::rc::Rc;

use super::chain::Chain;
use super::incoming::States;
use super::sound::Vouched;
use crate::digest::Sha256Digest;
use crate::fault::{Class, Fault};
use crate::git::{CommitId, Inspector, Uninspected};

/// How many faults are gathered before the judge has seen enough.
const ENOUGH: usize = 50;

/// The commit that a fault is in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Where {
    /// The commit.
    pub commit: CommitId,
    /// Who made it, as it says itself.
    pub by: String,
}

/// One reason why a push is not taken.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Finding {
    /// What is wrong.
    pub fault: Fault,
    /// In which commit, where no later commit can fix it; none for what is wrong with the last state.
    pub commit: Option<Where>,
}

impl Finding {
    /// The fault, with its commit in the sentence.
    #[must_use]
    pub(crate) fn into_fault(self) -> Fault {
        let Some(place) = self.commit else { return self.fault };
        let message = format!("{} (commit {} by {})", self.fault.message, place.commit.short(), place.by);
        Fault { message, ..self.fault }
    }
}

impl From<Fault> for Finding {
    fn from(fault: Fault) -> Self {
        Finding { fault, commit: None }
    }
}

/// What the judge says.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Judgement {
    /// Every reason against it; none where it may be taken.
    pub findings: Vec<Finding>,
    /// How many commits were judged.
    pub commits: usize,
    /// The fingerprint of the book that the repository holds from now on, where this is its first push.
    pub begun: Option<Sha256Digest>,
}

impl Judgement {
    /// True where nothing speaks against it.
    #[must_use]
    pub(crate) fn is_good(&self) -> bool {
        self.findings.is_empty()
    }
}

/// What a judge is told besides the commits.
#[derive(Clone, Copy)]
pub(crate) struct JudgeOptions<'b> {
    /// The fingerprint that a first push must have, where one was named.
    pub fingerprint: Option<Sha256Digest>,
    /// True once the judge has taken too long.
    pub late: &'b dyn Fn() -> bool,
}

impl std::fmt::Debug for JudgeOptions<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("JudgeOptions").field("fingerprint", &self.fingerprint).finish_non_exhaustive()
    }
}

/// Judges what a branch would gain.
///
/// `old` is where the branch stands, none before its first commit; `new` must have it behind it. Never fails: what
/// cannot be read is a reason against the push.
#[must_use]
pub(crate) fn judge(
    inspector: &Inspector<'_>,
    old: Option<CommitId>,
    new: CommitId,
    options: JudgeOptions<'_>,
) -> Judgement {
    let mut judge = Judge::new(inspector, options);
    if let Err(end) = judge.run(old, new) {
        judge.judgement.findings.extend(end.0.into_iter().map(Finding::from));
    }
    judge.judgement
}

/// What the judge says of each commit of a history.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Sorted {
    /// The commits that may be taken, each with everything behind it; oldest first.
    pub clean: Vec<CommitId>,
    /// Why others may not. Commits that rest on one of those are in neither list.
    pub refused: Vec<Finding>,
}

impl Sorted {
    /// The commits that are refused themselves.
    #[must_use]
    pub(crate) fn refused_commits(&self) -> BTreeSet<CommitId> {
        self.refused.iter().filter_map(|finding| Some(finding.commit.as_ref()?.commit)).collect()
    }
}

/// Judges each commit that `new` has and none of `old` has, for a clone that judges the last state itself: a clone takes
/// the good beginning of a history that does not hold as a whole.
///
/// # Errors
/// What keeps the history from being judged at all: it cannot be read.
pub(crate) fn sort_history(
    inspector: &Inspector<'_>,
    old: &[CommitId],
    new: CommitId,
) -> Result<Sorted, Vec<Fault>> {
    let options = JudgeOptions { fingerprint: None, late: &|| false };
    let mut judge = Judge::new(inspector, options);
    let sorted = judge.sorted(old, new).map_err(|end| end.0)?;
    // A move past a shut gate that was taken back since is told by `verify` and holds nobody up.
    judge.taken_back = sorted.refused.iter().filter_map(|f| Some(f.commit.as_ref()?.commit)).collect();
    for finding in &sorted.refused {
        if let Some(place) = &finding.commit
            && !judge.is_taken_back(&finding.fault, new)
        {
            judge.taken_back.remove(&place.commit);
        }
    }
    if judge.taken_back.is_empty() { Ok(sorted) } else { judge.sorted(old, new).map_err(|end| end.0) }
}

/// True for faults of this machine, as a full disk or a folder that may not be written: they say nothing of the book.
#[must_use]
pub(crate) fn is_of_this_machine(faults: &[Fault]) -> bool {
    faults.iter().any(|fault| matches!(fault.class, Class::Io | Class::Bug))
}

/// Why the judge stops before the end.
struct End(Vec<Fault>);

impl From<Vec<Fault>> for End {
    fn from(faults: Vec<Fault>) -> Self {
        End(faults)
    }
}

impl From<Uninspected> for End {
    fn from(why: Uninspected) -> Self {
        End(why.into())
    }
}

impl From<Uninspected> for Vec<Fault> {
    fn from(why: Uninspected) -> Self {
        vec![match why {
            Uninspected::TooMuch(what) => Fault::data(
                "too-much",
                format!("this push brings {what}, which is more than is checked at once"),
            )
            .fix("push an earlier commit first, and then the rest: git push REMOTE COMMIT:refs/heads/BRANCH"),
            Uninspected::Git(error) => *Box::<Fault>::from(error),
        }]
    }
}

struct Judge<'j, 'r> {
    inspector: &'j Inspector<'r>,
    options: JudgeOptions<'j>,
    states: States,
    judgement: Judgement,
    /// The roster before the push, where there is one.
    before: Option<Rc<Chain>>,
    /// The commits whose moves were taken back since.
    taken_back: BTreeSet<CommitId>,
    /// True while a commit is judged whose moves only their signatures speak for.
    by_signature: bool,
}

impl<'j, 'r> Judge<'j, 'r> {
    fn new(inspector: &'j Inspector<'r>, options: JudgeOptions<'j>) -> Self {
        Judge {
            inspector,
            options,
            states: States::default(),
            judgement: Judgement::default(),
            before: None,
            taken_back: BTreeSet::new(),
            by_signature: false,
        }
    }

    fn run(&mut self, old: Option<CommitId>, new: CommitId) -> Result<(), End> {
        let before = old.map(|old| self.inspector.snapshot(Some(old))).transpose()?;
        let _vouched = before.as_ref().map(Vouched::by).transpose().map_err(Uninspected::from)?;
        if let Some(state) = before {
            // A repository whose own book does not hold can judge nothing.
            let chain = self.states.chain(&state).map_err(|faults| {
                // What this machine cannot do says nothing of the book.
                if is_of_this_machine(&faults) {
                    return End(faults);
                }
                let mut all = vec![
                    Fault::trust("guarded-book", "this repository's book fails verification")
                        .fix("let whoever keeps the repository put its branch back to the last good commit"),
                ];
                all.extend(faults);
                End(all)
            })?;
            self.before = Some(chain);
        }
        self.history(old, new)?;
        if self.judgement.is_good() {
            self.tip(old, new)?;
        }
        Ok(())
    }

    fn enough(&self) -> bool {
        self.judgement.findings.len() >= ENOUGH
    }

    fn in_time(&self) -> Result<(), End> {
        if (self.options.late)() {
            return Err(End(vec![
                Fault::data("too-slow", "judging this push takes longer than this repository allows").fix(
                    "push an earlier commit first, and then the rest: git push REMOTE COMMIT:refs/heads/BRANCH",
                ),
            ]));
        }
        Ok(())
    }
}

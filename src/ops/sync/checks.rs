//! What a sync asks of us on its way: which edits to take in, whether what comes in may be taken, what of it may be taken
//! where not all may, and what has to be heard of the rest.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use super::super::{desk, roster_redo};
use super::heard;
use crate::fault::{Fault, Means};
use crate::git::{
    Bounds, CommitId, HandEdit, Heard, Incoming, Moment, Progress, Repo, Snapshot, Steps, TakeIn, Verdict,
};
use crate::model::kind::Kind;
use crate::model::references;
use crate::model::rules::Rules;
use crate::store::{BookFolder, strict_json};
use crate::trust::chain::{self, Chain};
use crate::trust::changed::{self, Changed, Whose};
use crate::trust::incoming::{self, States};
use crate::trust::redraw::Known;
use crate::trust::surroundings::Surroundings;
use crate::trust::tree_files::TreeFiles;
use crate::trust::{guard, shop};

/// The files that changed on some side and that a fault of a merge may come from: its own, and what that names beside it.
fn to_hold(fault: &Fault, after: &Snapshot<'_>, changed: &BTreeSet<&str>) -> Vec<String> {
    let Some((path, kind)) = fault.file.as_deref().and_then(|path| Some((path, Kind::of_path(path)?))) else {
        return Vec::new();
    };
    if !kind.has_schema() || !may_be_held(path) {
        return Vec::new();
    }
    let mut paths = vec![path.to_owned()];
    if fault.means == Means::Attached
        && let Ok(Some(bytes)) = after.file(path)
        && let Ok(value) = strict_json::parse(&bytes)
    {
        paths.extend(references::attached(path, kind, &value).into_iter().map(|named| named.path));
    }
    paths.retain(|path| changed.contains(path.as_str()));
    paths
}

/// True for a file that may be kept as it was and asked about.
fn may_be_held(path: &str) -> bool {
    Kind::of_path(path).is_some_and(|kind| !kind.is_add_only() && kind != Kind::Conflict)
        && path.rsplit('/').nth(1).is_none_or(|folder| folder != shop::CONFLICTS)
}

/// Where a sync works.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Ground<'a> {
    pub(in super::super) repo: &'a Repo,
    pub(in super::super) book: &'a BookFolder,
    pub(in super::super) local: &'a std::path::Path,
    pub(in super::super) around: &'a Surroundings<'a>,
}

pub(in super::super) struct Checks<'a> {
    /// True once what came in was found to hold.
    pub(in super::super) holds: bool,
    /// False for an owner who takes back a roster version of their own, so that the pin is about to change.
    pub(in super::super) pinned: bool,
    /// What the judge said of each commit that came in last.
    pub(in super::super) sorted: guard::Sorted,
    ground: Ground<'a>,
    /// By which roster and rules edits made by hand are taken in; without those, none are.
    by: Option<(Chain, Rules)>,
    /// True once it was told what may be taken of a refused history: what is judged after that is ours.
    told: bool,
    /// The commits that were found to hold, each with everything behind it.
    clean: BTreeSet<CommitId>,
    states: States,
    tell: &'a mut dyn FnMut(Progress<'_>),
}

impl<'a> Checks<'a> {
    pub(in super::super) fn new(
        ground: Ground<'a>,
        by: Option<(Chain, Rules)>,
        tell: &'a mut dyn FnMut(Progress<'_>),
    ) -> Self {
        Checks {
            holds: false,
            pinned: true,
            sorted: guard::Sorted::default(),
            ground,
            by,
            told: false,
            clean: BTreeSet::new(),
            states: States::default(),
            tell,
        }
    }

    /// The number of the first roster version that is not the same in all of some commits; none where they agree.
    fn fork(&mut self, commits: &[CommitId]) -> Option<u32> {
        let mut known: BTreeMap<u32, crate::digest::Sha256Digest> = BTreeMap::new();
        let mut fork: Option<u32> = None;
        for id in commits {
            let Ok(state) = self.ground.repo.snapshot(*id) else { continue };
            let Ok(chain) = self.states.chain(&state) else { continue };
            for (roster, digest) in chain.versions() {
                if *known.entry(roster.version).or_insert(*digest) != *digest {
                    fork = Some(fork.map_or(roster.version, |n| n.min(roster.version)));
                }
            }
        }
        fork
    }
}

impl Steps for Checks<'_> {
    type Refusal = Vec<Fault>;

    fn read_again(&mut self) -> Result<(), Vec<Fault>> {
        let Ground { repo, book, .. } = self.ground;
        desk::settle(repo)?;
        if self.by.is_some() {
            let chain = Chain::load(book)?;
            chain::hold_to_pin(repo, &chain)?;
            let shop = shop::load(book, &chain);
            let rules = shop.or_else(|_| shop::read_as_it_lies(book, &chain))?.rules;
            self.by = Some((chain, rules));
        }
        Ok(())
    }

    fn take_in(&mut self, edits: &[HandEdit]) -> Result<TakeIn, Vec<Fault>> {
        match &self.by {
            Some((chain, rules)) => desk::take_in(self.ground.book, chain, rules, edits),
            None => Ok(TakeIn::default()),
        }
    }

    fn admit(&mut self, ours: Option<CommitId>, theirs: CommitId) -> Result<(), Vec<Fault>> {
        if self.clean.contains(&theirs) {
            return Ok(());
        }
        // A last state that holds may hide a history that does not: an approval that a merge left out, a move that
        // was made while its gate was shut.
        let inspector = self.ground.repo.inspector(Bounds::default());
        let ours: Vec<CommitId> = ours.into_iter().collect();
        let sorted = guard::sort_history(&inspector, &ours, theirs)?;
        self.clean.extend(&sorted.clean);
        let refused: Vec<Fault> = sorted.refused.iter().map(|found| found.clone().into_fault()).collect();
        if !self.told {
            self.sorted = sorted;
        }
        if !refused.is_empty() {
            return Err(refused);
        }
        if let (Some(ours), true) = (ours.first(), self.pinned) {
            let repo = self.ground.repo;
            let remote = repo.remote(None).ok();
            if let Ok(Some(fork)) = roster_redo::fork(repo, remote.as_ref(), &mut self.states, *ours, theirs)
                && fork.unsent
            {
                return Err(vec![roster_redo::made_twice(fork.version)]);
            }
        }
        Ok(())
    }

    fn beginning(&mut self) -> Vec<CommitId> {
        self.told = true;
        let clean = self.sorted.clean.clone();
        // Of two rosters that were made at once this clone cannot know which one stands: it waits before both.
        let fork = self.fork(&clean);
        let repo = self.ground.repo;
        let mut found = Vec::new();
        for id in clean.into_iter().rev() {
            let before_the_fork = fork.is_none_or(|fork| {
                let chain = repo.snapshot(id).map_err(Into::into).and_then(|s| self.states.chain(&s));
                chain.is_ok_and(|chain| chain.newest().version < fork)
            });
            if before_the_fork {
                found.push(id);
            }
        }
        found
    }

    fn heard(&mut self, head: CommitId, theirs: CommitId) -> Option<Heard> {
        let repo = self.ground.repo;
        heard::statements(repo, &mut self.states, head, theirs, heard::Which::Refusals).ok().flatten()
    }

    fn blames(&self, reason: &Vec<Fault>) -> bool {
        super::blames_others(reason)
    }

    fn check(&mut self, incoming: &Incoming<'_>) -> Result<Verdict, Vec<Fault>> {
        let chain = self.states.chain(incoming.after)?;
        if self.pinned {
            chain::compare_with_pin(self.ground.local, &chain)?;
        }
        let theirs = self.ground.repo.snapshot(incoming.theirs)?;
        if incoming.merge.is_some() {
            let stand = incoming::as_sealed(incoming.after, &chain, &theirs)?;
            if !stand.is_empty() {
                return Ok(Verdict::Stand(stand));
            }
        }
        let shop = self.states.shop(incoming.after)?;
        let changed = Changed {
            book: &TreeFiles::of_changes(incoming.after, incoming.changes)?,
            chain: &chain,
            rules: Some(&shop.rules),
            files: changed::by_path(incoming.changes),
            whose: Whose::Theirs,
        };
        let mut found = changed.faults(&mut Known::default(), usize::MAX, &|| Ok(()))?;
        let ours: Vec<CommitId> = incoming.ours.into_iter().collect();
        let inspector = self.ground.repo.inspector(Bounds::default());
        found.extend(guard::beside_records::faults(&inspector, &ours, incoming.theirs)?);
        found.dedup();
        if found.is_empty() {
            self.holds = true;
            return Ok(Verdict::Good);
        }
        // Where a merge brought together what does not fit, the files are kept as they were and asked about: whichever
        // side changed them, so that whoever merges comes to the same.
        let theirs = theirs.changes(incoming.after, "")?;
        let changed: BTreeSet<&str> =
            incoming.changes.iter().chain(&theirs).map(|change| change.path.as_str()).collect();
        let base = match incoming.merge.and_then(|merge| merge.base) {
            Some(base) => Some(self.ground.repo.snapshot(base)?),
            None => None,
        };
        let asked =
            |path: &str| incoming.merge.is_some_and(|m| m.opened.iter().any(|(_, open)| open.path == path));
        let is_there = |path: &str| matches!(incoming.after.entry(path), Ok(Some(_)));
        let was_there = |path: &str| {
            base.as_ref().is_some_and(|base| matches!(base.entry(path), Ok(Some(_))))
                || changed.contains(path)
        };
        let held: Vec<Vec<String>> = found
            .iter()
            .map(|fault| match (&fault.file, &fault.other) {
                // It names what a side took out: that stays as it was, and is what is asked about. The record that names
                // it stands, so that nobody's new panel goes with another's old stone.
                (Some(file), Some(other))
                    if may_be_held(file) && may_be_held(other) && !is_there(other) && was_there(other) =>
                {
                    vec![other.clone()]
                }
                // It keeps what it was already; what lies beside it has to as well.
                (Some(file), Some(other))
                    if may_be_held(other)
                        && asked(file)
                        && !asked(other)
                        && changed.contains(other.as_str()) =>
                {
                    vec![other.clone()]
                }
                _ => to_hold(fault, incoming.after, &changed),
            })
            .collect();
        let each_has_some = held.iter().all(|paths| !paths.is_empty());
        let held: Vec<String> = held.into_iter().flatten().collect();
        if incoming.merge.is_some() && each_has_some { Ok(Verdict::Hold(held)) } else { Err(found) }
    }

    fn merge_message(&mut self, incoming: &Incoming<'_>) -> String {
        let mut who: Vec<String> = incoming.commits.iter().map(|c| c.author.name.clone()).collect();
        who.sort();
        who.dedup();
        let open = incoming.merge.map_or(0, |m| m.opened.len());
        let questions = match open {
            0 => String::new(),
            1 => "\n\nOne question is open: both sides changed the same field.".to_owned(),
            n => format!("\n\n{n} questions are open: both sides changed the same fields."),
        };
        format!("Brought together with {}{questions}\n", who.join(", "))
    }

    fn now(&mut self) -> Moment {
        self.ground.around.moment()
    }

    fn random(&mut self) -> u64 {
        let mut bytes = [0_u8; 8];
        // Without randomness the wait is the same on every machine, which is slower and no worse.
        let _ = getrandom::fill(&mut bytes);
        u64::from_le_bytes(bytes)
    }

    fn pause(&mut self, length: Duration) {
        std::thread::sleep(length);
    }

    fn tell(&mut self, progress: Progress<'_>) {
        (self.tell)(progress);
    }
}

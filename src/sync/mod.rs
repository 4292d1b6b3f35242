//! Brings this clone and its remote to the same book.
//!
//! One exchange reads from top to bottom here, in `Run::round`: look, fetch, merge, judge, place, push; again where
//! somebody was faster. Each step is found from the state of the repository and not from a memory of the last run, so
//! that a sync can stop anywhere and the next one goes on.
//!
//! | file | what it holds |
//! |---|---|
//! | `judge` | whether what comes in may be taken |
//! | `merge` | two commits merged until the result holds |
//! | `beginning` | the good part of what is refused, and what people signed in the rest |
//! | `newest` | the search for the last good state |
//! | `own` | this clone's own commits; taking what is refused out of them, and off the remote |
//! | `again` | commits made again on another state |
//! | `stop` | why a sync stops, and what is said of it |
//! | `told` | what a sync has to tell when it is done |
//! | [`join`] | a book fetched for the first time |
//! | `part` | a clone that holds a part of the book, made larger or smaller |
//! | [`roster_redo`] | a roster version made at the same time as another owner's, made again on top |
//! | [`stock_git`] | the same merge for people who pull with their own git |
//!
#![doc = include_str!("NOTES.md")]

mod again;
mod beginning;
pub mod join;
mod judge;
mod merge;
mod newest;
mod own;
pub(crate) mod part;
pub mod roster_redo;
pub mod stock_git;
mod stop;
mod told;

use std::path::Path;
use std::time::Duration;

pub(crate) use self::again::MadeAgain;
use self::judge::Judge;
use self::stop::Stop;
pub use self::told::Summary;
pub(crate) use self::told::Synced;
use crate::fault::Fault;
use crate::git::{
    BookLock, CommitId, FolderScan, GitError, NewCommit, OnProgress, Person, Pushed, Remote, Repo,
};
use crate::model::rules::Rules;
use crate::ops::desk;
use crate::store::BookFolder;
use crate::trust::chain::{self, Chain};
use crate::trust::{Surroundings, refused, shop};

/// How a sync is asked for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The remote by name; none for the one that the branch follows.
    pub remote: Option<String>,
    /// Leave the network alone: takes in hand edits, and merges what was fetched before.
    pub offline: bool,
    /// Take out of this clone's branch, and as an owner off the remote's, what does not pass.
    pub drop_refused: bool,
}

/// What is about to happen, for a line on a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress<'p> {
    /// Looking for edits made by hand.
    LookingForEdits,
    /// Asking the remote.
    Fetching,
    /// Merging what came in.
    Merging,
    /// Checking the result.
    Checking,
    /// Putting the result in place.
    Placing,
    /// Sending.
    Pushing,
    /// Somebody was faster; waiting before the next try.
    Waiting,
    /// A line of git's own progress.
    Git(&'p str),
}

/// The clone that a sync works in.
#[derive(Clone, Copy)]
struct Here<'h> {
    repo: &'h Repo,
    book: &'h BookFolder,
    lock: &'h BookLock,
    local: &'h Path,
    around: &'h Surroundings<'h>,
}

/// What a round of waiting for the network came to, and whether another command had the book meanwhile.
type Away<T> = (Result<T, GitError>, bool);

/// How often a push is tried when others push first.
const ATTEMPTS: u32 = 12;

/// Syncs the book in which a folder lies.
///
/// # Errors
/// Everything that stands in the way, by file; nothing of this clone's work is lost in any case.
pub fn sync(
    from: &Path,
    around: &Surroundings<'_>,
    asked: &Asked,
    tell: &mut dyn FnMut(Progress<'_>),
) -> Result<Synced, Vec<Fault>> {
    let book = BookFolder::find(from)?;
    let mut repo = Repo::open(book.root())?;
    if let (false, Ok(remote)) = (asked.offline, repo.remote(asked.remote.as_deref())) {
        repo = repo.with_needed_past(&around.git, &remote)?;
    }
    let lock = desk::lock_settled(&repo)?;
    repo.refuse_busy()?;
    desk::refuse_lost_branch(&repo)?;
    let local = repo.clone_local_dir()?;
    if asked.drop_refused && repo.part().is_some() {
        let message = "this clone holds a part of the book; commits are taken out where the whole is judged";
        let fault = Fault::usage("part-only", message);
        return Err(vec![fault.fix("underlit part --whole, then run this again")]);
    }
    let here = Here { repo: &repo, book: &book, lock: &lock, local: &local, around };
    let mut made_again: Vec<MadeAgain> = own::settle(here, asked, tell)?.into_iter().collect();
    let chain = Chain::load(&book).map_err(|faults| chain::lost_from_folder(&repo, faults))?;
    chain::hold_to_pin(&repo, &chain)?;
    let (rules, unsealed) = match shop::load(&book, &chain) {
        Ok(shop) => (shop.rules, None),
        Err(faults) => {
            let edits = repo.changed_paths("")?;
            if edits.iter().any(|e| shop::SEALED.contains(&e.path.as_str())) {
                return Err(faults);
            }
            (shop::read_as_it_lies(&book, &chain)?.rules, Some(faults))
        }
    };
    let torn = own::unsent_faults(&repo, &book, &local, (&chain, &rules))?;
    if !torn.is_empty() {
        return Err(torn);
    }
    let author = desk::author(&repo, &chain, &local, around)?;
    repo.refuse_busy()?;
    let remote = match repo.remote(asked.remote.as_deref()) {
        Err(GitError::NoRemote { name: None }) if asked.offline => None,
        found => Some(found?),
    };
    let before = repo.head()?;
    part::refuse_outside(&repo, remote.as_ref(), before)?;
    let done = Summary { remote: remote.clone(), before, after: before, ..Summary::default() };
    let judge = Judge::new(&repo, &local);
    let mut run = Run { here, asked, remote, author, by: (chain, rules), unsealed, judge, done, tell };
    let ended = run.rounds();
    let Run { unsealed, judge, done: mut summary, tell, .. } = run;
    match ended {
        Ok(()) => {}
        Err(Stop::Refused { reason, commits })
            if asked.drop_refused && unsealed.is_none() && stop::blames_others(&reason) =>
        {
            match own::drop_from_remote(here, asked, &judge.sorted, tell)? {
                Some(made) => made_again.push(made),
                None => {
                    return Err(Stop::Refused { reason, commits }.noted(here, asked, &judge.sorted));
                }
            }
            summary = Summary {
                remote: summary.remote,
                after: repo.head()?,
                pushed: !around.dry_run,
                ..Summary::default()
            };
        }
        Err(stop) => return Err(stop.noted(here, asked, &judge.sorted)),
    }
    if !around.dry_run {
        let chain = Chain::load(&book)?;
        chain::hold_to_pin(&repo, &chain)?;
        refused::clear(&local)?;
        // Not what another command has committed while the network was waited for.
        if let Some(after) = summary.after {
            refused::note_judged(&local, after)?;
        }
    }
    let mut synced = told::told(here, summary, made_again)?;
    drop(lock);
    if !around.dry_run && !asked.offline {
        synced.came_into_part = part::grow(from, &repo, synced.me.as_ref(), around)?;
    }
    Ok(synced)
}

/// One sync under way.
struct Run<'r> {
    here: Here<'r>,
    asked: &'r Asked,
    remote: Option<Remote>,
    author: Person,
    /// By which roster and rules edits made by hand are taken in.
    by: (Chain, Rules),
    /// Why the shop is not as its owners sealed it, where somebody committed it so past this program. Only what comes in
    /// can fix that here: until it does, nothing is put in place.
    unsealed: Option<Vec<Fault>>,
    judge: Judge<'r>,
    done: Summary,
    tell: &'r mut dyn FnMut(Progress<'_>),
}

impl Run<'_> {
    /// Rounds until both have the same.
    fn rounds(&mut self) -> Result<(), Stop> {
        let mut edited = 0;
        loop {
            match self.round() {
                Ok(Pushed::Race) => self.done.races += 1,
                Ok(_) => return Ok(()),
                // An editor saved while the result was put in place: take that in and go on, but not for ever.
                Err(Stop::Git(GitError::EditedMeanwhile { .. })) if edited < 3 => edited += 1,
                Err(stop) => return Err(stop),
            }
            if self.done.races >= ATTEMPTS {
                return Err(GitError::RaceLost { attempts: self.done.races }.into());
            }
            (self.tell)(Progress::Waiting);
            let longest = 50_u64 << self.done.races.min(6);
            std::thread::sleep(Duration::from_millis(random() % longest));
        }
    }

    /// Look, fetch, merge, judge, place, push.
    fn round(&mut self) -> Result<Pushed, Stop> {
        let Here { repo, around, .. } = self.here;
        let Some(remote) = self.remote.clone() else {
            let folder_scan = self.look();
            self.done.after = self.take_in_edits(folder_scan)?;
            self.refuse_unsealed()?;
            return Ok(Pushed::UpToDate);
        };
        // Before a first commit here, the book of the remote comes first: a commit of what lies here would begin
        // another book.
        if repo.head()?.is_none() {
            self.fetch(&remote)?.0?;
            let theirs = repo.last_seen(&remote)?;
            self.done.after = self.bring_in(None, theirs)?;
            if around.dry_run && theirs.is_some() {
                return Ok(Pushed::UpToDate);
            }
        }
        // The folder is looked through while the remote answers. Whether it does or not, edits are taken in.
        let folder_scan = self.look();
        let (fetched, others) = self.fetch(&remote)?;
        let folder_scan = if others { self.look() } else { folder_scan };
        let ours = self.take_in_edits(folder_scan)?;
        self.done.after = ours;
        fetched?;
        let theirs = repo.last_seen(&remote)?;
        let head = self.bring_in(ours, theirs)?;
        self.refuse_unsealed()?;
        self.done.after = head;
        if around.dry_run {
            return Ok(Pushed::UpToDate);
        }
        if theirs.is_some() {
            repo.follow(&remote)?;
        }
        match head {
            Some(head) if Some(head) != theirs && !self.asked.offline => self.push(&remote, head),
            _ => Ok(Pushed::UpToDate),
        }
    }

    /// Begins to look for edits made by hand.
    fn look(&mut self) -> FolderScan {
        (self.tell)(Progress::LookingForEdits);
        self.here.repo.begin_scan((!self.here.around.dry_run).then_some(self.here.lock))
    }

    /// Fetches; what came of it, and whether another command had the book meanwhile.
    fn fetch(&mut self, remote: &Remote) -> Result<Away<()>, Stop> {
        if self.asked.offline {
            return Ok((Ok(()), false));
        }
        (self.tell)(Progress::Fetching);
        let Here { repo, around, .. } = self.here;
        let (fetched, others) = self.away(|tell| repo.fetch(&around.git, remote, tell))?;
        let fetched = match fetched {
            Ok(fetched) => fetched,
            Err(error) => return Ok((Err(error), others)),
        };
        // A remote's branch only ever grows. Where it does not, somebody rewrote it or took it away.
        if let Some(before) = fetched.before {
            let kept = match fetched.after {
                // Where that cannot be told, nothing is said of it.
                Some(after) => after == before || repo.descends(after, before).unwrap_or(true),
                None => false,
            };
            if !kept {
                let there: Vec<CommitId> = fetched.after.into_iter().collect();
                // Names that no book may have keep nobody from syncing once they are gone.
                self.done.lost.extend(repo.log_of(&[before], &there, "")?.flatten());
            }
        }
        Ok((Ok(()), others))
    }

    /// Does what waits for the network, while others may have the book; whoever had it may have changed what is judged by.
    fn away<T>(
        &mut self,
        wait: impl FnOnce(Option<OnProgress<'_>>) -> Result<T, GitError>,
    ) -> Result<Away<T>, Stop> {
        let Here { repo, book, lock, around, .. } = self.here;
        let tell = &mut self.tell;
        let mut line = |line: &str| tell(Progress::Git(line));
        let shown = around.git.may_ask;
        let (waited_for, others) =
            repo.let_go_while(lock, || wait(if shown { Some(&mut line) } else { None }))?;
        if others {
            desk::settle(repo)?;
            let chain = Chain::load(book)?;
            chain::hold_to_pin(repo, &chain)?;
            let rules = rules(book, &chain)?;
            self.by = (chain, rules);
        }
        Ok((waited_for, others))
    }

    /// Commits the edits made by hand that may be taken in; where nothing is to be put in place, to no branch.
    fn take_in_edits(&mut self, folder_scan: FolderScan) -> Result<Option<CommitId>, Stop> {
        let Here { repo, book, lock, around, .. } = self.here;
        let head = repo.head()?;
        let edits = match around.dry_run {
            true => repo.changed_since(folder_scan)?,
            false => repo.changed_since_swept(lock, folder_scan)?,
        };
        if edits.is_empty() {
            return Ok(head);
        }
        let (chain, rules) = &self.by;
        let take = desk::take_in(book, chain, rules, &edits)?;
        if take.paths.is_empty() {
            return Ok(head);
        }
        let paths: Vec<&str> = take.paths.iter().map(String::as_str).collect();
        let new = NewCommit { message: &take.message, author: &self.author, at: around.moment() };
        let taken = if around.dry_run || self.unsealed.is_some() {
            repo.unmoved_commit(head, &paths, &new)?
        } else {
            repo.commit_paths(lock, &paths, &new)?
        };
        if taken.is_some() {
            let taken = edits.into_iter().filter(|edit| take.paths.contains(&edit.path));
            self.done.hand_edits.extend(taken);
        }
        Ok(taken.or(head))
    }

    /// Brings the branch to a commit that has both sides in it: merged, judged and put in place.
    fn bring_together(
        &mut self,
        ours: Option<CommitId>,
        theirs: Option<CommitId>,
    ) -> Result<Option<CommitId>, Stop> {
        let Here { repo, around, .. } = self.here;
        let Some(theirs) = theirs else { return Ok(ours) };
        let behind = match ours {
            None => true,
            Some(ours) if ours == theirs => return Ok(Some(ours)),
            // As where the remote had something more since the past that was needed came in.
            Some(ours) if repo.begins_before(ours, theirs) => return Err(GitError::Shallow.into()),
            Some(ours) => match (repo.descends(ours, theirs), repo.descends(theirs, ours)) {
                (Ok(true), _) => return Ok(Some(ours)),
                (Ok(false), Ok(behind)) => behind,
                (Err(error), _) | (_, Err(error)) => {
                    // A commit that the library cannot read is in the way: the judge says whose.
                    self.judge.admit(Some(ours), theirs).map_err(Stop::refused)?;
                    return Err(error.into());
                }
            },
        };
        let related = match ours {
            Some(ours) => behind || !repo.bases(ours, theirs)?.is_empty(),
            None => true,
        };
        if related {
            (self.tell)(Progress::Checking);
            self.judge.admit(ours, theirs).map_err(Stop::refused)?;
        }
        let without: Vec<CommitId> = ours.into_iter().collect();
        let commits = repo.log_of(&[theirs], &without, "")?.collect::<Result<Vec<_>, _>>()?;
        let (head, changes) = match ours {
            Some(ours) if !behind => {
                let merged =
                    merge::until_it_holds(repo, &mut self.judge, None, (ours, theirs), &commits, self.tell)?;
                let message = merge::message(&commits, merged.tree.opened.len());
                let new = NewCommit { message: &message, author: &self.author, at: around.moment() };
                let head = repo.store_commit(&merged.tree.after, &[ours, theirs], &new)?;
                self.done.merged = true;
                self.done.opened.extend(merged.tree.opened.into_iter().map(|(path, _)| path));
                (head, merged.changes)
            }
            _ => {
                (self.tell)(Progress::Checking);
                let changes = self.judge.state(ours, theirs, &commits)?;
                (theirs, changes)
            }
        };
        self.done.changes.extend(changes);
        self.done.commits.splice(0..0, commits);
        self.place(ours, head)?;
        Ok(Some(head))
    }

    /// Puts what was judged in place. A shop that is not sealed here is so no more: the edits that waited for that come first.
    fn place(&mut self, ours: Option<CommitId>, head: CommitId) -> Result<(), Stop> {
        let Here { repo, lock, around, .. } = self.here;
        let waited = self.unsealed.take().is_some();
        if around.dry_run {
            return Ok(());
        }
        let at = repo.head()?;
        if let Some(edits) = ours.filter(|ours| waited && at != Some(*ours)) {
            repo.move_branch_alone(lock, at, edits, "edited by hand")?;
        }
        (self.tell)(Progress::Placing);
        Ok(repo.move_branch(lock, ours, head, "sync")?)
    }

    fn refuse_unsealed(&mut self) -> Result<(), Stop> {
        self.unsealed.take().map_or(Ok(()), |faults| Err(faults.into()))
    }

    /// Sends what this clone has. Somebody may have been faster.
    fn push(&mut self, remote: &Remote, head: CommitId) -> Result<Pushed, Stop> {
        (self.tell)(Progress::Pushing);
        let Here { repo, around, .. } = self.here;
        let (pushed, _) = self.away(|tell| repo.push(&around.git, remote, head, tell))?;
        let pushed = pushed?;
        if pushed != Pushed::Race {
            self.done.pushed |= pushed == Pushed::Done;
            repo.name_branch_of_folder(remote);
            repo.follow(remote)?;
        }
        Ok(pushed)
    }
}

/// The owners' rules; as they lie there, where the shop is not as it was sealed.
fn rules(book: &BookFolder, chain: &Chain) -> Result<Rules, Vec<Fault>> {
    let shop = shop::load(book, chain);
    Ok(shop.or_else(|_| shop::read_as_it_lies(book, chain))?.rules)
}

fn random() -> u64 {
    let mut bytes = [0_u8; 8];
    // Without randomness the wait is the same on every machine, which is slower and no worse.
    let _ = getrandom::fill(&mut bytes);
    u64::from_le_bytes(bytes)
}

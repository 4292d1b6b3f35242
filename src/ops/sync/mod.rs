//! Brings this clone and its remote to the same book: check, commit, fetch, merge, check again, push.
//!
//! | file | what it holds |
//! |---|---|
//! | `checks` | what a sync asks on its way |
//! | `heard` | what people signed in commits that are not taken |
//! | `own` | this clone's own commits; taking what is refused out of them, and off the remote |
//! | [`refused`] | what stands refused, and up to where this clone has judged |
//!
#![doc = include_str!("NOTES.md")]

pub(super) mod checks;
mod heard;
mod own;

use crate::trust::refused;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use self::checks::{Checks, Ground};
pub use self::own::MadeAgain;
pub(super) use self::own::own_faults;
use self::own::{Here, author, unsent_faults};
use super::desk;
use super::layout::layout;
use super::news::{self, Event, News, Told};
use super::reading::Me;
use crate::fault::{Fault, Means};
use crate::git::{
    Bounds, ChangeKind, CommitId, Heard, LogEntry, NewCommit, Person, Progress, Repo, Snapshot, Steps as _,
    SyncError, SyncOptions, SyncSummary,
};
use crate::ids::PersonId;
use crate::model::kind::Kind;
use crate::model::question::questions;
use crate::store::{BookFolder, read};
use crate::trust::chain::{self, Chain};
use crate::trust::changed;
use crate::trust::incoming::States;
use crate::trust::refused::Refused;
use crate::trust::surroundings::Surroundings;
use crate::trust::vanished::{self, Vanished};
use crate::trust::{proof, shop};

/// How a sync is asked for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The remote by name; none for the one that the branch follows.
    pub remote: Option<String>,
    /// Leave the network alone.
    pub offline: bool,
    /// Take out of this clone's branch, and as an owner off the remote's, what does not pass.
    pub drop_refused: bool,
}

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
    let repo = Repo::open(book.root())?;
    let lock = desk::lock_settled(&repo)?;
    repo.refuse_busy()?;
    desk::refuse_lost_branch(&repo)?;
    let local = repo.clone_local_dir()?;
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
    let torn = unsent_faults(&repo, &book, &local, (&chain, &rules))?;
    if !torn.is_empty() {
        return Err(torn);
    }
    let author = author(&repo, &chain, &local, around)?;
    let mut options = SyncOptions {
        remote: asked.remote.clone(),
        dry_run: around.dry_run,
        offline: asked.offline,
        attempts: ATTEMPTS,
        author,
    };
    let ground = Ground { repo: &repo, book: &book, local: &local, around };
    let by = Some((chain, rules));
    if let Some(faults) = unsealed {
        // Somebody committed an unsealed shop past this program. Only what comes in can fix that here; unless it
        // does, nothing is sent.
        options.dry_run = true;
        let mut steps = Checks::new(ground, by.clone(), tell);
        let tried = repo.sync(&lock, &around.git, &layout(), &options, &mut steps);
        tried.map_err(|error| in_faults(error, &steps.sorted, here, asked))?;
        if !steps.holds {
            return Err(faults);
        }
        options.dry_run = around.dry_run;
    }
    let mut steps = Checks::new(ground, by, tell);
    let mut summary = match repo.sync(&lock, &around.git, &layout(), &options, &mut steps) {
        Ok(summary) => summary,
        Err(SyncError::Incoming { commits, reason }) if asked.drop_refused && blames_others(&reason) => {
            let sorted = std::mem::take(&mut steps.sorted);
            drop(steps);
            match own::drop_from_remote(here, asked, &sorted, tell)? {
                Some(made) => made_again.push(made),
                None => return Err(in_faults(SyncError::Incoming { reason, commits }, &sorted, here, asked)),
            }
            SyncSummary {
                remote: repo.remote(asked.remote.as_deref()).ok(),
                after: repo.head()?,
                pushed: !around.dry_run,
                ..SyncSummary::default()
            }
        }
        Err(error) => return Err(in_faults(error, &steps.sorted, here, asked)),
    };
    if !around.dry_run {
        let chain = Chain::load(&book)?;
        chain::hold_to_pin(&repo, &chain)?;
        refused::clear(&local)?;
        // Not what another command has committed while the network was waited for.
        if let Some(after) = summary.after {
            refused::note_judged(&local, after)?;
        }
    }
    // What the remote lost and this clone never took was refused here, or is not known to be good: it is not sent back.
    let after = summary.after;
    let (lost, gone) = std::mem::take(&mut summary.lost)
        .into_iter()
        .partition(|c| after.is_some_and(|at| repo.has_behind(at, c.id)));
    summary.lost = lost;
    let me = around.person.clone().or(Me::remembered(&local)?.map(|m| m.person));
    let asked = |path: &str| Kind::of_path(path) == Some(Kind::Conflict);
    let mut records: Vec<String> = summary.opened.iter().map(|(path, _)| path.clone()).collect();
    let came = summary.changes.iter().filter(|c| c.kind() == ChangeKind::Added && asked(&c.path));
    records.extend(came.map(|c| c.path.clone()));
    // The sync is done, whatever can be told of it.
    let questions = asked_now(&book, records);
    let news = news_between(&repo, &summary, &questions, me.as_ref(), around).unwrap_or_default();
    let after = summary.after.filter(|_| !around.dry_run);
    let vanished = vanished::came(book.root(), summary.before, after).unwrap_or_default();
    Ok(Synced { summary, made_again, gone, me, news, questions, vanished })
}

/// Judges a whole history for a clone that has seen nothing of it yet: the commit to begin with, and what stands refused
/// beyond it.
///
/// # Errors
/// Why nothing of it may be taken.
pub fn judge_whole(
    repo: &Repo,
    local: &Path,
    branch: &str,
    tip: CommitId,
    around: &Surroundings<'_>,
) -> Result<(CommitId, Option<Refused>), Vec<Fault>> {
    let book = BookFolder::at(repo.root().to_path_buf());
    let mut tell = |_: Progress<'_>| {};
    let mut steps = Checks::new(Ground { repo, book: &book, local, around }, None, &mut tell);
    let judged = steps.admit(None, tip);
    let reason = match judged.and_then(|()| repo.check_state(None, tip, &mut steps).map_err(refusal_of)) {
        Ok(()) => {
            refused::note_judged(local, tip)?;
            return Ok((tip, None));
        }
        Err(reason) if !steps.blames(&reason) => return Err(reason),
        Err(reason) => reason,
    };
    let sorted = steps.sorted.clone();
    let candidates = steps.beginning();
    let good = candidates.into_iter().filter(|id| *id != tip);
    for id in good {
        match repo.check_state(None, id, &mut steps).map_err(refusal_of) {
            Ok(()) => {
                let inspector = repo.inspector(Bounds::default());
                let rest = inspector.between(&[id], tip).unwrap_or_default();
                let last = if sorted.refused.is_empty() { rest.as_slice() } else { &[] };
                let last = last.iter().filter_map(|id| Some((*id, inspector.author(*id).ok()?.name)));
                let name = format!("origin/{branch}");
                let mut stands = Refused::of(&name, tip, &sorted, &[], &reason, &around.stamp());
                stands.and_of(last);
                refused::note_judged(local, id)?;
                return Ok((id, Some(refused::note(local, stands)?)));
            }
            Err(other) if !steps.blames(&other) => return Err(other),
            Err(_) => {}
        }
    }
    let none = Fault::trust("no-good-state", "no commit at that address passes, from the first one on")
        .fix("ask the shop's owner for the right address");
    Err([vec![none], reason].concat())
}

/// Takes over, in a clone that has just begun, the refusals that people signed in what it does not take.
///
/// # Errors
/// What git and the disk say.
pub fn hear(
    repo: &Repo,
    book: &BookFolder,
    chain: &Chain,
    theirs: CommitId,
    around: &Surroundings<'_>,
) -> Result<(), Vec<Fault>> {
    let local = repo.clone_local_dir()?;
    let lock = repo.lock()?;
    let Some(head) = repo.head()? else { return Ok(()) };
    let mut tell = |_: Progress<'_>| {};
    let mut steps = Checks::new(Ground { repo, book, local: &local, around }, None, &mut tell);
    let Some(Heard { files, message }) = steps.heard(head, theirs) else { return Ok(()) };
    // Whoever joins need not have said yet who they are.
    let author = match author(repo, chain, &local, around) {
        Ok(author) => author,
        Err(_) => Person::new("underlit", "underlit@localhost")?,
    };
    let new = NewCommit { message: &message, author: &author, at: around.moment() };
    if let Ok(Some(heard)) = repo.commit_files(head, &files, &new, &mut steps) {
        repo.move_branch(&lock, Some(head), heard, "join")?;
        refused::note_judged(&local, heard)?;
    }
    Ok(())
}

/// Why something was refused, whatever else a sync could say.
fn refusal_of(error: SyncError<Vec<Fault>>) -> Vec<Fault> {
    match error {
        SyncError::Incoming { reason, .. } => reason,
        other => faults_of(other),
    }
}

/// The questions that some records belong to, each once: the path of its first record, and the question in one line.
fn asked_now(book: &BookFolder, records: Vec<String>) -> BTreeMap<String, String> {
    let folder = |path: &str| path.rsplit_once('/').map(|(folder, _)| folder.to_owned()).unwrap_or_default();
    let folders: BTreeSet<String> = records.iter().map(|path| folder(path)).collect();
    let mut found = BTreeMap::new();
    for at in folders {
        let paths = book.files_of(&at, Kind::Conflict).unwrap_or_default();
        let read = |path: String| Some((path.clone(), read::record(book, &path, Kind::Conflict).ok()?));
        let mut there = paths.into_iter().filter_map(read).collect();
        proof::prove(book, &mut there);
        for question in questions(&there) {
            if let Some((first, _)) = question.records.first()
                && question.records.iter().any(|(path, _)| records.contains(path))
            {
                found.insert(first.clone(), question.in_words());
            }
        }
    }
    // In a dry run they are not there yet.
    if found.is_empty() {
        found.extend(records.into_iter().map(|path| (path, "both sides changed it".to_owned())));
    }
    found
}

/// What a sync did, and what that comes to.
#[derive(Clone, Debug)]
pub struct Synced {
    /// What it did.
    pub summary: SyncSummary,
    /// Branches that were made again without commits that do not pass: this clone's, the remote's.
    pub made_again: Vec<MadeAgain>,
    /// What the remote had and has no more, and this clone never took; newest first.
    pub gone: Vec<LogEntry>,
    /// Who is asking, where this clone knows.
    pub me: Option<PersonId>,
    /// What is to be told of the projects that changed, and was not before; what concerns the asking person first.
    pub news: Vec<News>,
    /// The questions that this sync opened or brought in, by the path of what is in question in each.
    pub questions: BTreeMap<String, String>,
    /// The questions that went away without an answer in what came in.
    pub vanished: Vec<Vanished>,
}

/// Beyond so many projects the board tells more than a list of news.
const MOST_PROJECTS: usize = 100;

/// What can be told of the projects that differ before and after.
fn news_between(
    repo: &Repo,
    summary: &SyncSummary,
    questions: &BTreeMap<String, String>,
    me: Option<&PersonId>,
    around: &Surroundings<'_>,
) -> Result<Vec<News>, Vec<Fault>> {
    let (Some(before), Some(after)) = (summary.before, summary.after) else { return Ok(Vec::new()) };
    if before == after || summary.changes.is_empty() {
        return Ok(Vec::new());
    }
    let (before, after) = (repo.snapshot(before)?, repo.snapshot(after)?);
    let projects = changed::projects_of(&summary.changes);
    if projects.len() > MOST_PROJECTS {
        return Ok(Vec::new());
    }
    let mut states = States::default();
    let mut told = |state: &Snapshot<'_>| -> Result<Told, Vec<Fault>> {
        let (chain, shop) = (states.chain(state)?, states.shop(state)?);
        let mut told = news::of_the_shop(&shop);
        for id in &projects {
            told.extend(news::of_project(state, (&chain, &shop), id, around)?);
        }
        Ok(told)
    };
    // A book that cannot be read as it was has no news; what came in has been checked.
    let (Ok(old), Ok(new)) = (told(&before), told(&after)) else { return Ok(Vec::new()) };
    let fresh = new.into_iter().filter(|(key, _)| !old.contains_key(key)).map(|(key, mut news)| {
        // Who asked a question is told by the history, which a state alone has not.
        let name = key.rsplit(':').next().filter(|_| news.event == Event::Question);
        let asked = name.and_then(|name| questions.iter().find(|(path, _)| path.contains(name)));
        if let Some((_, text)) = asked {
            news.text.clone_from(text);
        }
        news
    });
    let mut fresh: Vec<News> =
        fresh.filter(|news| news.event != Event::Waiting || news.concerns(me)).collect();
    fresh.sort_by_key(|news| (!news.concerns(me), news.project.clone(), news.event));
    Ok(fresh)
}

/// Why a sync stopped, in faults; a refusal of what came in is noted, so that board, status and pack show it.
fn in_faults(
    error: SyncError<Vec<Fault>>,
    sorted: &crate::trust::guard::Sorted,
    here: Here<'_>,
    asked: &Asked,
) -> Vec<Fault> {
    let (reason, commits) = match error {
        SyncError::Incoming { reason, commits } if blames_others(&reason) => (reason, commits),
        other => return faults_of(other),
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

/// True where faults are about what came in, and not about this machine, this clone's own roster, or a program that is too
/// old for a format that the owners have sealed since.
fn blames_others(faults: &[Fault]) -> bool {
    let ours = |fault: &Fault| matches!(fault.means, Means::MadeTwice | Means::OtherFormat);
    !crate::trust::guard::is_of_this_machine(faults) && !faults.iter().any(ours)
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

/// Why a sync or a merge stopped, in faults.
pub(super) fn faults_of(error: SyncError<Vec<Fault>>) -> Vec<Fault> {
    match error {
        SyncError::Git(error) => error.into(),
        SyncError::HandEdits(faults) => faults,
        SyncError::Incoming { mut reason, commits } => {
            if blames_others(&reason) {
                reason.insert(0, of_the_commits(&commits));
            }
            reason
        }
        SyncError::Unsettled { paths } => paths
            .into_iter()
            .map(|path| {
                Fault::data("merge-unsettled", "the two sides of this file cannot be merged")
                    .in_file(path)
                    .fix("put the file back to what it was on one side, and sync again")
            })
            .collect(),
    }
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

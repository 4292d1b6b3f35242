//! What a sync has to tell when it is done: the questions that it brought, and the news of the projects that changed.

use std::collections::{BTreeMap, BTreeSet};

use super::Here;
use super::again::MadeAgain;
use crate::fault::Fault;
use crate::git::{ChangeKind, CommitId, HandEdit, LogEntry, PathChange, Remote, Repo, Snapshot};
use crate::ids::PersonId;
use crate::model::kind::Kind;
use crate::model::question::questions;
use crate::ops::news::{self, Event, News, Told};
use crate::ops::reading::Me;
use crate::store::{BookFolder, read};
use crate::trust::incoming::States;
use crate::trust::surroundings::Surroundings;
use crate::trust::vanished::{self, Vanished};
use crate::trust::{changed, proof};

/// What a sync did.
#[derive(Clone, Debug, Default)]
pub struct Summary {
    /// The remote's name and branch; `None` where the book has no remote and the sync was offline.
    pub remote: Option<Remote>,
    /// The hand edits that were taken in.
    pub hand_edits: Vec<HandEdit>,
    /// HEAD before anything.
    pub before: Option<CommitId>,
    /// HEAD after all; in a dry run, what it would be.
    pub after: Option<CommitId>,
    /// The commits that came in, newest first.
    pub commits: Vec<LogEntry>,
    /// What they changed in the book.
    pub changes: Vec<PathChange>,
    /// True where both sides had something new.
    pub merged: bool,
    /// The records of the questions that a merge opened.
    pub opened: Vec<String>,
    /// True where something was sent.
    pub pushed: bool,
    /// How often somebody else was faster.
    pub races: u32,
    /// What the remote had when it was last seen and no longer has, newest first. This clone still has it.
    pub lost: Vec<LogEntry>,
}

/// What a sync did, and what that comes to.
#[derive(Clone, Debug)]
pub struct Synced {
    /// What it did.
    pub summary: Summary,
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
    /// The projects that came into a clone which holds those of whoever works in it.
    pub came_into_part: BTreeSet<String>,
}

/// What is to be told of a sync that is done.
pub(super) fn told(
    here: Here<'_>,
    mut summary: Summary,
    made_again: Vec<MadeAgain>,
) -> Result<Synced, Vec<Fault>> {
    let Here { repo, book, local, around, .. } = here;
    // What the remote lost and this clone never took was refused here, or is not known to be good: it is not sent back.
    let after = summary.after;
    let (lost, gone) = std::mem::take(&mut summary.lost)
        .into_iter()
        .partition(|c| after.is_some_and(|at| repo.has_behind(at, c.id)));
    summary.lost = lost;
    let me = Me::asking(local, around)?;
    let asked = |path: &str| Kind::of_path(path) == Some(Kind::Conflict);
    let mut records = summary.opened.clone();
    let came = summary.changes.iter().filter(|c| c.kind() == ChangeKind::Added && asked(&c.path));
    records.extend(came.map(|c| c.path.clone()));
    // The sync is done, whatever can be told of it.
    let questions = asked_now(book, records);
    let news = news_between(repo, &summary, &questions, me.as_ref(), around).unwrap_or_default();
    let after = summary.after.filter(|_| !around.dry_run);
    let vanished = vanished::came(book.root(), summary.before, after).unwrap_or_default();
    let came_into_part = BTreeSet::new();
    Ok(Synced { summary, made_again, gone, me, news, questions, vanished, came_into_part })
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

/// Beyond so many projects the board tells more than a list of news.
const MOST_PROJECTS: usize = 100;

/// What can be told of the projects that differ before and after.
fn news_between(
    repo: &Repo,
    summary: &Summary,
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

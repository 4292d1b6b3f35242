//! Brings this clone and its remote to the same book: check, commit, fetch, merge, check again, push.
//!
//! What comes in is checked as a book of its own before it takes the place of what is here: records,
//! references, the roster with its seals, and every signature. A bad push of somebody else's therefore
//! stops here with a report, and the book stays as it was.

use std::collections::BTreeSet;
use std::time::Duration;

use super::chain::{self, Chain};
use super::check;
use super::desk::{self, Me, Reading, author_of};
use super::guard;
use super::incoming::{self, States};
use super::layout::layout;
use super::news::{self, Event, News, Told};
use super::shop;
use super::surroundings::Surroundings;
use super::verify::lay_out::lay_out_projects;
use crate::fault::{Fault, Outcome};
use crate::git::{
    Bounds, ChangeKind, EntryKind, HandEdit, Incoming, Moment, Person, Progress, Repo, Snapshot, Steps,
    SyncError, SyncOptions, SyncSummary, TakeIn, Verdict,
};
use crate::model::id::{PersonId, ProjectId};
use crate::model::kind::Kind;
use crate::model::rules::Rules;
use crate::store::{BookFolder, strict_json};

/// How a sync is asked for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The remote by name; none for the one that the branch follows.
    pub remote: Option<String>,
    /// Leave the network alone.
    pub offline: bool,
}

/// How often a push is tried when others push first.
const ATTEMPTS: u32 = 12;

/// Syncs the book in which a folder lies.
///
/// # Errors
/// Everything that stands in the way, by file; nothing of this clone's work is lost in any case.
pub fn sync(
    from: &std::path::Path,
    around: &Surroundings<'_>,
    asked: &Asked,
    tell: &mut dyn FnMut(Progress<'_>),
) -> Result<Synced, Vec<Fault>> {
    let book = BookFolder::find(from)?;
    let repo = Repo::open(book.root())?;
    let lock = desk::lock_settled(&repo)?;
    let chain = Chain::load(&book)?;
    let local = repo.clone_local_dir()?;
    chain::hold_to_pin(&local, &chain)?;
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
    let torn = unsent_faults(&repo, &book, (&chain, &rules), asked)?;
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
    let mut steps =
        Checks { holds: false, repo: &repo, book: &book, chain, rules, local: &local, around, tell };
    if let Some(faults) = unsealed {
        // Somebody committed an unsealed shop past this program. Only what comes in can mend that here; unless it
        // does, nothing is sent.
        options.dry_run = true;
        repo.sync(&lock, &around.git, &layout(), &options, &mut steps).map_err(faults_of)?;
        if !steps.holds {
            return Err(faults);
        }
        options.dry_run = around.dry_run;
    }
    let summary = repo.sync(&lock, &around.git, &layout(), &options, &mut steps).map_err(faults_of)?;
    if !around.dry_run {
        let chain = Chain::load(&book)?;
        chain::hold_to_pin(&local, &chain)?;
    }
    let me = around.person.clone().or(Me::remembered(&local)?.map(|m| m.person));
    // The sync is done, whatever can be told of it.
    let news = news_between(&repo, &summary, me.as_ref(), around).unwrap_or_default();
    let asked = |path: &str| Kind::of_path(path) == Some(Kind::Conflict);
    let mut questions: Vec<String> = summary.opened.iter().map(|(path, _)| path.clone()).collect();
    let came = summary.changes.iter().filter(|c| c.kind() == ChangeKind::Added && asked(&c.path));
    questions.extend(came.map(|c| c.path.clone()));
    questions.sort();
    questions.dedup();
    Ok(Synced { summary, me, news, questions })
}

/// What a sync did, and what that comes to.
#[derive(Clone, Debug)]
pub struct Synced {
    /// What it did.
    pub summary: SyncSummary,
    /// Who is asking, where this clone knows.
    pub me: Option<PersonId>,
    /// What is to be told of the projects that changed, and was not before; what concerns the asking person first.
    pub news: Vec<News>,
    /// The records of the questions that this sync opened or brought in.
    pub questions: Vec<String>,
}

/// Beyond so many projects the board tells more than a list of news.
const MOST_PROJECTS: usize = 100;

/// What can be told of the projects that differ before and after.
fn news_between(
    repo: &Repo,
    summary: &SyncSummary,
    me: Option<&PersonId>,
    around: &Surroundings<'_>,
) -> Result<Vec<News>, Vec<Fault>> {
    let (Some(before), Some(after)) = (summary.before, summary.after) else { return Ok(Vec::new()) };
    if before == after || summary.changes.is_empty() {
        return Ok(Vec::new());
    }
    let (before, after) = (repo.snapshot(before)?, repo.snapshot(after)?);
    let projects = incoming::projects_of(&summary.changes);
    if projects.len() > MOST_PROJECTS {
        return Ok(Vec::new());
    }
    let told = |snapshot: &Snapshot<'_>| -> Result<Told, Vec<Fault>> {
        let laid = lay_out_projects(snapshot, projects.iter().map(ProjectId::as_str))?;
        let reading = Reading::open(laid.book.root())?;
        let there = projects.iter().filter(|id| laid.book.root().join(format!("projects/{id}")).exists());
        let of_projects = there.flat_map(|id| news::of_project(&reading, id, around));
        Ok(of_projects.chain(news::of_the_shop(&reading)).collect())
    };
    // A book that cannot be read as it was has no news; what came in has been checked.
    let (Ok(old), Ok(new)) = (told(&before), told(&after)) else { return Ok(Vec::new()) };
    let fresh = new.into_iter().filter(|(key, _)| !old.contains_key(key)).map(|(_, news)| news);
    let mut fresh: Vec<News> =
        fresh.filter(|news| news.event != Event::Waiting || news.concerns(me)).collect();
    fresh.sort_by_key(|news| (!news.concerns(me), news.project.clone(), news.event));
    Ok(fresh)
}

/// What is wrong with what was committed here past this program and not yet sent. What it commits itself has been checked.
fn unsent_faults(
    repo: &Repo,
    book: &BookFolder,
    (chain, rules): (&Chain, &Rules),
    asked: &Asked,
) -> Result<Vec<Fault>, Vec<Fault>> {
    let Ok(remote) = repo.remote(asked.remote.as_deref()) else { return Ok(Vec::new()) };
    let (Some(seen), Some(head)) = (repo.last_seen(&remote)?, repo.head()?) else { return Ok(Vec::new()) };
    if seen == head {
        return Ok(Vec::new());
    }
    let (before, after) = (repo.snapshot(seen)?, repo.snapshot(head)?);
    let changes = before.changes(&after, "")?;
    let changed: BTreeSet<&str> = changes.iter().map(|c| c.path.as_str()).collect();
    let strange = changes.iter().filter(|c| c.after.is_some() && Kind::of_path(&c.path).is_none());
    let mut found: Vec<Fault> = strange
        .map(|change| {
            Fault::data("not-of-a-book", "no file of that name belongs in a book")
                .in_file(&change.path)
                .mend("move it elsewhere, or rename it to what it is, and commit that; records and the files beside them have lower-case names")
        })
        .collect();
    found.extend(incoming::shop_faults(&after, &changes, Some(rules))?);
    let projects = incoming::projects_of(&changes);
    let torn = projects.iter().flat_map(|id| check::project(book, id, chain, rules));
    found.extend(torn.filter(|fault| fault.is_about(|path| changed.contains(path))));
    found.dedup();
    Ok(found)
}

fn author(repo: &Repo, chain: &Chain, local: &std::path::Path, around: &Surroundings<'_>) -> Outcome<Person> {
    let me = around.person.clone().or(Me::remembered(local)?.map(|m| m.person));
    match (me, repo.configured_person()) {
        (Some(me), _) => author_of(&me, chain, repo),
        (None, Some(person)) => Ok(person),
        (None, None) => Err(Box::new(
            Fault::usage("who-are-you", "this clone does not know who you are")
                .mend("say it once: underlit me PERSON"),
        )),
    }
}

pub(super) fn faults_of(error: SyncError<Vec<Fault>>) -> Vec<Fault> {
    match error {
        SyncError::Git(error) => error.into(),
        SyncError::HandEdits(faults) => faults,
        SyncError::Incoming { mut reason, commits } => {
            let who: BTreeSet<String> =
                commits.iter().map(|c| format!("{} ({})", c.author.name, c.id.short())).collect();
            let who: Vec<String> = who.into_iter().take(5).collect();
            reason.insert(
                0,
                Fault::trust(
                    "incoming-refused",
                    format!(
                        "what came in does not hold, and the book stays as it was, at its last good state; it was pushed by {}",
                        who.join(", ")
                    ),
                )
                .mend("tell them, and whoever keeps the remote: they put its branch back or mend it with underlit, and then you sync again; your own work is safe here"),
            );
            reason
        }
        SyncError::Unsettled { paths } => paths
            .into_iter()
            .map(|path| {
                Fault::data("merge-unsettled", "the two sides of this file cannot be brought together")
                    .in_file(path)
                    .mend("put the file back to what it was on one side, and sync again")
            })
            .collect(),
    }
}

/// The files that changed on some side and that a fault of a merge may come from: its own, and what that names beside it.
fn to_hold(fault: &Fault, after: &Snapshot<'_>, changed: &BTreeSet<&str>) -> Vec<String> {
    let Some((path, kind)) = fault.file.as_deref().and_then(|path| Some((path, Kind::of_path(path)?))) else {
        return Vec::new();
    };
    if !kind.has_schema() || kind.is_add_only() || kind == Kind::Conflict {
        return Vec::new();
    }
    let mut paths = vec![path.to_owned()];
    if fault.code.starts_with("attachment-")
        && let Ok(Some(bytes)) = after.file(path)
        && let Ok(value) = strict_json::parse(&bytes)
    {
        paths.extend(check::attached(path, kind, &value).into_iter().map(|(_, file, _)| file));
    }
    paths.retain(|path| changed.contains(path.as_str()));
    paths
}

/// True for a file that a side took out and that a question may bring back.
fn may_come_back(path: &str, changed: &BTreeSet<&str>) -> bool {
    changed.contains(path)
        && Kind::of_path(path).is_some_and(|kind| !kind.is_add_only() && kind != Kind::Conflict)
}

pub(super) struct Checks<'a> {
    /// True once what came in was found to hold.
    pub(super) holds: bool,
    pub(super) repo: &'a Repo,
    pub(super) book: &'a BookFolder,
    pub(super) chain: Chain,
    pub(super) rules: Rules,
    pub(super) local: &'a std::path::Path,
    pub(super) around: &'a Surroundings<'a>,
    pub(super) tell: &'a mut dyn FnMut(Progress<'_>),
}

impl Steps for Checks<'_> {
    type Refusal = Vec<Fault>;

    fn read_again(&mut self) -> Result<(), Vec<Fault>> {
        desk::settle(self.repo)?;
        self.chain = Chain::load(self.book)?;
        chain::hold_to_pin(self.local, &self.chain)?;
        let shop = shop::load(self.book, &self.chain);
        self.rules = shop.or_else(|_| shop::read_as_it_lies(self.book, &self.chain))?.rules;
        Ok(())
    }

    fn take_in(&mut self, edits: &[HandEdit]) -> Result<TakeIn, Vec<Fault>> {
        desk::take_in(self.book, &self.chain, &self.rules, edits)
    }

    fn check(&mut self, incoming: &Incoming<'_>) -> Result<Verdict, Vec<Fault>> {
        let mut faults = Vec::new();
        for change in incoming.changes {
            match Kind::of_path(&change.path) {
                None => faults.push(
                    Fault::data("not-of-a-book", "no file of that name belongs in a book")
                        .in_file(&change.path)
                        .mend("let whoever pushed it take it out"),
                ),
                Some(kind) if kind.is_add_only() && change.kind() != ChangeKind::Added => faults.push(
                    Fault::trust("add-only", "this file is never changed or taken out once it is there")
                        .in_file(&change.path)
                        .mend("let whoever pushed it put it back"),
                ),
                Some(_)
                    if change
                        .after
                        .is_some_and(|e| matches!(e.kind, EntryKind::Link | EntryKind::Submodule)) =>
                {
                    faults.push(
                        Fault::data(
                            "not-a-file",
                            "this is a link or another repository, and a book holds only ordinary files",
                        )
                        .in_file(&change.path)
                        .mend("let whoever pushed it put the file itself there"),
                    );
                }
                Some(_) => {}
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        // A last state that holds may hide a history that does not: an approval that a merge left out, a move that
        // was made while its gate was shut.
        let inspector = self.repo.inspector(Bounds::default());
        guard::judge_history(&inspector, incoming.ours, incoming.theirs)
            .map_err(|found| found.into_iter().map(guard::Finding::into_fault).collect::<Vec<_>>())?;
        let mut states = States::default();
        let chain = states.chain(incoming.after)?;
        chain::compare_with_pin(self.local, &chain)?;
        let theirs = self.repo.snapshot(incoming.theirs)?;
        if incoming.merge.is_some() {
            let stand = incoming::as_sealed(incoming.after, &chain, &theirs)?;
            if !stand.is_empty() {
                return Ok(Verdict::Stand(stand));
            }
        }
        let rules = &states.shop(incoming.after)?.rules;
        let mut found = incoming::shop_faults(incoming.after, incoming.changes, Some(rules))?;
        for id in incoming::projects_of(incoming.changes) {
            found.extend(incoming::project_faults(incoming.after, &id, &chain, rules)?);
        }
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
        let asked =
            |path: &str| incoming.merge.is_some_and(|m| m.opened.iter().any(|(_, open)| open.path == path));
        let held: Vec<Vec<String>> = found
            .iter()
            .map(|fault| match (&fault.file, &fault.other) {
                // It keeps its base already, and names what a side took out: that comes back too.
                (Some(file), Some(other)) if asked(file) && may_come_back(other, &changed) => {
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
        self.around.moment()
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

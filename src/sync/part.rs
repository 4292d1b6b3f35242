//! A clone that holds a part of the book, made larger or smaller. What comes into it is judged with its whole history
//! before any file of it is laid out, and what goes out of it must have been sent.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use jiff::civil::Date;
use serde::Deserialize;
use serde_json::Value;

use super::judge::Judge;
use super::stop::Stop;
use crate::fault::{Fault, Outcome};
use crate::git::{CommitId, GitError, Held, Part, Remote, Repo};
use crate::ids::PersonId;
use crate::ops::desk;
use crate::ops::reading::Me;
use crate::store::{BookFiles as _, BookFolder};
use crate::trust::chain::Chain;
use crate::trust::surroundings::Surroundings;
use crate::trust::{noted, refused};
use crate::words::{counted, instead_of};

/// Which projects of a book are wanted in a clone.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wanted {
    /// Projects by name; `*` stands for any letters.
    pub projects: Vec<String>,
    /// Every project that names whoever works in the clone, from now on.
    pub mine: bool,
    /// Projects that are not wanted any more.
    pub drop: Vec<String>,
    /// The whole book, with its whole history.
    pub whole: bool,
    /// The history from before the day on which it begins here.
    pub past: bool,
}

impl Wanted {
    /// True where nothing is said: a clone of the whole book, or the part as it is.
    #[must_use]
    pub(crate) fn is_nothing(&self) -> bool {
        self.projects.is_empty() && !self.mine && self.drop.is_empty() && !self.whole && !self.past
    }
}

/// What became of the part that a clone holds.
#[derive(Clone, Debug, Default)]
pub(crate) struct Changed {
    /// How much it holds; none where it holds the whole book.
    pub held: Option<Held>,
    /// The projects that it holds, by name.
    pub projects: BTreeSet<String>,
    /// What came into it.
    pub added: BTreeSet<String>,
    /// What went out of it.
    pub dropped: BTreeSet<String>,
    /// The day from before which history came into it.
    pub past: Option<Date>,
}

/// What a project's record says of who works on it.
#[derive(Deserialize)]
struct People {
    people: std::collections::BTreeMap<String, Value>,
}

/// True where a pattern with `*` for any letters fits a name.
fn fits(pattern: &str, name: &str) -> bool {
    match pattern.split_once('*') {
        None => pattern == name,
        Some((before, rest)) => name.strip_prefix(before).is_some_and(|left| {
            left.char_indices().map(|(at, _)| at).chain([left.len()]).any(|at| fits(rest, &left[at..]))
        }),
    }
}

/// The projects that some patterns name, each of which has to name one.
fn named(patterns: &[String], all: &BTreeSet<String>) -> Outcome<BTreeSet<String>> {
    let mut found = BTreeSet::new();
    for pattern in patterns {
        let before = found.len();
        found.extend(all.iter().filter(|name| fits(pattern, name)).cloned());
        if found.len() == before && !all.iter().any(|name| fits(pattern, name)) {
            let near = instead_of(pattern, all.iter().map(String::as_str), "the book has no project yet");
            let message = format!("there is no project {pattern} in this book");
            return Err(Box::new(Fault::usage("unknown-project", message).fix(near)));
        }
    }
    Ok(found)
}

/// The projects among some that name a person in their record.
fn of_person(
    repo: &Repo,
    commit: CommitId,
    among: &BTreeSet<String>,
    me: &PersonId,
    around: &Surroundings<'_>,
) -> Result<BTreeSet<String>, Vec<Fault>> {
    let read = repo.file_of_each(&around.git, commit, among, "project.json")?;
    let names = |bytes: &[u8]| {
        let people = serde_json::from_slice::<People>(bytes).map(|record| record.people).unwrap_or_default();
        people.values().any(|person| person.as_str() == Some(me.as_str()))
    };
    Ok(read.into_iter().filter(|(_, bytes)| names(bytes)).map(|(name, _)| name).collect())
}

/// The projects that are wanted, of those that a commit has.
///
/// # Errors
/// `unknown-project`, `who-are-you`, and what git says.
pub(super) fn wanted(
    repo: &Repo,
    commit: CommitId,
    wanted: &Wanted,
    me: Option<&PersonId>,
    around: &Surroundings<'_>,
) -> Result<BTreeSet<String>, Vec<Fault>> {
    let all = repo.projects_at(Some(commit))?;
    let mut found = named(&wanted.projects, &all)?;
    if wanted.mine {
        let me = me.ok_or_else(|| {
            let fault = Fault::usage("who-are-you", "nobody said whose projects are meant");
            Box::new(fault.fix("say who you are: --me PERSON"))
        })?;
        found.extend(of_person(repo, commit, &all, me, around)?);
    }
    Ok(found)
}

/// Makes the part that a clone holds larger or smaller; with nothing wanted, puts folder and list right.
///
/// # Errors
/// `unknown-project`; `part-unsent` where something that would go out was not sent; what does not pass of what would
/// come in; what git says. The part is then as it was.
pub(crate) fn change(from: &Path, around: &Surroundings<'_>, asked: &Wanted) -> Result<Changed, Vec<Fault>> {
    let book = BookFolder::find(from)?;
    let mut repo = Repo::open(book.root())?;
    let _lock = desk::lock_settled(&repo)?;
    repo.refuse_operation()?;
    let local = repo.clone_local_dir()?;
    let Some(head) = repo.head()? else {
        return Err(GitError::NoSuchCommit { text: "HEAD".into() }.into());
    };
    let all = repo.projects_at(Some(head))?;
    let noted = repo.noted_part();
    let (before, laid_out) = match &noted {
        Some((part, laid_out)) => (part.clone(), laid_out.clone()),
        None => {
            let history_from = repo.history_from(head)?;
            (Part { projects: all.clone(), mine: false, history_from }, all.clone())
        }
    };
    let names_some = asked.mine || !asked.projects.is_empty();
    let whole = asked.whole || (noted.is_none() && !names_some && asked.drop.is_empty());
    let past = before.history_from.filter(|_| asked.past || asked.whole);
    if noted.is_none() && whole && past.is_none() {
        repo.refuse_busy()?;
        return Ok(Changed { held: None, projects: all, ..Changed::default() });
    }
    let me = Me::asking(&local, around)?;
    if let Some(me) = &me {
        let chain = Chain::load(&book)?;
        if chain.newest().person(me).is_none() {
            return Err(vec![chain.newest().unknown(me)]);
        }
    }
    let chosen = wanted(&repo, head, asked, me.as_ref(), around)?;
    let mut after = Part { projects: chosen, mine: before.mine || asked.mine, ..before.clone() };
    // In a clone of the whole book, what is named is what is kept.
    if noted.is_some() || !names_some {
        after.projects.extend(before.projects.union(&laid_out).cloned());
    }
    for name in named(&asked.drop, &after.projects)? {
        after.projects.remove(&name);
    }
    if whole {
        after.projects.clone_from(&all);
    }
    let added: BTreeSet<String> = after.projects.difference(&before.projects).cloned().collect();
    let here: BTreeSet<String> = before.projects.union(&laid_out).cloned().collect();
    let dropped: BTreeSet<String> = here.difference(&after.projects).cloned().collect();
    for name in &dropped {
        refuse_unsent(&repo, &book, name, head)?;
    }
    if around.dry_run {
        return Ok(Changed { held: repo.held()?, projects: after.projects, added, dropped, past });
    }
    if past.is_some() {
        let remote = repo.remote(None)?;
        repo = repo.with_whole_past(&around.git, &remote)?;
        after.history_from = None;
    }
    let part = (!whole).then_some(after);
    if !added.is_empty() || whole || past.is_some() {
        repo.look_through(part.clone());
        let brought = repo.bring(&around.git, &[head], &[]).map_err(Vec::from);
        brought.and_then(|()| hold(&repo, &local, head)).inspect_err(|_| repo.look_through(None))?;
    }
    repo.lay_out(&around.git, part.as_ref(), head)?;
    for name in &dropped {
        // Git leaves a folder that it emptied while somebody stands in it.
        let _ = fs::remove_dir(repo.root().join("projects").join(name));
    }
    if whole {
        repo.end_partial()?;
    }
    repo.note_part(&around.git, part.as_ref())?;
    // What was seen and judged of another part says nothing of this one.
    for note in ["folder", "passed", "checked", "verdicts.json", "no-question-missing"] {
        let _ = fs::remove_file(local.join(note));
    }
    let projects = part.map_or(all, |part| part.projects);
    Ok(Changed { held: repo.held()?, projects, added, dropped, past })
}

/// Judges a part with all its history that is here, before it is laid out.
fn hold(repo: &Repo, local: &Path, head: CommitId) -> Result<(), Vec<Fault>> {
    let mut judge = Judge::new(repo, local);
    let judged = judge.admit(None, head).and_then(|()| judge.state(None, head, &[]).map_err(Stop::reason));
    if let Err(reason) = judged {
        let first = Fault::trust(
            "part-refused",
            "what would come into this clone does not pass; the part that it holds stays as it was",
        )
        .fix("name other projects, or ask an owner to take what is wrong off the remote: underlit sync --drop-refused");
        return Err([vec![first], reason].concat());
    }
    Ok(refused::note_judged(local, head)?)
}

/// Refuses to let a project go of which this clone has something that nobody else has.
fn refuse_unsent(repo: &Repo, book: &BookFolder, name: &str, head: CommitId) -> Result<(), Vec<Fault>> {
    let folder = format!("projects/{name}");
    let unsent = |why: String, fix: &str| {
        vec![
            Fault::usage("part-unsent", format!("{name} cannot go out of this clone: {why}"))
                .in_file(&folder)
                .fix(fix),
        ]
    };
    let edits = repo.changed_paths(&folder)?;
    if !edits.is_empty() {
        let edits = counted(edits.len(), "file is", "files are");
        return Err(unsent(
            format!("{edits} edited and not committed"),
            "underlit sync sends it; then run this again",
        ));
    }
    let seen = repo.remote(None).and_then(|remote| repo.last_seen(&remote)).ok().flatten();
    let Some(seen) = seen else {
        return Err(unsent("no remote has it".to_owned(), "underlit sync sends it; then run this again"));
    };
    if repo.log_of(&[head], &[seen], &folder)?.next().is_some() {
        return Err(unsent(
            "a commit of it is not sent yet".to_owned(),
            "underlit sync sends it; then run this again",
        ));
    }
    let committed: BTreeSet<String> =
        repo.head_snapshot()?.files(&folder)?.into_iter().map(|file| file.path).collect();
    let (lying, _) = book.walk(&folder);
    if let Some(own) = lying.into_iter().find(|path| !committed.contains(path)) {
        return Err(unsent(
            format!("{own} lies in its folder and is in no commit"),
            "move that file out of the book; then run this again",
        ));
    }
    Ok(())
}

/// Refuses to send what this clone changed, past this program, in projects that it does not hold and so cannot judge.
pub(super) fn refuse_outside(
    repo: &Repo,
    remote: Option<&Remote>,
    head: Option<CommitId>,
) -> Result<(), Vec<Fault>> {
    let seen = remote.map(|remote| repo.last_seen(remote)).transpose()?.flatten();
    let (Some(seen), Some(head)) = (seen, head) else { return Ok(()) };
    let of = |(commit, name): (CommitId, String)| {
        let message = format!(
            "commit {} of this clone, which is not sent yet, changes the project {name}, which this clone does not hold and cannot check; nothing was sent",
            commit.short()
        );
        let fix = format!(
            "take it into this clone, where it is checked: underlit part --project {name}; then sync again"
        );
        Fault::trust("part-outside", message).in_file(format!("projects/{name}")).fix(fix)
    };
    let found: Vec<Fault> = repo.own_outside(&[seen], head)?.into_iter().map(of).collect();
    if found.is_empty() { Ok(()) } else { Err(found) }
}

/// Says of a project that is unknown here where it is: in the book, and not in the part that this clone holds.
#[must_use]
pub(crate) fn not_held(from: &Path, faults: Vec<Fault>) -> Vec<Fault> {
    if !faults.iter().any(|fault| fault.code == "unknown-project") {
        return faults;
    }
    let others = || {
        let repo = Repo::open(BookFolder::find(from).ok()?.root()).ok()?;
        let part = repo.part()?;
        let all = repo.projects_at(repo.head().ok()?).ok()?;
        Some(all.into_iter().filter(|name| !part.projects.contains(name)).collect::<Vec<_>>())
    };
    let others = others().unwrap_or_default();
    let told = |fault: Fault| match others.iter().find(|name| fault.message.contains(&format!(" {name} "))) {
        Some(name) if fault.code == "unknown-project" => Fault::usage(
            "not-in-this-part",
            format!("the project {name} is in the book, and this clone does not hold it"),
        )
        .fix(format!("take it into this clone: underlit part --project {name}")),
        _ => fault,
    };
    faults.into_iter().map(told).collect()
}

/// The name of the note up to which commit projects were looked through for those of whoever works here.
const LOOKED: &str = "part-looked";

/// After a sync: where a clone holds the projects of whoever works in it, those that name them since the last look come
/// into it.
///
/// # Errors
/// As [`change`].
pub(super) fn grow(
    from: &Path,
    repo: &Repo,
    me: Option<&PersonId>,
    around: &Surroundings<'_>,
) -> Result<BTreeSet<String>, Vec<Fault>> {
    let none = Ok(BTreeSet::new());
    let (Some((part, _)), Some(head), Some(me)) = (repo.noted_part(), repo.head()?, me) else { return none };
    if !part.mine {
        return none;
    }
    let local = repo.clone_local_dir()?;
    let looked = noted::commit(&local, LOOKED).filter(|id| repo.has_commit(*id));
    let changed = repo.projects_changed(looked, head)?;
    let new = changed.into_iter().filter(|name| !part.projects.contains(name)).collect();
    let mine = of_person(repo, head, &new, me, around)?;
    if !mine.is_empty() {
        change(from, around, &Wanted { projects: mine.iter().cloned().collect(), ..Wanted::default() })?;
    }
    noted::note(&local, LOOKED, head)?;
    Ok(mine)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_star_stands_for_any_letters() {
        for (pattern, name, expected) in [
            ("quay-bar", "quay-bar", true),
            ("quay-bar", "quay-bars", false),
            ("quay-*", "quay-bar", true),
            ("quay-*", "quay-", true),
            ("*-bar", "quay-bar", true),
            ("q*y*r", "quay-bar", true),
            ("q*z*r", "quay-bar", false),
            ("*", "", true),
            ("", "a", false),
        ] {
            assert_eq!(fits(pattern, name), expected, "{pattern} {name}");
        }
    }
}

//! What stands refused in this clone: kept in `.git/underlit/refused.json` from the sync that refused it to the one that
//! finds nothing to refuse, so that board, status and pack can say it meanwhile. And up to which commit this clone has
//! judged everything, in `.git/underlit/judged`.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::guard::{self, Sorted};
use super::noted;
use crate::fault::{Class, Fault, Means, Outcome};
use crate::git::{Bounds, CommitId, LogEntry, Repo};
use crate::store::{BookFolder, safe_path, write};

/// A refusal that stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refused {
    /// The remote and its branch.
    pub remote: String,
    /// The commit that the branch stands at there.
    pub tip: String,
    /// Since when it is refused here, RFC 3339.
    pub since: String,
    /// The commits that do not pass.
    pub commits: Vec<Whose>,
    /// Why.
    #[serde(rename = "reasons", alias = "why")]
    pub why: Vec<Why>,
    /// True where this clone's own branch holds these commits, taken past this program.
    #[serde(default)]
    pub here: bool,
    /// True where what people signed does not hold, and false where only records or files do not pass.
    #[serde(default)]
    pub of_trust: bool,
}

/// A commit with its author, as it says itself.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Whose {
    /// The commit.
    pub commit: String,
    /// Who made it, as it says itself.
    pub who: String,
}

/// One reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Why {
    /// The stable word.
    pub code: String,
    /// The file.
    pub file: Option<String>,
    /// The sentence.
    pub message: String,
}

/// How many reasons are kept.
const MOST_REASONS: usize = 20;

impl Refused {
    /// What is refused, from what the judge said of each commit and, where only the last state does not pass, from the
    /// commits that touch the files in question.
    #[must_use]
    pub(crate) fn of(
        remote: &str,
        tip: CommitId,
        sorted: &Sorted,
        commits: &[LogEntry],
        faults: &[Fault],
        now: &str,
    ) -> Self {
        let whose = |id: CommitId, who: &str| Whose { commit: id.to_string(), who: who.to_owned() };
        let found = sorted.refused.iter().filter_map(|f| f.commit.as_ref());
        let mut all: Vec<Whose> = Vec::new();
        for place in found {
            let one = whose(place.commit, &place.by);
            if !all.contains(&one) {
                all.push(one);
            }
        }
        if all.is_empty() {
            let files: BTreeSet<&str> =
                faults.iter().flat_map(|f| [&f.file, &f.other]).flatten().map(String::as_str).collect();
            let touching =
                |c: &&LogEntry| c.changes.iter().any(|change| files.contains(change.path.as_str()));
            all.extend(commits.iter().filter(touching).map(|c| whose(c.id, &c.author.name)));
        }
        if all.is_empty() {
            all.extend(commits.iter().map(|c| whose(c.id, &c.author.name)));
        }
        let why =
            |f: &Fault| Why { code: f.code.to_owned(), file: f.file.clone(), message: f.message.clone() };
        Refused {
            remote: remote.to_owned(),
            tip: tip.to_string(),
            since: now.to_owned(),
            commits: all,
            why: faults.iter().take(MOST_REASONS).map(why).collect(),
            here: false,
            of_trust: faults.iter().any(|fault| fault.class == Class::Trust),
        }
    }

    /// Names commits besides, each with its author.
    pub(crate) fn and_of(&mut self, commits: impl IntoIterator<Item = (CommitId, String)>) {
        let named = commits.into_iter().map(|(id, who)| Whose { commit: id.to_string(), who });
        self.commits.extend(named.collect::<Vec<_>>());
    }

    /// The commits with their authors, in a few words.
    #[must_use]
    pub(crate) fn whose_in_words(&self) -> String {
        let one = |w: &Whose| format!("{} by {}", w.commit.get(..10).unwrap_or(&w.commit), w.who);
        let mut named: Vec<String> = self.commits.iter().take(5).map(one).collect();
        let more = self.commits.len().saturating_sub(named.len());
        if more > 0 {
            named.push(format!("{more} more"));
        }
        named.join(", ")
    }

    /// What this clone's own branch holds, as a fault.
    #[must_use]
    pub(crate) fn fault(&self) -> Fault {
        let message = format!(
            "this clone's own branch has changes that do not pass ({}), taken without underlit, as with `git pull`",
            self.whose_in_words()
        );
        let class = if self.of_trust { Class::Trust } else { Class::Data };
        Fault::new(class, HERE, message).that_means(Means::Whose).fix("underlit sync says what to do")
    }

    /// The whole of it in a sentence, with what is to be done.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let since = self.since.get(..16).unwrap_or(&self.since).replace('T', " ");
        let plural = if self.commits.len() == 1 { "commit" } else { "commits" };
        let why = self.why.first().map_or_else(String::new, |w| {
            let file = w.file.as_ref().map_or_else(String::new, |file| format!("{file}: "));
            format!(": {file}{} [{}]", w.message, w.code)
        });
        if self.here {
            return format!(
                "this clone's own branch has {plural} {}, taken without underlit, as with `git pull`, which \
                 does not pass{why}. Fix: underlit sync, which says what to do",
                self.whose_in_words()
            );
        }
        format!(
            "sync is refused since {since} UTC: {} has {plural} {}, which this clone rejects{why}. Fix: an \
             owner runs `underlit sync --drop-refused`",
            self.remote,
            self.whose_in_words()
        )
    }
}

const FILE: &str = "refused.json";

/// What stands refused in a clone, for whoever reads its book: what its own branch holds, else what was noted of the remote,
/// unless another git has brought in since what the remote has, without the commits in question.
#[must_use]
pub(crate) fn standing_here(repo: &Repo) -> Option<Refused> {
    let local = repo.clone_local_dir().ok()?;
    let noted = standing(&local);
    let Ok(Some(head)) = repo.head() else { return noted };
    let holds = |whose: &Whose| whose.commit.parse().is_ok_and(|id| repo.has_behind(head, id));
    match noted {
        Some(noted) if noted.commits.iter().any(holds) => Some(Refused { here: true, ..noted }),
        None | Some(Refused { here: true, .. }) => taken_past(repo, &local, head),
        Some(noted) => {
            let seen = repo.remote(None).ok().and_then(|remote| repo.last_seen(&remote).ok()?);
            let over = seen.is_some_and(|seen| repo.has_behind(head, seen));
            taken_past(repo, &local, head).or((!over).then_some(noted))
        }
    }
}

/// What this clone's branch holds that was taken past this program since it last judged, as by `git pull`, and that does
/// not pass in its history. A clone that never judged has no such beginning: its first sync goes through everything.
fn taken_past(repo: &Repo, local: &Path, head: CommitId) -> Option<Refused> {
    let judged = judged(repo, local)?;
    let passed = noted::commit(local, PASSED)
        .filter(|at| repo.has_commit(*at) && repo.has_behind(head, *at) && repo.has_behind(*at, judged));
    let from = passed.unwrap_or(judged);
    if from == head {
        return None;
    }
    let sorted = guard::sort_history(&repo.inspector(Bounds::default()), &[from], head).ok()?;
    let why: Vec<Fault> = sorted.refused.iter().map(|found| found.clone().into_fault()).collect();
    if why.is_empty() {
        // Only a shorter way for the next look.
        let _ = noted::note(local, PASSED, head);
        return None;
    }
    Some(Refused { here: true, ..Refused::of("HEAD", head, &sorted, &[], &why, "") })
}

/// The name of the note up to which the history of the branch was seen to pass, by whoever reads the book. Sync goes by what
/// it judged itself, which is more than the history.
const PASSED: &str = "passed";

/// Says first whose commits brought what is wrong, and which, where somebody took them past this program and did not edit
/// the files since. Whoever pulls with git itself is told of the commit, and not only of the file.
#[must_use]
pub(crate) fn told_whose(from: &Path, faults: Vec<Fault>) -> Vec<Fault> {
    let of_the_book = |fault: &Fault| matches!(fault.class, Class::Data | Class::Trust);
    if !faults.iter().any(of_the_book) || faults.iter().any(|fault| fault.means == Means::Whose) {
        return faults;
    }
    let whose = || -> Option<Fault> {
        let repo = Repo::open(BookFolder::find(from).ok()?.root()).ok()?;
        if let Some(refused) = standing_here(&repo).filter(|refused| refused.here) {
            return Some(refused.fault());
        }
        let head = repo.head().ok()??;
        let judged = judged(&repo, &repo.clone_local_dir().ok()?).filter(|judged| *judged != head)?;
        let edited: BTreeSet<String> =
            repo.changed_paths("").ok()?.into_iter().map(|edit| edit.path).collect();
        let files =
            faults.iter().filter(|fault| of_the_book(fault)).flat_map(|f| [&f.file, &f.other]).flatten();
        let files: BTreeSet<&str> =
            files.map(String::as_str).filter(|file| !edited.contains(*file)).collect();
        let commits = repo.log_of(&[head], &[judged], "").ok()?.filter_map(Result::ok);
        let touching = |c: &LogEntry| c.changes.iter().any(|change| files.contains(change.path.as_str()));
        let commits: Vec<LogEntry> = commits.filter(touching).collect();
        let class = faults.iter().map(|fault| fault.class).max()?;
        let stands = Refused::of("HEAD", head, &Sorted::default(), &commits, &[], "");
        let message = format!(
            "what stands below came with {}, which underlit has not judged yet",
            stands.whose_in_words()
        );
        let fault = Fault::new(class, HERE, message)
            .that_means(Means::Whose)
            .fix("fix the files here, or take the commit out: underlit sync --drop-refused");
        (!commits.is_empty()).then_some(fault)
    };
    whose().into_iter().chain(faults).collect()
}

/// The code of what this clone's own branch holds and does not pass.
pub(crate) const HERE: &str = "refused-here";

/// What is noted as refused in a clone; none where nothing is, or where the note cannot be read.
#[must_use]
pub(crate) fn standing(clone_local: &Path) -> Option<Refused> {
    serde_json::from_slice(&fs::read(clone_local.join(FILE)).ok()?).ok()
}

/// Notes a refusal. One that stands already for one of the same commits keeps its beginning.
///
/// # Errors
/// What the disk says.
pub(crate) fn note(clone_local: &Path, mut refused: Refused) -> Outcome<Refused> {
    if let Some(before) = standing(clone_local)
        && before.commits.iter().any(|c| refused.commits.contains(c))
    {
        refused.since = before.since;
    }
    let bytes = write::to_bytes(&refused)?;
    write::write_whole(&clone_local.join(FILE), &bytes)
        .map_err(|e| Box::new(safe_path::io_fault(".git/underlit/refused.json", "write", &e)))?;
    Ok(refused)
}

/// Nothing stands refused any more.
///
/// # Errors
/// What the disk says.
pub(crate) fn clear(clone_local: &Path) -> Outcome<()> {
    match fs::remove_file(clone_local.join(FILE)) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
            Err(Box::new(safe_path::io_fault(".git/underlit/refused.json", "remove", &e)))
        }
        _ => Ok(()),
    }
}

/// Up to which commit this clone has judged everything; none where it never did, or where that commit is not here.
#[must_use]
pub(crate) fn judged(repo: &Repo, clone_local: &Path) -> Option<CommitId> {
    noted::commit(clone_local, JUDGED).filter(|id| repo.has_commit(*id))
}

/// Notes that everything up to a commit was judged and may stand.
///
/// # Errors
/// What the disk says.
pub(crate) fn note_judged(clone_local: &Path, commit: CommitId) -> Outcome<()> {
    noted::note(clone_local, JUDGED, commit)
}

/// The name of that note.
const JUDGED: &str = "judged";

//! A history that is cut off: a clone that holds it from some day on, and git's word for it is shallow. Where it begins,
//! what can be told of the commits there, and how more of it is had.
//!
//! Of a commit at which the history here begins nobody can tell what it changed: everything lies there that was ever
//! made before it. The library reads where that is when it opens a repository, so that one opened before git fetched
//! more of the past has to be opened anew.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;

use super::raw_commit::raw;
use super::user_git::remote_failure;
use super::{CommitId, GitError, Remote, Repo, UserGit};

/// How many commits before its beginning a history is made longer by, when something that came in began earlier; then all.
const LONGER_BY: [&str; 2] = ["--deepen=200", "--deepen=2000"];

/// True for a commit at which the history is cut off: it names commits before it, and the library shows none of them.
pub(super) fn is_cut_off(git: &git2::Repository, commit: &git2::Commit<'_>) -> bool {
    commit.parent_count() == 0
        && git.is_shallow()
        && raw(git, CommitId(commit.id())).is_ok_and(|commit| !commit.parents.is_empty())
}

/// What a remote says whose commits are all older than those that it is asked for.
const NONE_SO_NEW: &str = "no commits selected for shallow requests";

/// True where a remote had nothing so new as what it was asked for.
pub(super) fn is_all_older(error: &GitError) -> bool {
    let (GitError::Network { words, .. } | GitError::GitFailed { words, .. }) = error else { return false };
    words.contains(NONE_SO_NEW)
}

/// The words by which git fetches the history from a day on. It takes days of other years for today.
pub(super) fn since(day: Date) -> String {
    let day = day.clamp(Date::constant(1970, 1, 2), Date::constant(2099, 12, 31));
    format!("--shallow-since={day}T00:00:00Z")
}

fn since_second(at: Timestamp) -> String {
    format!("--shallow-since={}", at.strftime("%Y-%m-%dT%H:%M:%SZ"))
}

impl Repo {
    /// The day from which on the history behind a commit is here; none where all of it is.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn history_from(&self, tip: CommitId) -> Result<Option<Date>, GitError> {
        Ok(self.oldest(tip)?.map(|at| Offset::UTC.to_datetime(at).date()))
    }

    /// When the oldest commit behind one was made; none where all of the history is here.
    fn oldest(&self, tip: CommitId) -> Result<Option<Timestamp>, GitError> {
        if !self.is_shallow() {
            return Ok(None);
        }
        let (mut oldest, mut whole) = (i64::MAX, true);
        for commit in self.behind(&[], tip) {
            let commit = commit?;
            oldest = oldest.min(commit.time().seconds());
            whole &= !is_cut_off(&self.git, &commit);
        }
        Ok(Timestamp::from_second(oldest).ok().filter(|_| !whole))
    }

    fn behind(
        &self,
        without: &[CommitId],
        tip: CommitId,
    ) -> impl Iterator<Item = Result<git2::Commit<'_>, GitError>> {
        let walk = || {
            let mut walk = self.git.revwalk()?;
            walk.push(tip.0)?;
            without.iter().try_for_each(|id| walk.hide(id.0))?;
            Ok::<_, git2::Error>(walk)
        };
        let (walk, error) = match walk() {
            Ok(walk) => (Some(walk), None),
            Err(error) => (None, Some(Err(error.into()))),
        };
        let found = walk.into_iter().flatten().map(|id| Ok(self.git.find_commit(id?)?));
        error.into_iter().chain(found)
    }

    /// True where the history is cut off and something of what `theirs` has behind it and `ours` has not began before that:
    /// what the two have in common cannot be seen here.
    pub(crate) fn begins_before(&self, ours: CommitId, theirs: CommitId) -> bool {
        let begins = |commit: Result<git2::Commit<'_>, GitError>| commit.is_ok_and(|c| c.parent_count() == 0);
        self.is_shallow() && self.behind(&[ours], theirs).any(begins)
    }

    /// This repository, where its history is cut off, with as much more of it as what the remote has now needs to be held
    /// against it: somebody may have worked on since before that day. What was known of the remote stays as it is.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn with_needed_past(self, user: &UserGit, remote: &Remote) -> Result<Repo, GitError> {
        let (true, Some(head)) = (self.is_shallow(), self.head()?) else { return Ok(self) };
        // What was fetched before would be cut off by a later time, and grow by an earlier one.
        let as_long = self.oldest(head)?.map(since_second);
        let branch = format!("refs/heads/{}", remote.branch);
        let mut repo = self;
        let steps = as_long.iter().map(String::as_str).chain(LONGER_BY).chain(["--unshallow"]);
        for step in steps {
            match repo.fetch_past(user, &remote.name, step, &branch) {
                // The clock of whoever made the last commit was wrong.
                Err(error) if is_all_older(&error) => continue,
                // Whatever keeps it from being fetched is told by the fetch that follows.
                Err(_) => return Ok(repo),
                Ok(()) => {}
            }
            repo = Repo::open(repo.root())?;
            let theirs = repo.git.refname_to_id("FETCH_HEAD").map(CommitId);
            if theirs.is_ok_and(|theirs| !repo.begins_before(head, theirs)) {
                break;
            }
        }
        Ok(repo)
    }

    /// This repository with all of its history, from where it was fetched.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn with_whole_past(self, user: &UserGit, remote: &Remote) -> Result<Repo, GitError> {
        if !self.is_shallow() {
            return Ok(self);
        }
        self.fetch_past(user, &remote.name, "--unshallow", &format!("refs/heads/{}", remote.branch))?;
        Repo::open(self.root())
    }

    /// Fetches commits and folders, and moves no name.
    fn fetch_past(&self, user: &UserGit, remote: &str, how: &str, branch: &str) -> Result<(), GitError> {
        let mut args = vec!["fetch", how, "--refmap=", "--no-tags", "--no-auto-maintenance"];
        args.extend(["--recurse-submodules=no", "--progress", "--", remote, branch]);
        let ended = user.run_to(remote, self.root(), &args, None)?;
        if ended.ok { Ok(()) } else { Err(remote_failure(remote, "fetch", &ended.stderr)) }
    }
}

//! The steps of a sync in their order, in a book of which nobody judges what comes in: for tests and measurements of the
//! steps themselves. The order that people get, with its judge, is in `src/sync`.

use std::path::PathBuf;
use std::time::Duration;

use underlit::git::{
    BookLock, CommitId, FolderScan, GitError, HandEdit, LogEntry, Moment, NewCommit, PathChange, Person,
    Pushed, Remote, Repo, UserGit,
};
use underlit::merge::{Keep, Layout};
use underlit::model::conflict::Conflict;

use crate::dice::Dice;

/// How these people sync.
#[derive(Default)]
pub(crate) struct Options {
    pub(crate) remote: Option<String>,
    pub(crate) dry_run: bool,
    pub(crate) offline: bool,
    pub(crate) attempts: u32,
    /// Files that a merge keeps as they were, and asks about.
    pub(crate) held: &'static [&'static str],
}

/// What a sync did.
#[derive(Debug, Default)]
pub(crate) struct Done {
    pub(crate) hand_edits: Vec<HandEdit>,
    pub(crate) before: Option<CommitId>,
    pub(crate) after: Option<CommitId>,
    pub(crate) commits: Vec<LogEntry>,
    pub(crate) changes: Vec<PathChange>,
    pub(crate) merged: bool,
    pub(crate) opened: Vec<(String, Conflict)>,
    pub(crate) pushed: bool,
    pub(crate) races: u32,
}

/// A person with a clone.
pub(crate) struct Hand {
    pub(crate) name: &'static str,
    pub(crate) at: PathBuf,
    pub(crate) repo: Repo,
    pub(crate) git: UserGit,
    pub(crate) options: Options,
    pub(crate) layout: Layout,
    pub(crate) clock: i64,
    pub(crate) dice: Dice,
}

impl Hand {
    /// The steps of a sync in their order, in a book of which nobody judges what comes in.
    pub(crate) fn try_sync(&mut self) -> Result<Done, GitError> {
        let lock = self.repo.lock()?;
        self.repo.refuse_busy()?;
        let before = self.repo.head()?;
        let mut done = Done { before, after: before, ..Done::default() };
        let remote = match self.repo.remote(self.options.remote.as_deref()) {
            Err(GitError::NoRemote { name: None }) if self.options.offline => {
                let scan = self.repo.begin_scan(Some(&lock));
                done.after = self.take_in(&lock, scan, &mut done)?;
                return Ok(done);
            }
            found => found?,
        };
        loop {
            if self.round(&lock, &remote, &mut done)? != Pushed::Race {
                return Ok(done);
            }
            done.races += 1;
            if done.races >= self.options.attempts {
                return Err(GitError::RaceLost { attempts: done.races });
            }
            std::thread::sleep(Duration::from_millis(self.dice.next() % (50_u64 << done.races.min(6))));
        }
    }

    fn round(&mut self, lock: &BookLock, remote: &Remote, done: &mut Done) -> Result<Pushed, GitError> {
        if self.repo.head()?.is_none() {
            self.fetch(lock, remote)?;
            let theirs = self.repo.last_seen(remote)?;
            self.meet(lock, None, theirs, done)?;
        }
        let scan = self.repo.begin_scan(Some(lock));
        let fetched = self.fetch(lock, remote);
        let ours = self.take_in(lock, scan, done)?;
        fetched?;
        let theirs = self.repo.last_seen(remote)?;
        let head = self.meet(lock, ours, theirs, done)?;
        done.after = head;
        if self.options.dry_run {
            return Ok(Pushed::UpToDate);
        }
        if theirs.is_some() {
            self.repo.follow(remote)?;
        }
        let Some(head) = head.filter(|head| Some(*head) != theirs && !self.options.offline) else {
            return Ok(Pushed::UpToDate);
        };
        let pushed = self.repo.let_go_while(lock, || self.repo.push(&self.git, remote, head, None))?.0?;
        done.pushed |= pushed == Pushed::Done;
        if pushed != Pushed::Race {
            self.repo.name_branch_of_folder(remote);
            self.repo.follow(remote)?;
        }
        Ok(pushed)
    }

    fn fetch(&self, lock: &BookLock, remote: &Remote) -> Result<(), GitError> {
        if !self.options.offline {
            self.repo.let_go_while(lock, || self.repo.fetch(&self.git, remote, None))?.0?;
        }
        Ok(())
    }

    fn take_in(
        &mut self,
        lock: &BookLock,
        scan: FolderScan,
        done: &mut Done,
    ) -> Result<Option<CommitId>, GitError> {
        let head = self.repo.head()?;
        let edits = match self.options.dry_run {
            true => self.repo.changed_since(scan)?,
            false => self.repo.changed_since_swept(lock, scan)?,
        };
        if edits.is_empty() {
            return Ok(head);
        }
        let paths: Vec<&str> = edits.iter().map(|edit| edit.path.as_str()).collect();
        let (author, at) = (self.author(), self.now());
        let new = NewCommit { message: "edited by hand", author: &author, at };
        let taken = match self.options.dry_run {
            true => self.repo.unmoved_commit(head, &paths, &new)?,
            false => self.repo.commit_paths(lock, &paths, &new)?,
        };
        done.hand_edits.extend(edits);
        Ok(taken.or(head))
    }

    fn meet(
        &mut self,
        lock: &BookLock,
        ours: Option<CommitId>,
        theirs: Option<CommitId>,
        done: &mut Done,
    ) -> Result<Option<CommitId>, GitError> {
        let Some(theirs) = theirs else { return Ok(ours) };
        let has = |commit, earlier| commit == earlier || self.repo.descends(commit, earlier).unwrap();
        let (mine, apart) = match ours {
            Some(ours) if has(ours, theirs) => return Ok(Some(ours)),
            Some(ours) => (vec![ours], !has(theirs, ours)),
            None => (Vec::new(), false),
        };
        let (author, at) = (self.author(), self.now());
        let repo = &self.repo;
        let before = repo.snapshot_of(ours)?;
        let head = if let Some(ours) = ours.filter(|_| apart) {
            let held = self.options.held.iter().map(|path| ((*path).to_owned(), Keep::Base)).collect();
            let merge = repo.merge_commits(&self.layout, ours, theirs, &held)?;
            let new = NewCommit { message: "brought together", author: &author, at };
            done.merged = true;
            done.changes.extend(before.changes(&merge.after, "")?);
            done.opened.extend(merge.opened);
            repo.store_commit(&merge.after, &[ours, theirs], &new)?
        } else {
            done.changes.extend(before.changes(&repo.snapshot(theirs)?, "")?);
            theirs
        };
        let came = repo.log_of(&[theirs], &mine, "")?.collect::<Result<Vec<_>, _>>()?;
        done.commits.splice(0..0, came);
        if !self.options.dry_run {
            repo.move_branch(lock, ours, head, "sync")?;
        }
        Ok(Some(head))
    }

    fn author(&self) -> Person {
        Person::new(self.name, &format!("{}@example.org", self.name.to_lowercase())).unwrap()
    }

    fn now(&mut self) -> Moment {
        self.clock += 1;
        Moment::utc(self.clock)
    }

    pub(crate) fn sync(&mut self) -> Done {
        self.try_sync().unwrap_or_else(|e| panic!("{}: {e:?}", self.name))
    }

    pub(crate) fn git_error(&mut self) -> GitError {
        self.try_sync().expect_err("refused")
    }
}

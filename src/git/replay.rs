//! Commits made again on another state, for work that rests on a commit which nobody takes; and what is needed around
//! that: a name under which the old commits stay, a push that puts a remote's branch back.

use std::collections::BTreeMap;

use super::push_answer::{Pushed, judge_push};
use super::snapshot::edit_tree;
use super::{
    CommitId, Entry, EntryKind, GitError, Moment, NewCommit, PathChange, Person, Remote, Repo, Snapshot,
    UserGit,
};
use crate::merge::Layout;

/// Where commits stay that were taken out of a branch.
const SET_ASIDE: &str = "refs/underlit/set-aside/";

impl Repo {
    /// Makes one commit again on `onto`, merged over its own parent. `leave` names files of which nothing is taken over.
    /// `None` where it brings nothing there; and for a merge: what it brought together is made again by itself. No branch
    /// moves.
    ///
    /// # Errors
    /// [`GitError::NoSuchCommit`] where it cannot be read, [`GitError::Unrelated`] for one that begins a book, and as
    /// [`Repo::merge_commits`].
    pub(crate) fn made_again(
        &self,
        layout: &Layout,
        onto: CommitId,
        id: CommitId,
        leave: &dyn Fn(&str) -> bool,
    ) -> Result<Option<CommitId>, GitError> {
        let missing = |_| GitError::NoSuchCommit { text: id.to_string() };
        let commit = self.git.find_commit(id.0).map_err(missing)?;
        let mut parents = commit.parent_ids();
        let parent = match (parents.next(), parents.next()) {
            (Some(parent), None) => CommitId(parent),
            (Some(_), Some(_)) => return Ok(None),
            (None, _) => return Err(GitError::Unrelated { other: id.short() }),
        };
        let before = self.snapshot(onto)?;
        let Some((base, theirs)) = self.apart(&before, &commit, parent, leave)? else { return Ok(None) };
        let after = self.merge_holding(layout, Some(base), (onto, theirs), &BTreeMap::new())?.after;
        if after.digest() == before.digest() {
            return Ok(None);
        }
        let who = Person::of(&commit.author());
        let who = Person::new(&who.name, &who.email)
            .unwrap_or(Person { name: "unnamed".to_owned(), email: "unnamed@localhost".to_owned() });
        let message = String::from_utf8_lossy(commit.message_bytes()).into_owned();
        let new = NewCommit { message: &message, author: &who, at: Moment::of(commit.author().when()) };
        self.store_commit(&after, &[onto], &new).map(Some)
    }

    /// What a commit does, and nothing else: a base that is as `onto` but for the files that the commit changes, which are
    /// as its parent has them, and the commit on that. So nothing of what lies behind it comes along, whatever that was.
    fn apart(
        &self,
        onto: &Snapshot<'_>,
        commit: &git2::Commit<'_>,
        parent: CommitId,
        leave: &dyn Fn(&str) -> bool,
    ) -> Result<Option<(CommitId, CommitId)>, GitError> {
        let mut changes = self.snapshot(parent)?.nameable_changes(&self.snapshot(CommitId(commit.id()))?)?;
        changes.retain(|change| !leave(&change.path));
        if changes.is_empty() {
            return Ok(None);
        }
        let side = |of: fn(&PathChange) -> Option<Entry>| -> BTreeMap<String, Option<Entry>> {
            changes.iter().map(|change| (change.path.clone(), of(change))).collect()
        };
        let was = edit_tree(&self.git, onto.tree(), &side(|change| change.before))?;
        let is = edit_tree(&self.git, onto.tree(), &side(|change| change.after))?;
        let nobody = git2::Signature::new("underlit", "underlit@localhost", &git2::Time::new(0, 0))?;
        let base = self.git.commit(None, &nobody, &nobody, "before a commit", &was, &[])?;
        let base = self.git.find_commit(base)?;
        let who = commit.author();
        let theirs = self.git.commit(None, &who, &who, "a commit by itself", &is, &[&base])?;
        Ok(Some((CommitId(base.id()), CommitId(theirs))))
    }

    /// Makes a commit on another that brings whole files. No branch moves. `None` where every file lies there already.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn commit_files(
        &self,
        onto: CommitId,
        files: &BTreeMap<String, Vec<u8>>,
        new: &NewCommit<'_>,
    ) -> Result<Option<CommitId>, GitError> {
        let before = self.snapshot(onto)?;
        let mut edits = BTreeMap::new();
        for (path, bytes) in files {
            let id = self.git.blob(bytes)?;
            edits.insert(path.clone(), Some(Entry { kind: EntryKind::File, id }));
        }
        let after = Snapshot::new(&self.git, Some(edit_tree(&self.git, before.tree(), &edits)?));
        if after.digest() == before.digest() {
            return Ok(None);
        }
        self.store_commit(&after, &[onto], new).map(Some)
    }

    /// Keeps a commit, with everything behind it, under a name of its own; gives back the name.
    ///
    /// # Errors
    /// What git says.
    pub(crate) fn set_aside(&self, commit: CommitId) -> Result<String, GitError> {
        let name = format!("{SET_ASIDE}{}", commit.short());
        self.git.reference(&name, commit.0, true, "taken out of a branch")?;
        Ok(name)
    }

    /// True where `ancestor` lies behind `commit`.
    ///
    /// # Errors
    /// [`GitError::Damaged`] where a commit on the way cannot be read.
    pub fn descends(&self, commit: CommitId, ancestor: CommitId) -> Result<bool, GitError> {
        Ok(self.git.graph_descendant_of(commit.0, ancestor.0)?)
    }

    /// True where `commit` is `earlier` or has it behind it; false too where one of them is not here.
    #[must_use]
    pub(crate) fn has_behind(&self, commit: CommitId, earlier: CommitId) -> bool {
        if commit == earlier {
            return true;
        }
        self.descends(commit, earlier).unwrap_or_else(|_| {
            let nothing = std::collections::BTreeSet::new();
            let found = super::raw_commit::walk(&self.git, commit, &nothing, usize::MAX);
            found.is_ok_and(|found| found.contains(&earlier))
        })
    }

    /// True where the commit is here.
    #[must_use]
    pub(crate) fn has_commit(&self, commit: CommitId) -> bool {
        self.git.find_commit(commit.0).is_ok()
    }

    /// The newest commit that two commits have behind them.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn shared(&self, one: CommitId, other: CommitId) -> Result<Option<CommitId>, GitError> {
        Ok(self.bases(one, other)?.first().copied())
    }

    /// True where the remote's branch had this commit at some time that this clone remembers.
    #[must_use]
    pub(crate) fn was_on(&self, remote: &Remote, commit: CommitId) -> bool {
        let seen = self.git.reflog(&remote.tracking).map_or_else(
            |_| Vec::new(),
            |log| log.iter().flat_map(|line| [line.id_old(), line.id_new()]).map(CommitId).collect(),
        );
        let now = self.last_seen(remote).ok().flatten();
        seen.into_iter().chain(now).any(|tip| !tip.0.is_zero() && self.has_behind(tip, commit))
    }

    /// Where the checked-out branch stood last, by git's own record, for a branch that has no commit any more.
    #[must_use]
    pub(crate) fn stood_last(&self) -> Option<CommitId> {
        let branch = self.branch_ref().ok()?;
        let of = |name: &str| {
            let log = self.git.reflog(name).ok()?;
            log.iter().map(|line| CommitId(line.id_new())).find(|id| self.has_commit(*id))
        };
        of(&branch).or_else(|| of("HEAD"))
    }

    /// Puts the remote's branch to a commit that does not follow from where it stands, if it still stands at `from`.
    ///
    /// # Errors
    /// As [`Repo::push`].
    pub(crate) fn push_back(
        &self,
        git: &UserGit,
        remote: &Remote,
        from: CommitId,
        to: CommitId,
    ) -> Result<Pushed, GitError> {
        let lease = format!("--force-with-lease=refs/heads/{}:{from}", remote.branch);
        let spec = format!("{to}:refs/heads/{}", remote.branch);
        let args = ["push", "--porcelain", "--no-follow-tags", "--recurse-submodules=no", &lease];
        let args = [&args[..], &["--", &remote.name, &spec]].concat();
        let ended = git.run_to(&remote.name, self.root(), &args, None)?;
        // The remote's own word that its branch only grows is no race.
        if ended.stdout.contains("[remote rejected] (non-fast-forward)") {
            let reason = "it lets its branch only grow (receive.denyNonFastForwards)".to_owned();
            return Err(GitError::PushRefused { remote: remote.name.clone(), reason });
        }
        judge_push(&remote.name, &ended.stdout, &ended.stderr, ended.ok)
    }
}

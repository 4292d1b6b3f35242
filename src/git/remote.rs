//! Fetch, push and clone, through the user's own `git`.
//!
//! What a push came to is the matter of `push_answer`.

use std::path::Path;

use super::failure::at;
use super::push_answer::{Pushed, judge_push};
use super::user_git::{Finished, OnProgress, UserGit, remote_failure};
use super::{CommitId, GitError, Repo};

/// Where a book is exchanged: a remote, and the branch there that the checked-out branch follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remote {
    /// The remote's name, such as `origin`.
    pub name: String,
    /// The branch on the remote, such as `main`.
    pub branch: String,
    /// Where this clone keeps what it last saw of that branch.
    pub(crate) tracking: String,
    /// True where the clone's settings name this branch as the one to follow.
    pub(crate) chosen: bool,
    /// True where a plain fetch brings the branch.
    covered: bool,
}

/// The branches of a remote as they were cloned.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Branches {
    /// Each with its commit, by name.
    pub all: Vec<(String, CommitId)>,
    /// The one that the remote's HEAD names, where it is there.
    pub named: Option<String>,
}

/// What a fetch brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fetched {
    /// Where the remote's branch stood when it was last seen before.
    pub before: Option<CommitId>,
    /// Where it stands; `None` where the remote has no commit yet.
    pub after: Option<CommitId>,
}

impl Repo {
    /// The remote to exchange with: the one named, or the one that the branch follows, or `origin`, or the only one.
    ///
    /// # Errors
    /// [`GitError::NoRemote`], [`GitError::WhichRemote`], [`GitError::DetachedHead`].
    pub fn remote(&self, named: Option<&str>) -> Result<Remote, GitError> {
        let local = self.branch()?;
        let config = self.git.config()?;
        let setting = |key: &str| config.get_string(&format!("branch.{local}.{key}")).ok();
        let followed = setting("remote").filter(|name| name != ".");
        let mut names: Vec<String> =
            self.git.remotes()?.iter().flatten().flatten().map(ToOwned::to_owned).collect();
        names.sort();
        let name = match named {
            Some(name) => name.to_owned(),
            None => match (&followed, names.as_slice()) {
                (Some(name), _) => name.clone(),
                (None, []) => return Err(GitError::NoRemote { name: None }),
                (None, [only]) => only.clone(),
                (None, several) if several.iter().any(|n| n == "origin") => "origin".to_owned(),
                (None, several) => return Err(GitError::WhichRemote { names: several.to_vec() }),
            },
        };
        let remote =
            self.git.find_remote(&name).map_err(|_| GitError::NoRemote { name: Some(name.clone()) })?;
        let merge = setting("merge").filter(|_| followed.as_deref() == Some(name.as_str()));
        let chosen = merge.is_some();
        let full = merge.unwrap_or_else(|| format!("refs/heads/{local}"));
        let branch = full.strip_prefix("refs/heads/").unwrap_or(&full).to_owned();
        let spec = remote
            .refspecs()
            .find(|spec| spec.direction() == git2::Direction::Fetch && spec.src_matches(&full));
        let covered = spec.is_some();
        let tracking = match spec {
            Some(spec) => spec.transform(&full)?.as_str().unwrap_or_default().to_owned(),
            None => format!("refs/remotes/{name}/{branch}"),
        };
        Ok(Remote { name, branch, tracking, chosen, covered })
    }

    /// What this clone last saw of the remote's branch.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub fn last_seen(&self, remote: &Remote) -> Result<Option<CommitId>, GitError> {
        match self.git.refname_to_id(&remote.tracking) {
            Ok(id) => Ok(Some(CommitId(id))),
            Err(e) if e.code() == git2::ErrorCode::NotFound => Ok(None),
            Err(e) => Err(e.into()),
        }
    }

    /// Fetches the remote's branch. An empty remote is no error.
    ///
    /// # Errors
    /// [`GitError::RemoteGone`], [`GitError::NotAdmitted`], [`GitError::Network`],
    /// [`GitError::RemoteBranchMissing`] where the remote has branches but not this one.
    pub fn fetch(
        &self,
        git: &UserGit,
        remote: &Remote,
        progress: Option<OnProgress<'_>>,
    ) -> Result<Fetched, GitError> {
        let before = self.last_seen(remote)?;
        let mut args = vec!["fetch", "--prune", "--no-tags", "--recurse-submodules=no"];
        args.extend(["--progress", "--", remote.name.as_str()]);
        let wanted = format!("+refs/heads/{}:{}", remote.branch, remote.tracking);
        if !remote.covered {
            args.push(&wanted);
        }
        let ended = self.fetch_in_turn(git, remote, &args, progress)?;
        let missing = ended.stderr.contains("couldn't find remote ref");
        if !ended.ok && !missing {
            return Err(remote_failure(&remote.name, "fetch", &ended.stderr));
        }
        let after = if missing { None } else { self.last_seen(remote)? };
        let (there, here): (Vec<_>, Vec<_>) =
            (after.into_iter().collect(), self.head()?.into_iter().collect());
        self.bring(git, &there, &here)?;
        if after.is_none() {
            let there = self.branches_there(git, remote)?;
            if !there.is_empty() {
                let branch = remote.branch.clone();
                return Err(GitError::RemoteBranchMissing { remote: remote.name.clone(), branch, there });
            }
        }
        Ok(Fetched { before, after })
    }

    /// Runs a fetch; once more where another one, such as that of a `watch`, moved what is known of the remote meanwhile.
    fn fetch_in_turn(
        &self,
        git: &UserGit,
        remote: &Remote,
        args: &[&str],
        mut progress: Option<OnProgress<'_>>,
    ) -> Result<Finished, GitError> {
        for _ in 0..3 {
            let tell = progress.as_mut().map(|tell| &mut **tell as OnProgress<'_>);
            let ended = git.run_to(&remote.name, self.root(), args, tell)?;
            let in_the_way = ["cannot lock ref", "incorrect old value", "Unable to create"];
            let ours = ended.stderr.contains("refs/remotes/") || ended.stderr.contains(".lock': File exists");
            if ended.ok || !ours || !in_the_way.iter().any(|mark| ended.stderr.contains(mark)) {
                return Ok(ended);
            }
            std::thread::sleep(std::time::Duration::from_millis(300));
        }
        git.run_to(&remote.name, self.root(), args, progress)
    }

    /// Asks the remote how many branches it has, and changes nothing.
    ///
    /// # Errors
    /// As [`Repo::fetch`].
    pub(crate) fn ask(&self, git: &UserGit, remote: &Remote) -> Result<usize, GitError> {
        self.branches_there(git, remote).map(|there| there.len())
    }

    /// Where a remote is, as this clone's settings say.
    #[must_use]
    pub(crate) fn address(&self, remote: &Remote) -> Option<String> {
        self.git.find_remote(&remote.name).ok()?.url().ok().map(ToOwned::to_owned)
    }

    fn branches_there(&self, git: &UserGit, remote: &Remote) -> Result<Vec<String>, GitError> {
        let ended =
            git.run_to(&remote.name, self.root(), &["ls-remote", "--heads", "--", &remote.name], None)?;
        if !ended.ok {
            return Err(remote_failure(&remote.name, "ls-remote", &ended.stderr));
        }
        let names = ended.stdout.lines().filter_map(|line| line.split_once("\trefs/heads/"));
        Ok(names.map(|(_, name)| name.to_owned()).collect())
    }

    /// Pushes `commit` to the remote's branch, never by force.
    ///
    /// # Errors
    /// [`GitError::HookRefused`] with what the remote's checks said, [`GitError::PushRefused`],
    /// [`GitError::RemoteGone`], [`GitError::NotAdmitted`], [`GitError::Network`].
    pub fn push(
        &self,
        git: &UserGit,
        remote: &Remote,
        commit: CommitId,
        mut progress: Option<OnProgress<'_>>,
    ) -> Result<Pushed, GitError> {
        let spec = format!("{commit}:refs/heads/{}", remote.branch);
        let mut atomic = true;
        loop {
            let mut args = vec!["push", "--porcelain", "--no-follow-tags", "--recurse-submodules=no"];
            if atomic {
                args.push("--atomic");
            }
            args.extend(["--progress", "--", remote.name.as_str(), &spec]);
            let tell = progress.as_mut().map(|tell| &mut **tell as OnProgress<'_>);
            let ended = git.run_to(&remote.name, self.root(), &args, tell)?;
            if atomic && ended.stderr.contains("does not support --atomic") {
                atomic = false; // one branch is moved whole or not at all either way
                continue;
            }
            return judge_push(&remote.name, &ended.stdout, &ended.stderr, ended.ok);
        }
    }

    /// Makes the checked-out branch follow the remote's branch, as `git push -u` does.
    ///
    /// # Errors
    /// [`GitError::NotWritable`] and other failures to write the clone's settings.
    pub fn follow(&self, remote: &Remote) -> Result<(), GitError> {
        if remote.chosen {
            return Ok(());
        }
        let local = self.branch()?;
        let mut config = self.git.config()?.open_level(git2::ConfigLevel::Local)?;
        config.set_str(&format!("branch.{local}.remote"), &remote.name)?;
        config.set_str(&format!("branch.{local}.merge"), &format!("refs/heads/{}", remote.branch))?;
        Ok(())
    }

    /// Where the remote is a bare repository in a folder of this machine and its HEAD names a branch that is not there, as
    /// where git's default branch is another: makes it name the book's, so that a plain clone finds it.
    pub fn name_branch_of_folder(&self, remote: &Remote) {
        let Ok(there) = self.git.find_remote(&remote.name) else { return };
        let address = there.pushurl().ok().flatten().or(there.url().ok()).map(ToOwned::to_owned);
        let Some(address) = address else { return };
        let folder = self.root().join(address.strip_prefix("file://").unwrap_or(&address));
        let Ok(hub) = git2::Repository::open_ext(
            &folder,
            git2::RepositoryOpenFlags::NO_SEARCH,
            std::iter::empty::<&std::ffi::OsStr>(),
        ) else {
            return;
        };
        if hub.is_bare() && hub.head().is_err_and(|e| e.code() == git2::ErrorCode::UnbornBranch) {
            // Whoever may push there and not write its HEAD leaves that to its keeper.
            let _ = hub.set_head(&format!("refs/heads/{}", remote.branch));
        }
    }

    /// Clones `address` into `folder`, which is new or empty.
    ///
    /// # Errors
    /// [`GitError::NotEmpty`], and as [`Repo::fetch`].
    pub fn clone(
        git: &UserGit,
        address: &str,
        folder: &Path,
        progress: Option<OnProgress<'_>>,
    ) -> Result<Repo, GitError> {
        Repo::cloned(git, address, folder, &[], progress)
    }

    /// As [`Repo::clone`], but no file is laid into the folder: nothing of what came was looked at yet.
    ///
    /// # Errors
    /// As [`Repo::clone`].
    pub(crate) fn clone_without_files(git: &UserGit, address: &str, folder: &Path) -> Result<Repo, GitError> {
        Repo::cloned(git, address, folder, &["--no-checkout"], None)
    }

    /// As [`Repo::clone_without_files`], with every commit and folder and none of the files' content; where a day is given,
    /// with the commits of the branch that its HEAD names from then on, or the newest alone where all are older. False where the remote knows no such thing
    /// and sent everything.
    ///
    /// # Errors
    /// As [`Repo::clone`].
    pub(crate) fn clone_partial(
        git: &UserGit,
        address: &str,
        folder: &Path,
        from: Option<jiff::civil::Date>,
    ) -> Result<(Repo, bool), GitError> {
        super::partial::refuse_old_git(git)?;
        let mut extra = vec!["--no-checkout", "--filter=blob:none", "--no-local"];
        let since = from.map(super::past::since);
        extra.extend(since.as_deref());
        let said = match Repo::cloned_by_git(git, address, folder, &extra, None) {
            Err(error) if super::past::is_all_older(&error) => {
                extra.pop();
                extra.push("--depth=1");
                Repo::cloned_by_git(git, address, folder, &extra, None)?
            }
            said => said?,
        };
        let filtered = super::partial::settle_partial(git, folder, &said)?;
        let repo = Repo::open(folder)?;
        if !filtered {
            repo.end_partial()?;
        }
        Ok((repo, filtered))
    }

    /// The branches of `origin` as they were cloned, by name, and which of them its HEAD names.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(crate) fn cloned_branches(&self) -> Result<Branches, GitError> {
        const THERE: &str = "refs/remotes/origin/";
        let mut found = Vec::new();
        for reference in self.git.references_glob(&format!("{THERE}*"))? {
            let reference = reference?;
            let name = String::from_utf8_lossy(reference.name_bytes()).into_owned();
            if let (Some(branch), Some(id)) = (name.strip_prefix(THERE), reference.target()) {
                found.push((branch.to_owned(), CommitId(id)));
            }
        }
        found.sort();
        let head = self.git.find_reference(&format!("{THERE}HEAD")).ok();
        let named = head.and_then(|head| head.symbolic_target().ok().flatten().map(ToOwned::to_owned));
        let named = named.and_then(|name| name.strip_prefix(THERE).map(ToOwned::to_owned));
        Ok(Branches { all: found, named })
    }

    /// Checks out a branch of `origin` for the first time, at one of its commits: the branch follows the remote's, and no
    /// other branch is left here.
    ///
    /// # Errors
    /// What git and the disk say.
    pub(crate) fn check_out_first(&self, git: &UserGit, branch: &str, at: CommitId) -> Result<(), GitError> {
        let name = format!("refs/heads/{branch}");
        self.git.set_head(&name)?;
        for mut other in self.git.references_glob("refs/heads/*")?.flatten().collect::<Vec<_>>() {
            other.delete()?;
        }
        self.git.reference(&name, at.0, true, "join")?;
        let mut config = self.local_config()?;
        config.set_str(&format!("branch.{branch}.remote"), "origin")?;
        config.set_str(&format!("branch.{branch}.merge"), &name)?;
        self.run_git(git, &["reset", "--quiet", "--hard"])
    }

    fn cloned(
        git: &UserGit,
        address: &str,
        folder: &Path,
        extra: &[&str],
        progress: Option<OnProgress<'_>>,
    ) -> Result<Repo, GitError> {
        Repo::cloned_by_git(git, address, folder, extra, progress)?;
        Repo::open(folder)
    }

    /// Clones, and gives back what git said on the way.
    fn cloned_by_git(
        git: &UserGit,
        address: &str,
        folder: &Path,
        extra: &[&str],
        progress: Option<OnProgress<'_>>,
    ) -> Result<String, GitError> {
        if folder.symlink_metadata().is_ok() {
            let mut inside = std::fs::read_dir(folder).map_err(at(folder))?;
            if inside.next().is_some() {
                return Err(GitError::NotEmpty { path: folder.to_owned() });
            }
        }
        let here = Path::new(".");
        let target = folder.to_str().ok_or_else(|| GitError::BadPath {
            path: folder.display().to_string(),
            reason: "is not UTF-8",
        })?;
        let settings = ["-c", "core.fsync=all", "-c", "core.autocrlf=false"];
        let mut args =
            vec!["clone", "--progress", "--origin", "origin", "--no-recurse-submodules", "--no-tags"];
        args.extend(settings);
        args.extend(extra);
        args.extend(["--", address, target]);
        let ended = git.run_to(address, here, &args, progress)?;
        if !ended.ok {
            return Err(remote_failure(address, "clone", &ended.stderr));
        }
        Ok(ended.stderr)
    }
}

//! A clone with every commit and folder, and of the files only some: how a missing one is had.
//!
//! The library that reads objects here knows nothing of such clones, so every file is read by [`blob`], which asks the user's
//! git for a missing one; and every fetch brings the files of the part in one go ([`Repo::bring`]), so that this is rare.
//! Which files those are is [`super::Part`].

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::past::is_cut_off;
use super::user_git::{remote_failure, telling};
use super::{CommitId, GitError, Part, Repo, UserGit};

/// How many files one run of git is asked for: their names have to fit on a command line.
const AT_ONCE: usize = 10_000;

/// The remote that a partial clone was made from, which has what is not here.
const FROM: &str = "origin";

/// True where files that are not here can be had of the remote.
fn is_partial(git: &git2::Repository) -> bool {
    let key = format!("remote.{FROM}.promisor");
    git.config().and_then(|config| config.get_bool(&key)).unwrap_or(false)
}

/// The file with that digest. Where a partial clone lacks it, the user's git is asked for it: once in a run for whatever the
/// part lacks, so that many missing ones, as after a `git pull`, cost one exchange.
///
/// # Errors
/// [`GitError::NotHere`], [`GitError::Damaged`].
pub(super) fn blob(git: &git2::Repository, id: git2::Oid) -> Result<git2::Blob<'_>, GitError> {
    static WHOLE_PART: Mutex<bool> = Mutex::new(false);
    match git.find_blob(id) {
        Err(e) if e.code() == git2::ErrorCode::NotFound && is_partial(git) => {
            let user = UserGit::new(false);
            let mut asked = WHOLE_PART.lock().unwrap_or_else(PoisonError::into_inner);
            if !std::mem::replace(&mut *asked, true) {
                let _ = bring(git, Part::of(git).as_deref(), &user, &tips(git), &[])?;
            }
            if git.odb()?.exists(id) || fetch_files(git, &user, &[id]).is_ok() {
                return git.find_blob(id).map_err(|_| not_here(1, "the remote does not have it".to_owned()));
            }
            Err(not_here(1, "the remote does not give it".to_owned()))
        }
        found => Ok(found?),
    }
}

/// The commits from which everything here is reached.
fn tips(git: &git2::Repository) -> Vec<CommitId> {
    let there = git.references_glob("refs/remotes/*").into_iter().flatten().flatten();
    let there = there.filter_map(|one| one.target());
    there.chain(git.refname_to_id("HEAD")).map(CommitId).collect()
}

/// Brings every file that these commits change in a part and that is not here, without what lies behind others. Gives back
/// the commits that change nothing of it, which is most of them. Git itself tells, in one go and many times faster than
/// tree by tree; what it cannot read the judge names.
fn bring(
    git: &git2::Repository,
    part: Option<&Part>,
    user: &UserGit,
    tips: &[CommitId],
    without: &[CommitId],
) -> Result<BTreeSet<git2::Oid>, GitError> {
    let mut walk = git.revwalk()?;
    tips.iter().try_for_each(|tip| walk.push(tip.0))?;
    without.iter().try_for_each(|hidden| walk.hide(hidden.0))?;
    let mut untouched: BTreeSet<git2::Oid> = walk.flatten().collect();
    let (mut missing, odb) = (BTreeSet::new(), git.odb()?);
    let mut commits: Vec<String> = tips.iter().map(ToString::to_string).collect();
    commits.extend(without.iter().map(|id| format!("^{id}")));
    // Where the history begins, git would name every file of the book.
    for commit in beginnings(git, &untouched) {
        untouched.remove(&commit.id());
        commits.push(format!("^{}", commit.id()));
        lying(git, part, "", &commit.tree()?, &mut |id| _ = is_lacking(&odb, id) && missing.insert(id))?;
    }
    let mut args = vec!["-c", "core.quotePath=false", "-c", "log.showRoot=true", "log", "-m", "--raw"];
    args.extend(["--no-abbrev", "--no-renames", "--no-relative", "--ignore-submodules=none"]);
    args.extend(["--no-show-signature", "--no-decorate", "--format=%H"]);
    args.extend(commits.iter().map(String::as_str));
    args.push("--");
    let ended = user.run(git.workdir().unwrap_or(git.path()), &args)?;
    if !ended.ok {
        return Err(GitError::GitFailed { verb: "log".to_owned(), words: telling(&ended.stderr) });
    }
    let mut commit = None;
    for line in ended.stdout.lines() {
        let Some((entries, path)) = line.strip_prefix(':').and_then(|line| line.split_once('\t')) else {
            commit = git2::Oid::from_str(line).ok().or(commit);
            continue;
        };
        // A name that git writes in quotes is one that no project has.
        if part.is_some_and(|part| !part.holds(path)) {
            continue;
        }
        commit.map(|id| untouched.remove(&id));
        let words: Vec<&str> = entries.split(' ').collect();
        for (mode, id) in words.iter().zip(words.iter().skip(2)).take(2) {
            let id = git2::Oid::from_str(id).ok().filter(|id| !id.is_zero() && *mode != "160000");
            missing.extend(id.filter(|id| is_lacking(&odb, *id)));
        }
    }
    fetch_files(git, user, &missing.into_iter().collect::<Vec<_>>())?;
    Ok(untouched)
}

/// The commits among some at which the history here is cut off.
fn beginnings<'r>(git: &'r git2::Repository, among: &BTreeSet<git2::Oid>) -> Vec<git2::Commit<'r>> {
    let all = among.iter().filter(|_| git.is_shallow()).filter_map(|id| git.find_commit(*id).ok());
    all.filter(|commit| is_cut_off(git, commit)).collect()
}

/// Tells every file of a part that lies in a folder.
fn lying(
    git: &git2::Repository,
    part: Option<&Part>,
    at: &str,
    tree: &git2::Tree<'_>,
    tell: &mut dyn FnMut(git2::Oid),
) -> Result<(), GitError> {
    for entry in tree.iter() {
        // A name that is no text is one that no project has.
        let path = format!("{at}{}", String::from_utf8_lossy(entry.name_bytes()));
        match entry.kind() {
            _ if part.is_some_and(|part| !part.holds(&path)) => {}
            Some(git2::ObjectType::Tree) => {
                lying(git, part, &format!("{path}/"), &git.find_tree(entry.id())?, tell)?;
            }
            Some(git2::ObjectType::Blob) => tell(entry.id()),
            _ => {}
        }
    }
    Ok(())
}

/// The size of that file in bytes.
///
/// # Errors
/// As [`blob`].
pub(super) fn size(git: &git2::Repository, id: git2::Oid) -> Result<usize, GitError> {
    match git.odb()?.read_header(id) {
        Err(e) if e.code() == git2::ErrorCode::NotFound && is_partial(git) => Ok(blob(git, id)?.size()),
        found => Ok(found?.0),
    }
}

fn not_here(count: usize, words: String) -> GitError {
    GitError::NotHere { count, words }
}

/// Asks the user's git for files by their digests, many at once.
fn fetch_files(git: &git2::Repository, user: &UserGit, ids: &[git2::Oid]) -> Result<(), GitError> {
    let at = git.workdir().unwrap_or(git.path());
    for some in ids.chunks(AT_ONCE) {
        let names: Vec<String> = some.iter().map(ToString::to_string).collect();
        let mut args = vec!["-c", "fetch.negotiationAlgorithm=noop", "fetch", "--no-tags"];
        args.extend(["--no-write-fetch-head", "--no-auto-maintenance", "--recurse-submodules=no"]);
        args.extend(["--filter=blob:none", "--progress", "--", FROM]);
        args.extend(names.iter().map(String::as_str));
        let ended = user.run_to(FROM, at, &args, None).map_err(|e| not_here(some.len(), e.to_string()))?;
        if !ended.ok {
            // A remote that speaks an older form of the exchange names each of them.
            let words = match ended.stderr.contains("unadvertised object") {
                true => "the remote gives no single files; whoever keeps it allows that with: git config uploadpack.allowAnySHA1InWant true".to_owned(),
                false => remote_failure(FROM, "fetch", &ended.stderr).to_string(),
            };
            return Err(not_here(some.len(), words));
        }
    }
    Ok(())
}

fn is_lacking(odb: &git2::Odb<'_>, id: git2::Oid) -> bool {
    !odb.exists_ext(id, git2::OdbLookupFlags::NO_REFRESH)
}

/// The oldest git that fetches single files without a trace, as major and minor number.
const OLDEST_GIT: (u32, u32) = (2, 29);

/// Refuses a git that is too old for a part.
///
/// # Errors
/// [`GitError::TooOld`], [`GitError::NoGitProgram`].
pub(crate) fn refuse_old_git(user: &UserGit) -> Result<(), GitError> {
    let said = user.version()?;
    let mut numbers =
        said.split(|c: char| !c.is_ascii_digit()).filter_map(|number| number.parse::<u32>().ok());
    match (numbers.next(), numbers.next()) {
        (Some(major), Some(minor)) if (major, minor) < OLDEST_GIT => Err(GitError::TooOld { said }),
        _ => Ok(()),
    }
}

/// Makes a partial clone one that the library reads. False where the remote knows no such thing and sent everything, by what
/// git said on the way.
///
/// # Errors
/// [`GitError::GitFailed`].
pub(super) fn settle_partial(user: &UserGit, folder: &Path, said: &str) -> Result<bool, GitError> {
    // The library refuses extensions that it does not know; git honours this one in the older format as well.
    let ended = user.run(folder, &["config", "core.repositoryformatversion", "0"])?;
    if !ended.ok {
        return Err(GitError::GitFailed { verb: "config".to_owned(), words: telling(&ended.stderr) });
    }
    let ignored = ["filtering not recognized", "filter is ignored"];
    Ok(!ignored.iter().any(|mark| said.contains(mark)))
}

impl Repo {
    /// Brings every file of the part that these commits have and `without` have not, and that is not here yet; in a
    /// partial clone that is to hold the whole, every file.
    ///
    /// # Errors
    /// [`GitError::NotHere`].
    pub(crate) fn bring(
        &self,
        user: &UserGit,
        tips: &[CommitId],
        without: &[CommitId],
    ) -> Result<(), GitError> {
        if !is_partial(&self.git) || tips.iter().all(|tip| without.contains(tip)) {
            return Ok(());
        }
        bring(&self.git, self.part().as_deref(), user, tips, without).map(|untouched| {
            Arc::make_mut(&mut self.untouched.borrow_mut()).extend(untouched);
        })
    }

    /// The bytes of one file in each of some projects, by the project's name, fetched in one go where they are not here.
    ///
    /// # Errors
    /// [`GitError::NotHere`].
    pub(crate) fn file_of_each(
        &self,
        user: &UserGit,
        commit: CommitId,
        projects: &BTreeSet<String>,
        file: &str,
    ) -> Result<Vec<(String, Vec<u8>)>, GitError> {
        let tree = self.git.find_commit(commit.0)?.tree()?;
        let path = |name: &String| PathBuf::from(format!("projects/{name}/{file}"));
        let found = projects.iter().filter_map(|name| Some((name, tree.get_path(&path(name)).ok()?.id())));
        let found: Vec<(&String, git2::Oid)> = found.collect();
        let odb = self.git.odb()?;
        let missing = found.iter().map(|(_, id)| *id).filter(|id| is_lacking(&odb, *id));
        if is_partial(&self.git) {
            fetch_files(&self.git, user, &missing.collect::<Vec<_>>())?;
        }
        let read =
            |(name, id): (&String, git2::Oid)| Ok((name.clone(), blob(&self.git, id)?.content().to_vec()));
        found.into_iter().map(read).collect()
    }

    /// From now on every file is fetched: this clone has all of them.
    ///
    /// # Errors
    /// What the disk says.
    pub(crate) fn end_partial(&self) -> Result<(), GitError> {
        let mut config = self.local_config()?;
        for key in [format!("remote.{FROM}.promisor"), format!("remote.{FROM}.partialclonefilter")] {
            let _ = config.remove(&key);
        }
        let _ = config.remove("extensions.partialclone");
        Ok(())
    }
}

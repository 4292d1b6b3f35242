//! Stock git, taught to merge a book as `sync` does: for people who pull and merge with their own tools.
//!
//! Two whole commits are merged by a strategy, since a question between edits is a record beside the file that it is
//! about, and only who sees the whole tree can write one. Git asks the strategy in a rebase and a cherry-pick too.
//! Where somebody tells git to use another strategy, it asks the driver file by file, which answers what is no
//! question, and stops git where it is one.

use std::fs;
use std::path::{Path, PathBuf};

use super::judge::Judge;
use super::stop::Stop;
use super::{merge as merging, own, rules};
use crate::fault::{Fault, Outcome};
use crate::git::{CommitId, GitError, Repo};
use crate::merge::{FileQuestion, Three, drive};
use crate::model::conflict::Conflict;
use crate::ops::desk;
use crate::ops::layout::layout;
use crate::store::{BookFolder, safe_path, write};
use crate::trust::chain::Chain;
use crate::trust::surroundings::Surroundings;

/// The program that git looks for on the path.
pub(crate) const PROGRAM: &str = "git-merge-underlit";

/// What was set up.
#[derive(Clone, Debug)]
pub(crate) struct SetUp {
    /// The program that git runs for a merge of two commits.
    pub program: PathBuf,
    /// True where that program lies where git finds it.
    pub found: bool,
}

/// Teaches stock git in one clone. `underlit` is this program, `into` the folder for the strategy's program, and
/// `path` the folders in which git looks for programs.
///
/// # Errors
/// What git and the disk say.
pub(crate) fn set_up(
    from: &Path,
    around: &Surroundings<'_>,
    underlit: &Path,
    into: Option<&Path>,
    path: &[PathBuf],
) -> Outcome<SetUp> {
    let book = BookFolder::find(from)?;
    let repo = Repo::open(book.root())?;
    let beside = underlit.parent().unwrap_or(Path::new("."));
    let folder = into.unwrap_or(beside);
    let program = folder.join(PROGRAM);
    let quoted = format!("'{}'", underlit.display().to_string().replace('\'', r"'\''"));
    if !around.dry_run {
        let script = format!("#!/bin/sh\nexec {quoted} stock-git merge -- \"$@\"\n");
        let shown = program.display().to_string();
        let io = |e: std::io::Error| {
            let fault = safe_path::io_fault(&shown, "write", &e);
            Box::new(fault.fix("name a folder on your PATH that you may write: --into DIR"))
        };
        if fs::read(&program).ok().as_deref() != Some(script.as_bytes()) {
            write::write_whole(&program, script.as_bytes()).map_err(io)?;
        }
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).map_err(io)?;
        }
        repo.set_merge_strategy(&format!("{quoted} stock-git file %O %A %B %P"))?;
    }
    let same = |a: &Path| a.canonicalize().ok() == folder.canonicalize().ok();
    Ok(SetUp { found: path.iter().any(|p| same(p)), program })
}

/// Merges a commit into what is checked out, for a git that has begun a merge and will commit it. `bases` are the ones
/// that git names: where they are not what both sides started from, git is picking one commit, and its parent is the
/// base. Gives back the questions that were opened, with the path of each one's record.
///
/// # Errors
/// Everything that stands in the way; index and folder are then as they were.
pub(crate) fn merge(
    from: &Path,
    around: &Surroundings<'_>,
    bases: &[String],
    theirs: &str,
) -> Result<Vec<(String, Conflict)>, Vec<Fault>> {
    let book = BookFolder::find(from)?;
    let repo = Repo::open(book.root())?;
    let _lock = desk::lock_settled(&repo)?;
    let chain = Chain::load(&book)?;
    let local = repo.clone_local_dir()?;
    let rules = rules(&book, &chain)?;
    let mut named: Vec<CommitId> = bases.iter().map(|base| repo.resolve(base)).collect::<Result<_, _>>()?;
    let theirs = repo.resolve(theirs)?;
    let own = own::own_faults(&repo, &book, &local, (&chain, &rules))?;
    if !own.is_empty() {
        return Err(own);
    }
    let Some(ours) = repo.head()? else {
        return Err(GitError::NoSuchCommit { text: "HEAD".into() }.into());
    };
    let first = named.first().copied();
    let mut shared = repo.bases(ours, theirs)?;
    shared.sort();
    named.sort();
    let base = first.filter(|_| named != shared);
    let mut judge = Judge::new(&repo, &local);
    if !shared.is_empty() {
        judge.admit(Some(ours), theirs).map_err(|reason| Stop::refused(reason).faults())?;
    }
    let commits = repo.log_between(ours, theirs)?;
    let sides = (ours, theirs);
    let merged = merging::until_it_holds(&repo, &mut judge, base, sides, &commits, &mut |_| {});
    let merged = merged.map_err(Stop::faults)?;
    repo.bring_to_folder(&around.git, ours, &merged.tree.after)?;
    Ok(merged.tree.opened)
}

/// Merges one file as git's merge driver is asked to: the result takes the place of `ours`. Gives back what stays
/// open, by place; not empty means that git has to stop.
///
/// # Errors
/// What the disk says.
pub(crate) fn file(base: &Path, ours: &Path, theirs: &Path, path: &str) -> Outcome<Vec<String>> {
    let read = |file: &Path| {
        fs::read(file).map_err(|e| Box::new(safe_path::io_fault(&file.display().to_string(), "read", &e)))
    };
    let (b, o, t) = (read(base)?, read(ours)?, read(theirs)?);
    let driven = drive(&layout(), path, Three { base: &b, ours: &o, theirs: &t });
    fs::write(ours, &driven.bytes)
        .map_err(|e| Box::new(safe_path::io_fault(&ours.display().to_string(), "write", &e)))?;
    let place = |question: FileQuestion| match question {
        FileQuestion::Place(place) => place.pointer,
        FileQuestion::Bytes => String::new(),
    };
    Ok(driven.questions.into_iter().map(place).collect())
}

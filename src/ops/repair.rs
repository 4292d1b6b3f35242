//! What an interrupted git or editor can leave in a book, and how each can be put right. Repairs are offered and
//! never guessed: each has a name, says what it would do, and is done only when somebody asks for it by that name.
//!
//! Nothing is thrown away: a file that a repair replaces or takes out is first set aside in this clone, under
//! `.git/underlit/set-aside/`, and the repair says where.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::desk;
use super::repair_file::{file_offers, restore};
use crate::fault::{Class, Fault, Outcome};
use crate::git::{GitError, LostBranch, Repo};
use crate::ids::ProjectId;
use crate::model::kind::{Kind, is_being_written};
use crate::store::{BookFolder, safe_path, write};
use crate::trust::{Surroundings, check};

/// Something that can be put right, in one way.
#[derive(Clone, Debug)]
pub(crate) struct Offer {
    /// The name to ask for it by.
    pub name: String,
    /// What is the matter.
    pub what: String,
    /// What would be done.
    pub how: String,
    pub(super) deed: Deed,
}

/// What a repair does.
#[derive(Clone, Debug)]
pub(super) enum Deed {
    /// Takes out lock files of git.
    Unlock(Vec<PathBuf>),
    /// Runs git with these arguments, after setting aside what is uncommitted.
    Git(Vec<&'static str>),
    /// Takes out files that are nobody's.
    TakeOut(Vec<String>),
    /// Moves files out of the book.
    SetAside(Vec<String>),
    /// Checks the lost branch out again.
    Branch(LostBranch),
    /// Makes git's index again.
    Index,
    /// Gives a project's folder its name back.
    NameBack(String, ProjectId),
    /// Replaces a file's bytes.
    Rewrite(String, Vec<u8>),
}

/// A lock file that is younger may belong to a git that is at work.
const YOUNG_SECONDS: u64 = 2;

/// Everything that can be put right in a book.
///
/// # Errors
/// What git says of the clone.
pub(crate) fn offers(from: &Path) -> Outcome<Vec<Offer>> {
    let book = BookFolder::find(from)?;
    let repo = Repo::open(book.root())?;
    let mut found = Vec::new();
    found.extend(locks(&repo)?);
    if let Some(lost) = repo.lost_branch()? {
        let error = GitError::BranchLost(lost.clone());
        let how = match (&lost.elsewhere, lost.last) {
            (Some(other), _) => format!("check out the branch {other} again, and touch no file"),
            (None, Some(last)) => {
                format!("put the branch {} back to {}, and touch no file", lost.branch, last.short())
            }
            (None, None) => String::new(),
        };
        let offer = Offer { name: "branch".into(), what: error.to_string(), how, deed: Deed::Branch(lost) };
        return Ok(found.into_iter().chain([offer]).collect());
    }
    found.extend(half_done(&repo));
    match unmerged(&repo) {
        Ok(offer) => found.extend(offer),
        Err(error @ GitError::IndexUnreadable { .. }) => found.push(Offer {
            name: "index".into(),
            what: error.to_string(),
            how: "make it again from what is committed, and touch no file; what was only staged is left out"
                .into(),
            deed: Deed::Index,
        }),
        Err(error) => return Err(error.into()),
    }
    let moved = check::moved_projects(&book, &|_| false)?;
    for (folder, id) in moved.clone() {
        found.push(Offer {
            name: format!("moved:{folder}"),
            what: format!("the folder of project {id} is called {folder}"),
            how: format!("give it its name back: projects/{id}"),
            deed: Deed::NameBack(folder, id),
        });
    }
    let (mut writing, mut editors) = (Vec::new(), Vec::new());
    for path in every_file(book.root())? {
        if is_being_written(&path) {
            writing.push(path);
        } else if is_an_editors(&path) {
            editors.push(path);
        }
    }
    if !writing.is_empty() {
        found.push(Offer {
            name: "writing".into(),
            what: format!("a command was ended while it wrote: {}", writing.join(", ")),
            how: "take them out; no record is read from them".into(),
            deed: Deed::TakeOut(writing),
        });
    }
    if !editors.is_empty() {
        found.push(Offer {
            name: "editor-files".into(),
            what: format!("an editor left copies of its own: {}", editors.join(", ")),
            how: "move them out of the book, into this clone's set-aside".into(),
            deed: Deed::SetAside(editors),
        });
    }
    let head = repo.head_snapshot()?;
    let (paths, faults) = book.walk("");
    // What cannot be read is not gone.
    if let Some(fault) = faults.into_iter().find(|fault| fault.class == Class::Io) {
        return Err(Box::new(fault));
    }
    for path in &paths {
        match book.read(path, safe_path::LARGEST_ATTACHMENT) {
            Ok(bytes) => found.extend(file_offers(path, &bytes, head.file(path)?.as_deref())),
            Err(fault) if fault.class == Class::Io => return Err(fault),
            Err(_) => {} // no record, and nothing that is offered to be put right
        }
    }
    for gone in head.files("")?.iter().filter(|f| paths.binary_search(&f.path).is_err()) {
        let elsewhere =
            ProjectId::of_path(&gone.path).is_some_and(|of| moved.iter().any(|(_, id)| *id == of));
        let said = Kind::of_path(&gone.path).is_some_and(Kind::is_add_only) && !elsewhere;
        if let (true, Some(bytes)) = (said, head.file(&gone.path)?) {
            found.push(restore(&gone.path, "is missing, and signed records are never removed", bytes));
        }
    }
    Ok(found)
}

/// Puts one thing right. Gives back where files were set aside, where any were.
///
/// # Errors
/// `no-such-repair`; what the disk or git says.
pub(crate) fn repair(
    from: &Path,
    around: &Surroundings<'_>,
    name: &str,
) -> Outcome<(Offer, Option<PathBuf>)> {
    let all = offers(from)?;
    let Some(offer) = all.iter().find(|offer| offer.name == name) else {
        let names: Vec<&str> = all.iter().map(|offer| offer.name.as_str()).collect();
        let remedy = if names.is_empty() {
            "there is nothing that underlit can repair".to_owned()
        } else {
            format!("offered: {}", names.join(", "))
        };
        return Err(Box::new(
            Fault::usage("no-such-repair", format!("no repair is called {name}")).fix(remedy),
        ));
    };
    if around.dry_run {
        return Ok((offer.clone(), None));
    }
    let book = BookFolder::find(from)?;
    let repo = Repo::open(book.root())?;
    // A lock file of git's does not hinder this one, and nothing is settled while another program is at work.
    let _lock = match &offer.deed {
        Deed::Unlock(_) | Deed::Git(_) | Deed::Branch(_) | Deed::Index => repo.lock_as_it_is()?,
        _ => desk::lock_settled(&repo)?,
    };
    let aside = repo.clone_local_dir()?.join("set-aside").join(around.stamp().replace(':', "-"));
    let mut kept = false;
    let mut keep = |path: &str| -> Outcome<()> {
        let from = book.root().join(path);
        if !from.is_file() {
            return Ok(());
        }
        let to = aside.join(path);
        let io = |e: std::io::Error| Box::new(safe_path::io_fault(path, "write", &e));
        fs::create_dir_all(to.parent().unwrap_or(&aside)).map_err(io)?;
        fs::copy(&from, &to).map_err(io)?;
        kept = true;
        Ok(())
    };
    let out = |path: &Path| {
        fs::remove_file(path)
            .map_err(|e| Box::new(safe_path::io_fault(&path.display().to_string(), "write", &e)))
    };
    match &offer.deed {
        Deed::Unlock(locks) => locks.iter().try_for_each(|lock| out(lock))?,
        Deed::Git(args) => {
            for path in changed_for_git(&repo)? {
                keep(&path)?;
            }
            repo.run_git(&around.git, args)?;
        }
        Deed::Branch(lost) => repo.find_branch_again(lost)?,
        Deed::Index => repo.make_index_again(&around.git)?,
        Deed::NameBack(folder, id) => {
            let at = |name: &str| book.root().join("projects").join(name);
            fs::rename(at(folder), at(id.as_str()))
                .map_err(|e| Box::new(safe_path::io_fault(&format!("projects/{folder}"), "write", &e)))?;
        }
        Deed::TakeOut(paths) => paths.iter().try_for_each(|path| out(&book.root().join(path)))?,
        Deed::SetAside(paths) => {
            for path in paths {
                keep(path)?;
                out(&book.root().join(path))?;
            }
        }
        Deed::Rewrite(path, bytes) => {
            keep(path)?;
            let full = book.root().join(path);
            let io = |e: std::io::Error| Box::new(safe_path::io_fault(path, "write", &e));
            fs::create_dir_all(full.parent().unwrap_or(book.root())).map_err(io)?;
            write::write_whole(&full, bytes).map_err(io)?;
        }
    }
    Ok((offer.clone(), kept.then_some(aside)))
}

/// What lies uncommitted, in a clone in which a merge may be half done.
fn changed_for_git(repo: &Repo) -> Outcome<Vec<String>> {
    let head = repo.head_snapshot()?;
    let mut changed = Vec::new();
    for path in every_file(repo.root())? {
        let bytes = match fs::read(repo.root().join(&path)) {
            Ok(bytes) => Some(bytes),
            Err(e) if e.kind() == ErrorKind::NotFound => None,
            Err(e) => return Err(Box::new(safe_path::io_fault(&path, "read", &e))),
        };
        if bytes != head.file(&path)? {
            changed.push(path);
        }
    }
    Ok(changed)
}

fn locks(repo: &Repo) -> Outcome<Option<Offer>> {
    let mut found: Vec<PathBuf> = Vec::new();
    let git = repo.git_folder();
    let mut open = vec![git.join("refs")];
    let top =
        ["index.lock", "HEAD.lock", "config.lock", "packed-refs.lock", "shallow.lock", "FETCH_HEAD.lock"];
    found.extend(top.iter().map(|name| git.join(name)).filter(|path| path.is_file()));
    while let Some(folder) = open.pop() {
        let io = |e: std::io::Error| Box::new(safe_path::io_fault(&folder.display().to_string(), "read", &e));
        for entry in fs::read_dir(&folder).map_err(io)? {
            let path = entry.map_err(io)?.path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|ending| ending == "lock") {
                found.push(path);
            }
        }
    }
    let old = |path: &PathBuf| {
        let age = path.metadata().and_then(|m| m.modified()).map(|at| SystemTime::now().duration_since(at));
        matches!(age, Ok(Ok(age)) if age.as_secs() >= YOUNG_SECONDS)
    };
    found.retain(|path| old(path) && !is_open_somewhere(path));
    if found.is_empty() {
        return Ok(None);
    }
    let names: Vec<String> = found.iter().map(|path| path.display().to_string()).collect();
    Ok(Some(Offer {
        name: "locks".into(),
        what: format!("a git that ended left {}", names.join(", ")),
        how: "take them out; first see that no git and no editor is at work in this book".into(),
        deed: Deed::Unlock(found),
    }))
}

/// True where a process holds the file open, as far as this system shows it.
fn is_open_somewhere(path: &Path) -> bool {
    let Ok(wanted) = path.canonicalize() else { return false };
    let processes = fs::read_dir("/proc").into_iter().flatten().flatten();
    let open = processes.flat_map(|p| fs::read_dir(p.path().join("fd")).into_iter().flatten().flatten());
    open.filter_map(|fd| fs::read_link(fd.path()).ok()).any(|file| file == wanted)
}

fn half_done(repo: &Repo) -> Option<Offer> {
    let operation = repo.half_done()?;
    let (name, args) = match operation {
        "merge" => ("merge", vec!["merge", "--abort"]),
        "rebase" => ("rebase", vec!["rebase", "--abort"]),
        "cherry-pick" => ("cherry-pick", vec!["cherry-pick", "--abort"]),
        "revert" => ("revert", vec!["revert", "--abort"]),
        "am" => ("am", vec!["am", "--abort"]),
        _ => ("bisect", vec!["bisect", "reset"]),
    };
    Some(Offer {
        name: name.into(),
        what: format!("a git {operation} is half done"),
        how: format!(
            "drop it (git {}); commits stay, and what is not committed is set aside first",
            args.join(" ")
        ),
        deed: Deed::Git(args),
    })
}

/// Files that git left to be settled with no operation under way that could be dropped, as after a `git stash pop`.
fn unmerged(repo: &Repo) -> Result<Option<Offer>, GitError> {
    let paths = if repo.half_done().is_some() { Vec::new() } else { repo.unmerged()? };
    Ok((!paths.is_empty()).then(|| Offer {
        name: "unmerged".into(),
        what: format!("git could not settle {}", paths.join(", ")),
        how: "put back what is committed (git reset --merge); what is not committed is set aside first, and a stash stays in `git stash list`".into(),
        deed: Deed::Git(vec!["reset", "--merge"]),
    }))
}

/// The files that git left to be settled by hand in the clone of a book, which takes reading its whole index.
///
/// # Errors
/// What git says.
pub(crate) fn unsettled(book: &BookFolder) -> Result<Vec<String>, GitError> {
    Repo::open(book.root())?.unmerged()
}

/// What is half done in the clone of a book, as a sentence with its remedy, for whoever only looks at it: an operation of
/// git, or else these [`unsettled`] files.
#[must_use]
pub(crate) fn half_done_in_words(book: &BookFolder, unsettled: &[String]) -> Option<String> {
    let repo = Repo::open(book.root()).ok()?;
    let error = match repo.half_done() {
        Some(operation) => GitError::Busy { operation },
        None if !unsettled.is_empty() => GitError::Unmerged { paths: unsettled.to_vec() },
        None => return None,
    };
    Some(format!("{error}; what is shown is what lies here. Fix: {}", error.remedy()))
}

/// What is wrong with a clone itself, besides its files: what a sync says of it before anything else, and what kept its
/// index from being read.
#[must_use]
pub(crate) fn clone_faults(book: &BookFolder, unread: Option<GitError>) -> Vec<Fault> {
    let fault = |error: GitError| vec![*Box::<Fault>::from(error)];
    let repo = match Repo::open(book.root()) {
        Ok(repo) => repo,
        // A book without a history, or in somebody else's repository.
        Err(GitError::NotTopFolder { .. } | GitError::OtherOwner { .. }) => return Vec::new(),
        Err(error) => match book.lies_there(".git") {
            Ok(false) => return Vec::new(),
            _ => return fault(error),
        },
    };
    match repo.lost_branch() {
        Ok(Some(lost)) => return fault(GitError::BranchLost(lost)),
        Err(error) if error != GitError::DetachedHead => return fault(error),
        _ => {}
    }
    match unread {
        Some(error @ GitError::IndexUnreadable { .. }) => fault(error),
        _ => Vec::new(),
    }
}

/// Every file of the working folder, whatever its name.
fn every_file(root: &Path) -> Outcome<Vec<String>> {
    let mut found = Vec::new();
    let mut open = vec![root.to_path_buf()];
    while let Some(folder) = open.pop() {
        let io = |e: std::io::Error| {
            let inside = folder.strip_prefix(root).unwrap_or(&folder).display().to_string();
            Box::new(safe_path::io_fault(if inside.is_empty() { "." } else { &inside }, "read", &e))
        };
        for entry in fs::read_dir(&folder).map_err(io)? {
            let entry = entry.map_err(io)?;
            let path = entry.path();
            let kind = entry.file_type();
            if kind.as_ref().is_ok_and(fs::FileType::is_dir) {
                if path != root.join(".git") {
                    open.push(path);
                }
            } else if kind.is_ok_and(|kind| kind.is_file() || kind.is_symlink())
                && let Some(inside) = path.strip_prefix(root).ok().and_then(Path::to_str)
            {
                found.push(inside.replace('\\', "/"));
            }
        }
    }
    found.sort();
    Ok(found)
}

/// True for the names that editors give to their own copies and locks.
fn is_an_editors(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or(path);
    let swap = [".swp", ".swo", ".swx", ".orig", ".rej", ".bak", ".tmp"];
    let own = name.ends_with('~')
        || name.starts_with(".#")
        || (name.starts_with('#') && name.ends_with('#'))
        || name == "4913" // what one writes to see whether it may
        || swap.iter().any(|ending| name.ends_with(ending));
    own && Kind::of_path(path).is_none()
}

//! A folder that is new or empty, filled whole or not at all: for a book that is made or fetched.
//!
//! Everything is made in a folder within it, whose name says so, and moved up once it is complete. A command that is
//! killed before leaves that folder alone, which the next one takes out; one that is killed while it moves leaves the
//! rest of the moving to the next one.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::fault::{Fault, Outcome};
use crate::store::safe_path::io_fault;

/// How the folder's name begins.
const PREFIX: &str = ".underlit-new-";

/// What stands in it once everything is made.
const COMPLETE: &str = ".git/underlit/complete";

/// A folder in the making.
#[derive(Debug)]
pub(crate) struct NewFolder {
    /// Where it is to be.
    target: PathBuf,
    /// True where it was made for this, with the folders above it that were.
    made: Vec<PathBuf>,
    part: TempDir,
    /// Held by the system while this is at work.
    _at_work: File,
}

impl NewFolder {
    /// Begins in a folder that is not there yet or is empty.
    ///
    /// # Errors
    /// `folder-not-empty`, `folder-in-use`, and what the disk says.
    pub(crate) fn begin(target: &Path) -> Outcome<NewFolder> {
        let missing = target.ancestors().filter(|at| !at.as_os_str().is_empty());
        let made: Vec<PathBuf> =
            missing.take_while(|at| at.symlink_metadata().is_err()).map(Path::to_path_buf).collect();
        let io = |e: std::io::Error| Box::new(io_fault(&target.display().to_string(), "write", &e));
        if made.is_empty() {
            refuse_occupied(target)?;
        }
        fs::create_dir_all(target).map_err(io)?;
        let begun = (|| {
            let part = tempfile::Builder::new().prefix(PREFIX).tempdir_in(target)?;
            let at_work = File::open(part.path())?;
            // Where the disk knows no locks, nothing is lost but that a second one is not refused.
            let _ = at_work.try_lock();
            Ok((part, at_work))
        })();
        match begun {
            Ok((part, at_work)) => {
                Ok(NewFolder { target: target.to_path_buf(), made, part, _at_work: at_work })
            }
            Err(e) => {
                take_out(&made);
                Err(io(e))
            }
        }
    }

    /// Where to make everything.
    #[must_use]
    pub(crate) fn path(&self) -> &Path {
        self.part.path()
    }

    /// Puts everything in its place.
    ///
    /// # Errors
    /// What the disk says; whatever is still to be moved is moved by the next one that begins here.
    pub(crate) fn keep(self) -> Outcome<PathBuf> {
        let NewFolder { target, part, .. } = self;
        let io = |e: std::io::Error| Box::new(io_fault(&target.display().to_string(), "write", &e));
        let part = part.keep();
        let complete = part.join(COMPLETE);
        complete.parent().map_or(Ok(()), fs::create_dir_all).map_err(io)?;
        fs::write(complete, "").and_then(|()| File::open(&part)?.sync_all()).map_err(io)?;
        move_up(&part, &target).map_err(io)?;
        target.canonicalize().map_err(io)
    }

    /// Takes out what was made.
    pub(crate) fn drop_all(self) {
        let NewFolder { made, part, .. } = self;
        // What cannot be taken out is named so that everybody sees what it is.
        let at = part.keep();
        let _ = fs::remove_dir_all(&at).or_else(|_| fs::remove_dir_all(&at));
        take_out(&made);
    }
}

/// Takes out folders that were made, from the innermost on, while they are empty.
fn take_out(made: &[PathBuf]) {
    let _ = made.iter().map(fs::remove_dir).take_while(Result::is_ok).count();
}

/// Says no where something lies in a folder. What an ended run left is settled first.
fn refuse_occupied(target: &Path) -> Outcome<()> {
    let shown = target.display().to_string();
    let io = |e: std::io::Error| Box::new(io_fault(&shown, "read", &e));
    let occupied = |why: String| {
        Box::new(
            Fault::usage("folder-not-empty", why).fix("name a folder that is not there yet, or an empty one"),
        )
    };
    if !fs::metadata(target).map_err(io)?.is_dir() {
        return Err(occupied(format!("{shown} is not empty: it is a file")));
    }
    let names = || -> std::io::Result<Vec<String>> {
        let name =
            |entry: std::io::Result<fs::DirEntry>| Ok(entry?.file_name().to_string_lossy().into_owned());
        fs::read_dir(target)?.map(name).collect()
    };
    for name in names().map_err(io)?.iter().filter(|name| name.starts_with(PREFIX)) {
        let part = target.join(name);
        if File::open(&part).is_ok_and(|folder| folder.try_lock().is_err()) {
            return Err(Box::new(
                Fault::io("folder-in-use", format!("another underlit makes a book in {shown}"))
                    .fix("wait until it is done, or name another folder"),
            ));
        }
        if part.join(COMPLETE).exists() || target.join(COMPLETE).exists() {
            move_up(&part, target).map_err(io)?;
            return Err(occupied(format!(
                "a book lies in {shown}: a command that was ended had made it, and it is complete now"
            )));
        }
        fs::remove_dir_all(&part).map_err(io)?;
    }
    if names().map_err(io)?.is_empty() { Ok(()) } else { Err(occupied(format!("{shown} is not empty"))) }
}

/// Moves everything up, the file that makes a book of it last.
fn move_up(part: &Path, target: &Path) -> std::io::Result<()> {
    let mut names = Vec::new();
    for entry in fs::read_dir(part)? {
        names.push(entry?.file_name());
    }
    names.sort_by_key(|name| (name == "book.json", name == ".git"));
    for name in names {
        fs::rename(part.join(&name), target.join(&name))?;
    }
    fs::remove_dir(part)?;
    File::open(target)?.sync_all()?;
    match fs::remove_file(target.join(COMPLETE)) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(e),
        _ => Ok(()),
    }
}

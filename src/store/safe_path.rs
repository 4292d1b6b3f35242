//! What is on disk, looked at without trust: no links are followed, and each path is judged by `paths`.

use std::ffi::OsStr;
use std::fs;
use std::io::ErrorKind;
use std::path::Path;

use crate::fault::{Fault, Means, Outcome};
use crate::model::kind::is_being_written;
use crate::paths::unsafe_paths;

/// The largest file that may lie beside a record, in bytes.
pub(crate) const LARGEST_ATTACHMENT: u64 = 64 << 20;

/// The largest signature, in bytes.
pub(crate) const LARGEST_SIGNATURE: u64 = 1 << 16;

/// True where something lies at a path of the book, whatever it is. Where that cannot be told, nothing counts as absent.
///
/// # Errors
/// What the disk says.
pub(crate) fn lies_there(root: &Path, path: &str) -> Outcome<bool> {
    match fs::symlink_metadata(root.join(path)) {
        Ok(_) => Ok(true),
        Err(error) if is_absence(&error) => Ok(false),
        Err(error) => Err(Box::new(io_fault(path, "read", &error))),
    }
}

/// True for what the disk says of a file that is not there, as against one that cannot be told.
fn is_absence(error: &std::io::Error) -> bool {
    matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory)
}

/// Reads a file of the book that must be an ordinary file of at most so many bytes.
///
/// # Errors
/// `not-a-file` for a link, a folder or a device; `too-large`; `read` for whatever the disk says.
pub(crate) fn read_plain(root: &Path, path: &str, largest: u64) -> Outcome<Vec<u8>> {
    let full = root.join(path);
    if let Some(bytes) = read_at_once(&full, largest) {
        return Ok(bytes);
    }
    refuse_links(root, path)?;
    let meta = fs::symlink_metadata(&full).map_err(|e| io_fault(path, "read", &e))?;
    if !meta.is_file() {
        return Err(Box::new(not_a_file(path)));
    }
    if meta.len() > largest {
        return Err(Box::new(too_large(path, meta.len(), largest)));
    }
    fs::read(&full).map_err(|e| Box::new(io_fault(path, "read", &e)))
}

/// The same where the system itself can open a path without following links, and nothing is odd about the file: a third of
/// the calls. In any other case the slow way says what there is to say.
#[cfg(target_os = "linux")]
fn read_at_once(full: &Path, largest: u64) -> Option<Vec<u8>> {
    use rustix::fs::{CWD, Mode, OFlags, ResolveFlags, openat2};
    use std::io::Read as _;
    let flags = OFlags::RDONLY | OFlags::CLOEXEC | OFlags::NONBLOCK | OFlags::NOCTTY;
    let file = fs::File::from(openat2(CWD, full, flags, Mode::empty(), ResolveFlags::NO_SYMLINKS).ok()?);
    let meta = file.metadata().ok().filter(|meta| meta.is_file() && meta.len() <= largest)?;
    let mut bytes = Vec::with_capacity(usize::try_from(meta.len()).ok()? + 1);
    file.take(largest.saturating_add(1)).read_to_end(&mut bytes).ok()?;
    (bytes.len() as u64 <= largest).then_some(bytes)
}

#[cfg(not(target_os = "linux"))]
fn read_at_once(_full: &Path, _largest: u64) -> Option<Vec<u8>> {
    None
}

/// Refuses a path of which any part is a symbolic link.
///
/// # Errors
/// `not-a-file`, naming the part.
pub(crate) fn refuse_links(root: &Path, path: &str) -> Outcome<()> {
    let mut full = root.to_path_buf();
    let mut seen = String::new();
    for part in path.split('/') {
        full.push(part);
        seen = if seen.is_empty() { part.to_owned() } else { format!("{seen}/{part}") };
        match fs::symlink_metadata(&full) {
            Ok(found) if found.file_type().is_symlink() => return Err(Box::new(not_a_file(&seen))),
            Ok(_) => {}
            Err(error) if is_absence(&error) => return Ok(()),
            Err(error) => return Err(Box::new(io_fault(&seen, "read", &error))),
        }
    }
    Ok(())
}

/// A name that is no text.
pub(super) fn not_a_name(folder: &str, name: &OsStr) -> Fault {
    let at = if folder.is_empty() { String::new() } else { format!("{folder}/") };
    Fault::data("name", "a name is not Unicode text")
        .in_file(format!("{at}{}", name.to_string_lossy()))
        .fix("rename it with a-z, 0-9 and -")
}

/// A file that is larger than is read.
#[must_use]
pub(crate) fn too_large(path: &str, size: u64, largest: u64) -> Fault {
    Fault::data("too-large", format!("the file has {size} bytes; at most {largest} are read"))
        .in_file(path)
        .fix("keep large files outside the book")
}

pub(super) fn not_a_file(path: &str) -> Fault {
    Fault::data("not-a-file", "this is a link, a folder or a device, and a book holds only ordinary files")
        .that_means(Means::NotPlain)
        .in_file(path)
        .fix("put the file itself there")
}

/// What the disk said, as a fault.
#[must_use]
pub(crate) fn io_fault(path: &str, doing: &'static str, error: &std::io::Error) -> Fault {
    let remedy = match error.kind() {
        ErrorKind::PermissionDenied if doing == "read" => {
            "give yourself the right to read it (chmod u+r, for a folder u+rx), or ask whoever owns it"
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "give yourself the right to write in the book's folder, or copy the book to a place where you have it"
        }
        ErrorKind::NotADirectory => "a file lies where a folder belongs: move it out of the book",
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "make room on the disk and run the command again; nothing was changed"
        }
        ErrorKind::NotFound => "check the name, or take the file from the history: git log --all -- FILE",
        _ => "fix the disk or the connection and run the command again",
    };
    Fault::io(doing, format!("cannot {doing}: {error}")).in_file(path).fix(remedy)
}

/// What the disk said of the folder for temporary files, which is the machine's and no part of the book.
#[must_use]
pub(crate) fn scratch_fault(error: &std::io::Error) -> Fault {
    let at = std::env::temp_dir();
    let message = format!("the folder for temporary files, {}, cannot be used: {error}", at.display());
    Fault::io("temporary-folder", message)
        .fix("make room there, or name another folder: TMPDIR=DIR underlit …; nothing was changed")
}

/// The same for one folder of the book, without what lies in some; nothing where it is not there.
#[must_use]
pub(crate) fn walk_in(root: &Path, folder: &str, past: &dyn Fn(&str) -> bool) -> (Vec<String>, Vec<Fault>) {
    let mut files = Vec::new();
    let mut faults = Vec::new();
    if folder.is_empty() || root.join(folder).symlink_metadata().is_ok_and(|meta| meta.is_dir()) {
        walk_folder(root, folder, past, &mut files, &mut faults);
    }
    files.sort();
    let found = unsafe_paths(files.iter().map(String::as_str));
    faults.extend(found.iter().map(|one| one.fault("rename it with a-z, 0-9 and -, or take it out")));
    (files, faults)
}

fn walk_folder(
    root: &Path,
    folder: &str,
    past: &dyn Fn(&str) -> bool,
    files: &mut Vec<String>,
    faults: &mut Vec<Fault>,
) {
    if past(folder) {
        return;
    }
    let entries = match fs::read_dir(root.join(folder)) {
        Ok(entries) => entries,
        Err(error) => {
            faults.push(io_fault(if folder.is_empty() { "." } else { folder }, "read", &error));
            return;
        }
    };
    for entry in entries {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                faults.push(io_fault(if folder.is_empty() { "." } else { folder }, "read", &error));
                return;
            }
        };
        let name = entry.file_name();
        let Some(name) = name.to_str() else {
            faults.push(not_a_name(folder, &name));
            continue;
        };
        let path = if folder.is_empty() { name.to_owned() } else { format!("{folder}/{name}") };
        if path == ".git" || is_being_written(name) {
            continue;
        }
        match entry.file_type() {
            Ok(kind) if kind.is_dir() => walk_folder(root, &path, past, files, faults),
            Ok(kind) if kind.is_file() => files.push(path),
            Ok(_) => faults.push(not_a_file(&path)),
            Err(error) => faults.push(io_fault(&path, "read", &error)),
        }
    }
}

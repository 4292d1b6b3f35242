//! Looks through a book's folder for what may have been edited, and reads nothing that looks as it did.
//!
//! A look begins on threads of its own, so that it is done by the time a remote has answered.

use std::collections::BTreeSet;
use std::fs;
use std::io::ErrorKind;
use std::num::NonZero;
use std::path::{Path, PathBuf};
use std::thread::JoinHandle;

use tempfile::NamedTempFile;

use super::seen::{self, Kept, Knows, Seen, SeenFolder};
use super::stamp::{Outlook, Stamp};

/// Where more than so many places are to be asked about, going through everything is no slower.
pub(super) const MOST: usize = 1000;

/// Files that say what git ignores or how it reads: where one of them changes, everything is gone through.
pub(super) const GIT_FILES: [&str; 2] = [".gitignore", ".gitattributes"];

/// A look that is under way.
#[derive(Debug)]
pub struct FolderScan(Option<JoinHandle<Look>>);

/// What a look found.
#[derive(Debug, Default)]
pub(super) struct Look {
    /// What was known before; none where nothing was.
    pub(super) kept: Option<Kept>,
    /// The folders, by their place in it, in which something looks different.
    pub(super) touched: Vec<usize>,
    /// What was judged by before, where nothing looks different and nothing is to be asked about.
    pub(super) as_before: Option<Knows>,
    /// The file for what is seen now, with the time at which the look began; none for a look that keeps nothing.
    pub(super) into: Option<(NamedTempFile, i128)>,
}

impl FolderScan {
    /// Begins to look at the folder `root`. One that `keeps` has the book's lock.
    pub(super) fn begin(root: PathBuf, clone_local: PathBuf, keeps: bool) -> FolderScan {
        let look = move || {
            let into = if keeps { seen::begin(&clone_local) } else { None };
            let kept = Kept::load(&clone_local);
            let seen = kept.as_ref().and_then(Kept::seen::<&str>);
            let touched = seen.as_ref().map(|seen| touched(&root, &seen.folders)).unwrap_or_default();
            let as_before =
                seen.filter(|seen| touched.is_empty() && seen.asks.is_empty()).map(|seen| seen.knows);
            Look { kept, touched, as_before, into }
        };
        FolderScan(std::thread::Builder::new().spawn(look).ok())
    }

    /// What it found, once it is done; nothing known where no thread was to be had.
    pub(super) fn end(self) -> Look {
        self.0.and_then(|thread| thread.join().ok()).unwrap_or_default()
    }
}

/// The folders that look different, or in which a file does.
fn touched(root: &Path, folders: &[SeenFolder<&str>]) -> Vec<usize> {
    let hands = std::thread::available_parallelism().map_or(1, NonZero::get).min(8);
    let share = folders.len().div_ceil(hands).max(1);
    if share < 100 {
        return touched_among(root, folders, 0);
    }
    std::thread::scope(|scope| {
        let shares = folders.chunks(share).enumerate();
        let begun = shares.map(|(nth, part)| scope.spawn(move || touched_among(root, part, nth * share)));
        let begun: Vec<_> = begun.collect();
        let all = |(nth, hand): (usize, std::thread::ScopedJoinHandle<'_, Vec<usize>>)| {
            // A hand that failed has seen nothing: everything in its share is then looked at again.
            hand.join().unwrap_or_else(|_| (nth * share..folders.len().min((nth + 1) * share)).collect())
        };
        begun.into_iter().enumerate().flat_map(all).collect()
    })
}

fn touched_among(root: &Path, folders: &[SeenFolder<&str>], first: usize) -> Vec<usize> {
    let Some(outlook) = Outlook::from(root) else { return (first..first + folders.len()).collect() };
    let mut path = String::new();
    let mut same = |folder: &SeenFolder<&str>| {
        path.clear();
        path.push_str(folder.path);
        let itself = if path.is_empty() { "." } else { &path };
        let mut same = outlook.says(itself, folder.stamp);
        if !path.is_empty() {
            path.push('/');
        }
        let beneath = path.len();
        for (name, stamp) in &folder.files {
            path.truncate(beneath);
            path.push_str(name);
            same = same && outlook.says(&path, *stamp);
        }
        same
    };
    (first..).zip(folders).filter(|(_, folder)| !same(folder)).map(|(nth, _)| nth).collect()
}

/// The folder in which a path lies.
pub(super) fn folder_of(path: &str) -> &str {
    path.trim_end_matches('/').rsplit_once('/').map_or("", |(folder, _)| folder)
}

/// Goes through folders again, and through new ones beneath them.
pub(super) struct Again<'a> {
    /// The book's folder.
    pub(super) root: &'a Path,
    /// What is known, brought up to date on the way.
    pub(super) seen: &'a mut Seen,
    /// When the look began.
    pub(super) began: i128,
    /// True for a new folder whose content counts: one that holds files of the book or is not ignored.
    pub(super) counts: &'a dyn Fn(&str) -> bool,
    /// The places that look different from what was known: files, and folders that are gone or are no longer ours.
    pub(super) candidates: BTreeSet<String>,
}

impl Again<'_> {
    /// Goes through the folders at these paths; a path that is not known stands for the nearest one above it that is.
    /// `None` where a name cannot be told or a folder not be read: then everything is to be asked about.
    pub(super) fn go_through(&mut self, folders: impl IntoIterator<Item = String>) -> Option<()> {
        let mut known = BTreeSet::new();
        for mut path in folders {
            while !path.is_empty() && self.seen.position(&path).is_err() {
                path = folder_of(&path).to_owned();
            }
            known.insert(path);
        }
        // In byte order a folder comes before what lies beneath it, which may be gone by its turn.
        known.into_iter().try_for_each(|path| {
            if path.is_empty() || self.seen.position(&path).is_ok() { self.folder(&path) } else { Some(()) }
        })
    }

    fn folder(&mut self, path: &str) -> Option<()> {
        let full = if path.is_empty() { self.root.to_owned() } else { self.root.join(path) };
        let found = match full.symlink_metadata() {
            Ok(found) if found.is_dir() => found,
            Ok(_) => return self.gone(path),
            Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
                return self.gone(path);
            }
            Err(_) => return None,
        };
        let mut now = SeenFolder {
            path: path.to_owned(),
            stamp: Stamp::settled(&found, self.began),
            files: Vec::new(),
        };
        let mut folders = BTreeSet::new();
        for entry in fs::read_dir(&full).ok()? {
            let entry = entry.ok()?;
            let name = entry.file_name().into_string().ok()?;
            if name == ".git" {
                if path.is_empty() {
                    continue;
                }
                return self.foreign(now);
            }
            let found = match entry.metadata() {
                Ok(found) => found,
                Err(e) if e.kind() == ErrorKind::NotFound => continue,
                Err(_) => return None,
            };
            // A list by way of a link changes where nothing looks different.
            if GIT_FILES.contains(&name.as_str()) && !found.is_file() {
                return None;
            }
            if found.is_dir() {
                folders.insert(join(path, &name));
            } else {
                now.files.push((name, Stamp::settled(&found, self.began)));
            }
        }
        now.files.sort_unstable_by(|a, b| a.0.cmp(&b.0));
        self.compare(&now);
        let known: Vec<String> = self.seen.folders[self.seen.beneath(path)]
            .iter()
            .filter(|folder| folder_of(&folder.path) == path)
            .map(|folder| folder.path.clone())
            .collect();
        self.put(now);
        for gone in known.iter().filter(|known| !folders.contains(*known)) {
            self.gone(gone)?;
        }
        let known: BTreeSet<String> = known.into_iter().collect();
        for new in folders.iter().filter(|folder| !known.contains(*folder)) {
            if (self.counts)(new) {
                self.folder(new)?;
            }
        }
        Some(())
    }

    /// Suspects every file that does not look as it did.
    fn compare(&mut self, now: &SeenFolder) {
        let before = self.seen.position(&now.path).ok().map(|nth| &self.seen.folders[nth]);
        let before = before.map(|folder| folder.files.as_slice()).unwrap_or_default();
        let stamp_in = |files: &[(String, Stamp)], name: &str| {
            files.binary_search_by(|(known, _)| known.as_str().cmp(name)).ok().map(|nth| files[nth].1)
        };
        let differs = |(name, stamp): &&(String, Stamp)| {
            *stamp == Stamp::NEVER || stamp_in(before, name) != Some(*stamp)
        };
        let new = now.files.iter().filter(differs);
        let gone = before.iter().filter(|(name, _)| stamp_in(&now.files, name).is_none());
        let candidates: Vec<String> = new.chain(gone).map(|(name, _)| join(&now.path, name)).collect();
        self.candidates.extend(candidates);
    }

    fn put(&mut self, folder: SeenFolder) {
        match self.seen.position(&folder.path) {
            Ok(nth) => self.seen.folders[nth] = folder,
            Err(nth) => self.seen.folders.insert(nth, folder),
        }
    }

    fn forget_beneath(&mut self, path: &str) {
        let beneath = self.seen.beneath(path);
        self.seen.folders.drain(beneath);
    }

    /// A folder is no longer there: whatever of the book lay in it is suspect.
    fn gone(&mut self, path: &str) -> Option<()> {
        if path.is_empty() {
            return None;
        }
        self.forget_beneath(path);
        if let Ok(nth) = self.seen.position(path) {
            self.seen.folders.remove(nth);
        }
        self.candidates.insert(path.to_owned());
        Some(())
    }

    /// A folder with a repository of its own is git's to judge, each time.
    fn foreign(&mut self, mut folder: SeenFolder) -> Option<()> {
        self.forget_beneath(&folder.path);
        self.candidates.insert(folder.path.clone());
        folder.stamp = Stamp::NEVER;
        folder.files.clear();
        self.put(folder);
        Some(())
    }
}

fn join(folder: &str, name: &str) -> String {
    if folder.is_empty() { name.to_owned() } else { format!("{folder}/{name}") }
}

//! The folder in which the pages lie: a list of its own files says which may be replaced and taken out.
//!
//! The list is written before the files are, with what they hold and what they will hold, so that a run that is killed
//! leaves a folder that the next one still knows as its own.

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::Outcome;
use crate::digest::Sha256Digest;
use crate::fault::{self, Fault};
use crate::ids::BookId;
use crate::ops::own_folder::{Filling, OwnFolder};
use crate::store::safe_path::read_plain;
use crate::store::write;

/// The list of files.
const LIST: &str = "pages.json";

/// The largest list that is read, in bytes.
const LARGEST: u64 = 64 << 20;

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct List {
    /// The book.
    book: String,
    /// Every file with its digest.
    files: BTreeMap<String, Sha256Digest>,
    /// What files held that are being replaced or taken out.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    before: BTreeMap<String, Sha256Digest>,
}

/// The folder of a book's pages.
#[derive(Debug)]
pub(crate) struct Place {
    own: OwnFolder,
    book: BookId,
    /// What the folder's list says: every file that is its own.
    files: BTreeMap<String, Sha256Digest>,
    /// The files of this run.
    now: BTreeMap<String, Sha256Digest>,
    /// True where the list was not read as it would be written.
    unsettled: bool,
}

/// True for a name that a file of the pages has.
fn is_of_the_pages(path: &str) -> bool {
    let plain = |name: &str| {
        name.split_once('.').is_some_and(|(stem, ending)| {
            !stem.is_empty()
                && stem.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
                && ["html", "svg", "jpg", "ics", "json"].contains(&ending)
        })
    };
    let id = |name: &str| crate::ids::check_name(name).is_ok();
    match path.split('/').collect::<Vec<_>>()[..] {
        [name] | ["people" | "jobs" | "weeks" | "done", name] => plain(name),
        ["jobs", job, name] => id(job) && plain(name),
        _ => false,
    }
}

impl Place {
    /// A new or empty folder, or one with earlier pages of the same book.
    ///
    /// # Errors
    /// `link-in-the-way`; `folder-not-empty` where other things lie there; what the disk says.
    pub(crate) fn find(folder: &Path, book: &BookId) -> fault::Outcome<Place> {
        let mut own = OwnFolder::of(folder, Filling::Pages);
        let (mut files, mut unsettled) = (BTreeMap::new(), true);
        if !own.is_new()? {
            let foreign = || own.foreign(&format!("the pages of {book}"));
            let bytes = read_plain(folder, LIST, LARGEST).map_err(|_| foreign())?;
            // A record's bounds are not this list's: it has a line for every page.
            let list: List = serde_json::from_slice(&bytes).map_err(|_| foreign())?;
            if list.book != book.as_str() {
                return Err(foreign());
            }
            unsettled = !list.before.is_empty();
            for (path, digest) in list.files.iter().chain(&list.before).filter(|(p, _)| is_of_the_pages(p)) {
                own.owns(path, *digest);
            }
            own.owns(LIST, Sha256Digest::of(&bytes));
            files = list.files;
            for (path, digest) in list.before {
                files.entry(path).or_insert(digest);
            }
            files.retain(|path, _| is_of_the_pages(path));
        }
        Ok(Place { own, book: book.clone(), files, now: BTreeMap::new(), unsettled })
    }

    /// True where a file lies there as it was made before.
    pub(super) fn has(&self, path: &str, digest: &Sha256Digest) -> bool {
        self.files.get(path) == Some(digest) && self.own.has(path, digest)
    }

    /// Lets files stay that lie there as they were made before.
    pub(super) fn keep(&mut self, files: BTreeMap<String, Sha256Digest>) {
        self.now.extend(files);
    }

    /// Writes files, each where it is not there already.
    pub(super) fn put(
        &mut self,
        files: Vec<(String, Vec<u8>)>,
        dry_run: bool,
        outcome: &mut Outcome,
    ) -> Result<(), Vec<Fault>> {
        let mut new: Vec<(String, Vec<u8>)> = Vec::new();
        for (path, bytes) in files {
            let digest = Sha256Digest::of(&bytes);
            if !self.has(&path, &digest) {
                new.push((path.clone(), bytes));
            }
            self.now.insert(path, digest);
        }
        if new.is_empty() {
            return Ok(());
        }
        self.own.may_change(new.iter().map(|(path, _)| path.as_str()))?;
        if !dry_run {
            let mut list =
                List { book: self.book.to_string(), files: self.files.clone(), before: BTreeMap::new() };
            for (path, bytes) in &new {
                let digest = Sha256Digest::of(bytes);
                if let Some(before) = list.files.insert(path.clone(), digest) {
                    list.before.insert(path.clone(), before);
                }
                self.own.owns(path, digest);
            }
            self.list(&list)?;
            self.unsettled = true;
        }
        for (path, bytes) in new {
            if !dry_run {
                self.own.put(&path, &bytes)?;
            }
            self.files.insert(path.clone(), Sha256Digest::of(&bytes));
            outcome.bytes += bytes.len() as u64;
            outcome.written.push(path);
        }
        Ok(())
    }

    /// Takes out what is no page of today, and settles the list.
    pub(super) fn close(&mut self, dry_run: bool, outcome: &mut Outcome) -> Result<(), Vec<Fault>> {
        let gone: Vec<String> =
            self.files.keys().filter(|path| !self.now.contains_key(*path)).cloned().collect();
        outcome.files = self.now.len();
        outcome.removed.clone_from(&gone);
        self.own.may_change(gone.iter().map(String::as_str))?;
        if dry_run || (gone.is_empty() && !self.unsettled) {
            return Ok(());
        }
        for path in &gone {
            self.own.remove(path)?;
        }
        let list = List { book: self.book.to_string(), files: self.now.clone(), before: BTreeMap::new() };
        self.list(&list)?;
        self.files.clone_from(&self.now);
        self.now.clear();
        self.unsettled = false;
        Ok(())
    }

    fn list(&mut self, list: &List) -> Result<(), Vec<Fault>> {
        let bytes = write::to_bytes(list)?;
        self.own.may_change(std::iter::once(LIST))?;
        self.own.put(LIST, &bytes)?;
        self.own.owns(LIST, Sha256Digest::of(&bytes));
        Ok(())
    }
}

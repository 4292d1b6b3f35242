//! The folder of a pack on somebody's disk: written without following a link, and held against a pack made again.
//!
//! The folder may have come from anybody. Nothing is written or removed through a link, and nothing is removed or
//! replaced that this program did not write: a file counts as a pack's own where its name is one that a pack has and
//! its bytes are those that the folder's own list of digests states.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::model::id::ProjectId;
use crate::store::safe_path::{LARGEST_ATTACHMENT, io_fault, read_plain};
use crate::store::strict_json;
use crate::store::write::write_whole;

/// The record of a pack.
pub(super) const RECORD: &str = "pack.json";

/// The list of digests of a pack.
const SUMS: &str = "SHA256SUMS";

/// The largest pack.json and list of digests that are read, in bytes.
const LARGEST: u64 = 64 << 20;

/// The most files of a folder that are looked at.
const MOST: usize = 20_000;

/// True for a name that a file of a pack has.
fn is_of_a_pack(path: &str) -> bool {
    let plain = |name: &str| !name.is_empty() && !name.starts_with('.') && !name.contains(['\\', '\0']);
    match path.split_once('/') {
        None => {
            let alone =
                ["README.txt", RECORD, "pack.pdf", "bill.csv", "bill.json", "order.csv", "dates.ics", SUMS];
            alone.contains(&path)
        }
        Some((folder, name)) => {
            ["sheets", "cut", "photos"].contains(&folder) && plain(name) && !name.contains('/')
        }
    }
}

/// The folder of a pack that may be written: the files of the pack that lies there, by their digests.
#[derive(Clone, Debug)]
pub struct Place {
    folder: PathBuf,
    own: BTreeMap<String, Sha256Digest>,
}

impl Place {
    /// A new or empty folder, or that of an earlier pack of the same job.
    ///
    /// # Errors
    /// `link-in-the-way`; `folder-not-empty` where other things lie there; what the disk says.
    pub fn find(folder: &Path, project: &ProjectId) -> Outcome<Place> {
        let name = folder.display().to_string();
        let place = Place { folder: folder.to_path_buf(), own: BTreeMap::new() };
        match fs::symlink_metadata(folder) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(place),
            Err(e) => return Err(Box::new(io_fault(&name, "read", &e))),
            Ok(meta) if meta.is_symlink() => return Err(Box::new(link(folder))),
            Ok(_) => {}
        }
        if fs::read_dir(folder).map_err(|e| Box::new(io_fault(&name, "read", &e)))?.next().is_none() {
            return Ok(place);
        }
        let foreign = || {
            Box::new(
                Fault::usage(
                    "folder-not-empty",
                    format!("{name} holds other things than a pack of {project}"),
                )
                .fix("name a new or empty folder with --into"),
            )
        };
        let record = read_plain(folder, RECORD, LARGEST).map_err(|_| foreign())?;
        let record = strict_json::parse(&record).map_err(|_| foreign())?;
        if record["data"]["project"].as_str() != Some(project.as_str()) {
            return Err(foreign());
        }
        let sums = read_plain(folder, SUMS, LARGEST).map_err(|_| foreign())?;
        let text = String::from_utf8_lossy(&sums);
        let own = text.lines().filter_map(|line| {
            let (digest, path) = line.split_once("  ")?;
            is_of_a_pack(path).then_some((path.to_owned(), digest.parse().ok()?))
        });
        let mut own: BTreeMap<String, Sha256Digest> = own.collect();
        own.insert(SUMS.to_owned(), Sha256Digest::of(&sums));
        Ok(Place { own, ..place })
    }

    /// Writes the files of a pack in place of those of the earlier one.
    ///
    /// # Errors
    /// `link-in-the-way`, `not-of-the-pack` where a file there is not the earlier pack's own; nothing is changed then. What
    /// the disk says.
    pub fn write(&self, files: &[(String, Vec<u8>)]) -> Result<(), Vec<Fault>> {
        let gone: Vec<&String> =
            self.own.keys().filter(|path| !files.iter().any(|(new, _)| new == *path)).collect();
        let all = gone.iter().map(|path| path.as_str()).chain(files.iter().map(|(path, _)| path.as_str()));
        let wrong: Vec<Fault> = all.filter_map(|path| self.in_the_way(path)).collect();
        if !wrong.is_empty() {
            return Err(wrong);
        }
        let io =
            |path: &Path, doing, e: &std::io::Error| vec![io_fault(&path.display().to_string(), doing, e)];
        for path in gone {
            let full = self.folder.join(path);
            match fs::remove_file(&full) {
                Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(io(&full, "remove", &e)),
                _ => {}
            }
        }
        for (path, bytes) in files {
            let full = self.folder.join(path);
            if let Some(parent) = full.parent() {
                fs::create_dir_all(parent).map_err(|e| io(parent, "make", &e))?;
            }
            // Asked once more right before: whoever else writes here may have put a link there meanwhile.
            if let Some(fault) = self.linked(path) {
                return Err(vec![fault]);
            }
            write_whole(&full, bytes).map_err(|e| io(&full, "write", &e))?;
        }
        Ok(())
    }

    /// Why a file of the folder may be neither replaced nor removed; none where it may, or is not there.
    fn in_the_way(&self, path: &str) -> Option<Fault> {
        if let Some(fault) = self.linked(path) {
            return Some(fault);
        }
        let full = self.folder.join(path);
        if fs::symlink_metadata(&full).is_err_and(|e| e.kind() == std::io::ErrorKind::NotFound) {
            return None;
        }
        let here = read_plain(&self.folder, path, LARGEST_ATTACHMENT).map(|bytes| Sha256Digest::of(&bytes));
        if here.is_ok_and(|digest| self.own.get(path) == Some(&digest)) {
            return None;
        }
        Some(
            Fault::usage(
                "not-of-the-pack",
                "this file is not as the earlier pack had it, so it is not replaced or removed; nothing was changed",
            )
            .in_file(full.display().to_string())
            .fix("move it elsewhere and run the command again, or name a new or empty folder with --into"),
        )
    }

    /// The link on the way to a file of the folder.
    fn linked(&self, path: &str) -> Option<Fault> {
        let mut full = self.folder.clone();
        std::iter::once("").chain(path.split('/')).find_map(|part| {
            full.push(part);
            fs::symlink_metadata(&full).is_ok_and(|meta| meta.is_symlink()).then(|| link(&full))
        })
    }
}

fn link(path: &Path) -> Fault {
    let message = "this is a link, and a pack is never written or removed through one; nothing was changed";
    Fault::usage("link-in-the-way", message)
        .in_file(path.display().to_string())
        .fix("name the folder itself with --into, or remove the link")
}

/// How the files of a handed-in pack differ from those of a pack made again.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct FilesCompared {
    /// Files whose bytes are others, or that are no plain files.
    pub different: Vec<String>,
    /// Files that the pack made again has and the handed-in one has not.
    #[serde(rename = "absent")]
    pub missing: Vec<String>,
    /// Files that only the handed-in one has.
    pub extra: Vec<String>,
}

impl FilesCompared {
    /// True where every file is the same, byte for byte.
    #[must_use]
    pub fn is_same(&self) -> bool {
        self.different.is_empty() && self.missing.is_empty() && self.extra.is_empty()
    }
}

/// Compares a handed-in folder with a pack made again, byte for byte.
///
/// # Errors
/// What the disk says; `too-large` for a folder of more files than are looked at.
pub(super) fn compare(folder: &Path, made: &[(String, Vec<u8>)]) -> Outcome<FilesCompared> {
    let mut found = Vec::new();
    list(folder, "", &mut found)?;
    let mut compared = FilesCompared::default();
    let made: BTreeMap<&str, &[u8]> = made.iter().map(|(path, bytes)| (path.as_str(), &bytes[..])).collect();
    for path in &found {
        match made.get(path.as_str()) {
            None => compared.extra.push(path.clone()),
            Some(bytes) => {
                let same = fs::symlink_metadata(folder.join(path))
                    .is_ok_and(|meta| meta.is_file() && meta.len() == bytes.len() as u64)
                    && read_plain(folder, path, u64::MAX).is_ok_and(|here| here == *bytes);
                if !same {
                    compared.different.push(path.clone());
                }
            }
        }
    }
    compared.missing =
        made.keys().filter(|path| !found.iter().any(|f| f == *path)).map(ToString::to_string).collect();
    Ok(compared)
}

/// Everything in a folder but folders themselves, links unfollowed.
fn list(root: &Path, at: &str, found: &mut Vec<String>) -> Outcome<()> {
    let io = |e: &std::io::Error| Box::new(io_fault(&root.join(at).display().to_string(), "read", e));
    let mut entries: Vec<(String, bool)> = Vec::new();
    for entry in fs::read_dir(root.join(at)).map_err(|e| io(&e))? {
        let entry = entry.map_err(|e| io(&e))?;
        let is_folder = entry.file_type().map_err(|e| io(&e))?.is_dir();
        entries.push((entry.file_name().to_string_lossy().into_owned(), is_folder));
        if entries.len() + found.len() > MOST {
            let message = format!("the folder holds more than {MOST} files, which no pack does");
            return Err(Box::new(
                Fault::data("too-large", message)
                    .in_file(root.display().to_string())
                    .fix("name the pack.json of the pack itself"),
            ));
        }
    }
    entries.sort();
    for (name, is_folder) in entries {
        let path = if at.is_empty() { name } else { format!("{at}/{name}") };
        // A pack has folders one deep; what lies deeper is extra as a whole.
        if is_folder && at.is_empty() {
            list(root, &path, found)?;
        } else {
            found.push(path);
        }
    }
    Ok(())
}

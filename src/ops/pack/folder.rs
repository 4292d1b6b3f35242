//! The folder of a pack on somebody's disk: written in place of an earlier pack, and held against a pack made again.
//!
//! The folder may have come from anybody. A file counts as a pack's own where its name is one that a pack has and its
//! bytes are those that the folder's own list of digests states.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde::Serialize;

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::ids::ProjectId;
use crate::ops::own_folder::{Filling, OwnFolder};
use crate::store::safe_path::{io_fault, read_plain};
use crate::store::strict_json;

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
pub(crate) struct Place(OwnFolder);

impl Place {
    /// A new or empty folder, or that of an earlier pack of the same job.
    ///
    /// # Errors
    /// `link-in-the-way`; `folder-not-empty` where other things lie there; what the disk says.
    pub(crate) fn find(folder: &Path, project: &ProjectId) -> Outcome<Place> {
        let mut place = OwnFolder::of(folder, Filling::Pack);
        if place.is_new()? {
            return Ok(Place(place));
        }
        let foreign = || place.foreign(&format!("a pack of {project}"));
        let record = read_plain(folder, RECORD, LARGEST).map_err(|_| foreign())?;
        let record = strict_json::parse(&record).map_err(|_| foreign())?;
        if record["data"]["project"].as_str() != Some(project.as_str()) {
            return Err(foreign());
        }
        let sums = read_plain(folder, SUMS, LARGEST).map_err(|_| foreign())?;
        for line in String::from_utf8_lossy(&sums).lines() {
            if let Some((digest, path)) = line.split_once("  ").filter(|(_, path)| is_of_a_pack(path))
                && let Ok(digest) = digest.parse()
            {
                place.owns(path, digest);
            }
        }
        place.owns(SUMS, Sha256Digest::of(&sums));
        Ok(Place(place))
    }

    /// Writes the files of a pack in place of those of the earlier one.
    ///
    /// # Errors
    /// `link-in-the-way`, `not-of-the-pack` where a file there is not the earlier pack's own; nothing is changed then. What
    /// the disk says.
    pub(crate) fn write(&self, files: &[(String, Vec<u8>)]) -> Result<(), Vec<Fault>> {
        let gone: Vec<&str> =
            self.0.paths().filter(|path| !files.iter().any(|(new, _)| new == path)).collect();
        self.0.may_change(gone.iter().copied().chain(files.iter().map(|(path, _)| path.as_str())))?;
        for path in gone {
            self.0.remove(path)?;
        }
        for (path, bytes) in files {
            self.0.put(path, bytes)?;
        }
        Ok(())
    }
}

/// How the files of a handed-in pack differ from those of a pack made again.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub(crate) struct FilesCompared {
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
    pub(crate) fn is_same(&self) -> bool {
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

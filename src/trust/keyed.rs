//! What a clone keeps for itself to save time is worth only what this person wrote: a key of their own on this machine,
//! and files that carry a code made with it.
//!
//! The key lies in the person's own state folder and in no clone: a book handed on with its `.git` brings nothing along
//! that is believed, and a file that was changed is thrown away. Whoever can read that key works as this person on this
//! machine, and could exchange the program as well.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use hmac::{Hmac, Mac as _};
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::Sha256;

use super::surroundings::Surroundings;
use crate::digest::Sha256Digest;
use crate::git::folder_numbers;
use crate::ids::ProjectId;
use crate::store::{BookFolder, write};

/// The files of this clone alone that are believed only as this person left them.
#[derive(Debug)]
pub(crate) struct Keyed {
    folder: PathBuf,
    key: Vec<u8>,
    dry_run: bool,
}

impl Keyed {
    /// Those of a clone; none where there is no clone or no home folder to keep the key in.
    #[must_use]
    pub(crate) fn of(clone_local: Option<&Path>, around: &Surroundings<'_>) -> Option<Keyed> {
        let folder = clone_local.filter(|dir| dir.is_dir())?.to_owned();
        let key = key_in(around.home.as_deref()?, around.dry_run)?;
        Some(Keyed { folder, key, dry_run: around.dry_run })
    }

    /// What was kept under a name; none where nothing is there that this person left so, under that very name.
    #[must_use]
    pub(crate) fn read<T: DeserializeOwned>(&self, name: &str) -> Option<T> {
        let text = fs::read_to_string(self.folder.join(name)).ok()?;
        let (code, body) = text.split_once('\n')?;
        let code: Sha256Digest = code.parse().ok()?;
        self.mac(&[name, "\n", body])?.verify_slice(code.as_bytes()).ok()?;
        serde_json::from_str(body).ok()
    }

    /// Keeps something for the next time. It only saves time: where it cannot be written, everything is worked out anew.
    pub(crate) fn write<T: Serialize>(&self, name: &str, kept: &T) {
        if self.dry_run {
            return;
        }
        if let Ok(body) = serde_json::to_string(kept) {
            let text = format!("{}\n{body}", self.code(&[name, "\n", &body]));
            let _ = write::write_whole(&self.folder.join(name), text.as_bytes());
        }
    }

    /// One number for all that lies in each of some projects, as [`folder_numbers`] tells it; what a file system said of
    /// them is kept in the same clone.
    pub(crate) fn numbers(&self, book: &BookFolder, projects: &[ProjectId]) -> Vec<Option<u64>> {
        let names: Vec<&str> = projects.iter().map(ProjectId::as_str).collect();
        folder_numbers(&self.folder, &book.root().join("projects"), &names, !self.dry_run)
    }

    /// The code of a text, in parts.
    #[must_use]
    pub(crate) fn code(&self, parts: &[&str]) -> String {
        let bytes = self.mac(parts).map(|mac| mac.finalize().into_bytes());
        bytes.iter().flatten().map(|b| format!("{b:02x}")).collect()
    }

    fn mac(&self, parts: &[&str]) -> Option<Hmac<Sha256>> {
        let mut mac = Hmac::new_from_slice(&self.key).ok()?;
        parts.iter().for_each(|part| mac.update(part.as_bytes()));
        Some(mac)
    }
}

/// The bytes of a key.
const KEY: usize = 32;

/// This person's key on this machine, made at first use, which nobody else may read. It appears whole or not at all; of two
/// that are made at once the first stands.
fn key_in(home: &Path, dry_run: bool) -> Option<Vec<u8>> {
    let folder = home.join(".local/state/underlit");
    let file = folder.join("verdicts.key");
    let there = || fs::read(&file).ok();
    match there() {
        Some(key) if key.len() == KEY => return Some(key),
        _ if dry_run => return None,
        // A disk that was full left it so.
        Some(_) => fs::remove_file(&file).ok()?,
        None => {}
    }
    let mut key = vec![0_u8; KEY];
    getrandom::fill(&mut key).ok()?;
    fs::create_dir_all(&folder).ok()?;
    // Nobody else may read what `tempfile` makes.
    let mut made = tempfile::NamedTempFile::new_in(&folder).ok()?;
    made.write_all(&key).ok()?;
    let _ = made.persist_noclobber(&file);
    there().filter(|key| key.len() == KEY)
}

//! What a clone keeps for itself to save time is worth only what this person wrote: a key of their own on this machine,
//! and files that carry a code made with it.
//!
//! The key lies in the person's own state folder and in no clone: a book handed on with its `.git` brings nothing along
//! that is believed, and a file that was changed is thrown away. Whoever can read that key works as this person on this
//! machine, and could exchange the program as well.

use std::fs;
use std::path::{Path, PathBuf};

use hmac::{Hmac, Mac as _};
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::Sha256;

use super::surroundings::Surroundings;
use crate::digest::Sha256Digest;
use crate::store::write;

/// A file of this clone alone, believed only as this person left it.
#[derive(Debug)]
pub struct KeyedFile {
    file: PathBuf,
    key: Vec<u8>,
    dry_run: bool,
}

impl KeyedFile {
    /// The file of a name; none where there is no clone or no home folder to keep the key in.
    #[must_use]
    pub fn open(clone_local: Option<&Path>, name: &str, around: &Surroundings<'_>) -> Option<KeyedFile> {
        let local = clone_local.filter(|dir| dir.is_dir())?;
        let key = key_in(around.home.as_deref()?, around.dry_run)?;
        Some(KeyedFile { file: local.join(name), key, dry_run: around.dry_run })
    }

    /// What was kept; none where nothing is there that this person left so.
    #[must_use]
    pub fn read<T: DeserializeOwned>(&self) -> Option<T> {
        let text = fs::read_to_string(&self.file).ok()?;
        let (code, body) = text.split_once('\n')?;
        let code: Sha256Digest = code.parse().ok()?;
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.key).ok()?;
        mac.update(body.as_bytes());
        mac.verify_slice(&unhex(&code.hex())).ok()?;
        serde_json::from_str(body).ok()
    }

    /// Keeps something for the next time. It only saves time: where it cannot be written, everything is worked out anew.
    pub fn write<T: Serialize>(&self, kept: &T) {
        if self.dry_run {
            return;
        }
        if let Ok(body) = serde_json::to_string(kept) {
            let _ = write::write_whole(&self.file, format!("{}\n{body}", code(&self.key, &body)).as_bytes());
        }
    }
}

fn unhex(text: &str) -> Vec<u8> {
    (0..text.len() / 2).filter_map(|at| u8::from_str_radix(&text[2 * at..2 * at + 2], 16).ok()).collect()
}

/// The code of a text under a key.
#[must_use]
pub fn code(key: &[u8], body: &str) -> String {
    let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(key) else { return String::new() };
    mac.update(body.as_bytes());
    mac.finalize().into_bytes().iter().map(|b| format!("{b:02x}")).collect()
}

/// This person's key on this machine, made at first use, which nobody else may read.
#[must_use]
pub fn key_in(home: &Path, dry_run: bool) -> Option<Vec<u8>> {
    let folder = home.join(".local/state/underlit");
    let file = folder.join("verdicts.key");
    if let Ok(key) = fs::read(&file) {
        return (key.len() == 32).then_some(key);
    }
    if dry_run {
        return None;
    }
    let mut key = vec![0_u8; 32];
    getrandom::fill(&mut key).ok()?;
    fs::create_dir_all(&folder).ok()?;
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    use std::io::Write as _;
    options.open(&file).and_then(|mut made| made.write_all(&key)).ok()?;
    Some(key)
}

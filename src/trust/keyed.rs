//! What a clone keeps for itself is worth only what this person wrote: a key of their own on this machine, and the
//! codes that it makes.

use std::fs;
use std::path::Path;

use hmac::{Hmac, Mac as _};
use sha2::Sha256;

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

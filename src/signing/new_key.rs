//! [`make_key`]: a first key, for someone who has none.

use std::fs;
use std::io::Write as _;
use std::path::Path;

use super::failure::SigningError;
use super::in_process;
use super::key::PublicKey;
use super::key_file;
use super::toolbox::{Asking, Toolbox, said};

/// Longer than a name, a machine and a date.
const LONGEST_COMMENT: usize = 200;

/// Whether a new key is locked with a passphrase.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Protection {
    /// The person is asked for a passphrase, and may leave it empty.
    Passphrase,
    /// None: whoever can read the file can sign. For throwaway keys, or a disk that is locked itself.
    None,
}

/// Makes an Ed25519 key: the private half at `path`, readable by its owner alone, the public half beside
/// it with `.pub` after its name. Neither may exist; the folder is made where it is missing.
///
/// # Errors
/// Where either file exists, nobody can be asked for the passphrase, or something cannot be written;
/// no key is left behind then.
pub fn make_key(
    path: &Path,
    comment: &str,
    protection: Protection,
    toolbox: &Toolbox<'_>,
) -> Result<PublicKey, SigningError> {
    if comment.len() > LONGEST_COMMENT || comment.chars().any(crate::visible::is_hidden) {
        return Err(SigningError::CommentRefused);
    }
    if protection == Protection::Passphrase && matches!(toolbox.asking, Asking::Never) {
        return Err(SigningError::PassphraseNeeded { path: path.into() });
    }
    let public = key_file::beside(path);
    for file in [path, &public] {
        if fs::symlink_metadata(file).is_ok() {
            return Err(SigningError::KeyExists { path: file.into() });
        }
    }
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        make_private_folder(folder).map_err(|error| not_written(folder, &error))?;
    }
    match through_ssh_keygen(path, comment, protection, toolbox) {
        Err(SigningError::ProgramMissing { .. }) => by_ourselves(path, comment, protection, toolbox)?,
        made => made?,
    }
    key_file::read_public(&public).map(|(key, _)| key)
}

fn through_ssh_keygen(
    path: &Path,
    comment: &str,
    protection: Protection,
    toolbox: &Toolbox<'_>,
) -> Result<(), SigningError> {
    let output = toolbox.run_ssh_keygen(
        |command| {
            command.args(["-q", "-t", "ed25519", "-C", comment, "-f"]).arg(path);
            if protection == Protection::None {
                command.args(["-N", ""]);
            }
        },
        protection == Protection::Passphrase,
    )?;
    if output.status.success() {
        return Ok(());
    }
    let said = said(&output);
    let asked_to_overwrite = String::from_utf8_lossy(&output.stdout).contains("already exists");
    if asked_to_overwrite {
        return Err(SigningError::KeyExists { path: path.into() });
    }
    // Half a key would only block the next try; neither file was there before.
    for half in [path, &key_file::beside(path)] {
        let _ = fs::remove_file(half);
    }
    if said.contains("failed:") {
        return Err(SigningError::NotWritten { path: path.into(), reason: said });
    }
    Err(SigningError::ProgramFailed {
        program: toolbox.ssh_keygen.clone(),
        status: output.status.to_string(),
        said,
    })
}

fn by_ourselves(
    path: &Path,
    comment: &str,
    protection: Protection,
    toolbox: &Toolbox<'_>,
) -> Result<(), SigningError> {
    let passphrase = match protection {
        Protection::None => None,
        Protection::Passphrase => Some(
            toolbox.passphrase(path).ok_or_else(|| SigningError::PassphraseNeeded { path: path.into() })?,
        ),
    };
    let (private, public) = in_process::new_key(path, comment, passphrase.as_deref())?;
    write_new(path, private.as_ref(), 0o600)?;
    let beside = key_file::beside(path);
    write_new(&beside, format!("{}\n", public.trim_end()).as_bytes(), 0o644).inspect_err(|_| {
        // The half without its other half would only block the next try.
        let _ = fs::remove_file(path);
    })
}

/// Writes a file that must not exist, with its permissions from the start.
fn write_new(path: &Path, bytes: &[u8], mode: u32) -> Result<(), SigningError> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, mode);
    #[cfg(not(unix))]
    let _ = mode;
    let mut file = options.open(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => SigningError::KeyExists { path: path.into() },
        _ => not_written(path, &error),
    })?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(|error| {
        let _ = fs::remove_file(path);
        not_written(path, &error)
    })
}

/// As ssh(1) asks of `~/.ssh`: nobody else may enter. A folder that exists is left as it is.
fn make_private_folder(folder: &Path) -> std::io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

fn not_written(path: &Path, error: &std::io::Error) -> SigningError {
    SigningError::NotWritten { path: path.into(), reason: error.to_string() }
}

//! From what git2 and the file system say to the fault that it is.

use std::path::Path;

use super::GitError;

impl From<git2::Error> for GitError {
    fn from(error: git2::Error) -> GitError {
        use git2::ErrorCode;
        let words = error.message().to_owned();
        match error.code() {
            ErrorCode::Locked => GitError::GitLocked { words },
            ErrorCode::Modified => GitError::BranchMoved { branch: words },
            _ if error.class() == git2::ErrorClass::Index && !words.contains("No space left") => {
                GitError::IndexUnreadable { words }
            }
            _ if words.contains("refstorage") => GitError::Unreadable { what: "reftable", words },
            _ if words.contains("object format 'sha256'") => GitError::Unreadable { what: "sha256", words },
            _ if words.contains("partialclone") => GitError::Unreadable { what: "partial clone", words },
            _ if words.contains("unsupported extension") => GitError::Unreadable { what: "extension", words },
            _ if words.contains("No space left") || words.contains("Disk quota") => {
                GitError::DiskFull { path: words }
            }
            _ if words.contains("Permission denied") || words.contains("Read-only file system") => {
                GitError::NotWritable { path: words }
            }
            _ if words.contains("failed to parse signature") => GitError::Damaged {
                words: format!(
                    "a commit's author or committer is not written as git writes them ({words}); `underlit sync` names the commit"
                ),
            },
            _ => GitError::Damaged { words },
        }
    }
}

/// Turns a failure to read `path` into the case for it.
pub(crate) fn reading(path: &Path) -> impl FnOnce(std::io::Error) -> GitError + '_ {
    move |error| GitError::Io { path: path.to_owned(), words: format!("cannot be read: {error}") }
}

/// Turns a failure of the file system at `path` into the case that has a remedy.
pub(crate) fn at(path: &Path) -> impl FnOnce(std::io::Error) -> GitError + '_ {
    move |error| {
        use std::io::ErrorKind;
        match error.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
                GitError::DiskFull { path: path.display().to_string() }
            }
            ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                GitError::NotWritable { path: path.display().to_string() }
            }
            _ => GitError::Io { path: path.to_owned(), words: error.to_string() },
        }
    }
}

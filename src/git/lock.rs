//! One underlit at a time: a lock that the system holds, and lets go when the process ends however it ends.
//!
//! The file's mere existence means nothing. Taking the lock also finishes or takes back what an interrupted run
//! left half done, so that whoever holds it sees a book in one piece.

use std::fs::{File, OpenOptions, TryLockError};

use super::failure::at;
use super::{GitError, Repo};

/// Proof that this process alone changes the book. Dropping it lets the next one in.
#[derive(Debug)]
pub struct BookLock {
    held: File,
}

impl Drop for BookLock {
    fn drop(&mut self) {
        // Closing would do, but for a child process that is just being started and still has the file open.
        let _ = self.held.unlock();
    }
}

impl Repo {
    /// Takes the book's lock without waiting, and settles what an interrupted run left.
    ///
    /// # Errors
    /// [`GitError::InUse`] where another underlit holds it, [`GitError::NotWritable`] for a read-only book, and
    /// what settling an interrupted run can say.
    pub fn lock(&self) -> Result<BookLock, GitError> {
        let lock = self.lock_as_it_is()?;
        self.settle_interrupted(&lock)?;
        Ok(lock)
    }

    /// As [`Repo::lock`], and leaves what an interrupted run left: for a repair without which it cannot be settled.
    ///
    /// # Errors
    /// [`GitError::InUse`], [`GitError::NotWritable`].
    pub fn lock_as_it_is(&self) -> Result<BookLock, GitError> {
        let path = self.clone_local_dir()?.join("lock");
        let file =
            OpenOptions::new().create(true).truncate(false).write(true).open(&path).map_err(at(&path))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(GitError::InUse { lock: path }),
            Err(TryLockError::Error(e)) => return Err(at(&path)(e)),
        }
        Ok(BookLock { held: file })
    }
}

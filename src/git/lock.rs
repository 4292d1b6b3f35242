//! One underlit at a time: a lock that the system holds, and lets go when the process ends however it ends.
//!
//! The file's mere existence means nothing; what stands in it says who has the lock, to whoever waits. Taking the lock
//! also finishes or takes back what an interrupted run left half done, so that whoever holds it sees a book in one
//! piece. Nobody keeps it while a remote or a person is waited for: [`Repo::let_go_while`].

use std::fmt;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use super::failure::at;
use super::{GitError, Repo};

/// How long one command waits for another one, which is done in a moment as a rule.
const PATIENCE: Duration = Duration::from_secs(5);

/// How long a command that let the lock go waits to have it back.
const PATIENCE_AGAIN: Duration = Duration::from_secs(30);

/// What this process is doing, for others to read.
static COMMAND: OnceLock<String> = OnceLock::new();

/// Says what this process is doing, once, for whoever has to wait for it.
pub(crate) fn name_this_command(verb: &str) {
    // Whoever says it first is right: a process runs one command.
    let _ = COMMAND.set(verb.to_owned());
}

/// Who holds a lock, as they wrote into its file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Holder {
    /// The process.
    pub process: u32,
    /// The command, such as `sync`.
    pub command: String,
    /// Since when, by that machine's clock.
    pub since: jiff::Timestamp,
}

impl Holder {
    fn this_process() -> Holder {
        let command = COMMAND.get().cloned().unwrap_or_else(|| "underlit".into());
        Holder { process: std::process::id(), command, since: jiff::Timestamp::now() }
    }

    fn read(text: &str) -> Option<Holder> {
        let mut words = text.split_whitespace();
        let (process, command, since) = (words.next()?, words.next()?, words.next()?);
        let plain = command.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'-');
        let command = Some(command.to_owned()).filter(|_| plain)?;
        Some(Holder { process: process.parse().ok()?, command, since: since.parse().ok()? })
    }
}

impl fmt::Display for Holder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let since = self.since.strftime("%Y-%m-%d %H:%M:%S UTC");
        write!(f, "`underlit {}`, process {}, since {since}", self.command, self.process)
    }
}

/// Proof that this process alone changes the book. Dropping it lets the next one in.
#[derive(Debug)]
pub struct BookLock {
    held: File,
    path: PathBuf,
}

impl Drop for BookLock {
    fn drop(&mut self) {
        // Closing would do, but for a child process that is just being started and still has the file open.
        let _ = self.held.unlock();
    }
}

impl BookLock {
    fn take(&self, patience: Duration) -> Result<(), GitError> {
        let until = Instant::now() + patience;
        loop {
            match self.held.try_lock() {
                Ok(()) => return Ok(()),
                Err(TryLockError::WouldBlock) if Instant::now() < until => {
                    std::thread::sleep(Duration::from_millis(50));
                }
                Err(TryLockError::WouldBlock) => {
                    let holder = self.text().as_deref().and_then(Holder::read);
                    return Err(GitError::InUse { lock: self.path.clone(), holder });
                }
                Err(TryLockError::Error(e)) => return Err(at(&self.path)(e)),
            }
        }
    }

    /// Writes down who has it. Where that cannot be written, others are told less.
    fn sign(&self) {
        let Holder { process, command, since } = Holder::this_process();
        let mut file = &self.held;
        let _ = file
            .set_len(0)
            .and_then(|()| file.rewind())
            .and_then(|()| file.write_all(format!("{process} {command} {since}\n").as_bytes()));
    }

    fn text(&self) -> Option<String> {
        let mut text = String::new();
        File::open(&self.path).ok()?.take(1000).read_to_string(&mut text).ok()?;
        Some(text)
    }
}

impl Repo {
    /// Takes the book's lock, waiting some seconds for another command, and settles what an interrupted run left.
    ///
    /// # Errors
    /// [`GitError::InUse`] where another underlit holds it, [`GitError::NotWritable`] for a read-only book, and
    /// what settling an interrupted run can say.
    pub fn lock(&self) -> Result<BookLock, GitError> {
        let lock = self.lock_as_it_is()?;
        self.settle_interrupted(&lock)?;
        Ok(lock)
    }

    /// As [`Repo::lock`], without waiting: for whoever can do without it.
    ///
    /// # Errors
    /// As [`Repo::lock`].
    pub(crate) fn lock_at_once(&self) -> Result<BookLock, GitError> {
        let lock = self.lock_within(Duration::ZERO)?;
        self.settle_interrupted(&lock)?;
        Ok(lock)
    }

    /// As [`Repo::lock`], and leaves what an interrupted run left: for a repair without which it cannot be settled.
    ///
    /// # Errors
    /// [`GitError::InUse`], [`GitError::NotWritable`].
    pub(crate) fn lock_as_it_is(&self) -> Result<BookLock, GitError> {
        self.lock_within(PATIENCE)
    }

    fn lock_within(&self, patience: Duration) -> Result<BookLock, GitError> {
        let path = self.clone_local_dir()?.join("lock");
        let held = open(&path)?;
        let lock = BookLock { held, path };
        lock.take(patience)?;
        lock.sign();
        Ok(lock)
    }

    /// Lets the lock go while a remote or a person is waited for, and takes it again. Gives back what was waited for,
    /// and whether another command had the lock meanwhile: then whatever was read before may have changed.
    ///
    /// # Errors
    /// [`GitError::InUse`] where the lock does not come back, and as [`Repo::lock`].
    pub fn let_go_while<T>(&self, lock: &BookLock, wait: impl FnOnce() -> T) -> Result<(T, bool), GitError> {
        let left = lock.text();
        lock.held.unlock().map_err(at(&lock.path))?;
        let waited_for = wait();
        lock.take(PATIENCE_AGAIN)?;
        let others = lock.text() != left;
        if others {
            lock.sign();
            self.settle_interrupted(lock)?;
        }
        Ok((waited_for, others))
    }
}

fn open(path: &Path) -> Result<File, GitError> {
    OpenOptions::new().create(true).truncate(false).read(true).write(true).open(path).map_err(at(path))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_holder_is_read_as_it_was_written_and_nothing_else_is() {
        let holder = Holder::read("12 sync 2026-11-27T11:02:31.5Z\n").expect("it is one");
        assert_eq!(holder.to_string(), "`underlit sync`, process 12, since 2026-11-27 11:02:31 UTC");
        for text in ["", "12", "12 sync", "x sync 2026-11-27T11:02:31Z", "12 \u{1b}[2J 2026-11-27T11:02:31Z"]
        {
            assert_eq!(Holder::read(text), None, "{text}");
        }
    }
}

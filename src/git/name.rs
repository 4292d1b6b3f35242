//! The names that history uses: commits, people with their moment, and paths inside a book.
//!
//! The rest of the crate speaks of commits through these and never sees git2.

use std::fmt;
use std::str::FromStr;

use super::GitError;
use crate::paths::{is_gits_own, path_fault};

/// The name of one commit, written as 40 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CommitId(pub(crate) git2::Oid);

impl fmt::Display for CommitId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl fmt::Debug for CommitId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "CommitId({})", self.0)
    }
}

impl CommitId {
    /// The first ten digits, enough for a person to recognise it.
    #[must_use]
    pub(crate) fn short(&self) -> String {
        self.0.to_string().chars().take(10).collect()
    }
}

impl FromStr for CommitId {
    type Err = GitError;

    fn from_str(text: &str) -> Result<Self, GitError> {
        if text.len() != 40 {
            return Err(GitError::NoSuchCommit { text: text.into() });
        }
        git2::Oid::from_str(text).map(CommitId).map_err(|_| GitError::NoSuchCommit { text: text.into() })
    }
}

/// A moment as commits store it: seconds since 1970-01-01 UTC and the writer's offset from UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Moment {
    /// Seconds since 1970-01-01T00:00:00Z.
    pub seconds: i64,
    /// Minutes east of UTC, −1439 … 1439.
    pub offset_minutes: i32,
}

impl Moment {
    /// A moment in UTC.
    #[must_use]
    pub fn utc(seconds: i64) -> Self {
        Moment { seconds, offset_minutes: 0 }
    }

    pub(crate) fn of(time: git2::Time) -> Self {
        Moment { seconds: time.seconds(), offset_minutes: time.offset_minutes() }
    }
}

impl fmt::Display for Moment {
    /// UTC in the form of RFC 3339, such as `2027-01-11T09:30:00Z`; a moment outside the years that a
    /// calendar can write is shown as its seconds.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match jiff::Timestamp::from_second(self.seconds) {
            Ok(stamp) => write!(f, "{stamp}"),
            Err(_) => write!(f, "@{}", self.seconds),
        }
    }
}

/// Who made a commit.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Person {
    /// The name.
    pub name: String,
    /// The mail address.
    pub email: String,
}

impl Person {
    /// A person whose name and address can stand in a commit.
    ///
    /// # Errors
    /// [`GitError::BadPerson`] where one is empty or holds `<`, `>` or a control character.
    pub fn new(name: &str, email: &str) -> Result<Self, GitError> {
        for text in [name, email] {
            let usable = text.trim().chars().any(|c| !".,:;\"'".contains(c));
            if !usable || text.chars().any(|c| c.is_control() || "<>".contains(c)) {
                return Err(GitError::BadPerson { text: text.into() });
            }
        }
        Ok(Person { name: name.trim().into(), email: email.trim().into() })
    }

    pub(crate) fn signature(&self, at: Moment) -> Result<git2::Signature<'static>, GitError> {
        git2::Signature::new(&self.name, &self.email, &git2::Time::new(at.seconds, at.offset_minutes))
            .map_err(|_| GitError::BadPerson { text: self.to_string() })
    }

    pub(crate) fn of(signature: &git2::Signature<'_>) -> Self {
        Person {
            name: String::from_utf8_lossy(signature.name_bytes()).into_owned(),
            email: String::from_utf8_lossy(signature.email_bytes()).into_owned(),
        }
    }
}

impl fmt::Display for Person {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} <{}>", self.name, self.email)
    }
}

/// Checks that `path` names a place inside a book: relative, `/` between names, no `.`, `..`, `.git` or empty
/// name. A trailing `/` is taken off. The empty path is the book itself.
///
/// # Errors
/// [`GitError::BadPath`] says what is wrong.
pub(crate) fn inside(path: &str) -> Result<&str, GitError> {
    let trimmed = path.strip_suffix('/').unwrap_or(path);
    let bad = |reason| Err(GitError::BadPath { path: path.into(), reason });
    if trimmed.is_empty() {
        return if path.is_empty() { Ok("") } else { bad("is not a path inside the book") };
    }
    for name in trimmed.split('/') {
        match name {
            "" => return bad("is not a path inside the book"),
            "." | ".." => return bad("leaves the book or goes in circles"),
            _ if name.contains('\0') || name.contains('\\') => {
                return bad("holds a character that a name may not");
            }
            _ if is_gits_own(name) => return bad("reaches into git's own folder"),
            _ => {}
        }
    }
    Ok(trimmed)
}

/// Checks that a file may be written to `path`, in a folder or in a commit, on whatever system.
///
/// # Errors
/// [`GitError::BadPath`].
pub(crate) fn safe(path: &str) -> Result<&str, GitError> {
    let path = inside(path)?;
    match path_fault(path) {
        Some(_) => Err(GitError::BadPath { path: path.into(), reason: "could harm a clone by its name" }),
        None => Ok(path),
    }
}

/// True where `path` is `prefix` or lies beneath it; the empty prefix holds every path.
pub(crate) fn beneath(path: &str, prefix: &str) -> bool {
    prefix.is_empty()
        || path.strip_prefix(prefix).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

/// The commit that `text` names: its digits (all of them or enough), `HEAD`, a branch, a full reference such as
/// `refs/tags/spring`; any of them with steps back, `~2` or `^`.
///
/// Digits are only ever looked for among commits, and a short name only among branches, so that no tag can put another
/// commit in the place of the one that was meant.
pub(super) fn commit_of(git: &git2::Repository, text: &str) -> Result<CommitId, GitError> {
    let missing = |_| GitError::NoSuchCommit { text: text.into() };
    let (name, steps) = text.split_at(text.find(['~', '^']).unwrap_or(text.len()));
    let mut commit = named_commit(git, name).map_err(missing)?;
    for (number, parent) in steps_back(steps).ok_or_else(|| GitError::NoSuchCommit { text: text.into() })? {
        for _ in 0..number {
            commit = commit.parent(parent).map_err(missing)?;
        }
    }
    Ok(CommitId(commit.id()))
}

fn named_commit<'g>(git: &'g git2::Repository, name: &str) -> Result<git2::Commit<'g>, git2::Error> {
    let digits = (4..=40).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_hexdigit());
    if digits {
        return git.find_commit_by_prefix(name);
    }
    if name == "HEAD" || name.starts_with("refs/") {
        return git.find_reference(name)?.peel_to_commit();
    }
    let branch = git.find_reference(&format!("refs/heads/{name}"));
    branch.or_else(|_| git.find_reference(&format!("refs/remotes/{name}")))?.peel_to_commit()
}

/// The steps of `~2^2^`: how often to which parent, counted from 0. None where they are written otherwise.
fn steps_back(text: &str) -> Option<Vec<(usize, usize)>> {
    let mut steps = Vec::new();
    let mut rest = text;
    while let Some(sign) = rest.chars().next() {
        let after = rest.strip_prefix(['~', '^'])?;
        let end = after.find(|c: char| !c.is_ascii_digit()).unwrap_or(after.len());
        let number = if end == 0 { 1 } else { after[..end].parse().ok()? };
        steps.push(match sign {
            '~' => (number, 0),
            '^' if number > 0 => (1, number - 1),
            _ => (0, 0),
        });
        rest = &after[end..];
    }
    Some(steps)
}

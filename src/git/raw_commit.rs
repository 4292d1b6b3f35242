//! A commit that the library cannot read, because its author or committer is written as git itself would not: read by
//! its lines, so that it can be named and left behind instead of stopping everybody.

use std::collections::BTreeSet;

use super::{CommitId, GitError};

/// The longest name that is shown of such a commit.
const LONGEST_NAME: usize = 80;

/// What can be told of it.
pub(crate) struct RawCommit {
    /// Its tree, where that line can be read.
    pub(crate) tree: Option<git2::Oid>,
    /// The commits before it.
    pub(crate) parents: Vec<CommitId>,
    /// Its author's line, up to the address.
    pub(crate) author: String,
}

/// Reads a commit by its lines.
///
/// # Errors
/// [`GitError::NoSuchCommit`] where there is no such object, or it is no commit.
pub(crate) fn raw(git: &git2::Repository, id: CommitId) -> Result<RawCommit, GitError> {
    let missing = || GitError::NoSuchCommit { text: id.to_string() };
    let odb = git.odb()?;
    let object = odb.read(id.0).map_err(|_| missing())?;
    if object.kind() != git2::ObjectType::Commit {
        return Err(missing());
    }
    let text = String::from_utf8_lossy(object.data());
    let line = |key: &str| {
        let head = text.lines().take_while(|line| !line.is_empty());
        head.filter_map(|line| line.strip_prefix(key)).next().map(ToOwned::to_owned)
    };
    let author = line("author ").unwrap_or_default();
    let name = author.split('<').next().unwrap_or_default().trim();
    let name: String = name.chars().take(LONGEST_NAME).collect();
    let author = if name.is_empty() { "nobody named".to_owned() } else { name };
    let head = text.lines().take_while(|line| !line.is_empty());
    let parents = head.filter_map(|line| line.strip_prefix("parent ")?.parse().ok()).collect();
    Ok(RawCommit { parents, tree: line("tree ").and_then(|id| git2::Oid::from_str(&id).ok()), author })
}

/// Every commit that is reached from one without going through some others, oldest first: a commit comes after its
/// parents. For a history in which the library cannot walk.
///
/// # Errors
/// [`GitError::NoSuchCommit`] where one is not here.
pub(crate) fn walk(
    git: &git2::Repository,
    from: CommitId,
    without: &BTreeSet<CommitId>,
    most: usize,
) -> Result<Vec<CommitId>, GitError> {
    let odb = git.odb()?;
    let mut found = Vec::new();
    let mut seen = BTreeSet::new();
    let mut open = vec![(from, false)];
    while let Some((id, done)) = open.pop() {
        if done {
            found.push(id);
            continue;
        }
        if without.contains(&id) || seen.len() > most || !seen.insert(id) {
            continue;
        }
        open.push((id, true));
        let here = |parent: &CommitId| !git.is_shallow() || odb.exists(parent.0);
        open.extend(raw(git, id)?.parents.into_iter().filter(here).map(|parent| (parent, false)));
    }
    Ok(found)
}

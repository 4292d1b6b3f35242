//! Settings of one clone that make git show another history than the one that is stored: grafts and replace
//! references. Whoever reads through them is shown parents and files that nobody judged.

use super::GitError;

/// Refuses a repository in which history is made to look otherwise than it is.
pub(super) fn refuse_altered(git: &git2::Repository) -> Result<(), GitError> {
    let grafts = git.commondir().join("info/grafts");
    let lines = std::fs::read_to_string(&grafts).unwrap_or_default();
    if lines.lines().any(|line| !line.trim().is_empty() && !line.starts_with('#')) {
        return Err(GitError::AlteredHistory { what: format!("grafts stand in {}", grafts.display()) });
    }
    let mut replacing = git.references_glob("refs/replace/*")?;
    match replacing.next().transpose()? {
        Some(reference) => {
            let name = String::from_utf8_lossy(reference.name_bytes()).into_owned();
            Err(GitError::AlteredHistory { what: format!("{name} puts another object in its place") })
        }
        None => Ok(()),
    }
}

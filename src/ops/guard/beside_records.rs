//! What a history brings beside its records: files that no record names, and more outlines than are measured in one go.
//!
//! Both are judged at the end, since a later commit can mend them: it names the file or removes it. A file that was named
//! once and lost its name, as in a merge, is left over and harms nobody.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::super::unnamed;
use super::ENOUGH;
use crate::fault::Fault;
use crate::git::{CommitId, Entry, Inspector, Uninspected};
use crate::model::id::ProjectId;
use crate::model::kind::Kind;

/// The most bytes of outlines that may come at once: each is read and measured.
const OUTLINE_BYTES: u64 = 256 << 20;

/// The files that came with the commits that `new` has and none of `old` has, and that no record names, neither at
/// the end nor at any time since they came.
///
/// # Errors
/// [`Uninspected`], for more outlines than are measured in one go as well.
pub fn faults(inspector: &Inspector<'_>, old: &[CommitId], new: CommitId) -> Result<Vec<Fault>, Uninspected> {
    let mut brought: BTreeMap<String, (CommitId, Entry)> = BTreeMap::new();
    let (mut outlines, mut outline_bytes) = (HashSet::new(), 0);
    let state = inspector.snapshot(Some(new))?;
    for id in inspector.between(old, new)? {
        for change in inspector.inspect(id)?.brings() {
            let Some(entry) = change.after else { continue };
            if unnamed::needs_a_name(&change.path) {
                brought.insert(change.path.clone(), (id, entry));
            }
            if Kind::of_path(&change.path) == Some(Kind::Outline) && outlines.insert(entry) {
                outline_bytes += state.size(entry)? as u64;
                if outline_bytes > OUTLINE_BYTES {
                    let what = format!("outlines of more than {OUTLINE_BYTES} bytes together");
                    return Err(Uninspected::TooMuch(what));
                }
            }
        }
    }
    let mut there: BTreeMap<ProjectId, BTreeSet<String>> = BTreeMap::new();
    for (path, (_, file)) in &brought {
        if let Some(id) = ProjectId::of_path(path)
            && state.entry(path)? == Some(*file)
        {
            there.entry(id).or_default().insert(path.clone());
        }
    }
    // What has no name at the end is asked once for each commit that brought some of it.
    let mut nameless: BTreeMap<(CommitId, ProjectId), BTreeSet<String>> = BTreeMap::new();
    for (id, paths) in there {
        for path in unnamed::in_state(&state, &id, &paths)? {
            if let Some((commit, _)) = brought.get(&path) {
                nameless.entry((*commit, id.clone())).or_default().insert(path);
            }
        }
    }
    let mut never: BTreeSet<String> = BTreeSet::new();
    for ((commit, id), paths) in nameless {
        let then = inspector.snapshot(Some(commit))?;
        never.extend(unnamed::in_state(&then, &id, &paths)?);
    }
    if never.is_empty() {
        return Ok(Vec::new());
    }
    // Last, what a record named for a while, in a commit after the one that brought it.
    let projects: BTreeSet<ProjectId> = never.iter().filter_map(|path| ProjectId::of_path(path)).collect();
    for id in inspector.between(old, new)? {
        for change in inspector.inspect(id)?.brings() {
            if let Some(entry) = change.after
                && ProjectId::of_path(&change.path).is_some_and(|id| projects.contains(&id))
            {
                unnamed::named_by_file(&state, &change.path, entry)?
                    .iter()
                    .for_each(|file| _ = never.remove(file));
            }
        }
    }
    Ok(never.iter().take(ENOUGH).map(|path| unnamed::fault(path)).collect())
}

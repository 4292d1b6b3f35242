//! What a history brings beside its records: files that no record names, and more outlines than are measured in one go.
//!
//! Both are judged at the end, since a later commit can fix them: it names the file or removes it. A file that was named
//! once and lost its name, as in a merge, is left over and harms nobody.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::hash::Hash;

use super::ENOUGH;
use crate::fault::Fault;
use crate::git::{CommitId, Entry, Inspector, Uninspected};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::trust::unnamed;

/// The most bytes of outlines that may come at once, in one project and in all: each is read and measured.
const OUTLINES_OF_A_PROJECT: u64 = 64 << 20;
const OUTLINES_OF_A_PUSH: u64 = 256 << 20;

/// The outlines that came, each counted once however often it lies there.
struct Outlines<Content> {
    seen: HashSet<Content>,
    all: u64,
    by_project: BTreeMap<ProjectId, u64>,
    largest: (u64, String),
}

impl<Content: Eq + Hash> Outlines<Content> {
    fn none() -> Self {
        Outlines { seen: HashSet::new(), all: 0, by_project: BTreeMap::new(), largest: (0, String::new()) }
    }

    /// # Errors
    /// What is too much, and which of the outlines is the largest.
    fn add(&mut self, path: &str, content: Content, size: u64) -> Result<(), Uninspected> {
        let Some(project) = ProjectId::of_path(path).filter(|_| self.seen.insert(content)) else {
            return Ok(());
        };
        if size > self.largest.0 {
            self.largest = (size, path.to_owned());
        }
        self.all += size;
        let here = self.by_project.entry(project.clone()).or_default();
        *here += size;
        let (most, whose) = match (*here > OUTLINES_OF_A_PROJECT, self.all > OUTLINES_OF_A_PUSH) {
            (true, _) => (OUTLINES_OF_A_PROJECT, format!(" in project {project}")),
            (_, true) => (OUTLINES_OF_A_PUSH, String::new()),
            _ => return Ok(()),
        };
        let (size, largest) = &self.largest;
        Err(Uninspected::TooMuch(format!(
            "outlines of more than {most} bytes together{whose}, the largest of {size} bytes in {largest}"
        )))
    }
}

/// The files that came with the commits that `new` has and none of `old` has, and that no record names, neither at
/// the end nor at any time since they came.
///
/// # Errors
/// [`Uninspected`], for more outlines than are measured in one go as well.
pub(crate) fn faults(
    inspector: &Inspector<'_>,
    old: &[CommitId],
    new: CommitId,
) -> Result<Vec<Fault>, Uninspected> {
    let mut brought: BTreeMap<String, (CommitId, Entry)> = BTreeMap::new();
    let mut outlines = Outlines::none();
    let state = inspector.snapshot(Some(new))?;
    for id in inspector.between(old, new)? {
        let commit = inspector.inspect(id)?;
        for change in commit.brings() {
            let Some(entry) = change.after else { continue };
            // Where the history is cut off, nobody can tell that no record ever named it.
            if unnamed::needs_a_name(&change.path) && !commit.cut_off {
                brought.insert(change.path.clone(), (id, entry));
            }
            if Kind::of_path(&change.path) == Some(Kind::Outline) {
                outlines.add(&change.path, entry, state.size(entry)? as u64)?;
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

#[cfg(test)]
mod tests {
    use super::*;

    const MIB: u64 = 1 << 20;

    fn panel(project: u64, number: u64) -> String {
        format!("projects/job-{project}/panels/p{number}.outline.json")
    }

    fn said(result: Result<(), Uninspected>) -> Option<String> {
        match result {
            Ok(()) => None,
            Err(Uninspected::TooMuch(what)) => Some(what),
            Err(other) => Some(format!("{other:?}")),
        }
    }

    #[test]
    fn outlines_are_bound_for_a_project_and_for_a_push_and_the_largest_is_named() {
        let mut outlines = Outlines::none();
        // Up to the bound, and the same bytes again for nothing.
        for number in 0..4 {
            assert_eq!(said(outlines.add(&panel(0, number), number, 16 * MIB)), None);
            assert_eq!(said(outlines.add(&panel(1, number), number, 16 * MIB)), None);
        }
        let over = said(outlines.add(&panel(0, 9), 9, 1)).unwrap_or_default();
        assert!(
            over.contains("in project job-0, the largest of 16777216 bytes in projects/job-0/panels/p0"),
            "{over}"
        );
        // Four full projects are a full push.
        let mut outlines = Outlines::none();
        for project in 0..4 {
            assert_eq!(said(outlines.add(&panel(project, 0), project, 64 * MIB)), None);
        }
        assert_eq!(said(outlines.add("projects/job-9/panels/empty.outline.json", 9, 0)), None);
        let over = said(outlines.add(&panel(7, 0), 7, 1)).unwrap_or_default();
        assert!(
            over.starts_with("outlines of more than 268435456 bytes together, the largest of "),
            "{over}"
        );
    }
}

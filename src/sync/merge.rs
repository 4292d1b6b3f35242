//! Two commits merged until the result holds: what does not fit together is kept as it was, and asked about.

use std::collections::{BTreeMap, BTreeSet};

use super::Progress;
use super::judge::{Incoming, Judge, Verdict};
use super::stop::Stop;
use crate::git::{CommitId, GitError, LogEntry, PathChange, Repo, TreeMerge};
use crate::merge::{Keep, Layout, Treatment};
use crate::ops::layout::layout;

/// A merge that holds.
pub(super) struct Merged<'repo> {
    pub(super) tree: TreeMerge<'repo>,
    /// What it changes in the book as it is here.
    pub(super) changes: Vec<PathChange>,
}

/// Merges two commits, over a base that is given or the one that they share, and judges the result, holding back what
/// does not fit, until it holds.
pub(super) fn until_it_holds<'repo>(
    repo: &'repo Repo,
    judge: &mut Judge<'_>,
    base: Option<CommitId>,
    (ours, theirs): (CommitId, CommitId),
    commits: &[LogEntry],
    tell: &mut dyn FnMut(Progress<'_>),
) -> Result<Merged<'repo>, Stop> {
    let layout = layout();
    let before = repo.snapshot(ours)?;
    let mut held: BTreeSet<String> = BTreeSet::new();
    // What only one side has as it was signed stands as that side has it, whatever else is held.
    let mut stood: BTreeMap<String, Keep> = BTreeMap::new();
    // A held file keeps its value from before. If that does not fit either (both sides changed other files, or the histories
    // cross), take one side's value, the same side on every machine; if that does not fit the merged files, take that
    // side's whole folder, which was sound by itself.
    let mut keep = Keep::Base;
    let (one, other) = if ours < theirs { (Keep::Ours, Keep::Theirs) } else { (Keep::Theirs, Keep::Ours) };
    let mut further = [(one, false), (other, false), (one, true)].into_iter();
    loop {
        tell(Progress::Merging);
        let mut sides: BTreeMap<String, Keep> = held.iter().map(|path| (path.clone(), keep)).collect();
        sides.extend(stood.clone());
        let tree = repo.merge_holding(&layout, base, (ours, theirs), &sides)?;
        let changes = before.changes(&tree.after, "")?;
        tell(Progress::Checking);
        let verdict = judge.check(&Incoming {
            after: &tree.after,
            ours: Some(ours),
            theirs,
            changes: &changes,
            merge: Some(&tree),
        });
        match verdict.map_err(|reason| Stop::Refused { reason, commits: commits.to_vec() })? {
            Verdict::Good => return Ok(Merged { tree, changes }),
            Verdict::Hold(paths) => {
                let known = held.len();
                held.extend(paths.iter().cloned());
                if held.len() == known {
                    let (next, whole) = further.next().ok_or(Stop::Unsettled(paths))?;
                    keep = next;
                    if whole {
                        held.extend(apart_in_units(repo, &layout, (ours, theirs), &held)?);
                    }
                }
            }
            Verdict::Stand(sides) => {
                let known = stood.clone();
                stood.extend(sides.iter().cloned());
                if stood == known {
                    return Err(Stop::Unsettled(sides.into_iter().map(|(path, _)| path).collect()));
                }
            }
        }
    }
}

/// The files in which two sides differ, in the folders that hold together around what is held: records and what is
/// attached to them, but no statements and no questions, which both sides keep.
fn apart_in_units(
    repo: &Repo,
    layout: &Layout,
    (ours, theirs): (CommitId, CommitId),
    held: &BTreeSet<String>,
) -> Result<Vec<String>, GitError> {
    let units: BTreeSet<String> =
        held.iter().filter_map(|path| layout.unit_of(path)).map(|(folder, _)| folder).collect();
    let (ours, theirs) = (repo.snapshot(ours)?, repo.snapshot(theirs)?);
    let mut found = Vec::new();
    for folder in units {
        for change in ours.changes(&theirs, &folder)? {
            let kind = layout.treatment(&change.path);
            if matches!(kind, Treatment::Record(_) | Treatment::Attachment) {
                found.push(change.path);
            }
        }
    }
    Ok(found)
}

/// What the commit of a merge says: whose commits it brings together, and how many questions it opens.
pub(super) fn message(commits: &[LogEntry], questions: usize) -> String {
    let who: BTreeSet<&str> = commits.iter().map(|c| c.author.name.as_str()).collect();
    let mut who: Vec<&str> = who.into_iter().collect();
    if who.is_empty() {
        who.push("others"); // none of it lies in the part that this clone holds
    }
    let questions = match questions {
        0 => String::new(),
        1 => "\n\nOne question is open: both sides changed the same field.".to_owned(),
        n => format!("\n\n{n} questions are open: both sides changed the same fields."),
    };
    format!("Brought together with {}{questions}\n", who.join(", "))
}

//! Files that merge together: a folder that falls with its head, and sheets that make one rendering.
//!
//! Decided before any bytes are read, from which files each side changed.

use std::collections::{BTreeMap, BTreeSet};

use crate::merge::{Keep, Layout, Three};

use super::{Entry, GitError, Snapshot};

/// A file that is not the same in base, ours and theirs.
#[derive(Debug)]
pub(crate) struct Leaf {
    pub(crate) path: String,
    /// What lies here, whatever `three` is taken for.
    pub(crate) here: Option<Entry>,
    pub(crate) three: Three<Option<Entry>>,
    pub(crate) decision: Plan,
}

/// What is known of a leaf before its bytes are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Plan {
    /// Decide by its bytes.
    Merge,
    /// One whole question; it keeps this side.
    Ask(Keep),
}

impl Leaf {
    fn changed_by_ours(&self) -> bool {
        self.three.ours != self.three.base
    }

    fn changed_by_theirs(&self) -> bool {
        self.three.theirs != self.three.base
    }
}

/// Where one side removed the head of a unit and the other changed something in it, the head becomes a question
/// and every other removal in the unit by that side is taken as not done.
pub(crate) fn hold_units(layout: &Layout, leaves: &mut [Leaf]) {
    let mut removed: BTreeMap<String, (String, bool)> = BTreeMap::new();
    for leaf in leaves.iter() {
        if let (Some(_), Some((unit, head))) = (leaf.three.base, layout.unit_of(&leaf.path))
            && head == leaf.path
        {
            match (leaf.three.ours, leaf.three.theirs) {
                (None, Some(_)) => removed.insert(unit, (head, false)),
                (Some(_), None) => removed.insert(unit, (head, true)),
                _ => None,
            };
        }
    }
    let unit_of = |leaf: &Leaf| layout.unit_of(&leaf.path).map(|(unit, _)| unit);
    for (unit, (head, by_theirs)) in removed {
        let in_unit = |leaf: &Leaf| unit_of(leaf).as_deref() == Some(unit.as_str());
        let other_changed = leaves.iter().any(|leaf| {
            in_unit(leaf) && if by_theirs { leaf.changed_by_ours() } else { leaf.changed_by_theirs() }
        });
        if !other_changed {
            continue;
        }
        for leaf in leaves.iter_mut().filter(|leaf| in_unit(leaf)) {
            if leaf.path == head {
                leaf.decision = Plan::Ask(Keep::Base);
                continue;
            }
            let side = if by_theirs { &mut leaf.three.theirs } else { &mut leaf.three.ours };
            if side.is_none() {
                *side = leaf.three.base;
            }
        }
    }
}

/// Where both sides changed a bundle and not in the same way, each of its files is a question. A bundle that
/// was there before keeps its base; of two new ones, one stands whole.
pub(crate) fn hold_bundles(
    layout: &Layout,
    base: &Snapshot<'_>,
    leaves: &mut [Leaf],
) -> Result<(), GitError> {
    let bundles: BTreeSet<String> =
        leaves.iter().filter_map(|leaf| layout.bundle_of(&leaf.path)).map(ToOwned::to_owned).collect();
    for bundle in bundles {
        let inside = |leaf: &Leaf| layout.bundle_of(&leaf.path) == Some(bundle.as_str());
        let members = || leaves.iter().filter(|leaf| inside(leaf));
        let both = members().any(Leaf::changed_by_ours) && members().any(Leaf::changed_by_theirs);
        if !both || members().all(|leaf| leaf.three.ours == leaf.three.theirs) {
            continue;
        }
        let keep = if base.files(&bundle)?.is_empty() {
            let side = |entry: fn(&Leaf) -> Option<Entry>| -> Vec<(&str, Vec<u8>)> {
                members()
                    .filter_map(|leaf| Some((leaf.path.as_str(), entry(leaf)?.id.as_bytes().to_vec())))
                    .collect()
            };
            if side(|leaf| leaf.three.ours) <= side(|leaf| leaf.three.theirs) {
                Keep::Ours
            } else {
                Keep::Theirs
            }
        } else {
            Keep::Base
        };
        for leaf in leaves.iter_mut().filter(|leaf| layout.bundle_of(&leaf.path) == Some(bundle.as_str())) {
            leaf.decision = Plan::Ask(keep);
        }
    }
    Ok(())
}

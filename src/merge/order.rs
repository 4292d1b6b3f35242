//! The order of merged keys and elements: a reordering on one side is kept, and what each side added stays
//! behind its neighbour. Both machines of a merge find the same order.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// Puts the names of `keep` in order, given the order that base, ours and theirs have them in. Every name of
/// `keep` stands in at least one of the three.
///
/// Names that both sides have keep the order of the side that moved them (where both did, of the side whose order
/// reads first). A name that one side has alone follows the name it follows there. Where both sides added at the
/// same place, their additions stand sorted by name.
pub(crate) fn merged_order<'k>(
    base: &[&'k str],
    ours: &[&'k str],
    theirs: &[&'k str],
    keep: &BTreeSet<&'k str>,
) -> Vec<&'k str> {
    let kept = |side: &[&'k str]| side.iter().copied().filter(|k| keep.contains(k)).collect::<Vec<_>>();
    let (ours, theirs, base) = (kept(ours), kept(theirs), kept(base));
    let in_ours: BTreeSet<&str> = ours.iter().copied().collect();
    let in_theirs: BTreeSet<&str> = theirs.iter().copied().collect();
    let in_base: BTreeSet<&str> = base.iter().copied().collect();
    let common = |side: &[&'k str]| {
        side.iter().copied().filter(|k| in_ours.contains(k) && in_theirs.contains(k)).collect::<Vec<_>>()
    };
    let (ours_common, theirs_common, base_common) = (common(&ours), common(&theirs), common(&base));
    let old = |side: &[&'k str]| side.iter().copied().filter(|k| in_base.contains(k)).collect::<Vec<_>>();
    // The side that moved something decides; where both or neither did, the order that reads first.
    let (ours_moved, theirs_moved) = (old(&ours_common) != base_common, old(&theirs_common) != base_common);
    let ours_decide = match (ours_moved, theirs_moved) {
        (true, false) => true,
        (false, true) => false,
        _ => reads_first(&ours_common, &theirs_common) != Ordering::Greater,
    };
    let spine = if ours_decide { ours_common } else { theirs_common };
    let on_spine: BTreeSet<&str> = spine.iter().copied().collect();
    let runs = |side: &[&'k str]| {
        let mut runs: BTreeMap<Option<&'k str>, Vec<&'k str>> = BTreeMap::new();
        let mut after = None;
        for &key in side {
            if on_spine.contains(key) {
                after = Some(key);
            } else {
                runs.entry(after).or_default().push(key);
            }
        }
        runs
    };
    let (ours_runs, theirs_runs) = (runs(&ours), runs(&theirs));
    let mut order = Vec::with_capacity(keep.len());
    for anchor in std::iter::once(None).chain(spine.into_iter().map(Some)) {
        order.extend(anchor);
        match (ours_runs.get(&anchor), theirs_runs.get(&anchor)) {
            (Some(one), None) | (None, Some(one)) => order.extend(one),
            (Some(ours), Some(theirs)) => {
                let mut both: Vec<&str> = ours.iter().chain(theirs).copied().collect();
                both.sort_unstable();
                order.extend(both);
            }
            (None, None) => {}
        }
    }
    // A name that only the base still has: kept there by an open question on both sides' account.
    let placed: BTreeSet<&str> = order.iter().copied().collect();
    order.extend(base.into_iter().filter(|k| !placed.contains(k)));
    order
}

fn reads_first(a: &[&str], b: &[&str]) -> Ordering {
    a.cmp(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(base: &str, ours: &str, theirs: &str, keep: &str) -> String {
        let names = |text: &'static str| text.split(' ').filter(|n| !n.is_empty()).collect::<Vec<_>>();
        let leak = |text: &str| names(Box::leak(text.to_owned().into_boxed_str()));
        let keep = leak(keep);
        merged_order(&leak(base), &leak(ours), &leak(theirs), &keep.into_iter().collect()).join(" ")
    }

    #[test]
    fn moves_and_additions() {
        assert_eq!(order("a b c", "a x b c", "a b c y", "a b c x y"), "a x b c y");
        assert_eq!(order("a b c", "c a b", "a b c y", "a b c y"), "c y a b");
        assert_eq!(order("a b c", "a b c", "c b a", "a b c"), "c b a");
        assert_eq!(order("a", "a z m", "a k", "a k m z"), "a k m z");
        assert_eq!(order("a b", "b a", "a b n", "b n"), "b n");
        assert_eq!(order("", "n m", "", "m n"), "n m");
        // Whoever merges, the order is one.
        assert_eq!(order("a b c", "b a c", "a c b", "a b c"), order("a b c", "a c b", "b a c", "a b c"));
    }
}

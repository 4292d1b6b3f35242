//! The best split by cuts of any depth: each part is cut straight through, and its parts again, and so on.
//!
//! What this finds and why it is enough. Fabricators butt straight seams that run from border to border or end on another
//! seam; joints that bend or slant are avoided, since a mitre or an inner corner chips, shows, and cannot be pulled
//! together (common practice, no source). Splits by straight seams at right angles that no such sequence of cuts makes
//! contain a pinwheel: four pieces around an inner one (slicing floor plans, Otten, Automatic floorplan design, 1982, from
//! memory). That inner piece has no edge of its own, so it could not be lit, and no split may have it.
//!
//! Where a cut may stand: pieces only get smaller where a cut moves on, until the piece before it fills a sheet's width or
//! height, or the cut comes near a cut-out, a corner or a sliver. So the likely positions of `split` are joined by sums of a
//! sheet's two sides from both ends and from beside each cut-out. The search is bounded by a number of cuts, never by time:
//! the same outline gives the same split on every machine.

use std::collections::BTreeMap;

use super::cut::{Cut, Part};
use super::pieces::Seam;
use super::point::Point;
use super::splitter::{Cost, Plan, Splitter};

/// How many cuts are tried in all along one pair of directions.
const MOST_CUTS: usize = 6_000;

/// How many positions are tried across one part in one direction.
const MOST_POSITIONS: usize = 48;

/// A part by the corners of its border, to 1e-6 mm, and how many pieces it may take.
type Known = (Vec<(i64, i64)>, usize);

/// A search along two directions at right angles.
pub(super) struct Search<'s, 'o> {
    splitter: &'s Splitter<'o>,
    across: Point,
    cuts_left: usize,
    known: BTreeMap<Known, Option<Plan>>,
}

/// One cut of a part: what comes of it, its seams and what they cost.
struct Candidate {
    parts: Vec<(Part, usize)>,
    seams: Vec<Seam>,
    cost: Cost,
}

impl<'s, 'o> Search<'s, 'o> {
    pub(super) fn new(splitter: &'s Splitter<'o>, across: Point) -> Self {
        Search { splitter, across, cuts_left: MOST_CUTS, known: BTreeMap::new() }
    }

    /// The best plan for a part in at most so many pieces.
    pub(super) fn best(&mut self, part: &Part, allowed: usize) -> Option<Plan> {
        if let Some(plan) = self.splitter.as_it_is(part) {
            return Some(plan);
        }
        if allowed < 2 || self.splitter.fewest_pieces(part) as usize > allowed {
            return None;
        }
        let key = (corners(part), allowed);
        if let Some(known) = self.known.get(&key) {
            return known.clone();
        }
        let mut candidates = self.candidates(part, allowed);
        candidates.sort_by(|a, b| a.cost.order(b.cost));
        let mut best: Option<Plan> = None;
        for candidate in candidates {
            let fewest: usize = candidate.parts.iter().map(|p| p.1).sum();
            let least = candidate.cost.plus(Cost::of_pieces(fewest, fewest - candidate.parts.len()));
            if best.as_ref().is_some_and(|known| !least.is_shorter(known.cost)) {
                continue;
            }
            let Some(plan) = self.whole(candidate, allowed, fewest) else { continue };
            if best.as_ref().is_none_or(|known| plan.cost.is_less(known.cost)) {
                best = Some(plan);
            }
        }
        self.known.insert(key, best.clone());
        best
    }

    /// The plan that follows from one cut.
    fn whole(&mut self, candidate: Candidate, allowed: usize, fewest: usize) -> Option<Plan> {
        let mut plan = Plan { parts: Vec::new(), seams: candidate.seams, cost: candidate.cost };
        let mut spare = allowed - fewest;
        for (part, least) in &candidate.parts {
            let own = self.best(part, least + spare)?;
            spare -= own.parts.len().saturating_sub(*least);
            plan.parts.extend(own.parts);
            plan.seams.extend(own.seams);
            plan.cost = plan.cost.plus(own.cost);
        }
        Some(plan)
    }

    /// Every cut of a part that leaves no sliver and need not take more pieces than allowed.
    fn candidates(&mut self, part: &Part, allowed: usize) -> Vec<Candidate> {
        let mut found = Vec::new();
        for across in [self.across, self.across.left()] {
            let (low, high) = part.contour().extent(across);
            for at_mm in self.splitter.more_positions(part, across, low, high, MOST_POSITIONS) {
                if self.cuts_left == 0 {
                    return found;
                }
                self.cuts_left -= 1;
                let halves = part.cut(Cut { across, at_mm });
                let (seams, cost) = self.splitter.seams(&halves.seams);
                let parts: Vec<(Part, usize)> = halves
                    .below
                    .into_iter()
                    .chain(halves.above)
                    .map(|p| {
                        let fewest = self.splitter.fewest_pieces(&p) as usize;
                        (p, fewest)
                    })
                    .collect();
                let fewest: usize = parts.iter().map(|p| p.1).sum();
                let sound = fewest <= allowed
                    && parts.len() > 1
                    && parts.iter().all(|(p, _)| !self.splitter.is_sliver(p));
                if sound {
                    found.push(Candidate { parts, seams, cost });
                }
            }
        }
        found
    }
}

fn corners(part: &Part) -> Vec<(i64, i64)> {
    let whole = |v: f64| (v * 1e6).round() as i64;
    part.border
        .iter()
        .map(|b| {
            let p = b.segment.start();
            (whole(p.x), whole(p.y))
        })
        .collect()
}

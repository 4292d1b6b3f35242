//! Splits found strip by strip: what a split costs, and the best set of straight cuts across one direction, exactly, by
//! dynamic programming over the strips between candidate positions.

use std::cmp::Ordering;

use super::cut::{Cut, Halves, Part};
use super::fit::{Placement, fit};
use super::outline::{Outline, StoneJoint};
use super::pieces::{Seam, own_edges};
use super::point::Point;
use super::rectangle::least_width;
use super::split::SplitLimits;

/// How good a split is; less is better, the first number that differs decides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cost(pub(super) [f64; 5]);

impl Cost {
    pub(super) const NOTHING: Cost = Cost([0.0; 5]);

    /// So many pieces with so many seams between them.
    pub(super) fn of_pieces(pieces: usize, seams: usize) -> Cost {
        Cost([0.0, pieces as f64, seams as f64, 0.0, 0.0])
    }

    pub(super) fn plus(self, other: Cost) -> Cost {
        Cost(std::array::from_fn(|i| self.0[i] + other.0[i]))
    }

    pub(super) fn is_less(self, other: Cost) -> bool {
        for (a, b) in self.0.into_iter().zip(other.0) {
            if (a - b).abs() > 1e-6 * a.abs().max(b.abs()).max(1e-3) {
                return a < b;
            }
        }
        false
    }
}

impl Cost {
    /// True where it is less before evenness is asked for.
    pub(super) fn is_shorter(self, other: Cost) -> bool {
        let without = |c: Cost| Cost([c.0[0], c.0[1], c.0[2], c.0[3], 0.0]);
        without(self).is_less(without(other))
    }

    /// The better one first.
    pub(super) fn order(self, other: Cost) -> Ordering {
        if self.is_less(other) {
            Ordering::Less
        } else if other.is_less(self) {
            Ordering::Greater
        } else {
            Ordering::Equal
        }
    }

    /// False where seams off joints and pieces alone already rule it out.
    fn may_be_less(self, other: Cost) -> bool {
        (self.0[0], self.0[1]) <= (other.0[0], other.0[1])
    }
}

/// Parts that fit, and the seams between them.
#[derive(Clone)]
pub(super) struct Plan {
    pub(super) parts: Vec<(Part, Placement)>,
    pub(super) seams: Vec<Seam>,
    pub(super) cost: Cost,
}

pub(super) struct Splitter<'s> {
    pub(super) limits: &'s SplitLimits,
    pub(super) joints: &'s [StoneJoint],
    /// True where seams may end at cut-outs.
    pub(super) through_cutouts: bool,
    whole_area: f64,
}

/// How many more pieces are thought of than the fewest found: for seams on the stone's joints, and so that the options
/// compared are worth comparing.
pub(super) const MORE_PIECES: usize = 2;

impl<'s> Splitter<'s> {
    pub(super) fn of(outline: &'s Outline, limits: &'s SplitLimits, through_cutouts: bool) -> Self {
        let whole_area = outline.outer.signed_area().abs();
        Splitter { limits, joints: &outline.stone_joints, through_cutouts, whole_area }
    }

    /// True where a part is narrower than a piece may be.
    pub(super) fn is_sliver(&self, part: &Part) -> bool {
        least_width(&part.contour()) < self.limits.least_piece_mm
    }

    /// How a part is laid on the sheet, where it fits.
    pub(super) fn placement(&self, part: &Part) -> Option<Placement> {
        fit(&part.contour(), self.limits.sheet)
    }

    /// The best plan across one direction with as few pieces as can be, or with a few more that bring every seam
    /// onto the stone's joints.
    pub(super) fn fewest_first(&self, part: &Part, across: Point, most: usize) -> Option<Plan> {
        let mut best: Option<Plan> = None;
        let least = self.fewest_pieces(part) as usize;
        for allowed in least..=most {
            if best.as_ref().is_some_and(|b| b.cost.0[0] == 0.0 || allowed > b.parts.len() + MORE_PIECES) {
                break;
            }
            if let Some(plan) = self.plan(part, across, 0, allowed)
                && best.as_ref().is_none_or(|b| plan.cost.is_less(b.cost))
            {
                best = Some(plan);
            }
        }
        best
    }

    /// The best plan for a part with cuts across one direction, its strips split across again where needed.
    fn plan(&self, part: &Part, across: Point, level: usize, allowed: usize) -> Option<Plan> {
        if let Some(plan) = self.as_it_is(part) {
            return Some(plan);
        }
        if level > 1 || allowed < 2 || self.fewest_pieces(part) > allowed as f64 {
            return None;
        }
        let diagonal = self.limits.sheet.width_mm.hypot(self.limits.sheet.height_mm);
        let contour = part.contour();
        let (low, high) = contour.extent(across);
        let positions = self.positions(part, across, low, high, if level == 0 { 40 } else { 16 });
        // Each position's own cut through the whole part: what is above it, and its seams.
        let cuts: Vec<Halves> = positions.iter().map(|&at_mm| part.cut(Cut { across, at_mm })).collect();
        let seam_costs: Vec<(Vec<Seam>, Cost)> = cuts.iter().map(|h| self.seams(&h.seams)).collect();
        // How many pieces what is above each position takes at least.
        let mut rest: Vec<f64> =
            cuts.iter().map(|h| h.above.iter().map(|p| self.fewest_pieces(p)).sum()).collect();
        rest.push(0.0);
        let count = positions.len();
        // Stops: the low end, the positions, the high end.
        let stop = |i: usize| match i {
            0 => low,
            i if i <= count => positions[i - 1],
            _ => high,
        };
        let mut best: Vec<Option<Plan>> = vec![None; count + 2];
        best[0] = Some(Plan { parts: Vec::new(), seams: Vec::new(), cost: Cost::NOTHING });
        for from in 0..=count {
            let Some(before) = best[from].clone() else { continue };
            let whole = std::slice::from_ref(part);
            let above: &[Part] = if from == 0 { whole } else { &cuts[from - 1].above };
            for to in from + 1..=count + 1 {
                if stop(to) - stop(from) > diagonal * (1.0 + 1e-9) {
                    break;
                }
                let hopeless = |fewest: f64| {
                    let least = before.cost.plus(Cost([0.0, fewest, 0.0, 0.0, 0.0]));
                    best[to].as_ref().is_some_and(|known| !least.may_be_less(known.cost))
                };
                if hopeless(1.0) {
                    continue;
                }
                let strip: Vec<Part> = if to > count {
                    above.to_vec()
                } else {
                    let cut = Cut { across, at_mm: stop(to) };
                    above.iter().flat_map(|p| p.cut(cut).below).collect()
                };
                let left = allowed as f64 - before.cost.0[1] - rest[to - 1];
                let fewest: f64 = strip.iter().map(|p| self.fewest_pieces(p)).sum();
                if fewest > left || hopeless(fewest) {
                    continue;
                }
                let Some(strip) = self.strip(&strip, across, level, left as usize) else { continue };
                let mut plan = Plan {
                    cost: before.cost.plus(strip.cost),
                    parts: before.parts.iter().cloned().chain(strip.parts).collect(),
                    seams: before.seams.iter().copied().chain(strip.seams).collect(),
                };
                if to <= count {
                    plan.cost = plan.cost.plus(seam_costs[to - 1].1);
                    plan.seams.extend(&seam_costs[to - 1].0);
                }
                if best[to].as_ref().is_none_or(|known| plan.cost.is_less(known.cost)) {
                    best[to] = Some(plan);
                }
            }
        }
        best.pop().flatten()
    }

    /// Every part of a strip as it is, or split across.
    fn strip(&self, parts: &[Part], across: Point, level: usize, allowed: usize) -> Option<Plan> {
        let mut all = Plan { parts: Vec::new(), seams: Vec::new(), cost: Cost::NOTHING };
        for part in parts {
            if self.is_sliver(part) {
                return None;
            }
            let left = allowed.saturating_sub(all.parts.len());
            let plan = self.plan(part, across.left(), level + 1, left)?;
            all.parts.extend(plan.parts);
            all.seams.extend(plan.seams);
            all.cost = all.cost.plus(plan.cost);
            if all.parts.len() > allowed {
                return None;
            }
        }
        Some(all)
    }

    /// One piece without seams, where it fits and can be lit.
    pub(super) fn as_it_is(&self, part: &Part) -> Option<Plan> {
        let placement = self.placement(part)?;
        if !self.can_be_lit(part) {
            return None;
        }
        let share = part.contour().signed_area().abs() / self.whole_area;
        let cost = Cost([0.0, 1.0, 0.0, 0.0, share * share]);
        Some(Plan { parts: vec![(part.clone(), placement)], seams: Vec::new(), cost })
    }

    /// No fewer pieces than this can carry a part's area.
    pub(super) fn fewest_pieces(&self, part: &Part) -> f64 {
        let sheet = self.limits.sheet.width_mm * self.limits.sheet.height_mm;
        (part.contour().signed_area().abs() / sheet - 1e-9).ceil().max(1.0)
    }

    pub(super) fn can_be_lit(&self, part: &Part) -> bool {
        let numbers: Vec<usize> = part.border.iter().map(|b| b.edge).collect();
        own_edges(&part.contour(), &numbers).iter().any(|e| {
            let wanted = self.limits.lit_edges.is_empty() || self.limits.lit_edges.contains(&e.number);
            wanted && e.can_carry_tape(&self.limits.tape)
        })
    }

    pub(super) fn seams(&self, seams: &[(Point, Point)]) -> (Vec<Seam>, Cost) {
        let seams: Vec<Seam> = seams
            .iter()
            .map(|&(from, to)| Seam { from, to, on_joint: self.joints.iter().any(|j| lies_on(from, to, j)) })
            .collect();
        let off = seams.iter().filter(|s| !s.on_joint).count();
        let off = if self.joints.is_empty() { 0 } else { off };
        let length: f64 = seams.iter().map(Seam::length_mm).sum();
        let cost = Cost([off as f64, 0.0, seams.len() as f64, length, 0.0]);
        (seams, cost)
    }
}

/// True where a seam lies on a joint, within a millimetre.
fn lies_on(from: Point, to: Point, joint: &StoneJoint) -> bool {
    let along = (joint.to - joint.from).unit();
    let length = joint.from.distance(joint.to);
    [from, to].into_iter().all(|p| {
        let off = p - joint.from;
        along.cross(off).abs() <= 1.0 && (-1.0..=length + 1.0).contains(&along.dot(off))
    })
}

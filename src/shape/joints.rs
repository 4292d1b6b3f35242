//! What the cutter is shown beside the lines to cut: the stone's joints as far as they lie over a piece, and the marks
//! on it.
//!
//! Nothing of a panel is cut along a joint of the stone. Whoever cuts still needs to see it: no hole, notch or mark goes
//! through a joint unseen, and the slabs are laid along it. So joints go on a layer of their own that is not plotted.

use super::cut::{Cut, Part};
use super::meeting::winding;
use super::outline::{Contour, Mark, Outline, SAME_PLACE_MM, StoneJoint};
use super::point::{Point, distance_to_way};

/// Stretches shorter than this are no joint that anybody sees, in millimetres.
const SHORTEST_MM: f64 = 0.1;

/// How near to the border a mark counts as on it, in millimetres.
const ON_BORDER_MM: f64 = 0.1;

/// The stretches of joints that lie over the material of an outline: within its border, outside its cut-outs. A joint
/// along the border is none.
#[must_use]
pub(crate) fn joints_over(outline: &Outline, joints: &[StoneJoint]) -> Vec<StoneJoint> {
    joints.iter().flat_map(|joint| stretches(outline, joint)).collect()
}

fn stretches(outline: &Outline, joint: &StoneJoint) -> Vec<StoneJoint> {
    let length = joint.from.distance(joint.to);
    if length <= SAME_PLACE_MM {
        return Vec::new();
    }
    let along = (joint.to - joint.from).unit();
    let across = along.left();
    let cut = Cut { across, at_mm: across.dot(joint.from) };
    // Distances from the joint's beginning between which its line runs within a contour.
    let within = |contour: &Contour| -> Vec<(f64, f64)> {
        let seams = Part::whole(&Outline::of(contour.clone())).cut(cut).seams;
        let mut found: Vec<(f64, f64)> = seams
            .into_iter()
            .map(|(a, b)| (along.dot(a - joint.from), along.dot(b - joint.from)))
            .map(|(a, b)| (a.min(b), a.max(b)))
            .collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        found
    };
    let mut left: Vec<(f64, f64)> =
        within(&outline.outer).into_iter().map(|(a, b)| (a.max(0.0), b.min(length))).collect();
    for hole in outline.cutouts.iter().flat_map(within) {
        left = left
            .into_iter()
            .flat_map(|(a, b)| [(a, b.min(hole.0)), (a.max(hole.1), b)])
            .filter(|(a, b)| b > a)
            .collect();
    }
    // An end of the joint stays the very point that was drawn.
    let place = |at: f64| {
        if at == 0.0 {
            joint.from
        } else if at == length {
            joint.to
        } else {
            joint.from + along * at
        }
    };
    left.into_iter()
        .filter(|(a, b)| b - a >= SHORTEST_MM)
        .map(|(a, b)| StoneJoint { from: place(a), to: place(b) })
        .collect()
}

/// The marks that lie within an outline's border or on it.
#[must_use]
pub(crate) fn marks_on(outline: &Outline, marks: &[Mark]) -> Vec<Mark> {
    let flat = outline.outer.flattened(ON_BORDER_MM / 2.0);
    let on_border = |at: Point| {
        let ends = flat.iter().skip(1).chain(flat.first());
        flat.iter().zip(ends).any(|(a, b)| distance_to_way(at, *a, *b) <= ON_BORDER_MM)
    };
    marks.iter().filter(|m| winding(&flat, m.at) != 0 || on_border(m.at)).cloned().collect()
}

#[cfg(test)]
mod tests {
    use super::super::outline::MarkKind;
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    fn joint(a: Point, b: Point) -> StoneJoint {
        StoneJoint { from: a, to: b }
    }

    #[test]
    fn a_joint_is_shown_where_there_is_material_under_it() {
        let mut bar = Outline::rectangle(2000.0, 400.0);
        bar.cutouts.push(Contour::circle(p(800.0, 200.0), 50.0));
        let through = joints_over(&bar, &[joint(p(800.0, -5.0), p(800.0, 405.0))]);
        let ends: Vec<[f64; 2]> = through.iter().map(|j| [j.from.y, j.to.y]).collect();
        assert_eq!(ends.len(), 2, "{ends:?}");
        for (found, wanted) in ends.iter().flatten().zip([0.0, 150.0, 250.0, 400.0]) {
            assert!((found - wanted).abs() < 1e-6, "{ends:?}");
        }
        // Both ways round, one that ends within, along the border, beside it.
        let short = joint(p(1200.0, 300.0), p(1200.0, 100.0));
        assert_eq!(joints_over(&bar, std::slice::from_ref(&short)), [short]);
        for none in [joint(p(0.0, 0.0), p(2000.0, 0.0)), joint(p(2100.0, 0.0), p(2100.0, 400.0))] {
            assert_eq!(joints_over(&bar, &[none]), []);
        }
        // An L: the line leaves it and does not come back.
        let l = Outline::polygon(&[
            p(0., 0.),
            p(900., 0.),
            p(900., 300.),
            p(300., 300.),
            p(300., 900.),
            p(0., 900.),
        ]);
        let found = joints_over(&l, &[joint(p(0.0, 600.0), p(900.0, 600.0))]);
        assert_eq!(found.len(), 1);
        assert!((found[0].to.x - 300.0).abs() < 1e-6);
    }

    #[test]
    fn marks_go_with_the_piece_that_they_lie_on() {
        let mark = |x, y| Mark { kind: MarkKind::Note, at: p(x, y), text: None, heading_deg: None };
        let bar = Outline::rectangle(1000.0, 400.0);
        let marks = [mark(500.0, 200.0), mark(1000.0, 100.0), mark(1000.05, 0.0), mark(1001.0, 200.0)];
        assert_eq!(marks_on(&bar, &marks), marks[..3]);
    }
}

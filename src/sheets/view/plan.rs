//! Which dimensions stand on which side of the view.

use crate::shape::{Contour, Outline, Point, ShapeClass, figures};
use crate::units::DisplayUnits;

use super::super::input::SheetInput;
use super::super::scale::Measure;
use super::side::{Running, Side, SidePlan, most_running};

/// Places nearer than this along a side are one, in millimetres of the panel.
const SAME_MM: f64 = 0.05;

/// The dimensions of all four sides.
#[derive(Clone, Debug, Default)]
pub(super) struct Plan {
    bottom: SidePlan,
    left: SidePlan,
    top: SidePlan,
    right: SidePlan,
    /// What found no place, in words.
    pub(super) omissions: Vec<String>,
    /// True where corners are too close together to be dimensioned on the view.
    pub(super) corners_left_out: bool,
}

/// A feature to be dimensioned from the datum, in the panel's millimetres.
#[derive(Clone, Copy, Debug)]
struct Feature {
    /// The place that is located.
    at: Point,
    /// Where its line starts: the near end of its centre line, or the place itself.
    below: Point,
    beside: Point,
}

impl Plan {
    pub(super) fn side(&self, side: Side) -> &SidePlan {
        match side {
            Side::Bottom => &self.bottom,
            Side::Left => &self.left,
            Side::Top => &self.top,
            Side::Right => &self.right,
        }
    }

    pub(super) fn of(
        input: &SheetInput,
        cutouts: &[CutOut],
        width_on_paper: f64,
        height_on_paper: f64,
    ) -> Plan {
        let f = &input.figures;
        let (width, height) = (f.width_mm, f.height_mm);
        let mut plan = Plan::default();
        let round = f.shape == ShapeClass::Circle;
        let diameter = Measure::of(width, input.units);
        let diameter = Measure { first: format!("Ø{}", diameter.first), ..diameter };
        plan.bottom.overall = Some((width, round.then_some(diameter)));
        plan.left.overall = (!round).then_some((height, None));

        let factor = width_on_paper / width;
        let add = |side: &mut SidePlan, value: f64, length: f64, feature: Point| {
            let free = value > SAME_MM && value < length - SAME_MM;
            if free && !side.running.iter().any(|r| (r.value_mm - value).abs() < SAME_MM) {
                side.running.push(Running { value_mm: value, feature });
            }
        };
        // Holes first: where a side is crowded they stay and corners go to the table.
        for hole in holes(input, cutouts, factor) {
            let at = hole.at - f.lower_left;
            add(&mut plan.bottom, at.x, width, hole.below);
            add(&mut plan.left, at.y, height, hole.beside);
        }
        for &(from, to) in &input.seams {
            plan.seam(input, from, to);
        }
        let held = [
            most_running(width_on_paper),
            most_running(height_on_paper),
            most_running(width_on_paper),
            most_running(height_on_paper),
        ];
        plan.crowded(held, "centres of cut-outs");
        let upright_box = matches!(f.shape, ShapeClass::Rectangle | ShapeClass::Square)
            && (f.least_rectangle.long_mm - width.max(height)).abs() < SAME_MM;
        if !upright_box && f.edges.len() > 1 {
            let before = plan.clone();
            // One line for corners of one height, from the side that reads first where any of them is near it.
            let corners: Vec<Point> = f.edges.iter().map(|e| e.start()).collect();
            let low = |p: &Point| p.y - f.lower_left.y <= height / 2.0 + SAME_MM;
            let near = |p: &Point| p.x - f.lower_left.x <= width / 2.0 + SAME_MM;
            for p in corners.iter().filter(|p| low(p)).chain(corners.iter().filter(|p| !low(p))) {
                let value = p.x - f.lower_left.x;
                if !plan.located(value, true) {
                    add(if low(p) { &mut plan.bottom } else { &mut plan.top }, value, width, *p);
                }
            }
            for p in corners.iter().filter(|p| near(p)).chain(corners.iter().filter(|p| !near(p))) {
                let value = p.y - f.lower_left.y;
                if !plan.located(value, false) {
                    add(if near(p) { &mut plan.left } else { &mut plan.right }, value, height, *p);
                }
            }
            for (i, side) in [Side::Bottom, Side::Left, Side::Top, Side::Right].into_iter().enumerate() {
                if plan.side(side).running.len() > held[i] {
                    plan.side_mut(side).running = before.side(side).running.clone();
                    plan.corners_left_out = true;
                }
            }
        }
        for side in [Side::Bottom, Side::Left, Side::Top, Side::Right] {
            plan.side_mut(side).running.sort_by(|a, b| a.value_mm.total_cmp(&b.value_mm));
        }
        plan
    }

    fn side_mut(&mut self, side: Side) -> &mut SidePlan {
        match side {
            Side::Bottom => &mut self.bottom,
            Side::Left => &mut self.left,
            Side::Top => &mut self.top,
            Side::Right => &mut self.right,
        }
    }

    /// True where a running dimension or chain already gives this value along x or y.
    fn located(&self, value: f64, along_x: bool) -> bool {
        let sides = if along_x { [&self.bottom, &self.top] } else { [&self.left, &self.right] };
        sides.iter().any(|s| {
            s.running.iter().any(|r| (r.value_mm - value).abs() < SAME_MM)
                || s.chain_mm.iter().any(|c| (c - value).abs() < SAME_MM)
        })
    }

    /// A seam square to the box is chained; another is located by both ends.
    fn seam(&mut self, input: &SheetInput, from: Point, to: Point) {
        let f = &input.figures;
        let (a, b) = (from - f.lower_left, to - f.lower_left);
        let mut chain = |side: Side, value: f64, length: f64| {
            let chain = &mut self.side_mut(side).chain_mm;
            if chain.is_empty() {
                chain.extend([0.0, length]);
            }
            if !chain.iter().any(|c| (c - value).abs() < SAME_MM) {
                chain.push(value);
                chain.sort_by(f64::total_cmp);
            }
        };
        if (a.x - b.x).abs() < SAME_MM {
            chain(Side::Top, a.x, f.width_mm);
        } else if (a.y - b.y).abs() < SAME_MM {
            chain(Side::Right, a.y, f.height_mm);
        } else {
            for p in [a, b] {
                chain(Side::Top, p.x, f.width_mm);
                chain(Side::Right, p.y, f.height_mm);
            }
        }
    }

    fn crowded(&mut self, held: [usize; 4], what: &str) {
        for (side, most) in [Side::Bottom, Side::Left, Side::Top, Side::Right].into_iter().zip(held) {
            if self.side(side).running.len() > most {
                self.side_mut(side).running.clear();
                self.omissions.push(format!("dimensions to {what}"));
            }
        }
    }
}

fn holes(input: &SheetInput, cutouts: &[CutOut], factor: f64) -> Vec<Feature> {
    let past = super::CENTRE_PAST_MM / factor;
    let mut holes: Vec<Feature> = cutouts
        .iter()
        .map(|cutout| Feature {
            at: cutout.centre,
            below: cutout.centre - Point::new(0.0, cutout.height_mm / 2.0 + past),
            beside: cutout.centre - Point::new(cutout.width_mm / 2.0 + past, 0.0),
        })
        .collect();
    for mark in &input.outline.marks {
        if mark.kind == crate::shape::MarkKind::HoleCentre {
            holes.push(Feature {
                at: mark.at,
                below: mark.at - Point::new(0.0, past),
                beside: mark.at - Point::new(past, 0.0),
            });
        }
    }
    // Of several on one line the nearest to the side carries the dimension's line.
    holes.sort_by(|a, b| a.below.y.total_cmp(&b.below.y).then(a.beside.x.total_cmp(&b.beside.x)));
    holes
}

/// What a cut-out measures.
#[derive(Clone, Debug, PartialEq)]
pub(in super::super) struct CutOut {
    pub(in super::super) shape: ShapeClass,
    pub(in super::super) width_mm: f64,
    pub(in super::super) height_mm: f64,
    pub(in super::super) centre: Point,
    pub(in super::super) least_radius_mm: Option<f64>,
}

impl CutOut {
    pub(in super::super) fn of(contour: &Contour) -> CutOut {
        let f = figures(&Outline::of(contour.clone()));
        CutOut {
            shape: f.shape,
            width_mm: f.width_mm,
            height_mm: f.height_mm,
            centre: f.lower_left + Point::new(f.width_mm, f.height_mm) * 0.5,
            least_radius_mm: f.least_radius_mm(),
        }
    }

    /// Its size in words: a diameter, or width by height.
    pub(in super::super) fn size(&self, units: DisplayUnits) -> Measure {
        let (w, h) = (Measure::of(self.width_mm, units), Measure::of(self.height_mm, units));
        if self.shape == ShapeClass::Circle {
            return Measure { first: format!("Ø{}", w.first), ..w };
        }
        let bare = |m: &Measure| m.second.trim_matches(['[', ']']).to_string();
        Measure {
            first: format!("{} × {}", w.first, h.first),
            second: format!("[{} × {}]", bare(&w), bare(&h)),
        }
    }
}

/// The name of the n-th cut-out, from 0: A to Z, then AA on.
pub(in super::super) fn letters(index: usize) -> String {
    let mut name = String::new();
    let mut rest = index + 1;
    while rest > 0 {
        name.insert(0, char::from(b'A' + ((rest - 1) % 26) as u8));
        rest = (rest - 1) / 26;
    }
    name
}

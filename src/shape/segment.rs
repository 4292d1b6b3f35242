//! One piece of a contour, kept as the kind it was drawn as.
//!
//! What a piece measures is in `measure`; this file is where it starts, ends, goes and bends. The share of
//! the way `t` runs from 0 at the start to 1 at the end; it is not a share of the length.

use std::f64::consts::PI;

use super::arc::{Arc, Circle, share_of_sweep};
use super::cubic::Cubic;
use super::ellipse::EllipseArc;
use super::nurbs::Nurbs;
use super::point::{Point, Transform};

/// One piece of a contour or path.
#[derive(Clone, Debug, PartialEq)]
pub enum Segment {
    /// A straight line.
    Line {
        /// Where it starts.
        start: Point,
        /// Where it ends.
        end: Point,
    },
    /// A circular arc.
    Arc(Arc),
    /// A whole circle.
    Circle(Circle),
    /// A cubic Bézier curve.
    Cubic(Cubic),
    /// Part of an ellipse, or a whole one.
    Ellipse(EllipseArc),
    /// A spline.
    Spline(Nurbs),
}

impl Segment {
    /// A straight line between two points.
    #[must_use]
    pub fn line(start: Point, end: Point) -> Self {
        Segment::Line { start, end }
    }

    /// The word for its kind: `line`, `arc`, `circle`, `cubic`, `ellipse` or `spline`.
    #[must_use]
    pub(crate) fn kind(&self) -> &'static str {
        match self {
            Segment::Line { .. } => "line",
            Segment::Arc(_) => "arc",
            Segment::Circle(_) => "circle",
            Segment::Cubic(_) => "cubic",
            Segment::Ellipse(_) => "ellipse",
            Segment::Spline(_) => "spline",
        }
    }

    /// Where it starts.
    #[must_use]
    pub fn start(&self) -> Point {
        match self {
            Segment::Line { start, .. } => *start,
            Segment::Arc(arc) => arc.start,
            Segment::Cubic(cubic) => cubic.start,
            _ => self.at(0.0),
        }
    }

    /// Where it ends.
    #[must_use]
    pub fn end(&self) -> Point {
        match self {
            Segment::Line { end, .. } => *end,
            Segment::Arc(arc) => arc.end,
            Segment::Cubic(cubic) => cubic.end,
            _ => self.at(1.0),
        }
    }

    /// The point after a share `t` of the way, 0 to 1.
    #[must_use]
    pub fn at(&self, t: f64) -> Point {
        match self {
            Segment::Line { start, end } => start.towards(*end, t),
            Segment::Arc(arc) => arc.at(t),
            Segment::Circle(circle) => circle.at(t),
            Segment::Cubic(cubic) => cubic.at(t),
            Segment::Ellipse(ellipse) => ellipse.at(t),
            Segment::Spline(spline) => spline.derivatives(t)[0],
        }
    }

    /// The first derivative by the share of the way: points along the piece.
    #[must_use]
    pub(crate) fn derivative(&self, t: f64) -> Point {
        match self {
            Segment::Line { start, end } => *end - *start,
            Segment::Arc(arc) => arc.derivative(t),
            Segment::Circle(circle) => circle.derivative(t),
            Segment::Cubic(cubic) => cubic.derivative(t),
            Segment::Ellipse(ellipse) => ellipse.derivative(t),
            Segment::Spline(spline) => spline.derivatives(t)[1],
        }
    }

    /// The unit direction of travel; near a point where the curve stands still, that of its next bit.
    #[must_use]
    pub(crate) fn direction(&self, t: f64) -> Point {
        let along = self.derivative(t);
        let size = self.start().distance(self.end()).max(self.at(0.5).distance(self.start()));
        if along.length() > 1e-9 * size {
            return along.unit();
        }
        let step = if t < 0.5 { 1e-4 } else { -1e-4 };
        ((self.at(t + step) - self.at(t)) * step.signum()).unit()
    }

    /// Signed curvature in 1/mm: positive where it turns left, one by the radius.
    #[must_use]
    pub(crate) fn curvature(&self, t: f64) -> f64 {
        let (first, second) = match self {
            Segment::Line { .. } => return 0.0,
            Segment::Arc(arc) => return arc.radius().recip().copysign(arc.bulge),
            Segment::Circle(circle) => {
                return circle.radius.recip().copysign(circle.sweep());
            }
            Segment::Cubic(cubic) => (cubic.derivative(t), cubic.second_derivative(t)),
            Segment::Ellipse(ellipse) => (ellipse.derivative(t), ellipse.second_derivative(t)),
            Segment::Spline(spline) => {
                let [_, first, second] = spline.derivatives(t);
                (first, second)
            }
        };
        first.cross(second) / first.length().powi(3)
    }

    /// The same piece walked the other way.
    #[must_use]
    pub fn reversed(&self) -> Segment {
        match self {
            Segment::Line { start, end } => Segment::Line { start: *end, end: *start },
            Segment::Arc(arc) => Segment::Arc(Arc { start: arc.end, end: arc.start, bulge: -arc.bulge }),
            Segment::Circle(circle) => Segment::Circle(Circle { clockwise: !circle.clockwise, ..*circle }),
            Segment::Cubic(cubic) => Segment::Cubic(cubic.reversed()),
            Segment::Ellipse(ellipse) => Segment::Ellipse(ellipse.reversed()),
            Segment::Spline(spline) => Segment::Spline(spline.reversed()),
        }
    }

    /// The image under a map. Circles and arcs become parts of ellipses where the map does not keep shapes
    /// similar; nothing else changes its kind.
    #[must_use]
    pub(crate) fn mapped(&self, map: Transform) -> Segment {
        match (self, map.similarity()) {
            (Segment::Line { start, end }, _) => {
                Segment::Line { start: map.point(*start), end: map.point(*end) }
            }
            (Segment::Arc(arc), Some(_)) => {
                let bulge = if map.determinant() < 0.0 { -arc.bulge } else { arc.bulge };
                Segment::Arc(Arc { start: map.point(arc.start), end: map.point(arc.end), bulge })
            }
            (Segment::Circle(circle), Some(scale)) => Segment::Circle(circle.mapped(map, scale)),
            (Segment::Arc(arc), None) => {
                let (centre, radius) = (arc.centre(), arc.radius());
                Segment::Ellipse(round(centre, radius, arc.start_angle(), arc.sweep()).mapped(map))
            }
            (Segment::Circle(circle), None) => {
                Segment::Ellipse(round(circle.centre, circle.radius, 0.0, circle.sweep()).mapped(map))
            }
            (Segment::Cubic(cubic), _) => Segment::Cubic(Cubic {
                start: map.point(cubic.start),
                control_1: map.point(cubic.control_1),
                control_2: map.point(cubic.control_2),
                end: map.point(cubic.end),
            }),
            (Segment::Ellipse(ellipse), _) => Segment::Ellipse(ellipse.mapped(map)),
            (Segment::Spline(spline), _) => Segment::Spline(spline.mapped(|p| map.point(p))),
        }
    }

    /// The part between two shares of the way, `t0` below `t1`.
    #[must_use]
    pub fn between(&self, t0: f64, t1: f64) -> Segment {
        if t0 <= 0.0 && t1 >= 1.0 {
            return self.clone();
        }
        match self {
            Segment::Line { start, end } => {
                Segment::Line { start: start.towards(*end, t0), end: start.towards(*end, t1) }
            }
            Segment::Arc(arc) => Segment::Arc(arc.between(t0, t1)),
            Segment::Circle(circle) => Segment::Arc(circle.between(t0, t1)),
            Segment::Cubic(cubic) => Segment::Cubic(cubic.between(t0, t1)),
            Segment::Ellipse(ellipse) => Segment::Ellipse(ellipse.between(t0, t1)),
            Segment::Spline(spline) => match spline.between(t0, t1) {
                Some(part) => Segment::Spline(part),
                None => Segment::Line { start: self.at(t0), end: self.at(t1) },
            },
        }
    }

    /// Shares of the way between which the piece is smooth, with 0 and 1.
    pub(crate) fn breaks(&self) -> Vec<f64> {
        match self {
            Segment::Spline(spline) => spline.breaks(),
            Segment::Circle(_) => vec![0.0, 0.25, 0.5, 0.75, 1.0],
            Segment::Ellipse(ellipse) => {
                let parts = (ellipse.sweep_rad.abs() / (PI / 2.0)).ceil().clamp(1.0, 4.0) as u32;
                (0..=parts).map(|i| f64::from(i) / f64::from(parts)).collect()
            }
            _ => vec![0.0, 1.0],
        }
    }

    /// How far the piece reaches along a unit direction: least and greatest.
    #[must_use]
    pub fn extent(&self, along: Point) -> (f64, f64) {
        let (a, b) = (along.dot(self.start()), along.dot(self.end()));
        let mut reach = (a.min(b), a.max(b));
        let mut take = |value: f64| reach = (reach.0.min(value), reach.1.max(value));
        if let Segment::Circle(circle) = self {
            let middle = along.dot(circle.centre);
            take(middle - circle.radius * along.length());
            take(middle + circle.radius * along.length());
        } else {
            for t in self.where_turning(along) {
                take(along.dot(self.at(t)));
            }
        }
        reach
    }

    /// Every share of the way at which the piece turns back along a direction; between two of them it only goes on or
    /// only goes back. All are in closed form but those of splines, whose slopes are solved as polynomials.
    pub(crate) fn where_turning(&self, along: Point) -> Vec<f64> {
        match self {
            Segment::Line { .. } => Vec::new(),
            Segment::Arc(arc) => [along.angle(), along.angle() + PI]
                .into_iter()
                .filter_map(|angle| arc.share_at_angle(angle))
                .collect(),
            Segment::Circle(circle) => [along.angle(), along.angle() + PI]
                .into_iter()
                .map(|angle| (angle / circle.sweep()).rem_euclid(1.0))
                .collect(),
            Segment::Ellipse(ellipse) => {
                let angle = along.dot(ellipse.minor()).atan2(along.dot(ellipse.major));
                [angle, angle + PI]
                    .into_iter()
                    .filter_map(|angle| share_of_sweep(ellipse.start_rad, ellipse.sweep_rad, angle))
                    .collect()
            }
            Segment::Cubic(cubic) => cubic.where_turning(along),
            Segment::Spline(spline) => spline.where_turning(along),
        }
    }

    /// Points along the piece, with their shares of the way, so close that the chords stay within
    /// `tolerance_mm` of it; the first is the start, the last the end.
    #[must_use]
    pub(crate) fn flattened(&self, tolerance_mm: f64) -> Vec<(f64, Point)> {
        let mut points = vec![(0.0, self.start())];
        match self {
            Segment::Line { .. } => {}
            Segment::Arc(_) | Segment::Circle(_) => {
                let (radius, sweep) = match self {
                    Segment::Arc(arc) => (arc.radius(), arc.sweep().abs()),
                    Segment::Circle(circle) => (circle.radius, 2.0 * PI),
                    _ => (0.0, 0.0),
                };
                // Sagitta of a chord over angle a is r(1 − cos a/2).
                let step = 2.0 * (1.0 - tolerance_mm / radius.max(tolerance_mm)).acos();
                let count = (sweep / step.max(1e-4)).ceil().clamp(1.0, 65_536.0) as u32;
                let least = if matches!(self, Segment::Circle(_)) { 8 } else { 1 };
                let count = count.max(least);
                points.extend((1..count).map(|i| {
                    let t = f64::from(i) / f64::from(count);
                    (t, self.at(t))
                }));
            }
            _ => {
                for span in self.breaks().windows(2) {
                    let from = (span[0], self.at(span[0]));
                    let middle = 0.5 * (span[0] + span[1]);
                    let middle = (middle, self.at(middle));
                    let to = (span[1], self.at(span[1]));
                    self.flatten_span(from, middle, tolerance_mm, 0, &mut points);
                    points.push(middle);
                    self.flatten_span(middle, to, tolerance_mm, 0, &mut points);
                    if span[1] < 1.0 {
                        points.push(to);
                    }
                }
            }
        }
        points.push((1.0, self.end()));
        points
    }

    fn flatten_span(
        &self,
        from: (f64, Point),
        to: (f64, Point),
        tolerance: f64,
        depth: u32,
        points: &mut Vec<(f64, Point)>,
    ) {
        let chord = to.1 - from.1;
        let off = |share: f64| {
            let p = self.at(from.0 + (to.0 - from.0) * share) - from.1;
            let along = chord.unit().dot(p);
            if along <= 0.0 || along >= chord.length() {
                p.length().min((p - chord).length())
            } else {
                chord.unit().cross(p).abs()
            }
        };
        if depth >= 14 || [0.25, 0.5, 0.75].into_iter().all(|share| off(share) <= 0.7 * tolerance) {
            return;
        }
        let middle = 0.5 * (from.0 + to.0);
        let middle = (middle, self.at(middle));
        self.flatten_span(from, middle, tolerance, depth + 1, points);
        points.push(middle);
        self.flatten_span(middle, to, tolerance, depth + 1, points);
    }

    /// True where the piece is a straight line, or a curve that never leaves one by more than the tolerance.
    #[must_use]
    pub(crate) fn is_straight(&self, tolerance_mm: f64) -> bool {
        match self {
            Segment::Line { .. } => true,
            Segment::Arc(arc) => {
                // The sagitta is half the chord times the bulge.
                arc.bulge.abs() < 1.0 && arc.start.distance(arc.end) * arc.bulge.abs() / 2.0 <= tolerance_mm
            }
            Segment::Circle(_) | Segment::Ellipse(_) => false,
            Segment::Cubic(cubic) => cubic.is_straight(tolerance_mm),
            Segment::Spline(spline) => spline.is_straight(tolerance_mm),
        }
    }
}

/// A circular arc as an ellipse of ratio 1, for maps that make it one.
fn round(centre: Point, radius: f64, start_rad: f64, sweep_rad: f64) -> EllipseArc {
    EllipseArc { centre, major: Point::new(radius, 0.0), ratio: 1.0, start_rad, sweep_rad }
}

/// The root of a function between two places where its signs differ: bisection to the last bits.
pub(crate) fn root(mut low: f64, mut high: f64, at_low: f64, f: &impl Fn(f64) -> f64) -> f64 {
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if (f(middle) < 0.0) == (at_low < 0.0) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

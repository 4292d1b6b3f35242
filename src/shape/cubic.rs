//! Cubic Bézier pieces.

use kurbo::common::solve_quadratic;

use super::point::Point;

/// A cubic Bézier curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cubic {
    /// Where it starts.
    pub start: Point,
    /// The first control point.
    pub control_1: Point,
    /// The second control point.
    pub control_2: Point,
    /// Where it ends.
    pub end: Point,
}

impl Cubic {
    /// The cubic that is the same curve as a quadratic Bézier.
    #[must_use]
    pub fn from_quadratic(start: Point, control: Point, end: Point) -> Self {
        Cubic {
            start,
            control_1: start.towards(control, 2.0 / 3.0),
            control_2: end.towards(control, 2.0 / 3.0),
            end,
        }
    }

    pub(crate) fn at(&self, t: f64) -> Point {
        let s = 1.0 - t;
        self.start * (s * s * s)
            + self.control_1 * (3.0 * s * s * t)
            + self.control_2 * (3.0 * s * t * t)
            + self.end * (t * t * t)
    }

    pub(crate) fn derivative(&self, t: f64) -> Point {
        let s = 1.0 - t;
        (self.control_1 - self.start) * (3.0 * s * s)
            + (self.control_2 - self.control_1) * (6.0 * s * t)
            + (self.end - self.control_2) * (3.0 * t * t)
    }

    pub(crate) fn second_derivative(&self, t: f64) -> Point {
        let first = self.control_2 - self.control_1 * 2.0 + self.start;
        let last = self.end - self.control_2 * 2.0 + self.control_1;
        first * (6.0 * (1.0 - t)) + last * (6.0 * t)
    }

    /// Every share of the way at which it turns back along a direction: the roots of its slope, a quadratic.
    pub(crate) fn where_turning(&self, along: Point) -> Vec<f64> {
        let [a, b, c] =
            [self.control_1 - self.start, self.control_2 - self.control_1, self.end - self.control_2]
                .map(|side| along.dot(side));
        let mut found = solve_quadratic(a, 2.0 * (b - a), a - 2.0 * b + c).to_vec();
        found.retain(|t| *t > 0.0 && *t < 1.0);
        found.sort_by(f64::total_cmp);
        found
    }

    pub(crate) fn reversed(&self) -> Cubic {
        Cubic { start: self.end, control_1: self.control_2, control_2: self.control_1, end: self.start }
    }

    pub(crate) fn between(&self, t0: f64, t1: f64) -> Cubic {
        let third = (t1 - t0) / 3.0;
        let (start, end) = (self.at(t0), self.at(t1));
        Cubic {
            start,
            control_1: start + self.derivative(t0) * third,
            control_2: end - self.derivative(t1) * third,
            end,
        }
    }

    /// True where it never leaves the straight way between its ends.
    pub(crate) fn is_straight(&self, tolerance: f64) -> bool {
        let chord = (self.end - self.start).unit();
        let length = self.start.distance(self.end);
        [self.control_1, self.control_2].into_iter().all(|p| {
            let along = chord.dot(p - self.start);
            chord.cross(p - self.start).abs() <= tolerance
                && (-tolerance..=length + tolerance).contains(&along)
        }) && length > 0.0
    }
}

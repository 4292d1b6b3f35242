//! Parts of an ellipse, and whole ellipses, by centre, longer half axis, ratio and eccentric angle.

use std::f64::consts::PI;

use super::point::{Point, Transform};

/// Part of an ellipse, or the whole of it where the sweep is a full turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EllipseArc {
    /// The centre.
    pub centre: Point,
    /// From the centre to one end of the longer axis.
    pub major: Point,
    /// Shorter half axis by longer half axis, above 0 and at most 1.
    pub ratio: f64,
    /// Eccentric angle at which it starts, in radians: 0 is the end of `major`.
    pub start_rad: f64,
    /// Signed eccentric angle swept, in radians within ±2π; counter-clockwise is positive.
    pub sweep_rad: f64,
}

impl EllipseArc {
    /// The shorter half axis, a quarter turn to the left of the longer one.
    #[must_use]
    pub(crate) fn minor(&self) -> Point {
        self.major.left() * self.ratio
    }

    /// True where it is the whole ellipse.
    #[must_use]
    pub(crate) fn is_whole(&self) -> bool {
        (self.sweep_rad.abs() - 2.0 * PI).abs() < 1e-12
    }

    pub(crate) fn at(&self, t: f64) -> Point {
        let t = if t == 1.0 && self.is_whole() { 0.0 } else { t };
        let (sin, cos) = (self.start_rad + self.sweep_rad * t).sin_cos();
        self.centre + self.major * cos + self.minor() * sin
    }

    pub(crate) fn derivative(&self, t: f64) -> Point {
        let (sin, cos) = (self.start_rad + self.sweep_rad * t).sin_cos();
        (self.minor() * cos - self.major * sin) * self.sweep_rad
    }

    pub(crate) fn second_derivative(&self, t: f64) -> Point {
        let (sin, cos) = (self.start_rad + self.sweep_rad * t).sin_cos();
        (self.major * cos + self.minor() * sin) * (-self.sweep_rad * self.sweep_rad)
    }

    pub(crate) fn reversed(&self) -> EllipseArc {
        EllipseArc { start_rad: self.start_rad + self.sweep_rad, sweep_rad: -self.sweep_rad, ..*self }
    }

    pub(crate) fn between(&self, t0: f64, t1: f64) -> EllipseArc {
        EllipseArc {
            start_rad: self.start_rad + self.sweep_rad * t0,
            sweep_rad: self.sweep_rad * (t1 - t0),
            ..*self
        }
    }

    /// The image under a map that keeps straight lines straight.
    pub(crate) fn mapped(&self, map: Transform) -> EllipseArc {
        let start = (map.direction(self.major), map.direction(self.minor()));
        EllipseArc::from_conjugate(map.point(self.centre), start.0, start.1, self.start_rad, self.sweep_rad)
    }

    /// The ellipse centre + a·cos φ + b·sin φ for any two directions a and b that are not parallel.
    ///
    /// Turns φ by the angle that makes the two square to each other (the vertices of the ellipse).
    pub(crate) fn from_conjugate(
        centre: Point,
        a: Point,
        b: Point,
        start_rad: f64,
        sweep_rad: f64,
    ) -> EllipseArc {
        let (mut major, mut minor, mut shift) = (a, b, 0.0);
        if a.dot(b).abs() > 1e-15 * (a.dot(a) + b.dot(b)) {
            shift = 0.5 * (2.0 * a.dot(b)).atan2(a.dot(a) - b.dot(b));
            let (sin, cos) = shift.sin_cos();
            (major, minor) = (a * cos + b * sin, b * cos - a * sin);
        }
        if minor.length() > major.length() {
            (major, minor) = (minor, -major);
            shift += PI / 2.0;
        }
        let ratio = (minor.length() / major.length()).min(1.0);
        if major.cross(minor) >= 0.0 {
            EllipseArc { centre, major, ratio, start_rad: start_rad - shift, sweep_rad }
        } else {
            EllipseArc { centre, major, ratio, start_rad: shift - start_rad, sweep_rad: -sweep_rad }
        }
    }
}

//! Circular arcs and whole circles, exactly.
//!
//! An [`Arc`] is held by its two ends and its bulge, the form in which drawings exchange arcs, so that
//! neighbours share their ends to the last bit; centre and radius follow from it. Nothing here is ever
//! turned into cubics: that alone would cost 79 millionths of the area.

use std::f64::consts::{PI, TAU};

use super::point::{Point, Transform};

/// Part of a circle between two points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Where it starts.
    pub start: Point,
    /// Where it ends.
    pub end: Point,
    /// Tangent of a quarter of the swept angle: 1 is a half circle to the left of the way, counter-clockwise;
    /// √2 − 1 a quarter turn; negative is clockwise. Never 0.
    pub bulge: f64,
}

impl Arc {
    /// The arc about a centre from one angle through a signed sweep, in radians; counter-clockwise is positive.
    #[must_use]
    pub(crate) fn about(centre: Point, radius: f64, start_rad: f64, sweep_rad: f64) -> Self {
        Arc {
            start: centre + Point::at_angle(start_rad) * radius,
            end: centre + Point::at_angle(start_rad + sweep_rad) * radius,
            bulge: (sweep_rad / 4.0).tan(),
        }
    }

    /// The signed angle swept, in radians, within ±2π; counter-clockwise is positive.
    #[must_use]
    pub fn sweep(&self) -> f64 {
        4.0 * self.bulge.atan()
    }

    /// The radius in millimetres.
    #[must_use]
    pub fn radius(&self) -> f64 {
        let b = self.bulge.abs();
        self.start.distance(self.end) * (1.0 / b + b) / 4.0
    }

    /// The centre of its circle.
    #[must_use]
    pub fn centre(&self) -> Point {
        let chord = self.end - self.start;
        self.start.towards(self.end, 0.5) + chord.left() * ((1.0 / self.bulge - self.bulge) / 4.0)
    }

    /// The angle at which it starts, seen from the centre, in radians.
    #[must_use]
    pub fn start_angle(&self) -> f64 {
        // The way out of the centre is square to the way along; this needs no far-off centre.
        let along = (self.end - self.start).angle() - self.sweep() / 2.0;
        along - (PI / 2.0).copysign(self.bulge)
    }

    pub(crate) fn at(&self, t: f64) -> Point {
        let half = self.sweep() / 2.0;
        self.start + turned(self.end - self.start, half * (t - 1.0)) * ((half * t).sin() / half.sin())
    }

    pub(crate) fn derivative(&self, t: f64) -> Point {
        let half = self.sweep() / 2.0;
        turned(self.end - self.start, half * (2.0 * t - 1.0)) * (half / half.sin())
    }

    pub(crate) fn length(&self) -> f64 {
        let half = self.sweep().abs() / 2.0;
        self.start.distance(self.end) * half / half.sin()
    }

    pub(crate) fn between(&self, t0: f64, t1: f64) -> Arc {
        Arc { start: self.at(t0), end: self.at(t1), bulge: (self.sweep() * (t1 - t0) / 4.0).tan() }
    }

    /// The share of the way at which the arc heads as `direction` seen from the centre, where it does.
    pub(crate) fn share_at_angle(&self, angle_rad: f64) -> Option<f64> {
        share_of_sweep(self.start_angle(), self.sweep(), angle_rad)
    }
}

/// A whole circle, as one closed piece that starts and ends to the right of its centre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// The centre.
    pub centre: Point,
    /// The radius in millimetres, above 0.
    pub radius: f64,
    /// True where it is walked clockwise. Outlines and cut-outs mean the same either way.
    pub clockwise: bool,
}

impl Circle {
    pub(crate) fn sweep(&self) -> f64 {
        if self.clockwise { -TAU } else { TAU }
    }

    pub(crate) fn at(&self, t: f64) -> Point {
        let t = if t == 1.0 { 0.0 } else { t };
        self.centre + Point::at_angle(self.sweep() * t) * self.radius
    }

    pub(crate) fn derivative(&self, t: f64) -> Point {
        Point::at_angle(self.sweep() * t).left() * (self.radius * self.sweep())
    }

    /// The part between two shares of the way, of less than a whole turn.
    pub(crate) fn between(&self, t0: f64, t1: f64) -> Arc {
        Arc::about(self.centre, self.radius, self.sweep() * t0, self.sweep() * (t1 - t0))
    }

    pub(crate) fn mapped(&self, map: Transform, scale: f64) -> Circle {
        Circle {
            centre: map.point(self.centre),
            radius: self.radius * scale,
            clockwise: self.clockwise != (map.determinant() < 0.0),
        }
    }
}

/// A direction turned counter-clockwise by an angle in radians.
fn turned(d: Point, angle: f64) -> Point {
    let (sin, cos) = angle.sin_cos();
    Point::new(d.x * cos - d.y * sin, d.x * sin + d.y * cos)
}

/// The share of a sweep after which an angle is met, where it is met.
pub(crate) fn share_of_sweep(start: f64, sweep: f64, angle: f64) -> Option<f64> {
    let way = if sweep > 0.0 { (angle - start).rem_euclid(TAU) } else { (start - angle).rem_euclid(TAU) };
    let share = way / sweep.abs();
    if share <= 1.0 {
        Some(share)
    } else {
        // A hair before the start is the start.
        (TAU - way < 1e-12).then_some(0.0)
    }
}

/// θ − sin θ without loss where θ is small.
pub(crate) fn angle_minus_sine(theta: f64) -> f64 {
    if theta.abs() > 0.5 {
        return theta - theta.sin();
    }
    let square = theta * theta;
    let mut term = theta * square / 6.0;
    let mut sum = term;
    for k in 2..10 {
        let n = 2.0 * f64::from(k);
        term *= -square / (n * (n + 1.0));
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_turn_by_bulge() {
        // Closed form: bulge √2 − 1 sweeps 90°; chord √2 has radius 1.
        let arc = Arc { start: Point::new(1.0, 0.0), end: Point::new(0.0, 1.0), bulge: 2f64.sqrt() - 1.0 };
        assert!((arc.sweep() - PI / 2.0).abs() < 1e-15);
        assert!((arc.radius() - 1.0).abs() < 1e-15);
        assert!(arc.centre().length() < 1e-15);
        assert!((arc.length() - PI / 2.0).abs() < 1e-15);
        assert!(arc.at(0.5).distance(Point::at_angle(PI / 4.0)) < 1e-15);
        assert!(arc.start_angle().abs() < 1e-15);
    }

    #[test]
    fn angle_minus_sine_is_smooth_across_its_seam() {
        for theta in [0.499_999_f64, 0.500_001] {
            // The series to nine terms is exact to the last bits below 0.5; both ways must agree there.
            assert!((angle_minus_sine(theta) / (theta - theta.sin()) - 1.0).abs() < 1e-13);
        }
    }
}

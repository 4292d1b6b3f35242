//! What one piece measures: its length, what it adds to an area, its least radii.
//!
//! Area and centroid by Green's theorem, kind by kind: closed forms for lines, arcs and circles, sums to
//! 1e-13 for cubics, ellipses and splines. Each piece adds the sector between itself and a common origin,
//! so that a closed contour's pieces add up to what it encloses.

use std::f64::consts::PI;

use super::arc::angle_minus_sine;
use super::point::Point;
use super::quadrature::integrate;
use super::segment::Segment;

/// Relative tolerance of sums that have no closed form.
const TOLERANCE: f64 = 1e-13;

/// An area and its first moments about an origin, signed: counter-clockwise is positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Moments {
    /// Area in mm².
    pub area: f64,
    /// Area times the place of its centroid, in mm³.
    pub first: Point,
}

impl Moments {
    /// Both together.
    #[must_use]
    pub(crate) fn plus(self, other: Moments) -> Moments {
        Moments { area: self.area + other.area, first: self.first + other.first }
    }

    /// This area with another one taken out.
    #[must_use]
    pub(crate) fn minus(self, other: Moments) -> Moments {
        Moments { area: self.area - other.area, first: self.first - other.first }
    }
}

impl Segment {
    /// The length in millimetres.
    #[must_use]
    pub fn length(&self) -> f64 {
        match self {
            Segment::Line { start, end } => start.distance(*end),
            Segment::Arc(arc) => arc.length(),
            Segment::Circle(circle) => 2.0 * PI * circle.radius,
            _ => self
                .breaks()
                .windows(2)
                .map(|span| {
                    let [sum] =
                        integrate(span[0], span[1], TOLERANCE, [0.0], &|t| [self.derivative(t).length()]);
                    sum
                })
                .sum(),
        }
    }

    /// What the piece adds to area and first moments about `origin`.
    #[must_use]
    pub(crate) fn moments(&self, origin: Point) -> Moments {
        let chord = chord_moments(self.start() - origin, self.end() - origin);
        match self {
            Segment::Line { .. } => chord,
            Segment::Circle(circle) => {
                let area = PI * circle.radius * circle.radius * circle.sweep().signum();
                Moments { area, first: (circle.centre - origin) * area }
            }
            Segment::Arc(arc) if arc.sweep().abs() > 0.1 => {
                let (radius, sweep, centre) = (arc.radius(), arc.sweep(), arc.centre() - origin);
                let area = 0.5 * radius * radius * angle_minus_sine(sweep);
                let half = (sweep.abs() / 2.0).sin();
                let reach = 2.0 / 3.0 * radius.powi(3) * half.powi(3) * sweep.signum();
                let out = (arc.at(0.5) - arc.centre()).unit();
                chord.plus(Moments { area, first: centre * area + out * reach })
            }
            Segment::Arc(arc) => {
                // A flat arc's centre is far off: sum the sliver over its chord instead.
                let [_, x, y] = self.sliver_sums();
                let radius = arc.radius();
                let area = 0.5 * radius * radius * angle_minus_sine(arc.sweep());
                chord.plus(Moments { area, first: Point::new(x, y) + (arc.start - origin) * area })
            }
            _ => {
                let [area, x, y] = self.sliver_sums();
                chord.plus(Moments { area, first: Point::new(x, y) + (self.start() - origin) * area })
            }
        }
    }

    /// Area and first moments, about the start, of what lies between the piece and its chord.
    fn sliver_sums(&self) -> [f64; 3] {
        let start = self.start();
        let size =
            self.at(0.5).distance(start).max(self.end().distance(start)) + self.derivative(0.5).length();
        let floors = [size * size, size.powi(3), size.powi(3)];
        let mut sums = [0.0; 3];
        for span in self.breaks().windows(2) {
            let part = integrate(span[0], span[1], TOLERANCE, floors, &|t| {
                let (p, d) = (self.at(t) - start, self.derivative(t));
                let sector = p.cross(d);
                [sector / 2.0, p.x * sector / 3.0, p.y * sector / 3.0]
            });
            for i in 0..3 {
                sums[i] += part[i];
            }
        }
        sums
    }

    /// The least radius where it turns left and where it turns right, in millimetres.
    #[must_use]
    pub(crate) fn least_radii(&self) -> (Option<f64>, Option<f64>) {
        let mut left: Option<f64> = None;
        let mut right: Option<f64> = None;
        let mut take = |curvature: f64| {
            if !curvature.is_finite() || curvature.abs() < 1e-12 {
                return;
            }
            let radius = curvature.recip().abs();
            let slot = if curvature > 0.0 { &mut left } else { &mut right };
            *slot = Some(slot.map_or(radius, |r| r.min(radius)));
        };
        match self {
            Segment::Line { .. } => {}
            Segment::Arc(_) | Segment::Circle(_) => take(self.curvature(0.0)),
            Segment::Ellipse(ellipse) => {
                take(self.curvature(0.0));
                take(self.curvature(1.0));
                for angle in [0.0, PI] {
                    if let Some(t) = super::arc::share_of_sweep(ellipse.start_rad, ellipse.sweep_rad, angle) {
                        take(self.curvature(t));
                    }
                }
            }
            Segment::Cubic(_) | Segment::Spline(_) => {
                for t in self.where_most_bent() {
                    take(self.curvature(t));
                }
            }
        }
        (left, right)
    }

    /// Places between which curvature is greatest, by samples and a search around each peak.
    fn where_most_bent(&self) -> Vec<f64> {
        const SAMPLES: usize = 48;
        let mut places = Vec::new();
        for span in self.breaks().windows(2) {
            let width = span[1] - span[0];
            let share = |i: usize| span[0] + width * (i as f64 / SAMPLES as f64).clamp(1e-9, 1.0 - 1e-9);
            let bent = |t: f64| self.curvature(t).abs();
            let values: Vec<f64> = (0..=SAMPLES).map(|i| bent(share(i))).collect();
            for i in 0..=SAMPLES {
                let before = if i > 0 { values[i - 1] } else { f64::NEG_INFINITY };
                let after = values.get(i + 1).copied().unwrap_or(f64::NEG_INFINITY);
                if values[i] >= before && values[i] >= after {
                    let (low, high) = (share(i.saturating_sub(1)), share((i + 1).min(SAMPLES)));
                    places.push(least_between(low, high, &|t| -bent(t)));
                }
            }
        }
        places
    }
}

fn chord_moments(a: Point, b: Point) -> Moments {
    let cross = a.cross(b);
    Moments { area: cross / 2.0, first: (a + b) * (cross / 6.0) }
}

/// The place of the least value between two places, by golden section to 1e-11 of the way between them.
pub(crate) fn least_between(mut low: f64, mut high: f64, f: &impl Fn(f64) -> f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut at_a, mut at_b) = (f(a), f(b));
    for _ in 0..52 {
        if at_a <= at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - GOLDEN * (high - low);
            at_a = f(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + GOLDEN * (high - low);
            at_b = f(b);
        }
    }
    0.5 * (low + high)
}

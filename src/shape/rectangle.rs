//! The rectangle of least area around an outline, over its true curves.
//!
//! The hull of a fine polyline gives candidate directions (the least rectangle of a polygon lies along one of
//! its hull's edges: Freeman & Shapira 1975); around each of the best the rectangle over the true curves is
//! searched, since with arcs the least need not lie along any edge.

use std::f64::consts::PI;

use super::measure::least_between;
use super::outline::Contour;
use super::point::Point;
use super::segment::Segment;

/// A rectangle at any angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rectangle {
    /// The shorter side in millimetres.
    pub short_mm: f64,
    /// The longer side in millimetres.
    pub long_mm: f64,
    /// The direction of the longer side, in radians counter-clockwise from the x axis, from 0 up to π.
    pub long_side_rad: f64,
    /// The centre.
    pub centre: Point,
}

/// How many of the hull's directions are searched around.
const SEARCHED: usize = 12;

/// The rectangle of least area around a contour.
#[must_use]
pub fn least_rectangle(contour: &Contour) -> Rectangle {
    let (low, high) = contour.extent(Point::new(1.0, 0.0));
    let tolerance = ((high - low).abs() * 1e-4).clamp(1e-4, 1.0);
    let hull = hull(contour.flattened(tolerance));
    let mut angles: Vec<f64> = Vec::new();
    for i in 0..hull.len() {
        let side = hull[(i + 1) % hull.len()] - hull[i];
        if side.length() > 0.0 {
            angles.push(side.angle().rem_euclid(PI / 2.0));
        }
    }
    angles.extend([0.0]);
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| (*a - *b).abs() < 1e-13);
    let reach = Reach::of(contour);
    let area = |angle: f64| {
        let along = Point::at_angle(angle);
        let (a, b) = (reach.extent(along), reach.extent(along.left()));
        (a.1 - a.0) * (b.1 - b.0)
    };
    // Rough areas from the hull alone, then the true curves for the best of them.
    let mut rough: Vec<(f64, usize)> =
        angles.iter().enumerate().map(|(i, &a)| (hull_area(&hull, a), i)).collect();
    rough.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut best = (area(0.0), 0.0);
    let mut take = |angle: f64| {
        let here = area(angle);
        // A hair's gain is no reason to leave the plainer direction found first.
        if here < best.0 * (1.0 - 1e-13) {
            best = (here, angle);
        }
    };
    for &(_, i) in rough.iter().take(SEARCHED) {
        take(angles[i]);
        let before = if i > 0 { angles[i - 1] } else { angles[angles.len() - 1] - PI / 2.0 };
        let after = angles.get(i + 1).copied().unwrap_or(angles[0] + PI / 2.0);
        // Far-off neighbours leave more than one dip between them; stay near this one.
        let (low, high) = (before.max(angles[i] - 0.05), after.min(angles[i] + 0.05));
        take(least_between(low, angles[i], &area));
        take(least_between(angles[i], high, &area));
    }
    around(contour, best.1)
}

/// A contour ready to be asked many times how far it reaches.
///
/// No piece reaches farther from its middle than half its length, so that most are ruled out by one product.
struct Reach<'c> {
    pieces: Vec<(Point, f64, &'c Segment)>,
}

impl<'c> Reach<'c> {
    fn of(contour: &'c Contour) -> Self {
        Reach {
            pieces: contour
                .segments
                .iter()
                .map(|s| (s.at(0.5), 0.5 * s.length() * (1.0 + 1e-9), s))
                .collect(),
        }
    }

    fn extent(&self, along: Point) -> (f64, f64) {
        let middles = self.pieces.iter().map(|(m, ..)| along.dot(*m));
        let (mut low, mut high) =
            middles.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        for (middle, radius, segment) in &self.pieces {
            let at = along.dot(*middle);
            if at - radius < low || at + radius > high {
                let reach = segment.extent(along);
                (low, high) = (low.min(reach.0), high.max(reach.1));
            }
        }
        (low, high)
    }
}

/// The rectangle around a contour along a direction.
#[must_use]
pub fn around(contour: &Contour, angle_rad: f64) -> Rectangle {
    let along = Point::at_angle(angle_rad);
    let across = along.left();
    let (a, b) = (contour.extent(along), contour.extent(across));
    let (width, height) = (a.1 - a.0, b.1 - b.0);
    let centre = along * (0.5 * (a.0 + a.1)) + across * (0.5 * (b.0 + b.1));
    let long = if width >= height { angle_rad } else { angle_rad + PI / 2.0 };
    Rectangle {
        short_mm: width.min(height),
        long_mm: width.max(height),
        long_side_rad: long.rem_euclid(PI),
        centre,
    }
}

/// The least width of a contour between parallel lines, in millimetres, to about a tenth of one.
#[must_use]
pub(crate) fn least_width(contour: &Contour) -> f64 {
    let hull = hull(contour.flattened(0.1));
    let across = |i: usize| (hull[(i + 1) % hull.len()] - hull[i]).unit().left();
    (0..hull.len())
        .map(across)
        .filter(|d| d.length() > 0.5)
        .map(|d| {
            let along = hull.iter().map(|p| d.dot(*p));
            let (low, high) =
                along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
            high - low
        })
        .fold(f64::INFINITY, f64::min)
}

fn hull_area(hull: &[Point], angle: f64) -> f64 {
    let along = Point::at_angle(angle);
    let span = |d: Point| {
        let (low, high) = hull
            .iter()
            .map(|p| d.dot(*p))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        high - low
    };
    span(along) * span(along.left())
}

/// The convex hull, counter-clockwise (Andrew's monotone chain, 1979).
pub(crate) fn hull(mut points: Vec<Point>) -> Vec<Point> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let mut hull: Vec<Point> = Vec::with_capacity(points.len() + 1);
    for pass in 0..2 {
        let floor = hull.len() + 1;
        let mut add = |p: Point| {
            while hull.len() > floor
                && (hull[hull.len() - 1] - hull[hull.len() - 2]).cross(p - hull[hull.len() - 1]) <= 0.0
            {
                hull.pop();
            }
            hull.push(p);
        };
        if pass == 0 {
            points.iter().copied().for_each(&mut add);
        } else {
            points.iter().rev().copied().for_each(&mut add);
        }
        hull.pop();
    }
    hull
}

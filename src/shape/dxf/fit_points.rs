//! The curve of a SPLINE that is given by the points it passes through and by no control points.
//!
//! The DXF reference says no more than that the curve passes through them. How CAD programs draw it is written down in
//! the documentation of `ezdxf.math.fit_points_to_cad_cv`: a cubic whose parameters grow by the chords, with the given
//! tangents at its ends (as long as all chords together) or without curvature there; the curve read here is that one,
//! and is held to that function in the tests. Programs also offer parameters that grow by the roots of the chords, or by
//! equal steps, and leave out which one was chosen: how far those would stray is measured, so that it can be told.
//!
//! Cubic interpolation by second derivatives: de Boor, A Practical Guide to Splines, chapter IV; control points by the
//! polar form (Ramshaw, Blossoming, 1987).

use super::super::nurbs::Nurbs;
use super::super::point::{Point, Transform, distance_to_way};

/// Points nearer than this share of the whole are one.
pub(super) const NEAR: f64 = 1e-9;

/// More fit points than this are no curve that somebody drew.
const MOST_POINTS: usize = 20_000;

/// Where the other ways of drawing are compared, on each stretch between two fit points.
const SAMPLES: u32 = 16;

/// A curve through fit points.
pub(super) struct Fitted {
    /// As it is read: parameters by the chords.
    pub(super) read: Nurbs,
    /// As it may have been drawn instead: by the roots of the chords, by equal steps.
    others: [Nurbs; 2],
}

/// The curve through points with the directions of its ends, where they are given.
pub(super) fn fitted(points: &[Point], ends: (Option<Point>, Option<Point>)) -> Result<Fitted, String> {
    if points.len() < 2 {
        return Err("has neither control points nor two fit points".into());
    }
    if points.len() > MOST_POINTS {
        return Err(format!("has {} fit points; at most {MOST_POINTS} are read", points.len()));
    }
    let chords: Vec<f64> = points.windows(2).map(|p| p[0].distance(p[1])).collect();
    let all: f64 = chords.iter().sum();
    if !all.is_finite() || chords.iter().any(|c| *c <= NEAR * all) {
        return Err("has the same fit point twice in a row".into());
    }
    let tangents = [ends.0, ends.1].map(|t| t.map(|t| t.unit() * all));
    let by = |step: fn(f64) -> f64| {
        through(points, &chords.iter().map(|c| step(*c)).collect::<Vec<_>>(), tangents)
    };
    Ok(Fitted { read: by(|c| c)?, others: [by(f64::sqrt)?, by(|_| 1.0)?] })
}

/// The cubic through points whose parameters grow in proportion to steps.
fn through(points: &[Point], steps: &[f64], tangents: [Option<Point>; 2]) -> Result<Nurbs, String> {
    let count = steps.len();
    let whole: f64 = steps.iter().sum();
    let mut at = vec![0.0];
    let mut sum = 0.0;
    for step in &steps[..count - 1] {
        sum += step;
        at.push(sum / whole);
    }
    at.push(1.0);
    let h: Vec<f64> = at.windows(2).map(|t| t[1] - t[0]).collect();
    let slope: Vec<Point> = (0..count).map(|i| (points[i + 1] - points[i]) * (1.0 / h[i])).collect();
    // Rows of the tridiagonal system for the second derivatives: below, on and above the diagonal, right-hand side.
    let mut rows: Vec<(f64, f64, f64, Point)> = vec![match tangents[0] {
        Some(t) => (0.0, 2.0 * h[0], h[0], (slope[0] - t) * 6.0),
        None => (0.0, 1.0, 0.0, Point::default()),
    }];
    rows.extend(
        (1..count).map(|i| (h[i - 1], 2.0 * (h[i - 1] + h[i]), h[i], (slope[i] - slope[i - 1]) * 6.0)),
    );
    let last = count - 1;
    rows.push(match tangents[1] {
        Some(t) => (h[last], 2.0 * h[last], 0.0, (t - slope[last]) * 6.0),
        None => (0.0, 1.0, 0.0, Point::default()),
    });
    let bends = solved(rows);
    // On each stretch, as powers of the way from its start.
    let powers = |i: usize| {
        let first = slope[i] - (bends[i] * 2.0 + bends[i + 1]) * (h[i] / 6.0);
        [points[i], first, bends[i] * 0.5, (bends[i + 1] - bends[i]) * (1.0 / (6.0 * h[i]))]
    };
    let mut knots = vec![0.0; 4];
    knots.extend(&at[1..count]);
    knots.extend([1.0; 4]);
    let control = (0..count + 3)
        .map(|j| {
            let i = j.saturating_sub(1).min(last);
            let [u, v, w] = [1, 2, 3].map(|k| knots[j + k] - at[i]);
            let [a, b, c, d] = powers(i);
            a + b * ((u + v + w) / 3.0) + c * ((u * v + v * w + w * u) / 3.0) + d * (u * v * w)
        })
        .collect();
    Nurbs::new(3, knots, control, Vec::new())
        .map_err(|why| format!("has fit points through which no curve could be laid: {why}"))
}

/// The solution of a tridiagonal system whose diagonal outweighs the rest of each row.
fn solved(mut rows: Vec<(f64, f64, f64, Point)>) -> Vec<Point> {
    for i in 1..rows.len() {
        let (_, on, above, right) = rows[i - 1];
        let share = rows[i].0 / on;
        rows[i].1 -= share * above;
        rows[i].3 = rows[i].3 - right * share;
    }
    let mut found = vec![Point::default(); rows.len()];
    let mut next = Point::default();
    for (i, (_, on, above, right)) in rows.iter().enumerate().rev() {
        next = (*right - next * *above) * (1.0 / on);
        found[i] = next;
    }
    found
}

impl Fitted {
    /// How far the other ways of drawing stray from the curve as it is read, after a map, to about a tenth of it.
    pub(super) fn strays(&self, map: Transform) -> f64 {
        let read = self.read.mapped(|p| map.point(p));
        let breaks = read.breaks();
        let mut farthest: f64 = 0.0;
        for other in &self.others {
            let other = other.mapped(|p| map.point(p));
            for (own, theirs) in breaks.windows(2).zip(other.breaks().windows(2)) {
                let on = |curve: &Nurbs, span: &[f64], k: u32, of: u32| {
                    curve.derivatives(span[0] + (span[1] - span[0]) * f64::from(k) / f64::from(of))[0]
                };
                let way: Vec<Point> = (0..=2 * SAMPLES).map(|k| on(&read, own, k, 2 * SAMPLES)).collect();
                for k in 1..SAMPLES {
                    let p = on(&other, theirs, k, SAMPLES);
                    let nearest =
                        way.windows(2).map(|w| distance_to_way(p, w[0], w[1])).fold(f64::INFINITY, f64::min);
                    farthest = farthest.max(nearest);
                }
            }
        }
        farthest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn the_curve_passes_through_its_points_and_keeps_its_ends() {
        let points = [p(0.0, 0.0), p(100.0, 80.0), p(150.0, -20.0), p(400.0, 30.0)];
        let natural = fitted(&points, (None, None)).expect("a curve");
        for (share, point) in natural.read.breaks().into_iter().zip(points) {
            assert!(natural.read.derivatives(share)[0].distance(point) < 1e-10);
        }
        for end in [0.0, 1.0] {
            assert!(natural.read.derivatives(end)[2].length() < 1e-8, "no curvature at a natural end");
        }
        let led = fitted(&points, (Some(p(0.0, 2.0)), Some(p(3.0, 0.0)))).expect("a curve");
        let long: f64 = points.windows(2).map(|w| w[0].distance(w[1])).sum();
        assert!((led.read.derivatives(0.0)[1] - p(0.0, long)).length() < 1e-8);
        assert!((led.read.derivatives(1.0)[1] - p(long, 0.0)).length() < 1e-8);
    }

    #[test]
    fn even_chords_leave_one_way_to_draw_it_and_uneven_ones_do_not() {
        let even = [p(0.0, 0.0), p(30.0, 40.0), p(60.0, 0.0), p(90.0, 40.0)];
        let strays =
            |points: &[Point]| fitted(points, (None, None)).expect("a curve").strays(Transform::IDENTITY);
        assert!(strays(&even) < 0.05, "chords of 50: {}", strays(&even));
        let uneven = [p(0.0, 0.0), p(100.0, 0.0), p(101.0, 10.0), p(300.0, 10.0)];
        assert!(strays(&uneven) > 1.0, "{}", strays(&uneven));
        let twice = fitted(&uneven, (None, None)).expect("a curve").strays(Transform::scaled(2.0, 2.0));
        assert!((twice / strays(&uneven) - 2.0).abs() < 1e-9);
    }

    #[test]
    fn two_points_make_a_straight_line_and_doubled_ones_are_told() {
        let line = fitted(&[p(0.0, 0.0), p(9.0, 3.0)], (None, None)).expect("a line").read;
        assert!(line.is_straight(1e-12));
        for bad in [&[p(1.0, 1.0)][..], &[p(0.0, 0.0), p(5.0, 5.0), p(5.0, 5.0)]] {
            assert!(fitted(bad, (None, None)).is_err(), "{bad:?}");
        }
    }
}

//! Curves that were drawn as many short lines, made of arcs again, within a stated deviation.
//!
//! Each chain of short lines is covered by the longest arcs that stay within the tolerance of its lines: through its
//! corners, so that neighbours still meet. How far the result is from what was drawn is then measured by dense points
//! along both, and not taken from the fit.

use std::f64::consts::PI;

use super::arc::{Arc, Circle};
use super::edges::{Edge, EdgeKind, edges};
use super::measure::least_between;
use super::outline::{Contour, Outline};
use super::point::{Point, distance_to_way};
use super::segment::Segment;

/// What a fit made of an outline.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fitted {
    /// The outline with arcs in place of chains of short lines.
    pub outline: Outline,
    /// How many short lines were replaced.
    pub lines: usize,
    /// How many arcs and lines stand in their place.
    pub pieces: usize,
    /// The greatest distance between what was drawn and what was made of it, from either to the other, in millimetres.
    pub deviation_mm: f64,
}

/// The most that one arc turns: a half circle, so that its ends say well where it is.
const MOST_TURN: f64 = PI;

/// How many lines of an outline stand for curves.
#[must_use]
pub(crate) fn faceted_lines(outline: &Outline) -> usize {
    outline.contours().flat_map(edges).filter(is_faceted).map(|e| e.segments.len()).sum()
}

/// Arcs for every chain of short lines, no farther from them than the tolerance; what no arc fits stays lines.
#[must_use]
pub(crate) fn with_arcs(outline: &Outline, tolerance_mm: f64) -> Fitted {
    let mut fitted = Fitted { outline: outline.clone(), lines: 0, pieces: 0, deviation_mm: 0.0 };
    let mut contour = |contour: &Contour| -> Contour {
        let own = edges(contour);
        if !own.iter().any(is_faceted) {
            return contour.clone();
        }
        let alone = own.len() == 1;
        let mut segments = Vec::new();
        for edge in own {
            if !is_faceted(&edge) {
                segments.extend(edge.segments);
                continue;
            }
            let corners: Vec<Point> = edge.segments.iter().map(Segment::start).chain([edge.end()]).collect();
            let (made, deviation) = chain(&corners, tolerance_mm, alone);
            fitted.lines += edge.segments.len();
            fitted.pieces += made.len();
            fitted.deviation_mm = fitted.deviation_mm.max(deviation);
            segments.extend(made);
        }
        Contour { segments }
    };
    let outer = contour(&outline.outer);
    let cutouts = outline.cutouts.iter().map(&mut contour).collect();
    fitted.outline = Outline { outer, cutouts, ..fitted.outline };
    fitted
}

fn is_faceted(edge: &Edge) -> bool {
    edge.kind == EdgeKind::FacetedCurve
}

/// One chain of corners as arcs and lines, and how far they are from its lines.
fn chain(corners: &[Point], tolerance: f64, closed: bool) -> (Vec<Segment>, f64) {
    if closed && let Some(circle) = circle(corners, tolerance) {
        let made = Segment::Circle(circle);
        let deviation = apart(&made, corners);
        return (vec![made], deviation);
    }
    // A ring of lines begins behind its longest one, so that no curve is begun in its middle.
    let turned = if closed { behind_longest(corners) } else { corners.to_vec() };
    let corners = &turned[..];
    let (mut made, mut worst) = (Vec::new(), 0.0_f64);
    let mut from = 0;
    while from + 1 < corners.len() {
        let fits = |to: usize| arc(&corners[from..=to], tolerance);
        // As far as one arc goes: doubled until it fails, then halved.
        let (mut good, mut found) = (from + 1, None);
        let mut step = 2;
        let mut bad = corners.len();
        while from + step < corners.len() {
            match fits(from + step) {
                Some(arc) => (good, found) = (from + step, Some(arc)),
                None => {
                    bad = from + step;
                    break;
                }
            }
            step *= 2;
        }
        while good + 1 < bad {
            let middle = usize::midpoint(good, bad);
            match fits(middle) {
                Some(arc) => (good, found) = (middle, Some(arc)),
                None => bad = middle,
            }
        }
        // Two corners make a line; so do three, of which an arc would say more than was drawn.
        match found {
            Some(arc) if good - from >= 3 => {
                let arc = Segment::Arc(arc);
                worst = worst.max(apart(&arc, &corners[from..=good]));
                made.push(arc);
            }
            _ => {
                good = from + 1;
                made.push(Segment::line(corners[from], corners[good]));
            }
        }
        from = good;
    }
    (made, worst)
}

/// A closed chain of corners, its first repeated at its end, that begins where its longest line ends.
fn behind_longest(corners: &[Point]) -> Vec<Point> {
    let ring = &corners[..corners.len() - 1];
    let length = |i: usize| ring[i].distance(ring[(i + 1) % ring.len()]);
    let longest = (0..ring.len()).reduce(|a, b| if length(b) > length(a) + 1e-9 { b } else { a });
    let mut turned = ring.to_vec();
    turned.rotate_left((longest.unwrap_or(0) + 1) % ring.len().max(1));
    turned.push(turned[0]);
    turned
}

/// The arc from the first corner to the last that stays nearest to all lines between, where within the tolerance.
fn arc(corners: &[Point], tolerance: f64) -> Option<Arc> {
    let (start, end) = (corners[0], corners[corners.len() - 1]);
    // The bulge of the arc through both ends and a corner, by the angle under which the corner sees them.
    let bulge = |p: Point| {
        let (a, b) = (start - p, end - p);
        let seen = a.cross(b).atan2(a.dot(b));
        ((PI - seen.abs()) / 2.0).tan().copysign(-seen)
    };
    let bulges: Vec<f64> = corners[1..corners.len() - 1].iter().map(|p| bulge(*p)).collect();
    let low = bulges.iter().copied().fold(f64::INFINITY, f64::min);
    let high = bulges.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !(low.is_finite() && high.is_finite()) || low.signum() != high.signum() {
        return None;
    }
    let off = |bulge: f64| {
        let arc = Arc { start, end, bulge };
        let (centre, radius) = (arc.centre(), arc.radius());
        corners
            .windows(2)
            .flat_map(|w| [w[0], w[0].towards(w[1], 0.5)])
            .map(|p| (p.distance(centre) - radius).abs())
            .fold(0.0, f64::max)
    };
    let best = least_between(low, high, &off);
    let arc = Arc { start, end, bulge: best };
    (off(best) <= tolerance && arc.sweep().abs() <= MOST_TURN && best.abs() > 1e-9).then_some(arc)
}

/// The circle around a closed chain of corners, where it stays within the tolerance of every line (least squares:
/// Kåsa, IEEE Trans. Instrum. Meas. 25, 1976).
fn circle(corners: &[Point], tolerance: f64) -> Option<Circle> {
    let corners = &corners[..corners.len() - 1];
    let count = corners.len() as f64;
    let middle = corners.iter().fold(Point::default(), |sum, p| sum + *p) * (1.0 / count);
    let (mut xx, mut xy, mut yy, mut xz, mut yz) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for p in corners.iter().map(|p| *p - middle) {
        let z = p.dot(p);
        xx += p.x * p.x;
        xy += p.x * p.y;
        yy += p.y * p.y;
        xz += p.x * z;
        yz += p.y * z;
    }
    let determinant = xx * yy - xy * xy;
    if determinant <= 0.0 {
        return None;
    }
    let centre = middle + Point::new(xz * yy - yz * xy, yz * xx - xz * xy) * (0.5 / determinant);
    // The radius in the middle between the corners and the middles of the lines.
    let reach: Vec<f64> = (0..corners.len())
        .flat_map(|i| [corners[i], corners[i].towards(corners[(i + 1) % corners.len()], 0.5)])
        .map(|p| p.distance(centre))
        .collect();
    let (low, high) = reach.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), r| (l.min(*r), h.max(*r)));
    // Programs put the corners of a circle on it; only where they scatter, the middle is nearer.
    let on_corners = corners.iter().map(|p| p.distance(centre)).sum::<f64>() / count;
    let radius = if high - low <= tolerance { on_corners } else { 0.5 * (low + high) };
    let off = (high - radius).max(radius - low);
    (off <= tolerance).then_some(Circle { centre, radius, clockwise: false })
}

/// The greatest distance between a piece and a chain of lines, by dense points along both, from each to the other.
fn apart(piece: &Segment, corners: &[Point]) -> f64 {
    let along: Vec<Point> = {
        let count = (8 * corners.len()).clamp(64, 4096) as u32;
        (0..=count).map(|i| piece.at(f64::from(i) / f64::from(count))).collect()
    };
    let lines: Vec<Point> = corners
        .windows(2)
        .flat_map(|w| (0..8).map(move |i| w[0].towards(w[1], f64::from(i) / 8.0)))
        .chain(corners.last().copied())
        .collect();
    let to = |p: Point, way: &[Point]| {
        way.windows(2).map(|w| distance_to_way(p, w[0], w[1])).fold(f64::INFINITY, f64::min)
    };
    let there = along.iter().map(|p| to(*p, corners)).fold(0.0, f64::max);
    let back = lines.iter().map(|p| to(*p, &along)).fold(0.0, f64::max);
    there.max(back)
}

#[cfg(test)]
mod tests {
    use super::super::class::ShapeClass;
    use super::super::figures::figures;
    use super::*;

    fn round(count: u32, radius: f64, from: f64, sweep: f64, centre: Point) -> Vec<Point> {
        (0..=count)
            .map(|i| centre + Point::at_angle(from + sweep * f64::from(i) / f64::from(count)) * radius)
            .collect()
    }

    #[test]
    fn a_circle_of_lines_is_a_circle_again() {
        let mut corners = round(120, 450.0, 0.3, 2.0 * PI, Point::new(10.0, 20.0));
        corners.pop();
        let fitted = with_arcs(&Outline::polygon(&corners), 0.2);
        let measured = figures(&fitted.outline);
        assert_eq!((measured.shape, fitted.lines, fitted.pieces), (ShapeClass::Circle, 120, 1));
        assert!((measured.width_mm - 900.0).abs() < 1e-6, "{}", measured.width_mm);
        // The chords of the drawing stand r(1 − cos π/n) inside the circle.
        let inside = 450.0 * (1.0 - (PI / 120.0).cos());
        assert!((fitted.deviation_mm - inside).abs() < 1e-3, "{}", fitted.deviation_mm);
    }

    #[test]
    fn rounded_corners_and_an_oval_keep_within_what_is_stated() {
        let mut slot = round(40, 150.0, -PI / 2.0, PI, Point::new(800.0, 150.0));
        slot.extend(round(40, 150.0, PI / 2.0, PI, Point::new(0.0, 150.0)));
        let fitted = with_arcs(&Outline::polygon(&slot), 0.2);
        let measured = figures(&fitted.outline);
        assert_eq!((fitted.lines, fitted.pieces, measured.edges.len()), (82, 4, 4));
        assert!((measured.least_radius_mm().expect("round ends") - 150.0).abs() < 0.1);
        let oval: Vec<Point> = (0..400)
            .map(|i| {
                let (sin, cos) = (2.0 * PI * f64::from(i) / 400.0).sin_cos();
                Point::new(900.0 * cos, 400.0 * sin)
            })
            .collect();
        for tolerance in [0.02, 0.1, 0.5, 2.0] {
            let fitted = with_arcs(&Outline::polygon(&oval), tolerance);
            assert!(fitted.deviation_mm <= tolerance * (1.0 + 1e-6), "{tolerance}: {}", fitted.deviation_mm);
            let measured = figures(&fitted.outline);
            assert!((measured.area_mm2 - PI * 900.0 * 400.0).abs() < tolerance * measured.perimeter_mm);
            assert_eq!(crate::shape::check(&fitted.outline), []);
            if tolerance >= 0.1 {
                assert!(fitted.pieces < 60, "{tolerance}: {}", fitted.pieces);
            }
        }
    }

    #[test]
    fn what_is_no_curve_stays_as_it_was() {
        for plain in [Outline::rectangle(900.0, 400.0), Outline::circle(500.0)] {
            let fitted = with_arcs(&plain, 0.1);
            assert_eq!((fitted.lines, &fitted.outline), (0, &plain));
        }
        // Facets too coarse for the tolerance stay lines: no arc is made up between them.
        let mut coarse = round(24, 400.0, 0.0, 2.0 * PI, Point::default());
        coarse.pop();
        let fitted = with_arcs(&Outline::polygon(&coarse), 0.1);
        assert_eq!((fitted.lines, fitted.pieces, fitted.deviation_mm), (24, 24, 0.0));
    }
}

//! Where pieces meet: crossings, touches and near misses between contours, over the true curves.
//!
//! Fine chords in a box index give candidates; each is then followed on the true curves to the place where
//! they come closest, so that a near miss of a curve is not taken for a touch.

use static_aabb2d_index::{StaticAABB2DIndex, StaticAABB2DIndexBuilder};

use super::outline::Contour;
use super::point::{Point, turn};
use super::segment::Segment;

/// How close the chords stay to the curves, in millimetres.
const CHORD_MM: f64 = 1e-3;

/// Two pieces that come closer than they may.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Meeting {
    /// Contour and piece, counted from 0.
    pub(crate) first: (usize, usize),
    /// The other contour and piece.
    pub(crate) second: (usize, usize),
    /// Where.
    pub(crate) at: Point,
}

struct Chord {
    contour: usize,
    piece: usize,
    from: (f64, Point),
    to: (f64, Point),
}

/// How many pairs of chords are held against each other: far more than a drawing takes that can be made.
const MOST_PAIRS: usize = 20_000_000;

/// All places where contours meet themselves, or come closer to each other than `clear_mm`; at most `most`. None where
/// there are too many pairs to look at.
pub(crate) fn meetings(contours: &[&Contour], clear_mm: f64, most: usize) -> Option<Vec<Meeting>> {
    let margin = clear_mm + 3.0 * CHORD_MM;
    let chords = chords(contours, margin);
    let Some(index) = index(&chords, margin) else { return Some(Vec::new()) };
    let mut found: Vec<Meeting> = Vec::new();
    let mut pairs = 0_usize;
    for (i, a) in chords.iter().enumerate() {
        let (low, high) = bounds(a);
        let mut near = index.query(low.x, low.y, high.x, high.y);
        near.sort_unstable();
        pairs += near.len();
        if pairs > MOST_PAIRS {
            return None;
        }
        for j in near.into_iter().filter(|&j| j > i) {
            let b = &chords[j];
            if let Some(at) = meet(contours, a, b, clear_mm) {
                let known = found.iter().any(|m| {
                    m.at.distance(at) < 0.1
                        && (m.first.0, m.second.0) == (a.contour.min(b.contour), a.contour.max(b.contour))
                });
                if !known {
                    found.push(Meeting { first: (a.contour, a.piece), second: (b.contour, b.piece), at });
                }
                if found.len() >= most {
                    return Some(found);
                }
            }
        }
    }
    Some(found)
}

/// The chords of the pieces that could meet: those with another piece's box within reach, and curves that can cross
/// themselves. A panel of thousands of holes has none, and its holes need not be taken apart.
fn chords(contours: &[&Contour], margin: f64) -> Vec<Chord> {
    let pieces = || {
        let of = |(contour, way): (usize, &&Contour)| {
            let count = way.segments.len();
            (0..count).map(move |piece| (contour, piece)).collect::<Vec<_>>()
        };
        contours.iter().enumerate().flat_map(of)
    };
    let along = |segment: &Segment, x: f64, y: f64| segment.extent(Point::new(x, y));
    let boxes: Vec<[(f64, f64); 2]> = pieces()
        .map(|(contour, piece)| {
            let segment = &contours[contour].segments[piece];
            [along(segment, 1.0, 0.0), along(segment, 0.0, 1.0)]
        })
        .collect();
    let mut builder = StaticAABB2DIndexBuilder::new(boxes.len());
    for [(left, right), (low, high)] in &boxes {
        builder.add(left - margin, low - margin, right + margin, high + margin);
    }
    let Ok(index) = builder.build() else { return Vec::new() };
    let mut chords = Vec::new();
    for ((contour, piece), [(left, right), (low, high)]) in pieces().zip(boxes) {
        let segment = &contours[contour].segments[piece];
        let mut others = 0;
        let _ = index.visit_query(left, low, right, high, &mut |_: usize| {
            others += 1;
            if others > 1 { Err(()) } else { Ok(()) }
        });
        if others > 1 || matches!(segment, Segment::Cubic(_) | Segment::Spline(_)) {
            for pair in segment.flattened(CHORD_MM).windows(2) {
                chords.push(Chord { contour, piece, from: pair[0], to: pair[1] });
            }
        }
    }
    chords
}

fn bounds(chord: &Chord) -> (Point, Point) {
    let (a, b) = (chord.from.1, chord.to.1);
    (Point::new(a.x.min(b.x), a.y.min(b.y)), Point::new(a.x.max(b.x), a.y.max(b.y)))
}

fn index(chords: &[Chord], margin: f64) -> Option<StaticAABB2DIndex<f64>> {
    let mut builder = StaticAABB2DIndexBuilder::new(chords.len());
    for chord in chords {
        let (low, high) = bounds(chord);
        builder.add(low.x - margin, low.y - margin, high.x + margin, high.y + margin);
    }
    builder.build().ok()
}

/// Where two chords' pieces meet against the rules, if they do.
fn meet(contours: &[&Contour], a: &Chord, b: &Chord, clear_mm: f64) -> Option<Point> {
    let pieces = &contours[a.contour].segments;
    let (first, second) = (&pieces[a.piece], &contours[b.contour].segments[b.piece]);
    let apart = a.contour != b.contour;
    let same_piece = !apart && a.piece == b.piece;
    if same_piece && !matches!(first, Segment::Cubic(_) | Segment::Spline(_)) {
        return None;
    }
    let (gap, s, r) = closest_of_chords(a, b);
    let both_lines = matches!((first, second), (Segment::Line { .. }, Segment::Line { .. }));
    let allowed = if apart { clear_mm } else { 1e-6 };
    let slack = if both_lines { 0.0 } else { 2.0 * CHORD_MM };
    if gap > allowed + slack || (same_piece && gap > 0.0) {
        return None;
    }
    let t = a.from.0 + (a.to.0 - a.from.0) * s;
    let u = b.from.0 + (b.to.0 - b.from.0) * r;
    let (t, u) = if both_lines { (t, u) } else { closest(first, second, t, u) };
    let (p, q) = (first.at(t), second.at(u));
    if p.distance(q) > allowed || (same_piece && (t - u).abs() < 1e-3) {
        return None;
    }
    if same_piece {
        // A closed piece meets itself where it starts.
        let ends = t.min(u) < 1e-6 && t.max(u) > 1.0 - 1e-6;
        return (!ends).then_some(p);
    }
    if !apart {
        let count = pieces.len();
        let joined = |x: usize, y: usize| (x + 1) % count == y;
        for (before, after) in [(a.piece, b.piece), (b.piece, a.piece)] {
            if !joined(before, after) {
                continue;
            }
            let joint = pieces[after].start();
            let back = turn(pieces[before].direction(1.0), pieces[after].direction(0.0)).abs();
            let folded = std::f64::consts::PI - back < 1e-4;
            if folded && both_lines {
                // Straight back over itself.
                return Some(joint);
            }
            // Pieces that leave their joint nearly side by side are near each other for a while.
            let near = if folded || back > 3.0 { 0.5 } else { 2e-3 };
            if p.distance(joint) < near || q.distance(joint) < near {
                return None;
            }
        }
    }
    Some(p.towards(q, 0.5))
}

/// The least distance of two chords and the shares along them.
fn closest_of_chords(a: &Chord, b: &Chord) -> (f64, f64, f64) {
    let (p, d) = (a.from.1, a.to.1 - a.from.1);
    let (q, e) = (b.from.1, b.to.1 - b.from.1);
    let cross = d.cross(e);
    if cross != 0.0 {
        let (s, r) = ((q - p).cross(e) / cross, (q - p).cross(d) / cross);
        if (0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&r) {
            return (0.0, s, r);
        }
    }
    let share = |from: Point, along: Point, to: Point| {
        let square = along.dot(along);
        if square > 0.0 { ((to - from).dot(along) / square).clamp(0.0, 1.0) } else { 0.0 }
    };
    let mut best = (f64::INFINITY, 0.0, 0.0);
    let mut take = |s: f64, r: f64| {
        let gap = (p + d * s).distance(q + e * r);
        if gap < best.0 {
            best = (gap, s, r);
        }
    };
    take(0.0, share(q, e, p));
    take(1.0, share(q, e, p + d));
    take(share(p, d, q), 0.0);
    take(share(p, d, q + e), 1.0);
    best
}

/// The shares of the way at which two curves come closest, near where their chords do.
fn closest(a: &Segment, b: &Segment, mut t: f64, mut u: f64) -> (f64, f64) {
    for _ in 0..12 {
        let (apart, d, e) = (a.at(t) - b.at(u), a.derivative(t), b.derivative(u));
        let cross = d.cross(e);
        if cross.abs() < 1e-9 * d.length() * e.length() || apart.length() < 1e-13 {
            break;
        }
        t = (t - apart.cross(e) / cross).clamp(0.0, 1.0);
        u = (u - apart.cross(d) / cross).clamp(0.0, 1.0);
    }
    for _ in 0..12 {
        t = foot(a, b.at(u), t);
        u = foot(b, a.at(t), u);
    }
    (t, u)
}

/// The share of the way nearest to a point, by Newton steps from near it.
fn foot(curve: &Segment, point: Point, mut t: f64) -> f64 {
    for _ in 0..4 {
        let (off, along) = (curve.at(t) - point, curve.derivative(t));
        let square = along.dot(along);
        if square == 0.0 {
            break;
        }
        t = (t - off.dot(along) / square).clamp(0.0, 1.0);
    }
    t
}

/// What lies within an outline and in none of its cut-outs, of fine chords. Only cut-outs whose box holds a point are gone
/// round to ask whether it lies in them.
pub(crate) struct Material {
    /// The outer border, and then each cut-out.
    pub(crate) ways: Vec<Vec<Point>>,
    boxes: StaticAABB2DIndex<f64>,
}

impl Material {
    /// None where there is no border.
    pub(crate) fn of(ways: Vec<Vec<Point>>) -> Option<Material> {
        let mut boxes = StaticAABB2DIndexBuilder::new(ways.len());
        for way in &ways {
            let by = |of: fn(&Point) -> f64, pick: fn(f64, f64) -> f64| {
                way.iter().map(of).reduce(pick).unwrap_or_default()
            };
            boxes.add(
                by(|p| p.x, f64::min),
                by(|p| p.y, f64::min),
                by(|p| p.x, f64::max),
                by(|p| p.y, f64::max),
            );
        }
        let boxes = boxes.build().ok().filter(|_| !ways.is_empty())?;
        Some(Material { ways, boxes })
    }

    /// True where a point lies in it.
    pub(crate) fn holds(&self, p: Point) -> bool {
        let in_a_hole = || {
            self.boxes
                .query(p.x, p.y, p.x, p.y)
                .into_iter()
                .any(|way| way > 0 && winding(&self.ways[way], p) != 0)
        };
        winding(&self.ways[0], p) != 0 && !in_a_hole()
    }
}

/// How many times a closed polygon winds around a point; 0 is outside.
pub(crate) fn winding(polygon: &[Point], point: Point) -> i32 {
    let mut turns = 0;
    for (i, a) in polygon.iter().enumerate() {
        let b = polygon[(i + 1) % polygon.len()];
        if a.y <= point.y {
            if b.y > point.y && (b - *a).cross(point - *a) > 0.0 {
                turns += 1;
            }
        } else if b.y <= point.y && (b - *a).cross(point - *a) < 0.0 {
            turns -= 1;
        }
    }
    turns
}

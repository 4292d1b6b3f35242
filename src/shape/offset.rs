//! One outline within or around another: each edge moved by its own distance, corners kept sharp.
//!
//! Lines stay lines and arcs stay arcs about their centres; a free curve becomes cubics that stay within
//! [`CURVE_WITHIN_MM`] of its parallel. Where two edges meet at a corner their parallels are cut or run on to where they
//! meet. What comes out is held against what went in: sound, with the same edges, and nowhere nearer than it should be.
//! A distance that is too large for the shape is refused, with the place.

use super::arc::{Arc, Circle};
use super::check::check;
use super::cubic::Cubic;
use super::edges::edges;
use super::error::{ShapeCode, ShapeError};
use super::outline::{Contour, Outline, SAME_PLACE_MM};
use super::point::{Point, turn};
use super::segment::Segment;

/// How far a cubic may be from the parallel of a free curve that it stands for, in millimetres.
const CURVE_WITHIN_MM: f64 = 0.002;
/// How far a measured distance may be from the one that was asked for, in millimetres: both contours are flattened.
const MEASURED_WITHIN_MM: f64 = 0.02;
/// How many places of each contour are measured at least.
const PLACES: usize = 400;
/// A free curve is halved at most so often.
const DEEPEST: usize = 12;
/// Pieces that turn by less than this where they meet run on smoothly, in radians.
const SMOOTH_RAD: f64 = 2e-3;

/// Distances to move the borders of an outline by, millimetres; above 0 takes material away, below 0 adds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Inset {
    /// Each edge of the outer contour, in the order of its numbers.
    pub edges_mm: Vec<f64>,
    /// Every cut-out.
    pub cutouts_mm: f64,
}

impl Inset {
    /// The same distance everywhere.
    #[must_use]
    pub fn even(outline: &Outline, mm: f64) -> Self {
        Inset { edges_mm: vec![mm; edges(&outline.outer).len()], cutouts_mm: mm }
    }
}

/// The outline with its borders moved. What is etched and marked on it stays where it is.
///
/// # Errors
/// Where the distance is too large for the shape.
pub fn inset(outline: &Outline, by: &Inset) -> Result<Outline, ShapeError> {
    if by.edges_mm.iter().all(|mm| *mm == 0.0) && by.cutouts_mm == 0.0 {
        return Ok(outline.clone());
    }
    let numbered = edges(&outline.outer);
    let outer = numbered.iter().zip(&by.edges_mm);
    let outer = outer.flat_map(|(edge, mm)| edge.segments.iter().map(|s| (s.clone(), *mm))).collect();
    let moved = Outline {
        outer: parallel(outer)?,
        cutouts: outline
            .cutouts
            .iter()
            .map(|cutout| {
                let material_left = cutout.counter_clockwise().reversed().segments.into_iter();
                parallel(material_left.map(|s| (s, by.cutouts_mm)).collect())
            })
            .collect::<Result<_, _>>()?,
        ..outline.clone()
    };
    hold(outline, &moved, by)?;
    Ok(moved)
}

/// A piece with the part of it, by its share of the way, whose parallel is kept.
struct Moved {
    piece: Segment,
    mm: f64,
    from: f64,
    to: f64,
}

impl Moved {
    /// The place on the parallel, and on its line or circle beyond the piece.
    fn at(&self, t: f64) -> Point {
        self.piece.at(t) + self.piece.direction(t).left() * self.mm
    }

    /// How the parallel runs, by the share of the way.
    fn derivative(&self, t: f64) -> Point {
        self.piece.derivative(t) * (1.0 - self.mm * self.piece.curvature(t))
    }
}

/// The parallel of a contour whose pieces run with the material on the left.
fn parallel(pieces: Vec<(Segment, f64)>) -> Result<Contour, ShapeError> {
    let moved = |(piece, mm)| Moved { piece, mm, from: 0.0, to: 1.0 };
    let mut all: Vec<Moved> = pieces.into_iter().map(moved).collect();
    let count = all.len();
    if count == 1
        && let Segment::Circle(circle) = &all[0].piece
    {
        let radius = circle.radius - all[0].mm * circle.sweep().signum();
        return match radius > SAME_PLACE_MM {
            true => Ok(Contour { segments: vec![Segment::Circle(Circle { radius, ..*circle })] }),
            false => Err(too_large(circle.centre)),
        };
    }
    for here in 0..count {
        let next = (here + 1) % count;
        let corner = all[here].piece.end();
        let turned = turn(all[here].piece.direction(1.0), all[next].piece.direction(0.0));
        if turned.abs() < SMOOTH_RAD {
            if (all[here].mm - all[next].mm).abs() > SAME_PLACE_MM {
                return Err(ShapeError::new(
                    ShapeCode::CannotInset,
                    "two edges with different borders run smoothly into each other",
                    "give both the same border, or draw a corner between them",
                )
                .at(corner));
            }
            continue;
        }
        let (to, from) = meet(&all[here], &all[next], turned).ok_or_else(|| too_large(corner))?;
        (all[here].to, all[next].from) = (to, from);
    }
    let mut segments: Vec<Segment> = Vec::new();
    for one in &all {
        if one.to - one.from < 1e-9 {
            return Err(too_large(one.piece.at(0.5)));
        }
        run(one, &mut segments)?;
    }
    close(&mut segments);
    Ok(Contour { segments })
}

/// Where the parallels of two pieces meet near their corner: the share of the way on each.
fn meet(one: &Moved, two: &Moved, turned: f64) -> Option<(f64, f64)> {
    // Where the tangents' parallels would meet: exact for lines, a first guess for curves.
    let further = (two.mm - one.mm * turned.cos()) / turned.sin();
    let back = (one.mm - two.mm * turned.cos()) / turned.sin();
    let (speed, next_speed) = (one.derivative(1.0).length(), two.derivative(0.0).length());
    if !further.is_finite() || speed < 1e-12 || next_speed < 1e-12 {
        return None;
    }
    let (mut t, mut u) = (1.0 - further / speed, back / next_speed);
    for _ in 0..60 {
        let apart = one.at(t) - two.at(u);
        let (d, e) = (one.derivative(t), two.derivative(u));
        let det = -d.cross(e);
        if apart.length() < 1e-10 {
            break;
        }
        if det.abs() < 1e-14 {
            return None;
        }
        // Solve d·Δt − e·Δu = −apart.
        let step_t = apart.cross(e) / det;
        let step_u = apart.cross(d) / det;
        t += step_t;
        u += step_u;
        if !t.is_finite() || !u.is_finite() || t.abs() > 1e3 || u.abs() > 1e3 {
            return None;
        }
    }
    (one.at(t).distance(two.at(u)) < 1e-7).then_some((t, u))
}

/// Adds the parallel of one piece.
fn run(one: &Moved, segments: &mut Vec<Segment>) -> Result<(), ShapeError> {
    let (start, end) = (one.at(one.from), one.at(one.to));
    match &one.piece {
        Segment::Line { .. } => segments.push(Segment::line(start, end)),
        Segment::Arc(arc) => {
            let sweep = arc.sweep() * (one.to - one.from);
            if 1.0 - one.mm * one.piece.curvature(0.5) <= 1e-9 || sweep.abs() >= 2.0 * std::f64::consts::PI {
                return Err(too_large(one.piece.at(0.5)));
            }
            segments.push(Segment::Arc(Arc { start, end, bulge: (sweep / 4.0).tan() }));
        }
        _ => curve(one, one.from, one.to, 0, segments)?,
    }
    Ok(())
}

/// A parallel of a free curve as cubics, halved until each is near enough.
fn curve(
    one: &Moved,
    from: f64,
    to: f64,
    depth: usize,
    segments: &mut Vec<Segment>,
) -> Result<(), ShapeError> {
    let share = (to - from) / 3.0;
    let (start, end) = (one.at(from), one.at(to));
    let cubic = Cubic {
        start,
        control_1: start + one.derivative(from) * share,
        control_2: end - one.derivative(to) * share,
        end,
    };
    let places = [0.15, 0.35, 0.5, 0.65, 0.85].map(|s| (s, from + (to - from) * s));
    if places.iter().any(|(_, t)| one.mm * one.piece.curvature(*t) >= 1.0 - 1e-9) {
        return Err(too_large(one.piece.at((from + to) / 2.0)));
    }
    let near = places.iter().all(|(s, t)| cubic.at(*s).distance(one.at(*t)) <= CURVE_WITHIN_MM);
    if depth >= 2 && near || depth >= DEEPEST {
        segments.push(Segment::Cubic(cubic));
        return Ok(());
    }
    let middle = (from + to) / 2.0;
    curve(one, from, middle, depth + 1, segments)?;
    curve(one, middle, to, depth + 1, segments)
}

/// Makes neighbours share their ends to the last bit.
fn close(segments: &mut [Segment]) {
    let count = segments.len();
    for here in 0..count {
        let start = segments[(here + 1) % count].start();
        match &mut segments[here] {
            Segment::Line { end, .. } => *end = start,
            Segment::Arc(arc) => arc.end = start,
            Segment::Cubic(cubic) => cubic.end = start,
            _ => {}
        }
    }
}

/// A border as places along it, and as chords.
struct Border {
    places: Vec<Point>,
    chords: Vec<[Point; 2]>,
}

impl Border {
    fn of(pieces: &[Segment]) -> Self {
        let each = (PLACES / pieces.len().max(1)).max(4);
        let at = |piece: &Segment| (0..each).map(|n| piece.at(n as f64 / each as f64)).collect::<Vec<_>>();
        let chords = |piece: &Segment| {
            let flat = piece.flattened(MEASURED_WITHIN_MM / 4.0);
            flat.windows(2).map(|pair| [pair[0].1, pair[1].1]).collect::<Vec<_>>()
        };
        Border {
            places: pieces.iter().flat_map(at).collect(),
            chords: pieces.iter().flat_map(chords).collect(),
        }
    }

    /// How far a place is from it.
    fn distance(&self, place: Point) -> f64 {
        let of = |[a, b]: &[Point; 2]| {
            let along = *b - *a;
            let share = ((place - *a).dot(along) / along.dot(along).max(1e-300)).clamp(0.0, 1.0);
            place.distance(*a + along * share)
        };
        self.chords.iter().map(of).fold(f64::INFINITY, f64::min)
    }
}

/// Holds what came out against what went in.
fn hold(outline: &Outline, moved: &Outline, by: &Inset) -> Result<(), ShapeError> {
    if let Some(flaw) = check(moved).first() {
        return Err(too_large(flaw.at_mm.unwrap_or_else(|| moved.outer.start())));
    }
    let (before, after) = (edges(&outline.outer), edges(&moved.outer));
    if before.len() != after.len() {
        return Err(too_large(outline.outer.start()));
    }
    let pair = |was: &[Segment], is: &[Segment], mm: f64| (Border::of(was), Border::of(is), mm);
    let outer = before.iter().zip(&after).zip(&by.edges_mm);
    let mut pairs: Vec<_> = outer.map(|((was, is), mm)| pair(&was.segments, &is.segments, *mm)).collect();
    let cutouts = outline.cutouts.iter().zip(&moved.cutouts);
    pairs.extend(cutouts.map(|(was, is)| pair(&was.segments, &is.segments, by.cutouts_mm)));
    // Each border is as far from its own edge as was asked, and from every other at least as far as that one asks: seen
    // from the inner one of the two.
    for (number, (was, is, own)) in pairs.iter().enumerate() {
        // Were the edges numbered otherwise, none of its places would lie beside its own edge.
        let beside = |place: &&Point| was.distance(**place) < own.abs() + MEASURED_WITHIN_MM;
        if is.places.iter().find(beside).is_none() {
            return Err(too_large(is.places[0]));
        }
        for (other, (there_was, there_is, mm)) in pairs.iter().enumerate() {
            let asked = |inner: bool| {
                let counts = number == other || inner && *mm > 0.0 || !inner && *mm < 0.0;
                if counts { mm.abs() - MEASURED_WITHIN_MM } else { 0.0 }
            };
            let (inner, outer) = (asked(true), asked(false));
            let near = is.places.iter().find(|place| inner > 0.0 && there_was.distance(**place) < inner);
            let near = near.or_else(|| {
                was.places.iter().find(|place| outer > 0.0 && there_is.distance(**place) < outer)
            });
            if let Some(place) = near {
                return Err(too_large(*place));
            }
        }
    }
    Ok(())
}

fn too_large(place: Point) -> ShapeError {
    ShapeError::new(
        ShapeCode::CannotInset,
        "the clearances and borders are too large for the shape",
        "make them smaller, or draw the shape with more room",
    )
    .at(place)
}

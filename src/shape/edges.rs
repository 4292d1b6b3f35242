//! The edges of a contour as a person counts them.
//!
//! Pieces in a straight line are one edge, as are arcs of one circle that run on, smooth free curves, and a
//! curve that was drawn as many short lines. Edges are numbered from 1, counter-clockwise from the lowest
//! corner (of several, the leftmost).

use super::outline::Contour;
use super::point::{Point, turn};
use super::segment::Segment;
use crate::words::words;

/// Corners nearer than this to the straight way past them are not corners, in millimetres.
pub(crate) const STRAIGHT_WITHIN_MM: f64 = 0.01;
/// Free curves that meet at less than this angle run on smoothly, in radians.
const SMOOTH_RAD: f64 = 2e-3;
/// Short lines that turn by at most this each, three times or more on end to the same side, stand for a
/// curve: 20.5° lets a regular polygon of 18 sides and more count as round. Common practice, no source.
const FACET_TURN_DEG: f64 = 20.5;
/// A line longer than this many times its neighbour is a straight beside the curve, not a facet of it.
const FACET_LENGTH_RATIO: f64 = 4.0;

words! {
    /// How an edge runs.
    EdgeKind, "edge kind" {
        /// A straight line.
        Straight = "straight",
        /// Part of one circle.
        Arc = "arc",
        /// A whole circle.
        Circle = "circle",
        /// Any other curve.
        Curve = "curve",
        /// A curve drawn as many short lines.
        FacetedCurve = "faceted-curve",
    }
}

/// What the shop's tape can follow; shop data, not a constant of the trade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TapeLimits {
    /// The shortest edge that can take tape, in millimetres.
    pub shortest_mm: f64,
    /// The least radius that the tape can be bent to along an edge, in millimetres; none where the tape only
    /// runs straight.
    pub least_bend_radius_mm: Option<f64>,
}

/// One edge of a contour.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Its number, from 1.
    pub number: usize,
    /// How it runs.
    pub kind: EdgeKind,
    /// Its length in millimetres.
    pub length_mm: f64,
    /// The least radius along it in millimetres; none where it is straight.
    pub least_radius_mm: Option<f64>,
    /// The pieces that make it, in order.
    pub segments: Vec<Segment>,
}

impl Edge {
    /// Where it starts.
    #[must_use]
    pub(crate) fn start(&self) -> Point {
        self.segments.first().map(Segment::start).unwrap_or_default()
    }

    /// Where it ends.
    #[must_use]
    pub(crate) fn end(&self) -> Point {
        self.segments.last().map(Segment::end).unwrap_or_default()
    }

    /// True where it runs straight.
    #[must_use]
    pub(crate) fn is_straight(&self) -> bool {
        self.kind == EdgeKind::Straight
    }

    /// The place so far along it from its start, and the way it runs there; none beyond its end.
    #[must_use]
    pub(crate) fn at(&self, along_mm: f64) -> Option<(Point, Point)> {
        let mut left = along_mm;
        for segment in &self.segments {
            for pair in segment.flattened(STRAIGHT_WITHIN_MM).windows(2) {
                let (from, to) = (pair[0].1, pair[1].1);
                let step = from.distance(to);
                if step > 0.0 && left <= step + STRAIGHT_WITHIN_MM {
                    return Some((from.towards(to, (left / step).min(1.0)), (to - from).unit()));
                }
                left -= step;
            }
        }
        None
    }

    /// True where tape can be fixed along it: long enough, and straight or not bent too tightly.
    #[must_use]
    pub(crate) fn can_carry_tape(&self, limits: &TapeLimits) -> bool {
        let bends = match (self.is_straight(), self.least_radius_mm, limits.least_bend_radius_mm) {
            (true, ..) => true,
            (false, Some(radius), Some(least)) => radius >= least,
            _ => false,
        };
        bends && self.length_mm >= limits.shortest_mm
    }
}

/// The edges of a contour, counter-clockwise from its lowest corner.
#[must_use]
pub fn edges(contour: &Contour) -> Vec<Edge> {
    let contour = contour.counter_clockwise();
    let runs = from_lowest(group(&contour.segments));
    runs.into_iter()
        .enumerate()
        .map(|(index, run)| {
            let kind = run.edge_kind();
            let least_radius_mm = match run.kind {
                RunKind::Straight => None,
                RunKind::Faceted => faceted_radius(&run.segments),
                _ => run
                    .segments
                    .iter()
                    .flat_map(|s| {
                        let (left, right) = s.least_radii();
                        [left, right]
                    })
                    .flatten()
                    .reduce(f64::min),
            };
            let length_mm = run.segments.iter().map(Segment::length).sum();
            Edge { number: index + 1, kind, length_mm, least_radius_mm, segments: run.segments }
        })
        .collect()
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum RunKind {
    Straight,
    Round,
    Free,
    Faceted,
}

/// Pieces that run on as one edge.
#[derive(Clone, Debug)]
struct Run {
    kind: RunKind,
    segments: Vec<Segment>,
}

impl Run {
    fn start(&self) -> Point {
        self.segments[0].start()
    }

    fn end(&self) -> Point {
        self.segments[self.segments.len() - 1].end()
    }

    fn length(&self) -> f64 {
        self.segments.iter().map(Segment::length).sum()
    }

    fn edge_kind(&self) -> EdgeKind {
        match self.kind {
            RunKind::Straight => EdgeKind::Straight,
            RunKind::Round => {
                let sweep: f64 = self
                    .segments
                    .iter()
                    .map(|s| match s {
                        Segment::Arc(arc) => arc.sweep(),
                        _ => 2.0 * std::f64::consts::PI,
                    })
                    .sum();
                if (sweep.abs() - 2.0 * std::f64::consts::PI).abs() < 1e-6 {
                    EdgeKind::Circle
                } else {
                    EdgeKind::Arc
                }
            }
            RunKind::Free => EdgeKind::Curve,
            RunKind::Faceted => EdgeKind::FacetedCurve,
        }
    }

    /// Takes the next piece in where the edge runs on through it.
    fn takes(&self, next: &Segment) -> bool {
        let kind = kind_of(next);
        if kind != self.kind {
            return false;
        }
        let last = &self.segments[self.segments.len() - 1];
        match kind {
            RunKind::Straight => self.straight_through(next.end()),
            RunKind::Round => same_circle(last, next),
            _ => turn(last.direction(1.0), next.direction(0.0)).abs() < SMOOTH_RAD,
        }
    }

    /// True where every joint so far stays on the straight way from the run's start to `end`, in order.
    fn straight_through(&self, end: Point) -> bool {
        let (start, along) = (self.start(), (end - self.start()).unit());
        let mut before = 0.0;
        self.segments.iter().map(|s| s.end() - start).all(|joint| {
            let forward = along.dot(joint) >= before - STRAIGHT_WITHIN_MM;
            before = along.dot(joint);
            forward && along.cross(joint).abs() <= STRAIGHT_WITHIN_MM
        }) && along.dot(end - start) >= before - STRAIGHT_WITHIN_MM
    }
}

fn kind_of(segment: &Segment) -> RunKind {
    if segment.is_straight(SAME_AS_LINE_MM) {
        return RunKind::Straight;
    }
    match segment {
        Segment::Arc(_) | Segment::Circle(_) => RunKind::Round,
        _ => RunKind::Free,
    }
}

/// A curve that stays this near to a line is one, in millimetres.
const SAME_AS_LINE_MM: f64 = 1e-6;

fn same_circle(a: &Segment, b: &Segment) -> bool {
    let (Segment::Arc(a), Segment::Arc(b)) = (a, b) else { return false };
    let scale = a.radius().max(b.radius());
    // Joined ends, the same radius and no turn between them make the same circle; centres of flat arcs are
    // too far off to compare.
    a.bulge.signum() == b.bulge.signum()
        && (a.radius() - b.radius()).abs() <= 1e-6 * scale
        && turn(a.derivative(1.0), b.derivative(0.0)).abs() <= 1e-6
}

/// Edges in order around a closed contour, the first one starting at a true corner.
fn group(segments: &[Segment]) -> Vec<Run> {
    if segments.is_empty() {
        return Vec::new();
    }
    // Start at the sharpest joint, so that no edge is cut in two where the drawing happened to start.
    let count = segments.len();
    let sharpness = |i: usize| {
        let (before, here) = (&segments[(i + count - 1) % count], &segments[i]);
        let kinds = if kind_of(before) == kind_of(here) { 0.0 } else { 1e-3 };
        turn(before.direction(1.0), here.direction(0.0)).abs() + kinds
    };
    let first = (0..count)
        .map(|i| (i, sharpness(i)))
        .reduce(|best, this| if this.1 > best.1 + 1e-9 { this } else { best })
        .map_or(0, |(i, _)| i);
    let mut runs: Vec<Run> = Vec::new();
    for segment in segments[first..].iter().chain(&segments[..first]) {
        match runs.last_mut() {
            Some(run) if run.takes(segment) => run.segments.push(segment.clone()),
            _ => runs.push(Run { kind: kind_of(segment), segments: vec![segment.clone()] }),
        }
    }
    join_ends(&mut runs);
    join_facets(runs)
}

/// Joins the last edge with the first where a smooth contour has no corner to start at.
fn join_ends(runs: &mut Vec<Run>) {
    while runs.len() > 1 {
        let (last, first) = (&runs[runs.len() - 1], &runs[0]);
        let runs_on = first.kind != RunKind::Straight && first.segments.iter().all(|s| last.takes(s));
        if !runs_on {
            return;
        }
        let mut joined = runs.pop().map(|r| r.segments).unwrap_or_default();
        joined.append(&mut runs[0].segments);
        runs[0].segments = joined;
    }
}

/// Joins straight edges that together stand for a curve.
fn join_facets(runs: Vec<Run>) -> Vec<Run> {
    let count = runs.len();
    if count < 3 {
        return runs;
    }
    let direction = |run: &Run| (run.end() - run.start()).unit();
    // Whether the corner before run i is a small turn between two straight edges, and to which side.
    let small: Vec<f64> = (0..count)
        .map(|i| {
            let (before, here) = (&runs[(i + count - 1) % count], &runs[i]);
            let angle = turn(direction(before), direction(here));
            let straight = before.kind == RunKind::Straight && here.kind == RunKind::Straight;
            if straight && angle.abs() <= FACET_TURN_DEG.to_radians() { angle.signum() } else { 0.0 }
        })
        .collect();
    // Begin where a chain of such corners begins.
    let begin = (0..count).find(|&i| small[i] == 0.0 || small[i] != small[(i + count - 1) % count]);
    let Some(begin) = begin else {
        // One chain all the way round.
        let segments = runs.into_iter().flat_map(|r| r.segments).collect();
        return vec![Run { kind: RunKind::Faceted, segments }];
    };
    let order: Vec<usize> = (0..count).map(|i| (begin + i) % count).collect();
    let mut faceted = vec![None; count];
    let mut i = 0;
    let mut chain_number = 0;
    while i < count {
        let side = small[order[i]];
        let mut j = i;
        while j < count && side != 0.0 && small[order[j]] == side {
            j += 1;
        }
        if j - i >= 3 {
            // Corners i..j: the edges between them are facets, and their outer neighbours where like in length.
            chain_number += 1;
            for k in i..j - 1 {
                faceted[order[k]] = Some(chain_number);
            }
            let alike = |facet: usize, neighbour: usize| {
                runs[neighbour].length() <= FACET_LENGTH_RATIO * runs[facet].length()
            };
            let before = (order[i] + count - 1) % count;
            if alike(order[i], before) && faceted[before].is_none() {
                faceted[before] = Some(chain_number);
            }
            let after = order[j - 1];
            if alike(order[j - 2], after) && faceted[after].is_none() {
                faceted[after] = Some(chain_number);
            }
        }
        i = j.max(i + 1);
    }
    let start = (0..count)
        .find(|&i| faceted[i].is_none() || faceted[i] != faceted[(i + count - 1) % count])
        .unwrap_or(0);
    let mut joined: Vec<Run> = Vec::new();
    let mut open_chain = None;
    for k in 0..count {
        let index = (start + k) % count;
        let run = runs[index].clone();
        match (faceted[index], joined.last_mut()) {
            (Some(chain), Some(last)) if open_chain == Some(chain) => last.segments.extend(run.segments),
            (Some(_), _) => joined.push(Run { kind: RunKind::Faceted, segments: run.segments }),
            (None, _) => joined.push(run),
        }
        open_chain = faceted[index];
    }
    joined
}

/// The least radius that a chain of short lines stands for: a chord turning by a has radius L/(2 sin a/2).
fn faceted_radius(segments: &[Segment]) -> Option<f64> {
    segments
        .windows(2)
        .filter_map(|pair| {
            let angle = turn(pair[0].direction(1.0), pair[1].direction(0.0)).abs();
            let length = pair[0].length().max(pair[1].length());
            (angle > 1e-9).then(|| length / (2.0 * (angle / 2.0).sin()))
        })
        .reduce(f64::min)
}

/// Turned in the ring so that the first edge starts lowest, of several leftmost.
fn from_lowest(mut runs: Vec<Run>) -> Vec<Run> {
    let size = runs.iter().map(Run::length).sum::<f64>();
    let near = 1e-9 * size;
    let lowest = (0..runs.len()).reduce(|best, i| {
        let (b, p) = (runs[best].start(), runs[i].start());
        if p.y < b.y - near || (p.y <= b.y + near && p.x < b.x - near) { i } else { best }
    });
    runs.rotate_left(lowest.unwrap_or(0));
    runs
}

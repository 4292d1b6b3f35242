//! The pieces of a split panel, the seams between them, and what the client acknowledges.

use super::edges::{Edge, EdgeKind, TapeLimits};
use super::fit::Placement;
use super::meeting::Material;
use super::outline::{Contour, Outline};
use super::point::{Point, distance_to_way};
use super::segment::Segment;
use crate::words::counted;

/// How finely a place within a piece is looked for, along each side of its box.
const GRID: u32 = 12;

/// One piece of a split panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its own outline, with its cut-outs and etched lines, where it lies in the whole.
    pub outline: Outline,
    /// For each piece of its outer contour in order, the number of the edge of the whole it belongs to; 0 along a seam
    /// and along the border of a cut-out that seams end at, which carry no tape.
    pub edge_numbers: Vec<usize>,
    /// How it is laid on the sheet.
    pub placement: Placement,
    /// Its area net of cut-outs, in mm².
    pub area_mm2: f64,
}

/// Two pieces butted against each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seam {
    /// One end.
    pub from: Point,
    /// The other end.
    pub to: Point,
    /// True where it lies on a joint of the stone.
    pub on_joint: bool,
}

impl Seam {
    /// Its length in millimetres.
    #[must_use]
    pub(crate) fn length_mm(&self) -> f64 {
        self.from.distance(self.to)
    }
}

/// One way to split an outline.
#[derive(Clone, Debug, PartialEq)]
pub struct SplitOption {
    /// The pieces.
    pub pieces: Vec<Piece>,
    /// The seams between them.
    pub seams: Vec<Seam>,
    /// Length of all seams, in millimetres.
    pub seam_length_mm: f64,
    /// Direction along which the first cuts were made one after the other, in degrees from the x axis.
    pub direction_deg: f64,
}

impl SplitOption {
    /// Seams that are not on a joint of the stone.
    #[must_use]
    pub(crate) fn seams_off_joints(&self) -> usize {
        self.seams.iter().filter(|s| !s.on_joint).count()
    }

    /// The sentence that the client acknowledges before a split panel is built.
    #[must_use]
    pub(crate) fn acknowledgement(&self) -> String {
        if self.seams.is_empty() {
            return "The panel is built in one piece, without seams.".to_owned();
        }
        let off = self.seams_off_joints();
        let seen = match (off, self.seams.len()) {
            (0, _) => "Every seam lies under a joint of the stone.".to_owned(),
            (off, all) if off == all => {
                "The seams lie away from the stone's joints and may be seen.".to_owned()
            }
            (1, _) => "One of the seams lies away from the stone's joints and may be seen.".to_owned(),
            (off, _) => format!("{off} of the seams lie away from the stone's joints and may be seen."),
        };
        format!(
            "The panel is built in {} butted pieces with {} of {:.0} mm in all. {seen} Seams carry no tape.",
            self.pieces.len(),
            counted(self.seams.len(), "seam", "seams"),
            self.seam_length_mm
        )
    }
}

impl Piece {
    /// A place well within its material, for a label: of a grid over it, the one farthest from its border and cut-outs.
    #[must_use]
    pub(crate) fn inner_point(&self) -> Point {
        let outer = &self.outline.outer;
        let (x, y) = (outer.extent(Point::new(1.0, 0.0)), outer.extent(Point::new(0.0, 1.0)));
        let tolerance = ((x.1 - x.0).hypot(y.1 - y.0) * 1e-3).max(1e-3);
        let ways: Vec<Vec<Point>> = std::iter::once(outer)
            .chain(&self.outline.cutouts)
            .map(|c| {
                let mut way = c.flattened(tolerance);
                way.extend(way.first().copied());
                way
            })
            .collect();
        let Some(material) = Material::of(ways) else { return outer.start() };
        let room = |p: Point| {
            material
                .ways
                .iter()
                .flat_map(|way| way.windows(2))
                .map(|w| distance_to_way(p, w[0], w[1]))
                .fold(f64::INFINITY, f64::min)
        };
        let mut best = (0.0, outer.start());
        for row in 1..GRID {
            for column in 1..GRID {
                let share =
                    |(low, high): (f64, f64), k: u32| low + (high - low) * f64::from(k) / f64::from(GRID);
                let p = Point::new(share(x, column), share(y, row));
                // Much more room, not a hair more: the place may not hang on the last bits of a number.
                if material.holds(p) && room(p) > best.0 + tolerance {
                    best = (room(p), p);
                }
            }
        }
        best.1
    }

    /// Its own edges that can carry tape: seams left out.
    #[must_use]
    pub(crate) fn tape_edges(&self, limits: &TapeLimits) -> Vec<Edge> {
        own_edges(&self.outline.outer, &self.edge_numbers)
            .into_iter()
            .filter(|e| e.can_carry_tape(limits))
            .collect()
    }
}

/// How many pieces seams make of an outline: one more for each seam, one less for each cut-out that seams end at (the sum
/// of Euler's characteristics over the pieces grows by one with each cut from border to border).
#[must_use]
pub(crate) fn piece_count(outline: &Outline, seams: &[(Point, Point)]) -> usize {
    let ends_at = |way: &[Point]| {
        let near = |p: Point| {
            (0..way.len()).any(|i| distance_to_way(p, way[i], way[(i + 1) % way.len()]) <= ENDS_WITHIN_MM)
        };
        seams.iter().any(|(from, to)| near(*from) || near(*to))
    };
    let opened = match seams {
        [] => 0,
        _ => outline.cutouts.iter().filter(|c| ends_at(&c.flattened(ENDS_WITHIN_MM / 4.0))).count(),
    };
    (seams.len() + 1).saturating_sub(opened).max(1)
}

/// A seam that ends this near to a cut-out ends at it, in millimetres.
const ENDS_WITHIN_MM: f64 = 0.05;

/// Runs of one edge of the whole along a piece, each as an edge numbered as in the whole.
pub(super) fn own_edges(contour: &Contour, numbers: &[usize]) -> Vec<Edge> {
    let count = numbers.len();
    let first = (0..count).find(|&i| numbers[i] != numbers[(i + count - 1) % count]).unwrap_or(0);
    let mut runs: Vec<(usize, Vec<Segment>)> = Vec::new();
    for i in (0..count).map(|k| (first + k) % count) {
        match runs.last_mut() {
            Some((number, run)) if *number == numbers[i] => run.push(contour.segments[i].clone()),
            _ => runs.push((numbers[i], vec![contour.segments[i].clone()])),
        }
    }
    runs.into_iter()
        .filter(|(number, _)| *number != 0)
        .map(|(number, segments)| {
            let straight = segments.iter().all(|s| s.is_straight(1e-6));
            let radius = segments
                .iter()
                .flat_map(|s| {
                    let (left, right) = s.least_radii();
                    [left, right]
                })
                .flatten()
                .reduce(f64::min);
            Edge {
                number,
                kind: if straight { EdgeKind::Straight } else { EdgeKind::Curve },
                length_mm: segments.iter().map(|s| s.length()).sum(),
                least_radius_mm: radius,
                segments,
            }
        })
        .collect()
}

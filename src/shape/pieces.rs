//! The pieces of a split panel, the seams between them, and what the client acknowledges.

use super::edges::{Edge, EdgeKind, TapeLimits};
use super::fit::Placement;
use super::outline::{Contour, Outline};
use super::point::Point;
use super::segment::Segment;
use crate::words::counted;

/// One piece of a split panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its own outline, with its cut-outs and etched lines, where it lies in the whole.
    pub outline: Outline,
    /// For each piece of its outer contour in order, the number of the edge of the whole it belongs to; 0 along
    /// a seam, which carries no tape.
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
    pub fn length_mm(&self) -> f64 {
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
    pub fn seams_off_joints(&self) -> usize {
        self.seams.iter().filter(|s| !s.on_joint).count()
    }

    /// The sentence that the client acknowledges before a split panel is built.
    #[must_use]
    pub fn acknowledgement(&self) -> String {
        let off = self.seams_off_joints();
        let seen = match (off, self.seams.len()) {
            (0, _) => "Every seam lies under a joint of the stone.".to_owned(),
            (off, all) if off == all => {
                "The seams lie away from the stone's joints and may be seen.".to_owned()
            }
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
    /// Its own edges that can carry tape: seams left out.
    #[must_use]
    pub fn tape_edges(&self, limits: &TapeLimits) -> Vec<Edge> {
        own_edges(&self.outline.outer, &self.edge_numbers)
            .into_iter()
            .filter(|e| e.can_carry_tape(limits))
            .collect()
    }
}

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

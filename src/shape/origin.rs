//! Where in a drawing's file a line came from, so that a flaw found later can still be told with its element.

use super::error::ShapeError;
use super::outline::SAME_PLACE_MM;
use super::point::{Point, distance_to_way};
use super::segment::Segment;

/// The element of a file that drew a line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Origin {
    /// Line of the file, from 1; 0 where it has none.
    pub(crate) line: usize,
    /// Column on that line, from 1, where that helps.
    pub(crate) column: Option<usize>,
    /// What it is called there, such as `path` with the id `sink`.
    pub(crate) element: String,
}

/// Flaws with the elements that they lie on; those without a place, or with a line of their own, stay as they are.
pub(crate) fn named(flaws: Vec<ShapeError>, drawn: &[Segment], origins: &[Origin]) -> Vec<ShapeError> {
    flaws
        .into_iter()
        .map(|flaw| match flaw.at_mm.filter(|_| flaw.line.is_none()).and_then(|at| nearest(at, drawn)) {
            Some(at) => origins.get(at).filter(|o| o.line > 0).map_or(flaw.clone(), |o| flaw.from(o)),
            None => flaw,
        })
        .collect()
}

/// The line that passes nearest to a place; of several as near, the last, which is the one that was drawn over another.
fn nearest(at: Point, drawn: &[Segment]) -> Option<usize> {
    // Farther off it is another line's flaw.
    let mut best = (100.0 * SAME_PLACE_MM, None);
    for (number, segment) in drawn.iter().enumerate() {
        let away = |along: Point| {
            let (low, high) = segment.extent(along);
            (low - along.dot(at)).max(along.dot(at) - high)
        };
        if away(Point::new(1.0, 0.0)).max(away(Point::new(0.0, 1.0))) > best.0 {
            continue;
        }
        let way: Vec<Point> = segment.flattened(10.0 * SAME_PLACE_MM).into_iter().map(|(_, p)| p).collect();
        let ends = [segment.start(), segment.end()].map(|p| p.distance(at));
        let off =
            way.windows(2).map(|w| distance_to_way(at, w[0], w[1])).chain(ends).fold(f64::INFINITY, f64::min);
        if off <= best.0 {
            best = (off, Some(number));
        }
    }
    best.1
}

//! Loose pieces joined end to end into contours and open paths, within a stated tolerance.
//!
//! Ends within the tolerance of each other are one place. Where two ends differ by less, one is moved onto the
//! other; a piece whose end cannot be moved (part of an ellipse) is bridged by a line no longer than the
//! tolerance. Nothing is guessed: where three pieces meet, the way stops.

use super::arc::Arc;
use super::cubic::Cubic;
use super::error::{ShapeCode, ShapeError};
use super::nurbs::Nurbs;
use super::outline::{Contour, Path, SAME_PLACE_MM};
use super::point::Point;
use super::segment::Segment;
use crate::units::trimmed;

/// The joining tolerance where none is stated, in millimetres.
pub(crate) const JOIN_MM: f64 = 0.01;

/// What loose pieces came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Joined {
    /// Ways that close.
    pub(crate) closed: Vec<Contour>,
    /// Ways that do not.
    pub(crate) open: Vec<Path>,
    /// Places where more than two ends meet.
    pub(crate) branches: Vec<Point>,
}

/// Joins pieces that come in any order and direction.
pub(crate) fn join(pieces: &[Segment], tolerance_mm: f64) -> Joined {
    let mut joined = Joined::default();
    let mut loose: Vec<&Segment> = Vec::new();
    for piece in pieces {
        if piece.start().distance(piece.end()) <= tolerance_mm {
            // A piece that closes by itself is a contour; one that hardly goes anywhere is within tolerance.
            if piece.length() > 4.0 * tolerance_mm {
                joined.closed.push(closed_up(vec![piece.clone()]));
            }
        } else {
            loose.push(piece);
        }
    }
    let nodes = Nodes::of(&loose, tolerance_mm);
    joined.branches =
        (0..nodes.places.len()).filter(|&n| nodes.ends[n].len() > 2).map(|n| nodes.places[n]).collect();
    let mut used = vec![false; loose.len()];
    // Open ways first, from their loose ends and branches; what is left over closes.
    let mut starts: Vec<(usize, bool)> = Vec::new();
    for ends in nodes.ends.iter().filter(|e| e.len() != 2) {
        starts.extend(ends);
    }
    starts.sort_unstable();
    let open_count = starts.len();
    starts.extend((0..loose.len()).map(|i| (i, false)));
    for (k, &(piece, reversed)) in starts.iter().enumerate() {
        if used[piece] {
            continue;
        }
        let way = nodes.walk(&loose, &mut used, piece, reversed);
        if k < open_count {
            joined.open.push(Path { segments: way });
        } else {
            joined.closed.push(closed_up(way));
        }
    }
    joined
}

/// The same pieces in the same order, with small gaps closed: for drawings whose order is known.
pub(crate) fn closed_gaps(segments: &[Segment], tolerance_mm: f64, closes: bool) -> Vec<Segment> {
    let mut way: Vec<Segment> = Vec::with_capacity(segments.len());
    for segment in segments {
        append(&mut way, segment.clone(), tolerance_mm);
    }
    if closes && way.len() > 1 {
        let (first, last) = (way[0].start(), way[way.len() - 1].end());
        if first != last && first.distance(last) <= tolerance_mm {
            return closed_up(way).segments;
        }
    }
    way
}

/// Places where ends meet, and the ends at each: the piece, and whether it is entered at its end.
struct Nodes {
    places: Vec<Point>,
    ends: Vec<Vec<(usize, bool)>>,
    of_end: Vec<[usize; 2]>,
}

impl Nodes {
    fn of(pieces: &[&Segment], tolerance: f64) -> Nodes {
        let mut ends: Vec<(Point, usize, usize)> = Vec::with_capacity(2 * pieces.len());
        for (i, piece) in pieces.iter().enumerate() {
            ends.push((piece.start(), i, 0));
            ends.push((piece.end(), i, 1));
        }
        ends.sort_by(|a, b| a.0.x.total_cmp(&b.0.x).then((a.1, a.2).cmp(&(b.1, b.2))));
        // Union of ends that are near each other, by a sweep along x.
        let mut leader: Vec<usize> = (0..ends.len()).collect();
        for i in 0..ends.len() {
            for j in i + 1..ends.len() {
                if ends[j].0.x - ends[i].0.x > tolerance {
                    break;
                }
                if ends[i].0.distance(ends[j].0) <= tolerance {
                    let (a, b) = (find(&mut leader, i), find(&mut leader, j));
                    leader[a.max(b)] = a.min(b);
                }
            }
        }
        let mut nodes = Nodes { places: Vec::new(), ends: Vec::new(), of_end: vec![[0, 0]; pieces.len()] };
        let mut number = vec![usize::MAX; ends.len()];
        for i in 0..ends.len() {
            let root = find(&mut leader, i);
            if number[root] == usize::MAX {
                number[root] = nodes.places.len();
                nodes.places.push(ends[root].0);
                nodes.ends.push(Vec::new());
            }
            let (_, piece, end) = ends[i];
            nodes.ends[number[root]].push((piece, end == 1));
            nodes.of_end[piece][end] = number[root];
        }
        nodes
    }

    /// The way from one piece on, through places where exactly two ends meet.
    fn walk(&self, pieces: &[&Segment], used: &mut [bool], piece: usize, reversed: bool) -> Vec<Segment> {
        let mut way: Vec<Segment> = Vec::new();
        let (mut piece, mut reversed) = (piece, reversed);
        loop {
            used[piece] = true;
            let segment = if reversed { pieces[piece].reversed() } else { pieces[piece].clone() };
            append(&mut way, segment, f64::INFINITY);
            let node = self.of_end[piece][usize::from(!reversed)];
            let [a, b] = self.ends[node][..] else { return way };
            let next = if a == (piece, !reversed) { b } else { a };
            if used[next.0] {
                return way;
            }
            (piece, reversed) = next;
        }
    }
}

fn find(leader: &mut [usize], mut i: usize) -> usize {
    while leader[i] != i {
        leader[i] = leader[leader[i]];
        i = leader[i];
    }
    i
}

/// Adds a piece to a way, moving its start or the way's end so that they are one point.
fn append(way: &mut Vec<Segment>, segment: Segment, tolerance: f64) {
    let Some(last) = way.last_mut() else {
        way.push(segment);
        return;
    };
    let (from, to) = (last.end(), segment.start());
    if from == to || from.distance(to) > tolerance {
        way.push(segment);
    } else if let Some(moved) = with_start(&segment, from) {
        way.push(moved);
    } else if let Some(moved) = with_end(last, to) {
        *last = moved;
        way.push(segment);
    } else {
        if from.distance(to) > SAME_PLACE_MM {
            way.push(Segment::line(from, to));
        }
        way.push(segment);
    }
}

/// A contour of pieces whose last end is brought onto its first start.
fn closed_up(mut way: Vec<Segment>) -> Contour {
    if let (Some(first), Some(last)) = (way.first().cloned(), way.last().cloned()) {
        let (start, end) = (first.start(), last.end());
        let alone = way.len() == 1;
        if start != end {
            if let Some(moved) = with_end(&last, start) {
                let at = way.len() - 1;
                way[at] = moved;
            } else if let Some(moved) = with_start(&first, end).filter(|_| !alone) {
                way[0] = moved;
            } else if start.distance(end) > SAME_PLACE_MM {
                way.push(Segment::line(end, start));
            }
        }
    }
    Contour { segments: way }
}

/// The same piece with its start moved a hair, for kinds whose ends are free to move.
fn with_start(segment: &Segment, start: Point) -> Option<Segment> {
    Some(match segment {
        Segment::Line { end, .. } => Segment::line(start, *end),
        Segment::Arc(arc) => Segment::Arc(Arc { start, ..*arc }),
        Segment::Cubic(cubic) => Segment::Cubic(Cubic { start, ..*cubic }),
        Segment::Spline(spline) => Segment::Spline(with_first_point(spline, start)?),
        Segment::Circle(_) | Segment::Ellipse(_) => return None,
    })
}

fn with_end(segment: &Segment, end: Point) -> Option<Segment> {
    Some(match segment {
        Segment::Line { start, .. } => Segment::line(*start, end),
        Segment::Arc(arc) => Segment::Arc(Arc { end, ..*arc }),
        Segment::Cubic(cubic) => Segment::Cubic(Cubic { end, ..*cubic }),
        Segment::Spline(spline) => {
            Segment::Spline(with_first_point(&spline.reversed(), end).map(|s| s.reversed())?)
        }
        Segment::Circle(_) | Segment::Ellipse(_) => return None,
    })
}

/// A clamped spline with its first control point moved; none where the spline does not start at it.
fn with_first_point(spline: &Nurbs, start: Point) -> Option<Nurbs> {
    let knots = spline.knots();
    let clamped = knots[0] == knots[spline.degree()];
    if !clamped {
        return None;
    }
    let mut points = spline.control_points().to_vec();
    points[0] = start;
    Nurbs::new(spline.degree(), knots.to_vec(), points, spline.weights().to_vec()).ok()
}

/// Flaws of ways that should have closed: loose ends with how far the nearest other one is, and branches.
pub(crate) fn open_flaws(joined: &Joined, tolerance_mm: f64) -> Vec<ShapeError> {
    let mut flaws: Vec<ShapeError> = joined
        .branches
        .iter()
        .map(|place| {
            ShapeError::new(
                ShapeCode::Branch,
                "more than two pieces meet here, so the contour could go either way",
                "delete what is not part of the contour, or put it on another layer",
            )
            .at(*place)
        })
        .collect();
    let is_branch = |p: Point| joined.branches.iter().any(|b| b.distance(p) <= 2.0 * tolerance_mm);
    let mut ends: Vec<Point> = Vec::new();
    for path in &joined.open {
        if let (Some(first), Some(last)) = (path.segments.first(), path.segments.last()) {
            ends.extend([first.start(), last.end()].into_iter().filter(|p| !is_branch(*p)));
        }
    }
    for (i, end) in ends.iter().enumerate() {
        let nearest = ends
            .iter()
            .enumerate()
            .filter(|(j, _)| *j != i)
            .map(|(j, other)| (end.distance(*other), j))
            .reduce(|a, b| if b.0 < a.0 { b } else { a });
        flaws.push(match nearest {
            // Both ends of a gap tell of it; the later one is left out.
            Some((gap, j)) if gap <= 1000.0 * tolerance_mm => {
                if j < i {
                    continue;
                }
                ShapeError::new(
                    ShapeCode::Gap,
                    format!(
                        "two ends are {gap:.4} mm apart, more than the {tolerance_mm} mm that are joined"
                    ),
                    join_wider(gap),
                )
                .at(*end)
            }
            _ => ShapeError::new(
                ShapeCode::OpenContour,
                "a contour ends here without closing",
                "draw the missing piece, or put an open line on the etching layer",
            )
            .at(*end),
        });
    }
    flaws
}

/// How to fix a gap: in the drawing, or by joining as wide as it is.
pub(crate) fn join_wider(gap_mm: f64) -> String {
    // A hair more, so that rounding does not leave it open.
    let width = (gap_mm * 1000.0).floor() / 1000.0 + 0.001;
    format!("join the ends in the drawing, or add --join {}mm", trimmed(width, 3))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn pieces_in_any_order_and_direction_close() {
        let half = Segment::Arc(Arc { start: p(0.0, 200.0), end: p(0.0, 0.0), bulge: 1.0 });
        let pieces = [
            Segment::line(p(400.0, 200.0), p(400.0, 0.0)),
            half.reversed(),
            Segment::line(p(0.004, 0.0), p(400.0, 0.0)),
            Segment::line(p(400.0, 200.0), p(0.0, 200.0)),
        ];
        let joined = join(&pieces, 0.01);
        assert_eq!((joined.closed.len(), joined.open.len(), joined.branches.len()), (1, 0, 0));
        let contour = &joined.closed[0];
        for (i, piece) in contour.segments.iter().enumerate() {
            assert_eq!(piece.end(), contour.segments[(i + 1) % 4].start());
        }
        let exact = 80_000.0 + std::f64::consts::PI * 5000.0;
        assert!((contour.signed_area().abs() - exact).abs() < 2.0);
    }

    #[test]
    fn a_gap_is_told_once_with_its_width() {
        let pieces = [
            Segment::line(p(0.0, 0.0), p(100.0, 0.0)),
            Segment::line(p(100.0, 0.0), p(50.0, 80.0)),
            Segment::line(p(50.0, 80.0), p(0.5, 0.0)),
        ];
        let flaws = open_flaws(&join(&pieces, 0.01), 0.01);
        assert_eq!(flaws.len(), 1);
        assert_eq!(flaws[0].code, ShapeCode::Gap);
        assert!(flaws[0].message.contains("0.5000 mm"), "{}", flaws[0]);
        assert_eq!(join(&pieces, 0.6).closed.len(), 1);
    }

    #[test]
    fn where_three_pieces_meet_the_way_stops() {
        let mut pieces = Contour::polygon(&[p(0.0, 0.0), p(100.0, 0.0), p(50.0, 80.0)]).segments;
        pieces.push(Segment::line(p(50.0, 80.0), p(50.0, 200.0)));
        let joined = join(&pieces, 0.01);
        assert_eq!(joined.branches, [p(50.0, 80.0)]);
        assert!(joined.closed.is_empty());
        let codes: Vec<_> = open_flaws(&joined, 0.01).iter().map(|f| f.code).collect();
        assert_eq!(codes, [ShapeCode::Branch, ShapeCode::OpenContour]);
    }
}

//! Whether an outline is sound: closed, simple, with its cut-outs inside and clear of each other.
//!
//! All flaws are found at once, each with its place. Nothing is fixed here; small gaps are closed while
//! reading, within the tolerance that was stated.

use std::collections::HashMap;

use static_aabb2d_index::StaticAABB2DIndexBuilder;

use super::error::{ShapeCode, ShapeError};
use super::join::join_wider;
use super::meeting::{Meeting, meetings, winding};
use super::outline::{Contour, Outline, SAME_PLACE_MM};
use super::point::Point;
use super::segment::Segment;

/// Contours nearer to each other than this touch, in millimetres.
pub(crate) const TOUCHING_MM: f64 = 0.01;
/// How many points of contours are gone round to tell what lies in what: far more than a drawing takes that can be made.
const MOST_WINDINGS: usize = 20_000_000;
/// Flaws of one drawing that are told at once; the rest would not help.
const MOST_FLAWS: usize = 25;

/// Every flaw of an outline, each with its place; none where it is sound.
#[must_use]
pub fn check(outline: &Outline) -> Vec<ShapeError> {
    let mut flaws = Vec::new();
    if outline.outer.segments.is_empty() {
        flaws.push(ShapeError::new(ShapeCode::NoOutline, "there is no outer contour", "draw one"));
        return flaws;
    }
    for (number, contour) in outline.contours().enumerate() {
        check_closed(&name(number), contour, &mut flaws);
    }
    check_duplicates(outline, &mut flaws);
    for (number, path) in outline.etchings.iter().enumerate() {
        let name = format!("etching {}", number + 1);
        check_pieces(&name, &path.segments, &mut flaws);
        check_gaps(&name, &path.segments, &mut flaws);
    }
    if !flaws.is_empty() {
        // Where contours are open, what they cross and contain has no meaning yet.
        flaws.truncate(MOST_FLAWS);
        return flaws;
    }
    check_area(outline, &mut flaws);
    let contours: Vec<&Contour> = outline.contours().collect();
    let Some(meetings) = meetings(&contours, TOUCHING_MM, MOST_FLAWS) else {
        flaws.push(ShapeError::new(
            ShapeCode::TooLarge,
            "too many pieces lie side by side to be checked",
            "leave out what is not cut",
        ));
        return flaws;
    };
    flaws.extend(meetings.iter().map(|m| meeting_flaw(m, &contours)));
    check_containment(&contours, &meetings, &mut flaws);
    flaws.truncate(MOST_FLAWS);
    flaws
}

/// What a person calls a contour: the outline, or a cut-out by its number.
fn name(number: usize) -> String {
    if number == 0 { "the outline".into() } else { format!("cut-out {number}") }
}

fn check_pieces(name: &str, segments: &[Segment], flaws: &mut Vec<ShapeError>) {
    for (i, segment) in segments.iter().enumerate() {
        let length = segment.length();
        if !length.is_finite() || !segment.start().is_finite() || !segment.end().is_finite() {
            flaws.push(ShapeError::new(
                ShapeCode::OutOfRange,
                format!("piece {} of {name} has no finite size", i + 1),
                "draw it again with plain numbers",
            ));
        } else if length < SAME_PLACE_MM {
            flaws.push(
                ShapeError::new(
                    ShapeCode::ZeroLength,
                    format!("piece {} of {name}, a {}, has no length", i + 1, segment.kind()),
                    "delete it",
                )
                .at(segment.start()),
            );
        }
    }
}

fn check_gaps(name: &str, segments: &[Segment], flaws: &mut Vec<ShapeError>) {
    for (i, pair) in segments.windows(2).enumerate() {
        let gap = pair[0].end().distance(pair[1].start());
        if gap > SAME_PLACE_MM {
            flaws.push(
                ShapeError::new(
                    ShapeCode::Gap,
                    format!("there is a gap of {gap:.4} mm between pieces {} and {} of {name}", i + 1, i + 2),
                    join_wider(gap),
                )
                .at(pair[0].end()),
            );
        }
    }
}

fn check_closed(name: &str, contour: &Contour, flaws: &mut Vec<ShapeError>) {
    let segments = &contour.segments;
    check_pieces(name, segments, flaws);
    check_gaps(name, segments, flaws);
    let (Some(first), Some(last)) = (segments.first(), segments.last()) else {
        flaws.push(ShapeError::new(ShapeCode::OpenContour, format!("{name} has no pieces"), "draw it"));
        return;
    };
    let gap = last.end().distance(first.start());
    if gap > SAME_PLACE_MM {
        flaws.push(
            ShapeError::new(
                ShapeCode::OpenContour,
                format!(
                    "{name} does not close: its end is {gap:.4} mm from its start at {:.3}, {:.3}",
                    first.start().x,
                    first.start().y
                ),
                format!("draw the missing piece; where the ends should meet, {}", join_wider(gap)),
            )
            .at(last.end()),
        );
    }
    if segments.len() > 1
        && let Some(circle) = segments.iter().find(|s| matches!(s, Segment::Circle(_)))
    {
        flaws.push(
            ShapeError::new(
                ShapeCode::Branch,
                format!("{name} has a whole circle among its pieces"),
                "make the circle a contour of its own, or use arcs",
            )
            .at(circle.start()),
        );
    }
}

/// Pieces drawn twice, wherever in the drawing.
fn check_duplicates(outline: &Outline, flaws: &mut Vec<ShapeError>) {
    let mut pieces: Vec<(String, &Segment)> = Vec::new();
    for (number, contour) in outline.contours().enumerate() {
        pieces.extend(contour.segments.iter().map(|s| (name(number), s)));
    }
    for (first, second) in duplicates(&pieces.iter().map(|(_, s)| *s).collect::<Vec<_>>()) {
        flaws.push(
            ShapeError::new(
                ShapeCode::Duplicate,
                format!("a {} of {} is drawn twice", pieces[first].1.kind(), pieces[second].0),
                "delete one of the two",
            )
            .at(pieces[second].1.at(0.5)),
        );
    }
}

/// Pairs of pieces that are the same, in either direction; as many as are told.
pub(crate) fn duplicates(pieces: &[&Segment]) -> Vec<(usize, usize)> {
    // Pieces that are the same have their middles in the same cell or in neighbouring ones.
    let cell = |p: Point| ((p.x / SAME_PLACE_MM).floor() as i64, (p.y / SAME_PLACE_MM).floor() as i64);
    let mut by_cell: HashMap<(i64, i64), Vec<usize>> = HashMap::new();
    let mut found = Vec::new();
    for (i, piece) in pieces.iter().enumerate() {
        let (x, y) = cell(piece.at(0.5));
        let around =
            (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (x.saturating_add(dx), y.saturating_add(dy))));
        let earlier = around.filter_map(|cell| by_cell.get(&cell)).flatten();
        // Of many in one place the first few are enough: each of the others is the same as one of them, or none is.
        found.extend(earlier.take(MOST_FLAWS).filter(|j| is_same(pieces[**j], piece)).map(|j| (*j, i)));
        if found.len() >= MOST_FLAWS {
            break;
        }
        by_cell.entry((x, y)).or_default().push(i);
    }
    found.sort_unstable();
    found
}

fn is_same(a: &Segment, b: &Segment) -> bool {
    let near = |p: Point, q: Point| p.distance(q) <= SAME_PLACE_MM;
    let both = |p: (Point, Point), q: (Point, Point)| {
        (near(p.0, q.0) || near(p.0, q.1)) && (near(p.1, q.1) || near(p.1, q.0))
    };
    near(a.at(0.5), b.at(0.5))
        && both((a.start(), a.end()), (b.start(), b.end()))
        && both((a.at(0.25), a.at(0.75)), (b.at(0.25), b.at(0.75)))
}

fn check_area(outline: &Outline, flaws: &mut Vec<ShapeError>) {
    for (number, contour) in outline.contours().enumerate() {
        if contour.signed_area().abs() < 1e-6 {
            flaws.push(
                ShapeError::new(
                    ShapeCode::NoArea,
                    format!("{} encloses no area", name(number)),
                    "draw it around what it is to enclose",
                )
                .at(contour.start()),
            );
        }
    }
}

fn meeting_flaw(meeting: &Meeting, contours: &[&Contour]) -> ShapeError {
    let (a, b) = (meeting.first, meeting.second);
    let (code, message, remedy) = if a.0 == b.0 {
        let kind = |(contour, piece): (usize, usize)| {
            format!("{} ({})", piece + 1, contours[contour].segments[piece].kind())
        };
        let message = if a == b {
            format!("piece {} of {} crosses itself", kind(a), name(a.0))
        } else {
            format!("{} crosses or touches itself: its pieces {} and {} meet", name(a.0), kind(a), kind(b))
        };
        (ShapeCode::SelfCrossing, message, "draw it so that it goes round once and nowhere meets itself")
    } else if a.0 == 0 || b.0 == 0 {
        let cutout = name(a.0.max(b.0));
        (
            ShapeCode::CutoutTouchesOutline,
            format!("{cutout} crosses or touches the outline"),
            "move it inside, or make it part of the outline",
        )
    } else {
        (
            ShapeCode::CutoutsOverlap,
            format!("{} and {} cross or touch", name(a.0), name(b.0)),
            "move them apart, or draw them as one",
        )
    };
    ShapeError::new(code, message, remedy).at(meeting.at)
}

fn check_containment(contours: &[&Contour], meetings: &[Meeting], flaws: &mut Vec<ShapeError>) {
    let meet = |i: usize, j: usize| {
        meetings.iter().any(|m| (m.first.0.min(m.second.0), m.first.0.max(m.second.0)) == (i, j))
    };
    let flat: Vec<Vec<Point>> = contours.iter().map(|c| c.flattened(1e-3)).collect();
    let boxes: Vec<[(f64, f64); 2]> =
        contours.iter().map(|c| [c.extent(Point::new(1.0, 0.0)), c.extent(Point::new(0.0, 1.0))]).collect();
    let mut index = StaticAABB2DIndexBuilder::new(contours.len());
    for [(left, right), (low, high)] in &boxes {
        index.add(*left, *low, *right, *high);
    }
    let Ok(index) = index.build() else { return };
    let mut points_left = MOST_WINDINGS;
    for i in 1..contours.len() {
        // Only a contour whose box holds the corner of this one's box can hold this one.
        let [(left, _), (low, _)] = boxes[i];
        let mut around: Vec<usize> = index.query(left, low, left, low);
        around.retain(|j| {
            let fits = (0..2).all(|k| boxes[i][k].0 >= boxes[*j][k].0 && boxes[i][k].1 <= boxes[*j][k].1);
            *j != i && fits && !meet(i.min(*j), i.max(*j))
        });
        let points: usize = around.iter().map(|j| flat[*j].len()).sum();
        let Some(left) = points_left.checked_sub(points) else {
            flaws.push(ShapeError::new(
                ShapeCode::TooLarge,
                "too many cut-outs enclose one another to be checked",
                "leave out what is not cut",
            ));
            return;
        };
        points_left = left;
        around.retain(|j| winding(&flat[*j], flat[i][0]) != 0);
        if !meet(0, i) && !around.contains(&0) {
            flaws.push(
                ShapeError::new(
                    ShapeCode::CutoutOutside,
                    format!("{} lies outside the outline", name(i)),
                    "move it inside, or put it on another layer",
                )
                .at(contours[i].start()),
            );
        }
        for j in around.into_iter().filter(|j| *j != 0) {
            let (first, second) = (i.min(j), i.max(j));
            flaws.push(
                ShapeError::new(
                    ShapeCode::CutoutsOverlap,
                    format!("{} and {} lie one within the other", name(first), name(second)),
                    "leave out the inner one: what is cut out has no more cut-outs",
                )
                .at(contours[second].start()),
            );
        }
        if flaws.len() >= MOST_FLAWS {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::arc::Arc;
    use super::super::cubic::Cubic;
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    fn codes(outline: &Outline) -> Vec<ShapeCode> {
        check(outline).iter().map(|f| f.code).collect()
    }

    fn with_cutout(cutout: Contour) -> Outline {
        Outline { cutouts: vec![cutout], ..Outline::rectangle(1000.0, 500.0) }
    }

    #[test]
    fn sound_outlines_have_no_flaw() {
        assert_eq!(check(&Outline::rectangle(1000.0, 500.0)), []);
        assert_eq!(check(&Outline::circle(300.0)), []);
        assert_eq!(check(&with_cutout(Contour::circle(p(500.0, 250.0), 249.9))), []);
        // Two arcs that share both ends, and a smooth run of line into arc.
        let lens = Contour {
            segments: vec![
                Segment::Arc(Arc { start: p(0.0, 0.0), end: p(400.0, 0.0), bulge: 0.2 }),
                Segment::Arc(Arc { start: p(400.0, 0.0), end: p(0.0, 0.0), bulge: 0.2 }),
            ],
        };
        assert_eq!(check(&Outline::of(lens)), []);
    }

    #[test]
    fn each_flaw_is_told_with_its_place() {
        let open =
            Contour { segments: Contour::polygon(&[p(0., 0.), p(9., 0.), p(9., 9.)]).segments[..2].to_vec() };
        assert_eq!(check(&Outline::of(open))[0].at_mm, Some(p(9.0, 9.0)));
        let bow = Outline::polygon(&[p(0., 0.), p(100., 100.), p(100., 0.), p(0., 60.)]);
        let flaw = &check(&bow)[0];
        assert_eq!(flaw.code, ShapeCode::SelfCrossing);
        // The lines y = x and y = 60 − 0.6x meet at x = 37.5.
        assert!(flaw.at_mm.expect("a place").distance(p(37.5, 37.5)) < 1e-9);
        assert_eq!(
            codes(&with_cutout(Contour::circle(p(500.0, 250.0), 250.0))),
            [ShapeCode::CutoutTouchesOutline; 2]
        );
        assert_eq!(codes(&with_cutout(Contour::circle(p(1500.0, 250.0), 100.0))), [ShapeCode::CutoutOutside]);
        let mut two = with_cutout(Contour::circle(p(500.0, 250.0), 100.0));
        two.cutouts.push(Contour::circle(p(500.0, 250.0), 50.0));
        assert_eq!(codes(&two), [ShapeCode::CutoutsOverlap]);
        two.cutouts[1] = Contour::circle(p(500.0, 250.0), 100.0);
        assert_eq!(codes(&two), [ShapeCode::Duplicate]);
        let spike = Outline::polygon(&[p(0., 0.), p(100., 0.), p(200., 0.), p(100., 0.), p(100., 100.)]);
        assert!(codes(&spike).contains(&ShapeCode::Duplicate));
        let spike = Outline::polygon(&[p(0., 0.), p(200., 0.), p(100., 0.), p(100., 100.)]);
        assert!(codes(&spike).contains(&ShapeCode::SelfCrossing), "{:?}", codes(&spike));
        let none = Outline::polygon(&[p(0., 0.), p(0., 0.), p(100., 0.), p(50., 100.)]);
        assert_eq!(codes(&none), [ShapeCode::ZeroLength]);
    }

    #[test]
    fn a_curve_that_crosses_itself_is_found() {
        // Symmetric about x = 50, so the loop's crossing lies there.
        let looped =
            Cubic { start: p(0., 0.), control_1: p(180., 150.), control_2: p(-80., 150.), end: p(100., 0.) };
        let outline = Outline::of(Contour {
            segments: vec![Segment::Cubic(looped), Segment::line(p(100., 0.), p(0., 0.))],
        });
        let flaws = check(&outline);
        assert_eq!(flaws[0].code, ShapeCode::SelfCrossing);
        assert!((flaws[0].at_mm.expect("a place").x - 50.0).abs() < 1e-6);
    }

    #[test]
    fn a_near_miss_of_curves_is_no_touch() {
        let outline = |gap: f64| {
            let mut outline = with_cutout(Contour::circle(p(200.0, 250.0), 100.0));
            outline.cutouts.push(Contour::circle(p(400.0 + gap, 250.0), 100.0));
            outline
        };
        assert_eq!(check(&outline(0.02)), []);
        assert_eq!(codes(&outline(0.005)), [ShapeCode::CutoutsOverlap]);
    }
}

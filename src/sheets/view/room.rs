//! The room on paper: what is taken by text and lines, and whether something more may stand there.

use crate::shape::Point;

use super::super::paper::Area;

/// The least distance between two texts one above the other, in millimetres.
const TEXT_APART_MM: f64 = 1.2;
/// The least distance between two texts beside each other, in millimetres: less reads as one text.
const TEXT_BESIDE_MM: f64 = 2.0;
/// The least distance between a text and a line, in millimetres.
const LINE_APART_MM: f64 = 0.5;

/// What is taken within an area.
#[derive(Clone, Debug)]
pub(super) struct Room {
    bounds: Area,
    boxes: Vec<Area>,
    lines: Vec<(Point, Point)>,
    leaders: Vec<(Point, Point)>,
}

impl Room {
    pub(super) fn new(bounds: Area) -> Self {
        Room { bounds, boxes: Vec::new(), lines: Vec::new(), leaders: Vec::new() }
    }

    pub(super) fn take_box(&mut self, area: Area) {
        self.boxes.push(area);
    }

    pub(super) fn take_line(&mut self, from: Point, to: Point) {
        self.lines.push((from, to));
    }

    pub(super) fn take_polyline(&mut self, points: &[Point]) {
        self.lines.extend(points.windows(2).map(|pair| (pair[0], pair[1])));
    }

    pub(super) fn take_leader(&mut self, from: Point, to: Point) {
        self.leaders.push((from, to));
        self.lines.push((from, to));
    }

    /// True where text may stand there.
    pub(super) fn is_free(&self, area: &Area) -> bool {
        let off = area.grown(LINE_APART_MM);
        let apart = Area {
            left: area.left - TEXT_BESIDE_MM,
            right: area.right + TEXT_BESIDE_MM,
            ..area.grown(TEXT_APART_MM)
        };
        self.bounds.holds(area)
            && !self.boxes.iter().any(|b| b.overlaps(&apart))
            && !self.lines.iter().any(|&(a, b)| crosses(&off, a, b))
    }

    /// True where no text stands, whatever lines there are.
    pub(super) fn is_clear_of_text(&self, area: &Area) -> bool {
        self.bounds.holds(area) && !self.boxes.iter().any(|b| b.overlaps(area))
    }

    /// True where a leader may run there: over no text and no other leader.
    pub(super) fn lets_pass(&self, from: Point, to: Point) -> bool {
        !self.boxes.iter().any(|b| crosses(&b.grown(0.3), from, to))
            && !self.leaders.iter().any(|&(a, b)| meet(a, b, from, to))
    }

    /// How many lines a leader would cross, of those it may cross.
    pub(super) fn crossings(&self, from: Point, to: Point) -> usize {
        self.lines.iter().filter(|&&(a, b)| meet(a, b, from, to)).count()
    }
}

/// True where a line shares a point with an area.
pub(super) fn crosses(area: &Area, from: Point, to: Point) -> bool {
    within(area, from, to).is_some()
}

/// The part of a line within an area, where there is one (Liang and Barsky 1984).
pub(super) fn within(area: &Area, from: Point, to: Point) -> Option<(Point, Point)> {
    let way = to - from;
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    for (p, q) in [
        (-way.x, from.x - area.left),
        (way.x, area.right - from.x),
        (-way.y, from.y - area.top),
        (way.y, area.bottom - from.y),
    ] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    (enter <= leave).then(|| (from.towards(to, enter), from.towards(to, leave)))
}

/// True where two lines cross.
fn meet(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| (q - p).cross(r - p);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_through_beside_and_within_a_box() {
        let area = Area::new(10.0, 10.0, 20.0, 5.0);
        let p = Point::new;
        assert!(crosses(&area, p(0.0, 12.0), p(50.0, 12.0)));
        assert!(crosses(&area, p(12.0, 11.0), p(13.0, 12.0)));
        assert!(crosses(&area, p(5.0, 5.0), p(40.0, 20.0)));
        assert!(!crosses(&area, p(0.0, 12.0), p(9.0, 12.0)));
        assert!(!crosses(&area, p(0.0, 20.0), p(12.0, 30.0)));
        assert!(!crosses(&area, p(5.0, 16.0), p(40.0, 16.0)));
    }

    #[test]
    fn text_keeps_clear_of_text_lines_and_the_border() {
        let mut room = Room::new(Area::new(0.0, 0.0, 100.0, 100.0));
        room.take_box(Area::new(10.0, 10.0, 10.0, 3.0));
        room.take_line(Point::new(0.0, 50.0), Point::new(100.0, 50.0));
        assert!(room.is_free(&Area::new(30.0, 10.0, 10.0, 3.0)));
        assert!(!room.is_free(&Area::new(15.0, 12.0, 10.0, 3.0)));
        assert!(!room.is_free(&Area::new(30.0, 48.0, 10.0, 3.0)));
        assert!(!room.is_free(&Area::new(95.0, 10.0, 10.0, 3.0)));
        assert!(!room.lets_pass(Point::new(15.0, 0.0), Point::new(15.0, 30.0)));
    }
}

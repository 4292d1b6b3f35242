//! Marks on the view: cable exits, front, top, hole centres and remarks. Their symbols stand where the outline has
//! them; their words find a free place.

use crate::shape::{Mark, MarkKind, Point};

use super::super::ink::{LineStyle, SMALL, SMALL_BOLD};
use super::super::lettering::{printable, wrapped};
use super::super::paper::Area;
use super::Sketch;
use super::labels::{Lines, Try, around};
use super::side::ARROW_MM;

/// The longest line of a mark's words, in millimetres on paper.
const LONGEST_MM: f64 = 38.0;

impl Sketch<'_> {
    pub(super) fn marks(&mut self) {
        // All symbols first: words give way to symbols, not the other way round.
        let marks = &self.input.outline.marks;
        let symbols: Vec<Option<Vec<Try>>> = marks.iter().map(|mark| self.symbol(mark)).collect();
        for (mark, tries) in marks.iter().zip(symbols) {
            let words = printable(mark.text.as_deref().unwrap_or_default());
            let name = match mark.kind {
                MarkKind::CableExit => "CABLE EXIT",
                MarkKind::Front => "FRONT",
                MarkKind::Top => "TOP",
                MarkKind::HoleCentre | MarkKind::Note => "",
            };
            let mut lines: Lines = Vec::new();
            if !name.is_empty() {
                lines.push((name.into(), SMALL_BOLD));
            }
            let said = wrapped(&words, SMALL, LONGEST_MM).into_iter().filter(|line| !line.is_empty());
            lines.extend(said.map(|line| (line, SMALL)));
            let shown = tries.is_some_and(|tries| lines.is_empty() || self.set_label(&lines, &tries));
            if !shown {
                let p = mark.at - self.input.figures.lower_left;
                let place = super::Measure::pair(p, self.input.units);
                let kind = mark.kind.word().replace('-', " ");
                let words = if words.is_empty() { String::new() } else { format!(" `{words}`") };
                self.omissions.push(format!("mark {kind}{words} at {place}"));
            }
        }
    }

    /// Draws a mark's symbol and gives the places for its words; `None` where the symbol would stand on a text or
    /// outside the view.
    fn symbol(&mut self, mark: &Mark) -> Option<Vec<Try>> {
        let at = self.projection.point(mark.at);
        match mark.kind {
            MarkKind::CableExit => self.cable_exit(mark, at),
            MarkKind::Front => self.front(at),
            MarkKind::Top => self.top(mark, at),
            MarkKind::HoleCentre => self.hole_centre(at),
            MarkKind::Note => {
                let spot = around_both(at, at, 0.5);
                let inside = self.room.is_clear_of_text(&spot);
                inside.then(|| around(at, &[6.0, 9.0, 13.0, 18.0, 25.0], Some(0.0)))
            }
        }
    }

    /// The way a mark points on the page.
    fn heading(mark: &Mark, fallback: Point) -> Point {
        mark.heading_deg.map_or(fallback, |d| {
            let d = Point::at_angle(d.to_radians());
            Point::new(d.x, -d.y)
        })
    }

    /// The first of some arrows that stands clear of texts, from tail to tip.
    fn clear_arrow(&self, arrows: &[(Point, Point)], margin: f64) -> Option<(Point, Point)> {
        arrows.iter().copied().find(|&(a, b)| self.room.is_clear_of_text(&around_both(a, b, margin)))
    }

    /// A double-shafted arrow: no leader and no dimension looks like it. Where the outline gives it no heading it
    /// points out of the panel the shortest way.
    fn cable_exit(&mut self, mark: &Mark, at: Point) -> Option<Vec<Try>> {
        let p = self.panel;
        let out = [
            (at.x - p.left, Point::new(-1.0, 0.0)),
            (p.right - at.x, Point::new(1.0, 0.0)),
            (at.y - p.top, Point::new(0.0, -1.0)),
            (p.bottom - at.y, Point::new(0.0, 1.0)),
        ];
        let nearest = out.into_iter().reduce(|a, b| if b.0 < a.0 { b } else { a });
        let heading = Self::heading(mark, nearest.map_or(Point::new(0.0, 1.0), |n| n.1));
        // Out of the panel where nothing is in the way, else from inside up to its edge.
        let [long, short] = [11.0, 8.0].map(|length| heading * length);
        let arrows = [(at, at + long), (at, at + short), (at - long, at), (at - short, at)];
        let (tail, tip) = self.clear_arrow(&arrows, 2.0)?;
        let side = heading.left() * 0.6;
        for shaft in [side, side * -1.0] {
            self.canvas.line(tail + shaft, tip - heading * 3.5 + shaft, LineStyle::Narrow);
        }
        let wings = heading.left() * 1.8;
        let base = tip - heading * 3.6;
        self.canvas.solid(&[tip, base + wings, base - wings]);
        self.room.take_box(around_both(tail, tip, 1.8));
        self.canvas.disc(at, 0.8);
        let mut tries = vec![Try::Beside { place: tip, way: heading, distance: 2.6 }];
        for share in [0.5, 0.2, 0.8] {
            for way in [heading.left(), heading.left() * -1.0] {
                tries.push(Try::Beside { place: tail.towards(tip, share), way, distance: 3.2 });
            }
        }
        tries.extend(around(tip, &[3.4, 5.0], None));
        for far in [tip, tail] {
            tries.extend(around(far, &[5.0, 9.0, 14.0, 20.0, 27.0], Some(3.0)));
        }
        Some(tries)
    }

    /// A point in a circle: the arrow of the viewing direction seen from its tip.
    fn front(&mut self, at: Point) -> Option<Vec<Try>> {
        let (at, _) = self.clear_arrow(&[(at, at)], 1.8)?;
        self.canvas.circle(at, 1.8, LineStyle::Narrow);
        self.canvas.disc(at, 0.5);
        self.room.take_box(around_both(at, at, 1.8));
        let mut tries = around(at, &[3.0, 4.5], None);
        tries.extend(around(at, &[5.0, 9.0, 14.0], Some(2.4)));
        Some(tries)
    }

    fn top(&mut self, mark: &Mark, at: Point) -> Option<Vec<Try>> {
        let way = Self::heading(mark, Point::new(0.0, -1.0)) * 8.0;
        let (tail, tip) = self.clear_arrow(&[(at, at + way), (at - way, at)], 0.8)?;
        self.canvas.line(tail, tip - way.unit() * 1.5, LineStyle::Outline);
        self.canvas.arrow_head(tip, tail, ARROW_MM);
        self.room.take_box(around_both(tail, tip, 0.8));
        let mut tries = around(tail.towards(tip, 0.5), &[2.2, 5.5, 8.0], None);
        tries.extend(around(tail, &[6.0, 10.0, 15.0], Some(1.5)));
        Some(tries)
    }

    fn hole_centre(&mut self, at: Point) -> Option<Vec<Try>> {
        let arm = super::CENTRE_PAST_MM;
        let (at, _) = self.clear_arrow(&[(at, at)], arm)?;
        self.line(at - Point::new(arm, 0.0), at + Point::new(arm, 0.0), LineStyle::Centre);
        self.line(at - Point::new(0.0, arm), at + Point::new(0.0, arm), LineStyle::Centre);
        Some(around(at, &[5.0, 8.0, 12.0, 17.0], Some(0.0)))
    }
}

/// The area around two places.
pub(super) fn around_both(a: Point, b: Point, margin: f64) -> Area {
    Area { left: a.x.min(b.x), top: a.y.min(b.y), right: a.x.max(b.x), bottom: a.y.max(b.y) }.grown(margin)
}

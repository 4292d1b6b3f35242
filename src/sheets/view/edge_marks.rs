//! Numbers of the edges, and the way of the light from the lit ones.

use crate::shape::{Edge, Point};

use super::super::canvas::{Anchor, Reading};
use super::super::ink::{CAPITALS, LineStyle, SMALL_BOLD};
use super::super::lettering::width_mm;
use super::super::paper::Area;
use super::marks::around_both;
use super::{LIT_OFF_MM, Sketch};

/// Radius of the circle around an edge number, in millimetres.
const BALLOON_MM: f64 = 2.1;
/// How far the arrows of the light reach into the panel, in millimetres.
const LIGHT_ARROW_MM: f64 = 4.2;

impl Sketch<'_> {
    /// The place on the page after a share of an edge's length, and the way inward there.
    pub(super) fn on_edge(&self, edge: &Edge, share: f64) -> (Point, Point) {
        let points = self.projection.flattened(&edge.segments);
        let whole: f64 = points.windows(2).map(|p| p[0].distance(p[1])).sum();
        let mut left = whole * share;
        for pair in points.windows(2) {
            let step = pair[0].distance(pair[1]);
            if step >= left && step > 0.0 {
                let way = (pair[1] - pair[0]).unit();
                // Counter-clockwise on the panel: inside is on the left, which is the upper side of the page.
                return (pair[0].towards(pair[1], left / step), Point::new(way.y, -way.x));
            }
            left -= step;
        }
        (points.last().copied().unwrap_or_default(), Point::default())
    }

    pub(super) fn edge_number(&mut self, edge: &Edge) -> bool {
        let lit = self.input.lit_edges.contains(&edge.number);
        let text = edge.number.to_string();
        let radius = BALLOON_MM.max(width_mm(&text, SMALL_BOLD) / 2.0 + 0.5);
        let shares = [0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.15, 0.85, 0.08, 0.92];
        let inside = [radius + 1.6, radius + 3.2, radius + 5.0];
        let outside = [radius + 1.6 + LIT_OFF_MM, radius + 5.0];
        let near = inside.map(|d| (d, false)).into_iter().chain(outside.map(|d| (-d, false)));
        let far = [8.0, 12.0, 17.0, 23.0].into_iter().flat_map(|d| [(d, true), (-d, true)]);
        for (off, with_leader) in near.chain(far) {
            for share in shares {
                let (on, inward) = self.on_edge(edge, share);
                let middle = on + inward * off;
                let area = Area::new(middle.x - radius, middle.y - radius, 2.0 * radius, 2.0 * radius);
                if !self.room.is_free(&area) {
                    continue;
                }
                if with_leader {
                    let end = middle + (on - middle).unit() * radius;
                    if !self.room.lets_pass(on, end) {
                        continue;
                    }
                    self.canvas.line(on, end, LineStyle::Narrow);
                    self.room.take_leader(on, end);
                }
                let baseline = middle + Point::new(0.0, SMALL_BOLD.size_mm * CAPITALS / 2.0);
                if lit {
                    self.canvas.disc(middle, radius);
                    self.canvas.write_white(&text, baseline, Anchor::Middle, SMALL_BOLD);
                } else {
                    self.canvas.circle(middle, radius, LineStyle::Narrow);
                    self.canvas.write(&text, baseline, Anchor::Middle, SMALL_BOLD, Reading::Level);
                }
                self.room.take_box(area);
                return true;
            }
        }
        false
    }

    /// Arrows from a lit edge's line into the panel, at least one.
    pub(super) fn light_arrows(&mut self, edge: &Edge) {
        let points = self.projection.flattened(&edge.segments);
        let whole: f64 = points.windows(2).map(|p| p[0].distance(p[1])).sum();
        let count = (whole / 22.0).round().clamp(1.0, 40.0) as u32;
        let mut drawn = 0;
        let aside = [0.0, 2.5, -2.5, 5.0, -5.0, 7.5, -7.5].map(|mm| mm / whole);
        for i in 0..count {
            let wished = (f64::from(i) + 0.5) / f64::from(count);
            let free = aside.iter().map(|off| self.on_edge(edge, (wished + off).clamp(0.02, 0.98))).find(
                |&(on, inward)| {
                    let tip = on + inward * LIGHT_ARROW_MM;
                    self.room.is_free(&around_both(on + inward * 1.2, tip, 0.3))
                },
            );
            if let Some((on, inward)) = free {
                self.light_arrow(on, inward);
                drawn += 1;
            }
        }
        if drawn == 0 {
            // The way of the light must show, even over a line.
            let (on, inward) = self.on_edge(edge, 0.25);
            self.light_arrow(on, inward);
        }
    }

    fn light_arrow(&mut self, on: Point, inward: Point) {
        let (from, tip) = (on - inward * LIT_OFF_MM, on + inward * LIGHT_ARROW_MM);
        self.line(from, tip, LineStyle::Narrow);
        self.canvas.arrow_head(tip, from, 2.4);
    }
}

//! The outline's pieces as SVG path data: arcs stay arcs, circles circles.

use std::fmt::Write as _;

use crate::shape::{Point, Segment};

use super::super::canvas::number;

/// How near the chords of a spline keep to it on paper, in millimetres: far below the width of a line.
const CHORD_MM: f64 = 0.01;

/// Two machines may disagree about a sine in its last bit. Where a label stands is decided by comparing places, and in a
/// symmetric panel many are equal; so every place is rounded to this before anything is compared, in millimetres.
const SETTLED_MM: f64 = 1e-8;

/// A length on paper without the bits that machines may disagree about.
pub(in super::super) fn settled(mm: f64) -> f64 {
    (mm / SETTLED_MM).round() * SETTLED_MM
}

/// From the panel's millimetres, y up, to the page's, y down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in super::super) struct Projection {
    /// Millimetres on paper for one of the panel.
    pub(in super::super) factor: f64,
    /// The panel's point that lies on `origin`.
    pub(in super::super) from: Point,
    /// The place on the page.
    pub(in super::super) origin: Point,
}

impl Projection {
    pub(in super::super) fn point(&self, p: Point) -> Point {
        let d = (p - self.from) * self.factor;
        Point::new(settled(self.origin.x + d.x), settled(self.origin.y - d.y))
    }

    /// Points on the page along pieces that follow each other.
    pub(in super::super) fn flattened(&self, segments: &[Segment]) -> Vec<Point> {
        let mut points = Vec::new();
        for segment in segments {
            let skip = usize::from(!points.is_empty());
            let flat = segment.flattened(0.05 / self.factor);
            points.extend(flat.iter().skip(skip).map(|(_, p)| self.point(*p)));
        }
        points
    }

    /// SVG path data of pieces that follow each other.
    pub(in super::super) fn data(&self, segments: &[Segment], closed: bool) -> String {
        let mut data = String::new();
        let put = |data: &mut String, p: Point| {
            let p = self.point(p);
            let _ = write!(data, "{} {}", number(p.x), number(p.y));
        };
        if let Some(first) = segments.first() {
            data.push('M');
            put(&mut data, first.start());
        }
        for segment in segments {
            // Counter-clockwise with y up is against SVG's positive angle, whose y points down.
            let arc = |data: &mut String, rx: f64, ry: f64, turn: f64, large: bool, ccw: bool, end: Point| {
                let _ = write!(
                    data,
                    "A{} {} {} {} {} ",
                    number(rx * self.factor),
                    number(ry * self.factor),
                    number(turn),
                    u8::from(large),
                    u8::from(!ccw)
                );
                put(data, end);
            };
            match segment {
                Segment::Line { end, .. } => {
                    data.push('L');
                    put(&mut data, *end);
                }
                Segment::Arc(a) => {
                    // A half turn is not large: nothing may hang on the last bit of its bulge.
                    let large = a.sweep().abs() > std::f64::consts::PI * (1.0 + 1e-9);
                    arc(&mut data, a.radius(), a.radius(), 0.0, large, a.bulge > 0.0, a.end);
                }
                Segment::Circle(c) => {
                    for t in [0.5, 1.0] {
                        arc(&mut data, c.radius, c.radius, 0.0, false, !c.clockwise, segment.at(t));
                    }
                }
                Segment::Ellipse(e) => {
                    let (long, turn) = (e.major.length(), -e.major.angle().to_degrees());
                    for t in [0.5, 1.0] {
                        arc(&mut data, long, long * e.ratio, turn, false, e.sweep_rad > 0.0, segment.at(t));
                    }
                }
                Segment::Cubic(c) => {
                    for (mark, p) in [('C', c.control_1), (' ', c.control_2), (' ', c.end)] {
                        data.push(mark);
                        put(&mut data, p);
                    }
                }
                Segment::Spline(_) => {
                    for (_, p) in segment.flattened(CHORD_MM / self.factor).iter().skip(1) {
                        data.push('L');
                        put(&mut data, *p);
                    }
                }
            }
        }
        if closed {
            data.push('Z');
        }
        data
    }
}

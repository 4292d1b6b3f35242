//! SVG path data to lines, in user units with y as in the file.
//!
//! Arcs by the conversion of SVG 1.1, appendix F.6.5, with the out-of-range rules of F.6.6.

use std::f64::consts::PI;

use svgtypes::{PathParser, PathSegment};

use super::super::arc::Arc;
use super::super::cubic::Cubic;
use super::super::ellipse::EllipseArc;
use super::super::point::Point;
use super::super::segment::Segment;

/// The lines of path data, or a sentence on what is wrong with it.
pub(super) fn segments(data: &str) -> Result<Vec<Segment>, String> {
    let mut pen = Pen::default();
    for command in PathParser::from(data) {
        pen.draw(command.map_err(|e| e.to_string())?);
    }
    Ok(pen.segments)
}

/// Where path data begins, as far as it can be read.
pub(super) fn first_place(data: &str) -> Option<Point> {
    match PathParser::from(data).next()?.ok()? {
        PathSegment::MoveTo { x, y, .. } => Some(Point::new(x, y)),
        _ => None,
    }
}

#[derive(Default)]
struct Pen {
    at: Point,
    start: Point,
    /// The control point that a smooth cubic or quadratic continues from.
    cubic_control: Option<Point>,
    quadratic_control: Option<Point>,
    segments: Vec<Segment>,
}

impl Pen {
    fn place(&self, abs: bool, x: f64, y: f64) -> Point {
        let p = Point::new(x, y);
        if abs { p } else { self.at + p }
    }

    fn line_to(&mut self, to: Point) {
        // Going nowhere draws nothing; programs write such commands freely.
        if to != self.at {
            self.segments.push(Segment::line(self.at, to));
        }
        self.at = to;
    }

    fn cubic_to(&mut self, control_1: Point, control_2: Point, end: Point) {
        let start = self.at;
        if [control_1, control_2, end].iter().any(|p| *p != start) {
            self.segments.push(Segment::Cubic(Cubic { start, control_1, control_2, end }));
        }
        self.at = end;
        self.cubic_control = Some(control_2);
    }

    fn quadratic_to(&mut self, control: Point, end: Point) {
        if control != self.at || end != self.at {
            self.segments.push(Segment::Cubic(Cubic::from_quadratic(self.at, control, end)));
        }
        self.at = end;
        self.quadratic_control = Some(control);
    }

    fn draw(&mut self, command: PathSegment) {
        let (cubic_control, quadratic_control) = (self.cubic_control.take(), self.quadratic_control.take());
        match command {
            PathSegment::MoveTo { abs, x, y } => {
                self.at = self.place(abs, x, y);
                self.start = self.at;
            }
            PathSegment::LineTo { abs, x, y } => self.line_to(self.place(abs, x, y)),
            PathSegment::HorizontalLineTo { abs, x } => {
                let x = if abs { x } else { self.at.x + x };
                self.line_to(Point::new(x, self.at.y));
            }
            PathSegment::VerticalLineTo { abs, y } => {
                let y = if abs { y } else { self.at.y + y };
                self.line_to(Point::new(self.at.x, y));
            }
            PathSegment::CurveTo { abs, x1, y1, x2, y2, x, y } => {
                let place = |x, y| self.place(abs, x, y);
                let (a, b, end) = (place(x1, y1), place(x2, y2), place(x, y));
                self.cubic_to(a, b, end);
            }
            PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                let first = cubic_control.map_or(self.at, |c| self.at * 2.0 - c);
                let (second, end) = (self.place(abs, x2, y2), self.place(abs, x, y));
                self.cubic_to(first, second, end);
            }
            PathSegment::Quadratic { abs, x1, y1, x, y } => {
                let (control, end) = (self.place(abs, x1, y1), self.place(abs, x, y));
                self.quadratic_to(control, end);
            }
            PathSegment::SmoothQuadratic { abs, x, y } => {
                let control = quadratic_control.map_or(self.at, |c| self.at * 2.0 - c);
                self.quadratic_to(control, self.place(abs, x, y));
            }
            PathSegment::EllipticalArc { abs, rx, ry, x_axis_rotation, large_arc, sweep, x, y } => {
                let end = self.place(abs, x, y);
                if let Some(arc) = arc(self.at, end, rx, ry, x_axis_rotation.to_radians(), large_arc, sweep) {
                    self.segments.push(arc);
                }
                self.at = end;
            }
            PathSegment::ClosePath { .. } => {
                let start = self.start;
                self.line_to(start);
            }
        }
    }
}

/// An arc by its ends, half axes and flags; none where it goes nowhere.
fn arc(start: Point, end: Point, rx: f64, ry: f64, turned: f64, large: bool, sweep: bool) -> Option<Segment> {
    let (rx, ry) = (rx.abs(), ry.abs());
    if start == end {
        return None;
    }
    if rx == 0.0 || ry == 0.0 {
        return Some(Segment::line(start, end));
    }
    if rx == ry {
        let half = (start.distance(end) / (2.0 * rx)).min(1.0).asin();
        let half = if large { PI - half } else { half };
        let bulge = (half / 2.0).tan();
        return Some(Segment::Arc(Arc { start, end, bulge: if sweep { bulge } else { -bulge } }));
    }
    // Appendix F.6.5 in the ellipse's own frame, scaled to a unit circle.
    let (sin, cos) = turned.sin_cos();
    let own = |p: Point| Point::new((cos * p.x + sin * p.y) / rx, (cos * p.y - sin * p.x) / ry);
    let (a, b) = (own(start), own(end));
    let half_chord = a.distance(b) / 2.0;
    // Too small an ellipse is scaled up until it just reaches (F.6.6).
    let scale = half_chord.max(1.0);
    let (a, b) = (a * (1.0 / scale), b * (1.0 / scale));
    let half_chord = a.distance(b) / 2.0;
    let height = (1.0 - half_chord * half_chord).max(0.0).sqrt();
    let side = if large == sweep { -1.0 } else { 1.0 };
    let centre = a.towards(b, 0.5) + (b - a).unit().left() * (side * height);
    let (from, to) = ((a - centre).angle(), (b - centre).angle());
    let mut swept = (to - from).rem_euclid(2.0 * PI);
    if !sweep {
        swept -= 2.0 * PI;
    }
    let (rx, ry) = (rx * scale, ry * scale);
    let out = |p: Point| Point::new(cos * p.x * rx - sin * p.y * ry, sin * p.x * rx + cos * p.y * ry);
    let (major, minor) = (out(Point::new(1.0, 0.0)), out(Point::new(0.0, 1.0)));
    Some(Segment::Ellipse(EllipseArc::from_conjugate(out(centre), major, minor, from, swept)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arcs_follow_their_flags() {
        // The four arcs of the specification's figure (SVG 1.1, section 8.3.8): same ends, half axes 100 and 50.
        for (large, sweep) in [(false, false), (false, true), (true, false), (true, true)] {
            let data = format!("M125,75 a100,50 0 {},{} 100,50", u8::from(large), u8::from(sweep));
            let drawn = segments(&data).expect("path data");
            let [Segment::Ellipse(ellipse)] = &drawn[..] else { panic!("one ellipse, not {drawn:?}") };
            assert!(drawn[0].start().distance(Point::new(125.0, 75.0)) < 1e-9, "{large} {sweep}");
            assert!(drawn[0].end().distance(Point::new(225.0, 125.0)) < 1e-9, "{large} {sweep}");
            assert_eq!(ellipse.sweep_rad.abs() > PI, large, "{large} {sweep}");
            assert_eq!(ellipse.sweep_rad > 0.0, sweep, "{large} {sweep}");
        }
    }

    #[test]
    fn round_arcs_stay_arcs_and_smooth_curves_continue() {
        let drawn = segments("M0 0 A 50 50 0 0 1 100 0 S 150 50 200 0 t 10 10 z").expect("path data");
        let kinds: Vec<_> = drawn.iter().map(Segment::kind).collect();
        assert_eq!(kinds, ["arc", "cubic", "cubic", "line"]);
        let Segment::Arc(arc) = &drawn[0] else { panic!("an arc") };
        assert!((arc.bulge - 1.0).abs() < 1e-15);
    }
}

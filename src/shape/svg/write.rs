//! An outline as SVG in millimetres, for viewing and for programs that take no DXF.
//!
//! Arcs are written as arcs, in parts of at most a third of a turn: the ends and radius that SVG keeps say least
//! about an arc near the half circle. Splines that SVG cannot hold are written as cubics fine enough that length
//! and area stay within 1e-10.

use std::fmt::Write as _;

use super::super::cubic::Cubic;
use super::super::outline::Outline;
use super::super::point::Point;
use super::super::segment::Segment;

/// The most that one written arc turns, in radians.
const MOST_TURN: f64 = 2.1;

/// Writes an outline as SVG with its size in millimetres; groups `outline`, `cutouts`, `etching`, `joints`.
#[must_use]
pub fn to_svg(outline: &Outline) -> String {
    let (x, y) = (outline.outer.extent(Point::new(1.0, 0.0)), outline.outer.extent(Point::new(0.0, 1.0)));
    let (width, height) = (x.1 - x.0, y.1 - y.0);
    let mut out = String::new();
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\">\n\
         <g transform=\"matrix(1 0 0 -1 {} {})\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.5\">",
        -x.0, y.1
    );
    let mut group = |id: &str, ways: Vec<&[Segment]>, closes: bool| {
        // Joints are shown, never cut.
        let dashed = if id == "joints" { " stroke=\"#888\" stroke-dasharray=\"6 3\"" } else { "" };
        if ways.is_empty() {
            return;
        }
        let _ = writeln!(out, "<g id=\"{id}\"{dashed}>");
        for way in ways {
            let _ = writeln!(out, "{}", element(way, closes));
        }
        out.push_str("</g>\n");
    };
    group("outline", vec![&outline.outer.segments], true);
    group("cutouts", outline.cutouts.iter().map(|c| &*c.segments).collect(), true);
    group("etching", outline.etchings.iter().map(|p| &*p.segments).collect(), false);
    let joints: Vec<[Segment; 1]> =
        outline.stone_joints.iter().map(|j| [Segment::line(j.from, j.to)]).collect();
    group("joints", joints.iter().map(|j| &j[..]).collect(), false);
    out.push_str("</g>\n</svg>\n");
    out
}

fn element(way: &[Segment], closes: bool) -> String {
    if let [Segment::Circle(circle)] = way {
        return format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            circle.centre.x, circle.centre.y, circle.radius
        );
    }
    let mut data = String::new();
    let mut at = None;
    for segment in way {
        let start = segment.start();
        // A hair between two pieces is no new way, and no line: the next piece goes on from there.
        let goes_on = at.is_some_and(|p: Point| p.distance(start) <= super::super::outline::SAME_PLACE_MM);
        if !goes_on {
            let _ = write!(data, "M {} {} ", start.x, start.y);
        }
        piece(segment, &mut data);
        at = Some(segment.end());
    }
    if closes {
        data.push('Z');
    }
    format!("<path d=\"{}\"/>", data.trim_end())
}

fn piece(segment: &Segment, data: &mut String) {
    let flag = |angle: f64| u8::from(angle > 0.0);
    let mut round = |segment: &Segment, rx: f64, ry: f64, turned: f64, sweep: f64| {
        let parts = (sweep.abs() / MOST_TURN).ceil().max(1.0) as u32;
        for i in 1..=parts {
            let end = if i == parts { segment.end() } else { segment.at(f64::from(i) / f64::from(parts)) };
            let _ = write!(data, "A {rx} {ry} {turned} 0 {} {} {} ", flag(sweep), end.x, end.y);
        }
    };
    match segment {
        Segment::Line { end, .. } => {
            let _ = write!(data, "L {} {} ", end.x, end.y);
        }
        Segment::Arc(arc) => {
            let radius = arc.radius();
            round(segment, radius, radius, 0.0, arc.sweep());
        }
        Segment::Circle(circle) => round(segment, circle.radius, circle.radius, 0.0, circle.sweep()),
        Segment::Ellipse(ellipse) => {
            let long = ellipse.major.length();
            let turned = ellipse.major.angle().to_degrees();
            round(segment, long, long * ellipse.ratio, turned, ellipse.sweep_rad);
        }
        Segment::Cubic(cubic) => write_cubic(cubic, data),
        Segment::Spline(_) => {
            for cubic in as_cubics(segment) {
                write_cubic(&cubic, data);
            }
        }
    }
}

fn write_cubic(cubic: &Cubic, data: &mut String) {
    let (a, b, c) = (cubic.control_1, cubic.control_2, cubic.end);
    let _ = write!(data, "C {} {} {} {} {} {} ", a.x, a.y, b.x, b.y, c.x, c.y);
}

/// A spline as cubics with the same ends and slopes, halved until length and area agree.
pub(crate) fn as_cubics(segment: &Segment) -> Vec<Cubic> {
    let origin = segment.start();
    let (length, area) = (segment.length(), segment.moments(origin).area);
    let mut parts: u32 = 1;
    loop {
        let mut cubics = Vec::new();
        for span in segment.breaks().windows(2) {
            // Slopes a hair inside the span: at its ends they may belong to the next.
            let inside = |t: f64| t.clamp(span[0] + 1e-13, span[1] - 1e-13);
            for i in 0..parts {
                let share = |k: u32| span[0] + (span[1] - span[0]) * f64::from(k) / f64::from(parts);
                let (t0, t1) = (share(i), share(i + 1));
                let (start, end) = (segment.at(t0), segment.at(t1));
                let third = (t1 - t0) / 3.0;
                cubics.push(Cubic {
                    start,
                    control_1: start + segment.derivative(inside(t0)) * third,
                    control_2: end - segment.derivative(inside(t1)) * third,
                    end,
                });
            }
        }
        let drawn: Vec<Segment> = cubics.iter().map(|c| Segment::Cubic(*c)).collect();
        let drawn_length: f64 = drawn.iter().map(Segment::length).sum();
        let drawn_area: f64 = drawn.iter().map(|s| s.moments(origin).area).sum();
        let good = (drawn_length - length).abs() <= 1e-10 * length
            && (drawn_area - area).abs() <= 1e-10 * length * length;
        if good || parts >= 256 {
            return cubics;
        }
        parts *= 2;
    }
}

//! Writing an outline as JSON: what was read is written with the same numbers to the last bit, one piece a line, so
//! that a change to one edge is a change to one line.

use std::fmt::Write as _;

use super::outline::{Mark, Outline, StoneJoint};
use super::point::Point;
use super::segment::Segment;

/// Writes an outline as JSON: stable, one piece a line, ending in a line break.
#[must_use]
pub fn to_json(outline: &Outline) -> String {
    let mut out = String::from("{\n");
    let mut fields = Vec::new();
    fields.push(format!("  \"outer\": {}", way(&outline.outer.segments, "  ")));
    let list =
        |name: &str, items: Vec<String>| format!("  \"{name}\": [\n    {}\n  ]", items.join(",\n    "));
    if !outline.cutouts.is_empty() {
        fields.push(list("cutouts", outline.cutouts.iter().map(|c| way(&c.segments, "    ")).collect()));
    }
    if !outline.etchings.is_empty() {
        fields.push(list("etchings", outline.etchings.iter().map(|p| way(&p.segments, "    ")).collect()));
    }
    if !outline.marks.is_empty() {
        fields.push(list("marks", outline.marks.iter().map(mark).collect()));
    }
    if !outline.stone_joints.is_empty() {
        let joint =
            |j: &StoneJoint| format!("{{ \"from_mm\": {}, \"to_mm\": {} }}", point(j.from), point(j.to));
        fields.push(list("stone_joints", outline.stone_joints.iter().map(joint).collect()));
    }
    out.push_str(&fields.join(",\n"));
    out.push_str("\n}\n");
    out
}

fn way(segments: &[Segment], indent: &str) -> String {
    let mut out = String::from("{\n");
    if let Some(first) = segments.first().filter(|s| starts_at_last(s)) {
        let _ = writeln!(out, "{indent}  \"start_mm\": {},", point(first.start()));
    }
    let _ = writeln!(out, "{indent}  \"segments\": [");
    for (i, segment) in segments.iter().enumerate() {
        let comma = if i + 1 < segments.len() { "," } else { "" };
        let _ = writeln!(out, "{indent}    {}{comma}", piece(segment));
    }
    let _ = write!(out, "{indent}  ]\n{indent}}}");
    out
}

fn piece(segment: &Segment) -> String {
    let kind = segment.kind();
    let rest = match segment {
        Segment::Line { end, .. } => format!("\"to_mm\": {}", point(*end)),
        Segment::Arc(arc) => format!("\"to_mm\": {}, \"bulge\": {}", point(arc.end), number(arc.bulge)),
        Segment::Circle(circle) => {
            let clockwise = if circle.clockwise { ", \"clockwise\": true" } else { "" };
            format!(
                "\"centre_mm\": {}, \"radius_mm\": {}{clockwise}",
                point(circle.centre),
                number(circle.radius)
            )
        }
        Segment::Cubic(cubic) => format!(
            "\"control_1_mm\": {}, \"control_2_mm\": {}, \"to_mm\": {}",
            point(cubic.control_1),
            point(cubic.control_2),
            point(cubic.end)
        ),
        Segment::Ellipse(e) => format!(
            "\"centre_mm\": {}, \"major_mm\": {}, \"ratio\": {}, \"start_rad\": {}, \"sweep_rad\": {}",
            point(e.centre),
            point(e.major),
            number(e.ratio),
            number(e.start_rad),
            number(e.sweep_rad)
        ),
        Segment::Spline(spline) => {
            let list = |values: &[f64]| values.iter().map(|v| number(*v)).collect::<Vec<_>>().join(", ");
            let points = spline.control_points().iter().map(|p| point(*p)).collect::<Vec<_>>().join(", ");
            let weights = if spline.weights().is_empty() {
                String::new()
            } else {
                format!(", \"weights\": [{}]", list(spline.weights()))
            };
            format!(
                "\"degree\": {}, \"knots\": [{}], \"control_points_mm\": [{points}]{weights}",
                spline.degree(),
                list(spline.knots())
            )
        }
    };
    format!("{{ \"kind\": \"{kind}\", {rest} }}")
}

fn mark(mark: &Mark) -> String {
    let mut out = format!("{{ \"kind\": \"{}\", \"at_mm\": {}", mark.kind, point(mark.at));
    if let Some(text) = &mark.text {
        let _ = write!(out, ", \"text\": {}", serde_json::Value::from(text.as_str()));
    }
    if let Some(heading) = mark.heading_deg {
        let _ = write!(out, ", \"heading_deg\": {}", number(heading));
    }
    out.push_str(" }");
    out
}

fn point(p: Point) -> String {
    format!("[{}, {}]", number(p.x), number(p.y))
}

/// The shortest decimal that reads back as the same number.
fn number(value: f64) -> String {
    format!("{}", value + 0.0)
}

/// True for the kinds that start where the piece before ends, and carry no start of their own.
pub(super) fn starts_at_last(segment: &Segment) -> bool {
    matches!(segment, Segment::Line { .. } | Segment::Arc(_) | Segment::Cubic(_))
}

//! One shape element of an SVG to lines, in its own user units, and the lengths that its attributes state.

use std::str::FromStr;

use roxmltree::Node;
use svgtypes::{Length, LengthUnit};

use super::super::arc::{Arc, Circle};
use super::super::ellipse::EllipseArc;
use super::super::error::{ShapeCode, ShapeError};
use super::super::outline::Contour;
use super::super::point::Point;
use super::super::segment::Segment;
use super::path;
use super::read::refuse;

type Read<T> = Result<T, ShapeError>;

/// Millimetres in a CSS pixel: 96 to the inch.
pub(super) const MM_PER_PIXEL: f64 = 25.4 / 96.0;

/// The lines of a shape element in its own user units; none where it draws none.
pub(super) fn shape(node: Node<'_, '_>) -> Read<Option<Vec<Segment>>> {
    let point = |x, y| -> Read<Point> { Ok(Point::new(length(node, x)?, length(node, y)?)) };
    Ok(Some(match node.tag_name().name() {
        "path" => path::segments(node.attribute("d").unwrap_or("")).map_err(|e| {
            refuse(node, ShapeCode::Unreadable, format!("the path cannot be read: {e}"), "fix its data")
        })?,
        "rect" => rectangle(node)?,
        "circle" => {
            let radius = length(node, "r")?;
            if radius <= 0.0 {
                return Ok(None);
            }
            vec![Segment::Circle(Circle { centre: point("cx", "cy")?, radius, clockwise: false })]
        }
        "ellipse" => {
            let (rx, ry) = (optional_length(node, "rx")?, optional_length(node, "ry")?);
            let (rx, ry) = (rx.or(ry).unwrap_or(0.0), ry.or(rx).unwrap_or(0.0));
            let centre = point("cx", "cy")?;
            if rx <= 0.0 || ry <= 0.0 {
                return Ok(None);
            }
            if rx == ry {
                vec![Segment::Circle(Circle { centre, radius: rx, clockwise: false })]
            } else {
                vec![Segment::Ellipse(EllipseArc::from_conjugate(
                    centre,
                    Point::new(rx, 0.0),
                    Point::new(0.0, ry),
                    0.0,
                    2.0 * std::f64::consts::PI,
                ))]
            }
        }
        "line" => vec![Segment::line(point("x1", "y1")?, point("x2", "y2")?)],
        "polyline" | "polygon" => {
            let points: Vec<Point> = svgtypes::PointsParser::from(node.attribute("points").unwrap_or(""))
                .map(|(x, y)| Point::new(x, y))
                .collect();
            let mut segments: Vec<Segment> =
                points.windows(2).map(|pair| Segment::line(pair[0], pair[1])).collect();
            if node.tag_name().name() == "polygon"
                && let (Some(first), Some(last)) = (points.first(), points.last())
                && first != last
            {
                segments.push(Segment::line(*last, *first));
            }
            segments
        }
        _ => return Ok(None),
    }))
}

fn rectangle(node: Node<'_, '_>) -> Read<Vec<Segment>> {
    let (x, y) = (length(node, "x")?, length(node, "y")?);
    let (w, h) = (length(node, "width")?, length(node, "height")?);
    if w <= 0.0 || h <= 0.0 {
        return Ok(Vec::new());
    }
    let (rx, ry) = (optional_length(node, "rx")?, optional_length(node, "ry")?);
    let rx_wanted = rx.or(ry).unwrap_or(0.0).clamp(0.0, w / 2.0);
    let ry_wanted = ry.or(rx).unwrap_or(0.0).clamp(0.0, h / 2.0);
    let p = Point::new;
    if rx_wanted == 0.0 || ry_wanted == 0.0 {
        return Ok(Contour::polygon(&[p(x, y), p(x + w, y), p(x + w, y + h), p(x, y + h)]).segments);
    }
    let (rx, ry) = (rx_wanted, ry_wanted);
    // Each corner: where it starts, where it ends, and its centre, walked with growing angle.
    let corners = [
        (p(x + w - rx, y), p(x + w, y + ry), p(x + w - rx, y + ry), -0.5),
        (p(x + w, y + h - ry), p(x + w - rx, y + h), p(x + w - rx, y + h - ry), 0.0),
        (p(x + rx, y + h), p(x, y + h - ry), p(x + rx, y + h - ry), 0.5),
        (p(x, y + ry), p(x + rx, y), p(x + rx, y + ry), 1.0),
    ];
    let mut segments = Vec::new();
    let mut at = p(x + rx, y);
    for (start, end, centre, half_turns) in corners {
        if at.distance(start) > 0.0 {
            segments.push(Segment::line(at, start));
        }
        segments.push(if rx == ry {
            Segment::Arc(Arc { start, end, bulge: std::f64::consts::SQRT_2 - 1.0 })
        } else {
            let quarter = std::f64::consts::PI / 2.0;
            let (major, minor) = (Point::new(rx, 0.0), Point::new(0.0, ry));
            let from = half_turns * std::f64::consts::PI;
            Segment::Ellipse(EllipseArc::from_conjugate(centre, major, minor, from, quarter))
        });
        at = end;
    }
    Ok(segments)
}

/// Where a shape begins, in its own user units, for a message; none where it says no place.
pub(super) fn first_place(node: Node<'_, '_>) -> Option<Point> {
    let at = |x: &str, y: &str| Some(Point::new(length(node, x).ok()?, length(node, y).ok()?));
    match node.tag_name().name() {
        "path" => path::first_place(node.attribute("d")?),
        "rect" | "use" | "svg" => at("x", "y"),
        "circle" | "ellipse" => at("cx", "cy"),
        "line" => at("x1", "y1"),
        "polyline" | "polygon" => {
            svgtypes::PointsParser::from(node.attribute("points")?).next().map(|(x, y)| Point::new(x, y))
        }
        _ => None,
    }
    .filter(|p| p.is_finite())
}

/// A length in user units; 0 where it is absent.
pub(super) fn length(node: Node<'_, '_>, name: &str) -> Read<f64> {
    Ok(optional_length(node, name)?.unwrap_or(0.0))
}

pub(super) fn optional_length(node: Node<'_, '_>, name: &str) -> Read<Option<f64>> {
    let Some(text) = node.attribute(name).filter(|t| t.trim() != "auto") else { return Ok(None) };
    let length = Length::from_str(text).map_err(|e| {
        refuse(node, ShapeCode::Unreadable, format!("the {name} `{text}` cannot be read: {e}"), "fix it")
    })?;
    match (length.unit, millimetres(Length { number: 1.0, ..length })) {
        (LengthUnit::None | LengthUnit::Px, _) => Ok(Some(length.number)),
        (_, Some(mm)) => Ok(Some(length.number * mm / MM_PER_PIXEL)),
        _ => Err(refuse(
            node,
            ShapeCode::Unsupported,
            format!("the {name} `{text}` depends on something outside the drawing"),
            "write it as a plain number",
        )),
    }
}

/// A length with a physical unit in millimetres.
pub(super) fn millimetres(length: Length) -> Option<f64> {
    let factor = match length.unit {
        LengthUnit::Mm => 1.0,
        LengthUnit::Cm => 10.0,
        LengthUnit::In => 25.4,
        LengthUnit::Pt => 25.4 / 72.0,
        LengthUnit::Pc => 25.4 / 6.0,
        _ => return None,
    };
    Some(length.number * factor).filter(|mm| *mm > 0.0 && mm.is_finite())
}

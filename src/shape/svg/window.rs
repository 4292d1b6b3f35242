//! A drawing within the drawing: where the viewBox of an inner `svg` or of a `symbol` puts its content.
//!
//! SVG 1.1 section 7.8 and SVG 2 section 8.2 (the same rules).

use std::str::FromStr;

use roxmltree::Node;
use svgtypes::{Align, AspectRatio, ViewBox};

use super::super::error::{ShapeCode, ShapeError};
use super::super::point::{Point, Transform};
use super::super::segment::Segment;
use super::read::refuse;

/// How far a line may reach past a border and still count as within, in millimetres.
const WITHIN_MM: f64 = 1e-6;

/// The map from a window's own units to those around it, and the corners of its border there, where it has one.
pub(super) fn placed(
    node: Node<'_, '_>,
    at: Point,
    size: (Option<f64>, Option<f64>),
) -> Result<(Transform, Option<[Point; 4]>), ShapeError> {
    let corners =
        |w: f64, h: f64| [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| at + Point::new(x, y));
    let Some(text) = node.attribute("viewBox") else {
        let border = if let (Some(w), Some(h)) = size { Some(corners(w, h)) } else { None };
        return Ok((Transform::moved(at), border));
    };
    let fix = |what: &str, e: String| {
        refuse(node, ShapeCode::Unreadable, format!("the {what} cannot be read: {e}"), "fix it")
    };
    let view = ViewBox::from_str(text).map_err(|e| fix("viewBox", e.to_string()))?;
    let (Some(width), Some(height)) = size else {
        return Err(refuse(
            node,
            ShapeCode::Unsupported,
            format!("how large this `{}` is depends on what is around it", node.tag_name().name()),
            "give it, or the reference to it, a width and a height as plain numbers",
        ));
    };
    let ratio = match node.attribute("preserveAspectRatio") {
        None => AspectRatio { defer: false, align: Align::XMidYMid, slice: false },
        Some(text) => {
            AspectRatio::from_str(text.trim()).map_err(|e| fix("preserveAspectRatio", e.to_string()))?
        }
    };
    if width <= 0.0 || height <= 0.0 {
        return Err(refuse(
            node,
            ShapeCode::Unsupported,
            "this is shown at no size".into(),
            "give it a width and a height above zero, or delete it",
        ));
    }
    let (x, y) = (width / view.w, height / view.h);
    let scale = match (ratio.align, ratio.slice) {
        (Align::None, _) => (x, y),
        (_, true) => (x.max(y), x.max(y)),
        (_, false) => (x.min(y), x.min(y)),
    };
    let spare = Point::new(width - view.w * scale.0, height - view.h * scale.1);
    let (across, down) = shares(ratio.align);
    let map = Transform::moved(Point::new(-view.x, -view.y))
        .then(Transform::scaled(scale.0, scale.1))
        .then(Transform::moved(at + Point::new(spare.x * across, spare.y * down)));
    Ok((map, Some(corners(width, height))))
}

/// The share of the spare room that goes before the content, across and down.
fn shares(align: Align) -> (f64, f64) {
    match align {
        Align::None | Align::XMinYMin => (0.0, 0.0),
        Align::XMidYMin => (0.5, 0.0),
        Align::XMaxYMin => (1.0, 0.0),
        Align::XMinYMid => (0.0, 0.5),
        Align::XMidYMid => (0.5, 0.5),
        Align::XMaxYMid => (1.0, 0.5),
        Align::XMinYMax => (0.0, 1.0),
        Align::XMidYMax => (0.5, 1.0),
        Align::XMaxYMax => (1.0, 1.0),
    }
}

/// True where a piece lies within a border given by its corners.
pub(super) fn holds(border: &[Point; 4], segment: &Segment) -> bool {
    let middle = border[0].towards(border[2], 0.5);
    (0..4).all(|i| {
        let (a, b) = (border[i], border[(i + 1) % 4]);
        let out = (b - a).unit().left();
        let out = if out.dot(middle - a) > 0.0 { -out } else { out };
        segment.extent(out).1 <= out.dot(a) + WITHIN_MM
    })
}

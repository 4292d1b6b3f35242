//! What an outline is in plain words: circle, square, rectangle, triangle, polygon or curved.
//!
//! The gates ask a signed drawing of everything that is not one of the first four (common practice, no
//! source), so where a drawing is in doubt the class is the more cautious one.

use super::edges::{Edge, EdgeKind, STRAIGHT_WITHIN_MM};
use super::outline::Contour;
use super::point::Point;
use crate::words::words;

/// How far a drawing of a circle may be from one, as a share of its radius. Four cubics, the usual way to draw
/// a circle without arcs, are 0.027 % off.
const CIRCLE_WITHIN: f64 = 3e-4;

words! {
    /// What an outline is in plain words.
    ShapeClass, "shape" {
        /// A whole circle.
        Circle = "circle",
        /// Four equal straight edges at right angles.
        Square = "square",
        /// Four straight edges at right angles.
        Rectangle = "rectangle",
        /// Three straight edges.
        Triangle = "triangle",
        /// Any other outline of straight edges.
        Polygon = "polygon",
        /// Any outline with a curve, save a whole circle.
        Curved = "curved",
    }
}

impl ShapeClass {
    /// True for the shapes that an order states fully in words: circle, square, rectangle and triangle.
    #[must_use]
    pub(crate) fn is_plain(self) -> bool {
        !matches!(self, ShapeClass::Polygon | ShapeClass::Curved)
    }
}

/// Names a counter-clockwise contour by its edges.
#[must_use]
pub(crate) fn classify(contour: &Contour, edges: &[Edge]) -> ShapeClass {
    if edges.iter().any(|e| !e.is_straight()) {
        return if is_circle(contour, edges) { ShapeClass::Circle } else { ShapeClass::Curved };
    }
    match edges.len() {
        3 => ShapeClass::Triangle,
        4 if has_right_angles(edges) => {
            let sides: Vec<f64> = edges.iter().map(|e| e.length_mm).collect();
            if (sides[0] - sides[1]).abs() <= 2.0 * STRAIGHT_WITHIN_MM {
                ShapeClass::Square
            } else {
                ShapeClass::Rectangle
            }
        }
        _ => ShapeClass::Polygon,
    }
}

fn has_right_angles(edges: &[Edge]) -> bool {
    (0..4).all(|i| {
        let a = edges[i].end() - edges[i].start();
        let b = edges[(i + 1) % 4].end() - edges[(i + 1) % 4].start();
        // How far the shorter side leans, in millimetres.
        a.dot(b).abs() / a.length().max(b.length()) <= 2.0 * STRAIGHT_WITHIN_MM
    })
}

/// True where a smooth closed curve stays near one circle.
fn is_circle(contour: &Contour, edges: &[Edge]) -> bool {
    if let [only] = edges
        && only.kind == EdgeKind::Circle
    {
        return true;
    }
    if edges.iter().any(Edge::is_straight) {
        return false;
    }
    let box_x = contour.extent(Point::new(1.0, 0.0));
    let box_y = contour.extent(Point::new(0.0, 1.0));
    let radius = 0.25 * (box_x.1 - box_x.0 + box_y.1 - box_y.0);
    let centre = Point::new(0.5 * (box_x.0 + box_x.1), 0.5 * (box_y.0 + box_y.1));
    let faceted = edges.iter().all(|e| e.kind == EdgeKind::FacetedCurve);
    if faceted {
        return edges.len() == 1 && corners_on_circle(contour);
    }
    let near = (CIRCLE_WITHIN * radius).max(STRAIGHT_WITHIN_MM);
    contour.flattened(near).iter().all(|p| (p.distance(centre) - radius).abs() <= near)
}

/// True where the corners of a polygon lie on one circle, with no gap wider than the rest would allow.
fn corners_on_circle(contour: &Contour) -> bool {
    let corners: Vec<Point> = contour.segments.iter().map(|s| s.start()).collect();
    let moments = contour.moments(corners[0]);
    let centre = corners[0] + moments.first * (1.0 / moments.area);
    let radii: Vec<f64> = corners.iter().map(|p| p.distance(centre)).collect();
    let mean = radii.iter().sum::<f64>() / radii.len() as f64;
    let near = (CIRCLE_WITHIN * mean).max(STRAIGHT_WITHIN_MM);
    radii.iter().all(|r| (r - mean).abs() <= near)
}

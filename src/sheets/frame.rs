//! The frame of a sheet: drawing space, centring marks and the grid reference.

use crate::shape::Point;

use super::canvas::{Anchor, Canvas, Reading};
use super::ink::{LineStyle, SMALL};
use super::paper::{Area, Page};

/// Width of the strip outside the frame that holds the grid reference, in millimetres (ISO 5457, from memory).
const STRIP_MM: f64 = 5.0;
/// Length of a field of the grid reference, in millimetres, counted from the centring marks (ISO 5457:1999, from public
/// descriptions of it).
const FIELD_MM: f64 = 50.0;

/// Draws the frame with its centring marks, and the grid reference on sheets larger than A4. Returns the drawing
/// space.
pub(crate) fn draw_frame(canvas: &mut Canvas, page: Page) -> Area {
    let frame = page.frame();
    canvas.open("frame");
    canvas.rectangle(frame, LineStyle::Frame);
    let whole = page.area();
    let middle = Point::new(whole.width() / 2.0, whole.height() / 2.0);
    for (from, to) in [
        (Point::new(middle.x, frame.top - STRIP_MM), Point::new(middle.x, frame.top)),
        (Point::new(middle.x, frame.bottom + STRIP_MM), Point::new(middle.x, frame.bottom)),
        (Point::new(frame.left - STRIP_MM, middle.y), Point::new(frame.left, middle.y)),
        (Point::new(frame.right + STRIP_MM, middle.y), Point::new(frame.right, middle.y)),
    ] {
        canvas.line(from, to, LineStyle::Frame);
    }
    if !page.paper.may_stand() {
        grid_reference(canvas, frame, middle);
    }
    canvas.close();
    frame
}

fn grid_reference(canvas: &mut Canvas, frame: Area, middle: Point) {
    canvas.rectangle(frame.grown(STRIP_MM), LineStyle::Rule);
    let down = STRIP_MM / 2.0 + SMALL.size_mm * 0.36;
    let mut write = |text: &str, x: f64, y: f64| {
        canvas.write(text, Point::new(x, y), Anchor::Middle, SMALL, Reading::Level);
    };
    let columns = fields(frame.left, frame.right, middle.x);
    for (i, (from, to)) in columns.iter().enumerate() {
        let text = (i + 1).to_string();
        // Beside the centring mark, not under it.
        write(&text, (from + to) / 2.0, frame.top - STRIP_MM + down);
        write(&text, (from + to) / 2.0, frame.bottom + down);
    }
    let rows = fields(frame.top, frame.bottom, middle.y);
    for (letter, (from, to)) in ('A'..='Z').filter(|c| !"IO".contains(*c)).zip(&rows) {
        let text = letter.to_string();
        write(&text, frame.left - STRIP_MM / 2.0, (from + to) / 2.0 + SMALL.size_mm * 0.36);
        write(&text, frame.right + STRIP_MM / 2.0, (from + to) / 2.0 + SMALL.size_mm * 0.36);
    }
    let mut tick = |a: Point, b: Point| canvas.line(a, b, LineStyle::Rule);
    for &(x, _) in &columns[1..] {
        tick(Point::new(x, frame.top - STRIP_MM), Point::new(x, frame.top));
        tick(Point::new(x, frame.bottom), Point::new(x, frame.bottom + STRIP_MM));
    }
    for &(y, _) in &rows[1..] {
        tick(Point::new(frame.left - STRIP_MM, y), Point::new(frame.left, y));
        tick(Point::new(frame.right, y), Point::new(frame.right + STRIP_MM, y));
    }
}

/// Fields of the grid between two ends, counted from the sheet's middle line outward; a rest shorter than half a
/// field joins its neighbour.
fn fields(from: f64, to: f64, middle: f64) -> Vec<(f64, f64)> {
    let mut borders = vec![middle];
    let mut at = middle - FIELD_MM;
    while at > from + FIELD_MM / 2.0 {
        borders.insert(0, at);
        at -= FIELD_MM;
    }
    let mut at = middle + FIELD_MM;
    while at < to - FIELD_MM / 2.0 {
        borders.push(at);
        at += FIELD_MM;
    }
    borders.insert(0, from);
    borders.push(to);
    borders.windows(2).map(|pair| (pair[0], pair[1])).collect()
}

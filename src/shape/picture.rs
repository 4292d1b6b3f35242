//! A small picture of where a drawing is flawed, as SVG for a terminal's viewer or a report.
//!
//! It is no drawing sheet: no scale, no dimensions, only the lines and numbered rings around the flaws.

use std::fmt::Write as _;

use super::error::ShapeError;
use super::outline::{Outline, extent};
use super::point::Point;
use super::segment::Segment;

/// The longer side of the picture, in pixels.
const SIZE: f64 = 480.0;
const MARGIN: f64 = 24.0;

/// A picture of the flaws that have a place, on the lines of the drawing; none where no flaw has one.
#[must_use]
pub(crate) fn picture_of_flaws(segments: &[Segment], flaws: &[ShapeError]) -> Option<String> {
    let places: Vec<Point> = flaws.iter().filter_map(|f| f.at_mm).filter(|p| p.is_finite()).collect();
    if places.is_empty() {
        return None;
    }
    let (mut x, mut y) = (extent(segments, Point::new(1.0, 0.0)), extent(segments, Point::new(0.0, 1.0)));
    for p in &places {
        x = (x.0.min(p.x), x.1.max(p.x));
        y = (y.0.min(p.y), y.1.max(p.y));
    }
    let longest = (x.1 - x.0).max(y.1 - y.0).max(1e-3);
    if !longest.is_finite() {
        return None;
    }
    let scale = (SIZE - 2.0 * MARGIN) / longest;
    let place = |p: Point| (MARGIN + (p.x - x.0) * scale, MARGIN + (y.1 - p.y) * scale);
    let (width, height) = (2.0 * MARGIN + (x.1 - x.0) * scale, 2.0 * MARGIN + (y.1 - y.0) * scale);
    let mut out = String::new();
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.0}\" height=\"{height:.0}\" \
         viewBox=\"0 0 {width:.0} {height:.0}\">\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>"
    );
    let _ = write!(out, "<path fill=\"none\" stroke=\"#333\" d=\"");
    for segment in segments {
        for (i, (_, p)) in segment.flattened(0.3 / scale).into_iter().enumerate() {
            let (px, py) = place(p);
            let _ = write!(out, "{}{px:.2} {py:.2}", if i == 0 { "M" } else { "L" });
        }
    }
    out.push_str("\"/>\n");
    for (i, p) in places.iter().enumerate() {
        let (px, py) = place(*p);
        let _ = writeln!(
            out,
            "<circle cx=\"{px:.2}\" cy=\"{py:.2}\" r=\"8\" fill=\"none\" stroke=\"#c00\" stroke-width=\"2\"/>\
             <text x=\"{:.2}\" y=\"{:.2}\" font-family=\"sans-serif\" font-size=\"12\" fill=\"#c00\">{}</text>",
            px + 10.0,
            py - 8.0,
            i + 1
        );
    }
    out.push_str("</svg>\n");
    Some(out)
}

impl Outline {
    /// Every piece of the drawing: contours first, then etchings.
    #[must_use]
    pub(crate) fn pieces(&self) -> Vec<Segment> {
        let etched = self.etchings.iter().flat_map(|p| &p.segments);
        self.contours().flat_map(|c| &c.segments).chain(etched).cloned().collect()
    }
}

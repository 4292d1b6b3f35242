//! What stands below the view: its name and scale, the scale bar and the key to its lines.

use crate::shape::Point;

use super::super::canvas::{Anchor, Canvas, Reading};
use super::super::ink::{LineStyle, SMALL, SMALL_BOLD};
use super::super::input::SheetInput;
use super::super::lettering::width_mm;
use super::super::paper::Area;
use super::super::scale::{Scale, scale_bar};
use super::Sketch;

/// Height of the strip with the view's name and the scale bar, in millimetres.
const CAPTION_MM: f64 = 8.0;
/// Height of a row of the key, in millimetres.
const KEY_ROW_MM: f64 = 4.2;

/// How high the caption stands with its key, in millimetres.
pub(super) fn caption_mm(key: &[Vec<KeyEntry>]) -> f64 {
    CAPTION_MM + key.len() as f64 * KEY_ROW_MM
}

impl Sketch<'_> {
    /// The view's name, the scale bar and the key to its lines.
    pub(super) fn caption(&mut self, strip: Area, scale: Scale, key: &[Vec<KeyEntry>]) {
        self.canvas.open("caption");
        let name = format!("{}, from the stone's side, {scale}", self.input.view);
        let baseline = strip.top + 4.0;
        let at = Point::new(strip.left + 1.0, baseline);
        let covered = self.canvas.write(&name, at, Anchor::Start, SMALL_BOLD, Reading::Level);
        let bar = Point::new(covered.right + 12.0, strip.top + 1.0);
        let longest = (strip.right - bar.x - 16.0).clamp(5.0, 60.0);
        scale_bar(&mut self.canvas, bar, longest, scale, self.input.units);
        let mut top = strip.top + CAPTION_MM;
        for row in key {
            let mut left = strip.left + 1.0;
            for entry in row {
                left = entry.draw(&mut self.canvas, Point::new(left, top));
            }
            top += KEY_ROW_MM;
        }
        self.canvas.close();
    }
}

/// A sample of a line and its meaning.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct KeyEntry {
    style: LineStyle,
    words: &'static str,
}

/// Length of a sample in the key, in millimetres.
const SAMPLE_MM: f64 = 12.0;

impl KeyEntry {
    fn width(&self) -> f64 {
        SAMPLE_MM + 1.5 + width_mm(self.words, SMALL) + 6.0
    }

    fn draw(&self, canvas: &mut Canvas, at: Point) -> f64 {
        let y = at.y + KEY_ROW_MM / 2.0 - 0.6;
        canvas.line(Point::new(at.x, y), Point::new(at.x + SAMPLE_MM, y), self.style);
        let text = Point::new(at.x + SAMPLE_MM + 1.5, y + 0.9);
        canvas.write(self.words, text, Anchor::Start, SMALL, Reading::Level);
        at.x + self.width()
    }
}

/// The lines whose meaning is not plain, of those that the view uses.
fn line_key(input: &SheetInput) -> Vec<KeyEntry> {
    let entry = |used: bool, style, words| used.then_some(KeyEntry { style, words });
    [
        entry(!input.lit_edges.is_empty(), LineStyle::Lit, "lit edge, black number; arrows show the light"),
        entry(!input.seams.is_empty(), LineStyle::Seam, "seam of the panel"),
        entry(!input.outline.stone_joints.is_empty(), LineStyle::Neighbour, "joint of the stone"),
        entry(!input.ribs.is_empty(), LineStyle::Hidden, "rib behind the panel"),
        entry(input.bend.is_some(), LineStyle::Centre, "axis of the bend; drawn flat"),
        entry(!input.outline.etchings.is_empty(), LineStyle::Narrow, "etched line"),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The key in rows that are not longer than a width.
pub(super) fn key_rows(input: &SheetInput, width: f64) -> Vec<Vec<KeyEntry>> {
    let mut rows: Vec<Vec<KeyEntry>> = Vec::new();
    let mut left = 0.0;
    for entry in line_key(input) {
        if rows.is_empty() || left + entry.width() > width {
            rows.push(Vec::new());
            left = 0.0;
        }
        left += entry.width();
        if let Some(row) = rows.last_mut() {
            row.push(entry);
        }
    }
    rows
}

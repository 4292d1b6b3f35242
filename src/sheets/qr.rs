//! A QR code (ISO/IEC 18004), for a telephone's camera.

use std::fmt::Write as _;

use qrcodegen::{QrCode, QrCodeEcc};

use super::canvas::{Anchor, Canvas, Reading, number};
use super::ink::{LEADING, Lettering};
use super::lettering::{printable, wrapped};
use super::paper::Area;
use crate::shape::Point;

/// The white border that a reader needs, in modules (ISO/IEC 18004).
const QUIET: i32 = 4;

/// What a code says, and what stands below it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Code {
    /// What a reader gets: an address, or words.
    pub(crate) text: String,
    /// What stands below it.
    pub(crate) caption: String,
}

impl Code {
    /// Draws it with its caption below; returns how far down that reaches.
    pub(super) fn draw(
        &self,
        canvas: &mut Canvas,
        left: f64,
        top: f64,
        side_mm: f64,
        lettering: Lettering,
    ) -> f64 {
        draw_qr(canvas, &self.text, left, top, side_mm);
        let mut y = top + side_mm;
        for line in wrapped(&printable(&self.caption), lettering, side_mm) {
            y += LEADING * lettering.size_mm;
            let at = Point::new(left + side_mm / 2.0, y - 0.3 * lettering.size_mm);
            canvas.write(&line, at, Anchor::Middle, lettering, Reading::Level);
        }
        y
    }
}

/// Draws a code as large as a square of that side holds with its white border; a quarter of it may be lost or dirty and it
/// is still read. Nothing is drawn where a text is longer than a code can be.
fn draw_qr(canvas: &mut Canvas, text: &str, left: f64, top: f64, side_mm: f64) {
    let Ok(code) = QrCode::encode_text(text, QrCodeEcc::Quartile) else { return };
    let module = side_mm / f64::from(code.size() + 2 * QUIET);
    let mut data = String::new();
    for y in 0..code.size() {
        let mut x = 0;
        while x < code.size() {
            let long = (x..code.size()).take_while(|at| code.get_module(*at, y)).count() as i32;
            if long > 0 {
                let at = |modules: i32| module * f64::from(modules + QUIET);
                let (across, down) = (number(module * f64::from(long)), number(module));
                // Writing to a String cannot fail.
                let _ = write!(
                    data,
                    "M{} {}h{across}v{down}h-{across}z",
                    number(left + at(x)),
                    number(top + at(y))
                );
            }
            x += long.max(1);
        }
    }
    canvas.open("qr");
    canvas.shade(Area::new(left, top, side_mm, side_mm), 255);
    canvas.solid_path(&data);
    canvas.close();
}

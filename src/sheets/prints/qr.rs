//! A QR code (ISO/IEC 18004), for a telephone's camera.

use std::fmt::Write as _;

use qrcodegen::{QrCode, QrCodeEcc};

use super::super::canvas::{Canvas, number};
use super::super::paper::Area;

/// The white border that a reader needs, in modules (ISO/IEC 18004).
const QUIET: i32 = 4;

/// Draws a code as large as a square of that side holds with its white border; a quarter of it may be lost or dirty and it
/// is still read. Nothing is drawn where a text is longer than a code can be.
pub(super) fn draw_qr(canvas: &mut Canvas, text: &str, left: f64, top: f64, side_mm: f64) {
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

//! SVG text into pixels, and pixels into PNG, with the embedded font only, so that the same input gives the
//! same bytes on every machine.

use std::sync::{Arc, LazyLock};

use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

/// The family that drawings name.
pub(crate) const FONT: &str = "Noto Sans";

static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(notosans::REGULAR_TTF.to_vec());
    fonts.load_font_data(notosans::BOLD_TTF.to_vec());
    fonts.set_sans_serif_family(FONT);
    Arc::new(fonts)
});

/// Something that could not be drawn: a size of zero, too large a size, or markup of ours that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DrawingError {
    /// What is wrong.
    pub reason: String,
}

impl DrawingError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        "drawing-failed"
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> &'static str {
        "use a smaller photo or fewer lights; if that is no cause, report it with the command"
    }
}

impl std::fmt::Display for DrawingError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the picture cannot be drawn: {}", self.reason)
    }
}

impl std::error::Error for DrawingError {}

/// Draws SVG text at one pixel per unit, as RGB without transparency over white.
pub(crate) fn draw(svg: &str) -> Result<(usize, usize, Vec<u8>), DrawingError> {
    let fail = |reason: String| DrawingError { reason };
    let options = Options { fontdb: FONTS.clone(), font_family: FONT.into(), ..Options::default() };
    let tree = Tree::from_str(svg, &options).map_err(|e| fail(e.to_string()))?;
    let size = tree.size().to_int_size();
    let mut pixels =
        Pixmap::new(size.width(), size.height()).ok_or_else(|| fail("its size is not drawable".into()))?;
    pixels.fill(resvg::tiny_skia::Color::WHITE);
    resvg::render(&tree, Transform::identity(), &mut pixels.as_mut());
    let rgb = pixels.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    Ok((size.width() as usize, size.height() as usize, rgb))
}

/// Encodes RGB pixels as PNG, tightly rather than quickly: a sheet is drawn once and sent to people. Of photos of many
/// megapixels it takes minutes.
///
/// # Errors
/// Refuses a size that does not fit the pixels.
pub fn png(width: usize, height: usize, rgb: &[u8]) -> Result<Vec<u8>, DrawingError> {
    let fail = |reason: String| DrawingError { reason };
    let side = |n: usize| u32::try_from(n).map_err(|_| fail(format!("{n} pixels are too many")));
    let (w, h) = (side(width)?, side(height)?);
    if rgb.len() != width * height * 3 || rgb.is_empty() {
        return Err(fail(format!("{} bytes are not {width} × {height} pixels", rgb.len())));
    }
    let mut out = Vec::with_capacity(rgb.len() / 2);
    PngEncoder::new_with_quality(&mut out, CompressionType::Best, FilterType::Up)
        .write_image(rgb, w, h, ExtendedColorType::Rgb8)
        .map_err(|e| fail(e.to_string()))?;
    Ok(out)
}

/// Breaks text into lines of at most `width` pixels at a font size, by the usual width of a letter.
#[must_use]
pub(crate) fn wrapped(text: &str, width: f64, size: f64) -> Vec<String> {
    let most = ((width / (size * 0.53)) as usize).max(8);
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines.len() - 1;
        let fits = lines[line].chars().count() + word.chars().count() < most;
        if lines[line].is_empty() {
            lines[line].push_str(word);
        } else if fits {
            lines[line].push(' ');
            lines[line].push_str(word);
        } else {
            lines.push(word.to_string());
        }
    }
    lines
}

/// Shortens text to fit `width` pixels at a font size.
#[must_use]
pub(crate) fn shortened(text: &str, width: f64, size: f64) -> String {
    let most = ((width / (size * 0.53)) as usize).max(2);
    if text.chars().count() <= most {
        return text.into();
    }
    text.chars().take(most - 1).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_drawn_with_the_embedded_font() {
        let svg = |text: &str| {
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"80\" height=\"30\"><text x=\"2\" y=\"22\" \
                 font-family=\"{FONT}\" font-size=\"20\">{text}</text></svg>"
            )
        };
        let (width, height, pixels) = draw(&svg("4000 K")).expect("sound markup");
        assert_eq!((width, height, pixels.len()), (80, 30, 80 * 30 * 3));
        assert!(pixels.iter().filter(|v| **v < 128).count() > 200, "the letters are there");
        assert!(draw(&svg("")).is_ok_and(|(_, _, empty)| empty.iter().all(|v| *v == 255)));
        assert!(draw("<svg").is_err());
    }

    #[test]
    fn pixels_come_back_out_of_the_png() {
        let rgb: Vec<u8> = (0..300).map(|i| (i % 251) as u8).collect();
        let bytes = png(10, 10, &rgb).expect("fits");
        let back = image::load_from_memory(&bytes).expect("a PNG").into_rgb8();
        assert_eq!(back.into_raw(), rgb);
        assert!(png(10, 11, &rgb).is_err() && png(0, 0, &[]).is_err());
    }

    #[test]
    fn text_is_broken_and_shortened() {
        let lines = wrapped("one two three four five six seven", 100.0, 16.0);
        assert!(lines.len() > 2 && lines.iter().all(|l| l.chars().count() <= 11), "{lines:?}");
        assert_eq!(shortened("a long name for a stone", 80.0, 16.0), "a long n…");
    }
}

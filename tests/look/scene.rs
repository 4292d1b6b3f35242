//! A stone whose spectra are known, and pictures of it over a panel whose spectrum is known, as a camera would
//! take them. Colours are sums over the CIE 1931 observer (CIE 15:2018).

use std::fmt::Write as _;

use image::{ExtendedColorType, ImageEncoder};
use underlit::light::colour::{XYZ_TO_SRGB, encode, times};
use underlit::light::illuminants::named;
use underlit::light::spectrum::{COUNT, FIRST_NM, Spd, Transmittance};

use crate::book::Book;

pub(crate) const WIDTH: usize = 240;
pub(crate) const HEIGHT: usize = 160;
/// Where the stone is in every picture, and where the bare panel is.
pub(crate) const STONE: &str = "4,4,152,152";
pub(crate) const BARE: &str = "168,4,64,152";

pub(crate) fn light(name: &str) -> Spd {
    named(name).unwrap_or_else(|e| panic!("{e}")).at_unit_flux()
}

/// −ln T is a level and an edge that rises towards the blue.
fn part(level: f64, edge: f64) -> Transmittance {
    let depth = |i: usize| level + edge / (1.0 + (((FIRST_NM + i) as f64 - 500.0) / 45.0).exp());
    Transmittance::new((0..COUNT).map(|i| (-depth(i)).exp()).collect()).unwrap_or_else(|e| panic!("{e}"))
}

pub(crate) fn body() -> Transmittance {
    part(1.4, 1.2)
}

pub(crate) fn vein() -> Transmittance {
    part(2.1, 2.0)
}

/// The linear colours of a picture, 8-bit sRGB: stone on the left three quarters, a fifth of it vein (18 % of what `STONE` holds), bare panel on
/// the right; `gain` is the camera's exposure, 0.85 of white for the bare panel at 1, with 1 % of noise.
pub(crate) fn pixels(panel: &Spd, gain: f64) -> Vec<u8> {
    pixels_of(panel, gain, 1.0)
}

/// The same for a piece of another thickness, relative to the swatch's: all of it absorbs and nothing scatters.
pub(crate) fn pixels_of(panel: &Spd, gain: f64, thickness: f64) -> Vec<u8> {
    let bare = times(XYZ_TO_SRGB, panel.xyz());
    let scale = 0.85 * gain / bare.iter().copied().fold(0.0, f64::max);
    let colour = |stone: &Transmittance| {
        times(XYZ_TO_SRGB, panel.xyz_through(&stone.map(|t| t.powf(thickness)))).map(|v| v * scale)
    };
    let (body, vein, bare) = (colour(&body()), colour(&vein()), bare.map(|v| v * scale));
    let mut state = 1u64;
    let mut noise = move || {
        let mut sum = 0.0;
        for _ in 0..12 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            sum += (state >> 11) as f64 / (1u64 << 53) as f64;
        }
        1.0 + 0.01 * (sum - 6.0)
    };
    let mut rgb = Vec::with_capacity(WIDTH * HEIGHT * 3);
    for _ in 0..HEIGHT {
        for x in 0..WIDTH {
            let linear = match x {
                160.. => bare,
                x if x % 40 < 8 => vein,
                _ => body,
            };
            rgb.extend(linear.map(|v| (encode(v * noise()) * 255.0).round() as u8));
        }
    }
    rgb
}

pub(crate) fn png(rgb: &[u8]) -> Vec<u8> {
    png_as(rgb, ExtendedColorType::Rgb8)
}

pub(crate) fn png_as(bytes: &[u8], kind: ExtendedColorType) -> Vec<u8> {
    let mut out = Vec::new();
    image::codecs::png::PngEncoder::new(&mut out)
        .write_image(bytes, WIDTH as u32, HEIGHT as u32, kind)
        .unwrap_or_else(|e| panic!("{e}"));
    out
}

pub(crate) fn jpeg(rgb: &[u8], width: usize, height: usize) -> Vec<u8> {
    let mut out = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 95)
        .write_image(rgb, width as u32, height as u32, ExtendedColorType::Rgb8)
        .unwrap_or_else(|e| panic!("{e}"));
    out
}

/// A good photo over LED-B3.
pub(crate) fn photo() -> Vec<u8> {
    png(&pixels(&light("LED-B3"), 1.0))
}

/// A spectral file of columns at 5 nm.
pub(crate) fn csv(columns: &[(&str, &[f64])]) -> Vec<u8> {
    let mut text = String::from("wavelength_nm");
    columns.iter().for_each(|(name, _)| text.extend([",", name]));
    for i in (0..COUNT).step_by(5) {
        // Writing to a String does not fail.
        let _ = write!(text, "\n{}", FIRST_NM + i);
        columns.iter().for_each(|(_, values)| {
            let _ = write!(text, ",{:.6}", values[i]);
        });
    }
    text.push('\n');
    text.into_bytes()
}

/// A book whose swatch has been measured by that photo.
pub(crate) fn photographed() -> Book {
    let book = Book::new();
    book.put("a.png", &photo());
    let file = book.file("a.png").display().to_string();
    book.run(&format!(
        "swatch measure quay honey shot --photo {file} --stone {STONE} --bare {BARE} --panel-light LED-B3"
    ))
    .done();
    book
}

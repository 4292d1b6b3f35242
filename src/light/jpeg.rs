//! A JPEG's pixels as the file holds them: luma and two colour differences, rounded once.
//!
//! A decoder that hands out red, green and blue rounds a second time, and where a colour is even it rounds every
//! pixel alike: a dark blue is then off by a step or more however many pixels are averaged. So the differences
//! are kept beside the colours, and whoever measures reads those.

use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::picture::PictureError;

/// A JPEG's pixels, not yet upright.
pub(super) struct Jpeg {
    /// Width in pixels.
    pub(super) width: u32,
    /// Height in pixels.
    pub(super) height: u32,
    /// Three bytes for each pixel.
    pub(super) pixels: Vec<u8>,
    /// True where the bytes are luma and colour differences, else red, green and blue.
    pub(super) luma_chroma: bool,
    /// The colour profile.
    pub(super) icc: Option<Vec<u8>>,
    /// The camera's notes.
    pub(super) exif: Option<Vec<u8>>,
}

/// Reads a JPEG whose header is sound and whose size is bearable.
///
/// # Errors
/// Everything of [`PictureError`] that a JPEG can be.
pub(super) fn read(bytes: &[u8], most_pixels: u64) -> Result<Jpeg, PictureError> {
    check(bytes)?;
    let broken = |e: zune_jpeg::errors::DecodeErrors| PictureError::Broken(e.to_string());
    let options = || {
        DecoderOptions::default().set_strict_mode(false).set_max_width(usize::MAX).set_max_height(usize::MAX)
    };
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options());
    decoder.decode_headers().map_err(broken)?;
    let info = decoder.info().ok_or_else(|| PictureError::Broken("it has no header".into()))?;
    let (width, height) = (u32::from(info.width), u32::from(info.height));
    if u64::from(width) * u64::from(height) > most_pixels {
        return Err(PictureError::TooLarge { width, height });
    }
    let luma_chroma = match decoder.input_colorspace() {
        Some(ColorSpace::YCbCr) => true,
        Some(ColorSpace::RGB) => false,
        Some(ColorSpace::Luma | ColorSpace::LumaA) => return Err(PictureError::NoColour),
        Some(ColorSpace::CMYK | ColorSpace::YCCK) => return Err(PictureError::Cmyk),
        _ => return Err(PictureError::Broken("its channels are unknown".into())),
    };
    let (icc, exif) = (decoder.icc_profile(), decoder.exif().cloned());
    let as_stored = if luma_chroma { ColorSpace::YCbCr } else { ColorSpace::RGB };
    decoder.set_options(options().jpeg_set_out_colorspace(as_stored));
    let pixels = decoder.decode().map_err(broken)?;
    if pixels.len() as u64 != u64::from(width) * u64::from(height) * 3 {
        return Err(PictureError::Broken("its pixels do not fill its size".into()));
    }
    Ok(Jpeg { width, height, pixels, luma_chroma, icc, exif })
}

/// Steps within one 8-bit value to which colours are told from luma and colour differences.
pub(super) const FINE: i32 = 64;

/// What one colour difference adds to a channel, in steps of [`FINE`], for each of its bytes.
const fn added(factor: f64) -> [i32; 256] {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        let exact = factor * (byte as f64 - 128.0) * FINE as f64;
        table[byte] = (exact + if exact < 0.0 { -0.5 } else { 0.5 }) as i32;
        byte += 1;
    }
    table
}

// ITU-T T.871, the colours of JFIF.
static RED_OF_CR: [i32; 256] = added(1.402);
static GREEN_OF_CB: [i32; 256] = added(-0.344_136_286);
static GREEN_OF_CR: [i32; 256] = added(-0.714_136_286);
static BLUE_OF_CB: [i32; 256] = added(1.772);

/// Red, green and blue of luma and colour differences, 0 to 255 in steps of [`FINE`].
pub(super) fn rgb(y: u8, cb: u8, cr: u8) -> [usize; 3] {
    let (y, cb, cr) = (i32::from(y) * FINE, usize::from(cb), usize::from(cr));
    let held = |v: i32| v.clamp(0, 255 * FINE) as usize;
    [held(y + RED_OF_CR[cr]), held(y + GREEN_OF_CB[cb] + GREEN_OF_CR[cr]), held(y + BLUE_OF_CB[cb])]
}

/// 8-bit red, green and blue of all pixels.
pub(super) fn screen(luma_chroma: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(luma_chroma.len());
    for pixel in luma_chroma.chunks_exact(3) {
        let [red, green, blue] = rgb(pixel[0], pixel[1], pixel[2]);
        let half = FINE as usize / 2;
        let rounded = |v: usize| ((v + half) / FINE as usize) as u8;
        out.extend_from_slice(&[rounded(red), rounded(green), rounded(blue)]);
    }
    out
}

/// Looks at a JPEG's frame header, because the decoder turns CMYK into RGB without a word and pads a file
/// that was cut off with grey.
fn check(bytes: &[u8]) -> Result<(), PictureError> {
    let broken = |what: &str| PictureError::Broken(what.into());
    let mut at = 2;
    let mut framed = false;
    while at + 4 <= bytes.len() {
        if bytes[at] != 0xFF {
            return Err(broken("a marker is missing"));
        }
        let marker = bytes[at + 1];
        match marker {
            0xFF => {
                at += 1;
                continue;
            }
            0x01 | 0xD0..=0xD8 => {
                at += 2;
                continue;
            }
            _ => {}
        }
        let length = usize::from(u16::from_be_bytes([bytes[at + 2], bytes[at + 3]]));
        let is_frame = matches!(marker, 0xC0..=0xCF) && !matches!(marker, 0xC4 | 0xC8 | 0xCC);
        if is_frame && at + 10 <= bytes.len() {
            framed = true;
            if bytes[at + 4] != 8 {
                return Err(PictureError::Deep);
            }
            match bytes[at + 9] {
                3 => {}
                1 => return Err(PictureError::NoColour),
                4 => return Err(PictureError::Cmyk),
                _ => return Err(broken("its count of channels is unknown")),
            }
        }
        if marker == 0xDA {
            let ended = bytes[at..].windows(2).any(|pair| pair == [0xFF, 0xD9]);
            return if framed && ended { Ok(()) } else { Err(broken("the file is cut off")) };
        }
        at += 2 + length;
    }
    Err(broken("the file is cut off"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand from ITU-T T.871: red 255 is Y 76, Cb 85, Cr 255 and comes back within what rounding leaves.
    #[test]
    fn colours_come_back_from_luma_and_differences() {
        for colour in [[255u8, 0, 0], [0, 255, 0], [0, 0, 255], [17, 16, 9], [128, 128, 128], [240, 180, 90]]
        {
            let [r, g, b] = colour.map(f64::from);
            let stored = [
                0.299 * r + 0.587 * g + 0.114 * b,
                128.0 - 0.168_736 * r - 0.331_264 * g + 0.5 * b,
                128.0 + 0.5 * r - 0.418_688 * g - 0.081_312 * b,
            ]
            .map(|v| v.round().clamp(0.0, 255.0) as u8);
            let [y, cb, cr] = stored;
            for (fine, value) in rgb(y, cb, cr).into_iter().zip(colour) {
                assert!((fine as f64 / f64::from(FINE) - f64::from(value)).abs() < 1.6, "{colour:?} {fine}");
            }
        }
        assert_eq!(screen(&[100, 128, 128, 0, 255, 128]), [100, 100, 100, 0, 0, 225]);
    }
}

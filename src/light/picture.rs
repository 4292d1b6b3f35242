//! A photo as bytes, turned into upright pixels whose colours mean something, or refused in words.
//!
//! Only what the colour arithmetic can stand behind is taken: 8-bit RGB in sRGB or Display P3. A format
//! that would have to be guessed at (CMYK, 16-bit, black and white, unknown profile) is refused, because a
//! wrong guess would look like a prediction.

use std::io::Cursor;
use std::sync::LazyLock;

use image::metadata::Orientation;
use image::{ColorType, DynamicImage, ImageDecoder, ImageFormat};

pub use super::camera_notes::Exposure;
use super::camera_notes::camera_notes;
use super::colour::{self, Matrix};
use super::jpeg;
pub use super::picture_error::PictureError;

/// The most pixels taken: 64 megapixels, which leaves room for what a photo is turned into.
pub(crate) const MOST_PIXELS: u64 = 64_000_000;

/// The colour space of a picture's numbers; both share sRGB's transfer curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Space {
    /// sRGB (IEC 61966-2-1).
    Srgb,
    /// Display P3: DCI-P3 primaries with D65 and sRGB's curve (SMPTE EG 432-1), as many phones write.
    DisplayP3,
}

impl Space {
    /// Linear RGB to XYZ, Y of white = 1.
    #[must_use]
    pub(crate) fn to_xyz(self) -> Matrix {
        match self {
            Space::Srgb => colour::SRGB_TO_XYZ,
            // From the primaries (0.680, 0.320), (0.265, 0.690), (0.150, 0.060) and D65.
            Space::DisplayP3 => [
                [0.486_570_948_648_216, 0.265_667_693_169_093, 0.198_217_285_234_362_5],
                [0.228_974_564_069_748_8, 0.691_738_521_836_506_4, 0.079_286_914_093_745],
                [0.0, 0.045_113_381_858_902_64, 1.043_944_368_900_976],
            ],
        }
    }
}

/// An upright picture.
#[derive(Clone, Debug)]
pub struct Picture {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// Red, green, blue, row by row from the top left.
    pub rgb: Vec<u8>,
    /// Luma and two colour differences per pixel as a JPEG holds them, finer than `rgb`, which is made from
    /// them; none where the picture is no such JPEG.
    pub luma_chroma: Option<Vec<u8>>,
    /// What the numbers mean.
    pub space: Space,
    /// How it was exposed; none where the camera wrote nothing down.
    pub exposure: Option<Exposure>,
    /// True where the camera noted that it set its white by itself.
    pub automatic_white: bool,
    /// What deserves a second look, one sentence each.
    pub remarks: Vec<String>,
}

impl Picture {
    /// A picture of these values in sRGB, of which nothing else is known.
    #[must_use]
    pub fn of(width: usize, height: usize, rgb: Vec<u8>) -> Picture {
        Picture {
            width,
            height,
            rgb,
            luma_chroma: None,
            space: Space::Srgb,
            exposure: None,
            automatic_white: false,
            remarks: Vec::new(),
        }
    }

    /// Reads a PNG or JPEG.
    ///
    /// # Errors
    /// Everything of [`PictureError`]; never panics, whatever the bytes.
    pub fn read(bytes: &[u8]) -> Result<Picture, PictureError> {
        if is_heif(bytes) {
            return Err(PictureError::Heif);
        }
        let format = image::guess_format(bytes).map_err(|_| PictureError::UnknownFormat)?;
        let (mut pixels, on) = match format {
            ImageFormat::Jpeg => from_jpeg(bytes)?,
            ImageFormat::Png => decoded(image::codecs::png::PngDecoder::new(Cursor::new(bytes)))?,
            _ => return Err(PictureError::UnknownFormat),
        };
        let mut remarks = Vec::new();
        let space = match on.icc.as_deref().map(profile) {
            None | Some(Some(Space::Srgb)) => Space::Srgb,
            Some(Some(Space::DisplayP3)) => Space::DisplayP3,
            Some(None) => return Err(PictureError::Profile),
        };
        let notes = on.exif.as_deref().map(camera_notes).unwrap_or_default();
        if notes.uncalibrated && on.icc.is_none() {
            return Err(PictureError::Profile);
        }
        if let Some(orientation) = notes.orientation.filter(|o| *o != Orientation::NoTransforms) {
            pixels.apply_orientation(orientation);
            remarks.push(
                "turned upright as the camera noted; places in it count on the upright picture".to_string(),
            );
        }
        if pixels.color() == ColorType::Rgba8 && pixels.as_bytes().chunks_exact(4).any(|p| p[3] != 255) {
            return Err(PictureError::Transparent);
        }
        let upright = pixels.into_rgb8();
        let (width, height) = (upright.width() as usize, upright.height() as usize);
        if width == 0 || height == 0 {
            return Err(PictureError::Broken("it has no pixels".into()));
        }
        let stored = upright.into_raw();
        let (rgb, luma_chroma) =
            if on.luma_chroma { (jpeg::screen(&stored), Some(stored)) } else { (stored, None) };
        Ok(Picture {
            width,
            height,
            rgb,
            luma_chroma,
            space,
            exposure: notes.exposure,
            automatic_white: notes.automatic_white,
            remarks,
        })
    }

    /// The pixel at a place; both counted from 0 at the top left, within the picture.
    #[must_use]
    pub(crate) fn pixel(&self, x: usize, y: usize) -> [u8; 3] {
        let at = (y * self.width + x) * 3;
        [self.rgb[at], self.rgb[at + 1], self.rgb[at + 2]]
    }

    /// The same picture at most `widest` pixels wide, averaged in linear light; none of it is invented, so a
    /// smaller picture is given back as it is.
    #[must_use]
    pub(crate) fn shrunk(&self, widest: usize) -> Picture {
        if widest == 0 || self.width <= widest {
            return self.clone();
        }
        let linear = linear_table();
        let (width, height) = (widest, (self.height * widest / self.width).max(1));
        let mut rgb = Vec::with_capacity(width * height * 3);
        let span = |i: usize, n: usize, of: usize| (i * of / n, ((i + 1) * of / n).max(i * of / n + 1));
        for y in 0..height {
            let (y0, y1) = span(y, height, self.height);
            for x in 0..width {
                let (x0, x1) = span(x, width, self.width);
                let mut sum = [0.0f64; 3];
                for row in y0..y1 {
                    let start = (row * self.width + x0) * 3;
                    for pixel in self.rgb[start..start + (x1 - x0) * 3].chunks_exact(3) {
                        for k in 0..3 {
                            sum[k] += linear[usize::from(pixel[k])];
                        }
                    }
                }
                let count = ((x1 - x0) * (y1 - y0)) as f64;
                rgb.extend(sum.map(|s| (colour::encode(s / count) * 255.0).round() as u8));
            }
        }
        Picture {
            width,
            height,
            rgb,
            luma_chroma: None,
            space: self.space,
            exposure: self.exposure,
            automatic_white: self.automatic_white,
            remarks: self.remarks.clone(),
        }
    }

    /// The picture as JPEG, for a page.
    ///
    /// # Errors
    /// [`PictureError::Broken`] where it has no pixels.
    pub(crate) fn jpeg(&self) -> Result<Vec<u8>, PictureError> {
        const QUALITY: u8 = 84;
        let broken = |e: image::ImageError| PictureError::Broken(e.to_string());
        let size = |n: usize| u32::try_from(n).map_err(|_| PictureError::Broken("it is too large".into()));
        let mut bytes = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, QUALITY)
            .encode(&self.rgb, size(self.width)?, size(self.height)?, image::ExtendedColorType::Rgb8)
            .map_err(broken)?;
        Ok(bytes)
    }

    /// Reads the picture's light from the finest numbers that it holds.
    #[must_use]
    pub(crate) fn light(&self) -> LightOf<'_> {
        LightOf { picture: self, curve: &CURVE }
    }
}

/// Steps of the curve from 8-bit values to linear light within one value.
const FINE: usize = jpeg::FINE as usize;

/// Linear light at every step.
static CURVE: LazyLock<Vec<f64>> = LazyLock::new(|| {
    (0..=255 * FINE).map(|fine| colour::decode(fine as f64 / (255.0 * FINE as f64))).collect()
});

/// Linear light of a picture's pixels.
pub(crate) struct LightOf<'a> {
    picture: &'a Picture,
    curve: &'a [f64],
}

impl LightOf<'_> {
    /// Linear red, green and blue, 0 to 1, of the pixel at a place within the picture.
    #[must_use]
    pub(crate) fn at(&self, x: usize, y: usize) -> [f64; 3] {
        let at = (y * self.picture.width + x) * 3;
        match &self.picture.luma_chroma {
            Some(stored) => {
                jpeg::rgb(stored[at], stored[at + 1], stored[at + 2]).map(|fine| self.curve[fine])
            }
            None => {
                let rgb = &self.picture.rgb;
                [rgb[at], rgb[at + 1], rgb[at + 2]].map(|v| self.curve[usize::from(v) * FINE])
            }
        }
    }
}

/// True for a photo in the High Efficiency Image File Format (ISO/IEC 23008-12) or AVIF: a file type box whose major or
/// compatible brands say so.
#[must_use]
pub(crate) fn is_heif(bytes: &[u8]) -> bool {
    let Some((head, rest)) = bytes.split_at_checked(8).filter(|(head, _)| head.ends_with(b"ftyp")) else {
        return false;
    };
    let long = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
    let brands = rest.get(..long.saturating_sub(8).clamp(4, 256)).unwrap_or(rest);
    let known = ["heic", "heix", "hevc", "hevx", "heim", "heis", "mif1", "msf1", "avif", "avis"];
    brands.chunks_exact(4).any(|brand| known.iter().any(|k| k.as_bytes() == brand))
}

/// Linear light for each 8-bit value.
#[must_use]
pub(crate) fn linear_table() -> [f64; 256] {
    std::array::from_fn(|i| colour::decode(i as f64 / 255.0))
}

struct ReadOn {
    luma_chroma: bool,
    icc: Option<Vec<u8>>,
    exif: Option<Vec<u8>>,
}

fn from_jpeg(bytes: &[u8]) -> Result<(DynamicImage, ReadOn), PictureError> {
    let read = jpeg::read(bytes, MOST_PIXELS)?;
    let pixels = image::RgbImage::from_raw(read.width, read.height, read.pixels)
        .ok_or_else(|| PictureError::Broken("its pixels do not fill its size".into()))?;
    let on = ReadOn { luma_chroma: read.luma_chroma, icc: read.icc, exif: read.exif };
    Ok((DynamicImage::ImageRgb8(pixels), on))
}

fn decoded(decoder: image::ImageResult<impl ImageDecoder>) -> Result<(DynamicImage, ReadOn), PictureError> {
    let broken = |e: image::ImageError| PictureError::Broken(e.to_string());
    let mut decoder = decoder.map_err(broken)?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(PictureError::TooLarge { width, height });
    }
    match decoder.color_type() {
        ColorType::Rgb8 | ColorType::Rgba8 => {}
        ColorType::L8 | ColorType::La8 => return Err(PictureError::NoColour),
        _ => return Err(PictureError::Deep),
    }
    let on = ReadOn {
        luma_chroma: false,
        icc: decoder.icc_profile().ok().flatten(),
        exif: decoder.exif_metadata().ok().flatten(),
    };
    Ok((DynamicImage::from_decoder(decoder).map_err(broken)?, on))
}

/// The space that a colour profile names; none where it is another one.
fn profile(icc: &[u8]) -> Option<Space> {
    let named = |name: &str| {
        let wide: Vec<u8> = name.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let plain = name.as_bytes();
        icc.windows(plain.len()).any(|w| w.eq_ignore_ascii_case(plain))
            || icc.windows(wide.len()).any(|w| w.eq_ignore_ascii_case(&wide))
    };
    if ["Linear sRGB", "sRGB Linear", "Linear P3", "P3 Linear"].into_iter().any(named) {
        // The same primaries without the transfer curve would be read far too dark.
        None
    } else if named("Display P3") {
        Some(Space::DisplayP3)
    } else if named("sRGB") || named("IEC61966-2-1") || named("IEC61966-2.1") {
        Some(Space::Srgb)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{ExtendedColorType, ImageEncoder};

    fn png(width: u32, height: u32, kind: ExtendedColorType, bytes: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        image::codecs::png::PngEncoder::new(&mut out)
            .write_image(bytes, width, height, kind)
            .unwrap_or_else(|e| panic!("{e}"));
        out
    }

    fn jpeg(orientation: Option<u16>) -> Vec<u8> {
        let (width, height) = (16u32, 8u32);
        let pixels: Vec<u8> = (0..width * height)
            .flat_map(|i| if i % 16 < 8 { [200, 40, 40] } else { [40, 40, 200] })
            .collect();
        let mut out = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 95)
            .write_image(&pixels, width, height, ExtendedColorType::Rgb8)
            .unwrap_or_else(|e| panic!("{e}"));
        let Some(orientation) = orientation else { return out };
        // A minimal EXIF block: one short value, tag 0x0112, little-endian TIFF.
        let mut tiff = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
        tiff.extend(orientation.to_le_bytes());
        tiff.extend([0, 0, 0, 0, 0, 0]);
        let mut whole = out[..2].to_vec();
        whole.extend([0xFF, 0xE1]);
        whole.extend(u16::try_from(tiff.len() + 2).unwrap_or(0).to_be_bytes());
        whole.extend(tiff);
        whole.extend(&out[2..]);
        whole
    }

    fn code(bytes: &[u8]) -> &'static str {
        Picture::read(bytes).err().map_or("was read", |e| e.code())
    }

    #[test]
    fn a_plain_picture_is_read_as_it_is() {
        let read = Picture::read(&png(2, 1, ExtendedColorType::Rgb8, &[1, 2, 3, 4, 5, 6])).expect("sound");
        assert_eq!((read.width, read.height, read.pixel(1, 0)), (2, 1, [4, 5, 6]));
        assert_eq!((read.space, read.exposure), (Space::Srgb, None));
        assert!(Picture::read(&png(1, 1, ExtendedColorType::Rgba8, &[9, 9, 9, 255])).is_ok());
    }

    #[test]
    fn a_turned_picture_is_set_upright_and_says_so() {
        let upright = Picture::read(&jpeg(Some(6))).expect("sound");
        assert_eq!((upright.width, upright.height), (8, 16));
        assert!(upright.pixel(4, 2)[0] > 150, "what was left is on top now: {:?}", upright.pixel(4, 2));
        assert!(upright.remarks.iter().any(|r| r.contains("upright")));
        assert!(Picture::read(&jpeg(None)).is_ok_and(|p| p.width == 16 && p.remarks.is_empty()));
    }

    #[test]
    fn pictures_that_do_not_tell_the_light_are_refused() {
        assert_eq!(code(b"GIF89a"), "picture-format");
        assert_eq!(code(b""), "picture-format");
        // The first bytes of photos off telephones: the file type box by ISO/IEC 14496-12, its brands by 23008-12.
        assert_eq!(
            code(b"\0\0\0\x24ftypheic\0\0\0\0mif1MiHEMiPrmiafheictmap\0\0\x0e\x2cmeta"),
            "picture-heic"
        );
        assert_eq!(code(b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic\0\0\x02\x12meta"), "picture-heic");
        assert_eq!(code(b"\0\0\0\x1cftypavif\0\0\0\0avifmif1miaf"), "picture-heic");
        assert_eq!(code(b"\0\0\0\x18ftypisom\0\0\0\0isomavc1"), "picture-format", "a film");
        assert_eq!(code(&png(1, 1, ExtendedColorType::Rgb16, &[0; 6])), "picture-16-bit");
        assert_eq!(code(&png(1, 1, ExtendedColorType::L8, &[0])), "picture-no-colour");
        assert_eq!(code(&png(1, 1, ExtendedColorType::Rgba8, &[9, 9, 9, 10])), "picture-transparent");
        let sound = jpeg(None);
        assert_eq!(code(&sound[..sound.len() / 2]), "picture-broken");
        assert_eq!(code(&sound[..sound.len() - 2]), "picture-broken");
        let mut inks = sound.clone();
        let frame = inks.windows(2).position(|w| w == [0xFF, 0xC0]).expect("a baseline frame");
        inks[frame + 9] = 4;
        assert_eq!(code(&inks), "picture-cmyk");
        let small = png(1, 1, ExtendedColorType::Rgb8, &[0; 3]);
        assert_eq!(code(&small[..20]), "picture-broken");
        // A header alone that claims 20000 × 10000 pixels: refused before anything is allocated.
        let mut huge = small[..16].to_vec();
        huge.extend(20_000u32.to_be_bytes());
        huge.extend(10_000u32.to_be_bytes());
        huge.extend([8, 2, 0, 0, 0]);
        let crc = crc32(&huge[12..]);
        huge.extend(crc.to_be_bytes());
        huge.extend(&small[33..]);
        assert_eq!(code(&huge), "picture-too-large");
    }

    fn crc32(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |crc, byte| {
            (0..8)
                .fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xEDB8_8320 } else { c >> 1 })
        })
    }

    #[test]
    fn shrinking_averages_light_and_not_numbers() {
        let read =
            Picture::read(&png(2, 1, ExtendedColorType::Rgb8, &[0, 0, 0, 255, 255, 255])).expect("sound");
        assert_eq!(read.shrunk(1).pixel(0, 0), [188; 3], "half the light is 188 in sRGB, not 128");
        assert_eq!(read.shrunk(10).rgb, read.rgb);
    }
}

//! A photo without what it tells of its maker: place, time, owner, serial numbers, device, thumbnails, edits.
//!
//! Kept are the pixels as they are coded, orientation, colour profile, resolution, and the notes of exposure and white
//! balance that measuring reads. Everything else of EXIF, XMP, IPTC, comments and text goes, with whatever lies behind
//! the end of the picture. Nothing is decoded, so no pixel changes. What is not here: reading a picture; that is
//! `picture`.
//!
//! Sources: ITU-T T.81 annex B (JPEG markers), the PNG specification (W3C, third edition) for chunks, CIPA DC-008 for
//! the fields of EXIF; all from memory, held by tests to pictures that `image` and `kamadak-exif` read.

use std::io::Cursor;

use exif::experimental::Writer;
use exif::{Field, In, Tag};

/// The notes that stay: how to hold the picture, and what measuring reads.
const KEPT_NOTES: &[Tag] = &[
    Tag::Orientation,
    Tag::ExposureTime,
    Tag::FNumber,
    Tag::PhotographicSensitivity,
    Tag::ExposureBiasValue,
    Tag::ExposureMode,
    Tag::WhiteBalance,
    Tag::ColorSpace,
];

/// Chunks of a PNG that are picture, colour or resolution.
const KEPT_CHUNKS: &[&[u8; 4]] = &[
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP",
    b"mDCV", b"cLLI", b"bKGD", b"hIST", b"pHYs", b"acTL", b"fcTL", b"fdAT",
];

/// What became of a file that is about to be taken in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Cleaned {
    /// It is no picture of a kind that carries such notes.
    NoPhoto,
    /// The bytes without the notes; the same where there were none.
    Photo(Vec<u8>),
    /// A picture whose notes cannot be taken out here, and why.
    Unable(&'static str),
}

/// Takes the private notes out of a photo.
#[must_use]
pub(crate) fn without_private_notes(bytes: &[u8]) -> Cleaned {
    let found = if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        jpeg(bytes)
    } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        png(bytes)
    } else if is_other_photo(bytes) {
        return Cleaned::Unable("it is of a kind whose notes underlit cannot take out");
    } else {
        return Cleaned::NoPhoto;
    };
    found.map_or(Cleaned::Unable("its parts do not fit together"), Cleaned::Photo)
}

/// Photos of other kinds: TIFF and what cameras build on it, WebP, HEIF, AVIF and film.
fn is_other_photo(bytes: &[u8]) -> bool {
    let at = |from: usize, what: &[u8]| bytes.get(from..).is_some_and(|rest| rest.starts_with(what));
    at(0, b"II*\0") || at(0, b"MM\0*") || (at(0, b"RIFF") && at(8, b"WEBP")) || at(4, b"ftyp")
}

/// The notes that stay, written anew; none where there are none.
fn kept_notes(tiff: &[u8]) -> Option<Vec<u8>> {
    let read = exif::Reader::new().read_raw(tiff.to_vec()).ok()?;
    let kept: Vec<&Field> = KEPT_NOTES.iter().filter_map(|tag| read.get_field(*tag, In::PRIMARY)).collect();
    if kept.is_empty() {
        return None;
    }
    let mut writer = Writer::new();
    kept.into_iter().for_each(|field| writer.push_field(field));
    let mut out = Cursor::new(Vec::new());
    writer.write(&mut out, true).ok()?;
    Some(out.into_inner())
}

fn jpeg(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = vec![0xff, 0xd8];
    let mut at = 2;
    loop {
        // A marker may have any number of fill bytes before it.
        while bytes.get(at) == Some(&0xff) && bytes.get(at + 1) == Some(&0xff) {
            at += 1;
        }
        let (0xff, marker) = (*bytes.get(at)?, *bytes.get(at + 1)?) else { return None };
        if marker == 0xd9 {
            out.extend([0xff, 0xd9]);
            return Some(out);
        }
        let length = usize::from(u16::from_be_bytes([*bytes.get(at + 2)?, *bytes.get(at + 3)?]));
        let body = bytes.get(at + 4..at + 2 + length)?;
        match marker {
            0xe0 if body.starts_with(b"JFIF\0") && body.len() >= 14 => {
                // Without its thumbnail.
                segment(&mut out, marker, &[body.get(..12)?, &[0, 0]].concat())?;
            }
            0xe1 if body.starts_with(b"Exif\0\0") => {
                if let Some(notes) = kept_notes(body.get(6..)?) {
                    segment(&mut out, marker, &[b"Exif\0\0", notes.as_slice()].concat())?;
                }
            }
            0xe2 if body.starts_with(b"ICC_PROFILE\0") => segment(&mut out, marker, body)?,
            0xee if body.starts_with(b"Adobe") => segment(&mut out, marker, body)?,
            0xe0..=0xef | 0xfe => {}
            0xc0..=0xcf | 0xda..=0xdf => segment(&mut out, marker, body)?,
            _ => return None,
        }
        at += 2 + length;
        if marker == 0xda {
            let end = end_of_scan(bytes, at);
            out.extend(&bytes[at..end]);
            at = end;
            if at >= bytes.len() {
                return Some(out); // cut off, as it came
            }
        }
    }
}

/// Writes a segment of a JPEG.
fn segment(out: &mut Vec<u8>, marker: u8, body: &[u8]) -> Option<()> {
    out.extend([0xff, marker]);
    out.extend(u16::try_from(body.len() + 2).ok()?.to_be_bytes());
    out.extend(body);
    Some(())
}

/// Where the coded pixels end that begin at a place: at the next marker that is none of theirs.
fn end_of_scan(bytes: &[u8], from: usize) -> usize {
    let of_pixels = |after: u8| after == 0 || (0xd0..=0xd7).contains(&after) || after == 0xff;
    let ends = |at: &usize| bytes[*at] == 0xff && bytes.get(at + 1).is_some_and(|after| !of_pixels(*after));
    (from..bytes.len()).find(ends).unwrap_or(bytes.len())
}

fn png(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = bytes.get(..8)?.to_vec();
    let mut at = 8;
    loop {
        let length = u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?) as usize;
        let whole = bytes.get(at..at.checked_add(length)?.checked_add(12)?)?;
        let (kind, body) = (whole.get(4..8)?, whole.get(8..8 + length)?);
        if KEPT_CHUNKS.iter().any(|kept| kept.as_slice() == kind) {
            out.extend(whole);
        } else if kind == b"eXIf" {
            if let Some(notes) = kept_notes(body) {
                out.extend(u32::try_from(notes.len()).ok()?.to_be_bytes());
                let named = [b"eXIf", notes.as_slice()].concat();
                out.extend(&named);
                out.extend(crc32(&named).to_be_bytes());
            }
        } else if kind.first().is_some_and(u8::is_ascii_uppercase) {
            return None; // needed for the picture, and unknown
        }
        at += length + 12;
        if kind == b"IEND" {
            return Some(out);
        }
    }
}

/// The check sum of a PNG's chunk (annex D of its specification).
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, _| if crc & 1 == 1 { 0xedb8_8320 ^ (crc >> 1) } else { crc >> 1 };
    !bytes.iter().fold(u32::MAX, |crc, byte| (0..8).fold(crc ^ u32::from(*byte), step))
}

#[cfg(test)]
mod tests {
    use super::*;
    use exif::{Rational, Value};
    use image::{ImageEncoder as _, RgbImage};

    fn picture() -> RgbImage {
        RgbImage::from_fn(40, 30, |x, y| image::Rgb([(x * 6) as u8, (y * 8) as u8, 90]))
    }

    /// EXIF with all that a telephone writes.
    fn notes() -> Vec<u8> {
        let field = |tag, value| Field { tag, ifd_num: In::PRIMARY, value };
        let text = |words: &str| Value::Ascii(vec![words.as_bytes().to_vec()]);
        let degrees = Value::Rational(vec![Rational { num: 52, denom: 1 }; 3]);
        let fields = [
            field(Tag::Orientation, Value::Short(vec![6])),
            field(Tag::ExposureTime, Value::Rational(vec![Rational { num: 1, denom: 60 }])),
            field(Tag::FNumber, Value::Rational(vec![Rational { num: 28, denom: 10 }])),
            field(Tag::PhotographicSensitivity, Value::Short(vec![200])),
            field(Tag::WhiteBalance, Value::Short(vec![0])),
            field(Tag::GPSLatitude, degrees),
            field(Tag::Artist, text("SECRET owner")),
            field(Tag::BodySerialNumber, text("SECRET serial")),
            field(Tag::Model, text("SECRET device")),
            field(Tag::DateTimeOriginal, text("SECRET:11:27 10:00:00")),
            field(Tag::UserComment, Value::Undefined(b"SECRET words".to_vec(), 0)),
        ];
        let mut writer = Writer::new();
        fields.iter().for_each(|f| writer.push_field(f));
        let mut out = Cursor::new(Vec::new());
        writer.write(&mut out, false).expect("written");
        out.into_inner()
    }

    fn evil_jpeg() -> Vec<u8> {
        let mut plain = Vec::new();
        let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut plain, 90);
        let image = picture();
        encoder.write_image(&image, 40, 30, image::ExtendedColorType::Rgb8).expect("encoded");
        let mut out = vec![0xff, 0xd8];
        let mut put = |marker: u8, body: &[u8]| segment(&mut out, marker, body).expect("short");
        put(0xe1, &[b"Exif\0\0".as_slice(), &notes()].concat());
        put(0xe1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>SECRET</x:xmpmeta>");
        put(0xed, b"Photoshop 3.0\x008BIM\x04\x04SECRET");
        put(0xe2, b"MPF\0SECRET");
        put(0xe2, b"ICC_PROFILE\0\x01\x01profile");
        put(0xfe, b"SECRET comment");
        out.extend(&plain[2..]);
        out.extend(b"SECRET film behind the end");
        out
    }

    fn evil_png() -> Vec<u8> {
        let mut plain = Vec::new();
        let encoder = image::codecs::png::PngEncoder::new(&mut plain);
        encoder.write_image(&picture(), 40, 30, image::ExtendedColorType::Rgb8).expect("encoded");
        let mut out = plain[..33].to_vec();
        for (kind, body) in [
            (b"eXIf", notes()),
            (b"tEXt", b"Author\0SECRET".to_vec()),
            (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0SECRET".to_vec()),
            (b"tIME", b"SECRET.".to_vec()),
            (b"prVt", b"SECRET".to_vec()),
        ] {
            let named = [kind.as_slice(), &body].concat();
            out.extend((body.len() as u32).to_be_bytes());
            out.extend(&named);
            out.extend(crc32(&named).to_be_bytes());
        }
        out.extend(&plain[33..]);
        out.extend(b"SECRET");
        out
    }

    fn holds_secret(bytes: &[u8]) -> bool {
        bytes.windows(6).any(|w| w == b"SECRET")
    }

    #[test]
    fn a_photo_keeps_its_pixels_and_what_measuring_reads_and_nothing_of_its_maker() {
        for evil in [evil_jpeg(), evil_png()] {
            assert!(holds_secret(&evil));
            let Cleaned::Photo(clean) = without_private_notes(&evil) else { panic!("a photo") };
            assert!(!holds_secret(&clean));
            let decoded = |bytes: &[u8]| image::load_from_memory(bytes).expect("a picture").to_rgb8();
            assert!(decoded(&clean) == decoded(&evil), "the same pixels");
            let read = exif::Reader::new().read_from_container(&mut Cursor::new(&clean)).expect("notes");
            let number = |tag| read.get_field(tag, In::PRIMARY).and_then(|f| f.value.get_uint(0));
            assert_eq!(
                (number(Tag::Orientation), number(Tag::PhotographicSensitivity)),
                (Some(6), Some(200))
            );
            assert!(read.get_field(Tag::ExposureTime, In::PRIMARY).is_some());
            for gone in
                [Tag::GPSLatitude, Tag::Artist, Tag::Model, Tag::BodySerialNumber, Tag::DateTimeOriginal]
            {
                assert!(read.get_field(gone, In::PRIMARY).is_none(), "{gone}");
            }
            // What is clean stays as it is, byte for byte.
            assert_eq!(without_private_notes(&clean), Cleaned::Photo(clean.clone()));
        }
        assert!(evil_jpeg().windows(11).any(|w| w == b"ICC_PROFILE"));
        let Cleaned::Photo(clean) = without_private_notes(&evil_jpeg()) else { panic!("a photo") };
        assert!(clean.windows(11).any(|w| w == b"ICC_PROFILE"), "the colour profile stays");
    }

    #[test]
    fn other_files_are_told_apart_and_damage_is_no_panic() {
        assert_eq!(without_private_notes(b"%PDF-1.7"), Cleaned::NoPhoto);
        assert_eq!(without_private_notes(b""), Cleaned::NoPhoto);
        for other in [b"II*\0........".as_slice(), b"\0\0\0\x18ftypheic....", b"RIFF\0\0\0\0WEBPVP8 "] {
            assert!(matches!(without_private_notes(other), Cleaned::Unable(_)));
        }
        for evil in [evil_jpeg(), evil_png()] {
            for end in 3..evil.len() {
                let _ = without_private_notes(&evil[..end]);
                let mut torn = evil.clone();
                torn[end] ^= 0x5a;
                if let Cleaned::Photo(clean) = without_private_notes(&torn[..end]) {
                    assert!(clean.len() <= end + 200);
                }
            }
        }
    }
}

//! What a camera wrote into its photo: how to hold it, how it was exposed, what its numbers mean.

use image::metadata::Orientation;

/// How a picture was exposed, as its camera wrote down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exposure {
    /// Exposure time in seconds.
    pub time_s: f64,
    /// f-number of the lens.
    pub f_number: f64,
    /// ISO sensitivity.
    pub iso: f64,
}

impl Exposure {
    /// How much light a pixel value stands for, relative to 1 s, f/1, ISO 1: a picture of twice the factor
    /// shows the same panel twice as bright.
    #[must_use]
    pub(crate) fn factor(self) -> f64 {
        self.time_s * self.iso / (self.f_number * self.f_number)
    }
}

#[derive(Default)]
pub(super) struct CameraNotes {
    pub(super) orientation: Option<Orientation>,
    pub(super) exposure: Option<Exposure>,
    pub(super) automatic_white: bool,
    pub(super) uncalibrated: bool,
}

/// What the camera wrote down; notes that cannot be read count as none.
pub(super) fn camera_notes(raw: &[u8]) -> CameraNotes {
    let Ok(exif) = exif::Reader::new().read_raw(raw.to_vec()) else {
        return CameraNotes::default();
    };
    let field = |tag| exif.get_field(tag, exif::In::PRIMARY);
    let whole = |tag| field(tag).and_then(|f| f.value.get_uint(0));
    let fraction = |tag| match field(tag).map(|f| &f.value) {
        Some(exif::Value::Rational(v)) => {
            v.first().map(exif::Rational::to_f64).filter(|v| *v > 0.0 && v.is_finite())
        }
        _ => None,
    };
    let exposure = match (
        fraction(exif::Tag::ExposureTime),
        fraction(exif::Tag::FNumber),
        whole(exif::Tag::PhotographicSensitivity),
    ) {
        (Some(time_s), Some(f_number), Some(iso)) if iso > 0 => {
            Some(Exposure { time_s, f_number, iso: f64::from(iso) })
        }
        _ => None,
    };
    CameraNotes {
        orientation: whole(exif::Tag::Orientation)
            .and_then(|v| u8::try_from(v).ok())
            .and_then(Orientation::from_exif),
        exposure,
        automatic_white: whole(exif::Tag::WhiteBalance) == Some(0),
        uncalibrated: whole(exif::Tag::ColorSpace) == Some(0xFFFF),
    }
}

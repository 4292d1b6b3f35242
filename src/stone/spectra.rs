//! Lights, stones and photos out of files: bytes and names in, what the light room makes of them out, with its
//! refusals worded as faults in their file.
//!
//! What is predicted from them is in [`super::look`]; how a measurement is kept is in [`super::measure`].

use crate::fault::{Fault, Outcome};
use crate::light::area::Area;
use crate::light::chart::Chart;
use crate::light::columns::{MeasurementError, Read};
use crate::light::figures::white_point;
use crate::light::illuminants;
use crate::light::photo_values::Values;
use crate::light::picture::Picture;
use crate::light::spectrum::Spd;
use crate::light::spectrum_csv::{self, StoneColumn};
use crate::light::swatch_photo::{Bare, PhotoError, SwatchPhoto};
use crate::light::tm27;
use crate::units::Millimetres;

/// A light, what people call it, and how far it is known.
#[derive(Clone, Debug)]
pub(crate) struct KnownLight {
    /// Its spectrum.
    pub light: Spd,
    /// What people call it.
    pub name: String,
    /// True where its own spectrum was measured; false where a standard or typical light stands in for it.
    pub measured: bool,
}

impl KnownLight {
    /// Its colour temperature in whole kelvin; none where that has no meaning.
    #[must_use]
    pub(crate) fn cct_k(&self) -> Option<u32> {
        white_point(&self.light).cct_k.map(|k| k.round() as u32)
    }
}

/// A typical LED white of a colour temperature, standing in for a panel that nobody has measured.
///
/// # Errors
/// `no-typical-white`, outside what the standard LED whites span.
pub(crate) fn white(cct_k: u32) -> Outcome<KnownLight> {
    match illuminants::typical_white(f64::from(cct_k)) {
        Some(light) => Ok(KnownLight { light, name: format!("typical white at {cct_k} K"), measured: false }),
        None => Err(Box::new(
            Fault::usage(
                "no-typical-white",
                format!("no typical LED white is known at {cct_k} K; they are known from 2700 to 6600 K"),
            )
            .fix("give the light's measured spectrum as a file"),
        )),
    }
}

/// A light by name, such as `LED-B3`.
///
/// # Errors
/// `unknown-light` and the like, from the light room.
pub(crate) fn named(name: &str) -> Outcome<KnownLight> {
    match illuminants::named(name) {
        Ok(light) => Ok(KnownLight { light, name: name.into(), measured: false }),
        Err(error) => Err(Box::new(Fault::usage(error.code(), error.to_string()).fix(error.remedy()))),
    }
}

/// Every light of a spectral file (CSV, or IES TM-27-14 XML), with what was fixed in it.
///
/// # Errors
/// The first thing that is wrong, with its line.
pub(crate) fn lights(bytes: &[u8], file: &str) -> Outcome<Read<Vec<KnownLight>>> {
    let read = if tm27::looks_like_xml(bytes) {
        tm27::light(bytes).map(|r| Read { value: vec![(String::new(), r.value)], remarks: r.remarks })
    } else {
        spectrum_csv::lights(bytes)
    };
    let read = read.map_err(|error| bad_measurement(&error, file))?;
    let several = read.value.len() > 1;
    let known = |(column, light): (String, Spd)| {
        let name = if several { format!("{file}: {column}") } else { file.to_owned() };
        KnownLight { light, name, measured: true }
    };
    Ok(Read { value: read.value.into_iter().map(known).collect(), remarks: read.remarks })
}

/// The one light of a spectral file.
///
/// # Errors
/// As [`lights`], and `several-lights`.
pub(crate) fn one_light(bytes: &[u8], file: &str) -> Outcome<Read<KnownLight>> {
    let Read { mut value, remarks } = lights(bytes, file)?;
    match (value.pop(), value.len()) {
        (Some(light), 0) => Ok(Read { value: light, remarks }),
        (_, more) => Err(Box::new(
            Fault::data("several-lights", format!("it holds {} lights where one is asked for", more + 1))
                .in_file(file)
                .fix("leave the wavelengths and one column in it"),
        )),
    }
}

/// One stone of a spectral file: the named column, or the only one.
///
/// # Errors
/// The first thing that is wrong, with its line; `several-stones`, `no-such-column`.
pub(crate) fn stone(bytes: &[u8], file: &str, column: Option<&str>) -> Outcome<Read<StoneColumn>> {
    let read = if tm27::looks_like_xml(bytes) {
        tm27::stone(bytes).map(|r| Read {
            value: vec![StoneColumn { name: String::new(), thickness_mm: None, stone: r.value }],
            remarks: r.remarks,
        })
    } else {
        spectrum_csv::stones(bytes)
    };
    let Read { mut value, remarks } = read.map_err(|error| bad_measurement(&error, file))?;
    let names: Vec<String> = value.iter().map(|c| c.name.clone()).collect();
    match column {
        Some(wanted) => match value.into_iter().find(|c| c.name == wanted) {
            Some(found) => Ok(Read { value: found, remarks }),
            None => Err(Box::new(
                Fault::usage("no-such-column", format!("it has no column {wanted}"))
                    .in_file(file)
                    .fix(format!("there are: {}", names.join(", "))),
            )),
        },
        None => match (value.pop(), value.is_empty()) {
            (Some(only), true) => Ok(Read { value: only, remarks }),
            _ => Err(Box::new(
                Fault::usage("several-stones", format!("it holds {} measurements", names.len()))
                    .in_file(file)
                    .fix(format!("record each by itself, with --column one of {}", names.join(", "))),
            )),
        },
    }
}

/// A measurement's error as a fault in its file.
#[must_use]
pub(crate) fn bad_measurement(error: &MeasurementError, file: &str) -> Fault {
    // The fault names the line itself.
    let bare = MeasurementError { line: None, fault: error.fault.clone() };
    Fault::data(error.code(), bare.to_string())
        .in_file(file)
        .on_line(error.line.and_then(|line| usize::try_from(line).ok()))
        .fix(error.remedy())
}

/// A picture's bytes with the name of their file.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PictureFile<'a> {
    /// The bytes.
    pub bytes: &'a [u8],
    /// The file, as faults name it.
    pub name: &'a str,
}

/// A photo of a stone, read and measured.
#[derive(Clone, Debug)]
pub(crate) struct Photo {
    /// The picture, upright.
    pub picture: Picture,
    /// Where the stone is in it.
    pub stone: Area,
    /// What it tells about the stone.
    pub measured: SwatchPhoto,
    /// Pixels for each millimetre of the stone, where a mark says so.
    pub pixels_per_mm: Option<f64>,
}

/// What belongs to a photo of a stone besides itself.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Beside<'a> {
    /// A second photo, in which the bare panel is, with the ratio of exposures; none takes what the camera noted.
    pub second: Option<(PictureFile<'a>, Option<f64>)>,
    /// What a chart of 24 patches told of the same camera under the same panel.
    pub chart: Option<Chart>,
    /// Two points of the photo, and how far apart they are on the stone.
    pub scale: Option<(&'a str, Millimetres)>,
}

/// Measures a stone in a photo that was taken over `light`; the bare panel is in the same photo or in a second
/// one.
///
/// # Errors
/// Everything that the light room refuses about pictures, places and photos.
pub(crate) fn photo(
    file: &PictureFile<'_>,
    stone: &str,
    bare: &str,
    beside: Beside<'_>,
    light: &Spd,
) -> Outcome<Photo> {
    let (stone_area, bare_area) = (area(stone, "the stone")?, area(bare, "the bare panel")?);
    let picture = picture(file)?;
    let second_picture = match &beside.second {
        None => None,
        Some((other, ratio)) => Some((self::picture(other)?, *ratio)),
    };
    let pixels_per_mm = beside.scale.map(|(mark, long)| scale(&picture, mark, long)).transpose()?;
    let place = match &second_picture {
        None => Bare::SameFrame(&bare_area),
        Some((other, ratio)) => Bare::OtherFrame { picture: other, area: &bare_area, exposure_ratio: *ratio },
    };
    let measured = SwatchPhoto::measure(&picture, &stone_area, place, beside.chart.as_ref(), light)
        .map_err(|error| bad_photo(&error, file.name))?;
    Ok(Photo { picture, stone: stone_area, measured, pixels_per_mm })
}

/// Points nearer than this tell no scale, in pixels.
const NEAREST_POINTS: f64 = 20.0;

/// Pixels for each millimetre, by two points of a picture that lie so far apart on the stone.
fn scale(picture: &Picture, mark: &str, long: Millimetres) -> Outcome<f64> {
    let refuse = |what: String| {
        let fix = "give two points far apart as \"x,y x,y\", in pixels of the upright picture, and their distance on the stone";
        Err(Box::new(Fault::usage("scale-mark", what).fix(fix)))
    };
    let numbers: Option<Vec<f64>> =
        mark.split([',', ' ']).map(|n| n.parse::<f64>().ok().filter(|v| v.is_finite())).collect();
    let Some([x, y, to_x, to_y]) = numbers.as_deref().and_then(|n| <[f64; 4]>::try_from(n).ok()) else {
        return refuse(format!("`{mark}` is not two points of a photo"));
    };
    let (width, height) = (picture.width as f64, picture.height as f64);
    let inside = |x: f64, y: f64| (0.0..=width).contains(&x) && (0.0..=height).contains(&y);
    if !inside(x, y) || !inside(to_x, to_y) {
        return refuse(format!("the scale mark {mark} lies outside the photo of {width} × {height} pixels"));
    }
    let apart = (to_x - x).hypot(to_y - y);
    if apart < NEAREST_POINTS || long.0.is_nan() || long.0 <= 0.0 {
        return refuse(format!(
            "the scale mark {mark} is only {apart:.0} pixels long, or its length is not above 0"
        ));
    }
    Ok(apart / long.0)
}

/// What a photo of a chart tells of its camera under `light`; `place` says where the chart is in it.
///
/// # Errors
/// Everything that the light room refuses about the picture, the place and the chart.
pub(crate) fn chart(file: &PictureFile<'_>, place: &str, light: &Spd) -> Outcome<Chart> {
    let place = area(place, "the chart")?;
    Chart::photographed(&picture(file)?, &place, light).map_err(|error| bad_photo(&error, file.name))
}

fn bad_photo(error: &PhotoError, file: &str) -> Box<Fault> {
    Box::new(Fault::data(error.code(), error.to_string()).in_file(file).fix(error.remedy()))
}

/// Measures a stone by linear values read off a camera's picture over `light`.
///
/// # Errors
/// `photo-values` with its line, and everything that the light room refuses about a photo.
pub(crate) fn values(bytes: &[u8], file: &str, light: &Spd) -> Outcome<SwatchPhoto> {
    let read = Values::read(bytes).map_err(|error| {
        let line = error.line.and_then(|line| usize::try_from(line).ok());
        Box::new(Fault::data("photo-values", error.what).in_file(file).on_line(line).fix(error.remedy))
    })?;
    SwatchPhoto::of_values(&read, light).map_err(|error| bad_photo(&error, file))
}

fn area(text: &str, what: &str) -> Outcome<Area> {
    text.parse::<Area>()
        .map_err(|error| Box::new(Fault::usage(error.code(), format!("{what}: {error}")).fix(error.remedy())))
}

/// Reads a picture.
///
/// # Errors
/// Everything that the light room refuses about pictures.
pub(crate) fn picture(file: &PictureFile<'_>) -> Outcome<Picture> {
    Picture::read(file.bytes).map_err(|error| {
        Box::new(Fault::data(error.code(), error.to_string()).in_file(file.name).fix(error.remedy()))
    })
}

//! `swatches/<id>.json`: a piece of stone and the slab it stands for.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use crate::ids::SwatchId;
use crate::units::{Lux, Millimetres};
use crate::words::{Texture, Tone, words};

words! {
    /// What a stone is, by its trade name.
    Material, "stone material" {
        /// Banded calcite, sold as onyx.
        Onyx = "onyx",
        /// What is called alabaster without saying which: fine-grained gypsum, or banded calcite. Records of before say no
        /// more; a new one says which.
        Alabaster = "alabaster",
        /// Fine-grained gypsum: soft, lighter, harmed by water.
        GypsumAlabaster = "gypsum-alabaster",
        /// Banded calcite sold as alabaster, as onyx marble is.
        CalciteAlabaster = "calcite-alabaster",
        /// Marble.
        Marble = "marble",
        /// Quartzite.
        Quartzite = "quartzite",
        /// Travertine.
        Travertine = "travertine",
        /// Agate or another chalcedony, usually as slices in resin.
        Agate = "agate",
        /// Crystalline quartz.
        Quartz = "quartz",
        /// A film, stretched or in a frame, plain or printed: no stone.
        Film = "film",
        /// A print on glass or plastic: no stone.
        Print = "print",
        /// Any other translucent sheet.
        Other = "other",
    }
}

impl Material {
    /// False for a film or a print, which is a layer of its own: nobody has to see it on a test panel first, and it is not
    /// lifted as stone is.
    #[must_use]
    pub(crate) fn is_stone(self) -> bool {
        !matches!(self, Material::Film | Material::Print)
    }
}

/// A piece of stone and the slab it stands for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Swatch {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The swatch's name, which is also its file's.
    pub id: SwatchId,
    /// What the stone is called.
    pub stone: String,
    /// What it is.
    pub material: Material,
    /// Its overall tone.
    pub tone: Tone,
    /// Its pattern.
    pub texture: Texture,
    /// How thick the swatch is.
    pub thickness_mm: Millimetres,
    /// The slab that the swatch stands for.
    pub slab: Slab,
    /// What light passes, as measured.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measured: Vec<Transmittance>,
    /// A photo of the swatch, lit or not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<Attachment>,
    /// The day it came in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<Date>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The slab that a swatch stands for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Slab {
    /// How thick the slab is.
    pub thickness_mm: Millimetres,
    /// The lot or bundle it is cut from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Business days from ordering the slab to having it, where it is not in stock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_business_days: Option<u32>,
    /// Its surface, such as polished or honed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finish: Option<String>,
    /// Its density, where it is known better than the usual 2700 kg/m³.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub density_kg_m3: Option<f64>,
}

words! {
    /// The part of a stone that was measured.
    Part, "part of a stone" {
        /// The body: most of it.
        Body = "body",
        /// A vein, band or cloud that differs from the body.
        Vein = "vein",
    }
}

words! {
    /// How far a figure can be trusted.
    Certainty, "certainty" {
        /// An instrument read it.
        Measured = "measured",
        /// Worked out from something else under an assumption.
        Estimated = "estimated",
    }
}

words! {
    /// How a transmittance was found.
    FoundBy, "way to find a transmittance" {
        /// Two readings of a lux meter: how bright, never which colour.
        LuxPair = "lux-pair",
        /// A spectrum was measured.
        Spectrum = "spectrum",
        /// From a photo's three values, midway between two smooth spectra that fit.
        Midway = "photo-midway",
        /// From a photo's three values, as the exponential of a quadratic in 1/λ.
        Quadratic = "photo-quadratic",
        /// From a photo's three values, as the smoothest spectrum that fits.
        Smoothest = "photo-smoothest",
    }
}

/// One measurement of the light that passes through a swatch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Transmittance {
    /// A short name for it, unique within the swatch.
    pub id: SwatchId,
    /// The day it was measured.
    pub date: Date,
    /// How thick the measured piece is.
    pub thickness_mm: Millimetres,
    /// Illuminance on the bare test panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bare_lx: Option<Lux>,
    /// Illuminance on the stone over the same panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub through_lx: Option<Lux>,
    /// A spectral file: wavelength in nm, transmittance as a fraction.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spectrum: Option<Attachment>,
    /// The column of the spectral file, where it has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spectrum_column: Option<String>,
    /// A photo of the stone over its lit panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<PhotoReading>,
    /// Linear values of stone and bare panel as a table, read off a picture without tone curve.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub values: Option<Attachment>,
    /// The part of the stone that was measured; the body where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<Part>,
    /// The colour temperature of the panel it was measured over.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_cct_k: Option<u32>,
    /// The light of that panel by name, where it is a known one, such as `LED-B3`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_light: Option<String>,
    /// The measured spectrum of that panel's light.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_spectrum: Option<Attachment>,
    /// What it came to; none in a record that was written by hand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found: Option<Found>,
}

impl Transmittance {
    /// The part of the stone that was measured.
    #[must_use]
    pub(crate) fn of_part(&self) -> Part {
        self.part.unwrap_or(Part::Body)
    }

    /// Every file beside the record that the measurement rests on.
    pub(crate) fn attachments(&self) -> impl Iterator<Item = &Attachment> {
        let photo = self
            .photo
            .iter()
            .flat_map(|p| std::iter::once(&p.picture).chain(&p.bare_picture).chain(&p.chart_picture));
        self.spectrum.iter().chain(&self.panel_spectrum).chain(photo).chain(&self.values)
    }
}

/// A photo of a stone over its lit panel, and where in it the stone and the bare panel are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PhotoReading {
    /// The photo of the stone.
    pub picture: Attachment,
    /// Where the stone is in it: `left,top,width,height`, or corners `x,y x,y x,y`, in pixels of the upright
    /// picture.
    pub stone: String,
    /// Where the bare panel is, in the same picture or in the second one.
    pub bare: String,
    /// A second photo that shows the bare panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bare_picture: Option<Attachment>,
    /// How many times longer the stone's photo was exposed than the bare panel's, where the cameras' own notes
    /// do not say it.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub exposure_ratio: Option<f64>,
    /// Two points in the picture, `x,y x,y`, that lie `scale_mm` apart on the stone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_mark: Option<String>,
    /// How far apart they are on the stone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_mm: Option<Millimetres>,
    /// A photo of a chart of 24 patches, by the same camera and under the same panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart_picture: Option<Attachment>,
    /// Where the patches are in it: a rectangle, or four corners in order around them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart: Option<String>,
}

/// What a measurement came to, as small data: enough for a gate and for a reader without the files.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Found {
    /// How it was found.
    pub by: FoundBy,
    /// Measured, or estimated under an assumption.
    pub certainty: Certainty,
    /// The light under which the luminous transmittance holds, in words.
    pub under: String,
    /// The luminous transmittance of the measured part under that light, 0 to 1.
    #[serde(serialize_with = "crate::units::number")]
    pub luminous: f64,
    /// Noise of the photo on the bare panel, relative to its light.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub noise: Option<f64>,
    /// Duv of the panel's light, where its spectrum was measured.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub panel_duv: Option<f64>,
    /// The share of the stone that is vein, where a photo shows one.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub vein_share: Option<f64>,
    /// Transmittance of the body from 400 to 700 nm in steps of 20 nm.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub body: Vec<f64>,
    /// The least that the assumptions leave open, at the same wavelengths; none where nothing was assumed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub body_low: Vec<f64>,
    /// The most that they leave open.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub body_high: Vec<f64>,
    /// Transmittance of the vein at the same wavelengths, where a photo shows one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub vein: Vec<f64>,
}

impl Found {
    /// The wavelengths of the curves: 400 to 700 nm in steps of 20 nm.
    pub(crate) const WAVELENGTHS_NM: [usize; 16] =
        [400, 420, 440, 460, 480, 500, 520, 540, 560, 580, 600, 620, 640, 660, 680, 700];
}

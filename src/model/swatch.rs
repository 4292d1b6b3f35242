//! `swatches/<id>.json`: a piece of stone and the slab it stands for.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use super::id::SwatchId;
use crate::units::{Lux, Millimetres};
use crate::words::{Texture, Tone, words};

words! {
    /// What a stone is, by its trade name.
    Material, "stone material" {
        /// Banded calcite, sold as onyx.
        Onyx = "onyx",
        /// Fine-grained gypsum.
        Alabaster = "alabaster",
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
        /// Any other translucent sheet.
        Other = "other",
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
    /// The colour temperature of the panel it was measured over.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_cct_k: Option<u32>,
}

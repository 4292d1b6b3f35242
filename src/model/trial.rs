//! `trials/<id>.json`: what was seen and measured with one swatch over one test panel at one CCT.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use crate::ids::{RequestId, StockId, SwatchId, TrialId};
use crate::units::Lux;
use crate::words::Face;

/// One stone tried over one received test panel at one colour temperature.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The trial's name, which is also its file's.
    pub id: TrialId,
    /// The stone.
    pub swatch: SwatchId,
    /// The request whose test panel it was tried over.
    pub request: RequestId,
    /// The day.
    pub date: Date,
    /// The colour temperature of the light; none where a coloured light was tried.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cct_k: Option<u32>,
    /// The coloured light that was tried, in words, where it was no white.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour: Option<String>,
    /// The face of the test panel.
    pub face: Face,
    /// What was seen, in words.
    pub seen: String,
    /// How well it pleased: 1 not at all, 5 entirely.
    pub rating: u32,
    /// Illuminance on the bare test panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bare_lx: Option<Lux>,
    /// Illuminance on the stone over it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub through_lx: Option<Lux>,
    /// A photo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<Attachment>,
    /// Where the stone is in the photo: `left,top,width,height`, or corners `x,y x,y x,y`, in pixels of the
    /// upright picture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo_stone: Option<String>,
    /// Where the bare lit panel is in the photo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo_bare: Option<String>,
    /// The measured spectrum of the test panel's light.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_spectrum: Option<Attachment>,
    /// The light of the test panel by name, where it is a known one, such as `LED-B3`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_light: Option<String>,
    /// CIE 1931 chromaticity x and y of the bare test panel, as a meter read them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_xy: Option<[f64; 2]>,
    /// General colour rendering index Ra of the bare test panel, as a meter read it.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub panel_ra: Option<f64>,
    /// The shop's tape that lights the test panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel_tape: Option<StockId>,
    /// Who looked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub present: Vec<String>,
}

impl Trial {
    /// Every file beside the record.
    pub fn attachments(&self) -> impl Iterator<Item = &Attachment> {
        self.photo.iter().chain(&self.panel_spectrum)
    }
}

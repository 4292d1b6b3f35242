//! `renderings/<panel>/manifest.json`: which sheet was drawn from which outline.

use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use super::id::PanelId;
use super::panel::Seam;
use crate::digest::Sha256Digest;
use crate::units::Millimetres;

/// What a rendering was drawn from and what it shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rendering {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The panel that is drawn.
    pub panel: PanelId,
    /// The revision: 1 for the first, then one more each time the drawing changes.
    pub revision: u32,
    /// The digest of the outline file that it was drawn from.
    pub outline_sha256: Sha256Digest,
    /// The digest of every other fact that stands on the sheet.
    pub shows_sha256: Sha256Digest,
    /// The first sheet as SVG, with the view.
    pub sheet: Attachment,
    /// Further sheets as SVG, from the second on, where tables or notes do not fit on the first. Left out where
    /// there is one sheet.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub further_sheets: Vec<Attachment>,
    /// All sheets as one PDF.
    pub pdf: Attachment,
    /// The overall width that it shows.
    pub width_mm: Millimetres,
    /// The overall height that it shows.
    pub height_mm: Millimetres,
    /// The area that it shows, in square millimetres, net of cut-outs.
    #[serde(serialize_with = "crate::units::number")]
    pub area_mm2: f64,
    /// The length of the outer contour.
    pub perimeter_mm: Millimetres,
    /// How many cut-outs it shows.
    pub cutouts: u32,
    /// The lit edges that it shows.
    pub lit_edges: Vec<u32>,
    /// The seams that it shows.
    pub seams: Vec<Seam>,
    /// The thickness of stone that it shows.
    pub stone_thickness_mm: Millimetres,
    /// The version of underlit that drew it.
    pub drawn_with: String,
}

impl Rendering {
    /// Every file of the rendering: the sheets in their order, then the PDF.
    pub fn files(&self) -> impl Iterator<Item = &Attachment> {
        self.sheets().chain(std::iter::once(&self.pdf))
    }

    /// Every sheet as SVG, in order.
    pub fn sheets(&self) -> impl Iterator<Item = &Attachment> {
        std::iter::once(&self.sheet).chain(&self.further_sheets)
    }
}

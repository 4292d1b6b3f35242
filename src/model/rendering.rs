//! `renderings/<panel>/manifest.json`: which sheet was drawn from which outline.

use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use super::panel::Seam;
use crate::digest::Sha256Digest;
use crate::ids::PanelId;
use crate::units::{DisplayUnits, Millimetres};

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
    /// The version of underlit that drew it, and the edition of its drawing code.
    pub drawn_with: String,
    /// What stands on the sheets beside the panel's own facts; none where an earlier underlit drew them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub printed: Option<Printed>,
}

/// What stands on a sheet beside the panel's own facts, so that whoever has them can draw it again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Printed {
    /// The date of issue.
    pub date: String,
    /// Who drew it.
    pub creator: String,
    /// The shop's name.
    pub shop: String,
    /// The client's name.
    pub client: String,
    /// Who is asked to sign it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub approvals: Vec<PrintedApproval>,
    /// The notes, one by one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
    /// The cautions, one by one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// The tolerance.
    pub tolerance: String,
    /// The units that are shown first.
    pub units: DisplayUnits,
    /// The control system, as the shop's list names it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control: Option<String>,
    /// Where the number of each piece of a split panel stands, in the order of the cut files.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pieces_mm: Vec<[Millimetres; 2]>,
}

/// Who is asked to sign a sheet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedApproval {
    /// In which role.
    pub role: String,
    /// Who; none where nobody is named yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

impl Rendering {
    /// Every file of the rendering: the sheets in their order, then the PDF.
    pub fn files(&self) -> impl Iterator<Item = &Attachment> {
        self.sheets().chain(std::iter::once(&self.pdf))
    }

    /// Every sheet as SVG, in order.
    pub(crate) fn sheets(&self) -> impl Iterator<Item = &Attachment> {
        std::iter::once(&self.sheet).chain(&self.further_sheets)
    }
}

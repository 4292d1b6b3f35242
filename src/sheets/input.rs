//! What stands on a drawing sheet, free of the records it came from.

use crate::digest::Sha256Digest;
use crate::model::panel::Bend;
use crate::shape::{Figures, Outline, Point};
use crate::units::{DisplayUnits, Millimetres};
use crate::words::{Face, LightKind};

use super::paper::Paper;

/// Who is asked to sign a sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Approval {
    /// For whom: `client`, `engineer`.
    pub role: String,
    /// The person's name; empty where none is named yet.
    pub name: String,
}

/// Everything that a sheet shows. Texts are as people wrote them: the sheet escapes and fits them.
///
/// Fields marked *ISO 7200* are data fields of title blocks by that standard. Its 2004 edition wants legal owner,
/// identification number, date of issue, sheet number, title, approval person, creator and document type; revision, number
/// of sheets, language and status are optional (from public tables of its fields).
#[derive(Clone, Debug, PartialEq)]
pub struct SheetInput {
    /// Legal owner (ISO 7200): the shop.
    pub legal_owner: String,
    /// Identification number (ISO 7200), such as `quay-desk / front`.
    pub identification: String,
    /// Date of issue (ISO 7200) as it is to be shown.
    pub date_of_issue: String,
    /// Number of this sheet (ISO 7200), from 1.
    pub sheet_number: u32,
    /// How many sheets the document has (ISO 7200). Sheets that the drawing spills onto are added to it.
    pub sheet_count: u32,
    /// Title (ISO 7200).
    pub title: String,
    /// Approval persons (ISO 7200); each gets a box to sign in.
    pub approvals: Vec<Approval>,
    /// Creator (ISO 7200).
    pub creator: String,
    /// Document type (ISO 7200), such as `Rendering`.
    pub document_type: String,
    /// Revision (ISO 7200).
    pub revision: String,
    /// Status (ISO 7200), such as `For approval`.
    pub status: String,
    /// Language (ISO 7200) as a BCP 47 tag, such as `en`.
    pub language: String,
    /// The project's name.
    pub project: String,
    /// The client's name.
    pub client: String,
    /// The stone's name.
    pub stone: String,
    /// The stone's thickness; none where it is not fixed yet.
    pub stone_thickness: Option<Millimetres>,
    /// What the light can do.
    pub light: LightKind,
    /// The correlated colour temperature in words, such as `3000 K` or `2700 K to 6500 K`; empty where the light
    /// has none.
    pub cct: String,
    /// The face towards the stone.
    pub face: Face,
    /// Numbers of the lit edges, as in [`Figures::edges`].
    pub lit_edges: Vec<usize>,
    /// Seams of a split panel, each from one end to the other, in the outline's millimetres.
    pub seams: Vec<(Point, Point)>,
    /// Ribs behind the panel, each from end to end, in the outline's millimetres.
    pub ribs: Vec<(Point, Point)>,
    /// A place within each piece of a split panel, in the order in which they are numbered; empty where it is whole.
    pub pieces: Vec<Point>,
    /// How the panel is bent; none for a flat one. The outline is drawn flat.
    pub bend: Option<Bend>,
    /// How the panel is held, in words.
    pub mount: String,
    /// Notes, one by one.
    pub notes: Vec<String>,
    /// Cautions, one by one.
    pub cautions: Vec<String>,
    /// The tolerance in words, such as `±0.5 mm`.
    pub tolerance: String,
    /// The units shown first; the other follows in square brackets.
    pub units: DisplayUnits,
    /// The outline's digest; its short form is shown.
    pub outline_digest: Sha256Digest,
    /// A warning across the sheet, such as `NOT RELEASED`.
    pub marker: Option<String>,
    /// The smallest paper to use. A larger one of its family is taken where this cannot hold the drawing.
    pub paper: Paper,
    /// What else the panel's table says, label and text: voltage, control, place, lead, driver, which edge is up, veins.
    pub more: Vec<(String, String)>,
    /// What the view is called, such as `Front view`.
    pub view: String,
    /// The outline.
    pub outline: Outline,
    /// What the outline measures.
    pub figures: Figures,
}

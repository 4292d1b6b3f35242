//! Why a sheet cannot be drawn.

use std::fmt;

use super::paper::Paper;

/// Why a sheet cannot be drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum SheetError {
    /// The outline has no extent.
    NothingToDraw,
    /// A lit edge that the outline does not have.
    NoSuchEdge {
        /// The number that was given.
        number: usize,
        /// How many edges there are.
        edges: usize,
    },
    /// The panel is too large for the smallest scale on the largest paper.
    TooLarge {
        /// Its width in millimetres.
        width_mm: f64,
        /// Its height in millimetres.
        height_mm: f64,
        /// The largest paper tried.
        paper: Paper,
    },
    /// A number of the sheet is not a sheet's number: 1 up to the count.
    SheetNumber {
        /// The number that was given.
        number: u32,
        /// The count that was given.
        count: u32,
    },
    /// A label whose least legible letters do not fit its paper.
    LabelTooSmall {
        /// Its width in millimetres.
        width_mm: f64,
        /// Its height in millimetres.
        height_mm: f64,
    },
    /// Something would be drawn outside its place: a bug, and no sheet.
    OffTheSheet {
        /// What, and where.
        what: String,
    },
    /// The drawing cannot be written in a format.
    Export {
        /// The format.
        format: &'static str,
        /// What went wrong.
        reason: String,
    },
}

impl SheetError {
    /// A stable word for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            SheetError::NothingToDraw => "sheet-nothing-to-draw",
            SheetError::NoSuchEdge { .. } => "sheet-no-such-edge",
            SheetError::TooLarge { .. } => "sheet-too-large",
            SheetError::SheetNumber { .. } => "sheet-number",
            SheetError::LabelTooSmall { .. } => "label-too-small",
            SheetError::OffTheSheet { .. } => "sheet-off-the-sheet",
            SheetError::Export { .. } => "sheet-export",
        }
    }

    /// True for an internal error, where nobody's input is at fault.
    #[must_use]
    pub fn is_bug(&self) -> bool {
        matches!(self, SheetError::OffTheSheet { .. })
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            SheetError::NothingToDraw => "give the panel an outline with width and height".into(),
            SheetError::NoSuchEdge { edges, .. } => {
                format!("choose lit edges from 1 to {edges}, as the edge table numbers them")
            }
            SheetError::TooLarge { .. } => "draw each piece of a split panel on its own sheet".into(),
            SheetError::SheetNumber { .. } => "number sheets from 1 up to their count".into(),
            SheetError::LabelTooSmall { .. } => "name a larger label, like --size 148x105mm".into(),
            SheetError::OffTheSheet { .. } => "keep the outline file and report a bug".into(),
            SheetError::Export { .. } => {
                "draw it again; if it stays, keep the outline file and report a bug".into()
            }
        }
    }
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SheetError::NothingToDraw => f.write_str("the outline has no width or no height"),
            SheetError::NoSuchEdge { number, edges } => {
                write!(f, "lit edge {number} does not exist: the outline has {edges}")
            }
            SheetError::TooLarge { width_mm, height_mm, paper } => write!(
                f,
                "a panel of {width_mm:.0} × {height_mm:.0} mm does not fit on {} at the smallest scale",
                paper.name()
            ),
            SheetError::SheetNumber { number, count } => write!(f, "sheet {number} of {count} cannot be"),
            SheetError::LabelTooSmall { width_mm, height_mm } => {
                write!(f, "what the label says cannot be read on {width_mm:.0} × {height_mm:.0} mm")
            }
            SheetError::OffTheSheet { what } => {
                write!(f, "internal error: {what}; nothing was drawn")
            }
            SheetError::Export { format, reason } => {
                write!(f, "the sheet cannot be written as {format}: {reason}")
            }
        }
    }
}

impl std::error::Error for SheetError {}

//! Why a drawing was refused: a stable code, what is wrong, where, and how to fix it.

use std::fmt;

use super::origin::Origin;
use super::point::Point;

/// What kind of flaw a drawing has. The code is stable; the wording of the message is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ShapeCode {
    /// The file is not of the kind it says, or is damaged.
    Unreadable,
    /// The file is larger or more deeply nested than any outline needs.
    TooLarge,
    /// A field of a JSON outline is missing, unknown, doubled or of the wrong kind.
    BadField,
    /// A number is outside the range that its field allows.
    OutOfRange,
    /// The drawing does not say in which unit it is drawn.
    UnitsMissing,
    /// The drawing holds something that cannot be part of an outline.
    Unsupported,
    /// The drawing has no outline at all, or nothing on the layer that was asked for.
    NoOutline,
    /// More than one contour could be the outline.
    SeveralOutlines,
    /// A contour does not close.
    OpenContour,
    /// Two pieces of a contour do not meet.
    Gap,
    /// A piece has no length.
    ZeroLength,
    /// The same piece is drawn twice.
    Duplicate,
    /// More than two pieces meet in one point, so that the contour could go either way.
    Branch,
    /// A contour crosses or touches itself.
    SelfCrossing,
    /// A cut-out crosses or touches the outline.
    CutoutTouchesOutline,
    /// A cut-out lies outside the outline.
    CutoutOutside,
    /// Two cut-outs cross, touch or lie one within the other.
    CutoutsOverlap,
    /// An outline has no area.
    NoArea,
    /// The outline cannot be built as asked: it does not fit and cannot be split.
    CannotSplit,
    /// The borders of the outline cannot be moved as far as asked.
    CannotInset,
}

impl ShapeCode {
    /// The code as it is written for programs.
    #[must_use]
    pub(crate) fn code(self) -> &'static str {
        match self {
            ShapeCode::Unreadable => "outline-unreadable",
            ShapeCode::TooLarge => "outline-too-large",
            ShapeCode::BadField => "outline-bad-field",
            ShapeCode::OutOfRange => "outline-out-of-range",
            ShapeCode::UnitsMissing => "outline-units-missing",
            ShapeCode::Unsupported => "outline-unsupported",
            ShapeCode::NoOutline => "outline-none",
            ShapeCode::SeveralOutlines => "outline-several",
            ShapeCode::OpenContour => "outline-open",
            ShapeCode::Gap => "outline-gap",
            ShapeCode::ZeroLength => "outline-zero-length",
            ShapeCode::Duplicate => "outline-duplicate",
            ShapeCode::Branch => "outline-branch",
            ShapeCode::SelfCrossing => "outline-self-crossing",
            ShapeCode::CutoutTouchesOutline => "cutout-touches-outline",
            ShapeCode::CutoutOutside => "cutout-outside",
            ShapeCode::CutoutsOverlap => "cutouts-overlap",
            ShapeCode::NoArea => "outline-no-area",
            ShapeCode::CannotSplit => "outline-cannot-split",
            ShapeCode::CannotInset => "outline-cannot-inset",
        }
    }
}

/// One flaw of a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeError {
    /// The kind of flaw.
    pub code: ShapeCode,
    /// What is wrong, in one sentence.
    pub message: String,
    /// Where in the drawing, in millimetres, where that can be said.
    pub at_mm: Option<Point>,
    /// JSON pointer to the value at fault, for JSON outlines.
    pub pointer: Option<String>,
    /// Line of the file at fault, counted from 1, where that can be said.
    pub line: Option<usize>,
    /// Column on that line, counted from 1, where that helps.
    pub column: Option<usize>,
    /// What the element at fault is called in its file, such as `path` with the id `sink`.
    pub element: Option<String>,
    /// How to fix it.
    pub remedy: String,
}

impl ShapeError {
    /// A flaw without a place.
    #[must_use]
    pub(crate) fn new(code: ShapeCode, message: impl Into<String>, remedy: impl Into<String>) -> Self {
        ShapeError {
            code,
            message: message.into(),
            at_mm: None,
            pointer: None,
            line: None,
            column: None,
            element: None,
            remedy: remedy.into(),
        }
    }

    /// The same flaw at a place of the drawing.
    #[must_use]
    pub(crate) fn at(mut self, place: Point) -> Self {
        self.at_mm = Some(place);
        self
    }

    /// The same flaw at a line of the file.
    #[must_use]
    pub(crate) fn on_line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }

    /// The same flaw of the element that a line came from.
    pub(super) fn from(mut self, origin: &Origin) -> Self {
        self.line = Some(origin.line);
        self.column = origin.column;
        self.element = Some(origin.element.clone());
        self
    }

    /// What is wrong, after the name of the element where it has one.
    #[must_use]
    pub(crate) fn sentence(&self) -> String {
        self.element.as_ref().map_or_else(|| self.message.clone(), |e| format!("{e}: {}", self.message))
    }

    /// The stable code for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        self.code.code()
    }
}

impl fmt::Display for ShapeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            match self.column {
                Some(column) => write!(f, "line {line}, column {column}: ")?,
                None => write!(f, "line {line}: ")?,
            }
        }
        if let Some(pointer) = &self.pointer {
            write!(f, "{pointer}: ")?;
        }
        write!(f, "{}", self.sentence())?;
        if let Some(at) = self.at_mm {
            write!(f, " (at {:.3}, {:.3} mm)", at.x, at.y)?;
        }
        write!(f, "; {}", self.remedy)
    }
}

impl std::error::Error for ShapeError {}

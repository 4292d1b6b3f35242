//! Outlines: read, measured, checked, fitted on a sheet, split, and lit.
//!
//! One geometry serves the figures, the gates, the drawing sheet and the cutter's file. Every piece is kept
//! as it was drawn, so that nothing is lost between what comes in and what goes out. Lengths are millimetres,
//! x to the right and y up, seen from the front. Nothing here reads a file: bytes in, values out.
//!
//! | file | what it is for |
//! |---|---|
//! | `point`, `segment`, `arc`, `ellipse`, `cubic`, `nurbs` | the geometry of one piece |
//! | `measure`, `quadrature`, `bernstein` | length, area, centroid, radii of one piece; roots of polynomials |
//! | `outline`, `edges`, `class`, `rectangle`, `figures` | the whole drawing and what it measures |
//! | `check`, `meeting`, `narrow`, `picture` | whether it is sound, and where not or barely |
//! | `drawing`, `join`, `arcs`, `origin`, `ignored`, `dxf`, `svg` | from loose lines of a file to an outline |
//! | `fit`, `cut`, `split`, `splitter`, `positions`, `search`, `seams`, `pieces`, `joints` | on a sheet, and in butted pieces: proposed, or along seams that somebody drew |
//! | `evenness` | how even the light is for chosen lit edges: a model |
//! | `offset`, `moved` | one outline within or around another; how far one lies from another |
//! | `off` | lines beside an outline that lie off it |
//! | `letters` | a text as closed lines to etch |
//! | `json`, `json_text` | the outline as JSON, read and written |
//!
#![doc = include_str!("NOTES.md")]

mod arc;
mod arcs;
mod bend;
mod bernstein;
mod check;
mod class;
mod cubic;
mod cut;
mod drawing;
mod dxf;
mod edges;
mod ellipse;
mod error;
mod evenness;
mod figures;
mod fit;
mod guide;
mod ignored;
mod join;
mod joints;
mod json;
mod json_text;
mod letters;
mod measure;
mod meeting;
mod moved;
mod narrow;
mod nurbs;
mod off;
mod offset;
mod origin;
mod outline;
mod picture;
mod pieces;
mod point;
mod positions;
mod quadrature;
mod rectangle;
#[cfg(test)]
mod round_trip;
mod seams;
mod search;
mod segment;
mod split;
mod splitter;
mod svg;

pub use arc::{Arc, Circle};
pub(crate) use bend::bend;
pub use check::check;
pub use class::ShapeClass;
pub use cubic::Cubic;
pub use drawing::{DrawingUnit, Format, Layers, ReadOptions, Reading, read};
pub use dxf::to_dxf;
pub(crate) use edges::{Edge, EdgeKind};
pub use edges::{TapeLimits, edges};
pub use ellipse::EllipseArc;
pub(crate) use error::ShapeError;
pub use evenness::{
    Extraction, LightingChoice, LuminancePicture, extraction_per_mm, lit_edge_advice, luminance_picture,
};
pub(crate) use evenness::{LitEdgeAdvice, MODEL_NOTE};
pub use figures::{Figures, figures};
pub use fit::{Placement, Sheet, fit};
pub(crate) use join::JOIN_MM;
pub(crate) use joints::{joints_over, marks_on};
pub use json::read_json;
pub use json_text::to_json;
pub(crate) use letters::reach;
pub use letters::{Align, LetterFault, LetterSetting, letters, letters_fit};
pub use moved::moved;
pub(crate) use narrow::{Narrow, narrow_places};
pub use nurbs::Nurbs;
pub(crate) use off::{Ground, Off, etched_over};
pub use offset::{Inset, inset};
pub use outline::{Contour, Mark, MarkKind, Outline, Path, StoneJoint};
pub use pieces::Seam;
pub(crate) use pieces::{Piece, SplitOption, piece_count};
pub use point::{Point, Transform, turn};
pub use rectangle::{Rectangle, around, least_rectangle};
pub(crate) use seams::split_along;
pub use segment::Segment;
pub use split::{SplitLimits, split};
pub use svg::to_svg;

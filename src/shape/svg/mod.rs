//! SVG: reading its lines, and writing an outline.
//!
//! | file | what it is for |
//! |---|---|
//! | `read` | elements, groups, transforms, physical size |
//! | `window` | a drawing within the drawing, by its viewBox |
//! | `shapes`, `path` | one element to lines |
//! | `write` | an outline as SVG |

mod path;
mod read;
mod shapes;
mod window;
mod write;

pub(crate) use read::lines;
pub use write::to_svg;

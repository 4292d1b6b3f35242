//! DXF, text and binary, R12 to 2018: reading its lines, and writing an outline for the cutter.
//!
//! Written here rather than taken from a library: reading must be pure, must never panic, and must name the
//! line of the file at fault, and writing must give the same bytes each time. The crate `dxf` 0.6.2 panicked on
//! damaged dates in a header within a minute of random changes, stamps files with the clock and random ids, and
//! leaves object coordinate systems and block references to its caller.
//!
//! | file | what it is for |
//! |---|---|
//! | `pairs` | group codes and values out of bytes |
//! | `file` | sections, layers, blocks, the unit |
//! | `read` | lines by layer, block references resolved |
//! | `entities` | one entity to lines |
//! | `fit_points` | the curve of a spline given by the points it passes through |
//! | `space` | a drawing that stands or leans in space, laid flat |
//! | `write` | an outline as DXF |

mod entities;
mod file;
mod fit_points;
mod pairs;
mod read;
mod space;
mod write;

pub(crate) use read::lines;
pub(crate) use read::within_reach;
pub use write::to_dxf;
#[cfg(test)]
pub(crate) use write::{CUTOUT_LAYER, ETCHING_LAYER, JOINT_LAYER, MARK_LAYER, OUTLINE_LAYER};

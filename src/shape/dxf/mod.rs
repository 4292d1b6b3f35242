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
//! | `read` | sections, layers, blocks, block references |
//! | `entities` | one entity to lines |
//! | `write` | an outline as DXF |

mod entities;
mod pairs;
mod read;
mod write;

pub(crate) use read::{lines, within_reach};
pub use write::{CUTOUT_LAYER, ETCHING_LAYER, JOINT_LAYER, MARK_LAYER, OUTLINE_LAYER, to_dxf};

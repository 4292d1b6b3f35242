//! Outlines: their figures, offsets, splits and readers, and how even light comes out of them.

mod evenness;
mod letters;
mod moved;
mod offset;
mod properties;
mod readers;
mod split;

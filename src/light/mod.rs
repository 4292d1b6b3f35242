//! The light room.

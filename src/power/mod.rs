//! The power room.

//! `swatch measure` and `look` end to end with the real binary, on pictures of stones whose spectrum is known.
//!
//! `book` runs the binary in a book of its own, `scene` makes stones and pictures, and each of the others holds one
//! promise. The arithmetic of light is tested in `src/light` and `tests/light/photo_truth.rs`.

#[path = "../answers/mod.rs"]
mod answers;
mod book;
mod coloured;
mod evidence;
mod gate;
mod invented;
mod measuring;
mod predicting;
mod scene;
mod several;

//! The edition of the drawing code: what tells one way of drawing sheets from another.
//!
//! Whoever changes how any sheet comes out takes a new edition: `tests/sheets/pictures.rs` draws every sheet of the tests
//! and fails until [`EDITION`] is the first twelve digits of the digest of all their bytes, which it tells.

/// The edition: the first twelve digits of the SHA-256 over every sheet of the tests, SVG and PDF.
pub const EDITION: &str = "19692ca5fce8";

/// What a rendering's manifest says of the program that drew it: version and edition.
#[must_use]
pub(crate) fn drawn_by() -> String {
    format!("{} drawing {EDITION}", env!("CARGO_PKG_VERSION"))
}

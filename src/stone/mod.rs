//! The stone room: lights, stones and photos out of files, and what a stone will look like over a panel.
//!
//! | file | what it does |
//! |---|---|
//! | [`spectra`] | lights and stones by their spectra |
//! | [`measure`] | what a photo or an instrument says of a stone, kept with its swatch |
//! | `pick` | a page on which stone and bare panel are picked in a photo |
//! | [`look`] | what a stone will look like over each light that is asked about |

pub mod look;
pub mod measure;
pub(crate) mod pick;
pub mod spectra;

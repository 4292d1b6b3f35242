//! The light room: spectra, white light, stone, what the stone will look like, photometry.
//!
//! Pure: bytes and numbers in, values and bytes out. It opens no file and knows nothing of projects.
//!
//! | file | what it answers |
//! |---|---|
//! | [`practice`] | what the trade usually does for such a stone |
//! | [`spectrum`] | a light's power and a stone's transmittance per nanometre |
//! | [`columns`], [`spectrum_csv`], [`tm27`] | reading measured spectra, and refusing bad ones |
//! | [`mod@reference`] | black bodies and daylight |
//! | [`illuminants`] | lights known by name |
//! | [`figures`], [`fidelity`], [`rendering`] | CCT, Duv, chromaticity, Ra, R9, Rf, Rg, nominal bin |
//! | [`stand_in`] | a white of which only a meter's figures are known |
//! | [`mixing`], [`channels`] | tunable white; RGB and RGBW, in flux |
//! | [`photometry`] | lux, luminance, ratio to the room |
//! | [`thickness`], `slab`, `thickness_first` | from the measured thickness to the built one; the law of before |
//! | [`through`] | one light through one stone |
//! | [`picture`], `jpeg`, `camera_notes`, [`picture_error`], [`area`], [`photo_notes`] | a photo, a place in it, and what goes out of it |
//! | [`swatch_photo`], `photo_pixels`, [`photo_error`], [`clusters`] | a stone over its bare panel: transmittance, body and vein |
//! | [`photo_values`] | the same from linear values in a table |
//! | `proposal` | where in a photo stone and bare panel seem to be |
//! | [`chart`], `chart_values` | what a photo of 24 known patches says of a camera's colours |
//! | `camera` | what a photo may be wrong by, and what the stone may then be |
//! | [`recover`], `smoothest`, [`weights`] | a spectrum from the three values of a photo |
//! | [`combine`] | one spectrum from several photos |
//! | [`relight`], `relight_pixels` | the photo under other lights |
//! | [`stone`] | what is known about a stone's colours, at any thickness |
//! | [`look`], `judged`, [`ranking`] | the prediction over every candidate light, ranked and doubted |
//! | [`evidence`] | predicted against seen |
//! | [`contact_sheet`], [`spectral_plot`], [`drawing`] | the pictures that people look at |
//! | [`colour`] | sRGB, CIELAB, CIEDE2000, chromatic adaptation |

pub mod area;
mod camera;
mod camera_notes;
pub mod channels;
pub mod chart;
mod chart_values;
pub mod clusters;
pub mod colour;
pub mod columns;
pub mod combine;
pub mod contact_sheet;
pub mod drawing;
pub mod evidence;
pub mod fidelity;
pub mod figures;
pub mod illuminants;
mod jpeg;
mod judged;
pub mod look;
pub mod mixing;
pub mod photo_error;
pub mod photo_notes;
mod photo_pixels;
pub(crate) mod photo_values;
pub mod photometry;
pub mod picture;
pub mod picture_error;
pub mod practice;
pub(crate) mod proposal;
pub mod ranking;
pub mod recover;
pub mod reference;
pub mod relight;
mod relight_pixels;
pub mod rendering;
pub(crate) mod slab;
mod smoothest;
pub mod spectral_plot;
pub mod spectrum;
pub mod spectrum_csv;
pub mod stand_in;
pub mod stone;
pub mod swatch_photo;
pub mod thickness;
mod thickness_first;
pub mod through;
pub mod tm27;
pub mod weights;

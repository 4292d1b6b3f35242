//! The lights that others are held against: black bodies and daylight.

use colorimetry::illuminant::Illuminant;

use super::spectrum::Spd;

/// A black body at `cct_k` kelvin.
#[must_use]
pub(crate) fn planck(cct_k: f64) -> Spd {
    Spd::from_illuminant(&Illuminant::planckian(cct_k))
}

/// A CIE daylight (CIE 15:2018) at `cct_k` kelvin; none outside 4000 to 25000 K.
#[must_use]
pub(crate) fn daylight(cct_k: f64) -> Option<Spd> {
    Illuminant::d_illuminant(cct_k).ok().map(|d| Spd::from_illuminant(&d))
}

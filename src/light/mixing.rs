//! Mixing two whites for tunable white. Red, green and blue channels are [`super::channels`]'s matter.
//!
//! Everything is in flux (tristimulus values add); a dimmer's duty cycle is the controller's affair.

use std::fmt;

use super::figures::{WhitePoint, duv_within_tolerance, white_point, white_point_of};
use super::spectrum::Spd;

/// One setting of a two-channel white.
#[derive(Clone, Debug, PartialEq)]
pub struct WhiteMix {
    /// The share of the flux that comes from the second (cool) channel, 0 to 1.
    pub cool_share: f64,
    /// The mixture at unit flux.
    pub light: Spd,
    /// Where it lies among the whites.
    pub white: WhitePoint,
    /// False where Duv is further from a good white's than ANSI C78.377 (from memory) allows: a two-channel
    /// white leaves the Planckian locus in the middle of its range.
    pub duv_within_tolerance: bool,
}

/// Mixes two channels, `cool_share` of the flux from the second one.
///
/// # Errors
/// Refuses a share outside 0 to 1.
pub fn mix(warm: &Spd, cool: &Spd, cool_share: f64) -> Result<WhiteMix, MixError> {
    if !(0.0..=1.0).contains(&cool_share) {
        return Err(MixError::Share(cool_share));
    }
    let light = warm.at_unit_flux().plus(1.0 - cool_share, &cool.at_unit_flux(), cool_share);
    let white = white_point(&light);
    let duv_within_tolerance = white.cct_k.is_some_and(|k| duv_within_tolerance(k, white.duv));
    Ok(WhiteMix { cool_share, light, white, duv_within_tolerance })
}

/// The mixture of two channels that has a CCT of `cct_k` kelvin. Also interpolates between two measured
/// whites.
///
/// # Errors
/// Refuses channels without a CCT, and a CCT outside what the two can reach.
pub(crate) fn white_at(warm: &Spd, cool: &Spd, cct_k: f64) -> Result<WhiteMix, MixError> {
    let (warm_xyz, cool_xyz) = (warm.at_unit_flux().xyz(), cool.at_unit_flux().xyz());
    let at = |share: f64| {
        let mut sum = [0.0; 3];
        for k in 0..3 {
            sum[k] = warm_xyz[k] * (1.0 - share) + cool_xyz[k] * share;
        }
        white_point_of(sum).cct_k
    };
    let (Some(low), Some(high)) = (at(0.0), at(1.0)) else {
        return Err(MixError::NoCct);
    };
    let outside = MixError::OutOfReach { asked_k: cct_k, low_k: low.min(high), high_k: low.max(high) };
    if !(low.min(high)..=low.max(high)).contains(&cct_k) {
        return Err(outside);
    }
    let rising = high > low;
    let (mut a, mut b) = (0.0, 1.0);
    for _ in 0..48 {
        let middle = (a + b) / 2.0;
        let found = at(middle).ok_or(MixError::NoCct)?;
        if (found < cct_k) == rising { a = middle } else { b = middle }
    }
    mix(warm, cool, (a + b) / 2.0)
}

/// Why lights cannot be mixed as asked.
#[derive(Clone, Debug, PartialEq)]
pub enum MixError {
    /// A share of flux outside 0 to 1.
    Share(f64),
    /// A channel that is no white.
    NoCct,
    /// A CCT that the two channels do not reach.
    OutOfReach {
        /// The CCT asked for, in kelvin.
        asked_k: f64,
        /// The lowest CCT within reach.
        low_k: f64,
        /// The highest CCT within reach.
        high_k: f64,
    },
    /// Numbers that are no chromaticity.
    NotAColour([f64; 2]),
    /// A chromaticity outside what the channels span.
    Unreachable([f64; 2]),
    /// Red, green and blue lie on one line.
    Flat,
}

impl MixError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        match self {
            MixError::Share(_) => "mix-share",
            MixError::NoCct => "mix-no-cct",
            MixError::OutOfReach { .. } => "mix-out-of-reach",
            MixError::NotAColour(_) => "mix-not-a-colour",
            MixError::Unreachable(_) => "mix-unreachable",
            MixError::Flat => "mix-flat",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            MixError::Share(_) => "give a share between 0 and 1".into(),
            MixError::NoCct => "give two whites, each within 0.05 Duv of the Planckian locus".into(),
            MixError::OutOfReach { low_k, high_k, .. } => {
                format!("choose a CCT from {low_k:.0} to {high_k:.0} K, or other channels")
            }
            MixError::NotAColour(_) => "give x and y above 0 with x + y below 1".into(),
            MixError::Unreachable(_) => "choose a colour inside the triangle of the channels".into(),
            MixError::Flat => "give red, green and blue channels of three different colours".into(),
        }
    }
}

impl fmt::Display for MixError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            MixError::Share(share) => write!(f, "{share} is not a share of the flux"),
            MixError::NoCct => f.write_str("a channel has no colour temperature"),
            MixError::OutOfReach { asked_k, low_k, high_k } => {
                write!(f, "{asked_k:.0} K cannot be mixed from {low_k:.0} K and {high_k:.0} K")
            }
            MixError::NotAColour([x, y]) => write!(f, "x {x}, y {y} is not a chromaticity"),
            MixError::Unreachable([x, y]) => write!(f, "the channels cannot make x {x}, y {y}"),
            MixError::Flat => f.write_str("the red, green and blue channels do not span colours"),
        }
    }
}

impl std::error::Error for MixError {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::illuminants::named;

    fn light(name: &str) -> Spd {
        named(name).unwrap_or_else(|e| panic!("{e}"))
    }

    /// Computed with colour-science 0.4.7 from the CIE 15:2018 spectra, half the flux each.
    #[test]
    fn half_and_half() {
        for (warm, cool, cct, duv) in
            [("LED-B1", "LED-B5", 4016.0, -0.0062), ("LED-B2", "LED-B4", 3835.0, -0.0028)]
        {
            let mixed = mix(&light(warm), &light(cool), 0.5).expect("in range");
            assert!(mixed.white.cct_k.is_some_and(|k| (k - cct).abs() < 3.0), "{:?}", mixed.white);
            assert!((mixed.white.duv - duv).abs() < 1e-4, "{:?}", mixed.white);
        }
    }

    #[test]
    fn the_middle_of_a_wide_pair_is_flagged_and_its_ends_are_not() {
        let (warm, cool) = (light("LED-B1"), light("LED-B5"));
        assert!(!mix(&warm, &cool, 0.5).expect("in range").duv_within_tolerance);
        assert!(mix(&warm, &cool, 0.0).expect("in range").duv_within_tolerance);
        assert!(mix(&warm, &cool, 1.0).expect("in range").duv_within_tolerance);
    }

    #[test]
    fn a_cct_asked_for_is_the_cct_mixed() {
        let (warm, cool) = (light("LED-B1"), light("LED-B5"));
        for cct in [2800.0, 3500.0, 4500.0, 6000.0] {
            let mixed = white_at(&warm, &cool, cct).expect("in range");
            assert!(mixed.white.cct_k.is_some_and(|k| (k - cct).abs() < 0.5), "{:?}", mixed.white);
            let swapped = white_at(&cool, &warm, cct).expect("in range");
            assert!((swapped.cool_share + mixed.cool_share - 1.0).abs() < 1e-6);
        }
        assert!(matches!(white_at(&warm, &cool, 2000.0), Err(MixError::OutOfReach { .. })));
        assert!(matches!(mix(&warm, &cool, 1.5), Err(MixError::Share(_))));
    }
}

//! Mixing lights: two whites for tunable white, four channels for RGBW.
//!
//! Everything is in flux (tristimulus values add); a dimmer's duty cycle is the controller's affair.

use std::fmt;

use super::figures::{Figures, WhitePoint, duv_within_tolerance, figures, white_point, white_point_of};
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
pub fn white_at(warm: &Spd, cool: &Spd, cct_k: f64) -> Result<WhiteMix, MixError> {
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

/// The four channels of an RGBW light, each at its full output on one scale (so that their fluxes compare).
#[derive(Clone, Debug)]
pub struct Rgbw {
    /// The red channel at full output.
    pub red: Spd,
    /// The green channel at full output.
    pub green: Spd,
    /// The blue channel at full output.
    pub blue: Spd,
    /// The white channel at full output.
    pub white: Spd,
}

/// What to look for among the settings that give the same colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Prefer {
    /// The highest fidelity index Rf.
    Fidelity,
    /// The most luminous flux.
    Flux,
}

/// One setting of an RGBW light.
#[derive(Clone, Debug)]
pub struct RgbwSetting {
    /// The share of the flux that the white channel gives, 0 to 1.
    pub white_share: f64,
    /// How far each of red, green, blue and white is turned up, 0 to 1, the fullest at 1.
    pub drive: [f64; 4],
    /// The luminous flux relative to the white channel alone at full output.
    pub relative_flux: f64,
    /// The mixed light at that drive, on the channels' scale.
    pub light: Spd,
    /// Its figures.
    pub figures: Figures,
}

impl Rgbw {
    /// Sweeps the white channel from out to as much as the colour allows, in `steps` + 1 settings, each of
    /// the same chromaticity `xy`: RGBW has one free parameter. Settings with a negative channel are left
    /// out.
    ///
    /// # Errors
    /// Refuses a chromaticity that the channels cannot make, and channels that do not span colours.
    pub fn sweep(&self, xy: [f64; 2], steps: usize) -> Result<Vec<RgbwSetting>, MixError> {
        let [x, y] = xy;
        if !(x > 0.0 && y > 0.0 && x + y < 1.0) {
            return Err(MixError::NotAColour(xy));
        }
        let target = [x / y, 1.0, (1.0 - x - y) / y];
        let columns = [self.red.xyz(), self.green.xyz(), self.blue.xyz()];
        let inverse = super::colour::inverse(transposed(columns)).ok_or(MixError::Flat)?;
        let white = self.white.xyz();
        let unit_white = white.map(|v| v / white[1]);
        let steps = steps.max(1);
        let mut settings = Vec::new();
        for step in 0..=steps {
            let share = step as f64 / steps as f64;
            let rest = [0, 1, 2].map(|k| target[k] - share * unit_white[k]);
            let mut parts = super::colour::times(inverse, rest);
            // The last setting may touch zero; rounding must not push it out.
            if parts.iter().any(|p| *p < -1e-9) {
                continue;
            }
            parts = parts.map(|p| p.max(0.0));
            let drive = [parts[0], parts[1], parts[2], share / white[1]];
            let fullest = drive.iter().copied().fold(0.0, f64::max);
            let drive = drive.map(|d| d / fullest);
            let light = self.red.plus(drive[0], &self.green, drive[1]).plus(
                1.0,
                &self.blue.plus(drive[2], &self.white, drive[3]),
                1.0,
            );
            let relative_flux = light.xyz()[1] / white[1];
            settings.push(RgbwSetting {
                white_share: share,
                drive,
                relative_flux,
                figures: figures(&light),
                light,
            });
        }
        if settings.is_empty() { Err(MixError::Unreachable(xy)) } else { Ok(settings) }
    }

    /// The best setting for one chromaticity out of a sweep of fifty steps.
    ///
    /// # Errors
    /// As [`Rgbw::sweep`].
    pub fn best(&self, xy: [f64; 2], prefer: Prefer) -> Result<RgbwSetting, MixError> {
        let worth = |s: &RgbwSetting| match prefer {
            Prefer::Fidelity => s.figures.rf.unwrap_or(0.0),
            Prefer::Flux => s.relative_flux,
        };
        self.sweep(xy, 50)?
            .into_iter()
            .max_by(|a, b| worth(a).total_cmp(&worth(b)))
            .ok_or(MixError::Unreachable(xy))
    }
}

fn transposed(m: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    [0, 1, 2].map(|i| [0, 1, 2].map(|j| m[j][i]))
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
    pub fn code(&self) -> &'static str {
        match self {
            MixError::Share(_) => "mix-share",
            MixError::NoCct => "mix-no-cct",
            MixError::OutOfReach { .. } => "mix-out-of-reach",
            MixError::NotAColour(_) => "mix-not-a-colour",
            MixError::Unreachable(_) => "mix-unreachable",
            MixError::Flat => "mix-flat",
        }
    }

    /// How to mend it.
    #[must_use]
    pub fn remedy(&self) -> String {
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
            MixError::Share(share) => write!(f, "{share} is no share of the flux"),
            MixError::NoCct => f.write_str("a channel has no colour temperature"),
            MixError::OutOfReach { asked_k, low_k, high_k } => {
                write!(f, "{asked_k:.0} K cannot be mixed from {low_k:.0} K and {high_k:.0} K")
            }
            MixError::NotAColour([x, y]) => write!(f, "x {x}, y {y} is no chromaticity"),
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
    use crate::light::spectrum::COUNT;

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

    fn peak(nm: f64, width: f64) -> Spd {
        Spd::new((0..COUNT).map(|i| (-((380.0 + i as f64 - nm) / width).powi(2)).exp()).collect())
            .unwrap_or_else(|e| panic!("{e}"))
    }

    #[test]
    fn rgbw_keeps_its_colour_along_the_sweep_and_trades_flux_for_fidelity() {
        let channels = Rgbw {
            red: peak(625.0, 12.0),
            green: peak(525.0, 20.0),
            blue: peak(465.0, 14.0),
            white: light("LED-B3"),
        };
        let xy = [0.38, 0.38];
        let sweep = channels.sweep(xy, 20).expect("inside the triangle");
        assert!(sweep.len() > 5);
        for s in &sweep {
            assert!((s.figures.white.x - 0.38).abs() < 1e-9 && (s.figures.white.y - 0.38).abs() < 1e-9);
            assert!(s.drive.iter().all(|d| (0.0..=1.0).contains(d)), "{:?}", s.drive);
            assert!(s.drive.contains(&1.0));
        }
        let faithful = channels.best(xy, Prefer::Fidelity).expect("inside");
        let bright = channels.best(xy, Prefer::Flux).expect("inside");
        assert!(faithful.figures.rf >= bright.figures.rf);
        assert!(bright.relative_flux >= faithful.relative_flux);
        assert!(faithful.white_share > 0.5, "the phosphor white renders best");
        assert!(matches!(channels.sweep([0.07, 0.84], 20), Err(MixError::Unreachable(_))));
        assert!(matches!(channels.sweep([0.9, 0.9], 20), Err(MixError::NotAColour(_))));
    }
}

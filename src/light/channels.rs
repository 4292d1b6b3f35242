//! The channels of a colour-changing light, RGB or RGBW, mixed in flux.
//!
//! Red, green and blue alone make a white in one way only. A white channel beside them leaves one number free: how
//! much of the flux is its own. Everything is in flux (tristimulus values add); a dimmer's duty cycle is the
//! controller's affair.

use super::colour::{Matrix, inverse, times};
use super::figures::{Figures, figures};
use super::illuminants::{typical_primaries, typical_white};
use super::mixing::MixError;
use super::reference::planck;
use super::spectrum::Spd;

/// The channels of a light, each at its full output on one scale, so that their fluxes compare.
#[derive(Clone, Debug)]
pub(crate) struct Channels {
    /// The red channel at full output.
    pub red: Spd,
    /// The green channel at full output.
    pub green: Spd,
    /// The blue channel at full output.
    pub blue: Spd,
    /// The white channel at full output; none for an RGB light.
    pub white: Option<Spd>,
}

/// What to look for among the settings that give the same colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Prefer {
    /// The highest fidelity index Rf.
    Fidelity,
    /// The most luminous flux.
    Flux,
}

/// How far each of red, green, blue and white is turned up, 0 to 1.
pub(crate) type Drive = [f64; 4];

/// The deep colours by name, with the luminous flux of red, green and blue in each: those of sRGB's own colours
/// (IEC 61966-2-1; amber is #ff8000). The white channel is out, as is usual for deep colours.
const DEEP: [(&str, [f64; 3]); 6] = [
    ("red", [0.2126, 0.0, 0.0]),
    ("amber", [0.2126, 0.1531, 0.0]),
    ("green", [0.0, 0.7152, 0.0]),
    ("cyan", [0.0, 0.7152, 0.0722]),
    ("blue", [0.0, 0.0, 0.0722]),
    ("magenta", [0.2126, 0.0, 0.0722]),
];

/// One setting of the channels.
#[derive(Clone, Debug)]
pub(crate) struct Setting {
    /// How far each channel is turned up, the fullest at 1.
    pub drive: Drive,
    /// The share of the flux that the white channel gives, 0 to 1.
    pub white_share: f64,
    /// The mixed light, on the channels' scale.
    pub light: Spd,
}

impl Channels {
    /// Typical channels of these fluxes: the three peaks of CIE LED-RGB1 and a phosphor white of `white_k` kelvin
    /// ([`typical_white`]). They stand in where nobody has measured the channels. None where there is no such
    /// white.
    #[must_use]
    pub(crate) fn typical(flux: [f64; 3], white: Option<(f64, f64)>) -> Option<Channels> {
        let scaled = |light: &Spd, flux: f64| light.at_unit_flux().times(flux);
        let [red, green, blue] = typical_primaries();
        let white = match white {
            None => None,
            Some((cct_k, flux)) => Some(scaled(&typical_white(cct_k)?, flux)),
        };
        Some(Channels {
            red: scaled(&red, flux[0]),
            green: scaled(&green, flux[1]),
            blue: scaled(&blue, flux[2]),
            white,
        })
    }

    /// The light of one setting, on the channels' scale.
    #[must_use]
    pub(crate) fn at(&self, drive: Drive) -> Spd {
        let colours = self.red.plus(drive[0], &self.green, drive[1]).plus(1.0, &self.blue, drive[2]);
        match &self.white {
            Some(white) => colours.plus(1.0, white, drive[3]),
            None => colours,
        }
    }

    /// The deep colours of one channel and of two, each turned up until a channel is full.
    #[must_use]
    pub(crate) fn deep_colours(&self) -> Vec<(&'static str, Drive)> {
        let full = [self.red.xyz()[1], self.green.xyz()[1], self.blue.xyz()[1]];
        DEEP.iter()
            .map(|(name, flux)| {
                let asked = [0, 1, 2].map(|k| flux[k] / full[k]);
                let fullest = asked.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
                let [red, green, blue] = asked.map(|v| v / fullest);
                (*name, [red, green, blue, 0.0])
            })
            .collect()
    }

    /// The setting of the chromaticity `xy` that takes as much from the white channel as the colour allows, turned
    /// up until one channel is full.
    ///
    /// # Errors
    /// Refuses a chromaticity that the channels cannot make, and channels that do not span colours.
    pub(crate) fn fullest_white(&self, xy: [f64; 2]) -> Result<Setting, MixError> {
        let solver = self.solver(xy)?;
        // Each channel falls or rises straight with the white's share, so the first to reach zero bounds it.
        let (none, all) = (solver.parts(0.0), solver.parts(1.0));
        let most = if self.white.is_none() {
            0.0
        } else {
            (0..3)
                .filter(|k| all[*k] < none[*k])
                .map(|k| none[k] / (none[k] - all[k]))
                .fold(1.0f64, f64::min)
                .max(0.0)
        };
        self.setting(&solver, most).ok_or(MixError::Unreachable(xy))
    }

    /// The setting for a white of `cct_k` kelvin on the Planckian locus, as [`Channels::fullest_white`] finds it.
    ///
    /// # Errors
    /// As [`Channels::fullest_white`].
    pub(crate) fn white_at(&self, cct_k: f64) -> Result<Setting, MixError> {
        self.fullest_white(planckian_xy(cct_k))
    }

    /// Sweeps the white channel from out to as much as the colour allows, in `steps` + 1 settings, each of
    /// the same chromaticity `xy`. Settings with a negative channel are left out.
    ///
    /// # Errors
    /// As [`Channels::fullest_white`].
    pub(crate) fn sweep(&self, xy: [f64; 2], steps: usize) -> Result<Vec<Setting>, MixError> {
        let solver = self.solver(xy)?;
        let steps = if self.white.is_some() { steps.max(1) } else { 0 };
        let settings: Vec<Setting> =
            (0..=steps).filter_map(|step| self.setting(&solver, step as f64 / steps.max(1) as f64)).collect();
        if settings.is_empty() { Err(MixError::Unreachable(xy)) } else { Ok(settings) }
    }

    /// The best setting for one chromaticity out of a sweep of fifty steps, with its figures.
    ///
    /// # Errors
    /// As [`Channels::fullest_white`].
    pub(crate) fn best(&self, xy: [f64; 2], prefer: Prefer) -> Result<(Setting, Figures), MixError> {
        let worth = |s: &Setting, f: &Figures| match prefer {
            Prefer::Fidelity => f.rf.unwrap_or(0.0),
            Prefer::Flux => s.light.xyz()[1],
        };
        self.sweep(xy, 50)?
            .into_iter()
            .map(|s| {
                let figures = figures(&s.light);
                (s, figures)
            })
            .max_by(|(a, fa), (b, fb)| worth(a, fa).total_cmp(&worth(b, fb)))
            .ok_or(MixError::Unreachable(xy))
    }

    fn solver(&self, xy: [f64; 2]) -> Result<Solver, MixError> {
        let [x, y] = xy;
        if !(x > 0.0 && y > 0.0 && x + y < 1.0) {
            return Err(MixError::NotAColour(xy));
        }
        let columns = [self.red.xyz(), self.green.xyz(), self.blue.xyz()];
        let rows = [0, 1, 2].map(|i| [0, 1, 2].map(|j| columns[j][i]));
        let white = self.white.as_ref().map(Spd::xyz);
        Ok(Solver {
            target: [x / y, 1.0, (1.0 - x - y) / y],
            inverse: inverse(rows).ok_or(MixError::Flat)?,
            unit_white: white.map_or([0.0; 3], |w| w.map(|v| v / w[1])),
            white_flux: white.map_or(f64::INFINITY, |w| w[1]),
        })
    }

    /// The setting in which `share` of the flux is the white channel's; none where a channel would be negative.
    fn setting(&self, solver: &Solver, share: f64) -> Option<Setting> {
        let parts = solver.parts(share);
        // The last setting may touch zero; rounding must not push it out.
        if parts.iter().any(|p| *p < -1e-9) {
            return None;
        }
        let parts = parts.map(|p| p.max(0.0));
        let drive = [parts[0], parts[1], parts[2], share / solver.white_flux];
        let fullest = drive.iter().copied().fold(0.0, f64::max);
        let drive = drive.map(|d| d / fullest);
        Some(Setting { drive, white_share: share, light: self.at(drive) })
    }
}

/// x, y of a black body.
#[must_use]
pub(crate) fn planckian_xy(cct_k: f64) -> [f64; 2] {
    let [x, y, z] = planck(cct_k).xyz();
    let sum = x + y + z;
    [x / sum, y / sum]
}

/// What a colour at unit flux asks of the channels.
struct Solver {
    target: [f64; 3],
    inverse: Matrix,
    unit_white: [f64; 3],
    white_flux: f64,
}

impl Solver {
    /// Red, green and blue beside this share of flux from the white channel.
    fn parts(&self, share: f64) -> [f64; 3] {
        times(self.inverse, [0, 1, 2].map(|k| self.target[k] - share * self.unit_white[k]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::figures::white_point;
    use crate::light::illuminants::named;
    use crate::light::spectrum::COUNT;

    fn peak(nm: f64, width: f64) -> Spd {
        Spd::new((0..COUNT).map(|i| (-((380.0 + i as f64 - nm) / width).powi(2)).exp()).collect())
            .unwrap_or_else(|e| panic!("{e}"))
    }

    fn narrow() -> Channels {
        Channels {
            red: peak(625.0, 12.0),
            green: peak(525.0, 20.0),
            blue: peak(465.0, 14.0),
            white: Some(named("LED-B3").unwrap_or_else(|e| panic!("{e}"))),
        }
    }

    #[test]
    fn rgbw_keeps_its_colour_along_the_sweep_and_trades_flux_for_fidelity() {
        let channels = narrow();
        let xy = [0.38, 0.38];
        let sweep = channels.sweep(xy, 20).expect("inside the triangle");
        assert!(sweep.len() > 5);
        for s in &sweep {
            let white = white_point(&s.light);
            assert!((white.x - 0.38).abs() < 1e-9 && (white.y - 0.38).abs() < 1e-9);
            assert!(s.drive.iter().all(|d| (0.0..=1.0).contains(d)), "{:?}", s.drive);
            assert!(s.drive.contains(&1.0));
        }
        let (faithful, figures) = channels.best(xy, Prefer::Fidelity).expect("inside");
        let (bright, other) = channels.best(xy, Prefer::Flux).expect("inside");
        assert!(figures.rf >= other.rf);
        assert!(bright.light.xyz()[1] >= faithful.light.xyz()[1]);
        assert!(faithful.white_share > 0.5, "the phosphor white renders best");
        assert!(matches!(channels.sweep([0.07, 0.84], 20), Err(MixError::Unreachable(_))));
        assert!(matches!(channels.sweep([0.9, 0.9], 20), Err(MixError::NotAColour(_))));
    }

    #[test]
    fn the_fullest_white_is_the_last_setting_of_a_sweep() {
        let channels = narrow();
        for xy in [[0.38, 0.38], [0.45, 0.41], [0.31, 0.32]] {
            let most = channels.fullest_white(xy).expect("inside");
            let white = white_point(&most.light);
            assert!((white.x - xy[0]).abs() < 1e-9 && (white.y - xy[1]).abs() < 1e-9);
            let last = channels.sweep(xy, 200).expect("inside").into_iter().next_back().expect("one");
            assert!((0.0..0.0051).contains(&(most.white_share - last.white_share)), "{most:?}");
            assert!(most.drive[..3].iter().any(|d| *d < 1e-9), "a channel is out");
        }
    }

    /// Red, green and blue give a white in one way; the sums of CIE 15:2018 say it is the white asked for.
    #[test]
    fn an_rgb_light_makes_whites_without_a_white_channel() {
        let channels = Channels::typical([160.0, 350.0, 80.0], None).expect("typical");
        for cct in [2700.0, 4000.0, 6500.0] {
            let setting = channels.white_at(cct).expect("within the triangle");
            let white = white_point(&setting.light);
            assert!(white.cct_k.is_some_and(|k| (k - cct).abs() < 1.0) && white.duv.abs() < 1e-5);
            assert!(setting.white_share == 0.0 && setting.drive[3] == 0.0);
        }
        assert_eq!(channels.sweep(planckian_xy(4000.0), 20).map(|s| s.len()), Ok(1));
    }

    #[test]
    fn deep_colours_have_no_colour_temperature_and_the_flux_of_their_channels() {
        let channels = Channels::typical([160.0, 350.0, 80.0], Some((4000.0, 470.0))).expect("typical");
        let deep = channels.deep_colours();
        assert_eq!(deep.len(), 6);
        for (name, drive) in deep {
            let light = channels.at(drive);
            let white = white_point(&light);
            // Amber lies beside the black bodies, at a CCT that no white has.
            assert!(white.cct_k.is_none_or(|k| name == "amber" && k < 2300.0), "{name}: {white:?}");
            assert!(drive.contains(&1.0) && drive[3] == 0.0, "{name}: {drive:?}");
            let flux = 160.0 * drive[0] + 350.0 * drive[1] + 80.0 * drive[2];
            assert!((light.xyz()[1] - flux).abs() < 1e-6 * flux, "{name}");
        }
        let white = channels.white_at(4000.0).expect("nearly the white channel itself");
        assert!(white.white_share > 0.97, "{white:?}");
    }
}

//! A white of which only a meter's figures are known: chromaticity, and general colour rendering index Ra.
//!
//! Its spectrum is not among them, so one is made that has them: a typical LED white of that colour temperature,
//! mixed with the reference light of the same one (CIE 13.3:1995: black body below 5000 K, daylight from there) as far as
//! the Ra asks, and tinted smoothly until it has the very x and y. It is nearer to the panel than a typical white by
//! CCT alone, and it is an estimate all the same.

use super::figures::white_point_of;
use super::illuminants::channel_white;
use super::recover::Recovery;
use super::reference::{daylight, planck};
use super::rendering::rendering;
use super::spectrum::Spd;

/// Flux of the tinted light over that of the light before, so that no wavelength has to gain.
const TINTED: f64 = 0.5;
/// How near the tinted light's x and y come to those that were read.
const MET: f64 = 5e-4;

/// What a meter read of a white.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct MeterFigures {
    /// The colour temperature, in kelvin, where no chromaticity was read.
    pub cct_k: Option<f64>,
    /// CIE 1931 chromaticity x and y.
    pub xy: Option<[f64; 2]>,
    /// General colour rendering index Ra, up to 100.
    pub ra: Option<f64>,
}

/// A light that has these figures, and the Ra that it came to, which is the typical LED white's own where that is more
/// than what was read. None where they are no white's.
#[must_use]
pub(crate) fn white(figures: MeterFigures) -> Option<(Spd, f64)> {
    let read = figures.xy.map(|[x, y]| [x / y, 1.0, (1.0 - x - y) / y]);
    let cct_k = match read {
        Some(xyz) if xyz.iter().all(|v| v.is_finite() && *v > 0.0) => white_point_of(xyz).cct_k?,
        Some(_) => return None,
        None => figures.cct_k?,
    };
    let led = channel_white(cct_k)?.at_unit_flux();
    let reference = if cct_k < 5000.0 { planck(cct_k) } else { daylight(cct_k)? }.at_unit_flux();
    let of = |share: f64| -> Option<(Spd, f64)> {
        let mixed = led.plus(1.0 - share, &reference, share);
        let light = match read {
            None => mixed,
            Some(xyz) => tinted(&mixed, xyz)?,
        };
        let ra = rendering(&light, cct_k)?.ra;
        Some((light, ra))
    };
    let (mut low, mut high) = (0.0, 1.0);
    let plain = of(low)?;
    let Some(wanted) = figures.ra.filter(|wanted| *wanted > plain.1) else { return Some(plain) };
    for _ in 0..20 {
        let middle = (low + high) / 2.0;
        if of(middle)?.1 < wanted { low = middle } else { high = middle }
    }
    of(high)
}

/// A light made smoothly redder, bluer, greener or pinker until it has this colour.
fn tinted(light: &Spd, xyz: [f64; 3]) -> Option<Spd> {
    let recovery = Recovery::under(light);
    let tint = recovery.recover(xyz.map(|v| v * TINTED))?.stone.transmittance();
    let out = light.through(&tint)?;
    let [x, y, z] = out.xyz();
    let sum = x + y + z;
    let goal = xyz[0] + xyz[1] + xyz[2];
    let near = (x / sum - xyz[0] / goal).abs() < MET && (y / sum - xyz[1] / goal).abs() < MET;
    near.then(|| out.at_unit_flux())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::figures::white_point;
    use crate::light::illuminants::named;

    fn light(name: &str) -> Spd {
        named(name).unwrap_or_else(|e| panic!("{e}"))
    }

    fn xy(light: &Spd) -> [f64; 2] {
        let [x, y, z] = light.xyz();
        [x / (x + y + z), y / (x + y + z)]
    }

    /// CIE 15:2018's LED whites, of blue and of violet pump: from x, y and Ra alone comes a light that has them.
    #[test]
    fn a_light_of_the_figures_has_them() {
        for name in ["LED-B1", "LED-B4", "LED-V1", "LED-V2", "F11"] {
            let truth = light(name);
            let cct = white_point(&truth).cct_k.expect("a white");
            let wanted = rendering(&truth, cct).expect("a white").ra;
            let figures = MeterFigures { cct_k: None, xy: Some(xy(&truth)), ra: Some(wanted) };
            let (found, ra) = white(figures).unwrap_or_else(|| panic!("{name}"));
            let (a, b) = (xy(&truth), xy(&found));
            assert!((a[0] - b[0]).abs() < MET && (a[1] - b[1]).abs() < MET, "{name}: {a:?} {b:?}");
            assert!(ra > wanted - 0.1, "{name}: {ra} {wanted}");
        }
    }

    /// Over a stone, a violet-pumped white of Ra 95 is met more nearly by its figures than by its CCT alone.
    #[test]
    fn figures_tell_more_than_the_colour_temperature_alone() {
        let stone = super::super::spectrum::Transmittance::from_fn(|i| {
            0.01 + 0.3 / (1.0 + (-(i as f64 - 190.0) / 35.0).exp())
        });
        let truth = light("LED-V2");
        let point = white_point(&truth);
        let cct = point.cct_k.expect("a white");
        let ra = rendering(&truth, cct).expect("a white").ra;
        let through = |light: &Spd| xy(&light.through(&stone).expect("some light"));
        let goal = through(&truth);
        let off = |light: &Spd| {
            let found = through(light);
            ((found[0] - goal[0]).powi(2) + (found[1] - goal[1]).powi(2)).sqrt()
        };
        let by_cct = white(MeterFigures { cct_k: Some(cct), xy: None, ra: None }).expect("a white").0;
        let by_figures = white(MeterFigures { cct_k: None, xy: Some(xy(&truth)), ra: Some(ra) });
        let (by_cct, by_figures) = (off(&by_cct), off(&by_figures.expect("a white").0));
        assert!(by_figures < 0.7 * by_cct, "{by_figures} {by_cct}");
    }

    #[test]
    fn what_is_no_white_makes_no_light() {
        for xy in [[0.7, 0.29], [0.15, 0.06], [0.0, 0.3], [0.6, 0.6]] {
            assert!(white(MeterFigures { cct_k: None, xy: Some(xy), ra: None }).is_none(), "{xy:?}");
        }
        assert!(white(MeterFigures { cct_k: None, xy: None, ra: Some(90.0) }).is_none());
    }
}

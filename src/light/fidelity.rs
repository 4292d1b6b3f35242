//! Colour fidelity Rf (CIE 224:2017) and gamut Rg (ANSI/IES TM-30-20).
//!
//! The samples, the observer and CIECAM02 come from the colour library; the reference light is our own,
//! because the blend between 4000 K and 5000 K must mix a black body and a daylight *of the light's own
//! CCT*, each at equal luminous flux first (CIE 224:2017, 4.2).

use std::sync::LazyLock;

use colorimetry::cam::{CamTransforms, CieCam02, TM30VC};
use colorimetry::colorant::{CES, N_CFI};
use colorimetry::observer::Observer;
use colorimetry::spectrum::Spectrum;
use colorimetry::traits::Filter;
use colorimetry::xyz::{RelXYZ, XYZ};

use super::reference::{daylight, planck};
use super::spectrum::{COUNT, OBSERVER_1964, Spd, weigh};

/// Scale between mean colour difference and the index (CIE 224:2017).
const DIFFERENCE_SCALE: f64 = 6.73;
/// Hue sectors of the gamut index (ANSI/IES TM-30-20).
const SECTORS: usize = 16;

/// Fidelity and gamut of one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Fidelity {
    /// Rf, 0 to 100: 100 renders every sample as its reference does.
    pub rf: f64,
    /// Rg: 100 where the gamut is as large as the reference's.
    pub rg: f64,
}

/// The reference light for a CCT in kelvin, at unit flux: black body up to 4000 K, daylight from 5000 K,
/// and in between a blend in equal flux (CIE 224:2017).
#[must_use]
pub(crate) fn reference(cct_k: f64) -> Option<Spd> {
    if cct_k <= 4000.0 {
        return Some(planck(cct_k).at_unit_flux());
    }
    let day = daylight(cct_k)?;
    if cct_k >= 5000.0 {
        return Some(day.at_unit_flux());
    }
    let share = (cct_k - 4000.0) / 1000.0;
    let flux_1964 = |light: &Spd| weigh(&OBSERVER_1964, |i| light.values()[i])[1];
    let black = planck(cct_k);
    let (black_flux, day_flux) = (flux_1964(&black), flux_1964(&day));
    Some(black.plus((1.0 - share) / black_flux, &day, share / day_flux).at_unit_flux())
}

/// The 99 samples times the 1964 observer, so that a light's tristimulus values are one product.
static WEIGHTED_SAMPLES: LazyLock<Vec<[[f64; 3]; COUNT]>> = LazyLock::new(|| {
    CES.iter()
        .map(|sample| {
            let spectrum: std::borrow::Cow<'_, Spectrum> = sample.spectrum();
            let values = spectrum.as_array();
            let mut weighted = [[0.0; 3]; COUNT];
            for (i, observer) in OBSERVER_1964.iter().enumerate() {
                weighted[i] = observer.map(|v| v * values[i]);
            }
            weighted
        })
        .collect()
});

/// Rf and Rg of a light whose CCT is known; none where CCT has no reference (over 25000 K).
#[must_use]
pub(crate) fn fidelity(light: &Spd, cct_k: f64) -> Option<Fidelity> {
    let test = appearance(light)?;
    let reference = appearance(&reference(cct_k)?)?;
    let mean = test
        .iter()
        .zip(&reference)
        .map(|(t, r)| ((t[0] - r[0]).powi(2) + (t[1] - r[1]).powi(2) + (t[2] - r[2]).powi(2)).sqrt())
        .sum::<f64>()
        / N_CFI as f64;
    let rf = 10.0 * (((100.0 - DIFFERENCE_SCALE * mean) / 10.0).exp() + 1.0).ln();
    Some(Fidelity { rf, rg: gamut(&test, &reference) })
}

/// CIECAM02-UCS of every sample under one light, CIE 1964 observer, the fixed TM-30 viewing conditions.
fn appearance(light: &Spd) -> Option<Vec<[f64; 3]>> {
    let values = light.values();
    let white = weigh(&OBSERVER_1964, |i| values[i]);
    let scale = 100.0 / white[1];
    let white = XYZ::new(white.map(|v| v * scale), Observer::Cie1964);
    WEIGHTED_SAMPLES
        .iter()
        .map(|sample| {
            let xyz = weigh(sample, |i| values[i]).map(|v| v * scale);
            let relative = RelXYZ::from_xyz(XYZ::new(xyz, Observer::Cie1964), white).ok()?;
            Some(CieCam02::from_xyz(relative, TM30VC).jab_prime())
        })
        .collect()
}

/// Ratio of the areas that the hue-sector means span in a′, b′; sectors by the reference's hue.
fn gamut(test: &[[f64; 3]], reference: &[[f64; 3]]) -> f64 {
    let mut sums = [[0.0f64; 5]; SECTORS];
    for (t, r) in test.iter().zip(reference) {
        let hue = r[2].atan2(r[1]).rem_euclid(std::f64::consts::TAU);
        let sector = ((hue / std::f64::consts::TAU * SECTORS as f64) as usize).min(SECTORS - 1);
        for (sum, value) in sums[sector].iter_mut().zip([t[1], t[2], r[1], r[2], 1.0]) {
            *sum += value;
        }
    }
    let means: Vec<[f64; 4]> = sums
        .iter()
        .filter(|sum| sum[4] > 0.0)
        .map(|sum| [sum[0] / sum[4], sum[1] / sum[4], sum[2] / sum[4], sum[3] / sum[4]])
        .collect();
    let area = |a: usize, b: usize| {
        means
            .iter()
            .zip(means.iter().cycle().skip(1))
            .map(|(p, q)| p[a] * q[b] - p[b] * q[a])
            .sum::<f64>()
            .abs()
    };
    100.0 * area(0, 1) / area(2, 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIE 224:2017: a reference judged against itself scores 100, also inside the 4000–5000 K blend.
    #[test]
    fn references_score_one_hundred() {
        for cct in [3000.0, 4250.0, 4500.0, 4750.0, 5500.0] {
            let own = fidelity(&reference(cct).expect("in range"), cct).expect("in range");
            assert!((own.rf - 100.0).abs() < 0.01 && (own.rg - 100.0).abs() < 0.01, "{cct}: {own:?}");
        }
    }
}

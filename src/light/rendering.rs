//! Colour rendering Ra and R9 (CIE 13.3:1995).
//!
//! The test colours come from the colour library at their published 5 nm and are brought to 1 nm by
//! Sprague's formula here: straight lines between them move R9 of a narrow-band light by more than a unit.

use std::sync::LazyLock;

use colorimetry::colorant::TCS;
use colorimetry::spectrum::Spectrum;
use colorimetry::traits::Filter;

use super::reference::{daylight, planck};
use super::spectrum::{COUNT, FIRST_NM, LAST_NM, OBSERVER_1931, Spd, weigh};

/// Ra and R9 of one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rendering {
    /// General index: the mean over the first eight test colours, at most 100.
    pub ra: f64,
    /// Special index of the ninth, a strong red; may be negative.
    pub r9: f64,
}

/// Steps at which the test colours are published, in nanometres.
const PUBLISHED_NM: usize = 5;
/// The eight colours of Ra and the strong red.
const COLOURS: usize = 9;

/// The test colours times the 1931 observer.
static WEIGHTED: LazyLock<Vec<Vec<[f64; 3]>>> = LazyLock::new(|| {
    TCS.iter()
        .take(COLOURS)
        .map(|colour| {
            let reflectance = curved(colour.spectrum().as_array());
            (0..COUNT).map(|i| OBSERVER_1931[i].map(|v| v * reflectance[i])).collect()
        })
        .collect()
});

/// Sprague's curve (CIE 15:2018, 7.2.1) through every fifth value.
fn curved(values: &[f64]) -> Vec<f64> {
    let published: Vec<f64> = values.iter().copied().step_by(PUBLISHED_NM).collect();
    Spectrum::sprague_interpolate([FIRST_NM as f64, LAST_NM as f64], &published)
        .map_or_else(|_| values.to_vec(), |fine| fine.as_array().iter().map(|v| v.max(0.0)).collect())
}

/// Ra and R9 of a light whose CCT is known; none where that CCT has no reference (over 25000 K).
#[must_use]
pub(crate) fn rendering(light: &Spd, cct_k: f64) -> Option<Rendering> {
    let reference = if cct_k < 5000.0 { planck(cct_k) } else { daylight(cct_k)? };
    let (white, seen) = under(light);
    let (white_reference, seen_reference) = under(&reference);
    let (c, d) = cd(uv(white));
    let (c_reference, d_reference) = cd(uv(white_reference));
    let origin = uv(white_reference);
    let special: Vec<f64> = seen
        .iter()
        .zip(&seen_reference)
        .map(|(test, reference)| {
            // Adaptation by von Kries as CIE 13.3 writes it, 5.7.
            let (ci, di) = cd(uv(*test));
            let (c_ratio, d_ratio) = (c_reference / c * ci, d_reference / d * di);
            let below = 16.518 + 1.481 * c_ratio - d_ratio;
            let adapted = [(10.872 + 0.404 * c_ratio - 4.0 * d_ratio) / below, 5.520 / below];
            let a = uvw(test[1], adapted, origin);
            let b = uvw(reference[1], uv(*reference), origin);
            let distance = (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt();
            100.0 - 4.6 * distance
        })
        .collect();
    Some(Rendering { ra: special.iter().take(8).sum::<f64>() / 8.0, r9: *special.get(8)? })
}

/// White and test colours under a light, white at Y = 100.
fn under(light: &Spd) -> ([f64; 3], Vec<[f64; 3]>) {
    let values = light.values();
    let white = light.xyz();
    let scale = 100.0 / white[1];
    let colours = WEIGHTED.iter().map(|w| weigh(w, |i| values[i]).map(|v| v * scale)).collect();
    (white.map(|v| v * scale), colours)
}

/// CIE 1960 u, v.
fn uv([x, y, z]: [f64; 3]) -> [f64; 2] {
    let below = x + 15.0 * y + 3.0 * z;
    [4.0 * x / below, 6.0 * y / below]
}

fn cd([u, v]: [f64; 2]) -> (f64, f64) {
    ((4.0 - u - 10.0 * v) / v, (1.708 * v + 0.404 - 1.481 * u) / v)
}

/// CIE 1964 W*U*V*.
fn uvw(y: f64, [u, v]: [f64; 2], origin: [f64; 2]) -> [f64; 3] {
    let w = 25.0 * y.cbrt() - 17.0;
    [w, 13.0 * w * (u - origin[0]), 13.0 * w * (v - origin[1])]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIE 13.3:1995: a light judged against itself scores 100 on every colour.
    #[test]
    fn references_score_one_hundred() {
        for (light, cct) in [(planck(2800.0), 2800.0), (planck(4999.0), 4999.0)] {
            let own = rendering(&light, cct).unwrap_or_else(|| panic!("{cct}"));
            assert!((own.ra - 100.0).abs() < 1e-9 && (own.r9 - 100.0).abs() < 1e-9, "{own:?}");
        }
    }
}

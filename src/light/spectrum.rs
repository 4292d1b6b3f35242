//! A light's spectrum and a stone's spectral transmittance on one wavelength grid.
//!
//! The grid is 380 nm to 780 nm at 1 nm, which CIE 15:2018 allows for visible light. Nothing here reads a
//! file ([`super::spectrum_csv`] and [`super::tm27`] do) and nothing here judges a light
//! ([`super::figures`] does).

use std::fmt;
use std::sync::LazyLock;

use colorimetry::illuminant::Illuminant;
use colorimetry::observer::Observer;
use colorimetry::spectrum::Spectrum;

/// The shortest wavelength of the grid, in nanometres.
pub const FIRST_NM: usize = 380;
/// The longest wavelength of the grid, in nanometres.
pub(crate) const LAST_NM: usize = 780;
/// How many wavelengths the grid has.
pub const COUNT: usize = LAST_NM - FIRST_NM + 1;

/// The CIE 1931 standard observer on the grid (CIE 15:2018), as `[x̄, ȳ, z̄]` per nanometre.
pub(crate) static OBSERVER_1931: LazyLock<Vec<[f64; 3]>> = LazyLock::new(|| observer(Observer::Cie1931));
/// The CIE 1964 standard observer on the grid (CIE 15:2018).
pub(crate) static OBSERVER_1964: LazyLock<Vec<[f64; 3]>> = LazyLock::new(|| observer(Observer::Cie1964));

fn observer(observer: Observer) -> Vec<[f64; 3]> {
    (FIRST_NM..=LAST_NM)
        .map(|nm| observer.xyz_at_wavelength(nm).map_or([0.0; 3], |xyz| xyz.to_array()))
        .collect()
}

/// The relative spectral power of a light, per nanometre, never negative, not all zero.
///
/// Its scale means something only where a function says so (mixing, for instance, works in flux).
#[derive(Clone, PartialEq)]
pub struct Spd(Vec<f64>);

/// The fraction of light that a stone lets through, per nanometre, each within 0 to 1.
#[derive(Clone, PartialEq)]
pub struct Transmittance(Vec<f64>);

impl Spd {
    /// A light from the values on the grid, in relative power per nanometre.
    ///
    /// # Errors
    /// Refuses another count than [`COUNT`], values that are negative or not finite, and a dark spectrum.
    pub fn new(values: Vec<f64>) -> Result<Spd, CurveError> {
        check(&values)?;
        if values.iter().any(|v| *v < 0.0) {
            return Err(CurveError::Negative);
        }
        let light = Spd(values);
        if light.xyz()[1] > 0.0 { Ok(light) } else { Err(CurveError::Dark) }
    }

    /// The values on the grid.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.0
    }

    /// Tristimulus values, CIE 1931 observer, Σ S·x̄ over the grid (so Y·683 is lumens where S is W/nm).
    #[must_use]
    pub fn xyz(&self) -> [f64; 3] {
        weigh(&OBSERVER_1931, |i| self.0[i])
    }

    /// The same light scaled to Y = 1, so that lights can be compared or mixed in flux.
    #[must_use]
    pub fn at_unit_flux(&self) -> Spd {
        let y = self.xyz()[1];
        Spd(self.0.iter().map(|v| v / y).collect())
    }

    /// Tristimulus values of this light seen through a stone, on the scale of [`Spd::xyz`].
    #[must_use]
    pub fn xyz_through(&self, stone: &Transmittance) -> [f64; 3] {
        weigh(&OBSERVER_1931, |i| self.0[i] * stone.0[i])
    }

    /// This light after it has passed a stone; none where nothing visible is left.
    #[must_use]
    pub(crate) fn through(&self, stone: &Transmittance) -> Option<Spd> {
        Spd::new(self.0.iter().zip(&stone.0).map(|(s, t)| s * t).collect()).ok()
    }

    /// This light with a weight for each place on the grid, not negative; some visible light must be left.
    pub(crate) fn weighted(&self, weight: impl Fn(usize) -> f64) -> Spd {
        Spd(self.0.iter().enumerate().map(|(i, v)| v * weight(i)).collect())
    }

    /// This light at another output; the factor is above 0.
    pub(crate) fn times(&self, factor: f64) -> Spd {
        Spd(self.0.iter().map(|v| v * factor).collect())
    }

    /// This light and another added, each times its weight: weights are not negative and not both zero.
    pub(crate) fn plus(&self, weight: f64, other: &Spd, other_weight: f64) -> Spd {
        Spd(self.0.iter().zip(&other.0).map(|(a, b)| a * weight + b * other_weight).collect())
    }

    pub(crate) fn from_illuminant(light: &Illuminant) -> Spd {
        let spectrum: &Spectrum = light.as_ref();
        Spd(spectrum.as_array().iter().map(|v| v.max(0.0)).collect())
    }
}

impl Transmittance {
    /// A stone from the values on the grid.
    ///
    /// # Errors
    /// Refuses another count than [`COUNT`] and values outside 0 to 1.
    pub fn new(values: Vec<f64>) -> Result<Transmittance, CurveError> {
        check(&values)?;
        if values.iter().any(|v| *v < 0.0) {
            return Err(CurveError::Negative);
        }
        if values.iter().any(|v| *v > 1.0) {
            return Err(CurveError::OverOne);
        }
        Ok(Transmittance(values))
    }

    /// A stone that lets every wavelength through alike, `fraction` within 0 to 1 (clamped).
    #[must_use]
    pub fn grey(fraction: f64) -> Transmittance {
        let fraction = if fraction.is_finite() { fraction.clamp(0.0, 1.0) } else { 0.0 };
        Transmittance(vec![fraction; COUNT])
    }

    /// The values on the grid.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.0
    }

    /// The luminous transmittance under a light: what a lux meter with and without the stone would give.
    #[must_use]
    pub fn luminous(&self, light: &Spd) -> f64 {
        light.xyz_through(self)[1] / light.xyz()[1]
    }

    /// A stone computed wavelength by wavelength from this one; results are held within 0 to 1.
    #[must_use]
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Transmittance {
        Transmittance(self.0.iter().map(|t| held(f(*t))).collect())
    }

    pub(crate) fn from_fn(f: impl Fn(usize) -> f64) -> Transmittance {
        Transmittance((0..COUNT).map(|i| held(f(i))).collect())
    }
}

impl fmt::Debug for Spd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Spd(xyz {:?})", self.xyz())
    }
}

impl fmt::Debug for Transmittance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Transmittance({} at 550 nm)", self.0[550 - FIRST_NM])
    }
}

fn held(value: f64) -> f64 {
    if value.is_nan() { 0.0 } else { value.clamp(0.0, 1.0) }
}

fn check(values: &[f64]) -> Result<(), CurveError> {
    if values.len() != COUNT {
        return Err(CurveError::Count(values.len()));
    }
    if values.iter().any(|v| !v.is_finite()) { Err(CurveError::NotFinite) } else { Ok(()) }
}

pub(crate) fn weigh(observer: &[[f64; 3]], value: impl Fn(usize) -> f64) -> [f64; 3] {
    let mut sum = [0.0; 3];
    for (i, [x, y, z]) in observer.iter().enumerate() {
        let v = value(i);
        sum[0] += v * x;
        sum[1] += v * y;
        sum[2] += v * z;
    }
    sum
}

/// Why values were not taken as a spectrum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CurveError {
    /// Another count of values than the grid has.
    Count(usize),
    /// A value that is not a finite number.
    NotFinite,
    /// A value below zero.
    Negative,
    /// A transmittance above one.
    OverOne,
    /// No visible light at all.
    Dark,
}

impl fmt::Display for CurveError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CurveError::Count(n) => write!(f, "{n} values where the grid has {COUNT}"),
            CurveError::NotFinite => f.write_str("a value is not a finite number"),
            CurveError::Negative => f.write_str("a value is negative"),
            CurveError::OverOne => f.write_str("a transmittance is above 1"),
            CurveError::Dark => f.write_str("the spectrum holds no visible light"),
        }
    }
}

impl std::error::Error for CurveError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grey_stone_scales_every_tristimulus_value_alike() {
        let light = Spd::new((0..COUNT).map(|i| 1.0 + i as f64).collect()).expect("positive");
        let (bare, seen) = (light.xyz(), light.xyz_through(&Transmittance::grey(0.25)));
        for k in 0..3 {
            assert!((seen[k] / bare[k] - 0.25).abs() < 1e-12);
        }
        assert!((Transmittance::grey(0.25).luminous(&light) - 0.25).abs() < 1e-12);
    }

    #[test]
    fn values_that_are_no_spectrum_are_refused() {
        assert_eq!(Spd::new(vec![1.0; 5]).err(), Some(CurveError::Count(5)));
        assert_eq!(Spd::new(vec![0.0; COUNT]).err(), Some(CurveError::Dark));
        assert_eq!(Spd::new(vec![f64::NAN; COUNT]).err(), Some(CurveError::NotFinite));
        assert_eq!(Spd::new(vec![-1.0; COUNT]).err(), Some(CurveError::Negative));
        assert_eq!(Transmittance::new(vec![9.1; COUNT]).err(), Some(CurveError::OverOne));
        assert_eq!(Transmittance::new(vec![-0.1; COUNT]).err(), Some(CurveError::Negative));
    }
}

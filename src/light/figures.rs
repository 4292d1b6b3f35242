//! The figures of a white light: CCT, Duv, chromaticity, colour rendering, nominal bin.
//!
//! A correlated colour temperature is given only where it means something, within |Duv| ≤ 0.05 (CIE
//! 15:2018, 9.4); beyond, a dominant wavelength says what the light looks like instead.

use std::sync::LazyLock;

use colorimetry::observer::Observer;
use colorimetry::xyz::XYZ;

use super::spectrum::{OBSERVER_1931, Spd, weigh};
use super::{fidelity, rendering};

/// The largest |Duv| at which a CCT has a meaning (CIE 15:2018).
pub(crate) const MEANINGFUL_DUV: f64 = 0.05;
/// Where nominal CCT bins come from, as shown beside them.
pub(crate) const NOMINAL_SOURCE: &str = "ANSI C78.377, from memory";
/// How far Duv may lie from a nominal white's target (ANSI C78.377, from memory).
pub(crate) const DUV_TOLERANCE: f64 = 0.006;

/// Where a light lies among the whites.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WhitePoint {
    /// CIE 1931 chromaticity x.
    pub x: f64,
    /// CIE 1931 chromaticity y.
    pub y: f64,
    /// CIE 1976 u′.
    pub u_prime: f64,
    /// CIE 1976 v′.
    pub v_prime: f64,
    /// Correlated colour temperature in kelvin, 1000 to 25000; none where it has no meaning.
    pub cct_k: Option<f64>,
    /// Signed distance from the Planckian locus in CIE 1960 u, v: positive above (greenish).
    pub duv: f64,
    /// Dominant wavelength in nanometres against illuminant E, only where there is no CCT; negative is
    /// the complement of a purple.
    pub dominant_nm: Option<f64>,
}

/// All the figures of one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// Where it lies among the whites.
    pub white: WhitePoint,
    /// CIE general colour rendering index Ra (CIE 13.3:1995); none where there is no CCT.
    pub ra: Option<f64>,
    /// Special index R9, strong red (CIE 13.3:1995); may be negative.
    pub r9: Option<f64>,
    /// Fidelity index Rf (CIE 224:2017, the same as in ANSI/IES TM-30-20).
    pub rf: Option<f64>,
    /// Gamut index Rg (ANSI/IES TM-30-20).
    pub rg: Option<f64>,
    /// Nominal CCT bin in kelvin (ANSI C78.377, from memory); none outside every bin.
    pub nominal_k: Option<u32>,
}

/// Works out every figure of a light.
#[must_use]
pub fn figures(light: &Spd) -> Figures {
    let white = white_point(light);
    let rendering = white.cct_k.and_then(|cct| rendering::rendering(light, cct));
    let fidelity = white.cct_k.and_then(|cct| fidelity::fidelity(light, cct));
    Figures {
        white,
        ra: rendering.map(|r| r.ra),
        r9: rendering.map(|r| r.r9),
        rf: fidelity.map(|f| f.rf),
        rg: fidelity.map(|f| f.rg),
        nominal_k: white.cct_k.and_then(|cct| nominal(cct, white.duv)),
    }
}

/// Where a light lies among the whites.
#[must_use]
pub fn white_point(light: &Spd) -> WhitePoint {
    white_point_of(light.xyz())
}

/// Where tristimulus values lie among the whites; `xyz` of the CIE 1931 observer, Y > 0.
#[must_use]
pub(crate) fn white_point_of(xyz: [f64; 3]) -> WhitePoint {
    let [big_x, big_y, big_z] = xyz;
    let sum = big_x + big_y + big_z;
    let (x, y) = (big_x / sum, big_y / sum);
    let denominator = big_x + 15.0 * big_y + 3.0 * big_z;
    let (u, v) = (4.0 * big_x / denominator, 6.0 * big_y / denominator);
    let (cct, duv) = nearest_planckian(u, v);
    let cct_k = (duv.abs() <= MEANINGFUL_DUV && (1000.0..=25_000.0).contains(&cct)).then_some(cct);
    let dominant_nm = if cct_k.is_none() { dominant(xyz) } else { None };
    WhitePoint { x, y, u_prime: u, v_prime: v * 1.5, cct_k, duv, dominant_nm }
}

/// Dominant wavelength against the equal-energy white.
fn dominant(xyz: [f64; 3]) -> Option<f64> {
    let observer = Observer::Cie1931;
    XYZ::new(xyz, observer).dominant_wavelength(XYZ::new([1.0, 1.0, 1.0], observer)).ok()
}

/// The Planckian locus in CIE 1960 u, v at even steps of reciprocal temperature, from 25 to 1010 mired.
static LOCUS: LazyLock<Vec<[f64; 2]>> =
    LazyLock::new(|| (0..=LOCUS_STEPS).map(|i| planckian_uv(mired_at(i as f64))).collect());
const LOCUS_STEPS: usize = 394;
const STEP_MIRED: f64 = 2.5;

fn mired_at(step: f64) -> f64 {
    25.0 + step * STEP_MIRED
}

/// c₂ of Planck's law in nm·K (CODATA 2018, ITS-90).
const SECOND_RADIATION_CONSTANT: f64 = 1.438_776_877e7;

/// CIE 1960 u, v of a black body on this grid.
fn planckian_uv(mired: f64) -> [f64; 2] {
    let c2_over_t = SECOND_RADIATION_CONSTANT * mired / 1e6;
    let [x, y, z] = weigh(&OBSERVER_1931, |i| {
        let nm = (super::spectrum::FIRST_NM + i) as f64;
        (nm / 560.0).powi(-5) / (c2_over_t / nm).exp_m1()
    });
    let denominator = x + 15.0 * y + 3.0 * z;
    [4.0 * x / denominator, 6.0 * y / denominator]
}

/// The CCT in kelvin and signed Duv of a point by its definition, the nearest point of the locus
/// (CIE 15:2018, 9.4): the nearest tabulated step, then golden-section search around it.
fn nearest_planckian(u: f64, v: f64) -> (f64, f64) {
    let distance = |[a, b]: [f64; 2]| (u - a).hypot(v - b);
    let nearest = LOCUS
        .iter()
        .enumerate()
        .min_by(|a, b| distance(*a.1).total_cmp(&distance(*b.1)))
        .map_or(0, |(i, _)| i);
    let ratio = (5f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (mired_at(nearest as f64 - 1.0), mired_at(nearest as f64 + 1.0));
    let at = |m: f64| distance(planckian_uv(m));
    let (mut left, mut right) = (high - ratio * (high - low), low + ratio * (high - low));
    let (mut at_left, mut at_right) = (at(left), at(right));
    // 28 steps narrow five mired below 1e-5, a ten-thousandth of a kelvin at 4000 K.
    for _ in 0..28 {
        if at_left < at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - ratio * (high - low);
            at_left = at(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + ratio * (high - low);
            at_right = at(right);
        }
    }
    let mired = (low + high) / 2.0;
    let foot = planckian_uv(mired);
    let sign = if v >= foot[1] { 1.0 } else { -1.0 };
    (1e6 / mired, sign * distance(foot))
}

/// Nominal CCTs with centre and half width in kelvin (ANSI C78.377, from memory).
const NOMINAL: [(u32, f64, f64); 8] = [
    (2700, 2725.0, 145.0),
    (3000, 3045.0, 175.0),
    (3500, 3465.0, 245.0),
    (4000, 3985.0, 275.0),
    (4500, 4503.0, 243.0),
    (5000, 5028.0, 283.0),
    (5700, 5665.0, 355.0),
    (6500, 6530.0, 510.0),
];

/// The Duv that a white of this CCT should have (ANSI C78.377, from memory).
#[must_use]
pub(crate) fn target_duv(cct_k: f64) -> f64 {
    57_700.0 / (cct_k * cct_k) - 44.6 / cct_k + 0.0085
}

/// True where Duv lies within tolerance of what a white of this CCT should have (ANSI C78.377, from memory).
#[must_use]
pub(crate) fn duv_within_tolerance(cct_k: f64, duv: f64) -> bool {
    (duv - target_duv(cct_k)).abs() <= DUV_TOLERANCE
}

/// The nominal CCT bin of a white, in kelvin: the nearest centre whose range holds it, Duv within tolerance
/// (ANSI C78.377, from memory).
#[must_use]
pub(crate) fn nominal(cct_k: f64, duv: f64) -> Option<u32> {
    if !duv_within_tolerance(cct_k, duv) {
        return None;
    }
    NOMINAL
        .iter()
        .filter(|(_, centre, half)| (cct_k - centre).abs() <= *half)
        .min_by(|a, b| (cct_k - a.1).abs().total_cmp(&(cct_k - b.1).abs()))
        .map(|(nominal, _, _)| *nominal)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::illuminants::named;
    use crate::light::reference::{daylight, planck};

    /// CIE 15:2018 chromaticities; CCT, Duv, Ra and Rf by colour-science 0.4.7 (Ohno 2013, CIE 13.3,
    /// CIE 2017). Tolerances ±3 K, ±0.0001 Duv, ±0.15 Ra (±0.3 for LED-RGB1), ±0.2 Rf.
    #[test]
    fn cie_illuminants_have_their_published_figures() {
        for (name, x, y, cct, duv, ra, rf) in [
            ("A", 0.44758, 0.40745, 2855.5, 0.0, 100.0, 100.0),
            ("D65", 0.3127, 0.3290, 6503.7, 0.0032, 100.0, 100.0),
            ("F2", 0.3721, 0.3751, 4224.7, 0.0018, 64.2, 70.1),
            ("F11", 0.3805, 0.3769, 3998.7, 0.0, 82.9, 80.0),
            ("LED-B1", 0.4560, 0.4078, 2733.0, -0.0007, 81.8, 84.1),
            ("LED-B3", 0.3756, 0.3723, 4103.0, -0.0007, 84.8, 85.3),
            ("LED-B5", 0.3118, 0.3236, 6599.0, 0.0009, 80.3, 79.5),
            ("LED-RGB1", 0.4557, 0.4211, 2840.0, 0.0043, 57.4, 71.0),
        ] {
            let f = figures(&named(name).unwrap_or_else(|e| panic!("{e}")));
            let found = f.white.cct_k.unwrap_or_else(|| panic!("{name} has no CCT"));
            assert!((f.white.x - x).abs() < 1e-4 && (f.white.y - y).abs() < 1e-4, "{name} {:?}", f.white);
            assert!((found - cct).abs() < 3.0, "{name}: {found} K");
            assert!((f.white.duv - duv).abs() < 1.5e-4, "{name}: Duv {}", f.white.duv);
            // Straight lines between 5 nm, as colour-science draws them, widen its three narrow peaks.
            let ra_tolerance = if name == "LED-RGB1" { 0.3 } else { 0.15 };
            assert!(f.ra.is_some_and(|r| (r - ra).abs() < ra_tolerance), "{name}: Ra {:?}", f.ra);
            assert!(f.rf.is_some_and(|r| (r - rf).abs() < 0.2), "{name}: Rf {:?}", f.rf);
        }
    }

    /// CIE 224:2017: a reference rendered by itself scores 100; 4250, 4500 and 4750 K lie in the blend.
    #[test]
    fn black_bodies_return_their_own_temperature() {
        for cct in [1500.0, 2000.0, 2700.0, 3500.0, 4250.0, 4500.0, 4750.0, 6500.0, 15_000.0] {
            let white = white_point(&planck(cct));
            assert!(white.cct_k.is_some_and(|k| (k - cct).abs() < cct * 2e-4), "{cct}: {white:?}");
            assert!(white.duv.abs() < 1e-6, "{cct}: {}", white.duv);
        }
        let day = white_point(&daylight(6504.0).expect("in range"));
        assert!((day.duv - 0.0032).abs() < 1e-4);
    }

    #[test]
    fn a_coloured_light_has_no_cct_but_a_dominant_wavelength() {
        for peak in [470.0f64, 530.0, 625.0] {
            let light =
                Spd::new((0..401).map(|i| (-((380.0 + i as f64 - peak) / 8.0).powi(2)).exp()).collect())
                    .expect("positive");
            let f = figures(&light);
            assert_eq!(f.white.cct_k, None, "{peak}");
            assert_eq!((f.ra, f.rf, f.nominal_k), (None, None, None));
            assert!(f.white.dominant_nm.is_some_and(|nm| (nm - peak).abs() < 8.0), "{peak}: {:?}", f.white);
        }
    }

    /// ANSI C78.377, from memory.
    #[test]
    fn nominal_bins() {
        assert_eq!(nominal(2733.0, -0.0007), Some(2700));
        assert_eq!(nominal(4103.0, -0.0007), Some(4000));
        assert_eq!(nominal(6599.0, 0.0009), Some(6500));
        assert_eq!(nominal(4000.0, 0.02), None);
        assert_eq!(nominal(2300.0, 0.0), None);
    }
}

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

/// The Planckian locus in CIE 1960 u, v, by reciprocal temperature in mired: a polynomial of the fifth degree for each
/// stretch, from the exact place, slope and curvature at both its ends. It lies within 1e-11 of the exact locus (see the
/// tests), and saves hundreds of exponentials at each look.
struct Locus {
    stretches: Vec<[[f64; 6]; 2]>,
    /// Its points at even steps from 25 to 1010 mired.
    points: Vec<[f64; 2]>,
}

static LOCUS: LazyLock<Locus> = LazyLock::new(Locus::new);
const FIRST_STRETCH_MIRED: f64 = 20.0;
const STRETCH_MIRED: f64 = 10.0;
const STRETCHES: u32 = 100;
const LAST_POINT: u32 = 394;
const STEP_MIRED: f64 = 2.5;

fn mired_at(step: f64) -> f64 {
    25.0 + step * STEP_MIRED
}

impl Locus {
    fn new() -> Locus {
        let ends: Vec<_> = (0..=STRETCHES)
            .map(|end| planckian_with_slopes(FIRST_STRETCH_MIRED + f64::from(end) * STRETCH_MIRED))
            .collect();
        let stretches = ends.windows(2).map(|ends| [0, 1].map(|k| quintic(ends[0][k], ends[1][k]))).collect();
        let mut locus = Locus { stretches, points: Vec::new() };
        locus.points = (0..=LAST_POINT).map(|i| locus.at(mired_at(f64::from(i)))).collect();
        locus
    }

    /// The black body's u, v, from 20 to 1020 mired.
    fn at(&self, mired: f64) -> [f64; 2] {
        let along = (mired - FIRST_STRETCH_MIRED) / STRETCH_MIRED;
        let nth = (along.max(0.0) as usize).min(self.stretches.len() - 1);
        let t = along - nth as f64;
        self.stretches[nth].map(|terms| terms.iter().rev().fold(0.0, |sum, term| sum * t + term))
    }
}

/// The terms of the polynomial over one stretch from 0 to 1 that has value, slope and curvature (per mired) of both ends.
fn quintic(from: [f64; 3], to: [f64; 3]) -> [f64; 6] {
    let h = STRETCH_MIRED;
    let [f, slope, curvature] = [from[0], from[1] * h, from[2] * h * h];
    let rest = to[0] - f - slope - curvature / 2.0;
    let slope_rest = to[1] * h - slope - curvature;
    let curvature_rest = to[2] * h * h - curvature;
    [
        f,
        slope,
        curvature / 2.0,
        10.0 * rest - 4.0 * slope_rest + curvature_rest / 2.0,
        -15.0 * rest + 7.0 * slope_rest - curvature_rest,
        6.0 * rest - 3.0 * slope_rest + curvature_rest / 2.0,
    ]
}

/// c₂ of Planck's law in nm·K (CODATA 2018, ITS-90).
const SECOND_RADIATION_CONSTANT: f64 = 1.438_776_877e7;

/// CIE 1960 u and v of a black body on this grid, each with its first and second derivative per mired.
fn planckian_with_slopes(mired: f64) -> [[f64; 3]; 2] {
    let curve: Vec<[f64; 3]> = (0..OBSERVER_1931.len())
        .map(|i| {
            let nm = (super::spectrum::FIRST_NM + i) as f64;
            let per_mired = SECOND_RADIATION_CONSTANT / 1e6 / nm;
            let occupied = 1.0 / (per_mired * mired).exp_m1();
            let power = (nm / 560.0).powi(-5) * occupied;
            let slope = -per_mired * power * (1.0 + occupied);
            [power, slope, -per_mired * slope * (1.0 + 2.0 * occupied)]
        })
        .collect();
    let sums = [0, 1, 2].map(|n| weigh(&OBSERVER_1931, |i| curve[i][n]));
    let below = sums.map(|[x, y, z]| x + 15.0 * y + 3.0 * z);
    [(4.0, 0), (6.0, 1)].map(|(factor, k)| {
        let above = sums.map(|xyz| factor * xyz[k]);
        let value = above[0] / below[0];
        let slope = (above[1] - value * below[1]) / below[0];
        [value, slope, (above[2] - value * below[2] - 2.0 * slope * below[1]) / below[0]]
    })
}

/// The CCT in kelvin and signed Duv of a point by its definition, the nearest point of the locus
/// (CIE 15:2018, 9.4): the nearest tabulated step, then golden-section search around it.
fn nearest_planckian(u: f64, v: f64) -> (f64, f64) {
    let squared = |[a, b]: [f64; 2]| (u - a) * (u - a) + (v - b) * (v - b);
    let locus = &*LOCUS;
    let nearest = (0..locus.points.len())
        .min_by(|a, b| squared(locus.points[*a]).total_cmp(&squared(locus.points[*b])))
        .unwrap_or(0);
    let ratio = (5f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (mired_at(nearest as f64 - 1.0), mired_at(nearest as f64 + 1.0));
    let at = |m: f64| squared(locus.at(m));
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
    let foot = locus.at(mired);
    let sign = if v >= foot[1] { 1.0 } else { -1.0 };
    (1e6 / mired, sign * (u - foot[0]).hypot(v - foot[1]))
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

    /// CIE 1960 u, v of a black body by its definition.
    fn planckian_uv(mired: f64) -> [f64; 2] {
        let c2_over_t = SECOND_RADIATION_CONSTANT * mired / 1e6;
        let [x, y, z] = weigh(&OBSERVER_1931, |i| {
            let nm = (super::super::spectrum::FIRST_NM + i) as f64;
            (nm / 560.0).powi(-5) / (c2_over_t / nm).exp_m1()
        });
        let denominator = x + 15.0 * y + 3.0 * z;
        [4.0 * x / denominator, 6.0 * y / denominator]
    }

    /// Against the definition itself, worked out without any table.
    #[test]
    fn the_tabulated_locus_is_the_exact_one() {
        for step in 0..=9_900 {
            let mired = 22.5 + f64::from(step) / 10.0;
            let (table, exact) = (LOCUS.at(mired), planckian_uv(mired));
            let off = (table[0] - exact[0]).hypot(table[1] - exact[1]);
            assert!(off < 1e-11, "{mired} mired: {off:e}");
        }
    }

    /// A point set off from the exact locus at a right angle has the CCT of its foot and the Duv that it was set off by
    /// (CIE 15:2018, 9.4), for every CCT and as far as a CCT has a meaning.
    #[test]
    fn a_point_off_the_locus_has_the_cct_of_its_foot() {
        for step in 0..=960 {
            let mired = 40.0 + f64::from(step);
            let ([u, v], [a, b], [c, d]) =
                (planckian_uv(mired), planckian_uv(mired - 0.01), planckian_uv(mired + 0.01));
            // Across the locus, to the side of the greater v.
            let (across, along) = ((b - d) / (a - c).hypot(b - d), (a - c) / (a - c).hypot(b - d));
            let (across, along) = if along < 0.0 { (across, -along) } else { (-across, along) };
            for duv in [-0.05, -0.02, -0.006, -1e-4, 1e-4, 0.006, 0.02, 0.05] {
                let (cct, found) = nearest_planckian(u + duv * across, v + duv * along);
                assert!((1e6 / cct - mired).abs() < 2e-5, "{mired} mired, {duv}: {} mired", 1e6 / cct);
                assert!((found - duv).abs() < 1e-9, "{mired} mired, {duv}: {found}");
            }
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

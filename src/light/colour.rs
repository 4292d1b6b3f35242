//! Colour arithmetic: sRGB, CIELAB, CIEDE2000 and chromatic adaptation by CAT16.
//!
//! Linear light throughout; only [`encode`] and [`decode`] know sRGB's transfer curve. CIEDE2000 is the
//! colour library's.

use colorimetry::lab::CieLab;
use colorimetry::observer::Observer;
use colorimetry::xyz::XYZ;

/// A 3 × 3 matrix by rows.
pub(crate) type Matrix = [[f64; 3]; 3];

/// Linear sRGB to XYZ, Y of white = 1 (IEC 61966-2-1, computed from its primaries and D65).
pub const SRGB_TO_XYZ: Matrix = [
    [0.412_390_799_265_959_34, 0.357_584_339_383_878, 0.180_480_788_401_834_3],
    [0.212_639_005_871_510_27, 0.715_168_678_767_756, 0.072_192_315_360_733_71],
    [0.019_330_818_715_591_82, 0.119_194_779_794_625_98, 0.950_532_152_249_660_7],
];
/// XYZ to linear sRGB, the inverse of [`SRGB_TO_XYZ`].
pub const XYZ_TO_SRGB: Matrix = [
    [3.240_969_941_904_522_6, -1.537_383_177_570_094, -0.498_610_760_293_003_4],
    [-0.969_243_636_280_879_6, 1.875_967_501_507_720_2, 0.041_555_057_407_175_59],
    [0.055_630_079_696_993_66, -0.203_976_958_888_976_52, 1.056_971_514_242_878_6],
];
/// D65 as sRGB means it, Y = 1 (IEC 61966-2-1).
pub const SRGB_WHITE: [f64; 3] = [0.950_455_927_051_671_7, 1.0, 1.089_057_750_759_878_4];

/// CAT16's cone space (Li et al., Color Research & Application 42 (2017) 703–718; CIE 248:2022).
pub(super) const CAT16: Matrix = [
    [0.401_288, 0.650_173, -0.051_461],
    [-0.250_268, 1.204_414, 0.045_854],
    [-0.002_079, 0.048_952, 0.953_127],
];

/// A matrix times a column.
#[must_use]
pub fn times(m: Matrix, v: [f64; 3]) -> [f64; 3] {
    m.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
}

/// The product of two matrices.
#[must_use]
pub(crate) fn product(a: Matrix, b: Matrix) -> Matrix {
    a.map(|row| [0, 1, 2].map(|j| row[0] * b[0][j] + row[1] * b[1][j] + row[2] * b[2][j]))
}

/// The inverse of a matrix; none where it has none.
#[must_use]
pub(crate) fn inverse(m: Matrix) -> Option<Matrix> {
    let cofactor = |i: usize, j: usize| {
        let (a, b, c, d) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][d] - m[a][d] * m[b][c]
    };
    let determinant = (0..3).map(|j| m[0][j] * cofactor(0, j)).sum::<f64>();
    let size = m.iter().flatten().fold(0.0f64, |s, v| s.max(v.abs()));
    if !determinant.is_finite() || determinant.abs() <= 1e-14 * size.powi(3) {
        return None;
    }
    Some([0, 1, 2].map(|i| [0, 1, 2].map(|j| cofactor(j, i) / determinant)))
}

/// sRGB's transfer curve from linear light (IEC 61966-2-1); input is held within 0 to 1.
#[must_use]
pub fn encode(linear: f64) -> f64 {
    let v = if linear.is_nan() { 0.0 } else { linear.clamp(0.0, 1.0) };
    if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 }
}

/// sRGB's transfer curve to linear light (IEC 61966-2-1), for values within 0 to 1.
#[must_use]
pub fn decode(encoded: f64) -> f64 {
    if encoded <= 0.040_45 { encoded / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) }
}

/// The matrix that adapts tristimulus values from one white to another by CAT16, both scaled to Y = 1
/// first; `degree` is D, 1 for full adaptation and 0 for none (CIE 248:2022).
#[must_use]
pub fn adaptation(from_white: [f64; 3], to_white: [f64; 3], degree: f64) -> Matrix {
    let unit = |w: [f64; 3]| w.map(|v| v / w[1]);
    let (from, to) = (times(CAT16, unit(from_white)), times(CAT16, unit(to_white)));
    let scaled = [0, 1, 2].map(|k| CAT16[k].map(|v| v * (degree * to[k] / from[k] + 1.0 - degree)));
    // CAT16 is a constant with an inverse.
    inverse(CAT16).map_or(CAT16, |back| product(back, scaled))
}

/// CIECAM16's degree of adaptation D in an average surround, for the luminance adapted to in cd/m²
/// (CIE 248:2022): near 0.7 in the dark, near 1 in bright light.
#[must_use]
pub(crate) fn adaptation_degree(adapting_luminance_cd_m2: f64) -> f64 {
    (1.0 - (1.0 / 3.6) * ((-adapting_luminance_cd_m2.max(0.0) - 42.0) / 92.0).exp()).clamp(0.0, 1.0)
}

/// CIELAB of tristimulus values against a white (CIE 15:2018).
#[must_use]
pub fn lab(xyz: [f64; 3], white: [f64; 3]) -> [f64; 3] {
    let f = |t: f64| if t > 216.0 / 24_389.0 { t.cbrt() } else { (24_389.0 / 27.0 * t + 16.0) / 116.0 };
    let [x, y, z] = [0, 1, 2].map(|k| f(xyz[k] / white[k]));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// CIEDE2000 colour difference with kL = kC = kH = 1 (ISO/CIE 11664-6; Sharma, Wu & Dalal 2005).
#[must_use]
pub fn delta_e00(a: [f64; 3], b: [f64; 3]) -> f64 {
    let white = XYZ::new([95.047, 100.0, 108.883], Observer::Cie1931);
    // Only differing observers or whites fail, and these are the same ones.
    CieLab::new(a, white).ciede2000(&CieLab::new(b, white)).unwrap_or(f64::NAN)
}

/// CIELAB chroma C*ab.
#[must_use]
pub fn chroma(lab: [f64; 3]) -> f64 {
    lab[1].hypot(lab[2])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_two_srgb_matrices_undo_each_other_and_white_is_white() {
        let one = product(SRGB_TO_XYZ, XYZ_TO_SRGB);
        for (i, row) in one.iter().enumerate() {
            for (j, v) in row.iter().enumerate() {
                assert!((v - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
        let white = times(SRGB_TO_XYZ, [1.0; 3]);
        assert!(white.iter().zip(SRGB_WHITE).all(|(a, b)| (a - b).abs() < 1e-12), "{white:?}");
    }

    #[test]
    fn the_transfer_curve_goes_there_and_back() {
        for i in 0..=255u32 {
            let v = f64::from(i) / 255.0;
            assert!((encode(decode(v)) - v).abs() < 1e-6, "{i}");
        }
    }

    #[test]
    fn adaptation_carries_one_white_onto_the_other() {
        let (a, d65) = ([1.0985, 1.0, 0.3558], SRGB_WHITE);
        let adapted = times(adaptation(a, d65, 1.0), a);
        assert!(adapted.iter().zip(d65).all(|(x, y)| (x - y).abs() < 1e-9), "{adapted:?}");
        let none = times(adaptation(a, d65, 0.0), a);
        assert!(none.iter().zip(a).all(|(x, y)| (x - y).abs() < 1e-9), "{none:?}");
    }

    /// CIE 248:2022, formula 4.3: D at 318.31 cd/m² in an average surround is 0.994.
    #[test]
    fn degree_of_adaptation() {
        assert!((adaptation_degree(318.31) - 0.9945).abs() < 1e-3);
        assert!((adaptation_degree(0.0) - 0.824).abs() < 1e-3);
    }
}

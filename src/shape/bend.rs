//! A flat outline bent to a radius: how far round it goes, and how wide and how deep it then is.

/// What a bend comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct BendFigures {
    /// How far round it goes, in degrees.
    pub(crate) turn_deg: f64,
    /// From one end to the other in a straight line, in millimetres: the chord.
    pub(crate) chord_mm: f64,
    /// From the chord to the crown, in millimetres: the rise.
    pub(crate) rise_mm: f64,
}

/// What a flat length comes to, bent to a radius; both in millimetres, the radius above 0. The length is kept: it is taken
/// where the radius is.
#[must_use]
pub(crate) fn bend(across_mm: f64, radius_mm: f64) -> BendFigures {
    let half = across_mm / radius_mm / 2.0;
    BendFigures {
        turn_deg: 2.0 * half.to_degrees(),
        chord_mm: 2.0 * radius_mm * half.sin(),
        rise_mm: radius_mm * (1.0 - half.cos()),
    }
}

#[cfg(test)]
mod tests {
    use super::bend;

    /// Half and quarter circles, whose chord and rise Euclid gives: 2R and R; R√2 and R(1 − √2/2).
    #[test]
    fn half_and_quarter_circles() {
        use std::f64::consts::{FRAC_PI_2, PI, SQRT_2};
        for (across, turn, chord, rise) in [
            (PI * 500.0, 180.0, 1000.0, 500.0),
            (FRAC_PI_2 * 500.0, 90.0, 500.0 * SQRT_2, 500.0 * (1.0 - SQRT_2 / 2.0)),
            (0.0, 0.0, 0.0, 0.0),
        ] {
            let found = bend(across, 500.0);
            for (a, b) in [(found.turn_deg, turn), (found.chord_mm, chord), (found.rise_mm, rise)] {
                assert!((a - b).abs() < 1e-9, "{found:?}");
            }
        }
    }
}

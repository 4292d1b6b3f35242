//! Predicted against seen: how a trial bears out what was predicted, so that trust is earned.

use super::colour::delta_e00;
use super::photometry::LuxPair;
use super::thickness::Bounds;

/// Repeatability of a hand-held lux meter over stone, relative. Common practice, no source.
pub(crate) const METER_REPEATS: f64 = 0.05;

/// A trial's lux pair against the predicted transmittance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct BrightnessCheck {
    /// The least predicted transmittance.
    pub predicted_low: f64,
    /// The most predicted transmittance.
    pub predicted_high: f64,
    /// The transmittance seen.
    pub seen: f64,
    /// True where what was seen lies within what was predicted, give or take [`METER_REPEATS`].
    pub borne_out: bool,
    /// How far it lies outside, relative to the nearer bound: 0 within, −0.2 a fifth darker.
    pub off: f64,
}

/// Compares a lux pair with a prediction at the same thickness.
#[must_use]
pub(crate) fn brightness(predicted: Bounds, seen: LuxPair) -> BrightnessCheck {
    let seen = seen.transmittance();
    let off = if seen < predicted.low {
        seen / predicted.low - 1.0
    } else if seen > predicted.high {
        if predicted.high > 0.0 { seen / predicted.high - 1.0 } else { f64::INFINITY }
    } else {
        0.0
    };
    BrightnessCheck {
        predicted_low: predicted.low,
        predicted_high: predicted.high,
        seen,
        borne_out: off.abs() <= METER_REPEATS,
        off,
    }
}

/// How a colour difference is usually taken. Common practice, no source.
#[must_use]
pub(crate) fn colour_words(delta_e00: f64) -> &'static str {
    match delta_e00 {
        d if d < 1.0 => "the same to the eye",
        d if d < 3.0 => "close",
        d if d < 6.0 => "seen side by side",
        _ => "another colour",
    }
}

/// CIEDE2000 between the colour predicted and the colour of the trial's photo, both CIELAB against the bare
/// panel of the trial's light.
#[must_use]
pub(crate) fn colour(predicted_lab: [f64; 3], seen_lab: [f64; 3]) -> f64 {
    delta_e00(predicted_lab, seen_lab)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::thickness::Basis;
    use crate::units::Lux;

    #[test]
    fn a_trial_bears_out_or_does_not() {
        let predicted = Bounds { low: 0.04, high: 0.08, basis: Basis::OneThickness };
        let check =
            |through: f64| brightness(predicted, LuxPair::new(Lux(1000.0), Lux(through)).expect("sound"));
        assert!(check(60.0).borne_out && check(60.0).off == 0.0);
        assert!(check(39.0).borne_out, "within the meter's repeatability");
        assert!(!check(30.0).borne_out && (check(30.0).off + 0.25).abs() < 1e-12);
        assert!(!check(100.0).borne_out && (check(100.0).off - 0.25).abs() < 1e-12);
    }
}

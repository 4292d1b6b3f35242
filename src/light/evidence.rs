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

/// One meter's reading beside its prediction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Borne {
    /// The logarithm of what was seen over what was predicted.
    pub off: f64,
    /// One deviation of the prediction, in its logarithm.
    pub deviation: f64,
    /// True where what was seen lies within what was predicted, give or take [`METER_REPEATS`].
    pub held: bool,
}

/// How a shop's predictions bore out, over all its readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Record {
    /// How many readings.
    pub count: usize,
    /// How many lay within their range.
    pub held: usize,
    /// How far what was seen lay from what was predicted, on average, relative: −0.1 is a tenth darker.
    pub bias: f64,
    /// One deviation of that about its average, relative.
    pub spread: f64,
    /// By how much the ranges would have had to be wider, to hold nine of ten; below 1 narrower.
    pub width: f64,
}

/// So many readings may widen ranges.
pub(crate) const WIDENS_FROM: usize = 5;
/// So many may narrow them.
pub(crate) const NARROWS_FROM: usize = 20;
/// A range of nine of ten lies so many deviations about its figure.
pub(crate) const NINE_OF_TEN: f64 = 1.645;

/// Within what share of the truth the mean of so many readings lies in nine of ten cases. A meter repeats within twice its
/// deviation.
#[must_use]
pub(crate) fn repeats_within(readings: usize) -> f64 {
    (NINE_OF_TEN * METER_REPEATS / 2.0 / (readings.max(1) as f64).sqrt()).exp_m1()
}

impl Record {
    /// Of a shop's readings; none of fewer than two.
    #[must_use]
    pub(crate) fn of(all: &[Borne]) -> Option<Record> {
        let n = all.len() as f64;
        if all.len() < 2 {
            return None;
        }
        let bias = all.iter().map(|b| b.off).sum::<f64>() / n;
        let spread = (all.iter().map(|b| (b.off - bias).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        // The meter repeats within twice its deviation; a bias counts as error.
        let expected = |b: &Borne| b.deviation.powi(2) + (METER_REPEATS / 2.0).powi(2);
        let square = all.iter().map(|b| b.off.powi(2) / expected(b)).sum::<f64>() / n;
        // Few readings tell a deviation within 1/√(2n) of itself: the wider end counts.
        let width = square.sqrt() * (1.0 + 1.0 / (2.0 * n).sqrt());
        Some(Record {
            count: all.len(),
            held: all.iter().filter(|b| b.held).count(),
            bias: bias.exp_m1(),
            spread,
            width,
        })
    }

    /// True where there are readings enough to change a range.
    #[must_use]
    pub(crate) fn counts(&self) -> bool {
        self.count >= WIDENS_FROM
    }

    /// A range about a figure as the record has it: wider or narrower, and never narrower than what was measured to spread;
    /// as it was where there are too few readings.
    #[must_use]
    pub(crate) fn range(&self, value: f64, [low, high]: [f64; 2]) -> [f64; 2] {
        if !self.counts() || value <= 0.0 || low <= 0.0 {
            return [low, high];
        }
        let width = if self.count >= NARROWS_FROM { self.width } else { self.width.max(1.0) };
        let least = NINE_OF_TEN * self.spread;
        let half = |end: f64| ((end / value).ln().abs() * width).max(least);
        [value * (-half(low)).exp(), value * half(high).exp()]
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

    /// Offs of a normal error of one deviation, at the middles of equal shares: Φ⁻¹ to three places (tables).
    const EVEN: [f64; 10] = [-1.645, -1.036, -0.674, -0.385, -0.126, 0.126, 0.385, 0.674, 1.036, 1.645];

    fn borne(times: f64, count: usize) -> Record {
        let all: Vec<Borne> = (0..count)
            .map(|i| Borne { off: 0.1 * times * EVEN[i % 10], deviation: 0.1, held: true })
            .collect();
        Record::of(&all).expect("more than one")
    }

    #[test]
    fn a_record_widens_ranges_from_five_and_narrows_them_from_twenty() {
        let range = |record: Record| record.range(0.1, [0.1 * (-0.1645f64).exp(), 0.1 * 0.1645f64.exp()]);
        let wide = |[low, high]: [f64; 2]| (high / low).ln() / 0.329;
        assert!((wide(range(borne(3.0, 4))) - 1.0).abs() < 1e-9, "too few");
        let thrice = wide(range(borne(3.0, 40)));
        assert!((2.7..3.4).contains(&thrice), "{thrice}");
        assert!((wide(range(borne(0.4, 10))) - 1.0).abs() < 1e-9, "ten widen and do not narrow");
        let narrower = wide(range(borne(0.4, 60)));
        assert!((0.38..0.5).contains(&narrower), "{narrower}");
        // What is measured to spread by 40 % of a deviation is never shown narrower than that.
        assert!(narrower >= borne(0.4, 60).spread / 0.1 - 1e-9);
        let dark = Record::of(&[-0.12, -0.10, -0.08].map(|off| Borne { off, deviation: 0.03, held: false }));
        let dark = dark.expect("three");
        assert!((dark.bias + 0.095).abs() < 0.001 && dark.held == 0 && dark.width > 2.0, "{dark:?}");
    }

    /// Nine of ten of a normal error of 2.5 %: 1.645 deviations (tables), half of that for four readings.
    #[test]
    fn the_mean_of_more_readings_is_surer() {
        assert!((repeats_within(1) - 0.04198).abs() < 1e-5, "{}", repeats_within(1));
        assert!((repeats_within(4) - 0.02077).abs() < 1e-5, "{}", repeats_within(4));
    }

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

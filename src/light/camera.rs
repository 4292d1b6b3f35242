//! What a photo may be wrong by, and what the stone may then be: draws from the camera's errors, always the same ones.
//!
//! Errors are taken where a camera's white balance works, on ratios of stone to bare panel in the cone space of CAT16.
//! Spectra of one colour look different to different sensors, so that a little is open of every stone, nearly grey ones too;
//! the further a stone's colour lies from grey, the more the sensor and its colour matrix may miss it, and deep colours
//! more than in proportion. How far comes from `tests/outside/light/camera_errors.py`, from published sensitivities of two
//! sensors and a made one over LED whites of CIE 15:2018, with the white balanced to the panel and to daylight. From what it
//! prints the sizes were settled by hand on simulated stones of one half of the seeds of
//! `tests/outside/light/test_photo_ranges.py`, and shown on those of the other half (`tests/NOTES.md` has the figures). A
//! photo of a chart leaves less of a matrix's error, and what no matrix explains of the chart itself tells how far this
//! sensor is from any: the errors go with it. Flare, exposure, panel and rounding are rules of
//! thumb (common practice, no source). A tone curve beyond sRGB's own is no error of this list: a photo with one tells
//! nothing. Strong clouds count as body and vein, and the mean of all that is shown has a range of its own.

use super::chart;
use super::colour::{self, Matrix, inverse, times};
use super::evidence::METER_REPEATS;
use super::swatch_photo::SwatchPhoto;
use super::weights::POINTS;

/// How many draws: enough for the 5th and the 95th of a hundred.
pub(crate) const DRAWS: usize = 200;

/// Error of the logarithm of each cone ratio for each unit of ln(long/middle) and of ln(short/middle).
const MATRIX: [[f64; 2]; 3] = [[0.053, 0.0075], [0.061, 0.0085], [0.153, 0.043]];
/// The same after a chart put the camera's matrix right.
const MATRIX_BY_CHART: [[f64; 2]; 3] = [[0.037, 0.009], [0.022, 0.008], [0.069, 0.024]];
/// How far the three errors for ln(long/middle) go together.
const TOGETHER: f64 = 0.8;
/// What no matrix explains, for each unit of distance from grey.
const BESIDE_MATRIX: [f64; 3] = [0.02, 0.017, 0.032];
/// What is open of every stone, a grey one too.
const EVEN_GREY: [f64; 3] = [0.0066, 0.0055, 0.022];
/// At this distance from grey, errors are √2 times as large as in proportion to it.
const DEEP: f64 = 1.0;
/// Of the errors with a chart, at least this share of those of a usual camera.
const LEAST_BY_CHART: f64 = 0.6;
/// Stray light in the camera, as a share of the frame's mean light.
const FLARE: f64 = 0.005;
/// Error of the ratio between two frames' exposures as cameras note them.
const EXPOSURE: f64 = 0.03;
/// How far a panel's light at the stone differs from that at the bare place.
const PANEL: f64 = 0.033;
/// Error of a place's mean in steps of 8 bits: what rounding and JPEG leave.
const ROUNDING: f64 = 0.15;
/// The same where all of the stone is too dark in a channel, as deep amber is in blue.
const ROUNDING_DARK: f64 = 1.0;
/// Waves of ln T beside what three values tell: size of the first that they leave open; each further one falls with the
/// square of its number.
const OPEN_WAVES: f64 = 0.035;
/// How many of them.
const WAVES: usize = 6;

/// Always the same numbers for the same seed (G. Marsaglia, Xorshift RNGs, J. Statistical Software 8 (2003) 14).
struct Numbers(u64);

impl Numbers {
    fn new(draw: usize, what: usize) -> Numbers {
        // Odd draws mirror even ones, so that the draws lie around their middle.
        let mut numbers = Numbers(0x9E37_79B9_7F4A_7C15 ^ ((draw as u64 / 2) << 20 | (what as u64) << 8 | 1));
        (0..8).for_each(|_| {
            numbers.unit();
        });
        numbers
    }

    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// A normal deviate (Box and Muller 1958).
    fn normal(&mut self) -> f64 {
        let (a, b) = (self.unit(), self.unit());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// Normal deviates of one draw: mirrored for odd draws.
fn deviates<const N: usize>(draw: usize, what: usize) -> [f64; N] {
    let mut numbers = Numbers::new(draw, what);
    let sign = if draw.is_multiple_of(2) { 1.0 } else { -1.0 };
    std::array::from_fn(|_| sign * numbers.normal())
}

/// Where each draw lies between two bounds, in no order that goes with the other deviates: evenly, so that nine of ten
/// lie from 0 to 1 and the rest beyond.
pub(crate) fn share(draw: usize) -> f64 {
    let outside = ((DRAWS - 1) as f64 * 0.05).round();
    // 77 and 200 have no common divisor: each place comes once.
    ((draw * 77 % DRAWS) as f64 - outside) / (DRAWS as f64 - 1.0 - 2.0 * outside)
}

/// What one draw makes wrong in one photo, the same for each part of the stone.
pub(crate) struct CameraDraw {
    matrix: [[f64; 2]; 3],
    beside: [f64; 3],
    grey: [f64; 3],
    flare: f64,
    level: f64,
    rounding: [f64; 3],
    believed: [f64; 3],
}

impl CameraDraw {
    /// Draw number `draw` for photo number `photo` of the stone; all photos are taken to be of one camera. The mean of all such
    /// stone may lie `spread_of_stone` from that of the place shown, relative.
    pub(crate) fn new(
        draw: usize,
        photo: usize,
        of: &SwatchPhoto,
        believed: f64,
        spread_of_stone: f64,
    ) -> CameraDraw {
        let [common, own @ ..] = deviates::<10>(draw, 0);
        let rest = (1.0 - TOGETHER * TOGETHER).sqrt();
        // A camera further from any matrix than usual is less known by one, and a nearer one better.
        let usual = if of.exact { chart::USUAL_OFF_VALUES } else { chart::USUAL_OFF };
        let by_chart = of.chart_off.map(|off| (off / usual).max(LEAST_BY_CHART));
        let size = by_chart.map_or(MATRIX, |by| MATRIX_BY_CHART.map(|row| row.map(|v| v * by)));
        let [beside, grey] = [BESIDE_MATRIX, EVEN_GREY].map(|all| all.map(|v| v * by_chart.unwrap_or(1.0)));
        let own_grey: [f64; 3] = deviates(draw, 300);
        let matrix = std::array::from_fn(|k| {
            [size[k][0] * (TOGETHER * common + rest * own[k]), size[k][1] * own[3 + k]]
        });
        let [flare, level, spread, r, g, b, believed_own @ ..] = deviates::<9>(draw, 1 + photo);
        let exposure = if of.two_frames { EXPOSURE } else { 0.0 };
        let rounding = if of.exact { 0.0 } else { ROUNDING + ROUNDING_DARK * of.dark_share };
        CameraDraw {
            matrix,
            beside: std::array::from_fn(|k| beside[k] * own[6 + k]),
            grey: std::array::from_fn(|k| grey[k] * own_grey[k]),
            flare: FLARE * flare.abs(),
            level: (exposure.powi(2) + PANEL.powi(2) + of.unevenness.powi(2)).sqrt() * level
                + spread_of_stone * spread,
            rounding: [r, g, b].map(|v| v * rounding),
            believed: believed_own.map(|v: f64| v * believed),
        }
    }

    /// Tristimulus values that the photo's values `t` of a part may stand for, bare Y = 1.
    pub(crate) fn values(&self, photo: &SwatchPhoto, t: [f64; 3]) -> [f64; 3] {
        let freed = std::array::from_fn(|k| {
            let veil = self.flare * photo.frame_light[k];
            let stepped = t[k] + self.rounding[k] * step(t[k] * photo.bare[k]) / photo.bare[k];
            (stepped * (1.0 + veil) - veil).max(0.1 * t[k])
        });
        let (white, seen) = (photo.xyz([1.0; 3]), photo.xyz(freed));
        let (bare, cones) = (times(colour::CAT16, white), times(colour::CAT16, seen));
        let logs: [f64; 3] = std::array::from_fn(|k| (cones[k] / bare[k]).max(1e-5).ln());
        let colour = [logs[0] - logs[1], logs[2] - logs[1]];
        let far = colour[0].hypot(colour[1]);
        let deeper = far.hypot(DEEP) / DEEP;
        let moved = std::array::from_fn(|k| {
            let matrix = self.matrix[k][0] * colour[0] + self.matrix[k][1] * colour[1];
            let of_colour = (matrix + self.beside[k] * far) * deeper + self.grey[k];
            let off = of_colour + self.level + self.believed[k];
            bare[k] * (logs[k] - off).exp()
        });
        let back: Option<Matrix> = inverse(colour::CAT16);
        // CAT16 is a constant with an inverse.
        back.map_or(seen, |back| times(back, moved)).map(|v| v.max(1e-7))
    }
}

/// A step of 8 bits in linear light at a level.
fn step(linear: f64) -> f64 {
    let encoded = colour::encode(linear);
    colour::decode((encoded + 0.5 / 255.0).min(1.0)) - colour::decode((encoded - 0.5 / 255.0).max(0.0))
}

/// What ln T may be beside any spectrum that gives the three values, before it is brought back to them: waves over the
/// reciprocal wavelength, finer than three values tell.
pub(crate) fn open_waves(draw: usize, part: usize) -> [f64; POINTS] {
    let heights: [f64; WAVES] = deviates(draw, 100 + part);
    std::array::from_fn(|i| {
        let along = std::f64::consts::PI * i as f64 / (POINTS - 1) as f64;
        heights
            .iter()
            .enumerate()
            .map(|(m, h)| {
                let number = m as f64 + 3.0;
                h * OPEN_WAVES * (3.0 / number).powi(2) * (number * along).cos()
            })
            .sum()
    })
}

/// How far a draw lies from one assumption of the spectrum towards the other: 0 midway, 1 at the second.
pub(crate) fn between_ways(draw: usize, part: usize) -> f64 {
    let [one] = deviates(draw, 200 + part);
    one
}

/// What a draw makes wrong in the mean of so many readings of a lux meter, as a factor. A meter repeats within twice its
/// deviation.
pub(crate) fn meter(draw: usize, readings: usize) -> f64 {
    let [one] = deviates(draw, 400);
    (one * METER_REPEATS / 2.0 / (readings.max(1) as f64).sqrt()).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_are_the_same_each_time_and_lie_around_nothing() {
        let all: Vec<[f64; 3]> = (0..DRAWS).map(|draw| deviates(draw, 5)).collect();
        assert_eq!(all[7], deviates(7, 5));
        for k in 0..3 {
            let mean = all.iter().map(|v| v[k]).sum::<f64>() / DRAWS as f64;
            let spread = (all.iter().map(|v| v[k] * v[k]).sum::<f64>() / DRAWS as f64).sqrt();
            assert!(mean.abs() < 1e-9 && (spread - 1.0).abs() < 0.15, "{mean} {spread}");
        }
        let mut shares: Vec<f64> = (0..DRAWS).map(share).collect();
        shares.sort_by(f64::total_cmp);
        assert!(
            shares[10].abs() < 1e-12 && (shares[189] - 1.0).abs() < 1e-12,
            "the 5th and the 95th of a hundred"
        );
    }

    /// The share of a normal distribution between two places, by the density summed.
    fn share_between(from: f64, to: f64) -> f64 {
        let steps = 10_000;
        let step = (to - from) / f64::from(steps);
        let density = |z: f64| (-z * z / 2.0).exp() / std::f64::consts::TAU.sqrt();
        (0..steps).map(|i| density(from + (f64::from(i) + 0.5) * step) * step).sum()
    }

    #[test]
    fn nine_of_ten_readings_of_a_meter_lie_between_its_draws() {
        for readings in [1_u8, 4, 25] {
            let mut draws: Vec<f64> = (0..DRAWS).map(|draw| meter(draw, readings.into()).ln()).collect();
            draws.sort_by(f64::total_cmp);
            let deviation = METER_REPEATS / 2.0 / f64::from(readings).sqrt();
            let [from, to] = [DRAWS / 20, DRAWS - 1 - DRAWS / 20].map(|at| draws[at] / deviation);
            let held = share_between(from, to);
            assert!((0.85..=0.95).contains(&held), "{readings} readings: {held} between {from} and {to}");
        }
    }
}

//! One spectrum from several photos of one stone, taken over panels of different light.
//!
//! Each photo gives three values, so each assumption of [`super::recover`] finds a spectrum that meets those of one
//! photo and misses those of the others a little. From the mean of what each photo alone gives, the least rough
//! change is looked for that brings all of them back, as far as a photo's noise lets them be believed: the best
//! linear estimate under a prior (C. D. Rodgers, Inverse Methods for Atmospheric Sounding, 2000, ch. 4, from memory).

use super::colour::{delta_e00, lab};
use super::recover::{Method, Recovered, Recovery, Smooth, Weights};
use super::smoothest::tridiagonal;
use super::weights::POINTS;

/// How far a photo's values are believed, relative: what noise, an uneven panel and rounding leave.
pub const BELIEVED: f64 = 0.005;
/// The same where the panel's own light is not known and a typical one of its CCT stands in. Common practice, no
/// source.
pub(crate) const BELIEVED_STAND_IN: f64 = 0.03;
/// How much ln T may change from one step of wavelength to the next beside what one photo told.
const ROUGHNESS: f64 = 0.03;
/// A pull of the change towards none, against its roughness, so that its level is told by the photos alone.
const PULL: f64 = 1e-3;
/// CIEDE2000 from which on two photos contradict each other: three times what nineteen of twenty single photos are
/// off at most in the tests of the photo path.
pub const CONTRADICT_FROM: f64 = 5.0;
/// Luminance at which photos are compared, relative to white.
const COMPARED_AT: f64 = 0.5;

/// What one photo tells: its light, ready for the search, and the tristimulus values of one part of the stone,
/// bare Y = 1.
pub struct View<'a> {
    /// The light.
    pub recovery: &'a Recovery,
    /// The values.
    pub xyz: [f64; 3],
    /// How far they are believed, relative, above 0: [`BELIEVED`] or [`BELIEVED_STAND_IN`].
    pub believed: f64,
}

/// The spectrum that all views of a part agree on; none where one of them has a colour that no stone can have, and
/// where there is none.
#[must_use]
pub fn combined(views: &[View<'_>]) -> Option<Recovered> {
    let alone: Vec<Recovered> =
        views.iter().map(|v| v.recovery.recover(v.xyz)).collect::<Option<Vec<Recovered>>>()?;
    match alone.as_slice() {
        [] => return None,
        [only] => return Some(only.clone()),
        _ => {}
    }
    let mean = |choose: fn(&Recovered) -> &Smooth| -> [f64; POINTS] {
        std::array::from_fn(|i| {
            let logs: f64 = alone.iter().map(|found| choose(found).0[i].max(1e-12).ln()).sum();
            logs / alone.len() as f64
        })
    };
    let together = |start: [f64; POINTS]| brought_together(start, views);
    let stone = together(mean(|f| &f.stone))?;
    let ways = [together(mean(|f| &f.ways[0]))?, together(mean(|f| &f.ways[1]))?];
    Some(Recovered { stone, ways, method: Method::SeveralPhotos })
}

/// The largest CIEDE2000 between what one photo predicts for another one's light and what that one shows, brightness
/// and all; none where a photo's colour is one that no stone can have.
#[must_use]
pub fn contradiction(views: &[View<'_>]) -> Option<f64> {
    let mut most = 0.0f64;
    for (i, view) in views.iter().enumerate() {
        let stone = view.recovery.recover(view.xyz)?.stone;
        for other in views.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, v)| v) {
            let weights = other.recovery.weights();
            let scale = COMPARED_AT / other.xyz[1];
            let seen = |xyz: [f64; 3]| lab(xyz.map(|v| v * scale), weights.bare());
            most = most.max(delta_e00(seen(weights.through(&stone)), seen(other.xyz)));
        }
    }
    Some(most)
}

/// The spectrum nearest to `start` that gives every view its values, as far as these are believed.
fn brought_together(start: [f64; POINTS], views: &[View<'_>]) -> Option<Smooth> {
    let count = views.len() * 3;
    let mut change = [0.0; POINTS];
    for _ in 0..6 {
        let ln_t: [f64; POINTS] = std::array::from_fn(|i| (start[i] + change[i]).min(0.0));
        let mut slopes: Vec<[f64; POINTS]> = Vec::with_capacity(count);
        let mut spread: Vec<[f64; POINTS]> = Vec::with_capacity(count);
        let mut wanted = Vec::with_capacity(count);
        for view in views {
            let rows = logarithmic_slopes(view.recovery.weights(), &ln_t);
            let smoothed = smoothed(&rows.slopes)?;
            for (k, spread_of) in smoothed.into_iter().enumerate() {
                let along: f64 = rows.slopes[k].iter().zip(&change).map(|(s, c)| s * c).sum();
                wanted.push(view.xyz[k].ln() - rows.xyz[k].ln() + along);
                slopes.push(rows.slopes[k]);
                spread.push(spread_of);
            }
        }
        let system: Vec<Vec<f64>> = (0..count)
            .map(|i| {
                (0..count)
                    .map(|j| {
                        let shared: f64 = slopes[i].iter().zip(&spread[j]).map(|(a, b)| a * b).sum();
                        shared + if i == j { views[i / 3].believed.powi(2) } else { 0.0 }
                    })
                    .collect()
            })
            .collect();
        let share = solved(system, wanted)?;
        change = std::array::from_fn(|i| spread.iter().zip(&share).map(|(s, m)| s[i] * m).sum());
        if change.iter().any(|c| !c.is_finite() || c.abs() > 5.0) {
            return None;
        }
    }
    Some(Smooth(std::array::from_fn(|i| (start[i] + change[i]).min(0.0).exp())))
}

struct Rows {
    xyz: [f64; 3],
    slopes: [[f64; POINTS]; 3],
}

/// Tristimulus values of a spectrum ln T, and how their logarithms move with each of its steps.
fn logarithmic_slopes(weights: &Weights, ln_t: &[f64; POINTS]) -> Rows {
    let t = ln_t.map(f64::exp);
    let xyz = weights.through_curve(&t);
    let slopes = [0, 1, 2].map(|k| std::array::from_fn(|i| weights.0[i][k] * t[i] / xyz[k]));
    Rows { xyz, slopes }
}

/// The prior's covariance times each row: what a change along a row looks like when it is as smooth as may be.
fn smoothed(rows: &[[f64; POINTS]; 3]) -> Option<[[f64; POINTS]; 3]> {
    let diagonal: [f64; POINTS] =
        std::array::from_fn(|i| f64::from(u8::from(i > 0)) + f64::from(u8::from(i + 1 < POINTS)) + PULL);
    let mut sides: [[f64; 4]; POINTS] = std::array::from_fn(|i| [rows[0][i], rows[1][i], rows[2][i], 0.0]);
    tridiagonal(&diagonal, &mut sides)?;
    Some([0, 1, 2].map(|k| std::array::from_fn(|i| sides[i][k] * ROUGHNESS * ROUGHNESS)))
}

/// Solves a small symmetric system by elimination; none where it is singular.
fn solved(mut rows: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for i in 0..n {
        let pivot = (i..n).max_by(|a, b| rows[*a][i].abs().total_cmp(&rows[*b][i].abs()))?;
        rows.swap(i, pivot);
        right.swap(i, pivot);
        if rows[i][i].abs() < 1e-300 {
            return None;
        }
        let (above, below) = rows.split_at_mut(i + 1);
        for (offset, row) in below.iter_mut().enumerate() {
            let factor = row[i] / above[i][i];
            for (value, top) in row.iter_mut().zip(&above[i]).skip(i) {
                *value -= factor * top;
            }
            right[i + 1 + offset] -= factor * right[i];
        }
    }
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| rows[i][j] * right[j]).sum();
        right[i] = (right[i] - known) / rows[i][i];
    }
    Some(right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::illuminants::named;
    use crate::light::spectrum::Transmittance;

    fn light(name: &str) -> Recovery {
        Recovery::under(&named(name).unwrap_or_else(|e| panic!("{e}")))
    }

    /// −ln T is a level, an edge towards the blue and a band in the orange.
    fn stone(edge: f64, band: f64, band_nm: f64) -> Transmittance {
        Transmittance::from_fn(|i| {
            let nm = (380 + i) as f64;
            let depth = 1.5 + edge / (1.0 + ((nm - 480.0) / 40.0).exp());
            (-(depth + band * (-((nm - band_nm) / 60.0).powi(2)).exp())).exp()
        })
    }

    #[test]
    fn all_views_are_met_and_the_truth_lies_nearer() {
        let (warm, cool, other) = (light("LED-B1"), light("LED-B5"), light("LED-B3"));
        let (mut alone, mut both) = (0.0, 0.0);
        for (edge, band, nm) in [(1.5, 0.6, 590.0), (0.5, 0.8, 540.0), (2.0, 0.5, 640.0), (0.0, 0.7, 470.0)] {
            let truth = Smooth::of(&stone(edge, band, nm));
            let view =
                |recovery| View { recovery, xyz: recovery.weights().through(&truth), believed: BELIEVED };
            let views = [view(&warm), view(&cool)];
            let found = combined(&views).expect("a stone");
            assert_eq!(found.method, Method::SeveralPhotos);
            for v in &views {
                let again = v.recovery.weights().through(&found.stone);
                assert!((0..3).all(|k| (again[k] / v.xyz[k] - 1.0).abs() < 0.01), "{again:?} {:?}", v.xyz);
            }
            assert!(contradiction(&views).is_some_and(|c| c < CONTRADICT_FROM));
            let goal = other.weights().through(&truth);
            let off = |stone: &Smooth| {
                let seen = |xyz: [f64; 3]| lab(xyz.map(|v| v * 0.5 / goal[1]), other.weights().bare());
                delta_e00(seen(other.weights().through(stone)), seen(goal))
            };
            alone += off(&warm.recover(views[0].xyz).expect("a stone").stone);
            both += off(&found.stone);
        }
        assert!(both < 0.6 * alone, "{both} {alone}");
    }

    #[test]
    fn the_same_photo_twice_tells_what_it_tells_once() {
        let panel = light("LED-B3");
        let xyz = panel.weights().through(&Smooth::of(&stone(1.5, 0.5, 560.0)));
        let once = panel.recover(xyz).expect("a stone");
        let twice =
            combined(&[0, 1].map(|_| View { recovery: &panel, xyz, believed: BELIEVED })).expect("a stone");
        let most = once.stone.0.iter().zip(&twice.stone.0).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(most < 1e-3, "{most}");
        assert!(combined(&[]).is_none());
    }

    #[test]
    fn photos_of_two_stones_contradict_each_other() {
        let (warm, cool) = (light("LED-B1"), light("LED-B5"));
        let views =
            [(&warm, stone(2.0, 0.0, 500.0)), (&cool, stone(0.2, 0.6, 600.0))].map(|(recovery, stone)| {
                View { recovery, xyz: recovery.weights().through(&Smooth::of(&stone)), believed: BELIEVED }
            });
        assert!(contradiction(&views).is_some_and(|c| c > CONTRADICT_FROM));
    }
}

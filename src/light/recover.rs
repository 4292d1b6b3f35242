//! A stone's spectrum from the three values that a photo gives.
//!
//! Three values do not fix a spectrum, so two assumptions are made. The first: T(λ) = exp of a quadratic in
//! 1/λ, which is how broad absorption bands look and is never negative. The second: the smoothest ln T of
//! all that give the same three values (least sum of squared slopes, S. A. Burns, Color Research &
//! Application 45 (2020) 8–21, there for reflectance, from memory). They err to opposite sides, the first
//! too curved and the second too flat, so the prediction is midway between them in ln T, which beats either one on
//! stones whose spectrum is known. How far the truth may lie from it is drawn ([`super::camera`]).

use super::camera;
use super::smoothest::{Smoothest, smoothest};
use super::spectrum::{COUNT, FIRST_NM, Spd, Transmittance};
use super::weights::{POINTS, STEP_NM};
pub use super::weights::{Smooth, Weights};

/// What the three values of a photo were turned into.
#[derive(Clone, Debug, PartialEq)]
pub struct Recovered {
    /// The spectrum used for predictions.
    pub stone: Smooth,
    /// What each assumption alone gives, for the uncertainty; both the same where only one was found.
    pub ways: [Smooth; 2],
    /// What `stone` rests on.
    pub method: Method,
}

impl Recovered {
    /// A stone whose spectrum was measured, so that nothing is assumed.
    #[must_use]
    pub(crate) fn measured(stone: &Transmittance) -> Recovered {
        let stone = Smooth::of(stone);
        Recovered { ways: [stone.clone(), stone.clone()], stone, method: Method::Measured }
    }

    /// The same with all that passes times a factor.
    #[must_use]
    pub(crate) fn scaled(&self, factor: f64) -> Recovered {
        Recovered {
            stone: self.stone.scaled(factor),
            ways: [0, 1].map(|i| self.ways[i].scaled(factor)),
            method: self.method,
        }
    }
}

/// What a spectrum rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Midway between the exponential of a quadratic in 1/λ and the smoothest.
    Midway,
    /// The exponential of a quadratic in 1/λ alone.
    Quadratic,
    /// The smoothest alone, because no quadratic fits.
    Smoothest,
    /// What several photos of one piece agree on, midway in each.
    SeveralPhotos,
    /// The spectrum was measured and nothing was assumed.
    Measured,
}

impl Method {
    /// In words.
    #[must_use]
    pub(crate) fn words(self) -> &'static str {
        match self {
            Method::Midway => "estimated from three values, average of two smooth spectra that fit",
            Method::Quadratic => "estimated from three values as the exponential of a quadratic in 1/λ",
            Method::Smoothest => "estimated from three values as the smoothest that fits",
            Method::SeveralPhotos => {
                "estimated from three values of each photo, as the smooth spectrum that fits all of them"
            }
            Method::Measured => "measured",
        }
    }
}

/// Finds spectra for one light under which a photo was taken.
#[derive(Clone, Debug)]
pub struct Recovery {
    weights: Weights,
}

/// Coefficients of −ln T in 1, u, u², with u = 1/λ scaled to run from −1 to 1.
pub(crate) type Coefficients = [f64; 3];

/// u at each step.
static RECIPROCAL: [f64; POINTS] = reciprocal_wavelengths();

const fn reciprocal_wavelengths() -> [f64; POINTS] {
    let (low, high) = (1.0 / (FIRST_NM + COUNT - 1) as f64, 1.0 / FIRST_NM as f64);
    let mut u = [0.0; POINTS];
    let mut i = 0;
    while i < POINTS {
        u[i] = 2.0 * (1.0 / (FIRST_NM + i * STEP_NM) as f64 - low) / (high - low) - 1.0;
        i += 1;
    }
    u
}

impl Recovery {
    /// For photos taken under this light.
    #[must_use]
    pub fn under(light: &Spd) -> Recovery {
        Recovery { weights: Weights::of(light) }
    }

    /// The weights of the light the photo was taken under.
    #[must_use]
    pub fn weights(&self) -> &Weights {
        &self.weights
    }

    /// The spectrum for tristimulus values seen under the photo's light (bare Y = 1).
    ///
    /// None where no transmittance can give these values: a colour outside what this light can become.
    #[must_use]
    pub fn recover(&self, xyz: [f64; 3]) -> Option<Recovered> {
        if !xyz.iter().all(|v| v.is_finite() && *v > 0.0) {
            return None;
        }
        let quadratic = self.quadratic(xyz, None).map(|c| self.within_one(c, xyz));
        let smoothest = smoothest(&self.weights, xyz, None).map(|s| Smooth(s.ln_t.map(|z| z.exp().min(1.0))));
        Some(match (quadratic, smoothest) {
            (Some(a), Some(b)) => {
                let between =
                    std::array::from_fn(|i| 0.5 * (a.0[i].max(DARKEST).ln() + b.0[i].max(DARKEST).ln()));
                let midway = Smooth(self.corrected(between, xyz, true).map(|z| z.exp().min(1.0)));
                let missed = |stone: &Smooth| {
                    let again = self.weights.through(stone);
                    (0..3).map(|k| (again[k] / xyz[k] - 1.0).abs()).fold(0.0, f64::max)
                };
                // Held at 1 over a wide stretch, as in clear glass, there may be nothing left to correct with.
                if missed(&midway) <= missed(&a).max(0.002) {
                    Recovered { stone: midway, ways: [a, b], method: Method::Midway }
                } else {
                    Recovered { stone: a.clone(), ways: [a, b], method: Method::Quadratic }
                }
            }
            (Some(one), None) => {
                Recovered { stone: one.clone(), ways: [one.clone(), one], method: Method::Quadratic }
            }
            (None, Some(one)) => {
                Recovered { stone: one.clone(), ways: [one.clone(), one], method: Method::Smoothest }
            }
            (None, None) => return None,
        })
    }

    /// A spectrum between two that fit misses the three values a little: a small quadratic in ln T, found by
    /// Newton steps, brings it back; `held` holds T at 1.
    fn corrected(&self, ln_t: [f64; POINTS], xyz: [f64; 3], held: bool) -> [f64; POINTS] {
        let goal = xyz.map(f64::ln);
        let mut z = ln_t;
        for _ in 0..3 {
            let (found, jacobian) = self.sums(|i| z[i], held);
            let (Some(miss), Some(inverse)) = (missed(goal, found), super::colour::inverse(jacobian)) else {
                break;
            };
            let step = super::colour::times(inverse, miss);
            if step.iter().any(|s| !s.is_finite() || s.abs() > 1.0) {
                break;
            }
            for (z, u) in z.iter_mut().zip(RECIPROCAL) {
                *z -= step[0] + u * (step[1] + u * step[2]);
            }
        }
        z
    }

    /// What `found` may be in one draw, where its three values may be `xyz`: moved from one assumption towards the
    /// other and waved, then brought back to these values.
    pub(crate) fn drawn(&self, found: &Recovered, xyz: [f64; 3], draw: usize, part: usize) -> Smooth {
        let ln = |v: f64| v.max(DARKEST).ln();
        let towards = camera::between_ways(draw, part);
        let open = camera::open_waves(draw, part);
        let [a, b] = &found.ways;
        let moved: [f64; POINTS] = std::array::from_fn(|i| {
            ln(found.stone.0[i]) + 0.5 * towards * (ln(a.0[i]) - ln(b.0[i])) + open[i]
        });
        Smooth(self.corrected(moved, xyz, true).map(|z| z.exp().min(1.0)))
    }

    /// Midway between both assumptions, not held at 1, for tables over many colours: each search starts from
    /// a neighbour's answer.
    pub(crate) fn midway(&self, xyz: [f64; 3], start: &Found) -> Option<Found> {
        let quadratic = self.quadratic(xyz, Some(start.quadratic))?;
        let smoothest = smoothest(&self.weights, xyz, Some(&start.smoothest))
            .or_else(|| smoothest(&self.weights, xyz, None))?;
        let curve = ln_of(quadratic);
        let between = std::array::from_fn(|i| 0.5 * (curve[i] + smoothest.ln_t[i]));
        Some(Found { ln_t: self.corrected(between, xyz, false), quadratic, smoothest })
    }

    /// A found spectrum moved by `shift` in ln T, brought back to the three values that it was found for; not held at 1.
    pub(crate) fn brought_back(&self, found: &Found, shift: &[f64; POINTS], xyz: [f64; 3]) -> [f64; POINTS] {
        let moved = std::array::from_fn(|i| found.ln_t[i] + shift[i]);
        self.corrected(moved, xyz, false).map(f64::exp)
    }

    /// The quadratic's coefficients by damped Newton steps on ln XYZ, from `start` or from a grey stone.
    pub(crate) fn quadratic(&self, xyz: [f64; 3], start: Option<Coefficients>) -> Option<Coefficients> {
        let goal = xyz.map(f64::ln);
        let mut c = start.unwrap_or([-goal[1], 0.0, 0.0]);
        let (mut xyz_now, mut jacobian) = self.sums(ln_at(c), false);
        let mut miss = missed(goal, xyz_now)?;
        for _ in 0..60 {
            let size = miss.iter().map(|m| m * m).sum::<f64>();
            if size < 1e-18 {
                return Some(c);
            }
            let step = super::colour::times(super::colour::inverse(jacobian)?, miss);
            let mut damping = 1.0;
            loop {
                let tried = [0, 1, 2].map(|k| c[k] + damping * step[k]);
                // Beyond this the spectrum is a single line and the colour out of any stone's reach.
                if tried.iter().all(|v| v.abs() < 60.0) {
                    let (xyz_tried, jacobian_tried) = self.sums(ln_at(tried), false);
                    if let Some(missed) = missed(goal, xyz_tried)
                        && missed.iter().map(|m| m * m).sum::<f64>() < size
                    {
                        (c, xyz_now, jacobian, miss) = (tried, xyz_tried, jacobian_tried, missed);
                        break;
                    }
                }
                damping *= 0.5;
                if damping < 1e-4 {
                    return None;
                }
            }
        }
        let close = xyz_now.iter().zip(xyz).all(|(a, b)| (a / b - 1.0).abs() < 1e-6);
        close.then_some(c)
    }

    /// XYZ of a spectrum ln T, and its ln-derivatives in a quadratic taken off ln T; `held` holds T at 1.
    fn sums(&self, ln_t: impl Fn(usize) -> f64, held: bool) -> ([f64; 3], [[f64; 3]; 3]) {
        let mut xyz = [0.0; 3];
        let mut moments = [[0.0; 3]; 3];
        for (i, (w, u)) in self.weights.0.iter().zip(RECIPROCAL).enumerate() {
            let t = ln_t(i).exp();
            let (t, moves) = if held && t > 1.0 { (1.0, 0.0) } else { (t, t) };
            for k in 0..3 {
                xyz[k] += w[k] * t;
                let v = w[k] * moves;
                moments[k][0] -= v;
                moments[k][1] -= v * u;
                moments[k][2] -= v * u * u;
            }
        }
        let jacobian = [0, 1, 2].map(|k| moments[k].map(|m| m / xyz[k]));
        (xyz, jacobian)
    }

    /// The quadratic held at T ≤ 1 and fitted again with what is held; where that fails, held only.
    fn within_one(&self, c: Coefficients, xyz: [f64; 3]) -> Smooth {
        let of = |c: Coefficients| Smooth(ln_of(c).map(|z| z.exp().min(1.0)));
        let first = of(c);
        if first.0.iter().all(|t| *t < 1.0) {
            return first;
        }
        let goal = xyz.map(f64::ln);
        let mut best = (c, f64::INFINITY);
        let mut now = c;
        for _ in 0..30 {
            let (found, jacobian) = self.sums(ln_at(now), true);
            let Some(miss) = missed(goal, found) else { break };
            let size = miss.iter().map(|m| m * m).sum::<f64>();
            if size < best.1 {
                best = (now, size);
            }
            let Some(inverse) = super::colour::inverse(jacobian) else { break };
            let step = super::colour::times(inverse, miss);
            let longest = step.iter().fold(0.0f64, |a, s| a.max(s.abs()));
            let damping = (2.0 / longest.max(1e-12)).min(1.0);
            now = [0, 1, 2].map(|k| now[k] + damping * step[k]);
            if size < 1e-18 || now.iter().any(|v| !v.is_finite() || v.abs() > 60.0) {
                break;
            }
        }
        of(best.0)
    }
}

/// Keeps logarithms finite.
const DARKEST: f64 = 1e-12;

/// Both answers for one colour and what lies midway.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    ln_t: [f64; POINTS],
    quadratic: Coefficients,
    smoothest: Smoothest,
}

impl Found {
    /// The clear stone.
    pub(crate) fn clear() -> Found {
        let smoothest = Smoothest { ln_t: [0.0; POINTS], multipliers: [0.0; 3] };
        Found { ln_t: [0.0; POINTS], quadratic: [0.0; 3], smoothest }
    }

    /// Transmittance at the steps, not held at 1.
    pub(crate) fn curve(&self) -> [f64; POINTS] {
        self.ln_t.map(f64::exp)
    }
}

fn ln_at(c: Coefficients) -> impl Fn(usize) -> f64 {
    move |i| -(c[0] + RECIPROCAL[i] * (c[1] + RECIPROCAL[i] * c[2]))
}

fn ln_of(c: Coefficients) -> [f64; POINTS] {
    std::array::from_fn(ln_at(c))
}

fn missed(goal: [f64; 3], xyz: [f64; 3]) -> Option<[f64; 3]> {
    let miss = [0, 1, 2].map(|k| goal[k] - xyz[k].ln());
    miss.iter().all(|m| m.is_finite()).then_some(miss)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::illuminants::named;

    fn recovery() -> Recovery {
        Recovery::under(&named("LED-B3").unwrap_or_else(|e| panic!("{e}")))
    }

    #[test]
    fn both_assumptions_give_back_the_three_values() {
        let recovery = recovery();
        let amber = Transmittance::from_fn(|i| 0.01 + 0.3 / (1.0 + (-((i as f64) - 190.0) / 35.0).exp()));
        let green = Transmittance::from_fn(|i| 0.02 + 0.2 * (-((i as f64 - 150.0) / 60.0).powi(2)).exp());
        for stone in [amber, green, Transmittance::grey(0.07)] {
            let xyz = recovery.weights().through(&Smooth::of(&stone));
            let found = recovery.recover(xyz).expect("a real stone's colour");
            assert_eq!(found.method, Method::Midway);
            for way in [&found.stone, &found.ways[0], &found.ways[1]] {
                let again = recovery.weights().through(way);
                assert!((0..3).all(|k| (again[k] / xyz[k] - 1.0).abs() < 1e-5), "{xyz:?} {again:?}");
            }
        }
    }

    #[test]
    fn a_grey_stone_comes_back_grey() {
        let recovery = recovery();
        let xyz = recovery.weights().bare().map(|v| v * 0.05);
        let found = recovery.recover(xyz).expect("grey");
        assert!(found.stone.0.iter().chain(&found.ways[1].0).all(|t| (t - 0.05).abs() < 1e-6));
    }

    #[test]
    fn nothing_lets_more_through_than_falls_on_it() {
        let recovery = recovery();
        // Nearly clear and yellow: unclamped, the quadratic would rise above 1 in the red.
        let yellow = Transmittance::from_fn(|i| 1.0 / (1.0 + (-((i as f64) - 110.0) / 12.0).exp()));
        let xyz = recovery.weights().through(&Smooth::of(&yellow));
        let found = recovery.recover(xyz).expect("a real colour");
        assert!(found.stone.0.iter().all(|t| *t <= 1.0));
        let again = recovery.weights().through(&found.stone);
        assert!((0..3).all(|k| (again[k] / xyz[k] - 1.0).abs() < 0.02), "{xyz:?} {again:?}");
    }

    #[test]
    fn a_colour_that_no_stone_can_have_is_not_invented() {
        assert!(recovery().recover([0.001, 1.0, 0.001]).is_none());
        assert!(recovery().recover([0.1, -0.1, 0.1]).is_none());
        assert!(recovery().recover([f64::NAN, 0.1, 0.1]).is_none());
    }
}

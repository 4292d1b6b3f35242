//! A stone's spectrum from the three values that a photo gives.
//!
//! Three values do not fix a spectrum, so two assumptions are made and compared. The first, used for the
//! prediction: T(λ) = exp of a quadratic in 1/λ, which is how broad absorption bands look and is never
//! negative. The second, the fallback: the smoothest ln T of all that give the same three values (least
//! sum of squared slopes, S. A. Burns, Color Research & Application 45 (2020) 8–21, there for reflectance,
//! from memory). Where the two predict different colours, the difference is the uncertainty.

use super::spectrum::{COUNT, FIRST_NM, OBSERVER_1931, Spd, Transmittance};

/// Wavelength step in nanometres at which a spectrum is sought; both assumptions are smooth on it.
const STEP_NM: usize = 5;
/// How many wavelengths that makes.
pub(crate) const POINTS: usize = (COUNT - 1) / STEP_NM + 1;

/// A light ready to be weighed against smooth transmittances: tristimulus weights per step, Σ Y = 1.
#[derive(Clone, Debug)]
pub struct Weights([[f64; 3]; POINTS]);

impl Weights {
    /// The weights of a light, scaled so that the bare light has Y = 1.
    #[must_use]
    pub fn of(light: &Spd) -> Weights {
        let y = light.xyz()[1];
        let mut weights = [[0.0; 3]; POINTS];
        for (i, observer) in OBSERVER_1931.iter().enumerate() {
            // Each nanometre is shared between its two neighbouring steps, as if T ran straight between them.
            let share = (i % STEP_NM) as f64 / STEP_NM as f64;
            let at = i / STEP_NM;
            for k in 0..3 {
                let v = light.values()[i] * observer[k] / y;
                weights[at][k] += v * (1.0 - share);
                if share > 0.0 {
                    weights[at + 1][k] += v * share;
                }
            }
        }
        Weights(weights)
    }

    /// Tristimulus values of the bare light, Y = 1.
    #[must_use]
    pub fn bare(&self) -> [f64; 3] {
        self.sum(|_| 1.0)
    }

    /// Tristimulus values of the light through a stone found by [`Recovery`].
    #[must_use]
    pub fn through(&self, stone: &Smooth) -> [f64; 3] {
        self.sum(|i| stone.0[i])
    }

    /// The same for a curve that is not held at 1.
    pub(crate) fn through_curve(&self, curve: &[f64; POINTS]) -> [f64; 3] {
        self.sum(|i| curve[i])
    }

    fn sum(&self, t: impl Fn(usize) -> f64) -> [f64; 3] {
        let mut sum = [0.0; 3];
        for (i, w) in self.0.iter().enumerate() {
            let v = t(i);
            sum[0] += w[0] * v;
            sum[1] += w[1] * v;
            sum[2] += w[2] * v;
        }
        sum
    }
}

/// A smooth transmittance at the steps of this file.
#[derive(Clone, Debug, PartialEq)]
pub struct Smooth([f64; POINTS]);

impl Smooth {
    /// The same on the room's common grid, held within 0 to 1.
    #[must_use]
    pub fn transmittance(&self) -> Transmittance {
        Transmittance::from_fn(|i| {
            let (at, share) = (i / STEP_NM, (i % STEP_NM) as f64 / STEP_NM as f64);
            let next = (at + 1).min(POINTS - 1);
            self.0[at] * (1.0 - share) + self.0[next] * share
        })
    }

    /// A stone that was measured spectrally, at the steps of this file.
    #[must_use]
    pub fn of(stone: &Transmittance) -> Smooth {
        Smooth(std::array::from_fn(|i| stone.values()[i * STEP_NM]))
    }
}

/// What the three values of a photo were turned into.
#[derive(Clone, Debug)]
pub struct Recovered {
    /// The spectrum used for predictions.
    pub stone: Smooth,
    /// The other assumption's spectrum, for the uncertainty; the same as `stone` where only one was found.
    pub other: Smooth,
    /// Which assumption `stone` rests on.
    pub method: Method,
}

/// The assumption that a spectrum rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// The exponential of a quadratic in 1/λ.
    Quadratic,
    /// The smoothest ln T, because no quadratic fits.
    Smoothest,
    /// The spectrum was measured and nothing was assumed.
    Measured,
}

impl Method {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Method::Quadratic => "estimated from three values as the exponential of a quadratic in 1/λ",
            Method::Smoothest => "estimated from three values as the smoothest that fits",
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
fn reciprocal_wavelength() -> [f64; POINTS] {
    let (low, high) = (1.0 / (FIRST_NM + COUNT - 1) as f64, 1.0 / FIRST_NM as f64);
    std::array::from_fn(|i| {
        let u = 1.0 / (FIRST_NM + i * STEP_NM) as f64;
        2.0 * (u - low) / (high - low) - 1.0
    })
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
        let smoothest = self.smoothest(xyz);
        match (quadratic, smoothest) {
            (Some(stone), other) => {
                let other = other.unwrap_or_else(|| stone.clone());
                Some(Recovered { stone, other, method: Method::Quadratic })
            }
            (None, Some(stone)) => Some(Recovered { other: stone.clone(), stone, method: Method::Smoothest }),
            (None, None) => None,
        }
    }

    /// The quadratic's coefficients by damped Newton steps on ln XYZ, from `start` or from a grey stone.
    pub(crate) fn quadratic(&self, xyz: [f64; 3], start: Option<Coefficients>) -> Option<Coefficients> {
        let u = reciprocal_wavelength();
        let goal = xyz.map(f64::ln);
        let mut c = start.unwrap_or([-goal[1], 0.0, 0.0]);
        let (mut xyz_now, mut jacobian) = self.sums(&u, c, false);
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
                    let (xyz_tried, jacobian_tried) = self.sums(&u, tried, false);
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

    /// ln-derivatives of XYZ in the coefficients, and XYZ; `held` holds T at 1.
    fn sums(&self, u: &[f64; POINTS], c: Coefficients, held: bool) -> ([f64; 3], [[f64; 3]; 3]) {
        let mut xyz = [0.0; 3];
        let mut moments = [[0.0; 3]; 3];
        for (w, u) in self.weights.0.iter().zip(u) {
            let t = (-(c[0] + u * (c[1] + u * c[2]))).exp();
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
        let u = reciprocal_wavelength();
        let of = |c: Coefficients| {
            Smooth(std::array::from_fn(|i| (-(c[0] + u[i] * (c[1] + u[i] * c[2]))).exp().min(1.0)))
        };
        let first = of(c);
        if first.0.iter().all(|t| *t < 1.0) {
            return first;
        }
        let goal = xyz.map(f64::ln);
        let mut best = (c, f64::INFINITY);
        let mut now = c;
        for _ in 0..30 {
            let (found, jacobian) = self.sums(&u, now, true);
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

    /// The T of coefficients, not held at 1.
    pub(crate) fn curve(c: Coefficients) -> [f64; POINTS] {
        reciprocal_wavelength().map(|u| (-(c[0] + u * (c[1] + u * c[2]))).exp())
    }

    /// The smoothest ln T with these tristimulus values: Newton on the constrained least squares of slopes.
    pub(crate) fn smoothest(&self, xyz: [f64; 3]) -> Option<Smooth> {
        const SIZE: usize = POINTS + 3;
        let mut z = [xyz[1].ln(); POINTS];
        let mut multipliers = [0.0; 3];
        for _ in 0..50 {
            let t = z.map(f64::exp);
            let mut system = vec![[0.0; SIZE + 1]; SIZE];
            for i in 0..POINTS {
                let (before, after) = (i > 0, i + 1 < POINTS);
                let slope_size = f64::from(u8::from(before)) + f64::from(u8::from(after));
                let mut gradient = slope_size * z[i];
                system[i][i] = slope_size;
                if before {
                    system[i][i - 1] = -1.0;
                    gradient -= z[i - 1];
                }
                if after {
                    system[i][i + 1] = -1.0;
                    gradient -= z[i + 1];
                }
                for k in 0..3 {
                    let slope = self.weights.0[i][k] * t[i];
                    system[i][i] += multipliers[k] * slope;
                    system[i][POINTS + k] = slope;
                    system[POINTS + k][i] = slope;
                    gradient += multipliers[k] * slope;
                }
                system[i][SIZE] = -gradient;
            }
            let sums = self.weights.sum(|i| t[i]);
            for k in 0..3 {
                system[POINTS + k][SIZE] = xyz[k] - sums[k];
            }
            let step = eliminated(&mut system)?;
            let longest = step[..POINTS].iter().fold(0.0f64, |a, s| a.max(s.abs()));
            let damping = (1.5 / longest.max(1e-12)).min(1.0);
            for i in 0..POINTS {
                z[i] += damping * step[i];
            }
            for k in 0..3 {
                multipliers[k] += damping * step[POINTS + k];
            }
            if longest < 1e-10 {
                return z.iter().all(|v| v.is_finite()).then(|| Smooth(z.map(|v| v.exp().min(1.0))));
            }
        }
        None
    }
}

fn missed(goal: [f64; 3], xyz: [f64; 3]) -> Option<[f64; 3]> {
    let miss = [0, 1, 2].map(|k| goal[k] - xyz[k].ln());
    miss.iter().all(|m| m.is_finite()).then_some(miss)
}

/// Gaussian elimination with partial pivoting; the last column is the right-hand side.
fn eliminated<const WIDE: usize>(system: &mut [[f64; WIDE]]) -> Option<Vec<f64>> {
    let n = system.len();
    for column in 0..n {
        let pivot =
            (column..n).max_by(|a, b| system[*a][column].abs().total_cmp(&system[*b][column].abs()))?;
        if system[pivot][column].abs() < 1e-14 {
            return None;
        }
        system.swap(column, pivot);
        let (done, rest) = system.split_at_mut(column + 1);
        let pivot_row = &done[column];
        for row in rest {
            let factor = row[column] / pivot_row[column];
            if factor != 0.0 {
                for k in column..WIDE {
                    row[k] -= factor * pivot_row[k];
                }
            }
        }
    }
    let mut solution = vec![0.0; n];
    for row in (0..n).rev() {
        let known: f64 = (row + 1..n).map(|k| system[row][k] * solution[k]).sum();
        solution[row] = (system[row][WIDE - 1] - known) / system[row][row];
    }
    solution.iter().all(|v| v.is_finite()).then_some(solution)
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
            assert_eq!(found.method, Method::Quadratic);
            for way in [&found.stone, &found.other] {
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
        assert!(found.stone.0.iter().chain(&found.other.0).all(|t| (t - 0.05).abs() < 1e-6));
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

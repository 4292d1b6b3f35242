//! Lights and stones on the coarser grid on which spectra are sought: enough for smooth curves, and quick.

use super::spectrum::{COUNT, OBSERVER_1931, Spd, Transmittance};

/// Wavelength step in nanometres at which a spectrum is sought; both assumptions are smooth on it.
pub(crate) const STEP_NM: usize = 5;
/// How many wavelengths that makes.
pub(crate) const POINTS: usize = (COUNT - 1) / STEP_NM + 1;

/// A light ready to be weighed against smooth transmittances: tristimulus weights per step, Σ Y = 1.
#[derive(Clone, Debug)]
pub struct Weights(pub(super) [[f64; 3]; POINTS]);

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
    pub(crate) fn bare(&self) -> [f64; 3] {
        self.sum(|_| 1.0)
    }

    /// Tristimulus values of the light through a stone found by [`super::recover::Recovery`].
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

/// A smooth transmittance at the steps of this grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Smooth(pub(super) [f64; POINTS]);

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

    /// The same with all that passes times a factor.
    pub(crate) fn scaled(&self, factor: f64) -> Smooth {
        Smooth(self.0.map(|t| t * factor))
    }

    /// The geometric mean of so many.
    pub(crate) fn mean(all: impl Iterator<Item = Smooth>, count: usize) -> Smooth {
        let mut logs = [0.0; POINTS];
        for one in all {
            logs.iter_mut().zip(one.0).for_each(|(sum, t)| *sum += t.max(1e-12).ln());
        }
        Smooth(logs.map(|sum| (sum / count.max(1) as f64).exp()))
    }

    /// A stone that was measured spectrally, at the steps of this grid.
    #[must_use]
    pub fn of(stone: &Transmittance) -> Smooth {
        Smooth(std::array::from_fn(|i| stone.values()[i * STEP_NM]))
    }
}

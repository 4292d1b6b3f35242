//! The smoothest spectrum that gives three values: of all ln T that do, the one with the least sum of squared slopes
//! (S. A. Burns, Color Research & Application 45 (2020) 8–21, there for reflectance, from memory).

use super::colour::{inverse, times};
use super::weights::{POINTS, Weights};

/// The smoothest spectrum of one colour, with what a neighbour's search starts from.
#[derive(Clone, Debug)]
pub(crate) struct Smoothest {
    pub(super) ln_t: [f64; POINTS],
    pub(super) multipliers: [f64; 3],
}

/// A tiny pull of ln T towards its level, which keeps the first Newton step from being singular.
const PULL: f64 = 1e-6;

/// Finds the smoothest ln T with these tristimulus values: Newton on the least squares of slopes under three
/// constraints. The system is tridiagonal with three borders, so each step takes a handful of passes.
pub(super) fn smoothest(weights: &Weights, xyz: [f64; 3], start: Option<&Smoothest>) -> Option<Smoothest> {
    let level = xyz[1].ln();
    let grey = Smoothest { ln_t: [level; POINTS], multipliers: [0.0; 3] };
    let Smoothest { ln_t: mut z, mut multipliers } = start.cloned().unwrap_or(grey);
    for _ in 0..60 {
        let t = z.map(f64::exp);
        let mut diagonal = [0.0; POINTS];
        // Four right-hand sides: the gradient and the three constraints' slopes.
        let mut sides = [[0.0; 4]; POINTS];
        let mut miss = xyz;
        for i in 0..POINTS {
            let ends = f64::from(u8::from(i > 0)) + f64::from(u8::from(i + 1 < POINTS));
            let mut gradient = ends * z[i] + PULL * (z[i] - level);
            gradient -= if i > 0 { z[i - 1] } else { 0.0 } + if i + 1 < POINTS { z[i + 1] } else { 0.0 };
            diagonal[i] = ends + PULL;
            for k in 0..3 {
                let slope = weights.0[i][k] * t[i];
                diagonal[i] += multipliers[k] * slope;
                gradient += multipliers[k] * slope;
                miss[k] -= slope;
                sides[i][k + 1] = slope;
            }
            sides[i][0] = -gradient;
        }
        let constraints: [[f64; 3]; POINTS] =
            std::array::from_fn(|i| [sides[i][1], sides[i][2], sides[i][3]]);
        tridiagonal(&diagonal, &mut sides)?;
        let mut small = [[0.0; 3]; 3];
        let mut right = miss.map(|m| -m);
        for (b, x) in constraints.iter().zip(&sides) {
            for k in 0..3 {
                right[k] += b[k] * x[0];
                for j in 0..3 {
                    small[k][j] += b[k] * x[j + 1];
                }
            }
        }
        let moved = times(scaled_inverse(small)?, right);
        let step: [f64; POINTS] = std::array::from_fn(|i| {
            sides[i][0] - moved[0] * sides[i][1] - moved[1] * sides[i][2] - moved[2] * sides[i][3]
        });
        let longest = step.iter().fold(0.0f64, |a, s| a.max(s.abs()));
        if !longest.is_finite() {
            return None;
        }
        let damping = (1.5 / longest.max(1e-12)).min(1.0);
        for (z, s) in z.iter_mut().zip(step) {
            *z += damping * s;
        }
        for (m, s) in multipliers.iter_mut().zip(moved) {
            *m += damping * s;
        }
        if longest < 1e-8 {
            return Some(Smoothest { ln_t: z, multipliers });
        }
    }
    None
}

/// Solves a symmetric tridiagonal system with −1 beside the diagonal, in place for four right-hand sides.
pub(super) fn tridiagonal(diagonal: &[f64; POINTS], sides: &mut [[f64; 4]; POINTS]) -> Option<()> {
    let mut pivots = *diagonal;
    for i in 1..POINTS {
        if pivots[i - 1].abs() < 1e-13 {
            return None;
        }
        let factor = 1.0 / pivots[i - 1];
        pivots[i] -= factor;
        let above = sides[i - 1];
        for (here, above) in sides[i].iter_mut().zip(above) {
            *here += factor * above;
        }
    }
    for i in (0..POINTS).rev() {
        if pivots[i].abs() < 1e-13 {
            return None;
        }
        let below = if i + 1 < POINTS { sides[i + 1] } else { [0.0; 4] };
        for (here, below) in sides[i].iter_mut().zip(below) {
            *here = (*here + below) / pivots[i];
        }
    }
    Some(())
}

/// The inverse of a matrix whose rows and columns differ widely in size.
fn scaled_inverse(m: [[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let size = [0, 1, 2].map(|k| m[k][k].abs().sqrt().max(1e-150));
    let scaled = [0, 1, 2].map(|i| [0, 1, 2].map(|j| m[i][j] / (size[i] * size[j])));
    let inverse = inverse(scaled)?;
    Some([0, 1, 2].map(|i| [0, 1, 2].map(|j| inverse[i][j] / (size[i] * size[j]))))
}

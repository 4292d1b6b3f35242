//! Sums over a smooth curve, to near machine precision.
//!
//! Gauss–Legendre with 16 nodes (the table of `kurbo`), halving an interval until both halves together
//! agree with the whole. The cost is set by the curve: one cubic takes 48 to a few hundred evaluations.

use kurbo::common::GAUSS_LEGENDRE_COEFFS_16;

/// How many times an interval may be halved; past this the sum is as good as the arithmetic allows.
const DEEPEST: u32 = 20;
/// How many intervals one sum may take; a cusp takes a few dozen, noise would take them all.
const MOST_INTERVALS: u32 = 2000;

/// Sums and, to judge their error by, the sums of the absolute values.
type Sums<const N: usize> = ([f64; N], [f64; N]);

/// Several sums over the same interval at once.
///
/// The tolerance is relative to what each sum would be without cancellation; `floors` are the sizes of the terms
/// that each value is the difference of, below whose rounding no sum is refined.
pub(crate) fn integrate<const N: usize>(
    from: f64,
    to: f64,
    tolerance: f64,
    floors: [f64; N],
    f: &impl Fn(f64) -> [f64; N],
) -> [f64; N] {
    let mut refining = Refining { tolerance, floors, left: MOST_INTERVALS, f };
    let whole = refining.gauss(from, to);
    refining.refine(from, to, whole, 0)
}

struct Refining<'f, F, const N: usize> {
    tolerance: f64,
    floors: [f64; N],
    left: u32,
    f: &'f F,
}

impl<F: Fn(f64) -> [f64; N], const N: usize> Refining<'_, F, N> {
    fn refine(&mut self, from: f64, to: f64, whole: Sums<N>, depth: u32) -> [f64; N] {
        let middle = 0.5 * (from + to);
        let (left, right) = (self.gauss(from, middle), self.gauss(middle, to));
        let agree = (0..N).all(|i| {
            let error = (left.0[i] + right.0[i] - whole.0[i]).abs();
            let rounding = 4.0 * f64::EPSILON * self.floors[i];
            error <= self.tolerance * (left.1[i] + right.1[i]) + rounding || !error.is_finite()
        });
        self.left = self.left.saturating_sub(1);
        if agree || depth >= DEEPEST || self.left == 0 {
            return std::array::from_fn(|i| left.0[i] + right.0[i]);
        }
        let left = self.refine(from, middle, left, depth + 1);
        let right = self.refine(middle, to, right, depth + 1);
        std::array::from_fn(|i| left[i] + right[i])
    }

    fn gauss(&self, from: f64, to: f64) -> Sums<N> {
        let (half, middle) = (0.5 * (to - from), 0.5 * (from + to));
        let (mut sums, mut sizes) = ([0.0; N], [0.0; N]);
        for &(weight, node) in GAUSS_LEGENDRE_COEFFS_16 {
            let values = (self.f)(middle + half * node);
            for i in 0..N {
                let part = weight * half * values[i];
                sums[i] += part;
                sizes[i] += part.abs();
            }
        }
        (sums, sizes)
    }
}

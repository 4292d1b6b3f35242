//! Sums over a smooth curve, to near machine precision.
//!
//! Gauss–Legendre with 16 nodes (the table of `kurbo`), halving an interval until both halves together
//! agree with the whole. The cost is set by the curve: one cubic takes 48 to a few hundred evaluations.

use kurbo::common::GAUSS_LEGENDRE_COEFFS_16;

/// How many times an interval may be halved; past this the sum is as good as the arithmetic allows.
const DEEPEST: u32 = 24;

/// Sums and, to judge their error by, the sums of the absolute values.
type Sums<const N: usize> = ([f64; N], [f64; N]);

/// Several sums over the same interval at once. The tolerance is relative to what each sum would be
/// without cancellation.
pub(crate) fn integrate<const N: usize>(
    from: f64,
    to: f64,
    tolerance: f64,
    f: &impl Fn(f64) -> [f64; N],
) -> [f64; N] {
    refine(from, to, gauss(from, to, f), tolerance, 0, f)
}

fn refine<const N: usize>(
    from: f64,
    to: f64,
    whole: Sums<N>,
    tolerance: f64,
    depth: u32,
    f: &impl Fn(f64) -> [f64; N],
) -> [f64; N] {
    let middle = 0.5 * (from + to);
    let (left, right) = (gauss(from, middle, f), gauss(middle, to, f));
    let agree = (0..N).all(|i| {
        let error = (left.0[i] + right.0[i] - whole.0[i]).abs();
        error <= tolerance * (left.1[i] + right.1[i]) || !error.is_finite()
    });
    if agree || depth >= DEEPEST {
        return std::array::from_fn(|i| left.0[i] + right.0[i]);
    }
    let left = refine(from, middle, left, tolerance, depth + 1, f);
    let right = refine(middle, to, right, tolerance, depth + 1, f);
    std::array::from_fn(|i| left[i] + right[i])
}

fn gauss<const N: usize>(from: f64, to: f64, f: &impl Fn(f64) -> [f64; N]) -> Sums<N> {
    let (half, middle) = (0.5 * (to - from), 0.5 * (from + to));
    let (mut sums, mut sizes) = ([0.0; N], [0.0; N]);
    for &(weight, node) in GAUSS_LEGENDRE_COEFFS_16 {
        let values = f(middle + half * node);
        for i in 0..N {
            let part = weight * half * values[i];
            sums[i] += part;
            sizes[i] += part.abs();
        }
    }
    (sums, sizes)
}

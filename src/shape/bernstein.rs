//! Polynomials in Bernstein form over 0 to 1: products, slopes and every root, none missed.
//!
//! The number of sign changes among the coefficients bounds the number of roots (variation diminishing: Lane &
//! Riesenfeld, Bounds on a polynomial, BIT 21, 1981), so halving until there is at most one finds them all: also a root
//! that falls on the very middle, and one that is touched without a crossing.

/// How often a range is halved at most: to the last bits of a share.
const DEEPEST: u32 = 50;

/// Coefficients this small beside the largest are rounding.
const ROUNDING: f64 = 1e-14;

/// The product of two polynomials.
pub(super) fn product(a: &[f64], b: &[f64]) -> Vec<f64> {
    let (m, n) = (a.len() - 1, b.len() - 1);
    let (of_a, of_b, of_both) = (binomials(m), binomials(n), binomials(m + n));
    let mut out = vec![0.0; m + n + 1];
    for i in 0..=m {
        for j in 0..=n {
            out[i + j] += a[i] * b[j] * of_a[i] * of_b[j] / of_both[i + j];
        }
    }
    out
}

/// The derivative by the share.
pub(super) fn slope(a: &[f64]) -> Vec<f64> {
    let degree = a.len().saturating_sub(1);
    if degree == 0 {
        return vec![0.0];
    }
    a.windows(2).map(|w| (w[1] - w[0]) * degree as f64).collect()
}

/// The difference of two polynomials of one degree.
pub(super) fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

fn binomials(n: usize) -> Vec<f64> {
    let mut row = vec![1.0; n + 1];
    for k in 1..n {
        row[k] = row[k - 1] * (n + 1 - k) as f64 / k as f64;
    }
    row
}

/// Every place from 0 to 1 where the polynomial is zero, in order. Where it is zero throughout, or for a while, one
/// place stands for the stretch.
pub(super) fn roots(coefficients: &[f64]) -> Vec<f64> {
    let size = coefficients.iter().fold(0.0, |m: f64, c| m.max(c.abs()));
    let mut found = Vec::new();
    // The leftmost range is on top, so that roots come in order.
    let mut open = vec![(coefficients.to_vec(), 0.0, 1.0, 0)];
    while let Some((c, from, to, depth)) = open.pop() {
        let tiny = |v: f64| v.abs() <= ROUNDING * size;
        if c.iter().all(|v| tiny(*v)) {
            found.push(0.5 * (from + to));
            continue;
        }
        let (first, last) = (c[0], c[c.len() - 1]);
        if tiny(first) {
            found.push(from);
        }
        match sign_changes(&c) {
            0 => {
                if tiny(last) {
                    found.push(to);
                }
            }
            1 if first * last < 0.0 => found.push(from + (to - from) * crossing(&c)),
            _ if depth >= DEEPEST => found.push(0.5 * (from + to)),
            _ => {
                let middle = 0.5 * (from + to);
                let (low, high) = halves(&c);
                open.push((high, middle, to, depth + 1));
                open.push((low, from, middle, depth + 1));
            }
        }
    }
    found.dedup_by(|a, b| (*a - *b).abs() <= 1e-12);
    found
}

fn sign_changes(c: &[f64]) -> usize {
    let signs: Vec<bool> = c.iter().filter(|v| **v != 0.0).map(|v| *v > 0.0).collect();
    signs.windows(2).filter(|w| w[0] != w[1]).count()
}

/// The one crossing between 0 and 1, by halving.
fn crossing(c: &[f64]) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while high - low > f64::EPSILON * high {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if (value(c, middle) > 0.0) == (c[0] > 0.0) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// The value at a share of the way (de Casteljau).
fn value(c: &[f64], t: f64) -> f64 {
    let mut d = c.to_vec();
    for level in (1..d.len()).rev() {
        for i in 0..level {
            d[i] += (d[i + 1] - d[i]) * t;
        }
    }
    d[0]
}

/// The coefficients over the lower and the upper half.
fn halves(c: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut d = c.to_vec();
    let (mut low, mut high) = (vec![d[0]], vec![d[d.len() - 1]]);
    for level in (1..d.len()).rev() {
        for i in 0..level {
            d[i] = 0.5 * (d[i] + d[i + 1]);
        }
        low.push(d[0]);
        high.push(d[level - 1]);
    }
    high.reverse();
    (low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The polynomial with these roots, multiplied out in Bernstein form.
    fn with_roots(at: &[f64]) -> Vec<f64> {
        at.iter().fold(vec![1.0], |all, r| product(&all, &[-r, 1.0 - r]))
    }

    #[test]
    fn roots_on_ends_and_halves_in_pairs_and_throughout() {
        for at in [
            &[0.5][..],
            &[0.0, 0.5, 1.0],
            &[0.25, 0.5, 0.75],
            &[0.5, 0.5],
            &[0.0, 0.0],
            &[1.0],
            &[0.125, 0.875],
            &[0.499_999_9, 0.500_000_1],
            &[0.3, 0.3, 0.7],
        ] {
            let found = roots(&with_roots(at));
            for r in at {
                assert!(found.iter().any(|f| (f - r).abs() < 1e-6), "{at:?}: {found:?}");
            }
            for f in &found {
                assert!(at.iter().any(|r| (f - r).abs() < 1e-5), "{at:?}: {found:?}");
            }
        }
        assert_eq!(roots(&with_roots(&[-0.5, 1.5])), [0.0; 0]);
        assert_eq!(roots(&[0.0, 0.0, 0.0]), [0.5]);
        assert_eq!(slope(&[2.0, 3.0, 7.0]), [2.0, 8.0]);
    }
}

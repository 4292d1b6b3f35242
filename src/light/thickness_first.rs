//! The law of thickness of before, which counts no surfaces: what was signed under it is judged by it for ever.
//!
//! One thickness: between absorption alone (Beer–Lambert) and scattering alone (Kubelka–Munk without absorption). Two and
//! more: between the fits of two laws. A scattering slab held within it in half of all cases; nothing new uses it.

use super::slab::layer;

/// Keeps logarithms finite where a detector read nothing.
const DARKEST: f64 = 1e-6;

/// The least and the most that passes at `wanted`; `pairs` of thickness and transmittance rises and is not empty.
pub(super) fn between(pairs: &[(f64, f64)], wanted: f64) -> [f64; 2] {
    let [a, b] = if let [(d0, t0)] = *pairs {
        let ratio = wanted / d0;
        [absorbing(t0, ratio), scattering(t0, ratio)]
    } else {
        [surface_and_absorption(pairs)(wanted), kubelka_munk_fit(pairs)(wanted)]
    };
    [a.min(b), a.max(b)]
}

/// Absorption alone: T₀^r with r = d/d₀ (Beer–Lambert).
fn absorbing(t0: f64, ratio: f64) -> f64 {
    t0.clamp(0.0, 1.0).powf(ratio)
}

/// Scattering alone: 1/(1 + (1/T₀ − 1)·r) with r = d/d₀ (Kubelka–Munk with K → 0).
fn scattering(t0: f64, ratio: f64) -> f64 {
    if t0 <= 0.0 { 0.0 } else { 1.0 / (1.0 + (1.0 / t0.min(1.0) - 1.0) * ratio) }
}

/// Fits T = s·exp(−αd), s ≤ 1 for the loss at the two surfaces and α ≥ 0, by least squares in ln T.
fn surface_and_absorption(pairs: &[(f64, f64)]) -> impl Fn(f64) -> f64 + use<> {
    let n = pairs.len() as f64;
    let logs: Vec<(f64, f64)> = pairs.iter().map(|(d, t)| (*d, t.clamp(DARKEST, 1.0).ln())).collect();
    let mean_d = logs.iter().map(|p| p.0).sum::<f64>() / n;
    let mean_y = logs.iter().map(|p| p.1).sum::<f64>() / n;
    let cross = logs.iter().map(|(d, y)| (d - mean_d) * (y - mean_y)).sum::<f64>();
    let spread = logs.iter().map(|(d, _)| (d - mean_d).powi(2)).sum::<f64>();
    let mut alpha = (-cross / spread).max(0.0);
    let mut ln_s = mean_y + alpha * mean_d;
    if ln_s > 0.0 {
        ln_s = 0.0;
        let through_origin = logs.iter().map(|(d, y)| d * y).sum::<f64>();
        alpha = (-through_origin / logs.iter().map(|(d, _)| d * d).sum::<f64>()).max(0.0);
    }
    move |d: f64| (ln_s - alpha * d).exp()
}

/// Fits Kubelka–Munk's K and S by least squares in ln T.
///
/// 1/T = cosh pd + q·sinh pd with q = a/b ≥ 1, so for a given p the best q follows directly, and p lies
/// between 0 (scattering alone) and the least −ln T/d (absorption alone, q = 1): one bounded search.
fn kubelka_munk_fit(pairs: &[(f64, f64)]) -> impl Fn(f64) -> f64 + use<> {
    let pairs: Vec<(f64, f64)> = pairs.iter().map(|(d, t)| (*d, t.clamp(DARKEST, 1.0))).collect();
    let highest = pairs.iter().map(|(d, t)| -t.ln() / d).fold(f64::INFINITY, f64::min).max(1e-9);
    // m = q·p, found for each p by weighted least squares on 1/T, the weights making errors relative.
    let best_m = |p: f64| {
        let (mut top, mut bottom) = (0.0, 0.0);
        for (d, t) in &pairs {
            let pd = p * d;
            let sinh_over_p = if pd < 1e-6 { *d } else { pd.sinh() / p };
            top += (1.0 / t - pd.cosh()) * sinh_over_p * t * t;
            bottom += (sinh_over_p * t).powi(2);
        }
        (top / bottom).max(p)
    };
    let error = |p: f64| {
        let m = best_m(p);
        pairs.iter().map(|(d, t)| (layer(p, m, *d).max(DARKEST).ln() - t.ln()).powi(2)).sum::<f64>()
    };
    const STEPS: usize = 40;
    let at = |i: usize| highest * i as f64 / STEPS as f64;
    let nearest = (0..=STEPS).min_by(|a, b| error(at(*a)).total_cmp(&error(at(*b)))).unwrap_or(0);
    let (mut low, mut high) = (at(nearest.saturating_sub(1)), at((nearest + 1).min(STEPS)));
    for _ in 0..60 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if error(a) <= error(b) { high = b } else { low = a }
    }
    let p = [0.0, highest, (low + high) / 2.0]
        .into_iter()
        .min_by(|a, b| error(*a).total_cmp(&error(*b)))
        .unwrap_or(0.0);
    let m = best_m(p);
    move |d: f64| layer(p, m, d)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Beer–Lambert and Kubelka–Munk (K → 0) by hand: 0.091² and 1/(1 + 2·(1/0.091 − 1)).
    #[test]
    fn one_thickness_lies_between_absorption_and_scattering() {
        let [low, high] = between(&[(10.0, 0.091)], 20.0);
        assert!((low - 0.0083).abs() < 5e-5 && (high - 0.0477).abs() < 5e-5, "{low} {high}");
    }

    #[test]
    fn several_thicknesses_find_the_law_that_made_them() {
        // A layer without surfaces (K 0.05, S 0.3 for each mm), and one with a loss at its surfaces.
        let of = |d: f64| layer((0.05f64 * 0.65).sqrt(), 0.35, d);
        for law in [&of as &dyn Fn(f64) -> f64, &|d| 0.8 * (-0.12 * d).exp()] {
            let [low, high] = between(&[5.0, 10.0, 20.0].map(|d| (d, law(d))), 30.0);
            assert!(low <= law(30.0) * 1.001 && law(30.0) <= high * 1.001, "{low} {high}");
        }
    }
}

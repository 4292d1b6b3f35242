//! From the thickness that was measured to the thickness that will be built.
//!
//! One measurement can be all absorption (Beer–Lambert) or all scattering (Kubelka–Munk without
//! absorption); the truth lies between, so it gives a bracket and never a point. Two or more thicknesses
//! are fitted by two laws, and the bracket is what lies between the fits; from three on, a residual says
//! how well they fit. No stone has a default: none is published well enough.

use std::fmt;

use super::spectrum::Transmittance;
use crate::units::Millimetres;

/// How far the wanted thickness may lie outside what was measured, as a ratio: half to twice.
pub(crate) const TRUSTED_RATIO: (f64, f64) = (0.5, 2.0);

/// Thicknesses closer than this are one piece, in millimetres.
const SAME_MM: f64 = 0.05;

/// True for two thicknesses of one piece, measured twice.
#[must_use]
pub(crate) fn is_one_piece(a: Millimetres, b: Millimetres) -> bool {
    (a.get() - b.get()).abs() < SAME_MM
}

/// Keeps logarithms finite where a detector read nothing.
const DARKEST: f64 = 1e-6;

/// A stone measured at one thickness.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Measured {
    /// How thick the measured piece is.
    pub thickness_mm: Millimetres,
    /// What it lets through.
    pub stone: Transmittance,
}

/// Whether to go beyond half or twice the measured thickness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beyond {
    /// Refuse it as extrapolation.
    Refuse,
    /// Do it, because somebody asked for it knowingly.
    Allow,
}

/// What a bracket rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Basis {
    /// One thickness: bounded by absorption alone and by scattering alone.
    OneThickness,
    /// Two thicknesses: bounded by two laws that both pass through them.
    TwoThicknesses,
    /// Three or more: bounded by the fits of two laws.
    Fit {
        /// Root mean square of the better fit's error in ln T: 0.05 is about five percent.
        residual: f64,
    },
}

/// The transmittance at a thickness, as bounds per nanometre.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Bracket {
    /// The thickness asked for.
    pub thickness_mm: Millimetres,
    /// The least that comes through.
    pub low: Transmittance,
    /// The geometric mean of the two bounds, for a picture; not a best estimate.
    pub middle: Transmittance,
    /// The most that comes through.
    pub high: Transmittance,
    /// What it rests on.
    pub basis: Basis,
    /// True where the thickness lies beyond half or twice what was measured.
    pub extrapolated: bool,
}

/// Bounds of one transmittance at a thickness, for a lux pair or one wavelength.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// The least that comes through, 0 to 1.
    pub low: f64,
    /// The most that comes through, 0 to 1.
    pub high: f64,
    /// What it rests on.
    pub basis: Basis,
}

/// Absorption alone: T₀^r with r = d/d₀ (Beer–Lambert).
#[must_use]
pub(crate) fn absorbing(t0: f64, ratio: f64) -> f64 {
    t0.clamp(0.0, 1.0).powf(ratio)
}

/// Scattering alone: 1/(1 + (1/T₀ − 1)·r) with r = d/d₀ (Kubelka–Munk with K → 0).
#[must_use]
pub(crate) fn scattering(t0: f64, ratio: f64) -> f64 {
    if t0 <= 0.0 { 0.0 } else { 1.0 / (1.0 + (1.0 / t0.min(1.0) - 1.0) * ratio) }
}

/// Transmittance of a layer by Kubelka–Munk: b/(a·sinh bSd + b·cosh bSd), a = 1 + K/S, b = √(a² − 1)
/// (Kubelka, J. Opt. Soc. Am. 38 (1948) 448–457); K and S per mm, not negative.
#[must_use]
pub fn kubelka_munk(absorption_per_mm: f64, scattering_per_mm: f64, thickness: Millimetres) -> f64 {
    let (k, s) = (absorption_per_mm, scattering_per_mm);
    layer((k * (k + 2.0 * s)).sqrt(), k + s, thickness.get())
}

/// The same in p = bS and m = aS, which stays finite where K or S is zero.
fn layer(p: f64, m: f64, d: f64) -> f64 {
    let pd = p * d;
    if pd > 300.0 {
        return 0.0;
    }
    // sinh(pd)/p tends to d.
    let sinh_over_p = if pd < 1e-6 { d } else { pd.sinh() / p };
    1.0 / (pd.cosh() + m * sinh_over_p)
}

/// The bounds at `wanted` from pairs of thickness and transmittance.
///
/// # Errors
/// Refuses no measurement at all, thicknesses that are not above zero or stand twice, a thicker piece that
/// lets more through, and what [`Beyond::Refuse`] says.
pub fn bounds(
    measured: &[(Millimetres, f64)],
    wanted: Millimetres,
    beyond: Beyond,
) -> Result<Bounds, ThicknessError> {
    check(measured.iter().map(|m| m.0), wanted, beyond)?;
    let mut pairs: Vec<(f64, f64)> = measured.iter().map(|(d, t)| (d.get(), *t)).collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    contradiction(&pairs)?;
    let fit = fitted(&pairs, wanted.get());
    Ok(Bounds { low: fit.low, high: fit.high, basis: basis(pairs.len(), fit.squared, 1) })
}

/// The bracket at `wanted` from stones measured at one or more thicknesses.
///
/// # Errors
/// As [`bounds`].
pub(crate) fn bracket(
    measured: &[Measured],
    wanted: Millimetres,
    beyond: Beyond,
) -> Result<Bracket, ThicknessError> {
    let extrapolated = check(measured.iter().map(|m| m.thickness_mm), wanted, beyond)?;
    let mut sorted: Vec<&Measured> = measured.iter().collect();
    sorted.sort_by(|a, b| a.thickness_mm.get().total_cmp(&b.thickness_mm.get()));
    let mean = |stone: &Transmittance| stone.values().iter().sum::<f64>() / stone.values().len() as f64;
    contradiction(&sorted.iter().map(|m| (m.thickness_mm.get(), mean(&m.stone))).collect::<Vec<_>>())?;
    let count = sorted[0].stone.values().len();
    let fits: Vec<Fitted> = (0..count)
        .map(|i| {
            let pairs: Vec<(f64, f64)> =
                sorted.iter().map(|m| (m.thickness_mm.get(), m.stone.values()[i])).collect();
            fitted(&pairs, wanted.get())
        })
        .collect();
    let squared = fits.iter().fold([0.0; 2], |s, f| [s[0] + f.squared[0], s[1] + f.squared[1]]);
    Ok(Bracket {
        thickness_mm: wanted,
        low: Transmittance::from_fn(|i| fits[i].low),
        middle: Transmittance::from_fn(|i| (fits[i].low * fits[i].high).sqrt()),
        high: Transmittance::from_fn(|i| fits[i].high),
        basis: basis(sorted.len(), squared, count),
        extrapolated,
    })
}

fn basis(thicknesses: usize, squared: [f64; 2], curves: usize) -> Basis {
    match thicknesses {
        1 => Basis::OneThickness,
        2 => Basis::TwoThicknesses,
        n => Basis::Fit { residual: (squared[0].min(squared[1]) / (n * curves) as f64).sqrt() },
    }
}

struct Fitted {
    low: f64,
    high: f64,
    /// Sum of squared errors in ln T of the two laws.
    squared: [f64; 2],
}

/// `pairs` rises in thickness and is not empty.
fn fitted(pairs: &[(f64, f64)], wanted: f64) -> Fitted {
    if let [(d0, t0)] = *pairs {
        let ratio = wanted / d0;
        let (a, b) = (absorbing(t0, ratio), scattering(t0, ratio));
        return Fitted { low: a.min(b), high: a.max(b), squared: [0.0; 2] };
    }
    let (surface, surface_error) = surface_and_absorption(pairs);
    let (layer_law, layer_error) = kubelka_munk_fit(pairs);
    let (a, b) = (surface(wanted), layer_law(wanted));
    Fitted { low: a.min(b), high: a.max(b), squared: [surface_error, layer_error] }
}

/// Fits T = s·exp(−αd), s ≤ 1 for the loss at the two surfaces and α ≥ 0, by least squares in ln T.
fn surface_and_absorption(pairs: &[(f64, f64)]) -> (impl Fn(f64) -> f64 + use<>, f64) {
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
    let error = logs.iter().map(|(d, y)| (ln_s - alpha * d - y).powi(2)).sum();
    (move |d: f64| (ln_s - alpha * d).exp(), error)
}

/// Fits Kubelka–Munk's K and S by least squares in ln T.
///
/// 1/T = cosh pd + q·sinh pd with q = a/b ≥ 1, so for a given p the best q follows directly, and p lies
/// between 0 (scattering alone) and the least −ln T/d (absorption alone, q = 1): one bounded search.
fn kubelka_munk_fit(pairs: &[(f64, f64)]) -> (impl Fn(f64) -> f64 + use<>, f64) {
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
    let (m, least) = (best_m(p), error(p));
    (move |d: f64| layer(p, m, d), least)
}

/// Answers whether the wanted thickness lies beyond what was measured.
fn check(
    thicknesses: impl Iterator<Item = Millimetres>,
    wanted: Millimetres,
    beyond: Beyond,
) -> Result<bool, ThicknessError> {
    let mut all: Vec<f64> = thicknesses.map(Millimetres::get).collect();
    all.sort_by(f64::total_cmp);
    if all.is_empty() {
        return Err(ThicknessError::Nothing);
    }
    for d in all.iter().chain([&wanted.get()]) {
        if !(d.is_finite() && *d > 0.0) {
            return Err(ThicknessError::NotAThickness(Millimetres(*d)));
        }
    }
    if let Some(pair) = all.windows(2).find(|pair| pair[1] - pair[0] < 0.01) {
        return Err(ThicknessError::Twice(Millimetres(pair[0])));
    }
    let (low, high) = (all[0] * TRUSTED_RATIO.0, all[all.len() - 1] * TRUSTED_RATIO.1);
    let outside = wanted.get() < low - 1e-9 || wanted.get() > high + 1e-9;
    if outside && beyond == Beyond::Refuse {
        return Err(ThicknessError::Beyond { wanted, low: Millimetres(low), high: Millimetres(high) });
    }
    Ok(outside)
}

fn contradiction(pairs: &[(f64, f64)]) -> Result<(), ThicknessError> {
    match pairs.windows(2).find(|pair| pair[1].1 > pair[0].1) {
        Some(pair) => Err(ThicknessError::Contradiction(Millimetres(pair[0].0), Millimetres(pair[1].0))),
        None => Ok(()),
    }
}

/// Why no transmittance is given at a thickness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ThicknessError {
    /// There is no measurement.
    Nothing,
    /// A thickness that is not above zero.
    NotAThickness(Millimetres),
    /// The same thickness twice.
    Twice(Millimetres),
    /// The thicker piece (second) lets more through than the thinner (first).
    Contradiction(Millimetres, Millimetres),
    /// Beyond half or twice what was measured.
    Beyond {
        /// The thickness asked for.
        wanted: Millimetres,
        /// The least thickness that can be told.
        low: Millimetres,
        /// The greatest thickness that can be told.
        high: Millimetres,
    },
}

impl ThicknessError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(self) -> &'static str {
        match self {
            ThicknessError::Nothing => "thickness-nothing-measured",
            ThicknessError::NotAThickness(_) => "thickness-not-positive",
            ThicknessError::Twice(_) => "thickness-twice",
            ThicknessError::Contradiction(..) => "thickness-contradiction",
            ThicknessError::Beyond { .. } => "thickness-beyond",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(self) -> String {
        match self {
            ThicknessError::Nothing => "measure the swatch: a photo, a spectrum or two lux readings".into(),
            ThicknessError::NotAThickness(_) => "give the thickness in millimetres, above zero".into(),
            ThicknessError::Twice(_) => "give each thickness once, its readings averaged".into(),
            ThicknessError::Contradiction(thin, thick) => format!(
                "check that the pieces of {} and {} are of the same stone and not exchanged, then measure again",
                thin.both(),
                thick.both()
            ),
            ThicknessError::Beyond { low, high, .. } => format!(
                "measure a piece nearer to the slab's thickness: this one tells from {} to {}; or ask for \
                 extrapolation knowingly",
                low.both(),
                high.both()
            ),
        }
    }
}

impl fmt::Display for ThicknessError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ThicknessError::Nothing => f.write_str("nothing was measured on this stone"),
            ThicknessError::NotAThickness(d) => write!(f, "{} is an invalid thickness", d.both()),
            ThicknessError::Twice(d) => write!(f, "the thickness {} is measured twice", d.both()),
            ThicknessError::Contradiction(thin, thick) => {
                write!(
                    f,
                    "the piece of {} lets more light through than the piece of {}",
                    thick.both(),
                    thin.both()
                )
            }
            ThicknessError::Beyond { wanted, low, high } => {
                let [wanted, low, high] = [wanted, low, high].map(|d| d.both());
                write!(f, "{wanted} lies outside what was measured, which tells from {low} to {high}")
            }
        }
    }
}

impl std::error::Error for ThicknessError {}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(d: f64) -> Millimetres {
        Millimetres(d)
    }

    /// Beer–Lambert and Kubelka–Munk (K → 0) by hand: 0.091² and 1/(1 + 2·(1/0.091 − 1)).
    #[test]
    fn one_thickness_gives_a_bracket() {
        let found = bounds(&[(mm(10.0), 0.091)], mm(20.0), Beyond::Refuse).expect("within twice");
        assert!((found.low - 0.0083).abs() < 5e-5, "{found:?}");
        assert!((found.high - 0.0477).abs() < 5e-5, "{found:?}");
        assert_eq!(found.basis, Basis::OneThickness);
        let same = bounds(&[(mm(10.0), 0.091)], mm(10.0), Beyond::Refuse).expect("as measured");
        assert!((same.low - 0.091).abs() < 1e-12 && (same.high - 0.091).abs() < 1e-12);
        let thinner = bounds(&[(mm(20.0), 0.05)], mm(10.0), Beyond::Refuse).expect("half");
        assert!(thinner.low < thinner.high && thinner.low > 0.05);
    }

    /// Marble of Jensen et al. 2001 (σ′s, σa per mm, from memory) with K = 2σa, S = ¾σ′s: 4.5/2.8/1.6 % at
    /// 10 mm and 1.28/0.46/0.13 % at 20 mm.
    #[test]
    fn marble_by_kubelka_munk() {
        for (s, a, at_10, at_20) in
            [(2.19, 0.0021, 0.045, 0.0128), (2.62, 0.0041, 0.028, 0.0046), (3.00, 0.0071, 0.016, 0.0013)]
        {
            let (k, s) = (2.0 * a, 0.75 * s);
            assert!(
                (kubelka_munk(k, s, mm(10.0)) - at_10).abs() < 0.0006,
                "{}",
                kubelka_munk(k, s, mm(10.0))
            );
            assert!(
                (kubelka_munk(k, s, mm(20.0)) - at_20).abs() < 0.00006,
                "{}",
                kubelka_munk(k, s, mm(20.0))
            );
        }
    }

    /// The laws' limits: no scattering is Beer–Lambert, no absorption is 1/(1 + Sd).
    #[test]
    fn kubelka_munk_at_its_limits() {
        assert!((kubelka_munk(0.3, 0.0, mm(4.0)) - (-1.2f64).exp()).abs() < 1e-12);
        assert!((kubelka_munk(0.0, 0.5, mm(4.0)) - 1.0 / 3.0).abs() < 1e-12);
        assert_eq!(kubelka_munk(50.0, 1.0, mm(100.0)), 0.0);
    }

    #[test]
    fn a_fit_finds_the_law_that_made_the_readings() {
        for (k, s) in [(0.0042, 1.64), (0.05, 0.3), (0.2, 0.01), (0.0, 0.8)] {
            let readings: Vec<_> = [6.0, 10.0, 15.0].map(|d| (mm(d), kubelka_munk(k, s, mm(d)))).to_vec();
            let found = bounds(&readings, mm(20.0), Beyond::Refuse).expect("sound");
            let truth = kubelka_munk(k, s, mm(20.0));
            assert!(
                found.low <= truth * 1.001 && truth <= found.high * 1.001,
                "K {k} S {s}: {found:?} {truth}"
            );
            assert!(matches!(found.basis, Basis::Fit { residual } if residual < 1e-3), "{found:?}");
        }
        // A polished slab: surfaces lose light once, the rest is absorbed.
        let readings: Vec<_> = [5.0, 10.0, 20.0].map(|d| (mm(d), 0.8 * (-0.12f64 * d).exp())).to_vec();
        let found = bounds(&readings, mm(30.0), Beyond::Refuse).expect("sound");
        let truth = 0.8 * (-3.6f64).exp();
        assert!(found.low <= truth * 1.001 && truth <= found.high * 1.001, "{found:?} {truth}");
    }

    #[test]
    fn scatter_in_the_readings_shows_in_the_residual() {
        let readings = [(mm(5.0), 0.30), (mm(10.0), 0.11), (mm(20.0), 0.08)];
        let found = bounds(&readings, mm(20.0), Beyond::Refuse).expect("falling");
        assert!(matches!(found.basis, Basis::Fit { residual } if residual > 0.05), "{found:?}");
    }

    #[test]
    fn nonsense_is_refused() {
        let code = |m: &[(Millimetres, f64)], d: f64| {
            bounds(m, mm(d), Beyond::Refuse).err().map(ThicknessError::code)
        };
        assert_eq!(code(&[], 10.0), Some("thickness-nothing-measured"));
        assert_eq!(code(&[(mm(0.0), 0.1)], 10.0), Some("thickness-not-positive"));
        assert_eq!(code(&[(mm(10.0), 0.1)], f64::NAN), Some("thickness-not-positive"));
        assert_eq!(code(&[(mm(10.0), 0.1)], 20.1), Some("thickness-beyond"));
        assert_eq!(code(&[(mm(10.0), 0.1)], 4.9), Some("thickness-beyond"));
        assert_eq!(code(&[(mm(10.0), 0.1), (mm(10.0), 0.1)], 10.0), Some("thickness-twice"));
        assert_eq!(code(&[(mm(10.0), 0.1), (mm(20.0), 0.2)], 15.0), Some("thickness-contradiction"));
        assert!(bounds(&[(mm(10.0), 0.1)], mm(50.0), Beyond::Allow).is_ok());
    }

    #[test]
    fn a_spectrum_goes_wavelength_by_wavelength() {
        let stone = Transmittance::from_fn(|i| 0.02 + 0.1 * i as f64 / 400.0);
        let measured = [Measured { thickness_mm: mm(10.0), stone: stone.clone() }];
        let found = bracket(&measured, mm(20.0), Beyond::Refuse).expect("within twice");
        for i in [0, 200, 400] {
            let one =
                bounds(&[(mm(10.0), stone.values()[i])], mm(20.0), Beyond::Refuse).expect("within twice");
            assert!((found.low.values()[i] - one.low).abs() < 1e-12);
            assert!((found.high.values()[i] - one.high).abs() < 1e-12);
        }
        assert!(!found.extrapolated);
        assert!(bracket(&measured, mm(30.0), Beyond::Allow).is_ok_and(|b| b.extrapolated));
    }
}

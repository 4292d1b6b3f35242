//! From the thickness that was measured to the thickness that will be built.
//!
//! A measured piece does not say how much of its loss is absorption and how much is scattering, and its surfaces count
//! once whatever its thickness. So one piece leaves a range; a second and a third of another thickness narrow it. The
//! range holds a slab in nine of ten cases: `tests/outside/light/test_thickness.py` asks that of simulated slabs. Assumed
//! are an index of stone ([`USUAL_INDEX`]), polished or honed faces, and air on both sides; glass or resin on a face counts
//! as stone, and a stone joined to its panel without air between is another arrangement, to be measured as such.
//! No stone has a default: none is published well enough.

use std::fmt;

use super::slab::{self, Open, Surfaces, USUAL_INDEX};
use super::spectrum::Transmittance;
use super::thickness_first;
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
    /// One thickness: every share of scattering is as likely.
    OneThickness,
    /// Two thicknesses: the share of scattering follows from them, as well as they repeat.
    TwoThicknesses,
    /// Three or more: as two, and what no stone fits widens the range.
    Fit {
        /// Root mean square of the best fit's error in ln T: 0.05 is about five percent.
        residual: f64,
    },
}

/// The transmittance at a thickness, per nanometre, as the range that holds it in nine of ten cases.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Bracket {
    /// The thickness asked for.
    pub thickness_mm: Millimetres,
    /// The least that comes through.
    pub low: Transmittance,
    /// The mean in ln T of what is left open.
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

/// What is assumed of a stone's surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Assumed {
    /// The refractive index of the stone.
    pub index: f64,
    /// True where it was measured over a panel, as a photo and a lux pair are, and will be built over one; false where an
    /// instrument measured it alone.
    pub over_panel: bool,
}

/// As a slab is built; whatever its measurement was made with, gates, build pack and look take it so.
pub(crate) const OVER_PANEL: Assumed = Assumed { index: USUAL_INDEX, over_panel: true };

impl Assumed {
    fn surfaces(self) -> Vec<Surfaces> {
        Surfaces::all(self.index, self.over_panel)
    }
}

/// Which law of thickness: what was signed under an earlier one is judged by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Law {
    /// Absorption alone and scattering alone, no surfaces.
    First,
    /// Absorption and scattering between surfaces.
    Present,
}

/// The range at `wanted` from pairs of thickness and transmittance; at a measured thickness as it was read.
///
/// # Errors
/// Refuses no measurement at all, thicknesses that are not above zero or stand twice, a thicker piece that
/// lets more through, and what [`Beyond::Refuse`] says.
pub fn bounds(
    measured: &[(Millimetres, f64)],
    wanted: Millimetres,
    beyond: Beyond,
) -> Result<Bounds, ThicknessError> {
    bounds_by(Law::Present, measured, wanted, beyond)
}

/// The same by a law.
///
/// # Errors
/// As [`bounds`].
pub(crate) fn bounds_by(
    law: Law,
    measured: &[(Millimetres, f64)],
    wanted: Millimetres,
    beyond: Beyond,
) -> Result<Bounds, ThicknessError> {
    check(measured.iter().map(|m| m.0), wanted, beyond)?;
    let mut pairs: Vec<(f64, f64)> = measured.iter().map(|(d, t)| (d.get(), *t)).collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    contradiction(&pairs)?;
    let own = pairs.iter().find(|(d, _)| is_one_piece(Millimetres(*d), wanted));
    if law == Law::First {
        let [low, high] = thickness_first::between(&pairs, wanted.get());
        return Ok(Bounds { low, high, basis: basis(pairs.len(), 0.0, 1) });
    }
    if let (Some((_, t)), [_]) = (own, pairs.as_slice()) {
        return Ok(Bounds { low: *t, high: *t, basis: Basis::OneThickness });
    }
    let open = slab::open(&pairs, wanted.get(), &OVER_PANEL.surfaces());
    let [low, high] = own.map_or([open.low, open.high], |(_, t)| [*t; 2]);
    Ok(Bounds { low, high, basis: basis(pairs.len(), open.squared, 1) })
}

/// The bracket at `wanted` from stones measured at one or more thicknesses; at a measured thickness as it was read.
///
/// # Errors
/// As [`bounds`].
pub(crate) fn bracket(
    measured: &[Measured],
    wanted: Millimetres,
    beyond: Beyond,
    assumed: Assumed,
) -> Result<Bracket, ThicknessError> {
    let extrapolated = check(measured.iter().map(|m| m.thickness_mm), wanted, beyond)?;
    let mut sorted: Vec<&Measured> = measured.iter().collect();
    sorted.sort_by(|a, b| a.thickness_mm.get().total_cmp(&b.thickness_mm.get()));
    let mean = |stone: &Transmittance| stone.values().iter().sum::<f64>() / stone.values().len() as f64;
    contradiction(&sorted.iter().map(|m| (m.thickness_mm.get(), mean(&m.stone))).collect::<Vec<_>>())?;
    let own = sorted.iter().find(|m| is_one_piece(m.thickness_mm, wanted));
    // One piece of that very thickness leaves nothing to work out.
    let count = if own.is_some() && sorted.len() == 1 { 0 } else { sorted[0].stone.values().len() };
    let surfaces = assumed.surfaces();
    let mut known: Option<(Vec<(f64, f64)>, Open)> = None;
    let opens: Vec<Open> = (0..count)
        .map(|i| {
            let pairs: Vec<(f64, f64)> =
                sorted.iter().map(|m| (m.thickness_mm.get(), m.stone.values()[i])).collect();
            // A grey stone is the same all along, but for the last digit that interpolation leaves.
            if let Some((of, open)) = &known
                && of.iter().zip(&pairs).all(|(a, b)| (a.1 - b.1).abs() < 1e-12)
            {
                return *open;
            }
            let open = slab::open(&pairs, wanted.get(), &surfaces);
            known = Some((pairs, open));
            open
        })
        .collect();
    let squared = opens.iter().map(|o| o.squared).sum();
    let at = |of: fn(&Open) -> f64| match own {
        Some(own) => own.stone.clone(),
        None => Transmittance::from_fn(|i| of(&opens[i])),
    };
    Ok(Bracket {
        thickness_mm: wanted,
        low: at(|o| o.low),
        middle: at(|o| o.middle),
        high: at(|o| o.high),
        basis: basis(sorted.len(), squared, count),
        extrapolated,
    })
}

fn basis(thicknesses: usize, squared: f64, curves: usize) -> Basis {
    match thicknesses {
        1 => Basis::OneThickness,
        2 => Basis::TwoThicknesses,
        n => Basis::Fit { residual: (squared / (n * curves) as f64).sqrt() },
    }
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

    #[test]
    fn a_measured_thickness_stays_as_it_was_read() {
        let three = [(mm(5.0), 0.30), (mm(10.0), 0.11), (mm(20.0), 0.08)];
        for count in 1..=3 {
            for (d, t) in &three[..count] {
                let found = bounds(&three[..count], *d, Beyond::Refuse).expect("as measured");
                assert_eq!((found.low, found.high), (*t, *t));
            }
        }
        let off = bounds(&three, mm(15.0), Beyond::Refuse).expect("falling");
        assert!(matches!(off.basis, Basis::Fit { residual } if residual > 0.05), "{off:?}");
        let thinner = bounds(&[(mm(20.0), 0.05)], mm(10.0), Beyond::Refuse).expect("half");
        assert!(thinner.low < thinner.high && thinner.low > 0.05);
    }

    /// Beer–Lambert and Kubelka–Munk (K → 0) by hand: 0.091² and 1/(1 + 2·(1/0.091 − 1)).
    #[test]
    fn the_first_law_stays_what_it_was() {
        let at = |law| bounds_by(law, &[(mm(10.0), 0.091)], mm(20.0), Beyond::Refuse).expect("within twice");
        let first = at(Law::First);
        assert!((first.low - 0.0083).abs() < 5e-5 && (first.high - 0.0477).abs() < 5e-5, "{first:?}");
        assert!(at(Law::Present).low > first.low, "surfaces count once");
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
        let found = bracket(&measured, mm(20.0), Beyond::Refuse, OVER_PANEL).expect("within twice");
        for i in [0, 200, 400] {
            let one =
                bounds(&[(mm(10.0), stone.values()[i])], mm(20.0), Beyond::Refuse).expect("within twice");
            assert!((found.low.values()[i] - one.low).abs() < 1e-12);
            assert!((found.high.values()[i] - one.high).abs() < 1e-12);
        }
        assert!(!found.extrapolated);
        assert!(bracket(&measured, mm(30.0), Beyond::Allow, OVER_PANEL).is_ok_and(|b| b.extrapolated));
    }
}

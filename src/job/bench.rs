//! What a panel showed on the bench against the limits that the shop's sealed rules set.
//!
//! Darkest over brightest of nine points, three by three, is the measure that contact sheets of displays use as well; which
//! ratio, which colour temperature and which watts are good enough is the shop's own word.

use super::as_built::{Comparison, compare};
use super::case::Case;
use crate::ids::PanelId;
use crate::model::handover::BuiltPanel;
use crate::model::rules::BenchLimits;
use crate::units::trimmed;

/// How a panel's readings stand against the shop's limits.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Bench {
    /// What was not read, each with the option that records it.
    pub unread: Vec<(&'static str, &'static str)>,
    /// What lies within the limits, in words.
    pub within: Vec<String>,
    /// What lies outside them, in words.
    pub outside: Vec<String>,
}

impl Bench {
    fn hold(&mut self, fits: bool, what: String) {
        if fits { self.within.push(what) } else { self.outside.push(what) }
    }

    /// In lines: what is accepted, what is outside, what was not read.
    #[must_use]
    pub(crate) fn in_words(&self) -> Vec<String> {
        let unread: Vec<String> = self.unread.iter().map(|(what, _)| (*what).to_owned()).collect();
        [("accept", &self.within), ("OUTSIDE", &self.outside), ("not read", &unread)]
            .into_iter()
            .filter(|(_, all)| !all.is_empty())
            .map(|(head, all)| format!("{head}: {}", all.join(", ")))
            .collect()
    }
}

/// The darkest over the brightest of some readings; none where there are none, or no light was read.
#[must_use]
pub(crate) fn evenness(built: &BuiltPanel) -> Option<f64> {
    let lux = built.nine_points_lx.iter().map(|l| l.get());
    let (least, most) = lux.fold((f64::INFINITY, 0.0_f64), |(least, most), l| (least.min(l), most.max(l)));
    (most > 0.0).then(|| least / most)
}

/// Holds the readings of a panel, of every piece where several are alike, against the shop's limits; none where the shop sets
/// none, or nothing is recorded.
#[must_use]
pub(crate) fn judge(case: &Case<'_>, id: &PanelId) -> Option<Bench> {
    let limits = case.shop.rules.bench.as_ref()?;
    let pieces: Vec<Comparison> =
        compare(case, case.job()).into_iter().filter(|piece| piece.panel == *id).collect();
    let built = case.project.as_built.iter().flat_map(|b| &b.panels).filter(|p| p.id == *id);
    let mut all = Bench::default();
    for (built, compared) in built.zip(&pieces) {
        let bench = of_piece(limits, chosen_cct(case, id), built, compared);
        let named = |what: String| match pieces.len() {
            1 => what,
            _ => format!("{}: {what}", built.serial),
        };
        all.within.extend(bench.within.into_iter().map(named));
        all.outside.extend(bench.outside.into_iter().map(named));
        let unread: Vec<_> = bench.unread.into_iter().filter(|one| !all.unread.contains(one)).collect();
        all.unread.extend(unread);
    }
    (!pieces.is_empty()).then_some(all)
}

fn of_piece(
    limits: &BenchLimits,
    chosen_cct: Option<u32>,
    built: &BuiltPanel,
    compared: &Comparison,
) -> Bench {
    let mut bench = Bench::default();
    // A reading of exactly the limit is within it, whatever its last binary digit.
    if let Some(pct) = compared.deviation_pct() {
        let limit = limits.watts_within_pct;
        let what = format!("{pct:+.1} % of the watts worked out (limit {} %)", trimmed(limit, 1));
        bench.hold(pct.abs() <= limit + 1e-9, what);
    }
    match (chosen_cct, built.measured_cct_k) {
        (Some(chosen), Some(read)) => bench.hold(
            chosen.abs_diff(read) <= limits.cct_within_k,
            format!("{read} K where {chosen} K is chosen (limit {} K off)", limits.cct_within_k),
        ),
        (Some(_), None) => bench.unread.push(("the colour temperature", "--cct …")),
        (None, _) => {}
    }
    match evenness(built) {
        Some(ratio) => bench.hold(
            ratio >= limits.least_evenness - 1e-9,
            format!(
                "darkest ÷ brightest {} over nine points (limit {})",
                trimmed(ratio, 2),
                trimmed(limits.least_evenness, 2)
            ),
        ),
        None => bench.unread.push(("nine points of the lit face in lux", "--nine-points …")),
    }
    photo(limits, built, &mut bench);
    bench
}

fn photo(limits: &BenchLimits, built: &BuiltPanel, bench: &mut Bench) {
    match (&built.photo, limits.photo) {
        (None, true) => bench.unread.push(("a photo of it lit", "--photo FILE")),
        (Some(_), true) => bench.within.push("photo taken".into()),
        (_, false) => {}
    }
}

fn chosen_cct(case: &Case<'_>, id: &PanelId) -> Option<u32> {
    case.project.panels.get(id)?.light.as_ref()?.cct_k
}

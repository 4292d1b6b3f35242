//! What was seen on a stone: the trials of a job held against what was chosen.

use super::case::Case;
use crate::model::panel::Panel;

/// The trial that shows a colour temperature on a panel's stone, in words; none where it was never seen.
#[must_use]
pub(crate) fn tried(case: &Case<'_>, panel: &Panel, cct: u32) -> Option<String> {
    let within = case.shop.rules.tried_within_k;
    case.project
        .trials
        .values()
        .filter(|t| t.swatch == panel.swatch)
        .filter(|t| case.project.requests.get(&t.request).is_some_and(|r| r.received.is_some()))
        .filter(|t| panel.face.is_none_or(|face| t.face == face))
        .find(|t| t.cct_k.is_some_and(|tried| tried.abs_diff(cct) <= within))
        .map(|t| format!("{cct} K, {} face, was tried on {} (trial {})", t.face, panel.swatch, t.id))
}

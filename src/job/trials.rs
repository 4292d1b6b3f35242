//! What was seen on a stone: the trials of a job held against what was chosen.

use super::case::Case;
use crate::light::thickness::is_one_piece;
use crate::model::earlier_trial::EarlierTrial;
use crate::model::panel::Panel;
use crate::model::swatch::Swatch;

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
        .or_else(|| tried_earlier(case, panel))
}

/// The trial of an earlier job that shows what was chosen for a panel, in words.
fn tried_earlier(case: &Case<'_>, panel: &Panel) -> Option<String> {
    let earlier = panel.no_test_panel.as_ref()?.earlier.as_ref()?;
    let fits = differs(earlier, case.project.stone_of(panel)?).is_none()
        && shows(earlier, panel, case.shop.rules.tried_within_k);
    fits.then(|| {
        format!(
            "{} K, {} face, was tried on {} in an earlier job (trial {} of {})",
            earlier.cct_k, earlier.face, panel.swatch, earlier.trial, earlier.project
        )
    })
}

/// What keeps a trial of an earlier job from being one of this stone; none where it is one: the same stone by name, of the
/// same lot and thickness.
#[must_use]
pub(crate) fn differs(earlier: &EarlierTrial, stone: &Swatch) -> Option<String> {
    let plain = |text: &str| text.trim().to_lowercase();
    let lot = stone.slab.lot.as_deref();
    if plain(&earlier.stone) != plain(&stone.stone) {
        Some(format!("it is of {}, and this is {}", earlier.stone, stone.stone))
    } else if lot.is_none_or(|lot| plain(lot) != plain(&earlier.lot)) {
        let here =
            lot.map_or_else(|| "none is recorded here".to_owned(), |lot| format!("here it is “{lot}”"));
        Some(format!("its lot is “{}”, and {here}", earlier.lot))
    } else if !is_one_piece(earlier.slab_mm, stone.slab.thickness_mm) {
        Some(format!("its slab is {} thick, and this is {}", earlier.slab_mm, stone.slab.thickness_mm))
    } else {
        None
    }
}

/// True where a trial of an earlier job shows everything that is chosen for a panel already: kind of light, colour
/// temperature and face.
#[must_use]
pub(crate) fn shows(earlier: &EarlierTrial, panel: &Panel, within_k: u32) -> bool {
    panel.light.as_ref().is_none_or(|light| {
        light.kind == earlier.light && light.cct_k.is_none_or(|k| k.abs_diff(earlier.cct_k) <= within_k)
    }) && panel.face.is_none_or(|face| face == earlier.face)
}

//! Into rendering: over the chosen light and in its own room the stone is as bright beside its surroundings as the shop
//! wants, or the client has signed that so soft a light is wanted.
//!
//! Judged only where the shop's rules ask somebody for that waiver, and where stone, light and room are known well
//! enough to tell; a book whose rules do not ask has the warning `dim` instead. Luminance of a matt surface:
//! illuminance times reflectance over π. What ratio is wanted is the shop's own word.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::{Finding, State};
use crate::ids::PanelId;
use crate::job::brightness::{Dim, dim, of_panel};
use crate::job::case::Case;
use crate::light::thickness::Law;
use crate::model::panel::Panel;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};
use crate::units::trimmed;

/// The format of books since which the stone's surfaces count at a thickness that was not measured.
const SURFACES_SINCE: u32 = 3;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "bright-enough",
    gate: Stage::Rendering,
    since: 1,
    reason: "a stone that is not brighter than its room looks unlit: it must be bright enough by its own \
        readings, or the client signs that a soft light is wanted",
    check,
};

/// True where the shop's rules ask somebody to sign for a stone that is dim.
pub(in crate::gates) fn asked(case: &Case<'_>, id: &PanelId) -> bool {
    case.shop.rules.needed(&waiver(id)).next().is_some()
}

/// True where a panel was bright enough by the law of before.
fn was_bright(case: &Case<'_>, id: &PanelId, panel: &Panel) -> bool {
    dim(case, id, panel, Law::First).is_none()
}

fn waiver(id: &PanelId) -> Subject {
    Subject::topic(View::Waiver, Topic::Dim, Some(id))
}

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (id, panel) in case.panels().filter(|(id, _)| asked(case, id)) {
        let Some(dim) = dim(case, id, panel, Law::Present) else {
            findings.extend(bright(case, id, panel));
            continue;
        };
        let since = if was_bright(case, id, panel) { SURFACES_SINCE } else { REQUIREMENT.since };
        let what = in_words(id, panel, &dim);
        let mut found = approval::or_waived(case, &REQUIREMENT, &waiver(id), &what);
        for open in found.iter_mut().filter(|finding| finding.state != State::Met) {
            open.since = open.since.max(since);
        }
        findings.extend(found);
    }
    findings
}

/// What is met where the stone is bright enough; nothing where that cannot be told.
fn bright(case: &Case<'_>, id: &PanelId, panel: &Panel) -> Option<Finding> {
    let least = case.shop.rules.least_luminance_ratio;
    let found = of_panel(case, id, panel, case.project.stone_of(panel)?)?;
    Some(REQUIREMENT.met(format!(
        "{} for panel {id} is {} times as bright as its surroundings or more; the shop wants {}",
        panel.swatch,
        trimmed(found.ratio()[0], 1),
        trimmed(least, 2)
    )))
}

fn in_words(id: &PanelId, panel: &Panel, dim: &Dim) -> String {
    let found = &dim.found;
    let [low, high] = found.luminance_cd_m2.map(|l| trimmed(l, 1));
    let luminance = if low == high { low } else { format!("{low} to {high}") };
    let (how, fix) = if dim.is_certain() {
        (
            "will be only",
            "take a brighter tape, more lit edges, the clear face or thinner stone, or sign its waiver",
        )
    } else {
        (
            "may be only",
            "read bare and through at the slab's own thickness, take more light, or sign its waiver",
        )
    };
    format!(
        "{} for panel {id} {how} {} times as bright as its surroundings ({luminance} cd/m² against {}), and the shop \
         wants {}: {fix}",
        panel.swatch,
        dim.ratio_in_words(),
        trimmed(found.room_cd_m2, 1),
        trimmed(dim.least, 2)
    )
}

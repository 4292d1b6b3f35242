//! Into sampling: how light the room is where the stone goes, or its waiver is signed.
//!
//! Judged only where the shop's sealed rules ask it. Asked before the first test panel, since it decides which light is tried.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::Case;
use crate::model::rules::Ask;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};
use crate::units::trimmed;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "room-light-known",
    gate: Stage::Sampling,
    since: 1,
    reason: "a stone looks lit beside its room: how much light it needs, and which test panel shows it, follow from the light \
        that is there",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    if !case.shop.rules.asks.contains(&Ask::RoomLight) {
        return Vec::new();
    }
    if let Some(lux) = case.project.project.site.ambient_lx {
        return vec![REQUIREMENT.met(format!("the room has {} lx around the stone", trimmed(lux.get(), 0)))];
    }
    let what = format!(
        "nobody recorded how light the room is: underlit project change {} --ambient-lx LUX, or sign the waiver",
        case.id()
    );
    let waiver = Subject::topic(View::Waiver, Topic::RoomLightUnknown, None);
    approval::or_waived(case, &REQUIREMENT, &waiver, &what)
}

//! Into released: a panel that people walk on has a load, somebody who carries it, a slip class and an engineer's word.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::panel::Position;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement. Only records that call a panel a floor are asked, which none did before it was there.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "floor-answered",
    gate: Stage::Released,
    since: 1,
    reason: "a floor that breaks or is slippery hurts people: underlit computes neither, so a structural engineer's \
        calculation and a tested slip class are named before anything is built; the local code decides",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter(|(_, panel)| panel.position == Some(Position::Underfoot))
        .map(|(id, panel)| match &panel.floor {
            Some(floor) => REQUIREMENT.met(format!("panel {id} is a floor: {}", floor.in_words())),
            None => REQUIREMENT.missing(
                case,
                format!(
                    "panel {id} is walked on, and nobody has recorded the load, who carries it, the slip class and \
                     whose calculation says so"
                ),
                &[Role::Engineer],
                format!(
                    "underlit panel change {} {id} --floor-load … --floor-carried-by … --floor-slip … \
                     --floor-calculation …",
                    case.id()
                ),
            ),
        })
        .collect()
}

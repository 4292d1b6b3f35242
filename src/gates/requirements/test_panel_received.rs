//! Into selection: the test panels that a choice needs have arrived, for every stone in use.
//!
//! Those that have arrived must by themselves show enough to choose from; one that is still on its way, or
//! was lost, holds nothing up where the others do.

use super::test_panel_requested::{Lack, lacking, requests_for};
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::ids::SwatchId;
use crate::job::case::Case;
use crate::model::request::Request;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "test-panel-received",
    gate: Stage::Selection,
    since: 1,
    reason: "the test panel must have arrived before a stone can be tried over it",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.project.stones_to_try().filter_map(|stone| judge(case, stone)).collect()
}

/// None where none was asked for: that is told by the requirement that asks for it.
fn judge(case: &Case<'_>, stone: &SwatchId) -> Option<Finding> {
    let (here, away): (Vec<&Request>, Vec<&Request>) =
        requests_for(case, stone).into_iter().partition(|r| r.received.is_some());
    let away: Vec<&Request> = away.into_iter().filter(|r| !r.never_comes()).collect();
    let Some(lack) = lacking(case, stone, &here) else {
        let names: Vec<&str> = here.iter().map(|r| r.id.as_str()).collect();
        return Some(REQUIREMENT.met(format!("test panel {} for {stone} was received", names.join(", "))));
    };
    // The one that is furthest on its way is the one to ask after; of equal ones, the one that left first.
    let next = away.iter().min_by_key(|r| (r.sent.is_none(), r.sent, r.asked))?;
    let waiting: Vec<String> = away
        .iter()
        .map(|r| match r.sent {
            Some(date) => format!("{} was sent on {date} and has not been received", r.id),
            None => format!("{} was asked for on {} and has not been sent", r.id, r.asked),
        })
        .collect();
    let short = match lack {
        Lack::Everything => String::new(),
        Lack::Ccts(shown) => format!(
            "; what has arrived shows {}, and a choice needs at least two",
            crate::words::counted(shown, "colour temperature", "colour temperatures")
        ),
        Lack::Faces(faces) => {
            format!("; what has arrived does not show the {faces} face, which is in question")
        }
    };
    let (role, verb) = if next.sent.is_some() { (Role::Rep, "received") } else { (Role::Fabricator, "sent") };
    let what = format!("of the test panels for {stone}, {}{short}", waiting.join(" and "));
    Some(REQUIREMENT.missing(
        case,
        what,
        &[role],
        format!("underlit request {verb} {} {}", case.id(), next.id),
    ))
}

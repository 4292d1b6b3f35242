//! Into rendering: where more than two edges light a face that is not square, the client has signed that it
//! will look uneven. Common practice, no source: three or four lit edges only on a square.
//!
//! A book whose sealed rules do not ask what rests on the choice before it asks this into released, as all did.

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::rules::Ask;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};
use crate::shape::ShapeClass;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "uneven-light-acknowledged",
    gate: Stage::Rendering,
    since: 1,
    reason: "three or four lit edges on an oblong light it unevenly; two opposite edges light it better (common practice, no source)",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let early = case.shop.rules.asks.contains(&Ask::BeforeChoice);
    let gate = if early { REQUIREMENT.gate } else { Stage::Released };
    case.panels()
        .filter(|(id, panel)| {
            panel.lit_edges.len() > 2
                && case.project.drawing_of(id).is_some_and(|d| d.figures.shape == ShapeClass::Rectangle)
        })
        .flat_map(|(id, _)| {
            let subject = Subject::topic(View::Acknowledgement, Topic::UnevenLight, Some(id));
            approval::findings(case, &REQUIREMENT, &subject)
        })
        .map(|finding| Finding { gate, ..finding })
        .collect()
}

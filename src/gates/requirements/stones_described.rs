//! Into sampling: every stone that a panel uses is described well enough to be tried.
//!
//! Material, tone, texture and both thicknesses are fields that the schema demands of a swatch; what is
//! left to judge here is that each panel's stone has such a swatch.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "stones-described",
    gate: Stage::Sampling,
    since: 1,
    reason: "a test panel is made for a stone: its material, tone, texture and the thickness of swatch and slab decide what is tried",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    if case.project.swatches.is_empty() {
        let command = format!(
            "underlit swatch add {} NAME --stone … --material … --tone … --texture … --thickness … --slab-thickness …",
            case.id()
        );
        return vec![REQUIREMENT.missing(case, "no swatch is described", &[Role::Rep], command)];
    }
    let mut findings: Vec<Finding> = case
        .panels()
        .filter(|(_, panel)| !case.project.swatches.contains_key(&panel.swatch))
        .map(|(id, panel)| {
            let what = format!("panel {id} lies under swatch {}, which is not described", panel.swatch);
            let command = format!("underlit swatch add {} {} --stone … --material … --tone … --texture … --thickness … --slab-thickness …", case.id(), panel.swatch);
            REQUIREMENT.missing(case, what, &[Role::Rep], command)
        })
        .collect();
    if findings.is_empty() {
        findings.push(REQUIREMENT.met(format!(
            "{} described",
            crate::words::counted(case.project.swatches.len(), "stone is", "stones are")
        )));
    }
    findings
}

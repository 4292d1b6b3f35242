//! Into released: every outline is closed, clean and readable, and is the file that its panel names.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "outline-exact",
    gate: Stage::Released,
    since: 1,
    reason: "the panel is cut from the outline: an open, crossing or replaced one would be cut wrong",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .map(|(id, panel)| {
            let command = format!("underlit panel change {} {id} --outline FILE", case.id());
            let missing =
                |what: String| REQUIREMENT.missing(case, what, &[Role::Designer, Role::Rep], command.clone());
            match case.project.drawings.get(id) {
                None => missing(format!("panel {id} has no outline")),
                Some(Err(fault)) => {
                    missing(format!("the outline of panel {id} cannot be built from: {}", fault.message))
                }
                Some(Ok(drawing)) if drawing.digest != panel.outline.sha256 => missing(format!(
                    "the outline file {} is not the one that panel {id} names: its content changed",
                    panel.outline.file
                )),
                Some(Ok(drawing))
                    if panel.etching_depth_mm.is_some() && drawing.outline.etchings.is_empty() =>
                {
                    missing(format!(
                        "panel {id} is etched, and its outline has no etched line: draw it on the layer of the \
                         etching, letters as outlines"
                    ))
                }
                Some(Ok(drawing)) => {
                    let unknown: Vec<String> = panel
                        .lit_edges
                        .iter()
                        .filter(|n| !drawing.figures.edges.iter().any(|e| e.number == **n as usize))
                        .map(ToString::to_string)
                        .collect();
                    if unknown.is_empty() {
                        REQUIREMENT.met(format!("the outline of panel {id} is exact and closed"))
                    } else {
                        missing(format!(
                            "panel {id} lights edge {}, which its outline does not have",
                            unknown.join(", ")
                        ))
                    }
                }
            }
        })
        .collect()
}

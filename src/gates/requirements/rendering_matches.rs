//! Into released: every shape that needs a rendering has one, drawn from the very outline the panel names.

use crate::gates::case::{Case, Requirement};
use crate::gates::facts;
use crate::gates::verdict::Finding;
use crate::model::id::PanelId;
use crate::model::panel::Panel;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "rendering-matches",
    gate: Stage::Released,
    reason: "a shape that is not a circle, square, rectangle or triangle cannot be told by its measures alone; it is built from an exact drawing (common practice, no source)",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter(|(id, _)| super::needs_rendering(case, id))
        .map(|(id, panel)| judge(case, id, panel))
        .collect()
}

fn judge(case: &Case<'_>, id: &PanelId, panel: &Panel) -> Finding {
    let command = format!("underlit draw {} {id}", case.id());
    let missing = |what: String| {
        REQUIREMENT.missing(case, what, &[Role::Designer, Role::Rep, Role::Engineer], command.clone())
    };
    let Some(drawn) = case.project.renderings.get(id) else {
        return missing(format!("panel {id} has no rendering"));
    };
    let differs = |what: &str| missing(format!("the rendering of panel {id} was drawn for {what}"));
    if drawn.outline_sha256 != panel.outline.sha256 {
        return differs("an earlier outline");
    }
    if drawn.shows_sha256 != facts::shown_on_sheet(case, panel) {
        return differs("another stone, light, face, mount or title");
    }
    if drawn.lit_edges != panel.lit_edges {
        return differs("other lit edges");
    }
    if drawn.seams != panel.seams {
        return differs("other seams");
    }
    if case.project.stone_of(panel).is_some_and(|s| s.slab.thickness_mm != drawn.stone_thickness_mm) {
        return differs("another thickness of stone");
    }
    for file in [&drawn.sheet, &drawn.pdf] {
        let path = format!("renderings/{id}/{}", file.file);
        match case.project.files.get(&path) {
            None => return missing(format!("the sheet {path} is not there")),
            Some(digest) if *digest != file.sha256 => {
                return missing(format!(
                    "the sheet {path} is not the one that was drawn: its content changed"
                ));
            }
            Some(_) => {}
        }
    }
    REQUIREMENT.met(format!("the rendering of panel {id}, revision {}, matches its outline", drawn.revision))
}

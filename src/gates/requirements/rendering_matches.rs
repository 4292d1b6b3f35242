//! Into released: every shape that needs a rendering has one, drawn from the very outline the panel names.

use crate::gates::facts;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::ids::PanelId;
use crate::job::case::Case;
use crate::model::panel::Panel;
use crate::model::rendering::Rendering;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "rendering-matches",
    gate: Stage::Released,
    since: 1,
    reason: "a shape that is not a circle, square, rectangle or triangle, and a panel that is bent or etched, \
        cannot be described by dimensions alone; it is built from an exact drawing (common practice, no \
        source)",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .filter(|(id, _)| super::needs_rendering(case, id))
        .map(|(id, panel)| judge(case, id, panel))
        .collect()
}

fn judge(case: &Case<'_>, id: &PanelId, panel: &Panel) -> Finding {
    let flaw = match case.project.renderings.get(id) {
        None => Some(format!("panel {id} has no rendering")),
        Some(drawn) => flaw(case, id, panel, drawn),
    };
    if let Some(what) = flaw {
        let command = format!("underlit draw {} {id}", case.id());
        return REQUIREMENT.missing(case, what, &[Role::Designer, Role::Rep, Role::Engineer], command);
    }
    let revision = case.project.renderings.get(id).map_or(0, |d| d.revision);
    REQUIREMENT.met(format!("the rendering of panel {id}, revision {revision}, matches its outline"))
}

/// What is wrong with a rendering that is there; none where it shows the panel as it is now.
pub(super) fn flaw(case: &Case<'_>, id: &PanelId, panel: &Panel, drawn: &Rendering) -> Option<String> {
    let other = if drawn.panel != *id {
        Some(format!("panel {}", drawn.panel))
    } else if drawn.outline_sha256 != panel.outline.sha256 {
        Some("an earlier outline".to_owned())
    } else if !facts::sheet_fits(case, panel, drawn) {
        Some("another stone, light, face, mount, place, position or title".to_owned())
    } else if drawn.lit_edges != panel.lit_edges {
        Some("other lit edges".to_owned())
    } else if drawn.seams != panel.seams {
        Some("other seams".to_owned())
    } else if case.project.stone_of(panel).is_some_and(|s| s.slab.thickness_mm != drawn.stone_thickness_mm) {
        Some("another thickness of stone".to_owned())
    } else if !measures_agree(case, id, drawn) {
        Some("other dimensions than its outline has".to_owned())
    } else {
        None
    };
    if let Some(other) = other {
        return Some(format!("the rendering of panel {id} was drawn for {other}"));
    }
    if let Some(unnamed) = unnamed_file(case, id, drawn) {
        return Some(format!("the file {unnamed} is not one that its manifest names, so nobody signs it"));
    }
    drawn.files().find_map(|file| {
        let path = format!("renderings/{id}/{}", file.file);
        match case.project.files.get(&path) {
            None => Some(format!("the sheet {path} is missing")),
            Some(digest) if *digest != file.sha256 => {
                Some(format!("the sheet {path} is not the one that was drawn: its content changed"))
            }
            Some(_) => None,
        }
    })
}

/// A file that lies with a rendering and is named in its manifest nowhere.
fn unnamed_file<'c>(case: &Case<'c>, id: &PanelId, drawn: &Rendering) -> Option<&'c str> {
    let folder = format!("renderings/{id}/");
    case.project.files.keys().find_map(|path| {
        let name = path.strip_prefix(&folder)?;
        let named = drawn.sheets().chain([&drawn.pdf]).any(|file| file.file.as_str() == name);
        (!named).then_some(path.as_str())
    })
}

/// How far a figure of a manifest may be from the one measured now: a figure is kept to more digits than that.
const SAME_FIGURE: f64 = 1e-6;

/// True where the manifest states the measures that the outline has; also where the outline cannot be measured,
/// which another requirement tells.
fn measures_agree(case: &Case<'_>, id: &PanelId, drawn: &Rendering) -> bool {
    let Some(drawing) = case.project.drawing_of(id) else { return true };
    let figures = &drawing.figures;
    drawn.cutouts as usize == figures.cutouts
        && [
            (drawn.width_mm.0, figures.width_mm),
            (drawn.height_mm.0, figures.height_mm),
            (drawn.perimeter_mm.0, figures.perimeter_mm),
            (drawn.area_mm2, figures.area_mm2),
        ]
        .iter()
        .all(|(stated, measured)| (stated - measured).abs() <= SAME_FIGURE * measured.abs().max(1.0))
}

//! What a sheet is drawn from: the panel's own facts, and what is printed beside them.

use super::sheet_rows;
use super::surroundings::Surroundings;
use crate::fault::{Class, Fault, Outcome};
use crate::ids::PanelId;
use crate::job::plan::pieces;
use crate::job::wording::Wording;
use crate::job::{Case, cautions};
use crate::model::panel::Panel;
use crate::model::project::Project;
use crate::model::rendering::{Printed, PrintedApproval};
use crate::model::roster::Role;
use crate::model::snapshot::Drawing;
use crate::model::statement::{Subject, View};
use crate::model::swatch::Swatch;
use crate::shape::{Mark, MarkKind, Outline, Piece, Point};
use crate::sheets::{self, Approval, SheetError, SheetInput};
use crate::units::Millimetres;

/// The tolerance that a sheet states for what is cut. Common practice, no source.
const TOLERANCE: &str = "±0.5 mm (±0.02 in)";
/// What the sheets' room refuses, as a fault.
pub(crate) fn sheet_fault(error: &SheetError) -> Fault {
    let class = if error.is_bug() { Class::Bug } else { Class::Data };
    Fault::new(class, error.code(), error.to_string()).fix(error.remedy())
}

/// Everything that stands on the sheet, as it is today.
pub(crate) fn input(
    case: &Case<'_>,
    id: &PanelId,
    panel: &Panel,
    drawing: &Drawing,
    revision: u32,
    creator: &str,
    around: &Surroundings<'_>,
) -> Outcome<SheetInput> {
    let printed = printed(case, id, panel, drawing, creator, around);
    sheet_input(&case.project.project, case.project.stone_of(panel), panel, drawing, revision, &printed)
}

/// What stands on the sheet beside the panel's own facts, as it is today.
pub(crate) fn printed(
    case: &Case<'_>,
    id: &PanelId,
    panel: &Panel,
    drawing: &Drawing,
    creator: &str,
    around: &Surroundings<'_>,
) -> Printed {
    let roster = &case.shop.roster;
    let approvals = case
        .shop
        .rules
        .needed(&Subject::panel(View::Rendering, id))
        .map(|rule| PrintedApproval {
            role: rule.role.to_string(),
            name: case.people_for(&[rule.role]).first().map(|p| roster.name_of(p)),
        })
        .collect();
    // To the micrometre, so that the file says exactly where.
    let mm = |mm: f64| Millimetres((mm * 1000.0).round() / 1000.0);
    Printed {
        date: around.today().to_string(),
        creator: creator.to_owned(),
        shop: case.shop.book.shop.clone(),
        client: roster.name_of(&case.project.project.people.client),
        approvals,
        notes: notes(case, panel),
        cautions: cautions::bearing_on(case, id, Wording::PRESENT)
            .iter()
            .map(|c| c.in_words(Wording::PRESENT))
            .collect(),
        tolerance: TOLERANCE.into(),
        units: case.shop.book.units,
        control: panel.control.as_ref().map(|id| sheet_rows::control(case, id.as_str())),
        pieces_mm: piece_places(case, panel, drawing).iter().map(|p| [mm(p.x), mm(p.y)]).collect(),
    }
}

/// What a sheet is drawn from: the panel's facts and what is printed beside them.
///
/// # Errors
/// `nothing-to-draw`, where light or face are not chosen.
pub fn sheet_input(
    project: &Project,
    stone: Option<&Swatch>,
    panel: &Panel,
    drawing: &Drawing,
    revision: u32,
    printed: &Printed,
) -> Outcome<SheetInput> {
    let id = &panel.id;
    let (Some(light), Some(face)) = (&panel.light, panel.face) else {
        return Err(Box::new(
            Fault::usage(
                "nothing-to-draw",
                format!("light and face of panel {id} are not chosen, and the sheet shows them"),
            )
            .fix(format!("choose first: underlit choose {} {id} --light … --cct … --face …", project.id)),
        ));
    };
    let approvals = printed
        .approvals
        .iter()
        .map(|a| Approval { role: a.role.clone(), name: a.name.clone().unwrap_or_default() })
        .collect();
    let point = |p: &[Millimetres; 2]| Point { x: p[0].0, y: p[1].0 };
    Ok(SheetInput {
        legal_owner: printed.shop.clone(),
        identification: format!("{} / {id}", project.id),
        date_of_issue: printed.date.clone(),
        sheet_number: 1,
        sheet_count: 1,
        title: panel.title.clone(),
        approvals,
        creator: printed.creator.clone(),
        document_type: "Rendering".into(),
        revision: revision.to_string(),
        // True before and after: whether it was approved is said by the signatures, and not by the sheet.
        status: "Valid as signed".into(),
        language: "en".into(),
        project: project.title.clone(),
        client: printed.client.clone(),
        stone: stone.map_or_else(|| panel.swatch.to_string(), |s| s.stone.clone()),
        stone_thickness: stone.map(|s| s.slab.thickness_mm),
        light: light.kind,
        cct: light.white_in_words(),
        face,
        lit_edges: panel.lit_edges.iter().map(|n| *n as usize).collect(),
        seams: panel.seams.iter().map(|s| (point(&s.from_mm), point(&s.to_mm))).collect(),
        ribs: panel.ribs.iter().map(|s| (point(&s.from_mm), point(&s.to_mm))).collect(),
        pieces: printed.pieces_mm.iter().map(point).collect(),
        bend: panel.bent.clone(),
        mount: panel.mount.map_or_else(String::new, |m| m.to_string()),
        notes: printed.notes.clone(),
        cautions: printed.cautions.clone(),
        tolerance: printed.tolerance.clone(),
        units: printed.units,
        outline_digest: drawing.digest,
        marker: None,
        paper: sheets::usual_paper(printed.units),
        more: sheet_rows::rows(printed.units, printed.control.as_deref(), panel, drawing),
        view: sheet_rows::view_name(panel).into(),
        outline: with_lead(panel, drawing),
        figures: drawing.figures.clone(),
    })
}

/// The outline with a mark where the lead leaves, where the record names the edge and the drawing has no such mark.
fn with_lead(panel: &Panel, drawing: &Drawing) -> Outline {
    let mut outline = drawing.outline.clone();
    let marked = outline.marks.iter().any(|mark| mark.kind == MarkKind::CableExit);
    let edge = panel.lead_edge.and_then(|n| drawing.figures.edges.iter().find(|e| e.number == n as usize));
    if let Some(edge) = edge.filter(|_| !marked) {
        let along = panel.lead_at_mm.map_or(edge.length_mm / 2.0, |at| at.0.clamp(0.0, edge.length_mm));
        if let Some((at, way)) = edge.at(along) {
            // Counter-clockwise, so that out is to the right of the way.
            let out = way.left() * -1.0;
            let heading_deg = Some(out.y.atan2(out.x).to_degrees().round());
            outline.marks.push(Mark { kind: MarkKind::CableExit, at, text: None, heading_deg });
        }
    }
    outline
}

/// Where the pieces of a split panel have their numbers, in the order of their cut files.
fn piece_places(case: &Case<'_>, panel: &Panel, drawing: &Drawing) -> Vec<Point> {
    if panel.seams.is_empty() {
        return Vec::new();
    }
    let tape = panel.tape.as_ref().and_then(|t| case.shop.lights.get(t.as_str()));
    let split = pieces::settled_by_shop(case.shop, tape, panel, drawing);
    split.map_or_else(Vec::new, |s| s.pieces.iter().map(Piece::inner_point).collect())
}

fn notes(case: &Case<'_>, panel: &Panel) -> Vec<String> {
    let mut notes = vec!["Seen through the stone. Do not scale; the figures govern.".to_owned()];
    if !panel.seams.is_empty() {
        notes.push(format!(
            "Built in {} butted pieces, numbered as their cut files are.",
            pieces::count(panel, case.project.drawing_of(&panel.id))
        ));
    }
    let engineer: Vec<String> =
        case.people_for(&[Role::Engineer]).iter().map(|p| case.shop.roster.name_of(p)).collect();
    if !engineer.is_empty() {
        notes.push(format!(
            "No job is built from this sheet alone: the release of {} governs.",
            engineer.join(" or ")
        ));
    }
    notes
}

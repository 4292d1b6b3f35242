//! Draws the exact rendering of a panel: sheet and manifest, in one commit.

use std::collections::BTreeSet;

use super::desk::Desk;
use super::outline::unknown_panel;
use super::surroundings::Surroundings;
use super::{names_shown, record, redraw, sheet_rows, status};
use crate::fault::{Class, Fault, Outcome};
use crate::gates::plan::pieces;
use crate::gates::wording::Wording;
use crate::gates::{Case, cautions, facts};
use crate::model::attachment::Attachment;
use crate::model::id::{PanelId, ProjectId};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::project::Project;
use crate::model::rendering::{Printed, PrintedApproval, Rendering};
use crate::model::roster::Role;
use crate::model::snapshot::{Drawing, SignOff};
use crate::model::statement::{Subject, View};
use crate::model::swatch::Swatch;
use crate::shape::{Piece, Point};
use crate::sheets::{self, Approval, Sheet, SheetError, SheetInput};
use crate::store::{Changes, read, write};
use crate::units::Millimetres;

/// The tolerance that a sheet states for what is cut. Common practice, no source.
const TOLERANCE: &str = "±0.5 mm (±0.02 in)";

/// A rendering that was drawn.
#[derive(Debug)]
pub struct Drawn {
    /// What it shows.
    pub manifest: Rendering,
    /// Every sheet as SVG, as it lies in the book.
    pub svgs: Vec<String>,
    /// What to know about the sheet.
    pub remarks: Vec<String>,
    /// False where the sheet that is there already shows the same.
    pub changed: bool,
}

/// Draws a panel. Where the sheet that is there shows the same but for a name of before, it stays while somebody's
/// signature stands on it, unless `names` asks for today's.
///
/// # Errors
/// `unknown-panel`, `nothing-to-draw`, and whatever is wrong with the outline.
pub fn draw(desk: &Desk<'_>, project: &ProjectId, id: &PanelId, names: bool) -> Result<Drawn, Vec<Fault>> {
    let snapshot = desk.reading.project(project)?;
    let case = desk.reading.case(&snapshot);
    let Some(panel) = snapshot.panels.get(id) else {
        return Err(vec![unknown_panel(&snapshot, id)]);
    };
    let drawing = match snapshot.drawings.get(id) {
        Some(Ok(drawing)) => drawing,
        Some(Err(fault)) => return Err(vec![fault.clone()]),
        None => return Err(vec![Fault::data("nothing-to-draw", format!("panel {id} has no outline"))]),
    };
    let before = snapshot.renderings.get(id);
    let shows_sha256 = facts::shown_on_sheet(&case, panel);
    let folder = format!("projects/{project}/renderings/{id}");
    let within = format!("renderings/{id}/");
    let filed: BTreeSet<&str> = snapshot.files.keys().filter_map(|path| path.strip_prefix(&within)).collect();
    // A sheet that no manifest names is one that nobody signs.
    let all_named =
        |b: &Rendering| filed.iter().all(|name| b.files().any(|file| file.file.as_str() == *name));
    let up_to_date =
        before.is_some_and(|b| all_named(b) && redraw::is_as_drawn(&desk.reading.book, &snapshot, id));
    if let (true, Some(manifest)) = (up_to_date, before) {
        let svgs = filed_sheets(desk, &folder, manifest)?;
        let before = names_shown::of_before(&case, id, panel, drawing, &svgs, desk.around)?;
        if before.is_empty() || (!names && is_signed(&case, id)) {
            let remarks = before.iter().map(|(then, now)| {
                format!(
                    "the sheet shows {then}, who is {now} on the roster now; it stays as it was signed (with today's names, to be signed again: underlit draw {project} {id} --names)"
                )
            });
            let remarks = remarks.collect();
            return Ok(Drawn { manifest: manifest.clone(), svgs, remarks, changed: false });
        }
    }
    let revision = before.map_or(1, |b| b.revision + 1);
    let author = desk.author()?;
    let printed = printed(&case, id, panel, drawing, &author.name, desk.around);
    let stone = snapshot.stone_of(panel);
    let input = sheet_input(&snapshot.project, stone, panel, drawing, revision, &printed)?;
    let sheet = sheets::draw(&input).map_err(|e| vec![sheet_fault(&e)])?;
    let mut changes = Changes::new();
    let Files { first, further, pdf } = attach(&folder, &sheet, &mut changes)?;
    let figures = &drawing.figures;
    let manifest = Rendering {
        schema: "../../../../schema/rendering.schema.json".into(),
        panel: id.clone(),
        revision,
        outline_sha256: drawing.digest,
        shows_sha256,
        sheet: first,
        further_sheets: further,
        pdf,
        width_mm: Millimetres(figures.width_mm),
        height_mm: Millimetres(figures.height_mm),
        area_mm2: figures.area_mm2,
        perimeter_mm: Millimetres(figures.perimeter_mm),
        cutouts: u32::try_from(figures.cutouts).unwrap_or(u32::MAX),
        lit_edges: panel.lit_edges.clone(),
        seams: panel.seams.clone(),
        stone_thickness_mm: stone.map_or(Millimetres(0.0), |s| s.slab.thickness_mm),
        drawn_with: sheets::drawn_by(),
        printed: Some(printed),
    };
    let path = format!("{folder}/manifest.json");
    let bytes = write::to_bytes(&manifest)?;
    read::check_bytes(&path, Kind::Rendering, &bytes)?;
    changes.put(path, bytes);
    for name in filed.iter().filter(|name| !manifest.files().any(|file| file.file.as_str() == **name)) {
        changes.remove(format!("{folder}/{name}"));
    }
    let message = format!("{project}: draws panel {id}, revision {revision}\n");
    desk.save(&changes, &message)?;
    let svgs = sheet.svgs().map(str::to_owned).collect();
    Ok(Drawn { manifest, svgs, remarks: sheet.remarks, changed: true })
}

/// True where somebody's word on the rendering, or on the build that it is part of, fits it as it is.
fn is_signed(case: &Case<'_>, id: &PanelId) -> bool {
    let rendering = Subject::panel(View::Rendering, id);
    let bears = |about: &Subject| *about == rendering || about.view == View::Release;
    let stands = |signoff: &SignOff| status::standing(case, signoff).0 == "fits";
    case.project.signoffs.iter().any(|s| bears(&s.statement.about) && stands(s))
}

/// The files of a rendering, by what they are.
struct Files {
    first: Attachment,
    further: Vec<Attachment>,
    pdf: Attachment,
}

fn attach(folder: &str, sheet: &Sheet, changes: &mut Changes) -> Outcome<Files> {
    let mut attach = |name: &str, bytes: &[u8]| record::attach_bytes(folder, name, bytes.to_vec(), changes);
    let first = attach("sheet.svg", sheet.svg.as_bytes())?;
    let further = sheet
        .further_svgs
        .iter()
        .zip(2..)
        .map(|(svg, number)| attach(&format!("sheet-{number}.svg"), svg.as_bytes()));
    let further = further.collect::<Outcome<Vec<_>>>()?;
    Ok(Files { first, further, pdf: attach("sheet.pdf", &sheet.pdf)? })
}

/// The sheets of a rendering as they lie in the book.
fn filed_sheets(desk: &Desk<'_>, folder: &str, manifest: &Rendering) -> Outcome<Vec<String>> {
    let text = |sheet: &Attachment| {
        let bytes = read::attached(&desk.reading.book, folder, sheet, "draw it again: underlit draw")?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    };
    manifest.sheets().map(text).collect()
}

/// Every sheet of a rendering as PNG, in order, drawn from the very SVG that is signed.
///
/// # Errors
/// `sheet-export`, where the resolution is not within 20 to 600 dots an inch.
pub fn pictures(drawn: &Drawn, dots_per_inch: f64) -> Outcome<Vec<Vec<u8>>> {
    let picture = |svg: &String| {
        sheets::png(svg, dots_per_inch)
            .map_err(|e| Box::new(Fault::usage(e.code(), e.to_string()).fix(e.remedy())))
    };
    drawn.svgs.iter().map(picture).collect()
}

/// What the sheets' room refuses, as a fault.
pub(super) fn sheet_fault(error: &SheetError) -> Fault {
    let class = if error.is_bug() { Class::Bug } else { Class::Data };
    Fault::new(class, error.code(), error.to_string()).fix(error.remedy())
}

/// Everything that stands on the sheet, as it is today.
pub(super) fn input(
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
pub(super) fn printed(
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
        cct: light.cct_k.map_or_else(String::new, |k| format!("{k} K")),
        face,
        lit_edges: panel.lit_edges.iter().map(|n| *n as usize).collect(),
        seams: panel.seams.iter().map(|s| (point(&s.from_mm), point(&s.to_mm))).collect(),
        pieces: printed.pieces_mm.iter().map(point).collect(),
        mount: panel.mount.map_or_else(String::new, |m| m.to_string()),
        notes: printed.notes.clone(),
        cautions: printed.cautions.clone(),
        tolerance: printed.tolerance.clone(),
        units: printed.units,
        outline_digest: drawing.digest,
        marker: None,
        paper: sheets::usual_paper(printed.units),
        more: sheet_rows::rows(printed.units, printed.control.as_deref(), panel, &drawing.outline),
        view: sheet_rows::view_name(panel).into(),
        outline: drawing.outline.clone(),
        figures: drawing.figures.clone(),
    })
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

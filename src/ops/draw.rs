//! Draws the exact rendering of a panel: sheet and manifest, in one commit.

use std::collections::BTreeSet;

use super::desk::Desk;
use super::outline::unknown_panel;
use super::{names_shown, record};
use crate::fault::{Fault, Outcome};
use crate::gates::facts;
use crate::gates::standing::{Standing, standing};
use crate::ids::{PanelId, ProjectId};
use crate::job::Case;
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::model::rendering::Rendering;
use crate::model::snapshot::SignOff;
use crate::model::statement::{Subject, View};
use crate::sheets::{self, Sheet};
use crate::store::{Changes, read, write};
use crate::trust::redraw;
use crate::trust::sheet_input::{printed, sheet_fault, sheet_input};
use crate::units::Millimetres;

/// A rendering that was drawn.
#[derive(Debug)]
pub(crate) struct Drawn {
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
pub(crate) fn draw(
    desk: &Desk<'_>,
    project: &ProjectId,
    id: &PanelId,
    names: bool,
) -> Result<Drawn, Vec<Fault>> {
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
    let stands = |signoff: &SignOff| standing(case, signoff).0 == Standing::Fits;
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
pub(crate) fn pictures(drawn: &Drawn, dots_per_inch: f64) -> Outcome<Vec<Vec<u8>>> {
    let picture = |svg: &String| {
        sheets::png(svg, dots_per_inch)
            .map_err(|e| Box::new(Fault::usage(e.code(), e.to_string()).fix(e.remedy())))
    };
    drawn.svgs.iter().map(picture).collect()
}

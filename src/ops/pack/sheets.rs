//! The drawing sheets of a pack.

use crate::fault::{Fault, Outcome};
use crate::gates::facts;
use crate::ids::PanelId;
use crate::job::Case;
use crate::model::attachment::Attachment;
use crate::model::rendering::Rendering;
use crate::ops::reading::Reading;
use crate::sheets::pack::SheetPage;
use crate::sheets::{self, SheetInput, drawn_with};
use crate::store::read;
use crate::trust::redraw::refuse_harm;
use crate::trust::sheet_input;
use crate::trust::surroundings::Surroundings;

/// The drawing sheets: those that were drawn and are filed, as they are; for panels without one, a sheet for information, one
/// for all that are alike. Returns them as pages.
pub(super) fn sheet_files(
    reading: &Reading,
    case: &Case<'_>,
    around: &Surroundings<'_>,
    issued: &str,
    files: &mut Vec<(String, Vec<u8>)>,
    left_out: &mut Vec<String>,
) -> Outcome<Vec<SheetPage>> {
    let mut pages = Vec::new();
    let mut unfiled: Vec<Alike<'_>> = Vec::new();
    for (id, panel) in case.panels() {
        let Some(drawing) = case.project.drawing_of(id) else {
            left_out.push(format!("sheet of panel {id}: its outline cannot be read"));
            continue;
        };
        let filed = case
            .project
            .renderings
            .get(id)
            .filter(|r| r.outline_sha256 == drawing.digest && facts::sheet_fits(case, panel, r));
        if let Some(drawn) = filed {
            pages.append(&mut filed_sheets(reading, case, drawn, files)?);
            continue;
        }
        if case.project.renderings.contains_key(id) {
            let draw = format!("underlit draw {} {id}", case.id());
            left_out
                .push(format!("drawn sheet of panel {id}: it shows an earlier state; draw it again: {draw}"));
        }
        match sheet_input::input(case, id, panel, drawing, 0, &drawn_with(), around) {
            Ok(input) => put_with_its_like(&mut unfiled, id, input),
            Err(fault) => left_out.push(format!("sheet of panel {id}: {}", fault.message)),
        }
    }
    for alike in unfiled {
        let first = alike.panels[0];
        let sheet = sheets::draw(&alike.input(issued))
            .map_err(|e| Box::new(Fault::data(e.code(), e.to_string()).fix(e.remedy())))?;
        let size_mm = (sheet.page.area().width(), sheet.page.area().height());
        for (at, svg) in std::iter::once(&sheet.svg).chain(&sheet.further_svgs).enumerate() {
            files.push((sheet_name(first, at, "svg"), svg.clone().into_bytes()));
            pages.push(SheetPage { svg: svg.clone(), size_mm });
        }
        files.push((sheet_name(first, 0, "pdf"), sheet.pdf));
    }
    Ok(pages)
}

/// Panels whose sheets for information show the same but for their names.
struct Alike<'p> {
    panels: Vec<&'p PanelId>,
    /// The sheet of the first of them.
    first: SheetInput,
    /// The same without its name.
    shared: SheetInput,
}

/// Puts the sheet of a panel with those that show the same.
fn put_with_its_like<'p>(all: &mut Vec<Alike<'p>>, id: &'p PanelId, first: SheetInput) {
    let of_each = |text: &String| text.replace(&format!("panel {id}"), "each panel");
    let shared = SheetInput {
        title: String::new(),
        identification: String::new(),
        cautions: first.cautions.iter().map(of_each).collect(),
        ..first.clone()
    };
    match all.iter_mut().find(|other| other.shared == shared) {
        Some(alike) => alike.panels.push(id),
        None => all.push(Alike { panels: vec![id], first, shared }),
    }
}

impl Alike<'_> {
    /// What their sheet shows: that of the first, or what is of each of them with the names of all.
    fn input(self, issued: &str) -> SheetInput {
        let Alike { panels, first, shared } = self;
        let mut input = SheetInput {
            date_of_issue: issued.to_owned(),
            approvals: Vec::new(),
            revision: String::new(),
            document_type: "Panel sheet".into(),
            status: "For information".into(),
            ..first
        };
        let others = panels.len() - 1;
        if others > 0 {
            let names: Vec<&str> = panels.iter().map(|id| id.as_str()).collect();
            input.title = format!("{} and {others} alike", input.title);
            input
                .notes
                .insert(0, format!("One sheet for {} panels alike: {}.", others + 1, names.join(", ")));
            input.cautions = shared.cautions;
        }
        input
    }
}

fn sheet_name(id: &PanelId, at: usize, ending: &str) -> String {
    if at == 0 { format!("sheets/{id}.{ending}") } else { format!("sheets/{id}-{}.{ending}", at + 1) }
}

fn filed_sheets(
    reading: &Reading,
    case: &Case<'_>,
    drawn: &Rendering,
    files: &mut Vec<(String, Vec<u8>)>,
) -> Outcome<Vec<SheetPage>> {
    let id = &drawn.panel;
    let mut pages = Vec::new();
    for (at, sheet) in drawn.sheets().enumerate() {
        let bytes = filed(reading, case, id, sheet)?;
        let svg = String::from_utf8_lossy(&bytes).into_owned();
        if let Some(size_mm) = svg_size_mm(&svg) {
            pages.push(SheetPage { svg, size_mm });
        }
        files.push((sheet_name(id, at, "svg"), bytes));
    }
    files.push((sheet_name(id, 0, "pdf"), filed(reading, case, id, &drawn.pdf)?));
    Ok(pages)
}

/// A file of a rendering as its manifest names it: read once, and the bytes that were held to the digest are the bytes
/// that are packed.
fn filed(reading: &Reading, case: &Case<'_>, id: &PanelId, named: &Attachment) -> Outcome<Vec<u8>> {
    let folder = format!("projects/{}/renderings/{id}", case.id());
    let redraw = format!("draw it again, to be signed again: underlit draw {} {id}", case.id());
    let bytes = read::attached(&reading.book, &folder, named, &redraw)?;
    refuse_harm(&folder, named.file.as_str(), &bytes)?;
    Ok(bytes)
}

/// The size that one of our own sheets states at its head.
fn svg_size_mm(svg: &str) -> Option<(f64, f64)> {
    let head = &svg[svg.find("<svg")?..];
    let head = &head[..head.find('>')?];
    let side = |name: &str| {
        let from = head.find(&format!(" {name}=\""))? + name.len() + 3;
        let rest = &head[from..];
        rest[..rest.find("mm\"")?].parse::<f64>().ok()
    };
    Some((side("width")?, side("height")?))
}

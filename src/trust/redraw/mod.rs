//! Is a sheet what this program draws? Whoever judges a rendering draws it again from the records and compares bytes.
//!
//! A rendering's manifest can be written by anybody, with digests that fit any file. What cannot be made is another sheet
//! of the same facts: outline, panel, stone and titles stand in the records, what is printed besides stands in the
//! manifest, and the same edition of the drawing code makes the same bytes of them everywhere. A sheet of another edition
//! cannot be compared: what was signed of it stands, and whoever signs it is told. A sheet that runs or fetches something
//! is refused, whoever drew it.

mod known;

use super::project::drawing;
pub use super::redraw::known::Known;
use super::sheet_input::{printed, sheet_input};
use super::surroundings::Surroundings;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::gates::{facts, requirements};
use crate::ids::{PanelId, ProjectId};
use crate::job::Case;
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::project::Project;
use crate::model::rendering::{Printed, Rendering};
use crate::model::snapshot::{Drawing, Snapshot};
use crate::model::swatch::Swatch;
use crate::sheets::{self, drawn_by};
use crate::store::{BookFiles, read};

/// The records that a sheet is drawn from.
#[derive(Clone, Copy, Debug)]
struct Facts<'r> {
    project: &'r Project,
    panel: &'r Panel,
    stone: Option<&'r Swatch>,
    drawn: &'r Rendering,
}

/// How a rendering's files compare with what is drawn of its facts.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Compared {
    /// Byte for byte the same.
    Same,
    /// Drawn by another version or edition, or for other facts than the records have now, which the gates tell.
    Apart,
    /// Files with other bytes than are drawn.
    Other(Vec<String>),
}

/// True for the sheets of a rendering that this very edition of the drawing code made.
#[must_use]
pub(crate) fn can_be_compared(drawn: &Rendering) -> bool {
    drawn.drawn_with == drawn_by() && drawn.printed.is_some()
}

/// A file of a rendering: its name, and its bytes as its manifest's digest wants them.
type Sheets = Vec<(String, Vec<u8>)>;

impl Facts<'_> {
    /// True where the sheet was drawn for the very facts that the records have.
    fn fit(&self, outline: &Sha256Digest) -> bool {
        let Facts { project, panel, stone, drawn } = self;
        drawn.panel == panel.id
            && drawn.outline_sha256 == *outline
            && panel.outline.sha256 == *outline
            && drawn.shows_sha256 == facts::shown_of(project, panel, *stone)
            && drawn.lit_edges == panel.lit_edges
            && drawn.seams == panel.seams
            && stone.is_none_or(|s| s.slab.thickness_mm == drawn.stone_thickness_mm)
    }

    /// Draws the sheets again and compares.
    fn compare(&self, drawing: &Drawing, files: &Sheets) -> Outcome<Compared> {
        let drawn = self.drawn;
        let Some(printed) = drawn.printed.as_ref().filter(|_| can_be_compared(drawn)) else {
            return Ok(Compared::Apart);
        };
        if !self.fit(&drawing.digest) {
            return Ok(Compared::Apart);
        }
        let input = sheet_input(self.project, self.stone, self.panel, drawing, drawn.revision, printed)?;
        let sheet = sheets::draw(&input)
            .map_err(|e| Box::new(Fault::data(e.code(), e.to_string()).fix(e.remedy())))?;
        let made: Vec<&[u8]> = sheet.svgs().map(str::as_bytes).chain([&sheet.pdf[..]]).collect();
        if made.len() != files.len() {
            return Ok(Compared::Other(files.iter().map(|(name, _)| name.clone()).collect()));
        }
        let other = files.iter().zip(made).filter(|((_, bytes), made)| bytes != made);
        let other: Vec<String> = other.map(|((name, _), _)| name.clone()).collect();
        Ok(if other.is_empty() { Compared::Same } else { Compared::Other(other) })
    }
}

/// The files of a rendering: sheets in their order, then the PDF, each held to its digest.
fn files_of(book: &dyn BookFiles, folder: &str, drawn: &Rendering) -> Outcome<Sheets> {
    let read = |named: &Attachment| {
        let or_else = format!("draw it again: {}", command(folder));
        Ok((named.file.to_string(), read::attached(book, folder, named, &or_else)?))
    };
    drawn.files().map(read).collect()
}

/// The sheets of a rendering as SVG, in order, each with its digest.
///
/// # Errors
/// A file that cannot be read or is not the one that the manifest names.
pub(crate) fn sheets_of(
    book: &dyn BookFiles,
    case: &Case<'_>,
    id: &PanelId,
    drawn: &Rendering,
) -> Outcome<Vec<(String, Sha256Digest)>> {
    let files = files_of(book, &format!("projects/{}/renderings/{id}", case.id()), drawn)?;
    let sheets = files.into_iter().zip(drawn.sheets());
    Ok(sheets.map(|((_, svg), named)| (String::from_utf8_lossy(&svg).into_owned(), named.sha256)).collect())
}

/// The command that draws the sheets of a rendering's folder.
fn command(folder: &str) -> String {
    let mut parts = folder.split('/').skip(1);
    let (project, panel) = (parts.next().unwrap_or("PROJECT"), parts.nth(1).unwrap_or("PANEL"));
    format!("underlit draw {project} {panel}")
}

fn redraw_of(folder: &str) -> String {
    format!("restore it (git checkout -- {folder}), or draw it again: {}", command(folder))
}

/// What runs or is fetched in the files of a rendering.
fn harm(folder: &str, files: &Sheets) -> Vec<Fault> {
    let in_file = |(name, bytes): &(String, Vec<u8>)| {
        let found =
            if name.ends_with(".pdf") { sheets::harm_in_pdf(bytes) } else { sheets::harm_in_svg(bytes) };
        found.map(|what| {
            Fault::trust("sheet-not-plain", format!("this sheet has {what}; a sheet is a plain drawing"))
                .in_file(format!("{folder}/{name}"))
                .fix(format!("do not open it. {}", redraw_of(folder)))
        })
    };
    files.iter().filter_map(in_file).collect()
}

/// Why a file of a rendering may not be handed on: it runs or fetches something.
pub(crate) fn refuse_harm(folder: &str, name: &str, bytes: &[u8]) -> Outcome<()> {
    let file = vec![(name.to_owned(), bytes.to_vec())];
    harm(folder, &file).into_iter().next().map_or(Ok(()), |fault| Err(Box::new(fault)))
}

fn differs(folder: &str, name: &str) -> Fault {
    Fault::trust("sheet-differs", "this sheet is not what underlit draws from the panel's records")
        .in_file(format!("{folder}/{name}"))
        .fix(format!("do not sign it. {}", redraw_of(folder)))
}

/// The most renderings that one judgement draws again.
pub(crate) const MOST: usize = 200;

/// Everything that is wrong with the sheets of a project where something that they are drawn from changed: those that are
/// not what this program draws, and those that run or fetch something. What cannot be read is told by others.
pub(crate) fn faults(
    book: &dyn BookFiles,
    id: &ProjectId,
    changed: &dyn Fn(&str) -> bool,
    known: &Known,
) -> Vec<Fault> {
    let own = format!("projects/{id}");
    let names = book.names(&format!("{own}/renderings")).unwrap_or_default();
    let panels = names.iter().filter_map(|name| name.parse::<PanelId>().ok());
    panels.flat_map(|panel| of_panel(book, &own, &panel, changed, known).unwrap_or_default()).collect()
}

/// What is wrong with the sheets of one panel; none where they cannot be judged, because a record cannot be read.
fn of_panel(
    book: &dyn BookFiles,
    own: &str,
    id: &PanelId,
    changed: &dyn Fn(&str) -> bool,
    known: &Known,
) -> Option<Vec<Fault>> {
    let folder = format!("{own}/renderings/{id}");
    let manifest = format!("{folder}/manifest.json");
    let drawn: Rendering = read::record(book, &manifest, Kind::Rendering).ok()?;
    let record = format!("{own}/panels/{id}.json");
    let panel: Option<Panel> = read::record(book, &record, Kind::Panel).ok();
    let stone_path = panel.as_ref().map(|panel| format!("{own}/swatches/{}.json", panel.swatch));
    let outline = panel.as_ref().map(|panel| format!("{own}/panels/{}", panel.outline.file));
    let project_path = format!("{own}/project.json");
    let sources =
        [Some(&manifest), Some(&record), Some(&project_path), stone_path.as_ref(), outline.as_ref()];
    let mut sources =
        sources.into_iter().flatten().cloned().chain(drawn.files().map(|f| format!("{folder}/{}", f.file)));
    if !sources.any(|path| changed(&path)) {
        return None;
    }
    let files = files_of(book, &folder, &drawn).ok()?;
    let project: Option<Project> = read::record(book, &project_path, Kind::Project).ok();
    let stone: Option<Swatch> =
        stone_path.as_ref().and_then(|path| read::record(book, path, Kind::Swatch).ok());
    let facts = panel.as_ref().zip(project.as_ref()).map(|(panel, project)| Facts {
        project,
        panel,
        stone: stone.as_ref(),
        drawn: &drawn,
    });
    let key = key(facts, &files);
    if known.has(&key) {
        return None;
    }
    // Of sheets that cannot be compared, at least this is asked.
    let found = harm(&folder, &files);
    let Some(facts) = facts.filter(|_| found.is_empty()) else { return Some(found) };
    if can_be_compared(&drawn) {
        if !known.may_draw() {
            return None;
        }
        let drawing = drawing(book, own, facts.panel).ok()?;
        // What cannot be drawn is out of date, and the gates say so.
        if let Ok(Compared::Other(names)) = facts.compare(&drawing, &files) {
            return Some(names.iter().map(|name| differs(&folder, name)).collect());
        }
    }
    known.remember(key);
    None
}

/// True for two records of one project of which a sheet says the same: [`key`] has its id and its title.
pub(super) fn says_the_same(before: &[u8], after: &[u8]) -> bool {
    let of = |bytes: &[u8]| {
        let record: serde_json::Value = serde_json::from_slice(bytes).ok()?;
        Some((record.get("id")?.as_str()?.to_owned(), record.get("title")?.as_str()?.to_owned()))
    };
    of(before).is_some_and(|said| Some(said) == of(after))
}

/// What a judgement of a rendering rests on, as one digest.
fn key(facts: Option<Facts<'_>>, files: &Sheets) -> Sha256Digest {
    let mut text = drawn_by();
    if let Some(Facts { project, panel, stone, drawn }) = facts {
        let json = (&project.id, &project.title, panel, stone, drawn);
        text += &serde_json::to_string(&json).unwrap_or_default();
    }
    for (name, bytes) in files {
        text += &format!("\n{name} {}", Sha256Digest::of(bytes));
    }
    Sha256Digest::of(text.as_bytes())
}

/// What somebody who signs a panel's sheet, or the whole build with it, has to know of it.
///
/// # Errors
/// Why it may not be signed: it is not what is drawn from the records, or it runs or fetches something.
pub(crate) fn before_signing(
    book: &dyn BookFiles,
    case: &Case<'_>,
    id: &PanelId,
    whole_build: bool,
    around: &Surroundings<'_>,
) -> Outcome<Vec<String>> {
    let snapshot = case.project;
    let (Some(panel), Some(drawn)) = (snapshot.panels.get(id), snapshot.renderings.get(id)) else {
        return Ok(Vec::new());
    };
    let own = format!("projects/{}", case.id());
    let folder = format!("{own}/renderings/{id}");
    let files = files_of(book, &folder, drawn)?;
    if let Some(found) = harm(&folder, &files).into_iter().next() {
        return Err(Box::new(found));
    }
    let again = format!("draw it again: {}", command(&folder));
    let outdated = |what: String| {
        let fault = Fault::usage("sheet-out-of-date", what).in_file(format!("{folder}/manifest.json"));
        Err(Box::new(fault.fix(again.clone())))
    };
    if let Some(flaw) = requirements::rendering_flaw(case, id, panel, drawn) {
        // Of a shape that needs no drawing, an old one is no part of the build.
        let bears = !whole_build || requirements::needs_rendering(case, id);
        return if bears { outdated(flaw) } else { Ok(Vec::new()) };
    }
    let Some(drawing) = snapshot.drawing_of(id) else { return Ok(Vec::new()) };
    let facts = Facts { project: &snapshot.project, panel, stone: snapshot.stone_of(panel), drawn };
    match (facts.compare(drawing, &files)?, &drawn.printed) {
        (Compared::Other(names), _) => Err(Box::new(differs(&folder, &names.join(" and ")))),
        (Compared::Same, Some(then)) => {
            let now = printed(case, id, panel, drawing, &then.creator, around);
            if then.pieces_mm != now.pieces_mm {
                return outdated(format!(
                    "the sheet of panel {id} numbers its pieces differently from the cut files"
                ));
            }
            Ok(otherwise(id, then, &now, &again))
        }
        _ => Ok(vec![format!(
            "the sheet of panel {id} was drawn by another underlit ({}), so it cannot be compared with the records: read the \
             sheet itself before you sign, or {again}",
            drawn.drawn_with
        )]),
    }
}

/// True where the sheets that are filed for a panel are what is drawn of its facts and of what their manifest says is
/// printed.
pub(crate) fn is_as_drawn(book: &dyn BookFiles, snapshot: &Snapshot, id: &PanelId) -> bool {
    let folder = format!("projects/{}/renderings/{id}", snapshot.project.id);
    let (Some(panel), Some(drawn)) = (snapshot.panels.get(id), snapshot.renderings.get(id)) else {
        return false;
    };
    let (Some(drawing), Ok(files)) = (snapshot.drawing_of(id), files_of(book, &folder, drawn)) else {
        return false;
    };
    let facts = Facts { project: &snapshot.project, panel, stone: snapshot.stone_of(panel), drawn };
    facts.compare(drawing, &files).is_ok_and(|compared| compared == Compared::Same)
}

/// What a sheet prints otherwise than a sheet of today would.
fn otherwise(id: &PanelId, then: &Printed, now: &Printed, redraw: &str) -> Vec<String> {
    let names = |printed: &Printed| -> Vec<String> {
        printed
            .approvals
            .iter()
            .map(|a| format!("{} ({})", a.name.as_deref().unwrap_or("nobody"), a.role))
            .collect()
    };
    let mut told = Vec::new();
    let mut tell = |what: &str, then: &[String], now: &[String]| {
        let only =
            |a: &[String], b: &[String]| a.iter().filter(|x| !b.contains(x)).cloned().collect::<Vec<_>>();
        let (gone, new) = (only(then, now), only(now, then));
        if !gone.is_empty() || !new.is_empty() {
            let quoted = |list: &[String]| match list {
                [] => "nothing".to_owned(),
                some => some.iter().map(|text| format!("“{text}”")).collect::<Vec<_>>().join(", "),
            };
            told.push(format!(
                "the sheet of panel {id} prints as {what} {}; today it would be {} ({redraw})",
                quoted(&gone),
                quoted(&new)
            ));
        }
    };
    tell("shop", std::slice::from_ref(&then.shop), std::slice::from_ref(&now.shop));
    tell("client", std::slice::from_ref(&then.client), std::slice::from_ref(&now.client));
    tell("tolerance", std::slice::from_ref(&then.tolerance), std::slice::from_ref(&now.tolerance));
    tell("approvals", &names(then), &names(now));
    tell("notes", &then.notes, &now.notes);
    tell("cautions", &then.cautions, &now.cautions);
    told
}

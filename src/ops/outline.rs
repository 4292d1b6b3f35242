//! Outlines on their way into a book and out of it: a user's drawing read and checked, kept as the book's
//! own JSON, and written for the cutter, piece by piece.

use std::path::Path;

use super::reading::Reading as Book;
use super::record::{self, read_users_file};
use crate::digest::Sha256Digest;
use crate::fault::{Class, Fault, Outcome};
use crate::gates::same_within;
use crate::ids::PanelId;
use crate::job::plan::pieces;
use crate::model::attachment::Attachment;
use crate::model::panel::Panel;
use crate::model::sizes::SizeOf;
use crate::model::snapshot::{Drawing, SignOff, Snapshot};
use crate::model::statement::{Fact, Subject, View};
use crate::model::supersession::{WordState, says_yes};
use crate::power::lights::Light;
use crate::shape::{self, Format, LetterFault, Outline, ReadOptions, Reading};
use crate::store::{Changes, read};
use crate::trust::project::shape_fault;
use crate::units::trimmed;
use crate::words;

/// A drawing that was refused: every flaw, and a small SVG picture of where they are.
#[derive(Clone, Debug)]
pub(crate) struct Refused {
    /// Every flaw.
    pub faults: Vec<Fault>,
    /// The picture, where the flaws have places.
    pub picture: Option<String>,
}

/// Reads and checks a drawing that the user names, by its ending: `.dxf`, `.svg` or `.json`.
///
/// # Errors
/// `outline-format`, and every flaw of the drawing with its place.
pub(crate) fn read_users_drawing(file: &Path, options: &ReadOptions) -> Result<Reading, Refused> {
    let plain = |fault: Fault| Refused { faults: vec![fault], picture: None };
    let (bytes, ending) = read_users_file(file).map_err(|f| plain(*f))?;
    let name = file.display().to_string();
    let Some(format) = Format::of_name(&name) else {
        let fault = Fault::usage("outline-format", format!("an outline is not read from a .{ending} file"));
        return Err(plain(fault.in_file(name).fix("give it as .dxf, .svg or .json")));
    };
    shape::read(format, &bytes, options).map_err(|refusal| Refused {
        faults: refusal.flaws.iter().map(|flaw| shape_fault(&name, flaw)).collect(),
        picture: refusal.picture,
    })
}

/// The bytes under which an outline lies in a book.
#[must_use]
pub(crate) fn bytes_for_book(outline: &Outline) -> Vec<u8> {
    shape::to_json(outline).into_bytes()
}

/// One file for the cutter.
#[derive(Clone, Debug)]
pub(crate) struct CutFile {
    /// Its name.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// The very outline of a panel as DXF and SVG, piece by piece where it is split.
///
/// # Errors
/// `unknown-panel`; the outline's own fault; `seams-unsettled` where no route makes the recorded split.
pub(crate) fn cut_files(book: &Book, snapshot: &Snapshot, id: &PanelId) -> Result<Vec<CutFile>, Vec<Fault>> {
    let project = &snapshot.project.id;
    let (panel, drawing) = panel_with_drawing(snapshot, id)?;
    if drawing.digest != panel.outline.sha256 {
        let path = format!("projects/{project}/panels/{}", panel.outline.file);
        return Err(vec![
            Fault::data("attachment-differs", format!("this outline is not the one that panel {id} names"))
                .in_file(&path)
                .fix(format!("put the right file back (git checkout -- {path}), or take this one: underlit panel change {project} {id} --outline FILE")),
        ]);
    }
    let name = |ending: &str| format!("{project}-{id}{ending}");
    let whole = |outline: &Outline| match outline.outside_its_box() {
        None => Ok(()),
        Some(at) => Err(vec![
            Fault::new(
                Class::Bug,
                "cut-file-cropped",
                format!(
                    "internal error: the cut file of panel {id} would crop its outline at ({:.3}, {:.3}) mm; \
                     nothing was written",
                    at.x, at.y
                ),
            )
            .fix("keep the outline file and report a bug"),
        ]),
    };
    // The stone's joints are no lines to cut: they are shown where they lie over the piece, on a layer of their own.
    let both = |stem: &str, piece: &Outline| {
        let outline = &Outline {
            stone_joints: shape::joints_over(piece, &drawing.outline.stone_joints),
            marks: shape::marks_on(piece, &drawing.outline.marks),
            ..piece.clone()
        };
        [
            CutFile { name: name(&format!("{stem}.dxf")), bytes: shape::to_dxf(outline).into_bytes() },
            CutFile { name: name(&format!("{stem}.svg")), bytes: shape::to_svg(outline).into_bytes() },
        ]
    };
    let mut around = Vec::new();
    for (size, (outline, _)) in drawing.nested.iter().flatten().filter(|(s, _)| **s != SizeOf::LightGuide) {
        whole(outline)?;
        around.extend(both(&format!("-{size}"), outline));
    }
    if panel.seams.is_empty() {
        whole(&drawing.outline)?;
        return Ok(both("", &drawing.outline).into_iter().chain(around).collect());
    }
    let tape = tape_of(book, panel);
    let Some(split) = pieces::settled_by_shop(&book.shop, tape, panel, drawing) else {
        return Err(vec![
            Fault::data("seams-unsettled", format!("no route can build panel {id} with these seams"))
                .fix(format!("look at the ways to split it: underlit split {project} {id}")),
        ]);
    };
    for piece in &split.pieces {
        whole(&piece.outline)?;
    }
    let files = split.pieces.iter().enumerate();
    let pieces = files.flat_map(|(at, piece)| both(&format!("-piece-{}", at + 1), &piece.outline));
    Ok(pieces.chain(around).collect())
}

/// The tape that a panel's record names.
#[must_use]
pub(crate) fn tape_of<'b>(book: &'b Book, panel: &Panel) -> Option<&'b Light> {
    panel.tape.as_ref().and_then(|t| book.shop.lights.get(t.as_str()))
}

/// The most outlines that a panel keeps because they were signed, as the schema has it.
const MOST_SIGNED: usize = 20;

/// The outlines that a panel keeps beside its next one, where the shop's rules call a small change the same: those that an
/// approval which stands was of. Puts the present one there, and takes out what no approval names any more.
///
/// # Errors
/// What the disk says.
pub(crate) fn keep_signed(
    book: &Book,
    snapshot: &Snapshot,
    panel: &Panel,
    next: Sha256Digest,
    changes: &mut Changes,
) -> Outcome<Vec<Attachment>> {
    if book.shop.rules.same_within_mm.is_none() {
        return Ok(panel.signed_outlines.clone());
    }
    let case = book.case(snapshot);
    let folder = format!("projects/{}/panels", snapshot.project.id);
    let of_outline = |s: &SignOff, digest: Sha256Digest| {
        let fact = s.statement.facts.get(same_within::OUTLINE);
        s.statement.about == Subject::panel(View::Rendering, &panel.id)
            && says_yes(s.statement.decision)
            && case.word(s) == Some(WordState::Stands)
            && fact == Some(&Fact::Text(digest.hex()))
    };
    let is_signed =
        |digest: Sha256Digest| digest != next && snapshot.signoffs.iter().any(|s| of_outline(s, digest));
    let (mut kept, mut gone): (Vec<_>, Vec<_>) =
        panel.signed_outlines.iter().cloned().partition(|file| is_signed(file.sha256));
    let present = panel.outline.sha256;
    if is_signed(present) && !kept.iter().any(|file| file.sha256 == present) {
        let bytes = read::attached(
            &book.book,
            &folder,
            &panel.outline,
            "put the file back as the record names it: underlit check",
        )?;
        let name = format!("signed-{}.outline.json", &present.hex()[..24]);
        kept.push(record::attach_bytes(&folder, &name, bytes, changes)?);
    }
    while kept.len() > MOST_SIGNED {
        gone.push(kept.remove(0));
    }
    for file in gone {
        let others = snapshot.panels.values().filter(|other| other.id != panel.id);
        let named = others.flat_map(|other| &other.signed_outlines).chain(&kept).any(|f| f.file == file.file);
        if !named {
            changes.remove(format!("{folder}/{}", file.file));
        }
    }
    Ok(kept)
}

/// What is etched into a panel as letters.
#[derive(Clone, Debug)]
pub(crate) struct Etching<'a> {
    /// The text, line by line.
    pub lines: &'a [&'a str],
    /// The bytes of the font; none for the one that drawings are lettered in.
    pub font: Option<&'a [u8]>,
    /// Where it stands.
    pub setting: shape::LetterSetting,
    /// True where it takes the place of all that was etched.
    pub replaces: bool,
}

/// A panel's drawing with letters among its etched lines, and the letters.
///
/// # Errors
/// `letters`: why they cannot be set there.
pub(crate) fn lettered(drawn: &Outline, etching: &Etching<'_>) -> Outcome<(Outline, Vec<shape::Path>)> {
    let font = etching.font.unwrap_or(notosans::REGULAR_TTF);
    let fitted = shape::letters(etching.lines, font, &etching.setting).and_then(|letters| {
        shape::letters_fit(drawn, &letters)?;
        Ok(letters)
    });
    let letters = fitted.map_err(|why| {
        let at = |p: &shape::Point| format!("({}, {}) mm", trimmed(p.x, 1), trimmed(p.y, 1));
        let (message, fix) = match &why {
            LetterFault::NoFont => ("this is no font".to_owned(), "give a .ttf or .otf file"),
            LetterFault::NoCapital => {
                ("the font has no capital H to measure its height by".to_owned(), "take another font")
            }
            LetterFault::Missing(characters) => {
                (format!("the font has no letter for `{characters}`"), "take another font, or other words")
            }
            LetterFault::Nothing => ("there is nothing to etch in the text".to_owned(), "give letters"),
            LetterFault::Crossing(p) => (
                format!("lines of the letters cross each other near {}", at(p)),
                "set the lines further apart with --line-spacing; or take a font whose letters are one line each",
            ),
            LetterFault::OffThePanel(p) => (
                format!("the letters touch the border or a cut-out, or lie outside, near {}", at(p)),
                "move them with --at, or make them smaller",
            ),
        };
        Box::new(Fault::usage("letters", message).fix(fix))
    })?;
    let before = if etching.replaces { Vec::new() } else { drawn.etchings.clone() };
    let etchings = before.into_iter().chain(letters.iter().cloned()).collect();
    Ok((Outline { etchings, ..drawn.clone() }, letters))
}

/// A panel with its drawing.
///
/// # Errors
/// `unknown-panel`, with the names that there are; the drawing's own fault.
pub(crate) fn panel_with_drawing<'s>(
    snapshot: &'s Snapshot,
    id: &PanelId,
) -> Result<(&'s Panel, &'s Drawing), Vec<Fault>> {
    let Some(panel) = snapshot.panels.get(id) else {
        return Err(vec![unknown_panel(snapshot, id)]);
    };
    match snapshot.drawings.get(id) {
        Some(Ok(drawing)) => Ok((panel, drawing)),
        Some(Err(fault)) => Err(vec![fault.clone()]),
        None => Err(vec![Fault::data("no-outline", format!("panel {id} has no outline"))]),
    }
}

/// A panel that a project does not have.
#[must_use]
pub(crate) fn unknown_panel(snapshot: &Snapshot, id: &PanelId) -> Fault {
    let known = snapshot.panels.keys().map(PanelId::as_str);
    Fault::usage("unknown-panel", format!("there is no panel {id} in {}", snapshot.project.id))
        .fix(words::instead_of(id.as_str(), known, "list it first: underlit panel add …"))
}

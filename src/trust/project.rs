//! One project, read from its files: records checked, drawings measured, attachments digested, signatures
//! judged. Only this project's files are touched.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use serde::de::DeserializeOwned;

use super::beside;
use super::chain::Chain;
use super::counting::{self, Sealed};
use super::proof;
use crate::digest::Sha256Digest;
use crate::fault::{Class, Fault, Outcome};
use crate::ids::{PanelId, ProjectId};
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::model::moves::Move;
use crate::model::panel::Panel;
use crate::model::rules::Rules;
use crate::model::snapshot::{Drawing, SignOff, Snapshot};
use crate::shape::{self, Figures, ShapeError};
use crate::store::{BookFiles, read, safe_path};
use crate::units::Millimetres;

/// Reads one project.
///
/// # Errors
/// Everything that is wrong with its records. A signature that does not count and a drawing that cannot
/// be read are no error here: they stand in the snapshot with their reasons.
pub(crate) fn load(
    book: &dyn BookFiles,
    chain: &Chain,
    rules: &Rules,
    id: &ProjectId,
) -> Result<Snapshot, Vec<Fault>> {
    let folder = book.project(id)?;
    let mut reader = Reader { book, folder: folder.clone(), listed: BTreeMap::new(), faults: Vec::new() };
    let project = reader.one(&format!("{folder}/project.json"), Kind::Project);
    let swatches = reader.all("swatches", Kind::Swatch);
    let requests = reader.all("requests", Kind::Request);
    let trials = reader.all("trials", Kind::Trial);
    let panels: BTreeMap<PanelId, Panel> = reader.all("panels", Kind::Panel);
    let mut renderings = BTreeMap::new();
    for name in reader.names("renderings") {
        let path = format!("{folder}/renderings/{name}/manifest.json");
        if let (Ok(panel), Some(manifest)) = (name.parse::<PanelId>(), reader.maybe(&path, Kind::Rendering)) {
            renderings.insert(panel, manifest);
        }
    }
    let notes = reader.all("notes", Kind::Note);
    let as_built = reader.maybe(&format!("{folder}/as-built.json"), Kind::AsBuilt);
    let installation = reader.maybe(&format!("{folder}/installation.json"), Kind::Installation);
    let mut conflicts = reader
        .files("conflicts", Kind::Conflict)
        .into_iter()
        .filter_map(|path| reader.one(&path, Kind::Conflict).map(|c| (path, c)))
        .collect();
    proof::prove(book, &mut conflicts);
    let read = |panel: &Panel| {
        let drawing = drawing(book, &folder, panel)?;
        Ok(Drawing { moved: moved(book, &folder, panel, &drawing, rules), ..drawing })
    };
    let drawings: BTreeMap<PanelId, Result<Drawing, Fault>> =
        panels.iter().map(|(id, panel)| (id.clone(), read(panel))).collect();
    // What was measured was read already: the file is not read again, or another could lie there by then.
    let measured = panels.iter().filter_map(|(id, panel)| {
        let drawing = drawings.get(id)?.as_ref().ok()?;
        Some((format!("panels/{}", panel.outline.file), drawing.digest))
    });
    let files = reader.attachments(measured.collect());
    // A drawing that the disk would not give and then did says nothing of the job: no answer is made of it.
    let passing = panels.iter().filter_map(|(id, panel)| {
        let fault = drawings.get(id)?.as_ref().err()?;
        let is_there = files.contains_key(&format!("panels/{}", panel.outline.file));
        (fault.class == Class::Io && is_there).then(|| fault.clone())
    });
    reader.faults.extend(passing);
    let (signoffs, void_signoffs) = reader.sign_offs(chain, rules, id);
    let (moves, void_moves) = reader.moves(chain, rules, id, &signoffs);
    match project {
        Some(project) if reader.faults.is_empty() => Ok(Snapshot {
            project,
            swatches,
            requests,
            trials,
            panels,
            drawings,
            renderings,
            files,
            as_built,
            installation,
            signoffs,
            void_signoffs,
            moves,
            void_moves,
            notes,
            conflicts,
        }),
        _ => Err(reader.faults),
    }
}

/// Reads and measures a panel's drawing.
///
/// # Errors
/// Why it cannot be built from.
pub(crate) fn drawing(book: &dyn BookFiles, folder: &str, panel: &Panel) -> Result<Drawing, Fault> {
    let path = format!("{folder}/panels/{}", panel.outline.file);
    let bytes = book.read(&path, safe_path::LARGEST_ATTACHMENT).map_err(|f| *f)?;
    let digest = Sha256Digest::of(&bytes);
    let measured = measured(&path, &bytes, digest)?;
    let (outline, figures) = (measured.0.clone(), measured.1.clone());
    let drawing = Drawing { digest, outline, figures, nested: None, moved: BTreeMap::new() };
    match &panel.sizes {
        None => Ok(drawing),
        Some(sizes) => drawing.with_sizes(sizes, &panel.lit_edges).map_err(|e| {
            let record = format!("{folder}/panels/{}.json", panel.id);
            shape_fault(&path, &e).in_file(&record).at_pointer("/sizes")
        }),
    }
}

/// How far a drawing lies from those that were signed before it, as far as the rules call that the same. The digest is that
/// of the bytes that were read: a file that was exchanged is no outline that anybody signed.
fn moved(
    book: &dyn BookFiles,
    folder: &str,
    panel: &Panel,
    drawing: &Drawing,
    rules: &Rules,
) -> BTreeMap<Sha256Digest, Millimetres> {
    let Some(limit) = rules.same_within_mm else { return BTreeMap::new() };
    let outline_of = |file: &Attachment| {
        let path = format!("{folder}/panels/{}", file.file);
        let bytes = book.read(&path, safe_path::LARGEST_ATTACHMENT).ok()?;
        let digest = Sha256Digest::of(&bytes);
        Some((digest, measured(&path, &bytes, digest).ok()?))
    };
    let signed: Vec<_> = panel.signed_outlines.iter().filter_map(outline_of).collect();
    if signed.is_empty() {
        return BTreeMap::new();
    }
    let Some((_, now)) = outline_of(&panel.outline).filter(|(digest, _)| *digest == drawing.digest) else {
        return BTreeMap::new();
    };
    let distance = |then: &Measured| shape::moved(&then.0, &now.0, limit.0).map(Millimetres);
    signed.into_iter().filter_map(|(digest, then)| Some((digest, distance(&then)?))).collect()
}

/// An outline and what it measures.
type Measured = Arc<(shape::Outline, Figures)>;

/// The outlines that were found sound and measured in this process, by their digests: a judge meets each many times.
static MEASURED: Mutex<(usize, BTreeMap<Sha256Digest, Measured>)> = Mutex::new((0, BTreeMap::new()));

/// How many bytes of outlines are remembered; more begins anew.
const REMEMBERED: usize = 32 << 20;

/// Reads an outline kept in a book and measures it, once for the same bytes.
fn measured(path: &str, bytes: &[u8], digest: Sha256Digest) -> Result<Measured, Fault> {
    // A thread that panicked left it whole: each change of it is one call.
    let known = || MEASURED.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if let Some(found) = known().1.get(&digest) {
        return Ok(Arc::clone(found));
    }
    let outline = read_outline(path, bytes)?;
    let figures = shape::figures(&outline);
    let made = Arc::new((outline, figures));
    let mut known = known();
    if known.0 + bytes.len() > REMEMBERED {
        *known = (0, BTreeMap::new());
    }
    known.0 += bytes.len();
    known.1.insert(digest, Arc::clone(&made));
    Ok(made)
}

/// Reads an outline kept in a book, which is always the book's own JSON.
///
/// # Errors
/// The first flaw, with its place in the file and in the drawing.
pub(crate) fn read_outline(path: &str, bytes: &[u8]) -> Result<shape::Outline, Fault> {
    outline_flaws(path, bytes).map_err(|mut flaws| flaws.swap_remove(0))
}

/// Every flaw of an outline kept in a book; none where it is sound.
#[must_use]
pub(crate) fn outline_faults(path: &str, bytes: &[u8]) -> Vec<Fault> {
    let digest = Sha256Digest::of(bytes);
    match measured(path, bytes, digest) {
        Ok(_) => Vec::new(),
        Err(_) => outline_flaws(path, bytes).err().unwrap_or_default(),
    }
}

fn outline_flaws(path: &str, bytes: &[u8]) -> Result<shape::Outline, Vec<Fault>> {
    let outline = shape::read_json(bytes).map_err(|e| vec![shape_fault(path, &e)])?;
    let flaws: Vec<Fault> = shape::check(&outline).iter().map(|flaw| shape_fault(path, flaw)).collect();
    if flaws.is_empty() { Ok(outline) } else { Err(flaws) }
}

/// A flaw of a drawing as a fault.
#[must_use]
pub(crate) fn shape_fault(path: &str, error: &ShapeError) -> Fault {
    let mut fault = Fault::data(error.code(), error.sentence()).in_file(path).on_line(error.line);
    fault.column = error.column;
    fault.pointer = error.pointer.clone();
    fault.at_mm = error.at_mm.map(|p| [p.x, p.y]);
    fault.fix(error.remedy.clone())
}

/// The moves that count, by digest.
type Moves = BTreeMap<Sha256Digest, Move>;

/// The moves that do not, with the reason.
type VoidMoves = Vec<(Sha256Digest, Fault)>;

struct Reader<'a> {
    book: &'a dyn BookFiles,
    folder: String,
    listed: BTreeMap<String, Vec<String>>,
    faults: Vec<Fault>,
}

impl Reader<'_> {
    fn note<T>(&mut self, result: Result<T, Vec<Fault>>) -> Option<T> {
        result.map_err(|mut faults| self.faults.append(&mut faults)).ok()
    }

    fn note_one<T>(&mut self, result: Outcome<T>) -> Option<T> {
        self.note(result.map_err(|f| vec![*f]))
    }

    fn one<T: DeserializeOwned>(&mut self, path: &str, kind: Kind) -> Option<T> {
        let result = read::record(self.book, path, kind);
        self.note(result)
    }

    fn maybe<T: DeserializeOwned>(&mut self, path: &str, kind: Kind) -> Option<T> {
        let there = self.book.lies_there(path);
        if self.note_one(there)? { self.one(path, kind) } else { None }
    }

    /// What lies in a folder, which is listed once.
    fn names(&mut self, sub: &str) -> Vec<String> {
        if let Some(names) = self.listed.get(sub) {
            return names.clone();
        }
        let names = self.book.names(&format!("{}/{sub}", self.folder));
        let names = self.note_one(names).unwrap_or_default();
        self.listed.insert(sub.to_owned(), names.clone());
        names
    }

    fn files(&mut self, sub: &str, kind: Kind) -> Vec<String> {
        let names = self.names(sub).into_iter();
        let paths = names.map(|name| format!("{}/{sub}/{name}", self.folder));
        paths.filter(|path| Kind::of_path(path) == Some(kind)).collect()
    }

    fn bytes(&mut self, path: &str) -> Option<Vec<u8>> {
        let bytes = self.book.read(path, safe_path::LARGEST_ATTACHMENT);
        self.note_one(bytes)
    }

    /// Every record of one kind, by the name that its file has. A record that calls itself otherwise is a
    /// fault: the file's name is what the others point at.
    fn all<I, T>(&mut self, sub: &str, kind: Kind) -> BTreeMap<I, T>
    where
        I: std::str::FromStr + Ord + std::fmt::Display,
        T: DeserializeOwned,
    {
        let mut all = BTreeMap::new();
        for path in self.files(sub, kind) {
            let stem = path.rsplit('/').next().and_then(|f| f.strip_suffix(".json")).unwrap_or_default();
            let Ok(id) = stem.parse::<I>() else { continue };
            let Some(document) = self.note(read::document(self.book, &path, kind)) else { continue };
            if document.value.get("id").and_then(|v| v.as_str()) != Some(stem) {
                self.faults.push(
                    Fault::data("id-not-name", "the record's id is not the name of its file")
                        .in_file(&path)
                        .at_pointer("/id")
                        .on_line(crate::store::strict_json::line_of(&document.bytes, "/id"))
                        .fix(format!("write \"id\": \"{stem}\", or rename the file")),
                );
                continue;
            }
            if let Some(record) = self.note_one(read::typed(&path, &document.bytes, &document.value)) {
                all.insert(id, record);
            }
        }
        all
    }

    /// The digest of every attachment, by its path within the project; some are known.
    fn attachments(&mut self, mut found: BTreeMap<String, Sha256Digest>) -> BTreeMap<String, Sha256Digest> {
        let mut folders: Vec<String> =
            ["swatches", "requests", "trials", "panels", "handover"].map(str::to_owned).to_vec();
        folders.extend(self.names("renderings").into_iter().map(|panel| format!("renderings/{panel}")));
        for sub in folders {
            let mut paths = self.files(&sub, Kind::Attachment);
            paths.extend(self.files(&sub, Kind::Outline));
            for path in paths {
                let name = path.rsplit('/').next().unwrap_or_default();
                let within = format!("{sub}/{name}");
                if !found.contains_key(&within)
                    && let Some(bytes) = self.bytes(&path)
                {
                    found.insert(within, Sha256Digest::of(&bytes));
                }
            }
        }
        found
    }

    fn sealed(&mut self, path: &str) -> Option<(Vec<u8>, Option<Vec<u8>>)> {
        let bytes = self.bytes(path)?;
        let signature = path.replace(".json", ".sig");
        let there = self.book.lies_there(&signature);
        let signature = if self.note_one(there)? { Some(self.bytes(&signature)?) } else { None };
        Some((bytes, signature))
    }

    fn sign_offs(&mut self, chain: &Chain, rules: &Rules, id: &ProjectId) -> (Vec<SignOff>, Vec<Fault>) {
        let mut all = Vec::new();
        let mut void_signoffs = Vec::new();
        for path in self.files("signoffs", Kind::SignOff) {
            let Some((bytes, signature)) = self.sealed(&path) else { continue };
            let sealed = Sealed { path: &path, bytes: &bytes, signature: signature.as_deref() };
            let judged = counting::sign_off(chain, rules, id, sealed);
            let (statement, mut void) = match judged {
                Ok(judged) => judged,
                Err(faults) => {
                    void_signoffs.extend(faults.into_iter().take(1));
                    continue;
                }
            };
            if void.is_none() {
                void = beside::missing_scan(self.book, &path, &statement);
            }
            all.push(SignOff { digest: Sha256Digest::of(&bytes), statement, void });
        }
        (all, void_signoffs)
    }

    fn moves(
        &mut self,
        chain: &Chain,
        rules: &Rules,
        id: &ProjectId,
        signoffs: &[SignOff],
    ) -> (Moves, VoidMoves) {
        let signed = |digest: &Sha256Digest| {
            let found = signoffs.iter().find(|s| s.digest == *digest)?;
            Some((found.statement.clone(), found.void.clone()))
        };
        let (mut moves, mut void) = (BTreeMap::new(), Vec::new());
        for path in self.files("moves", Kind::Move) {
            let Some((bytes, signature)) = self.sealed(&path) else { continue };
            let sealed = Sealed { path: &path, bytes: &bytes, signature: signature.as_deref() };
            match counting::project_move(chain, rules, id, sealed) {
                Ok(step) => match counting::backed(&step, rules, signed) {
                    Ok(()) => _ = moves.insert(Sha256Digest::of(&bytes), step),
                    Err(fault) => void.push((Sha256Digest::of(&bytes), fault.in_file(&path))),
                },
                Err(faults) => void.extend(faults.into_iter().take(1).map(|f| (Sha256Digest::of(&bytes), f))),
            }
        }
        (moves, void)
    }
}

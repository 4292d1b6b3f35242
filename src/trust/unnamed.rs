//! Files in a project's folder that no record names.
//!
//! What is packed, shown and signed is read by the name and digest that a record gives, so a file without one is
//! nobody's word. In a rendering's folder none may lie, in whatever state: people would take it for the sheet that was
//! signed. Elsewhere one may be left over from a merge; what nobody may do is bring one in: a push that brings a file
//! which no record named when it came is refused, a hand edit leaves it where it lies, and one that nobody committed is
//! left alone. What lies beside statements is
//! judged by [`super::beside`].

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::fault::{Fault, Means};
use crate::git::{Entry, GitError, Snapshot};
use crate::ids::ProjectId;
use crate::model::droppings::is_dropping;
use crate::model::kind::Kind;
use crate::model::references;
use crate::store::read::{self, Records};
use crate::store::{BookFiles, Changes, safe_path, strict_json};

/// The code of a file that no record names.
const CODE: &str = "unnamed-file";

/// True for a file that has to be named by a record.
#[must_use]
pub(crate) fn needs_a_name(path: &str) -> bool {
    ProjectId::of_path(path).is_some()
        && matches!(Kind::of_path(path), Some(Kind::Attachment | Kind::Outline))
}

/// True for a file in a rendering's folder.
pub(crate) fn is_of_a_rendering(path: &str) -> bool {
    path.split('/').nth(2) == Some("renderings")
}

/// Every file that some records name beside themselves.
fn named<'r>(records: impl Iterator<Item = (&'r str, &'r Value)>) -> BTreeSet<String> {
    records
        .filter_map(|(path, value)| Some((path, Kind::of_path(path)?, value)))
        .flat_map(|(path, kind, value)| references::attached(path, kind, value))
        .map(|named| named.path)
        .collect()
}

/// The files among some paths that no record names, by what lies there. Where a record of the same project cannot be
/// read, nobody knows what it names, and nothing is said of that project.
pub(crate) fn among(paths: &[String], records: &Records) -> Vec<String> {
    let unread: BTreeSet<ProjectId> = paths
        .iter()
        .filter(|path| Kind::of_path(path).is_some_and(Kind::has_schema) && !records.contains_key(*path))
        .filter_map(|path| ProjectId::of_path(path))
        .collect();
    let named = named(records.iter().map(|(path, (_, value))| (path.as_str(), value)));
    let unnamed =
        paths.iter().filter(|path| needs_a_name(path) && !is_dropping(path) && !named.contains(*path));
    unnamed.filter(|path| ProjectId::of_path(path).is_none_or(|id| !unread.contains(&id))).cloned().collect()
}

/// The unnamed files that are wrong in whatever state they lie: those in a rendering's folder.
pub(crate) fn beside_sheets(unnamed: &[String]) -> Vec<Fault> {
    unnamed.iter().filter(|path| is_of_a_rendering(path)).map(|path| fault(path)).collect()
}

/// The unnamed files of a folder that its last commit does not have as they are: the faults of those that it has
/// otherwise or that look like records, and those that merely lie there.
pub(crate) fn uncommitted(
    book: &dyn BookFiles,
    head: &Snapshot<'_>,
    unnamed: &[String],
) -> (Vec<Fault>, BTreeSet<String>) {
    let committed = |path: &str| {
        let here = book.read(path, safe_path::LARGEST_ATTACHMENT).ok();
        here.is_some() && head.file(path).ok().flatten() == here
    };
    let elsewhere = unnamed.iter().filter(|path| !is_of_a_rendering(path));
    let lies_there =
        |path: &str| Kind::of_path(path) == Some(Kind::Attachment) && matches!(head.entry(path), Ok(None));
    let (left, wrong): (Vec<&String>, Vec<&String>) =
        elsewhere.filter(|path| !committed(path)).partition(|path| lies_there(path));
    (wrong.into_iter().map(|path| fault(path)).collect(), left.into_iter().cloned().collect())
}

/// The files that a file of the history names, where it is a record that can be read.
///
/// # Errors
/// What git says.
pub(crate) fn named_by_file(
    state: &Snapshot<'_>,
    path: &str,
    entry: Entry,
) -> Result<BTreeSet<String>, GitError> {
    let record = Kind::of_path(path).is_some_and(|kind| kind.has_schema() && kind != Kind::Outline);
    if !record || state.size(entry)? as u64 > strict_json::LARGEST {
        return Ok(BTreeSet::new());
    }
    let value = strict_json::parse(&state.bytes(entry)?);
    Ok(value.map_or_else(|_| BTreeSet::new(), |value| named(std::iter::once((path, &value)))))
}

/// The fault of a file that no record names.
#[must_use]
pub(crate) fn fault(path: &str) -> Fault {
    let project = ProjectId::of_path(path).map_or_else(|| "PROJECT".to_owned(), |id| id.to_string());
    if is_of_a_rendering(path) {
        let panel = path.split('/').nth(3).unwrap_or("PANEL");
        return Fault::data(
            CODE,
            "the manifest of this rendering does not name this file, so nobody signs it",
        )
        .that_means(Means::Unnamed)
        .in_file(path)
        .fix(format!("remove the file; `underlit draw {project} {panel}` draws the sheet again"));
    }
    Fault::data(CODE, "no record names this file, so nobody can tell what it is")
        .that_means(Means::Unnamed)
        .in_file(path)
        .fix("remove the file, or name it in its record: photos with --photo, outlines with --outline")
}

/// The files beside records that changes leave named by no record any more: they go with the change.
#[must_use]
pub(crate) fn left_behind(book: &dyn BookFiles, changes: &Changes) -> Vec<String> {
    let record =
        |path: &str| Kind::of_path(path).is_some_and(|kind| kind.has_schema() && !kind.is_add_only());
    let changed: BTreeMap<&str, Option<&[u8]>> = changes.files().filter(|(path, _)| record(path)).collect();
    let parsed = |path: &str, bytes: &[u8]| Some((path.to_owned(), strict_json::parse(bytes).ok()?));
    let before: BTreeMap<String, Value> = changed
        .keys()
        .filter_map(|path| parsed(path, &book.read(path, strict_json::LARGEST).ok()?))
        .collect();
    let after: BTreeMap<String, Value> =
        changed.iter().filter_map(|(path, bytes)| parsed(path, (*bytes)?)).collect();
    let now = named(after.iter().map(|(path, value)| (path.as_str(), value)));
    let touched: BTreeSet<String> = changes.paths().into_iter().collect();
    let mut gone: Vec<String> = named(before.iter().map(|(path, value)| (path.as_str(), value)))
        .into_iter()
        .filter(|file| needs_a_name(file) && !Kind::of_path(file).is_some_and(Kind::is_add_only))
        .filter(|file| {
            !now.contains(file) && !touched.contains(file) && book.lies_there(file).unwrap_or_default()
        })
        .collect();
    if let Some(id) = gone.first().and_then(|file| ProjectId::of_path(file)) {
        let records = read::records(book, &format!("projects/{id}"));
        let others = records.iter().filter(|(path, _)| !changed.contains_key(path.as_str()));
        let kept = named(others.map(|(path, (_, value))| (path.as_str(), value)));
        gone.retain(|file| !kept.contains(file));
    }
    gone
}

/// The files among some paths of one project that no record names in a state of the history.
///
/// # Errors
/// What git says.
pub(crate) fn in_state(
    state: &Snapshot<'_>,
    id: &ProjectId,
    paths: &BTreeSet<String>,
) -> Result<Vec<String>, GitError> {
    let mut named = BTreeSet::new();
    for file in state.files(&format!("projects/{id}"))? {
        named.extend(named_by_file(state, &file.path, file.entry)?);
    }
    Ok(paths.iter().filter(|path| !named.contains(*path)).cloned().collect())
}

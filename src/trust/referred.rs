//! What the records of a project name: whether it is there, and is what was named.

use std::collections::{BTreeMap, BTreeSet};

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means};
use crate::ids::ProjectId;
use crate::model::conflict::question_of;
use crate::model::kind::Kind;
use crate::model::references::{self, Named};
use crate::store::read::{self, Records};
use crate::store::{BookFiles, safe_path, strict_json};

/// Every name in some records that leads to nothing, or to another file than was named.
pub(super) fn faults(book: &dyn BookFiles, records: &Records) -> Vec<Fault> {
    let exists = |path: &str| book.lies_there(path);
    let read = |path: &str| book.read(path, safe_path::LARGEST_ATTACHMENT);
    let mut faults = Vec::new();
    for (path, (bytes, value)) in records {
        let Some(kind) = Kind::of_path(path) else { continue };
        let at = |fault: Fault, pointer: &str| {
            fault.in_file(path).at_pointer(pointer).on_line(strict_json::line_of(bytes, pointer))
        };
        let project = ProjectId::of_path(path);
        if project.is_none() && kind != Kind::Conflict {
            continue;
        }
        for named in references::records(path, kind, value) {
            let there = exists(&named.path).map_err(|fault| faults.push(*fault));
            if there == Ok(false) {
                let file = named.path.splitn(3, '/').last().unwrap_or(&named.path);
                let name = question_of(file);
                let fault =
                    Fault::data("unknown-reference", format!("it names {name}, but {file} is missing"))
                        .with_other(&named.path);
                faults.push(at(fault.fix("name one that exists, or add it"), &named.pointer));
            }
        }
        for Named { pointer, path: full, sha256 } in references::attached(path, kind, value) {
            let Some(digest) = sha256 else { continue };
            match read(&full) {
                Err(fault) => faults.push(at(
                    Fault::data(
                        "attachment-missing",
                        format!("the file {full} cannot be read: {}", fault.message),
                    )
                    .with_other(&full)
                    .that_means(Means::Attached)
                    .fix(if kind == Kind::Conflict {
                        "take the file from the history: underlit history --long names the commit"
                    } else {
                        "put it beside the record, or attach it anew"
                    }),
                    &pointer,
                )),
                Ok(found) if Sha256Digest::of(&found).hex() != digest => faults.push(at(
                    Fault::data(
                        "attachment-differs",
                        format!("the file {full} is not the one that the record names"),
                    )
                    .with_other(&full)
                    .that_means(Means::Attached)
                    .fix(format!(
                        "put the right file back, or name this one: \"sha256\": \"{}\"",
                        Sha256Digest::of(&found)
                    )),
                    &pointer,
                )),
                Ok(_) => {}
            }
        }
    }
    faults
}

/// The other records of a project that name each of its files, by the file: records and what is attached. Open questions
/// do not count.
#[must_use]
pub(crate) fn named_by(book: &dyn BookFiles, project: &ProjectId) -> BTreeMap<String, BTreeSet<String>> {
    let records = read::records(book, &format!("projects/{project}"));
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (path, (_, value)) in &records {
        let Some(kind) = Kind::of_path(path).filter(|kind| *kind != Kind::Conflict) else { continue };
        let others = references::records(path, kind, value).into_iter();
        let beside = references::attached(path, kind, value);
        for file in others.chain(beside).map(|named| named.path).filter(|file| file != path) {
            found.entry(file).or_default().insert(path.clone());
        }
    }
    found
}

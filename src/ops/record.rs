//! Records that people edit: added, changed, taken out. Each change is checked as a whole before anything
//! is written, and becomes one commit.

use std::fs;
use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::desk::Desk;
use super::reading::Reading;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::ids::ProjectId;
use crate::light::photo_notes::{Cleaned, without_private_notes};
use crate::light::picture::{PictureError, is_heif};
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::store::safe_path::LARGEST_ATTACHMENT;
use crate::store::{Changes, read, write};
use crate::trust::referred;
use crate::words;

/// Adds a record that is not there yet.
///
/// # Errors
/// `already-there`, and everything that the schema says against it.
pub(crate) fn add<T: Serialize>(
    desk: &Desk<'_>,
    path: &str,
    kind: Kind,
    record: &T,
    mut with: Changes,
    message: &str,
) -> Result<(), Vec<Fault>> {
    if desk.reading.book.root().join(path).symlink_metadata().is_ok() {
        return Err(vec![
            Fault::usage(
                "already-there",
                format!("there is a {} {} already", kind.name(), name_of(path, kind)),
            )
            .in_file(path)
            .fix(format!("choose another name, or {}", to_change(path, kind))),
        ]);
    }
    if kind == Kind::Project && desk.repo.head_snapshot()?.entry(path)?.is_some() {
        let message = format!(
            "there is a project {} already, in the part of the book that this clone does not hold",
            name_of(path, kind)
        );
        return Err(vec![Fault::usage("already-there", message).in_file(path).fix("choose another name")]);
    }
    put(path, kind, record, &mut with)?;
    desk.save(&with, message).map(|_| ()).map_err(|f| vec![*f])
}

/// Changes a record that is there.
///
/// # Errors
/// `unknown-record`, whatever the edit says, and everything that the schema says against the result.
pub(crate) fn change<T: Serialize + DeserializeOwned + PartialEq>(
    desk: &Desk<'_>,
    path: &str,
    kind: Kind,
    mut with: Changes,
    message: impl FnOnce(&T) -> String,
    edit: impl FnOnce(&mut T) -> Outcome<()>,
) -> Result<T, Vec<Fault>> {
    let mut record: T = existing(&desk.reading, path, kind)?;
    edit(&mut record)?;
    put(path, kind, &record, &mut with)?;
    let message = message(&record);
    desk.save(&with, &message)?;
    Ok(record)
}

/// Reads a record that must be there.
///
/// # Errors
/// `unknown-record`, with the names that there are.
pub(crate) fn existing<T: DeserializeOwned>(
    reading: &Reading,
    path: &str,
    kind: Kind,
) -> Result<T, Vec<Fault>> {
    if reading.book.root().join(path).symlink_metadata().is_err() {
        return Err(vec![unknown(reading, path, kind)]);
    }
    read::record(&reading.book, path, kind)
}

/// Takes out records and the files beside them.
///
/// # Errors
/// `unknown-record`, and what the disk or git says.
pub(crate) fn remove(
    desk: &Desk<'_>,
    path: &str,
    kind: Kind,
    beside: &[String],
    message: &str,
) -> Result<(), Vec<Fault>> {
    if desk.reading.book.root().join(path).symlink_metadata().is_err() {
        return Err(vec![unknown(&desk.reading, path, kind)]);
    }
    let book = &desk.reading.book;
    let mut changes = Changes::new();
    changes.remove(path);
    if let Some(project) = ProjectId::of_path(path) {
        let named_by = referred::named_by(book, &project);
        let stay = |by: &&String| *by != path && !beside.contains(by);
        let naming: Vec<&String> = named_by.get(path).into_iter().flatten().filter(stay).collect();
        if let Some(first) = naming.first() {
            let name = |file: &str| file.trim_start_matches(&format!("projects/{project}/")).to_owned();
            let all: Vec<String> = naming.iter().map(|file| name(file)).collect();
            return Err(vec![
                Fault::usage("still-named", format!("{} is used by {}", name(path), all.join(", ")))
                    .in_file(*first)
                    .fix("change that first, or remove it before this"),
            ]);
        }
        for file in beside.iter().filter(|f| book.root().join(f).exists()) {
            // A photo that another record shows as well stays.
            if !named_by.get(file).into_iter().flatten().any(|by| stay(&by)) {
                changes.remove(file.clone());
            }
        }
    }
    desk.save(&changes, message).map(|_| ()).map_err(|f| vec![*f])
}

/// The name that people gave a record: its file's, or for a project its folder's.
fn name_of(path: &str, kind: Kind) -> &str {
    let named =
        if kind == Kind::Project { path.strip_suffix("/project.json") } else { path.strip_suffix(".json") };
    named.and_then(|path| path.rsplit('/').next()).unwrap_or(path)
}

/// How a record that is there is changed, with the command where one does it.
fn to_change(path: &str, kind: Kind) -> String {
    let name = name_of(path, kind);
    let project = ProjectId::of_path(path).map(|id| id.to_string()).unwrap_or_default();
    match kind {
        Kind::Project => format!("change this one: underlit project change {name}"),
        Kind::Swatch | Kind::Panel => {
            format!("change this one: underlit {} change {project} {name}", kind.name())
        }
        Kind::Request | Kind::Trial => {
            format!("remove this one: underlit {} remove {project} {name}", kind.name())
        }
        _ => "change the one that is there".to_owned(),
    }
}

fn unknown(reading: &Reading, path: &str, kind: Kind) -> Fault {
    let (folder, _) = path.rsplit_once('/').unwrap_or(("", path));
    let name = name_of(path, kind);
    let known: Vec<String> = reading
        .book
        .files_of(folder, kind)
        .unwrap_or_default()
        .iter()
        .filter_map(|p| Some(p.rsplit('/').next()?.strip_suffix(".json")?.to_owned()))
        .collect();
    let none = format!("add it first; there is no {} in this project yet", kind.name());
    let remedy = words::instead_of(name, known.iter().map(String::as_str), &none);
    Fault::usage("unknown-record", format!("there is no {} {name}", kind.name())).fix(remedy)
}

/// Puts a record among what is to be written, where its schema has nothing against it.
pub(super) fn put<T: Serialize>(
    path: &str,
    kind: Kind,
    record: &T,
    with: &mut Changes,
) -> Result<(), Vec<Fault>> {
    let bytes = write::to_bytes(record)?;
    read::check_bytes(path, kind, &bytes)?;
    with.put(path, bytes);
    Ok(())
}

/// What becomes of what a photo tells of its maker.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum PhotoNotes {
    /// Place, time, owner and device go; orientation, colour profile and exposure stay.
    #[default]
    Removed,
    /// The file stays as it is.
    Kept,
}

/// Takes a file of the user's into the book, beside a record, under a name that fits every disk.
///
/// # Errors
/// As [`read_photo`].
pub(crate) fn attach(
    folder: &str,
    stem: &str,
    file: &Path,
    notes: PhotoNotes,
    with: &mut Changes,
) -> Outcome<Attachment> {
    let (bytes, ending) = read_photo(file, notes)?;
    attach_bytes(folder, &format!("{stem}.{ending}"), bytes, with)
}

/// Puts bytes beside a record under a name.
///
/// # Errors
/// `attachment`, where the name is none.
pub(crate) fn attach_bytes(
    folder: &str,
    name: &str,
    bytes: Vec<u8>,
    with: &mut Changes,
) -> Outcome<Attachment> {
    let name = name.parse().map_err(|e| Fault::usage("attachment", format!("{e}")))?;
    let attachment = Attachment { file: name, sha256: Sha256Digest::of(&bytes) };
    with.put(format!("{folder}/{}", attachment.file), bytes);
    Ok(attachment)
}

/// A file that the user names, as it goes into the book, with its ending in lower case. What is no photo stays as it is.
///
/// # Errors
/// `attachment`, where it cannot be read, is too large or has no usable ending; `photo-notes` for a photo whose notes
/// cannot be taken out.
pub(crate) fn read_photo(file: &Path, notes: PhotoNotes) -> Outcome<(Vec<u8>, String)> {
    let (bytes, ending) = read_users_file(file)?;
    if notes == PhotoNotes::Kept {
        return Ok((bytes, ending));
    }
    match without_private_notes(&bytes) {
        Cleaned::NoPhoto => Ok((bytes, ending)),
        Cleaned::Photo(clean) => Ok((clean, ending)),
        Cleaned::Unable(_) if is_heif(&bytes) => Err(Box::new(
            Fault::usage(PictureError::Heif.code(), PictureError::Heif.to_string())
                .in_file(file.display().to_string())
                .fix(format!(
                    "{}. To keep the file in the book as it is, which no page shows: --keep-photo-notes",
                    PictureError::Heif.remedy()
                )),
        )),
        Cleaned::Unable(why) => {
            let message = format!("the place, owner and device in this photo cannot be taken out: {why}");
            Err(Box::new(
                Fault::usage("photo-notes", message)
                    .in_file(file.display().to_string())
                    .fix("save it anew as JPEG or PNG, or take it in as it is with --keep-photo-notes"),
            ))
        }
    }
}

/// A file that the user names, with its ending in lower case.
///
/// # Errors
/// `attachment`.
pub(crate) fn read_users_file(file: &Path) -> Outcome<(Vec<u8>, String)> {
    let refuse = |message: String, remedy: &str| {
        Err(Box::new(Fault::usage("attachment", message).in_file(file.display().to_string()).fix(remedy)))
    };
    let ending = file.extension().and_then(|e| e.to_str()).map(str::to_ascii_lowercase).unwrap_or_default();
    if ending.is_empty() || !ending.bytes().all(|b| b.is_ascii_alphanumeric()) {
        return refuse(
            "the file name has no extension".into(),
            "add one that says what it is, like .jpg, .dxf or .csv",
        );
    }
    match fs::metadata(file) {
        Err(error) => refuse(format!("it cannot be read: {error}"), "check the name"),
        Ok(meta) if !meta.is_file() => refuse("it is not an ordinary file".into(), "name a file"),
        Ok(meta) if meta.len() > LARGEST_ATTACHMENT => refuse(
            format!("it has {} bytes; at most {LARGEST_ATTACHMENT} go into a book", meta.len()),
            "make it smaller first",
        ),
        Ok(_) => match fs::read(file) {
            Ok(bytes) => Ok((bytes, ending)),
            Err(error) => refuse(format!("it cannot be read: {error}"), "check its permissions"),
        },
    }
}

//! Reads the records of a book: strictly, against their schema, into their types; and says everything
//! that is wrong with a file at once.

use std::collections::BTreeMap;

use serde::de::DeserializeOwned;
use serde_json::Value;

use super::safe_path::LARGEST_ATTACHMENT;
use super::{BookFiles, schemas, sound, strict_json};
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::model::question_safety;

/// A file as it was read: its bytes, for digests and lines, and its value.
#[derive(Clone, Debug)]
pub(crate) struct Document {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Its value.
    pub value: Value,
}

/// Reads one record's file and checks it against its schema.
///
/// # Errors
/// Everything that is wrong with it, each with file, pointer, line and remedy.
pub(crate) fn document(book: &dyn BookFiles, path: &str, kind: Kind) -> Result<Document, Vec<Fault>> {
    let bytes = book.read(path, strict_json::LARGEST).map_err(|f| vec![*f])?;
    let value = check_bytes(path, kind, &bytes)?;
    Ok(Document { bytes, value })
}

/// Reads a file that a record names, once, and holds it to the digest that the record gives: the bytes that were judged
/// are the bytes that are used.
///
/// # Errors
/// What the disk says; `attachment-differs`, with what else the reader can do than put the file back.
pub(crate) fn attached(
    book: &dyn BookFiles,
    folder: &str,
    named: &Attachment,
    or_else: &str,
) -> Outcome<Vec<u8>> {
    let path = format!("{folder}/{}", named.file);
    let bytes = book.read(&path, LARGEST_ATTACHMENT)?;
    if Sha256Digest::of(&bytes) == named.sha256 {
        return Ok(bytes);
    }
    Err(Box::new(
        Fault::data("attachment-differs", "this file is not the one that its record names")
            .in_file(&path)
            .fix(format!("restore the file (git checkout -- {path}), or {or_else}")),
    ))
}

/// Checks the bytes of one record against its schema, a question also for what it may be about, and gives its value.
///
/// # Errors
/// Everything that is wrong with it.
pub fn check_bytes(path: &str, kind: Kind, bytes: &[u8]) -> Result<Value, Vec<Fault>> {
    let value = strict_json::parse(bytes).map_err(|f| vec![f.in_file(path)])?;
    let record = sound::named(kind, bytes);
    let known = record.is_some_and(sound::is_known);
    let mut faults = if known { Vec::new() } else { schemas::faults(kind, &value) };
    if let Some(record) = record.filter(|_| !known && faults.is_empty()) {
        sound::found(record);
    }
    if faults.is_empty() && kind == Kind::Conflict {
        faults = question_safety::faults(path, &value);
    }
    faults.extend(schema_elsewhere(path, kind, &value));
    if faults.is_empty() {
        return Ok(value);
    }
    Err(faults
        .into_iter()
        .map(|fault| {
            let line = strict_json::line_of(bytes, fault.pointer.as_deref().unwrap_or(""));
            fault.in_file(path).on_line(line)
        })
        .collect())
}

/// A schema that lies outside the book: an editor would fetch it from there and believe it.
fn schema_elsewhere(path: &str, kind: Kind, value: &Value) -> Option<Fault> {
    let address = value.get("$schema")?.as_str()?;
    let mut depth = path.matches('/').count();
    // What is not in the book yet has no place to climb from.
    let climbs_out = Kind::of_path(path) == Some(kind)
        && address.split('/').any(|part| match part {
            ".." if depth == 0 => true,
            ".." => {
                depth -= 1;
                false
            }
            _ => {
                depth += usize::from(!matches!(part, "" | "."));
                false
            }
        });
    let elsewhere = climbs_out || address.contains([':', '\\']) || address.starts_with('/');
    elsewhere.then(|| {
        Fault::data("schema-elsewhere", format!("its schema is said to lie at {address}, outside the book"))
            .at_pointer("/$schema")
            .fix("write the path of the book's own copy, such as ../../../schema/panel.schema.json")
    })
}

/// A checked value as its type.
///
/// # Errors
/// `record-type`, for the little that a schema cannot say and the type can, such as a day that no month has.
pub(crate) fn typed<T: DeserializeOwned>(path: &str, bytes: &[u8], value: &Value) -> Outcome<T> {
    serde_path_free(value).map_err(|message| {
        let line = serde_json::from_slice::<T>(bytes).err().map(|e| e.line()).filter(|l| *l > 0);
        Box::new(
            Fault::data("record-type", message)
                .in_file(path)
                .on_line(line)
                .fix("write the value as the schema's description says"),
        )
    })
}

fn serde_path_free<T: DeserializeOwned>(value: &Value) -> Result<T, String> {
    T::deserialize(value).map_err(|e| e.to_string())
}

/// Reads one record into its type.
///
/// # Errors
/// Everything that is wrong with it.
pub(crate) fn record<T: DeserializeOwned>(
    book: &dyn BookFiles,
    path: &str,
    kind: Kind,
) -> Result<T, Vec<Fault>> {
    let document = document(book, path, kind)?;
    typed(path, &document.bytes, &document.value).map_err(|f| vec![*f])
}

/// Records by path: bytes and value.
pub(crate) type Records = BTreeMap<String, (Vec<u8>, Value)>;

/// Every record at or beneath a folder that can be read.
#[must_use]
pub(crate) fn records(book: &dyn BookFiles, folder: &str) -> Records {
    let (paths, _) = book.walk(folder);
    let read = |path: String| {
        let kind = Kind::of_path(&path).filter(|kind| kind.has_schema())?;
        let bytes = book.read(&path, strict_json::LARGEST).ok()?;
        let value = check_bytes(&path, kind, &bytes).ok()?;
        Some((path, (bytes, value)))
    };
    paths.into_iter().filter_map(read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_schema_lies_in_the_book() {
        let good = include_str!("../../tests/samples/panel/valid/fewest-fields.json");
        let value: Value = serde_json::from_str(good).expect("JSON");
        let own = value["$schema"].as_str().expect("a path").to_owned();
        let check = |address: &str| {
            let text = good.replacen(&own, address, 1);
            check_bytes("projects/q/panels/front.json", Kind::Panel, text.as_bytes())
        };
        for address in
            [own.as_str(), "../../../schema/panel.schema.json", "./../../../schema/panel.schema.json"]
        {
            assert!(check(address).is_ok(), "{address}");
        }
        for address in [
            "https://a.example/panel.schema.json",
            "//a.example/panel.schema.json",
            "file:/panel.schema.json",
            "../../../../panel.schema.json",
            "../../../x/../../schema/panel.schema.json",
        ] {
            let faults = check(address).expect_err("refused");
            assert!(faults.iter().any(|fault| fault.code == "schema-elsewhere"), "{address}: {faults:?}");
        }
    }
}

//! What a record names: other records of its project, and the files beside it. Pure: whether they are there is asked
//! elsewhere.

use serde_json::{Map, Value};

use super::kind::Kind;
use crate::ids::ProjectId;

/// A file of the book that a record names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Named {
    /// Where in the record, as a JSON pointer.
    pub pointer: String,
    /// The path of what is named.
    pub path: String,
    /// The digest that the file has to have; none for a record, which is named by its id.
    pub sha256: Option<String>,
}

/// Fields that name another record of the same project, by kind: pointer pattern and folder.
const REFERENCES: &[(Kind, &str, &str)] = &[
    (Kind::Request, "/swatches/*", "swatches"),
    (Kind::Trial, "/swatch", "swatches"),
    (Kind::Trial, "/request", "requests"),
    (Kind::Panel, "/swatch", "swatches"),
    (Kind::Panel, "/slab/trial", "trials"),
    (Kind::Rendering, "/panel", "panels"),
    (Kind::AsBuilt, "/panels/*/id", "panels"),
    (Kind::AsBuilt, "/consignments/*/panels/*", "panels"),
    (Kind::AsBuilt, "/consignments/*/damage/*/panel", "panels"),
];

/// The records of the same project that a record names.
#[must_use]
pub(crate) fn records(path: &str, kind: Kind, value: &Value) -> Vec<Named> {
    let Some(project) = ProjectId::of_path(path) else { return Vec::new() };
    let patterns = REFERENCES.iter().filter(|(of, _, _)| *of == kind);
    let in_folder = |(_, pattern, folder): &(Kind, &str, &str)| {
        let named = texts_at(value, pattern).into_iter();
        named
            .map(|(pointer, name)| Named {
                pointer,
                path: format!("projects/{project}/{folder}/{name}.json"),
                sha256: None,
            })
            .collect::<Vec<_>>()
    };
    patterns.flat_map(in_folder).collect()
}

fn texts_at(value: &Value, pattern: &str) -> Vec<(String, String)> {
    let mut found: Vec<(String, &Value)> = vec![(String::new(), value)];
    for part in pattern.split('/').skip(1) {
        found = found
            .into_iter()
            .flat_map(|(pointer, value)| match (part, value) {
                ("*", Value::Array(items)) => {
                    items.iter().enumerate().map(|(i, v)| (format!("{pointer}/{i}"), v)).collect()
                }
                (key, Value::Object(fields)) => {
                    fields.get(key).map(|v| (format!("{pointer}/{key}"), v)).into_iter().collect::<Vec<_>>()
                }
                _ => Vec::new(),
            })
            .collect();
    }
    found.into_iter().filter_map(|(p, v)| Some((p, v.as_str()?.to_owned()))).collect()
}

/// The files that a record names. An open question names by path what it keeps of files; the values of its sides are
/// what records said in their own place, which need not be so any more.
#[must_use]
pub(crate) fn attached(path: &str, kind: Kind, value: &Value) -> Vec<Named> {
    if kind == Kind::Conflict {
        let sides = value.get("sides").and_then(Value::as_array).into_iter().flatten().enumerate();
        let kept = sides.filter_map(|(n, side)| {
            let text = |key: &str| Some(side.get(key)?.as_str()?.to_owned());
            Some(Named { pointer: format!("/sides/{n}"), path: text("file")?, sha256: Some(text("sha256")?) })
        });
        return kept.collect();
    }
    let beside = path.rsplit_once('/').map_or("", |(folder, _)| folder);
    let folder = if matches!(kind, Kind::AsBuilt | Kind::Installation) {
        format!("{beside}/handover")
    } else {
        beside.to_owned()
    };
    let found = attachments(value, "").into_iter();
    found
        .map(|(pointer, file, digest)| Named {
            pointer,
            path: format!("{folder}/{file}"),
            sha256: Some(digest),
        })
        .collect()
}

/// The name and digest of a value that is an attachment.
#[must_use]
pub(crate) fn attachment(value: &Value) -> Option<(&str, &str)> {
    let fields = value.as_object().filter(|fields| fields.len() == 2)?;
    Some((fields.get("file")?.as_str()?, fields.get("sha256")?.as_str()?))
}

/// Every attachment within a record: its pointer, its file's name and its digest.
fn attachments(value: &Value, pointer: &str) -> Vec<(String, String, String)> {
    if let Some((file, digest)) = attachment(value) {
        return vec![(pointer.to_owned(), file.to_owned(), digest.to_owned())];
    }
    match value {
        Value::Object(fields) => {
            fields.iter().flat_map(|(k, v)| attachments(v, &format!("{pointer}/{k}"))).collect()
        }
        Value::Array(items) => {
            items.iter().enumerate().flat_map(|(i, v)| attachments(v, &format!("{pointer}/{i}"))).collect()
        }
        _ => Vec::new(),
    }
}

/// A record that has nothing but a value at a place, so that what the value names can be read. A step like `id=front`
/// is an element of an array.
#[must_use]
pub(crate) fn nested(pointer: &str, value: &Value) -> Value {
    pointer.split('/').skip(1).collect::<Vec<_>>().into_iter().rev().fold(value.clone(), |inner, step| {
        let step = step.replace("~1", "/").replace("~0", "~");
        match (step.split_once('='), inner) {
            (Some((key, id)), Value::Object(mut fields)) => {
                fields.insert(key.to_owned(), id.into());
                Value::Array(vec![Value::Object(fields)])
            }
            (None, inner) if step.bytes().all(|b| b.is_ascii_digit()) && !step.is_empty() => {
                Value::Array(vec![inner])
            }
            (_, inner) => Value::Object(Map::from_iter([(step, inner)])),
        }
    })
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn a_value_in_its_place_names_what_it_names_there() {
        let photo = json!({"file": "front.jpg", "sha256": "ab"});
        let panel = nested("/panels/id=front/photo", &photo);
        assert_eq!(panel, json!({"panels": [{"photo": photo, "id": "front"}]}));
        let found = attached("projects/quay/as-built.json", Kind::AsBuilt, &panel);
        assert_eq!(found[0].path, "projects/quay/handover/front.jpg");
        assert_eq!(found[0].pointer, "/panels/0/photo");
        let trial = nested("/swatch", &json!("alba"));
        let found = records("projects/quay/trials/warm.json", Kind::Trial, &trial);
        assert_eq!(found[0].path, "projects/quay/swatches/alba.json");
        assert_eq!(nested("", &photo), photo);
    }
}

//! An open question as a merge makes it: what was there, and what each side made of it, who and when. The book keeps
//! it as a record of its own ([`crate::model::conflict`]).
//!
//! It is named by its content and its sides stand in the order in which they were made, so that two machines that
//! merge the same two histories write the same file. More than two sides meet in one record.

use serde_json::{Value, json};

use crate::digest::Sha256Digest;
use crate::model::conflict::{self, Conflict};

use super::equal::{by_text, identical};

/// Who set a place, and when, as the history tells it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Who {
    /// The moment in UTC, as RFC 3339 writes it.
    pub at: String,
    /// The name.
    pub by: String,
    /// The mail address.
    pub email: String,
    /// The commit, 40 hexadecimal digits.
    pub commit: String,
}

/// What one side made of the place.
#[derive(Clone, Debug, PartialEq)]
pub struct Side {
    /// The value; `None` where the side removed it, or where it is kept as a file.
    pub value: Option<Value>,
    /// Where the bytes are kept that are no record, as path and SHA-256.
    pub file: Option<(String, String)>,
    /// Who and when; `None` where the history does not tell.
    pub who: Option<Who>,
}

/// One open question, before it is a record.
#[derive(Clone, Debug, PartialEq)]
pub struct MergeConflict {
    /// The file it is about.
    pub path: String,
    /// The place in it, as [`super::at`] reads it; empty for the whole file.
    pub pointer: String,
    /// What was there before; `None` where nothing was, or where the file is no record.
    pub base: Option<Value>,
    /// Two or more sides, earliest first.
    pub sides: Vec<Side>,
}

impl MergeConflict {
    /// A question with its sides in order and each of them once.
    #[must_use]
    pub(crate) fn new(path: &str, pointer: &str, base: Option<Value>, mut sides: Vec<Side>) -> Self {
        sides.sort_by(|a, b| {
            let texts = || by_text(&json!(a.record()), &json!(b.record()));
            a.who.cmp(&b.who).then_with(texts)
        });
        sides.dedup();
        MergeConflict { path: path.to_owned(), pointer: pointer.to_owned(), base, sides }
    }

    /// The name of the question: 32 hexadecimal digits of the SHA-256 of what it says.
    #[must_use]
    pub fn id(&self) -> String {
        let mut digits = Sha256Digest::of(self.to_value(None).to_string().as_bytes()).hex();
        digits.truncate(32);
        digits
    }

    /// The record of it, which the book keeps.
    #[must_use]
    pub(crate) fn record(&self, schema: &str) -> Conflict {
        Conflict {
            schema: schema.to_owned(),
            path: self.path.clone(),
            pointer: self.pointer.clone(),
            base: self.base.clone(),
            sides: self.sides.iter().map(Side::record).collect(),
            unproven: None,
        }
    }

    /// The record's value, with `$schema` first where one is given. A base or value that is absent has no key.
    #[must_use]
    pub(crate) fn to_value(&self, schema: Option<&str>) -> Value {
        let mut value = json!(self.record(schema.unwrap_or_default()));
        if let (None, Some(map)) = (schema, value.as_object_mut()) {
            map.shift_remove("$schema");
        }
        value
    }

    /// Reads the record back.
    ///
    /// # Errors
    /// A sentence that says which field is missing or wrong.
    pub fn from_value(value: &Value) -> Result<Self, String> {
        let sides = value.get("sides").and_then(Value::as_array).ok_or("`sides` is not an array")?;
        let sides = sides.iter().map(Side::from_value).collect::<Result<Vec<_>, _>>()?;
        if sides.len() < 2 {
            return Err("`sides` has fewer than two".into());
        }
        let base = value.get("base").cloned();
        Ok(MergeConflict::new(&text(value, "path")?, &text(value, "pointer")?, base, sides))
    }

    /// The files that the question keeps.
    pub fn kept_files(&self) -> impl Iterator<Item = &str> {
        self.sides.iter().filter_map(|side| side.file.as_ref().map(|(path, _)| path.as_str()))
    }
}

impl Side {
    fn record(&self) -> conflict::Side {
        let (file, sha256) = self.file.clone().unzip();
        let who = self.who.as_ref();
        conflict::Side {
            value: self.value.clone(),
            file,
            sha256,
            by: who.map(|who| who.by.clone()),
            email: who.map(|who| who.email.clone()),
            at: who.map(|who| who.at.clone()),
            commit: who.map(|who| who.commit.clone()),
        }
    }

    fn from_value(value: &Value) -> Result<Self, String> {
        let file = match value.get("file") {
            Some(_) => Some((text(value, "file")?, text(value, "sha256")?)),
            None => None,
        };
        let who = match value.get("by") {
            Some(_) => Some(Who {
                at: text(value, "at")?,
                by: text(value, "by")?,
                email: text(value, "email")?,
                commit: text(value, "commit")?,
            }),
            None => None,
        };
        Ok(Side { value: value.get("value").cloned(), file, who })
    }
}

/// Two open questions about the same place of the same file, with the same base, made one. `None` where they are
/// not about the same.
#[must_use]
pub fn combine(a: &MergeConflict, b: &MergeConflict) -> Option<MergeConflict> {
    let about_the_same =
        a.path == b.path && a.pointer == b.pointer && identical(a.base.as_ref(), b.base.as_ref());
    about_the_same.then(|| {
        let sides = a.sides.iter().chain(&b.sides).cloned().collect();
        MergeConflict::new(&a.path, &a.pointer, a.base.clone(), sides)
    })
}

fn text(value: &Value, key: &str) -> Result<String, String> {
    let found = value.get(key).and_then(Value::as_str);
    found.map(ToOwned::to_owned).ok_or_else(|| format!("`{key}` is missing or no text"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(value: i64, at: &str) -> Side {
        let who =
            Who { at: at.into(), by: "Rep".into(), email: "rep@example.org".into(), commit: "0".repeat(40) };
        Side { value: Some(json!(value)), file: None, who: Some(who) }
    }

    #[test]
    fn whoever_writes_it_the_record_is_one() {
        let (a, b, c) = (
            side(3000, "2027-01-05T09:00:00Z"),
            side(4000, "2027-01-06T09:00:00Z"),
            side(1, "2027-01-04T09:00:00Z"),
        );
        let ours = MergeConflict::new("p.json", "/cct_k", Some(json!(2700)), vec![a.clone(), b.clone()]);
        let theirs = MergeConflict::new("p.json", "/cct_k", Some(json!(2700)), vec![b.clone(), a.clone()]);
        assert_eq!((ours.id(), ours.id().len()), (theirs.id(), 32));
        assert_eq!(MergeConflict::from_value(&ours.to_value(Some("x"))), Ok(ours.clone()));
        let more = MergeConflict::new("p.json", "/cct_k", Some(json!(2700)), vec![c.clone(), a.clone()]);
        let all = combine(&ours, &more).map(|all| all.sides);
        assert_eq!(all, Some(vec![c, a.clone(), b.clone()]));
        let elsewhere = MergeConflict::new("p.json", "/volts", None, vec![a, b]);
        assert_eq!(combine(&ours, &elsewhere), None);
        assert!(MergeConflict::from_value(&json!({"path": "p", "pointer": "", "sides": []})).is_err());
    }
}

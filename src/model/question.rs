//! Open questions as people answer them: edits of several places that one event brought about, such as a photo and the
//! record that names it, are one question, and have one answer. Pure.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::conflict::{Conflict, Side, Unproven, question_of};
use super::kind::Kind;
use super::references::{self, Named};

/// One question: the records of what is open, of which the first is the thing in question.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The path of each record and the record.
    pub records: Vec<(String, Conflict)>,
}

impl Question {
    /// The thing in question.
    #[must_use]
    pub fn first(&self) -> &Conflict {
        let (_, first) = &self.records[0];
        first
    }

    /// Its name, which is that of its first record.
    #[must_use]
    pub fn name(&self) -> &str {
        question_of(&self.records[0].0)
    }

    /// True where a beginning of a name is this question's: its own, or of any of its records.
    #[must_use]
    pub(crate) fn is_called(&self, beginning: &str) -> bool {
        self.records.iter().any(|(path, _)| question_of(path).starts_with(beginning))
    }

    /// The question in one line.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        self.first().in_words_of(self.unproven())
    }

    /// Why nobody can tell who asked it; none where the history shows it, and where nobody looked.
    #[must_use]
    pub fn unproven(&self) -> Option<Unproven> {
        self.records.iter().filter_map(|(_, record)| record.unproven).max()
    }

    /// Which edit of another of its records belongs to an edit of the first: the one that the first names by its digest,
    /// that was made in the same commit, or by the same person; else the one that is left.
    #[must_use]
    pub(crate) fn goes_with<'q>(&'q self, chosen: usize, other: &'q Conflict) -> Option<&'q Side> {
        let first = self.first();
        let of = |side: &Side| -> Option<usize> {
            let digest = side.sha256.as_deref();
            let names = |value: &Value| {
                let kind = Kind::of_path(&first.path)?;
                let whole = references::nested(&first.pointer, value);
                let named = references::attached(&first.path, kind, &whole);
                named.iter().any(|n| n.path == other.path && n.sha256.as_deref() == digest).then_some(())
            };
            let by_digest =
                |s: &Side| digest.is_some() && s.value.as_ref().is_some_and(|v| names(v).is_some());
            let by_commit = |s: &Side| s.commit.is_some() && s.commit == side.commit;
            let by_person = |s: &Side| s.by.is_some() && (&s.by, &s.email) == (&side.by, &side.email);
            let unmade = |s: &Side| s.commit.is_none() && side.commit.is_none();
            first
                .sides
                .iter()
                .position(by_digest)
                .or_else(|| first.sides.iter().position(by_commit))
                .or_else(|| first.sides.iter().position(by_person))
                .or_else(|| first.sides.iter().position(unmade))
        };
        let placed: Vec<(Option<usize>, &Side)> = other.sides.iter().map(|side| (of(side), side)).collect();
        if let Some((_, side)) = placed.iter().find(|(of, _)| *of == Some(chosen)) {
            return Some(side);
        }
        let mut left = placed.iter().filter(|(of, _)| of.is_none());
        let unclaimed = (0..first.sides.len()).filter(|n| placed.iter().all(|(of, _)| *of != Some(*n)));
        match (left.next(), left.next(), unclaimed.count()) {
            (Some((_, side)), None, 1) => Some(side),
            _ => None,
        }
    }
}

/// The questions that a folder's records make, by the paths of the records.
#[must_use]
pub(crate) fn questions(conflicts: &BTreeMap<String, Conflict>) -> Vec<Question> {
    let open: Vec<(&String, &Conflict)> = conflicts.iter().collect();
    let mut about: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (n, (_, conflict)) in open.iter().enumerate().filter(|(_, (_, c))| c.pointer.is_empty()) {
        about.entry(&conflict.path).or_default().push(n);
    }
    let mut group: Vec<usize> = (0..open.len()).collect();
    for (n, (_, conflict)) in open.iter().enumerate() {
        for file in belong_together(conflict) {
            for m in about.get(file.path.as_str()).into_iter().flatten().filter(|m| **m != n) {
                let (_, other) = open[*m];
                // A record that is named is one question with its reader only where it may be gone afterwards.
                if file.sha256.is_some() || conflict.has_removal() || other.has_removal() {
                    let (from, to) = (group[*m], group[n]);
                    group.iter_mut().filter(|g| **g == from).for_each(|g| *g = to);
                }
            }
        }
    }
    let mut found: BTreeMap<usize, Vec<(String, Conflict)>> = BTreeMap::new();
    for (n, (path, conflict)) in open.into_iter().enumerate() {
        found.entry(group[n]).or_default().push((path.clone(), conflict.clone()));
    }
    let mut found: Vec<Question> = found
        .into_values()
        .map(|mut records| {
            records.sort_by(|(_, a), (_, b)| {
                (rank(a), &a.path, &a.pointer).cmp(&(rank(b), &b.path, &b.pointer))
            });
            Question { records }
        })
        .collect();
    let place = |q: &Question| (q.first().path.clone(), q.first().pointer.clone(), q.records[0].0.clone());
    found.sort_by_key(place);
    found
}

/// The beginning of a question's name that no other has, after a space; nothing where it is the only one.
#[must_use]
pub(crate) fn short_name(open: &[Question], nth: usize) -> String {
    let Some(question) = open.get(nth).filter(|_| open.len() > 1) else { return String::new() };
    let name = question.name();
    let others = || open.iter().enumerate().filter(|(n, _)| *n != nth).map(|(_, q)| q);
    let unique = |length: &usize| {
        name.get(..*length).is_some_and(|beginning| others().all(|other| !other.is_called(beginning)))
    };
    let length = (4..name.len()).find(unique).unwrap_or(name.len());
    format!(" {}", &name[..length])
}

/// The files that any of a question's edits names, or what stood there before: what is open about them belongs to it.
pub(crate) fn belong_together(conflict: &Conflict) -> Vec<Named> {
    let Some(kind) = Kind::of_path(&conflict.path) else { return Vec::new() };
    let values = conflict.sides.iter().filter_map(|side| side.value.as_ref()).chain(&conflict.base);
    let mut found = Vec::new();
    for value in values {
        let whole = references::nested(&conflict.pointer, value);
        found.extend(references::attached(&conflict.path, kind, &whole));
        found.extend(references::records(&conflict.path, kind, &whole));
    }
    // The sheets of a rendering lie in one folder and stand and fall with the panel that it is named by.
    let parts: Vec<&str> = conflict.path.split('/').collect();
    if let ["projects", project, "renderings", panel, file] = parts.as_slice() {
        let named =
            |path: String, file: bool| Named { pointer: String::new(), path, sha256: file.then(String::new) };
        found.push(named(format!("projects/{project}/panels/{panel}.json"), false));
        // It was drawn of the panel's own drawing.
        found.push(named(format!("projects/{project}/panels/{panel}.outline.json"), true));
        if *file != "manifest.json" {
            found.push(named(format!("projects/{project}/renderings/{panel}/manifest.json"), true));
        }
    }
    found
}

/// What a question is called after: a record before the files beside it, and what names others before what is named.
fn rank(conflict: &Conflict) -> usize {
    const ORDER: [Kind; 9] = [
        Kind::Project,
        Kind::AsBuilt,
        Kind::Installation,
        Kind::Panel,
        Kind::Trial,
        Kind::Request,
        Kind::Swatch,
        Kind::Rendering,
        Kind::Outline,
    ];
    let kind = Kind::of_path(&conflict.path);
    ORDER.iter().position(|k| Some(*k) == kind).unwrap_or(ORDER.len())
}

/// The paths that questions are about and that their edits name.
#[must_use]
pub(crate) fn files_in_question<'q>(questions: impl IntoIterator<Item = &'q Question>) -> BTreeSet<String> {
    let records = questions.into_iter().flat_map(|q| &q.records);
    records
        .flat_map(|(_, conflict)| {
            let named = belong_together(conflict).into_iter().filter(|n| n.sha256.is_some()).map(|n| n.path);
            named.chain([conflict.path.clone()]).collect::<Vec<_>>()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn conflict(path: &str, pointer: &str, base: Option<Value>, sides: Value) -> Conflict {
        let path = format!("projects/quay/{path}");
        let mut value = json!({"$schema": "", "path": path, "pointer": pointer, "sides": sides});
        if let Some(base) = base {
            value["base"] = base;
        }
        serde_json::from_value(value).expect("a question")
    }

    fn named(conflicts: Vec<Conflict>) -> Vec<Question> {
        let path = |n: usize| format!("projects/quay/conflicts/{n}.json");
        questions(&conflicts.into_iter().enumerate().map(|(n, c)| (path(n), c)).collect())
    }

    #[test]
    fn a_photo_and_the_field_that_names_it_are_one_question_in_any_order() {
        let photo = |digest: &str| json!({"file": "alba.jpg", "sha256": digest});
        let field = conflict(
            "swatches/alba.json",
            "/photo",
            Some(photo("00")),
            json!([{"value": photo("aa"), "by": "Mara"}, {"value": photo("bb"), "by": "Tom"}]),
        );
        let file = conflict(
            "swatches/alba.jpg",
            "",
            None,
            json!([{"file": "c/b.jpg", "sha256": "bb", "by": "Tom"}, {"file": "c/a.jpg", "sha256": "aa", "by": "Mara"}]),
        );
        let stone = conflict(
            "swatches/alba.json",
            "/stone",
            Some(json!("White")),
            json!([{"value": "Grey"}, {"value": "Red"}]),
        );
        for order in [[&field, &file, &stone], [&stone, &file, &field], [&file, &stone, &field]] {
            let found = named(order.into_iter().cloned().collect());
            assert_eq!(found.len(), 2);
            assert_eq!((found[0].first(), found[0].records.len()), (&field, 2));
            assert_eq!(found[1].first(), &stone);
            assert_eq!(found[0].goes_with(0, &file).and_then(|s| s.sha256.as_deref()), Some("aa"));
            assert_eq!(found[0].goes_with(1, &file).and_then(|s| s.sha256.as_deref()), Some("bb"));
        }
    }

    #[test]
    fn a_stone_is_one_question_with_its_reader_only_where_something_may_be_gone() {
        let stone = |sides: Value| conflict("swatches/alba.json", "", Some(json!({"id": "alba"})), sides);
        let panel = |sides: Value| {
            conflict("panels/bar.json", "", Some(json!({"id": "bar", "swatch": "alba"})), sides)
        };
        let edits = json!([{"value": {"id": "x"}}, {"value": {"id": "y"}}]);
        assert_eq!(named(vec![stone(edits.clone()), panel(edits.clone())]).len(), 2);
        let gone = json!([{"by": "Tom"}, {"value": {"id": "x"}, "by": "Mara"}]);
        let found = named(vec![stone(gone), panel(edits)]);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].first().path, "projects/quay/panels/bar.json");
    }
}

//! What changed in a state, judged by one set of rules, wherever the state lies: an edit by hand, a commit of this clone
//! that nobody judged yet, what a sync brings in, a push. They differ in what the reader is told to do.

use std::collections::{BTreeMap, BTreeSet};

use super::chain::Chain;
use super::redraw::{self, Known};
use super::{check, stray};
use crate::fault::{Class, Fault, Means};
use crate::git::{ChangeKind, GitError, PathChange, Repo, Snapshot, TreeFile};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::model::rules::Rules;
use crate::store::{BookFiles, strict_json};

/// Whose changes they are, and so who puts right what is wrong with them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Whose {
    /// The reader's own, in the folder: nothing else that is wrong there is held against them.
    Own,
    /// Somebody else's, who pushed them.
    Theirs,
    /// The reader's own, who pushes them.
    Pushed,
}

/// Changes in a state, to be judged.
#[derive(Debug)]
pub(crate) struct Changed<'c> {
    /// The state: the files that changed, and the whole folder of each project in which one did.
    pub book: &'c dyn BookFiles,
    /// Its roster.
    pub chain: &'c Chain,
    /// The owners' rules; none where the shop does not hold, so that no project can be judged.
    pub rules: Option<&'c Rules>,
    /// What changed, by path.
    pub files: BTreeMap<&'c str, ChangeKind>,
    /// The records of projects that changed in nothing that a sheet says, by path.
    pub unsaid: BTreeSet<&'c str>,
    /// Whose changes they are.
    pub whose: Whose,
}

/// The projects in which something changed, in order.
#[must_use]
pub(crate) fn projects_of(changes: &[PathChange]) -> BTreeSet<ProjectId> {
    changes.iter().filter_map(|change| ProjectId::of_path(&change.path)).collect()
}

/// Changes between two states by path.
#[must_use]
pub(crate) fn by_path(changes: &[PathChange]) -> BTreeMap<&str, ChangeKind> {
    changes.iter().map(|change| (change.path.as_str(), change.kind())).collect()
}

/// The records of projects that changed, and in nothing that a sheet says ([`redraw::says_the_same`]), by path.
///
/// # Errors
/// What git says.
pub(crate) fn unsaid_on_sheets<'c>(
    state: &Snapshot<'_>,
    changes: &'c [PathChange],
) -> Result<BTreeSet<&'c str>, GitError> {
    let mut unsaid = BTreeSet::new();
    for change in changes.iter().filter(|change| Kind::of_path(&change.path) == Some(Kind::Project)) {
        let (Some(before), Some(after)) = (change.before, change.after) else { continue };
        let before = state.ask(before, <[u8]>::to_vec)?;
        if state.ask(after, |after| redraw::says_the_same(&before, after))? {
            unsaid.insert(change.path.as_str());
        }
    }
    Ok(unsaid)
}

/// What is wrong with a change of a file that is only ever added; nothing for any other change.
#[must_use]
pub(crate) fn add_only(path: &str, change: ChangeKind, in_a_merge: bool, whose: Whose) -> Option<Fault> {
    let done = match change {
        ChangeKind::Added => return None,
        ChangeKind::Edited => "changed",
        ChangeKind::Removed => "taken out",
    };
    let merge = if in_a_merge { ", in a merge that leaves out what one side has" } else { "" };
    let fix = match whose {
        Whose::Own => format!("put it back: git checkout -- {path}"),
        Whose::Theirs => "let whoever pushed it put it back".to_owned(),
        Whose::Pushed => {
            "put the file back as it was, in the same commit; `underlit sync` merges without losing one"
                .to_owned()
        }
    };
    let what = if Kind::of_path(path) == Some(Kind::Note) { "a note" } else { "what was signed" };
    let fault = || Fault::trust("add-only", format!("{what} is never {done}{merge}"));
    Kind::of_path(path).is_some_and(Kind::is_add_only).then(|| fault().in_file(path).fix(fix))
}

/// The notes of a project that were changed or taken out by hand since they were committed. What is signed shows that by its
/// signature; a note shows it only beside what was committed.
#[must_use]
pub(super) fn edited_notes(repo: &Repo, head: &Snapshot<'_>, id: &ProjectId) -> Vec<Fault> {
    let committed = head.files(&format!("projects/{id}/notes")).unwrap_or_default();
    let edited =
        committed.iter().filter(|note| matches!(repo.same_in_folder(&note.path, note.entry), Ok(false)));
    let fault = |note: &TreeFile| {
        let there = repo.lies_there(&note.path).unwrap_or(true);
        let change = if there { ChangeKind::Edited } else { ChangeKind::Removed };
        add_only(&note.path, change, false, Whose::Own)
    };
    edited.filter_map(fault).collect()
}

impl Changed<'_> {
    /// Everything that is wrong with what changed, up to about so many faults. `goes_on` is asked before each project.
    ///
    /// # Errors
    /// Why `goes_on` ends it.
    pub(crate) fn faults(
        &self,
        known: &Known,
        most: usize,
        goes_on: &dyn Fn() -> Result<(), Vec<Fault>>,
    ) -> Result<Vec<Fault>, Vec<Fault>> {
        let mut faults = Vec::new();
        for (path, change) in &self.files {
            faults.extend(self.of_file(path, *change));
            if faults.len() >= most {
                return Ok(faults);
            }
        }
        // What is said of a file so far says more than what it does not hold.
        let said: BTreeSet<String> = faults.iter().filter_map(|f| f.file.clone()).collect();
        let unsaid = |f: &Fault| f.file.as_ref().is_none_or(|file| !said.contains(file));
        let projects: BTreeSet<ProjectId> =
            self.files.keys().filter_map(|path| ProjectId::of_path(path)).collect();
        for id in &projects {
            goes_on()?;
            faults.extend(self.of_project(id, known).into_iter().filter(unsaid));
            if faults.len() >= most {
                break;
            }
        }
        faults.dedup();
        Ok(faults)
    }

    /// What is wrong with one file: its name, its kind, marks of a merge, and for one outside any project all that it
    /// holds.
    fn of_file(&self, path: &str, change: ChangeKind) -> Vec<Fault> {
        let gone = change == ChangeKind::Removed;
        if Kind::of_path(path).is_none() {
            let fix = match self.whose {
                Whose::Own => check::RENAME,
                Whose::Theirs => "let whoever pushed it take it out",
                Whose::Pushed => "take it out, or give it its right name",
            };
            return if gone { Vec::new() } else { vec![stray::fault(path, fix)] };
        }
        if let Some(fault) = add_only(path, change, false, self.whose) {
            return vec![fault];
        }
        if gone || !self.book.lies_there(path).unwrap_or(true) {
            return Vec::new();
        }
        match self.book.read(path, strict_json::LARGEST) {
            Ok(bytes) => match conflict_marker(&bytes) {
                Some(line) => vec![marked(path, line)],
                None if ProjectId::of_path(path).is_some() => Vec::new(),
                None => check::of_file(path, &bytes, self.rules).0,
            },
            // What is larger is no text that people merge.
            Err(fault) if fault.class == Class::Io => vec![*fault],
            Err(_) => Vec::new(),
        }
    }

    fn of_project(&self, id: &ProjectId, known: &Known) -> Vec<Fault> {
        let Some(rules) = self.rules else { return Vec::new() };
        match self.book.lies_there(&format!("projects/{id}")) {
            Ok(true) => {}
            Ok(false) => return Vec::new(),
            Err(fault) => return vec![*fault],
        }
        let changed = |path: &str| self.files.contains_key(path);
        let mut faults = check::project(self.book, id, self.chain, rules);
        if self.whose == Whose::Own {
            faults.retain(|fault| fault.is_about(changed));
        }
        // A sheet is drawn again where something changed that it is drawn from.
        let changed = |path: &str| changed(path) && !self.unsaid.contains(path);
        faults.extend(redraw::faults(self.book, id, &changed, known));
        faults
    }
}

/// Marks of an unfinished merge.
fn marked(path: &str, line: usize) -> Fault {
    Fault::data("conflict-marker", "a merge was not finished here: git's marks stand in the file")
        .that_means(Means::Marked)
        .in_file(path)
        .on_line(Some(line))
        .fix("keep one of the two sides and take the marks out; `underlit sync` merges without them")
}

/// The line of the first mark, where all three of them stand in order.
fn conflict_marker(bytes: &[u8]) -> Option<usize> {
    if bytes.contains(&0) {
        return None;
    }
    let mut lines = bytes.split(|b| *b == b'\n').enumerate();
    let mark = |line: &[u8], c: u8| {
        line.iter().take_while(|b| **b == c).count() == 7 && matches!(line.get(7), None | Some(b' ' | b'\r'))
    };
    let (first, _) = lines.find(|(_, line)| mark(line, b'<'))?;
    lines.find(|(_, line)| mark(line, b'='))?;
    lines.find(|(_, line)| mark(line, b'>'))?;
    Some(first + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_says_nothing_of_what_changed_beside_its_title() {
        let record = r#"{"id": "desk", "title": "Desk", "note": "one"}"#;
        let same = |after: &str| redraw::says_the_same(record.as_bytes(), after.as_bytes());
        assert!(same(r#"{"title": "Desk", "id": "desk", "install_date": "2027-01-05"}"#));
        for after in [
            r#"{"id": "desk", "title": "Desks"}"#,
            r#"{"id": "desks", "title": "Desk"}"#,
            r#"{"id": "desk"}"#,
            r#"{"id": "desk", "title": 1}"#,
            "{",
        ] {
            assert!(!same(after), "{after}");
        }
        assert!(!redraw::says_the_same(b"{}", b"{}"), "what neither says is not the same");
    }

    #[test]
    fn marks_of_a_merge_are_told_from_text_that_looks_like_them() {
        let marked = b"{\n<<<<<<< HEAD\n  \"a\": 1\n=======\n  \"a\": 2\n>>>>>>> theirs\n}\n";
        assert_eq!(conflict_marker(marked), Some(2));
        assert_eq!(conflict_marker(b"<<<<<<< a\r\n=======\r\n>>>>>>> b\r\n"), Some(1));
        for plain in
            ["# Title\n=======\n", "a <<<<<<< b\n=======\n>>>>>>> c\n", "<<<<<<<< 8\n=======\n>>>>>>>\n"]
        {
            assert_eq!(conflict_marker(plain.as_bytes()), None, "{plain}");
        }
    }
}

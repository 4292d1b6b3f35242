//! Files that are in no row of the table of kinds: which of them merely lie there, and which somebody meant for a record.
//!
//! A mail or a note that was saved into a book's folder is nobody's record. As long as nobody commits it, it is left
//! alone: no verb takes it in or stops at it, and `check` tells of it. What looks like a record under a wrong name, or
//! stands where git or the book looks for something else, is a fault; so is every stray file of a commit.

use crate::fault::Fault;
use crate::git::{GitError, Snapshot};
use crate::ids::check_name;
use crate::model::droppings::is_dropping;
use crate::model::kind::Kind;

/// The folders of a project.
const FOLDERS: [&str; 10] = [
    "swatches",
    "requests",
    "trials",
    "panels",
    "renderings",
    "handover",
    "conflicts",
    "signoffs",
    "moves",
    "notes",
];

/// The fault of a file that does not belong in a book, with what to do.
#[must_use]
pub(crate) fn fault(path: &str, remedy: &str) -> Fault {
    Fault::data("not-of-a-book", "a book has no file of that name").in_file(path).fix(remedy)
}

/// True for a path that is no record's and was not meant for one. One with a `/` at its end is a repository of its own.
#[must_use]
pub(crate) fn is_stray(path: &str) -> bool {
    Kind::of_path(path).is_none() && !is_dropping(path) && !is_meant(path)
}

/// True for a stray file that a commit does not have.
#[must_use]
pub(crate) fn lies_uncommitted(head: &Snapshot<'_>, path: &str) -> bool {
    is_stray(path) && matches!(head.entry(path), Ok(None) | Err(GitError::BadPath { .. }))
}

/// True where a name says that somebody meant something by it.
fn is_meant(path: &str) -> bool {
    let path = path.trim_end_matches('/');
    let lower = path.to_lowercase();
    let parts: Vec<&str> = lower.split('/').collect();
    let Some((name, folders)) = parts.split_last() else { return false };
    // Git reads its own lists in every folder, whether they are committed or not.
    if name.starts_with(".git") {
        return true;
    }
    let in_place_of_a_folder = match parts.as_slice() {
        [top] => ["projects", "roster", "shop", "schema", "conflicts"].contains(top),
        ["projects", _] => path.split('/').nth(1).is_some_and(|project| check_name(project).is_ok()),
        ["projects", _, folder] => FOLDERS.contains(folder),
        ["projects", _, "renderings", panel] => check_name(panel).is_ok(),
        _ => false,
    };
    let among_records = match folders {
        ["roster" | "shop" | "conflicts" | "projects"]
        | ["projects", _]
        | ["projects", _, "renderings", _] => true,
        ["projects", _, folder] => FOLDERS.contains(folder),
        _ => false,
    };
    let as_a_record = name.ends_with(".json") || name.ends_with(".sig");
    let in_other_letters = || Kind::of_path(&lower).is_some_and(Kind::has_schema);
    in_place_of_a_folder || (as_a_record && among_records) || in_other_letters()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_there_and_what_was_meant() {
        let long = format!("projects/q/handover/{}.jpg", "a".repeat(200));
        for path in [
            "no.txt",
            "Re: your bar.eml",
            "offer.json",
            "scan/2.pdf",
            "tool/",
            "projects/notes.txt",
            "projects/q/notes.docx",
            "projects/q/mail/export.json",
            "projects/q/panels/Front Panel.jpg",
            "projects/q/signoffs/answer.eml",
            "roster/who is who.txt",
            &long,
        ] {
            assert!(is_stray(path), "{path}");
        }
        for path in [
            "book.json",
            "Rules.json",
            "README.md",
            ".DS_Store",
            "projects",
            "projects/q",
            "projects/q/",
            "projects/q/panels",
            "projects/q/panels/",
            "projects/q/renderings/front",
            "projects/Quay Bar/project.json",
            "projects/q/Project.json",
            "projects/q/panels/Front Panel.json",
            "projects/q/panels/front.json",
            "projects/q/panels/front.dxf",
            "projects/q/signoffs/answer.sig",
            "projects/q/moves/x.json",
            "roster/1.json",
            "shop/other.json",
            "projects/q/.gitattributes",
            "projects/.gitignore",
            ".gitmodules",
        ] {
            assert!(!is_stray(path), "{path}");
        }
    }
}

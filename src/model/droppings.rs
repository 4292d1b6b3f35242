//! What desktops and editors leave in folders: never a file of a book, never in anybody's way.
//!
//! A dropping is ignored wherever files that nobody committed are looked at. One that lies in a commit is a stray file
//! like any other. What is not here: attachments that no record names; those are judged with the records.

/// What a new book's `.gitignore` says, so that stock git leaves droppings alone too.
pub const IGNORE: &str = "\
# What desktops and editors leave behind; nothing of a book is called so.
.DS_Store
._*
.AppleDouble
.Spotlight-V100
.Trashes
.Trash-*
.fseventsd
.directory
.fuse_hidden*
.nfs*
Thumbs.db
ehthumbs.db
Desktop.ini
desktop.ini
.idea/
.vscode/
__MACOSX/
~$*
.~lock.*#
.#*
*#
*~
*.kate-swp
*.swp
*.swo
*.bak
*.orig
*.rej
*.tmp
*.part
*.crdownload
* ([0-9]).*
* ([0-9][0-9]).*
* - Copy.*
* (copy).*
* copy.*
";

/// Names as a desktop or editor gives them, in lower case.
const NAMES: &[&str] = &[
    ".ds_store",
    ".appledouble",
    ".spotlight-v100",
    ".trashes",
    ".fseventsd",
    ".directory",
    ".idea",
    ".vscode",
    "__macosx",
    "thumbs.db",
    "ehthumbs.db",
    "desktop.ini",
];

/// How their names begin.
const STARTS: &[&str] = &["._", ".#", "~$", ".~lock.", ".trash-", ".fuse_hidden", ".nfs"];

/// How their names end.
const ENDS: &[&str] =
    &["~", "#", ".kate-swp", ".swp", ".swo", ".bak", ".orig", ".rej", ".tmp", ".part", ".crdownload"];

/// True for a path of which the file or a folder above is a dropping.
#[must_use]
pub fn is_dropping(path: &str) -> bool {
    path.split('/').any(is_dropping_name)
}

fn is_dropping_name(name: &str) -> bool {
    let name = name.to_lowercase();
    NAMES.contains(&name.as_str())
        || STARTS.iter().any(|start| name.starts_with(start))
        || ENDS.iter().any(|end| name.ends_with(end))
        || is_copy(&name)
}

/// True for the name that a file manager or browser gives a second copy: `front (1).json`, `front - Copy.json`.
fn is_copy(name: &str) -> bool {
    let Some((stem, _)) = name.split_once('.') else { return false };
    let numbered = stem
        .strip_suffix(')')
        .and_then(|rest| rest.rsplit_once(" ("))
        .is_some_and(|(_, n)| !n.is_empty() && n.len() <= 2 && n.bytes().all(|b| b.is_ascii_digit()));
    numbered || [" - copy", " copy", " (copy)"].iter().any(|end| stem.ends_with(end))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn droppings_and_files_of_a_book() {
        for path in [
            ".DS_Store",
            "projects/q/.DS_Store",
            "projects/q/swatches/._honey.jpg",
            "projects/q/swatches/Thumbs.db",
            "Desktop.ini",
            "projects/q/panels/.front.json.swp",
            "projects/q/panels/front.json~",
            "projects/q/panels/.#front.json",
            "projects/q/panels/#front.json#",
            "projects/q/panels/front.json.bak",
            "projects/q/panels/front.json.orig",
            "projects/q/panels/front.tmp",
            "projects/q/panels/front (1).json",
            "projects/q/panels/front - Copy.json",
            "projects/q/~$offer.docx",
            ".vscode/settings.json",
            "__MACOSX/projects/x",
        ] {
            assert!(is_dropping(path), "{path}");
        }
        for path in [
            "book.json",
            ".gitignore",
            "projects/q/panels/front.json",
            "projects/tmp/panels/bak.json",
            "projects/q/panels/copy.json",
            "projects/q/conflicts/0123.json.kept",
            "projects/q/handover/photo-1.jpg",
        ] {
            assert!(!is_dropping(path), "{path}");
        }
    }
}

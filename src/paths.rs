//! The one judge of paths: what a file of a book may be called, so that it harms no clone on any system.
//!
//! Everything that reads a tree or a folder, and everything that writes into a book, asks here: the folder walk,
//! commits of git, questions, packs, whole writes. `git fsck --strict` lets most of this pass. The rules are those of
//! the least careful system: NTFS and Windows devices, HFS+ and its ignored code points, disks that ignore case or
//! compose letters. What is not here: which paths belong in a book; that is `model::kind`.
//!
//! Sources: git's own `is_ntfs_dotgit`, `is_hfs_dotgit` and `is_git_directory` (what git takes for its folder), and
//! Microsoft's "Naming Files, Paths, and Namespaces" (devices, reserved characters), both read from memory.

use std::collections::BTreeMap;

use unicode_normalization::UnicodeNormalization as _;

use crate::visible::{is_hidden, on_one_line};

/// The longest path, in bytes, that every system can hold below a folder of its own.
pub(crate) const LONGEST: usize = 200;

/// The most names in a path.
pub(crate) const DEEPEST: usize = 12;

/// What is wrong with a repository inside the book: git commits a mark in its place, and none of its files.
pub(crate) const REPOSITORY: &str = "is a repository of its own, of which no other clone gets a file";

/// A path that some clone could be harmed by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnsafePath {
    /// The path.
    pub path: String,
    /// What is wrong with it, as the end of a sentence that begins with the path.
    pub what: String,
}

impl UnsafePath {
    /// A path and what is wrong with it.
    #[must_use]
    pub(crate) fn new(path: &str, what: impl Into<String>) -> Self {
        UnsafePath { path: path.to_owned(), what: what.into() }
    }

    /// The same as a fault. Every judge says it with the same code, and of a repository inside the book with the same
    /// remedy.
    #[must_use]
    pub(crate) fn fault(&self, remedy: &str) -> crate::fault::Fault {
        let path = on_one_line(&self.path);
        let fault = crate::fault::Fault::data("unsafe-path", format!("this path {}", self.what))
            .that_means(crate::fault::Means::NotPlain);
        let fault = match self.what == REPOSITORY {
            true => fault.fix(format!(
                "move that folder out of the book, then: git rm --cached '{path}'; a commit that has it already is taken out by `underlit sync --drop-refused`"
            )),
            false => fault.fix(remedy),
        };
        fault.in_file(path)
    }
}

/// A name as the least careful system sees it: without case, without a difference between ways to compose letters,
/// without what cannot be seen.
#[must_use]
pub(crate) fn as_the_same(name: &str) -> String {
    // What nearly every name is made of: nothing to compose, and nothing hidden.
    if name.bytes().all(|b| b.is_ascii_graphic() || b == b' ') {
        return name.to_ascii_lowercase();
    }
    composed(name)
}

fn composed(name: &str) -> String {
    let seen: String = name.chars().filter(|c| !is_hidden(*c)).collect();
    seen.nfkc().flat_map(char::to_lowercase).nfc().collect()
}

/// What one name of a path, a file's or a folder's, does to some system; nothing for one that is safe everywhere.
#[must_use]
pub(crate) fn name_fault(name: &str) -> Option<&'static str> {
    let same = as_the_same(name);
    if matches!(name, "" | "." | "..") || name.contains(['/', '\\', '\0']) || is_gits_own(name) {
        Some("has a name that reaches out of its folder")
    } else if is_device(name) {
        Some("has a name that is a device on some systems")
    } else if name.ends_with('.') || name.ends_with(' ') || name.starts_with(' ') {
        Some("has a name that begins or ends in a space, or ends in a dot")
    } else if name.chars().any(|c| c.is_control() || "<>:\"|?*".contains(c)) {
        Some("has a letter in its name that some systems do not allow")
    } else if name.chars().any(is_hidden) {
        Some("has a letter in its name that cannot be seen")
    } else if is_short_form(&same) {
        Some("has a name that stands for another on some systems")
    } else {
        None
    }
}

/// What a file's own name does beyond [`name_fault`]: a folder with a file `HEAD` can be a repository, whose settings
/// would run programs for whoever looks at it with git. None can be one without.
#[must_use]
pub(crate) fn file_name_fault(name: &str) -> Option<&'static str> {
    let head = as_the_same(name) == "head";
    name_fault(name).or(head.then_some("would make its folder a repository of its own, which runs programs"))
}

/// What is wrong with the path of a file by itself, with `/` between its names.
#[must_use]
pub(crate) fn path_fault(path: &str) -> Option<String> {
    let names = path.split('/').count();
    if path.len() > LONGEST {
        return Some(format!("is longer than {LONGEST} bytes"));
    }
    if names > DEEPEST {
        return Some(format!("lies deeper than {DEEPEST} folders"));
    }
    path.split('/')
        .enumerate()
        .find_map(|(nth, name)| if nth + 1 == names { file_name_fault(name) } else { name_fault(name) })
        .map(ToOwned::to_owned)
}

/// True where some system takes a name for git's own folder: `.GIT`, `.git.`, `git~1`, `.g\u{200c}it`,
/// `.git::$INDEX_ALLOCATION`.
#[must_use]
pub(crate) fn is_gits_own(name: &str) -> bool {
    let same = as_the_same(name);
    let stem = same.split(':').next().unwrap_or(&same).trim_end_matches(['.', ' ']);
    stem == ".git" || stem.strip_prefix("git~").is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()))
}

/// True for a name that Windows keeps for a device, whatever follows a dot.
#[must_use]
pub(crate) fn is_device(name: &str) -> bool {
    let same = as_the_same(name);
    let stem = same.split(['.', ':']).next().unwrap_or(&same).trim_end();
    let numbered = |port: &str| {
        stem.strip_prefix(port).is_some_and(|n| n.len() == 1 && n.bytes().all(|b| b.is_ascii_digit()))
    };
    ["con", "prn", "aux", "nul", "conin$", "conout$", "clock$"].contains(&stem)
        || numbered("com")
        || numbered("lpt")
}

/// True for the form `NAME~1` that NTFS gives long names beside their own: it would reach the file of another name.
fn is_short_form(same: &str) -> bool {
    let stem = same.split('.').next().unwrap_or(same);
    let Some((before, number)) = stem.rsplit_once('~') else { return false };
    !before.is_empty() && stem.len() <= 8 && !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit())
}

/// What is said of a name that some system cannot tell from an earlier one.
#[must_use]
pub(crate) fn twin_of(first: &str) -> String {
    format!("is the same name as `{}` on some systems", on_one_line(first))
}

/// Every path that is wrong by itself, or that some system cannot tell from an earlier one.
#[must_use]
pub(crate) fn unsafe_paths<'p>(paths: impl IntoIterator<Item = &'p str>) -> Vec<UnsafePath> {
    let mut found = Vec::new();
    let mut seen: BTreeMap<String, &str> = BTreeMap::new();
    for path in paths {
        if let Some(what) = path_fault(path) {
            found.push(UnsafePath::new(path, what));
        }
        // Each folder above counts as a name too: `A/x` and `a/y` are one folder to some systems.
        let ends = path.match_indices('/').map(|(end, _)| end).chain([path.len()]);
        for end in ends {
            let here = &path[..end];
            let first = *seen.entry(as_the_same(here)).or_insert(here);
            if first != here {
                found.push(UnsafePath::new(path, twin_of(first)));
                break;
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_names_are_seen_as_all_others_are() {
        for code in 0..=0x17f_u32 {
            let name = format!("A{}b", char::from_u32(code).expect("a letter"));
            assert_eq!(as_the_same(&name), composed(&name), "{code:#x}");
        }
    }

    #[test]
    fn paths_of_books_are_safe() {
        let digest = "a".repeat(64);
        for path in [
            "book.json",
            "README.md",
            ".gitattributes",
            ".gitignore",
            ".github/workflows/check.yml",
            "roster/0001.mara.sig",
            "projects/head/panels/head.json",
            "projects/head/renderings/head/sheet.svg",
            "projects/q/panels/front.outline.json",
            "projects/q/swatches/console.jpg",
            "projects/q/swatches/com.jpg",
            "projects/q/swatches/com10.jpg",
            &format!("projects/{}/signoffs/{digest}.json", "x".repeat(48)),
        ] {
            assert_eq!(path_fault(path), None, "{path}");
        }
    }

    #[test]
    fn names_that_harm_some_clone() {
        let out = "reaches out";
        for (path, words) in [
            ("", out),
            ("/etc/passwd", out),
            ("a//b", out),
            ("a/../b", out),
            ("./a", out),
            (r"a\b", out),
            (r"a/..\b", out),
            ("C:/a", "do not allow"),
            (".git/config", out),
            ("a/.GIT/config", out),
            ("a/.git", out),
            ("a/.git./config", out),
            ("a/.git /config", out),
            ("a/.git ./config", out),
            ("a/.git::$INDEX_ALLOCATION/config", out),
            ("a/.git:x", out),
            ("a/git~1/config", out),
            ("a/GIT~2", out),
            ("a/git~1 ", out),
            ("a/.g\u{200c}it/config", out),
            ("a/\u{feff}.git/config", out),
            ("a/.\u{ff27}it/config", out),
            ("a/.gi\u{202e}t", out),
            ("a/con", "a device"),
            ("a/CON.json", "a device"),
            ("a/com0.txt", "a device"),
            ("a/com\u{b9}.txt", "a device"),
            ("a/lpt9 .txt", "a device"),
            ("a/conin$", "a device"),
            ("a/nul:x", "a device"),
            ("a/b.", "in a dot"),
            ("a/b ", "a space"),
            ("a/ b", "a space"),
            ("a/b\n", "do not allow"),
            ("a/b\u{1b}[2J", "do not allow"),
            ("a/b?", "do not allow"),
            ("a/b::$DATA", "do not allow"),
            ("a/b\u{202e}gpj.exe", "cannot be seen"),
            ("a/b\u{200b}", "cannot be seen"),
            ("a/b\u{2066}", "cannot be seen"),
            ("a/b\u{61c}", "cannot be seen"),
            ("a/gitmod~1", "stands for another"),
            ("a/PROJEC~1/x", "stands for another"),
            (".ci/HEAD", "a repository of its own"),
            ("a/head", "a repository of its own"),
            ("a/he\u{fe0f}ad\u{200b}", "cannot be seen"),
            ("1/2/3/4/5/6/7/8/9/10/11/12/13", "deeper than"),
            (&"a".repeat(201), "longer than"),
        ] {
            let said = path_fault(path).unwrap_or_default();
            assert!(said.contains(words), "{path:?}: {said}");
        }
    }

    #[test]
    fn twins_are_found_whatever_makes_them_one() {
        for (one, two) in [
            ("a.json", "A.json"),
            ("A/x", "a/y"),
            ("caf\u{e9}", "cafe\u{301}"),
            ("\u{fb01}x", "fix"),
            ("x\u{200b}", "x"),
            ("\u{212a}", "k"),
        ] {
            assert!(unsafe_paths([one, two]).iter().any(|u| u.what.contains("the same name")), "{one} {two}");
        }
        assert_eq!(unsafe_paths(["a/b", "a/c", "b/b"]), vec![]);
    }
}

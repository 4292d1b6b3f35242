//! Names and kinds of files that `git fsck --strict` lets pass and that harm some clone: links, submodules,
//! executables, twins by case or by Unicode form, device names, trailing dots and spaces, and more.

use super::name;

/// What a tree can do to a clone that `git fsck --strict` lets pass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trick {
    /// The path.
    pub path: String,
    /// What is wrong with it, as the end of a sentence that begins with the path.
    pub what: String,
}

/// The longest path that every system can hold below a folder of its own.
pub(crate) const LONGEST: usize = 200;

/// A name as the least careful system sees it: without case, without a difference between ways to compose letters.
pub(crate) fn fold(name: &str) -> String {
    use unicode_normalization::UnicodeNormalization;
    name.nfkc().flat_map(char::to_lowercase).nfc().collect()
}

/// What is wrong with an entry that is no plain file.
pub(crate) fn odd_kind(kind: super::EntryKind) -> Option<&'static str> {
    match kind {
        super::EntryKind::File => None,
        super::EntryKind::Link => Some("is a symbolic link"),
        super::EntryKind::Submodule => Some("is a repository of its own"),
        super::EntryKind::Executable => Some("is marked as a program"),
    }
}

/// Finds such paths in a whole tree, by path in byte order, as [`super::Snapshot::files`] gives it.
#[must_use]
pub fn tricks(files: &[super::TreeFile]) -> Vec<Trick> {
    use std::collections::BTreeMap;

    let mut found = Vec::new();
    let mut seen: BTreeMap<String, &str> = BTreeMap::new();
    for file in files {
        let path = file.path.as_str();
        let mut say = |what: String| found.push(Trick { path: path.to_owned(), what });
        if let Some(what) = odd_kind(file.entry.kind) {
            say(what.into());
        }
        if path.len() > LONGEST {
            say(format!("is longer than {LONGEST} bytes"));
        }
        if let Some(what) = path.split('/').find_map(odd_name) {
            say(what.into());
        }
        // Each folder above counts as a name too: `A/x` and `a/y` are one folder to some systems.
        let ends = path.match_indices('/').map(|(end, _)| end).chain([path.len()]);
        for end in ends {
            let here = &path[..end];
            let first = *seen.entry(fold(here)).or_insert(here);
            if first != here {
                say(twin_of(first));
                break;
            }
        }
    }
    found
}

pub(crate) fn twin_of(first: &str) -> String {
    format!("is the same name as `{first}` on some systems")
}

/// What is wrong with one name of a path.
pub(crate) fn odd_name(part: &str) -> Option<&'static str> {
    let stem = part.split('.').next().unwrap_or(part).trim_end().to_ascii_lowercase();
    let numbered = |port: &str| {
        stem.strip_prefix(port).is_some_and(|n| n.len() == 1 && n != "0" && n.parse::<u8>().is_ok())
    };
    let lower = part.to_ascii_lowercase();
    if name::inside(part).is_err() || lower.starts_with("git~") || lower.starts_with(".git ") {
        Some("has a name that reaches out of its folder")
    } else if ["con", "prn", "aux", "nul"].contains(&stem.as_str()) || numbered("com") || numbered("lpt") {
        Some("has a name that is a device on some systems")
    } else if part.ends_with('.') || part.ends_with(' ') {
        Some("has a name that ends in a dot or a space")
    } else if part.chars().any(|c| c.is_control() || "<>:\"|?*".contains(c)) {
        Some("has a letter in its name that some systems do not allow")
    } else if part.chars().any(|c| matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')) {
        Some("has a letter in its name that cannot be seen")
    } else {
        None
    }
}

//! Files of a book that are no records: what they may not say, because it would change or hide what was signed, or run
//! on somebody's machine.
//!
//! `.gitattributes` may not change bytes, `.gitignore` may not hide a record, a copy of a schema has to be this
//! program's, and a file for the host's own services (`.github/…`, `.ci/…`) counts only where the owners' sealed rules
//! name it with its digest. `check`, hand edits, `sync`, the guard and `resolve` all ask here.

use super::incoming;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means};
use crate::model::kind::Kind;
use crate::model::rules::Rules;
use crate::secrets;
use crate::store::{BookFiles, schemas};
use crate::visible::is_hidden;

/// Where git's attributes stand.
const ATTRIBUTES: &str = ".gitattributes";

/// Where git's list of ignored files stands.
const IGNORE: &str = ".gitignore";

/// Attributes with which git writes other bytes into a folder than history holds: no digest would fit there.
const CHANGING: &[&str] =
    &["text", "crlf", "eol", "ident", "filter", "working-tree-encoding", "export-subst"];

/// What may stand at the top of a book; nothing that a line of `.gitignore` may name.
const TOP: &[&str] = &["projects", "roster", "shop", "schema", "conflicts", "book.json", "rules.json"];

/// Endings of records and of what lies beside them.
const ENDINGS: &[&str] = &[
    "json", "sig", "kept", "pdf", "png", "jpg", "jpeg", "svg", "dxf", "csv", "eml", "txt", "ics", "md",
    "html",
];

/// True for a file that is judged here.
#[must_use]
pub(crate) fn is_judged(path: &str) -> bool {
    matches!(Kind::of_path(path), Some(Kind::Housekeeping | Kind::Schema))
}

/// Everything that is wrong with such a file, by the owners' rules where they are known; nothing for any other file.
#[must_use]
pub(crate) fn faults(path: &str, bytes: &[u8], rules: Option<&Rules>) -> Vec<Fault> {
    match (Kind::of_path(path), path) {
        (Some(Kind::Schema), _) => schema_copy(path, bytes).into_iter().collect(),
        (_, ATTRIBUTES) => lines(bytes).filter_map(|(n, line)| changing(n, line)).collect(),
        (_, IGNORE) => lines(bytes).filter_map(|(n, line)| hiding(n, line)).collect(),
        _ if Kind::is_for_the_host(path) => {
            rules.and_then(|r| for_the_host(path, bytes, r)).into_iter().collect()
        }
        _ => Vec::new(),
    }
}

/// The lines that say something, with their numbers from 1.
fn lines(bytes: &[u8]) -> impl Iterator<Item = (usize, &str)> {
    let text = str::from_utf8(bytes).unwrap_or("\u{fffd}");
    let said = |(_, line): &(usize, &str)| !line.trim().is_empty() && !line.starts_with('#');
    text.lines().enumerate().map(|(n, line)| (n + 1, line)).filter(said)
}

/// A line that tells git to change the bytes of files.
fn changing(number: usize, line: &str) -> Option<Fault> {
    let named = |word: &str| CHANGING.contains(&word.split('=').next().unwrap_or(word));
    let changing = line.trim().starts_with("[attr]") || line.split_whitespace().skip(1).any(named);
    changing.then(|| {
        Fault::trust("bytes-changed", "with this line git writes other bytes than were signed")
            .in_file(ATTRIBUTES)
            .on_line(Some(number))
            .fix("keep `* -text`, and take this line out")
    })
}

/// A line that hides from git what a book may hold, so that it would be left out of a commit unseen.
fn hiding(number: usize, line: &str) -> Option<Fault> {
    (!hides_nothing(line)).then(|| {
        Fault::trust("hides-records", "this line could hide records from git")
            .in_file(IGNORE)
            .on_line(Some(number))
            .fix("take the line out; lines are fine that name a folder of your own as /name/, a hidden file, or files by an ending that no book has, such as *.log")
    })
}

/// True for a pattern that surely matches no path of a book, however it is read.
fn hides_nothing(line: &str) -> bool {
    let pattern = line.trim_end();
    if pattern.chars().any(is_hidden) {
        return false;
    }
    if pattern.starts_with('!') {
        return true; // it ignores less
    }
    let anchored = pattern.trim_end_matches('/').contains('/');
    let parts: Vec<&str> = pattern.trim_matches('/').split('/').collect();
    let plain = |part: &str| !part.is_empty() && !part.contains(['*', '?', '[', '\\']);
    if anchored {
        let first = parts[0].to_lowercase();
        return plain(&first) && !TOP.contains(&first.as_str()) && !first.starts_with(".git");
    }
    let name = parts[0].to_lowercase();
    // What no name of a book has: a dot or tilde in front, a space, a sign of an editor.
    let literal = |sign: char| name.contains(sign) && !name.contains(['[', '\\']);
    let foreign = ['~', '#', '$', '('].into_iter().any(literal) || name.trim_end().contains(' ');
    if foreign
        || (name.starts_with('.')
            && !name.starts_with(".g")
            && !name.starts_with(".*")
            && !name.starts_with(".?")
            && !name.starts_with(".["))
    {
        return true;
    }
    if let Some(ending) = name.strip_prefix("*.") {
        return plain(ending) && !ending.contains('.') && !ENDINGS.contains(&ending);
    }
    matches!(
        name.as_str(),
        "thumbs.db" | "ehthumbs.db" | "desktop.ini" | "__macosx" | "__pycache__" | "node_modules"
    )
}

/// A book's copy of a schema must be this program's, or editors would promise what underlit does not keep.
fn schema_copy(path: &str, bytes: &[u8]) -> Option<Fault> {
    let name = path.strip_prefix("schema/")?;
    let (message, fix) = match schemas::published().iter().find(|(n, _)| n == name) {
        Some((_, text)) if text.as_bytes() == bytes => return None,
        Some(_) => (
            "this is not the schema that this underlit checks with",
            "underlit schemas --into schema; where a newer underlit made it, install that one",
        ),
        None => ("this underlit has no schema of that name", "remove the file"),
    };
    Some(Fault::data("schema-differs", message).that_means(Means::OtherRelease).in_file(path).fix(fix))
}

/// A file that the host runs or reads counts only as the owners sealed it.
fn for_the_host(path: &str, bytes: &[u8], rules: &Rules) -> Option<Fault> {
    let digest = Sha256Digest::of(bytes);
    let named = rules.host_files.iter().find(|file| file.file == path);
    let what = match named {
        Some(file) if file.sha256 == digest => return None,
        Some(_) => "this file is not the one that the owners' rules name",
        None => "the host could run this file, and the owners' rules do not name it",
    };
    let remedy = format!(
        "take it out, or let an owner write {{\"file\": \"{path}\", \"sha256\": \"{digest}\"}} under \"host_files\" in rules.json and seal it: underlit roster seal"
    );
    Some(Fault::trust("host-file", what).in_file(path).fix(remedy))
}

/// The files of a book that hold a private key.
pub(super) fn private_keys(book: &dyn BookFiles, paths: &[String]) -> Vec<Fault> {
    let of_the_book = paths.iter().filter(|path| Kind::of_path(path).is_some());
    let held = of_the_book.filter(|path| {
        let bytes = book.read(path, incoming::largest(path));
        bytes.is_ok_and(|bytes| secrets::holds_private_key(&bytes))
    });
    held.map(|path| secrets::fault(path)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::droppings;

    #[test]
    fn attributes_that_change_bytes_are_named() {
        let found = |text: &str| faults(ATTRIBUTES, text.as_bytes(), None).len();
        assert_eq!(found("* -text\n*.json merge=underlit\n*.jpg -diff\n"), 0);
        for line in ["* text=auto", "*.json eol=crlf", "*.json ident", "x filter=lfs", "[attr]a eol=lf"] {
            assert_eq!(found(line), 1, "{line}");
        }
    }

    #[test]
    fn ignored_lines_that_could_hide_a_record_are_named() {
        let found = |text: &str| faults(IGNORE, text.as_bytes(), None).len();
        assert_eq!(found(droppings::IGNORE), 0);
        for line in
            ["/build/", "/target", "*.log", ".venv/", "!projects/", "/notes/*.txt", ".DS_Store", "# x"]
        {
            assert_eq!(found(line), 0, "{line}");
        }
        for line in [
            "*",
            "**",
            "*.json",
            "*.JSON",
            "*.sig",
            "projects/",
            "/projects/*/signoffs/",
            "Projects/**",
            "signoffs/",
            "notes",
            "[s]ignoffs",
            "**/moves/**",
            "/**/x",
            "/*/x",
            "/pro*",
            "*.j*",
            "*.?pg",
            "conflicts",
            ".g*",
            ".*",
            "[~a-z]*",
            "\\projects",
            "\u{feff}projects/",
            "\u{feff}projects/*/x",
        ] {
            assert_eq!(found(line), 1, "{line}");
        }
    }
}

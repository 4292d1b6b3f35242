//! Every kind of record: its name, its schema, and where its files lie in a book.
//!
//! This is the one table that says which path holds what; reading, checking, merging and guarding all
//! ask it. A path that is in no row does not belong in a book.

use crate::ids::{FileName, check_name};

/// How the name of a file begins that is being written: it takes its own name once it is whole. One that a kill left
/// behind is nobody's, and nothing reads it.
pub(crate) const WRITING: &str = ".writing-";

/// True where the last part of a path names a file that was being written.
#[must_use]
pub(crate) fn is_being_written(path: &str) -> bool {
    path.rsplit('/').next().is_some_and(|name| name.starts_with(WRITING))
}

/// A kind of record or file of a book.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// `book.json`.
    Book,
    /// `roster/NNNN.json`.
    Roster,
    /// `roster/NNNN.<person>.sig`.
    RosterSignature,
    /// `rules.json`.
    Rules,
    /// `shop/routes.json`.
    Routes,
    /// `shop/lights.json`.
    Lights,
    /// `shop/drivers.json`.
    Drivers,
    /// `shop/controls.json`.
    Controls,
    /// `shop/wire.json`.
    Wire,
    /// `shop/calendar.json`.
    Calendar,
    /// `projects/<id>/project.json`.
    Project,
    /// `projects/<id>/swatches/<id>.json`.
    Swatch,
    /// `projects/<id>/requests/<id>.json`.
    Request,
    /// `projects/<id>/trials/<id>.json`.
    Trial,
    /// `projects/<id>/panels/<id>.json`.
    Panel,
    /// `projects/<id>/panels/<id>.outline.json`.
    Outline,
    /// `projects/<id>/renderings/<panel>/manifest.json`.
    Rendering,
    /// `projects/<id>/as-built.json`.
    AsBuilt,
    /// `projects/<id>/installation.json`.
    Installation,
    /// `projects/<id>/signoffs/<sha256>.json`.
    SignOff,
    /// `projects/<id>/moves/<sha256>.json`.
    Move,
    /// `projects/<id>/notes/<id>.json`.
    Note,
    /// `projects/<id>/conflicts/<id>.json`, or `conflicts/<id>.json` for files outside any project.
    Conflict,
    /// The `.sig` beside a sign-off or a move.
    Signature,
    /// The scan beside an evidence sign-off, named by its digest.
    Scan,
    /// A photo, spectrum, drawing or sheet beside its record.
    Attachment,
    /// A copy of a schema.
    Schema,
    /// `.gitattributes`, `.gitignore`, `README.md`, or a hosting service's own folder of settings.
    Housekeeping,
}

impl Kind {
    /// Every kind that has a schema.
    pub const WITH_SCHEMA: &'static [Kind] = &[
        Kind::Book,
        Kind::Roster,
        Kind::Rules,
        Kind::Routes,
        Kind::Lights,
        Kind::Drivers,
        Kind::Controls,
        Kind::Wire,
        Kind::Calendar,
        Kind::Project,
        Kind::Swatch,
        Kind::Request,
        Kind::Trial,
        Kind::Panel,
        Kind::Outline,
        Kind::Rendering,
        Kind::AsBuilt,
        Kind::Installation,
        Kind::SignOff,
        Kind::Move,
        Kind::Note,
        Kind::Conflict,
    ];

    /// The kind's name, which is also its schema's: `panel` has `schema/panel.schema.json`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Kind::Book => "book",
            Kind::Roster => "roster",
            Kind::RosterSignature => "roster signature",
            Kind::Rules => "rules",
            Kind::Routes => "routes",
            Kind::Lights => "lights",
            Kind::Drivers => "drivers",
            Kind::Controls => "controls",
            Kind::Wire => "wire",
            Kind::Calendar => "calendar",
            Kind::Project => "project",
            Kind::Swatch => "swatch",
            Kind::Request => "request",
            Kind::Trial => "trial",
            Kind::Panel => "panel",
            Kind::Outline => "outline",
            Kind::Rendering => "rendering",
            Kind::AsBuilt => "as-built",
            Kind::Installation => "installation",
            Kind::SignOff => "sign-off",
            Kind::Move => "move",
            Kind::Note => "note",
            Kind::Conflict => "conflict",
            Kind::Signature => "signature",
            Kind::Scan => "scan",
            Kind::Attachment => "attachment",
            Kind::Schema => "schema",
            Kind::Housekeeping => "housekeeping",
        }
    }

    /// True where a file of this kind is never changed or taken out once it is there.
    #[must_use]
    pub(crate) fn is_add_only(self) -> bool {
        matches!(
            self,
            Kind::Roster
                | Kind::RosterSignature
                | Kind::SignOff
                | Kind::Move
                | Kind::Note
                | Kind::Signature
                | Kind::Scan
        )
    }

    /// True where only the roster's owners may change files of this kind, by sealing their digests.
    #[must_use]
    pub fn is_sealed_by_roster(self) -> bool {
        matches!(
            self,
            Kind::Book
                | Kind::Rules
                | Kind::Routes
                | Kind::Lights
                | Kind::Drivers
                | Kind::Controls
                | Kind::Wire
                | Kind::Calendar
        )
    }

    /// True where the file is a record with a schema.
    #[must_use]
    pub(crate) fn has_schema(self) -> bool {
        Kind::WITH_SCHEMA.contains(&self)
    }

    /// True for the path of a file that a hosting service reads or runs, under plain names. Which of them a book may
    /// hold, its owners say in `rules.json`.
    #[must_use]
    pub(crate) fn is_for_the_host(path: &str) -> bool {
        let plain = |name: &str| {
            let known = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'_' | b'-');
            name.bytes().all(known) && name.starts_with(|c: char| c.is_ascii_alphanumeric() || c == '_')
        };
        let parts: Vec<&str> = path.split('/').collect();
        match parts.as_slice() {
            [".gitlab-ci.yml"] => true,
            [".github" | ".gitlab" | ".ci" | ".forgejo", below @ ..] => {
                (1..=3).contains(&below.len()) && below.iter().all(|name| plain(name))
            }
            _ => false,
        }
    }

    /// Which kind of file a path of the book is, with `/` between its parts; none where it does not belong.
    #[must_use]
    pub fn of_path(path: &str) -> Option<Kind> {
        let parts: Vec<&str> = path.split('/').collect();
        match parts.as_slice() {
            ["book.json"] => Some(Kind::Book),
            ["rules.json"] => Some(Kind::Rules),
            ["shop", file] => match *file {
                "routes.json" => Some(Kind::Routes),
                "lights.json" => Some(Kind::Lights),
                "drivers.json" => Some(Kind::Drivers),
                "controls.json" => Some(Kind::Controls),
                "wire.json" => Some(Kind::Wire),
                "calendar.json" => Some(Kind::Calendar),
                _ => None,
            },
            ["roster", file] => roster_file(file),
            ["schema", file] => file.ends_with(".schema.json").then_some(Kind::Schema),
            ["conflicts", file] => record_or_attachment(file, Kind::Conflict),
            [".gitattributes" | ".gitignore" | "README.md" | "LICENSE"] => Some(Kind::Housekeeping),
            _ if Kind::is_for_the_host(path) => Some(Kind::Housekeeping),
            ["projects", project, rest @ ..] if check_name(project).is_ok() => project_file(rest),
            _ => None,
        }
    }
}

fn roster_file(file: &str) -> Option<Kind> {
    let (number, rest) = file.split_once('.')?;
    if number.len() != 4 || !number.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    match rest {
        "json" => Some(Kind::Roster),
        _ => {
            rest.strip_suffix(".sig").is_some_and(|p| check_name(p).is_ok()).then_some(Kind::RosterSignature)
        }
    }
}

fn project_file(parts: &[&str]) -> Option<Kind> {
    match parts {
        ["project.json"] => Some(Kind::Project),
        ["as-built.json"] => Some(Kind::AsBuilt),
        ["installation.json"] => Some(Kind::Installation),
        ["swatches", file] => record_or_attachment(file, Kind::Swatch),
        ["requests", file] => record_or_attachment(file, Kind::Request),
        ["trials", file] => record_or_attachment(file, Kind::Trial),
        ["panels", file] if named(file, ".outline.json") => Some(Kind::Outline),
        ["panels", file] => record_or_attachment(file, Kind::Panel),
        ["renderings", panel, "manifest.json"] if check_name(panel).is_ok() => Some(Kind::Rendering),
        ["renderings", panel, file] if check_name(panel).is_ok() => attachment(file),
        ["handover", file] => attachment(file),
        ["conflicts", file] => record_or_attachment(file, Kind::Conflict),
        ["notes", file] => named(file, ".json").then_some(Kind::Note),
        ["signoffs", file] => statement_file(file, Kind::SignOff),
        ["moves", file] => statement_file(file, Kind::Move).filter(|k| *k != Kind::Scan),
        _ => None,
    }
}

fn named(file: &str, ending: &str) -> bool {
    file.strip_suffix(ending).is_some_and(|stem| check_name(stem).is_ok())
}

fn attachment(file: &str) -> Option<Kind> {
    file.parse::<FileName>().is_ok().then_some(Kind::Attachment)
}

fn record_or_attachment(file: &str, kind: Kind) -> Option<Kind> {
    if named(file, ".json") { Some(kind) } else { attachment(file).filter(|_| !file.ends_with(".json")) }
}

fn statement_file(file: &str, kind: Kind) -> Option<Kind> {
    let (stem, ending) = file.split_once('.')?;
    if stem.len() != 64 || !stem.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b)) {
        return None;
    }
    match ending {
        "json" => Some(kind),
        "sig" => Some(Kind::Signature),
        "pdf" | "png" | "jpg" | "eml" | "txt" => Some(Kind::Scan),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_path_has_one_kind() {
        let digest = "a".repeat(64);
        for (path, kind) in [
            ("book.json", Some(Kind::Book)),
            ("roster/0001.json", Some(Kind::Roster)),
            ("roster/0001.mara.sig", Some(Kind::RosterSignature)),
            ("roster/1.json", None),
            ("shop/lights.json", Some(Kind::Lights)),
            ("shop/other.json", None),
            ("projects/quay-bar/project.json", Some(Kind::Project)),
            ("projects/quay-bar/panels/front.json", Some(Kind::Panel)),
            ("projects/quay-bar/panels/front.outline.json", Some(Kind::Outline)),
            ("projects/quay-bar/panels/front.dxf", Some(Kind::Attachment)),
            ("projects/quay-bar/panels/Front.json", None),
            ("projects/quay-bar/panels/a.b.json", None),
            ("projects/quay-bar/notes/20261128-3f9a.json", Some(Kind::Note)),
            ("projects/quay-bar/notes/a.txt", None),
            ("projects/../x/project.json", None),
            ("projects/con/project.json", None),
            (&format!("projects/q/signoffs/{digest}.json"), Some(Kind::SignOff)),
            (&format!("projects/q/signoffs/{digest}.pdf"), Some(Kind::Scan)),
            (&format!("projects/q/moves/{digest}.sig"), Some(Kind::Signature)),
            (&format!("projects/q/moves/{digest}.pdf"), None),
            ("projects/q/moves/x.json", None),
        ] {
            assert_eq!(Kind::of_path(path), kind, "{path}");
        }
    }
}

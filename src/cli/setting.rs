//! What every verb is handed: where the book is, what comes from outside, where to speak.

use std::cell::OnceCell;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::json;

use super::Cli;
use super::around::surroundings;
use super::printer::Printer;
use crate::fault::Fault;
use crate::git::Held;
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::ops::{Desk, Reading};
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;
use crate::trust::Surroundings;
use crate::trust::chain::Pinned;
use crate::trust::sound::Remembered;

/// What every verb is handed.
pub(crate) struct Setting<'p> {
    /// The folder in whose book to work.
    pub(crate) folder: PathBuf,
    /// What comes from outside.
    pub(crate) around: Surroundings<'static>,
    /// Where to speak.
    pub(crate) printer: &'p Printer,
    /// The records that were found sound, from when the book is opened to the end.
    remembered: OnceCell<Option<Remembered>>,
}

impl<'p> Setting<'p> {
    pub(crate) fn new(cli: &Cli, printer: &'p Printer) -> Result<Self, Vec<Fault>> {
        let folder = cli.book.clone().unwrap_or_else(|| PathBuf::from("."));
        let around = surroundings(cli)?;
        Ok(Setting { folder, around, printer, remembered: OnceCell::new() })
    }

    /// The book, for reading.
    pub(crate) fn reading(&self) -> Result<Reading, Vec<Fault>> {
        self.remember();
        let reading = Reading::open(&self.folder)?;
        self.greet(&reading);
        Ok(reading)
    }

    /// The book, for writing.
    pub(crate) fn desk(&self) -> Result<Desk<'_>, Vec<Fault>> {
        self.remember();
        let desk = Desk::open(&self.folder, &self.around)?;
        self.greet(&desk.reading);
        Ok(desk)
    }

    /// Takes records for sound that were found so before, from now to the end.
    pub(crate) fn remember(&self) {
        self.remembered.get_or_init(|| Remembered::begin(&self.folder, &self.around));
    }

    /// At first use, shows the fingerprint that this clone now holds on to.
    fn greet(&self, reading: &Reading) {
        if reading.pinned == Some(Pinned::FirstUse) {
            self.printer.remark(format!(
                "first use of this book here: its fingerprint is {}. Compare it once with the shop's, by telephone.",
                reading.chain.fingerprint()
            ));
        }
    }

    /// Says what of the remote stands refused here.
    pub(crate) fn tell_refused(&self, reading: &Reading) {
        if let Some(refused) = &reading.refused {
            self.printer.line(refused.in_words());
        }
    }

    /// Says how much of the book this clone holds, where it is not the whole.
    pub(crate) fn tell_held(&self, held: Option<Held>) {
        if let Some(held) = held {
            self.printer.line(held.in_words());
        }
    }

    /// Tells a program which record was written or taken out. A project's own record goes by the project's name, and one of
    /// a kind of which a project has one goes by none.
    pub(crate) fn wrote(&self, project: &ProjectId, kind: Kind, id: Option<&str>, file: &str) {
        self.printer.json(&json!({ "project": project, "kind": kind.name(), "id": id, "file": file }));
    }

    /// Says what was done, or what would be.
    pub(crate) fn done(&self, text: impl AsRef<str>) {
        let text = text.as_ref();
        if self.around.dry_run {
            self.printer.line(format!("dry run: {text}"));
        } else {
            self.printer.line(text);
        }
    }
}

/// Writes files into a folder, which is made where it is not there, and tells a program so; with `--dry-run` only tells.
pub(crate) fn write_into(
    folder: &Path,
    files: &[(String, String)],
    setting: &Setting<'_>,
) -> Result<(), Vec<Fault>> {
    let io = |e: std::io::Error| vec![io_fault(&folder.display().to_string(), "write", &e)];
    if !setting.around.dry_run {
        for (name, text) in files {
            let file = folder.join(name);
            fs::create_dir_all(file.parent().unwrap_or(folder)).map_err(io)?;
            write_whole(&file, text.as_bytes()).map_err(io)?;
        }
    }
    let names: Vec<&String> = files.iter().map(|(name, _)| name).collect();
    setting.printer.json(&json!({ "folder": folder, "files": names }));
    Ok(())
}

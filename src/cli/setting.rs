//! What every verb is handed: where the book is, what comes from outside, where to speak.

use std::path::PathBuf;

use super::Cli;
use super::around::surroundings;
use super::printer::Printer;
use crate::fault::Fault;
use crate::ops::chain::Pinned;
use crate::ops::{Desk, Reading, Surroundings};

/// What every verb is handed.
pub(crate) struct Setting<'p> {
    /// The folder in whose book to work.
    pub(crate) folder: PathBuf,
    /// What comes from outside.
    pub(crate) around: Surroundings<'static>,
    /// Where to speak.
    pub(crate) printer: &'p Printer,
}

impl<'p> Setting<'p> {
    pub(crate) fn new(cli: &Cli, printer: &'p Printer) -> Result<Self, Vec<Fault>> {
        let folder = cli.book.clone().unwrap_or_else(|| PathBuf::from("."));
        let around = surroundings(cli)?;
        Ok(Setting { folder, around, printer })
    }

    /// The book, for reading.
    pub(crate) fn reading(&self) -> Result<Reading, Vec<Fault>> {
        let reading = Reading::open(&self.folder)?;
        self.greet(&reading);
        Ok(reading)
    }

    /// The book, for writing.
    pub(crate) fn desk(&self) -> Result<Desk<'_>, Vec<Fault>> {
        let desk = Desk::open(&self.folder, &self.around)?;
        self.greet(&desk.reading);
        Ok(desk)
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

//! `calc`: answers one question without any book, with the same code that the gates use.
//!
//! Each question is one file: its arguments, whose docs are its help, then one function.

mod outline;

use clap::Subcommand;

use super::failure::Outcome;
use super::printer::Printer;

/// The questions.
#[derive(Debug, Subcommand)]
pub(crate) enum Calc {
    Outline(outline::Args),
}

/// Answers a question.
pub(crate) fn run(question: &Calc, printer: &Printer) -> Outcome {
    match question {
        Calc::Outline(args) => outline::run(args, printer),
    }
}

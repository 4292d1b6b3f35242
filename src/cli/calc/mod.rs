//! `calc`: answers one question without any book, with the same code that the gates use.
//!
//! Each question is one file: its arguments, whose docs are its help, then one function.

mod dates;
mod driver;
mod outline;
mod photo;
mod through;
mod white;
mod wire;

use std::fmt::Display;

use clap::Subcommand;

use super::failure::Outcome;
use super::setting::Setting;
use crate::fault::Fault;

/// The questions.
#[derive(Debug, Subcommand)]
pub(crate) enum Calc {
    Outline(outline::Args),
    White(white::Args),
    Through(through::Args),
    Photo(photo::Args),
    Wire(wire::Args),
    Driver(driver::Args),
    Dates(dates::Args),
}

/// Answers a question.
pub(crate) fn run(question: &Calc, setting: &Setting<'_>) -> Outcome {
    let printer = setting.printer;
    match question {
        Calc::Outline(args) => outline::run(args, printer, setting.around.dry_run),
        Calc::White(args) => white::run(args, printer),
        Calc::Through(args) => through::run(args, printer),
        Calc::Photo(args) => photo::run(args, printer),
        Calc::Wire(args) => wire::run(args, printer),
        Calc::Driver(args) => driver::run(args, printer),
        Calc::Dates(args) => dates::run(args, printer),
    }
}

/// A question that cannot be answered as it was put.
fn fault_of(code: &'static str, what: &impl Display, remedy: String) -> Vec<Fault> {
    vec![Fault::usage(code, what.to_string()).fix(remedy)]
}

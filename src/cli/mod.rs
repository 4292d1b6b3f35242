//! The command line: one file per verb. The only room that prints, reads the clock, the environment, and
//! who is asking.
//!
//! | file | what it does |
//! |---|---|
//! | `mod` | the table of verbs, and the way in and out |
//! | `around` | clock, home folder, agent and git, read from the environment |
//! | `printer` | data to standard output, remarks to standard error |
//! | `failure` | the wording of faults, and exit codes |
//! | `calc` | questions without a book |

mod around;
mod calc;
mod failure;
mod printer;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use failure::{Exit, Outcome};
use printer::Printer;

use crate::fault::{Class, Fault};
use crate::model::id::PersonId;

/// Keeps made-to-order light-panel jobs as plain JSON in git, works out what each job needs, and releases
/// one to build only when the approvals it needs exist and still fit.
///
/// Exit codes: 0 done, 1 blocked (the answer is "not yet"), 2 wrong use, 3 invalid data, 4 open question
/// between edits, 5 trust does not hold, 6 disk, network or git, 70 a bug.
#[derive(Debug, Parser)]
#[command(name = "underlit", version, propagate_version = true, max_term_width = 100)]
pub(crate) struct Cli {
    /// The book's folder; by default the one that the current folder lies in.
    #[arg(long, global = true, value_name = "DIR")]
    book: Option<PathBuf>,
    /// Answer for programs, as JSON on standard output.
    #[arg(long, global = true)]
    json: bool,
    /// Check everything and write nothing.
    #[arg(long, global = true)]
    dry_run: bool,
    /// Who is asking, where this clone does not know it or somebody else sits here.
    #[arg(long, global = true, value_name = "PERSON")]
    me: Option<PersonId>,
    /// The key to sign with, where it does not lie in the usual place.
    #[arg(long, global = true, value_name = "FILE")]
    key: Option<PathBuf>,
    #[command(subcommand)]
    verb: Verb,
}

/// The verbs.
#[derive(Debug, Subcommand)]
enum Verb {
    /// Answer one question without any book: outline, white, through, wire, driver, dates.
    #[command(subcommand)]
    Calc(calc::Calc),
}

/// Runs the program: arguments in, exit code out.
#[must_use]
pub fn run() -> ExitCode {
    let wants_json = std::env::args_os().any(|a| a == "--json");
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) if !error.use_stderr() || !wants_json => {
            let code = if error.use_stderr() { Class::Usage.exit_code() } else { 0 };
            // Help that nobody reads any more is no failure.
            let _ = error.print();
            return ExitCode::from(code);
        }
        Err(error) => {
            let text = error.to_string();
            let message = text.lines().next().unwrap_or("wrong use").trim_start_matches("error: ");
            let fault =
                Fault::usage("usage", message).mend("`underlit --help` shows the verbs and their arguments");
            failure::report(&Printer::new(true), &[fault]);
            return ExitCode::from(Class::Usage.exit_code());
        }
    };
    let printer = Printer::new(cli.json);
    let ended = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| dispatch(&cli, &printer)));
    match ended {
        Ok(Ok(exit)) => ExitCode::from(exit.code()),
        Ok(Err(faults)) => {
            failure::report(&printer, &faults);
            ExitCode::from(failure::exit_code(&faults))
        }
        Err(_) => {
            let fault =
                Fault::new(Class::Bug, "bug", "underlit contradicts itself; nothing more was written")
                    .mend("please report it with the command and what stands above");
            failure::report(&printer, &[fault]);
            ExitCode::from(Class::Bug.exit_code())
        }
    }
}

fn dispatch(cli: &Cli, printer: &Printer) -> Outcome {
    match &cli.verb {
        Verb::Calc(question) => calc::run(question, printer),
    }
}

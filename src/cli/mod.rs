//! The command line: one file per verb. The only room that prints, reads the clock, the environment, and
//! who is asking.
//!
//! | file | what it does |
//! |---|---|
//! | `mod` | the table of verbs, and the way in and out |
//! | `around` | clock, home folder, agent and git, read from the environment |
//! | `printer` | data to standard output, remarks to standard error |
//! | `failure` | the wording of faults, and exit codes |
//! | `setting` | what every verb is handed |
//! | `command`, `value` | what holds for every argument: closed lists, names to complete, figures and days |
//! | `overview` | the first page of help |
//! | `wording`, `size`, `drawing_args`, `photo_args` | how findings are shown, how sizes, drawings and photos are read |
//! | `init`, `join`, `project`, `swatch`, `measure`, `request`, `trial`, `panel`, `choose`, `plan`, `split`, `draw`, `handover` | records |
//! | `look` | what a stone will look like |
//! | `sign`, `advance`, `roster` | what people say |
//! | `status`, `show`, `dates` | status, board, history; any record; dates |
//! | `packet`, `intake` | a page to answer by, and the answers that come back |
//! | `pack`, `changes` | the build pack and its proof; what changed since it was signed |
//! | `check`, `verify`, `sync`, `resolve`, `watch`, `stock_git` | the whole book |
//! | `guard` | a shared repository that judges what is pushed |
//! | `calc` | questions without a book |
//! | `demo` | the whole story in a temporary folder |
//! | `guide` | pages to look up |
//! | `answers` | the schemas of what verbs answer with `--json` |
//! | `shell` | completions and manual pages |

mod advance;
mod answers;
mod around;
mod calc;
mod changes;
mod check;
mod choose;
mod command;
mod dates;
mod demo;
mod draw;
mod drawing_args;
mod failure;
mod guard;
mod guide;
mod handover;
mod init;
mod intake;
mod join;
mod light_picture;
mod look;
mod measure;
mod overview;
mod pack;
mod packet;
mod panel;
mod panel_facts;
mod photo_args;
mod plan;
mod printer;
mod project;
mod request;
mod resolve;
mod roster;
mod setting;
mod shell;
mod show;
mod sign;
mod size;
mod split;
mod status;
mod stock_git;
mod supply;
mod swatch;
mod sync;
mod trial;
mod value;
mod verify;
mod watch;
mod wording;

use std::io::ErrorKind;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{FromArgMatches as _, Parser, Subcommand};
use clap_complete::CompleteEnv;
use failure::Outcome;
use printer::{Printer, output_fault};
use setting::Setting;

use crate::fault::{Class, Fault};
use crate::git::name_this_command;
use crate::model::id::PersonId;
use crate::ops::sync::refused::told_whose;
use crate::visible::is_hidden;

/// The heading of the options that every command has.
const EVERYWHERE: &str = "In every command";

/// Keeps made-to-order light-panel jobs as plain JSON in git, works out what each job needs, and releases
/// one to build only when the approvals it needs exist and still fit.
///
/// Exit codes: 0 done, 1 blocked (the answer is "not yet"), 2 wrong use, 3 invalid data, 4 open question
/// between edits, 5 trust does not hold, 6 disk, network or git, 70 a bug.
#[derive(Debug, Parser)]
#[command(name = "underlit", version, max_term_width = 100, help_template = overview::PAGE)]
pub(crate) struct Cli {
    /// The book's folder; by default the one that the current folder lies in.
    #[arg(long, global = true, help_heading = EVERYWHERE, value_name = "DIR")]
    book: Option<PathBuf>,
    /// Answer for programs, as JSON on standard output.
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    json: bool,
    /// Check everything and write nothing.
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    dry_run: bool,
    /// Who is asking, where this clone does not know it or somebody else sits here.
    #[arg(long, global = true, help_heading = EVERYWHERE, value_name = "PERSON")]
    me: Option<PersonId>,
    /// The key to sign with, where it does not lie in the usual place.
    #[arg(long, global = true, help_heading = EVERYWHERE, value_name = "FILE")]
    key: Option<PathBuf>,
    #[command(subcommand)]
    verb: Verb,
}

/// The code of a fault that a verb has already shown in its own answer.
const SAID: &str = "said";

/// The verbs, in the order in which a job meets them.
#[derive(Debug, Subcommand)]
enum Verb {
    Init(init::Args),
    Join(join::JoinArgs),
    Me(join::MeArgs),
    Open(project::OpenArgs),
    #[command(subcommand)]
    Project(project::ProjectVerb),
    #[command(subcommand)]
    Swatch(swatch::SwatchVerb),
    #[command(subcommand)]
    Panel(panel::PanelVerb),
    #[command(subcommand)]
    Request(request::RequestVerb),
    #[command(subcommand)]
    Trial(trial::TrialVerb),
    Look(Box<look::LookArgs>),
    Choose(choose::ChooseArgs),
    Split(split::SplitArgs),
    Draw(draw::Args),
    Cut(split::CutArgs),
    Plan(plan::PlanArgs),
    Sign(sign::SignArgs),
    Evidence(sign::EvidenceArgs),
    Intake(intake::IntakeArgs),
    Advance(advance::AdvanceArgs),
    Reopen(advance::ReopenArgs),
    Built(handover::BuiltArgs),
    Installed(handover::InstalledArgs),
    Status(status::StatusArgs),
    Show(show::ShowArgs),
    Board(status::BoardArgs),
    Dates(dates::DatesArgs),
    Pack(pack::PackArgs),
    Packet(packet::PacketArgs),
    Changes(changes::ChangesArgs),
    History(status::HistoryArgs),
    Check(check::CheckArgs),
    Verify(verify::VerifyArgs),
    Sync(sync::SyncArgs),
    Resolve(resolve::ResolveArgs),
    Watch(watch::WatchArgs),
    #[command(subcommand)]
    Guard(guard::GuardVerb),
    #[command(subcommand)]
    StockGit(stock_git::StockGitVerb),
    #[command(subcommand)]
    Roster(roster::RosterVerb),
    AllowedSigners(roster::AllowedArgs),
    Schemas(check::SchemasArgs),
    Guide(guide::GuideArgs),
    Demo(demo::DemoArgs),
    /// Answer one question without any book: outline, white, through, wire, driver, dates.
    #[command(subcommand)]
    Calc(calc::Calc),
    Completions(shell::CompletionsArgs),
    Man(shell::ManArgs),
}

/// Runs the program: arguments in, exit code out.
#[must_use]
pub fn run() -> ExitCode {
    CompleteEnv::with_factory(command::command).complete();
    let wants_json = std::env::args_os().any(|a| a == "--json");
    let read = command::command().try_get_matches().and_then(|said| {
        name_this_command(said.subcommand_name().unwrap_or("underlit"));
        Cli::from_arg_matches(&said)
    });
    let cli = match read {
        Ok(cli) => cli,
        Err(error) if !error.use_stderr() || !wants_json => {
            let unwritten = if std::env::args().any(|arg| arg.contains(is_hidden)) {
                // What was typed or pasted is shown in the message, and not obeyed.
                Printer::new(false).remark(error.to_string().trim_end());
                None
            } else {
                // Help that nobody reads any more is no failure; one that could not be written is.
                error.print().err().filter(|e| e.kind() != ErrorKind::BrokenPipe)
            };
            let code = match (error.use_stderr(), unwritten) {
                (true, _) => Class::Usage.exit_code(),
                (false, None) => 0,
                (false, Some(e)) => {
                    failure::report(&Printer::new(false), &[output_fault(&e)]);
                    Class::Io.exit_code()
                }
            };
            return ExitCode::from(code);
        }
        Err(error) => {
            let text = error.to_string();
            let message = text.lines().next().unwrap_or("wrong use").trim_start_matches("error: ");
            let fault =
                Fault::usage("usage", message).fix("`underlit --help` shows the verbs and their arguments");
            failure::report(&Printer::new(true), &[fault]);
            return ExitCode::from(Class::Usage.exit_code());
        }
    };
    let printer = Printer::new(cli.json);
    let ended = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| dispatch(&cli, &printer)));
    match ended {
        Ok(Ok(exit)) => match printer.fault() {
            Some(fault) => {
                failure::report(&Printer::new(false), std::slice::from_ref(&fault));
                ExitCode::from(fault.class.exit_code())
            }
            None => ExitCode::from(exit.code()),
        },
        Ok(Err(faults)) => {
            let code = failure::exit_code(&faults);
            if !faults.iter().all(|f| f.code == SAID) {
                let from = cli.book.as_deref().unwrap_or(std::path::Path::new("."));
                failure::report(&printer, &told_whose(from, faults));
            }
            ExitCode::from(code)
        }
        Err(_) => {
            let fault = Fault::new(Class::Bug, "bug", "internal error; nothing more was written")
                .fix("please report it with the command and the output above");
            failure::report(&printer, &[fault]);
            ExitCode::from(Class::Bug.exit_code())
        }
    }
}

fn dispatch(cli: &Cli, printer: &Printer) -> Outcome {
    if let Verb::Calc(question) = &cli.verb {
        return calc::run(question, printer, cli.dry_run);
    }
    let setting = &Setting::new(cli, printer)?;
    match &cli.verb {
        Verb::Init(args) => init::run(args, setting),
        Verb::Join(args) => join::join(args, setting),
        Verb::Me(args) => join::me(args, setting),
        Verb::Open(args) => project::open(args, setting),
        Verb::Project(verb) => project::project(verb, setting),
        Verb::Swatch(verb) => swatch::run(verb, setting),
        Verb::Panel(verb) => panel::run(verb, setting),
        Verb::Request(verb) => request::run(verb, setting),
        Verb::Trial(verb) => trial::run(verb, setting),
        Verb::Look(args) => look::look(args, setting),
        Verb::Choose(args) => choose::choose(args, setting),
        Verb::Split(args) => split::split(args, setting),
        Verb::Draw(args) => draw::run(args, setting),
        Verb::Cut(args) => split::cut(args, setting),
        Verb::Plan(args) => plan::plan(args, setting),
        Verb::Sign(args) => sign::sign(args, setting),
        Verb::Evidence(args) => sign::evidence(args, setting),
        Verb::Intake(args) => intake::intake(args, setting),
        Verb::Advance(args) => advance::advance(args, setting),
        Verb::Reopen(args) => advance::reopen(args, setting),
        Verb::Built(args) => handover::built(args, setting),
        Verb::Installed(args) => handover::installed(args, setting),
        Verb::Status(args) => status::status(args, setting),
        Verb::Show(args) => show::show(args, setting),
        Verb::Board(args) => status::board(args, setting),
        Verb::Pack(args) => pack::pack(args, setting),
        Verb::Packet(args) => packet::packet(args, setting),
        Verb::Changes(args) => changes::changes(args, setting),
        Verb::Dates(args) => dates::dates(args, setting),
        Verb::History(args) => status::history(args, setting),
        Verb::Check(args) => check::check(args, setting),
        Verb::Verify(args) => verify::verify(args, setting),
        Verb::Sync(args) => sync::sync(args, setting),
        Verb::Resolve(args) => resolve::resolve(args, setting),
        Verb::Watch(args) => watch::watch(args, setting),
        Verb::Guard(verb) => guard::run(verb, setting),
        Verb::StockGit(verb) => stock_git::run(verb, setting),
        Verb::Roster(verb) => roster::run(verb, setting),
        Verb::AllowedSigners(args) => roster::allowed(args, setting),
        Verb::Schemas(args) => check::schemas(args, setting),
        Verb::Guide(args) => guide::guide(args, setting),
        Verb::Demo(args) => demo::run(args, setting),
        Verb::Calc(question) => calc::run(question, printer, cli.dry_run),
        Verb::Completions(args) => shell::completions(args, setting),
        Verb::Man(args) => shell::man(args, setting),
    }
}

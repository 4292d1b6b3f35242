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
//! | `interview`, `pager`, `progress` | what a terminal gets besides: questions, a screen at a time, how far work is |
//! | `overview` | the first page of help |
//! | `wording`, `drawing_args`, `photo_args` | how findings are shown, how drawings and photos are read |
//! | `init`, `join`, `project`, `swatch`, `measure`, `pick`, `request`, `trial`, `panel`, `choose`, `plan`, `split`, `draw`, `handover` | records |
//! | `import` | running jobs from a spreadsheet |
//! | `note` | remarks on records |
//! | `look`, `predictions` | what a stone will look like; how predictions bore out |
//! | `sign`, `advance`, `roster` | what people say |
//! | `status`, `next`, `show`, `dates` | status, board, history; whose turn it is; any record; dates |
//! | `packet`, `intake` | a page to answer by, and the answers that come back |
//! | `pages` | the whole book as pages to look at |
//! | `label` | labels of test panels and service cards; order sheets |
//! | `pack`, `changes` | the build pack and its proof; what changed since it was signed |
//! | `doctor` | whether machine and clone are fit for the work |
//! | `check`, `verify`, `sync`, `resolve`, `watch`, `stock_git` | the whole book |
//! | `guard` | a shared repository that judges what is pushed |
//! | `calc` | questions without a book |
//! | `demo` | the whole story in a temporary folder |
//! | `guide`, `explain` | pages to look up; gates, requirements and words explained |
//! | `answers` | the schemas of what verbs answer with `--json` |
//! | `signals` | how what runs on is told to end |
//! | `shell` | completions and manual pages |

mod advance;
mod answers;
mod around;
mod calc;
mod changes;
mod check;
mod choose;
mod command;
mod copy;
mod dates;
mod delivery;
mod demo;
mod doctor;
mod draw;
mod drawing_args;
mod earlier_trial;
mod explain;
mod failure;
mod guard;
mod guide;
mod handover;
mod import;
mod init;
mod intake;
mod interview;
mod join;
mod label;
mod light_picture;
mod look;
mod measure;
mod next;
mod note;
mod overview;
mod pack;
mod packet;
mod pager;
mod pages;
mod panel;
mod panel_etch;
mod panel_facts;
mod panel_import;
mod panel_site;
mod panel_sizes;
mod photo_args;
mod pick;
mod plan;
mod predictions;
mod printer;
mod progress;
mod project;
mod request;
mod resolve;
mod roster;
mod setting;
mod shell;
mod shop;
mod show;
mod sign;
mod sign_all;
mod signals;
mod split;
mod status;
mod stock_git;
mod supply;
mod swatch;
mod swatch_args;
mod sync;
mod trial;
mod trial_change;
mod undo;
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
use crate::git::{name_this_command, read_as_git_does};
use crate::ids::PersonId;
use crate::sync::part::not_held;
use crate::trust::refused::told_whose;
use crate::visible::is_hidden;

/// The heading of the options that every command has.
const EVERYWHERE: &str = "In every command";

/// Keeps made-to-order light-panel jobs as plain JSON in git, works out what each job needs, and releases
/// one to build only when the approvals it needs exist and still fit.
///
/// Exit codes: 0 done, 1 blocked (the answer is "not yet"), 2 wrong use, 3 invalid data, 4 open question
/// between edits, 5 trust does not hold, 6 disk, network or git, 70 a bug.
#[derive(Debug, Parser)]
#[command(name = "underlit", version, max_term_width = 100)]
pub(crate) struct Cli {
    /// The book's folder; by default the one that the current folder lies in.
    #[arg(long, global = true, help_heading = EVERYWHERE, value_name = "DIR")]
    book: Option<PathBuf>,
    /// Answer for programs, as JSON on standard output.
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    json: bool,
    /// Show a long answer as a whole, and not a screen at a time.
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    no_pager: bool,
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

/// The one table of verbs: what parses, runs, completes and documents them, and the first page of help, follow from it.
macro_rules! verbs {
    ($($group:literal { $($(#[$how:meta])* $name:ident($args:ty) => $run:path: $about:literal;)+ })+) => {
        /// The verbs.
        #[derive(Debug, Subcommand)]
        enum Verb {
            $($($(#[$how])* $name($args),)+)+
        }

        impl Verb {
            fn run(&self, setting: &Setting<'_>) -> Outcome {
                match self {
                    $($(Verb::$name(args) => $run(args, setting),)+)+
                }
            }
        }

        /// What somebody wants to do, and in a line what each verb does for it, in the order of the table.
        const GROUPS: &[(&str, &[&str])] = &[$(($group, &[$($about),+])),+];
    };
}

verbs! {
    "Begin" {
        Demo(demo::DemoArgs) => demo::run: "a whole job played through, with three invented people";
        Init(init::Args) => init::run: "a new book";
        Join(join::JoinArgs) => join::join: "a book from any git address, checked";
        Part(join::PartArgs) => join::part: "which projects this clone holds";
        Me(join::MeArgs) => join::me: "who you are in this clone";
        Open(project::OpenArgs) => project::open: "a project";
        Import(import::Args) => import::run: "running jobs from a spreadsheet";
    }
    "Gather" {
        #[command(subcommand)]
        Project(project::ProjectVerb) => project::project: "a project's own record";
        #[command(subcommand)]
        Swatch(swatch::SwatchVerb) => swatch::run: "stones: described, measured";
        #[command(subcommand)]
        Panel(panel::PanelVerb) => panel::run: "the panels of a project";
        #[command(subcommand)]
        Request(request::RequestVerb) => request::run: "test panels: asked for, sent, received";
        #[command(subcommand)]
        Trial(trial::TrialVerb) => trial::run: "what was seen with a stone over a test panel";
        #[command(subcommand)]
        Copy(copy::CopyVerb) => copy::run: "a job or a panel again, under a new name";
        Undo(undo::UndoArgs) => undo::run: "take back your own last change, before it is sent";
        Note(note::NoteArgs) => note::note: "a remark on a project or a record";
        Look(Box<look::LookArgs>) => look::look: "what a stone will look like over each light";
        Predictions(predictions::PredictionsArgs) => predictions::predictions: "how predictions of brightness bore out in trials";
    }
    "Design" {
        Choose(choose::ChooseArgs) => choose::choose: "light, face, lit edges, voltage, mount, control";
        Split(split::SplitArgs) => split::split: "a panel larger than a sheet, in butted pieces";
        Draw(draw::Args) => draw::run: "the exact rendering that gets signed";
        Cut(split::CutArgs) => split::cut: "the exact outline for the cutter";
        Plan(plan::PlanArgs) => plan::plan: "route, tape, driver and wire";
    }
    "Approve" {
        Sign(sign::SignArgs) => sign::sign: "approve, reject, waive, acknowledge, release";
        SignAll(sign_all::SignAllArgs) => sign_all::run: "approve all that waits for your signature";
        Evidence(sign::EvidenceArgs) => sign::evidence: "a written answer, recorded";
        Packet(packet::PacketArgs) => packet::packet: "a page for a client to read and answer by, without a key";
        Intake(intake::IntakeArgs) => intake::intake: "an answer that names its code, recorded";
        Advance(advance::AdvanceArgs) => advance::advance: "to the next stage, if the gate opens";
        Reopen(advance::ReopenArgs) => advance::reopen: "back to an earlier stage, with a reason";
    }
    "Build" {
        Pack(pack::PackArgs) => pack::pack: "the build pack, and its proof";
        Label(label::LabelArgs) => label::label: "labels: test panels, service cards";
        Built(handover::BuiltArgs) => handover::built: "a panel as it left the bench";
        #[command(subcommand)]
        Delivery(delivery::DeliveryVerb) => delivery::delivery: "what left the shop, and how it arrived";
        Installed(handover::InstalledArgs) => handover::installed: "the installation and its service card";
        Accepted(delivery::AcceptedArgs) => delivery::accepted: "how the finished work was taken over";
    }
    "See" {
        Next(next::NextArgs) => next::run: "what you can do next, over all jobs";
        Status(status::StatusArgs) => status::status: "where a project stands, and what is missing";
        Show(show::ShowArgs) => show::show: "any record in words";
        Board(status::BoardArgs) => status::board: "every project on a line";
        Pages(pages::PagesArgs) => pages::pages: "the whole book as pages to look at";
        Dates(dates::DatesArgs) => dates::dates: "the latest date of every step";
        Changes(changes::ChangesArgs) => changes::changes: "what changed since it was signed";
        History(status::HistoryArgs) => status::history: "the story in trade words";
        Check(check::CheckArgs) => check::check: "everything that is wrong with a book";
        Verify(verify::VerifyArgs) => verify::verify:
            "a book proved from its fingerprint, and why each job may be built";
        Explain(explain::ExplainArgs) => explain::explain: "a gate, a requirement, a word";
        Doctor(doctor::DoctorArgs) => doctor::doctor: "whether this machine and clone are fit for the work";
        /// Answer one question without any book: outline, white, through, wire, driver, dates.
        #[command(subcommand)]
        Calc(calc::Calc) => calc::run: "one question without any book";
        Guide(guide::GuideArgs) => guide::guide: "pages to look up: paper, sharing, guard, sums and more";
    }
    "Share" {
        Sync(sync::SyncArgs) => sync::sync: "this clone and its remote to the same book";
        Resolve(resolve::ResolveArgs) => resolve::resolve: "open questions between edits, of a project or the shop";
        Watch(watch::WatchArgs) => watch::watch: "what happens at the remote, each event once";
        #[command(subcommand)]
        StockGit(stock_git::StockGitVerb) => stock_git::run: "let your own git merge as sync does: setup";
        #[command(subcommand)]
        Guard(guard::GuardVerb) => guard::run: "a shared repository that judges each push";
        #[command(subcommand)]
        Roster(roster::RosterVerb) => roster::run: "people, roles, keys, and what owners seal";
        Shop(shop::ShopArgs) => shop::run: "the shop's lists, entry by entry";
        AllowedSigners(roster::AllowedArgs) => roster::allowed: "keys, for stock `ssh-keygen -Y verify`";
    }
    "For machines" {
        Schemas(check::SchemasArgs) => check::schemas: "the JSON Schemas of records and answers";
        Completions(shell::CompletionsArgs) => shell::completions: "for a shell";
        Man(shell::ManArgs) => shell::man: "manual pages";
    }
}

impl Verb {
    /// True for verbs that tell and ask nothing, whose answer may be read a screen at a time.
    fn only_tells(&self) -> bool {
        matches!(
            self,
            Verb::Status(_)
                | Verb::Show(_)
                | Verb::Board(_)
                | Verb::Dates(_)
                | Verb::Changes(_)
                | Verb::History(_)
                | Verb::Check(_)
                | Verb::Verify(_)
                | Verb::Explain(_)
                | Verb::Guide(_)
        )
    }
}

/// Runs the program: arguments in, exit code out.
#[must_use]
pub fn run() -> ExitCode {
    CompleteEnv::with_factory(command::command).complete();
    let line: Vec<std::ffi::OsString> = std::env::args_os().collect();
    let wants_json = line.iter().any(|word| word == "--json");
    end_at_a_bug(wants_json);
    let said = command::command().try_get_matches_from(&line);
    let said = said.or_else(|error| interview::ask_for_the_rest(&line, &error).ok_or(error));
    let read = said.and_then(|said| {
        name_this_command(said.subcommand_name().unwrap_or("underlit"));
        Cli::from_arg_matches(&said)
    });
    let cli = match read {
        Ok(cli) => cli,
        Err(error) if !error.use_stderr() || !wants_json => {
            let unwritten = if line.iter().any(|word| word.to_string_lossy().contains(is_hidden)) {
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
    progress::watch(cli.json);
    if cli.verb.only_tells() && !cli.json && !cli.no_pager && pager::may_page() {
        printer.gather();
    }
    read_as_git_does();
    let ended = Setting::new(&cli, &printer).and_then(|setting| cli.verb.run(&setting));
    progress::erase();
    if let Some(text) = printer.gathered() {
        let told = ended.is_ok();
        if !(told && pager::is_long(&text) && pager::shown(&text)) {
            printer.release(&text);
        }
    }
    match ended {
        Ok(exit) => match printer.fault() {
            Some(fault) => {
                failure::report(&Printer::new(false), std::slice::from_ref(&fault));
                ExitCode::from(fault.class.exit_code())
            }
            None => ExitCode::from(exit.code()),
        },
        Err(faults) => {
            let code = failure::exit_code(&faults);
            if !faults.iter().all(|f| f.code == SAID) {
                let from = cli.book.as_deref().unwrap_or(std::path::Path::new("."));
                failure::report(&printer, &not_held(from, told_whose(from, faults)));
            }
            ExitCode::from(code)
        }
    }
}

/// Has a mistake of this program end it, on whatever thread, with a word and an exit code of its own. The release build
/// carries no tables to unwind by, which are a tenth of it; what is half done is as after a kill.
fn end_at_a_bug(json: bool) {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |mistake| {
        usual(mistake);
        progress::erase();
        let fault = Fault::new(Class::Bug, "bug", "internal error; nothing more was written")
            .fix("please report it with the command and the output above");
        failure::report(&Printer::new(json), &[fault]);
        std::process::exit(i32::from(Class::Bug.exit_code()));
    }));
}

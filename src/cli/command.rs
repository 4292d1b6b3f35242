//! The command as it is parsed, shown and completed: the verbs' own tables, and what holds for all of them at once.
//!
//! Here a word of a closed list becomes a list for completion and "a similar value exists"; names complete from the book; and
//! what a record needs when it is new, and may leave out when it is changed, is required where it is new.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use clap::builder::{PossibleValuesParser, TypedValueParser as _, ValueParser, ValueParserFactory};
use clap::{Arg, ArgGroup, Command, CommandFactory as _};
use clap_complete::engine::{ArgValueCandidates, CompletionCandidate};

use super::{Cli, GROUPS, overview};
use crate::making::bending::Forming;
use crate::making::calendar::DayName;
use crate::making::mount::Mount;
use crate::model::panel::FeedBasis;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::{Topic, View};
use crate::model::swatch::{Material, Part};
use crate::power::vocabulary::{Location, Place};
use crate::words::{Face, LightKind, Texture, Tone};

/// The whole command.
pub(super) fn command() -> Command {
    let swatch = ["stone", "material", "tone", "texture", "thickness", "slab_thickness"];
    let command = Cli::command();
    let page = overview::page(&command, GROUPS);
    let command = command
        .help_template(page)
        .mut_subcommand("open", |c| required(c, &["title", "client", "site"]))
        .mut_subcommand("swatch", |c| c.mut_subcommand("add", |c| required(c, &swatch)))
        .mut_subcommand("panel", |c| {
            c.mut_subcommand("add", |c| {
                let outline =
                    ArgGroup::new("its outline").args(["outline", "size", "diameter"]).required(true);
                required(c, &["swatch"]).group(outline)
            })
        });
    everywhere(command)
}

fn required(command: Command, names: &[&'static str]) -> Command {
    names.iter().fold(command, |command, name| command.mut_arg(name, |arg| arg.required(true)))
}

/// What holds for every argument of every verb.
fn everywhere(command: Command) -> Command {
    command
        .mut_args(|arg| {
            if !arg.get_action().takes_values() {
                return arg;
            }
            let arg = arg.hide_possible_values(true);
            match candidates(&arg) {
                Some(kind) => arg.add(ArgValueCandidates::new(move || names(kind))),
                None => arg,
            }
        })
        .mut_subcommands(everywhere)
}

/// What the names of an argument are of.
#[derive(Clone, Copy)]
enum Named {
    Project,
    Person,
    /// Records of the project that the line names, by their folder.
    Record(&'static str),
}

fn candidates(arg: &Arg) -> Option<Named> {
    let shown = arg.get_value_names().and_then(|names| names.first()).map(|name| name.to_ascii_lowercase());
    Some(match shown.as_deref().unwrap_or(arg.get_id().as_str()) {
        "project" => Named::Project,
        "person" | "client" | "rep" | "engineer" => Named::Person,
        "panel" => Named::Record("panels"),
        "swatch" => Named::Record("swatches"),
        "request" => Named::Record("requests"),
        "trial" => Named::Record("trials"),
        _ => return None,
    })
}

/// The names of a kind in the book that the line is about; none where there is no book or it cannot be read: a completion is
/// the wrong place to complain.
fn names(kind: Named) -> Vec<CompletionCandidate> {
    let line: Vec<OsString> = std::env::args_os().skip(1).collect();
    let after = |flag: &str| line.iter().position(|word| word == flag).and_then(|at| line.get(at + 1));
    let start = after("--book").map_or_else(|| PathBuf::from("."), PathBuf::from);
    let Ok(start) = start.canonicalize() else { return Vec::new() };
    let Some(book) = start.ancestors().find(|folder| folder.join("book.json").is_file()) else {
        return Vec::new();
    };
    let found = match kind {
        Named::Project => listed(&book.join("projects"), ""),
        Named::Person => people(book),
        Named::Record(folder) => {
            let projects = book.join("projects");
            let project = line.iter().filter_map(|word| word.to_str()).find(|word| {
                crate::ids::check_name(word).is_ok() && projects.join(word).join("project.json").is_file()
            });
            project.map_or_else(Vec::new, |project| listed(&projects.join(project).join(folder), ".json"))
        }
    };
    found.into_iter().map(CompletionCandidate::new).collect()
}

/// The names in a folder that end so, without that ending.
fn listed(folder: &Path, ending: &str) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let names = entries.filter_map(|entry| entry.file_name().into_string().ok());
    let mut found: Vec<String> = names
        .filter_map(|name| name.strip_suffix(ending).map(str::to_owned))
        .filter(|name| crate::ids::check_name(name).is_ok())
        .collect();
    found.sort();
    found
}

/// The people of the newest roster, as the file says: nothing is decided by it.
fn people(book: &Path) -> Vec<String> {
    let roster = book.join("roster");
    let versions = fs::read_dir(&roster).into_iter().flatten().flatten();
    let newest =
        versions.map(|entry| entry.path()).filter(|p| p.extension().is_some_and(|e| e == "json")).max();
    let text = newest.and_then(|path| fs::read_to_string(path).ok());
    let value: Option<serde_json::Value> = text.and_then(|text| serde_json::from_str(&text).ok());
    let people = value.as_ref().and_then(|v| v["people"].as_array()).into_iter().flatten();
    people.filter_map(|person| person["id"].as_str().map(str::to_owned)).collect()
}

/// Words of a closed list know the whole list, for completion and for what is nearly right.
macro_rules! words_as_arguments {
    ($($name:ident),+ $(,)?) => { $(
        impl ValueParserFactory for $name {
            type Parser = ValueParser;

            fn value_parser() -> ValueParser {
                let words = PossibleValuesParser::new($name::ALL.iter().map(|word| word.word()));
                words.try_map(|word| word.parse::<$name>()).into()
            }
        }
    )+ };
}

words_as_arguments!(
    DayName, Face, FeedBasis, Forming, LightKind, Location, Material, Mount, Part, Place, Role, Stage,
    Texture, Tone, Topic, View
);

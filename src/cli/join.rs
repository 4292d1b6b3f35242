//! `join`, `part` and `me`: a clone of a book, how much of it, and who is asking in it.

use std::collections::BTreeSet;
use std::path::PathBuf;

use jiff::civil::Date;
use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::git::Repo;
use crate::ids::PersonId;
use crate::ops::init;
use crate::ops::reading::Me;
use crate::sync::join;
use crate::sync::part::{self, Wanted};

/// Fetch a book from any git address, check it, and remember who you are in it.
///
/// It is an ordinary clone by your own git. The book's fingerprint is shown: compare it once with the
/// shop's, by telephone; from then on this clone refuses any other. With `--mine` or `--project` only those projects are
/// fetched and checked, which is quick where the book has thousands; `underlit part` takes more in later. With `--since`
/// as well, the history begins on that day.
///
/// Example: underlit join git@host:harbour-lights.git harbour-lights --me imke
#[derive(Debug, clap::Args)]
pub(crate) struct JoinArgs {
    /// The address, as `git clone` takes it.
    address: String,
    /// The folder to make.
    folder: PathBuf,
    #[command(flatten)]
    part: Which,
    /// Of a part, hold the history from this day on, which is much quicker in a long book. Of what was done before,
    /// signatures are checked, and the rest is taken on the word of the remote's guard, until `underlit part --past`
    /// fetches and checks it.
    #[arg(long, value_name = "DATE", value_parser = super::value::date, requires = "Which")]
    since: Option<Date>,
}

/// In a history of so many commits it is worth while to say that the newest part of it can be had alone.
const LONG: usize = 5_000;

/// Which projects a clone is to hold.
#[derive(Debug, clap::Args)]
pub(crate) struct Which {
    /// Hold only this project, with the roster, the shop and the rules; `*` stands for any letters. Repeat it for more.
    #[arg(long = "project", value_name = "PROJECT")]
    projects: Vec<String>,
    /// Hold only the projects that name you as client, rep, designer, engineer, fabricator or installer, and each new one
    /// that does.
    #[arg(long)]
    mine: bool,
}

impl Which {
    fn wanted(&self) -> Wanted {
        Wanted { projects: self.projects.clone(), mine: self.mine, ..Wanted::default() }
    }
}

pub(crate) fn join(args: &JoinArgs, setting: &Setting<'_>) -> Outcome {
    let key = setting.around.key.clone();
    let me = setting.around.person.clone().map(|person| Me { person, key });
    let made = join::join(&args.address, &args.folder, me, &args.part.wanted(), args.since, &setting.around)?;
    setting.done(format!("joined the book in {}", made.folder.display()));
    if let Some(held) = made.held {
        setting.printer.line(format!("  {}", held.in_words()));
    }
    if made.held.is_some_and(|held| held.history_from.is_none()) && made.commits > LONG {
        setting.printer.line(format!(
            "  {} commits were checked; another time, --since DATE fetches those from a day on, in a fraction of the time",
            made.commits
        ));
    }
    if !made.filtered {
        setting.printer.line(
            "  the remote sends no parts, so everything was fetched; whoever keeps it allows them with: git config uploadpack.allowFilter true",
        );
    }
    setting.printer.line(format!("  fingerprint {}", made.fingerprint));
    setting.printer.line("  compare it once with the shop's, by telephone");
    if let Some(refused) = &made.refused {
        setting.printer.remark(refused.in_words());
        setting.printer.remark("  this clone stands at the last good state before that; work in it as usual");
    }
    if setting.around.person.is_none() {
        setting.printer.line("  say who you are: underlit me PERSON");
    }
    setting.printer.json(&json!({ "folder": made.folder, "fingerprint": made.fingerprint, "branch": made.branch, "sync_refused": made.refused, "part": made.held }));
    Ok(Exit::Done)
}

/// Which projects this clone holds; takes more of the book into it, or lets some go.
///
/// A clone made with `join --mine` or `join --project` holds some projects with all their history, and the roster, the
/// shop and the rules. Of the other projects it has names and digests; they are not checked here. What comes in is checked
/// first, with all the history that the clone holds. What was not sent does not go out. Without options: what it holds.
///
/// Example: underlit part --project quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct PartArgs {
    #[command(flatten)]
    add: Which,
    /// Let this project go from this clone; `*` stands for any letters.
    #[arg(long, value_name = "PROJECT")]
    drop: Vec<String>,
    /// Hold the whole book, with its whole history.
    #[arg(long, conflicts_with_all = ["projects", "mine", "drop"])]
    whole: bool,
    /// Fetch the history from before the day on which it begins here, and check it.
    #[arg(long)]
    past: bool,
}

pub(crate) fn part(args: &PartArgs, setting: &Setting<'_>) -> Outcome {
    let wanted = Wanted { drop: args.drop.clone(), whole: args.whole, past: args.past, ..args.add.wanted() };
    let made = part::change(&setting.folder, &setting.around, &wanted)?;
    let names = |names: &BTreeSet<String>| names.iter().cloned().collect::<Vec<_>>().join(", ");
    if !made.added.is_empty() {
        setting.done(format!("came in: {}", names(&made.added)));
    }
    if !made.dropped.is_empty() {
        setting.done(format!("went out: {}", names(&made.dropped)));
    }
    if let Some(past) = made.past {
        setting.done(format!("came in and checked: the history from before {past}"));
    }
    match made.held {
        Some(held) => {
            setting.printer.line(held.in_words());
            made.projects.iter().for_each(|name| setting.printer.line(format!("  {name}")));
        }
        None => setting.printer.line("this clone holds the whole book"),
    }
    setting.printer.json(&json!({
        "part": made.held, "projects": made.projects, "added": made.added, "dropped": made.dropped,
        "past_before": made.past,
    }));
    Ok(Exit::Done)
}

/// Say who you are in this clone, once; without a name it shows who that is.
///
/// Example: underlit me imke --key ~/.ssh/id_ed25519
#[derive(Debug, clap::Args)]
pub(crate) struct MeArgs {
    /// Your short name on the roster.
    person: Option<PersonId>,
}

pub(crate) fn me(args: &MeArgs, setting: &Setting<'_>) -> Outcome {
    let Some(person) = args.person.clone() else { return who(setting) };
    let reading = setting.reading()?;
    let repo = Repo::open(reading.book.root())?;
    let local = repo.clone_local_dir()?;
    let key = setting.around.key.clone();
    let me = Me { person, key };
    if !setting.around.dry_run {
        init::remember(&reading.chain, &me, &local)?;
    }
    let name = reading.chain.newest().name_of(&me.person);
    setting.done(format!("in this clone you are {name} ({})", me.person));
    setting.printer.json(&json!({ "person": me.person, "name": name }));
    Ok(Exit::Done)
}

/// Who this clone takes the asker for.
fn who(setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let person = desk.me()?;
    let name = desk.reading.chain.newest().name_of(&person);
    setting.printer.line(format!("in this clone you are {name} ({person})"));
    setting.printer.json(&json!({ "person": person, "name": name }));
    Ok(Exit::Done)
}

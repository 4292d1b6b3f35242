//! `join` and `me`: a clone of a book, and who is asking in it.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::git::Repo;
use crate::ids::PersonId;
use crate::ops::init;
use crate::ops::reading::Me;
use crate::sync::join;

/// Fetch a book from any git address, check it, and remember who you are in it.
///
/// It is an ordinary clone by your own git. The book's fingerprint is shown: compare it once with the
/// shop's, by telephone; from then on this clone refuses any other.
///
/// Example: underlit join git@host:harbour-lights.git harbour-lights --me imke
#[derive(Debug, clap::Args)]
pub(crate) struct JoinArgs {
    /// The address, as `git clone` takes it.
    address: String,
    /// The folder to make.
    folder: PathBuf,
}

pub(crate) fn join(args: &JoinArgs, setting: &Setting<'_>) -> Outcome {
    let key = setting.around.key.clone();
    let me = setting.around.person.clone().map(|person| Me { person, key });
    let made = join::join(&args.address, &args.folder, me, &setting.around)?;
    setting.done(format!("joined the book in {}", made.folder.display()));
    setting.printer.line(format!("  fingerprint {}", made.fingerprint));
    setting.printer.line("  compare it once with the shop's, by telephone");
    if let Some(refused) = &made.refused {
        setting.printer.remark(refused.in_words());
        setting.printer.remark("  this clone stands at the last good state before that; work in it as usual");
    }
    if setting.around.person.is_none() {
        setting.printer.line("  say who you are: underlit me PERSON");
    }
    setting.printer.json(&json!({ "folder": made.folder, "fingerprint": made.fingerprint, "branch": made.branch, "sync_refused": made.refused }));
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

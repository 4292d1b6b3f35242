//! `roster` and `allowed-signers`: who is who, and what the owners seal.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::ids::PersonId;
use crate::model::roster::{KeyState, Person, Role, Roster};
use crate::ops::init::active_key;
use crate::ops::roster::{self, Versioned};
use crate::ops::signed::{self, Signed};
use crate::ops::{Desk, Reading};
use crate::signing::PublicKey;
use crate::sync::roster_redo;
use crate::trust::alike;
use crate::words::counted;

/// Who is who, in which role, with which keys; and what the owners seal.
///
/// Every change is a new version that owners sign. Where more than one owner must sign, the change waits as
/// a file that the next owner countersigns, offline.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum RosterVerb {
    /// Show everybody.
    ///
    /// Example: underlit roster show
    Show,
    /// Add a person.
    ///
    /// Example: underlit roster add imke --name "Imke Voss" --role client --public-key imke.pub
    Add(AddArgs),
    /// Add a key to a person.
    ///
    /// A passkey is a file from a page, and anybody can make one: have its owner read its digits to you first.
    ///
    /// Example: underlit roster add-key imke imke-passkey.pub --heard "52361 08874 91120 45003 77216"
    AddKey(AddKeyArgs),
    /// Retire a key: nothing new signed with it counts. What it signed before counts where you keep it.
    ///
    /// For a compromised key, find the last commit that is surely good with `underlit history`, and
    /// keep what the book held then.
    ///
    /// Example: underlit roster retire-key jonas old.pub --compromised --keep-as-of 4f1c2a9
    RetireKey(RetireArgs),
    /// Give a person roles, in place of those they have; none for one who leaves.
    ///
    /// Where they lose a role in which they signed something that still counts, say what becomes of it.
    ///
    /// Example: underlit roster roles jonas designer --keep-all
    Roles(RolesArgs),
    /// Correct a person's full name, after a misspelling or a marriage.
    ///
    /// What was signed before stays true, and is shown with the name under which it was signed.
    ///
    /// Example: underlit roster rename imke --name "Imke Vale"
    Rename(RenameArgs),
    /// Seal the shop's files and the rules as they lie on disk.
    ///
    /// Example: underlit roster seal --reason "drivers as in this year's data sheets"
    Seal(ReasonArgs),
    /// Take back your own version that is not sent yet, and make it again on top of the one that another owner sent
    /// first under the same number.
    ///
    /// Example: underlit roster redo
    Redo {
        /// Only take it back.
        #[arg(long)]
        drop: bool,
    },
    /// How many owners must sign the next version.
    ///
    /// Example: underlit roster threshold 2
    Threshold(ThresholdArgs),
    /// Sign a version that another owner proposed.
    ///
    /// Example: underlit roster countersign roster-0005-proposal.json
    Countersign {
        /// The file that the other owner handed on.
        proposal: PathBuf,
    },
}

#[derive(Debug, clap::Args)]
pub(crate) struct AddArgs {
    /// The short name: lower-case letters, digits and hyphens.
    person: PersonId,
    /// The full name.
    #[arg(long, value_name = "NAME")]
    name: String,
    /// owner, rep, client, designer, engineer, fabricator, installer, stone-mason, electrician, approver.
    #[arg(long, value_name = "ROLE", value_delimiter = ',', required = true)]
    role: Vec<Role>,
    /// The public key file; none for a client who answers by evidence.
    #[arg(long, value_name = "FILE")]
    public_key: Option<PathBuf>,
    #[command(flatten)]
    heard: HeardArgs,
    /// How to reach them, if that should stand in the book.
    #[arg(long, value_name = "TEXT")]
    contact: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct RenameArgs {
    /// The person, by the short name, which stays.
    person: PersonId,
    /// The full name from now on.
    #[arg(long, value_name = "NAME")]
    name: String,
    /// Why.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct KeyArgs {
    /// The person.
    person: PersonId,
    /// The public key file.
    public_key: PathBuf,
}

#[derive(Debug, clap::Args)]
pub(crate) struct AddKeyArgs {
    #[command(flatten)]
    key: KeyArgs,
    #[command(flatten)]
    heard: HeardArgs,
}

#[derive(Debug, clap::Args)]
pub(crate) struct HeardArgs {
    /// The 25 digits of the key, as its owner read them to you: needed for a passkey, welcome for any key.
    #[arg(long, value_name = "DIGITS")]
    heard: Option<String>,
}

impl HeardArgs {
    /// Refuses a key whose digits were not compared, or are others.
    fn compared(&self, key: &PublicKey, person: &PersonId) -> Result<(), Vec<Fault>> {
        let plain = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
        match (&self.heard, key.site()) {
            (None, None) => Ok(()),
            (Some(heard), _) if plain(heard) == plain(&key.digits()) => Ok(()),
            (Some(_), _) => Err(vec![
                Fault::trust("key-differs", "the digits that you heard are not those of this key")
                    .fix(format!("have {person} read them again; if they stay others, the file is not theirs: ask for it anew")),
            ]),
            (None, Some(site)) => Err(vec![
                Fault::usage("not-compared", format!("this passkey for {site} came by file, and anybody can make one"))
                    .fix(format!(
                        "call {person} on a number that you know, have them read the 25 digits that their page shows, and \
                         add --heard \"…\""
                    )),
            ]),
        }
    }
}

#[derive(Debug, clap::Args)]
pub(crate) struct RetireArgs {
    #[command(flatten)]
    key: KeyArgs,
    /// The key is compromised: somebody else may have it.
    #[arg(long)]
    compromised: bool,
    #[command(flatten)]
    keeping: Keeping,
}

/// What the owners still accept of what was signed so far.
#[derive(Debug, clap::Args)]
pub(crate) struct Keeping {
    /// Keep everything that was signed so far.
    #[arg(long, group = "keeping")]
    keep_all: bool,
    /// Keep what was in the book at this commit: what came in later may be the thief's.
    #[arg(long, value_name = "COMMIT", group = "keeping")]
    keep_as_of: Option<String>,
    /// Keep these sign-offs and moves, by digest.
    #[arg(long, value_name = "DIGEST", value_delimiter = ',', group = "keeping")]
    keep: Vec<Sha256Digest>,
    /// Keep nothing: what was signed counts no more, and has to be signed again by somebody else.
    #[arg(long, group = "keeping")]
    keep_none: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct RolesArgs {
    /// The person.
    person: PersonId,
    /// The roles; none for one who leaves.
    #[arg(value_delimiter = ',')]
    roles: Vec<Role>,
    #[command(flatten)]
    keeping: Keeping,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ReasonArgs {
    /// Why.
    #[arg(long, value_name = "TEXT", default_value = "the shop's files changed")]
    reason: String,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ThresholdArgs {
    /// The number, counted as people.
    owners: u32,
}

pub(crate) fn run(verb: &RosterVerb, setting: &Setting<'_>) -> Outcome {
    if let RosterVerb::Redo { drop } = verb {
        return redo(*drop, setting);
    }
    if let RosterVerb::Show = verb {
        return show(setting);
    }
    // The seal is what makes a changed shop file good again, so the shop cannot be asked for first.
    let desk = match verb {
        RosterVerb::Seal(_) => Desk::open_to_seal(&setting.folder, &setting.around)?,
        _ => setting.desk()?,
    };
    let done = match verb {
        RosterVerb::Show | RosterVerb::Redo { .. } => return Ok(Exit::Done),
        RosterVerb::Add(args) => {
            let keys = match &args.public_key {
                Some(file) => {
                    let key = read_key(file)?;
                    args.heard.compared(&key, &args.person)?;
                    vec![active_key(&key)]
                }
                None => Vec::new(),
            };
            roster::next_version(&desk, &format!("{} joins as {}", args.name, words(&args.role)), |r| {
                if r.person(&args.person).is_some() {
                    return Err(Box::new(
                        Fault::usage("already-there", format!("{} is on the roster already", args.person))
                            .fix("`underlit roster roles` changes what they may do, `add-key` adds a key"),
                    ));
                }
                r.people.push(Person {
                    id: args.person.clone(),
                    name: args.name.clone(),
                    contact: args.contact.clone(),
                    roles: args.role.clone(),
                    keys,
                    kept: Vec::new(),
                });
                Ok(())
            })?
        }
        RosterVerb::AddKey(args) => {
            let KeyArgs { person: id, public_key } = &args.key;
            let key = read_key(public_key)?;
            args.heard.compared(&key, id)?;
            roster::next_version(&desk, &format!("a further key of {id}"), |r| {
                person(r, id)?.keys.push(active_key(&key));
                Ok(())
            })?
        }
        RosterVerb::RetireKey(args) => retire(args, &desk)?,
        RosterVerb::Roles(args) => roles(args, &desk)?,
        RosterVerb::Rename(args) => rename(args, &desk)?,
        RosterVerb::Seal(args) => roster::next_version(&desk, &args.reason, |_| Ok(()))?,
        RosterVerb::Threshold(args) => {
            roster::next_version(&desk, &format!("{} owners must sign", args.owners), |r| {
                r.threshold = args.owners;
                Ok(())
            })?
        }
        RosterVerb::Countersign { proposal } => roster::countersign(&desk, proposal)?,
    };
    say(&done, setting);
    setting.printer.json(&version_json(&done));
    Ok(Exit::Done)
}

/// What became of a version, for programs.
pub(crate) fn version_json(done: &Versioned) -> serde_json::Value {
    let (version, waits) = match done {
        Versioned::InForce(version) => (version, None),
        Versioned::Proposed { version, file, have, need } => (version, Some((file, have, need))),
    };
    json!({
        "version": version,
        "in_force": waits.is_none(),
        "proposal": waits.map(|(file, _, _)| file),
        "signature_count": waits.map(|(_, have, _)| have),
        "needed_count": waits.map(|(_, _, need)| need),
    })
}

/// Says what became of a version.
fn say(done: &Versioned, setting: &Setting<'_>) {
    match done {
        Versioned::InForce(version) => setting.done(format!("roster version {version} is in force")),
        Versioned::Proposed { version, file, have, need } => {
            setting.done(format!("roster version {version} waits: {have} of {need} owners signed"));
            setting.printer.line(format!("  hand this file to the next owner: {}", file.display()));
            setting.printer.line("  they sign it with: underlit roster countersign FILE");
        }
    }
}

/// The next version with another full name of a person.
fn redo(drop: bool, setting: &Setting<'_>) -> Outcome {
    let done = roster_redo::redo(&setting.folder, &setting.around, drop)?;
    setting.done(format!(
        "took back your roster version {}; the one that was sent first stands",
        done.taken_back
    ));
    match &done.made {
        Some(made) => say(made, setting),
        None if setting.around.dry_run => {}
        None => setting.printer.line("nothing of it was made again"),
    }
    for id in &done.left_out {
        setting.printer.line(format!(
            "left out: commit {}, which does not fit any more; sign or make it again",
            id.short()
        ));
    }
    for path in &done.theirs_stand {
        setting.printer.line(format!("{path} was changed by both: it stands as the other version seals it"));
    }
    if !done.old.is_empty() {
        setting.printer.line(format!("what was there stays in this clone: git log {}", done.old));
        setting.printer.line("to send it: underlit sync");
    }
    setting.printer.json(&json!({
        "taken_back": done.taken_back,
        "made": done.made.as_ref().map(version_json),
        "left_out": done.left_out.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "theirs_stand": done.theirs_stand,
        "old": done.old,
    }));
    Ok(Exit::Done)
}

fn rename(args: &RenameArgs, desk: &Desk<'_>) -> Result<Versioned, Vec<Fault>> {
    let name = args.name.trim();
    let before = desk.reading.chain.newest().name_of(&args.person);
    let reason = args.reason.clone().unwrap_or_else(|| format!("{before} is called {name}"));
    roster::next_version(desk, &reason, |r| {
        let entry = person(r, &args.person)?;
        if entry.name == name {
            return Err(Box::new(
                Fault::usage("same-name", format!("{} is called {name} already", args.person))
                    .fix("`underlit roster show` lists everybody"),
            ));
        }
        name.clone_into(&mut entry.name);
        Ok(())
    })
}

fn words(roles: &[Role]) -> String {
    roles.iter().map(|r| r.word()).collect::<Vec<_>>().join(" and ")
}

fn person<'r>(roster: &'r mut Roster, id: &PersonId) -> crate::fault::Outcome<&'r mut Person> {
    let unknown = roster.unknown(id);
    roster.people.iter_mut().find(|p| &p.id == id).ok_or_else(|| Box::new(unknown))
}

fn read_key(file: &std::path::Path) -> Result<PublicKey, Vec<Fault>> {
    let text = std::fs::read_to_string(file).map_err(|e| {
        vec![
            Fault::usage("key-file", format!("the key cannot be read: {e}"))
                .in_file(file.display().to_string())
                .fix("name the .pub file: the public half, never the private one"),
        ]
    })?;
    let (key, _) =
        PublicKey::from_line(&text).map_err(|e| vec![Fault::from(e).in_file(file.display().to_string())])?;
    Ok(key)
}

fn retire(args: &RetireArgs, desk: &Desk<'_>) -> Result<Versioned, Vec<Fault>> {
    let key = read_key(&args.key.public_key)?;
    let kept = kept(&args.keeping, desk, signed::by(desk, &args.key.person)?)?;
    let state = if args.compromised { KeyState::Compromised } else { KeyState::Retired };
    roster::next_version(desk, &format!("a key of {} is {state}", args.key.person), |r| {
        let found = person(r, &args.key.person)?.keys.iter_mut().find(|k| k.public == key.to_string());
        let Some(entry) = found else {
            return Err(Box::new(
                Fault::usage("unknown-key", format!("{} has no such key on the roster", args.key.person))
                    .fix("`underlit roster show` lists the keys"),
            ));
        };
        entry.state = state;
        entry.kept = kept;
        entry.kept.sort_unstable();
        entry.kept.dedup();
        Ok(())
    })
}

/// Of what was signed, what the owners keep.
fn kept(keeping: &Keeping, desk: &Desk<'_>, signed: Vec<Signed>) -> Result<Vec<Sha256Digest>, Vec<Fault>> {
    let chosen = match (&keeping.keep_as_of, keeping.keep_all) {
        (Some(commit), _) => signed::as_of(desk, commit, signed)?,
        (None, true) => signed,
        (None, false) => return Ok(keeping.keep.clone()),
    };
    Ok(chosen.into_iter().map(|s| s.digest).collect())
}

fn roles(args: &RolesArgs, desk: &Desk<'_>) -> Result<Versioned, Vec<Fault>> {
    let what = if args.roles.is_empty() { "nothing any more".into() } else { words(&args.roles) };
    let rules = &desk.reading.shop.rules;
    let lost = signed::in_roles_lost(desk, &args.person, &args.roles, rules)?;
    let Keeping { keep_all, keep_as_of, keep, keep_none } = &args.keeping;
    if !lost.is_empty() && !keep_all && !keep_none && keep_as_of.is_none() && keep.is_empty() {
        let some: Vec<&str> = lost.iter().map(|s| s.what.as_str()).take(3).collect();
        let more = if lost.len() > some.len() { ", and more" } else { "" };
        let message = format!(
            "{} signed {} in a role that ends, and none of them would count any more: {}{more}",
            args.person,
            counted(lost.len(), "statement", "statements"),
            some.join(", ")
        );
        return Err(vec![Fault::usage("would-lose-force", message).fix(
            "add --keep-all to keep what was said so far, --keep-as-of COMMIT or --keep DIGEST to keep some of it, or --keep-none to let it lapse",
        )]);
    }
    let digests = kept(&args.keeping, desk, lost)?;
    roster::next_version(desk, &format!("{} is {what}", args.person), |r| {
        let entry = person(r, &args.person)?;
        entry.roles.clone_from(&args.roles);
        entry.kept.extend(digests);
        entry.kept.sort_unstable();
        entry.kept.dedup();
        Ok(())
    })
}

fn show(setting: &Setting<'_>) -> Outcome {
    let reading: Reading = setting.reading()?;
    let roster = reading.chain.newest();
    let printer = setting.printer;
    printer.line(format!(
        "{}, roster version {}, fingerprint {}",
        reading.shop.book.shop,
        roster.version,
        reading.chain.fingerprint()
    ));
    printer.line(format!("{} of the owners must sign the next version", roster.threshold));
    for person in &roster.people {
        let roles = if person.roles.is_empty() { "no role".into() } else { words(&person.roles) };
        printer.line(format!("  {:16} {:24} {roles}", person.id, person.name));
        for key in &person.keys {
            let shown = |k: PublicKey| match k.site() {
                Some(site) => format!("{}, passkey for {site}, digits {}", k.fingerprint(), k.digits()),
                None => k.fingerprint(),
            };
            let shown = PublicKey::from_line(&key.public).map(|(k, _)| shown(k)).unwrap_or_default();
            printer.line(format!("  {:16} {:24} {shown}", "", key.state));
        }
        if person.keys.is_empty() {
            printer.line(format!("  {:16} {:24} no key: answers by evidence", "", ""));
        }
    }
    let notes = alike::of_people(roster, |_| true);
    notes.iter().for_each(|note| printer.line(format!("note: {}", note.message)));
    printer.json(&json!({ "fingerprint": reading.chain.fingerprint(), "roster": roster, "notes": notes }));
    Ok(Exit::Done)
}

/// Print the allowed-signers file of a roster version, for stock `ssh-keygen -Y verify`.
///
/// Example: underlit allowed-signers > signers
#[derive(Debug, clap::Args)]
pub(crate) struct AllowedArgs {
    /// The roster version; by default the newest.
    #[arg(long, value_name = "NUMBER")]
    version_number: Option<u32>,
}

pub(crate) fn allowed(args: &AllowedArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let text = roster::export_allowed_signers(&reading, args.version_number)?;
    if setting.printer.is_json() {
        setting.printer.json(&json!({ "allowed_signers": text }));
    } else {
        setting.printer.raw(text);
    }
    Ok(Exit::Done)
}

//! `init`: makes a book.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{BookId, PersonId};
use crate::model::roster::Role;
use crate::ops::init::{self, NewBook};
use crate::signing::{Protection, make_key};
use crate::store::safe_path::scratch_fault;
use crate::units::DisplayUnits;

/// Make a new book: a git repository with its first roster, rules, the shop's lists and the schemas.
///
/// The lists and rules are a beginning with invented figures: replace them with your own and seal them
/// (`underlit roster seal`) before you rely on them. You sign the first roster with your SSH key. No key
/// yet: `--make-key FILE` makes one.
///
/// Example: underlit init harbour-lights --shop "Harbour Lightworks" --owner mara --owner-name "Mara Quill"
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The book's folder, which is not there yet or is empty.
    folder: PathBuf,
    /// The shop's name, as it stands on drawing sheets.
    #[arg(long, value_name = "NAME")]
    shop: String,
    /// Your short name on the roster: lower-case letters, digits and hyphens.
    #[arg(long, value_name = "PERSON")]
    owner: PersonId,
    /// Your full name.
    #[arg(long, value_name = "NAME")]
    owner_name: String,
    /// The book's short name; by default the folder's.
    #[arg(long, value_name = "NAME")]
    id: Option<BookId>,
    /// Further roles that you have, in a shop of few: rep, designer, engineer, fabricator, installer.
    #[arg(long, value_name = "ROLE", value_delimiter = ',')]
    roles: Vec<Role>,
    /// Show lengths in inches first.
    #[arg(long)]
    inches: bool,
    /// Make an SSH key (Ed25519) in this file and use it.
    #[arg(long, value_name = "FILE", conflicts_with = "key")]
    make_key: Option<PathBuf>,
    /// Lock the new key with no passphrase: whoever can read the file can sign.
    #[arg(long, requires = "make_key")]
    no_passphrase: bool,
    /// What a reader of the book should know first.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

pub(crate) fn run(args: &Args, setting: &Setting<'_>) -> Outcome {
    let mut key = setting.around.key.clone();
    let tried = tempfile::tempdir().map_err(|e| vec![scratch_fault(&e)])?;
    if let Some(file) = args.make_key.as_ref().filter(|_| setting.around.dry_run) {
        if file.symlink_metadata().is_ok() {
            return Err(vec![
                Fault::usage("key-there", format!("{} is there already", file.display()))
                    .fix("name another file, or use that key: --key FILE"),
            ]);
        }
        // A key that is gone when this ends, so that all the rest can be tried.
        let stand_in = tried.path().join("key");
        make_key(&stand_in, &args.owner_name, Protection::None, &setting.around.toolbox)
            .map_err(|e| vec![e.into()])?;
        key = Some(stand_in);
    } else if let Some(file) = &args.make_key {
        let protection = if args.no_passphrase { Protection::None } else { Protection::Passphrase };
        make_key(file, &args.owner_name, protection, &setting.around.toolbox).map_err(|e| vec![e.into()])?;
        setting.printer.remark(format!("made the key {}; keep a copy of it in a safe place", file.display()));
        key = Some(std::path::absolute(file).unwrap_or_else(|_| file.clone()));
    }
    let id = match &args.id {
        Some(id) => id.clone(),
        None => {
            let name = args.folder.file_name().and_then(|n| n.to_str()).unwrap_or_default();
            name.parse().map_err(|e| {
                vec![Fault::usage("book-name", format!("{e}")).fix("name the book with --id NAME")]
            })?
        }
    };
    let book = NewBook {
        folder: args.folder.clone(),
        id,
        shop: args.shop.clone(),
        units: if args.inches { DisplayUnits::In } else { DisplayUnits::Mm },
        owner: args.owner.clone(),
        owner_name: args.owner_name.clone(),
        roles: args.roles.clone(),
        key,
        note: args.note.clone(),
    };
    let made = init::init(&book, &setting.around)?;
    setting.done(format!("made the book {} in {}", book.id, made.folder.display()));
    setting.printer.line(format!("  fingerprint {}", made.fingerprint));
    setting
        .printer
        .line("  next: replace the invented figures in shop/ and rules.json, then `underlit roster seal`;");
    setting
        .printer
        .line("        add people with `underlit roster add`, and open a project with `underlit open`");
    setting.printer.json(&json!({ "folder": made.folder, "fingerprint": made.fingerprint }));
    Ok(Exit::Done)
}

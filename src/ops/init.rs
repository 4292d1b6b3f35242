//! Makes a book: a git repository with a first roster, rules, the shop's lists and the schemas.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::new_folder::NewFolder;
use super::reading::Me;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::git::{NewCommit, Person as Author, Repo};
use crate::ids::{BookId, PersonId};
use crate::model::book::{Book, FORMAT};
use crate::model::droppings;
use crate::model::roster::{Key, KeyState, Person, Role, Roster};
use crate::signing::{Namespace, PublicKey, Signer};
use crate::store::{BookFolder, Changes, schemas, starter, write};
use crate::trust::chain::{self, Chain};
use crate::trust::shop::SEALED;
use crate::trust::surroundings::Surroundings;
use crate::units::DisplayUnits;

/// What a new book is told.
#[derive(Clone, Debug)]
pub(crate) struct NewBook {
    /// Where.
    pub folder: PathBuf,
    /// The book's name.
    pub id: BookId,
    /// The shop's name.
    pub shop: String,
    /// The units in which lengths are shown.
    pub units: DisplayUnits,
    /// The first owner's name on the roster.
    pub owner: PersonId,
    /// The first owner's full name.
    pub owner_name: String,
    /// Further roles of the first owner, for a shop of few.
    pub roles: Vec<Role>,
    /// The owner's key file; none to take the usual one.
    pub key: Option<PathBuf>,
    /// What a reader should know first.
    pub note: Option<String>,
}

/// A book that was made.
#[derive(Clone, Debug)]
pub(crate) struct Made {
    /// Its folder.
    pub folder: PathBuf,
    /// Its fingerprint.
    pub fingerprint: Sha256Digest,
}

/// Makes a book, all of it or nothing.
///
/// # Errors
/// `folder-not-empty`, and whatever keeps the key from signing or the disk from writing.
pub(crate) fn init(new: &NewBook, around: &Surroundings<'_>) -> Outcome<Made> {
    let signer = owner_key(new, around)?;
    let (changes, fingerprint) = files(new, around, &signer)?;
    let place = NewFolder::begin(&new.folder)?;
    if around.dry_run {
        place.drop_all();
        return Ok(Made { folder: new.folder.clone(), fingerprint });
    }
    let made = (|| {
        let repo = Repo::create(place.path())?;
        changes.apply(repo.root(), None)?;
        let lock = repo.lock()?;
        let paths = changes.paths();
        let mut paths: Vec<&str> = paths.iter().map(String::as_str).collect();
        paths.push(".gitattributes");
        let email =
            repo.configured_person().map_or_else(|| format!("{}@{}.invalid", new.owner, new.id), |p| p.email);
        let author = Author::new(&new.owner_name, &email)?;
        let message = format!("{}: a new book\n\nFingerprint {fingerprint}\n", new.shop);
        let commit = NewCommit { message: &message, author: &author, at: around.moment() };
        repo.commit_paths(&lock, &paths, &commit)?;
        let local = repo.clone_local_dir()?;
        Me { person: new.owner.clone(), key: new.key.clone() }.remember(&local)?;
        let chain = Chain::load(&BookFolder::at(repo.root().to_path_buf())).map_err(first)?;
        chain::hold_to_pin(&repo, &chain)?;
        Ok(())
    })();
    match made {
        Ok(()) => Ok(Made { folder: place.keep()?, fingerprint }),
        Err(fault) => {
            place.drop_all();
            Err(fault)
        }
    }
}

fn owner_key<'a>(new: &NewBook, around: &'a Surroundings<'_>) -> Outcome<Signer<'a>> {
    if let Some(file) = &new.key {
        return Ok(Signer::from_file(file, &around.toolbox)?);
    }
    let Some(home) = &around.home else {
        return Err(Box::new(
            Fault::usage("no-home", "no home folder is known to look for your key in")
                .fix("name the key with --key FILE"),
        ));
    };
    let identities = crate::signing::find_identities(home, &around.toolbox);
    let first = identities.first().map_err(|e| {
        Fault::from(e).fix("make a key, then run this again: ssh-keygen -t ed25519; or let this command make one: add --make-key FILE")
    })?;
    Ok(first.signer(&around.toolbox)?)
}

fn files(new: &NewBook, around: &Surroundings<'_>, signer: &Signer<'_>) -> Outcome<(Changes, Sha256Digest)> {
    let book = Book {
        schema: "schema/book.schema.json".into(),
        id: new.id.clone(),
        shop: new.shop.clone(),
        units: new.units,
        format: FORMAT,
        pages: None,
        note: new.note.clone(),
    };
    let mut contents: BTreeMap<String, Vec<u8>> = BTreeMap::new();
    contents.insert("book.json".into(), write::to_bytes(&book)?);
    for (path, text) in starter::FILES {
        contents.insert((*path).into(), text.as_bytes().to_vec());
    }
    let sealed = SEALED
        .iter()
        .filter_map(|path| Some(((*path).to_owned(), Sha256Digest::of(contents.get(*path)?))))
        .collect();
    let mut roles = vec![Role::Owner];
    roles.extend(new.roles.iter().filter(|r| **r != Role::Owner));
    let roster = Roster {
        schema: "../schema/roster.schema.json".into(),
        book: new.id.clone(),
        version: 1,
        previous: None,
        threshold: 1,
        people: vec![Person {
            id: new.owner.clone(),
            name: new.owner_name.clone(),
            contact: None,
            roles,
            keys: vec![active_key(signer.key())],
            kept: Vec::new(),
        }],
        sealed,
        reason: "the first roster".into(),
        time: around.stamp_to_sign()?,
    };
    let bytes = write::to_bytes(&roster)?;
    crate::store::read::check_bytes("roster/0001.json", crate::model::kind::Kind::Roster, &bytes)
        .map_err(first)?;
    let fingerprint = Sha256Digest::of(&bytes);
    let armour = signer.sign(&Namespace::roster(), &bytes)?;
    let mut changes = Changes::new();
    for (path, bytes) in contents {
        changes.put(path, bytes);
    }
    changes.put(".gitignore", droppings::IGNORE.as_bytes().to_vec());
    for (name, text) in schemas::published() {
        changes.put(format!("schema/{name}"), text.as_bytes().to_vec());
    }
    changes.put(chain::path_of(1), bytes);
    changes.put(chain::signature_path(1, &new.owner), armour.as_str().as_bytes().to_vec());
    Ok((changes, fingerprint))
}

/// A key that may sign, as the roster lists it.
#[must_use]
pub(crate) fn active_key(key: &PublicKey) -> Key {
    Key { public: key.to_string(), state: KeyState::Active, kept: Vec::new() }
}

fn first(faults: Vec<Fault>) -> Box<Fault> {
    match faults.into_iter().next() {
        Some(fault) => Box::new(fault),
        None => Box::new(Fault::new(crate::fault::Class::Bug, "no-fault", "unknown failure")),
    }
}

/// Makes a clone remember who is asking, once the roster knows the person.
///
/// # Errors
/// `unknown-person`, and what the disk says.
pub(crate) fn remember(chain: &Chain, me: &Me, clone_local: &Path) -> Outcome<()> {
    if chain.newest().person(&me.person).is_none() {
        return Err(Box::new(chain.newest().unknown(&me.person)));
    }
    me.remember(clone_local)
}

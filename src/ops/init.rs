//! Makes a book: a git repository with a first roster, rules, the shop's lists and the schemas.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::new_folder::NewFolder;
use super::reading::Me;
use super::sync;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::git::{Branches, CommitId, NewCommit, Person as Author, Repo};
use crate::ids::{BookId, PersonId};
use crate::model::book::{Book, FORMAT};
use crate::model::droppings;
use crate::model::roster::{Key, KeyState, Person, Role, Roster};
use crate::signing::{PublicKey, Signer};
use crate::store::{BookFolder, Changes, schemas, starter, write};
use crate::trust::chain::{self, Chain};
use crate::trust::refused::Refused;
use crate::trust::shop::{self, SEALED};
use crate::trust::surroundings::Surroundings;
use crate::units::DisplayUnits;

/// What a new book is told.
#[derive(Clone, Debug)]
pub struct NewBook {
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
pub struct Made {
    /// Its folder.
    pub folder: PathBuf,
    /// Its fingerprint.
    pub fingerprint: Sha256Digest,
}

/// Makes a book, all of it or nothing.
///
/// # Errors
/// `folder-not-empty`, and whatever keeps the key from signing or the disk from writing.
pub fn init(new: &NewBook, around: &Surroundings<'_>) -> Outcome<Made> {
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
    let armour = signer.sign(&chain::roster_namespace(), &bytes)?;
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
pub fn active_key(key: &PublicKey) -> Key {
    Key { public: key.to_string(), state: KeyState::Active, kept: Vec::new() }
}

fn first(faults: Vec<Fault>) -> Box<Fault> {
    match faults.into_iter().next() {
        Some(fault) => Box::new(fault),
        None => Box::new(Fault::new(crate::fault::Class::Bug, "no-fault", "unknown failure")),
    }
}

/// A book that was joined.
#[derive(Clone, Debug)]
pub struct Joined {
    /// Its folder.
    pub folder: PathBuf,
    /// Its fingerprint.
    pub fingerprint: Sha256Digest,
    /// The branch that holds it.
    pub branch: String,
    /// What of the remote's branch does not pass: the clone stands at the last good state before it.
    pub refused: Option<Refused>,
}

/// Fetches a book from a remote, judges its whole history, pins its fingerprint, and remembers who is asking. Where the
/// remote holds something that does not pass, the clone begins at the last good state before it.
///
/// # Errors
/// What git says; everything that is wrong with the book that came.
pub fn join(
    address: &str,
    folder: &Path,
    me: Option<Me>,
    around: &Surroundings<'_>,
) -> Result<Joined, Vec<Fault>> {
    let place = NewFolder::begin(folder)?;
    let joined = (|| {
        let repo = Repo::clone_without_files(&around.git, address, place.path())?;
        let local = repo.clone_local_dir()?;
        let (branch, tip) = branch_of_the_book(&repo, address)?;
        let (head, refused) = sync::judge_whole(&repo, &local, &branch, tip, around)?;
        repo.check_out_first(&around.git, &branch, head)?;
        let book = BookFolder::at(repo.root().to_path_buf());
        let chain = Chain::load(&book)?;
        shop::load(&book, &chain)?;
        chain::hold_to_pin(&repo, &chain)?;
        if let Some(me) = me {
            remember(&chain, &me, &local)?;
        }
        if refused.is_some() {
            sync::hear(&repo, &book, &chain, tip, around)?;
        }
        Ok(Joined { folder: folder.to_path_buf(), fingerprint: chain.fingerprint(), branch, refused })
    })();
    match joined {
        Ok(joined) if !around.dry_run => Ok(Joined { folder: place.keep()?, ..joined }),
        joined => {
            place.drop_all();
            joined
        }
    }
}

/// The branch that holds the book, with its commit: the one that the remote's HEAD names where that is one, else the only
/// one, else `main`.
fn branch_of_the_book(repo: &Repo, address: &str) -> Result<(String, CommitId), Vec<Fault>> {
    let Branches { all: branches, named } = repo.cloned_branches()?;
    let mut books = Vec::new();
    for (branch, tip) in &branches {
        let state = repo.snapshot(*tip)?;
        if state.entry("book.json")?.is_some() && state.entry(&chain::path_of(1))?.is_some() {
            books.push((branch.clone(), *tip));
        }
    }
    let of = |wanted: &str| books.iter().find(|(branch, _)| branch == wanted).cloned();
    let found = named.as_deref().and_then(of).or_else(|| match books.as_slice() {
        [only] => Some(only.clone()),
        _ => of("main"),
    });
    let names = |all: &[(String, CommitId)]| {
        all.iter().map(|(branch, _)| branch.as_str()).collect::<Vec<_>>().join(", ")
    };
    found.ok_or_else(|| {
        vec![match (branches.as_slice(), books.as_slice()) {
            ([], _) => Fault::usage("remote-empty", format!("there is nothing at {address} yet"))
                .fix("whoever made the book sends it first: git remote add origin ADDRESS, then underlit sync"),
            (all, []) => Fault::usage("not-a-book", format!("no branch at {address} holds a book ({})", names(all)))
                .fix("name the address of a book's repository"),
            (_, several) => Fault::usage(
                "which-branch",
                format!("several branches at {address} hold a book: {}", names(several)),
            )
            .fix("let whoever keeps the repository name the right one: git symbolic-ref HEAD refs/heads/BRANCH"),
        }]
    })
}

/// Makes a clone remember who is asking, once the roster knows the person.
///
/// # Errors
/// `unknown-person`, and what the disk says.
pub fn remember(chain: &Chain, me: &Me, clone_local: &Path) -> Outcome<()> {
    if chain.newest().person(&me.person).is_none() {
        return Err(Box::new(chain.newest().unknown(&me.person)));
    }
    me.remember(clone_local)
}

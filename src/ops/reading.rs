//! A book opened for reading, where only files are looked at; and who is asking in this clone.

use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::git::{GitError, Held, Repo};
use crate::ids::{GroupId, PersonId, ProjectId};
use crate::job::Case;
use crate::model::snapshot::{Shop, Snapshot};
use crate::store::{BookFolder, safe_path, write};
use crate::trust::chain::{self, Chain, Pinned};
use crate::trust::refused::{self, Refused};
use crate::trust::surroundings::Surroundings;
use crate::trust::{project, shop};

/// A book opened for reading.
#[derive(Debug)]
pub struct Reading {
    /// Its folder.
    pub book: BookFolder,
    /// Its verified roster.
    pub chain: Chain,
    /// The shop's sealed files.
    pub shop: Shop,
    /// How it stands to this clone's pin; none where the folder is no clone.
    pub pinned: Option<Pinned>,
    /// What of the remote stands refused in this clone.
    pub refused: Option<Refused>,
    /// How much of the book this clone holds; none where it holds the whole.
    pub(crate) held: Option<Held>,
}

impl Reading {
    /// The person who is asking, of whom it is known from the command or this clone.
    ///
    /// # Errors
    /// `who-are-you`, `unknown-person`.
    pub(crate) fn on_the_roster(&self, said: Option<PersonId>) -> Outcome<PersonId> {
        let roster = self.chain.newest();
        let Some(person) = said else {
            let known: Vec<&str> = roster.people.iter().map(|p| p.id.as_str()).collect();
            return Err(Box::new(
                Fault::usage("who-are-you", "this clone does not know who you are")
                    .fix(format!("say it once: underlit me PERSON, one of {}", known.join(", "))),
            ));
        };
        if roster.person(&person).is_none() {
            return Err(Box::new(roster.unknown(&person)));
        }
        Ok(person)
    }

    /// Opens the book in which a folder lies.
    ///
    /// # Errors
    /// Everything that is wrong with its roster or its shop.
    pub fn open(from: &Path) -> Result<Self, Vec<Fault>> {
        let book = BookFolder::find(from)?;
        let repo = match Repo::open(book.root()) {
            Ok(repo) => Some(repo),
            // A book without a history, or somebody else's or one of a form in which git tells us nothing.
            Err(GitError::OtherOwner { .. } | GitError::Unreadable { .. }) => None,
            Err(_) if !book.lies_there(".git")? => None,
            Err(error) => return Err(error.into()),
        };
        let chain = match (Chain::load(&book), &repo) {
            (Err(faults), Some(repo)) => return Err(chain::lost_from_folder(repo, faults)),
            (loaded, _) => loaded?,
        };
        let pinned = repo.as_ref().map(|repo| chain::hold_to_pin_where_it_can(repo, &chain)).transpose()?;
        let shop = shop::load(&book, &chain)?;
        let refused = repo.as_ref().and_then(refused::standing_here);
        let held = repo.as_ref().and_then(|repo| repo.held().ok().flatten());
        Ok(Reading { book, chain, shop, pinned, refused, held })
    }

    /// Who is asking: whom the command names, or whom this clone remembers.
    ///
    /// # Errors
    /// As [`Reading::on_the_roster`]; `me-unreadable`.
    pub(crate) fn who_asks(&self, around: &Surroundings<'_>) -> Outcome<PersonId> {
        let said = match self.clone_local() {
            Some(local) => Me::asking(&local, around)?,
            None => around.person.clone(),
        };
        self.on_the_roster(said)
    }

    /// The folder in which this clone keeps what is its own; none where the book is no clone.
    pub(crate) fn clone_local(&self) -> Option<PathBuf> {
        Repo::open(self.book.root()).and_then(|repo| repo.clone_local_dir()).ok()
    }

    /// The full name of whoever is asking, where this clone knows.
    #[must_use]
    pub(crate) fn my_name(&self, around: &Surroundings<'_>) -> Option<String> {
        let remembered = || Some(Me::remembered(&self.clone_local()?).ok()??.person);
        let me = around.person.clone().or_else(remembered)?;
        Some(self.chain.newest().name_of(&me))
    }

    /// Reads one project.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn project(&self, id: &ProjectId) -> Result<Snapshot, Vec<Fault>> {
        project::load(&self.book, &self.chain, &self.shop.rules, id)
    }

    /// As [`shop::rests_on`].
    #[must_use]
    pub(crate) fn rests_on(&self, around: &Surroundings<'_>) -> Sha256Digest {
        shop::rests_on(&self.chain, &self.shop, &around.build)
    }

    /// A project before the gates.
    #[must_use]
    pub fn case<'a>(&'a self, snapshot: &'a Snapshot) -> Case<'a> {
        Case::new(&self.shop, snapshot)
    }
}

/// The release group that is meant, as a case of its own: the one that is named, or the only one; none for a job that is
/// released as a whole.
///
/// # Errors
/// `which-group` where several are there and none is named, `unknown-group` for one that no panel names.
pub(crate) fn group_of<'c>(case: &'c Case<'_>, wanted: Option<&GroupId>) -> Outcome<Option<Case<'c>>> {
    let names: Vec<String> = case.parts().filter_map(|part| part.group).map(|g| g.to_string()).collect();
    let listed = || format!("name one of them: --group {}", names.join(" or --group "));
    match wanted {
        Some(group) => match case.part(group) {
            Some(part) => Ok(Some(part)),
            None => Err(Box::new(
                Fault::usage(
                    "unknown-group",
                    format!("no panel of {} is in a release group {group}", case.id()),
                )
                .fix(match names.is_empty() {
                    true => "put panels into it: underlit panel change … --group NAME".to_owned(),
                    false => listed(),
                }),
            )),
        },
        None if names.len() > 1 => Err(Box::new(
            Fault::usage("which-group", format!("{} is released group by group", case.id())).fix(listed()),
        )),
        None => Ok(case.parts().next()),
    }
}

/// Who is asking in this clone, kept in `.git/underlit/me.json`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Me {
    /// The person's name on the roster.
    pub person: PersonId,
    /// The file of the person's key, where it does not lie in the usual place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key: Option<PathBuf>,
}

impl Me {
    /// Who is asking: whom the command names, or whom this clone remembers.
    ///
    /// # Errors
    /// As [`Me::remembered`].
    pub(crate) fn asking(clone_local: &Path, around: &Surroundings<'_>) -> Outcome<Option<PersonId>> {
        Ok(around.person.clone().or(Me::remembered(clone_local)?.map(|me| me.person)))
    }

    /// Who is asking, as this clone remembers it.
    ///
    /// # Errors
    /// `me-unreadable`.
    pub(crate) fn remembered(clone_local: &Path) -> Outcome<Option<Me>> {
        let file = clone_local.join("me.json");
        match fs::read(&file) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(Box::new(safe_path::io_fault(".git/underlit/me.json", "read", &error))),
            Ok(bytes) => serde_json::from_slice(&bytes).map(Some).map_err(|e| {
                let fault = Fault::data("me-unreadable", format!("it cannot be read: {e}"));
                Box::new(
                    fault.in_file(".git/underlit/me.json").fix("say who you are again: underlit me PERSON"),
                )
            }),
        }
    }

    /// Makes this clone remember who is asking.
    ///
    /// # Errors
    /// What the disk says.
    pub(crate) fn remember(&self, clone_local: &Path) -> Outcome<()> {
        let bytes = write::to_bytes(self)?;
        write::write_whole(&clone_local.join("me.json"), &bytes)
            .map_err(|e| Box::new(safe_path::io_fault(".git/underlit/me.json", "write", &e)))
    }
}

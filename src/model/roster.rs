//! `roster/NNNN.json`: who is who, in which role, with which keys; and what the owners have sealed.
//!
//! A roster version is never edited: the next one names the digest of this one and is signed by owners.
//! What is deliberately absent: times that decide anything, and any way to change a role in place.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::ids::{BookId, PersonId};
use crate::words::{self, words};

words! {
    /// What a person may do. Each role signs under a namespace of its own.
    Role, "role" {
        /// Answers for the shop: signs rosters, rules and shop data.
        Owner = "owner",
        /// Gathers swatches, asks for test panels, runs trials.
        Rep = "rep",
        /// Approves the choice and the rendering.
        Client = "client",
        /// Draws panels and checks them against the site.
        Designer = "designer",
        /// Releases a project to build.
        Engineer = "engineer",
        /// Builds panels.
        Fabricator = "fabricator",
        /// Installs panels.
        Installer = "installer",
        /// Templates, cuts and sets the stone.
        StoneMason = "stone-mason",
        /// Connects and tests the mains side.
        Electrician = "electrician",
        /// Approves beside the client on the jobs that name them: owner of the place, architect, operator, contractor.
        Approver = "approver",
    }
}

/// One version of the roster.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Roster {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The book that it is the roster of.
    pub book: BookId,
    /// The version: 1 for the first, then one more each time.
    pub version: u32,
    /// The digest of the version before, none for the first.
    pub previous: Option<Sha256Digest>,
    /// How many owners must sign the next version, counted as people.
    pub threshold: u32,
    /// Everybody, by name.
    pub people: Vec<Person>,
    /// The digest of each file that only owners may change, by its path in the book.
    pub sealed: BTreeMap<String, Sha256Digest>,
    /// Why this version was made, for people.
    pub reason: String,
    /// When it was made; informative only.
    pub time: String,
}

/// One person of the roster.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Person {
    /// The short name under which the person signs.
    pub id: PersonId,
    /// The full name, as it stands on sheets.
    pub name: String,
    /// How to reach the person, if that should stand in the book.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact: Option<String>,
    /// What the person may do; none for one who has left.
    pub roles: Vec<Role>,
    /// The person's keys; none for a client who answers by evidence.
    pub keys: Vec<Key>,
    /// What was said in the person's name, in a role that has ended since, and the owners still stand by.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kept: Vec<Sha256Digest>,
}

/// One key of a person.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Key {
    /// The OpenSSH public key line, without a comment.
    pub public: String,
    /// Whether it may still sign.
    pub state: KeyState,
    /// For a key that may no longer sign: the digests of what it signed that the owners still stand by.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kept: Vec<Sha256Digest>,
}

words! {
    /// Whether a key may sign.
    KeyState, "key state" {
        /// It may sign.
        Active = "active",
        /// It was retired in good order: what the owners list as kept still counts, nothing new does.
        Retired = "retired",
        /// It was compromised: only what the owners list as kept counts.
        Compromised = "compromised",
    }
}

impl Roster {
    /// The fault of a person who is not on it.
    #[must_use]
    pub(crate) fn unknown(&self, id: &PersonId) -> Fault {
        let known = self.people.iter().map(|p| p.id.as_str());
        let remedy = words::instead_of(id.as_str(), known, "");
        Fault::usage("unknown-person", format!("{id} is not on the roster"))
            .fix(format!("{remedy} (an owner adds people with `underlit roster add`)"))
    }

    /// The person of that name.
    #[must_use]
    pub(crate) fn person(&self, id: &PersonId) -> Option<&Person> {
        self.people.iter().find(|p| &p.id == id)
    }

    /// The full name of a person, or the short one where the roster does not know it.
    #[must_use]
    pub fn name_of(&self, id: &PersonId) -> String {
        self.person(id).map_or_else(|| id.to_string(), |p| p.name.clone())
    }

    /// Everybody in a role.
    pub(crate) fn in_role(&self, role: Role) -> impl Iterator<Item = &Person> {
        self.people.iter().filter(move |p| p.roles.contains(&role))
    }

    /// True where the owners stand by a statement of a person although the key or the role under it has ended.
    #[must_use]
    pub(crate) fn keeps(&self, id: &PersonId, statement: &Sha256Digest) -> bool {
        self.person(id)
            .is_some_and(|p| p.kept.contains(statement) || p.keys.iter().any(|k| k.kept.contains(statement)))
    }

    /// True where the person of that name has that role.
    #[must_use]
    pub fn has_role(&self, id: &PersonId, role: Role) -> bool {
        self.person(id).is_some_and(|p| p.roles.contains(&role))
    }
}

impl Roster {
    /// People, two by two, of whom one has a key of the other, in whatever state: the person first who stands first.
    #[must_use]
    pub(crate) fn sharing_keys(&self) -> Vec<(&PersonId, &PersonId)> {
        let mut owner_of: BTreeMap<&str, &PersonId> = BTreeMap::new();
        let mut found = Vec::new();
        for person in &self.people {
            for key in &person.keys {
                let first = *owner_of.entry(&key.public).or_insert(&person.id);
                if *first != person.id && !found.contains(&(first, &person.id)) {
                    found.push((first, &person.id));
                }
            }
        }
        found
    }
}

impl Person {
    /// The keys with which the person may sign today.
    pub(crate) fn active_keys(&self) -> impl Iterator<Item = &Key> {
        self.keys.iter().filter(|k| k.state == KeyState::Active)
    }
}

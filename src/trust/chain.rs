//! The roster, from its first version to its newest, every step verified; and the pin that holds a clone
//! to what it has seen.
//!
//! A version counts when it steps by exactly one, names the digest of the one before, and is signed by
//! enough owners of the one before and of itself, counted as people. The digest of the first version is
//! the book's fingerprint. A clone pins it at first use, with the newest version it has seen, so that
//! neither another book nor an older roster can take its place later.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::counting;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means, Outcome};
use crate::git::Repo;
use crate::ids::PersonId;
use crate::model::kind::Kind;
use crate::model::roster::{Key, KeyState, Role, Roster};
use crate::signing::{Armour, Namespace, PublicKey, verify};
use crate::store::{BookFiles, read, safe_path, strict_json, write};

/// The verified roster of a book.
#[derive(Clone, Debug)]
pub struct Chain {
    versions: Vec<(Roster, Sha256Digest)>,
}

impl Chain {
    /// Reads and verifies every version.
    ///
    /// # Errors
    /// Everything that is wrong with the first version that does not hold.
    pub fn load(book: &dyn BookFiles) -> Result<Self, Vec<Fault>> {
        let numbers = book.roster_versions()?;
        if numbers.is_empty() {
            return Err(vec![missing()]);
        }
        let mut steps = Vec::new();
        for number in numbers {
            let path = path_of(number);
            let bytes = book.read(&path, strict_json::LARGEST)?;
            let signatures = signatures(book, number)?;
            steps.push((path, bytes, signatures));
        }
        Self::of(steps)
    }

    /// Verifies versions that were read, each with its path, its bytes and its signatures by person.
    ///
    /// # Errors
    /// As [`Chain::load`].
    pub(crate) fn of(steps: Vec<Step>) -> Result<Self, Vec<Fault>> {
        let mut chain = Chain { versions: Vec::new() };
        for (path, bytes, signatures) in steps {
            let value = read::check_bytes(&path, Kind::Roster, &bytes)?;
            let roster: Roster = read::typed(&path, &bytes, &value)?;
            chain.accepts(&roster, &bytes, &signatures).map_err(|f| vec![f.in_file(&path)])?;
            chain.versions.push((roster, Sha256Digest::of(&bytes)));
        }
        if chain.versions.is_empty() {
            return Err(vec![missing()]);
        }
        Ok(chain)
    }

    /// Every version with its digest, oldest first.
    #[must_use]
    pub(crate) fn versions(&self) -> &[(Roster, Sha256Digest)] {
        &self.versions
    }

    /// The newest version.
    #[must_use]
    pub(crate) fn newest(&self) -> &Roster {
        &self.versions[self.versions.len() - 1].0
    }

    /// The digest of the newest version.
    #[must_use]
    pub(crate) fn newest_digest(&self) -> Sha256Digest {
        self.versions[self.versions.len() - 1].1
    }

    /// The book's fingerprint: the digest of its first roster.
    #[must_use]
    pub fn fingerprint(&self) -> Sha256Digest {
        self.versions[0].1
    }

    /// One version with its digest.
    #[must_use]
    pub(crate) fn version(&self, number: u32) -> Option<&(Roster, Sha256Digest)> {
        self.versions.iter().find(|(roster, _)| roster.version == number)
    }

    /// Judges whether a version may follow, signed as it is.
    ///
    /// # Errors
    /// `roster-step`, `roster-previous`, `roster-book`, `roster-owners`, `roster-threshold`, `roster-key`.
    pub(crate) fn accepts(
        &self,
        next: &Roster,
        bytes: &[u8],
        signatures: &BTreeMap<PersonId, Vec<u8>>,
    ) -> Result<(), Fault> {
        let before = self.versions.last();
        let expected = before.map_or(1, |(r, _)| r.version + 1);
        if next.version != expected {
            let message = format!("found roster version {} where version {expected} belongs", next.version);
            return Err(Fault::trust("roster-step", message).fix("take the missing version from the history"));
        }
        if next.previous != before.map(|(_, d)| *d) {
            return Err(Fault::trust(
                "roster-previous",
                "it does not name the digest of the version before it",
            )
            .fix("make the change again with `underlit roster`, on the newest version"));
        }
        if before.is_some_and(|(r, _)| r.book != next.book) {
            return Err(Fault::trust("roster-book", "it is the roster of another book").fix("take it out"));
        }
        sound(next)?;
        let signers = verified_signers(next, before.map(|(r, _)| r), bytes, signatures)?;
        let owners = |roster: &Roster| {
            signers.iter().filter(|(p, keys)| keys.iter().any(|k| is_owner_key(roster, p, k))).count()
        };
        for roster in before.map(|(r, _)| r).into_iter().chain([next]) {
            let have = owners(roster);
            if have < roster.threshold as usize {
                let message = format!(
                    "it is signed by {have} of the {} owners that version {} asks for",
                    roster.threshold, roster.version
                );
                return Err(Fault::trust("roster-threshold", message)
                    .that_means(Means::OwnersMissing)
                    .fix("let another owner sign it: underlit roster countersign"));
            }
        }
        Ok(())
    }
}

/// A version as it was read: its path, its bytes, and the signatures beside it by person.
pub(crate) type Step = (String, Vec<u8>, BTreeMap<PersonId, Vec<u8>>);

fn missing() -> Fault {
    Fault::trust("roster-missing", "the book has no roster")
        .in_file("roster/0001.json")
        .fix("take roster/ from the history, or from another clone")
}

/// The file of a roster version.
#[must_use]
pub(crate) fn path_of(version: u32) -> String {
    format!("roster/{version:04}.json")
}

/// The signature of one person beside a roster version.
#[must_use]
pub(crate) fn signature_path(version: u32, person: &PersonId) -> String {
    format!("roster/{version:04}.{person}.sig")
}

fn signatures(book: &dyn BookFiles, version: u32) -> Outcome<BTreeMap<PersonId, Vec<u8>>> {
    let mut found = BTreeMap::new();
    for person in book.roster_signers(version)? {
        let path = signature_path(version, &person);
        found.insert(person, book.read(&path, safe_path::LARGEST_SIGNATURE)?);
    }
    Ok(found)
}

/// What must hold of a roster by itself: owners enough for its threshold, no person or key twice.
fn sound(roster: &Roster) -> Result<(), Fault> {
    // A passkey signs no roster.
    let can_sign = |key: &Key| {
        PublicKey::from_line(&key.public).is_ok_and(|(key, _)| counting::may_sign_for(&key, "roster"))
    };
    let owners = roster.in_role(Role::Owner).filter(|p| p.active_keys().any(can_sign)).count();
    if roster.threshold == 0 || owners < roster.threshold as usize {
        let message = format!("it asks for {} owners with a key and has {owners}", roster.threshold);
        return Err(Fault::trust("roster-owners", message).fix("add an owner, or ask for fewer signatures"));
    }
    let mut people = BTreeSet::new();
    let mut keys = BTreeSet::new();
    for person in &roster.people {
        if !people.insert(&person.id) {
            return Err(Fault::trust("roster-person", format!("{} is on it twice", person.id))
                .fix("keep one entry for each person"));
        }
        for key in &person.keys {
            let parsed = PublicKey::from_line(&key.public).map_err(|e| {
                Fault::trust("roster-key", format!("a key of {} is not accepted: {e}", person.id))
                    .fix(e.remedy())
            })?;
            if !keys.insert(parsed.0.to_string()) {
                return Err(Fault::trust(
                    "roster-key",
                    format!("a key of {} belongs to two people", person.id),
                )
                .fix("give each person a key of their own"));
            }
        }
    }
    Ok(())
}

type Signers = Vec<(PersonId, Vec<PublicKey>)>;

fn verified_signers(
    next: &Roster,
    before: Option<&Roster>,
    bytes: &[u8],
    signatures: &BTreeMap<PersonId, Vec<u8>>,
) -> Result<Signers, Fault> {
    let namespace = Namespace::roster();
    let mut signers = Signers::new();
    for (person, signature) in signatures {
        let refuse = |why: String| {
            Fault::trust("roster-signature", format!("the signature of {person} is not valid: {why}"))
                .fix("take the signature from the history, or let the owner sign again")
        };
        let armour = Armour::parse(signature).map_err(|e| refuse(e.to_string()))?;
        verify(armour.key(), &namespace, bytes, &armour).map_err(|e| refuse(e.to_string()))?;
        let known = [Some(next), before].into_iter().flatten().any(|r| is_owner_key(r, person, armour.key()));
        if !known {
            return Err(refuse("the key is not an owner's".into()));
        }
        signers.push((person.clone(), vec![armour.key().clone()]));
    }
    Ok(signers)
}

fn is_owner_key(roster: &Roster, person: &PersonId, key: &PublicKey) -> bool {
    roster.person(person).is_some_and(|p| {
        p.roles.contains(&Role::Owner)
            && p.keys.iter().any(|k| {
                k.state == KeyState::Active && PublicKey::from_line(&k.public).is_ok_and(|(k, _)| k == *key)
            })
            && counting::may_sign_for(key, "roster")
    })
}

/// What a clone has seen of a book's roster.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pin {
    /// The digest of the first roster.
    pub fingerprint: Sha256Digest,
    /// The newest version seen.
    pub version: u32,
    /// Its digest.
    pub sha256: Sha256Digest,
}

impl Pin {
    /// A chain as it stands now.
    #[must_use]
    pub(crate) fn of(chain: &Chain) -> Self {
        Pin {
            fingerprint: chain.fingerprint(),
            version: chain.newest().version,
            sha256: chain.newest_digest(),
        }
    }

    /// Holds a chain against what was seen: the same book, no older, and the very version that was seen within it.
    ///
    /// # Errors
    /// `book-exchanged`, `roster-rolled-back`, `roster-forked`.
    pub(crate) fn holds(&self, chain: &Chain) -> Outcome<()> {
        let now = Pin::of(chain);
        if self.fingerprint != now.fingerprint {
            let message = format!(
                "this is another book: its fingerprint is {}, and this clone knows {}",
                now.fingerprint.short(),
                self.fingerprint.short()
            );
            return Err(Box::new(
                Fault::trust("book-exchanged", message)
                    .fix("ask the shop's owner before you do anything with it"),
            ));
        }
        if now.version < self.version {
            let message = format!(
                "the roster was rolled back: it ends with version {}, and this clone has seen version {}",
                now.version, self.version
            );
            return Err(Box::new(
                Fault::trust("roster-rolled-back", message)
                    .that_means(Means::TurnedBack)
                    .fix("fetch the newest state; if it stays so, ask the shop's owner"),
            ));
        }
        if chain.version(self.version).is_some_and(|(_, digest)| *digest != self.sha256) {
            let message = format!("roster version {} is not the one that this clone has seen", self.version);
            return Err(Box::new(
                Fault::trust("roster-forked", message)
                    .fix("ask the shop's owners which of the two is theirs"),
            ));
        }
        Ok(())
    }
}

/// How a chain stands to what this clone has seen before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pinned {
    /// It is the same book, and no older.
    Held,
    /// This clone had seen nothing yet; it is pinned now.
    FirstUse,
}

/// What a clone has seen; none where it has seen nothing yet.
///
/// # Errors
/// `pin-unreadable`, and what the disk says.
pub(crate) fn pin(clone_local: &Path) -> Outcome<Option<Pin>> {
    match fs::read(clone_local.join("pin.json")) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(Box::new(safe_path::io_fault(".git/underlit/pin.json", "read", &error))),
        Ok(bytes) => {
            serde_json::from_slice(&bytes).map(Some).map_err(|e| {
                let fault = Fault::trust("pin-unreadable", format!("this clone's pin cannot be read: {e}"));
                Box::new(fault.in_file(".git/underlit/pin.json").fix(
                    "compare the book's fingerprint with the shop's by telephone, then take the file out",
                ))
            })
        }
    }
}

/// Holds a chain against the clone's pin, and moves the pin on to the newest version that is committed: one that only lies
/// in the folder may still be put back, and a pin on it would shut this clone out of its own book.
///
/// # Errors
/// As [`compare_with_pin`], and what the disk says.
pub(crate) fn hold_to_pin(repo: &Repo, chain: &Chain) -> Outcome<Pinned> {
    let local = repo.clone_local_dir()?;
    let pinned = held(repo, &local, chain)?;
    let head = repo.head_snapshot()?;
    for (roster, digest) in chain.versions.iter().rev() {
        let committed = head.file(&path_of(roster.version))?;
        if committed.is_some_and(|bytes| Sha256Digest::of(&bytes) == *digest) {
            set_pin(
                &local,
                &Pin { fingerprint: chain.fingerprint(), version: roster.version, sha256: *digest },
            )?;
            break;
        }
    }
    Ok(pinned)
}

/// As [`hold_to_pin`], for whoever only reads: where the pin cannot be written, it stays as it is.
///
/// # Errors
/// As [`compare_with_pin`].
pub(crate) fn hold_to_pin_where_it_can(repo: &Repo, chain: &Chain) -> Outcome<Pinned> {
    let pinned = held(repo, &repo.git_folder().join("underlit"), chain)?;
    // The next one that can write moves it on.
    Ok(hold_to_pin(repo, chain).unwrap_or(pinned))
}

fn held(repo: &Repo, clone_local: &Path, chain: &Chain) -> Outcome<Pinned> {
    compare_with_pin(clone_local, chain).map_err(|fault| {
        if fault.means != Means::TurnedBack {
            return fault;
        }
        let told = lost_from_folder(repo, vec![*fault.clone()]).pop();
        told.map_or(fault, Box::new)
    })
}

/// Writes what a clone has seen, unless it has seen more.
fn set_pin(clone_local: &Path, seen: &Pin) -> Outcome<()> {
    if pin(clone_local)?.is_some_and(|pin| pin.version >= seen.version) {
        return Ok(());
    }
    write_pin(clone_local, seen)
}

/// Writes the pin, whatever it was: only for an owner who takes back a version of their own that was never sent.
///
/// # Errors
/// What the disk says.
pub(crate) fn write_pin(clone_local: &Path, seen: &Pin) -> Outcome<()> {
    let bytes = write::to_bytes(seen)?;
    write::write_whole(&clone_local.join("pin.json"), &bytes)
        .map_err(|e| Box::new(safe_path::io_fault(".git/underlit/pin.json", "write", &e)))
}

/// Where a roster does not hold because files of it are gone from the folder that are committed, says how they come back.
#[must_use]
pub(crate) fn lost_from_folder(repo: &Repo, mut faults: Vec<Fault>) -> Vec<Fault> {
    let lost = || {
        let committed = repo.head_snapshot().ok()?.files("roster").ok()?;
        committed.into_iter().map(|file| file.path).find(|path| !repo.root().join(path).exists())
    };
    if let (Some(first), Some(path)) = (faults.first_mut(), lost()) {
        first.message.push_str(&format!("; {path} is committed, and gone from the folder"));
        first.remedy =
            Some("put it back, which touches nothing else: git checkout HEAD -- roster".to_owned());
    }
    faults
}

/// Holds a chain against the clone's pin and leaves the pin where it is, for a chain that is not in the book
/// yet and may never be.
///
/// # Errors
/// `book-exchanged`, `roster-rolled-back`, `roster-forked`, `pin-unreadable`.
pub(crate) fn compare_with_pin(clone_local: &Path, chain: &Chain) -> Outcome<Pinned> {
    let Some(pin) = pin(clone_local)? else { return Ok(Pinned::FirstUse) };
    pin.holds(chain)?;
    Ok(Pinned::Held)
}

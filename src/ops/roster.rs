//! Changes the roster and seals the shop's files: always as a whole new version, signed by owners.
//!
//! Where one owner's signature is enough, the version takes effect at once. Where more are asked for, it
//! waits as a proposal in this clone until the others have signed, and is only then put into the book.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::answering;
use super::desk::Desk;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means, Outcome};
use crate::ids::PersonId;
use crate::model::kind::Kind;
use crate::model::roster::{Role, Roster};
use crate::signing::{AllowedSigner, Namespace, PublicKey, allowed_signers};
use crate::store::{Changes, read, safe_path, strict_json, write};
use crate::trust::chain;
use crate::trust::counting::namespaces_of;
use crate::trust::shop::{self, SEALED};
use crate::trust::vanished;

/// What came of a change to the roster.
#[derive(Clone, Debug, PartialEq)]
pub enum Versioned {
    /// The version is in the book.
    InForce(u32),
    /// It waits for more owners; the file carries it to them.
    Proposed {
        /// The version.
        version: u32,
        /// The file to hand on.
        file: PathBuf,
        /// How many owners signed so far.
        have: usize,
        /// How many are needed.
        need: u32,
    },
}

/// A roster version on its way from owner to owner: its exact bytes and the signatures so far.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Proposal {
    /// The bytes of the roster, as text.
    pub roster: String,
    /// The bytes of the files that it seals anew, as text, by path.
    pub files: BTreeMap<String, String>,
    /// The signatures, by person.
    pub signatures: BTreeMap<PersonId, String>,
    /// The questions that it answers: the paths of their records, which go once it is in force.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settles: Vec<String>,
}

/// Makes the next version: the newest one edited, with the digests of the sealed files as they lie on disk.
///
/// # Errors
/// `role`, whatever the edit says, and whatever keeps the result from holding.
pub(crate) fn next_version(
    desk: &Desk<'_>,
    reason: &str,
    edit: impl FnOnce(&mut Roster) -> Outcome<()>,
) -> Result<Versioned, Vec<Fault>> {
    next_version_with(desk, reason, None, edit)
}

/// Seals files anew, in a next version: what somebody chose in answer to questions.
///
/// # Errors
/// As [`next_version`].
pub(crate) fn seal_answers(
    desk: &Desk<'_>,
    reason: &str,
    answers: &SealedAnswers<'_>,
) -> Result<Versioned, Vec<Fault>> {
    next_version_with(desk, reason, Some(answers), |_| Ok(()))
}

/// Answers to questions about sealed files, with what is answered in the same breath.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SealedAnswers<'a> {
    /// What the files become, by path.
    pub files: &'a BTreeMap<String, Vec<u8>>,
    /// The records of the questions about them.
    pub questions: &'a BTreeSet<String>,
    /// What changes besides; it is one commit with the version where that is in force at once.
    pub beside: &'a Changes,
    /// The records of the questions that this answers.
    pub settles_beside: &'a BTreeSet<String>,
}

fn next_version_with(
    desk: &Desk<'_>,
    reason: &str,
    answers: Option<&SealedAnswers<'_>>,
    edit: impl FnOnce(&mut Roster) -> Outcome<()>,
) -> Result<Versioned, Vec<Fault>> {
    let (me, _) = desk.my_role_among(&[Role::Owner], "change the roster")?;
    let mut roster = desk.reading.chain.newest().clone();
    roster.version += 1;
    roster.previous = Some(desk.reading.chain.newest_digest());
    roster.reason = reason.to_owned();
    roster.time = desk.around.stamp_to_sign()?;
    edit(&mut roster)?;
    keys_of_one(desk.reading.chain.newest(), &roster)?;
    let mut files = BTreeMap::new();
    for path in SEALED {
        let bytes = match answers.and_then(|answers| answers.files.get(*path)) {
            Some(bytes) => bytes.clone(),
            None => desk.reading.book.read(path, strict_json::LARGEST)?,
        };
        let kind = Kind::of_path(path).unwrap_or(Kind::Book);
        let value = read::check_bytes(path, kind, &bytes)?;
        let flaws = shop::list_faults(path, kind, &bytes, &value);
        if !flaws.is_empty() {
            return Err(flaws);
        }
        let digest = Sha256Digest::of(&bytes);
        if roster.sealed.insert((*path).to_owned(), digest) != Some(digest) {
            files.insert((*path).to_owned(), String::from_utf8_lossy(&bytes).into_owned());
        }
    }
    let bytes = write::to_bytes(&roster)?;
    read::check_bytes(&chain::path_of(roster.version), Kind::Roster, &bytes)?;
    let armour = desk.sign(&Namespace::roster(), &bytes)?;
    let proposal = Proposal {
        roster: String::from_utf8_lossy(&bytes).into_owned(),
        files,
        signatures: BTreeMap::from([(me, armour.as_str().to_owned())]),
        settles: answers.map(|answers| answers.questions.iter().cloned().collect()).unwrap_or_default(),
    };
    settle(desk, &proposal, answers)
}

/// Refuses a key that another person has already: nobody could tell whose signature it makes.
fn keys_of_one(before: &Roster, after: &Roster) -> Outcome<()> {
    let shared_before = before.sharing_keys();
    let Some((one, two)) = after.sharing_keys().into_iter().find(|pair| !shared_before.contains(pair)) else {
        return Ok(());
    };
    let message = format!("this key belongs to {one} already; {two} needs a key of their own");
    Err(Box::new(
        Fault::usage("key-of-another", message).fix(
            "ask the person for their own public key; where two names mean one person, keep one of them",
        ),
    ))
}

/// Adds the asking owner's signature to a proposal.
///
/// # Errors
/// `proposal-unreadable`, `role`, and whatever keeps the result from holding.
pub(crate) fn countersign(desk: &Desk<'_>, file: &std::path::Path) -> Result<Versioned, Vec<Fault>> {
    let mut proposal = read_proposal(file)?;
    let (me, _) = desk.my_role_among(&[Role::Owner], "sign a roster")?;
    let armour = desk.sign(&Namespace::roster(), proposal.roster.as_bytes())?;
    proposal.signatures.insert(me, armour.as_str().to_owned());
    settle(desk, &proposal, None)
}

/// Reads a proposal that somebody handed on.
///
/// # Errors
/// `proposal-unreadable`.
pub(crate) fn read_proposal(file: &std::path::Path) -> Outcome<Proposal> {
    let refuse = |why: String| {
        Box::new(
            Fault::usage("proposal-unreadable", format!("this is not a roster proposal: {why}"))
                .in_file(file.display().to_string())
                .fix("ask the owner who proposed it for the file that `underlit roster` wrote"),
        )
    };
    let bytes = fs::read(file).map_err(|e| refuse(e.to_string()))?;
    serde_json::from_slice(&bytes).map_err(|e| refuse(e.to_string()))
}

/// Puts a version into the book if enough owners signed; else keeps it as a proposal.
fn settle(
    desk: &Desk<'_>,
    proposal: &Proposal,
    answers: Option<&SealedAnswers<'_>>,
) -> Result<Versioned, Vec<Fault>> {
    let bytes = proposal.roster.as_bytes();
    let value = read::check_bytes("roster proposal", Kind::Roster, bytes)?;
    let roster: Roster = read::typed("roster proposal", bytes, &value)?;
    let signatures: BTreeMap<PersonId, Vec<u8>> =
        proposal.signatures.iter().map(|(p, s)| (p.clone(), s.as_bytes().to_vec())).collect();
    match desk.reading.chain.accepts(&roster, bytes, &signatures) {
        Ok(()) => {
            let mut changes = answers.map(|answers| answers.beside.clone()).unwrap_or_default();
            for (path, text) in &proposal.files {
                if !SEALED.contains(&path.as_str())
                    || roster.sealed.get(path) != Some(&Sha256Digest::of(text.as_bytes()))
                {
                    return Err(vec![
                        Fault::trust(
                            "proposal-files",
                            format!("the proposal carries another {path} than its roster seals"),
                        )
                        .fix("ask for the proposal again"),
                    ]);
                }
                changes.put(path.clone(), text.as_bytes().to_vec());
            }
            changes.put(chain::path_of(roster.version), bytes.to_vec());
            for (person, signature) in &signatures {
                changes.put(chain::signature_path(roster.version, person), signature.clone());
            }
            let conflicts = &desk.reading.shop.conflicts;
            let mut settled: BTreeSet<String> =
                proposal.settles.iter().filter(|path| conflicts.contains_key(*path)).cloned().collect();
            settled.extend(answers.into_iter().flat_map(|answers| answers.settles_beside.iter().cloned()));
            answering::take_out(&desk.reading.book, conflicts, &settled, &mut changes);
            let answered = vanished::settling(settled.iter().filter_map(|path| conflicts.get(path)));
            let message = format!("Roster version {}: {}\n{answered}", roster.version, roster.reason);
            desk.save(&changes, &message)?;
            Ok(Versioned::InForce(roster.version))
        }
        Err(fault) if fault.means == Means::OwnersMissing => {
            let local = desk.repo.clone_local_dir()?;
            let file = local.join(format!("roster-{:04}-proposal.json", roster.version));
            let text = write::to_bytes(proposal)?;
            if !desk.around.dry_run {
                write::write_whole(&file, &text)
                    .map_err(|e| vec![safe_path::io_fault(&file.display().to_string(), "write", &e)])?;
            }
            let need = desk.reading.chain.newest().threshold.max(roster.threshold);
            Ok(Versioned::Proposed { version: roster.version, file, have: signatures.len(), need })
        }
        Err(fault) => Err(vec![fault]),
    }
}

/// The allowed-signers file (ssh-keygen(1)) of a roster version: who may sign under which namespace.
///
/// # Errors
/// `unknown-roster`, and a name or key that stock tools would not take.
pub(crate) fn export_allowed_signers(
    desk: &super::reading::Reading,
    version: Option<u32>,
) -> Outcome<String> {
    let number = version.unwrap_or(desk.chain.newest().version);
    let Some((roster, _)) = desk.chain.version(number) else {
        return Err(Box::new(
            Fault::usage("unknown-roster", format!("there is no roster version {number}"))
                .fix(format!("the newest is {}", desk.chain.newest().version)),
        ));
    };
    let mut signers = Vec::new();
    for person in &roster.people {
        for key in person.active_keys() {
            let (key, _) = PublicKey::from_line(&key.public).map_err(Fault::from)?;
            let namespaces = namespaces_of(&key, &person.roles, &desk.shop.rules);
            if namespaces.is_empty() {
                continue;
            }
            let principal = person.id.as_str().parse().map_err(Fault::from)?;
            signers.push(AllowedSigner { principal, key, namespaces });
        }
    }
    Ok(allowed_signers(&signers).map_err(Fault::from)?)
}

//! Does this signature count? Sign-offs and moves, from their bytes to a judgement.
//!
//! The order is: the name is the digest of the bytes; the armour is canonical; the signature holds over
//! exactly these bytes; only then are the bytes read; then book, project, roster, role and key are held
//! against one another. Clocks, commits and authors play no part.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, PoisonError};

use serde::de::DeserializeOwned;

use super::chain::Chain;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means};
use crate::ids::{PersonId, ProjectId};
use crate::model::kind::Kind;
use crate::model::moves::Move;
use crate::model::roster::{Key, KeyState, Role, Roster};
use crate::model::rules::Rules;
use crate::model::stage::Stage;
use crate::model::statement::{Decision, RosterRef, Statement, View};
use crate::signing::{Armour, Namespace, PublicKey, SignatureError, Verified, verify};
use crate::store::read;

/// A statement file as it lies on disk: its path, its bytes, and those of the signature beside it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sealed<'a> {
    /// The path in the book.
    pub path: &'a str,
    /// The bytes that are signed.
    pub bytes: &'a [u8],
    /// The signature's armour, none where it is not there.
    pub signature: Option<&'a [u8]>,
}

/// The namespace of one purpose: a role's word, `evidence`, `move` or `roster`.
///
/// # Panics
/// Never: every purpose is a word of this program, and a test makes each.
#[must_use]
pub(crate) fn namespace(purpose: &str) -> Namespace {
    match purpose {
        "roster" => Namespace::roster(),
        "move" => Namespace::stage_move(),
        role => match Namespace::of_role(role) {
            Ok(namespace) => namespace,
            Err(error) => unreachable!("a purpose of this program makes no namespace: {error}"),
        },
    }
}

/// Every purpose that this program signs for.
fn purposes() -> impl Iterator<Item = &'static str> {
    Role::ALL.iter().map(|r| r.word()).chain(["evidence", "move", "roster"])
}

/// True where a key of that kind may sign for a purpose. A passkey signs what a page shows, in a role, and neither rosters
/// nor moves, nor that somebody else said something: whoever holds the page's host could have anything signed.
pub(super) fn may_sign_for(key: &PublicKey, purpose: &str) -> bool {
    key.site().is_none() || Role::ALL.iter().any(|role| role.word() == purpose)
}

/// The namespaces that a person's key may sign under, by the roles it holds.
#[must_use]
pub(crate) fn namespaces_of(key: &PublicKey, roles: &[Role], rules: &Rules) -> Vec<Namespace> {
    let mut all: Vec<Namespace> = roles.iter().map(|r| namespace(r.word())).collect();
    if key.site().is_some() {
        return all;
    }
    let any = |list: &[Role]| roles.iter().any(|r| list.contains(r));
    if any(&rules.evidence.taken_by) {
        all.push(namespace("evidence"));
    }
    if any(&rules.advance) || any(&rules.reopen) {
        all.push(namespace("move"));
    }
    if roles.contains(&Role::Owner) {
        all.push(namespace("roster"));
    }
    all
}

/// Judges a sign-off. The statement comes back even where its signature does not count, so that it can be
/// shown with the reason; not where its bytes cannot be trusted to be read at all.
///
/// # Errors
/// Why there is nothing to show.
pub(crate) fn sign_off(
    chain: &Chain,
    rules: &Rules,
    project: &ProjectId,
    sealed: Sealed<'_>,
) -> Result<(Statement, Option<Fault>), Vec<Fault>> {
    let (statement, key, armour_namespace): (Statement, _, _) = open(sealed, Kind::SignOff)?;
    let void = (|| {
        same_place(chain, project, &statement.book.to_string(), &statement.project)?;
        let spoken = if statement.evidence.is_some() { "evidence" } else { statement.role.word() };
        in_namespace(&armour_namespace, spoken)?;
        let digest = Sha256Digest::of(sealed.bytes);
        match &statement.evidence {
            None => may_sign(chain, &statement.signer, &key, &[statement.role], &statement.roster, digest),
            Some(evidence) => {
                if !rules.evidence.roles.contains(&statement.role) {
                    return Err(Fault::trust(
                        "evidence-not-allowed",
                        format!(
                            "the shop's rules want the {}'s own signature, not written evidence",
                            statement.role
                        ),
                    )
                    .that_means(Means::Overtaken)
                    .fix("let the person sign with a key of their own"));
                }
                may_speak_by_evidence(chain, &evidence.person, &statement, digest)?;
                may_sign(chain, &statement.signer, &key, &rules.evidence.taken_by, &statement.roster, digest)
            }
        }
    })();
    Ok((statement, void.err().map(|f| f.in_file(sealed.path))))
}

/// Judges a move.
///
/// # Errors
/// Why it does not count.
pub(crate) fn project_move(
    chain: &Chain,
    rules: &Rules,
    project: &ProjectId,
    sealed: Sealed<'_>,
) -> Result<Move, Vec<Fault>> {
    let (step, key, armour_namespace): (Move, _, _) = open(sealed, Kind::Move)?;
    let judged = (|| {
        same_place(chain, project, &step.book.to_string(), &step.project)?;
        in_namespace(&armour_namespace, "move")?;
        if !step.is_possible() {
            let message = format!("nobody can move a project from {} to {} in one step", step.from, step.to);
            return Err(Fault::trust("move-impossible", message)
                .fix("a project moves on one stage at a time, and back only with a reason"));
        }
        let allowed = if step.is_reopen() { &rules.reopen } else { &rules.advance };
        if !allowed.contains(&step.role) {
            let message = format!("the shop's rules let no {} make this move", step.role);
            return Err(Fault::trust("move-role", message)
                .that_means(Means::Overtaken)
                .fix("let somebody whom the rules name make the move"));
        }
        let digest = Sha256Digest::of(sealed.bytes);
        may_sign(chain, &step.signer, &key, &[step.role], &step.roster, digest)
    })();
    judged.map(|()| step).map_err(|f| vec![f.in_file(sealed.path)])
}

/// Whether the approvals that a step on rests on are there, as it names them: every sign-off that it names, and among
/// them one for the choice from `rendering` on and one for the release from `released` on.
///
/// A signature on a move says who moved the project, and not that anybody approved. This holds a move to what people
/// signed, and to nothing else: sign-offs are never taken out, so no later change of a fact moves a project back. What
/// the owners did since to a signer, their key or the rules is overlooked for the same reason. Whether the gate holds
/// today is asked by `gates` wherever it matters.
///
/// # Errors
/// `move-unbacked`.
pub(crate) fn backed(
    step: &Move,
    rules: &Rules,
    mut signed: impl FnMut(&Sha256Digest) -> Option<(Statement, Option<Fault>)>,
) -> Result<(), Fault> {
    if step.is_reopen() {
        return Ok(());
    }
    let mut named = Vec::new();
    for digest in &step.signoffs {
        match signed(digest) {
            Some((statement, void)) if void.as_ref().is_none_or(|f| f.means == Means::Overtaken) => {
                named.push(statement);
            }
            _ => {
                let message =
                    format!("it rests on the sign-off {}, which does not count here", digest.short());
                return Err(unbacked(message));
            }
        }
    }
    for (from, view) in [(Stage::Rendering, View::Choice), (Stage::Released, View::Release)] {
        let asked: Vec<Role> = rules.approvals.iter().filter(|a| a.view == view).map(|a| a.role).collect();
        let given = named.iter().any(|s| {
            s.about.view == view
                && asked.contains(&s.role)
                && matches!(s.decision, Decision::Approved | Decision::ApprovedAsNoted)
        });
        if step.to >= from && !asked.is_empty() && !given {
            let words: Vec<&str> = asked.iter().map(|r| r.word()).collect();
            let message =
                format!("it names no approval of the {} by the {}", view.word(), words.join(" or "));
            return Err(unbacked(message));
        }
    }
    Ok(())
}

fn unbacked(message: String) -> Fault {
    Fault::trust("move-unbacked", message)
        .fix("a project moves on with `underlit advance`, which names what it rests on; take the move out")
}

/// The signatures that were found to hold in this process, each with the bytes that it is over: a judge of a history meets
/// each of them in many states.
static HELD: Mutex<BTreeSet<Sha256Digest>> = Mutex::new(BTreeSet::new());

/// How many are remembered.
const MOST_HELD: usize = 500_000;

/// A signature together with the very bytes that it is over.
fn armour_over(armour: &Armour, bytes: &[u8]) -> Sha256Digest {
    let signature = armour.as_str();
    let whole = [format!("{}\n", signature.len()).as_bytes(), signature.as_bytes(), bytes].concat();
    Sha256Digest::of(&whole)
}

/// Verifies, then reads.
fn open<T: DeserializeOwned>(sealed: Sealed<'_>, kind: Kind) -> Result<(T, PublicKey, String), Vec<Fault>> {
    let refuse = |code, message: String, remedy: &str| {
        Err(vec![Fault::trust(code, message).in_file(sealed.path).fix(remedy)])
    };
    let digest = Sha256Digest::of(sealed.bytes);
    let name = sealed.path.rsplit('/').next().unwrap_or_default();
    if name != format!("{digest}.json") {
        return refuse(
            "name-not-digest",
            "its name is not the digest of its content".into(),
            &format!(
                "put the file back as it was signed: git checkout -- {}; a signed statement is never edited",
                sealed.path
            ),
        );
    }
    let Some(signature) = sealed.signature else {
        return refuse(
            "signature-missing",
            "no signature lies beside it".into(),
            "take the .sig from the history; a statement written by hand counts for nothing: use `underlit sign` or `underlit advance`",
        );
    };
    let armour = match Armour::parse(signature) {
        Ok(armour) => armour,
        Err(error) => return refuse("signature-malformed", error.to_string(), &error.remedy()),
    };
    let held = armour_over(&armour, sealed.bytes);
    let known = || HELD.lock().unwrap_or_else(PoisonError::into_inner);
    let verdict = if known().contains(&held) { None } else { Some(verified(&armour, sealed.bytes)) };
    match verdict {
        Some(None) => {
            let message = format!(
                "it is signed for {}, which is not a purpose of a book or of its key",
                armour.namespace()
            );
            return refuse("signature-purpose", message, "sign it with `underlit sign`");
        }
        Some(Some(Err(error))) => {
            return refuse(
                "signature-wrong",
                format!("the signature is not over these bytes: {error}"),
                "take both files from the history, or sign again",
            );
        }
        Some(Some(Ok(_))) => {
            let mut known = known();
            if known.len() < MOST_HELD {
                known.insert(held);
            }
        }
        None => {}
    }
    let value = read::check_bytes(sealed.path, kind, sealed.bytes)?;
    let record = read::typed(sealed.path, sealed.bytes, &value)?;
    Ok((record, armour.key().clone(), armour.namespace().to_owned()))
}

/// Whether a signature is its key's over these bytes; none where it is made for no purpose of a book or of its key.
fn verified(armour: &Armour, bytes: &[u8]) -> Option<Result<Verified, SignatureError>> {
    let purpose = purposes().find(|p| namespace(p).as_str() == armour.namespace())?;
    may_sign_for(armour.key(), purpose).then(|| verify(armour.key(), &namespace(purpose), bytes, armour))
}

/// How a signature was made, in words: with which key, for what, and with a passkey on which page.
#[must_use]
pub(crate) fn signature_in_words(armour: &Armour, bytes: &[u8]) -> String {
    let (key, purpose) = (armour.key().fingerprint(), armour.namespace());
    match verified(armour, bytes) {
        Some(Ok(Verified { page: Some(page), hardware })) => format!(
            "made with the passkey {key} for {purpose}, at {page}, person present and verified by the device (its counter: {})",
            hardware.map_or(0, |h| h.counter)
        ),
        _ => format!("made with {key} for {purpose}"),
    }
}

fn same_place(chain: &Chain, project: &ProjectId, book: &str, stated: &ProjectId) -> Result<(), Fault> {
    if book != chain.newest().book.as_str() {
        return Err(Fault::trust("other-book", format!("it was signed in another book, {book}"))
            .fix("take it out; a statement counts only where it was made"));
    }
    if stated != project {
        return Err(Fault::trust("other-project", format!("it was signed in another project, {stated}"))
            .fix("take it out; a statement counts only where it was made"));
    }
    Ok(())
}

fn in_namespace(armour: &str, purpose: &str) -> Result<(), Fault> {
    if armour == namespace(purpose).as_str() {
        return Ok(());
    }
    Err(Fault::trust(
        "signature-purpose",
        format!("it is signed for {armour}, and says what needs underlit-{purpose}"),
    )
    .fix("sign it again with `underlit sign`"))
}

/// Whether somebody had the role in which their answer was taken in, and has it still or the owners keep the answer.
fn may_speak_by_evidence(
    chain: &Chain,
    person: &PersonId,
    statement: &Statement,
    digest: Sha256Digest,
) -> Result<(), Fault> {
    let role = statement.role;
    let then = chain.version(statement.roster.version).map(|(roster, _)| roster);
    if !then.is_some_and(|roster| roster.has_role(person, role)) {
        let message = format!("{person} was not on the roster as {role}");
        return Err(Fault::trust("signer-role", message).fix("let an owner put the person on the roster"));
    }
    let now = chain.newest();
    if now.has_role(person, role) || now.person(person).is_some_and(|p| p.kept.contains(&digest)) {
        return Ok(());
    }
    let message = format!("{person} is no longer on the roster as {role}");
    Err(Fault::trust("signer-removed", message)
        .that_means(Means::Overtaken)
        .fix("let whoever has that role now answer"))
}

/// Whether a key may speak for a person in one of some roles: as the roster was when it spoke, and now.
fn may_sign(
    chain: &Chain,
    signer: &PersonId,
    key: &PublicKey,
    roles: &[Role],
    under: &RosterRef,
    digest: Sha256Digest,
) -> Result<(), Fault> {
    let Some((then, _)) = chain.version(under.version).filter(|(_, d)| *d == under.sha256) else {
        let message = format!("it names a roster version {} that this book does not have", under.version);
        return Err(Fault::trust("signature-roster", message).fix("sync first; if it stays so, sign again"));
    };
    let words = || roles.iter().map(|r| r.word()).collect::<Vec<_>>().join(" or ");
    if !speaks(then, signer, key, roles) {
        let message = format!("{signer} had no such key as {} on roster version {}", words(), under.version);
        return Err(Fault::trust("signer-role", message).fix("let somebody in that role sign"));
    }
    let now = chain.newest();
    let key_now = key_of(now, signer, key);
    let role_kept = now.person(signer).is_some_and(|p| p.kept.contains(&digest));
    if speaks(now, signer, key, roles)
        || key_now.is_some_and(|k| k.kept.contains(&digest) || (role_kept && k.state == KeyState::Active))
    {
        return Ok(());
    }
    let why = match key_now {
        None => "the key was taken off the roster",
        Some(k) if k.state == KeyState::Compromised => {
            "the key is marked compromised, and the owners do not keep this signature"
        }
        Some(k) if k.state == KeyState::Retired => {
            "the key is retired, and the owners do not keep this signature"
        }
        Some(_) => "the person no longer has that role",
    };
    Err(Fault::trust("signer-removed", format!("{signer} signed it, and since then {why}")).that_means(Means::Overtaken).fix(
        "let somebody in that role sign again, or let the owners keep it: underlit roster retire-key … --keep DIGEST, or underlit roster roles … --keep DIGEST",
    ))
}

fn speaks(roster: &Roster, signer: &PersonId, key: &PublicKey, roles: &[Role]) -> bool {
    roster.person(signer).is_some_and(|p| p.roles.iter().any(|r| roles.contains(r)))
        && key_of(roster, signer, key).is_some_and(|k| k.state == KeyState::Active)
}

fn key_of<'a>(roster: &'a Roster, person: &PersonId, key: &PublicKey) -> Option<&'a Key> {
    let keys = &roster.person(person)?.keys;
    keys.iter().find(|k| is_line_of(&k.public, key))
}

/// True where a roster's line is that of a key. Lines are few, and are asked for with every statement.
fn is_line_of(line: &str, key: &PublicKey) -> bool {
    static READ: Mutex<BTreeMap<String, Option<PublicKey>>> = Mutex::new(BTreeMap::new());
    const MOST: usize = 10_000;
    let known = || READ.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(read) = known().get(line) {
        return read.as_ref() == Some(key);
    }
    let read = PublicKey::from_line(line).ok().map(|(read, _)| read);
    let same = read.as_ref() == Some(key);
    let mut known = known();
    if known.len() < MOST {
        known.insert(line.to_owned(), read);
    }
    same
}

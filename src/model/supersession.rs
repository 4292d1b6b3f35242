//! Which sign-offs stand, which a later one replaced, and which the person's own signature sets aside. Decided here alone:
//! signing, the gates, `status`, `verify` and packs all ask.
//!
//! - A statement replaces the earlier ones that it names, about the same subject, in the same role, by the same person.
//! - A person's own signature is replaced only by another of their own. Evidence is replaced by the person's own
//!   signature, and by evidence of whoever took it in.
//! - A withdrawal takes back every approval of the same person that does not answer it by name, evidence too.
//! - Where a person's own signature says no, evidence does not say yes for them.
//!
//! No clock and no order of files plays a part. Whether a refusal bears on the facts as they are is asked by the gates.

use std::collections::BTreeMap;

use super::roster::Role;
use super::snapshot::SignOff;
use super::statement::{Decision, Statement, Subject};
use crate::digest::Sha256Digest;
use crate::ids::PersonId;

/// What became of a sign-off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WordState {
    /// It stands.
    Stands,
    /// A later statement of the same person names it and takes its place.
    Replaced(Sha256Digest),
    /// A withdrawal of the same person, which it does not answer, takes it back.
    TakenBack(Sha256Digest),
    /// It is evidence, and the person's own signature says no.
    Overruled(Sha256Digest),
}

/// What became of each sign-off, by its digest.
pub type Words = BTreeMap<Sha256Digest, WordState>;

/// True for an approval, with or without notes.
#[must_use]
pub fn says_yes(decision: Decision) -> bool {
    matches!(decision, Decision::Approved | Decision::ApprovedAsNoted)
}

/// True for a refusal.
#[must_use]
pub fn says_no(decision: Decision) -> bool {
    matches!(decision, Decision::Rejected | Decision::ReviseAndResubmit)
}

/// Decides it for every sign-off. Give only those whose signatures count and whose speakers may speak.
#[must_use]
pub fn weigh<'s>(signoffs: impl IntoIterator<Item = &'s SignOff>) -> Words {
    let all: BTreeMap<Sha256Digest, &SignOff> = signoffs.into_iter().map(|s| (s.digest, s)).collect();
    let mut words = Words::new();
    for later in all.values() {
        for earlier in later.statement.supersedes.iter().filter_map(|digest| all.get(digest)) {
            if may_replace(later, earlier) {
                words.entry(earlier.digest).or_insert(WordState::Replaced(later.digest));
            }
        }
    }
    let mut by_speaker: BTreeMap<(&Subject, Role, &PersonId), Vec<&SignOff>> = BTreeMap::new();
    for word in all.values().filter(|s| !words.contains_key(&s.digest)) {
        let statement = &word.statement;
        by_speaker.entry((&statement.about, statement.role, statement.speaker())).or_default().push(word);
    }
    for left in by_speaker.values() {
        words.extend(left.iter().map(|word| (word.digest, among(left, &word.statement))));
    }
    words
}

/// Whether a statement stands among those of one speaker, about one subject in one role, that nothing replaced.
fn among(left: &[&SignOff], word: &Statement) -> WordState {
    if !says_yes(word.decision) {
        return WordState::Stands;
    }
    let is_own = |s: &Statement| s.evidence.is_none();
    let of =
        |wanted: &dyn Fn(&Statement) -> bool| left.iter().find(|s| wanted(&s.statement)).map(|s| s.digest);
    let withdrawn = |s: &Statement| s.decision == Decision::Withdrawn;
    if is_own(word) {
        // Withdrawals of the first edition were not named by the approval that followed them.
        return of(&|s| is_own(s) && withdrawn(s) && s.edition.is_some())
            .map_or(WordState::Stands, WordState::TakenBack);
    }
    let own_yes = left.iter().any(|s| is_own(&s.statement) && says_yes(s.statement.decision));
    let own_no = |s: &Statement| {
        let binds = s.edition.is_some() || (withdrawn(s) && !own_yes);
        is_own(s) && !says_yes(s.decision) && binds
    };
    match (of(&own_no), of(&|s| !is_own(s) && withdrawn(s))) {
        (Some(own), _) => WordState::Overruled(own),
        (None, Some(evidence)) => WordState::TakenBack(evidence),
        (None, None) => WordState::Stands,
    }
}

/// True where one statement names another that it may replace.
fn may_replace(later: &SignOff, earlier: &SignOff) -> bool {
    let (new, old) = (&later.statement, &earlier.statement);
    let may = match (&new.evidence, &old.evidence) {
        (None, None) => new.signer == old.signer,
        (None, Some(_)) => true,
        (Some(_), None) => false,
        (Some(_), Some(_)) => new.signer == old.signer,
    };
    may && later.digest != earlier.digest
        && new.about == old.about
        && new.role == old.role
        && new.speaker() == old.speaker()
}

/// A statement that is about to be made, as far as it matters here.
#[derive(Clone, Copy, Debug)]
pub struct Coming<'a> {
    /// About what.
    pub subject: &'a Subject,
    /// In which role.
    pub role: Role,
    /// Whose word it is.
    pub speaker: &'a PersonId,
    /// Whose key signs it.
    pub signer: &'a PersonId,
    /// True where it takes in a written answer.
    pub is_evidence: bool,
}

impl Coming<'_> {
    /// The sign-offs of the same speaker that nothing replaced, each with what became of it.
    pub fn earlier<'s>(&self, signoffs: &'s [SignOff], words: &Words) -> Vec<(&'s SignOff, WordState)> {
        let state = |s: &'s SignOff| {
            let statement = &s.statement;
            let alike = statement.about == *self.subject
                && statement.role == self.role
                && statement.speaker() == self.speaker;
            let state = *words.get(&s.digest).filter(|_| alike)?;
            (!matches!(state, WordState::Replaced(_))).then_some((s, state))
        };
        let mut found: Vec<_> = signoffs.iter().filter_map(state).collect();
        found.sort_by_key(|(s, _)| s.digest);
        found
    }

    /// True where it replaces one of them.
    #[must_use]
    pub fn replaces(&self, earlier: &Statement) -> bool {
        match (self.is_evidence, earlier.evidence.is_some()) {
            (true, own_is_not) => own_is_not && earlier.signer == *self.signer,
            (false, _) => true,
        }
    }
}

//! How a sign-off stands: whether what was signed is what the facts are now.

use super::{facts, refusals};
use crate::job::Case;
use crate::model::snapshot::SignOff;
use crate::model::statement::{Decision, Facts};
use crate::model::supersession::{WordState, says_no};
use crate::words::words;

words! {
    /// How a sign-off stands.
    Standing, "standing of a sign-off" {
        /// It counts, and its facts are those of now.
        Fits = "fits",
        /// It counts, and a fact changed since.
        Stale = "stale",
        /// The same person said something later.
        Replaced = "replaced",
        /// It was taken back, or it is evidence against the person's own signature.
        Overruled = "overruled",
        /// It says no, and owners set it aside.
        Overridden = "overridden",
        /// It takes an earlier statement back.
        Withdrawn = "withdrawn",
        /// Its signer has no say in this.
        DoesNotCount = "does-not-count",
    }
}

/// How a sign-off stands, and the facts that it is about as they are now.
#[must_use]
pub(crate) fn standing(case: &Case<'_>, signoff: &SignOff) -> (Standing, Facts) {
    let statement = &signoff.statement;
    let now = facts::to_fit(case, statement);
    let standing = match (case.word(signoff), statement.decision) {
        (None, _) => Standing::DoesNotCount,
        (Some(WordState::Replaced(_)), _) => Standing::Replaced,
        (Some(WordState::TakenBack(_) | WordState::Overruled(_)), _) => Standing::Overruled,
        (Some(WordState::Stands), Decision::Withdrawn) => Standing::Withdrawn,
        (Some(WordState::Stands), _) if statement.facts != now => Standing::Stale,
        (Some(WordState::Stands), no) if says_no(no) && refusals::set_aside(case, signoff).is_some() => {
            Standing::Overridden
        }
        (Some(WordState::Stands), _) => Standing::Fits,
    };
    (standing, now)
}

/// True where a sign-off that fitted a project's facts before no longer fits them after.
#[must_use]
pub(crate) fn goes_stale(before: &Case<'_>, after: &Case<'_>) -> bool {
    let fitted = |signoff: &&SignOff| standing(before, signoff).0 == Standing::Fits;
    before.project.signoffs.iter().filter(fitted).any(|signoff| standing(after, signoff).0 == Standing::Stale)
}

/// Why a sign-off neither fits nor is stale, in a sentence; none where it stands.
#[must_use]
pub(crate) fn why(case: &Case<'_>, signoff: &SignOff) -> Option<String> {
    let statement = &signoff.statement;
    match case.word(signoff) {
        None => Some(signoff.void.as_ref().map_or_else(
            || format!("{} cannot sign as {} on this job", case.speaker(signoff), statement.role),
            |fault| fault.message.clone(),
        )),
        Some(WordState::Replaced(by)) => {
            Some(format!("replaced by a later statement of the same person: {by}"))
        }
        Some(WordState::TakenBack(by)) => Some(format!("the same person's withdrawal {by} takes it back")),
        Some(WordState::Overruled(by)) => {
            Some(format!("it is evidence, and the person's own signature {by} says otherwise"))
        }
        Some(WordState::Stands) if statement.decision == Decision::Withdrawn => {
            Some("it withdraws an earlier statement".into())
        }
        Some(WordState::Stands) if says_no(statement.decision) => {
            let owners = refusals::set_aside(case, signoff)?;
            let by: Vec<String> =
                owners.iter().map(|s| format!("{} ({})", case.speaker(s), s.digest)).collect();
            Some(format!("overridden by {}", by.join(" and ")))
        }
        Some(WordState::Stands) => None,
    }
}

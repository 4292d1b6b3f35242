//! What a gate says: for every requirement that the facts call for, whether it is met, and if not, what is
//! missing, why it is needed here, who can give it and with which command.

use serde::Serialize;

use crate::digest::Sha256Digest;
use crate::ids::{PanelId, PersonId};
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::Subject;
use crate::model::view::Change;

/// Whether a requirement is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// It is met.
    Met,
    /// It was never given.
    Missing,
    /// It was given for facts that have changed since.
    Stale,
    /// It was refused, for the facts as they are.
    Rejected,
}

/// One requirement, as it bears on one panel, stone or the whole project.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// The requirement's name.
    pub requirement: &'static str,
    /// The gate that it belongs to, by the stage it leads into.
    pub gate: Stage,
    /// From which format of books on moves are held to the requirement: see [`super::editions`].
    #[serde(skip)]
    pub since: u32,
    /// Whether it is met.
    pub state: State,
    /// What is there, or what is missing, in a sentence.
    pub what: String,
    /// Why it is needed here.
    pub why: String,
    /// In which roles it can be given.
    pub roles: Vec<Role>,
    /// Who can give it, by name.
    #[serde(rename = "people")]
    pub who: Vec<PersonId>,
    /// The command that gives it.
    pub command: String,
    /// For a stale approval: each fact that changed.
    pub changes: Vec<Change>,
    /// The approval that it asks for, where it asks for one: of what, and in which role.
    #[serde(skip)]
    pub asked: Option<(Subject, Role)>,
    /// The sign-offs that count for it.
    pub signoffs: Vec<Sha256Digest>,
}

/// Something to know that blocks nothing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Warning {
    /// A stable word for it.
    pub code: &'static str,
    /// The panels of which it is said; empty where it is said of the job.
    pub panels: Vec<PanelId>,
    /// The sentence, without their names.
    pub message: String,
    /// Where the rule comes from: a named source, or "common practice, no source".
    pub source: &'static str,
}

impl Warning {
    /// The sentence with the panels of which it is said.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        match self.panels.as_slice() {
            [] => self.message.clone(),
            [one] => format!("panel {one}: {}", self.message),
            several => {
                let names: Vec<&str> = several.iter().map(PanelId::as_str).collect();
                format!("panels {}: {}", names.join(", "), self.message)
            }
        }
    }
}

/// What the gates up to one stage say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// The stage that the last gate leads into.
    pub into: Stage,
    /// Every requirement of every gate up to there, in order.
    pub findings: Vec<Finding>,
}

impl Verdict {
    /// True where everything is met.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.findings.iter().all(|f| f.state == State::Met)
    }

    /// Everything that is not met, in order.
    pub fn missing(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|f| f.state != State::Met)
    }

    /// The sign-offs that counted, each once, in the order of their digests.
    #[must_use]
    pub fn signoffs(&self) -> Vec<Sha256Digest> {
        let mut all: Vec<_> = self.findings.iter().flat_map(|f| f.signoffs.iter().copied()).collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}

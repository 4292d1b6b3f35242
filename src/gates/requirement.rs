//! What a requirement is made of, and the findings that it makes.

use super::verdict::{Finding, State};
use crate::job::Case;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// One requirement: its name, the gate it belongs to, why it exists, and its check.
#[derive(Clone, Copy)]
pub struct Requirement {
    /// Its name, stable, as programs see it.
    pub name: &'static str,
    /// The gate, by the stage that it leads into.
    pub gate: Stage,
    /// From which format of books on moves are held to it, as it asks now: see [`crate::gates::editions`].
    pub since: u32,
    /// Why it exists, in a sentence.
    pub reason: &'static str,
    /// Judges it: one finding for each panel, stone or request that it bears on; none where nothing calls for it.
    pub check: fn(&Case<'_>) -> Vec<Finding>,
}

impl Requirement {
    /// A finding of this requirement that is met.
    #[must_use]
    pub fn met(&self, what: impl Into<String>) -> Finding {
        Finding {
            requirement: self.name,
            gate: self.gate,
            since: self.since,
            state: State::Met,
            what: what.into(),
            why: self.reason.into(),
            roles: Vec::new(),
            who: Vec::new(),
            command: String::new(),
            changes: Vec::new(),
            asked: None,
            signoffs: Vec::new(),
        }
    }

    /// A finding of this requirement that is missing, with the roles that can give it and the command.
    #[must_use]
    pub(crate) fn missing(
        &self,
        case: &Case<'_>,
        what: impl Into<String>,
        roles: &[Role],
        command: impl Into<String>,
    ) -> Finding {
        Finding {
            state: State::Missing,
            roles: roles.to_vec(),
            who: case.people_for(roles),
            command: command.into(),
            ..self.met(what)
        }
    }
}

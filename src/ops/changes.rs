//! The change sheet of a project: every sign-off that no longer fits, fact by fact, and who must sign again;
//! and what was built against what was worked out.

use serde::Serialize;

use super::reading::Reading;
use crate::fault::Fault;
use crate::gates::{State, evaluate, facts, is_released};
use crate::ids::ProjectId;
use crate::job::Case;
use crate::job::as_built::{Comparison, compare};
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::Decision;
use crate::model::supersession::{WordState, says_yes};
use crate::model::view::{Change, changes};

/// A project's change sheet.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ChangeSheet {
    /// The project.
    pub project: ProjectId,
    /// Its title.
    pub title: String,
    /// Its stage.
    pub stage: Stage,
    /// True where it may be built as it is now.
    pub released: bool,
    /// Every sign-off that no longer fits.
    pub stale: Vec<StaleSignOff>,
    /// What was built against the plan.
    pub as_built: Vec<BuiltLine>,
    /// What differs from the release, in the words of whoever built it.
    pub differs: Option<String>,
}

/// A sign-off that no longer fits.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct StaleSignOff {
    /// About what.
    pub about: String,
    /// Whose word it is.
    pub who: String,
    /// In which role.
    pub role: Role,
    /// What it said.
    pub decision: Decision,
    /// When, as it says itself.
    pub at: String,
    /// Its digest.
    pub sha256: String,
    /// Every fact that differs, from what to what.
    pub changes: Vec<Change>,
    /// True where a gate still asks for it; false where another sign-off has taken its place or nothing calls for
    /// it any more.
    pub asked_for: bool,
    /// Who can sign again.
    pub sign_again: Vec<String>,
    /// The command for it.
    pub command: String,
}

/// One panel as it was built.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct BuiltLine {
    /// The panel.
    pub panel: String,
    /// Its serial number.
    pub serial: String,
    /// Measured, watts.
    pub measured_w: f64,
    /// Worked out, watts.
    pub planned_w: Option<f64>,
    /// How far off, in percent of the plan.
    pub deviation_pct: Option<f64>,
    /// True where that has to be looked into.
    pub far_off: bool,
    /// The same in a sentence.
    pub sentence: String,
}

impl From<&Comparison> for BuiltLine {
    fn from(built: &Comparison) -> Self {
        BuiltLine {
            panel: built.panel.to_string(),
            serial: built.serial.clone(),
            measured_w: built.measured_w,
            planned_w: built.planned_w,
            deviation_pct: built.deviation_pct(),
            far_off: built.is_far_off(),
            sentence: built.in_words(),
        }
    }
}

/// Makes the change sheet.
///
/// # Errors
/// Everything that is wrong with the project.
pub(crate) fn sheet(reading: &Reading, id: &ProjectId) -> Result<ChangeSheet, Vec<Fault>> {
    let snapshot = reading.project(id)?;
    let case = reading.case(&snapshot);
    let stage = snapshot.standing().stage;
    // What the gates behind and the next one still ask for.
    let verdict = evaluate(&case, stage.next().unwrap_or(stage));
    let open: Vec<&str> =
        verdict.findings.iter().filter(|f| f.state != State::Met).map(|f| f.command.as_str()).collect();
    let mut stale: Vec<StaleSignOff> =
        snapshot.signoffs.iter().filter_map(|signoff| stale_one(&case, signoff, &open)).collect();
    stale.sort_by(|a, b| (!a.asked_for, &a.about, &a.at).cmp(&(!b.asked_for, &b.about, &b.at)));
    Ok(ChangeSheet {
        project: id.clone(),
        title: snapshot.project.title.clone(),
        stage,
        released: is_released(&case),
        stale,
        as_built: compare(&case, case.job()).iter().map(BuiltLine::from).collect(),
        differs: snapshot.as_built.as_ref().and_then(|b| b.differs.clone()),
    })
}

fn stale_one(case: &Case<'_>, signoff: &SignOff, open: &[&str]) -> Option<StaleSignOff> {
    let statement = &signoff.statement;
    if !says_yes(statement.decision) || case.word(signoff) != Some(WordState::Stands) {
        return None;
    }
    let now = facts::to_fit(case, statement);
    let changed = changes(&statement.facts, &now);
    if changed.is_empty() {
        return None;
    }
    let command =
        format!("underlit sign {} {} --as {}", case.id(), statement.about.arguments(), statement.role);
    let name = |p: &crate::ids::PersonId| case.shop.roster.name_of(p);
    Some(StaleSignOff {
        about: statement.about.to_string(),
        who: case.speaker(signoff),
        role: statement.role,
        decision: statement.decision,
        at: statement.time.clone(),
        sha256: signoff.digest.hex(),
        changes: changed,
        asked_for: open.contains(&command.as_str()),
        sign_again: case.people_for(&[statement.role]).iter().map(name).collect(),
        command,
    })
}

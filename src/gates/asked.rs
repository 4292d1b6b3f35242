//! What people are asked to approve on a job, thing by thing, each with the code by which they can answer it.
//!
//! What is asked is what the requirements ask, and nothing else is decided here.

use super::verdict::{Finding, State};
use super::{facts, findings, requirements};
use crate::ids::PersonId;
use crate::job::case::Case;
use crate::model::answer_code::AnswerCode;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// One thing that somebody is asked to approve.
#[derive(Clone, Debug)]
pub(crate) struct Asked {
    /// What.
    pub subject: Subject,
    /// In which role.
    pub role: Role,
    /// The code of its present version.
    pub code: AnswerCode,
    /// How its approval stands.
    pub finding: Finding,
}

/// The code of a subject as its facts are now, asked of somebody in a role.
#[must_use]
pub(crate) fn code(case: &Case<'_>, subject: &Subject, role: Role) -> AnswerCode {
    let project = &case.project.project.id;
    AnswerCode::of(&case.shop.book.id, project, subject, role, &facts::of(case, subject))
}

/// What somebody is asked on a job up to its handover, in the order of the gates. What cannot be answered yet, because it is
/// not chosen, not drawn, drawn for other facts, or a question about it is open, is left out until it can.
#[must_use]
pub(crate) fn of(case: &Case<'_>, person: &PersonId) -> Vec<Asked> {
    let mut found: Vec<Asked> = Vec::new();
    let all = findings(case, Stage::HandedOver);
    for finding in &all {
        let Some((subject, role)) = finding.asked.clone() else { continue };
        let known = found.iter().any(|a| a.subject == subject && a.role == role);
        if !known && case.may_speak(person, role) && case.people_for(&[role]).contains(person) {
            let ready = finding.state == State::Met || can_be_answered(case, &subject, &all);
            if ready {
                found.push(Asked {
                    code: code(case, &subject, role),
                    subject,
                    role,
                    finding: finding.clone(),
                });
            }
        }
    }
    found
}

/// What somebody is asked and nobody has answered for the facts as they are; what was refused is answered.
#[must_use]
pub(crate) fn open(case: &Case<'_>, person: &PersonId) -> Vec<Asked> {
    let mut waiting = of(case, person);
    waiting.retain(|asked| matches!(asked.finding.state, State::Missing | State::Stale));
    waiting
}

/// True where there is something whole to answer, as the gates up to the release find all of it.
fn can_be_answered(case: &Case<'_>, subject: &Subject, all: &[Finding]) -> bool {
    let panel = subject.panel.as_ref().and_then(|id| Some((id, case.project.panels.get(id)?)));
    let whole = match (subject.view, panel) {
        (View::Choice, Some((_, panel))) => requirements::is_chosen(panel),
        (View::Rendering, Some((id, panel))) => {
            let drawn = case.project.renderings.get(id);
            drawn.is_some_and(|drawn| requirements::rendering_flaw(case, id, panel, drawn).is_none())
        }
        (View::Release, _) if subject.group != case.group => {
            let part = subject.group.as_ref().and_then(|group| case.part(group));
            part.is_some_and(|part| can_be_answered(&part, subject, &findings(&part, Stage::Released)))
        }
        (View::Release, _) => {
            let before = all.iter().filter(|f| f.gate <= Stage::Released);
            before
                .into_iter()
                .all(|f| f.state == State::Met || f.asked.as_ref().is_some_and(|(s, _)| s == subject))
        }
        _ => true,
    };
    whole && requirements::bearing_on(case, subject).next().is_none()
}

/// Everything on a job that the shop's rules ask somebody to approve, whether or not it is asked now: what a code can be of.
#[must_use]
pub(crate) fn subjects(case: &Case<'_>) -> Vec<(Subject, Role)> {
    let mut all = Vec::new();
    for rule in &case.shop.rules.approvals {
        let subject = Subject { view: rule.view, topic: rule.topic, ..Subject::release() };
        let of_panel = |id| Subject { panel: Some(id), ..subject.clone() };
        match (rule.view, rule.topic) {
            (View::Release, _) | (_, Some(Topic::Cautions)) => {
                let of_group = |case: Case<'_>| Subject { group: case.group, ..subject.clone() };
                let groups: Vec<Subject> = case.parts().map(of_group).collect();
                let all_of = if groups.is_empty() { vec![subject] } else { groups };
                all.extend(all_of.into_iter().map(|subject| (subject, rule.role)));
            }
            (_, Some(Topic::OrderedAhead | Topic::Accepted | Topic::RoomLightUnknown)) => {
                all.push((subject, rule.role))
            }
            (View::Request, _) => {
                let requests = case.project.requests.keys();
                all.extend(requests.map(|id| (Subject::request(id), rule.role)));
            }
            (View::Override, _) | (_, Some(Topic::NotesMet)) => {}
            _ => all.extend(case.panels().map(|(id, _)| (of_panel(id.clone()), rule.role))),
        }
    }
    all
}

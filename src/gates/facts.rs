//! The facts of each view, as they are now: what a signature made today would seal.

use super::case::Case;
use super::pack;
use super::sentences;
use super::wording::Wording;
use crate::digest::Sha256Digest;
use crate::model::panel::Panel;
use crate::model::statement::{Fact, Facts, Statement, Subject, View};
use crate::model::view;

/// The fact under which a release seals the digest of the build pack's data.
pub const PACK_SHA256: &str = "pack.sha256";

/// The facts of a subject, as they are now. A subject that is not there has no facts.
#[must_use]
pub fn of(case: &Case<'_>, subject: &Subject) -> Facts {
    let project = case.project;
    let panel = subject.panel.as_ref().and_then(|id| project.panels.get(id));
    match subject.view {
        View::Request => subject
            .request
            .as_ref()
            .and_then(|id| project.requests.get(id))
            .map(|request| view::record_facts("request", "request", request))
            .unwrap_or_default(),
        View::Choice => panel.map(|p| view::choice(p, project.stone_of(p))).unwrap_or_default(),
        View::Rendering => panel
            .map(|p| view::rendering(p, subject.panel.as_ref().and_then(|id| project.renderings.get(id))))
            .unwrap_or_default(),
        View::Waiver | View::Acknowledgement => sentences::sealed(case, subject, Wording::PRESENT),
        View::Release => release(case),
    }
}

/// The facts of a statement's subject as they are now, in the words in which the statement was made: what it has to
/// have sealed to fit.
#[must_use]
pub fn to_fit(case: &Case<'_>, statement: &Statement) -> Facts {
    match statement.about.view {
        View::Waiver | View::Acknowledgement => {
            sentences::sealed(case, &statement.about, Wording::of(&statement.facts))
        }
        _ => of(case, &statement.about),
    }
}

/// The digest of what a panel's sheet shows beside its outline: stone, light, face, mount, the names in its
/// title block. A sheet drawn for other facts is out of date, however well its outline fits.
#[must_use]
pub fn shown_on_sheet(case: &Case<'_>, panel: &Panel) -> Sha256Digest {
    let project = &case.project.project;
    let mut facts = view::choice(panel, case.project.stone_of(panel));
    for (name, text) in [
        ("shop", case.shop.book.shop.clone()),
        ("project", project.title.clone()),
        ("panel", panel.title.clone()),
        ("client", case.shop.roster.name_of(&project.people.client)),
    ] {
        facts.insert(name.to_owned(), Fact::Text(text));
    }
    // Facts are integers and text under sorted names, so that their JSON has one spelling.
    Sha256Digest::of(serde_json::to_string(&facts).unwrap_or_default().as_bytes())
}

/// The whole build: the job's sealed facts, every panel with its stone and drawing, and what they need.
fn release(case: &Case<'_>) -> Facts {
    let project = case.project;
    let mut facts = view::record_facts("project", "project", &project.project);
    let job = case.job();
    for (id, panel) in case.panels() {
        let drawn = project.renderings.get(id);
        facts.append(&mut view::release_panel(id, panel, project.stone_of(panel), drawn));
        if let Some(plan) = job.panels.get(id) {
            facts.append(&mut plan.facts(&format!("panels.{id}.plan")));
        }
    }
    facts.append(&mut job.circuit_facts());
    let data = pack::of_job(case, job);
    facts.insert(PACK_SHA256.into(), Fact::Text(pack::digest(&data).hex()));
    facts
}

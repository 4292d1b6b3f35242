//! The facts of each view, as they are now: what a signature made today would seal.

use super::{same_within, sentences};
use crate::digest::Sha256Digest;
use crate::job::case::Case;
use crate::job::pack;
use crate::job::wording::Wording;
use crate::model::panel::Panel;
use crate::model::project::Project;
use crate::model::rendering::Rendering;
use crate::model::snapshot::SignOff;
use crate::model::statement::{Fact, Facts, Statement, Subject, View};
use crate::model::supersession::says_no;
use crate::model::swatch::Swatch;
use crate::model::view::{self, Change};

/// The fact under which a release seals the digest of the build pack's data.
pub(crate) const PACK_SHA256: &str = "pack.sha256";

/// The fact under which a release seals the form of these data; a release of before it was named has none.
pub(crate) const PACK_FORMAT: &str = "pack.format";

/// What the facts begin with under which a release seals the digest of each part of the data.
pub(crate) const PACK_PARTS: &str = "pack.parts.";

/// The names of the parts of the pack's data whose digests differ: `bill`, `circuits`, `panels.front`. A release of
/// before there were digests of parts says nothing about them.
#[must_use]
pub(crate) fn parts_changed(changed: &[Change]) -> Vec<String> {
    let name = |change: &Change| {
        let part = change.fact.strip_prefix(PACK_PARTS)?.strip_suffix(".sha256")?;
        (change.signed.is_some() || change.now.is_none()).then(|| part.to_owned())
    };
    changed.iter().filter_map(name).collect()
}

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
        View::Release => of_its_group(case, subject, |case| case.sealed_by_release(release).clone()),
        View::Override => {
            let refusal = subject.refusal.and_then(|d| project.signoffs.iter().find(|s| s.digest == d));
            let refusal = refusal.filter(|s| says_no(s.statement.decision));
            refusal.map(of_override).unwrap_or_default()
        }
    }
}

/// The facts of the release group that a subject names, or of the whole job where it names none. A group's own case has
/// no facts of another group, nor of the whole job.
pub(super) fn of_its_group(case: &Case<'_>, subject: &Subject, facts: impl Fn(&Case<'_>) -> Facts) -> Facts {
    match &subject.group {
        group if *group == case.group => facts(case),
        Some(group) => case.part(group).map(|part| facts(&part)).unwrap_or_default(),
        None => Facts::new(),
    }
}

/// The facts of a statement's subject as they are now, in the words in which the statement was made: what it has to
/// have sealed to fit. An approval of an outline that is the same by the shop's rules fits as it is.
#[must_use]
pub(crate) fn to_fit(case: &Case<'_>, statement: &Statement) -> Facts {
    match statement.about.view {
        View::Waiver | View::Acknowledgement => {
            sentences::sealed(case, &statement.about, Wording::of(&statement.facts))
        }
        View::Rendering => {
            let now = of(case, &statement.about);
            if same_within::holds(case, statement, &now) { statement.facts.clone() } else { now }
        }
        _ => of(case, &statement.about),
    }
}

/// Facts of a panel that its sheet shows beside the client's choice.
const ON_SHEET: &[&str] = &[
    "bent",
    "etching",
    "etching_depth_mm",
    "position",
    "floor",
    "up_edge",
    "lead_edge",
    "lead_at_mm",
    "vein_deg",
    "ribs",
    "sizes",
    "supply.location",
    "supply.place",
];

/// The digest of what a panel's sheet shows beside its outline: stone, light, face, mount, how it is bent, etched, fitted
/// and fed, and the titles by which people tell panels apart. A sheet drawn for other facts is out of date, however well its outline fits.
///
/// The names of shop and client stand on the sheet too and are no part of this: correcting how a name is spelled
/// changes nothing that is built, and the signed sheet keeps the name under which it was signed. Another client is
/// another matter: the old one's signature no longer counts.
#[must_use]
pub fn shown_on_sheet(case: &Case<'_>, panel: &Panel) -> Sha256Digest {
    shown_of(&case.project.project, panel, case.project.stone_of(panel))
}

/// The same, from the records by themselves.
#[must_use]
pub(crate) fn shown_of(project: &Project, panel: &Panel, stone: Option<&Swatch>) -> Sha256Digest {
    shown(project, panel, stone, &[], ON_SHEET)
}

/// True where a sheet was drawn for the facts as they are. Sheets of before names were left out, or of before they showed
/// how a panel is fitted, count as they did. A sheet that was drawn before anybody said where the driver stands says so,
/// and is not made wrong by its being said.
#[must_use]
pub fn sheet_fits(case: &Case<'_>, panel: &Panel, drawn: &Rendering) -> bool {
    let client = &case.project.project.people.client;
    let earlier = case.shop.named_then.get(client).into_iter().flat_map(|names| names.values().cloned());
    let mut named = std::iter::once(case.shop.roster.name_of(client)).chain(earlier);
    let before_supply = Panel { supply: None, ..panel.clone() };
    let project = case.project;
    let shown_before = |names: &[(&str, String)]| {
        drawn.shows_sha256 == shown(&project.project, panel, project.stone_of(panel), names, &[])
    };
    drawn.shows_sha256 == shown_on_sheet(case, panel)
        || drawn.shows_sha256 == shown_on_sheet(case, &before_supply)
        || shown_before(&[])
        || named.any(|client| {
            let names = [("shop", case.shop.book.shop.clone()), ("client", client)];
            shown_before(&names)
        })
}

fn shown(
    project: &Project,
    panel: &Panel,
    stone: Option<&Swatch>,
    names: &[(&str, String)],
    more: &[&str],
) -> Sha256Digest {
    let mut facts = view::choice(panel, stone);
    if !more.is_empty() {
        facts.append(&mut view::field_facts(more, "panel", panel));
        // So that a sheet of before, which shows none of these, is never taken for one that shows that there are none.
        facts.insert("sheet".into(), Fact::Number(2));
    }
    let titles = [("project", project.title.clone()), ("panel", panel.title.clone())];
    for (name, text) in names.iter().cloned().chain(titles) {
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
    let (whole, parts) = pack::digest_and_parts(&data);
    facts.insert(PACK_SHA256.into(), Fact::Text(whole.hex()));
    facts.insert(PACK_FORMAT.into(), Fact::Number(data.format));
    for (part, digest) in parts {
        facts.insert(format!("{PACK_PARTS}{part}.sha256"), Fact::Text(digest.hex()));
    }
    if case.group.is_some() {
        // A group moves through no stages of its own, so that a step back of the job holds it in this way.
        let back: Vec<String> = project.steps_back().iter().map(Sha256Digest::hex).collect();
        if !back.is_empty() {
            facts.insert("job.reopened".into(), Fact::Text(back.join(", ")));
        }
    }
    facts
}

/// What an override seals: what was refused, by whom and why, as it was signed.
#[must_use]
pub(crate) fn of_override(refusal: &SignOff) -> Facts {
    let statement = &refusal.statement;
    let mut facts = Facts::new();
    for (name, text) in [
        ("sha256", Some(refusal.digest.hex())),
        ("about", Some(statement.about.to_string())),
        ("decision", Some(statement.decision.to_string())),
        ("by", Some(statement.speaker().to_string())),
        ("role", Some(statement.role.to_string())),
        ("comment", statement.comment.clone()),
    ] {
        if let Some(text) = text {
            facts.insert(format!("refusal.{name}"), Fact::Text(text));
        }
    }
    facts
}

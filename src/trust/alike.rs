//! Which titles and names are held against each other: those that one reader sees side by side. And what a check notes
//! beside them.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::project::read_outline;
use crate::gates::off_panel::{OffPanel, off_panel};
use crate::ids::{PersonId, ProjectId};
use crate::job::Case;
use crate::lookalike::{Code, Note, Shown, alike, mixed};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::roster::Roster;
use crate::store::read::Records;

/// What is to be known of the titles of one project: those of its panels among each other, and its own.
#[must_use]
pub(crate) fn titles(case: &Case<'_>) -> Vec<Note> {
    let project = &case.project.project;
    let panels: Vec<Shown<'_>> =
        case.project.panels.iter().map(|(id, panel)| (format!("panel {id}"), panel.title.as_str())).collect();
    among_panels((format!("project {}", project.id), &project.title), panels)
}

fn among_panels<'t>(own: Shown<'t>, panels: Vec<Shown<'t>>) -> Vec<Note> {
    let mut notes = alike(&panels);
    let titles: Vec<Shown<'_>> = std::iter::once(own).chain(panels).collect();
    notes.extend(mixed(&titles));
    notes
}

/// What is to be known of the titles and the people of one project, by what its page shows.
#[must_use]
pub(crate) fn of_project(case: &Case<'_>) -> Vec<Note> {
    let people = &case.project.project.people;
    let mut shown: BTreeSet<&PersonId> = people.named().map(|(_, person)| person).collect();
    for signoff in &case.project.signoffs {
        shown.extend([signoff.statement.speaker(), &signoff.statement.signer]);
    }
    let mut notes = titles(case);
    notes.extend(of_people(&case.shop.roster, |id| shown.contains(id)));
    notes
}

/// What is to be known of the full names of some people of the roster.
#[must_use]
pub(crate) fn of_people(roster: &Roster, shown: impl Fn(&PersonId) -> bool) -> Vec<Note> {
    let people = roster.people.iter().filter(|person| shown(&person.id));
    let names: Vec<Shown<'_>> = people.map(|person| (person.id.to_string(), person.name.as_str())).collect();
    let mut notes = alike(&names);
    notes.extend(mixed(&names));
    notes
}

/// Which titles of projects look alike.
#[must_use]
pub(crate) fn across<'t>(projects: impl Iterator<Item = (&'t ProjectId, &'t str)>) -> Vec<Note> {
    let titles: Vec<Shown<'t>> = projects.map(|(id, title)| (format!("project {id}"), title)).collect();
    alike(&titles)
}

/// What notes are made of, of one project: little, since a check of a large book keeps it of every project.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Noted {
    /// The project's title, where its record can be read.
    title: Option<String>,
    /// Who is named in it.
    people: Vec<String>,
    /// The panels' names and titles.
    panels: Vec<(String, String)>,
    /// Ribs and etched lines that lie off their panels, in sentences.
    off: Vec<String>,
}

impl Noted {
    /// That of the records of one project.
    #[must_use]
    pub(super) fn of(records: &Records) -> Noted {
        let text = |value: &'_ Value, key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
        let mut noted = Noted::default();
        for (path, (_, value)) in records {
            match Kind::of_path(path) {
                Some(Kind::Project) => {
                    noted.title = text(value, "title");
                    let named = value.get("people").and_then(Value::as_object).into_iter().flatten();
                    noted.people.extend(named.filter_map(|(_, person)| person.as_str().map(str::to_owned)));
                }
                Some(Kind::Panel) => {
                    let name = text(value, "id").unwrap_or_default();
                    noted.panels.extend(text(value, "title").map(|title| (name, title)));
                    noted.off.extend(off(path, value, records).into_iter().flatten());
                }
                _ => {}
            }
        }
        noted
    }
}

/// What of a panel lies off it, of its record and its drawing as they can be read.
fn off(path: &str, value: &Value, records: &Records) -> Option<Vec<String>> {
    let (folder, _) = path.rsplit_once('/')?;
    let drawing = format!("{folder}/{}", value["outline"]["file"].as_str()?);
    let (bytes, drawn) = records.get(&drawing)?;
    if value["ribs"].is_null() && drawn["etchings"].as_array().is_none_or(Vec::is_empty) {
        return None;
    }
    let (panel, outline) = (Panel::deserialize(value).ok()?, read_outline(&drawing, bytes).ok()?);
    let said =
        |off: OffPanel| format!("{folder}/{}, {}: {}; {}", off.file, off.pointer, off.message, off.fix);
    Some(off_panel(&panel, &outline).into_iter().map(said).collect())
}

/// What is to be known of the titles and people of projects: of a whole book, or of one project.
#[must_use]
pub(super) fn of_noted(
    projects: &BTreeMap<&ProjectId, &Noted>,
    roster: Option<&Roster>,
    whole: bool,
) -> Vec<Note> {
    let titles = || projects.iter().filter_map(|(id, noted)| Some((*id, noted.title.as_deref()?)));
    let mut notes = across(titles());
    for (id, title) in titles() {
        let of = if whole { format!("{id}: ") } else { String::new() };
        let panels = projects[id].panels.iter();
        let panels = panels.map(|(name, title)| (format!("{of}panel {name}"), title.as_str())).collect();
        notes.extend(among_panels((format!("project {id}"), title), panels));
    }
    let off = projects.values().flat_map(|noted| &noted.off);
    notes.extend(off.map(|message| Note { code: Code::OffPanel, message: message.clone() }));
    if let Some(roster) = roster {
        let people: BTreeSet<&str> =
            projects.values().flat_map(|noted| noted.people.iter().map(String::as_str)).collect();
        notes.extend(of_people(roster, |id| whole || people.contains(id.as_str())));
    }
    notes
}

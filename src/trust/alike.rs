//! Which titles and names are held against each other: those that one reader sees side by side.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::ids::{PersonId, ProjectId};
use crate::job::Case;
use crate::lookalike::{Note, Shown, alike, mixed};
use crate::model::kind::Kind;
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

/// Leaves of a record only what [`of_records`] asks.
pub(super) fn keep_noted(record: &mut Value) {
    if let Some(fields) = record.as_object_mut() {
        fields.retain(|name, _| matches!(name.as_str(), "id" | "title" | "people"));
    }
}

/// What is to be known of the titles and people of records: of a whole book, or of one project.
#[must_use]
pub(super) fn of_records(records: &Records, roster: Option<&Roster>, whole: bool) -> Vec<Note> {
    let text = |value: &'_ Value, key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
    let of = |path: &str| Some((Kind::of_path(path)?, ProjectId::of_path(path)?));
    let mut titles: Vec<(ProjectId, String)> = Vec::new();
    let mut people: BTreeSet<String> = BTreeSet::new();
    let mut panels: std::collections::BTreeMap<ProjectId, Vec<(String, String)>> =
        std::collections::BTreeMap::new();
    for (path, (_, value)) in records {
        match of(path) {
            Some((Kind::Project, id)) => {
                titles.extend(text(value, "title").map(|title| (id, title)));
                let named = value.get("people").and_then(Value::as_object).into_iter().flatten();
                people.extend(named.filter_map(|(_, person)| person.as_str().map(str::to_owned)));
            }
            Some((Kind::Panel, id)) => {
                let name = format!("panel {}", text(value, "id").unwrap_or_default());
                let what = if whole { format!("{id}: {name}") } else { name };
                panels.entry(id).or_default().extend(text(value, "title").map(|title| (what, title)));
            }
            _ => {}
        }
    }
    let mut notes = across(titles.iter().map(|(id, title)| (id, title.as_str())));
    for (id, title) in &titles {
        let panels = panels.get(id).into_iter().flatten();
        let panels = panels.map(|(what, title)| (what.clone(), title.as_str())).collect();
        notes.extend(among_panels((format!("project {id}"), title), panels));
    }
    if let Some(roster) = roster {
        notes.extend(of_people(roster, |id| whole || people.contains(id.as_str())));
    }
    notes
}

//! Panels that are alike: one page and one service card for all of them, with a list of what is each one's own. Nothing of it
//! is sealed: the data has every panel by itself.

use super::super::tables::{Column, Table};
use super::amounts::{metres, volts};
use super::chapters::{chapter, coded};
use super::input::PackInput;
use super::pages::{Block, Chapter};
use crate::job::pack::data::PanelData;
use crate::job::pack::words::{PanelWords, ServiceWords};

/// The panels of a job, those together that are alike: in everything but their names, their rooms, and how far they are from
/// their drivers.
pub(super) fn alike<'p>(input: &'p PackInput<'_>) -> Vec<Vec<&'p PanelData>> {
    let mut groups: Vec<(PanelData, Option<&ServiceWords>, Vec<&PanelData>)> = Vec::new();
    for panel in &input.data.panels {
        let (shared, service) =
            (but_for_its_own(panel), words(input, panel).and_then(|w| w.service.as_ref()));
        let served_alike = |other: Option<&ServiceWords>| match (other, service) {
            (Some(a), Some(b)) => {
                // What is heaviest is told with the panel's name; its mass is in the data.
                (&a.access, &a.lift, &a.steps, &a.cautions) == (&b.access, &b.lift, &b.steps, &b.cautions)
            }
            (a, b) => a.is_none() && b.is_none(),
        };
        match groups.iter_mut().find(|(other, served, _)| *other == shared && served_alike(*served)) {
            Some((.., group)) => group.push(panel),
            None => groups.push((shared, service, vec![panel])),
        }
    }
    groups.into_iter().map(|(.., group)| group).collect()
}

/// What two panels must share to be alike.
fn but_for_its_own(panel: &PanelData) -> PanelData {
    let mut shared = panel.clone();
    shared.id.clear();
    shared.rooms.clear();
    if let Some(power) = &mut shared.power {
        (power.feed_um, power.drop_mv) = (0, 0);
    }
    shared
}

fn words<'p>(input: &'p PackInput<'_>, panel: &PanelData) -> Option<&'p PanelWords> {
    input.words.panels.get(&panel.id)
}

/// A text about one panel as it is of each of a group.
pub(super) fn of_each(group: &[&PanelData], panel: &PanelData, text: &str) -> String {
    match group.len() {
        1 => text.to_owned(),
        _ => text.replace(&format!("panel {}", panel.id), "the panel"),
    }
}

/// What people call a panel, with its name.
pub(super) fn called(input: &PackInput<'_>, panel: &PanelData) -> String {
    let title = input.heading.panel_titles.iter().find(|(id, _)| *id == panel.id);
    title.map_or_else(|| panel.id.clone(), |(id, title)| format!("{title} ({id})"))
}

/// The panels of a group in a heading.
pub(super) fn named(input: &PackInput<'_>, group: &[&PanelData]) -> String {
    match group {
        [first, .., _] => format!("{} and {} alike", called(input, first), group.len() - 1),
        [first] => called(input, first),
        [] => String::new(),
    }
}

/// What is said of the panels of a group: first of all, then of some with their names.
pub(super) fn said(
    input: &PackInput<'_>,
    group: &[&PanelData],
    of: impl Fn(&PanelWords) -> &[String],
) -> Vec<String> {
    let mut all: Vec<(&String, Vec<&str>)> = Vec::new();
    for panel in group {
        for line in words(input, panel).map(&of).into_iter().flatten() {
            match all.iter_mut().find(|(said, _)| *said == line) {
                Some((_, who)) => who.push(&panel.id),
                None => all.push((line, vec![&panel.id])),
            }
        }
    }
    all.sort_by_key(|(_, who)| who.len() < group.len());
    let with_names = |(line, who): (&String, Vec<&str>)| match who.len() == group.len() {
        true => line.clone(),
        false => format!("{}: {line}", who.join(", ")),
    };
    all.into_iter().map(with_names).collect()
}

/// The panels of a group one by one; nothing where there is one alone.
pub(super) fn each_of(input: &PackInput<'_>, group: &[&PanelData]) -> Option<Block> {
    if group.len() < 2 {
        return None;
    }
    let mut columns = vec![Column::words("Panel"), Column::sentences("What it is called")];
    let with_rooms = group.iter().any(|panel| !panel.rooms.is_empty());
    let fed = group.iter().any(|panel| panel.power.is_some());
    if with_rooms {
        columns.push(Column::sentences("Rooms, in the order of serial numbers"));
    }
    if fed {
        columns.extend([Column::numbers("Lead"), Column::numbers("Drop")]);
    }
    let row = |panel: &&PanelData| {
        let title = input.heading.panel_titles.iter().find(|(id, _)| *id == panel.id);
        let mut row = vec![panel.id.clone(), title.map(|(_, title)| title.clone()).unwrap_or_default()];
        row.extend(with_rooms.then(|| panel.rooms.join(", ")));
        if fed {
            let power = panel.power.as_ref();
            row.extend([
                power.map(|power| metres(power.feed_um)).unwrap_or_default(),
                power.map(|power| volts(power.drop_mv)).unwrap_or_default(),
            ]);
        }
        row
    };
    let heading = format!("{} panels are alike; each of them", group.len());
    Some(Block::Table(Table { heading, columns, rows: group.iter().map(row).collect() }))
}

/// The service card of a group: what is alike once, and what is not panel by panel.
pub(super) fn card(input: &PackInput<'_>, group: &[&PanelData]) -> Option<Chapter> {
    let cards: Vec<(&PanelData, &ServiceWords)> =
        group.iter().filter_map(|panel| Some((*panel, words(input, panel)?.service.as_ref()?))).collect();
    let (_, first) = *cards.first()?;
    let value = |(panel, card): &(&PanelData, &ServiceWords), label: &str| {
        let found = card.lines.iter().find(|[own, _]| own == label);
        found.map(|[_, value]| of_each(group, panel, value)).unwrap_or_default()
    };
    let mut labels: Vec<&str> = Vec::new();
    for [label, _] in cards.iter().flat_map(|(_, card)| &card.lines) {
        if !labels.contains(&label.as_str()) {
            labels.push(label);
        }
    }
    let is_shared = |label: &&str| cards.iter().all(|card| value(card, label) == value(&cards[0], label));
    let (shared, own): (Vec<&str>, Vec<&str>) = labels.into_iter().partition(is_shared);
    let mut lines: Vec<(&str, String)> = vec![("Job", input.heading.title.clone())];
    lines.extend(shared.into_iter().map(|label| (label, value(&cards[0], label))));
    let mut blocks = vec![coded("Leave this with the owner, near the drivers", lines)];
    if !own.is_empty() {
        let rows = cards.iter().map(|card| own.iter().map(|label| value(card, label)).collect()).collect();
        let columns = own.iter().map(|label| Column::sentences(label)).collect();
        blocks.push(Block::Table(Table { heading: "Panel by panel".into(), columns, rows }));
    }
    blocks.push(Block::Table(Table::numbered("When the light fails", &first.steps)));
    blocks.push(Block::Table(Table::numbered("Mind", &first.cautions)));
    let whose = match group {
        [one] => format!("panel {}", one.id),
        [one, ..] => format!("panel {} and {} alike", one.id, group.len() - 1),
        [] => return None,
    };
    Some(chapter(&format!("Service card: {whose}"), true, blocks))
}

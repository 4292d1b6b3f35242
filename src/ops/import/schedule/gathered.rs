//! Rows of a schedule with one mark, gathered into one panel.

use std::collections::BTreeMap;

use super::super::{CODE, LONGEST_NOTE, short_name};
use super::{Listed, Row};
use crate::fault::Fault;
use crate::ids::PanelId;
use crate::model::panel::{GroupShare, MOST_ALIKE};

/// How many of a panel each release group takes, with the rooms of each.
///
/// # Errors
/// The line of a row that names no group where another of the panel does.
fn shares(rows: &[&Row]) -> Result<Vec<GroupShare>, usize> {
    let mut counted: Vec<(u32, GroupShare)> = Vec::new();
    if rows.iter().all(|row| row.group.is_none()) {
        return Ok(Vec::new());
    }
    for row in rows {
        let id = row.group.clone().ok_or(row.line)?;
        let rooms = row.room.clone();
        match counted.iter_mut().find(|(_, share)| share.group == id) {
            Some((count, share)) => {
                *count += row.quantity;
                share.rooms.extend(rooms);
            }
            None => {
                let share = GroupShare { group: id, quantity: None, rooms: rooms.into_iter().collect() };
                counted.push((row.quantity, share));
            }
        }
    }
    let share = |(count, share)| GroupShare { quantity: Some(count).filter(|n| *n > 1), ..share };
    Ok(counted.into_iter().map(share).collect())
}

/// Rows with one mark as one panel.
pub(super) fn gathered(rows: &[Row], file: &str, faults: &mut Vec<Fault>) -> Vec<Listed> {
    let mut order: Vec<PanelId> = Vec::new();
    let mut by_name: BTreeMap<PanelId, Vec<&Row>> = BTreeMap::new();
    let at = |line: usize, text: String| Fault::data(CODE, text).in_file(file).on_line(Some(line));
    for row in rows {
        match short_name(&row.mark).parse::<PanelId>() {
            Ok(id) => {
                if !by_name.contains_key(&id) {
                    order.push(id.clone());
                }
                by_name.entry(id).or_default().push(row);
            }
            Err(why) => {
                let text = format!("the mark `{}` makes no short name: {why}", row.mark);
                faults.push(at(row.line, text).fix("use letters and digits"));
            }
        }
    }
    let mut panels = Vec::new();
    for id in order {
        let rows = &by_name[&id];
        let first = rows[0];
        for row in &rows[1..] {
            let differs = [
                ("size", row.size != first.size),
                ("stone", row.swatch != first.swatch),
                ("place", row.place != first.place),
                ("position", row.position != first.position),
                ("zone", row.zone != first.zone),
                ("mark", row.mark != first.mark),
            ];
            for (what, _) in differs.into_iter().filter(|(_, differs)| *differs) {
                let text =
                    format!("its {what} is another than on line {}, and both are panel {id}", first.line);
                faults
                    .push(at(row.line, text).fix("panels of one mark are alike: give it a mark of its own"));
            }
        }
        let quantity: u32 = rows.iter().map(|row| row.quantity).sum();
        if quantity > MOST_ALIKE {
            let text = format!("{quantity} of panel {id} are more than {MOST_ALIKE}");
            faults.push(at(first.line, text).fix("give a part of them a mark of its own"));
        }
        let groups = shares(rows).unwrap_or_else(|line| {
            let text = format!("the row names no release group, and other rows of panel {id} do");
            faults.push(at(line, text).fix("give every row of the panel its release group, or none"));
            Vec::new()
        });
        let titles = rows.iter().map(|row| row.title.as_str()).find(|title| !title.is_empty());
        panels.push(Listed {
            title: titles.unwrap_or(&first.mark).to_owned(),
            swatch: first.swatch.clone(),
            size: first.size,
            quantity,
            groups,
            zone: first.zone.clone(),
            place: first.place,
            position: first.position,
            note: note(rows),
            lines: rows.iter().map(|row| row.line).collect(),
            id,
        });
    }
    panels
}

/// The rooms of a panel and what else its rows say, as much as a note holds.
fn note(rows: &[&Row]) -> Option<String> {
    let room = |row: &&Row| match (&row.room, row.quantity) {
        (None, _) => None,
        (Some(room), 1) => Some(room.to_string()),
        (Some(room), n) => Some(format!("{room} ({n})")),
    };
    // Where release groups are named, the rooms of each stand with it.
    let rooms: Vec<String> = rows.iter().filter(|row| row.group.is_none()).filter_map(room).collect();
    let mut parts: Vec<String> = Vec::new();
    if !rooms.is_empty() {
        parts.push(format!("Rooms: {}", rooms.join(", ")));
    }
    for note in rows.iter().map(|row| row.note.as_str()).filter(|note| !note.is_empty()) {
        if !parts.iter().any(|part| part == note) {
            parts.push(note.to_owned());
        }
    }
    let whole = parts.join(". ");
    if whole.chars().count() <= LONGEST_NOTE {
        return Some(whole).filter(|note| !note.is_empty());
    }
    let more = " … and more in the schedule";
    let kept: String = whole.chars().take(LONGEST_NOTE - more.chars().count()).collect();
    Some(kept + more)
}

//! Which names of before stand on a sheet that was drawn earlier.
//!
//! A sheet shows the names of client, approvers and engineer as the roster had them on the day it was drawn. What it was
//! drawn *for* leaves names out, so that correcting one makes no signature stale; whoever looks at the sheet still has
//! to be told. Nothing keeps the names of a sheet but the sheet itself, so they are found in it: what the sheet would
//! say under a name of before and does not say under today's.

use std::collections::BTreeSet;

use crate::fault::Outcome;
use crate::ids::PanelId;
use crate::job::Case;
use crate::model::panel::Panel;
use crate::model::snapshot::Drawing;
use crate::sheets;
use crate::trust::sheet_input::{input, sheet_fault};
use crate::trust::surroundings::Surroundings;

/// Each name of before that a panel's sheets show, with the name of today.
///
/// # Errors
/// Whatever keeps the panel from being drawn.
pub(super) fn of_before(
    case: &Case<'_>,
    id: &PanelId,
    panel: &Panel,
    drawing: &Drawing,
    svgs: &[String],
    around: &Surroundings<'_>,
) -> Outcome<Vec<(String, String)>> {
    if case.shop.named_then.is_empty() {
        return Ok(Vec::new());
    }
    let drawn = |shop: &crate::model::snapshot::Shop| -> Outcome<BTreeSet<String>> {
        let input = input(&Case::new(shop, case.project), id, panel, drawing, 1, "", around)?;
        let sheet = sheets::draw(&input).map_err(|e| sheet_fault(&e))?;
        Ok(sheet.svgs().flat_map(texts).collect())
    };
    let now = drawn(case.shop)?;
    let filed: BTreeSet<String> = svgs.iter().flat_map(|svg| texts(svg)).collect();
    let mut found = Vec::new();
    for (person, names) in &case.shop.named_then {
        for before in names.values().collect::<BTreeSet<_>>() {
            let mut shop = case.shop.clone();
            for entry in shop.roster.people.iter_mut().filter(|p| p.id == *person) {
                entry.name.clone_from(before);
            }
            let then = drawn(&shop)?;
            let mut only_then = then.difference(&now).peekable();
            if only_then.peek().is_some() && only_then.all(|text| filed.contains(text)) {
                found.push((before.clone(), case.shop.roster.name_of(person)));
            }
        }
    }
    Ok(found)
}

/// Every text of a sheet. A sheet that is no longer the one that was drawn is another matter, which the gates tell.
fn texts(svg: &str) -> Vec<String> {
    let Ok(document) = roxmltree::Document::parse(svg) else { return Vec::new() };
    let all = document.descendants().filter(|node| node.has_tag_name("text"));
    all.map(|node| node.descendants().filter_map(|n| n.text()).collect::<Vec<_>>().concat()).collect()
}

//! Warnings at the choice about what a place or a stone asks for: parts of the shop that are rated for a damp or wet place,
//! and a material that names two stones.

use super::verdict::Warning;
use crate::job::case::Case;
use crate::model::panel::{Panel, Supply};
use crate::model::rules::Ask;
use crate::model::swatch::Material;
use crate::power::vocabulary::{Dimming, Place};
use crate::power::wire_stock::LeadEnd;

/// How the ingress code of a part reads for a place: IEC 60529, second digit. Which digit a place takes is common
/// practice, no source; the licensed person decides.
fn ingress(place: Place) -> &'static str {
    match place {
        Place::Dry => "none",
        Place::Damp => "IEC 60529: splashing water, IPX4 or more, is common practice",
        Place::Wet => {
            "IEC 60529: water jets, IPX5 or IPX6, is common practice; IPX7 alone is for immersion and says nothing of jets"
        }
    }
}

/// What is to be known of a panel's place and stone before it is drawn.
pub(super) fn warnings(case: &Case<'_>) -> Vec<Warning> {
    let (rules, mut warnings) = (&case.shop.rules, Vec::new());
    for (id, panel) in case.panels() {
        // Where the rules ask it before the choice, the gate tells it.
        let unserved =
            if rules.asks.contains(&Ask::BeforeChoice) { Vec::new() } else { unserved(case, panel) };
        warnings.extend(unserved.into_iter().map(|message| Warning {
            code: "no-part-for-place",
            panels: vec![id.clone()],
            message,
            source: "the shop's lists",
        }));
        let stone = case.project.stone_of(panel);
        if let Some(stone) =
            stone.filter(|s| s.material == Material::Alabaster && s.slab.density_kg_m3.is_none())
        {
            warnings.push(Warning {
                code: "which-alabaster",
                panels: vec![id.clone()],
                message: format!(
                    "alabaster is two stones, and {} may be gypsum (lighter, harmed by water) or calcite; its mass \
                     is given as a range. Record which: underlit swatch change {} {} --material gypsum-alabaster (or \
                     calcite-alabaster)",
                    stone.stone,
                    case.id(),
                    stone.id
                ),
                source: "handbook, from memory",
            });
        }
    }
    warnings
}

/// What the shop lists no part for at a panel's place, in sentences.
pub(super) fn unserved(case: &Case<'_>, panel: &Panel) -> Vec<String> {
    let in_words = |(part, file, place): (String, &str, Place)| {
        format!(
            "no {part} of {file} is rated for a {place} place ({}). Add one that is, with the place that its data sheet \
             names, and let an owner seal it: underlit roster seal; or move what stands there",
            ingress(place)
        )
    };
    unrated(case, panel).into_iter().map(in_words).collect()
}

/// The kinds of part of which the shop lists none for the place where the panel needs one: what, its file, the place.
fn unrated(case: &Case<'_>, panel: &Panel) -> Vec<(String, &'static str, Place)> {
    let shop = case.shop;
    let mut found = Vec::new();
    let mut ask = |any: bool, part: String, file: &'static str, place: Place| {
        if place > Place::Dry && !any {
            found.push((part, file, place));
        }
    };
    let kind = panel.light.as_ref().map(|light| light.kind);
    let of_kind = |light: &&crate::power::lights::Light| kind.is_none_or(|kind| light.kind == kind);
    let tapes = shop.lights.lights.iter().filter(of_kind).any(|light| light.suits_place(panel.place));
    let named = kind.map_or_else(|| "tape".to_owned(), |kind| format!("{kind} tape"));
    ask(tapes, named, "shop/lights.json", panel.place);
    let joins = |at: LeadEnd, place: Place| {
        shop.wire.connectors.iter().any(|one| one.at.contains(&at) && one.place >= place)
    };
    let listed = !shop.wire.connectors.is_empty();
    ask(
        !listed || joins(LeadEnd::AtPanel, panel.place),
        "connector at a panel".into(),
        "shop/wire.json",
        panel.place,
    );
    let supply = panel.supply.clone().unwrap_or_else(Supply::taken);
    let drivers = shop.drivers.drivers.iter().any(|driver| driver.place >= supply.place);
    ask(drivers, "driver".into(), "shop/drivers.json", supply.place);
    ask(
        !listed || joins(LeadEnd::AtSource, supply.place),
        "connector at a driver".into(),
        "shop/wire.json",
        supply.place,
    );
    let control_place = supply.control_place();
    match kind.filter(|kind| kind.takes_controller()) {
        Some(kind) => {
            let any =
                shop.controls.controllers.iter().any(|c| c.kinds.contains(&kind) && c.place >= control_place);
            ask(any, format!("controller for {kind}"), "shop/controls.json", control_place);
        }
        None => {
            let dimmer = panel.control.as_ref().and_then(|id| shop.controls.dimmer(id.as_str()));
            if dimmer.is_some_and(|dimmer| dimmer.method == Dimming::LowVoltage) {
                let any = shop
                    .controls
                    .dimmers
                    .iter()
                    .any(|d| d.method == Dimming::LowVoltage && d.place >= control_place);
                ask(any, "in-line dimmer".into(), "shop/controls.json", control_place);
            }
        }
    }
    found
}

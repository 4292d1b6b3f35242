//! The smallest changes that make a panel's wiring work where it does not: each is tried, and only what works is said.

use super::circuit_plan::{CircuitFault, CircuitPlan, PanelFeed, Shop, plan};
use super::class2;
use super::conductor::{Conductor, overcurrent_limit_a};
use super::vocabulary::Place;
use super::wire_stock::{Cable, Fuse, WireStock};
use crate::units::{Amperes, Metres, Volts, trimmed};

/// Ratings of small fuses that are tried, amperes: common sizes of blade fuses (ISO 8820-3, from memory).
const FUSES_A: [f64; 12] = [1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0];

/// The change that is looked for, in steps of so many metres.
const STEP_M: f64 = 0.1;

/// Every change found that would make the panel's wiring work, in words, the nearest of each kind; empty where none of
/// those that are tried does.
#[must_use]
pub fn changes(shop: Shop<'_>, panel: &PanelFeed<'_>) -> Vec<String> {
    [shorter(shop, panel), fuse(shop, panel), cable(shop, panel)].into_iter().flatten().collect()
}

fn alone(shop: Shop<'_>, panel: &PanelFeed<'_>) -> Result<CircuitPlan, Vec<CircuitFault>> {
    plan(shop, std::slice::from_ref(panel))
}

/// The farthest that the driver may be away.
fn shorter(shop: Shop<'_>, panel: &PanelFeed<'_>) -> Option<String> {
    let works = |steps: u32| {
        alone(shop, &PanelFeed { feed_m: Metres(f64::from(steps) * STEP_M), ..panel.clone() }).is_ok()
    };
    let (mut near, mut far) = (1, (panel.feed_m.get() / STEP_M).floor() as u32);
    if far <= near || !works(near) {
        return None;
    }
    while far - near > 1 {
        let middle = near + (far - near) / 2;
        if works(middle) { near = middle } else { far = middle }
    }
    Some(format!(
        "it works with at most {} of wire to the panel (now {})",
        Metres(f64::from(near) * STEP_M).both(),
        panel.feed_m.both()
    ))
}

/// The stock with a fuse of every common rating.
fn with_fuses(stock: &WireStock) -> WireStock {
    let fuses = FUSES_A.iter().map(|amps| Fuse {
        id: format!("added-{}", trimmed(*amps, 1).replace('.', "-")),
        name: String::new(),
        fuse_a: Amperes(*amps),
        highest_v: Volts(80.0),
        place: Place::Wet,
        note: None,
    });
    WireStock { fuses: stock.fuses.iter().cloned().chain(fuses).collect(), ..stock.clone() }
}

/// The fuses of a plan that the shop does not list, in words.
fn added_fuses(plan: &CircuitPlan) -> String {
    let leads = plan.groups.iter().flat_map(|g| &g.circuits).flat_map(|c| &c.leads);
    let protections = leads.flat_map(|lead| lead.controller_protection.iter().chain([&lead.protection]));
    let mut amps: Vec<String> = protections
        .filter(|one| one.fuse().is_some_and(|id| id.starts_with("added-")))
        .filter_map(|one| one.amps().map(|a| trimmed(a.get(), 1)))
        .collect();
    amps.sort();
    amps.dedup();
    amps.join(" A and of ")
}

/// A fuse that the shop does not list.
fn fuse(shop: Shop<'_>, panel: &PanelFeed<'_>) -> Option<String> {
    let wire = with_fuses(shop.wire);
    let plan = alone(Shop { wire: &wire, ..shop }, panel).ok()?;
    Some(format!("it works with a fuse of {} A in `fuses` of shop/wire.json", added_fuses(&plan)))
}

/// A cable that the shop does not list: the thinnest that works, in the shop's own table.
fn cable(shop: Shop<'_>, panel: &PanelFeed<'_>) -> Option<String> {
    let table = shop.wire.cables.first()?.table;
    let conductors = panel.build.conductors.len();
    let most_a = panel.build.conductors.iter().map(|c| c.amps.get()).fold(0.0, f64::max);
    let fused = with_fuses(shop.wire);
    for size in Conductor::all(table) {
        let carries = overcurrent_limit_a(size).unwrap_or_else(|| most_a / shop.wire.fuse_share() * 1.5);
        let added = Cable {
            id: "added".into(),
            name: String::new(),
            table,
            size: size.size().into(),
            conductors: conductors as u32,
            conductor_a: Amperes(carries),
            class2_type: panel.asked.class2.then(|| "Class 2".into()),
            general_type: Some("general".into()),
            insulation_c: None,
            note: None,
        };
        for stock in [shop.wire, &fused] {
            let wire = WireStock { cables: vec![added.clone()], ..stock.clone() };
            let open = PanelFeed { cable: None, ..panel.clone() };
            let Ok(plan) = alone(Shop { wire: &wire, ..shop }, &open) else { continue };
            let fuse = match added_fuses(&plan) {
                none if none.is_empty() => String::new(),
                some => format!(", with a fuse of {some} A"),
            };
            let marked = if panel.asked.class2 { "marked for" } else { "not bound to" };
            let wiring = class2::wiring(panel.asked.region);
            let conductors = crate::words::counted(conductors, "conductor", "conductors");
            return Some(format!(
                "it works with a cable of {conductors} of {} that carries {} A, {marked} {wiring}, in shop/wire.json{fuse}",
                size.size(),
                trimmed(carries, 1)
            ));
        }
    }
    None
}

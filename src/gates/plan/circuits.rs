//! All panels of a job on drivers, and, where some cannot be fed, why, without holding up the others.

use std::collections::BTreeMap;

use crate::model::snapshot::Shop;
use crate::power::circuit_plan::{self, CircuitFault, CircuitPlan, PanelFeed};

/// The panels that can be fed, and what stands against the others.
pub(super) struct Fed<'a> {
    /// Those that can.
    pub(super) feeds: Vec<PanelFeed<'a>>,
    /// Their circuits.
    pub(super) plan: CircuitPlan,
    /// What stands against each of the others, by its name.
    pub(super) against: BTreeMap<String, Vec<String>>,
}

/// Puts panels on drivers. What is open is picked; then all is put together once more as if it had been
/// settled, so that the record which settles it gives the same circuits.
pub(super) fn feed_all<'a>(shop: &'a Shop, feeds: Vec<PanelFeed<'a>>) -> Fed<'a> {
    let mut fed = feed_as_asked(shop, feeds);
    let open = |f: &PanelFeed<'_>| f.driver.is_none() || f.cable.is_none();
    if !fed.feeds.iter().any(open) {
        return fed;
    }
    let mut settled = fed.feeds.clone();
    for feed in &mut settled {
        for group in &fed.plan.groups {
            let leads = group.circuits.iter().flat_map(|c| &c.leads).filter(|l| l.panel == feed.panel);
            // The lead with the largest load needs the thickest cable, and all leads of a panel get that.
            if let Some(lead) = leads.max_by(|a, b| a.watts.0.total_cmp(&b.watts.0)) {
                feed.driver.get_or_insert_with(|| group.driver.clone());
                feed.cable.get_or_insert_with(|| lead.cable.clone());
            }
        }
    }
    let again = feed_as_asked(shop, settled);
    if again.against.is_empty() {
        fed.plan = again.plan;
        fed.feeds = again.feeds;
    }
    fed
}

fn lists(shop: &Shop) -> circuit_plan::Shop<'_> {
    circuit_plan::Shop { drivers: &shop.drivers, controls: &shop.controls, wire: &shop.wire }
}

/// Puts one panel on drivers of its own.
pub(super) fn alone(shop: &Shop, feed: PanelFeed<'_>) -> Result<CircuitPlan, Vec<CircuitFault>> {
    circuit_plan::plan(lists(shop), &[feed])
}

/// Puts panels on drivers as they are, picking what is open.
///
/// Panels that ask for the same share drivers and a control. Where that fails for all of them together, such as
/// where their dimmer would carry too much, they are divided: each goes to the first lot that it can share.
pub(super) fn feed_as_asked<'a>(shop: &'a Shop, feeds: Vec<PanelFeed<'a>>) -> Fed<'a> {
    let mut against: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let faults = match circuit_plan::plan(lists(shop), &feeds) {
        Ok(plan) => return Fed { feeds, plan, against },
        Err(faults) => faults,
    };
    let (troubled, sound): (Vec<_>, Vec<_>) =
        feeds.into_iter().partition(|f| faults.iter().any(|fault| fault.panels.contains(&f.panel)));
    let mut lots = vec![sound];
    for fault in &faults {
        let first = lots.len();
        for feed in troubled.iter().filter(|f| fault.panels.contains(&f.panel)) {
            if let Err(alone) = circuit_plan::plan(lists(shop), std::slice::from_ref(feed)) {
                against.insert(feed.panel.clone(), alone.iter().map(in_words).collect());
                continue;
            }
            let shares = |lot: &&mut Vec<PanelFeed<'a>>| {
                let together: Vec<PanelFeed<'a>> = lot.iter().chain([feed]).cloned().collect();
                circuit_plan::plan(lists(shop), &together).is_ok()
            };
            match lots[first..].iter_mut().find(shares) {
                Some(lot) => lot.push(feed.clone()),
                None => lots.push(vec![feed.clone()]),
            }
        }
    }
    let plan = joined(lots.iter().filter_map(|lot| circuit_plan::plan(lists(shop), lot).ok()));
    Fed { feeds: lots.into_iter().flatten().collect(), plan, against }
}

/// Several plans as one: drivers numbered on, bills added up.
fn joined(plans: impl Iterator<Item = CircuitPlan>) -> CircuitPlan {
    let mut all = CircuitPlan { groups: Vec::new(), bill: Vec::new() };
    let mut drivers = 0;
    for plan in plans {
        let before = drivers;
        for mut group in plan.groups {
            drivers += group.drivers;
            group.circuits.iter_mut().for_each(|circuit| circuit.driver += before);
            all.groups.push(group);
        }
        for line in plan.bill {
            match all.bill.iter_mut().find(|l| l.what == line.what && l.id == line.id) {
                Some(same) => same.quantity += line.quantity,
                None => all.bill.push(line),
            }
        }
    }
    const KINDS: [&str; 5] = ["tape", "driver", "controller", "dimmer", "cable"];
    let place = |what: &str| KINDS.iter().position(|kind| *kind == what);
    all.bill.sort_by(|a, b| (place(a.what), &a.id).cmp(&(place(b.what), &b.id)));
    all
}

/// The fault for one of its panels, who knows its own name.
fn in_words(fault: &CircuitFault) -> String {
    let text = format!("{fault}; {}", fault.remedy());
    let own_name = format!("{}: ", fault.panels.join(", "));
    text.strip_prefix(&own_name).map_or(text.clone(), str::to_owned)
}

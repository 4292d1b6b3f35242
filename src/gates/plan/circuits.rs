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
    if let Ok(plan) = circuit_plan::plan(lists(shop), &settled) {
        fed.plan = plan;
        fed.feeds = settled;
    }
    fed
}

fn lists(shop: &Shop) -> circuit_plan::Shop<'_> {
    circuit_plan::Shop { drivers: &shop.drivers, controls: &shop.controls, wire: &shop.wire }
}

/// Puts panels on drivers as they are, picking what is open.
pub(super) fn feed_as_asked<'a>(shop: &'a Shop, mut feeds: Vec<PanelFeed<'a>>) -> Fed<'a> {
    let mut against: BTreeMap<String, Vec<String>> = BTreeMap::new();
    loop {
        let faults = match circuit_plan::plan(lists(shop), &feeds) {
            Ok(plan) => return Fed { feeds, plan, against },
            Err(faults) => faults,
        };
        for fault in faults {
            // A panel that cannot be fed even by itself must not be held against those that share its driver.
            let alone: Vec<CircuitFault> = feeds
                .iter()
                .filter(|f| fault.panels.len() > 1 && fault.panels.contains(&f.panel))
                .filter_map(|f| circuit_plan::plan(lists(shop), std::slice::from_ref(f)).err())
                .flatten()
                .collect();
            for fault in if alone.is_empty() { vec![fault] } else { alone } {
                for panel in &fault.panels {
                    against.entry(panel.clone()).or_default().push(in_words(&fault));
                }
            }
        }
        feeds.retain(|f| !against.contains_key(&f.panel));
    }
}

/// The fault for one of its panels, who knows its own name.
fn in_words(fault: &CircuitFault) -> String {
    let text = format!("{fault}; {}", fault.remedy());
    match &fault.panels[..] {
        [only] => text.strip_prefix(&format!("{only}: ")).map_or(text.clone(), str::to_owned),
        _ => text,
    }
}

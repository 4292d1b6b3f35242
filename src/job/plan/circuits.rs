//! All panels of a job on drivers, and, where some cannot be fed, why, without holding up the others.
//!
//! A panel that no driver and cable of the shop feeds as its tape is laid is tried with its tape laid for less drop. What
//! was settled before protection and one sum of drops were asked for is planned by its leads alone, with what stands
//! against it; see `PowerPlan::against`.
//! A panel of which several are alike shares its drivers with no other panel: each of them is wired as the one is that is
//! planned, and what they take together stands in the bill.

use std::collections::BTreeMap;

use crate::model::snapshot::Shop;
use crate::power::circuit_plan::{self, CircuitFault, CircuitPlan, PanelFeed, Trouble};
use crate::power::conductor::Conductor;
use crate::power::nearest;

/// How many of a panel are alike, by its name, where it is more than one.
pub(super) type Alike = BTreeMap<String, usize>;

/// The panels that can be fed, and what stands against the others.
pub(super) struct Fed<'a> {
    /// Those that can.
    pub(super) feeds: Vec<PanelFeed<'a>>,
    /// Their circuits.
    pub(super) plan: CircuitPlan,
    /// What stands against each of the others, by its name.
    pub(super) against: BTreeMap<String, Vec<String>>,
}

/// Puts lots of panels on drivers, none of them on one with a panel of another lot.
pub(super) fn feed_groups<'a>(
    shop: &'a Shop,
    lots: impl Iterator<Item = Vec<PanelFeed<'a>>>,
    alike: &Alike,
) -> Fed<'a> {
    let mut fed: Vec<Fed<'a>> = lots.map(|feeds| feed_all(shop, feeds, alike)).collect();
    if fed.len() == 1
        && let Some(only) = fed.pop()
    {
        return only;
    }
    let plan = joined(fed.iter().map(|lot| (lot.plan.clone(), 1)));
    let mut all = Fed { feeds: Vec::new(), plan, against: BTreeMap::new() };
    for lot in fed {
        all.feeds.extend(lot.feeds);
        all.against.extend(lot.against);
    }
    all
}

/// Puts panels on drivers. What is open is picked; then all is put together once more as if it had been
/// settled, so that the record which settles it gives the same circuits.
pub(super) fn feed_all<'a>(shop: &'a Shop, feeds: Vec<PanelFeed<'a>>, alike: &Alike) -> Fed<'a> {
    let mut settled = feeds.clone();
    let mut fed = feed_as_asked(shop, feeds, alike);
    let open = |f: &PanelFeed<'_>| f.driver.is_none() || f.cable.is_none();
    if !fed.feeds.iter().any(open) {
        return fed;
    }
    settled.retain(|feed| !fed.against.contains_key(&feed.panel));
    for feed in &mut settled {
        for group in &fed.plan.groups {
            let leads = group.circuits.iter().flat_map(|c| &c.leads).filter(|l| l.panel == feed.panel);
            // All leads of a panel get the thickest cable of them; of those, the most loaded one's.
            if let Some(lead) = leads.max_by(|a, b| {
                ohms(shop, &b.cable).total_cmp(&ohms(shop, &a.cable)).then(a.watts.0.total_cmp(&b.watts.0))
            }) {
                feed.driver.get_or_insert_with(|| group.driver.clone());
                feed.cable.get_or_insert_with(|| lead.cable.clone());
            }
        }
    }
    let again = feed_as_asked(shop, settled, alike);
    let loose = |plan: &CircuitPlan| {
        let leads = plan.groups.iter().flat_map(|g| &g.circuits).flat_map(|c| &c.leads);
        leads.filter(|lead| !lead.against.is_empty()).count()
    };
    if again.against.is_empty() && loose(&again.plan) <= loose(&fed.plan) {
        fed.plan = again.plan;
        fed.feeds = again.feeds;
    }
    fed
}

/// What a metre of a cable's conductor resists by its table; without end where the shop has it no more.
fn ohms(shop: &Shop, cable: &str) -> f64 {
    let conductor = shop.wire.get(cable).and_then(|c| Conductor::find(c.table, &c.size));
    conductor.map_or(f64::INFINITY, |c| c.ohm_per_m_at(shop.wire.conductor_c))
}

fn lists(shop: &Shop, strict: bool) -> circuit_plan::Shop<'_> {
    circuit_plan::Shop { drivers: &shop.drivers, controls: &shop.controls, wire: &shop.wire, strict }
}

/// Puts one panel on drivers of its own.
pub(super) fn alone(shop: &Shop, feed: PanelFeed<'_>) -> Result<CircuitPlan, Vec<CircuitFault>> {
    circuit_plan::plan(lists(shop, true), &[feed])
}

/// A tape drops much where it takes one part in so many of the largest drop.
const MUCH: f64 = 4.0;

/// One panel as it can be fed by itself: as its tape is laid, or laid for less drop; else, where it was settled, by its
/// leads alone, with false.
///
/// # Errors
/// What stands in the way, and what would make it work.
fn by_itself<'a>(shop: &'a Shop, feed: &PanelFeed<'a>) -> Result<(PanelFeed<'a>, bool), Vec<String>> {
    let strict = lists(shop, true);
    let works = |feed: &PanelFeed<'_>, shop| circuit_plan::plan(shop, std::slice::from_ref(feed));
    let Err(faults) = works(feed, strict) else { return Ok((feed.clone(), true)) };
    // Other ways to lay the tape help where it drops much itself, or is too much for any output.
    let limit_v = feed.asked.voltage_v.0 * shop.wire.largest_drop_pct / 100.0;
    let along = feed.build.tapes.iter().filter_map(|tape| tape.drop_v).map(|v| v.0).fold(0.0, f64::max);
    let too_much =
        faults.iter().any(|f| matches!(f.trouble, Trouble::Driver(_) | Trouble::SettledDriver { .. }));
    let other_builds = if too_much || along * MUCH >= limit_v { &feed.other_builds[..] } else { &[] };
    let mut ways = other_builds.iter().map(|build| PanelFeed { build: build.clone(), ..feed.clone() });
    if let Some(way) = ways.find(|way| works(way, strict).is_ok()) {
        return Ok((way, true));
    }
    if feed.driver.is_some() && feed.cable.is_some() && works(feed, lists(shop, false)).is_ok() {
        return Ok((feed.clone(), false));
    }
    let mut why: Vec<String> = faults.iter().map(in_words).collect();
    if faults.iter().any(|f| matches!(f.trouble, Trouble::Cable(_) | Trouble::SettledCable { .. })) {
        why.extend(nearest::changes(strict, feed));
    }
    Err(why)
}

/// Puts panels on drivers as they are, picking what is open.
///
/// Panels that ask for the same share drivers and a control. Where that fails for all of them together, such as
/// where their dimmer would carry too much, they are divided: each goes to the first lot that it can share.
pub(super) fn feed_as_asked<'a>(shop: &'a Shop, feeds: Vec<PanelFeed<'a>>, alike: &Alike) -> Fed<'a> {
    let mut against: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let (repeated, feeds): (Vec<_>, Vec<_>) = feeds.into_iter().partition(|f| alike.contains_key(&f.panel));
    let mut lots = Vec::new();
    for feed in &repeated {
        match by_itself(shop, feed) {
            Ok((feed, strict)) => lots.push((strict, vec![feed])),
            Err(why) => {
                against.insert(feed.panel.clone(), why);
            }
        }
    }
    let faults = match circuit_plan::plan(lists(shop, true), &feeds) {
        Ok(plan) if repeated.is_empty() => return Fed { feeds, plan, against },
        Ok(_) => Vec::new(),
        Err(faults) => faults,
    };
    let (troubled, sound): (Vec<_>, Vec<_>) =
        feeds.into_iter().partition(|f| faults.iter().any(|fault| fault.panels.contains(&f.panel)));
    lots.push((true, sound));
    for fault in &faults {
        let first = lots.len();
        for feed in troubled.iter().filter(|f| fault.panels.contains(&f.panel)) {
            let (feed, strict) = match by_itself(shop, feed) {
                Ok(way) => way,
                Err(why) => {
                    against.insert(feed.panel.clone(), why);
                    continue;
                }
            };
            let shares = |(held, lot): &&mut (bool, Vec<PanelFeed<'a>>)| {
                let together: Vec<PanelFeed<'a>> = lot.iter().chain([&feed]).cloned().collect();
                *held == strict && circuit_plan::plan(lists(shop, strict), &together).is_ok()
            };
            match lots[first..].iter_mut().find(shares) {
                Some((_, lot)) => lot.push(feed),
                None => lots.push((strict, vec![feed])),
            }
        }
    }
    let times = |lot: &[PanelFeed<'_>]| lot.first().and_then(|f| alike.get(&f.panel)).copied().unwrap_or(1);
    let plan =
        joined(lots.iter().filter_map(|(strict, lot)| {
            Some((circuit_plan::plan(lists(shop, *strict), lot).ok()?, times(lot)))
        }));
    Fed { feeds: lots.into_iter().flat_map(|(_, lot)| lot).collect(), plan, against }
}

/// Several plans as one: drivers numbered on, bills added up, each as often as its plan is built.
fn joined(plans: impl Iterator<Item = (CircuitPlan, usize)>) -> CircuitPlan {
    let mut all = CircuitPlan { groups: Vec::new(), bill: Vec::new() };
    let mut drivers = 0;
    for (plan, times) in plans {
        let before = drivers;
        for mut group in plan.groups {
            drivers += group.drivers;
            group.circuits.iter_mut().for_each(|circuit| circuit.driver += before);
            all.groups.push(group);
        }
        for mut line in plan.bill {
            line.quantity *= times as f64;
            match all.bill.iter_mut().find(|l| l.what == line.what && l.id == line.id) {
                Some(same) => same.quantity += line.quantity,
                None => all.bill.push(line),
            }
        }
    }
    const KINDS: [&str; 6] = ["tape", "driver", "controller", "dimmer", "cable", "fuse"];
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

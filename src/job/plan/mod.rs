//! Light, power and route of a job's panels, worked out from their drawings, their choices and the shop's lists.
//!
//! Panels share drivers, so that power is worked out for the whole job at once; each panel's part of it is its
//! [`PanelPlan`]. [`job`] judges what the panels' records settle; [`propose_job`] picks from the lists what they
//! leave open. Both run the same sums, so that a gate never sees another answer than the engineer did.
//!
//! | file | what it answers |
//! |---|---|
//! | [`pieces`] | how a panel is split, and where its tape runs |
//! | [`light`] | how much light leaves a face |
//! | `bend` | which edges of a bent panel tape can follow |
//! | [`route`] | which route builds it, and why the others do not |
//! | [`materials`] | the sheets of the panels, and what joins their leads |
//! | `power` | tape, what a panel brings to the circuits, what they come to for it |
//! | `circuits` | all panels on drivers, and what stands in the way of each |

pub(crate) mod bend;
mod circuits;
pub mod light;
pub mod materials;
pub mod pieces;
mod power;
pub mod route;

use std::collections::BTreeMap;

use super::plan::materials::Materials;
use crate::ids::{GroupId, PanelId, StockId};
use crate::model::panel::Panel;
use crate::model::snapshot::{Shop, Snapshot};
use crate::model::statement::{Fact, Facts};
use crate::power::circuit_plan::{BillLine, CircuitGroup, CircuitPlan, PanelFeed, Trouble};
use crate::power::driver_choice::DriverFault;
use crate::power::light_build::LightBuild;
use crate::power::light_choice;
use crate::power::passed_over::PassedOver;
use crate::power::vocabulary::Dimming;
use crate::units::{DisplayUnits, Metres, Volts, trimmed};

/// What a panel needs, worked out, or everything that stands in the way.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelPlan {
    /// The route that builds it.
    pub route: Result<String, Vec<String>>,
    /// Its light and power.
    pub power: Result<PowerPlan, Vec<String>>,
}

/// What all panels of a job need, worked out together.
#[derive(Clone, Debug, PartialEq)]
pub struct JobPlan {
    /// What each panel needs.
    pub panels: BTreeMap<PanelId, PanelPlan>,
    /// The panels that can be fed, on their drivers: every tape of them on exactly one output. A panel whose
    /// power is not worked out is not among them.
    pub circuits: CircuitPlan,
    /// Sheets and connectors.
    pub materials: Materials,
}

/// The light and power of one panel.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerPlan {
    /// The tape, by its name in the shop's list.
    pub tape: String,
    /// Tape and light.
    pub build: LightBuild,
    /// The driver, by its name in the shop's list.
    pub driver: String,
    /// How many drivers feed it; other panels may share them.
    pub drivers: usize,
    /// The outputs that feed it: number of the driver in the job and number of its output, each from 1.
    pub outputs: Vec<(usize, usize)>,
    /// The other panels on the same drivers.
    pub shares_with: Vec<String>,
    /// What may be said of the driver's outputs and Class 2.
    pub class2: String,
    /// How it is dimmed.
    pub dimming: Dimming,
    /// The cable from driver to panel, by its name in the shop's list.
    pub wire: String,
    /// How far it is from driver to panel, one way.
    pub feed_length_m: Metres,
    /// Cable left loose behind it, which the drop counts too.
    pub slack_m: Metres,
    /// The drop from driver to the darkest place of its tape, of the lead where it is largest.
    pub drop_v: Volts,
    /// The part of it along the tape.
    pub tape_drop_v: Volts,
    /// The same in percent of the voltage.
    pub drop_pct: f64,
    /// How many conductors the panel's lead has.
    pub conductors: usize,
    /// What to know besides.
    pub remarks: Vec<String>,
    /// What stands against its wiring, which was settled before that was asked for.
    pub against: Vec<String>,
}

impl PowerPlan {
    /// The plan in a line: `38.4 W from 1 × plain-24-60, 2 conductors in 18-2, 1.2 % drop over 4 m and the tape`.
    #[must_use]
    pub(crate) fn in_words(&self, units: DisplayUnits) -> String {
        format!(
            "{} W from {} × {}, {} conductors in {}, {} % drop over {} and the tape",
            trimmed(self.build.watts.0, 1),
            self.drivers,
            self.driver,
            self.conductors,
            self.wire,
            trimmed(self.drop_pct, 2),
            units.run(self.feed_length_m)
        )
    }
}

impl PanelPlan {
    /// The plan as facts that a release seals, in whole milliwatts, millivolts and the names of the lists.
    #[must_use]
    pub(crate) fn facts(&self, prefix: &str) -> Facts {
        let mut facts = Facts::new();
        let mut put = |name: &str, fact: Fact| facts.insert(format!("{prefix}.{name}"), fact);
        if let Ok(route) = &self.route {
            put("route", Fact::Text(route.clone()));
        }
        if let Ok(power) = &self.power {
            let milli = |value: f64| Fact::Number((value * 1000.0).round() as i64);
            put("tape", Fact::Text(power.tape.clone()));
            put("tape_length_um", Fact::Number((power.build.tape_m.0 * 1e6).round() as i64));
            put("power_mw", milli(power.build.watts.0));
            put("driver", Fact::Text(power.driver.clone()));
            put("drivers", Fact::Number(power.drivers as i64));
            put("wire", Fact::Text(power.wire.clone()));
            put("drop_mv", milli(power.drop_v.0));
            put("tape_drop_mv", milli(power.tape_drop_v.0));
            put("conductors", Fact::Number(power.conductors as i64));
        }
        facts
    }
}

impl JobPlan {
    /// Everything to be bought, without waste: tape, drivers, controls and cable, then sheets and connectors.
    #[must_use]
    pub fn bill(&self) -> Vec<BillLine> {
        self.circuits.bill.iter().cloned().chain(self.materials.bill()).collect()
    }

    /// The circuits as facts that a release seals: what hangs on each driver output, and by which wire.
    #[must_use]
    pub(crate) fn circuit_facts(&self) -> Facts {
        let mut facts = Facts::new();
        let milli = |value: f64| Fact::Number((value * 1000.0).round() as i64);
        for group in &self.circuits.groups {
            for circuit in &group.circuits {
                let at = format!("circuits.driver-{}.output-{}", circuit.driver, circuit.output);
                let mut put = |name: &str, fact: Fact| facts.insert(format!("{at}.{name}"), fact);
                put("driver", Fact::Text(group.driver.clone()));
                put("power_mw", milli(circuit.watts.0));
                for (name, id) in [("controller", &circuit.controller), ("dimmer", &group.dimmer)] {
                    if let Some(id) = id {
                        put(name, Fact::Text(id.clone()));
                    }
                }
                for lead in &circuit.leads {
                    let to = match lead.piece {
                        0 => lead.panel.clone(),
                        piece => format!("{}.piece-{piece}", lead.panel),
                    };
                    let tapes: Vec<String> = lead.tapes.iter().map(|t| (t + 1).to_string()).collect();
                    let um = |m: Metres| Fact::Number((m.0 * 1e6).round() as i64);
                    put(&format!("{to}.tapes"), Fact::Text(tapes.join(", ")));
                    put(&format!("{to}.cable"), Fact::Text(lead.cable.clone()));
                    put(&format!("{to}.feed_um"), um(lead.feed_m));
                    put(&format!("{to}.slack_um"), um(lead.slack_m));
                    put(&format!("{to}.drop_mv"), milli(lead.drop_v.0));
                    put(&format!("{to}.protection"), Fact::Text(lead.protection.code().into()));
                    if let Some(fuse) = lead.protection.fuse() {
                        put(&format!("{to}.fuse"), Fact::Text(fuse.to_owned()));
                    }
                }
            }
        }
        facts
    }
}

/// Judges what the panels' records settle, all panels together.
#[must_use]
pub(crate) fn job(shop: &Shop, project: &Snapshot) -> JobPlan {
    let mut job = propose_job(shop, project);
    for (id, plan) in &mut job.panels {
        if let Some(panel) = project.panels.get(id) {
            hold_to_the_record(plan, panel);
        }
    }
    // The sheets of a route that nobody settled are no sheets of the job.
    let settled = |id: &PanelId| job.panels.get(id).is_some_and(|plan| plan.route.is_ok());
    job.materials.sheets.retain(|id, _| settled(id));
    job
}

/// Turns what was only proposed into what is still open.
fn hold_to_the_record(plan: &mut PanelPlan, panel: &Panel) {
    let unsettled = |name: &str, settled: &Option<StockId>, proposal: &str| {
        settled.is_none().then(|| format!("no {name} is chosen; {proposal} would fit"))
    };
    if let Ok(route) = &plan.route
        && let Some(open) = unsettled("route", &panel.route, route)
    {
        plan.route = Err(vec![open]);
    }
    if let Ok(power) = &plan.power {
        let open: Vec<String> = [
            unsettled("tape", &panel.tape, &power.tape),
            unsettled("driver", &panel.driver, &power.driver),
            unsettled("wire", &panel.wire, &power.wire),
        ]
        .into_iter()
        .flatten()
        .collect();
        if !open.is_empty() {
            plan.power = Err(open);
        }
    }
}

/// Works out what all panels of a job need, picking from the shop's lists whatever their records leave open.
#[must_use]
pub fn propose_job(shop: &Shop, project: &Snapshot) -> JobPlan {
    propose_with(shop, project, &project.panels)
}

/// Works out what all panels of a job would need if their records were these.
#[must_use]
pub fn propose_with(shop: &Shop, project: &Snapshot, panels: &BTreeMap<PanelId, Panel>) -> JobPlan {
    let mut routes = BTreeMap::new();
    // Panels share drivers only with panels of their own release groups.
    let mut feeds: BTreeMap<Vec<&GroupId>, Vec<PanelFeed<'_>>> = BTreeMap::new();
    let mut unfed: BTreeMap<PanelId, Vec<String>> = BTreeMap::new();
    for (id, panel) in panels {
        let Some(drawing) = project.drawing_of(id) else {
            let why = || vec![format!("the outline of panel {id} cannot be read")];
            routes.insert(id, Err(why()));
            unfed.insert(id.clone(), why());
            continue;
        };
        let tape = power::pick_tape(shop, panel);
        routes.insert(id, route::route(shop, panel, drawing, tape.as_ref().ok().copied()));
        match tape.and_then(|tape| power::feed(shop, project, panel, drawing, tape)) {
            Ok(feed) => {
                feeds.entry(panel.groups.iter().map(|share| &share.group).collect()).or_default().push(feed);
            }
            Err(why) => {
                unfed.insert(id.clone(), why);
            }
        }
    }
    let fed = circuits::feed_groups(shop, feeds.into_values(), &alike(panels));
    let plans: BTreeMap<PanelId, PanelPlan> = routes
        .into_iter()
        .map(|(id, route)| {
            let power = match fed.feeds.iter().find(|f| f.panel == id.as_str()) {
                Some(feed) => power::of_circuits(feed, &fed.plan, shop, project.project.site.code_region)
                    .ok_or_else(|| vec![format!("panel {id} is on no circuit")]),
                None => Err(unfed
                    .remove(id)
                    .or_else(|| fed.against.get(id.as_str()).cloned())
                    .unwrap_or_default()),
            };
            (id.clone(), PanelPlan { route, power })
        })
        .collect();
    let materials = materials::of_job(shop, project, panels, &plans, &fed.plan);
    JobPlan { panels: plans, circuits: fed.plan, materials }
}

/// The groups of panels with every other driver weighed against the one picked, for records that leave the
/// drivers open.
#[must_use]
pub(crate) fn drivers_weighed(
    shop: &Shop,
    project: &Snapshot,
    panels: &BTreeMap<PanelId, Panel>,
) -> Vec<CircuitGroup> {
    let feeds = panels
        .iter()
        .filter_map(|(id, panel)| {
            let tape = power::pick_tape(shop, panel).ok()?;
            power::feed(shop, project, panel, project.drawing_of(id)?, tape).ok()
        })
        .collect();
    circuits::feed_as_asked(shop, feeds, &alike(panels)).plan.groups
}

/// How many of each panel are alike, where it is more than one.
fn alike(panels: &BTreeMap<PanelId, Panel>) -> circuits::Alike {
    let several = panels.iter().filter(|(_, panel)| panel.count() > 1);
    several.map(|(id, panel)| (id.to_string(), panel.count())).collect()
}

/// Every driver of the shop with what speaks against it, for each panel that none of them feeds were its record to
/// leave the driver open.
#[must_use]
pub(crate) fn drivers_refused(
    shop: &Shop,
    project: &Snapshot,
    panels: &BTreeMap<PanelId, Panel>,
) -> BTreeMap<PanelId, Vec<(String, Vec<PassedOver>)>> {
    let refused = panels.iter().filter_map(|(id, panel)| {
        let tape = power::pick_tape(shop, panel).ok()?;
        let feed = power::feed(shop, project, panel, project.drawing_of(id)?, tape).ok()?;
        let faults = circuits::alone(shop, feed).err()?;
        faults.into_iter().find_map(|fault| match fault.trouble {
            Trouble::Driver(DriverFault::NoneFits { passed_over }) => Some((id.clone(), passed_over)),
            _ => None,
        })
    });
    refused.collect()
}

/// Every tape of the shop with what speaks against it for a panel as if its record left the tape open; empty for
/// those that give its light.
#[must_use]
pub(crate) fn tapes_weighed(shop: &Shop, panel: &Panel) -> Vec<(String, Vec<String>)> {
    let Ok(asked) = power::asked_of_tape(panel) else { return Vec::new() };
    let against = |light| light_choice::against(light, &asked).iter().map(ToString::to_string).collect();
    shop.lights.lights.iter().map(|light| (light.id.clone(), against(light))).collect()
}

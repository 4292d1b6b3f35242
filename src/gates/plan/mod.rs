//! Light, power and route of a panel, worked out from its drawing, its choice and the shop's lists.
//!
//! [`propose`] picks from the lists what is not settled; [`plan`] judges what the panel's record settles.
//! Both run the same sums, so that a gate never sees another answer than the engineer did.
//!
//! | file | what it answers |
//! |---|---|
//! | [`pieces`] | how a panel is split, and where its tape runs |
//! | `route` | which route builds it |
//! | `power` | tape, driver, wire |

pub mod pieces;
mod power;
mod route;

use crate::model::id::{PanelId, StockId};
use crate::model::panel::Panel;
use crate::model::snapshot::{Shop, Snapshot};
use crate::model::statement::{Fact, Facts};
use crate::power::light_build::LightBuild;
use crate::power::vocabulary::Dimming;
use crate::units::{Metres, Volts, trimmed};

/// What a panel needs, worked out, or everything that stands in the way.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelPlan {
    /// The route that builds it.
    pub route: Result<String, Vec<String>>,
    /// Its light and power.
    pub power: Result<PowerPlan, Vec<String>>,
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
    /// How many drivers.
    pub drivers: usize,
    /// What may be said of the driver's outputs and Class 2.
    pub class2: String,
    /// How it is dimmed.
    pub dimming: Dimming,
    /// The cable from driver to panel, by its name in the shop's list.
    pub wire: String,
    /// How far it is from driver to panel, one way.
    pub feed_length_m: Metres,
    /// The drop in that cable.
    pub drop_v: Volts,
    /// The same in percent of the voltage.
    pub drop_pct: f64,
    /// How many conductors the panel's lead has.
    pub conductors: usize,
    /// What to know besides.
    pub remarks: Vec<String>,
}

impl PowerPlan {
    /// The plan in a line: `38.4 W at 24 V from 1 × plain-24-60, 2 conductors of 18-2, 1.2 % drop over 4 m`.
    #[must_use]
    pub fn in_words(&self) -> String {
        format!(
            "{} W from {} × {}, {} conductors in {}, {} % drop over {} m",
            trimmed(self.build.watts.0, 1),
            self.drivers,
            self.driver,
            self.conductors,
            self.wire,
            trimmed(self.drop_pct, 2),
            trimmed(self.feed_length_m.0, 1)
        )
    }
}

impl PanelPlan {
    /// The plan as facts that a release seals, in whole milliwatts, millivolts and the names of the lists.
    #[must_use]
    pub fn facts(&self, prefix: &str) -> Facts {
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
            put("conductors", Fact::Number(power.conductors as i64));
        }
        facts
    }
}

/// Judges what a panel's record settles.
#[must_use]
pub fn plan(shop: &Shop, project: &Snapshot, id: &PanelId, panel: &Panel) -> PanelPlan {
    let mut plan = propose(shop, project, id, panel);
    let unsettled = |name: &str, settled: &Option<StockId>, proposal: &str| {
        settled.is_none().then(|| format!("no {name} is settled; {proposal} would do"))
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
    plan
}

/// Works out what a panel needs, picking from the shop's lists whatever its record leaves open.
#[must_use]
pub fn propose(shop: &Shop, project: &Snapshot, id: &PanelId, panel: &Panel) -> PanelPlan {
    let Some(drawing) = project.drawing_of(id) else {
        let why = || vec![format!("the outline of panel {id} cannot be read")];
        return PanelPlan { route: Err(why()), power: Err(why()) };
    };
    let tape = power::pick_tape(shop, panel);
    PanelPlan {
        route: route::route(shop, panel, drawing, tape.as_ref().ok().copied()),
        power: tape.and_then(|tape| power::power(shop, panel, drawing, tape)),
    }
}

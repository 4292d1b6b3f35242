//! All panels of a job on their drivers: circuit by circuit, conductor by conductor, and what that comes to.
//!
//! Panels that ask for the same share drivers and a control system; they are divided among several driver models
//! where that takes fewer or smaller drivers, or where no one model serves them all. Each panel's lead, and each piece's
//! of a split panel, runs from its circuit's output, or from the controller there, by itself. Driver, grouping and cable
//! are searched together: a driver whose outputs no cable of the shop can be led from is passed over. A controller stands beside its driver unless a distance
//! is given. This is what a circuit diagram, a wire schedule and a bill of materials are made from.

use std::fmt;

use super::cable_choice::{CableAgainst, CableFault};
use super::circuit_building::{bill, lots, plan_group};
use super::class2::Class2Standing;
use super::control_choice::ControlFault;
use super::controls::Controls;
use super::driver_choice::{DriverFault, Requirement};
use super::drivers::Drivers;
use super::light_build::{ConductorCurrent, LightBuild};
use super::lights::Light;
use super::passed_over::PassedOver;
use super::protection::Protection;
use super::vocabulary::Place;
use super::wire_stock::WireStock;
use crate::units::{Amperes, Metres, Volts, Watts};

/// One panel to be fed.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelFeed<'a> {
    /// Its name.
    pub panel: String,
    /// Its light.
    pub light: &'a Light,
    /// What its tape comes to.
    pub build: LightBuild,
    /// The same with its tape laid for less drop, the smallest change first: for whoever finds no cable for it as it is.
    pub other_builds: Vec<LightBuild>,
    /// What it asks of its driver.
    pub asked: Requirement,
    /// The driver that is settled for it, by id; none to choose one.
    pub driver: Option<String>,
    /// The controller or dimmer that is settled for it, by id; none to choose one where one is needed.
    pub control: Option<String>,
    /// The zone that it is controlled with; none where all of one control are one.
    pub zone: Option<String>,
    /// How wet the place of its controller or in-line dimmer is.
    pub control_place: Place,
    /// From driver to controller, one way, metres; none where the controller stands beside the driver.
    pub controller_m: Option<Metres>,
    /// From driver or controller to panel, one way, metres; above 0.
    pub feed_m: Metres,
    /// Cable left loose behind each piece for service, metres, which carries like the rest; none is none.
    pub slack_m: Vec<Metres>,
    /// How wet the panel's own place is.
    pub place: Place,
    /// The cable that is settled for it, by id; none to choose one.
    pub cable: Option<String>,
}

/// The shop's records that a plan is made from.
#[derive(Clone, Copy, Debug)]
pub struct Shop<'a> {
    /// Drivers.
    pub drivers: &'a Drivers,
    /// Controllers and dimmers.
    pub controls: &'a Controls,
    /// Cable.
    pub wire: &'a WireStock,
    /// True to hold plans to protection, marking and one sum of drops. False for what was settled before that was asked
    /// for: it is planned by its leads alone, and says what stands against it.
    pub strict: bool,
}

/// One panel's lead on a circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Lead {
    /// The panel.
    pub panel: String,
    /// The piece of a split panel, from 1; 0 where it is whole.
    pub piece: usize,
    /// The tapes that it feeds, by index in the panel's build.
    pub tapes: Vec<usize>,
    /// The load, watts.
    pub watts: Watts,
    /// The conductors with their currents: the common first, then the channels.
    pub conductors: Vec<ConductorCurrent>,
    /// The cable to the panel, by id.
    pub cable: String,
    /// The cable from driver to controller, by id; none where the controller stands beside the driver or there is none.
    pub controller_cable: Option<String>,
    /// From driver to controller, one way, metres; 0 beside it.
    pub controller_m: Metres,
    /// To the panel, one way, metres.
    pub feed_m: Metres,
    /// Cable left loose behind the panel, metres.
    pub slack_m: Metres,
    /// The same cable on within the panel to the far ends of tapes that are fed at both, metres.
    pub far_m: Metres,
    /// The drop from driver to the darkest place of its tapes, volts: controller's cable, feed, slack, joints and tape.
    pub drop_v: Volts,
    /// The part of it along the tape, volts.
    pub tape_drop_v: Volts,
    /// The drop along each of its tapes, volts, in the order of `tapes`; none where the tape's resistance is not stated.
    pub tapes_v: Vec<Option<Volts>>,
    /// The whole drop in percent of the nominal voltage.
    pub drop_pct: f64,
    /// How far it may be to the panel in this cable, one way, metres, with all else as it is.
    pub longest_m: Metres,
    /// What protects the cable to the panel.
    pub protection: Protection,
    /// What protects the cable to the controller; none where there is none.
    pub controller_protection: Option<Protection>,
    /// What stands against it, where it was settled before that was asked for.
    pub against: Vec<String>,
}

/// One driver output with all that hangs on it.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedCircuit {
    /// The driver's number in the job, from 1.
    pub driver: usize,
    /// Its output, from 1.
    pub output: usize,
    /// The load, watts.
    pub watts: Watts,
    /// The load's current, amperes.
    pub amps: Amperes,
    /// The load as a share of the output's rating.
    pub share: f64,
    /// The controller on it, by id; none for static white.
    pub controller: Option<String>,
    /// The leads from it.
    pub leads: Vec<Lead>,
}

/// Panels that share drivers of one model and a control system.
#[derive(Clone, Debug, PartialEq)]
pub struct CircuitGroup {
    /// The driver model, by id.
    pub driver: String,
    /// How many of it.
    pub drivers: usize,
    /// What may be said about its outputs and Class 2.
    pub class2: Class2Standing,
    /// True where no grouping on this model takes fewer drivers, or as few with panels on fewer outputs.
    pub proven_least: bool,
    /// The dimmer before or after the drivers, by id; none where the light is only switched or has a controller.
    pub dimmer: Option<String>,
    /// How many dimmers: one for all drivers on the mains or control side, one for each output after them; 0 without.
    pub dimmers: usize,
    /// Drivers that the dimmer has not been tried with.
    pub untried: Vec<String>,
    /// The outputs in use.
    pub circuits: Vec<PlannedCircuit>,
    /// Every other driver model with every reason against it, in the shop's order; empty where the driver was settled.
    pub passed_over: Vec<(String, Vec<PassedOver>)>,
}

/// One line of what to buy.
#[derive(Clone, Debug, PartialEq)]
pub struct BillLine {
    /// `tape`, `driver`, `controller`, `dimmer`, `cable` or `fuse`.
    pub what: &'static str,
    /// Its id in the shop's records.
    pub id: String,
    /// How much: pieces, or metres of tape and cable, without waste and slack.
    pub quantity: f64,
    /// `pieces` or `m`.
    pub unit: &'static str,
}

/// All panels on their drivers.
#[derive(Clone, Debug, PartialEq)]
pub struct CircuitPlan {
    /// The groups, in the order of their first panel.
    pub groups: Vec<CircuitGroup>,
    /// What to buy, by kind and id.
    pub bill: Vec<BillLine>,
}

/// What is wrong with a group of panels.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// A settled driver, control or cable is not in the shop's records.
    Unknown {
        /// `driver`, `control` or `cable`.
        what: &'static str,
        /// The id.
        id: String,
    },
    /// No driver suits.
    Driver(DriverFault),
    /// The settled driver does not suit.
    SettledDriver {
        /// Its id.
        id: String,
        /// Every reason against it.
        reasons: Vec<PassedOver>,
    },
    /// No controller or dimmer suits.
    Control(ControlFault),
    /// The settled controller or dimmer does not suit.
    SettledControl {
        /// Its id.
        id: String,
        /// Every reason against it.
        reasons: Vec<String>,
    },
    /// No cable suits.
    Cable(CableFault),
    /// The settled cable does not suit.
    SettledCable {
        /// Its id.
        id: String,
        /// Every reason against it.
        reasons: Vec<CableAgainst>,
    },
}

/// Why panels cannot be fed.
#[derive(Clone, Debug, PartialEq)]
pub struct CircuitFault {
    /// The panels.
    pub panels: Vec<String>,
    /// What is wrong.
    pub trouble: Trouble,
}

impl CircuitFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match &self.trouble {
            Trouble::Unknown { .. } => "circuit-unknown-item",
            Trouble::Driver(fault) => fault.code(),
            Trouble::Control(fault) => fault.code(),
            Trouble::SettledDriver { .. } => "driver-does-not-suit",
            Trouble::SettledControl { .. } => "control-does-not-suit",
            Trouble::Cable(fault) => fault.code(),
            Trouble::SettledCable { .. } => "cable-does-not-suit",
        }
    }

    /// What to do about it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match &self.trouble {
            Trouble::Unknown { what, .. } => {
                format!("add it to the shop's records, or settle another {what}")
            }
            Trouble::Driver(fault) => fault.remedy(),
            Trouble::Control(fault) => fault.remedy(),
            Trouble::SettledDriver { .. } => {
                "pick another (underlit plan … --anew), or change what is asked of it".into()
            }
            Trouble::SettledControl { .. } => "settle another control, or divide the circuit".into(),
            Trouble::Cable(fault) => fault.remedy(),
            Trouble::SettledCable { .. } => {
                "pick another (underlit plan … --anew), bring the driver nearer, or divide the circuit".into()
            }
        }
    }
}

impl fmt::Display for CircuitFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.panels.join(", "), self.trouble)
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let settled = |f: &mut fmt::Formatter<'_>, what: &str, id: &str, reasons: Vec<String>| {
            write!(f, "{what} `{id}`: {}", reasons.join("; "))
        };
        match self {
            Trouble::Unknown { what, id } => write!(f, "the shop has no {what} `{id}`"),
            Trouble::Driver(fault) => fault.fmt(f),
            Trouble::SettledDriver { id, reasons } => {
                settled(f, "driver", id, reasons.iter().map(ToString::to_string).collect())
            }
            Trouble::Control(fault) => fault.fmt(f),
            Trouble::SettledControl { id, reasons } => settled(f, "control", id, reasons.clone()),
            Trouble::Cable(fault) => fault.fmt(f),
            Trouble::SettledCable { id, reasons } => {
                settled(f, "cable", id, reasons.iter().map(ToString::to_string).collect())
            }
        }
    }
}

impl std::error::Error for CircuitFault {}

/// Puts all panels of a job on drivers.
///
/// # Errors
/// Everything that stands in the way, group by group.
pub fn plan(shop: Shop<'_>, panels: &[PanelFeed<'_>]) -> Result<CircuitPlan, Vec<CircuitFault>> {
    let mut groups: Vec<Vec<&PanelFeed<'_>>> = Vec::new();
    for panel in panels {
        match groups.iter_mut().find(|group| share_drivers(group[0], panel)) {
            Some(group) => group.push(panel),
            None => groups.push(vec![panel]),
        }
    }
    let mut planned = Vec::new();
    let mut faults = Vec::new();
    let mut first_driver = 1;
    for group in groups {
        match plan_lots(shop, &group, first_driver) {
            Ok(done) => {
                first_driver += done.iter().map(|lot| lot.drivers).sum::<usize>();
                planned.extend(done);
            }
            Err(trouble) => faults.push(CircuitFault {
                panels: group.iter().map(|panel| panel.panel.clone()).collect(),
                trouble,
            }),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let bill = bill(panels, &planned);
    Ok(CircuitPlan { groups: planned, bill })
}

/// Puts panels that could share drivers on them: on several models where that is better or the only way, else on one.
fn plan_lots(
    shop: Shop<'_>,
    panels: &[&PanelFeed<'_>],
    first_driver: usize,
) -> Result<Vec<CircuitGroup>, Trouble> {
    let lots = lots(shop, panels);
    if lots.len() > 1 {
        let mut next = first_driver;
        let mut planned = Vec::new();
        for lot in &lots {
            match plan_group(shop, lot, next) {
                Ok(group) => {
                    next += group.drivers;
                    planned.push(group);
                }
                Err(_) => break,
            }
        }
        if planned.len() == lots.len() {
            return Ok(planned);
        }
    }
    plan_group(shop, panels, first_driver).map(|group| vec![group])
}

/// True where two panels may hang on the same output: nothing that they ask of it differs.
fn share_drivers(a: &PanelFeed<'_>, b: &PanelFeed<'_>) -> bool {
    a.asked == b.asked
        && a.driver == b.driver
        && a.control == b.control
        && a.zone == b.zone
        && a.control_place == b.control_place
        && a.controller_m == b.controller_m
        && a.light.common_rail == b.light.common_rail
        && a.light.channels.len() == b.light.channels.len()
}

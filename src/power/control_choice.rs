//! The control system: a controller for colour-changing light, a dimmer for static white, and whether the
//! dimmer and the drivers suit one another.
//!
//! Colour-changing light takes a controller with enough channels and amperes after a plain constant-voltage
//! driver, so that driver and controller do not both dim: common practice, no source.

use std::collections::BTreeSet;
use std::fmt;

use super::controls::{ControlInput, Controller, Controls, Dimmer};
use super::drivers::Driver;
use super::vocabulary::{CommonRail, Dimming, Place};
use crate::units::{Amperes, Volts, Watts};
use crate::words::LightKind;

/// Currents and loads closer than this share are the same.
const SAME_SHARE: f64 = 1e-9;

/// What is asked of a controller: one circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct ControllerRequirement {
    /// What the light can do.
    pub kind: LightKind,
    /// The circuit's voltage, volts.
    pub voltage_v: Volts,
    /// The rail that the tape's channels share.
    pub common_rail: CommonRail,
    /// Current of each channel at full, amperes.
    pub channel_a: Vec<Amperes>,
    /// How wet its place is.
    pub place: Place,
    /// How people shall reach it; none where any way does.
    pub input: Option<ControlInput>,
}

/// Why a controller was passed over.
#[derive(Clone, Debug, PartialEq)]
pub enum ControllerAgainst {
    /// It does not run this kind of light.
    Kind(LightKind),
    /// It has too few channels.
    Channels {
        /// How many it has.
        has: u32,
        /// How many are needed.
        needed: usize,
    },
    /// It does not take the voltage.
    Voltage(Volts),
    /// Its outputs share the other rail.
    CommonRail(CommonRail),
    /// One channel would carry too much.
    ChannelCurrent {
        /// What it would carry, amperes.
        would_a: Amperes,
        /// What it may, amperes.
        may_a: Amperes,
    },
    /// All channels together would carry too much.
    TotalCurrent {
        /// What they would carry, amperes.
        would_a: Amperes,
        /// What they may, amperes.
        may_a: Amperes,
    },
    /// It is rated for a drier place.
    Place(Place),
    /// It cannot be reached so.
    Input(ControlInput),
}

impl fmt::Display for ControllerAgainst {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Kind(kind) => write!(f, "it does not run {kind}"),
            Self::Channels { has, needed } => write!(f, "it has {has} channels, the light needs {needed}"),
            Self::Voltage(volts) => write!(f, "it does not take {volts}"),
            Self::CommonRail(rail) => write!(f, "its channels do not share the {rail} rail, the tape's do"),
            Self::ChannelCurrent { would_a, may_a } => {
                write!(f, "one channel would carry {would_a}, it may carry {may_a}")
            }
            Self::TotalCurrent { would_a, may_a } => {
                write!(f, "all channels would carry {would_a}, together they may carry {may_a}")
            }
            Self::Place(place) => write!(f, "it is rated for a {place} place only"),
            Self::Input(input) => write!(f, "it cannot be reached by {input}"),
        }
    }
}

/// Why no controller or dimmer was chosen.
#[derive(Clone, Debug, PartialEq)]
pub enum ControlFault {
    /// Light of one channel needs no controller.
    NoControllerNeeded,
    /// No controller suits: each with every reason, in the shop's order.
    NoController {
        /// Id and reasons.
        passed_over: Vec<(String, Vec<String>)>,
    },
    /// Dimming `none` takes no dimmer.
    NoDimmerNeeded,
    /// No dimmer suits: each with every reason, in the shop's order.
    NoDimmer {
        /// The way of dimming asked for.
        method: Dimming,
        /// Id and reasons.
        passed_over: Vec<(String, Vec<String>)>,
    },
}

impl ControlFault {
    /// A stable name for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        match self {
            Self::NoControllerNeeded => "control-not-needed",
            Self::NoController { .. } => "control-none-fits",
            Self::NoDimmerNeeded => "dimmer-not-needed",
            Self::NoDimmer { .. } => "dimmer-none-fits",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        let (list, passed_over) = match self {
            Self::NoControllerNeeded => return "choose a dimmer, or switch only".into(),
            Self::NoDimmerNeeded => return "leave the dimmer out".into(),
            Self::NoController { passed_over } => ("controllers", passed_over),
            Self::NoDimmer { passed_over, .. } => ("dimmers", passed_over),
        };
        let nearest = passed_over.iter().min_by_key(|(_, reasons)| reasons.len());
        let nearest = nearest
            .map(|(id, reasons)| format!("; nearest is `{id}`: {}", reasons.join("; ")))
            .unwrap_or_default();
        format!("add to `{list}` in shop/controls.json, or divide the circuit{nearest}")
    }
}

impl fmt::Display for ControlFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoControllerNeeded => f.write_str("light of one channel takes no controller"),
            Self::NoController { .. } => f.write_str("no controller of the shop's list suits the circuit"),
            Self::NoDimmerNeeded => f.write_str("light that is only switched takes no dimmer"),
            Self::NoDimmer { method, .. } => {
                write!(f, "no {method} dimmer of the shop's list suits the drivers")
            }
        }
    }
}

impl std::error::Error for ControlFault {}

/// The reasons against one controller; none where it suits.
#[must_use]
pub(crate) fn against_controller(
    controller: &Controller,
    asked: &ControllerRequirement,
) -> Vec<ControllerAgainst> {
    let mut against = Vec::new();
    if !controller.kinds.contains(&asked.kind) {
        against.push(ControllerAgainst::Kind(asked.kind));
    }
    if (controller.channels as usize) < asked.kind.channels() {
        against.push(ControllerAgainst::Channels { has: controller.channels, needed: asked.kind.channels() });
    }
    if !controller.voltages_v.iter().any(|volts| (volts.get() - asked.voltage_v.get()).abs() < 1e-6) {
        against.push(ControllerAgainst::Voltage(asked.voltage_v));
    }
    if controller.common_rail != asked.common_rail {
        against.push(ControllerAgainst::CommonRail(asked.common_rail));
    }
    let worst = asked.channel_a.iter().map(|a| a.get()).fold(0.0, f64::max);
    if worst > controller.channel_a.get() * (1.0 + SAME_SHARE) {
        against
            .push(ControllerAgainst::ChannelCurrent { would_a: Amperes(worst), may_a: controller.channel_a });
    }
    let total: f64 = asked.channel_a.iter().map(|a| a.get()).sum();
    if total > controller.total_a.get() * (1.0 + SAME_SHARE) {
        against.push(ControllerAgainst::TotalCurrent { would_a: Amperes(total), may_a: controller.total_a });
    }
    if controller.place < asked.place {
        against.push(ControllerAgainst::Place(controller.place));
    }
    if let Some(input) = asked.input
        && !controller.inputs.contains(&input)
    {
        against.push(ControllerAgainst::Input(input));
    }
    against
}

/// A controller for a circuit, with what stood against those before it in the shop's order.
#[derive(Clone, Debug, PartialEq)]
pub struct ControllerChoice<'a> {
    /// The first of the shop's list that suits.
    pub controller: &'a Controller,
    /// Those before it, with every reason.
    pub passed_over: Vec<(&'a Controller, Vec<ControllerAgainst>)>,
}

/// Chooses the first controller of the shop's list that suits one circuit.
///
/// # Errors
/// Light of one channel, or no controller that suits, with every reason.
pub fn choose_controller<'a>(
    controls: &'a Controls,
    asked: &ControllerRequirement,
) -> Result<ControllerChoice<'a>, ControlFault> {
    if !asked.kind.takes_controller() {
        return Err(ControlFault::NoControllerNeeded);
    }
    let mut passed_over = Vec::new();
    for controller in &controls.controllers {
        let against = against_controller(controller, asked);
        if against.is_empty() {
            return Ok(ControllerChoice { controller, passed_over });
        }
        passed_over.push((controller, against));
    }
    let passed_over = passed_over
        .into_iter()
        .map(|(c, reasons)| (c.id.clone(), reasons.iter().map(ToString::to_string).collect()))
        .collect();
    Err(ControlFault::NoController { passed_over })
}

/// A driver behind a dimmer and the load it carries.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DimmedDriver<'a> {
    /// The driver.
    pub driver: &'a Driver,
    /// Its load, watts.
    pub load: Watts,
}

/// Why a dimmer was passed over.
#[derive(Clone, Debug, PartialEq)]
pub enum DimmerAgainst {
    /// It dims another way.
    Method(Dimming),
    /// A driver cannot be dimmed that way.
    Driver {
        /// The driver's id.
        driver: String,
        /// The way it would have to be dimmed.
        method: Dimming,
    },
    /// The load is below its least.
    BelowLeast {
        /// The load, watts.
        load: Watts,
        /// Its least load, watts.
        least: Watts,
    },
    /// The load is above its largest.
    AboveLargest {
        /// The load, watts: the drivers' ratings on the mains side, the light's own after a driver.
        load: Watts,
        /// Its largest load, watts.
        largest: Watts,
    },
    /// It is rated for a drier place.
    Place(Place),
}

impl fmt::Display for DimmerAgainst {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Method(method) => write!(f, "it dims by {method}"),
            Self::Driver { driver, method } => write!(f, "driver `{driver}` cannot be dimmed by {method}"),
            Self::BelowLeast { load, least } => write!(f, "{load} is below its least load of {least}"),
            Self::AboveLargest { load, largest } => {
                write!(f, "{load} is above its largest load of {largest}")
            }
            Self::Place(place) => write!(f, "it is rated for a {place} place only"),
        }
    }
}

/// A dimmer for a group of drivers.
#[derive(Clone, Debug, PartialEq)]
pub struct DimmerChoice<'a> {
    /// The dimmer.
    pub dimmer: &'a Dimmer,
    /// Drivers that it has not been tried with, by its record: to be tried before the job relies on it.
    pub untried: Vec<String>,
    /// The others that do not suit, with every reason.
    pub passed_over: Vec<(&'a Dimmer, Vec<DimmerAgainst>)>,
}

/// The reasons against one dimmer; none where it suits.
#[must_use]
pub fn against_dimmer(
    dimmer: &Dimmer,
    method: Dimming,
    behind: &[DimmedDriver<'_>],
    place: Place,
) -> Vec<DimmerAgainst> {
    let mut against = Vec::new();
    if dimmer.method != method {
        against.push(DimmerAgainst::Method(dimmer.method));
    }
    for DimmedDriver { driver, .. } in behind {
        let reason = DimmerAgainst::Driver { driver: driver.id.clone(), method: dimmer.method };
        if !driver.dimming.contains(&dimmer.method) && !against.contains(&reason) {
            against.push(reason);
        }
    }
    let load: f64 = behind.iter().map(|one| one.load.get()).sum();
    if load < dimmer.least_load_w.get() * (1.0 - SAME_SHARE) {
        against.push(DimmerAgainst::BelowLeast { load: Watts(load), least: dimmer.least_load_w });
    }
    // A mains-side dimmer sees the drivers, losses included: their ratings bound what they take.
    let most: f64 = if dimmer.method.is_low_voltage_side() {
        load
    } else {
        behind.iter().map(|one| one.driver.rating_w.get()).sum()
    };
    if most > dimmer.largest_load_w.get() * (1.0 + SAME_SHARE) {
        against.push(DimmerAgainst::AboveLargest { load: Watts(most), largest: dimmer.largest_load_w });
    }
    if dimmer.place < place {
        against.push(DimmerAgainst::Place(dimmer.place));
    }
    against
}

/// The reasons against one dimmer for every group behind a dimmer of its own; none where it suits all.
#[must_use]
pub(crate) fn against_dimmer_of_each(
    dimmer: &Dimmer,
    method: Dimming,
    groups: &[Vec<DimmedDriver<'_>>],
    place: Place,
) -> Vec<DimmerAgainst> {
    let mut against: Vec<DimmerAgainst> = Vec::new();
    for reason in groups.iter().flat_map(|behind| against_dimmer(dimmer, method, behind, place)) {
        if !against.contains(&reason) {
            against.push(reason);
        }
    }
    against
}

/// The drivers behind a dimmer that its record does not say it was tried with, by id.
#[must_use]
pub(crate) fn untried(dimmer: &Dimmer, groups: &[Vec<DimmedDriver<'_>>]) -> Vec<String> {
    let ids: BTreeSet<&String> = groups.iter().flatten().map(|one| &one.driver.id).collect();
    ids.into_iter().filter(|id| !dimmer.tried_with.contains(id)).cloned().collect()
}

/// Chooses one model of dimmer for groups of drivers, each behind a dimmer of its own: one tried with all of
/// the drivers before one that is not, then the shop's order.
///
/// # Errors
/// Dimming `none`, or no dimmer that suits, with every reason.
pub fn choose_dimmer<'a>(
    controls: &'a Controls,
    method: Dimming,
    groups: &[Vec<DimmedDriver<'_>>],
    place: Place,
) -> Result<DimmerChoice<'a>, ControlFault> {
    if method == Dimming::Off {
        return Err(ControlFault::NoDimmerNeeded);
    }
    let judged: Vec<(&Dimmer, Vec<DimmerAgainst>)> = controls
        .dimmers
        .iter()
        .map(|dimmer| (dimmer, against_dimmer_of_each(dimmer, method, groups, place)))
        .collect();
    let best = judged
        .iter()
        .filter(|(_, against)| against.is_empty())
        .map(|(dimmer, _)| (*dimmer, untried(dimmer, groups)))
        .min_by_key(|(_, untried)| untried.len());
    match best {
        Some((dimmer, untried)) => {
            let passed_over = judged.into_iter().filter(|(_, against)| !against.is_empty()).collect();
            Ok(DimmerChoice { dimmer, untried, passed_over })
        }
        None => Err(ControlFault::NoDimmer {
            method,
            passed_over: judged
                .into_iter()
                .map(|(d, reasons)| (d.id.clone(), reasons.iter().map(ToString::to_string).collect()))
                .collect(),
        }),
    }
}

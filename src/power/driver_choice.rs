//! Which driver feeds the panels, how many of it, what hangs on each output, and why each other driver was passed over.
//!
//! One call chooses for panels that can share drivers: same voltage, same way of dimming, same place. All
//! drivers of one choice are of one model. [`ranked`] gives every way to group them, best first, for whoever has to
//! look whether cable serves it too.

use std::fmt;

use super::class2::Class2Standing;
use super::drivers::{Driver, Drivers};
use super::grouping::{Capacity, Grouping, GroupingFault, PanelLoad, group};
use super::passed_over::PassedOver;
use super::vocabulary::{CodeRegion, Dimming, Location, Place};
use crate::units::{Amperes, Millimetres, Volts, Watts};
use crate::words::LightKind;

/// What the job asks of its drivers.
#[derive(Clone, Debug, PartialEq)]
pub struct Requirement {
    /// The tape's nominal voltage, volts direct current.
    pub voltage_v: Volts,
    /// What the panels' light can do.
    pub kind: LightKind,
    /// How the panels are dimmed. Colour-changing light dims at its control system: `low-voltage-pwm`.
    pub dimming: Dimming,
    /// How wet the driver's place is.
    pub place: Place,
    /// Where the driver goes.
    pub location: Location,
    /// The mains voltage on site, volts alternating current; none where it is not known yet.
    pub mains_v: Option<Volts>,
    /// True where the low-voltage side must be wired as Class 2.
    pub class2: bool,
    /// The code that is named for the site: in its words it is said why something does not suit.
    pub region: Option<CodeRegion>,
    /// Free space for one driver, millimetres, in any order; none where there is enough.
    pub space_mm: Option<[Millimetres; 3]>,
}

/// One output in use.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// The driver, from 1.
    pub driver: usize,
    /// Its output, from 1.
    pub output: usize,
    /// The tapes on it: index of the panel in the loads, index of the tape in its panel.
    pub tapes: Vec<(usize, usize)>,
    /// The load, watts.
    pub watts: Watts,
    /// The load's current, amperes.
    pub amps: Amperes,
}

/// The driver for the panels.
#[derive(Clone, Debug, PartialEq)]
pub struct DriverChoice<'a> {
    /// The model.
    pub driver: &'a Driver,
    /// How many of it.
    pub count: usize,
    /// What hangs on each output in use, by driver and output.
    pub circuits: Vec<Circuit>,
    /// What may be said about its outputs and Class 2.
    pub class2: Class2Standing,
    /// Usable watts of one output: the shop's largest load share of its rating.
    pub usable_w: Watts,
    /// True where no grouping on this model takes fewer drivers, or as few with panels on fewer outputs.
    pub proven_least: bool,
    /// Every other driver, in the shop's order, with every reason against it.
    pub passed_over: Vec<(&'a Driver, Vec<PassedOver>)>,
}

/// Why no driver was chosen.
#[derive(Clone, Debug, PartialEq)]
pub enum DriverFault {
    /// Colour-changing light is to be dimmed elsewhere than at its control system.
    ColourDimmedAtDriver {
        /// The kind.
        kind: LightKind,
        /// The way asked for.
        asked: Dimming,
    },
    /// The loads make no sense.
    Load(GroupingFault),
    /// No driver on the list suits.
    NoneFits {
        /// Every driver's id with every reason against it, in the shop's order.
        passed_over: Vec<(String, Vec<PassedOver>)>,
    },
}

impl DriverFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::ColourDimmedAtDriver { .. } => "driver-colour-dimmed-at-driver",
            Self::Load(fault) => fault.code(),
            Self::NoneFits { .. } => "driver-none-fits",
        }
    }

    /// What to do about it. For a list where none fits: what the nearest driver lacks.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::ColourDimmedAtDriver { .. } => {
                format!("set the dimming to `{}` and name a control system", Dimming::LowVoltage)
            }
            Self::Load(fault) => fault.remedy().into(),
            Self::NoneFits { passed_over } => {
                let far = |reasons: &[PassedOver]| reasons.iter().map(PassedOver::distance).sum::<u32>();
                match passed_over.iter().min_by_key(|(_, reasons)| far(reasons)) {
                    None => "add drivers to shop/drivers.json".into(),
                    Some((id, reasons)) => {
                        let reasons: Vec<String> = reasons.iter().map(ToString::to_string).collect();
                        format!(
                            "add a driver to shop/drivers.json, or change what is asked; nearest is `{id}`: {}",
                            reasons.join("; ")
                        )
                    }
                }
            }
        }
    }
}

impl fmt::Display for DriverFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ColourDimmedAtDriver { kind, asked } => {
                write!(f, "{kind} dims at its control system, not by {asked}: the two would fight")
            }
            Self::Load(fault) => fault.fmt(f),
            Self::NoneFits { .. } => f.write_str("no driver of the shop's list suits"),
        }
    }
}

impl std::error::Error for DriverFault {}

/// The share of a rating that may be used, watts.
#[must_use]
pub(crate) fn usable(rating: Watts, largest_load_share: f64) -> Watts {
    Watts(rating.get() * largest_load_share)
}

/// Judges one driver: its grouping if it suits, or every reason against it.
///
/// # Errors
/// Every reason against it, never one of those that only compare; none where the loads themselves make no sense.
pub(crate) fn judge(
    driver: &Driver,
    largest_load_share: f64,
    asked: &Requirement,
    loads: &[PanelLoad],
) -> Result<Grouping, Vec<PassedOver>> {
    judge_within(driver, largest_load_share, asked, loads, None)
}

/// The same with no more than so much on an output, so that the leads from it are lighter.
fn judge_within(
    driver: &Driver,
    largest_load_share: f64,
    asked: &Requirement,
    loads: &[PanelLoad],
    most: Option<Watts>,
) -> Result<Grouping, Vec<PassedOver>> {
    let mut against = unsuited(driver, asked);
    let output_w = usable(driver.output_rating_w, largest_load_share);
    let capacity = Capacity {
        outputs: driver.outputs,
        output_w: most.map_or(output_w, |most| Watts(most.get().min(output_w.get()))),
        driver_w: usable(driver.rating_w, largest_load_share),
    };
    match group(loads, capacity) {
        Ok(grouping) => {
            let lightest = (0..grouping.drivers)
                .map(|number| {
                    let on_it = grouping.placements.iter().filter(|p| p.driver == number);
                    on_it.map(|p| loads[p.panel].tapes[p.tape].get()).sum::<f64>()
                })
                .fold(f64::INFINITY, f64::min);
            if lightest < driver.least_load_w.get() * (1.0 - 1e-9) {
                against
                    .push(PassedOver::BelowLeastLoad { load: Watts(lightest), least: driver.least_load_w });
            }
            if against.is_empty() { Ok(grouping) } else { Err(against) }
        }
        Err(GroupingFault::TapeAboveOutput { panel, watts, usable }) => {
            against.push(PassedOver::TapeAboveOutput { panel, watts, usable });
            Err(against)
        }
        Err(GroupingFault::NoLoad | GroupingFault::NotPositive { .. }) => Err(against),
    }
}

/// What stands against a driver whatever its load.
fn unsuited(driver: &Driver, asked: &Requirement) -> Vec<PassedOver> {
    let mut against = Vec::new();
    if (driver.output_v.get() - asked.voltage_v.get()).abs() > 1e-6 {
        against.push(PassedOver::Voltage { driver: driver.output_v, tape: asked.voltage_v });
    }
    if !driver.dimming.contains(&asked.dimming) {
        against.push(PassedOver::Dimming { asked: asked.dimming });
    }
    if driver.place < asked.place {
        against.push(PassedOver::Place { rated: driver.place, asked: asked.place });
    }
    if !driver.locations.contains(&asked.location) {
        against.push(PassedOver::Location { asked: asked.location });
    }
    if let Some(site) = asked.mains_v
        && (site < driver.mains_least_v || site > driver.mains_most_v)
    {
        against.push(PassedOver::Mains { site, takes: [driver.mains_least_v, driver.mains_most_v] });
    }
    let standing = Class2Standing::of_driver(driver);
    if asked.class2 && !standing.may_be_wired_as_class2() {
        let (highest, region) = (driver.highest_output_v, asked.region);
        against.push(PassedOver::Class2 { standing, highest, region });
    }
    if asked.space_mm.is_some_and(|space| !goes_into(driver, space)) {
        against.push(PassedOver::Space);
    }
    against
}

/// True where the case goes into the space, turned as need be.
fn goes_into(driver: &Driver, space: [Millimetres; 3]) -> bool {
    let sorted = |sides: [Millimetres; 3]| {
        let mut sides = sides.map(Millimetres::get);
        sides.sort_by(f64::total_cmp);
        sides
    };
    let case = sorted([driver.length_mm, driver.width_mm, driver.height_mm]);
    case.iter().zip(sorted(space)).all(|(side, free)| *side <= free)
}

/// One way to feed the panels.
#[derive(Clone, Debug)]
pub(crate) struct Attempt<'a> {
    /// Its place in the shop's list.
    index: usize,
    /// The model.
    pub driver: &'a Driver,
    grouping: Grouping,
    /// True where its outputs are filled as far as they may be.
    pub filled: bool,
}

impl Attempt<'_> {
    /// Listed outputs first, then the fewest drivers, then panels on the fewest outputs, then the smallest rating in
    /// all, then the shop's order.
    fn compare(&self, other: &Self) -> std::cmp::Ordering {
        let listed = |one: &Self| !Class2Standing::of_driver(one.driver).may_be_wired_as_class2();
        (listed(self), self.grouping.drivers, self.grouping.extra_outputs)
            .cmp(&(listed(other), other.grouping.drivers, other.grouping.extra_outputs))
            .then(self.rating_w().total_cmp(&other.rating_w()))
            .then(other.filled.cmp(&self.filled))
            .then(self.index.cmp(&other.index))
    }

    fn rating_w(&self) -> f64 {
        self.driver.rating_w.get() * self.grouping.drivers as f64
    }

    /// What hangs on each output in use.
    #[must_use]
    pub(crate) fn circuits(&self, loads: &[PanelLoad], volts: Volts) -> Vec<Circuit> {
        circuits(&self.grouping, loads, volts)
    }

    fn better_than(&self, other: &Attempt<'_>, region: Option<CodeRegion>) -> PassedOver {
        let listed = |driver: &Driver| Class2Standing::of_driver(driver).may_be_wired_as_class2();
        let (own, grouping) = (&self.grouping, &other.grouping);
        if listed(self.driver) && !listed(other.driver) {
            PassedOver::NotListed { standing: Class2Standing::of_driver(other.driver), region }
        } else if grouping.drivers > own.drivers {
            PassedOver::MoreDrivers { takes: grouping.drivers, chosen: own.drivers }
        } else if grouping.extra_outputs > own.extra_outputs {
            PassedOver::MoreOutputs { extra: grouping.extra_outputs, chosen: own.extra_outputs }
        } else if other.rating_w() > self.rating_w() {
            PassedOver::MoreRating { rating: Watts(other.rating_w()), chosen: Watts(self.rating_w()) }
        } else {
            PassedOver::LaterInList
        }
    }

    /// Its place in the shop's list.
    #[must_use]
    pub(crate) fn index(&self) -> usize {
        self.index
    }
}

/// Every way to feed the panels by one model.
#[derive(Clone, Debug)]
pub(crate) struct Ranked<'a> {
    /// Those that can be, best first; at least one.
    pub attempts: Vec<Attempt<'a>>,
    /// The drivers of the list that cannot, by their place in it, with every reason.
    refused: Vec<(usize, Vec<PassedOver>)>,
}

impl Ranked<'_> {
    /// The choice that an attempt comes to, with what stands against every other driver: what speaks against it by
    /// itself, what is `said` of it by its place in the list, or how it compares.
    #[must_use]
    pub(crate) fn chosen<'a>(
        &self,
        best: &Attempt<'a>,
        drivers: &'a Drivers,
        asked: &Requirement,
        loads: &[PanelLoad],
        said: &[(usize, PassedOver)],
    ) -> DriverChoice<'a> {
        let why = |index: usize| {
            let refused =
                self.refused.iter().find(|(of, _)| *of == index).map(|(_, reasons)| reasons.clone());
            let said = || said.iter().find(|(of, _)| *of == index).map(|(_, why)| vec![why.clone()]);
            let compared = || {
                let other = self.attempts.iter().find(|one| one.index == index && one.filled)?;
                Some(vec![best.better_than(other, asked.region)])
            };
            refused.or_else(said).or_else(compared).unwrap_or_default()
        };
        let others = drivers.drivers.iter().enumerate().filter(|(index, _)| *index != best.index);
        DriverChoice {
            driver: best.driver,
            count: best.grouping.drivers,
            circuits: best.circuits(loads, asked.voltage_v),
            class2: Class2Standing::of_driver(best.driver),
            usable_w: usable(best.driver.output_rating_w, drivers.largest_load_share),
            proven_least: best.grouping.proven_least && best.filled,
            passed_over: others.map(|(index, other)| (other, why(index))).collect(),
        }
    }
}

/// Every driver of the list that can feed the panels, best first. With `lighter` also every one with less on each
/// output, down to one tape, which takes thinner cable.
///
/// # Errors
/// Loads that make no sense, colour-changing light dimmed elsewhere than at its control system, or no driver
/// that suits, with every reason.
pub(crate) fn ranked<'a>(
    drivers: &'a Drivers,
    asked: &Requirement,
    loads: &[PanelLoad],
    lighter: bool,
) -> Result<Ranked<'a>, DriverFault> {
    if asked.kind.takes_controller() && asked.dimming != Dimming::LowVoltage {
        return Err(DriverFault::ColourDimmedAtDriver { kind: asked.kind, asked: asked.dimming });
    }
    if loads.iter().all(|load| load.tapes.is_empty()) {
        return Err(DriverFault::Load(GroupingFault::NoLoad));
    }
    for load in loads {
        if load.tapes.iter().any(|watts| !(watts.get().is_finite() && watts.get() > 0.0)) {
            return Err(DriverFault::Load(GroupingFault::NotPositive { panel: load.panel.clone() }));
        }
    }
    let share = drivers.largest_load_share;
    let largest_tape = loads.iter().flat_map(|l| &l.tapes).map(|w| w.get()).fold(0.0, f64::max);
    let mut attempts = Vec::new();
    let mut refused = Vec::new();
    for (index, driver) in drivers.drivers.iter().enumerate() {
        match judge(driver, share, asked, loads) {
            Ok(grouping) => attempts.push(Attempt { index, driver, grouping, filled: true }),
            Err(reasons) => refused.push((index, reasons)),
        }
        if !lighter || refused.last().is_some_and(|(of, _)| *of == index) {
            continue;
        }
        let usable_w = usable(driver.output_rating_w, share).get();
        let mut steps: Vec<f64> = LIGHTER
            .iter()
            .map(|part| (usable_w * part).max(largest_tape))
            .filter(|w| *w < usable_w)
            .collect();
        steps.dedup();
        for most in steps {
            if let Ok(grouping) = judge_within(driver, share, asked, loads, Some(Watts(most))) {
                attempts.push(Attempt { index, driver, grouping, filled: false });
            }
        }
    }
    if attempts.is_empty() {
        let named = |(index, reasons): (usize, _)| (drivers.drivers[index].id.clone(), reasons);
        return Err(DriverFault::NoneFits { passed_over: refused.into_iter().map(named).collect() });
    }
    attempts.sort_by(Attempt::compare);
    Ok(Ranked { attempts, refused })
}

/// The shares of what an output may carry that are tried where its cable does not serve; the least is one tape.
const LIGHTER: [f64; 5] = [0.75, 0.5, 1.0 / 3.0, 0.25, 0.0];

/// Chooses among the shop's drivers: listed outputs first, then the fewest drivers, then panels on the fewest outputs,
/// then the smallest rating in all, then the shop's order.
///
/// # Errors
/// As [`ranked`].
pub fn choose<'a>(
    drivers: &'a Drivers,
    asked: &Requirement,
    loads: &[PanelLoad],
) -> Result<DriverChoice<'a>, DriverFault> {
    let none = || DriverFault::NoneFits { passed_over: Vec::new() };
    let ranked = ranked(drivers, asked, loads, false)?;
    let best = ranked.attempts.first().ok_or_else(none)?;
    Ok(ranked.chosen(best, drivers, asked, loads, &[]))
}

fn circuits(grouping: &Grouping, loads: &[PanelLoad], volts: Volts) -> Vec<Circuit> {
    let mut circuits: Vec<Circuit> = Vec::new();
    let mut placements: Vec<_> = grouping.placements.iter().collect();
    placements.sort_by_key(|p| (p.driver, p.output, p.panel, p.tape));
    for placement in placements {
        let (driver, output) = (placement.driver + 1, placement.output + 1);
        let watts = loads[placement.panel].tapes[placement.tape].get();
        let amps = watts / volts.get();
        match circuits.last_mut() {
            Some(last) if (last.driver, last.output) == (driver, output) => {
                last.tapes.push((placement.panel, placement.tape));
                last.watts.0 += watts;
                last.amps.0 += amps;
            }
            _ => circuits.push(Circuit {
                driver,
                output,
                tapes: vec![(placement.panel, placement.tape)],
                watts: Watts(watts),
                amps: Amperes(amps),
            }),
        }
    }
    circuits
}

/// The fewest drivers that a total load could take if it could be divided at will: a lower bound, since tapes
/// cannot. A load within a millionth of a whole number of drivers counts as that number.
///
/// # Errors
/// A load, rating or share that is not above 0.
pub fn least_count(load: Watts, rating: Watts, largest_load_share: f64) -> Result<usize, GroupingFault> {
    let usable = usable(rating, largest_load_share).get();
    if !(usable.is_finite() && usable > 0.0 && load.get().is_finite() && load.get() > 0.0) {
        return Err(GroupingFault::NoLoad);
    }
    Ok(((load.get() / usable - 1e-6).ceil().max(1.0)) as usize)
}

//! The drop from driver to the darkest place of a tape, and the size of cable that keeps it within the limit.
//!
//! A run is one or more legs in series (driver to controller, controller to panel), then the tapes that it feeds,
//! with the conductor to the far end of a tape that is fed at both: one sum, held to one limit. In each leg the
//! channels return through one common conductor, which carries their sum. Resistances are the tables' largest, so
//! a drop here is the largest to expect. Sizing by drop says nothing of heat: a cable's own current limit is
//! judged in `cable_choice`, from the shop's record of it.

use std::fmt;

use super::conductor::Conductor;
use super::tape_drop::{Feed, largest, largest_with_far_feed};
use super::vocabulary::WireTable;
use crate::units::{Amperes, Metres, Volts};

/// Drops closer than this share are the same drop: it takes in rounding of sums, nothing more.
const SAME_SHARE: f64 = 1e-9;

/// One leg of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// Length one way, metres; above 0.
    pub length_m: Metres,
    /// Current of each channel conductor, amperes; the common carries their sum. One entry for plain two-conductor cable.
    pub channel_a: Vec<Amperes>,
    /// Joints and terminals in each conductor of the leg.
    pub joints: u32,
}

impl Leg {
    /// A plain two-conductor leg without joints.
    #[must_use]
    pub(crate) fn plain(length_m: Metres, amps: Amperes) -> Leg {
        Leg { length_m, channel_a: vec![amps], joints: 0 }
    }

    /// The current of the common conductor: the sum of the channels, amperes.
    #[must_use]
    pub(crate) fn common_a(&self) -> Amperes {
        Amperes(self.channel_a.iter().map(|a| a.get()).sum())
    }

    /// The current of the channel that carries most, amperes.
    #[must_use]
    pub(crate) fn worst_channel_a(&self) -> Amperes {
        Amperes(self.channel_a.iter().map(|a| a.get()).fold(0.0, f64::max))
    }

    /// How many conductors the leg needs.
    #[must_use]
    pub fn conductors(&self) -> usize {
        self.channel_a.len() + 1
    }

    /// The current that both ways together drop: 2·I in plain cable.
    fn loop_a(&self) -> f64 {
        self.common_a().get() + self.worst_channel_a().get()
    }
}

/// A tape at the end of a run, as far as its drop goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunTape {
    /// Current of all channels together at full, amperes.
    pub common_a: f64,
    /// Current of the channel that carries most, amperes.
    pub channel_a: f64,
    /// Resistance of the tape's common rail from end to end, ohms; 0 where it is not stated.
    pub common_ohm: f64,
    /// Resistance of one channel's rail from end to end, ohms; 0 where it is not stated.
    pub channel_ohm: f64,
    /// How it is fed.
    pub feed: Feed,
    /// Conductor from its near end to its far end, one way, metres; 0 where it is fed at one end.
    pub far_m: f64,
}

impl RunTape {
    /// The drop along it at its worst point, volts, with a conductor of so many ohms per metre to its far end: of the
    /// common and of the worst channel, each at its own worst point.
    fn drop_v(&self, ohm_per_m: f64) -> f64 {
        let far_ohms = self.far_m * ohm_per_m;
        let of = |amps: f64, ohms: f64| match self.feed {
            Feed::OneEnd => largest(Feed::OneEnd, amps, ohms).get(),
            Feed::BothEnds => largest_with_far_feed(amps, ohms, far_ohms).get(),
        };
        of(self.common_a, self.common_ohm) + of(self.channel_a, self.channel_ohm)
    }
}

/// A run of cable and what it may lose.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Nominal voltage, volts; above 0.
    pub nominal_v: Volts,
    /// The legs, from the driver on; at least one.
    pub legs: Vec<Leg>,
    /// The tapes that it feeds; none where only the cable is asked about.
    pub tapes: Vec<RunTape>,
    /// Temperature of the conductors, degrees Celsius.
    pub conductor_c: f64,
    /// Resistance of one joint or terminal in one conductor, milliohms; at least 0.
    pub joint_mohm: f64,
    /// The largest drop allowed, percent of the nominal voltage; above 0.
    pub largest_drop_pct: f64,
}

/// The drop of one leg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LegDrop {
    /// In the conductors, both ways, volts.
    pub conductors_v: Volts,
    /// In joints and terminals, both ways, volts.
    pub joints_v: Volts,
}

/// One size judged for a run.
#[derive(Clone, Debug, PartialEq)]
pub struct SizeRow {
    /// The size.
    pub conductor: Conductor,
    /// Drop at the darkest place, volts: of each leg's worst channel, joints included, and along the tape.
    pub drop_v: Volts,
    /// The part of it along the tape, volts.
    pub tape_v: Volts,
    /// The drop along each tape, volts.
    pub tapes_v: Vec<Volts>,
    /// The whole drop in percent of the nominal voltage.
    pub drop_pct: f64,
    /// True where the drop is not above the limit.
    pub within_limit: bool,
    /// The longest that the run may be in this size, one way, metres, its legs kept in proportion; 0 where joints and
    /// tape alone use up the limit.
    pub longest_m: Metres,
    /// The drop of each leg.
    pub legs: Vec<LegDrop>,
}

/// Every size of a table judged for a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizing {
    /// The sizes, from thin to thick.
    pub sizes: Vec<SizeRow>,
}

impl Sizing {
    /// The smallest size within the limit, if any is.
    #[must_use]
    pub fn smallest(&self) -> Option<&SizeRow> {
        self.sizes.iter().find(|row| row.within_limit)
    }
}

/// Why a run cannot be judged.
#[derive(Clone, Debug, PartialEq)]
pub enum WireFault {
    /// A number is not a number above 0 (or, for joints, at least 0).
    NotPositive {
        /// Which number.
        what: &'static str,
        /// What it is.
        value: f64,
    },
    /// The run has no leg, or a leg no channel.
    Empty,
    /// The conductor temperature is outside −40…150 °C, where the tables' coefficients no longer hold.
    Temperature {
        /// The temperature, degrees Celsius.
        conductor_c: f64,
    },
}

impl WireFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NotPositive { .. } => "wire-not-positive",
            Self::Empty => "wire-empty-run",
            Self::Temperature { .. } => "wire-temperature",
        }
    }

    /// What to do about it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            Self::NotPositive { what, .. } => format!("give {what} as a number above 0"),
            Self::Empty => "give the run at least one leg, and each leg at least one channel".into(),
            Self::Temperature { .. } => "give a conductor temperature from -40 to 150 degrees Celsius".into(),
        }
    }
}

impl fmt::Display for WireFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotPositive { what, value } => write!(f, "{what} is {value}"),
            Self::Empty => f.write_str("the run has no leg or a leg has no channel"),
            Self::Temperature { conductor_c } => {
                write!(f, "a conductor temperature of {conductor_c} °C is outside the tables")
            }
        }
    }
}

impl std::error::Error for WireFault {}

fn above_zero(what: &'static str, value: f64) -> Result<(), WireFault> {
    if value.is_finite() && value > 0.0 { Ok(()) } else { Err(WireFault::NotPositive { what, value }) }
}

impl Run {
    /// A plain two-conductor run in one leg, without joints, at the temperature for which the table is stated.
    #[must_use]
    pub fn plain(
        nominal_v: Volts,
        amps: Amperes,
        length_m: Metres,
        table: WireTable,
        largest_drop_pct: f64,
    ) -> Run {
        Run {
            nominal_v,
            legs: vec![Leg::plain(length_m, amps)],
            tapes: Vec::new(),
            conductor_c: super::conductor::table_temperature_c(table),
            joint_mohm: 0.0,
            largest_drop_pct,
        }
    }

    /// Length of all legs one way, metres.
    #[must_use]
    pub fn length_m(&self) -> Metres {
        Metres(self.legs.iter().map(|leg| leg.length_m.get()).sum())
    }

    /// # Errors
    /// The first number that makes no sense.
    fn check(&self) -> Result<(), WireFault> {
        above_zero("the voltage", self.nominal_v.get())?;
        above_zero("the largest drop", self.largest_drop_pct)?;
        if !(self.joint_mohm.is_finite() && self.joint_mohm >= 0.0) {
            return Err(WireFault::NotPositive { what: "the joint resistance", value: self.joint_mohm });
        }
        if !(-40.0..=150.0).contains(&self.conductor_c) {
            return Err(WireFault::Temperature { conductor_c: self.conductor_c });
        }
        if self.legs.is_empty() || self.legs.iter().any(|leg| leg.channel_a.is_empty()) {
            return Err(WireFault::Empty);
        }
        for leg in &self.legs {
            above_zero("the length", leg.length_m.get())?;
            for amps in &leg.channel_a {
                above_zero("the current", amps.get())?;
            }
        }
        Ok(())
    }

    /// Judges one size for the run, all legs in that size.
    ///
    /// # Errors
    /// A number that makes no sense.
    pub fn judge(&self, conductor: Conductor) -> Result<SizeRow, WireFault> {
        self.check()?;
        Ok(self.judged(conductor))
    }

    fn judged(&self, conductor: Conductor) -> SizeRow {
        let ohm_per_m = conductor.ohm_per_m_at(self.conductor_c);
        let legs: Vec<LegDrop> = self
            .legs
            .iter()
            .map(|leg| LegDrop {
                conductors_v: Volts(leg.loop_a() * ohm_per_m * leg.length_m.get()),
                joints_v: Volts(leg.loop_a() * f64::from(leg.joints) * self.joint_mohm / 1000.0),
            })
            .collect();
        let conductors_v: f64 = legs.iter().map(|leg| leg.conductors_v.get()).sum();
        let joints_v: f64 = legs.iter().map(|leg| leg.joints_v.get()).sum();
        let limit_v = self.nominal_v.get() * self.largest_drop_pct / 100.0;
        let tapes_v: Vec<Volts> = self.tapes.iter().map(|tape| Volts(tape.drop_v(ohm_per_m))).collect();
        let tape_v = tapes_v.iter().map(|v| v.get()).fold(0.0, f64::max);
        let drop_v = conductors_v + joints_v + tape_v;
        SizeRow {
            conductor,
            drop_v: Volts(drop_v),
            tape_v: Volts(tape_v),
            tapes_v,
            drop_pct: 100.0 * drop_v / self.nominal_v.get(),
            within_limit: drop_v <= limit_v * (1.0 + SAME_SHARE),
            longest_m: Metres(
                (self.length_m().get() * (limit_v - joints_v - tape_v) / conductors_v).max(0.0),
            ),
            legs,
        }
    }

    /// Judges every size of a table for the run.
    ///
    /// # Errors
    /// A number that makes no sense.
    pub fn size(&self, table: WireTable) -> Result<Sizing, WireFault> {
        self.check()?;
        Ok(Sizing { sizes: Conductor::all(table).map(|conductor| self.judged(conductor)).collect() })
    }
}

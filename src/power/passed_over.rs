//! Why a driver of the shop's list was passed over: each reason with its code and its words.

use std::fmt;

use super::class2::{self, Class2Standing, limit_in_words};
use super::vocabulary::{CodeRegion, Dimming, Location, Place};
use crate::units::{Volts, Watts, trimmed};

/// Why a driver was passed over.
#[derive(Clone, Debug, PartialEq)]
pub enum PassedOver {
    /// Its output has another voltage.
    Voltage {
        /// Its output, volts.
        driver: Volts,
        /// The tape's, volts.
        tape: Volts,
    },
    /// It cannot be dimmed so, or does not stand a dimmer or controller after it.
    Dimming {
        /// The way asked for.
        asked: Dimming,
    },
    /// Its rating is for a drier place.
    Place {
        /// Rated for.
        rated: Place,
        /// Asked for.
        asked: Place,
    },
    /// It may not be put there.
    Location {
        /// Asked for.
        asked: Location,
    },
    /// The site's mains voltage is outside its range.
    Mains {
        /// The site's, volts.
        site: Volts,
        /// What it takes, volts.
        takes: [Volts; 2],
    },
    /// The wiring must be Class 2 and it is not listed so.
    Class2 {
        /// What may be said about it.
        standing: Class2Standing,
        /// Its highest output voltage.
        highest: Volts,
        /// The code that is named for the site.
        region: Option<CodeRegion>,
    },
    /// It is larger than the space for it.
    Space,
    /// One tape alone is more than one of its outputs may carry.
    TapeAboveOutput {
        /// The panel.
        panel: String,
        /// The tape, watts.
        watts: Watts,
        /// Usable watts of one output.
        usable: Watts,
    },
    /// One of the drivers would be loaded below its least load.
    BelowLeastLoad {
        /// The load, watts.
        load: Watts,
        /// The least load, watts.
        least: Watts,
    },
    /// It would suit, but its outputs are not listed Class 2, and the chosen one's are.
    NotListed {
        /// What may be said about it.
        standing: Class2Standing,
        /// The code that is named for the site.
        region: Option<CodeRegion>,
    },
    /// It would suit, but not with any cable of the shop.
    Wiring {
        /// Why.
        why: String,
    },
    /// It would suit, but takes more drivers.
    MoreDrivers {
        /// How many it takes.
        takes: usize,
        /// How many the chosen one takes.
        chosen: usize,
    },
    /// It would suit, but spreads panels over more outputs.
    MoreOutputs {
        /// Outputs beyond one a panel.
        extra: usize,
        /// The same for the chosen one.
        chosen: usize,
    },
    /// It would suit, but is larger than needed.
    MoreRating {
        /// Rating of all its drivers, watts.
        rating: Watts,
        /// The same for the chosen one.
        chosen: Watts,
    },
    /// It would suit as well; the shop prefers the chosen one.
    LaterInList,
}

impl PassedOver {
    /// How far it is from being no reason: what another driver of the same make fixes is nearer than what another kind of
    /// driver, tape or control would.
    #[must_use]
    pub(crate) fn distance(&self) -> u32 {
        match self {
            Self::Voltage { .. } => 20,
            Self::Dimming { .. } => 10,
            Self::Mains { .. } => 6,
            Self::Place { .. } | Self::Class2 { .. } | Self::TapeAboveOutput { .. } => 3,
            _ => 2,
        }
    }

    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Voltage { .. } => "voltage",
            Self::Dimming { .. } => "dimming",
            Self::Place { .. } => "place",
            Self::Location { .. } => "location",
            Self::Mains { .. } => "mains",
            Self::Class2 { .. } => "class2",
            Self::Space => "space",
            Self::TapeAboveOutput { .. } => "tape-above-output",
            Self::BelowLeastLoad { .. } => "below-least-load",
            Self::NotListed { .. } => "not-listed",
            Self::Wiring { .. } => "wiring",
            Self::MoreDrivers { .. } => "more-drivers",
            Self::MoreOutputs { .. } => "more-outputs",
            Self::MoreRating { .. } => "more-rating",
            Self::LaterInList => "later-in-list",
        }
    }
}

impl fmt::Display for PassedOver {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Voltage { driver, tape } => write!(f, "its output is {driver}, the tape takes {tape}"),
            Self::Dimming { asked: Dimming::LowVoltage } => f.write_str(
                "it is not a plain constant-voltage driver that a controller or dimmer may follow",
            ),
            Self::Dimming { asked } => write!(f, "it cannot be dimmed by {asked}"),
            Self::Place { rated, asked } => write!(f, "it is rated for a {rated} place, this one is {asked}"),
            Self::Location { asked } => write!(f, "it may not be put in this location: {asked}"),
            Self::Mains { site, takes: [least, most] } => {
                write!(
                    f,
                    "it does not take the site's mains of {site}: it takes {} to {most}",
                    trimmed(least.get(), 0)
                )
            }
            Self::Class2 { standing, region, .. } if !CodeRegion::knows_class2(*region) => {
                write!(
                    f,
                    "what it feeds is to be {}: {}",
                    class2::wiring(*region),
                    standing.in_words(*region)
                )
            }
            Self::Class2 { standing: Class2Standing::Listed, .. } => f.write_str("it is listed Class 2"),
            Self::Class2 { standing: Class2Standing::Exceeds, highest, .. } => {
                write!(f, "it exceeds the Class 2 limit ({})", limit_in_words(*highest))
            }
            Self::Class2 { standing: Class2Standing::DoesNotExceed, .. } => f.write_str(
                "it does not exceed the Class 2 limit, but its record does not say that it is listed Class 2",
            ),
            Self::Class2 { standing, .. } => write!(f, "it is not usable as Class 2: {standing}"),
            Self::Space => f.write_str("it is larger than the space for it"),
            Self::TapeAboveOutput { panel, watts, usable } => {
                write!(f, "one tape of panel `{panel}` takes {watts}; its output may carry {usable}")
            }
            Self::BelowLeastLoad { load, least } => {
                write!(f, "one of them would carry {load}, below its least load of {least}")
            }
            Self::NotListed { standing, region } => {
                let (listed, standing) = (class2::listed(*region), standing.in_words(*region));
                write!(f, "its outputs are not {listed} ({standing}), the chosen one's are")
            }
            Self::Wiring { why } => write!(f, "no wiring of the shop serves it: {why}"),
            Self::MoreDrivers { takes, chosen } => {
                write!(f, "it takes {takes} drivers, the chosen one {chosen}")
            }
            Self::MoreOutputs { extra, chosen } => write!(
                f,
                "it spreads panels over {extra} more outputs than there are panels, the chosen one over {chosen}"
            ),
            Self::MoreRating { rating, chosen } => {
                write!(f, "it is larger than needed: {rating} in all, the chosen one {chosen}")
            }
            Self::LaterInList => f.write_str("it would do as well; the shop's list prefers the chosen one"),
        }
    }
}

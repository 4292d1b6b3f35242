//! What keeps a cable and its connectors from carrying more than they may: a listed output, a limited one, or a fuse.
//!
//! A driver's rating is what it gives for long, and no limit: into a fault it may give more. So behind an output that is
//! not listed Class 2, and whose largest current is not stated or is above what cable and connectors carry, a fuse
//! stands where the cable begins, no larger than they carry (overcurrent protection: NEC article 240, IEC 60364-4-43;
//! low-voltage lighting: NEC 411, IEC 60364-7-715; from memory, and the licensed person decides). The fuse stands in
//! the conductor that all channels share, through which all of their current goes.

use std::fmt;

use super::class2::{Class2Standing, listed};
use super::connector_choice::{ConnectorRequirement, against};
use super::drivers::Driver;
use super::vocabulary::{CodeRegion, Place};
use super::wire_stock::{Cable, LeadEnd, WireStock};
use crate::units::{Amperes, Volts, trimmed};

/// Currents closer than this share are the same.
const SAME_SHARE: f64 = 1e-9;

/// What a cable begins at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// True where the output is listed Class 2 and nothing in its figures contradicts that.
    pub listed_class2: bool,
    /// The largest current that it can give, amperes; none where nobody states one.
    pub limit_a: Option<Amperes>,
    /// The highest voltage that it gives, volts.
    pub highest_v: Volts,
}

impl Source {
    /// One output of a driver.
    #[must_use]
    pub(crate) fn of_driver(driver: &Driver) -> Source {
        Source {
            listed_class2: Class2Standing::of_driver(driver).may_be_wired_as_class2(),
            limit_a: driver.output_limit_a,
            highest_v: driver.highest_output_v,
        }
    }
}

/// Where a cable runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CableEnds {
    /// How wet it is where it begins.
    pub source_place: Place,
    /// What it ends at.
    pub end: LeadEnd,
    /// How wet it is there.
    pub end_place: Place,
}

/// What protects a cable.
#[derive(Clone, Debug, PartialEq)]
pub enum Protection {
    /// Nothing that is named.
    Nothing,
    /// Its output is listed Class 2.
    ListedOutput,
    /// Its output can give no more than cable and connectors carry.
    LimitedOutput {
        /// The limit, amperes.
        limit_a: Amperes,
    },
    /// The fuse of the cable before it.
    FuseBefore {
        /// The fuse's rating, amperes.
        fuse_a: Amperes,
    },
    /// A fuse where it begins.
    Fuse {
        /// The fuse, by its name in the shop's list.
        id: String,
        /// Its rating, amperes.
        fuse_a: Amperes,
    },
}

impl Protection {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::ListedOutput => "listed-output",
            Self::LimitedOutput { .. } => "limited-output",
            Self::FuseBefore { .. } => "fuse-before",
            Self::Fuse { .. } => "fuse",
        }
    }

    /// The fuse of its own, by its name.
    #[must_use]
    pub(crate) fn fuse(&self) -> Option<&str> {
        match self {
            Self::Fuse { id, .. } => Some(id),
            _ => None,
        }
    }

    /// The largest current that it lets through for long, amperes; none for a listed output and for nothing.
    #[must_use]
    pub(crate) fn amps(&self) -> Option<Amperes> {
        match self {
            Self::Nothing | Self::ListedOutput => None,
            Self::LimitedOutput { limit_a } => Some(*limit_a),
            Self::FuseBefore { fuse_a } | Self::Fuse { fuse_a, .. } => Some(*fuse_a),
        }
    }

    /// It in the words of the code that is named for the site.
    #[must_use]
    pub(crate) fn in_words(&self, region: Option<CodeRegion>) -> String {
        match self {
            Self::ListedOutput if !CodeRegion::knows_class2(region) => "output of limited power".into(),
            _ => self.to_string(),
        }
    }

    /// What a cable after it begins at.
    #[must_use]
    pub(crate) fn as_source(&self, source: Source) -> Source {
        Source { limit_a: self.amps().or(source.limit_a), ..source }
    }
}

impl fmt::Display for Protection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nothing => f.write_str("not protected"),
            Self::ListedOutput => f.write_str("output listed Class 2"),
            Self::LimitedOutput { limit_a } => write!(f, "output limited to {limit_a}"),
            Self::FuseBefore { fuse_a } => write!(f, "fuse of {fuse_a} before it"),
            Self::Fuse { id, fuse_a } => write!(f, "fuse {id}, {fuse_a}, at its source"),
        }
    }
}

/// Why a cable cannot be protected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ProtectionAgainst {
    /// The smallest fuse that the load leaves room for is larger than cable and connectors carry.
    LoadTooLarge {
        /// The smallest fuse for the load, amperes.
        least_a: Amperes,
        /// What cable and connectors carry, amperes.
        carries_a: Amperes,
    },
    /// The shop lists no fuse between the two.
    NoFuse {
        /// The smallest fuse for the load, amperes.
        least_a: Amperes,
        /// What cable and connectors carry, amperes.
        carries_a: Amperes,
        /// The voltage that it has to break, volts.
        highest_v: Volts,
        /// How wet it is where it would stand.
        place: Place,
    },
}

impl ProtectionAgainst {
    /// It in the words of the code that is named for the site.
    #[must_use]
    pub(crate) fn in_words(&self, region: Option<CodeRegion>) -> String {
        let two = |a: &Amperes| trimmed(a.get(), 2);
        let behind = format!("behind an output that is not {}", listed(region));
        match self {
            Self::LoadTooLarge { least_a, carries_a } => format!(
                "{behind} its load takes a fuse of {} A at the least, and cable and connectors carry {} A",
                two(least_a),
                two(carries_a)
            ),
            Self::NoFuse { least_a, carries_a, highest_v, place } => format!(
                "{behind} it needs a fuse of {} to {} A at its source, for {highest_v} and a {place} place, and `fuses` in \
                 shop/wire.json lists none",
                two(least_a),
                two(carries_a)
            ),
        }
    }
}

/// What a cable and the best connectors for its ends carry, amperes.
fn carries(stock: &WireStock, cable: &Cable, conductors: usize, load_a: Amperes, ends: CableEnds) -> Amperes {
    let best = |at: LeadEnd, place: Place| {
        let asked = ConnectorRequirement { at, conductors, conductor_a: load_a, place };
        let suits = stock.connectors.iter().filter(|one| against(one, &asked).is_empty());
        // Where the shop lists none that suits, the joint is named as open with what it has to carry.
        suits.map(|one| one.conductor_a.get()).reduce(f64::max).unwrap_or(f64::INFINITY)
    };
    Amperes(
        cable
            .protected_at_most_a()
            .get()
            .min(best(LeadEnd::AtSource, ends.source_place))
            .min(best(ends.end, ends.end_place)),
    )
}

/// What protects a cable with so many conductors in use, whose common carries so much.
///
/// # Errors
/// Why nothing does.
pub(crate) fn protect(
    stock: &WireStock,
    cable: &Cable,
    conductors: usize,
    load_a: Amperes,
    source: Source,
    ends: CableEnds,
    after_fuse: bool,
) -> Result<Protection, ProtectionAgainst> {
    if source.listed_class2 {
        return Ok(Protection::ListedOutput);
    }
    let carries_a = carries(stock, cable, conductors, load_a, ends);
    if let Some(limit_a) = source.limit_a.filter(|limit| limit.get() <= carries_a.get() * (1.0 + SAME_SHARE))
    {
        return Ok(match after_fuse {
            true => Protection::FuseBefore { fuse_a: limit_a },
            false => Protection::LimitedOutput { limit_a },
        });
    }
    let least_a = Amperes(load_a.get() / stock.fuse_share());
    if least_a.get() > carries_a.get() * (1.0 + SAME_SHARE) {
        return Err(ProtectionAgainst::LoadTooLarge { least_a, carries_a });
    }
    let smallest = stock
        .fuses
        .iter()
        .filter(|fuse| fuse.fuse_a.get() * (1.0 + SAME_SHARE) >= least_a.get())
        .filter(|fuse| fuse.fuse_a.get() <= carries_a.get() * (1.0 + SAME_SHARE))
        .filter(|fuse| fuse.highest_v >= source.highest_v && fuse.place >= ends.source_place)
        .reduce(|least, one| if one.fuse_a.get() < least.fuse_a.get() { one } else { least });
    match smallest {
        Some(fuse) => Ok(Protection::Fuse { id: fuse.id.clone(), fuse_a: fuse.fuse_a }),
        None => Err(ProtectionAgainst::NoFuse {
            least_a,
            carries_a,
            highest_v: source.highest_v,
            place: ends.source_place,
        }),
    }
}

//! The Class 2 limit for a direct-current output, and what may be said about a driver from it.
//!
//! Class 2 is a listing that a testing laboratory gives. Arithmetic can show that a driver exceeds the limit;
//! it can never show that one is Class 2.

use std::fmt;

use super::drivers::Driver;
use super::vocabulary::CodeRegion;
use crate::units::{Amperes, Volts, Watts, trimmed};

/// The limit of one output.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Class2Limit {
    /// Largest current, amperes.
    pub amps: Amperes,
    /// Largest power, watts (volt-amperes).
    pub watts: Watts,
}

/// The limit at an output voltage: NEC Chapter 9 Table 11(B), from memory. Up to 20 V at most 5.0 A; over 20 V
/// to 30 V at most 100/V A and so 100 VA. None above 30 V or for no voltage: those rows are not held here.
#[must_use]
pub fn limit(volts: Volts) -> Option<Class2Limit> {
    let v = volts.get();
    if v > 0.0 && v <= 20.0 {
        Some(Class2Limit { amps: Amperes(5.0), watts: Watts(5.0 * v) })
    } else if v > 20.0 && v <= 30.0 {
        Some(Class2Limit { amps: Amperes(100.0 / v), watts: Watts(100.0) })
    } else {
        None
    }
}

/// What may be said about an output and Class 2.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class2Standing {
    /// Its record says that it is listed, and nothing in its figures contradicts that.
    Listed,
    /// Its record says that it is listed, but its figures exceed the limit: one of the two is wrong.
    ListedYetExceeds,
    /// Not listed; its figures exceed the limit.
    Exceeds,
    /// Not listed; its figures do not exceed the limit, which makes it nothing more than that.
    DoesNotExceed,
    /// Not listed, at a voltage for which no limit is held here.
    NoLimitHeld,
}

impl Class2Standing {
    /// The standing of an output by its figures and its listing. `highest` is the driver's highest output
    /// voltage, `amps` the largest current it is rated to give.
    #[must_use]
    pub fn of(highest: Volts, amps: Amperes, listed: bool) -> Class2Standing {
        let exceeds = limit(highest).map(|limit| amps.get() > limit.amps.get() * (1.0 + 1e-9));
        match (listed, exceeds) {
            (true, Some(true)) => Class2Standing::ListedYetExceeds,
            (true, _) => Class2Standing::Listed,
            (false, Some(true)) => Class2Standing::Exceeds,
            (false, Some(false)) => Class2Standing::DoesNotExceed,
            (false, None) => Class2Standing::NoLimitHeld,
        }
    }

    /// Every standing there is.
    pub(crate) const ALL: [Class2Standing; 5] =
        [Self::Listed, Self::ListedYetExceeds, Self::Exceeds, Self::DoesNotExceed, Self::NoLimitHeld];

    /// A stable name for programs.
    #[must_use]
    pub(crate) fn code(self) -> &'static str {
        match self {
            Self::Listed => "listed",
            Self::ListedYetExceeds => "listed-yet-exceeds",
            Self::Exceeds => "exceeds",
            Self::DoesNotExceed => "does-not-exceed",
            Self::NoLimitHeld => "no-limit-held",
        }
    }

    /// The standing of one output of a driver.
    #[must_use]
    pub fn of_driver(driver: &Driver) -> Class2Standing {
        let amps = Amperes(driver.output_rating_w.get() / driver.output_v.get());
        Class2Standing::of(driver.highest_output_v, amps, driver.listed_class2)
    }

    /// The standing in the words of the code that is named for the site: Class 2 is the NEC's alone.
    #[must_use]
    pub(crate) fn in_words(self, region: Option<CodeRegion>) -> String {
        if CodeRegion::knows_class2(region) {
            return self.to_string();
        }
        match self {
            Self::Listed => "output of limited power, by its listing",
            Self::ListedYetExceeds => {
                "recorded as an output of limited power, but exceeds its limit: check its data sheet"
            }
            Self::Exceeds => "no output of limited power",
            Self::DoesNotExceed | Self::NoLimitHeld => "not listed as an output of limited power",
        }
        .to_owned()
    }

    /// True where the output's wiring may be treated as Class 2.
    #[must_use]
    pub fn may_be_wired_as_class2(self) -> bool {
        self == Class2Standing::Listed
    }
}

/// What an output is that is listed, in the words of the site's code.
#[must_use]
pub(crate) fn listed(region: Option<CodeRegion>) -> &'static str {
    if CodeRegion::knows_class2(region) { "listed Class 2" } else { "listed as an output of limited power" }
}

/// What wiring behind such an output is, in the words of the site's code.
#[must_use]
pub(crate) fn wiring(region: Option<CodeRegion>) -> &'static str {
    if CodeRegion::knows_class2(region) { "Class 2 wiring" } else { "wiring of limited power" }
}

impl fmt::Display for Class2Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Class2Standing::Listed => "listed Class 2",
            Class2Standing::ListedYetExceeds => {
                "recorded as listed Class 2, but exceeds the Class 2 limit: check its data sheet"
            }
            Class2Standing::Exceeds => "exceeds the Class 2 limit",
            Class2Standing::DoesNotExceed => "does not exceed the Class 2 limit",
            Class2Standing::NoLimitHeld => "no Class 2 limit is held for its voltage",
        })
    }
}

/// The limit in words, for a person to check: `Class 2 at 24.5 V: at most 4.08 A`.
#[must_use]
pub(crate) fn limit_in_words(highest: Volts) -> String {
    match limit(highest) {
        Some(limit) => format!(
            "Class 2 at {}: at most {} A and {} VA (NEC Chapter 9 Table 11(B), from memory)",
            highest,
            trimmed(limit.amps.get(), 2),
            trimmed(limit.watts.get(), 1)
        ),
        None => format!("no Class 2 limit is held here for {highest}"),
    }
}

//! `shop/drivers.json`: the constant-voltage drivers that a shop uses, and how far it loads them.
//!
//! Records only; choosing among them is in `driver_choice`.

use serde::{Deserialize, Serialize};

use super::shop_fault::{PowerShopFault, duplicates};
use super::vocabulary::{Dimming, Location, Place};
use super::written::number;
use crate::units::{Amperes, Millimetres, Volts, Watts};

/// The whole of `shop/drivers.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drivers {
    /// Where the schema of this file is, relative to it.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The largest share of a driver's rating that the shop puts on it, above 0 and at most 1; 0.8 is common practice.
    #[serde(serialize_with = "number")]
    pub largest_load_share: f64,
    /// The drivers, in the order in which the shop prefers them.
    pub drivers: Vec<Driver>,
}

/// One constant-voltage driver.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Driver {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Nominal output, volts direct current.
    pub output_v: Volts,
    /// The highest output voltage that its data sheet states, tolerance and trimming included; the Class 2 limit is taken at this.
    pub highest_output_v: Volts,
    /// Rating of the whole driver, watts.
    pub rating_w: Watts,
    /// How many separate outputs it has.
    pub outputs: u32,
    /// Rating of one output, watts.
    pub output_rating_w: Watts,
    /// True where its listing says that each output is Class 2. Only a listing makes it so, never a sum.
    pub listed_class2: bool,
    /// The largest current that its data sheet says one output can give, overload included, amperes; none where it states
    /// no limit. A rating is no limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub output_limit_a: Option<Amperes>,
    /// How it can be dimmed; `low-voltage-pwm` where a dimmer or controller may follow it.
    pub dimming: Vec<Dimming>,
    /// The wettest place it is rated for.
    pub place: Place,
    /// Where it may be put.
    pub locations: Vec<Location>,
    /// The least load at which it works, and dims, as stated, watts; 0 where there is none.
    pub least_load_w: Watts,
    /// Lowest mains voltage, volts alternating current.
    pub mains_least_v: Volts,
    /// Highest mains voltage, volts alternating current.
    pub mains_most_v: Volts,
    /// Current it takes from the mains at full load and lowest voltage, amperes.
    pub mains_a: Amperes,
    /// What it takes from the mains in the moment it is switched on; none where its data sheet does not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inrush: Option<Inrush>,
    /// The most of it on one breaker, as its data sheet says, by breaker.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub breakers: Vec<BreakerLimit>,
    /// Length of its case, millimetres.
    pub length_mm: Millimetres,
    /// Width of its case, millimetres.
    pub width_mm: Millimetres,
    /// Height of its case, millimetres.
    pub height_mm: Millimetres,
    /// Business days from ordering it to having it.
    pub lead_business_days: u32,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The current that a driver takes in the moment it is switched on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Inrush {
    /// Its peak, amperes.
    pub peak_a: Amperes,
    /// How long it is above half of that, microseconds.
    #[serde(serialize_with = "number")]
    pub half_us: f64,
}

/// The most drivers of a model that one breaker holds when they are switched on together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BreakerLimit {
    /// The breaker by its curve and rating, such as B16.
    pub breaker: String,
    /// The most drivers on it.
    pub most: u32,
}

impl Drivers {
    /// The driver with this id.
    #[must_use]
    pub fn get(&self, id: &str) -> Option<&Driver> {
        self.drivers.iter().find(|driver| driver.id == id)
    }

    /// Everything that the schema cannot see: ids used twice, a highest voltage below the nominal one, an
    /// output rated above its driver or limited below its rating, a mains range upside down.
    #[must_use]
    pub fn faults(&self) -> Vec<PowerShopFault> {
        let mut faults = duplicates("/drivers", self.drivers.iter().map(|driver| driver.id.as_str()));
        for (index, driver) in self.drivers.iter().enumerate() {
            let at = |field: &str| format!("/drivers/{index}/{field}");
            if driver.highest_output_v < driver.output_v {
                faults.push(PowerShopFault::HighestBelowNominal {
                    pointer: at("highest_output_v"),
                    id: driver.id.clone(),
                });
            }
            if driver.output_rating_w > driver.rating_w {
                faults.push(PowerShopFault::OutputAboveDriver {
                    pointer: at("output_rating_w"),
                    id: driver.id.clone(),
                });
            }
            let rated_a = driver.output_rating_w.get() / driver.output_v.get();
            if driver.output_limit_a.is_some_and(|limit| limit.get() < rated_a * (1.0 - 1e-9)) {
                faults.push(PowerShopFault::LimitBelowRating {
                    pointer: at("output_limit_a"),
                    id: driver.id.clone(),
                });
            }
            if driver.mains_most_v < driver.mains_least_v {
                faults.push(PowerShopFault::MainsUpsideDown {
                    pointer: at("mains_most_v"),
                    id: driver.id.clone(),
                });
            }
        }
        faults
    }
}

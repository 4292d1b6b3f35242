//! `shop/wire.json`: the low-voltage cable that a shop keeps, and how it plans drops and joints.
//!
//! Resistances are not here: they follow from the size by the published tables in `conductor`.

use serde::{Deserialize, Serialize};

use super::conductor::{Conductor, overcurrent_limit_a};
use super::shop_fault::{PowerShopFault, duplicates};
use super::vocabulary::{Place, WireTable};
use super::written::{number, optional_number};
use crate::units::{Amperes, Volts};
use crate::words::words;

/// The whole of `shop/wire.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireStock {
    /// Where the schema of this file is, relative to it.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The largest drop from driver to panel that the shop plans for, percent of the nominal voltage; 3 is a common design target.
    #[serde(serialize_with = "number")]
    pub largest_drop_pct: f64,
    /// The conductor temperature at which drops are computed, degrees Celsius.
    #[serde(serialize_with = "number")]
    pub conductor_c: f64,
    /// Resistance of one joint or terminal in one conductor, milliohms.
    #[serde(serialize_with = "number")]
    pub joint_mohm: f64,
    /// The cables, in the order in which the shop prefers them among equals.
    pub cables: Vec<Cable>,
    /// The connectors, in the order in which the shop prefers them; empty where the shop does not list them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub connectors: Vec<Connector>,
    /// The fuses with their holders, in the order in which the shop prefers them; empty where the shop does not list them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fuses: Vec<Fuse>,
    /// The largest share of a fuse's rating that the shop puts on it; 0.8 where it is not stated.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub largest_fuse_share: Option<f64>,
}

/// What of a fuse's rating a lasting load may take where the shop states nothing: a continuous load is counted at
/// 125 % (NEC 210.20(A) and 215.3, from memory; common practice for small fuses too).
pub(crate) const USUAL_FUSE_SHARE: f64 = 0.8;

/// One fuse with its holder, put into a conductor where it leaves its source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fuse {
    /// Name in files and bills; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Its rating, amperes.
    pub fuse_a: Amperes,
    /// The highest direct voltage that it breaks, by its data sheet, volts.
    pub highest_v: Volts,
    /// The wettest place that its holder is rated for.
    pub place: Place,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// One cable in stock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cable {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// The table that its size is of.
    pub table: WireTable,
    /// Its size as that table names it: `16 AWG` or `1.5 mm2`.
    pub size: String,
    /// How many conductors it has.
    pub conductors: u32,
    /// The largest current of one conductor that its supplier allows, amperes.
    pub conductor_a: Amperes,
    /// The Class 2 cable type that its jacket is marked with, as printed; none where it is not listed for Class 2 wiring.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class2_type: Option<String>,
    /// The marking that allows it behind an output that is not listed Class 2, as printed; none where the jacket is marked
    /// for Class 2 wiring only. A cable without either marking is taken for one that is not bound to Class 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub general_type: Option<String>,
    /// The conductor temperature that its insulation is rated for, degrees Celsius; none where it is not recorded.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub insulation_c: Option<f64>,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Cable {
    /// True where it may be led only behind an output that is listed Class 2.
    #[must_use]
    pub fn is_for_class2_only(&self) -> bool {
        self.class2_type.is_some() && self.general_type.is_none()
    }

    /// The largest overcurrent protection that may stand before it, amperes: what its supplier allows, and for AWG at
    /// most that of the size.
    #[must_use]
    pub(crate) fn protected_at_most_a(&self) -> Amperes {
        let of_size = Conductor::find(self.table, &self.size).and_then(overcurrent_limit_a);
        Amperes(self.conductor_a.get().min(of_size.unwrap_or(f64::INFINITY)))
    }
}

words! {
    /// The end of a lead at which a connector is used.
    LeadEnd, "end of a lead" {
        /// At the panel, so that it comes out without its lead being cut.
        AtPanel = "at-panel",
        /// At the driver, controller or in-line dimmer.
        AtSource = "at-source",
        /// Inside the panel, where a tape is joined to what comes from the lead.
        InPanel = "in-panel",
    }
}

/// One thing that joins a lead to what it feeds or is fed by.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Connector {
    /// Name in files and bills; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// The ends of a lead at which it is used.
    pub at: Vec<LeadEnd>,
    /// How many conductors it joins.
    pub conductors: u32,
    /// The largest current of one conductor that its supplier allows, amperes.
    pub conductor_a: Amperes,
    /// The wettest place that it is rated for.
    pub place: Place,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl WireStock {
    /// The connector with this id.
    #[must_use]
    pub(crate) fn connector(&self, id: &str) -> Option<&Connector> {
        self.connectors.iter().find(|connector| connector.id == id)
    }

    /// The fuse with this id.
    #[must_use]
    pub(crate) fn fuse(&self, id: &str) -> Option<&Fuse> {
        self.fuses.iter().find(|fuse| fuse.id == id)
    }

    /// The largest share of a fuse's rating that is put on it.
    #[must_use]
    pub(crate) fn fuse_share(&self) -> f64 {
        self.largest_fuse_share.unwrap_or(USUAL_FUSE_SHARE)
    }

    /// The cable with this id.
    #[must_use]
    pub fn get(&self, id: &str) -> Option<&Cable> {
        self.cables.iter().find(|cable| cable.id == id)
    }

    /// Everything that the schema cannot see: ids used twice, a size that its table does not have, insulation that
    /// the shop's own conductor temperature is too hot for.
    #[must_use]
    pub fn faults(&self) -> Vec<PowerShopFault> {
        let mut faults = duplicates("/cables", self.cables.iter().map(|cable| cable.id.as_str()));
        faults.extend(duplicates("/connectors", self.connectors.iter().map(|c| c.id.as_str())));
        faults.extend(duplicates("/fuses", self.fuses.iter().map(|fuse| fuse.id.as_str())));
        for (index, cable) in self.cables.iter().enumerate() {
            if let Some(rated) = cable.insulation_c.filter(|rated| *rated < self.conductor_c) {
                faults.push(PowerShopFault::InsulationTooCool {
                    pointer: format!("/cables/{index}/insulation_c"),
                    id: cable.id.clone(),
                    rated_c: rated,
                    conductor_c: self.conductor_c,
                });
            }
            if Conductor::find(cable.table, &cable.size).is_none() {
                faults.push(PowerShopFault::UnknownSize {
                    pointer: format!("/cables/{index}/size"),
                    id: cable.id.clone(),
                    table: cable.table,
                    size: cable.size.clone(),
                });
            }
        }
        faults
    }
}

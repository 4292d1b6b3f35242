//! `shop/wire.json`: the low-voltage cable that a shop keeps, and how it plans drops and joints.
//!
//! Resistances are not here: they follow from the size by the published tables in `conductor`.

use serde::{Deserialize, Serialize};

use super::conductor::Conductor;
use super::shop_fault::{PowerShopFault, duplicates};
use super::vocabulary::{Place, WireTable};
use super::written::number;
use crate::units::Amperes;
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
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
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
    pub fn connector(&self, id: &str) -> Option<&Connector> {
        self.connectors.iter().find(|connector| connector.id == id)
    }

    /// The cable with this id.
    #[must_use]
    pub fn get(&self, id: &str) -> Option<&Cable> {
        self.cables.iter().find(|cable| cable.id == id)
    }

    /// Everything that the schema cannot see: ids used twice, a size that its table does not have.
    #[must_use]
    pub fn faults(&self) -> Vec<PowerShopFault> {
        let mut faults = duplicates("/cables", self.cables.iter().map(|cable| cable.id.as_str()));
        faults.extend(duplicates("/connectors", self.connectors.iter().map(|c| c.id.as_str())));
        for (index, cable) in self.cables.iter().enumerate() {
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

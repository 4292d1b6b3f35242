//! `as-built.json` and `installation.json`: what was really built and how it was put in.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use crate::ids::{PanelId, PersonId};
use crate::units::{Volts, Watts};

/// What was built.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AsBuilt {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The day the last panel passed its test.
    pub date: Date,
    /// Who built it.
    pub by: PersonId,
    /// Each panel as it left the bench.
    pub panels: Vec<BuiltPanel>,
    /// What differs from the release, in words; empty where nothing does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub differs: Option<String>,
}

/// One panel as it left the bench.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuiltPanel {
    /// The panel.
    pub id: PanelId,
    /// Its serial number.
    pub serial: String,
    /// The power it was measured to draw at full light.
    pub measured_w: Watts,
    /// The voltage at which that was measured.
    pub measured_v: Volts,
    /// A photo of it lit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<Attachment>,
}

/// How it was put in, and what the owner keeps for the day when light fails.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Installation {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The day.
    pub date: Date,
    /// Who installed it.
    pub by: PersonId,
    /// The licensed person who connected and tested the mains side.
    pub electrician: String,
    /// The electrical code and edition that it was tested to.
    pub electrical_code: String,
    /// Where the drivers sit and how to reach them.
    pub driver_access: String,
    /// The service card left with the owner.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service_card: Option<ServiceCard>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Attachment>,
}

/// What stays with the owner for the day, years later, when light fails.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ServiceCard {
    /// Where the card is kept.
    pub kept_at: String,
    /// How the panel is reached without breaking the stone, or that it cannot be.
    pub access: String,
    /// Whom to call.
    pub contact: String,
}

//! `as-built.json` and `installation.json`: what was really built and how it was put in.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use crate::ids::{DeliveryId, PanelId, PersonId};
use crate::units::{Lux, Volts, Watts};

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
    /// What left the shop, and how it arrived.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub consignments: Vec<Consignment>,
}

impl AsBuilt {
    /// The files beside the record.
    pub(crate) fn photos(&self) -> impl Iterator<Item = &Attachment> {
        let damage = self.consignments.iter().flat_map(|c| &c.damage);
        self.panels.iter().filter_map(|p| p.photo.as_ref()).chain(damage.filter_map(|d| d.photo.as_ref()))
    }
}

/// Panels that left the shop together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Consignment {
    /// Its short name.
    pub id: DeliveryId,
    /// The panels in it.
    pub panels: Vec<PanelId>,
    /// The day it left the shop.
    pub sent: Date,
    /// What it travels by, with its number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The day it was received.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<Date>,
    /// What was found damaged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub damage: Vec<Damage>,
}

/// Damage that was found on arrival.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Damage {
    /// The panel.
    pub panel: PanelId,
    /// What is damaged.
    pub what: String,
    /// A photo of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<Attachment>,
    /// How it was settled; none while it is not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settled: Option<String>,
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
    /// The colour temperature that was measured on the lit face, in kelvin; none for a coloured light.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_cct_k: Option<u32>,
    /// Illuminance on nine points of the lit face, three by three, from the upper left row by row.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub nine_points_lx: Vec<Lux>,
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
    /// What was looked at when the work was taken over.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acceptance: Option<Acceptance>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Attachment>,
}

impl Installation {
    /// The files beside the record.
    pub(crate) fn attachments(&self) -> impl Iterator<Item = &Attachment> {
        self.photos.iter().chain(self.acceptance.as_ref().map(|a| &a.photo))
    }
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
    /// For how many months from the handover the shop makes good; none where nothing is recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub warranty_months: Option<u32>,
    /// Which spare parts of the same bin are kept, and where.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spares: Option<String>,
    /// How the stone and the face are cleaned and what else is done now and then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upkeep: Option<String>,
}

/// What was looked at when the work was taken over. The client signs it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Acceptance {
    /// The day.
    pub date: Date,
    /// A photo of the work, lit.
    pub photo: Attachment,
    /// The lowest level that it was dimmed to, in percent; none where it is not dimmed.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub lowest_dim_pct: Option<f64>,
    /// How flicker was looked for.
    pub flicker_looked_for: String,
    /// The flicker that was seen; none where none was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flicker_seen: Option<String>,
    /// What is still to be done; nothing where all is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remaining: Vec<String>,
}

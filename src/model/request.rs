//! `requests/<id>.json`: a test panel asked for, sent and received.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::ids::{RequestId, SwatchId};
use crate::units::Millimetres;
use crate::words::{Face, LightKind};

/// A test panel asked for, so that stones can be tried over it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Request {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The request's name, which is also its file's.
    pub id: RequestId,
    /// The stones that are to be tried over it.
    pub swatches: Vec<SwatchId>,
    /// Its width.
    pub width_mm: Millimetres,
    /// Its height.
    pub height_mm: Millimetres,
    /// What its light can do.
    pub light: LightKind,
    /// The colour temperatures asked for, in kelvin.
    pub ccts_k: Vec<u32>,
    /// The faces asked for.
    pub faces: Vec<Face>,
    /// How many of each.
    pub quantity: u32,
    /// Where it goes.
    pub address: String,
    /// The day it was asked for.
    pub asked: Date,
    /// The day it must be there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needed_by: Option<Date>,
    /// The day it must be back, where it is on loan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub return_by: Option<Date>,
    /// The day it was sent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sent: Option<Date>,
    /// What it travels by, with its consignment number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub consignment: Option<String>,
    /// The day it was received.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<Date>,
    /// The day it came back from its loan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub returned: Option<Date>,
    /// The day from which it counts as lost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lost: Option<Date>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Request {
    /// The day by which it must be back, while it is out on loan.
    #[must_use]
    pub(crate) fn due_back(&self) -> Option<Date> {
        let out = self.sent.is_some() || self.received.is_some();
        self.return_by.filter(|_| out && self.returned.is_none() && self.lost.is_none())
    }

    /// True where it was lost on the way, so that nobody waits for it.
    #[must_use]
    pub(crate) fn never_comes(&self) -> bool {
        self.received.is_none() && (self.lost.is_some() || self.returned.is_some())
    }
}

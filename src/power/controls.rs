//! `shop/controls.json`: controllers for colour-changing light, and dimmers for static white.
//!
//! Records only; choosing among them is in `control_choice`.

use serde::{Deserialize, Serialize};

use super::shop_fault::{PowerShopFault, duplicates};
use super::vocabulary::{CommonRail, Dimming, Place};
use super::written::optional_number;
use crate::units::{Amperes, Volts, Watts};
use crate::words::{LightKind, words};

words! {
    /// How people reach a controller.
    ControlInput, "control input" {
        /// A panel on the wall.
        WallPanel = "wall-panel",
        /// A hand-held remote by radio.
        RadioRemote = "radio-remote",
        /// DMX512 from a lighting desk or building system.
        Dmx = "dmx",
        /// DALI from a building system.
        Dali = "dali",
        /// 0–10 V from a building system, one pair for each channel.
        ZeroToTen = "0-10v",
    }
}

impl ControlInput {
    /// The standard that says how it speaks, from memory; none where there is none.
    #[must_use]
    pub(crate) fn standard(self) -> Option<&'static str> {
        match self {
            ControlInput::WallPanel | ControlInput::RadioRemote => None,
            ControlInput::Dmx => Some("DMX512-A, ANSI E1.11"),
            ControlInput::Dali => Dimming::Dali.standard(),
            ControlInput::ZeroToTen => Dimming::ZeroToTen.standard(),
        }
    }
}

/// The whole of `shop/controls.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Controls {
    /// Where the schema of this file is, relative to it.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Controllers, in the order in which the shop prefers them.
    pub controllers: Vec<Controller>,
    /// Dimmers, in the order in which the shop prefers them.
    pub dimmers: Vec<Dimmer>,
}

/// A controller: it stands between a plain constant-voltage driver and the tape, one output for each channel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Controller {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// The kinds of light it can run.
    pub kinds: Vec<LightKind>,
    /// How many channels it has.
    pub channels: u32,
    /// Largest current of one channel, amperes.
    pub channel_a: Amperes,
    /// Largest current of all channels together, amperes.
    pub total_a: Amperes,
    /// The supply voltages that it takes, volts direct current.
    pub voltages_v: Vec<Volts>,
    /// The rail that its outputs share; it must be the tape's.
    pub common_rail: CommonRail,
    /// How people reach it.
    pub inputs: Vec<ControlInput>,
    /// The wettest place it is rated for.
    pub place: Place,
    /// Business days from ordering it to having it; none where it is in stock or not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_business_days: Option<u32>,
    /// The lowest level to which it dims, percent; none where its data sheet does not say.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub lowest_pct: Option<f64>,
    /// How often it switches its outputs, hertz; none where its data sheet does not say.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub pwm_hz: Option<f64>,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A dimmer for static white.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dimmer {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// How it dims; never `none`.
    pub method: Dimming,
    /// The least load at which it dims as stated, watts; 0 where there is none.
    pub least_load_w: Watts,
    /// The largest load, watts.
    pub largest_load_w: Watts,
    /// The wettest place it is rated for.
    pub place: Place,
    /// The lowest level to which it dims, percent; none where its data sheet does not say.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub lowest_pct: Option<f64>,
    /// How often the light is switched behind it, hertz: by itself, or by the drivers that it leads; none where no data
    /// sheet says.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub pwm_hz: Option<f64>,
    /// The drivers that it has been tried with and dims without flicker, by id.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tried_with: Vec<String>,
    /// Business days from ordering it to having it; none where it is in stock or not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_business_days: Option<u32>,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Controls {
    /// The controller with this id.
    #[must_use]
    pub(crate) fn controller(&self, id: &str) -> Option<&Controller> {
        self.controllers.iter().find(|controller| controller.id == id)
    }

    /// The dimmer with this id.
    #[must_use]
    pub(crate) fn dimmer(&self, id: &str) -> Option<&Dimmer> {
        self.dimmers.iter().find(|dimmer| dimmer.id == id)
    }

    /// Everything that the schema cannot see: ids used twice, a controller said to run a kind with more
    /// channels than it has, a dimmer whose loads are upside down.
    #[must_use]
    pub fn faults(&self) -> Vec<PowerShopFault> {
        let mut faults = duplicates("/controllers", self.controllers.iter().map(|c| c.id.as_str()));
        faults.extend(duplicates("/dimmers", self.dimmers.iter().map(|d| d.id.as_str())));
        for (index, controller) in self.controllers.iter().enumerate() {
            for kind in &controller.kinds {
                if kind.channels() > controller.channels as usize {
                    faults.push(PowerShopFault::ControllerTooFewChannels {
                        pointer: format!("/controllers/{index}/channels"),
                        id: controller.id.clone(),
                        kind: *kind,
                        stated: controller.channels,
                    });
                }
            }
        }
        for (index, dimmer) in self.dimmers.iter().enumerate() {
            if dimmer.least_load_w > dimmer.largest_load_w {
                faults.push(PowerShopFault::DimmerUpsideDown {
                    pointer: format!("/dimmers/{index}/least_load_w"),
                    id: dimmer.id.clone(),
                });
            }
        }
        faults
    }
}

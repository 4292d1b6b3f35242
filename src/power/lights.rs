//! `shop/lights.json`: the tapes that a shop lights its panels with, and what each gives per metre.
//!
//! Figures only; what a panel makes of them is in `light_build`. No figure is shipped as truth: the
//! starter file's are invented and say so.

use serde::{Deserialize, Serialize};

use super::shop_fault::{PowerShopFault, duplicates};
use super::vocabulary::{Basis, CommonRail, Place};
use super::written::{number, optional_number};
use crate::units::{Metres, Millimetres, Volts};
use crate::words::{Face, LightKind};

/// The whole of `shop/lights.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lights {
    /// Where the schema of this file is, relative to it.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The tapes, in the order in which the shop prefers them.
    pub lights: Vec<Light>,
}

/// One tape and the panel that is built round it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Light {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// What its light can do; fixes how many channels there are.
    pub kind: LightKind,
    /// Where the figures come from.
    pub basis: Basis,
    /// Nominal supply, volts direct current: 12 or 24 as a rule.
    pub voltage_v: Volts,
    /// The channels, in the order of their conductors; as many as the kind has.
    pub channels: Vec<Channel>,
    /// Which rail the channels share.
    pub common_rail: CommonRail,
    /// The tape can be cut every so many millimetres.
    pub cut_interval_mm: Millimetres,
    /// Longest tape fed at one end, in metres, as its supplier allows.
    pub largest_run_m: Metres,
    /// Longest tape fed at both ends, in metres. Where it is not stated, feeding at both ends allows no more than one end does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub largest_run_both_ends_m: Option<Metres>,
    /// Smallest radius to which the tape may be bent within its plane of bending, in millimetres.
    pub least_bend_radius_mm: Millimetres,
    /// Smallest radius to which the tape may be bent in its own plane, sideways, in millimetres; none where it may not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_sideways_radius_mm: Option<Millimetres>,
    /// Width of the tape, in millimetres; none where it is not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width_mm: Option<Millimetres>,
    /// Resistance of the tape's common rail, ohms per metre. Without it the drop along the tape is not computed.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub common_ohm_per_m: Option<f64>,
    /// Resistance of one channel's rail, ohms per metre. Without it the drop along the tape is not computed.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub channel_ohm_per_m: Option<f64>,
    /// The fixed colour temperatures to order it in, kelvins; empty where the kind has none or can be set.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub offered_cct_k: Vec<u32>,
    /// The range over which the colour temperature can be set, for tunable white; for warm-dim, from the lowest level to full.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cct_range_k: Option<CctRange>,
    /// General colour rendering index Ra of its white light, 0 to 100; none for a light without white.
    #[serde(default, skip_serializing_if = "Option::is_none", serialize_with = "optional_number")]
    pub cri_ra: Option<f64>,
    /// Depth of a panel built with it, millimetres, without stone or air gap.
    pub panel_depth_mm: Millimetres,
    /// The wettest place that a panel built with it is sealed for.
    pub place: Place,
    /// The share of the tape's light that leaves the face of a panel.
    pub face_share: FaceShare,
    /// Business days from ordering it to having it; none where it is in stock or not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_business_days: Option<u32>,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Light {
    /// True where the light can be set or ordered at this colour temperature, in kelvins. Warm-dim is ordered by that at full.
    #[must_use]
    pub fn gives_cct(&self, cct_k: u32) -> bool {
        self.offered_cct_k.contains(&cct_k)
            || self.cct_range_k.is_some_and(|range| match self.kind {
                LightKind::WarmDim => cct_k == range.coolest,
                _ => (range.warmest..=range.coolest).contains(&cct_k),
            })
    }

    /// True where it can be set over this whole range or, for warm-dim, runs over it as it is dimmed.
    #[must_use]
    pub(crate) fn reaches(&self, range: CctRange) -> bool {
        self.gives_cct(range.coolest)
            && match self.kind {
                LightKind::WarmDim => self.cct_range_k.is_some_and(|own| own.warmest <= range.warmest),
                _ => self.gives_cct(range.warmest),
            }
    }

    /// True where a panel built with it is sealed for a place this wet.
    #[must_use]
    pub fn suits_place(&self, place: Place) -> bool {
        place <= self.place
    }

    /// The longest tape for this way of feeding.
    #[must_use]
    pub fn largest_run(&self, fed_at_both_ends: bool) -> Metres {
        if fed_at_both_ends {
            self.largest_run_both_ends_m.unwrap_or(self.largest_run_m)
        } else {
            self.largest_run_m
        }
    }
}

/// One channel of a tape.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Channel {
    /// What it is: `white`, `warm`, `cool`, `red`, `green`, `blue`.
    pub name: String,
    /// The mark at its solder pad or wire.
    pub mark: String,
    /// Watts per metre at full.
    #[serde(serialize_with = "number")]
    pub watts_per_m: f64,
    /// Lumens per metre at full, of the bare tape.
    #[serde(serialize_with = "number")]
    pub lumens_per_m: f64,
    /// CIE 1931 chromaticity x and y of a white, warm or cool channel, where its supplier states it or somebody read it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub xy: Option<[f64; 2]>,
}

/// The colour temperatures between which a light can be set, in kelvins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CctRange {
    /// The lowest.
    pub warmest: u32,
    /// The highest.
    pub coolest: u32,
}

/// The share of a tape's light that leaves the face, above 0 and at most 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FaceShare {
    /// With a diffused face.
    #[serde(serialize_with = "number")]
    pub diffused: f64,
    /// With a clear face.
    #[serde(serialize_with = "number")]
    pub clear: f64,
}

impl FaceShare {
    /// The share for one face.
    #[must_use]
    pub(crate) fn of(self, face: Face) -> f64 {
        match face {
            Face::Diffused => self.diffused,
            Face::Clear => self.clear,
        }
    }
}

impl Lights {
    /// The light with this id.
    #[must_use]
    pub fn get(&self, id: &str) -> Option<&Light> {
        self.lights.iter().find(|light| light.id == id)
    }

    /// The lights of one kind, in the shop's order.
    pub(crate) fn of_kind(&self, kind: LightKind) -> impl Iterator<Item = &Light> {
        self.lights.iter().filter(move |light| light.kind == kind)
    }

    /// Everything that the schema cannot see: ids used twice, channels that do not fit the kind, missing or
    /// upside-down colour temperatures, a run that is shorter fed at both ends than at one.
    #[must_use]
    pub fn faults(&self) -> Vec<PowerShopFault> {
        let mut faults = duplicates("/lights", self.lights.iter().map(|light| light.id.as_str()));
        for (index, light) in self.lights.iter().enumerate() {
            let at = |field: &str| format!("/lights/{index}/{field}");
            if light.channels.len() != light.kind.channels() {
                faults.push(PowerShopFault::ChannelCount {
                    pointer: at("channels"),
                    id: light.id.clone(),
                    kind: light.kind,
                    stated: light.channels.len(),
                });
            }
            match light.kind {
                kind if kind.has_cct_range() => match light.cct_range_k {
                    None => faults
                        .push(PowerShopFault::NoCct { pointer: at("cct_range_k"), id: light.id.clone() }),
                    Some(range) if range.warmest >= range.coolest => {
                        faults.push(PowerShopFault::CctRangeUpsideDown {
                            pointer: at("cct_range_k"),
                            id: light.id.clone(),
                            range,
                        });
                    }
                    Some(_) => {}
                },
                LightKind::StaticWhite | LightKind::Rgbw if light.offered_cct_k.is_empty() => {
                    faults.push(PowerShopFault::NoCct { pointer: at("offered_cct_k"), id: light.id.clone() });
                }
                _ => {}
            }
            if light.largest_run_both_ends_m.is_some_and(|both| both < light.largest_run_m) {
                faults.push(PowerShopFault::BothEndsShorter {
                    pointer: at("largest_run_both_ends_m"),
                    id: light.id.clone(),
                });
            }
        }
        faults
    }
}

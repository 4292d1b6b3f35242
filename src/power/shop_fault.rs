//! What can be wrong in the power files of a shop beyond what a schema sees, with the remedy for each.

use std::collections::BTreeSet;
use std::fmt;

use super::conductor::Conductor;
use super::lights::CctRange;
use super::vocabulary::WireTable;
use crate::words::LightKind;

/// A fault in `lights.json`, `drivers.json`, `controls.json` or `wire.json`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs, reason = "`pointer` is the JSON pointer and `id` the entry in every variant")]
pub enum PowerShopFault {
    /// Two entries share an id.
    DuplicateId { pointer: String, id: String },
    /// A light has more or fewer channels than its kind.
    ChannelCount { pointer: String, id: String, kind: LightKind, stated: usize },
    /// A white light does not say its colour temperature.
    NoCct { pointer: String, id: String },
    /// The warm end of a tunable white is not below its cool end.
    CctRangeUpsideDown { pointer: String, id: String, range: CctRange },
    /// A tape is said to run shorter fed at both ends than at one.
    BothEndsShorter { pointer: String, id: String },
    /// A driver's highest output voltage is below its nominal one.
    HighestBelowNominal { pointer: String, id: String },
    /// One output is rated above the whole driver.
    OutputAboveDriver { pointer: String, id: String },
    /// A driver's mains range ends below its start.
    MainsUpsideDown { pointer: String, id: String },
    /// A controller is said to run a kind with more channels than it has.
    ControllerTooFewChannels { pointer: String, id: String, kind: LightKind, stated: u32 },
    /// A dimmer's least load is above its largest.
    DimmerUpsideDown { pointer: String, id: String },
    /// A cable's size is not in its table.
    UnknownSize { pointer: String, id: String, table: WireTable, size: String },
    /// A cable's insulation is rated for less than the conductor temperature that the shop computes with.
    InsulationTooCool { pointer: String, id: String, rated_c: f64, conductor_c: f64 },
    /// The largest current of a driver output is below its rating.
    LimitBelowRating { pointer: String, id: String },
}

impl PowerShopFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::DuplicateId { .. } => "shop-duplicate-id",
            Self::ChannelCount { .. } => "light-channel-count",
            Self::NoCct { .. } => "light-no-cct",
            Self::CctRangeUpsideDown { .. } => "light-cct-range",
            Self::BothEndsShorter { .. } => "light-both-ends-shorter",
            Self::HighestBelowNominal { .. } => "driver-highest-below-nominal",
            Self::OutputAboveDriver { .. } => "driver-output-above-driver",
            Self::MainsUpsideDown { .. } => "driver-mains-range",
            Self::ControllerTooFewChannels { .. } => "controller-too-few-channels",
            Self::DimmerUpsideDown { .. } => "dimmer-load-range",
            Self::UnknownSize { .. } => "wire-unknown-size",
            Self::InsulationTooCool { .. } => "wire-insulation-temperature",
            Self::LimitBelowRating { .. } => "driver-limit-below-rating",
        }
    }

    /// The JSON pointer of the field, within its file.
    #[must_use]
    pub fn pointer(&self) -> &str {
        match self {
            Self::DuplicateId { pointer, .. }
            | Self::ChannelCount { pointer, .. }
            | Self::NoCct { pointer, .. }
            | Self::CctRangeUpsideDown { pointer, .. }
            | Self::BothEndsShorter { pointer, .. }
            | Self::HighestBelowNominal { pointer, .. }
            | Self::OutputAboveDriver { pointer, .. }
            | Self::MainsUpsideDown { pointer, .. }
            | Self::ControllerTooFewChannels { pointer, .. }
            | Self::DimmerUpsideDown { pointer, .. }
            | Self::UnknownSize { pointer, .. }
            | Self::InsulationTooCool { pointer, .. }
            | Self::LimitBelowRating { pointer, .. } => pointer,
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::DuplicateId { .. } => "give each entry an id of its own".into(),
            Self::ChannelCount { kind, .. } => {
                format!("list {} channels, or correct `kind`", kind.channels())
            }
            Self::NoCct { .. } => {
                "state `offered_cct_k` for a fixed white, `cct_range_k` for a tunable one".into()
            }
            Self::CctRangeUpsideDown { .. } => {
                "put the lower value in `warmest` and the higher in `coolest`".into()
            }
            Self::BothEndsShorter { .. } => {
                "correct `largest_run_both_ends_m`, or leave it out where the supplier does not state it"
                    .into()
            }
            Self::HighestBelowNominal { .. } => {
                "take `highest_output_v` from the data sheet: nominal voltage plus tolerance and trim".into()
            }
            Self::OutputAboveDriver { .. } => "correct `output_rating_w` or `rating_w`".into(),
            Self::MainsUpsideDown { .. } => "exchange `mains_least_v` and `mains_most_v`".into(),
            Self::ControllerTooFewChannels { .. } => {
                "take the kind out of `kinds`, or correct `channels`".into()
            }
            Self::DimmerUpsideDown { .. } => "exchange `least_load_w` and `largest_load_w`".into(),
            Self::UnknownSize { table, .. } => {
                format!("write one of {}", Conductor::names(*table).join(", "))
            }
            Self::InsulationTooCool { .. } => {
                "lower `conductor_c`, or list cable whose insulation is rated for it".into()
            }
            Self::LimitBelowRating { .. } => {
                "take `output_limit_a` from the data sheet: the largest current of one output, overload included".into()
            }
        }
    }
}

impl fmt::Display for PowerShopFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::DuplicateId { id, .. } => write!(f, "the id `{id}` is used twice"),
            Self::ChannelCount { id, kind, stated, .. } => {
                write!(f, "light `{id}` lists {stated} channels, but {kind} has {}", kind.channels())
            }
            Self::NoCct { id, .. } => write!(f, "light `{id}` does not say its colour temperature"),
            Self::CctRangeUpsideDown { id, range, .. } => {
                write!(
                    f,
                    "light `{id}` runs from {} K to {} K, which is no range",
                    range.warmest, range.coolest
                )
            }
            Self::BothEndsShorter { id, .. } => {
                write!(f, "light `{id}` is said to run shorter fed at both ends than at one")
            }
            Self::HighestBelowNominal { id, .. } => {
                write!(f, "driver `{id}` has its highest output voltage below its nominal one")
            }
            Self::OutputAboveDriver { id, .. } => {
                write!(f, "driver `{id}` has an output rated above the driver")
            }
            Self::MainsUpsideDown { id, .. } => {
                write!(f, "driver `{id}` has a mains range that ends below its start")
            }
            Self::ControllerTooFewChannels { id, kind, stated, .. } => write!(
                f,
                "controller `{id}` is said to run {kind}, which needs {} channels, but has {stated}",
                kind.channels()
            ),
            Self::DimmerUpsideDown { id, .. } => {
                write!(f, "dimmer `{id}` has its least load above its largest")
            }
            Self::UnknownSize { id, table, size, .. } => {
                write!(f, "cable `{id}` has the size `{size}`, which the table {table} does not have")
            }
            Self::InsulationTooCool { id, rated_c, conductor_c, .. } => write!(
                f,
                "the insulation of cable `{id}` is rated for {rated_c} °C, and drops are computed at conductors of {conductor_c} °C"
            ),
            Self::LimitBelowRating { id, .. } => {
                write!(f, "driver `{id}` has an output limited to less than its rating")
            }
        }
    }
}

impl std::error::Error for PowerShopFault {}

/// A fault for each id that stood in the list before; `list` is the list's JSON pointer.
pub(super) fn duplicates<'a>(list: &str, ids: impl Iterator<Item = &'a str>) -> Vec<PowerShopFault> {
    let mut seen = BTreeSet::new();
    ids.enumerate()
        .filter(|(_, id)| !seen.insert(*id))
        .map(|(index, id)| PowerShopFault::DuplicateId {
            pointer: format!("{list}/{index}/id"),
            id: id.into(),
        })
        .collect()
}

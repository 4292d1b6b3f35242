//! What can be wrong in `routes.json` and `calendar.json` beyond what a schema sees, with the remedy for each.

use std::collections::BTreeSet;
use std::fmt;

use jiff::civil::Date;

/// A fault in `routes.json` or `calendar.json`.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "`pointer` is the JSON pointer and `id` the entry in every variant")]
pub enum MakingShopFault {
    /// Two entries share an id.
    DuplicateId { pointer: String, id: String },
    /// A route's margin leaves nothing of its sheet.
    MarginTooWide { pointer: String, id: String },
    /// A route's sheets are deeper together than its deepest panel.
    LayersTooDeep { pointer: String, id: String },
    /// A holiday calendar is named that the file does not have.
    UnknownCalendar { pointer: String, id: String, known: Vec<String> },
    /// A holiday list is complete to a day before the day it is complete from.
    SpanUpsideDown { pointer: String, id: String },
    /// A holiday lies outside the span its list is complete for.
    HolidayOutsideSpan { pointer: String, id: String, date: Date },
    /// A day is listed twice.
    HolidayTwice { pointer: String, id: String, date: Date },
    /// A stone's least density is above its most.
    DensityUpsideDown { pointer: String, id: String },
}

impl MakingShopFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::DuplicateId { .. } => "shop-duplicate-id",
            Self::MarginTooWide { .. } => "route-margin-too-wide",
            Self::LayersTooDeep { .. } => "route-layers-too-deep",
            Self::UnknownCalendar { .. } => "calendar-unknown",
            Self::SpanUpsideDown { .. } => "calendar-span",
            Self::HolidayOutsideSpan { .. } => "calendar-holiday-outside-span",
            Self::HolidayTwice { .. } => "calendar-holiday-twice",
            Self::DensityUpsideDown { .. } => "stone-density-range",
        }
    }

    /// The JSON pointer of the field, within its file.
    #[must_use]
    pub fn pointer(&self) -> &str {
        match self {
            Self::DuplicateId { pointer, .. }
            | Self::MarginTooWide { pointer, .. }
            | Self::LayersTooDeep { pointer, .. }
            | Self::UnknownCalendar { pointer, .. }
            | Self::SpanUpsideDown { pointer, .. }
            | Self::HolidayOutsideSpan { pointer, .. }
            | Self::HolidayTwice { pointer, .. }
            | Self::DensityUpsideDown { pointer, .. } => pointer,
        }
    }

    /// What to do about it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            Self::DuplicateId { .. } => "give each entry an id of its own".into(),
            Self::MarginTooWide { .. } => "make `sheet_margin_mm` less than half the sheet's narrow side".into(),
            Self::LayersTooDeep { .. } => {
                "take thinner sheets, say with which `faces` each is built in, or correct `largest_depth_mm`".into()
            }
            Self::UnknownCalendar { known, .. } if known.is_empty() => "add it to `holiday_calendars`".into(),
            Self::UnknownCalendar { known, .. } => {
                format!("write one of {}, or add it to `holiday_calendars`", known.join(", "))
            }
            Self::SpanUpsideDown { .. } => "swap `complete_from` and `complete_to`".into(),
            Self::HolidayOutsideSpan { .. } => {
                "widen `complete_from` and `complete_to` once every holiday between them is listed, or correct the date".into()
            }
            Self::HolidayTwice { .. } => "remove one of the two".into(),
            Self::DensityUpsideDown { .. } => "swap `least_kg_m3` and `most_kg_m3`".into(),
        }
    }
}

impl fmt::Display for MakingShopFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::DuplicateId { id, .. } => write!(f, "the id `{id}` is used twice"),
            Self::MarginTooWide { id, .. } => {
                write!(f, "route `{id}` has a margin that leaves nothing of its sheet")
            }
            Self::LayersTooDeep { id, .. } => {
                write!(f, "the sheets of route `{id}` are deeper together than its deepest panel")
            }
            Self::UnknownCalendar { id, .. } => write!(f, "there is no holiday calendar `{id}`"),
            Self::SpanUpsideDown { id, .. } => {
                write!(f, "holiday calendar `{id}` has `complete_to` before `complete_from`")
            }
            Self::HolidayOutsideSpan { id, date, .. } => {
                write!(f, "holiday calendar `{id}` lists {date}, outside the span it is complete for")
            }
            Self::HolidayTwice { id, date, .. } => write!(f, "holiday calendar `{id}` lists {date} twice"),
            Self::DensityUpsideDown { id, .. } => {
                write!(f, "the minimum density of `{id}` is above its maximum")
            }
        }
    }
}

impl std::error::Error for MakingShopFault {}

/// A fault for each id that stood in the list before; `list` is the list's JSON pointer.
pub(super) fn duplicates<'a>(list: &str, ids: impl Iterator<Item = &'a str>) -> Vec<MakingShopFault> {
    let mut seen = BTreeSet::new();
    ids.enumerate()
        .filter(|(_, id)| !seen.insert(*id))
        .map(|(index, id)| MakingShopFault::DuplicateId {
            pointer: format!("{list}/{index}/id"),
            id: id.into(),
        })
        .collect()
}

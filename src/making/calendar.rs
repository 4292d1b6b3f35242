//! `shop/calendar.json`: the working week, the holidays and the time each step is allowed.
//!
//! Records only; counting is in `business_days`, the chain back from an install date in `schedule`.

use jiff::civil::{Date, Weekday};
use serde::{Deserialize, Serialize};

use super::shop_fault::{MakingShopFault, duplicates};
use crate::words::words;

words! {
    /// A day of the week.
    DayName, "day of the week" {
        /// Monday.
        Monday = "monday",
        /// Tuesday.
        Tuesday = "tuesday",
        /// Wednesday.
        Wednesday = "wednesday",
        /// Thursday.
        Thursday = "thursday",
        /// Friday.
        Friday = "friday",
        /// Saturday.
        Saturday = "saturday",
        /// Sunday.
        Sunday = "sunday",
    }
}

impl DayName {
    /// The same day as the date library names it.
    #[must_use]
    pub(crate) fn weekday(self) -> Weekday {
        match self {
            DayName::Monday => Weekday::Monday,
            DayName::Tuesday => Weekday::Tuesday,
            DayName::Wednesday => Weekday::Wednesday,
            DayName::Thursday => Weekday::Thursday,
            DayName::Friday => Weekday::Friday,
            DayName::Saturday => Weekday::Saturday,
            DayName::Sunday => Weekday::Sunday,
        }
    }
}

/// The whole of `shop/calendar.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShopCalendar {
    /// Where the schema of this file is, relative to it.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The days on which the shop works.
    pub working_days: Vec<DayName>,
    /// The id of the holiday calendar that the shop works by.
    pub shop_holidays: String,
    /// The id of the holiday calendar that parcels travel by.
    pub transit_holidays: String,
    /// Named lists of holidays.
    pub holiday_calendars: Vec<HolidayCalendar>,
    /// The time each step is allowed beside what the route states.
    pub allowances: Allowances,
}

/// A named list of holidays and the span that it is complete for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HolidayCalendar {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// The first date for which the list is complete.
    pub complete_from: Date,
    /// The last date for which the list is complete; counting past it is refused.
    pub complete_to: Date,
    /// The holidays.
    pub holidays: Vec<Holiday>,
}

/// One holiday.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Holiday {
    /// The day off.
    pub date: Date,
    /// What it is.
    pub name: String,
}

/// Business days that each step is allowed; what depends on the route stands in the route.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Allowances {
    /// From the test panel's arrival to the last trial.
    pub trial_business_days: u32,
    /// From the last trial to the client's signed choice.
    pub choice_business_days: u32,
    /// From the choice to a rendering that is ready to sign.
    pub rendering_business_days: u32,
    /// One round of approval of a rendering.
    pub approval_round_business_days: u32,
    /// How many rounds of approval are planned for.
    pub approval_rounds: u32,
    /// From the last approval to the engineer's release.
    pub release_business_days: u32,
    /// Kept free between the panels' arrival and the install date.
    pub install_reserve_business_days: u32,
}

impl ShopCalendar {
    /// The holiday calendar with this id.
    #[must_use]
    pub(crate) fn holiday_calendar(&self, id: &str) -> Option<&HolidayCalendar> {
        self.holiday_calendars.iter().find(|calendar| calendar.id == id)
    }

    /// Everything that the schema cannot see: ids used twice, a calendar named that is not there, a holiday
    /// outside the span its list is complete for, a span upside down, a day or holiday listed twice.
    #[must_use]
    pub fn faults(&self) -> Vec<MakingShopFault> {
        let mut faults =
            duplicates("/holiday_calendars", self.holiday_calendars.iter().map(|c| c.id.as_str()));
        for (field, id) in
            [("shop_holidays", &self.shop_holidays), ("transit_holidays", &self.transit_holidays)]
        {
            if self.holiday_calendar(id).is_none() {
                faults.push(MakingShopFault::UnknownCalendar {
                    pointer: format!("/{field}"),
                    id: id.clone(),
                    known: self.holiday_calendars.iter().map(|c| c.id.clone()).collect(),
                });
            }
        }
        for (index, calendar) in self.holiday_calendars.iter().enumerate() {
            if calendar.complete_to < calendar.complete_from {
                faults.push(MakingShopFault::SpanUpsideDown {
                    pointer: format!("/holiday_calendars/{index}/complete_to"),
                    id: calendar.id.clone(),
                });
            }
            for (at, holiday) in calendar.holidays.iter().enumerate() {
                let pointer = format!("/holiday_calendars/{index}/holidays/{at}/date");
                if holiday.date < calendar.complete_from || holiday.date > calendar.complete_to {
                    faults.push(MakingShopFault::HolidayOutsideSpan {
                        pointer,
                        id: calendar.id.clone(),
                        date: holiday.date,
                    });
                } else if calendar.holidays[..at].iter().any(|earlier| earlier.date == holiday.date) {
                    faults.push(MakingShopFault::HolidayTwice {
                        pointer,
                        id: calendar.id.clone(),
                        date: holiday.date,
                    });
                }
            }
        }
        faults
    }
}

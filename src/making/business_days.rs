//! Counting business days over a working week and a list of holidays.
//!
//! A start on a day off rolls forward when counting on and backward when counting back; day 0 is not
//! counted. That is how `busday_offset` of NumPy counts with `roll="forward"` and `roll="backward"`, and it
//! is checked against it. The holidays are an input: none is built in.

use std::collections::BTreeSet;
use std::fmt;

use jiff::civil::{Date, Weekday};

use super::calendar::ShopCalendar;

/// The most business days that are counted in one go, about a century: what is more is a slip of the pen.
pub const MOST_BUSINESS_DAYS: i64 = 25_000;

/// A working week with holidays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkingDays {
    /// By [`Weekday::to_monday_zero_offset`].
    works: [bool; 7],
    holidays: BTreeSet<Date>,
    complete: Option<Complete>,
}

/// The span over which a holiday list is complete.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Complete {
    calendar: String,
    from: Date,
    to: Date,
}

/// Why business days cannot be counted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DateFault {
    /// No day of the week is worked.
    NoWorkingDay,
    /// The count is larger than [`MOST_BUSINESS_DAYS`], or leaves the years that a date can have.
    TooFar {
        /// The start.
        from: Date,
        /// The count.
        business_days: i64,
    },
    /// The count leaves the span over which the holiday list is complete.
    OutsideHolidayList {
        /// The holiday calendar's id.
        calendar: String,
        /// The day that was needed.
        date: Date,
        /// First day of the span.
        from: Date,
        /// Last day of the span.
        to: Date,
    },
    /// There is no holiday calendar of that name.
    UnknownCalendar {
        /// The name asked for.
        calendar: String,
        /// The names there are.
        known: Vec<String>,
    },
}

impl DateFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NoWorkingDay => "dates-no-working-day",
            Self::TooFar { .. } => "dates-too-far",
            Self::OutsideHolidayList { .. } => "dates-outside-holiday-list",
            Self::UnknownCalendar { .. } => "dates-unknown-calendar",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::NoWorkingDay => "name at least one day in `working_days` of shop/calendar.json".into(),
            Self::TooFar { .. } => {
                format!("count at most {MOST_BUSINESS_DAYS} business days, within the years 0 to 9999")
            }
            Self::OutsideHolidayList { calendar, .. } => format!(
                "add that year's holidays to `{calendar}` in shop/calendar.json, move `complete_from` or `complete_to`, and let \
                 an owner seal it: underlit roster seal"
            ),
            Self::UnknownCalendar { known, .. } if known.is_empty() => {
                "add it to `holiday_calendars` in shop/calendar.json".into()
            }
            Self::UnknownCalendar { known, .. } => {
                format!(
                    "use one of {}, or add it to `holiday_calendars` in shop/calendar.json",
                    known.join(", ")
                )
            }
        }
    }
}

impl fmt::Display for DateFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoWorkingDay => f.write_str("no day of the week is a working day"),
            Self::TooFar { from, business_days } => {
                write!(f, "{business_days} business days from {from} is too far to count")
            }
            Self::OutsideHolidayList { calendar, date, from, to } => write!(
                f,
                "the holiday calendar `{calendar}` is complete from {from} to {to}, and {date} is needed"
            ),
            Self::UnknownCalendar { calendar, .. } => write!(f, "there is no holiday calendar `{calendar}`"),
        }
    }
}

impl std::error::Error for DateFault {}

impl WorkingDays {
    /// A working week with holidays, complete for all time.
    ///
    /// # Errors
    /// No working day.
    pub fn new(
        week: impl IntoIterator<Item = Weekday>,
        holidays: impl IntoIterator<Item = Date>,
    ) -> Result<WorkingDays, DateFault> {
        let mut works = [false; 7];
        for day in week {
            works[day.to_monday_zero_offset().unsigned_abs() as usize % 7] = true;
        }
        if works == [false; 7] {
            return Err(DateFault::NoWorkingDay);
        }
        Ok(WorkingDays { works, holidays: holidays.into_iter().collect(), complete: None })
    }

    /// Monday to Friday with holidays.
    #[must_use]
    pub fn monday_to_friday(holidays: impl IntoIterator<Item = Date>) -> WorkingDays {
        let works = [true, true, true, true, true, false, false];
        WorkingDays { works, holidays: holidays.into_iter().collect(), complete: None }
    }

    /// The shop's working week with one of its holiday calendars; counting outside its span is refused.
    ///
    /// # Errors
    /// No such calendar, or no working day.
    pub fn of_shop(shop: &ShopCalendar, calendar: &str) -> Result<WorkingDays, DateFault> {
        let list = shop.holiday_calendar(calendar).ok_or_else(|| DateFault::UnknownCalendar {
            calendar: calendar.into(),
            known: shop.holiday_calendars.iter().map(|c| c.id.clone()).collect(),
        })?;
        let mut days = WorkingDays::new(
            shop.working_days.iter().map(|day| day.weekday()),
            list.holidays.iter().map(|holiday| holiday.date),
        )?;
        days.complete =
            Some(Complete { calendar: list.id.clone(), from: list.complete_from, to: list.complete_to });
        Ok(days)
    }

    /// True on a working day that is no holiday.
    ///
    /// # Errors
    /// A day outside the holiday list's span.
    pub fn is_business_day(&self, date: Date) -> Result<bool, DateFault> {
        if let Some(complete) = &self.complete
            && (date < complete.from || date > complete.to)
        {
            return Err(DateFault::OutsideHolidayList {
                calendar: complete.calendar.clone(),
                date,
                from: complete.from,
                to: complete.to,
            });
        }
        let weekday = date.weekday().to_monday_zero_offset().unsigned_abs() as usize % 7;
        Ok(self.works[weekday] && !self.holidays.contains(&date))
    }

    /// Counts on: `business_days` business days after `from`, which rolls forward first where it is a day off.
    ///
    /// # Errors
    /// A count too far, or outside the holiday list's span.
    pub fn after(&self, from: Date, business_days: u32) -> Result<Date, DateFault> {
        self.count(from, i64::from(business_days), Date::tomorrow)
    }

    /// Counts back: `business_days` business days before `from`, which rolls backward first where it is a day off.
    ///
    /// # Errors
    /// A count too far, or outside the holiday list's span.
    pub fn before(&self, from: Date, business_days: u32) -> Result<Date, DateFault> {
        self.count(from, i64::from(business_days), Date::yesterday)
    }

    /// Counts on for a number of at least 0, back for one below.
    ///
    /// # Errors
    /// A count too far, or outside the holiday list's span.
    pub fn offset(&self, from: Date, business_days: i64) -> Result<Date, DateFault> {
        let days = u32::try_from(business_days.unsigned_abs())
            .map_err(|_| DateFault::TooFar { from, business_days })?;
        if business_days < 0 {
            self.before(from, days).map_err(|fault| match fault {
                DateFault::TooFar { .. } => DateFault::TooFar { from, business_days },
                other => other,
            })
        } else {
            self.after(from, days)
        }
    }

    fn count(
        &self,
        from: Date,
        business_days: i64,
        step: impl Fn(Date) -> Result<Date, jiff::Error>,
    ) -> Result<Date, DateFault> {
        let too_far = || DateFault::TooFar { from, business_days };
        if business_days > MOST_BUSINESS_DAYS {
            return Err(too_far());
        }
        let mut date = from;
        while !self.is_business_day(date)? {
            date = step(date).map_err(|_| too_far())?;
        }
        let mut left = business_days;
        while left > 0 {
            date = step(date).map_err(|_| too_far())?;
            if self.is_business_day(date)? {
                left -= 1;
            }
        }
        Ok(date)
    }

    /// Business days from `from` to before `to`; below 0 where `to` is the earlier, as `busday_count` of NumPy.
    ///
    /// # Errors
    /// Dates too far apart, or outside the holiday list's span.
    pub fn between(&self, from: Date, to: Date) -> Result<i64, DateFault> {
        if to < from {
            // The earlier day is left out and the later taken in, so that the count is the same seen from either end.
            let mut count = 0;
            let mut date = from;
            while date > to {
                if self.is_business_day(date)? {
                    count -= 1;
                }
                date = date.yesterday().map_err(|_| DateFault::TooFar { from, business_days: count })?;
            }
            return Ok(count);
        }
        let mut count = 0;
        let mut date = from;
        while date < to {
            if self.is_business_day(date)? {
                count += 1;
            }
            date = date.tomorrow().map_err(|_| DateFault::TooFar { from, business_days: count })?;
        }
        Ok(count)
    }
}

//! `calc dates`: a date so many business days on or back.

use jiff::civil::Date;
use serde_json::json;

use super::fault_of;
use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::making::business_days::WorkingDays;
use crate::making::calendar::DayName;

/// Count business days on from a date, or back where the number is below 0.
///
/// The date itself is not counted. One that is a day off first rolls on when counting on, and back when
/// counting back.
///
/// Example: underlit calc dates --from 2027-01-11 --business-days -15 --holiday 2026-12-25 2027-01-01
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The date to count from: year-month-day.
    #[arg(long, value_name = "DATE", value_parser = super::super::value::date)]
    from: Date,
    /// How many business days on; below 0 to count back.
    #[arg(long, value_name = "DAYS", allow_negative_numbers = true)]
    business_days: i64,
    /// Days off; may be repeated.
    #[arg(long, value_name = "DATE", num_args = 1.., value_parser = super::super::value::date)]
    holiday: Vec<Date>,
    /// The days of the week that are worked; Monday to Friday by default.
    #[arg(long, value_name = "DAY", num_args = 1.., value_delimiter = ',')]
    working_day: Vec<DayName>,
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    let holidays = args.holiday.iter().copied();
    let days = if args.working_day.is_empty() {
        WorkingDays::monday_to_friday(holidays)
    } else {
        let week = args.working_day.iter().map(|day| day.weekday());
        WorkingDays::new(week, holidays).map_err(|f| fault_of(f.code(), &f, f.remedy()))?
    };
    let date = days.offset(args.from, args.business_days).map_err(|f| fault_of(f.code(), &f, f.remedy()))?;
    printer.line(date.to_string());
    printer.json(&json!({ "date": date }));
    Ok(Exit::Done)
}

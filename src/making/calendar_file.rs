//! Dates as a calendar file (RFC 5545) that any calendar program reads.
//!
//! One whole-day event a date. The same dates give the same bytes: identifiers and time stamps come from the
//! caller, never from a clock.

use icalendar::{Calendar, Component, Event, Property};
use jiff::civil::{Date, DateTime};

use super::business_days::DateFault;

/// One whole-day event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// An identifier that stays the same when the date moves, unique in the world: `job-12.released@book.example`.
    pub uid: String,
    /// The day.
    pub date: Date,
    /// The title.
    pub title: String,
    /// More words; may be empty.
    pub description: String,
}

/// Writes a calendar file: CRLF line ends, lines folded at 75 octets, an exclusive end date.
///
/// `stamp` says when the entries were made, in UTC; the time of the last change to the project, as a rule.
///
/// # Errors
/// A date on the last day that dates can have, which has no day after it.
pub fn calendar_file(name: &str, stamp: DateTime, entries: &[Entry]) -> Result<String, DateFault> {
    let mut calendar = Calendar::empty();
    calendar
        .append_property(Property::new("VERSION", "2.0"))
        .append_property(Property::new("PRODID", "-//underlit//underlit//EN"))
        .append_property(Property::new("CALSCALE", "GREGORIAN"))
        .append_property(Property::new("METHOD", "PUBLISH"))
        // RFC 7986's name, and the older one that many programs still read.
        .append_property(Property::new("NAME", name))
        .append_property(Property::new("X-WR-CALNAME", name));
    let stamp = stamp.strftime("%Y%m%dT%H%M%SZ").to_string();
    for entry in entries {
        let next =
            entry.date.tomorrow().map_err(|_| DateFault::TooFar { from: entry.date, business_days: 1 })?;
        let mut event = Event::new();
        event
            .uid(&entry.uid)
            .summary(&entry.title)
            .append_property(Property::new("DTSTAMP", &stamp))
            .append_property(whole_day("DTSTART", entry.date))
            .append_property(whole_day("DTEND", next))
            .append_property(Property::new("TRANSP", "TRANSPARENT"));
        if !entry.description.is_empty() {
            event.description(&entry.description);
        }
        calendar.push(event.done());
    }
    Ok(calendar.to_string())
}

fn whole_day(key: &str, date: Date) -> Property {
    let mut property = Property::new(key, date.strftime("%Y%m%d").to_string());
    property.add_parameter("VALUE", "DATE");
    property.done()
}

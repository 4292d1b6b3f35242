//! Dates as a calendar file (RFC 5545) that any calendar program reads.
//!
//! One whole-day event a date. The same dates give the same bytes: identifiers and time stamps come from the
//! caller, never from a clock.

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
    calendar_file_with(name, stamp, entries, None)
}

/// The same, where each entry reminds so many days before its own (RFC 5545, 3.6.6).
///
/// # Errors
/// As [`calendar_file`].
pub fn calendar_file_with(
    name: &str,
    stamp: DateTime,
    entries: &[Entry],
    remind_days: Option<u32>,
) -> Result<String, DateFault> {
    let stamp = stamp.strftime("%Y%m%dT%H%M%SZ");
    let mut file = String::new();
    for line in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//underlit//underlit//EN", "CALSCALE:GREGORIAN"] {
        put(&mut file, line);
    }
    put(&mut file, "METHOD:PUBLISH");
    // RFC 7986's name, and the older one that many programs still read.
    put(&mut file, &format!("NAME:{}", text(name)));
    put(&mut file, &format!("X-WR-CALNAME:{}", text(name)));
    for entry in entries {
        let next =
            entry.date.tomorrow().map_err(|_| DateFault::TooFar { from: entry.date, business_days: 1 })?;
        put(&mut file, "BEGIN:VEVENT");
        put(&mut file, &format!("UID:{}", text(&entry.uid)));
        put(&mut file, &format!("DTSTAMP:{stamp}"));
        put(&mut file, &format!("DTSTART;VALUE=DATE:{}", entry.date.strftime("%Y%m%d")));
        put(&mut file, &format!("DTEND;VALUE=DATE:{}", next.strftime("%Y%m%d")));
        put(&mut file, &format!("SUMMARY:{}", text(&entry.title)));
        if !entry.description.is_empty() {
            put(&mut file, &format!("DESCRIPTION:{}", text(&entry.description)));
        }
        put(&mut file, "TRANSP:TRANSPARENT");
        if let Some(days) = remind_days {
            put(&mut file, "BEGIN:VALARM");
            put(&mut file, "ACTION:DISPLAY");
            put(&mut file, &format!("DESCRIPTION:{}", text(&entry.title)));
            put(&mut file, &format!("TRIGGER:-P{days}D"));
            put(&mut file, "END:VALARM");
        }
        put(&mut file, "END:VEVENT");
    }
    put(&mut file, "END:VCALENDAR");
    Ok(file)
}

/// A value of type TEXT (RFC 5545, 3.3.11).
fn text(value: &str) -> String {
    let mut escaped = String::new();
    for sign in value.chars() {
        match sign {
            '\\' | ';' | ',' => escaped.extend(['\\', sign]),
            '\n' => escaped.push_str("\\n"),
            // No other sign that steers a device belongs in a text.
            sign if sign.is_control() => {}
            sign => escaped.push(sign),
        }
    }
    escaped
}

/// Adds a line, folded before its seventy-sixth octet, never inside a character (RFC 5545, 3.1).
fn put(file: &mut String, line: &str) {
    const WIDEST: usize = 75;
    let mut used = 0;
    for sign in line.chars() {
        if used + sign.len_utf8() > WIDEST {
            file.push_str("\r\n ");
            used = 1;
        }
        file.push(sign);
        used += sign.len_utf8();
    }
    file.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 5545, 3.1 and 3.3.11: exactly 75 octets stay whole, the next is folded, a wide character is not cut, and
    /// what is unfolded and unescaped is what was said.
    #[test]
    fn lines_are_folded_and_texts_escaped() {
        for (length, lines) in [(0, 1), (74, 1), (75, 1), (76, 2), (149, 2), (150, 3)] {
            for letter in ["a", "é", "字"] {
                let said = letter.repeat(length / letter.len());
                let mut file = String::new();
                put(&mut file, &said);
                assert!(file.split("\r\n").all(|line| line.len() <= 75), "{length} {letter}: {file:?}");
                assert_eq!(file.replace("\r\n ", ""), format!("{said}\r\n"));
                if letter == "a" {
                    assert_eq!(file.matches("\r\n").count(), lines, "{length}");
                }
            }
        }
        assert_eq!(text("a,b;c\\d\ne\r\u{7}"), "a\\,b\\;c\\\\d\\ne");
    }
}

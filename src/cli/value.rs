//! How figures and days are read on the command line: with or without the unit that the option states, as people write
//! them, and refused with the right form where two readings are possible.
//!
//! Lengths are in [`crate::units`], sizes in `size`: both need a unit, since 18 could be inches or millimetres. Here the option
//! names the unit, so `3000`, `3000K` and `3000 K` are one.

use std::str::FromStr;

use jiff::civil::Date;

/// A colour temperature in kelvin: `3000`, `3000K`.
pub(crate) fn kelvin<T: FromStr>(text: &str) -> Result<T, String> {
    figure(text, &["k", "kelvin"], "a colour temperature in kelvin, like 3000")
}

/// A voltage: `24`, `24V`.
pub(crate) fn volts<T: FromStr>(text: &str) -> Result<T, String> {
    figure(text, &["v", "volt", "volts"], "a voltage in volts, like 24")
}

/// A power: `86.4`, `86.4W`.
pub(crate) fn watts<T: FromStr>(text: &str) -> Result<T, String> {
    figure(text, &["w", "watt", "watts"], "a power in watts, like 86.4")
}

/// An illuminance: `1240`, `1240lx`.
pub(crate) fn lux<T: FromStr>(text: &str) -> Result<T, String> {
    figure(text, &["lx", "lux"], "an illuminance in lux, like 1240")
}

/// A density: `2700`, `2700kg/m3`.
pub(crate) fn density<T: FromStr>(text: &str) -> Result<T, String> {
    figure(text, &["kg/m3", "kg/m³"], "a density in kg/m³, like 2700")
}

/// A share of one: `0.63`, `63%`.
pub(crate) fn share(text: &str) -> Result<f64, String> {
    match text.trim().strip_suffix('%') {
        Some(hundredths) => figure::<f64>(hundredths, &[], "a share, like 0.63 or 63%").map(|v| v / 100.0),
        None => figure(text, &[], "a share, like 0.63 or 63%"),
    }
}

/// A number, with one of the units or none.
fn figure<T: FromStr>(text: &str, units: &[&str], what: &str) -> Result<T, String> {
    let lower = text.trim().to_lowercase();
    let bare = units.iter().filter_map(|unit| lower.strip_suffix(unit)).map(str::trim_end).next();
    let number = bare.unwrap_or(&lower);
    number.parse().map_err(|_| format!("write {what}"))
}

/// A day: `2027-02-15`, also `2027-2-15` and `15.2.2027`. With slashes it is refused: 3/4 is March in one country and
/// April in another.
pub(crate) fn date(text: &str) -> Result<Date, String> {
    const FORM: &str = "write year-month-day, like 2027-02-15";
    let text = text.trim();
    let number = |part: &str, most: usize| -> Option<i16> {
        let digits = !part.is_empty() && part.len() <= most && part.bytes().all(|b| b.is_ascii_digit());
        part.parse().ok().filter(|_| digits)
    };
    let parts = |sign: char| text.split(sign).collect::<Vec<_>>();
    let found = match (parts('-').as_slice(), parts('.').as_slice()) {
        ([year, month, day], _) | (_, [day, month, year]) if year.len() == 4 => {
            number(year, 4).zip(number(month, 2)).zip(number(day, 2))
        }
        _ => None,
    };
    let Some(((year, month), day)) = found else {
        let why = if text.contains('/') {
            "; with slashes, day and month can be mistaken for each other"
        } else {
            ""
        };
        return Err(format!("{FORM}{why}"));
    };
    let date = i8::try_from(month).ok().zip(i8::try_from(day).ok());
    date.and_then(|(month, day)| Date::new(year, month, day).ok())
        .ok_or_else(|| format!("the calendar has no such day; {FORM}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_with_and_without_their_unit() {
        for text in ["3000", "3000K", "3000 K", " 3000k ", "3000kelvin"] {
            assert_eq!(kelvin::<u32>(text), Ok(3000), "{text}");
        }
        assert_eq!(volts::<f64>("230 V"), Ok(230.0));
        assert_eq!(share("63%"), Ok(0.63));
        assert_eq!(share("0.63"), Ok(0.63));
        for text in ["", "K", "3000V", "30 00", "three"] {
            assert!(kelvin::<u32>(text).is_err(), "{text}");
        }
    }

    #[test]
    fn days_as_people_write_them() {
        let day = Date::constant(2027, 2, 5);
        for text in ["2027-02-05", "2027-2-5", "5.2.2027", "05.02.2027", " 2027-02-05 "] {
            assert_eq!(date(text), Ok(day), "{text}");
        }
        for text in [
            "2/5/2027",
            "2027/02/05",
            "5.2.27",
            "2027-02-30",
            "2027-13-01",
            "0-0-0",
            "2027-02",
            "+027-2-5",
            "",
        ] {
            assert!(date(text).is_err(), "{text}");
        }
    }
}

//! Quantities with their unit in the type, and how people write them.
//!
//! SI inside; the command line reads and prints millimetres or inches. This is the ground that every
//! room may stand on: it knows nothing of panels, files or gates. What is deliberately absent:
//! arithmetic between unlike quantities, and any default for a number without a unit.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Millimetres in one inch, exact by definition (international yard and pound agreement, 1959).
pub(crate) const MM_PER_INCH: f64 = 25.4;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// The bare number, in this type's unit.
            #[must_use]
            pub fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", trimmed(self.0, 3), $unit)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serialize_number(self.0, serializer)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                f64::deserialize(deserializer).map($name)
            }
        }
    };
}

quantity!(
    /// A length in millimetres.
    Millimetres,
    "mm"
);
quantity!(
    /// A length in metres.
    Metres,
    "m"
);
quantity!(
    /// Illuminance in lux (lm/m²), or the exitance that a cosine meter reads on a lit face.
    Lux,
    "lx"
);
quantity!(
    /// Electric potential in volts, direct current unless said otherwise.
    Volts,
    "V"
);
quantity!(
    /// Power in watts.
    Watts,
    "W"
);
quantity!(
    /// Current in amperes.
    Amperes,
    "A"
);
quantity!(
    /// Mass in kilograms.
    Kilograms,
    "kg"
);

impl Millimetres {
    /// The length in whole micrometres, the integer form in which a signature seals it.
    ///
    /// Saturates at the ends of `i64`; no panel comes near them.
    #[must_use]
    pub(crate) fn micrometres(self) -> i64 {
        (self.0 * 1000.0).round() as i64
    }

    /// The same length in inches.
    #[must_use]
    pub(crate) fn inches(self) -> f64 {
        self.0 / MM_PER_INCH
    }
}

/// Writes a whole number without a decimal point, so that a file saved twice is the same file.
///
/// # Errors
/// Whatever the serializer reports.
pub(crate) fn serialize_number<S: Serializer>(value: f64, serializer: S) -> Result<S::Ok, S::Error> {
    const EXACT: f64 = 9_007_199_254_740_991.0;
    if value.fract() == 0.0 && value.abs() <= EXACT {
        serializer.serialize_i64(value as i64)
    } else {
        serializer.serialize_f64(value)
    }
}

/// As [`serialize_number`], for a field: `#[serde(serialize_with = "crate::units::number")]`.
///
/// # Errors
/// Whatever the serializer reports.
pub(crate) fn number<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serialize_number(*value, serializer)
}

/// As [`number`], for a field that may be absent.
///
/// # Errors
/// Whatever the serializer reports.
pub(crate) fn optional_number<S: Serializer>(value: &Option<f64>, serializer: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) => serialize_number(*value, serializer),
        None => serializer.serialize_none(),
    }
}

/// A number with at most `places` decimals and no trailing zeros: `3000`, `0.75`, `12.5`.
#[must_use]
pub(crate) fn trimmed(value: f64, places: usize) -> String {
    trimmed_by_integers(value, places).unwrap_or_else(|| trimmed_by_digits(value, places))
}

/// The same, many times as fast; none where the number is too large, or too near to the middle between two answers. A sheet
/// has thousands of numbers.
fn trimmed_by_integers(value: f64, places: usize) -> Option<String> {
    let scale = [1_u64, 10, 100, 1_000, 10_000, 100_000, 1_000_000].get(places)?;
    let scaled = value.abs() * *scale as f64;
    // The product errs by less than a ten-millionth.
    let clear = scaled < 1e9 && (scaled.fract() - 0.5).abs() > 1e-6;
    let steps = clear.then(|| scaled.round() as u64)?;
    let sign = if value < 0.0 && steps > 0 { "-" } else { "" };
    let (whole, mut part, mut width) = (steps / scale, steps % scale, places);
    if part == 0 {
        return Some(format!("{sign}{whole}"));
    }
    while part % 10 == 0 {
        part /= 10;
        width -= 1;
    }
    Some(format!("{sign}{whole}.{part:0width$}"))
}

fn trimmed_by_digits(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".into() } else { text.into() }
}

/// The units in which a book shows lengths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum DisplayUnits {
    /// Millimetres first, inches in brackets.
    #[default]
    Mm,
    /// Inches first, millimetres in brackets.
    In,
}

impl DisplayUnits {
    /// A length as this book shows it: `460 mm` or `18.11 in`.
    #[must_use]
    pub(crate) fn show(self, length: Millimetres) -> String {
        let unit = match self {
            DisplayUnits::Mm => "mm",
            DisplayUnits::In => "in",
        };
        format!("{} {unit}", self.figure(length))
    }

    /// The same without its unit, where another length beside it has one: `460` or `18.11`.
    #[must_use]
    pub(crate) fn figure(self, length: Millimetres) -> String {
        match self {
            DisplayUnits::Mm => trimmed(length.0, 1),
            DisplayUnits::In => trimmed(length.inches(), 2),
        }
    }

    /// A run of tape, wire or edge as this book shows it: `7.5 m` or `24.61 ft`.
    #[must_use]
    pub(crate) fn run(self, length: Metres) -> String {
        format!("{} {}", self.run_figure(length), self.run_unit())
    }

    /// The same without its unit, for a column that has it at its head.
    #[must_use]
    pub(crate) fn run_figure(self, length: Metres) -> String {
        match self {
            DisplayUnits::Mm => trimmed(length.0, 2),
            DisplayUnits::In => trimmed(length.0 * 1000.0 / MM_PER_INCH / 12.0, 2),
        }
    }

    /// The unit of runs: `m` or `ft`.
    #[must_use]
    pub(crate) fn run_unit(self) -> &'static str {
        match self {
            DisplayUnits::Mm => "m",
            DisplayUnits::In => "ft",
        }
    }

    /// A size as this book shows it: `1800 × 700 mm` or `70.87 × 27.56 in`.
    #[must_use]
    pub(crate) fn size(self, [width, height]: [Millimetres; 2]) -> String {
        format!("{} × {}", self.figure(width), self.show(height))
    }

    /// An area as this book shows it: `0.804 m²` or `8.654 ft²`.
    #[must_use]
    pub(crate) fn area(self, area_mm2: f64) -> String {
        let (figure, unit) = self.amount(area_mm2 / 1e6, "m2");
        format!("{figure} {unit}")
    }

    /// An amount of what is bought, `m` and `m2` in this book's units: its figure and its unit.
    #[must_use]
    pub(crate) fn amount(self, value: f64, unit: &str) -> (String, &str) {
        match (unit, self) {
            ("m", DisplayUnits::In) => (self.run_figure(Metres(value)), self.run_unit()),
            ("m2", DisplayUnits::Mm) => (trimmed(value, 3), "m²"),
            ("m2", DisplayUnits::In) => (trimmed(value / (MM_PER_INCH * 0.012).powi(2), 3), "ft²"),
            (one, _) if value == 1.0 => (trimmed(value, 3), one.strip_suffix('s').unwrap_or(one)),
            (many, _) => (trimmed(value, 3), many),
        }
    }

    /// A length in the book's units with the other unit in brackets: `460 mm (18.11 in)`.
    #[must_use]
    pub(crate) fn show_both(self, length: Millimetres) -> String {
        format!("{} ({})", self.show(length), self.other().show(length))
    }

    /// The units that stand in brackets.
    #[must_use]
    pub(crate) fn other(self) -> DisplayUnits {
        match self {
            DisplayUnits::Mm => DisplayUnits::In,
            DisplayUnits::In => DisplayUnits::Mm,
        }
    }
}

impl Millimetres {
    /// For a line that knows no book: both units, `460 mm (18.11 in)`.
    #[must_use]
    pub(crate) fn both(self) -> String {
        DisplayUnits::Mm.show_both(self)
    }
}

impl Metres {
    /// For a line that knows no book: both units, `7.5 m (24.61 ft)`.
    #[must_use]
    pub(crate) fn both(self) -> String {
        format!("{} ({})", DisplayUnits::Mm.run(self), DisplayUnits::In.run(self))
    }
}

/// Why a length on the command line was refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LengthError {
    /// What was typed.
    pub text: String,
    /// What is wrong with it.
    pub reason: &'static str,
}

impl fmt::Display for LengthError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` is not a length: {}; write it with its unit, like 460mm, 1.2m, 18in, 3/4in or 1'6\"",
            self.text, self.reason
        )
    }
}

impl std::error::Error for LengthError {}

impl FromStr for Millimetres {
    type Err = LengthError;

    /// Reads `460mm`, `46cm`, `1.2m`, `18in`, `18"`, `3/4in`, `1 1/2in`, `1'6"`, `6ft`.
    ///
    /// A number without a unit is refused: 18 could be either.
    fn from_str(text: &str) -> Result<Self, LengthError> {
        let refuse = |reason| LengthError { text: text.into(), reason };
        let lower = text.trim().to_lowercase();
        if let Some((feet, rest)) = lower.split_once(['\'', '′']) {
            let rest = rest.trim().trim_end_matches(['"', '″']).trim();
            let inches = if rest.is_empty() {
                0.0
            } else {
                mixed_number(rest).ok_or_else(|| refuse("the inches are not a number"))?
            };
            let feet = mixed_number(feet.trim()).ok_or_else(|| refuse("the feet are not a number"))?;
            return finite((feet * 12.0 + inches) * MM_PER_INCH, refuse);
        }
        let at = lower
            .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '/' | ' ' | '-' | '+')))
            .ok_or_else(|| refuse("it has no unit"))?;
        let (number, unit) = lower.split_at(at);
        let scale = match unit.trim() {
            "mm" => 1.0,
            "cm" => 10.0,
            "m" => 1000.0,
            "in" | "inch" | "inches" | "\"" | "″" => MM_PER_INCH,
            "ft" => 12.0 * MM_PER_INCH,
            _ => return Err(refuse("its unit is not mm, cm, m, in or ft")),
        };
        let number = mixed_number(number.trim()).ok_or_else(|| {
            refuse(if number.contains(',') {
                "its comma could be a decimal or a thousands separator"
            } else {
                "its number cannot be read"
            })
        })?;
        finite(number * scale, refuse)
    }
}

fn finite(value: f64, refuse: impl Fn(&'static str) -> LengthError) -> Result<Millimetres, LengthError> {
    if !value.is_finite() {
        return Err(refuse("it is not a finite number"));
    }
    if value < 0.0 {
        return Err(refuse("a length cannot be negative"));
    }
    Ok(Millimetres(value))
}

/// `18`, `1.5`, `1,5`, `3/4`, `1 1/2` or `1-1/2`. A comma is a decimal sign, and is not read where it could part thousands
/// as well: `1,200`.
fn mixed_number(text: &str) -> Option<f64> {
    if let Some((whole, decimals)) = text.split_once(',') {
        let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        let one_way = digits(whole) && digits(decimals) && (decimals.len() != 3 || whole == "0");
        return one_way.then(|| format!("{whole}.{decimals}").parse().ok()).flatten();
    }
    let Some((before, denominator)) = text.split_once('/') else {
        return text.parse().ok().filter(|_| !text.contains(' '));
    };
    let before = before.trim();
    let (whole, numerator) = match before.rsplit_once([' ', '-']) {
        Some((whole, numerator)) => (whole.trim().parse::<f64>().ok()?, numerator),
        None => (0.0, before),
    };
    let denominator: f64 = denominator.trim().parse().ok()?;
    (denominator != 0.0).then_some(())?;
    Some(whole + numerator.trim().parse::<f64>().ok()? / denominator)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_trimmed_the_same_by_integers_and_by_digits() {
        let mut state = 20_261_128_u64;
        let mut compared = 0;
        for nth in 0..200_000 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let (places, scale) = ((state >> 60) as usize % 8, 10_f64.powi((state >> 56) as i32 % 13 - 6));
            let random = (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5;
            // Ties and their neighbours come up as well.
            let near_tie = f64::from(nth % 2_000 - 1_000) / 2_000.0;
            for value in [random * scale, near_tie, near_tie.next_up(), near_tie * 1e-3, f64::from(nth)] {
                if let Some(text) = trimmed_by_integers(value, places) {
                    assert_eq!(text, trimmed_by_digits(value, places), "{value} to {places} places");
                    compared += 1;
                }
            }
        }
        assert!(compared > 500_000, "{compared}");
        for (value, text) in
            [(-0.0, "0"), (-0.001, "0"), (2.675, "2.67"), (0.125, "0.12"), (1e12, "1000000000000")]
        {
            assert_eq!(trimmed(value, 2), text);
        }
        assert_eq!(trimmed(f64::NAN, 2), "NaN");
    }

    #[test]
    fn lengths_as_people_write_them() {
        for (text, mm) in [
            ("460mm", 460.0),
            ("460 mm", 460.0),
            ("46cm", 460.0),
            ("1.2m", 1200.0),
            ("1,2m", 1200.0),
            ("0,125in", 3.175),
            ("18in", 457.2),
            ("18\"", 457.2),
            ("3/4in", 19.05),
            ("1 1/2in", 38.1),
            ("1-1/2in", 38.1),
            ("1'6\"", 457.2),
            ("1'", 304.8),
            ("6ft", 1828.8),
            ("1' 6 1/2\"", 469.9),
        ] {
            let read: Millimetres = text.parse().unwrap_or_else(|e| panic!("{e}"));
            assert!((read.0 - mm).abs() < 1e-9, "{text}: {} is not {mm}", read.0);
        }
    }

    #[test]
    fn amounts_are_shown_in_the_books_units() {
        let shown = |units: DisplayUnits, value, unit| {
            let (figure, unit) = units.amount(value, unit);
            format!("{figure} {unit}")
        };
        for (value, unit, metric, inches) in [
            (0.0, "m", "0 m", "0 ft"),
            (0.3048, "m", "0.305 m", "1 ft"),
            (0.092_903_04, "m2", "0.093 m²", "1 ft²"),
            (1.0, "pieces", "1 piece", "1 piece"),
            (2.0, "pieces", "2 pieces", "2 pieces"),
            (2.5, "kg", "2.5 kg", "2.5 kg"),
        ] {
            assert_eq!(shown(DisplayUnits::Mm, value, unit), metric);
            assert_eq!(shown(DisplayUnits::In, value, unit), inches);
        }
        assert_eq!(Metres(2.4384).both(), "2.44 m (8 ft)");
        assert_eq!(Millimetres(25.4).both(), "25.4 mm (1 in)");
    }

    #[test]
    fn lengths_that_say_too_little_are_refused() {
        for text in [
            "18",
            "",
            "mm",
            "-5mm",
            "1/0in",
            "ten mm",
            "5 5mm",
            "3furlongs",
            "1,200mm",
            "1,2,3m",
            ",5m",
            "nanmm",
            "1e999mm",
        ] {
            assert!(text.parse::<Millimetres>().is_err(), "{text} was read");
        }
    }

    #[test]
    fn a_book_shows_lengths_sizes_runs_and_areas_in_its_own_units() {
        let (mm, inches) = (DisplayUnits::Mm, DisplayUnits::In);
        assert_eq!([mm, inches].map(|u| u.show(Millimetres(0.0))), ["0 mm", "0 in"]);
        assert_eq!([mm, inches].map(|u| u.show(Millimetres(25.4))), ["25.4 mm", "1 in"]);
        assert_eq!([mm, inches].map(|u| u.run(Metres(0.3048))), ["0.3 m", "1 ft"]);
        let size = [Millimetres(508.0), Millimetres(254.0)];
        assert_eq!([mm, inches].map(|u| u.size(size)), ["508 × 254 mm", "20 × 10 in"]);
        assert_eq!([mm, inches].map(|u| u.area(92_903.04)), ["0.093 m²", "1 ft²"]);
    }

    #[test]
    fn whole_numbers_are_written_whole() {
        let written =
            serde_json::to_string(&[Millimetres(20.0), Millimetres(0.5)]).expect("numbers serialize");
        assert_eq!(written, "[20,0.5]");
    }
}

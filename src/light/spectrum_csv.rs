//! Reading spectra from columns of text: CSV with commas, semicolons, tabs or blanks.
//!
//! The first column is the wavelength in nanometres, each further one a light or a stone. A header row is
//! welcome: `wavelength_nm,relative_power`, `wavelength_nm,transmittance_10mm,transmittance_20mm`. A name
//! ending in `pct`, `percent` or `%` makes its column percent. What the numbers mean is settled in
//! [`super::columns`].

use super::columns::{Column, Fault, MeasurementError, Read};
use super::spectrum::{Spd, Transmittance};
use crate::units::Millimetres;

/// A stone's transmittance with the thickness that its column names.
#[derive(Clone, Debug, PartialEq)]
pub struct StoneColumn {
    /// What the file calls it.
    pub name: String,
    /// The thickness in the column's name (`transmittance_10mm`); none where it names none.
    pub thickness_mm: Option<Millimetres>,
    /// The transmittance at that thickness.
    pub stone: Transmittance,
}

/// Reads every light of a file, each under its column's name.
///
/// # Errors
/// The first thing that is wrong, with its line.
pub fn lights(bytes: &[u8]) -> Result<Read<Vec<(String, Spd)>>, MeasurementError> {
    each(bytes, |column| {
        let read = column.light()?;
        Ok(Read { value: (column.name.clone(), read.value), remarks: read.remarks })
    })
}

/// Reads every stone of a file, with the thickness in its column's name.
///
/// # Errors
/// The first thing that is wrong, with its line.
pub fn stones(bytes: &[u8]) -> Result<Read<Vec<StoneColumn>>, MeasurementError> {
    each(bytes, |column| {
        let read = column.stone()?;
        let thickness_mm = thickness_in(&column.name);
        let value = StoneColumn { name: column.name.clone(), thickness_mm, stone: read.value };
        Ok(Read { value, remarks: read.remarks })
    })
}

fn each<T>(
    bytes: &[u8],
    read: impl Fn(&Column) -> Result<Read<T>, MeasurementError>,
) -> Result<Read<Vec<T>>, MeasurementError> {
    let columns = columns(bytes)?;
    let several = columns.len() > 1;
    let mut all = Read { value: Vec::new(), remarks: Vec::new() };
    for column in &columns {
        let one = read(column)?;
        all.value.push(one.value);
        all.remarks.extend(
            one.remarks.into_iter().map(
                |remark| {
                    if several { format!("{}: {remark}", column.name) } else { remark }
                },
            ),
        );
    }
    Ok(all)
}

/// `transmittance_10mm`, `t 12.5 mm` and `10mm_pct` hold 10, 12.5 and 10 mm.
fn thickness_in(name: &str) -> Option<Millimetres> {
    let lower = name.to_lowercase();
    let before = lower[..lower.find("mm")?].trim_end_matches([' ', '_']);
    let start = before
        .rfind(|c: char| !(c.is_ascii_digit() || c == '.'))
        .map_or(0, |at| at + before[at..].chars().next().map_or(1, char::len_utf8));
    let thickness: f64 = before[start..].parse().ok()?;
    (thickness > 0.0 && thickness.is_finite()).then_some(Millimetres(thickness))
}

/// Splits text into columns of numbers, without judging them.
///
/// # Errors
/// Text that is not UTF-8, an empty file, a header without a wavelength, a field that is no number, a row
/// that is too short.
pub(crate) fn columns(bytes: &[u8]) -> Result<Vec<Column>, MeasurementError> {
    let text = std::str::from_utf8(bytes).map_err(|_| MeasurementError::whole(Fault::NotText))?;
    let text = text.trim_start_matches('\u{feff}');
    let delimiter = delimiter(text);
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .delimiter(delimiter)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut names: Vec<String> = Vec::new();
    let mut columns: Vec<Column> = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| {
            let line = e.position().map_or(1, csv::Position::line);
            MeasurementError::at(line, Fault::NotANumber(e.to_string()))
        })?;
        let line = row.position().map_or(1, csv::Position::line);
        let mut fields: Vec<&str> = row.iter().collect();
        if delimiter == b' ' {
            fields.retain(|field| !field.is_empty());
        }
        while fields.last().is_some_and(|field| field.is_empty()) {
            fields.pop();
        }
        if fields.is_empty() {
            continue;
        }
        if columns.is_empty() && names.is_empty() && number(fields[0], delimiter).is_none() {
            names = header(&fields, line)?;
            continue;
        }
        if fields.len() < 2 {
            return Err(MeasurementError::at(line, Fault::ShortRow));
        }
        if columns.is_empty() {
            columns = (1..fields.len().max(names.len())).map(|i| named(&names, i)).collect();
        }
        if fields.len() < columns.len() + 1 {
            return Err(MeasurementError::at(line, Fault::ShortRow));
        }
        let value = |field: &str| {
            number(field, delimiter)
                .ok_or_else(|| MeasurementError::at(line, Fault::NotANumber(field.into())))
        };
        let nm = value(fields[0])?;
        for (column, field) in columns.iter_mut().zip(&fields[1..]) {
            column.wavelengths_nm.push(nm);
            column.values.push(value(field)?);
            column.lines.push(line);
        }
    }
    if columns.is_empty() { Err(MeasurementError::whole(Fault::Empty)) } else { Ok(columns) }
}

fn header(fields: &[&str], line: u64) -> Result<Vec<String>, MeasurementError> {
    let first = fields[0].to_lowercase();
    let known = ["wavelength", "lambda", "λ", "nm"].iter().any(|word| first.starts_with(word));
    let other_unit = ["µm", "μm", "um", "_m", "angstrom"].iter().any(|unit| first.ends_with(unit));
    if !known || other_unit {
        return Err(MeasurementError::at(line, Fault::NoWavelengthColumn(fields[0].into())));
    }
    Ok(fields.iter().map(ToString::to_string).collect())
}

fn named(names: &[String], at: usize) -> Column {
    let name = names.get(at).filter(|n| !n.is_empty()).cloned().unwrap_or_else(|| format!("column {at}"));
    let lower = name.to_lowercase();
    let percent = ["pct", "percent", "%", "%)", "(%)"].iter().any(|end| lower.ends_with(end));
    Column { name, wavelengths_nm: Vec::new(), values: Vec::new(), lines: Vec::new(), percent }
}

fn number(field: &str, delimiter: u8) -> Option<f64> {
    // Where fields are not split by commas, a comma is the decimal point of much of the world.
    let plain = if delimiter == b',' { field.to_string() } else { field.replace(',', ".") };
    plain.parse::<f64>().ok().filter(|v| v.is_finite())
}

fn delimiter(text: &str) -> u8 {
    let first = text.lines().find(|l| !l.trim().is_empty() && !l.starts_with('#')).unwrap_or("");
    [b';', b'\t', b','].into_iter().find(|d| first.as_bytes().contains(d)).unwrap_or(b' ')
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fmt::Write;

    fn rows(step: usize, value: impl Fn(usize) -> f64) -> String {
        let mut text = String::new();
        for nm in (380..=780).step_by(step) {
            let _ = writeln!(text, "{nm},{}", value(nm));
        }
        text
    }

    fn fault(text: &str) -> MeasurementError {
        stones(text.as_bytes()).err().unwrap_or_else(|| panic!("was read: {text:.60}"))
    }

    #[test]
    fn header_or_none_and_any_usual_delimiter() {
        let plain = rows(5, |nm| nm as f64 / 1000.0);
        let read = stones(plain.as_bytes()).expect("plain columns");
        assert_eq!(read.remarks, Vec::<String>::new());
        for text in [
            format!("wavelength_nm,transmittance\n{plain}"),
            format!("# measured by hand\nWavelength (nm);T\n{}", plain.replace(',', ";").replace('.', ",")),
            format!("nm\tT\n{}", plain.replace(',', "\t")),
            plain.replace(',', "   "),
            format!("\u{feff}{}", plain.replace('\n', "\r\n")),
        ] {
            let other = stones(text.as_bytes()).unwrap_or_else(|e| panic!("{e}: {text:.60}"));
            assert_eq!(other.value[0].stone, read.value[0].stone, "{text:.60}");
        }
        assert!((read.value[0].stone.values()[3] - 0.383).abs() < 1e-9, "a line stays a line");
    }

    #[test]
    fn thickness_and_percent_stand_in_the_name() {
        let mut text = String::from("wavelength_nm,transmittance_10mm_pct,t_12.5mm,bare\n");
        for nm in (380..=780).step_by(10) {
            let _ = writeln!(text, "{nm},9.1,0.05,0.5");
        }
        let read = stones(text.as_bytes()).expect("three columns");
        let found: Vec<_> = read.value.iter().map(|c| c.thickness_mm.map(Millimetres::get)).collect();
        assert_eq!(found, [Some(10.0), Some(12.5), None]);
        assert!((read.value[0].stone.values()[100] - 0.091).abs() < 1e-12);
        assert!(read.remarks.iter().any(|r| r.contains("steps up to 10 nm")), "{:?}", read.remarks);
    }

    #[test]
    fn what_is_wrong_is_named_with_its_line() {
        let reversed: String = rows(5, |_| 0.1).lines().rev().fold(String::new(), |t, l| t + l + "\n");
        let hole: String = rows(5, |_| 0.1)
            .lines()
            .filter(|l| !l.starts_with("55"))
            .fold(String::new(), |t, l| t + l + "\n");
        for (text, code, line) in [
            (String::new(), "spectrum-empty", None),
            ("wavelength_nm,t\n".into(), "spectrum-empty", None),
            ("colour,t\n380,1\n".into(), "spectrum-no-wavelength", Some(1)),
            ("wavelength_um,t\n0.38,1\n".into(), "spectrum-no-wavelength", Some(1)),
            ("0.38,0.1\n0.385,0.1\n".into(), "spectrum-not-nanometres", Some(1)),
            (reversed, "spectrum-order", Some(2)),
            ("380,0.1\n380,0.1\n".into(), "spectrum-order", Some(2)),
            (hole, "spectrum-gap", Some(35)),
            ("450,0.1\n455,0.1\n460,0.2\n".into(), "spectrum-range", None),
            (rows(5, |_| 9.1), "spectrum-percent", Some(1)),
            (rows(5, |_| 1.2), "spectrum-over-one", Some(1)),
            (rows(5, |nm| if nm == 400 { -0.2 } else { 0.1 }), "spectrum-negative", Some(5)),
            ("380,0.1\n385,a\n".into(), "spectrum-not-a-number", Some(2)),
            ("380,nan\n385,1\n".into(), "spectrum-not-a-number", Some(1)),
            ("380\n385\n".into(), "spectrum-short-row", Some(1)),
            ("380,1,2\n385,1\n".into(), "spectrum-short-row", Some(2)),
        ] {
            let error = fault(&text);
            assert_eq!((error.code(), error.line), (code, line), "{error}");
            assert!(!error.remedy().is_empty());
        }
        let latin = lights(b"380,1\n385,\xe9\n").expect_err("not UTF-8");
        assert_eq!(latin.code(), "spectrum-not-text");
        let dark = lights(rows(5, |_| 0.0).as_bytes()).expect_err("dark");
        assert_eq!(dark.code(), "spectrum-dark");
    }

    #[test]
    fn noise_about_zero_is_fixed_and_said() {
        let noisy = rows(5, |nm| if nm < 400 { -0.001 } else { 0.3 });
        let read = stones(noisy.as_bytes()).expect("noise only");
        assert_eq!(read.remarks.len(), 1);
        assert!(read.remarks[0].contains("below zero"));
        assert!(read.value[0].stone.values().iter().all(|t| (0.0..=1.0).contains(t)));
    }
}

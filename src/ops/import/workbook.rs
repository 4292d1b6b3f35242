//! A sheet of a workbook (.xlsx) as rows of text: ECMA-376 part 1, SpreadsheetML. Values as they were last worked out; what
//! cannot be told from them (an error, a formula that nobody worked out, a number merged over several rows) is a fault and
//! never a guess.

use std::collections::HashMap;
use std::io::{Cursor, Read};

use jiff::ToSpan;
use jiff::civil::{Date, date};
use roxmltree::{Document, Node};
use zip::ZipArchive;

use super::file_kind::other_zip;
use super::table::{MOST_ROWS, Rows, fault, too_many};
use crate::fault::Fault;
use crate::words::{counted, instead_of};

/// The most bytes of one part of a workbook, unpacked.
const LARGEST_PART: u64 = 32 << 20;

/// The most columns that are read.
const MOST_COLUMNS: usize = 200;

/// The number formats that show a day, of those that every workbook knows by number (ECMA-376 part 1, 18.8.30).
const DAYS: &[u32] = &[14, 15, 16, 17, 22, 27, 28, 29, 30, 31, 36, 50, 51, 52, 53, 54, 55, 56, 57, 58];

/// A sheet of a workbook.
#[derive(Debug)]
pub(super) struct Sheet {
    /// Its rows that are not empty, each with its number.
    pub(super) rows: Rows,
    /// The sheets that were not read.
    pub(super) others: Vec<String>,
}

/// Reads a sheet: the one that is named, or the first that is not hidden.
///
/// # Errors
/// `schedule`: what cannot be read, or is more than a table may have.
pub(super) fn read(bytes: &[u8], file: &str, wanted: Option<&str>) -> Result<Sheet, Vec<Fault>> {
    let broken = |why: String| {
        let fix = "open it in a spreadsheet program and save it once more as .xlsx, or as CSV (UTF-8)";
        vec![fault(file, format!("this workbook cannot be read: {why}")).fix(fix)]
    };
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(|e| broken(e.to_string()))?;
    let mut part = |name: &str| -> Result<Option<String>, Vec<Fault>> {
        if zip.index_for_name(name).is_none() {
            return Ok(None);
        }
        let entry = zip.by_name(name).map_err(|e| broken(format!("{name}: {e}")))?;
        let mut text = String::new();
        let mut most = entry.take(LARGEST_PART + 1);
        most.read_to_string(&mut text).map_err(|e| broken(format!("{name}: {e}")))?;
        if text.len() as u64 > LARGEST_PART {
            return Err(too_many(file, &format!("{} MB in {name}", LARGEST_PART >> 20)));
        }
        Ok(Some(text))
    };
    let Some(book) = part("xl/workbook.xml")? else {
        let mimetype = part("mimetype").ok().flatten().unwrap_or_default();
        return Err(vec![other_zip(zip.file_names(), &mimetype, file)]);
    };
    let names = part("xl/_rels/workbook.xml.rels")?.unwrap_or_default();
    let (strings, styles) = (part("xl/sharedStrings.xml")?, part("xl/styles.xml")?);
    let book = Document::parse(&book).map_err(|e| broken(format!("xl/workbook.xml: {e}")))?;
    let names = Document::parse(&names).map_err(|e| broken(format!("xl/_rels/workbook.xml.rels: {e}")))?;
    let sheets: Vec<Node<'_, '_>> = of_kind(book.root(), "sheet").collect();
    let shown = |s: &&Node<'_, '_>| !matches!(s.attribute("state"), Some("hidden" | "veryHidden"));
    let called = |s: &Node<'_, '_>| s.attribute("name").unwrap_or_default().to_owned();
    let found = match wanted {
        Some(name) => sheets.iter().find(|s| called(s) == name),
        None => sheets.iter().find(shown),
    };
    let Some(sheet) = found else {
        let all: Vec<String> = sheets.iter().map(called).collect();
        return Err(vec![match wanted {
            Some(name) => fault(file, format!("it has no sheet `{name}`")).fix(instead_of(
                name,
                all.iter().map(String::as_str),
                "leave out --sheet",
            )),
            None => fault(file, "every sheet of it is hidden").fix("name one: --sheet NAME"),
        }]);
    };
    let id = sheet.attributes().find(|a| a.name() == "id" && a.namespace().is_some()).map(|a| a.value());
    let target = of_kind(names.root(), "Relationship").find(|r| r.attribute("Id") == id);
    let target = target
        .and_then(|r| r.attribute("Target"))
        .ok_or_else(|| broken(format!("the sheet `{}` is named and not there", called(sheet))))?;
    let path = target.strip_prefix('/').map_or_else(|| format!("xl/{target}"), str::to_owned);
    let text = part(&path)?.ok_or_else(|| broken(format!("it has no {path}")))?;
    let since_1904 =
        of_kind(book.root(), "workbookPr").any(|p| matches!(p.attribute("date1904"), Some("1" | "true")));
    let values = Values {
        strings: strings.map(|text| shared(&text)).transpose().map_err(&broken)?.unwrap_or_default(),
        days: styles.map(|text| days(&text)).transpose().map_err(&broken)?.unwrap_or_default(),
        since_1904,
    };
    let document = Document::parse(&text).map_err(|e| broken(format!("{path}: {e}")))?;
    let rows = rows(&document, &values, file)?;
    let others = sheets.iter().filter(shown).filter(|s| called(s) != called(sheet)).map(called).collect();
    Ok(Sheet { rows, others })
}

/// What a cell's value has to be looked up in.
struct Values {
    strings: Vec<String>,
    /// For each style of a cell, whether it shows a day.
    days: Vec<bool>,
    since_1904: bool,
}

fn of_kind<'a, 'i: 'a>(node: Node<'a, 'i>, name: &'static str) -> impl Iterator<Item = Node<'a, 'i>> {
    node.descendants().filter(move |n| n.is_element() && n.tag_name().name() == name)
}

/// The text of a string, without what only says how it is read aloud.
fn text_of(node: Node<'_, '_>) -> String {
    let aloud = |n: &Node<'_, '_>| n.ancestors().any(|a| a.tag_name().name() == "rPh");
    of_kind(node, "t").filter(|n| !aloud(n)).filter_map(|t| t.text()).collect()
}

fn shared(text: &str) -> Result<Vec<String>, String> {
    let document = Document::parse(text).map_err(|e| format!("xl/sharedStrings.xml: {e}"))?;
    Ok(of_kind(document.root(), "si").map(text_of).collect())
}

fn days(text: &str) -> Result<Vec<bool>, String> {
    let document = Document::parse(text).map_err(|e| format!("xl/styles.xml: {e}"))?;
    let number = |node: Node<'_, '_>| node.attribute("numFmtId")?.parse::<u32>().ok();
    let own: HashMap<u32, bool> = of_kind(document.root(), "numFmt")
        .filter_map(|f| Some((number(f)?, shows_day(f.attribute("formatCode")?))))
        .collect();
    let shows = |id: u32| own.get(&id).copied().unwrap_or_else(|| DAYS.contains(&id));
    let cells = of_kind(document.root(), "cellXfs").next();
    let styles = cells.into_iter().flat_map(|c| c.children().filter(|n| n.tag_name().name() == "xf"));
    Ok(styles.map(|style| number(style).is_some_and(shows)).collect())
}

/// True for a format with a day or a year in it, outside quoted words and brackets.
fn shows_day(code: &str) -> bool {
    let (mut quoted, mut bracket, mut escaped) = (false, false, false);
    code.chars().any(|c| {
        if std::mem::take(&mut escaped) {
            return false;
        }
        match c {
            '\\' | '_' | '*' => escaped = true,
            '"' => quoted = !quoted,
            '[' if !quoted => bracket = true,
            ']' if !quoted => bracket = false,
            'd' | 'D' | 'y' | 'Y' => return !quoted && !bracket,
            _ => {}
        }
        false
    })
}

/// A place in a sheet: column and row, from 1.
fn place(name: &str) -> Option<(usize, usize)> {
    let letters = name.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (letters, digits) = name.split_at(letters);
    let column = letters.bytes().try_fold(0_usize, |n, b| {
        n.checked_mul(26)?.checked_add(usize::from(b.to_ascii_uppercase() - b'A') + 1)
    })?;
    Some((column, digits.parse().ok()?)).filter(|(column, row)| *column > 0 && *row > 0)
}

fn rows(document: &Document<'_>, values: &Values, file: &str) -> Result<Rows, Vec<Fault>> {
    let mut rows: Vec<(usize, Vec<String>)> = Vec::new();
    let mut faults = Vec::new();
    let mut numbers: Vec<(usize, usize)> = Vec::new();
    for row in of_kind(document.root(), "row") {
        let after = rows.last().map_or(1, |(line, _)| line + 1);
        let line = row.attribute("r").and_then(|r| r.parse().ok()).unwrap_or(after);
        let mut cells: Vec<String> = Vec::new();
        for cell in row.children().filter(|n| n.tag_name().name() == "c") {
            let column = cell.attribute("r").and_then(place).map_or(cells.len() + 1, |(column, _)| column);
            if column > MOST_COLUMNS {
                continue;
            }
            let (text, is_number) = match value(cell, values) {
                Ok(found) => found,
                Err(why) => {
                    let named = cell.attribute("r").unwrap_or("a cell");
                    let fix = "open it in a spreadsheet program, put that right and save it once more";
                    faults.push(fault(file, format!("{named} {why}")).on_line(Some(line)).fix(fix));
                    continue;
                }
            };
            if cells.len() < column {
                cells.resize(column, String::new());
            }
            if is_number {
                numbers.push((column, line));
            }
            cells[column - 1] = text;
        }
        if rows.len() >= MOST_ROWS {
            return Err(too_many(file, &counted(MOST_ROWS, "row", "rows")));
        }
        rows.push((line, cells));
    }
    faults.extend(fill_merged(document, &mut rows, &numbers, file));
    rows.retain(|(_, cells)| cells.iter().any(|cell| !cell.is_empty()));
    if faults.is_empty() { Ok(rows) } else { Err(faults) }
}

/// Gives each row below it what a cell says that is merged over several rows.
fn fill_merged(
    document: &Document<'_>,
    rows: &mut [(usize, Vec<String>)],
    numbers: &[(usize, usize)],
    file: &str,
) -> Vec<Fault> {
    let mut faults = Vec::new();
    for merged in of_kind(document.root(), "mergeCell") {
        let corners = merged.attribute("ref").and_then(|r| r.split_once(':'));
        let Some(((column, top), (_, bottom))) =
            corners.and_then(|(from, to)| Some((place(from)?, place(to)?)))
        else {
            continue;
        };
        let said = rows.iter().find(|(line, _)| *line == top).and_then(|(_, cells)| cells.get(column - 1));
        let Some(said) = said.filter(|said| !said.is_empty() && bottom > top).cloned() else { continue };
        if numbers.contains(&(column, top)) {
            let text = format!(
                "a number is merged over rows {top} to {bottom}: whether it is of each of them or of all together, it does \
                 not say"
            );
            faults.push(fault(file, text).on_line(Some(top)).fix("unmerge it and write it in each row"));
            continue;
        }
        for (_, cells) in rows.iter_mut().filter(|(line, _)| (top + 1..=bottom).contains(line)) {
            if cells.iter().all(String::is_empty) {
                continue;
            }
            if cells.len() < column {
                cells.resize(column, String::new());
            }
            cells[column - 1].clone_from(&said);
        }
    }
    faults
}

/// What a cell shows, and whether it is a number.
fn value(cell: Node<'_, '_>, values: &Values) -> Result<(String, bool), String> {
    let child = |name: &str| cell.children().find(|n| n.tag_name().name() == name);
    let kind = cell.attribute("t").unwrap_or("n");
    if kind == "inlineStr" {
        return Ok((child("is").map(text_of).unwrap_or_default().trim().to_owned(), false));
    }
    let Some(text) = child("v").and_then(|v| v.text()).map(str::trim).filter(|text| !text.is_empty()) else {
        return match child("f") {
            Some(_) if kind != "str" => Err("is a formula that nobody worked out".to_owned()),
            _ => Ok((String::new(), false)),
        };
    };
    match kind {
        "s" => {
            let found = text.parse::<usize>().ok().and_then(|n| values.strings.get(n));
            let found =
                found.ok_or_else(|| format!("names text {text}, which the workbook does not have"))?;
            Ok((found.trim().to_owned(), false))
        }
        "b" => Ok((if text == "1" { "TRUE" } else { "FALSE" }.to_owned(), false)),
        "e" => Err(format!("shows an error: {text}")),
        "str" | "d" => Ok((text.to_owned(), false)),
        _ => {
            let number = text.parse::<f64>().ok().filter(|n| n.is_finite());
            let number = number.ok_or_else(|| format!("holds `{text}`, which is no number"))?;
            let style = cell.attribute("s").and_then(|s| s.parse::<usize>().ok()).unwrap_or(0);
            match values.days.get(style) {
                Some(true) => day(number, values.since_1904)
                    .map(|day| (day.to_string(), false))
                    .ok_or_else(|| format!("holds {text} as a day, and there is no such day")),
                // Fifteen digits, as spreadsheets count: the sixteenth is what binary fractions leave over.
                _ => Ok((format!("{number:.14e}").parse::<f64>().unwrap_or(number).to_string(), true)),
            }
        }
    }
}

/// The day of a serial number. The calendar from 1900 counts a 29 February 1900 that never was.
fn day(serial: f64, since_1904: bool) -> Option<Date> {
    let whole = serial.floor();
    if !(0.0..=2_958_465.0).contains(&whole) {
        return None;
    }
    let begin = match (since_1904, whole < 60.0) {
        (true, _) => date(1904, 1, 1),
        (false, true) => date(1899, 12, 31),
        (false, false) => date(1899, 12, 30),
    };
    begin.checked_add((whole as i64).days()).ok()
}

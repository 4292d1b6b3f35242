//! A table of a spreadsheet: a CSV file, or a sheet of a workbook, as rows of text.

use std::collections::BTreeMap;
use std::fmt::Display;

use super::{CODE, Spreadsheet, file_kind, workbook};
use crate::fault::Fault;
use crate::words::counted;

/// The most rows of a table.
pub(super) const MOST_ROWS: usize = 10_000;

/// A table.
#[derive(Debug)]
pub(super) struct Table {
    file: String,
    /// Its headings, and the line that they stand on.
    heads: (usize, Vec<String>),
    /// Its rows that are not empty, each with its line.
    pub(super) rows: Rows,
    /// The other sheets of its workbook.
    pub(super) others: Vec<String>,
}

/// Which column says what, and the headings that say nothing to us.
#[derive(Debug)]
pub(super) struct Columns<T> {
    found: BTreeMap<T, usize>,
    pub(super) unread: Vec<String>,
}

impl<T: Ord> Columns<T> {
    pub(super) fn has(&self, what: &T) -> bool {
        self.found.contains_key(what)
    }

    /// What a row says; nothing where no column says it.
    pub(super) fn of<'r>(&self, row: &'r [String], what: &T) -> &'r str {
        self.found.get(what).and_then(|at| row.get(*at)).map_or("", String::as_str)
    }
}

impl Table {
    /// Reads a table. The first row with two cells is its headings.
    ///
    /// # Errors
    /// `schedule`: what cannot be read, or is more than a table may have.
    pub(super) fn read(given: &Spreadsheet) -> Result<Table, Vec<Fault>> {
        let (bytes, file) = (given.bytes.as_slice(), given.name.as_str());
        if let Some(fault) = file_kind::neither(bytes, file) {
            return Err(vec![fault]);
        }
        let is_zip = file_kind::is_zip(bytes);
        let (rows, others) = if is_zip {
            let sheet = workbook::read(bytes, file, given.sheet.as_deref())?;
            (sheet.rows, sheet.others)
        } else if given.sheet.is_some() {
            let fix = "leave out --sheet";
            return Err(vec![Fault::usage(CODE, "a text file has no sheets").in_file(file).fix(fix)]);
        } else {
            (of_csv(bytes, file)?, Vec::new())
        };
        let mut rows =
            rows.into_iter().skip_while(|(_, row)| row.iter().filter(|cell| !cell.is_empty()).count() < 2);
        let Some(heads) = rows.next() else {
            return Err(vec![file_kind::no_headings(file, !is_zip)]);
        };
        let rows: Vec<_> = rows.collect();
        if rows.is_empty() {
            return Err(vec![fault(file, "it has no rows").fix("give each a row below the headings")]);
        }
        Ok(Table { file: file.to_owned(), heads, rows, others })
    }

    /// Which column says what: as it was said, or by the headings that are usual.
    ///
    /// # Errors
    /// `schedule`: a heading that was said and is not there.
    pub(super) fn columns<T: Copy + Ord>(
        &self,
        usual: impl Iterator<Item = (T, &'static [&'static str])>,
        said: &[(T, String)],
    ) -> Result<Columns<T>, Vec<Fault>> {
        let plain = |text: &str| text.trim().trim_end_matches('.').to_lowercase();
        let headed = |name: &str| self.heads.1.iter().position(|head| plain(head) == plain(name));
        let mut found = BTreeMap::new();
        let mut faults = Vec::new();
        for (what, heading) in said {
            match headed(heading) {
                Some(at) => drop(found.insert(*what, at)),
                None => faults.push(self.headless(&format!("it has no column headed `{heading}`"), "")),
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        for (what, names) in usual.filter(|(what, _)| !said.iter().any(|(known, _)| known == what)) {
            let taken = |at: &usize| found.values().any(|other| other == at);
            if let Some(at) = names.iter().find_map(|name| headed(name)).filter(|at| !taken(at)) {
                found.insert(what, at);
            }
        }
        let unread = self.heads.1.iter().enumerate();
        let unread = unread.filter(|(at, head)| !head.is_empty() && !found.values().any(|f| f == at));
        let unread = unread.map(|(_, head)| head.clone()).collect();
        Ok(Columns { found, unread })
    }

    /// What is wrong with the headings, beside what they are.
    pub(super) fn headless(&self, text: &str, fix: &str) -> Fault {
        let (line, heads) = &self.heads;
        let heads: Vec<&str> = heads.iter().map(String::as_str).filter(|head| !head.is_empty()).collect();
        let fix = format!("{fix}its columns are: {}", heads.join(", "));
        fault(&self.file, text).on_line(Some(*line)).fix(fix)
    }
}

pub(super) fn fault(file: &str, text: impl Into<String>) -> Fault {
    Fault::data(CODE, text).in_file(file)
}

fn unreadable(file: &str, why: impl Display, line: Option<usize>) -> Vec<Fault> {
    let fix = "save the sheet once more as CSV (UTF-8)";
    vec![fault(file, format!("it cannot be read: {why}")).on_line(line).fix(fix)]
}

pub(super) fn too_many(file: &str, what: &str) -> Vec<Fault> {
    vec![fault(file, format!("it has more than {what}")).fix("take it in parts")]
}

/// Rows that are not empty, each with the number of its line.
pub(super) type Rows = Vec<(usize, Vec<String>)>;

fn of_csv(bytes: &[u8], file: &str) -> Result<Rows, Vec<Fault>> {
    let text = std::str::from_utf8(bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes))
        .map_err(|_| vec![file_kind::no_text(bytes, file)])?;
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter(text))
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Rows::new();
    for record in reader.records() {
        let record = record.map_err(|e| {
            unreadable(file, &e, e.position().map(|p| usize::try_from(p.line()).unwrap_or(0)))
        })?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        if rows.len() > MOST_ROWS {
            return Err(too_many(file, &counted(MOST_ROWS, "row", "rows")));
        }
        let line = record.position().map_or(0, |p| usize::try_from(p.line()).unwrap_or(0));
        rows.push((line, record.iter().map(str::to_owned).collect()));
    }
    Ok(rows)
}

/// What stands between the cells: whatever the first line has most of.
fn delimiter(text: &str) -> u8 {
    let first = text.lines().next().unwrap_or_default();
    let count = |sign: &u8| first.bytes().filter(|byte| byte == sign).count();
    *b",;\t".iter().max_by_key(|sign| (count(sign), **sign == b',')).unwrap_or(&b',')
}

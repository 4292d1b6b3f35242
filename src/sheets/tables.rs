//! Tables that wrap, flow into the free regions of a page, and go on where one is full.

use std::cell::RefCell;
use std::rc::Rc;

use crate::shape::Point;

use super::canvas::{Anchor, Canvas, Reading};
use super::ink::{LEADING, LineStyle, SMALL, SMALL_BOLD};
use super::lettering::{printable, width_mm, wrapped};
use super::paper::Area;

/// Between the text of a cell and its sides, in millimetres.
const PAD_MM: f64 = 1.0;
/// Above and below the lines of a row, in millimetres.
const ROW_PAD_MM: f64 = 0.5;
/// Height of a heading with its space, in millimetres.
const HEADING_MM: f64 = 5.0;
/// Space below a table, in millimetres.
pub(crate) const SPACE_MM: f64 = 2.5;
/// The most lines of one row before it is set as several, so that it can go on elsewhere.
const MOST_LINES: usize = 8;

/// One column of a table.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Column {
    /// Its heading; a table whose columns have none shows none.
    pub heading: String,
    /// Where texts stand in it.
    pub anchor: Anchor,
    /// True where it takes what the others leave, and wraps.
    pub wraps: bool,
}

impl Column {
    /// A column of words.
    #[must_use]
    pub(crate) fn words(heading: &str) -> Self {
        Column { heading: heading.into(), anchor: Anchor::Start, wraps: false }
    }

    /// A column of numbers.
    #[must_use]
    pub(crate) fn numbers(heading: &str) -> Self {
        Column { heading: heading.into(), anchor: Anchor::End, wraps: false }
    }

    /// A column of sentences.
    #[must_use]
    pub(crate) fn sentences(heading: &str) -> Self {
        Column { heading: heading.into(), anchor: Anchor::Start, wraps: true }
    }
}

/// A table, or a numbered list, as rows of texts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Table {
    /// Its heading.
    pub heading: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows, each with a text for every column.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// A list of sentences, numbered from 1.
    #[must_use]
    pub(crate) fn numbered(heading: &str, sentences: &[String]) -> Self {
        Table {
            heading: heading.into(),
            columns: vec![Column::numbers(""), Column::sentences("")],
            rows: sentences
                .iter()
                .enumerate()
                .map(|(i, sentence)| vec![(i + 1).to_string(), sentence.clone()])
                .collect(),
        }
    }

    fn shows_column_headings(&self) -> bool {
        self.columns.iter().any(|c| !c.heading.is_empty())
    }

    fn head_mm(&self) -> f64 {
        let columns = if self.shows_column_headings() { line_mm() + 2.0 * ROW_PAD_MM } else { 0.0 };
        HEADING_MM + columns
    }

    /// Sets the table to a width.
    #[must_use]
    pub(crate) fn set(&self, width_mm_wanted: f64) -> SetTable {
        let texts: Vec<Vec<String>> =
            self.rows.iter().map(|row| row.iter().map(|text| printable(text)).collect()).collect();
        let widths = self.column_widths(&texts, width_mm_wanted);
        let mut rows = Vec::new();
        for row in &texts {
            let cells: Vec<Vec<String>> =
                row.iter().zip(&widths).map(|(text, w)| wrapped(text, SMALL, w - 2.0 * PAD_MM)).collect();
            let lines = cells.iter().map(Vec::len).max().unwrap_or(1);
            for (part, from) in (0..lines).step_by(MOST_LINES).enumerate() {
                let cells: Vec<Vec<String>> = cells
                    .iter()
                    .map(|cell| cell.iter().skip(from).take(MOST_LINES).cloned().collect())
                    .collect();
                let high = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
                let pads = if part == 0 { 2.0 } else { 0.0 };
                let height_mm = high as f64 * line_mm() + pads * ROW_PAD_MM;
                rows.push(SetRow { cells, height_mm, goes_on: part > 0 });
            }
        }
        SetTable { table: self.clone(), widths, rows }
    }

    fn column_widths(&self, texts: &[Vec<String>], whole: f64) -> Vec<f64> {
        let natural: Vec<f64> = (0..self.columns.len())
            .map(|i| {
                let heading = width_mm(&self.columns[i].heading, SMALL_BOLD);
                let cells = texts.iter().flat_map(|row| row[i].split('\n')).map(|t| {
                    // Nothing wider than the table matters, and very long texts are slow to shape.
                    if t.chars().count() > 400 { whole } else { width_mm(t, SMALL) }
                });
                // Wrapping adds up words, which rounds differently from measuring the whole.
                cells.fold(heading, f64::max) + 2.0 * PAD_MM + 0.1
            })
            .collect();
        let total: f64 = natural.iter().sum();
        if total <= whole {
            let spare = whole - total;
            let takers = self.columns.iter().filter(|c| c.wraps).count();
            return natural
                .iter()
                .zip(&self.columns)
                .map(|(w, c)| match takers {
                    0 => w + spare / natural.len() as f64,
                    _ => w + if c.wraps { spare / takers as f64 } else { 0.0 },
                })
                .collect();
        }
        // Columns that are narrower than an even share keep what they need, the others share the rest.
        let mut widths = vec![None; natural.len()];
        loop {
            let taken: f64 = widths.iter().flatten().sum();
            let open = widths.iter().filter(|w| w.is_none()).count();
            let share = (whole - taken) / open.max(1) as f64;
            let next = (0..natural.len()).find(|&i| widths[i].is_none() && natural[i] <= share);
            match next {
                Some(i) => widths[i] = Some(natural[i]),
                None => return widths.iter().map(|w| w.unwrap_or(share)).collect(),
            }
        }
    }
}

fn line_mm() -> f64 {
    LEADING * SMALL.size_mm
}

#[derive(Clone, Debug, PartialEq)]
struct SetRow {
    cells: Vec<Vec<String>>,
    height_mm: f64,
    goes_on: bool,
}

/// A table set to a width, ready to be placed in parts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct SetTable {
    table: Table,
    widths: Vec<f64>,
    rows: Vec<SetRow>,
}

impl SetTable {
    /// How many set rows it has.
    #[must_use]
    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }

    /// How high it stands with its headings and the space below, in millimetres.
    #[must_use]
    pub(crate) fn height_mm(&self) -> f64 {
        self.table.head_mm() + self.rows.iter().map(|r| r.height_mm).sum::<f64>() + SPACE_MM
    }

    /// How many of its rows fit into a height.
    #[must_use]
    pub(crate) fn fitting(&self, height_mm: f64) -> usize {
        let mut left = height_mm - self.table.head_mm();
        self.rows
            .iter()
            .take_while(|row| {
                left -= row.height_mm;
                left >= 0.0
            })
            .count()
    }

    /// Draws its first `count` rows with the top left corner there; returns what they cover.
    pub(crate) fn draw(&self, canvas: &mut Canvas, left: f64, top: f64, count: usize) -> Area {
        let width: f64 = self.widths.iter().sum();
        let right = left + width;
        let heading = printable(&self.table.heading);
        let at = Point::new(left, top + HEADING_MM - 1.5);
        canvas.write(&heading, at, Anchor::Start, SMALL_BOLD, Reading::Level);
        let mut y = top + HEADING_MM;
        canvas.line(Point::new(left, y), Point::new(right, y), LineStyle::Narrow);
        if self.table.shows_column_headings() {
            let headings: Vec<Vec<String>> =
                self.table.columns.iter().map(|c| vec![c.heading.clone()]).collect();
            self.draw_cells(canvas, &headings, left, y + ROW_PAD_MM);
            y += line_mm() + 2.0 * ROW_PAD_MM;
            canvas.line(Point::new(left, y), Point::new(right, y), LineStyle::Narrow);
        }
        for (i, row) in self.rows[..count].iter().enumerate() {
            if i > 0 && !row.goes_on {
                canvas.line(Point::new(left, y), Point::new(right, y), LineStyle::Rule);
            }
            self.draw_cells(canvas, &row.cells, left, y + if row.goes_on { 0.0 } else { ROW_PAD_MM });
            y += row.height_mm;
        }
        canvas.line(Point::new(left, y), Point::new(right, y), LineStyle::Narrow);
        Area { left, top, right, bottom: y + SPACE_MM }
    }

    fn draw_cells(&self, canvas: &mut Canvas, cells: &[Vec<String>], left: f64, top: f64) {
        let mut x = left;
        for ((lines, width), column) in cells.iter().zip(&self.widths).zip(&self.table.columns) {
            let place = match column.anchor {
                Anchor::Start => x + PAD_MM,
                Anchor::Middle => x + width / 2.0,
                Anchor::End => x + width - PAD_MM,
            };
            for (i, line) in lines.iter().enumerate() {
                let baseline = top + line_mm() * i as f64 + SMALL.size_mm * 1.0;
                canvas.write(line, Point::new(place, baseline), column.anchor, SMALL, Reading::Level);
            }
            x += width;
        }
    }
}

/// Regions from the top down and from the left, as they are read: what goes on is never before its beginning.
pub(super) fn in_reading_order(regions: &mut [Region]) {
    regions.sort_by(|a, b| a.area.top.total_cmp(&b.area.top).then(a.area.left.total_cmp(&b.area.left)));
}

/// A region of a page that is filled from the top.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Region {
    /// The whole region.
    pub area: Area,
    /// Down to where it is filled.
    pub filled_to: f64,
}

impl Region {
    /// An empty region.
    #[must_use]
    pub(crate) fn new(area: Area) -> Self {
        Region { area, filled_to: area.top }
    }

    /// How much height is left.
    #[must_use]
    pub(crate) fn left_mm(&self) -> f64 {
        self.area.bottom - self.filled_to
    }
}

/// A table that remembers how it was set to a width: setting is slow, and layouts are tried one after another.
#[derive(Clone, Debug)]
pub(crate) struct Settable {
    table: Table,
    known: RefCell<Vec<(f64, Rc<SetTable>)>>,
}

impl From<Table> for Settable {
    fn from(table: Table) -> Self {
        Settable { table, known: RefCell::default() }
    }
}

impl Settable {
    fn set(&self, width_mm: f64) -> Rc<SetTable> {
        let mut known = self.known.borrow_mut();
        if let Some((_, set)) = known.iter().find(|(w, _)| *w == width_mm) {
            return Rc::clone(set);
        }
        let set = Rc::new(self.table.set(width_mm));
        known.push((width_mm, Rc::clone(&set)));
        set
    }
}

/// Narrower regions hold no table, in millimetres.
const NARROWEST_MM: f64 = 40.0;

/// Draws tables into regions: each whole where a region holds it, else in parts. Returns what did not fit, with
/// the rows that are left of it.
pub(crate) fn flow(canvas: &mut Canvas, tables: &[Settable], regions: &mut [Region]) -> Vec<Settable> {
    let left_over = flow_whole(canvas, tables, regions);
    left_over.iter().filter_map(|table| in_parts(canvas, table, regions)).collect()
}

/// Draws those tables that a region holds whole and returns the others.
pub(crate) fn flow_whole(canvas: &mut Canvas, tables: &[Settable], regions: &mut [Region]) -> Vec<Settable> {
    let mut left_over = Vec::new();
    for table in tables.iter().filter(|t| !t.table.rows.is_empty()) {
        let whole = regions.iter_mut().find(|r| {
            r.area.width() > NARROWEST_MM && table.set(r.area.width()).height_mm() - SPACE_MM <= r.left_mm()
        });
        let Some(region) = whole else {
            left_over.push(table.clone());
            continue;
        };
        let set = table.set(region.area.width());
        region.filled_to = set.draw(canvas, region.area.left, region.filled_to, set.len()).bottom;
    }
    left_over
}

/// Places as many rows as fit, region after region; the rest as a table of its own.
fn in_parts(canvas: &mut Canvas, table: &Settable, regions: &mut [Region]) -> Option<Settable> {
    let mut rest = table.clone();
    for region in regions.iter_mut().filter(|r| r.area.width() > NARROWEST_MM) {
        let set = rest.set(region.area.width());
        let fit = set.fitting(region.left_mm());
        // A heading with a single row below it looks lost, unless there is only one.
        if fit == 0 || (fit < 2 && set.len() > 1 && region.left_mm() < region.area.height()) {
            continue;
        }
        region.filled_to = set.draw(canvas, region.area.left, region.filled_to, fit).bottom;
        let rows = remaining(&rest.table, &set, fit);
        if rows.is_empty() {
            return None;
        }
        let heading = format!("{} (continued)", table.table.heading.trim_end_matches(" (continued)"));
        rest = Table { heading, rows, ..rest.table }.into();
    }
    Some(rest)
}

/// The rows of a table after its first `done` set rows; a row that was broken goes on with its later lines.
fn remaining(table: &Table, set: &SetTable, done: usize) -> Vec<Vec<String>> {
    let whole_rows = set.rows[..done].iter().filter(|r| !r.goes_on).count();
    let mut rest = Vec::new();
    let mut at = done;
    if set.rows.get(done).is_some_and(|r| r.goes_on) {
        let mut cells = vec![Vec::new(); table.columns.len()];
        while let Some(row) = set.rows.get(at).filter(|r| r.goes_on) {
            for (all, more) in cells.iter_mut().zip(&row.cells) {
                all.extend(more.iter().cloned());
            }
            at += 1;
        }
        rest.push(cells.into_iter().map(|lines| lines.join(" ")).collect());
    }
    rest.extend(table.rows[whole_rows..].iter().cloned());
    rest
}

//! Pages filled with tables and diagrams, one after the other, each with its frame, title block and marker.

use super::super::canvas::{Anchor, Canvas, Reading, number};
use super::super::content::drawn_with;
use super::super::frame::draw_frame;
use super::super::ink::{LineStyle, MARKER, NAME, SMALL};
use super::super::lettering::{fitted, printable};
use super::super::paper::{Area, Page};
use super::super::scale::units_in_words;
use super::super::sheet::usual_paper;
use super::super::tables::{Region, Settable, Table, flow};
use super::super::title_block::{TITLE_BLOCK_HEIGHT_MM, TitleBlock};
use super::circuit::Diagram;
use super::input::PackInput;
use super::places::DriverPlace;
use crate::markup::escaped;
use crate::shape::Point;

/// What every page of a pack says across its top until the job is released.
pub(super) const NOT_RELEASED: &str = "NOT RELEASED – do not build, buy or install from this page";

/// Space inside the frame, in millimetres.
const MARGIN_MM: f64 = 3.0;
/// Height of the marker, in millimetres.
const MARKER_MM: f64 = 9.0;
/// Height of a chapter's heading, in millimetres.
const HEADING_MM: f64 = 8.5;
/// The side of the code, in millimetres: read at arm's length, also from a page that was handled.
const CODE_MM: f64 = 28.0;
/// A chapter does not begin where less is left, in millimetres.
const LEAST_START_MM: f64 = 45.0;

/// A part of a chapter.
pub(super) enum Block {
    /// A table.
    Table(Table),
    /// Two tables beside each other where both have room so, else one below the other.
    Beside(Table, Table),
    /// A table with the pack's code at its right.
    Coded(Table),
    /// A circuit diagram.
    Circuit(Box<Diagram>),
    /// A sketch of where a driver stands.
    Place(Box<DriverPlace>),
}

/// A chapter of the pack.
pub(super) struct Chapter {
    /// Its title.
    pub(super) title: String,
    /// True where it begins a page.
    pub(super) own_page: bool,
    /// Its parts, in order.
    pub(super) blocks: Vec<Block>,
}

struct Sheet {
    canvas: Canvas,
    title: String,
    region: Region,
}

/// Sets the chapters on pages; returns each page as SVG with its size.
pub(super) fn compose(input: &PackInput<'_>, chapters: Vec<Chapter>) -> Vec<(String, (f64, f64))> {
    let page = Page { paper: usual_paper(input.units), standing: true };
    let mut sheets: Vec<Sheet> = Vec::new();
    for chapter in chapters {
        let begin = match sheets.last() {
            None => true,
            Some(sheet) => chapter.own_page || sheet.region.left_mm() < LEAST_START_MM,
        };
        if begin {
            sheets.push(new_sheet(input, page, &chapter.title));
        }
        let mut continued = false;
        for block in chapter.blocks {
            if let Some(sheet) = sheets.last_mut()
                && !continued
            {
                heading(sheet, &chapter.title);
                continued = true;
            }
            place(input, page, &chapter.title, block, &mut sheets);
        }
    }
    let count = sheets.len() + input.sheets.len();
    let size = (page.area().width(), page.area().height());
    let mut done: Vec<(String, (f64, f64))> = sheets
        .into_iter()
        .enumerate()
        .map(|(at, mut sheet)| {
            let frame = page.frame();
            let number = format!("{}/{count}", at + 1);
            title_block(input, page, &sheet.title, number).draw(&mut sheet.canvas, frame.right, frame.bottom);
            (sheet.canvas.svg(), size)
        })
        .collect();
    done.extend(input.sheets.iter().map(|sheet| (marked(input, &sheet.svg, sheet.size_mm), sheet.size_mm)));
    done
}

fn new_sheet(input: &PackInput<'_>, page: Page, title: &str) -> Sheet {
    let mut canvas = Canvas::new(page.area(), &format!("{} – {title}", input.heading.title));
    let frame = draw_frame(&mut canvas, page);
    let mut top = frame.top;
    if input.release.is_none() {
        marker(&mut canvas, Area { bottom: top + MARKER_MM, ..frame });
        top += MARKER_MM;
    }
    let area = Area {
        left: frame.left + MARGIN_MM,
        right: frame.right - MARGIN_MM,
        top: top + 1.5,
        bottom: frame.bottom - TITLE_BLOCK_HEIGHT_MM - 1.5,
    };
    Sheet { canvas, title: title.to_owned(), region: Region::new(area) }
}

fn marker(canvas: &mut Canvas, place: Area) {
    canvas.open("marker");
    canvas.rectangle(place, LineStyle::Lit);
    if let Some(set) = fitted(NOT_RELEASED, MARKER, 2.5, place.width() - 4.0, place.height() - 1.0) {
        let at = Point::new(
            (place.left + place.right) / 2.0,
            place.top + place.height() / 2.0 + 0.36 * set.lettering.size_mm,
        );
        if let Some(line) = set.lines.first() {
            canvas.write(line, at, Anchor::Middle, set.lettering, Reading::Level);
        }
    }
    canvas.close();
}

/// A filed sheet with the marker in its upper margin: the sheet itself is signed as it is and stays so.
fn marked(input: &PackInput<'_>, svg: &str, (width, _): (f64, f64)) -> String {
    let words = match &input.release {
        Some(release) => {
            format!("RELEASED by {} – build from this sheet; it stands as it was signed", release.who)
        }
        None => NOT_RELEASED.to_owned(),
    };
    let (middle, wide) = (number(width / 2.0), number(width - 40.0));
    let marker = format!(
        "<g id=\"pack-marker\"><rect x=\"20\" y=\"2\" width=\"{wide}\" height=\"6\" fill=\"#fff\" stroke=\"#000\" \
         stroke-width=\"0.7\"/><text class=\"bold\" x=\"{middle}\" y=\"6.3\" font-size=\"3.5\" \
         text-anchor=\"middle\">{}</text></g>\n</svg>",
        escaped(&words)
    );
    match svg.rfind("</svg>") {
        Some(end) => format!("{}{marker}\n", &svg[..end]),
        None => svg.to_owned(),
    }
}

fn heading(sheet: &mut Sheet, title: &str) {
    let region = &mut sheet.region;
    let at = Point::new(region.area.left, region.filled_to + 5.0);
    sheet.canvas.write(&printable(title), at, Anchor::Start, NAME, Reading::Level);
    region.filled_to += HEADING_MM;
}

fn place(input: &PackInput<'_>, page: Page, title: &str, block: Block, sheets: &mut Vec<Sheet>) {
    match block {
        Block::Table(table) => {
            let mut rest: Vec<Settable> = vec![table.into()];
            while let Some(sheet) = sheets.last_mut() {
                let mut regions = [sheet.region];
                rest = flow(&mut sheet.canvas, &rest, &mut regions);
                sheet.region = regions[0];
                if rest.is_empty() {
                    return;
                }
                sheets.push(new_sheet(input, page, title));
            }
        }
        Block::Beside(first, second) => {
            let Some(sheet) = sheets.last_mut() else { return };
            let area = sheet.region.area;
            let half = (area.width() - 2.0 * MARGIN_MM) / 2.0;
            let (left, right) = (first.set(half), second.set(half));
            let high = left.height_mm().max(right.height_mm());
            if high > area.height() {
                for table in [first, second] {
                    place(input, page, title, Block::Table(table), sheets);
                }
                return;
            }
            if high > sheet.region.left_mm() {
                sheets.push(new_sheet(input, page, title));
            }
            let Some(sheet) = sheets.last_mut() else { return };
            let top = sheet.region.filled_to;
            left.draw(&mut sheet.canvas, area.left, top, left.len());
            right.draw(&mut sheet.canvas, area.left + half + 2.0 * MARGIN_MM, top, right.len());
            sheet.region.filled_to += high;
        }
        Block::Coded(table) => {
            let Some(sheet) = sheets.last_mut() else { return };
            let area = sheet.region.area;
            let set = table.set(area.width() - CODE_MM - 2.0 * MARGIN_MM);
            let high = set.height_mm().max(CODE_MM + 2.0 * MARGIN_MM);
            if high > area.height() {
                return place(input, page, title, Block::Table(table), sheets);
            }
            if high > sheet.region.left_mm() {
                sheets.push(new_sheet(input, page, title));
            }
            let Some(sheet) = sheets.last_mut() else { return };
            let top = sheet.region.filled_to;
            set.draw(&mut sheet.canvas, area.left, top, set.len());
            let _ = input.code.draw(&mut sheet.canvas, area.right - CODE_MM, top, CODE_MM, SMALL);
            sheet.region.filled_to += high;
        }
        Block::Place(driver) => {
            let Some(sheet) = sheets.last() else { return };
            if driver.height_mm() > sheet.region.left_mm() {
                sheets.push(new_sheet(input, page, title));
            }
            let Some(sheet) = sheets.last_mut() else { return };
            let area = sheet.region.area;
            driver.draw(&mut sheet.canvas, area.left, sheet.region.filled_to, area.width());
            sheet.region.filled_to += driver.height_mm();
        }
        Block::Circuit(diagram) => {
            let mut left = Some(*diagram);
            while let Some(diagram) = left {
                let Some(sheet) = sheets.last_mut() else { return };
                let (whole, width) = (sheet.region.area.height(), sheet.region.area.width());
                if diagram.height_mm(width) > sheet.region.left_mm() && sheet.region.left_mm() < whole {
                    sheets.push(new_sheet(input, page, title));
                    left = Some(diagram);
                    continue;
                }
                let (now, later) = diagram.fitting(width, whole);
                now.draw(&mut sheet.canvas, sheet.region.area.left, sheet.region.filled_to, width);
                sheet.region.filled_to += now.height_mm(width);
                left = later;
                if left.is_some() {
                    sheets.push(new_sheet(input, page, title));
                }
            }
        }
    }
}

fn title_block(input: &PackInput<'_>, page: Page, title: &str, sheet: String) -> TitleBlock {
    let heading = &input.heading;
    let (status, approved) = match &input.release {
        Some(release) => {
            (format!("Released {}", release.when.get(..10).unwrap_or(&release.when)), release.who.clone())
        }
        None => ("NOT RELEASED".into(), "none yet".into()),
    };
    TitleBlock {
        legal_owner: heading.shop.clone(),
        title: title.to_owned(),
        identification: format!("{} / pack", input.data.project),
        revision: String::new(),
        date_of_issue: heading.date_of_issue.clone(),
        language: "en".into(),
        sheet,
        creator: drawn_with(),
        approved_by: approved,
        document_type: "Build pack".into(),
        status,
        project: heading.title.clone(),
        client: heading.client.clone(),
        scale: "none".into(),
        paper: page.paper.name().into(),
        units: units_in_words(input.units).into(),
        tolerance: "see sheets".into(),
        foot: format!(
            "Data SHA-256 {}…   Drawn with {}",
            input.sha256.get(..16).unwrap_or_default(),
            drawn_with()
        ),
    }
}

//! The order sheet of test panels: each request with what is to be made, for what stone, where it goes and by when, and
//! boxes to tick at the bench.

use super::super::canvas::{Anchor, Canvas, Reading};
use super::super::ink::{ABOVE, LEADING, Lettering, LineStyle, MARKER, NAME, SMALL};
use super::super::lettering::{fitted, printable, width_mm, wrapped};
use super::super::paper::{Area, Page};
use super::super::qr::Code;
use super::super::sheet::usual_paper;
use crate::shape::Point;
use crate::units::DisplayUnits;

/// From the paper's edge to what is printed, in millimetres.
const MARGIN_MM: f64 = 15.0;
/// The column of boxes, and one box, in millimetres.
const BOXES_MM: f64 = 34.0;
const BOX_MM: f64 = 3.6;
/// The side of the QR code, in millimetres.
const CODE_MM: f64 = 24.0;
/// What is done to a test panel, in order.
const DONE: [&str; 5] = ["made", "lit and looked at", "labelled", "packed", "sent, recorded"];

/// One request on the sheet. Texts are as people wrote them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Ordered {
    /// Job and request.
    pub(crate) headline: String,
    /// By when, and whether that is past.
    pub(crate) due: String,
    /// Label and value, in order.
    pub(crate) facts: Vec<(String, String)>,
}

/// Everything on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct OrderSheet {
    /// The units shown first, by which paper is chosen.
    pub(crate) units: DisplayUnits,
    /// The shop.
    pub(crate) shop: String,
    /// What is on it, in a sentence.
    pub(crate) summary: String,
    /// The requests, the most pressing first.
    pub(crate) requests: Vec<Ordered>,
    /// What a telephone's camera opens.
    pub(crate) code: Code,
    /// The line at the foot.
    pub(crate) foot: String,
}

/// The pages as SVG, each with its size in millimetres.
pub(crate) fn draw_order_sheet(sheet: &OrderSheet) -> Vec<(String, (f64, f64))> {
    let page = Page { paper: usual_paper(sheet.units), standing: true }.area();
    let inside = page.grown(-MARGIN_MM);
    let bottom = inside.bottom - 8.0;
    let mut pages: Vec<Canvas> = Vec::new();
    let mut y = f64::INFINITY;
    for request in &sheet.requests {
        let set = Ticket::new(request, inside);
        if y + set.height_mm > bottom {
            let mut canvas = Canvas::new(page, &sheet.summary);
            y = head(&mut canvas, sheet, inside, pages.is_empty());
            pages.push(canvas);
        }
        if let Some(canvas) = pages.last_mut() {
            set.draw(canvas, inside, y);
            y += set.height_mm;
        }
    }
    let count = pages.len();
    let size = (page.width(), page.height());
    let finish = |(at, mut canvas): (usize, Canvas)| {
        let base = inside.bottom;
        canvas.line(
            Point::new(inside.left, base - 5.0),
            Point::new(inside.right, base - 5.0),
            LineStyle::Rule,
        );
        let left = Point::new(inside.left, base - 1.0);
        canvas.write(&printable(&sheet.foot), left, Anchor::Start, SMALL, Reading::Level);
        let number = format!("page {} of {count}", at + 1);
        canvas.write(&number, Point::new(inside.right, base - 1.0), Anchor::End, SMALL, Reading::Level);
        (canvas.svg(), size)
    };
    pages.into_iter().enumerate().map(finish).collect()
}

/// The heading of a page; returns where the requests begin.
fn head(canvas: &mut Canvas, sheet: &OrderSheet, inside: Area, first: bool) -> f64 {
    let wide = inside.width() - if first { CODE_MM + 4.0 } else { 0.0 };
    let mut y = inside.top;
    let mut line = |canvas: &mut Canvas, text: &str, lettering: Lettering| {
        if let Some(set) = fitted(&printable(text), lettering, 2.0, wide, 12.0) {
            for line in &set.lines {
                y += LEADING * set.lettering.size_mm;
                canvas.write(line, Point::new(inside.left, y), Anchor::Start, set.lettering, Reading::Level);
            }
            y += 0.2 * set.lettering.size_mm;
        }
    };
    let title = Lettering { size_mm: 1.4 * MARKER.size_mm, ..MARKER };
    line(canvas, "Test panels to make and send", if first { title } else { NAME });
    if first {
        line(canvas, &sheet.shop, NAME);
        line(canvas, &sheet.summary, Lettering { size_mm: 3.0, ..SMALL });
        let left = inside.right - CODE_MM;
        let under = sheet.code.draw(canvas, left, inside.top - 2.0, CODE_MM, SMALL);
        y = y.max(under);
    }
    y + 3.0
}

/// One request, set to the page's width.
struct Ticket<'r> {
    request: &'r Ordered,
    /// A label with the lines of its value.
    facts: Vec<(&'r str, Vec<String>)>,
    label_mm: f64,
    height_mm: f64,
}

const FACT: Lettering = Lettering { size_mm: 3.0, ..SMALL };
const FACT_LINE_MM: f64 = LEADING * FACT.size_mm;
const HEAD_MM: f64 = 8.5;

impl<'r> Ticket<'r> {
    fn new(request: &'r Ordered, inside: Area) -> Self {
        let label_mm = request.facts.iter().map(|(label, _)| width_mm(label, FACT)).fold(0.0, f64::max) + 3.0;
        let wide = inside.width() - BOXES_MM - label_mm - 3.0;
        let set =
            |(label, value): &'r (String, String)| (label.as_str(), wrapped(&printable(value), FACT, wide));
        let facts: Vec<_> = request.facts.iter().map(set).collect();
        let lines: usize = facts.iter().map(|(_, lines)| lines.len()).sum();
        let boxes = DONE.len() as f64 * (BOX_MM + 1.6);
        let height_mm = HEAD_MM + (lines as f64 * FACT_LINE_MM).max(boxes) + 4.0;
        Ticket { request, facts, label_mm, height_mm }
    }

    fn draw(&self, canvas: &mut Canvas, inside: Area, top: f64) {
        canvas.line(Point::new(inside.left, top), Point::new(inside.right, top), LineStyle::Outline);
        let base = top + 1.5 + ABOVE * NAME.size_mm;
        let due = printable(&self.request.due);
        canvas.write(&due, Point::new(inside.right, base), Anchor::End, NAME, Reading::Level);
        let wide = inside.width() - width_mm(&due, NAME) - 4.0;
        let headline = fitted(&printable(&self.request.headline), NAME, 1.8, wide, 6.5);
        for (row, line) in headline.iter().flat_map(|set| set.lines.iter().map(move |l| (set, l))).enumerate()
        {
            let (set, line) = line;
            let at = Point::new(inside.left, base + row as f64 * LEADING * set.lettering.size_mm);
            canvas.write(line, at, Anchor::Start, set.lettering, Reading::Level);
        }
        let mut y = top + HEAD_MM;
        for (label, lines) in &self.facts {
            let at = Point::new(inside.left, y + ABOVE * FACT.size_mm);
            canvas.write(&printable(label), at, Anchor::Start, FACT, Reading::Level);
            for line in lines {
                let at = Point::new(inside.left + self.label_mm, y + ABOVE * FACT.size_mm);
                canvas.write(line, at, Anchor::Start, FACT, Reading::Level);
                y += FACT_LINE_MM;
            }
        }
        let left = inside.right - BOXES_MM;
        let mut y = top + HEAD_MM;
        for done in DONE {
            canvas.rectangle(Area::new(left, y, BOX_MM, BOX_MM), LineStyle::Narrow);
            let at = Point::new(left + BOX_MM + 2.0, y + BOX_MM - 0.6);
            canvas.write(done, at, Anchor::Start, SMALL, Reading::Level);
            y += BOX_MM + 1.6;
        }
    }
}

//! One label: a black band, a headline, facts beside a QR code, and below them what to do and what to mind.

use super::super::canvas::{Anchor, Canvas, Reading};
use super::super::error::SheetError;
use super::super::ink::{ABOVE, LEADING, Lettering, LineStyle, SMALL, SMALL_BOLD};
use super::super::lettering::{fitted, printable, width_mm, wrapped};
use super::super::paper::Area;
use super::super::qr::Code;
use crate::shape::Point;

/// From the paper's edge to what is printed, in millimetres: what a label printer can be off by.
const MARGIN_MM: f64 = 3.5;
/// Letters are tried from this share of the sheets' small lettering down to the least that is still read at arm's length.
const SCALES: std::ops::RangeInclusive<u32> = 11..=32;
/// How many of [`SCALES`] are the small lettering itself.
const WHOLE: f64 = 18.0;

/// What stands on a label. Texts are as people wrote them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Label {
    /// Width and height of the paper, in millimetres.
    pub(crate) size_mm: (f64, f64),
    /// What it is on, in the band.
    pub(crate) kind: String,
    /// Whose it is, at the band's right.
    pub(crate) shop: String,
    /// What tells this one from the others.
    pub(crate) headline: String,
    /// Label and value in order. An empty value is a line to write on.
    pub(crate) facts: Vec<(String, String)>,
    /// What to do, in order.
    pub(crate) steps: Vec<String>,
    /// What to mind.
    pub(crate) cautions: Vec<String>,
    /// What a telephone's camera opens.
    pub(crate) code: Code,
    /// The line at the foot.
    pub(crate) foot: String,
}

/// A label as SVG, its letters as large as the paper allows.
///
/// # Errors
/// [`SheetError::LabelTooSmall`] where the least legible letters do not fit.
pub(crate) fn draw_label(label: &Label) -> Result<String, SheetError> {
    let (width_mm, height_mm) = label.size_mm;
    let fits = |scale: u32| Setter::new(label, f64::from(scale) / WHOLE).draw();
    SCALES.rev().find_map(fits).ok_or(SheetError::LabelTooSmall { width_mm, height_mm })
}

/// A label being set at one size of letters.
struct Setter<'l> {
    label: &'l Label,
    canvas: Canvas,
    inside: Area,
    text: Lettering,
    bold: Lettering,
    small: Lettering,
    /// The QR code with its caption: text below `right` of it keeps clear of it.
    code: Area,
    y: f64,
}

impl<'l> Setter<'l> {
    fn new(label: &'l Label, scale: f64) -> Self {
        let (width, height) = label.size_mm;
        let page = Area::new(0.0, 0.0, width, height);
        let sized =
            |lettering: Lettering, by: f64| Lettering { size_mm: lettering.size_mm * by, ..lettering };
        Setter {
            label,
            canvas: Canvas::new(page, &format!("{}: {}", label.kind, label.headline)),
            inside: page.grown(-MARGIN_MM),
            text: sized(SMALL, scale),
            bold: sized(SMALL_BOLD, scale),
            // Captions need not grow with the rest.
            small: sized(SMALL, (0.85 * scale).clamp(0.55, 0.85)),
            code: page,
            y: 0.0,
        }
    }

    fn line_mm(&self) -> f64 {
        LEADING * self.text.size_mm
    }

    fn draw(mut self) -> Option<String> {
        self.band()?;
        self.code_box();
        let above = self.y;
        self.headline()?;
        for (label, value) in &self.label.facts {
            self.fact(label, value);
        }
        self.y = if self.label.steps.is_empty() && self.label.cautions.is_empty() {
            self.y.max(self.code.bottom)
        } else {
            self.y.max(self.code.bottom) + 0.4 * self.line_mm()
        };
        self.lists();
        let foot = self.foot()?;
        let widest = self.canvas.texts().iter().all(|t| self.inside.grown(0.01).holds(&t.area));
        (self.y <= foot && widest && above < self.code.bottom).then(|| self.canvas.svg())
    }

    /// The band across the top.
    fn band(&mut self) -> Option<()> {
        let (size, page) = (self.bold.size_mm, self.inside.grown(MARGIN_MM));
        let height = MARGIN_MM + 2.3 * size;
        self.canvas.shade(Area { bottom: height, ..page }, 0);
        let base = MARGIN_MM + 0.5 * size + ABOVE * size;
        let kind = Lettering { size_mm: 1.35 * size, ..self.bold };
        let text = printable(&self.label.kind);
        let used = width_mm(&text, kind) + 4.0;
        self.canvas.write_white(&text, Point::new(self.inside.left, base), Anchor::Start, kind);
        let shop = fitted(
            &printable(&self.label.shop),
            self.text,
            0.6 * self.text.size_mm,
            self.inside.width() - used,
            2.0 * size,
        )?;
        let [line] = shop.lines.as_slice() else { return None };
        self.canvas.write_white(line, Point::new(self.inside.right, base), Anchor::End, shop.lettering);
        self.y = height + 0.6 * self.line_mm();
        Some(())
    }

    /// The code at the upper right, with its caption.
    fn code_box(&mut self) {
        let side = (0.36 * self.inside.height().min(self.inside.width())).clamp(15.0, 34.0);
        let left = self.inside.right - side;
        let y = self.label.code.draw(&mut self.canvas, left, self.y - 1.0, side, self.small);
        self.code = Area { left: left - 2.0, top: self.y, right: self.inside.right, bottom: y + 0.5 };
    }

    /// How far a line of text may reach at a height.
    fn reach(&self, from: f64) -> f64 {
        if self.y < self.code.bottom { self.code.left - from } else { self.inside.right - from }
    }

    fn headline(&mut self) -> Option<()> {
        let wish = Lettering { size_mm: 2.1 * self.bold.size_mm, ..self.bold };
        let left = self.inside.left;
        let set = fitted(
            &printable(&self.label.headline),
            wish,
            1.2 * self.bold.size_mm,
            self.reach(left),
            0.3 * self.inside.height(),
        )?;
        for line in &set.lines {
            self.y += ABOVE * set.lettering.size_mm;
            self.canvas.write(line, Point::new(left, self.y), Anchor::Start, set.lettering, Reading::Level);
            self.y += (LEADING - ABOVE) * set.lettering.size_mm;
        }
        self.y += 0.25 * self.line_mm();
        Some(())
    }

    /// A label with its value beside it, as wide as there is room at each line.
    fn fact(&mut self, label: &str, value: &str) {
        let widest = self.label.facts.iter().map(|(label, _)| width_mm(label, self.text)).fold(0.0, f64::max);
        let left = self.inside.left + widest + 1.2 * self.text.size_mm;
        let base = |y: f64, size: f64| y + ABOVE * size;
        // Beside the code there may be no room for a word.
        if self.y < self.code.bottom && self.reach(left) < 9.0 * self.text.size_mm {
            self.y = self.code.bottom;
        }
        let at = Point::new(self.inside.left, base(self.y, self.text.size_mm));
        self.canvas.write(&printable(label), at, Anchor::Start, self.text, Reading::Level);
        if value.is_empty() {
            let under = at.y + 0.2 * self.text.size_mm;
            let right = left + self.reach(left).min(16.0 * self.text.size_mm);
            self.canvas.line(Point::new(left, under), Point::new(right, under), LineStyle::Rule);
            self.y += 1.15 * self.line_mm();
            return;
        }
        let mut rest = printable(value).replace('\n', ", ");
        while !rest.is_empty() {
            let lines = wrapped(&rest, self.bold, self.reach(left));
            let Some(line) = lines.first().filter(|line| !line.is_empty()) else { return };
            let place = Point::new(left, base(self.y, self.text.size_mm));
            self.canvas.write(line, place, Anchor::Start, self.bold, Reading::Level);
            rest = rest[line.len().min(rest.len())..].trim_start().to_owned();
            self.y += self.line_mm();
        }
        self.y += 0.12 * self.line_mm();
    }

    /// Steps and cautions beside each other where both are, each below a heading.
    fn lists(&mut self) {
        let numbered = |(at, text): (usize, &String)| (format!("{}.", at + 1), text.clone());
        let steps: Vec<_> = self.label.steps.iter().enumerate().map(numbered).collect();
        let cautions: Vec<_> = self.label.cautions.iter().map(|c| ("–".to_owned(), c.clone())).collect();
        let gap = 2.0 * self.text.size_mm;
        let parts = [("To serve it", steps), ("Take care", cautions)];
        let parts: Vec<_> = parts.into_iter().filter(|(_, lines)| !lines.is_empty()).collect();
        if parts.is_empty() {
            return;
        }
        let many = parts.len() as f64;
        let width = (self.inside.width() - gap * (many - 1.0)) / many;
        let (top, mut lowest) = (self.y, self.y);
        self.rule(top);
        for (column, (heading, lines)) in parts.into_iter().enumerate() {
            let left = self.inside.left + column as f64 * (width + gap);
            let mut y = top + 0.35 * self.line_mm();
            if many > 1.0 {
                let at = Point::new(left, y + ABOVE * self.bold.size_mm);
                self.canvas.write(heading, at, Anchor::Start, self.bold, Reading::Level);
                y += self.line_mm();
            }
            let indent = width_mm("3. ", self.text);
            for (mark, text) in lines {
                for (row, line) in wrapped(&printable(&text), self.text, width - indent).iter().enumerate() {
                    let base = y + ABOVE * self.text.size_mm;
                    if row == 0 {
                        self.canvas.write(
                            &mark,
                            Point::new(left, base),
                            Anchor::Start,
                            self.text,
                            Reading::Level,
                        );
                    }
                    self.canvas.write(
                        line,
                        Point::new(left + indent, base),
                        Anchor::Start,
                        self.text,
                        Reading::Level,
                    );
                    y += self.line_mm();
                }
            }
            lowest = lowest.max(y);
        }
        self.y = lowest;
    }

    /// The foot; returns down to where the rest may reach.
    fn foot(&mut self) -> Option<f64> {
        let lines = wrapped(&printable(&self.label.foot), self.small, self.inside.width());
        let line = LEADING * self.small.size_mm;
        let top = self.inside.bottom - line * lines.len() as f64;
        let mut y = top;
        for text in &lines {
            let at = Point::new(self.inside.left, y + ABOVE * self.small.size_mm);
            self.canvas.write(text, at, Anchor::Start, self.small, Reading::Level);
            y += line;
        }
        self.rule(top - 0.3 * line);
        Some(top - 0.4 * line)
    }

    fn rule(&mut self, y: f64) {
        self.canvas.line(Point::new(self.inside.left, y), Point::new(self.inside.right, y), LineStyle::Rule);
    }
}

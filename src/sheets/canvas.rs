//! What is drawn on one page, as SVG, with a record of every text's box.
//!
//! The only place of this room that writes SVG, so the only one that escapes. Positions are millimetres from the top left
//! corner of the page, y downward; one user unit of the SVG is one millimetre. The same calls in the same order
//! give the same bytes: there are no identities, dates or random names in it.

use std::fmt::Write as _;

use crate::markup::escaped;
use crate::shape::Point;
use crate::units::trimmed;

use super::ink::{ABOVE, BELOW, Lettering, LineStyle, Weight};
use super::lettering::width_mm;
use super::paper::Area;

/// Which part of a line of text stands at the given place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    /// The start.
    Start,
    /// The middle.
    Middle,
    /// The end.
    End,
}

/// Which way a line of text runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reading {
    /// To the right.
    Level,
    /// Upward, to be read from the right side of the sheet.
    Upward,
}

/// A line of text as it was placed.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// What it says.
    pub text: String,
    /// The box that it may not share.
    pub area: Area,
}

/// One page being drawn.
#[derive(Clone, Debug)]
pub(crate) struct Canvas {
    page: Area,
    title: String,
    body: String,
    texts: Vec<Placed>,
}

/// The box of a line of text whose baseline is anchored at a place.
#[must_use]
pub(crate) fn text_area(
    text: &str,
    at: Point,
    anchor: Anchor,
    lettering: Lettering,
    reading: Reading,
) -> Area {
    let length = width_mm(text, lettering);
    let before = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => length / 2.0,
        Anchor::End => length,
    };
    let (above, below) = (ABOVE * lettering.size_mm, BELOW * lettering.size_mm);
    match reading {
        Reading::Level => Area {
            left: at.x - before,
            top: at.y - above,
            right: at.x - before + length,
            bottom: at.y + below,
        },
        Reading::Upward => Area {
            left: at.x - above,
            top: at.y + before - length,
            right: at.x + below,
            bottom: at.y + before,
        },
    }
}

impl Canvas {
    /// An empty page.
    #[must_use]
    pub(crate) fn new(page: Area, title: &str) -> Self {
        Canvas { page, title: title.into(), body: String::new(), texts: Vec::new() }
    }

    /// Every text so far.
    #[must_use]
    pub(crate) fn texts(&self) -> &[Placed] {
        &self.texts
    }

    /// Writes one line of printable text and returns its box.
    pub(crate) fn write(
        &mut self,
        text: &str,
        at: Point,
        anchor: Anchor,
        lettering: Lettering,
        reading: Reading,
    ) -> Area {
        self.write_in(text, at, anchor, lettering, reading, "")
    }

    /// Writes one line of printable text in white, over what is filled black, and returns its box.
    pub(crate) fn write_white(
        &mut self,
        text: &str,
        at: Point,
        anchor: Anchor,
        lettering: Lettering,
    ) -> Area {
        self.write_in(text, at, anchor, lettering, Reading::Level, " white")
    }

    fn write_in(
        &mut self,
        text: &str,
        at: Point,
        anchor: Anchor,
        lettering: Lettering,
        reading: Reading,
        colour: &str,
    ) -> Area {
        // SVG shows any white space as one space: what is measured must be what is shown.
        let text = &text.split_whitespace().collect::<Vec<_>>().join(" ");
        let area = text_area(text, at, anchor, lettering, reading);
        if text.is_empty() {
            return area;
        }
        let (x, y) = (number(at.x), number(at.y));
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = match lettering.weight {
            Weight::Regular => "regular",
            Weight::Bold => "bold",
        };
        let turned = match reading {
            Reading::Level => String::new(),
            Reading::Upward => format!(" transform=\"rotate(-90 {x} {y})\""),
        };
        // The length is stated so that a browser without the font keeps the text inside its box.
        self.put(format_args!(
            "<text class=\"{weight}{colour}\" x=\"{x}\" y=\"{y}\" font-size=\"{}\" text-anchor=\"{anchor}\" \
             textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"{turned}>{}</text>",
            number(lettering.size_mm),
            number(width_mm(text, lettering)),
            escaped(text)
        ));
        self.texts.push(Placed { text: text.clone(), area });
        area
    }

    /// A straight line.
    pub(crate) fn line(&mut self, from: Point, to: Point, style: LineStyle) {
        self.put(format_args!(
            "<path class=\"{}\" d=\"M{} {}L{} {}\"/>",
            style.class(),
            number(from.x),
            number(from.y),
            number(to.x),
            number(to.y)
        ));
    }

    /// A line through points.
    pub(crate) fn polyline(&mut self, points: &[Point], style: LineStyle) {
        self.path(&polyline_data(points, false), style);
    }

    /// A path given as SVG path data in page millimetres.
    pub(crate) fn path(&mut self, data: &str, style: LineStyle) {
        self.put(format_args!("<path class=\"{}\" d=\"{data}\"/>", style.class()));
    }

    /// A path with a name by which programs find it.
    pub(crate) fn named_path(&mut self, id: &str, data: &str, style: LineStyle) {
        self.put(format_args!("<path id=\"{}\" class=\"{}\" d=\"{data}\"/>", escaped(id), style.class()));
    }

    /// A rectangle.
    pub(crate) fn rectangle(&mut self, area: Area, style: LineStyle) {
        self.put(format_args!(
            "<rect class=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            style.class(),
            number(area.left),
            number(area.top),
            number(area.width()),
            number(area.height())
        ));
    }

    /// A circle.
    pub(crate) fn circle(&mut self, centre: Point, radius: f64, style: LineStyle) {
        self.put(format_args!(
            "<circle class=\"{}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            style.class(),
            number(centre.x),
            number(centre.y),
            number(radius)
        ));
    }

    /// A disc filled black.
    pub(crate) fn disc(&mut self, centre: Point, radius: f64) {
        self.put(format_args!(
            "<circle class=\"solid\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            number(centre.x),
            number(centre.y),
            number(radius)
        ));
    }

    /// A polygon filled black.
    pub(crate) fn solid(&mut self, corners: &[Point]) {
        self.solid_path(&polyline_data(corners, true));
    }

    /// What lies within closed ways, filled black. `data` is SVG path data in page millimetres.
    pub(crate) fn solid_path(&mut self, data: &str) {
        self.put(format_args!("<path class=\"solid\" d=\"{data}\"/>"));
    }

    /// A filled arrow head with its point at `tip`, coming from the direction of `from`.
    pub(crate) fn arrow_head(&mut self, tip: Point, from: Point, length: f64) {
        let back = (from - tip).unit();
        let side = back.left() * (length / 6.0);
        let base = tip + back * length;
        self.solid(&[tip, base + side, base - side]);
    }

    /// An area filled with a grey, 0 black to 255 white, without a border.
    pub(crate) fn shade(&mut self, area: Area, grey: u8) {
        self.put(format_args!(
            "<rect fill=\"#{grey:02x}{grey:02x}{grey:02x}\" shape-rendering=\"crispEdges\" x=\"{}\" y=\"{}\" \
             width=\"{}\" height=\"{}\"/>",
            number(area.left),
            number(area.top),
            number(area.width()),
            number(area.height())
        ));
    }

    /// A disc filled with a grey, 0 black to 255 white, without a border.
    pub(crate) fn shade_disc(&mut self, centre: Point, radius: f64, grey: u8) {
        self.put(format_args!(
            "<circle fill=\"#{grey:02x}{grey:02x}{grey:02x}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            number(centre.x),
            number(centre.y),
            number(radius)
        ));
    }

    /// Opens a group with a name, of which only what lies within closed ways is seen; close it with
    /// [`Canvas::close`]. `data` is SVG path data in page millimetres, ways within others being holes.
    pub(crate) fn open_clipped(&mut self, id: &str, data: &str) {
        let id = escaped(id);
        self.put(format_args!(
            "<clipPath id=\"{id}-border\"><path clip-rule=\"evenodd\" d=\"{data}\"/></clipPath>"
        ));
        self.put(format_args!("<g id=\"{id}\" clip-path=\"url(#{id}-border)\">"));
    }

    /// Opens a group with a name; close it with [`Canvas::close`].
    pub(crate) fn open(&mut self, id: &str) {
        self.put(format_args!("<g id=\"{}\">", escaped(id)));
    }

    /// Closes the group.
    pub(crate) fn close(&mut self) {
        self.put(format_args!("</g>"));
    }

    /// Takes over all that was drawn on another canvas, at the same places.
    pub(crate) fn append(&mut self, other: &Canvas) {
        self.body.push_str(&other.body);
        self.texts.extend(other.texts.iter().cloned());
    }

    fn put(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.body.write_fmt(element);
        self.body.push('\n');
    }

    /// The page as an SVG document.
    #[must_use]
    pub(crate) fn svg(&self) -> String {
        let (width, height) = (number(self.page.width()), number(self.page.height()));
        let mut style = String::from(
            "text{font-family:'Noto Sans','Open Sans','Segoe UI',sans-serif;fill:#000}\
             .bold{font-weight:bold}.white{fill:#fff}.solid{fill:#000;stroke:none}",
        );
        // Sheets without hidden lines stay as they were drawn before there were any.
        let hidden = self.body.contains("class=\"hidden\"");
        for line in LineStyle::ALL.iter().filter(|line| hidden || **line != LineStyle::Hidden) {
            let dashes: Vec<String> = line.dashes_mm().iter().map(|d| number(*d)).collect();
            let dashes = match dashes.is_empty() {
                true => String::new(),
                false => format!(";stroke-dasharray:{}", dashes.join(",")),
            };
            let _ = write!(
                style,
                ".{}{{fill:none;stroke:#000;stroke-width:{}{dashes}}}",
                line.class(),
                number(line.width_mm())
            );
        }
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
             <svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
             viewBox=\"0 0 {width} {height}\">\n\
             <title>{}</title>\n<style>{style}</style>\n\
             <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n{}</svg>\n",
            escaped(&self.title),
            self.body
        )
    }
}

/// A number of millimetres with at most four decimals: a tenth of a micrometre on paper.
#[must_use]
pub(crate) fn number(value: f64) -> String {
    trimmed(value, 4)
}

/// SVG path data through points, in page millimetres.
#[must_use]
pub(crate) fn polyline_data(points: &[Point], closed: bool) -> String {
    let mut data = String::new();
    for (i, p) in points.iter().enumerate() {
        let _ = write!(data, "{}{} {}", if i == 0 { 'M' } else { 'L' }, number(p.x), number(p.y));
    }
    if closed {
        data.push('Z');
    }
    data
}

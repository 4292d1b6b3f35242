//! Letters as closed lines to etch: the outlines of a font's own glyphs, set on straight lines as the font's maker spaced
//! them (kerning, ligatures and the distance of lines by OpenType, through `rustybuzz`). Curves stay curves; a quadratic one
//! becomes the cubic that is the same.

use rustybuzz::ttf_parser::{GlyphId, OutlineBuilder, Rect};
use rustybuzz::{Face, UnicodeBuffer};

use super::check::TOUCHING_MM;
use super::cubic::Cubic;
use super::meeting::{Material, meetings};
use super::outline::{Contour, Outline, Path, SAME_PLACE_MM, extent};
use super::point::{Point, Transform};
use super::segment::Segment;
use crate::words::words;

words! {
    /// How the lines of a text stand to a place.
    Align, "way to align" {
        /// Each begins there.
        Left = "left",
        /// The middle of what is seen of each is there.
        Middle = "middle",
        /// Each ends there.
        Right = "right",
    }
}

/// Where letters stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LetterSetting {
    /// How high a capital H is, in millimetres.
    pub capital_mm: f64,
    /// A place on the line that the letters of the first line stand on.
    pub at: Point,
    /// How the lines stand to it.
    pub align: Align,
    /// From the line that letters stand on to the next, in millimetres; none for the font's own distance.
    pub spacing_mm: Option<f64>,
}

/// Why letters cannot be set.
#[derive(Clone, Debug, PartialEq)]
pub enum LetterFault {
    /// The file is no font.
    NoFont,
    /// The font has no capital H to measure by.
    NoCapital,
    /// The font has no glyph for these characters.
    Missing(String),
    /// There is nothing to see in the text.
    Nothing,
    /// Lines of the letters cross each other there.
    Crossing(Point),
    /// They touch the border of the panel or a cut-out there, or lie outside.
    OffThePanel(Point),
}

/// The letters of a text, line by line from the top, each closed line a path: outer borders and what is open within them.
///
/// # Errors
/// Why they cannot be set.
pub fn letters(lines: &[&str], font: &[u8], setting: &LetterSetting) -> Result<Vec<Path>, LetterFault> {
    let face = Face::from_slice(font, 0).ok_or(LetterFault::NoFont)?;
    let capital = face.glyph_index('H').and_then(|glyph| face.glyph_bounding_box(glyph));
    let capital = capital.map(|Rect { y_max, .. }| f64::from(y_max)).filter(|height| *height > 0.0);
    let scale = setting.capital_mm / capital.ok_or(LetterFault::NoCapital)?;
    // OpenType, `hhea` or the typographic figures of `OS/2`: ascender, descender (below the line) and the gap between lines.
    let own = i32::from(face.ascender()) - i32::from(face.descender()) + i32::from(face.line_gap());
    let spacing_mm = setting.spacing_mm.unwrap_or(f64::from(own) * scale);
    let mut all = Vec::new();
    for (nth, text) in lines.iter().enumerate() {
        let at = Point::new(setting.at.x, setting.at.y - nth as f64 * spacing_mm);
        all.extend(one_line(text, &face, scale, at, setting.align)?);
    }
    if all.is_empty() { Err(LetterFault::Nothing) } else { Ok(all) }
}

fn one_line(
    text: &str,
    face: &Face<'_>,
    scale: f64,
    at: Point,
    align: Align,
) -> Result<Vec<Path>, LetterFault> {
    let mut buffer = UnicodeBuffer::new();
    buffer.push_str(text);
    buffer.guess_segment_properties();
    let set = rustybuzz::shape(face, &[], buffer);
    let places = || set.glyph_infos().iter().zip(set.glyph_positions());
    let missing: String = places()
        .filter(|(info, _)| info.glyph_id == 0)
        .filter_map(|(info, _)| text.get(info.cluster as usize..)?.chars().next())
        .collect();
    if !missing.is_empty() {
        return Err(LetterFault::Missing(missing));
    }
    let mut pen = Pen { scale, origin: at, paths: Vec::new(), first: None, last: Point::default() };
    let mut along = 0;
    for (info, position) in places() {
        let (x, y) = (along + position.x_offset, position.y_offset);
        pen.origin = at + Point::new(f64::from(x), f64::from(y)) * scale;
        let glyph = u16::try_from(info.glyph_id).map(GlyphId).map_err(|_| LetterFault::NoFont)?;
        face.outline_glyph(glyph, &mut pen);
        along += position.x_advance;
    }
    pen.paths.retain(|path| !path.segments.is_empty());
    let by = match align {
        Align::Left => return Ok(pen.paths),
        Align::Right => -f64::from(along) * scale,
        Align::Middle => {
            let (left, right) = reach(&pen.paths);
            at.x - 0.5 * (left + right)
        }
    };
    let by = Transform::moved(Point::new(by, 0.0));
    Ok(pen.paths.iter().map(|path| path.mapped(by)).collect())
}

/// How far letters reach to the left and to the right.
#[must_use]
pub(crate) fn reach(letters: &[Path]) -> (f64, f64) {
    let of = |path: &Path| extent(&path.segments, Point::new(1.0, 0.0));
    letters
        .iter()
        .map(of)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (l, h)| (low.min(l), high.max(h)))
}

/// Whether letters can be etched into an outline: clear of its border, of its cut-outs and of each other.
///
/// # Errors
/// The first place where they are not.
pub fn letters_fit(outline: &Outline, letters: &[Path]) -> Result<(), LetterFault> {
    let own: Vec<Contour> = letters.iter().map(|p| Contour { segments: p.segments.clone() }).collect();
    let around = outline.contours().count();
    let all: Vec<&Contour> = outline.contours().chain(&own).collect();
    let met = meetings(&all, TOUCHING_MM, usize::MAX).ok_or(LetterFault::Crossing(Point::default()))?;
    for meeting in &met {
        match (meeting.first.0 >= around, meeting.second.0 >= around) {
            (true, true) => return Err(LetterFault::Crossing(meeting.at)),
            (false, false) => {}
            _ => return Err(LetterFault::OffThePanel(meeting.at)),
        }
    }
    let material = Material::of(outline.contours().map(|c| c.flattened(TOUCHING_MM)).collect());
    let outside = |path: &&Path| {
        let start = path.segments.first().map(Segment::start).unwrap_or_default();
        !material.as_ref().is_some_and(|material| material.holds(start))
    };
    match letters.iter().find(outside).and_then(|path| path.segments.first()) {
        Some(first) => Err(LetterFault::OffThePanel(first.start())),
        None => Ok(()),
    }
}

/// Takes a glyph's lines, in the font's own units, into millimetres.
struct Pen {
    scale: f64,
    origin: Point,
    paths: Vec<Path>,
    first: Option<Point>,
    last: Point,
}

impl Pen {
    fn place(&self, x: f32, y: f32) -> Point {
        self.origin + Point::new(f64::from(x), f64::from(y)) * self.scale
    }

    fn push(&mut self, segment: Segment) {
        self.last = segment.end();
        if let Some(path) = self.paths.last_mut().filter(|_| segment.length() > SAME_PLACE_MM) {
            path.segments.push(segment);
        }
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.close();
        self.last = self.place(x, y);
        self.first = Some(self.last);
        self.paths.push(Path::default());
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.push(Segment::line(self.last, self.place(x, y)));
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let control = self.place(x1, y1);
        self.push(Segment::Cubic(Cubic::from_quadratic(self.last, control, self.place(x, y))));
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (control_1, control_2) = (self.place(x1, y1), self.place(x2, y2));
        self.push(Segment::Cubic(Cubic { start: self.last, control_1, control_2, end: self.place(x, y) }));
    }

    fn close(&mut self) {
        if let Some(first) = self.first.take() {
            self.push(Segment::line(self.last, first));
        }
    }
}

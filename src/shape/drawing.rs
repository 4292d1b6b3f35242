//! From the loose lines of a drawing to an outline: which lines are the outline, which are cut out, which are
//! etched, by layer or by containment.
//!
//! The readers of DXF and SVG hand their lines over as [`Drawn`] lines; this file knows neither format.

use super::arcs::{faceted_lines, with_arcs};
use super::check::{check, duplicates};
use super::error::{ShapeCode, ShapeError};
use super::join::{JOIN_MM, Joined, closed_gaps, join, open_flaws};
use super::json::{MOST_PIECES, read_json};
use super::meeting::winding;
use super::origin::{Origin, named};
use super::outline::{Contour, Mark, Outline, Path, SAME_PLACE_MM, StoneJoint};
use super::picture::picture_of_flaws;
use super::point::Point;
use super::segment::Segment;
use super::{dxf, svg};
use crate::units::trimmed;
use crate::words::counted;

/// The kind of file that a drawing comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// DXF, text or binary, R12 to 2018.
    Dxf,
    /// SVG 1.1 and 2.
    Svg,
    /// This project's own JSON outline.
    Json,
}

impl Format {
    /// The format by the ending of a file's name, upper or lower case.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Format> {
        let ending = name.rsplit_once('.')?.1.to_ascii_lowercase();
        match ending.as_str() {
            "dxf" => Some(Format::Dxf),
            "svg" => Some(Format::Svg),
            "json" => Some(Format::Json),
            _ => None,
        }
    }
}

/// A unit in which a drawing may be drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DrawingUnit {
    /// Millimetres.
    Millimetre,
    /// Centimetres.
    Centimetre,
    /// Metres.
    Metre,
    /// Inches.
    Inch,
    /// Feet.
    Foot,
    /// Pixels of 1/96 inch, as CSS has them; only an SVG is drawn in them.
    Pixel,
}

impl DrawingUnit {
    /// The unit by its sign: `mm`, `cm`, `m`, `in`, `ft`, `px`.
    #[must_use]
    pub(crate) fn of_sign(sign: &str) -> Option<DrawingUnit> {
        Some(match sign {
            "mm" => DrawingUnit::Millimetre,
            "cm" => DrawingUnit::Centimetre,
            "m" => DrawingUnit::Metre,
            "in" => DrawingUnit::Inch,
            "ft" => DrawingUnit::Foot,
            "px" => DrawingUnit::Pixel,
            _ => return None,
        })
    }

    /// How many millimetres it has.
    #[must_use]
    pub(crate) fn millimetres(self) -> f64 {
        match self {
            DrawingUnit::Millimetre => 1.0,
            DrawingUnit::Centimetre => 10.0,
            DrawingUnit::Metre => 1000.0,
            DrawingUnit::Inch => crate::units::MM_PER_INCH,
            DrawingUnit::Foot => 12.0 * crate::units::MM_PER_INCH,
            DrawingUnit::Pixel => crate::units::MM_PER_INCH / 96.0,
        }
    }
}

/// Which layer holds what. Names are compared without regard to case; a layer not named holds nothing.
///
/// Where no layer is named at all, every line is read and containment decides: the contour around all the
/// others is the outline, those inside it are cut out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Layers {
    /// The outline; cut-outs may lie on it too.
    pub outline: Option<String>,
    /// Cut-outs.
    pub cutouts: Option<String>,
    /// Etched lines.
    pub etchings: Option<String>,
    /// Marks.
    pub marks: Option<String>,
    /// Joints of the stone.
    pub stone_joints: Option<String>,
}

/// How a drawing is to be read.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadOptions {
    /// Ends closer than this are joined, in millimetres.
    pub join_mm: f64,
    /// The unit of the drawing; where given it overrides what the file says.
    pub unit: Option<DrawingUnit>,
    /// Which layer holds what.
    pub layers: Layers,
    /// Where given, short lines that stand for curves become arcs, no farther from them than this, in millimetres.
    pub fit_mm: Option<f64>,
}

impl Default for ReadOptions {
    fn default() -> Self {
        ReadOptions { join_mm: JOIN_MM, unit: None, layers: Layers::default(), fit_mm: None }
    }
}

/// An outline that was read and is sound, with remarks on what was left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The outline.
    pub outline: Outline,
    /// What was left out of the drawing and why, one sentence each.
    pub remarks: Vec<String>,
}

/// A drawing that was refused.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    /// Every flaw found; never empty.
    pub flaws: Vec<ShapeError>,
    /// A small SVG picture of where they are, where they have places.
    pub picture: Option<String>,
}

impl Refusal {
    pub(crate) fn of(flaw: ShapeError) -> Self {
        Refusal { flaws: vec![flaw], picture: None }
    }

    /// The same refusal, each flaw with the element that it lies on. The file is read once more for that: a good
    /// drawing, which is the usual one, then pays nothing for it.
    fn named(self, format: Format, bytes: &[u8], options: &ReadOptions) -> Self {
        let again = match format {
            Format::Dxf => dxf::lines(bytes, options),
            Format::Svg => svg::lines(bytes, options),
            Format::Json => return self,
        };
        let drawn = again.map_or_else(|_| Vec::new(), |(drawn, _)| drawn);
        let origins: Vec<Origin> = drawn.iter().flat_map(|d| d.origins.iter().cloned()).collect();
        let lines: Vec<Segment> = drawn.into_iter().flat_map(|d| d.segments).collect();
        Refusal { flaws: named(self.flaws, &lines, &origins), ..self }
    }

    pub(crate) fn with_picture(flaws: Vec<ShapeError>, segments: &[Segment]) -> Self {
        let picture = picture_of_flaws(segments, &flaws);
        Refusal { flaws, picture }
    }
}

/// Lines of a drawing that stand on one layer, in millimetres.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Drawn {
    /// The layer's name.
    pub(crate) layer: String,
    /// The lines, in the order of the file.
    pub(crate) segments: Vec<Segment>,
    /// For each of the lines, where in the file it came from.
    pub(crate) origins: Vec<Origin>,
    /// Marks: points and words.
    pub(crate) marks: Vec<Mark>,
}

/// Reads an outline and makes sure that it is sound.
///
/// # Errors
/// Every flaw of the drawing that could be found, each with its place or line, and a picture.
pub fn read(format: Format, bytes: &[u8], options: &ReadOptions) -> Result<Reading, Refusal> {
    let named = |refusal: Refusal| refusal.named(format, bytes, options);
    let reading = match format {
        Format::Json => {
            let outline = read_json(bytes).map_err(Refusal::of)?;
            Reading { outline: with_gaps_closed(outline, options.join_mm), remarks: Vec::new() }
        }
        Format::Dxf => {
            let (drawn, remarks) = dxf::lines(bytes, options)?;
            assemble(drawn, remarks, options).map_err(named)?
        }
        Format::Svg => {
            let (drawn, remarks) = svg::lines(bytes, options)?;
            assemble(drawn, remarks, options).map_err(named)?
        }
    };
    let flaws = check(&reading.outline);
    if flaws.is_empty() {
        return Ok(fitted(reading, options.fit_mm));
    }
    Err(named(Refusal::with_picture(flaws, &reading.outline.pieces())))
}

/// So many short lines that stand for curves are worth a remark.
const MANY_LINES: usize = 24;

/// Arcs in place of short lines where that was asked for; else a remark where it would help.
fn fitted(reading: Reading, fit_mm: Option<f64>) -> Reading {
    let Reading { outline, mut remarks } = reading;
    let lines = faceted_lines(&outline);
    let Some(tolerance) = fit_mm else {
        if lines >= MANY_LINES {
            remarks.push(format!(
                "{lines} short lines stand for curves: --fit makes arcs of them and says how far they are from what \
                 was drawn"
            ));
        }
        return Reading { outline, remarks };
    };
    let fitted = with_arcs(&outline, tolerance);
    let sound = check(&fitted.outline).is_empty();
    if fitted.lines == 0 {
        remarks.push("--fit: no short lines stand for curves here; nothing was changed".into());
    } else if fitted.pieces >= fitted.lines || !sound {
        remarks.push(format!(
            "--fit: no arcs follow the {lines} short lines within {} mm; nothing was changed. A larger tolerance may \
             help: --fit={}mm",
            trimmed(tolerance, 4),
            trimmed(tolerance * 4.0, 4)
        ));
        return Reading { outline, remarks };
    } else {
        remarks.push(format!(
            "--fit: {} short lines became {}; they are at most {} mm from what was drawn, by dense points along both",
            fitted.lines,
            counted(fitted.pieces, "arc or line", "arcs and lines"),
            trimmed(fitted.deviation_mm, 4)
        ));
    }
    Reading { outline: fitted.outline, remarks }
}

fn with_gaps_closed(outline: Outline, join_mm: f64) -> Outline {
    let contour = |c: &Contour| Contour { segments: closed_gaps(&c.segments, join_mm, true) };
    Outline {
        outer: contour(&outline.outer),
        cutouts: outline.cutouts.iter().map(contour).collect(),
        etchings: outline
            .etchings
            .iter()
            .map(|p| Path { segments: closed_gaps(&p.segments, join_mm, false) })
            .collect(),
        ..outline
    }
}

fn same_layer(wanted: &Option<String>, layer: &str) -> bool {
    wanted.as_ref().is_some_and(|w| w.to_lowercase() == layer.to_lowercase())
}

/// Sorts the lines of a drawing into an outline.
fn assemble(drawn: Vec<Drawn>, mut remarks: Vec<String>, options: &ReadOptions) -> Result<Reading, Refusal> {
    let layers = &options.layers;
    let by_layer = *layers != Layers::default();
    let known = layers_in_words(&drawn);
    let mut cut: Vec<Segment> = Vec::new();
    let mut etched: Vec<Segment> = Vec::new();
    let mut outline = Outline::default();
    for part in drawn {
        if !by_layer || same_layer(&layers.outline, &part.layer) || same_layer(&layers.cutouts, &part.layer) {
            cut.extend(part.segments);
            outline.marks.extend(part.marks);
        } else if same_layer(&layers.etchings, &part.layer) {
            etched.extend(part.segments);
        } else if same_layer(&layers.marks, &part.layer) {
            outline.marks.extend(part.marks);
        } else if same_layer(&layers.stone_joints, &part.layer) {
            let (straight, bent): (Vec<Segment>, Vec<Segment>) = part
                .segments
                .into_iter()
                .partition(|s| s.is_straight(SAME_PLACE_MM) && s.length() > SAME_PLACE_MM);
            outline.stone_joints.extend(straight.iter().map(|s| StoneJoint { from: s.start(), to: s.end() }));
            if !bent.is_empty() {
                remarks.push(format!("{} × joint of the stone left out: it is not straight", bent.len()));
            }
        } else if !part.segments.is_empty() {
            remarks.push(format!("layer `{}` was not asked for and is left out", part.layer));
        }
    }
    if cut.len() + etched.len() > MOST_PIECES {
        return Err(Refusal::of(ShapeError::new(
            ShapeCode::TooLarge,
            format!("the drawing has {} pieces", cut.len() + etched.len()),
            format!("at most {MOST_PIECES}: draw curves as arcs or splines, not as short lines"),
        )));
    }
    if cut.is_empty() {
        let (message, remedy) = match (&layers.outline, by_layer) {
            (Some(layer), _) => (
                format!("layer `{layer}` has no lines"),
                format!("name the layer that holds the outline: --outline-layer NAME; {known}"),
            ),
            (None, true) => (
                "no layer was named for the outline".into(),
                format!("name it too: --outline-layer NAME; {known}"),
            ),
            (None, false) => {
                ("the drawing has no lines".to_owned(), "draw the outline as lines, arcs or curves".into())
            }
        };
        return Err(Refusal::of(ShapeError::new(ShapeCode::NoOutline, message, remedy)));
    }
    let flaws = loose_flaws(&cut);
    if !flaws.is_empty() {
        return Err(Refusal::with_picture(flaws, &cut));
    }
    let joined = join(&cut, options.join_mm);
    let flaws = open_flaws(&joined, options.join_mm);
    if !flaws.is_empty() {
        return Err(Refusal::with_picture(flaws, &cut));
    }
    let etched = join(&etched, options.join_mm);
    outline.etchings =
        etched.closed.into_iter().map(|c| Path { segments: c.segments }).chain(etched.open).collect();
    sort_out(joined, &mut outline, &known).map_err(|flaws| Refusal::with_picture(flaws, &cut))?;
    Ok(Reading { outline, remarks })
}

/// The most layers that are told by name.
const MOST_LAYERS: usize = 12;

/// The layers of a drawing that hold lines, in words.
fn layers_in_words(drawn: &[Drawn]) -> String {
    let names: Vec<String> = drawn
        .iter()
        .filter(|d| !d.segments.is_empty() && !d.layer.is_empty())
        .map(|d| format!("`{}`", d.layer))
        .collect();
    match names.len() {
        0 => "no layer that has a name has lines".into(),
        1 => format!("lines are on layer {} only", names[0]),
        count if count > MOST_LAYERS => {
            format!(
                "lines are on layers {} and {} more",
                names[..MOST_LAYERS].join(", "),
                count - MOST_LAYERS
            )
        }
        _ => format!("lines are on layers {}", names.join(", ")),
    }
}

/// Pieces without length or drawn twice.
fn loose_flaws(cut: &[Segment]) -> Vec<ShapeError> {
    let mut flaws = Vec::new();
    for piece in cut {
        let length = piece.length();
        if length < SAME_PLACE_MM {
            flaws.push(
                ShapeError::new(
                    ShapeCode::ZeroLength,
                    format!("a {} has no length", piece.kind()),
                    "delete it",
                )
                .at(piece.start()),
            );
        } else if !length.is_finite() {
            flaws.push(ShapeError::new(
                ShapeCode::OutOfRange,
                format!("a {} has no finite size", piece.kind()),
                "draw it again with plain numbers",
            ));
        }
    }
    for (_, second) in duplicates(&cut.iter().collect::<Vec<_>>()) {
        flaws.push(
            ShapeError::new(
                ShapeCode::Duplicate,
                format!("a {} is drawn twice", cut[second].kind()),
                "delete one of the two",
            )
            .at(cut[second].at(0.5)),
        );
    }
    flaws
}

/// The contour around all the others is the outline; the others are cut out of it.
fn sort_out(joined: Joined, outline: &mut Outline, known: &str) -> Result<(), Vec<ShapeError>> {
    let mut contours = joined.closed;
    contours.sort_by(|a, b| b.signed_area().abs().total_cmp(&a.signed_area().abs()));
    if contours.is_empty() {
        return Err(vec![ShapeError::new(
            ShapeCode::NoOutline,
            "nothing in the drawing closes",
            "draw a closed outline",
        )]);
    }
    let outer = contours.remove(0);
    let flat = outer.flattened(1e-2);
    let reach = |c: &Contour, along: Point| c.extent(along);
    let outside: Vec<&Contour> = contours
        .iter()
        .filter(|c| {
            let apart = [Point::new(1.0, 0.0), Point::new(0.0, 1.0)].into_iter().any(|along| {
                let (a, b) = (reach(c, along), reach(&outer, along));
                a.0 > b.1 || a.1 < b.0
            });
            // One that crosses the outline is told as crossing by the check that follows.
            apart
                || c.segments.iter().all(|s| winding(&flat, s.at(0.5)) == 0 && winding(&flat, s.start()) == 0)
        })
        .collect();
    if !outside.is_empty() {
        return Err(outside
            .iter()
            .take(10)
            .map(|c| {
                ShapeError::new(
                    ShapeCode::SeveralOutlines,
                    "this contour lies outside the largest one, so the drawing has more than one outline",
                    format!("name the layer of the outline: --outline-layer NAME; {known}. Or give each panel its own file"),
                )
                .at(c.start())
            })
            .collect());
    }
    outline.outer = outer;
    outline.cutouts = contours;
    Ok(())
}

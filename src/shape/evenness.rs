//! A computed picture of how even the light is over a panel's face for chosen lit edges. A model, not a measurement.
//!
//! Rays in a flat guide ([`super::guide`]): the same for rectangles, circles, rings and free forms. Extraction is a
//! property of the sheet, so much for each millimetre, and does not depend on which edges are lit. With graded extraction
//! the pattern is made for the longest straight lit edge, or for it and one opposite, and is even for these alone. Scatter
//! in the guide and the stone's own diffusion even out more than is shown here.
//!
//! Figures are taken in the panel's own frame, along its longest straight lit edge, so that a moved or turned panel
//! answers the same; the picture is upright, as the drawing is.

use std::f64::consts::PI;
use std::fmt;

use super::class::ShapeClass;
use super::edges::Edge;
use super::figures::Figures;
use super::guide::{Guide, Pattern, critical_angle, first_straight};
use super::meeting::Material;
use super::outline::Outline;
use super::point::Point;

/// The sentence that goes with every figure and picture of this model.
pub(crate) const MODEL_NOTE: &str =
    "Computed with a simple light-guide model: compare choices with it, do not promise its figures.";

/// The way after which light is spoken of, and the guide that it is spoken of in: common sizes.
const SPOKEN_OF_MM: f64 = 300.0;
const SPOKEN_OF_GUIDE_MM: f64 = 8.0;

/// What a sheet lets out for each millimetre, of which it is said that so great a share has come out after 300 mm in a
/// guide of 8 mm; a thinner guide lets out more, as light meets its faces the more often.
#[must_use]
pub fn extraction_per_mm(share: f64, guide_mm: f64) -> f64 {
    -(1.0 - share).ln() / SPOKEN_OF_MM * SPOKEN_OF_GUIDE_MM / guide_mm
}

/// How the guide lets light out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extraction {
    /// The same everywhere.
    Constant,
    /// A pattern made for the longest straight lit edge, or for it and the lit edge opposite.
    Graded,
}

/// What the picture is computed for.
#[derive(Clone, Debug, PartialEq)]
pub struct LightingChoice {
    /// Numbers of the lit edges.
    pub lit_edges: Vec<usize>,
    /// How the guide lets light out.
    pub extraction: Extraction,
    /// What the guide lets out for each millimetre of way, above 0: [`extraction_per_mm`].
    pub per_mm: f64,
    /// The share of light that unlit edges send back of what would leave there, 0 to 1; 1 is a mirror.
    pub unlit_edge_reflectance: f64,
    /// How many points the picture has along the longer side of the face.
    pub points_along: usize,
}

/// Luminance over the face, relative to its greatest. A model: see [`MODEL_NOTE`].
#[derive(Clone, Debug, PartialEq)]
pub struct LuminancePicture {
    /// The centre of the first cell: lowest, leftmost.
    pub first: Point,
    /// The side of a cell in millimetres.
    pub step_mm: f64,
    /// Cells along x.
    pub columns: usize,
    /// Cells along y.
    pub rows: usize,
    /// Row by row from below: luminance from 0 to 1, none outside the face.
    pub cells: Vec<Option<f64>>,
    /// The nine points: centres of a 3×3 division of the box along the longest straight lit edge, or else of the
    /// smallest bounding rectangle, from the lower left; none outside the face.
    pub nine_points: [Option<f64>; 9],
    /// Where the nine points are.
    pub nine_places: [Point; 9],
    /// Darkest ÷ brightest of the nine points on the face; 1 is even. None where fewer than two lie on the face.
    pub nine_point_uniformity: Option<f64>,
    /// Darkest ÷ brightest over a grid of the whole face, in the same frame as the nine points.
    pub face_uniformity: f64,
    /// The share of the lit edges' light that comes out of the face; the rest leaves at edges.
    pub out_share: f64,
    /// Where no light arrives at all, the first such place, and why; a nine-point place is named before others.
    pub dark: Option<(Point, Dark)>,
    /// True where a graded pattern could be made: graded extraction needs a straight lit edge.
    pub graded: bool,
}

/// Why a place gets no light in this model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dark {
    /// No lit edge faces it.
    Unfaced,
    /// A cut-out stands between it and every lit edge that faces it.
    BehindCutout,
    /// The outline itself stands between it and every lit edge that faces it.
    BehindCorner,
}

impl fmt::Display for Dark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Dark::Unfaced => "no lit edge faces this place within 42°, and no wall reflects light to it",
            Dark::BehindCutout => "a cut-out stands between this place and the lit edges that face it",
            Dark::BehindCorner => {
                "an inward corner or curve stands between this place and the lit edges that face it"
            }
        })
    }
}

/// Advice on the choice of lit edges, with its reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LitEdgeAdvice {
    /// What to do.
    pub advice: &'static str,
    /// Why.
    pub reason: &'static str,
}

/// What common practice says of lighting so many edges of such a shape; none where it has no objection.
///
/// Three or four lit edges only on a square: common practice, no source.
#[must_use]
pub fn lit_edge_advice(shape: ShapeClass, lit_edges: usize) -> Option<LitEdgeAdvice> {
    match (shape, lit_edges) {
        (_, 0) => Some(LitEdgeAdvice {
            advice: "Choose at least one lit edge.",
            reason: "Without one the panel gives no light.",
        }),
        (ShapeClass::Rectangle, 3..) => Some(LitEdgeAdvice {
            advice: "Light one long edge, or the two long edges.",
            reason: "Three or four lit edges on an oblong show bright ends and corners; only a square carries \
                     them evenly (common practice, no source).",
        }),
        (ShapeClass::Polygon | ShapeClass::Triangle | ShapeClass::Curved, 3..) => Some(LitEdgeAdvice {
            advice: "Light one or two opposite edges, and look at the computed picture.",
            reason: "Light from three edges and more meets unevenly on anything but a square (common practice, \
                     no source).",
        }),
        _ => None,
    }
}

/// Computes the picture; none where no edge of the outline is lit or a share is out of range.
#[must_use]
pub fn luminance_picture(
    outline: &Outline,
    figures: &Figures,
    choice: &LightingChoice,
) -> Option<LuminancePicture> {
    let sound = choice.per_mm > 0.0
        && choice.per_mm.is_finite()
        && (0.0..=1.0).contains(&choice.unlit_edge_reflectance)
        && (3..=400).contains(&choice.points_along);
    let lit: Vec<&Edge> = figures.edges.iter().filter(|e| choice.lit_edges.contains(&e.number)).collect();
    if lit.is_empty() || !sound {
        return None;
    }
    let outer = outline.outer.counter_clockwise().flattened(0.1);
    let material = Material::of(
        std::iter::once(outer).chain(outline.cutouts.iter().map(|c| c.flattened(0.1))).collect(),
    )?;
    let own = Frame::of(outline, own_direction(figures, &lit));
    let pattern = pattern(&lit, outline, choice);
    let guide =
        Guide::new(outline, figures, &choice.lit_edges, pattern, choice.unlit_edge_reflectance, own.along);
    let at = |p: Point| material.holds(p).then(|| guide.at(p));
    let upright = Frame::of(outline, Point::new(1.0, 0.0));
    let grid = upright.grid(choice.points_along);
    let mut cells: Vec<Option<f64>> = grid.places().map(at).collect();
    let nine_places: [Point; 9] = std::array::from_fn(|i| {
        let share = |n: usize| (2.0 * n as f64 + 1.0) / 6.0;
        own.place(own.width * share(i % 3), own.height * share(i / 3))
    });
    let mut nine_points = nine_places.map(at);
    let own_grid = own.grid(choice.points_along);
    let face: Vec<Option<f64>> =
        if own == upright { cells.clone() } else { own_grid.places().map(at).collect() };
    // In its own frame, so that a turned panel's nine figures stay what they are.
    let greatest = face.iter().chain(&nine_points).flatten().copied().fold(0.0, f64::max);
    if greatest <= 0.0 {
        return None;
    }
    let is_dark = |(p, value): (Point, &Option<f64>)| (*value == Some(0.0)).then_some(p);
    let dark = nine_places
        .into_iter()
        .zip(&nine_points)
        .find_map(is_dark)
        .or_else(|| own_grid.places().zip(&face).find_map(is_dark))
        .map(|p| {
            let why = match guide.faced(p) {
                None => Dark::Unfaced,
                Some(true) => Dark::BehindCutout,
                Some(false) => Dark::BehindCorner,
            };
            (p, why)
        });
    // Of radiance 1 an edge sends in its length times the integral of the cosine over the cone.
    let sent: f64 = 2.0 * critical_angle().sin() * lit.iter().map(|e| e.length_mm).sum::<f64>();
    let on_face: Vec<f64> = face.iter().flatten().copied().collect();
    let mean = on_face.iter().sum::<f64>() / on_face.len().max(1) as f64;
    let out_share = mean * figures.area_mm2 / sent;
    let uniformity = |values: &[Option<f64>]| {
        let seen: Vec<f64> = values.iter().flatten().copied().collect();
        let high = seen.iter().copied().fold(0.0, f64::max);
        (seen.len() > 1 && high > 0.0).then(|| seen.iter().copied().fold(f64::INFINITY, f64::min) / high)
    };
    let (nine_point_uniformity, face_uniformity) = (uniformity(&nine_points), uniformity(&face));
    for value in cells.iter_mut().chain(&mut nine_points).flatten() {
        *value = (*value / greatest).min(1.0);
    }
    Some(LuminancePicture {
        first: grid.first,
        step_mm: grid.step_mm,
        columns: grid.columns,
        rows: grid.rows,
        cells,
        nine_points,
        nine_places,
        nine_point_uniformity,
        face_uniformity: face_uniformity.unwrap_or(1.0),
        out_share,
        dark,
        graded: guide.is_graded(),
    })
}

/// A box around the face at some angle.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Frame {
    lower_left: Point,
    along: Point,
    width: f64,
    height: f64,
}

impl Frame {
    fn of(outline: &Outline, along: Point) -> Frame {
        let (x, y) = (outline.outer.extent(along), outline.outer.extent(along.left()));
        Frame { lower_left: along * x.0 + along.left() * y.0, along, width: x.1 - x.0, height: y.1 - y.0 }
    }

    fn place(&self, x: f64, y: f64) -> Point {
        self.lower_left + self.along * x + self.along.left() * y
    }

    /// Square cells over the box, so many along its longer side.
    fn grid(&self, points_along: usize) -> Grid {
        let step_mm = self.width.max(self.height) / points_along as f64;
        let columns = (self.width / step_mm).round().max(1.0) as usize;
        let rows = (self.height / step_mm).round().max(1.0) as usize;
        let first = self.place(
            0.5 * (self.width - step_mm * (columns - 1) as f64),
            0.5 * (self.height - step_mm * (rows - 1) as f64),
        );
        Grid { first, along: self.along, step_mm, columns, rows }
    }
}

struct Grid {
    first: Point,
    along: Point,
    step_mm: f64,
    columns: usize,
    rows: usize,
}

impl Grid {
    /// The centres of the cells, row by row from below.
    fn places(&self) -> impl Iterator<Item = Point> {
        let (first, along, step, columns) = (self.first, self.along, self.step_mm, self.columns);
        (0..columns * self.rows).map(move |i| {
            first + along * ((i % columns) as f64 * step) + along.left() * ((i / columns) as f64 * step)
        })
    }
}

/// The direction in which the panel's own figures are taken: along its longest straight lit edge, or else along its
/// smallest bounding rectangle; of the four at right angles, the one nearest to the x axis.
fn own_direction(figures: &Figures, lit: &[&Edge]) -> Point {
    let angle = match (first_straight(lit), figures.shape) {
        (Some(edge), _) => (edge.end() - edge.start()).angle(),
        // Every direction of a circle is the same.
        (None, ShapeClass::Circle) => 0.0,
        (None, _) => figures.least_rectangle.long_side_rad,
    };
    let angle = angle - (angle / (PI / 2.0)).round() * (PI / 2.0);
    // A last bit off upright is upright.
    if angle.abs() < 1e-9 { Point::new(1.0, 0.0) } else { Point::at_angle(angle) }
}

/// The pattern of extraction for the longest straight lit edge.
fn pattern(lit: &[&Edge], outline: &Outline, choice: &LightingChoice) -> Pattern {
    let Some(first) = first_straight(lit).filter(|_| choice.extraction == Extraction::Graded) else {
        return Pattern::constant(choice.per_mm);
    };
    let inward = |e: &Edge| (e.end() - e.start()).unit().left();
    let (ahead, from) = (inward(first), first.start());
    let length = outline.outer.extent(ahead).1 - ahead.dot(from);
    let both = lit.iter().any(|e| e.is_straight() && inward(e).dot(ahead) < -0.999);
    Pattern::graded(from, ahead, length, both, choice.per_mm)
}

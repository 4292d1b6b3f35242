//! A computed picture of how even the light is over a panel's face for chosen lit edges. A model, not a measurement.
//!
//! Each lit edge sends its light straight in along its normal; the guide lets out a share of it on the way. With
//! constant extraction k the face gives k·e^(−kd) at a distance d, so that one lit edge has min/max e^(−kL), one with
//! a mirror opposite 1/cosh kL, and two opposite 1/cosh(kL/2). With graded extraction the pattern is made for one
//! edge or for two opposite ones, and is even for these alone; light from other edges then passes through a pattern
//! that was not made for it. Edges add up. Along curved edges light gathers or thins by curvature. What lies in
//! the shadow of a cut-out gets none. Spread in the guide, scatter and the stone's own diffusion even out more
//! than is shown here.
//!
//! Figures are taken in the panel's own frame, along its longest straight lit edge, so that a moved or turned panel
//! answers the same; the picture is upright, as the drawing is.

use std::f64::consts::{PI, TAU};
use std::fmt;

use super::arc::share_of_sweep;
use super::class::ShapeClass;
use super::edges::Edge;
use super::figures::Figures;
use super::meeting::Material;
use super::outline::Outline;
use super::point::{Point, turn};
use super::segment::{Segment, root};

/// The sentence that goes with every figure and picture of this model.
pub(crate) const MODEL_NOTE: &str =
    "Computed with a simple light-guide model: compare choices with it, do not promise its figures.";

/// Light gathered by a curved edge counts at most this many times: real light spreads past a focus.
const MOST_GATHERED: f64 = 4.0;

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
    /// The share of an edge's light that has come out by the far side, above 0 and below 1. With constant extraction
    /// it is 1 − e^(−kL).
    pub extracted_share: f64,
    /// The share of light that unlit edges send straight back, 0 to 1; 1 is a mirror.
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
            Dark::Unfaced => "no lit edge faces this place, and light goes straight in from an edge",
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
    let sound = choice.extracted_share > 0.0
        && choice.extracted_share < 1.0
        && (0.0..=1.0).contains(&choice.unlit_edge_reflectance)
        && (3..=400).contains(&choice.points_along);
    let guide = Guide::of(outline, figures, choice).filter(|_| sound)?;
    let upright = Frame::of(outline, Point::new(1.0, 0.0));
    let own = Frame::of(outline, own_direction(figures, &guide.lit));
    let grid = upright.grid(choice.points_along);
    let mut cells: Vec<Option<f64>> = grid.places().map(|p| guide.at(p)).collect();
    let nine_places: [Point; 9] = std::array::from_fn(|i| {
        let share = |n: usize| (2.0 * n as f64 + 1.0) / 6.0;
        own.place(own.width * share(i % 3), own.height * share(i / 3))
    });
    let mut nine_points = nine_places.map(|p| guide.at(p));
    let own_grid = own.grid(choice.points_along);
    let face: Vec<Option<f64>> =
        if own == upright { cells.clone() } else { own_grid.places().map(|p| guide.at(p)).collect() };
    let greatest = cells.iter().chain(&nine_points).flatten().copied().fold(0.0, f64::max);
    if greatest <= 0.0 {
        return None;
    }
    let is_dark = |(p, value): (Point, &Option<f64>)| (*value == Some(0.0)).then_some(p);
    let dark = nine_places
        .into_iter()
        .zip(&nine_points)
        .find_map(is_dark)
        .or_else(|| own_grid.places().zip(&face).find_map(is_dark))
        .map(|p| (p, guide.why_dark(p)));
    let uniformity = |values: &[Option<f64>]| {
        let seen: Vec<f64> = values.iter().flatten().copied().collect();
        let high = seen.iter().copied().fold(0.0, f64::max);
        (seen.len() > 1 && high > 0.0).then(|| seen.iter().copied().fold(f64::INFINITY, f64::min) / high)
    };
    let (nine_point_uniformity, face_uniformity) = (uniformity(&nine_points), uniformity(&face));
    for value in cells.iter_mut().chain(&mut nine_points).flatten() {
        *value /= greatest;
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
        dark,
        graded: matches!(guide.pattern, Pattern::OneEdge { .. } | Pattern::TwoEdges { .. }),
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
    let straight = lit.iter().filter(|e| e.is_straight());
    let longest = straight.reduce(|a, b| if b.length_mm > a.length_mm + 1e-9 { b } else { a });
    let angle = match (longest, figures.shape) {
        (Some(edge), _) => (edge.end() - edge.start()).angle(),
        // Every direction of a circle is the same.
        (None, ShapeClass::Circle) => 0.0,
        (None, _) => figures.least_rectangle.long_side_rad,
    };
    let angle = angle - (angle / (PI / 2.0)).round() * (PI / 2.0);
    // A last bit off upright is upright.
    if angle.abs() < 1e-9 { Point::new(1.0, 0.0) } else { Point::at_angle(angle) }
}

/// How extraction runs over the face.
#[derive(Clone, Copy)]
enum Pattern {
    Constant {
        k: f64,
    },
    /// k(x) = f/(L − f·x): what comes out is the same at every x for light from x = 0.
    OneEdge {
        from: Point,
        inward: Point,
        length: f64,
        share: f64,
    },
    /// k(x) = c/√((D₀ − c·x)² + 4P): the same for light from both sides together.
    TwoEdges {
        from: Point,
        inward: Point,
        length: f64,
        share: f64,
    },
}

impl Pattern {
    fn extraction(&self, p: Point) -> f64 {
        match *self {
            Pattern::Constant { k } => k,
            Pattern::OneEdge { from, inward, length, share } => {
                let x = inward.dot(p - from).clamp(0.0, length);
                share / (length - share * x)
            }
            Pattern::TwoEdges { from, inward, length, share } => {
                // Both start with 1, and 1 − share of each reaches the other side: P = 1 − share,
                // D₀ = share, c = 2·share/L.
                let x = inward.dot(p - from).clamp(0.0, length);
                let (c, d0) = (2.0 * share / length, share);
                c / ((d0 - c * x).powi(2) + 4.0 * (1.0 - share)).sqrt()
            }
        }
    }

    /// The extraction summed along a straight way: the exponent of what is left.
    fn depth(&self, from: Point, to: Point) -> f64 {
        if let Pattern::Constant { k } = self {
            return k * from.distance(to);
        }
        // Smooth along a straight way: 16 nodes are exact to about 1e-10 for shares up to 0.9.
        let length = from.distance(to);
        kurbo::common::GAUSS_LEGENDRE_COEFFS_16
            .iter()
            .map(|(w, node)| 0.5 * length * w * self.extraction(from.towards(to, 0.5 * (1.0 + node))))
            .sum()
    }
}

struct Guide<'o> {
    pattern: Pattern,
    lit: Vec<&'o Edge>,
    reflectance: f64,
    material: Material,
    /// Every chord of the outline with true where it belongs to an unlit outer edge, which sends light back.
    walls: Vec<(Point, Point, bool)>,
}

impl<'o> Guide<'o> {
    fn of(outline: &Outline, figures: &'o Figures, choice: &LightingChoice) -> Option<Guide<'o>> {
        let lit: Vec<&Edge> = figures.edges.iter().filter(|e| choice.lit_edges.contains(&e.number)).collect();
        let outer = outline.outer.counter_clockwise().flattened(0.1);
        let holes = outline.cutouts.iter().map(|c| c.flattened(0.1));
        let material = Material::of(std::iter::once(outer).chain(holes).collect())?;
        let mut walls = Vec::new();
        for edge in &figures.edges {
            let is_lit = choice.lit_edges.contains(&edge.number);
            for segment in &edge.segments {
                walls.extend(segment.flattened(0.1).windows(2).map(|p| (p[0].1, p[1].1, !is_lit)));
            }
        }
        for hole in &material.ways[1..] {
            walls.extend((0..hole.len()).map(|i| (hole[i], hole[(i + 1) % hole.len()], false)));
        }
        let first =
            lit.iter().copied().reduce(|a, b| if b.length_mm > a.length_mm + 1e-9 { b } else { a })?;
        let pattern = pattern(&lit, first, outline, figures, choice);
        Some(Guide { pattern, lit, reflectance: choice.unlit_edge_reflectance, material, walls })
    }

    /// What the face gives at a point; none outside it.
    fn at(&self, p: Point) -> Option<f64> {
        if !self.material.holds(p) {
            return None;
        }
        let mut sum = 0.0;
        for edge in &self.lit {
            for segment in &edge.segments {
                for foot in feet(segment, p) {
                    sum += foot.count * self.light_from(foot.at, foot.curvature, p);
                }
            }
        }
        Some(self.pattern.extraction(p) * sum)
    }

    /// Why no light arrives at a point.
    fn why_dark(&self, p: Point) -> Dark {
        let ways: Vec<Point> = self
            .lit
            .iter()
            .flat_map(|edge| &edge.segments)
            .flat_map(|segment| feet(segment, p))
            .map(|foot| foot.at)
            .collect();
        let crosses = |a: Point, b: Point| {
            self.material.ways[1..].iter().any(|hole| {
                (0..hole.len()).any(|i| {
                    let (c, d) = (hole[i], hole[(i + 1) % hole.len()]);
                    let side = |p: Point, from: Point, to: Point| (to - from).cross(p - from) > 0.0;
                    side(c, a, b) != side(d, a, b) && side(a, c, d) != side(b, c, d)
                })
            })
        };
        if ways.is_empty() {
            Dark::Unfaced
        } else if ways.iter().any(|foot| crosses(*foot, p)) {
            Dark::BehindCutout
        } else {
            Dark::BehindCorner
        }
    }

    /// Light that starts at a place of a lit edge and passes a point, there and on its way back.
    fn light_from(&self, foot: Point, curvature: f64, p: Point) -> f64 {
        let distance = foot.distance(p);
        let ahead = (p - foot).unit();
        let walls = self.hits(foot, ahead);
        let Some(&(wall, sends_back)) = walls.first() else { return 0.0 };
        if wall < distance - 1e-6 {
            return 0.0;
        }
        let gathered = (1.0 - curvature * distance).abs().max(1.0 / MOST_GATHERED).recip();
        let to_p = self.pattern.depth(foot, p);
        let mut light = (-to_p).exp();
        if sends_back && self.reflectance > 0.0 {
            let far = foot + ahead * wall;
            light += self.reflectance * (-to_p - 2.0 * self.pattern.depth(p, far)).exp();
        }
        light * gathered
    }

    /// Distances at which a ray meets the outline, nearest first, without its own start.
    fn hits(&self, from: Point, ahead: Point) -> Vec<(f64, bool)> {
        let mut hits: Vec<(f64, bool)> = self
            .walls
            .iter()
            .filter_map(|&(a, b, sends_back)| {
                let side = b - a;
                let cross = ahead.cross(side);
                if cross.abs() < 1e-12 * side.length() {
                    return None;
                }
                let distance = (a - from).cross(side) / cross;
                let share = (a - from).cross(ahead) / cross;
                (distance > 0.5 && (-1e-9..=1.0 + 1e-9).contains(&share)).then_some((distance, sends_back))
            })
            .collect();
        hits.sort_by(|a, b| a.0.total_cmp(&b.0));
        hits
    }
}

/// The pattern of extraction for the longest lit edge.
fn pattern(
    lit: &[&Edge],
    first: &Edge,
    outline: &Outline,
    figures: &Figures,
    choice: &LightingChoice,
) -> Pattern {
    let share = choice.extracted_share;
    let inward = |e: &Edge| (e.end() - e.start()).unit().left();
    if !first.is_straight() {
        let length = figures.least_rectangle.short_mm;
        return Pattern::Constant { k: -(1.0 - share).ln() / length };
    }
    let ahead = inward(first);
    let from = first.start();
    let (_, far) = outline.outer.extent(ahead);
    let length = far - ahead.dot(from);
    let opposite = lit.iter().any(|e| e.is_straight() && inward(e).dot(ahead) < -0.999);
    match (choice.extraction, opposite) {
        (Extraction::Constant, _) => Pattern::Constant { k: -(1.0 - share).ln() / length },
        (Extraction::Graded, false) => Pattern::OneEdge { from, inward: ahead, length, share },
        (Extraction::Graded, true) => Pattern::TwoEdges { from, inward: ahead, length, share },
    }
}

/// A place of a lit piece whose inward normal passes through a point.
struct Foot {
    at: Point,
    curvature: f64,
    /// How many times it counts: more than once at the very centre of an arc, where every normal meets.
    count: f64,
}

/// Nearer than this to a piece's end, in radians or in millimetres, is the next piece's start: where two pieces meet, a
/// foot counts once.
const SAME_END: f64 = 1e-9;

/// Places of a piece whose inward normal passes through a point.
fn feet(segment: &Segment, p: Point) -> Vec<Foot> {
    let along = |t: f64| segment.derivative(t).dot(p - segment.at(t));
    let inside = |t: f64| segment.derivative(t).left().dot(p - segment.at(t)) > 0.0;
    let foot = |t: f64| Foot { at: segment.at(t), curvature: segment.curvature(t), count: 1.0 };
    let on_circle = |centre: Point, radius: f64, start: f64, sweep: f64| -> Vec<Foot> {
        let off = p - centre;
        if off.length() <= 1e-6 * radius {
            // Seen from beside the centre, one normal comes from ahead and one from behind, where the arc is there: of
            // all directions, so many on average.
            let count = sweep.max(0.0) / PI;
            return if count > 0.0 { vec![Foot { count, ..foot(0.5) }] } else { Vec::new() };
        }
        [off.angle(), off.angle() + PI]
            .into_iter()
            .filter_map(|angle| share_of_sweep(start, sweep, angle))
            .filter_map(|t| match t * sweep.abs() < sweep.abs() - 1e-12 {
                true => Some(t),
                // The end of a whole circle is its start; that of an arc is the next piece's.
                false => (sweep.abs() > TAU - 1e-9).then_some(0.0),
            })
            .filter(|t| inside(*t))
            .map(foot)
            .collect()
    };
    match segment {
        Segment::Line { start, end } => {
            let (way, length) = ((*end - *start).unit(), start.distance(*end));
            let reach = way.dot(p - *start);
            let on = (-SAME_END..length - SAME_END).contains(&reach) && inside(0.0);
            return if on { vec![foot(reach / length)] } else { Vec::new() };
        }
        Segment::Arc(arc) => return on_circle(arc.centre(), arc.radius(), arc.start_angle(), arc.sweep()),
        Segment::Circle(circle) => return on_circle(circle.centre, circle.radius, 0.0, circle.sweep()),
        Segment::Cubic(_) | Segment::Ellipse(_) | Segment::Spline(_) => {}
    }
    const SAMPLES: u32 = 48;
    if let Some(turned) = turning_about(segment, p) {
        let count = turned.max(0.0) / PI;
        return if count > 0.0 { vec![Foot { count, ..foot(0.5) }] } else { Vec::new() };
    }
    let mut found: Vec<f64> = Vec::new();
    // A foot that falls on a sample is met once, from whichever side rounding takes it.
    let on_start = along(0.0).abs() <= 1e-12 * segment.derivative(0.0).length() * p.distance(segment.at(0.0));
    found.extend(on_start.then_some(0.0));
    for span in segment.breaks().windows(2) {
        let share = |i: u32| span[0] + (span[1] - span[0]) * f64::from(i) / f64::from(SAMPLES);
        for i in 0..SAMPLES {
            let (a, b) = (along(share(i)), along(share(i + 1)));
            if a == 0.0 {
                found.push(share(i));
            } else if a * b < 0.0 {
                found.push(root(share(i), share(i + 1), a, &along));
            }
        }
    }
    found.dedup_by(|a, b| (*a - *b).abs() < SAME_END);
    found.retain(|t| *t < 1.0 - SAME_END);
    found.into_iter().filter(|t| inside(*t)).map(foot).collect()
}

/// How far a piece turns to the left, in radians, where all of it runs about one point; else none.
fn turning_about(segment: &Segment, centre: Point) -> Option<f64> {
    const SAMPLES: u32 = 16;
    let places: Vec<f64> = (0..=SAMPLES).map(|i| f64::from(i) / f64::from(SAMPLES)).collect();
    let about = |t: &f64| {
        let (out, way) = (segment.at(*t) - centre, segment.derivative(*t));
        out.dot(way).abs() <= 1e-6 * out.length() * way.length()
    };
    if !places.iter().all(about) {
        return None;
    }
    Some(places.windows(2).map(|w| turn(segment.direction(w[0]), segment.direction(w[1]))).sum())
}

#[cfg(test)]
mod tests {
    use super::super::figures::figures;
    use super::*;

    fn choice(lit_edges: &[usize], extraction: Extraction) -> LightingChoice {
        LightingChoice {
            lit_edges: lit_edges.to_vec(),
            extraction,
            // kL = 1.
            extracted_share: 1.0 - (-1.0_f64).exp(),
            unlit_edge_reflectance: 0.0,
            points_along: 60,
        }
    }

    fn picture(outline: &Outline, choice: &LightingChoice) -> LuminancePicture {
        luminance_picture(outline, &figures(outline), choice).expect("an edge is lit")
    }

    /// Least by greatest along a column of cell centres, taken out to the edges by the law it follows.
    fn expected_at_cells(rows: usize, law: impl Fn(f64) -> f64) -> f64 {
        let values: Vec<f64> = (0..rows).map(|i| law((i as f64 + 0.5) / rows as f64)).collect();
        values.iter().copied().fold(f64::INFINITY, f64::min) / values.iter().copied().fold(0.0, f64::max)
    }

    #[test]
    fn the_closed_forms_of_one_and_two_lit_edges() {
        // Light guide with constant extraction, closed forms: one edge e^(−kx); with a mirror opposite
        // cosh k(L−x); two edges cosh k(x−L/2). At kL = 1 over the whole face: 0.368, 0.648, 0.887.
        let bar = Outline::rectangle(1200.0, 300.0);
        let one = picture(&bar, &choice(&[1], Extraction::Constant));
        let (rows, k) = (one.rows, 1.0);
        assert!((one.face_uniformity - expected_at_cells(rows, |x| (-k * x).exp())).abs() < 1e-9);
        let mirrored = LightingChoice { unlit_edge_reflectance: 1.0, ..choice(&[1], Extraction::Constant) };
        let mirror = picture(&bar, &mirrored);
        assert!((mirror.face_uniformity - expected_at_cells(rows, |x| (1.0 - x).cosh())).abs() < 1e-9);
        let two = picture(&bar, &choice(&[1, 3], Extraction::Constant));
        assert!((two.face_uniformity - expected_at_cells(rows, |x| (x - 0.5).cosh())).abs() < 1e-9);
        assert!((expected_at_cells(100_000, |x| (-x).exp()) - 0.368).abs() < 5e-4);
        assert!((expected_at_cells(100_000, |x| (1.0 - x).cosh()) - 0.648).abs() < 5e-4);
        assert!((expected_at_cells(100_000, |x| (x - 0.5).cosh()) - 0.887).abs() < 5e-4);
        // Nine points stand at 1/6, 1/2 and 5/6 of the way.
        let nine = two.nine_point_uniformity.expect("nine points");
        assert!((nine - 1.0 / (1.0_f64 / 3.0).cosh()).abs() < 1e-9);
    }

    /// A circle as one piece, as two half circles that begin anywhere, as an ellipse of ratio 1, and as a spline.
    fn rounds(radius: f64, begin: f64) -> Vec<Outline> {
        use super::super::arc::Arc;
        use super::super::ellipse::EllipseArc;
        use super::super::nurbs::Nurbs;
        use super::super::outline::Contour;
        let at = |angle: f64| Point::at_angle(angle) * radius;
        let halves = [begin, begin + PI].map(|a| Segment::Arc(Arc::about(Point::default(), radius, a, PI)));
        let ellipse = EllipseArc {
            centre: Point::default(),
            major: at(begin),
            ratio: 1.0,
            start_rad: 0.0,
            sweep_rad: 2.0 * PI,
        };
        // Piegl & Tiller, The NURBS Book (2nd ed. 1997), section 7.5: nine-point square form of the full circle.
        let (w, out) = (0.5_f64.sqrt(), 2f64.sqrt());
        let points = (0..9).map(|i| {
            let angle = begin + f64::from(i) * PI / 4.0;
            at(angle) * if i % 2 == 1 { out } else { 1.0 }
        });
        let knots = vec![0., 0., 0., 0.25, 0.25, 0.5, 0.5, 0.75, 0.75, 1., 1., 1.];
        let weights = vec![1., w, 1., w, 1., w, 1., w, 1.];
        let spline = Nurbs::new(2, knots, points.collect(), weights).expect("the parts fit");
        [vec![Segment::Ellipse(ellipse)], halves.to_vec(), vec![Segment::Spline(spline)]]
            .into_iter()
            .map(|segments| Outline::of(Contour { segments }))
            .chain([Outline::circle(2.0 * radius)])
            .collect()
    }

    #[test]
    fn a_round_panel_answers_the_same_wherever_and_however_it_is_drawn() {
        use super::super::point::Transform;
        let all = |outline: &Outline| {
            let lit: Vec<usize> = (1..=figures(outline).edges.len()).collect();
            let coarse = LightingChoice { points_along: 15, ..choice(&lit, Extraction::Constant) };
            let picture = picture(outline, &coarse);
            (picture.nine_point_uniformity.expect("nine points"), picture.face_uniformity)
        };
        let (nine, face) = all(&Outline::circle(900.0));
        // The middle of the nine points is the centre, where light gathers: eight times e^(−kr) there; at a corner point
        // √2·⅔ of the radius out, light comes from ahead and behind, spread over a circle that much smaller or larger.
        let k = 1.0 / 900.0_f64;
        let beside = 450.0 * 2f64.sqrt() * 2.0 / 3.0;
        let away = |d: f64| (-k * d).exp() / (1.0 - d / 450.0).abs().max(0.25);
        let corner = away(450.0 - beside) + away(450.0 + beside);
        assert!((nine - corner / (8.0 * (-k * 450.0).exp())).abs() < 1e-9, "{nine}");
        for (x, y, angle) in [(0.0, 0.0, 0.0), (1234.5, -777.7, 0.0), (0.1, 0.2, 0.3), (5e4, 3e4, 1.234)] {
            let map = Transform::rotated(angle).then(Transform::moved(Point::new(x, y)));
            for (i, outline) in rounds(450.0, 0.7 * angle).iter().enumerate() {
                let (n, f) = all(&outline.mapped(map));
                assert!(
                    (n - nine).abs() < 1e-6,
                    "drawing {i} at {x}, {y}, turned {angle}: {n} and not {nine}"
                );
                assert!(
                    (f - face).abs() < 0.02,
                    "drawing {i} at {x}, {y}, turned {angle}: {f} and not {face}"
                );
            }
        }
    }

    #[test]
    fn a_moved_or_turned_panel_answers_the_same() {
        use super::super::outline::Contour;
        use super::super::point::Transform;
        let mut holed = Outline::rectangle(1200.0, 500.0);
        holed.cutouts.push(Contour::circle(Point::new(600.0, 250.0), 90.0));
        let trapezium = Outline::polygon(&[
            Point::new(0.0, 0.0),
            Point::new(1000.0, 0.0),
            Point::new(800.0, 400.0),
            Point::new(200.0, 400.0),
        ]);
        // The lit edge in two pieces, that meet in its middle: below the middle column of points.
        let mut in_two = Outline::rectangle(900.0, 300.0);
        in_two.outer.segments.splice(
            0..1,
            [
                Segment::line(Point::new(0.0, 0.0), Point::new(450.0, 0.0)),
                Segment::line(Point::new(450.0, 0.0), Point::new(900.0, 0.0)),
            ],
        );
        for outline in [Outline::rectangle(900.0, 300.0), holed, trapezium, in_two.clone()] {
            let before = picture(&outline, &choice(&[1], Extraction::Constant));
            let lowest = figures(&outline).edges[0].clone();
            for (x, y, angle) in
                [(500.0, 300.0, 0.0), (-8000.0, 11.0, 0.4), (3.0, 5.0, PI / 2.0), (0.0, 0.0, 2.5)]
            {
                let map = Transform::rotated(angle).then(Transform::moved(Point::new(x, y)));
                let turned = outline.mapped(map);
                // The same edge may have another number.
                let measured = figures(&turned);
                let start = map.point(lowest.start());
                let same =
                    measured.edges.iter().find(|e| e.start().distance(start) < 1e-6).expect("the edge");
                let after = picture(&turned, &choice(&[same.number], Extraction::Constant));
                let (a, b) = (before.nine_point_uniformity, after.nine_point_uniformity);
                assert!((a.expect("nine") - b.expect("nine")).abs() < 1e-9, "{x} {y} {angle}: {a:?} {b:?}");
                assert!((before.face_uniformity - after.face_uniformity).abs() < 1e-9, "{x} {y} {angle}");
            }
        }
        let whole = picture(&Outline::rectangle(900.0, 300.0), &choice(&[1], Extraction::Constant));
        let parted = picture(&in_two, &choice(&[1], Extraction::Constant));
        assert_eq!(whole.nine_points, parted.nine_points);
    }

    #[test]
    fn a_dark_place_says_why() {
        let mut holed = Outline::rectangle(1200.0, 500.0);
        holed.cutouts.push(super::super::outline::Contour::circle(Point::new(600.0, 200.0), 120.0));
        let behind = picture(&holed, &choice(&[1], Extraction::Constant));
        let (place, why) = behind.dark.expect("a shadow");
        assert!(why == Dark::BehindCutout && place.y > 200.0, "{place:?} {why:?}");
        // An L lit from the end of its foot: nothing faces the upper arm.
        let l = Outline::polygon(&[
            Point::new(0.0, 0.0),
            Point::new(900.0, 0.0),
            Point::new(900.0, 300.0),
            Point::new(300.0, 300.0),
            Point::new(300.0, 900.0),
            Point::new(0.0, 900.0),
        ]);
        let unfaced = picture(&l, &choice(&[2], Extraction::Constant));
        assert_eq!(unfaced.dark.map(|d| d.1), Some(Dark::Unfaced));
        assert_eq!(
            picture(&Outline::rectangle(900.0, 300.0), &choice(&[1], Extraction::Constant)).dark,
            None
        );
    }

    #[test]
    fn a_graded_pattern_is_even_for_the_edges_it_is_made_for() {
        let bar = Outline::rectangle(1200.0, 300.0);
        for lit in [&[1][..], &[1, 3]] {
            let even = picture(&bar, &choice(lit, Extraction::Graded));
            assert!(even.graded);
            assert!((even.face_uniformity - 1.0).abs() < 1e-6, "{lit:?}: {}", even.face_uniformity);
        }
    }

    #[test]
    fn three_edges_on_an_oblong_are_shown_to_be_uneven() {
        let bar = Outline::rectangle(1200.0, 300.0);
        for extraction in [Extraction::Constant, Extraction::Graded] {
            let two = picture(&bar, &choice(&[1, 3], extraction));
            let three = picture(&bar, &choice(&[1, 2, 3], extraction));
            let four = picture(&bar, &choice(&[1, 2, 3, 4], extraction));
            assert!(three.face_uniformity < two.face_uniformity - 0.1, "{extraction:?}");
            assert!(four.nine_point_uniformity < two.nine_point_uniformity, "{extraction:?}");
        }
        // On a square the four sides add up to the same law along both axes.
        let square = Outline::rectangle(600.0, 600.0);
        let four = picture(&square, &choice(&[1, 2, 3, 4], Extraction::Constant));
        let two = picture(&square, &choice(&[1, 3], Extraction::Constant));
        assert!(four.nine_point_uniformity >= two.nine_point_uniformity);
    }

    #[test]
    fn a_cutout_casts_its_shadow() {
        let mut vanity = Outline::rectangle(1200.0, 500.0);
        vanity.cutouts.push(super::super::outline::Contour::circle(Point::new(600.0, 250.0), 120.0));
        let shadowed = picture(&vanity, &choice(&[1], Extraction::Constant));
        assert_eq!(shadowed.face_uniformity, 0.0);
        assert_eq!(shadowed.nine_points.iter().flatten().count(), 8, "the middle point is cut out");
    }

    #[test]
    fn advice_by_common_practice() {
        // Three or four lit edges only on a square: common practice, no source.
        assert!(lit_edge_advice(ShapeClass::Rectangle, 3).is_some());
        assert!(lit_edge_advice(ShapeClass::Rectangle, 4).is_some());
        assert_eq!(lit_edge_advice(ShapeClass::Rectangle, 2), None);
        assert_eq!(lit_edge_advice(ShapeClass::Square, 4), None);
    }
}

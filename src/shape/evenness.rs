//! A computed picture of how even the light is over a panel's face for chosen lit edges. A model, not a measurement.
//!
//! Each lit edge sends its light straight in along its normal; the guide lets out a share of it on the way. With
//! constant extraction k the face gives k·e^(−kd) at a distance d, so that one lit edge has min/max e^(−kL), one with
//! a mirror opposite 1/cosh kL, and two opposite 1/cosh(kL/2). With graded extraction the pattern is made for one
//! edge or for two opposite ones, and is even for these alone; light from other edges then passes through a pattern
//! that was not made for it. Edges add up. Along curved edges light gathers or thins by curvature. What lies in
//! the shadow of a cut-out gets none. Spread in the guide, scatter and the stone's own diffusion even out more
//! than is shown here.

use super::class::ShapeClass;
use super::edges::Edge;
use super::figures::Figures;
use super::meeting::winding;
use super::outline::Outline;
use super::point::Point;
use super::segment::{Segment, root};

/// The sentence that goes with every figure and picture of this model.
pub const MODEL_NOTE: &str =
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
    /// The nine points: centres of a 3×3 division of the upright box, from the lower left; none outside the face.
    pub nine_points: [Option<f64>; 9],
    /// Least by greatest of the nine points on the face; 1 is even. None where fewer than two lie on the face.
    pub nine_point_uniformity: Option<f64>,
    /// Least by greatest over all cells.
    pub face_uniformity: f64,
    /// True where a graded pattern could be made: graded extraction needs a straight lit edge.
    pub graded: bool,
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

/// Tape along the lit edges.
#[derive(Clone, Debug, PartialEq)]
pub struct LitTape {
    /// Length of tape in millimetres: the lit edges' lengths.
    pub length_mm: f64,
    /// Where each run is fed: the start of each lit edge, in the order of the edges.
    pub feed_points: Vec<Point>,
}

/// The tape for chosen edges; numbers that the outline does not have are left out.
#[must_use]
pub fn lit_tape(figures: &Figures, lit_edges: &[usize]) -> LitTape {
    let lit = figures.edges.iter().filter(|e| lit_edges.contains(&e.number));
    LitTape { length_mm: lit.clone().map(|e| e.length_mm).sum(), feed_points: lit.map(Edge::start).collect() }
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
    let (width, height) = (figures.width_mm, figures.height_mm);
    let step_mm = width.max(height) / choice.points_along as f64;
    let columns = (width / step_mm).round().max(1.0) as usize;
    let rows = (height / step_mm).round().max(1.0) as usize;
    let first = figures.lower_left
        + Point::new(
            0.5 * (width - step_mm * (columns - 1) as f64),
            0.5 * (height - step_mm * (rows - 1) as f64),
        );
    let cell = |i: usize| first + Point::new((i % columns) as f64 * step_mm, (i / columns) as f64 * step_mm);
    let mut cells: Vec<Option<f64>> = (0..columns * rows).map(|i| guide.at(cell(i))).collect();
    let mut nine_points: [Option<f64>; 9] = std::array::from_fn(|i| {
        let share = |n: usize| (2.0 * n as f64 + 1.0) / 6.0;
        guide.at(figures.lower_left + Point::new(width * share(i % 3), height * share(i / 3)))
    });
    let greatest = cells.iter().chain(&nine_points).flatten().copied().fold(0.0, f64::max);
    if greatest <= 0.0 {
        return None;
    }
    for value in cells.iter_mut().chain(&mut nine_points).flatten() {
        *value /= greatest;
    }
    let uniformity = |values: &[Option<f64>]| {
        let seen: Vec<f64> = values.iter().flatten().copied().collect();
        let high = seen.iter().copied().fold(0.0, f64::max);
        (seen.len() > 1 && high > 0.0).then(|| seen.iter().copied().fold(f64::INFINITY, f64::min) / high)
    };
    Some(LuminancePicture {
        first,
        step_mm,
        columns,
        rows,
        nine_point_uniformity: uniformity(&nine_points),
        face_uniformity: uniformity(&cells).unwrap_or(1.0),
        cells,
        nine_points,
        graded: matches!(guide.pattern, Pattern::OneEdge { .. } | Pattern::TwoEdges { .. }),
    })
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
    outer: Vec<Point>,
    holes: Vec<Vec<Point>>,
    /// Every chord of the outline with true where it belongs to an unlit outer edge, which sends light back.
    walls: Vec<(Point, Point, bool)>,
}

impl<'o> Guide<'o> {
    fn of(outline: &Outline, figures: &'o Figures, choice: &LightingChoice) -> Option<Guide<'o>> {
        let lit: Vec<&Edge> = figures.edges.iter().filter(|e| choice.lit_edges.contains(&e.number)).collect();
        let outer = outline.outer.counter_clockwise().flattened(0.1);
        let holes: Vec<Vec<Point>> = outline.cutouts.iter().map(|c| c.flattened(0.1)).collect();
        let mut walls = Vec::new();
        for edge in &figures.edges {
            let is_lit = choice.lit_edges.contains(&edge.number);
            for segment in &edge.segments {
                walls.extend(segment.flattened(0.1).windows(2).map(|p| (p[0].1, p[1].1, !is_lit)));
            }
        }
        for hole in &holes {
            walls.extend((0..hole.len()).map(|i| (hole[i], hole[(i + 1) % hole.len()], false)));
        }
        let first =
            lit.iter().copied().reduce(|a, b| if b.length_mm > a.length_mm + 1e-9 { b } else { a })?;
        let pattern = pattern(&lit, first, outline, figures, choice);
        Some(Guide { pattern, lit, reflectance: choice.unlit_edge_reflectance, outer, holes, walls })
    }

    /// What the face gives at a point; none outside it.
    fn at(&self, p: Point) -> Option<f64> {
        if winding(&self.outer, p) == 0 || self.holes.iter().any(|h| winding(h, p) != 0) {
            return None;
        }
        let mut sum = 0.0;
        for edge in &self.lit {
            for segment in &edge.segments {
                for (foot, curvature) in feet(segment, p) {
                    sum += self.light_from(foot, curvature, p);
                }
            }
        }
        Some(self.pattern.extraction(p) * sum)
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

/// Places of a piece whose inward normal passes through a point, with the curvature there.
fn feet(segment: &Segment, p: Point) -> Vec<(Point, f64)> {
    let along = |t: f64| segment.derivative(t).dot(p - segment.at(t));
    let inside = |t: f64| segment.derivative(t).left().dot(p - segment.at(t)) > 0.0;
    if let Segment::Line { start, end } = segment {
        let t = (p - *start).dot(*end - *start) / (*end - *start).dot(*end - *start);
        let on = (0.0..=1.0).contains(&t) && inside(t);
        return if on { vec![(segment.at(t), 0.0)] } else { Vec::new() };
    }
    const SAMPLES: u32 = 48;
    let mut found = Vec::new();
    for span in segment.breaks().windows(2) {
        let share = |i: u32| span[0] + (span[1] - span[0]) * f64::from(i) / f64::from(SAMPLES);
        for i in 0..SAMPLES {
            let (a, b) = (along(share(i)), along(share(i + 1)));
            if a * b < 0.0 || a == 0.0 {
                let t = if a == 0.0 { share(i) } else { root(share(i), share(i + 1), a, &along) };
                if inside(t) {
                    found.push((segment.at(t), segment.curvature(t)));
                }
            }
        }
    }
    found
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

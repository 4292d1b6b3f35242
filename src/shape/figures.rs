//! The figures of an outline that the gates, the sheet and the shop use.
//!
//! Everything here follows from the outline alone. What depends on the shop, such as which edges its tape can
//! follow, is asked of an [`Edge`] with the shop's limits.

use super::class::{ShapeClass, classify};
use super::edges::{Edge, EdgeKind, edges};
use super::outline::{Contour, Outline};
use super::point::{Point, turn};
use super::rectangle::{Rectangle, least_rectangle};
use super::segment::Segment;

/// What an outline measures.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// What it is in plain words.
    pub shape: ShapeClass,
    /// True where it needs a signed drawing for its curves: any curve that is not a whole circle.
    pub curved: bool,
    /// True where a cut-out is curved in that sense.
    pub curved_cutouts: bool,
    /// Area net of cut-outs, in mm².
    pub area_mm2: f64,
    /// Length of the outer contour, in mm.
    pub perimeter_mm: f64,
    /// Length of all that is cut: the outer contour and the cut-outs, in mm.
    pub cut_length_mm: f64,
    /// Length of all that is etched, in mm.
    pub etch_length_mm: f64,
    /// Centroid of the net area.
    pub centroid: Point,
    /// Lower left corner of the upright box around it.
    pub lower_left: Point,
    /// Width of the upright box, in mm.
    pub width_mm: f64,
    /// Height of the upright box, in mm.
    pub height_mm: f64,
    /// The rectangle of least area around it, at any angle.
    pub least_rectangle: Rectangle,
    /// How many cut-outs it has.
    pub cutouts: usize,
    /// The least radius of an inward curve, which a cutter must reach into, in mm; none where there is no such
    /// curve. Sharp inside corners are counted by themselves.
    pub least_inside_radius_mm: Option<f64>,
    /// The least radius of an outward curve, in mm; none where there is none.
    pub least_outside_radius_mm: Option<f64>,
    /// Inside corners without any radius, which no round cutter reaches.
    pub sharp_inside_corners: usize,
    /// Edges of the outer contour, numbered from 1, counter-clockwise from the lowest corner.
    pub edges: Vec<Edge>,
}

impl Figures {
    /// The least radius of any curve, in mm; none where all is straight.
    #[must_use]
    pub(crate) fn least_radius_mm(&self) -> Option<f64> {
        match (self.least_inside_radius_mm, self.least_outside_radius_mm) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }

    /// Mass of stone of this area, in kg, from its thickness in mm and density in kg/m³.
    ///
    /// Densities: marble and onyx (calcite) near 2700 kg/m³ (mineral calcite 2.71 g/cm³, handbook value from
    /// memory).
    #[must_use]
    pub(crate) fn stone_mass_kg(&self, thickness_mm: f64, density_kg_m3: f64) -> f64 {
        self.area_mm2 * thickness_mm * density_kg_m3 * 1e-9
    }
}

/// Measures an outline.
///
/// The outline should be sound (see [`super::check`]); the figures of one that is not mean nothing.
#[must_use]
pub fn figures(outline: &Outline) -> Figures {
    let outer = outline.outer.counter_clockwise();
    let origin = outer.start();
    let whole = outer.moments(origin);
    let net = outline
        .cutouts
        .iter()
        .map(|c| c.counter_clockwise().moments(origin))
        .fold(whole, |all, cutout| all.minus(cutout));
    let (x, y) = (outer.extent(Point::new(1.0, 0.0)), outer.extent(Point::new(0.0, 1.0)));
    let perimeter_mm = outer.length();
    let outer_edges = edges(&outer);
    let shape = classify(&outer, &outer_edges);
    let bends = bends(outline, &outer_edges);
    Figures {
        shape,
        curved: shape == ShapeClass::Curved,
        curved_cutouts: outline.cutouts.iter().any(|c| {
            let c = c.counter_clockwise();
            classify(&c, &edges(&c)) == ShapeClass::Curved
        }),
        area_mm2: net.area,
        perimeter_mm,
        cut_length_mm: perimeter_mm + outline.cutouts.iter().map(Contour::length).sum::<f64>(),
        etch_length_mm: outline.etchings.iter().map(|p| p.length()).fold(0.0, |sum, length| sum + length),
        centroid: if net.area == 0.0 { origin } else { origin + net.first * (1.0 / net.area) },
        lower_left: Point::new(x.0, y.0),
        width_mm: x.1 - x.0,
        height_mm: y.1 - y.0,
        least_rectangle: least_rectangle(&outer),
        cutouts: outline.cutouts.len(),
        least_inside_radius_mm: bends.inside,
        least_outside_radius_mm: bends.outside,
        sharp_inside_corners: bends.sharp_inside,
        edges: outer_edges,
    }
}

#[derive(Default)]
struct Bends {
    inside: Option<f64>,
    outside: Option<f64>,
    sharp_inside: usize,
}

/// Where material is bent inward and outward: walking with the material on the left, a left turn is outward.
fn bends(outline: &Outline, outer_edges: &[Edge]) -> Bends {
    let mut bends = Bends::default();
    let take = |slot: &mut Option<f64>, radius: Option<f64>| {
        if let Some(radius) = radius {
            *slot = Some(slot.map_or(radius, |r| r.min(radius)));
        }
    };
    let with_material_left = std::iter::once(outline.outer.counter_clockwise())
        .chain(outline.cutouts.iter().map(|c| c.counter_clockwise().reversed()));
    for (number, contour) in with_material_left.enumerate() {
        for segment in &contour.segments {
            if segment.is_straight(1e-6) {
                continue;
            }
            let (left, right) = segment.least_radii();
            take(&mut bends.outside, left);
            take(&mut bends.inside, right);
        }
        let count = contour.segments.len();
        for (i, here) in contour.segments.iter().enumerate() {
            let before: &Segment = &contour.segments[(i + count - 1) % count];
            // One degree: less is a smooth joint drawn roughly.
            if turn(before.direction(1.0), here.direction(0.0)) < -1f64.to_radians() {
                bends.sharp_inside += 1;
            }
        }
        // A curve drawn as short lines has no radius of its own: take the one it stands for.
        let own_edges = if number == 0 { outer_edges.to_vec() } else { edges(&contour) };
        for edge in own_edges.iter().filter(|e| e.kind == EdgeKind::FacetedCurve) {
            let turns: f64 = edge
                .segments
                .windows(2)
                .map(|pair| turn(pair[0].direction(1.0), pair[1].direction(0.0)))
                .sum();
            let outward = (turns > 0.0) == (contour.signed_area() > 0.0);
            let slot = if outward { &mut bends.outside } else { &mut bends.inside };
            take(slot, edge.least_radius_mm);
        }
    }
    bends
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{PI, SQRT_2};

    use super::super::arc::Arc;
    use super::super::ellipse::EllipseArc;
    use super::super::point::Transform;
    use super::*;

    fn close(a: f64, b: f64, relative: f64) {
        assert!((a - b).abs() <= relative * b.abs().max(1e-300), "{a} is not {b}");
    }

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    /// A slot: a rectangle with a half circle at each end.
    fn slot(length: f64, radius: f64) -> Outline {
        Outline::of(Contour {
            segments: vec![
                Segment::line(p(0.0, 0.0), p(length, 0.0)),
                Segment::Arc(Arc { start: p(length, 0.0), end: p(length, 2.0 * radius), bulge: 1.0 }),
                Segment::line(p(length, 2.0 * radius), p(0.0, 2.0 * radius)),
                Segment::Arc(Arc { start: p(0.0, 2.0 * radius), end: p(0.0, 0.0), bulge: 1.0 }),
            ],
        })
    }

    #[test]
    fn closed_forms() {
        let bar = figures(&Outline::rectangle(1200.0, 400.0));
        assert_eq!((bar.area_mm2, bar.perimeter_mm, bar.shape), (480_000.0, 3200.0, ShapeClass::Rectangle));
        assert_eq!((bar.centroid, bar.width_mm, bar.height_mm), (p(600.0, 200.0), 1200.0, 400.0));
        assert_eq!((bar.least_rectangle.short_mm, bar.least_rectangle.long_mm), (400.0, 1200.0));
        assert_eq!(bar.edges.len(), 4);
        assert_eq!((bar.edges[0].start(), bar.edges[0].end()), (p(0.0, 0.0), p(1200.0, 0.0)));

        let round = figures(&Outline::circle(900.0));
        close(round.area_mm2, PI * 450.0 * 450.0, 1e-15);
        close(round.perimeter_mm, PI * 900.0, 1e-15);
        assert_eq!((round.shape, round.curved, round.edges.len()), (ShapeClass::Circle, false, 1));

        let slot = figures(&slot(1000.0, 150.0));
        close(slot.area_mm2, 300_000.0 + PI * 150.0 * 150.0, 1e-14);
        close(slot.perimeter_mm, 2000.0 + PI * 300.0, 1e-14);
        assert_eq!((slot.shape, slot.curved, slot.edges.len()), (ShapeClass::Curved, true, 4));
        close(slot.width_mm, 1300.0, 1e-14);
        close(slot.centroid.x, 500.0, 1e-12);
        close(slot.least_outside_radius_mm.expect("it has arcs"), 150.0, 1e-14);
        assert_eq!(slot.least_inside_radius_mm, None);
    }

    #[test]
    fn a_half_disc_has_its_centroid_where_the_handbooks_say() {
        // Centroid of a half disc at 4r/(3π) from its diameter: closed form, any mechanics handbook.
        let half = Outline::of(Contour {
            segments: vec![
                Segment::line(p(-100.0, 0.0), p(100.0, 0.0)),
                Segment::Arc(Arc { start: p(100.0, 0.0), end: p(-100.0, 0.0), bulge: 1.0 }),
            ],
        });
        let half = figures(&half);
        close(half.centroid.y, 400.0 / (3.0 * PI), 1e-13);
        assert!(half.centroid.x.abs() < 1e-10);
    }

    #[test]
    fn an_ellipse_measures_as_its_closed_forms() {
        let whole = EllipseArc {
            centre: p(700.0, -300.0),
            major: p(300.0, 400.0),
            ratio: 0.6,
            start_rad: 0.7,
            sweep_rad: -2.0 * PI,
        };
        let whole = figures(&Outline::of(Contour { segments: vec![Segment::Ellipse(whole)] }));
        close(whole.area_mm2, PI * 500.0 * 300.0, 1e-12);
        // Perimeter by the arithmetic-geometric mean (Gauss), worked outside this code in Python.
        close(whole.perimeter_mm, 2_552.699_886_339_812, 1e-9);
        close(whole.centroid.x, 700.0, 1e-9);
        close(whole.least_rectangle.short_mm, 600.0, 1e-9);
        close(whole.least_rectangle.long_mm, 1000.0, 1e-9);
        close(whole.least_radius_mm().expect("it is curved"), 300.0 * 300.0 / 500.0, 1e-9);
    }

    #[test]
    fn cutouts_come_off_the_area_and_on_the_cut() {
        let mut vanity = Outline::rectangle(1500.0, 550.0);
        vanity.cutouts.push(Contour::circle(p(400.0, 275.0), 180.0));
        vanity.cutouts.push(Contour::polygon(&[
            p(900.0, 100.0),
            p(900.0, 400.0),
            p(1300.0, 400.0),
            p(1300.0, 100.0),
        ]));
        let vanity = figures(&vanity);
        close(vanity.area_mm2, 825_000.0 - PI * 180.0 * 180.0 - 120_000.0, 1e-14);
        close(vanity.cut_length_mm, 4100.0 + PI * 360.0 + 1400.0, 1e-14);
        assert_eq!((vanity.shape, vanity.cutouts, vanity.curved_cutouts), (ShapeClass::Rectangle, 2, false));
        assert_eq!(vanity.sharp_inside_corners, 4);
        close(vanity.least_inside_radius_mm.expect("the round hole"), 180.0, 1e-14);
    }

    #[test]
    fn a_turned_square_is_still_a_square() {
        let square = Outline::rectangle(500.0, 500.0).mapped(Transform::rotated(0.3));
        let square = figures(&square);
        assert_eq!(square.shape, ShapeClass::Square);
        close(square.least_rectangle.short_mm, 500.0, 1e-12);
        let corner = figures(&Outline::triangle(p(0.0, 0.0), p(100.0, 0.0), p(0.0, 100.0)));
        assert_eq!(corner.shape, ShapeClass::Triangle);
        // On the hypotenuse the box is 100√2 by 50√2, the same area as upright.
        close(corner.least_rectangle.short_mm * corner.least_rectangle.long_mm, 10_000.0, 1e-12);
        close(corner.perimeter_mm, 200.0 + 100.0 * SQRT_2, 1e-15);
    }
}

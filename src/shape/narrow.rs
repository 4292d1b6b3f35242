//! Webs and necks: where little material is left between two lines that are cut.
//!
//! A web lies between two contours, a neck between two stretches of one. Fine chords in a box index are compared, and of
//! all places nearer than a limit the narrowest of each pair of contours is told.

use std::collections::HashMap;

use static_aabb2d_index::StaticAABB2DIndexBuilder;

use super::meeting::Material;
use super::outline::Outline;
use super::point::{Point, distance_to_way};
use crate::units::{DisplayUnits, Millimetres};

/// How close the chords stay to the curves, in millimetres.
const CHORD_MM: f64 = 0.02;

/// Two stretches of one contour are a neck where the way round between them is so many times longer than the way across: a
/// corner of 30° and more is none.
const ROUND_BY_ACROSS: f64 = 4.0;

/// A place with little material.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Narrow {
    /// How much is left, in millimetres.
    pub width_mm: f64,
    /// Where, in the middle of it.
    pub at: Point,
    /// Between what: `cut-out 1 and the outline`, or `two sides of the outline`.
    pub between: String,
}

impl Narrow {
    /// In words: `only 1.2 mm of material between cut-out 1 and the outline, at (300 mm, 499.4 mm)`.
    #[must_use]
    pub(crate) fn in_words(&self, units: DisplayUnits) -> String {
        let show = |mm: f64| units.show(Millimetres(mm));
        format!(
            "only {} of material between {}, at ({}, {})",
            show(self.width_mm),
            self.between,
            show(self.at.x),
            show(self.at.y)
        )
    }
}

struct Chord {
    contour: usize,
    from: Point,
    to: Point,
    /// How far along its contour it starts.
    reach: f64,
}

/// Places where less than the limit is left between two cut lines, the narrowest of each pair of contours, narrowest first.
#[must_use]
pub(crate) fn narrow_places(outline: &Outline, limit_mm: f64) -> Vec<Narrow> {
    let flat: Vec<Vec<Point>> = outline.contours().map(|c| c.flattened(CHORD_MM)).collect();
    let mut chords: Vec<Chord> = Vec::new();
    let mut lengths = Vec::new();
    for (contour, points) in flat.iter().enumerate() {
        let mut reach = 0.0;
        for i in 0..points.len() {
            let (from, to) = (points[i], points[(i + 1) % points.len()]);
            chords.push(Chord { contour, from, to, reach });
            reach += from.distance(to);
        }
        lengths.push(reach);
    }
    let mut builder = StaticAABB2DIndexBuilder::new(chords.len());
    for c in &chords {
        builder.add(c.from.x.min(c.to.x), c.from.y.min(c.to.y), c.from.x.max(c.to.x), c.from.y.max(c.to.y));
    }
    let Ok(index) = builder.build() else { return Vec::new() };
    let Some(material) = Material::of(flat) else { return Vec::new() };
    let mut found: HashMap<(usize, usize), Narrow> = HashMap::new();
    for (i, a) in chords.iter().enumerate() {
        let near = index.query(
            a.from.x.min(a.to.x) - limit_mm,
            a.from.y.min(a.to.y) - limit_mm,
            a.from.x.max(a.to.x) + limit_mm,
            a.from.y.max(a.to.y) + limit_mm,
        );
        for b in near.into_iter().filter(|j| *j > i).map(|j| &chords[j]) {
            let (width_mm, p, q) = closest(a, b);
            let pair = (a.contour.min(b.contour), a.contour.max(b.contour));
            if width_mm >= limit_mm || found.get(&pair).is_some_and(|known| known.width_mm <= width_mm) {
                continue;
            }
            if a.contour == b.contour {
                let (s, t) = (a.reach + a.from.distance(p), b.reach + b.from.distance(q));
                let round = (t - s).abs().min(lengths[a.contour] - (t - s).abs());
                if round < ROUND_BY_ACROSS * width_mm.max(CHORD_MM) {
                    continue;
                }
            }
            let at = p.towards(q, 0.5);
            if !material.holds(at) {
                continue;
            }
            found.insert(pair, Narrow { width_mm, at, between: between(pair) });
        }
    }
    let mut places: Vec<((usize, usize), Narrow)> = found.into_iter().collect();
    places.sort_by(|(p, a), (q, b)| a.width_mm.total_cmp(&b.width_mm).then(p.cmp(q)));
    places.into_iter().map(|(_, place)| place).collect()
}

fn between((a, b): (usize, usize)) -> String {
    let name = |i: usize| if i == 0 { "the outline".to_owned() } else { format!("cut-out {i}") };
    if a == b { format!("two sides of {}", name(a)) } else { format!("{} and {}", name(b), name(a)) }
}

/// The nearest points of two chords that do not cross, and how far they are apart.
fn closest(a: &Chord, b: &Chord) -> (f64, Point, Point) {
    let onto = |p: Point, c: &Chord| {
        let along = c.to - c.from;
        let square = along.dot(along);
        let share = if square > 0.0 { ((p - c.from).dot(along) / square).clamp(0.0, 1.0) } else { 0.0 };
        c.from.towards(c.to, share)
    };
    [(a.from, onto(a.from, b)), (a.to, onto(a.to, b)), (onto(b.from, a), b.from), (onto(b.to, a), b.to)]
        .into_iter()
        .map(|(p, q)| (p.distance(q), p, q))
        .reduce(|x, y| if y.0 < x.0 { y } else { x })
        .unwrap_or((distance_to_way(a.from, b.from, b.to), a.from, b.from))
}

#[cfg(test)]
mod tests {
    use super::super::outline::Contour;
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn webs_and_necks_by_hand() {
        let mut sink = Outline::rectangle(1200.0, 500.0);
        sink.cutouts.push(Contour::circle(p(300.0, 250.0), 248.8));
        sink.cutouts.push(Contour::circle(p(700.0, 250.0), 149.0));
        let found = narrow_places(&sink, 10.0);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!((found[0].width_mm - 1.2).abs() < 0.03 && found[0].between == "cut-out 1 and the outline");
        // 400 between the centres, less both radii.
        assert!((found[1].width_mm - 2.2).abs() < 0.05 && found[1].between == "cut-out 2 and cut-out 1");
        assert!((found[1].at.y - 250.0).abs() < 3.0);
        assert_eq!(narrow_places(&sink, 1.0), []);
        // An hourglass with a neck of 6 mm; a slot of 2 mm is no material.
        let neck = Outline::polygon(&[
            p(0., 0.),
            p(400., 0.),
            p(203., 300.),
            p(203., 320.),
            p(400., 600.),
            p(0., 600.),
            p(197., 320.),
            p(197., 300.),
        ]);
        let found = narrow_places(&neck, 10.0);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].width_mm - 6.0).abs() < 1e-9 && found[0].between == "two sides of the outline");
        let slotted = Outline::polygon(&[
            p(0., 0.),
            p(400., 0.),
            p(400., 300.),
            p(201., 300.),
            p(201., 100.),
            p(199., 100.),
            p(199., 300.),
            p(0., 300.),
        ]);
        assert_eq!(narrow_places(&slotted, 10.0), []);
    }

    #[test]
    fn plain_shapes_and_corners_are_not_narrow() {
        let triangle = Outline::triangle(p(0., 0.), p(900., 0.), p(450., 250.));
        for plain in [Outline::rectangle(900.0, 400.0), Outline::circle(600.0), triangle] {
            assert_eq!(narrow_places(&plain, 20.0), []);
        }
    }
}

//! Lines drawn on a panel or behind it that lie off it: beside its border, or over a cut-out.

use super::check::TOUCHING_MM;
use super::meeting::{Material, meetings};
use super::outline::{Contour, Outline, Path};
use super::point::{Point, distance_to_way};

/// How far beside the material a line still counts as on it, in millimetres: less than a saw or a burr follows.
const BESIDE_MM: f64 = 0.1;

/// How far apart the places are that are looked at along a line, in millimetres, and how many there are at most.
const STEP_MM: f64 = 1.0;
const MOST_STEPS: f64 = 5000.0;

/// How a line lies off the material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Off {
    /// The first place along it that does.
    pub(crate) at: Point,
    /// True where no place of it lies on the material.
    pub(crate) wholly: bool,
}

/// The material of an outline, to lay lines over.
pub(crate) struct Ground(Option<Material>);

impl Ground {
    /// That of an outline.
    #[must_use]
    pub(crate) fn of(outline: &Outline) -> Ground {
        Ground(Material::of(outline.contours().map(|c| c.flattened(TOUCHING_MM)).collect()))
    }

    fn holds(&self, p: Point) -> bool {
        let Some(material) = &self.0 else { return false };
        let beside = |way: &Vec<Point>| {
            let ends = way.iter().skip(1).chain(way.first());
            way.iter().zip(ends).any(|(a, b)| distance_to_way(p, *a, *b) <= BESIDE_MM)
        };
        material.holds(p) || material.ways.iter().any(beside)
    }

    /// How a straight line lies off it; none where all of it lies on it.
    #[must_use]
    pub(crate) fn straight_off(&self, from: Point, to: Point) -> Option<Off> {
        self.way_off(&[from, to])
    }

    /// How an etched line lies off it; none where all of it lies on it.
    #[must_use]
    pub(crate) fn path_off(&self, path: &Path) -> Option<Off> {
        let flat = path.segments.iter().flat_map(|piece| piece.flattened(TOUCHING_MM));
        self.way_off(&flat.map(|(_, p)| p).collect::<Vec<_>>())
    }

    fn way_off(&self, way: &[Point]) -> Option<Off> {
        let length: f64 = way.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
        let step = STEP_MM.max(length / MOST_STEPS);
        let between = way.windows(2).flat_map(|pair| {
            let count = (pair[0].distance(pair[1]) / step).ceil().max(1.0);
            (0..=count as usize).map(move |n| pair[0].towards(pair[1], n as f64 / count))
        });
        let (mut first, mut some) = (None, false);
        for place in between {
            if self.holds(place) {
                some = true;
            } else {
                first = first.or(Some(place));
            }
            if some && first.is_some() {
                break;
            }
        }
        first.map(|at| Off { at, wholly: !some })
    }
}

/// The places where new etched lines cross those that are there, or fall on them: one for each of the new lines at most.
#[must_use]
pub(crate) fn etched_over(older: &[Path], newer: &[Path]) -> Vec<Point> {
    let all: Vec<Contour> =
        older.iter().chain(newer).map(|path| Contour { segments: path.segments.clone() }).collect();
    let met = meetings(&all.iter().collect::<Vec<_>>(), TOUCHING_MM, usize::MAX).unwrap_or_default();
    let mut places: Vec<(usize, Point)> = Vec::new();
    for meeting in met {
        let [low, high] = [meeting.first.0.min(meeting.second.0), meeting.first.0.max(meeting.second.0)];
        if low < older.len() && high >= older.len() && places.iter().all(|(line, _)| *line != high) {
            places.push((high, meeting.at));
        }
    }
    places.into_iter().map(|(_, at)| at).collect()
}

#[cfg(test)]
mod tests {
    use super::super::segment::Segment;
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    fn line(from: Point, to: Point) -> Path {
        Path { segments: vec![Segment::line(from, to)] }
    }

    #[test]
    fn a_line_is_off_where_no_material_is_under_it() {
        let mut bar = Outline::rectangle(1000.0, 400.0);
        bar.cutouts.push(Contour::circle(p(500.0, 200.0), 50.0));
        let ground = Ground::of(&bar);
        let off = |from, to| {
            ground.straight_off(from, to).map(|off| (off.wholly, off.at.x.round(), off.at.y.round()))
        };
        for on in [
            (p(0.0, 0.0), p(0.0, 400.0)),
            (p(100.0, 0.0), p(100.0, 400.0)),
            // Along the border, a hair beside it, at the rim of the cut-out.
            (p(-0.09, 10.0), p(-0.09, 300.0)),
            (p(0.0, 249.95), p(1000.0, 250.0)),
        ] {
            assert_eq!(off(on.0, on.1), None, "{on:?}");
        }
        assert_eq!(off(p(-0.2, 10.0), p(-0.2, 300.0)), Some((true, 0.0, 10.0)));
        assert_eq!(off(p(900.0, 100.0), p(1200.0, 100.0)), Some((false, 1001.0, 100.0)));
        // Over the cut-out, and within it.
        assert_eq!(off(p(0.0, 200.0), p(1000.0, 200.0)).map(|off| (off.0, off.2)), Some((false, 200.0)));
        assert_eq!(off(p(480.0, 200.0), p(520.0, 200.0)), Some((true, 480.0, 200.0)));
        // A point is a line without a length.
        assert_eq!(off(p(2000.0, 0.0), p(2000.0, 0.0)), Some((true, 2000.0, 0.0)));
        let circle = Path { segments: Contour::circle(p(1000.0, 400.0), 30.0).segments };
        assert_eq!(ground.path_off(&circle).map(|off| off.wholly), Some(false));
        assert_eq!(ground.path_off(&line(p(10.0, 10.0), p(90.0, 90.0))), None);
    }

    #[test]
    fn what_is_etched_twice_is_told_once_for_each_new_line() {
        let older = [line(p(0.0, 50.0), p(100.0, 50.0)), line(p(0.0, 60.0), p(100.0, 60.0))];
        let across = line(p(30.0, 0.0), p(30.0, 100.0));
        let found = etched_over(&older, std::slice::from_ref(&across));
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].x - 30.0).abs() < 1e-6, "{found:?}");
        // On the very line, and partly on it.
        assert_eq!(etched_over(&older, &older[..1]).len(), 1);
        assert_eq!(etched_over(&older, &[line(p(50.0, 60.0), p(150.0, 60.0))]).len(), 1);
        // Old lines among themselves, new ones among themselves, and beside each other.
        let crossed = [older[0].clone(), across.clone()];
        assert_eq!(etched_over(&crossed, &[line(p(0.0, 0.0), p(10.0, 0.0))]), []);
        assert_eq!(
            etched_over(&older, &[line(p(0.0, 0.0), p(10.0, 0.0)), line(p(5.0, -5.0), p(5.0, 5.0))]),
            []
        );
        assert_eq!(etched_over(&[], &crossed), []);
    }
}

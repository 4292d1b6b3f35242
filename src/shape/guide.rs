//! Light in a flat guide, followed backwards along rays from the place that is looked at to the lit edges.
//!
//! A lit edge fills the guide, within the critical angle about its normal, with light of one radiance, which stays what it
//! is along a ray but for the share that the face lets out on the way. At a wall a ray that meets it more flatly than the critical angle is reflected whole; else it leaves, or
//! comes from the tape where the edge is lit, and what an unlit edge reflects goes on. So nothing is made: what the face
//! gives, what leaves and what is left is what went in. Counted in the plane of the guide alone.

use std::f64::consts::TAU;

use super::edges::Edge;
use super::figures::Figures;
use super::outline::Outline;
use super::point::Point;

/// The index of acrylic (PMMA), n at 589 nm; common handbooks.
const INDEX: f64 = 1.49;
/// Directions that are looked into from a place.
const DIRECTIONS: usize = 180;
/// A ray is followed until less than this is left.
const LEFT: f64 = 2e-3;
/// And over at most so many walls.
const WALLS: usize = 40;
/// Light that would come from no nearer than this is not looked for, in millimetres: a place stands off its walls.
const NEAR_MM: f64 = 1e-6;

/// A chord of an outline with its inward normals at both ends, which follow the true curve.
struct Wall {
    from: Point,
    to: Point,
    normals: [Point; 2],
    lit: bool,
    cutout: bool,
}

/// The sum of extraction from the lit edge inwards: along a ray it grows as the ray goes inward, over the cosine.
pub(super) struct Pattern {
    from: Point,
    inward: Point,
    length: f64,
    /// The sum at even steps of the way in; none where extraction is the same everywhere.
    sums: Option<Vec<f64>>,
    per_mm: f64,
}

/// Steps of a graded pattern's table.
const STEPS: usize = 200;

impl Pattern {
    /// The same everywhere.
    pub(super) fn constant(per_mm: f64) -> Pattern {
        Pattern { from: Point::default(), inward: Point::new(1.0, 0.0), length: 1.0, sums: None, per_mm }
    }

    /// Made so that the face is even for light from a long straight edge through `from`, and from one opposite too where
    /// `both`: as much in all as `per_mm` lets out over the length.
    pub(super) fn graded(from: Point, inward: Point, length: f64, both: bool, per_mm: f64) -> Pattern {
        // Light after a sum of extraction, over all directions in the guide.
        let left = |sum: f64| {
            let half = critical_angle();
            const NODES: usize = 32;
            let at = |i: usize| half * ((i as f64 + 0.5) / NODES as f64);
            (0..NODES).map(|i| (-sum / at(i).cos()).exp()).sum::<f64>() / NODES as f64
        };
        let whole = per_mm * length;
        // k(x)·light(x) is constant where x goes as the integral of light over the sum.
        const FINE: usize = 1000;
        let mut ways = vec![0.0];
        for i in 0..FINE {
            let sum = whole * (i as f64 + 0.5) / FINE as f64;
            let light = left(sum) + if both { left(whole - sum) } else { 0.0 };
            ways.push(ways[i] + light);
        }
        let mut at = 0;
        let sums = (0..=STEPS)
            .map(|step| {
                let way = ways[FINE] * step as f64 / STEPS as f64;
                while at + 1 < FINE && ways[at + 1] < way {
                    at += 1;
                }
                whole * (at as f64 + (way - ways[at]) / (ways[at + 1] - ways[at])) / FINE as f64
            })
            .collect();
        Pattern { from, inward, length, sums: Some(sums), per_mm }
    }

    /// True where it was made for an edge.
    pub(super) fn is_graded(&self) -> bool {
        self.sums.is_some()
    }

    /// What comes out at a place, for each millimetre of way.
    pub(super) fn extraction(&self, p: Point) -> f64 {
        let Some(sums) = &self.sums else { return self.per_mm };
        let at =
            (self.way_in(p) / self.length * STEPS as f64).floor().clamp(0.0, (STEPS - 1) as f64) as usize;
        (sums[at + 1] - sums[at]) * STEPS as f64 / self.length
    }

    fn way_in(&self, p: Point) -> f64 {
        self.inward.dot(p - self.from).clamp(0.0, self.length)
    }

    fn sum(&self, sums: &[f64], way: f64) -> f64 {
        let steps = way / self.length * STEPS as f64;
        let at = (steps.floor() as usize).min(STEPS - 1);
        sums[at] + (sums[at + 1] - sums[at]) * (steps - at as f64)
    }

    /// What is let out along a straight way, as the exponent of what is left.
    fn depth(&self, a: Point, b: Point) -> f64 {
        let Some(sums) = &self.sums else { return self.per_mm * a.distance(b) };
        let (x, y) = (self.way_in(a), self.way_in(b));
        if (x - y).abs() < 1e-6 * self.length {
            return self.extraction(a.towards(b, 0.5)) * a.distance(b);
        }
        (self.sum(sums, x) - self.sum(sums, y)).abs() * a.distance(b) / (x - y).abs()
    }
}

/// The angle within which light from outside goes on in the guide, and beyond which its walls reflect all.
pub(super) fn critical_angle() -> f64 {
    (1.0 / INDEX).asin()
}

/// A guide with its lit edges.
pub(super) struct Guide {
    walls: Vec<Wall>,
    pattern: Pattern,
    /// What unlit edges reflect of light that would leave.
    reflectance: f64,
    /// The direction from which directions are counted.
    along: Point,
}

impl Guide {
    /// Of an outline; `along` is the panel's own direction, so that a turned panel is looked at in turned directions.
    pub(super) fn new(
        outline: &Outline,
        figures: &Figures,
        lit: &[usize],
        pattern: Pattern,
        reflectance: f64,
        along: Point,
    ) -> Guide {
        // Curves are as fine as their bend, whatever their size.
        let fine = (figures.least_rectangle.long_mm / 1500.0).max(0.02);
        let mut walls = Vec::new();
        for edge in &figures.edges {
            chords(&edge.segments, lit.contains(&edge.number), false, fine, &mut walls);
        }
        for hole in &outline.cutouts {
            let inside_out = hole.counter_clockwise().reversed();
            chords(&inside_out.segments, false, true, fine, &mut walls);
        }
        Guide { walls, pattern, reflectance, along }
    }

    /// What the face gives at a place, of which one lit all round and letting out 1 for each millimetre gives 2π.
    pub(super) fn at(&self, p: Point) -> f64 {
        let step = TAU / DIRECTIONS as f64;
        let light: f64 = (0..DIRECTIONS)
            .map(|i| {
                let turned = Point::at_angle((i as f64 + 0.5) * step);
                self.along_ray(p, self.along * turned.x + self.along.left() * turned.y)
            })
            .sum();
        self.pattern.extraction(p) * light * step
    }

    /// The radiance that comes to `p` from the direction `ahead`, of the lit edges' own.
    fn along_ray(&self, mut p: Point, mut ahead: Point) -> f64 {
        let cone = critical_angle().cos();
        let (mut left, mut found) = (1.0, 0.0);
        let mut from = usize::MAX;
        for _ in 0..WALLS {
            let Some((number, distance, share)) = self.next_wall(p, ahead, from) else { break };
            let wall = &self.walls[number];
            let at = p + ahead * distance;
            left *= (-self.pattern.depth(p, at)).exp();
            let normal = (wall.normals[0] * (1.0 - share) + wall.normals[1] * share).unit();
            let meets = -ahead.dot(normal);
            if meets >= cone {
                if wall.lit {
                    found += left;
                    break;
                }
                left *= self.reflectance;
            }
            if left < LEFT {
                break;
            }
            (p, from) = (at, number);
            let turned = (ahead + normal * (2.0 * meets)).unit();
            // On a bend the chord and the curve differ: a ray that the curve turns back must not cross the chord.
            let chord = (wall.to - wall.from).unit().left();
            let out = turned.dot(chord);
            ahead = if out > 1e-9 { turned } else { (turned + chord * (1e-6 - out)).unit() };
        }
        found
    }

    /// The next wall ahead, how far it is, and where along it.
    fn next_wall(&self, p: Point, ahead: Point, from: usize) -> Option<(usize, f64, f64)> {
        let mut nearest: Option<(usize, f64, f64)> = None;
        for (number, wall) in self.walls.iter().enumerate() {
            if number == from {
                continue;
            }
            let side = wall.to - wall.from;
            let cross = ahead.cross(side);
            // A wall is met from its inner side alone, to the left of its way.
            if cross <= 0.0 {
                continue;
            }
            let off = wall.from - p;
            let distance = off.cross(side) / cross;
            if distance <= NEAR_MM || nearest.is_some_and(|n| n.1 <= distance) {
                continue;
            }
            let share = off.cross(ahead) / cross;
            if (-1e-9..=1.0 + 1e-9).contains(&share) {
                nearest = Some((number, distance, share.clamp(0.0, 1.0)));
            }
        }
        nearest
    }

    /// Whether a lit edge faces a place within the critical angle, and whether a cut-out is all that stands before it.
    pub(super) fn faced(&self, p: Point) -> Option<bool> {
        let cone = critical_angle().cos();
        let places = [0.1, 0.3, 0.5, 0.7, 0.9];
        let mut faces = false;
        for wall in self.walls.iter().filter(|w| w.lit) {
            for share in places {
                let at = wall.from.towards(wall.to, share);
                let ahead = (at - p).unit();
                if -ahead.dot(wall.normals[0]) < cone {
                    continue;
                }
                faces = true;
                let first = self.next_wall(p, ahead, usize::MAX);
                if first.is_some_and(|(number, ..)| self.walls[number].cutout) {
                    return Some(true);
                }
            }
        }
        faces.then_some(false)
    }

    /// True where a graded pattern was made.
    pub(super) fn is_graded(&self) -> bool {
        self.pattern.is_graded()
    }
}

/// The chords of pieces in order, material on their left.
fn chords(
    segments: &[super::segment::Segment],
    lit: bool,
    cutout: bool,
    fine_mm: f64,
    walls: &mut Vec<Wall>,
) {
    for segment in segments {
        let normal = |t: f64| segment.direction(t).unit().left();
        walls.extend(segment.flattened(fine_mm).windows(2).map(|pair| Wall {
            from: pair[0].1,
            to: pair[1].1,
            normals: [normal(pair[0].0), normal(pair[1].0)],
            lit,
            cutout,
        }));
    }
}

/// The guide's edge that a graded pattern is made for, and how far it goes: the longest straight lit one.
pub(super) fn first_straight<'e>(lit: &[&'e Edge]) -> Option<&'e Edge> {
    let straight = lit.iter().copied().filter(|e| e.is_straight());
    straight.reduce(|a, b| if b.length_mm > a.length_mm + 1e-9 { b } else { a })
}

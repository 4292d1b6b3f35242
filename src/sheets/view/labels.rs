//! Labels on the view: edge numbers, the light's way, seams, radii and cut-outs, each at a free place.

use crate::shape::{Edge, EdgeKind, Point};

use super::super::canvas::Anchor;
use super::super::ink::{DIMENSION, Lettering, LineStyle, SMALL, SMALL_BOLD};
use super::super::paper::Area;
use super::super::scale::Measure;
use super::plan::letters;
use super::side::ARROW_MM;
use super::{Sketch, stacked};

/// Cut-outs beyond so many show their letter alone; the table tells the rest.
const MOST_SIZED: usize = 12;

/// Length of the level part of a leader, in millimetres.
const SHELF_MM: f64 = 2.0;
/// Between the end of a leader and its text, in millimetres.
const LEADER_GAP_MM: f64 = 0.9;

/// A place to try for a label.
#[derive(Clone, Copy, Debug)]
pub(super) enum Try {
    /// Its box about a middle.
    At(Point),
    /// Its box so far from a place in a direction.
    Beside { place: Point, way: Point, distance: f64 },
    /// The same, with a leader to the place.
    Leader { place: Point, way: Point, distance: f64 },
}

/// A leader: what it points at, where it bends, and where it ends beside the text.
type Leader = [Point; 3];

impl Try {
    /// The middle of a box of a width and height, and its leader.
    fn resolved(self, width: f64, height: f64) -> (Point, Option<Leader>) {
        match self {
            Try::At(middle) => (middle, None),
            Try::Beside { place, way, distance } => {
                let half = Point::new(way.x * width / 2.0, way.y * height / 2.0);
                (place + way * distance + half, None)
            }
            Try::Leader { place, way, distance } => {
                // The leader keeps its direction, so that one to an arc points at the centre, then runs level to
                // the text; a steep one ends under or over it.
                let bend = place + way * distance;
                if way.x.abs() < 0.35 {
                    let middle = bend + Point::new(0.0, (height / 2.0 + LEADER_GAP_MM) * way.y.signum());
                    return (middle, Some([place, bend, bend]));
                }
                let end = bend + Point::new(SHELF_MM * way.x.signum(), 0.0);
                let middle = end + Point::new((width / 2.0 + LEADER_GAP_MM) * way.x.signum(), 0.0);
                (middle, Some([place, bend, end]))
            }
        }
    }
}

pub(super) type Lines = Vec<(String, Lettering)>;

impl Sketch<'_> {
    pub(super) fn labels(&mut self) {
        let edges = self.input.figures.edges.clone();
        self.marks();
        let missed: Vec<String> =
            edges.iter().filter(|e| !self.edge_number(e)).map(|e| e.number.to_string()).collect();
        self.missed("number", "edge", &missed);
        for edge in self.lit() {
            self.light_arrows(&edge);
        }
        self.cutout_labels();
        self.radii(&edges);
        self.piece_numbers();
        self.seam_names();
    }

    fn piece_numbers(&mut self) {
        for (i, &place) in self.input.pieces.iter().enumerate() {
            let place = self.projection.point(place);
            let mut tries = vec![Try::At(place)];
            tries.extend(around(place, &[1.0, 3.0], None));
            tries.extend(around(place, &[8.0, 13.0, 19.0], Some(0.0)));
            if !self.set_label(&[(format!("piece {}", i + 1), SMALL_BOLD)], &tries) {
                self.omissions.push(format!("number of piece {}", i + 1));
            }
        }
    }

    fn missed(&mut self, what: &str, of: &str, names: &[String]) {
        if !names.is_empty() {
            let plural = if names.len() > 1 { "s" } else { "" };
            self.omissions.push(format!("{what} of {of}{plural} {}", names.join(", ")));
        }
    }

    fn seam_names(&mut self) {
        for (i, &(from, to)) in self.input.seams.iter().enumerate() {
            let (a, b) = (self.projection.point(from), self.projection.point(to));
            let across = (b - a).unit().left();
            let mut tries = Vec::new();
            for off in [3.5, -3.5, 5.5, -5.5] {
                for share in [0.3, 0.7, 0.5, 0.2, 0.8, 0.4, 0.6, 0.1, 0.9] {
                    let at = a.towards(b, share) + across * off;
                    if self.is_nearest_seam(i, at) {
                        tries.push(Try::At(at));
                    }
                }
            }
            for share in [0.3, 0.7, 0.5] {
                tries.extend(around(a.towards(b, share), &[7.0, 12.0, 18.0], Some(0.0)));
            }
            let name = format!("S{}", i + 1);
            if !self.set_label(&[(name.clone(), SMALL_BOLD)], &tries) {
                self.omissions.push(format!("name of seam {name}"));
            }
        }
    }

    /// True where no other seam is about as near to a place: a name there could be that one's.
    fn is_nearest_seam(&self, own: usize, at: Point) -> bool {
        let off = |&(from, to): &(Point, Point)| {
            let (a, b) = (self.projection.point(from), self.projection.point(to));
            let way = b - a;
            let share = (way.dot(at - a) / way.dot(way).max(1e-12)).clamp(0.0, 1.0);
            at.distance(a.towards(b, share))
        };
        let seams = &self.input.seams;
        let mine = off(&seams[own]);
        (0..seams.len()).all(|i| i == own || off(&seams[i]) > 1.5 * mine)
    }

    fn radii(&mut self, edges: &[Edge]) {
        let mut told: Vec<i64> = Vec::new();
        for edge in edges.iter().filter(|e| e.kind == EdgeKind::Arc) {
            let Some(radius) = edge.least_radius_mm else { continue };
            // Micrometres: arcs that read the same are told together.
            let key = (radius * 1000.0).round() as i64;
            if told.contains(&key) {
                continue;
            }
            told.push(key);
            let alike = edges
                .iter()
                .filter(|e| {
                    e.kind == EdgeKind::Arc
                        && e.least_radius_mm.is_some_and(|r| (r * 1000.0).round() as i64 == key)
                })
                .cloned()
                .collect::<Vec<_>>();
            let measure = Measure::of(radius, self.input.units);
            let count = if alike.len() > 1 { format!("{}× ", alike.len()) } else { String::new() };
            let lines =
                vec![(format!("{count}R{}", measure.first), DIMENSION), (measure.second.clone(), SMALL)];
            let mut tries = Vec::new();
            for distance in [7.0, 10.0, 14.0, 19.0, 25.0, 32.0] {
                for edge in &alike {
                    for share in [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8] {
                        let (on, inward) = self.on_edge(edge, share);
                        for way in [inward, inward * -1.0] {
                            tries.push(Try::Leader { place: on, way, distance });
                        }
                    }
                }
            }
            if !self.set_label(&lines, &tries) {
                self.omissions.push(format!("radius of edge {}", edge.number));
            }
        }
    }

    fn cutout_labels(&mut self) {
        let units = self.input.units;
        let many = self.input.outline.cutouts.len() > MOST_SIZED;
        let mut missed = Vec::new();
        for (i, contour) in self.input.outline.cutouts.iter().enumerate() {
            let cutout = &self.cutouts[i];
            let size = cutout.size(units);
            let name = letters(i);
            let mut lines: Lines = vec![(name.clone(), SMALL_BOLD)];
            if !many {
                lines = vec![(format!("{name}: {}", size.first), DIMENSION), (size.second.clone(), SMALL)];
                let radius = cutout.least_radius_mm.filter(|_| {
                    !matches!(cutout.shape, crate::shape::ShapeClass::Circle)
                        && contour.segments.iter().any(|s| matches!(s, crate::shape::Segment::Arc(_)))
                });
                if let Some(radius) = radius {
                    lines.push((format!("R{}", Measure::of(radius, units).both()), SMALL));
                }
            }
            let middle = self.projection.point(cutout.centre);
            let half = Point::new(cutout.width_mm, cutout.height_mm) * (self.projection.factor / 2.0);
            let mut within = Vec::new();
            for (along, up) in [
                (0.5, 0.5),
                (0.45, 0.4),
                (0.4, 0.45),
                (0.5, 0.3),
                (0.35, 0.35),
                (0.6, 0.3),
                (0.47, 0.24),
                (0.44, 0.27),
            ] {
                for (x, y) in [(1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
                    within.push(Try::At(middle + Point::new(half.x * along * x, half.y * up * y)));
                }
            }
            let mut leaders = Vec::new();
            for distance in [6.0, 9.0, 13.0, 18.0, 24.0, 31.0] {
                for angle in [45.0, 135.0, -45.0, -135.0, 20.0, 160.0, -20.0, -160.0, 70.0, 110.0] {
                    let way = Point::at_angle(f64::to_radians(angle));
                    let way = Point::new(way.x, -way.y);
                    let on = self.hit(i, middle, way);
                    leaders.push(Try::Leader { place: on, way, distance });
                }
            }
            let smaller: Lines = lines.iter().map(|(text, l)| (text.clone(), small(*l))).collect();
            let letter = [(name.clone(), SMALL_BOLD)];
            let set = self.set_label(&lines, &within)
                || self.set_label(&smaller, &within)
                || self.set_label(&lines, &leaders)
                || self.set_label(&smaller, &leaders)
                || self.set_label(&letter, &within)
                || self.set_label(&letter, &leaders);
            if !set {
                missed.push(name);
            }
        }
        self.missed("label", "cut-out", &missed);
    }

    /// Where a ray from the middle of a cut-out leaves it.
    fn hit(&self, cutout: usize, from: Point, way: Point) -> Point {
        let points = self.projection.flattened(&self.input.outline.cutouts[cutout].segments);
        points
            .windows(2)
            .filter_map(|pair| {
                let (a, side) = (pair[0] - from, pair[1] - pair[0]);
                let across = way.cross(side);
                if across.abs() < 1e-12 {
                    return None;
                }
                let (t, u) = (a.cross(side) / across, a.cross(way) / across);
                (t > 0.0 && (-1e-9..=1.0 + 1e-9).contains(&u)).then_some(t)
            })
            .reduce(f64::max)
            .map_or(from, |t| from + way * t)
    }

    /// Puts lines of text at the first free place; false where there is none. Of places with a leader, one whose
    /// leader crosses no line is taken before one whose leader does.
    pub(super) fn set_label(&mut self, lines: &[(String, Lettering)], tries: &[Try]) -> bool {
        let (size, _) = stacked(lines, Point::default());
        let (width, height) = (size.width(), size.height());
        let free = |sketch: &Self, t: &Try| {
            let (middle, leader) = t.resolved(width, height);

            let area = Area {
                left: middle.x + size.left,
                right: middle.x + size.right,
                top: middle.y + size.top,
                bottom: middle.y + size.bottom,
            };
            if !sketch.room.is_free(&area) {
                return None;
            }
            let Some([to, bend, end]) = leader else { return Some((0, middle, None)) };
            let passes = sketch.room.lets_pass(to, bend) && sketch.room.lets_pass(bend, end);
            passes.then(|| {
                // The line it points at does not count.
                let start = to + (bend - to).unit() * 0.3;
                let crossed = sketch.room.crossings(start, bend) + sketch.room.crossings(bend, end);
                (crossed, middle, leader)
            })
        };
        let mut best: Option<(usize, Point, Option<Leader>)> = None;
        for found in tries.iter().filter_map(|t| free(self, t)) {
            if best.is_none_or(|b| found.0 < b.0) {
                best = Some(found);
            }
            if best.is_some_and(|b| b.0 == 0) {
                break;
            }
        }
        let Some((_, middle, leader)) = best else { return false };
        let (area, places) = stacked(lines, middle);
        for ((text, lettering), at) in lines.iter().zip(places) {
            self.canvas.write(text, at, Anchor::Middle, *lettering, super::super::canvas::Reading::Level);
        }
        self.room.take_box(area);
        if let Some([to, bend, end]) = leader {
            self.canvas.polyline(&[end, bend, to], LineStyle::Narrow);
            self.canvas.arrow_head(to, bend, ARROW_MM);
            self.room.take_leader(bend, to);
            if end != bend {
                self.room.take_leader(end, bend);
            }
        }
        true
    }
}

/// The same weight in the small size.
fn small(lettering: Lettering) -> Lettering {
    Lettering { size_mm: lettering.size_mm.min(SMALL.size_mm), ..lettering }
}

/// Tries around a place, right first, then left, above, below and at the corners; with leaders where it is said
/// how far off the place they end.
pub(super) fn around(at: Point, distances: &[f64], leader_off: Option<f64>) -> Vec<Try> {
    let ways = [
        (1.0, 0.0),
        (-1.0, 0.0),
        (0.0, -1.0),
        (0.0, 1.0),
        (0.7, -0.7),
        (-0.7, -0.7),
        (0.7, 0.7),
        (-0.7, 0.7),
    ];
    let mut tries = Vec::new();
    for &distance in distances {
        for way in ways.map(|(x, y)| Point::new(x, y)) {
            tries.push(match leader_off {
                Some(off) => Try::Leader { place: at + way * off, way, distance },
                None => Try::Beside { place: at, way, distance },
            });
        }
    }
    tries
}

//! Labels on the view: edge numbers, the light's way, seams, radii and cut-outs, each at a free place.

use crate::shape::{Edge, EdgeKind, Point};

use super::super::canvas::Anchor;
use super::super::ink::{CAPITALS, DIMENSION, Lettering, LineStyle, SMALL, SMALL_BOLD};
use super::super::lettering::width_mm;
use super::super::paper::Area;
use super::super::scale::Measure;
use super::marks::around_both;
use super::plan::letters;
use super::side::ARROW_MM;
use super::{LIT_OFF_MM, Sketch, stacked};

/// Radius of the circle around an edge number, in millimetres.
const BALLOON_MM: f64 = 2.1;
/// How far the arrows of the light reach into the panel, in millimetres.
const LIGHT_ARROW_MM: f64 = 4.2;
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
        self.seam_names();
    }

    fn missed(&mut self, what: &str, of: &str, names: &[String]) {
        if !names.is_empty() {
            let plural = if names.len() > 1 { "s" } else { "" };
            self.omissions.push(format!("{what} of {of}{plural} {}", names.join(", ")));
        }
    }

    /// The place on the page after a share of an edge's length, and the way inward there.
    fn on_edge(&self, edge: &Edge, share: f64) -> (Point, Point) {
        let points = self.projection.flattened(&edge.segments);
        let whole: f64 = points.windows(2).map(|p| p[0].distance(p[1])).sum();
        let mut left = whole * share;
        for pair in points.windows(2) {
            let step = pair[0].distance(pair[1]);
            if step >= left && step > 0.0 {
                let way = (pair[1] - pair[0]).unit();
                // Counter-clockwise on the panel: inside is on the left, which is the upper side of the page.
                return (pair[0].towards(pair[1], left / step), Point::new(way.y, -way.x));
            }
            left -= step;
        }
        (points.last().copied().unwrap_or_default(), Point::default())
    }

    fn edge_number(&mut self, edge: &Edge) -> bool {
        let lit = self.input.lit_edges.contains(&edge.number);
        let text = edge.number.to_string();
        let radius = BALLOON_MM.max(width_mm(&text, SMALL_BOLD) / 2.0 + 0.5);
        let shares = [0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.15, 0.85, 0.08, 0.92];
        let inside = [radius + 1.6, radius + 3.2, radius + 5.0];
        let outside = [radius + 1.6 + LIT_OFF_MM, radius + 5.0];
        let near = inside.map(|d| (d, false)).into_iter().chain(outside.map(|d| (-d, false)));
        let far = [8.0, 12.0, 17.0, 23.0].into_iter().flat_map(|d| [(d, true), (-d, true)]);
        for (off, with_leader) in near.chain(far) {
            for share in shares {
                let (on, inward) = self.on_edge(edge, share);
                let middle = on + inward * off;
                let area = Area::new(middle.x - radius, middle.y - radius, 2.0 * radius, 2.0 * radius);
                if !self.room.is_free(&area) {
                    continue;
                }
                if with_leader {
                    let end = middle + (on - middle).unit() * radius;
                    if !self.room.lets_pass(on, end) {
                        continue;
                    }
                    self.canvas.line(on, end, LineStyle::Narrow);
                    self.room.take_leader(on, end);
                }
                let baseline = middle + Point::new(0.0, SMALL_BOLD.size_mm * CAPITALS / 2.0);
                if lit {
                    self.canvas.disc(middle, radius);
                    self.canvas.write_white(&text, baseline, Anchor::Middle, SMALL_BOLD);
                } else {
                    self.canvas.circle(middle, radius, LineStyle::Narrow);
                    self.canvas.write(
                        &text,
                        baseline,
                        Anchor::Middle,
                        SMALL_BOLD,
                        super::super::canvas::Reading::Level,
                    );
                }
                self.room.take_box(area);
                return true;
            }
        }
        false
    }

    /// Arrows from a lit edge's line into the panel, at least one.
    fn light_arrows(&mut self, edge: &Edge) {
        let points = self.projection.flattened(&edge.segments);
        let whole: f64 = points.windows(2).map(|p| p[0].distance(p[1])).sum();
        let count = (whole / 22.0).round().clamp(1.0, 40.0) as u32;
        let mut drawn = 0;
        let aside = [0.0, 2.5, -2.5, 5.0, -5.0, 7.5, -7.5].map(|mm| mm / whole);
        for i in 0..count {
            let wished = (f64::from(i) + 0.5) / f64::from(count);
            let free = aside.iter().map(|off| self.on_edge(edge, (wished + off).clamp(0.02, 0.98))).find(
                |&(on, inward)| {
                    let tip = on + inward * LIGHT_ARROW_MM;
                    self.room.is_free(&around_both(on + inward * 1.2, tip, 0.3))
                },
            );
            if let Some((on, inward)) = free {
                self.light_arrow(on, inward);
                drawn += 1;
            }
        }
        if drawn == 0 {
            // The way of the light must show, even over a line.
            let (on, inward) = self.on_edge(edge, 0.25);
            self.light_arrow(on, inward);
        }
    }

    fn light_arrow(&mut self, on: Point, inward: Point) {
        let (from, tip) = (on - inward * LIT_OFF_MM, on + inward * LIGHT_ARROW_MM);
        self.line(from, tip, LineStyle::Narrow);
        self.canvas.arrow_head(tip, from, 2.4);
    }

    fn seam_names(&mut self) {
        for (i, &(from, to)) in self.input.seams.iter().enumerate() {
            let (a, b) = (self.projection.point(from), self.projection.point(to));
            let across = (b - a).unit().left();
            let mut tries = Vec::new();
            for off in [3.5, -3.5, 5.5, -5.5] {
                for share in [0.3, 0.7, 0.5, 0.2, 0.8, 0.4, 0.6, 0.1, 0.9] {
                    tries.push(Try::At(a.towards(b, share) + across * off));
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

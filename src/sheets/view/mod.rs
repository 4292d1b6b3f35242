//! The view of the panel: its true shape to scale, with dimensions outside and labels where there is room.
//!
//! Geometry is laid first, then what stands at the sides, then labels in the order of their weight; each label
//! takes the first free place of those a draughtsperson would try. A label without a free place is left to the
//! tables and reported, never put over something else.

mod bend;
mod caption;
mod edge_marks;
mod labels;
mod marks;
mod path;
mod plan;
mod room;
mod side;

use path::settled;

pub(super) use path::Projection;
pub(super) use plan::{CutOut, letters};

use crate::shape::{Contour, Edge, Point, Segment, ShapeClass};

use super::canvas::{Anchor, Canvas, Reading, text_area};
use super::ink::{Lettering, LineStyle};
use super::input::SheetInput;
use super::paper::Area;
use super::scale::{Measure, Scale};
use caption::{caption_mm, key_rows};
use plan::Plan;
use room::Room;
use side::{GAP_MM, LIT_GAP_MM, Side, draw_side};

/// How far the line of a lit edge stands off the edge, in millimetres on paper.
const LIT_OFF_MM: f64 = 1.8;
/// How near to the end of the panel's box a point of the outline counts as touching it, in millimetres on paper:
/// a little more than chords keep off their curves.
const NEAR_MM: f64 = 0.06;
/// How far lines of neighbouring parts may reach past the panel's box, in millimetres on paper.
const PAST_PANEL_MM: f64 = 1.5;
/// How far a centre line reaches past the edge of a cut-out, in millimetres on paper.
const CENTRE_PAST_MM: f64 = 2.0;

/// A view as it was drawn.
#[derive(Clone, Debug)]
pub(super) struct View {
    /// The drawing.
    pub(super) canvas: Canvas,
    /// What found no place and stands in the tables alone, in words.
    pub(super) omissions: Vec<String>,
    /// Where the panel's box lies on the page.
    pub(super) panel: Area,
    /// True where the corners' places must be read from a table.
    pub(super) needs_corner_table: bool,
}

/// A view being drawn.
struct Sketch<'a> {
    input: &'a SheetInput,
    /// What the cut-outs measure, in their order.
    cutouts: &'a [CutOut],
    canvas: Canvas,
    room: Room,
    projection: Projection,
    panel: Area,
    omissions: Vec<String>,
}

/// Draws the panel into a region at a scale; `None` where it does not fit.
pub(super) fn draw_view(input: &SheetInput, cutouts: &[CutOut], region: Area, scale: Scale) -> Option<View> {
    let figures = &input.figures;
    let factor = 1.0 / scale.reduction();
    let (width, height) = (settled(figures.width_mm * factor), settled(figures.height_mm * factor));
    let key = key_rows(input, region.width());
    let foot = caption_mm(&key);
    let mut space = region.grown(-1.0);
    space.bottom -= foot;
    let gap = if input.lit_edges.is_empty() { GAP_MM } else { LIT_GAP_MM };
    let plan = Plan::of(input, cutouts, width, height);
    let depth = |side: Side| plan.side(side).depth(gap, input.units);
    let (left, right) = (depth(Side::Left), depth(Side::Right));
    let (top, bottom) = (depth(Side::Top), depth(Side::Bottom));
    let spare = Point::new(space.width() - left - right - width, space.height() - top - bottom - height);
    if spare.x < 0.0 || spare.y < 0.0 {
        return None;
    }
    let (x, y) = (space.left + left + spare.x / 2.0, space.top + top + spare.y / 2.0);
    let panel = Area::new(settled(x), settled(y), width, height);
    let projection =
        Projection { factor, from: figures.lower_left, origin: Point::new(panel.left, panel.bottom) };
    let canvas = Canvas::new(region, "");
    let mut sketch = Sketch {
        input,
        cutouts,
        canvas,
        room: Room::new(space),
        projection,
        panel,
        omissions: plan.omissions.clone(),
    };
    sketch.canvas.open("view");
    sketch.geometry();
    sketch.cutout_centres();
    let bent = sketch.bend_axis();
    for side in [Side::Bottom, Side::Left, Side::Top, Side::Right] {
        draw_side(&mut sketch, side, plan.side(side), gap);
    }
    sketch.labels();
    sketch.bend_label(bent);
    sketch.canvas.close();
    sketch.caption(Area { top: space.bottom, bottom: region.bottom, ..space }, scale, &key);
    Some(View {
        canvas: sketch.canvas,
        omissions: sketch.omissions,
        panel,
        needs_corner_table: plan.corners_left_out,
    })
}

impl Sketch<'_> {
    fn line(&mut self, from: Point, to: Point, style: LineStyle) {
        self.canvas.line(from, to, style);
        self.room.take_line(from, to);
    }

    fn polyline(&mut self, points: &[Point], style: LineStyle) {
        self.canvas.polyline(points, style);
        self.room.take_polyline(points);
    }

    fn write(&mut self, text: &str, at: Point, anchor: Anchor, lettering: Lettering, reading: Reading) {
        let area = self.canvas.write(text, at, anchor, lettering, reading);
        self.room.take_box(area);
    }

    /// The page coordinate along a side at so many millimetres of the panel from the datum.
    fn along(&self, side: Side, value_mm: f64) -> f64 {
        match side {
            Side::Bottom | Side::Top => self.panel.left + value_mm * self.projection.factor,
            Side::Left | Side::Right => self.panel.bottom - value_mm * self.projection.factor,
        }
    }

    /// The place at a page coordinate along a side and so far out of the panel's box.
    fn place(&self, side: Side, along: f64, out: f64) -> Point {
        match side {
            Side::Bottom => Point::new(along, self.panel.bottom + out),
            Side::Top => Point::new(along, self.panel.top - out),
            Side::Left => Point::new(self.panel.left - out, along),
            Side::Right => Point::new(self.panel.right + out, along),
        }
    }

    /// How far a place lies out of the panel's box on a side; negative inside.
    fn out_of(&self, side: Side, at: Point) -> f64 {
        match side {
            Side::Bottom => at.y - self.panel.bottom,
            Side::Top => self.panel.top - at.y,
            Side::Left => self.panel.left - at.x,
            Side::Right => at.x - self.panel.right,
        }
    }

    /// The panel's length along a side in millimetres.
    fn length_mm(&self, side: Side) -> f64 {
        match side {
            Side::Bottom | Side::Top => self.input.figures.width_mm,
            Side::Left | Side::Right => self.input.figures.height_mm,
        }
    }

    /// Where the outline touches its box at the datum or at the far end of a side, nearest to the side.
    fn end_feature(&self, side: Side, value_mm: f64) -> Option<Point> {
        let along = self.along(side, value_mm);
        let outer = &self.input.outline.outer;
        let touches = |p: &Point| match side {
            Side::Bottom | Side::Top => (p.x - along).abs() < NEAR_MM,
            Side::Left | Side::Right => (p.y - along).abs() < NEAR_MM,
        };
        self.projection
            .flattened(&outer.segments)
            .into_iter()
            .filter(touches)
            .reduce(|a, b| if self.out_of(side, b) > self.out_of(side, a) + 1e-6 { b } else { a })
    }

    /// How far a place on the page is from the outer contour.
    fn distance_to_outline(&self, at: Point) -> f64 {
        let points = self.projection.flattened(&self.input.outline.outer.segments);
        let to_line = |pair: &[Point]| {
            let way = pair[1] - pair[0];
            let share = (way.dot(at - pair[0]) / way.dot(way).max(1e-12)).clamp(0.0, 1.0);
            at.distance(pair[0].towards(pair[1], share))
        };
        points.windows(2).map(to_line).fold(f64::INFINITY, f64::min)
    }

    fn geometry(&mut self) {
        let input = self.input;
        let contour = |sketch: &mut Self, id: &str, contour: &Contour| {
            let data = sketch.projection.data(&contour.segments, true);
            sketch.canvas.named_path(id, &data, LineStyle::Outline);
            let points = sketch.projection.flattened(&contour.segments);
            sketch.room.take_polyline(&points);
        };
        contour(self, "panel-outline", &input.outline.outer);
        for (i, cutout) in input.outline.cutouts.iter().enumerate() {
            contour(self, &format!("cutout-{}", letters(i)), cutout);
        }
        let around = self.panel.grown(PAST_PANEL_MM);
        let near =
            |p: Point| p.x > around.left && p.x < around.right && p.y > around.top && p.y < around.bottom;
        for (i, etching) in input.outline.etchings.iter().enumerate() {
            let points = self.projection.flattened(&etching.segments);
            if !points.iter().all(|p| near(*p)) {
                self.omissions.push(format!("etched line {}, which leaves the panel", i + 1));
                continue;
            }
            let data = self.projection.data(&etching.segments, false);
            self.canvas.path(&data, LineStyle::Narrow);
            self.room.take_polyline(&points);
        }
        for &(from, to) in &input.ribs {
            self.straight_on_panel(from, to, LineStyle::Hidden);
        }
        for joint in &input.outline.stone_joints {
            for (from, to) in clear_of_seams(joint.from, joint.to, &input.seams) {
                self.straight_on_panel(from, to, LineStyle::Neighbour);
            }
        }
        for &(from, to) in &input.seams {
            self.straight_on_panel(from, to, LineStyle::Seam);
        }
        for edge in self.lit() {
            let off = self.lit_line(&edge.segments);
            self.polyline(&off, LineStyle::Lit);
        }
    }

    /// A straight line, as far as it lies on the panel's box or just past it: joints of the stone may run on.
    fn straight_on_panel(&mut self, from: Point, to: Point, style: LineStyle) {
        let (a, b) = (self.projection.point(from), self.projection.point(to));
        if let Some((a, b)) = room::within(&self.panel.grown(PAST_PANEL_MM), a, b) {
            self.line(a, b, style);
        }
    }

    /// The lit edges.
    fn lit(&self) -> Vec<Edge> {
        let edges = &self.input.figures.edges;
        edges.iter().filter(|e| self.input.lit_edges.contains(&e.number)).cloned().collect()
    }

    /// A line beside an edge, outside the panel, short of the edge's ends so that neighbours stay apart.
    fn lit_line(&self, segments: &[Segment]) -> Vec<Point> {
        let points = self.projection.flattened(segments);
        let offset: Vec<Point> = (0..points.len())
            .map(|i| {
                let before = points[i.saturating_sub(1)];
                let after = points[(i + 1).min(points.len() - 1)];
                // Counter-clockwise on the panel is clockwise on the page, whose y points down: outside is left
                // of the way there as it is right of it here.
                let way = (after - before).unit();
                points[i] + Point::new(-way.y, way.x) * LIT_OFF_MM
            })
            .collect();
        shortened(&offset, 1.2)
    }

    /// Centre lines of cut-outs, and of a round panel.
    fn cutout_centres(&mut self) {
        let round = self.input.figures.shape == ShapeClass::Circle;
        let outer = round.then_some(&self.input.outline.outer);
        for contour in self.input.outline.cutouts.iter().chain(outer) {
            let (x, y) = (contour.extent(Point::new(1.0, 0.0)), contour.extent(Point::new(0.0, 1.0)));
            let low = self.projection.point(Point::new(x.0, y.0));
            let high = self.projection.point(Point::new(x.1, y.1));
            let middle = low.towards(high, 0.5);
            let past = CENTRE_PAST_MM;
            let (top, bottom) = (Point::new(middle.x, high.y - past), Point::new(middle.x, low.y + past));
            self.line(top, bottom, LineStyle::Centre);
            let (left, right) = (Point::new(low.x - past, middle.y), Point::new(high.x + past, middle.y));
            self.line(left, right, LineStyle::Centre);
        }
    }
}

/// The parts of a joint along which no seam runs: two dashed lines on each other could not be read.
fn clear_of_seams(from: Point, to: Point, seams: &[(Point, Point)]) -> Vec<(Point, Point)> {
    let (along, length) = ((to - from).unit(), from.distance(to));
    let mut parts = vec![(0.0, length)];
    for &(a, b) in seams {
        if along.cross(a - from).abs() > 0.5 || along.cross(b - from).abs() > 0.5 {
            continue;
        }
        let (low, high) =
            (along.dot(a - from).min(along.dot(b - from)), along.dot(a - from).max(along.dot(b - from)));
        parts = parts
            .into_iter()
            .flat_map(|(s, e): (f64, f64)| [(s, e.min(low)), (s.max(high), e)])
            .filter(|(s, e)| e - s > 0.5)
            .collect();
    }
    parts.into_iter().map(|(s, e)| (from + along * s, from + along * e)).collect()
}

/// A line without so much at either end; unchanged where nothing would be left.
fn shortened(points: &[Point], by: f64) -> Vec<Point> {
    let length: f64 = points.windows(2).map(|p| p[0].distance(p[1])).sum();
    if length < 4.0 * by {
        return points.to_vec();
    }
    let cut = |points: Vec<Point>| {
        let mut left = by;
        let mut points = points;
        while points.len() > 1 {
            let step = points[0].distance(points[1]);
            if step > left {
                points[0] = points[0].towards(points[1], left / step);
                break;
            }
            left -= step;
            points.remove(0);
        }
        points
    };
    let mut rest = cut(points.to_vec());
    rest.reverse();
    let mut rest = cut(rest);
    rest.reverse();
    rest
}

/// The box of lines of text about a middle, and where each line's baseline middle stands.
fn stacked(lines: &[(String, Lettering)], middle: Point) -> (Area, Vec<Point>) {
    let height: f64 = lines.iter().map(|(_, l)| l.size_mm * 1.06).sum();
    let mut y = middle.y - height / 2.0;
    let mut whole: Option<Area> = None;
    let mut places = Vec::new();
    for (text, lettering) in lines {
        let at = Point::new(middle.x, y + lettering.size_mm * 0.81);
        let area = text_area(text, at, Anchor::Middle, *lettering, Reading::Level);
        whole = Some(match whole {
            None => area,
            Some(w) => Area {
                left: w.left.min(area.left),
                top: w.top.min(area.top),
                right: w.right.max(area.right),
                bottom: w.bottom.max(area.bottom),
            },
        });
        places.push(at);
        y += lettering.size_mm * 1.06;
    }
    (whole.unwrap_or(Area::new(middle.x, middle.y, 0.0, 0.0)), places)
}

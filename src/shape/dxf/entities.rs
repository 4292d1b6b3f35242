//! One DXF entity to lines, in the drawing's own units and world coordinates.
//!
//! Group codes: the DXF reference, section "Entities", from memory; checked against drawings written by a
//! reference library.

use std::f64::consts::TAU;

use super::super::arc::{Arc, Circle};
use super::super::ellipse::EllipseArc;
use super::super::error::{ShapeCode, ShapeError};
use super::super::nurbs::Nurbs;
use super::super::origin::Origin;
use super::super::point::{Point, Transform};
use super::super::segment::Segment;
use super::fit_points;
use super::pairs::Pair;
use super::space::{InSpace, View, cross, length};

/// An entity: its type and its groups.
pub(super) struct Entity<'p, 'a> {
    pub(super) kind: &'p str,
    pub(super) line: usize,
    pub(super) groups: &'p [Pair<'a>],
    /// For a POLYLINE, its vertices.
    pub(super) vertices: Vec<Entity<'p, 'a>>,
}

type Read<T> = Result<T, ShapeError>;

/// How far something may lean and still count as flat, as a share of its size: programs leave such hairs behind, and
/// at this slope they change no length by more than a part in 10¹².
pub(super) const FLAT: f64 = 1e-6;

/// True where heights differ by no more than a hair on something so large.
fn is_level(heights: impl IntoIterator<Item = f64>, size: f64) -> bool {
    let (low, high) = heights
        .into_iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
    high - low <= FLAT * size
}

/// The diagonal of the box around points.
fn reach(points: impl Iterator<Item = Point>) -> f64 {
    let (mut low, mut high) =
        (Point::new(f64::INFINITY, f64::INFINITY), Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY));
    for p in points {
        low = Point::new(low.x.min(p.x), low.y.min(p.y));
        high = Point::new(high.x.max(p.x), high.y.max(p.y));
    }
    low.distance(high)
}

impl<'p, 'a> Entity<'p, 'a> {
    fn find(&self, code: i32) -> Option<&'p Pair<'a>> {
        self.groups.iter().find(|g| g.code == code)
    }

    pub(super) fn text(&self, code: i32) -> Option<&'p str> {
        self.find(code).map(|g| &*g.value)
    }

    pub(super) fn number(&self, code: i32, absent: f64) -> Read<f64> {
        self.find(code).map_or(Ok(absent), Pair::number)
    }

    pub(super) fn whole(&self, code: i32, absent: i64) -> Read<i64> {
        self.find(code).map_or(Ok(absent), Pair::whole)
    }

    fn all(&self, code: i32) -> Read<Vec<f64>> {
        self.groups.iter().filter(|g| g.code == code).map(Pair::number).collect()
    }

    /// The point whose x stands in group `code` and y in `code + 10`.
    pub(super) fn point(&self, code: i32) -> Read<Point> {
        Ok(Point::new(self.needed(code)?, self.needed(code + 10)?))
    }

    fn needed(&self, code: i32) -> Read<f64> {
        let group = self.find(code).ok_or_else(|| {
            self.refuse(
                ShapeCode::Unreadable,
                format!("a {} has no group {code}", self.kind),
                "save the drawing again from the program that made it",
            )
        })?;
        group.number()
    }

    /// Where it stands in the file.
    pub(super) fn origin(&self) -> Origin {
        let element = match self.text(5) {
            Some(handle) => format!("{} with the handle {handle}", self.kind),
            None => self.kind.to_owned(),
        };
        Origin { line: self.line, column: None, element }
    }

    pub(super) fn refuse(&self, code: ShapeCode, message: String, remedy: &str) -> ShapeError {
        ShapeError::new(code, message, remedy).on_line(self.line)
    }

    fn tilted(&self) -> ShapeError {
        self.refuse(
            ShapeCode::Unsupported,
            format!("a {} is not drawn flat: it leans out of the plane of the drawing", self.kind),
            "turn it until everything that is read lies in one plane, best the x-y plane with all heights (z) 0, and \
             save it again",
        )
    }

    /// Where it is seen in the drawing, for a message: its first point; none where it has none that can be read.
    pub(super) fn place(&self) -> Option<Point> {
        if let Some(first) = self.vertices.first() {
            // A vertex has its polyline's own coordinates.
            let flat = self.whole(70, 0).unwrap_or(0) & 8 == 0;
            return first.first_point().map(|p| if flat { self.in_the_drawing(p, 0.0) } else { p });
        }
        let p = self.first_point()?;
        let flat =
            matches!(self.kind, "ARC" | "CIRCLE" | "LWPOLYLINE" | "TEXT" | "INSERT" | "SOLID" | "TRACE");
        let height = if self.kind == "LWPOLYLINE" { self.number(38, 0.0) } else { self.number(30, 0.0) };
        Some(if flat { self.in_the_drawing(p, height.unwrap_or(0.0)) } else { p })
    }

    fn first_point(&self) -> Option<Point> {
        let of = |code: i32| {
            let (x, y) = (self.find(code)?.number().ok()?, self.find(code + 10)?.number().ok()?);
            Some(Point::new(x, y)).filter(|p| p.is_finite())
        };
        of(10).or_else(|| of(11))
    }

    /// A point of the entity's own coordinates as it is seen in the drawing, by the arbitrary axis algorithm of the
    /// DXF reference.
    fn in_the_drawing(&self, p: Point, height: f64) -> Point {
        let [x, y, z] = [(210, 0.0), (220, 0.0), (230, 1.0)].map(|(c, n)| self.number(c, n).unwrap_or(n));
        let length = (x * x + y * y + z * z).sqrt();
        if length <= 0.0 || !length.is_finite() {
            return p;
        }
        let [x, y, z] = [x / length, y / length, z / length];
        let steep = x.abs() < 1.0 / 64.0 && y.abs() < 1.0 / 64.0;
        let across = if steep { [z, 0.0, -x] } else { [-y, x, 0.0] };
        let size = across.iter().map(|a| a * a).sum::<f64>().sqrt();
        let [a, b, c] = across.map(|v| v / size);
        let up = [y * c - z * b, z * a - x * c];
        Point::new(a * p.x + up[0] * p.y + x * height, b * p.x + up[1] * p.y + y * height)
    }

    /// The map from the entity's own coordinates to the drawing's: mirrored in x where it is seen from behind.
    ///
    /// The arbitrary axis algorithm of the DXF reference, for extrusions along ±z.
    pub(super) fn own_coordinates(&self) -> Read<Transform> {
        let normal = [self.number(210, 0.0)?, self.number(220, 0.0)?, self.number(230, 1.0)?];
        let flat = normal[0].hypot(normal[1]) <= FLAT * normal[2].abs();
        if !flat {
            return Err(self.tilted());
        }
        Ok(if normal[2] < 0.0 { Transform::scaled(-1.0, 1.0) } else { Transform::IDENTITY })
    }

    /// The direction in which it is extruded: the normal of the plane that it is drawn on.
    fn normal(&self) -> Read<InSpace> {
        Ok([self.number(210, 0.0)?, self.number(220, 0.0)?, self.number(230, 1.0)?])
    }

    /// From the entity's own coordinates in space to the drawing's.
    pub(super) fn own_space(&self) -> Read<View> {
        View::out_of(self.normal()?).ok_or_else(|| self.tilted())
    }

    /// The height of its own plane over the origin.
    fn elevation(&self) -> Read<f64> {
        self.number(if self.kind == "LWPOLYLINE" { 38 } else { 30 }, 0.0)
    }

    /// The map from the entity's own coordinates to where it is drawn: as [`Entity::own_coordinates`] in plan, and with
    /// a view onto a plane to the coordinates on that plane.
    pub(super) fn own(&self, view: Option<&View>) -> Read<Transform> {
        let Some(view) = view else { return self.own_coordinates() };
        let own = self.own_space()?.then(view);
        let (x, y) = (own.direction([1.0, 0.0, 0.0]), own.direction([0.0, 1.0, 0.0]));
        if [x, y].iter().any(|axis| axis[2].abs() > FLAT * length(*axis)) {
            return Err(self.tilted());
        }
        let origin = own.point([0.0, 0.0, self.elevation()?]);
        let flat = |p: InSpace| Point::new(p[0], p[1]);
        Ok(Transform { x_axis: flat(x), y_axis: flat(y), origin: flat(origin) })
    }

    /// Points of the drawing as they are seen: in plan, or with a view onto a plane on that.
    fn seen(&self, points: &[Point], heights: &[f64], view: Option<&View>) -> Read<Vec<Point>> {
        let Some(view) = view else {
            let level = is_level(heights.iter().copied(), reach(points.iter().copied()));
            return if level { Ok(points.to_vec()) } else { Err(self.tilted()) };
        };
        let seen: Vec<InSpace> = points
            .iter()
            .enumerate()
            .map(|(i, p)| view.point([p.x, p.y, heights.get(i).copied().unwrap_or(0.0)]))
            .collect();
        let flat: Vec<Point> = seen.iter().map(|p| Point::new(p[0], p[1])).collect();
        if is_level(seen.iter().map(|p| p[2]), reach(flat.iter().copied())) {
            Ok(flat)
        } else {
            Err(self.tilted())
        }
    }

    /// What it says of the plane that the drawing lies in: its normal, where it is drawn on a plane of its own, and
    /// else its points, in space.
    pub(super) fn facing(&self, view: &View) -> Read<(Option<InSpace>, Vec<InSpace>)> {
        let points = |x: i32| -> Read<Vec<InSpace>> {
            let (xs, ys, zs) = (self.all(x)?, self.all(x + 10)?, self.all(x + 20)?);
            let height = |i: usize| zs.get(i).copied().unwrap_or(0.0);
            let both = xs.iter().zip(&ys).enumerate();
            Ok(both.map(|(i, (x, y))| view.point([*x, *y, height(i)])).collect())
        };
        let solid = self.whole(70, 0)? & 8 != 0;
        Ok(match self.kind {
            "LINE" => (None, points(10)?.into_iter().chain(points(11)?).collect()),
            "SPLINE" => (None, points(10)?.into_iter().chain(points(11)?).collect()),
            "POLYLINE" if solid => {
                let mut all = Vec::new();
                for vertex in &self.vertices {
                    let p = vertex.point(10)?;
                    all.push(view.point([p.x, p.y, vertex.number(30, 0.0)?]));
                }
                (None, all)
            }
            "ARC" | "CIRCLE" | "ELLIPSE" | "LWPOLYLINE" | "POLYLINE" => {
                let own = self.own_space()?.then(view);
                let (x, y) = (own.direction([1.0, 0.0, 0.0]), own.direction([0.0, 1.0, 0.0]));
                (Some(cross(x, y)), Vec::new())
            }
            _ => (None, Vec::new()),
        })
    }

    /// Where it is seen on the plane of a view, for a message.
    pub(super) fn place_on(&self, view: &View) -> Option<Point> {
        let first = self.vertices.first().unwrap_or(self);
        let p = first.first_point()?;
        let height = first.number(30, 0.0).unwrap_or(0.0);
        let flat = matches!(self.kind, "ARC" | "CIRCLE" | "LWPOLYLINE" | "TEXT" | "INSERT")
            || self.kind == "POLYLINE" && self.whole(70, 0).unwrap_or(0) & 8 == 0;
        let own = if flat { self.own_space().ok()?.then(view) } else { *view };
        let at = own.point([p.x, p.y, height]);
        Some(Point::new(at[0], at[1]))
    }

    /// The lines of a drawn entity; none where this kind draws no lines. In plan they are in the drawing's own units and
    /// coordinates; with a view onto a plane they are as that view shows them.
    pub(super) fn segments(&self, view: Option<&View>) -> Option<Read<Vec<Segment>>> {
        Some(match self.kind {
            "LINE" => self.line_segment(view),
            "ARC" => self.arc(view),
            "CIRCLE" => self.circle(view),
            "ELLIPSE" => self.ellipse(view),
            "LWPOLYLINE" => self.light_polyline(view),
            "POLYLINE" => self.polyline(view),
            "SPLINE" => self.spline(view),
            _ => return None,
        })
    }

    fn line_segment(&self, view: Option<&View>) -> Read<Vec<Segment>> {
        let heights = [self.number(30, 0.0)?, self.number(31, 0.0)?];
        let ends = self.seen(&[self.point(10)?, self.point(11)?], &heights, view)?;
        Ok(vec![Segment::line(ends[0], ends[1])])
    }

    fn radius(&self) -> Read<f64> {
        let radius = self.needed(40)?;
        if radius > 0.0 {
            return Ok(radius);
        }
        Err(self
            .refuse(ShapeCode::ZeroLength, format!("a {} has the radius {radius}", self.kind), "delete it")
            .at(self.point(10)?))
    }

    fn arc(&self, view: Option<&View>) -> Read<Vec<Segment>> {
        let (centre, radius) = (self.point(10)?, self.radius()?);
        let (start, end) = (self.needed(50)?, self.needed(51)?);
        let sweep = (end - start).rem_euclid(360.0);
        let own = self.own(view)?;
        if sweep == 0.0 {
            let whole = Segment::Circle(Circle { centre, radius, clockwise: false });
            return Ok(vec![whole.mapped(own)]);
        }
        // Past three quarters of a turn the bulge loses digits: two arcs do not.
        let parts = if sweep > 270.0 { 2.0 } else { 1.0 };
        let step = (sweep / parts).to_radians();
        let whole = (0..parts as u32).map(|i| {
            let from = start.to_radians() + step * f64::from(i);
            Segment::Arc(Arc::about(centre, radius, from, step)).mapped(own)
        });
        Ok(whole.collect())
    }

    fn circle(&self, view: Option<&View>) -> Read<Vec<Segment>> {
        let circle = Circle { centre: self.point(10)?, radius: self.radius()?, clockwise: false };
        Ok(vec![Segment::Circle(circle).mapped(self.own(view)?)])
    }

    fn ellipse(&self, view: Option<&View>) -> Read<Vec<Segment>> {
        // Centre and axis are in world coordinates; the extrusion only says which way round it goes.
        let (centre, major, left) = match view {
            None => {
                let mirrored = self.own_coordinates()?.determinant() < 0.0;
                let (centre, major) = (self.point(10)?, self.point(11)?);
                (centre, major, if mirrored { -major.left() } else { major.left() })
            }
            Some(view) => self.ellipse_seen(view)?,
        };
        let ratio = self.number(40, 1.0)?;
        let (start, end) = (self.number(41, 0.0)?, self.number(42, TAU)?);
        let swept = (end - start).rem_euclid(TAU);
        let sweep = if swept < 1e-12 || TAU - swept < 1e-12 { TAU } else { swept };
        if major.length() == 0.0 || ratio == 0.0 {
            return Err(self
                .refuse(ShapeCode::ZeroLength, "an ellipse has an axis without length".into(), "delete it")
                .at(centre));
        }
        let ellipse = EllipseArc::from_conjugate(centre, major, left * ratio, start, sweep);
        Ok(vec![Segment::Ellipse(ellipse)])
    }

    /// Centre, long half axis and the same turned left, as a view shows them.
    fn ellipse_seen(&self, view: &View) -> Read<(Point, Point, Point)> {
        let in_space = |x: i32| -> Read<InSpace> {
            let p = self.point(x)?;
            Ok([p.x, p.y, self.number(x + 20, 0.0)?])
        };
        let normal = self.own_space()?.direction([0.0, 0.0, 1.0]);
        let major = in_space(11)?;
        let [centre, long, left] =
            [view.point(in_space(10)?), view.direction(major), view.direction(cross(normal, major))];
        if [long, left].iter().any(|axis| axis[2].abs() > FLAT * length(*axis)) {
            return Err(self.tilted());
        }
        let flat = |p: InSpace| Point::new(p[0], p[1]);
        Ok((flat(centre), flat(long), flat(left)))
    }

    fn light_polyline(&self, view: Option<&View>) -> Read<Vec<Segment>> {
        let mut vertices: Vec<(Point, f64)> = Vec::new();
        for group in self.groups {
            match (group.code, vertices.last_mut()) {
                (10, _) => vertices.push((Point::new(group.number()?, 0.0), 0.0)),
                (20, Some(last)) => last.0.y = group.number()?,
                (42, Some(last)) => last.1 = group.number()?,
                _ => {}
            }
        }
        self.through(&vertices, self.whole(70, 0)? & 1 != 0, self.own(view)?)
    }

    fn polyline(&self, view: Option<&View>) -> Read<Vec<Segment>> {
        let flags = self.whole(70, 0)?;
        if flags & (16 | 64) != 0 {
            return Err(self.refuse(
                ShapeCode::Unsupported,
                "a POLYLINE is a mesh, not a line".into(),
                "leave it out of the drawing",
            ));
        }
        let solid = flags & 8 != 0;
        let mut vertices = Vec::new();
        let mut heights = Vec::new();
        for vertex in &self.vertices {
            // The frame of a fitted spline is not drawn.
            if flags & 4 != 0 && vertex.whole(70, 0)? & 16 != 0 {
                continue;
            }
            vertices.push((vertex.point(10)?, if solid { 0.0 } else { vertex.number(42, 0.0)? }));
            heights.push(vertex.number(30, 0.0)?);
        }
        if solid {
            let points: Vec<Point> = vertices.iter().map(|v| v.0).collect();
            let seen = self.seen(&points, &heights, view)?;
            vertices = seen.into_iter().map(|p| (p, 0.0)).collect();
        }
        let own = if solid { Transform::IDENTITY } else { self.own(view)? };
        self.through(&vertices, flags & 1 != 0, own)
    }

    /// Lines and arcs through vertices with bulges.
    fn through(&self, vertices: &[(Point, f64)], closed: bool, own: Transform) -> Read<Vec<Segment>> {
        let mut segments = Vec::new();
        let count = vertices.len();
        let last = if closed { count } else { count.saturating_sub(1) };
        for i in 0..last {
            let (start, bulge) = vertices[i];
            let end = vertices[(i + 1) % count].0;
            // A closed polyline that repeats its first vertex closes twice; once is meant.
            if closed && i + 1 == count && start == end {
                continue;
            }
            let segment = if bulge.abs() < 1e-12 {
                Segment::line(start, end)
            } else {
                Segment::Arc(Arc { start, end, bulge })
            };
            segments.push(segment.mapped(own));
        }
        Ok(segments)
    }

    fn spline(&self, view: Option<&View>) -> Read<Vec<Segment>> {
        if self.is_fitted() {
            return Ok(vec![Segment::Spline(self.fitted_curves(view)?.read)]);
        }
        let points = self.seen_run(10, "control", view)?;
        let degree = usize::try_from(self.whole(71, 3)?).unwrap_or(0);
        let mut weights = self.all(41)?;
        if weights.iter().all(|w| *w == 1.0) {
            weights.clear();
        }
        let spline = Nurbs::new(degree, self.all(40)?, points, weights).map_err(|reason| {
            self.refuse(ShapeCode::Unreadable, reason, "save the drawing again from the program that made it")
        })?;
        Ok(vec![Segment::Spline(spline)])
    }

    /// Points whose x stand in group `code`, as they are seen.
    fn seen_run(&self, code: i32, what: &str, view: Option<&View>) -> Read<Vec<Point>> {
        let (x, y) = (self.all(code)?, self.all(code + 10)?);
        if x.len() != y.len() {
            return Err(self.refuse(
                ShapeCode::Unreadable,
                format!("a SPLINE's {what} points are incomplete"),
                "save the drawing again from the program that made it",
            ));
        }
        let points: Vec<Point> = x.into_iter().zip(y).map(|(x, y)| Point::new(x, y)).collect();
        self.seen(&points, &self.all(code + 20)?, view)
    }

    /// True of a SPLINE without control points, which is given by points that it passes through.
    pub(super) fn is_fitted(&self) -> bool {
        self.kind == "SPLINE" && self.find(10).is_none()
    }

    /// The curve of a SPLINE given by fit points alone, and the other ways in which it is drawn.
    pub(super) fn fitted_curves(&self, view: Option<&View>) -> Read<fit_points::Fitted> {
        let remedy = "in the program that drew it, have its control vertices kept (convert it to a spline with control \
                      vertices, a NURBS) or convert it to a polyline of arcs, and save the drawing again";
        let refuse = |why: &str| self.refuse(ShapeCode::Unsupported, format!("a SPLINE {why}"), remedy);
        let points = self.seen_run(11, "fit", view)?;
        if self.whole(70, 0)? & 3 != 0 {
            return Err(refuse(
                "is closed and given by fit points alone: programs differ in how such a curve closes, and what is cut \
                 must be the curve that was drawn",
            ));
        }
        if self.number(44, 0.0)? > fit_points::NEAR * reach(points.iter().copied()) {
            return Err(refuse("passes near its fit points and not through them, and has no control points"));
        }
        let tangent = |code: i32| -> Read<Option<Point>> {
            if self.find(code).is_none() {
                return Ok(None);
            }
            let d = self.point(code)?;
            let d = [d.x, d.y, self.number(code + 20, 0.0)?];
            let seen = view.map_or(d, |v| v.direction(d));
            if seen[2].abs() > FLAT * length(seen) {
                return Err(self.tilted());
            }
            Ok(Some(Point::new(seen[0], seen[1])).filter(|t| t.length() > 0.0))
        };
        fit_points::fitted(&points, (tangent(12)?, tangent(13)?)).map_err(|why| refuse(&why))
    }
}

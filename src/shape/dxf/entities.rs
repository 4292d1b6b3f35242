//! One DXF entity to lines, in the drawing's own units and world coordinates.
//!
//! Group codes: the DXF reference, section "Entities", from memory; checked against drawings written by a
//! reference library.

use std::f64::consts::TAU;

use super::super::arc::{Arc, Circle};
use super::super::ellipse::EllipseArc;
use super::super::error::{ShapeCode, ShapeError};
use super::super::nurbs::Nurbs;
use super::super::point::{Point, Transform};
use super::super::segment::Segment;
use super::pairs::Pair;

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
const FLAT: f64 = 1e-6;

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

    pub(super) fn refuse(&self, code: ShapeCode, message: String, remedy: &str) -> ShapeError {
        ShapeError::new(code, message, remedy).on_line(self.line)
    }

    fn tilted(&self) -> ShapeError {
        self.refuse(
            ShapeCode::Unsupported,
            format!("a {} is not drawn flat: it leans out of the plane of the drawing", self.kind),
            "turn the drawing until it lies in the x-y plane, set all heights (z) to 0, and save it again",
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

    /// The lines of a drawn entity; none where this kind draws no lines.
    pub(super) fn segments(&self) -> Option<Read<Vec<Segment>>> {
        Some(match self.kind {
            "LINE" => self.line_segment(),
            "ARC" => self.arc(),
            "CIRCLE" => self.circle(),
            "ELLIPSE" => self.ellipse(),
            "LWPOLYLINE" => self.light_polyline(),
            "POLYLINE" => self.polyline(),
            "SPLINE" => self.spline(),
            _ => return None,
        })
    }

    fn line_segment(&self) -> Read<Vec<Segment>> {
        let (start, end) = (self.point(10)?, self.point(11)?);
        if !is_level([self.number(30, 0.0)?, self.number(31, 0.0)?], start.distance(end)) {
            return Err(self.tilted());
        }
        Ok(vec![Segment::line(start, end)])
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

    fn arc(&self) -> Read<Vec<Segment>> {
        let (centre, radius) = (self.point(10)?, self.radius()?);
        let (start, end) = (self.needed(50)?, self.needed(51)?);
        let sweep = (end - start).rem_euclid(360.0);
        let own = self.own_coordinates()?;
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

    fn circle(&self) -> Read<Vec<Segment>> {
        let circle = Circle { centre: self.point(10)?, radius: self.radius()?, clockwise: false };
        Ok(vec![Segment::Circle(circle).mapped(self.own_coordinates()?)])
    }

    fn ellipse(&self) -> Read<Vec<Segment>> {
        // Centre and axis are in world coordinates; the extrusion only says which way round it goes.
        let mirrored = self.own_coordinates()?.determinant() < 0.0;
        let (centre, major) = (self.point(10)?, self.point(11)?);
        let ratio = self.number(40, 1.0)?;
        let (start, end) = (self.number(41, 0.0)?, self.number(42, TAU)?);
        let swept = (end - start).rem_euclid(TAU);
        let sweep = if swept < 1e-12 || TAU - swept < 1e-12 { TAU } else { swept };
        if major.length() == 0.0 || ratio == 0.0 {
            return Err(self
                .refuse(ShapeCode::ZeroLength, "an ellipse has an axis without length".into(), "delete it")
                .at(centre));
        }
        let minor = major.left() * if mirrored { -ratio } else { ratio };
        let ellipse = EllipseArc::from_conjugate(centre, major, minor, start, sweep);
        Ok(vec![Segment::Ellipse(ellipse)])
    }

    fn light_polyline(&self) -> Read<Vec<Segment>> {
        let mut vertices: Vec<(Point, f64)> = Vec::new();
        for group in self.groups {
            match (group.code, vertices.last_mut()) {
                (10, _) => vertices.push((Point::new(group.number()?, 0.0), 0.0)),
                (20, Some(last)) => last.0.y = group.number()?,
                (42, Some(last)) => last.1 = group.number()?,
                _ => {}
            }
        }
        self.through(&vertices, self.whole(70, 0)? & 1 != 0, self.own_coordinates()?)
    }

    fn polyline(&self) -> Read<Vec<Segment>> {
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
        if solid && !is_level(heights, reach(vertices.iter().map(|v| v.0))) {
            return Err(self.tilted());
        }
        let own = if solid { Transform::IDENTITY } else { self.own_coordinates()? };
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

    fn spline(&self) -> Read<Vec<Segment>> {
        let (x, y) = (self.all(10)?, self.all(20)?);
        if x.is_empty() {
            let fit = self.groups.iter().filter(|g| g.code == 11).count();
            return Err(self.refuse(
                ShapeCode::Unsupported,
                format!(
                    "a SPLINE is given by {fit} fit points alone: programs differ in the curve through them, and \
                     what is cut must be the curve that was drawn"
                ),
                "in the program that drew it, have its control vertices kept (convert it to a spline with control \
                 vertices, a NURBS) or convert it to a polyline of arcs, and save the drawing again",
            ));
        }
        if x.len() != y.len() {
            return Err(self.refuse(
                ShapeCode::Unreadable,
                "a SPLINE's control points are incomplete".into(),
                "save the drawing again from the program that made it",
            ));
        }
        let heights = self.all(30)?;
        let points: Vec<Point> = x.into_iter().zip(y).map(|(x, y)| Point::new(x, y)).collect();
        if !is_level(heights, reach(points.iter().copied())) {
            return Err(self.tilted());
        }
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
}

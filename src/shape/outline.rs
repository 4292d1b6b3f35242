//! An outline: the outer contour of a panel, its cut-outs, etched lines, marks and the stone's joints.
//!
//! It is held as drawn. Whether it is sound is asked in `check`, what it measures in `figures`; this file
//! is the data, and the plain shapes.

use super::arc::Circle;
use super::measure::Moments;
use super::point::{Point, Transform};
use super::segment::Segment;
use crate::words::words;

/// Ends closer than this are the same place, in millimetres. Far below any cutter, far above rounding.
pub(crate) const SAME_PLACE_MM: f64 = 1e-6;

/// A closed way around an area. Its pieces follow each other and the last ends where the first starts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Contour {
    /// The pieces in order, in either direction.
    pub segments: Vec<Segment>,
}

/// A way that may be open, such as an etched line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// The pieces in order.
    pub segments: Vec<Segment>,
}

words! {
    /// What a mark on the drawing says.
    MarkKind, "mark kind" {
        /// Where the cable leaves the panel.
        CableExit = "cable-exit",
        /// Which face is the front, towards the stone.
        Front = "front",
        /// Which way is up when fitted.
        Top = "top",
        /// The centre of a hole.
        HoleCentre = "hole-centre",
        /// A remark in words.
        Note = "note",
    }
}

/// A mark at a place of the drawing. It changes no figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it says.
    pub kind: MarkKind,
    /// Where.
    pub at: Point,
    /// Its words, where it has any; at most 80 characters.
    pub text: Option<String>,
    /// The way it points, in degrees counter-clockwise from the x axis, where it points.
    pub heading_deg: Option<f64>,
}

/// A joint of the stone above the panel: a straight line where a seam of the panel would not be seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StoneJoint {
    /// One end.
    pub from: Point,
    /// The other end.
    pub to: Point,
}

/// The exact drawing of a panel, in millimetres, x to the right and y up, seen from the front.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outline {
    /// The outer contour.
    pub outer: Contour,
    /// Contours of what is cut out of it.
    pub cutouts: Vec<Contour>,
    /// Lines etched into the face.
    pub etchings: Vec<Path>,
    /// Marks.
    pub marks: Vec<Mark>,
    /// Joints of the stone, where seams of a split panel should fall.
    pub stone_joints: Vec<StoneJoint>,
}

impl Contour {
    /// The closed polygon through these corners.
    #[must_use]
    pub fn polygon(corners: &[Point]) -> Self {
        let next = corners.iter().cycle().skip(1);
        Contour { segments: corners.iter().zip(next).map(|(&a, &b)| Segment::line(a, b)).collect() }
    }

    /// A whole circle, counter-clockwise.
    #[must_use]
    pub fn circle(centre: Point, radius_mm: f64) -> Self {
        Contour { segments: vec![Segment::Circle(Circle { centre, radius: radius_mm, clockwise: false })] }
    }

    /// Its length in millimetres.
    #[must_use]
    pub(crate) fn length(&self) -> f64 {
        self.segments.iter().map(Segment::length).sum()
    }

    /// Its signed area and first moments about `origin`: counter-clockwise is positive.
    #[must_use]
    pub(crate) fn moments(&self, origin: Point) -> Moments {
        self.segments.iter().map(|s| s.moments(origin)).fold(Moments::default(), Moments::plus)
    }

    /// Its signed area in mm²: positive where it runs counter-clockwise.
    #[must_use]
    pub(crate) fn signed_area(&self) -> f64 {
        self.moments(self.start()).area
    }

    /// Where it starts; the origin where it has no pieces.
    #[must_use]
    pub(crate) fn start(&self) -> Point {
        self.segments.first().map(Segment::start).unwrap_or_default()
    }

    /// How far it reaches along a unit direction: least and greatest.
    #[must_use]
    pub(crate) fn extent(&self, along: Point) -> (f64, f64) {
        extent(&self.segments, along)
    }

    /// The same contour walked the other way.
    #[must_use]
    pub fn reversed(&self) -> Contour {
        Contour { segments: self.segments.iter().rev().map(Segment::reversed).collect() }
    }

    /// The same contour, walked counter-clockwise.
    #[must_use]
    pub(crate) fn counter_clockwise(&self) -> Contour {
        if self.signed_area() < 0.0 { self.reversed() } else { self.clone() }
    }

    /// The image under a map.
    #[must_use]
    pub(crate) fn mapped(&self, map: Transform) -> Contour {
        Contour { segments: self.segments.iter().map(|s| s.mapped(map)).collect() }
    }

    /// Points along it with chords within `tolerance_mm`; the start is not repeated at the end.
    #[must_use]
    pub(crate) fn flattened(&self, tolerance_mm: f64) -> Vec<Point> {
        let mut points = Vec::new();
        for segment in &self.segments {
            let flat = segment.flattened(tolerance_mm);
            points.extend(flat[..flat.len() - 1].iter().map(|(_, p)| *p));
        }
        points
    }
}

impl Path {
    /// Its length in millimetres.
    #[must_use]
    pub(crate) fn length(&self) -> f64 {
        self.segments.iter().map(Segment::length).sum()
    }

    /// The image under a map.
    #[must_use]
    pub(crate) fn mapped(&self, map: Transform) -> Path {
        Path { segments: self.segments.iter().map(|s| s.mapped(map)).collect() }
    }
}

/// How far pieces reach along a unit direction together; an empty range where there are none.
pub(crate) fn extent(segments: &[Segment], along: Point) -> (f64, f64) {
    segments
        .iter()
        .map(|s| s.extent(along))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (l, h)| (low.min(l), high.max(h)))
}

impl Outline {
    /// An outline with nothing but its outer contour.
    #[must_use]
    pub fn of(outer: Contour) -> Self {
        Outline { outer, ..Outline::default() }
    }

    /// A rectangle with its lower left corner at the origin.
    #[must_use]
    pub fn rectangle(width_mm: f64, height_mm: f64) -> Self {
        Outline::polygon(&[
            Point::new(0.0, 0.0),
            Point::new(width_mm, 0.0),
            Point::new(width_mm, height_mm),
            Point::new(0.0, height_mm),
        ])
    }

    /// A circle about the origin.
    #[must_use]
    pub fn circle(diameter_mm: f64) -> Self {
        Outline::of(Contour::circle(Point::default(), diameter_mm / 2.0))
    }

    /// A triangle with these corners.
    #[must_use]
    pub fn triangle(a: Point, b: Point, c: Point) -> Self {
        Outline::polygon(&[a, b, c])
    }

    /// A polygon with these corners.
    #[must_use]
    pub fn polygon(corners: &[Point]) -> Self {
        Outline::of(Contour::polygon(corners))
    }

    /// The image under a map.
    #[must_use]
    pub fn mapped(&self, map: Transform) -> Outline {
        Outline {
            outer: self.outer.mapped(map),
            cutouts: self.cutouts.iter().map(|c| c.mapped(map)).collect(),
            etchings: self.etchings.iter().map(|p| p.mapped(map)).collect(),
            marks: self
                .marks
                .iter()
                .map(|m| Mark {
                    at: map.point(m.at),
                    heading_deg: m
                        .heading_deg
                        .map(|d| map.direction(Point::at_angle(d.to_radians())).angle().to_degrees()),
                    ..m.clone()
                })
                .collect(),
            stone_joints: self
                .stone_joints
                .iter()
                .map(|j| StoneJoint { from: map.point(j.from), to: map.point(j.to) })
                .collect(),
        }
    }

    /// A place of the outline's own lines that lies outside the box around them, by dense points along them; none where
    /// the box is right. What is drawn or cut by a box that this contradicts would run off its sheet.
    #[must_use]
    pub fn outside_its_box(&self) -> Option<Point> {
        self.outside((self.outer.extent(Point::new(1.0, 0.0)), self.outer.extent(Point::new(0.0, 1.0))))
    }

    /// The same for any box, from the least to the greatest x and y.
    #[must_use]
    pub(crate) fn outside(&self, (x, y): ((f64, f64), (f64, f64))) -> Option<Point> {
        let slack = SAME_PLACE_MM + 1e-12 * (x.1 - x.0).max(y.1 - y.0);
        let out = |v: f64, (low, high): (f64, f64)| v < low - slack || v > high + slack;
        let lines = self.contours().flat_map(|c| &c.segments);
        lines
            .flat_map(|s| s.flattened(0.05))
            .map(|(_, p)| p)
            .find(|p| !p.is_finite() || out(p.x, x) || out(p.y, y))
    }

    /// Every contour: the outer one first.
    pub(crate) fn contours(&self) -> impl Iterator<Item = &Contour> {
        std::iter::once(&self.outer).chain(&self.cutouts)
    }

    /// How many pieces the whole drawing has.
    #[must_use]
    pub(crate) fn piece_count(&self) -> usize {
        self.contours().map(|c| c.segments.len()).sum::<usize>()
            + self.etchings.iter().map(|p| p.segments.len()).sum::<usize>()
    }
}

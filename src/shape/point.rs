//! Points and plane maps, in millimetres with y pointing up.
//!
//! Not a vector library: only what outlines need. A [`Point`] also serves as a direction.

use std::ops::{Add, Mul, Neg, Sub};

/// A point of the plane, or a direction in it. Millimetres, x to the right, y up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// To the right, in millimetres.
    pub x: f64,
    /// Up, in millimetres.
    pub y: f64,
}

impl Point {
    /// The point at `x`, `y` millimetres.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Point { x, y }
    }

    /// The direction at an angle from the x axis, counter-clockwise, in radians.
    #[must_use]
    pub fn at_angle(angle_rad: f64) -> Self {
        Point::new(angle_rad.cos(), angle_rad.sin())
    }

    /// The scalar product.
    #[must_use]
    pub fn dot(self, other: Point) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// The z part of the vector product: positive where `other` lies to the left of `self`.
    #[must_use]
    pub(crate) fn cross(self, other: Point) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// The length as a direction.
    #[must_use]
    pub(crate) fn length(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// The distance to another point.
    #[must_use]
    pub fn distance(self, other: Point) -> f64 {
        (other - self).length()
    }

    /// The angle from the x axis, counter-clockwise, in radians within ±π.
    #[must_use]
    pub(crate) fn angle(self) -> f64 {
        self.y.atan2(self.x)
    }

    /// Turned a quarter counter-clockwise.
    #[must_use]
    pub(crate) fn left(self) -> Point {
        Point::new(-self.y, self.x)
    }

    /// The same direction with length 1, or zero where there is no direction.
    #[must_use]
    pub(crate) fn unit(self) -> Point {
        let length = self.length();
        if length > 0.0 { self * (1.0 / length) } else { Point::default() }
    }

    /// The point a share `t` of the way to `other`.
    #[must_use]
    pub fn towards(self, other: Point, t: f64) -> Point {
        self + (other - self) * t
    }

    /// True where neither part is infinite or not a number.
    #[must_use]
    pub(crate) fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

impl Add for Point {
    type Output = Point;
    fn add(self, other: Point) -> Point {
        Point::new(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Point {
    type Output = Point;
    fn sub(self, other: Point) -> Point {
        Point::new(self.x - other.x, self.y - other.y)
    }
}

impl Neg for Point {
    type Output = Point;
    fn neg(self) -> Point {
        Point::new(-self.x, -self.y)
    }
}

impl Mul<f64> for Point {
    type Output = Point;
    fn mul(self, factor: f64) -> Point {
        Point::new(self.x * factor, self.y * factor)
    }
}

/// The signed angle from direction `from` to direction `to`, in radians within ±π; left is positive.
#[must_use]
pub fn turn(from: Point, to: Point) -> f64 {
    from.cross(to).atan2(from.dot(to))
}

/// How far a point lies from the straight way between two others.
pub(crate) fn distance_to_way(p: Point, a: Point, b: Point) -> f64 {
    let along = b - a;
    let square = along.dot(along);
    let share = if square > 0.0 { ((p - a).dot(along) / square).clamp(0.0, 1.0) } else { 0.0 };
    p.distance(a.towards(b, share))
}

/// A map of the plane that keeps straight lines straight: turning, moving, scaling, mirroring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transform {
    /// Where the x direction goes.
    pub x_axis: Point,
    /// Where the y direction goes.
    pub y_axis: Point,
    /// Where the origin goes.
    pub origin: Point,
}

impl Transform {
    /// The map that changes nothing.
    pub(crate) const IDENTITY: Transform = Transform {
        x_axis: Point::new(1.0, 0.0),
        y_axis: Point::new(0.0, 1.0),
        origin: Point::new(0.0, 0.0),
    };

    /// Moves by an offset.
    #[must_use]
    pub fn moved(by: Point) -> Self {
        Transform { origin: by, ..Transform::IDENTITY }
    }

    /// Turns counter-clockwise about the origin.
    #[must_use]
    pub fn rotated(angle_rad: f64) -> Self {
        let x_axis = Point::at_angle(angle_rad);
        Transform { x_axis, y_axis: x_axis.left(), origin: Point::default() }
    }

    /// Scales along x and y; a negative factor mirrors.
    #[must_use]
    pub fn scaled(x: f64, y: f64) -> Self {
        Transform { x_axis: Point::new(x, 0.0), y_axis: Point::new(0.0, y), origin: Point::default() }
    }

    /// This map first, then `next`.
    #[must_use]
    pub fn then(self, next: Transform) -> Transform {
        Transform {
            x_axis: next.direction(self.x_axis),
            y_axis: next.direction(self.y_axis),
            origin: next.point(self.origin),
        }
    }

    /// Where a point goes.
    #[must_use]
    pub(crate) fn point(self, p: Point) -> Point {
        self.direction(p) + self.origin
    }

    /// Where a direction goes: no offset.
    #[must_use]
    pub(crate) fn direction(self, d: Point) -> Point {
        self.x_axis * d.x + self.y_axis * d.y
    }

    /// How areas scale; negative where the map mirrors.
    #[must_use]
    pub(crate) fn determinant(self) -> f64 {
        self.x_axis.cross(self.y_axis)
    }

    /// The one factor by which lengths scale, where shapes stay similar; none where circles would become
    /// ellipses or everything collapses.
    #[must_use]
    pub(crate) fn similarity(self) -> Option<f64> {
        let (a, b) = (self.x_axis.length(), self.y_axis.length());
        let skew = self.x_axis.dot(self.y_axis).abs();
        (a > 0.0 && (a - b).abs() <= 1e-12 * a && skew <= 1e-12 * a * b).then_some(a)
    }
}

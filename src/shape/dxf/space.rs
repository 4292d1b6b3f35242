//! A drawing that stands or leans in space, laid flat: which plane it lies in, and where its points go there.
//!
//! Only what lies in one plane can be laid flat without a change of shape. Own coordinates of an entity follow the
//! arbitrary axis algorithm of the DXF reference ("Object Coordinate Systems"), from memory; checked against `ezdxf`.

use super::entities::FLAT;

/// A point or direction in space.
pub(super) type InSpace = [f64; 3];

pub(super) fn dot(a: InSpace, b: InSpace) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(super) fn cross(a: InSpace, b: InSpace) -> InSpace {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(super) fn length(a: InSpace) -> f64 {
    dot(a, a).sqrt()
}

fn less(a: InSpace, b: InSpace) -> InSpace {
    std::array::from_fn(|i| a[i] - b[i])
}

/// The direction of length 1; none where it has none.
pub(super) fn unit(a: InSpace) -> Option<InSpace> {
    let size = length(a);
    (size > 0.0 && size.is_finite()).then(|| a.map(|v| v / size))
}

/// A map of space that keeps straight lines straight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct View {
    /// Where the three directions go.
    axes: [InSpace; 3],
    /// Where the origin goes.
    origin: InSpace,
}

impl View {
    /// The map that changes nothing.
    pub(super) const WORLD: View =
        View { axes: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], origin: [0.0; 3] };

    pub(super) fn scaled(by: InSpace) -> View {
        View { axes: [[by[0], 0.0, 0.0], [0.0, by[1], 0.0], [0.0, 0.0, by[2]]], origin: [0.0; 3] }
    }

    pub(super) fn moved(by: InSpace) -> View {
        View { origin: by, ..View::WORLD }
    }

    /// Turns about the z axis.
    pub(super) fn turned(angle_rad: f64) -> View {
        let (sin, cos) = angle_rad.sin_cos();
        View { axes: [[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]], origin: [0.0; 3] }
    }

    /// From the own coordinates of something drawn on a plane with this normal to the drawing's.
    pub(super) fn out_of(normal: InSpace) -> Option<View> {
        let n = unit(normal)?;
        let steep = n[0].abs() < 1.0 / 64.0 && n[1].abs() < 1.0 / 64.0;
        let across = unit(if steep { [n[2], 0.0, -n[0]] } else { [-n[1], n[0], 0.0] })?;
        Some(View { axes: [across, cross(n, across), n], origin: [0.0; 3] })
    }

    /// From the drawing's coordinates to those on a plane with this normal, and the height over it.
    pub(super) fn onto(normal: InSpace) -> Option<View> {
        let [a, b, c] = View::out_of(normal)?.axes;
        Some(View { axes: std::array::from_fn(|i| [a[i], b[i], c[i]]), origin: [0.0; 3] })
    }

    pub(super) fn direction(&self, d: InSpace) -> InSpace {
        std::array::from_fn(|i| self.axes[0][i] * d[0] + self.axes[1][i] * d[1] + self.axes[2][i] * d[2])
    }

    pub(super) fn point(&self, p: InSpace) -> InSpace {
        let d = self.direction(p);
        std::array::from_fn(|i| d[i] + self.origin[i])
    }

    /// This map first, then `next`.
    pub(super) fn then(&self, next: &View) -> View {
        View { axes: self.axes.map(|a| next.direction(a)), origin: next.point(self.origin) }
    }
}

/// What the entities of a drawing say of the plane that they lie in.
#[derive(Debug, Default)]
pub(super) struct Facings {
    /// The normals of those that are drawn on a plane of their own.
    normals: Vec<InSpace>,
    /// Points of all.
    points: Vec<InSpace>,
}

impl Facings {
    pub(super) fn add(&mut self, normal: Option<InSpace>, points: Vec<InSpace>) {
        self.normals.extend(normal.and_then(unit));
        self.points.extend(points);
    }

    /// The direction from which the drawing is seen, where it may lie in one plane that is not level.
    ///
    /// The side from which everything on it was drawn; where entities differ or have no side, from above, or an upright
    /// one from the front (-y), or else from the right (+x), as plan and elevations are named.
    pub(super) fn seen_from(&self) -> Option<InSpace> {
        let known = self.normals.first().copied();
        let n = known.map_or_else(|| self.normal_of_points(), Some)?;
        if n[0].hypot(n[1]) <= FLAT * n[2].abs() {
            return None;
        }
        if known.is_some() && self.normals.iter().all(|other| dot(*other, n) > 0.0) {
            return Some(n);
        }
        let decides = if n[2].abs() > FLAT {
            n[2]
        } else if n[1].abs() > FLAT {
            -n[1]
        } else {
            n[0]
        };
        Some(if decides < 0.0 { n.map(|v| -v) } else { n })
    }

    /// The normal of the plane through the points that lie farthest apart.
    fn normal_of_points(&self) -> Option<InSpace> {
        let first = *self.points.first()?;
        let farthest = |size: &dyn Fn(InSpace) -> f64| {
            self.points
                .iter()
                .map(|p| less(*p, first))
                .reduce(|best, p| if size(p) > size(best) { p } else { best })
        };
        let along = unit(farthest(&length)?)?;
        let aside = farthest(&|p| length(cross(along, p)))?;
        let normal = cross(along, aside);
        // Points on a line lie in many planes.
        if length(normal) <= FLAT * length(aside) { None } else { unit(normal) }
    }
}

/// A direction for people: numbers to three places.
pub(super) fn told(direction: InSpace) -> String {
    let rounded = direction.map(|v| (v * 1000.0).round() / 1000.0 + 0.0);
    format!("({}, {}, {})", rounded[0], rounded[1], rounded[2])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_goes_out_and_comes_back() {
        for normal in [[0.0, -1.0, 0.0], [0.6, 0.0, 0.8], [1e-3, 0.0, 1.0], [1.0, 2.0, -3.0]] {
            let (out, onto) = (View::out_of(normal).expect("a plane"), View::onto(normal).expect("a plane"));
            let back = onto.point(out.point([3.0, -4.0, 5.0]));
            assert!(length(less(back, [3.0, -4.0, 5.0])) < 1e-12, "{normal:?} {back:?}");
        }
        // A front elevation: x stays x, z becomes up.
        let front = View::onto([0.0, -1.0, 0.0]).expect("a plane");
        assert_eq!(front.point([7.0, 0.0, 9.0]), [7.0, 9.0, 0.0]);
    }

    #[test]
    fn the_side_is_the_drawn_one_or_else_that_of_plan_and_elevations() {
        let seen = |normals: &[InSpace], points: &[InSpace]| {
            let mut facings = Facings::default();
            normals.iter().for_each(|n| facings.add(Some(*n), Vec::new()));
            facings.add(None, points.to_vec());
            facings.seen_from()
        };
        assert_eq!(seen(&[[0.0, 0.0, -1.0]], &[]), None, "level");
        assert_eq!(seen(&[[0.0, 1.0, 0.0]], &[]), Some([0.0, 1.0, 0.0]), "drawn from behind");
        assert_eq!(
            seen(&[[0.0, 1.0, 0.0], [0.0, -1.0, 0.0]], &[]),
            Some([0.0, -1.0, 0.0]),
            "from both sides"
        );
        let upright = [[0.0; 3], [5.0, 0.0, 0.0], [5.0, 0.0, 3.0]];
        assert_eq!(seen(&[], &upright), Some([0.0, -1.0, 0.0]));
        assert_eq!(seen(&[], &upright[..2]), None, "a line lies in many planes");
        assert_eq!(seen(&[], &[[0.0; 3], [5.0, 0.0, 0.0], [5.0, 3.0, 0.0]]), None, "level");
    }
}

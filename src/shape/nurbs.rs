//! Splines: non-uniform rational B-splines of any degree, clamped or not.
//!
//! The curve is taken over its own domain only, from knot `degree` to knot `count`: a closed spline arrives
//! wrapped and unclamped, and the knots outside belong to no piece of it. Each span is turned once into a
//! rational Bézier piece by evaluating its polar form (Ramshaw, Blossoming, 1987), which is exact, and
//! everything else works on these pieces.

use super::bernstein;
use super::point::Point;

/// The highest degree that is read; drawings use 2 to 5.
pub(crate) const HIGHEST_DEGREE: usize = 15;

/// A spline.
#[derive(Clone, Debug, PartialEq)]
pub struct Nurbs {
    degree: usize,
    knots: Vec<f64>,
    control_points: Vec<Point>,
    weights: Vec<f64>,
    spans: Vec<Span>,
}

/// One smooth span as a rational Bézier piece, between two shares of the whole parameter range.
#[derive(Clone, Debug, PartialEq)]
struct Span {
    from: f64,
    to: f64,
    control: Vec<Weighted>,
}

/// A control point in homogeneous form: the point times its weight, and the weight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Weighted {
    point: Point,
    weight: f64,
}

impl Weighted {
    fn towards(self, other: Weighted, t: f64) -> Weighted {
        Weighted {
            point: self.point.towards(other.point, t),
            weight: self.weight + (other.weight - self.weight) * t,
        }
    }
}

impl Nurbs {
    /// A spline of `degree` with its knots, control points and weights (none means all 1).
    ///
    /// # Errors
    /// A sentence that says which of the parts does not fit the others.
    pub fn new(
        degree: usize,
        knots: Vec<f64>,
        control_points: Vec<Point>,
        weights: Vec<f64>,
    ) -> Result<Self, String> {
        let count = control_points.len();
        if !(1..=HIGHEST_DEGREE).contains(&degree) {
            return Err(format!("the spline's degree {degree} is not between 1 and {HIGHEST_DEGREE}"));
        }
        if count <= degree {
            return Err(format!(
                "a spline of degree {degree} needs {} control points, not {count}",
                degree + 1
            ));
        }
        if knots.len() != count + degree + 1 {
            return Err(format!(
                "a spline of degree {degree} with {count} control points has {} knots, not {}",
                count + degree + 1,
                knots.len()
            ));
        }
        if !weights.is_empty() && weights.len() != count {
            return Err(format!("the spline has {count} control points but {} weights", weights.len()));
        }
        if !knots.iter().all(|k| k.is_finite()) || !control_points.iter().all(|p| p.is_finite()) {
            return Err("the spline has a number that is not finite".into());
        }
        if !weights.iter().all(|w| w.is_finite() && *w > 0.0) {
            return Err("a weight of the spline is not above zero".into());
        }
        if knots.windows(2).any(|k| k[1] < k[0]) {
            return Err("the spline's knots go down; they must not".into());
        }
        if knots[count] <= knots[degree] {
            return Err("the spline's knots span nothing".into());
        }
        if (1..count)
            .any(|i| knots[i + degree] <= knots[i] && knots[i] > knots[degree] && knots[i] < knots[count])
        {
            return Err(
                "the spline is broken: a knot inside it is repeated more often than its degree".into()
            );
        }
        let mut spline = Nurbs { degree, knots, control_points, weights, spans: Vec::new() };
        spline.spans = spline.bezier_spans();
        Ok(spline)
    }

    /// The degree.
    #[must_use]
    pub(crate) fn degree(&self) -> usize {
        self.degree
    }

    /// The knots, never going down; as many as control points plus degree plus one.
    #[must_use]
    pub(crate) fn knots(&self) -> &[f64] {
        &self.knots
    }

    /// The control points.
    #[must_use]
    pub(crate) fn control_points(&self) -> &[Point] {
        &self.control_points
    }

    /// The weights, one for each control point, or none where all are 1.
    #[must_use]
    pub(crate) fn weights(&self) -> &[f64] {
        &self.weights
    }

    fn bezier_spans(&self) -> Vec<Span> {
        let (first, last) = (self.knots[self.degree], self.knots[self.control_points.len()]);
        let share = |knot: f64| (knot - first) / (last - first);
        (self.degree..self.control_points.len())
            .filter(|&i| self.knots[i + 1] > self.knots[i])
            .map(|i| {
                let (a, b) = (self.knots[i], self.knots[i + 1]);
                let control = (0..=self.degree).map(|at_b| self.blossom(i, a, b, at_b)).collect();
                Span { from: share(a), to: share(b), control }
            })
            .collect()
    }

    /// The polar form over span `i` with `at_b` of its arguments at the span's end and the rest at its start.
    fn blossom(&self, i: usize, a: f64, b: f64, at_b: usize) -> Weighted {
        let p = self.degree;
        let mut d: Vec<Weighted> = (0..=p)
            .map(|l| {
                let weight = self.weights.get(i - p + l).copied().unwrap_or(1.0);
                Weighted { point: self.control_points[i - p + l] * weight, weight }
            })
            .collect();
        for r in 1..=p {
            let u = if r <= at_b { b } else { a };
            for l in (r..=p).rev() {
                let (low, high) = (self.knots[i - p + l], self.knots[i + l - r + 1]);
                d[l] = d[l - 1].towards(d[l], (u - low) / (high - low));
            }
        }
        d[p]
    }

    /// The shares of the way at which smooth spans meet, with 0 and 1.
    pub(crate) fn breaks(&self) -> Vec<f64> {
        std::iter::once(0.0).chain(self.spans.iter().map(|s| s.to)).collect()
    }

    fn span_at(&self, t: f64) -> (&Span, f64) {
        let index = self.spans.partition_point(|s| s.to < t).min(self.spans.len() - 1);
        let span = &self.spans[index];
        (span, ((t - span.from) / (span.to - span.from)).clamp(0.0, 1.0))
    }

    /// The point and the first and second derivative by the share of the way.
    pub(crate) fn derivatives(&self, t: f64) -> [Point; 3] {
        let (span, local) = self.span_at(t);
        let p = self.degree;
        let scale = 1.0 / (span.to - span.from);
        let mut d = [Weighted::default(); HIGHEST_DEGREE + 1];
        d[..=p].copy_from_slice(&span.control);
        let difference = |a: Weighted, b: Weighted, f: f64| Weighted {
            point: (b.point - a.point) * f,
            weight: (b.weight - a.weight) * f,
        };
        let (mut first, mut second) = (Weighted::default(), Weighted::default());
        for level in (1..=p).rev() {
            // At this moment d[0..=level] is the polygon of degree `level`.
            if level == 2 {
                let (a, b) = (difference(d[0], d[1], 1.0), difference(d[1], d[2], 1.0));
                second = difference(a, b, (p * (p - 1)) as f64 * scale * scale);
            }
            if level == 1 {
                first = difference(d[0], d[1], p as f64 * scale);
            }
            for l in 0..level {
                d[l] = d[l].towards(d[l + 1], local);
            }
        }
        let w = d[0].weight;
        let at = d[0].point * (1.0 / w);
        let velocity = (first.point - at * first.weight) * (1.0 / w);
        let bend = (second.point - velocity * (2.0 * first.weight) - at * second.weight) * (1.0 / w);
        [at, velocity, bend]
    }

    /// Every share of the way at which it turns back along a direction, and the breaks between its spans: the slope of
    /// n/w is zero where n′w − nw′ is.
    pub(crate) fn where_turning(&self, along: Point) -> Vec<f64> {
        let mut found = Vec::new();
        for span in &self.spans {
            let middle = along.dot(span.control[0].point) / span.control[0].weight;
            let weights: Vec<f64> = span.control.iter().map(|c| c.weight).collect();
            let reach: Vec<f64> =
                span.control.iter().map(|c| along.dot(c.point) - middle * c.weight).collect();
            let slope = if weights.iter().all(|w| *w == weights[0]) {
                bernstein::slope(&reach)
            } else {
                bernstein::minus(
                    &bernstein::product(&bernstein::slope(&reach), &weights),
                    &bernstein::product(&reach, &bernstein::slope(&weights)),
                )
            };
            found.push(span.from);
            found.extend(bernstein::roots(&slope).into_iter().map(|t| span.from + (span.to - span.from) * t));
        }
        found
    }

    pub(crate) fn reversed(&self) -> Nurbs {
        let (first, last) = (self.knots[0], self.knots[self.knots.len() - 1]);
        let spans = self
            .spans
            .iter()
            .rev()
            .map(|s| Span {
                from: 1.0 - s.to,
                to: 1.0 - s.from,
                control: s.control.iter().rev().copied().collect(),
            })
            .collect();
        Nurbs {
            degree: self.degree,
            knots: self.knots.iter().rev().map(|k| first + (last - k)).collect(),
            control_points: self.control_points.iter().rev().copied().collect(),
            weights: self.weights.iter().rev().copied().collect(),
            spans,
        }
    }

    /// The same curve with every control point moved by `map`, which must keep straight lines straight.
    pub(crate) fn mapped(&self, map: impl Fn(Point) -> Point) -> Nurbs {
        let mut spline = self.clone();
        for p in &mut spline.control_points {
            *p = map(*p);
        }
        spline.spans = spline.bezier_spans();
        spline
    }

    /// The part between two shares of the way, as a clamped spline with one Bézier piece a span.
    pub(crate) fn between(&self, t0: f64, t1: f64) -> Option<Nurbs> {
        let mut knots = vec![t0; self.degree + 1];
        let (mut points, mut weights) = (Vec::new(), Vec::new());
        for span in &self.spans {
            let (from, to) = (span.from.max(t0), span.to.min(t1));
            if to <= from {
                continue;
            }
            let local = |t: f64| (t - span.from) / (span.to - span.from);
            let piece = bezier_between(&span.control, local(from), local(to));
            let skip = usize::from(!points.is_empty());
            for c in piece.iter().skip(skip) {
                points.push(c.point * (1.0 / c.weight));
                weights.push(c.weight);
            }
            knots.extend(std::iter::repeat_n(to, self.degree));
        }
        knots.push(*knots.last()?);
        if self.weights.is_empty() {
            weights.clear();
        }
        Nurbs::new(self.degree, knots, points, weights).ok()
    }

    /// True where the curve never leaves the straight way between its ends.
    pub(crate) fn is_straight(&self, tolerance: f64) -> bool {
        let (start, end) = (self.derivatives(0.0)[0], self.derivatives(1.0)[0]);
        let (chord, length) = ((end - start).unit(), start.distance(end));
        length > 0.0
            && self.spans.iter().flat_map(|s| &s.control).all(|c| {
                let p = c.point * (1.0 / c.weight) - start;
                chord.cross(p).abs() <= tolerance && (-tolerance..=length + tolerance).contains(&chord.dot(p))
            })
    }
}

/// The control polygon of a part of a Bézier piece, by its polar form.
fn bezier_between(control: &[Weighted], from: f64, to: f64) -> Vec<Weighted> {
    let p = control.len() - 1;
    (0..=p)
        .map(|at_end| {
            let mut d = control.to_vec();
            for r in 0..p {
                let t = if r < at_end { to } else { from };
                for l in 0..p - r {
                    d[l] = d[l].towards(d[l + 1], t);
                }
            }
            d[0]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit_circle() -> Nurbs {
        // Piegl & Tiller, The NURBS Book (2nd ed. 1997), section 7.5: nine-point square form of the full circle.
        let w = 0.5_f64.sqrt();
        let at =
            [(1., 0.), (1., 1.), (0., 1.), (-1., 1.), (-1., 0.), (-1., -1.), (0., -1.), (1., -1.), (1., 0.)];
        let points = at.iter().map(|&(x, y)| Point::new(x, y)).collect();
        let weights = vec![1., w, 1., w, 1., w, 1., w, 1.];
        let knots = vec![0., 0., 0., 0.25, 0.25, 0.5, 0.5, 0.75, 0.75, 1., 1., 1.];
        Nurbs::new(2, knots, points, weights).expect("the parts fit")
    }

    #[test]
    fn the_rational_circle_stays_on_the_circle() {
        let circle = unit_circle();
        for i in 0..=100 {
            let [at, velocity, bend] = circle.derivatives(f64::from(i) / 100.0);
            assert!((at.length() - 1.0).abs() < 1e-14);
            assert!(at.dot(velocity).abs() < 1e-13, "the way along a circle is square to its radius");
            let curvature = velocity.cross(bend) / velocity.length().powi(3);
            assert!((curvature - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_part_is_the_same_curve() {
        let circle = unit_circle();
        let part = circle.between(0.1, 0.6).expect("a part of it");
        assert!(part.derivatives(0.0)[0].distance(circle.derivatives(0.1)[0]) < 1e-14);
        assert!(part.derivatives(1.0)[0].distance(circle.derivatives(0.6)[0]) < 1e-14);
        assert!(part.derivatives(0.3)[0].distance(circle.derivatives(0.25)[0]) < 1e-14);
        let back = part.reversed();
        assert!(back.derivatives(0.7)[0].distance(circle.derivatives(0.25)[0]) < 1e-14);
    }

    #[test]
    fn parts_that_do_not_fit_are_refused() {
        let p = |x| Point::new(x, 0.0);
        for (degree, knots, points, weights) in [
            (0, vec![0., 1.], vec![p(0.)], vec![]),
            (2, vec![0., 0., 0., 1., 1.], vec![p(0.), p(1.)], vec![]),
            (1, vec![0., 0., 1.], vec![p(0.), p(1.)], vec![]),
            (1, vec![1., 1., 0., 0.], vec![p(0.), p(1.)], vec![]),
            (1, vec![0., 0., 0., 0.], vec![p(0.), p(1.)], vec![]),
            (1, vec![0., 0., 1., 1.], vec![p(0.), p(1.)], vec![1., -1.]),
            (1, vec![0., 0., 1., 1.], vec![p(0.), p(f64::NAN)], vec![]),
            (1, vec![0., 0., 0.5, 0.5, 1., 1.], vec![p(0.), p(1.), p(2.), p(3.)], vec![]),
        ] {
            assert!(Nurbs::new(degree, knots.clone(), points, weights).is_err(), "{degree} {knots:?}");
        }
    }
}

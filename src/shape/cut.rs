//! One straight cut through an outline: the parts on both sides, exact, and the seam between them.
//!
//! Every piece keeps the number of the edge it came from, so that a part knows which of its borders are its own and
//! which are seams. A cut through a cut-out ends at its border, which then is part of the border of what is left. What
//! the cut may not do is asked in `split`.

use std::ops::Range;

use super::edges::edges;
use super::meeting::winding;
use super::outline::{Contour, Outline, Path};
use super::point::Point;
use super::segment::{Segment, root};

/// A piece of a part's border with the number of the edge of the whole that it came from; 0 along a seam and along what
/// was a cut-out.
#[derive(Clone, Debug)]
pub(super) struct Border {
    pub(super) segment: Segment,
    pub(super) edge: usize,
}

/// A part of an outline.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub(super) border: Vec<Border>,
    pub(super) cutouts: Vec<Contour>,
    pub(super) etchings: Vec<Path>,
}

/// A straight cut: all points whose distance along `across` from the origin is `at_mm`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cut {
    pub(super) across: Point,
    pub(super) at_mm: f64,
}

/// What a cut makes of a part.
pub(super) struct Halves {
    pub(super) below: Vec<Part>,
    pub(super) above: Vec<Part>,
    pub(super) seams: Vec<(Point, Point)>,
}

/// Points nearer to the cut than this lie on it, in millimetres.
const ON_CUT_MM: f64 = 1e-7;

impl Part {
    /// The whole of an outline.
    pub(super) fn whole(outline: &Outline) -> Part {
        let border = edges(&outline.outer)
            .into_iter()
            .flat_map(|e| {
                let edge = e.number;
                e.segments.into_iter().map(move |segment| Border { segment, edge })
            })
            .collect();
        let cutouts = outline.cutouts.iter().map(Contour::counter_clockwise).collect();
        Part { border, cutouts, etchings: outline.etchings.clone() }
    }

    pub(super) fn contour(&self) -> Contour {
        Contour { segments: self.border.iter().map(|b| b.segment.clone()).collect() }
    }

    /// Both sides of a cut.
    pub(super) fn cut(&self, cut: Cut) -> Halves {
        let (crossed, clear): (Vec<&Contour>, Vec<&Contour>) =
            self.cutouts.iter().partition(|c| cut.crosses(c));
        let mut pieces = broken_at(&self.border, cut);
        let mut loops: Vec<Range<usize>> = Vec::from([Range { start: 0, end: pieces.len() }]);
        for cutout in crossed {
            // The material lies on the left all the way round.
            let border: Vec<Border> =
                cutout.reversed().segments.into_iter().map(|segment| Border { segment, edge: 0 }).collect();
            let start = pieces.len();
            pieces.extend(broken_at(&border, cut));
            loops.push(start..pieces.len());
        }
        let below = side(&pieces, &loops, cut, -1);
        let above = side(&pieces, &loops, cut, 1);
        let seams = common(&below.closures, &above.closures);
        let parts = |side: &Side| -> Vec<Part> {
            let borders = side.borders(&pieces, &seams, cut);
            self.shared_out(borders, &clear, cut, side.sign)
        };
        Halves {
            below: parts(&below),
            above: parts(&above),
            seams: seams.iter().map(|(a, b)| (cut.point(*a), cut.point(*b))).collect(),
        }
    }

    /// Hands cut-outs and etched lines to the parts that they lie in.
    fn shared_out(&self, borders: Vec<Vec<Border>>, cutouts: &[&Contour], cut: Cut, sign: i32) -> Vec<Part> {
        let mut parts: Vec<Part> = borders
            .into_iter()
            .map(|border| Part { border, cutouts: Vec::new(), etchings: Vec::new() })
            .collect();
        let flat: Vec<Vec<Point>> = parts.iter().map(|p| p.contour().flattened(0.05)).collect();
        let home = |p: Point| flat.iter().position(|f| winding(f, p) != 0);
        for cutout in cutouts {
            if let Some(part) = home(cutout.start()) {
                parts[part].cutouts.push((*cutout).clone());
            }
        }
        for etching in &self.etchings {
            for run in etched_on_side(etching, cut, sign) {
                if let Some(part) = run.segments.first().and_then(|s| home(s.at(0.5))) {
                    parts[part].etchings.push(run);
                }
            }
        }
        parts
    }
}

/// A border broken where it crosses a cut, each bit with the side it lies on: −1, 0 on the cut, 1.
fn broken_at(borders: &[Border], cut: Cut) -> Vec<(Border, i32)> {
    let mut bits = Vec::new();
    for border in borders {
        let mut shares = vec![0.0];
        shares.extend(crossings(&border.segment, cut));
        shares.push(1.0);
        for pair in shares.windows(2) {
            let segment = border.segment.between(pair[0], pair[1]);
            let off = [0.25, 0.5, 0.75]
                .into_iter()
                .map(|t| cut.off(segment.at(t)))
                .reduce(|a, b| if b.abs() > a.abs() { b } else { a })
                .unwrap_or(0.0);
            let sign = if off.abs() <= ON_CUT_MM { 0 } else { off.signum() as i32 };
            bits.push((Border { segment, edge: border.edge }, sign));
        }
    }
    bits
}

impl Cut {
    /// True where it passes through a contour.
    pub(super) fn crosses(self, contour: &Contour) -> bool {
        let (low, high) = contour.extent(self.across);
        self.at_mm > low + ON_CUT_MM && self.at_mm < high - ON_CUT_MM
    }

    fn off(self, p: Point) -> f64 {
        self.across.dot(p) - self.at_mm
    }

    fn along(self, p: Point) -> f64 {
        self.across.left().dot(p)
    }

    fn point(self, along: f64) -> Point {
        self.across * self.at_mm + self.across.left() * along
    }
}

/// Runs of an etched line on one side of a cut.
fn etched_on_side(etching: &Path, cut: Cut, sign: i32) -> Vec<Path> {
    let mut runs: Vec<Path> = Vec::new();
    let mut open = false;
    for segment in &etching.segments {
        let mut shares = vec![0.0];
        shares.extend(crossings(segment, cut));
        shares.push(1.0);
        for pair in shares.windows(2) {
            let bit = segment.between(pair[0], pair[1]);
            let here = cut.off(bit.at(0.5)) * f64::from(sign) > 0.0;
            match (here, open, runs.last_mut()) {
                (true, true, Some(run)) => run.segments.push(bit),
                (true, ..) => runs.push(Path { segments: vec![bit] }),
                _ => {}
            }
            open = here;
        }
    }
    runs
}

/// The shares of the way, in order, at which a piece crosses a cut, ends left out.
fn crossings(segment: &Segment, cut: Cut) -> Vec<f64> {
    let off = |t: f64| cut.off(segment.at(t));
    // Between the places where it turns back along the cut's normal, each stretch crosses at most once.
    let mut stops = segment.where_turning(cut.across);
    stops.extend([0.0, 1.0]);
    stops.sort_by(f64::total_cmp);
    let mut found: Vec<f64> = Vec::new();
    for span in stops.windows(2).filter(|s| s[1] > s[0]) {
        let (a, b) = (off(span[0]), off(span[1]));
        if a.abs() <= ON_CUT_MM {
            found.push(span[0]);
        } else if b.abs() > ON_CUT_MM && a * b < 0.0 {
            found.push(root(span[0], span[1], a, &off));
        }
    }
    found.retain(|t| (1e-9..=1.0 - 1e-9).contains(t));
    found.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    found
}

/// Runs of a border on one side of a cut, and the stretches of the cut that close them.
struct Side {
    sign: i32,
    /// Bits of each run, by number.
    runs: Vec<Vec<usize>>,
    /// Stretches along the cut, low end first.
    closures: Vec<(f64, f64)>,
    /// The run that starts where another ends, by the stretch that joins them.
    next: Vec<usize>,
}

fn side(bits: &[(Border, i32)], loops: &[Range<usize>], cut: Cut, sign: i32) -> Side {
    let mut runs: Vec<Vec<usize>> = Vec::new();
    for (number, round) in loops.iter().enumerate() {
        let count = round.len();
        let place = |i: usize| round.start + i % count;
        let kept = |i: usize| bits[place(i)].1 == sign;
        if (0..count).all(kept) {
            if number == 0 {
                runs.push(round.clone().collect());
                return Side { sign, runs, closures: Vec::new(), next: vec![0] };
            }
            continue;
        }
        let Some(first) = (0..count).find(|&i| kept(i) && !kept(i + count - 1)) else { continue };
        for i in first..first + count {
            if !kept(i) {
                continue;
            }
            if !kept(i + count - 1) {
                runs.push(Vec::new());
            }
            if let Some(run) = runs.last_mut() {
                run.push(place(i));
            }
        }
    }
    // The ends of the runs in order along the cut close in pairs.
    let mut ends: Vec<(f64, usize, bool)> = Vec::new();
    for (number, run) in runs.iter().enumerate() {
        ends.push((cut.along(bits[run[0]].0.segment.start()), number, true));
        ends.push((cut.along(bits[run[run.len() - 1]].0.segment.end()), number, false));
    }
    ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut next: Vec<usize> = (0..runs.len()).collect();
    let mut closures = Vec::new();
    for pair in ends.chunks_exact(2) {
        closures.push((pair[0].0, pair[1].0));
        match (pair[0].2, pair[1].2) {
            (true, false) => next[pair[1].1] = pair[0].1,
            (false, true) => next[pair[0].1] = pair[1].1,
            _ => {}
        }
    }
    Side { sign, runs, closures, next }
}

impl Side {
    /// The closed borders of this side's parts, their closing stretches told apart into seams and own edges.
    fn borders(&self, bits: &[(Border, i32)], seams: &[(f64, f64)], cut: Cut) -> Vec<Vec<Border>> {
        let mut used = vec![false; self.runs.len()];
        let mut borders = Vec::new();
        for first in 0..self.runs.len() {
            let mut border: Vec<Border> = Vec::new();
            let mut run = first;
            while !used[run] {
                used[run] = true;
                border.extend(self.runs[run].iter().map(|&i| bits[i].0.clone()));
                let to = self.next[run];
                if !self.closures.is_empty() {
                    let from_at = border.last().map(|b| b.segment.end()).unwrap_or_default();
                    let to_at = bits[self.runs[to][0]].0.segment.start();
                    border.extend(closing(from_at, to_at, bits, seams, cut));
                }
                run = to;
            }
            if !border.is_empty() {
                borders.push(border);
            }
        }
        borders
    }
}

/// The closing stretch from one point of a cut to another, broken where a seam starts or ends.
fn closing(from: Point, to: Point, bits: &[(Border, i32)], seams: &[(f64, f64)], cut: Cut) -> Vec<Border> {
    let (a, b) = (cut.along(from), cut.along(to));
    if (a - b).abs() <= ON_CUT_MM {
        return Vec::new();
    }
    let inside = |v: f64| v > a.min(b) + ON_CUT_MM && v < a.max(b) - ON_CUT_MM;
    let mut stops: Vec<f64> = seams.iter().flat_map(|(l, h)| [*l, *h]).filter(|v| inside(*v)).collect();
    stops.sort_by(f64::total_cmp);
    stops.dedup_by(|a, b| (*a - *b).abs() <= ON_CUT_MM);
    if b < a {
        stops.reverse();
    }
    let mut points = vec![from];
    points.extend(stops.into_iter().map(|v| cut.point(v)));
    points.push(to);
    points
        .windows(2)
        .map(|pair| {
            let middle = cut.along(pair[0].towards(pair[1], 0.5));
            let on_seam = seams.iter().any(|(l, h)| (*l..=*h).contains(&middle));
            let own = bits.iter().filter(|(_, sign)| *sign == 0).find(|(b, _)| {
                let (s, e) = (cut.along(b.segment.start()), cut.along(b.segment.end()));
                (s.min(e)..=s.max(e)).contains(&middle)
            });
            let edge = if on_seam { 0 } else { own.map_or(0, |(b, _)| b.edge) };
            Border { segment: Segment::line(pair[0], pair[1]), edge }
        })
        .collect()
}

/// What two lists of stretches have in common.
fn common(a: &[(f64, f64)], b: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut found = Vec::new();
    for (l, h) in a {
        for (m, k) in b {
            let (low, high) = (l.max(*m), h.min(*k));
            if high - low > ON_CUT_MM {
                found.push((low, high));
            }
        }
    }
    found
}

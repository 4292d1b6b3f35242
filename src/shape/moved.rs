//! How far one outline lies from another: the largest distance from any place of either to the other, each edge, cut-out,
//! etched line, mark and joint compared with its like. The Hausdorff distance, both ways (F. Hausdorff, Grundzüge der
//! Mengenlehre, 1914), taken part by part, so that two edges that trade places are far apart.
//!
//! A chord's distance to another chord is convex along it, so the ends of a chord bound what lies between them: a chord is
//! halved until both bounds agree. Curves are flattened first. A distance is right to [`MOVED_WITHIN_MM`].

use static_aabb2d_index::{StaticAABB2DIndex, StaticAABB2DIndexBuilder};

use super::edges::edges;
use super::outline::{Mark, Outline};
use super::point::{Point, distance_to_way};
use super::segment::Segment;

/// How far a distance that is found may be off: the thousandth of a millimetre to which lengths are signed.
pub(crate) const MOVED_WITHIN_MM: f64 = 0.001;

/// How far chords may lie from their curve.
const CHORD_MM: f64 = 0.0002;

/// How far the two bounds of a distance may lie apart.
const BOUNDS_MM: f64 = 0.0004;

/// The most steps of one comparison: a drawing that takes more is called another.
const MOST_STEPS: usize = 1_000_000;

/// A part of a drawing as a run of chords.
type Run = Vec<Point>;

/// The largest distance between two outlines, in millimetres, where it is no more than `most_mm` and they have the same
/// edges by number, and the same cut-outs, etched lines, marks and joints; none where they differ by more than that.
#[must_use]
pub fn moved(one: &Outline, other: &Outline, most_mm: f64) -> Option<f64> {
    let (ours, theirs) = (edges(&one.outer), edges(&other.outer));
    if ours.len() != theirs.len() {
        return None;
    }
    let mut largest: f64 = 0.0;
    for (a, b) in ours.iter().zip(&theirs) {
        largest = largest.max(between(&run(&a.segments), &run(&b.segments), most_mm)?);
    }
    let cutouts = |outline: &Outline| outline.cutouts.iter().map(|c| run(&c.segments)).collect::<Vec<_>>();
    let etchings = |outline: &Outline| outline.etchings.iter().map(|p| run(&p.segments)).collect::<Vec<_>>();
    let joints =
        |outline: &Outline| outline.stone_joints.iter().map(|j| vec![j.from, j.to]).collect::<Vec<_>>();
    for (a, b) in
        [(cutouts(one), cutouts(other)), (etchings(one), etchings(other)), (joints(one), joints(other))]
    {
        largest = largest.max(paired(&a, &b, most_mm)?);
    }
    if one.marks.len() != other.marks.len() {
        return None;
    }
    for (a, b) in one.marks.iter().zip(&other.marks) {
        let apart = a.at.distance(b.at);
        if (Mark { at: b.at, ..a.clone() }) != *b || apart > most_mm + MOVED_WITHIN_MM {
            return None;
        }
        largest = largest.max(apart);
    }
    Some(largest)
}

fn run(segments: &[Segment]) -> Run {
    let mut points: Run = Vec::new();
    for segment in segments {
        points.extend(
            segment.flattened(CHORD_MM).iter().skip(usize::from(!points.is_empty())).map(|(_, p)| *p),
        );
    }
    points
}

/// The largest distance of parts that need not stand in one order: each has one of its own near it on the other side.
fn paired(ours: &[Run], theirs: &[Run], most_mm: f64) -> Option<f64> {
    if ours.len() != theirs.len() {
        return None;
    }
    let mut open: Vec<&Run> = theirs.iter().collect();
    let mut largest: f64 = 0.0;
    for part in ours {
        let near = open.iter().enumerate().filter_map(|(n, like)| Some((n, between(part, like, most_mm)?)));
        let (n, apart) = near.min_by(|(_, a), (_, b)| a.total_cmp(b))?;
        open.swap_remove(n);
        largest = largest.max(apart);
    }
    Some(largest)
}

/// The largest distance of two runs, both ways; none where it is more than `most_mm`.
fn between(one: &Run, other: &Run, most_mm: f64) -> Option<f64> {
    let most = most_mm + MOVED_WITHIN_MM;
    Some(reach(one, &Way::of(other)?, most)?.max(reach(other, &Way::of(one)?, most)?))
}

/// A run that distances are measured to.
struct Way<'r> {
    run: &'r Run,
    index: StaticAABB2DIndex<f64>,
}

impl<'r> Way<'r> {
    fn of(run: &'r Run) -> Option<Self> {
        let mut builder = StaticAABB2DIndexBuilder::new(run.len().checked_sub(1)?);
        for chord in run.windows(2) {
            let (a, b) = (chord[0], chord[1]);
            builder.add(a.x.min(b.x), a.y.min(b.y), a.x.max(b.x), a.y.max(b.y));
        }
        Some(Way { run, index: builder.build().ok()? })
    }
}

/// The largest distance from a run to a way; none where it is more than `most`.
fn reach(run: &Run, way: &Way<'_>, most: f64) -> Option<f64> {
    let mut largest: f64 = 0.0;
    let mut open: Vec<(Point, Point)> = run.windows(2).map(|chord| (chord[0], chord[1])).collect();
    let mut steps = 0;
    while let Some((from, to)) = open.pop() {
        steps += 1;
        if steps > MOST_STEPS {
            return None;
        }
        let near = way.index.query(
            from.x.min(to.x) - most,
            from.y.min(to.y) - most,
            from.x.max(to.x) + most,
            from.y.max(to.y) + most,
        );
        // The nearest of each end, and the one chord that is nearest to both.
        let (mut at_from, mut at_to, mut all) = (f64::INFINITY, f64::INFINITY, f64::INFINITY);
        for n in near {
            let (a, b) = (way.run[n], way.run[n + 1]);
            let (d_from, d_to) = (distance_to_way(from, a, b), distance_to_way(to, a, b));
            at_from = at_from.min(d_from);
            at_to = at_to.min(d_to);
            all = all.min(d_from.max(d_to));
        }
        let least = at_from.max(at_to);
        if least > most {
            return None;
        }
        if all <= least + BOUNDS_MM || from.distance(to) <= BOUNDS_MM {
            largest = largest.max(least);
        } else {
            let middle = from.towards(to, 0.5);
            open.extend([(from, middle), (middle, to)]);
        }
    }
    Some(largest)
}

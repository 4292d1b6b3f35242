//! How far one outline lies from another, by another method: many thousand places on each to the short ways between as many
//! places on the other.

use underlit::shape::{Arc, Contour, Outline, Path, Point, Segment, Transform, edges, moved};

fn p(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

fn shifted(outline: &Outline, x: f64, y: f64) -> Outline {
    outline.mapped(Transform::moved(p(x, y)))
}

/// A desk front: straight below and at both ends, arched above, with a round hole and an etched line.
fn front(rise: f64, hole: Point, radius: f64) -> Outline {
    let mut front = Outline::of(Contour {
        segments: vec![
            Segment::line(p(0.0, 0.0), p(1800.0, 0.0)),
            Segment::line(p(1800.0, 0.0), p(1800.0, 700.0)),
            Segment::Arc(Arc { start: p(1800.0, 700.0), end: p(0.0, 700.0), bulge: rise }),
            Segment::line(p(0.0, 700.0), p(0.0, 0.0)),
        ],
    });
    front.cutouts.push(Contour::circle(hole, radius));
    front.etchings.push(Path { segments: vec![Segment::line(p(200.0, 200.0), p(400.0, 300.0))] });
    front
}

fn plain() -> Outline {
    front(0.1, p(600.0, 350.0), 60.0)
}

/// Places along some pieces, four thousand on each.
fn dense(segments: &[Segment]) -> Vec<Point> {
    let along = |s: &Segment| (0..=4000).map(|n| s.at(f64::from(n) / 4000.0)).collect::<Vec<_>>();
    segments.iter().flat_map(along).collect()
}

/// The largest distance of any place of either to the other, on the way between two of its places.
fn by_places(one: &[Segment], other: &[Segment]) -> f64 {
    let (a, b) = (dense(one), dense(other));
    let to_way = |place: Point, from: Point, to: Point| {
        let share = ((place - from).dot(to - from) / (to - from).dot(to - from)).clamp(0.0, 1.0);
        place.distance(from.towards(to, share))
    };
    let reach = |from: &[Point], to: &[Point]| {
        // Both are walked alike, so that the nearest is no further along than this.
        let near = |n: usize, place: Point| {
            let way = &to[n.saturating_sub(40)..(n + 40).min(to.len())];
            way.windows(2).map(|w| to_way(place, w[0], w[1])).fold(f64::INFINITY, f64::min)
        };
        from.iter().enumerate().map(|(n, place)| near(n, *place)).fold(0.0, f64::max)
    };
    reach(&a, &b).max(reach(&b, &a))
}

#[test]
fn what_is_found_is_what_many_places_show() {
    let changed = [
        ("a higher arch", front(0.1004, p(600.0, 350.0), 60.0)),
        ("a lower arch", front(0.0997, p(600.0, 350.0), 60.0)),
        ("moved whole", shifted(&plain(), 0.3, -0.2)),
        ("the hole moved", front(0.1, p(600.3, 350.3), 60.0)),
        ("a wider hole", front(0.1, p(600.0, 350.0), 60.25)),
    ];
    for (name, other) in changed {
        let one = plain();
        let found = moved(&one, &other, 1.0).unwrap_or_else(|| panic!("{name}"));
        let parts = edges(&one.outer).into_iter().zip(edges(&other.outer));
        let mut seen: f64 = parts.map(|(a, b)| by_places(&a.segments, &b.segments)).fold(0.0, f64::max);
        seen = seen.max(by_places(&one.cutouts[0].segments, &other.cutouts[0].segments));
        seen = seen.max(by_places(&one.etchings[0].segments, &other.etchings[0].segments));
        assert!((found - seen).abs() < 0.001, "{name}: {found} found, {seen} seen");
        assert!(found > 0.1, "{name}: {found}");
    }
}

#[test]
fn known_distances_come_out() {
    let one = plain();
    for (name, other, known) in [
        ("the same", plain(), 0.0),
        ("walked the other way", Outline { outer: one.outer.reversed(), ..plain() }, 0.0),
        ("moved up", shifted(&one, 0.0, 0.4), 0.4),
        ("moved 3-4-5", shifted(&one, 0.3, 0.4), 0.5),
        ("a hole 0.2 mm wider", front(0.1, p(600.0, 350.0), 60.2), 0.2),
        ("a hole moved by 3-4-5", front(0.1, p(600.3, 350.4), 60.0), 0.5),
    ] {
        let found = moved(&one, &other, 0.5).unwrap_or_else(|| panic!("{name}"));
        assert!((found - known).abs() < 0.001, "{name}: {found}, and {known} is known");
        let back = moved(&other, &one, 0.5).unwrap_or_else(|| panic!("{name}"));
        assert!((found - back).abs() < 0.001, "{name}: {found} there, {back} back");
    }
    let rounded = Outline::circle(900.0);
    let found = moved(&rounded, &Outline::circle(900.8), 0.4).expect("0.4 mm all round");
    assert!((found - 0.4).abs() < 0.001, "{found}");
}

#[test]
fn the_limit_is_held_to_the_thousandth() {
    let one = plain();
    for (by, limit, same) in [
        (0.5, 0.5, true),
        (0.499, 0.5, true),
        (0.503, 0.5, false),
        (0.0, 0.0, true),
        (0.003, 0.0, false),
        (20.0, 0.5, false),
    ] {
        assert_eq!(
            moved(&one, &shifted(&one, by, 0.0), limit).is_some(),
            same,
            "{by} mm by a limit of {limit}"
        );
        let hole = front(0.1, p(600.0, 350.0), 60.0 + by);
        assert_eq!(moved(&one, &hole, limit).is_some(), same, "a hole {by} mm wider by {limit}");
    }
}

#[test]
fn another_drawing_is_never_the_same() {
    let one = plain();
    let with = |change: &dyn Fn(&mut Outline)| {
        let mut other = plain();
        change(&mut other);
        other
    };
    // A corner cut off by less than the limit is an edge more: the edges have other numbers.
    let cut =
        Outline::polygon(&[p(0.0, 0.0), p(900.0, 0.0), p(900.0, 399.9), p(899.9, 400.0), p(0.0, 400.0)]);
    assert_eq!(moved(&Outline::rectangle(900.0, 400.0), &cut, 0.5), None, "an edge more");
    // Turned by so little that another corner is the lowest: edge 1 is another side.
    let turned = Outline::rectangle(900.0, 400.0).mapped(Transform::rotated(-1e-4));
    assert_eq!(moved(&Outline::rectangle(900.0, 400.0), &turned, 0.5), None, "edges have other numbers");
    for (name, other) in [
        ("the hole is gone", with(&|o| o.cutouts.clear())),
        ("two holes in one place", with(&|o| o.cutouts.push(Contour::circle(p(600.0, 350.0), 60.0)))),
        ("the etching is gone", with(&|o| o.etchings.clear())),
        ("a tiny hole more", with(&|o| o.cutouts.push(Contour::circle(p(100.0, 100.0), 0.1)))),
    ] {
        assert_eq!(moved(&one, &other, 0.5), None, "{name}");
        assert_eq!(moved(&other, &one, 0.5), None, "{name}, the other way");
    }
    // A straight edge that is drawn in two pieces is one edge still.
    let mut pieces = one.outer.segments.clone();
    pieces.splice(
        0..1,
        [Segment::line(p(0.0, 0.0), p(700.0, 0.0)), Segment::line(p(700.0, 0.0), p(1800.0, 0.0))],
    );
    let split = Outline { outer: Contour { segments: pieces }, ..plain() };
    assert!(moved(&one, &split, 0.0).is_some(), "an edge in two pieces");
    // Holes in another order are the same holes; in each other's place they are not.
    let holes = |a: f64, b: f64| {
        with(&|o| {
            o.cutouts = vec![Contour::circle(p(300.0, 300.0), a), Contour::circle(p(900.0, 300.0), b)];
        })
    };
    let mut other_order = holes(50.0, 60.0);
    other_order.cutouts.reverse();
    assert!(moved(&holes(50.0, 60.0), &other_order, 0.0).is_some());
    assert_eq!(moved(&holes(50.0, 60.0), &holes(60.0, 50.0), 0.5), None);
}

//! Sizes by hand and by dense points, for every kind of piece. What must hold for every outline: turning, moving, mirroring and walking it the other way change no figure; what
//! is written reads back the same; pieces of a split add up to the whole.

use std::f64::consts::TAU;

use proptest::prelude::*;
use underlit::shape::{
    Arc, Circle, Contour, Cubic, EllipseArc, Format, Nurbs, Outline, Point, ReadOptions, Segment, ShapeClass,
    Sheet, SplitLimits, TapeLimits, Transform, check, figures, fit, read, read_json, split, to_dxf, to_json,
    to_svg,
};

/// An outline around the origin: corners at growing angles, some sides bulged outward a little.
fn outlines() -> impl Strategy<Value = Outline> {
    prop::collection::vec((300.0..900.0_f64, 0.0..0.25_f64, any::<bool>()), 3..12).prop_map(|corners| {
        let count = corners.len();
        let place = |i: usize| Point::at_angle(TAU * i as f64 / count as f64) * corners[i % count].0;
        let segments = (0..count)
            .map(|i| {
                let (start, end) = (place(i), place((i + 1) % count));
                let (_, bulge, round) = corners[i];
                if round && bulge > 0.01 {
                    Segment::Arc(Arc { start, end, bulge })
                } else {
                    Segment::line(start, end)
                }
            })
            .collect();
        let outline = Outline::of(Contour { segments });
        Outline { cutouts: vec![Contour::circle(Point::default(), 40.0)], ..outline }
    })
}

fn sound() -> impl Strategy<Value = Outline> {
    outlines().prop_filter("sound", |o| check(o).is_empty())
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0)
}

fn same_figures(a: &Outline, b: &Outline) -> Result<(), TestCaseError> {
    let (a, b) = (figures(a), figures(b));
    prop_assert!(near(a.area_mm2, b.area_mm2), "area {} {}", a.area_mm2, b.area_mm2);
    prop_assert!(near(a.perimeter_mm, b.perimeter_mm));
    prop_assert!(near(a.cut_length_mm, b.cut_length_mm));
    let areas = [a, b].map(|f| (f.least_rectangle.short_mm * f.least_rectangle.long_mm, f));
    prop_assert!(near(areas[0].0, areas[1].0), "rectangles {} {}", areas[0].0, areas[1].0);
    prop_assert_eq!(areas[0].1.shape, areas[1].1.shape);
    prop_assert_eq!(areas[0].1.edges.len(), areas[1].1.edges.len());
    prop_assert_eq!(areas[0].1.sharp_inside_corners, areas[1].1.sharp_inside_corners);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn turned_moved_and_mirrored(outline in sound(), angle in 0.0..TAU, x in -3000.0..3000.0, y in -3000.0..3000.0) {
        let map = Transform::rotated(angle).then(Transform::moved(Point::new(x, y)));
        same_figures(&outline, &outline.mapped(map))?;
        same_figures(&outline, &outline.mapped(Transform::scaled(-1.0, 1.0)))?;
    }

    #[test]
    fn walked_the_other_way_and_from_elsewhere(outline in sound(), by in 0_usize..12) {
        let mut other = outline.clone();
        other.outer = other.outer.reversed();
        let count = other.outer.segments.len();
        other.outer.segments.rotate_left(by % count);
        same_figures(&outline, &other)?;
    }

    #[test]
    fn redundant_corners_change_nothing(outline in sound(), share in 0.1..0.9_f64) {
        let mut more = outline.clone();
        more.outer.segments = outline.outer.segments.iter().flat_map(|s| [s.between(0.0, share), s.between(share, 1.0)]).collect();
        same_figures(&outline, &more)?;
    }

    #[test]
    fn written_and_read_again(outline in sound()) {
        prop_assert_eq!(&read_json(to_json(&outline).as_bytes()).expect("our own JSON"), &outline);
        for (format, text) in [(Format::Dxf, to_dxf(&outline)), (Format::Svg, to_svg(&outline))] {
            let again = read(format, text.as_bytes(), &ReadOptions::default());
            let again = again.map_err(|r| TestCaseError::fail(format!("{format:?}: {:?}", r.flaws)))?;
            let (a, b) = (figures(&outline), figures(&again.outline));
            prop_assert!(near(a.area_mm2, b.area_mm2), "{:?} area {} {}", format, a.area_mm2, b.area_mm2);
            prop_assert!(near(a.cut_length_mm, b.cut_length_mm), "{:?}", format);
        }
    }

    #[test]
    fn many_short_lines_are_still_a_circle(count in 18_usize..400, radius in 200.0..900.0_f64, turned in 0.0..TAU) {
        let corners: Vec<Point> = (0..count)
            .map(|i| Point::at_angle(turned + TAU * i as f64 / count as f64) * radius)
            .collect();
        let measured = figures(&Outline::polygon(&corners));
        prop_assert_eq!(measured.shape, ShapeClass::Circle);
        prop_assert!(!measured.curved);
    }

    #[test]
    fn many_short_lines_for_a_corner_are_curved(count in 5_usize..60, radius in 30.0..150.0_f64, turned in 0.0..TAU) {
        // A rectangle with one corner rounded by short lines.
        let mut corners = vec![Point::new(0.0, 0.0), Point::new(900.0, 0.0)];
        corners.extend((0..=count).map(|i| {
            let angle = TAU / 4.0 * i as f64 / count as f64;
            Point::new(900.0 - radius, 500.0 - radius) + Point::at_angle(angle) * radius
        }));
        corners.push(Point::new(0.0, 500.0));
        let measured = figures(&Outline::polygon(&corners).mapped(Transform::rotated(turned)));
        prop_assert_eq!(measured.shape, ShapeClass::Curved);
        prop_assert_eq!(measured.edges.len(), 5);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn pieces_add_up(outline in sound()) {
        each_way_to_split_adds_up(&outline)?;
    }
}

/// Each way to split an outline with one round hole: area, border and holes of the pieces are those of the whole, and
/// where a seam goes through the hole, its border belongs to the pieces' own. How many ways there are, and how many of
/// them go through the hole.
fn each_way_to_split_adds_up(outline: &Outline) -> Result<(usize, usize), TestCaseError> {
    let limits = SplitLimits {
        sheet: Sheet { width_mm: 1300.0, height_mm: 800.0 },
        least_piece_mm: 50.0,
        clear_of_cutouts_mm: 20.0,
        tape: TapeLimits { shortest_mm: 50.0, least_bend_radius_mm: Some(100.0) },
        lit_edges: Vec::new(),
        most_pieces: 12,
    };
    let whole = figures(outline);
    let hole_mm: f64 = outline.cutouts.iter().map(|cutout| figures(&alone(cutout)).perimeter_mm).sum();
    let (mut ways, mut through) = (0, 0);
    for option in split(outline, &limits).unwrap_or_default() {
        let pieces: Vec<_> = option.pieces.iter().map(|p| figures(&p.outline)).collect();
        let area: f64 = pieces.iter().map(|p| p.area_mm2).sum();
        prop_assert!(near(area, whole.area_mm2), "{} of {}", area, whole.area_mm2);
        let holes: usize = pieces.iter().map(|p| p.cutouts).sum();
        prop_assert!(holes <= 1);
        let opened_mm = if holes == 0 { hole_mm } else { 0.0 };
        let border: f64 = pieces.iter().map(|p| p.perimeter_mm).sum();
        let want = whole.perimeter_mm + 2.0 * option.seam_length_mm + opened_mm;
        prop_assert!(near(border, want), "{} is not {}", border, want);
        for piece in &option.pieces {
            prop_assert_eq!(check(&piece.outline), [], "{:?}", piece.outline.outer);
            prop_assert_eq!(piece.edge_numbers.len(), piece.outline.outer.segments.len());
        }
        ways += 1;
        through += usize::from(holes == 0);
    }
    Ok((ways, through))
}

fn alone(contour: &Contour) -> Outline {
    let (cutouts, etchings, marks) = (Vec::new(), Vec::new(), Vec::new());
    Outline { outer: contour.clone(), cutouts, etchings, marks, stone_joints: Vec::new() }
}

/// The seams of this panel go past its hole or through the middle of it; both add up. A property test drew its like.
#[test]
fn pieces_add_up_where_a_seam_goes_through_a_hole() {
    let p = Point::new;
    let corners = [
        (526.8, 0.0),
        (615.0, 516.1),
        (141.8, 804.3),
        (-315.3, 546.1),
        (-429.7, 156.4),
        (-281.9, -102.6),
        (-278.4, -482.1),
        (136.9, -776.4),
        (570.5, -478.7),
    ]
    .map(|(x, y)| p(x, y));
    let mut outline = Outline::polygon(&corners);
    let hole = Circle { centre: p(0.0, 0.0), radius: 40.0, clockwise: false };
    outline.cutouts.push(Contour { segments: vec![Segment::Circle(hole)] });
    let (ways, through) = each_way_to_split_adds_up(&outline).expect("the pieces add up");
    assert!(through > 0 && ways >= through, "{through} of {ways} go through the hole");
}

/// A closed outline of one curve and the straight way back, and how wide and high it is by hand.
fn exact_cases() -> Vec<(&'static str, Vec<Segment>, f64, f64)> {
    let p = Point::new;
    let closed = |segments: Vec<Segment>| {
        let (start, end) = (segments[0].start(), segments[segments.len() - 1].end());
        if start == end { segments } else { [segments, vec![Segment::line(end, start)]].concat() }
    };
    let cubic = |start, control_1, control_2, end| Segment::Cubic(Cubic { start, control_1, control_2, end });
    let arch = cubic(p(500., 500.), p(1000., 2900.), p(2500., 2900.), p(3000., 500.));
    let ogee = cubic(p(0., 0.), p(0., 900.), p(1000., -900.), p(1000., 0.));
    let quadratic = Segment::Cubic(Cubic::from_quadratic(p(0., 0.), p(700., 1000.), p(1400., 0.)));
    let spline = |degree: usize, knots: &[f64], points: &[Point], weights: &[f64]| {
        let made = Nurbs::new(degree, knots.to_vec(), points.to_vec(), weights.to_vec());
        Segment::Spline(made.expect("the parts fit"))
    };
    let bezier = spline(
        3,
        &[0., 0., 0., 0., 1., 1., 1., 1.],
        &[p(500., 500.), p(1000., 2900.), p(2500., 2900.), p(3000., 500.)],
        &[],
    );
    // Two quadratic spans that meet at the top, where the slope is zero on both sides.
    let two = spline(
        2,
        &[0., 0., 0., 0.5, 1., 1., 1.],
        &[p(0., 0.), p(0., 800.), p(1000., 800.), p(1000., 0.)],
        &[],
    );
    // A quarter and a half circle as rational splines (Piegl & Tiller, The NURBS Book, section 7.3).
    let w = 0.5_f64.sqrt();
    let half = spline(
        2,
        &[0., 0., 0., 0.5, 0.5, 1., 1., 1.],
        &[p(-400., 0.), p(-400., 400.), p(0., 400.), p(400., 400.), p(400., 0.)],
        &[1., w, 1., w, 1.],
    );
    // A quartic with its top at the middle: y = 1000 · 6·t²(1−t)².
    let quartic = spline(
        4,
        &[0., 0., 0., 0., 0., 1., 1., 1., 1., 1.],
        &[p(0., 0.), p(250., 0.), p(500., 1000.), p(750., 0.), p(1000., 0.)],
        &[],
    );
    let bulge = |b: f64| Segment::Arc(Arc { start: p(0., 0.), end: p(-800., 0.), bulge: b });
    let oval = |turned: f64, start: f64| {
        Segment::Ellipse(EllipseArc {
            centre: p(0., 0.),
            major: Point::at_angle(turned) * 500.0,
            ratio: 0.6,
            start_rad: start,
            sweep_rad: TAU,
        })
    };
    let ring = |clockwise| Segment::Circle(Circle { centre: p(7., 9.), radius: 450.0, clockwise });
    // Half extents of a turned ellipse: √(a²cos² + b²sin²) across, by symmetry the same upward at 45°.
    let slanted = 2.0 * ((500.0_f64.powi(2) + 300.0_f64.powi(2)) / 2.0).sqrt();
    vec![
        ("the arch", closed(vec![arch]), 2500.0, 1800.0),
        ("the arch turned over", closed(vec![arch_down()]), 2500.0, 1800.0),
        // y = 2700·t(1−t)(1−2t) over a foot of 1000: greatest at t = ½ − √3/6, there 2700/(6√3).
        (
            "an ogee",
            closed(vec![
                Segment::line(p(1000., -1000.), p(1000., 0.)),
                ogee.reversed(),
                Segment::line(p(0., 0.), p(0., -1000.)),
            ]),
            1000.0,
            1000.0 + 2700.0 / (6.0 * 3f64.sqrt()),
        ),
        ("a parabola", closed(vec![quadratic]), 1400.0, 500.0),
        ("the arch as a spline", closed(vec![bezier]), 2500.0, 1800.0),
        ("a spline of two spans", closed(vec![two]), 1000.0, 800.0),
        ("half a circle as a rational spline", closed(vec![half]), 800.0, 400.0),
        ("a quartic", closed(vec![quartic]), 1000.0, 375.0),
        ("half a turn by bulge", closed(vec![bulge(1.0)]), 800.0, 400.0),
        ("half a turn the other way", closed(vec![bulge(-1.0)]), 800.0, 400.0),
        (
            "three quarters of a turn by bulge",
            closed(vec![bulge(1.0 + 2f64.sqrt())]),
            800.0 * 2f64.sqrt(),
            400.0 * (1.0 + 2f64.sqrt()),
        ),
        ("an oval", vec![oval(0.0, 0.0)], 1000.0, 600.0),
        ("an oval begun at its top", vec![oval(0.0, TAU / 4.0)], 1000.0, 600.0),
        ("an oval upright", vec![oval(TAU / 4.0, 0.0)], 600.0, 1000.0),
        ("an oval at 45°", vec![oval(TAU / 8.0, 0.0)], slanted, slanted),
        ("a circle", vec![ring(false)], 900.0, 900.0),
        ("a circle walked clockwise", vec![ring(true)], 900.0, 900.0),
    ]
}

fn arch_down() -> Segment {
    let p = Point::new;
    Segment::Cubic(Cubic {
        start: p(3000., 500.),
        control_1: p(2500., -1900.),
        control_2: p(1000., -1900.),
        end: p(500., 500.),
    })
}

#[test]
fn extremes_that_fall_on_the_middle_and_on_ends_are_found() {
    for (name, segments, width, height) in exact_cases() {
        let outline = Outline::of(Contour { segments });
        assert_eq!(check(&outline), [], "{name}");
        for (turn, (width, height)) in [(0.0, (width, height)), (TAU / 4.0, (height, width))] {
            let turned = outline.mapped(Transform::rotated(turn));
            let measured = figures(&turned);
            assert!(
                (measured.width_mm - width).abs() < 1e-9,
                "{name}: {} and not {width}",
                measured.width_mm
            );
            assert!(
                (measured.height_mm - height).abs() < 1e-9,
                "{name}: {} and not {height}",
                measured.height_mm
            );
            let upright = 1.0 + 1e-9;
            assert!(
                measured.least_rectangle.short_mm <= width.min(height) * upright,
                "{name}: {:?}",
                measured.least_rectangle
            );
            assert_eq!(turned.outside_its_box(), None, "{name}");
            // It fits a sheet of its own size and none that is a tenth of a millimetre smaller, as it lies.
            let area = measured.least_rectangle.short_mm * measured.least_rectangle.long_mm;
            let own = Sheet { width_mm: width, height_mm: height };
            assert!(fit(&turned.outer, own).is_some(), "{name}");
            if (area - width * height).abs() < 1e-6 * area && name.contains("circle") {
                let smaller = Sheet { width_mm: width - 0.1, height_mm: height };
                assert_eq!(fit(&turned.outer, smaller), None, "{name}");
            }
            // The cut file is as large as what it holds.
            let svg = to_svg(&turned);
            let shown =
                svg.split("viewBox=\"0 0 ").nth(1).and_then(|s| s.split('"').next()).expect("a viewBox");
            let shown: Vec<f64> = shown.split(' ').map(|v| v.parse().expect("a number")).collect();
            assert!((shown[0] - width).abs() < 1e-9 && (shown[1] - height).abs() < 1e-9, "{name}: {shown:?}");
            let again = read(Format::Svg, svg.as_bytes(), &ReadOptions::default()).expect("our own SVG");
            let again = figures(&again.outline);
            assert!((again.height_mm - height).abs() < 1e-6 * height, "{name}: {}", again.height_mm);
        }
    }
}

/// One random piece of any kind from one place to another.
fn any_piece(kind: u32, at: &[f64]) -> Segment {
    let p = |i: usize| Point::new(at[2 * i % at.len()], at[(2 * i + 1) % at.len()]);
    let weight = |i: usize| 0.3 + at[i].abs() / 800.0;
    match kind % 7 {
        0 => Segment::line(p(0), p(1)),
        1 => Segment::Arc(Arc { start: p(0), end: p(1), bulge: at[4] / 400.0 + 0.01 }),
        2 => Segment::Circle(Circle { centre: p(0), radius: at[2].abs() + 5.0, clockwise: at[3] > 0.0 }),
        3 => Segment::Cubic(Cubic { start: p(0), control_1: p(1), control_2: p(2), end: p(3) }),
        4 => Segment::Ellipse(EllipseArc {
            centre: p(0),
            major: p(1),
            ratio: 0.05 + 0.9 * (at[4].abs() / 1000.0),
            start_rad: at[5] / 100.0,
            sweep_rad: (at[6] / 1000.0) * TAU,
        }),
        5 => Segment::Cubic(Cubic::from_quadratic(p(0), p(1), p(2))),
        _ => {
            let degree = 2 + (at[9].abs() as usize) % 4;
            let count = degree + 1 + (at[8].abs() as usize) % 4;
            let points: Vec<Point> = (0..count).map(p).collect();
            let inner = count - degree - 1;
            let mut knots = vec![0.0; degree + 1];
            knots.extend((1..=inner).map(|i| i as f64));
            knots.extend(vec![(inner + 1) as f64; degree + 1]);
            let weights = if at[7] > 0.0 { (0..count).map(weight).collect() } else { Vec::new() };
            Segment::Spline(Nurbs::new(degree, knots, points, weights).expect("the parts fit"))
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    /// Dense points along a piece know nothing of how its extremes are solved.
    #[test]
    fn no_piece_reaches_farther_than_its_dense_points(
        kind in 0_u32..7,
        at in prop::collection::vec(-1000.0..1000.0_f64, 12),
        angle in 0.0..TAU,
        whole in any::<bool>(),
    ) {
        // Whole numbers make ties, zeros and symmetry likely.
        let at: Vec<f64> = at.iter().map(|v| if whole { (v / 250.0).round() * 250.0 } else { *v }).collect();
        let piece = any_piece(kind, &at);
        let length = piece.length();
        prop_assume!(length > 1.0 && length.is_finite());
        let angle = if whole { (angle / TAU * 8.0).round() / 8.0 * TAU } else { angle };
        let along = Point::at_angle(angle);
        let (low, high) = piece.extent(along);
        let places = (0..=20_000).map(|i| along.dot(piece.at(f64::from(i) / 20_000.0)));
        let (least, most) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        prop_assert!(low <= least + 1e-9 && high >= most - 1e-9, "{piece:?}: {low}..{high} misses {least}..{most}");
        let slack = 1e-5 * length;
        prop_assert!(low >= least - slack && high <= most + slack, "{piece:?}: {low}..{high} beyond {least}..{most}");
    }
}

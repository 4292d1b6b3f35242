//! Laws of the light in a guide, by panels of every form: see `tests/outside/shape/test_light_in_guide.py` for photons.

use std::f64::consts::PI;

use underlit::shape::{
    Contour, Extraction, LightingChoice, LuminancePicture, Outline, Point, ShapeClass, Transform,
    extraction_per_mm, figures, lit_edge_advice, luminance_picture,
};

/// kL = 1 over so many millimetres.
fn choice(lit_edges: &[usize], extraction: Extraction, over_mm: f64) -> LightingChoice {
    LightingChoice {
        lit_edges: lit_edges.to_vec(),
        extraction,
        per_mm: 1.0 / over_mm,
        unlit_edge_reflectance: 0.0,
        points_along: 30,
    }
}

fn picture(outline: &Outline, choice: &LightingChoice) -> LuminancePicture {
    luminance_picture(outline, &figures(outline), choice).expect("an edge is lit")
}

fn nine(picture: &LuminancePicture) -> Vec<f64> {
    picture.nine_points.iter().flatten().copied().collect()
}

/// Light left after a sum of extraction, over the directions in a guide of index 1.49; `flux` weighs by the cosine.
fn left(sum: f64, flux: bool) -> f64 {
    let half = (1.0_f64 / 1.49).asin();
    let count = 2000;
    let angle = |i: usize| half * (i as f64 + 0.5) / f64::from(count);
    let weight = |a: f64| if flux { a.cos() } else { 1.0 };
    let all = || (0..count as usize).map(angle);
    all().map(|a| weight(a) * (-sum / a.cos()).exp()).sum::<f64>() / all().map(weight).sum::<f64>()
}

#[test]
fn a_rectangle_lit_along_whole_edges_follows_the_integral() {
    let bar = Outline::rectangle(1200.0, 300.0);
    let places = [1.0 / 6.0, 0.5, 5.0 / 6.0];
    let mirrored =
        LightingChoice { unlit_edge_reflectance: 1.0, ..choice(&[1], Extraction::Constant, 300.0) };
    let cases: [(LightingChoice, &dyn Fn(f64) -> f64); 3] = [
        (choice(&[1], Extraction::Constant, 300.0), &|x| left(x, false)),
        (choice(&[1, 3], Extraction::Constant, 300.0), &|x| left(x, false) + left(1.0 - x, false)),
        (mirrored, &|x| left(x, false) + left(2.0 - x, false)),
    ];
    for (choice, law) in cases {
        let found = picture(&bar, &choice);
        let greatest = found.nine_points[1].expect("on the face");
        for (row, x) in places.iter().enumerate() {
            for column in 0..3 {
                let value = found.nine_points[row * 3 + column].expect("on the face");
                let truth = law(*x) / law(places[0]);
                assert!(
                    (value / greatest - truth).abs() < 0.01,
                    "{choice:?} {row} {column}: {value} {truth}"
                );
            }
        }
    }
    // The axial ray alone would leave e^−1 = 0.368 of it; a Lambertian edge leaves less.
    assert!((left(1.0, false) / left(0.0, false)) < 0.35);
}

#[test]
fn nothing_is_made_and_nothing_is_lost() {
    let bar = Outline::rectangle(900.0, 300.0);
    // One edge: what is not let out by the far side leaves there.
    let one = picture(&bar, &choice(&[1], Extraction::Constant, 300.0));
    assert!((one.out_share - (1.0 - left(1.0, true))).abs() < 0.02, "{}", one.out_share);
    let mut holed = Outline::rectangle(600.0, 500.0);
    holed.cutouts.push(Contour::circle(Point::new(300.0, 250.0), 80.0));
    let triangle = Outline::triangle(Point::new(0.0, 0.0), Point::new(600.0, 0.0), Point::new(150.0, 400.0));
    for outline in [bar, holed, triangle, Outline::circle(500.0)] {
        let all: Vec<usize> = (1..=figures(&outline).edges.len()).collect();
        for lit in [&all[..1], &all] {
            for over in [3000.0, 300.0, 60.0] {
                let found = picture(&outline, &choice(lit, Extraction::Constant, over));
                assert!(
                    found.out_share > 0.0 && found.out_share < 1.04,
                    "{over} {lit:?}: {}",
                    found.out_share
                );
                if over < 100.0 {
                    assert!(found.out_share > 0.85, "nearly all comes out: {lit:?} {}", found.out_share);
                }
            }
        }
    }
}

#[test]
fn moved_turned_and_scaled_panels_answer_the_same() {
    let mut holed = Outline::rectangle(1200.0, 500.0);
    holed.cutouts.push(Contour::circle(Point::new(500.0, 250.0), 90.0));
    let trapezium = Outline::polygon(
        &[(0.0, 0.0), (1000.0, 0.0), (850.0, 400.0), (150.0, 400.0)].map(|(x, y)| Point::new(x, y)),
    );
    for outline in [Outline::rectangle(900.0, 300.0), holed, trapezium] {
        // A round hole is followed by chords, which begin where its drawing does.
        let close = if outline.cutouts.is_empty() { 1e-6 } else { 0.01 };
        let before = picture(&outline, &choice(&[1], Extraction::Constant, 300.0));
        let start = figures(&outline).edges[0].segments[0].start();
        for (x, y, angle, size) in [
            (500.0, 300.0, 0.0, 1.0),
            (-8000.0, 11.0, 0.4, 1.0),
            (3.0, 5.0, PI / 2.0, 1.0),
            (0.0, 0.0, 2.5, 3.0),
        ] {
            let map = Transform::scaled(size, size)
                .then(Transform::rotated(angle))
                .then(Transform::moved(Point::new(x, y)));
            let turned = outline.mapped(map);
            // The same edge may have another number: it starts where the mapped one does.
            let at = Outline::polygon(&[start, start + Point::new(1.0, 0.0), start + Point::new(0.0, 1.0)])
                .mapped(map);
            let corner = at.outer.segments[0].start();
            let same = figures(&turned)
                .edges
                .iter()
                .find(|e| e.segments[0].start().distance(corner) < 1e-6)
                .map(|e| e.number);
            let after =
                picture(&turned, &choice(&[same.expect("the edge")], Extraction::Constant, 300.0 * size));
            // Turned by a right angle, another of the nine is the lower left.
            let [a, b] = [&before, &after].map(|picture| {
                let mut all = nine(picture);
                all.sort_by(f64::total_cmp);
                all
            });
            for (a, b) in a.iter().zip(b) {
                assert!((a - b).abs() < close, "{x} {y} {angle} {size}: {a} {b}");
            }
            assert!((before.out_share - after.out_share).abs() < close);
        }
    }
}

#[test]
fn swapped_edges_answer_the_same_and_a_circle_is_round() {
    let bar = Outline::rectangle(900.0, 300.0);
    let [below, above] =
        [1, 3].map(|edge| nine(&picture(&bar, &choice(&[edge], Extraction::Constant, 300.0))));
    for (i, value) in below.iter().enumerate() {
        assert!((value - above[(2 - i / 3) * 3 + i % 3]).abs() < 1e-3, "{below:?} {above:?}");
    }
    let of = |outline: &Outline| {
        let lit: Vec<usize> = (1..=figures(outline).edges.len()).collect();
        nine(&picture(outline, &choice(&lit, Extraction::Constant, 300.0)))
    };
    let circle = of(&Outline::circle(600.0));
    let spread = |of: [usize; 4]| {
        let all = of.map(|i| circle[i]);
        all.iter().copied().fold(0.0, f64::max) - all.iter().copied().fold(1.0, f64::min)
    };
    assert!(spread([0, 2, 6, 8]) < 0.02 && spread([1, 3, 5, 7]) < 0.02, "{circle:?}");
    // Drawn as many short lines it is the same panel.
    let corners: Vec<Point> = (0..120).map(|i| Point::at_angle(f64::from(i) * PI / 60.0)).collect();
    let faceted = Outline::polygon(&corners).mapped(Transform::scaled(300.0, 300.0));
    for (a, b) in circle.iter().zip(of(&faceted)) {
        assert!((a - b).abs() < 0.04, "{a} {b}");
    }
}

#[test]
fn edges_of_different_length_compare_by_one_sheet() {
    let bar = Outline::rectangle(1200.0, 300.0);
    let of = |lit: &[usize]| picture(&bar, &choice(lit, Extraction::Constant, 300.0));
    let (long, short) = (of(&[1, 3]), of(&[2, 4]));
    assert!(
        long.face_uniformity > short.face_uniformity + 0.3,
        "{} {}",
        long.face_uniformity,
        short.face_uniformity
    );
    // Light from a short edge has the longer way, and more of it comes out.
    assert!(short.out_share > long.out_share, "{} {}", short.out_share, long.out_share);
    // A sheet that lets out 63 % over 300 mm in a guide of 8 mm.
    assert!((extraction_per_mm(0.63, 8.0) * 300.0 - 0.994).abs() < 0.001);
    assert!((extraction_per_mm(0.63, 4.0) / extraction_per_mm(0.63, 8.0) - 2.0).abs() < 1e-12);
}

#[test]
fn a_graded_pattern_is_even_for_the_edges_it_is_made_for() {
    let bar = Outline::rectangle(1200.0, 300.0);
    for lit in [&[1][..], &[1, 3]] {
        let even = picture(&bar, &choice(lit, Extraction::Graded, 300.0));
        assert!(even.graded && even.face_uniformity > 0.98, "{lit:?}: {}", even.face_uniformity);
    }
    let round = picture(&Outline::circle(400.0), &choice(&[1], Extraction::Graded, 300.0));
    assert!(!round.graded, "there is no straight edge to grade for");
}

#[test]
fn three_edges_on_an_oblong_are_shown_to_be_uneven() {
    let bar = Outline::rectangle(1200.0, 300.0);
    for extraction in [Extraction::Constant, Extraction::Graded] {
        let [two, three, four] = [&[1, 3][..], &[1, 2, 3], &[1, 2, 3, 4]]
            .map(|lit| picture(&bar, &choice(lit, extraction, 300.0)));
        assert!(three.face_uniformity < two.face_uniformity - 0.1, "{extraction:?}");
        assert!(four.nine_point_uniformity < two.nine_point_uniformity, "{extraction:?}");
    }
    // On a square the four sides add up to the same along both axes.
    let square = Outline::rectangle(600.0, 600.0);
    let [two, four] =
        [&[1, 3][..], &[1, 2, 3, 4]].map(|lit| picture(&square, &choice(lit, Extraction::Constant, 600.0)));
    assert!(four.nine_point_uniformity >= two.nine_point_uniformity);
}

#[test]
fn a_cutout_casts_its_shadow_and_a_dark_place_says_why() {
    let mut vanity = Outline::rectangle(1200.0, 500.0);
    vanity.cutouts.push(Contour::circle(Point::new(600.0, 250.0), 160.0));
    let shadowed = picture(&vanity, &choice(&[1], Extraction::Constant, 500.0));
    assert_eq!(shadowed.nine_points.iter().flatten().count(), 8, "the middle point is cut out");
    let [beside, behind] = [6, 7].map(|i| shadowed.nine_points[i].expect("on the face"));
    assert!(behind < 0.7 * beside, "{behind} {beside}");
    // An L lit from the end of its foot: a corner hides the arm of a long one, and nothing faces that of a short one.
    for (foot, why) in [(900.0, "an inward corner"), (300.0, "no lit edge faces this place")] {
        let corners = [(0.0, 0.0), (foot, 0.0), (foot, 150.0), (150.0, 150.0), (150.0, 900.0), (0.0, 900.0)];
        let l = Outline::polygon(&corners.map(|(x, y)| Point::new(x, y)));
        let found =
            picture(&l, &choice(&[2], Extraction::Constant, 300.0)).dark.map(|(_, why)| why.to_string());
        assert!(found.as_deref().is_some_and(|w| w.starts_with(why)), "{foot}: {found:?}");
    }
    let plain = picture(&Outline::rectangle(900.0, 300.0), &choice(&[1], Extraction::Constant, 300.0));
    assert!(plain.dark.is_none());
}

#[test]
fn advice_by_common_practice() {
    // Three or four lit edges only on a square: common practice, no source.
    assert!(lit_edge_advice(ShapeClass::Rectangle, 3).is_some());
    assert!(lit_edge_advice(ShapeClass::Rectangle, 4).is_some());
    assert_eq!(lit_edge_advice(ShapeClass::Rectangle, 2), None);
    assert_eq!(lit_edge_advice(ShapeClass::Square, 4), None);
}

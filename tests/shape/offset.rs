//! Outlines within and around outlines, measured by another method: places on the result, as far from the drawing as was
//! asked, to the nearest of many thousand places on it; areas by closed forms.

use std::f64::consts::PI;

use underlit::shape::{Arc, Contour, Cubic, Inset, Outline, Point, Segment, edges, figures, inset};

fn p(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

/// Places along contours, sixty thousand in all.
fn dense(contours: &[&Contour]) -> Vec<Point> {
    let count = 60_000 / contours.iter().map(|c| c.segments.len() as u32).sum::<u32>();
    let along = |segment: &Segment| {
        let segment = segment.clone();
        (0..count).map(move |n| segment.at(f64::from(n) / f64::from(count))).collect::<Vec<_>>()
    };
    contours.iter().flat_map(|c| &c.segments).flat_map(along).collect()
}

fn all(outline: &Outline) -> Vec<&Contour> {
    std::iter::once(&outline.outer).chain(&outline.cutouts).collect()
}

/// The least and greatest distance from the moved outline to the drawing.
fn distances(drawn: &Outline, moved: &Outline) -> (f64, f64) {
    let drawn = dense(&all(drawn));
    let places = all(moved)
        .into_iter()
        .flat_map(|c| &c.segments)
        .flat_map(|s| (0..60).map(|n| s.at(f64::from(n) / 60.0)).collect::<Vec<_>>());
    let far = |place: Point| drawn.iter().map(|d| d.distance(place)).fold(f64::INFINITY, f64::min);
    places.map(far).fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), d| (low.min(d), high.max(d)))
}

fn free_form() -> Outline {
    let cubic = |start, control_1, control_2, end| Segment::Cubic(Cubic { start, control_1, control_2, end });
    Outline::of(Contour {
        segments: vec![
            Segment::line(p(0.0, 0.0), p(900.0, 0.0)),
            cubic(p(900.0, 0.0), p(980.0, 160.0), p(880.0, 300.0), p(930.0, 420.0)),
            cubic(p(930.0, 420.0), p(600.0, 520.0), p(300.0, 340.0), p(0.0, 430.0)),
            Segment::line(p(0.0, 430.0), p(0.0, 0.0)),
        ],
    })
}

/// An L whose inner corner is concave.
fn ell() -> Outline {
    Outline::of(Contour::polygon(&[
        p(0.0, 0.0),
        p(1200.0, 0.0),
        p(1200.0, 400.0),
        p(400.0, 400.0),
        p(400.0, 1000.0),
        p(0.0, 1000.0),
    ]))
}

fn slot(length: f64, radius: f64) -> Outline {
    let arc = |start, end| Segment::Arc(Arc { start, end, bulge: 1.0 });
    Outline::of(Contour {
        segments: vec![
            Segment::line(p(0.0, 0.0), p(length, 0.0)),
            arc(p(length, 0.0), p(length, 2.0 * radius)),
            Segment::line(p(length, 2.0 * radius), p(0.0, 2.0 * radius)),
            arc(p(0.0, 2.0 * radius), p(0.0, 0.0)),
        ],
    })
}

fn with_sink() -> Outline {
    let mut island = Outline::rectangle(2400.0, 900.0);
    island.cutouts.push(Contour::circle(p(1500.0, 450.0), 200.0));
    island.cutouts.push(Contour::polygon(&[
        p(300.0, 300.0),
        p(700.0, 300.0),
        p(700.0, 600.0),
        p(300.0, 600.0),
    ]));
    island
}

#[test]
fn every_place_is_as_far_as_was_asked() {
    let ellipse = underlit::shape::EllipseArc {
        centre: p(0.0, 0.0),
        major: p(500.0, 0.0),
        ratio: 0.6,
        start_rad: 0.0,
        sweep_rad: 2.0 * PI,
    };
    let ring = Outline { cutouts: vec![Contour::circle(Point::default(), 300.0)], ..Outline::circle(1600.0) };
    let shapes = [
        ("circle", Outline::circle(900.0), true),
        ("ring", ring, true),
        ("rectangle", Outline::rectangle(1200.0, 400.0), false),
        ("ellipse", Outline::of(Contour { segments: vec![Segment::Ellipse(ellipse)] }), true),
        ("slot", slot(1000.0, 200.0), true),
        ("free form", free_form(), false),
        ("concave corner", ell(), false),
        ("sink", with_sink(), false),
    ];
    for (name, drawn, smooth) in shapes {
        for mm in [12.0, 1.5, -1.5, -20.0] {
            let moved = inset(&drawn, &Inset::even(&drawn, mm)).unwrap_or_else(|e| panic!("{name}: {e:?}"));
            let (least, most) = distances(&drawn, &moved);
            assert!((least - mm.abs()).abs() < 0.01, "{name} by {mm}: {least}");
            // Only at sharp corners may it be farther: to the corner of the mitre.
            let farthest = if smooth { mm.abs() } else { mm.abs() * 2.5 };
            assert!(most < farthest + 0.01, "{name} by {mm}: {most}");
            let grew = figures(&moved).area_mm2 - figures(&drawn).area_mm2;
            assert!(grew * mm < 0.0, "{name} by {mm}: {grew} mm²");
            assert_eq!(edges(&moved.outer).len(), edges(&drawn.outer).len(), "{name} by {mm}");
        }
    }
}

#[test]
fn closed_forms() {
    let area =
        |drawn: &Outline, mm: f64| figures(&inset(drawn, &Inset::even(drawn, mm)).expect("it fits")).area_mm2;
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-6 * b, "{a} is not {b}");
    close(area(&Outline::rectangle(1200.0, 400.0), 10.0), 1180.0 * 380.0);
    close(area(&Outline::circle(900.0), 10.0), PI * 440.0 * 440.0);
    close(area(&slot(1000.0, 200.0), -30.0), 1000.0 * 460.0 + PI * 230.0 * 230.0);
    close(area(&ell(), 10.0), 1180.0 * 380.0 + 380.0 * 600.0);
    // The circle's cut-out grows to 210, the other to 420 × 320.
    close(area(&with_sink(), 10.0), 2380.0 * 880.0 - PI * 210.0 * 210.0 - 420.0 * 320.0);
    // Nothing to move is nothing changed.
    assert_eq!(inset(&free_form(), &Inset::even(&free_form(), 0.0)).expect("nothing"), free_form());
}

#[test]
fn each_edge_moves_by_its_own_distance() {
    let drawn = Outline::rectangle(2400.0, 900.0);
    let by = Inset { edges_mm: vec![12.0, 6.0, 12.0, 0.0], cutouts_mm: 0.0 };
    let moved = figures(&inset(&drawn, &by).expect("it fits"));
    assert!((moved.width_mm - 2394.0).abs() < 1e-9 && (moved.height_mm - 876.0).abs() < 1e-9);
    assert!(moved.lower_left.x.abs() < 1e-9 && (moved.lower_left.y - 12.0).abs() < 1e-9);
    // And back again, to the last thousandth.
    let back = Inset { edges_mm: by.edges_mm.iter().map(|mm| -mm).collect(), cutouts_mm: 0.0 };
    let again = figures(&inset(&inset(&drawn, &by).expect("it fits"), &back).expect("it fits"));
    assert!((again.width_mm - 2400.0).abs() < 1e-6 && (again.height_mm - 900.0).abs() < 1e-6);
}

#[test]
fn what_is_too_large_for_the_shape_is_refused() {
    let refused = |what: &str, drawn: &Outline, mm: f64| {
        let found = inset(drawn, &Inset::even(drawn, mm));
        let fault = found.err().unwrap_or_else(|| panic!("{what} by {mm} was taken"));
        assert!(fault.to_string().contains("too large for the shape"), "{what}: {fault}");
        assert!(fault.at_mm.is_some(), "{what}: {fault}");
    };
    refused("a rectangle", &Outline::rectangle(1200.0, 400.0), 200.0);
    refused("a rectangle", &Outline::rectangle(1200.0, 400.0), 300.0);
    refused("a circle", &Outline::circle(100.0), 50.0);
    refused("a slot", &slot(1000.0, 40.0), 40.0);
    refused("an L's arm", &ell(), 200.0);
    refused("a curve's hollow", &free_form(), 400.0);
    // The sink's edge would pass the border; the cut-outs would meet; a cut-out would close.
    refused("an island", &with_sink(), 130.0);
    refused("an island", &with_sink(), -210.0);
    // A slit that closes although each of its own edges is long.
    let slit = Outline::of(Contour::polygon(&[
        p(0.0, 0.0),
        p(1000.0, 0.0),
        p(1000.0, 500.0),
        p(510.0, 500.0),
        p(510.0, 100.0),
        p(490.0, 100.0),
        p(490.0, 500.0),
        p(0.0, 500.0),
    ]));
    refused("a slit", &slit, -10.0);
    inset(&slit, &Inset::even(&slit, 40.0)).expect("inward there is room");

    // Two edges that run smoothly into each other cannot have different borders.
    let drawn = slot(1000.0, 200.0);
    let by = Inset { edges_mm: vec![12.0, 0.0, 12.0, 0.0], cutouts_mm: 0.0 };
    let fault = inset(&drawn, &by).expect_err("a step is no edge").to_string();
    assert!(fault.contains("run smoothly into each other"), "{fault}");
}

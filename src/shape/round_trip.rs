//! Out and in again: a written outline, read back, is the same geometry.

#![allow(clippy::unwrap_used)]

use super::dxf::{CUTOUT_LAYER, ETCHING_LAYER, JOINT_LAYER, MARK_LAYER, OUTLINE_LAYER};
use super::{
    Arc, Circle, Contour, Cubic, EllipseArc, Format, Layers, Mark, MarkKind, Nurbs, Outline, Path, Point,
    ReadOptions, Segment, StoneJoint, figures, read, to_dxf, to_json, to_svg,
};

fn p(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

/// Every kind of piece in one sound outline.
fn everything() -> Outline {
    let ellipse = EllipseArc {
        centre: p(600.0, 400.0),
        major: p(200.0, 0.0),
        ratio: 0.4,
        start_rad: 0.0,
        sweep_rad: std::f64::consts::PI,
    };
    let spline = Nurbs::new(
        2,
        vec![0.0, 0.0, 0.0, 0.4, 1.0, 1.0, 1.0],
        vec![p(400.0, 400.0), p(300.0, 430.0), p(200.0, 380.0), p(0.0, 400.0)],
        vec![1.0, 0.8, 1.7, 1.0],
    )
    .unwrap();
    let outer = Contour {
        segments: vec![
            Segment::line(p(0.0, 0.0), p(1200.0, 0.0)),
            Segment::Arc(Arc { start: p(1200.0, 0.0), end: p(1200.0, 400.0), bulge: 0.31 }),
            Segment::Cubic(Cubic {
                start: p(1200.0, 400.0),
                control_1: p(1000.0, 460.0),
                control_2: p(900.0, 350.0),
                end: p(800.0, 400.0),
            }),
            Segment::Ellipse(ellipse),
            Segment::Spline(spline),
            Segment::line(p(0.0, 400.0), p(0.0, 0.0)),
        ],
    };
    Outline {
        cutouts: vec![
            Contour {
                segments: vec![Segment::Circle(Circle {
                    centre: p(300.0, 150.0),
                    radius: 33.3,
                    clockwise: true,
                })],
            },
            Contour {
                segments: vec![Segment::Ellipse(EllipseArc {
                    centre: p(900.0, 150.0),
                    major: p(60.0, 80.0),
                    ratio: 0.5,
                    start_rad: 1.0,
                    sweep_rad: -2.0 * std::f64::consts::PI,
                })],
            },
            Contour::polygon(&[p(500.0, 100.0), p(560.0, 100.0), p(560.0, 170.0)]),
        ],
        etchings: vec![Path { segments: vec![Segment::line(p(100.0, 200.0), p(200.0, 300.0))] }],
        stone_joints: vec![StoneJoint { from: p(500.0, -10.0), to: p(505.0, 410.0) }],
        marks: every_mark(),
        ..Outline::of(outer)
    }
}

/// Marks of every kind, with and without words and heading; the last has letters beyond ASCII.
fn every_mark() -> Vec<Mark> {
    let mut marks = Vec::new();
    for (i, kind) in MarkKind::ALL.iter().enumerate() {
        let at = p(700.0, 50.0 + 10.0 * i as f64);
        marks.push(Mark { kind: *kind, at, text: None, heading_deg: None });
        if *kind != MarkKind::Note {
            let at = at + p(100.0, 0.0);
            marks.push(Mark {
                kind: *kind,
                at,
                text: Some("2 m lead: left".into()),
                heading_deg: Some(-37.5),
            });
        }
    }
    marks.push(Mark {
        kind: MarkKind::Note,
        at: p(100.0, 50.0),
        text: Some("façade 🪨".into()),
        heading_deg: None,
    });
    marks
}

fn agree(written: &Outline, read: &Outline) {
    let (a, b) = (figures(written), figures(read));
    for (x, y, what) in [
        (a.area_mm2, b.area_mm2, "area"),
        (a.perimeter_mm, b.perimeter_mm, "perimeter"),
        (a.cut_length_mm, b.cut_length_mm, "cut length"),
        (a.etch_length_mm, b.etch_length_mm, "etch length"),
        (a.width_mm, b.width_mm, "width"),
        (a.least_rectangle.short_mm, b.least_rectangle.short_mm, "short side"),
    ] {
        assert!((x - y).abs() <= 1e-9 * x.abs(), "{what}: {x} became {y}");
    }
    assert_eq!((a.shape, a.cutouts, a.edges.len()), (b.shape, b.cutouts, b.edges.len()));
}

#[test]
fn dxf_out_and_in_again() {
    let outline = everything();
    let layers = Layers {
        outline: Some(OUTLINE_LAYER.into()),
        cutouts: Some(CUTOUT_LAYER.into()),
        etchings: Some(ETCHING_LAYER.into()),
        marks: Some(MARK_LAYER.into()),
        stone_joints: Some(JOINT_LAYER.into()),
    };
    let options = ReadOptions { layers, ..ReadOptions::default() };
    let written = to_dxf(&outline);
    let again = read(Format::Dxf, written.as_bytes(), &options).unwrap().outline;
    agree(&outline, &again);
    // Marks come back as what they are, once each, and joints where they were.
    assert_eq!(again.marks, outline.marks);
    assert_eq!(again.stone_joints, outline.stone_joints);
    let without = Outline { stone_joints: Vec::new(), ..outline };
    assert!(!to_dxf(&without).contains(JOINT_LAYER), "a layer for joints only where there are any");
}

#[test]
fn svg_out_and_in_again() {
    let outline = everything();
    let layers = Layers {
        outline: Some("outline".into()),
        cutouts: Some("cutouts".into()),
        etchings: Some("etching".into()),
        stone_joints: Some("joints".into()),
        ..Layers::default()
    };
    let options = ReadOptions { layers, ..ReadOptions::default() };
    let again = read(Format::Svg, to_svg(&outline).as_bytes(), &options).unwrap().outline;
    let (a, b) = (figures(&outline), figures(&again));
    assert!((a.area_mm2 - b.area_mm2).abs() <= 1e-9 * a.area_mm2, "{} {}", a.area_mm2, b.area_mm2);
    assert!((a.cut_length_mm - b.cut_length_mm).abs() <= 1e-9 * a.cut_length_mm);
    assert!((a.perimeter_mm - b.perimeter_mm).abs() <= 1e-9 * a.perimeter_mm);
    assert!((a.etch_length_mm - b.etch_length_mm).abs() <= 1e-9 * a.etch_length_mm);
    let near = |p: Point, q: Point| p.distance(q) <= 1e-9 * 1200.0;
    let same = |(a, b): (&StoneJoint, &StoneJoint)| near(a.from, b.from) && near(a.to, b.to);
    assert!(!again.stone_joints.is_empty() && outline.stone_joints.iter().zip(&again.stone_joints).all(same));
}

#[test]
fn json_out_and_in_again_is_the_same_to_the_last_bit() {
    let outline = everything();
    let again = read(Format::Json, to_json(&outline).as_bytes(), &ReadOptions::default()).unwrap().outline;
    assert_eq!(again, outline);
}

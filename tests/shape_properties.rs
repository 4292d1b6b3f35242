//! What must hold for every outline: turning, moving, mirroring and walking it the other way change no figure; what
//! is written reads back the same; pieces of a split add up to the whole.

use std::f64::consts::TAU;

use proptest::prelude::*;
use underlit::shape::{
    Arc, Contour, Format, Outline, Point, ReadOptions, Segment, ShapeClass, Sheet, SplitLimits, TapeLimits,
    Transform, check, digest_input, figures, read, read_json, split, to_dxf, to_json, to_svg,
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
        prop_assert_eq!(digest_input(&outline), digest_input(&other));
    }

    #[test]
    fn a_corner_moved_by_a_thousandth_changes_the_digest(outline in sound()) {
        let mut moved = outline.clone();
        moved.cutouts[0] = Contour::circle(Point::new(0.001, 0.0), 40.0);
        prop_assert_ne!(digest_input(&outline), digest_input(&moved));
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
        let limits = SplitLimits {
            sheet: Sheet { width_mm: 1300.0, height_mm: 800.0 },
            least_piece_mm: 50.0,
            clear_of_cutouts_mm: 20.0,
            tape: TapeLimits { shortest_mm: 50.0, least_bend_radius_mm: Some(100.0) },
            lit_edges: Vec::new(),
            most_pieces: 12,
        };
        let whole = figures(&outline);
        for option in split(&outline, &limits).unwrap_or_default() {
            let pieces: Vec<_> = option.pieces.iter().map(|p| figures(&p.outline)).collect();
            let area: f64 = pieces.iter().map(|p| p.area_mm2).sum();
            prop_assert!(near(area, whole.area_mm2), "{} of {}", area, whole.area_mm2);
            let border: f64 = pieces.iter().map(|p| p.perimeter_mm).sum();
            prop_assert!(near(border, whole.perimeter_mm + 2.0 * option.seam_length_mm));
            prop_assert_eq!(pieces.iter().map(|p| p.cutouts).sum::<usize>(), 1);
            for piece in &option.pieces {
                prop_assert!(check(&piece.outline).is_empty());
                prop_assert_eq!(piece.edge_numbers.len(), piece.outline.outer.segments.len());
            }
        }
    }
}

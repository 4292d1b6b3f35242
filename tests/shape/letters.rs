//! Letters as closed lines. Outlines and spacing are compared with another library's in
//! `tests/outside/shape/test_letters_against_fonttools.py`.

use underlit::shape::{
    Align, Contour, LetterFault, LetterSetting, Outline, Path, Point, check, figures, letters, letters_fit,
};

const FONT: &[u8] = notosans::REGULAR_TTF;

fn lines(
    lines: &[&str],
    capital_mm: f64,
    align: Align,
    spacing_mm: Option<f64>,
) -> Result<Vec<Path>, LetterFault> {
    letters(lines, FONT, &LetterSetting { capital_mm, at: Point::new(300.0, 200.0), align, spacing_mm })
}

fn set(text: &str, capital_mm: f64, align: Align) -> Result<Vec<Path>, LetterFault> {
    lines(&[text], capital_mm, align, None)
}

fn of(text: &str) -> Vec<Path> {
    set(text, 40.0, Align::Left).unwrap_or_else(|why| panic!("{text}: {why:?}"))
}

/// The least and greatest x and y of closed lines, and their area, what is open within them taken off.
fn measured(paths: &[Path]) -> ([f64; 4], f64) {
    let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    let mut area = 0.0;
    for path in paths {
        let own = Outline::of(Contour { segments: path.segments.clone() });
        let found = figures(&own);
        let (low, high) = (
            found.lower_left,
            Point::new(found.lower_left.x + found.width_mm, found.lower_left.y + found.height_mm),
        );
        bounds = [bounds[0].min(low.x), bounds[1].min(low.y), bounds[2].max(high.x), bounds[3].max(high.y)];
        // Borders and what is open within them run in opposite ways.
        let flat: Vec<Point> =
            path.segments.iter().flat_map(|s| (0..64).map(|n| s.at(f64::from(n) / 64.0))).collect();
        let next = flat.iter().cycle().skip(1);
        area += flat.iter().zip(next).map(|(a, b)| (a.x * b.y - a.y * b.x) / 2.0).sum::<f64>();
    }
    (bounds, area.abs())
}

#[test]
fn a_capital_is_as_high_as_was_asked_and_stands_on_its_line() {
    for height in [5.0, 40.0, 250.0] {
        let (bounds, _) = measured(&set("H", height, Align::Left).expect("set"));
        assert!((bounds[1] - 200.0).abs() < 1e-9 && (bounds[3] - 200.0 - height).abs() < 1e-9, "{bounds:?}");
    }
    let (small, area) = measured(&of("Rg8"));
    let (large, four_times) = measured(&set("Rg8", 80.0, Align::Left).expect("set"));
    assert!((four_times / area - 4.0).abs() < 1e-9, "{area} {four_times}");
    assert!(((large[2] - 300.0) / (small[2] - 300.0) - 2.0).abs() < 1e-9);
    assert!(small[1] < 199.0, "a g reaches below the line: {small:?}");
}

#[test]
fn every_line_closes_and_holes_are_lines_of_their_own() {
    for (text, lines) in [("I", 1), ("O", 2), ("B", 3), ("8%", 3 + 5), ("Ä", 4), ("i", 2), ("I O", 3)] {
        assert_eq!(of(text).len(), lines, "{text}");
    }
    let all = of("Sphinx of black quartz, judge my vow! ÄÖÜ ß 0123456789 &@");
    for path in &all {
        let ends = path.segments.iter().zip(path.segments.iter().cycle().skip(1));
        ends.for_each(|(a, b)| assert!(a.end().distance(b.start()) < 1e-9, "{a:?} {b:?}"));
    }
    let mut panel = Outline::rectangle(3000.0, 600.0);
    assert_eq!(letters_fit(&panel, &all), Ok(()));
    panel.etchings = all;
    assert_eq!(check(&panel), Vec::new());
    // What is open in an O is not part of it: half its area and more.
    let (bounds, area) = measured(&of("O"));
    assert!(area < 0.6 * (bounds[2] - bounds[0]) * (bounds[3] - bounds[1]), "{area} in {bounds:?}");
}

#[test]
fn pairs_are_spaced_as_the_font_says_and_a_line_can_be_centred() {
    let right = |text: &str| measured(&of(text)).0[2];
    let (a, v) = (right("A") - 300.0, right("V") - 300.0);
    assert!(right("AV") - 300.0 < a + v - 1.0, "A and V stand closer: {} of {}", right("AV") - 300.0, a + v);
    let left = measured(&of("HH")).0;
    let centred = measured(&set("HH", 40.0, Align::Middle).expect("set")).0;
    assert!((centred[0] + centred[2] - 600.0).abs() < 1e-9, "HH is the same both ways: {centred:?}");
    assert!((left[2] - left[0] - (centred[2] - centred[0])).abs() < 1e-9);
}

#[test]
fn lines_stand_below_each_other_and_to_one_side_of_their_place() {
    let bounds = |found: &[Path]| measured(found).0;
    let two = |align| lines(&["HOUSE", "", "No. 12"], 40.0, align, Some(70.0)).expect("set");
    let alone = |text: &str, align| bounds(&set(text, 40.0, align).expect("set"));
    for align in [Align::Left, Align::Middle, Align::Right] {
        let found = two(align);
        let (first, last) = found.split_at(of("HOUSE").len());
        // An empty line takes its room: the third line is two distances down, and where it would be alone.
        for (line, text, down) in [(first, "HOUSE", 0.0), (last, "No. 12", 140.0)] {
            let wanted = alone(text, align);
            let off = [0.0, down, 0.0, down];
            for (at, (found, wanted)) in bounds(line).iter().zip(wanted).enumerate() {
                assert!((found + off[at] - wanted).abs() < 1e-9, "{align} {text}");
            }
        }
    }
    // A line that ends at the place has its air there, as one that begins there has: an H of Noto Sans has nearly the same on
    // both sides.
    let [left, right] = [Align::Left, Align::Right].map(|align| alone("HH", align));
    assert!((left[2] - left[0] - (right[2] - right[0])).abs() < 1e-9, "{left:?} {right:?}");
    assert!((left[0] - 300.0 - (300.0 - right[2])).abs() < 0.1, "{left:?} {right:?}");
    // Noto Sans as fontTools reads it: `hhea` 2189 up, 600 down, no gap; capitals of 1462.
    let own = bounds(&lines(&["H", "H"], 14.62, Align::Left, None).expect("set"));
    assert!((200.0 - own[1] - 27.89).abs() < 1e-9, "{own:?}");
    assert_eq!(lines(&["", " "], 40.0, Align::Middle, None), Err(LetterFault::Nothing));
    assert_eq!(lines(&["A", "月"], 40.0, Align::Left, None), Err(LetterFault::Missing("月".into())));
    let close = lines(&["gjp", "HOH"], 40.0, Align::Left, Some(20.0)).expect("set");
    let panel = Outline::rectangle(900.0, 400.0);
    assert!(matches!(letters_fit(&panel, &close), Err(LetterFault::Crossing(_))), "too close");
}

#[test]
fn what_cannot_be_etched_is_refused() {
    assert_eq!(set("月", 40.0, Align::Left), Err(LetterFault::Missing("月".into())));
    assert_eq!(set("A月B星", 40.0, Align::Left), Err(LetterFault::Missing("月星".into())));
    assert_eq!(set("  ", 40.0, Align::Left), Err(LetterFault::Nothing));
    let as_font = |bytes: &[u8]| {
        let setting =
            LetterSetting { capital_mm: 40.0, at: Point::default(), align: Align::Left, spacing_mm: None };
        letters(&["A"], bytes, &setting)
    };
    assert_eq!(as_font(b"no font"), Err(LetterFault::NoFont));
    assert!(as_font(&FONT[..FONT.len() / 3]).is_err(), "half a font");
    let fits = |outline: &Outline, text: &str| letters_fit(outline, &of(text));
    let panel = Outline::rectangle(900.0, 400.0);
    assert_eq!(fits(&panel, "HOUSE"), Ok(()));
    let off = |found: Result<(), LetterFault>| matches!(found, Err(LetterFault::OffThePanel(_)));
    assert!(off(fits(&panel, "HOUSEHOUSEHOUSEHOUSEHOUSE")), "over the border");
    assert!(off(fits(&Outline::rectangle(100.0, 100.0), "H")), "outside");
    let mut holed = panel.clone();
    holed.cutouts.push(Contour::circle(Point::new(330.0, 220.0), 15.0));
    assert!(off(fits(&holed, "HOUSE")), "over a cut-out");
    holed.cutouts[0] = Contour::circle(Point::new(360.0, 220.0), 120.0);
    assert!(off(fits(&holed, "I")), "within a cut-out");
    let twice: Vec<Path> = of("H").into_iter().chain(of("O")).collect();
    assert!(matches!(letters_fit(&panel, &twice), Err(LetterFault::Crossing(_))), "one over the other");
}

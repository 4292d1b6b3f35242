//! What holds for every drawing sheet, checked on the SVG as another program reads it (`usvg`): the same bytes
//! twice, a true scale, nothing outside the frame, no text over a line or another text, nothing lost.

use crate::panels::{desk, others, sheet_of, vanity, wall};
use proptest::prelude::{ProptestConfig, prop, proptest};
use resvg::usvg;
use resvg::usvg::tiny_skia_path::PathSegment;
use underlit::shape::{Arc, Contour, Mark, MarkKind, Outline, Point, Segment};
use underlit::sheets::{Approval, Area, Paper, Sheet, SheetError, SheetInput, draw};
use underlit::units::DisplayUnits;

/// A point is 1/96 in where SVG counts pixels (CSS).
const MM_PER_PIXEL: f64 = 25.4 / 96.0;

/// What another program sees on a page, in millimetres.
#[derive(Default)]
struct Seen {
    /// Texts with the box of their ink and whether they are white.
    texts: Vec<(String, Area, bool)>,
    /// Strokes as short lines, by the name of their group.
    lines: Vec<(String, Point, Point)>,
    /// Boxes of what is filled.
    fills: Vec<Area>,
}

fn seen(svg: &str) -> Seen {
    let mut options = usvg::Options::default();
    let fonts = options.fontdb_mut();
    fonts.load_font_data(notosans::REGULAR_TTF.to_vec());
    fonts.load_font_data(notosans::BOLD_TTF.to_vec());
    let tree = usvg::Tree::from_str(svg, &options).expect("the SVG is sound");
    let mut seen = Seen::default();
    look(tree.root(), "", &mut seen);
    seen
}

fn area(rect: usvg::Rect) -> Area {
    let mm = |pixels: f32| f64::from(pixels) * MM_PER_PIXEL;
    Area { left: mm(rect.left()), top: mm(rect.top()), right: mm(rect.right()), bottom: mm(rect.bottom()) }
}

/// The box of a text's ink on the page.
fn ink(text: &usvg::Text) -> Area {
    let inner = text.flattened().bounding_box();
    let placed = inner.transform(text.abs_transform());
    area(placed.expect("a text stays on the page"))
}

fn look(group: &usvg::Group, name: &str, seen: &mut Seen) {
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => {
                let name = if inner.id().is_empty() { name } else { inner.id() };
                look(inner, name, seen);
            }
            usvg::Node::Text(text) => {
                let words = text.chunks().iter().map(|c| c.text()).collect::<String>();
                let white = text.chunks().iter().flat_map(|c| c.spans()).any(
                    |s| matches!(s.fill().map(|f| f.paint()), Some(usvg::Paint::Color(c)) if c.red == 255),
                );
                seen.texts.push((words, ink(text), white));
            }
            usvg::Node::Path(path) => {
                if path.stroke().is_none() {
                    seen.fills.push(area(path.abs_bounding_box()));
                    continue;
                }
                for (a, b) in short_lines(path) {
                    seen.lines.push((name.into(), a, b));
                }
            }
            usvg::Node::Image(_) => panic!("a sheet has no pictures"),
        }
    }
}

/// A path as short lines on the page.
fn short_lines(path: &usvg::Path) -> Vec<(Point, Point)> {
    let transform = path.abs_transform();
    let place = |p: usvg::tiny_skia_path::Point| {
        let mut p = p;
        transform.map_point(&mut p);
        Point::new(f64::from(p.x) * MM_PER_PIXEL, f64::from(p.y) * MM_PER_PIXEL)
    };
    let (mut lines, mut at, mut start) = (Vec::new(), Point::default(), Point::default());
    for segment in path.data().segments() {
        match segment {
            PathSegment::MoveTo(p) => (at, start) = (place(p), place(p)),
            PathSegment::LineTo(p) => {
                lines.push((at, place(p)));
                at = place(p);
            }
            PathSegment::QuadTo(..) => panic!("nothing here is drawn with quadratic curves"),
            PathSegment::CubicTo(b, c, d) => {
                let (a, b, c, d) = (at, place(b), place(c), place(d));
                for i in 1..=24 {
                    let t = f64::from(i) / 24.0;
                    let u = 1.0 - t;
                    let p = a * (u * u * u) + b * (3.0 * u * u * t) + c * (3.0 * u * t * t) + d * (t * t * t);
                    lines.push((at, p));
                    at = p;
                }
            }
            PathSegment::Close => {
                lines.push((at, start));
                at = start;
            }
        }
    }
    lines
}

/// The box of the panel's outline as its path data says. `usvg` makes cubics of arcs, which is too rough for this;
/// `kurbo` works out an arc's centre and angles, and the arc is walked in steps of a few thousandths of a turn.
fn extent(svg: &str) -> Area {
    let document = roxmltree::Document::parse(svg).expect("the SVG is XML");
    let outline = document.descendants().find(|n| n.attribute("id") == Some("panel-outline"));
    let data = outline.and_then(|n| n.attribute("d")).expect("the outline is drawn");
    let (mut at, mut points) = (kurbo::Point::ZERO, Vec::new());
    for segment in svgtypes::PathParser::from(data) {
        use svgtypes::PathSegment as S;
        let to = match segment.expect("the path is sound") {
            S::MoveTo { x, y, .. } | S::LineTo { x, y, .. } => kurbo::Point::new(x, y),
            S::EllipticalArc { rx, ry, x_axis_rotation, large_arc, sweep, x, y, .. } => {
                let arc = kurbo::SvgArc {
                    from: at,
                    to: kurbo::Point::new(x, y),
                    radii: kurbo::Vec2::new(rx, ry),
                    x_rotation: x_axis_rotation.to_radians(),
                    large_arc,
                    sweep,
                };
                let arc = kurbo::Arc::from_svg_arc(&arc).expect("an arc has a radius");
                points.extend((0..=4000).map(|i| {
                    let angle = arc.start_angle + arc.sweep_angle * f64::from(i) / 4000.0;
                    let (x, y) = (arc.radii.x * angle.cos(), arc.radii.y * angle.sin());
                    let (sin, cos) = arc.x_rotation.sin_cos();
                    arc.center + kurbo::Vec2::new(x * cos - y * sin, x * sin + y * cos)
                }));
                kurbo::Point::new(x, y)
            }
            S::ClosePath { .. } => continue,
            other => panic!("no panel here has a {other:?}"),
        };
        at = to;
        points.push(at);
    }
    let low = |of: fn(&kurbo::Point) -> f64| points.iter().map(of).fold(f64::INFINITY, f64::min);
    let high = |of: fn(&kurbo::Point) -> f64| points.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
    Area { left: low(|p| p.x), top: low(|p| p.y), right: high(|p| p.x), bottom: high(|p| p.y) }
}

/// True where a line has a point inside an area: sampled far finer than a letter.
fn runs_through(area: &Area, a: Point, b: Point) -> bool {
    let steps = (a.distance(b) / 0.1).ceil().max(1.0) as u32;
    (0..=steps).any(|i| {
        let p = a.towards(b, f64::from(i) / f64::from(steps));
        p.x > area.left && p.x < area.right && p.y > area.top && p.y < area.bottom
    })
}

/// Everything that holds for every sheet.
fn holds(name: &str, input: &SheetInput, sheet: &Sheet) {
    let frame = sheet.page.frame();
    for (number, svg) in std::iter::once(&sheet.svg).chain(&sheet.further_svgs).enumerate() {
        let seen = seen(svg);
        let place = format!("{name}, sheet {}", number + 1);
        let recorded = &sheet.texts[number];
        assert_eq!(seen.texts.len(), recorded.len(), "{place}: every text is recorded");
        for ((words, ink, white), placed) in seen.texts.iter().zip(recorded) {
            assert_eq!(words, &placed.text, "{place}");
            // Accents on capitals reach above the recorded box by design.
            assert!(
                placed.area.grown(0.45).holds(ink),
                "{place}: `{words}` {ink:?} leaves {:?}",
                placed.area
            );
            let in_strip = frame.grown(5.0).holds(ink) && words.chars().count() <= 2;
            assert!(frame.holds(ink) || in_strip, "{place}: `{words}` leaves the frame");
            for (group, a, b) in &seen.lines {
                assert!(
                    *white || !runs_through(ink, *a, *b),
                    "{place}: a line of `{group}` {a:?} {b:?} runs through `{words}` {ink:?}"
                );
            }
            for fill in seen.fills.iter().filter(|f| !white && f.width() < 100.0) {
                assert!(!fill.overlaps(ink), "{place}: a filled mark {fill:?} covers `{words}` {ink:?}");
            }
        }
        for (i, a) in recorded.iter().enumerate() {
            for b in &recorded[i + 1..] {
                // Lines of one label stand close; their inks must not touch.
                assert!(
                    !a.area.grown(-0.12).overlaps(&b.area.grown(-0.12)),
                    "{place}: `{}` and `{}` overlap",
                    a.text,
                    b.text
                );
            }
        }
        for (group, a, b) in seen.lines.iter().filter(|(group, ..)| group != "frame") {
            let reach = frame.grown(0.51);
            for p in [a, b] {
                assert!(
                    p.x > reach.left && p.x < reach.right && p.y > reach.top && p.y < reach.bottom,
                    "{place}: a line of `{group}` leaves the frame at {p:?}"
                );
            }
        }
        if number == 0 {
            let drawn = extent(svg);
            let scale = sheet.scale.reduction();
            // Four decimals on paper: half of the last one at each end, and for arcs what it does to their middle.
            let same = |paper: f64, mm: f64| (paper * scale - mm).abs() < 5e-4 * scale;
            let f = &input.figures;
            assert!(same(drawn.width(), f.width_mm), "{place}: {} is not {}", drawn.width(), f.width_mm);
            assert!(same(drawn.height(), f.height_mm), "{place}: {} is not {}", drawn.height(), f.height_mm);
        }
    }
}

fn drawn(name: &str, input: &SheetInput) -> Sheet {
    let sheet = draw(input).unwrap_or_else(|e| panic!("{name}: {e}"));
    holds(name, input, &sheet);
    sheet
}

fn words(sheet: &Sheet) -> Vec<String> {
    sheet.texts.iter().flatten().map(|p| p.text.clone()).collect()
}

#[track_caller]
fn says(sheet: &Sheet, expected: &[&str]) {
    let words = words(sheet);
    for text in expected {
        assert!(words.iter().any(|w| w == text), "`{text}` is not on the sheet: {words:?}");
    }
}

#[test]
fn a_curved_desk() {
    let sheet = drawn("desk", &desk());
    assert_eq!((sheet.page.paper, sheet.scale.to_string()), (Paper::A4, "1:20".into()));
    assert_eq!(sheet.remarks, Vec::<String>::new());
    // Overall, corners of the arcs, radii: the desk's own numbers.
    says(&sheet, &["2400", "[94.49]", "150 [5.91]", "2250 [88.58]", "600 [23.62]", "2× R150", "[5.91]"]);
    says(&sheet, &["CABLE EXIT", "2 m lead", "FRONT", "TOP", "1", "8", "LIT"]);
}

#[test]
fn a_wall_in_three_pieces() {
    let sheet = drawn("wall", &wall());
    says(&sheet, &["3000", "2400", "1000", "S1", "S2", "A: 150 × 100", "2475 [97.44]", "350 [13.78]"]);
    assert_eq!(words(&sheet).iter().filter(|w| *w == "[39.37]").count(), 3, "each piece has its width");
    assert_eq!(words(&sheet).iter().filter(|w| *w == "CABLE EXIT").count(), 3);
}

#[test]
fn a_vanity_with_basins_and_a_tap() {
    let sheet = drawn("vanity", &vanity());
    assert_eq!((sheet.page.paper, sheet.scale.to_string()), (Paper::A4, "1:10".into()));
    says(&sheet, &["A: 420 × 315", "B: Ø340", "C: Ø35", "330 [12.99]", "870 [34.25]", "440 [17.32]"]);
}

#[test]
fn every_field_of_the_title_block_is_there() {
    let sheet = drawn("desk", &desk());
    says(
        &sheet,
        &[
            "Lantern Stone Works",
            "quay-desk / front",
            "2027-01-11",
            "1/1",
            "Reception desk, front panel",
            "Mara Quill (client), Ivo Tarn (engineer)",
            "Ada Fenn",
            "Rendering",
            "A",
            "For approval",
            "en",
            "1:20",
            "±0.5 mm",
            "mm [in]",
            "Approved",
            "Approved as noted",
            "Revise and resubmit",
            "Rejected",
        ],
    );
    let digest = desk().outline_digest.short();
    let version = env!("CARGO_PKG_VERSION");
    says(&sheet, &[&format!("Outline SHA-256 {digest}… Drawn with underlit {version}")]);
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let once = draw(&vanity()).expect("it draws");
    let again = std::thread::spawn(|| draw(&vanity()).expect("it draws")).join().expect("it ends");
    assert!(once == again);
    assert_eq!(once.png(60.0), again.png(60.0));
    let mut other = vanity();
    other.revision = "B".into();
    assert_ne!(draw(&other).expect("it draws").pdf, once.pdf);
}

#[test]
fn inches_first_on_letter_paper() {
    let mut input = vanity();
    input.units = DisplayUnits::In;
    input.paper = Paper::Letter;
    let sheet = drawn("vanity in inches", &input);
    says(&sheet, &["47.24", "[1200]", "in [mm]", "A: 16.54 × 12.4", "1, 3; 7.87 ft [2.4 m] in all"]);
    assert!(["1:8", "1:12"].contains(&sheet.scale.to_string().as_str()), "{}", sheet.scale);
}

#[test]
fn all_kinds_of_panels_hold() {
    for (name, input) in others() {
        drawn(name, &input);
    }
}

#[test]
fn hostile_texts_are_escaped_and_fitted() {
    let mut input = vanity();
    input.title = "</text><script>alert(\"x\")</script> & 'so' ]]> <!-- on".into();
    input.client = "Extraordinarily-long-name-without-any-space-".repeat(8);
    input.project = "\u{202e}desrever\u{202c} שלום \u{0}\u{7}end".into();
    input.notes = vec!["a".repeat(3000), "line\nbreak\ttab".into(), String::new()];
    input.approvals.push(Approval { role: "site manager".into(), name: "N".repeat(300) });
    input.marker = Some("NOT RELEASED ".repeat(30));
    let sheet = drawn("hostile", &input);
    for svg in std::iter::once(&sheet.svg).chain(&sheet.further_svgs) {
        let document = roxmltree::Document::parse(svg).expect("the SVG is XML");
        assert!(document.descendants().all(|n| n.tag_name().name() != "script"));
        assert!(!svg.contains(['\u{202e}', '\u{202c}', '\u{0}', '\u{7}']));
    }
    let all = words(&sheet);
    // Nothing is cut off: every letter of the long texts is somewhere on the sheets.
    let count = |letter: &str, text: &[String]| text.iter().map(|w| w.matches(letter).count()).sum::<usize>();
    let runs: Vec<String> = all.iter().filter(|w| w.chars().all(|c| c == 'a')).cloned().collect();
    assert_eq!(count("a", &runs), 3000);
    assert!(all.concat().contains(&input.client), "the client's name is whole, in the notes");
    let names: Vec<String> = all.iter().filter(|w| w.contains("NNNNNNNNNN")).cloned().collect();
    assert!(count("N", &names) >= 300);
    says(&sheet, &["desrever □□□□ end"]);
    assert!(sheet.remarks.iter().any(|r| r.contains('□')), "{:?}", sheet.remarks);
}

#[test]
fn what_one_sheet_cannot_hold_goes_on_the_next() {
    let mut input = desk();
    input.notes =
        (1..=90).map(|i| format!("Remark number {i} of the fitter, with words enough for a line.")).collect();
    let sheet = drawn("many notes", &input);
    assert!(!sheet.further_svgs.is_empty());
    let all = words(&sheet).join(" ");
    for i in 1..=90 {
        assert!(all.contains(&format!("Remark number {i} of")), "note {i}");
    }
    let count = sheet.further_svgs.len() + 1;
    says(&sheet, &[&format!("1/{count}"), &format!("{count}/{count}"), "Notes (continued)"]);
}

#[test]
fn a_larger_paper_where_the_given_one_is_too_small() {
    let input = sheet_of(Outline::rectangle(15_000.0, 2500.0), "hall / frieze", "Frieze");
    let sheet = drawn("frieze", &input);
    assert_eq!(sheet.page.paper, Paper::A3);
    assert!(sheet.remarks.iter().any(|r| r.contains("A4 cannot hold it")), "{:?}", sheet.remarks);
}

#[test]
fn what_cannot_be_drawn_is_refused_with_a_reason() {
    let code = |input: &SheetInput| draw(input).expect_err("refused").code();
    assert_eq!(code(&sheet_of(Outline::default(), "a / b", "Nothing")), "sheet-nothing-to-draw");
    let mut unknown = vanity();
    unknown.lit_edges = vec![7];
    assert_eq!(draw(&unknown), Err(SheetError::NoSuchEdge { number: 7, edges: 4 }));
    let mut number = vanity();
    number.sheet_number = 3;
    assert_eq!(code(&number), "sheet-number");
    assert_eq!(code(&sheet_of(Outline::rectangle(60_000.0, 500.0), "a / b", "Long")), "sheet-too-large");
    let sheet = draw(&vanity()).expect("it draws");
    assert_eq!(sheet.png(5000.0).expect_err("too fine").code(), "sheet-export");
}

/// A panel from a few numbers: corners around a middle joined by lines and arcs, holes, marks, seams.
#[test]
fn a_sheet_that_its_panel_would_leave_is_an_internal_error() {
    // Figures that say less than the outline's own points do, as those of an arch without its top would.
    for spoil in [
        (|input: &mut SheetInput| input.figures.height_mm *= 0.7) as fn(&mut SheetInput),
        |input| input.figures.width_mm -= 0.01,
        |input| input.figures.lower_left.x += 5.0,
    ] {
        let mut input = desk();
        spoil(&mut input);
        let error = draw(&input).expect_err("the panel leaves its place");
        assert!(error.is_bug() && error.to_string().contains("internal error"), "{error}");
    }
}

fn panel_of(corners: &[(f64, f64)], holes: &[(f64, f64)], marks: &[(f64, f64)], paper: Paper) -> SheetInput {
    let count = corners.len();
    let at = |i: usize| {
        let (share, _) = corners[i % count];
        let angle = std::f64::consts::TAU * i as f64 / count as f64;
        Point::at_angle(angle) * (400.0 + 500.0 * share)
    };
    let segments = (0..count)
        .map(|i| match corners[i].1 {
            bulge if bulge.abs() < 0.08 => Segment::line(at(i), at(i + 1)),
            bulge => Segment::Arc(Arc { start: at(i), end: at(i + 1), bulge }),
        })
        .collect();
    let mut outline = Outline::of(Contour { segments });
    for (i, (share, size)) in holes.iter().enumerate() {
        let angle = std::f64::consts::TAU * i as f64 / holes.len() as f64 + 0.4;
        let centre = Point::at_angle(angle) * (110.0 + 90.0 * share);
        outline.cutouts.push(Contour::circle(centre, 6.0 + 40.0 * size));
    }
    for (i, (share, turn)) in marks.iter().enumerate() {
        let kind = MarkKind::ALL[i % MarkKind::ALL.len()];
        let at = at((share * count as f64) as usize) * 0.8;
        let text = (i % 2 == 0).then(|| "beside the plinth, 2 m lead".to_string());
        outline.marks.push(Mark { kind, at, text, heading_deg: (*turn > 0.5).then_some(turn * 360.0) });
    }
    let mut input = sheet_of(outline, "any / panel", "Any panel");
    input.lit_edges = input.figures.edges.iter().map(|e| e.number).filter(|n| n % 2 == 1).collect();
    input.paper = paper;
    if paper.sides_mm().0.fract() != 0.0 {
        input.units = DisplayUnits::In;
    }
    input
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, ..ProptestConfig::default() })]

    #[test]
    fn any_panel_holds(
        corners in prop::collection::vec((0.0..1.0f64, -0.25..0.4f64), 3..9),
        holes in prop::collection::vec((0.0..1.0f64, 0.0..1.0f64), 0..4),
        marks in prop::collection::vec((0.0..1.0f64, 0.0..1.0f64), 0..5),
        paper in prop::sample::select(Paper::ALL),
    ) {
        drawn("any panel", &panel_of(&corners, &holes, &marks, paper));
    }
}

//! What must come out the same everywhere: one sheet's very bytes; and the page that shows how even light would be.

use std::collections::BTreeMap;
use std::error::Error;

use crate::panels::{desk, others, vanity, wall};
use underlit::digest::Sha256Digest;
use underlit::model::panel::Panel;
use underlit::model::rendering::Rendering;
use underlit::model::snapshot::Drawing;
use underlit::shape::{
    Arc, Circle, Contour, EllipseArc, Extraction, LightingChoice, LuminancePicture, Outline, Point, Segment,
    figures, lit_edge_advice, luminance_picture,
};
use underlit::sheets::{
    EDITION, LightPage, SheetInput, draw, draw_light_page, harm_in_pdf, harm_in_svg, png, usual_paper,
};
use underlit::trust::sheet_input::sheet_input;
use underlit::units::DisplayUnits;

/// SHA-256 of the vanity's sheet as SVG and PDF and as PNG at 100 dots an inch.
const VANITY: [(&str, &str); 3] = [
    ("SVG", "ffa807011c8ef00f8282c645a2e538299131dded3e3d58f6829b33a49eb44aa8"),
    ("PDF", "b996d6a129320751e2a91b035ef0485bf971cdfa6da444aaf4c22b9671a65872"),
    ("PNG", "21847305cbaf0ba59fee8363ac88f10ee447abec717b02cc1bdc1dea1d0a6d74"),
];

#[test]
fn one_sheet_has_the_same_bytes_on_every_machine() -> Result<(), Box<dyn Error>> {
    let sheet = draw(&vanity())?;
    let drawn = [sheet.svg.as_bytes(), &sheet.pdf, &sheet.png(100.0)?].map(|b| Sha256Digest::of(b).hex());
    let told: Vec<(&str, &str)> =
        VANITY.iter().map(|(name, _)| *name).zip(drawn.iter().map(String::as_str)).collect();
    assert_eq!(
        told, VANITY,
        "The sheet of the vanity has other bytes than those kept here. Either this machine draws otherwise than others \
         do: then every signed rendering is in question; find out why. Or the way sheets are drawn, the version or a \
         drawing library was changed on purpose: then look at the sheet (cargo test --test sheets_for_outside writes \
         it to target/tmp/sheets), copy the three new digests into VANITY, and make the example book anew with \
         tests/make-example-repo."
    );
    Ok(())
}

/// What the verb `draw` makes of records.
fn filled_in() -> Result<SheetInput, Box<dyn Error>> {
    fn sample<T: serde::de::DeserializeOwned>(kind: &str) -> Result<T, Box<dyn Error>> {
        let path = format!("{}/tests/samples/{kind}/valid/every-field.json", env!("CARGO_MANIFEST_DIR"));
        Ok(serde_json::from_slice(&std::fs::read(path)?)?)
    }
    let outline = Outline::rectangle(2400.0, 800.0);
    let figures = figures(&outline);
    let drawing = Drawing {
        digest: Sha256Digest::of(b"outline"),
        outline,
        figures,
        nested: None,
        moved: BTreeMap::new(),
    };
    let panel = Panel { lit_edges: vec![1, 3], ..sample("panel")? };
    let drawn: Rendering = sample("rendering")?;
    let printed = drawn.printed.ok_or("the sample has what is printed")?;
    Ok(sheet_input(&sample("project")?, Some(&sample("swatch")?), &panel, &drawing, 3, &printed)
        .map_err(|fault| fault.to_string())?)
}

#[test]
fn sheets_that_come_out_otherwise_are_of_another_edition() -> Result<(), Box<dyn Error>> {
    let mut panels = vec![("desk", desk()), ("wall", wall()), ("vanity", vanity())];
    panels.extend(others());
    panels.push((
        "inches",
        SheetInput { units: DisplayUnits::In, paper: usual_paper(DisplayUnits::In), ..vanity() },
    ));
    let notes = (1..=60).map(|i| format!("Remark {i} with words enough for a line of notes.")).collect();
    panels.push(("spilling", SheetInput { notes, ..desk() }));
    panels.push(("as the verb fills it in", filled_in()?));
    let mut all = Vec::new();
    for (name, input) in panels {
        let sheet = draw(&input)?;
        all.extend(sheet.svgs().flat_map(str::bytes));
        all.extend(&sheet.pdf);
        for svg in sheet.svgs() {
            assert_eq!(harm_in_svg(svg.as_bytes()), None, "{name}");
        }
        assert_eq!(harm_in_pdf(&sheet.pdf), None, "{name}");
    }
    let edition = &Sha256Digest::of(&all).hex()[..12];
    assert_eq!(
        EDITION, edition,
        "Sheets come out otherwise than this edition of the drawing code says. Where that is meant, look at them (see the \
         test above), put the new edition into src/sheets/edition.rs, and make the example book anew with \
         tests/make-example-repo."
    );
    Ok(())
}

/// Runs a test of this file in a process of its own with other versions of the functions of `libm`: those that glibc
/// takes on a processor without FMA and AVX2, whose results differ in the last bit. Elsewhere the setting does nothing.
fn with_other_functions(test: &str) -> Result<(), Box<dyn Error>> {
    let done = std::process::Command::new(std::env::current_exe()?)
        .args([test, "--exact", "--quiet"])
        .env("GLIBC_TUNABLES", "glibc.cpu.hwcaps=-AVX2,-FMA,-FMA4,-AVX,-AVX512F,-AVX512VL,-SSE4_2")
        .output()?;
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stdout));
    assert!(String::from_utf8_lossy(&done.stdout).contains("1 passed"), "{test} was not run");
    Ok(())
}

#[test]
fn other_functions_of_the_processor_draw_the_same_bytes() -> Result<(), Box<dyn Error>> {
    with_other_functions("pictures::one_sheet_has_the_same_bytes_on_every_machine")
}

/// An outline whose numbers are off by the last bits, up or down in turn.
fn shaken(outline: &Outline, by: f64) -> Outline {
    let mut turn = by;
    let mut off = |v: f64| {
        turn = -turn;
        v * (1.0 + turn)
    };
    let mut point = |q: Point| Point::new(off(q.x), off(q.y));
    let shake = |segment: &Segment, point: &mut dyn FnMut(Point) -> Point| match segment {
        Segment::Circle(c) => Segment::Circle(Circle { centre: point(c.centre), ..*c }),
        Segment::Ellipse(e) => Segment::Ellipse(EllipseArc { major: point(e.major), ..*e }),
        other => other.clone(),
    };
    let contour = |c: &Contour, point: &mut dyn FnMut(Point) -> Point| {
        let mut made: Vec<Segment> = Vec::new();
        let corners: Vec<Point> = c.segments.iter().map(|s| point(s.start())).collect();
        for (i, segment) in c.segments.iter().enumerate() {
            let (start, end) = (corners[i], corners[(i + 1) % corners.len()]);
            made.push(match segment {
                Segment::Line { .. } => Segment::line(start, end),
                Segment::Arc(arc) => Segment::Arc(Arc { start, end, bulge: arc.bulge * (1.0 - by) }),
                other => shake(other, point),
            });
        }
        Contour { segments: made }
    };
    Outline {
        outer: contour(&outline.outer, &mut point),
        cutouts: outline.cutouts.iter().map(|c| contour(c, &mut point)).collect(),
        ..outline.clone()
    }
}

#[test]
fn last_bits_of_a_number_do_not_show_on_a_sheet() -> Result<(), Box<dyn Error>> {
    // A few units in the last place: as much as two good libraries of functions differ by, and what sums make of it.
    const LAST_BITS: f64 = 4e-15;
    let mut panels = vec![("desk", desk()), ("wall", wall()), ("vanity", vanity())];
    panels.extend(others());
    let mut hanging: Vec<String> = Vec::new();
    for (name, input) in panels {
        let plain = draw(&input)?;
        {
            let outline = shaken(&input.outline, LAST_BITS);
            let moved = draw(&SheetInput { figures: figures(&outline), outline, ..input.clone() })?;
            let lines = |svgs: Vec<&str>| svgs.join("\n").lines().map(str::to_owned).collect::<Vec<_>>();
            let pairs = lines(plain.svgs().collect()).into_iter().zip(lines(moved.svgs().collect()));
            hanging.extend(pairs.filter(|(a, b)| a != b).map(|(a, b)| format!("{name}:\n{a}\n{b}")));
            if plain.svgs().eq(moved.svgs()) {
                assert_eq!(plain.pdf, moved.pdf, "{name}");
            } else {
                assert_eq!(plain.svgs().count(), moved.svgs().count(), "{name}");
            }
        }
    }
    assert!(
        hanging.is_empty(),
        "what a sheet shows hangs on the last bits of a number: {}",
        hanging.join("\n")
    );
    Ok(())
}

#[test]
fn every_sheet_can_be_had_as_png() -> Result<(), Box<dyn Error>> {
    let mut input = desk();
    input.notes = (1..=60).map(|i| format!("Remark {i} with words enough for a line of notes.")).collect();
    let sheet = draw(&input)?;
    let svgs: Vec<&str> = sheet.svgs().collect();
    assert!(svgs.len() > 1, "the notes spill");
    for svg in svgs {
        let picture = png(svg, 50.0)?;
        assert_eq!(picture, png(svg, 50.0)?, "the same bytes each time");
        let size = image::load_from_memory(&picture)?;
        // A4 at 50 dots an inch, upright or lying: 297 and 210 mm by 25.4.
        let mut sides = [size.width(), size.height()];
        sides.sort_unstable();
        assert_eq!(sides, [413, 585]);
    }
    Ok(())
}

fn pictures(outline: &Outline, lit: &[usize]) -> Vec<(Extraction, LuminancePicture)> {
    [Extraction::Constant, Extraction::Graded]
        .map(|extraction| {
            let choice = LightingChoice {
                lit_edges: lit.to_vec(),
                extraction,
                per_mm: 1.0 / 300.0,
                unlit_edge_reflectance: 0.0,
                points_along: 30,
            };
            (extraction, luminance_picture(outline, &figures(outline), &choice).expect("edges are lit"))
        })
        .into()
}

fn page_of(outline: &Outline, lit: &[usize]) -> (Vec<(Extraction, LuminancePicture)>, String) {
    let measured = figures(outline);
    let pictures = pictures(outline, lit);
    let svg = draw_light_page(&LightPage {
        title: "bar <front> & more",
        outline,
        figures: &measured,
        lit_edges: lit,
        extracted_share: 0.63,
        guide_mm: 8.0,
        pictures: &pictures,
        advice: lit_edge_advice(measured.shape, lit.len()),
    });
    (pictures, svg)
}

fn texts(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).expect("the page is XML");
    let texts = document.descendants().filter(|n| n.has_tag_name("text"));
    texts.filter_map(|n| n.text().map(str::to_owned)).collect()
}

#[test]
fn three_edges_on_an_oblong_are_shown() -> Result<(), Box<dyn Error>> {
    let bar = Outline::rectangle(1200.0, 300.0);
    let (pictures, svg) = page_of(&bar, &[1, 2, 3]);
    let words = texts(&svg);
    assert!(words.iter().any(|w| w.starts_with("A MODEL. Computed with")), "{words:?}");
    assert!(words.iter().any(|w| w.starts_with("Light one long edge")), "{words:?}");
    for ((_, picture), name) in pictures.iter().zip(["Constant extraction", "Graded extraction"]) {
        let nine = picture.nine_point_uniformity.expect("nine points");
        let heading =
            format!("{name}: nine points Lmin/Lmax {nine:.2}, whole face {:.2}", picture.face_uniformity);
        assert!(words.contains(&heading), "{heading} in {words:?}");
        for value in picture.nine_points.iter().flatten() {
            assert!(words.contains(&format!("{value:.2}")), "{value} in {words:?}");
        }
    }
    // What the eye sees: at the right, by the short lit edge, the face is brighter than at the left.
    let seen = image::load_from_memory(&png(&svg, 60.0)?)?.to_luma8();
    let at =
        |x_mm: f64, y_mm: f64| seen.get_pixel((x_mm * 60.0 / 25.4) as u32, (y_mm * 60.0 / 25.4) as u32).0[0];
    // The face stands from 24 to 186 mm across the page; 88 mm down is between two rows of numbers.
    let (left, right) = (at(30.0, 86.5), at(182.0, 86.5));
    assert!(right > left + 25, "left {left}, right {right}");
    assert_eq!(svg, page_of(&bar, &[1, 2, 3]).1, "the same bytes each time");
    Ok(())
}

#[test]
fn pages_of_all_kinds_of_faces_stay_on_the_paper() {
    let ring = Outline::of(Contour::circle(Point::default(), 300.0));
    let drawn = others().into_iter().map(|(_, input)| (input.outline, vec![1]));
    let made = [
        (Outline::rectangle(3000.0, 60.0), vec![1]),
        (Outline::rectangle(300.0, 2000.0), vec![2, 4]),
        (Outline::rectangle(60.0, 2000.0), vec![2]),
        (ring, vec![1]),
        (desk().outline, vec![1, 4, 6]),
        (vanity().outline, vec![1, 3]),
        (wall().outline, vec![1, 2, 3, 4]),
    ];
    for (outline, lit) in made.into_iter().chain(drawn) {
        let (pictures, svg) = page_of(&outline, &lit);
        let document = roxmltree::Document::parse(&svg).expect("the page is XML");
        for text in document.descendants().filter(|n| n.has_tag_name("text")) {
            let number =
                |name: &str| text.attribute(name).and_then(|v| v.parse::<f64>().ok()).expect("a number");
            let (x, y, length) = (number("x"), number("y"), number("textLength"));
            let start = match text.attribute("text-anchor") {
                Some("middle") => x - length / 2.0,
                Some("end") => x - length,
                _ => x,
            };
            let said = text.text().unwrap_or_default();
            assert!(
                start >= 5.0 && start + length <= 205.0 && y > 5.0 && y < 292.0,
                "`{said}` leaves the paper"
            );
        }
        // Every cell of the face has a shade.
        let shades =
            document.descendants().filter(|n| n.has_tag_name("rect") && n.has_attribute("fill")).count();
        assert!(shades > pictures.len() * pictures[0].1.rows, "{shades}");
    }
}

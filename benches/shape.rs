//! How long it takes to read and measure a drawing of 10,000 pieces, and to split one of 40 corners.
//!
//! Run: cargo bench --bench shape. Against ezdxf and shapely on the same file: benches/shape_reference.py FILE, with
//! the file whose name is printed.

use std::f64::consts::TAU;
use std::io::Write as _;
use std::time::{Duration, Instant};

use underlit::shape::{
    Arc, Contour, Format, Outline, Point, ReadOptions, Segment, Sheet, SplitLimits, TapeLimits, figures,
    read, split, to_dxf,
};

/// A ring of alternating lines and arcs.
fn ring(pieces: usize) -> Outline {
    let place = |i: usize| {
        let wave = 1500.0 + 40.0 * (i as f64 * 0.05).sin();
        Point::at_angle(TAU * (i % pieces) as f64 / pieces as f64) * wave
    };
    let segments = (0..pieces)
        .map(|i| {
            let (start, end) = (place(i), place((i + 1) % pieces));
            if i % 2 == 0 { Segment::line(start, end) } else { Segment::Arc(Arc { start, end, bulge: 0.01 }) }
        })
        .collect();
    Outline::of(Contour { segments })
}

/// The same as loose entities, one by one, so that they must be joined.
fn loose_dxf(outline: &Outline) -> String {
    let mut out =
        String::from("0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n");
    for segment in &outline.outer.segments {
        let (a, b) = (segment.start(), segment.end());
        if let Segment::Arc(arc) = segment {
            let (centre, from) = (arc.centre(), arc.start_angle().to_degrees());
            let (radius, to) = (arc.radius(), from + arc.sweep().to_degrees());
            out += &format!(
                "0\nARC\n8\n0\n10\n{:?}\n20\n{:?}\n40\n{radius:?}\n50\n{from:?}\n51\n{to:?}\n",
                centre.x, centre.y
            );
        } else {
            out += &format!("0\nLINE\n8\n0\n10\n{:?}\n20\n{:?}\n11\n{:?}\n21\n{:?}\n", a.x, a.y, b.x, b.y);
        }
    }
    out + "0\nENDSEC\n0\nEOF\n"
}

fn best_of<T>(runs: u32, mut work: impl FnMut() -> T) -> (Duration, T) {
    let mut best: Option<(Duration, T)> = None;
    for _ in 0..runs.max(1) {
        let begun = Instant::now();
        let made = work();
        let took = begun.elapsed();
        if best.as_ref().is_none_or(|(known, _)| took < *known) {
            best = Some((took, made));
        }
    }
    best.unwrap_or_else(|| unreachable!("there is at least one run"))
}

fn main() -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let drawn = ring(10_000);
    for (name, text) in [("loose", loose_dxf(&drawn)), ("polyline", to_dxf(&drawn))] {
        let file = std::env::temp_dir().join(format!("underlit-bench-{name}.dxf"));
        std::fs::write(&file, &text)?;
        let (took, area) = best_of(5, || {
            let reading = read(Format::Dxf, text.as_bytes(), &ReadOptions::default());
            reading.map(|r| figures(&r.outline).area_mm2).unwrap_or(f64::NAN)
        });
        writeln!(
            out,
            "read, check and measure 10,000 pieces, {name}: {took:?}, area {area} mm2, {}",
            file.display()
        )?;
    }
    let corners: Vec<Point> = (0..40)
        .map(|i| Point::at_angle(TAU * f64::from(i) / 40.0) * if i % 2 == 0 { 1500.0 } else { 1100.0 })
        .collect();
    let limits = SplitLimits {
        sheet: Sheet { width_mm: 2000.0, height_mm: 1200.0 },
        least_piece_mm: 50.0,
        clear_of_cutouts_mm: 25.0,
        tape: TapeLimits { shortest_mm: 50.0, least_bend_radius_mm: None },
        lit_edges: Vec::new(),
        most_pieces: 12,
    };
    let outline = Outline::polygon(&corners);
    let (took, options) = best_of(3, || split(&outline, &limits));
    let found = options.map(|o| o.first().map_or(0, |best| best.pieces.len()));
    writeln!(out, "split an outline of 40 corners: {took:?}, pieces {found:?}")
}

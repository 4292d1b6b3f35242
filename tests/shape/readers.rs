//! Damaged drawings of all three formats: read or refused with a reason, never a panic, never for long.
//!
//! A seeded stand-in for the fuzz targets in `tests/fuzz/`, so that every test run covers some of it. Set
//! `UNDERLIT_READER_SECONDS` to let it run longer, and `UNDERLIT_READER_SEEDS` to a folder of drawings to start from.

use std::time::{Duration, Instant};

use underlit::shape::{
    Arc, Contour, DrawingUnit, Format, Nurbs, Outline, Point, ReadOptions, Segment, figures, read, to_dxf,
    to_json, to_svg,
};

/// How many damaged drawings every run tries: the same ones each time.
const LEAST_RUNS: u64 = 60;

/// A small generator of numbers (xorshift64, Marsaglia 2003), so that a finding can be repeated.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % limit.max(1) as u64) as usize
    }
}

fn sample() -> Outline {
    let p = Point::new;
    let spline = Nurbs::new(
        2,
        vec![0.0, 0.0, 0.0, 0.4, 1.0, 1.0, 1.0],
        vec![p(400.0, 400.0), p(300.0, 430.0), p(200.0, 380.0), p(0.0, 400.0)],
        vec![1.0, 0.8, 1.7, 1.0],
    );
    let outer = Contour {
        segments: vec![
            Segment::line(p(0.0, 0.0), p(1200.0, 0.0)),
            Segment::Arc(Arc { start: p(1200.0, 0.0), end: p(1200.0, 400.0), bulge: 0.31 }),
            Segment::line(p(1200.0, 400.0), p(400.0, 400.0)),
            Segment::Spline(spline.expect("its parts fit")),
            Segment::line(p(0.0, 400.0), p(0.0, 0.0)),
        ],
    };
    Outline { cutouts: vec![Contour::circle(p(300.0, 150.0), 33.3)], ..Outline::of(outer) }
}

const HAND_WRITTEN_DXF: &str = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nB\n10\n0\n20\n0\n0\nCIRCLE\n8\n0\n10\n5\n20\n5\n40\n2\n0\nENDBLK\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nINSERT\n8\n0\n2\nB\n10\n300\n20\n60\n41\n3\n42\n2\n50\n30\n70\n2\n44\n50\n0\nPOLYLINE\n8\n0\n70\n1\n0\nVERTEX\n10\n0\n20\n0\n42\n0.5\n0\nVERTEX\n10\n500\n20\n0\n0\nVERTEX\n10\n500\n20\n400\n0\nSEQEND\n0\nELLIPSE\n10\n440\n20\n-40\n11\n20\n21\n5\n40\n0.4\n41\n0\n42\n6.283185307179586\n0\nENDSEC\n0\nEOF\n";

const HAND_WRITTEN_SVG: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="400mm" viewBox="0 0 600 400"><defs><circle id="c" r="9"/></defs><g transform="rotate(10) translate(20 -3)"><path d="M10 10 h400 q30 60 0 100 T300 200 S100 300 50 200 A90 40 20 0 1 10 10 z"/><use href="#c" x="300" y="80"/><rect x="130" y="120" width="50" height="30" rx="8"/><polygon points="220,60 250,60 240,90"/></g></svg>"##;

fn damaged(seed: &[u8], numbers: &mut Numbers) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..1 + numbers.below(4) {
        let length = bytes.len();
        if length < 8 {
            break;
        }
        let at = numbers.below(length);
        match numbers.below(6) {
            0 => bytes[at] = numbers.below(256) as u8,
            1 => bytes.truncate(at),
            2 => {
                let end = (at + numbers.below(60)).min(length);
                bytes.drain(at..end);
            }
            3 => {
                let from = numbers.below(length);
                let copied = bytes[from..(from + 40).min(length)].to_vec();
                bytes.splice(at..at, copied);
            }
            4 => {
                // Another digit, sign or exponent where a number stands.
                if bytes[at].is_ascii_digit() {
                    bytes[at] = b"0123456789-.e"[numbers.below(13)];
                }
            }
            _ => {
                let words: [&[u8]; 8] = [
                    b"1e308",
                    b"-0",
                    b"NaN",
                    b"99999999999999999999",
                    b"1e-320",
                    b"0",
                    b"\n0\nINSERT\n2\nB\n",
                    b"z",
                ];
                bytes.splice(at..at, words[numbers.below(8)].iter().copied());
            }
        }
    }
    bytes
}

#[test]
fn damaged_drawings_never_panic() {
    let seconds = std::env::var("UNDERLIT_READER_SECONDS").ok().and_then(|s| s.parse().ok()).unwrap_or(0);
    let sample = sample();
    let mut seeds: Vec<(Format, Vec<u8>)> = vec![
        (Format::Dxf, to_dxf(&sample).into_bytes()),
        (Format::Dxf, HAND_WRITTEN_DXF.into()),
        (Format::Svg, to_svg(&sample).into_bytes()),
        (Format::Svg, HAND_WRITTEN_SVG.into()),
        (Format::Json, to_json(&sample).into_bytes()),
    ];
    if let Ok(folder) = std::env::var("UNDERLIT_READER_SEEDS") {
        for entry in std::fs::read_dir(folder).expect("the folder of seeds").flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            if let (Some(format), Ok(bytes)) = (Format::of_name(&name), std::fs::read(entry.path())) {
                seeds.push((format, bytes));
            }
        }
    }
    let options = ReadOptions { unit: Some(DrawingUnit::Millimetre), ..ReadOptions::default() };
    let mut numbers = Numbers(0x9E37_79B9_7F4A_7C15);
    let (mut runs, mut sound) = (0_u64, 0_u64);
    let until = Instant::now() + Duration::from_secs(seconds);
    while runs < LEAST_RUNS || Instant::now() < until {
        let (format, seed) = &seeds[numbers.below(seeds.len())];
        let bytes = damaged(seed, &mut numbers);
        let keep = || {
            let file = std::env::temp_dir().join("underlit-reader-finding");
            std::fs::write(&file, &bytes).expect("the temporary folder can be written");
            file
        };
        let begun = Instant::now();
        let outcome = std::panic::catch_unwind(|| match read(*format, &bytes, &options) {
            Ok(reading) => {
                let measured = figures(&reading.outline);
                assert!(measured.area_mm2.is_finite() && measured.perimeter_mm.is_finite());
                let _ = (to_dxf(&reading.outline), to_svg(&reading.outline));
                true
            }
            Err(refusal) => {
                assert!(!refusal.flaws.is_empty());
                false
            }
        });
        match outcome {
            Ok(was_sound) => sound += u64::from(was_sound),
            Err(_) => panic!("a {format:?} of run {runs} panicked; it is kept as {}", keep().display()),
        }
        assert!(
            begun.elapsed() < Duration::from_secs(30),
            "a {format:?} of run {runs} took {:?}; it is kept as {}",
            begun.elapsed(),
            keep().display()
        );
        runs += 1;
    }
    assert!(sound > 0 && sound < runs, "{runs} runs, {sound} of them sound: nothing was tried");
}

#[test]
fn the_undamaged_seeds_are_read() {
    for (format, bytes, cutouts) in
        [(Format::Dxf, HAND_WRITTEN_DXF.as_bytes(), 3), (Format::Svg, HAND_WRITTEN_SVG.as_bytes(), 3)]
    {
        let reading = read(format, bytes, &ReadOptions::default());
        let outline = reading.unwrap_or_else(|r| panic!("{format:?}: {:?}", r.flaws)).outline;
        assert_eq!(figures(&outline).cutouts, cutouts, "{format:?}");
    }
}

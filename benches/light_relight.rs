//! A 12-megapixel photo to eight re-lit PNG pictures, beside a plain copy of its pixels through the same PNG
//! codec; and a thousand spectra to all their figures.
//!
//! Run with `cargo bench --bench light_relight`. `tests/outside/light/relight_numpy.py` times the same with
//! NumPy and colour-science on the same machine, given the folder that `UNDERLIT_BENCH` names.

#![allow(clippy::print_stdout, reason = "a bench tells its figures")]

use std::num::NonZero;
use std::time::{Duration, Instant};

use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder as _};
use underlit::light::area::Area;
use underlit::light::colour::{XYZ_TO_SRGB, encode, times};
use underlit::light::figures::figures;
use underlit::light::illuminants::{named, typical_white};
use underlit::light::mixing::mix;
use underlit::light::picture::Picture;
use underlit::light::relight::{Relight, View};
use underlit::light::spectrum::{COUNT, Spd, Transmittance};
use underlit::light::swatch_photo::{Bare, SwatchPhoto};

const WIDTH: usize = 4000;
const HEIGHT: usize = 3000;
const CCTS: [f64; 8] = [2733.0, 3000.0, 3500.0, 4000.0, 4500.0, 5000.0, 5700.0, 6500.0];

fn main() {
    let panel = light("LED-B3");
    let bytes = photo(&panel);
    if let Ok(load) = std::fs::read_to_string("/proc/loadavg") {
        println!("load of the machine: {}", load.split_whitespace().next().unwrap_or_default());
    }
    println!("photo: {WIDTH} × {HEIGHT}, PNG of {:.1} MB", bytes.len() as f64 / 1e6);
    if let Some(folder) = std::env::var_os("UNDERLIT_BENCH") {
        let path = std::path::Path::new(&folder).join("photo.png");
        if let Err(error) = std::fs::write(&path, &bytes) {
            println!("{}: {error}", path.display());
        }
    }
    let threads = std::thread::available_parallelism().unwrap_or(NonZero::<usize>::MIN);
    let lights: Vec<Spd> = CCTS.iter().filter_map(|cct| typical_white(*cct)).collect();

    let copy = best(3, || {
        let picture = read(&bytes);
        let one = encoded(&[picture.rgb], 1);
        assert!(!one.is_empty());
    });
    let copies = best(3, || {
        let picture = read(&bytes);
        let all: Vec<Vec<u8>> = CCTS.iter().map(|_| picture.rgb.clone()).collect();
        assert_eq!(encoded(&all, threads.get()).len(), CCTS.len());
    });
    let work = best(3, || {
        let picture = read(&bytes);
        let relight = prepared(&picture, &panel, &lights);
        assert_eq!(relight.pictures(&picture, threads).len(), CCTS.len());
    });
    let whole = best(3, || {
        let picture = read(&bytes);
        let relight = prepared(&picture, &panel, &lights);
        let pictures = relight.pictures(&picture, threads);
        assert_eq!(encoded(&pictures, threads.get()).len(), CCTS.len());
    });
    let picture = read(&bytes);
    let table = best(3, || {
        assert!(prepared(&picture, &panel, &lights).exposure() > 0.0);
    });
    println!("copy through the codec, one picture:        {copy:?}");
    println!("copy through the codec, eight pictures:     {copies:?}");
    println!("measure the photo and prepare eight lights: {table:?}");
    println!("PNG to eight re-lit pictures in memory:     {work:?}");
    println!("PNG to eight re-lit PNGs:                   {whole:?}");
    let over = whole.processor.as_secs_f64() / copies.processor.as_secs_f64().max(0.01);
    println!("ratio to eight plain copies, processor time: {over:.2}");
    if let Some(peak) = peak_megabytes() {
        println!("peak memory: {peak} MB");
    }

    let (warm, cool) = (light("LED-B1"), light("LED-B5"));
    let spectra: Vec<Spd> =
        (0..1000).filter_map(|i| mix(&warm, &cool, f64::from(i) / 999.0).ok()).map(|m| m.light).collect();
    let figures = best(3, || {
        assert!(spectra.iter().map(figures).all(|f| f.rf.is_some()));
    });
    println!("1000 spectra to all figures: {figures:?}");
}

fn light(name: &str) -> Spd {
    match named(name) {
        Ok(light) => light.at_unit_flux(),
        Err(error) => panic!("{error}"),
    }
}

/// Time on the clock and time of the processor; the second one hardly minds what else the machine does.
#[derive(Clone, Copy, Default)]
struct Taken {
    clock: Duration,
    processor: Duration,
}

impl std::fmt::Debug for Taken {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:.2} s ({:.2} s of processor)", self.clock.as_secs_f64(), self.processor.as_secs_f64())
    }
}

/// The least of several runs.
fn best(times: usize, work: impl Fn()) -> Taken {
    (0..times)
        .map(|_| {
            let (start, before) = (Instant::now(), processor_time());
            work();
            Taken { clock: start.elapsed(), processor: processor_time().saturating_sub(before) }
        })
        .min_by_key(|t| t.clock)
        .unwrap_or_default()
}

/// Processor time of this process so far, in steps of a hundredth of a second; zero where the system does not
/// tell.
fn processor_time() -> Duration {
    let ticks = || {
        let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
        let after_name = stat.rsplit_once(')')?.1;
        let mut fields = after_name.split_whitespace().skip(11);
        let user: u64 = fields.next()?.parse().ok()?;
        let system: u64 = fields.next()?.parse().ok()?;
        Some(user + system)
    };
    Duration::from_millis(ticks().unwrap_or(0) * 10)
}

fn read(bytes: &[u8]) -> Picture {
    Picture::read(bytes).unwrap_or_else(|e| panic!("{e}"))
}

fn prepared(picture: &Picture, panel: &Spd, lights: &[Spd]) -> Relight {
    let area = |x: f64, width: f64| Area::Rectangle { x, y: 50.0, width, height: 2900.0 };
    let photo = SwatchPhoto::measure(
        picture,
        &area(50.0, 3000.0),
        Bare::SameFrame(&area(3300.0, 600.0)),
        None,
        panel,
    )
    .unwrap_or_else(|e| panic!("{e}"));
    Relight::new(&photo, panel, lights, View::OneWhite { xyz: panel.xyz() })
}

/// Encodes pictures, as many at once as there are threads.
fn encoded(pictures: &[Vec<u8>], threads: usize) -> Vec<Vec<u8>> {
    let mut out = Vec::new();
    for group in pictures.chunks(threads.max(1)) {
        std::thread::scope(|scope| {
            let running: Vec<_> = group.iter().map(|rgb| scope.spawn(|| png(rgb))).collect();
            out.extend(running.into_iter().filter_map(|one| one.join().ok()));
        });
    }
    out
}

/// At the quickest setting that compresses.
fn png(rgb: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(rgb.len() / 2);
    let encoder = PngEncoder::new_with_quality(&mut out, CompressionType::Fast, FilterType::Up);
    match encoder.write_image(rgb, WIDTH as u32, HEIGHT as u32, ExtendedColorType::Rgb8) {
        Ok(()) => out,
        Err(error) => panic!("{error}"),
    }
}

/// A clouded honey stone with 1 % noise beside the bare panel.
fn photo(panel: &Spd) -> Vec<u8> {
    let values = (0..COUNT)
        .map(|i| (-(1.4 + 1.4 / (1.0 + ((380.0 + i as f64 - 500.0) / 45.0).exp()))).exp())
        .collect();
    let stone = Transmittance::new(values).unwrap_or_else(|e| panic!("{e}"));
    let bare = times(XYZ_TO_SRGB, panel.xyz());
    let scale = 0.85 / bare.iter().copied().fold(0.0, f64::max);
    let seen = times(XYZ_TO_SRGB, panel.xyz_through(&stone));
    let curve: Vec<u8> = (0..=4096).map(|i| (encode(f64::from(i) / 4096.0) * 255.0).round() as u8).collect();
    let mut state = 0x1234_5678_9ABC_DEFFu64;
    let mut noise = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        ((state >> 40) as f64 / f64::from(1u32 << 24) - 0.5) * 0.035
    };
    let mut rgb = Vec::with_capacity(WIDTH * HEIGHT * 3);
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let cloud = 1.0 + 0.25 * (x as f64 * 0.01).sin() * (y as f64 * 0.013).cos();
            for k in 0..3 {
                let light = if x < 3200 { seen[k] * cloud } else { bare[k] } * scale * (1.0 + noise());
                rgb.push(curve[(light.clamp(0.0, 1.0) * 4096.0) as usize]);
            }
        }
    }
    png(&rgb)
}

/// The most memory this process held so far, where the system tells.
fn peak_megabytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse::<u64>().ok().map(|kb| kb / 1024)
}

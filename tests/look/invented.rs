//! The invented stone of the demo and of `example-repo/`: where its pictures come from, and that they are small.
//!
//! No such stone was ever quarried. Its bands are sums of sines bent by sums of sines, its spectra two curves, and its
//! pictures what those let through of a panel (sums over the CIE 1931 observer) or send back of daylight.

use std::path::{Path, PathBuf};

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};
use underlit::light::colour::{XYZ_TO_SRGB, encode, times};
use underlit::light::spectrum::{COUNT, FIRST_NM, Spd, Transmittance};

use crate::book::Book;
use crate::scene::light;

const WIDTH: usize = 260;
const HEIGHT: usize = 170;
/// The stone ends here, and the bare panel begins a little farther on.
const STONE_TO: usize = 200;
const BARE_FROM: usize = 206;

/// −ln T: what dims all light, and what takes the blue away.
fn spectrum(level: f64, blue: f64) -> Transmittance {
    let depth = |i: usize| level + blue / (1.0 + (((FIRST_NM + i) as f64 - 515.0) / 38.0).exp());
    Transmittance::new((0..COUNT).map(|i| (-depth(i)).exp()).collect()).unwrap_or_else(|e| panic!("{e}"))
}

/// Where between body (0) and band (1) a place of the stone lies.
fn band(x: f64, y: f64) -> f64 {
    let bend = 34.0 * (x / 91.0 + 0.6).sin()
        + 13.0 * (x / 37.0 + y / 83.0).sin()
        + 4.0 * (x / 11.0 - y / 17.0).sin();
    let at = (y + 0.28 * x + bend) / 17.0;
    let wave = at.sin() + 0.45 * (2.3 * at + 1.0).sin() + 0.2 * (6.1 * at + x / 60.0).sin();
    // Broad calm bodies with narrow bands between them.
    (1.0 / (1.0 + (-(wave - 0.75) / 0.09).exp())).clamp(0.0, 1.0)
}

/// A share of the light at each place, as a fine grain would leave it: even noise of a few hundredths.
fn grain(state: &mut u64, amount: f64) -> f64 {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    1.0 + amount * ((*state >> 11) as f64 / (1u64 << 53) as f64 - 0.5)
}

fn picture(stone: impl Fn(f64) -> [f64; 3], beside: [f64; 3]) -> Vec<u8> {
    // Body, band and what lies between them, mixed as a stone mixes them: in depth.
    let ladder: Vec<[f64; 3]> = (0..=32).map(|step| stone(f64::from(step) / 32.0)).collect();
    let mut state = 7u64;
    let mut rgb = Vec::with_capacity(WIDTH * HEIGHT * 3);
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let (colour, amount) = match x {
                x if x < STONE_TO => (ladder[(band(x as f64, y as f64) * 32.0).round() as usize], 0.01),
                x if x < BARE_FROM => ([0.01; 3], 0.0),
                _ => (beside, 0.01),
            };
            let grain = grain(&mut state, amount);
            rgb.extend(colour.map(|v| (encode((v * grain).clamp(0.0, 1.0)) * 255.0).round() as u8));
        }
    }
    rgb
}

/// Over a lit panel, whose bare face is at 0.85 of white, and in daylight beside grey paper.
fn pictures() -> [(&'static str, Vec<u8>); 2] {
    let (body, dark) = (spectrum(1.85, 1.5), spectrum(2.9, 2.4));
    let between = |share: f64| {
        let all = body.values().iter().zip(dark.values()).map(|(a, b)| a.powf(1.0 - share) * b.powf(share));
        Transmittance::new(all.collect()).unwrap_or_else(|e| panic!("{e}"))
    };
    let seen = |light: &Spd, stone: &Transmittance, scale: f64| {
        times(XYZ_TO_SRGB, light.xyz_through(stone)).map(|v| v * scale)
    };
    let (panel, day) = (light("white-4000"), light("D65"));
    let scale = |light: &Spd| 0.85 / times(XYZ_TO_SRGB, light.xyz()).into_iter().fold(0.0, f64::max);
    let [lit, unlit] = [scale(&panel), scale(&day)];
    let clear = Transmittance::grey(1.0);
    // What comes back of daylight is paler than what passes: the square root of it.
    let pale = |share: f64| between(share).map(f64::sqrt);
    [
        ("onyx-lit.jpg", picture(|share| seen(&panel, &between(share), lit), seen(&panel, &clear, lit))),
        (
            "onyx-unlit.jpg",
            picture(|share| seen(&day, &pale(share), unlit), seen(&day, &Transmittance::grey(0.5), unlit)),
        ),
    ]
}

fn kept(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src/starter/demo").join(name)
}

/// What lies in `src/starter/demo` is what is made here. Where it is not, the new pictures lie in the folder that is named.
#[test]
fn the_invented_stones_pictures_are_made_here_and_are_small() {
    let fresh = Path::new(env!("CARGO_TARGET_TMPDIR"));
    for (name, rgb) in pictures() {
        let mut jpeg = Vec::new();
        let (width, height) = (WIDTH as u32, HEIGHT as u32);
        JpegEncoder::new_with_quality(&mut jpeg, 88)
            .write_image(&rgb, width, height, ExtendedColorType::Rgb8)
            .expect("encoded");
        std::fs::write(fresh.join(name), &jpeg).expect("written");
        let ours = std::fs::read(kept(name)).unwrap_or_default();
        let same = || {
            let [a, b] = [&ours, &jpeg].map(|bytes| image::load_from_memory(bytes).ok().map(|i| i.to_rgb8()));
            let (a, b) = (a?, b?);
            let near = a.as_raw().iter().zip(b.as_raw()).all(|(a, b)| a.abs_diff(*b) <= 4);
            Some(near && a.dimensions() == b.dimensions())
        };
        assert_eq!(same(), Some(true), "copy {} to {}", fresh.join(name).display(), kept(name).display());
        assert!(ours.len() < 60_000, "{name} has {} bytes", ours.len());
    }
}

/// The lit picture tells what its stone is: what passes of 4000 K, near what the curve says, and a band.
#[test]
fn the_invented_stone_measures_as_it_was_made() {
    let book = Book::new();
    let file = kept("onyx-lit.jpg").display().to_string();
    book.run(&format!(
        "swatch measure quay honey lit --photo {file} --stone 6,6,188,158 --bare 212,6,42,158 --panel-light white-4000"
    ))
    .done();
    let found = &book.swatch()["measured"][0]["found"];
    let truth = spectrum(1.85, 1.5).luminous(&light("white-4000"));
    let luminous = found["luminous"].as_f64().expect("a number");
    assert!((luminous / truth - 1.0).abs() < 0.06, "{luminous} for {truth}");
    assert!(found["vein_share"].as_f64().is_some_and(|share| (0.05..0.45).contains(&share)), "{found}");
}

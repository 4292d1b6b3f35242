//! The contact sheet and the spectral plot, made from a photo of an invented honey stone with rust veins.
//!
//! Set `UNDERLIT_PICTURES` to a folder to look at them.

use std::num::NonZero;

use underlit::light::area::Area;
use underlit::light::colour::{SRGB_TO_XYZ, SRGB_WHITE, XYZ_TO_SRGB, delta_e00, encode, lab, times};
use underlit::light::combine::BELIEVED;
use underlit::light::contact_sheet::ContactSheet;
use underlit::light::illuminants::{named, typical_white};
use underlit::light::look::{Candidate, Look, Room, Stone, look};
use underlit::light::picture::Picture;
use underlit::light::practice;
use underlit::light::relight::{Relight, View};
use underlit::light::spectral_plot;
use underlit::light::spectrum::{COUNT, Spd, Transmittance};
use underlit::light::stone::Photographed;
use underlit::light::swatch_photo::{Bare, SwatchPhoto};
use underlit::light::thickness::Beyond;
use underlit::units::{Lux, Millimetres};
use underlit::words::{LightKind, Texture, Tone};

const WIDTH: usize = 900;
const HEIGHT: usize = 600;

/// Smooth noise in layers, from a hash of whole places: clouds for the stone.
fn clouds(x: f64, y: f64) -> f64 {
    let hash = |i: i64, j: i64| {
        let mut h = (i.wrapping_mul(374_761_393) ^ j.wrapping_mul(668_265_263)) as u64;
        h = (h ^ (h >> 13)).wrapping_mul(1_274_126_177);
        ((h ^ (h >> 16)) & 0xFFFF) as f64 / 65_535.0
    };
    let (mut sum, mut size, mut weight) = (0.0, 1.0 / 180.0, 0.5);
    for _ in 0..5 {
        let (u, v) = (x * size, y * size);
        let (i, j) = (u.floor() as i64, v.floor() as i64);
        let soft = |t: f64| t * t * (3.0 - 2.0 * t);
        let (a, b) = (soft(u - u.floor()), soft(v - v.floor()));
        let top = hash(i, j) * (1.0 - a) + hash(i + 1, j) * a;
        let bottom = hash(i, j + 1) * (1.0 - a) + hash(i + 1, j + 1) * a;
        sum += weight * (top * (1.0 - b) + bottom * b);
        size *= 2.1;
        weight *= 0.5;
    }
    sum
}

fn light(name: &str) -> Spd {
    named(name).unwrap_or_else(|e| panic!("{e}")).at_unit_flux()
}

/// A stone whose body is honey and whose veins are rust.
fn part(level: f64, edge: f64) -> Transmittance {
    let values = (0..COUNT)
        .map(|i| (-(level + edge / (1.0 + ((380.0 + i as f64 - 500.0) / 45.0).exp()))).exp())
        .collect();
    Transmittance::new(values).unwrap_or_else(|e| panic!("{e}"))
}

fn picture() -> Picture {
    let panel = light("LED-B3");
    let bare = times(XYZ_TO_SRGB, panel.xyz());
    let scale = 0.85 / bare.iter().copied().fold(0.0, f64::max);
    let rgb_of = |stone: &Transmittance| times(XYZ_TO_SRGB, panel.xyz_through(stone)).map(|v| v * scale);
    let (body, vein) = (rgb_of(&part(1.3, 1.3)), rgb_of(&part(2.1, 2.2)));
    let mut rgb = Vec::with_capacity(WIDTH * HEIGHT * 3);
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let (fx, fy) = (x as f64, y as f64);
            let cloud = clouds(fx, fy);
            let ridge = (clouds(fx * 0.9 + 400.0, fy * 0.6 + 90.0) - 0.48).abs();
            let vein_share = (1.0 - ridge / 0.022).clamp(0.0, 1.0);
            let colour = if x < 700 {
                let shade = 0.75 + 0.55 * cloud;
                [0, 1, 2].map(|k| (body[k] * (1.0 - vein_share) + vein[k] * vein_share) * shade)
            } else {
                bare.map(|v| v * scale)
            };
            rgb.extend(colour.map(|v| (encode(v) * 255.0).round() as u8));
        }
    }
    Picture::of(WIDTH, HEIGHT, rgb)
}

struct Scene {
    picture: Picture,
    stone_area: Area,
    photo: SwatchPhoto,
    stone: Stone,
    candidates: Vec<Candidate>,
    look: Look,
}

fn scene() -> Scene {
    let picture = picture();
    let area = |text: &str| text.parse::<Area>().unwrap_or_else(|e| panic!("{e}"));
    let stone_area = area("10,10,680,580");
    let photo = SwatchPhoto::measure(
        &picture,
        &stone_area,
        Bare::SameFrame(&area("720,20,160,560")),
        None,
        &light("LED-B3"),
    )
    .unwrap_or_else(|e| panic!("{e}"));
    let stone = Stone::photographed(&photo, &light("LED-B3"), Millimetres(12.0))
        .unwrap_or_else(|| panic!("a colour"));
    let candidates: Vec<Candidate> = [2700, 3000, 3500, 4000, 5000, 6500]
        .iter()
        .map(|cct| Candidate {
            label: format!("{cct} K"),
            kind: LightKind::StaticWhite,
            light: typical_white(f64::from(*cct)).unwrap_or_else(|| panic!("{cct}")),
            bare_lx: Lux(2600.0),
            deep: false,
        })
        .collect();
    let look = look(
        &stone,
        Millimetres(20.0),
        Beyond::Refuse,
        &candidates,
        Some(Room { illuminance_lx: Lux(200.0), reflectance: 0.5 }),
        &practice::cct(Tone::Honey, Texture::Veined),
    )
    .unwrap_or_else(|e| panic!("{e}"));
    Scene { picture, stone_area, photo, stone, candidates, look }
}

fn keep(name: &str, bytes: &[u8]) {
    if let Some(folder) = std::env::var_os("UNDERLIT_PICTURES") {
        let path = std::path::Path::new(&folder).join(name);
        std::fs::write(&path, bytes).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    }
}

#[test]
fn the_contact_sheet_shows_every_light_and_is_the_same_every_time() {
    let s = scene();
    let panel = light("LED-B3");
    let sheet = |view, threads: usize| {
        ContactSheet {
            pixels_per_mm: Some(3.4),
            ground: underlit::light::contact_sheet::Ground::Dark,
            title: "Harbour bar front · honey onyx, swatch 2",
            picture: &s.picture,
            stone: &s.stone_area,
            photo: &s.photo,
            photographed: &panel,
            known: None,
            candidates: &s.candidates,
            look: &s.look,
            view,
        }
        .png(NonZero::new(threads).unwrap_or(NonZero::<usize>::MIN))
        .unwrap_or_else(|e| panic!("{e}"))
    };
    let one_white = View::OneWhite { xyz: panel.xyz() };
    let first = sheet(one_white, 1);
    assert!(first == sheet(one_white, 2), "threads change nothing");
    keep("contact.png", &first);
    keep("contact-adapted.png", &sheet(View::Adapted { luminance_cd_m2: 60.0 }, 2));
    let pixels = image::load_from_memory(&first).unwrap_or_else(|e| panic!("{e}")).into_rgb8();
    assert_eq!(pixels.width(), 1920);
    // Three in a row, from warm to cool: the red-blue balance falls from picture to picture.
    let balance = |column: u32| {
        let (mut red, mut blue) = (0u64, 0u64);
        for x in 0..300 {
            for y in 0..200 {
                let p = pixels.get_pixel(56 + column * 612 + 100 + x, 200 + y);
                red += u64::from(p[0]);
                blue += u64::from(p[2]);
            }
        }
        red as f64 / blue as f64
    };
    assert!(
        balance(0) > balance(1) && balance(1) > balance(2),
        "{} {} {}",
        balance(0),
        balance(1),
        balance(2)
    );
}

#[test]
fn the_spectral_plot_draws_stone_vein_and_lights() {
    let s = scene();
    let svg = spectral_plot::svg("Honey onyx, swatch 2, 12 mm", &s.stone, &s.candidates);
    keep("spectra.svg", svg.as_bytes());
    assert!(svg.matches("<path").count() > s.candidates.len() + 3);
    for label in ["body", "vein", "2700 K", "6500 K", "wavelength, nm"] {
        assert!(svg.contains(label), "{label}");
    }
    assert_eq!(svg, spectral_plot::svg("Honey onyx, swatch 2, 12 mm", &s.stone, &s.candidates));
}

#[test]
fn the_veins_of_the_picture_are_found() {
    let s = scene();
    assert!(s.photo.clusters.vein.is_some(), "{:?}", s.photo.clusters);
    assert!((0.03..0.4).contains(&s.stone.vein_share()), "{}", s.stone.vein_share());
}

/// The swatch of another stone, whose absorption has a band that three values cannot tell, photographed over three lights;
/// each picture is the newest photo's own, and the truth is the sum of the known spectra (CIE 15:2018).
#[test]
fn pictures_by_all_photos_lie_nearer_to_the_truth_than_by_the_newest_alone() {
    let banded = |level: f64, band: f64| {
        let values = (0..COUNT).map(|i| {
            let nm = 380.0 + i as f64;
            let edge = 0.4 / (1.0 + ((nm - 480.0) / 40.0).exp());
            (-(level + edge + band * (-((nm - 590.0) / 60.0).powi(2)).exp())).exp()
        });
        Transmittance::new(values.collect()).unwrap_or_else(|e| panic!("{e}"))
    };
    let (body, vein) = (banded(1.2, 0.8), banded(1.8, 0.9));
    let taken = |name: &str| {
        let panel = light(name);
        let bare = times(XYZ_TO_SRGB, panel.xyz());
        let scale = 0.9 / bare.iter().copied().fold(0.0, f64::max);
        let colour = |stone: &Transmittance| times(XYZ_TO_SRGB, panel.xyz_through(stone)).map(|v| v * scale);
        let (body, vein, bare) = (colour(&body), colour(&vein), bare.map(|v| v * scale));
        let (width, height) = (120usize, 60usize);
        let mut rgb = Vec::new();
        for y in 0..height {
            for x in 0..width {
                let linear = match (x, y) {
                    (90.., _) => bare,
                    (_, 20..32) => vein,
                    _ => body,
                };
                rgb.extend(linear.map(|v| (encode(v.max(0.0)) * 255.0).round() as u8));
            }
        }
        let picture = Picture::of(width, height, rgb);
        let area = |text: &str| text.parse::<Area>().unwrap_or_else(|e| panic!("{e}"));
        SwatchPhoto::measure(&picture, &area("0,0,86,60"), Bare::SameFrame(&area("92,0,28,60")), None, &panel)
            .unwrap_or_else(|e| panic!("{e}"))
    };
    let names = ["LED-B1", "LED-B5", "LED-B3"];
    let lights = names.map(light);
    let photos = names.map(taken);
    let piece = Millimetres(12.0);
    let views: Vec<Photographed<'_>> = photos
        .iter()
        .zip(&lights)
        .map(|(photo, light)| Photographed { photo, light, thickness_mm: piece, believed: BELIEVED })
        .collect();
    let stone = Stone::photographed_often(&views).expect("a stone");
    let (newest, over) = (&photos[2], &lights[2]);
    let beside = stone.known_beside(newest, over, piece).expect("all of one piece");
    assert!(
        stone.known_beside(newest, over, Millimetres(20.0)).is_none(),
        "nothing is known of that thickness"
    );
    let targets = ["LED-V1", "LED-V2", "LED-BH1"].map(light);
    let white = View::OneWhite { xyz: over.xyz() };
    let levels = vec![1.0; targets.len()];
    let together = Relight::known(newest, over, Some(&beside), &targets, &levels, white);
    let alone = Relight::new(newest, over, &targets, white);
    let vein_seen = newest.clusters.vein.expect("a vein");
    let (mut off_together, mut off_alone) = (0.0, 0.0);
    for (stone, seen) in [(&body, newest.clusters.body), (&vein, vein_seen)] {
        let off = |relight: &Relight| -> f64 {
            let colours = relight.colours(seen);
            let each = targets.iter().zip(colours).map(|(target, colour)| {
                let y = target.xyz()[1];
                let truth = times(white.to_screen(target.xyz()), target.xyz_through(stone).map(|v| v / y));
                let at = |rgb: [f64; 3]| {
                    let xyz = times(SRGB_TO_XYZ, rgb);
                    lab(xyz.map(|v| v * 0.5 / xyz[1]), SRGB_WHITE)
                };
                delta_e00(at(truth), at(colour))
            });
            each.sum()
        };
        off_together += off(&together);
        off_alone += off(&alone);
    }
    assert!(off_together < 0.85 * off_alone, "{off_together} {off_alone}");
    // Over its own light the newest photo stays what it is.
    let own =
        |beside| Relight::known(newest, over, beside, &lights[2..], &[1.0], white).colours(newest.mean)[0];
    let (with, without) = (own(Some(&beside)), own(None));
    assert!((0..3).all(|k| (with[k] - without[k]).abs() < 0.005), "{with:?} {without:?}");
}

//! `look`: its figures against sums over the known spectra, what it refuses, its pictures and its JSON.

use serde_json::Value;
use underlit::light::colour::{delta_e00, lab};
use underlit::light::illuminants::typical_white;
use underlit::light::spectrum::{Spd, Transmittance};

use crate::book::Book;
use crate::scene::{body, csv, light, photographed, vein};

fn number(value: &Value, pointer: &str) -> f64 {
    value
        .pointer(pointer)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("no number at {pointer}: {value}"))
}

/// xy of a light through a stone, and CIELAB at equal luminance against the bare light.
fn seen(light: &Spd, stone: &Transmittance) -> ([f64; 2], [f64; 3]) {
    let [x, y, z] = light.xyz_through(stone);
    let sum = x + y + z;
    ([x / sum, y / sum], equal([x / y, 1.0, z / y], light))
}

fn equal(xyz: [f64; 3], light: &Spd) -> [f64; 3] {
    lab(xyz.map(|v| v * 0.5), light.at_unit_flux().xyz())
}

/// The truth is the sum of the known spectra (CIE 15:2018); the distance is CIEDE2000, and 2.5 is what a photo may
/// be off in one case out of twenty.
#[test]
fn a_photo_predicts_the_stone_under_other_lights() {
    let answer =
        photographed().run("look quay honey --cct 2700,3500,5000,6500 --exitance 2000 --json").json();
    assert_eq!(answer["measured"]["certainty"], "estimated");
    let predictions = answer["predictions"].as_array().expect("a list");
    assert_eq!(predictions.len(), 4);
    for (at, p) in predictions.iter().enumerate() {
        assert!(p["rank"].as_u64().is_some_and(|rank| rank >= 1 && rank <= at as u64 + 1), "{p}");
        let cct: f64 =
            p["label"].as_str().and_then(|l| l.strip_suffix(" K")).expect("a label").parse().expect("K");
        let light = typical_white(cct).expect("typical");
        for (part, stone) in [("body", body()), ("vein", vein())] {
            let (truth_xy, truth) = seen(&light, &stone);
            let xy = [number(p, &format!("/{part}/x")), number(p, &format!("/{part}/y"))];
            let found = equal([xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]], &light);
            let off = delta_e00(found, truth);
            assert!(off < 2.5, "{cct} K {part}: ΔE00 {off:.2}, {xy:?} for {truth_xy:?}");
        }
        let (t, truth) = (number(p, "/transmittance/value"), body().luminous(&light));
        assert!((t / truth - 1.0).abs() < 0.04, "{cct} K: {t} for {truth}");
        // Lambertian: L = M·τ/π; the room 200 lx × 0.5 / π.
        let luminance = number(p, "/stone_luminance_cd_m2/value");
        // Each to the decimals that its range bears.
        let ratio = number(p, "/ratio/value");
        assert!((luminance / (2000.0 * t / std::f64::consts::PI) - 1.0).abs() < 0.04, "{luminance} {t}");
        assert!(
            (ratio / (luminance * std::f64::consts::PI / 100.0) - 1.0).abs() < 0.06,
            "{ratio} {luminance}"
        );
        for figure in ["transmittance", "stone_luminance_cd_m2", "ratio", "vein_contrast_de00", "chroma"] {
            let [low, value, high] = ["low", "value", "high"].map(|k| number(p, &format!("/{figure}/{k}")));
            assert!(low <= value && value <= high, "{figure}: {low} {value} {high}");
        }
    }
}

/// All absorbed is T₀², all scattered 1/(1 + 2·(1/T₀ − 1)) by hand for each wavelength: a range lies between the two and
/// leaves most of that open.
#[test]
fn a_thicker_slab_gives_a_range_and_far_thicker_is_refused() {
    let book = photographed();
    book.run("swatch change quay honey --slab-thickness 20mm").done();
    let answer = book.run("look quay honey --cct 4000 --json").json();
    let p = &answer["predictions"][0];
    let light = typical_white(4000.0).expect("typical");
    let absorbing = body().map(|t| t * t).luminous(&light);
    let scattering = body().map(|t| 1.0 / (1.0 + 2.0 * (1.0 / t - 1.0))).luminous(&light);
    let (low, high) = (number(p, "/transmittance/low"), number(p, "/transmittance/high"));
    assert!(
        absorbing * 0.9 < low && low < high && high < scattering * 1.1,
        "{absorbing} {low} {high} {scattering}"
    );
    assert!((high / low).ln() > 0.6 * (scattering / absorbing).ln(), "{absorbing} {low} {high} {scattering}");
    assert!(answer["basis"].as_str().is_some_and(|b| b.contains("10 mm only")), "{}", answer["basis"]);
    book.run("swatch change quay honey --slab-thickness 30mm").done();
    book.run("look quay honey --cct 4000").refused(3, "thickness-beyond").says(&["--extrapolate"]);
    let far = book.run("look quay honey --cct 4000 --extrapolate --json").json();
    assert_eq!(far["extrapolated"], true);
}

#[test]
fn pictures_are_written_and_the_same_every_time() {
    let book = photographed();
    let names = ["sheet.png", "spectra.svg", "look.json"].map(|n| format!("quay-honey-{n}"));
    for folder in ["one", "two"] {
        let into = book.file(folder).display().to_string();
        book.run(&format!("look quay honey --cct 2700,4000,5000 --into {into}")).done().says(&["wrote "]);
    }
    for name in &names {
        let read = |folder: &str| {
            std::fs::read(book.file(folder).join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
        };
        assert!(read("one") == read("two"), "{name} differs between two runs");
    }
    let sheet = image::open(book.file("one").join(&names[0])).expect("a picture").into_rgb8();
    assert_eq!(sheet.width(), 1920);
    // The first and the last picture, 2700 K and 5000 K under one white: the first is the redder.
    let middle = |column: u32| {
        let p = sheet.get_pixel(56 + column * 612 + 200, 300).0.map(f64::from);
        p[0] / p[2].max(1.0)
    };
    assert!(middle(0) > 1.2 * middle(2), "{} {}", middle(0), middle(2));
    let into = book.file("three").display().to_string();
    book.run(&format!("look quay honey --cct 2700,4000,5000 --adapted --into {into}")).done();
    let adapted = std::fs::read(book.file("three").join(&names[0])).expect("a sheet");
    assert!(adapted != std::fs::read(book.file("one").join(&names[0])).expect("a sheet"));
    book.run("look quay honey --cct 2700 --into never --dry-run").done();
    assert!(!book.file("never").exists());
}

#[test]
fn a_measured_light_and_a_light_by_name_stand_beside_the_whites() {
    let book = photographed();
    let own = light("LED-B4");
    book.put("panel.csv", &csv(&[("power", own.values())]));
    let file = book.file("panel.csv").display().to_string();
    let answer = book
        .run(&format!("look quay honey --cct 3000 --light static-white LED-B2 --spectrum {file} --json"))
        .json();
    let predictions = answer["predictions"].as_array().expect("a list");
    let of = |spectrum: &str| {
        predictions
            .iter()
            .find(|p| p["light_figures"]["spectrum"] == spectrum)
            .unwrap_or_else(|| panic!("no {spectrum}"))
    };
    assert!((number(of("measured"), "/light_figures/cct_k") - 5109.0).abs() < 5.0, "LED-B4 of CIE 15:2018");
    assert_eq!(of("named")["label"], "LED-B2");
    assert_eq!(of("typical")["offered"], true);
    let mixed = book.run("look quay honey --cct 4000 --light tunable-white --json").json();
    let p = &mixed["predictions"][0];
    assert!((number(p, "/light_figures/cct_k") - 4000.0).abs() < 2.0);
    assert!(number(p, "/light_figures/duv") < -0.002, "a mixture leaves the locus in its middle");
}

#[test]
fn what_cannot_be_predicted_is_refused_in_words() {
    let empty = Book::new();
    empty.run("look quay honey").refused(2, "nothing-measured");
    empty.run("look quay amber").refused(2, "unknown-record").says(&["honey"]);
    let book = photographed();
    book.run("look quay honey --cct 1500").refused(2, "no-typical-white");
    book.run("look quay honey --light moonlight").refused(2, "light-unknown");
    book.run("look quay honey --cct 8000 --light tunable-white").refused(2, "cct-out-of-range");
    book.run("look quay honey --exitance 0").refused(2, "exitance");
    book.run("look quay honey --panel side").refused(2, "unknown-panel");
    book.run("look quay honey --measurement other").refused(2, "unknown-measurement").says(&["shot"]);
    let path = "book/projects/quay/swatches/honey-shot-photo.png";
    std::fs::write(book.file(path), b"another").expect("written");
    book.run("look quay honey --cct 4000").refused(3, "attachment-differs");
}

#[test]
fn a_disagreement_with_practice_is_said() {
    let book = Book::new();
    book.run("swatch change quay honey --tone white --texture plain").done();
    book.put("s.csv", &csv(&[("t", body().values())]));
    let file = book.file("s.csv").display().to_string();
    book.run(&format!("swatch measure quay honey s --spectrum {file}")).done();
    book.run("look quay honey --cct 2700,5000").done().says(&["no rule of thumb", "comes first"]);
    book.run("swatch change quay honey --tone amber").done();
    let answer = book.run("look quay honey --cct 2700,5000 --json").json();
    let sentence = answer["against_practice"].as_str().expect("a sentence");
    assert!(sentence.contains("practice") && sentence.contains("2700–3000 K"), "{sentence}");
    assert_eq!(answer["ranked_by"], "strength of colour");
}

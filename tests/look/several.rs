//! Several photos of one swatch: brought together where they agree, and one taken alone, in words, where not.

use underlit::light::colour::{delta_e00, lab};
use underlit::light::illuminants::typical_white;

use crate::book::Book;
use crate::scene::{BARE, STONE, body, light, pixels, png};

/// Keeps a photo taken over `panel` under the name `name`, said to be over `said`.
fn measure(book: &Book, name: &str, panel: &str, said: &str, more: &str) {
    book.put(&format!("{name}.png"), &png(&pixels(&light(panel), 1.0)));
    let file = book.file(&format!("{name}.png")).display().to_string();
    book.run(&format!(
        "swatch measure quay honey {name} --photo {file} --stone {STONE} --bare {BARE} --panel-light {said} {more}"
    ))
    .done();
}

/// The truth is the sum of the known spectra (CIE 15:2018).
#[test]
fn photos_over_two_lights_are_brought_together() {
    let book = Book::new();
    measure(&book, "cool", "LED-B5", "LED-B5", "");
    measure(&book, "mid", "LED-B3", "LED-B3", "");
    let answer = book.run("look quay honey --cct 5000 --json").json();
    assert_eq!(answer["measured"]["measurements"], serde_json::json!(["cool", "mid"]));
    let method = answer["measured"]["method"].as_str().expect("words");
    assert!(method.contains("2 photos over LED-B5, LED-B3"), "{method}");
    assert_eq!(answer["measured"]["certainty"], "estimated");
    let target = typical_white(5000.0).expect("typical");
    let xyz = target.xyz_through(&body());
    let at = |pointer: &str| answer.pointer(pointer).and_then(|v| v.as_f64()).expect("a number");
    let (x, y) = (at("/predictions/0/body/x"), at("/predictions/0/body/y"));
    let seen = |xyz: [f64; 3]| lab(xyz.map(|v| v * 0.5 / xyz[1]), target.at_unit_flux().xyz());
    let off = delta_e00(seen([x / y, 1.0, (1.0 - x - y) / y]), seen(xyz));
    assert!(off < 1.0, "ΔE00 {off}");
    let one = book.run("look quay honey --cct 5000 --measurement mid --json").json();
    assert_eq!(one["measured"]["measurements"], serde_json::json!(["mid"]));
}

/// A photo of another, thicker piece under the same name of stone: it is much darker and of another colour.
#[test]
fn photos_that_contradict_each_other_are_not_mixed() {
    let book = Book::new();
    measure(&book, "right", "LED-B3", "LED-B3", "");
    book.put("other.png", &png(&crate::scene::pixels_of(&light("LED-B3"), 1.0, 1.5)));
    let file = book.file("other.png").display().to_string();
    book.run(&format!(
        "swatch measure quay honey wrong --photo {file} --stone {STONE} --bare {BARE} --panel-light LED-B3"
    ))
    .done();
    let answer = book.run("look quay honey --cct 5000 --json").json();
    assert_eq!(answer["measured"]["measurements"], serde_json::json!(["wrong"]), "the newest alone");
    let remarks = answer["remarks"].to_string();
    assert!(remarks.contains("contradict each other") && remarks.contains("--measurement"), "{remarks}");
    let right = book.run("look quay honey --cct 5000 --measurement right --json").json();
    assert!(!right["remarks"].to_string().contains("contradict"), "{}", right["remarks"]);
}

/// Two pieces of two thicknesses, each photographed once: the slab lies between what they tell.
#[test]
fn photos_of_two_thicknesses_are_fitted() {
    let book = Book::new();
    measure(&book, "thin", "LED-B3", "LED-B3", "");
    book.put("thick.png", &png(&crate::scene::pixels_of(&light("LED-B3"), 1.0, 1.4)));
    let file = book.file("thick.png").display().to_string();
    book.run(&format!(
        "swatch measure quay honey thick --photo {file} --stone {STONE} --bare {BARE} --panel-light LED-B3 \
         --thickness 14mm"
    ))
    .done();
    book.run("swatch change quay honey --slab-thickness 12mm").done();
    let answer = book.run("look quay honey --cct 4000 --json").json();
    let basis = answer["basis"].as_str().expect("words");
    assert!(basis.contains("10 mm and 14 mm"), "{basis}");
    // Absorbing alone: T^1.2 under the same light.
    let truth = body().map(|t| t.powf(1.2)).luminous(&typical_white(4000.0).expect("typical"));
    let found = answer["predictions"][0]["transmittance"]["value"].as_f64().expect("a number");
    assert!((found / truth - 1.0).abs() < 0.05, "{found} for {truth}");
}

//! RGB and RGBW lights: whites mixed from all channels in flux, and deep colours that have no colour temperature.

use serde_json::Value;
use underlit::light::illuminants::typical_primaries;

use crate::book::Book;
use crate::scene::{body, csv, light, photographed};

fn named<'a>(answer: &'a Value, label: &str) -> &'a Value {
    let all = answer["predictions"].as_array().expect("a list");
    all.iter().find(|p| p["label"] == label).unwrap_or_else(|| panic!("no {label}: {answer}"))
}

fn value(p: &Value, pointer: &str) -> f64 {
    p.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {pointer}: {p}"))
}

/// The truth is the sum of the known spectra (CIE 15:2018); flux is that of the starter list's tape.
#[test]
fn an_rgbw_light_shows_its_whites_and_its_deep_colours() {
    let book = photographed();
    let into = book.file("looks").display().to_string();
    let answer = book
        .run(&format!(
            "look quay honey --light rgbw --cct 2700,4000,6500 --exitance 2000 --into {into} --json"
        ))
        .json();
    let all = answer["predictions"].as_array().expect("a list");
    assert_eq!(all.len(), 9, "three whites and six colours");
    for (cct, label) in [(2700.0, "2700 K"), (4000.0, "4000 K"), (6500.0, "6500 K")] {
        let p = named(&answer, label);
        assert!(
            (value(p, "/light_figures/cct_k") - cct).abs() < 2.0
                && value(p, "/light_figures/duv").abs() < 1e-4,
            "{p}"
        );
        assert!(value(p, "/rank") >= 1.0);
    }
    let [red, green, blue] = typical_primaries();
    for (label, primary) in [("red", &red), ("green", &green), ("blue", &blue)] {
        let p = named(&answer, label);
        assert!(
            p["light_figures"]["cct_k"].is_null() && p["rank"] == 0 && p["could_be_best"] == false,
            "{p}"
        );
        assert_eq!((p["practice_standing"].as_str(), p["kind"].as_str()), (Some("no-rule"), Some("rgbw")));
        let truth = body().luminous(primary);
        assert!((value(p, "/transmittance/value") / truth - 1.0).abs() < 0.06, "{label}: {p} for {truth}");
    }
    // Lumens per metre of the starter list: 160 red, 350 green and 80 blue beside 470 white.
    for (label, share) in [("red", 160.0 / 470.0), ("green", 350.0 / 470.0), ("blue", 80.0 / 470.0)] {
        let lx = value(named(&answer, label), "/bare_lx");
        assert!((lx / (2000.0 * share) - 1.0).abs() < 0.001, "{label}: {lx}");
    }
    let ranks: Vec<u64> = all.iter().filter_map(|p| p["rank"].as_u64()).collect();
    assert_eq!(ranks[3..], [0; 6]);
    assert!(ranks[..3].iter().all(|rank| (1..=3).contains(rank)), "{ranks:?}");
    let text = book.run("look quay honey --light rgbw --cct 4000").done().out;
    for words in ["no CCT", "not ranked", "a colour temperature has no meaning", "4000 K is the only white"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    assert!(book.file("looks/quay-honey-sheet.png").exists());
}

/// Two whites set as a tunable white is, with the deep colours of three channels beside them. Lumens per metre of the starter
/// list: 120 red, 265 green and 60 blue.
#[test]
fn five_channels_show_set_whites_and_deep_colours() {
    let book = photographed();
    let answer =
        book.run("look quay honey --light rgb-tunable-white --cct 3000,5000 --exitance 2000 --json").json();
    let all = answer["predictions"].as_array().expect("a list");
    assert_eq!(all.len(), 8, "two whites and six colours");
    for cct in [3000.0, 5000.0] {
        let p = named(&answer, &format!("{cct} K"));
        assert!((value(p, "/light_figures/cct_k") - cct).abs() < 3.0, "{p}");
        // A mix of two whites of the locus lies below it between them.
        assert!(value(p, "/light_figures/duv") < 0.0, "{p}");
    }
    for (label, lumens) in [("red", 120.0), ("green", 265.0), ("blue", 60.0)] {
        let lx = value(named(&answer, label), "/bare_lx");
        assert!((lx / (2000.0 * lumens / 445.0) - 1.0).abs() < 0.001, "{label}: {lx}");
    }
    assert_ne!(book.run("look quay honey --light rgb-tunable-white --cct 2000").code, 0);
    let warm = book.run("look quay honey --light warm-dim,static-white --cct 3000 --json").json();
    assert_eq!(named(&warm, "3000 K warm-dim")["kind"], "warm-dim");
}

#[test]
fn an_rgb_light_alone_makes_whites_without_a_white_channel() {
    let book = photographed();
    let answer = book.run("look quay honey --light rgb --cct 3000 --json").json();
    let p = named(&answer, "3000 K");
    assert!((value(p, "/light_figures/cct_k") - 3000.0).abs() < 2.0, "{p}");
    assert!(answer["remarks"].to_string().contains("not measured: typical ones"), "{}", answer["remarks"]);
}

/// The channels of a file are taken on its own scale: red at half the green's flux gives half its light.
#[test]
fn measured_channels_are_taken_as_they_are() {
    let book = photographed();
    let [red, green, blue] = typical_primaries().map(|p| p.at_unit_flux());
    let halved: Vec<f64> = red.values().iter().map(|v| v * 50.0).collect();
    let full: Vec<f64> = green.values().iter().map(|v| v * 100.0).collect();
    let dim: Vec<f64> = blue.values().iter().map(|v| v * 20.0).collect();
    let white: Vec<f64> = light("LED-B3").values().iter().map(|v| v * 100.0).collect();
    book.put("c.csv", &csv(&[("red", &halved), ("green", &full), ("blue", &dim), ("white", &white)]));
    let file = book.file("c.csv").display().to_string();
    let line = format!("look quay honey --channels {file} --cct 4000 --exitance 1000");
    let answer = book.run(&format!("{line} --json")).json();
    assert_eq!(named(&answer, "green")["light_figures"]["spectrum"], "measured");
    let ratio = value(named(&answer, "red"), "/bare_lx") / value(named(&answer, "green"), "/bare_lx");
    assert!((ratio - 0.5).abs() < 0.01, "{ratio}");
    assert!((value(named(&answer, "green"), "/bare_lx") - 1000.0).abs() < 10.0);
    book.put("d.csv", &csv(&[("a", &halved), ("b", &full)]));
    let wrong = book.file("d.csv").display().to_string();
    book.run(&format!("look quay honey --channels {wrong}"))
        .refused(3, "channels-unknown")
        .says(&["red, green"]);
}

/// The starter list's RGBW tape has a white of its own; another white is mixed from all channels, is allowed at the
/// gate and in the plan, and is said to be mixed.
#[test]
fn a_white_that_an_rgbw_tape_mixes_is_allowed_and_said() {
    let book = Book::new();
    book.run("panel add quay front --title Front --swatch honey --size 1200mmx500mm --faces diffused").done();
    book.run(
        "choose quay front --light rgbw --cct 3700 --face diffused --edges top,bottom --volts 24 --mount tray",
    )
    .done()
    .says(&["mixed from all its channels", "typical channels"]);
    let planned = book.run("plan quay front --feed-length 4m");
    assert!(!format!("{}{}", planned.out, planned.err).contains("does not give 3700 K"), "{}", planned.err);
    let own = book.run("choose quay front --cct 4000").done();
    assert!(!own.out.contains("mixed from all"), "{}", own.out);
}

//! What the gates make of the measurements: brightness, tint, and a light that the shop can give.

use crate::book::Book;
use crate::scene::{csv, light};

fn chosen(light: &str, measured: &str) -> Book {
    let book = Book::new();
    book.run(&format!("swatch measure quay honey meter {measured}")).done();
    book.run("panel add quay front --title Front --swatch honey --size 1200mmx500mm --faces diffused").done();
    book.run(&format!(
        "choose quay front {light} --face diffused --edges top,bottom --volts 24 --mount tray"
    ))
    .done();
    book
}

/// By hand: two tapes of 1200 mm at 1500 lm/m with 0.42 at the face over 0.6 m² leave 2520 lx; 1 % of it is 8.0 cd/m²
/// against 200 lx × 0.5 / π = 31.8 cd/m² (Lambertian), a quarter.
#[test]
fn a_dim_stone_is_warned_of_with_the_panels_own_light() {
    let dim = chosen("--light static-white --cct 4000", "--bare-lx 1000 --through-lx 10");
    dim.run("status quay").done().says(&["will be 0.25 times as bright", "2520 lx", "8 cd/m²"]);
    let bright = chosen("--light static-white --cct 4000", "--bare-lx 1000 --through-lx 300");
    assert!(!bright.run("status quay").done().out.contains("times as bright"));
    // Twice the thickness leaves 0.3² = 9 % to 1/(1 + 2·(1/0.3 − 1)) = 17.65 %: one end is enough, the other is not.
    bright.run("swatch change quay honey --slab-thickness 20mm").done();
    bright.run("status quay").done().says(&["may be only 2.27 to 4.45 times as bright"]);
}

/// The least ratio is the shop's own: sealed at 10, the stone that was bright enough is warned of.
#[test]
fn the_ratio_that_is_enough_is_the_shops() {
    let book = chosen("--light static-white --cct 4000", "--bare-lx 1000 --through-lx 300");
    assert!(!book.run("status quay").done().out.contains("times as bright"));
    let rules = book.file("book/rules.json");
    let text = std::fs::read_to_string(&rules).expect("the rules");
    let mut parsed: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    parsed["least_luminance_ratio"] = 10.into();
    std::fs::write(&rules, serde_json::to_string_pretty(&parsed).expect("JSON") + "\n").expect("written");
    book.run("roster seal").done();
    // 2520 lx × 0.3 / π = 240.6 cd/m² against 31.8 cd/m²: 7.56 times, by hand (Lambertian, CIE S 017).
    book.run("status quay").done().says(&["will be 7.56 times as bright", "the shop wants 10 or more"]);
}

#[test]
fn a_panel_of_bad_tint_is_warned_of_where_its_spectrum_is_known() {
    let book = chosen("--light static-white --cct 4000", "--bare-lx 1000 --through-lx 300");
    assert!(!book.run("status quay").done().out.contains("Duv"));
    // F11 and green light: above the locus by more than a good white may be.
    let green = light("F11");
    let tinted: Vec<f64> = green
        .values()
        .iter()
        .enumerate()
        .map(|(i, v)| v * if (120..190).contains(&i) { 2.0 } else { 1.0 })
        .collect();
    book.put("panel.csv", &csv(&[("power", &tinted)]));
    let file = book.file("panel.csv").display().to_string();
    book.run(&format!(
        "swatch measure quay honey again --bare-lx 1000 --through-lx 300 --panel-cct 4000 --panel-spectrum {file}"
    ))
    .done();
    book.run("status quay").done().says(&["greener than", "Duv +0.0"]);
}

#[test]
fn a_colour_temperature_that_no_tape_gives_blocks_the_choice() {
    let book = chosen("--light tunable-white --cct 3500", "--bare-lx 1000 --through-lx 300");
    let findings = |book: &Book| -> Vec<(String, String)> {
        let case = book.run("status quay --json").json();
        let all = ["missing", "met"].into_iter().flat_map(|k| {
            case[k].as_array().into_iter().flatten().map(move |f| (k.to_owned(), f["what"].to_string()))
        });
        all.filter(|(_, what)| what.contains("tunable-white at")).collect()
    };
    for move_on in ["sampling", "selection"] {
        if move_on == "selection" {
            book.run(
                "request ask quay first --swatch honey --cct 3000,4000 --face diffused --size 300mmx200mm --address Quay",
            )
            .done();
            book.run("request received quay first").done();
            book.run(
                "trial record quay mild --swatch honey --request first --cct 3500 --face diffused --seen glows --rating 4",
            )
            .done();
        }
        book.run("advance quay").done();
    }
    let given = findings(&book);
    assert!(given.iter().any(|(state, what)| state == "met" && what.contains("tunable-24")), "{given:?}");
    book.run("choose quay front --cct 9000").done();
    let refused = findings(&book);
    assert!(
        refused.iter().any(|(state, what)| state == "missing" && what.contains("no tape of the shop gives")),
        "{refused:?}"
    );
}

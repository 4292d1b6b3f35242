//! Trials against the prediction, and what their readings make of it.

use serde_json::Value;

use crate::book::Book;
use crate::scene::{BARE, STONE, body, light, photo, pixels, png};

fn tried(readings: &[(&str, &str, f64)]) -> Book {
    let book = Book::new();
    book.put("a.png", &photo());
    let file = book.file("a.png").display().to_string();
    book.run(&format!(
        "swatch measure quay honey shot --photo {file} --stone {STONE} --bare {BARE} --panel-light LED-B3"
    ))
    .done();
    book.run(
        "request ask quay first --swatch honey --cct 3000,4000 --face diffused --size 300mmx200mm --address Quay",
    )
    .done();
    book.run("request received quay first").done();
    let truth = body().luminous(&light("LED-B3"));
    for (name, cct, level) in readings {
        let through = 1000.0 * truth * level;
        book.run(&format!(
            "trial record quay {name} --swatch honey --request first --cct {cct} --face diffused --seen glows \
             --rating 4 --bare-lx 1000 --through-lx {through:.2}"
        ))
        .done();
    }
    book
}

fn transmittance(answer: &Value) -> f64 {
    answer["predictions"][0]["transmittance"]["value"].as_f64().expect("a number")
}

#[test]
fn a_reading_as_predicted_bears_it_out_and_a_darker_one_moves_it() {
    let plain = tried(&[]).run("look quay honey --cct 4000 --json").json();
    assert!(plain["level"].is_null() && plain["trials"].as_array().is_some_and(Vec::is_empty));

    let borne_out = tried(&[("same", "4000", 1.0)]);
    let answer = borne_out.run("look quay honey --cct 4000 --json").json();
    assert_eq!(answer["trials"][0]["borne_out"], true, "{}", answer["trials"]);

    let darker = tried(&[("dark", "4000", 0.8)]);
    let answer = darker.run("look quay honey --cct 4000 --json").json();
    assert_eq!(answer["trials"][0]["borne_out"], false);
    let factor = answer["level"]["factor"].as_f64().expect("a number");
    assert!((factor - 0.8).abs() < 0.03, "{factor}");
    assert!((transmittance(&answer) / transmittance(&plain) - factor).abs() < 0.01);
    darker.run("look quay honey --cct 4000").done().says(&[
        "trials, predicted against seen",
        "% off",
        "after 1 trial",
    ]);
}

#[test]
fn a_reading_of_another_stone_is_said_and_moves_nothing() {
    let book = tried(&[("wrong", "4000", 0.3)]);
    let ran = book.run("look quay honey --cct 4000").done().says(&["too far off to correct by"]);
    assert!(!ran.out.contains("corrected by"), "{}", ran.out);
}

#[test]
fn a_trials_photo_is_held_against_the_predicted_colour() {
    let book = tried(&[]);
    let warm = underlit::light::illuminants::typical_white(3000.0).expect("typical");
    book.put("trial.png", &png(&pixels(&warm, 1.0)));
    let photo = book.file("trial.png").display().to_string();
    let record = |name: &str, stone: &str, bare: &str| {
        book.run(&format!(
            "trial record quay {name} --swatch honey --request first --cct 3000 --face diffused --seen glows \
             --rating 5 --photo {photo} --stone-at {stone} --bare-at {bare}"
        ))
    };
    record("swapped", "0,0,5,5", BARE).refused(3, "photo-stone-area");
    record("warm", STONE, BARE).done();
    let row = &book.run("look quay honey --cct 3000 --json").json()["trials"][0];
    // The stone is the same one, so the photo shows what was predicted but for the photos' own errors.
    assert!(row["colour_de00"].as_f64().is_some_and(|de| de < 2.5), "{row}");
    assert!(row["transmittance_seen"].is_null() && row["level_factor"].is_null(), "{row}");
    // It was taken over another light than the swatch's photo, so it tells more of the spectrum.
    assert_eq!(row["colour_used"], true);
    let method = book.run("look quay honey --cct 3000 --json").json()["measured"]["method"].to_string();
    assert!(method.contains("and from the photo of a trial"), "{method}");
    book.run("check").done();
    // A photo that was taken over a bluer light than the trial says contradicts the swatch's own.
    let cool = underlit::light::illuminants::typical_white(6500.0).expect("typical");
    book.put("other.png", &png(&crate::scene::pixels_of(&cool, 1.0, 1.6)));
    let other = book.file("other.png").display().to_string();
    book.run(&format!(
        "trial record quay odd --swatch honey --request first --cct 3000 --face diffused --seen glows --rating 1 \
         --photo {other} --stone-at {STONE} --bare-at {BARE}"
    ))
    .done();
    let answer = book.run("look quay honey --cct 3000 --json").json();
    let odd =
        answer["trials"].as_array().and_then(|all| all.iter().find(|r| r["trial"] == "odd")).expect("a row");
    assert_eq!(odd["colour_used"], false, "{odd}");
    assert!(answer["remarks"].to_string().contains("trial odd contradicts"), "{}", answer["remarks"]);
}

/// A trial over a violet-pumped panel (CIE 15:2018, LED-V2), far from the typical white of its CCT: the more is measured of
/// the panel's light, the nearer is what was predicted for the photo to what it shows.
#[test]
fn a_trials_light_is_what_was_measured_of_its_panel() {
    let book = tried(&[]);
    book.put("trial.png", &png(&pixels(&light("LED-V2"), 1.0)));
    let values = light("LED-V2");
    book.put("panel.csv", &crate::scene::csv(&[("power", values.values())]));
    let [photo, panel] = ["trial.png", "panel.csv"].map(|f| book.file(f).display().to_string());
    let [x, y, z] = values.xyz();
    let (x, y) = (x / (x + y + z), y / (x + y + z));
    let record = |name: &str, more: &str| {
        book.run(&format!(
            "trial record quay {name} --swatch honey --request first --cct 4000 --face diffused --seen glows \
             --rating 5 --photo {photo} --stone-at {STONE} --bare-at {BARE} {more}"
        ))
    };
    record("typical", "").done().says(&["no measurement of the test panel's light is given"]);
    record("spectrum", &format!("--panel-spectrum {panel}")).done();
    record("figures", &format!("--panel-xy {x:.4},{y:.4} --panel-ra 95.8")).done();
    record("named", "--panel-light LED-V2").done();
    record("tape", "--panel-tape white-24").done();
    let answer = book.run("look quay honey --cct 4000 --json").json();
    let row = |name: &str| {
        let rows = answer["trials"].as_array().expect("rows");
        rows.iter().find(|r| r["trial"] == name).cloned().unwrap_or_else(|| panic!("no row {name}"))
    };
    for (name, by, words) in [
        ("typical", "typical", "typical white at 4000 K"),
        ("spectrum", "spectrum", "the test panel's measured spectrum"),
        ("figures", "figures", "measured x 0.3"),
        ("named", "named", "LED-V2"),
        ("tape", "tape", "tape white-24's estimated figures, Ra 92"),
    ] {
        assert_eq!(row(name)["light_by"], by, "{}", row(name));
        assert!(row(name)["light"].as_str().is_some_and(|l| l.contains(words)), "{}", row(name));
    }
    let off = |name: &str| row(name)["colour_de00"].as_f64().expect("a number");
    assert!(off("spectrum") < off("typical"), "{} {}", off("spectrum"), off("typical"));
    assert!(off("figures") < off("typical"), "{} {}", off("figures"), off("typical"));
    book.run("look quay honey --cct 4000").done().says(&["4000 K (the test panel's measured spectrum)"]);
    book.run("check").done();
    // What a file's light says against the stated one is told, and what cannot be is refused with the remedy.
    let wrong = |more: &str| record("wrong", more);
    wrong("--panel-light LED-B1 --dry-run").done().says(&["is said to be at 4000 K, but its light is 27"]);
    wrong("--panel-light nothing").refused(2, "light-unknown");
    wrong("--panel-xy 0.7,0.29").refused(2, "panel-no-white");
    wrong("--panel-xy 0.4").refused(2, "panel-xy");
    wrong("--panel-tape white-99").refused(2, "unknown-tape");
    wrong("--panel-tape rgb-24").refused(2, "panel-tape");
    wrong("--panel-spectrum gone.csv").refused(2, "attachment");
    wrong(&format!("--panel-spectrum {photo}")).refused(3, "spectrum-not-text");
    let kept = book.file("book/projects/quay/trials/spectrum-panel.csv");
    assert!(kept.exists());
    book.run("trial remove quay spectrum").done();
    assert!(!kept.exists(), "it goes with its trial");
}

/// The sheet's reader is told what each trial's light rests on, and which photos its spectra fit.
#[test]
fn the_contact_sheet_uses_every_photo_and_names_the_lights() {
    let book = tried(&[("lux", "3000", 1.0)]);
    let warm = underlit::light::illuminants::typical_white(3000.0).expect("typical");
    book.put("trial.png", &png(&pixels(&warm, 1.0)));
    let photo = book.file("trial.png").display().to_string();
    let sheet = |folder: &str| {
        book.run(&format!("look quay honey --cct 3000,5000 --into {folder}")).done();
        let path = book.file(folder).join("quay-honey-sheet.png");
        std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    };
    let before = sheet("before");
    book.run(&format!(
        "trial record quay warm --swatch honey --request first --cct 3000 --face diffused --seen glows --rating 5 \
         --photo {photo} --stone-at {STONE} --bare-at {BARE} --panel-light white-3000"
    ))
    .done();
    let after = sheet("after");
    assert!(before != after, "the trial's photo changed nothing");
    assert!(after == sheet("again"), "the same facts give the same bytes");
}

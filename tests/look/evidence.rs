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
    assert!(plain["level"].is_null() && plain["evidence"].as_array().is_some_and(Vec::is_empty));

    let borne_out = tried(&[("same", "4000", 1.0)]);
    let answer = borne_out.run("look quay honey --cct 4000 --json").json();
    assert_eq!(answer["evidence"][0]["borne_out"], true, "{}", answer["evidence"]);

    let darker = tried(&[("dark", "4000", 0.8)]);
    let answer = darker.run("look quay honey --cct 4000 --json").json();
    assert_eq!(answer["evidence"][0]["borne_out"], false);
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
    let row = &book.run("look quay honey --cct 3000 --json").json()["evidence"][0];
    // The stone is the same one, so the photo shows what was predicted but for the photos' own errors.
    assert!(row["colour_de00"].as_f64().is_some_and(|de| de < 2.5), "{row}");
    assert!(row["transmittance_seen"].is_null() && row["level"].is_null(), "{row}");
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
    let odd = answer["evidence"]
        .as_array()
        .and_then(|all| all.iter().find(|r| r["trial"] == "odd"))
        .expect("a row");
    assert_eq!(odd["colour_used"], false, "{odd}");
    assert!(answer["remarks"].to_string().contains("trial odd contradicts"), "{}", answer["remarks"]);
}

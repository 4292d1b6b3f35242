//! `calc white`, `calc through` and `calc photo` as people run them: answer, remarks, exit code.

use std::path::PathBuf;
use std::process::{Command, Output};

use serde_json::Value;
use tempfile::TempDir;

use crate::answers;

fn underlit(folder: &TempDir, arguments: &[&str]) -> Output {
    let done = Command::new(env!("CARGO_BIN_EXE_underlit"))
        .args(arguments)
        .current_dir(folder.path())
        .env_clear()
        .output()
        .unwrap_or_else(|e| panic!("{e}"));
    answers::hold(arguments, &text(&done.stdout));
    done
}

fn folder() -> TempDir {
    tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"))
}

fn write(folder: &TempDir, name: &str, header: &str, value: impl Fn(usize) -> String) -> PathBuf {
    let mut text = String::from(header);
    for nm in (380..=780).step_by(5) {
        text.push_str(&format!("{nm},{}\n", value(nm)));
    }
    let path = folder.path().join(name);
    std::fs::write(&path, text).unwrap_or_else(|e| panic!("{e}"));
    path
}

fn json(done: &Output) -> Value {
    serde_json::from_slice(&done.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&done.stdout)))
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// CIE 15:2018 for x and y; CCT, Ra and Rf by colour-science 0.4.7.
#[test]
fn one_light_has_a_plain_answer_and_several_a_list() {
    let folder = folder();
    let one = json(&underlit(&folder, &["calc", "white", "--light", "LED-B3", "--json"]));
    assert!((one["cct_k"].as_f64().unwrap_or(0.0) - 4103.0).abs() < 3.0, "{one}");
    for key in ["cct_k", "duv", "x", "y", "u_prime", "v_prime", "ra", "r9", "rf", "rg", "nominal_k"] {
        assert!(one[key].is_number(), "{key} in {one}");
        assert_eq!(one[key], one["lights"][0][key]);
    }
    write(&folder, "flat.csv", "wavelength_nm,power\n", |_| "1".into());
    let asked = ["calc", "white", "--spectrum", "flat.csv", "--light", "LED-B3", "A", "--json"];
    let all = json(&underlit(&folder, &asked));
    assert_eq!(all["lights"].as_array().map(Vec::len), Some(3));
    assert_eq!(all["cct_k"], Value::Null, "no light of several is the answer");
    // The equal-energy spectrum is illuminant E: x = y = 1/3 (CIE 15:2018).
    assert!((all["lights"][0]["x"].as_f64().unwrap_or(0.0) - 1.0 / 3.0).abs() < 1e-4, "{all}");
}

#[test]
fn a_person_reads_words() {
    let folder = folder();
    let done = underlit(&folder, &["calc", "white", "--light", "LED-B3"]);
    assert_eq!(done.status.code(), Some(0));
    assert!(text(&done.stdout).contains("4103 K, Duv -0.0007, nominal 4000 K (ANSI C78.377, from memory)"));
    write(&folder, "green.csv", "", |nm| format!("{:.6}", (-((nm as f64 - 530.0) / 12.0).powi(2)).exp()));
    let green = text(&underlit(&folder, &["calc", "white", "--spectrum", "green.csv"]).stdout);
    assert!(green.contains("a colour temperature has no meaning here"), "{green}");
    assert!(green.contains("dominant wavelength"), "{green}");
}

/// 0.1 of 2000 lx is 200 lm/m², and that over π is 63.66 cd/m² (CIE S 017).
#[test]
fn a_stone_dims_the_light() {
    let folder = folder();
    write(&folder, "grey.csv", "wavelength_nm,transmittance_10mm_pct\n", |_| "10".into());
    let asked =
        ["calc", "through", "--stone", "grey.csv", "--light", "LED-B3", "--bare-lx", "2000", "--json"];
    let answer = json(&underlit(&folder, &asked));
    let row = &answer["thicknesses"][0];
    assert_eq!(row["thickness_mm"], 10);
    assert_eq!((&row["t_low"], &row["t_high"]), (&Value::from(0.1), &Value::from(0.1)));
    assert!((row["luminance_cd_m2"].as_f64().unwrap_or(0.0) - 63.66).abs() < 0.01, "{row}");
    let words = text(
        &underlit(
            &folder,
            &["calc", "through", "--stone", "grey.csv", "--light", "LED-B3", "--thickness", "3/4in"],
        )
        .stdout,
    );
    assert!(words.contains("19.05 mm") && words.contains("range from one thickness"), "{words}");
}

#[test]
fn everything_that_is_wrong_is_told_at_once() {
    let folder = folder();
    write(&folder, "percent.csv", "wavelength_nm,transmittance\n", |_| "9.1".into());
    let asked = ["calc", "through", "--stone", "percent.csv", "missing.csv", "--light", "LED-B9", "--json"];
    let done = underlit(&folder, &asked);
    let told = json(&done);
    let codes: Vec<&str> =
        told["errors"].as_array().into_iter().flatten().filter_map(|e| e["code"].as_str()).collect();
    assert_eq!(codes, ["light-unknown", "spectrum-percent", "attachment"], "{told}");
    assert_eq!(told["errors"][1]["line"], 2);
    assert_eq!(done.status.code(), Some(3));
    for wrong in [
        vec!["calc", "white"],
        vec!["calc", "through", "--light", "A"],
        vec!["calc", "white", "--light", "nothing"],
    ] {
        assert_eq!(underlit(&folder, &wrong).status.code(), Some(2), "{wrong:?}");
    }
    let zero = ["calc", "through", "--stone", "percent.csv", "--light", "A", "--bare-lx", "0"];
    assert_eq!(underlit(&folder, &zero).status.code(), Some(2));
}

#[test]
fn a_thickness_that_nobody_named_is_asked_for() {
    let folder = folder();
    write(&folder, "stone.csv", "", |_| "0.1".into());
    let asked = ["calc", "through", "--stone", "stone.csv", "--light", "A"];
    let plain = json(&underlit(&folder, &[&asked[..], &["--json"]].concat()));
    assert_eq!(plain["thicknesses"][0]["thickness_mm"], Value::Null);
    let unknown = underlit(&folder, &[&asked[..], &["--thickness", "20mm"]].concat());
    assert!(text(&unknown.stderr).contains("--measured-at"), "{}", text(&unknown.stderr));
    let known = underlit(&folder, &[&asked[..], &["--thickness", "20mm", "--measured-at", "10mm"]].concat());
    assert!(text(&known.stdout).contains("1.64–4.63 %"), "{}", text(&known.stdout));
}

/// LED-B1 and LED-B5 in equal flux are 4016 K, Duv −0.0062 (colour-science 0.4.7 on the spectra of CIE 15:2018).
#[test]
fn lights_are_mixed_to_a_white_between_them() {
    let folder = folder();
    let asked = ["calc", "white", "--light", "LED-B1", "LED-B5", "--mix", "4016", "--json"];
    let mix = json(&underlit(&folder, &asked));
    assert!((mix["cct_k"].as_f64().unwrap_or(0.0) - 4016.0).abs() < 0.5, "{mix}");
    assert!((mix["duv"].as_f64().unwrap_or(0.0) + 0.0062).abs() < 1e-4, "{mix}");
    for (i, light) in ["LED-B1", "LED-B5"].iter().enumerate() {
        assert_eq!(mix["mix"][i]["light"], *light);
        assert!((mix["mix"][i]["flux_share"].as_f64().unwrap_or(0.0) - 0.5).abs() < 0.005, "{mix}");
        assert_eq!(mix["mix"][i]["drive"], Value::Null);
    }
    let far = underlit(&folder, &["calc", "white", "--light", "LED-B1", "LED-B5", "--mix", "9000"]);
    assert!(far.status.code() == Some(2) && text(&far.stderr).contains("choose a CCT from"), "{far:?}");
    let one = underlit(&folder, &["calc", "white", "--light", "LED-B1", "--mix", "3000"]);
    assert!(one.status.code() == Some(2) && text(&one.stderr).contains("warm and cool"), "{one:?}");
}

/// Four channels of one file: the mix has the chromaticity asked for, whichever setting is preferred.
#[test]
fn four_channels_are_mixed_for_fidelity_or_for_flux() {
    let folder = folder();
    let peak = |nm: usize, at: f64, width: f64| (-((nm as f64 - at) / width).powi(2)).exp();
    write(&folder, "rgbw.csv", "nm,red,green,blue,white\n", |nm| {
        let broad = peak(nm, 580.0, 80.0) + 0.8 * peak(nm, 452.0, 12.0);
        format!("{},{},{},{broad}", peak(nm, 630.0, 14.0), peak(nm, 525.0, 20.0), peak(nm, 465.0, 14.0))
    });
    let asked = |prefer: &str| {
        json(&underlit(
            &folder,
            &["calc", "white", "--spectrum", "rgbw.csv", "--mix", "3000,5000", "--prefer", prefer, "--json"],
        ))
    };
    let (faithful, bright) = (asked("fidelity"), asked("flux"));
    for (i, cct) in [3000.0, 5000.0].into_iter().enumerate() {
        let flux = |all: &Value| -> f64 {
            // Each channel's flux at full is its own; the share of one of them tells the whole.
            let part = &all["lights"][i]["mix"][1];
            part["drive"].as_f64().unwrap_or(0.0) / part["flux_share"].as_f64().unwrap_or(1.0)
        };
        for all in [&faithful, &bright] {
            let light = &all["lights"][i];
            assert!((light["cct_k"].as_f64().unwrap_or(0.0) - cct).abs() < 1.0, "{light}");
            assert!(light["duv"].as_f64().is_some_and(|d| d.abs() < 1e-4), "{light}");
            let shares: f64 = (0..4).filter_map(|k| light["mix"][k]["flux_share"].as_f64()).sum();
            assert!((shares - 1.0).abs() < 1e-3, "{light}");
        }
        let rf = |all: &Value| all["lights"][i]["rf"].as_f64().unwrap_or(0.0);
        assert!(rf(&faithful) >= rf(&bright), "{} {}", rf(&faithful), rf(&bright));
        assert!(flux(&bright) >= flux(&faithful) * 0.999, "{} {}", flux(&bright), flux(&faithful));
    }
}

/// The invented stone of the demo (`tests/look/invented.rs`): −ln T of its body is 1.85 and an edge of 1.5 at 515 nm, and its
/// truth is the sum over the CIE 1931 observer.
#[test]
fn a_photo_tells_ranges_that_hold_its_stone_and_whether_its_white_was_set_by_the_panel() {
    use underlit::light::illuminants::named;
    use underlit::light::spectrum::{COUNT, FIRST_NM, Transmittance};
    let folder = folder();
    let photo = concat!(env!("CARGO_MANIFEST_DIR"), "/src/starter/demo/onyx-lit.jpg");
    let over = |panel: &str, stone: &str| {
        let asked = ["calc", "photo", "--photo", photo, "--stone", stone, "--bare", "212,6,42,158"];
        let lights = ["--panel-light", panel, "--light", "LED-B1", "LED-B5", "--json"];
        underlit(&folder, &[asked.as_slice(), &lights].concat())
    };
    let answer = json(&over("white-4000", "6,6,188,158"));
    assert_eq!(answer["white_set"], "daylight");
    let depth = |i: usize| 1.85 + 1.5 / (1.0 + (((FIRST_NM + i) as f64 - 515.0) / 38.0).exp());
    let stone = Transmittance::new((0..COUNT).map(|i| (-depth(i)).exp()).collect()).expect("a stone");
    for row in answer["lights"].as_array().expect("a list") {
        let truth = stone.luminous(&named(row["light"].as_str().expect("a name")).expect("a light"));
        let [low, high] = ["low", "high"].map(|end| row["transmittance"][end].as_f64().expect("a number"));
        assert!(low < truth && truth < high && high < 1.8 * low, "{row} for {truth}");
        assert!(
            row["colour_within_de00"].as_f64().is_some_and(|within| (0.3..6.0).contains(&within)),
            "{row}"
        );
    }
    // Another light than the photo's is told by the bare panel, and a place outside the picture is refused.
    assert_eq!(json(&over("LED-B1", "6,6,188,158"))["white_set"], "elsewhere");
    let outside = over("white-4000", "6,6,900,158");
    assert_eq!(
        (outside.status.code(), json(&outside)["error"]["code"].as_str()),
        (Some(3), Some("photo-stone-area"))
    );
}

//! The pack of a job that was built and installed: its photos, and the chapter that tells how it was put in.

use std::fs;

use sha2::{Digest, Sha256};

use crate::workshop::{Workshop, files};

/// A picture that an ordinary program opens, told apart by its colour.
fn png(red: u8) -> Vec<u8> {
    use image::ImageEncoder;
    let mut out = Vec::new();
    image::codecs::png::PngEncoder::new(&mut out)
        .write_image(&[red, 90, 40].repeat(64), 8, 8, image::ExtendedColorType::Rgb8)
        .unwrap();
    out
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// The bar released, built and installed, each with its photos.
fn handed_over() -> Workshop {
    let shop = Workshop::with_a_bar();
    shop.release();
    let photo = |name: &str, red: u8| {
        let path = shop.room().join(name);
        fs::write(&path, png(red)).unwrap();
        path.display().to_string()
    };
    let [front, back] = [photo("bench front.png", 200), photo("return.png", 120)];
    shop.done(&[
        "built", "bar", "return", "--serial", "B2", "--watts", "14.4", "--volts", "24", "--photo", &back,
    ]);
    shop.done(&[
        "built", "bar", "front", "--serial", "B1", "--watts", "28.8", "--volts", "24", "--photo", &front,
    ]);
    shop.done(&["advance", "bar", "--to", "built"]);
    let [first, second] = [photo("lit.png", 250), photo("behind.png", 10)];
    shop.done(&[
        "installed",
        "bar",
        "--electrician",
        "Petra Lowfield, licence 118",
        "--code",
        "local code, 2026 edition",
        "--driver-access",
        "cupboard under the bar",
        "--card-kept-at",
        "meter cupboard",
        "--card-access",
        "slide the tray out",
        "--card-contact",
        "the shop's desk",
        "--photo",
        &first,
        "--photo",
        &second,
    ]);
    shop
}

#[test]
fn the_pack_brings_the_photos_that_the_records_name_and_the_installation() {
    let shop = handed_over();
    // A stray picture beside them is no part of the records, and so none of the pack.
    fs::write(shop.book().join("projects/bar/handover/other.png"), png(1)).unwrap();
    shop.done(&["pack", "bar", "--into", "../pack"]);
    let all = files(&shop.room().join("pack"));
    let photos: Vec<(&str, String)> =
        all.iter().filter_map(|(name, bytes)| Some((name.strip_prefix("photos/")?, hex(bytes)))).collect();
    let expected =
        [("front.png", 200), ("installed-1.png", 250), ("installed-2.png", 10), ("return.png", 120)];
    assert_eq!(photos, expected.map(|(name, red)| (name, hex(&png(red)))));

    // The same digests stand in pack.json, in SHA256SUMS, and in the records that name them.
    let text = |name: &str| fs::read_to_string(shop.room().join("pack").join(name)).unwrap();
    let (record, sums) = (text("pack.json"), text("SHA256SUMS"));
    let record: serde_json::Value = serde_json::from_str(&record).unwrap();
    let project = shop.book().join("projects/bar");
    let named =
        ["as-built.json", "installation.json"].map(|f| fs::read_to_string(project.join(f)).unwrap()).join("");
    for (name, sha256) in &photos {
        assert!(sums.contains(&format!("{sha256}  photos/{name}")), "{sums}");
        let listed = record["files"].as_array().unwrap();
        assert!(listed.iter().any(|f| f["path"] == format!("photos/{name}") && f["sha256"] == **sha256));
        assert!(named.contains(sha256.as_str()), "{name} is not in the records");
    }
    assert!(text("README.txt").contains("photos/"), "the folder's list names them");

    let pages = shop.pages("pack/pack.pdf");
    let at =
        |words: &str| pages.iter().position(|p| p.contains(words)).unwrap_or_else(|| panic!("no {words}"));
    let page = &pages[at("As it was put in")];
    for words in [
        "Installation",
        "Petra Lowfield, licence 118",
        "local code, 2026 edition",
        "cupboard under the bar",
        "meter cupboard",
        "slide the tray out",
        "the shop's desk",
        "installed-1.png",
        "installed-2.png",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    // What can hurt comes first; then the order of the work: what it is made of, how it was put in, how it is served.
    let order =
        ["Cautions", "Circuit diagram", "Bill of materials", "As it was put in", "Service card: panel front"];
    let found: Vec<usize> = order.iter().map(|words| at(words)).collect();
    assert!(at("B1") <= at("As it was put in"), "built before installed");
    assert!(found.windows(2).all(|w| w[0] <= w[1]), "{order:?} on pages {found:?}");
    // Who stands before the wiring reads what can hurt.
    let cautions = &pages[at("Cautions")..=at("Cautions") + 1].join("\n").to_lowercase();
    for words in ["licensed electrician", "heat", "acrylic", "lift", "glare"] {
        assert!(cautions.contains(words), "no word of {words}:\n{cautions}");
    }
}

#[test]
fn before_anything_is_built_there_is_neither_a_photo_nor_an_installation() {
    let shop = Workshop::with_a_bar();
    shop.done(&["pack", "bar", "--into", "../pack"]);
    assert!(files(&shop.room().join("pack")).iter().all(|(name, _)| !name.starts_with("photos/")));
    assert!(!shop.pages("pack/pack.pdf").join("").contains("As it was put in"));
    assert!(!fs::read_to_string(shop.room().join("pack/README.txt")).unwrap().contains("photos/"));
}

#[test]
fn a_photo_that_is_missing_or_exchanged_keeps_the_pack_from_being_made() {
    let shop = handed_over();
    let photo = shop.book().join("projects/bar/handover/installed-2.png");
    let refused = |code: &str| {
        let output = shop.run(&["pack", "bar", "--into", "../pack"]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!output.status.success() && said.contains(code), "{code}: {said}");
        assert!(said.contains("installed-2.png") && said.contains("Fix:"), "{said}");
        assert!(!shop.room().join("pack").exists(), "nothing half-written");
    };
    fs::write(&photo, png(11)).unwrap();
    refused("attachment-differs");
    fs::remove_file(&photo).unwrap();
    refused("installed-2.png");
    fs::write(&photo, png(10)).unwrap();
    shop.done(&["pack", "bar", "--into", "../pack"]);
}

/// By hand: 1000 × 900 and 500 × 900 mm lie on one sheet of any route; tape along tops and bottoms is 3 m and 5 % more,
/// up to the next tenth; two runs of 5 m and what hangs loose for service, and 10 % more.
#[test]
fn what_to_order_stands_in_the_plan_and_in_the_pack() {
    let shop = Workshop::with_a_bar();
    shop.done(&["pack", "bar", "--into", "../pack"]);
    let record = fs::read_to_string(shop.room().join("pack/pack.json")).unwrap();
    let record: serde_json::Value = serde_json::from_str(&record).unwrap();
    let order = record["order"].as_array().unwrap();
    let line = |what: &str| order.iter().find(|l| l["what"] == what).unwrap_or_else(|| panic!("no {what}"));
    assert_eq!(line("light-guide")["order"], 1.0);
    assert_eq!(line("light-guide")["order_unit"], "sheets");
    assert_eq!(line("tape")["net"], 3.0);
    assert_eq!(line("tape")["order"], 3.2);
    let loose: f64 = record["data"]["panels"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["service"]["cable_slack_um"].as_f64().unwrap() / 1e6)
        .sum();
    assert!(loose > 0.0, "a tray is drawn out on a loose cable");
    let cable = line("cable")["order"].as_f64().unwrap();
    assert!((cable - (10.0 + loose) * 1.1).abs() < 0.1 + 1e-9, "{cable} with {loose} m loose");
    let csv = fs::read_to_string(shop.room().join("pack/order.csv")).unwrap();
    assert!(csv.starts_with("\u{feff}what,id,net,unit,order,order unit,note\r\n"), "{csv}");
    assert_eq!(csv.lines().count(), order.len() + 1);
    assert!(shop.pages("pack/pack.pdf").iter().any(|p| p.contains("To order: whole sheets")));
    let said = shop.done(&["plan", "bar"]);
    assert!(
        said.contains("to order, with the shop's allowances:") && said.contains("common practice, no source"),
        "{said}"
    );
    assert_eq!(shop.json(0, &["plan", "bar"])["order"].as_array().unwrap().len(), order.len());
}

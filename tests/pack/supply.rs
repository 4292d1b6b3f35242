//! Where drivers stand, the mains, and what the shop lists for it: taken, recorded, and held against each driver.

use std::fs;

use serde_json::Value;

use crate::workshop::Workshop;

fn codes(status: &Value) -> Vec<&str> {
    status["warnings"].as_array().unwrap().iter().map(|w| w["code"].as_str().unwrap()).collect()
}

fn power_reasons(plan: &Value, at: usize) -> String {
    plan["panels"][at]["power_reasons"].to_string()
}

#[test]
fn a_driver_is_chosen_for_the_place_and_the_mains_that_are_recorded() {
    let shop = Workshop::with_a_bar();
    // A record of before mains and code region were asked for is planned and packed; to settle it anew they are asked for.
    let path = shop.book().join("projects/bar/project.json");
    let recorded = fs::read_to_string(&path).unwrap();
    let mut project: Value = serde_json::from_str(&recorded).unwrap();
    for field in ["mains_v", "code_region"] {
        project["site"].as_object_mut().unwrap().remove(field).unwrap();
    }
    fs::write(&path, serde_json::to_string_pretty(&project).unwrap()).unwrap();
    let status = shop.json(0, &["status", "bar"]);
    for open in ["driver-place-open", "mains-open", "code-region-open"] {
        assert!(codes(&status).contains(&open), "{open}");
    }
    shop.json(0, &["plan", "bar"]);
    let refused = shop.run(&["plan", "bar", "--settle"]);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(
        !refused.status.success()
            && said.contains("project change bar --mains VOLTS --code-region nec|iec|other"),
        "{said}"
    );
    let pack = shop.json(0, &["pack", "bar", "--into", "../taken"]);
    let taken = fs::read_to_string(shop.room().join("taken/pack.json")).unwrap();
    let taken: Value = serde_json::from_str(&taken).unwrap();
    assert_eq!(taken["data"]["assumptions"][0]["key"], "driver-place-taken");
    assert_eq!(taken["data"]["panels"][0]["supply"]["recorded"], false);
    shop.done(&["project", "change", "bar", "--mains", "230", "--code-region", "iec"]);

    // Half of where it stands is no place.
    let refused = shop.run(&["plan", "bar", "--settle", "--driver-at", "remote"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("--driver-place dry|damp|wet"));

    // The driver that was settled is rated for a damp place; another one is sealed, and not for a box in the wall.
    let wet = shop.json(1, &["plan", "bar", "--driver-at", "remote", "--driver-place", "wet"]);
    let why = power_reasons(&wet, 0);
    assert!(why.contains("driver `plain-24-60`: it is rated for a damp place, this one is wet"), "{why}");
    assert!(why.contains("--anew"), "{why}");
    let wet = shop
        .json(0, &["plan", "bar", "--settle", "--anew", "--driver-at", "remote", "--driver-place", "wet"]);
    assert_eq!(wet["circuits"][0]["driver"], "plain-24-96-sealed");
    let buys = |plan: &Value, id: &str| plan["bill"].as_array().unwrap().iter().any(|line| line["id"] == id);
    assert!(buys(&wet, "gel-2") && !buys(&wet, "lever-2"), "what joins a lead at a wet driver is sealed too");
    let record = fs::read_to_string(shop.book().join("projects/bar/panels/front.json")).unwrap();
    let record: Value = serde_json::from_str(&record).unwrap();
    assert_eq!(record["supply"]["place"], "wet");
    let boxed =
        shop.json(1, &["plan", "bar", "front", "--show", "--anew", "--why", "--driver-at", "in-wall-box"]);
    assert!(
        boxed["panels"][0]["power_reasons"].to_string().contains("no driver of the shop's list suits"),
        "{boxed}"
    );
    let text =
        shop.exits(1, &["plan", "bar", "front", "--show", "--anew", "--why", "--driver-at", "in-wall-box"]);
    assert!(text.contains("for front: no driver suits; passed over:"), "{text}");
    assert!(text.contains("plain-24-96-sealed  it may not be put in this location: in-wall-box"), "{text}");

    // The mains of the site.
    shop.done(&["project", "change", "bar", "--mains", "480"]);
    let mains = shop.json(1, &["plan", "bar", "--why"]);
    assert!(power_reasons(&mains, 0).contains("it does not take the site's mains of 480 V"), "{mains}");
    shop.done(&["project", "change", "bar", "--mains", "230"]);
    let status = shop.json(0, &["status", "bar"]);
    assert!(!codes(&status).contains(&"driver-place-open") && !codes(&status).contains(&"mains-open"));
    // Class 2 wiring takes a driver that is listed so, and cable that is marked for it.
    let class2 = shop
        .json(1, &["plan", "bar", "front", "--show", "--driver", "plain-24-300", "--class2-wiring", "yes"]);
    assert!(class2["panels"][0]["power_reasons"].to_string().contains("limited power"), "{class2}");
    // Where the site's code does not know Class 2, nothing that is said of drivers and cable names it.
    for region in ["iec", "other", "nec"] {
        shop.done(&["project", "change", "bar", "--code-region", region]);
        for driver in ["plain-24-300", "plain-24-60"] {
            for class2 in ["yes", "no"] {
                let asked = ["plan", "bar", "front", "--show", "--anew", "--why", "--driver", driver];
                let with = [&asked[..], &["--class2-wiring", class2, "--feed-length", "90m"]].concat();
                let said = shop.run(&with).stdout;
                let said = String::from_utf8_lossy(&said);
                assert!(said.contains("tapes for panel front"), "{said}");
                assert!(region == "nec" || !said.contains("Class 2"), "{region} {driver} {class2}: {said}");
            }
        }
        let why = shop.exits(
            1,
            &[
                "plan",
                "bar",
                "front",
                "--show",
                "--anew",
                "--why",
                "--class2-wiring",
                "yes",
                "--driver",
                "plain-24-300",
            ],
        );
        assert_eq!(why.contains("Class 2"), region == "nec", "{region}: {why}");
        assert_eq!(why.contains("limited power"), region != "nec", "{region}: {why}");
    }
    // A case of 60 W is 150 × 60 × 34 mm.
    let dry =
        ["plan", "bar", "front", "--show", "--anew", "--driver-at", "in-wall-box", "--driver-place", "dry"];
    let fits = |space: &'static str| [&dry[..], &["--driver-space", space]].concat();
    assert_eq!(shop.json(0, &fits("60mmx34mmx150mm"))["panels"][0]["power"]["driver"], "plain-24-60");
    assert!(shop.json(1, &fits("60mmx33mmx150mm"))["panels"][0]["power"].is_null());
    assert_eq!(pack["released"], false);
}

#[test]
fn sheets_and_joints_are_on_the_bill() {
    let shop = Workshop::with_a_bar();
    shop.done(&["pack", "bar", "--into", "../pack"]);
    let bill = fs::read_to_string(shop.room().join("pack/bill.csv")).unwrap();
    // 1.0 × 0.9 m and 0.5 × 0.9 m, diffused: reflector, light guide and diffuser for each.
    for line in [
        "light-guide,guide-8,\"Light guide, cast acrylic, 8 mm\",0.9,m2,front",
        "light-guide,guide-8,\"Light guide, cast acrylic, 8 mm\",0.45,m2,return",
        "diffuser,opal-2,\"Opal diffuser, acrylic, 2 mm\",0.9,m2,front",
        "reflector,white-back-1,\"White backing sheet, 1 mm\",0.45,m2,return",
        // One lead to each panel: a joint at its driver and one at the panel.
        "connector,lever-2,\"Lever terminals, 2 conductors\",2,pieces,",
        "connector,plug-2,\"Locking plug and socket, 2 conductors\",2,pieces,",
    ] {
        assert!(bill.lines().any(|l| l == line), "{line} is not in\n{bill}");
    }
    let readme = fs::read_to_string(shop.room().join("pack/README.txt")).unwrap();
    assert!(readme.contains("NOT RELEASED") && readme.contains("sha256sum -c SHA256SUMS"), "{readme}");
    // What the shop does not list is counted and named as open.
    let path = shop.book().join("shop/wire.json");
    let mut wire: Value = serde_json::from_str(&fs::read_to_string(&path).unwrap()).unwrap();
    wire.as_object_mut().unwrap().remove("connectors");
    fs::write(&path, serde_json::to_string_pretty(&wire).unwrap()).unwrap();
    shop.done(&["roster", "seal"]);
    let plan = shop.done(&["plan", "bar"]);
    assert!(plan.contains("connector    not-listed"), "{plan}");
    assert!(plan.contains("no connector of 2 conductors at panel: the shop lists none"), "{plan}");
}

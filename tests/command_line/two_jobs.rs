//! Two whole jobs as people play them who know nothing but what the tool says: a wet vanity by one owner's machine, and a
//! curved bar front longer than a sheet, drawn by a client who signs on paper. Each takes no more commands than here, and
//! its pack holds what was signed.

use std::fs;
use std::path::Path;

use serde_json::Value;
use underlit::digest::Sha256Digest;

use crate::workshop::{Desk, Place, Ran, private_key, public_key};

/// Counts the commands that a job takes, whoever types them.
struct Played<'p> {
    place: &'p Place,
    commands: usize,
}

impl Played<'_> {
    #[track_caller]
    fn at(&mut self, desk: &Desk, line: &str) -> Ran {
        self.commands += 1;
        desk.run(line).done()
    }

    #[track_caller]
    fn by(&mut self, desk: &Desk, person: &'static str, line: &str) -> Ran {
        self.commands += 1;
        desk.run_as(person, line).done()
    }

    #[track_caller]
    fn outside(&mut self, person: &'static str, line: &str) -> Ran {
        self.commands += 1;
        self.place.run(person, line).code(0)
    }
}

/// The pack's data are the ones that the release sealed, and each of its sheets is the very file that was signed.
fn holds_what_was_signed(book: &Desk, project: &str, pack: &Path) {
    book.run(&format!("pack {project} --prove --against {}", pack.display()))
        .done()
        .says(&["are the ones that the release sealed"]);
    let read = |path: &Path| -> Value { serde_json::from_slice(&fs::read(path).unwrap()).unwrap() };
    let data = read(&pack.join("pack.json"));
    assert_eq!(data["released"], true);
    let signed = data["release"]["sha256"].as_str().unwrap();
    let release = read(&book.path(&format!("projects/{project}/signoffs/{signed}.json")));
    let facts = &release["facts"];
    assert_eq!(facts["pack.sha256"], data["sha256"]);
    let digest = |file: &str| Sha256Digest::of(&fs::read(pack.join(file)).unwrap()).to_string();
    assert_eq!(facts["panels.front.rendering.sheet.sha256"], digest("sheets/front.svg"));
    assert_eq!(facts["panels.front.rendering.pdf.sha256"], digest("sheets/front.pdf"));
    let sheet = sheets(pack);
    assert!(sheet.contains("Valid as signed") && !sheet.contains("For approval"));
}

/// What stands on a pack's drawing sheets.
fn sheets(pack: &Path) -> String {
    let files = fs::read_dir(pack.join("sheets")).unwrap().map(|entry| entry.unwrap().path());
    let drawings = files.filter(|path| path.extension().is_some_and(|ending| ending == "svg"));
    drawings.map(|path| fs::read_to_string(path).unwrap()).collect()
}

#[test]
fn a_wet_vanity_takes_twenty_three_commands_from_an_empty_folder_to_its_pack() {
    let place = Place::new();
    let mut played = Played { place: &place, commands: 2 }; // the client's and the engineer's own ssh-keygen
    let key = place.path("key");
    played.outside("mara", &format!(
        r#"init bath --shop "Tern Point Lightworks" --owner mara --owner-name "Mara Quill" --roles rep --make-key {} --no-passphrase"#,
        key.display()
    ));
    let book = Desk::new(place.path("bath"), "mara");
    for (person, name, role) in [("imke", "Imke Voss", "client"), ("tom", "Tom Reed", "engineer")] {
        let public = public_key(person);
        played.at(
            &book,
            &format!(r#"roster add {person} --name "{name}" --role {role} --public-key {public}"#),
        );
    }
    played
        .at(&book, r#"open vanity --title "Vanity front" --client imke --engineer tom --site "Quay house" --mains 230V --code-region iec --install-date 19.4.2027"#)
        .says(&["to be installed on 2027-04-19"]);
    played.at(&book, r#"swatch add vanity onyx --stone "Honey onyx" --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 2cm"#);
    played
        .at(&book, r#"panel add vanity front --title "Vanity front" --swatch onyx --size 1200x300mm --place wet --position upright --up-edge 3 --lead-edge 2 --veins 15"#)
        .never_says(&["assumed in a dry place"]);
    played.at(&book, "advance vanity");
    played.at(&book, r#"request ask vanity first --swatch onyx --cct 3500K,4000K --face diffused,clear --size 300x200mm --address "Quay house""#);
    played.at(&book, "request sent vanity first");
    played.at(&book, "request received vanity first");
    book.run("status vanity")
        .done()
        .says(&["underlit trial record vanity NAME --swatch onyx --request first"]);
    played.at(&book, r#"trial record vanity cool --swatch onyx --request first --cct 4000K --face clear --seen "bands glow, even" --rating 5"#);
    played.at(&book, "advance vanity");
    played
        .at(&book, "choose vanity front --light static-white --cct 4000K --face clear --edges bottom,top --volts 24V --mount tray")
        .never_says(&["is rated for a wet place"]);
    played.by(&book, "imke", "sign vanity choice --yes").says(&["the choice for panel front"]);
    played.at(&book, "advance vanity");
    played.by(&book, "tom", "plan vanity front --feed-length 3m --driver-at remote --driver-place dry");
    played.at(&book, "draw vanity front");
    played.by(&book, "tom", "sign vanity acknowledgement --topic cautions --yes");
    played.by(&book, "tom", "sign vanity release --yes").never_says(&["still missing"]);
    played.at(&book, "advance vanity").says(&["to released"]);
    let pack = place.path("pack");
    played.at(&book, &format!("pack vanity --into {}", pack.display())).says(&["released"]);
    assert!(played.commands <= 23, "{} commands to a released pack", played.commands);
    holds_what_was_signed(&book, "vanity", &pack);
    let sheet = sheets(&pack);
    for word in ["wet", "24 V", "remote", "dry place", "Lead leaves at", "Up once fitted", "Veins"] {
        assert!(sheet.contains(word), "no `{word}` on the sheet");
    }

    // And on to the end: what is built is not to be built any more.
    book.run("built vanity front --serial V1 --watts 34W --volts 24V")
        .done()
        .never_says(&["LOOK INTO THIS: vanity"]);
    book.run("advance vanity").done().says(&["to built"]);
    book.run("status vanity").done().says(&["built since"]).never_says(&["may be built"]);
    book.run("board").done().never_says(&["may be built"]);
    book.run(r#"installed vanity --electrician "licence 4471" --code "local code" --driver-access "cupboard" --card-kept-at "meter cupboard" --card-access "slide the tray out" --card-contact "the shop""#)
        .done();
    book.run("board").done().says(&["nothing is missing: underlit advance vanity"]);
    book.run("advance vanity").done();
    book.run("status vanity").done().says(&["handed-over"]).never_says(&["how: ", "underlit advance"]);
    book.run("board").done().says(&["done"]).never_says(&["underlit advance"]);
    book.sound();
}

/// A bar front 3600 mm long whose upper edge is one shallow arc, with numerals as text.
const BAR: &str = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n100\nAcDbEntity\n8\nOUTLINE\n100\nAcDbPolyline\n90\n4\n70\n1\n10\n0.0\n20\n0.0\n10\n3600.0\n20\n0.0\n10\n3600.0\n20\n780.0\n42\n0.06666666666666667\n10\n0.0\n20\n780.0\n0\nTEXT\n100\nAcDbEntity\n8\nNUMERALS\n100\nAcDbText\n10\n1700.0\n20\n350.0\n40\n200.0\n1\n21\n100\nAcDbText\n0\nENDSEC\n0\nEOF\n";

#[test]
fn a_bar_front_longer_than_a_sheet_takes_forty_five_commands_with_a_client_on_paper() {
    let place = Place::new();
    let mut played = Played { place: &place, commands: 2 }; // the rep's and the engineer's own ssh-keygen
    let (hub, letter) = (place.path("hub.git"), place.file("letter.pdf", b"%PDF-1.4\n% a scan\n"));
    let drawing = place.file("bar.dxf", BAR);
    let own = |person: &str| private_key(person);
    played.outside(
        "mara",
        &format!(
            r#"init harbour --shop "Tern Point Lightworks" --owner mara --owner-name "Mara Quill" --key {}"#,
            own("mara")
        ),
    );
    let mara = Desk::new(place.path("harbour"), "mara");
    played.at(&mara, r#"roster add olof --name "Olof Hart" --role client"#);
    played.at(
        &mara,
        &format!(r#"roster add tom --name "Tom Reed" --role engineer --public-key {}"#, public_key("tom")),
    );
    played.at(
        &mara,
        &format!(r#"roster add jonas --name "Jonas Lund" --role rep --public-key {}"#, public_key("jonas")),
    );
    mara.git(&format!("init --quiet --bare -b main {}", hub.display()));
    mara.git(&format!("remote add origin {}", hub.display()));
    played.commands += 2;
    played.at(&mara, "sync");
    let mut join = |person: &'static str| {
        played
            .outside(person, &format!("join {} {person} --me {person} --key {}", hub.display(), own(person)));
        Desk::new(place.path(person), person)
    };
    let (rep, tom) = (join("jonas"), join("tom"));
    rep.run("me").done().says(&["in this clone you are Jonas Lund (jonas)"]);
    played.at(&rep, r#"open bar --title "Bar front 21" --client olof --engineer tom --site "Quay bar" --mains 230 --code-region iec --install-date 2027-05-24"#);
    played.at(&rep, r#"swatch add bar onyx --stone "White onyx" --material onyx --tone white --texture veined --thickness 20mm --slab-thickness 20mm"#);
    played.commands += 1;
    let panel = format!(
        r#"panel add bar front --title "Bar front" --swatch onyx --outline {drawing} --position upright --up-edge 3 --lead-edge 2 --veins 15"#
    );
    let text = rep.run(&panel).code(0);
    text.says(&[r#"ignored text "21""#, "assumed in a dry place", "--place wet", "needs an exact rendering"]);
    rep.run("board").done().says(&["nothing is missing: underlit advance bar"]);
    played.at(&rep, "advance bar");
    played.at(&rep, r#"request ask bar first --swatch onyx --cct 3000,4000 --face diffused,clear --size 300x200mm --address "Quay bar""#);
    played.at(&rep, "request sent bar first");
    played.at(&rep, "request received bar first");
    played.at(&rep, r#"trial record bar cool --swatch onyx --request first --cct 4000 --face clear --seen "veins stand out" --rating 5"#);
    played.at(&rep, "advance bar");
    played.at(
        &rep,
        "choose bar front --light static-white --cct 4000 --face clear --edges 1,3 --volts 24 --mount tray",
    );
    let paper = |view: &str| {
        format!(r#"evidence bar {view} --of olof --how "letter of 27 August" --scan {letter} --yes"#)
    };
    played.at(&rep, &paper("choice")).says(&["approved the choice for panel front"]);
    played.at(&rep, "advance bar");
    played.at(&rep, "sync");

    // The engineer: routes that cannot cut the curve are named as such and never settled.
    played.at(&tom, "sync");
    played.at(&tom, "split bar front").says(&[
        "route saw-and-edge: it cuts no curved outlines",
        "settle one: underlit split bar front --route routed-panel --option 1",
    ]);
    tom.unchanged(|t| {
        t.run("split bar front --route saw-and-edge --option 1")
            .fails(2, "route-cannot-build")
            .says(&["cuts no curved outlines", "--route: routed-panel"]);
    });
    played
        .at(&tom, "split bar front --seam 1800mm,0mm:1800mm,900mm")
        .says(&["underlit evidence bar acknowledgement --panel front --topic seams --of olof"]);
    // The drawing shows where the driver stands, so the plan comes first in the list.
    let status = tom.run("status bar").done().stdout;
    let place_of = |what: &str| status.find(what).unwrap_or_else(|| panic!("no {what} in {status}"));
    assert!(place_of("[power-worked-out]") < place_of("[rendering-matches]"), "{status}");
    assert!(status.contains("--driver-at in-wall-box|remote --driver-place"), "{status}");
    played.at(&tom, "plan bar front --feed-length 6m --driver-at remote --driver-place dry");
    played.at(&tom, "draw bar front");
    played.at(&tom, "sign bar rendering --yes").says(&["the rendering for panel front"]);
    played.at(&tom, "sync");
    played.at(&rep, "sync");
    played.at(&rep, &paper("acknowledgement --topic seams")).says(&["seams"]);
    played.at(&rep, &paper("rendering")).says(&["the rendering for panel front"]);
    played.at(&rep, "sync");
    played.at(&tom, "sync");
    played.at(&tom, "sign bar acknowledgement --topic cautions --yes");
    played.at(&tom, "sign bar release --yes");
    played.at(&tom, "advance bar").says(&["to released"]);
    let pack = place.path("pack");
    played.at(&tom, &format!("pack bar --into {}", pack.display())).says(&["released"]);
    played.at(&tom, "sync");
    assert!(played.commands <= 45, "{} commands to a released pack", played.commands);
    holds_what_was_signed(&tom, "bar", &pack);
    let sheet = ["front.svg", "front-2.svg"]
        .map(|f| fs::read_to_string(pack.join("sheets").join(f)).unwrap())
        .concat();
    for word in
        ["remote", "dry place", "piece 1", "piece 2", "Lead leaves at", "Up once fitted", "Veins", "24 V"]
    {
        assert!(sheet.contains(word), "no `{word}` on the sheets");
    }
    assert!(!sheet.contains("not settled yet"));
    for piece in 1..=2 {
        assert!(pack.join(format!("cut/bar-front-piece-{piece}.dxf")).is_file());
    }
    tom.sound();
}

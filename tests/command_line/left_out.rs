//! What never gets into a book, whoever leaves it there: droppings of desktops and editors, private keys, and what a
//! photo tells of its maker.

use std::io::Cursor;

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use underlit::model::droppings::{IGNORE, is_dropping};

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, private_key};

const DROPPINGS: &[&str] = &[
    ".DS_Store",
    "Thumbs.db",
    "desktop.ini",
    "projects/quay-desk/.DS_Store",
    "projects/quay-desk/panels/._front.json",
    "projects/quay-desk/panels/.front.json.swp",
    "projects/quay-desk/panels/.#front.json",
    "projects/quay-desk/panels/#front.json#",
    "projects/quay-desk/panels/front (copy).json",
    "projects/quay-desk/panels/front.json~",
    "projects/quay-desk/panels/front.json.bak",
    "projects/quay-desk/panels/front.json.orig",
    "projects/quay-desk/panels/front.tmp",
    "projects/quay-desk/panels/front (1).json",
    "projects/quay-desk/panels/front - Copy.json",
    "projects/quay-desk/~$notes.docx",
    "shop/wire.json.bak",
    ".vscode/settings.json",
];

#[test]
fn droppings_are_in_nobodys_way() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    // A book of before has no list of its own.
    book.git("rm --quiet --ignore-unmatch .gitignore");
    book.git("commit --quiet --allow-empty -m before");
    for file in DROPPINGS {
        book.write(file, "left by something else");
    }
    let files = book.git("ls-files");
    book.run("check").done();
    book.run(r#"project change quay-desk --title "Another desk""#).done();
    book.edit(&format!("{PROJECT}/panels/front.json"), "\"title\": \"", "\"title\": \"A ");
    book.run("status quay-desk").done();
    book.run(r#"project change quay-desk --title "A third desk""#).done();
    assert_eq!(book.git("ls-files"), files, "nothing was taken in");
    for file in DROPPINGS {
        assert!(book.path(file).exists(), "{file} is left where it lies");
    }
    let hub = place.path("hub.git");
    book.git(&format!("init --quiet --bare -b main {}", hub.display()));
    book.git(&format!("remote add origin {}", hub.display()));
    book.run("sync").done();
    assert_eq!(book.git("ls-files"), files);
    // Whoever committed one past us may take it out again.
    book.git("add --force .DS_Store");
    book.git("commit --quiet -m mine");
    book.run("sync").fails(3, "not-of-a-book");
    book.git("rm --quiet --cached .DS_Store");
    book.git("commit --quiet -m out");
    book.run("sync").done();
    // A new book tells stock git as well, and both know the same.
    let fresh = place.path("fresh");
    let key = private_key("mara");
    let line = format!(
        "init {} --id gull --shop Gull --owner mara --owner-name Mara --roles rep --key {key}",
        fresh.display()
    );
    place.run("mara", &line).code(0);
    let fresh = Desk::new(fresh, "mara");
    assert_eq!(fresh.text(".gitignore"), IGNORE);
    for file in DROPPINGS {
        assert!(is_dropping(file), "{file}");
        fresh.write(file, "x");
    }
    assert_eq!(fresh.git("status --porcelain --untracked-files=all"), "");
}

/// Files that people save where they happen to be: none is a record, and none was meant for one.
const STRAYS: &[&str] = &[
    "no.txt",
    "Re: the bar.eml",
    "mail/2027/offer.pdf",
    "export.json",
    "projects/who is who.txt",
    "projects/quay-desk/notes.docx",
    "projects/quay-desk/notes.txt",
    "projects/quay-desk/swatches/Alba from the window.JPG",
    "projects/quay-desk/swatches/window.jpg",
    "projects/quay-desk/signoffs/answer.eml",
    "roster/telephone numbers.txt",
];

#[test]
fn a_stray_file_stops_nobody_and_gets_into_no_commit() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let hub = place.path("hub.git");
    book.git(&format!("init --quiet --bare -b main {}", hub.display()));
    book.git(&format!("remote add origin {}", hub.display()));
    book.run("sync").done();
    for file in STRAYS {
        book.write(file, "nobody's record");
    }
    std::os::unix::fs::symlink("/etc/hostname", book.path("linked")).unwrap();
    let untracked = || book.git("status --porcelain --untracked-files=all -z");
    let before = untracked();
    let said = book.run("check").code(0).says(&["left alone: ", " and 7 more", "nothing wrong"]);
    assert_eq!(said.stderr.matches("left alone").count(), 1, "{}", said.stderr);
    let json = book.run("check --json").code(0).json();
    assert_eq!(json["left_alone"].as_array().unwrap().len(), STRAYS.len() + 1, "{json:#}");
    let said = book.run("status quay-desk").done();
    assert!(!said.stderr.contains("left alone") && !said.stdout.contains("notes"), "{}", said.stdout);
    book.run("verify").done();
    // By a verb, by hand, by a move and by an exchange.
    book.run("swatch change quay-desk alba --lot B-17").done();
    book.edit(&format!("{PROJECT}/panels/front.json"), "\"title\": \"", "\"title\": \"A ");
    book.run("project change quay-desk --note now").done();
    book.run("advance quay-desk").code(0).says(&["from intake to sampling"]);
    book.run("roster rename imke --name Imke --reason shorter").done();
    book.run("sync").done();
    let kept = [book.git("ls-files"), book.git("ls-tree -r --name-only origin/main")].concat();
    for file in STRAYS.iter().chain(&["linked"]) {
        assert!(!kept.contains(file), "{file} was taken in or sent");
    }
    assert_eq!(untracked(), before, "stock git sees what it saw");
    // Made ready for a commit it is still in nobody's.
    book.git("add no.txt");
    book.run("project change quay-desk --note later").done();
    book.run("sync").done();
    assert!(!book.git("ls-tree --name-only HEAD").contains("no.txt"));
    // Committed past us it is judged as ever.
    book.git("add no.txt");
    book.git("commit --quiet -m mine");
    book.run("check").fails(3, "not-of-a-book").says(&["no.txt"]);
    book.run("sync").fails(3, "not-of-a-book").says(&["no.txt"]);
    book.git("reset --quiet --hard HEAD~1");
    book.run("sync").done();
}

#[test]
fn what_looks_like_a_record_under_a_wrong_name_is_no_stray() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let head = book.git("rev-parse HEAD");
    for file in [
        "projects/quay-desk/panels/Front Panel.json",
        "projects/quay-desk/Project.json",
        "projects/Quay Bar/project.json",
        "projects/quay-desk/signoffs/answer.sig",
        "Rules.json",
        "roster/2.json",
        "projects/quay-desk/.gitattributes",
    ] {
        book.write(file, "{}");
        book.run("check").fails(3, "not-of-a-book").says(&[file]);
        book.run("project change quay-desk --note x").fails(3, "not-of-a-book").says(&[file]);
        std::fs::remove_file(book.path(file)).unwrap();
    }
    assert_eq!(book.git("rev-parse HEAD"), head);
}

#[test]
fn titles_and_names_that_look_alike_are_told_and_refused_nowhere() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let panel: serde_json::Value =
        serde_json::from_str(&book.text(&format!("{PROJECT}/panels/front.json"))).unwrap();
    let title = panel["title"].as_str().unwrap().to_owned();
    let quiet = |line: &str| {
        let said = book.run(line).done();
        assert!(!(said.stdout.clone() + &said.stderr).contains("look alike"), "{line}: {}", said.stdout);
    };
    ["check", "status quay-desk", "verify", "roster show"].into_iter().for_each(quiet);
    // A second panel whose title has one character without ink.
    let mut twin = panel.clone();
    twin["id"] = "side".into();
    twin["title"] = format!("{}\u{200b}{}", &title[..1], &title[1..]).into();
    book.write(&format!("{PROJECT}/panels/side.json"), format!("{twin:#}\n"));
    // A person who is named like another, with a Cyrillic letter; a project that is titled like another.
    book.run("roster rename imke --name M\u{430}ra --reason x").done();
    book.run("roster rename mara --name Mara --reason x").done();
    let project = book.text(&format!("{PROJECT}/project.json"));
    let value: serde_json::Value = serde_json::from_str(&project).unwrap();
    let mut other = value.clone();
    other["id"] = "other".into();
    other["title"] = format!("{}\u{a0} ", value["title"].as_str().unwrap()).into();
    book.write("projects/other/project.json", format!("{other:#}\n"));
    let panels = "panel front";
    book.run("check").code(0).says(&[
        "nothing wrong",
        "look alike",
        "quay-desk: panel front",
        "quay-desk: panel side",
        "U+200B",
        "project other",
        "project quay-desk",
        "mixes scripts within the word",
        "U+0430",
    ]);
    book.run("status quay-desk").done().says(&[panels, "panel side", "look alike", "Unicode"]);
    let json = book.run("status quay-desk --json").done().json();
    let codes: Vec<&str> =
        json["warnings"].as_array().unwrap().iter().filter_map(|w| w["code"].as_str()).collect();
    assert!(codes.contains(&"look-alike"), "{codes:?}");
    book.run("verify").done().says(&[panels, "look alike", "project other", "U+0430"]);
    let json = book.run("verify --json").done().json();
    assert_eq!(json["notes"][0]["code"], "look-alike", "{json:#}");
    book.run("roster show").done().says(&["look alike", "mixes scripts", "U+0430"]);
    let json = book.run("roster show --json").done().json();
    assert_eq!(json["notes"][1]["code"], "mixed-script", "{json:#}");
    // Nothing is refused for it.
    book.run("project change quay-desk --note x").done();
    book.run("sync --offline").done();
}

#[test]
fn a_private_key_gets_in_by_no_verb() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let secret = std::fs::read_to_string(private_key("mara")).unwrap();
    let file = place.file("notes.txt", format!("as agreed\n{secret}"));
    let head = book.git("rev-parse HEAD");
    book.run(&format!("trial record quay-desk keyed --swatch alba --request first --cct 4000 --face diffused --seen x --rating 3 --photo {file}"));
    book.run(&format!("swatch change quay-desk alba --photo {file}")).fails(5, "private-key");
    // By hand, whatever it is called: beside a record, as a record's words, in the place of a housekeeping file.
    let record = format!("{PROJECT}/project.json");
    let before = book.text(&record);
    for (path, text) in [
        (format!("{PROJECT}/handover/photo.jpg"), secret.clone()),
        ("README.md".to_owned(), secret.clone()),
        (record.clone(), {
            let mut value: serde_json::Value = serde_json::from_str(&before).unwrap();
            value["note"] = secret.clone().into();
            format!("{value:#}\n")
        }),
    ] {
        let there = book.path(&path).exists().then(|| book.text(&path));
        book.write(&path, text);
        book.run(r#"project change quay-desk --title "Another""#).fails(5, "private-key").says(&[&path]);
        match there {
            Some(text) => book.write(&path, text),
            None => std::fs::remove_file(book.path(&path)).unwrap(),
        }
    }
    assert_eq!(book.git("rev-parse HEAD"), head);
}

#[test]
fn a_private_key_behind_the_first_mebibyte_gets_in_by_no_verb() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let secret = std::fs::read(private_key("mara")).unwrap();
    let long = [&vec![b'x'; 5 << 20][..], &secret].concat();
    let file = place.file("lit.jpg", &long);
    let head = book.git("rev-parse HEAD");
    book.run(&format!("swatch change quay-desk alba --photo {file}")).fails(5, "private-key");
    // By hand: told by `check` before any verb, and refused by the next.
    let path = format!("{PROJECT}/handover/lit.jpg");
    book.write(&path, &long);
    book.run("check").fails(5, "private-key").says(&[&path]);
    book.run("check quay-desk").fails(5, "private-key").says(&[&path]);
    book.run(r#"project change quay-desk --title "Another""#).fails(5, "private-key").says(&[&path]);
    book.run("sync --offline").fails(5, "private-key").says(&[&path]);
    assert_eq!(book.git("rev-parse HEAD"), head);
    // Committed by stock git, no sync sends it.
    book.git("add --all --force");
    book.git("commit --quiet -m photo");
    book.git(&format!("init --quiet --bare -b main {}", place.path("hub.git").display()));
    book.git(&format!("remote add origin {}", place.path("hub.git").display()));
    book.run("sync").fails(5, "private-key").says(&[&path]);
    assert_eq!(book.git("ls-remote origin"), "");
    // As large as an attachment may be, with no key in it, nothing is wrong.
    book.git("reset --quiet --hard HEAD~1");
    book.run("check").code(0);
}

/// A JPEG as a telephone makes it: place, owner, serial number, XMP, and film behind the end.
fn telephone_photo() -> Vec<u8> {
    let field = |tag, value| Field { tag, ifd_num: In::PRIMARY, value };
    let text = |words: &str| Value::Ascii(vec![words.as_bytes().to_vec()]);
    let fields = [
        field(Tag::Orientation, Value::Short(vec![6])),
        field(Tag::ExposureTime, Value::Rational(vec![Rational { num: 1, denom: 60 }])),
        field(Tag::GPSLatitude, Value::Rational(vec![Rational { num: 52, denom: 1 }; 3])),
        field(Tag::CameraOwnerName, text("SECRET")),
        field(Tag::BodySerialNumber, text("SECRET")),
        field(Tag::Make, text("SECRET")),
    ];
    let mut writer = Writer::new();
    fields.iter().for_each(|f| writer.push_field(f));
    let mut notes = Cursor::new(Vec::new());
    writer.write(&mut notes, false).unwrap();
    let mut plain = Vec::new();
    let encoder = image::codecs::jpeg::JpegEncoder::new(&mut plain);
    let pixels = image::RgbImage::from_pixel(32, 24, image::Rgb([200, 150, 90]));
    image::ImageEncoder::write_image(encoder, &pixels, 32, 24, image::ExtendedColorType::Rgb8).unwrap();
    let mut out = vec![0xff, 0xd8];
    for body in
        [[b"Exif\0\0".as_slice(), notes.get_ref()].concat(), b"http://ns.adobe.com/xap/1.0/\0SECRET".to_vec()]
    {
        out.extend([0xff, 0xe1]);
        out.extend(u16::try_from(body.len() + 2).unwrap().to_be_bytes());
        out.extend(body);
    }
    out.extend(&plain[2..]);
    out.extend(b"SECRET film");
    out
}

#[test]
fn a_photo_comes_in_without_place_owner_and_device() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let photo = telephone_photo();
    let file = place.file("stone.jpg", &photo);
    let secret = |bytes: &[u8]| bytes.windows(6).any(|w| w == b"SECRET");
    let stored = format!("{PROJECT}/swatches/alba.jpg");
    book.run(&format!("swatch change quay-desk alba --photo {file}")).done();
    let clean = book.bytes(&stored);
    assert!(secret(&photo) && !secret(&clean));
    let read = exif::Reader::new().read_from_container(&mut Cursor::new(&clean)).unwrap();
    assert_eq!(read.get_field(Tag::Orientation, In::PRIMARY).and_then(|f| f.value.get_uint(0)), Some(6));
    assert!(read.get_field(Tag::ExposureTime, In::PRIMARY).is_some());
    assert!(read.get_field(Tag::GPSLatitude, In::PRIMARY).is_none());
    // The record holds the digest of what is stored.
    let digest = underlit::digest::Sha256Digest::of(&clean);
    assert!(book.text(&format!("{PROJECT}/swatches/alba.json")).contains(&digest.hex()));
    book.run("check").done();
    // Whoever wants them keeps them.
    book.run(&format!("swatch change quay-desk alba --photo {file} --keep-photo-notes")).done();
    assert_eq!(book.bytes(&stored), photo);
    // A kind whose notes cannot be taken out is refused, or kept as it is by a word.
    let heic = place.file("stone.heic", b"\0\0\0\x18ftypheic SECRET");
    let refused = book.run(&format!("swatch change quay-desk alba --photo {heic}"));
    refused.fails(2, "picture-heic").says(&["--keep-photo-notes", "most compatible", "heif-convert"]);
    let film = place.file("stone.tif", b"II*\0SECRET..");
    let refused = book.run(&format!("swatch change quay-desk alba --photo {film}"));
    refused.fails(2, "photo-notes").says(&["--keep-photo-notes", "JPEG or PNG"]);
    book.run(&format!("swatch change quay-desk alba --photo {heic} --keep-photo-notes")).done();
}

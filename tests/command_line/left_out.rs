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
    refused.fails(2, "photo-notes").says(&["--keep-photo-notes", "JPEG or PNG"]);
    book.run(&format!("swatch change quay-desk alba --photo {heic} --keep-photo-notes")).done();
}

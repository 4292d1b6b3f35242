//! Sheets that are not what the tool draws: drawn for another height, with something that runs, or beside the manifest. The
//! digests of the manifest are made to fit each time, as anybody can.

use crate::forgery::{RENDERING, drawn_for_another_height, edit_manifest, harmful, refit};
use crate::stages;
use crate::workshop::{Desk, Place};

fn commit(book: &Desk) {
    book.git("add --all");
    book.git("commit --quiet -m drawn");
}

const SIGN: &str = "sign quay-desk rendering --panel front --yes";

#[test]
fn a_sheet_for_another_height_is_neither_signed_nor_passed() {
    let place = Place::new();
    let [svg, pdf] = drawn_for_another_height(&place, stages::drawn());
    let book = place.copy(stages::drawn(), "mara");
    refit(&book, &svg, &pdf);
    // As a hand edit it is not taken in, and as a commit of stock git it is found.
    book.run("project change quay-desk --install-date 2027-03-16").fails(5, "sheet-differs");
    commit(&book);
    book.run("check").fails(5, "sheet-differs").says(&[
        "sheet.svg",
        "sheet.pdf",
        "underlit draw quay-desk front",
    ]);
    book.run("check quay-desk").fails(5, "sheet-differs");
    book.unchanged(|b| b.run_as("imke", SIGN).fails(5, "sheet-differs"));
    // A refusal is always heard.
    book.run_as("imke", r#"sign quay-desk rendering --panel front --reject --comment "not mine" --yes"#)
        .done();
    // The way out that is named.
    book.run("draw quay-desk front").done().says(&["revision 2"]);
    book.sound();
    book.run_as("imke", SIGN).done();
}

#[test]
fn a_book_proved_draws_every_sheet_again_once() {
    let place = Place::new();
    let [svg, pdf] = drawn_for_another_height(&place, stages::drawn());
    let book = place.copy(stages::drawn(), "mara");
    // Once it was found the same, its very content is known, until a byte of it changes.
    book.run("verify").done();
    book.run("verify").done();
    refit(&book, &svg, &pdf);
    commit(&book);
    let other = book.git("rev-parse HEAD").trim().to_owned();
    let said = ["[sheet-differs]", "sheet.svg", "sheet.pdf", "underlit draw quay-desk front"];
    let fingerprint = underlit::digest::Sha256Digest::of(&book.bytes("roster/0001.json"));
    for line in [
        "verify".to_owned(),
        "verify".to_owned(),
        "verify --cold".to_owned(),
        format!("verify --at {other} --fingerprint {fingerprint}"),
    ] {
        book.run(&line).code(5).says(&said);
    }
    book.git("reset --quiet --hard HEAD~1");
    book.run("verify").done();
    // Another edition cannot be compared: that is told each time, and is no fault.
    edit_manifest(&book, |m| {
        m["drawn_with"] = "0.1.0".into();
        m.as_object_mut().unwrap().remove("printed");
    });
    commit(&book);
    for line in ["verify quay-desk", "verify quay-desk"] {
        book.run(line).code(1).says(&["the sheets of front were drawn by another underlit"]);
    }
    let answer = book.run("verify --json").json();
    assert_eq!(answer["projects"][0]["sheets_apart"], serde_json::json!(["front"]));
    assert_eq!(answer["holds"], true);
}

#[test]
fn only_one_of_sheet_and_pdf_and_one_letter_are_enough() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let (svg, pdf) =
        (book.bytes(&format!("{RENDERING}/sheet.svg")), book.bytes(&format!("{RENDERING}/sheet.pdf")));
    let text = String::from_utf8(svg.clone()).unwrap();
    assert!(text.contains("4000 K"), "{text}");
    let warmer = text.replace("4000 K", "3000 K").into_bytes();
    let mut other = pdf.clone();
    other.push(b'\n');
    for (svg, pdf, which) in [(&warmer, &pdf, "sheet.svg"), (&svg, &other, "sheet.pdf")] {
        refit(&book, svg, pdf);
        book.run("check").fails(5, "sheet-differs").says(&[which]);
    }
    // What is printed beside the facts is held to the sheet as well.
    refit(&book, &svg, &pdf);
    edit_manifest(&book, |m| m["printed"]["cautions"][0] = "Mains: anybody connects it.".into());
    book.run("check").fails(5, "sheet-differs");
}

#[test]
fn a_release_looks_at_every_sheet_again() {
    let place = Place::new();
    let [svg, pdf] = drawn_for_another_height(&place, stages::signed());
    let book = place.copy(stages::signed(), "mara");
    refit(&book, &svg, &pdf);
    commit(&book);
    // The client signs the forged sheet by stock tools, which ask nobody; here it is enough that it lies there.
    book.unchanged(|b| b.run_as("tom", "sign quay-desk release --yes").fails(5, "sheet-differs"));
}

#[test]
fn nothing_that_runs_or_is_fetched_is_passed_whoever_drew_it() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let (svg, pdf) =
        (book.bytes(&format!("{RENDERING}/sheet.svg")), book.bytes(&format!("{RENDERING}/sheet.pdf")));
    for (what, svg, pdf) in harmful(&svg, &pdf) {
        refit(&book, &svg, &pdf);
        edit_manifest(&book, |m| {
            m["drawn_with"] = "0.0.9".into();
            m.as_object_mut().unwrap().remove("printed");
        });
        let found =
            book.run("check").fails(5, "sheet-not-plain").says(&["do not open it", "git checkout -- "]);
        assert!(!found.stderr.contains("sheet-differs"), "{what}");
        book.unchanged(|b| b.run_as("imke", SIGN).fails(5, "sheet-not-plain"));
    }
}

#[test]
fn a_sheet_of_another_underlit_is_told_to_the_signer_and_stands_once_signed() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    edit_manifest(&book, |m| {
        m["drawn_with"] = "0.1.0".into();
        m.as_object_mut().unwrap().remove("printed");
    });
    book.sound_after_commit();
    let said =
        ["was drawn by another underlit (0.1.0)", "read the sheet itself", "underlit draw quay-desk front"];
    book.run_as("imke", SIGN).code(0).says(&said);
    book.run_as("tom", &format!("{SIGN} --as engineer")).code(0).says(&said);
    book.run_as("tom", "sign quay-desk acknowledgement --topic cautions --yes").done();
    book.run_as("tom", "sign quay-desk release --yes").code(0).says(&said);
    book.run("advance quay-desk --to released").done();
    book.sound();
    book.run("board --released").done().says(&["may be built"]);
}

#[test]
fn a_sheet_that_is_out_of_date_is_not_signed() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let drawing = place.file("lower.json", stages::curved(590));
    book.run(&format!("panel change quay-desk front --outline {drawing}")).done();
    book.sound();
    book.unchanged(|b| {
        b.run_as("imke", SIGN).fails(2, "sheet-out-of-date").says(&["underlit draw quay-desk front"]);
    });
}

#[test]
fn what_a_sheet_prints_otherwise_than_today_is_told_before_it_is_signed() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run(r#"project change quay-desk --electrical-code "NEC 2026""#).done();
    book.run_as("imke", SIGN).code(0).says(&[
        "prints as cautions",
        "the code that governs",
        "today it would be",
        "NEC 2026",
    ]);
    book.sound();
}

#[test]
fn a_file_that_no_record_names_is_told_and_never_taken_in() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let photo = "projects/quay-desk/swatches/alba.jpg";
    for file in [photo, &format!("{RENDERING}/other.pdf"), "projects/quay-desk/panels/front.dxf"] {
        book.write(file, "anything");
        // People would take it for a sheet that was signed; elsewhere it merely lies there.
        if file.starts_with(RENDERING) {
            book.run("check").fails(3, "unnamed-file").says(&[file, "remove the file"]);
        } else {
            book.run("check").code(0).says(&["left alone: ", file]);
        }
        // It is in nobody's way, and no commit takes it in.
        book.run(&format!("project change quay-desk --note {}", file.len())).done();
        assert_eq!(book.git(&format!("ls-files {file}")), "");
        std::fs::remove_file(book.path(file)).unwrap();
    }
    // Named, it is taken in with the record that names it.
    let jpg = place.file("alba.jpg", b"\xff\xd8\xff pixels");
    book.run(&format!("swatch change quay-desk alba --photo {jpg} --keep-photo-notes")).done();
    // Another kind of file takes its place, and the old one goes with the change.
    let png = place.file("alba.png", b"\x89PNG\r\n\x1a\n pixels");
    book.run(&format!("swatch change quay-desk alba --photo {png} --keep-photo-notes")).done();
    assert_eq!(book.names("projects/quay-desk/swatches", "g"), ["alba.png"]);
    book.sound();
}

#[test]
fn the_files_of_a_rendering_have_their_names() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let pdf = book.bytes(&format!("{RENDERING}/sheet.pdf"));
    book.write(&format!("{RENDERING}/other.pdf"), pdf);
    edit_manifest(&book, |m| m["pdf"]["file"] = "other.pdf".into());
    book.run("check").code(3).says(&["manifest.json", "/pdf/file"]);
    edit_manifest(&book, |m| {
        m["pdf"]["file"] = "sheet.pdf".into();
        m["panel"] = "side".into();
    });
    book.run("check").code(3).says(&["id-not-name"]);
}

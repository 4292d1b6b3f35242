//! Labels and order sheets: what is printed follows the records, and wrong use writes nothing.

use std::fs;

use crate::stages;
use crate::workshop::Place;

/// Every text of a drawn page.
fn texts(svg: &str) -> String {
    let page = roxmltree::Document::parse(svg).unwrap();
    let texts = page.descendants().filter(|n| n.has_tag_name("text"));
    texts.filter_map(|n| n.text().map(str::to_owned)).collect::<Vec<_>>().join("\n")
}

#[test]
fn each_test_panel_gets_a_label_and_an_order_until_it_is_sent() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let into = place.path("prints");
    let to = format!("--into {}", into.display());
    book.run(
        r#"request ask quay-desk loan --swatch alba --light tunable-white --cct 2700,4000 --face diffused,clear --size 300mmx200mm --quantity 2 --address "Quay 4" --return-by 2026-12-24"#,
    )
    .done();
    book.unchanged(|b| {
        b.run(&format!("label quay-desk --request loan {to}")).done().says(&["printed 4 labels"]);
        b.run(&format!("request sheet {to}")).done().says(&["1 request, 4 test panels"]);
        b.run(&format!("label quay-desk --request loan {to}-dry --dry-run")).done();
        assert!(!place.path("prints-dry").exists());
    });
    let third = texts(&fs::read_to_string(into.join("quay-desk-loan-label-3.svg")).unwrap());
    for said in ["tunable white 2700, 4000 K", "clear face", "3 of 4, request loan", "2026-12-24", "Quay 4"] {
        assert!(third.replace('\n', " ").contains(said), "{said}: {third}");
    }
    let order = texts(&fs::read_to_string(into.join("test-panels.svg")).unwrap());
    assert!(order.contains("quay-desk / loan") && order.contains("2 of each"), "{order}");
    // The same day and book give the same bytes.
    let pdf = fs::read(into.join("test-panels.pdf")).unwrap();
    book.run(&format!("request sheet {to}")).done();
    assert_eq!(fs::read(into.join("test-panels.pdf")).unwrap(), pdf);

    book.run("request sent quay-desk loan").done();
    book.run(&format!("request sheet {to}-later")).fails(2, "nothing-to-order");
    assert!(!place.path("prints-later").exists());
    book.run(&format!("request sheet quay-desk loan {to}")).done();
    assert!(into.join("quay-desk-loan-order.pdf").exists());
}

#[test]
fn wrong_use_of_labels_is_told() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let into = place.path("prints");
    book.unchanged(|b| {
        for (line, code) in [
            ("label quay-desk --request nobody", "unknown-record"),
            ("label quay-desk --panel nobody", "unknown-panel"),
            ("label quay-desk --request first --size 5mmx5mm", "out-of-range"),
            ("label quay-desk --request first --size 30mmx30mm", "label-too-small"),
            ("label quay-desk --panel front", "nothing-to-serve"),
        ] {
            let said = b.run(&format!("{line} --into {}", into.display()));
            assert!(said.stderr.contains(&format!("[{code}]")), "{line}: {}", said.stderr);
        }
        b.run("label quay-desk").code(2);
        b.run("label quay-desk --request first --panel front").code(2);
        b.run("label quay-desk --request first --address ftp://host").code(2).says(&["https://"]);
    });
    assert!(!into.exists());
}

#[test]
fn the_book_says_where_its_pages_are() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let text = book.text("book.json");
    let with = text.replacen("\"format\":", "\"pages\": \"https://pages.example/quay\",\n  \"format\":", 1);
    assert_ne!(text, with);
    book.write("book.json", with.as_bytes());
    book.run("roster seal").done();
    let (one, other) = (place.path("one"), place.path("other"));
    book.run(&format!("label quay-desk --request first --into {}", one.display())).done();
    let address = "--address https://pages.example/quay/";
    book.run(&format!("label quay-desk --request first {address} --into {}", other.display())).done();
    let svg =
        |folder: &std::path::Path| fs::read_to_string(folder.join("quay-desk-first-label-1.svg")).unwrap();
    assert_eq!(svg(&one), svg(&other));
    assert!(svg(&one).contains("opens its page"));
}

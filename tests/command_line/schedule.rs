//! A schedule of panels taken in: rows of one mark become one panel, everything that does not fit is said at once, and
//! nothing is made of half of it.

use serde_json::json;

use crate::stages;
use crate::workshop::Place;

/// Eighty-four places in three marks, as a spreadsheet writes them: a mark, a semicolon between cells, empty rows.
fn eighty_four() -> String {
    let mut text = String::from("\u{feff}Room No.;Type mark;W;H;Stone;Notes;Price\r\n");
    for floor in 1..=4 {
        for door in 1..=21 {
            let (mark, width) = match door {
                1..=14 => ("V-1", 900),
                15..=20 => ("V-2", 1200),
                _ => ("V-3", 1500),
            };
            text += &format!("{floor}{door:02};{mark};{width};450;White alabaster;;\r\n");
        }
        text += ";;;;;;\r\n";
    }
    text
}

#[test]
fn eighty_four_places_of_three_marks_are_three_panels() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let stone = book.run("show quay-desk swatch alba --json").done().json();
    let called = stone["record"]["stone"].as_str().unwrap_or_else(|| panic!("{stone}")).to_owned();
    let file = place.file("schedule.csv", eighty_four().replace("White alabaster", &called));
    let line = format!(r#"panel import quay-desk {file} --unit mm --column mark="type mark""#);
    book.unchanged(|book| {
        book.run(&format!("{line} --dry-run")).code(0).says(&["dry run", "3 panels from 84 rows"])
    });
    let before = book.commits();
    let answer = book.run(&format!("{line} --json")).code(0).json();
    assert_eq!(book.commits(), before + 1, "one commit");
    assert_eq!(answer["columns_not_read"], json!(["Price"]));
    let found: Vec<_> =
        answer["panels"].as_array().into_iter().flatten().map(|p| (&p["id"], &p["quantity"])).collect();
    assert_eq!(found, [(&json!("v-1"), &json!(56)), (&json!("v-2"), &json!(24)), (&json!("v-3"), &json!(4))]);
    let record: serde_json::Value =
        serde_json::from_str(&book.text("projects/quay-desk/panels/v-3.json")).unwrap();
    assert_eq!((&record["quantity"], &record["note"]), (&json!(4), &json!("Rooms: 121, 221, 321, 421")));
    book.sound();
    book.unchanged(|book| {
        book.run(&line).fails(3, "schedule").says(&["has a panel v-1 already", "schedule.csv:2"])
    });
}

#[test]
fn whatever_does_not_fit_is_said_at_once_and_nothing_is_made() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let bad = "mark,size,quantity,stone,place\n\
               A,900x450mm,2,alba,dry\n\
               A,900x460mm,2,alba,dry\n\
               ,900x450mm,1,alba,\n\
               B,wide,1,alba,\n\
               C,900x450mm,none,alba,\n\
               D,900x450mm,1,basalt,\n\
               E,900x450mm,1,alba,soaking\n\
               ★,900x450mm,1,alba,\n\
               F,900x450mm,999,alba,\n\
               F,900x450mm,2,alba,\n";
    let file = place.file("bad.csv", bad);
    let said =
        book.unchanged(|book| book.run(&format!("panel import quay-desk {file}")).fails(3, "schedule"));
    said.says(&[
        "bad.csv:3",
        "its size is another than on line 2",
        "bad.csv:4",
        "the row has no mark",
        "bad.csv:5",
        "its size",
        "bad.csv:6",
        "`none` is no quantity",
        "bad.csv:7",
        "no swatch is of `basalt`",
        "bad.csv:8",
        "soaking",
        "bad.csv:9",
        "makes no short name",
        "bad.csv:10",
        "1001 of panel f are more than 1000",
        "8 things are wrong",
    ]);
    for (name, bytes, words) in [
        ("book.xlsx", b"PK\x03\x04rest".to_vec(), "or as CSV (UTF-8)"),
        ("latin.csv", b"mark,size\nA\xe9,1x1mm\n".to_vec(), "UTF-8"),
        ("empty.csv", b"mark,size\n".to_vec(), "it has no rows"),
        ("none.csv", Vec::new(), "it has no headings"),
        ("old.xls", vec![0xD0, 0xCF, 0x11, 0xE0], "an old binary file of an office program"),
        ("other.csv", b"colour,weight\nred,2\n".to_vec(), "--column mark=HEADING"),
        ("bare.csv", b"mark,size,stone\nA,900x450,alba\n".to_vec(), "--unit mm"),
    ] {
        let file = place.file(name, bytes);
        book.unchanged(|book| {
            book.run(&format!("panel import quay-desk {file}")).fails(3, "schedule").says(&[words])
        });
    }
    let file = place.file("again.csv", "mark,size\nA,900x450mm\n");
    let line = format!("panel import quay-desk {file} --column size=Dimensions");
    book.unchanged(|book| {
        book.run(&line).fails(3, "schedule").says(&["no column headed `Dimensions`", "mark, size"])
    });
    book.unchanged(|book| book.run("panel import quay-desk gone.csv").fails(2, "schedule"));
}

#[test]
fn what_is_alike_is_signed_once_and_a_change_of_the_number_is_signed_anew() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    book.run("panel change quay-desk front --quantity 84").done().says(&["84 alike"]);
    book.run_as("imke", "sign quay-desk choice --panel front --yes").done();
    book.run("show quay-desk panel front").done().says(&["84"]);
    let bill = |line: &str| book.run(line).done().json();
    let of = |plan: &serde_json::Value, what: &str| -> f64 {
        let lines = plan["bill"].as_array().into_iter().flatten();
        lines.filter(|l| l["what"] == what).filter_map(|l| l["quantity"].as_f64()).sum()
    };
    book.run("plan quay-desk front --feed-length 3m --driver-at remote --driver-place dry").done();
    let many = bill("plan quay-desk --show --json");
    book.run("panel change quay-desk front --without quantity").done().says(&["now stale"]);
    let one = bill("plan quay-desk --show --json");
    for what in ["driver", "tape", "cable"] {
        let (one, many) = (of(&one, what), of(&many, what));
        assert!(one > 0.0 && (many - 84.0 * one).abs() < 1e-6 * many, "{what}: {many} and {one}");
    }
}

#[test]
fn running_jobs_become_projects_in_one_step() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let people = book.run("roster show --json").done().json();
    let client =
        people["roster"]["people"].as_array().into_iter().flatten().find(|p| p["id"] == "imke").unwrap();
    let called = client["name"].as_str().unwrap();
    let rows = |clients: [&str; 3], days: [&str; 3]| {
        format!(
            "Open jobs of the shop,,,,\nJob no,Project,Client,Due date,Remarks,Price\n\
             2041,Café Müller: bar,{},{},drawn; trial was on 3 March,900\n,,,,,\n\
             2042,Spa wall,{},{},,\n,Desk B,{},{},,\n",
            clients[0], days[0], clients[1], days[1], clients[2], days[2]
        )
    };
    let good = rows([called, "imke", &called.to_uppercase()], ["2027-05-06", "", "2027-07-01"]);
    let file = place.file("running.csv", good);
    let line = format!(r#"import {file} --column title=project"#);
    book.unchanged(|book| {
        book.run(&format!("{line} --dry-run")).code(0).says(&["dry run", "opened 3 projects"])
    });
    let before = book.commits();
    let answer = book.run(&format!("{line} --json")).code(0).json();
    assert_eq!(book.commits(), before + 1, "one commit");
    assert_eq!(answer["columns_not_read"], json!(["Price"]));
    let ids: Vec<_> = answer["projects"].as_array().into_iter().flatten().map(|p| &p["id"]).collect();
    assert_eq!(ids, [&json!("2041"), &json!("2042"), &json!("desk-b")]);
    let record: serde_json::Value = serde_json::from_str(&book.text("projects/2041/project.json")).unwrap();
    assert_eq!(record["title"], json!("Café Müller: bar"));
    assert_eq!((&record["people"]["client"], &record["people"]["rep"]), (&json!("imke"), &json!("mara")));
    assert_eq!((&record["install_date"], &record["site"]["name"]), (&json!("2027-05-06"), &record["title"]));
    book.run("status desk-b").done().says(&["Desk B"]);
    book.sound();
    book.unchanged(|book| {
        book.run(&line).fails(3, "schedule").says(&["the book has a job 2041 already", "3 things"])
    });

    let file = place.file(
        "bad.csv",
        rows(["nobody", "", "imke"], ["6.5.2027", "2027-06-31", ""]).replace("Desk B", "2042"),
    );
    let said = book
        .unchanged(|book| book.run(&format!("import {file} --column title=project")).fails(3, "schedule"));
    said.says(&[
        "bad.csv:3",
        "`nobody` is not on the roster",
        "invalid date `6.5.2027`",
        "bad.csv:5",
        "the row names no client",
        "invalid date `2027-06-31`",
        "bad.csv:6",
        "the book has a job 2042 already",
    ]);
    let bare = place.file("bare.csv", "colour,client\nred,imke\n");
    book.unchanged(|book| {
        book.run(&format!("import {bare}")).fails(3, "schedule").says(&["--column title=HEADING"])
    });
    book.unchanged(|book| book.run(&format!("import {file} --rep noone")).fails(2, "unknown-person"));
}

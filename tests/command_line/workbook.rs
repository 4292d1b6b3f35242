//! Schedules and running jobs out of workbooks (.xlsx): what a sheet shows is what is taken in, and what it does not tell is
//! refused with its cell. Workbooks of another maker are read in `tests/outside/workbooks`.

use std::io::{Cursor, Write};

use serde_json::{Value, json};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::stages;
use crate::workshop::{Desk, Place};

const SPREADSHEET: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";

/// A workbook of two sheets, of which the first holds these rows; `more` follows them.
fn workbook(rows: &str, more: &str) -> Vec<u8> {
    let sheet = |rows: &str, more: &str| {
        format!(r#"<worksheet xmlns="{SPREADSHEET}"><sheetData>{rows}</sheetData>{more}</worksheet>"#)
    };
    let parts = [
        (
            "xl/workbook.xml",
            format!(
                r#"<workbook xmlns="{SPREADSHEET}" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>
                <sheet name="Old" state="hidden" r:id="r2"/><sheet name="Panels" r:id="r1"/><sheet name="Prices" r:id="r2"/></sheets></workbook>"#
            ),
        ),
        (
            "xl/_rels/workbook.xml.rels",
            r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
            <Relationship Id="r1" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Target="/xl/worksheets/sheet2.xml"/></Relationships>"#.to_owned(),
        ),
        (
            "xl/sharedStrings.xml",
            format!(
                r#"<sst xmlns="{SPREADSHEET}"><si><t>mark</t></si><si><r><t>White </t></r><r><t>alabaster</t></r><rPh><t>aloud</t></rPh></si></sst>"#
            ),
        ),
        (
            "xl/styles.xml",
            format!(
                r#"<styleSheet xmlns="{SPREADSHEET}"><numFmts><numFmt numFmtId="164" formatCode="0.0&quot; day&quot;"/><numFmt numFmtId="165" formatCode="[$-409]d\ mmm\ yyyy"/></numFmts>
                <cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="165"/></cellXfs></styleSheet>"#
            ),
        ),
        ("xl/worksheets/sheet1.xml", sheet(rows, more)),
        ("xl/worksheets/sheet2.xml", sheet("<row><c><v>1</v></c></row>", "")),
    ];
    zipped(&parts.map(|(name, text)| (name, text.into_bytes())))
}

fn zipped(parts: &[(&str, Vec<u8>)]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        zip.start_file(*name, SimpleFileOptions::default()).expect("a part begins");
        zip.write_all(bytes).expect("a part is written");
    }
    zip.finish().expect("it is whole").into_inner()
}

fn text(text: &str) -> String {
    format!(r#"<c t="inlineStr"><is><t>{text}</t></is></c>"#)
}

fn number(number: &str) -> String {
    format!("<c><v>{number}</v></c>")
}

fn row(cells: &[String]) -> String {
    format!("<row>{}</row>", cells.concat())
}

fn heads(names: &[&str]) -> String {
    row(&names.iter().map(|name| text(name)).collect::<Vec<_>>())
}

fn import(book: &Desk, place: &Place, bytes: Vec<u8>, more: &str) -> crate::workshop::Ran {
    let file = place.file("schedule.xlsx", bytes);
    book.run(&format!("panel import quay-desk {file} {more}"))
}

#[test]
fn a_sheet_is_taken_in_as_it_shows() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let rows = [
        row(&[text("Schedule of the quay hall")]),
        "<row/>".to_owned(),
        // A heading and a stone out of the shared texts, rows that name their cells and leave some out.
        format!(
            r#"<row r="4"><c r="A4" t="s"><v>0</v></c>{}</row>"#,
            ["width", "height", "quantity", "stone", "note"].map(text).concat()
        ),
        r#"<row r="5"><c r="A5" t="str"><f>"V-"&amp;1</f><v>V-1</v></c><c r="B5"><f>450*2</f><v>900</v></c><c r="C5"><v>450.5</v></c><c r="D5"><v>2</v></c><c r="E5" t="s"><v>1</v></c><c r="F5" t="inlineStr"><is><t>left of the door</t></is></c></row>"#.to_owned(),
        // What binary fractions leave over is not shown, and a day is shown as one.
        r#"<row r="7"><c r="A7" t="inlineStr"><is><t>V-2</t></is></c><c r="B7" s="2"><v>1200.4000000000001</v></c><c r="C7"><v>4.5E2</v></c><c r="E7" t="s"><v>1</v></c><c r="F7" s="3"><v>46461</v></c></row>"#.to_owned(),
        r#"<row r="8"><c r="A8" t="inlineStr"><is><t>V-3</t></is></c><c r="B8"><v>700</v></c><c r="C8"><v>300</v></c><c r="D8"/><c r="E8"/></row>"#.to_owned(),
    ];
    let merged = r#"<mergeCells><mergeCell ref="A1:F1"/><mergeCell ref="E7:E8"/></mergeCells>"#;
    let ran = import(&book, &place, workbook(&rows.concat(), merged), "--unit mm --json").code(0);
    let answer = ran.json();
    let of = |n: usize, what: &str| answer["panels"][n][what].clone();
    let found: Vec<Value> = (0..3)
        .map(|n| {
            json!([
                of(n, "id"),
                of(n, "width_mm"),
                of(n, "height_mm"),
                of(n, "quantity"),
                of(n, "swatch"),
                of(n, "lines")
            ])
        })
        .collect();
    assert_eq!(
        found,
        [
            json!(["v-1", 900, 450.5, 2, "alba", [5]]),
            json!(["v-2", 1200.4, 450, 1, "alba", [7]]),
            json!(["v-3", 700, 300, 1, "alba", [8]])
        ],
        "{answer}"
    );
    assert_eq!(answer["sheets_not_read"], json!(["Prices"]), "a hidden sheet is not told");
    // 46461 is 15 March 2027 by the calendar from 1900: 2027-01-01 is 46388.
    assert_eq!(book.run("show quay-desk panel v-2 --json").done().json()["record"]["note"], "2027-03-15");
    book.sound();
}

#[test]
fn what_a_sheet_does_not_tell_is_refused_with_its_cell() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let one = |cells: &str| {
        let head = heads(&["mark", "width", "height", "quantity"]);
        workbook(&format!("{head}<row>{}{cells}</row>", text("A")), "")
    };
    let sized = format!("{}{}", number("900"), number("450"));
    let head = heads(&["mark", "width", "height", "quantity"]);
    let twice = format!("{head}{0}{0}", row(&[text("A"), number("900"), number("450"), number("4")]));
    let whole = one(&sized);
    let cases: [(Vec<u8>, &str, &[&str]); 8] = [
        (
            one(r#"<c r="B2"><f>1+1</f></c>"#),
            "",
            &["B2 is a formula that nobody worked out", "schedule.xlsx:2"],
        ),
        (one(r##"<c r="B2" t="e"><v>#REF!</v></c>"##), "", &["B2 shows an error: #REF!"]),
        (one(r#"<c r="B2" t="s"><v>9</v></c>"#), "", &["B2 names text 9, which the workbook does not have"]),
        (
            workbook(&twice, r#"<mergeCells><mergeCell ref="D2:D3"/></mergeCells>"#),
            "",
            &["a number is merged over rows 2 to 3", "unmerge it"],
        ),
        (whole.clone(), "--sheet Panel", &["it has no sheet `Panel`", "Panels"]),
        (whole[..whole.len() / 2].to_vec(), "", &["this workbook cannot be read"]),
        (
            zipped(&[("xl/workbook.xml", b"<workbook".to_vec())]),
            "",
            &["this workbook cannot be read: xl/workbook.xml"],
        ),
        (workbook("", ""), "", &["it has no headings"]),
    ];
    for (bytes, more, says) in cases {
        book.unchanged(|book| {
            import(book, &place, bytes, &format!("--unit mm {more}")).fails(3, "schedule").says(says)
        });
    }
    let csv = place.file("plain.csv", "mark,size\nA,900x450mm\n");
    book.run(&format!("panel import quay-desk {csv} --sheet Panels")).fails(2, "schedule");
    // A part that unpacks to more than is read: 64 MB of blanks, a few KB packed.
    let large = zipped(&[("xl/workbook.xml", vec![b' '; 64 << 20])]);
    assert!(large.len() < 1 << 20, "{}", large.len());
    import(&book, &place, large, "")
        .fails(3, "schedule")
        .says(&["it has more than 32 MB in xl/workbook.xml"]);
}

/// Each file says what it is, by its first bytes and not by its name. Real ones are tried in `tests/outside/workbooks`.
#[test]
fn what_is_no_workbook_says_what_it_is_instead() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let old = |stream: &str| {
        let name: Vec<u8> = stream.encode_utf16().chain([0]).flat_map(u16::to_le_bytes).collect();
        [b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1".as_slice(), &[0; 504], &name].concat()
    };
    let zip = |name: &str, text: &str| zipped(&[(name, text.as_bytes().to_vec())]);
    let plain = "save it as .xlsx, or as CSV (UTF-8)";
    let table = "name the workbook (.xlsx) or the CSV file";
    let cases: Vec<(Vec<u8>, &str, &str)> = vec![
        (old("Workbook"), "this is an old binary workbook (.xls)", plain),
        (old("Book"), "this is an old binary workbook (.xls)", plain),
        (old("EncryptedPackage"), "this workbook has a password", "take its password off"),
        (old("WordDocument"), "an old binary file of an office program", table),
        (b"\x09\x04\x06\x00\x00\x00\x10\x00".to_vec(), "a very old binary sheet", plain),
        (zip("xl/workbook.bin", ""), "this is a binary workbook (.xlsb)", plain),
        (
            zip("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
            "this is an OpenDocument workbook (.ods)",
            plain,
        ),
        (zip("mimetype", "application/vnd.oasis.opendocument.text"), "another OpenDocument file", table),
        (zip("word/document.xml", "<x/>"), "but a text document (.docx)", table),
        (zip("content.xml", "<x/>"), "but a zip file of other things", table),
        (zipped(&[]), "but a zip file of other things", table),
        (b"\xFF\xFEm\0a\0r\0k\0".to_vec(), "this is UTF-16 text", "as CSV (UTF-8)"),
        (b"%PDF-1.7\n".to_vec(), "but a PDF document", table),
        (b"\x89PNG\r\n\x1a\n".to_vec(), "but a picture", table),
        (b"<html><table><tr><td>mark</td></tr></table>".to_vec(), "this is a web page", plain),
        (
            b"<?xml version=\"1.0\"?><?mso-application progid=\"Excel.Sheet\"?><Workbook/>".to_vec(),
            "this is an old XML workbook",
            plain,
        ),
        (b"\xEF\xBB\xBF<jobs/>".to_vec(), "but XML", table),
        (b"a schedule that somebody wrote\n".to_vec(), "no workbook, whatever it is called, but text", table),
        (b"mark,si\xE9ge\n".to_vec(), "this is not UTF-8 text", "save the sheet as CSV (UTF-8)"),
        (vec![0xFE, 0, 1, 2, 0x80], "this is neither a workbook (.xlsx) nor text", table),
    ];
    for (bytes, what, fix) in cases {
        book.unchanged(|book| {
            import(book, &place, bytes.clone(), "--unit mm").fails(3, "schedule").says(&[
                what,
                fix,
                "schedule.xlsx",
            ]);
        });
        let file = place.file("running.xls", bytes);
        book.unchanged(|book| book.run(&format!("import {file}")).fails(3, "schedule").says(&[what, fix]));
    }
    // A table of text is taken in under any name.
    import(&book, &place, b"mark,size\nA,900x450mm\n".to_vec(), "").done();
    book.sound();
}

#[test]
fn running_jobs_come_out_of_a_workbook_too() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    let rows = heads(&["job", "title", "client", "install"])
        + &row(&[text("Q-7"), text("Quay stair"), text("imke"), r#"<c s="1"><v>46461</v></c>"#.to_owned()]);
    let file = place.file("running.xlsx", workbook(&rows, ""));
    let ran = book.run(&format!("import {file} --sheet Panels")).code(0);
    ran.says(&["opened 1 project", "q-7", "to be installed on 2027-03-15", "sheets not read: Prices"]);
    book.sound();
}

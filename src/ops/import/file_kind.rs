//! What a file is by its own bytes, whatever it is called: what is no table that can be read is told by its name.
//!
//! Signatures: [MS-CFB] 2.2 (old office files), [MS-OFFCRYPTO] 2.3.4 and [MS-XLS] 2.1.2 (the streams in them), [MS-XLS]
//! 2.4.21 (a sheet of before 1995), APPNOTE 4.3 (zip), OpenDocument 1.3 part 2, 3.3 (`mimetype`), ECMA-376 part 2
//! (parts of an office file).

use crate::fault::Fault;

use super::table::fault;

/// What to do with a spreadsheet of another kind.
const SAVE: &str = "open it in a spreadsheet program and save it as .xlsx, or as CSV (UTF-8)";

/// What to do where it is no spreadsheet.
const NAME: &str = "name the workbook (.xlsx) or the CSV file (UTF-8) that holds the table";

/// True for a zip file, which a workbook is.
pub(super) fn is_zip(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06")
}

/// Why a file is neither a zip file nor text; none where it may be.
pub(super) fn neither(bytes: &[u8], file: &str) -> Option<Fault> {
    let (what, fix) = what_it_is(bytes)?;
    Some(fault(file, what).fix(fix))
}

fn what_it_is(bytes: &[u8]) -> Option<(&'static str, &'static str)> {
    let begins = |with: &[&[u8]]| with.iter().any(|one| bytes.starts_with(one));
    if begins(&[b"\xD0\xCF\x11\xE0"]) {
        // Names in its directory are UTF-16, low byte first.
        let holds = |name: &str| {
            let wide: Vec<u8> = name.encode_utf16().chain([0]).flat_map(u16::to_le_bytes).collect();
            memchr::memmem::find(bytes, &wide).is_some()
        };
        return Some(if holds("EncryptedPackage") {
            (
                "this workbook has a password",
                "open it, take its password off and save it as .xlsx, or as CSV (UTF-8)",
            )
        } else if holds("Workbook") || holds("Book") {
            ("this is an old binary workbook (.xls)", SAVE)
        } else {
            ("this is no workbook, but an old binary file of an office program", NAME)
        });
    }
    if begins(&[b"\x09\x00\x04\x00", b"\x09\x02\x06\x00", b"\x09\x04\x06\x00"]) {
        return Some(("this is a very old binary sheet (.xls)", SAVE));
    }
    if begins(&[b"\xFF\xFE", b"\xFE\xFF"]) {
        return Some(("this is UTF-16 text", "save the sheet as CSV (UTF-8), or as .xlsx"));
    }
    if begins(&[b"%PDF-"]) {
        return Some(("this is no table, but a PDF document", NAME));
    }
    if begins(&[b"\xFF\xD8\xFF", b"\x89PNG", b"GIF8", b"II*\0", b"MM\0*"]) {
        return Some(("this is no table, but a picture", NAME));
    }
    if begins(&[b"{\\rtf"]) {
        return Some(("this is no table, but a text document (.rtf)", NAME));
    }
    if begins(&[b"\x1F\x8B", b"7z\xBC\xAF", b"Rar!"]) {
        return Some(("this is a packed file", "unpack it, and name what is in it"));
    }
    let text = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes).trim_ascii_start();
    if !text.starts_with(b"<") {
        return None;
    }
    let head = text[..text.len().min(1024)].to_ascii_lowercase();
    let says = |word: &[u8]| memchr::memmem::find(&head, word).is_some();
    Some(if says(b"urn:schemas-microsoft-com:office:spreadsheet") || says(b"excel.sheet") {
        ("this is an old XML workbook", SAVE)
    } else if says(b"<html") || says(b"<table") || says(b"<!doctype html") {
        ("this is a web page, as some programs write one for a spreadsheet", SAVE)
    } else {
        ("this is no table, but XML", NAME)
    })
}

/// Why a zip file is no workbook, by the names of what is in it and by what its `mimetype` says.
pub(super) fn other_zip<'n>(names: impl Iterator<Item = &'n str>, mimetype: &str, file: &str) -> Fault {
    let names: Vec<&str> = names.collect();
    let has = |wanted: &str| names.iter().any(|name| name.starts_with(wanted));
    let (what, fix) = if has("xl/workbook.bin") {
        ("this is a binary workbook (.xlsb)", SAVE)
    } else if mimetype.contains("opendocument.spreadsheet") {
        ("this is an OpenDocument workbook (.ods)", SAVE)
    } else if has("word/") {
        ("this is no workbook, but a text document (.docx)", NAME)
    } else if has("ppt/") {
        ("this is no workbook, but slides (.pptx)", NAME)
    } else if has("Index/") {
        ("this is a file of another office program", SAVE)
    } else if mimetype.contains("opendocument") {
        ("this is no workbook, but another OpenDocument file", NAME)
    } else {
        ("this is no workbook, but a zip file of other things", NAME)
    };
    fault(file, what).fix(fix)
}

/// True for a name that says workbook.
fn is_called_workbook(file: &str) -> bool {
    let ending = file.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
    ending.is_some_and(|ending| ["xlsx", "xlsm", "xltx", "xls", "xlsb", "ods"].contains(&ending.as_str()))
}

/// A text without a row of two cells.
pub(super) fn no_headings(file: &str, is_text: bool) -> Fault {
    if is_text && is_called_workbook(file) {
        return fault(file, "this is no workbook, whatever it is called, but text without a row of headings")
            .fix(NAME);
    }
    fault(file, "it has no headings").fix("begin with a row that says what each column is")
}

/// What is neither a zip file nor UTF-8 text.
pub(super) fn no_text(bytes: &[u8], file: &str) -> Fault {
    // Text of any one-byte encoding has no zeros.
    if bytes.contains(&0) {
        return fault(file, "this is neither a workbook (.xlsx) nor text").fix(NAME);
    }
    fault(file, "this is not UTF-8 text").fix("save the sheet as CSV (UTF-8)")
}

//! Tables that a spreadsheet program opens right, and that run nothing there.

/// A table as CSV (RFC 4180) with the byte order mark by which a spreadsheet program knows UTF-8. A text that it would run
/// as a formula gets an apostrophe before it; numbers stay numbers, also below zero.
pub(super) fn spreadsheet<const N: usize>(
    head: [&str; N],
    rows: impl Iterator<Item = [String; N]>,
) -> Vec<u8> {
    let mut out = String::from("\u{feff}");
    let mut line = |cells: [String; N]| {
        out.push_str(&cells.map(|cell| quoted(&inert(cell))).join(","));
        out.push_str("\r\n");
    };
    line(head.map(str::to_owned));
    rows.for_each(line);
    out.into_bytes()
}

/// What starts a formula, also in the full width of East Asian letters (OWASP, "CSV Injection"). Blanks before it count
/// for nothing.
fn inert(cell: String) -> String {
    let starts =
        |c: char| matches!(c, '=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '＝' | '＋' | '－' | '＠');
    let number = cell.strip_prefix(['-', '+']).unwrap_or(&cell);
    let is_number = number.starts_with(|c: char| c.is_ascii_digit())
        && number.bytes().all(|b| b.is_ascii_digit() || b == b'.')
        && number.parse::<f64>().is_ok();
    let shows = cell.trim_start_matches(' ');
    if !is_number && shows.starts_with(starts) { format!("'{cell}") } else { cell }
}

/// A cell in quotes where it holds what parts cells, lines or quotes.
fn quoted(cell: &str) -> String {
    if cell.contains([',', ';', '"', '\r', '\n', '\t']) || cell.starts_with(' ') || cell.ends_with(' ') {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_is_a_formula_and_numbers_stay_numbers() {
        for text in [
            "=1+1", "+cmd", "-a", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1", "－1", "＝1", "-1-1", "+1e5;",
            "-", "--1", "-.",
        ] {
            assert_eq!(inert(text.into()), format!("'{text}"));
        }
        for text in ["-1", "+1.5", "-0.25", "0", "12", "a=b", "Light guide, 8 mm", "", "'=1"] {
            assert_eq!(inert(text.into()), text);
        }
    }

    #[test]
    fn cells_come_back_as_they_were() {
        let rows = [["a,b".to_owned(), "say \"yes\"".into()], ["two\nlines".into(), " größer ".into()]];
        let made = spreadsheet(["what", "note"], rows.iter().cloned());
        assert_eq!(made[..3], [0xef, 0xbb, 0xbf]);
        let mut read = csv::ReaderBuilder::new().has_headers(false).from_reader(&made[3..]);
        let read: Vec<Vec<String>> =
            read.records().map(|row| row.expect("a row").iter().map(str::to_owned).collect()).collect();
        assert_eq!(read[0], ["what", "note"]);
        assert_eq!(read[1..], rows);
    }
}

//! Holds the threat table of src/trust/verify/NOTES.md to the tests that it names: every row names some, and each is there.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

/// The rows of the table: what is threatened, and the names of tests in the last column.
fn rows(text: &str) -> Vec<(String, Vec<String>)> {
    let table = text.split_once("\n## Threats\n").expect("the table has its heading").1;
    let table = table.split("\n## ").next().unwrap();
    let lines = table.lines().filter(|l| l.starts_with("| ") && !l.starts_with("| threat "));
    lines
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
            assert_eq!(cells.len(), 3, "three cells: {line}");
            let names = cells[2].split('`').skip(1).step_by(2).map(str::to_owned).collect();
            (cells[0].to_owned(), names)
        })
        .collect()
}

/// Why a test of that name is not there.
fn missing(root: &Path, name: &str) -> Option<String> {
    let parts: Vec<&str> = name.split("::").collect();
    let (test, place) = parts.split_last()?;
    let base = if place.first() == Some(&"src") { root.to_owned() } else { root.join("tests") };
    let file = base.join(place.join("/")).with_extension("rs");
    let Ok(text) = fs::read_to_string(&file) else { return Some(format!("{name}: no {}", file.display())) };
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let Some(at) = lines.iter().position(|l| l.starts_with(&format!("fn {test}("))) else {
        return Some(format!("{name}: no such function in {}", file.display()));
    };
    let marks = lines[..at].iter().rev().take_while(|l| l.starts_with("#[") || l.starts_with("//"));
    let marks: Vec<&&str> = marks.collect();
    if !marks.iter().any(|l| **l == "#[test]") || marks.iter().any(|l| l.starts_with("#[ignore")) {
        return Some(format!("{name}: it is no test that runs"));
    }
    None
}

#[test]
fn every_threat_names_tests_that_are_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let rows = rows(&fs::read_to_string(root.join("src/trust/verify/NOTES.md")).unwrap());
    assert!(rows.len() >= 30, "the table is whole: {} rows", rows.len());
    let without: Vec<&String> =
        rows.iter().filter(|(_, names)| names.is_empty()).map(|(row, _)| row).collect();
    assert!(without.is_empty(), "rows without a test: {without:?}");
    let missing: Vec<String> =
        rows.iter().flat_map(|(_, names)| names).filter_map(|name| missing(root, name)).collect();
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

#[test]
fn a_name_without_a_test_is_found() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    assert_eq!(missing(root, "threats::a_name_without_a_test_is_found"), None);
    for name in [
        "threats::rows",
        "threats::nothing_of_that_name",
        "nowhere::at_all",
        "git_room::crash::killed_at_each_write",
    ] {
        assert!(missing(root, name).is_some(), "{name}");
    }
}

//! The script that made the example book makes it again, with other keys.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use tempfile::TempDir;

use super::book::{Copy, UNDERLIT, files, original};

/// True for what carries a key, a signature, or a digest of one.
fn is_said(path: &str) -> bool {
    path.starts_with("roster/") || path.contains("/signoffs/") || path.contains("/moves/")
}

/// How many statements and signatures lie in each folder.
fn said(files: &BTreeMap<String, Vec<u8>>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for path in files.keys().filter(|p| is_said(p)) {
        let (folder, name) = path.rsplit_once('/').unwrap();
        let ending = name.rsplit_once('.').unwrap().1;
        *counts.entry(format!("{folder}/*.{ending}")).or_insert(0) += 1;
    }
    counts
}

#[test]
fn making_it_again_gives_the_same_book_with_other_keys() {
    let room = TempDir::new().unwrap();
    let again = room.path().join("again");
    let done = Command::new(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/make-example-repo"))
        .arg(&again)
        .env("UNDERLIT", UNDERLIT)
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let (ours, theirs) = (files(&original()), files(&again));
    assert_eq!(said(&ours), said(&theirs));
    let plain = |files: &BTreeMap<String, Vec<u8>>| -> Vec<String> {
        files.keys().filter(|p| !is_said(p)).cloned().collect()
    };
    assert_eq!(plain(&ours), plain(&theirs));
    // How a sheet looks may improve without the book's being made again: it is what was signed then.
    for path in plain(&ours).into_iter().filter(|p| !p.contains("/renderings/")) {
        assert!(ours[&path] == theirs[&path], "{path} came out differently: run tests/make-example-repo");
    }
    assert_ne!(ours["roster/0001.mara.sig"], theirs["roster/0001.mara.sig"]);
}

/// The picture that the README shows is the one that the book gives; it, the photos and the book are small.
#[test]
fn the_contact_sheet_in_the_readme_is_the_books_own() {
    let copy = Copy::new();
    let looks = copy.room().join("looks");
    let into = looks.display().to_string();
    copy.said(&["look", "quay-bar", "honey", "--cct", "2700,3000,4000", "--into", &into]);
    let ours = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/example_repo/honey-onyx.png");
    let [ours, theirs] =
        [ours, looks.join("quay-bar-honey-sheet.png")].map(|path| std::fs::read(path).unwrap());
    let [kept, made] = [&ours, &theirs].map(|bytes| image::load_from_memory(bytes).unwrap().to_rgb8());
    // A last bit of the machine's sines and powers may turn one step of a colour.
    let is_near = |(a, b): (&u8, &u8)| a.abs_diff(*b) <= 1;
    let is_same = kept.dimensions() == made.dimensions() && kept.iter().zip(made.iter()).all(is_near);
    assert!(is_same, "tests/example_repo/honey-onyx.png is another sheet: run tests/make-example-repo");
    let photos: usize =
        files(&original()).iter().filter(|(p, _)| p.ends_with(".jpg")).map(|(_, b)| b.len()).sum();
    assert!(photos > 0 && ours.len() + 2 * photos < 300_000, "{} + {photos}", ours.len());
}

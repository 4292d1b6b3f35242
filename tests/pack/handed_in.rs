//! The folder of a pack: links in it are never followed, nothing of somebody else's is removed, and a pack that was handed
//! in is compared file by file.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

use crate::workshop::{Workshop, files};

/// Everything outside the pack that a link could lead to.
fn outside(shop: &Workshop) -> std::path::PathBuf {
    let folder = shop.room().join("outside");
    fs::create_dir_all(folder.join("sheets")).unwrap();
    for name in ["keep.txt", "pack.pdf", "sheets/front.svg", "sheets/front.pdf"] {
        fs::write(folder.join(name), "keep me").unwrap();
    }
    folder
}

#[track_caller]
fn refused(shop: &Workshop, folder: &str, code: &str) {
    let before = files(shop.room());
    let output = shop.run(&["pack", "bar", "--into", folder]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains(code), "{code}: {said}");
    assert_eq!(files(shop.room()), before, "nothing was changed");
}

#[test]
fn nothing_is_written_or_removed_through_a_link() {
    let shop = Workshop::with_a_bar();
    let outside = outside(&shop);
    shop.done(&["pack", "bar", "--into", "../pack"]);
    let pack = shop.room().join("pack");
    let of = |inside: &str| pack.join(inside);
    // The folder itself.
    symlink(&pack, shop.room().join("linked")).unwrap();
    refused(&shop, "../linked", "link-in-the-way");
    // A folder within, and with it everything in it.
    fs::rename(of("sheets"), shop.room().join("aside")).unwrap();
    symlink(outside.join("sheets"), of("sheets")).unwrap();
    refused(&shop, "../pack", "link-in-the-way");
    fs::remove_file(of("sheets")).unwrap();
    fs::rename(shop.room().join("aside"), of("sheets")).unwrap();
    // A single file, and the list of digests.
    for name in ["pack.pdf", "SHA256SUMS", "pack.json"] {
        let bytes = fs::read(of(name)).unwrap();
        fs::write(outside.join("same"), &bytes).unwrap();
        fs::remove_file(of(name)).unwrap();
        symlink(outside.join("same"), of(name)).unwrap();
        refused(&shop, "../pack", if name == "pack.pdf" { "link-in-the-way" } else { "folder-not-empty" });
        fs::remove_file(of(name)).unwrap();
        fs::write(of(name), bytes).unwrap();
    }
    // In place again it is made again.
    shop.done(&["pack", "bar", "--into", "../pack"]);
}

#[test]
fn nothing_is_removed_that_the_pack_did_not_make() {
    let shop = Workshop::with_a_bar();
    outside(&shop);
    shop.done(&["pack", "bar", "--into", "../pack"]);
    let pack = shop.room().join("pack");
    let sums = fs::read_to_string(pack.join("SHA256SUMS")).unwrap();
    let keep = underlit::digest::Sha256Digest::of(b"keep me");
    // A list of digests that names files outside, and somebody's own file: none of them goes.
    fs::write(pack.join("notes.txt"), "keep me").unwrap();
    let listed = format!(
        "{sums}{keep}  ../outside/keep.txt\n{keep}  {}\n{keep}  sheets/../../outside/keep.txt\n{keep}  notes.txt\n",
        shop.room().join("outside/keep.txt").display()
    );
    fs::write(pack.join("SHA256SUMS"), listed).unwrap();
    shop.done(&["pack", "bar", "--into", "../pack"]);
    assert_eq!(fs::read_to_string(pack.join("notes.txt")).unwrap(), "keep me");
    assert_eq!(fs::read_to_string(shop.room().join("outside/keep.txt")).unwrap(), "keep me");
    // A file of the pack that somebody wrote in is somebody's.
    fs::write(pack.join("bill.csv"), "with my notes").unwrap();
    refused(&shop, "../pack", "not-of-the-pack");
    fs::rename(pack.join("bill.csv"), shop.room().join("mine.csv")).unwrap();
    shop.done(&["pack", "bar", "--into", "../pack"]);
    // What an earlier pack had and this one has not goes with it.
    let old = underlit::digest::Sha256Digest::of(b"old");
    fs::write(pack.join("cut/old.dxf"), "old").unwrap();
    let sums = fs::read_to_string(pack.join("SHA256SUMS")).unwrap();
    fs::write(pack.join("SHA256SUMS"), format!("{sums}{old}  cut/old.dxf\n")).unwrap();
    shop.done(&["pack", "bar", "--into", "../pack"]);
    assert!(!pack.join("cut/old.dxf").exists());
}

#[test]
fn a_pack_that_was_handed_in_is_compared_byte_for_byte() {
    let shop = Workshop::with_a_bar();
    shop.release();
    let good = shop.json(0, &["pack", "bar", "--into", "../pack"]);
    let pack = shop.room().join("pack");
    let prove = |code: i32| shop.json(code, &["pack", "bar", "--prove", "--against", "../pack"]);
    assert_eq!(prove(0)["proven"], true);
    assert_eq!(shop.json(0, &["pack", "bar", "--prove", "--against", "../pack/pack.json"])["proven"], true);
    let list = |proof: &serde_json::Value, what: &str| -> Vec<String> {
        let all = proof["pack"]["compared"][what].as_array().unwrap();
        all.iter().map(|name| name.as_str().unwrap().to_owned()).collect()
    };
    for name in
        good["files"].as_array().unwrap().iter().map(|n| n.as_str().unwrap()).filter(|n| *n != "pack.json")
    {
        let bytes = fs::read(pack.join(name)).unwrap();
        let mut other = bytes.clone();
        let middle = other.len() / 2;
        other[middle] ^= 1;
        fs::write(pack.join(name), &other).unwrap();
        let proof = prove(1);
        assert_eq!(
            (proof["proven"].as_bool(), list(&proof, "different")),
            (Some(false), vec![name.to_owned()])
        );
        fs::remove_file(pack.join(name)).unwrap();
        assert_eq!(list(&prove(1), "absent"), [name]);
        // The same bytes behind a link are not the file.
        fs::write(shop.room().join("same"), &bytes).unwrap();
        symlink(shop.room().join("same"), pack.join(name)).unwrap();
        assert_eq!(list(&prove(1), "different"), [name]);
        fs::remove_file(pack.join(name)).unwrap();
        fs::write(pack.join(name), bytes).unwrap();
    }
    // The drawings of another job, with digests that fit: each is named.
    fs::write(pack.join("cut/bar-front.dxf"), "another").unwrap();
    refit_sums(&pack);
    let said = shop.exits(1, &["pack", "bar", "--prove", "--against", "../pack"]);
    assert!(said.contains("differs  cut/bar-front.dxf") && said.contains("differs  SHA256SUMS"), "{said}");
    assert!(said.contains("Fix: do not build from it"), "{said}");
    fs::write(pack.join("extra.txt"), "more").unwrap();
    fs::create_dir_all(pack.join("sheets/deeper")).unwrap();
    assert_eq!(list(&prove(1), "extra"), ["extra.txt", "sheets/deeper"]);
}

fn refit_sums(pack: &Path) {
    let all = files(pack).into_iter().filter(|(name, _)| name != "SHA256SUMS");
    let lines = all.map(|(name, bytes)| format!("{}  {name}\n", underlit::digest::Sha256Digest::of(&bytes)));
    fs::write(pack.join("SHA256SUMS"), lines.collect::<String>()).unwrap();
}

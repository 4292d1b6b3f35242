//! Stock OpenSSH and stock git look at a released book: every signature is taken, and none with a byte altered.

use std::fs;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::Stdio;

use serde_json::Value;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, program};

/// One signed file of a book: the signer, the namespace, the bytes, the signature.
struct Signed {
    what: String,
    signer: String,
    namespace: String,
    bytes: Vec<u8>,
    signature: Vec<u8>,
}

fn everything_signed(book: &Desk) -> Vec<Signed> {
    let mut all = Vec::new();
    for folder in ["signoffs", "moves"] {
        let folder = format!("{PROJECT}/{folder}");
        for name in book.names(&folder, ".json") {
            let bytes = book.bytes(&format!("{folder}/{name}"));
            let value: Value = serde_json::from_slice(&bytes).unwrap();
            let text = |key: &str| value[key].as_str().unwrap().to_owned();
            let purpose = if folder.ends_with("moves") {
                "move".to_owned()
            } else if value.get("evidence").is_some() {
                "evidence".to_owned()
            } else {
                text("role")
            };
            all.push(Signed {
                what: format!("{folder}/{name}"),
                signer: text("signer"),
                namespace: format!("underlit-{purpose}"),
                bytes,
                signature: book.bytes(&format!("{folder}/{}", name.replace(".json", ".sig"))),
            });
        }
    }
    for name in book.names("roster", ".sig") {
        let (version, signer) = name.strip_suffix(".sig").unwrap().split_once('.').unwrap();
        all.push(Signed {
            what: format!("roster/{name}"),
            signer: signer.to_owned(),
            namespace: "underlit-roster".to_owned(),
            bytes: book.bytes(&format!("roster/{version}.json")),
            signature: book.bytes(&format!("roster/{name}")),
        });
    }
    all
}

/// What `ssh-keygen -Y verify` says.
fn stock_takes(signers: &str, place: &Place, signed: &Signed, bytes: &[u8], signature: &[u8]) -> bool {
    let file: PathBuf = place.path("signature");
    fs::write(&file, signature).unwrap();
    let mut child = program("ssh-keygen", "mallory")
        .args(["-Y", "verify", "-f", signers, "-I", &signed.signer, "-n", &signed.namespace, "-s"])
        .arg(&file)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    // A verifier that has refused already reads no more.
    let _ = child.stdin.take().unwrap().write_all(bytes);
    child.wait().unwrap().success()
}

#[test]
fn every_signature_holds_and_none_with_a_byte_altered() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let scan = place.file("letter.pdf", "%PDF-1.4 a letter");
    book.run(&format!(
        r#"evidence quay-desk choice --panel front --of imke --how "letter" --scan {scan} --yes"#
    ))
    .done();
    let signers = place.file("signers", book.run("allowed-signers").done().stdout);
    let all = everything_signed(&book);
    // Choice, two renderings, cautions, release, evidence; a move into each of four stages; three rosters.
    assert_eq!(all.len(), 6 + 4 + 3, "{:?}", all.iter().map(|s| &s.what).collect::<Vec<_>>());
    let namespaces: std::collections::BTreeSet<&str> = all.iter().map(|s| s.namespace.as_str()).collect();
    assert_eq!(
        Vec::from_iter(namespaces),
        ["underlit-client", "underlit-engineer", "underlit-evidence", "underlit-move", "underlit-roster"]
    );
    for signed in &all {
        let takes = |bytes: &[u8], signature: &[u8]| stock_takes(&signers, &place, signed, bytes, signature);
        assert!(takes(&signed.bytes, &signed.signature), "{}", signed.what);
        // Bytes across the statement, its first and its last among them.
        let last = signed.bytes.len() - 1;
        for at in [0, last / 5, last / 2, last * 4 / 5, last] {
            let mut altered = signed.bytes.clone();
            altered[at] ^= 1;
            assert!(!takes(&altered, &signed.signature), "{} with byte {at} altered", signed.what);
        }
        // And across what the armour carries.
        let lines = String::from_utf8(signed.signature.clone()).unwrap();
        let body = lines.find('\n').unwrap() + 1..lines.rfind("\n-----END").unwrap();
        let letters: Vec<usize> = body.filter(|at| lines.as_bytes()[*at] != b'\n').collect();
        // The last letters before the padding may carry bits that nothing reads; those our own reading refuses.
        for share in [0, 20, 40, 60, 80, 95] {
            let at = letters[letters.len() * share / 100];
            let mut altered = signed.signature.clone();
            altered[at] = if altered[at] == b'A' { b'B' } else { b'A' };
            assert!(
                !takes(&signed.bytes, &altered),
                "{} with letter {at} of the signature altered",
                signed.what
            );
        }
        // Not in another's name and not for another purpose.
        let other = if signed.signer == "mara" { "tom" } else { "mara" };
        let as_other = Signed {
            signer: other.into(),
            namespace: signed.namespace.clone(),
            what: String::new(),
            bytes: Vec::new(),
            signature: Vec::new(),
        };
        assert!(
            !stock_takes(&signers, &place, &as_other, &signed.bytes, &signed.signature),
            "{}",
            signed.what
        );
        let elsewhere = Signed {
            signer: signed.signer.clone(),
            namespace: "file".into(),
            what: String::new(),
            bytes: Vec::new(),
            signature: Vec::new(),
        };
        assert!(
            !stock_takes(&signers, &place, &elsewhere, &signed.bytes, &signed.signature),
            "{}",
            signed.what
        );
    }
    book.sound();
}

#[test]
fn underlit_refuses_each_altered_byte_as_well() {
    let place = Place::new();
    let good = place.copy(stages::released(), "mara");
    // One sign-off that the release rests on; a byte of either file altered, and nothing is released.
    let folder = format!("{PROJECT}/signoffs");
    let name = good
        .names(&folder, ".json")
        .into_iter()
        .find(|n| good.text(&format!("{folder}/{n}")).contains(r#""view": "release""#))
        .unwrap();
    for file in [format!("{folder}/{name}"), format!("{folder}/{}", name.replace(".json", ".sig"))] {
        let bytes = good.bytes(&file);
        for share in [0, 13, 29, 41, 53, 67, 83, 99] {
            let at = (bytes.len() - 1) * share / 100;
            let mut altered = bytes.clone();
            altered[at] ^= 1;
            good.write(&file, altered);
            good.run("board --released").done().says(&["nothing is released"]);
            let ran = good.run("check").says(&[&file[..file.len() - 5]]);
            assert!(ran.code == 5 || (ran.code == 3 && file.ends_with(".json")), "{ran:?}");
        }
        good.write(&file, bytes);
    }
    good.run("board --released").done().says(&["may be built"]);
    good.sound();
}

#[test]
fn an_export_of_an_older_roster_names_who_stood_on_it() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let first = book.run("allowed-signers --version-number 1").done().stdout;
    assert_eq!(first.lines().count(), 1, "{first}");
    assert!(first.starts_with("mara "), "{first}");
    let newest = book.run("allowed-signers --json").done().json();
    assert_eq!(newest["allowed_signers"].as_str().unwrap().lines().count(), 3);
    book.run("allowed-signers --version-number 9").fails(2, "unknown-roster").says(&["the newest is 3"]);
}

//! A client who signs with a passkey in a packet's page: enrolled by an owner who heard the digits, taken in as the client's
//! own sign-off, and believed by the gate, a guarded remote, `verify` and stock tools.

use std::fs;
use std::io::Write as _;
use std::process::Stdio;

use serde_json::{Value, json};

use crate::passkey::Passkey;
use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place, program};

const PAGE: &str = "https://jobs.tern-point.invalid";

fn passkey() -> Passkey {
    Passkey::new(11, "jobs.tern-point.invalid", PAGE)
}

/// The digits of a passkey, by the rule that the page and `roster` follow: five bytes of the SHA-256 for five digits.
fn digits(passkey: &Passkey) -> String {
    let digest = underlit::digest::Sha256Digest::of(&passkey.wire_key());
    let group = |five: &[u8]| five.iter().fold(0_u128, |n, byte| n * 256 + u128::from(*byte)) % 100_000;
    digest.as_bytes()[..25].chunks(5).map(|five| format!("{:05}", group(five))).collect::<Vec<_>>().join(" ")
}

/// An owner adds the passkey of a person, having heard its digits.
fn enrol(place: &Place, book: &Desk, person: &str, passkey: &Passkey) {
    let file = place.file(&format!("{person}.pub"), format!("{} {person}@page\n", passkey.line()));
    book.run(&format!(r#"roster add-key {person} {file} --heard "{}""#, digits(passkey))).done();
}

/// What the page of a packet knows.
fn told(place: &Place, book: &Desk) -> Value {
    let at = place.path("packet.html");
    book.run(&format!("packet quay-desk --into {}", at.display())).done();
    let page = fs::read_to_string(at).unwrap();
    let (_, rest) = page.split_once(r#"id="told">"#).unwrap();
    serde_json::from_str(rest.split_once("</script>").unwrap().0).unwrap()
}

/// The statement about the first thing that is asked, filled in as the page does, with its code.
fn statement(told: &Value, decision: &str, comment: Option<&str>) -> (String, Value) {
    let (code, blank) = told["statements"].as_object().unwrap().iter().next().unwrap();
    let mut statement: Value = serde_json::from_str(blank.as_str().unwrap()).unwrap();
    let fields = statement.as_object_mut().unwrap();
    fields["decision"] = decision.into();
    fields["time"] = "2026-09-03T09:30:00Z".into();
    fields["nonce"] = "00112233445566778899aabbccddeeff".into();
    fields.shift_remove("notes");
    match comment {
        Some(comment) => fields["comment"] = comment.into(),
        None => drop(fields.shift_remove("comment")),
    }
    if decision == "approved" {
        fields.shift_remove("edition");
    }
    (code.clone(), statement)
}

fn text(statement: &Value) -> String {
    format!("{statement:#}\n")
}

/// The file that the page saves, without the page's own key.
fn file(place: &Place, code: &str, decision: &str, statement: &str, signature: &str) -> String {
    let answer = json!({
        "underlit_answer": 1, "book": "tern", "project": "quay-desk", "name": "Imke Voss", "role": "client",
        "date": "2026-09-03", "signed": "Imke Voss", "drawn": "", "key": null,
        "answers": [{
            "code": code, "question": "The light in your stone", "answer": decision,
            "note": if decision == "approved" { "" } else { "a little warmer" }, "marks": [],
            "statement": statement, "signature": signature,
        }],
    });
    place.file("answer.txt", format!("{answer:#}\n"))
}

fn signed(place: &Place, passkey: &Passkey, (code, statement): (String, Value)) -> String {
    let text = text(&statement);
    let signature = passkey.sign("underlit-client", text.as_bytes());
    file(place, &code, statement["decision"].as_str().unwrap(), &text, &signature)
}

fn stock_takes(signers: &str, place: &Place, statement: &[u8], signature: &[u8]) -> bool {
    let file = place.file("stock.sig", signature);
    let mut child = program("ssh-keygen", "mallory")
        .args(["-Y", "verify", "-f", signers, "-I", "imke", "-n", "underlit-client", "-s", &file])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let _ = child.stdin.take().unwrap().write_all(statement);
    child.wait().unwrap().success()
}

#[test]
fn a_passkey_is_enrolled_by_an_owner_who_heard_its_digits() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let passkey = passkey();
    let line = place.file("imke.pub", format!("{} imke@page\n", passkey.line()));
    let heard = digits(&passkey);
    book.unchanged(|b| {
        b.run(&format!("roster add-key imke {line}"))
            .fails(2, "not-compared")
            .says(&["jobs.tern-point.invalid", "call imke", "25 digits", "--heard"])
            .never_says(&[&heard]);
        b.run(&format!(
            r#"roster add-key imke {line} --heard "{}""#,
            digits(&Passkey::new(12, "localhost", PAGE))
        ))
        .fails(5, "key-differs");
        b.run(&format!(r#"roster add mallory --name "Mallory" --role client --public-key {line}"#))
            .fails(2, "not-compared");
    });
    book.run(&format!(r#"roster add-key imke {line} --heard "{}""#, heard.replace(' ', "-"))).done();
    book.run("roster show").done().says(&["passkey for jobs.tern-point.invalid", &heard]);
    book.run("allowed-signers")
        .done()
        .says(&[&format!("imke namespaces=\"underlit-client\" {}", passkey.line())]);
    // Rosters, moves and what others said are signed with other keys.
    enrol(&place, &book, "mara", &Passkey::new(13, "jobs.tern-point.invalid", PAGE));
    let signers = book.run("allowed-signers").done().stdout;
    let passkeys: Vec<&str> =
        signers.lines().filter(|l| l.starts_with("mara ") && l.contains("sk-ecdsa")).collect();
    assert_eq!(passkeys.len(), 1);
    assert!(passkeys[0].contains("namespaces=\"underlit-owner,underlit-rep\""), "{passkeys:?}");
    book.sound();
}

#[test]
fn what_a_client_signs_with_a_passkey_is_their_own_word_everywhere() {
    let clones = ThreeClones::at(stages::chosen());
    let (place, book) = (&clones.place, &clones.mara);
    let passkey = passkey();
    assert_eq!(told(place, book)["passkeys"], json!([]), "no statement goes out to who cannot sign it");
    enrol(place, book, "imke", &passkey);
    let told = told(place, book);
    assert_eq!(told["passkeys"], json!([passkey.line()]));

    // First a refusal, then the approval that takes its place.
    let no = signed(place, &passkey, statement(&told, "rejected", Some("a little warmer")));
    book.run(&format!("intake {no} --yes")).done().says(&[
        "their own signature",
        PAGE,
        "signed by themselves",
    ]);
    book.run("status quay-desk").done().says(&["a little warmer"]);
    let told = self::told(place, book);
    let yes = signed(place, &passkey, statement(&told, "approved", None));
    let taken = book.run(&format!("intake {yes} --yes --json")).done().json();
    assert_eq!(
        (&taken["taken_in"][0]["own"], &taken["taken_in"][0]["person"]),
        (&json!(true), &json!("imke"))
    );
    book.unchanged(|b| drop(b.run(&format!("intake {yes} --yes")).fails(2, "taken-already")));
    let digest = taken["taken_in"][0]["sha256"].as_str().unwrap();

    let status = book.run("status quay-desk --json").done().json();
    let fits = status["signoffs"].as_array().unwrap().iter().find(|s| s["standing"] == "fits").unwrap();
    assert_eq!((&fits["signer"], &fits["evidence"]), (&json!("imke"), &Value::Null));
    for command in
        [format!("verify --explain {digest}"), format!("show quay-desk sign-off {}", &digest[..12])]
    {
        book.run(&command).done().says(&["passkey", PAGE, "person present and verified"]);
    }
    book.run("advance quay-desk --to rendering").done();
    book.run("verify").done();
    book.run("sync").done().says(&["sent"]);
    clones.tom.run("sync").done();
    clones.tom.run("status quay-desk").done().says(&["rendering"]);

    let statement = book.bytes(&format!("{PROJECT}/signoffs/{digest}.json"));
    let signature = book.bytes(&format!("{PROJECT}/signoffs/{digest}.sig"));
    let signers = place.file("signers", book.run("allowed-signers").done().stdout);
    assert!(stock_takes(&signers, place, &statement, &signature));
    assert!(!stock_takes(&signers, place, &[&statement[..], b" "].concat(), &signature));
    book.sound();
}

#[test]
fn a_passkey_that_is_not_on_the_roster_makes_evidence_and_says_what_is_missing() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let (known, other) = (passkey(), Passkey::new(12, "jobs.tern-point.invalid", PAGE));
    enrol(&place, &book, "imke", &known);
    let earlier = told(&place, &book);
    let answer = signed(&place, &other, statement(&earlier, "approved", None));
    book.run(&format!("intake {answer} --yes --dry-run")).code(0).says(&[
        "none of imke's on the roster",
        &digits(&other),
        "taken in as evidence",
        "add-key imke",
        "--heard",
    ]);
    enrol(&place, &book, "imke", &other);
    book.run(&format!("intake {answer} --yes")).code(0).says(&[
        "from before their passkey",
        "taken in as evidence",
        "packet of today",
    ]);
    let status = book.run("status quay-desk --json").done().json();
    assert!(status["signoffs"][0]["evidence"].is_string(), "{status:#}");
    book.sound();
}

/// Whatever is altered about a statement that came signed, nothing is taken in, not even as evidence.
#[test]
fn a_statement_that_is_not_the_answer_or_does_not_hold_is_refused() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let passkey = passkey();
    enrol(&place, &book, "imke", &passkey);
    let told = told(&place, &book);
    let (code, good) = statement(&told, "approved", None);
    let refused = |answer: String, why: &str| {
        book.unchanged(|b| {
            drop(b.run(&format!("intake {answer} --yes")).fails(5, "answer-altered").says(&[why]))
        });
    };
    let with = |change: &dyn Fn(&mut Value)| {
        let mut other = good.clone();
        change(&mut other);
        signed(&place, &passkey, (code.clone(), other))
    };
    let not_it = "is not the answer beside it";
    refused(with(&|s| s["facts"]["panel.light.cct_k"] = 3000.into()), not_it);
    refused(with(&|s| s["about"]["view"] = "rendering".into()), not_it);
    refused(with(&|s| s["edition"] = 2.into()), not_it);
    refused(with(&|s| s["$schema"] = "elsewhere.json".into()), "does not hold");
    refused(with(&|s| s["nonce"] = "short".into()), "does not hold");
    // One key twice, another spelling, another answer beside it.
    let sign = |words: &str| passkey.sign("underlit-client", words.as_bytes());
    let spelt = text(&good).replace("  \"role\"", "   \"role\"");
    refused(file(&place, &code, "approved", &spelt, &sign(&spelt)), not_it);
    let words = text(&good);
    refused(file(&place, &code, "rejected", &words, &sign(&words)), not_it);
    let twice = words.replacen("  \"role\"", "  \"role\": \"client\",\n  \"role\"", 1);
    refused(file(&place, &code, "approved", &twice, &sign(&twice)), "does not hold");
    // What browser and device sealed.
    let elsewhere = Passkey::new(11, "jobs.tern-point.invalid", "https://elsewhere.invalid");
    for (bad, why) in [
        (Passkey { flags: 0x01, ..passkey.clone() }, "did not check who was there"),
        (Passkey { flags: 0x04, ..passkey.clone() }, "nobody was present"),
        (elsewhere, "on a page of https://elsewhere.invalid"),
        (Passkey { named_counter: Some(9), ..passkey.clone() }, "does not fit"),
    ] {
        refused(signed(&place, &bad, (code.clone(), good.clone())), why);
    }
    let engineer = passkey.sign("underlit-engineer", words.as_bytes());
    refused(file(&place, &code, "approved", &words, &engineer), not_it);
    refused(file(&place, &code, "approved", &words, &passkey.sign("underlit-client", b"{}")), "does not fit");
    refused(file(&place, &code, "approved", &words, "-----BEGIN"), "does not hold");
    // What is said for somebody else is signed with another key, whoever is enrolled.
    let owners = Passkey::new(13, "jobs.tern-point.invalid", PAGE);
    enrol(&place, &book, "mara", &owners);
    let scan = place.file("letter.pdf", "%PDF-1.4 a letter");
    book.run(&format!(
        r#"evidence quay-desk choice --panel front --of imke --how "letter" --scan {scan} --yes"#
    ))
    .done();
    let names = book.names(&format!("{PROJECT}/signoffs"), ".json");
    let path = format!("{PROJECT}/signoffs/{}", names[0]);
    let forged = owners.sign("underlit-evidence", &book.bytes(&path));
    book.write(&path.replace(".json", ".sig"), forged);
    book.run("check").fails(5, "signature-purpose");
}

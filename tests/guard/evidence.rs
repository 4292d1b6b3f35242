//! A written answer with its scan, from one clone to all the others: over a guarded and an unguarded remote.

use serde_json::Value;

use crate::forgery::{bytes, lay, signature};
use crate::scene::{Scene, commit_all};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, private_key};

const SIGNOFFS: &str = "projects/quay-desk/signoffs";

/// Takes the client's letter in and hands back its digest.
fn takes_in(desk: &Desk, scan: &str) -> String {
    let how = r#"--of imke --how "letter of 3 September" --yes --json"#;
    let line = format!("evidence quay-desk choice --panel front {how} --scan {scan}");
    desk.run(&line).done().json()["sha256"].as_str().unwrap().to_owned()
}

#[test]
fn a_written_answer_reaches_every_clone_and_counts_there() {
    for guarded in [true, false] {
        let scene = if guarded { Scene::of(stages::chosen()) } else { Scene::unguarded(stages::chosen()) };
        let mara = &scene.mara;
        let (tom, puller) = (scene.join("tom"), scene.join("imke"));
        let before = scene.tip().trim().to_owned();
        let scan = scene.place.file("letter.pdf", b"%PDF-1.4 the client's letter");
        takes_in(mara, &scan);
        mara.sound();
        mara.run(&format!("guard range {before} HEAD")).done();
        mara.run("sync").done();
        tom.run("sync").done();
        let line = format!("join {} fresh --me tom --key {}", scene.hub.display(), private_key("tom"));
        scene.place.run("tom", &line).done();
        let fresh = Desk::new(scene.place.path("fresh"), "tom");
        puller.git("pull --quiet --ff-only");
        let verdicts: Vec<Value> = [mara, &tom, &fresh, &puller]
            .into_iter()
            .map(|desk| {
                desk.sound();
                desk.run("verify").code(0);
                let status = desk.run("status quay-desk --json").done().json();
                assert_eq!(status["signoffs"][0]["standing"], "fits", "guarded: {guarded}");
                status["met"].clone()
            })
            .collect();
        assert!(verdicts.windows(2).all(|pair| pair[0] == pair[1]), "{verdicts:#?}");
        // The move that rests on it goes through as well.
        mara.run("advance quay-desk").done();
        mara.run("sync").done();
        tom.run("sync").done();
        tom.run("verify").code(0);
    }
}

#[test]
fn two_answers_in_one_scan_and_one_answer_more() {
    let scene = Scene::of(stages::chosen());
    let mara = &scene.mara;
    let tom = scene.join("tom");
    let scan = scene.place.file("letter.pdf", b"%PDF-1.4 the client's letter");
    takes_in(mara, &scan);
    mara.run("sync").done();
    takes_in(mara, &scan);
    mara.run("sync").done();
    tom.run("sync").done();
    tom.sound();
}

#[test]
fn a_scan_that_no_statement_takes_in() {
    let scene = Scene::of(stages::chosen());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let back = || drop(mara.git(&format!("reset --quiet --hard {head}")));
    let scan = scene.place.file("letter.pdf", b"%PDF-1.4 the client's letter");
    // A scan that lies there before its statement, or under a name that is not its digest.
    let stray = format!("{SIGNOFFS}/{}.pdf", "a".repeat(64));
    mara.write(&stray, b"x");
    mara.run("check").code(5).says(&["[nothing-signed]", &stray]);
    commit_all(mara, "planted");
    scene.refuses_head(mara, "nothing-signed");
    back();
    // A true statement whose scan was exchanged: its name no longer tells its bytes.
    let digest = takes_in(mara, &scan);
    let scans = mara.names(SIGNOFFS, ".pdf");
    mara.write(&format!("{SIGNOFFS}/{}", scans[0]), b"%PDF-1.4 another letter");
    mara.git("reset --quiet --soft HEAD~1");
    commit_all(mara, "exchanged");
    scene.refuses_head(mara, "scan-differs");
    back();
    // The statement without its scan.
    assert_eq!(takes_in(mara, &scan).len(), digest.len());
    mara.git("reset --quiet --soft HEAD~1");
    mara.git(&format!("rm --quiet --force {SIGNOFFS}/{}", scans[0]));
    commit_all(mara, "left out");
    scene.refuses_head(mara, "attachment-missing");
    back();
    // A statement of another project takes nothing in here, nor does one whose signature is made up.
    takes_in(mara, &scan);
    let name = mara.names(SIGNOFFS, ".json").into_iter().next().unwrap();
    let mut value: Value = serde_json::from_str(&mara.text(&format!("{SIGNOFFS}/{name}"))).unwrap();
    back();
    value["nonce"] = "0123456789abcdef0123456789abcdef".into();
    let forged = bytes(&value);
    mara.write(&format!("{SIGNOFFS}/{}", scans[0]), b"%PDF-1.4 the client's letter");
    lay(mara, SIGNOFFS, &forged, Some(&signature("imke", "underlit-evidence", &forged)));
    commit_all(mara, "made up");
    scene.refuses_head(mara, "signer-role");
    assert!(mara.path(PROJECT).exists());
}

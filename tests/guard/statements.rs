//! What people said: add-only files, signatures, moves through gates, merges that leave something out.

use serde_json::{Value, json};

use crate::forgery::{bytes, lay, signature};
use crate::scene::{Scene, blob, commit_all, commit_entries, commit_tree};
use crate::stages::{self, PROJECT};
use crate::workshop::Desk;

const SIGNOFFS: &str = "projects/quay-desk/signoffs";
const MOVES: &str = "projects/quay-desk/moves";

#[test]
fn what_was_signed_is_neither_changed_nor_taken_out() {
    let scene = Scene::of(stages::signed());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let back = || drop(mara.git(&format!("reset --quiet --hard {head}")));
    let of = |folder: &str, ending: &str| format!("{folder}/{}", mara.names(folder, ending)[0]);
    let files = [
        of(SIGNOFFS, ".json"),
        of(SIGNOFFS, ".sig"),
        of(MOVES, ".json"),
        of(MOVES, ".sig"),
        "roster/0002.json".to_owned(),
        "roster/0002.mara.sig".to_owned(),
    ];
    for file in &files {
        let text = mara.text(file);
        mara.write(file, format!("{text}\n"));
        commit_all(mara, "edit");
        scene.refuses_head(mara, "add-only");
        // Undone by a later commit: the history holds the edit all the same.
        mara.write(file, text);
        commit_all(mara, "undo");
        scene.refuses_head(mara, "add-only");
        back();
        mara.git(&format!("rm --quiet {file}"));
        commit_all(mara, "take out");
        let said = scene.refuses_head(mara, "add-only");
        assert!(said.contains("never taken out") && said.contains("commit "), "{said}");
        back();
    }
    // A whole project with everything that was said in it.
    mara.git(&format!("rm -r --quiet {PROJECT}"));
    commit_all(mara, "gone");
    scene.refuses_head(mara, "add-only");
}

#[test]
fn a_merge_that_leaves_out_an_approval() {
    let scene = Scene::of(stages::drawn());
    let mara = &scene.mara;
    let imke = scene.join("imke");
    imke.run("sign quay-desk rendering --panel front --yes").done();
    imke.run("sync").done();
    mara.run(r#"swatch change quay-desk alba --lot B-17"#).done();
    mara.git("fetch --quiet origin");
    // A merge by stock git that keeps this side only: its tip looks like any book.
    mara.git("merge --quiet -s ours -m evil origin/main");
    let said = scene.refuses_head(mara, "add-only");
    assert!(said.contains("in a merge that leaves out"), "{said}");
    // The same with the approval put back in a later commit.
    mara.git("checkout --quiet origin/main -- projects/quay-desk/signoffs");
    commit_all(mara, "put back");
    scene.refuses_head(mara, "add-only");
    // underlit's own merge keeps both.
    mara.git("reset --quiet --hard HEAD~2");
    mara.run("sync").done().says(&["merged and sent"]);
}

#[test]
fn statements_that_nobody_signed_who_may() {
    let scene = Scene::of(stages::signed());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let other = scene.place.copy_as(stages::signed(), "other", "mara");
    let made = other.run_as("tom", "sign quay-desk release --yes --json").done().json();
    let digest = made["sha256"].as_str().unwrap();
    let release: Value = serde_json::from_str(&other.text(&format!("{SIGNOFFS}/{digest}.json"))).unwrap();
    let with = |key: &str, value: Value| {
        let mut changed = release.clone();
        changed[key] = value;
        bytes(&changed)
    };
    let (imke, mallory) = (with("signer", json!("imke")), with("signer", json!("mallory")));
    let (project, book) = (with("project", json!("other")), with("book", json!("gull")));
    let good = bytes(&release);
    let engineer = "underlit-engineer";
    let flipped = {
        let mut bytes = signature("tom", engineer, &good);
        bytes[120] ^= 1;
        bytes
    };
    for (bytes, sig, code) in [
        (&imke, Some(signature("imke", engineer, &imke)), "signer-role"),
        (&mallory, Some(signature("mallory", engineer, &mallory)), "signer-role"),
        (&good, Some(signature("mallory", engineer, &good)), "signer-role"),
        (&good, Some(signature("tom", "underlit-client", &good)), "signature-purpose"),
        (&project, Some(signature("tom", engineer, &project)), "other-project"),
        (&book, Some(signature("tom", engineer, &book)), "other-book"),
        (&good, Some(flipped), "signature-malformed"),
        (&good, None, "signature-missing"),
    ] {
        lay(mara, SIGNOFFS, bytes, sig.as_deref());
        commit_all(mara, "forged");
        scene.refuses_head(mara, code);
        mara.git(&format!("reset --quiet --hard {head}"));
    }
    // A signature that lies there before its statement would keep the true one out.
    mara.write(&format!("{SIGNOFFS}/{}.sig", "a".repeat(64)), "x");
    commit_all(mara, "planted");
    scene.refuses_head(mara, "nothing-signed");
    mara.git(&format!("reset --quiet --hard {head}"));
    mara.write("roster/0004.tom.sig", "x");
    commit_all(mara, "planted");
    scene.refuses_head(mara, "nothing-signed");
    mara.git(&format!("reset --quiet --hard {head}"));
    // The true one goes in.
    lay(mara, SIGNOFFS, &good, Some(&signature("tom", engineer, &good)));
    commit_all(mara, "true");
    scene.takes_head(mara);
}

/// The move of a released book into `released`, as its value.
fn the_move(scene: &Scene) -> Value {
    let book = scene.place.copy_as(stages::released(), "moved", "mara");
    let moves = book.names(MOVES, ".json").into_iter().map(|n| book.text(&format!("{MOVES}/{n}")));
    moves.map(|t| serde_json::from_str::<Value>(&t).unwrap()).find(|m| m["to"] == "released").unwrap()
}

/// Lays a move that mara truly signed, and commits it.
fn lay_move(desk: &Desk, value: &Value) -> String {
    let bytes = bytes(value);
    let path = lay(desk, MOVES, &bytes, Some(&signature("mara", "underlit-move", &bytes)));
    commit_all(desk, "moved");
    path
}

/// Brings the sign-offs of the released book into mara's clone, the engineer's release among them.
fn take_over_signoffs(scene: &Scene) {
    let book = Desk::new(scene.place.path("moved"), "mara");
    for name in book.names(SIGNOFFS, "") {
        scene.mara.write(&format!("{SIGNOFFS}/{name}"), book.bytes(&format!("{SIGNOFFS}/{name}")));
    }
}

#[test]
fn a_signed_move_past_a_shut_gate() {
    let scene = Scene::of(stages::signed());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    // Truly signed, by somebody who may move, from where the project stands: but nobody released it.
    let step = the_move(&scene);
    lay_move(mara, &step);
    scene.refuses_head(mara, "move-unbacked");
    // What is missing comes in the next commit: too late, the gate was shut when it was passed.
    take_over_signoffs(&scene);
    commit_all(mara, "released");
    let said = scene.refuses_head(mara, "move-unbacked");
    assert!(said.contains("rests on the sign-off"), "{said}");
    mara.git(&format!("reset --quiet --hard {head}"));
    // Released by the engineer, and then changed: every signature is true, and none of them fits.
    take_over_signoffs(&scene);
    commit_all(mara, "released");
    mara.run("swatch change quay-desk alba --slab-thickness 30mm").code(0);
    lay_move(mara, &step);
    let said = scene.refuses_head(mara, "move-past-gate");
    let flat = said.replace("remote:", " ").split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "it moves quay-desk to released although",
        "[release-signed]",
        "underlit advance quay-desk",
        "by mara",
    ] {
        assert!(flat.contains(words), "{words}: {flat}");
    }
    // The change is undone for the last commit: what counts is the state in which the move was made.
    let swatch = format!("{PROJECT}/swatches/alba.json");
    mara.git(&format!("checkout --quiet {head} -- {swatch}"));
    commit_all(mara, "as it was");
    scene.refuses_head(mara, "move-past-gate");
    mara.git(&format!("reset --quiet --hard {head}"));
    // The records that the gate looks at are taken out for one commit.
    take_over_signoffs(&scene);
    for folder in ["panels", "renderings"] {
        mara.git(&format!("rm -r --quiet {PROJECT}/{folder}"));
    }
    lay_move(mara, &step);
    mara.git(&format!("checkout --quiet {head} -- {PROJECT}/panels {PROJECT}/renderings"));
    commit_all(mara, "put back");
    scene.refuses_head(mara, "move-past-gate");
    mara.git(&format!("reset --quiet --hard {head}"));
    // A move that hangs in the air, and one that skips a stage.
    take_over_signoffs(&scene);
    let mut stray = step.clone();
    stray["previous"] = json!("0".repeat(64));
    lay_move(mara, &stray);
    scene.refuses_head(mara, "move-leads-nowhere");
    mara.git(&format!("reset --quiet --hard {head}"));
    let mut leap = step;
    leap["to"] = json!("built");
    lay_move(mara, &leap);
    scene.refuses_head(mara, "move-impossible");
    mara.git(&format!("reset --quiet --hard {head}"));
    // The honest way goes in.
    mara.run_as("tom", "sign quay-desk release --yes").code(0);
    mara.run("advance quay-desk --to released").done();
    scene.takes_head(mara);
}

#[test]
fn rules_that_are_loosened_for_one_commit() {
    let scene = Scene::of(stages::signed());
    let mara = &scene.mara;
    let rules = mara.text("rules.json");
    let step = the_move(&scene);
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    mara.write("rules.json", rules.replace("\"engineer\"", "\"rep\""));
    commit_all(mara, "loosened");
    let said = scene.refuses_head(mara, "shop-not-sealed");
    assert!(said.contains("rules.json"), "{said}");
    lay_move(mara, &step);
    mara.write("rules.json", &rules);
    commit_all(mara, "put back");
    scene.refuses_head(mara, "unsealed-rules");
    mara.git(&format!("reset --quiet --hard {head}"));
}

/// One commit of a whole tree, past the folder.
#[test]
fn a_statement_brought_by_a_merge_itself() {
    let scene = Scene::of(stages::signed());
    let mara = &scene.mara;
    let base = mara.git("rev-parse HEAD").trim().to_owned();
    let one = commit_tree(mara, "HEAD^{tree}");
    mara.git(&format!("update-ref refs/heads/main {base}"));
    let step = bytes(&the_move(&scene));
    let name = underlit::digest::Sha256Digest::of(&step);
    let (json, sig) = (blob(mara, &step), blob(mara, &signature("mara", "underlit-move", &step)));
    commit_entries(
        mara,
        &[
            ("100644", &json, &format!("{MOVES}/{name}.json")),
            ("100644", &sig, &format!("{MOVES}/{name}.sig")),
        ],
    );
    let tree = mara.git("rev-parse HEAD^{tree}").trim().to_owned();
    let merge = mara.git(&format!("commit-tree {tree} -p {base} -p {one} -m merge")).trim().to_owned();
    mara.git(&format!("update-ref refs/heads/main {merge}"));
    scene.refuses_head(mara, "move-unbacked");
}

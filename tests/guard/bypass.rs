//! Where the guard is missing or was gone around, the next sync of every clone finds it: the clone stays at its last
//! good state and says who pushed what.

use std::fs;

use crate::scene::{Scene, commit_all};
use crate::stages::{self, PROJECT};
use crate::workshop::Desk;

/// Pushes whatever it is, past the guard.
fn push_past(scene: &Scene, desk: &Desk) {
    let _ = fs::remove_file(scene.hub.join("hooks/pre-receive"));
    desk.git("push --quiet origin HEAD:refs/heads/main");
}

/// A sync that finds it, takes at most what came before it, and stays there.
#[track_caller]
fn found(desk: &Desk, code: &str, words: &[&str]) {
    let ran = desk.run("sync").fails(5, "incoming-refused");
    ran.says(&["stays at its last good state", &format!("[{code}]"), "Fix: "]).says(words);
    let head = desk.git("rev-parse HEAD");
    assert!(!desk.git_tries("merge-base --is-ancestor origin/main HEAD").status.success());
    desk.sound_for_git();
    // Again, and offline: it stays found.
    desk.run("sync --offline").fails(5, "incoming-refused");
    assert_eq!(desk.git("rev-parse HEAD"), head);
    desk.run("board").says(&["sync is refused since", "--drop-refused"]);
    // Work goes on.
    desk.run("status quay-desk").code(0);
}

#[test]
fn an_approval_that_was_taken_out() {
    let scene = Scene::of(stages::signed());
    let imke = scene.join("imke");
    let signed = scene.mara.names(&format!("{PROJECT}/signoffs"), ".json");
    scene.mara.git(&format!("rm --quiet {PROJECT}/signoffs/{}", signed[0]));
    commit_all(&scene.mara, "gone");
    push_past(&scene, &scene.mara);
    found(&imke, "add-only", &["by mara does not pass"]);
}

#[test]
fn a_move_past_a_shut_gate() {
    let scene = Scene::of(stages::drawn());
    let imke = scene.join("imke");
    // A book without gates makes the move: the same keys, one more commit.
    let ahead = scene.place.copy_as(stages::released(), "ahead", "mara");
    let moves = format!("{PROJECT}/moves");
    for name in ahead.names(&moves, "") {
        scene.mara.write(&format!("{moves}/{name}"), ahead.bytes(&format!("{moves}/{name}")));
    }
    commit_all(&scene.mara, "moved");
    push_past(&scene, &scene.mara);
    found(&imke, "move-unbacked", &["it rests on the sign-off", "by mara"]);
    imke.run("board --released").code(0).says(&["nothing is released"]);
}

#[test]
fn a_move_on_an_outdated_release() {
    let scene = Scene::of(stages::signed());
    let imke = scene.join("imke");
    let mara = &scene.mara;
    // Every signature is true, and of a slab that is thicker by now; then the slab is as it was.
    let ahead = scene.place.copy_as(stages::released(), "ahead", "mara");
    for folder in ["signoffs", "moves"].map(|sub| format!("{PROJECT}/{sub}")) {
        for name in ahead.names(&folder, "") {
            mara.write(&format!("{folder}/{name}"), ahead.bytes(&format!("{folder}/{name}")));
        }
    }
    let swatch = format!("{PROJECT}/swatches/alba.json");
    let before = mara.text(&swatch);
    let thicker = before.replace("20", "30");
    assert_ne!(thicker, before);
    mara.write(&swatch, thicker);
    commit_all(mara, "moved");
    scene.refuses_head(mara, "move-past-gate");
    mara.write(&swatch, before);
    commit_all(mara, "as it was");
    scene.refuses_head(mara, "move-past-gate");
    push_past(&scene, mara);
    found(&imke, "move-past-gate", &["[release-signed]", "by mara"]);
    imke.run("board --released").code(0).says(&["nothing is released"]);
}

#[test]
fn an_approval_that_a_merge_left_out_before_this_clone_saw_it() {
    let scene = Scene::of(stages::drawn());
    let (imke, tom) = (scene.join("imke"), scene.join("tom"));
    imke.run("sign quay-desk rendering --panel front --yes").done();
    imke.run("sync").done();
    scene.mara.git("fetch --quiet origin");
    scene.mara.run("swatch change quay-desk alba --lot B-17").done();
    scene.mara.git("merge --quiet -s ours -m evil origin/main");
    push_past(&scene, &scene.mara);
    // Tom has never seen the approval, and the last state looks like any book.
    found(&tom, "add-only", &["in a merge that leaves out", "by mara"]);
    // Both sides of the merge were good by themselves, so he has the approval and the change.
    assert_eq!(
        tom.names(&format!("{PROJECT}/signoffs"), ".json"),
        imke.names(&format!("{PROJECT}/signoffs"), ".json")
    );
    assert!(tom.text(&format!("{PROJECT}/swatches/alba.json")).contains("B-17"));
}

#[test]
fn harmful_files_and_rosters() {
    let scene = Scene::of(stages::drawn());
    let imke = scene.join("imke");
    let mara = &scene.mara;
    let target = crate::scene::blob(mara, b"/etc/passwd");
    crate::scene::commit_entries(mara, &[("120000", &target, &format!("{PROJECT}/panels/link.jpg"))]);
    crate::scene::commit_tree(mara, "HEAD~1^{tree}");
    push_past(&scene, mara);
    found(&imke, "unsafe-path", &["is a symbolic link", "by mara"]);
}

#[test]
fn a_remote_that_was_rewritten_gets_back_what_it_lost() {
    let scene = Scene::of(stages::drawn());
    let imke = scene.join("imke");
    imke.run("sign quay-desk rendering --panel front --yes").done();
    imke.run("sync").done();
    let signed = scene.tip();
    // On the machine that keeps it, by hand.
    scene.mara.git(&format!("-C {} update-ref refs/heads/main refs/heads/main~1", scene.hub.display()));
    assert_ne!(scene.tip(), signed);
    let ran = imke.run("sync").code(0);
    ran.says(&["the remote was rewritten", "lost 1 commit", "Imke Voss", "has sent them back"]);
    assert_eq!(scene.tip(), signed);
    // Taken away altogether.
    scene.mara.git(&format!("-C {} update-ref -d refs/heads/main", scene.hub.display()));
    imke.run("sync").code(0).says(&["the remote was rewritten"]);
    assert_eq!(scene.tip(), signed);
    imke.run("sync").done().never_says(&["rewritten"]);
}

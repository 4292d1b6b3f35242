//! The same judge as a step of a host that runs checks and no hooks.

use crate::scene::{Scene, commit_all};
use crate::stages::{self, PROJECT};

#[test]
fn a_range_of_a_clone_is_judged_as_a_push_is() {
    let scene = Scene::unguarded(stages::signed());
    let mara = &scene.mara;
    let zeros = "0".repeat(40);
    mara.run("guard range origin/main HEAD").done();
    let all = mara.run(&format!("guard range {zeros} HEAD")).code(0).says(&["the first push"]);
    assert_eq!(all.stdout, "");
    mara.run(&format!("guard range {zeros} HEAD --fingerprint {zeros}{}", "0".repeat(24)))
        .code(5)
        .says(&["[fingerprint-differs]"]);
    let answer = mara.run(&format!("guard range {zeros} HEAD --json")).done().json();
    assert_eq!(answer["taken"], true);
    assert_eq!(answer["commit_count"].as_u64(), Some(mara.commits() as u64));
    mara.run("guard range HEAD HEAD~1").code(5).says(&["[history-rewritten]"]);
    mara.run("guard range nowhere HEAD").fails(6, "git-no-such-commit");
    mara.write(&format!("{PROJECT}/panels/front.json"), "{");
    let bad = commit_all(mara, "broken");
    let ran = mara.run("guard range origin/main HEAD").code(3);
    ran.says(&["[json-invalid]", "panels/front.json"]);
    let answer = mara.run("guard range origin/main HEAD --json").code(3).json();
    assert_eq!(answer["taken"], false);
    assert_eq!(answer["error"]["code"], "json-invalid");
    let signed = mara.names(&format!("{PROJECT}/signoffs"), ".json");
    mara.git(&format!("rm --quiet {PROJECT}/signoffs/{}", signed[0]));
    let worse = commit_all(mara, "worse");
    let answer = mara.run("guard range origin/main HEAD --json").code(5).json();
    assert_eq!(answer["errors"][0]["code"], "add-only");
    assert_eq!(answer["errors"][0]["commit"], worse.as_str());
    assert_eq!(answer["errors"][0]["who"], "mara");
    assert_ne!(bad, worse);
    // A history that is cut off cannot be judged.
    let shallow = scene.place.path("shallow");
    mara.git(&format!("clone --quiet --depth 1 file://{} {}", scene.hub.display(), shallow.display()));
    let shallow = crate::workshop::Desk::new(shallow, "mara");
    shallow.run("guard range HEAD~1 HEAD").fails(6, "git-shallow").says(&["--unshallow"]);
}

//! `guard install`: what it writes, what it leaves alone, and that it may be run again.

use std::fs;

use crate::scene::Scene;
use crate::stages;

#[test]
fn installing_says_what_it_did_and_may_be_repeated() {
    let scene = Scene::unguarded(stages::roster());
    let Scene { place, hub, mara, .. } = &scene;
    let line = format!("guard install {}", hub.display());
    let listing = || {
        let config = fs::read(hub.join("config")).unwrap();
        (config, fs::read(hub.join("hooks/pre-receive")).ok(), fs::read(hub.join("HEAD")).unwrap())
    };
    let before = listing();
    place.run("mara", &format!("{line} --dry-run")).done().says(&[
        "dry run",
        "hooks/pre-receive",
        "receive.denyDeletes = true",
        "receive.denyNonFastForwards = true",
        "receive.fsckObjects = true",
    ]);
    assert_eq!(listing(), before);
    place.run("mara", &line).done().says(&["hub.git is guarded: pushes to main are judged", "hook     "]);
    let after = listing();
    place.run("mara", &line).done().says(&["guarded already; nothing was changed"]).never_says(&["setting"]);
    assert_eq!(listing(), after);
    // A setting that somebody chose stays; one that was opened is shut again.
    mara.git(&format!("-C {} config receive.maxInputSize 5000000", hub.display()));
    mara.git(&format!("-C {} config receive.denyDeletes false", hub.display()));
    let again = place.run("mara", &line).done().says(&["receive.denyDeletes = true"]);
    again.never_says(&["maxInputSize", "hook  "]);
    let answer = place.run("mara", &format!("{line} --json --seconds 60")).done().json();
    assert_eq!(answer["branch"], "main");
    let did = answer["did"].as_array().unwrap();
    assert!(did.iter().any(|d| d["name"] == "underlit.guardSeconds" && d["set_to"] == "60"), "{answer}");
    // What was said once stays: nothing is left to do without saying it again.
    let after = (listing(), place.run("mara", &line).done().says(&["guarded already"])).0;
    // An earlier text of our own hook is renewed.
    let hook = hub.join("hooks/pre-receive");
    let text = fs::read_to_string(&hook).unwrap().replace("exit $code", "exit 0");
    fs::write(&hook, text).unwrap();
    place.run("mara", &line).done().says(&["pre-receive (renewed)"]);
    assert_eq!(fs::read(&hook).unwrap(), after.1.unwrap());
}

#[test]
fn what_stands_in_the_way_is_left_alone() {
    let scene = Scene::unguarded(stages::roster());
    let Scene { place, hub, mara, .. } = &scene;
    let line = format!("guard install {}", hub.display());
    let hook = hub.join("hooks/pre-receive");
    fs::create_dir_all(hook.parent().unwrap()).unwrap();
    fs::write(&hook, "#!/bin/sh\nexit 0\n").unwrap();
    place.run("mara", &line).fails(2, "another-hook").says(&["move it away", "guard check"]);
    assert_eq!(fs::read_to_string(&hook).unwrap(), "#!/bin/sh\nexit 0\n");
    assert!(!fs::read_to_string(hub.join("config")).unwrap().contains("denyDeletes"), "half a setup");
    fs::remove_file(&hook).unwrap();
    place.run("mara", &format!("guard install {}", mara.at.display())).fails(2, "not-bare");
    place.run("mara", "guard install nowhere.git").fails(6, "git-no-repository");
    place.run("mara", &format!("{line} --program nowhere/underlit")).fails(2, "no-program");
    place.run("mara", &format!("{line} --program /nowhere/underlit")).fails(2, "no-program");
    place.run("mara", &format!("{line} --branch ../x")).fails(2, "branch-name");
    place.run("mara", &format!("{line} --fingerprint abc")).code(2);
    let other = "0".repeat(64);
    place.run("mara", &format!("{line} --fingerprint {other}")).fails(5, "fingerprint-differs");
    let fingerprint = underlit::digest::Sha256Digest::of(&mara.bytes("roster/0001.json"));
    let told = format!("{line} --fingerprint {fingerprint} --dry-run");
    place.run("mara", &told).done().says(&[&format!("holds    the book {fingerprint}")]);
    // A repository of something else.
    let stray = place.path("stray.git");
    mara.git(&format!("init --quiet --bare -b main {}", stray.display()));
    mara.git("checkout --quiet --orphan stray");
    mara.git("rm -r --quiet --cached roster");
    mara.git("commit --quiet -m stray");
    mara.git(&format!("push --quiet {} HEAD:refs/heads/main", stray.display()));
    place.run("mara", &format!("guard install {}", stray.display())).fails(5, "guarded-book");
}

#[test]
fn a_path_that_a_shell_would_read_otherwise() {
    let scene = Scene::unguarded(stages::roster());
    let Scene { place, hub, mara, .. } = &scene;
    let odd = place.path("it's $HOME `here`");
    fs::create_dir_all(&odd).unwrap();
    let program = odd.join("underlit");
    std::os::unix::fs::symlink(env!("CARGO_BIN_EXE_underlit"), &program).unwrap();
    let ran = crate::workshop::underlit("mara")
        .args(["guard", "install"])
        .arg(hub)
        .arg("--program")
        .arg(&program)
        .output()
        .unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    scene.refuses(mara, "push origin :main", "branch-removed");
}

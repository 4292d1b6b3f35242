//! A pusher's own settings of git do not take the guard of a folder remote away.

use std::fs;

use crate::scene::{Scene, commit_all};
use crate::stages;

#[test]
fn a_persons_own_hooks_path_does_not_win_before_the_repositorys() {
    let scene = Scene::of(stages::intake());
    let mara = &scene.mara;
    let empty = scene.place.path("no-hooks");
    fs::create_dir_all(&empty).unwrap();
    let global = scene.place.file("gitconfig", format!("[core]\n\thooksPath = {}\n", empty.display()));
    fs::remove_file(mara.path("roster/0002.mara.sig")).unwrap();
    commit_all(mara, "bad");
    let before = scene.tip();
    type Try<'t> = (&'t str, &'t [(&'t str, &'t str)], &'t [&'t str]);
    let tries: [Try<'_>; 3] = [
        ("a global setting", &[("GIT_CONFIG_GLOBAL", &global)], &[]),
        (
            "the environment",
            &[
                ("GIT_CONFIG_COUNT", "1"),
                ("GIT_CONFIG_KEY_0", "core.hooksPath"),
                ("GIT_CONFIG_VALUE_0", &global),
            ],
            &[],
        ),
        ("an argument", &[], &["-c", "core.hooksPath=/nowhere"]),
    ];
    for (what, environment, args) in tries {
        let mut push = crate::workshop::program("git", "mara");
        push.current_dir(&mara.at).envs(environment.iter().copied()).args(args);
        let pushed = push.args(["push", "origin", "HEAD:refs/heads/main"]).output().unwrap();
        let said = String::from_utf8_lossy(&pushed.stderr);
        assert!(!pushed.status.success() && said.contains("[add-only]"), "{what}: {said}");
        assert_eq!(scene.tip(), before, "{what}");
    }
    // The repository may move: its setting says where its hooks lie within it.
    let moved = scene.place.path("moved.git");
    fs::rename(&scene.hub, &moved).unwrap();
    mara.git(&format!("remote set-url origin {}", moved.display()));
    let mut push = crate::workshop::program("git", "mara");
    push.current_dir(&mara.at).env("GIT_CONFIG_GLOBAL", &global);
    let pushed = push.args(["push", "origin", "HEAD:refs/heads/main"]).output().unwrap();
    assert!(!pushed.status.success());
    // Installing twice changes nothing, whatever hooks the person who does it has set.
    let again = crate::workshop::underlit("mara")
        .args(["guard", "install"])
        .arg(&moved)
        .env("GIT_CONFIG_GLOBAL", &global)
        .output()
        .unwrap();
    assert!(again.status.success(), "{}", String::from_utf8_lossy(&again.stderr));
    assert_eq!(mara.git(&format!("-C {} config --local core.hooksPath", moved.display())).trim(), "hooks");
}

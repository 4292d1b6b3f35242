//! What got into a clone past this program: by `git pull`, by `git add`, by a disk that lost something. Every answer says
//! whose commit it is and which, and one verb gets everybody out.

use std::fs;

use crate::refused::{ALBA, all_sound, commit};
use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;

#[test]
fn what_a_pulled_commit_broke_is_told_with_the_commit() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { imke, tom, .. } = &clones;
    tom.write(ALBA, "{\n");
    commit(tom, "broken");
    let bad = tom.git("rev-parse HEAD").trim().to_owned();
    tom.git("push --quiet origin HEAD:main");
    imke.git("pull --quiet --ff-only");
    for line in ["status quay-desk", "check", "sync"] {
        let said = ["what stands below came with", &bad[..10], "by tom", "alba.json", "[json-invalid]"];
        imke.run(line).fails(3, "refused-here").says(&said);
    }
    // One's own edit on top of it is nobody else's.
    imke.write(ALBA, "{ \"a\"\n");
    imke.run("check").code(3).never_says(&["by tom"]);
    // A roster that the commit took apart is no matter of another owner's signature.
    imke.git("checkout -- .");
    tom.git("reset --quiet --hard HEAD~1");
    // What was pulled and seen to pass is not gone through again; what comes on top of it is.
    tom.run("project change quay-desk --note pulled").done();
    tom.git("push --quiet --force origin HEAD:main");
    imke.git("fetch --quiet");
    imke.git("reset --quiet --hard origin/main");
    imke.run("status quay-desk").done();
    assert_eq!(imke.text(".git/underlit/passed"), format!("{}\n", imke.git("rev-parse HEAD").trim()));
    tom.git("rm --quiet roster/0002.mara.sig");
    commit(tom, "bad");
    let bad = tom.git("rev-parse HEAD").trim().to_owned();
    tom.git("push --quiet --force origin HEAD:main");
    imke.git("fetch --quiet");
    imke.git("reset --quiet --hard origin/main");
    for line in ["status quay-desk", "board", "check"] {
        imke.run(line).fails(5, "refused-here").says(&["own branch has", &bad[..10], "by tom"]);
    }
}

#[test]
#[cfg(unix)]
fn a_name_that_is_no_text_keeps_nobody_from_the_good_beginning() {
    use std::os::unix::ffi::OsStrExt as _;
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    let odd = std::ffi::OsStr::from_bytes(b"projects/quay-desk/handover/odd\xff.jpg");
    fs::create_dir_all(tom.path("projects/quay-desk/handover")).unwrap();
    fs::write(tom.at.join(odd), "x").unwrap();
    commit(tom, "odd");
    let bad = tom.git("rev-parse HEAD").trim().to_owned();
    tom.git("push --quiet origin HEAD:main");
    // One clone fetches, one pulls past this program and works on.
    imke.git("pull --quiet --ff-only");
    imke.run("project change quay-desk --note mine").done();
    mara.run("swatch change quay-desk alba --lot B-17").done();
    mara.run("sync").fails(5, "incoming-refused").says(&["not Unicode text", "by tom"]);
    imke.run("sync").fails(5, "refused-here");
    mara.run("sync --drop-refused").code(0);
    imke.run("sync").done().says(&["removed 1 commit", "made again: 1 commit"]);
    tom.run("sync").done().says(&["removed 1 commit"]);
    assert!(!tom.at.join(odd).exists() && !imke.at.join(odd).exists());
    assert_eq!(tom.git("status --porcelain"), "");
    all_sound(&clones, &bad);
    assert!(tom.text(&format!("{PROJECT}/project.json")).contains("mine"));
    // An owner who pulled it is freed by the same word.
    fs::create_dir_all(tom.path("projects/quay-desk/handover")).unwrap();
    fs::write(tom.at.join(odd), "x").unwrap();
    commit(tom, "odd once more");
    tom.git("push --quiet origin HEAD:main");
    mara.git("pull --quiet --ff-only");
    let again = tom.git("rev-parse HEAD").trim().to_owned();
    mara.run("sync --drop-refused").code(0);
    all_sound(&clones, &again);
    assert!(!mara.at.join(odd).exists());
}

#[test]
fn a_repository_inside_the_book_is_told_with_what_to_do() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, tom, place, .. } = &clones;
    let inside = "projects/quay-desk/tools";
    fs::create_dir_all(tom.path(inside)).unwrap();
    tom.git(&format!("init --quiet {inside}"));
    tom.write(&format!("{inside}/a.txt"), "x");
    tom.git(&format!("-C {inside} add a.txt"));
    tom.git(&format!("-C {inside} commit --quiet -m inner"));
    let words = ["is a repository of its own, of which no other clone gets a file", "git rm --cached"];
    // As long as nobody commits it, it is told and is in nobody's way.
    let ran = tom.run("check").code(0);
    ran.says(&words).says(&[inside]).never_says(&[".git/config"]);
    tom.run("swatch change quay-desk alba --lot C-1").code(0);
    tom.run("sync").code(0);
    mara.run("sync").code(0);
    // Committed by stock git, every judge says the same of it.
    tom.git("add --all");
    tom.git("commit --quiet -m link");
    tom.run("check").fails(3, "unsafe-path").says(&words).says(&[inside]);
    tom.run("sync").fails(3, "unsent-refused").says(&words).says(&[inside]);
    let guarded = place.path("guarded.git");
    tom.git(&format!("clone --quiet --bare {} {}", place.path("hub.git").display(), guarded.display()));
    place.run("mara", &format!("guard install {}", guarded.display())).code(0);
    let pushed = tom.git_tries(&format!("push {} HEAD:main", guarded.display()));
    let said = String::from_utf8_lossy(&pushed.stderr).replace("remote:", "");
    let said: Vec<&str> = said.split_whitespace().collect();
    assert!(!pushed.status.success() && words.iter().all(|w| said.join(" ").contains(w)), "{said:?}");
    tom.git("push --quiet origin HEAD:main");
    mara.run("sync").fails(5, "incoming-refused").says(&words).says(&[inside]);
    // The remedy frees.
    fs::rename(tom.path(inside), place.path("tools")).unwrap();
    mara.run("sync --drop-refused").code(0);
    tom.run("sync").code(0);
    tom.run("check").code(0).never_says(&["repository"]);
    assert_eq!(tom.git("rev-parse HEAD"), mara.git("rev-parse HEAD"));
}

#[test]
fn a_lost_branch_without_a_log_begins_no_second_book() {
    let clones = ThreeClones::without_guard(stages::intake());
    let imke = &clones.imke;
    let head = imke.git("rev-parse HEAD").trim().to_owned();
    fs::remove_dir_all(imke.path(".git/logs")).unwrap();
    imke.git("config core.logAllRefUpdates false");
    imke.git("update-ref -d refs/heads/main");
    for line in ["swatch change quay-desk alba --lot 5", "sync", "sync --offline"] {
        imke.run(line).fails(6, "branch-lost").says(&[&head[..10], "nothing was changed"]);
    }
    imke.git(&format!("update-ref refs/heads/main {head}"));
    imke.run("sync").code(0);
}

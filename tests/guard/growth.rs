//! Work grows with what changed and not with what is there: in a book of a thousand projects, everything of those that
//! a push does not touch is taken out of the repository's objects, and the judge comes to the same answer. What is not
//! there cannot have been read.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use crate::scene::{Scene, commit_all, commit_tree, git_fed};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place};

/// How many projects the large book has.
fn many() -> usize {
    std::env::var("UNDERLIT_PROJECTS").map_or(1_000, |n| n.parse().unwrap())
}

/// Adds projects to a book in one commit, each a record of its own, and nothing but loose objects.
fn add_projects(desk: &Desk, count: usize) -> BTreeSet<String> {
    let record = desk.text(&format!("{PROJECT}/project.json"));
    let head = desk.git("rev-parse HEAD").trim().to_owned();
    let mut import = format!(
        "commit refs/heads/main\ncommitter mara <mara@tern.invalid> 1800000000 +0000\ndata 4\nmany\nfrom {head}\n"
    );
    for nth in 0..count {
        let text = record.replace("quay-desk", &format!("job-{nth:05}"));
        import.push_str(&format!(
            "M 100644 inline projects/job-{nth:05}/project.json\ndata {}\n{text}\n",
            text.len()
        ));
    }
    git_fed(
        desk,
        &["-c", "fastimport.unpackLimit=10000000", "fast-import", "--quiet", "--force"],
        import.as_bytes(),
    );
    desk.git("reset --quiet --hard main");
    let listed = desk.git("ls-tree -r -t HEAD -- projects");
    let of_others = listed.lines().filter(|line| line.contains("\tprojects/job-"));
    of_others.map(|line| line.split([' ', '\t']).nth(2).unwrap().to_owned()).collect()
}

/// Takes objects out of a repository; they are loose.
fn take_out(git: &Path, objects: &BTreeSet<String>) {
    for id in objects {
        fs::remove_file(git.join("objects").join(&id[..2]).join(&id[2..]))
            .unwrap_or_else(|e| panic!("{id}: {e}"));
    }
}

#[test]
fn a_judge_reads_nothing_of_the_projects_that_a_push_leaves_alone() {
    let scene = Scene::unguarded(stages::signed());
    let mara = &scene.mara;
    let others = add_projects(mara, many());
    assert_eq!(others.len(), 2 * many(), "a folder and a record for each");
    let base = mara.git("rev-parse HEAD").trim().to_owned();
    mara.run_as("tom", "sign quay-desk release --yes").code(0);
    mara.run("advance quay-desk --to released").done();
    mara.write(&format!("{PROJECT}/stray.exe"), "MZ");
    commit_all(mara, "stray");
    take_out(&mara.path(".git"), &others);
    // They are gone for whoever looks at them.
    assert!(!mara.git_tries("fsck --connectivity-only").status.success());
    mara.run(&format!("guard range {base} HEAD~1")).done();
    let said = mara.run(&format!("guard range {base} HEAD")).code(3).says(&["[not-of-a-book]", "stray.exe"]);
    said.never_says(&["[git-"]);
    // A push that touches one of them needs it.
    mara.git("update-index --force-remove projects/job-00007/project.json");
    let tree = mara.git("write-tree --missing-ok");
    commit_tree(mara, tree.trim());
    mara.run(&format!("guard range {base} HEAD")).code(6).says(&["[git-damaged]"]);
}

#[test]
fn a_book_proved_again_reads_nothing_of_the_projects_that_stayed_as_they_were() {
    let place = Place::new();
    let mara = place.copy(stages::signed(), "mara");
    // Every project is judged whole once, so these are fewer.
    let others = add_projects(&mara, many().min(150));
    // Seen once, so that there is a pin, and a bare repository beside it, whose files are objects only.
    mara.run("board").code(0);
    let bare = place.path("bare.git");
    mara.git(&format!("clone --quiet --bare --no-hardlinks {} {}", mara.at.display(), bare.display()));
    fs::create_dir_all(bare.join("underlit")).unwrap();
    fs::copy(mara.path(".git/underlit/pin.json"), bare.join("underlit/pin.json")).unwrap();
    let hub = Desk::new(bare.clone(), "mara");
    hub.run("verify").done().says(&["what this clone has seen before", "no gate was shut"]);
    mara.run_as("tom", "sign quay-desk release --yes").code(0);
    mara.run("advance quay-desk --to released").done();
    mara.git(&format!("push --quiet {} main", bare.display()));
    let packs = bare.join("objects/pack");
    assert!(fs::read_dir(&packs).map_or(0, Iterator::count) == 0, "the objects are loose");
    take_out(&bare, &others);
    hub.run("verify").done().says(&["quay-desk — Quay desk: released, may be built", "4 moves"]);
    // Without what is known of before, they are missed.
    assert_ne!(hub.run("verify --cold").code, 0);
}

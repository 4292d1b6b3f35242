//! People who pull with their own git: after one command, a plain `git pull` makes the very tree that `sync` makes.
//! Here everything is real, the guard too; many more merges, cheaper, are in `stock_git_merges`.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::dice::Dice;
use crate::stages::{self, PROJECT};
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place, copy_folder};

/// Git on a path where it finds the strategy's program.
pub(crate) fn git(desk: &Desk, bin: &Path, line: &str) -> (bool, String) {
    let path = format!("{}:{}", bin.display(), std::env::var("PATH").unwrap());
    let output = crate::workshop::program("git", desk.person)
        .current_dir(&desk.at)
        .env("PATH", path)
        .args(crate::workshop::words(line))
        .output()
        .unwrap();
    let said = [output.stdout, output.stderr].concat();
    (output.status.success(), String::from_utf8_lossy(&said).into_owned())
}

pub(crate) fn set_up(desk: &Desk, place: &Place) -> PathBuf {
    let bin = place.path("bin");
    fs::create_dir_all(&bin).unwrap();
    desk.run(&format!("stock-git setup --into {}", bin.display()))
        .code(0)
        .says(&["merges this book's records field by field", "put its folder on your PATH"]);
    bin
}

fn edit(desk: &Desk, dice: &mut Dice) {
    for _ in 0..1 + dice.below(3) {
        let (file, field, value): (&str, &str, Value) = match dice.below(9) {
            0 => ("project.json", "title", json!(format!("Quay desk {}", dice.below(3)))),
            1 => ("project.json", "install_date", json!(format!("2027-04-1{}", dice.below(3)))),
            2 => ("project.json", "note", json!(format!("note {}", dice.below(3)))),
            3 => ("lot", "", Value::Null),
            4 => ("swatches/alba.json", "stone", json!(format!("Alabaster {}", dice.below(3)))),
            5 => ("swatches/alba.json", "note", Value::Null),
            6 => ("panels/front.json", "title", json!(format!("Front {}", dice.below(4)))),
            7 => ("panels/front.json", "note", json!(format!("note {}", dice.below(4)))),
            _ => ("photo", "", Value::Null),
        };
        if file == "lot" {
            let mut record: Value =
                serde_json::from_str(&desk.text(&format!("{PROJECT}/swatches/alba.json"))).unwrap();
            record["slab"]["lot"] = json!(format!("B-{}", dice.below(3)));
            desk.write(&format!("{PROJECT}/swatches/alba.json"), format!("{record:#}\n"));
            continue;
        }
        if file == "photo" {
            let (path, pixels) =
                (format!("{PROJECT}/swatches/alba.json"), format!("pixels {}", dice.below(3)));
            let mut record: Value = serde_json::from_str(&desk.text(&path)).unwrap();
            record["photo"] = json!({ "file": "alba.jpg", "sha256": underlit::digest::Sha256Digest::of(pixels.as_bytes()).hex() });
            desk.write(&path, format!("{record:#}\n"));
            desk.write(&format!("{PROJECT}/swatches/alba.jpg"), pixels);
            continue;
        }
        let path = format!("{PROJECT}/{file}");
        let mut record: Value = serde_json::from_str(&desk.text(&path)).unwrap();
        match value {
            Value::Null => drop(record.as_object_mut().unwrap().shift_remove(field)),
            value => record[field] = value,
        }
        desk.write(&path, format!("{record:#}\n"));
    }
}

fn commit(desk: &Desk, bin: &Path, what: &str) {
    git(desk, bin, "add -A");
    git(desk, bin, &format!("commit -q -m {what}"));
}

fn tree(desk: &Desk) -> String {
    desk.git("rev-parse HEAD^{tree}")
}

#[test]
fn a_plain_pull_makes_the_tree_that_sync_makes() {
    let rounds = 4;
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, imke, place, .. } = &clones;
    let bin = set_up(mara, place);
    set_up(imke, place);
    let (mut merged, mut asked) = (0, 0);
    for round in 1_u64..=rounds {
        let mut dice = Dice(round.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        edit(imke, &mut dice);
        commit(imke, &bin, "imkes");
        git(imke, &bin, "push -q");
        edit(mara, &mut dice);
        commit(mara, &bin, "maras");
        git(mara, &bin, "fetch -q");
        let twin = place.path("twin");
        let _ = fs::remove_dir_all(&twin);
        copy_folder(&mara.at, &twin);
        let twin = Desk::new(twin, "mara");
        let (pulled, said) = git(mara, &bin, "pull -q --no-edit");
        let synced = twin.run("sync --offline");
        assert_eq!(pulled, [0, 4].contains(&synced.code), "round {round}: {said}\n{synced:?}");
        assert!(pulled, "round {round}: {said}");
        assert_eq!(tree(mara), tree(&twin), "round {round}: {said}");
        merged += usize::from(mara.git("rev-list --count --merges HEAD") != "0\n");
        asked += usize::from(synced.code == 4);
        mara.sound_for_git();
        mara.run("status quay-desk").done().never_says(&["nothing in the history", "without an answer"]);
        // Questions live on for a while, and meet later edits; then somebody settles them.
        if dice.below(3) == 0 {
            mara.run("resolve quay-desk --all --take 1").done();
        }
        let (pushed, said) = git(mara, &bin, "push -q");
        assert!(pushed, "round {round}: {said}");
        let (pulled, said) = git(imke, &bin, "pull -q --no-edit");
        assert!(pulled, "round {round}: {said}");
        assert_eq!(tree(mara), tree(imke));
    }
    assert!(merged > 0 && asked > 0, "{merged} merged, {asked} asked of {rounds}");
    mara.sound();
}

#[test]
fn what_sync_refuses_a_pull_refuses_and_what_is_not_committed_stays() {
    let clones = ThreeClones::without_guard(stages::intake());
    let ThreeClones { mara, imke, place, .. } = &clones;
    let bin = set_up(mara, place);
    let title = |desk: &Desk, title: &str| {
        let old = serde_json::from_str::<Value>(&desk.text(&format!("{PROJECT}/project.json"))).unwrap();
        desk.edit(&format!("{PROJECT}/project.json"), old["title"].as_str().unwrap(), title);
    };
    imke.write("projects/quay-desk/Notes to self.doc", "no file of a book");
    commit(imke, &bin, "notes");
    git(imke, &bin, "push -q");
    title(mara, "The desk");
    commit(mara, &bin, "maras");
    let before = (tree(mara), mara.git("status --porcelain"));
    let (pulled, said) = git(mara, &bin, "pull -q --no-edit");
    assert!(!pulled && said.contains("[incoming-refused]") && said.contains("imke"), "{said}");
    assert_eq!((tree(mara), mara.git("status --porcelain")), before);
    mara.run("sync").fails(5, "incoming-refused").says(&["[not-of-a-book]"]);
    // Mended there; here an edit lies in the way that is not committed.
    imke.git("reset -q --hard HEAD~1");
    title(imke, "Imkes desk");
    commit(imke, &bin, "imkes");
    git(imke, &bin, "push -q -f");
    mara.write(
        &format!("{PROJECT}/project.json"),
        mara.text(&format!("{PROJECT}/project.json")).replace("Quay hall", "Hall"),
    );
    let (pulled, said) = git(mara, &bin, "pull -q --no-edit");
    assert!(!pulled, "{said}");
    assert!(mara.text(&format!("{PROJECT}/project.json")).contains("\"Hall\""));
    commit(mara, &bin, "hall");
    let (pulled, said) = git(mara, &bin, "pull -q --no-edit");
    assert!(pulled && said.contains("question: "), "{said}");
    assert!(!mara.text(&format!("{PROJECT}/project.json")).contains("<<<<"));
    mara.run("status quay-desk").done().says(&["question  the project, title: ", "Quay desk"]);
    // Where git picks one commit, that commit alone comes, with its question; under a strategy of git's own it goes
    // file by file and stops, without a marker in any record.
    set_up(imke, place);
    title(imke, "Another desk");
    commit(imke, &bin, "another");
    git(imke, &bin, "fetch -q");
    title(mara, "A third desk");
    mara.run("resolve quay-desk --all --take base").done();
    git(mara, &bin, "push -q");
    git(imke, &bin, "fetch -q");
    let (picked, said) = git(imke, &bin, "cherry-pick --strategy ort origin/main~1");
    assert!(!picked && said.contains("CONFLICT"), "{said}");
    assert!(!imke.text(&format!("{PROJECT}/project.json")).contains("<<<<"));
    imke.run("sync").fails(6, "git-busy").says(&["git cherry-pick --abort"]);
    git(imke, &bin, "cherry-pick --abort");
    let site = |desk: &Desk| desk.text(&format!("{PROJECT}/project.json")).contains("\"Hall\"");
    assert!(!site(imke));
    let (picked, said) = git(imke, &bin, "cherry-pick origin/main~1");
    assert!(picked && said.contains("question: "), "{said}");
    assert!(!site(imke), "only what the picked commit changed comes");
    imke.git("reset -q --hard HEAD~1");
    imke.run("sync")
        .code(4)
        .says(&["question: ", "nothing is lost; 1 question is open: underlit resolve quay-desk"]);
}

#[test]
fn setting_up_shows_first_and_does_it_once() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let bin = place.path("bin");
    fs::create_dir_all(&bin).unwrap();
    let line = format!("stock-git setup --into {}", bin.display());
    book.unchanged(|b| b.run(&format!("{line} --dry-run")).code(0).says(&["dry run: "]));
    assert!(fs::read_dir(&bin).unwrap().next().is_none());
    for _ in 0..2 {
        book.run(&line).code(0);
        assert_eq!(book.git("config merge.underlit.driver").matches("stock-git file %O %A %B %P").count(), 1);
        assert_eq!(book.git("config pull.twohead"), "underlit\n");
    }
    book.run("stock-git setup --into /proc/nowhere").fails(6, "write").says(&["--into DIR"]);
    book.run("stock-git merge -- a -- b").code(2).says(&["one branch after the other"]);
}

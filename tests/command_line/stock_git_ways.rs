//! Everything else that stock git does with two sides: rebase, revert, cherry-pick, stash, patches, several branches, an
//! unrelated history, a merge that is taken back. In each nothing is lost, no record ever holds git's marks, and
//! underlit says what is half done and what to type.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place};

const RECORD: &str = "projects/quay-desk/project.json";

/// A book in which git was taught, with a branch `side` that changed the title and then a stone, and `main` that
/// changed the title otherwise.
struct Scene {
    place: Place,
    bin: PathBuf,
    desk: Desk,
}

impl Scene {
    fn new() -> Scene {
        let place = Place::new();
        let desk = place.copy(stages::intake(), "mara");
        let bin = place.path("bin");
        fs::create_dir_all(&bin).unwrap();
        desk.run(&format!("stock-git setup --into {}", bin.display())).code(0);
        let scene = Scene { place, bin, desk };
        scene.done("checkout -q -b side");
        scene.title("Side desk");
        scene.done("commit -q -a -m side-title");
        scene.desk.edit(&format!("{PROJECT}/swatches/alba.json"), "White alabaster", "Side alabaster");
        scene.done("commit -q -a -m side-stone");
        scene.done("checkout -q main");
        scene.title("Main desk");
        scene.done("commit -q -a -m main-title");
        scene
    }

    /// The same scene once more.
    fn again(&self, name: &str) -> Scene {
        let desk = self.place.copy_as(&self.desk.at, name, "mara");
        Scene { place: Place::new(), bin: self.bin.clone(), desk }
    }

    fn title(&self, title: &str) {
        let mut record: Value = serde_json::from_str(&self.desk.text(RECORD)).unwrap();
        record["title"] = title.into();
        self.desk.write(RECORD, format!("{record:#}\n"));
    }

    fn stands(&self) -> String {
        let record: Value = serde_json::from_str(&self.desk.text(RECORD)).unwrap();
        record["title"].as_str().unwrap().to_owned()
    }

    /// Runs git where it finds the strategy; afterwards no file holds its marks.
    fn git(&self, line: &str) -> (bool, String) {
        let path = format!("{}:{}", self.bin.display(), std::env::var("PATH").unwrap());
        let output = crate::workshop::program("git", self.desk.person)
            .current_dir(&self.desk.at)
            .env("PATH", path)
            .env("GIT_EDITOR", "true")
            .args(crate::workshop::words(line))
            .output()
            .unwrap();
        no_marks(&self.desk.at);
        let said = [output.stdout, output.stderr].concat();
        (output.status.success(), String::from_utf8_lossy(&said).into_owned())
    }

    #[track_caller]
    fn done(&self, line: &str) {
        let (ok, said) = self.git(line);
        assert!(ok, "git {line}: {said}");
    }

    /// Git stops half way, and underlit says so, in every verb that looks or writes.
    #[track_caller]
    fn stops(&self, line: &str, operation: &str) {
        let (ok, said) = self.git(line);
        assert!(!ok, "git {line} went through: {said}");
        let (half, fix) = (format!("a git {operation} is half done"), format!("git {operation} --abort"));
        self.desk.run("sync --offline").fails(6, "git-busy").says(&[&half, &fix]);
        self.desk.run("status quay-desk").code(0).says(&[&half, &fix]);
        self.desk.run("check").code(0).says(&[&half, &fix]);
    }

    /// Both titles stand in a question, and the whole book is good.
    #[track_caller]
    fn asks(&self, titles: &[&str]) {
        self.desk.run("resolve quay-desk").done().says(titles);
        self.desk.sound();
        assert_eq!(self.stands(), "Quay desk");
    }
}

fn no_marks(folder: &Path) {
    for entry in fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if entry.file_name() == ".git" {
            continue;
        }
        if path.is_dir() {
            no_marks(&path);
        } else if path.extension().is_some_and(|ending| ending == "json") {
            let text = fs::read_to_string(&path).unwrap();
            assert!(!text.contains("<<<<<<<") && !text.contains(">>>>>>>"), "{}: {text}", path.display());
        }
    }
}

#[test]
fn rebase_and_cherry_pick_ask_and_lose_nothing() {
    let scene = Scene::new();
    let rebased = scene.again("rebased");
    rebased.done("rebase side");
    rebased.asks(&["Main desk", "Side desk"]);
    assert!(rebased.desk.text(&format!("{PROJECT}/swatches/alba.json")).contains("Side alabaster"));
    // A pull that rebases does the same.
    let pulled = scene.again("pulled");
    pulled.done(&format!("remote add origin {}", scene.desk.at.display()));
    pulled.done("pull -q --rebase origin side");
    pulled.asks(&["Main desk", "Side desk"]);
    let picked = scene.again("picked");
    picked.done("cherry-pick side~1");
    picked.asks(&["Main desk", "Side desk"]);
    picked.done("cherry-pick side");
    picked.desk.sound();
    // Under another strategy git stops at the question, and can be told to go back.
    let stopped = scene.again("stopped");
    stopped.stops("rebase -s ort side", "rebase");
    stopped.desk.run("check --repair rebase").code(0);
    assert_eq!(stopped.stands(), "Main desk");
    stopped.desk.sound();
}

#[test]
fn a_revert_takes_back_or_stops() {
    let scene = Scene::new();
    let plain = scene.again("plain");
    plain.done("revert --no-edit HEAD");
    assert_eq!(plain.stands(), "Quay desk");
    plain.desk.sound();
    // What was set again since cannot be taken back without asking; git has no place for the question, and stops.
    scene.title("Newer desk");
    scene.done("commit -q -a -m newer");
    scene.stops("revert --no-edit HEAD~1", "revert");
    scene.done("revert --abort");
    assert_eq!(scene.stands(), "Newer desk");
    scene.desk.sound();
}

#[test]
fn a_stash_comes_back_or_stays_where_it_is() {
    let scene = Scene::new();
    let other = scene.again("other");
    other.desk.edit(&format!("{PROJECT}/swatches/alba.json"), "White alabaster", "Stashed alabaster");
    other.done("stash -q");
    other.title("Other desk");
    other.done("commit -q -a -m other");
    other.done("stash pop -q");
    other.desk.run("sync --offline").done().says(&["took in 1 edit made by hand"]);
    assert!(other.desk.text(&format!("{PROJECT}/swatches/alba.json")).contains("Stashed alabaster"));
    other.desk.sound();
    scene.title("Stashed desk");
    scene.done("stash -q");
    scene.title("Other desk");
    scene.done("commit -q -a -m other");
    let (ok, said) = scene.git("stash pop");
    assert!(!ok && said.contains("The stash entry is kept"), "{said}");
    let words = ["git could not settle projects/quay-desk/project.json", "underlit check --repair unmerged"];
    scene.desk.run("sync --offline").fails(6, "git-unmerged").says(&words);
    scene.desk.run("check").code(0).says(&words);
    scene.desk.run("check --repair unmerged").code(0).says(&["set aside"]);
    assert_eq!(scene.stands(), "Other desk");
    assert!(scene.git("stash show -p").1.contains("Stashed desk"));
    scene.desk.sound();
}

#[test]
fn several_branches_strangers_patches_and_a_merge_taken_back() {
    let scene = Scene::new();
    let before = |s: &Scene| (s.desk.git("rev-parse HEAD"), s.stands());
    // Several at once: refused with what to do, and nothing is touched.
    scene.done("checkout -q -b third main~1");
    scene.title("Third desk");
    scene.done("commit -q -a -m third");
    scene.done("checkout -q main");
    let then = before(&scene);
    let (ok, said) = scene.git("merge -q --no-edit side third");
    assert!(!ok && said.contains("merge one branch after the other"), "{said}");
    assert_eq!(before(&scene), then);
    scene.desk.sound();
    // Begun and not committed; taken back.
    scene.done("merge -q --no-edit --no-commit side");
    let words = ["a git merge is half done", "git merge --abort"];
    scene.desk.run("sync --offline").fails(6, "git-busy").says(&words);
    scene.desk.run("status quay-desk").code(0).says(&words);
    scene.done("merge --abort");
    assert_eq!(before(&scene), then);
    scene.desk.sound();
    // Another book.
    let stranger = scene.again("stranger");
    stranger.done("checkout -q --orphan other");
    stranger.done("rm -rfq .");
    stranger.desk.write("README.md", "another book\n");
    stranger.done("add -A");
    stranger.done("commit -q -m other");
    stranger.done("checkout -q main");
    for line in ["merge -q other", "merge -q --allow-unrelated-histories -m x other"] {
        let (ok, said) = stranger.git(line);
        assert!(!ok && (said.contains("unrelated histories") || said.contains("[git-unrelated]")), "{said}");
        assert_eq!(before(&stranger), then);
    }
    stranger.desk.sound();
    // A patch by mail that clashes stops; one that does not comes in.
    let patches = scene.place.path("patches");
    scene.done(&format!("format-patch -q -2 -o {} side", patches.display()));
    let file = |start: &str| {
        let mut all = fs::read_dir(&patches).unwrap().flatten().map(|e| e.path());
        all.find(|p| p.file_name().unwrap().to_str().unwrap().starts_with(start)).unwrap()
    };
    scene.stops(&format!("am -q -3 {}", file("0001").display()), "am");
    scene.done("am --abort");
    assert_eq!(before(&scene), then);
    scene.done(&format!("am -q -3 {}", file("0002").display()));
    scene.desk.sound();
}

//! Pushes that want to use up memory, disk or time: huge files, bombs of every kind, trees without end. The judge
//! runs with little memory, ends soon, and says what is wrong.

use std::time::{Duration, Instant};

use crate::scene::{Scene, commit_entries, commit_tree, git_fed};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, program};

/// The memory that the judge may ask for, in KiB. A debug build with everything in it needs about half of that.
const MEMORY_KIB: u64 = 300 << 10;

/// Judges HEAD of a clone against the branch of the remote with little memory, as the hook would.
#[track_caller]
fn judged(desk: &Desk, code: i32, words: &str) {
    let started = Instant::now();
    let line = format!("ulimit -v {MEMORY_KIB}; exec \"$0\" guard range origin/main HEAD");
    let mut command = program("sh", desk.person);
    command.current_dir(&desk.at).args(["-c", &line, env!("CARGO_BIN_EXE_underlit")]);
    let output = command.output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{said}");
    assert!(said.contains(words), "{words}: {said}");
    assert!(started.elapsed() < Duration::from_secs(20), "it took {:?}", started.elapsed());
}

/// A file of so many zeros in git, which packs a thousandfold.
fn zeros(desk: &Desk, mebibytes: usize) -> String {
    let line = format!(
        "head -c {}M /dev/zero | git -c core.bigFileThreshold=1m -c core.looseCompression=1 hash-object -w --stdin",
        mebibytes
    );
    let output = program("sh", desk.person).current_dir(&desk.at).args(["-c", &line]).output().unwrap();
    assert!(output.status.success());
    String::from_utf8(output.stdout).unwrap().trim().to_owned()
}

#[test]
fn a_file_that_unpacks_a_thousandfold() {
    let scene = Scene::of(stages::intake());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let huge = zeros(mara, 320);
    for path in ["panels/huge.jpg", "panels/huge.json", "signoffs/huge.sig", "anything"] {
        commit_entries(mara, &[("100644", &huge, &format!("{PROJECT}/{path}"))]);
        // Taken out again, and judged all the same.
        commit_tree(mara, &format!("{head}^{{tree}}"));
        judged(mara, 3, "[too-large]");
        mara.git(&format!("update-ref refs/heads/main {head}"));
    }
    // Through a real push too, where git unpacks it first.
    commit_entries(mara, &[("100644", &huge, &format!("{PROJECT}/panels/huge.jpg"))]);
    scene.refuses(mara, "-c core.bigFileThreshold=1m push origin HEAD:refs/heads/main", "too-large");
    // A record that is text, and longer than any record.
    mara.git(&format!("update-ref refs/heads/main {head}"));
    let long = git_fed(mara, &["hash-object", "-w", "--stdin"], " ".repeat((1 << 20) + 1).as_bytes());
    commit_entries(mara, &[("100644", &long, &format!("{PROJECT}/panels/front.json"))]);
    judged(mara, 3, "[too-large]");
}

#[test]
fn trees_without_end() {
    let scene = Scene::of(stages::intake());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let back = || drop(mara.git(&format!("update-ref refs/heads/main {head}")));
    // Very deep.
    let deep = format!("{}x", "a/".repeat(1500));
    let import = format!(
        "commit refs/heads/main\ncommitter x <x@x.invalid> 1800000000 +0000\ndata 4\ndeep\nfrom {head}\nM 100644 inline {deep}\ndata 1\nx\n"
    );
    git_fed(mara, &["fast-import", "--quiet", "--force"], import.as_bytes());
    judged(mara, 3, "deeper than");
    back();
    // Wide in every folder, by few objects: 24 to the power of 10 files.
    let file = git_fed(mara, &["hash-object", "-w", "--stdin"], b"x");
    let mut below = format!("100644 blob {file}");
    let mut tree = String::new();
    for _ in 0..10 {
        let listing: String = (b'a'..=b'x').map(|c| format!("{below}\t{}\n", c as char)).collect();
        tree = git_fed(mara, &["mktree"], listing.as_bytes());
        below = format!("040000 tree {tree}");
    }
    commit_tree(mara, &tree);
    judged(mara, 3, "[too-much]");
    back();
    // One folder with more names than are read.
    let listing: String = (0..230_000).map(|n| format!("100644 blob {file}\t{n:08}\n")).collect();
    let wide = git_fed(mara, &["mktree"], listing.as_bytes());
    commit_entries_under(mara, &wide);
    judged(mara, 3, "[too-much]");
    back();
}

/// A commit with a tree beside everything that is there.
fn commit_entries_under(desk: &Desk, tree: &str) {
    let mut listing = desk.git("ls-tree HEAD");
    listing.push_str(&format!("040000 tree {tree}\twide\n"));
    let whole = git_fed(desk, &["mktree"], listing.as_bytes());
    commit_tree(desk, &whole);
}

#[test]
fn records_that_want_to_use_up_the_reader() {
    let scene = Scene::of(stages::intake());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let path = format!("{PROJECT}/panels/front.json");
    for text in [
        "[".repeat(500_000),
        format!("{{\"a\":{}1{}}}", "[".repeat(100), "]".repeat(100)),
        "9".repeat(1 << 20),
    ] {
        let id = git_fed(mara, &["hash-object", "-w", "--stdin"], text.as_bytes());
        commit_entries(mara, &[("100644", &id, &path)]);
        judged(mara, 3, "[json-invalid]");
        mara.git(&format!("update-ref refs/heads/main {head}"));
    }
}

#[test]
fn a_judge_that_takes_too_long_says_so() {
    let scene = Scene::unguarded(stages::roster());
    let Scene { place, hub, mara, .. } = &scene;
    place.run("mara", &format!("guard install {} --seconds 1", hub.display())).done();
    // More commits than a second is enough for.
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let mut import = String::new();
    for number in 0..30_000 {
        let from = if number == 0 { format!("from {head}\n") } else { String::new() };
        import.push_str(&format!(
            "commit refs/heads/main\ncommitter x <x@x.invalid> 1800000000 +0000\ndata 1\nx\n{from}M 100644 inline README.md\ndata 6\n{number:05}\n\n"
        ));
    }
    git_fed(mara, &["fast-import", "--quiet", "--force"], import.as_bytes());
    let started = Instant::now();
    let said = scene.refuses(mara, "push origin main", "too-slow");
    assert!(started.elapsed() < Duration::from_secs(30), "{said}");
}

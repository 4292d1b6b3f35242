//! Books that are too much to be judged: by the guard, and by every clone where there is none.

use std::time::{Duration, Instant};

use crate::scene::{Scene, commit_all, commit_tree, git_fed};
use crate::stages::{self, PROJECT};
use crate::workshop::Desk;

/// A refusal within a time that people wait for, with everything as it was.
#[track_caller]
fn soon<T>(what: &str, seconds: u64, deed: impl FnOnce() -> T) -> T {
    let started = Instant::now();
    let done = deed();
    assert!(started.elapsed() < Duration::from_secs(seconds), "{what} took {:?}", started.elapsed());
    done
}

/// HEAD's tree with a folder of 24 to the power of 10 files in it, by a few objects.
fn endless(desk: &Desk) {
    let file = git_fed(desk, &["hash-object", "-w", "--stdin"], b"x");
    let mut below = format!("100644 blob {file}");
    let mut tree = String::new();
    for _ in 0..10 {
        let listing: String = (b'a'..=b'x').map(|c| format!("{below}\t{}\n", c as char)).collect();
        tree = git_fed(desk, &["mktree"], listing.as_bytes());
        below = format!("040000 tree {tree}");
    }
    let mut listing = desk.git("ls-tree HEAD");
    listing.push_str(&format!("040000 tree {tree}\twide\n"));
    let whole = git_fed(desk, &["mktree"], listing.as_bytes());
    commit_tree(desk, &whole);
}

#[test]
fn a_folder_of_a_billion_files_stops_no_clone_for_long() {
    let scene = Scene::unguarded(stages::intake());
    let imke = scene.join("imke");
    imke.run("me imke").done();
    endless(&scene.mara);
    scene.mara.git("push --quiet origin HEAD:refs/heads/main");
    let head = imke.git("rev-parse HEAD");
    let said = ["more than is checked at once"];
    soon("sync", 200, || imke.run("sync")).says(&said);
    assert_eq!(imke.git("rev-parse HEAD"), head);
    // With work of one's own beside it, which has to be merged.
    imke.run("project change quay-desk --note mine").code(0);
    soon("sync", 200, || imke.run("sync")).says(&said);
    imke.run("status quay-desk").code(0);
    // Who comes new takes the good beginning and is told.
    let line = format!("join {} late", scene.hub.display());
    soon("join", 200, || scene.place.run("tom", &line)).says(&said);
}

#[test]
fn thousands_of_files_in_one_folder() {
    let scene = Scene::of(stages::intake());
    let imke = scene.join("imke");
    let mara = &scene.mara;
    let file = git_fed(mara, &["hash-object", "-w", "--stdin"], b"x");
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    // Names that no book has, names of photos, and signatures of nothing: each is asked for in its folder.
    for (folder, name, end) in
        [("odd", "UPPER", ".jpg"), ("swatches", "a", ".jpg"), ("signoffs", &"a".repeat(58), ".sig")]
    {
        let import: String =
            (0..4_000).map(|n| format!("M 100644 {file} {PROJECT}/{folder}/{name}{n:06}{end}\n")).collect();
        let import = format!(
            "commit refs/heads/main\ncommitter x <x@x.invalid> 1800000000 +0000\ndata 4\nmany\nfrom {head}\n{import}\n"
        );
        git_fed(mara, &["fast-import", "--quiet", "--force"], import.as_bytes());
        let said = soon("the guard", 200, || mara.git_tries("push origin main"));
        let said = String::from_utf8_lossy(&said.stderr).into_owned();
        assert!(said.contains("this push is not taken"), "{said}");
        assert!(said.lines().count() < 500, "{} lines", said.lines().count());
        mara.git(&format!(
            "--git-dir {} fetch --quiet {} main:refs/heads/main",
            scene.hub.display(),
            mara.at.display()
        ));
        soon("sync", 200, || imke.run("sync")).says(&["refused"]);
        mara.git(&format!("--git-dir {} update-ref refs/heads/main {head}", scene.hub.display()));
        mara.git(&format!("update-ref refs/heads/main {head}"));
        imke.git("update-ref refs/remotes/origin/main HEAD");
    }
}

/// An outline with so many round holes.
fn perforated(columns: usize, rows: usize, width: usize) -> String {
    let hole = |at: usize| {
        let (x, y) = (20 + at % columns * 10, 20 + at / columns * 10);
        format!(r#"{{"segments":[{{"kind":"circle","centre_mm":[{x},{y}],"radius_mm":3}}]}}"#)
    };
    let holes: Vec<String> = (0..columns * rows).map(hole).collect();
    let height = 40 + rows * 10;
    format!(
        "{{\"outer\":{{\"start_mm\":[0,0],\"segments\":[{{\"kind\":\"line\",\"to_mm\":[{width},0]}},\
         {{\"kind\":\"line\",\"to_mm\":[{width},{height}]}},{{\"kind\":\"line\",\"to_mm\":[0,{height}]}},\
         {{\"kind\":\"line\",\"to_mm\":[0,0]}}]}},\n\"cutouts\":[\n{}\n]}}\n",
        holes.join(",\n")
    )
}

#[test]
fn panels_with_thousands_of_holes_are_measured_once() {
    let scene = Scene::of(stages::intake());
    let imke = scene.join("imke");
    let mara = &scene.mara;
    let panel = mara.text(&format!("{PROJECT}/panels/front.json"));
    let panel: serde_json::Value = serde_json::from_str(&panel).unwrap();
    for nth in 0..3 {
        let outline = perforated(100, 40, 1040 + nth);
        let mut record = panel.clone();
        record["id"] = format!("side-{nth}").into();
        record["outline"] = serde_json::json!({
            "file": format!("side-{nth}.outline.json"),
            "sha256": underlit::digest::Sha256Digest::of(outline.as_bytes()),
        });
        mara.write(&format!("{PROJECT}/panels/side-{nth}.outline.json"), outline);
        mara.write(&format!("{PROJECT}/panels/side-{nth}.json"), format!("{record:#}\n"));
    }
    commit_all(mara, "perforated");
    // A debug build on a busy machine; see DEVELOPERS.md for what a release build takes.
    soon("the guard", 200, || scene.takes_head(mara));
    soon("sync", 200, || imke.run("sync").code(0));
    soon("check", 200, || imke.run("check").code(0));
}

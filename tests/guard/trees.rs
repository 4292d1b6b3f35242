//! Files that harm a clone, most of which `git fsck --strict` lets pass: each in a commit of its own, on the way to a
//! last commit that is clean again, so that it is the history that is judged and not only its end.

use crate::scene::{Scene, blob, commit_all, commit_entries, commit_tree, git_fed};
use crate::stages::{self, PROJECT};

#[test]
fn names_and_kinds_that_no_book_may_have() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, hub, .. } = &scene;
    // Git's own check of objects sees the last of them; here the guard has to.
    mara.git(&format!("-C {} config receive.fsckObjects false", hub.display()));
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let text = blob(mara, b"{}\n");
    let target = blob(mara, b"../../../etc/passwd");
    let plain = "100644";
    let p = |name: &str| format!("{PROJECT}/{name}");
    let cases: Vec<(&str, &str, String, &str)> = vec![
        ("120000", &target, p("panels/link.json"), "symbolic link"),
        ("160000", &head, p("panels/module"), "repository of its own"),
        ("100755", &text, p("panels/program.json"), "marked as a program"),
        (plain, &text, "projects/Quay-Desk/project.json".into(), "the same name as"),
        (plain, &text, p("panels/FRONT.json"), "the same name as"),
        (plain, &text, "Book.json".into(), "the same name as"),
        (plain, &text, p("panels/con.json"), "a device on some systems"),
        (plain, &text, p("panels/lpt1.photo.jpg"), "a device on some systems"),
        (plain, &text, p(r"panels/..\x.json"), "reaches out of its folder"),
        (plain, &text, p("panels/a:b.json"), "letter in its name"),
        (plain, &text, p("panels/trailing. "), "ends in a dot"),
        (plain, &text, p("panels/fro\u{200b}nt-2.json"), "cannot be seen"),
        (plain, &text, p("panels/new\nline.json"), "letter in its name"),
        (plain, &text, format!("{PROJECT}/{}.json", "a".repeat(200)), "longer than"),
        (plain, &text, p("git~1/config"), "reaches out of its folder"),
    ];
    for (mode, id, path, words) in &cases {
        commit_entries(mara, &[(mode, id, path)]);
        // Taken out again: the history has it all the same.
        commit_tree(mara, &format!("{head}^{{tree}}"));
        let said = scene.refuses_head(mara, "unsafe-path");
        let flat = said.replace("remote:", " ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words), "{path:?}: {flat}");
        assert!(!said.contains("\u{200b}n") || said.contains("cannot be seen"), "{said}");
        mara.git(&format!("update-ref refs/heads/main {head}"));
    }
}

#[test]
fn twins_by_letter_composition() {
    let scene = Scene::of(stages::intake());
    let mara = &scene.mara;
    let text = blob(mara, b"x\n");
    let (one, two) = (format!("{PROJECT}/panels/caf\u{e9}.txt"), format!("{PROJECT}/panels/cafe\u{301}.txt"));
    commit_entries(mara, &[("100644", &text, &one), ("100644", &text, &two)]);
    let said = scene.refuses_head(mara, "unsafe-path");
    assert!(said.contains("the same name as"), "{said}");
}

#[test]
fn trees_that_no_git_writes() {
    let scene = Scene::unguarded(stages::intake());
    let Scene { mara, hub, .. } = &scene;
    scene.guard();
    // Without git's own check of objects, the guard has to see them.
    mara.git(&format!("-C {} config receive.fsckObjects false", hub.display()));
    let id = blob(mara, b"{}\n");
    let raw: Vec<u8> = (0..20).map(|at| u8::from_str_radix(&id[2 * at..2 * at + 2], 16).unwrap()).collect();
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let entry = |mode: &str, name: &[u8]| [mode.as_bytes(), b" ", name, b"\0", raw.as_slice()].concat();
    for (content, words) in [
        (
            [entry("100644", b"book.json"), entry("100644", b"book.json")].concat(),
            "out of order or stand twice",
        ),
        (
            [entry("100644", b"rules.json"), entry("100644", b"book.json")].concat(),
            "out of order or stand twice",
        ),
        (entry("100644", b"caf\xe9.json"), "not Unicode text"),
        (entry("100664", b"book.json"), "a mode that git itself does not write"),
        (entry("100644", b".git"), "reaches out of its folder"),
        (entry("100644", b".."), "reaches out of its folder"),
    ] {
        let tree = git_fed(mara, &["hash-object", "-t", "tree", "-w", "--literally", "--stdin"], &content);
        commit_tree(mara, &tree);
        let said = scene.refuses_head(mara, "unsafe-path");
        let flat = said.replace("remote:", " ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words), "{words}: {flat}");
        mara.git(&format!("update-ref refs/heads/main {head}"));
    }
}

#[test]
fn records_that_do_not_pass_count_at_the_end_only() {
    let scene = Scene::of(stages::intake());
    let mara = &scene.mara;
    let panel = format!("{PROJECT}/panels/front.json");
    let good = mara.text(&panel);
    let at = |text: &str, code: &str, words: &str| {
        mara.write(&panel, text);
        commit_all(mara, "by hand");
        let said = scene.refuses_head(mara, code);
        assert!(said.contains(words), "{words}: {said}");
    };
    at("{\"id\": 1", "json-invalid", "panels/front.json");
    at(&good.replacen("\"id\"", "\"id\": \"front\",\n  \"id\"", 1), "json-invalid", "written twice");
    at(&good.replacen("{", "{\n  \"colour\": 1e400,", 1), "json-invalid", "line 2");
    at(&format!("\u{feff}{good}"), "json-invalid", "byte-order mark");
    // What a terminal would obey is shown and not obeyed.
    at(&good.replacen('{', "{\n  \"\\u001b[2J\": 1,", 1), "schema", "\u{fffd}[2J");
    at(&good.replace("\"front\"", "\"back\""), "id-not-name", "the id does not match");
    at(&format!("<<<<<<< HEAD\n{good}=======\n{good}>>>>>>> theirs\n"), "conflict-marker", "line 1");
    mara.write(&panel, &good);
    mara.write(&format!("{PROJECT}/stray.exe"), "MZ");
    commit_all(mara, "stray");
    scene.refuses_head(mara, "not-of-a-book");
    mara.git("rm --quiet projects/quay-desk/stray.exe");
    mara.write(".gitattributes", "* text=auto\n");
    commit_all(mara, "line ends");
    scene.refuses_head(mara, "bytes-changed");
    // A later commit fixes what a later commit can fix, and then everything goes in.
    mara.write(".gitattributes", "* -text\n*.json merge=underlit\n");
    commit_all(mara, "fixed");
    scene.takes_head(mara);
}

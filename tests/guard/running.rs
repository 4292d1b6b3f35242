//! Nothing that is pushed runs on somebody's machine, and nothing that is printed deceives: each attack by stock git.

use std::fs;

use crate::scene::{Scene, blob, commit_all, commit_entries, commit_tree, git_fed};
use crate::stages::{self, PROJECT};

/// What the guard said, without its line ends.
fn flat(said: &str) -> String {
    said.replace("remote:", " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A program that leaves a trace where it runs.
fn fsmonitor(trace: &std::path::Path) -> String {
    format!(
        "[core]\n\trepositoryformatversion = 0\n\tbare = false\n\tworktree = ..\n\tfsmonitor = \"touch {} #\"\n",
        trace.display()
    )
}

#[test]
fn a_repository_inside_the_book_that_would_run_programs() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, place, .. } = &scene;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let trace = place.path("ran");
    let config = blob(mara, fsmonitor(&trace).as_bytes());
    let (names, empty) = (blob(mara, b"ref: refs/heads/main\n"), blob(mara, b""));
    let plain = "100644";
    for folder in [".ci/x", ".github", "projects/quay-desk/handover", "deep/er"] {
        for name in ["HEAD", "head", "Head"] {
            let entries: Vec<(&str, &str, String)> = vec![
                (plain, &names, format!("{folder}/{name}")),
                (plain, &config, format!("{folder}/config")),
                (plain, &empty, format!("{folder}/objects/keep")),
                (plain, &empty, format!("{folder}/refs/keep")),
            ];
            let entries: Vec<(&str, &str, &str)> =
                entries.iter().map(|(mode, id, path)| (*mode, *id, path.as_str())).collect();
            commit_entries(mara, &entries);
            // Taken out again: whoever checks out the commit between would run it all the same.
            commit_tree(mara, &format!("{head}^{{tree}}"));
            let said = scene.refuses_head(mara, "unsafe-path");
            assert!(flat(&said).contains("which runs programs"), "{said}");
            mara.git(&format!("update-ref refs/heads/main {head}"));
        }
    }
    // The same tree laid out by stock git does run: the attack is one.
    let folder = place.path("proof/.ci/x");
    fs::create_dir_all(folder.join("objects")).unwrap();
    fs::create_dir_all(folder.join("refs")).unwrap();
    fs::write(folder.join("HEAD"), "ref: refs/heads/main\n").unwrap();
    fs::write(folder.join("config"), fsmonitor(&trace)).unwrap();
    crate::workshop::Desk::new(folder, "mara").git_tries("status");
    assert!(trace.exists(), "git ran what the settings name");
}

#[test]
fn every_spelling_of_gits_own_folder() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, hub, .. } = &scene;
    mara.git(&format!("-C {} config receive.fsckObjects false", hub.display()));
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let raw: Vec<u8> = {
        let id = blob(mara, b"x\n");
        (0..20).map(|at| u8::from_str_radix(&id[2 * at..2 * at + 2], 16).unwrap()).collect()
    };
    let tree = |name: &[u8], mode: &str, raw: &[u8]| {
        let entry = [mode.as_bytes(), b" ", name, b"\0", raw].concat();
        git_fed(mara, &["hash-object", "-t", "tree", "-w", "--literally", "--stdin"], &entry)
    };
    for name in [
        ".git",
        ".GIT",
        ".Git ",
        ".git.",
        ".git . ",
        ".git::$INDEX_ALLOCATION",
        "git~1",
        "GIT~1",
        ".g\u{200c}it",
        "\u{feff}.git",
        ".gi\u{206a}t",
        ".\u{ff47}it",
    ] {
        let inner = tree(b"config", "100644", &raw);
        let inner: Vec<u8> =
            (0..20).map(|at| u8::from_str_radix(&inner[2 * at..2 * at + 2], 16).unwrap()).collect();
        let outer = tree(name.as_bytes(), "40000", &inner);
        commit_tree(mara, &outer);
        let said = scene.refuses_head(mara, "unsafe-path");
        assert!(flat(&said).contains("reaches out of its folder"), "{name:?}: {said}");
        mara.git(&format!("update-ref refs/heads/main {head}"));
    }
}

#[test]
fn files_for_the_host_only_as_the_owners_sealed_them() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, .. } = &scene;
    let tom = scene.join("tom");
    let workflow = ".github/workflows/check.yml";
    let text = "on: push\njobs: {}\n";
    tom.write(workflow, text);
    commit_all(&tom, "a workflow");
    let said = scene.refuses_head(&tom, "host-file");
    assert!(said.contains("host_files"), "{said}");
    tom.run("check").fails(5, "host-file");
    tom.git("reset --quiet --hard origin/main");
    // An owner names it with its digest, and then anybody may bring it.
    let digest = underlit::digest::Sha256Digest::of(text.as_bytes());
    let named = format!(
        "\"host_files\": [{{ \"file\": \"{workflow}\", \"sha256\": \"{digest}\" }}],\n  \"tried_within_k\""
    );
    mara.edit("rules.json", "\"tried_within_k\"", &named);
    mara.run(r#"roster seal --reason "a workflow""#).done();
    mara.run("sync").done();
    tom.run("sync").done();
    tom.write(workflow, text);
    tom.run("sync").done();
    tom.run("check").done();
    // Another text under the same name is another program.
    tom.write(workflow, "on: push\njobs: { evil: {} }\n");
    tom.run("sync").fails(5, "host-file");
    commit_all(&tom, "another workflow");
    scene.refuses_head(&tom, "host-file");
    tom.git("reset --quiet --hard HEAD~1");
    // What no host reads has no place in its folders: attributes, modules, programs' repositories.
    for path in [".github/.gitattributes", ".github/.gitmodules", ".ci/a/b/c/d", ".gitmodules", ".mailmap"] {
        tom.write(path, "# nothing\n");
        commit_all(&tom, "more");
        scene.refuses_head(&tom, "not-of-a-book");
        tom.git("reset --quiet --hard HEAD~1");
    }
}

#[test]
fn lists_and_schemas_that_hide_or_promise_otherwise() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, .. } = &scene;
    let imke = scene.join("imke");
    for (path, text, code) in [
        (".gitignore", "projects/*/signoffs/\n", "hides-records"),
        (".gitignore", "# fine\n*.json\n", "hides-records"),
        (".gitattributes", "* -text\nprojects/** filter=x\n", "bytes-changed"),
        ("schema/panel.schema.json", "{ \"$ref\": \"https://schemas.example/x.json\" }\n", "schema-differs"),
        ("projects/quay-desk/.gitattributes", "* text\n", "not-of-a-book"),
        ("projects/quay-desk/.gitignore", "*\n", "not-of-a-book"),
    ] {
        mara.write(path, text);
        commit_all(mara, "by hand");
        scene.refuses_head(mara, code);
        mara.run("check").says(&[&format!("[{code}]")]);
        mara.git("reset --quiet --hard HEAD~1");
    }
    // Without the guard every clone says the same of what comes in.
    let bare = Scene::unguarded(stages::intake());
    let other = bare.join("imke");
    for (path, text, code) in [
        (".gitignore", "moves/\n", "hides-records"),
        ("schema/panel.schema.json", "{}\n", "schema-differs"),
        (".ci/run", "#!/bin/sh\n", "host-file"),
        (".ci/HEAD", "ref: refs/heads/main\n", "unsafe-path"),
    ] {
        bare.mara.write(path, text);
        commit_all(&bare.mara, "by hand");
        bare.mara.git("push --quiet --force origin HEAD:main");
        let head = other.git("rev-parse HEAD");
        other.run("sync").says(&[&format!("[{code}]"), "[incoming-refused]"]);
        assert_eq!(other.git("rev-parse HEAD"), head);
        bare.mara.git("reset --quiet --hard HEAD~1");
        bare.mara.git("push --quiet --force origin HEAD:main");
    }
    // What hides nothing of a book may stand there.
    imke.write(".gitignore", "/build/\n*.log\n.DS_Store\n");
    imke.run("sync").done();
}

#[test]
fn tags_that_could_be_taken_for_a_commit() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, place, .. } = &scene;
    for tag in ["deadbeef", &"0".repeat(40), "12345678", "main", "head", "refs", "v1-2-gdeadbeef"] {
        mara.git(&format!("tag --force {tag} HEAD"));
        scene.refuses(mara, &format!("push origin refs/tags/{tag}"), "tag-name");
        mara.git(&format!("tag --delete {tag}"));
    }
    mara.git("tag delivered-2027-04 HEAD");
    assert!(mara.git_tries("push origin refs/tags/delivered-2027-04").status.success());
    // Where no guard stood, tags lie there all the same: no clone takes them, and none is believed.
    let good = mara.git("rev-parse HEAD").trim().to_owned();
    let first = mara.git("rev-list --max-parents=0 HEAD").trim().to_owned();
    let short = &good[..10];
    for tag in [short, "main"] {
        mara.git(&format!("tag --force {tag} {first}"));
    }
    let fingerprint = underlit::digest::Sha256Digest::of(&mara.bytes("roster/0001.json"));
    for name in [short, "main", &good] {
        let ran = mara.run(&format!("verify --at {name} --fingerprint {fingerprint} --json"));
        assert!(ran.stdout.contains(&good), "{name}: {}", ran.stdout);
        mara.run(&format!("guard range {name} {good}")).done();
    }
    // A tag is named in full or not at all.
    mara.run(&format!("verify --at delivered-2027-04 --fingerprint {fingerprint}"))
        .fails(6, "git-no-such-commit");
    mara.run(&format!("verify --at refs/tags/delivered-2027-04 --fingerprint {fingerprint}")).done();
    let bare = place.path("tags.git");
    mara.git(&format!("clone --quiet --bare . {}", bare.display()));
    let key = crate::workshop::private_key("tom");
    place.run("tom", &format!("join {} tags --me tom --key {key}", bare.display())).done();
    let tom = crate::workshop::Desk::new(place.path("tags"), "tom");
    tom.run("sync").done();
    assert_eq!(tom.git("tag --list"), "");
}

#[test]
fn history_made_to_look_otherwise() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, hub, .. } = &scene;
    let (head, first) = (
        mara.git("rev-parse HEAD").trim().to_owned(),
        mara.git("rev-list --max-parents=0 HEAD").trim().to_owned(),
    );
    mara.git(&format!("replace {head} {first}"));
    for line in ["verify", "sync", "guard range HEAD HEAD"] {
        mara.run(line).fails(6, "git-altered-history").says(&["git replace -d"]);
    }
    scene.refuses(mara, "push origin refs/replace/*:refs/replace/*", "another-name");
    mara.git(&format!("replace -d {head}"));
    mara.write(".git/info/grafts", format!("{head}\n"));
    for line in ["verify", "sync"] {
        mara.run(line).fails(6, "git-altered-history").says(&["info/grafts"]);
    }
    fs::remove_file(mara.path(".git/info/grafts")).unwrap();
    mara.run("verify").done();
    // In the shared repository itself, nothing more is taken until its keeper has put it right.
    fs::write(hub.join("info/grafts"), format!("{head}\n")).unwrap();
    mara.write(&format!("{PROJECT}/x"), "");
    commit_all(mara, "more");
    let pushed = mara.git_tries("push origin HEAD:main");
    let said = String::from_utf8_lossy(&pushed.stderr).into_owned();
    assert!(!pushed.status.success() && said.contains("[git-altered-history]"), "{said}");
}

#[test]
fn a_question_that_would_write_what_runs() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, .. } = &scene;
    let panel = format!("{PROJECT}/panels/front.json");
    let question = |about: &str, pointer: &str| {
        let side = |value: &str| serde_json::json!({ "value": value, "by": "Tom Reed" });
        let record = serde_json::json!({
            "$schema": "../../../schema/conflict.schema.json",
            "path": about,
            "pointer": pointer,
            "sides": [side("[core]\n\tfsmonitor = touch /tmp/ran #\n"), side("b")],
        });
        format!("{record:#}\n")
    };
    let record = format!("{PROJECT}/conflicts/q.json");
    for about in [
        ".git/config",
        ".GIT/config",
        "git~1/config",
        ".git/hooks/post-checkout",
        ".gitattributes",
        ".github/workflows/x.yml",
        ".gitignore",
        "projects/other-desk/panels/front.json",
        "projects/quay-desk/../../.git/config",
        "rules.json",
    ] {
        mara.write(&record, question(about, ""));
        commit_all(mara, "a question");
        let said = scene.refuses_head(mara, if about.contains("..") { "schema" } else { "question-unsafe" });
        assert!(said.contains("conflicts/q.json"), "{said}");
        let code = if about.contains("..") { "[schema]" } else { "[question-unsafe]" };
        mara.run("check").code(3).says(&[code, &record]);
        let config = mara.text(".git/config");
        for answer in ["--take 1", "--take ours", "--take base", "--value x"] {
            let ran = mara.run(&format!("resolve quay-desk q {answer}"));
            assert_ne!(ran.code, 0, "{ran:?}");
        }
        assert_eq!(mara.text(".git/config"), config);
        mara.git("reset --quiet --hard HEAD~1");
    }
    // One of the shop that is about what git obeys.
    mara.write("conflicts/q.json", question(".gitattributes", "").replace("../../../", "../"));
    commit_all(mara, "a question");
    scene.refuses_head(mara, "question-unsafe");
    mara.git("reset --quiet --hard HEAD~1");
    // What it keeps of files lies beside it under its digest's name, and nowhere else.
    let kept = serde_json::json!({
        "$schema": "../../../schema/conflict.schema.json", "path": panel, "pointer": "",
        "sides": [
            { "file": "projects/other-desk/panels/front.json", "sha256": "0".repeat(64) },
            { "value": 1 },
        ],
    });
    mara.write(&record, format!("{kept:#}\n"));
    commit_all(mara, "a question");
    scene.refuses_head(mara, "question-unsafe");
    mara.git("reset --quiet --hard HEAD~1");
    // Without a guard, each clone says so of what comes in, and keeps its state.
    let bare = Scene::unguarded(stages::intake());
    let tom = bare.join("tom");
    bare.mara.write(&record, question(".git/config", ""));
    commit_all(&bare.mara, "a question");
    bare.mara.git("push --quiet origin HEAD:main");
    let head = tom.git("rev-parse HEAD");
    tom.run("sync").code(5).says(&["[question-unsafe]"]);
    assert_eq!(tom.git("rev-parse HEAD"), head);
    // Pulled by stock git, it is still read by nobody as a question.
    tom.git("pull --quiet origin main");
    tom.run("check").code(3).says(&["[question-unsafe]", "git rm"]);
    let ran = tom.run("resolve quay-desk q --take 1");
    assert!(ran.code != 0 && !tom.text(".git/config").contains("fsmonitor"), "{ran:?}");
}

#[test]
fn a_private_key_in_any_commit_of_a_push() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, .. } = &scene;
    let secret = fs::read_to_string(crate::workshop::private_key("tom")).unwrap();
    for (path, text) in [
        ("README.md", secret.clone()),
        ("projects/quay-desk/handover/key.txt", format!("mine:\n{secret}")),
        ("projects/quay-desk/handover/wide.txt", secret.clone()),
        ("projects/quay-desk/handover/long.jpg", format!("{}{secret}", "x".repeat(3 << 20))),
    ] {
        mara.write(path, text);
        commit_all(mara, "mine");
        mara.git(&format!("rm --quiet --force {path}"));
        commit_all(mara, "taken out again");
        let said = scene.refuses_head(mara, "private-key");
        assert!(said.contains(path), "{said}");
        mara.git("reset --quiet --hard HEAD~2");
    }
}

//! Clones that hold a part of a book, beside clones of the whole: what they answer for their projects is the same, what
//! they do not hold they leave as it is, and what they lack they say.

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

use serde_json::Value;

use crate::dice::{Dice, given};
use crate::stages;
use crate::workshop::{Desk, Place, Ran, private_key, public_key, underlit, words};

/// A shared repository of a book with four projects, and a clone of the whole.
struct Scene {
    place: Place,
    hub: PathBuf,
    whole: Desk,
}

/// The projects beside `quay-desk`.
const OTHERS: [&str; 3] = ["quay-bar", "pier-desk", "pier-bar"];

impl Scene {
    fn new() -> Scene {
        let place = Place::new();
        let whole = place.copy_as(stages::intake(), "whole", "mara");
        for name in OTHERS {
            let line = format!(r#"open {name} --title "{name}" --client imke --engineer tom --site Quay"#);
            whole.run(&line).done();
            whole.run(&format!(r#"swatch add {name} alba --stone "White alabaster" --material alabaster --tone white --texture cloudy --thickness 20mm --slab-thickness 20mm"#)).done();
        }
        let hub = place.path("hub.git");
        whole.git(&format!("init --quiet --bare -b main {}", hub.display()));
        whole.git(&format!("-C {} config uploadpack.allowFilter true", hub.display()));
        whole.git(&format!("remote add origin {}", hub.display()));
        whole.run("sync").done();
        Scene { place, hub, whole }
    }

    fn join(&self, name: &str, person: &'static str, how: &str) -> Desk {
        let key = private_key(person);
        let line = format!("join {} {name} --me {person} --key {key} {how}", self.hub.display());
        self.place.run(person, &line).done();
        Desk::new(self.place.path(name), person)
    }
}

/// The projects that lie in a clone's folder.
pub(crate) fn lying(desk: &Desk) -> Vec<String> {
    desk.names("projects", "")
}

/// How many objects a clone lacks of its history.
pub(crate) fn lacking(desk: &Desk) -> usize {
    let all = desk.git("rev-list --objects --all --missing=print");
    all.lines().filter(|line| line.starts_with('?')).count()
}

/// Of some project, the answer of a verb.
pub(crate) fn answer(desk: &Desk, line: &str, project: &str) -> Value {
    let mut answer = desk.run(&format!("{line} --json")).json();
    let of_project = |rows: &Value| {
        let mine = |row: &&Value| row["id"] == project;
        rows.as_array().and_then(|rows| rows.iter().find(mine)).cloned().unwrap_or_default()
    };
    if answer["projects"].is_array() {
        return of_project(&answer["projects"]);
    }
    for beside in ["part", "history_from"] {
        answer.as_object_mut().map(|answer| answer.remove(beside));
    }
    answer
}

/// A clone of a part answers for a project as a clone of the whole does, at the same commit.
#[track_caller]
pub(crate) fn held_as_the_whole(part: &Desk, whole: &Desk, project: &str) {
    let lines = ["board".to_owned(), "verify".to_owned()].into_iter().chain(
        ["status", "verify", "show", "dates", "changes", "history", "check"]
            .map(|verb| format!("{verb} {project}")),
    );
    for line in lines {
        assert_eq!(answer(part, &line, project), answer(whole, &line, project), "{line}");
    }
    assert_eq!(part.git("status --porcelain"), "");
    let read = |desk: &Desk| {
        desk.git(&format!("ls-tree -r HEAD projects/{project} roster shop rules.json book.json"))
    };
    assert_eq!(read(part), read(whole));
    for line in read(part).lines() {
        let file = line.split('\t').nth(1).unwrap();
        assert_eq!(part.bytes(file), whole.bytes(file), "{file}");
    }
}

#[test]
fn a_part_holds_its_projects_and_says_what_it_does_not_hold() {
    let scene = Scene::new();
    let part = scene.join("part", "tom", "--project quay-*");
    assert_eq!(lying(&part), ["quay-bar", "quay-desk"]);
    assert!(lacking(&part) > 0);
    part.sound_for_git();
    let told = "this clone holds 2 of 4 projects";
    for line in ["board", "status quay-desk", "verify", "next", "part", "doctor", "pages ../site"] {
        let ran = part.run(line);
        assert!(ran.code < 2, "{ran:?}");
        ran.says(&[told]);
        let other = scene.whole.run(line);
        assert!(other.code < 2, "{other:?}");
        other.never_says(&["this clone holds 2"]);
    }
    let held = &part.run("board --json").done().json()["part"];
    assert_eq!((held["held_count"].as_u64(), held["project_count"].as_u64()), (Some(2), Some(4)));
    assert!(scene.whole.run("board --json").done().json()["part"].is_null());
    for project in ["quay-desk", "quay-bar"] {
        held_as_the_whole(&part, &scene.whole, project);
    }
    for line in
        ["status pier-bar", "check pier-bar", "verify pier-bar", "swatch change pier-bar alba --lot 7"]
    {
        part.run(line).fails(2, "not-in-this-part").says(&["underlit part --project pier-bar"]);
    }
    part.run("status pier-bay").fails(2, "unknown-project");
    let open = |name: &str| {
        format!(
            "open {name} --title Bar --client imke --engineer tom --site Quay --me mara --key {}",
            private_key("mara")
        )
    };
    part.run(&open("pier-bar")).fails(2, "already-there").says(&["does not hold"]);
    // What is opened here is held from then on.
    part.run(&open("quay-lamp")).done();
    part.run("sync").done();
    assert_eq!(lying(&part), ["quay-bar", "quay-desk", "quay-lamp"]);
    part.run("part").done().says(&["holds 3 of 5 projects"]);
    part.sound_for_git();
    scene.whole.run("sync").done();
    held_as_the_whole(&part, &scene.whole, "quay-lamp");
    // Nothing that a verb looked at was fetched beside the part.
    assert!(lacking(&part) > 0);
}

#[test]
fn a_part_grows_and_shrinks_and_loses_nothing() {
    let scene = Scene::new();
    let part = scene.join("part", "tom", "--project quay-desk");
    let before = part.git("rev-parse HEAD");
    part.run("part --project nothing-*").fails(2, "unknown-project");
    part.run("part --project quay-bar --dry-run").done();
    assert_eq!(lying(&part), ["quay-desk"]);
    part.run("part --project quay-bar --project pier-*")
        .done()
        .says(&["came in: pier-bar, pier-desk, quay-bar"]);
    assert_eq!(lying(&part).len(), 4);
    held_as_the_whole(&part, &scene.whole, "pier-bar");
    part.run("part --drop pier-*").done().says(&["went out: pier-bar, pier-desk", "holds 2 of 4"]);
    assert_eq!(lying(&part), ["quay-bar", "quay-desk"]);
    // What nobody else has does not go.
    part.edit("projects/quay-bar/project.json", "\"quay-bar\",\n  \"people", "\"Bar\",\n  \"people");
    for commit in [false, true] {
        if commit {
            part.run("swatch change quay-bar alba --lot B-17 --me mara").code(0);
        }
        part.unchanged(|part| part.run("part --drop quay-bar").fails(2, "part-unsent"));
    }
    part.run("sync").done();
    part.write("projects/quay-bar/.gitignore", "*.tmp\n");
    part.unchanged(|part| part.run("part --drop quay-bar").fails(2, "part-unsent"));
    fs::remove_file(part.path("projects/quay-bar/.gitignore")).unwrap();
    part.run("part --drop quay-bar").done();
    assert_eq!(lying(&part), ["quay-desk"]);
    assert_ne!(part.git("rev-parse HEAD"), before);
    // Whole again, and an ordinary clone.
    part.run("part --whole").done().says(&["holds the whole book"]);
    assert_eq!((lying(&part).len(), lacking(&part)), (4, 0));
    scene.whole.run("sync").done();
    part.sound();
    part.run("sync").done();
    held_as_the_whole(&part, &scene.whole, "pier-bar");
    // A whole clone becomes a part where that is asked for.
    scene.whole.run("part --project quay-*").done().says(&["went out: pier-bar, pier-desk"]);
    scene.whole.run("sync").done();
    scene.whole.sound();
}

#[test]
fn a_part_of_ones_own_projects_grows_by_new_ones() {
    let scene = Scene::new();
    let open = |name: &str, fabricator: &str| {
        let line = format!("open {name} --title Lamp --client imke --engineer tom --site Quay {fabricator}");
        scene.whole.run(&line).done();
    };
    scene
        .whole
        .run(&format!("roster add jonas --name Jonas --role fabricator --public-key {}", public_key("jonas")))
        .done();
    open("lamp-1", "--fabricator jonas");
    open("lamp-2", "");
    scene.whole.run("sync").done();
    scene.place.run("tom", &format!("join {} nobody --mine", scene.hub.display())).fails(2, "who-are-you");
    let part = scene.join("part", "jonas", "--mine");
    assert_eq!(lying(&part), ["lamp-1"]);
    open("lamp-3", "");
    open("lamp-4", "--fabricator jonas");
    scene.whole.run("project change lamp-2 --fabricator jonas").done();
    scene.whole.run("sync").done();
    part.run("sync").done().says(&["now in this clone, since they name you: lamp-2, lamp-4"]);
    assert_eq!(lying(&part), ["lamp-1", "lamp-2", "lamp-4"]);
    part.run("sync").done().says(&["nothing new"]);
    for project in lying(&part) {
        held_as_the_whole(&part, &scene.whole, &project);
    }
}

#[test]
fn whatever_happens_outside_a_part_stays_as_it_is_there() {
    let scene = Scene::new();
    let part = scene.join("part", "mara", "--project quay-*");
    let other = scene.join("other", "mara", "");
    let seed = given("UNDERLIT_PART_SEED", 7);
    let mut dice = Dice(seed);
    let mut made = 0;
    for round in 0..given("UNDERLIT_PART_ROUNDS", 14) {
        let about = format!("seed {seed}, round {round}");
        for (desk, projects) in [
            (&part, &["quay-desk", "quay-bar"][..]),
            (&scene.whole, &["quay-desk", "quay-bar", "pier-desk", "pier-bar"][..]),
            (&other, &["pier-desk", "pier-bar", "quay-bar"][..]),
        ] {
            let project = dice.one(projects);
            let line = match dice.below(5) {
                0 => format!("project change {project} --title T{}", dice.below(99)),
                1 => format!("swatch change {project} alba --lot L{}", dice.below(99)),
                2 => format!("note {project} N{}", dice.below(99)),
                3 if desk.at != part.at => {
                    made += 1;
                    format!("open made-{made} --title New --client imke --engineer tom --site Quay")
                }
                _ => "board".to_owned(),
            };
            let ran = desk.run(&line);
            assert!([0, 2].contains(&ran.code), "{about}: {line}: {ran:?}");
        }
        // Whoever is second merges; twice round, so that everybody has everything.
        let mut order = [&part, &scene.whole, &other];
        order.swap(0, dice.below(3));
        for desk in order.iter().chain(&order) {
            let outside = |desk: &Desk| desk.git("ls-tree -r HEAD projects/pier-desk projects/pier-bar");
            let ran = desk.run("sync");
            assert!([0, 4].contains(&ran.code), "{about}: {ran:?}");
            if desk.at == part.at {
                // Of what was not changed here, the remote's is taken as it is.
                let theirs = scene.whole.git_tries(&format!(
                    "-C {} ls-tree -r main projects/pier-desk projects/pier-bar",
                    scene.hub.display()
                ));
                assert_eq!(outside(&part), String::from_utf8_lossy(&theirs.stdout), "{about}");
            }
        }
        let heads: BTreeSet<String> = order.iter().map(|desk| desk.git("rev-parse HEAD")).collect();
        assert_eq!(heads.len(), 1, "{about}");
        for project in ["quay-desk", "quay-bar"] {
            held_as_the_whole(&part, &scene.whole, project);
            let open = part.names(&format!("projects/{project}/conflicts"), ".json");
            if let Some(question) = open.first() {
                let question = question.trim_end_matches(".json");
                part.run(&format!("resolve {project} {question} --take 1")).code(0);
            }
        }
    }
    assert_eq!(lying(&part), ["quay-bar", "quay-desk"]);
    assert!(lacking(&part) > 0);
    part.sound_for_git();
}

#[test]
fn a_question_that_others_open_outside_a_part_is_theirs() {
    let scene = Scene::new();
    let part = scene.join("part", "tom", "--project quay-desk");
    let other = scene.join("other", "mara", "");
    scene.whole.run("project change pier-bar --title One").done();
    other.run("project change pier-bar --title Two").done();
    scene.whole.run("sync").done();
    other.run("sync").code(4);
    part.run("note quay-desk seen").done();
    part.run("sync").done();
    scene.whole.run("sync").code(4);
    assert_eq!(part.git("rev-parse HEAD"), scene.whole.git("rev-parse HEAD"));
    part.run("sync").done().says(&["nothing new"]);
    held_as_the_whole(&part, &scene.whole, "quay-desk");
}

#[test]
fn what_was_changed_past_the_program_outside_a_part_is_not_sent() {
    let scene = Scene::new();
    let part = scene.join("part", "tom", "--project quay-desk");
    let blob = part.git("hash-object -w book.json");
    part.git(&format!(
        "update-index --add --cacheinfo 100644,{},projects/pier-bar/strange.json",
        blob.trim()
    ));
    part.git("commit --quiet -m strange");
    part.run("sync")
        .fails(5, "part-outside")
        .says(&["projects/pier-bar", "underlit part --project pier-bar"]);
    // What came by the remote is the remote's; what is bad outside keeps nobody here from working.
    part.git("reset --quiet --hard origin/main");
    scene.whole.write("projects/pier-bar/project.json", "{");
    scene.whole.git("commit --quiet -am broken");
    scene.whole.git("push --quiet origin HEAD:main");
    part.run("note quay-desk seen").done();
    part.run("sync").done();
    part.run("verify").code(0).says(&["were not checked here"]);
    part.unchanged(|part| {
        part.run("part --project pier-bar").fails(5, "part-refused").says(&["pier-bar/project.json"])
    });
    assert_eq!(lying(&part), ["quay-desk"]);
    part.run("sync --drop-refused").fails(2, "part-only");
}

#[test]
fn what_another_hand_made_of_a_part_is_put_right() {
    let scene = Scene::new();
    let part = scene.join("part", "tom", "--project quay-desk");
    // Git's own sparse checkout took something in.
    part.git("sparse-checkout add projects/pier-bar");
    part.run("note quay-desk seen").fails(6, "git-sparse").says(&["underlit part"]);
    part.run("part").done().says(&["came in: pier-bar"]);
    part.run("note quay-desk seen").done();
    part.run("sync").done();
    scene.whole.run("sync").done();
    held_as_the_whole(&part, &scene.whole, "pier-bar");
    // It was switched off, or a folder of a project that is not held was made.
    part.git("sparse-checkout disable");
    part.run("sync").fails(6, "git-sparse");
    part.run("part").done();
    assert_eq!(lying(&part), ["pier-bar", "quay-desk"]);
    part.run("sync").done();
    part.write("projects/quay-bar/project.json", "{}");
    part.run("sync").fails(6, "project-not-held").says(&["underlit part --project quay-bar"]);
    fs::remove_dir_all(part.path("projects/quay-bar")).unwrap();
    part.run("sync").done();
    part.sound_for_git();
    // Git's index was lost: what is not held is not taken for taken out.
    fs::remove_file(part.path(".git/index")).unwrap();
    part.run("note quay-desk again").done();
    part.sound_for_git();
    // Somebody pulls with git itself.
    scene.whole.run("project change quay-desk --title Pulled").done();
    scene.whole.run("project change quay-bar --title Pulled").done();
    scene.whole.run("sync").done();
    part.git("pull --quiet --no-rebase --no-edit");
    part.run("status quay-desk").done().says(&["Pulled"]);
    part.run("watch --once").code(0);
    part.run("sync").done();
    part.sound_for_git();
    // A partial clone that git made by itself: what is missing is fetched, all at once.
    let at = scene.place.path("plain");
    part.git(&format!("clone --quiet --filter=blob:none file://{} {}", scene.hub.display(), at.display()));
    let plain = Desk::new(at, "tom");
    plain.run("me tom").code(0);
    plain.run("verify --cold").code(0);
    plain.run("sync").done();
    assert_eq!(lacking(&plain), 0);
    held_as_the_whole(&plain, &scene.whole, "quay-bar");
}

#[test]
fn a_part_works_without_its_remote() {
    let scene = Scene::new();
    let part = scene.join("part", "mara", "--project quay-desk");
    scene.whole.run("project change pier-bar --title Far").done();
    scene.whole.run("sync").done();
    part.run("sync").done();
    let elsewhere = scene.place.path("elsewhere.git");
    fs::rename(&scene.hub, &elsewhere).unwrap();
    for line in [
        "board",
        "status quay-desk",
        "check",
        "verify",
        "history",
        "show quay-desk",
        "next",
        "changes quay-desk",
        "verify --cold",
    ] {
        let ran = part.run(line);
        assert!(ran.code < 2, "{line}: {ran:?}");
        ran.never_says(&["not found"]);
    }
    part.run("note quay-desk alone").done();
    part.run("sync --offline").done();
    part.run("sync").fails(6, "remote-gone");
    part.unchanged(|part| {
        part.run("part --project pier-bar")
            .fails(6, "not-in-this-clone")
            .says(&["this clone holds a part of the book without", "could not be fetched"])
    });
    fs::rename(&elsewhere, &scene.hub).unwrap();
    part.run("part --project pier-bar").done();
    part.run("sync").done();
    scene.whole.run("sync").done();
    held_as_the_whole(&part, &scene.whole, "pier-bar");
}

#[test]
fn a_part_comes_from_any_kind_of_remote() {
    let scene = Scene::new();
    // One that sends no parts sends everything, and the clone says so.
    scene.whole.git(&format!("-C {} config uploadpack.allowFilter false", scene.hub.display()));
    let line = format!("join {} all --me tom --project quay-desk", scene.hub.display());
    scene.place.run("tom", &line).done().says(&["everything was fetched", "uploadpack.allowFilter true"]);
    let all = Desk::new(scene.place.path("all"), "tom");
    assert_eq!((lying(&all), lacking(&all)), (vec!["quay-desk".to_owned()], 0));
    scene.whole.run("project change pier-bar --title Far").done();
    scene.whole.run("sync").done();
    all.run("sync").done();
    assert_eq!(lacking(&all), 0);
    held_as_the_whole(&all, &scene.whole, "quay-desk");
    // By ssh, here a program in its place that runs the command on this machine; and by a file address.
    scene.whole.git(&format!("-C {} config uploadpack.allowFilter true", scene.hub.display()));
    let ssh = scene.place.file("ssh.sh", "#!/bin/sh\nshift $(($# - 1))\nexec sh -c \"$1\"\n");
    for (name, address) in [
        ("by-ssh", format!("there:{}", scene.hub.display())),
        ("by-file", format!("file://{}", scene.hub.display())),
    ] {
        let run = |desk: &Desk, line: &str| {
            let ssh = format!("sh {ssh}");
            let ssh = [("GIT_SSH_COMMAND", ssh.as_str()), ("GIT_SSH_VARIANT", "ssh")];
            let output = desk.command().envs(ssh).args(words(line)).output();
            Ran::of(line, output.unwrap())
        };
        let outside = Desk::new(scene.place.path(""), "tom");
        run(
            &outside,
            &format!("join {address} {name} --me tom --key {} --project quay-desk", private_key("tom")),
        )
        .done();
        let part = Desk::new(scene.place.path(name), "tom");
        assert!(lacking(&part) > 0);
        run(&part, &format!("note quay-desk {name}")).done();
        run(&part, "sync").done();
        run(&part, "part --project pier-bar").done();
        scene.whole.run("sync").done();
        held_as_the_whole(&part, &scene.whole, "pier-bar");
    }
    // An older form of the exchange gives single files only where it is allowed.
    let old = |name: &str| {
        let line = format!("join {} {name} --me tom --project quay-desk", scene.hub.display());
        let mut command = underlit("tom");
        command.current_dir(scene.place.path("")).args(words(&line));
        for (key, value) in [("COUNT", "1"), ("KEY_0", "protocol.version"), ("VALUE_0", "0")] {
            command.env(format!("GIT_CONFIG_{key}"), value);
        }
        Ran::of(&line, command.output().unwrap())
    };
    old("old").fails(6, "not-in-this-clone").says(&["git config uploadpack.allowAnySHA1InWant true"]);
    assert!(!scene.place.path("old").exists());
    scene.whole.git(&format!("-C {} config uploadpack.allowAnySHA1InWant true", scene.hub.display()));
    old("old").done();
    held_as_the_whole(&Desk::new(scene.place.path("old"), "tom"), &scene.whole, "quay-desk");
}

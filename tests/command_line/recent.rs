//! Clones that hold a part of a book with its history from some day on, beside clones of the whole: what they answer of
//! today is the same, what they do not know of the time before they say, and they can have it later.

use std::fs;
use std::path::PathBuf;

use serde_json::json;

use crate::part::{answer, held_as_the_whole, lacking, lying};
use crate::refused::commit;
use crate::stages;
use crate::workshop::{DAY, Desk, Place, private_key, program, public_key};

/// A day between what was done first and what was done since.
const SINCE: &str = "2026-09-15";

/// A shared repository of a book whose one job was released before [`SINCE`], and of which little was done since.
struct Scene {
    place: Place,
    hub: PathBuf,
    whole: Desk,
}

impl Scene {
    fn new(guarded: bool) -> Scene {
        let place = Place::new();
        let whole = place.copy_as(stages::released(), "whole", "mara");
        let hub = place.path("hub.git");
        whole.git(&format!("init --quiet --bare -b main {}", hub.display()));
        whole.git(&format!("-C {} config uploadpack.allowFilter true", hub.display()));
        whole.git(&format!("remote add origin {}", hub.display()));
        if guarded {
            place.run("mara", &format!("guard install {}", hub.display())).code(0);
        }
        let scene = Scene { place, hub, whole };
        scene.open("pier-bar", DAY);
        scene.open("pier-desk", "2026-09-20");
        scene.whole.on("2026-09-21").run("note quay-desk since").done();
        scene.whole.run("sync").done();
        scene
    }

    fn open(&self, name: &str, day: &'static str) {
        let line = format!(r#"open {name} --title "{name}" --client imke --engineer tom --site Quay"#);
        self.whole.on(day).run(&line).done();
    }

    fn line(&self, name: &str, person: &str, how: &str) -> String {
        let key = private_key(person);
        format!("join {} {name} --me {person} --key {key} {how}", self.hub.display())
    }

    fn join(&self, name: &str, person: &'static str, how: &str) -> Desk {
        self.place.run(person, &self.line(name, person, how)).done();
        Desk::new(self.place.path(name), person).on("2026-09-22")
    }
}

fn is_shallow(desk: &Desk) -> bool {
    desk.path(".git/shallow").exists()
}

#[test]
fn it_answers_of_today_as_the_whole_and_says_what_it_takes_on_the_remotes_word() {
    let scene = Scene::new(true);
    let line = scene.line("part", "tom", &format!("--project quay-* --since {SINCE}"));
    let told = [
        "the history before 2026-09-20 is not here",
        "on the word of the remote's guard",
        "underlit part --past",
    ];
    let joined = scene.place.run("tom", &format!("{line} --json")).done().json();
    assert_eq!(joined["part"], json!({ "held_count": 1, "project_count": 3, "history_from": "2026-09-20" }));
    let part = Desk::new(scene.place.path("part"), "tom").on("2026-09-22");
    assert_eq!((part.commits(), lying(&part)), (2, vec!["quay-desk".to_owned()]));
    for line in ["board", "status quay-desk", "verify", "next", "part", "doctor", "pages ../site"] {
        let ran = part.run(line);
        assert!(ran.code < 2, "{ran:?}");
        ran.says(&told);
        scene.whole.run(line).never_says(&["the history before"]);
    }
    // What stands today is answered as a clone of the whole answers it.
    for verb in
        ["board", "verify", "status quay-desk", "show quay-desk", "dates quay-desk", "check quay-desk"]
    {
        let same = |desk: &Desk| answer(desk, verb, "quay-desk");
        assert_eq!(same(&part), same(&scene.whole.on("2026-09-22")), "{verb}");
    }
    // Which moves it takes on the remote's word, `verify` says; what came since is judged as ever.
    part.run("verify quay-desk").code(1).says(&[
        "older commits are not here",
        "no move could be re-checked; 4 came with the oldest commits",
        "on the word of the remote's guard",
        "under roster version 3; by its signature alone",
    ]);
    let gates = part.run("verify --json").code(1).json()["history"]["asked_moves"].clone();
    assert_eq!((&gates["asked"], &gates["by_signature"]), (&json!(0), &json!(4)));
    let moves = part.names("projects/quay-desk/moves", ".json");
    let unasked = gates["unasked"].as_array().unwrap();
    assert!(unasked.iter().all(|one| one["project"] == "quay-desk"));
    assert_eq!(unasked.len(), moves.len());
    assert_eq!(
        part.run("verify --json").code(1).json()["history"],
        json!({
            "commit_count": 2, "whole": false, "breach_count": 0, "asked_moves": gates,
        }),
        "as remembered"
    );
    // Nobody is named for what lay there when the history begins.
    let digest = moves[0].trim_end_matches(".json");
    part.run(&format!("verify --explain {digest}"))
        .code(0)
        .says(&["it was there when the history here begins", "only its signature speaks for it"])
        .never_says(&["brought it (who"]);
    part.run("history quay-desk").done().says(&["begins on 2026-09-20", "Mara Quill"]).never_says(&[
        "opens Quay desk",
        "Tom Reed",
        "opens pier-desk",
    ]);
    let story = part.run("history --json").done().json();
    assert_eq!(
        (story["chapters"].as_array().unwrap().len(), &story["history_from"]),
        (1, &json!("2026-09-20"))
    );
    assert!(scene.whole.run("history --json").done().json()["history_from"].is_null());
    part.run("undo").fails(2, "nothing-to-undo");
    // Work goes on, both ways; a range that begins here is judged, and one that began before is not.
    let before = part.git("rev-parse HEAD");
    part.run("note quay-desk part").done();
    part.run("undo").fails(2, "cannot-undo");
    part.run("project change quay-desk --title Renamed --me mara").code(0);
    part.run("undo --me mara").done();
    part.run("sync").done();
    part.run(&format!("guard range {} HEAD", before.trim())).code(0);
    part.run(&format!("guard range {} HEAD", "0".repeat(40))).fails(6, "git-shallow");
    scene.whole.run("sync").done();
    scene.whole.on("2026-09-22").run("project change quay-desk --note whole").done();
    scene.whole.run("sync").done();
    part.run("sync").done().says(&["came in: Mara Quill"]);
    part.run("watch --once").code(0);
    part.run("sync").done().says(&["nothing new"]);
    assert_eq!(part.git("rev-parse HEAD"), scene.whole.git("rev-parse HEAD"));
    part.sound();
    // The rest of the history comes in later, and is judged.
    let came = part.run("part --past --json").done().json();
    assert_eq!(came["past_before"], json!("2026-09-20"));
    assert!(!is_shallow(&part) && came["part"]["history_from"].is_null());
    held_as_the_whole(&part, &scene.whole.on("2026-09-22"), "quay-desk");
    part.run("verify").code(0).says(&["4 moves, each re-checked"]).never_says(&["history before"]);
    assert!(part.run("part --past --json").done().json()["past_before"].is_null());
    assert!(lacking(&part) > 0, "the others are still not here");
    part.sound();
}

#[test]
fn who_worked_on_since_before_it_begins_is_merged() {
    for guarded in [true, false] {
        let scene = Scene::new(guarded);
        let early = scene.place.path("early");
        scene.whole.git(&format!("clone --quiet {} {}", scene.hub.display(), early.display()));
        let early = Desk::new(early, "mara");
        early.run(&format!("me mara --key {}", private_key("mara"))).code(0);
        // Offline since long before the day.
        early.git("reset --quiet --hard HEAD~3");
        early.on("2026-09-02").run("project change quay-desk --note early").done();
        let part = scene.join("part", "mara", &format!("--project quay-desk --since {SINCE}"));
        // Both have something of their own when they meet.
        part.run("note quay-desk part").done();
        // The clock of whoever merges may be wrong.
        let day = if guarded { "2026-09-22" } else { DAY };
        early.on(day).run("sync").done().says(&["merged and sent"]);
        part.run("sync").done().says(&["merged and sent", "came in: Mara Quill"]);
        part.sound();
        part.run("history quay-desk").done().says(&["changes the project"]);
        for desk in [&early, &scene.whole] {
            desk.run("sync").done();
            assert_eq!(desk.git("rev-parse HEAD"), part.git("rev-parse HEAD"));
        }
        let told = part.run("board").done().says(&["the history before 2026-09-20"]);
        assert!(told.stderr.is_empty());
        assert_eq!(
            part.text("projects/quay-desk/project.json"),
            scene.whole.text("projects/quay-desk/project.json")
        );
        part.run("sync").done().says(&["nothing new"]);
        part.run("part --past").done().says(&["came in and checked: the history from before 2026-09-20"]);
        held_as_the_whole(&part, &scene.whole.on("2026-09-22"), "quay-desk");
    }
}

#[test]
fn no_more_of_a_long_past_comes_in_than_is_needed() {
    let scene = Scene::new(false);
    let Scene { place, whole, hub } = &scene;
    // 6,000 commits, one a minute from 2026-09-22 on, as of other jobs.
    let head = whole.git("rev-parse HEAD");
    let of = |n: u32| {
        let at = 1_790_035_200 + 60 * n;
        let from = if n == 0 { format!("from {head}") } else { String::new() };
        format!("commit refs/heads/main\ncommitter Tom <tom@example.invalid> {at} +0000\ndata 1\nx\n{from}")
    };
    fs::write(place.path("import"), (0..6_000).map(of).collect::<String>()).unwrap();
    let mut git = program("git", "mara");
    git.current_dir(&whole.at).args(["fast-import", "--quiet"]);
    git.stdin(fs::File::open(place.path("import")).unwrap());
    assert!(git.status().unwrap().success());
    whole.git("reset --quiet --hard");
    whole.on("2026-10-10").run("note quay-desk late").done();
    whole.run("sync").done();
    let early = place.path("early");
    whole.git(&format!("clone --quiet {} {}", hub.display(), early.display()));
    let early = Desk::new(early, "mara");
    early.run(&format!("me mara --key {}", private_key("mara"))).code(0);
    early.git("reset --quiet --hard HEAD~100");
    early.on("2026-09-28").run("note quay-desk early").done();
    let part = scene.join("part", "mara", "--project quay-desk --since 2026-10-01").on("2026-10-11");
    assert_eq!(part.commits(), 1);
    early.on("2026-10-11").run("sync").done().says(&["merged and sent"]);
    part.run("sync").done().says(&["came in: Mara Quill"]);
    let commits = part.commits();
    assert!(is_shallow(&part) && (102..1_000).contains(&commits), "{commits}");
    for _ in 0..2 {
        part.run("sync").done().says(&["nothing new"]);
        assert_eq!(part.commits(), commits);
    }
    part.run("board").done().says(&["the history before 2026-10-10"]);
    part.run("note quay-desk on").done();
    part.run("sync").done();
    part.sound();
    // Whoever joins with all of it is told what another time would be quicker.
    let line = scene.line("long", "tom", "--project quay-desk");
    place.run("tom", &line).done().says(&["commits were checked; another time, --since DATE"]);
}

#[test]
fn what_comes_in_is_judged_as_ever() {
    let scene = Scene::new(false);
    let part = scene.join("part", "tom", &format!("--project quay-desk --since {SINCE}"));
    // A roster version, another project with what lay there at the beginning, and the part made smaller again.
    let line =
        format!("roster add jonas --name Jonas --role fabricator --public-key {}", public_key("jonas"));
    scene.whole.on("2026-09-23").run(&line).done();
    scene.whole.run("sync").done();
    part.run("sync").done();
    part.run("part --project pier-*").done().says(&["came in: pier-bar, pier-desk", "the history before"]);
    assert_eq!(
        answer(&part, "status pier-bar", "pier-bar"),
        answer(&scene.whole.on("2026-09-22"), "status pier-bar", "pier-bar")
    );
    part.run("part --drop pier-*").done();
    part.run("sync --drop-refused").fails(2, "part-only");
    // A statement that is taken out and put back, past the program.
    let good = part.git("rev-parse HEAD");
    let name = scene.whole.names("projects/quay-desk/moves", ".json").remove(0);
    scene.whole.git(&format!("rm --quiet projects/quay-desk/moves/{name}"));
    scene.whole.git("commit --quiet -m bad");
    scene.whole.git(&format!("checkout --quiet HEAD~1 -- projects/quay-desk/moves/{name}"));
    commit(&scene.whole, "back");
    scene.whole.git("push --quiet origin HEAD:main");
    part.run("sync").fails(5, "incoming-refused").says(&[&name]);
    assert_eq!(part.git("rev-parse HEAD"), good);
    part.run("board").done().says(&["sync is refused since"]);
    // Who joins now begins before it; where the history begins with it, there is nothing good to begin with.
    let line = scene.line("later", "imke", &format!("--project quay-desk --since {SINCE}"));
    scene.place.run("imke", &line).code(0).says(&["the history before"]);
    let later = Desk::new(scene.place.path("later"), "imke");
    assert_eq!(later.git("rev-parse HEAD"), good);
    later.run("note quay-desk here").done();
    // A last state that does not pass, and nothing but that.
    scene.whole.write("projects/quay-desk/project.json", "{");
    commit(&scene.whole, "broken");
    scene.whole.git("push --quiet origin HEAD:main");
    scene
        .place
        .run("imke", &scene.line("none", "imke", "--project quay-desk --since 2100-01-01"))
        .fails(5, "no-good-state")
        .says(&["without --since", "project.json"]);
    assert!(!scene.place.path("none").exists());
}

#[test]
fn the_day_may_lie_anywhere_and_the_remote_be_of_any_kind() {
    let scene = Scene::new(false);
    scene.place.run("tom", &scene.line("none", "tom", &format!("--since {SINCE}"))).code(2).says(&["--mine"]);
    scene.place.run("tom", &scene.line("none", "tom", "--mine --since Monday")).code(2);
    // All of the history is newer; all of it is older, so that the last state alone is held.
    let all = scene.join("all", "tom", "--mine --since 2020-01-01");
    assert!(!is_shallow(&all));
    all.run("board").done().never_says(&["the history before"]);
    held_as_the_whole(&all, &scene.whole.on("2026-09-22"), "quay-desk");
    let last = scene.join("last", "tom", "--mine --since 2100-01-01");
    assert_eq!((last.commits(), lying(&last).len()), (1, 3));
    last.run("history").done().says(&["the history here begins on 2026-09-21"]).never_says(&["Mara"]);
    last.run("note quay-desk last").done();
    last.run("sync").done();
    scene.whole.run("sync").done();
    // A remote that sends no parts sends the files of all projects, and of the history what was asked for.
    scene.whole.git(&format!("-C {} config uploadpack.allowFilter false", scene.hub.display()));
    let line = scene.line("files", "mara", &format!("--project quay-desk --since {SINCE}"));
    scene.place.run("mara", &line).done().says(&["the history before", "uploadpack.allowFilter true"]);
    let files = Desk::new(scene.place.path("files"), "mara").on("2026-09-22");
    assert!(is_shallow(&files) && lacking(&files) == 0);
    files.run("note quay-desk files").done();
    files.run("sync").done();
    files.run("part --past").done();
    scene.whole.run("sync").done();
    held_as_the_whole(&files, &scene.whole.on("2026-09-22"), "quay-desk");
    // Made whole, with the past; and fetched by git itself, which judges nothing, so that it is still said.
    scene.whole.git(&format!("-C {} config uploadpack.allowFilter true", scene.hub.display()));
    last.run("sync").done();
    last.run("part --whole").done().says(&["came in and checked", "holds the whole book"]);
    assert!(!is_shallow(&last) && lacking(&last) == 0);
    last.sound();
    held_as_the_whole(&last, &scene.whole.on("2026-09-22"), "pier-bar");
    let part = scene.join("part", "tom", &format!("--project quay-desk --since {SINCE}"));
    part.git("fetch --quiet --unshallow");
    part.run("board").done().says(&["the history before"]);
    part.run("sync").done();
    part.run("part --past").done().says(&["came in and checked"]);
    held_as_the_whole(&part, &scene.whole.on("2026-09-22"), "quay-desk");
    // Without the remote nothing is lost.
    let part = scene.join("alone", "tom", &format!("--project quay-desk --since {SINCE}"));
    fs::rename(&scene.hub, scene.place.path("elsewhere.git")).unwrap();
    part.unchanged(|part| part.run("part --past").fails(6, "remote-gone"));
    part.run("verify --cold").code(1);
    part.run("note quay-desk alone").done();
    part.run("sync --offline").done();
}

#[test]
fn what_counts_no_more_or_lost_its_name_before_it_begins_keeps_nobody_from_joining() {
    let scene = Scene::new(false);
    let key = public_key("tom");
    let mara = scene.whole.on("2026-09-10");
    mara.run(&format!("roster retire-key tom {key} --compromised")).done();
    // A photo whose record names it no more, as a merge may leave it.
    let record = "projects/quay-desk/swatches/alba.json";
    let (before, photo) = (mara.text(record), scene.place.file("alba.jpg", b"\xff\xd8 a photo"));
    mara.run(&format!("swatch change quay-desk alba --photo {photo}")).done();
    mara.write(record, before);
    commit(&mara, "left over");
    scene.whole.on("2026-09-23").run("note quay-desk after").done();
    scene.whole.run("sync").code(0);
    let whole = scene.join("again", "mara", "");
    let part = scene.join("part", "mara", "--project quay-desk --since 2026-09-22");
    assert!(is_shallow(&part));
    for verb in ["board", "status quay-desk", "check quay-desk"] {
        assert_eq!(answer(&part, verb, "quay-desk"), answer(&whole, verb, "quay-desk"), "{verb}");
    }
    part.run("part --past").done();
    held_as_the_whole(&part, &whole, "quay-desk");
}

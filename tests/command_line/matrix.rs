//! Every writing verb, in the order of a job, on one clone: whatever it writes goes through a guarded and an unguarded
//! remote, and another clone, `verify`, `guard range`, a fresh `join` and stock git find it sound.
//!
//! A verb of the program that stands neither in the job nor among those that write nothing to a book fails the test.

use std::collections::BTreeSet;
use std::path::PathBuf;

use crate::help::verbs;
use crate::part::held_as_the_whole;
use crate::stages::{self, curved};
use crate::workshop::{Desk, Place, private_key, program, public_key};

/// One step of the job.
enum Step {
    /// Somebody at the first clone runs a line, and the first clone syncs.
    Act(&'static str, &'static str),
    /// The second clone runs a line and syncs, and the first runs one without having seen it: a question opens.
    Apart(&'static str, &'static str),
    /// The first clone takes in an answer to what the client is asked first, by its code.
    TakeIn,
    /// The first open question of the project is answered.
    Resolve,
    /// A file is written by hand at the first clone.
    Write(&'static str, fn(&Desk) -> Vec<u8>),
    /// Everybody judges what there is.
    Judge,
}
use Step::{Act, Apart, Judge, Resolve, TakeIn, Write};

const JOB: &[Step] = &[
    Act(
        "mara",
        r#"open quay-desk --title "Quay desk" --client imke --engineer tom --site "Quay hall" --install-date 2027-03-15"#,
    ),
    Act("mara", "project change quay-desk --install-date 2027-04-12"),
    Act(
        "mara",
        r#"swatch add quay-desk alba --stone "White alabaster" --material alabaster --tone white --texture cloudy --thickness 20mm --slab-thickness 20mm"#,
    ),
    Act(
        "mara",
        r#"swatch add quay-desk spare --stone "Honey onyx" --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm"#,
    ),
    Act("mara", "swatch change quay-desk alba --lot B-17"),
    Act("mara", "swatch measure quay-desk alba meter --bare-lx 1200 --through-lx 130 --panel-cct 4000"),
    Act("mara", "swatch remove quay-desk spare"),
    Act(
        "mara",
        r#"panel add quay-desk front --title "Desk front" --swatch alba --outline {drawing} --faces diffused"#,
    ),
    Act(
        "mara",
        r#"panel add quay-desk side --title "Desk side" --swatch alba --outline {drawing} --faces diffused"#,
    ),
    Act("mara", r#"panel change quay-desk side --title "Desk end""#),
    Act("mara", r#"panel basis quay-desk side template --by "Quarry Lane Masonry""#),
    Act("mara", r#"panel slab quay-desk side --lot "B-17, slab 4" --photo {scan} --backing none"#),
    Act("mara", "panel remove quay-desk side"),
    Act("mara", "advance quay-desk"),
    Judge,
    Act(
        "mara",
        r#"request ask quay-desk first --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4""#,
    ),
    Act(
        "mara",
        r#"request ask quay-desk second --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4""#,
    ),
    Act("mara", "request remove quay-desk second"),
    Act(
        "mara",
        r#"request ask quay-desk second --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4" --return-by 2026-10-01"#,
    ),
    Act("mara", r#"trial waive quay-desk front --because "the stone is well known here""#),
    Act("imke", "sign quay-desk waiver --panel front --topic sampling --yes"),
    Act("mara", "trial waive quay-desk front --take-back"),
    Act("imke", r#"note quay-desk --on request/first "ring twice""#),
    Act("imke", r#"sign quay-desk request --request first --yes --reject --comment "another address""#),
    Act("imke", "sign quay-desk request --request first --yes --withdraw"),
    Act("mara", r#"request sent quay-desk first --consignment "parcel 8842""#),
    Act("imke", "request received quay-desk first"),
    Act(
        "imke",
        r#"trial record quay-desk warm --swatch alba --request first --cct 3000 --face diffused --seen "clouds show" --rating 3"#,
    ),
    Act(
        "imke",
        r#"trial record quay-desk neutral --swatch alba --request first --cct 4000 --face diffused --seen "clouds show" --rating 5"#,
    ),
    Act(
        "imke",
        r#"trial record quay-desk slip --swatch alba --request first --cct 4000 --face diffused --seen "a slip" --rating 1"#,
    ),
    Act("imke", "trial change quay-desk slip --rating 2"),
    Act("imke", "trial remove quay-desk slip"),
    Act("mara", "request returned quay-desk second"),
    Act("mara", "request lost quay-desk second"),
    Act("mara", "advance quay-desk"),
    Judge,
    Act(
        "mara",
        "choose quay-desk front --light static-white --cct 2700 --face diffused --edges 1,3 --volts 24 --mount tray",
    ),
    Act("imke", "sign quay-desk waiver --panel front --topic cct-not-tried --yes"),
    Act("imke", "sign quay-desk waiver --panel front --topic cct-not-tried --yes --withdraw"),
    Apart("choose quay-desk front --cct 3000", "choose quay-desk front --cct 4000"),
    Judge,
    Resolve,
    Act("mara", "choose quay-desk front --cct 4000"),
    Act(
        "mara",
        r#"evidence quay-desk choice --panel front --of imke --how "letter" --scan {scan} --revise --comment "warmer" --yes"#,
    ),
    Act(
        "mara",
        r#"evidence quay-desk choice --panel front --of imke --how "letter" --scan {scan} --withdraw --yes"#,
    ),
    Act("mara", r#"evidence quay-desk choice --panel front --of imke --how "letter" --scan {scan} --yes"#),
    TakeIn,
    Act("imke", r#"sign quay-desk choice --panel front --yes --reject --comment "never wrote that""#),
    Act("imke", "sign quay-desk choice --panel front --yes"),
    Act("mara", "advance quay-desk"),
    Judge,
    Act("mara", "project change quay-desk --mains 230 --code-region iec"),
    Act("tom", "plan quay-desk front --feed-length 8m"),
    Act("tom", "split quay-desk front --whole"),
    Act("tom", "draw quay-desk front"),
    Act("mara", r#"evidence quay-desk rendering --panel front --of imke --how "letter" --scan {scan} --yes"#),
    Act("imke", r#"sign quay-desk rendering --panel front --yes --revise --comment "rounder""#),
    Act("imke", r#"sign quay-desk rendering --panel front --as-noted "round the corners" --yes --json"#),
    Act("tom", "sign quay-desk acknowledgement --panel front --topic notes-met --notes-of {last} --yes"),
    Act("tom", "sign quay-desk rendering --panel front --as engineer --yes"),
    Act("tom", "sign-all quay-desk --as engineer --yes"),
    Act("imke", r#"sign quay-desk release --yes --reject --comment "stop" --json"#),
    Act("mara", r#"sign quay-desk override --refusal {last} --comment "agreed by telephone" --yes"#),
    Act("tom", "sign quay-desk release --yes"),
    Act("mara", "advance quay-desk"),
    Judge,
    Act("mara", r#"reopen quay-desk selection --reason "another look""#),
    Act("mara", "advance quay-desk"),
    Act("mara", "advance quay-desk"),
    Act("mara", "built quay-desk front --serial QD-001 --watts 31.4 --volts 24"),
    Act("mara", "advance quay-desk"),
    Act("mara", "delivery sent quay-desk first --panel front"),
    Act("mara", r#"delivery received quay-desk first --damage "front: corner chipped""#),
    Act("mara", r#"delivery settled quay-desk first --panel front --how polished"#),
    Act(
        "mara",
        r#"installed quay-desk --electrician "licence 4471" --code "local code, 2026 edition" --driver-access "cupboard" --card-kept-at "meter cupboard" --card-access "slide the tray out" --card-contact "the shop""#,
    ),
    Act("mara", "advance quay-desk"),
    Judge,
    Act("mara", r#"accepted quay-desk --photo {scan} --flicker-looked-for "by eye""#),
    Act("mara", r#"roster add jonas --name "Jonas Hale" --role rep --public-key {jonas}"#),
    Act("mara", "shop driver change plain-24-60 note=again"),
    Act("mara", r#"copy project quay-desk pier-desk --title "Pier desk""#),
    Act("mara", "copy panel quay-desk front back --to pier-desk"),
    Act("mara", r#"roster rename jonas --name "Jonas Hale-Reed""#),
    Act("mara", "roster add-key jonas {spare}"),
    Act("mara", "roster retire-key jonas {jonas} --keep-all"),
    Act("mara", "roster roles jonas owner"),
    Write("rules.json", |desk| {
        desk.text("rules.json").replacen("\"tried_within_k\": ", "\"tried_within_k\": 1", 1).into_bytes()
    }),
    Act("mara", "roster seal"),
    Act("mara", "roster threshold 2"),
    Act("jonas", "roster countersign .git/underlit/roster-PROPOSED-proposal.json"),
    Judge,
    Act("mara", "schemas --into schema"),
    Act("mara", "check --repair"),
    Judge,
];

/// Verbs that write nothing into a book, or nothing but what its first clone or a remote is made with, which every round
/// of this test does; `roster redo`, which needs two versions that met; and `undo`, which needs a change that is not sent.
const OTHERS: &[&str] = &[
    "guide",
    "explain",
    "doctor",
    "import",
    "init",
    "join",
    "part",
    "me",
    "sync",
    "status",
    "next",
    "show",
    "board",
    "dates",
    "history",
    "changes",
    "pack",
    "pages",
    "look",
    "predictions",
    "cut",
    "verify",
    "watch",
    "panel etch",
    "panel evenness",
    "panel import",
    "panel sizes",
    "allowed-signers",
    "demo",
    "completions",
    "man",
    "roster show",
    "roster redo",
    "undo",
    "guard install",
    "guard check",
    "guard range",
    "stock-git setup",
    "stock-git merge",
    "stock-git file",
    "packet",
    "label",
    "request sheet",
    "trial cite",
    "calc outline",
    "calc white",
    "calc through",
    "calc photo",
    "calc wire",
    "calc driver",
    "calc dates",
];

/// The clones around one remote.
struct Round {
    place: Place,
    hub: PathBuf,
    first: Desk,
    second: Desk,
    puller: Desk,
    guarded: bool,
    part: bool,
    judged: String,
    last: String,
    joined: usize,
}

impl Round {
    /// With `part`, the first clone holds one project of two when it begins, and never the other; it joins with these words.
    fn new(guarded: bool, part: Option<&str>) -> Round {
        let place = Place::new();
        let mut first = place.copy_as(stages::roster(), "first", "mara");
        let hub = place.path("hub.git");
        first.git(&format!("init --quiet --bare -b main {}", hub.display()));
        first.git(&format!("remote add origin {}", hub.display()));
        if guarded {
            place.run("mara", &format!("guard install {}", hub.display())).code(0);
        }
        if part.is_some() {
            for name in ["held-desk", "far-desk"] {
                first
                    .run(&format!(r#"open {name} --title "{name}" --client imke --engineer tom --site Quay"#))
                    .done();
            }
        }
        first.run("sync").done();
        if let Some(how) = part {
            let line = format!("join file://{} part --project held-* {how} --me mara", hub.display());
            place.run("mara", &line).code(0).says(&["this clone holds 1 of 2 projects"]);
            first = Desk::new(place.path("part"), "mara");
        }
        let join = |name: &str| {
            let line = format!("join {} {name} --me tom --key {}", hub.display(), private_key("tom"));
            place.run("tom", &line).code(0);
            Desk::new(place.path(name), "tom")
        };
        let (second, puller) = (join("second"), join("puller"));
        let judged = first.git("rev-parse HEAD").trim().to_owned();
        let part = part.is_some();
        Round { place, hub, first, second, puller, guarded, part, judged, last: String::new(), joined: 0 }
    }

    fn filled(&self, line: &str) -> String {
        let drawing = self.place.file("desk-front.json", curved(600));
        let scan = self.place.file("letter.pdf", b"%PDF-1.4 the client's letter");
        let version = self.first.names("roster", ".json").len() + 1;
        line.replace("{drawing}", &drawing)
            .replace("{scan}", &scan)
            .replace("{jonas}", &public_key("jonas"))
            .replace("{spare}", &public_key("spare"))
            .replace("{last}", &self.last)
            .replace("roster-PROPOSED", &format!("roster-{version:04}"))
    }

    fn act(&mut self, who: &'static str, line: &str) {
        let line = self.filled(line);
        // The person's newer key lies elsewhere.
        let line = if who == "jonas" { format!("{line} --key {}", private_key("spare")) } else { line };
        let ran = if who == "mara" { self.first.run(&line) } else { self.first.run_as(who, &line) };
        let ran = ran.code(0);
        if line.contains("--json") {
            self.last = ran.json()["sha256"].as_str().expect("a digest").to_owned();
        }
        self.sync(&[0]);
    }

    #[track_caller]
    fn sync(&self, codes: &[i32]) {
        if self.part {
            // Something happens where the first clone does not look, whatever it does itself.
            let note = self.second.commits();
            self.second.run_as("mara", &format!("project change far-desk --note {note}")).code(0);
            assert_eq!(self.second.run("sync").code, 0);
        }
        for desk in [&self.first, &self.second] {
            let ran = desk.run("sync");
            assert!(codes.contains(&ran.code), "guarded {}: sync: {ran:?}", self.guarded);
        }
    }

    fn judge(&mut self) {
        self.joined += 1;
        let about = format!("guarded {}, round {}", self.guarded, self.joined);
        let line = format!(
            "join {} fresh-{} --me tom --key {}",
            self.hub.display(),
            self.joined,
            private_key("tom")
        );
        self.place.run("tom", &line).code(0);
        let fresh = Desk::new(self.place.path(&format!("fresh-{}", self.joined)), "tom");
        self.puller.git("pull --quiet --ff-only");
        let head = self.first.git("rev-parse HEAD");
        for desk in [&self.first, &self.second, &self.puller, &fresh] {
            assert_eq!(desk.git("rev-parse HEAD"), head, "{about}");
            desk.run("check").code(0);
            let verified = desk.run("verify");
            assert!([0, 1].contains(&verified.code), "{about}: {verified:?}");
        }
        if self.part {
            held_as_the_whole(&self.first, &self.second, "quay-desk");
            assert!(!self.first.path("projects/far-desk").exists());
        }
        self.second.run(&format!("guard range {} {}", self.judged, head.trim())).code(0);
        let bare = self.place.path(&format!("bare-{}", self.joined));
        let cloned = program("git", "tom").args(["clone", "--quiet"]).arg(&self.hub).arg(&bare).output();
        assert!(cloned.expect("git runs").status.success(), "{about}");
        self.judged = head.trim().to_owned();
    }

    fn take_in(&self) {
        let asked = self.first.run("packet quay-desk --dry-run --json").done().json();
        let code = asked["items"][0]["code"].as_str().expect("something is asked");
        self.first
            .run(&format!(r#"intake --code {code} --how telephone --revise --comment "cooler" --yes"#))
            .code(0);
        self.sync(&[0]);
    }

    fn resolve(&self) {
        let open = self.first.names(&format!("{}/conflicts", stages::PROJECT), ".json");
        let question = open.first().expect("a question is open").trim_end_matches(".json");
        self.first.run(&format!("resolve quay-desk {question} --take 1")).code(0);
        self.sync(&[0]);
    }

    fn play(&mut self) {
        for step in JOB {
            match step {
                Act(who, line) => self.act(who, line),
                Apart(there, here) => {
                    self.second.run_as("mara", &self.filled(there)).code(0);
                    self.second.run("sync").code(0);
                    self.first.run(&self.filled(here)).code(0);
                    self.sync(&[4]);
                }
                TakeIn => self.take_in(),
                Resolve => self.resolve(),
                Write(file, bytes) => self.first.write(file, bytes(&self.first)),
                Judge => self.judge(),
            }
        }
    }
}

#[test]
fn every_writing_verb_is_in_the_job() {
    let all: BTreeSet<String> = verbs().into_iter().map(|(verb, _)| verb).collect();
    let lines = JOB.iter().flat_map(|step| match step {
        Act(_, line) => vec![*line],
        Apart(there, here) => vec![*there, *here],
        Resolve => vec!["resolve quay-desk"],
        TakeIn => vec!["intake"],
        Write(..) | Judge => vec![],
    });
    let begins = |line: &str, verb: &String| line == verb || line.starts_with(&format!("{verb} "));
    let played: BTreeSet<String> = lines
        .map(|line| {
            all.iter().find(|verb| begins(line, verb)).unwrap_or_else(|| panic!("no verb: {line}")).clone()
        })
        .collect();
    let others: BTreeSet<String> = OTHERS.iter().map(ToString::to_string).collect();
    let unknown: Vec<_> = others.difference(&all).collect();
    assert!(unknown.is_empty(), "no such verbs: {unknown:?}");
    let both: Vec<_> = others.intersection(&played).collect();
    assert!(both.is_empty(), "they are played: {both:?}");
    let missing: Vec<_> = all.iter().filter(|v| !played.contains(*v) && !others.contains(*v)).collect();
    assert!(missing.is_empty(), "verbs that no step of the job plays, add them: {missing:?}");
}

#[test]
fn every_writing_verb_goes_round_through_a_guarded_remote() {
    Round::new(true, None).play();
}

#[test]
fn every_writing_verb_goes_round_from_a_clone_that_holds_a_part() {
    Round::new(true, Some("")).play();
}

#[test]
fn every_writing_verb_goes_round_from_a_part_that_holds_the_last_state_alone() {
    let mut round = Round::new(false, Some("--since 2100-01-01"));
    round.play();
    round.first.run("board").code(0).says(&["the history before"]);
}

#[test]
fn every_writing_verb_goes_round_through_an_unguarded_remote() {
    Round::new(false, None).play();
}

//! Text that others wrote, in commits, records and questions, by stock git: shown by every verb, obeyed by no terminal.

use serde_json::{Value, json};
use underlit::visible::is_hidden;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, Ran, private_key, program};

/// Escapes, bells, a carriage return, C1, marks of direction, what has no width, and what breaks a line.
const EVIL: &str =
    "Ada\u{1b}[2J\u{1b}]0;x\u{7}\rBob\u{9b}31m\u{202e}gpj\u{2066}\u{200f}\u{61c}\u{200b}\u{feff}\u{2028}end";

/// Commits everything as somebody who goes past underlit, under a name and with a message of their own choice.
fn commit_as(desk: &Desk, name: &str, message: &str) {
    desk.git("add --all --force");
    let mut git = program("git", desk.person);
    git.current_dir(&desk.at).env("GIT_AUTHOR_NAME", name).env("GIT_COMMITTER_NAME", name);
    assert!(git.args(["commit", "--quiet", "--allow-empty", "-m", message]).status().unwrap().success());
}

#[track_caller]
fn harmless(ran: &Ran) {
    for text in [&ran.stdout, &ran.stderr] {
        let bad: Vec<char> = text.chars().filter(|c| is_hidden(*c) && !matches!(c, '\n' | '\t')).collect();
        assert!(bad.is_empty(), "{bad:?} in {text}");
    }
    assert!(!ran.stderr.contains("panicked"), "{}", ran.stderr);
}

#[test]
fn nothing_from_outside_reaches_a_terminal_or_a_command_as_it_is() {
    let place = Place::new();
    let mara = place.copy_as(stages::signed(), "mara", "mara");
    let hub = place.path("hub.git");
    mara.git(&format!("init --quiet --bare -b main {}", hub.display()));
    mara.git(&format!("remote add origin {}", hub.display()));
    mara.run("sync").done();
    let key = private_key("tom");
    place.run("tom", &format!("join {} tom --me tom --key {key}", hub.display())).done();
    let tom = Desk::new(place.path("tom"), "tom");
    tom.run("watch --once").done();
    // A title with what the schema does not forbid, a question with everything, and a commit that says it all again.
    let hidden = "Desk\u{200b} \u{2028}released \u{61c}x";
    let record = format!("{PROJECT}/project.json");
    let mut value: Value = serde_json::from_str(&mara.text(&record)).unwrap();
    value["title"] = json!(hidden);
    mara.write(&record, format!("{value:#}\n"));
    let panel: Value = serde_json::from_str(&mara.text(&format!("{PROJECT}/panels/front.json"))).unwrap();
    let side = |note: &str| json!({ "value": note, "by": EVIL, "at": "2026-10-01T08:00:00Z" });
    let question = json!({
        "$schema": "../../../schema/conflict.schema.json",
        "path": format!("{PROJECT}/panels/front.json"),
        "pointer": "/title",
        "base": panel["title"],
        "sides": [side("One\u{1b}[31m"), side("Two\u{202e}\n* released: all of it")],
    });
    let name = format!("{PROJECT}/conflicts/{}.json", "0a".repeat(16));
    mara.write(&name, format!("{question:#}\n"));
    commit_as(&mara, EVIL, &format!("{EVIL}\n\nmore {EVIL}"));
    mara.git("push --quiet origin HEAD:main");
    let (text, object) = (place.path("text"), place.path("object"));
    let run = format!(
        r#"watch --once --all --run "printf %s \"$UNDERLIT_TEXT\" >> {}; cat >> {}""#,
        text.display(),
        object.display()
    );
    for line in [
        "watch --once --all",
        "watch --once --all --json",
        "sync",
        "sync --json",
        "check",
        "check --json",
        "history",
        "history --long",
        "history --json",
        "status quay-desk",
        "status quay-desk --json",
        "board",
        "board --json",
        "resolve",
        "resolve quay-desk",
        "resolve quay-desk --json",
        "verify",
        "verify --json",
        "changes quay-desk",
        "guard range HEAD~1 HEAD",
        "guard range HEAD~1 HEAD --json",
        "log\u{1b}[2J\u{202e}",
        "status \u{1b}[2J",
        "status \u{1b}[2J --json",
    ] {
        harmless(&tom.run(line));
    }
    mara.run(&run);
    for file in [&text, &object] {
        let written = std::fs::read_to_string(file).unwrap_or_default();
        assert!(!written.chars().any(|c| is_hidden(c) && c != '\n'), "{written:?}");
    }
    // What it says is shown, and no line of it passes for one of ours.
    let said = tom.run("history --long").done();
    assert!(said.stdout.contains("Ada\u{fffd}[2J"), "{}", said.stdout);
    let shown = tom.run("resolve quay-desk");
    assert!(!shown.stdout.lines().any(|line| line.starts_with("* released")), "{}", shown.stdout);
    // The guard says it of what it refuses.
    mara.run(&format!("guard install {}", hub.display())).done();
    mara.write(&format!("{PROJECT}/panels/x\u{1b}[2J\u{202e}.json"), "{}");
    commit_as(&mara, EVIL, EVIL);
    let pushed = mara.git_tries("push origin HEAD:main");
    let said = String::from_utf8_lossy(&pushed.stderr).into_owned();
    assert!(
        said.contains("[unsafe-path]") && !said.contains('\u{1b}') && !said.contains('\u{202e}'),
        "{said:?}"
    );
}

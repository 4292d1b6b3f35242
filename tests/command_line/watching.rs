//! `watch` from outside: what happens at a remote, each thing once, over restarts, failures and signals.

use std::fs::{self, File};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::stages;
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, words};

/// The events that one look tells, as `event text`.
fn told(desk: &Desk, more: &str) -> Vec<String> {
    let ran = desk.run(&format!("watch --once --json {more}")).done();
    let line = |line: &str| {
        let event: Value = serde_json::from_str(line).unwrap();
        format!("{} {}", event["event"].as_str().unwrap(), event["text"].as_str().unwrap())
    };
    ran.stdout.lines().map(line).collect()
}

#[track_caller]
fn starts(told: &[String], with: &[&str]) {
    assert_eq!(told.len(), with.len(), "{told:#?}");
    for (told, with) in told.iter().zip(with) {
        assert!(told.starts_with(with), "{told} begins otherwise than {with}");
    }
}

#[test]
fn each_event_is_told_once() {
    let clones = ThreeClones::at(stages::signed());
    let ThreeClones { mara, imke, tom, .. } = &clones;
    // What stands already is taken note of in silence; a clone of its own is told all of it where it asks.
    starts(&told(tom, ""), &[]);
    assert!(
        told(imke, "--all")
            .iter()
            .any(|t| t.starts_with("approved Imke Voss (client) approved the rendering"))
    );
    starts(&told(imke, "--all"), &[]);
    let (head, status) = (tom.git("rev-parse HEAD"), tom.git("status --porcelain"));

    mara.run_as("tom", "sign quay-desk release --yes").done();
    mara.run("advance quay-desk").done();
    mara.run("sync").done();
    let news = told(tom, "");
    for wanted in [
        "arrived Tom Reed — ",
        "arrived Mara Quill — ",
        "released may be built",
        "approved Tom Reed (engineer)",
    ] {
        assert!(news.iter().any(|t| t.starts_with(wanted)), "{wanted} is not in {news:#?}");
    }
    starts(&told(tom, ""), &[]);

    // A fact changes under the approvals, somebody refuses, and two edits do not agree.
    imke.run("sync").done();
    let refusal = r#"sign quay-desk rendering --panel front --as client --reject --comment "too flat" --yes"#;
    imke.run(refusal).done();
    imke.run(r#"panel change quay-desk front --title "Street side""#).done();
    mara.run(r#"panel change quay-desk front --title "Harbour side""#).done();
    mara.run("sync").done();
    imke.run("sync").code(4);
    let news = told(tom, "--only on-hold,rejected,stale,question");
    for wanted in ["on-hold must not be built at present", "question panel front, title: "] {
        assert!(news.iter().any(|t| t.starts_with(wanted)), "{wanted} is not in {news:#?}");
    }
    assert!(news.iter().any(|t| t.starts_with("stale ") || t.starts_with("rejected ")), "{news:#?}");
    // What was not asked for is not told later either.
    starts(&told(tom, ""), &[]);
    // Another day: late.
    let late = told(&tom.on("2027-03-01"), "");
    assert!(
        late.iter().any(|t| t.starts_with("overdue the install date 2027-03-15 cannot be met")),
        "{late:#?}"
    );
    starts(&told(&tom.on("2027-03-01"), ""), &[]);
    // The clone itself was left alone throughout.
    assert_eq!((tom.git("rev-parse HEAD"), tom.git("status --porcelain")), (head, status));
    tom.sound_for_git();
}

#[test]
fn a_command_hears_each_event_and_is_tried_again_where_it_fails() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, tom, place, .. } = &clones;
    starts(&told(tom, ""), &[]);
    mara.run(r#"project change quay-desk --title "The desk""#).done();
    mara.run("sync").done();
    let log = place.path("log");
    let script = format!("test -e {0}.ready && echo $UNDERLIT_EVENT >> {0} && cat >> {0}", log.display());
    let mut command = tom.command();
    let run = |command: &mut Command| command.args(["watch", "--once", "--run", &script]).output().unwrap();
    let failed = run(&mut command);
    assert!(failed.status.success());
    assert!(
        String::from_utf8_lossy(&failed.stderr).contains("the command failed for: arrived: Mara Quill — ")
    );
    assert!(!log.exists());
    fs::write(log.with_extension("ready"), "").unwrap();
    fs::rename(log.with_extension("ready"), format!("{}.ready", log.display())).unwrap();
    assert!(run(&mut tom.command()).status.success());
    let heard = fs::read_to_string(&log).unwrap();
    assert!(heard.starts_with("arrived\n{\"event\":\"arrived\""), "{heard}");
    assert!(run(&mut tom.command()).status.success());
    assert_eq!(fs::read_to_string(&log).unwrap(), heard, "heard twice");
}

/// A watch in the background, with its remarks in a file that can be read meanwhile.
fn background(desk: &Desk, line: &str, remarks: &Path) -> Child {
    let mut command = desk.command();
    command.args(words(line)).stdout(Stdio::piped()).stderr(File::create(remarks).unwrap());
    command.spawn().unwrap()
}

fn until(what: &str, mut there: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !there() {
        assert!(begun.elapsed() < Duration::from_secs(60), "{what} did not come");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn it_outlives_a_remote_that_is_gone_and_ends_on_a_signal() {
    let clones = ThreeClones::at(stages::intake());
    let ThreeClones { mara, tom, place, .. } = &clones;
    let seen = |desk: &Desk| fs::read_to_string(desk.path(".git/underlit/watch.json")).unwrap_or_default();
    let hub = place.path("hub.git");
    let away = place.path("away.git");
    for signal in ["INT", "TERM"] {
        // Only the watch that starts now writes this again, and it watches by then.
        let _ = fs::remove_file(tom.path(".git/underlit/watch.json"));
        let remarks = place.path(&format!("remarks-{signal}"));
        let said = || fs::read_to_string(&remarks).unwrap();
        let child = background(tom, "watch --every 1 --json", &remarks);
        until("the first look", || seen(tom).contains("\"day\": \"2026"));
        tom.run("watch --once").fails(6, "watched-already");
        // The person at this clone works on meanwhile.
        tom.run("project change quay-desk --title x --dry-run").done();
        fs::rename(&hub, &away).unwrap();
        until("the remark", || said().contains("[remote-gone]"));
        fs::rename(&away, &hub).unwrap();
        mara.run(&format!(r#"project change quay-desk --title "Desk {signal}""#)).done();
        mara.run("sync").done();
        let tip = mara.git("rev-parse HEAD");
        until("the news", || seen(tom).contains(tip.trim()));
        let killed = Command::new("kill").args([format!("-{signal}"), child.id().to_string()]).status();
        assert!(killed.unwrap().success());
        let ended = child.wait_with_output().unwrap();
        let (out, err) = (String::from_utf8_lossy(&ended.stdout), said());
        assert_eq!(ended.status.code(), Some(0), "{out}{err}");
        assert_eq!(out.matches("\"arrived\"").count(), 1, "{out}");
        assert!(err.contains("[remote-gone]") && err.contains("the remote is back"), "{err}");
        assert_eq!(err.matches("[remote-gone]").count(), 1, "said once: {err}");
    }
    fs::rename(&hub, &away).unwrap();
    tom.run("watch --once").code(6).says(&["[remote-gone]"]);
    tom.run("watch --once --every 0").code(2);
    tom.run("watch --once --only released,nosuch").code(2);
}

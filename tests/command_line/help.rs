//! Help for every verb: an example in each, completions for every shell, a manual page for each.

use std::fs;

use crate::stages;
use crate::workshop::{Place, Ran, underlit, words};

/// The verbs that the help of a verb lists.
fn listed(help: &str) -> Vec<String> {
    let after = match (help.split_once("\nCommands:\n"), help.split_once("\nBegin:\n")) {
        (Some((_, after)), _) => after.split("\n\n").next().unwrap_or_default(),
        // The first page lists them under what somebody wants to do.
        (None, Some((_, after))) => after.split("\n`underlit help VERB`").next().unwrap_or_default(),
        (None, None) => return Vec::new(),
    };
    let lines = after.lines();
    // A description goes on further to the right; only a verb stands two columns in.
    let verbs = lines.filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    verbs.filter_map(|l| l.split_whitespace().next()).filter(|v| *v != "help").map(str::to_owned).collect()
}

fn help_of(verb: &str) -> String {
    let output = underlit("mara").args(words(verb)).arg("--help").output().unwrap();
    Ran::of(&format!("{verb} --help"), output).done().stdout
}

/// Every verb that does something, with its help.
pub(crate) fn verbs() -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut open = vec![String::new()];
    while let Some(verb) = open.pop() {
        let help = help_of(&verb);
        let below = listed(&help);
        if below.is_empty() {
            found.push((verb, help));
        } else {
            open.extend(below.into_iter().map(|b| format!("{verb} {b}").trim().to_owned()));
        }
    }
    found.sort();
    found
}

#[test]
fn every_verb_shows_an_example_that_the_verb_itself_takes() {
    let all = verbs();
    assert!(all.len() > 40, "{:?}", all.iter().map(|(v, _)| v).collect::<Vec<_>>());
    let without: Vec<&str> =
        all.iter().filter(|(_, h)| !h.contains("Example: ")).map(|(v, _)| v.as_str()).collect();
    assert!(without.is_empty(), "no example for: {without:?}");
    let place = Place::new();
    for (verb, help) in &all {
        let example = help.split_once("Example: ").unwrap().1;
        let example = example.split("\n\n").next().unwrap().replace('\n', " ");
        let example = example.split(" > ").next().unwrap();
        assert!(example.starts_with(&format!("underlit {verb}")), "{verb}: {example}");
        // The arguments are right, whatever there is to say of the book that is not here.
        let line = example.strip_prefix("underlit ").unwrap();
        let ran = Ran::of(
            line,
            underlit("mara").args(words(line)).arg("--dry-run").current_dir(place.path("")).output().unwrap(),
        );
        assert!(
            !ran.stderr.contains("Usage: ") && !ran.stderr.starts_with("error: "),
            "{example}\n{}",
            ran.stderr
        );
        assert!(fs::read_dir(place.path("")).unwrap().next().is_none(), "{example} wrote something");
    }
}

#[test]
fn completions_for_every_shell() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let place = Place::new();
        let ran = place.run("mara", &format!("completions {shell}")).done();
        assert!(
            ran.stdout.contains("COMPLETE") && ran.stdout.contains("underlit"),
            "{shell}: {}",
            ran.stdout
        );
        if shell == "bash" {
            let file = place.file("completions", &ran.stdout);
            let read = std::process::Command::new("bash").args(["-n", &file]).output().unwrap();
            assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
        }
    }
    Place::new().run("mara", "completions csh").code(2);
}

#[test]
fn a_manual_page_for_every_verb() {
    let place = Place::new();
    place.run("mara", "man --into man --dry-run").done().says(&["dry run: "]);
    assert!(!place.path("man").exists());
    place.run("mara", "man --into man").done();
    let mut expected: Vec<String> =
        verbs().into_iter().map(|(v, _)| format!("underlit-{}.1", v.replace(' ', "-"))).collect();
    expected.push("underlit.1".into());
    let topics = place.run("mara", "guide --json").done().json()["topics"].as_array().unwrap().clone();
    expected.extend(topics.iter().map(|t| format!("underlit-guide-{}.1", t["topic"].as_str().unwrap())));
    for page in &expected {
        let text = fs::read_to_string(place.path("man").join(page)).unwrap_or_else(|e| panic!("{page}: {e}"));
        assert!(text.contains(".TH "), "{page}");
    }
    // Groups of verbs have a page too; a page for a verb that no help lists would be a verb that nobody finds.
    for entry in fs::read_dir(place.path("man")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let group = name.trim_end_matches(".1").to_owned() + "-";
        let listed = expected.contains(&name) || expected.iter().any(|page| page.starts_with(&group));
        assert!(listed, "{name} is of a verb that the first page of help leaves out");
    }
    let page = fs::read_to_string(place.path("man/underlit-roster-add.1")).unwrap();
    assert!(page.contains("Example"), "{page}");
}

#[test]
fn the_guide_says_what_each_page_is_about_and_shows_it_as_text_and_as_a_manual_page() {
    let place = Place::new();
    let listed = place.run("mara", "guide").done().stdout;
    place.run("mara", "man --into man").done();
    for line in listed.lines() {
        let topic = line.split_whitespace().next().unwrap();
        let page = place.run("mara", &format!("guide {topic}")).done().stdout;
        let title = page.lines().next().unwrap().trim_start_matches("# ");
        assert!(page.len() > 400 && page.starts_with("# "), "{topic}: {title}");
        // Every word of the page stands on the manual page, in its order; marks of Markdown do not.
        let manual = fs::read_to_string(place.path(&format!("man/underlit-guide-{topic}.1"))).unwrap();
        let shown: String = manual.replace("\\fB", "").replace("\\fR", "").replace('\\', "");
        let plain = |text: &str| -> String { text.chars().filter(|c| c.is_alphanumeric()).collect() };
        let (shown, mut from) = (plain(&shown), 0);
        for word in page.lines().skip(1).flat_map(str::split_whitespace).map(plain).filter(|w| !w.is_empty())
        {
            let at = shown[from..]
                .find(&word)
                .unwrap_or_else(|| panic!("{topic}: {word} is not on the manual page"));
            from += at + word.len();
        }
    }
    place.run("mara", "guide shairing").code(2).says(&["sharing"]);
}

#[test]
fn wrong_use_is_said_as_such() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.unchanged(|b| {
        for line in [
            "",
            "stauts quay-desk",
            "status",
            "status quay-desk extra",
            "choose quay-desk front --light green",
            "board --nosuch",
        ] {
            let ran = b.run(line).code(2);
            assert_eq!(ran.stdout, "", "{line}");
            assert!(ran.stderr.contains("--help"), "{line}: {}", ran.stderr);
        }
        let json = b.run("stauts --json").code(2).json();
        assert_eq!(json["error"]["code"], "usage");
        assert!(json["error"]["remedy"].is_string());
        for key in ["file", "pointer", "line"] {
            assert_eq!(json["error"][key], serde_json::Value::Null);
        }
    });
    assert!(book.run("--version").done().stdout.starts_with("underlit "));
    // A clock that is none, and whoever closed the pipe has read enough.
    let mut command = book.command();
    command.args(["board"]).env("UNDERLIT_CLOCK", "yesterday");
    Ran::of("board", command.output().unwrap()).fails(2, "clock").says(&["2026-09-01T08:00:00Z"]);
    let pipe = format!("'{}' man --help | head -c 1 >/dev/null", env!("CARGO_BIN_EXE_underlit"));
    let piped = std::process::Command::new("bash").args(["-o", "pipefail", "-c", &pipe]).output().unwrap();
    assert!(piped.stderr.is_empty(), "{}", String::from_utf8_lossy(&piped.stderr));
}

//! Every command line that the guide and the notes on trust and the guard show is run as it stands, with the names
//! of a real book in the place of its capitals.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

use serde_json::Value;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, Ran, program, public_key};

/// What is proven, the threats, and the lines for stock tools.
const TRUST: &str = "src/trust/verify/NOTES.md";

fn document(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// The lines of every fenced block, a block for each.
fn blocks(text: &str) -> Vec<Vec<String>> {
    let parts = text.split("\n```").skip(1).step_by(2);
    parts.map(|block| block.lines().skip(1).map(str::to_owned).collect()).collect()
}

/// Every command of ours that stands in a sentence, on one line.
fn inline(text: &str) -> BTreeSet<String> {
    let outside: String = text.split("\n```").step_by(2).collect::<Vec<_>>().join("\n");
    let flat = outside.split_whitespace().collect::<Vec<_>>().join(" ");
    let quoted = flat.split('`').skip(1).step_by(2).map(str::to_owned).collect::<Vec<_>>();
    quoted.into_iter().filter(|c| c.starts_with("underlit ") || c.starts_with("guard ")).collect()
}

/// A released book, stock tools, and `underlit` on the search path.
struct Shell {
    place: Place,
    book: Desk,
}

impl Shell {
    fn new() -> Shell {
        let place = Place::new();
        let book = place.copy(stages::released(), "mara");
        let bin = place.path("bin");
        fs::create_dir_all(&bin).unwrap();
        symlink(env!("CARGO_BIN_EXE_underlit"), bin.join("underlit")).unwrap();
        Shell { place, book }
    }

    /// Runs lines in one shell, which ends at the first that fails.
    fn runs(&self, at: &Path, lines: &[String]) -> Ran {
        let path = format!("{}:{}", self.place.path("bin").display(), std::env::var("PATH").unwrap());
        let script = lines.join("\n");
        let mut command = program("sh", "mara");
        command.current_dir(at).env("PATH", path).env("UNDERLIT_CLOCK", "2026-09-01T08:00:00Z");
        Ran::of(&script, command.args(["-euc", &script]).output().unwrap())
    }

    /// The file of the engineer's release.
    fn release(&self) -> String {
        let folder = format!("{PROJECT}/signoffs");
        let of = |n: &String| self.book.text(&format!("{folder}/{n}")).contains(r#""view": "release""#);
        format!("{folder}/{}", self.book.names(&folder, ".json").into_iter().find(of).unwrap())
    }
}

fn filled(line: &str, pairs: &[(&str, &str)]) -> String {
    pairs.iter().fold(line.to_owned(), |line, (from, to)| line.replace(from, to))
}

#[test]
fn the_lines_for_stock_tools_hold_and_find_what_was_taken_out() {
    let shell = Shell::new();
    let release = shell.release();
    let digest = release.rsplit('/').next().unwrap().replace(".json", "");
    let all = blocks(&document(TRUST));
    let block =
        all.iter().find(|b| b.iter().any(|l| l.starts_with("sha256sum"))).expect("a block of stock tools");
    let lines: Vec<String> = block
        .iter()
        .map(|line| {
            filled(
                line,
                &[
                    ("--version-number N", "--version-number 3"),
                    ("000N", "0003"),
                    ("SIGNER", "tom"),
                    ("ROLE", "engineer"),
                    ("OWNER", "mara"),
                ],
            )
        })
        .collect();
    assert_eq!(lines.len(), 6, "{lines:?}");
    let mut script = vec![format!("f={release}")];
    script.extend(lines.iter().cloned());
    let ran = shell.runs(&shell.book.at, &script).code(0);
    let fingerprint =
        shell.book.run("roster show --json").done().json()["fingerprint"].as_str().unwrap().to_owned();
    for words in [
        format!("{digest}  {release}"),
        format!("{fingerprint}  roster/0001.json"),
        "Good \"underlit-engineer\" signature for tom".to_owned(),
        "Good \"underlit-roster\" signature for mara".to_owned(),
    ] {
        assert!(ran.stdout.contains(&words), "{words}: {}", ran.stdout);
    }
    fs::remove_file(shell.book.path("signers")).unwrap();
    // `verify --explain` fills the lines in.
    let answer = shell.book.run(&format!("verify --explain {} --json", &digest[..12])).json();
    let own: Vec<String> = answer["check_yourself"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_str)
        .map(str::to_owned)
        .collect();
    let ran = shell.runs(&shell.book.at, &own).code(0);
    assert!(ran.stdout.contains("Good \"underlit-engineer\" signature for tom"), "{}", ran.stdout);
    fs::remove_file(shell.book.path("signers")).unwrap();
    // The history's line says nothing of a sound book.
    let history: Vec<String> = lines.iter().filter(|l| l.starts_with("git log")).cloned().collect();
    assert_eq!(history.len(), 1);
    assert_eq!(shell.runs(&shell.book.at, &history).done().stdout, "");
    // And names whoever takes something out, edits it, or leaves it out of a merge, though it is put back afterwards.
    let book = &shell.book;
    book.git(&format!("rm --quiet {release}"));
    book.git("commit --quiet -m tidy");
    book.git(&format!("checkout --quiet HEAD~1 -- {release}"));
    book.git("commit --quiet -m back");
    let said = shell.runs(&book.at, &history).done().stdout;
    assert!(said.lines().count() == 1 && said.contains("mara tidy"), "{said}");
    book.write("roster/0001.json", book.text("roster/0001.json") + "\n");
    book.git("commit --quiet -a -m edit");
    assert!(shell.runs(&book.at, &history).done().stdout.contains("mara edit"));
    let merged = shell.place.copy_as(stages::signed(), "merged", "mara");
    merged.git("checkout --quiet -b side");
    merged.run_as("tom", r#"sign quay-desk release --reject --comment "seams" --yes"#).done();
    merged.git("checkout --quiet main");
    merged.run("swatch change quay-desk alba --lot B-17").done();
    merged.git("merge --quiet -s ours -m together side");
    assert!(shell.runs(&merged.at, &history).done().stdout.contains("mara together"));
}

#[test]
fn the_lines_of_the_guide_do_what_they_say() {
    let shell = Shell::new();
    let release = shell.release();
    let fingerprint =
        shell.book.run("roster show --json").done().json()["fingerprint"].as_str().unwrap().to_owned();
    // Anybody's own check of a signature.
    let stock = blocks(&document("src/cli/guide/tools.md")).concat();
    let lines: Vec<String> = stock
        .iter()
        .map(|l| {
            filled(
                l,
                &[
                    ("projects/quay-bar/signoffs/<digest>.json", &release),
                    ("-I imke", "-I tom"),
                    ("underlit-client", "underlit-engineer"),
                ],
            )
        })
        .collect();
    let ran = shell.runs(&shell.book.at, &lines).code(0);
    assert!(ran.stdout.contains("Good \"underlit-engineer\" signature for tom"), "{}", ran.stdout);
    fs::remove_file(shell.book.path("signers")).unwrap();
    // A guard, and the same judge as a host's check.
    let guard = blocks(&document("src/cli/guide/guard.md"));
    let hub = shell.place.path("harbour.git").display().to_string();
    let common = [("/srv/books/harbour.git", hub.as_str()), ("a4bd8ee3655b…", fingerprint.as_str())];
    let install: Vec<String> = guard[0].iter().map(|l| filled(l, &common)).collect();
    assert!(install.iter().any(|l| l.starts_with("underlit guard install")), "{install:?}");
    let ran = shell.runs(&shell.book.at, &install).code(0);
    assert!(ran.stdout.contains("is guarded: pushes to main are judged"), "{}", ran.stdout);
    shell.book.git(&format!("remote add origin {hub}"));
    shell.book.git("push --quiet origin main");
    let judged =
        guard.iter().find(|block| block.iter().any(|l| l.contains("guard range"))).expect("a host's check");
    let range: Vec<String> = judged.iter().map(|l| filled(l, &common)).collect();
    assert!(range.iter().any(|l| l.contains("guard range")), "{range:?}");
    for before in ["0".repeat(40), "HEAD~1".to_owned()] {
        let mut script = vec![format!("BEFORE={before}; AFTER=HEAD")];
        script.extend(range.iter().cloned());
        shell.runs(&shell.book.at, &script).code(0);
    }
}

#[test]
fn the_readme_lists_the_pages_of_the_guide() {
    let readme = document("README.md");
    let (_, table) = readme.split_once("\n| topic | page |\n|---|---|\n").expect("a table of topics");
    let rows: Vec<&str> = table.lines().take_while(|line| line.starts_with('|')).collect();
    let answer = Place::new().run("mara", "guide --json").done().json();
    let topics = answer["topics"].as_array().unwrap().iter();
    let pages: Vec<String> = topics
        .map(|t| format!("| `{}` | {} |", t["topic"].as_str().unwrap(), t["about"].as_str().unwrap()))
        .collect();
    assert!(rows.len() > 5);
    assert_eq!(rows, pages);
}

#[test]
fn the_commands_in_the_sentences_are_taken() {
    let pages = [TRUST, "src/trust/guard/NOTES.md"].map(str::to_owned).into_iter();
    let guide = ["tools", "guard", "sharing"].map(|page| format!("src/cli/guide/{page}.md"));
    let shown: BTreeSet<String> = pages.chain(guide).flat_map(|page| inline(&document(&page))).collect();
    let shell = Shell::new();
    let Shell { place, book } = &shell;
    let release = shell.release();
    let digest = release.rsplit('/').next().unwrap().replace(".json", "");
    let fingerprint =
        book.run("roster show --json").done().json()["fingerprint"].as_str().unwrap().to_owned();
    let bare = place.path("bare.git").display().to_string();
    book.git(&format!("init --quiet --bare -b main {bare}"));
    let spare = public_key("spare");
    let (tom, jonas) = (public_key("tom"), public_key("jonas"));
    // In an order in which each can be done; on the left what the documents show.
    let table: Vec<(&str, String)> = vec![
        ("underlit verify", "verify".into()),
        ("underlit verify --explain DIGEST", format!("verify --explain {digest}")),
        (
            r#"underlit verify --at "$COMMIT" --fingerprint …"#,
            format!("verify --at HEAD --fingerprint {fingerprint}"),
        ),
        (
            "underlit verify --at COMMIT --fingerprint a4bd8ee3655b…",
            format!("verify --at HEAD --fingerprint {fingerprint}"),
        ),
        ("underlit history --long", "history --long".into()),
        ("underlit guard install", format!("guard install {bare}")),
        ("guard install --seconds", format!("guard install {bare} --seconds 60")),
        ("underlit roster add-key PERSON NEW.pub", format!("roster add-key tom {spare}")),
        (
            "underlit roster retire-key PERSON OLD.pub --keep-all",
            format!("roster retire-key tom {tom} --keep-all"),
        ),
        ("underlit roster add-key PERSON NEW.pub", format!("roster add-key tom {jonas}")),
        (
            "underlit roster retire-key PERSON OLD.pub --compromised --keep-as-of COMMIT",
            format!("roster retire-key tom {spare} --compromised --keep-as-of HEAD"),
        ),
        ("underlit roster roles", "roster roles tom designer --keep-all".into()),
        (
            r#"underlit roster rename PERSON --name "FULL NAME""#,
            r#"roster rename imke --name "Imke Vale""#.into(),
        ),
        ("underlit reopen PROJECT STAGE --reason …", "reopen quay-desk rendering --reason again".into()),
        ("underlit sync", "sync --offline".into()),
        ("underlit part --past", "part --past".into()),
        ("underlit guide tools", "guide tools".into()),
        ("underlit resolve PROJECT", "resolve quay-desk".into()),
        ("underlit resolve --shop", "resolve --shop".into()),
        ("underlit stock-git setup", "stock-git setup".into()),
        ("underlit check --repair", "check --repair".into()),
        ("underlit pages DIR", "pages ../quay-pages --dry-run".into()),
    ];
    let run: BTreeSet<String> = table.iter().map(|(shown, _)| (*shown).to_owned()).collect();
    // Words about a command that a line of the table runs, or that another test does.
    let elsewhere = [
        "underlit guard",
        "guard install",
        "guard check",
        "guard range",
        "underlit init",
        "underlit roster redo",
        "underlit guide sharing",
        "underlit packet",
        "underlit label",
        "underlit request sheet",
        "underlit roster seal",
        "underlit pages --watch DIR",
        "underlit resolve PROJECT --ask-again",
        "underlit watch --run 'mail -s \"$UNDERLIT_EVENT\" shop@example.org'",
    ];
    let missing: Vec<&String> =
        shown.iter().filter(|s| !run.contains(*s) && !elsewhere.contains(&s.as_str())).collect();
    assert!(missing.is_empty(), "shown, and run by no test: {missing:?}");
    let stale: Vec<&String> = run.iter().filter(|r| !shown.contains(*r)).collect();
    assert!(stale.is_empty(), "run here, and shown nowhere: {stale:?}");
    for (shown, line) in &table {
        let ran = book.run(line);
        assert!(matches!(ran.code, 0 | 1), "{shown}: underlit {line}\n{}{}", ran.stdout, ran.stderr);
    }
}

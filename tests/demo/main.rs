//! The demo, watched from outside: what it shows, what it leaves behind, and that it can fail.
//!
//! It is run once, in the surroundings of somebody whose own git and agent are set up to disturb it, and under a
//! fixed clock. Not here: what each command does, which is tested where the command is.
#![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use tempfile::TempDir;

const UNDERLIT: &str = env!("CARGO_BIN_EXE_underlit");
const CLOCK: &str = "2026-10-06T12:00:00Z";
const CLONES: [&str; 3] = ["mara", "imke", "runa"];

struct Watched {
    room: TempDir,
    told: String,
}

impl Watched {
    fn harbour(&self) -> PathBuf {
        self.room.path().join("harbour")
    }

    /// A copy of it as the demo left it, for one test that changes it.
    fn spare(&self) -> PathBuf {
        self.room.path().join("spare")
    }

    fn book(&self, person: &str) -> PathBuf {
        self.harbour().join(person).join("book")
    }

    /// What stands between two texts of the story.
    fn between(&self, from: &str, to: &str) -> &str {
        let start = self.told.find(from).unwrap_or_else(|| panic!("{from:?} is not told in:\n{}", self.told));
        let rest = &self.told[start..];
        let end = rest.find(to).unwrap_or_else(|| panic!("{to:?} is not told after {from:?} in:\n{rest}"));
        &rest[..end]
    }
}

/// The demo, run once for all tests.
fn watched() -> &'static Watched {
    static WATCHED: OnceLock<Watched> = OnceLock::new();
    WATCHED.get_or_init(|| {
        let room = TempDir::new().unwrap();
        let home = room.path().join("watcher");
        fs::create_dir(&home).unwrap();
        fs::write(home.join(".gitconfig"), DISTURBING).unwrap();
        let before = everything_in(&home);
        let done = Command::new(UNDERLIT)
            .args(["demo", "--keep", "harbour"])
            .current_dir(room.path())
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap())
            .env("HOME", &home)
            .env("UNDERLIT_CLOCK", CLOCK)
            .env("GIT_DIR", "/nowhere")
            .env("GIT_AUTHOR_NAME", "Somebody Else")
            .env("GIT_SSH_COMMAND", "false")
            .env("SSH_AUTH_SOCK", "/nowhere/agent")
            .env("XDG_CONFIG_HOME", home.join("xdg"))
            .output()
            .unwrap();
        let told = text(&done.stdout);
        assert_eq!(done.status.code(), Some(0), "{told}\n{}", text(&done.stderr));
        assert_eq!(text(&done.stderr), "");
        assert_eq!(everything_in(&home), before, "the home of whoever watches was written to");
        let watched = Watched { room, told };
        let copied =
            Command::new("cp").arg("-R").args([watched.harbour(), watched.spare()]).status().unwrap();
        assert!(copied.success());
        watched
    })
}

/// Settings that would break or change commits, branches and bytes if a command of the story read them.
const DISTURBING: &str = "[user]\n\tname = Somebody Else\n\temail = else@nowhere.invalid\n[commit]\n\tgpgsign = true\n\
    [gpg]\n\tprogram = false\n[init]\n\tdefaultBranch = trunk\n[core]\n\tautocrlf = true\n\thooksPath = /nowhere\n\
    [push]\n\tdefault = nothing\n[transfer]\n\tfsckObjects = nonsense\n";

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn everything_in(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.push((path.clone(), Vec::new()));
            found.extend(everything_in(&path));
        } else {
            found.push((path.clone(), fs::read(&path).unwrap()));
        }
    }
    found.sort();
    found
}

fn git(folder: &Path, args: &[&str]) -> String {
    let done = Command::new("git")
        .arg("-C")
        .arg(folder)
        .args(args)
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .output()
        .unwrap();
    assert!(done.status.success(), "git {args:?} in {}: {}", folder.display(), text(&done.stderr));
    text(&done.stdout) + &text(&done.stderr)
}

fn underlit(home: &Path, book: &Path, args: &[&str]) -> Output {
    Command::new(UNDERLIT)
        .args(args)
        .current_dir(book)
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap())
        .env("HOME", home)
        .env("UNDERLIT_CLOCK", CLOCK)
        .output()
        .unwrap()
}

#[test]
fn a_refused_advance_lists_everything_that_is_missing() {
    let told = watched().between("She tries to move on, and is refused", "mara$ underlit choose");
    for line in [
        "mara$ underlit advance ferry-desk\n",
        "ferry-desk stays at selection: 2 things are missing before rendering",
        "[choice-signed]",
        "[control-named]",
        "who: client: imke",
        "how: underlit sign ferry-desk choice --panel top --as client",
        "(exit code 1)",
    ] {
        assert!(told.contains(line), "{line:?} is missing from:\n{told}");
    }
}

#[test]
fn the_changed_millimetre_makes_both_signatures_stale_and_is_named() {
    let told = watched().between("imke$ underlit status ferry-desk", "A millimetre is fine with her");
    assert_eq!(told.matches("rendering height: 700 mm was signed, now 701 mm").count(), 2, "{told}");
    for line in [
        "stale    Imke Voss (client) approved the rendering for panel top, but it has changed since",
        "stale    Runa Keel (engineer) approved the rendering for panel top, but it has changed since",
        "Imke Voss (client) approved: the choice for panel top — own signature, fits",
    ] {
        assert!(told.contains(line), "{line:?} is missing from:\n{told}");
    }
}

#[test]
fn two_edits_of_one_field_become_a_question_that_is_answered() {
    let told = watched().between("5  Two people change the same thing", "6  The drawing");
    for line in [
        "It stays “2027-02-28” until somebody answers",
        "“2027-03-14”: Imke Voss on ",
        "“2027-03-07”: your edit, Mara Quill on ",
        "settled the project, install date",
    ] {
        assert!(told.contains(line), "{line:?} is missing from:\n{told}");
    }
    let project =
        fs::read_to_string(watched().book("runa").join("projects/ferry-desk/project.json")).unwrap();
    assert!(project.contains("\"install_date\": \"2027-03-14\""), "{project}");
    assert!(!watched().book("runa").join("projects/ferry-desk/conflicts").exists());
}

#[test]
fn it_ends_released_on_the_engineers_list() {
    let told = watched().between("runa$ underlit board --released", "runa$ underlit sync");
    assert!(told.contains("ferry-desk  released") && told.contains("may be built"), "{told}");
    let last = watched().between("mara$ underlit check", "Look around");
    assert!(last.contains("nothing wrong"), "{last}");
}

#[test]
fn what_it_leaves_is_sound_and_the_same_for_everybody() {
    let watched = watched();
    let mut heads = vec![git(&watched.harbour().join("remote.git"), &["rev-parse", "refs/heads/main"])];
    for person in CLONES {
        let book = watched.book(person);
        heads.push(git(&book, &["rev-parse", "HEAD"]));
        assert_eq!(git(&book, &["status", "--porcelain"]), "", "{person}");
        assert_eq!(git(&book, &["symbolic-ref", "HEAD"]), "refs/heads/main\n");
    }
    heads.dedup();
    assert_eq!(heads.len(), 1, "{heads:?}");
    for folder in CLONES.map(|p| watched.book(p)).into_iter().chain([watched.harbour().join("remote.git")]) {
        assert_eq!(git(&folder, &["fsck", "--strict", "--no-progress"]), "", "{}", folder.display());
    }
    let authors = git(&watched.book("mara"), &["log", "--format=%an"]);
    let mut authors: Vec<&str> = authors.lines().collect();
    authors.sort_unstable();
    authors.dedup();
    assert_eq!(authors, ["Imke Voss", "Mara Quill", "Runa Keel"]);
}

#[test]
fn the_story_takes_its_weeks_and_ends_before_now() {
    let days = git(&watched().book("mara"), &["log", "--reverse", "--format=%aI"]);
    let days: Vec<&str> = days.lines().collect();
    assert!(days[0].starts_with("2026-08-24T10:"), "{days:?}");
    assert!(days.iter().all(|day| *day < "2026-10-06T12:00:00"), "{days:?}");
    assert!(days.last().unwrap().starts_with("2026-10-06T1"), "{days:?}");
}

#[test]
fn it_fits_a_terminal_and_uses_no_colour() {
    let told = &watched().told;
    assert!(!told.contains('\u{1b}'));
    for line in told.lines().filter(|line| !line.contains(&*watched().room.path().to_string_lossy())) {
        assert!(line.chars().count() <= 100, "{line}");
    }
}

#[test]
fn what_it_says_to_try_does_what_it_says() {
    let told = watched().between("Look around", "When you have seen enough: rm -r");
    let tried = "underlit choose ferry-desk top --cct 3500";
    assert!(told.contains(tried), "{told}");
    let home = watched().spare().join("mara");
    let book = home.join("book");
    for (args, code, line) in [
        (&["status", "ferry-desk"][..], 0, "may be built"),
        (&["history", "ferry-desk"], 0, "from rendering to released"),
        (&["check"], 0, "nothing wrong"),
        (&tried.split(' ').skip(1).collect::<Vec<_>>(), 0, "3500 K"),
        (&["status", "ferry-desk"], 0, "panel light cct: 4000 K was signed, now 3500 K"),
    ] {
        let done = underlit(&home, &book, args);
        assert_eq!(done.status.code(), Some(code), "{args:?}: {}", text(&done.stderr));
        assert!(text(&done.stdout).contains(line), "{args:?}: {}", text(&done.stdout));
    }
}

#[test]
fn it_takes_no_folder_with_something_in_it_and_touches_nothing_there() {
    let harbour = watched().harbour();
    let before = git(&harbour.join("remote.git"), &["rev-parse", "refs/heads/main"]);
    let done = underlit(&harbour, watched().room.path(), &["demo", "--keep", "harbour"]);
    assert_eq!(done.status.code(), Some(2));
    assert!(text(&done.stderr).contains("[folder-not-empty]"), "{}", text(&done.stderr));
    assert_eq!(text(&done.stdout), "");
    assert_eq!(git(&harbour.join("remote.git"), &["rev-parse", "refs/heads/main"]), before);
}

#[test]
fn options_that_mean_nothing_to_it_are_refused() {
    let room = TempDir::new().unwrap();
    for option in [&["--dry-run"][..], &["--json"], &["--me", "mara"], &["--key", "k"], &["--book", "b"]] {
        let args: Vec<&str> = ["demo", "--keep", "new"].into_iter().chain(option.iter().copied()).collect();
        let done = underlit(room.path(), room.path(), &args);
        assert_eq!(done.status.code(), Some(2), "{option:?}");
        let said = text(&done.stdout) + &text(&done.stderr);
        assert!(said.contains("demo-option") && said.contains(&format!("leave {} out", option[0])), "{said}");
        assert!(!room.path().join("new").exists(), "{option:?}");
    }
}

/// A host that takes no push: the demo stops at that step, with its exit code, its output and the folder.
#[cfg(unix)]
#[test]
fn a_step_that_goes_wrong_ends_it() {
    use std::os::unix::fs::PermissionsExt as _;
    let room = TempDir::new().unwrap();
    let path = std::env::var_os("PATH").unwrap();
    let real = std::env::split_paths(&path).map(|f| f.join("git")).find(|f| f.is_file()).unwrap();
    let script = format!(
        "#!/bin/sh\nfor word; do [ \"$word\" = push ] && {{ echo 'fatal: the host is on fire' >&2; exit 128; }}; done\n\
         exec '{}' \"$@\"\n",
        real.display()
    );
    let programs = room.path().join("programs");
    fs::create_dir(&programs).unwrap();
    fs::write(programs.join("git"), script).unwrap();
    fs::set_permissions(programs.join("git"), fs::Permissions::from_mode(0o755)).unwrap();
    let done = Command::new(UNDERLIT)
        .args(["demo", "--keep", "harbour"])
        .current_dir(room.path())
        .env_clear()
        .env(
            "PATH",
            std::env::join_paths([programs].into_iter().chain(std::env::split_paths(&path))).unwrap(),
        )
        .env("HOME", room.path())
        .output()
        .unwrap();
    let (told, said) = (text(&done.stdout), text(&done.stderr));
    assert_eq!(done.status.code(), Some(6), "{told}\n{said}");
    assert!(told.trim_end().lines().last().unwrap().starts_with("    │"), "{told}");
    assert!(told.contains("the host is on fire"), "{told}");
    assert!(said.contains("ended with exit code 6, and the story expects 0 [demo-step]"), "{said}");
    assert!(said.contains(&*room.path().join("harbour").to_string_lossy()), "{said}");
    assert!(!told.contains("Look around"));
}

/// Words in one line each, without the demo's margin, and with a mark where a run has its own: paths, digests, dates
/// and counts of days.
fn comparable(told: &str) -> String {
    let joined = told.replace("\\\n", " ").replace('│', " ").replace(['\n', ','], " ");
    let mut words: Vec<String> = Vec::new();
    for word in joined.split_whitespace() {
        let bare = word.trim_end_matches([':', ']']);
        let is_digest = bare.len() >= 12 && bare.bytes().all(|b| b.is_ascii_hexdigit());
        let is_date = bare.len() == 10 && bare.bytes().all(|b| b.is_ascii_digit() || b == b'-');
        let is_count = bare.len() < 4 && bare.bytes().all(|b| b.is_ascii_digit());
        words.push(if is_digest || is_date || is_count || word.starts_with('/') {
            "*".to_owned()
        } else {
            word.to_owned()
        });
    }
    words.join(" ")
}

#[test]
fn the_tour_of_the_readme_is_what_the_demo_tells() {
    let readme = include_str!("../../README.md");
    let tour = readme.split("## Ten minutes").nth(1).and_then(|rest| rest.split("\n## ").next()).unwrap();
    let told = comparable(&watched().told);
    let quoted: Vec<String> = tour
        .split("```")
        .skip(1)
        .step_by(2)
        .flat_map(|block| block.replace("\\\n", " ").lines().map(ToOwned::to_owned).collect::<Vec<_>>())
        .map(|line| comparable(line.trim_start_matches("$ ")))
        .filter(|line| !line.is_empty() && line != "…")
        .collect();
    assert!(quoted.len() > 35, "the tour quotes only {} lines", quoted.len());
    let untold: Vec<&String> = quoted.iter().filter(|line| !told.contains(line.as_str())).collect();
    assert!(untold.is_empty(), "the readme quotes what the demo does not tell: {untold:#?}");
}

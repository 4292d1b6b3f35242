//! What is remembered of a folder never hides an edit: in a folder that is changed in every way, a look that remembers
//! finds what one finds that knows nothing.
//!
//! More rounds: `UNDERLIT_TEST_LOOKS=2000 cargo test --test git_room seen`.

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::time::Duration;

use underlit::git::{GitError, HandEdit, Repo};

use crate::book::{Stage, commit, read, write};
use crate::dice::{Dice, given};

/// What is kept of the folder.
fn kept(at: &Path) -> PathBuf {
    at.join(".git/underlit/folder")
}

fn look(at: &Path) -> Result<Vec<HandEdit>, GitError> {
    let repo = Repo::open(at).unwrap();
    let lock = repo.lock().unwrap();
    repo.changed_paths_swept(&lock)
}

/// A look that knows nothing, and leaves alone what is kept.
fn afresh(at: &Path) -> Result<Vec<HandEdit>, GitError> {
    let aside = at.with_extension("aside");
    let had = fs::rename(kept(at), &aside).is_ok();
    let found = Repo::open(at).unwrap().changed_paths("");
    if had {
        fs::rename(&aside, kept(at)).unwrap();
    }
    found
}

/// Long enough for the clock of the disk to tell two changes apart with certainty.
fn settle() {
    std::thread::sleep(Duration::from_millis(130));
}

/// A book in which everything is committed, and an earlier look is kept.
fn looked_at(stage: &Stage) -> PathBuf {
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    for project in ["arch", "bar", "desk"] {
        write(&at, &format!("projects/{project}/project.json"), "{}\n");
        for panel in ["one", "two"] {
            write(&at, &format!("projects/{project}/panels/{panel}.json"), "{\"n\": 1}\n");
        }
    }
    write(&at, ".gitignore", "*.tmp\n/private/\n");
    commit(&repo, &[""], "Mara", 1_800_000_000).unwrap();
    settle();
    assert_eq!(look(&at).unwrap(), []);
    assert!(kept(&at).exists());
    at
}

fn names(found: &[HandEdit]) -> Vec<&str> {
    found.iter().map(|edit| edit.path.as_str()).collect()
}

#[test]
fn an_edit_that_keeps_size_and_time_is_found() {
    let stage = Stage::new();
    let at = looked_at(&stage);
    let path = at.join("projects/bar/panels/one.json");
    let before = path.metadata().unwrap().modified().unwrap();
    fs::write(&path, "{\"n\": 2}\n").unwrap();
    fs::File::options().write(true).open(&path).unwrap().set_modified(before).unwrap();
    assert_eq!(names(&look(&at).unwrap()), ["projects/bar/panels/one.json"]);
    // It stays an edit until it is taken in or taken back.
    settle();
    assert_eq!(names(&look(&at).unwrap()), ["projects/bar/panels/one.json"]);
    fs::write(&path, "{\"n\": 1}\n").unwrap();
    assert_eq!(names(&look(&at).unwrap()), [""; 0]);
}

#[test]
fn an_edit_right_after_a_look_is_found() {
    let stage = Stage::new();
    let at = looked_at(&stage);
    let path = at.join("projects/bar/project.json");
    for round in 0..40 {
        // The same file, size and, on most disks now and then, the same time: within one tick of the clock.
        fs::write(&path, "{}\n").unwrap();
        assert_eq!(look(&at).unwrap(), []);
        fs::write(&path, "[]\n").unwrap();
        assert_eq!(names(&look(&at).unwrap()), ["projects/bar/project.json"], "round {round}");
    }
}

#[test]
fn what_git_is_told_to_ignore_is_followed() {
    let stage = Stage::new();
    let at = looked_at(&stage);
    write(&at, "private/diary.txt", "dear");
    write(&at, "projects/bar/x.tmp", "x");
    assert_eq!(look(&at).unwrap(), []);
    settle();
    assert_eq!(look(&at).unwrap(), []);
    // A list within the book, one of this clone, one of the user's settings.
    write(&at, ".gitignore", "/private/\n");
    assert_eq!(names(&look(&at).unwrap()), [".gitignore", "projects/bar/x.tmp"]);
    fs::create_dir_all(at.join(".git/info")).unwrap();
    fs::write(at.join(".git/info/exclude"), "*.tmp\n").unwrap();
    assert_eq!(names(&look(&at).unwrap()), [".gitignore"]);
    fs::write(at.join(".git/info/exclude"), "").unwrap();
    let list = stage.path("ignored");
    fs::write(&list, "x.*\n").unwrap();
    stage.git(&at, &["config", "core.excludesFile", list.to_str().unwrap()]);
    assert_eq!(names(&look(&at).unwrap()), [".gitignore"]);
    fs::write(&list, "y.*\n").unwrap();
    assert_eq!(names(&look(&at).unwrap()), [".gitignore", "projects/bar/x.tmp"]);
    stage.git(&at, &["add", "-f", "private/diary.txt"]);
    assert_eq!(names(&look(&at).unwrap()), [".gitignore", "private/diary.txt", "projects/bar/x.tmp"]);
}

#[test]
fn a_file_in_a_folder_that_was_empty_is_found() {
    let stage = Stage::new();
    let at = looked_at(&stage);
    fs::create_dir_all(at.join("projects/bar/empty/within")).unwrap();
    assert_eq!(look(&at).unwrap(), []);
    settle();
    assert_eq!(look(&at).unwrap(), []);
    write(&at, "projects/bar/empty/within/x.json", "{}");
    assert_eq!(names(&look(&at).unwrap()), ["projects/bar/empty/within/x.json"]);
}

#[test]
fn what_is_kept_and_is_not_sound_is_not_used() {
    let stage = Stage::new();
    let at = looked_at(&stage);
    let whole = fs::read(kept(&at)).unwrap();
    write(&at, "projects/bar/project.json", "{ }\n");
    for bytes in [&whole[..whole.len() / 2], b"", b"underlit folder 0\n"] {
        fs::write(kept(&at), bytes).unwrap();
        assert_eq!(names(&look(&at).unwrap()), ["projects/bar/project.json"]);
    }
    fs::remove_file(kept(&at)).unwrap();
    fs::create_dir(kept(&at)).unwrap();
    assert_eq!(names(&look(&at).unwrap()), ["projects/bar/project.json"]);
    // One that belongs to another place, as in a copy of the whole folder.
    fs::remove_dir(kept(&at)).unwrap();
    assert_eq!(names(&look(&at).unwrap()), ["projects/bar/project.json"]);
    let copy = stage.path("copy");
    stage.git(&stage.path(""), &["clone", "-q", at.to_str().unwrap(), copy.to_str().unwrap()]);
    fs::create_dir_all(copy.join(".git/underlit")).unwrap();
    write(&copy, "projects/desk/project.json", "{  }\n");
    fs::copy(kept(&at), kept(&copy)).unwrap();
    assert_eq!(names(&look(&copy).unwrap()), ["projects/desk/project.json"]);
}

/// A folder that is changed at random.
struct Shaken {
    at: PathBuf,
    dice: Dice,
}

impl Shaken {
    /// One change, by a person, an editor or git; what it was.
    fn change(&mut self, stage: &Stage) -> String {
        let project = self.dice.one(&["arch", "bar", "desk", "new"]);
        let folder = match self.dice.below(3) {
            0 => format!("projects/{project}"),
            1 => format!("projects/{project}/panels"),
            _ => format!("projects/{project}/panels/deep"),
        };
        let name = self.dice.one(&["one.json", "two.json", "project.json", "x.tmp", ".gitignore", "sub"]);
        let (path, at) = (format!("{folder}/{name}"), self.at.clone());
        let full = at.join(&path);
        let digit = self.dice.below(10);
        match self.dice.below(16) {
            0..=3 => {
                let text =
                    if name == ".gitignore" { "*.json\n".into() } else { format!("{{\"n\": {digit}}}\n") };
                let _ = fs::create_dir_all(at.join(&folder));
                let _ = fs::write(&full, text);
                format!("write {path}")
            }
            4 => {
                let _ = fs::remove_file(&full);
                format!("remove {path}")
            }
            5 => {
                let _ = fs::remove_dir_all(at.join(&folder));
                format!("remove {folder}/")
            }
            6 => {
                let _ = fs::rename(at.join("projects/bar"), at.join("projects/new"));
                "move bar to new".into()
            }
            7 => {
                let _ = fs::rename(at.join("projects/new"), at.join("projects/bar"));
                "move new to bar".into()
            }
            // Seldom a link in place of a list: from then on nothing is remembered.
            8 if name != ".gitignore" || digit == 0 => {
                let _ = fs::remove_file(&full);
                let _ = symlink("../elsewhere", &full);
                format!("link {path}")
            }
            9 => {
                let mode = if digit < 5 { 0o755 } else { 0o644 };
                if full.is_file() {
                    let _ = fs::set_permissions(&full, fs::Permissions::from_mode(mode));
                }
                format!("mode {path}")
            }
            10 => {
                // The same size and time as before, with another content, by way of another file.
                if let (Ok(text), Ok(found)) = (fs::read(&full), full.metadata())
                    && found.is_file()
                {
                    let other = full.with_extension("swap");
                    let _ = fs::write(&other, text.iter().map(|b| b.wrapping_add(1)).collect::<Vec<u8>>());
                    let file = fs::File::options().write(true).open(&other).unwrap();
                    file.set_modified(found.modified().unwrap()).unwrap();
                    let _ = fs::rename(&other, &full);
                }
                format!("swap {path}")
            }
            11 => {
                let _ = fs::create_dir_all(&full);
                format!("folder {path}")
            }
            12 => {
                stage.try_git(&at, &["add", "-A"]);
                "git add".into()
            }
            13 => {
                stage.try_git(&at, &["add", "-A"]);
                stage.try_git(&at, &["commit", "-q", "-m", "by hand"]);
                "git commit".into()
            }
            14 => {
                stage.try_git(&at, &["reset", "-q", self.dice.one(&["--hard", "--mixed"]), "HEAD~1"]);
                "git reset".into()
            }
            _ => {
                let words = self.dice.one(&[
                    "stash -q -u",
                    "stash pop -q",
                    "checkout -q -- .",
                    "rm -q -r --cached .",
                ]);
                stage.try_git(&at, &words.split(' ').collect::<Vec<_>>());
                format!("git {words}")
            }
        }
    }
}

#[test]
fn a_look_that_remembers_finds_what_one_finds_that_knows_nothing() {
    let stage = Stage::new();
    let at = looked_at(&stage);
    let mut shaken = Shaken { at: at.clone(), dice: Dice(given("UNDERLIT_TEST_SEED", 1)) };
    let (mut found_some, mut kept_some) = (0, 0);
    let mut told = Vec::new();
    for round in 0..given("UNDERLIT_TEST_LOOKS", 60) {
        for _ in 0..=shaken.dice.below(3) {
            told.push(shaken.change(&stage));
        }
        if shaken.dice.below(3) == 0 {
            settle();
        }
        let remembered = look(&at).map_err(|e| e.to_string());
        let expected = afresh(&at).map_err(|e| e.to_string());
        assert_eq!(remembered, expected, "round {round}: {:?}", &told[told.len().saturating_sub(12)..]);
        let again = look(&at).map_err(|e| e.to_string());
        assert_eq!(again, expected, "round {round}, again: {:?}", &told[told.len().saturating_sub(12)..]);
        found_some += u32::from(expected.is_ok_and(|edits| !edits.is_empty()));
        kept_some += u32::from(kept(&at).exists());
    }
    assert!(found_some > 10 && kept_some > 10, "{found_some} with edits, {kept_some} kept");
    assert_eq!(read(&at, "projects/../.git/HEAD"), "ref: refs/heads/main\n");
}

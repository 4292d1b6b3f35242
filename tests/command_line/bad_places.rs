//! A book in a state in which nothing may be written: no remote, another git at work, no room on the disk, no right to
//! write. Each is refused with what to do about it, and leaves the book as it was.

use std::fs;
use std::os::unix::fs::{PermissionsExt as _, chown};
use std::path::Path;
use std::process::Command;

use crate::stages;
use crate::workshop::{Desk, Place, Ran, copy_folder, home, words};

const WRITES: &str = "swatch change quay-desk alba --lot B-17";

#[test]
fn sync_without_a_remote_or_with_one_that_is_gone() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.unchanged(|b| {
        b.run("sync").fails(6, "no-remote").says(&["git remote add origin ADDRESS"]);
        b.run("sync --remote hub").fails(6, "no-remote").says(&["git remote add hub ADDRESS"]);
        b.run("sync --offline").done().says(&["no remote: nothing new on either side"]);
    });
    book.git(&format!("remote add origin {}", place.path("gone.git").display()));
    book.unchanged(|b| {
        b.run("sync").fails(6, "remote-gone").says(&["git remote set-url origin ADDRESS"]);
        let json = b.run("sync --json").code(6).json();
        assert_eq!(json["error"]["code"], "remote-gone");
    });
    // The work goes on without it.
    book.run(WRITES).done();
    // A remote that holds another book.
    let other = Place::new();
    let stranger = other.copy(stages::intake(), "mara");
    fs::remove_dir_all(stranger.path(".git")).unwrap();
    stranger.git("init -q -b main");
    stranger.git("add .");
    stranger.git("commit -q -m other");
    book.git(&format!("remote set-url origin {}", stranger.at.display()));
    let state = (book.git("rev-parse HEAD"), book.git("status --porcelain"));
    book.run("sync").fails(6, "git-unrelated");
    assert_eq!(state, (book.git("rev-parse HEAD"), book.git("status --porcelain")));
    book.sound();
}

#[test]
fn in_the_middle_of_another_git_operation() {
    let place = Place::new();
    let good = place.copy(stages::intake(), "mara");
    let file = "projects/quay-desk/project.json";
    good.git("checkout -q -b side");
    good.edit(file, "Quay hall", "Side hall");
    good.git("commit -q -a -m side");
    good.git("checkout -q main");
    good.edit(file, "Quay hall", "Main hall");
    good.git("commit -q -a -m main");
    for (number, (begin, operation, end)) in [
        ("merge side", "merge", "merge --abort"),
        ("rebase side", "rebase", "rebase --abort"),
        ("cherry-pick side", "cherry-pick", "cherry-pick --abort"),
    ]
    .into_iter()
    .enumerate()
    {
        let book = place.copy_as(&good.at, &format!("busy-{number}"), "mara");
        assert!(!book.git_tries(begin).status.success(), "{begin} stops half way");
        book.unchanged(|b| {
            // Read what lies there with the half-done file put aside, as both sides had it.
            for line in ["sync", WRITES, "advance quay-desk", "roster threshold 1"] {
                b.run(line)
                    .fails(6, "git-busy")
                    .says(&[&format!("a git {operation} is half done"), "--abort"]);
            }
        });
        book.git(end);
        book.run(WRITES).done();
        book.sound();
    }
}

#[test]
fn with_a_detached_head() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.git("checkout -q --detach");
    book.unchanged(|b| {
        for line in ["sync", WRITES, "advance quay-desk", "sign quay-desk choice --panel front --yes"] {
            b.run(line).fails(6, "git-detached-head").says(&["git switch main"]);
        }
        b.run("status quay-desk").done();
        b.run("board").done();
    });
    book.git("switch -q main");
    book.run(WRITES).done();
    book.sound();
}

#[test]
fn while_another_underlit_works() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let lock =
        fs::OpenOptions::new().create(true).append(true).open(book.path(".git/underlit/lock")).unwrap();
    lock.lock().unwrap();
    book.unchanged(|b| {
        b.run(WRITES).fails(6, "book-in-use").says(&["wait until it is done"]);
        b.run("sync").fails(6, "book-in-use");
        b.run("status quay-desk").done();
    });
    lock.unlock().unwrap();
    book.run(WRITES).done();
    // A lock that git left behind after a crash.
    fs::write(book.path(".git/index.lock"), "").unwrap();
    let before = (book.git("rev-parse HEAD"), book.text("projects/quay-desk/swatches/alba.json"));
    book.run("swatch change quay-desk alba --lot C-18")
        .fails(6, "git-locked")
        .says(&["underlit check --repair"]);
    assert_eq!(before, (book.git("rev-parse HEAD"), book.text("projects/quay-desk/swatches/alba.json")));
    fs::remove_file(book.path(".git/index.lock")).unwrap();
    book.run("swatch change quay-desk alba --lot C-18").done();
    book.sound();
}

/// Everything below a folder, with nobody's right to write; owned by this user of no rights, where we are root.
fn write_protect(folder: &Path, owner: Option<u32>) {
    for entry in fs::read_dir(folder).unwrap().flatten() {
        if entry.file_type().unwrap().is_dir() {
            write_protect(&entry.path(), owner);
        } else {
            fs::set_permissions(entry.path(), fs::Permissions::from_mode(0o444)).unwrap();
            if let Some(owner) = owner {
                chown(entry.path(), Some(owner), Some(owner)).unwrap();
            }
        }
    }
    fs::set_permissions(folder, fs::Permissions::from_mode(0o555)).unwrap();
    if let Some(owner) = owner {
        chown(folder, Some(owner), Some(owner)).unwrap();
    }
}

fn permit(folder: &Path) {
    fs::set_permissions(folder, fs::Permissions::from_mode(0o755)).unwrap();
    for entry in fs::read_dir(folder).unwrap().flatten() {
        if entry.file_type().unwrap().is_dir() {
            permit(&entry.path());
        } else {
            fs::set_permissions(entry.path(), fs::Permissions::from_mode(0o644)).unwrap();
        }
    }
}

#[test]
fn in_a_folder_that_may_not_be_written() {
    const NOBODY: u32 = 65534;
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let before = book.state();
    // Root may write anywhere, so where the tests run as root, the command runs as a user of no rights.
    let root = fs::metadata("/proc/self").map(|m| std::os::unix::fs::MetadataExt::uid(&m)).unwrap_or(1) == 0;
    let at_home = place.path("home");
    copy_folder(&home("mara"), &at_home);
    let binary = place.path("underlit");
    fs::copy(env!("CARGO_BIN_EXE_underlit"), &binary).unwrap();
    fs::set_permissions(place.path(""), fs::Permissions::from_mode(0o755)).unwrap();
    write_protect(&book.at, root.then_some(NOBODY));
    if root {
        for file in [
            at_home.clone(),
            at_home.join(".ssh"),
            at_home.join(".ssh/id_ed25519"),
            at_home.join(".ssh/id_ed25519.pub"),
        ] {
            chown(file, Some(NOBODY), Some(NOBODY)).unwrap();
        }
    }
    let run = |line: &str| {
        let mut command = if root {
            let mut command = Command::new("setpriv");
            command.args(["--reuid=65534", "--regid=65534", "--clear-groups", "--"]).arg(&binary);
            command
        } else {
            Command::new(&binary)
        };
        command
            .args(words(line))
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap())
            .env("HOME", &at_home)
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("UNDERLIT_CLOCK", "2026-09-01T08:00:00Z")
            .current_dir(&book.at);
        Ran::of(line, command.output().expect("the binary, or setpriv before it, runs"))
    };
    // Reading needs no right to write.
    for line in ["status quay-desk", "board", "history quay-desk", "check"] {
        run(line).done();
    }
    for line in [WRITES, "advance quay-desk", "sync --offline", "draw quay-desk front", "roster threshold 1"]
    {
        run(line).fails(6, "git-not-writable").says(&["make the folder writable for you"]);
    }
    let into = place.path("new");
    let line = format!("init {} --shop Tern --owner mara --owner-name Mara", into.display());
    if root {
        // The place itself is root's.
        run(&line).code(6).says(&["Fix: "]);
        assert!(!into.exists());
    }
    permit(&book.at);
    if root {
        for entry in walk(&book.at) {
            chown(entry, Some(0), Some(0)).unwrap();
        }
    }
    assert_eq!(before, book.state());
    book.run(WRITES).done();
    book.sound();
}

/// Runs a command line with one of these set otherwise in its environment.
fn where_set(book: &Desk, line: &str, name: &str, value: &str) -> Ran {
    Ran::of(line, book.command().args(words(line)).env(name, value).output().unwrap())
}

#[test]
fn without_a_temporary_folder_or_a_home() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let file = place.file("no-folder", "");
    for (name, value) in
        [("TMPDIR", file.as_str()), ("TMPDIR", "/proc"), ("HOME", "/nowhere"), ("HOME", "/proc")]
    {
        for line in ["board", "status quay-desk", "check", "history quay-desk", "dates quay-desk"] {
            let ran = where_set(&book, line, name, value);
            assert!(ran.code <= 1, "{name}={value} {line}: {ran:?}");
            assert_eq!(ran.stdout, book.run(line).stdout, "{name}={value} {line}");
        }
    }
    let sign = "sign quay-desk choice --panel front --me imke --yes";
    let imke = Desk { person: "imke", ..book.clone() };
    book.unchanged(|_| {
        let ran = where_set(&imke, sign, "TMPDIR", &file);
        assert!(ran.code == 6 && ran.stderr.contains(&file), "{ran:?}");
        let ran = where_set(&imke, sign, "HOME", "/nowhere");
        assert!(ran.code != 0 && ran.stderr.contains("--key FILE"), "{ran:?}");
    });
    let ran = where_set(&book, "verify", "TMPDIR", &file);
    assert_eq!(ran.code, 0, "{ran:?}");
    where_set(&book, WRITES, "TMPDIR", &file).code(0);
    book.sound();
}

/// A book on a disk that may only be read, in a mount namespace that ends with the script.
#[test]
fn on_a_disk_that_may_only_be_read() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    // As a stock clone, in which this program kept nothing yet.
    fs::remove_dir_all(book.path(".git/underlit")).unwrap();
    let script = r#"
set -eu
mount --bind "$BOOK" "$BOOK"
mount -o remount,ro,bind "$BOOK"
cd "$BOOK"
for line in board "status quay-desk" "history quay-desk" check "dates quay-desk" "changes quay-desk" verify; do
  "$UNDERLIT" $line >/dev/null 2>"$OUT" || { [ $? = 1 ] || { echo "$line: $(cat "$OUT")"; exit 9; }; }
done
code=0; "$UNDERLIT" swatch change quay-desk alba --lot B-17 --me mara >"$OUT" 2>&1 || code=$?
[ "$code" = 6 ] && grep -q "Fix: " "$OUT" || { echo "wrote: $code $(cat "$OUT")"; exit 9; }
"#;
    let mut command = Command::new("unshare");
    command.args(["-m", "sh", "-c", script]);
    for (key, value) in book.command().get_envs() {
        command.env(key, value.unwrap_or_default());
    }
    command
        .env("BOOK", &book.at)
        .env("OUT", place.path("out"))
        .env("UNDERLIT", env!("CARGO_BIN_EXE_underlit"));
    let ran = command.output().unwrap();
    let said = String::from_utf8_lossy(&ran.stdout).into_owned();
    // Without the right to mount, nothing can be tried here.
    assert_ne!(ran.status.code(), Some(9), "{said}");
}

fn walk(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut all = vec![folder.to_path_buf()];
    for entry in fs::read_dir(folder).unwrap().flatten() {
        if entry.file_type().unwrap().is_dir() {
            all.extend(walk(&entry.path()));
        } else {
            all.push(entry.path());
        }
    }
    all
}

#[test]
fn a_file_stands_where_a_folder_belongs() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.write("projects/quay-desk/requests", "not a folder");
    book.unchanged(|b| {
        b.run("check").code(3).says(&["projects/quay-desk/requests", "[not-of-a-book]"]);
        b.run(r#"request ask quay-desk first --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4""#)
            .code(3)
            .says(&["projects/quay-desk/requests", "Fix: "]);
    });
    fs::remove_file(book.path("projects/quay-desk/requests")).unwrap();
    let taken = place.file("taken", "a file");
    place
        .run("mara", &format!("init {taken} --shop Tern --owner mara --owner-name Mara"))
        .code(2)
        .says(&["[folder-not-empty]"]);
    assert_eq!(fs::read_to_string(&taken).unwrap(), "a file");
    book.run("schemas --into projects/quay-desk/project.json").code(6).says(&["Fix: "]);
    book.sound();
}

/// Runs a command line under strace, which makes one kind of call fail with ENOSPC from its nth use on.
fn disk_fills(book: &Desk, line: &str, call: &str, when: &str) -> Ran {
    let mut command = Command::new("strace");
    command
        .args(["-f", "-qq", "-o", "/dev/null", "-e", &format!("trace={call}")])
        .args(["-e", &format!("inject={call}:error=ENOSPC:when={when}")])
        .arg(env!("CARGO_BIN_EXE_underlit"))
        .args(words(line));
    for (key, value) in book.command().get_envs() {
        if let Some(value) = value {
            command.env(key, value);
        }
    }
    command.current_dir(&book.at);
    Ran::of(line, command.output().expect("strace runs; these tests need it installed"))
}

#[test]
fn on_a_disk_that_fills_up_at_any_flush_or_rename() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let before = book.state();
    let mut refused = 0;
    // A flush that fails goes on failing, as on a disk that stays full; a rename fails once, for it takes little.
    for (call, from_then_on) in [("fsync", "+"), ("/^rename", "")] {
        // The nth call first of all, then a later one: at first nothing gets through, at last everything does.
        for n in [1, 2, 3, 4, 5, 6, 8, 10, 13, 17, 21, 26, 32] {
            let ran = disk_fills(&book, WRITES, call, &format!("{n}{from_then_on}"));
            if ran.code == 0 {
                assert!(refused > 0);
                book.git("reset -q --hard HEAD~1");
                assert_eq!(before, book.state());
                break;
            }
            refused += 1;
            let ran = ran.code(6).says(&["Fix: make room on the disk"]);
            assert_eq!(ran.stdout, "");
            // Whatever was interrupted is settled by whoever takes the lock next; that one changes nothing of its own.
            book.run("project change quay-desk --title x --dry-run").done();
            assert_eq!(before, book.state(), "{call} {n}: {}", ran.stderr);
        }
    }
    assert!(refused > 5, "{refused}");
    book.run(WRITES).done();
    book.sound();
}

#[test]
fn on_a_disk_that_is_really_full() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    // A small disk of its own, in a mount namespace that ends with the script; each round leaves a little more room.
    let script = r#"
set -eu
mount -t tmpfs -o size=3m none "$DISK"
cp -a "$BOOK" "$DISK/book"
cd "$DISK/book"
for room in 0 1 2 3 4 6 8 10 12 16 20 24 32; do
  rm -f "$DISK/filler"
  cat /dev/zero > "$DISK/filler" 2>/dev/null || true
  [ "$room" = 0 ] || truncate -s "-$((room * 4096))" "$DISK/filler"
  code=0
  "$UNDERLIT" swatch change quay-desk alba --lot B-17 >"$OUT/$room.out" 2>"$OUT/$room.err" || code=$?
  rm -f "$DISK/filler"
  echo "$code" >"$OUT/$room.code"
  "$UNDERLIT" project change quay-desk --title x --dry-run >/dev/null 2>"$OUT/$room.dry" || echo failed >>"$OUT/$room.dry"
  cp -a "$DISK/book" "$OUT/$room.book"
  [ "$code" = 0 ] && break
done
exit 0
"#;
    let (disk, out) = (place.path("disk"), place.path("out"));
    fs::create_dir_all(&disk).unwrap();
    fs::create_dir_all(&out).unwrap();
    let run = |flags: &[&str]| {
        let mut command = Command::new("unshare");
        command.args(flags).args(["sh", "-c", script]);
        for (key, value) in book.command().get_envs() {
            if let Some(value) = value {
                command.env(key, value);
            }
        }
        command
            .env("DISK", &disk)
            .env("OUT", &out)
            .env("BOOK", &book.at)
            .env("UNDERLIT", env!("CARGO_BIN_EXE_underlit"))
            .output()
    };
    let mounted =
        [&["-m"][..], &["-r", "-m"][..]].iter().any(|flags| run(flags).is_ok_and(|o| o.status.success()));
    let before = book.state();
    if !mounted {
        // No right to mount anything here: the disk says the same through strace.
        let ran = disk_fills(&book, WRITES, "fsync,fdatasync", "1+").code(6).says(&["make room on the disk"]);
        assert_eq!(ran.stdout, "");
        assert_eq!(before, book.state());
        return;
    }
    let mut codes = Vec::new();
    for room in [0, 1, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 32] {
        let Ok(code) = fs::read_to_string(out.join(format!("{room}.code"))) else { break };
        let code: i32 = code.trim().parse().unwrap();
        let said = fs::read_to_string(out.join(format!("{room}.err"))).unwrap();
        codes.push(code);
        let copy = Desk::new(out.join(format!("{room}.book")), "mara");
        assert_eq!(fs::read_to_string(out.join(format!("{room}.dry"))).unwrap(), "", "room {room}");
        if code == 0 {
            copy.sound();
        } else {
            assert_eq!(code, 6, "room {room}: {said}");
            assert!(said.contains("Fix: make room on the disk"), "room {room}: {said}");
            assert_eq!(before, copy.state(), "room {room}: {said}");
        }
    }
    assert_eq!(codes.first(), Some(&6), "{codes:?}");
    assert_eq!(codes.last(), Some(&0), "{codes:?}");
}

//! A judge that cannot do its work lets nothing in: killed in the middle of it, out of memory, without room on the disk,
//! with a damaged program, with nowhere to speak. Each is done to the real program from outside, by what the machine can
//! do to any process. A judge that notices itself that it is late is in `bounds`.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::{Duration, Instant};

use crate::scene::{Scene, commit_all, git_fed};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, program};

/// The program as it was built.
const JUDGE: &str = env!("CARGO_BIN_EXE_underlit");

/// A guard whose program is a few lines that do something to the machine and then become the real judge.
struct Guarded {
    scene: Scene,
    program: PathBuf,
}

impl Guarded {
    fn of(prepared: &Path) -> Guarded {
        let scene = Scene::unguarded(prepared);
        let program = scene.place.path("judge");
        let guarded = Guarded { scene, program };
        guarded.judges_after("");
        let Scene { place, hub, .. } = &guarded.scene;
        let line = format!("guard install {} --program {}", hub.display(), guarded.program.display());
        place.run("mara", &line).code(0);
        guarded
    }

    fn judges_after(&self, lines: &str) {
        self.is(format!("#!/bin/sh\n{lines}\nexec '{JUDGE}' \"$@\"\n").as_bytes());
    }

    fn is(&self, bytes: &[u8]) {
        // A new file each time: one that still runs cannot be written to.
        let _ = fs::remove_file(&self.program);
        fs::write(&self.program, bytes).unwrap();
        fs::set_permissions(&self.program, fs::Permissions::from_mode(0o755)).unwrap();
    }

    /// Pushes, and whatever comes of it, the branch stays where it was.
    #[track_caller]
    fn keeps_out(&self, what: &str) -> String {
        let before = self.scene.tip();
        let pushed = self.scene.mara.git_tries("push origin HEAD:refs/heads/main");
        let said = String::from_utf8_lossy(&pushed.stderr).into_owned();
        assert!(!pushed.status.success(), "{what}: the push was taken:\n{said}");
        assert_eq!(self.scene.tip(), before, "{what}: the branch moved:\n{said}");
        said
    }
}

/// An honest commit, which the guard takes where it can work.
fn honest(desk: &Desk) {
    desk.run_as("tom", "sign quay-desk release --yes").code(0);
    desk.run("advance quay-desk --to released").done();
}

#[test]
fn out_of_memory_time_files_and_room() {
    let guarded = Guarded::of(stages::signed());
    let mara = &guarded.scene.mara;
    honest(mara);
    let mut stopped = 0;
    for line in [
        // No memory to start with.
        "ulimit -v 8000",
        // A stack that the judge does not fit into.
        "ulimit -s 64",
        // No file may be opened besides the three that are open.
        "ulimit -n 3",
        "cd /; unset GIT_DIR; GIT_DIR=/nowhere; export GIT_DIR",
        // Nobody to speak to, and nothing to read.
        "exec 2>/dev/full >/dev/full",
        "exec 0</dev/null",
        "exec 0<&- 1>&- 2>&-",
    ] {
        guarded.judges_after(line);
        let said = guarded.keeps_out(line);
        stopped += usize::from(said.contains("was stopped, so nothing is taken"));
        // The book that lies there is sound, whatever this machine lacks.
        assert!(!said.contains("put its branch back"), "{line}: {said}");
    }
    assert!(stopped >= 2, "some of these end the judge by force: {stopped}");
    // A little more memory each time: it ends at another place each time, until it has enough.
    let tip = guarded.scene.tip();
    let mut refused = 0;
    for kib in (10_000..2_000_000).step_by(5_000) {
        guarded.judges_after(&format!("ulimit -v {kib}"));
        if mara.git_tries("push origin HEAD:refs/heads/main").status.success() {
            break;
        }
        assert_eq!(guarded.scene.tip(), tip, "{kib} KiB");
        refused += 1;
    }
    assert!(refused >= 2, "it had enough at once");
    assert_eq!(guarded.scene.tip().trim(), mara.git("rev-parse HEAD").trim());
}

/// Nothing is written while a push is judged: neither room on the disk nor a temporary folder is missed.
#[test]
fn without_room_or_a_temporary_folder_it_judges_all_the_same() {
    let guarded = Guarded::of(stages::signed());
    let mara = &guarded.scene.mara;
    guarded.judges_after("ulimit -f 0; TMPDIR=/nowhere/at/all; export TMPDIR");
    mara.write("projects/quay-desk/panels/front.json", "{}\n");
    commit_all(mara, "empties a panel");
    let said = guarded.keeps_out("a panel without anything");
    assert!(said.contains("projects/quay-desk/panels/front.json"), "{said}");
    mara.git("reset -q --hard HEAD~1");
    honest(mara);
    guarded.scene.takes_head(mara);
}

#[test]
fn a_damaged_program() {
    let guarded = Guarded::of(stages::signed());
    let mara = &guarded.scene.mara;
    honest(mara);
    let whole = fs::read(JUDGE).unwrap();
    // An empty file is what a full disk leaves of a program that is put there anew; a shell runs it and finds no fault.
    guarded.is(b"");
    let said = guarded.keeps_out("empty");
    assert!(said.contains("did not say that this push may be taken, so nothing is"), "{said}");
    // What stands at the end of a program as it is built for tests is for its debugger alone.
    for share in [1, 5, 10] {
        guarded.is(&whole[..whole.len() * share / 200]);
        guarded.keeps_out(&format!("{share} parts of 200"));
    }
    // Its own code, written over.
    let mut damaged = whole.clone();
    let middle = damaged.len() / 8;
    damaged[0x18..0x20].fill(0xff);
    damaged[middle..middle + 4096].fill(0);
    guarded.is(&damaged);
    guarded.keeps_out("another entry point");
    guarded.is(b"#!/bin/sh\necho 'underlit guard: taken'\nexit 5\n");
    guarded.keeps_out("says one thing and ends with another");
    guarded.judges_after("");
    guarded.scene.takes_head(mara);
}

/// More commits than a judge is done with at once.
fn many_commits(desk: &Desk) {
    let head = desk.git("rev-parse HEAD").trim().to_owned();
    let mut import = String::new();
    for number in 0..8_000 {
        let from = if number == 0 { format!("from {head}\n") } else { String::new() };
        import.push_str(&format!(
            "commit refs/heads/main\ncommitter x <x@x.invalid> 1800000000 +0000\ndata 1\nx\n{from}M 100644 inline README.md\ndata 6\n{number:05}\n\n"
        ));
    }
    git_fed(desk, &["fast-import", "--quiet", "--force"], import.as_bytes());
}

#[test]
fn killed_in_the_middle_of_its_work() {
    let guarded = Guarded::of(stages::roster());
    let mara = &guarded.scene.mara;
    many_commits(mara);
    let note = guarded.scene.place.path("pid");
    for signal in ["KILL", "TERM", "ABRT", "XCPU"] {
        guarded.judges_after(&format!("echo $$ > '{0}.new'; mv '{0}.new' '{0}'", note.display()));
        let before = guarded.scene.tip();
        let push = program("git", "mara")
            .current_dir(&mara.at)
            .args(["push", "origin", "HEAD:refs/heads/main"])
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let pid = judge_at_work(&note);
        let killed = program("sh", "mara").args(["-c", &format!("kill -{signal} {pid}")]).output().unwrap();
        assert!(killed.status.success(), "{}", String::from_utf8_lossy(&killed.stderr));
        let output = push.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!output.status.success(), "{signal}: {said}");
        assert!(said.contains("was stopped, so nothing is taken"), "{signal}: {said}");
        assert_eq!(guarded.scene.tip(), before, "{signal}");
        fs::remove_file(&note).unwrap();
    }
}

/// The process of the judge, once it is the real program and has worked for a moment.
fn judge_at_work(note: &Path) -> u32 {
    let begun = Instant::now();
    let judge = fs::canonicalize(JUDGE).unwrap();
    loop {
        assert!(begun.elapsed() < Duration::from_secs(120), "the judge never began");
        std::thread::sleep(Duration::from_millis(5));
        let Some(pid) = fs::read_to_string(note).ok().and_then(|text| text.trim().parse::<u32>().ok()) else {
            continue;
        };
        if fs::read_link(format!("/proc/{pid}/exe")).is_ok_and(|exe| exe == judge) {
            std::thread::sleep(Duration::from_millis(50));
            return pid;
        }
    }
}

#[test]
fn a_bad_push_is_not_taken_whatever_happens_to_the_judge() {
    let guarded = Guarded::of(stages::signed());
    let mara = &guarded.scene.mara;
    mara.write(&format!("{PROJECT}/stray.exe"), "MZ");
    commit_all(mara, "stray");
    let mut judged = 0;
    for kib in [10_000, 40_000, 80_000, 120_000, 160_000, 240_000, 300_000] {
        guarded.judges_after(&format!("ulimit -v {kib}"));
        judged += usize::from(guarded.keeps_out(&format!("{kib} KiB")).contains("[not-of-a-book]"));
    }
    assert!((1..7).contains(&judged), "{judged} of 7 had memory enough to say why");
}

//! Nothing hangs: a remote that says nothing is given up, whatever the address; meanwhile others work on the book;
//! whoever has to wait for the lock waits some seconds and is told for whom; nobody keeps it while a person is asked;
//! and however a sync ends, no process of it is left.

use std::fs;
use std::io::{Read as _, Write as _};
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::stages;
use crate::workshop::{Desk, Place, Ran, copy_folder, words};

const WRITES: &str = "swatch change quay-desk alba --lot B-17";

/// A host that takes every call and answers with these bytes, and then with nothing.
fn host(answer: &'static [u8]) -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        let mut calls = Vec::new();
        for mut call in listener.incoming().flatten() {
            let _ = call.read(&mut [0; 4096]);
            let _ = call.write_all(answer);
            calls.push(call);
        }
    });
    port
}

fn script(place: &Place, name: &str, text: &str) -> String {
    let file = place.file(name, format!("#!/bin/sh\n{text}\n"));
    fs::set_permissions(&file, fs::Permissions::from_mode(0o755)).unwrap();
    file
}

/// The command lines of the processes that were started with this mark in their environment.
fn left(mark: &str) -> Vec<String> {
    let mut found = Vec::new();
    for process in fs::read_dir("/proc").unwrap().flatten() {
        let of = |file: &str| fs::read(process.path().join(file)).unwrap_or_default();
        if String::from_utf8_lossy(&of("environ")).split('\0').any(|v| v == format!("MARK={mark}")) {
            found.push(String::from_utf8_lossy(&of("cmdline")).replace('\0', " "));
        }
    }
    found
}

#[track_caller]
fn nothing_left(mark: &str) {
    let until = Instant::now() + Duration::from_secs(4);
    while !left(mark).is_empty() && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(50));
    }
    assert_eq!(left(mark), Vec::<String>::new());
}

/// Each kind of address, behind which nobody speaks; with the environment that it takes.
fn silent_addresses(place: &Place) -> Vec<(String, Vec<(&'static str, String)>)> {
    let deaf = script(place, "deaf-ssh", "trap '' TERM HUP INT\nsleep 300 & wait; sleep 300");
    let advertises: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Type: application/x-git-upload-pack-advertisement\r\nContent-Length: 9000\r\n\r\n001e# service=git-upload-pack\n0000";
    let folder = place.path("stuck.git");
    let made = Command::new("git").args(["init", "-q", "--bare"]).arg(&folder).status().unwrap();
    assert!(made.success());
    fs::remove_file(folder.join("HEAD")).unwrap();
    assert!(Command::new("mkfifo").arg(folder.join("HEAD")).status().unwrap().success());
    vec![
        (format!("git://127.0.0.1:{}/book", host(b"")), vec![]),
        (format!("git://127.0.0.1:{}/book", host(b"00b1")), vec![]),
        (format!("http://127.0.0.1:{}/book", host(b"")), vec![]),
        (format!("http://127.0.0.1:{}/book", host(advertises)), vec![]),
        (format!("ssh://somebody@127.0.0.1:{}/book", host(b"")), vec![]),
        ("somebody@nowhere.invalid:book".into(), vec![("GIT_SSH_COMMAND", deaf)]),
        (folder.display().to_string(), vec![]),
    ]
}

fn begin(desk: &Desk, line: &str, mark: &str, environment: &[(&str, String)]) -> Child {
    let mut command = desk.command();
    command.args(words(line)).env("MARK", mark).stdout(Stdio::piped()).stderr(Stdio::piped());
    command.envs(environment.iter().map(|(key, value)| (*key, value)));
    command.spawn().unwrap()
}

fn end(line: &str, child: Child) -> Ran {
    Ran::of(line, child.wait_with_output().unwrap())
}

#[test]
fn a_remote_that_says_nothing_is_given_up_and_hinders_nobody() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    for (nth, (address, environment)) in silent_addresses(&place).into_iter().enumerate() {
        let mark = format!("silent-{}-{nth}", std::process::id());
        let copy = place.path(&format!("silent-{nth}"));
        copy_folder(&book.at, &copy);
        let copy = Desk::new(copy, "mara");
        copy.git(&format!("remote add origin {address}"));
        let mut environment = environment;
        environment.push(("UNDERLIT_SILENCE", "2".into()));
        let began = Instant::now();
        let sync = begin(&copy, "sync", &mark, &environment);
        std::thread::sleep(Duration::from_millis(600));
        assert!(!left(&mark).is_empty(), "{address}: it runs");
        copy.run(WRITES).done();
        assert!(began.elapsed() < Duration::from_secs(2), "{address}: nobody waits for the network");
        let ran = end("sync", sync).fails(6, "remote-silent");
        ran.says(&[
            "the remote origin said nothing for 2 s",
            "your work is safe here",
            "UNDERLIT_SILENCE=10",
        ]);
        assert!(began.elapsed() < Duration::from_secs(8), "{address}: {:?}", began.elapsed());
        assert_eq!(left(&mark), Vec::<String>::new(), "{address}: nothing is left the moment it ends");
        copy.sound();
        // A join leaves nothing either, not even a folder.
        let into = place.path("joined");
        let line = format!("join {address} {} --me mara", into.display());
        end("join", begin(&copy, &line, &mark, &environment)).fails(6, "remote-silent");
        assert!(!into.exists(), "{address}");
        nothing_left(&mark);
    }
    let json = book.git("remote add origin git://127.0.0.1:9/x");
    assert_eq!(json, "");
    let mut command = book.command();
    Ran::of("sync", command.arg("sync").env("UNDERLIT_SILENCE", "soon").output().unwrap())
        .fails(2, "silence");
}

#[test]
fn a_slow_remote_is_waited_for() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.git(&format!("clone -q --bare . {}", place.path("hub.git").display()));
    // Talks now and then for far longer than a remote may be silent, and does its work.
    let slow = script(
        &place,
        "slow-ssh",
        "for n in 1 2 3 4 5 6 7; do printf 'waiting %s\\r' $n >&2; sleep 0.5; done\nshift; exec sh -c \"$*\"",
    );
    book.git(&format!("remote add origin somebody@nowhere.invalid:{}", place.path("hub.git").display()));
    book.run(WRITES).done();
    let environment =
        [("GIT_SSH_COMMAND", slow), ("GIT_SSH_VARIANT", "simple".into()), ("UNDERLIT_SILENCE", "2".into())];
    end("sync", begin(&book, "sync", "slow", &environment)).code(0).says(&["sent"]);
    assert_eq!(book.git("rev-parse HEAD"), book.git("rev-parse origin/main"));
}

/// True where whoever started the tests let them outlive a terminal, as `nohup` does: every child then ignores HUP too.
fn ignores_hangup() -> bool {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    ignored.is_some_and(|mask| u64::from_str_radix(mask.trim(), 16).is_ok_and(|mask| mask & 1 == 1))
}

#[test]
fn a_sync_that_is_ended_leaves_no_process() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let (address, environment) = silent_addresses(&place).remove(5);
    book.git(&format!("remote add origin {address}"));
    let signals = ["INT", "TERM", "HUP", "KILL"];
    for signal in signals.into_iter().filter(|signal| *signal != "HUP" || !ignores_hangup()) {
        for line in ["sync", "watch --every 1"] {
            let mark = format!("ended-{}-{signal}-{}", std::process::id(), line.len());
            let mut child = begin(&book, line, &mark, &environment);
            std::thread::sleep(Duration::from_millis(700));
            assert!(left(&mark).iter().any(|line| line.contains("deaf-ssh")), "{:?}", left(&mark));
            let killed = Command::new("kill").args(["-s", signal, &child.id().to_string()]).status().unwrap();
            assert!(killed.success());
            child.wait().unwrap();
            nothing_left(&mark);
            book.run(WRITES).code(0);
            book.sound();
        }
    }
}

#[test]
fn whoever_waits_for_the_lock_is_told_for_whom() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    // A program that signs slowly, with nobody to be asked: the lock is held.
    let folder = place.path("slow");
    fs::create_dir_all(&folder).unwrap();
    let path = std::env::var("PATH").unwrap();
    let real = std::env::split_paths(&path).map(|at| at.join("ssh-keygen")).find(|at| at.is_file()).unwrap();
    let wrapped = |seconds: u32| {
        script(
            &place,
            "slow/ssh-keygen",
            &format!("case \"$*\" in *sign*) sleep {seconds};; esac\nexec {} \"$@\"", real.display()),
        )
    };
    let sign = "sign quay-desk choice --panel front --me imke --yes";
    let imke = Desk { person: "imke", ..book.clone() };
    let slow = [("PATH", format!("{}:{path}", folder.display()))];
    wrapped(2);
    let signing = begin(&imke, sign, "lock", &slow);
    std::thread::sleep(Duration::from_millis(700));
    book.run(WRITES).done();
    end(sign, signing).done();
    wrapped(9);
    let signing = begin(&imke, &format!("{sign} --reject --comment no"), "lock", &slow);
    std::thread::sleep(Duration::from_millis(700));
    let process = signing.id().to_string();
    let said = [
        "another underlit works on this book: `underlit sign`, process ",
        &process,
        ", since 2",
        &format!("kill {process}"),
    ];
    let began = Instant::now();
    book.run("swatch change quay-desk alba --lot C-18").fails(6, "book-in-use").says(&said);
    assert!(began.elapsed() > Duration::from_secs(4) && began.elapsed() < Duration::from_secs(8));
    book.run("board").code(0);
    end(sign, signing).done();
    book.sound();
}

/// A command at a terminal, whose questions are answered here.
struct AtTerminal {
    child: Child,
    said: std::sync::Arc<std::sync::Mutex<String>>,
}

impl AtTerminal {
    fn begin(desk: &Desk, line: &str) -> AtTerminal {
        let mut child = desk.at_terminal(&format!("underlit {line}")).spawn().expect("script runs");
        let said = std::sync::Arc::new(std::sync::Mutex::new(String::new()));
        let (mut out, into) = (child.stdout.take().unwrap(), said.clone());
        std::thread::spawn(move || {
            let mut bytes = [0; 1024];
            while let Ok(length @ 1..) = out.read(&mut bytes) {
                into.lock().unwrap().push_str(&String::from_utf8_lossy(&bytes[..length]));
            }
        });
        AtTerminal { child, said }
    }

    fn wait_for(&self, text: &str) {
        let until = Instant::now() + Duration::from_secs(20);
        while !self.said.lock().unwrap().contains(text) {
            assert!(Instant::now() < until, "{}", self.said.lock().unwrap());
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    fn answer(mut self, text: &str) -> (i32, String) {
        writeln!(self.child.stdin.as_mut().unwrap(), "{text}").unwrap();
        let code = self.child.wait().unwrap().code().unwrap_or(-1);
        std::thread::sleep(Duration::from_millis(100));
        let said = self.said.lock().unwrap().clone();
        (code, said)
    }
}

#[test]
fn nobody_waits_while_a_person_reads_what_is_to_be_signed() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    let imke = Desk { person: "imke", ..book.clone() };
    let sign = "sign quay-desk choice --panel front --me imke";
    // Another command changes the book meanwhile.
    let asked = AtTerminal::begin(&imke, sign);
    asked.wait_for("Sign this?");
    let began = Instant::now();
    book.run(WRITES).done();
    assert!(began.elapsed() < Duration::from_secs(4), "the lock is free");
    let (code, said) = asked.answer("y");
    assert_eq!(code, 6, "{said}");
    assert!(said.contains("[changed-meanwhile]"), "{said}");
    // An editor does.
    let asked = AtTerminal::begin(&imke, sign);
    asked.wait_for("Sign this?");
    let file = format!("{}/panels/front.json", stages::PROJECT);
    book.edit(&file, "4000", "3000");
    let (code, said) = asked.answer("y");
    assert_eq!(code, 6, "{said}");
    assert!(said.contains("[changed-meanwhile]"), "{said}");
    book.edit(&file, "3000", "4000");
    assert!(book.names(&format!("{}/signoffs", stages::PROJECT), ".json").is_empty());
    // Somebody who only looked is no reason.
    let asked = AtTerminal::begin(&imke, sign);
    asked.wait_for("Sign this?");
    book.run("sync --offline").code(0);
    let (code, said) = asked.answer("y");
    assert_eq!(code, 0, "{said}");
    assert_eq!(book.names(&format!("{}/signoffs", stages::PROJECT), ".json").len(), 1);
    book.sound();
}

/// Runs a command line whose answer goes to a place of the test's choice.
fn into(desk: &Desk, line: &str, out: &str) -> Ran {
    let mut command = desk.command();
    let envs: Vec<_> = command.get_envs().map(|(k, v)| (k.to_owned(), v.map(ToOwned::to_owned))).collect();
    command = Command::new("bash");
    command.args(["-c", &format!("set -o pipefail; \"$0\" {line} {out}"), env!("CARGO_BIN_EXE_underlit")]);
    command.current_dir(&desk.at).env_clear();
    for (key, value) in envs {
        command.env(key, value.unwrap_or_default());
    }
    // What is cut off is no answer to hold to its schema.
    Ran::of(&line.replace("--json", "as JSON"), command.output().unwrap())
}

#[test]
fn an_answer_that_cannot_be_written_is_a_failure_and_one_that_nobody_reads_is_none() {
    assert!(Path::new("/dev/full").exists());
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let reads = [
        "board",
        "status quay-desk",
        "history quay-desk",
        "check",
        "verify",
        "dates quay-desk",
        "changes quay-desk",
        "roster show",
        "plan quay-desk front --dry-run",
        "split quay-desk front",
        "allowed-signers",
        "sync --offline",
        "check --repair",
        "swatch show quay-desk alba",
        "panel show quay-desk front",
        "me mara",
        "calc driver --volts 24 --watts 86.4 --rating-w 96",
        WRITES,
    ];
    for line in reads {
        for form in ["", " --json"] {
            let line = format!("{line}{form}");
            let plain = book.run(&line);
            if plain.stdout.is_empty() || plain.code > 1 {
                continue; // nothing is said there, or a fault on standard error
            }
            let full = into(&book, &line, "> /dev/full");
            assert_eq!(full.code, 6, "{line}: {}", full.stderr);
            assert!(full.stderr.contains("[output]"), "{line}: {}", full.stderr);
            let head = into(&book, &line, "| head -c 1");
            assert!(head.code <= 1, "{line}: {}", head.stderr);
            assert!(
                !head.stderr.contains("panicked") && !head.stderr.contains("[output]"),
                "{line}: {}",
                head.stderr
            );
        }
    }
    // What could not be told is told the next time.
    assert_eq!(into(&book, "watch --once --all", "> /dev/full").code, 6);
    book.run("watch --once --all").code(0).says(&["opened: Quay desk"]);
    for line in ["--help", "sync --help", "--version", "completions bash"] {
        let full = into(&book, line, "> /dev/full");
        assert_eq!(full.code, 6, "{line}: {}", full.stderr);
        assert_eq!(into(&book, line, "| head -1").code, 0, "{line}");
    }
    book.sound();
}

//! Runs the real binary as people do: each with a home folder and a key of their own, a fixed clock, git without
//! anybody's settings, and nothing else of the machine's environment. Not here: what a job looks like
//! (`stages`).

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, SystemTime};

use serde_json::Value;
use tempfile::TempDir;

use crate::answers;

/// The day on which everything happens, unless a test says otherwise.
pub(crate) const DAY: &str = "2026-09-01";

/// Everybody who has a key: on the roster or, like mallory, not.
pub(crate) const PEOPLE: [&str; 6] = ["mara", "imke", "tom", "jonas", "spare", "mallory"];

/// Where this process keeps what its tests share: homes with keys, and prepared books.
pub(crate) fn shared() -> &'static Path {
    static SHARED: OnceLock<PathBuf> = OnceLock::new();
    SHARED.get_or_init(|| {
        let all = Path::new(env!("CARGO_TARGET_TMPDIR")).join("command_line");
        let old = SystemTime::now() - Duration::from_secs(3600);
        for entry in fs::read_dir(&all).into_iter().flatten().flatten() {
            if entry.metadata().and_then(|m| m.modified()).is_ok_and(|at| at < old) {
                let _ = fs::remove_dir_all(entry.path());
            }
        }
        let mine = all.join(std::process::id().to_string());
        let _ = fs::remove_dir_all(&mine);
        fs::create_dir_all(&mine).expect("a folder for the shared books");
        for person in PEOPLE {
            let ssh = mine.join("homes").join(person).join(".ssh");
            fs::create_dir_all(&ssh).expect("a home");
            let made = Command::new("ssh-keygen")
                .args(["-q", "-t", "ed25519", "-N", "", "-C", person, "-f"])
                .arg(ssh.join("id_ed25519"))
                .output()
                .expect("ssh-keygen runs");
            assert!(made.status.success(), "ssh-keygen makes no key for {person}");
        }
        mine
    })
}

/// The home folder of a person.
pub(crate) fn home(person: &str) -> PathBuf {
    shared().join("homes").join(person)
}

/// The public key file of a person.
pub(crate) fn public_key(person: &str) -> String {
    home(person).join(".ssh/id_ed25519.pub").display().to_string()
}

/// The private key file of a person.
pub(crate) fn private_key(person: &str) -> String {
    home(person).join(".ssh/id_ed25519").display().to_string()
}

/// A program with nothing of the machine's environment but where programs lie.
pub(crate) fn program(name: impl AsRef<std::ffi::OsStr>, person: &str) -> Command {
    let mut command = Command::new(name);
    command
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap_or_default())
        .env("HOME", home(person))
        .env("LC_ALL", "C")
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .env("GIT_AUTHOR_NAME", person)
        .env("GIT_AUTHOR_EMAIL", format!("{person}@tern.invalid"))
        .env("GIT_COMMITTER_NAME", person)
        .env("GIT_COMMITTER_EMAIL", format!("{person}@tern.invalid"))
        .stdin(Stdio::null());
    command
}

/// The binary, ready to be given arguments.
pub(crate) fn underlit(person: &str) -> Command {
    let mut command = program(env!("CARGO_BIN_EXE_underlit"), person);
    command.env("UNDERLIT_CLOCK", format!("{DAY}T08:00:00Z"));
    command
}

/// What a run came to.
#[derive(Debug)]
pub(crate) struct Ran {
    what: String,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
    pub(crate) code: i32,
}

impl Ran {
    #[track_caller]
    pub(crate) fn of(what: &str, output: Output) -> Ran {
        let stdout = String::from_utf8(output.stdout).expect("UTF-8 on standard output");
        answers::hold(&words(what), &stdout);
        Ran {
            what: what.to_owned(),
            stdout,
            stderr: String::from_utf8(output.stderr).expect("UTF-8 on standard error"),
            code: output.status.code().unwrap_or(-1),
        }
    }

    /// It ended with this exit code.
    #[track_caller]
    pub(crate) fn code(self, code: i32) -> Ran {
        assert_eq!(self.code, code, "underlit {}\n{}{}", self.what, self.stdout, self.stderr);
        self
    }

    /// It did what it was asked, and had nothing to remark on standard error.
    #[track_caller]
    pub(crate) fn done(self) -> Ran {
        let ran = self.code(0);
        assert_eq!(ran.stderr, "", "underlit {}", ran.what);
        ran
    }

    /// It failed with this exit code: the fault stands on standard error, has this stable code and a remedy, and
    /// nothing claims success on standard output.
    #[track_caller]
    pub(crate) fn fails(self, code: i32, fault: &str) -> Ran {
        let ran = self.code(code);
        let all = format!("underlit {}\n{}{}", ran.what, ran.stdout, ran.stderr);
        assert_eq!(ran.stdout, "", "{all}");
        assert!(ran.stderr.contains(&format!("[{fault}]")), "no [{fault}] in: {all}");
        assert!(ran.stderr.contains("Fix: "), "no remedy in: {all}");
        assert!(!ran.stderr.contains("panicked"), "{all}");
        ran
    }

    /// All these words stand in what it said, on either stream.
    #[track_caller]
    pub(crate) fn says(self, words: &[&str]) -> Ran {
        let all = format!("{}{}", self.stdout, self.stderr);
        for word in words {
            assert!(all.contains(word), "underlit {} says no `{word}`:\n{all}", self.what);
        }
        self
    }

    /// None of these words stand in what it said.
    #[track_caller]
    pub(crate) fn never_says(self, words: &[&str]) -> Ran {
        let all = format!("{}{}", self.stdout, self.stderr);
        for word in words {
            assert!(!all.contains(word), "underlit {} says `{word}`:\n{all}", self.what);
        }
        self
    }

    /// Its answer to a program.
    #[track_caller]
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.stdout)
            .unwrap_or_else(|e| panic!("underlit {}: no JSON: {e}\n{}", self.what, self.stdout))
    }
}

/// Splits a command line as a shell does, with double quotes only.
pub(crate) fn words(line: &str) -> Vec<String> {
    let (mut all, mut word, mut quoted, mut open) = (Vec::new(), String::new(), false, false);
    for letter in line.chars() {
        match letter {
            '"' => (quoted, open) = (!quoted, true),
            ' ' if !quoted => {
                if open {
                    all.push(std::mem::take(&mut word));
                }
                open = false;
            }
            other => {
                word.push(other);
                open = true;
            }
        }
    }
    if open {
        all.push(word);
    }
    all
}

/// A folder of one test's own, gone when it ends.
pub(crate) struct Place {
    folder: TempDir,
}

impl Place {
    pub(crate) fn new() -> Place {
        Place { folder: tempfile::Builder::new().prefix("command-line-").tempdir().expect("a folder") }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// A file beside the books, such as a drawing that a person has.
    pub(crate) fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path = self.path(name);
        fs::create_dir_all(path.parent().expect("inside the place")).expect("made");
        fs::write(&path, bytes).expect("written");
        path.display().to_string()
    }

    /// A copy of a prepared book, in which a person works.
    pub(crate) fn copy(&self, prepared: &Path, person: &'static str) -> Desk {
        self.copy_as(prepared, "book", person)
    }

    pub(crate) fn copy_as(&self, prepared: &Path, name: &str, person: &'static str) -> Desk {
        let at = self.path(name);
        copy_folder(prepared, &at);
        Desk { at, person, day: DAY }
    }

    /// Runs the binary in this folder, outside any book.
    pub(crate) fn run(&self, person: &str, line: &str) -> Ran {
        let output =
            underlit(person).args(words(line)).current_dir(self.folder.path()).output().expect("runs");
        Ran::of(line, output)
    }
}

/// A person at a clone of a book.
#[derive(Clone, Debug)]
pub(crate) struct Desk {
    pub(crate) at: PathBuf,
    pub(crate) person: &'static str,
    pub(crate) day: &'static str,
}

impl Desk {
    pub(crate) fn new(at: PathBuf, person: &'static str) -> Desk {
        Desk { at, person, day: DAY }
    }

    /// The same clone on another day.
    pub(crate) fn on(&self, day: &'static str) -> Desk {
        Desk { day, ..self.clone() }
    }

    /// The command without its arguments, in the clone.
    pub(crate) fn command(&self) -> Command {
        let mut command = underlit(self.person);
        command.current_dir(&self.at).env("UNDERLIT_CLOCK", format!("{}T08:00:00Z", self.day));
        command
    }

    /// A line of the shell at a terminal, with the binary on the search path.
    pub(crate) fn at_terminal(&self, line: &str) -> Command {
        let ours = self.command();
        let mut command = Command::new("script");
        command.env_clear().envs(ours.get_envs().filter_map(|(key, value)| Some((key, value?))));
        let folder = Path::new(env!("CARGO_BIN_EXE_underlit")).parent().unwrap().display();
        let line = format!("PATH='{folder}':\"$PATH\"; {line}");
        // Whoever tests a pager names it.
        command.env("PAGER", "cat");
        command.args(["-qec", &line, "/dev/null"]).current_dir(&self.at);
        command.stdin(Stdio::piped()).stdout(Stdio::piped());
        command
    }

    /// Runs a command line as the person whose clone it is.
    pub(crate) fn run(&self, line: &str) -> Ran {
        Ran::of(line, self.command().args(words(line)).output().expect("the binary runs"))
    }

    /// Runs a command line at this clone as somebody else, who says so and has their own key.
    pub(crate) fn run_as(&self, person: &'static str, line: &str) -> Ran {
        let there = Desk { person, ..self.clone() };
        there.run(&format!("{line} --me {person}"))
    }

    /// Runs stock git in the clone.
    #[track_caller]
    pub(crate) fn git(&self, line: &str) -> String {
        let output = self.git_tries(line);
        let stderr = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "git {line}: {stderr}");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    /// Runs stock git in the clone, whatever comes of it.
    pub(crate) fn git_tries(&self, line: &str) -> Output {
        program("git", self.person).current_dir(&self.at).args(words(line)).output().expect("git runs")
    }

    pub(crate) fn path(&self, file: &str) -> PathBuf {
        self.at.join(file)
    }

    #[track_caller]
    pub(crate) fn bytes(&self, file: &str) -> Vec<u8> {
        fs::read(self.path(file)).unwrap_or_else(|e| panic!("{file}: {e}"))
    }

    #[track_caller]
    pub(crate) fn text(&self, file: &str) -> String {
        String::from_utf8(self.bytes(file)).expect("UTF-8")
    }

    /// Writes a file as an editor would.
    #[track_caller]
    pub(crate) fn write(&self, file: &str, bytes: impl AsRef<[u8]>) {
        let path = self.path(file);
        fs::create_dir_all(path.parent().expect("in the book")).expect("made");
        fs::write(path, bytes).unwrap_or_else(|e| panic!("{file}: {e}"));
    }

    /// Replaces the one place where a text stands in a file.
    #[track_caller]
    pub(crate) fn edit(&self, file: &str, old: &str, new: &str) {
        let text = self.text(file);
        assert_eq!(text.matches(old).count(), 1, "`{old}` stands once in {file}:\n{text}");
        self.write(file, text.replacen(old, new, 1));
    }

    /// The names in a folder of the book that end so, in order.
    pub(crate) fn names(&self, folder: &str, ending: &str) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.path(folder))
            .into_iter()
            .flatten()
            .flatten()
            .filter_map(|e| e.file_name().into_string().ok())
            .filter(|n| n.ends_with(ending))
            .collect();
        names.sort();
        names
    }

    /// Everything that a refused command must leave as it was.
    pub(crate) fn state(&self) -> State {
        let mut files = BTreeMap::new();
        walk(&self.at, &self.at, &mut files);
        State {
            refs: self.git("for-each-ref --format=%(refname):%(objectname)"),
            head: fs::read_to_string(self.path(".git/HEAD")).expect("HEAD"),
            status: self.git("status --porcelain=v1 --untracked-files=all"),
            files,
        }
    }

    /// Does something and holds it to have changed neither history nor folder.
    #[track_caller]
    pub(crate) fn unchanged<T>(&self, deed: impl FnOnce(&Desk) -> T) -> T {
        let before = self.state();
        let done = deed(self);
        let after = self.state();
        assert_eq!(before.status, after.status, "git status");
        assert_eq!(before, after);
        done
    }

    /// The book is in one piece: git finds nothing wrong, nothing is left over, and underlit finds nothing wrong.
    #[track_caller]
    pub(crate) fn sound(&self) {
        self.sound_for_git();
        self.run("check").done().says(&["nothing wrong"]);
    }

    /// The same once everything is committed by stock git.
    #[track_caller]
    pub(crate) fn sound_after_commit(&self) {
        self.git("add --all");
        self.git("commit --quiet -m edited");
        self.sound();
    }

    /// Git finds nothing wrong and nothing is left over.
    #[track_caller]
    pub(crate) fn sound_for_git(&self) {
        let fsck = self.git_tries("fsck --strict --full --no-dangling --no-progress");
        let said = [fsck.stdout, fsck.stderr].concat();
        assert!(fsck.status.success() && said.is_empty(), "{}", String::from_utf8_lossy(&said));
        assert_eq!(self.git("status --porcelain=v1 --untracked-files=all"), "");
    }

    /// How many commits the branch has.
    pub(crate) fn commits(&self) -> usize {
        self.git("rev-list --count HEAD").trim().parse().expect("a number")
    }
}

/// What a refused command must leave as it was.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct State {
    refs: String,
    head: String,
    status: String,
    files: BTreeMap<String, Vec<u8>>,
}

fn walk(root: &Path, folder: &Path, files: &mut BTreeMap<String, Vec<u8>>) {
    for entry in fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        let name = path.strip_prefix(root).expect("inside").display().to_string();
        if name == ".git" {
            continue;
        }
        let kind = entry.file_type().expect("a type");
        if kind.is_dir() {
            files.insert(format!("{name}/"), Vec::new());
            walk(root, &path, files);
        } else if kind.is_symlink() {
            let target = fs::read_link(&path).expect("a link");
            files.insert(name, format!("-> {}", target.display()).into_bytes());
        } else {
            files.insert(name, fs::read(&path).expect("readable"));
        }
    }
}

/// Copies a folder with everything in it as it is.
pub(crate) fn copy_folder(from: &Path, to: &Path) {
    let copied = Command::new("cp").arg("-a").arg(from).arg(to).output().expect("cp runs");
    assert!(copied.status.success(), "{}", String::from_utf8_lossy(&copied.stderr));
}

//! A book with one project and one swatch, in a folder of the test's own, and runs of the real binary in it.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;
use tempfile::TempDir;

/// A folder with a book, gone when the test ends.
pub(crate) struct Book {
    folder: TempDir,
}

/// What a run came to.
pub(crate) struct Ran {
    what: String,
    pub(crate) out: String,
    pub(crate) err: String,
    pub(crate) code: i32,
}

impl Book {
    /// A book with project `quay`, whose room is 200 lx and half reflected, and swatch `honey`, 10 mm of a 10 mm slab.
    pub(crate) fn new() -> Book {
        let book = Book { folder: tempfile::Builder::new().prefix("look-").tempdir().expect("a folder") };
        fs::create_dir(book.file("home")).expect("a home");
        let key = book.file("home/key").display().to_string();
        book.started(&[
            "init",
            "book",
            "--shop",
            "Tern Lights",
            "--owner",
            "mara",
            "--owner-name",
            "Mara Quill",
        ])
        .args(["--roles", "rep,engineer", "--no-passphrase", "--make-key", &key])
        .output()
        .map(|o| assert!(o.status.success(), "{}", String::from_utf8_lossy(&o.stderr)))
        .expect("the binary runs");
        book.run("roster add tove --name Tove --role client").done();
        book.run(
            "open quay --title Quay --client tove --site Quay --mains 230 --code-region iec --ambient-lx 200 --surround-reflectance 0.5 \
             --install-date 2027-03-15",
        )
        .done();
        book.run(
            "swatch add quay honey --stone Honey --material onyx --tone honey --texture veined --thickness 10mm \
             --slab-thickness 10mm",
        )
        .done();
        book
    }

    /// The path of a file beside the book.
    pub(crate) fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes a file beside the book.
    pub(crate) fn put(&self, name: &str, bytes: &[u8]) {
        fs::write(self.file(name), bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
    }

    fn started(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_underlit"));
        command
            .current_dir(self.folder.path())
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap_or_default())
            .env("HOME", self.file("home"))
            .env("LC_ALL", "C")
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("UNDERLIT_CLOCK", "2026-09-01T08:00:00Z")
            .args(args);
        command
    }

    /// Runs a verb in the book; arguments stand apart by blanks, `~` within one stands for a blank.
    pub(crate) fn run(&self, line: &str) -> Ran {
        let args: Vec<String> = line.split_whitespace().map(|a| a.replace('~', " ")).collect();
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let key = self.file("home/key").display().to_string();
        let mut command = self.started(&["--book", "book", "--me", "mara", "--key", &key]);
        let output = command.args(&args).output().expect("the binary runs");
        let out = String::from_utf8(output.stdout).expect("UTF-8");
        crate::answers::hold(&args, &out);
        Ran {
            what: line.into(),
            out,
            err: String::from_utf8(output.stderr).expect("UTF-8"),
            code: output.status.code().unwrap_or(-1),
        }
    }

    /// The swatch's record as it lies on disk.
    pub(crate) fn swatch(&self) -> Value {
        let path = self.file("book/projects/quay/swatches/honey.json");
        serde_json::from_slice(&fs::read(path).expect("the record")).expect("JSON")
    }
}

impl Ran {
    /// It did what it was asked.
    #[track_caller]
    pub(crate) fn done(self) -> Ran {
        assert_eq!(self.code, 0, "{}\n{}{}", self.what, self.out, self.err);
        self
    }

    /// It refused with this exit code and fault, said how to fix it, and claimed nothing.
    #[track_caller]
    pub(crate) fn refused(self, code: i32, fault: &str) -> Ran {
        let all = format!("{}\n{}{}", self.what, self.out, self.err);
        assert_eq!(self.code, code, "{all}");
        assert!(self.err.contains(&format!("[{fault}]")), "no [{fault}]: {all}");
        assert!(self.err.contains("Fix: ") && self.out.is_empty(), "{all}");
        self
    }

    /// Both streams hold these words.
    #[track_caller]
    pub(crate) fn says(self, words: &[&str]) -> Ran {
        let all = format!("{}{}", self.out, self.err);
        for word in words {
            assert!(all.contains(word), "{} says no `{word}`:\n{all}", self.what);
        }
        self
    }

    /// Its answer to a program.
    #[track_caller]
    pub(crate) fn json(self) -> Value {
        let ran = self.done();
        serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{}: {e}\n{}", ran.what, ran.out))
    }
}

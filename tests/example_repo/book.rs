//! The example book copied to a place of its own, with everything that could be written to in sight.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use tempfile::TempDir;

pub(crate) const UNDERLIT: &str = env!("CARGO_BIN_EXE_underlit");
/// The day after the last thing that happened in the book.
pub(crate) const CLOCK: &str = "2026-10-06T09:00:00Z";

/// Where the book lies in the project.
pub(crate) fn original() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("example-repo")
}

/// A copy of the book in a folder with an empty home beside it.
pub(crate) struct Copy {
    room: TempDir,
}

impl Copy {
    pub(crate) fn new() -> Self {
        let room = TempDir::new().unwrap();
        fs::create_dir(room.path().join("home")).unwrap();
        copy(&original(), &room.path().join("outer/book"));
        Copy { room }
    }

    /// The folder with the book and the home in it.
    pub(crate) fn room(&self) -> &Path {
        self.room.path()
    }

    /// The folder around the book.
    pub(crate) fn outer(&self) -> PathBuf {
        self.room.path().join("outer")
    }

    pub(crate) fn book(&self) -> PathBuf {
        self.outer().join("book")
    }

    pub(crate) fn underlit(&self, args: &[&str]) -> Output {
        let output = Command::new(UNDERLIT)
            .args(args)
            .arg("--book")
            .arg(self.book())
            .current_dir(self.room.path())
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap())
            .env("HOME", self.room.path().join("home"))
            .env("UNDERLIT_CLOCK", CLOCK)
            .output()
            .unwrap();
        crate::answers::hold(args, &String::from_utf8_lossy(&output.stdout));
        output
    }

    /// The answer of a command that is done.
    pub(crate) fn said(&self, args: &[&str]) -> String {
        let done = self.underlit(args);
        assert_eq!(done.status.code(), Some(0), "{args:?}: {}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap()
    }

    pub(crate) fn json(&self, args: &[&str]) -> Value {
        let args: Vec<&str> = args.iter().copied().chain(["--json"]).collect();
        serde_json::from_str(&self.said(&args)).unwrap()
    }
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for (path, bytes) in files(from) {
        let path = to.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

/// Every file below a folder with its bytes.
pub(crate) fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_string_lossy().replace('\\', "/");
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    found
}

//! A book with one job in a temporary folder, driven by the real program with a fixed clock and its own home.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use tempfile::TempDir;

/// The day on which everything is done unless a test says otherwise: a Monday.
pub(crate) const MONDAY: &str = "2026-11-02T09:00:00Z";

pub(crate) struct Workshop {
    room: TempDir,
    clock: String,
}

impl Workshop {
    /// A shop with an owner who is also rep, an engineer and a client.
    pub(crate) fn new() -> Self {
        let shop = Workshop { room: TempDir::new().unwrap(), clock: MONDAY.into() };
        fs::create_dir(shop.room.path().join("home")).unwrap();
        for person in ["mara", "tom", "imke"] {
            let key = shop.key(person);
            let made = Command::new("ssh-keygen")
                .args(["-q", "-t", "ed25519", "-N", "", "-C", person, "-f"])
                .arg(&key)
                .status()
                .unwrap();
            assert!(made.success());
        }
        let key = shop.key("mara");
        let init = [
            "init",
            "book",
            "--shop",
            "Tern Point Lightworks",
            "--owner",
            "mara",
            "--owner-name",
            "Mara Quill",
            "--roles",
            "rep",
            "--key",
            key.to_str().unwrap(),
        ];
        let made = shop.program(shop.room.path()).args(init).output().unwrap();
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        for (person, name, role) in [("tom", "Tom Reed", "engineer"), ("imke", "Imke Voss", "client")] {
            let public = format!("{}.pub", shop.key(person).display());
            shop.done(&["roster", "add", person, "--name", name, "--role", role, "--public-key", &public]);
        }
        shop
    }

    /// The job `bar`: two static white panels of one stone, tried, chosen and planned, nothing signed.
    pub(crate) fn with_a_bar() -> Self {
        let shop = Workshop::new();
        shop.done(&[
            "open",
            "bar",
            "--title",
            "Quay bar",
            "--client",
            "imke",
            "--engineer",
            "tom",
            "--site",
            "Quay",
            "--mains",
            "230",
            "--code-region",
            "iec",
            "--install-date",
            "2027-03-15",
        ]);
        shop.done(&[
            "swatch",
            "add",
            "bar",
            "honey",
            "--stone",
            "Honey onyx",
            "--material",
            "onyx",
            "--tone",
            "honey",
            "--texture",
            "banded",
            "--thickness",
            "20mm",
            "--slab-thickness",
            "20mm",
        ]);
        shop.done(&[
            "swatch",
            "measure",
            "bar",
            "honey",
            "first",
            "--bare-lx",
            "1200",
            "--through-lx",
            "120",
            "--panel-cct",
            "3000",
        ]);
        shop.done(&["panel", "add", "bar", "front", "--swatch", "honey", "--size", "1000mmx900mm"]);
        shop.done(&["panel", "add", "bar", "return", "--swatch", "honey", "--size", "500mmx900mm"]);
        shop.done(&[
            "request",
            "ask",
            "bar",
            "first",
            "--swatch",
            "honey",
            "--cct",
            "2700,3000",
            "--face",
            "diffused",
            "--size",
            "300mmx200mm",
            "--address",
            "Quay",
        ]);
        shop.done(&["request", "sent", "bar", "first"]);
        shop.done(&["request", "received", "bar", "first"]);
        shop.done(&[
            "trial",
            "record",
            "bar",
            "warm",
            "--swatch",
            "honey",
            "--request",
            "first",
            "--cct",
            "3000",
            "--face",
            "diffused",
            "--seen",
            "bands glow",
            "--rating",
            "5",
        ]);
        for panel in ["front", "return"] {
            shop.done(&[
                "choose",
                "bar",
                panel,
                "--light",
                "static-white",
                "--cct",
                "3000",
                "--face",
                "diffused",
                "--edges",
                "top,bottom",
                "--volts",
                "24",
                "--mount",
                "tray",
            ]);
            // Only the length is given here: nothing is settled before both can be put on one driver.
            let path = shop.book().join(format!("projects/bar/panels/{panel}.json"));
            let record = fs::read_to_string(&path).unwrap();
            let record =
                record.replacen("\"mount\": \"tray\"", "\"mount\": \"tray\",\n  \"feed_length_m\": 5", 1);
            fs::write(&path, record).unwrap();
        }
        shop.done(&["plan", "bar", "--settle"]);
        shop
    }

    /// Signs everything and moves the job on until it is released.
    pub(crate) fn release(&self) {
        for panel in ["front", "return"] {
            self.signs("imke", &["choice", "--panel", panel]);
        }
        self.signs("tom", &["acknowledgement", "--topic", "cautions"]);
        self.signs("tom", &["release"]);
        for stage in ["sampling", "selection", "rendering", "released"] {
            self.done(&["advance", "bar", "--to", stage]);
        }
    }

    pub(crate) fn signs(&self, person: &str, what: &[&str]) {
        let key = self.key(person);
        let mut args = vec!["--me", person, "--key", key.to_str().unwrap(), "sign", "bar"];
        args.extend(what);
        args.push("--yes");
        self.done(&args);
    }

    pub(crate) fn on(mut self, clock: &str) -> Self {
        self.clock = clock.into();
        self
    }

    pub(crate) fn room(&self) -> &Path {
        self.room.path()
    }

    pub(crate) fn book(&self) -> PathBuf {
        self.room.path().join("book")
    }

    fn key(&self, person: &str) -> PathBuf {
        self.room.path().join(format!("key-{person}"))
    }

    fn program(&self, folder: &Path) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_underlit"));
        command
            .current_dir(folder)
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap())
            .env("HOME", self.room.path().join("home"))
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("UNDERLIT_CLOCK", &self.clock);
        command
    }

    /// Runs the program in the book.
    pub(crate) fn run(&self, args: &[&str]) -> Output {
        self.program(&self.book()).args(args).output().unwrap()
    }

    /// Runs the program and holds it to an exit code; returns what it says.
    pub(crate) fn exits(&self, code: i32, args: &[&str]) -> String {
        let output = self.run(args);
        let said = String::from_utf8(output.stdout).unwrap();
        let aside = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{args:?}\n{said}\n{aside}");
        crate::answers::hold(args, &said);
        said
    }

    pub(crate) fn done(&self, args: &[&str]) -> String {
        self.exits(0, args)
    }

    pub(crate) fn json(&self, code: i32, args: &[&str]) -> Value {
        let mut args = args.to_vec();
        args.push("--json");
        serde_json::from_str(&self.exits(code, &args)).unwrap()
    }

    /// The text of every page of a PDF in the room, page by page.
    pub(crate) fn pages(&self, pdf: &str) -> Vec<String> {
        let text =
            Command::new("pdftotext").args(["-layout", pdf, "-"]).current_dir(self.room()).output().unwrap();
        assert!(text.status.success(), "{}", String::from_utf8_lossy(&text.stderr));
        let text = String::from_utf8(text.stdout).unwrap();
        text.trim_end_matches('\u{c}').split('\u{c}').map(str::to_owned).collect()
    }
}

/// Every file below a folder, by path.
pub(crate) fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    fn walk(root: &Path, at: &Path, found: &mut Vec<(String, Vec<u8>)>) {
        for entry in fs::read_dir(at).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true => walk(root, &path, found),
                false => {
                    let name = path.strip_prefix(root).unwrap().to_str().unwrap().to_owned();
                    found.push((name, fs::read(&path).unwrap()));
                }
            }
        }
    }
    let mut found = Vec::new();
    walk(folder, folder, &mut found);
    found.sort();
    found
}

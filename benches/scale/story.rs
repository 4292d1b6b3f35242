//! Three invented jobs, played from the first swatch to the service card by the real program, each command a commit: what
//! a made book repeats under other names.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use ssh_key::private::{Ed25519Keypair, KeypairData};
use ssh_key::{LineEnding, PrivateKey};

/// The day of every look that is measured.
pub(crate) const TODAY: &str = "2026-11-02T09:00:00Z";

/// Has the shell say on the last line of errors how many seconds a command took, of its own and of the system.
const PROCESSOR_TIME: &str = "TIMEFORMAT='%3U %3S'; time \"$0\" \"$@\"";

/// Who signs, each with a key made from the seed.
const PEOPLE: [&str; 4] = ["mara", "runa", "imke", "bram"];

/// A job to repeat.
pub(crate) struct Template {
    /// Its name, which stands in its files for that of the copy.
    pub(crate) id: &'static str,
    pub(crate) steps: Vec<Step>,
    /// How many steps it takes to reach each stage, from the intake on.
    pub(crate) stages: Vec<usize>,
}

/// One commit of a job.
pub(crate) struct Step {
    /// Seconds since the job's first commit.
    pub(crate) after: i64,
    pub(crate) author: String,
    pub(crate) message: String,
    /// Files by their paths in the job's folder; none where one went.
    pub(crate) files: Vec<(String, Option<Vec<u8>>)>,
}

/// The folder in which everything is made, and the people's keys; and the program that is measured.
pub(crate) struct Workshop {
    pub(crate) folder: PathBuf,
    pub(crate) underlit: String,
    /// True where a command tells the processor time that it and its children took.
    pub(crate) processor: bool,
}

impl Workshop {
    pub(crate) fn new(folder: &Path, seed: u64, underlit: &str, processor: bool) -> Workshop {
        for (nth, person) in PEOPLE.into_iter().enumerate() {
            let home = folder.join("homes").join(person).join(".ssh");
            fs::create_dir_all(&home).unwrap();
            let mut bytes = [nth as u8; 32];
            bytes[..8].copy_from_slice(&seed.to_le_bytes());
            let pair = KeypairData::Ed25519(Ed25519Keypair::from_seed(&bytes));
            let key = PrivateKey::new(pair, person).unwrap();
            let file = home.join("id_ed25519");
            key.write_openssh_file(&file, LineEnding::LF).unwrap();
            let public = format!("{}\n", key.public_key().to_openssh().unwrap());
            fs::write(home.join("id_ed25519.pub"), public).unwrap();
        }
        Workshop { folder: folder.to_owned(), underlit: underlit.to_owned(), processor }
    }

    /// The file of a person's key.
    pub(crate) fn key(&self, person: &str) -> PathBuf {
        self.folder.join("homes").join(person).join(".ssh/id_ed25519")
    }

    /// A program with nothing of the machine's environment but where programs lie.
    pub(crate) fn program(&self, name: &str, person: &str) -> Command {
        let mut command = Command::new(if self.processor { "bash" } else { name });
        if self.processor {
            command.args(["-c", PROCESSOR_TIME, name]);
        }
        command
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap_or_default())
            .env("HOME", self.folder.join("homes").join(person))
            .env("LC_ALL", "C")
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("GIT_AUTHOR_NAME", person)
            .env("GIT_AUTHOR_EMAIL", format!("{person}@example.invalid"))
            .env("GIT_COMMITTER_NAME", person)
            .env("GIT_COMMITTER_EMAIL", format!("{person}@example.invalid"))
            .env("UNDERLIT_CLOCK", TODAY)
            .stdin(Stdio::null());
        command
    }

    /// What stock git says.
    pub(crate) fn git(&self, at: &Path, args: &[&str]) -> Vec<u8> {
        let done = self.program("git", "mara").arg("-C").arg(at).args(args).output().unwrap();
        assert!(done.status.success(), "git {args:?}: {}", String::from_utf8_lossy(&done.stderr));
        done.stdout
    }

    /// A command of underlit in a book, by a person and on a day.
    fn play(&self, book: &Path, day: &str, minute: usize, person: &str, line: &str) {
        let clock = format!("{day}T{:02}:{:02}:00Z", 9 + minute / 60, minute % 60);
        let mut command = self.program(&self.underlit, person);
        command.env("UNDERLIT_CLOCK", clock).arg("--book").arg(book).args(["--me", person]);
        let done = command.args(words(line)).output().unwrap();
        assert!(done.status.success(), "{line}: {}", String::from_utf8_lossy(&done.stderr));
    }

    /// Takes away what is needed only while a book is made.
    pub(crate) fn tidy(&self) {
        for entry in fs::read_dir(&self.folder).unwrap().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            if ["shop", "template-", "bench-"].iter().any(|begin| name.starts_with(begin)) {
                fs::remove_dir_all(entry.path()).unwrap();
            }
        }
    }

    /// The book with its people and no job.
    pub(crate) fn shop(&self) -> PathBuf {
        let book = self.folder.join("shop");
        let key = self.key("mara").display().to_string();
        let mut init = self.program(&self.underlit, "mara");
        init.env("UNDERLIT_CLOCK", "2020-01-06T09:00:00Z").arg("init").arg(&book);
        init.args(["--id", "ternhallow", "--shop", "Ternhallow Lightworks", "--owner", "mara"]);
        let done = init.args(["--owner-name", "Mara Quill", "--roles", "rep", "--key", &key]).output();
        assert!(done.unwrap().status.success(), "the book was not made");
        for (minute, (person, name, roles)) in [
            ("runa", "Runa Keel", "engineer"),
            ("imke", "Imke Voss", "client"),
            ("bram", "Bram Tolle", "fabricator,installer"),
        ]
        .into_iter()
        .enumerate()
        {
            let key = self.key(person).with_extension("pub");
            let line = format!(
                "roster add {person} --name \"{name}\" --role {roles} --public-key {}",
                key.display()
            );
            self.play(&book, "2020-01-07", minute, "mara", &line);
        }
        book
    }

    /// Plays a job in a copy of the book and takes down its commits.
    pub(crate) fn template(&self, shop: &Path, job: &Job) -> Template {
        let book = self.folder.join(job.id);
        copy(shop, &book);
        let count = || self.git(&book, &["rev-list", "HEAD"]).split(|b| *b == b'\n').count() - 1;
        let before = count();
        let mut stages = Vec::new();
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/starter/demo");
        for (scene, day) in job.scenes.iter().zip(DAYS) {
            for (minute, line) in scene.iter().enumerate() {
                let (person, line) = line.split_once(": ").unwrap();
                let line = line.replace("JOB", job.id).replace("DEMO", &demo.display().to_string());
                self.play(&book, day, minute, person, &line);
            }
            stages.push(count() - before);
        }
        let list = self.git(&book, &["rev-list", "--reverse", &format!("HEAD~{}..HEAD", count() - before)]);
        let commits = String::from_utf8(list).unwrap();
        let mut begun = None;
        let steps = commits.lines().map(|commit| {
            let about = self.git(&book, &["show", "-s", "--format=%ct%n%an%n%B", commit]);
            let about = String::from_utf8(about).unwrap();
            let mut parts = about.splitn(3, '\n');
            let at: i64 = parts.next().unwrap().parse().unwrap();
            let after = at - *begun.get_or_insert(at);
            let author = parts.next().unwrap().to_owned();
            let message = parts.next().unwrap().trim_end().to_owned();
            Step { after, author, message, files: self.files(&book, commit, job.id) }
        });
        Template { id: job.id, steps: steps.collect(), stages }
    }

    fn files(&self, book: &Path, commit: &str, id: &str) -> Vec<(String, Option<Vec<u8>>)> {
        let list = ["diff-tree", "-r", "--no-commit-id", "--no-renames", "--name-status", commit];
        let list = String::from_utf8(self.git(book, &list)).unwrap();
        let of = |line: &str| {
            let (how, path) = line.split_once('\t').unwrap();
            let within = path.strip_prefix(&format!("projects/{id}/")).unwrap().to_owned();
            let bytes = (how != "D").then(|| self.git(book, &["show", &format!("{commit}:{path}")]));
            (within, bytes)
        };
        list.lines().map(of).collect()
    }
}

/// Copies a folder with all that is in it.
pub(crate) fn copy(from: &Path, to: &Path) {
    let done = Command::new("cp").arg("-a").arg(from).arg(to).status().unwrap();
    assert!(done.success(), "{} was not copied", from.display());
}

/// The words of a line, in which quotes keep words together.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate().flat_map(|(nth, part)| match nth % 2 {
        0 => part.split_whitespace().map(str::to_owned).collect(),
        _ => vec![part.to_owned()],
    });
    parts.collect()
}

/// The day of each scene.
const DAYS: [&str; 7] =
    ["2026-09-01", "2026-09-02", "2026-09-10", "2026-09-16", "2026-09-24", "2026-10-12", "2026-10-26"];

/// A job, scene by scene: each ends at the next stage. `JOB` is its name and `DEMO` the folder of the demo's files.
pub(crate) struct Job {
    id: &'static str,
    scenes: [&'static [&'static str]; 7],
}

const HANDED_OVER: &[&str] = &[
    "bram: installed JOB --electrician \"licence 4471\" --code \"local code, 2026 edition\" --driver-access cupboard --card-kept-at \"meter cupboard\" --card-access \"slide the tray out\" --card-contact \"the shop\"",
    "bram: advance JOB",
];

/// The three: a bar front with photos of its stone, a curved desk top in tunable white, and a niche in RGBW.
pub(crate) const JOBS: [Job; 3] = [
    Job {
        id: "template-bar",
        scenes: [
            &[
                "mara: open JOB --title \"Bar front, JOB\" --client imke --engineer runa --fabricator bram --installer bram --site \"Quay bar, Ternhallow\" --address \"4 Long Quay, Ternhallow\" --mains 230 --code-region iec --ambient-lx 60 --surround-reflectance 0.4 --install-date 2026-12-14",
                "mara: swatch add JOB honey --stone \"Honey onyx\" --material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm --lot B-17 --density 2700 --photo DEMO/onyx-unlit.jpg",
                "mara: panel add JOB front --title \"Bar front\" --swatch honey --size 2200mmx600mm --faces diffused,clear",
            ],
            &["mara: advance JOB"],
            &[
                "mara: request ask JOB first --swatch honey --cct 3000,4000 --face diffused,clear --size 300mmx200mm --address \"4 Long Quay, Ternhallow\"",
                "mara: request sent JOB first --consignment \"parcel 8842\"",
                "mara: request received JOB first",
                "mara: swatch measure JOB honey over-first --bare-lx 1240 --through-lx 131 --panel-light white-4000 --photo DEMO/onyx-lit.jpg --stone 6,6,188,158 --bare 212,6,42,158",
                "mara: trial record JOB warm --swatch honey --request first --cct 3000 --face clear --seen \"golden, but the bands run together\" --rating 3 --bare-lx 1180 --through-lx 119",
                "mara: trial record JOB bright --swatch honey --request first --cct 4000 --face clear --seen \"the bands glow and stay apart\" --rating 5 --bare-lx 1240 --through-lx 131",
                "mara: advance JOB",
            ],
            &[
                "mara: choose JOB front --light static-white --cct 4000 --face clear --edges top,bottom --volts 24 --mount fixed",
                "imke: sign JOB choice --panel front --yes",
                "imke: sign JOB acknowledgement --panel front --topic no-field-service --yes",
                "mara: advance JOB",
            ],
            &[
                "runa: plan JOB front --feed-length 7m --driver-at remote --driver-place dry",
                "runa: draw JOB front",
                "runa: sign JOB acknowledgement --topic cautions --yes",
                "runa: sign JOB release --yes",
                "runa: advance JOB",
            ],
            &["bram: built JOB front --serial BF-1 --watts 62 --volts 24", "bram: advance JOB"],
            HANDED_OVER,
        ],
    },
    Job {
        id: "template-desk",
        scenes: [
            &[
                "mara: open JOB --title \"Reception desk, JOB\" --client imke --engineer runa --fabricator bram --installer bram --site \"Ferry office, Ternhallow\" --mains 230 --code-region iec --ambient-lx 150 --surround-reflectance 0.5 --install-date 2027-02-15",
                "mara: swatch add JOB alabaster --stone \"Cream alabaster\" --material alabaster --tone cream --texture cloudy --thickness 20mm --slab-thickness 20mm --lot A-3 --density 2300",
                "mara: swatch add JOB white-onyx --stone \"White onyx\" --material onyx --tone white --texture veined --thickness 20mm --slab-thickness 20mm",
                "mara: panel add JOB top --title \"Desk top\" --swatch alabaster --outline DEMO/desk.json --faces diffused,clear",
            ],
            &["mara: advance JOB"],
            &[
                "mara: request ask JOB first --swatch alabaster,white-onyx --light tunable-white --cct 2700,3000,4000 --face diffused,clear --size 300mmx200mm --address \"3 Harbour Steps, Ternhallow\"",
                "mara: request sent JOB first --consignment \"parcel 8851\"",
                "imke: request received JOB first",
                "imke: trial record JOB onyx-warm --swatch white-onyx --request first --cct 2700 --face diffused --seen \"the veins look grey\" --rating 2 --bare-lx 1150 --through-lx 140",
                "imke: trial record JOB neutral --swatch alabaster --request first --cct 4000 --face diffused --seen \"the clouds stand out, the edges stay calm\" --rating 5 --bare-lx 1240 --through-lx 118",
                "mara: advance JOB",
            ],
            &[
                "mara: choose JOB top --light tunable-white --cct 4000 --face diffused --edges 1,3 --volts 24 --mount tray --control tunable-wall",
                "imke: sign JOB choice --panel top --yes",
                "mara: advance JOB",
            ],
            &[
                "runa: plan JOB top --feed-length 6m --driver-at in-wall-box --driver-place dry --driver-space 260mmx90mmx60mm",
                "runa: draw JOB top",
                "runa: sign JOB rendering --panel top --yes",
                "imke: sign JOB rendering --panel top --yes",
                "runa: sign JOB acknowledgement --topic cautions --yes",
                "runa: sign JOB release --yes",
                "runa: advance JOB",
            ],
            &["bram: built JOB top --serial DT-1 --watts 60 --volts 24", "bram: advance JOB"],
            HANDED_OVER,
        ],
    },
    Job {
        id: "template-niche",
        scenes: [
            &[
                "mara: open JOB --title \"Wet-room niche, JOB\" --client imke --engineer runa --fabricator bram --installer bram --site \"Harbour bath, Ternhallow\" --mains 230 --code-region iec --install-date 2027-03-22",
                "mara: swatch add JOB green --stone \"Green onyx\" --material onyx --tone green --texture veined --thickness 15mm --slab-thickness 15mm --lot G-2",
                "mara: panel add JOB back --title \"Back of the niche\" --swatch green --size 900mmx450mm --place wet --faces diffused",
            ],
            &["mara: advance JOB"],
            &[
                "mara: request ask JOB colours --swatch green --light rgbw --cct 3000,4000 --face diffused --size 300mmx200mm --address \"1 Bath Lane, Ternhallow\"",
                "mara: request sent JOB colours --consignment \"parcel 8860\"",
                "mara: request received JOB colours",
                "imke: trial record JOB white --swatch green --request colours --cct 4000 --face diffused --seen \"fresh, the veins are clear\" --rating 4 --bare-lx 900 --through-lx 74",
                "imke: trial record JOB warm --swatch green --request colours --cct 3000 --face diffused --seen \"like under water\" --rating 5",
                "mara: advance JOB",
            ],
            &[
                "mara: choose JOB back --light rgbw --cct 4000 --face diffused --edges top,bottom --volts 24 --mount framed-front --control colour-desk",
                "imke: sign JOB choice --panel back --yes",
                "mara: advance JOB",
            ],
            &[
                "runa: plan JOB back --feed-length 5m --driver-at remote --driver-place dry",
                "runa: sign JOB acknowledgement --topic cautions --yes",
                "runa: sign JOB release --yes",
                "runa: advance JOB",
            ],
            &["bram: built JOB back --serial WN-1 --watts 30 --volts 24", "bram: advance JOB"],
            HANDED_OVER,
        ],
    },
];

//! What is measured, and beside what.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use ssh_key::SshSig;

use super::story::{Workshop, copy};
use super::timed::{Measured, Unit, milliseconds, peak_megabytes, run};

/// A made book with the clones and remotes that the yardsticks need.
pub(crate) struct Place<'a> {
    workshop: &'a Workshop,
    book: PathBuf,
    jobs: usize,
    rounds: usize,
    /// A job of the middle.
    job: String,
}

/// Commits that a push of the guard's yardstick has.
const PUSHED: usize = 10;

impl<'a> Place<'a> {
    pub(crate) fn new(workshop: &'a Workshop, book: &Path, jobs: usize, rounds: usize) -> Place<'a> {
        let mut names: Vec<_> =
            fs::read_dir(book.join("projects")).unwrap().map(|e| e.unwrap().file_name()).collect();
        names.sort();
        let job = names[jobs / 2].to_string_lossy().into_owned();
        let place = Place { workshop, book: book.to_owned(), jobs, rounds, job };
        if !place.beside("hub.git").exists() {
            let hub = place.beside("hub.git").display().to_string();
            place.git(book, &["clone", "--quiet", "--bare", ".", &hub]);
            place.git(book, &["remote", "add", "origin", &hub]);
            place.git(book, &["fetch", "--quiet", "origin"]);
            place.git(book, &["branch", "--quiet", "--set-upstream-to=origin/main"]);
        }
        place
    }

    /// A folder beside the book.
    fn beside(&self, name: &str) -> PathBuf {
        let mut path = self.book.clone().into_os_string();
        path.push(format!("-{name}"));
        path.into()
    }

    fn underlit(&self, at: &Path, words: &[&str]) -> Command {
        let mut command = self.workshop.program(&self.workshop.underlit, "mara");
        command.arg("--book").arg(at).args(["--me", "mara"]).args(words);
        command
    }

    fn stock(&self, at: &Path, words: &[&str]) -> Command {
        let mut command = self.workshop.program("git", "mara");
        command.arg("-C").arg(at).args(words);
        command
    }

    fn git(&self, at: &Path, words: &[&str]) {
        self.workshop.git(at, words);
    }

    /// Changes one record of a job by hand, and waits until no clock can take it for unchanged.
    fn edit(&self, at: &Path, job: &str, round: usize) {
        let file = at.join("projects").join(job).join("project.json");
        let text = fs::read_to_string(&file).unwrap();
        let mut record: serde_json::Value = serde_json::from_str(&text).unwrap();
        record["note"] = format!("measured {round}").into();
        fs::write(file, format!("{record:#}\n")).unwrap();
        std::thread::sleep(Duration::from_millis(150));
    }

    /// One line of the table: ours and theirs in turns.
    fn line(
        &self,
        (what, beside, aim): (&'static str, &str, f64),
        rounds: usize,
        mut ours: impl FnMut(usize) -> f64,
        mut theirs: impl FnMut(usize) -> f64,
    ) -> Measured {
        let (mut all_ours, mut all_theirs) = (Vec::new(), Vec::new());
        for round in 0..rounds {
            all_ours.push(ours(round));
            all_theirs.push(theirs(round));
        }
        super::report::say(&format!("  {} jobs, {what}: {all_ours:.1?} beside {all_theirs:.1?}", self.jobs));
        let beside = beside.to_owned();
        Measured {
            what,
            beside,
            jobs: self.jobs,
            aim,
            unit: Unit::Milliseconds,
            ours: all_ours,
            theirs: all_theirs,
        }
    }
}

type Yardstick = fn(&Place<'_>) -> Option<Measured>;

/// All of them, in the order of the table.
const ALL: &[(&str, Yardstick)] = &[
    ("version", version),
    ("status", status),
    ("first look", first_look),
    ("board cold", board_cold),
    ("board unchanged", board_unchanged),
    ("board changed", board_changed),
    ("board memory", board_memory),
    ("check stock", check_beside_python),
    ("check ajv", check_beside_ajv),
    ("check again", check_again),
    ("check memory", check_memory),
    ("verify cold", verify_cold),
    ("verify again", verify_again),
    ("watch again", watch_again),
    ("pages", pages),
    ("sync nothing", sync_nothing),
    ("sync out", sync_out),
    ("sync in", sync_in),
    ("guard", guard),
    ("join part", join_part),
    ("join part bytes", join_part_bytes),
    ("join recent", join_recent),
    ("join recent bytes", join_recent_bytes),
];

/// Measures those whose name has the text in it.
pub(crate) fn all(place: &Place<'_>, only: &str) -> Vec<Measured> {
    ALL.iter().filter(|(name, _)| name.contains(only)).filter_map(|(_, measure)| measure(place)).collect()
}

fn version(p: &Place<'_>) -> Option<Measured> {
    let git = |_| run(&mut p.stock(&p.book, &["--version"]));
    Some(p.line(
        ("`--version`", "`git --version`", 2.0),
        p.rounds * 4,
        |_| run(&mut p.underlit(&p.book, &["--version"])),
        git,
    ))
}

fn status(p: &Place<'_>) -> Option<Measured> {
    let folder = format!("projects/{}", p.job);
    let git = |_| run(&mut p.stock(&p.book, &["status", "--porcelain", "--", &folder]));
    let line = ("`status` of one job", "`git status -- folder`", 0.5);
    Some(p.line(line, p.rounds * 2, |_| run(&mut p.underlit(&p.book, &["status", &p.job])), git))
}

/// The first look at a clone goes through its history once.
fn first_look(p: &Place<'_>) -> Option<Measured> {
    let log = ["log", "--raw", "--no-abbrev", "--no-renames", "-m", "--format=%H"];
    let ours = |_| {
        let _ = fs::remove_file(p.book.join(".git/underlit/no-question-missing"));
        run(&mut p.underlit(&p.book, &["status", &p.job]))
    };
    let line = ("`status`, first look at a clone", "`git log --raw` of everything", 1.0);
    Some(p.line(line, 1, ours, |_| run(&mut p.stock(&p.book, &log))))
}

fn board(p: &Place<'_>) -> f64 {
    run(&mut p.underlit(&p.book, &["board"]))
}

fn git_status(p: &Place<'_>) -> f64 {
    run(&mut p.stock(&p.book, &["status", "--porcelain"]))
}

fn board_cold(p: &Place<'_>) -> Option<Measured> {
    let records = "find projects -name '*.json' -print0 | xargs -0 cat";
    let read = |_| run(p.workshop.program("sh", "mara").current_dir(&p.book).args(["-c", records]));
    let ours = |_| {
        let _ = fs::remove_file(p.book.join(".git/underlit/board"));
        board(p)
    };
    Some(p.line(("`board`, cold", "`xargs cat` of every record", 3.0), p.rounds, ours, read))
}

fn board_unchanged(p: &Place<'_>) -> Option<Measured> {
    board(p);
    Some(p.line(("`board`, nothing changed", "`git status`", 0.5), p.rounds, |_| board(p), |_| git_status(p)))
}

fn board_changed(p: &Place<'_>) -> Option<Measured> {
    board(p);
    let ours = |round| {
        p.edit(&p.book, &p.job, round);
        board(p)
    };
    let measured =
        p.line(("`board`, one job changed", "`git status`", 0.6), p.rounds, ours, |_| git_status(p));
    p.git(&p.book, &["checkout", "--quiet", "."]);
    Some(measured)
}

fn memory(p: &Place<'_>, what: &'static str, aim: f64, words: &[&str]) -> Option<Measured> {
    let plain = Workshop {
        processor: false,
        folder: p.workshop.folder.clone(),
        underlit: p.workshop.underlit.clone(),
    };
    let plain = Place { workshop: &plain, book: p.book.clone(), job: p.job.clone(), ..*p };
    let ours = vec![peak_megabytes(&mut plain.underlit(&p.book, words))];
    let beside = String::new();
    Some(Measured { what, beside, jobs: p.jobs, aim, unit: Unit::Megabytes, ours, theirs: Vec::new() })
}

fn board_memory(p: &Place<'_>) -> Option<Measured> {
    let _ = fs::remove_file(p.book.join(".git/underlit/board"));
    memory(p, "memory of `board`, cold", 300.0, &["board"])
}

fn check_memory(p: &Place<'_>) -> Option<Measured> {
    let _ = fs::remove_file(p.book.join(".git/underlit/checked"));
    memory(p, "memory of `check`", 100.0, &["check"])
}

/// The records of each kind, as `find` tells them apart.
const KINDS: [(&str, &str); 10] = [
    ("project", "-name project.json"),
    ("swatch", "-path '*/swatches/*.json'"),
    ("request", "-path '*/requests/*.json'"),
    ("trial", "-path '*/trials/*.json'"),
    ("panel", "-path '*/panels/*.json' ! -name '*.outline.json'"),
    ("outline", "-name '*.outline.json'"),
    ("rendering", "-name manifest.json"),
    ("sign-off", "-path '*/signoffs/*.json'"),
    ("move", "-path '*/moves/*.json'"),
    ("as-built", "-name as-built.json"),
];

fn check(p: &Place<'_>) -> f64 {
    run(&mut p.underlit(&p.book, &["check"]))
}

/// A validator of other make over the same records; none where it is not installed, or would take many minutes.
fn check_beside(
    p: &Place<'_>,
    line: (&'static str, &str, f64),
    program: &Path,
    each: impl Fn(&str, &str) -> String,
) -> Option<Measured> {
    if !program.exists() || p.jobs > 2_000 {
        super::report::say(&format!("  left out at {} jobs: {} ({})", p.jobs, line.1, program.display()));
        return None;
    }
    // The sheets are drawn again once; what is compared is what a validator does as well: to look at every file.
    check(p);
    let script: String = KINDS.iter().map(|(kind, find)| each(kind, find)).collect();
    let theirs = |_| run(p.workshop.program("sh", "mara").current_dir(&p.book).args(["-ec", &script]));
    let ours = |_| {
        let _ = fs::remove_file(p.book.join(".git/underlit/checked"));
        check(p)
    };
    Some(p.line(line, 1, ours, theirs))
}

fn target(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("target").join(path)
}

fn check_beside_python(p: &Place<'_>) -> Option<Measured> {
    let program = target("outside-venv/bin/check-jsonschema");
    let shown = program.display().to_string();
    let each = |kind: &str, find: &str| {
        format!(
            "find projects {find} -print0 | xargs -0 -r -n 5000 {shown} --schemafile schema/{kind}.schema.json\n"
        )
    };
    check_beside(
        p,
        ("`check` of everything", "check-jsonschema (PyPI), one run", 1.0 / 150.0),
        &program,
        each,
    )
}

fn check_beside_ajv(p: &Place<'_>) -> Option<Measured> {
    let modules = target("outside-node/node_modules");
    let script = target("scale/ajv.cjs");
    fs::create_dir_all(target("scale")).unwrap();
    fs::write(
        &script,
        format!(
            "const Ajv = require('{}/ajv/dist/2020'), fs = require('fs');\nconst one = new Ajv({{strict: false, validateFormats: false}}).compile(JSON.parse(fs.readFileSync(process.argv[2])));\nfor (const f of fs.readFileSync(0, 'utf8').split('\\0').filter(Boolean))\n  if (!one(JSON.parse(fs.readFileSync(f)))) throw new Error(f + JSON.stringify(one.errors));\n",
            modules.display()
        ),
    )
    .unwrap();
    let shown = script.display().to_string();
    let each = |kind: &str, find: &str| {
        format!("find projects {find} -print0 | node {shown} schema/{kind}.schema.json\n")
    };
    check_beside(
        p,
        ("`check` of everything", "ajv compiled (npm), one run", 1.0 / 3.0),
        &modules.join("ajv"),
        each,
    )
}

fn check_again(p: &Place<'_>) -> Option<Measured> {
    check(p);
    let ours = |round| {
        p.edit(&p.book, &p.job, 500 + round);
        check(p)
    };
    let measured =
        p.line(("`check` again, one job changed", "`git status`", 1.0), p.rounds, ours, |_| git_status(p));
    p.git(&p.book, &["checkout", "--quiet", "."]);
    Some(measured)
}

fn verify(p: &Place<'_>, words: &[&str]) -> f64 {
    run(&mut p.underlit(&p.book, &[&["verify"], words].concat()))
}

/// Every signature of the book, read beforehand.
fn signatures(p: &Place<'_>) -> Vec<(SshSig, Vec<u8>)> {
    let mut found = Vec::new();
    for job in fs::read_dir(p.book.join("projects")).unwrap() {
        for folder in ["signoffs", "moves"] {
            for entry in fs::read_dir(job.as_ref().unwrap().path().join(folder)).into_iter().flatten() {
                let path = entry.unwrap().path();
                if path.extension().is_some_and(|e| e == "sig") {
                    let signature = SshSig::from_pem(fs::read(&path).unwrap()).unwrap();
                    found.push((signature, fs::read(path.with_extension("json")).unwrap()));
                }
            }
        }
    }
    found
}

fn verify_cold(p: &Place<'_>) -> Option<Measured> {
    let all = signatures(p);
    let bare = |_| {
        let start = Instant::now();
        for (signature, message) in &all {
            let key = ssh_key::PublicKey::from(signature.public_key().clone());
            key.verify(signature.namespace(), message, signature).unwrap();
        }
        milliseconds(start.elapsed())
    };
    Some(p.line(
        ("`verify`, cold", "every signature by an ed25519 loop", 1.5),
        1,
        |_| verify(p, &["--cold"]),
        bare,
    ))
}

fn verify_again(p: &Place<'_>) -> Option<Measured> {
    verify(p, &[]);
    let ours = |round| {
        p.edit(&p.book, &p.job, round);
        verify(p, &[])
    };
    let measured =
        p.line(("`verify` again, one job changed", "`git status`", 1.0), p.rounds, ours, |_| git_status(p));
    p.git(&p.book, &["checkout", "--quiet", "."]);
    Some(measured)
}

fn watch_again(p: &Place<'_>) -> Option<Measured> {
    let look = |_| run(&mut p.underlit(&p.book, &["watch", "--once"]));
    look(0);
    Some(p.line(("`watch --once`, nothing new", "`git fetch`", 1.5), p.rounds, look, |_| {
        run(&mut p.stock(&p.book, &["fetch", "--quiet"]))
    }))
}

fn pages(p: &Place<'_>) -> Option<Measured> {
    let folder = p.beside("pages");
    let make = || run(&mut p.underlit(&p.book, &["pages", &folder.display().to_string()]));
    let _ = fs::remove_dir_all(&folder);
    let _ = fs::remove_dir_all(p.book.join(".git/underlit/pages"));
    let cold = make();
    let ours = |round| {
        p.edit(&p.book, &p.job, round);
        make()
    };
    let measured = p.line(("`pages` after one change", "`pages`, cold", 0.02), p.rounds, ours, |_| cold);
    p.git(&p.book, &["checkout", "--quiet", "."]);
    let _ = fs::remove_dir_all(&folder);
    Some(measured)
}

/// A clone for stock git to do the like in.
fn clone(p: &Place<'_>, name: &str) -> PathBuf {
    let at = p.beside(name);
    if !at.exists() {
        copy(&p.book, &at);
        p.git(&at, &["config", "core.fsync", "all"]);
        p.git(&at, &["config", "pull.rebase", "false"]);
    }
    p.git(&at, &["fetch", "--quiet"]);
    p.git(&at, &["reset", "--quiet", "--hard", "origin/main"]);
    p.git(&at, &["status"]);
    at
}

fn sync(p: &Place<'_>) -> f64 {
    run(&mut p.underlit(&p.book, &["sync"]))
}

fn sync_nothing(p: &Place<'_>) -> Option<Measured> {
    sync(p);
    sync(p);
    let fetch = |_| run(&mut p.stock(&p.book, &["fetch", "--quiet"]));
    Some(p.line(("`sync`, nothing new", "`git fetch`", 1.5), p.rounds * 2, |_| sync(p), fetch))
}

fn sync_out(p: &Place<'_>) -> Option<Measured> {
    let stock = clone(p, "stock");
    sync(p);
    let ours = |round| {
        p.git(&stock, &["pull", "--quiet"]);
        p.edit(&p.book, &p.job, 100 + round);
        sync(p)
    };
    let theirs = |round| {
        p.git(&stock, &["pull", "--quiet"]);
        p.edit(&stock, &p.job, 200 + round);
        let push = "git add -A && git commit --quiet -m out && git push --quiet";
        let took = run(p.workshop.program("sh", "mara").current_dir(&stock).args(["-ec", push]));
        sync(p);
        took
    };
    Some(p.line(("`sync`, one change out", "`git add, commit, push`", 1.2), p.rounds, ours, theirs))
}

fn sync_in(p: &Place<'_>) -> Option<Measured> {
    let (stock, other) = (clone(p, "stock"), clone(p, "other"));
    sync(p);
    let bring = |round: usize| {
        p.git(&other, &["pull", "--quiet"]);
        p.edit(&other, &p.job, 300 + round);
        p.git(&other, &["commit", "--quiet", "-a", "-m", "in"]);
        p.git(&other, &["push", "--quiet"]);
    };
    let ours = |round| {
        bring(round * 2);
        sync(p)
    };
    let theirs = |round| {
        bring(round * 2 + 1);
        let took = run(&mut p.stock(&stock, &["pull", "--quiet"]));
        sync(p);
        took
    };
    Some(p.line(("`sync`, one change in", "`git pull`", 1.2), p.rounds, ours, theirs))
}

fn guard(p: &Place<'_>) -> Option<Measured> {
    let at = clone(p, "other");
    let names: Vec<String> = fs::read_dir(at.join("projects"))
        .unwrap()
        .take(PUSHED)
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    for (round, job) in names.iter().enumerate() {
        p.edit(&at, job, 400 + round);
        p.git(&at, &["commit", "--quiet", "-a", "-m", "pushed"]);
    }
    let pack = p.beside("push.pack");
    let make = format!(
        "printf 'HEAD\\n^origin/main\\n' | git pack-objects --quiet --revs --stdout > {}",
        pack.display()
    );
    run(p.workshop.program("sh", "mara").current_dir(&at).args(["-ec", &make]));
    let hub = p.beside("hub.git");
    let theirs = |_| {
        let mut index = p.stock(&hub, &["index-pack", "--strict", "--fsck-objects", "--stdin"]);
        run(index.stdin(File::open(&pack).unwrap()))
    };
    let ours = |_| run(&mut p.underlit(&at, &["guard", "range", "origin/main", "HEAD"]));
    Some(p.line(
        ("`guard` of a push of 10 commits", "`git index-pack --strict`", 3.0),
        p.rounds,
        ours,
        theirs,
    ))
}

/// Jobs that somebody holds of a book.
const HELD: usize = 30;

/// The book as a remote sends it, packed as a host packs it, and the words that join a part of it.
fn remote_of_parts(p: &Place<'_>) -> (String, Vec<String>) {
    let hub = p.beside("hub.git");
    p.git(&hub, &["config", "uploadpack.allowFilter", "true"]);
    p.git(&hub, &["gc", "--quiet"]);
    let address = format!("file://{}", hub.display());
    let mut names: Vec<_> =
        fs::read_dir(p.book.join("projects")).unwrap().map(|e| e.unwrap().file_name()).collect();
    names.sort();
    let step = (names.len() / HELD).max(1);
    let mut words = vec!["join".to_owned(), address.clone(), p.beside("part").display().to_string()];
    for name in names.iter().step_by(step).take(HELD) {
        words.extend(["--project".to_owned(), name.to_string_lossy().into_owned()]);
    }
    (address, words)
}

/// Joins a part, in place of one that was joined before.
fn joined(p: &Place<'_>, words: &[String]) -> f64 {
    let _ = fs::remove_dir_all(p.beside("part"));
    run(p.workshop.program(&p.workshop.underlit, "mara").args(["--me", "mara"]).args(words))
}

fn cloned(p: &Place<'_>, address: &str) -> f64 {
    let at = p.beside("cloned");
    let _ = fs::remove_dir_all(&at);
    run(p.workshop.program("git", "mara").args(["clone", "--quiet", address]).arg(at))
}

fn join_part(p: &Place<'_>) -> Option<Measured> {
    let (address, words) = remote_of_parts(p);
    let line = ("`join` of 30 jobs", "`git clone` of the whole", 0.1);
    Some(p.line(line, p.rounds.min(3), |_| joined(p, &words), |_| cloned(p, &address)))
}

/// The same without the past: with the history from the day on which its newest twentieth begins, which is 90 days of five
/// years.
fn remote_of_recent_parts(p: &Place<'_>) -> (String, Vec<String>) {
    let (address, mut words) = remote_of_parts(p);
    let hub = p.beside("hub.git");
    let count = String::from_utf8(p.workshop.git(&hub, &["rev-list", "--count", "HEAD"])).unwrap();
    let skip = format!("--skip={}", count.trim().parse::<usize>().unwrap() / 20);
    let day = p.workshop.git(&hub, &["log", &skip, "-1", "--format=%cs"]);
    words.extend(["--since".to_owned(), String::from_utf8(day).unwrap().trim().to_owned()]);
    (address, words)
}

fn join_recent(p: &Place<'_>) -> Option<Measured> {
    let (address, words) = remote_of_recent_parts(p);
    let line = ("`join` of 30 jobs, 90 days of history", "`git clone` of the whole", 0.1);
    Some(p.line(line, p.rounds.min(3), |_| joined(p, &words), |_| cloned(p, &address)))
}

/// Kilobytes that a folder takes.
fn kilobytes(p: &Place<'_>, at: &Path) -> f64 {
    let said = p.workshop.program("du", "mara").args(["-sk", "--apparent-size"]).arg(at).output().unwrap();
    let said = String::from_utf8(said.stdout).unwrap();
    said.split_whitespace().next().unwrap().parse().unwrap()
}

fn join_part_bytes(p: &Place<'_>) -> Option<Measured> {
    Some(bytes(p, "disk of that clone, kB", &remote_of_parts(p)))
}

fn join_recent_bytes(p: &Place<'_>) -> Option<Measured> {
    Some(bytes(p, "disk of that clone, 90 days of history, kB", &remote_of_recent_parts(p)))
}

fn bytes(p: &Place<'_>, what: &'static str, (address, words): &(String, Vec<String>)) -> Measured {
    joined(p, words);
    cloned(p, address);
    let line = (what, "the whole clone, kB", 0.1);
    let (part, whole) = (p.beside("part"), p.beside("cloned"));
    let measured = p.line(line, 1, |_| kilobytes(p, &part), |_| kilobytes(p, &whole));
    for at in [part, whole] {
        let _ = fs::remove_dir_all(at);
    }
    measured
}

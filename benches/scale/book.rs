//! A book of any number of jobs: the templates repeated under other names, each to a stage that the seed draws, with its
//! sheets drawn and its statements signed anew, and their commits interleaved over years.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::fs;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::sync_channel;

use serde_json::Value;
use underlit::digest::Sha256Digest;
use underlit::gates::facts;
use underlit::ids::{PanelId, ProjectId};
use underlit::model::rendering::Rendering;
use underlit::model::statement::Statement;
use underlit::ops::Reading;
use underlit::sheets;
use underlit::signing::{Asking, Namespace, Signer, Toolbox};
use underlit::trust::sheet_input::sheet_input;

use super::dice::Dice;
use super::story::{Step, Template, Workshop, copy};

/// Of a hundred jobs, how many stand at each stage.
const AT_STAGE: [usize; 7] = [6, 8, 10, 12, 10, 6, 48];

/// Over how many days the jobs begin, one after the other.
const DAYS: i64 = 5 * 365;

/// One commit of the book to be.
struct Commit {
    at: i64,
    author: String,
    message: String,
    files: Vec<(String, Option<Vec<u8>>)>,
}

/// Makes a book of so many jobs in a folder, with its history.
pub(crate) fn make(
    workshop: &Workshop,
    shop: &Path,
    templates: &[Template],
    jobs: usize,
    seed: u64,
) -> PathBuf {
    let book = workshop.folder.join(format!("book-{jobs}"));
    copy(shop, &book);
    let head = String::from_utf8(workshop.git(&book, &["rev-parse", "HEAD"])).unwrap();
    let begun = 1_578_400_000; // January 2020
    let next = AtomicUsize::new(0);
    let hands = std::thread::available_parallelism().map_or(1, usize::from);
    let (sender, receiver) = sync_channel(64);
    let mut import = workshop.program("git", "mara");
    import.arg("-C").arg(&book).args(["fast-import", "--quiet", "--force", "--done"]);
    let mut import = import.stdin(Stdio::piped()).spawn().unwrap();
    let mut stream = BufWriter::new(import.stdin.take().unwrap());
    std::thread::scope(|scope| {
        for hand in 0..hands {
            let (sender, next) = (sender.clone(), &next);
            scope.spawn(move || {
                let bench = Bench::new(workshop, shop, hand);
                loop {
                    let nth = next.fetch_add(1, Ordering::Relaxed);
                    if nth >= jobs {
                        return;
                    }
                    let mut dice = Dice(seed ^ (nth as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15));
                    dice.next();
                    let template = &templates[dice.below(templates.len())];
                    let steps = template.stages[stage(dice.below(100))];
                    let begins = begun + nth as i64 * DAYS * 86_400 / jobs as i64;
                    sender.send(bench.job(template, steps, nth, begins, &mut dice)).unwrap();
                }
            });
        }
        drop(sender);
        send(&mut stream, head.trim(), receiver.into_iter());
    });
    stream.flush().unwrap();
    drop(stream);
    assert!(import.wait().unwrap().success(), "git fast-import failed");
    workshop.git(&book, &["reset", "--quiet", "--hard"]);
    workshop.git(&book, &["repack", "-adq"]);
    workshop.git(&book, &["commit-graph", "write"]);
    book
}

fn stage(drawn: usize) -> usize {
    let mut upto = 0;
    AT_STAGE
        .iter()
        .position(|share| {
            upto += share;
            drawn < upto
        })
        .unwrap_or(0)
}

/// Hands every file to git as it is made, and the commits in the order of their times.
fn send(stream: &mut impl Write, head: &str, jobs: impl Iterator<Item = Vec<Commit>>) {
    let mut marks: HashMap<Sha256Digest, usize> = HashMap::new();
    let mut commits = Vec::new();
    for commit in jobs.flatten() {
        let mut lines = String::new();
        for (path, bytes) in &commit.files {
            let Some(bytes) = bytes else {
                writeln!(lines, "D {path}").unwrap();
                continue;
            };
            let free = marks.len() + 1;
            let mark = *marks.entry(Sha256Digest::of(bytes)).or_insert(free);
            if mark == free {
                write!(stream, "blob\nmark :{mark}\ndata {}\n", bytes.len()).unwrap();
                stream.write_all(bytes).unwrap();
                stream.write_all(b"\n").unwrap();
            }
            writeln!(lines, "M 100644 :{mark} {path}").unwrap();
        }
        commits.push((commit.at, commit.author, commit.message, lines));
    }
    commits.sort_by(|a, b| (a.0, &a.3).cmp(&(b.0, &b.3)));
    for (nth, (at, author, message, lines)) in commits.into_iter().enumerate() {
        let who = format!("{author} <{}@example.invalid> {at} +0000", author.split(' ').next().unwrap());
        let from = if nth == 0 { format!("from {head}\n") } else { String::new() };
        let length = message.len();
        write!(
            stream,
            "commit refs/heads/main\nauthor {who}\ncommitter {who}\ndata {length}\n{message}\n{from}{lines}\n"
        )
        .unwrap();
    }
    stream.write_all(b"done\n").unwrap();
}

/// Where one thread makes its jobs: a folder with the shop and one job at a time.
struct Bench<'a> {
    reading: Reading,
    folder: PathBuf,
    signers: Vec<(&'static str, Signer<'a>)>,
}

impl<'a> Bench<'a> {
    fn new(workshop: &Workshop, shop: &Path, hand: usize) -> Bench<'a> {
        let folder = workshop.folder.join(format!("bench-{hand}"));
        copy(shop, &folder);
        fs::remove_dir_all(folder.join(".git")).unwrap();
        // Without OpenSSH's programs, a key in a file signs in this process.
        let none = folder.join("not-installed");
        let toolbox =
            Toolbox { ssh_keygen: none.clone(), ssh_add: none, ..Toolbox::new(&folder, None, Asking::Never) };
        let toolbox: &'a Toolbox<'a> = Box::leak(Box::new(toolbox));
        let signer = |person| (person, Signer::from_file(&workshop.key(person), toolbox).unwrap());
        let signers = ["mara", "runa", "imke", "bram"].map(signer);
        Bench { reading: Reading::open(&folder).unwrap(), folder, signers: signers.into() }
    }

    fn job(
        &self,
        template: &Template,
        steps: usize,
        nth: usize,
        begins: i64,
        dice: &mut Dice,
    ) -> Vec<Commit> {
        let id = template.id.replace("template", &format!("j{nth:06}"));
        let folder = self.folder.join("projects").join(&id);
        let mut names = vec![(template.id.to_owned(), id.clone())];
        let commits = template.steps[..steps].iter().map(|step| {
            let files = self.step(step, &id, &mut names, dice);
            let files = files.into_iter().map(|(path, bytes)| (format!("projects/{id}/{path}"), bytes));
            Commit {
                at: begins + step.after,
                author: step.author.clone(),
                message: step.message.replace(template.id, &id),
                files: files.collect(),
            }
        });
        let commits = commits.collect();
        fs::remove_dir_all(folder).unwrap();
        commits
    }

    /// The files of one commit under the job's own names; what was drawn and signed is drawn and signed anew.
    fn step(
        &self,
        step: &Step,
        id: &str,
        names: &mut Vec<(String, String)>,
        dice: &mut Dice,
    ) -> Vec<(String, Option<Vec<u8>>)> {
        let folder = self.folder.join("projects").join(id);
        let mut made = Vec::new();
        let mut put = |path: String, bytes: Vec<u8>| {
            let full = folder.join(&path);
            fs::create_dir_all(full.parent().unwrap()).unwrap();
            fs::write(full, &bytes).unwrap();
            made.push((path, Some(bytes)));
        };
        let mut later = Vec::new();
        for (path, bytes) in &step.files {
            let bytes = bytes.as_ref().expect("no job of the templates takes a file out");
            let is_said = path.starts_with("signoffs/") || path.starts_with("moves/");
            if path.starts_with("renderings/") || is_said {
                let text = String::from_utf8_lossy(bytes).into_owned();
                if path.ends_with(".json") {
                    later.push((path, text));
                }
            } else if path.ends_with(".json") {
                put(path.clone(), renamed(std::str::from_utf8(bytes).unwrap(), names).into_bytes());
            } else {
                put(path.clone(), bytes.clone());
            }
        }
        let id: ProjectId = id.parse().unwrap();
        for (path, text) in later {
            if let Some(panel) = path.strip_prefix("renderings/") {
                let panel = panel.split('/').next().unwrap();
                for (name, bytes) in self.drawn(&id, panel, &renamed(&text, names), names) {
                    put(format!("renderings/{panel}/{name}"), bytes);
                }
            } else {
                let (kind, then) = path.split_once('/').unwrap();
                let (bytes, signature) = self.said(&id, &renamed(&text, names), dice);
                let digest = Sha256Digest::of(&bytes).hex();
                names.push((then.trim_end_matches(".json").to_owned(), digest.clone()));
                put(format!("{kind}/{digest}.json"), bytes);
                put(format!("{kind}/{digest}.sig"), signature);
            }
        }
        made
    }

    /// The files of a rendering, drawn for this job.
    fn drawn(
        &self,
        id: &ProjectId,
        panel: &str,
        manifest: &str,
        names: &mut Vec<(String, String)>,
    ) -> Vec<(String, Vec<u8>)> {
        let snapshot = self.reading.project(id).unwrap();
        let case = self.reading.case(&snapshot);
        let mut manifest: Rendering = serde_json::from_str(manifest).unwrap();
        let id: PanelId = panel.parse().unwrap();
        let panel = &snapshot.panels[&id];
        let drawing = snapshot.drawings[&id].as_ref().unwrap();
        let stone = snapshot.stone_of(panel);
        let printed = manifest.printed.as_ref().unwrap();
        let input =
            sheet_input(&snapshot.project, stone, panel, drawing, manifest.revision, printed).unwrap();
        let sheet = sheets::draw(&input).unwrap();
        assert!(sheet.further_svgs.is_empty(), "a template has one sheet a panel");
        let mut now = |then: &mut Sha256Digest, now: Sha256Digest| {
            names.push((then.hex(), now.hex()));
            *then = now;
        };
        now(&mut manifest.shows_sha256, facts::shown_on_sheet(&case, panel));
        now(&mut manifest.sheet.sha256, Sha256Digest::of(sheet.svg.as_bytes()));
        now(&mut manifest.pdf.sha256, Sha256Digest::of(&sheet.pdf));
        vec![
            ("sheet.svg".to_owned(), sheet.svg.into_bytes()),
            ("sheet.pdf".to_owned(), sheet.pdf),
            ("manifest.json".to_owned(), text_of(&serde_json::to_value(&manifest).unwrap())),
        ]
    }

    /// A statement of this job with the facts as they are, and its signature.
    fn said(&self, id: &ProjectId, text: &str, dice: &mut Dice) -> (Vec<u8>, Vec<u8>) {
        let mut value: Value = serde_json::from_str(text).unwrap();
        value["nonce"] =
            format!("{:08x}{:08x}{:08x}{:08x}", dice.next(), dice.next(), dice.next(), dice.next()).into();
        let purpose = if value.get("from").is_some() {
            Namespace::stage_move()
        } else {
            let statement: Statement = serde_json::from_value(value.clone()).unwrap();
            let snapshot = self.reading.project(id).unwrap();
            let now = facts::of(&self.reading.case(&snapshot), &statement.about);
            value["facts"] = serde_json::to_value(now).unwrap();
            Namespace::of_role(statement.role.word()).unwrap()
        };
        let bytes = text_of(&value);
        let signer = value["signer"].as_str().unwrap();
        let (_, signer) = self.signers.iter().find(|(person, _)| *person == signer).unwrap();
        let signature = signer.sign(&purpose, &bytes).unwrap();
        (bytes, signature.as_str().as_bytes().to_vec())
    }
}

fn renamed(text: &str, names: &[(String, String)]) -> String {
    names.iter().fold(text.to_owned(), |text, (then, now)| text.replace(then, now))
}

/// A record as the program writes it.
fn text_of(value: &Value) -> Vec<u8> {
    format!("{value:#}\n").into_bytes()
}

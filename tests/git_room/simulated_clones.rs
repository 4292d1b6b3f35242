//! Ten clones of one book in memory: thousands of edits, moves, sign-offs, removals, answers and syncs in random order,
//! with kills at every step of a sync and others who push in between. In the end all hold one tree, and every edit
//! is in it, in an open question, or was overwritten by someone who had seen it.
//!
//! Here the merge and the order of steps are real and the files and the network are not: objects live in memory, so that
//! a run of 2,000 acts takes a second; `real_clones` does the same with real clones and few steps. A seed is one run and
//! replays alone: `UNDERLIT_TEST_SEED=17 cargo test --test git_room simulated`; more of them: `UNDERLIT_TEST_SIMULATED=1000`.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::rc::Rc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use git2::build::TreeUpdateBuilder;
use git2::{FileMode, Oid, Signature, Time};
use serde_json::{Value, json};
use underlit::git::{CommitId, Repo};
use underlit::merge::{MergeConflict, at, put, take};

use crate::clones::{layout, questions_are_whole};
use crate::dice::{Dice, given};

const CLONES: usize = 10;

/// What a commit knows: one bit for each commit behind it, itself included.
type Known = Vec<u64>;

struct Edit {
    path: String,
    pointer: String,
    mark: Option<String>,
    commit: usize,
}

struct SimulatedClones {
    repo: Repo,
    raw: Rc<git2::Repository>,
    layout: underlit::merge::Layout,
    /// Every commit with its number.
    numbers: HashMap<Oid, usize>,
    known: Vec<Known>,
    heads: Vec<Oid>,
    hub: Oid,
    edits: Vec<Edit>,
    papers: Vec<String>,
    dice: Dice,
    marks: u32,
    clock: i64,
    kills: u32,
    races: u32,
    questions: usize,
}

fn has(known: &Known, number: usize) -> bool {
    known.get(number / 64).is_some_and(|word| word & (1 << (number % 64)) != 0)
}

impl SimulatedClones {
    fn new(at: &Path, seed: u64) -> SimulatedClones {
        git2::Repository::init(at).unwrap();
        let objects = git2::Odb::new().unwrap();
        objects.add_new_mempack_backend(1).unwrap();
        let in_memory = || {
            let git = git2::Repository::open(at).unwrap();
            git.set_odb(&objects).unwrap();
            git
        };
        let (repo, raw) = (Repo::of(in_memory()).unwrap(), Rc::new(in_memory()));
        let mut clones = SimulatedClones {
            repo,
            raw,
            layout: layout(),
            numbers: HashMap::new(),
            known: Vec::new(),
            heads: Vec::new(),
            hub: Oid::ZERO_SHA1,
            edits: Vec::new(),
            papers: Vec::new(),
            dice: Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5DEE_CE66),
            marks: 0,
            clock: 1_800_000_000,
            kills: 0,
            races: 0,
            questions: 0,
        };
        let first = clones.commit(
            None,
            &[("projects/quay/project.json", Some("{\n  \"client\": \"Harbour\"\n}\n".into()))],
        );
        clones.hub = first;
        clones.heads = vec![first; CLONES];
        clones
    }

    fn random(&mut self, below: usize) -> usize {
        self.dice.below(below)
    }

    fn mark(&mut self) -> String {
        self.marks += 1;
        format!("mark{}.", self.marks)
    }

    fn number(&mut self, id: Oid, parents: &[Oid]) -> usize {
        let number = self.known.len();
        let mut known: Known = vec![0; number / 64 + 1];
        for parent in parents {
            for (word, theirs) in known.iter_mut().zip(&self.known[self.numbers[parent]]) {
                *word |= theirs;
            }
        }
        known[number / 64] |= 1 << (number % 64);
        self.numbers.insert(id, number);
        self.known.push(known);
        number
    }

    fn behind(&self, ancestor: Oid, tip: Oid) -> bool {
        has(&self.known[self.numbers[&tip]], self.numbers[&ancestor])
    }

    /// A commit on top of another, with files changed or removed.
    fn commit(&mut self, parent: Option<Oid>, files: &[(&str, Option<String>)]) -> Oid {
        self.clock += 60;
        let raw = Rc::clone(&self.raw);
        let base = parent.map(|id| raw.find_commit(id).unwrap());
        let empty = raw.find_tree(raw.treebuilder(None).unwrap().write().unwrap()).unwrap();
        let tree = base.as_ref().map_or(empty, |commit| commit.tree().unwrap());
        let mut builder = TreeUpdateBuilder::new();
        for (path, text) in files {
            match text {
                Some(text) => {
                    builder.upsert(*path, raw.blob(text.as_bytes()).unwrap(), FileMode::Blob);
                }
                None if tree.get_path(Path::new(path)).is_ok() => {
                    builder.remove(*path);
                }
                None => {}
            }
        }
        let tree = raw.find_tree(builder.create_updated(&raw, &tree).unwrap()).unwrap();
        self.store(&tree, &parent.into_iter().collect::<Vec<_>>())
    }

    fn store(&mut self, tree: &git2::Tree<'_>, parents: &[Oid]) -> Oid {
        let raw = Rc::clone(&self.raw);
        let who = Signature::new("Somebody", "somebody@example.org", &Time::new(self.clock, 0)).unwrap();
        let found: Vec<git2::Commit<'_>> = parents.iter().map(|id| raw.find_commit(*id).unwrap()).collect();
        let found: Vec<&git2::Commit<'_>> = found.iter().collect();
        let message = format!("{} {}", self.clock, self.known.len());
        let id = raw.commit(None, &who, &who, &message, tree, &found).unwrap();
        self.number(id, parents);
        id
    }

    fn text(&self, tip: Oid, path: &str) -> Option<String> {
        let tree = self.raw.find_commit(tip).unwrap().tree().unwrap();
        let entry = tree.get_path(Path::new(path)).ok()?;
        let blob = self.raw.find_blob(entry.id()).ok()?;
        Some(String::from_utf8_lossy(blob.content()).into_owned())
    }

    fn files(&self, tip: Oid) -> BTreeMap<String, String> {
        let tree = self.raw.find_commit(tip).unwrap().tree().unwrap();
        let mut found = BTreeMap::new();
        tree.walk(git2::TreeWalkMode::PreOrder, |folder, entry| {
            if entry.kind() == Some(git2::ObjectType::Blob) {
                let blob = self.raw.find_blob(entry.id()).unwrap();
                let text = String::from_utf8_lossy(blob.content()).into_owned();
                found.insert(format!("{folder}{}", entry.name().unwrap()), text);
            }
            git2::TreeWalkResult::Ok
        })
        .unwrap();
        found
    }

    /// The paths of the records that lie in a folder.
    fn records(&self, tip: Oid, folder: &str) -> Vec<String> {
        let tree = self.raw.find_commit(tip).unwrap().tree().unwrap();
        let Ok(found) = tree.get_path(Path::new(folder)) else { return Vec::new() };
        let tree = self.raw.find_tree(found.id()).unwrap();
        let names = tree.iter().map(|entry| entry.name().unwrap().to_owned());
        names.filter(|name| name.ends_with(".json")).map(|name| format!("{folder}/{name}")).collect()
    }

    /// The paths of the open questions.
    fn open(&self, tip: Oid) -> Vec<String> {
        ["projects/quay/conflicts", "conflicts"].iter().flat_map(|folder| self.records(tip, folder)).collect()
    }

    fn note(
        &mut self,
        who: usize,
        files: &[(&str, Option<String>)],
        path: &str,
        pointer: &str,
        mark: Option<String>,
    ) {
        let head = self.commit(Some(self.heads[who]), files);
        self.heads[who] = head;
        let commit = self.numbers[&head];
        self.edits.push(Edit { path: path.into(), pointer: pointer.into(), mark, commit });
    }

    fn edit_a_record(&mut self, who: usize) {
        let path = format!("projects/quay/panels/p{}.json", self.random(6));
        let mut record: Value = match self.text(self.heads[who], &path) {
            Some(text) => serde_json::from_str(&text).unwrap(),
            None => json!({"id": "p"}),
        };
        let mark = self.mark();
        let pointer = match self.random(4) {
            0 => {
                let id = ["warm", "cold", "amber"][self.random(3)];
                if record.get("channels").is_none() {
                    record["channels"] = json!([]);
                }
                let pointer = format!("/channels/id={id}");
                put(&mut record, &pointer, json!({"id": id, "value": mark}));
                format!("{pointer}/value")
            }
            _ => {
                let pointer = format!("/field{}", self.random(5));
                put(&mut record, &pointer, json!(mark));
                pointer
            }
        };
        self.note(who, &[(&path, Some(format!("{record:#}\n")))], &path, &pointer, Some(mark));
    }

    fn remove_something(&mut self, who: usize) {
        let path = format!("projects/quay/panels/p{}.json", self.random(6));
        let Some(text) = self.text(self.heads[who], &path) else { return };
        if self.random(3) == 0 {
            self.note(who, &[(&path, None)], &path, "", None);
            return;
        }
        let mut record: Value = serde_json::from_str(&text).unwrap();
        let pointer = format!("/field{}", self.random(5));
        if take(&mut record, &pointer).is_some() {
            self.note(who, &[(&path, Some(format!("{record:#}\n")))], &path, &pointer, None);
        }
    }

    /// A sign-off or a move: a statement and its signature, named by what they say.
    fn say(&mut self, who: usize) {
        let mark = self.mark();
        let folder = ["signoffs", "signoffs/moves"][self.random(2)];
        let (json, sig) =
            (format!("projects/quay/{folder}/{mark}json"), format!("projects/quay/{folder}/{mark}sig"));
        let files = [(json.as_str(), Some(mark.clone())), (sig.as_str(), Some(format!("sig {mark}")))];
        self.note(who, &files, &json, "", Some(mark));
    }

    /// A paper answer: the statement of whoever took it in, its signature, and the scan.
    fn take_in_paper(&mut self, who: usize) {
        let mark = self.mark();
        let path = |ending: &str| format!("projects/quay/signoffs/{mark}{ending}");
        let (json, sig, pdf) = (path("json"), path("sig"), path("pdf"));
        let files = [
            (json.as_str(), Some(mark.clone())),
            (sig.as_str(), Some(format!("sig {mark}"))),
            (pdf.as_str(), Some(format!("scan {mark}"))),
        ];
        self.note(who, &files, &json, "", Some(mark.clone()));
        self.papers.push(pdf);
    }

    /// The next roster version with its signature: the same number as another owner's, where two make one at once.
    fn change_the_roster(&mut self, who: usize) {
        let mark = self.mark();
        let number = self.records(self.heads[who], "roster").len() + 1;
        let (json, sig) = (format!("roster/{number:04}.json"), format!("roster/{number:04}.owner{who}.sig"));
        if self.text(self.heads[who], &sig).is_some() {
            return;
        }
        let files = [(json.as_str(), Some(mark.clone())), (sig.as_str(), Some(format!("sig {mark}")))];
        self.note(who, &files, &json, "", Some(mark));
    }

    fn attach(&mut self, who: usize) {
        let mark = self.mark();
        let path = format!("projects/quay/photo{}.jpg", self.random(3));
        self.note(who, &[(&path, Some(mark.clone()))], &path, "", Some(mark));
    }

    fn answer(&mut self, who: usize) {
        let head = self.heads[who];
        let records = self.open(head);
        if records.is_empty() {
            return;
        }
        let record = records[self.random(records.len())].clone();
        let text = self.text(head, &record).unwrap();
        let open = MergeConflict::from_value(&serde_json::from_str(&text).unwrap()).unwrap();
        let choice = self.random(open.sides.len() + 1);
        let mut change: Option<Option<String>> = None;
        // A roster version that is there stays: the answer to two of one number is what stands.
        if let Some(side) = open.sides.get(choice).filter(|_| !open.path.starts_with("roster/")) {
            change = match (&side.file, &side.value) {
                (Some((kept, _)), _) => Some(Some(self.text(head, kept).unwrap())),
                (None, None) if open.pointer.is_empty() => Some(None),
                (None, Some(value)) if open.pointer.is_empty() => Some(Some(format!("{value:#}\n"))),
                (None, value) => {
                    let Some(now) = self.text(head, &open.path) else { return };
                    let mut now: Value = serde_json::from_str(&now).unwrap();
                    let done = match value {
                        Some(value) => put(&mut now, &open.pointer, value.clone()),
                        None => at(&now, &open.pointer).is_none() || take(&mut now, &open.pointer).is_some(),
                    };
                    if !done {
                        return;
                    }
                    Some(Some(format!("{now:#}\n")))
                }
            };
        }
        let mut files: Vec<(&str, Option<String>)> = vec![(&record, None)];
        files.extend(change.map(|text| (open.path.as_str(), text)));
        self.note(who, &files, &open.path, &open.pointer, None);
    }

    /// A sync by the steps of the real one; true where it came to its end. Killed, it leaves what had been done.
    fn sync(&mut self, who: usize, may_be_killed: bool, depth: usize) -> bool {
        let kill_at = if may_be_killed && self.random(6) == 0 { self.random(4) } else { usize::MAX };
        loop {
            let fetched = self.hub;
            if kill_at == 0 {
                self.kills += 1;
                return false; // fetched, and nothing else
            }
            let head = self.heads[who];
            let met = if self.behind(fetched, head) {
                head
            } else if self.behind(head, fetched) {
                fetched
            } else {
                let (ours, theirs) =
                    (head.to_string().parse().unwrap(), fetched.to_string().parse().unwrap());
                let ids: (CommitId, CommitId) = (ours, theirs);
                let merged = self.repo.merge_commits(&self.layout, ids.0, ids.1, &BTreeMap::new()).unwrap();
                self.questions += merged.opened.len();
                let tree = Oid::from_str(&merged.after.digest().unwrap()).unwrap();
                drop(merged);
                let tree = self.raw.find_tree(tree).unwrap().id();
                self.clock += 60;
                let raw = Rc::clone(&self.raw);
                let tree = raw.find_tree(tree).unwrap();
                self.store(&tree, &[head, fetched])
            };
            if kill_at == 1 {
                self.kills += 1;
                return false; // the merge is stored, and no branch names it
            }
            self.heads[who] = met;
            if kill_at == 2 {
                self.kills += 1;
                return false; // here, and not yet sent
            }
            // Somebody else is faster now and then.
            if depth < 2 && self.random(5) == 0 {
                let other = self.random(CLONES);
                if other != who {
                    self.sync(other, false, depth + 1);
                }
            }
            if !self.behind(self.hub, met) {
                self.races += 1;
                continue;
            }
            self.hub = met;
            if kill_at == 3 {
                self.kills += 1;
                return false; // sent, and nobody was told
            }
            return true;
        }
    }

    fn run(seed: u64, acts: usize) -> (usize, u32, u32) {
        let shared = Path::new("/dev/shm");
        let dir = if shared.is_dir() { tempfile::tempdir_in(shared) } else { tempfile::tempdir() }.unwrap();
        let mut clones = SimulatedClones::new(&dir.path().join("book"), seed);
        for _ in 0..acts {
            let who = clones.random(CLONES);
            match clones.random(18) {
                0..=5 => clones.edit_a_record(who),
                6 => clones.remove_something(who),
                7 => clones.say(who),
                8 => clones.attach(who),
                9 | 10 => clones.answer(who),
                11 => clones.take_in_paper(who),
                12 => clones.change_the_roster(who),
                _ => {
                    clones.sync(who, true, 0);
                }
            }
        }
        for _ in 0..2 {
            for who in 0..CLONES {
                assert!(clones.sync(who, false, 2));
            }
        }
        clones.judge(seed);
        (clones.questions, clones.kills, clones.races)
    }

    fn judge(&self, seed: u64) {
        let tree = |id: Oid| self.raw.find_commit(id).unwrap().tree_id();
        let trees: BTreeSet<Oid> = self.heads.iter().map(|head| tree(*head)).collect();
        assert_eq!(trees.len(), 1, "seed {seed}: {trees:?}");
        let files = self.files(self.hub);
        questions_are_whole(&files, seed);
        assert!(files.values().all(|text| !text.contains("<<<<<<<")), "seed {seed}");
        let mut there = HashSet::new();
        for text in files.values() {
            for (at, _) in text.match_indices("mark") {
                let end = text[at..].find('.').map_or(text.len(), |dot| at + dot + 1);
                there.insert(&text[at..end]);
            }
        }
        let mut of_path: HashMap<&str, Vec<&Edit>> = HashMap::new();
        for edit in &self.edits {
            of_path.entry(&edit.path).or_default().push(edit);
        }
        let within = |inner: &str, outer: &str| {
            inner.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        };
        for edit in &self.edits {
            let there = edit.mark.as_ref().is_none_or(|mark| there.contains(mark.as_str()));
            let overwritten = || {
                of_path[edit.path.as_str()].iter().any(|later| {
                    later.commit != edit.commit
                        && within(&edit.pointer, &later.pointer)
                        && has(&self.known[later.commit], edit.commit)
                })
            };
            assert!(
                there || overwritten(),
                "seed {seed}: {:?} at {}{} is lost",
                edit.mark,
                edit.path,
                edit.pointer
            );
        }
        for said in self.edits.iter().filter(|edit| edit.path.contains("/signoffs/")) {
            let sig = said.path.replace("json", "sig");
            assert!(
                files.contains_key(&said.path) && files.contains_key(&sig),
                "seed {seed}: {} is unsaid",
                said.path
            );
        }
        assert!(self.papers.iter().all(|scan| files.contains_key(scan)), "seed {seed}: a scan is lost");
        let versions = self.records(self.hub, "roster");
        let numbered = (1..=versions.len()).map(|number| format!("roster/{number:04}.json"));
        assert!(numbered.eq(versions.iter().cloned()), "seed {seed}: a version is missing: {versions:?}");
        assert!(!self.papers.is_empty() && versions.len() > 1, "seed {seed} took in next to nothing");
        assert!(self.kills > 0 && self.marks > 50, "seed {seed} was no trial");
    }
}

#[test]
fn simulated_clones_end_with_one_book_and_nothing_lost() {
    let acts = given("UNDERLIT_TEST_ACTS", 2000);
    let seed = given("UNDERLIT_TEST_SEED", 0);
    let first = seed.max(1);
    let end = first + given("UNDERLIT_TEST_SIMULATED", if seed == 0 { 50 } else { 1 });
    let next = AtomicU64::new(first);
    let ended = Mutex::new((0, 0, 0));
    let failed = Mutex::new(BTreeSet::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= end {
                        break;
                    }
                    let run = || SimulatedClones::run(seed, usize::try_from(acts).unwrap());
                    match catch_unwind(AssertUnwindSafe(run)) {
                        Ok((asked, killed, raced)) => {
                            let mut all = ended.lock().unwrap();
                            *all = (all.0 + asked, all.1 + killed, all.2 + raced);
                        }
                        Err(_) => drop(failed.lock().unwrap().insert(seed)),
                    }
                }
            });
        }
    });
    let failed = failed.into_inner().unwrap();
    let replay = |seed: &u64| {
        format!("UNDERLIT_TEST_SEED={seed} UNDERLIT_TEST_ACTS={acts} cargo test --test git_room simulated")
    };
    let replays: Vec<String> = failed.iter().map(replay).collect();
    assert!(failed.is_empty(), "replay what failed alone:\n{}", replays.join("\n"));
    let (questions, kills, races) = ended.into_inner().unwrap();
    assert!(questions > 10 && kills > 10 && races > 5, "{questions} questions, {kills} kills, {races} races");
}

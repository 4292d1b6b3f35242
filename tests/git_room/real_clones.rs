//! Real clones that edit, remove, add, answer and sync in random order. In the end all hold one tree, and every
//! edit is in it, in an open question, or was overwritten by someone who had seen it.
//!
//! A seed is one run and replays. More of them: `UNDERLIT_TEST_REAL=50 cargo test --test git_room real_clones`.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::{Value, json};
use underlit::git::{CommitId, Repo};
use underlit::merge::{MergeConflict, at, put, take};

use crate::book::{Stage, commit, read, write};
use crate::clones::{Hand, pair, questions_are_whole};
use crate::dice::{Dice, given};

/// One edit: a place, the mark it left there, and the commit it was made in.
struct Edit {
    path: String,
    pointer: String,
    mark: Option<String>,
    commit: CommitId,
}

struct RealClones {
    stage: Stage,
    hands: Vec<Hand>,
    edits: Vec<Edit>,
    added: Vec<String>,
    dice: Dice,
    marks: u32,
}

fn files_of(at: &Path) -> BTreeMap<String, String> {
    fn gather(dir: &Path, root: &Path, found: &mut BTreeMap<String, String>) {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                if path.file_name().unwrap() != ".git" {
                    gather(&path, root, found);
                }
            } else {
                let name = path.strip_prefix(root).unwrap().to_str().unwrap().to_owned();
                found.insert(name, String::from_utf8_lossy(&std::fs::read(&path).unwrap()).into_owned());
            }
        }
    }
    let mut found = BTreeMap::new();
    gather(at, at, &mut found);
    found
}

impl RealClones {
    fn random(&mut self, below: usize) -> usize {
        self.dice.below(below)
    }

    fn mark(&mut self) -> String {
        self.marks += 1;
        format!("mark{}.", self.marks)
    }

    fn note(&mut self, who: usize, paths: &[&str], path: &str, pointer: &str, mark: Option<String>) {
        let clock = 1_900_000_000 + i64::try_from(self.edits.len()).unwrap() * 60;
        let hand = &self.hands[who];
        if let Some(commit) = commit(&hand.repo, paths, hand.name, clock) {
            self.edits.push(Edit { path: path.into(), pointer: pointer.into(), mark, commit });
        }
    }

    fn edit_a_record(&mut self, who: usize) {
        let path = format!("projects/quay/panels/p{}.json", self.random(4));
        let at = self.hands[who].at.clone();
        let mut record: Value = if at.join(&path).exists() {
            serde_json::from_str(&read(&at, &path)).unwrap()
        } else {
            json!({"id": "p"})
        };
        let mark = self.mark();
        let pointer = match self.random(3) {
            0 => {
                let id = ["warm", "cold"][self.random(2)];
                if record.get("channels").is_none() {
                    record["channels"] = json!([]);
                }
                let pointer = format!("/channels/id={id}");
                put(&mut record, &pointer, json!({"id": id, "value": mark}));
                format!("{pointer}/value")
            }
            _ => {
                let pointer = format!("/field{}", self.random(4));
                put(&mut record, &pointer, json!(mark));
                pointer
            }
        };
        write(&at, &path, &format!("{record:#}\n"));
        self.note(who, &[&path], &path, &pointer, Some(mark));
    }

    fn remove_something(&mut self, who: usize) {
        let at = self.hands[who].at.clone();
        let path = format!("projects/quay/panels/p{}.json", self.random(4));
        if !at.join(&path).exists() {
            return;
        }
        if self.random(2) == 0 {
            std::fs::remove_file(at.join(&path)).unwrap();
            self.note(who, &[&path], &path, "", None);
        } else {
            let mut record: Value = serde_json::from_str(&read(&at, &path)).unwrap();
            let pointer = format!("/field{}", self.random(4));
            if take(&mut record, &pointer).is_some() {
                write(&at, &path, &format!("{record:#}\n"));
                self.note(who, &[&path], &path, &pointer, None);
            }
        }
    }

    fn say_or_attach(&mut self, who: usize) {
        let mark = self.mark();
        let path = match self.random(2) {
            0 => format!("projects/quay/signoffs/{mark}json"),
            _ => format!("projects/quay/photo{}.jpg", self.random(2)),
        };
        write(&self.hands[who].at.clone(), &path, &mark);
        self.note(who, &[&path], &path, "", Some(mark));
    }

    /// A paper answer, which lies beside its statement and signature, or the next roster version, of which two owners may
    /// make one of the same number at once.
    fn take_in_paper_or_change_the_roster(&mut self, who: usize) {
        let mark = self.mark();
        let at = self.hands[who].at.clone();
        let names =
            |folder: &str| std::fs::read_dir(at.join(folder)).map(Iterator::count).unwrap_or_default();
        let files = match self.random(2) {
            0 => {
                ["json", "sig", "pdf"].map(|ending| format!("projects/quay/signoffs/{mark}{ending}")).to_vec()
            }
            _ => {
                // A version and its signature.
                let versions =
                    (1..=names("roster")).take_while(|n| at.join(format!("roster/{n:04}.json")).exists());
                let number = versions.count() + 1;
                [format!("roster/{number:04}.json"), format!("roster/{number:04}.{mark}sig")].to_vec()
            }
        };
        for path in &files {
            write(&at, path, &mark);
        }
        let paths: Vec<&str> = files.iter().map(String::as_str).collect();
        self.note(who, &paths, &files[0], "", Some(mark));
        self.added.extend(files);
    }

    fn answer(&mut self, who: usize) {
        let home = self.hands[who].at.clone();
        let records: Vec<String> = files_of(&home)
            .into_keys()
            .filter(|path| path.contains("conflicts/") && path.ends_with(".json"))
            .collect();
        if records.is_empty() {
            return;
        }
        let record = records[self.random(records.len())].clone();
        let open = MergeConflict::from_value(&serde_json::from_str(&read(&home, &record)).unwrap()).unwrap();
        let choice = self.random(open.sides.len() + 1);
        // A roster version that is there stays: the answer to two of one number is what stands.
        let side = open.sides.get(choice).filter(|_| !open.path.starts_with("roster/"));
        if let Some(side) = side {
            let file = home.join(&open.path);
            match (&side.file, &side.value) {
                (Some((kept, _)), _) => {
                    std::fs::copy(home.join(kept), file).unwrap();
                }
                (None, None) if open.pointer.is_empty() => drop(std::fs::remove_file(file)),
                (None, Some(value)) if open.pointer.is_empty() => {
                    write(&home, &open.path, &format!("{value:#}\n"));
                }
                (None, value) => {
                    if !file.exists() {
                        return; // somebody removed the whole record since
                    }
                    let mut now: Value = serde_json::from_str(&read(&home, &open.path)).unwrap();
                    let done = match value {
                        Some(value) => put(&mut now, &open.pointer, value.clone()),
                        None => at(&now, &open.pointer).is_none() || take(&mut now, &open.pointer).is_some(),
                    };
                    if !done {
                        return;
                    }
                    write(&home, &open.path, &format!("{now:#}\n"));
                }
            }
        }
        std::fs::remove_file(home.join(&record)).unwrap();
        self.note(who, &[&open.path, &record], &open.path, &open.pointer, None);
    }

    fn run(seed: u64, steps: usize) {
        let stage = Stage::new();
        let (hub, rep, designer) = pair(&stage);
        let mut hands = vec![rep, designer];
        for name in ["Engineer", "Client", "Second", "Third"] {
            hands.push(Hand::clone(&stage, &hub, name, 1_800_200_000));
        }
        let mut clones =
            RealClones { stage, hands, edits: Vec::new(), added: Vec::new(), dice: Dice(seed), marks: 0 };
        for _ in 0..steps {
            let who = clones.random(clones.hands.len());
            match clones.random(13) {
                0..=4 => clones.edit_a_record(who),
                5 => clones.remove_something(who),
                6 => clones.say_or_attach(who),
                7 | 8 => clones.answer(who),
                9 => clones.take_in_paper_or_change_the_roster(who),
                _ => drop(clones.hands[who].sync()),
            }
        }
        for _ in 0..2 {
            for hand in &mut clones.hands {
                hand.sync();
            }
        }
        clones.judge(seed);
        clones.stage.sound(&hub);
    }

    fn judge(&self, seed: u64) {
        let trees: Vec<String> =
            self.hands.iter().map(|h| self.stage.git(&h.at, &["rev-parse", "HEAD^{tree}"])).collect();
        assert!(trees.windows(2).all(|two| two[0] == two[1]), "seed {seed}: {trees:?}");
        self.hands.iter().for_each(|hand| self.stage.clean(&hand.at));
        let files = files_of(&self.hands[0].at);
        questions_are_whole(&files, seed);
        for (_, text) in
            files.iter().filter(|(path, _)| path.contains("/panels/") || path.ends_with("project.json"))
        {
            serde_json::from_str::<Value>(text).unwrap();
        }
        assert!(
            self.added.iter().all(|path| files.contains_key(path)),
            "seed {seed}: what was added is gone"
        );
        assert!(!self.added.is_empty(), "seed {seed} took in no paper and no roster");
        let everything: String = files.values().map(String::as_str).collect();
        let repo = Repo::open(&self.hands[0].at).unwrap();
        let seen = |later: CommitId, earlier: CommitId| {
            later != earlier
                && self
                    .stage
                    .try_git(
                        repo.root(),
                        &["merge-base", "--is-ancestor", &earlier.to_string(), &later.to_string()],
                    )
                    .0
        };
        for edit in &self.edits {
            let there = match &edit.mark {
                Some(mark) => everything.contains(mark.as_str()),
                None => true,
            };
            let overwritten = || {
                self.edits.iter().any(|later| {
                    later.path == edit.path
                        && (edit.pointer == later.pointer
                            || edit.pointer.starts_with(&format!("{}/", later.pointer)))
                        && seen(later.commit, edit.commit)
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
        assert!(self.marks > 20, "seed {seed} edited next to nothing");
    }
}

#[test]
fn real_clones_end_with_one_book_and_nothing_lost() {
    let first = given("UNDERLIT_TEST_SEED", 1);
    for seed in first..first + given("UNDERLIT_TEST_REAL", 2) {
        RealClones::run(seed, usize::try_from(given("UNDERLIT_TEST_STEPS", 150)).unwrap());
    }
}

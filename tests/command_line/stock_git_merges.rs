//! Stock `git merge` and `sync` make the very same tree, byte for byte, of random edits: fields, collections, whole
//! records added, removed and edited, attachments, outlines, answers, open questions that meet, histories that cross.
//!
//! Commits are made in this process, so that a merge costs two runs of programs. More of them:
//! `UNDERLIT_TEST_PULLS=1000 cargo test --test command_line stock_git_merges`; `UNDERLIT_TEST_SEED=7` draws others.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use git2::build::{CheckoutBuilder, TreeUpdateBuilder};
use git2::{FileMode, Oid, Repository, RepositoryState, ResetType, Signature, Time};
use serde_json::{Value, json};
use underlit::digest::Sha256Digest;

use crate::dice::{Dice, given};
use crate::stages::{self, PROJECT, curved};
use crate::stock_git::{git, set_up};
use crate::workshop::{Desk, Place};

/// A clone in which merges are tried, with what it counted.
struct Yard {
    _place: Place,
    desk: Desk,
    bin: PathBuf,
    raw: Repository,
    dice: Dice,
    seed: u64,
    clock: i64,
    merges: u64,
    tally: BTreeMap<&'static str, u32>,
}

/// Files that one person changes in one commit; `None` for one that goes.
type Draft = BTreeMap<String, Option<Vec<u8>>>;

/// What an edit makes of a record.
type Change = Box<dyn Fn(&mut Value)>;

impl Yard {
    fn new(seed: u64) -> Yard {
        let place = Place::new();
        let desk = place.copy(stages::chosen(), "mara");
        let hub = place.path("hub.git");
        desk.git(&format!("init --quiet --bare -b main {}", hub.display()));
        desk.git(&format!("remote add origin {}", hub.display()));
        desk.run("sync").code(0);
        let bin = set_up(&desk, &place);
        let raw = Repository::open(&desk.at).unwrap();
        let dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let tally = BTreeMap::new();
        Yard { _place: place, desk, bin, raw, dice, seed, clock: 1_800_000_000, merges: 0, tally }
    }

    fn count(&mut self, what: &'static str) {
        *self.tally.entry(what).or_default() += 1;
    }

    fn tree(&self, commit: Oid) -> Oid {
        self.raw.find_commit(commit).unwrap().tree_id()
    }

    fn bytes(&self, commit: Oid, path: &str) -> Option<Vec<u8>> {
        let tree = self.raw.find_commit(commit).unwrap().tree().unwrap();
        let entry = tree.get_path(Path::new(path)).ok()?;
        Some(self.raw.find_blob(entry.id()).unwrap().content().to_vec())
    }

    /// The records of open questions.
    fn open(&self, commit: Oid) -> Vec<(String, Value)> {
        let folder = format!("{PROJECT}/conflicts");
        let tree = self.raw.find_commit(commit).unwrap().tree().unwrap();
        let Ok(found) = tree.get_path(Path::new(&folder)) else { return Vec::new() };
        let tree = self.raw.find_tree(found.id()).unwrap();
        let records = tree.iter().filter(|entry| entry.name().unwrap().ends_with(".json"));
        records
            .map(|entry| {
                let blob = self.raw.find_blob(entry.id()).unwrap();
                let record = serde_json::from_slice(blob.content()).unwrap();
                (format!("{folder}/{}", entry.name().unwrap()), record)
            })
            .collect()
    }

    fn commit(&mut self, base: Oid, draft: &Draft, who: &str) -> Oid {
        self.clock += 60;
        let parent = self.raw.find_commit(base).unwrap();
        let tree = parent.tree().unwrap();
        let mut builder = TreeUpdateBuilder::new();
        for (path, bytes) in draft {
            match bytes {
                Some(bytes) => {
                    builder.upsert(path.as_str(), self.raw.blob(bytes).unwrap(), FileMode::Blob);
                }
                None if tree.get_path(Path::new(path)).is_ok() => drop(builder.remove(path.as_str())),
                None => {}
            }
        }
        let tree = self.raw.find_tree(builder.create_updated(&self.raw, &tree).unwrap()).unwrap();
        let who = Signature::new(who, &format!("{who}@tern.invalid"), &Time::new(self.clock, 0)).unwrap();
        self.raw.commit(None, &who, &who, &format!("edits of {}", self.clock), &tree, &[&parent]).unwrap()
    }

    /// A commit of a few random edits.
    fn leaf(&mut self, base: Oid, who: &str) -> Oid {
        let mut draft = Draft::new();
        for _ in 0..2 + self.dice.below(4) {
            self.edit(base, &mut draft);
        }
        self.commit(base, &draft, who)
    }

    fn record(&self, base: Oid, draft: &Draft, path: &str) -> Option<Value> {
        let bytes = match draft.get(path) {
            Some(bytes) => bytes.clone()?,
            None => self.bytes(base, path)?,
        };
        Some(serde_json::from_slice(&bytes).unwrap())
    }

    fn edit(&mut self, base: Oid, draft: &mut Draft) {
        let kind = self.dice.below(18);
        let extra = format!("{PROJECT}/panels/extra{}", self.dice.below(2));
        let (panel, outline) = (format!("{extra}.json"), format!("{extra}.outline.json"));
        let n = self.dice.below(4);
        let (path, change): (String, Change) = match kind {
            0 => (format!("{PROJECT}/project.json"), set("title", json!(format!("Desk {n}")))),
            1 => (format!("{PROJECT}/project.json"), set("install_date", json!(format!("2027-04-1{n}")))),
            2 => (format!("{PROJECT}/swatches/alba.json"), set("stone", json!(format!("Alabaster {n}")))),
            3 => {
                let lot = json!(format!("B-{n}"));
                (format!("{PROJECT}/swatches/alba.json"), Box::new(move |r| r["slab"]["lot"] = lot.clone()))
            }
            4 => (format!("{PROJECT}/panels/front.json"), set("note", json!(format!("note {n}")))),
            5 => (format!("{PROJECT}/panels/front.json"), set("note", Value::Null)),
            6 => (
                format!("{PROJECT}/panels/front.json"),
                set("lit_edges", [json!([1]), json!([3]), json!([1, 3]), json!([3, 1])][n].clone()),
            ),
            7 => (
                format!("{PROJECT}/panels/front.json"),
                set("faces_considered", [json!(["diffused"]), json!(["clear", "diffused"])][n % 2].clone()),
            ),
            8 => (
                format!("{PROJECT}/panels/front.json"),
                set("light", json!({"kind": "static-white", "cct_k": 2700 + 300 * n})),
            ),
            9 => (format!("{PROJECT}/trials/warm.json"), set("seen", json!(format!("clouds show, {n}")))),
            // A record that both may add, and edit, and take away.
            10 | 11 if self.record(base, draft, &panel).is_none() => {
                let file = "outline.json";
                let front = self.bytes(base, &format!("{PROJECT}/panels/front.{file}")).unwrap();
                let mut record = self.record(base, draft, &format!("{PROJECT}/panels/front.json")).unwrap();
                let id = extra.rsplit('/').next().unwrap().to_owned();
                record["outline"] =
                    json!({"file": format!("{id}.{file}"), "sha256": Sha256Digest::of(&front).hex()});
                record["id"] = json!(id);
                record["title"] = json!(format!("Extra {n}"));
                draft.insert(outline, Some(front));
                draft.insert(panel, Some(format!("{record:#}\n").into_bytes()));
                return;
            }
            10 => (panel, set("title", json!(format!("Extra {n}")))),
            11 => {
                draft.insert(panel, None);
                draft.insert(outline, None);
                return;
            }
            12 | 13 => {
                // A photo and the field that names it, which come and go together, under one of two names.
                let path = format!("{PROJECT}/swatches/alba.json");
                let mut record = self.record(base, draft, &path).unwrap();
                if let Some(old) = record["photo"]["file"].as_str() {
                    draft.insert(format!("{PROJECT}/swatches/{old}"), None);
                }
                record.as_object_mut().unwrap().shift_remove("photo");
                if n < 3 {
                    let pixels = format!("pixels {}", self.dice.below(3)).into_bytes();
                    let file = format!("alba{}.jpg", n % 2);
                    record["photo"] = json!({"file": file, "sha256": Sha256Digest::of(&pixels).hex()});
                    draft.insert(format!("{PROJECT}/swatches/{file}"), Some(pixels));
                }
                draft.insert(path, Some(format!("{record:#}\n").into_bytes()));
                return;
            }
            14 => {
                // An outline is a drawing and its digest, which come and go together.
                let drawing = curved(600 + 10 * u32::try_from(n).unwrap()).into_bytes();
                let path = format!("{PROJECT}/panels/front.json");
                let mut record = self.record(base, draft, &path).unwrap();
                record["outline"]["sha256"] = json!(Sha256Digest::of(&drawing).hex());
                draft.insert(format!("{PROJECT}/panels/front.outline.json"), Some(drawing));
                draft.insert(path, Some(format!("{record:#}\n").into_bytes()));
                return;
            }
            15 | 16 => {
                // A stone that one may take away while another begins to use it.
                let beta = format!("{PROJECT}/swatches/beta.json");
                let panels = [0, 1].map(|n| format!("{PROJECT}/panels/extra{n}.json"));
                let used = panels.iter().any(|panel| {
                    self.record(base, draft, panel).is_some_and(|record| record["swatch"] == json!("beta"))
                });
                match self.record(base, draft, &beta) {
                    None => {
                        let alba = format!("{PROJECT}/swatches/alba.json");
                        let mut record = self.record(base, draft, &alba).unwrap();
                        record["id"] = json!("beta");
                        record.as_object_mut().unwrap().shift_remove("photo");
                        draft.insert(beta, Some(format!("{record:#}\n").into_bytes()));
                        return;
                    }
                    Some(_) if !used && kind == 15 => {
                        draft.insert(beta, None);
                        return;
                    }
                    Some(_) => (panel, set("swatch", json!(["alba", "beta"][n % 2]))),
                }
            }
            _ => {
                // Somebody leaves a place as it was: the question goes, with what it alone kept.
                let open = self.open(base);
                let Some((path, record)) = open.get(n) else { return };
                let kept = |record: &Value| -> Vec<String> {
                    let sides = record["sides"].as_array().unwrap();
                    sides.iter().filter_map(|s| s["file"].as_str().map(ToOwned::to_owned)).collect()
                };
                let others: Vec<String> =
                    open.iter().filter(|(p, _)| p != path).flat_map(|(_, r)| kept(r)).collect();
                draft.extend(kept(record).into_iter().filter(|k| !others.contains(k)).map(|k| (k, None)));
                draft.insert(path.clone(), None);
                return;
            }
        };
        let Some(mut record) = self.record(base, draft, &path) else { return };
        change(&mut record);
        draft.insert(path, Some(format!("{record:#}\n").into_bytes()));
    }

    fn stand_at(&mut self, ours: Oid, theirs: Oid) {
        self.raw.reference("refs/remotes/origin/main", theirs, true, "trial").unwrap();
        let commit = self.raw.find_object(ours, None).unwrap();
        let mut checkout = CheckoutBuilder::new();
        checkout.force().remove_untracked(true);
        self.raw.reset(&commit, ResetType::Hard, Some(&mut checkout)).unwrap();
    }

    /// One merge by git and once more by `sync`.
    fn merge(&mut self, ours: Oid, theirs: Oid) -> Oid {
        self.merges += 1;
        let what = format!("seed {} merge {}: {ours} with {theirs}", self.seed, self.merges);
        self.stand_at(ours, theirs);
        let (merged, said) = git(&self.desk, &self.bin, "merge -q --no-edit origin/main");
        let by_git = self.raw.refname_to_id("HEAD").unwrap();
        assert_eq!(self.raw.state(), RepositoryState::Clean, "{what}: {said}");
        let differs = self.raw.statuses(None).unwrap().iter().filter(|s| !s.status().is_ignored()).count();
        assert_eq!(differs, 0, "{what}: {said}");
        self.stand_at(ours, theirs);
        let synced = self.desk.run("sync --offline");
        let by_sync = self.raw.refname_to_id("HEAD").unwrap();
        assert_eq!(merged, [0, 4].contains(&synced.code), "{what}: {said}\n{synced:?}");
        assert_eq!(self.tree(by_git), self.tree(by_sync), "{what}: {said}\n{synced:?}");
        if !merged {
            let holds = [ours, theirs].map(|side| {
                self.stand_at(side, side);
                self.desk.run("check").code == 0
            });
            panic!("{what}: no merge holds of sides of which hold {holds:?}: {said}\n{synced:?}");
        }
        for made in [by_git, by_sync] {
            let parents: Vec<Oid> = self.raw.find_commit(made).unwrap().parent_ids().collect();
            assert_eq!(parents, [ours, theirs], "{what}");
        }
        self.count(if synced.code == 4 { "asked" } else { "clean" });
        for (_, record) in self.open(by_git) {
            let whole = record["pointer"] == json!("");
            let path = record["path"].as_str().unwrap();
            match record["sides"].as_array().unwrap().len() {
                2 if whole && path.contains("extra") => self.count("whole records"),
                2 if whole => self.count("attachments"),
                2 => {}
                _ => self.count("of three and more"),
            }
        }
        by_sync
    }

    /// Four people, two by two, then all; and now and then crosswise, with an edit after it.
    fn fan(&mut self, base: Oid) -> Oid {
        let leaves = ["mara", "imke", "tom", "jonas"].map(|who| self.leaf(base, who));
        let left = self.merge(leaves[0], leaves[1]);
        let right = self.merge(leaves[2], leaves[3]);
        let all = self.merge(left, right);
        if self.dice.below(3) != 0 {
            return all;
        }
        let crossed = self.merge(right, left);
        assert_eq!(self.tree(all), self.tree(crossed), "seed {}: {left} and {right}", self.seed);
        let (one, other) = (self.leaf(all, "mara"), self.leaf(crossed, "tom"));
        self.count("crossed");
        self.merge(one, other)
    }
}

fn set(field: &'static str, value: Value) -> Change {
    Box::new(move |record| match &value {
        Value::Null => drop(record.as_object_mut().unwrap().shift_remove(field)),
        value => record[field] = value.clone(),
    })
}

#[test]
fn a_stock_merge_makes_the_tree_that_sync_makes_of_any_edits() {
    let wanted = given("UNDERLIT_TEST_PULLS", 36);
    let mut yard = Yard::new(given("UNDERLIT_TEST_SEED", 1));
    let mut base = yard.raw.refname_to_id("HEAD").unwrap();
    while yard.merges < wanted {
        base = yard.fan(base);
        // Questions live on for a while, and meet later edits and one another; then somebody settles them.
        if yard.open(base).len() > 8 || yard.dice.below(4) == 0 {
            yard.stand_at(base, base);
            let side = ["1", "2", "base"][yard.dice.below(3)];
            yard.desk.run(&format!("resolve quay-desk --all --take {side}"));
            // One answer to all may leave a panel whose drawing is gone: then they stay open.
            if yard.desk.run("check").code == 0 {
                base = yard.raw.refname_to_id("HEAD").unwrap();
                yard.count("settled");
            }
        }
    }
    yard.desk.sound_for_git();
    let tally = format!("{} merges: {:?}", yard.merges, yard.tally);
    let often = |what| yard.tally.get(what).copied().unwrap_or_default();
    assert!(often("clean") > 0 && often("asked") > 3, "{tally}");
    assert!(wanted < 100 || often("of three and more") > 0 && often("whole records") > 0, "{tally}");
    std::io::Write::write_all(&mut std::io::stderr(), format!("{tally}\n").as_bytes()).unwrap();
}

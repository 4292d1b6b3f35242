//! A plain `git merge` with the merge driver gives the same tree, byte for byte, as the merge of whole trees; where
//! there is a question it stops and says so.

use std::collections::BTreeMap;

use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use serde_json::{Map, Value, json};
use underlit::git::{CommitId, Moment, NewCommit, Repo};
use underlit::merge::{Three, drive};

use crate::book::{Stage, person, read, write};
use crate::clones::layout;
use crate::dice::given;

/// What git runs as the driver.
#[test]
#[ignore = "run by git in the test below"]
fn driver() {
    let file = |name: &str| std::env::var(name).map(std::path::PathBuf::from);
    let (Ok(base), Ok(ours), Ok(theirs)) = (file("DRIVE_O"), file("DRIVE_A"), file("DRIVE_B")) else {
        return;
    };
    let (b, o, t) =
        (std::fs::read(base).unwrap(), std::fs::read(&ours).unwrap(), std::fs::read(theirs).unwrap());
    let path = std::env::var("DRIVE_P").unwrap();
    let driven = drive(&layout(), &path, Three { base: &b, ours: &o, theirs: &t });
    std::fs::write(ours, driven.bytes).unwrap();
    assert_eq!(driven.questions, vec![]);
}

fn random_edit(next: &mut impl FnMut(u32) -> u32, at: &std::path::Path, mine: u32) {
    for _ in 0..1 + next(3) {
        let panel = format!("projects/quay/panels/p{}.json", next(2));
        let mut record: Value = std::fs::read_to_string(at.join(&panel))
            .ok()
            .and_then(|text| serde_json::from_str(&text).ok())
            .unwrap_or_else(|| json!({"id": panel, "cct_k": 2700}));
        let field = ["cct_k", "volts", "note", "depth_mm", "tone"][next(5) as usize];
        match next(6) {
            0 => drop(record.as_object_mut().unwrap().shift_remove(field)),
            1 => record["light"] = json!({"kind": "rgb", field: next(3)}),
            2 => {
                let mut channels: Vec<Value> = record["channels"].as_array().cloned().unwrap_or_default();
                let id = format!("c{}", next(5));
                channels.retain(|c| c["id"] != json!(id));
                channels.insert(next(1 + channels.len() as u32) as usize, json!({"id": id, "v": next(3)}));
                record["channels"] = Value::Array(channels);
            }
            // Mostly fields of one's own, so that most merges have no question.
            _ => record[format!("{field}_{}", mine * next(5).min(1))] = json!(next(9)),
        }
        write(at, &panel, &format!("{record:#}\n"));
    }
    if next(4) == 0 {
        let mut map = Map::new();
        map.insert("new".into(), json!(next(3)));
        write(
            at,
            &format!("projects/quay/panels/n{}-{mine}.json", next(3)),
            &format!("{:#}\n", Value::Object(map)),
        );
    }
}

#[test]
fn stock_git_with_the_driver_makes_the_same_tree() {
    let rounds = given("UNDERLIT_TEST_MERGES", 60);
    let stage = Stage::new();
    let at = stage.path("book");
    let repo = Repo::create(&at).unwrap();
    let me = std::env::current_exe().unwrap();
    let driver = format!(
        "DRIVE_O=%O DRIVE_A=%A DRIVE_B=%B DRIVE_P=%P '{}' --exact stock_merge::driver --ignored >/dev/null 2>&1",
        me.display()
    );
    repo.set_merge_driver(&driver).unwrap();
    let mut runner =
        TestRunner::new_with_rng(Config::default(), TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]));
    let mut next = |below: u32| {
        use proptest::strategy::{Strategy, ValueTree};
        (0..below).new_tree(&mut runner).unwrap().current()
    };
    let mut clock = 1_800_000_000;
    let mut commit_all = |name: &str| -> Option<CommitId> {
        clock += 1;
        let lock = repo.lock().unwrap();
        let new = NewCommit { message: name, author: &person(name), at: Moment::utc(clock) };
        repo.commit_paths(&lock, &[""], &new).unwrap()
    };
    random_edit(&mut next, &at, 0);
    commit_all("Start").unwrap();
    let (mut clean, mut stopped) = (0, 0);
    for _ in 0..rounds {
        random_edit(&mut next, &at, 0);
        commit_all("Base");
        let base = repo.head().unwrap().unwrap().to_string();
        random_edit(&mut next, &at, 1);
        let Some(ours) = commit_all("Ours") else { continue };
        stage.git(&at, &["checkout", "-q", "-B", "side", &base]);
        random_edit(&mut next, &at, 2);
        let Some(theirs) = commit_all("Theirs") else {
            stage.git(&at, &["checkout", "-q", "main"]);
            continue;
        };
        stage.git(&at, &["checkout", "-q", "main"]);
        let ours_tree = repo.merge_commits(&layout(), ours, theirs, &BTreeMap::new()).unwrap();
        let (merged, said) = stage.try_git(&at, &["merge", "-q", "--no-edit", "side"]);
        if ours_tree.opened.is_empty() {
            assert!(merged, "{said}");
            let stock = stage.git(&at, &["rev-parse", "HEAD^{tree}"]);
            assert_eq!(ours_tree.after.digest().unwrap(), stock.trim());
            clean += 1;
        } else {
            assert!(!merged, "git merged what is a question: {:?}", ours_tree.opened);
            for (_, question) in &ours_tree.opened {
                let text =
                    if at.join(&question.path).exists() { read(&at, &question.path) } else { String::new() };
                assert!(!text.contains("<<<<<<<"), "{text}");
            }
            stage.git(&at, &["merge", "--abort"]);
            stopped += 1;
        }
    }
    stage.clean(&at);
    assert!(clean * 4 > rounds && stopped > 0, "{clean} clean, {stopped} stopped of {rounds}");
}

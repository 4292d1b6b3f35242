//! Sync between clones over a real remote: what comes in, what stays open, what is refused and why.

use serde_json::{Value, json};
use underlit::git::{GitError, Repo, UserGit};
use underlit::merge::MergeConflict;

use crate::book::{Stage, read, write};
use crate::clones::{Hand, pair, user_git};

const BAR: &str = "projects/quay/panels/bar.json";

fn set(hand: &Hand, key: &str, value: Value) {
    let mut record: Value = serde_json::from_str(&read(&hand.at, BAR)).unwrap();
    record[key] = value;
    write(&hand.at, BAR, &format!("{record:#}\n"));
}

fn get(hand: &Hand, key: &str) -> Value {
    serde_json::from_str::<Value>(&read(&hand.at, BAR)).unwrap()[key].clone()
}

fn conflicts(hand: &Hand) -> Vec<MergeConflict> {
    let dir = hand.at.join("projects/quay/conflicts");
    let Ok(found) = std::fs::read_dir(&dir) else { return Vec::new() };
    let mut paths: Vec<_> =
        found.map(|e| e.unwrap().path()).filter(|p| p.extension().unwrap() == "json").collect();
    paths.sort();
    let parse = |path| {
        MergeConflict::from_value(&serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()).unwrap()
    };
    paths.iter().map(parse).collect()
}

fn same_book(stage: &Stage, hands: &[&Hand]) {
    let trees: Vec<String> = hands.iter().map(|h| stage.git(&h.at, &["rev-parse", "HEAD^{tree}"])).collect();
    assert!(trees.windows(2).all(|two| two[0] == two[1]), "{trees:?}");
    hands.iter().for_each(|hand| stage.clean(&hand.at));
}

#[test]
fn edits_of_different_fields_meet() {
    let stage = Stage::new();
    let (hub, mut rep, mut designer) = pair(&stage);
    set(&rep, "cct_k", json!(3000));
    set(&designer, "volts", json!(12));
    write(&designer.at, "projects/quay/photo.jpg", "pixels");
    let up = rep.sync();
    assert!(up.pushed && !up.merged);
    let met = designer.sync();
    assert!(met.pushed && met.merged && met.opened.is_empty());
    assert_eq!(met.commits.len(), 1);
    assert_eq!(met.commits[0].author.name, "Rep");
    assert_eq!(met.changes.iter().map(|c| c.path.as_str()).collect::<Vec<_>>(), [BAR]);
    let down = rep.sync();
    assert!(!down.pushed && !down.merged && down.commits.len() == 2);
    assert_eq!((get(&rep, "cct_k"), get(&rep, "volts")), (json!(3000), json!(12)));
    same_book(&stage, &[&rep, &designer]);
    stage.sound(&hub);
    // Nothing to do is done in silence.
    let again = rep.sync();
    assert!(!again.pushed && again.commits.is_empty() && again.before == again.after);
    // A merge has two parents, ours first.
    let parents = stage.git(&designer.at, &["rev-list", "--parents", "-1", "HEAD"]);
    assert_eq!(parents.split_whitespace().count(), 3);
}

#[test]
fn the_same_field_becomes_an_open_question_and_an_answer_ends_it() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    set(&rep, "cct_k", json!(3000));
    rep.sync();
    set(&designer, "cct_k", json!(4000));
    let met = designer.sync();
    assert_eq!(met.opened.len(), 1);
    assert_eq!(get(&designer, "cct_k"), json!(2700));
    rep.sync();
    let open = conflicts(&rep);
    assert_eq!(open.len(), 1);
    assert_eq!((open[0].path.as_str(), open[0].pointer.as_str()), (BAR, "/cct_k"));
    assert_eq!(open[0].base, Some(json!(2700)));
    let told: Vec<(String, Value)> = open[0]
        .sides
        .iter()
        .map(|s| (s.who.as_ref().unwrap().by.clone(), s.value.clone().unwrap()))
        .collect();
    assert_eq!(told, [("Rep".into(), json!(3000)), ("Designer".into(), json!(4000))]);
    // The answer: a value, and the record of the question gone.
    set(&rep, "cct_k", json!(4000));
    std::fs::remove_dir_all(rep.at.join("projects/quay/conflicts")).unwrap();
    rep.sync();
    set(&designer, "volts", json!(12));
    let met = designer.sync();
    assert!(met.opened.is_empty());
    assert_eq!((get(&designer, "cct_k"), conflicts(&designer).len()), (json!(4000), 0));
    rep.sync();
    same_book(&stage, &[&rep, &designer]);
}

#[test]
fn a_third_opinion_joins_the_question() {
    let stage = Stage::new();
    let (hub, mut rep, mut designer) = pair(&stage);
    let mut engineer = Hand::clone(&stage, &hub, "Engineer", 1_800_200_000);
    set(&rep, "cct_k", json!(3000));
    set(&designer, "cct_k", json!(4000));
    set(&engineer, "cct_k", json!(3500));
    rep.sync();
    designer.sync();
    engineer.sync();
    let open = conflicts(&engineer);
    assert_eq!(open.len(), 1, "{open:?}");
    let values: Vec<Value> = open[0].sides.iter().map(|s| s.value.clone().unwrap()).collect();
    assert_eq!(values, [json!(3000), json!(4000), json!(3500)]);
    assert_eq!(get(&engineer, "cct_k"), json!(2700));
    // One answers with the base, another with a value, apart: that is a question again.
    rep.sync();
    designer.sync();
    std::fs::remove_dir_all(rep.at.join("projects/quay/conflicts")).unwrap();
    std::fs::remove_dir_all(designer.at.join("projects/quay/conflicts")).unwrap();
    set(&designer, "cct_k", json!(3500));
    rep.sync();
    designer.sync();
    let open = conflicts(&designer);
    assert_eq!(open.len(), 1);
    let told: Vec<(String, Value)> = open[0]
        .sides
        .iter()
        .map(|s| (s.who.as_ref().unwrap().by.clone(), s.value.clone().unwrap()))
        .collect();
    assert_eq!(told, [("Rep".into(), json!(2700)), ("Designer".into(), json!(3500))]);
    rep.sync();
    engineer.sync();
    same_book(&stage, &[&rep, &designer, &engineer]);
}

#[test]
fn two_machines_that_merge_the_same_make_the_same_book() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    set(&rep, "cct_k", json!(3000));
    set(&rep, "added", json!({"b": 1, "a": 2}));
    set(&designer, "cct_k", json!(4000));
    set(&designer, "by", json!("hand"));
    write(&rep.at, "projects/quay/photo.jpg", "one");
    write(&designer.at, "projects/quay/photo.jpg", "two!");
    // Each fetches the other's commit and merges before either sends: their histories cross.
    rep.options.offline = true;
    designer.options.offline = true;
    rep.sync();
    designer.sync();
    stage.git(&rep.at, &["fetch", "-q", designer.at.to_str().unwrap(), "main:refs/remotes/origin/main"]);
    stage.git(&designer.at, &["fetch", "-q", rep.at.to_str().unwrap(), "main:refs/remotes/origin/main"]);
    assert!(rep.sync().merged);
    assert!(designer.sync().merged);
    same_book(&stage, &[&rep, &designer]);
    rep.options.offline = false;
    designer.options.offline = false;
    rep.sync();
    let crossed = designer.sync();
    assert!(crossed.merged && crossed.opened.is_empty());
    rep.sync();
    assert_eq!(conflicts(&rep).len(), 2);
    same_book(&stage, &[&rep, &designer]);
    // Both pictures are kept beside the question.
    let photo = conflicts(&rep).into_iter().find(|c| c.pointer.is_empty()).unwrap();
    let kept: Vec<String> = photo.kept_files().map(|path| read(&rep.at, path)).collect();
    assert_eq!(kept, ["one", "two!"]);
}

#[test]
fn removed_here_and_edited_there() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    std::fs::remove_file(rep.at.join(BAR)).unwrap();
    rep.sync();
    set(&designer, "volts", json!(12));
    let met = designer.sync();
    assert_eq!((met.opened.len(), get(&designer, "volts")), (1, json!(24)));
    rep.sync();
    let open = conflicts(&rep);
    assert_eq!((open[0].pointer.as_str(), open[0].sides[0].value.clone()), ("", None));
    assert_eq!(open[0].sides[1].value.as_ref().unwrap()["volts"], json!(12));
    same_book(&stage, &[&rep, &designer]);
    // A whole project removed here, and one panel of it edited there: the project stays, and is asked about.
    std::fs::remove_dir_all(rep.at.join("projects/quay")).unwrap();
    rep.sync();
    write(&designer.at, "projects/quay/panels/desk.json", "{\"id\": \"desk\"}\n");
    let met = designer.sync();
    assert_eq!(met.opened.len(), 1);
    assert!(designer.at.join("projects/quay/project.json").exists() && designer.at.join(BAR).exists());
    rep.sync();
    same_book(&stage, &[&rep, &designer]);
}

#[test]
fn what_was_said_is_never_unsaid_by_a_merge() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    write(&rep.at, "projects/quay/signoffs/aa.json", "{\"said\": 1}\n");
    rep.sync();
    designer.sync();
    std::fs::remove_file(rep.at.join("projects/quay/signoffs/aa.json")).unwrap();
    write(&rep.at, "projects/quay/signoffs/bb.json", "{\"said\": 2}\n");
    write(&designer.at, "projects/quay/signoffs/cc.json", "{\"said\": 3}\n");
    designer.sync();
    rep.sync();
    designer.sync();
    for name in ["aa", "bb", "cc"] {
        assert!(designer.at.join(format!("projects/quay/signoffs/{name}.json")).exists(), "{name}");
    }
    same_book(&stage, &[&rep, &designer]);
}

#[test]
fn the_sheets_of_a_rendering_stay_together() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    let sheet = |hand: &Hand, name: &str, text: &str| {
        write(&hand.at, &format!("projects/quay/renderings/bar/{name}"), text)
    };
    for (hand, text) in [(&rep, "by rep"), (&designer, "by designer")] {
        sheet(hand, "sheet.svg", text);
        sheet(hand, "manifest.json", &format!("{{\"of\": \"{text}\"}}\n"));
    }
    sheet(&designer, "sheet.pdf", "designer's alone");
    rep.sync();
    designer.sync();
    rep.sync();
    same_book(&stage, &[&rep, &designer]);
    // Two new ones: one stands whole.
    let svg = read(&rep.at, "projects/quay/renderings/bar/sheet.svg");
    assert!(read(&rep.at, "projects/quay/renderings/bar/manifest.json").contains(&svg));
    assert_eq!(rep.at.join("projects/quay/renderings/bar/sheet.pdf").exists(), svg == "by designer");
    // One that was there: it keeps what it was, whichever file each side changed.
    sheet(&rep, "sheet.svg", "newer by rep");
    sheet(&designer, "manifest.json", "{\"of\": \"newer by designer\"}\n");
    rep.sync();
    assert!(!designer.sync().opened.is_empty());
    assert_eq!(read(&designer.at, "projects/quay/renderings/bar/sheet.svg"), svg);
    assert!(read(&designer.at, "projects/quay/renderings/bar/manifest.json").contains(&svg));
    rep.sync();
    same_book(&stage, &[&rep, &designer]);
}

#[test]
fn what_is_held_stays_as_it_was_and_is_asked_about() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    // A merge that brings together what does not fit: a file that one side removed and the other's record uses.
    std::fs::remove_file(rep.at.join(BAR)).unwrap();
    rep.sync();
    write(
        &designer.at,
        "projects/quay/project.json",
        "{\n  \"client\": \"Harbour Desk\",\n  \"uses\": \"bar\"\n}\n",
    );
    designer.options.held = &[BAR];
    let met = designer.sync();
    assert!(met.opened.iter().any(|(_, c)| c.path == BAR));
    assert_eq!(get(&designer, "volts"), json!(24));
    rep.sync();
    same_book(&stage, &[&rep, &designer]);
}

#[test]
fn a_dry_run_and_an_offline_run_leave_alone_what_they_promise() {
    let stage = Stage::new();
    let (hub, mut rep, mut designer) = pair(&stage);
    set(&rep, "cct_k", json!(3000));
    rep.sync();
    set(&designer, "cct_k", json!(4000));
    let heads = |stage: &Stage| {
        (stage.git(&hub, &["rev-parse", "main"]), stage.git(&designer.at, &["rev-parse", "main"]))
    };
    let before = heads(&stage);
    let mut designer2 = Hand::over(&stage, "Designer", Repo::open(&designer.at).unwrap(), 1_800_300_000);
    designer2.options.dry_run = true;
    let would = designer2.sync();
    assert!(would.merged && would.opened.len() == 1 && would.hand_edits.len() == 1 && !would.pushed);
    assert_eq!(heads(&stage), before);
    assert_eq!(get(&designer, "cct_k"), json!(4000));
    designer.options.offline = true;
    designer.git = UserGit { program: "/nowhere/git".into(), ..user_git(&stage) };
    assert!(designer.sync().merged); // with what the dry run fetched
    assert_eq!(stage.git(&hub, &["rev-parse", "main"]), before.0);
    stage.clean(&designer.at);
    designer.options.offline = false;
    assert!(matches!(designer.git_error(), GitError::NoGitProgram { .. }));
}

#[test]
fn fields_by_value_and_bytes_as_they_are() {
    let stage = Stage::new();
    let (_, mut rep, mut designer) = pair(&stage);
    // Another layout of lines is an edit of bytes, not of a field.
    write(&rep.at, BAR, "{\"id\": \"bar\", \"cct_k\": 2700.0, \"volts\": 24}");
    set(&designer, "volts", json!(12));
    rep.sync();
    let met = designer.sync();
    assert!(met.opened.is_empty());
    assert_eq!((get(&designer, "volts"), get(&designer, "cct_k").as_f64()), (json!(12), Some(2700.0)));
    write(&designer.at, "projects/quay/note.txt", "line\r\nline\rline\n\u{feff}");
    designer.sync();
    rep.sync();
    assert_eq!(read(&rep.at, "projects/quay/note.txt"), "line\r\nline\rline\n\u{feff}");
    same_book(&stage, &[&rep, &designer]);
}

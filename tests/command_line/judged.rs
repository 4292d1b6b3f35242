//! What the judgement of a state and of its history finds in books that were broken by hand.

use std::collections::BTreeSet;

use underlit::fault::{Class, Fault};
use underlit::git::{ChangeKind, Hub, Repo};
use underlit::store::BookFolder;
use underlit::trust::chain::Chain;
use underlit::trust::tree_files::{SHOP, TreeFiles};
use underlit::trust::verify::{self, Past, Start, passage, past, state};

use crate::forgery::{bytes, lay, signature};
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place};

fn folder(book: &Desk) -> BookFolder {
    BookFolder::find(&book.at).unwrap()
}

fn codes(faults: &[Fault]) -> BTreeSet<&str> {
    faults.iter().map(|f| f.code).collect()
}

fn of_state(book: &Desk) -> verify::Judged {
    state::judge(&folder(book), &Start::default(), None)
}

fn of_history(book: &Desk) -> Past {
    let hub = Hub::open(&book.at).unwrap();
    let head = hub.resolve("HEAD").unwrap();
    past::judge(hub.newest_first(&[head], &[], "").unwrap()).unwrap()
}

#[test]
fn a_sound_book_from_its_own_and_from_anothers_fingerprint() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let judged = of_state(&book);
    assert_eq!(judged.faults, [], "nothing is wrong");
    let chain = judged.chain.unwrap();
    let from = |start: &Start| codes(&state::judge(&folder(&book), start, None).faults).len();
    assert_eq!(from(&Start::told(chain.fingerprint())), 0);
    assert_eq!(from(&Start::after(&chain)), 0);
    let other = Start::told(underlit::digest::Sha256Digest::of(b"another book"));
    let found = state::judge(&folder(&book), &other, None);
    assert_eq!(codes(&found.faults), BTreeSet::from(["fingerprint-differs"]));
    // The roster of a later state is not to be had from an earlier one.
    let earlier =
        Start::after(&Chain::load(&folder(&place.copy_as(stages::roster(), "early", "mara"))).unwrap());
    assert_eq!(from(&earlier), 0);
    book.run("roster seal --reason again").done();
    let later = Start::after(&Chain::load(&folder(&book)).unwrap());
    let old = place.copy_as(stages::released(), "old", "mara");
    let found = state::judge(&folder(&old), &later, None);
    assert_eq!(codes(&found.faults), BTreeSet::from(["roster-rolled-back"]));
    let past = of_history(&book);
    assert_eq!((past.commits, past.whole), (book.commits(), true));
    assert_eq!(past.breaches, []);
}

#[test]
fn what_was_said_and_taken_out_or_edited_shows_in_the_history_for_good() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let signoffs = format!("{PROJECT}/signoffs");
    let names = book.names(&signoffs, ".json");
    let (first, second) = (format!("{signoffs}/{}", names[0]), format!("{signoffs}/{}", names[1]));
    // Taken out by one commit and put back by the next: the state is sound again, the history is not.
    book.git(&format!("rm -q {first}"));
    let tom = Desk { person: "tom", ..book.clone() };
    tom.git("commit -q -m tidy");
    let guilty = book.git("rev-parse HEAD").trim().to_owned();
    book.git(&format!("checkout -q HEAD~1 -- {first}"));
    book.git("commit -q -m back");
    assert_eq!(of_state(&book).faults, []);
    let past = of_history(&book);
    let [breach] = past.breaches.as_slice() else { panic!("{past:?}") };
    assert_eq!((&breach.path, breach.what), (&first, ChangeKind::Removed));
    assert_eq!((breach.commit.to_string(), breach.author.name.as_str()), (guilty, "tom"));
    let fault = breach.fault();
    assert_eq!((fault.class, fault.code), (Class::Trust, "add-only-history"));
    // Edited, which the state shows as well.
    book.write(&second, book.text(&second) + "\n");
    book.git("commit -q -a -m edit");
    assert_eq!(of_history(&book).breaches.len(), 2);
    // The move that rests on it is left without.
    assert_eq!(codes(&of_state(&book).faults), BTreeSet::from(["move-unbacked", "name-not-digest"]));
    // A merge that keeps one side's tree drops what the other side said.
    let book = place.copy_as(stages::signed(), "merge", "mara");
    book.git("checkout -q -b side");
    book.run_as("tom", r#"sign quay-desk release --reject --comment "seams" --yes"#).done();
    book.git("checkout -q main");
    book.run("swatch change quay-desk alba --lot B-17").done();
    book.git("merge -q -s ours -m together side");
    assert_eq!(of_state(&book).faults, [], "the files that are left agree with each other");
    let past = of_history(&book);
    assert_eq!(past.breaches.len(), 2, "the refusal and its signature: {past:?}");
    assert!(past.breaches.iter().all(|b| b.commit.to_string() == book.git("rev-parse HEAD").trim()));
}

#[test]
fn a_tree_of_the_history_is_judged_like_a_folder() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let folder = format!("{PROJECT}/signoffs");
    let name = book.names(&folder, ".sig").remove(0);
    book.write(&format!("{folder}/{name}"), "no signature\n");
    book.write(&format!("{folder}/notes.txt"), "tom says yes\n");
    book.git("add -A");
    book.git("commit -q -m broken");
    let repo = Repo::open(&book.at).unwrap();
    let tree = repo.head_snapshot().unwrap();
    let whole = TreeFiles::of(&tree, &[""]).unwrap();
    let found = state::judge(&whole, &Start::default(), None);
    let expected = BTreeSet::from(["move-unbacked", "not-a-statement", "signature-malformed"]);
    assert_eq!(codes(&found.faults), expected);
    assert_eq!(found.faults, of_state(&book).faults);
    let some = TreeFiles::of(&tree, &[&SHOP[..], &["projects/quay-desk"]].concat()).unwrap();
    assert_eq!(state::judge(&some, &Start::default(), None).faults, found.faults);
    let none = TreeFiles::of(&tree, &SHOP).unwrap();
    assert_eq!(state::judge(&none, &Start::default(), None).faults, []);
    // A link in a tree is never read.
    std::fs::remove_file(book.path("rules.json")).unwrap();
    std::os::unix::fs::symlink("/etc/passwd", book.path("rules.json")).unwrap();
    book.git("add -A");
    book.git("commit -q -m link");
    let tree = repo.head_snapshot().unwrap();
    let refused = TreeFiles::of(&tree, &[""]).unwrap_err();
    assert_eq!(codes(&refused), BTreeSet::from(["unsafe-path"]));
}

#[test]
fn a_move_is_judged_by_the_gate_of_its_own_state() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let moves = format!("{PROJECT}/moves");
    let release = |book: &Desk| -> serde_json::Value {
        let all = book.names(&moves, ".json").into_iter().map(|n| book.text(&format!("{moves}/{n}")));
        all.map(|t| serde_json::from_str(&t).unwrap())
            .find(|m: &serde_json::Value| m["to"] == "released")
            .unwrap()
    };
    let made = release(&book);
    let of = |book: &Desk, digest: &str| {
        let judged = of_state(book);
        let (chain, shop) = (judged.chain.unwrap(), judged.shop.unwrap());
        let path = format!("{moves}/{digest}.json");
        let id = "quay-desk".parse().unwrap();
        passage::judge(&folder(book), &chain, &shop, &id, &[&path]).unwrap().missed
    };
    let digest = |value: &serde_json::Value| underlit::digest::Sha256Digest::of(&bytes(value)).hex();
    assert_eq!(of(&book, &digest(&made)), []);
    // A move that names a true release, of a slab that has another thickness by now.
    let early = place.copy_as(stages::signed(), "early", "mara");
    early.run_as("tom", "sign quay-desk release --yes").done();
    let folder = format!("{PROJECT}/signoffs");
    let all: Vec<String> =
        early.names(&folder, ".json").iter().map(|n| n.trim_end_matches(".json").to_owned()).collect();
    early.run("swatch change quay-desk alba --slab-thickness 25mm").done();
    let mut past_the_gate = made.clone();
    past_the_gate["signoffs"] = all.into();
    let text = bytes(&past_the_gate);
    lay(&early, &moves, &text, Some(&signature("mara", "underlit-move", &text)));
    assert_eq!(of_state(&early).faults, [], "everything in it was truly signed");
    let found = of(&early, &digest(&past_the_gate));
    assert_eq!(codes(&found), BTreeSet::from(["move-past-gate"]));
    assert!(found.iter().any(|f| f.message.contains("[release-signed]")), "{found:?}");
    early.run("status quay-desk").done().says(&["released", "ON HOLD"]);
    early.run("board --released").done().says(&["nothing is released"]);
    let unknown = of(&book, &"0".repeat(64));
    assert_eq!(codes(&unknown), BTreeSet::from(["move-unknown"]));
}

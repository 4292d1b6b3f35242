//! Two people change the same book apart, by every pair of a list of edits: whoever merges comes to the same book, nobody's
//! new record is missing from it, and whatever is answered, one by one in any order or together, leaves a book that
//! passes and that the other clone takes in as it is. An answer that would not is refused, and leaving things as they
//! are always fits.
//!
//! The edits are made by the real commands; merges and answers run in this process. `UNDERLIT_TEST_PAIRS=1000` tries every
//! pair, else some are drawn besides those that are named; `UNDERLIT_TEST_SEED=7` draws others.

use std::collections::BTreeSet;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use git2::build::CheckoutBuilder;
use git2::{Oid, Repository, ResetType, Signature, Time};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use underlit::git::UserGit;
use underlit::ops::questions::{self, About};
use underlit::ops::resolve::{Answer, Answers, resolve};
use underlit::ops::{Desk as Opened, Reading};
use underlit::signing::{Asking, Toolbox};
use underlit::store::BookFolder;
use underlit::sync::{Asked, sync};
use underlit::trust::Surroundings;
use underlit::trust::before::Before;
use underlit::trust::{check, vanished};

use crate::dice::{Dice, given};
use crate::stages::{self, PROJECT, curved};
use crate::workshop::{Desk, Place};

/// An edit: its name, the commands that make it (`$DIR` is a folder of drawings and photos), and what is done by hand.
struct Edit {
    name: &'static str,
    lines: &'static [&'static str],
    by_hand: fn(&Desk),
}

fn nothing(_: &Desk) {}

const fn told(name: &'static str, lines: &'static [&'static str]) -> Edit {
    Edit { name, lines, by_hand: nothing }
}

const fn by_hand(name: &'static str, by_hand: fn(&Desk)) -> Edit {
    Edit { name, lines: &[], by_hand }
}

const EDITS: &[Edit] = &[
    told("title one", &["project change quay-desk --title One"]),
    told("title two", &["project change quay-desk --title Two"]),
    told("stone one", &["swatch change quay-desk honey --stone One --thickness 21mm"]),
    told("stone two", &["swatch change quay-desk honey --stone Two --thickness 22mm"]),
    told("photo one", &["swatch change quay-desk honey --photo $DIR/one.jpg"]),
    told("photo two", &["swatch change quay-desk honey --photo $DIR/two.jpg"]),
    by_hand("photo gone", |desk| photo(desk, None)),
    by_hand("photo renamed", |desk| photo(desk, Some("honey-lit.jpg"))),
    by_hand("photo renamed otherwise", |desk| photo(desk, Some("honey-dark.jpg"))),
    told("first photo one", &["swatch change quay-desk beta --photo $DIR/one.jpg"]),
    told("first photo two", &["swatch change quay-desk beta --photo $DIR/two.jpg"]),
    told("spare stone gone", &["swatch remove quay-desk beta"]),
    told("spare stone changed", &["swatch change quay-desk beta --stone Changed"]),
    told(
        "spare stone used by a new panel",
        &["panel add quay-desk bar --title Bar --swatch beta --outline $DIR/640.json --faces diffused"],
    ),
    told("spare stone used by a panel", &["panel change quay-desk side --swatch beta"]),
    told(
        "spare stone asked for",
        &[
            "request ask quay-desk second --swatch alba,beta --cct 3000 --face diffused --size 300mmx200mm --address Quay",
        ],
    ),
    told("used stone gone", &["panel change quay-desk side --swatch alba", "swatch remove quay-desk honey"]),
    told(
        "used stone gone for another",
        &["panel change quay-desk side --swatch beta", "swatch remove quay-desk honey"],
    ),
    told("panel and stone gone", &["panel remove quay-desk side", "swatch remove quay-desk honey"]),
    told("panel title one", &["panel change quay-desk side --title One"]),
    told("panel title two", &["panel change quay-desk side --title Two"]),
    told("panel drawing one", &["panel change quay-desk side --outline $DIR/640.json"]),
    told("panel drawing two", &["panel change quay-desk side --outline $DIR/660.json"]),
    told("panel gone", &["panel remove quay-desk side"]),
    by_hand("panel renamed", |desk| {
        for ending in ["json", "outline.json"] {
            desk.git(&format!("mv {PROJECT}/panels/side.{ending} {PROJECT}/panels/edge.{ending}"));
        }
        desk.edit(&format!("{PROJECT}/panels/edge.json"), r#""id": "side""#, r#""id": "edge""#);
        desk.edit(&format!("{PROJECT}/panels/edge.json"), "side.outline.json", "edge.outline.json");
    }),
    told(
        "new panel one",
        &["panel add quay-desk bar --title One --swatch alba --outline $DIR/640.json --faces diffused"],
    ),
    told(
        "new panel two",
        &["panel add quay-desk bar --title Two --swatch honey --outline $DIR/660.json --faces clear"],
    ),
    told("drawn anew one", &["panel change quay-desk front --outline $DIR/640.json", "draw quay-desk front"]),
    told("drawn anew two", &["panel change quay-desk front --outline $DIR/660.json", "draw quay-desk front"]),
    by_hand("drawn panel gone", |desk| {
        for file in ["panels/front.json", "panels/front.outline.json", "renderings/front"] {
            desk.git(&format!("rm -r -q {PROJECT}/{file}"));
        }
    }),
    by_hand("trial one", |desk| desk.edit(&format!("{PROJECT}/trials/warm.json"), "clouds show", "one")),
    by_hand("trial two", |desk| desk.edit(&format!("{PROJECT}/trials/warm.json"), "clouds show", "two")),
    by_hand("trials and request gone", |desk| {
        for file in ["trials/warm.json", "trials/neutral.json", "requests/first.json"] {
            desk.git(&format!("rm -q {PROJECT}/{file}"));
        }
    }),
    told(
        "tried once more",
        &[
            "trial record quay-desk again --swatch alba --request first --cct 3000 --face diffused --seen well --rating 4",
        ],
    ),
];

/// Pairs that are always tried, with how many questions they come to.
const ALWAYS: &[(&str, &str, usize)] = &[
    ("title one", "title two", 1),
    ("stone one", "stone two", 2),
    ("photo one", "photo two", 1),
    ("photo one", "photo gone", 1),
    ("photo one", "photo renamed", 1),
    ("photo renamed", "photo renamed otherwise", 1),
    ("photo gone", "photo renamed", 1),
    ("first photo one", "first photo two", 1),
    ("spare stone gone", "spare stone changed", 1),
    ("spare stone gone", "spare stone used by a new panel", 1),
    ("spare stone gone", "spare stone used by a panel", 1),
    ("spare stone gone", "spare stone asked for", 1),
    ("spare stone gone", "first photo one", 1),
    ("used stone gone", "used stone gone for another", 1),
    ("used stone gone", "panel title one", 0),
    ("used stone gone", "new panel two", 1),
    ("panel and stone gone", "panel title one", 1),
    ("panel and stone gone", "stone one", 1),
    ("panel title one", "panel title two", 1),
    ("panel drawing one", "panel drawing two", 1),
    ("panel gone", "panel drawing one", 1),
    ("panel gone", "panel title one", 1),
    ("panel renamed", "panel title one", 1),
    ("panel renamed", "panel drawing one", 1),
    ("new panel one", "new panel two", 1),
    ("drawn anew one", "drawn anew two", 1),
    ("drawn panel gone", "drawn anew one", 1),
    ("trial one", "trial two", 1),
    ("trials and request gone", "trial one", 1),
    ("trials and request gone", "tried once more", 1),
    ("panel title one", "stone one", 0),
];

fn photo(desk: &Desk, name: Option<&str>) {
    let record = format!("{PROJECT}/swatches/honey.json");
    let mut value: serde_json::Value = serde_json::from_str(&desk.text(&record)).unwrap();
    match name {
        Some(name) => {
            desk.git(&format!("mv {PROJECT}/swatches/honey.jpg {PROJECT}/swatches/{name}"));
            value["photo"]["file"] = name.into();
        }
        None => {
            desk.git(&format!("rm -q {PROJECT}/swatches/honey.jpg"));
            value.as_object_mut().unwrap().shift_remove("photo");
        }
    }
    desk.write(&record, format!("{value:#}\n"));
}

/// A clone in which pairs of edits meet.
struct Lab {
    _place: Place,
    desk: Desk,
    raw: Repository,
    base: Oid,
    /// The tree of each edit.
    trees: Vec<Oid>,
    clock: i64,
}

fn around() -> Surroundings<'static> {
    Surroundings {
        now: Timestamp::from_second(1_800_000_000).unwrap(),
        zone: TimeZone::UTC,
        toolbox: Toolbox::new(&std::env::temp_dir(), None, Asking::Never),
        git: UserGit::new(false),
        home: None,
        person: Some("mara".parse().unwrap()),
        key: None,
        dry_run: false,
        build: "test".into(),
    }
}

impl Lab {
    fn new() -> Lab {
        let place = Place::new();
        for height in [600, 640, 660] {
            place.file(&format!("{height}.json"), curved(height));
        }
        for name in ["none", "one", "two"] {
            place.file(&format!("{name}.jpg"), format!("\u{7f}a photo, {name}"));
        }
        let dir = place.path("").display().to_string().trim_end_matches('/').to_owned();
        let desk = place.copy(stages::drawn(), "mara");
        let stone = "--material onyx --tone honey --texture banded --thickness 20mm --slab-thickness 20mm";
        for line in [
            &format!("swatch add quay-desk beta --stone Beta {stone}"),
            &format!("swatch add quay-desk honey --stone Honey {stone} --photo {dir}/none.jpg"),
            &format!(
                "panel add quay-desk side --title Side --swatch honey --outline {dir}/600.json --faces diffused"
            ),
        ] {
            desk.run(line).code(0);
        }
        let hub = place.path("hub.git");
        desk.git(&format!("init --quiet --bare -b main {}", hub.display()));
        desk.git(&format!("remote add origin {}", hub.display()));
        desk.run("sync").code(0);
        let raw = Repository::open(&desk.at).unwrap();
        let base = raw.refname_to_id("HEAD").unwrap();
        let mut lab = Lab { _place: place, desk, raw, base, trees: Vec::new(), clock: 1_800_000_000 };
        for edit in EDITS {
            lab.stand_at(base, base);
            for line in edit.lines {
                lab.desk.run(&line.replace("$DIR", &dir)).code(0);
            }
            (edit.by_hand)(&lab.desk);
            lab.desk.run("check").code(0);
            lab.desk.git("add -A");
            let tree = lab.desk.git("write-tree");
            lab.trees.push(Oid::from_str(tree.trim()).unwrap());
        }
        lab
    }

    fn commit(&mut self, edit: usize, who: &str) -> Oid {
        self.clock += 60;
        let at = Time::new(self.clock, 0);
        let who = Signature::new(who, &format!("{who}@tern.invalid").replace(' ', "."), &at).unwrap();
        let (tree, parent) =
            (self.raw.find_tree(self.trees[edit]).unwrap(), self.raw.find_commit(self.base).unwrap());
        self.raw.commit(None, &who, &who, EDITS[edit].name, &tree, &[&parent]).unwrap()
    }

    fn stand_at(&self, ours: Oid, theirs: Oid) {
        self.raw.reference("refs/remotes/origin/main", theirs, true, "trial").unwrap();
        let commit = self.raw.find_object(ours, None).unwrap();
        let mut checkout = CheckoutBuilder::new();
        checkout.force().remove_untracked(true);
        self.raw.reset(&commit, ResetType::Hard, Some(&mut checkout)).unwrap();
    }

    fn tree(&self, commit: Oid) -> Oid {
        self.raw.find_commit(commit).unwrap().tree_id()
    }

    fn has(&self, tree: Oid, path: &str) -> bool {
        self.raw.find_tree(tree).unwrap().get_path(std::path::Path::new(path)).is_ok()
    }

    /// Merges as a sync does, which checks what it makes.
    fn met(&self, ours: Oid, theirs: Oid, what: &str) -> Oid {
        self.stand_at(ours, theirs);
        let asked = Asked { remote: None, offline: true, drop_refused: false };
        let synced = sync(&self.desk.at, &around(), &asked, &mut |_| {});
        assert!(synced.is_ok(), "{what}: {:#?}", synced.err());
        self.raw.refname_to_id("HEAD").unwrap()
    }

    fn passes(&self, what: &str) {
        let checked = check::check(&BookFolder::at(self.desk.at.clone()), None, &mut Before::default());
        assert!(checked.faults.is_empty(), "{what}: {:#?}", checked.faults);
    }

    /// The names of the questions that are open, and how many edits each has to choose from.
    fn open(&self) -> Vec<(String, usize)> {
        let reading = Reading::open(&self.desk.at).unwrap();
        let about = About::Project("quay-desk".parse().unwrap());
        let open = questions::open(&reading, &about).unwrap();
        for question in &open {
            assert_eq!(question.unproven(), None, "a merge asked this: {question:#?}");
        }
        open.iter().map(|q| (q.name().to_owned(), q.first().sides.len())).collect()
    }

    /// Gives answers: true where they were taken, false where they do not fit; nothing else may come of them, and what
    /// does not fit changes nothing.
    fn answer(&self, answers: &Answers, what: &str) -> bool {
        let before = self.raw.refname_to_id("HEAD").unwrap();
        let around = around();
        let desk = Opened::open(&self.desk.at, &around).unwrap();
        let about = About::Project("quay-desk".parse().unwrap());
        match resolve(&desk, &about, answers) {
            Ok(settled) => {
                assert!(!settled.questions.is_empty(), "{what}");
                self.passes(what);
                true
            }
            Err(faults) => {
                let refused = ["answer-does-not-fit", "no-such-side"].contains(&faults[0].code);
                assert!(refused && faults[0].remedy.is_some(), "{what}: {faults:#?}");
                assert_eq!(before, self.raw.refname_to_id("HEAD").unwrap(), "{what}");
                assert!(self.raw.statuses(None).unwrap().iter().all(|s| s.status().is_ignored()), "{what}");
                false
            }
        }
    }

    /// Both other clones take in what is here, as it is.
    fn carried(&self, others: [Oid; 2], what: &str) {
        let head = self.raw.refname_to_id("HEAD").unwrap();
        let missing = vanished::of_book(&self.desk.at).unwrap();
        assert!(missing.is_empty(), "{what}: answered, and told as lost: {missing:#?}");
        if self.open().is_empty() {
            let kept = self.desk.names(&format!("{PROJECT}/conflicts"), "");
            assert!(kept.is_empty(), "{what}: {kept:?}");
        }
        for other in others {
            assert_eq!(self.met(other, head, what), head, "{what}");
            self.passes(what);
        }
        self.stand_at(head, head);
    }

    fn try_pair(&mut self, one: usize, other: usize, dice: &mut Dice) -> usize {
        let what = format!("{} / {}", EDITS[one].name, EDITS[other].name);
        let (mara, tom) = (self.commit(one, "Mara Quill"), self.commit(other, "Tom Reed"));
        let (here, there) = (self.met(mara, tom, &what), self.met(tom, mara, &what));
        assert_eq!(self.tree(here), self.tree(there), "{what}");
        self.stand_at(here, here);
        self.passes(&what);
        let base = self.tree(self.base);
        for tree in [self.trees[one], self.trees[other]] {
            for name in ["panels/bar.json", "panels/edge.json", "requests/second.json", "trials/again.json"] {
                let path = format!("{PROJECT}/{name}");
                let new = self.has(tree, &path) && !self.has(base, &path);
                assert!(!new || self.has(self.tree(here), &path), "{what}: {path} is gone");
            }
        }
        let open = self.open();
        let sides = |sides: usize| (1..=sides).map(Answer::Side).chain([Answer::Base]).collect::<Vec<_>>();
        let mut some = [Answer::Mine, Answer::Others].to_vec();
        some.extend(sides(open.iter().map(|(_, n)| *n).max().unwrap_or_default()));
        for answer in some.into_iter().filter(|_| !open.is_empty()) {
            let what = format!("{what}: all {answer:?}");
            self.stand_at(here, here);
            let taken = self.answer(&Answers::All(answer.clone()), &what);
            assert!(taken || answer != Answer::Base, "{what}");
            if taken {
                assert!(self.open().is_empty(), "{what}");
                self.carried([mara, tom], &what);
            }
        }
        // One by one, in some orders, with any answer to each; what is refused is left as it is at last.
        let ways = if open.len() > 1 { 6 } else { 0 };
        for way in 0..ways {
            self.stand_at(here, here);
            let mut said = Vec::new();
            while let open @ [_, ..] = self.open().as_slice() {
                let (name, many) = &open[dice.below(open.len())];
                let answers = sides(*many);
                let answer = answers[dice.below(answers.len())].clone();
                said.push(format!("{name} {answer:?}"));
                let what = format!("{what}: way {way}: {said:?}");
                if !self.answer(&Answers::Named(vec![(name.clone(), answer)]), &what) {
                    assert!(self.answer(&Answers::Named(vec![(name.clone(), Answer::Base)]), &what));
                }
            }
            self.carried([mara, tom], &format!("{what}: way {way}: {said:?}"));
        }
        open.len()
    }
}

#[test]
fn whatever_is_answered_leaves_a_book_that_passes_and_that_others_take_in() {
    let place = |name: &str| EDITS.iter().position(|edit| edit.name == name).unwrap();
    let mut pairs: Vec<(usize, usize, Option<usize>)> =
        ALWAYS.iter().map(|(one, other, open)| (place(one), place(other), Some(*open))).collect();
    let known: BTreeSet<(usize, usize)> = pairs.iter().map(|(a, b, _)| (*a.min(b), *a.max(b))).collect();
    let mut rest: Vec<(usize, usize)> =
        (0..EDITS.len()).flat_map(|a| (a + 1..EDITS.len()).map(move |b| (a, b))).collect();
    rest.retain(|pair| !known.contains(pair));
    let mut dice = Dice(given("UNDERLIT_TEST_SEED", 1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    for _ in 0..given("UNDERLIT_TEST_PAIRS", 12) {
        if rest.is_empty() {
            break;
        }
        let (a, b) = rest.swap_remove(dice.below(rest.len()));
        pairs.push((a, b, None));
    }
    let (next, failed) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let asked = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for worker in 0..std::thread::available_parallelism().map_or(1, usize::from).min(4) {
            let (next, failed, pairs, asked) = (&next, &failed, &pairs, &asked);
            scope.spawn(move || {
                let mut lab = Lab::new();
                let mut dice = Dice(worker as u64 + 17);
                while let Some((one, other, wanted)) = pairs.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let tried = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
                        lab.try_pair(*one, *other, &mut dice)
                    }));
                    let pair = format!("{} / {}", EDITS[*one].name, EDITS[*other].name);
                    match (tried, wanted) {
                        (Ok(open), Some(wanted)) if open != *wanted => {
                            failed.lock().unwrap().push(format!("{pair}: {open} questions"));
                        }
                        (Ok(open), _) => drop(asked.fetch_add(open, Ordering::Relaxed)),
                        (Err(_), _) => failed.lock().unwrap().push(pair),
                    }
                }
            });
        }
    });
    let failed = failed.into_inner().unwrap();
    assert!(failed.is_empty(), "{} of {} pairs: {failed:#?}", failed.len(), pairs.len());
    assert!(asked.into_inner() >= ALWAYS.iter().map(|(_, _, open)| open).sum());
}

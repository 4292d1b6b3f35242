//! Random damage to released books: bytes, fields, files moved, swapped, taken out, mixed from two signed states, sheets
//! exchanged or put under other names with a manifest that fits. None may be built afterwards unless everything that was
//! sealed is as it was; and a pack made of one that may be built holds no drawing, no bill and no figure that was not signed.
//!
//! What was sealed is read here from the files themselves, and not with the code under test: every field that
//! `view::UNSEALED` does not set free, every drawing and sheet, the roster, and what it seals. Run more of it with
//! `UNDERLIT_MUTATIONS=10000 cargo test --release --test command_line mutations`; `UNDERLIT_MUTATION_SEED` draws others.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use serde_json::Value;
use underlit::gates::is_released;
use underlit::git::UserGit;
use underlit::ids::ProjectId;
use underlit::model::kind::Kind;
use underlit::model::view;
use underlit::ops::Reading;
use underlit::ops::pack::{Pack, pack};
use underlit::signing::{Asking, Toolbox};
use underlit::store::BookFolder;
use underlit::trust::Surroundings;
use underlit::trust::chain::Chain;
use underlit::trust::verify::{Start, book, state};

use crate::stages;
use crate::workshop::{Desk, Place, shared};

/// A generator of its own (SplitMix64, Steele, Lea and Flood 2014), so that a seed means the same everywhere.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, end: usize) -> usize {
        (self.next() % end as u64) as usize
    }

    pub(crate) fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

pub(crate) type Files = BTreeMap<String, Vec<u8>>;

pub(crate) fn read_all(root: &Path) -> Files {
    fn walk(root: &Path, at: &Path, into: &mut Files) {
        for entry in fs::read_dir(at).unwrap().flatten() {
            let path = entry.path();
            let name = path.strip_prefix(root).unwrap().to_str().unwrap().to_owned();
            if name == ".git" || name == "schema" {
                continue;
            }
            if path.is_dir() {
                walk(root, &path, into);
            } else {
                into.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    let mut files = Files::new();
    walk(root, root, &mut files);
    files
}

/// Every sealed leaf of a record, by its place.
fn leaves(kind: &str, place: &str, dotted: &str, value: &Value, into: &mut BTreeMap<String, String>) {
    match value {
        Value::Object(fields) => {
            for (key, inner) in fields {
                let inner_dotted = if dotted.is_empty() { key.clone() } else { format!("{dotted}.{key}") };
                if !view::is_unsealed(kind, &inner_dotted) {
                    leaves(kind, &format!("{place}/{key}"), &inner_dotted, inner, into);
                }
            }
        }
        Value::Array(items) => {
            for (nth, inner) in items.iter().enumerate() {
                leaves(kind, &format!("{place}/{nth}"), dotted, inner, into);
            }
        }
        Value::Null => {}
        // Lengths are sealed to the micrometre.
        Value::Number(n) if dotted.ends_with("_mm") => {
            into.insert(place.to_owned(), format!("{} um", (n.as_f64().unwrap() * 1000.0).round()));
        }
        Value::Number(n) => _ = into.insert(place.to_owned(), format!("{:?}", n.as_f64())),
        other => _ = into.insert(place.to_owned(), other.to_string()),
    }
}

/// Everything that the signatures of one project seal, read from the files.
fn sealed(files: &Files, project: &str) -> BTreeMap<String, String> {
    let mut all = BTreeMap::new();
    let own = format!("projects/{project}/");
    for (path, bytes) in files {
        let digest = || underlit::digest::Sha256Digest::of(bytes).hex();
        let Some(kind) = Kind::of_path(path) else { continue };
        match kind {
            Kind::Roster => _ = all.insert(path.clone(), digest()),
            kind if kind.is_sealed_by_roster() => _ = all.insert(path.clone(), digest()),
            Kind::Outline if path.starts_with(&own) => _ = all.insert(path.clone(), digest()),
            Kind::Attachment if path.starts_with(&format!("{own}renderings/")) => {
                all.insert(path.clone(), digest());
            }
            Kind::Project | Kind::Panel | Kind::Swatch | Kind::Rendering if path.starts_with(&own) => {
                let value: Value = serde_json::from_slice(bytes).unwrap_or(Value::Null);
                leaves(kind.name(), path, "", &value, &mut all);
            }
            _ => {}
        }
    }
    all
}

/// A released book to be damaged, with a second signed state of the same book to mix it with.
struct Base {
    folder: PathBuf,
    project: ProjectId,
    start: Start,
    good: Files,
    other: Files,
    /// What was sealed by the one state and by the other, where that may be built as well.
    sealed: Vec<BTreeMap<String, String>>,
    /// The signed part of the packs of these states.
    packs: Vec<Files>,
}

/// What a pack holds that follows from what was signed: drawings, files for the cutter, bill, order, and the data.
fn signed_part(pack: Pack) -> Files {
    let signed =
        |path: &str| ["sheets/", "cut/", "bill.", "order."].iter().any(|part| path.starts_with(part));
    let mut part: Files = pack.files.into_iter().filter(|(path, _)| signed(path)).collect();
    part.insert("data".into(), pack.sha256.hex().into_bytes());
    part
}

/// Makes the pack of a job; none where it is not released, or where it cannot be made.
fn released_pack(folder: &Path, project: &ProjectId) -> Option<Files> {
    let around = Surroundings {
        now: "2027-01-11T08:00:00Z".parse().unwrap(),
        zone: jiff::tz::TimeZone::UTC,
        toolbox: Toolbox::new(folder, None, Asking::Never),
        git: UserGit::new(false),
        home: None,
        person: None,
        key: None,
        dry_run: true,
        build: "test".into(),
    };
    let reading = Reading::open(folder).ok()?;
    let snapshot = reading.project(project).ok()?;
    // What is not released says so on every page.
    if !is_released(&reading.case(&snapshot)) {
        return None;
    }
    let pack = pack(&reading, project, None, &around).ok()?;
    pack.released.then(|| signed_part(pack))
}

impl Base {
    fn new(folder: PathBuf, project: &str, others: Vec<Files>) -> Base {
        let good = read_all(&folder);
        let chain = Chain::load(&BookFolder::at(folder.clone())).unwrap();
        let mut signed = vec![sealed(&good, project)];
        signed.extend(others.iter().map(|files| sealed(files, project)));
        let base = Base {
            folder,
            project: project.parse().unwrap(),
            start: Start::told(chain.fingerprint()),
            good,
            other: others.into_iter().next().unwrap_or_default(),
            sealed: signed,
            packs: Vec::new(),
        };
        let packs = released_pack(&base.folder, &base.project).into_iter().collect();
        let base = Base { packs, ..base };
        assert_eq!(base.packs.len(), 1, "{project} has a pack");
        assert!(base.may_be_built(), "{project} is released to begin with");
        base
    }

    /// The strictest meaning: roster and seals hold, and the project's own files say that it may be built.
    fn may_be_built(&self) -> bool {
        let folder = BookFolder::at(self.folder.clone());
        let judged = state::judge(&folder, &self.start, Some(&std::collections::BTreeSet::new()));
        let (Some(chain), Some(shop)) = (&judged.chain, &judged.shop) else { return false };
        let (verdict, _) = book::judge_project(&folder, chain, shop, &self.project);
        verdict.is_some_and(|v| v.released)
    }

    /// Puts the book into a state, and back to what it was.
    fn put(&self, files: &Files, before: &Files) {
        for path in before.keys().filter(|path| !files.contains_key(*path)) {
            fs::remove_file(self.folder.join(path)).unwrap();
        }
        for (path, bytes) in files.iter().filter(|(path, bytes)| before.get(*path) != Some(bytes)) {
            let full = self.folder.join(path);
            fs::create_dir_all(full.parent().unwrap()).unwrap();
            fs::write(full, bytes).unwrap();
        }
    }
}

/// One leaf of a JSON value, or one field, changed at random.
pub(crate) fn change_value(value: &mut Value, chance: &mut Chance) {
    match value {
        Value::Object(fields) if !fields.is_empty() => {
            let keys: Vec<String> = fields.keys().cloned().collect();
            let key = chance.of(&keys);
            match chance.below(12) {
                0 => _ = fields.remove(key),
                1 => _ = fields.insert(format!("{key}_too"), Value::Null),
                _ => change_value(&mut fields[key.as_str()], chance),
            }
        }
        Value::Array(items) if !items.is_empty() => {
            let nth = chance.below(items.len());
            match chance.below(8) {
                0 => _ = items.remove(nth),
                1 => items.push(items[nth].clone()),
                2 => {
                    let with = chance.below(items.len());
                    items.swap(nth, with);
                }
                _ => change_value(&mut items[nth], chance),
            }
        }
        Value::Number(n) => {
            let old = n.as_f64().unwrap();
            let new = *chance.of(&[old + 1.0, old - 1.0, old * 1.001, -old, 0.0, old * 10.0, 9.1e15]);
            *value = if new.fract() == 0.0 { Value::from(new as i64) } else { Value::from(new) };
        }
        Value::String(text) => {
            let new = match chance.below(4) {
                0 => format!("{text} "),
                1 => text.chars().rev().collect(),
                2 => "approved".to_owned(),
                _ => String::new(),
            };
            *value = Value::String(new);
        }
        other => *other = Value::from(chance.below(3) as i64),
    }
}

/// The book after one random damage, and what it was in words.
fn damaged(base: &Base, chance: &mut Chance) -> (Files, String) {
    let mut files = base.good.clone();
    let own = format!("projects/{}/", base.project);
    // Mostly the project's own files, and among them mostly records and statements.
    let mine: Vec<String> = files.keys().filter(|p| p.starts_with(&own)).cloned().collect();
    let every: Vec<String> = files.keys().cloned().collect();
    let pick = |chance: &mut Chance| {
        if chance.below(5) == 0 { chance.of(&every).clone() } else { chance.of(&mine).clone() }
    };
    let path = pick(chance);
    let what = match chance.below(15) {
        12..=14 => return exchanged_sheet(base, files, chance),
        0..=2 => {
            let bytes = files.get_mut(&path).unwrap();
            if bytes.is_empty() {
                return (files, "nothing".into());
            }
            let at = chance.below(bytes.len());
            match chance.below(4) {
                0 => bytes[at] ^= 1 << chance.below(8),
                1 => bytes[at] = chance.below(256) as u8,
                2 => _ = bytes.remove(at),
                _ => bytes.insert(at, *chance.of(b" \n0\"{}")),
            }
            format!("a byte of {path} at {at}")
        }
        3..=6 => {
            let records: Vec<&String> = mine.iter().chain(&every).filter(|p| p.ends_with(".json")).collect();
            let path = (*chance.of(&records)).clone();
            let bytes = files.get_mut(&path).unwrap();
            if let Ok(mut value) = serde_json::from_slice::<Value>(bytes) {
                change_value(&mut value, chance);
                *bytes = serde_json::to_vec_pretty(&value).unwrap();
            }
            format!("a field of {path}")
        }
        7 => {
            files.remove(&path);
            format!("{path} taken out")
        }
        8 => {
            let to = pick(chance);
            let bytes = files.remove(&path).unwrap();
            files.insert(to.clone(), bytes);
            format!("{path} moved to {to}")
        }
        9 => {
            let with = pick(chance);
            let (one, two) = (files[&path].clone(), files[&with].clone());
            files.insert(path.clone(), two);
            files.insert(with.clone(), one);
            format!("{path} swapped with {with}")
        }
        // One file, or a random half of all, as the other signed state has them.
        10 if !base.other.is_empty() => {
            match base.other.get(&path) {
                Some(bytes) => files.insert(path.clone(), bytes.clone()),
                None => files.remove(&path),
            };
            format!("{path} of the other state")
        }
        _ => {
            let mut union: Vec<String> = every.iter().chain(base.other.keys()).cloned().collect();
            union.dedup();
            for path in union.iter().filter(|p| p.starts_with(&own)) {
                if chance.below(2) == 0 {
                    continue;
                }
                match base.other.get(path) {
                    Some(bytes) => _ = files.insert(path.clone(), bytes.clone()),
                    // Where there is no other state, half of the files are gone.
                    None => _ = files.remove(path),
                }
            }
            "half of the files of the other state".to_owned()
        }
    };
    (files, what)
}

/// The book with a file of its rendering exchanged, put under another name, or added, and the manifest made to fit, as
/// anybody can.
fn exchanged_sheet(base: &Base, mut files: Files, chance: &mut Chance) -> (Files, String) {
    let own = format!("projects/{}/renderings/", base.project);
    let sheets: Vec<String> =
        files.keys().filter(|p| p.starts_with(&own) && !p.ends_with(".json")).cloned().collect();
    let manifests: Vec<String> =
        files.keys().filter(|p| p.starts_with(&own) && p.ends_with(".json")).cloned().collect();
    let (path, manifest) = (chance.of(&sheets).clone(), chance.of(&manifests).clone());
    let (folder, name) = path.rsplit_once('/').unwrap();
    let mut bytes = match base.other.get(&path) {
        Some(other) if chance.below(2) == 0 => other.clone(),
        _ => files[chance.of(&sheets)].clone(),
    };
    if chance.below(2) == 0 {
        let at = chance.below(bytes.len());
        bytes[at] ^= 1 << chance.below(8);
    }
    let to = match chance.below(3) {
        0 => name.to_owned(),
        1 => format!("other-{name}"),
        _ => (*chance.of(&["sheet.pdf", "sheet.svg", "sheet-2.svg"])).to_owned(),
    };
    let digest = underlit::digest::Sha256Digest::of(&bytes).hex();
    files.insert(format!("{folder}/{to}"), bytes);
    let fits = chance.below(3) > 0;
    if fits && let Ok(mut value) = serde_json::from_slice::<Value>(&files[&manifest]) {
        let field = *chance.of(&["sheet", "pdf"]);
        value[field] = serde_json::json!({ "file": to, "sha256": digest });
        files.insert(manifest, serde_json::to_vec_pretty(&value).unwrap());
    }
    (files, format!("{path} exchanged, as {to}{}", if fits { ", and the manifest fits" } else { "" }))
}

/// The released desk, opened again, with another outline, drawn, signed and released once more.
fn released_again() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let at = shared().join("released-again");
        crate::workshop::copy_folder(stages::released(), &at);
        let book = Desk::new(at.clone(), "mara");
        book.run(r#"reopen quay-desk rendering --reason "the wall is lower""#).done();
        let drawing = shared().join("lower.json");
        fs::write(&drawing, stages::curved(590)).unwrap();
        book.run(&format!("panel change quay-desk front --outline {}", drawing.display())).done();
        book.run("draw quay-desk front").done();
        book.run_as("imke", "sign quay-desk rendering --panel front --yes").done();
        book.run_as("tom", "sign quay-desk rendering --panel front --as engineer --yes").done();
        book.run_as("tom", "sign quay-desk acknowledgement --topic cautions --yes").done();
        book.run_as("tom", "sign quay-desk release --yes").done();
        book.run("advance quay-desk --to released").done();
        at
    })
}

#[test]
fn no_random_damage_leaves_a_book_released_unless_what_was_sealed_is_as_it_was() {
    let number = |name: &str, usual: u64| {
        std::env::var(name).map_or(usual, |text| text.parse().unwrap_or_else(|_| panic!("{name}={text}")))
    };
    let (count, seed) = (number("UNDERLIT_MUTATIONS", 300), number("UNDERLIT_MUTATION_SEED", 20_260_901));
    let place = Place::new();
    let one = place.copy_as(stages::released(), "one", "mara").at;
    let two = place.copy_as(released_again(), "two", "mara").at;
    let (first, second) = (read_all(&one), read_all(&two));
    let letters = place.path("letters");
    crate::workshop::copy_folder(&Path::new(env!("CARGO_MANIFEST_DIR")).join("example-repo"), &letters);
    let bases = [
        Base::new(one, "quay-desk", vec![second]),
        Base::new(two, "quay-desk", vec![first]),
        Base::new(letters, "quay-bar", Vec::new()),
    ];
    let mut bases = bases;
    // The two states of the desk are each other's.
    let (one, two) = (bases[0].packs[0].clone(), bases[1].packs[0].clone());
    bases[0].packs.push(two);
    bases[1].packs.push(one);
    let mut chance = Chance(seed);
    let (mut built, mut changed, mut packed) = (0_u64, 0_u64, 0_u64);
    for nth in 0..count {
        let base = &bases[(nth % bases.len() as u64) as usize];
        let (files, what) = damaged(base, &mut chance);
        base.put(&files, &base.good);
        let may_be_built = base.may_be_built();
        // A pack takes a second to be drawn; the longer run makes each.
        let pack =
            (count > 300 || nth % 6 == 0).then(|| released_pack(&base.folder, &base.project)).flatten();
        base.put(&base.good, &files);
        let now = sealed(&files, base.project.as_str());
        let whole = base.sealed.contains(&now);
        assert!(
            !may_be_built || whole,
            "damage {nth} of seed {seed} ({what}) leaves {} to be built with other sealed facts: {:?}",
            base.project,
            now.iter().filter(|(k, v)| base.sealed[0].get(*k) != Some(v)).collect::<Vec<_>>()
        );
        if let Some(pack) = pack {
            packed += 1;
            assert!(
                may_be_built,
                "damage {nth} of seed {seed} ({what}) is packed as released and may not be built"
            );
            let other = |good: &Files| -> Vec<String> {
                let all = good.keys().chain(pack.keys()).filter(|path| good.get(*path) != pack.get(*path));
                all.cloned().collect()
            };
            assert!(
                base.packs.contains(&pack),
                "damage {nth} of seed {seed} ({what}) puts into the pack what nobody signed: {:?}",
                other(&base.packs[0])
            );
        }
        built += u64::from(may_be_built);
        changed += u64::from(!whole);
    }
    // The run says something only where both kinds were met: harmless damage, and damage to what is sealed.
    assert!(built > count / 50 && changed > count / 4, "{built} built, {changed} changed of {count}");
    assert!(packed > 0, "no pack was made");
    assert!(bases.iter().all(Base::may_be_built), "each book is as it was");
    if count > 300 {
        fs::write(shared().join("mutations.txt"), format!("{count} {seed} {built} {changed} {packed}\n"))
            .unwrap();
    }
}

#[test]
fn a_file_that_is_exchanged_while_the_pack_is_made_is_not_in_it() {
    let rounds = if std::env::var_os("UNDERLIT_MUTATIONS").is_some() { 60 } else { 5 };
    let place = Place::new();
    let book = place.copy_as(stages::released(), "book", "mara");
    let project: ProjectId = "quay-desk".parse().unwrap();
    let good = released_pack(&book.at, &project).unwrap();
    let own = "projects/quay-desk";
    let forged: Vec<(String, Vec<u8>)> = [
        (
            "renderings/front/sheet.svg",
            b"<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9mm\" height=\"9mm\"/>".to_vec(),
        ),
        ("renderings/front/sheet.pdf", b"%PDF-1.7 forged".to_vec()),
        ("panels/front.outline.json", stages::curved(901).into_bytes()),
    ]
    .into_iter()
    .map(|(name, bytes)| (format!("{own}/{name}"), bytes))
    .collect();
    let honest: Vec<(String, Vec<u8>)> =
        forged.iter().map(|(path, _)| (path.clone(), book.bytes(path))).collect();
    let ended = std::sync::atomic::AtomicBool::new(false);
    let (mut made, mut refused) = (0, 0);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut chance = Chance(7);
            while !ended.load(std::sync::atomic::Ordering::Relaxed) {
                let nth = chance.below(forged.len());
                let (path, bytes) = if chance.below(2) == 0 { &forged[nth] } else { &honest[nth] };
                // Whole at once, as an attacker would.
                let aside = book.path(".git/aside");
                fs::write(&aside, bytes).unwrap();
                fs::rename(&aside, book.path(path)).unwrap();
                std::thread::sleep(std::time::Duration::from_millis(chance.next() % 12));
            }
        });
        for _ in 0..rounds {
            match released_pack(&book.at, &project) {
                None => refused += 1,
                Some(pack) => {
                    made += 1;
                    assert!(pack == good, "what nobody signed is in the pack");
                }
            }
        }
        ended.store(true, std::sync::atomic::Ordering::Relaxed);
    });
    assert_eq!(made + refused, rounds);
}

//! The judge and the patterns beside a library (the `jsonschema` crate, which passes the standard's own test suite): the same
//! broken rules, at the same places, in the same words, for every sample and for samples changed at random.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use jsonschema::Validator;
use jsonschema::error::ValidationErrorKind;
use serde_json::{Value, json};

use super::judge::broken;
use super::pattern::Pattern;
use super::schemas::self_contained;
use crate::model::kind::Kind;

/// A rule that is broken: where, which, by which way through the schema, in which words.
type Line = (String, String, String, String);

fn ours(schema: &Value, value: &Value) -> BTreeSet<Line> {
    broken(schema, value).into_iter().map(|one| (one.pointer, one.word, one.path, one.message)).collect()
}

fn theirs(validator: &Validator, value: &Value) -> BTreeSet<Line> {
    let mut lines = BTreeSet::new();
    for error in validator.iter_errors(value) {
        let (pointer, word) = (error.instance_path().to_string(), error.kind().keyword().to_owned());
        let mut path = error.evaluation_path().to_string();
        // Where a rule asks for names, the library's way goes on to the rule or the field that does so; ours ends there.
        for word in ["/propertyNames", "/dependentRequired"] {
            path.truncate(path.find(word).map_or(path.len(), |at| at + word.len()));
        }
        match error.kind() {
            ValidationErrorKind::AdditionalProperties { unexpected } => {
                for field in unexpected {
                    let at = format!("{pointer}/{}", field.replace('~', "~0").replace('/', "~1"));
                    let message = format!("the field `{field}` is not one of this record's");
                    lines.insert((at, word.clone(), path.clone(), message));
                }
            }
            _ => _ = lines.insert((pointer, word, path, error.to_string())),
        }
    }
    lines
}

/// A fixed sequence of numbers.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit
    }
}

/// Characters at which patterns and lengths part.
const ODD: [&str; 22] = [
    "", "a", "Z", "0", "-", "--", "_", ".", "..", "/", ":", "\\", " ", "\n", "\t", "\u{85}", "\u{2028}",
    "\u{feff}", "é", "😀", "\u{202e}", "con",
];

fn bent_text(text: &str, dice: &mut Dice) -> String {
    let all: Vec<char> = text.chars().collect();
    let (from, to) = (dice.below(all.len() + 1), dice.below(all.len() + 1));
    let odd = ODD[dice.below(ODD.len())];
    let part = |from: usize, to: usize| all[from.min(to)..to].iter().collect::<String>();
    match dice.below(5) {
        0 => part(0, from) + odd + &part(from, all.len()),
        1 => part(0, from.min(to)) + &part(from.max(to), all.len()),
        2 => part(from.min(to), from.max(to)),
        3 => odd.repeat(1 + dice.below(90)),
        _ => text.repeat(1 + dice.below(3)) + odd,
    }
}

/// Changes something of a value.
fn bend(value: &mut Value, others: &[Value], dice: &mut Dice) {
    if dice.below(12) == 0 {
        *value = others[dice.below(others.len())].clone();
        return;
    }
    match value {
        Value::Object(fields) if !fields.is_empty() => {
            let name = fields.keys().nth(dice.below(fields.len())).expect("a field").clone();
            match dice.below(8) {
                0 => _ = fields.shift_remove(&name),
                1 => _ = fields.insert(bent_text(&name, dice), json!(1)),
                _ => bend(&mut fields[&name], others, dice),
            }
        }
        Value::Array(items) if !items.is_empty() => {
            let nth = dice.below(items.len());
            match dice.below(6) {
                0 => _ = items.remove(nth),
                1 => items.push(items[nth].clone()),
                _ => bend(&mut items[nth], others, dice),
            }
        }
        Value::String(text) => *text = bent_text(text, dice),
        Value::Number(number) => {
            let near = number.as_f64().unwrap_or(0.0);
            let bent =
                [near + 1.0, near - 1.0, -near, near * 1e6, near / 1e6, near + 0.5, near.trunc(), 0.0, -1e-9];
            *value = match dice.below(bent.len() + 3) {
                0 => json!(9_007_199_254_740_991_i64),
                1 => json!(-9_007_199_254_740_991_i64),
                2 => json!(near as i64),
                nth => json!(bent[nth - 3]),
            };
        }
        other => *other = json!([1, 1.0, null, {"a": [], "b": 1}]),
    }
}

fn samples(kind: Kind) -> Vec<Value> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/samples").join(kind.name());
    let files =
        ["valid", "invalid"].iter().flat_map(|which| fs::read_dir(folder.join(which)).expect("samples"));
    let read =
        |file: fs::DirEntry| serde_json::from_slice(&fs::read(file.path()).expect("read")).expect("JSON");
    files.map(|file| read(file.expect("a file"))).collect()
}

#[test]
fn the_judge_says_what_the_library_says() {
    let mut dice = Dice(20_261_128);
    let (mut wrong, mut right) = (0, 0);
    for kind in Kind::WITH_SCHEMA {
        let schema = self_contained(*kind);
        let validator = jsonschema::validator_for(&schema).expect("a schema");
        let all = samples(*kind);
        let others: Vec<Value> =
            [json!(null), json!(true), json!(3), json!(2.5), json!("x"), json!([]), json!({})]
                .into_iter()
                .chain(all.clone())
                .collect();
        for value in &all {
            for times in 0..40 {
                let mut value = value.clone();
                (0..times.min(4)).for_each(|_| bend(&mut value, &others, &mut dice));
                let found = ours(&schema, &value);
                assert_eq!(found, theirs(&validator, &value), "{}: {value:#}", kind.name());
                *if found.is_empty() { &mut right } else { &mut wrong } += 1;
            }
        }
    }
    assert!(wrong > 4_000 && right > 400, "{wrong} wrong, {right} right");
}

/// Every pattern in a schema.
fn patterns(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            found.extend(fields.get("pattern").and_then(Value::as_str).map(str::to_owned));
            fields.values().for_each(|value| patterns(value, found));
        }
        Value::Array(items) => items.iter().for_each(|value| patterns(value, found)),
        _ => {}
    }
}

/// Every text in a value.
fn texts(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => fields.values().for_each(|value| texts(value, found)),
        Value::Array(items) => items.iter().for_each(|value| texts(value, found)),
        Value::String(text) => _ = found.insert(text.clone()),
        _ => {}
    }
}

#[test]
fn each_pattern_takes_the_texts_that_the_library_takes() {
    let (mut all, mut tried) =
        (BTreeSet::new(), BTreeSet::from(["2028-02-29".to_owned(), "2100-02-29".to_owned()]));
    for kind in Kind::WITH_SCHEMA {
        patterns(&self_contained(*kind), &mut all);
        samples(*kind).iter().for_each(|value| texts(value, &mut tried));
    }
    let mut dice = Dice(7);
    let bent: Vec<String> =
        tried.iter().flat_map(|text| [0; 6].map(|_| bent_text(text, &mut dice))).collect();
    tried.extend(bent);
    let (mut taken, mut refused) = (0, 0);
    for pattern in &all {
        let own = Pattern::read(pattern).unwrap_or_else(|| panic!("{pattern} is not understood"));
        let library = jsonschema::validator_for(&json!({ "pattern": pattern })).expect("a pattern");
        for text in &tried {
            let takes = library.is_valid(&json!(text));
            assert_eq!(own.is_in(text), takes, "{pattern} {text:?}");
            *if takes { &mut taken } else { &mut refused } += 1;
        }
    }
    assert!(all.len() > 30 && taken > 5_000 && refused > 10_000, "{} {taken} {refused}", all.len());
}

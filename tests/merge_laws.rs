//! The laws of the three-way merge as properties, and an oracle that decides every small record by itself.
//!
//! Source: the laws are those of any three-way merge (a merge with an unchanged side is the other side; swapping
//! sides swaps sides; a merge merged again is itself), stated for this project's open questions. The oracle shares
//! no code with the merge: it knows fields one by one and equality by a table of classes.
#![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

use std::cell::Cell;
use std::collections::BTreeSet;

use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
use serde_json::{Map, Value, json};
use underlit::merge::{
    FileQuestion, Layout, Merged, Question, Rule, Rules, Three, Touched, Treatment, at, identical, merge,
    merge_file, same, take,
};

fn rules() -> Rules {
    Rules::new().with("/s", Rule::Set).with("/w", Rule::Whole).with("/k", Rule::Keyed("key".into()))
}

fn run(base: Option<&Value>, ours: Option<&Value>, theirs: Option<&Value>) -> Merged {
    merge(&rules(), base, ours, theirs, &Touched::default())
}

fn scalar() -> impl Strategy<Value = Value> {
    prop_oneof![
        Just(json!(null)),
        Just(json!(true)),
        Just(json!(1)),
        Just(json!(1.0)),
        Just(json!(2)),
        Just(json!(2.5)),
        Just(json!("a/b")),
        Just(json!("2027-01-11"))
    ]
}

fn named(key: &'static str) -> impl Strategy<Value = Value> {
    let element =
        (prop_oneof![Just("p"), Just("q"), Just("r/~"), Just("t=u")], scalar(), prop::option::of(scalar()));
    prop::collection::vec(element, 0..4).prop_map(move |elements| {
        let mut seen = BTreeSet::new();
        let kept = elements.into_iter().filter(|(id, _, _)| seen.insert(*id));
        kept.map(|(id, v, w)| {
            let mut map = Map::new();
            map.insert(key.into(), json!(id));
            map.insert("v".into(), v);
            map.extend(w.map(|w| ("w".to_owned(), w)));
            Value::Object(map)
        })
        .collect()
    })
}

fn set() -> impl Strategy<Value = Value> {
    prop::collection::vec(
        prop_oneof![Just(json!("x")), Just(json!("y")), Just(json!(1)), Just(json!(2.0))],
        0..4,
    )
    .prop_map(|items| {
        let mut kept: Vec<Value> = Vec::new();
        for item in items {
            if !kept.contains(&item) {
                kept.push(item);
            }
        }
        Value::Array(kept)
    })
}

fn record() -> impl Strategy<Value = Value> {
    let inner = prop_oneof![
        3 => scalar(),
        1 => prop::collection::vec(scalar(), 0..3).prop_map(Value::Array),
        2 => prop::collection::vec((prop_oneof![Just("a"), Just("b"), Just("c~/")], scalar()), 0..3)
            .prop_map(|fields| fields.into_iter().map(|(k, v)| (k.to_owned(), v)).collect::<Map<_, _>>().into()),
    ];
    let field = prop_oneof![
        4 => (prop_oneof![Just("a"), Just("b"), Just("w"), Just("d/")], inner),
        2 => (Just("s"), set()),
        2 => (Just("k"), named("key")),
        2 => (Just("l"), named("id")),
    ];
    prop::collection::vec(field, 0..6)
        .prop_map(|fields| fields.into_iter().map(|(k, v)| (k.to_owned(), v)).collect::<Map<_, _>>().into())
}

/// `base` with some of its fields as `other` has them, at every depth.
fn mixed(base: &Value, other: &Value, picks: &mut impl Iterator<Item = bool>) -> Value {
    let (Value::Object(from), Value::Object(to)) = (base, other) else {
        return if picks.next() == Some(true) { other.clone() } else { base.clone() };
    };
    let mut map = Map::new();
    let keys: Vec<&String> = from.keys().chain(to.keys().filter(|key| !from.contains_key(*key))).collect();
    for key in keys {
        let value = match (from.get(key), to.get(key)) {
            (Some(a), Some(b)) => Some(mixed(a, b, picks)),
            (a, b) => if picks.next() == Some(true) { b } else { a }.cloned(),
        };
        map.extend(value.map(|value| (key.clone(), value)));
    }
    Value::Object(map)
}

fn sides<const N: usize>() -> impl Strategy<Value = (Value, [Value; N])> {
    let side = (record(), prop::collection::vec(prop::bool::weighted(0.35), 24));
    (record(), prop::collection::vec(side, N)).prop_map(|(base, sides)| {
        let made: Vec<Value> = sides.iter().map(|(o, p)| mixed(&base, o, &mut p.iter().copied())).collect();
        (base, made.try_into().unwrap())
    })
}

/// Equal but for the order of keyed collections and sets.
fn same_members(a: &Value, b: &Value) -> bool {
    fn sorted(value: &Value) -> Value {
        match value {
            Value::Array(items) => {
                let mut items: Vec<Value> = items.iter().map(sorted).collect();
                items.sort_by_key(ToString::to_string);
                Value::Array(items)
            }
            Value::Object(map) => {
                let mut fields: Vec<(String, Value)> =
                    map.iter().map(|(k, v)| (k.clone(), sorted(v))).collect();
                fields.sort_by(|a, b| a.0.cmp(&b.0));
                Value::Object(fields.into_iter().collect())
            }
            Value::Number(n) => json!(n.as_f64().unwrap()),
            other => other.clone(),
        }
    }
    sorted(a) == sorted(b)
}

/// Every place by field and by the id of an element, from the outside in.
fn places_of(value: &Value, here: String, found: &mut Vec<String>) {
    let escaped = |step: &str| step.replace('~', "~0").replace('/', "~1");
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                let place = format!("{here}/{}", escaped(key));
                found.push(place.clone());
                places_of(value, place, found);
            }
        }
        Value::Array(items) => {
            for item in items {
                let id = ["id", "key"].iter().find_map(|k| Some((*k, item.get(*k)?.as_str()?)));
                if let Some((key, id)) = id {
                    let place = format!("{here}/{}", escaped(&format!("{key}={id}")));
                    found.push(place.clone());
                    places_of(item, place, found);
                }
            }
        }
        _ => {}
    }
}

fn leaves(value: &Value, here: String, found: &mut Vec<(String, Value)>) {
    match value {
        // An array without ids is one whole; of a set, its members count.
        Value::Array(items)
            if here != "/s" && items.iter().any(|i| i.get("id").is_none() && i.get("key").is_none()) =>
        {
            found.push((here, value.clone()));
        }
        Value::Object(map) => {
            for (key, value) in map {
                leaves(value, format!("{here}/{}", key.replace('~', "~0").replace('/', "~1")), found);
            }
        }
        Value::Array(items) => {
            for item in items {
                let id = ["id", "key"].iter().find_map(|k| Some((*k, item.get(*k)?.as_str()?)));
                if let Some((key, id)) = id {
                    let step = format!("{key}={id}").replace('~', "~0").replace('/', "~1");
                    leaves(item, format!("{here}/{step}"), found);
                }
            }
        }
        scalar => found.push((here, scalar.clone())),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_side_that_changed_nothing_has_no_say((base, [x]) in sides::<1>()) {
        for merged in [run(Some(&base), Some(&x), Some(&base)), run(Some(&base), Some(&base), Some(&x))] {
            prop_assert!(identical(merged.value.as_ref(), Some(&x)), "{merged:?}");
            prop_assert_eq!(merged.questions, vec![]);
        }
        let both = run(Some(&base), Some(&x), Some(&x));
        prop_assert!(identical(both.value.as_ref(), Some(&x)));
        let new = run(None, Some(&x), None);
        prop_assert!(identical(new.value.as_ref(), Some(&x)) && new.questions.is_empty());
        // Taking the record out is a change like any other.
        for gone in [run(Some(&base), None, Some(&base)), run(Some(&base), Some(&base), None), run(Some(&base), None, None)] {
            prop_assert_eq!((gone.value, gone.questions), (None, vec![]));
        }
    }

    #[test]
    fn taking_out_against_changing_is_always_a_question((base, [x]) in sides::<1>()) {
        // The record itself.
        if !same(Some(&x), Some(&base)) {
            for merged in [run(Some(&base), None, Some(&x)), run(Some(&base), Some(&x), None)] {
                prop_assert!(identical(merged.value.as_ref(), Some(&base)));
                let at: Vec<&str> = merged.questions.iter().map(|q| q.pointer.as_str()).collect();
                prop_assert_eq!(at, vec![""]);
            }
        }
        // Every place in it that the other side changed, taken out on this side.
        let mut places = Vec::new();
        places_of(&base, String::new(), &mut places);
        for place in places {
            let (was, now) = (at(&base, &place), at(&x, &place));
            if now.is_none() || same(was, now) {
                continue;
            }
            let mut without = base.clone();
            prop_assert!(take(&mut without, &place).is_some());
            for merged in [run(Some(&base), Some(&without), Some(&x)), run(Some(&base), Some(&x), Some(&without))] {
                let asked = merged.questions.iter().find(|q| place == q.pointer || place.starts_with(&format!("{}/", q.pointer)));
                prop_assert!(asked.is_some(), "{place} of {base} in {x}: {merged:?}");
                prop_assert!(same(at(merged.value.as_ref().unwrap(), &place), was), "{place}: {merged:?}");
            }
        }
    }

    #[test]
    fn swapping_the_sides_swaps_only_the_sides((base, [x, y]) in sides::<2>()) {
        let all = [(Some(&base), Some(&x), Some(&y)), (None, Some(&x), Some(&y)), (Some(&base), Some(&x), None)];
        for (base, x, y) in all {
            let one = run(base, x, y);
            let two = run(base, y, x);
            prop_assert!(identical(one.value.as_ref(), two.value.as_ref()), "{:?} {:?}", one.value, two.value);
            let swapped: Vec<Question> = two.questions.into_iter()
                .map(|q| Question { ours: q.theirs, theirs: q.ours, ..q }).collect();
            prop_assert_eq!(one.questions, swapped);
        }
    }

    #[test]
    fn a_question_is_where_it_says_and_the_place_keeps_its_base((base, [x, y]) in sides::<2>()) {
        let merged = run(Some(&base), Some(&x), Some(&y));
        let value = merged.value.unwrap();
        for q in &merged.questions {
            prop_assert!(same(at(&base, &q.pointer), q.base.as_ref()), "{q:?}");
            prop_assert!(same(at(&x, &q.pointer), q.ours.as_ref()), "{q:?}");
            prop_assert!(same(at(&y, &q.pointer), q.theirs.as_ref()), "{q:?}");
            prop_assert!(same(at(&value, &q.pointer), q.base.as_ref()), "{q:?} in {value}");
            prop_assert!(!same(q.ours.as_ref(), q.theirs.as_ref()));
        }
    }

    #[test]
    fn there_is_never_a_third_value((base, [x, y]) in sides::<2>()) {
        let value = run(Some(&base), Some(&x), Some(&y)).value.unwrap();
        let mut found = Vec::new();
        leaves(&value, String::new(), &mut found);
        for (pointer, leaf) in found {
            let known = [&base, &x, &y].iter().any(|side| same(at(side, &pointer), Some(&leaf)));
            prop_assert!(known, "{pointer} {leaf}");
        }
        // Nor is a place gone that every side has.
        for side in [&base, &x, &y] {
            let mut found = Vec::new();
            leaves(side, String::new(), &mut found);
            for (pointer, _) in found {
                let now = at(&value, &pointer);
                let known = [&base, &x, &y].iter().any(|side| same(at(side, &pointer), now));
                prop_assert!(known, "{pointer} is {now:?} of {base} {x} {y}");
            }
        }
        // A member of a set is there exactly where the side says so that changed it.
        let members = |side: &Value| side.get("s").and_then(Value::as_array).cloned().unwrap_or_default();
        let has = |side: &Value, member: &Value| members(side).iter().any(|m| same(Some(m), Some(member)));
        let (b, o, t) = (members(&base), members(&x), members(&y));
        if [&base, &x, &y, &value].iter().all(|side| side.get("s").is_some_and(Value::is_array)) {
            for member in b.iter().chain(&o).chain(&t) {
                let (b, o, t) = (has(&base, member), has(&x, member), has(&y, member));
                prop_assert_eq!(has(&value, member), if o == b { t } else { o }, "{} of {} {} {}", member, base, x, y);
            }
            prop_assert!(members(&value).iter().all(|m| has(&base, m) || has(&x, m) || has(&y, m)));
        }
    }

    #[test]
    fn merging_again_changes_nothing((base, [x, y]) in sides::<2>()) {
        let merged = run(Some(&base), Some(&x), Some(&y));
        let value = merged.value.as_ref();
        if merged.questions.is_empty() {
            for again in [run(Some(&base), value, Some(&x)), run(Some(&base), Some(&y), value)] {
                prop_assert_eq!(&again.questions, &vec![]);
                prop_assert!(same(again.value.as_ref(), value), "{:?} is not {:?}", again.value, value);
            }
        }
        // Where questions are open, they stay the same questions, and nothing else moves.
        let open = merged.questions.iter().map(|q| q.pointer.clone()).collect();
        let touched = Touched { ours: open, theirs: BTreeSet::new() };
        for side in [&x, &y] {
            let again = merge(&rules(), Some(&base), value, Some(side), &touched);
            // But for the order of elements: a side that took out what is asked about says nothing of where it stands.
            let (again_value, value) = (again.value.as_ref().unwrap(), value.unwrap());
            prop_assert!(same_members(again_value, value), "{again_value} is not {value}");
            let pointers: Vec<&String> = again.questions.iter().map(|q| &q.pointer).collect();
            let expected: Vec<&String> = merged.questions.iter().map(|q| &q.pointer)
                .filter(|pointer| !same(at(side, pointer), at(&base, pointer))).collect();
            prop_assert_eq!(pointers, expected);
        }
    }

}

#[test]
fn without_a_question_the_order_of_meeting_does_not_matter() {
    let config = ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &[3; 32]));
    let (clean, apart) = (Cell::new(0), Cell::new(0));
    let ran = runner.run(&sides::<3>(), |(base, [x, y, z])| {
        let xy = run(Some(&base), Some(&x), Some(&y));
        let yz = run(Some(&base), Some(&y), Some(&z));
        let zx = run(Some(&base), Some(&z), Some(&x));
        let ways = [
            run(Some(&base), xy.value.as_ref(), Some(&z)),
            run(Some(&base), Some(&x), yz.value.as_ref()),
            run(Some(&base), zx.value.as_ref(), Some(&y)),
        ];
        if [&xy, &yz, &zx].into_iter().chain(&ways).all(|m| m.questions.is_empty()) {
            clean.set(clean.get() + 1);
            let [one, two, three] = ways.map(|way| way.value.unwrap());
            prop_assert!(same_members(&one, &two) && same_members(&two, &three), "{one}, {two}, {three}");
            let moved = [&x, &y, &z].iter().filter(|side| !same(Some(side), Some(&base))).count();
            apart.set(apart.get() + usize::from(moved == 3));
        }
        Ok(())
    });
    ran.unwrap();
    assert!(
        clean.get() > 300 && apart.get() > 100,
        "{} without a question, {} of three edits",
        clean.get(),
        apart.get()
    );
}

/// Every record with the fields a and b, each absent, null, 1, 1.0 or 2, and no record at all: 26 of them, 17 576 merges,
/// decided field by field with equality from a table.
#[test]
fn every_small_record_merges_as_the_oracle_says() {
    // Class 0 is absent; 1 and 1.0 are one class.
    let values: [(Option<Value>, u8); 5] =
        [(None, 0), (Some(json!(null)), 1), (Some(json!(1)), 2), (Some(json!(1.0)), 2), (Some(json!(2)), 3)];
    let class = |value: Option<&Value>| -> u8 {
        values.iter().find(|(known, _)| known.as_ref() == value).map(|(_, class)| *class).unwrap()
    };
    let mut records = Vec::new();
    for (a, _) in &values {
        for (b, _) in &values {
            let mut map = Map::new();
            map.extend(a.clone().map(|a| ("a".to_owned(), a)));
            map.extend(b.clone().map(|b| ("b".to_owned(), b)));
            records.push(Value::Object(map));
        }
    }
    let records: Vec<Option<Value>> = records.into_iter().map(Some).chain([None]).collect();
    // A record as the classes of its fields.
    type Classes = Option<[u8; 2]>;
    let classes =
        |record: Option<&Value>| -> Classes { record.map(|r| [class(r.get("a")), class(r.get("b"))]) };
    let one = |b: u8, o: u8, t: u8| match (o == t || t == b, o == b) {
        (true, _) => (o, false),
        (_, true) => (t, false),
        _ => (b, true),
    };
    let oracle = |b: Classes, o: Classes, t: Classes| -> (Classes, Vec<&str>) {
        if o == t || t == b {
            return (o, vec![]);
        }
        if o == b {
            return (t, vec![]);
        }
        let (Some([oa, ob]), Some([ta, tb])) = (o, t) else { return (b, vec![""]) };
        let [ba, bb] = b.unwrap_or([0, 0]);
        let ((a, ask_a), (bv, ask_b)) = (one(ba, oa, ta), one(bb, ob, tb));
        let asked: Vec<&str> =
            [(ask_a, "/a"), (ask_b, "/b")].iter().filter(|(ask, _)| *ask).map(|(_, p)| *p).collect();
        match b {
            // Half of a new thing is of no use.
            None if !asked.is_empty() => (None, vec![""]),
            _ => (Some([a, bv]), asked),
        }
    };
    let (mut asked, mut whole) = (0, 0);
    for base in &records {
        for ours in &records {
            for theirs in &records {
                let merged = run(base.as_ref(), ours.as_ref(), theirs.as_ref());
                let (value, questions) =
                    oracle(classes(base.as_ref()), classes(ours.as_ref()), classes(theirs.as_ref()));
                assert_eq!(classes(merged.value.as_ref()), value, "{base:?} {ours:?} {theirs:?}");
                let found: Vec<&str> = merged.questions.iter().map(|q| q.pointer.as_str()).collect();
                assert_eq!(found, questions, "{base:?} {ours:?} {theirs:?}");
                asked += found.len();
                whole += found.iter().filter(|pointer| pointer.is_empty()).count();
            }
        }
    }
    assert!(asked > 1000 && whole > 500, "the oracle saw {asked} questions, {whole} about a whole record");
}

#[test]
fn cases_by_hand() {
    let case = |base: Value, ours: Value, theirs: Value, value: Value, asked: &[&str]| {
        let merged = run(Some(&base), Some(&ours), Some(&theirs));
        assert_eq!(merged.value, Some(value), "{base} {ours} {theirs}");
        let pointers: Vec<&str> = merged.questions.iter().map(|q| q.pointer.as_str()).collect();
        assert_eq!(pointers, asked, "{base} {ours} {theirs}");
    };
    // Delete against edit, of a field and of an element.
    case(json!({"a": 1}), json!({}), json!({"a": 2}), json!({"a": 1}), &["/a"]);
    case(
        json!({"l": [{"id": "p", "v": 1}]}),
        json!({"l": []}),
        json!({"l": [{"id": "p", "v": 2}]}),
        json!({"l": [{"id": "p", "v": 1}]}),
        &["/l/id=p"],
    );
    // Absent is not null.
    case(json!({"a": 1}), json!({}), json!({"a": null}), json!({"a": 1}), &["/a"]);
    // Two new halves of a thing: whole if they agree, nothing if not.
    case(json!({}), json!({"n": {"x": 1}}), json!({"n": {"y": 2}}), json!({"n": {"x": 1, "y": 2}}), &[]);
    case(json!({}), json!({"n": {"x": 1}}), json!({"n": {"x": 2, "y": 2}}), json!({}), &["/n"]);
    // A whole is one question though different parts changed.
    case(
        json!({"w": {"x": 1, "y": 1}}),
        json!({"w": {"x": 2, "y": 1}}),
        json!({"w": {"x": 1, "y": 2}}),
        json!({"w": {"x": 1, "y": 1}}),
        &["/w"],
    );
    // Sets: additions and removals of both.
    case(
        json!({"s": ["x", "y"]}),
        json!({"s": ["x"]}),
        json!({"s": ["x", "y", "z"]}),
        json!({"s": ["x", "z"]}),
        &[],
    );
    // Arrays without ids are one.
    case(
        json!({"a": [1, 2]}),
        json!({"a": [1, 2, 3]}),
        json!({"a": [0, 1, 2]}),
        json!({"a": [1, 2]}),
        &["/a"],
    );
    // Each its own field of the same element, elements in another order.
    case(
        json!({"l": [{"id": "p", "v": 1, "w": 1}, {"id": "q", "v": 1}]}),
        json!({"l": [{"id": "q", "v": 1}, {"id": "p", "v": 2, "w": 1}]}),
        json!({"l": [{"id": "p", "v": 1, "w": 2}, {"id": "q", "v": 1}, {"id": "n", "v": 0}]}),
        json!({"l": [{"id": "q", "v": 1}, {"id": "n", "v": 0}, {"id": "p", "v": 2, "w": 2}]}),
        &[],
    );
}

#[test]
fn an_open_or_answered_question_counts_as_a_change() {
    let touched = |ours: &[&str], theirs: &[&str]| Touched {
        ours: ours.iter().map(|p| (*p).to_owned()).collect(),
        theirs: theirs.iter().map(|p| (*p).to_owned()).collect(),
    };
    let (base, edited) = (json!({"a": {"x": 1}, "b": 1}), json!({"a": {"x": 2}, "b": 2}));
    let merged = merge(&rules(), Some(&base), Some(&base), Some(&edited), &touched(&["/a/x"], &[]));
    assert_eq!(merged.value, Some(json!({"a": {"x": 1}, "b": 2})));
    assert_eq!(merged.questions.len(), 1);
    assert_eq!(merged.questions[0].pointer, "/a/x");
    let merged = merge(&rules(), Some(&base), Some(&edited), Some(&base), &touched(&[], &["/a/x"]));
    assert_eq!(merged.questions[0].pointer, "/a/x");
    // Touched and left alone by the other side: no question.
    let merged = merge(&rules(), Some(&base), Some(&edited), Some(&base), &touched(&["/a/x"], &[]));
    assert_eq!((merged.value, merged.questions.len()), (Some(edited), 0));
}

/// Every file of three contents, or none, on each side: 64 of each treatment, decided by a table.
#[test]
fn files_of_bytes_are_one_or_asked_about_and_what_was_said_stays() {
    let layout = Layout::new().add_only("said/**").conflicts("conflicts/**");
    let contents: [Option<&[u8]>; 4] = [None, Some(b"one"), Some(b"two!"), Some(b"3")];
    let mut asked = 0;
    for base in contents {
        for ours in contents {
            for theirs in contents {
                let sides = Three { base, ours, theirs };
                // An attachment goes by its bytes; where both changed it, both are asked about, and it stays as it was.
                let photo = merge_file(&layout, "photo.jpg", sides, &Touched::default());
                let question = ours != theirs && ours != base && theirs != base;
                assert_eq!(
                    photo.questions,
                    if question { vec![FileQuestion::Bytes] } else { vec![] },
                    "{sides:?}"
                );
                asked += usize::from(question);
                // The shorter, then the one that reads first: an order that both machines find.
                let first = [ours, theirs].into_iter().flatten().min_by_key(|bytes| (bytes.len(), *bytes));
                let expected = match (question, base) {
                    (true, Some(_)) => base,
                    (true, None) => first,
                    (false, _) => {
                        if theirs == base {
                            ours
                        } else {
                            theirs
                        }
                    }
                };
                assert_eq!(photo.bytes(sides), expected, "{sides:?}");
                // Swapping the sides decides the same.
                let swapped = Three { base, ours: theirs, theirs: ours };
                let other = merge_file(&layout, "photo.jpg", swapped, &Touched::default());
                assert_eq!((photo.bytes(sides), &photo.questions), (other.bytes(swapped), &other.questions));
                // What was said is never changed or taken out, whatever a side did.
                let said = merge_file(&layout, "said/a.json", sides, &Touched::default());
                let stays = base.or(if theirs.is_some() { theirs } else { ours });
                assert_eq!(said.bytes(sides), stays, "{sides:?}");
                let two_at_once = base.is_none() && ours.is_some() && theirs.is_some() && ours != theirs;
                assert_eq!(!said.questions.is_empty(), two_at_once, "{sides:?}");
                // An answer ends a question, whatever happened to it on the other side.
                let record = merge_file(&layout, "conflicts/a.json", sides, &Touched::default());
                assert_eq!(record.questions, vec![]);
                if base.is_some() && (ours.is_none() || theirs.is_none()) {
                    assert_eq!(record.bytes(sides), None, "{sides:?}");
                }
            }
        }
    }
    assert!(asked >= 18, "{asked} asked");
    assert_eq!(layout.treatment("photo.jpg"), &Treatment::Attachment);
}

//! The laws of the three-way merge as properties, and an oracle that decides every small record by itself.
//!
//! Source: the laws are those of any three-way merge (a merge with an unchanged side is the other side; swapping
//! sides swaps sides; a merge merged again is itself), stated for this project's open questions. The oracle shares
//! no code with the merge: it knows fields one by one and equality by a table of classes.
#![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

use std::collections::BTreeSet;

use proptest::prelude::*;
use serde_json::{Map, Value, json};
use underlit::merge::{Merged, Question, Rule, Rules, Touched, at, identical, merge, same};

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

fn leaves(value: &Value, here: String, found: &mut Vec<(String, Value)>) {
    match value {
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
    }

    #[test]
    fn swapping_the_sides_swaps_only_the_sides((base, [x, y]) in sides::<2>()) {
        for base in [Some(&base), None] {
            let one = run(base, Some(&x), Some(&y));
            let two = run(base, Some(&y), Some(&x));
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
    }

    #[test]
    fn without_a_question_the_order_of_meeting_does_not_matter((base, [x, y, z]) in sides::<3>()) {
        let xy = run(Some(&base), Some(&x), Some(&y));
        let yz = run(Some(&base), Some(&y), Some(&z));
        let left = run(Some(&base), xy.value.as_ref(), Some(&z));
        let right = run(Some(&base), Some(&x), yz.value.as_ref());
        if [&xy, &yz, &left, &right].iter().all(|m| m.questions.is_empty()) {
            let (left, right) = (left.value.unwrap(), right.value.unwrap());
            prop_assert!(same_members(&left, &right), "{left} is not {right}");
        }
    }
}

/// Every record with the fields a and b, each absent, null, 1, 1.0 or 2: 25 records, 15 625 merges, decided field by
/// field with equality from a table.
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
    let mut asked = 0;
    for base in &records {
        for ours in &records {
            for theirs in &records {
                let merged = run(Some(base), Some(ours), Some(theirs));
                let value = merged.value.unwrap();
                let mut expected = Vec::new();
                for field in ["a", "b"] {
                    let (b, o, t) =
                        (class(base.get(field)), class(ours.get(field)), class(theirs.get(field)));
                    let (result, question) = if o == t || t == b {
                        (o, false)
                    } else if o == b {
                        (t, false)
                    } else {
                        (b, true)
                    };
                    assert_eq!(class(value.get(field)), result, "{field} of {base} {ours} {theirs}");
                    if question {
                        expected.push(format!("/{field}"));
                    }
                }
                let found: Vec<String> = merged.questions.into_iter().map(|q| q.pointer).collect();
                assert_eq!(found, expected, "{base} {ours} {theirs}");
                asked += found.len();
            }
        }
    }
    assert!(asked > 1000, "the oracle saw {asked} questions");
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

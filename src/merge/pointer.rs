//! Places inside a record: JSON pointers (RFC 6901) with one addition for keyed collections.
//!
//! An array's element that has an id is named by it and not by its position, which the other side may have
//! shifted: `/channels/id=warm/cct_k`. A step with `=` in it can never be a position, so the two do not mix.

use serde_json::{Map, Value};

/// Adds a step to a pointer, escaped as RFC 6901 says.
pub(crate) fn below(pointer: &str, step: &str) -> String {
    format!("{pointer}/{}", step.replace('~', "~0").replace('/', "~1"))
}

fn steps(pointer: &str) -> Option<Vec<String>> {
    if pointer.is_empty() {
        return Some(Vec::new());
    }
    let rest = pointer.strip_prefix('/')?;
    Some(rest.split('/').map(|step| step.replace("~1", "/").replace("~0", "~")).collect())
}

fn position(items: &[Value], step: &str) -> Option<usize> {
    match step.split_once('=') {
        Some((key, id)) => items.iter().position(|item| item.get(key).and_then(Value::as_str) == Some(id)),
        None => step.parse().ok().filter(|&nth| nth < items.len() && (step == "0" || !step.starts_with('0'))),
    }
}

/// What stands at `pointer`; `None` where nothing does.
#[must_use]
pub fn at<'v>(value: &'v Value, pointer: &str) -> Option<&'v Value> {
    steps(pointer)?.iter().try_fold(value, |here, step| match here {
        Value::Object(map) => map.get(step),
        Value::Array(items) => position(items, step).and_then(|nth| items.get(nth)),
        _ => None,
    })
}

fn at_mut<'v>(value: &'v mut Value, steps: &[String]) -> Option<&'v mut Value> {
    steps.iter().try_fold(value, |here, step| match here {
        Value::Object(map) => map.get_mut(step),
        Value::Array(items) => {
            let nth = position(items, step)?;
            items.get_mut(nth)
        }
        _ => None,
    })
}

/// Puts `new` at `pointer`, in the place of what stands there or as a new field or element of what is above it.
/// False, and nothing changed, where the place above is missing or can hold no such step.
pub fn put(value: &mut Value, pointer: &str, new: Value) -> bool {
    let Some(steps) = steps(pointer) else { return false };
    let Some((last, above)) = steps.split_last() else {
        *value = new;
        return true;
    };
    match at_mut(value, above) {
        Some(Value::Object(map)) => {
            map.insert(last.clone(), new);
            true
        }
        Some(Value::Array(items)) => match position(items, last) {
            Some(nth) => {
                items[nth] = new;
                true
            }
            None if last.contains('=') => {
                items.push(new);
                true
            }
            None => false,
        },
        _ => false,
    }
}

/// Takes away what stands at `pointer` and returns it. The whole record cannot be taken.
pub fn take(value: &mut Value, pointer: &str) -> Option<Value> {
    let steps = steps(pointer)?;
    let (last, above) = steps.split_last()?;
    match at_mut(value, above)? {
        Value::Object(map) => remove_in_order(map, last),
        Value::Array(items) => position(items, last).map(|nth| items.remove(nth)),
        _ => None,
    }
}

/// Removes a key and leaves the order of the others as it is.
fn remove_in_order(map: &mut Map<String, Value>, key: &str) -> Option<Value> {
    map.shift_remove(key)
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn the_examples_of_rfc_6901_section_5() {
        let doc = json!({"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5,
            "k\"l": 6, " ": 7, "m~n": 8});
        for (pointer, value) in [
            ("/foo", json!(["bar", "baz"])),
            ("/foo/0", json!("bar")),
            ("/", json!(0)),
            ("/a~1b", json!(1)),
            ("/c%d", json!(2)),
            ("/e^f", json!(3)),
            ("/g|h", json!(4)),
            ("/i\\j", json!(5)),
            ("/k\"l", json!(6)),
            ("/ ", json!(7)),
            ("/m~0n", json!(8)),
        ] {
            assert_eq!(at(&doc, pointer), Some(&value), "{pointer}");
        }
        assert_eq!(at(&doc, ""), Some(&doc));
        for nowhere in ["foo", "/foo/2", "/foo/01", "/foo/-", "/none", "/foo/0/x"] {
            assert_eq!(at(&doc, nowhere), None, "{nowhere}");
        }
    }

    #[test]
    fn elements_go_by_their_id() {
        let mut doc = json!({"channels": [{"id": "cold", "cct_k": 5000}, {"id": "warm", "cct_k": 2700}]});
        assert_eq!(at(&doc, "/channels/id=warm/cct_k"), Some(&json!(2700)));
        assert!(put(&mut doc, "/channels/id=warm/cct_k", json!(3000)));
        assert!(put(&mut doc, "/channels/id=red", json!({"id": "red"})));
        assert_eq!(take(&mut doc, "/channels/id=cold"), Some(json!({"id": "cold", "cct_k": 5000})));
        assert_eq!(doc, json!({"channels": [{"id": "warm", "cct_k": 3000}, {"id": "red"}]}));
        assert!(!put(&mut doc, "/missing/x", json!(1)));
        assert_eq!(take(&mut doc, ""), None);
    }
}

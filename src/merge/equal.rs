//! When two JSON values are one: by value, and by every letter.

use std::cmp::Ordering;

use serde_json::{Number, Value};

/// True where two values mean the same: numbers by value, objects whatever the order of their keys. An absent
/// value (`None`) is the same as an absent one only.
#[must_use]
pub fn same(a: Option<&Value>, b: Option<&Value>) -> bool {
    match (a, b) {
        (None, None) => true,
        (Some(a), Some(b)) => equal(a, b),
        _ => false,
    }
}

fn equal(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => numbers_equal(a, b),
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| equal(a, b)),
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len()
                && a.iter().all(|(key, value)| b.get(key).is_some_and(|other| equal(value, other)))
        }
        _ => a == b,
    }
}

/// Exact: a whole number of 64 bits is compared with a fraction without rounding either.
fn numbers_equal(a: &Number, b: &Number) -> bool {
    let whole = |n: &Number| n.as_i64().map(i128::from).or_else(|| n.as_u64().map(i128::from));
    match (whole(a), whole(b)) {
        (Some(a), Some(b)) => a == b,
        (None, None) => a.as_f64() == b.as_f64(),
        (Some(whole), None) => {
            b.as_f64().is_some_and(|f| f.fract() == 0.0 && f.abs() < 1e30 && f as i128 == whole)
        }
        (None, Some(_)) => numbers_equal(b, a),
    }
}

/// True where two values are written the same to the letter: kind of number and order of keys too.
#[must_use]
pub fn identical(a: Option<&Value>, b: Option<&Value>) -> bool {
    match (a, b) {
        (None, None) => true,
        (Some(a), Some(b)) => letter_for_letter(a, b),
        _ => false,
    }
}

fn letter_for_letter(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => a.to_string() == b.to_string(),
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| letter_for_letter(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len()
                && a.iter().zip(b).all(|((ka, va), (kb, vb))| ka == kb && letter_for_letter(va, vb))
        }
        _ => a == b,
    }
}

/// Which of two values comes first, by their text: an order that both machines of a merge find the same.
pub(crate) fn by_text(a: &Value, b: &Value) -> Ordering {
    let (a, b) = (a.to_string(), b.to_string());
    a.len().cmp(&b.len()).then(a.cmp(&b))
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn eq(a: &str, b: &str) -> bool {
        let read = |text: &str| serde_json::from_str::<Value>(text).expect("test text is JSON");
        same(Some(&read(a)), Some(&read(b)))
    }

    #[test]
    fn numbers_are_equal_by_value_and_exactly() {
        for (a, b) in [("1", "1.0"), ("1", "1e0"), ("100", "1E2"), ("0", "-0.0"), ("0.5", "5e-1")] {
            assert!(eq(a, b), "{a} = {b}");
        }
        // 2^53 and 2^53 + 1 are one only to a machine that rounds.
        for (a, b) in [
            ("9007199254740993", "9007199254740992.0"),
            ("1", "true"),
            ("1", "\"1\""),
            ("18446744073709551615", "-1"),
        ] {
            assert!(!eq(a, b), "{a} ≠ {b}");
        }
        assert!(eq("18446744073709551615", "18446744073709551615"));
        assert!(!same(None, Some(&json!(null))));
        assert!(eq(r#"{"a":1,"b":2}"#, r#"{"b":2.0,"a":1}"#));
        assert!(!identical(Some(&json!(1)), Some(&json!(1.0))));
    }
}

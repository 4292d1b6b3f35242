//! Reads JSON (RFC 8259) with no mercy for ambiguity, and finds the line of a JSON pointer.
//!
//! Refused besides what the grammar refuses: a key written twice, nesting deeper than [`DEEPEST`], whole
//! numbers that not every program reads alike, a byte-order mark, a file over [`LARGEST`] bytes. What is
//! deliberately absent: comments, trailing commas and any other kindness.

use std::fmt;

use jsonc_parser::ast;
use jsonc_parser::{CollectOptions, ParseOptions, parse_to_ast};
use serde::de::{DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use crate::fault::{Fault, Outcome};

/// The deepest nesting of a record.
pub(crate) const DEEPEST: usize = 32;

/// The largest record, in bytes.
pub(crate) const LARGEST: u64 = 1 << 20;

/// The largest whole number that every JSON reader keeps exact, 2⁵³ − 1.
const EXACT: u64 = 9_007_199_254_740_991;

/// Reads one JSON document.
///
/// # Errors
/// `json-invalid` with the line, for whatever this file refuses.
pub(crate) fn parse(bytes: &[u8]) -> Outcome<Value> {
    let refuse =
        |message: String, line: Option<usize>| Box::new(Fault::data("json-invalid", message).on_line(line));
    if bytes.len() as u64 > LARGEST {
        let message = format!("the file has {} bytes; a record has at most {LARGEST}", bytes.len());
        return Err(refuse(message, None)).map_err(|f| {
            Box::new(f.fix("a record is text that people edit; attach large data as a file beside it"))
        });
    }
    if bytes.starts_with(&[0xEF, 0xBB, 0xBF]) {
        return Err(refuse("the file starts with a byte-order mark".into(), Some(1)))
            .map_err(|f| Box::new(f.fix("save it as UTF-8 without a byte-order mark")));
    }
    if let Err(error) = std::str::from_utf8(bytes) {
        let line = 1 + bytes.iter().take(error.valid_up_to()).filter(|b| **b == b'\n').count();
        return Err(refuse("the file is not UTF-8 text".into(), Some(line)))
            .map_err(|f| Box::new(f.fix("save it as UTF-8")));
    }
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let value = Strict { depth: 0 }.deserialize(&mut reader).and_then(|value| reader.end().map(|()| value));
    value.map_err(|error| {
        let line = error.line();
        let text = error.to_string();
        let message = text.split(" at line ").next().unwrap_or(&text).to_owned();
        let remedy = if message.starts_with("the key") {
            "keep one of them"
        } else if message.contains("nested") || message.contains("recursion") {
            "a record is flat; look for a bracket that is never closed"
        } else if message.contains("whole number") || message.contains("out of range") {
            "write the number with its unit's usual size"
        } else {
            "fix the JSON at this line: a comma, a quote or a bracket is usually missing just before it; NaN and comments are not JSON"
        };
        Box::new(Fault::data("json-invalid", message).on_line(Some(line.max(1))).fix(remedy))
    })
}

/// The line, counted from 1, on which the value at a JSON pointer starts; the nearest outer value's where
/// it is not there. `bytes` must have passed [`parse`].
#[must_use]
pub(crate) fn line_of(bytes: &[u8], pointer: &str) -> Option<usize> {
    let text = std::str::from_utf8(bytes).ok()?;
    let options = ParseOptions::default();
    let parsed = parse_to_ast(text, &CollectOptions::default(), &options).ok()?;
    let mut value = parsed.value.as_ref()?;
    let mut start = range_start(value);
    for part in pointer.split('/').skip(1) {
        let part = part.replace("~1", "/").replace("~0", "~");
        let inner = match value {
            ast::Value::Object(object) => {
                object.properties.iter().find(|p| p.name.as_str() == part).map(|p| {
                    start = p.range.start;
                    &p.value
                })
            }
            ast::Value::Array(array) => part
                .parse::<usize>()
                .ok()
                .and_then(|at| array.elements.get(at))
                .inspect(|v| start = range_start(v)),
            _ => None,
        };
        match inner {
            Some(inner) => value = inner,
            None => break,
        }
    }
    Some(1 + text.as_bytes().iter().take(start).filter(|b| **b == b'\n').count())
}

fn range_start(value: &ast::Value<'_>) -> usize {
    match value {
        ast::Value::StringLit(v) => v.range.start,
        ast::Value::NumberLit(v) => v.range.start,
        ast::Value::BooleanLit(v) => v.range.start,
        ast::Value::Object(v) => v.range.start,
        ast::Value::Array(v) => v.range.start,
        ast::Value::NullKeyword(v) => v.range.start,
    }
}

/// Builds a value while it watches depth and keys.
struct Strict {
    depth: usize,
}

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl Strict {
    fn inner<E: serde::de::Error>(&self) -> Result<Strict, E> {
        if self.depth + 1 > DEEPEST {
            return Err(E::custom(format!("the document is nested deeper than {DEEPEST} levels")));
        }
        Ok(Strict { depth: self.depth + 1 })
    }
}

fn inexact<E: serde::de::Error>(number: impl fmt::Display) -> E {
    E::custom(format!("{number} is a whole number beyond ±{EXACT}, which programs read differently"))
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Value, E> {
        if value.unsigned_abs() > EXACT { Err(inexact(value)) } else { Ok(value.into()) }
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Value, E> {
        if value > EXACT { Err(inexact(value)) } else { Ok(value.into()) }
    }

    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Value, E> {
        Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("a number is out of range"))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut array = Vec::new();
        while let Some(item) = items.next_element_seed(self.inner()?)? {
            array.push(item);
        }
        Ok(Value::Array(array))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut object = Map::new();
        while let Some(key) = entries.next_key::<String>()? {
            if object.contains_key(&key) {
                return Err(A::Error::custom(format!("the key `{key}` is written twice")));
            }
            let value = entries.next_value_seed(self.inner()?)?;
            object.insert(key, value);
        }
        Ok(Value::Object(object))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> Fault {
        match parse(text.as_bytes()) {
            Ok(value) => panic!("{text} was read as {value}"),
            Err(fault) => *fault,
        }
    }

    #[test]
    fn good_json_is_read_as_written() {
        let value = parse(br#"{"a": [1, -2.5, "x", null, true], "b": {}}"#).expect("it is JSON");
        assert_eq!(value.to_string(), r#"{"a":[1,-2.5,"x",null,true],"b":{}}"#);
    }

    #[test]
    fn ambiguity_is_refused_with_its_line() {
        for (text, word, line) in [
            ("{\"a\": 1,\n\"a\": 2}", "written twice", 2),
            ("{\n\"a\": NaN}", "expected", 2),
            ("{\"a\": 1,}", "trailing comma", 1),
            ("{\"a\": 9007199254740993}", "whole number", 1),
            ("{\"a\": 1e400}", "out of range", 1),
            ("{} {}", "trailing characters", 1),
            ("", "EOF", 1),
            ("{\"a\": 1 // x\n}", "expected", 1),
        ] {
            let fault = refused(text);
            assert!(fault.message.contains(word), "{text}: {}", fault.message);
            assert_eq!(fault.line, Some(line), "{text}");
            assert!(fault.remedy.is_some());
        }
        assert!(refused(&"[".repeat(200)).message.contains("nested"));
        assert!(refused("\u{feff}{}").message.contains("byte-order"));
    }

    #[test]
    fn a_pointer_has_its_line() {
        let text = b"{\n  \"a\": 1,\n  \"b\": [\n    {\"c/d\": 2},\n    3\n  ]\n}";
        for (pointer, line) in
            [("", 1), ("/a", 2), ("/b", 3), ("/b/0/c~1d", 4), ("/b/1", 5), ("/b/9", 3), ("/zz", 1)]
        {
            assert_eq!(line_of(text, pointer), Some(line), "{pointer}");
        }
    }
}

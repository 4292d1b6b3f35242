//! The merge of one record, value by value.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value};

use super::equal::{by_text, identical, same};
use super::order::merged_order;
use super::pointer::below;
use super::{Rule, Rules};

/// A place that two people set to different things. Absent (`None`) is one of the things a place can be set to.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Where, as [`super::at`] reads it; the empty pointer is the whole record.
    pub pointer: String,
    /// What was there before either.
    pub base: Option<Value>,
    /// What the one side made of it.
    pub ours: Option<Value>,
    /// What the other side made of it.
    pub theirs: Option<Value>,
}

/// What became of a record.
#[derive(Clone, Debug, PartialEq)]
pub struct Merged {
    /// The record; `None` where it is gone, or was never there and each side made another.
    pub value: Option<Value>,
    /// What stays open, by pointer in byte order of the way down the record.
    pub questions: Vec<Question>,
}

/// Places that count as changed on a side even where the value is the base's: a question about them was opened
/// there, or answered with the base itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Touched {
    /// Pointers on our side.
    pub ours: BTreeSet<String>,
    /// Pointers on their side.
    pub theirs: BTreeSet<String>,
}

impl Touched {
    /// True where no place is touched on either side.
    #[must_use]
    pub(crate) fn is_empty(&self) -> bool {
        self.ours.is_empty() && self.theirs.is_empty()
    }
}

/// Merges one record. A side that is `None` has no such record.
///
/// Laws, each a property test: `merge(b, x, b) = x`; swapping ours and theirs swaps only the sides of the
/// questions; merging the result again changes nothing; a place holds base, ours or theirs and no third value; and
/// where no question arises, it does not matter in which order three sides meet (but for the order in which
/// additions at the same place stand).
#[must_use]
pub fn merge(
    rules: &Rules,
    base: Option<&Value>,
    ours: Option<&Value>,
    theirs: Option<&Value>,
    touched: &Touched,
) -> Merged {
    let mut work = Work { rules, touched, questions: Vec::new() };
    let value = work.place("", &mut Vec::new(), base, ours, theirs);
    Merged { value, questions: work.questions }
}

struct Work<'w> {
    rules: &'w Rules,
    touched: &'w Touched,
    questions: Vec<Question>,
}

type Maybe<'v> = Option<&'v Value>;

impl Work<'_> {
    fn place(
        &mut self,
        pointer: &str,
        way: &mut Vec<String>,
        base: Maybe<'_>,
        ours: Maybe<'_>,
        theirs: Maybe<'_>,
    ) -> Option<Value> {
        if identical(ours, theirs) {
            return ours.cloned();
        }
        let (ours_here, ours_below) = touches(&self.touched.ours, pointer);
        let (theirs_here, theirs_below) = touches(&self.touched.theirs, pointer);
        let ours_untouched = !ours_here && !ours_below;
        let theirs_untouched = !theirs_here && !theirs_below;
        if theirs_untouched && identical(theirs, base) {
            return ours.cloned();
        }
        if ours_untouched && identical(ours, base) {
            return theirs.cloned();
        }
        if same(ours, theirs) {
            return lesser(ours, theirs);
        }
        if theirs_untouched && same(theirs, base) {
            return ours.cloned();
        }
        if ours_untouched && same(ours, base) {
            return theirs.cloned();
        }
        if !ours_here
            && !theirs_here
            && let Some(merged) = self.inside(pointer, way, base, ours, theirs)
        {
            return Some(merged);
        }
        self.questions.push(Question {
            pointer: pointer.to_owned(),
            base: base.cloned(),
            ours: ours.cloned(),
            theirs: theirs.cloned(),
        });
        base.cloned()
    }

    /// Merges what both sides changed part by part; `None` where it is one whole. A place that was not there
    /// before is taken apart only as long as that leaves no question: half of a new thing is of no use.
    fn inside(
        &mut self,
        pointer: &str,
        way: &mut Vec<String>,
        base: Maybe<'_>,
        ours: Maybe<'_>,
        theirs: Maybe<'_>,
    ) -> Option<Value> {
        let rule = self.rules.at(way);
        let asked = self.questions.len();
        let merged = match (base, ours?, theirs?) {
            _ if rule == Some(&Rule::Whole) => None,
            (None, Value::Object(ours), Value::Object(theirs)) => {
                Some(self.object(pointer, way, &Map::new(), ours, theirs))
            }
            (Some(Value::Object(base)), Value::Object(ours), Value::Object(theirs)) => {
                Some(self.object(pointer, way, base, ours, theirs))
            }
            (None, Value::Array(ours), Value::Array(theirs)) => {
                self.array(pointer, way, rule, &[], ours, theirs)
            }
            (Some(Value::Array(base)), Value::Array(ours), Value::Array(theirs)) => {
                self.array(pointer, way, rule, base, ours, theirs)
            }
            _ => None,
        };
        if base.is_none() && self.questions.len() > asked {
            self.questions.truncate(asked);
            return None;
        }
        merged
    }

    fn object(
        &mut self,
        pointer: &str,
        way: &mut Vec<String>,
        base: &Map<String, Value>,
        ours: &Map<String, Value>,
        theirs: &Map<String, Value>,
    ) -> Value {
        let all: BTreeSet<&str> =
            base.keys().chain(ours.keys()).chain(theirs.keys()).map(String::as_str).collect();
        let mut kept: BTreeMap<&str, Value> = BTreeMap::new();
        for key in all {
            way.push(key.to_owned());
            let merged = self.place(&below(pointer, key), way, base.get(key), ours.get(key), theirs.get(key));
            way.pop();
            kept.extend(merged.map(|value| (key, value)));
        }
        let keys = |map: &Map<String, Value>| -> Vec<String> { map.keys().cloned().collect() };
        let order = in_order(&keys(base), &keys(ours), &keys(theirs), &kept);
        let mut map = Map::new();
        for key in order {
            if let Some(value) = kept.remove(key.as_str()) {
                map.insert(key, value);
            }
        }
        Value::Object(map)
    }

    fn array(
        &mut self,
        pointer: &str,
        way: &mut Vec<String>,
        rule: Option<&Rule>,
        base: &[Value],
        ours: &[Value],
        theirs: &[Value],
    ) -> Option<Value> {
        if rule == Some(&Rule::Set) {
            return set(base, ours, theirs);
        }
        let key = match rule {
            Some(Rule::Keyed(key)) => key.as_str(),
            _ => "id",
        };
        let (base, ours, theirs) = (by_key(base, key)?, by_key(ours, key)?, by_key(theirs, key)?);
        let all: BTreeSet<&str> =
            base.iter().chain(&ours).chain(&theirs).map(|(name, _)| name.as_str()).collect();
        let mut kept: BTreeMap<&str, Value> = BTreeMap::new();
        for id in all {
            let step = format!("{key}={id}");
            way.push(step.clone());
            let (b, o, t) = (named(&base, id), named(&ours, id), named(&theirs, id));
            let merged = self.place(&below(pointer, &step), way, b, o, t);
            way.pop();
            kept.extend(merged.map(|value| (id, value)));
        }
        let order = in_order(&names(&base), &names(&ours), &names(&theirs), &kept);
        Some(Value::Array(order.iter().filter_map(|id| kept.remove(id.as_str())).collect()))
    }
}

/// Whether a touched place is here, and whether one is further down.
fn touches(touched: &BTreeSet<String>, pointer: &str) -> (bool, bool) {
    let below = format!("{pointer}/");
    let further = touched.range(below.clone()..).next().is_some_and(|next| next.starts_with(&below));
    (touched.contains(pointer), further)
}

fn lesser(a: Maybe<'_>, b: Maybe<'_>) -> Option<Value> {
    match (a, b) {
        (Some(a), Some(b)) if by_text(a, b).is_le() => Some(a.clone()),
        (_, b) => b.cloned(),
    }
}

fn in_order(
    base: &[String],
    ours: &[String],
    theirs: &[String],
    kept: &BTreeMap<&str, Value>,
) -> Vec<String> {
    let b: Vec<&str> = base.iter().map(String::as_str).collect();
    let o: Vec<&str> = ours.iter().map(String::as_str).collect();
    let t: Vec<&str> = theirs.iter().map(String::as_str).collect();
    let keep: BTreeSet<&str> = kept.keys().copied().collect();
    merged_order(&b, &o, &t, &keep).into_iter().map(ToOwned::to_owned).collect()
}

/// The elements by their key; `None` where one is no object, has no such text, or two have the same.
fn by_key<'v>(items: &'v [Value], key: &str) -> Option<Vec<(String, &'v Value)>> {
    let mut seen = BTreeSet::new();
    let mut named = Vec::with_capacity(items.len());
    for item in items {
        let name = item.get(key)?.as_str()?;
        if !seen.insert(name) {
            return None;
        }
        named.push((name.to_owned(), item));
    }
    Some(named)
}

type Named<'v> = [(String, &'v Value)];

fn named<'v>(side: &Named<'v>, name: &str) -> Option<&'v Value> {
    side.iter().find(|(n, _)| n == name).map(|(_, value)| *value)
}

fn names(side: &Named<'_>) -> Vec<String> {
    side.iter().map(|(name, _)| name.clone()).collect()
}

/// Merges arrays whose order and repetition mean nothing. `None` where an element is no scalar or stands twice.
fn set(base: &[Value], ours: &[Value], theirs: &[Value]) -> Option<Value> {
    let (base, ours, theirs) = (members(base)?, members(ours)?, members(theirs)?);
    let mut kept: BTreeMap<&str, Value> = BTreeMap::new();
    for (name, value) in ours.iter().chain(&theirs) {
        let (ours, theirs) = (named(&ours, name), named(&theirs, name));
        if named(&base, name).is_none() || (ours.is_some() && theirs.is_some()) {
            let spelling = lesser(ours.or(Some(value)), theirs.or(Some(value)));
            kept.extend(spelling.map(|value| (name.as_str(), value)));
        }
    }
    let order = in_order(&names(&base), &names(&ours), &names(&theirs), &kept);
    Some(Value::Array(order.iter().filter_map(|name| kept.remove(name.as_str())).collect()))
}

/// The members of a set by a text that is the same exactly where the values are.
fn members(items: &[Value]) -> Option<Vec<(String, &Value)>> {
    let mut named: Vec<(String, &Value)> = Vec::with_capacity(items.len());
    for item in items {
        if item.is_object() || item.is_array() || named.iter().any(|(_, v)| same(Some(v), Some(item))) {
            return None;
        }
        let name = match item.as_f64() {
            Some(f) if item.is_f64() && f.fract() == 0.0 && f.abs() < 1e30 => (f as i128).to_string(),
            _ => item.to_string(),
        };
        named.push((name, item));
    }
    Some(named)
}

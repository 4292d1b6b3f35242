//! Holds a value to a schema: the words of JSON Schema 2020-12 that the schemas use, each as the standard has it.
//!
//! A schema is judged by as it was read, and nothing is made ready beforehand: a command that reads one job holds some
//! twenty short records to a dozen schemas, each once. A word that is not known here is a fault of every value, so that no
//! schema can ask for more than is looked at. [`super::judge_beside_library`] compares every answer with a library's.

use std::cell::RefCell;
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::rc::Rc;

use serde_json::{Map, Number, Value};

use super::pattern::Pattern;

/// One rule of a schema that a value breaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Broken {
    /// The JSON pointer of the value.
    pub pointer: String,
    /// The word of the rule.
    pub word: String,
    /// The way to the rule through the schema and what it refers to, ending in the word.
    pub path: String,
    /// What is wrong, with the value and what the rule wants.
    pub message: String,
}

/// Everything that a schema says against a value.
#[must_use]
pub(crate) fn broken(schema: &Value, value: &Value) -> Vec<Broken> {
    broken_in(schema, schema, value)
}

/// The same of a part of a schema.
fn broken_in(root: &Value, schema: &Value, value: &Value) -> Vec<Broken> {
    let mut judge = Judge { root, at: Vec::new(), path: Vec::new(), found: Vec::new() };
    if !judge.holds(schema, value, false) {
        judge.holds(schema, value, true);
    }
    judge.found
}

/// A step on the way to a value or a rule.
#[derive(Clone, Copy)]
enum Part<'a> {
    Name(&'a str),
    Nth(usize),
}

struct Judge<'a> {
    root: &'a Value,
    at: Vec<Part<'a>>,
    path: Vec<Part<'a>>,
    found: Vec<Broken>,
}

/// A way as a JSON pointer.
fn pointer(parts: &[Part<'_>]) -> String {
    let part = |part: &Part<'_>| match part {
        Part::Name(name) => format!("/{}", name.replace('~', "~0").replace('/', "~1")),
        Part::Nth(nth) => format!("/{nth}"),
    };
    parts.iter().map(part).collect()
}

impl<'a> Judge<'a> {
    /// True where a value holds to a schema. All that is wrong is told where `tells`; otherwise the first ends the look.
    fn holds(&mut self, schema: &'a Value, value: &'a Value, tells: bool) -> bool {
        let words = match schema {
            Value::Object(words) => words,
            Value::Bool(true) => return true,
            _ => return self.tell(tells, "falseSchema", format!("False schema does not allow {value}")),
        };
        let mut holds = true;
        for (word, rule) in words {
            self.path.push(Part::Name(word));
            holds &= self.word(words, word, rule, value, tells);
            self.path.pop();
            if !holds && !tells {
                break;
            }
        }
        holds
    }

    /// The same of a part: of the value, of the schema, or of both.
    fn part(
        &mut self,
        (at, path): (Option<Part<'a>>, Option<Part<'a>>),
        schema: &'a Value,
        value: &'a Value,
        tells: bool,
    ) -> bool {
        self.at.extend(at);
        self.path.extend(path);
        let holds = self.holds(schema, value, tells);
        self.at.truncate(self.at.len() - usize::from(at.is_some()));
        self.path.truncate(self.path.len() - usize::from(path.is_some()));
        holds
    }

    /// Says that a value breaks a rule.
    fn tell(&mut self, tells: bool, word: &str, message: String) -> bool {
        if tells {
            let (pointer, path) = (pointer(&self.at), pointer(&self.path));
            self.found.push(Broken { pointer, word: word.to_owned(), path, message });
        }
        false
    }

    /// A rule that is not understood.
    fn unknown(&mut self, tells: bool, word: &str) -> bool {
        self.tell(tells, word, format!("the schema says `{word}` in a way that this program does not know"))
    }

    /// Holds a value to one word of a schema. A word that speaks of another type of value is kept by this one.
    fn word(
        &mut self,
        words: &'a Map<String, Value>,
        word: &'a str,
        rule: &'a Value,
        value: &'a Value,
        tells: bool,
    ) -> bool {
        let choices = || rule.as_array().map(Vec::as_slice).unwrap_or_default();
        let items = || value.as_array().map(Vec::as_slice).unwrap_or_default();
        let wrong = match word {
            "type" => of_type(rule, value),
            "const" => (!same(rule, value)).then(|| format!("{rule} was expected")),
            "enum" => {
                let none = !choices().iter().any(|one| same(one, value));
                none.then(|| format!("{value} is not one of {}", listed(choices())))
            }
            "minimum" | "maximum" | "exclusiveMinimum" | "exclusiveMaximum" => beyond(word, rule, value),
            "minLength" | "maxLength" => value.as_str().and_then(|text| {
                let (more, limit) = amount(word, text.chars().count(), rule)?;
                let how = if more { "longer" } else { "shorter" };
                Some(format!("{value} is {how} than {limit} character{}", if limit == 1 { "" } else { "s" }))
            }),
            "minItems" | "maxItems" => value.as_array().and_then(|items| {
                let (more, limit) = amount(word, items.len(), rule)?;
                let how = if more { "more" } else { "less" };
                Some(format!("{value} has {how} than {limit} item{}", if limit == 1 { "" } else { "s" }))
            }),
            "minProperties" | "maxProperties" => value.as_object().and_then(|fields| {
                let (more, limit) = amount(word, fields.len(), rule)?;
                let how = if more { "more" } else { "less" };
                Some(format!(
                    "{value} has {how} than {limit} propert{}",
                    if limit == 1 { "y" } else { "ies" }
                ))
            }),
            "uniqueItems" => (rule == &Value::Bool(true) && !all_differ(items()))
                .then(|| format!("{value} has non-unique elements")),
            "pattern" => match (rule.as_str().and_then(|text| Some((text, ready(text)?))), value) {
                (None, _) => return self.unknown(tells, word),
                (Some((text, pattern)), Value::String(found)) => {
                    (!pattern.is_in(found)).then(|| format!("{value} does not match \"{text}\""))
                }
                _ => None,
            },
            "anyOf" | "oneOf" => match choices().iter().filter(|one| self.holds(one, value, false)).count() {
                0 => Some(format!(
                    "{value} is not valid under any of the schemas listed in the '{word}' keyword"
                )),
                1 => None,
                _ => (word == "oneOf").then(|| {
                    format!(
                        "{value} is valid under more than one of the schemas listed in the 'oneOf' keyword"
                    )
                }),
            },
            "not" => self.holds(rule, value, false).then(|| format!("{rule} is not allowed for {value}")),
            "allOf" => {
                let each = choices().iter().enumerate();
                return each.fold(true, |holds, (nth, one)| {
                    self.part((None, Some(Part::Nth(nth))), one, value, tells) && holds
                });
            }
            "if" => {
                let word = if self.holds(rule, value, false) { "then" } else { "else" };
                let Some(rule) = words.get(word) else { return true };
                // Its rules stand beside this word, not under it.
                self.path.pop();
                let holds = self.part((None, Some(Part::Name(word))), rule, value, tells);
                self.path.push(Part::Name("if"));
                return holds;
            }
            "prefixItems" => {
                let each = choices().iter().zip(items()).enumerate();
                return each.fold(true, |holds, (nth, (one, item))| {
                    self.part((Some(Part::Nth(nth)), Some(Part::Nth(nth))), one, item, tells) && holds
                });
            }
            "items" => {
                let before = words.get("prefixItems").and_then(Value::as_array).map_or(0, Vec::len);
                let each = items().iter().enumerate().skip(before);
                return each.fold(true, |holds, (nth, item)| {
                    self.part((Some(Part::Nth(nth)), None), rule, item, tells) && holds
                });
            }
            "$ref" => {
                let target = rule.as_str().and_then(|path| self.root.pointer(path.strip_prefix('#')?));
                let Some(target) = target else { return self.unknown(tells, word) };
                return self.holds(target, value, tells);
            }
            "properties" | "additionalProperties" | "propertyNames" | "required" | "dependentRequired" => {
                return value
                    .as_object()
                    .is_none_or(|fields| self.fields(words, word, rule, (value, fields), tells));
            }
            "$schema" | "$defs" | "title" | "description" | "default" | "then" | "else" => None,
            _ => return self.unknown(tells, word),
        };
        wrong.is_none_or(|message| self.tell(tells, word, message))
    }

    /// The same of a word that speaks of fields.
    fn fields(
        &mut self,
        words: &'a Map<String, Value>,
        word: &'a str,
        rule: &'a Value,
        (value, fields): (&'a Value, &'a Map<String, Value>),
        tells: bool,
    ) -> bool {
        let mut holds = true;
        match (word, rule) {
            ("properties", Value::Object(known)) => {
                for (name, one) in known {
                    if let Some(field) = fields.get(name) {
                        let way = (Some(Part::Name(name)), Some(Part::Name(name)));
                        holds &= self.part(way, one, field, tells);
                    }
                }
            }
            ("additionalProperties", _) => {
                let known = words.get("properties").and_then(Value::as_object);
                let others =
                    fields.iter().filter(|(name, _)| known.is_none_or(|known| !known.contains_key(*name)));
                if rule == &Value::Bool(false) {
                    for (name, _) in others {
                        self.at.push(Part::Name(name));
                        holds =
                            self.tell(tells, word, format!("the field `{name}` is not one of this record's"));
                        self.at.pop();
                    }
                } else {
                    for (name, field) in others {
                        holds &= self.part((Some(Part::Name(name)), None), rule, field, tells);
                    }
                }
            }
            ("propertyNames", _) => {
                for name in fields.keys().map(|name| Value::from(name.as_str())) {
                    for one in broken_in(self.root, rule, &name) {
                        holds = self.tell(tells, word, one.message);
                    }
                }
            }
            ("required", Value::Array(names)) => {
                let lacks = |name: &&Value| name.as_str().is_some_and(|name| !fields.contains_key(name));
                for name in names.iter().filter(lacks) {
                    holds = self.tell(tells, word, format!("{name} is a required property"));
                }
            }
            ("dependentRequired", Value::Object(each)) => {
                for (_, names) in each.iter().filter(|(name, _)| fields.contains_key(*name)) {
                    holds &= self.fields(words, "required", names, (value, fields), tells);
                }
            }
            _ => return self.unknown(tells, word),
        }
        holds
    }
}

/// The pattern that a text says, made ready once for each thread; none where it is not understood.
fn ready(text: &str) -> Option<Rc<Pattern>> {
    thread_local! {
        static READY: RefCell<HashMap<String, Option<Rc<Pattern>>>> = RefCell::default();
    }
    READY.with_borrow_mut(|known| {
        if let Some(pattern) = known.get(text) {
            return pattern.clone();
        }
        let pattern = Pattern::read(text).map(Rc::new);
        known.insert(text.to_owned(), pattern.clone());
        pattern
    })
}

/// What is wrong with a value's type.
fn of_type(rule: &Value, value: &Value) -> Option<String> {
    let is = |name: &Value| match (name.as_str(), value) {
        (Some("object"), Value::Object(_))
        | (Some("array"), Value::Array(_))
        | (Some("string"), Value::String(_))
        | (Some("number"), Value::Number(_))
        | (Some("boolean"), Value::Bool(_))
        | (Some("null"), Value::Null) => true,
        // A whole number may be written with a point.
        (Some("integer"), Value::Number(number)) => {
            number.as_f64().is_some_and(|number| number.fract() == 0.0)
        }
        _ => false,
    };
    match rule {
        Value::Array(names) if !names.iter().any(is) => {
            let names: Vec<String> = names.iter().map(Value::to_string).collect();
            Some(format!("{value} is not of types {}", names.join(", ")))
        }
        Value::String(_) if !is(rule) => Some(format!("{value} is not of type {rule}")),
        _ => None,
    }
}

/// Words to choose from, in a sentence: all of three, and two of more.
fn listed(words: &[Value]) -> String {
    let shown = if words.len() > 3 { 2 } else { words.len().saturating_sub(1) };
    let first: Vec<String> = words.iter().take(shown).map(Value::to_string).collect();
    match &words[shown.min(words.len())..] {
        [last] if shown == 0 => last.to_string(),
        [last] => format!("{} or {last}", first.join(", ")),
        rest => format!("{} or {} other candidates", first.join(", "), rest.len()),
    }
}

/// Where a number of things is not within a limit: whether there are more, and the limit.
fn amount(word: &str, found: usize, rule: &Value) -> Option<(bool, usize)> {
    let limit = usize::try_from(rule.as_u64()?).ok()?;
    let more = word.starts_with("max");
    let beyond = if more { found > limit } else { found < limit };
    beyond.then_some((more, limit))
}

/// What is wrong with a number's size.
fn beyond(word: &str, rule: &Value, value: &Value) -> Option<String> {
    let (Value::Number(limit), Value::Number(number)) = (rule, value) else { return None };
    let is = compare(number, limit)?;
    let how = match word {
        "minimum" => is.is_lt().then_some("less than the minimum"),
        "maximum" => is.is_gt().then_some("greater than the maximum"),
        "exclusiveMinimum" => is.is_le().then_some("less than or equal to the minimum"),
        _ => is.is_ge().then_some("greater than or equal to the maximum"),
    };
    Some(format!("{value} is {} of {limit}", how?))
}

/// How two numbers stand to each other. Whole numbers of records and limits are exact in both forms.
fn compare(one: &Number, other: &Number) -> Option<Ordering> {
    match (one.as_i128(), other.as_i128()) {
        (Some(one), Some(other)) => Some(one.cmp(&other)),
        _ => one.as_f64()?.partial_cmp(&other.as_f64()?),
    }
}

/// True for one value in JSON, where 1 and 1.0 are one number and the order of fields says nothing.
fn same(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Number(one), Value::Number(other)) => compare(one, other) == Some(Ordering::Equal),
        (Value::Array(one), Value::Array(other)) => {
            one.len() == other.len() && one.iter().zip(other).all(|(one, other)| same(one, other))
        }
        (Value::Object(one), Value::Object(other)) => {
            let in_other =
                |(name, value): (&String, &Value)| other.get(name).is_some_and(|other| same(value, other));
            one.len() == other.len() && one.iter().all(in_other)
        }
        _ => one == other,
    }
}

/// True where no two values of a list are the same.
fn all_differ(items: &[Value]) -> bool {
    let mut alike: HashMap<u64, Vec<&Value>> = HashMap::new();
    items.iter().all(|item| {
        let mut hasher = DefaultHasher::new();
        hash(item, &mut hasher);
        let others = alike.entry(hasher.finish()).or_default();
        let differs = !others.iter().any(|other| same(other, item));
        others.push(item);
        differs
    })
}

/// One number for all that are the same.
fn hash(value: &Value, hasher: &mut DefaultHasher) {
    match value {
        Value::Number(number) => (number.as_f64().unwrap_or_default() + 0.0).to_bits().hash(hasher),
        Value::Array(items) => items.iter().for_each(|item| hash(item, hasher)),
        Value::Object(fields) => {
            let sorted: BTreeMap<&String, &Value> = fields.iter().collect();
            sorted.into_iter().for_each(|(name, value)| {
                name.hash(hasher);
                hash(value, hasher);
            });
        }
        other => other.as_str().hash(hasher),
    }
}

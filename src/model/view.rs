//! Views: the complete sets of facts that a statement can be about, and which field is sealed where.
//!
//! A view is made by flattening records into named facts, integers and text only: `slab.thickness_mm` of
//! 20 becomes `swatch.slab.thickness_um` = 20000, so that two programs can never read one number as two.
//! Whole records are sealed unless a field is named in [`UNSEALED`], with its reason; the tables are the
//! only place where that is decided, and a test walks every field of every schema through them.

use serde::Serialize;
use serde_json::{Map, Value};

use super::panel::Panel;
use super::rendering::Rendering;
use super::statement::{Fact, Facts};
use super::swatch::Swatch;
use crate::ids::PanelId;

/// Fields of a panel that the client's choice is about.
pub const CHOICE_PANEL: &[&str] =
    &["swatch", "place", "quantity", "light", "face", "lit_edges", "voltage_v", "mount", "control"];

/// Fields of a swatch that the client's choice is about: which stone, and how thick it will be.
pub const CHOICE_SWATCH: &[&str] =
    &["stone", "material", "tone", "texture", "slab.thickness_mm", "slab.lot", "slab.finish"];

/// Fields that no view seals, by record kind, each with the reason.
///
/// Titles are not among them: they stand on the sheet that is signed, and tell people which panel is which. Nor
/// are the measurements of a swatch: they are evidence as trials are, but the build pack states the light that is
/// worked out from them, and who released that answers for it.
pub const UNSEALED: &[(&str, &str, &str)] = &[
    ("project", "$schema", "where an editor finds the schema"),
    ("project", "opened", "history, not part of the build"),
    ("project", "install_date", "dates move without changing what is built"),
    ("project", "dates", "dates move without changing what is built"),
    ("project", "note", "a remark"),
    ("project", "people.rep", "who looks after a job may change while it is built"),
    ("project", "people.designer", "who draws a job may change while it is built"),
    ("project", "people.engineer", "the engineer's own signature says who released it"),
    ("project", "people.fabricator", "who builds it may change"),
    ("project", "people.installer", "who installs it may change"),
    ("project", "people.stone_mason", "who sets the stone may change"),
    ("project", "people.electrician", "who connects it may change"),
    ("swatch", "$schema", "where an editor finds the schema"),
    ("swatch", "slab.lead_business_days", "time, not part of the build"),
    ("swatch", "note", "a remark"),
    ("swatch", "received", "history of the sample, not part of the build"),
    ("panel", "$schema", "where an editor finds the schema"),
    ("panel", "note", "a remark"),
    ("panel", "signed_outlines", "what signatures of before were about; each names its outline by digest"),
    ("panel", "faces_considered", "a question that the chosen face has answered"),
    ("panel", "no_test_panel", "evidence for a choice; its waiver seals the sentence"),
    ("request", "$schema", "where an editor finds the schema"),
    ("request", "note", "a remark"),
    ("request", "return_by", "a loan that ends after the trial, not part of the build"),
    ("request", "sent", "what became of the request later"),
    ("request", "consignment", "what became of the request later"),
    ("request", "received", "what became of the request later"),
    ("request", "returned", "what became of the request later"),
    ("request", "lost", "what became of the request later"),
    ("rendering", "$schema", "where an editor finds the schema"),
    ("rendering", "drawn_with", "the sheet's own bytes are sealed"),
    ("rendering", "printed", "the sheet's own bytes are sealed"),
];

/// Record kinds of which no view seals anything, each with the reason.
pub const UNSEALED_KINDS: &[(&str, &str)] = &[
    ("book", "sealed by the roster as a whole file"),
    ("roster", "signed by itself"),
    ("rules", "sealed by the roster as a whole file"),
    ("routes", "sealed by the roster as a whole file"),
    ("lights", "sealed by the roster as a whole file"),
    ("drivers", "sealed by the roster as a whole file"),
    ("controls", "sealed by the roster as a whole file"),
    ("wire", "sealed by the roster as a whole file"),
    ("calendar", "sealed by the roster as a whole file"),
    ("trial", "evidence for a choice; the choice itself is sealed"),
    ("outline", "sealed as the digest of the whole file"),
    ("sign-off", "signed by itself"),
    ("move", "signed by itself"),
    ("note", "a remark, from which nothing is built"),
    ("conflict", "an open question; it blocks instead"),
    ("as-built", "made after the release; it says itself what differs from it"),
    ("installation", "made after the release"),
];

/// True where a field of a record kind, named by its dotted path, is sealed by no view.
#[must_use]
pub fn is_unsealed(kind: &str, path: &str) -> bool {
    UNSEALED.iter().any(|(k, p, _)| {
        *k == kind && (path == *p || path.strip_prefix(p).is_some_and(|rest| rest.starts_with('.')))
    })
}

/// The facts of one record under a prefix, leaving out what its kind does not seal.
#[must_use]
pub fn record_facts<T: Serialize>(kind: &str, prefix: &str, record: &T) -> Facts {
    facts_where(prefix, record, |path| !is_unsealed(kind, path))
}

/// The facts of some fields of one record under a prefix.
#[must_use]
pub(crate) fn field_facts<T: Serialize>(fields: &[&str], prefix: &str, record: &T) -> Facts {
    facts_where(prefix, record, |path| {
        fields.iter().any(|f| path == *f || path.strip_prefix(f).is_some_and(|rest| rest.starts_with('.')))
    })
}

/// What the client's choice for a panel is about.
///
/// How many are alike is part of it, except where release groups take them: then each group's release seals how many it
/// takes, so that a change on one floor leaves the others as they were signed.
#[must_use]
pub fn choice(panel: &Panel, swatch: Option<&Swatch>) -> Facts {
    let mut facts = field_facts(CHOICE_PANEL, "panel", panel);
    if !panel.groups.is_empty() {
        facts.remove("panel.quantity");
    }
    if let Some(swatch) = swatch {
        facts.append(&mut field_facts(CHOICE_SWATCH, "swatch", swatch));
    }
    facts
}

/// What a signature on a rendering is about: the drawing's every figure and the digests of its files.
#[must_use]
pub fn rendering(panel: &Panel, rendering: Option<&Rendering>) -> Facts {
    let mut facts = field_facts(&["outline", "lit_edges", "seams", "sizes"], "panel", panel);
    if let Some(rendering) = rendering {
        facts.append(&mut record_facts("rendering", "rendering", rendering));
    }
    facts
}

/// The facts of one panel as the release seals them, each under the panel's own name.
#[must_use]
pub fn release_panel(
    id: &PanelId,
    panel: &Panel,
    swatch: Option<&Swatch>,
    drawn: Option<&Rendering>,
) -> Facts {
    let mut facts = record_facts("panel", &format!("panels.{id}"), panel);
    if let Some(swatch) = swatch {
        facts.append(&mut record_facts("swatch", &format!("panels.{id}.stone"), swatch));
    }
    if let Some(drawn) = drawn {
        facts.append(&mut record_facts("rendering", &format!("panels.{id}.rendering"), drawn));
    }
    facts
}

fn facts_where<T: Serialize>(prefix: &str, record: &T, keep: impl Fn(&str) -> bool) -> Facts {
    let mut facts = Facts::new();
    if let Ok(value) = serde_json::to_value(record) {
        flatten(prefix, "", &value, &keep, &mut facts);
    }
    facts
}

/// Walks a value; `path` is the dotted path within the record, with list places left out of it.
fn flatten(name: &str, path: &str, value: &Value, keep: &impl Fn(&str) -> bool, facts: &mut Facts) {
    match value {
        Value::Object(fields) => flatten_fields(name, path, fields, keep, facts),
        // An empty list says no more than one that is left out: neither is a fact.
        Value::Array(items) if items.is_empty() => {}
        Value::Array(items) if items.iter().all(|i| !i.is_object() && !i.is_array()) => {
            if keep(path) {
                let lengths = name.strip_suffix("_mm");
                let item = |item: &Value| match item.as_f64().filter(|_| lengths.is_some()) {
                    Some(mm) => ((mm * 1000.0).round() as i64).to_string(),
                    None => plain(item),
                };
                let text = items.iter().map(item).collect::<Vec<_>>().join(", ");
                let name = lengths.map_or_else(|| name.to_owned(), |stem| format!("{stem}_um"));
                facts.insert(name, Fact::Text(text));
            }
        }
        Value::Array(items) => {
            let id_of = |item: &Value| item.get("id").and_then(Value::as_str).map(str::to_owned);
            for (at, item) in items.iter().enumerate() {
                let id = id_of(item)
                    .filter(|id| items.iter().filter(|other| id_of(other).as_ref() == Some(id)).count() == 1);
                match id.and_then(|id| Some((id, item.as_object()?))) {
                    // A thing with an id of its own is named by it, so that its place in the list is no fact.
                    Some((id, fields)) => {
                        let others = fields.iter().filter(|(key, _)| *key != "id");
                        let fields = others.map(|(k, v)| (k.clone(), v.clone())).collect();
                        flatten_fields(&format!("{name}.{id}"), path, &fields, keep, facts);
                    }
                    None => flatten(&format!("{name}.{}", at + 1), path, item, keep, facts),
                }
            }
        }
        _ if !keep(path) => {}
        Value::Number(number) => {
            let (name, fact) = number_fact(name, number);
            facts.insert(name, fact);
        }
        Value::Null => {}
        other => {
            facts.insert(name.to_owned(), Fact::Text(plain(other)));
        }
    }
}

fn flatten_fields(
    name: &str,
    path: &str,
    fields: &Map<String, Value>,
    keep: &impl Fn(&str) -> bool,
    facts: &mut Facts,
) {
    for (key, value) in fields {
        let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
        flatten(&format!("{name}.{key}"), &path, value, keep, facts);
    }
}

/// Largest whole number that every JSON reader keeps exact.
const EXACT: i64 = 9_007_199_254_740_991;

/// A length becomes micrometres; any other number stays whole, or becomes its shortest decimal text.
fn number_fact(name: &str, number: &serde_json::Number) -> (String, Fact) {
    if let (Some(stem), Some(mm)) = (name.strip_suffix("_mm"), number.as_f64()) {
        let um = (mm * 1000.0).round();
        if um.abs() <= EXACT as f64 {
            return (format!("{stem}_um"), Fact::Number(um as i64));
        }
    }
    match number.as_i64().filter(|n| n.abs() <= EXACT) {
        Some(whole) => (name.to_owned(), Fact::Number(whole)),
        None => (name.to_owned(), Fact::Text(number.to_string())),
    }
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// One fact that differs between two sets.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// The fact's name.
    pub fact: String,
    /// What was signed; none where the fact was not there.
    pub signed: Option<Fact>,
    /// What it is now; none where the fact is gone.
    pub now: Option<Fact>,
}

/// Every fact that differs between what was signed and what is now, in the order of their names.
#[must_use]
pub(crate) fn changes(signed: &Facts, now: &Facts) -> Vec<Change> {
    let mut names: Vec<&String> = signed.keys().chain(now.keys()).collect();
    names.sort_unstable();
    names.dedup();
    names
        .into_iter()
        .filter(|name| signed.get(*name) != now.get(*name))
        .map(|name| Change {
            fact: name.clone(),
            signed: signed.get(name).cloned(),
            now: now.get(name).cloned(),
        })
        .collect()
}

/// A fact as people read it: its name in words, and its value with its unit.
#[must_use]
pub(crate) fn fact_in_words(name: &str, fact: &Fact) -> (String, String) {
    let alone = Change { fact: name.to_owned(), signed: Some(fact.clone()), now: None };
    let (name, says, _) = alone.columns();
    (name, says)
}

impl Change {
    /// True for the digest of a whole or a part, which tells that something in it changed and not what.
    #[must_use]
    pub(crate) fn is_of_pack(&self) -> bool {
        self.fact.starts_with("pack.") && self.fact.ends_with(".sha256") || self.fact == "pack.sha256"
    }

    /// True for what no record says and a program works out from them: the digests of a pack, plans and circuits.
    #[must_use]
    pub(crate) fn is_worked_out(&self) -> bool {
        let of_plan = self.fact.starts_with("panels.") && self.fact.split('.').nth(2) == Some("plan");
        self.is_of_pack() || of_plan || self.fact.starts_with("circuits.")
    }

    /// The change in words: `panel light cct: 3000 K, now 3500 K`.
    #[must_use]
    pub fn in_words(&self) -> String {
        let (name, signed, now) = self.columns();
        format!("{name}: {signed} was signed, now {now}")
    }

    /// The fact's name, what was signed and what it is now, as people read them.
    #[must_use]
    pub(crate) fn columns(&self) -> (String, String, String) {
        let (name, unit) = match self.fact.rsplit_once('_') {
            Some((stem, "um")) => (stem, " mm"),
            Some((stem, "mw")) => (stem, " W"),
            Some((stem, "mv")) => (stem, " V"),
            Some((stem, "ma")) => (stem, " A"),
            Some((stem, "k")) => (stem, " K"),
            Some((stem, "v")) => (stem, " V"),
            Some((stem, "w")) => (stem, " W"),
            Some((stem, "m")) => (stem, " m"),
            Some((stem, "mm2")) => (stem, " mm²"),
            _ => (self.fact.as_str(), ""),
        };
        let name_in_words = name.replace(['.', '_'], " ");
        if let (Some(Fact::Text(signed)), Some(Fact::Text(now))) = (&self.signed, &self.now)
            && (signed.contains('\n') || now.contains('\n'))
        {
            return (name_in_words, lines_without(signed, now), lines_without(now, signed));
        }
        let thousandths =
            self.fact.rsplit_once('_').is_some_and(|(_, u)| matches!(u, "um" | "mw" | "mv" | "ma"));
        let show = |fact: &Option<Fact>, decimals: usize| match fact {
            None => "nothing".to_owned(),
            Some(Fact::Number(n)) if thousandths => {
                format!("{}{unit}", crate::units::trimmed(*n as f64 / 1000.0, 3))
            }
            Some(Fact::Text(digest)) if name.ends_with("sha256") => {
                format!("file {}", digest.get(..12).unwrap_or(digest))
            }
            Some(Fact::Text(text)) if !unit.is_empty() => match text.parse::<f64>() {
                Ok(number) => format!("{}{unit}", crate::units::trimmed(number, decimals)),
                Err(_) => format!("{text}{unit}"),
            },
            Some(fact) => format!("{fact}{unit}"),
        };
        // As few decimals as tell the two apart.
        let [signed, now] = (1..=17)
            .map(|decimals| [&self.signed, &self.now].map(|fact| show(fact, decimals)))
            .find(|[signed, now]| signed != now)
            .unwrap_or_else(|| [&self.signed, &self.now].map(|fact| format!("{fact:?}")));
        (name_in_words, signed, now)
    }
}

/// The lines of a text that another does not have, for a change that can be read at a glance.
fn lines_without(text: &str, other: &str) -> String {
    let lines: Vec<&str> =
        text.lines().filter(|line| !other.lines().any(|o| o == *line)).map(str::trim).collect();
    if lines.is_empty() { "nothing".to_owned() } else { format!("“{}”", lines.join(" ")) }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn facts_are_whole_numbers_and_text() {
        let record = json!({"a_mm": 20.5, "b": {"c": 3000, "d": "x"}, "e": [1, 2], "f": [{"id": "p", "g_mm": 1}], "h": 0.25, "n": null});
        let facts = record_facts("trial", "r", &record);
        let shown: Vec<String> = facts.iter().map(|(k, v)| format!("{k}={v}")).collect();
        assert_eq!(
            shown,
            ["r.a_um=20500", "r.b.c=3000", "r.b.d=x", "r.e=1, 2", "r.f.p.g_um=1000", "r.h=0.25"]
        );
    }

    #[test]
    fn unsealed_fields_stay_out() {
        let record = json!({"id": "p", "title": "t", "note": "n", "swatch": "s"});
        let names: Vec<String> = record_facts("panel", "p", &record).into_keys().collect();
        assert_eq!(names, ["p.id", "p.swatch", "p.title"]);
        assert!(is_unsealed("rendering", "drawn_with"));
        assert!(is_unsealed("rendering", "drawn_with.version"));
        assert!(!is_unsealed("rendering", "drawn_without"));
        assert!(!is_unsealed("panel", "drawn_with"));
    }

    #[test]
    fn an_empty_list_and_one_left_out_are_the_same() {
        let facts = |record| record_facts("rendering", "r", &record);
        assert_eq!(facts(json!({"seams": [], "lit_edges": [], "cutouts": 0})), facts(json!({"cutouts": 0})));
        assert_ne!(facts(json!({"lit_edges": [1]})), facts(json!({"lit_edges": []})));
        let seam = json!({"seams": [{"from_mm": [0, 0], "to_mm": [0, 1]}]});
        assert_ne!(facts(seam), facts(json!({"seams": []})));
    }

    #[test]
    fn things_that_share_an_id_each_keep_their_facts() {
        let list = |second: i64| json!({"list": [{"id": "a", "x": 1}, {"id": "a", "x": second}, {"id": "b", "x": 4}]});
        let facts = record_facts("trial", "r", &list(2));
        let names: Vec<&str> = facts.keys().map(String::as_str).collect();
        assert_eq!(names, ["r.list.1.id", "r.list.1.x", "r.list.2.id", "r.list.2.x", "r.list.b.x"]);
        assert_ne!(facts, record_facts("trial", "r", &list(3)));
    }

    #[test]
    fn a_thing_with_an_id_is_the_same_wherever_it_stands_in_its_list() {
        let facts = |list| record_facts("trial", "r", &json!({ "list": list }));
        let (a, b) = (json!({"id": "a", "x": 1}), json!({"id": "b", "x": 2}));
        assert_eq!(facts(json!([a, b])), facts(json!([b, a])));
    }

    #[test]
    fn a_change_speaks_in_trade_words() {
        let old = Facts::from([
            ("rendering.width_um".into(), Fact::Number(2_400_000)),
            ("same".into(), Fact::Number(1)),
        ]);
        let new = Facts::from([
            ("rendering.width_um".into(), Fact::Number(2_401_000)),
            ("same".into(), Fact::Number(1)),
        ]);
        let changes = changes(&old, &new);
        assert_eq!(changes.len(), 1);
        assert_eq!(changes[0].in_words(), "rendering width: 2400 mm was signed, now 2401 mm");
    }

    #[test]
    fn a_change_shows_only_what_differs() {
        let words = |fact: &str, signed: &str, now: &str| {
            let [signed, now] = [signed, now].map(|text| Some(Fact::Text(text.into())));
            Change { fact: fact.into(), signed, now }.in_words()
        };
        assert_eq!(
            words("sentence", "Read:\n- heat\n- 43 kg\n- eyes", "Read:\n- heat\n- 44 kg\n- eyes"),
            "sentence: “- 43 kg” was signed, now “- 44 kg”"
        );
        assert_eq!(
            words("sentence", "Read:\n- heat", "Read:\n- heat\n- wet"),
            "sentence: nothing was signed, now “- wet”"
        );
        assert_eq!(
            words("rendering.area_mm2", "804376.3859916055", "805876.3859916055"),
            "rendering area: 804376.4 mm² was signed, now 805876.4 mm²"
        );
        assert_eq!(
            words("rendering.area_mm2", "804376.3859", "804376.3858"),
            "rendering area: 804376.3859 mm² was signed, now 804376.3858 mm²"
        );
    }
}

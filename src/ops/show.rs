//! A record for people to read: each field under the title that its schema gives it, with its unit, in the book's units.
//!
//! One reader for every kind: what a record says is in its file, and what its fields are called is in its schema.

use serde_json::Value;

use crate::fault::{Fault, Outcome};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::signing::Armour;
use crate::store::{BookFiles, read, schemas, strict_json};
use crate::trust::counting::signature_in_words;
use crate::units::{DisplayUnits, Millimetres, trimmed};
use crate::words;

/// One line of a record: how deep it lies, what it is called, what it says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Line {
    /// How deep it lies within the record.
    pub depth: usize,
    /// The field's title, or `1`, `2` … for the entries of a list.
    pub title: String,
    /// What it says; empty for a field that holds others.
    pub says: String,
}

/// A record and where it lies.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Shown {
    /// The kind.
    pub kind: Kind,
    /// The name that `show` takes: `panel front` is of the kind panel and called front.
    pub name: String,
    /// The file.
    pub path: String,
}

/// The records of a project, or of the shop and the whole book where none is named, in the order of a job.
///
/// # Errors
/// `unknown-project`, and what the disk says.
pub(crate) fn records(book: &dyn BookFiles, project: Option<&ProjectId>) -> Outcome<Vec<Shown>> {
    let Some(id) = project else { return of_the_shop(book) };
    let folder = book.project(id)?;
    let mut found = Vec::new();
    for (inner, kind) in [
        ("", Kind::Project),
        ("/swatches", Kind::Swatch),
        ("/requests", Kind::Request),
        ("/trials", Kind::Trial),
        ("/panels", Kind::Panel),
        ("/panels", Kind::Outline),
        ("/signoffs", Kind::SignOff),
        ("/moves", Kind::Move),
        ("/notes", Kind::Note),
        ("/conflicts", Kind::Conflict),
        ("", Kind::AsBuilt),
        ("", Kind::Installation),
    ] {
        found.extend(
            book.files_of(&format!("{folder}{inner}"), kind)?.into_iter().map(|path| shown(kind, path)),
        );
        if kind == Kind::Panel {
            for panel in book.names(&format!("{folder}/renderings"))? {
                let manifests = book.files_of(&format!("{folder}/renderings/{panel}"), Kind::Rendering)?;
                let one = |path| Shown { kind: Kind::Rendering, name: panel.clone(), path };
                found.extend(manifests.into_iter().map(one));
            }
        }
    }
    Ok(found)
}

fn of_the_shop(book: &dyn BookFiles) -> Outcome<Vec<Shown>> {
    let mut found = Vec::new();
    for (folder, kind) in [
        ("", Kind::Book),
        ("", Kind::Rules),
        ("shop", Kind::Routes),
        ("shop", Kind::Lights),
        ("shop", Kind::Drivers),
        ("shop", Kind::Controls),
        ("shop", Kind::Wire),
        ("shop", Kind::Calendar),
        ("roster", Kind::Roster),
        ("conflicts", Kind::Conflict),
    ] {
        let names = book.names(if folder.is_empty() { "." } else { folder })?;
        let paths = names.into_iter().map(|n| if folder.is_empty() { n } else { format!("{folder}/{n}") });
        found.extend(paths.filter(|path| Kind::of_path(path) == Some(kind)).map(|path| shown(kind, path)));
    }
    Ok(found)
}

fn shown(kind: Kind, path: String) -> Shown {
    let file = path.rsplit('/').next().unwrap_or_default();
    let stem = file.strip_suffix(".json").unwrap_or(file);
    let name = if stem == kind.name() { String::new() } else { stem.trim_end_matches(".outline").to_owned() };
    Shown { kind, name, path }
}

/// The one record that a kind and a name stand for; a long name may be cut short, and none is needed where there is one.
///
/// # Errors
/// `unknown-record`, with what there is instead.
pub(crate) fn find(records: Vec<Shown>, kind: &str, name: Option<&str>) -> Outcome<Shown> {
    let all: Vec<String> = records.iter().map(|r| r.kind.name().to_owned()).collect();
    let of_kind: Vec<Shown> = records.into_iter().filter(|r| r.kind.name() == kind).collect();
    if of_kind.is_empty() {
        let mut kinds: Vec<&str> = all.iter().map(String::as_str).collect();
        kinds.dedup();
        let instead = words::instead_of(kind, kinds, "there is no record here yet");
        return Err(Box::new(
            Fault::usage("unknown-record", format!("there is no {kind} here")).fix(instead),
        ));
    }
    let names: Vec<String> = of_kind.iter().map(|r| r.name.clone()).collect();
    let wanted = |r: &Shown| name.is_none_or(|name| r.name == name);
    let begins = |r: &Shown| name.is_some_and(|name| name.len() >= 4 && r.name.starts_with(name));
    let (exact, rest): (Vec<Shown>, Vec<Shown>) = of_kind.into_iter().partition(wanted);
    let mut found = if exact.is_empty() { rest.into_iter().filter(begins).collect() } else { exact };
    match (found.pop(), found.is_empty()) {
        (Some(one), true) => Ok(one),
        _ => {
            let message = match name {
                Some(name) => format!("there is no {kind} {name} here, or more than one name begins with it"),
                None => format!("there is more than one {kind}: name one"),
            };
            let short = names.iter().map(|n| n.get(..12).filter(|_| n.len() == 64).unwrap_or(n));
            let instead = words::instead_of(name.unwrap_or("?"), short, "there is no record here yet");
            Err(Box::new(Fault::usage("unknown-record", message).fix(instead)))
        }
    }
}

/// A record line by line, and as it is in its file.
///
/// # Errors
/// Everything that is wrong with it.
pub(crate) fn lines(
    book: &dyn BookFiles,
    record: &Shown,
    units: DisplayUnits,
) -> Result<(Vec<Line>, Value), Vec<Fault>> {
    let document = read::document(book, &record.path, record.kind)?;
    let mut lines = Vec::new();
    let mut at = Vec::new();
    walk(&document.value, record.kind, units, &mut at, &mut lines);
    if matches!(record.kind, Kind::SignOff | Kind::Move)
        && let Some(armour) =
            book.signature_beside(&record.path)?.and_then(|bytes| Armour::parse(&bytes).ok())
    {
        let says = signature_in_words(&armour, &book.read(&record.path, strict_json::LARGEST)?);
        lines.push(Line { depth: 0, title: "Signature".into(), says });
    }
    Ok((lines, document.value))
}

fn walk(value: &Value, kind: Kind, units: DisplayUnits, at: &mut Vec<String>, lines: &mut Vec<Line>) {
    let depth = at.len().saturating_sub(1);
    match value {
        Value::Object(fields) => {
            for (key, inner) in fields.iter().filter(|(key, _)| *key != "$schema") {
                at.push(key.clone());
                let title = schemas::title_at(kind, at).unwrap_or_else(|| key.replace('_', " "));
                field(inner, kind, units, (key, title), at, lines);
                at.pop();
            }
        }
        Value::Array(items) => {
            for (number, inner) in items.iter().enumerate() {
                at.push("0".to_owned());
                lines.push(Line { depth: depth + 1, title: (number + 1).to_string(), says: String::new() });
                walk(inner, kind, units, at, lines);
                at.pop();
            }
        }
        plain => lines.push(Line { depth, title: String::new(), says: in_words("", plain, units) }),
    }
}

fn field(
    value: &Value,
    kind: Kind,
    units: DisplayUnits,
    (key, title): (&str, String),
    at: &mut Vec<String>,
    lines: &mut Vec<Line>,
) {
    let depth = at.len() - 1;
    let is_plain = |v: &Value| !v.is_object() && !v.is_array();
    let is_point = |v: &Value| v.as_array().is_some_and(|a| a.len() <= 4 && a.iter().all(Value::is_number));
    let says = match value {
        Value::Array(items) if items.iter().all(|v| is_plain(v) || is_point(v)) => {
            Some(items.iter().map(|v| in_words(key, v, units)).collect::<Vec<_>>().join(", "))
        }
        // A file beside the record: its digest is for programs.
        Value::Object(fields)
            if fields.len() == 2 && fields.contains_key("file") && fields.contains_key("sha256") =>
        {
            fields["file"].as_str().map(str::to_owned)
        }
        Value::Object(_) | Value::Array(_) => None,
        plain => Some(in_words(key, plain, units)),
    };
    lines.push(Line { depth, title, says: says.clone().unwrap_or_default() });
    if says.is_none() {
        walk(value, kind, units, at, lines);
    }
}

/// A value with the unit that its key states.
fn in_words(key: &str, value: &Value, units: DisplayUnits) -> String {
    const UNITS: &[(&str, &str)] = &[
        ("_k", "K"),
        ("_w", "W"),
        ("_w_per_m", "W/m"),
        ("_v", "V"),
        ("_a", "A"),
        ("_kg", "kg"),
        ("_m", "m"),
        ("_lx", "lx"),
        ("_kg_m3", "kg/m³"),
        ("_kg_per_m3", "kg/m³"),
        ("_cd_m2", "cd/m²"),
        ("_nm", "nm"),
        ("_pct", "%"),
        ("_deg", "°"),
        ("_c", "°C"),
    ];
    match value {
        Value::Number(number) => {
            let figure = number.as_f64().unwrap_or_default();
            if key.ends_with("_mm") {
                return units.show(Millimetres(figure));
            }
            if key.ends_with("_mm2") {
                return format!("{} m²", trimmed(figure / 1e6, 4));
            }
            let unit = UNITS
                .iter()
                .filter(|(ending, _)| key.ends_with(ending))
                .max_by_key(|(ending, _)| ending.len());
            unit.map_or_else(|| trimmed(figure, 6), |(_, unit)| format!("{} {unit}", trimmed(figure, 6)))
        }
        Value::String(text) => text.clone(),
        Value::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Value::Null => "–".to_owned(),
        Value::Array(items) => {
            format!("({})", items.iter().map(|v| in_words(key, v, units)).collect::<Vec<_>>().join(", "))
        }
        Value::Object(_) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_their_units() {
        let said = |key: &str, value: Value| in_words(key, &value, DisplayUnits::Mm);
        assert_eq!(said("thickness_mm", 20.into()), "20 mm");
        assert_eq!(in_words("thickness_mm", &25.4.into(), DisplayUnits::In), "1 in");
        assert_eq!(said("cct_k", 4000.into()), "4000 K");
        assert_eq!(said("density_kg_m3", 2700.into()), "2700 kg/m³");
        assert_eq!(said("quantity", 2.into()), "2");
        assert_eq!(said("from_mm", serde_json::json!([0, 300.5])), "(0 mm, 300.5 mm)");
    }
}

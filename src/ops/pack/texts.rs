//! The files of a pack that are text: what is in the folder, the bill, and every figure as JSON.

use serde_json::{Value, json};

use super::spreadsheet::spreadsheet;
use crate::digest::Sha256Digest;
use crate::job::pack::data::BillData;
use crate::job::pack::order::OrderLine;
use crate::job::pack::{PackData, canonical};
use crate::sheets::drawn_with;
use crate::sheets::pack::{PackInput, ReleaseLine};
use crate::units::trimmed;

/// The folder's parts with what they are; pack.json lists every file with its digest.
pub(super) fn contents(files: &[(String, Vec<u8>)]) -> Vec<(String, String)> {
    let parts = [
        ("README.txt", "what this folder is and how to check it"),
        ("pack.json", "every figure of this pack, whole numbers and text, and its digest"),
        ("sheets/", "drawing sheet of each panel, as PDF and SVG"),
        ("cut/", "outline for the cutter, piece by piece, in millimetres, as DXF and SVG"),
        ("photos/", "what was built, lit, and how it was put in"),
        ("bill.csv", "bill of materials for a spreadsheet; bill.json for a program"),
        ("order.csv", "what to order: whole sheets, and tape and cable with the shop's allowances"),
        ("dates.ics", "the dates for a calendar program"),
        ("SHA256SUMS", "digests of all files: sha256sum -c SHA256SUMS"),
    ];
    let always = ["README.txt", "pack.json", "SHA256SUMS"];
    parts
        .iter()
        .filter(|(part, _)| always.contains(part) || files.iter().any(|(path, _)| path.starts_with(part)))
        .map(|(part, what)| ((*part).to_owned(), (*what).to_owned()))
        .collect()
}

/// What stands in the folder for whoever opens it first.
pub(super) fn readme(input: &PackInput<'_>) -> String {
    let heading = &input.heading;
    let project = &input.data.project;
    let mut lines = vec![
        format!("Build pack: {} ({project})", heading.title),
        format!("Shop: {}", heading.shop),
        format!("Client: {}", heading.client),
        format!("Install date: {}", heading.install_date),
        String::new(),
    ];
    match &input.release {
        Some(release) => lines.push(format!("RELEASED by {} on {}.", release.who, release.when)),
        None => {
            lines.push("NOT RELEASED: do not build, buy or install from anything in this folder.".into());
            lines.push("Missing:".into());
            lines.extend(input.missing.iter().map(|what| format!("  - {what}")));
        }
    }
    lines.extend(input.overridden.iter().map(|what| format!("Refused, and overridden: {what}")));
    lines.push(String::new());
    lines.push("In this folder, beside pack.pdf, which is the whole pack to read and print:".into());
    lines.extend(input.files.iter().map(|(path, what)| format!("  {path:12} {what}")));
    lines.push(String::new());
    lines.push(format!("SHA-256 of the data: {}", input.sha256));
    lines.push("Check that no file was changed:   sha256sum -c SHA256SUMS".into());
    lines.push(format!(
        "Check it against the book:        underlit pack {project} --prove --against pack.json"
    ));
    lines.push(String::new());
    lines.push(
        "Mains wiring, water, heavy stone, heat and glare can hurt people. The tool computes; the licensed person"
            .into(),
    );
    lines.push("decides, by the code that governs at the site. The cautions stand in pack.pdf.".into());
    lines.join("\n") + "\n"
}

pub(super) fn bill_csv(data: &PackData) -> Vec<u8> {
    let row = |line: &BillData| {
        let quantity = trimmed(line.quantity_thousandths as f64 / 1000.0, 3);
        let panel = line.panel.clone().unwrap_or_default();
        [line.what.clone(), line.item.id.clone(), line.item.name.clone(), quantity, line.unit.clone(), panel]
    };
    spreadsheet(["what", "id", "name", "quantity", "unit", "panel"], data.bill.iter().map(row))
}

pub(super) fn order_csv(order: &[OrderLine]) -> Vec<u8> {
    let row = |line: &OrderLine| {
        let [net, ordered] = [line.net, line.order].map(|v| trimmed(v, 3));
        let [what, id, unit] = [&line.what, &line.id, &line.unit].map(Clone::clone);
        [what, id, net, unit, ordered, line.order_unit.clone(), line.note.clone()]
    };
    spreadsheet(["what", "id", "net", "unit", "order", "order unit", "note"], order.iter().map(row))
}

pub(super) fn bill_json(data: &PackData) -> Value {
    json!({ "project": data.project, "bill": data.bill })
}

pub(super) fn pack_json(
    input: &PackInput<'_>,
    data: &PackData,
    files: &[(String, Vec<u8>)],
    release: Option<&ReleaseLine>,
) -> Value {
    let heading = &input.heading;
    json!({
        "sha256": input.sha256,
        "released": release.is_some(),
        "release": release.map(|r| json!({ "who": r.who, "when": r.when, "sha256": r.sha256 })),
        "missing": input.missing,
        "overridden": input.overridden,
        "title": heading.title,
        "client": heading.client,
        "install_date": heading.install_date,
        "stage": heading.stage,
        "date_of_issue": heading.date_of_issue,
        "people": heading.people.iter().map(|(role, name)| json!({ "role": role, "name": name })).collect::<Vec<_>>(),
        "sign_offs": input.sign_offs.iter().map(|s| json!({
            "about": s.about, "who": s.who, "role": s.role, "decision": s.decision, "kind": s.kind,
            "when": s.when, "standing": s.standing, "sha256": s.sha256,
        })).collect::<Vec<_>>(),
        "dates": input.dates.iter().map(|d| json!({ "step": d.what, "latest": d.latest })).collect::<Vec<_>>(),
        "as_built": input.built,
        "order": input.order,
        "files": files.iter().map(|(path, bytes)| json!({ "path": path, "sha256": Sha256Digest::of(bytes).hex() })).collect::<Vec<_>>(),
        "drawn_with": drawn_with(),
        "words": canonical::value(&input.words),
        "data": canonical::value(data),
    })
}

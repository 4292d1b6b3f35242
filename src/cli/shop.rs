//! `shop`: the shop's lists, entry by entry.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::StockId;
use crate::ops::roster::Versioned;
use crate::ops::shop_lists::{self, Act, List};
use crate::store::strict_json;

/// Add an entry to a list of the shop, change it or take it out: what changes is shown, and you seal it as owner.
///
/// Fields are given as FIELD=VALUE by the names of the list's schema (`underlit show --shop drivers` shows them), the value as
/// JSON or else as text; FIELD= takes one out, and a point reaches into a field that holds others. A whole entry can come as one
/// JSON object with --from. What a panel uses is not taken out.
///
/// Example: underlit shop driver change remote-96 rating_w=90
///
/// Example: underlit shop tape add warm-14 --from tape.json
#[derive(Debug, clap::Args)]
pub(crate) struct ShopArgs {
    /// The list: route, tape, driver, controller, dimmer, cable, connector, fuse or freight.
    list: List,
    /// What is done: add, change or remove.
    act: Act,
    /// The entry's short name.
    id: StockId,
    /// Fields with their values.
    #[arg(value_name = "FIELD=VALUE")]
    fields: Vec<String>,
    /// A file with the entry, or with some of its fields, as one JSON object; - for standard input.
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
}

pub(crate) fn run(args: &ShopArgs, setting: &Setting<'_>) -> Outcome {
    let whole = args.from.as_deref().map(object).transpose()?.unwrap_or_default();
    if args.act != Act::Remove && whole.is_empty() && args.fields.is_empty() {
        return Err(vec![
            Fault::usage("missing-argument", "nothing is said of the entry")
                .fix("give FIELD=VALUE, or a whole entry with --from FILE"),
        ]);
    }
    let desk = setting.desk()?;
    let (list, id) = (args.list, &args.id);
    let (changed, version) = shop_lists::edit(&desk, list, args.act, id, &whole, &args.fields)?;
    let shown =
        |value: &Option<Value>| value.as_ref().map_or_else(|| "nothing".to_owned(), ToString::to_string);
    let (number, file) = match &version {
        Versioned::InForce(number) => {
            setting.done(format!("{list} {id}: sealed with roster version {number}"));
            (*number, None)
        }
        Versioned::Proposed { version, file, have, need } => {
            setting.done(format!(
                "{list} {id}: proposed as roster version {version}, signed by {have} of {need}"
            ));
            setting.printer.line(format!("  the next owner: underlit roster countersign {}", file.display()));
            (*version, Some(file.display().to_string()))
        }
    };
    for field in &changed {
        let (before, after) = (shown(&field.before), shown(&field.after));
        setting.printer.line(format!("  {}: {before} → {after}", field.field));
    }
    let fields: Vec<Value> =
        changed.iter().map(|c| json!({ "field": c.field, "before": c.before.as_ref().map(Value::to_string), "after": c.after.as_ref().map(Value::to_string) })).collect();
    setting.printer.json(&json!({
        "list": list, "id": id, "fields": fields, "version": number, "proposal": file,
    }));
    Ok(Exit::Done)
}

/// One JSON object out of a file, or from standard input.
fn object(file: &Path) -> Result<Map<String, Value>, Vec<Fault>> {
    let shown = file.display().to_string();
    let unread = |e: std::io::Error| {
        let fault = Fault::usage("unreadable", format!("it cannot be read: {e}"));
        vec![fault.in_file(&shown).fix("check the name")]
    };
    let bytes = if file == Path::new("-") {
        let mut bytes = Vec::new();
        std::io::stdin().take(strict_json::LARGEST).read_to_end(&mut bytes).map_err(unread)?;
        bytes
    } else {
        fs::read(file).map_err(unread)?
    };
    match strict_json::parse(&bytes).map_err(|fault| vec![fault.in_file(&shown)])? {
        Value::Object(fields) => Ok(fields),
        _ => Err(vec![
            Fault::usage("not-an-object", "it is no JSON object")
                .in_file(&shown)
                .fix("write the entry's fields between braces: { \"rating_w\": 96 }"),
        ]),
    }
}

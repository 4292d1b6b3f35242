//! `panel import`: the panels of a schedule, in one step.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::import::{TableArgs, column, tell_unread};
use super::setting::Setting;
use crate::ids::{ProjectId, SwatchId};
use crate::model::kind::Kind;
use crate::model::panel::GroupShare;
use crate::ops::import::schedule::{self, Field, How};
use crate::words::counted;

#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The project.
    project: ProjectId,
    #[command(flatten)]
    table: TableArgs,
    /// A column that is headed otherwise: mark, room, group, zone, size, width, height, quantity, stone, title, place, position
    /// or note.
    #[arg(long, value_name = "WHAT=HEADING", value_parser = column::<Field>)]
    column: Vec<(Field, String)>,
    /// The unit of sizes that state none: mm, cm, m or in.
    #[arg(long, value_name = "UNIT", value_parser = ["mm", "cm", "m", "in"])]
    unit: Option<String>,
    /// The stone of rows that name none.
    #[arg(long, value_name = "SWATCH")]
    swatch: Option<SwatchId>,
}

pub(crate) fn run(args: &Args, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let snapshot = desk.reading.project(&args.project)?;
    let given = args.table.read()?;
    let how = How { columns: args.column.clone(), unit: args.unit.clone(), stone: args.swatch.clone() };
    let found = schedule::read(&given, &snapshot, &how)?;
    schedule::save(&desk, &args.project, &found)?;

    let units = desk.reading.shop.book.units;
    let built: u32 = found.panels.iter().map(|p| p.quantity).sum();
    let many = |n: usize| counted(n, "panel", "panels");
    setting.done(format!(
        "listed {} from {}, {} to build",
        many(found.panels.len()),
        counted(found.rows, "row", "rows"),
        built
    ));
    for panel in &found.panels {
        let alike = if panel.quantity > 1 { format!(", {} alike", panel.quantity) } else { String::new() };
        let size = units.size(panel.size);
        let groups: Vec<String> = panel.groups.iter().map(GroupShare::in_words).collect();
        let groups = if groups.is_empty() { String::new() } else { format!("  ({})", groups.join(", ")) };
        setting
            .printer
            .line(format!("  {:16} {size}, {}{alike}  {}{groups}", panel.id, panel.swatch, panel.title));
    }
    tell_unread(&found.unread, &found.others, setting);
    if found.panels.iter().any(|panel| panel.place.is_none()) {
        let text = "  where no place is given a dry one is assumed: underlit panel change … --place wet";
        setting.printer.line(text);
    }
    setting.printer.json(&json!({
        "project": args.project,
        "row_count": found.rows,
        "columns_not_read": found.unread,
        "sheets_not_read": found.others,
        "panels": found.panels.iter().map(|panel| json!({
            "kind": Kind::Panel.name(),
            "id": panel.id,
            "title": panel.title,
            "swatch": panel.swatch,
            "width_mm": panel.size[0],
            "height_mm": panel.size[1],
            "quantity": panel.quantity,
            "groups": panel.groups.iter().map(|share| &share.group).collect::<Vec<_>>(),
            "lines": panel.lines,
        })).collect::<Vec<_>>(),
    }));
    Ok(Exit::Done)
}

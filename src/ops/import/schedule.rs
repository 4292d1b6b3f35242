//! A schedule of panels: one row a place, one mark for all that are alike. Rows with one mark
//! become one panel with its quantity; whatever does not fit is said for the whole table at once, and nothing is made of
//! half of it.

mod gathered;

use self::gathered::gathered;
use super::{CODE, Spreadsheet, Table, named, short_name};
use crate::fault::Fault;
use crate::ids::{GroupId, PanelId, ProjectId, RoomId, SwatchId, ZoneId};
use crate::model::kind::Kind;
use crate::model::panel::{GroupShare, MOST_ALIKE, Panel, Position};
use crate::model::snapshot::Snapshot;
use crate::ops::desk::Desk;
use crate::ops::{outline, record};
use crate::power::vocabulary::Place;
use crate::shape::Outline;
use crate::size::Size;
use crate::store::Changes;
use crate::units::Millimetres;
use crate::words::{counted, words};

words! {
    /// What a column of a schedule says.
    Field, "what a column says" {
        /// The mark that all alike share; the panel's short name follows from it.
        Mark = "mark",
        /// Where the row's panel goes.
        Room = "room",
        /// The release group that the row's panel is built in.
        Group = "group",
        /// Width and height.
        Size = "size",
        /// The width alone.
        Width = "width",
        /// The height alone.
        Height = "height",
        /// The control zone of the row's panel.
        Zone = "zone",
        /// How many the row stands for.
        Quantity = "quantity",
        /// The stone, by the name of its swatch or what it is called.
        Stone = "stone",
        /// What people call the panel.
        Title = "title",
        /// How wet the place is.
        Place = "place",
        /// How the face stands.
        Position = "position",
        /// Anything else.
        Note = "note",
    }
}

impl Field {
    /// The headings that mean it without being told.
    fn headings(self) -> &'static [&'static str] {
        match self {
            Field::Mark => &["mark", "type", "type mark", "panel", "id"],
            Field::Room => &["room", "room no", "location"],
            Field::Group => &["group", "release group", "level", "floor"],
            Field::Zone => &["zone", "control zone", "lighting zone"],
            Field::Size => &["size"],
            Field::Width => &["width", "w"],
            Field::Height => &["height", "h"],
            Field::Quantity => &["quantity", "qty", "count"],
            Field::Stone => &["stone", "swatch"],
            Field::Title => &["title", "name", "description"],
            Field::Place => &["place", "wet"],
            Field::Position => &["position"],
            Field::Note => &["note", "notes", "remark", "remarks"],
        }
    }
}

/// How a schedule is to be read.
#[derive(Clone, Debug, Default)]
pub(crate) struct How {
    /// Columns that are named otherwise: what they say, and their heading.
    pub columns: Vec<(Field, String)>,
    /// The unit of sizes that state none.
    pub unit: Option<String>,
    /// The stone of rows that name none.
    pub stone: Option<SwatchId>,
}

/// A panel of a schedule.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Listed {
    /// Its short name, from its mark.
    pub id: PanelId,
    /// What people call it.
    pub title: String,
    /// Its stone.
    pub swatch: SwatchId,
    /// Its width and height.
    pub size: [Millimetres; 2],
    /// How many are alike.
    pub quantity: u32,
    /// The release groups that take them; none where the rows name none.
    pub groups: Vec<GroupShare>,
    /// Its control zone, where the schedule names one.
    pub zone: Option<ZoneId>,
    /// How wet its place is, where the schedule says.
    pub place: Option<Place>,
    /// How its face stands, where the schedule says.
    pub position: Option<Position>,
    /// Its rooms, and what else is said of it.
    pub note: Option<String>,
    /// The lines of the file that it is from.
    pub lines: Vec<usize>,
}

/// What a schedule holds.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Schedule {
    /// The panels, in the order of their first rows.
    pub panels: Vec<Listed>,
    /// How many rows were read.
    pub rows: usize,
    /// Headings of columns that were not read.
    pub unread: Vec<String>,
    /// The other sheets of its workbook.
    pub others: Vec<String>,
}

/// One row, read.
struct Row {
    line: usize,
    mark: String,
    room: Option<RoomId>,
    group: Option<GroupId>,
    zone: Option<ZoneId>,
    size: [Millimetres; 2],
    quantity: u32,
    swatch: SwatchId,
    title: String,
    place: Option<Place>,
    position: Option<Position>,
    note: String,
}

/// Reads a schedule for a project.
///
/// # Errors
/// `schedule`: everything in the file that does not fit, each with its line.
pub(crate) fn read(given: &Spreadsheet, project: &Snapshot, how: &How) -> Result<Schedule, Vec<Fault>> {
    let file = given.name.as_str();
    let table = Table::read(given)?;
    let columns = table.columns(Field::ALL.iter().map(|field| (*field, field.headings())), &how.columns)?;
    let sized = columns.has(&Field::Size) || columns.has(&Field::Width) && columns.has(&Field::Height);
    for (there, what, option) in [
        (columns.has(&Field::Mark), "the mark of each panel", "mark"),
        (sized, "sizes: a column of sizes, or one of widths and one of heights", "size"),
    ] {
        if !there {
            let fix = format!("name it: --column {option}=HEADING; ");
            return Err(vec![table.headless(&format!("no column gives {what}"), &fix)]);
        }
    }
    let mut faults = Vec::new();
    let mut rows: Vec<Row> = Vec::new();
    for (line, cells) in &table.rows {
        match row(*line, &|field| columns.of(cells, &field), project, how) {
            Ok(row) => rows.push(row),
            Err(why) => faults.extend(why.into_iter().map(|f| f.in_file(file).on_line(Some(*line)))),
        }
    }
    let panels = gathered(&rows, file, &mut faults);
    for panel in &panels {
        if project.panels.contains_key(&panel.id) {
            let known = format!("the project has a panel {} already", panel.id);
            faults.push(
                Fault::data(CODE, known)
                    .in_file(file)
                    .on_line(panel.lines.first().copied())
                    .fix("take its rows out, or name them by another mark"),
            );
        }
    }
    if faults.is_empty() {
        Ok(Schedule { panels, rows: rows.len(), unread: columns.unread, others: table.others })
    } else {
        Err(faults)
    }
}

/// Lists the panels of a schedule, in one commit.
///
/// # Errors
/// What the schema says against one of them, and what the disk or git says.
pub(crate) fn save(desk: &Desk<'_>, project: &ProjectId, schedule: &Schedule) -> Result<(), Vec<Fault>> {
    let folder = format!("{}/panels", desk.reading.book.project(project)?);
    let mut changes = Changes::new();
    for listed in &schedule.panels {
        let drawn = outline::bytes_for_book(&Outline::rectangle(listed.size[0].0, listed.size[1].0));
        let name = format!("{}.outline.json", listed.id);
        let outline = record::attach_bytes(&folder, &name, drawn, &mut changes)?;
        let bare = Panel::of(listed.id.clone(), listed.swatch.clone(), outline);
        let panel = Panel {
            title: listed.title.clone(),
            place: listed.place.unwrap_or(bare.place),
            quantity: Some(listed.quantity).filter(|quantity| *quantity > 1),
            groups: listed.groups.clone(),
            zone: listed.zone.clone(),
            position: listed.position,
            note: listed.note.clone(),
            ..bare
        };
        record::put(&format!("{folder}/{}.json", listed.id), Kind::Panel, &panel, &mut changes)?;
    }
    let count = counted(schedule.panels.len(), "panel", "panels");
    desk.save(&changes, &format!("{project}: lists {count} of a schedule\n"))?;
    Ok(())
}

fn row<'r>(
    line: usize,
    cell: &dyn Fn(Field) -> &'r str,
    project: &Snapshot,
    how: &How,
) -> Result<Row, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut wrong = |text: String, fix: &str| faults.push(Fault::data(CODE, text).fix(fix));
    if cell(Field::Mark).is_empty() {
        wrong("the row has no mark".into(), "give it one; all that are alike share it");
    }
    let sized = match cell(Field::Size) {
        "" => format!("{} x {}", with_unit(cell(Field::Width), how), with_unit(cell(Field::Height), how)),
        size => with_unit(size, how),
    };
    let size = sized.parse::<Size>();
    if let Err(why) = &size {
        let fix = "write it like 1800x450mm, or say the unit of all of them: --unit mm";
        wrong(format!("its size: {why}"), fix);
    }
    let quantity = match cell(Field::Quantity) {
        "" => Some(1),
        text => text.parse::<u32>().ok().filter(|n| (1..=MOST_ALIKE).contains(n)),
    };
    if quantity.is_none() {
        let fix = "give a whole number, 1 to 1000";
        wrong(format!("`{}` is no quantity", cell(Field::Quantity)), fix);
    }
    let swatch = stone(cell(Field::Stone), project, how);
    if let Err(why) = &swatch {
        let known: Vec<String> =
            project.swatches.iter().map(|(id, s)| format!("{id} ({})", s.stone)).collect();
        let fix = if known.is_empty() {
            "describe the stone first: underlit swatch add …".to_owned()
        } else {
            format!("the project has: {}", known.join(", "))
        };
        wrong(why.clone(), &fix);
    }
    let place = optional::<Place>(cell(Field::Place));
    let position = optional::<Position>(cell(Field::Position));
    let group = match cell(Field::Group) {
        "" => Ok(None),
        text => group_name(text).map(Some),
    };
    if let Err(why) = &group {
        wrong(why.clone(), "use letters and digits, or a number for a level");
    }
    let room = match cell(Field::Room) {
        "" => Ok(None),
        text => short_name(text).parse::<RoomId>().map(Some).map_err(|e| format!("its room: {e}")),
    };
    if let Err(why) = &room {
        wrong(why.clone(), "use letters and digits");
    }
    let zone = match cell(Field::Zone) {
        "" => Ok(None),
        text => short_name(text).parse::<ZoneId>().map(Some).map_err(|e| format!("its zone: {e}")),
    };
    if let Err(why) = &zone {
        wrong(why.clone(), "use letters and digits");
    }
    for why in [place.as_ref().err(), position.as_ref().err()].into_iter().flatten() {
        wrong(why.clone(), "leave it empty where it is not known");
    }
    match (size, quantity, swatch, place, position, group, room, zone) {
        (Ok(size), Some(quantity), Ok(swatch), Ok(place), Ok(position), Ok(group), Ok(room), Ok(zone))
            if faults.is_empty() =>
        {
            Ok(Row {
                line,
                mark: cell(Field::Mark).to_owned(),
                room,
                group,
                zone,
                size: [size.width, size.height],
                quantity,
                swatch,
                title: cell(Field::Title).to_owned(),
                place,
                position,
                note: cell(Field::Note).to_owned(),
            })
        }
        _ => Err(faults),
    }
}

/// A size with the unit of all, where it states none.
fn with_unit(text: &str, how: &How) -> String {
    match &how.unit {
        Some(unit) if !text.contains(|c: char| c.is_alphabetic() && !matches!(c, 'x' | 'X') || c == '"') => {
            format!("{text}{unit}")
        }
        _ => text.to_owned(),
    }
}

fn optional<T: std::str::FromStr<Err: ToString>>(text: &str) -> Result<Option<T>, String> {
    match text {
        "" => Ok(None),
        text => text.to_lowercase().parse().map(Some).map_err(|e: T::Err| e.to_string()),
    }
}

/// The swatch that a cell names: by its short name, or by what the stone is called where only one is called so.
fn stone(text: &str, project: &Snapshot, how: &How) -> Result<SwatchId, String> {
    if text.is_empty() {
        let only = project.swatches.keys().next().filter(|_| project.swatches.len() == 1);
        return how.stone.as_ref().or(only).cloned().ok_or_else(|| "the row names no stone".to_owned());
    }
    named(text, project.swatches.iter().map(|(id, s)| (id, s.stone.as_str()))).map_err(
        |several| match several {
            true => format!("more than one swatch is of `{text}`"),
            false => format!("no swatch is of `{text}`"),
        },
    )
}

/// A release group by name: a bare number is a level, so that `3` becomes `level-3`.
fn group_name(text: &str) -> Result<GroupId, String> {
    let name = short_name(text);
    let name = if text.bytes().all(|b| b.is_ascii_digit()) { format!("level-{name}") } else { name };
    name.parse().map_err(|e| format!("`{text}` makes no name of a release group: {e}"))
}

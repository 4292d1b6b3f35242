//! `split` and `cut`: a panel in pieces, and the files for the cutter.

use std::fs;
use std::path::PathBuf;

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::printer::Printer;
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::how_to_answer::to_approve;
use crate::ids::{PanelId, ProjectId, StockId};
use crate::job::plan::{pieces, route};
use crate::making::routes::Route;
use crate::model::kind::Kind;
use crate::model::panel::{Panel, Seam};
use crate::model::snapshot::Drawing;
use crate::model::statement::{Subject, Topic, View};
use crate::ops::outline::{cut_files, panel_with_drawing, tape_of};
use crate::ops::{Reading, record};
use crate::shape::{self, SplitOption};
use crate::store::Changes;
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;
use crate::units::{DisplayUnits, Millimetres};
use crate::words::counted;

/// Show the ways to split a panel that is larger than a route's sheet, and settle one.
///
/// Fewest pieces first, then fewest and shortest seams; seams on the stone's own joints where the drawing
/// gives them. Without --option or --seam it only shows. Seams drawn by hand with --seam are judged by the same
/// rules: clear of cut-outs, no sliver, each piece fits and keeps a lit edge. The client acknowledges the seams that are
/// settled.
///
/// Example: underlit split harbour-wall wall --route routed-panel --option 1
#[derive(Debug, clap::Args)]
pub(crate) struct SplitArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// The route whose sheet it is split for; by default the one that is settled, else each.
    #[arg(long, value_name = "ROUTE")]
    route: Option<StockId>,
    /// Settle this option.
    #[arg(long, value_name = "NUMBER")]
    option: Option<usize>,
    /// Settle this seam, from border to border in the drawing's own coordinates, like 1200mm,0mm:1200mm,400mm; once for
    /// each seam. Coordinates may be negative.
    #[arg(long, value_name = "X,Y:X,Y", value_parser = seam, allow_hyphen_values = true, conflicts_with = "option")]
    seam: Vec<Seam>,
    /// Settle that the panel is built whole.
    #[arg(long, conflicts_with_all = ["option", "seam"])]
    whole: bool,
}

pub(crate) fn split(args: &SplitArgs, setting: &Setting<'_>) -> Outcome {
    if args.option.is_none() && args.seam.is_empty() && !args.whole {
        return show(args, setting);
    }
    let desk = setting.desk()?;
    let project = desk.reading.book.project(&args.project)?;
    let path = format!("{project}/panels/{}.json", args.panel);
    let snapshot = desk.reading.project(&args.project)?;
    let (panel, drawing) = panel_with_drawing(&snapshot, &args.panel)?;
    let (seams, route) = match args.option {
        None if args.whole => (Vec::new(), None),
        None => {
            let route = route_for(args, panel, drawing, &desk.reading)?;
            let tape = tape_of(&desk.reading, panel);
            let option = pieces::along(route, tape, panel, drawing, &args.seam, DRAWN_WITHIN_MM)
                .map_err(|e| vec![crate::trust::project::shape_fault(panel.outline.file.as_str(), &e)])?;
            (pieces::seams_of(&option), Some(stock_id(route)?))
        }
        Some(number) => {
            let route = route_for(args, panel, drawing, &desk.reading)?;
            let options = pieces::options(route, tape_of(&desk.reading, panel), panel, drawing)
                .map_err(|e| vec![crate::trust::project::shape_fault(panel.outline.file.as_str(), &e)])?;
            let Some(option) = number.checked_sub(1).and_then(|n| options.get(n)) else {
                return Err(vec![
                    Fault::usage(
                        "no-such-option",
                        format!(
                            "there is no option {number}: route {} has {}",
                            route.id,
                            counted(options.len(), "option", "options")
                        ),
                    )
                    .fix(format!(
                        "underlit split {} {} --route {} shows them",
                        args.project, args.panel, route.id
                    )),
                ]);
            };
            (pieces::seams_of(option), Some(stock_id(route)?))
        }
    };
    let count = seams.len();
    let pieces = pieces::count(&Panel { seams: seams.clone(), ..panel.clone() }, Some(drawing));
    record::change(
        &desk,
        &path,
        Kind::Panel,
        Changes::new(),
        |p: &Panel| match count {
            0 => format!("{}: builds panel {} whole\n", args.project, p.id),
            _ => format!("{}: splits panel {} into {pieces} pieces\n", args.project, p.id),
        },
        |p| {
            p.seams = seams;
            if route.is_some() {
                p.route = route;
            }
            Ok(())
        },
    )?;
    setting.done(match count {
        0 => format!("panel {} is built whole", args.panel),
        _ => format!(
            "panel {} is built in {pieces} pieces with {}",
            args.panel,
            counted(count, "seam", "seams")
        ),
    });
    if count > 0 {
        let case = desk.reading.case(&snapshot);
        let subject = Subject::topic(View::Acknowledgement, Topic::Seams, Some(&args.panel));
        for needed in desk.reading.shop.rules.needed(&subject) {
            let how = to_approve(&case, &subject, needed.role);
            setting.printer.line(format!("  the seams are acknowledged by: {how}"));
        }
    }
    setting.printer.json(&json!({
        "project": args.project, "kind": Kind::Panel.name(), "id": args.panel, "file": path, "seam_count": count,
    }));
    Ok(Exit::Done)
}

/// How far the end of a seam that somebody types may be off the border that it is to end on: it is moved onto it.
const DRAWN_WITHIN_MM: f64 = 1.0;

fn stock_id(route: &Route) -> Result<StockId, Vec<Fault>> {
    route.id.parse().map_err(|e| vec![Fault::data("stock-name", format!("{e}"))])
}

pub(super) fn seam(text: &str) -> Result<Seam, String> {
    line(text, "seam", "1200mm,0mm:1200mm,400mm")
}

/// A rib, by its middle line.
pub(super) fn rib(text: &str) -> Result<Seam, String> {
    let like = "300mm,0mm:300mm,600mm";
    let rib = line(text, "rib", like)?;
    if rib.from_mm == rib.to_mm {
        return Err(format!("the rib `{text}` has no length: give its two ends, like {like}"));
    }
    Ok(rib)
}

/// A straight line on a drawing, from end to end.
fn line(text: &str, what: &str, like: &str) -> Result<Seam, String> {
    let wrong = || format!("`{text}` is not a {what}: write it like {like}");
    let point = |text: &str| -> Result<[Millimetres; 2], String> {
        let (x, y) = text.split_once(',').ok_or_else(wrong)?;
        let coordinate = |t: &str| {
            let t = t.trim();
            let (sign, size) = match t.strip_prefix(['-', '−']) {
                Some(size) => (-1.0, size),
                None => (1.0, t),
            };
            size.parse::<Millimetres>().map(|m| Millimetres(sign * m.0)).map_err(|e| format!("{e}"))
        };
        Ok([coordinate(x)?, coordinate(y)?])
    };
    let (from, to) = text.split_once(':').ok_or_else(wrong)?;
    Ok(Seam { from_mm: point(from)?, to_mm: point(to)? })
}

/// The route that is named, the one that is settled, or the only one that a split helps; one whose own limits are in the
/// way is refused, since no split makes it able.
fn route_for<'r>(
    args: &SplitArgs,
    panel: &Panel,
    drawing: &Drawing,
    reading: &'r Reading,
) -> Result<&'r Route, Vec<Fault>> {
    let routes = &reading.shop.routes;
    let tape = tape_of(reading, panel);
    let against = |one: &Route| route::no_split_helps(reading.shop.book.units, panel, drawing, tape, one);
    let able: Vec<&Route> = routes.routes.iter().filter(|one| against(one).is_none()).collect();
    let names = able.iter().map(|one| one.id.as_str()).collect::<Vec<_>>().join(", ");
    let Some(wanted) = args.route.as_ref().or(panel.route.as_ref()) else {
        return match able.as_slice() {
            [one] => Ok(one),
            _ => Err(vec![
                Fault::usage("missing-argument", "a split is settled for one route's sheet")
                    .fix(format!("add --route …, one of {names}")),
            ]),
        };
    };
    let Some(found) = routes.get(wanted.as_str()) else {
        return Err(vec![
            Fault::usage("unknown-route", format!("the shop has no route {wanted}"))
                .fix(format!("there are: {names}")),
        ]);
    };
    match against(found) {
        None => Ok(found),
        Some(why) => Err(vec![
            Fault::usage(
                "route-cannot-build",
                format!("route {wanted} cannot build panel {}: {why}", args.panel),
            )
            .fix(match able.is_empty() {
                true => {
                    "no route of the shop can: change what was chosen, or list a route that can".to_owned()
                }
                false => format!("name another with --route: {names}"),
            }),
        ]),
    }
}

fn show(args: &SplitArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let snapshot = reading.project(&args.project)?;
    let (panel, drawing) = panel_with_drawing(&snapshot, &args.panel)?;
    let wanted = args.route.as_ref().or(panel.route.as_ref());
    let mut answer = Vec::new();
    let mut to_settle = None;
    for one in reading.shop.routes.routes.iter().filter(|r| wanted.is_none_or(|w| w.as_str() == r.id)) {
        let tape = tape_of(&reading, panel);
        if let Some(why) = route::no_split_helps(reading.shop.book.units, panel, drawing, tape, one) {
            setting.printer.line(format!("route {}: {why}", one.id));
            answer.push(json!({ "route": one.id, "options": [], "reason": why }));
            continue;
        }
        setting.printer.line(format!("route {}", one.id));
        match pieces::options(one, tape, panel, drawing) {
            Err(error) => {
                setting.printer.line(format!("  {}; {}", error.message, error.remedy));
                answer.push(json!({ "route": one.id, "options": [], "reason": error.message }));
            }
            Ok(options) => {
                if options.iter().any(|option| !option.seams.is_empty()) {
                    to_settle.get_or_insert(&one.id);
                }
                for (at, option) in options.iter().enumerate() {
                    tell(at + 1, option, reading.shop.book.units, setting.printer);
                }
                let options: Vec<Value> = options.iter().map(option_json).collect();
                answer.push(json!({ "route": one.id, "options": options, "reason": null }));
            }
        }
    }
    if let Some(id) = to_settle {
        setting.printer.line(format!(
            "settle one: underlit split {} {} --route {id} --option 1, or draw your own seams with --seam",
            args.project, args.panel
        ));
    }
    setting.printer.json(&json!({ "project": args.project, "panel": args.panel, "routes": answer }));
    Ok(Exit::Done)
}

/// One option, for programs.
pub(crate) fn option_json(option: &SplitOption) -> Value {
    let seam = |s: &shape::Seam| json!({ "from_mm": [s.from.x, s.from.y], "to_mm": [s.to.x, s.to.y], "on_joint": s.on_joint });
    let piece = |p: &shape::Piece| json!({ "area_mm2": p.area_mm2, "turned_deg": p.placement.turned_rad.to_degrees() });
    json!({
        "pieces": option.pieces.iter().map(piece).collect::<Vec<_>>(),
        "seams": option.seams.iter().map(seam).collect::<Vec<_>>(),
        "seam_length_mm": option.seam_length_mm,
        "seams_off_joints": option.seams_off_joints(),
        "acknowledgement": option.acknowledgement(),
    })
}

/// One option: its pieces, its seams and where they run.
pub(crate) fn tell(number: usize, option: &SplitOption, units: DisplayUnits, printer: &Printer) {
    let show = |mm: f64| units.show(Millimetres(mm));
    if option.seams.is_empty() {
        printer.line(format!("  option {number}: it fits whole, without seams"));
        return;
    }
    let largest = option
        .pieces
        .iter()
        .map(|p| (p.placement.width_mm, p.placement.height_mm))
        .fold((0.0, 0.0), |a: (f64, f64), b| if a.0 * a.1 >= b.0 * b.1 { a } else { b });
    let off = match option.seams_off_joints() {
        0 => "all on the stone's joints".to_owned(),
        off => format!("{off} not on a stone joint"),
    };
    printer.line(format!(
        "  option {number}: {}, {} of {} in all, {off}; largest piece {} × {}",
        counted(option.pieces.len(), "piece", "pieces"),
        counted(option.seams.len(), "seam", "seams"),
        show(option.seam_length_mm),
        show(largest.0),
        show(largest.1)
    ));
    for (at, seam) in option.seams.iter().enumerate() {
        printer.line(format!(
            "    seam {}: from ({}, {}) to ({}, {}), {} long",
            at + 1,
            show(seam.from.x),
            show(seam.from.y),
            show(seam.to.x),
            show(seam.to.y),
            show(seam.length_mm())
        ));
    }
}

/// Write the exact outline of a panel for the cutter: DXF and SVG, piece by piece where it is split.
///
/// Layers: OUTLINE and CUTOUTS are cut, ETCHING is etched, MARKS say where things go, and JOINTS show the stone's joints
/// over the piece: nothing is cut along them, and the layer is not plotted.
///
/// Example: underlit cut quay-desk front --into cut
#[derive(Debug, clap::Args)]
pub(crate) struct CutArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// The folder to write into.
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
}

pub(crate) fn cut(args: &CutArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let snapshot = reading.project(&args.project)?;
    let files = cut_files(&reading, &snapshot, &args.panel)?;
    let io = |e: std::io::Error| vec![io_fault(&args.into.display().to_string(), "write", &e)];
    if !setting.around.dry_run {
        fs::create_dir_all(&args.into).map_err(io)?;
        for file in &files {
            write_whole(&args.into.join(&file.name), &file.bytes).map_err(io)?;
        }
    }
    if !crate::gates::may_be_built(&reading.case(&snapshot), &args.panel) {
        setting
            .printer
            .remark(format!("note: {} is not released; nothing is cut from these files yet", args.project));
    }
    for file in &files {
        setting.done(format!("wrote {}", args.into.join(&file.name).display()));
    }
    let written: Vec<PathBuf> = files.iter().map(|file| args.into.join(&file.name)).collect();
    setting.printer.json(&json!({ "project": args.project, "panel": args.panel, "files": written }));
    Ok(Exit::Done)
}

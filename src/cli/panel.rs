//! `panel`: the panels of a project, each with its stone and its outline.

use std::path::PathBuf;

use super::drawing_args::{DrawingArgs, doubtful_size};
use super::failure::{Exit, Outcome};
use super::panel_facts::FactArgs;
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::advice;
use crate::gates::off_panel::{OffPanel, off_panel};
use crate::gates::standing::goes_stale;
use crate::ids::{PanelId, ProjectId, SwatchId};
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::ops::{Desk, outline, record};
use crate::power::vocabulary::Place;
use crate::shape::{Outline, ShapeClass, figures};
use crate::size::Size;
use crate::store::Changes;
use crate::units::Millimetres;
use crate::words;
use crate::words::Face;

/// The panels of a project.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum PanelVerb {
    /// List a panel with its stone and its outline.
    ///
    /// Example: underlit panel add quay-bar front --title "Bar front" --swatch honey --size 2400mmx900mm
    Add(Box<Args>),
    /// Change a panel: its outline, stone, place or title.
    ///
    /// Example: underlit panel change desk front --outline desk-rev-b.dxf
    Change(Box<Args>),
    /// List the panels of a schedule: a workbook (.xlsx) or a CSV file with a row for each place. Rows of one mark become one panel with its
    /// quantity. Nothing is made where a row does not fit.
    ///
    /// Example: underlit panel import guesthouse schedule.csv --unit mm --column mark="Type mark"
    Import(super::panel_import::Args),
    /// Say what a panel's drawing is the outline of, and what lies between its sizes; the others follow, with a cut file for
    /// each.
    ///
    /// Example: underlit panel sizes quay-bar front --outline-is clear-opening --fit bar-front
    Sizes(super::panel_sizes::Args),
    /// Show how even a panel's light would be, by a model, for its lit edges or for others.
    ///
    /// Example: underlit panel evenness quay-bar front --edges 1,2,3 --picture three-edges.png
    Evenness(super::light_picture::Args),
    /// Record what a panel's outline was made from: a drawing, a template or a survey, by whom and when.
    ///
    /// Example: underlit panel basis quay-bar front template --by "Quarry Lane Masonry" --date 2026-10-05
    Basis(super::panel_site::BasisArgs),
    /// Record the very slab that will lie over a panel: its lot, a lit photo or trial of it, its backing and fills. What is not
    /// given stays.
    ///
    /// Example: underlit panel slab quay-bar front --lot "B-17, slab 4" --photo slab.jpg --backing "glass-fibre mesh"
    Slab(super::panel_site::SlabArgs),
    /// Etch a text into a panel: its letters become closed lines of the drawing, spaced as the font's maker spaced them.
    ///
    /// Example: underlit panel etch quay-bar front --text HOUSE --text "No. 12" --height 40mm --at 1200mm,400mm --align middle --depth 1.5mm
    Etch(super::panel_etch::Args),
    /// Take a panel out.
    ///
    /// Example: underlit panel remove quay-bar front
    Remove(Named),
}

/// A panel of a project.
#[derive(Debug, clap::Args)]
pub(crate) struct Named {
    /// The project.
    project: ProjectId,
    /// The panel's short name.
    panel: PanelId,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    named: Named,
    /// What people call it.
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// The swatch of the stone that lies over it.
    #[arg(long, value_name = "SWATCH")]
    swatch: Option<SwatchId>,
    #[command(flatten)]
    shape: Shape,
    #[command(flatten)]
    drawing: DrawingArgs,
    #[command(flatten)]
    facts: FactArgs,
    /// How wet the place is: dry, damp or wet.
    #[arg(long)]
    place: Option<Place>,
    /// The faces in question until one is chosen: diffused, clear.
    #[arg(long, value_name = "FACE", value_delimiter = ',')]
    faces: Vec<Face>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Where the outline comes from.
#[derive(Debug, clap::Args)]
#[group(multiple = false)]
struct Shape {
    /// A drawing of the outline: .dxf, .svg or .json.
    #[arg(long, value_name = "FILE")]
    outline: Option<PathBuf>,
    /// A rectangle of this width and height.
    #[arg(long, value_name = "SIZE")]
    size: Option<Size>,
    /// A circle of this diameter.
    #[arg(long, value_name = "LENGTH")]
    diameter: Option<Millimetres>,
}

pub(crate) fn run(verb: &PanelVerb, setting: &Setting<'_>) -> Outcome {
    match verb {
        PanelVerb::Add(args) => add(args, &setting.desk()?, setting),
        PanelVerb::Change(args) => change(args, &setting.desk()?, setting),
        PanelVerb::Import(args) => super::panel_import::run(args, setting),
        PanelVerb::Sizes(args) => super::panel_sizes::run(args, setting),
        PanelVerb::Evenness(args) => super::light_picture::of_panel(args, setting),
        PanelVerb::Etch(args) => super::panel_etch::run(args, setting),
        PanelVerb::Basis(args) => super::panel_site::basis(args, setting),
        PanelVerb::Slab(args) => super::panel_site::slab(args, setting),
        PanelVerb::Remove(named) => remove(named, &setting.desk()?, setting),
    }
}

fn remove(named: &Named, desk: &Desk<'_>, setting: &Setting<'_>) -> Outcome {
    let (folder, path) = place(named, desk)?;
    let panel: Panel = record::existing(&desk.reading, &path, Kind::Panel)?;
    let slab = panel.slab.as_ref().and_then(|slab| slab.photo.as_ref());
    let mut beside: Vec<String> = std::iter::once(&panel.outline)
        .chain(&panel.signed_outlines)
        .chain(slab)
        .map(|file| format!("{folder}/{}", file.file))
        .collect();
    let drawn = format!("projects/{}/renderings/{}", named.project, named.panel);
    let names = desk.reading.book.names(&drawn)?;
    beside.extend(names.into_iter().map(|name| format!("{drawn}/{name}")));
    let message = format!("{}: removes panel {}\n", named.project, named.panel);
    record::remove(desk, &path, Kind::Panel, &beside, &message)?;
    setting.done(format!("removed panel {}", named.panel));
    setting.wrote(&named.project, Kind::Panel, Some(named.panel.as_str()), &path);
    Ok(Exit::Done)
}

fn place(named: &Named, desk: &Desk<'_>) -> Result<(String, String), Vec<Fault>> {
    let project = desk.reading.book.project(&named.project)?;
    let folder = format!("{project}/panels");
    let path = format!("{folder}/{}.json", named.panel);
    Ok((folder, path))
}

fn add(args: &Args, desk: &Desk<'_>, setting: &Setting<'_>) -> Outcome {
    let (folder, path) = place(&args.named, desk)?;
    let mut changes = Changes::new();
    let outline = outline_of(args, &folder, setting, &mut changes)?;
    let (Some(swatch), Some((outline, drawn))) = (&args.swatch, outline) else {
        return Err(vec![Fault::usage("missing-argument", "a new panel needs its stone and its outline")]);
    };
    known_swatch(&args.named.project, swatch, desk)?;
    let mut panel = Panel {
        title: args.title.clone().unwrap_or_else(|| args.named.panel.to_string()),
        place: args.place.unwrap_or(Place::Dry),
        faces_considered: if args.faces.is_empty() { vec![Face::Diffused] } else { args.faces.clone() },
        note: args.note.clone(),
        ..Panel::of(args.named.panel.clone(), swatch.clone(), outline)
    };
    args.facts.put_into(&mut panel, Some(&drawn)).map_err(|f| vec![f])?;
    let off = must_lie_on(&panel, &drawn, &folder).map_err(|f| vec![f])?;
    let message = format!("{}: lists panel {}: {}\n", args.named.project, panel.id, panel.title);
    record::add(desk, &path, Kind::Panel, &panel, changes, &message)?;
    setting.done(format!("listed panel {}", panel.id));
    describe(&drawn, &panel, desk, setting);
    tell_off(&off, setting);
    if args.place.is_none() {
        setting.printer.line(format!(
            "  assumed in a dry place; if it is damp or wet: underlit panel change {} {} --place wet",
            args.named.project, panel.id
        ));
    }
    setting.wrote(&args.named.project, Kind::Panel, Some(panel.id.as_str()), &path);
    Ok(Exit::Done)
}

fn change(args: &Args, desk: &Desk<'_>, setting: &Setting<'_>) -> Outcome {
    let (folder, path) = place(&args.named, desk)?;
    let mut changes = Changes::new();
    let outline = outline_of(args, &folder, setting, &mut changes)?;
    if let Some(swatch) = &args.swatch {
        known_swatch(&args.named.project, swatch, desk)?;
    }
    let (attachment, drawn) = match outline {
        Some((attachment, drawn)) => (Some(attachment), Some(drawn)),
        None => (None, None),
    };
    let before = desk.reading.project(&args.named.project)?;
    let known = before
        .panels
        .get(&args.named.panel)
        .and_then(|panel| Some(before.drawing_of(&panel.id)?.as_drawn(panel)));
    let signed = match (&attachment, before.panels.get(&args.named.panel)) {
        (Some(next), Some(panel)) => {
            Some(outline::keep_signed(&desk.reading, &before, panel, next.sha256, &mut changes)?)
        }
        _ => None,
    };
    let mut off = Vec::new();
    let panel: Panel = record::change(
        desk,
        &path,
        Kind::Panel,
        changes,
        |p: &Panel| {
            let what = if attachment.is_some() { "the outline of panel" } else { "panel" };
            format!("{}: changes {what} {}\n", args.named.project, p.id)
        },
        |p| {
            if let Some(title) = &args.title {
                p.title.clone_from(title);
            }
            if let Some(swatch) = &args.swatch {
                p.swatch = swatch.clone();
            }
            if let Some(outline) = &attachment {
                p.outline = outline.clone();
                p.signed_outlines = signed.unwrap_or_default();
            }
            p.place = args.place.unwrap_or(p.place);
            if !args.faces.is_empty() {
                p.faces_considered.clone_from(&args.faces);
            }
            if args.note.is_some() {
                p.note.clone_from(&args.note);
            }
            args.facts.put_into(p, drawn.as_ref().or(known))?;
            if let Some(outline) = drawn.as_ref().or(known.filter(|_| args.facts.has_ribs())) {
                off = must_lie_on(p, outline, &folder)?;
            }
            Ok(())
        },
    )?;
    setting.done(format!("changed panel {}", panel.id));
    match &drawn {
        Some(drawn) => describe(drawn, &panel, desk, setting),
        None if before.panels.get(&panel.id).and_then(|p| p.quantity) != panel.quantity => {
            say_alike(&panel, setting);
        }
        None => {}
    }
    tell_off(&off, setting);
    let mut after = before.clone();
    after.panels.insert(panel.id.clone(), panel.clone());
    if goes_stale(&desk.reading.case(&before), &desk.reading.case(&after)) {
        setting.printer.line(format!(
            "  earlier signatures on this panel are now stale: underlit status {}",
            args.named.project
        ));
    }
    setting.wrote(&args.named.project, Kind::Panel, Some(panel.id.as_str()), &path);
    Ok(Exit::Done)
}

/// The outline that the arguments give, put beside the record as the book's own JSON.
fn outline_of(
    args: &Args,
    folder: &str,
    setting: &Setting<'_>,
    changes: &mut Changes,
) -> Result<Option<(Attachment, Outline)>, Vec<Fault>> {
    let outline = match (&args.shape.outline, args.shape.size, args.shape.diameter) {
        (Some(file), _, _) => {
            let reading = args.drawing.read_for_panel(file, setting.printer, setting.around.dry_run)?;
            reading.remarks.iter().for_each(|r| setting.printer.remark(format!("note: {r}")));
            reading.outline
        }
        (_, Some(size), _) => Outline::rectangle(size.width.0, size.height.0),
        (_, _, Some(diameter)) => Outline::circle(diameter.0),
        (None, None, None) => return Ok(None),
    };
    if let Some(doubt) = doubtful_size(&outline) {
        setting.printer.remark(format!("note: {doubt}"));
    }
    let name = format!("{}.outline.json", args.named.panel);
    let bytes = outline::bytes_for_book(&outline);
    let attachment = record::attach_bytes(folder, &name, bytes, changes)?;
    Ok(Some((attachment, outline)))
}

fn known_swatch(project: &ProjectId, swatch: &SwatchId, desk: &Desk<'_>) -> Result<(), Vec<Fault>> {
    let snapshot = desk.reading.project(project)?;
    if snapshot.swatches.contains_key(swatch) {
        return Ok(());
    }
    let known: Vec<&str> = snapshot.swatches.keys().map(SwatchId::as_str).collect();
    Err(vec![
        Fault::usage("unknown-record", format!("there is no swatch {swatch} in {project}")).fix(
            words::instead_of(swatch.as_str(), known, "describe the stone first: underlit swatch add …"),
        ),
    ])
}

/// What of a panel lies off it in part.
///
/// # Errors
/// What lies off it altogether.
fn must_lie_on(panel: &Panel, outline: &Outline, folder: &str) -> Result<Vec<OffPanel>, Fault> {
    let mut off = off_panel(panel, outline);
    match off.iter().position(|one| one.wholly) {
        Some(first) => Err(off.swap_remove(first).fault(folder)),
        None => Ok(off),
    }
}

fn tell_off(off: &[OffPanel], setting: &Setting<'_>) {
    for one in off {
        setting.printer.line(format!("  note: {}; {}", one.message, one.fix));
    }
}

fn say_alike(panel: &Panel, setting: &Setting<'_>) {
    if let Some(count) = panel.quantity {
        setting.printer.line(format!(
            "  {count} alike: one drawing, one choice and one release for all; each has drivers, controls and wiring of its \
             own"
        ));
    }
}

fn describe(outline: &Outline, panel: &Panel, desk: &Desk<'_>, setting: &Setting<'_>) {
    let shop = &desk.reading.shop;
    let units = shop.book.units;
    let length = |mm: f64| units.show(Millimetres(mm));
    let figures = figures(outline);
    let curved = if figures.curved && figures.shape != ShapeClass::Curved { ", curved" } else { "" };
    setting.printer.line(format!(
        "  {}{curved}, {}, {}, edges:",
        figures.shape,
        units.size([figures.width_mm, figures.height_mm].map(Millimetres)),
        units.area(figures.area_mm2)
    ));
    for edge in &figures.edges {
        let radius =
            edge.least_radius_mm.map(|r| format!(", least radius {}", length(r))).unwrap_or_default();
        setting.printer.line(format!(
            "    {}  {}, {}{radius}, from ({}, {})",
            edge.number,
            length(edge.length_mm),
            if edge.is_straight() { "straight" } else { "curved" },
            units.figure(Millimetres(edge.start().x)),
            units.figure(Millimetres(edge.start().y))
        ));
    }
    if !figures.shape.is_plain() || figures.cutouts > 0 || panel.bent.is_some() || panel.etching.is_some() {
        let what = if panel.bent.is_some() || panel.etching.is_some() { "panel" } else { "shape" };
        setting.printer.line(format!(
            "  this {what} needs an exact rendering that is signed (common practice, no source)"
        ));
    }
    say_alike(panel, setting);
    for (place, least, source) in advice::narrow_in(shop, panel, outline) {
        setting.printer.line(format!(
            "  note: {}; at least {} is wanted ({source})",
            place.in_words(shop.book.units),
            shop.book.units.show(least)
        ));
    }
}

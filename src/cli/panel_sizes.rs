//! `panel sizes`: what a panel's drawing is the outline of, and what lies between its sizes.

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::standing::goes_stale;
use crate::ids::{PanelId, ProjectId, StockId};
use crate::job::masses;
use crate::making::routes::Fit;
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::sizes::{SizeOf, Sizes};
use crate::model::snapshot::Drawing;
use crate::ops::outline::unknown_panel;
use crate::ops::{Desk, record};
use crate::shape::figures;
use crate::store::Changes;
use crate::trust::project::shape_fault;
use crate::units::Millimetres;

#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// What the drawing is: stone-edge, clear-opening, finished-panel or light-guide.
    #[arg(long, value_name = "SIZE", required_unless_present = "none")]
    outline_is: Option<SizeOf>,
    /// Take the figures from a fit of the shop's list (`fits` in shop/routes.json).
    #[arg(long, value_name = "FIT")]
    fit: Option<StockId>,
    /// How far the stone reaches beyond the clear opening, on every side.
    #[arg(long, value_name = "LENGTH")]
    stone_over: Option<Millimetres>,
    /// Free between the clear opening and the finished panel on every side.
    #[arg(long, value_name = "LENGTH")]
    clearance: Option<Millimetres>,
    /// Free beside the clearance on every side, so that the panel can grow; by default what its longest piece needs.
    #[arg(long, value_name = "LENGTH")]
    movement: Option<Millimetres>,
    /// What a lit edge takes of the finished panel beside the light guide: tape, channel, frame.
    #[arg(long, value_name = "LENGTH")]
    lit_border: Option<Millimetres>,
    /// The same of an edge that is not lit.
    #[arg(long, value_name = "LENGTH")]
    plain_border: Option<Millimetres>,
    /// How far the light guide stays back from a cut-out.
    #[arg(long, value_name = "LENGTH")]
    cutout_border: Option<Millimetres>,
    /// Edges at which the light guide ends flush, without a border.
    #[arg(long, value_name = "EDGES", value_delimiter = ',')]
    butt: Vec<u32>,
    /// Nothing lies between: the drawing is the light guide, and the stone is as large.
    #[arg(long, conflicts_with_all = ["outline_is", "fit", "stone_over", "clearance", "movement", "lit_border", "plain_border", "cutout_border", "butt"])]
    none: bool,
}

pub(crate) fn run(args: &Args, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let before = desk.reading.project(&args.project)?;
    let Some(panel) = before.panels.get(&args.panel) else {
        return Err(vec![unknown_panel(&before, &args.panel)]);
    };
    let path = format!("{}/panels/{}.json", desk.reading.book.project(&args.project)?, args.panel);
    // A record whose sizes do not work out is put right by other sizes, from its drawing alone.
    let bare = Panel { sizes: None, ..panel.clone() };
    let folder = desk.reading.book.project(&args.project)?;
    let drawn = crate::trust::project::drawing(&desk.reading.book, &folder, &bare).map_err(|f| vec![f])?;
    let found = match args.outline_is {
        None => None,
        Some(outline_is) => {
            let sizes = sizes(args, outline_is, panel, &drawn, &desk)?;
            let worked = drawn.clone().with_sizes(&sizes, &panel.lit_edges);
            let worked = worked.map_err(|e| vec![Fault { line: None, ..shape_fault(&path, &e) }])?;
            Some((sizes, worked))
        }
    };
    let made = found.as_ref().map(|(sizes, _)| sizes.clone());
    let changed: Panel = record::change(
        &desk,
        &path,
        Kind::Panel,
        Changes::new(),
        |p: &Panel| format!("{}: says the sizes of panel {}\n", args.project, p.id),
        |p| {
            p.sizes = made;
            Ok(())
        },
    )?;
    setting.done(format!("changed panel {}", args.panel));
    let units = desk.reading.shop.book.units;
    if let Some((sizes, worked)) = &found {
        for size in SizeOf::ALL {
            let figures = worked.figures_of(*size);
            let as_drawn = if *size == sizes.outline_is { ", as drawn" } else { "" };
            setting.printer.line(format!(
                "  {:14} {}{as_drawn}",
                size.in_words(),
                units.size([figures.width_mm, figures.height_mm].map(Millimetres))
            ));
        }
        let grows = masses::movement_mm(&changed, worked, None);
        setting.printer.line(format!(
            "  grows and shrinks by {} at most; {} free across it",
            units.show(Millimetres(grows)),
            units.show(Millimetres(sizes.room_mm()))
        ));
    }
    let mut after = before.clone();
    if let Some((_, worked)) = found {
        after.drawings.insert(args.panel.clone(), Ok(worked));
    }
    after.panels.insert(args.panel.clone(), changed);
    if goes_stale(&desk.reading.case(&before), &desk.reading.case(&after)) {
        let text =
            format!("  earlier signatures on this panel are now stale: underlit status {}", args.project);
        setting.printer.line(text);
    }
    setting.wrote(&args.project, Kind::Panel, Some(args.panel.as_str()), &path);
    Ok(Exit::Done)
}

/// The figures: as given, else as they are recorded, else from the shop's fit.
fn sizes(
    args: &Args,
    outline_is: SizeOf,
    panel: &Panel,
    drawn: &Drawing,
    desk: &Desk<'_>,
) -> Result<Sizes, Vec<Fault>> {
    let fits = &desk.reading.shop.routes.fits;
    let fit = match &args.fit {
        None => None,
        Some(id) => Some(fits.iter().find(|fit| fit.id == id.as_str()).ok_or_else(|| {
            let known: Vec<&str> = fits.iter().map(|fit| fit.id.as_str()).collect();
            vec![Fault::usage("unknown-fit", format!("the shop has no fit {id}")).fix(
                match known.is_empty() {
                    true => "add it to `fits` in shop/routes.json, or give every figure".to_owned(),
                    false => format!("it has: {}", known.join(", ")),
                },
            )]
        })?),
    };
    let recorded = panel.sizes.as_ref();
    type Of<T> = fn(&T) -> Millimetres;
    let figure = |given: Option<Millimetres>, of_fit: Of<Fit>, of_record: Of<Sizes>, option: &str| {
        given.or(fit.map(of_fit)).or(recorded.map(of_record)).ok_or_else(|| {
            vec![
                Fault::usage("missing-argument", format!("--{option} is not given"))
                    .fix("give every figure, 0mm where there is none, or name a fit of the shop: --fit"),
            ]
        })
    };
    let edges = figures(&drawn.outline).edges.len();
    if let Some(edge) = args.butt.iter().find(|edge| **edge == 0 || **edge as usize > edges) {
        let fault = Fault::usage("unknown-edge", format!("the outline has no edge {edge}"));
        return Err(vec![fault.fix(format!("its edges are numbered 1 to {edges}"))]);
    }
    // Half of what the longest piece grows by, on each side, to the next half millimetre.
    let split = masses::split_of(&desk.reading.shop, panel, drawn);
    let needed = masses::movement_mm(panel, drawn, split.as_ref()).ceil() / 2.0;
    Ok(Sizes {
        outline_is,
        fit: args.fit.clone(),
        stone_over_mm: figure(args.stone_over, |f| f.stone_over_mm, |s| s.stone_over_mm, "stone-over")?,
        clearance_mm: figure(args.clearance, |f| f.clearance_mm, |s| s.clearance_mm, "clearance")?,
        movement_mm: args.movement.unwrap_or(Millimetres(needed)),
        lit_border_mm: figure(args.lit_border, |f| f.lit_border_mm, |s| s.lit_border_mm, "lit-border")?,
        plain_border_mm: figure(
            args.plain_border,
            |f| f.plain_border_mm,
            |s| s.plain_border_mm,
            "plain-border",
        )?,
        cutout_border_mm: figure(
            args.cutout_border,
            |f| f.cutout_border_mm,
            |s| s.cutout_border_mm,
            "cutout-border",
        )?,
        butt_edges: args.butt.clone(),
    })
}

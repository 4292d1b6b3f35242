//! `choose` and `plan`: what is chosen for a panel, and how it is built and powered.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::plan::{PanelPlan, propose};
use crate::making::mount::Mount;
use crate::model::id::{PanelId, ProjectId, StockId};
use crate::model::kind::Kind;
use crate::model::panel::{Panel, PanelLight};
use crate::ops::record;
use crate::shape::figures;
use crate::store::Changes;
use crate::units::{Metres, Millimetres, trimmed};
use crate::words::{Face, LightKind};

/// Choose light, face, lit edges, voltage, mount and control for a panel.
///
/// Edges are named by their numbers in the outline (`underlit panel` shows them), or, for a rectangle, as
/// bottom, right, top, left.
///
/// Example: underlit choose quay-bar front --light static-white --cct 3000 --face diffused --edges top,bottom
/// --volts 24 --mount tray
#[derive(Debug, clap::Args)]
pub(crate) struct ChooseArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// The kind of light: static-white, tunable-white, rgb or rgbw.
    #[arg(long)]
    light: Option<LightKind>,
    /// The colour temperature in kelvin: of the white, or of the setting that was chosen.
    #[arg(long, value_name = "KELVIN")]
    cct: Option<u32>,
    /// The face: diffused or clear.
    #[arg(long)]
    face: Option<Face>,
    /// The edges that carry tape.
    #[arg(long, value_name = "EDGE", value_delimiter = ',')]
    edges: Vec<String>,
    /// The supply voltage of the tape: 12 or 24.
    #[arg(long, value_name = "VOLTS")]
    volts: Option<u32>,
    /// How it is held: tray, removable-stone, framed-front or fixed.
    #[arg(long)]
    mount: Option<Mount>,
    /// The control system or dimmer, from the shop's list.
    #[arg(long, value_name = "CONTROL")]
    control: Option<StockId>,
    /// No control system.
    #[arg(long, conflicts_with = "control")]
    no_control: bool,
}

pub(crate) fn choose(args: &ChooseArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let project = desk.reading.book.project(&args.project).map_err(|f| vec![*f])?;
    let path = format!("{project}/panels/{}.json", args.panel);
    let snapshot = desk.reading.project(&args.project)?;
    let edges = edges_of(args, snapshot.drawing_of(&args.panel).map(|d| &d.outline)).map_err(|f| vec![f])?;
    if let Some(control) = &args.control {
        let controls = &desk.reading.shop.controls;
        if controls.controller(control.as_str()).is_none() && controls.dimmer(control.as_str()).is_none() {
            let known: Vec<&str> = controls
                .controllers
                .iter()
                .map(|c| c.id.as_str())
                .chain(controls.dimmers.iter().map(|d| d.id.as_str()))
                .collect();
            return Err(vec![
                Fault::usage("unknown-control", format!("the shop has no control {control}"))
                    .mend(format!("there are: {}", known.join(", "))),
            ]);
        }
    }
    let panel: Panel = record::change(
        &desk,
        &path,
        Kind::Panel,
        Changes::new(),
        |p: &Panel| format!("{}: chooses for panel {}: {}\n", args.project, p.id, chosen_in_words(p)),
        |p| {
            if args.light.is_some() || args.cct.is_some() {
                let kind = args.light.or(p.light.as_ref().map(|l| l.kind)).ok_or_else(|| {
                    Fault::usage("missing-argument", "a colour temperature belongs to a kind of light")
                        .mend("add --light …")
                })?;
                let cct_k =
                    args.cct.or(p.light.as_ref().and_then(|l| l.cct_k)).filter(|_| kind != LightKind::Rgb);
                if kind == LightKind::Rgb && args.cct.is_some() {
                    return Err(Box::new(
                        Fault::usage("no-cct", "an rgb light has no white, so it has no colour temperature")
                            .mend("leave --cct out, or choose rgbw"),
                    ));
                }
                p.light = Some(PanelLight { kind, cct_k });
            }
            p.face = args.face.or(p.face);
            if let Some(edges) = edges {
                p.lit_edges = edges;
            }
            p.voltage_v = args.volts.or(p.voltage_v);
            p.mount = args.mount.or(p.mount);
            if args.control.is_some() || args.no_control {
                p.control.clone_from(&args.control);
            }
            Ok(())
        },
    )?;
    setting.done(format!("panel {}: {}", panel.id, chosen_in_words(&panel)));
    setting.printer.json(&json!({ "id": panel.id, "file": path }));
    if !setting.around.dry_run {
        let after = desk.reading.project(&args.project)?;
        let case = desk.reading.case(&after);
        let about = format!("panel {}:", panel.id);
        for warning in crate::gates::advice::warnings(&case).iter().filter(|w| w.message.starts_with(&about))
        {
            setting.printer.line(format!("  note: {} ({})", warning.message, warning.source));
        }
    }
    Ok(Exit::Done)
}

fn chosen_in_words(panel: &Panel) -> String {
    let mut parts = Vec::new();
    if let Some(light) = &panel.light {
        parts.push(match light.cct_k {
            Some(k) => format!("{} {k} K", light.kind),
            None => light.kind.to_string(),
        });
    }
    if let Some(face) = panel.face {
        parts.push(format!("{face} face"));
    }
    if !panel.lit_edges.is_empty() {
        let edges: Vec<String> = panel.lit_edges.iter().map(ToString::to_string).collect();
        parts.push(format!("lit edges {}", edges.join(" and ")));
    }
    if let Some(volts) = panel.voltage_v {
        parts.push(format!("{volts} V"));
    }
    if let Some(mount) = panel.mount {
        parts.push(format!("mount {mount}"));
    }
    if let Some(control) = &panel.control {
        parts.push(format!("control {control}"));
    }
    if parts.is_empty() { "nothing yet".into() } else { parts.join(", ") }
}

/// The numbers of the edges that were named.
fn edges_of(args: &ChooseArgs, outline: Option<&crate::shape::Outline>) -> Result<Option<Vec<u32>>, Fault> {
    if args.edges.is_empty() {
        return Ok(None);
    }
    let Some(outline) = outline else {
        return Err(Fault::data("no-outline", "the outline cannot be read, so it has no edges")
            .mend("mend it first: underlit check"));
    };
    let figures = figures(outline);
    let mut numbers = Vec::new();
    for name in &args.edges {
        let named = ["bottom", "right", "top", "left"].iter().position(|n| n == name);
        let number = match (named, name.parse::<usize>()) {
            (Some(at), _) if figures.edges.len() == 4 && figures.edges.iter().all(|e| e.is_straight()) => {
                at + 1
            }
            (None, Ok(number)) if figures.edges.iter().any(|e| e.number == number) => number,
            _ => {
                let edges: Vec<String> = figures
                    .edges
                    .iter()
                    .map(|e| format!("{} ({} mm)", e.number, trimmed(e.length_mm, 0)))
                    .collect();
                return Err(Fault::usage("unknown-edge", format!("the outline has no edge {name}"))
                    .mend(format!("its edges are {}", edges.join(", "))));
            }
        };
        numbers.push(u32::try_from(number).unwrap_or(u32::MAX));
    }
    numbers.sort_unstable();
    numbers.dedup();
    Ok(Some(numbers))
}

/// Work out how a panel is built and powered, and settle it: route, tape, driver, wire.
///
/// What is not named is picked from the shop's lists. `--show` only shows.
///
/// Example: underlit plan quay-bar front --feed-length 8m
#[derive(Debug, clap::Args)]
pub(crate) struct PlanArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// How far it is from driver to panel, one way along the wire, with its unit.
    #[arg(long, value_name = "LENGTH")]
    feed_length: Option<Millimetres>,
    /// The route.
    #[arg(long, value_name = "ROUTE")]
    route: Option<StockId>,
    /// The tape.
    #[arg(long, value_name = "TAPE")]
    tape: Option<StockId>,
    /// The driver.
    #[arg(long, value_name = "DRIVER")]
    driver: Option<StockId>,
    /// The wire.
    #[arg(long, value_name = "WIRE")]
    wire: Option<StockId>,
    /// Forget what was settled before and pick anew.
    #[arg(long)]
    anew: bool,
    /// Show the sums and settle nothing.
    #[arg(long)]
    show: bool,
}

pub(crate) fn plan(args: &PlanArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let project = desk.reading.book.project(&args.project).map_err(|f| vec![*f])?;
    let path = format!("{project}/panels/{}.json", args.panel);
    let snapshot = desk.reading.project(&args.project)?;
    let mut panel: Panel = record::existing(&desk, &path, Kind::Panel)?;
    if args.anew {
        panel.route = None;
        panel.tape = None;
        panel.driver = None;
        panel.wire = None;
    }
    for (given, place) in [
        (&args.route, &mut panel.route),
        (&args.tape, &mut panel.tape),
        (&args.driver, &mut panel.driver),
        (&args.wire, &mut panel.wire),
    ] {
        if given.is_some() {
            place.clone_from(given);
        }
    }
    if let Some(length) = args.feed_length {
        panel.feed_length_m = Some(Metres(length.0 / 1000.0));
    }
    let worked = propose(&desk.reading.shop, &snapshot, &args.panel, &panel);
    if args.show {
        show(&args.panel, &worked, setting);
        return Ok(if worked.route.is_ok() && worked.power.is_ok() { Exit::Done } else { Exit::Blocked });
    }
    let (Ok(route), Ok(power)) = (&worked.route, &worked.power) else {
        show(&args.panel, &worked, setting);
        return Ok(Exit::Blocked);
    };
    let stock = |id: &str| id.parse::<StockId>().map_err(|e| vec![Fault::data("stock-name", format!("{e}"))]);
    panel.route = Some(stock(route)?);
    panel.tape = Some(stock(&power.tape)?);
    panel.driver = Some(stock(&power.driver)?);
    panel.wire = Some(stock(&power.wire)?);
    let message =
        format!("{}: plans panel {}: route {route}, {}\n", args.project, args.panel, power.in_words());
    let settled = panel.clone();
    record::change(
        &desk,
        &path,
        Kind::Panel,
        Changes::new(),
        |_: &Panel| message,
        |p| {
            *p = settled;
            Ok(())
        },
    )?;
    setting.done(format!("planned panel {}", args.panel));
    show(&args.panel, &worked, setting);
    Ok(Exit::Done)
}

fn show(id: &PanelId, plan: &PanelPlan, setting: &Setting<'_>) {
    let printer = setting.printer;
    match &plan.route {
        Ok(route) => printer.line(format!("  route   {route}")),
        Err(reasons) => {
            printer.line("  route   none builds it:");
            reasons.iter().for_each(|r| printer.line(format!("            {r}")));
        }
    }
    match &plan.power {
        Ok(power) => {
            printer.line(format!("  light   {}, {}", power.tape, power.build.in_words()));
            printer.line(format!("  power   {} × {} ({})", power.drivers, power.driver, power.class2));
            printer.line(format!(
                "  wire    {}, {} conductors, {} V ({} %) drop over {} m",
                power.wire,
                power.conductors,
                trimmed(power.drop_v.0, 3),
                trimmed(power.drop_pct, 2),
                trimmed(power.feed_length_m.0, 2)
            ));
            power.remarks.iter().for_each(|r| printer.line(format!("  note    {r}")));
        }
        Err(reasons) => {
            printer.line("  power   not worked out:");
            reasons.iter().for_each(|r| printer.line(format!("            {r}")));
        }
    }
    let power = plan.power.as_ref();
    printer.json(&json!({
        "panel": id,
        "route": plan.route.as_ref().ok(),
        "route_reasons": plan.route.as_ref().err(),
        "power": power.ok().map(|p| json!({
            "tape": p.tape,
            "tape_m": p.build.tape_m.0,
            "watts": p.build.watts.0,
            "exitance_lm_m2": p.build.exitance_lx.0,
            "driver": p.driver,
            "drivers": p.drivers,
            "class2": p.class2,
            "wire": p.wire,
            "conductors": p.conductors,
            "drop_v": p.drop_v.0,
            "drop_pct": p.drop_pct,
            "remarks": p.remarks,
        })),
        "power_reasons": power.err(),
    }));
}

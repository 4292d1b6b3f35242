//! `choose`: what is chosen for a panel.

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::advice;
use crate::gates::verdict::Warning;
use crate::ids::{PanelId, ProjectId, StockId};
use crate::making::mount::{Mount, OpeningWay};
use crate::model::kind::Kind;
use crate::model::panel::{Opening, Panel, PanelLight};
use crate::ops::record;
use crate::power::lights::CctRange;
use crate::shape::figures;
use crate::store::Changes;
use crate::units::{DisplayUnits, Millimetres};
use crate::words;
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
    /// The kind of light: static-white, warm-dim, tunable-white, rgb, rgbw or rgb-tunable-white.
    #[arg(long)]
    light: Option<LightKind>,
    /// The colour temperature in kelvin: of the white, of warm-dim at full, or of the setting that was chosen.
    #[arg(long, value_name = "KELVIN", value_parser = super::value::kelvin::<u32>)]
    cct: Option<u32>,
    /// The least colour rendering index Ra of its white that is asked for; 0 to ask for none.
    #[arg(long, value_name = "RA", value_parser = clap::value_parser!(u32).range(0..=100))]
    cri: Option<u32>,
    /// The colour temperatures over which a tunable white is to be set, the warmest first: 2700,6500. Of warm-dim, that at its
    /// lowest level and that at full: 1800,3000.
    #[arg(long, value_name = "KELVIN,KELVIN", value_parser = cct_range)]
    cct_range: Option<CctRange>,
    /// The level at which it comes on, in percent, at its colour temperature.
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u32).range(1..=100))]
    level: Option<u32>,
    /// The face: diffused or clear.
    #[arg(long)]
    face: Option<Face>,
    /// The edges that carry tape.
    #[arg(long, value_name = "EDGE", value_delimiter = ',')]
    edges: Vec<String>,
    /// The supply voltage of the tape: 12 or 24.
    #[arg(long, value_name = "VOLTS", value_parser = super::value::volts::<u32>)]
    volts: Option<u32>,
    /// How it is held: tray, removable-stone, framed-front or fixed.
    #[arg(long)]
    mount: Option<Mount>,
    /// How it is opened for service: tray, rear, hinged or lifted-off.
    #[arg(long, value_name = "WAY")]
    opening: Option<OpeningWay>,
    /// The edge over which the tray comes out, or along which the hinges sit.
    #[arg(long, value_name = "EDGE", requires = "opening")]
    opening_edge: Option<u32>,
    /// The control system or dimmer, from the shop's list.
    #[arg(long, value_name = "CONTROL")]
    control: Option<StockId>,
    /// No control system.
    #[arg(long, conflicts_with = "control")]
    no_control: bool,
}

pub(crate) fn choose(args: &ChooseArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let project = desk.reading.book.project(&args.project)?;
    let path = format!("{project}/panels/{}.json", args.panel);
    let snapshot = desk.reading.project(&args.project)?;
    let outline = snapshot.drawing_of(&args.panel).map(|d| &d.outline);
    let edges = edges_of(args, outline, desk.reading.shop.book.units).map_err(|f| vec![f])?;
    if let (Some(edge), Some(outline)) = (args.opening_edge, outline) {
        let edges = figures(outline).edges;
        if !edges.iter().any(|e| e.number == edge as usize) {
            let numbers: Vec<String> = edges.iter().map(|e| e.number.to_string()).collect();
            return Err(vec![
                Fault::usage("unknown-edge", format!("the outline has no edge {edge}"))
                    .fix(format!("its edges are {}", numbers.join(", "))),
            ]);
        }
    }
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
                    .fix(words::instead_of(control.as_str(), known, "list it first in shop/controls.json")),
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
            let of_light = args.light.is_some() || args.cct.is_some() || args.cri.is_some();
            if of_light || args.cct_range.is_some() || args.level.is_some() {
                let kind = args.light.or(p.light.as_ref().map(|l| l.kind)).ok_or_else(|| {
                    Fault::usage(
                        "missing-argument",
                        "a colour temperature or rendering index belongs to a kind of light",
                    )
                    .fix("add --light …")
                })?;
                let full = args.cct_range.filter(|_| kind == LightKind::WarmDim).map(|range| range.coolest);
                let cct_k = args
                    .cct
                    .or(full)
                    .or(p.light.as_ref().and_then(|l| l.cct_k))
                    .filter(|_| kind != LightKind::Rgb);
                if kind == LightKind::Rgb && args.cct.is_some() {
                    return Err(Box::new(
                        Fault::usage("no-cct", "an rgb light has no white, so it has no colour temperature")
                            .fix("leave --cct out, or choose rgbw"),
                    ));
                }
                let asked = args.cri.or(p.light.as_ref().and_then(|l| l.least_ra));
                let least_ra = asked.filter(|ra| *ra > 0 && kind != LightKind::Rgb);
                if kind == LightKind::Rgb && args.cri.is_some_and(|ra| ra > 0) {
                    return Err(Box::new(
                        Fault::usage(
                            "no-cri",
                            "an rgb light has no white, so it has no colour rendering index",
                        )
                        .fix("leave --cri out, or choose rgbw"),
                    ));
                }
                let before = p.light.as_ref().filter(|before| before.kind == kind);
                let cct_range_k = range(args, kind, cct_k)?.or(before.and_then(|before| before.cct_range_k));
                let level_pct = args.level.or(before.and_then(|before| before.level_pct));
                p.light = Some(PanelLight { kind, cct_k, least_ra, cct_range_k, level_pct });
            }
            p.face = args.face.or(p.face);
            if let Some(edges) = edges {
                p.lit_edges = edges;
            }
            p.voltage_v = args.volts.or(p.voltage_v);
            p.mount = args.mount.or(p.mount);
            if let Some(way) = args.opening {
                p.opening = Some(Opening { way, edge: args.opening_edge });
            }
            if args.control.is_some() || args.no_control {
                p.control.clone_from(&args.control);
            }
            Ok(())
        },
    )?;
    setting.done(format!("panel {}: {}", panel.id, chosen_in_words(&panel)));
    setting.wrote(&args.project, Kind::Panel, Some(panel.id.as_str()), &path);
    if !setting.around.dry_run {
        let after = desk.reading.project(&args.project)?;
        let case = desk.reading.case(&after);
        // What was said of the choice before is not said again.
        let known = advice::of_each(&desk.reading.case(&snapshot));
        let new = |w: &&Warning| w.panels.contains(&panel.id) && !known.contains(w);
        for warning in advice::of_each(&case).iter().filter(new) {
            setting.printer.line(format!("  note: {} ({})", warning.in_words(), warning.source));
        }
    }
    Ok(Exit::Done)
}

/// Two colour temperatures, the warmest first.
fn cct_range(text: &str) -> Result<CctRange, String> {
    let (warmest, coolest) = text
        .split_once(',')
        .ok_or_else(|| "give the warmest and the coolest, in kelvin: 2700,6500".to_owned())?;
    Ok(CctRange { warmest: super::value::kelvin(warmest)?, coolest: super::value::kelvin(coolest)? })
}

/// The range of a light that has one, where one is given; its setting lies within it, at its coolest end for warm-dim.
fn range(args: &ChooseArgs, kind: LightKind, cct_k: Option<u32>) -> Result<Option<CctRange>, Box<Fault>> {
    let Some(CctRange { warmest, coolest }) = args.cct_range else { return Ok(None) };
    let flaw = if !kind.has_cct_range() {
        format!("{kind} has no range of colour temperatures")
    } else if warmest >= coolest {
        "the warmest of a range is below the coolest".to_owned()
    } else if let Some(k) = cct_k.filter(|k| !(warmest..=coolest).contains(k)) {
        format!("{k} K is outside the range")
    } else if let Some(k) = cct_k.filter(|k| kind == LightKind::WarmDim && *k != coolest) {
        format!("warm-dim is {coolest} K at full by its range, and {k} K is chosen")
    } else {
        return Ok(args.cct_range);
    };
    Err(Box::new(
        Fault::usage("cct-range", flaw)
            .fix("give the warmest and the coolest: for tunable-white and rgb-tunable-white --cct-range 2700,6500 --cct 3000, a setting between; for warm-dim --cct-range 1800,3000, the coolest at full"),
    ))
}

fn chosen_in_words(panel: &Panel) -> String {
    let mut parts = Vec::new();
    if let Some(light) = &panel.light {
        parts.push(format!("{} {}", light.kind, light.white_in_words()).trim_end().to_owned());
        parts.extend(light.least_ra.map(|ra| format!("Ra {ra} or more")));
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
    if let Some(opening) = &panel.opening {
        parts.push(format!("opened {}", opening.in_words()));
    }
    if let Some(control) = &panel.control {
        parts.push(format!("control {control}"));
    }
    if parts.is_empty() { "nothing yet".into() } else { parts.join(", ") }
}

/// The numbers of the edges that were named.
fn edges_of(
    args: &ChooseArgs,
    outline: Option<&crate::shape::Outline>,
    units: DisplayUnits,
) -> Result<Option<Vec<u32>>, Fault> {
    if args.edges.is_empty() {
        return Ok(None);
    }
    let Some(outline) = outline else {
        return Err(Fault::data("no-outline", "the outline cannot be read, so it has no edges")
            .fix("fix it first: underlit check"));
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
                    .map(|e| format!("{} ({})", e.number, units.show(Millimetres(e.length_mm))))
                    .collect();
                return Err(Fault::usage("unknown-edge", format!("the outline has no edge {name}"))
                    .fix(format!("its edges are {}", edges.join(", "))));
            }
        };
        numbers.push(u32::try_from(number).unwrap_or(u32::MAX));
    }
    numbers.sort_unstable();
    numbers.dedup();
    Ok(Some(numbers))
}

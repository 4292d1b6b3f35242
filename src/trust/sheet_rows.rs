//! What a panel's sheet says besides its choice: how it is fed, fitted, bent and etched.

use crate::job::Case;
use crate::job::plan::bend::across_mm;
use crate::making::bending::Forming;
use crate::model::panel::{Bend, BendAxis, Floor, Panel, Position, Seam, Supply};
use crate::model::sizes::SizeOf;
use crate::model::snapshot::Drawing;
use crate::power::vocabulary::{Location, Place};
use crate::shape::{self, MarkKind};
use crate::units::{DisplayUnits, Millimetres, trimmed};

/// The name of the view by how the face stands once fitted.
pub(crate) fn view_name(panel: &Panel) -> &'static str {
    match panel.position {
        Some(Position::Upright) => "Front view",
        Some(Position::Level | Position::Underfoot) => "Top view",
        Some(Position::Overhead) => "View from below",
        None => "View of the face",
    }
}

/// Label and text of each row, in the order of the sheet.
pub(crate) fn rows(
    units: DisplayUnits,
    control: Option<&str>,
    panel: &Panel,
    drawing: &Drawing,
) -> Vec<(String, String)> {
    let outline = &drawing.outline;
    let marked = |kind: MarkKind| outline.marks.iter().any(|m| m.kind == kind);
    let edge_or_mark = |edge: Option<u32>, kind: MarkKind| match edge {
        Some(number) => Some(format!("edge {number}")),
        None => marked(kind).then(|| "as marked".to_owned()),
    };
    let rows = [
        (
            "Colour rendering",
            panel.light.as_ref().and_then(|l| l.least_ra).map(|ra| format!("Ra {ra} or more")),
        ),
        ("Voltage", panel.voltage_v.map(|v| format!("{v} V d.c."))),
        ("Control", control.map(str::to_owned)),
        ("Place", Some(place(panel.place).to_owned())),
        ("Driver", Some(panel.supply.as_ref().map_or_else(|| "its place is not settled yet".into(), driver))),
        (
            "Lead leaves at",
            edge_or_mark(panel.lead_edge, MarkKind::CableExit).map(|at| match panel.lead_at_mm {
                Some(along) => format!("{at}, {} from its start", units.show_both(along)),
                None => at,
            }),
        ),
        ("Up once fitted", edge_or_mark(panel.up_edge, MarkKind::Top)),
        (
            "Veins",
            panel.vein_deg.map(|deg| match deg {
                0.0 => "run across the drawing, along x".into(),
                90.0 => "run up the drawing, along y".into(),
                _ => format!("run at {}° to x, counter-clockwise", trimmed(deg, 1)),
            }),
        ),
        ("Ribs", (!panel.ribs.is_empty()).then(|| ribs(units, &panel.ribs))),
        ("Bent", panel.bent.as_ref().map(|bend| bent(units, bend, drawing))),
        ("Walked on", panel.floor.as_ref().map(Floor::in_words)),
        ("Etched", panel.etching.as_ref().map(|words| etched(units, words, panel, drawing))),
    ];
    let mut rows: Vec<(String, String)> =
        rows.into_iter().filter_map(|(name, text)| Some((name.to_owned(), text?))).collect();
    rows.extend(sizes(units, panel, drawing));
    rows
}

/// How a panel is bent, and what that comes to.
fn bent(units: DisplayUnits, bend: &Bend, drawing: &Drawing) -> String {
    let axis = match bend.axis {
        BendAxis::Upright => "y",
        BendAxis::Level => "x",
    };
    let formed = match bend.formed {
        None => "",
        Some(Forming::Cold) => "cold, ",
        Some(Forming::Heat) => "by heat, ",
    };
    let face = bend.face.map_or_else(String::new, |face| format!("; the face is {face}"));
    let found = shape::bend(across_mm(bend, drawing).0, bend.radius_mm.0);
    let both = |mm: f64| units.show_both(Millimetres(mm));
    format!(
        "{formed}to a radius of {} about an axis along {axis}; drawn flat{face}. {}° of a turn, {} across the chord, {} deep",
        units.show_both(bend.radius_mm),
        trimmed(found.turn_deg, 1),
        both(found.chord_mm),
        both(found.rise_mm)
    )
}

/// Where the ribs behind a panel lie, in the drawing's coordinates.
fn ribs(units: DisplayUnits, ribs: &[Seam]) -> String {
    let both = |mm: Millimetres| units.show_both(mm);
    let one = |Seam { from_mm: [x, y], to_mm: [to_x, to_y] }: &Seam| match (x == to_x, y == to_y) {
        (true, false) => format!("x {}", both(*x)),
        (false, true) => format!("y {}", both(*y)),
        _ => format!("x {}, y {} to x {}, y {}", both(*x), both(*y), both(*to_x), both(*to_y)),
    };
    ribs.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// What is etched, how deep and how long.
fn etched(units: DisplayUnits, words: &str, panel: &Panel, drawing: &Drawing) -> String {
    let mut parts = vec![words.to_owned()];
    parts.extend(panel.etching_depth_mm.map(|depth| format!("{} deep", units.show_both(depth))));
    let length = drawing.figures.etch_length_mm;
    if length > 0.0 {
        parts.push(format!("{} of line, as drawn", units.show_both(Millimetres(length))));
        parts.push("check every letter: this sheet is the proof".into());
    }
    parts.join("; ")
}

/// The sizes around the light guide, which is what the sheet shows.
fn sizes(units: DisplayUnits, panel: &Panel, drawing: &Drawing) -> Vec<(String, String)> {
    let Some(sizes) = &panel.sizes else { return Vec::new() };
    let row = |size: &SizeOf| {
        let figures = drawing.figures_of(*size);
        let drawn = if *size == sizes.outline_is { ", as the client drew it" } else { "" };
        let text = format!(
            "{} × {}{drawn}",
            units.show_both(Millimetres(figures.width_mm)),
            units.show_both(Millimetres(figures.height_mm))
        );
        let mut label = size.in_words().to_owned();
        label[..1].make_ascii_uppercase();
        (label, text)
    };
    SizeOf::ALL.iter().map(row).collect()
}

/// A control system as the shop's list names it.
pub(crate) fn control(case: &Case<'_>, id: &str) -> String {
    let controls = &case.shop.controls;
    let name = controls.controller(id).map(|c| &c.name).or_else(|| controls.dimmer(id).map(|d| &d.name));
    name.map_or_else(|| id.to_owned(), |name| format!("{name} ({id})"))
}

fn place(place: Place) -> &'static str {
    match place {
        Place::Dry => "dry",
        Place::Damp => "damp",
        Place::Wet => "wet",
    }
}

fn driver(supply: &Supply) -> String {
    let where_it_is = match supply.location {
        Location::InWallBox => "in a box in the wall",
        Location::Remote => "remote, ventilated, accessible",
    };
    format!("{where_it_is}, {} place", place(supply.place))
}

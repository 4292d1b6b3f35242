//! What to order for a job: the net bill with the shop's allowances, whole stock sheets, and the joints of pieces and
//! tapes, which stand in no bill of finished things.
//!
//! None of it is sealed: it follows from the sealed data and the shop's allowances, and buying more or less changes
//! nothing that is built. What the shop does not state is taken as said in `Taken`, and marked so.

use std::collections::BTreeMap;

use serde::Serialize;

use super::data::{PackData, PanelData};
use crate::ids::PanelId;
use crate::job::case::Case;
use crate::job::plan::{JobPlan, pieces};
use crate::making::nesting::nest;
use crate::making::route_fit::usable_sheet;
use crate::making::routes::{Allowances, Layer, Route};
use crate::model::panel::Panel;
use crate::power::connector_choice::{ConnectorRequirement, choose};
use crate::power::vocabulary::Place;
use crate::power::wire_stock::LeadEnd;
use crate::shape::{Sheet, fit};
use crate::units::{Amperes, Metres, Millimetres, trimmed};

/// One line of what to order.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OrderLine {
    /// `tape`, `driver`, `controller`, `dimmer`, `cable`, `connector`, a kind of sheet, `tape-joint`, `seam` or
    /// `seam-adhesive`.
    pub what: String,
    /// The thing, by its name in the shop's list; what it joins where the shop lists none.
    pub id: String,
    /// How much is built in, in `unit`.
    pub net: f64,
    /// `pieces`, `m`, `m2` or `ml`.
    pub unit: String,
    /// How much to order, in `order_unit`.
    pub order: f64,
    /// `pieces`, `m`, `ml` or `sheets`.
    pub order_unit: String,
    /// What the difference is, and where it comes from.
    pub note: String,
}

/// The mark of an allowance that the shop does not state.
const MARK: &str = "common practice, no source";

/// What is taken where the shop states nothing: 10 mm between pieces on a sheet, 5 % more tape, 10 % more cable.
struct Taken<'a>(Option<&'a Allowances>);

impl Taken<'_> {
    fn of(&self, stated: fn(&Allowances) -> Option<f64>, usual: f64) -> (f64, &'static str) {
        match self.0.and_then(stated) {
            Some(own) => (own, "the shop's own"),
            None => (usual, MARK),
        }
    }

    fn gap_mm(&self) -> (f64, &'static str) {
        self.of(|a| a.sheet_gap_mm.map(|mm| mm.0), 10.0)
    }

    fn tape_pct(&self) -> (f64, &'static str) {
        self.of(|a| a.tape_pct, 5.0)
    }

    fn cable_pct(&self) -> (f64, &'static str) {
        self.of(|a| a.cable_pct, 10.0)
    }
}

/// What to order for a job as it was worked out.
#[must_use]
pub fn lines(case: &Case<'_>, job: &JobPlan, data: &PackData) -> Vec<OrderLine> {
    let allowances = case.shop.routes.allowances.as_ref();
    let taken = Taken(allowances);
    let mut out = shared(data, &taken);
    out.extend(tape_joints(case, data));
    out.extend(sheets(case, job, &taken));
    out.extend(seams(case, job, allowances));
    out
}

/// Tape and cable with their allowance, and what is bought by the piece.
fn shared(data: &PackData, taken: &Taken<'_>) -> Vec<OrderLine> {
    let slack_m = |cable: &str| -> f64 {
        let leads = data.circuits.iter().flat_map(|c| &c.leads).filter(|l| l.cable.item.id == cable);
        let count = |id: &str| data.panels.iter().find(|p| p.id == id).map_or(1, PanelData::count);
        leads.map(|lead| (lead.slack_um * count(&lead.panel)) as f64 / 1e6).sum()
    };
    let more = |net: f64, (pct, source): (f64, &str), also: f64| {
        // Up to the next tenth of a metre; a hair of rounding is no tenth.
        let order = (((net + also) * (1.0 + pct / 100.0)) * 10.0 - 1e-6).ceil() / 10.0;
        let loose =
            if also > 0.0 { format!("{} loose for service, ", Metres(also).both()) } else { String::new() };
        (order, format!("{loose}{} % more ({source})", trimmed(pct, 1)))
    };
    let in_pieces = |line: &&super::data::BillData| line.panel.is_none();
    data.bill
        .iter()
        .filter(in_pieces)
        .map(|line| {
            let net = line.quantity_thousandths as f64 / 1000.0;
            let (order, note) = match line.what.as_str() {
                "tape" => more(net, taken.tape_pct(), 0.0),
                "cable" => more(net, taken.cable_pct(), slack_m(&line.item.id)),
                _ => (net, String::new()),
            };
            OrderLine {
                what: line.what.clone(),
                id: line.item.id.clone(),
                net,
                unit: line.unit.clone(),
                order,
                order_unit: line.unit.clone(),
                note,
            }
        })
        .collect()
}

/// What joins the leads to the tapes inside the panels: one joint for each fed end of a tape.
fn tape_joints(case: &Case<'_>, data: &PackData) -> Vec<OrderLine> {
    let mut by_id: BTreeMap<(String, usize), f64> = BTreeMap::new();
    for panel in &data.panels {
        let Some(power) = &panel.power else { continue };
        let conductors = usize::try_from(power.conductors).unwrap_or_default();
        for tape in &power.tapes {
            let amps = tape.power_mw as f64 / power.voltage_mv.max(1) as f64;
            // Fed at both ends, each carries half.
            let conductor_a = Amperes(amps / tape.fed_ends.max(1) as f64);
            let place =
                case.project.panels.iter().find(|(id, _)| id.as_str() == panel.id).map(|(_, p)| p.place);
            let asked = ConnectorRequirement {
                at: LeadEnd::InPanel,
                conductors,
                conductor_a,
                place: place.unwrap_or(Place::Dry),
            };
            let id =
                choose(&case.shop.wire.connectors, &asked).map_or_else(|_| String::new(), |c| c.id.clone());
            *by_id.entry((id, conductors)).or_default() += (tape.fed_ends * panel.count()) as f64;
        }
    }
    let line = |((id, conductors), count): ((String, usize), f64)| {
        let note = match id.is_empty() {
            true => format!(
                "inside the panels, {conductors} conductors each: soldered, or list a connector with `at` in-panel in \
                 shop/wire.json"
            ),
            false => format!("inside the panels, {conductors} conductors each"),
        };
        OrderLine {
            what: "tape-joint".into(),
            id: if id.is_empty() { "soldered".into() } else { id },
            net: count,
            unit: "pieces".into(),
            order: count,
            order_unit: "pieces".into(),
            note,
        }
    };
    by_id.into_iter().map(line).collect()
}

/// The pieces of a panel as rectangles, and the length and number of its seams, in millimetres.
type Pieces = (Vec<(f64, f64)>, f64, usize);

/// The pieces of a panel as rectangles on a sheet of its route, with its seams.
fn pieces_of(case: &Case<'_>, id: &PanelId, panel: &Panel, route: &Route) -> Option<Pieces> {
    let drawing = case.project.drawing_of(id)?;
    if panel.seams.is_empty() {
        let (width, height) = usable_sheet(route);
        let laid = fit(&drawing.outline.outer, Sheet { width_mm: width.0, height_mm: height.0 })?;
        return Some((vec![(laid.width_mm, laid.height_mm)], 0.0, 0));
    }
    let tape = panel.tape.as_ref().and_then(|t| case.shop.lights.get(t.as_str()));
    let split = pieces::settled(route, tape, panel, drawing)?;
    let laid = split.pieces.iter().map(|p| (p.placement.width_mm, p.placement.height_mm)).collect();
    Some((laid, split.seam_length_mm, split.seams.len()))
}

fn routes_of<'c>(
    case: &'c Case<'_>,
    job: &'c JobPlan,
) -> impl Iterator<Item = (&'c PanelId, &'c Panel, &'c Route)> {
    job.panels.iter().filter_map(|(id, plan)| {
        let route = case.shop.routes.get(plan.route.as_ref().ok()?)?;
        Some((id, case.project.panels.get(id)?, route))
    })
}

/// Whole stock sheets for the pieces of all panels together, for each sheet of each route.
fn sheets(case: &Case<'_>, job: &JobPlan, taken: &Taken<'_>) -> Vec<OrderLine> {
    type Cut<'c> = (&'c Layer, &'c Route, Vec<(f64, f64)>, f64);
    let mut by_sheet: BTreeMap<(String, String), Cut<'_>> = BTreeMap::new();
    for (id, panel, route) in routes_of(case, job) {
        let (Some((laid, ..)), Some(face)) = (pieces_of(case, id, panel, route), panel.face) else {
            continue;
        };
        let area = case.project.drawing_of(id).map_or(0.0, |d| d.figures.area_mm2);
        for layer in route.layers_for(face) {
            let key = (format!("{}\u{0}{}", layer.what.word(), layer.id), route.id.clone());
            let cut = by_sheet.entry(key).or_insert_with(|| (layer, route, Vec::new(), 0.0));
            cut.2.extend(std::iter::repeat_n(&laid, panel.count()).flatten());
            cut.3 += area * panel.count() as f64;
        }
    }
    let (gap_mm, source) = taken.gap_mm();
    let units = case.shop.book.units;
    by_sheet
        .into_values()
        .filter_map(|(layer, route, laid, area)| {
            let (width, height) = usable_sheet(route);
            let found = nest(&laid, (width.0, height.0), gap_mm)?;
            let stock = route.sheet_width_mm.0 * route.sheet_height_mm.0 * found.sheets as f64;
            Some(OrderLine {
                what: layer.what.word().into(),
                id: layer.id.clone(),
                net: (area / 1e3).round() / 1e3,
                unit: "m2".into(),
                order: found.sheets as f64,
                order_unit: "sheets".into(),
                note: format!(
                    "of {}, {} cut from them, {} % used; {} between pieces ({source}){}",
                    units.size([route.sheet_width_mm, route.sheet_height_mm]),
                    crate::words::counted(laid.len(), "piece", "pieces"),
                    trimmed(area / stock * 100.0, 0),
                    units.show(Millimetres(gap_mm)),
                    if found.sheets > 1 { "; fewer may do where they are laid by hand" } else { "" }
                ),
            })
        })
        .collect()
}

/// The seams of split panels through all their sheets, and what closes them where the shop says how much it takes.
fn seams(case: &Case<'_>, job: &JobPlan, allowances: Option<&Allowances>) -> Vec<OrderLine> {
    let mut out = Vec::new();
    let mut length_m = 0.0;
    for (id, panel, route) in routes_of(case, job) {
        let Some((_, seam_mm, seams)) = pieces_of(case, id, panel, route).filter(|p| p.2 > 0) else {
            continue;
        };
        let layers = panel.face.map_or(0, |face| route.layers_for(face).count()).max(1);
        let net = (seam_mm * (layers * panel.count()) as f64).round() / 1e3;
        length_m += net;
        out.push(OrderLine {
            what: "seam".into(),
            id: id.to_string(),
            net,
            unit: "m".into(),
            order: net,
            order_unit: "m".into(),
            note: format!(
                "{} of {} through {}{}",
                crate::words::counted(seams, "seam", "seams"),
                Metres(seam_mm / 1e3).both(),
                crate::words::counted(layers, "sheet", "sheets"),
                panel.quantity.map(|n| format!(", {n} times")).unwrap_or_default()
            ),
        });
    }
    if let Some(each) = allowances.and_then(|a| a.seam_adhesive_ml_per_m).filter(|_| length_m > 0.0) {
        let net = (length_m * each * 10.0).round() / 10.0;
        out.push(OrderLine {
            what: "seam-adhesive".into(),
            id: "by-the-metre".into(),
            net,
            unit: "ml".into(),
            order: net.ceil(),
            order_unit: "ml".into(),
            note: format!("{} ml to a metre (the shop's own)", trimmed(each, 2)),
        });
    }
    out
}

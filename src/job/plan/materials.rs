//! What a job takes beside its circuits: the sheets that its panels are made up of, and what joins their leads.
//!
//! Areas are net, without waste. What the shop does not list is counted all the same, and named as open.

use std::collections::BTreeMap;

use super::PanelPlan;
use crate::ids::PanelId;
use crate::making::routes::LayerKind;
use crate::model::panel::{Panel, Supply};
use crate::model::snapshot::{Shop, Snapshot};
use crate::power::circuit_plan::{BillLine, CircuitPlan, Lead};
use crate::power::connector_choice::{ConnectorRequirement, choose};
use crate::power::protection::Protection;
use crate::power::vocabulary::Place;
use crate::power::wire_stock::LeadEnd;
use crate::units::{Amperes, Millimetres};

/// The name under which the bill counts joints for which the shop lists no connector.
pub(crate) const NOT_LISTED: &str = "not-listed";

/// Sheets and connectors of a job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Materials {
    /// The sheets of each panel, from the back to the face; empty where its route lists none.
    pub sheets: BTreeMap<PanelId, Vec<SheetUse>>,
    /// What joins the leads: for each lead, in the order of groups, circuits and leads, its joints.
    pub joints: Vec<Vec<JointUse>>,
}

/// One sheet of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetUse {
    /// What it does.
    pub what: LayerKind,
    /// Its name in the route's list.
    pub id: String,
    /// Its name for people.
    pub name: String,
    /// Its thickness, millimetres.
    pub thickness_mm: Millimetres,
    /// The area of the panel, net of cut-outs, square millimetres.
    pub area_mm2: f64,
    /// How many such sheets there are: one for each panel that is alike.
    pub times: usize,
}

impl SheetUse {
    /// The area of all of them, square metres.
    pub(crate) fn area_m2(&self) -> f64 {
        self.area_mm2 / 1e6 * self.times as f64
    }
}

/// One joint of a lead.
#[derive(Clone, Debug, PartialEq)]
pub struct JointUse {
    /// The end of the lead.
    pub at: LeadEnd,
    /// How many conductors it joins.
    pub conductors: usize,
    /// How many such joints there are: one for each panel that is alike.
    pub times: usize,
    /// The connector by its name in the shop's list, or why none of the list suits.
    pub connector: Result<String, Vec<String>>,
}

/// The sheets and connectors of a job whose panels are planned so.
pub(super) fn of_job(
    shop: &Shop,
    project: &Snapshot,
    panels: &BTreeMap<PanelId, Panel>,
    plans: &BTreeMap<PanelId, PanelPlan>,
    circuits: &CircuitPlan,
) -> Materials {
    let sheets = plans
        .iter()
        .filter_map(|(id, plan)| {
            let route = shop.routes.get(plan.route.as_ref().ok()?)?;
            let area_mm2 = project.drawing_of(id)?.figures.area_mm2;
            let panel = panels.get(id)?;
            let layers = route.layers_for(panel.face?);
            let sheets = layers.map(|layer| SheetUse {
                what: layer.what,
                id: layer.id.clone(),
                name: layer.name.clone(),
                thickness_mm: layer.thickness_mm,
                area_mm2,
                times: panel.count(),
            });
            Some((id.clone(), sheets.collect()))
        })
        .collect();
    let panel = |id: &str| panels.iter().find(|(name, _)| name.as_str() == id).map(|(_, panel)| panel);
    let joints = circuits
        .groups
        .iter()
        .flat_map(|group| &group.circuits)
        .flat_map(|circuit| {
            circuit
                .leads
                .iter()
                .enumerate()
                .map(|(at, lead)| of_lead(shop, lead, panel(&lead.panel), at == 0, circuit.amps))
        })
        .collect();
    Materials { sheets, joints }
}

/// The joints of a lead. The cable from driver to controller is one for all leads of a circuit: its two joints go
/// with the first.
fn of_lead(
    shop: &Shop,
    lead: &Lead,
    panel: Option<&Panel>,
    first: bool,
    circuit_a: Amperes,
) -> Vec<JointUse> {
    let supply = panel.and_then(|p| p.supply.clone()).unwrap_or_else(Supply::taken);
    // What joins a cable carries what its fuse or its output lets through, not its load alone.
    let at_least = |amps: Amperes, protection: Option<&Protection>| {
        Amperes(protection.and_then(Protection::amps).map_or(amps.get(), |most| most.get().max(amps.get())))
    };
    let load_a = Amperes(lead.conductors.iter().map(|c| c.amps.get()).fold(0.0, f64::max));
    let own_a = at_least(load_a, Some(&lead.protection));
    let circuit_a = at_least(circuit_a, lead.controller_protection.as_ref());
    let joint = |at: LeadEnd, conductors: usize, conductor_a: Amperes, place: Place| JointUse {
        at,
        conductors,
        times: panel.map_or(1, Panel::count),
        connector: choose(
            &shop.wire.connectors,
            &ConnectorRequirement { at, conductors, conductor_a, place },
        )
        .map(|connector| connector.id.clone())
        .map_err(|against| {
            let said = |(id, why): &(String, Vec<_>)| {
                format!("{id}: {}", why.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))
            };
            against.iter().map(said).collect()
        }),
    };
    let mut joints = Vec::new();
    if first && lead.controller_cable.is_some() {
        joints.push(joint(LeadEnd::AtSource, 2, circuit_a, supply.place));
        joints.push(joint(LeadEnd::AtSource, 2, circuit_a, supply.control_place()));
    }
    let source = if lead.controller_cable.is_some() { supply.control_place() } else { supply.place };
    joints.push(joint(LeadEnd::AtSource, lead.conductors.len(), own_a, source));
    let wet = panel.map_or(Place::Dry, |p| p.place);
    joints.push(joint(LeadEnd::AtPanel, lead.conductors.len(), own_a, wet));
    joints
}

impl Materials {
    /// What of it is to be bought, by kind and id: sheets in square metres, connectors in pieces.
    #[must_use]
    pub(crate) fn bill(&self) -> Vec<BillLine> {
        let mut lines: Vec<BillLine> = Vec::new();
        for sheet in self.sheets.values().flatten() {
            add(&mut lines, sheet.what.word(), &sheet.id, sheet.area_m2(), "m2");
        }
        lines.sort_by(|a, b| (a.what, &a.id).cmp(&(b.what, &b.id)));
        lines.extend(self.connectors());
        lines
    }

    /// The connectors to be bought, by id.
    #[must_use]
    pub(crate) fn connectors(&self) -> Vec<BillLine> {
        let mut lines: Vec<BillLine> = Vec::new();
        for joint in self.joints.iter().flatten() {
            let id = joint.connector.as_deref().unwrap_or(NOT_LISTED);
            add(&mut lines, "connector", id, joint.times as f64, "pieces");
        }
        lines.sort_by(|a, b| a.id.cmp(&b.id));
        lines
    }

    /// What to know of the joints for which the shop lists nothing that suits.
    #[must_use]
    pub(crate) fn open(&self) -> Vec<String> {
        let mut said: Vec<String> = Vec::new();
        for joint in self.joints.iter().flatten() {
            if let Err(against) = &joint.connector {
                let why = match against.is_empty() {
                    true => "the shop lists none".to_owned(),
                    false => against.join(", "),
                };
                let one = format!(
                    "no connector of {} conductors {}: {why}; add one to `connectors` in shop/wire.json",
                    joint.conductors,
                    joint.at.word().replace('-', " ")
                );
                if !said.contains(&one) {
                    said.push(one);
                }
            }
        }
        said
    }
}

fn add(lines: &mut Vec<BillLine>, what: &'static str, id: &str, quantity: f64, unit: &'static str) {
    match lines.iter_mut().find(|l| l.what == what && l.id == id) {
        Some(line) => line.quantity += quantity,
        None => lines.push(BillLine { what, id: id.to_owned(), quantity, unit }),
    }
}

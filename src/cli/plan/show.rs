//! What `plan` shows: one panel, or the whole job as a table.

use serde_json::{Value, json};

use super::PlanArgs;
use super::why::why;
use crate::cli::setting::Setting;
use crate::ids::PanelId;
use crate::job::Case;
use crate::job::pack::order::OrderLine;
use crate::job::pack::{of_job, order};
use crate::job::plan::materials::JointUse;
use crate::job::plan::{JobPlan, PanelPlan};
use crate::model::panel::Panel;
use crate::model::snapshot::{Shop, Snapshot};
use crate::power::circuit_plan::{CircuitGroup, Lead, PlannedCircuit};
use crate::power::protection::Protection;
use crate::power::vocabulary::CodeRegion;
use crate::units::{DisplayUnits, trimmed};

/// A job that was worked out, and the records that it was worked out from.
pub(super) struct Planned<'a> {
    /// The project as it is recorded.
    pub(super) snapshot: &'a Snapshot,
    /// Its panels, with what the command named.
    pub(super) panels: &'a std::collections::BTreeMap<PanelId, Panel>,
    /// True where the command has settled what is shown.
    pub(super) settled: bool,
    /// What came of it.
    pub(super) job: &'a JobPlan,
}

pub(super) fn show(plan: &PanelPlan, units: DisplayUnits, setting: &Setting<'_>) {
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
            printer.line(format!("  light   {}, {}", power.tape, power.build.in_words(units)));
            printer.line(format!("  power   {} × {} ({})", power.drivers, power.driver, power.class2));
            let slack = match power.slack_m.0 {
                0.0 => String::new(),
                _ => format!(" and {} of slack", units.run(power.slack_m)),
            };
            printer.line(format!(
                "  wire    {}, {} conductors, {} V ({} %) drop over {}{slack}, of it {} V along the tape",
                power.wire,
                power.conductors,
                trimmed(power.drop_v.0, 3),
                trimmed(power.drop_pct, 2),
                units.run(power.feed_length_m),
                trimmed(power.tape_drop_v.0, 3)
            ));
            power.remarks.iter().for_each(|r| printer.line(format!("  note    {r}")));
            power.against.iter().for_each(|r| printer.line(format!("  against {r}")));
        }
        Err(reasons) => {
            printer.line("  power   not worked out:");
            reasons.iter().for_each(|r| printer.line(format!("            {r}")));
        }
    }
}

pub(super) fn panel_json(id: &PanelId, plan: &PanelPlan) -> Value {
    let power = plan.power.as_ref();
    json!({
        "id": id,
        "route": plan.route.as_ref().ok(),
        "route_reasons": plan.route.as_ref().err().into_iter().flatten().collect::<Vec<_>>(),
        "power": power.ok().map(|p| json!({
            "tape": p.tape,
            "tape_m": p.build.tape_m.0,
            "power_w": p.build.watts.0,
            "exitance_lm_m2": p.build.exitance_lx.0,
            "driver": p.driver,
            "drivers": p.drivers,
            "tapes": p.build.tapes.iter().enumerate().map(|(at, tape)| json!({
                "number": at + 1,
                "edge": tape.edge,
                "piece": tape.piece,
                "length_m": tape.length_m.0,
                "fed_ends": tape.feed.ends(),
                "power_w": tape.watts.0,
            })).collect::<Vec<_>>(),
            "outputs": p.outputs.iter().map(|(driver, output)| {
                json!({ "driver_number": driver, "output": output })
            }).collect::<Vec<_>>(),
            "shares_with": p.shares_with,
            "class2": p.class2,
            "wire": p.wire,
            "conductor_count": p.conductors,
            "feed_m": p.feed_length_m.0,
            "slack_m": p.slack_m.0,
            "drop_v": p.drop_v.0,
            "tape_drop_v": p.tape_drop_v.0,
            "drop_pct": p.drop_pct,
            "remarks": p.remarks,
            "against": p.against,
        })),
        "power_reasons": power.err().into_iter().flatten().collect::<Vec<_>>(),
    })
}

/// The whole job as a table: what hangs on each driver output, by which wire, and what to buy.
pub(super) fn show_job(args: &PlanArgs, shop: &Shop, planned: &Planned<'_>, setting: &Setting<'_>) {
    let (snapshot, job) = (planned.snapshot, planned.job);
    let printer = setting.printer;
    let open = |id: &PanelId| {
        let panel = snapshot.panels.get(id);
        panel.is_some_and(|p| p.route.is_none() || p.tape.is_none() || p.driver.is_none() || p.wire.is_none())
    };
    let (units, unit) = (shop.book.units, shop.book.units.run_unit());
    printer.line(format!(
        "panel         route          tape       {:>7} {:>7}  settled",
        format!("tape {unit}"),
        "W"
    ));
    for (id, plan) in &job.panels {
        let route = plan.route.as_ref().map_or("none", String::as_str);
        let (tape, metres, watts) = match &plan.power {
            Ok(p) => (p.tape.as_str(), units.run_figure(p.build.tape_m), trimmed(p.build.watts.0, 1)),
            Err(_) => ("–", "–".into(), "–".into()),
        };
        let settled = if planned.settled || !open(id) && !args.anew { "yes" } else { "no" };
        let alike = snapshot.panels.get(id).and_then(|p| p.quantity);
        let alike = alike.map(|n| format!(", {n} alike, each wired by itself")).unwrap_or_default();
        let settled = format!("{settled}{alike}");
        printer.line(format!("{:12}  {route:13}  {tape:10} {metres:>7} {watts:>7}  {settled}", id.as_str()));
    }
    for (id, plan) in &job.panels {
        let reasons = [("route", plan.route.as_ref().err()), ("power", plan.power.as_ref().err())];
        for (what, why) in reasons.into_iter().filter_map(|(what, why)| Some((what, why?))) {
            printer.line(format!("{what} of panel {id} is not worked out:"));
            why.iter().for_each(|w| printer.line(format!("    {w}")));
        }
    }
    if !job.circuits.groups.is_empty() {
        printer.line("");
        printer.line(format!(
            "driver  output  model               control         panel         tapes       W  load %  wire        \
             {:>6}  drop %  protected by",
            format!("feed {unit}")
        ));
    }
    for (group, circuit, lead) in leads(job) {
        let control = circuit.controller.as_deref().or(group.dimmer.as_deref()).unwrap_or("–");
        let tapes: Vec<String> = lead.tapes.iter().map(|t| (t + 1).to_string()).collect();
        let to = match lead.piece {
            0 => lead.panel.clone(),
            piece => format!("{} piece {piece}", lead.panel),
        };
        printer.line(format!(
            "{:>6}  {:>6}  {:18}  {control:14}  {:12}  {:8} {:>6}  {:>6}  {:11} {:>6}  {:>6}  {}",
            circuit.driver,
            circuit.output,
            group.driver,
            to,
            tapes.join(" "),
            trimmed(lead.watts.0, 1),
            trimmed(circuit.share * 100.0, 0),
            lead.cable,
            units.run_figure(lead.feed_m),
            trimmed(lead.drop_pct, 2),
            lead.protection,
        ));
    }
    for (id, plan) in &job.panels {
        for why in plan.power.iter().flat_map(|power| &power.against) {
            printer.line(format!("against the wiring of panel {id}: {why}"));
        }
    }
    let bill = job.bill();
    if !bill.is_empty() {
        printer.line("");
        printer.line("to buy, without waste:");
        for line in &bill {
            let (amount, unit) = units.amount(line.quantity, line.unit);
            printer.line(format!("  {:11}  {:18} {amount:>8} {unit}", line.what, line.id));
        }
    }
    let case = Case::new(shop, snapshot);
    let order = order::lines(&case, job, &of_job(&case, job));
    if !order.is_empty() {
        printer.line("");
        printer.line("to order, with the shop's allowances:");
        for line in &order {
            let (amount, unit) = units.amount(line.order, &line.order_unit);
            let words = format!("  {:13} {:18} {amount:>8} {unit:6}  {}", line.what, line.id, line.note);
            printer.line(words.trim_end());
        }
    }
    job.materials.open().iter().for_each(|open| printer.line(format!("  open         {open}")));
    let mut explained = Value::Null;
    if args.why {
        let ids: Vec<PanelId> = job.panels.keys().cloned().collect();
        explained = why(shop, snapshot, planned.panels, &ids, setting);
    }
    let panels: Vec<Value> = job.panels.iter().map(|(id, plan)| panel_json(id, plan)).collect();
    let mut joints = job.materials.joints.iter();
    let region = snapshot.project.site.code_region;
    let mut circuits: Vec<Value> = Vec::new();
    for (group, circuit) in job.circuits.groups.iter().flat_map(|g| g.circuits.iter().map(move |c| (g, c))) {
        let of_leads: Vec<&[JointUse]> =
            joints.by_ref().take(circuit.leads.len()).map(Vec::as_slice).collect();
        circuits.push(circuit_json(group, circuit, &of_leads, region));
    }
    let bill: Vec<Value> = bill
        .iter()
        .map(|l| json!({ "what": l.what, "id": l.id, "quantity": l.quantity, "unit": l.unit }))
        .collect();
    let to_order = |l: &OrderLine| {
        json!({
            "what": l.what, "id": l.id, "net_quantity": l.net, "unit": l.unit, "order_quantity": l.order,
            "order_unit": l.order_unit, "note": l.note,
        })
    };
    printer.json(&json!({
        "project": args.project, "panels": panels, "circuits": circuits, "bill": bill,
        "order": order.iter().map(to_order).collect::<Vec<_>>(),
        "weighed": explained,
    }));
}

fn leads(job: &JobPlan) -> impl Iterator<Item = (&CircuitGroup, &PlannedCircuit, &Lead)> {
    job.circuits.groups.iter().flat_map(|group| {
        group
            .circuits
            .iter()
            .flat_map(move |circuit| circuit.leads.iter().map(move |lead| (group, circuit, lead)))
    })
}

fn protection_json(protection: &Protection) -> Value {
    json!({
        "by": protection.code(),
        "fuse": protection.fuse(),
        "limit_a": protection.amps().map(|amps| amps.0),
    })
}

fn circuit_json(
    group: &CircuitGroup,
    circuit: &PlannedCircuit,
    joints: &[&[JointUse]],
    region: Option<CodeRegion>,
) -> Value {
    json!({
        "driver_number": circuit.driver,
        "output": circuit.output,
        "driver": group.driver,
        "class2": group.class2.in_words(region),
        "load_w": circuit.watts.0,
        "load_a": circuit.amps.0,
        "load_share": circuit.share,
        "controller": circuit.controller,
        "dimmer": group.dimmer,
        "fewest_drivers_proven": group.proven_least,
        "leads": circuit.leads.iter().zip(joints).map(|(lead, joints)| json!({
            "joints": joints.iter().map(|joint| json!({
                "end": joint.at,
                "conductor_count": joint.conductors,
                "connector": joint.connector.as_ref().ok(),
            })).collect::<Vec<_>>(),
            "panel": lead.panel,
            "piece": lead.piece,
            "tape_numbers": lead.tapes.iter().map(|t| t + 1).collect::<Vec<_>>(),
            "load_w": lead.watts.0,
            "cable": lead.cable,
            "controller_cable": lead.controller_cable,
            "controller_m": lead.controller_m.0,
            "controller_protection": lead.controller_protection.as_ref().map(protection_json),
            "feed_m": lead.feed_m.0,
            "slack_m": lead.slack_m.0,
            "far_m": lead.far_m.0,
            "protection": protection_json(&lead.protection),
            "drop_v": lead.drop_v.0,
            "tape_drop_v": lead.tape_drop_v.0,
            "drop_pct": lead.drop_pct,
            "longest_m": lead.longest_m.0,
            "against": lead.against,
            "conductors": lead.conductors.iter().map(|c| json!({
                "mark": c.mark, "common": c.common, "current_a": c.amps.0,
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

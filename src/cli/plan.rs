//! `plan`: how a job's panels are built and powered, worked out for all of them together.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::plan::{JobPlan, PanelPlan, propose_with, route};
use crate::model::id::{PanelId, ProjectId, StockId};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::snapshot::{Shop, Snapshot};
use crate::ops::{Desk, record};
use crate::power::circuit_plan::{CircuitGroup, Lead, PlannedCircuit};
use crate::store::Changes;
use crate::units::{Metres, Millimetres, trimmed};

/// Work out how panels are built and powered, and settle it: route, tape, driver, wire.
///
/// Without a panel it shows the whole job: panels share drivers, so that all are put on them together. With
/// `--settle` it settles every panel. With a panel it settles that one; what is not named is picked from the
/// shop's lists, and `--show` settles nothing.
///
/// Example: underlit plan quay-bar front --feed-length 8m
#[derive(Debug, clap::Args)]
pub(crate) struct PlanArgs {
    /// The project.
    project: ProjectId,
    /// The panel; the whole job where none is named.
    panel: Option<PanelId>,
    /// How far it is from driver to panel, one way along the wire, with its unit.
    #[arg(long, value_name = "LENGTH", requires = "panel")]
    feed_length: Option<Millimetres>,
    /// The route.
    #[arg(long, value_name = "ROUTE", requires = "panel")]
    route: Option<StockId>,
    /// The tape.
    #[arg(long, value_name = "TAPE", requires = "panel")]
    tape: Option<StockId>,
    /// The driver.
    #[arg(long, value_name = "DRIVER", requires = "panel")]
    driver: Option<StockId>,
    /// The wire.
    #[arg(long, value_name = "WIRE", requires = "panel")]
    wire: Option<StockId>,
    /// Forget what was settled before and pick anew.
    #[arg(long)]
    anew: bool,
    /// Show the sums and settle nothing.
    #[arg(long, conflicts_with = "settle")]
    show: bool,
    /// Settle every panel of the job as it is shown.
    #[arg(long, conflicts_with = "panel")]
    settle: bool,
    /// Say why the other drivers and routes were passed over.
    #[arg(long)]
    why: bool,
}

pub(crate) fn plan(args: &PlanArgs, setting: &Setting<'_>) -> Outcome {
    match &args.panel {
        Some(panel) => one(args, panel, setting),
        None if args.settle => settle_all(args, setting),
        None => {
            let reading = setting.reading()?;
            let snapshot = reading.project(&args.project)?;
            let panels = panels_to_plan(args, &snapshot);
            let job = propose_with(&reading.shop, &snapshot, &panels);
            show_job(args, &reading.shop, &snapshot, &job, setting);
            Ok(verdict(&job))
        }
    }
}

fn verdict(job: &JobPlan) -> Exit {
    let worked = |p: &PanelPlan| p.route.is_ok() && p.power.is_ok();
    if job.panels.values().all(worked) { Exit::Done } else { Exit::Blocked }
}

fn opened(panel: &Panel) -> Panel {
    Panel { route: None, tape: None, driver: None, wire: None, ..panel.clone() }
}

fn panels_to_plan(args: &PlanArgs, snapshot: &Snapshot) -> BTreeMap<PanelId, Panel> {
    let panels = snapshot.panels.iter();
    panels.map(|(id, p)| (id.clone(), if args.anew { opened(p) } else { p.clone() })).collect()
}

fn stock(id: &str) -> Result<StockId, Vec<Fault>> {
    id.parse::<StockId>().map_err(|e| vec![Fault::data("stock-name", format!("{e}"))])
}

/// The record of a panel with a plan settled in it.
fn settled(panel: &Panel, plan: &PanelPlan) -> Result<Option<Panel>, Vec<Fault>> {
    let (Ok(route), Ok(power)) = (&plan.route, &plan.power) else { return Ok(None) };
    Ok(Some(Panel {
        route: Some(stock(route)?),
        tape: Some(stock(&power.tape)?),
        driver: Some(stock(&power.driver)?),
        wire: Some(stock(&power.wire)?),
        ..panel.clone()
    }))
}

fn settle_all(args: &PlanArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let snapshot = desk.reading.project(&args.project)?;
    let panels = panels_to_plan(args, &snapshot);
    let job = propose_with(&desk.reading.shop, &snapshot, &panels);
    if verdict(&job) == Exit::Blocked {
        show_job(args, &desk.reading.shop, &snapshot, &job, setting);
        return Ok(Exit::Blocked);
    }
    for (id, plan) in &job.panels {
        if let Some(panel) = snapshot.panels.get(id)
            && let Some(after) = settled(panel, plan)?
            && after != *panel
        {
            save(args, &desk, after, plan)?;
        }
    }
    setting.done(format!("planned the {} panels of {}", job.panels.len(), args.project));
    show_job(args, &desk.reading.shop, &snapshot, &job, setting);
    Ok(Exit::Done)
}

fn save(args: &PlanArgs, desk: &Desk<'_>, panel: Panel, plan: &PanelPlan) -> Result<(), Vec<Fault>> {
    let project = desk.reading.book.project(&args.project).map_err(|f| vec![*f])?;
    let path = format!("{project}/panels/{}.json", panel.id);
    let route = plan.route.as_ref().map_or("", String::as_str);
    let power = plan.power.as_ref().map_or_else(|_| String::new(), |p| p.in_words());
    let message = format!("{}: plans panel {}: route {route}, {power}\n", args.project, panel.id);
    record::change(
        desk,
        &path,
        Kind::Panel,
        Changes::new(),
        |_: &Panel| message,
        |p| {
            *p = panel;
            Ok(())
        },
    )?;
    Ok(())
}

fn one(args: &PlanArgs, id: &PanelId, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let project = desk.reading.book.project(&args.project).map_err(|f| vec![*f])?;
    let snapshot = desk.reading.project(&args.project)?;
    let mut panel: Panel = record::existing(&desk, &format!("{project}/panels/{id}.json"), Kind::Panel)?;
    if args.anew {
        panel = opened(&panel);
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
    let mut panels = snapshot.panels.clone();
    panels.insert(id.clone(), panel.clone());
    let job = propose_with(&desk.reading.shop, &snapshot, &panels);
    let Some(worked) = job.panels.get(id) else { return Ok(Exit::Blocked) };
    let after = settled(&panel, worked)?;
    let done = after.is_some();
    if let Some(after) = after.filter(|_| !args.show) {
        save(args, &desk, after, worked)?;
        setting.done(format!("planned panel {id}"));
    }
    show(id, worked, setting);
    if args.why {
        why(&desk.reading.shop, &snapshot, std::slice::from_ref(id), setting);
    }
    Ok(if done { Exit::Done } else { Exit::Blocked })
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
    printer.json(&panel_json(id, plan));
}

fn panel_json(id: &PanelId, plan: &PanelPlan) -> Value {
    let power = plan.power.as_ref();
    json!({
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
            "outputs": p.outputs.iter().map(|(driver, output)| json!({ "driver": driver, "output": output })).collect::<Vec<_>>(),
            "shares_with": p.shares_with,
            "class2": p.class2,
            "wire": p.wire,
            "conductors": p.conductors,
            "drop_v": p.drop_v.0,
            "drop_pct": p.drop_pct,
            "remarks": p.remarks,
        })),
        "power_reasons": power.err(),
    })
}

/// The whole job as a table: what hangs on each driver output, by which wire, and what to buy.
fn show_job(args: &PlanArgs, shop: &Shop, snapshot: &Snapshot, job: &JobPlan, setting: &Setting<'_>) {
    let printer = setting.printer;
    let open = |id: &PanelId| {
        let panel = snapshot.panels.get(id);
        panel.is_some_and(|p| p.route.is_none() || p.tape.is_none() || p.driver.is_none() || p.wire.is_none())
    };
    printer.line("panel         route          tape        tape m       W  settled");
    for (id, plan) in &job.panels {
        let route = plan.route.as_ref().map_or("none", String::as_str);
        let (tape, metres, watts) = match &plan.power {
            Ok(p) => (p.tape.as_str(), trimmed(p.build.tape_m.0, 3), trimmed(p.build.watts.0, 1)),
            Err(_) => ("–", "–".into(), "–".into()),
        };
        let settled = if open(id) || args.anew && !args.settle { "no" } else { "yes" };
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
        printer.line("driver  output  model               control         panel         tapes       W  load %  wire  feed m  drop %");
    }
    for (group, circuit, lead) in leads(job) {
        let control = circuit.controller.as_deref().or(group.dimmer.as_deref()).unwrap_or("–");
        let tapes: Vec<String> = lead.tapes.iter().map(|t| (t + 1).to_string()).collect();
        printer.line(format!(
            "{:>6}  {:>6}  {:18}  {control:14}  {:12}  {:8} {:>6}  {:>6}  {:5} {:>6}  {:>6}",
            circuit.driver,
            circuit.output,
            group.driver,
            lead.panel,
            tapes.join(" "),
            trimmed(lead.watts.0, 1),
            trimmed(circuit.share * 100.0, 0),
            lead.cable,
            trimmed(lead.feed_m.0, 2),
            trimmed(lead.drop_pct, 2),
        ));
    }
    if !job.circuits.bill.is_empty() {
        printer.line("");
        printer.line("to buy, without waste:");
        for line in &job.circuits.bill {
            printer.line(format!(
                "  {:10}  {:18} {:>8} {}",
                line.what,
                line.id,
                trimmed(line.quantity, 3),
                line.unit
            ));
        }
    }
    let mut explained = Value::Null;
    if args.why {
        let ids: Vec<PanelId> = job.panels.keys().cloned().collect();
        explained = why(shop, snapshot, &ids, setting);
    }
    let panels: Vec<Value> = job.panels.iter().map(|(id, plan)| panel_json(id, plan)).collect();
    let circuits: Vec<Value> = job
        .circuits
        .groups
        .iter()
        .flat_map(|group| group.circuits.iter().map(move |circuit| circuit_json(group, circuit)))
        .collect();
    let bill: Vec<Value> = job
        .circuits
        .bill
        .iter()
        .map(|l| json!({ "what": l.what, "id": l.id, "quantity": l.quantity, "unit": l.unit }))
        .collect();
    let mut answer = json!({ "project": args.project, "panels": panels, "circuits": circuits, "bill": bill });
    if args.why {
        answer["why"] = explained;
    }
    printer.json(&answer);
}

fn leads(job: &JobPlan) -> impl Iterator<Item = (&CircuitGroup, &PlannedCircuit, &Lead)> {
    job.circuits.groups.iter().flat_map(|group| {
        group
            .circuits
            .iter()
            .flat_map(move |circuit| circuit.leads.iter().map(move |lead| (group, circuit, lead)))
    })
}

fn circuit_json(group: &CircuitGroup, circuit: &PlannedCircuit) -> Value {
    json!({
        "driver": circuit.driver,
        "output": circuit.output,
        "model": group.driver,
        "class2": group.class2.to_string(),
        "watts": circuit.watts.0,
        "amps": circuit.amps.0,
        "load_share": circuit.share,
        "controller": circuit.controller,
        "dimmer": group.dimmer,
        "fewest_drivers_proven": group.proven_least,
        "leads": circuit.leads.iter().map(|lead| json!({
            "panel": lead.panel,
            "tapes": lead.tapes.iter().map(|t| t + 1).collect::<Vec<_>>(),
            "watts": lead.watts.0,
            "cable": lead.cable,
            "feed_m": lead.feed_m.0,
            "drop_v": lead.drop_v.0,
            "drop_pct": lead.drop_pct,
            "longest_m": lead.longest_m.0,
            "conductors": lead.conductors.iter().map(|c| json!({
                "mark": c.mark, "common": c.common, "amps": c.amps.0,
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

/// Why the other drivers and routes were passed over, judged as if nothing had been settled.
fn why(shop: &Shop, snapshot: &Snapshot, panels: &[PanelId], setting: &Setting<'_>) -> Value {
    let printer = setting.printer;
    let mut drivers = Vec::new();
    let open: BTreeMap<PanelId, Panel> = snapshot
        .panels
        .iter()
        .map(|(id, p)| (id.clone(), Panel { driver: None, wire: None, ..p.clone() }))
        .collect();
    printer.line("");
    for group in &crate::gates::plan::drivers_weighed(shop, snapshot, &open) {
        let mut fed: Vec<&str> =
            group.circuits.iter().flat_map(|c| &c.leads).map(|l| l.panel.as_str()).collect();
        fed.sort_unstable();
        fed.dedup();
        if !fed.iter().any(|f| panels.iter().any(|p| p.as_str() == *f)) {
            continue;
        }
        let least = if group.proven_least { ", the fewest there can be" } else { "" };
        printer.line(format!(
            "for {}: {} × {} would be picked{least}; passed over:",
            fed.join(", "),
            group.drivers,
            group.driver
        ));
        for (id, reasons) in &group.passed_over {
            let said: Vec<String> = reasons.iter().map(ToString::to_string).collect();
            printer.line(format!("  {id:18}  {}", said.join("; ")));
            drivers.push(json!({ "panels": fed, "driver": id, "reasons": said }));
        }
    }
    let mut routes = Vec::new();
    for id in panels {
        let (Some(panel), Some(drawing)) = (snapshot.panels.get(id), snapshot.drawing_of(id)) else {
            continue;
        };
        let tape = panel.tape.as_ref().and_then(|t| shop.lights.get(t.as_str()));
        printer.line(format!("routes for panel {id}:"));
        for (route, against) in route::why(shop, panel, drawing, tape) {
            printer.line(format!("  {route:18}  {}", against.as_deref().unwrap_or("can build it")));
            routes.push(json!({ "panel": id, "route": route, "against": against }));
        }
    }
    json!({ "drivers": drivers, "routes": routes })
}

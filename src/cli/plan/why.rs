//! What `plan --why` says: why each other driver, tape and route was passed over.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use crate::cli::setting::Setting;
use crate::ids::PanelId;
use crate::job::plan::{drivers_refused, drivers_weighed, route, tapes_weighed};
use crate::model::panel::Panel;
use crate::model::snapshot::{Shop, Snapshot};

/// Why the other drivers and routes were passed over, judged as if nothing had been settled.
pub(super) fn why(
    shop: &Shop,
    snapshot: &Snapshot,
    planned: &BTreeMap<PanelId, Panel>,
    panels: &[PanelId],
    setting: &Setting<'_>,
) -> Value {
    let printer = setting.printer;
    let mut drivers = Vec::new();
    let open: BTreeMap<PanelId, Panel> =
        planned.iter().map(|(id, p)| (id.clone(), Panel { driver: None, wire: None, ..p.clone() })).collect();
    printer.line("");
    for group in &drivers_weighed(shop, snapshot, &open) {
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
    for (id, refused) in drivers_refused(shop, snapshot, &open).iter().filter(|(id, _)| panels.contains(id)) {
        printer.line(format!("for {id}: no driver suits; passed over:"));
        for (driver, reasons) in refused {
            let said: Vec<String> = reasons.iter().map(ToString::to_string).collect();
            printer.line(format!("  {driver:18}  {}", said.join("; ")));
            drivers.push(json!({ "panels": [id], "driver": driver, "reasons": said }));
        }
    }
    let mut lights = Vec::new();
    for (id, panel) in panels.iter().filter_map(|id| Some((id, planned.get(id)?))) {
        printer.line(format!("tapes for panel {id}:"));
        for (tape, reasons) in tapes_weighed(shop, panel) {
            let said = if reasons.is_empty() { "gives this light".to_owned() } else { reasons.join("; ") };
            printer.line(format!("  {tape:18}  {said}"));
            lights.push(json!({ "panel": id, "tape": tape, "reasons": reasons }));
        }
    }
    let mut routes = Vec::new();
    for id in panels {
        let (Some(panel), Some(drawing)) = (planned.get(id), snapshot.drawing_of(id)) else {
            continue;
        };
        let tape = panel.tape.as_ref().and_then(|t| shop.lights.get(t.as_str()));
        printer.line(format!("routes for panel {id}:"));
        for (route, against) in route::why(shop, panel, drawing, tape) {
            printer.line(format!("  {route:18}  {}", against.as_deref().unwrap_or("can build it")));
            routes.push(json!({ "panel": id, "route": route, "reason": against }));
        }
    }
    json!({ "drivers_weighed": drivers, "tapes_weighed": lights, "routes_weighed": routes })
}

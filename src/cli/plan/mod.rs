//! `plan`: how a job's panels are built and powered, worked out for all of them together.

mod show;
mod why;

use std::collections::BTreeMap;

use serde_json::json;

use self::show::{Planned, panel_json, show, show_job};
use self::why::why;
use crate::cli::failure::{Exit, Outcome};
use crate::cli::setting::Setting;
use crate::cli::supply::SupplyArgs;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId, StockId};
use crate::job::plan::{JobPlan, PanelPlan, propose_with};
use crate::model::kind::Kind;
use crate::model::panel::{FeedBasis, Panel};
use crate::model::snapshot::Snapshot;
use crate::ops::{Desk, record};
use crate::store::Changes;
use crate::units::{Metres, Millimetres};

/// Work out how panels are built and powered, and settle it: route, tape, driver, wire.
///
/// Without a panel it shows the whole job: panels share drivers, so that all are put on them together. With
/// `--settle` it settles every panel. With a panel it settles that one; what is not named is picked from the
/// shop's lists, and `--show` settles nothing. Where the driver and the control stand is named for one panel, or
/// for all of them with `--settle`, and kept in the record.
///
/// Example: underlit plan quay-bar front --feed-length 8m --driver-at remote --driver-place damp
#[derive(Debug, clap::Args)]
pub(crate) struct PlanArgs {
    /// The project.
    project: ProjectId,
    /// The panel; the whole job where none is named.
    panel: Option<PanelId>,
    /// How far it is from driver to panel, one way along the wire, with its unit.
    #[arg(long, value_name = "LENGTH", requires = "panel")]
    feed_length: Option<Millimetres>,
    /// Whether that was guessed or measured; a guess is measured before the release.
    #[arg(long, value_name = "BASIS", requires = "panel")]
    feed_basis: Option<FeedBasis>,
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
    #[command(flatten)]
    supply: SupplyArgs,
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
            let panels = panels_to_plan(args, &snapshot)?;
            let job = propose_with(&reading.shop, &snapshot, &panels);
            show_job(
                args,
                &reading.shop,
                &Planned { snapshot: &snapshot, panels: &panels, settled: false, job: &job },
                setting,
            );
            Ok(verdict(&job))
        }
    }
}

/// What has to be known of the site before drivers are settled for it.
///
/// # Errors
/// `site-not-recorded` with the command that records it.
fn site_is_known(snapshot: &Snapshot) -> Result<(), Vec<Fault>> {
    let site = &snapshot.project.site;
    let missing: Vec<(&str, &str)> = [
        (site.mains_v.is_none(), ("mains voltage", "--mains VOLTS")),
        (site.code_region.is_none(), ("code region", "--code-region nec|iec|other")),
    ]
    .into_iter()
    .filter_map(|(open, what)| open.then_some(what))
    .collect();
    if missing.is_empty() {
        return Ok(());
    }
    let (names, options): (Vec<&str>, Vec<&str>) = missing.into_iter().unzip();
    let are = if names.len() == 1 { "is" } else { "are" };
    Err(vec![
        Fault::data(
            "site-not-recorded",
            format!(
                "the {} of the site {are} not recorded; drivers are chosen for it",
                names.join(" and the ")
            ),
        )
        .fix(format!(
            "ask the licensed person on site, then: underlit project change {} {}",
            snapshot.project.id,
            options.join(" ")
        )),
    ])
}

fn verdict(job: &JobPlan) -> Exit {
    let worked = |p: &PanelPlan| p.route.is_ok() && p.power.as_ref().is_ok_and(|p| p.against.is_empty());
    if job.panels.values().all(worked) { Exit::Done } else { Exit::Blocked }
}

fn opened(panel: &Panel) -> Panel {
    Panel { route: None, tape: None, driver: None, wire: None, ..panel.clone() }
}

fn panels_to_plan(args: &PlanArgs, snapshot: &Snapshot) -> Result<BTreeMap<PanelId, Panel>, Vec<Fault>> {
    let panels = snapshot.panels.iter();
    panels
        .map(|(id, p)| {
            let panel = args.supply.put_into(p).map_err(|f| vec![f])?;
            Ok((id.clone(), if args.anew { opened(&panel) } else { panel }))
        })
        .collect()
}

fn stock(id: &str) -> Result<StockId, Vec<Fault>> {
    id.parse::<StockId>().map_err(|e| vec![Fault::data("stock-name", format!("{e}"))])
}

/// The record of a panel with a plan settled in it.
fn settled(panel: &Panel, plan: &PanelPlan) -> Result<Option<Panel>, Vec<Fault>> {
    let (Ok(route), Ok(power)) = (&plan.route, &plan.power) else { return Ok(None) };
    if !power.against.is_empty() {
        return Ok(None);
    }
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
    site_is_known(&snapshot)?;
    let panels = panels_to_plan(args, &snapshot)?;
    let job = propose_with(&desk.reading.shop, &snapshot, &panels);
    let planned = Planned { snapshot: &snapshot, panels: &panels, settled: false, job: &job };
    if verdict(&job) == Exit::Blocked {
        show_job(args, &desk.reading.shop, &planned, setting);
        return Ok(Exit::Blocked);
    }
    for (id, plan) in &job.panels {
        if let (Some(panel), Some(before)) = (panels.get(id), snapshot.panels.get(id))
            && let Some(after) = settled(panel, plan)?
            && after != *before
        {
            save(args, &desk, after, plan)?;
        }
    }
    setting.done(format!("planned the {} panels of {}", job.panels.len(), args.project));
    show_job(args, &desk.reading.shop, &Planned { settled: true, ..planned }, setting);
    Ok(Exit::Done)
}

fn save(args: &PlanArgs, desk: &Desk<'_>, panel: Panel, plan: &PanelPlan) -> Result<(), Vec<Fault>> {
    let project = desk.reading.book.project(&args.project)?;
    let path = format!("{project}/panels/{}.json", panel.id);
    let route = plan.route.as_ref().map_or("", String::as_str);
    let power =
        plan.power.as_ref().map_or_else(|_| String::new(), |p| p.in_words(desk.reading.shop.book.units));
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
    let project = desk.reading.book.project(&args.project)?;
    let snapshot = desk.reading.project(&args.project)?;
    if !args.show {
        site_is_known(&snapshot)?;
    }
    let mut panel: Panel =
        record::existing(&desk.reading, &format!("{project}/panels/{id}.json"), Kind::Panel)?;
    panel = args.supply.put_into(&panel).map_err(|f| vec![f])?;
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
    if args.feed_basis.is_some() {
        panel.feed_basis = args.feed_basis;
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
    show(worked, desk.reading.shop.book.units, setting);
    let explained =
        args.why.then(|| why(&desk.reading.shop, &snapshot, &panels, std::slice::from_ref(id), setting));
    setting.printer.json(&json!({
        "project": args.project, "panels": [panel_json(id, worked)], "weighed": explained,
    }));
    Ok(if done { Exit::Done } else { Exit::Blocked })
}

//! `dates`: a project's dates, back from the install date and forward from where it stands.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::ids::{GroupId, ProjectId};
use crate::ops::dates::{self, RouteDates};
use crate::ops::orders::agreed;
use crate::ops::reading::group_of;
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;
use crate::words::business_days;

/// Show the latest date of every step that keeps the install date, the earliest from where the project
/// stands, and what there is to spare.
///
/// Counted in the shop's business days, by the route that takes longest of those the panels take.
///
/// Example: underlit dates quay-bar --ics quay-bar.ics
#[derive(Debug, clap::Args)]
pub(crate) struct DatesArgs {
    /// The project.
    project: ProjectId,
    /// By every route of the shop, also those that cannot build it.
    #[arg(long)]
    routes: bool,
    /// Write the dates still to come as a calendar file (RFC 5545).
    #[arg(long, value_name = "FILE")]
    ics: Option<PathBuf>,
    /// Only this release group, by the day of its own.
    #[arg(long, value_name = "GROUP")]
    group: Option<GroupId>,
    /// In the calendar file, remind of each date so many days before.
    #[arg(long, value_name = "DAYS", requires = "ics")]
    remind_days: Option<u32>,
}

pub(crate) fn dates(args: &DatesArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let snapshot = reading.project(&args.project)?;
    let whole = reading.case(&snapshot);
    let part = args.group.as_ref().map(|group| group_of(&whole, Some(group))).transpose()?.flatten();
    let case = part.as_ref().unwrap_or(&whole);
    let today = setting.around.today();
    let counted = dates::pressing(case, today);
    let all = dates::by_route(&counted, today, args.routes)?;
    let project = &case.project.project;
    setting.printer.line(format!("{} — {}", project.id, project.title));
    setting.printer.line(format!("today {today}, install {}", case.install_in_words()));
    let groups = dates::of_groups(case, today);
    for group in &groups {
        let spare = group
            .spare_business_days
            .map_or_else(String::new, |spare| format!(", {} to spare", business_days(spare)));
        let next = match (&group.critical, group.critical_by) {
            (Some(what), Some(by)) => format!("; next: {what} by {by}"),
            _ => String::new(),
        };
        setting.printer.line(format!("  {}: install {}{spare}{next}", group.group, group.install_date));
    }
    if let Some(group) = counted.group.as_ref().filter(|_| case.group.is_none()) {
        setting.printer.line(format!("counted for {group}, which presses most; another: --group NAME"));
    }
    let agreed = agreed(case);
    agreed.iter().for_each(|(_, what, day)| setting.printer.line(format!("{day}  {what}")));
    all.iter().for_each(|route| show(route, setting));
    if let Some(file) = &args.ics {
        let book = reading.chain.fingerprint().short();
        let text = dates::calendar(case, &book, today, setting.around.now_utc(), args.remind_days)?;
        if !setting.around.dry_run {
            write_whole(file, text.as_bytes())
                .map_err(|e| vec![io_fault(&file.display().to_string(), "write", &e)])?;
        }
        setting.done(format!("wrote {}", file.display()));
    }
    setting.printer.json(&json!({
        "project": project.id,
        "today": today,
        "install_date": counted.project.project.install_date,
        "group": counted.group,
        "groups": groups,
        "agreed": agreed.iter().map(|(step, what, date)| json!({ "step": step, "to_do": what, "date": date })).collect::<Vec<_>>(),
        "routes": all,
    }));
    Ok(Exit::Done)
}

fn show(route: &RouteDates, setting: &Setting<'_>) {
    let printer = setting.printer;
    printer.line("");
    let taken = if route.taken { "" } else { ", not the route of this job" };
    printer.line(format!("by route {} ({}){taken}", route.route, route.name));
    route.against.iter().for_each(|why| printer.line(format!("  cannot build {why}")));
    printer.line("  latest      earliest    spare  step");
    let day = |d: Option<jiff::civil::Date>| d.map_or_else(|| format!("{:10}", "–"), |d| d.to_string());
    for step in &route.milestones {
        let earliest = if step.reached { format!("{:10}", "done") } else { day(step.earliest) };
        let spare = step.slack_business_days.map_or_else(|| "–".to_owned(), |s| s.to_string());
        let critical =
            if route.critical == Some(step.to_do) && !step.reached { "  ← least to spare" } else { "" };
        printer.line(format!("  {}  {earliest}  {spare:>5}  {}{critical}", day(step.latest), step.to_do));
    }
    if let Some(order) = route.order_material_by {
        let longer = if route.material_is_longer { ", which takes longer than the approvals" } else { "" };
        printer.line(format!("  order the material by {order}{longer}"));
        if route.material_before_approval {
            printer
                .line("  risk: that is before the rendering is approved; what is ordered may have to change");
        }
    }
    for order in &route.orders {
        let lead = business_days(order.lead_business_days.into());
        printer.line(format!("  order {} {} by {} (takes {lead})", order.what, order.id, order.order_by));
        if order.before_approval {
            printer
                .line("  risk: that is before the rendering is approved; what is ordered may have to change");
        }
    }
    match (&route.fault, route.slack_business_days, route.earliest_install) {
        (Some(why), _, _) => printer.line(format!("  {why}")),
        (None, Some(slack), Some(earliest)) if slack < 0 => printer.line(format!(
            "  CANNOT BE MET: {} short, {earliest} is the earliest install date",
            business_days(slack)
        )),
        (None, None, _) if route.milestones.iter().all(|step| step.reached) => {
            printer.line("  every step is done");
        }
        (None, Some(slack), Some(earliest)) => {
            printer.line(format!(
                "  {} to spare; {earliest} is the earliest install date",
                business_days(slack)
            ));
        }
        _ => {}
    }
}

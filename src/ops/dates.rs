//! Whether a project can still meet its install date: beside a verdict, never part of one, since it depends
//! on today.

use jiff::civil::Date;
use serde::Serialize;

use crate::gates::Case;
use crate::gates::plan::propose;
use crate::making::routes::Route;
use crate::making::schedule::{Milestone, Progress, Standing as DateStanding, stand};
use crate::model::stage::Stage;
use crate::model::statement::{Decision, View};

/// How a project stands against its install date.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dates {
    /// The install date.
    pub install_date: Date,
    /// The route that the dates are counted by: the slowest of the panels' own.
    pub route: String,
    /// Business days to spare; below 0 where the date cannot be met any more.
    pub slack_business_days: i64,
    /// True where the date cannot be met any more.
    pub late: bool,
    /// What has to be done next to keep it.
    pub critical: Option<String>,
    /// By when.
    pub critical_by: Option<Date>,
    /// The earliest day on which the panels could be installed.
    pub earliest_install: Date,
}

/// Holds a project against its install date.
///
/// # Errors
/// In words: no date is set, no route fits, or days that cannot be counted.
pub fn dates(case: &Case<'_>, today: Date) -> Result<Dates, String> {
    let Some(install) = case.project.project.install_date else {
        return Err("no install date is set".into());
    };
    let route = slowest_route(case).ok_or("the shop has no route")?;
    let standing = stand(route, &case.shop.calendar, install, today, &progress(case))
        .map_err(|fault| format!("{fault}; {}", fault.remedy()))?;
    Ok(Dates {
        install_date: install,
        route: route.id.clone(),
        slack_business_days: standing.slack_business_days,
        late: standing.late(),
        critical: standing.critical.map(|m| m.to_do().to_owned()),
        critical_by: standing.critical.map(|m| standing.plan.latest(m)),
        earliest_install: standing.projection.install,
    })
}

/// The full standing, for a calendar file.
///
/// # Errors
/// As [`dates`].
pub fn full(case: &Case<'_>, today: Date) -> Result<DateStanding, String> {
    let Some(install) = case.project.project.install_date else {
        return Err("no install date is set".into());
    };
    let route = slowest_route(case).ok_or("the shop has no route")?;
    stand(route, &case.shop.calendar, install, today, &progress(case))
        .map_err(|fault| format!("{fault}; {}", fault.remedy()))
}

/// Of the routes that the panels take, or would be proposed, the one that builds longest.
fn slowest_route<'a>(case: &Case<'a>) -> Option<&'a Route> {
    let days = |r: &&Route| r.build_business_days + r.material_business_days + r.transit_business_days;
    case.panels()
        .filter_map(|(id, panel)| match &panel.route {
            Some(route) => Some(route.to_string()),
            None => propose(case.shop, case.project, id, panel).route.ok(),
        })
        .filter_map(|id| case.shop.routes.get(&id))
        .max_by_key(days)
        .or_else(|| case.shop.routes.routes.first())
}

/// How far the project is, by what is recorded; the day is that of the record.
fn progress(case: &Case<'_>) -> Progress {
    let project = case.project;
    let mut reached: Option<(Milestone, Date)> = None;
    let mut reach = |milestone: Milestone, date: Option<Date>| {
        if let Some(date) = date
            && reached.is_none_or(|(m, _)| m < milestone)
        {
            reached = Some((milestone, date));
        }
    };
    reach(Milestone::Asked, project.requests.values().map(|r| r.asked).max());
    reach(Milestone::Sent, project.requests.values().filter_map(|r| r.sent).max());
    reach(Milestone::Received, project.requests.values().filter_map(|r| r.received).max());
    reach(Milestone::Tried, project.trials.values().map(|t| t.date).max());
    let day = |time: &str| time.get(..10).and_then(|d| d.parse::<Date>().ok());
    let all_signed = |view: View| {
        let mut last = None;
        for id in project.panels.keys() {
            let signed = project
                .signoffs
                .iter()
                .filter(|s| s.void.is_none() && s.statement.decision == Decision::Approved)
                .filter(|s| s.statement.about.view == view && s.statement.about.panel.as_ref() == Some(id))
                .filter_map(|s| day(&s.statement.time))
                .max();
            last = last.max(Some(signed?));
        }
        last
    };
    reach(Milestone::Chosen, all_signed(View::Choice));
    if !project.renderings.is_empty() && project.panels.keys().all(|id| project.renderings.contains_key(id)) {
        reach(Milestone::Approved, all_signed(View::Rendering));
    }
    let standing = project.standing();
    let entered = |stage: Stage| {
        let step = standing.path.iter().rev().filter_map(|d| project.moves.get(d)).find(|m| m.to == stage);
        step.filter(|_| standing.stage >= stage).and_then(|m| day(&m.time))
    };
    reach(Milestone::Released, entered(Stage::Released));
    reach(Milestone::Built, project.as_built.as_ref().map(|b| b.date));
    reach(Milestone::Arrived, project.installation.as_ref().map(|i| i.date));
    Progress { reached, ..Progress::default() }
}

//! A project's dates, latest and earliest, and whether it can still meet its install date: beside a verdict,
//! never part of one, since it depends on today.

use jiff::civil::{Date, DateTime};
use serde::Serialize;

use super::loans::loans;
use super::orders::{OrderBy, agreed, as_run, orders};
use crate::fault::{Fault, Outcome};
use crate::gates::requirements::needs_rendering;
use crate::ids::GroupId;
use crate::job::Case;
use crate::job::plan::propose_job;
use crate::job::plan::route::why;
use crate::making::business_days::{DateFault, WorkingDays};
use crate::making::calendar_file::{Entry, calendar_file_with};
use crate::making::routes::Route;
use crate::making::schedule::{Due, LongerBranch, Milestone, Progress, plan, project, stand};
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::{Decision, View};

/// How a project stands against its install date.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Dates {
    /// The release group that presses most, where groups have install dates of their own.
    pub group: Option<GroupId>,
    /// The install date.
    pub install_date: Date,
    /// The route that the dates are counted by: the slowest of the panels' own.
    pub route: String,
    /// Business days to spare; below 0 where the date cannot be met any more.
    #[serde(rename = "spare_business_days")]
    pub slack_business_days: i64,
    /// True where the date cannot be met any more.
    pub late: bool,
    /// What has to be done next to keep it.
    pub critical: Option<String>,
    /// By when.
    pub critical_by: Option<Date>,
    /// The earliest day on which the panels could be installed.
    #[serde(rename = "earliest_install_date")]
    pub earliest_install: Date,
}

/// What of a job is still held against its days of installation. A release group that was built by its day presses no more:
/// nobody records its being put in.
#[must_use]
pub(crate) fn open_parts<'c>(case: &'c Case<'_>, today: Date) -> Vec<Case<'c>> {
    let is_done = |part: &Case<'_>| {
        part.group.is_some()
            && part.project.as_built.is_some()
            && part.project.project.install_date.is_some_and(|day| day < today)
    };
    let mut parts = case.by_install_day();
    if !parts.iter().all(is_done) {
        parts.retain(|part| !is_done(part));
    }
    parts
}

/// The part of a job by whose day it is counted: that which has least to spare.
#[must_use]
pub(crate) fn pressing<'c>(case: &'c Case<'_>, today: Date) -> Case<'c> {
    let mut parts = open_parts(case, today);
    let spare = |part: &Case<'_>| match of_all(part, today) {
        Ok(dates) => (false, dates.slack_business_days, dates.install_date),
        Err(_) => (true, 0, Date::MAX),
    };
    if parts.len() > 1 {
        parts.sort_by_cached_key(spare);
    }
    parts.into_iter().next().unwrap_or_else(|| case.clone())
}

/// Holds a project against its install date: that of the part that presses most.
///
/// # Errors
/// In words: no date is set, no route fits, or days that cannot be counted.
pub(crate) fn dates(case: &Case<'_>, today: Date) -> Result<Dates, String> {
    of_all(&pressing(case, today), today)
}

/// Holds all panels of a case against its one install date.
fn of_all(case: &Case<'_>, today: Date) -> Result<Dates, String> {
    let Some(install) = case.project.project.install_date else {
        return Err("no install date is set".into());
    };
    let route = as_run(case, slowest_route(case).ok_or("the shop has no route")?);
    let standing = stand(&route, &case.shop.calendar, install, today, &progress(case, today))
        .map_err(|fault| format!("{fault}; {}", fault.remedy()))?;
    let critical = standing.critical.map(|m| (m.to_do().to_owned(), standing.plan.latest(m)));
    let agreed = agreed(case).into_iter().filter(|(_, _, day)| *day >= today);
    let agreed = agreed.map(|(_, what, day)| (what.to_owned(), day));
    let others = needed(case).into_iter().chain(agreed);
    let critical = critical.into_iter().chain(others).min_by_key(|(_, by)| *by);
    Ok(Dates {
        group: case.group.clone(),
        install_date: install,
        route: route.id.clone(),
        slack_business_days: standing.slack_business_days,
        late: standing.late(),
        critical: critical.as_ref().map(|(what, _)| what.clone()),
        critical_by: critical.map(|(_, by)| by),
        earliest_install: standing.projection.install,
    })
}

/// A release group of a job where some are installed on days of their own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct GroupDates {
    /// The group.
    pub group: GroupId,
    /// Its install date.
    pub install_date: Date,
    /// Business days to spare; below 0 where it is too late, none where that cannot be said.
    pub spare_business_days: Option<i64>,
    /// What has to be done next to keep it.
    pub critical: Option<String>,
    /// By when.
    pub critical_by: Option<Date>,
}

/// How the release groups of a job stand where one has a day of its own, the first first.
pub(crate) fn of_groups(case: &Case<'_>, today: Date) -> Vec<GroupDates> {
    let one = |part: Case<'_>| {
        let dates = of_all(&part, today).ok();
        Some(GroupDates {
            group: part.group.clone()?,
            install_date: part.project.project.install_date?,
            spare_business_days: dates.as_ref().map(|dates| dates.slack_business_days),
            critical_by: dates.as_ref().and_then(|dates| dates.critical_by),
            critical: dates.and_then(|dates| dates.critical),
        })
    };
    let parts = if case.group.is_some() { Vec::new() } else { case.by_install_day() };
    let mut all: Vec<GroupDates> = parts.into_iter().filter_map(one).collect();
    all.sort_by_key(|group| group.install_date);
    all
}

/// The test panel that somebody needs first by a day of their own, of those that have not arrived.
fn needed(case: &Case<'_>) -> Option<(String, Date)> {
    let waiting = case.project.requests.values().filter(|r| r.received.is_none() && !r.never_comes());
    let (id, by) = waiting.filter_map(|r| Some((&r.id, r.needed_by?))).min_by_key(|(_, by)| *by)?;
    Some((format!("have test panel {id} at its address"), by))
}

/// A project's dates by one route.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct RouteDates {
    /// The route.
    pub route: String,
    /// Its name for people.
    pub name: String,
    /// True where the job is counted by it.
    pub taken: bool,
    /// What speaks against building the panels by it; empty where it can build them all.
    pub against: Vec<String>,
    /// Every milestone, in order.
    pub milestones: Vec<MilestoneDates>,
    /// The latest date to order the material.
    pub order_material_by: Option<Date>,
    /// True where the material takes longer than rendering, approval and release.
    pub material_is_longer: bool,
    /// True where it has to be ordered before the rendering is approved: what is ordered may have to change.
    pub material_before_approval: bool,
    /// What has a lead time of its own, and by when it has to be ordered.
    pub orders: Vec<OrderBy>,
    /// Business days to spare; below 0 where it is too late, none where that cannot be said.
    #[serde(rename = "spare_business_days")]
    pub slack_business_days: Option<i64>,
    /// The milestone with the least to spare.
    pub critical: Option<&'static str>,
    /// The earliest day on which the panels could be installed.
    #[serde(rename = "earliest_install_date")]
    pub earliest_install: Option<Date>,
    /// Why the install date cannot be held against it.
    #[serde(rename = "no_dates")]
    pub fault: Option<String>,
}

/// One milestone by one route.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct MilestoneDates {
    /// The milestone.
    pub milestone: &'static str,
    /// What has to be done to get there.
    pub to_do: &'static str,
    /// True where the project is there.
    pub reached: bool,
    /// The latest date that keeps the install date; none where no install date is set.
    pub latest: Option<Date>,
    /// The earliest date from where the project stands; none where it is there.
    pub earliest: Option<Date>,
    /// Business days between the two.
    #[serde(rename = "spare_business_days")]
    pub slack_business_days: Option<i64>,
}

/// A project's dates by its own route, or by every route of the shop.
///
/// # Errors
/// `dates-no-route`, and days that cannot be counted: an unknown holiday calendar, or dates beyond its list.
pub(crate) fn by_route(case: &Case<'_>, today: Date, every_route: bool) -> Outcome<Vec<RouteDates>> {
    let Some(own) = slowest_route(case) else {
        let fault = Fault::data("dates-no-route", "the shop has no route to count dates by");
        return Err(Box::new(fault.in_file("shop/routes.json").fix("add the shop's ways to build")));
    };
    let progress = progress(case, today);
    let wanted = case.shop.routes.routes.iter().filter(|r| every_route || r.id == own.id);
    wanted.map(|route| one_route(case, route, route.id == own.id, today, &progress)).collect()
}

fn one_route(
    case: &Case<'_>,
    route: &Route,
    taken: bool,
    today: Date,
    progress: &Progress,
) -> Outcome<RouteDates> {
    let counted = |fault: DateFault| {
        let remedy = fault.remedy();
        Box::new(Fault::data(fault.code(), fault.to_string()).in_file("shop/calendar.json").fix(remedy))
    };
    let shop = &case.shop.calendar;
    let route = &as_run(case, route);
    let install = case.project.project.install_date;
    let forward = project(route, shop, today, progress).map_err(counted)?;
    // A chain back from a past day may leave the holiday list; that the day is past is what has to be said.
    let back = match install.map(|day| plan(route, shop, day, !progress.no_rendering)) {
        Some(Err(_)) if install.is_some_and(|day| day < today) => None,
        back => back.transpose().map_err(counted)?,
    };
    let held = install.map(|day| stand(route, shop, day, today, progress));
    let days = WorkingDays::of_shop(shop, &shop.shop_holidays).map_err(counted)?;
    let mut milestones = Vec::new();
    for milestone in
        Milestone::ALL.iter().copied().filter(|m| !(progress.no_rendering && m.is_of_rendering()))
    {
        let earliest = forward.earliest.iter().find(|(m, _)| *m == milestone).map(|(_, day)| *day);
        let latest = back.as_ref().map(|p| p.latest(milestone));
        let slack = earliest.zip(latest).map(|(e, l)| days.between(e, l)).transpose().map_err(counted)?;
        milestones.push(MilestoneDates {
            milestone: milestone.word(),
            to_do: milestone.to_do(),
            reached: earliest.is_none(),
            latest,
            earliest,
            slack_business_days: slack,
        });
    }
    let standing = held.as_ref().and_then(|h| h.as_ref().ok());
    Ok(RouteDates {
        route: route.id.clone(),
        name: route.name.clone(),
        taken,
        against: against(case, route),
        milestones,
        order_material_by: back.as_ref().map(|p| p.order_material_by),
        material_before_approval: !progress.no_rendering
            && progress.reached.is_none_or(|(reached, _)| reached < Milestone::Approved)
            && back.as_ref().is_some_and(|p| p.order_material_by < p.latest(Milestone::Approved)),
        material_is_longer: back.as_ref().is_some_and(|p| p.longer_branch == LongerBranch::Material),
        orders: back.as_ref().map(|p| orders(case, p)).transpose().map_err(counted)?.unwrap_or_default(),
        slack_business_days: standing.filter(|s| s.critical.is_some()).map(|s| s.slack_business_days),
        critical: standing.and_then(|s| s.critical).map(Milestone::to_do),
        earliest_install: Some(forward.install),
        fault: match held {
            None => Some(format!(
                "no install date is set: underlit project change {} --install-date DATE",
                case.id()
            )),
            Some(Err(fault)) => Some(format!("{fault}; {}", fault.remedy())),
            Some(Ok(_)) => None,
        },
    })
}

/// What speaks against building the job's panels by a route.
fn against(case: &Case<'_>, route: &Route) -> Vec<String> {
    case.panels()
        .filter_map(|(id, panel)| {
            let tape = panel.tape.as_ref().and_then(|t| case.shop.lights.get(t.as_str()));
            let judged = why(case.shop, panel, case.project.drawing_of(id)?, tape);
            let reason = judged.into_iter().find(|(r, _)| *r == route.id).and_then(|(_, reason)| reason)?;
            Some(format!("panel {id}: {reason}"))
        })
        .collect()
}

/// The latest dates still to come, and the install date, as a calendar file whose entries keep their
/// identifiers when a date moves.
///
/// # Errors
/// `dates-no-install-date`, and as [`by_route`].
pub(crate) fn calendar(
    case: &Case<'_>,
    book: &str,
    today: Date,
    stamp: DateTime,
    remind_days: Option<u32>,
) -> Outcome<String> {
    let title = &case.project.project.title;
    let mut entries = Vec::new();
    for part in open_parts(case, today) {
        let Some(install) = part.project.project.install_date else { continue };
        let (of, whose) = match &part.group {
            Some(group) => (format!("{}.{group}", case.id()), format!("{title}, {group}")),
            None => (case.id().to_owned(), title.clone()),
        };
        for route in by_route(&part, today, false)? {
            let by = format!("Latest date to keep the install date {install}, by route {}.", route.name);
            for due in still_to_come(&part, &route) {
                let description = if due.step == Due::INSTALL { String::new() } else { by.clone() };
                entries.push(Entry {
                    uid: format!("{of}.{}@{book}.underlit", due.step),
                    date: due.latest,
                    title: format!("{whose}: {}", due.to_do),
                    description,
                });
            }
        }
    }
    if entries.is_empty() {
        let fault = Fault::data("dates-no-install-date", "no install date is set, so there are no dates");
        let remedy = format!("set it: underlit project change {} --install-date DATE", case.id());
        return Err(Box::new(fault.fix(remedy)));
    }
    for (step, what, date) in agreed(case) {
        entries.push(Entry {
            uid: format!("{}.{step}@{book}.underlit", case.id()),
            date,
            title: format!("{title}: {what}"),
            description: String::new(),
        });
    }
    for loan in loans(case.project, today) {
        entries.push(Entry {
            uid: format!("{}.return-{}@{book}.underlit", case.id(), loan.request),
            date: loan.return_by,
            title: format!("{title}: test panel {} is due back", loan.request),
            description: format!("On loan at {}.", loan.address),
        });
    }
    entries.sort_by_key(|e| e.date);
    calendar_file_with(title, stamp, &entries, remind_days)
        .map_err(|f| Box::new(Fault::data(f.code(), f.to_string()).fix(f.remedy())))
}

/// The steps of a part of a job that are still to come, its install date among them; none where it has no such date.
#[must_use]
pub(crate) fn still_to_come(part: &Case<'_>, route: &RouteDates) -> Vec<Due> {
    let Some(install) = part.project.project.install_date else { return Vec::new() };
    let group = || part.group.as_ref().map(ToString::to_string);
    let due = |step: &str, latest, to_do: &str| Due {
        step: step.to_owned(),
        group: group(),
        latest,
        to_do: to_do.to_owned(),
    };
    let steps = route.milestones.iter().filter(|m| !m.reached);
    let mut all: Vec<Due> =
        steps.filter_map(|step| Some(due(step.milestone, step.latest?, step.to_do))).collect();
    let there = route.milestones.iter().find(|m| m.milestone == Milestone::Material.word());
    if let (Some(order), Some(false)) = (route.order_material_by, there.map(|m| m.reached)) {
        all.push(due("material-ordered", order, "order the material"));
        for order in &route.orders {
            let step = format!("ordered-{}-{}", order.what, order.id);
            all.push(due(&step, order.order_by, &format!("order {} {}", order.what, order.id)));
        }
    }
    all.push(due(Due::INSTALL, install, "install"));
    all
}

/// Of the routes that the panels take, or would be proposed, the one that builds longest.
fn slowest_route<'a>(case: &Case<'a>) -> Option<&'a Route> {
    let days = |r: &&Route| r.build_business_days + r.material_business_days + r.transit_business_days;
    let open = case.panels().any(|(_, panel)| panel.route.is_none());
    let job = open.then(|| propose_job(case.shop, case.project));
    case.panels()
        .filter_map(|(id, panel)| match (&panel.route, &job) {
            (Some(route), _) => Some(route.to_string()),
            (None, Some(job)) => job.panels.get(id).and_then(|plan| plan.route.clone().ok()),
            (None, None) => None,
        })
        .filter_map(|id| case.shop.routes.get(&id))
        .max_by_key(days)
        .or_else(|| case.shop.routes.routes.first())
}

/// How far the project is, by what is recorded; the day is that of the record. One before the project was opened, or
/// after today, is that of a clock which was wrong.
fn progress(case: &Case<'_>, today: Date) -> Progress {
    let project = case.project;
    let opened = project.project.opened.min(today);
    let mut reached: Option<(Milestone, Date)> = None;
    let mut reach = |milestone: Milestone, date: Option<Date>| {
        if let Some(date) = date
            && reached.is_none_or(|(m, _)| m < milestone)
        {
            reached = Some((milestone, date.clamp(opened, today)));
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
    if case.group.is_some() {
        let released = |s: &&SignOff| {
            let statement = &s.statement;
            let of_group = statement.about.view == View::Release && statement.about.group == case.group;
            of_group && s.void.is_none() && statement.decision == Decision::Approved
        };
        let days = project.signoffs.iter().filter(released).filter_map(|s| day(&s.statement.time));
        reach(Milestone::Released, days.max());
    }
    reach(Milestone::Built, project.as_built.as_ref().map(|b| b.date));
    reach(Milestone::Arrived, project.installation.as_ref().map(|i| i.date));
    let no_rendering =
        !project.panels.is_empty() && !project.panels.keys().any(|id| needs_rendering(case, id));
    Progress { reached, no_rendering, ..Progress::default() }
}

//! What a job's dates have beside its route: a rush, a freight, the days of template and slab, and what has to be ordered by
//! when.

use jiff::civil::Date;
use serde::Serialize;

use crate::job::Case;
use crate::making::business_days::{DateFault, WorkingDays};
use crate::making::routes::Route;
use crate::making::schedule::{Milestone, Plan};

/// A route as a job runs it: in the time of a rush, and by the freight that was chosen.
#[must_use]
pub(crate) fn as_run(case: &Case<'_>, route: &Route) -> Route {
    let mut route = route.clone();
    let Some(dates) = &case.project.project.dates else { return route };
    if dates.rush == Some(true)
        && let Some(days) = route.rush_build_business_days
    {
        route.build_business_days = days;
    }
    let freight = dates
        .freight
        .as_ref()
        .and_then(|id| case.shop.routes.freights.iter().find(|freight| freight.id == id.as_str()));
    if let Some(freight) = freight {
        route.transit_business_days = freight.transit_business_days;
    }
    route
}

/// Something with a lead time of its own, and by when it has to be ordered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct OrderBy {
    /// What it is: driver, control, tape or stone.
    pub what: &'static str,
    /// Its name in the shop's list, or the swatch.
    pub id: String,
    /// From ordering it to having it.
    pub lead_business_days: u32,
    /// The latest day to order it.
    pub order_by: Date,
    /// True where that is before the rendering has to be approved.
    pub before_approval: bool,
}

/// What has to be ordered by when, the first first: everything that is chosen and has a lead time, so that it is there when
/// building begins.
///
/// # Errors
/// Days that cannot be counted.
pub(crate) fn orders(case: &Case<'_>, plan: &Plan) -> Result<Vec<OrderBy>, DateFault> {
    let shop = case.shop;
    let days = WorkingDays::of_shop(&shop.calendar, &shop.calendar.shop_holidays)?;
    let mut wanted: Vec<(&'static str, String, u32)> = Vec::new();
    for panel in case.project.panels.values() {
        let driver = panel.driver.as_ref().and_then(|id| shop.drivers.get(id.as_str()));
        wanted.extend(driver.map(|driver| ("driver", driver.id.clone(), driver.lead_business_days)));
        let tape = panel.tape.as_ref().and_then(|id| shop.lights.get(id.as_str()));
        wanted.extend(tape.and_then(|tape| Some(("tape", tape.id.clone(), tape.lead_business_days?))));
        if let Some(id) = &panel.control {
            let lead = match (shop.controls.controller(id.as_str()), shop.controls.dimmer(id.as_str())) {
                (Some(controller), _) => controller.lead_business_days,
                (None, dimmer) => dimmer.and_then(|dimmer| dimmer.lead_business_days),
            };
            wanted.extend(lead.map(|lead| ("control", id.to_string(), lead)));
        }
        let stone = case.project.stone_of(panel);
        wanted.extend(stone.and_then(|s| Some(("stone", s.id.to_string(), s.slab.lead_business_days?))));
    }
    wanted.retain(|(_, _, lead)| *lead > 0);
    wanted.sort();
    wanted.dedup();
    let needed = plan.latest(Milestone::Material);
    let mut all = Vec::new();
    for (what, id, lead_business_days) in wanted {
        let order_by = days.before(needed, lead_business_days)?;
        let before_approval = order_by < plan.latest(Milestone::Approved);
        all.push(OrderBy { what, id, lead_business_days, order_by, before_approval });
    }
    all.sort_by_key(|order| order.order_by);
    Ok(all)
}

/// The days that a job has agreed with others: when the stone is templated, and until when the slab is held.
#[must_use]
pub(crate) fn agreed(case: &Case<'_>) -> Vec<(&'static str, &'static str, Date)> {
    let Some(dates) = &case.project.project.dates else { return Vec::new() };
    let template = dates.template.map(|day| ("template", "template the stone at the place", day));
    let hold = dates.slab_hold_until.map(|day| ("slab-hold", "take the slab: it is held until then", day));
    template.into_iter().chain(hold).collect()
}

//! The chain of dates from the install date back to "the test panel must be asked for by", for one route, and
//! the chain forward from where the job stands.
//!
//! Back and forward are exact counterparts: counting forward from a date that the chain back gives arrives in
//! time, from the day after it does not. The material's lead time runs beside the approvals, so the longer of
//! the two counts. What really happened is an input ([`Progress`]); today is an input too.

use std::fmt;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::business_days::{DateFault, WorkingDays};
use super::calendar::ShopCalendar;
use super::routes::Route;
use crate::words::words;

words! {
    /// A point on the way to the install date, in order.
    Milestone, "milestone" {
        /// The test panel is asked for.
        Asked = "test-panel-asked-for",
        /// The test panel has left the shop.
        Sent = "test-panel-sent",
        /// The client has the test panel.
        Received = "test-panel-received",
        /// The stones have been tried over it.
        Tried = "stones-tried",
        /// The choice is signed; the material can be ordered.
        Chosen = "choice-signed",
        /// The rendering is ready to sign.
        Rendered = "rendering-ready",
        /// The rendering is approved.
        Approved = "rendering-approved",
        /// The engineer has released the job.
        Released = "released",
        /// The material is there; runs beside rendering, approval and release.
        Material = "material-there",
        /// The panels are finished.
        Built = "built",
        /// The panels are on site.
        Arrived = "arrived",
    }
}

impl Milestone {
    /// True for the milestones that only a job with a rendering to sign has.
    #[must_use]
    pub(crate) fn is_of_rendering(self) -> bool {
        matches!(self, Milestone::Rendered | Milestone::Approved)
    }

    /// What has to be done to get there, for a person: `ask for the test panel`.
    #[must_use]
    pub(crate) fn to_do(self) -> &'static str {
        match self {
            Milestone::Asked => "ask for the test panel",
            Milestone::Sent => "make and send the test panel",
            Milestone::Received => "receive the test panel",
            Milestone::Tried => "try the stones over the test panel",
            Milestone::Chosen => "sign the choice",
            Milestone::Rendered => "make the rendering",
            Milestone::Approved => "sign the rendering",
            Milestone::Released => "release the job to build",
            Milestone::Material => "have the material",
            Milestone::Built => "finish the panels",
            Milestone::Arrived => "have the panels on site",
        }
    }
}

/// A step that is still to come, and its latest day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Due {
    /// The milestone's word, `material-ordered`, or [`Due::INSTALL`].
    pub step: String,
    /// The release group that takes it, where groups have days of their own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// The latest day.
    pub latest: Date,
    /// What has to be done.
    pub to_do: String,
}

impl Due {
    /// The step of the install date itself.
    pub(crate) const INSTALL: &str = "install";
}

/// Which of the two things that run side by side takes longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LongerBranch {
    /// Rendering, approval and release.
    Approvals,
    /// Getting the material.
    Material,
}

/// The latest date of every milestone for an install date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// The install date.
    pub install: Date,
    /// Every milestone with its latest date, in [`Milestone::ALL`]'s order.
    pub latest: Vec<(Milestone, Date)>,
    /// The latest date to order the material.
    pub order_material_by: Date,
    /// Which of approvals and material sets the date of the choice.
    pub longer_branch: LongerBranch,
}

impl Plan {
    /// The latest date of one milestone.
    #[must_use]
    pub fn latest(&self, milestone: Milestone) -> Date {
        self.latest.iter().find(|(m, _)| *m == milestone).map_or(self.install, |(_, date)| *date)
    }
}

/// How far the job is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Progress {
    /// The furthest milestone reached, and when. `material-there` goes into `material_there` instead.
    pub reached: Option<(Milestone, Date)>,
    /// When the material was ordered; none where it is not.
    pub material_ordered: Option<Date>,
    /// When the material came; none where it has not.
    pub material_there: Option<Date>,
    /// Rounds of approval still planned for; none for all that the shop allows.
    pub approval_rounds_left: Option<u32>,
    /// True where no panel of the job needs a rendering that is signed.
    pub no_rendering: bool,
}

/// The earliest dates from where the job stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Projection {
    /// Every milestone not yet reached with its earliest date, in [`Milestone::ALL`]'s order.
    pub earliest: Vec<(Milestone, Date)>,
    /// The earliest install date, reserve kept.
    pub install: Date,
}

/// How a job stands against its install date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    /// The latest dates.
    pub plan: Plan,
    /// The earliest dates.
    pub projection: Projection,
    /// Business days to spare at the tightest milestone still to come; below 0 where the install date cannot be met.
    pub slack_business_days: i64,
    /// The first milestone still to come that has no more slack than that; none where all are reached.
    pub critical: Option<Milestone>,
}

impl Standing {
    /// True where the install date cannot be met any more by this route.
    #[must_use]
    pub fn late(&self) -> bool {
        self.slack_business_days < 0
    }
}

/// Why a job cannot be held against its install date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ScheduleFault {
    /// Days cannot be counted.
    Dates(DateFault),
    /// The install date is past and the panels are not on site.
    InstallDatePast {
        /// The install date.
        install: Date,
        /// Today.
        today: Date,
        /// The earliest install date from where the job stands.
        earliest: Date,
    },
}

impl From<DateFault> for ScheduleFault {
    fn from(fault: DateFault) -> Self {
        ScheduleFault::Dates(fault)
    }
}

impl ScheduleFault {
    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::Dates(fault) => fault.remedy(),
            Self::InstallDatePast { earliest, .. } => {
                format!("agree a new install date with the client; by this route {earliest} is the earliest")
            }
        }
    }
}

impl fmt::Display for ScheduleFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Dates(fault) => fault.fmt(f),
            Self::InstallDatePast { install, today, .. } => {
                write!(
                    f,
                    "the install date {install} is past (today is {today}) and the panels are not on site"
                )
            }
        }
    }
}

impl std::error::Error for ScheduleFault {}

/// The two calendars that a job runs by.
struct Calendars {
    shop: WorkingDays,
    transit: WorkingDays,
}

impl Calendars {
    fn of(shop: &ShopCalendar) -> Result<Calendars, DateFault> {
        Ok(Calendars {
            shop: WorkingDays::of_shop(shop, &shop.shop_holidays)?,
            transit: WorkingDays::of_shop(shop, &shop.transit_holidays)?,
        })
    }

    /// The last day up to `date` on which the shop can hand over a parcel: both work.
    fn hand_over_up_to(&self, date: Date) -> Result<Date, DateFault> {
        let mut day = self.transit.before(date, 0)?;
        while !self.shop.is_business_day(day)? {
            day = self.transit.before(self.shop.before(day, 0)?, 0)?;
        }
        Ok(day)
    }

    /// The first day from `date` on which the shop can hand over a parcel: both work.
    fn hand_over_from(&self, date: Date) -> Result<Date, DateFault> {
        let mut day = self.transit.after(date, 0)?;
        while !self.shop.is_business_day(day)? {
            day = self.transit.after(self.shop.after(day, 0)?, 0)?;
        }
        Ok(day)
    }
}

/// The latest date of every milestone for an install date, by one route. Where no panel needs a rendering, none of the days for
/// it count, and its milestones fall on the release.
///
/// # Errors
/// Days that cannot be counted: an unknown calendar, or a chain that leaves the holiday list.
pub fn plan(route: &Route, shop: &ShopCalendar, install: Date, rendering: bool) -> Result<Plan, DateFault> {
    let days = Calendars::of(shop)?;
    let allowed = &shop.allowances;
    let arrived = days.shop.before(install, allowed.install_reserve_business_days)?;
    let built = days.hand_over_up_to(days.transit.before(arrived, route.transit_business_days)?)?;
    let build_start = days.shop.before(built, route.build_business_days)?;
    let approved = days.shop.before(build_start, allowed.release_business_days)?;
    let rounds = allowed.approval_rounds.saturating_mul(allowed.approval_round_business_days);
    let (rounds, drawing) = if rendering { (rounds, allowed.rendering_business_days) } else { (0, 0) };
    let rendered = days.shop.before(approved, rounds)?;
    let chosen_for_approvals = days.shop.before(rendered, drawing)?;
    let order_material_by = days.shop.before(build_start, route.material_business_days)?;
    let chosen = chosen_for_approvals.min(order_material_by);
    let tried = days.shop.before(chosen, allowed.choice_business_days)?;
    let received = days.shop.before(tried, allowed.trial_business_days)?;
    let sent =
        days.hand_over_up_to(days.transit.before(received, route.test_panel_transit_business_days)?)?;
    let asked = days.shop.before(sent, route.test_panel_business_days)?;
    Ok(Plan {
        install,
        latest: vec![
            (Milestone::Asked, asked),
            (Milestone::Sent, sent),
            (Milestone::Received, received),
            (Milestone::Tried, tried),
            (Milestone::Chosen, chosen),
            (Milestone::Rendered, rendered),
            (Milestone::Approved, approved),
            (Milestone::Released, build_start),
            (Milestone::Material, build_start),
            (Milestone::Built, built),
            (Milestone::Arrived, arrived),
        ],
        order_material_by,
        longer_branch: if order_material_by < chosen_for_approvals {
            LongerBranch::Material
        } else {
            LongerBranch::Approvals
        },
    })
}

/// The earliest dates by one route from where the job stands.
///
/// # Errors
/// Days that cannot be counted: an unknown calendar, or a chain that leaves the holiday list.
pub fn project(
    route: &Route,
    shop: &ShopCalendar,
    today: Date,
    progress: &Progress,
) -> Result<Projection, DateFault> {
    let days = Calendars::of(shop)?;
    let allowed = &shop.allowances;
    let rounds = progress.approval_rounds_left.unwrap_or(allowed.approval_rounds);
    let approval = rounds.saturating_mul(allowed.approval_round_business_days);
    let (drawing, approval) =
        if progress.no_rendering { (0, 0) } else { (allowed.rendering_business_days, approval) };
    let mut walk = Walk { today, reached: progress.reached, at: today, earliest: Vec::new() };

    walk.step(Milestone::Asked, |at| days.shop.after(at, 0))?;
    walk.step(Milestone::Sent, |at| {
        days.hand_over_from(days.shop.after(at, route.test_panel_business_days)?)
    })?;
    walk.step(Milestone::Received, |at| days.transit.after(at, route.test_panel_transit_business_days))?;
    walk.step(Milestone::Tried, |at| days.shop.after(at, allowed.trial_business_days))?;
    walk.step(Milestone::Chosen, |at| days.shop.after(at, allowed.choice_business_days))?;
    let chosen = walk.at;
    walk.step(Milestone::Rendered, |at| days.shop.after(at, drawing))?;
    walk.step(Milestone::Approved, |at| days.shop.after(at, approval))?;
    walk.step(Milestone::Released, |at| days.shop.after(at, allowed.release_business_days))?;
    let built = progress.reached.is_some_and(|(reached, _)| reached >= Milestone::Built);
    if progress.material_there.is_none() && !built {
        // Ordered or not, what is not there yet cannot come before today.
        let ordered = progress.material_ordered.unwrap_or(chosen.max(today));
        let there = days.shop.after(ordered, route.material_business_days)?.max(today);
        walk.earliest.push((Milestone::Material, there));
        walk.at = walk.at.max(there);
    }
    walk.step(Milestone::Built, |at| days.hand_over_from(days.shop.after(at, route.build_business_days)?))?;
    walk.step(Milestone::Arrived, |at| days.transit.after(at, route.transit_business_days))?;
    let install = days.shop.after(walk.at, allowed.install_reserve_business_days)?;
    Ok(Projection { earliest: walk.earliest, install })
}

/// Walks forward milestone by milestone, past those that are reached.
struct Walk {
    today: Date,
    reached: Option<(Milestone, Date)>,
    at: Date,
    earliest: Vec<(Milestone, Date)>,
}

impl Walk {
    fn step(
        &mut self,
        milestone: Milestone,
        next: impl Fn(Date) -> Result<Date, DateFault>,
    ) -> Result<(), DateFault> {
        if let Some((reached, on)) = self.reached
            && milestone <= reached
        {
            self.at = on;
            return Ok(());
        }
        self.at = next(self.at)?.max(self.today);
        self.earliest.push((milestone, self.at));
        Ok(())
    }
}

/// Holds a job against its install date.
///
/// # Errors
/// Days that cannot be counted, or an install date that is past while the panels are not on site.
pub fn stand(
    route: &Route,
    shop: &ShopCalendar,
    install: Date,
    today: Date,
    progress: &Progress,
) -> Result<Standing, ScheduleFault> {
    let projection = project(route, shop, today, progress)?;
    if install < today && !projection.earliest.is_empty() {
        return Err(ScheduleFault::InstallDatePast { install, today, earliest: projection.install });
    }
    let plan = plan(route, shop, install, !progress.no_rendering)?;
    let days = WorkingDays::of_shop(shop, &shop.shop_holidays)?;
    let mut tightest: Option<(i64, Milestone)> = None;
    let asked_for = |milestone: Milestone| !(progress.no_rendering && milestone.is_of_rendering());
    for &(milestone, earliest) in projection.earliest.iter().filter(|(milestone, _)| asked_for(*milestone)) {
        let slack = days.between(earliest, plan.latest(milestone))?;
        if tightest.is_none_or(|(least, _)| slack < least) {
            tightest = Some((slack, milestone));
        }
    }
    Ok(Standing {
        slack_business_days: match tightest {
            Some((slack, _)) => slack,
            None => days.between(projection.install, install)?.max(0),
        },
        critical: tightest.map(|(_, milestone)| milestone),
        plan,
        projection,
    })
}

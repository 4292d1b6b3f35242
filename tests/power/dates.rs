//! Business days, the chain of dates, and calendar files.
//!
//! Against NumPy and a reader of calendar files from outside: `tests/outside/power/`.

use jiff::civil::{Date, date, datetime};
use proptest::prelude::*;
use underlit::making::business_days::{DateFault, MOST_BUSINESS_DAYS, WorkingDays};
use underlit::making::calendar::{HolidayCalendar, ShopCalendar};
use underlit::making::calendar_file::{Entry, calendar_file};
use underlit::making::routes::{Route, Routes};
use underlit::making::schedule::{LongerBranch, Milestone, Progress, ScheduleFault, plan, project, stand};
use underlit::making::shop_fault::MakingShopFault;

use crate::starter::starter;

fn shop() -> ShopCalendar {
    starter("calendar")
}

fn routes() -> Routes {
    starter("routes")
}

fn route(id: &str) -> Route {
    routes().get(id).cloned().expect("the starter has the route")
}

#[test]
fn fifteen_business_days_before_a_january_monday() {
    // Counted by hand on a calendar: 8, 7, 6, 5, 4 January; 31, 30, 29, 28, 24, 23, 22, 21, 18, 17 December.
    let days = WorkingDays::monday_to_friday([date(2026, 12, 25), date(2027, 1, 1)]);
    assert_eq!(days.offset(date(2027, 1, 11), -15), Ok(date(2026, 12, 17)));
}

#[test]
fn a_day_off_rolls_the_way_the_count_goes() {
    let days = WorkingDays::monday_to_friday([date(2027, 1, 1)]);
    // Saturday 2 January 2027: on to Monday 4, back past the holiday to Thursday 31 December.
    assert_eq!(days.after(date(2027, 1, 2), 0), Ok(date(2027, 1, 4)));
    assert_eq!(days.before(date(2027, 1, 2), 0), Ok(date(2026, 12, 31)));
    assert_eq!(days.after(date(2027, 1, 2), 1), Ok(date(2027, 1, 5)));
    assert_eq!(days.before(date(2027, 1, 2), 1), Ok(date(2026, 12, 30)));
    assert_eq!(days.offset(date(2027, 1, 2), 0), Ok(date(2027, 1, 4)));
}

#[test]
fn counts_that_cannot_be_made_are_refused() {
    let days = WorkingDays::monday_to_friday([]);
    assert_eq!(days.offset(date(2027, 1, 4), i64::MIN).map_err(|f| f.code()), Err("dates-too-far"));
    assert!(matches!(days.offset(date(2027, 1, 4), MOST_BUSINESS_DAYS + 1), Err(DateFault::TooFar { .. })));
    assert!(matches!(days.after(date(9999, 12, 30), 5), Err(DateFault::TooFar { .. })));
    assert_eq!(WorkingDays::new([], []), Err(DateFault::NoWorkingDay));
    let shop = shop();
    assert_eq!(
        WorkingDays::of_shop(&shop, "harbour").map_err(|f| f.remedy()),
        Err("use one of shop, parcels, or add it to `holiday_calendars` in shop/calendar.json".into())
    );
    let days = WorkingDays::of_shop(&shop, "shop").expect("the starter has it");
    let fault = days.after(date(2031, 12, 20), 20).expect_err("the list ends in 2031");
    assert!(
        fault.to_string().contains("complete from 2026-01-01 to 2031-12-31, and 2032-01-01 is needed"),
        "{fault}"
    );
}

#[test]
fn the_chain_back_from_an_install_date() {
    // Counted by hand with the starter's days: Monday to Friday, shop closed 24–31 December and 1 January.
    let plan =
        plan(&route("saw-and-edge"), &shop(), date(2027, 2, 15), true).expect("the chain stays in the list");
    let latest: Vec<String> = plan.latest.iter().map(|(m, d)| format!("{m} {d}")).collect();
    assert_eq!(
        latest,
        [
            "test-panel-asked-for 2026-12-11",
            "test-panel-sent 2026-12-17",
            "test-panel-received 2026-12-22",
            "stones-tried 2027-01-07",
            "choice-signed 2027-01-12",
            "rendering-ready 2027-01-15",
            "rendering-approved 2027-01-25",
            "released 2027-01-27",
            "material-there 2027-01-27",
            "built 2027-02-08",
            "arrived 2027-02-11",
        ]
    );
    assert_eq!(plan.latest(Milestone::Asked), date(2026, 12, 11));
    // The material's 5 days before 27 January leave more time than release, approval and rendering do.
    assert_eq!((plan.order_material_by, plan.longer_branch), (date(2027, 1, 20), LongerBranch::Approvals));
}

#[test]
fn slow_material_sets_the_date_of_the_choice() {
    let mut route = route("saw-and-edge");
    route.material_business_days = 20;
    let plan = plan(&route, &shop(), date(2027, 2, 15), true).expect("the chain stays in the list");
    assert_eq!(plan.longer_branch, LongerBranch::Material);
    assert_eq!(plan.latest(Milestone::Chosen), plan.order_material_by);
    assert!(plan.latest(Milestone::Chosen) < date(2027, 1, 12));
}

#[test]
fn a_job_stands_where_its_progress_puts_it() {
    let (route, shop) = (route("saw-and-edge"), shop());
    let install = date(2027, 2, 15);
    let stand = |today, progress: &Progress| stand(&route, &shop, install, today, progress);
    let nothing = Progress::default();
    let on_the_day = stand(date(2026, 12, 11), &nothing).expect("the dates can be counted");
    assert_eq!((on_the_day.slack_business_days, on_the_day.critical), (0, Some(Milestone::Asked)));
    assert!(!on_the_day.late());
    let a_day_late = stand(date(2026, 12, 14), &nothing).expect("the dates can be counted");
    assert_eq!(a_day_late.slack_business_days, -1);
    assert!(a_day_late.late() && a_day_late.projection.install > install);
    // Received early: what is left is reckoned from there, and what is overdue from today.
    let received =
        Progress { reached: Some((Milestone::Received, date(2026, 12, 1))), ..Progress::default() };
    let standing = stand(date(2026, 12, 2), &received).expect("the dates can be counted");
    assert_eq!(standing.projection.earliest[0], (Milestone::Tried, date(2026, 12, 8)));
    let idle = stand(date(2026, 12, 16), &received).expect("the dates can be counted");
    assert_eq!(idle.projection.earliest[0], (Milestone::Tried, date(2026, 12, 16)));
    assert_eq!(idle.critical, Some(Milestone::Tried));
    assert!(idle.slack_business_days < standing.slack_business_days);
    // Everything approved, but the material was ordered late: it is what decides.
    let waiting = Progress {
        reached: Some((Milestone::Released, date(2027, 1, 20))),
        material_ordered: Some(date(2027, 1, 22)),
        ..Progress::default()
    };
    let standing = stand(date(2027, 1, 25), &waiting).expect("the dates can be counted");
    assert_eq!((standing.slack_business_days, standing.critical), (-2, Some(Milestone::Material)));
    let there = Progress { material_there: Some(date(2027, 1, 25)), ..waiting };
    assert!(!stand(date(2027, 1, 25), &there).expect("the dates can be counted").late());
    let arrived = Progress { reached: Some((Milestone::Arrived, date(2027, 2, 10))), ..Progress::default() };
    let standing = stand(date(2027, 2, 20), &arrived).expect("arrived panels are never late");
    assert_eq!((standing.critical, standing.late()), (None, false));
}

#[test]
fn an_install_date_in_the_past_says_which_is_the_earliest_now() {
    let fault =
        stand(&route("saw-and-edge"), &shop(), date(2026, 10, 1), date(2026, 11, 2), &Progress::default())
            .expect_err("the date is past");
    assert!(matches!(fault, ScheduleFault::InstallDatePast { .. }));
    let earliest = project(&route("saw-and-edge"), &shop(), date(2026, 11, 2), &Progress::default())
        .expect("the dates can be counted")
        .install;
    assert!(fault.remedy().contains(&earliest.to_string()), "{}", fault.remedy());
}

#[test]
fn holes_in_the_calendar_are_found_with_their_place() {
    let mut shop = shop();
    shop.shop_holidays = "harbor".into();
    shop.holiday_calendars[0].holidays[0].date = date(2020, 1, 1);
    let twice = shop.holiday_calendars[1].holidays[0].clone();
    shop.holiday_calendars[1].holidays.push(twice);
    let upside_down = HolidayCalendar {
        id: "parcels".into(),
        name: "again".into(),
        complete_from: date(2027, 1, 1),
        complete_to: date(2026, 1, 1),
        holidays: vec![],
    };
    shop.holiday_calendars.push(upside_down);
    let codes: Vec<_> = shop.faults().iter().map(MakingShopFault::code).collect();
    assert_eq!(
        codes,
        [
            "shop-duplicate-id",
            "calendar-unknown",
            "calendar-holiday-outside-span",
            "calendar-holiday-twice",
            "calendar-span"
        ]
    );
    assert_eq!(shop.faults()[1].pointer(), "/shop_holidays");
    let mut routes = routes();
    routes.routes[0].sheet_margin_mm.0 = 600.0;
    assert_eq!(routes.faults()[0].code(), "route-margin-too-wide");
}

fn entry(title: &str, on: Date) -> Entry {
    Entry {
        uid: "bar-front.released@book.example".into(),
        date: on,
        title: title.into(),
        description: String::new(),
    }
}

#[test]
fn a_calendar_file_is_the_same_every_time_and_well_formed() {
    let long =
        "Release the job to build; panel “bar-front”, honey onyx, 2400 × 460 mm, by the route saw-and-edge";
    let mut entries = [
        entry(long, date(2026, 12, 31)),
        entry("Arrived, all of it; \\ as drawn\nsecond line", date(2027, 2, 11)),
    ];
    entries[1].uid = "bar-front.arrived@book.example".into();
    entries[1].description = "See the board.".into();
    let stamp = datetime(2026, 11, 2, 8, 30, 0, 0);
    let written = calendar_file("Jobs", stamp, &entries).expect("the dates have a day after them");
    assert_eq!(written, calendar_file("Jobs", stamp, &entries).expect("as before"));
    // RFC 5545 section 3.1: lines end in CRLF and are at most 75 octets long without it.
    assert!(written.ends_with("END:VCALENDAR\r\n"));
    assert_eq!(written.matches('\n').count(), written.matches("\r\n").count());
    assert!(written.split("\r\n").all(|line| line.len() <= 75), "{written}");
    // Section 3.6.1: a whole-day event's DTEND is the day after its last.
    assert!(written.contains("DTSTART;VALUE=DATE:20261231\r\n"), "{written}");
    assert!(written.contains("DTEND;VALUE=DATE:20270101\r\n"), "{written}");
    assert_eq!(written.matches("DTSTAMP:20261102T083000Z").count(), 2);
    assert_eq!(written.matches("UID:").count(), 2);
}

fn shops() -> impl Strategy<Value = (Route, ShopCalendar)> {
    let durations = proptest::collection::vec(0..12_u32, 12);
    let closed = proptest::collection::vec(0..600_i64, 0..60);
    (durations, closed.clone(), closed, proptest::collection::vec(any::<bool>(), 7)).prop_map(
        |(d, shop_closed, no_parcels, week)| {
            let (mut route, mut shop) = (route("saw-and-edge"), shop());
            route.test_panel_business_days = d[0];
            route.test_panel_transit_business_days = d[1];
            route.material_business_days = d[2] * 4;
            route.build_business_days = d[3];
            route.transit_business_days = d[4];
            shop.allowances.trial_business_days = d[5];
            shop.allowances.choice_business_days = d[6];
            shop.allowances.rendering_business_days = d[7];
            shop.allowances.approval_round_business_days = d[8] / 3;
            shop.allowances.approval_rounds = d[9] / 4 + 1;
            shop.allowances.release_business_days = d[10];
            shop.allowances.install_reserve_business_days = d[11];
            let mut number = 0;
            shop.working_days.retain(|_| {
                number += 1;
                week[number] || number == 3
            });
            for (calendar, closed) in shop.holiday_calendars.iter_mut().zip([shop_closed, no_parcels]) {
                calendar.complete_from = date(2020, 1, 1);
                calendar.complete_to = date(2040, 12, 31);
                calendar.holidays.clear();
                for day in closed {
                    let on =
                        date(2026, 6, 1).checked_add(jiff::Span::new().days(day)).expect("within the years");
                    let name = "closed".into();
                    calendar.holidays.push(underlit::making::calendar::Holiday { date: on, name });
                }
            }
            (route, shop)
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn asking_in_time_arrives_in_time_and_a_day_later_does_not((route, shop) in shops(), day in 0..300_i64) {
        let install = date(2027, 3, 1).checked_add(jiff::Span::new().days(day)).expect("within the years");
        let plan = plan(&route, &shop, install, true).expect("the chain stays in the list");
        let from = |today| project(&route, &shop, today, &Progress::default()).expect("the chain stays in the list");
        let asked = plan.latest(Milestone::Asked);
        let in_time = from(asked);
        prop_assert!(in_time.install <= install, "{} after {install}", in_time.install);
        for (milestone, earliest) in &in_time.earliest {
            prop_assert!(*earliest <= plan.latest(*milestone), "{milestone}: {earliest} after {}", plan.latest(*milestone));
        }
        let next_day = from(asked.tomorrow().expect("within the years"));
        prop_assert!(next_day.install > install, "{} is still in time, asked a day after {asked}", next_day.install);
    }

    #[test]
    fn more_days_never_end_earlier(start in 0..2000_i64, days in 0..200_u32, holidays in proptest::collection::vec(0..2000_i64, 0..40)) {
        let on = |n: i64| date(2024, 1, 1).checked_add(jiff::Span::new().days(n)).expect("within the years");
        let week = WorkingDays::monday_to_friday(holidays.into_iter().map(on));
        let end = week.after(on(start), days).expect("it can be counted");
        prop_assert!(week.is_business_day(end).expect("the list has no end"));
        prop_assert!(week.after(on(start), days + 1).expect("it can be counted") > end);
        prop_assert_eq!(week.before(end, days), week.after(on(start), 0), "back and on undo each other");
        let first = week.after(on(start), 0).expect("it can be counted");
        prop_assert_eq!(week.between(first, end), Ok(i64::from(days)));
        prop_assert_eq!(week.between(end, first), Ok(-i64::from(days)));
    }
}

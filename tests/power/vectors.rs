//! Writes what the power and making rooms answer into files that the checks from outside read.
//!
//! The files go to the folder `power` under Cargo's folder for tests' files; `tests/outside/power` says what
//! each is held against. A check here only sees that the files are whole.

use std::fs;
use std::path::Path;

use jiff::Span;
use jiff::civil::{Date, date, datetime};
use serde_json::{Value, json};
use underlit::making::calendar::{Holiday, ShopCalendar};
use underlit::making::calendar_file::{Entry, calendar_file};
use underlit::making::routes::Routes;
use underlit::making::schedule::{Milestone, Progress, plan, project};
use underlit::power::tape_drop::{Feed, at_fraction, largest};

use crate::starter::starter;

fn write(name: &str, text: &str) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("power");
    fs::create_dir_all(&folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let file = folder.join(name);
    fs::write(&file, text).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    let read = fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    assert!(read == text && !text.is_empty(), "{} is not whole", file.display());
}

#[test]
fn drops_along_a_tape() {
    let mut rows: Vec<Value> = Vec::new();
    for (feed, word) in [(Feed::OneEnd, "one"), (Feed::BothEnds, "both")] {
        for (amps, ohms) in [(1.0, 1.0), (2.4, 0.35), (0.72, 0.096)] {
            for step in 0..=20 {
                let fraction = f64::from(step) / 20.0;
                let drop_v = at_fraction(feed, amps, ohms, fraction);
                rows.push(
                    json!({"feed": word, "amps": amps, "ohms": ohms, "fraction": fraction, "drop_v": drop_v}),
                );
            }
            let largest = largest(feed, amps, ohms);
            rows.push(json!({"feed": word, "amps": amps, "ohms": ohms, "largest_v": largest}));
        }
    }
    write("tape_drop.json", &json!(rows).to_string());
}

/// The same numbers on every machine, spread well enough to vary a shop's durations and holidays.
fn scatter(seed: &mut u64, below: u64) -> u64 {
    *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    (*seed >> 33) % below
}

#[test]
fn chains_of_dates() {
    let routes: Routes = starter("routes");
    let starter: ShopCalendar = starter("calendar");
    let day = |n: u64| date(2026, 6, 1).checked_add(Span::new().days(n as i64)).expect("within the years");
    let mut seed = 1;
    let mut jobs: Vec<Value> = Vec::new();
    for number in 0..120 {
        let mut route = routes.routes[number % routes.routes.len()].clone();
        let mut shop = starter.clone();
        route.material_business_days = scatter(&mut seed, 60) as u32;
        route.transit_business_days = scatter(&mut seed, 9) as u32;
        route.test_panel_transit_business_days = scatter(&mut seed, 9) as u32;
        shop.allowances.approval_rounds = 1 + scatter(&mut seed, 4) as u32;
        shop.allowances.install_reserve_business_days = scatter(&mut seed, 6) as u32;
        for calendar in &mut shop.holiday_calendars {
            calendar.complete_from = date(2020, 1, 1);
            calendar.complete_to = date(2035, 12, 31);
            let many = scatter(&mut seed, 60);
            calendar.holidays = (0..many)
                .map(|_| Holiday { date: day(scatter(&mut seed, 500)), name: "closed".into() })
                .collect();
        }
        let install = day(250 + scatter(&mut seed, 200));
        let today = day(scatter(&mut seed, 200));
        let plan = plan(&route, &shop, install, true).expect("the chain stays in the list");
        let projection =
            project(&route, &shop, today, &Progress::default()).expect("the chain stays in the list");
        let dates = |list: &[(Milestone, Date)]| -> Value {
            list.iter()
                .map(|(m, d)| (m.word().to_owned(), json!(d)))
                .collect::<serde_json::Map<_, _>>()
                .into()
        };
        jobs.push(json!({
            "route": route, "shop": shop, "install": install, "today": today,
            "latest": dates(&plan.latest), "order_material_by": plan.order_material_by,
            "earliest": dates(&projection.earliest), "earliest_install": projection.install,
        }));
    }
    write("chains.json", &json!(jobs).to_string());
}

#[test]
fn a_calendar_file() {
    let entries: Vec<Entry> = [
        ("2026-12-31", "Release to build; panel “bar-front”, honey onyx, 2400 × 460 mm, by the route saw-and-edge, as drawn"),
        ("2027-02-28", "Short"),
        ("2028-02-28", "Comma, semicolon; backslash \\ and\na second line"),
    ]
    .iter()
    .map(|(on, title)| Entry {
        uid: format!("bar.{on}@book.example"),
        date: on.parse().expect("it is a date"),
        title: (*title).into(),
        description: format!("Latest date. {title}"),
    })
    .collect();
    let stamp = datetime(2026, 11, 2, 8, 30, 0, 0);
    let text = calendar_file("Bar front, dates", stamp, &entries).expect("the dates have a day after them");
    write("dates.ics", &text);
    let expected: Vec<Value> = entries
        .iter()
        .map(|e| json!({"uid": e.uid, "date": e.date, "title": e.title, "description": e.description}))
        .collect();
    write("dates.json", &json!(expected).to_string());
}

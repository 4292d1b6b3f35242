//! The pages of a book, for everybody who would rather look than type: what is next and whose it is, a page for each job
//! and each person, what may be built, the calendar, the load of the shop.
//!
//! They are made from a plain view of facts ([`facts`]), judge nothing, fetch nothing and run nothing: filters are style. The
//! same facts give the same bytes. In a long book no list grows with the book, so that a telephone opens each page: lists show the
//! first hundred, each week and each year of what is handed over has a page, and people's pages lead to all of their jobs. Such a
//! page says nothing of the day, so that a change touches only those of its own job. Pure: nothing here reads a file, a clock or a record.
//!
//! | file | what it is for |
//! |---|---|
//! | [`facts`] | what the pages say, before it is HTML |
//! | `frame` | what stands around each page: style, links, foot |
//! | `wording` | days, people and what is waited for, in words |
//! | `board` | the front page: whose turn it is, and the jobs by what matters |
//! | `job` | the page of a job |
//! | `job_parts` | its panels, approvals and tables |
//! | `lists` | what may be built, what is handed over, people |
//! | `days` | the calendar, and the load of the shop by week |

mod board;
mod days;
pub mod facts;
mod frame;
mod job;
mod job_parts;
mod lists;
mod wording;

use self::facts::{Book, Card};
pub(crate) use self::job::page as job;
pub(crate) use self::wording::day;
use crate::html::Html;
use crate::model::stage::Stage;

/// A page of a book: its file, from the front page's folder, and its text.
pub(crate) type Page = (String, String);

/// Every page that is made of many jobs.
#[must_use]
pub(crate) fn overviews(book: &Book, cards: &[Card]) -> Vec<Page> {
    let mut cards: Vec<&Card> = cards.iter().collect();
    cards.sort_by_cached_key(|card| board::order(card));
    let mut pages = vec![
        ("index.html".to_owned(), board::page(book, &cards)),
        ("released.html".to_owned(), lists::released(book, &cards)),
        ("calendar.html".to_owned(), days::calendar(book, &cards)),
        ("load.html".to_owned(), days::load(book, &cards)),
        ("people.html".to_owned(), lists::people(book, &cards)),
        ("done.html".to_owned(), lists::done(book, &cards)),
    ];
    // A date that no calendar can hold is no reason for no pages.
    pages.extend(days::file(book, &cards).map(|file| ("calendar.ics".to_owned(), file)));
    pages.extend(days::weeks(book, &cards));
    pages.extend(lists::done_by_year(book, &cards));
    pages.extend(book.people.keys().map(|id| (person_file(id), lists::person(book, id, &cards))));
    pages
}

/// Jobs that one list of a long book shows in full at most; the rest are links, or on the pages of their weeks.
const MOST_LISTED: usize = 100;
/// A book of more jobs under way than this, or of more steps, is long: the calendar has a page for each week then, and no list
/// grows with the book, so that a telephone can open each page.
const LONG_JOBS: usize = 300;
const LONG_STEPS: usize = 1000;

/// True for a long book.
fn is_long(cards: &[&Card]) -> bool {
    let under_way = cards.iter().filter(|card| card.stage != Some(Stage::HandedOver)).count();
    under_way > LONG_JOBS || cards.iter().map(|card| card.due.len()).sum::<usize>() > LONG_STEPS
}

/// Jobs as links alone.
fn links(cards: &[&Card], up: &str, main: &mut Html) {
    main.raw("<ul class=\"plain\">");
    for card in cards {
        let link = format!("{up}{}", job_file(&card.id));
        main.raw("<li>").open("a", &[("href", &link)]).said(&card.title).raw("</a></li>");
    }
    main.raw("</ul>");
}

/// The file of a job's page.
#[must_use]
pub(crate) fn job_file(id: &str) -> String {
    format!("jobs/{id}.html")
}

/// The file of somebody's page.
#[must_use]
pub(crate) fn person_file(id: &str) -> String {
    format!("people/{id}.html")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use jiff::ToSpan;
    use jiff::civil::{Date, date};

    use super::facts::{Group, Person};
    use super::*;
    use crate::digest::Sha256Digest;
    use crate::making::schedule::Due;
    use crate::model::roster::Role;
    use crate::units::DisplayUnits;

    const DAY: Date = date(2027, 3, 1);

    fn book() -> Book {
        let someone = |name: &str| Person { name: name.into(), roles: vec![Role::Rep], contact: None };
        Book {
            shop: "Ternhallow Lightworks".into(),
            note: None,
            units: DisplayUnits::Mm,
            day: DAY,
            commit: None,
            fingerprint: Sha256Digest::of(b"a book"),
            people: (0..5).map(|i| (format!("rep{i}"), someone(&format!("Rep {i}")))).collect(),
            matters: Vec::new(),
        }
    }

    /// Jobs of which one in seven is handed over, one in eleven has no date, and one in five waits for each rep.
    fn cards(count: usize) -> Vec<Card> {
        let card = |i: usize| {
            let done = i.is_multiple_of(7);
            let install = (!i.is_multiple_of(11)).then(|| DAY + ((i as i64 * 37) % 300 - 20).days());
            let step = |name: &str, before: i64| Due {
                step: name.into(),
                group: None,
                latest: install.unwrap_or(DAY) - before.days(),
                to_do: format!("finish step {name}"),
            };
            let steps = [("sent", 60), ("rendered", 30), ("released", 20), ("built", 7), (Due::INSTALL, 0)];
            let rep = format!("rep{}", i % 5);
            let wait = serde_json::json!({
                "people": [rep], "roles": ["rep"], "state": "missing", "what": "the drawing for panel top is not signed",
                "asks": null, "why": "whoever builds it builds what is drawn", "command": "underlit sign job rendering",
                "requirement": "rendering-signed", "changes": [], "behind": false,
            });
            let json = serde_json::json!({
                "id": format!("job-{i}"), "title": format!("Reception desk number {i}"), "site": "Ternhallow",
                "client": "Imke Voss", "stage": if done { "handed-over" } else { "rendering" }, "since": DAY - (i as i64 % 1500).days(),
                "released": false, "holds": true, "may_advance": false, "late": !done && i.is_multiple_of(13), "install": install, "spare": 3,
                "earliest": null, "no_dates": null, "questions": 0, "vanished": 0, "refused": 0,
                "waits": if done { vec![] } else { vec![wait] }, "people": [["rep", rep]],
                "due": if done || install.is_none() { vec![] } else { steps.map(|(name, before)| step(name, before)).to_vec() },
                "panels": 2, "area_mm2": 1e6, "release": null, "groups": [], "faults": [],
            });
            serde_json::from_value(json).unwrap_or_else(|e| panic!("{e}"))
        };
        (0..count).map(card).collect()
    }

    fn made(cards: &[Card]) -> BTreeMap<String, String> {
        overviews(&book(), cards).into_iter().collect()
    }

    /// Ten thousand jobs make no page that a telephone cannot open, and each job is a few taps from the first page.
    #[test]
    fn pages_of_a_long_book_stay_small_and_lead_to_every_job() {
        let cards = cards(10_000);
        let pages = made(&cards);
        for (file, text) in pages.iter().filter(|(file, _)| file.ends_with(".html")) {
            assert!(text.len() < 400_000, "{file} has {} bytes", text.len());
        }
        for card in cards.iter().step_by(17) {
            let link = format!("{}\"", job_file(&card.id));
            let by =
                |folder: &str| pages.iter().any(|(f, text)| f.starts_with(folder) && text.contains(&link));
            match card.stage {
                Some(Stage::HandedOver) => assert!(by("done/"), "{}", card.id),
                _ => assert!(by("weeks/") && by("people/"), "{}", card.id),
            }
        }
        for file in pages.keys().filter(|file| file.starts_with("weeks/") || file.starts_with("done/")) {
            let from = if file.starts_with("weeks/") { "calendar.html" } else { "done.html" };
            assert!(pages[from].contains(&format!("href=\"{file}\"")), "{file}");
        }
    }

    /// A step that was over a year ago stands on the page and not in the file; one of a release group names it in both.
    #[test]
    fn the_calendar_file_keeps_a_year_and_names_release_groups() {
        let mut one = cards(2).remove(1);
        let due = |step: &str, days: i64, group: Option<&str>| Due {
            step: step.into(),
            group: group.map(str::to_owned),
            latest: DAY - days.days(),
            to_do: format!("finish {step}"),
        };
        one.due = vec![
            due("sent", 367, None),
            due("rendered", 366, None),
            due("built", 0, Some("level-3")),
            due("built", -7, Some("level-4")),
        ];
        let group = |id: &str, panels: usize| Group {
            id: id.into(),
            words: String::new(),
            panels,
            area_mm2: panels as f64 * 1e6,
            release: None,
        };
        one.groups = vec![group("level-3", 3), group("level-4", 4)];
        let pages = made(&[one]);
        let file = &pages["calendar.ics"];
        assert_eq!(file.matches("BEGIN:VEVENT").count(), 3, "{file}");
        assert!(!file.contains("finish sent") && pages["calendar.html"].contains("Finish sent"));
        assert!(file.contains("UID:job-1.level-3.built@") && file.contains("UID:job-1.rendered@"), "{file}");
        assert!(file.contains("desk number 1\\, level-3: finish built"), "{file}");
        assert!(pages["calendar.html"].contains(", level-4"));
        let load = &pages["load.html"];
        assert!(load.contains("<b>3 panels</b>") && load.contains("<b>4 panels</b>"), "{load}");
    }

    /// What one change leaves: the lists that every job is in, and the pages of the job's own weeks and people.
    #[test]
    fn one_change_changes_few_pages_and_a_short_book_has_no_weeks() {
        let before = cards(10_000);
        let mut after = before.clone();
        after[5002].title = "Another title".into();
        let (before, after) = (made(&before), made(&after));
        let changed: Vec<&String> =
            after.iter().filter(|(file, text)| before.get(*file) != Some(text)).map(|p| p.0).collect();
        assert!(!changed.is_empty() && changed.len() <= 12, "{changed:?}");
        let short = made(&cards(100));
        assert!(short.keys().all(|file| !file.starts_with("weeks/") && !file.starts_with("done/")));
        assert_eq!(short["index.html"].matches("<li class=\"job").count(), 100 - 100usize.div_ceil(7));
    }
}

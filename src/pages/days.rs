//! The calendar, and the load of the shop by week: the latest days that keep each install date, as they were worked out.

use std::collections::BTreeMap;

use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime, Time};

use super::facts::{Book, Card};
use super::frame::Framed;
use super::wording::{begun, day, monday, time, weekday};
use super::{MOST_LISTED, Page, is_long, job_file, links};
use crate::html::Html;
use crate::making::calendar_file::{Entry, calendar_file};
use crate::making::schedule::{Due, Milestone};
use crate::model::stage::Stage;
use crate::words::counted;

/// Steps that the calendar lists of a long book at most.
const MOST_STEPS: usize = 500;

/// A step of a job, by its day.
type Dated<'c> = (&'c Due, &'c Card);

/// Every step, by its day.
fn steps<'c>(cards: &[&'c Card]) -> Vec<Dated<'c>> {
    let mut all: Vec<Dated<'c>> =
        cards.iter().flat_map(|card| card.due.iter().map(move |due| (due, *card))).collect();
    all.sort_by(|(a, one), (b, two)| (a.latest, &one.id).cmp(&(b.latest, &two.id)));
    all
}

/// Steps by the Monday of their week.
fn by_monday(steps: Vec<Dated<'_>>) -> BTreeMap<Date, Vec<Dated<'_>>> {
    let mut weeks: BTreeMap<Date, Vec<Dated<'_>>> = BTreeMap::new();
    for dated in steps {
        weeks.entry(monday(dated.0.latest)).or_default().push(dated);
    }
    weeks
}

/// Steps that are overdue, and the others by the Monday of their week.
fn by_week<'c>(book: &Book, cards: &[&'c Card]) -> (Vec<Dated<'c>>, BTreeMap<Date, Vec<Dated<'c>>>) {
    let (overdue, coming): (Vec<_>, Vec<_>) =
        steps(cards).into_iter().partition(|(due, _)| due.latest < book.day);
    (overdue, by_monday(coming))
}

/// The release group that a step is of, where groups have days of their own.
fn of_group(due: &Due) -> String {
    due.group.as_ref().map_or_else(String::new, |group| format!(", {group}"))
}

fn job(card: &Card, up: &str, main: &mut Html) {
    main.open("a", &[("href", &format!("{up}{}", job_file(&card.id)))]).said(&card.title).raw("</a>");
}

/// What has to be done by when.
pub(super) fn calendar(book: &Book, cards: &[&Card]) -> String {
    let (overdue, weeks) = by_week(book, cards);
    let mut head = Html::default();
    head.raw("<h1>Calendar</h1><p class=\"lead\">The latest day of every step that keeps its install date, counted in the \
              shop's business days. <a href=\"calendar.ics\">As a calendar file</a>, for a telephone or a desk.</p>");
    let mut main = Html::default();
    let long = is_long(cards);
    if !overdue.is_empty() {
        let mut jobs: BTreeMap<&str, usize> = BTreeMap::new();
        let mut late: Vec<(&Card, Vec<&Due>)> = Vec::new();
        for (due, card) in &overdue {
            let at = *jobs.entry(&card.id).or_insert_with(|| {
                late.push((card, Vec::new()));
                late.len() - 1
            });
            late[at].1.push(due);
        }
        main.raw("<section class=\"first\"><h2 class=\"late\">Overdue</h2><ol class=\"days\">");
        let listed = if long { late.len().min(MOST_LISTED) } else { late.len() };
        for (card, all) in &late[..listed] {
            main.raw("<li><div>");
            job(card, "", &mut main);
            main.raw("</div><div>");
            for (at, due) in all.iter().enumerate() {
                let step = begun(&format!("{}{}", due.to_do, of_group(due)));
                main.raw(if at > 0 { "<br>" } else { "" }).text(&step).raw(" by ");
                time(&mut main, due.latest, &day(due.latest));
            }
            main.raw("</div></li>");
        }
        main.raw("</ol>");
        if listed < late.len() {
            let more = counted(late.len() - listed, "more job is", "more jobs are");
            main.raw("<p>").text(&format!("{} overdue: ", begun(&more)));
            main.raw("<a href=\"#weeks\">the weeks</a> list all.</p>");
        }
        main.raw("</section>");
    }
    if weeks.is_empty() && overdue.is_empty() {
        main.raw("<section class=\"first\"><p>No job under way has an install date.</p></section>");
    }
    let mut room = if long { MOST_STEPS } else { usize::MAX };
    for (week, dated) in &weeks {
        match room.checked_sub(dated.len()) {
            Some(left) => room = left,
            None => break,
        }
        main.raw("<section><h2>Week of ");
        time(&mut main, *week, &day(*week));
        main.raw("</h2><ol class=\"days\">");
        in_week(dated, "", &mut main);
        main.raw("</ol></section>");
    }
    if long {
        main.raw("<section><h2 id=\"weeks\">Every week</h2><ul class=\"plain\">");
        for (week, dated) in by_monday(steps(cards)) {
            main.raw("<li>").open("a", &[("href", &week_file(week))]).raw("Week of ");
            time(&mut main, week, &day(week));
            main.raw("</a> <span class=\"small\">")
                .text(&counted(dated.len(), "step", "steps"))
                .raw("</span></li>");
        }
        main.raw("<li>").open("a", &[("href", WITHOUT_DAYS)]);
        main.raw("Jobs under way without days</a></li></ul></section>");
    }
    Framed { file: "calendar.html", title: "Calendar", head: &head, main: &main, style: "", dated: true }
        .page(book)
}

/// Steps of one week, in order.
fn in_week(dated: &[Dated<'_>], up: &str, main: &mut Html) {
    let mut last = None;
    for (due, card) in dated {
        main.open("li", &[("class", if last == Some(due.latest) { "same" } else { "" })]).raw("<div>");
        time(main, due.latest, &weekday(due.latest));
        last = Some(due.latest);
        main.raw("</div><div>").text(&begun(&due.to_do)).raw(" <span class=\"small\">");
        job(card, up, main);
        main.text(&of_group(due));
        main.raw("</span></div></li>");
    }
}

fn week_file(week: Date) -> String {
    format!("weeks/{week}.html")
}

/// The page of jobs without any day.
const WITHOUT_DAYS: &str = "weeks/none.html";

/// A page for each week, and one for jobs without any day, where a book is too long for single pages: every job under way is
/// on one of them. Each is the same on every day, and changes only with its own jobs.
pub(super) fn weeks(book: &Book, cards: &[&Card]) -> Vec<Page> {
    if !is_long(cards) {
        return Vec::new();
    }
    let page = |file: String, title: &str, what: &str, main: &Html| {
        let mut head = Html::default();
        head.raw("<h1>").text(title).raw("</h1><p class=\"lead\">").text(what);
        head.raw(" <a href=\"../calendar.html#weeks\">Every week</a></p>");
        let framed = Framed { file: &file, title, head: &head, main, style: "", dated: false };
        let text = framed.page(book);
        (file, text)
    };
    let of_week = |(week, dated): (Date, Vec<Dated<'_>>)| {
        let mut main = Html::default();
        main.raw("<section class=\"first\"><ol class=\"days\">");
        in_week(&dated, "../", &mut main);
        main.raw("</ol></section>");
        let what = "Every step whose latest day falls into it, of jobs under way.";
        page(week_file(week), &format!("Week of {}", day(week)), what, &main)
    };
    let mut pages: Vec<Page> = by_monday(steps(cards)).into_iter().map(of_week).collect();
    let without: Vec<&Card> =
        cards.iter().copied().filter(|c| c.due.is_empty() && c.stage != Some(Stage::HandedOver)).collect();
    let mut main = Html::default();
    main.raw("<section class=\"first\">");
    links(&without, "../", &mut main);
    main.raw("</section>");
    let what = "Jobs whose days are not worked out: without an install date, or with no step left.";
    pages.push(page(WITHOUT_DAYS.to_owned(), "Jobs under way without days", what, &main));
    pages
}

/// How long the calendar file keeps a step whose day is over, in days: long enough to look back over a year, and no longer, or
/// the file would grow with the book. What is overdue stands on the page, whatever its age.
const KEPT_DAYS: i64 = 366;

/// The same as a calendar file, without what has been over for longer than a year; none where a day has no day after it.
pub(super) fn file(book: &Book, cards: &[&Card]) -> Option<String> {
    let first = book.day.checked_sub(KEPT_DAYS.days()).unwrap_or(Date::MIN);
    let all = steps(cards).into_iter().filter(|(due, _)| due.latest >= first);
    let entries: Vec<Entry> = all
        .map(|(due, card)| {
            let of = due.group.as_ref().map_or_else(String::new, |group| format!("{group}."));
            Entry {
                uid: format!("{}.{of}{}@{}.underlit", card.id, due.step, book.fingerprint.short()),
                date: due.latest,
                title: format!("{}{}: {}", card.title, of_group(due), due.to_do),
                description: String::new(),
            }
        })
        .collect();
    calendar_file(&book.shop, DateTime::from_parts(book.day, Time::midnight()), &entries).ok()
}

/// What a week asks of the shop.
const LOAD: [(Milestone, &str); 4] = [
    (Milestone::Sent, "Test panels to send"),
    (Milestone::Rendered, "Drawings to make"),
    (Milestone::Released, "Jobs to release"),
    (Milestone::Built, "Panels to finish"),
];

/// True for a step that the load counts.
fn is_load((due, _): &Dated<'_>) -> bool {
    due.step == Due::INSTALL || LOAD.iter().any(|(milestone, _)| due.step == milestone.word())
}

/// How much falls into each week.
pub(super) fn load(book: &Book, cards: &[&Card]) -> String {
    let (overdue, weeks) = by_week(book, cards);
    let mut head = Html::default();
    head.raw("<h1>Shop load by week</h1><p class=\"lead\">What has to leave desk and bench in each week, by the latest days \
              that keep the install dates. A bar shows the face to finish against that of the fullest week.</p>");
    let mut main = Html::default();
    let long = is_long(cards);
    let most = weeks.values().map(|dated| built(dated).1).chain([built(&overdue).1]).fold(0.0, f64::max);
    if weeks.is_empty() && overdue.is_empty() {
        main.raw("<section class=\"first\"><p>No job under way has an install date.</p></section>");
    } else {
        main.raw("<section class=\"first\"><div class=\"wide\" tabindex=\"0\" role=\"group\" aria-label=\"Load by week\">\
                  <table class=\"load\"><thead><tr><th scope=\"col\">Week of</th>");
        for (_, heading) in LOAD {
            main.raw("<th scope=\"col\">").text(heading).raw("</th>");
        }
        main.raw("<th scope=\"col\">Installations</th></tr></thead><tbody>");
        if overdue.iter().any(is_load) {
            main.raw("<tr><th scope=\"row\" class=\"late\">Overdue</th>");
            cells(book, &overdue, most, long, &mut main);
        }
        for (week, dated) in weeks.iter().filter(|(_, dated)| dated.iter().any(is_load)) {
            main.raw("<tr><th scope=\"row\">");
            if long {
                main.open("a", &[("href", &week_file(*week))]);
            }
            time(&mut main, *week, &day(*week));
            main.raw(if long { "</a></th>" } else { "</th>" });
            cells(book, dated, most, long, &mut main);
        }
        main.raw("</tbody></table></div></section>");
    }
    Framed { file: "load.html", title: "Shop load", head: &head, main: &main, style: "", dated: true }
        .page(book)
}

/// How many panels have to be finished, and the area of their faces: of a release group, where the step is of one.
fn built(dated: &[Dated<'_>]) -> (usize, f64) {
    let steps = dated.iter().filter(|(due, _)| due.step == Milestone::Built.word());
    let each = steps.map(|(due, card)| {
        let group = card.groups.iter().find(|group| due.group.as_ref() == Some(&group.id));
        group.map_or((card.panels, card.area_mm2), |group| (group.panels, group.area_mm2))
    });
    each.fold((0, 0.0), |(panels, area), (more, face)| (panels + more, area + face))
}

fn cells(book: &Book, dated: &[Dated<'_>], most: f64, long: bool, main: &mut Html) {
    let of = |step: &str| dated.iter().filter(|(due, _)| due.step == step).copied().collect::<Vec<_>>();
    for (milestone, _) in LOAD {
        let all = of(milestone.word());
        main.raw("<td>");
        if milestone == Milestone::Built && !all.is_empty() {
            let (panels, area) = built(dated);
            main.raw("<b>")
                .text(&counted(panels, "panel", "panels"))
                .raw("</b>, ")
                .text(&book.units.area(area));
            let width = if most > 0.0 { (area / most * 100.0).round().to_string() } else { "0".to_owned() };
            main.raw(
                "<svg class=\"bar\" viewBox=\"0 0 100 4\" preserveAspectRatio=\"none\" aria-hidden=\"true\">",
            );
            main.open("rect", &[("width", &width), ("height", "4")]).raw("</rect></svg>");
        }
        names(&all, long, main);
        main.raw("</td>");
    }
    main.raw("<td>");
    names(&of(Due::INSTALL), long, main);
    main.raw("</td></tr>");
}

/// Names that a field of the load of a long book lists at most; the page of its week has them all.
const MOST_NAMES: usize = 24;

fn names(all: &[Dated<'_>], long: bool, main: &mut Html) {
    if all.is_empty() {
        main.raw("<span class=\"small\">–</span>");
        return;
    }
    if long && all.len() > MOST_NAMES {
        main.raw("<br>").text(&counted(all.len(), "job", "jobs"));
        return;
    }
    main.raw("<ul>");
    for (due, card) in all {
        main.raw("<li>");
        job(card, "", main);
        main.text(&of_group(due)).raw("</li>");
    }
    main.raw("</ul>");
}

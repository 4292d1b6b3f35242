//! The calendar, and the load of the shop by week: the latest days that keep each install date, as they were worked out.

use std::collections::BTreeMap;

use jiff::civil::{Date, DateTime, Time};

use super::facts::{Book, Card};
use super::frame::Framed;
use super::job_file;
use super::wording::{begun, day, monday, time, weekday};
use crate::html::Html;
use crate::making::calendar_file::{Entry, calendar_file};
use crate::making::schedule::{Due, Milestone};
use crate::words::counted;

/// A step of a job, by its day.
type Dated<'c> = (&'c Due, &'c Card);

/// Steps that are overdue, and the others by the Monday of their week.
fn by_week<'c>(book: &Book, cards: &[&'c Card]) -> (Vec<Dated<'c>>, BTreeMap<Date, Vec<Dated<'c>>>) {
    let mut all: Vec<Dated<'c>> =
        cards.iter().flat_map(|card| card.due.iter().map(move |due| (due, *card))).collect();
    all.sort_by(|(a, one), (b, two)| (a.latest, &one.id).cmp(&(b.latest, &two.id)));
    let (overdue, coming): (Vec<_>, Vec<_>) = all.into_iter().partition(|(due, _)| due.latest < book.day);
    let mut weeks: BTreeMap<Date, Vec<Dated<'c>>> = BTreeMap::new();
    for dated in coming {
        weeks.entry(monday(dated.0.latest)).or_default().push(dated);
    }
    (overdue, weeks)
}

fn job(card: &Card, main: &mut Html) {
    main.open("a", &[("href", &job_file(&card.id))]).said(&card.title).raw("</a>");
}

/// What has to be done by when.
pub(super) fn calendar(book: &Book, cards: &[&Card]) -> String {
    let (overdue, weeks) = by_week(book, cards);
    let mut head = Html::default();
    head.raw("<h1>Calendar</h1><p class=\"lead\">The latest day of every step that keeps its install date, counted in the \
              shop's business days. <a href=\"calendar.ics\">As a calendar file</a>, for a telephone or a desk.</p>");
    let mut main = Html::default();
    if !overdue.is_empty() {
        let mut jobs: Vec<(&Card, Vec<&Due>)> = Vec::new();
        for (due, card) in &overdue {
            match jobs.iter_mut().find(|(known, _)| known.id == card.id) {
                Some((_, all)) => all.push(due),
                None => jobs.push((card, vec![due])),
            }
        }
        main.raw("<section class=\"first\"><h2 class=\"late\">Overdue</h2><ol class=\"days\">");
        for (card, all) in jobs {
            main.raw("<li><div>");
            job(card, &mut main);
            main.raw("</div><div>");
            for (at, due) in all.iter().enumerate() {
                main.raw(if at > 0 { "<br>" } else { "" }).text(&begun(&due.to_do)).raw(" by ");
                time(&mut main, due.latest, &day(due.latest));
            }
            main.raw("</div></li>");
        }
        main.raw("</ol></section>");
    }
    if weeks.is_empty() && overdue.is_empty() {
        main.raw("<section class=\"first\"><p>No job under way has an install date.</p></section>");
    }
    for (week, dated) in &weeks {
        main.raw("<section><h2>Week of ");
        time(&mut main, *week, &day(*week));
        main.raw("</h2><ol class=\"days\">");
        let mut last = None;
        for (due, card) in dated {
            main.open("li", &[("class", if last == Some(due.latest) { "same" } else { "" })]).raw("<div>");
            time(&mut main, due.latest, &weekday(due.latest));
            last = Some(due.latest);
            main.raw("</div><div>").text(&begun(&due.to_do)).raw(" <span class=\"small\">");
            job(card, &mut main);
            main.raw("</span></div></li>");
        }
        main.raw("</ol></section>");
    }
    Framed { file: "calendar.html", title: "Calendar", head: &head, main: &main, style: "", dated: true }
        .page(book)
}

/// The same as a calendar file; none where a day has no day after it.
pub(super) fn file(book: &Book, cards: &[&Card]) -> Option<String> {
    let (overdue, weeks) = by_week(book, cards);
    let all = overdue.into_iter().chain(weeks.into_values().flatten());
    let entries: Vec<Entry> = all
        .map(|(due, card)| Entry {
            uid: format!("{}.{}@{}.underlit", card.id, due.step, book.fingerprint.short()),
            date: due.latest,
            title: format!("{}: {}", card.title, due.to_do),
            description: String::new(),
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
    let area = |dated: &[Dated<'_>]| -> f64 { built(dated).map(|card| card.area_mm2).sum() };
    let most = weeks.values().map(|dated| area(dated)).chain([area(&overdue)]).fold(0.0, f64::max);
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
            cells(book, &overdue, most, &mut main);
        }
        for (week, dated) in weeks.iter().filter(|(_, dated)| dated.iter().any(is_load)) {
            main.raw("<tr><th scope=\"row\">");
            time(&mut main, *week, &day(*week));
            main.raw("</th>");
            cells(book, dated, most, &mut main);
        }
        main.raw("</tbody></table></div></section>");
    }
    Framed { file: "load.html", title: "Shop load", head: &head, main: &main, style: "", dated: true }
        .page(book)
}

/// The jobs whose panels have to be finished.
fn built<'c>(dated: &[Dated<'c>]) -> impl Iterator<Item = &'c Card> {
    dated.iter().filter(|(due, _)| due.step == Milestone::Built.word()).map(|(_, card)| *card)
}

fn cells(book: &Book, dated: &[Dated<'_>], most: f64, main: &mut Html) {
    for (milestone, _) in LOAD {
        let jobs: Vec<&Card> =
            dated.iter().filter(|(due, _)| due.step == milestone.word()).map(|(_, card)| *card).collect();
        main.raw("<td>");
        if milestone == Milestone::Built && !jobs.is_empty() {
            let panels: usize = jobs.iter().map(|card| card.panels).sum();
            let area: f64 = jobs.iter().map(|card| card.area_mm2).sum();
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
        names(&jobs, main);
        main.raw("</td>");
    }
    let installs: Vec<&Card> =
        dated.iter().filter(|(due, _)| due.step == Due::INSTALL).map(|(_, card)| *card).collect();
    main.raw("<td>");
    names(&installs, main);
    main.raw("</td></tr>");
}

fn names(jobs: &[&Card], main: &mut Html) {
    if jobs.is_empty() {
        main.raw("<span class=\"small\">–</span>");
        return;
    }
    main.raw("<ul>");
    for card in jobs {
        main.raw("<li>");
        job(card, main);
        main.raw("</li>");
    }
    main.raw("</ul>");
}

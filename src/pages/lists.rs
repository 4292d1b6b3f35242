//! What may be built, what is handed over, and people.

use super::board::{next, order, row};
use super::facts::{Book, Card, Group, Release, Wait};
use super::frame::Framed;
use super::wording::{self, act, begun, day, ended, roles, stage, ticked, time};
use super::{MOST_LISTED, Page, is_long, job_file, links, person_file};
use crate::html::Html;
use crate::model::stage::Stage;
use crate::words::counted;

/// What may be built, and what was built as released.
pub(super) fn released(book: &Book, cards: &[&Card]) -> String {
    let of = |stages: &[Stage]| -> Vec<(&Card, &Release)> {
        let among = |card: &&Card| card.stage.is_some_and(|stage| stages.contains(&stage));
        cards.iter().copied().filter(among).filter_map(|card| Some((card, card.release.as_ref()?))).collect()
    };
    let mut head = Html::default();
    head.raw("<h1>What may be built</h1><p class=\"lead\">Released by the engineer, and every approval still fits the job as \
              it is. Nothing else may be cut, bought or built.</p>");
    let mut main = Html::default();
    let now = of(&[Stage::Released]);
    main.raw("<section class=\"first\"><h2>To build</h2>");
    let groups: Vec<(&Card, &Group, &Release)> = cards
        .iter()
        .filter(|card| !card.released)
        .flat_map(|card| card.groups.iter().map(|group| (*card, group)))
        .filter_map(|(card, group)| Some((card, group, group.release.as_ref()?)))
        .collect();
    if now.is_empty() && groups.is_empty() {
        main.raw("<p>Nothing may be built at present.</p>");
    }
    let all_released = |of: &[(&Card, &Release)], main: &mut Html| {
        let listed = of.len().min(MOST_LISTED);
        of[..listed].iter().for_each(|(card, release)| one_released(book, card, None, release, main));
        if listed < of.len() {
            main.raw("<h3>As well</h3><p>The page of each has its release.</p>");
            links(&of[listed..].iter().map(|(card, _)| *card).collect::<Vec<_>>(), "", main);
        }
    };
    all_released(&now, &mut main);
    groups
        .iter()
        .for_each(|(card, group, release)| one_released(book, card, Some(group), release, &mut main));
    main.raw("</section>");
    let built = of(&[Stage::Built]);
    if !built.is_empty() {
        main.raw("<section><h2>Built as released</h2>");
        all_released(&built, &mut main);
        main.raw("</section>");
    }
    main.raw(
        "<section><h2>How to check this</h2><p>The digest is the SHA-256 of the data of the build pack: every figure that \
         builds, powers and installs the job. The release sealed it. Make the pack from a clone of the book, and compare \
         its first page with the digest here; <code>--prove</code> makes the data again and compares them with what was \
         sealed.</p><p>A page can be altered by whoever serves it. What counts is <code>underlit verify</code> in a clone of \
         the book, whose fingerprint is <code>",
    );
    main.text(&book.fingerprint.hex()).raw("</code>.</p></section>");
    Framed {
        file: "released.html",
        title: "What may be built",
        head: &head,
        main: &main,
        style: "",
        dated: true,
    }
    .page(book)
}

fn one_released(book: &Book, card: &Card, group: Option<&Group>, release: &Release, main: &mut Html) {
    let (panels, area_mm2) = group.map_or((card.panels, card.area_mm2), |g| (g.panels, g.area_mm2));
    let named = group.map_or_else(|| card.id.clone(), |g| format!("{} --group {}", card.id, g.id));
    main.raw("<article class=\"release\"><h3>").open("a", &[("href", &job_file(&card.id))]).said(&card.title);
    main.raw("</a>");
    if let Some(group) = group {
        main.raw(", release group ").text(&group.id);
    }
    main.raw("</h3><p>").text(&counted(panels, "panel", "panels")).raw(", ");
    main.text(&book.units.area(area_mm2)).raw(" of face. Released by ").said(&release.who).raw(" on ");
    match release.at.get(..10).and_then(|day| day.parse().ok()) {
        Some(at) => time(main, at, &day(at)),
        None => drop(main.text(&release.at)),
    }
    main.raw(".</p>");
    next(book, card, "", main);
    main.raw("<dl>");
    let fits = release.sealed_sha256.as_ref() == Some(&release.now_sha256);
    let sealed = match (&release.sealed_sha256, fits) {
        (Some(_), true) => "sealed by the release",
        (Some(_), false) => "not the data that the release sealed: underlit pack --prove says what differs",
        (None, _) => "the release sealed no digest of a pack",
    };
    main.raw("<div><dt>Pack data</dt><dd><code class=\"digest\">").text(&release.now_sha256);
    main.raw("</code><br><span class=\"small\">").text(sealed).raw("</span></dd></div>");
    main.raw("<div><dt>Release</dt><dd><code class=\"digest\">")
        .text(&release.sha256)
        .raw("</code></dd></div>");
    main.raw("<div><dt>Build pack</dt><dd><code>underlit pack ").text(&named).raw(" --into ").text(&card.id);
    main.raw("-pack</code><br><code>underlit pack ")
        .text(&named)
        .raw(" --prove</code></dd></div></dl></article>");
}

/// The jobs that are handed over, by the year of that, the newest first.
fn by_year<'c>(cards: &[&'c Card]) -> Vec<(Option<i16>, Vec<&'c Card>)> {
    let mut done: Vec<&Card> =
        cards.iter().copied().filter(|card| card.stage == Some(Stage::HandedOver)).collect();
    done.sort_by(|a, b| (b.since, &a.id).cmp(&(a.since, &b.id)));
    let year = |card: &Card| card.since.map(jiff::civil::Date::year);
    done.chunk_by(|a, b| year(a) == year(b)).map(|some| (year(some[0]), some.to_vec())).collect()
}

fn year_in_words(year: Option<i16>) -> String {
    year.map_or_else(|| "Without a date".into(), |year| year.to_string())
}

fn year_file(year: Option<i16>) -> String {
    format!("done/{}.html", year.map_or_else(|| "none".into(), |year| year.to_string()))
}

fn handed_over(cards: &[&Card], up: &str, main: &mut Html) {
    main.raw("<ul class=\"plain\">");
    for card in cards {
        let link = format!("{up}{}", job_file(&card.id));
        main.raw("<li>").open("a", &[("href", &link)]).said(&card.title).raw("</a> <span class=\"small\">");
        main.said(&card.client);
        if let Some(since) = card.since {
            main.raw(", ");
            time(main, since, &day(since));
        }
        main.raw("</span></li>");
    }
    main.raw("</ul>");
}

/// So many handed over are on one page; of more, each year has one.
const MOST_DONE: usize = 1000;

/// What is handed over, the newest first.
pub(super) fn done(book: &Book, cards: &[&Card]) -> String {
    let years = by_year(cards);
    let count: usize = years.iter().map(|(_, some)| some.len()).sum();
    let mut head = Html::default();
    head.raw("<h1>Handed over</h1><p class=\"lead\">")
        .text(&begun(&counted(count, "job", "jobs")))
        .raw(".</p>");
    let mut main = Html::default();
    for (at, (year, some)) in years.iter().enumerate() {
        main.raw(if at == 0 { "<section class=\"first\"><h2>" } else { "<section><h2>" });
        main.text(&year_in_words(*year)).raw("</h2>");
        if count > MOST_DONE {
            main.raw("<p>").open("a", &[("href", &year_file(*year))]);
            main.text(&counted(some.len(), "job", "jobs")).raw("</a></p>");
        } else {
            handed_over(some, "", &mut main);
        }
        main.raw("</section>");
    }
    if years.is_empty() {
        main.raw("<p>No job is handed over yet.</p>");
    }
    Framed { file: "done.html", title: "Handed over", head: &head, main: &main, style: "", dated: true }
        .page(book)
}

/// A page for each year in which jobs were handed over, where they are too many for one.
pub(super) fn done_by_year(book: &Book, cards: &[&Card]) -> Vec<Page> {
    let years = by_year(cards);
    if years.iter().map(|(_, some)| some.len()).sum::<usize>() <= MOST_DONE {
        return Vec::new();
    }
    let page = |(year, some): (Option<i16>, Vec<&Card>)| {
        let (file, title) = (year_file(year), format!("Handed over: {}", year_in_words(year)));
        let (mut head, mut main) = (Html::default(), Html::default());
        head.raw("<h1>")
            .text(&title)
            .raw("</h1><p class=\"lead\"><a href=\"../done.html\">Every year</a></p>");
        main.raw("<section class=\"first\">");
        handed_over(&some, "../", &mut main);
        main.raw("</section>");
        let framed = Framed { file: &file, title: &title, head: &head, main: &main, style: "", dated: false };
        (file.clone(), framed.page(book))
    };
    years.into_iter().map(page).collect()
}

fn mine<'c>(card: &'c Card, id: &str) -> Vec<&'c Wait> {
    card.waits.iter().filter(|wait| wait.people.iter().any(|person| person == id)).collect()
}

/// Everybody, and how much waits for each.
pub(super) fn people(book: &Book, cards: &[&Card]) -> String {
    let mut head = Html::default();
    head.raw("<h1>People</h1><p class=\"lead\">A page for each: keep your own among your bookmarks.</p>");
    let mut main = Html::default();
    main.raw("<section class=\"first\"><ul class=\"plain people\">");
    for (id, someone) in &book.people {
        let waits: usize = cards.iter().map(|card| mine(card, id).len()).sum();
        main.raw("<li>");
        wording::person(&mut main, book, id, "");
        let roles = if someone.roles.is_empty() { "has left".to_owned() } else { roles(&someone.roles) };
        main.raw(" <span class=\"small\">").text(&roles).raw("</span><br>");
        main.text(&if waits == 0 {
            "Nothing waits.".to_owned()
        } else {
            format!("{} for them.", begun(&counted(waits, "thing waits", "things wait")))
        });
        main.raw("</li>");
    }
    main.raw("</ul></section>");
    Framed { file: "people.html", title: "People", head: &head, main: &main, style: "", dated: true }
        .page(book)
}

/// The page of somebody: what waits for them, and the jobs that they are named on.
pub(super) fn person_page(book: &Book, id: &str, cards: &[&Card]) -> (Html, Html) {
    let waiting: Vec<(&Card, Vec<&Wait>)> =
        cards.iter().map(|card| (*card, mine(card, id))).filter(|(_, waits)| !waits.is_empty()).collect();
    let count: usize = waiting.iter().map(|(_, waits)| waits.len()).sum();
    let mut head = Html::default();
    head.raw("<h1>").said(book.name(id)).raw("</h1><p class=\"lead\">");
    if let Some(someone) = book.people.get(id) {
        let roles = if someone.roles.is_empty() { "has left".to_owned() } else { roles(&someone.roles) };
        head.text(&begun(&roles)).raw(". ");
        if let Some(contact) = &someone.contact {
            head.said(contact).raw(". ");
        }
    }
    head.raw("<b>").text(&match count {
        0 => "Nothing waits for you.".to_owned(),
        some => format!("{} for you.", begun(&counted(some, "thing waits", "things wait"))),
    });
    head.raw("</b></p>");
    let mut main = Html::default();
    let listed = if is_long(cards) { waiting.len().min(MOST_LISTED) } else { waiting.len() };
    for (card, waits) in &waiting[..listed] {
        let link = format!("../{}", job_file(&card.id));
        main.raw("<section class=\"yours\"><h2>")
            .open("a", &[("href", &link)])
            .said(&card.title)
            .raw("</a></h2>");
        main.raw("<p class=\"small\">").text(card.stage.map_or("", stage));
        if let Some(install) = card.install {
            main.raw(" · install ");
            time(&mut main, install, &day(install));
            let (class, words) = wording::against_install(card);
            if !words.is_empty() {
                main.raw(" · ").open("span", &[("class", class)]).text(&words).raw("</span>");
            }
        }
        main.raw("</p><ul class=\"needs\">");
        for wait in waits {
            need(wait, &mut main, |_| {});
        }
        main.raw("</ul></section>");
    }
    if listed < waiting.len() {
        main.raw("<section><h2>More that waits for you</h2>");
        links(&waiting[listed..].iter().map(|(card, _)| *card).collect::<Vec<_>>(), "../", &mut main);
        main.raw("</section>");
    }
    let mut named: Vec<&Card> = cards
        .iter()
        .copied()
        .filter(|card| card.stage != Some(Stage::HandedOver) && card.people.iter().any(|(_, who)| who == id))
        .collect();
    named.sort_by_cached_key(|card| order(card));
    if !named.is_empty() {
        main.raw("<section><h2>Jobs under way that name you</h2><ol class=\"jobs\">");
        let listed = if is_long(cards) { named.len().min(MOST_LISTED) } else { named.len() };
        named[..listed].iter().for_each(|card| row(book, card, "../", "h3", &mut main));
        main.raw("</ol>");
        if listed < named.len() {
            links(&named[listed..], "../", &mut main);
        }
        main.raw("</section>");
    }
    (head, main)
}

/// The page of somebody.
pub(super) fn person(book: &Book, id: &str, cards: &[&Card]) -> String {
    let (head, main) = person_page(book, id, cards);
    let file = person_file(id);
    Framed { file: &file, title: book.name(id), head: &head, main: &main, style: "", dated: true }.page(book)
}

/// One thing that is missing: what, why, what changed, how it is given.
pub(super) fn need(wait: &Wait, main: &mut Html, whose: impl Fn(&mut Html)) {
    main.raw("<li><p class=\"need\">");
    whose(main);
    ticked(main, &ended(&begun(&act(wait))));
    main.raw("</p>");
    if !wait.changes.is_empty() {
        changes(&wait.changes, main);
    }
    main.raw("<details><summary>Why, and how</summary><p>");
    ticked(main, &ended(&begun(&wait.why)));
    main.raw("</p>");
    if wait.asks.is_some() {
        main.raw("<p>");
        ticked(main, &ended(&begun(&wait.what)));
        main.raw("</p>");
    }
    if !wait.command.is_empty() {
        main.raw("<p>Fix: <code>").text(&wait.command).raw("</code></p>");
    }
    main.raw("<p class=\"small\">Requirement: ").text(&wait.requirement).raw("</p></details></li>");
}

/// Facts that changed: what was approved, what it is now. Digests of files, which change with them, stand one step deeper.
pub(super) fn changes(changes: &[[String; 3]], main: &mut Html) {
    let (digests, facts): (Vec<_>, Vec<_>) = changes.iter().partition(|[fact, ..]| fact.ends_with(" sha256"));
    if facts.is_empty() {
        changed(&digests, main);
        return;
    }
    changed(&facts, main);
    if !digests.is_empty() {
        let files = counted(digests.len(), "file", "files");
        main.raw("<details><summary>And with that ").text(&files).raw("</summary>");
        changed(&digests, main);
        main.raw("</details>");
    }
}

fn changed(changes: &[&[String; 3]], main: &mut Html) {
    main.raw("<div class=\"wide\" tabindex=\"0\" role=\"group\" aria-label=\"What changed\"><table><thead><tr><th scope=\"col\">\
              Changed</th><th scope=\"col\">Approved</th><th scope=\"col\">Now</th></tr></thead><tbody>");
    for [fact, was, now] in changes {
        main.raw("<tr><th scope=\"row\">")
            .text(&begun(fact))
            .raw("</th><td>")
            .said(was)
            .raw("</td><td>")
            .said(now);
        main.raw("</td></tr>");
    }
    main.raw("</tbody></table></div>");
}

//! The page of a job: the next act and whose it is first, then everything else that the book says of it.

use super::facts::{Book, Card, Dates, Job};
use super::frame::Framed;
use super::job_file;
use super::job_parts::{approvals, panel, picture, stone, table, test_panels};
use super::lists::need;
use super::wording::{begun, day, ended, person, short_day, stage, ticked, ticked_list, time, who};
use crate::html::Html;
use crate::model::stage::Stage;
use crate::words::business_days;

/// The page of a job.
#[must_use]
pub(crate) fn page(book: &Book, job: &Job) -> String {
    let card = &job.card;
    let file = job_file(&card.id);
    let mut main = Html::default();
    let mut parts: Vec<(&'static str, &'static str, Html)> = Vec::new();
    let mut part = |id, heading, html: Html| {
        if !html.as_str().is_empty() {
            parts.push((id, heading, html));
        }
    };
    part("missing", "What is missing", missing(book, job));
    part("panels", "Panels and drawings", all(&job.panels, panel));
    part("approvals", "Approvals", approvals(job));
    part("dates", "Dates", job.dates.as_ref().map(dates).unwrap_or_default());
    part("stones", "Stones and trials", stones(job));
    part("power", "Power", power(job));
    part("cautions", "Cautions", cautions(job));
    part("notes", "To know besides", notes(job));
    part("handover", "As built and installed", pairs(&job.handover));
    part("people", "People", people(book, card));
    part("story", "What happened", story(job));
    main.raw("<nav class=\"inside\" aria-label=\"On this page\"><ul>");
    for (id, heading, _) in &parts {
        main.raw("<li>").open("a", &[("href", &format!("#{id}"))]).text(heading).raw("</a></li>");
    }
    main.raw("</ul></nav>");
    for (id, heading, html) in &parts {
        main.open("section", &[("id", id)]).of("h2", heading).with(html).raw("</section>");
    }
    let head = head(book, job);
    Framed { file: &file, title: &card.title, head: &head, main: &main, style: "", dated: !job.is_past() }
        .page(book)
}

fn all<T>(of: &[T], one: impl Fn(&T, &mut Html)) -> Html {
    let mut html = Html::default();
    of.iter().for_each(|item| one(item, &mut html));
    html
}

fn head(book: &Book, job: &Job) -> Html {
    let card = &job.card;
    let mut head = Html::default();
    head.raw("<h1>").said(&card.title).raw("</h1>");
    if card.stage.is_none() {
        head.raw("<p class=\"lead\"><b class=\"late\">Its records cannot be read.</b></p>");
        return head;
    }
    head.raw("<p class=\"lead\">").said(&card.client);
    if !card.site.is_empty() {
        head.raw(" · ").said(&card.site);
    }
    head.raw("</p><ol class=\"stages\" aria-label=\"How far the job is\">");
    for one in Stage::ALL {
        let (class, current) = match Some(*one).cmp(&card.stage) {
            std::cmp::Ordering::Less => ("lit", "false"),
            std::cmp::Ordering::Equal => ("lit now", "step"),
            std::cmp::Ordering::Greater => ("", "false"),
        };
        head.open("li", &[("class", class), ("aria-current", current)]).raw("<span>").text(stage(*one));
        head.raw("</span></li>");
    }
    head.raw("</ol><div class=\"act\"><p>");
    if !card.holds {
        head.raw("<b class=\"late\">On hold: do not build.</b> ");
    }
    if card.released && card.stage == Some(Stage::Released) {
        head.raw("<b class=\"ready\">May be built.</b> ");
    }
    if let Some(words) = card.groups_in_words() {
        head.raw("<b class=\"ready\">").text(&words).raw("</b> ");
    }
    match (card.waits.first(), job.next) {
        (Some(wait), _) => {
            who(&mut head, book, wait, "../");
            head.raw(": ");
            ticked(&mut head, &ended(&super::wording::act(wait)));
        }
        (None, Some(next)) if card.may_advance => {
            head.raw("Nothing is missing before ").text(&next.to_string()).raw(": <code>underlit advance ");
            head.text(&card.id).raw("</code>");
        }
        (None, None) => drop(head.raw("Handed over: nothing is left to do.")),
        _ => {}
    }
    head.raw("</p>").with(&install(card)).raw("</div>");
    head
}

/// How the job stands against its install date, in a sentence.
fn install(card: &Card) -> Html {
    let mut html = Html::default();
    let Some(date) = card.install else {
        if card.stage != Some(Stage::HandedOver) {
            html.raw("<p class=\"small\">No install date is set.</p>");
        }
        return html;
    };
    html.raw("<p>Install on ");
    time(&mut html, date, &day(date));
    match (card.late, card.spare, card.earliest, &card.no_dates) {
        (true, Some(days), Some(earliest), _) => {
            html.raw(": <b class=\"late\">").text(&business_days(days)).raw(" too late</b>, ");
            time(&mut html, earliest, &day(earliest));
            html.raw(" at the earliest.");
        }
        (false, Some(days), ..) => drop(html.raw(", ").text(&business_days(days)).raw(" to spare.")),
        (_, _, _, Some(why)) => drop(html.raw(". <b class=\"late\">").text(&begun(why)).raw("</b>")),
        _ => drop(html.raw(".")),
    }
    html.raw("</p>");
    html
}

fn missing(book: &Book, job: &Job) -> Html {
    let card = &job.card;
    let mut html = Html::default();
    for fault in &card.faults {
        html.raw("<p class=\"fault\">");
        ticked(&mut html, fault);
        html.raw("</p>");
    }
    if !job.questions.is_empty() {
        html.raw("<h3>Open questions between edits</h3>");
        ticked_list(&mut html, &job.questions);
    }
    let (behind, ahead): (Vec<_>, Vec<_>) = card.waits.iter().partition(|wait| wait.behind);
    let mut list = |heading: String, waits: &[&super::facts::Wait]| {
        html.of("h3", &heading).raw("<ul class=\"needs\">");
        for wait in waits {
            need(wait, &mut html, |html| {
                who(html, book, wait, "../");
                html.raw("<br>");
            });
        }
        html.raw("</ul>");
    };
    if !behind.is_empty() {
        list(
            format!("No longer holds, although the job is at {}", card.stage.map_or("", Stage::word)),
            &behind,
        );
    }
    if !ahead.is_empty() {
        list(format!("Before {}", job.next.map_or("the end", Stage::word)), &ahead);
    }
    if !job.met.is_empty() {
        html.raw("<details><summary>What is met: ").text(&job.met.len().to_string()).raw("</summary>");
        ticked_list(&mut html, job.met.iter().map(|met| ended(&begun(met))));
        html.raw("</details>");
    }
    html
}

fn dates(dates: &Dates) -> Html {
    let mut html = Html::default();
    html.raw("<p>Counted by route ").said(&dates.route).raw(", in the shop's business days.</p>");
    html.raw("<div class=\"wide\" tabindex=\"0\" role=\"group\" aria-label=\"Dates\"><table><thead><tr><th scope=\"col\">Step</th>\
              <th scope=\"col\">Latest</th><th scope=\"col\">Earliest</th><th scope=\"col\" class=\"num\">To spare</th></tr>\
              </thead><tbody>");
    for step in &dates.steps {
        html.raw("<tr><th scope=\"row\">").text(&begun(&step.to_do)).raw("</th><td>");
        match step.latest {
            Some(latest) => time(&mut html, latest, &short_day(latest)),
            None => drop(html.raw("–")),
        }
        html.raw("</td><td>");
        match (step.reached, step.earliest) {
            (true, _) => drop(html.raw("done")),
            (false, Some(earliest)) => time(&mut html, earliest, &short_day(earliest)),
            (false, None) => drop(html.raw("–")),
        }
        let late = !step.reached && step.spare.is_some_and(|days| days < 0);
        html.raw("</td>").open("td", &[("class", if late { "num late" } else { "num" })]);
        let spare = step.spare.filter(|_| !step.reached);
        html.text(&spare.map_or_else(|| "–".to_owned(), |days| days.to_string())).raw("</td></tr>");
    }
    html.raw("</tbody></table></div>");
    for note in &dates.notes {
        html.raw("<p class=\"small\">").text(note).raw("</p>");
    }
    html
}

fn stones(job: &Job) -> Html {
    let mut html = all(&job.stones, stone);
    html.with(&test_panels(job));
    html
}

fn power(job: &Job) -> Html {
    let mut html = Html::default();
    if !job.power_open.is_empty() {
        html.raw("<p>Not worked out yet:</p><ul class=\"plain\">");
        for open in &job.power_open {
            html.raw("<li>").text(open).raw("</li>");
        }
        html.raw("</ul>");
    }
    for circuit in &job.circuits {
        html.raw("<figure class=\"drawn\">");
        picture(circuit, true, &mut html);
        html.raw("<figcaption>").text(&circuit.shows).raw("</figcaption></figure>");
    }
    job.power.iter().filter(|one| !one.rows.is_empty()).for_each(|one| table(one, &mut html));
    html
}

fn cautions(job: &Job) -> Html {
    let mut html = Html::default();
    if job.cautions.is_empty() {
        return html;
    }
    html.raw(
        "<p>A licensed person at the site decides, by the code of the place.</p><ul class=\"cautions\">",
    );
    for caution in &job.cautions {
        let (subject, rest) = caution.split_once(": ").unwrap_or(("", caution));
        html.raw("<li>");
        if !subject.is_empty() {
            html.raw("<b>").text(subject).raw(":</b> ");
        }
        html.text(rest).raw("</li>");
    }
    html.raw("</ul>");
    html
}

fn notes(job: &Job) -> Html {
    let mut html = Html::default();
    if let Some(note) = &job.note {
        html.raw("<blockquote dir=\"auto\">").lines(note).raw("</blockquote>");
    }
    if !job.notes.is_empty() {
        html.raw("<ul class=\"cautions\">");
        for (note, source) in &job.notes {
            html.raw("<li>");
            ticked(&mut html, &begun(note));
            html.raw(" <span class=\"small\">(").text(source).raw(")</span></li>");
        }
        html.raw("</ul>");
    }
    html
}

/// Label and text, one beneath the other.
pub(super) fn pairs(rows: &[(String, String)]) -> Html {
    let mut html = Html::default();
    if rows.is_empty() {
        return html;
    }
    html.raw("<dl>");
    for (label, text) in rows {
        html.raw("<div>").of("dt", label).raw("<dd>").said(text).raw("</dd></div>");
    }
    html.raw("</dl>");
    html
}

fn people(book: &Book, card: &Card) -> Html {
    let mut html = Html::default();
    html.raw("<dl>");
    for (role, id) in &card.people {
        html.raw("<div>").of("dt", &begun(role.word())).raw("<dd>");
        person(&mut html, book, id, "../");
        if let Some(contact) = book.people.get(id).and_then(|person| person.contact.as_ref()) {
            html.raw(" <span class=\"small\">").said(contact).raw("</span>");
        }
        html.raw("</dd></div>");
    }
    html.raw("</dl>");
    html
}

fn story(job: &Job) -> Html {
    let mut html = Html::default();
    if job.story.is_empty() {
        return html;
    }
    html.raw("<ol class=\"days\">");
    for (date, what) in &job.story {
        html.raw("<li><div>");
        time(&mut html, *date, &day(*date));
        html.raw("</div><div dir=\"auto\">");
        ticked(&mut html, what);
        html.raw("</div></li>");
    }
    html.raw("</ol>");
    html
}

//! The larger parts of a job's page: panels with their drawings, stones with their trials, approvals, tables.

use super::facts::{Approval, Job, Panel, Picture, Stone, Table};
use super::job::pairs;
use super::lists::changes;
use super::wording::{begun, day, ended, ticked, time};
use crate::gates::standing::Standing;
use crate::html::Html;

/// A picture; one that is to be read leads to itself, so that it can be enlarged as far as the browser does.
pub(super) fn picture(picture: &Picture, opens: bool, html: &mut Html) {
    let [width, height] = picture.size.map(|n| n.to_string());
    if opens {
        let label = format!("{}: open it alone, to enlarge it", picture.shows);
        html.open("a", &[("href", &picture.file), ("aria-label", &label)]);
    }
    html.open(
        "img",
        &[
            ("src", &picture.file),
            ("alt", if opens { "" } else { &picture.shows }),
            ("width", &width),
            ("height", &height),
            ("loading", "lazy"),
        ],
    );
    html.raw(if opens { "</a>" } else { "" });
}

/// A panel.
pub(super) fn panel(panel: &Panel, html: &mut Html) {
    html.raw("<article><h3>").said(&panel.title).raw(" <span class=\"small\">panel ").text(&panel.id);
    html.raw("</span></h3>");
    if let Some(lit) = &panel.lit {
        html.raw("<figure class=\"stone\">");
        picture(lit, false, html);
        html.raw("<figcaption>").text(&lit.shows);
        html.raw(
            ". Re-lit by calculation from a photo of the stone; the test panel on the real stone decides.",
        );
        if let Some(brightness) = &panel.brightness {
            html.raw(" ").text(brightness);
        }
        html.raw("</figcaption></figure>");
    }
    if let Some(view) = &panel.view {
        html.raw("<figure class=\"drawn\">");
        picture(view, false, html);
        html.raw("<figcaption>").text(&view.shows).raw("</figcaption></figure>");
    }
    html.with(&pairs(&panel.rows));
    for remark in &panel.remarks {
        html.raw("<p class=\"small\">");
        ticked(html, remark);
        html.raw("</p>");
    }
    if !panel.sheets.is_empty() {
        html.raw("<ul class=\"sheets\">");
        for sheet in &panel.sheets {
            html.raw("<li><figure>");
            picture(sheet, true, html);
            html.raw("<figcaption>").text(&sheet.shows).raw("</figcaption></figure></li>");
        }
        html.raw("</ul>");
    }
    html.raw("</article>");
}

/// A stone.
pub(super) fn stone(stone: &Stone, html: &mut Html) {
    html.raw("<article><h3>").said(&stone.name).raw("</h3>");
    if let Some(photo) = &stone.photo {
        html.raw("<figure class=\"stone\">");
        picture(photo, false, html);
        html.raw("<figcaption>").text(&photo.shows).raw("</figcaption></figure>");
    }
    html.with(&pairs(&stone.rows)).raw("</article>");
}

/// Test panels, and what was seen over them.
pub(super) fn test_panels(job: &Job) -> Html {
    let mut html = Html::default();
    if !job.test_panels.is_empty() {
        html.raw("<h3>Test panels</h3>").with(&pairs(&job.test_panels));
    }
    if !job.trials.is_empty() {
        html.raw("<h3>Trials</h3><ol class=\"days\">");
        for trial in &job.trials {
            html.raw("<li><div>");
            time(&mut html, trial.date, &day(trial.date));
            html.raw("</div><div>").text(&trial.what).raw("<blockquote dir=\"auto\">").lines(&trial.seen);
            html.raw("</blockquote><p class=\"small\">It pleased ")
                .text(&trial.rating.to_string())
                .raw(" of 5.</p>");
            if let Some(photo) = &trial.photo {
                html.raw("<figure class=\"stone\">");
                picture(photo, false, &mut html);
                html.raw("<figcaption>").text(&photo.shows).raw("</figcaption></figure>");
            }
            html.raw("</div></li>");
        }
        html.raw("</ol>");
    }
    html
}

/// A table; one that is wider than the page is moved with a finger or the arrow keys.
pub(super) fn table(table: &Table, html: &mut Html) {
    html.raw("<h3>").text(&table.heading).raw("</h3>");
    html.open(
        "div",
        &[("class", "wide"), ("tabindex", "0"), ("role", "group"), ("aria-label", &table.heading)],
    );
    html.raw("<table><thead><tr>");
    let class = |number: bool| if number { "num" } else { "" };
    for (heading, number) in &table.columns {
        html.open("th", &[("scope", "col"), ("class", class(*number))]).text(heading).raw("</th>");
    }
    html.raw("</tr></thead><tbody>");
    for row in &table.rows {
        html.raw("<tr>");
        for (cell, (_, number)) in row.iter().zip(&table.columns) {
            html.open("td", &[("class", class(*number))]).lines(cell).raw("</td>");
        }
        html.raw("</tr>");
    }
    html.raw("</tbody></table></div>");
}

/// How an approval stands, for people.
fn standing(standing: Standing) -> (&'static str, &'static str) {
    match standing {
        Standing::Fits => ("", "It fits the job as it is."),
        Standing::Stale => ("late", "It no longer fits: something changed since."),
        Standing::Replaced => ("", "A later word of the same person replaces it."),
        Standing::Overruled => ("", "It does not count: the person's own signature says otherwise."),
        Standing::Overridden => ("", "The owners set it aside."),
        Standing::Withdrawn => ("", "It takes an earlier word back."),
        Standing::DoesNotCount => ("late", "It does not count."),
    }
}

/// Everything that was signed, with its standing, what changed since, and how to check it.
pub(super) fn approvals(job: &Job) -> Html {
    let mut html = Html::default();
    if job.approvals.is_empty() && job.void.is_empty() {
        return html;
    }
    html.raw("<ol class=\"approvals\">");
    job.approvals.iter().for_each(|approval| one_approval(approval, &mut html));
    html.raw("</ol>");
    for void in &job.void {
        html.raw("<p class=\"small\">Does not count: ");
        ticked(&mut html, void);
        html.raw("</p>");
    }
    html
}

fn one_approval(approval: &Approval, html: &mut Html) {
    html.open(
        "li",
        &[("class", if matches!(approval.standing, Standing::Fits | Standing::Stale) { "" } else { "past" })],
    );
    html.raw("<p><b>")
        .said(&approval.who)
        .raw("</b> <span class=\"small\">")
        .text(approval.role.word())
        .raw("</span> ");
    ticked(html, &approval.says);
    match approval.at.get(..10).and_then(|day| day.parse().ok()) {
        Some(at) => {
            html.raw(", ");
            time(html, at, &day(at));
        }
        None => drop(html.raw(", ").text(&approval.at)),
    }
    html.raw(".</p>");
    if let Some(comment) = &approval.comment {
        html.raw("<blockquote dir=\"auto\">").lines(comment).raw("</blockquote>");
    }
    let (class, words) = standing(approval.standing);
    html.raw("<p>").open("span", &[("class", class)]).text(words).raw("</span> <span class=\"small\">");
    html.text(&begun(&approval.kind)).raw(".</span></p>");
    if let Some(why) = &approval.why {
        html.raw("<p class=\"small\">");
        ticked(html, &ended(&begun(why)));
        html.raw("</p>");
    }
    if !approval.changes.is_empty() {
        html.raw("<details><summary>What changed since</summary>");
        changes(&approval.changes, html);
        html.raw("</details>");
    }
    html.raw("<details><summary>How to check this</summary><p>In a clone of the book:</p><pre><code>");
    for (at, line) in approval.check.iter().enumerate() {
        html.raw(if at > 0 { "\n" } else { "" }).text(line);
    }
    html.raw("</code></pre><p class=\"small\">SHA-256 <code class=\"digest\">").text(&approval.sha256);
    html.raw("</code></p></details></li>");
}

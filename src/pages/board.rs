//! The front page: whose turn it is, and the jobs in the order of what matters. Filters are style alone, so that they work
//! where no script runs.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::facts::{Book, Card, Wait};
use super::frame::Framed;
use super::wording::{
    act, against_install, begun, day, ended, person, roles, stage, ticked, ticked_list, time, who,
};
use super::{MOST_LISTED, is_long, job_file};
use crate::html::Html;
use crate::model::stage::Stage;
use crate::words::counted;

/// What matters most about a job, in the order in which jobs are listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Matter {
    /// It cannot be installed in time.
    Late,
    /// It must not go on: something behind no longer holds, or its records cannot be read.
    OnHold,
    /// Something was refused, or edits do not agree.
    Disputed,
    /// Nothing is missing: somebody can take it on.
    Ready,
    /// It waits for somebody.
    Waiting,
    /// It is handed over.
    Done,
}

impl Matter {
    fn heading(self) -> &'static str {
        match self {
            Matter::Late => "Too late for the install date",
            Matter::OnHold => "On hold",
            Matter::Disputed => "Refused, or edits that do not agree",
            Matter::Ready => "Ready for the next stage",
            Matter::Waiting => "Waiting for somebody",
            Matter::Done => "Handed over",
        }
    }

    fn explained(self) -> &'static str {
        match self {
            Matter::Late => {
                "As the job stands, its panels cannot be on site in time. Agree a new date, or find the days."
            }
            Matter::OnHold => {
                "Something that was signed no longer holds. Do not build until it is put right."
            }
            Matter::Disputed => "Somebody said no to the job as it is, or two people changed the same thing.",
            Matter::Ready => "Nothing is missing. Take it to the next stage.",
            Matter::Waiting => "The least time to spare first.",
            Matter::Done => "",
        }
    }
}

/// What matters most about a job.
pub(super) fn matter(card: &Card) -> Matter {
    if card.late {
        Matter::Late
    } else if !card.holds || card.stage.is_none() {
        Matter::OnHold
    } else if card.refused + card.questions + card.vanished > 0 {
        Matter::Disputed
    } else if card.stage == Some(Stage::HandedOver) {
        Matter::Done
    } else if card.may_advance {
        Matter::Ready
    } else {
        Matter::Waiting
    }
}

/// By what jobs are ordered.
pub(super) type Order = (Matter, i64, jiff::civil::Date, String);

/// Where a job stands among others.
pub(super) fn order(card: &Card) -> Order {
    let spare = card.spare.unwrap_or(if card.late { i64::MIN } else { i64::MAX });
    (matter(card), spare, card.install.unwrap_or(jiff::civil::Date::MAX), card.id.clone())
}

/// The front page.
pub(super) fn page(book: &Book, cards: &[&Card]) -> String {
    let open: Vec<&Card> = cards.iter().copied().filter(|card| matter(card) != Matter::Done).collect();
    let turns = turns(&open);
    let mut head = Html::default();
    head.raw("<h1>What is next, and whose it is</h1><p class=\"lead\">")
        .text(&begun(&summary(&open)))
        .raw("</p>");
    let mut main = Html::default();
    if !book.matters.is_empty() {
        main.raw("<section class=\"first\"><h2>The shop itself</h2>");
        ticked_list(&mut main, &book.matters);
        main.raw("</section>");
    }
    main.raw("<section class=\"first\"><h2>Whose turn it is</h2>");
    let vacant = vacant(&open);
    if turns.is_empty() && vacant.is_empty() {
        main.raw("<p>Nobody is waited for.</p>");
    } else {
        main.raw("<ol class=\"turns\">");
        let named = turns.iter().map(|(id, turn)| (Some(*id), String::new(), turn));
        let nobody = vacant.iter().map(|(roles, turn)| (None, begun(roles), turn));
        for (id, roles, (count, card, wait)) in named.chain(nobody) {
            main.raw("<li><p class=\"turn\">");
            match id {
                Some(id) => person(&mut main, book, id, ""),
                None => drop(main.raw("<b>").text(&roles).raw("</b>, which nobody is,")),
            }
            main.raw(" <span>").text(&counted(*count, "thing", "things")).raw("</span></p><p>");
            ticked(&mut main, &ended(&begun(&act(wait))));
            main.raw(" <span class=\"small\">").said(&card.title).raw("</span></p></li>");
        }
        main.raw("</ol>");
    }
    main.raw("</section>");
    main.raw("<section aria-labelledby=\"jobs\"><h2 id=\"jobs\">Jobs under way</h2>");
    if open.is_empty() {
        main.raw("<p>No job is under way.</p>");
    } else {
        filters(book, &turns, &mut main);
    }
    let (mut at, long) = (0, is_long(cards));
    while let Some(first) = open.get(at) {
        let one = matter(first);
        let group: Vec<&Card> = open[at..].iter().copied().take_while(|card| matter(card) == one).collect();
        main.raw("<div class=\"group\"><h3>").text(one.heading());
        main.raw(" <span class=\"n\">").text(&group.len().to_string()).raw("</span></h3><p class=\"small\">");
        main.text(one.explained()).raw("</p><ol class=\"jobs\">");
        let listed = if long { group.len().min(MOST_LISTED) } else { group.len() };
        group[..listed].iter().for_each(|card| row(book, card, "", "h4", &mut main));
        main.raw("</ol>");
        if listed < group.len() {
            let more = counted(group.len() - listed, "more", "more");
            main.raw("<p>").text(&format!("And {more}: ")).raw("<a href=\"people.html\">by person</a> or ");
            main.raw("<a href=\"calendar.html#weeks\">by week</a>. Choices above look only among those listed here.</p>");
        }
        main.raw("</div>");
        at += group.len();
    }
    main.raw("</section>");
    let style = filter_style(&turns);
    Framed { file: "index.html", title: "Jobs", head: &head, main: &main, style: &style, dated: true }
        .page(book)
}

fn summary(open: &[&Card]) -> String {
    let mut said = vec![format!("{} under way", counted(open.len(), "job is", "jobs are"))];
    let many = |what: Matter| open.iter().filter(|card| matter(card) == what).count();
    for (count, words) in [
        (many(Matter::Late), "too late for the install date"),
        (many(Matter::OnHold), "on hold"),
        (many(Matter::Disputed), "refused or in question"),
        (
            open.iter().filter(|card| card.released && card.stage == Some(Stage::Released)).count(),
            "may be built",
        ),
    ] {
        if count > 0 {
            said.push(format!("{count} {words}"));
        }
    }
    format!("{}.", said.join(", "))
}

/// For how many things each person is waited for, and the first of them in the order of the jobs.
type Turns<'c> = BTreeMap<&'c str, (usize, &'c Card, &'c Wait)>;

fn turns<'c>(open: &[&'c Card]) -> Turns<'c> {
    let mut turns = Turns::new();
    for card in open {
        for wait in &card.waits {
            for id in &wait.people {
                turns.entry(id).or_insert((0, card, wait)).0 += 1;
            }
        }
    }
    turns
}

/// The same for roles in which nobody can give what is waited for.
fn vacant<'c>(open: &[&'c Card]) -> BTreeMap<String, (usize, &'c Card, &'c Wait)> {
    let mut vacant = BTreeMap::new();
    for card in open {
        for wait in card.waits.iter().filter(|wait| wait.people.is_empty() && !wait.roles.is_empty()) {
            vacant.entry(roles(&wait.roles)).or_insert((0, *card, wait)).0 += 1;
        }
    }
    vacant
}

/// The choices by which the list is made shorter.
const CHOICES: [(&str, &str); 4] =
    [("late", "too late"), ("hold", "on hold"), ("build", "may be built"), ("in-time", "in time")];

fn filters(book: &Book, turns: &Turns<'_>, main: &mut Html) {
    main.raw("<form class=\"filter\" role=\"search\" aria-label=\"Show fewer jobs\">");
    let mut choice = |id: &'static str,
                      label: &'static str,
                      every: &'static str,
                      options: Vec<(String, String)>| {
        main.raw("<p>").open("label", &[("for", id)]).text(label).raw("</label>");
        main.open("select", &[("id", id)]).raw("<option value=\"\" selected>").text(every).raw("</option>");
        for (value, shown) in options {
            main.open("option", &[("value", &value)]).text(&shown).raw("</option>");
        }
        main.raw("</select></p>");
    };
    let people = turns.keys().map(|id| ((*id).to_owned(), book.name(id).to_owned()));
    choice("who", "Waits for", "anybody", people.collect());
    let stages = Stage::ALL.iter().filter(|one| **one != Stage::HandedOver);
    choice("at", "Stage", "any", stages.map(|one| (one.to_string(), stage(*one).to_lowercase())).collect());
    choice("how", "Standing", "any", CHOICES.map(|(value, shown)| (value.into(), shown.into())).to_vec());
    main.raw("<p><button type=\"reset\">Show all</button></p></form>");
}

/// The rules by which a choice hides the other jobs, and groups of which none is left.
fn filter_style(turns: &Turns<'_>) -> String {
    let mut style = String::new();
    let mut rule = |select: &str, value: &str, class: &str| {
        // Writing to a String does not fail.
        let _ = write!(
            style,
            "body:has(#{select}>[value=\"{value}\"]:checked) :is(.group:not(:has(.{class})),.job:not(.{class})){{display:none}}"
        );
    };
    turns.keys().for_each(|id| rule("who", id, &format!("w-{id}")));
    Stage::ALL.iter().for_each(|one| rule("at", one.word(), &format!("s-{one}")));
    CHOICES.iter().for_each(|(value, _)| rule("how", value, &format!("h-{value}")));
    style
}

/// By what a job can be found, as classes.
fn classes(card: &Card) -> String {
    let mut classes = String::from("job");
    if let Some(stage) = card.stage {
        let at = Stage::ALL.iter().position(|one| *one == stage).unwrap_or_default() + 1;
        let _ = write!(classes, " s-{stage} at{at}");
    }
    let mut seen: Vec<&str> = Vec::new();
    for id in card.waits.iter().flat_map(|wait| &wait.people) {
        if !seen.contains(&id.as_str()) {
            seen.push(id);
            let _ = write!(classes, " w-{id}");
        }
    }
    let hold = !card.holds || card.stage.is_none();
    for (is, class) in [
        (card.late, "late"),
        (hold, "hold"),
        (card.released && card.stage == Some(Stage::Released), "build"),
        (!card.late && card.spare.is_some(), "in-time"),
    ] {
        if is {
            let _ = write!(classes, " h-{class}");
        }
    }
    classes
}

/// A job in a list, with its title as a heading of the level beneath that of the list.
pub(super) fn row(book: &Book, card: &Card, up: &str, heading: &'static str, main: &mut Html) {
    let link = format!("{up}{}", job_file(&card.id));
    main.open("li", &[("class", &classes(card))]);
    main.raw("<div class=\"name\">").open(heading, &[]).open("a", &[("href", &link)]).said(&card.title);
    main.raw("</a>").close(heading);
    main.raw("<p class=\"small\">");
    if let Some(at) = card.stage {
        main.text(stage(at));
        if let Some(since) = card.since {
            main.raw(" since ");
            time(main, since, &day(since));
        }
        main.raw("<br>").said(&card.client);
    }
    main.raw("</p></div><div class=\"next\">");
    next(book, card, up, main);
    main.raw("</div><p class=\"when\">");
    if let Some(install) = card.install {
        main.raw("<span class=\"small\">Install</span> ");
        time(main, install, &day(install));
        let (class, words) = against_install(card);
        if !words.is_empty() {
            main.raw("<br>").open("span", &[("class", if class.is_empty() { "small" } else { class })]);
            main.text(&words).raw("</span>");
        }
    } else if card.stage.is_some() && card.stage != Some(Stage::HandedOver) {
        main.raw("<span class=\"small\">No install date</span>");
    }
    main.raw("</p></li>");
}

/// What is next on a job, and whose it is.
pub(super) fn next(book: &Book, card: &Card, up: &str, main: &mut Html) {
    if let Some(first) = card.faults.first() {
        main.raw("<p><b class=\"late\">Cannot be read.</b> ");
        ticked(main, first);
        main.raw("</p>");
        return;
    }
    main.raw("<p>");
    if !card.holds {
        main.raw("<b class=\"late\">On hold.</b> ");
    }
    if card.released && card.stage == Some(Stage::Released) {
        main.raw("<b class=\"ready\">May be built.</b> ");
    }
    if let Some(words) = card.groups_in_words() {
        main.raw("<b class=\"ready\">").text(&words).raw("</b> ");
    }
    if card.questions > 0 {
        main.raw("<b>")
            .text(&begun(&counted(card.questions, "open question", "open questions")))
            .raw(".</b> ");
    }
    if card.vanished > 0 {
        let gone = counted(card.vanished, "question was", "questions were");
        main.raw("<b>").text(&begun(&gone)).raw(" removed without an answer.</b> ");
    }
    match (card.waits.first(), card.stage.and_then(Stage::next)) {
        (Some(wait), _) => {
            who(main, book, wait, up);
            main.raw(": ");
            ticked(main, &ended(&act(wait)));
            if card.waits.len() > 1 {
                let more = format!(" And {} more.", card.waits.len() - 1);
                main.raw("<span class=\"small\">").text(&more).raw("</span>");
            }
        }
        (None, Some(next)) if card.may_advance => {
            main.raw("Nothing is missing before ").text(&next.to_string()).raw(".");
        }
        (None, None) => {
            main.raw("Handed over.");
        }
        _ => {}
    }
    main.raw("</p>");
}

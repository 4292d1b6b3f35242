//! One thing to answer: what it is, what follows from it, and the four answers with its code.

use super::facts::{Choice, Content, Facts, Item, Rendering, Standing};
use super::looks::{Pictures, kelvin, looks};
use super::words::{Language, Word};
use crate::html::drawing::{Inline, inline};
use crate::html::{Html, in_link};
use crate::making::mount::Mount;
use crate::model::statement::{Decision, Subject, Topic, View};
use crate::words::{Face, LightKind};

/// The four answers, each with its name and what it means.
pub(super) const ANSWERS: [(Decision, Word, Word); 4] = [
    (Decision::Approved, Word::Approved, Word::ApprovedMeans),
    (Decision::ApprovedAsNoted, Word::ApprovedAsNoted, Word::ApprovedAsNotedMeans),
    (Decision::ReviseAndResubmit, Word::Revise, Word::ReviseMeans),
    (Decision::Rejected, Word::Rejected, Word::RejectedMeans),
];

/// An answer in words.
pub(super) fn answer(decision: Decision) -> Word {
    let found = ANSWERS.iter().find(|(known, ..)| *known == decision);
    found.map_or(Word::Withdrawn, |(_, word, _)| *word)
}

/// What a question is about, in words.
pub(super) fn about(subject: &Subject) -> Word {
    match (subject.view, subject.topic) {
        (_, Some(Topic::CctNotTried)) => Word::UntriedOf,
        (_, Some(Topic::Sampling)) => Word::NoTestPanelOf,
        (_, Some(Topic::Dim)) => Word::DimOf,
        (_, Some(Topic::NoFieldService)) => Word::NoServiceOf,
        (_, Some(Topic::Seams)) => Word::SeamsOf,
        (_, Some(Topic::UnevenLight)) => Word::UnevenOf,
        (_, Some(Topic::NotMeasured)) => Word::NotMeasuredOf,
        (_, Some(Topic::SlabNotSeen)) => Word::SlabNotSeenOf,
        (_, Some(Topic::RoomLightUnknown)) => Word::RoomLightOf,
        (_, Some(Topic::ElectricsUnknown)) => Word::ElectricsOf,
        (_, Some(Topic::OutsideLimits)) => Word::OutsideOf,
        (_, Some(Topic::OrderedAhead)) => Word::OrderedAheadOf,
        (_, Some(Topic::Accepted)) => Word::AcceptedOf,
        (_, Some(Topic::Cautions)) => Word::CautionsOf,
        (_, Some(Topic::NotesMet)) => Word::NotesOf,
        (View::Choice, _) => Word::ChoiceOf,
        (View::Rendering, _) => Word::RenderingOf,
        (View::Request, _) => Word::RequestOf,
        _ => Word::ReleaseOf,
    }
}

/// What a page gathers while its questions are written.
#[derive(Debug)]
pub(super) struct Gathered {
    /// Where pictures go.
    pub(super) pictures: Pictures,
    /// The styles of its sheets.
    pub(super) styles: String,
    /// Sheets so far.
    pub(super) sheets: usize,
}

/// A question, under its heading.
pub(super) fn question(facts: &Facts, item: &Item, number: usize, gathered: &mut Gathered) -> Html {
    let language = facts.language;
    let say = |word| language.say(word);
    let mut html = Html::default();
    match &item.content {
        Content::Choice(choice) => {
            if let Some(asked_k) = choice.cct_k {
                let stem = format!("{number}-{asked_k}");
                html.with(&looks(
                    language,
                    &choice.stone,
                    asked_k,
                    &choice.looks,
                    &stem,
                    &mut gathered.pictures,
                ));
            }
        }
        Content::Rendering(drawn) => drop(html.with(&drawing(facts, item, drawn, gathered))),
        Content::Sentence(_) => {}
    }
    if let Standing::Changed(changes) = &item.standing {
        html.open("h3", &[]).text(say(Word::Changed)).raw("</h3><ul class=\"changed\">");
        for [name, was, now] in changes {
            html.raw("<li lang=\"en\">").text(name).raw(": ");
            html.said(&language.fill(Word::WasNow, &[("was", was), ("now", now)])).raw("</li>");
        }
        html.raw("</ul>");
    }
    match &item.content {
        Content::Sentence(sentence) => {
            html.of("h3", say(Word::Accept)).raw("<blockquote lang=\"en\" dir=\"auto\">").lines(sentence);
            html.raw("</blockquote><p class=\"small\">").text(say(Word::SignedInEnglish)).raw("</p>");
        }
        Content::Choice(choice) => rows(&mut html, language, &of_choice(facts, choice)),
        Content::Rendering(drawn) => rows(&mut html, language, &of_rendering(facts, drawn)),
    }
    let after = match (item.subject.view, &item.content) {
        (_, Content::Sentence(_)) => Word::AfterSentence,
        (View::Choice, _) => Word::AfterChoice,
        (View::Rendering, _) => Word::AfterRendering,
        _ => Word::AfterRelease,
    };
    html.of("h3", say(Word::IfApproved)).of("p", say(after));
    html.with(&answers(facts, item, number));
    html
}

/// The answers to a question, to be given by mail or on paper.
fn answers(facts: &Facts, item: &Item, number: usize) -> Html {
    let language = facts.language;
    let say = |word| language.say(word);
    let code = item.code.to_string();
    let heading = format!("a{number}");
    let mut html = Html::default();
    html.open("div", &[("class", "answer"), ("data-code", &code)]);
    html.open("h3", &[("id", &heading)]).text(say(Word::YourAnswer)).raw("</h3>");
    html.raw("<p class=\"code\">").text(say(Word::Code)).raw(" <code>").text(&code).raw("</code></p>");
    html.raw("<div class=\"mail\"><p class=\"small\">").text(say(Word::ByMail)).raw("</p><ul>");
    for (_, word, means) in ANSWERS {
        let link = mail(facts, item, say(word), &code);
        html.raw("<li>").open("a", &[("href", &link)]).of("b", say(word));
        html.raw(" <span>").text(say(means)).raw("</span></a></li>");
    }
    html.raw("</ul></div><div class=\"paper\"><ul>");
    for (_, word, means) in ANSWERS {
        html.raw("<li><i></i> ").of("b", say(word)).raw(" ").text(say(means)).raw("</li>");
    }
    html.raw("</ul><p><span>").text(say(Word::NameDate)).raw("</span><span>").text(say(Word::Paper));
    html.raw("</span></p></div></div>");
    html
}

/// A mail with an answer in it.
fn mail(facts: &Facts, item: &Item, answer: &str, code: &str) -> String {
    let language = facts.language;
    let address = facts.contact.as_deref().and_then(address).unwrap_or_default();
    let subject = language.fill(Word::MailSubject, &[("title", &facts.title)]);
    let body = [
        format!("{answer}, {code}"),
        format!("({}, {})", heading(language, item), facts.project),
        String::new(),
        language.say(Word::MailNote).to_owned(),
        language.fill(Word::MailName, &[("name", &facts.reader)]),
        language.say(Word::MailDate).to_owned(),
    ];
    format!(
        "mailto:{}?subject={}&body={}",
        in_link(&address).replace("%40", "@"),
        in_link(&subject),
        in_link(&body.join("\r\n"))
    )
}

/// The mail address in what the book says of how to reach somebody.
fn address(contact: &str) -> Option<String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || "@.-_+".contains(c);
    let words = contact.split(|c: char| c.is_whitespace() || "<>(),;".contains(c));
    words
        .map(|word| word.trim_start_matches("mailto:").trim_matches('.'))
        .find(|word| {
            let parts = word.split_once('@');
            word.chars().all(plain)
                && parts.is_some_and(|(who, at)| !who.is_empty() && at.contains('.') && !at.contains('@'))
        })
        .map(str::to_owned)
}

/// What a question is called.
pub(super) fn heading(language: Language, item: &Item) -> String {
    let what = language.say(about(&item.subject));
    item.panel.as_ref().map_or_else(|| what.to_owned(), |panel| format!("{panel} · {what}"))
}

fn rows(html: &mut Html, language: Language, rows: &[(Word, String)]) {
    html.of("h3", language.say(Word::Approve)).raw("<dl>");
    for (name, value) in rows {
        html.raw("<div>").of("dt", language.say(*name)).raw("<dd>").said(value).raw("</dd></div>");
    }
    html.raw("</dl>");
}

fn edges(language: Language, edges: &[u32]) -> String {
    let listed: Vec<String> = edges.iter().map(ToString::to_string).collect();
    let word = if edges.len() == 1 { Word::AtEdge } else { Word::AtEdges };
    language.fill(word, &[("edges", &language.list(&listed))])
}

fn of_choice(facts: &Facts, choice: &Choice) -> Vec<(Word, String)> {
    let language = facts.language;
    let say = |word| language.say(word).to_owned();
    let k = choice.cct_k.map(kelvin);
    let light = match choice.light {
        LightKind::StaticWhite => say(Word::StaticWhite),
        LightKind::WarmDim => say(Word::WarmDim),
        LightKind::TunableWhite => {
            language.fill(Word::TunableWhite, &[("k", k.as_deref().unwrap_or_default())])
        }
        LightKind::Rgb => say(Word::Rgb),
        LightKind::Rgbw => say(Word::Rgbw),
        LightKind::RgbTunableWhite => {
            language.fill(Word::RgbTunableWhite, &[("k", k.as_deref().unwrap_or_default())])
        }
    };
    let light = match (&k, choice.light) {
        (Some(k), LightKind::StaticWhite | LightKind::WarmDim | LightKind::Rgbw) => format!("{k}, {light}"),
        _ => light,
    };
    let range =
        choice.cct_range_k.map(|[warmest, coolest]| format!("{} – {}", kelvin(warmest), kelvin(coolest)));
    let level = choice.level_pct.map(|level| format!("{level} %"));
    let light = std::iter::once(light).chain(range).chain(level).collect::<Vec<_>>().join("; ");
    let thickness = language.figure(&facts.units.show(choice.slab));
    let stone = language.fill(Word::Thick, &[("name", &choice.stone), ("thickness", &thickness)]);
    let lot = choice.lot.as_ref().map(|lot| language.fill(Word::Lot, &[("lot", lot)]));
    let slab: Vec<String> = lot.into_iter().chain(choice.finish.clone()).collect();
    let mut rows = vec![(Word::Stone, stone)];
    if !slab.is_empty() {
        rows.push((Word::Slab, slab.join(", ")));
    }
    // Symbols that every language writes alike.
    let ra = choice.least_ra.map_or_else(String::new, |ra| format!(", Ra ≥ {ra}"));
    rows.push((Word::Light, format!("{light}{ra}")));
    rows.push((
        Word::Face,
        say(match choice.face {
            Face::Diffused => Word::Diffused,
            Face::Clear => Word::Clear,
        }),
    ));
    rows.push((Word::Enters, edges(language, &choice.edges)));
    rows.push((
        Word::Mount,
        say(match choice.mount {
            Mount::Tray => Word::Tray,
            Mount::RemovableStone => Word::RemovableStone,
            Mount::FramedFront => Word::FramedFront,
            Mount::Fixed => Word::Fixed,
        }),
    ));
    rows.extend(choice.control.clone().map(|control| (Word::Control, control)));
    let volts = choice.voltage_v.map(|v| language.fill(Word::VoltsDc, &[("v", &v.to_string())]));
    rows.extend(volts.map(|volts| (Word::Voltage, volts)));
    let alike = choice.quantity.map(|n| language.fill(Word::Alike, &[("n", &n.to_string())]));
    rows.extend(alike.map(|alike| (Word::Quantity, alike)));
    rows
}

fn of_rendering(facts: &Facts, drawn: &Rendering) -> Vec<(Word, String)> {
    let language = facts.language;
    let count = |n: usize| if n == 0 { language.say(Word::None).to_owned() } else { n.to_string() };
    let both = |units: crate::units::DisplayUnits| language.figure(&units.size(drawn.size));
    let size = format!("{} ({})", both(facts.units), both(facts.units.other()));
    vec![
        (Word::Size, size),
        (Word::Stone, language.figure(&facts.units.show_both(drawn.stone))),
        (Word::Enters, edges(language, &drawn.edges)),
        (Word::Cutouts, count(drawn.cutouts as usize)),
        (Word::Seams, count(drawn.seams)),
        (Word::Revision, drawn.revision.to_string()),
    ]
}

/// A drawing: the view large, then every sheet whole.
fn drawing(facts: &Facts, item: &Item, drawn: &Rendering, gathered: &mut Gathered) -> Html {
    let language = facts.language;
    let mut html = Html::default();
    let panel = item.panel.as_deref().unwrap_or_default();
    let of = drawn.sheets.len().to_string();
    for (at, (svg, _)) in drawn.sheets.iter().enumerate() {
        gathered.sheets += 1;
        let class = format!("s{}", gathered.sheets);
        let Some(Inline { size: [width, height], content, style }) = inline(svg, &class) else { continue };
        gathered.styles.push_str(&style);
        let id = format!("{class}-all");
        if let (0, Some([left, top, across, down])) = (at, drawn.view) {
            let window = format!("{left} {top} {across} {down}");
            let label = language.fill(Word::ViewOf, &[("panel", panel)]);
            html.raw("<figure class=\"view\">");
            html.open(
                "svg",
                &[("class", &class), ("viewBox", &window), ("role", "img"), ("aria-label", &label)],
            );
            html.open("use", &[("href", &format!("#{id}"))]).raw("</use></svg></figure>");
        }
        let number = (at + 1).to_string();
        let caption = language.fill(Word::SheetOf, &[("n", &number), ("of", &of)]);
        let (window, label) = (format!("0 0 {width} {height}"), format!("{panel}: {caption}"));
        html.open("figure", &[("class", "sheet"), ("data-sheet", &number)])
            .raw("<figcaption>")
            .text(&caption);
        html.raw("</figcaption><label class=\"enlarge\"><input type=\"checkbox\"> ")
            .text(language.say(Word::Enlarge));
        html.raw("</label>");
        html.open("div", &[("class", "pane"), ("tabindex", "0"), ("role", "group"), ("aria-label", &label)]);
        html.open("svg", &[("class", &class), ("viewBox", &window), ("role", "img"), ("aria-label", &label)]);
        html.open("g", &[("id", &id), ("class", &class)]).with(&content).raw("</g></svg></div></figure>");
    }
    html
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mail_address_is_taken_from_a_contact_and_nothing_else_is() {
        for (contact, found) in [
            ("mara@lightworks.invalid", Some("mara@lightworks.invalid")),
            ("Mara, <mara@lightworks.invalid>, 555 0100", Some("mara@lightworks.invalid")),
            ("mailto:mara@lightworks.invalid", Some("mara@lightworks.invalid")),
            ("555 0100", None),
            ("@mara", None),
            ("mara@lightworks", None),
            ("a@b.c?bcc=d@e.f", None),
            ("a@b@c.d", None),
        ] {
            assert_eq!(address(contact).as_deref(), found, "{contact}");
        }
    }
}

//! What stands around the questions: the story so far, what comes next, cautions, how to answer and how to check.

use super::facts::{Content, Event, Facts, Item, Next};
use super::looks::kelvin;
use super::question::{about, answer, heading};
use super::words::{Language, Word};
use crate::html::Html;
use crate::model::stage::Stage;
use crate::words::Face;

/// The word for a stage, as a reader outside the shop understands it.
pub(super) fn stage(stage: Stage) -> Word {
    match stage {
        Stage::Intake => Word::Intake,
        Stage::Sampling => Word::Sampling,
        Stage::Selection => Word::Selection,
        Stage::Rendering => Word::RenderingStage,
        Stage::Released => Word::Released,
        Stage::Built => Word::Built,
        Stage::HandedOver => Word::HandedOver,
    }
}

/// What happened so far.
pub(super) fn story(facts: &Facts) -> Html {
    let language = facts.language;
    let mut html = Html::default();
    html.raw("<section>").of("h2", language.say(Word::Story)).raw("<ol class=\"story\">");
    for (date, event) in &facts.story {
        html.raw("<li>").open("time", &[("datetime", &date.to_string())]).text(&language.day(*date));
        html.raw("</time> <span dir=\"auto\">").text(&told(language, event)).raw("</span></li>");
    }
    html.raw("</ol></section>");
    html
}

fn told(language: Language, event: &Event) -> String {
    match event {
        Event::Opened => language.say(Word::Opened).to_owned(),
        Event::TestPanel => language.say(Word::TestPanelCame).to_owned(),
        Event::Moved(to) => language.fill(Word::Moved, &[("stage", language.say(stage(*to)))]),
        Event::Tried { stone, cct_k, face, seen, rating } => {
            let face = language.say(match face {
                Face::Diffused => Word::DiffusedShort,
                Face::Clear => Word::ClearShort,
            });
            let word = if cct_k.is_some() { Word::TriedAt } else { Word::TriedColour };
            let k = cct_k.map(kelvin).unwrap_or_default();
            language.fill(
                word,
                &[
                    ("stone", stone),
                    ("k", &k),
                    ("face", face),
                    ("seen", seen),
                    ("rating", &rating.to_string()),
                ],
            )
        }
        Event::Said { who, decision, subject, panel } => {
            let what = language.say(about(subject));
            let what = panel.as_ref().map_or_else(|| what.to_owned(), |panel| format!("{panel} · {what}"));
            language.fill(
                Word::Said,
                &[("who", who), ("what", &what), ("answer", language.say(answer(*decision)))],
            )
        }
    }
}

/// What happens once everything is answered.
pub(super) fn next(facts: &Facts) -> Html {
    let language = facts.language;
    let mut html = Html::default();
    html.raw("<section>").of("h2", language.say(Word::Next)).raw("<ol class=\"next\">");
    for (next, day) in &facts.next {
        let word = match next {
            Next::Released => Word::NextReleased,
            Next::Built => Word::NextBuilt,
            Next::Arrived => Word::NextArrived,
            Next::Installed => Word::NextInstalled,
        };
        html.raw("<li>").text(language.say(word));
        if let Some(day) = day {
            let by = if *next == Next::Installed { Word::OnDay } else { Word::ByLatest };
            html.raw(", ").text(&language.fill(by, &[("date", &language.day(*day))]));
        }
        html.raw(".</li>");
    }
    html.raw("</ol></section>");
    html
}

/// The cautions of the job.
pub(super) fn cautions(facts: &Facts) -> Html {
    let language = facts.language;
    let mut html = Html::default();
    html.raw("<section>").of("h2", language.say(Word::Know)).of("p", language.say(Word::KnowMore));
    html.raw("<ul class=\"cautions\" lang=\"en\">");
    for caution in &facts.cautions {
        let (subject, rest) = caution.split_once(": ").unwrap_or(("", caution));
        html.raw("<li>").of("b", &format!("{subject}:")).raw(" ").text(rest).raw("</li>");
    }
    html.raw("</ul></section>");
    html
}

/// How to answer in any other way.
pub(super) fn how(facts: &Facts) -> Html {
    let language = facts.language;
    let mut html = Html::default();
    html.raw("<section class=\"how\">").of("h2", language.say(Word::How));
    html.of("p", &language.fill(Word::HowAny, &[("rep", &facts.rep)]));
    if let Some(contact) = &facts.contact {
        html.of("p", &language.fill(Word::HowContact, &[("contact", contact)]));
    }
    let open: Vec<&Item> = facts.items.iter().filter(|item| item.standing.is_open()).collect();
    if !open.is_empty() {
        html.raw("<ul class=\"codes\">");
        for item in open {
            let (approved, code) = (language.say(Word::Approved), item.code.to_string());
            html.raw("<li>").said(&heading(language, item)).raw(": <b>");
            html.text(&language.fill(Word::SayCode, &[("answer", approved), ("code", &code)]))
                .raw("</b></li>");
        }
        html.raw("</ul>");
    }
    html.raw("<p class=\"small\">").text(language.say(Word::HowSpell)).raw("</p></section>");
    html
}

/// What a careful reader can hold the page against.
pub(super) fn check(facts: &Facts) -> Html {
    let language = facts.language;
    let mut html = Html::default();
    html.raw("<details class=\"check\">").of("summary", language.say(Word::Check));
    html.of("p", &language.fill(Word::CheckBook, &[("project", &facts.project), ("book", &facts.book)]));
    html.of("p", language.say(Word::CheckCode)).raw("<dl>");
    for item in &facts.items {
        html.raw("<div>").of("dt", &heading(language, item));
        html.raw("<dd><code>").text(&item.code.to_string()).raw("</code></dd></div>");
        if let Content::Rendering(drawn) = &item.content {
            let names = (1..).map(|n| format!("sheet {n}, SVG"));
            let sheets = drawn.sheets.iter().map(|(_, digest)| *digest).zip(names);
            for (digest, file) in sheets.chain([(drawn.pdf, "PDF".to_owned())]) {
                html.raw("<div>").of("dt", &language.fill(Word::CheckFile, &[("file", &file)]));
                html.raw("<dd><code>").text(&digest.hex()).raw("</code></dd></div>");
            }
        }
    }
    html.raw("</dl></details>");
    html
}

//! The page from head to foot, whole in one file, or as a folder for any host of plain files.

use super::around::{cautions, check, how, next, stage, story};
use super::facts::{Facts, Item, MARK, Standing};
use super::looks::Pictures;
use super::question::{ANSWERS, Gathered, answer, heading, question};
use super::words::{OF_SCRIPT, Word};
use crate::html::Html;
use crate::html::document::{BASE, Document};
use crate::model::stage::Stage;

const STYLE: &str = include_str!("page/packet.css");
const SCRIPT: &str = include_str!("page/packet.js");

/// A packet as files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// The page with everything in it.
    pub whole: String,
    /// The same as a folder: `index.html` and the pictures beside it.
    pub folder: Vec<(String, Vec<u8>)>,
}

/// Makes a packet.
#[must_use]
pub fn page(facts: &Facts) -> Page {
    let (whole, _) = written(facts, Pictures::Inside);
    let (index, pictures) = written(facts, Pictures::Beside(Vec::new()));
    let mut folder = vec![("index.html".to_owned(), index.into_bytes())];
    if let Pictures::Beside(files) = pictures {
        folder.extend(files);
    }
    Page { whole, folder }
}

fn written(facts: &Facts, pictures: Pictures) -> (String, Pictures) {
    let language = facts.language;
    let sources = match pictures {
        Pictures::Inside => "data:",
        Pictures::Beside(_) => "'self' data:",
    };
    let mut gathered = Gathered { pictures, styles: String::new(), sheets: 0 };
    let mut body = Html::default();
    head(facts, &mut body);
    body.raw("<main>");
    let (open, others): (Vec<&Item>, Vec<&Item>) =
        facts.items.iter().partition(|item| item.standing.is_open());
    for (at, item) in open.iter().enumerate() {
        let number = at + 1;
        let id = format!("q{number}");
        body.open("section", &[("class", "q"), ("aria-labelledby", &id)]).raw("<p class=\"count\">");
        body.text(
            &language.fill(Word::Counted, &[("n", &number.to_string()), ("of", &open.len().to_string())]),
        );
        body.raw("</p>").open("h2", &[("id", &id)]).said(&heading(language, item)).raw("</h2>");
        body.with(&question(facts, item, number, &mut gathered)).raw("</section>");
    }
    if !others.is_empty() {
        body.raw("<section>").of("h2", language.say(Word::Done));
        for (at, item) in others.iter().enumerate() {
            done(facts, item, open.len() + at + 1, &mut gathered, &mut body);
        }
        body.raw("</section>");
    }
    body.with(&next(facts)).with(&cautions(facts)).with(&story(facts)).with(&how(facts)).with(&check(facts));
    body.raw("</main><footer><p>").text(language.say(Word::Quiet)).raw("</p>");
    if let Some(note) = &facts.note {
        body.raw("<p lang=\"en\">").said(note).raw("</p>");
    }
    body.raw("</footer><script type=\"application/json\" id=\"told\">").json(&told(facts)).raw("</script>");

    let style = format!("{BASE}{STYLE}{}", gathered.styles);
    let document = Document {
        language: language.word(),
        title: &format!("{} · {}", facts.title, facts.shop),
        pictures: sources,
        style: &style,
        script: Some(SCRIPT),
    };
    (document.around(&body), gathered.pictures)
}

/// What the script has to know, in words of the page's language.
fn told(facts: &Facts) -> serde_json::Value {
    let say = |word| facts.language.say(word);
    let words: serde_json::Map<_, _> =
        OF_SCRIPT.iter().map(|(name, word)| ((*name).to_owned(), say(*word).into())).collect();
    let statements: serde_json::Map<_, _> = facts
        .items
        .iter()
        .filter_map(|item| Some((item.code.to_string(), item.statement.clone()?.into())))
        .collect();
    serde_json::json!({
        "book": facts.book,
        "project": facts.project,
        "reader": facts.reader,
        "person": facts.person,
        "shop": facts.shop,
        "passkeys": facts.passkeys,
        "statements": statements,
        "mark": MARK,
        "role": facts.role.map_or("", |role| role.word()),
        "rep": facts.rep,
        "answers": ANSWERS.map(|(decision, ..)| decision.word()),
        "titles": ANSWERS.map(|(_, word, _)| say(word)),
        "words": words,
    })
}

fn head(facts: &Facts, body: &mut Html) {
    let language = facts.language;
    body.raw("<header><p class=\"shop\">").said(&facts.shop).raw("</p><h1>").said(&facts.title).raw("</h1>");
    body.raw("<p class=\"lead\">").text(&language.fill(Word::For, &[("name", &facts.reader)])).raw(" <b>");
    let open = facts.items.iter().filter(|item| item.standing.is_open()).count();
    body.text(&match open {
        0 => language.say(Word::NoQuestion).to_owned(),
        1 => language.say(Word::OneQuestion).to_owned(),
        n => language.fill(Word::Questions, &[("n", &n.to_string())]),
    });
    body.raw("</b> ");
    let group = facts.install_group.as_ref().map_or_else(String::new, |group| format!(" ({group})"));
    let install = facts.install.map(|install| format!("{}{group}", language.day(install)));
    match (facts.answer_by.filter(|_| open > 0), &install) {
        (Some(by), Some(install)) => {
            let by = language.day(by);
            body.text(&language.fill(Word::AnswerBy, &[("date", &by), ("install", install)]));
        }
        (None, Some(install)) => {
            body.text(&language.fill(Word::InstallOn, &[("install", install)]));
        }
        _ => {}
    }
    body.raw("</p>").open("ol", &[("class", "stages"), ("aria-label", language.say(Word::Stages))]);
    for one in Stage::ALL {
        let (class, current) = match one.cmp(&facts.stage) {
            std::cmp::Ordering::Less => ("lit", "false"),
            std::cmp::Ordering::Equal => ("lit now", "step"),
            std::cmp::Ordering::Greater => ("", "false"),
        };
        body.open("li", &[("class", class), ("aria-current", current)])
            .raw("<span>")
            .text(language.say(stage(*one)))
            .raw("</span></li>");
    }
    body.raw("</ol></header>");
}

/// An item that is not asked now.
fn done(facts: &Facts, item: &Item, number: usize, gathered: &mut Gathered, body: &mut Html) {
    let language = facts.language;
    body.raw("<details class=\"done\"><summary>").said(&heading(language, item)).raw(" <span>");
    match &item.standing {
        Standing::Given(who) => {
            body.text(&language.fill(Word::StateGiven, &[("who", who)])).raw("</span></summary>");
        }
        Standing::Noted(notes) => {
            body.text(language.say(Word::StateNoted)).raw("</span></summary><ul>");
            for note in notes {
                body.raw("<li>").said(note).raw("</li>");
            }
            body.raw("</ul>");
        }
        Standing::Refused { decision, comment } => {
            let said = language.say(answer(*decision));
            body.text(&language.fill(Word::StateRefused, &[("answer", said)])).raw("</span></summary>");
            if let Some(comment) = comment {
                body.raw("<blockquote dir=\"auto\">").lines(comment).raw("</blockquote>");
            }
        }
        Standing::Waiting | Standing::Changed(_) => {
            body.raw("</span></summary>");
        }
    }
    body.with(&question(facts, item, number, gathered));
    body.raw("<p class=\"small\">").text(language.say(Word::OtherMind)).raw("</p></details>");
}

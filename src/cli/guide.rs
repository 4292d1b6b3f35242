//! `guide`: what a user looks up, a page for each topic, kept in the program itself and made into manual pages too.

use clap::builder::PossibleValuesParser;
use pulldown_cmark::{Event, HeadingLevel, Options, Parser, Tag, TagEnd};
use roff::{Inline, Roff, bold, roman};
use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::setting::Setting;

/// A page to look up.
pub(super) struct Topic {
    /// The word to ask for it.
    pub(super) name: &'static str,
    /// What it is about, in one line.
    pub(super) about: &'static str,
    /// The page, in Markdown.
    pub(super) text: &'static str,
}

macro_rules! topics {
    ($($name:literal: $about:literal,)*) => {
        &[$(Topic { name: $name, about: $about, text: include_str!(concat!("guide/", $name, ".md")) },)*]
    };
}

/// Every page, in the order in which a shop meets them.
pub(super) const TOPICS: &[Topic] = topics! {
    "records": "records by hand, schemas, what stays out of a book",
    "paper": "packets; answers on paper, by mail or by telephone",
    "sharing": "any git host, questions between edits, bad pushes, stock git, pages to look at",
    "guard": "a shared repository that judges each push",
    "tools": "proving a book, lost keys, signatures with stock tools",
    "sums": "light through stone, shape, power, dates, the build pack",
    "words": "what the words mean",
    "codes": "exit codes and answers for programs",
};

/// Look up a topic. Without one, the list of topics.
///
/// Example: underlit guide paper
#[derive(Debug, clap::Args)]
pub(crate) struct GuideArgs {
    /// The topic.
    #[arg(value_parser = PossibleValuesParser::new(TOPICS.iter().map(|t| t.name)))]
    topic: Option<String>,
}

pub(crate) fn guide(args: &GuideArgs, setting: &Setting<'_>) -> Outcome {
    let printer = setting.printer;
    let named = |topic: &&Topic| args.topic.as_deref() == Some(topic.name);
    match TOPICS.iter().find(named) {
        Some(topic) => {
            if printer.is_json() {
                printer.json(&json!({ "topic": topic.name, "about": topic.about, "markdown": topic.text }));
            } else {
                // A page has lines of its own, and commands to copy.
                printer.raw(topic.text);
            }
        }
        None => {
            let all: Vec<Value> =
                TOPICS.iter().map(|t| json!({ "topic": t.name, "about": t.about })).collect();
            printer.json(&json!({ "topics": all }));
            TOPICS.iter().for_each(|t| printer.line(format!("{:<9}{}", t.name, t.about)));
        }
    }
    Ok(Exit::Done)
}

/// A topic as a manual page.
pub(super) fn man_page(topic: &Topic) -> String {
    let mut page = Roff::new();
    let name = format!("underlit-guide-{}", topic.name);
    page.control("TH", [name.as_str(), "1", "", "underlit"]);
    page.control("SH", ["Name"]);
    page.text([roman(format!("{name} - {}", topic.about))]);
    page.control("SH", ["Description"]);
    let mut words: Vec<Inline> = Vec::new();
    let (mut is_bold, mut is_code_block) = (false, false);
    for event in Parser::new_ext(topic.text, Options::ENABLE_TABLES) {
        match event {
            // The first heading says again what the name's line says.
            Event::End(TagEnd::Heading(HeadingLevel::H1)) => words.clear(),
            Event::End(TagEnd::Heading(_)) => {
                let heading: String = words.drain(..).map(|w| text_of(&w)).collect();
                page.control("SH", [heading.as_str()]);
            }
            Event::Start(Tag::Paragraph) => _ = page.control("PP", []),
            Event::Start(Tag::Item) => _ = page.control("IP", ["-", "2"]),
            Event::Start(Tag::TableHead | Tag::TableRow) => _ = page.control("TP", ["4"]),
            Event::Start(Tag::CodeBlock(_)) => {
                is_code_block = true;
                page.control("PP", []).control("nf", []);
            }
            Event::End(TagEnd::CodeBlock) => {
                is_code_block = false;
                page.control("fi", []);
            }
            Event::Start(Tag::Strong) => is_bold = true,
            Event::End(TagEnd::Strong) => is_bold = false,
            Event::Text(text) if is_code_block => {
                for line in text.lines() {
                    page.text([roman(line)]);
                }
            }
            Event::Text(text) if is_bold => words.push(bold(text.as_ref())),
            Event::Text(text) => words.push(roman(text.as_ref())),
            Event::Code(text) => words.push(bold(text.as_ref())),
            Event::SoftBreak => words.push(roman(" ")),
            Event::End(TagEnd::Paragraph | TagEnd::Item | TagEnd::TableCell) if !words.is_empty() => {
                page.text(std::mem::take(&mut words));
            }
            _ => {}
        }
    }
    page.to_roff()
}

fn text_of(word: &Inline) -> String {
    match word {
        Inline::Roman(text) | Inline::Bold(text) | Inline::Italic(text) => text.clone(),
        Inline::LineBreak => " ".to_owned(),
    }
}

//! `resolve`: answers to open questions between edits.

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::printer;
use super::roster::version_json;
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::ProjectId;
use crate::model::conflict::Unproven;
use crate::ops::differences::Difference;
use crate::ops::questions::{self, About, Choice, Shown};
use crate::ops::resolve::{self, Answer, Answers, Settled};
use crate::ops::roster::Versioned;
use crate::trust::vanished::{self, Vanished};
use crate::visible::on_one_line;

/// Show the open questions between edits, or answer one, several or all of them.
///
/// Shows for each question what every edit would change, who made it, and the command that takes it. Where only one is
/// open, the answer needs no name. All answers of one command are checked together: what does not fit the rest of the
/// records is refused, with the answers that do fit. At a terminal, questions are asked one by one.
///
/// With --shop: the questions about files outside any project, which are the shop's lists, the rules, the roster and the
/// book's other files; without PROJECT and --shop, all that are open anywhere. What the owners seal, an owner answers,
/// and the answer is sealed anew in the next roster version.
///
/// Example: underlit resolve quay-bar --take theirs
#[derive(Debug, clap::Args)]
#[command(
    override_usage = "underlit resolve [OPTIONS] [PROJECT | --shop] [QUESTION | QUESTION=TAKE | QUESTION:=JSON]…"
)]
pub(crate) struct ResolveArgs {
    /// The project; with --shop there is none, and the questions come first.
    #[arg(value_name = "PROJECT")]
    first: Option<String>,
    /// A question, by the beginning of its name; with its own answer after `=`, as for --take, or after `:=`, as JSON.
    #[arg(value_name = "QUESTION")]
    more: Vec<String>,
    /// The questions about files outside any project.
    #[arg(long)]
    shop: bool,
    /// Ask again what was removed without an answer.
    #[arg(long, conflicts_with_all = ["all", "take", "value", "more"])]
    ask_again: bool,
    /// Answer every open question in the same way.
    #[arg(long, conflicts_with = "value", requires = "take")]
    all: bool,
    /// Take one of the edits by its number; `ours` for your own, `theirs` for the other's, `base` for what it was
    /// before.
    #[arg(long, value_name = "NUMBER|ours|theirs|base")]
    take: Option<String>,
    /// Take something else, as JSON.
    #[arg(long, value_name = "JSON", conflicts_with = "take")]
    value: Option<String>,
}

fn wrong<T>(message: impl Into<String>, remedy: &str) -> Result<T, Vec<Fault>> {
    Err(vec![Fault::usage("usage", message).fix(remedy)])
}

fn taking(text: &str) -> Result<Answer, Vec<Fault>> {
    match text {
        "base" => Ok(Answer::Base),
        "ours" => Ok(Answer::Mine),
        "theirs" => Ok(Answer::Others),
        number => match number.parse() {
            Ok(number) => Ok(Answer::Side(number)),
            Err(_) => wrong(
                format!("`{number}` is neither a number nor ours, theirs or base"),
                "--take 1, --take 2, --take ours, --take theirs or --take base",
            ),
        },
    }
}

fn typed(text: &str) -> Result<Answer, Vec<Fault>> {
    match serde_json::from_str::<Value>(text) {
        Ok(value) => Ok(Answer::Value(value)),
        Err(e) => wrong(format!("the value is not JSON: {e}"), "quote text twice: --value '\"diffused\"'"),
    }
}

impl ResolveArgs {
    /// Whose questions, and which of them.
    fn asked(&self) -> Result<(Option<About>, Vec<&str>), Vec<Fault>> {
        let more = self.more.iter().map(String::as_str);
        match (self.shop, &self.first) {
            (true, first) => {
                let named: Vec<&str> = first.iter().map(String::as_str).chain(more).collect();
                match named.iter().find(|name| !name.contains(is_of_an_answer) && !is_a_name(name)) {
                    Some(project) => wrong(
                        format!(
                            "{project} is not the name of a question; questions of the shop belong to no project"
                        ),
                        "underlit resolve --shop QUESTION, or underlit resolve PROJECT QUESTION",
                    ),
                    None => Ok((Some(About::Shop), named)),
                }
            }
            (false, None) => Ok((None, Vec::new())),
            (false, Some(project)) => match project.parse::<ProjectId>() {
                Ok(id) => Ok((Some(About::Project(id)), more.collect())),
                Err(error) => wrong(format!("{project}: {error}"), "`underlit board` lists every project"),
            },
        }
    }

    /// The answer that stands for every question without its own; none where there is none.
    fn answer(&self) -> Result<Option<Answer>, Vec<Fault>> {
        match (&self.take, &self.value) {
            (Some(take), _) => taking(take).map(Some),
            (None, Some(text)) => typed(text).map(Some),
            (None, None) => Ok(None),
        }
    }

    /// The answers; none where questions are only to be shown.
    fn answers(&self, named: &[&str]) -> Result<Option<Answers>, Vec<Fault>> {
        let common = self.answer()?;
        if named.is_empty() {
            return Ok(
                common.map(|answer| if self.all { Answers::All(answer) } else { Answers::Sole(answer) })
            );
        }
        if self.all {
            return wrong("name questions or use --all, not both", "leave the questions out, or --all");
        }
        let one = |text: &&str| {
            let own = match (text.split_once(":="), text.split_once('=')) {
                (Some((name, value)), _) => Some((name, typed(value)?)),
                (None, Some((name, take))) => Some((name, taking(take)?)),
                (None, None) => common.clone().map(|answer| (*text, answer)),
            };
            match own {
                Some((name, answer)) => Ok((name.to_owned(), answer)),
                None => {
                    let fault = Fault::usage("missing-argument", format!("no answer is given for {text}"));
                    Err(vec![fault.fix("add --take 1, --take 2, --take base or --value JSON")])
                }
            }
        };
        named.iter().map(one).collect::<Result<Vec<_>, _>>().map(|named| Some(Answers::Named(named)))
    }
}

fn is_of_an_answer(letter: char) -> bool {
    letter == '='
}

/// Questions are named by hexadecimal digits.
fn is_a_name(text: &str) -> bool {
    text.bytes().all(|b| b.is_ascii_hexdigit())
}

pub(crate) fn resolve(args: &ResolveArgs, setting: &Setting<'_>) -> Outcome {
    let (about, named) = args.asked()?;
    if args.ask_again {
        return match about {
            Some(about) => ask_again(&about, setting),
            None => wrong(
                "the command does not say whose questions to ask again",
                "underlit resolve PROJECT --ask-again, or underlit resolve --shop --ask-again",
            ),
        };
    }
    let Some(answers) = args.answers(&named)? else { return show(about, setting) };
    let Some(about) = about else {
        let fault = Fault::usage("missing-argument", "the command does not say whose questions to answer");
        return Err(vec![
            fault.fix("underlit resolve PROJECT --take …, or underlit resolve --shop --take …; `underlit resolve` shows all that are open"),
        ]);
    };
    give(&about, &answers, setting)
}

/// Gives answers and says what became of them.
fn give(about: &About, answers: &Answers, setting: &Setting<'_>) -> Outcome {
    let settled = resolve::resolve(&setting.desk()?, about, answers)?;
    let all = settled.questions.iter().chain(&settled.of_sealed);
    let records: Vec<Value> = all.map(|question| json!(questions::as_it_may_be_told(question))).collect();
    if records.is_empty() {
        setting.printer.line("no question is open");
    }
    say(&settled, setting);
    let sealed = settled.sealed.as_ref().map(version_json);
    setting.printer.json(&json!({ "settled": records, "sealed": sealed }));
    Ok(Exit::Done)
}

/// Brings back what was taken out without an answer.
fn ask_again(about: &About, setting: &Setting<'_>) -> Outcome {
    let places = resolve::ask_again(&setting.desk()?, about)?;
    if places.is_empty() {
        setting.printer.line("no question was removed without an answer");
    }
    for place in &places {
        setting.done(format!("asked again about {place}: underlit resolve {about}"));
    }
    setting.printer.json(&json!({ "asked_again": places }));
    Ok(Exit::Done)
}

fn say(settled: &Settled, setting: &Setting<'_>) {
    for question in settled.questions.iter().chain(&settled.of_sealed) {
        if let Some(why) = question.unproven() {
            let place = question.first().place();
            setting.printer.remark(format!("{place}: you answered a question, and {}", why.in_words()));
        }
    }
    for question in &settled.questions {
        setting.done(format!("settled {}", question.first().place()));
    }
    for question in &settled.of_sealed {
        let place = question.first().place();
        match &settled.sealed {
            Some(Versioned::InForce(version)) => {
                setting.done(format!("settled {place}, sealed anew by roster version {version}"));
            }
            Some(Versioned::Proposed { version, have, need, .. }) => setting.done(format!(
                "{place} stays open until roster version {version} is in force: {have} of {need} owners signed"
            )),
            None => {}
        }
    }
    if let Some(Versioned::Proposed { file, .. }) = &settled.sealed {
        setting.printer.line(format!("  hand this file to the next owner: {}", file.display()));
        setting.printer.line("  they sign it with: underlit roster countersign FILE");
    }
}

fn show(about: Option<About>, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let whose = match &about {
        Some(about) => vec![about.clone()],
        None => questions::with_questions(&reading)?,
    };
    let gone = vanished::of_book(reading.book.root())?;
    let gone: Vec<Vanished> =
        gone.into_iter().filter(|gone| about.as_ref().is_none_or(|about| *about == gone.about())).collect();
    let me = reading.my_name(&setting.around);
    let mut shapes = Vec::new();
    let mut asked: Vec<(About, Shown)> = Vec::new();
    for whose in &whose {
        for shown in questions::shown(&reading, whose, me.as_deref())? {
            let mut shape = json!(shown);
            shape["project"] = match whose {
                About::Project(id) => json!(id),
                About::Shop => Value::Null,
            };
            shapes.push(shape);
            asked.push((whose.clone(), shown));
        }
    }
    setting.printer.json(&json!({ "questions": shapes, "vanished": gone }));
    gone.iter().for_each(|gone| setting.printer.line(gone.in_words()));
    if asked.is_empty() {
        setting.printer.line("no question is open");
        return Ok(Exit::Done);
    }
    // Nothing is locked while somebody reads.
    drop(reading);
    let at_terminal = printer::may_ask() && !setting.printer.is_json() && !setting.around.dry_run;
    for (nth, (whose, shown)) in asked.iter().enumerate() {
        if nth > 0 {
            setting.printer.line("");
        }
        lines(whose, shown, setting);
        if at_terminal {
            ask(whose, shown, setting);
        }
    }
    Ok(Exit::Done)
}

/// Asks for the answer to one question; an answer that does not fit is asked for again.
fn ask(about: &About, shown: &Shown, setting: &Setting<'_>) {
    let takes: Vec<&str> = shown.choices.iter().map(|choice| choice.take.as_str()).collect();
    loop {
        let prompt = format!("  your answer ({}; Enter leaves it open):", takes.join(", "));
        let Some(text) = printer::ask(&prompt).filter(|text| !text.is_empty()) else { return };
        let given = taking(&text)
            .and_then(|answer| give(about, &Answers::Named(vec![(shown.id.clone(), answer)]), setting));
        match given {
            Ok(_) => return,
            Err(faults) => super::failure::report(setting.printer, &faults),
        }
    }
}

/// One question, its answers, and the commands that give them.
fn lines(about: &About, shown: &Shown, setting: &Setting<'_>) {
    let line = |text: String| setting.printer.line(on_one_line(&text));
    line(format!("question {}  {about}  {}", shown.id.get(..8).unwrap_or(&shown.id), shown.place));
    if let Some(why) = shown.unproven {
        line(format!("  {}; --take base leaves everything as it is", why.in_words()));
    }
    for used in &shown.used_by {
        line(format!("  in use by {used}"));
    }
    line(format!("  {}:", shown.meanwhile));
    for choice in &shown.choices {
        line(format!("  {:4}  {}", choice.take, headline(choice, shown.unproven)));
        // The headline says it already of the one field that is in question.
        let told = |change: &&Difference| change.pointer != shown.question.pointer;
        for change in choice.changes.iter().filter(told) {
            line(format!("          {}", change.in_words()));
        }
        for also in &choice.also {
            line(format!("          also {also}"));
        }
        if let Some(why) = &choice.why_not {
            line(format!("          does not fit now: {why}"));
        }
    }
    let fitting: Vec<&Choice> = shown.choices.iter().filter(|choice| choice.fits).collect();
    line("  answer with one of:".to_owned());
    for command in fitting.iter().map(|choice| &choice.command).chain(&shown.value_command) {
        line(format!("    {command}"));
    }
}

/// What an answer is, and whose edit.
fn headline(choice: &Choice, unproven: Option<Unproven>) -> String {
    match &choice.by {
        None if unproven == Some(Unproven::Nobody) && choice.is_an_edit => {
            format!("{}: the history shows nobody who made this edit", choice.text)
        }
        Some(by) if choice.yours => format!("{}: your edit, {}", choice.text, by.in_words()),
        Some(by) => format!("{}: {}", choice.text, by.in_words()),
        None => choice.text.clone(),
    }
}

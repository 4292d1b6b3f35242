//! `resolve`: answers to open questions between edits.

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::model::id::ProjectId;
use crate::ops::resolve::{self, About, Answer, Settled};
use crate::ops::roster::Versioned;

/// Show the open questions between edits, or answer one or all of them.
///
/// Of one project; with --shop, about files outside any project: the shop's lists, the rules, the roster and the
/// book's other files; with neither, all that are open anywhere. What the owners seal, an owner settles, and the
/// answer is sealed anew in the next roster version.
///
/// Example: underlit resolve quay-bar 3f2a --take 2
#[derive(Debug, clap::Args)]
#[command(override_usage = "underlit resolve [OPTIONS] [PROJECT | --shop] [QUESTION]")]
pub(crate) struct ResolveArgs {
    /// The project; with --shop there is none, and the question comes first.
    #[arg(value_name = "PROJECT")]
    first: Option<String>,
    /// The question, by the beginning of its name.
    #[arg(value_name = "QUESTION")]
    second: Option<String>,
    /// The questions about files outside any project.
    #[arg(long)]
    shop: bool,
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

impl ResolveArgs {
    /// Whose questions, and which of them.
    fn asked(&self) -> Result<(Option<About>, Option<&str>), Vec<Fault>> {
        let wrong = |message: String, remedy: &str| Err(vec![Fault::usage("usage", message).mend(remedy)]);
        let (about, question) = match (self.shop, &self.first, &self.second) {
            (true, Some(first), Some(_)) => {
                return wrong(
                    format!("a question of the shop belongs to no project, and {first} is named"),
                    "underlit resolve --shop QUESTION, or underlit resolve PROJECT QUESTION",
                );
            }
            (true, question, _) => (Some(About::Shop), question.as_deref()),
            (false, None, _) => (None, None),
            (false, Some(project), question) => match project.parse::<ProjectId>() {
                Ok(id) => (Some(About::Project(id)), question.as_deref()),
                Err(error) => {
                    return wrong(format!("{project}: {error}"), "`underlit board` lists every project");
                }
            },
        };
        if self.all && question.is_some() {
            return wrong(
                "either one question is answered, or all".into(),
                "leave the question out, or --all",
            );
        }
        Ok((about, question))
    }

    fn answer(&self) -> Result<Answer, Vec<Fault>> {
        match (self.take.as_deref(), self.value.as_deref()) {
            (Some("base"), _) => Ok(Answer::Base),
            (Some("ours"), _) => Ok(Answer::Mine),
            (Some("theirs"), _) => Ok(Answer::Others),
            (Some(number), _) => number.parse().map(Answer::Side).map_err(|_| {
                vec![
                    Fault::usage("usage", format!("`{number}` is neither a number nor ours, theirs or base"))
                        .mend("--take 1, --take 2, --take ours, --take theirs or --take base"),
                ]
            }),
            (None, Some(text)) => serde_json::from_str::<Value>(text).map(Answer::Value).map_err(|e| {
                vec![
                    Fault::usage("usage", format!("--value is no JSON: {e}"))
                        .mend("quote text twice: --value '\"diffused\"'"),
                ]
            }),
            (None, None) => Err(vec![
                Fault::usage("missing-argument", "an answer says what to take")
                    .mend("add --take 1, --take 2, --take base or --value JSON"),
            ]),
        }
    }
}

pub(crate) fn resolve(args: &ResolveArgs, setting: &Setting<'_>) -> Outcome {
    let (about, question) = args.asked()?;
    if question.is_none() && !args.all {
        if args.take.is_some() || args.value.is_some() {
            let fault = Fault::usage("missing-argument", "an answer names its question");
            return Err(vec![fault.mend("add the beginning of its name, or --all")]);
        }
        return show(about, setting);
    }
    let answer = args.answer()?;
    let Some(about) = about else {
        let fault = Fault::usage("missing-argument", "it is not said whose questions to answer");
        return Err(vec![
            fault.mend("underlit resolve PROJECT --all --take …, or underlit resolve --shop --all --take …"),
        ]);
    };
    let desk = setting.desk()?;
    let Some(question) = question else {
        let mut settled = Vec::new();
        // What is sealed anew takes a version of the roster of its own, so the desk is sat down at again.
        let mut desk = desk;
        for (name, _) in resolve::open_questions(&desk.reading, &about)? {
            let done = resolve::resolve(&desk, &about, &name, &answer)?;
            say(&done, setting);
            if done.sealed.is_some() {
                drop(desk);
                desk = setting.desk()?;
            }
            settled.push(done.conflict);
        }
        if settled.is_empty() {
            setting.printer.line("no question is open");
        }
        setting.printer.json(&json!({ "settled": settled }));
        return Ok(Exit::Done);
    };
    let done = resolve::resolve(&desk, &about, question, &answer)?;
    say(&done, setting);
    let mut shape = json!({ "settled": done.conflict });
    if let Some(sealed) = &done.sealed {
        shape["sealed"] = match sealed {
            Versioned::InForce(version) => json!({ "version": version, "in_force": true }),
            Versioned::Proposed { version, file, have, need } => {
                json!({ "version": version, "in_force": false, "proposal": file, "have": have, "need": need })
            }
        };
    }
    setting.printer.json(&shape);
    Ok(Exit::Done)
}

fn say(done: &Settled, setting: &Setting<'_>) {
    let Settled { conflict, sealed } = done;
    let settled = format!("settled {} {}", conflict.path, conflict.pointer);
    match sealed {
        None => setting.done(settled),
        Some(Versioned::InForce(version)) => {
            setting.done(format!("{}, sealed anew by roster version {version}", settled.trim_end()));
        }
        Some(Versioned::Proposed { version, file, have, need }) => {
            setting.done(format!(
                "{} stays open until roster version {version} is in force: {have} of {need} owners signed",
                conflict.place()
            ));
            setting.printer.line(format!("  hand this file to the next owner: {}", file.display()));
            setting.printer.line("  they sign it with: underlit roster countersign FILE");
        }
    }
}

fn show(about: Option<About>, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let everybody = about.is_none();
    let whose = match about {
        Some(about) => vec![about],
        None => resolve::with_questions(&reading)?,
    };
    let mut shapes = Vec::new();
    for about in &whose {
        let open = resolve::open_questions(&reading, about)?;
        if everybody {
            setting.printer.line(format!("underlit resolve {about}"));
        }
        for (name, conflict) in &open {
            let place = conflict.place();
            setting.printer.line(format!("{name}\n  {place}\n  {} {}", conflict.path, conflict.pointer));
            if let Some(base) = &conflict.base {
                setting.printer.line(format!("  base  {base}"));
            }
            for (number, side) in conflict.sides.iter().enumerate() {
                setting.printer.line(format!("  {}     {}", number + 1, side.in_words()));
                for place in resolve::differences(reading.book.root(), conflict, side) {
                    setting.printer.line(format!("          {place}"));
                }
            }
            let mut shape = json!({ "id": name, "question": conflict });
            if everybody {
                shape["of"] = match about {
                    About::Project(id) => json!(id),
                    About::Shop => Value::Null,
                };
            }
            shapes.push(shape);
        }
    }
    if shapes.is_empty() {
        setting.printer.line("no question is open");
    }
    setting.printer.json(&json!({ "questions": shapes }));
    Ok(Exit::Done)
}

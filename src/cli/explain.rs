//! `explain`: what a gate asks, what a requirement is for, what a word means. The texts are those of the gates themselves and
//! of the guide's page of words; none is written here.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::guide::TOPICS;
use super::setting::Setting;
use super::wording::finding_lines;
use crate::fault::Fault;
use crate::gates::requirements::ALL;
use crate::gates::{Finding, findings};
use crate::ids::ProjectId;
use crate::model::stage::Stage;
use crate::words::instead_of;

/// Explain a gate, a requirement or a word: what a gate asks and why, and with --project how each point stands there and
/// the command that meets it.
///
/// Gates go by the stage that they lead into. Without a word, everything that can be explained.
///
/// Example: underlit explain chosen-cct-tried --project quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct ExplainArgs {
    /// The gate, requirement or word.
    word: Vec<String>,
    /// The project in which it is asked.
    #[arg(long, value_name = "PROJECT")]
    project: Option<ProjectId>,
}

/// The rows of the guide's page of words.
fn glossary() -> impl Iterator<Item = (&'static str, &'static str)> {
    let page = TOPICS.iter().find(|topic| topic.name == "words").map_or("", |topic| topic.text);
    let rows = page.lines().filter_map(|line| line.strip_prefix("| ")?.strip_suffix(" |")?.split_once(" | "));
    rows.skip(1)
}

pub(crate) fn explain(args: &ExplainArgs, setting: &Setting<'_>) -> Outcome {
    let printer = setting.printer;
    let word = args.word.join(" ");
    let gates = Stage::ALL.iter().filter(|stage| ALL.iter().any(|r| r.gate == **stage));
    let known: Vec<&str> = gates
        .map(|stage| stage.word())
        .chain(ALL.iter().map(|requirement| requirement.name))
        .chain(glossary().map(|(word, _)| word))
        .collect();
    if word.is_empty() {
        let groups = [
            ("gates and requirements", ALL.iter().map(|r| (r.name, r.reason)).collect::<Vec<_>>()),
            ("words", glossary().collect()),
        ];
        for (group, rows) in &groups {
            printer.line(format!("{group}:"));
            rows.iter().for_each(|(name, says)| printer.line(format!("  {name:<30} {says}")));
        }
    }
    let asked: Vec<_> =
        ALL.iter().filter(|r| word.is_empty() || r.name == word || r.gate.word() == word).collect();
    let meaning = glossary().find(|(known, _)| known.eq_ignore_ascii_case(&word)).map(|(_, meaning)| meaning);
    if asked.is_empty() && meaning.is_none() {
        return Err(vec![
            Fault::usage("unknown-word", format!("nothing here is called {word}"))
                .fix(format!("{}; `underlit explain` lists everything", instead_of(&word, known, ""))),
        ]);
    }
    let found = match &args.project {
        None => Vec::new(),
        Some(id) => {
            let reading = setting.reading()?;
            let snapshot = reading.project(id)?;
            findings(&reading.case(&snapshot), Stage::HandedOver)
        }
    };
    let found: Vec<&Finding> =
        found.iter().filter(|f| asked.iter().any(|r| r.name == f.requirement)).collect();
    if !word.is_empty() {
        for requirement in &asked {
            printer.line(format!("{}, asked before {}", requirement.name, requirement.gate));
            printer.line(format!("  why: {}", requirement.reason));
            let here = found.iter().filter(|f| f.requirement == requirement.name);
            here.for_each(|finding| finding_lines(finding, printer));
        }
        if let Some(meaning) = meaning {
            printer.line(format!("{word}: {meaning}"));
        }
    }
    match &args.project {
        Some(id) if found.is_empty() && !asked.is_empty() => {
            printer.line(format!("nothing in {id} calls for it"))
        }
        None if !asked.is_empty() && !word.is_empty() => {
            printer.line("how it stands in a project, and the command that meets it: add --project PROJECT");
        }
        _ => {}
    }
    let requirements: Vec<_> =
        asked.iter().map(|r| json!({ "requirement": r.name, "gate": r.gate, "why": r.reason })).collect();
    let words: Vec<_> = glossary()
        .filter(|(known, _)| word.is_empty() || known.eq_ignore_ascii_case(&word))
        .map(|(word, meaning)| json!({ "word": word, "meaning": meaning }))
        .collect();
    printer.json(
        &json!({ "requirements": requirements, "words": words, "project": args.project, "findings": found }),
    );
    Ok(Exit::Done)
}

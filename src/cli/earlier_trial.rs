//! `trial cite` and `trial waive`: a panel for which no test panel is made.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId};
use crate::model::earlier_trial::{EarlierTrial, NoTestPanel};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::statement::{Subject, Topic, View};
use crate::ops::outline::unknown_panel;
use crate::ops::reading::Reading;
use crate::ops::{earlier_trials, record};
use crate::store::Changes;
use crate::words;

/// Which earlier trial stands for a panel's own.
#[derive(Debug, clap::Args)]
pub(crate) struct CiteArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// The earlier trial, as JOB/TRIAL; without it, those that fit are shown.
    trial: Option<String>,
}

/// That no test panel is made, by the client's word.
#[derive(Debug, clap::Args)]
pub(crate) struct WaiveArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// Why, in words that the client signs.
    #[arg(long, value_name = "TEXT", required_unless_present = "take_back")]
    because: Option<String>,
    /// A test panel is made after all.
    #[arg(long, conflicts_with = "because")]
    take_back: bool,
}

/// Why nobody could sign the waiver; nothing where somebody may.
fn signable(reading: &Reading, panel: &PanelId) -> Result<(), Vec<Fault>> {
    let subject = Subject::topic(View::Waiver, Topic::Sampling, Some(panel));
    if reading.shop.rules.needed(&subject).next().is_some() {
        return Ok(());
    }
    Err(vec![
        Fault::usage("rules-silent", "the shop's rules name nobody who may sign the waiver sampling")
            .in_file("rules.json")
            .fix(
                "let an owner add it to the approvals and seal it: { \"view\": \"waiver\", \"topic\": \"sampling\", \
                 \"role\": \"client\", \"people\": 1 }, then underlit roster seal",
            ),
    ])
}

pub(crate) fn cite(args: &CiteArgs, setting: &Setting<'_>) -> Outcome {
    let printer = setting.printer;
    let (project, panel) = (&args.project, &args.panel);
    let answer = |cited: Option<&EarlierTrial>, proposals: &[EarlierTrial]| {
        printer.json(&json!({ "project": project, "panel": panel, "cited": cited, "proposals": proposals }));
    };
    let find = |reading: &Reading| -> Result<Vec<EarlierTrial>, Vec<Fault>> {
        let snapshot = reading.project(project)?;
        let record = snapshot.panels.get(panel).ok_or_else(|| vec![unknown_panel(&snapshot, panel)])?;
        let stone = snapshot.stone_of(record).ok_or_else(|| vec![unknown_panel(&snapshot, panel)])?;
        if stone.slab.lot.is_none() {
            let what =
                format!("no lot is recorded for {}, so no earlier trial can be of the same", stone.stone);
            let remedy = format!("record it: underlit swatch change {project} {} --lot …", stone.id);
            return Err(vec![Fault::usage("no-lot", what).fix(remedy)]);
        }
        earlier_trials::proposals(reading, &snapshot, record, stone)
    };
    let Some(wanted) = &args.trial else {
        let found = find(&setting.reading()?)?;
        if found.is_empty() {
            printer.line("no earlier job tried this lot and thickness over the light and face chosen so far");
            printer.line(format!(
                "  by the client's word alone: underlit trial waive {project} {panel} --because …"
            ));
        }
        for one in &found {
            let (k, face) = (one.cct_k, one.face);
            printer.line(format!("{} {} at {k} K, {face} face, lot {}", one.date, one.light, one.lot));
            printer.line(format!("  underlit trial cite {project} {panel} {}/{}", one.project, one.trial));
        }
        answer(None, &found);
        return Ok(Exit::Done);
    };
    let desk = setting.desk()?;
    let found = find(&desk.reading)?;
    signable(&desk.reading, panel)?;
    let name = |one: &EarlierTrial| format!("{}/{}", one.project, one.trial);
    let Some(earlier) = found.iter().find(|one| name(one) == *wanted) else {
        let known: Vec<String> = found.iter().map(name).collect();
        let none = "see those that fit: underlit trial cite PROJECT PANEL";
        let what =
            format!("{wanted} is no trial of this stone, lot and thickness over the light and face chosen");
        let remedy = words::instead_of(wanted, known.iter().map(String::as_str), none);
        return Err(vec![Fault::usage("unknown-trial", what).fix(remedy)]);
    };
    let without = NoTestPanel { because: "tried in an earlier job".into(), earlier: Some(earlier.clone()) };
    let message = format!("{project}: trial {wanted} stands for panel {panel}\n");
    put(&desk, project, panel, Some(without), message)?;
    setting.done(format!("trial {wanted} stands for panel {panel}"));
    printer.line(format!(
        "  the client signs that: underlit sign {project} waiver --panel {panel} --topic sampling"
    ));
    answer(Some(earlier), &found);
    Ok(Exit::Done)
}

pub(crate) fn waive(args: &WaiveArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let (project, panel) = (&args.project, &args.panel);
    let because = args.because.clone().filter(|_| !args.take_back);
    let without = because.map(|because| NoTestPanel { because, earlier: None });
    if without.is_some() {
        signable(&desk.reading, panel)?;
    }
    let what = match &without {
        Some(without) => format!("no test panel is made for panel {panel}: {}", without.because),
        None => format!("a test panel is made for panel {panel}"),
    };
    let signed = without.is_some();
    let path = put(&desk, project, panel, without, format!("{project}: {what}\n"))?;
    setting.done(what);
    if signed {
        let how = format!("underlit sign {project} waiver --panel {panel} --topic sampling");
        setting.printer.line(format!("  the client signs that: {how}"));
    }
    setting.wrote(project, Kind::Panel, Some(panel.as_str()), &path);
    Ok(Exit::Done)
}

fn put(
    desk: &crate::ops::Desk<'_>,
    project: &ProjectId,
    panel: &PanelId,
    without: Option<NoTestPanel>,
    message: String,
) -> Result<String, Vec<Fault>> {
    let path = format!("{}/panels/{panel}.json", desk.reading.book.project(project)?);
    let change = |record: &mut Panel| {
        record.no_test_panel = without;
        Ok(())
    };
    record::change(desk, &path, Kind::Panel, Changes::new(), |_: &Panel| message, change)?;
    Ok(path)
}

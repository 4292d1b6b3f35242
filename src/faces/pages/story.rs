//! What happened on a job, by what its records and signatures say: oldest first, in a line each.

use jiff::civil::Date;

use crate::job::Case;
use crate::model::snapshot::SignOff;
use crate::model::trial::Trial;
use crate::ops::notes;

/// The stone and the light of a trial, in words.
pub(super) fn tried(case: &Case<'_>, trial: &Trial) -> String {
    let stone = case.project.swatches.get(&trial.swatch).map(|s| s.stone.clone());
    let stone = stone.unwrap_or_else(|| trial.swatch.to_string());
    let light = match (trial.cct_k, &trial.colour) {
        (Some(k), _) => format!("{k} K"),
        (None, Some(colour)) => colour.clone(),
        (None, None) => "coloured light".to_owned(),
    };
    format!("{stone} over {light}, {} face", trial.face)
}

/// What happened.
pub(super) fn of(case: &Case<'_>) -> Vec<(Date, String)> {
    let project = case.project;
    let day = |time: &str| time.get(..10).and_then(|day| day.parse::<Date>().ok());
    let name = |person| case.shop.roster.name_of(person);
    let mut story = vec![(project.project.opened, "The job was opened.".to_owned())];
    for request in project.requests.values() {
        let id = &request.id;
        story.push((request.asked, format!("Test panel {id} was asked for.")));
        story.extend(request.sent.map(|day| (day, format!("Test panel {id} was sent."))));
        story.extend(request.received.map(|day| (day, format!("Test panel {id} arrived."))));
        story.extend(request.returned.map(|day| (day, format!("Test panel {id} came back."))));
        story.extend(request.lost.map(|day| (day, format!("Test panel {id} counts as lost."))));
    }
    for trial in project.trials.values() {
        story.push((trial.date, format!("Tried: {}. It pleased {} of 5.", tried(case, trial), trial.rating)));
    }
    let mut said: Vec<&SignOff> = project.signoffs.iter().filter(|s| case.word(s).is_some()).collect();
    said.sort_by(|a, b| (&a.statement.time, a.digest).cmp(&(&b.statement.time, b.digest)));
    for signoff in said {
        let statement = &signoff.statement;
        let how = statement.evidence.as_ref().map(|e| format!(" ({})", e.how)).unwrap_or_default();
        let done = statement.decision.done_to(&statement.about);
        let text = format!("{} ({}) {done}{how}.", case.speaker(signoff), statement.role);
        story.extend(day(&statement.time).map(|day| (day, text)));
    }
    let mut moves: Vec<_> = project.moves.iter().collect();
    moves.sort_by(|(a, one), (b, two)| (&one.time, a).cmp(&(&two.time, b)));
    for (_, step) in moves {
        let by = name(&step.signer);
        let reason = step.reason.as_deref().map(|why| format!(": “{why}”")).unwrap_or_default();
        let text = if step.is_reopen() {
            format!("{by} took the job back to {}{reason}.", step.to)
        } else {
            format!("{by} took the job to {}.", step.to)
        };
        story.extend(day(&step.time).map(|day| (day, text)));
    }
    for note in notes::of(case) {
        let on = note.subject.map(|on| format!(" on {on}")).unwrap_or_default();
        story.extend(day(&note.at).map(|day| (day, format!("{} noted{on}: “{}”", note.who, note.text))));
    }
    if let Some(built) = &project.as_built {
        story.push((built.date, format!("{} recorded the last panel as built.", name(&built.by))));
        for sent in &built.consignments {
            let damage = if sent.damage.is_empty() { "whole" } else { "damaged" };
            story.push((sent.sent, format!("{} left the shop.", sent.id)));
            story.extend(sent.received.map(|day| (day, format!("{} arrived {damage}.", sent.id))));
        }
    }
    if let Some(installation) = &project.installation {
        story.push((installation.date, format!("Installed by {}.", name(&installation.by))));
        story.extend(
            installation.acceptance.as_ref().map(|seen| (seen.date, "The work was taken over.".to_owned())),
        );
    }
    story.sort_by_key(|(day, _)| *day);
    story
}

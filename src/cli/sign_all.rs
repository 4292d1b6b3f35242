//! `sign-all`: everything of a job that waits for one person's signature, shown once and signed together.

use std::collections::BTreeSet;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use super::sign::{SIGN_THIS, changed_meanwhile, confirm, same};
use crate::gates::asked;
use crate::ids::ProjectId;
use crate::model::roster::Role;
use crate::model::statement::{Decision, View};
use crate::model::view::fact_in_words;
use crate::ops::Desk;
use crate::ops::sign::{Prepared, Saying, prepare, say_all};
use crate::words::counted;

/// Approve everything of a job that waits for your signature, but the release, in one go.
///
/// What is the same of several panels is shown once, what differs beneath each; every one gets a signature of its own, all or
/// none. The release of the whole build is signed by itself: underlit sign PROJECT release.
///
/// Example: underlit sign-all quay-bar
#[derive(Debug, clap::Args)]
pub(crate) struct SignAllArgs {
    /// The project.
    project: ProjectId,
    /// In which role; by default in every one in which you are asked.
    #[arg(long = "as", value_name = "ROLE")]
    role: Option<Role>,
    /// Do not ask: I have read what is signed.
    #[arg(long)]
    yes: bool,
}

pub(crate) fn run(args: &SignAllArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let prepared = all(args, &desk)?;
    if prepared.is_empty() {
        setting.printer.line(format!("nothing of {} waits for your signature", args.project));
    } else {
        show(&prepared, setting);
        if confirm(SIGN_THIS, args.yes, setting, &desk)? {
            let now = all(args, &desk)?;
            if now.len() != prepared.len() || !now.iter().zip(&prepared).all(|(now, then)| same(now, then)) {
                return Err(vec![changed_meanwhile()]);
            }
        }
    }
    let digests = if prepared.is_empty() { Vec::new() } else { say_all(&desk, &prepared)? };
    let signed: Vec<_> = prepared.iter().zip(&digests).collect();
    if !signed.is_empty() {
        setting.done(format!("signed {}", counted(signed.len(), "thing", "things")));
    }
    for (prepared, digest) in &signed {
        let statement = &prepared.statement;
        setting.printer.line(format!("  {} as {}: {}", statement.about, statement.role, digest.short()));
    }
    let signed: Vec<_> = signed
        .into_iter()
        .map(|(prepared, digest)| {
            let statement = &prepared.statement;
            json!({ "subject": statement.about, "role": statement.role, "sha256": digest })
        })
        .collect();
    setting.printer.json(&json!({ "project": args.project, "signatures": signed }));
    Ok(Exit::Done)
}

/// Everything that waits for the asking person and can be answered, in the order of the gates.
fn all(args: &SignAllArgs, desk: &Desk<'_>) -> Result<Vec<Prepared>, Vec<crate::fault::Fault>> {
    let snapshot = desk.reading.project(&args.project)?;
    let waiting = asked::open(&desk.reading.case(&snapshot), &desk.me()?);
    let mine = waiting
        .into_iter()
        .filter(|a| a.subject.view != View::Release && args.role.is_none_or(|role| role == a.role));
    let prepare_one = |asked: asked::Asked| {
        let saying = Saying {
            subject: asked.subject,
            role: Some(asked.role),
            decision: Decision::Approved,
            comment: None,
            notes: Vec::new(),
            evidence: None,
        };
        prepare(desk, &args.project, &snapshot, &saying)
    };
    mine.map(|asked| prepare_one(asked).map_err(|fault| vec![*fault])).collect()
}

/// What is signed: sentences as they are; of facts, what is the same of several things once, and the others beneath each.
fn show(prepared: &[Prepared], setting: &Setting<'_>) {
    let printer = setting.printer;
    for one in prepared.iter().filter_map(|p| p.sentence.as_ref()) {
        printer.line(format!("The sentence that is signed:\n  “{one}”"));
    }
    prepared.iter().flat_map(|p| &p.remarks).for_each(|remark| printer.remark(format!("note: {remark}")));
    for view in View::ALL {
        let of_view: Vec<&Prepared> =
            prepared.iter().filter(|p| p.sentence.is_none() && p.statement.about.view == *view).collect();
        let lines: Vec<BTreeSet<(String, String)>> = of_view.iter().map(|p| lines_of(p)).collect();
        let Some(first) = lines.first() else { continue };
        let mut common = first.clone();
        lines.iter().skip(1).for_each(|other| common.retain(|line| other.contains(line)));
        if lines.len() == 1 {
            common.clear();
        }
        let put = |(name, says): &(String, String)| printer.line(format!("  {name}  {says}"));
        if !common.is_empty() {
            let all: Vec<String> = of_view.iter().map(|p| p.statement.about.to_string()).collect();
            printer.line(format!("What is signed alike of {}:", all.join(", ")));
            common.iter().for_each(put);
        }
        for (prepared, own) in of_view.iter().zip(&lines) {
            printer.line(format!("What is signed of {}:", prepared.statement.about));
            own.difference(&common).for_each(put);
        }
    }
}

fn lines_of(prepared: &Prepared) -> BTreeSet<(String, String)> {
    prepared.statement.facts.iter().map(|(name, fact)| fact_in_words(name, fact)).collect()
}

//! Into released: nothing is out of step. Every file beside a record is the one that the record names.
//!
//! Approvals that no longer fit are shown by the requirement that asked for them, which is judged again
//! at every later gate; what is left to judge here are files exchanged under a record, and drawings that
//! nobody had to make and that somebody may yet build from. Photos of what was built come after the release
//! and are held to their records by `check`.

use super::rendering_matches;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::attachment::Attachment;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "nothing-stale",
    gate: Stage::Released,
    since: 1,
    reason: "what is built must be what was signed: a photo, spectrum or drawing that was replaced later was not signed",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let project = case.project;
    let mut named: Vec<(String, &Attachment)> = Vec::new();
    for swatch in project.swatches.values() {
        let files = swatch
            .photo
            .iter()
            .chain(swatch.measured.iter().flat_map(|m| m.spectrum.iter().chain(&m.values)));
        named.extend(files.map(|a| (format!("swatches/{}", a.file), a)));
    }
    for trial in project.trials.values() {
        named.extend(trial.attachments().map(|a| (format!("trials/{}", a.file), a)));
    }
    let mut findings: Vec<Finding> = named
        .iter()
        .filter_map(|(path, attachment)| {
            let what = match project.files.get(path) {
                None => format!("the file {path} is missing"),
                Some(digest) if *digest != attachment.sha256 => {
                    format!("the file {path} is not the one that its record names: its content changed")
                }
                Some(_) => return None,
            };
            let command = format!("underlit check {}", case.id());
            Some(REQUIREMENT.missing(case, what, &[Role::Rep], command))
        })
        .collect();
    // A drawing that the gates ask for is judged by `rendering-matches`.
    findings.extend(case.panels().filter(|(id, _)| !super::needs_rendering(case, id)).filter_map(
        |(id, panel)| {
            let flaw = rendering_matches::flaw(case, id, panel, project.renderings.get(id)?)?;
            let command = format!("underlit draw {} {id}", case.id());
            Some(REQUIREMENT.missing(case, flaw, &[Role::Designer, Role::Rep, Role::Engineer], command))
        },
    ));
    if findings.is_empty() {
        return vec![REQUIREMENT.met("every file is the one that its record names")];
    }
    findings
}

//! Into rendering: the chosen colour temperature and face were tried on that stone, or the waiver is signed.

use crate::gates::approval;
use crate::gates::facts;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::{Finding, State};
use crate::job::case::Case;
use crate::model::panel::Panel;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, Topic, View};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "chosen-cct-tried",
    gate: Stage::Rendering,
    since: 1,
    reason: "a wrong colour temperature shows only once the stone is glued down: the chosen one must be seen \
        on the stone first, or its risk signed for",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (id, panel) in case.panels() {
        let Some(cct) = panel.light.as_ref().and_then(|l| l.cct_k) else { continue };
        if let Some(what) = tried(case, panel, cct) {
            findings.push(REQUIREMENT.met(what));
            continue;
        }
        let subject = Subject::topic(View::Waiver, Topic::CctNotTried, Some(id));
        for mut finding in approval::findings(case, &REQUIREMENT, &subject, &facts::of(case, &subject)) {
            if finding.state != State::Met {
                finding.what = format!(
                    "{cct} K was never tried on {} for panel {id}: record a trial at it, or sign its waiver; {}",
                    panel.swatch, finding.what
                );
            }
            findings.push(finding);
        }
    }
    findings
}

/// The trial that shows a colour temperature on a panel's stone, in words; none where it was never seen.
pub(in crate::gates) fn tried(case: &Case<'_>, panel: &Panel, cct: u32) -> Option<String> {
    let within = case.shop.rules.tried_within_k;
    case.project
        .trials
        .values()
        .filter(|t| t.swatch == panel.swatch)
        .filter(|t| case.project.requests.get(&t.request).is_some_and(|r| r.received.is_some()))
        .filter(|t| panel.face.is_none_or(|face| t.face == face))
        .find(|t| t.cct_k.is_some_and(|tried| tried.abs_diff(cct) <= within))
        .map(|t| format!("{cct} K, {} face, was tried on {} (trial {})", t.face, panel.swatch, t.id))
}

//! Into selection: for every stone in use a test panel was asked for that shows enough to choose from.

use std::collections::BTreeSet;

use crate::gates::approval;
use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::ids::SwatchId;
use crate::job::case::Case;
use crate::model::request::Request;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::Subject;
use crate::words::{Face, LightKind};

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "test-panel-requested",
    gate: Stage::Selection,
    since: 1,
    reason: "a colour temperature is chosen by seeing it on the stone: at least two of them, and every face in question",
    check,
};

/// How many colour temperatures a choice needs at the least. Common practice, no source.
const LEAST_CCTS: usize = 2;

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings: Vec<Finding> = case.project.stones_to_try().map(|stone| judge(case, stone)).collect();
    for id in case.project.requests.keys() {
        let subject = Subject::request(id);
        if case.shop.rules.needed(&subject).next().is_some() {
            findings.append(&mut approval::findings(case, &REQUIREMENT, &subject));
        }
    }
    findings
}

fn judge(case: &Case<'_>, stone: &SwatchId) -> Finding {
    let mut requests = requests_for(case, stone);
    requests.retain(|r| !r.never_comes());
    let faces: Vec<String> = faces_in_question(case, stone).iter().map(ToString::to_string).collect();
    let ask = format!(
        "underlit request ask {} NAME --swatch {stone} --cct 2700,4000 --face {} --size 300mmx200mm --address …",
        case.id(),
        faces.join(","),
    );
    match lacking(case, stone, &requests) {
        None => {
            let shown: Vec<String> = ccts_of(&requests).iter().map(|k| format!("{k} K")).collect();
            let shown = if shown.is_empty() { "coloured light".to_owned() } else { shown.join(", ") };
            REQUIREMENT.met(format!("a test panel for {stone} was asked for: {shown}"))
        }
        Some(Lack::Everything) => {
            let what = format!("no test panel was asked for to try {stone} over");
            REQUIREMENT.missing(case, what, &[Role::Rep], ask)
        }
        Some(Lack::Ccts(shown)) => {
            let what = format!(
                "the test panels for {stone} show {}; a choice needs at least two",
                crate::words::counted(shown, "colour temperature", "colour temperatures")
            );
            REQUIREMENT.missing(case, what, &[Role::Rep], ask)
        }
        Some(Lack::Faces(faces)) => {
            let what = format!("no test panel for {stone} shows the {faces} face, which is in question");
            REQUIREMENT.missing(case, what, &[Role::Rep], ask)
        }
    }
}

/// What a set of test panels does not show of what a choice needs.
pub(super) enum Lack {
    /// There is no test panel at all.
    Everything,
    /// They show so many colour temperatures, and a choice needs more.
    Ccts(usize),
    /// They do not show these faces, which are in question.
    Faces(String),
}

/// What some test panels for a stone lack; none where they show enough to choose from.
pub(super) fn lacking(case: &Case<'_>, stone: &SwatchId, requests: &[&Request]) -> Option<Lack> {
    if requests.is_empty() {
        return Some(Lack::Everything);
    }
    let ccts = ccts_of(requests).len();
    let mut panels = case.project.panels_to_try(stone);
    let coloured_only = panels.all(|p| p.light.as_ref().is_some_and(|l| l.kind == LightKind::Rgb));
    if ccts < LEAST_CCTS && !coloured_only {
        return Some(Lack::Ccts(ccts));
    }
    let shown: BTreeSet<Face> = requests.iter().flat_map(|r| r.faces.iter().copied()).collect();
    let unseen: Vec<String> =
        faces_in_question(case, stone).difference(&shown).map(ToString::to_string).collect();
    (!unseen.is_empty()).then(|| Lack::Faces(unseen.join(" or the ")))
}

/// The requests for test panels to try a stone over.
pub(super) fn requests_for<'a>(case: &Case<'a>, stone: &SwatchId) -> Vec<&'a Request> {
    case.project.requests.values().filter(|r| r.swatches.contains(stone)).collect()
}

fn ccts_of(requests: &[&Request]) -> BTreeSet<u32> {
    requests.iter().flat_map(|r| r.ccts_k.iter().copied()).collect()
}

/// The faces in question under a stone: the chosen one, and every one considered where none is chosen.
fn faces_in_question(case: &Case<'_>, stone: &SwatchId) -> BTreeSet<Face> {
    let panels = case.project.panels_to_try(stone);
    panels.flat_map(|p| p.face.map_or_else(|| p.faces_considered.clone(), |f| vec![f])).collect()
}

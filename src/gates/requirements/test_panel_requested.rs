//! Into selection: for every stone in use a test panel was asked for that shows enough to choose from.

use std::collections::BTreeSet;

use crate::gates::approval;
use crate::gates::case::{Case, Requirement};
use crate::gates::facts;
use crate::gates::verdict::Finding;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::Subject;
use crate::words::Face;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "test-panel-requested",
    gate: Stage::Selection,
    reason: "a colour temperature is chosen by seeing it on the stone: at least two of them, and every face in question",
    check,
};

/// How many colour temperatures a choice needs at the least. Common practice, no source.
pub(super) const LEAST_CCTS: usize = 2;

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings: Vec<Finding> = case.project.stones_in_use().map(|stone| {
        let requests: Vec<_> = case.project.requests.values().filter(|r| r.swatches.contains(stone)).collect();
        let ccts: BTreeSet<u32> = requests.iter().flat_map(|r| r.ccts_k.iter().copied()).collect();
        let faces: BTreeSet<Face> = requests.iter().flat_map(|r| r.faces.iter().copied()).collect();
        let questioned: BTreeSet<Face> = case.panels().filter(|(_, p)| p.swatch == *stone)
            .flat_map(|(_, p)| p.face.map_or_else(|| p.faces_considered.clone(), |f| vec![f])).collect();
        let untried: Vec<String> = questioned.difference(&faces).map(ToString::to_string).collect();
        let ask = format!(
            "underlit request ask {} NAME --swatch {stone} --cct 2700,4000 --face {} --size 300mmx200mm --address …",
            case.id(),
            questioned.iter().map(ToString::to_string).collect::<Vec<_>>().join(","),
        );
        let coloured_only = case.panels().filter(|(_, p)| p.swatch == *stone)
            .all(|(_, p)| p.light.as_ref().is_some_and(|l| l.kind == crate::words::LightKind::Rgb));
        let what = if requests.is_empty() {
            format!("no test panel was asked for to try {stone} over")
        } else if ccts.len() < LEAST_CCTS && !coloured_only {
            format!("the test panels for {stone} show {}; a choice needs at least two", super::counted(ccts.len(), "colour temperature", "colour temperatures"))
        } else if !untried.is_empty() {
            format!("no test panel for {stone} shows the {} face, which is in question", untried.join(" or the "))
        } else {
            let shown: Vec<String> = ccts.iter().map(|k| format!("{k} K")).collect();
            return REQUIREMENT.met(format!("a test panel for {stone} was asked for: {}", shown.join(", ")));
        };
        REQUIREMENT.missing(case, what, &[Role::Rep], ask)
    }).collect();
    for id in case.project.requests.keys() {
        let subject = Subject::request(id);
        if case.shop.rules.needed(&subject).next().is_some() {
            findings.append(&mut approval::findings(
                case,
                &REQUIREMENT,
                &subject,
                &facts::of(case, &subject),
            ));
        }
    }
    findings
}

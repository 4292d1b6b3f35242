//! An outline that moved by no more than the shop's rules call the same (`same_within_mm`): what others approved of its
//! drawing counts on, once the engineer has approved the drawing as it is now.
//!
//! Only the outline, what is measured on it and the sheets may differ. Which outline was signed, the signature itself says
//! by its digest; how far the present one lies from it was measured when the project was read.

use super::approval::standing;
use crate::digest::Sha256Digest;
use crate::job::case::Case;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::statement::{Decision, Fact, Facts, Statement, View};
use crate::model::supersession::says_yes;
use crate::model::view::changes;
use crate::units::Millimetres;

/// The fact that says which outline was signed.
pub(crate) const OUTLINE: &str = "panel.outline.sha256";

/// The fact that says which outline was drawn.
const DRAWN_OUTLINE: &str = "rendering.outline_sha256";

/// Facts that a moved outline changes and nothing else need, besides the files of the sheets.
const OF_THE_OUTLINE: &[&str] = &[
    OUTLINE,
    DRAWN_OUTLINE,
    "panel.outline.file",
    "rendering.revision",
    "rendering.width_um",
    "rendering.height_um",
    "rendering.area_mm2",
    "rendering.perimeter_um",
];

/// What the facts begin with that name the files of the sheets.
const OF_THE_SHEETS: &[&str] = &["rendering.sheet.", "rendering.further_sheets.", "rendering.pdf."];

/// True where an approval of an earlier drawing counts for the present one.
pub(super) fn holds(case: &Case<'_>, statement: &Statement, now: &Facts) -> bool {
    answered(case, statement, now).is_some()
}

/// How far the outline lies from the one that an approval was of, and by which sign-off of an engineer it counts for the
/// present one.
pub(super) fn answered<'a>(
    case: &Case<'a>,
    statement: &Statement,
    now: &Facts,
) -> Option<(Millimetres, &'a SignOff)> {
    let distance = distance(case, statement, now)?;
    let answers = |s: &&SignOff| s.statement.decision == Decision::Approved && s.statement.facts == *now;
    Some((distance, standing(case, &statement.about, Role::Engineer).into_iter().find(answers)?))
}

/// How far the outline lies from the one that somebody else than the engineer approved, where nothing else changed and the
/// shop's rules call it the same; none where the approval is to be given anew.
pub(super) fn distance(case: &Case<'_>, statement: &Statement, now: &Facts) -> Option<Millimetres> {
    let of_others = statement.about.view == View::Rendering
        && statement.role != Role::Engineer
        && says_yes(statement.decision);
    if !of_others || statement.facts.get(OUTLINE) != statement.facts.get(DRAWN_OUTLINE) {
        return None;
    }
    let may_change = |fact: &str| {
        OF_THE_OUTLINE.contains(&fact) || OF_THE_SHEETS.iter().any(|prefix| fact.starts_with(prefix))
    };
    let drawing = case.project.drawing_of(statement.about.panel.as_ref()?)?;
    let is_drawn = now.get(OUTLINE) == Some(&Fact::Text(drawing.digest.hex()));
    if !is_drawn || !changes(&statement.facts, now).iter().all(|change| may_change(&change.fact)) {
        return None;
    }
    let Some(Fact::Text(signed)) = statement.facts.get(OUTLINE) else { return None };
    drawing.moved.get(&signed.parse::<Sha256Digest>().ok()?).copied()
}

//! Into released: where the way from driver to panel was guessed, somebody has measured it.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::panel::FeedBasis;
use crate::model::roster::Role;
use crate::model::stage::Stage;

/// The requirement. Only records that call their length guessed are asked, which none did before it was there.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "feed-measured",
    gate: Stage::Released,
    since: 1,
    reason: "cable, protection and drop follow from the way that the wire takes: a guess is good enough to quote by, \
        and not to build by",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let units = case.shop.book.units;
    case.panels()
        .filter_map(|(id, panel)| {
            let length = panel.feed_length_m.map_or_else(String::new, |m| format!(", {}", units.run(m)));
            match panel.feed_basis? {
                FeedBasis::Measured => {
                    Some(REQUIREMENT.met(format!("the way from driver to panel {id} was measured{length}")))
                }
                FeedBasis::Guessed => Some(REQUIREMENT.missing(
                    case,
                    format!("the way from driver to panel {id} is a guess{length}: measure it on site"),
                    &[Role::Engineer, Role::Installer],
                    format!("underlit plan {} {id} --feed-length … --feed-basis measured", case.id()),
                )),
            }
        })
        .collect()
}

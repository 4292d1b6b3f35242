//! Every requirement of every gate, one file each, in the order in which they are judged and shown.

mod acceptance_signed;
mod as_built_recorded;
mod bench_within_limits;
pub(in crate::gates) mod bright_enough;
mod cautions_seen;
mod choice_complete;
mod choice_signed;
pub(in crate::gates) mod chosen_cct_tried;
mod chosen_light_offered;
mod control_named;
mod delivery_received;
mod electrics_known;
mod feed_measured;
mod floor_answered;
mod install_date_set;
mod installation_recorded;
mod measured_on_site;
mod no_field_service_acknowledged;
mod no_open_conflict;
mod no_test_panel_accepted;
mod nothing_refused;
mod nothing_stale;
mod ordered_ahead_acknowledged;
mod outline_exact;
mod panels_listed;
mod place_served;
mod power_worked_out;
mod release_signed;
mod rendering_matches;
mod rendering_signed;
mod roles_apart;
mod room_light_known;
mod route_builds;
mod seams_acknowledged;
mod service_card_left;
mod slab_seen;
mod stones_described;
mod test_panel_received;
mod test_panel_requested;
mod trial_recorded;
mod uneven_light_acknowledged;
mod wiring_protected;

pub(crate) use no_open_conflict::{bearing_on, of_the_shop};

use super::requirement::Requirement;
use crate::ids::PanelId;
use crate::job::case::Case;
use crate::model::panel::Panel;
use crate::model::rendering::Rendering;

/// The requirement that nobody's refusal stands.
pub(crate) const NOTHING_REFUSED: &str = nothing_refused::REQUIREMENT.name;

/// Every requirement, in order.
pub const ALL: &[Requirement] = &[
    stones_described::REQUIREMENT,
    panels_listed::REQUIREMENT,
    install_date_set::REQUIREMENT,
    room_light_known::REQUIREMENT,
    no_open_conflict::REQUIREMENT,
    test_panel_requested::REQUIREMENT,
    test_panel_received::REQUIREMENT,
    trial_recorded::REQUIREMENT,
    no_test_panel_accepted::REQUIREMENT,
    nothing_refused::REQUIREMENT,
    choice_complete::REQUIREMENT,
    chosen_light_offered::REQUIREMENT,
    place_served::REQUIREMENT,
    chosen_cct_tried::REQUIREMENT,
    bright_enough::REQUIREMENT,
    uneven_light_acknowledged::REQUIREMENT,
    choice_signed::REQUIREMENT,
    control_named::REQUIREMENT,
    no_field_service_acknowledged::REQUIREMENT,
    outline_exact::REQUIREMENT,
    measured_on_site::REQUIREMENT,
    electrics_known::REQUIREMENT,
    slab_seen::REQUIREMENT,
    route_builds::REQUIREMENT,
    floor_answered::REQUIREMENT,
    seams_acknowledged::REQUIREMENT,
    power_worked_out::REQUIREMENT,
    feed_measured::REQUIREMENT,
    wiring_protected::REQUIREMENT,
    ordered_ahead_acknowledged::REQUIREMENT,
    rendering_matches::REQUIREMENT,
    rendering_signed::REQUIREMENT,
    cautions_seen::REQUIREMENT,
    nothing_stale::REQUIREMENT,
    roles_apart::REQUIREMENT,
    release_signed::REQUIREMENT,
    as_built_recorded::REQUIREMENT,
    bench_within_limits::REQUIREMENT,
    delivery_received::REQUIREMENT,
    installation_recorded::REQUIREMENT,
    service_card_left::REQUIREMENT,
    acceptance_signed::REQUIREMENT,
];

/// What is wrong with a rendering that is there; none where it shows the panel as it is now.
#[must_use]
pub(crate) fn rendering_flaw(
    case: &Case<'_>,
    id: &PanelId,
    panel: &Panel,
    drawn: &Rendering,
) -> Option<String> {
    rendering_matches::flaw(case, id, panel, drawn)
}

/// True where everything is chosen for a panel that its choice is about.
#[must_use]
pub(crate) fn is_chosen(panel: &Panel) -> bool {
    choice_complete::open_questions(panel).is_empty()
}

/// True where a panel needs an exact rendering that is signed: any shape but a circle, square, rectangle or triangle
/// without cut-outs, and any panel that is recorded as bent or etched. Common practice, no source. An outline that cannot
/// be read needs one too.
#[must_use]
pub(crate) fn needs_rendering(case: &Case<'_>, id: &PanelId) -> bool {
    let worked = case.project.panels.get(id).is_some_and(|p| p.bent.is_some() || p.etching.is_some());
    worked || case.project.drawing_of(id).is_none_or(|d| !d.figures.shape.is_plain() || d.figures.cutouts > 0)
}

//! Into rendering: light, colour temperature, face, lit edges, voltage and mount are chosen for every panel.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::panel::Panel;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::words::LightKind;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "choice-complete",
    gate: Stage::Rendering,
    since: 1,
    reason: "a panel is drawn and powered for one light, one face, its lit edges, its voltage and its mount",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    case.panels()
        .map(|(id, panel)| {
            let open = open_questions(panel);
            if open.is_empty() {
                return REQUIREMENT.met(format!("everything is chosen for panel {id}"));
            }
            let names: Vec<&str> = open.iter().map(|(name, _)| *name).collect();
            let flags: Vec<&str> = open.iter().map(|(_, flag)| *flag).collect();
            let command = format!("underlit choose {} {id} {}", case.id(), flags.join(" "));
            REQUIREMENT.missing(
                case,
                format!("not yet chosen for panel {id}: {}", names.join(", ")),
                &[Role::Rep, Role::Designer],
                command,
            )
        })
        .collect()
}

/// What is not yet chosen for a panel, each with the option of `choose` that chooses it.
pub(super) fn open_questions(panel: &Panel) -> Vec<(&'static str, &'static str)> {
    let needs_cct = panel.light.as_ref().is_none_or(|l| l.kind != LightKind::Rgb);
    [
        (panel.light.is_none(), "the kind of light", "--light …"),
        (
            needs_cct && panel.light.as_ref().is_none_or(|l| l.cct_k.is_none()),
            "the colour temperature",
            "--cct …",
        ),
        (
            panel.light.as_ref().is_some_and(|l| l.kind == LightKind::WarmDim && l.cct_range_k.is_none()),
            "how warm it grows as it is dimmed",
            "--cct-range …",
        ),
        (panel.face.is_none(), "the face", "--face …"),
        (panel.lit_edges.is_empty(), "the lit edges", "--edges …"),
        (panel.voltage_v.is_none(), "the voltage", "--volts …"),
        (panel.mount.is_none(), "the mount", "--mount …"),
    ]
    .into_iter()
    .filter(|(open, _, _)| *open)
    .map(|(_, name, flag)| (name, flag))
    .collect()
}

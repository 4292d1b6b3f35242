//! Into rendering: a tape of the shop gives the chosen light: its kind, its voltage, and the colour temperature
//! within the range that it can be set to.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::job::plan::light::{asked_of_list, gives};
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::power::light_choice::{LightRequirement, choose};
use crate::power::vocabulary::Place;
use crate::units::Volts;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "chosen-light-offered",
    gate: Stage::Rendering,
    since: 1,
    reason: "a client must not sign for a colour temperature that no tape can give",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (id, panel) in case.panels() {
        let Some(light) = &panel.light else { continue };
        // How wet the place may be is judged with the panel's whole build, at the release.
        let volts = panel.voltage_v.map(|v| Volts(f64::from(v)));
        let asked = asked_of_list(light.kind, volts, light.cct_k, Place::Dry);
        let asked = LightRequirement { cri_ra: light.cri_ra(), cct_range_k: light.cct_range_k, ..asked };
        let cct = light.cct_k.map_or_else(String::new, |cct| format!(" at {cct} K"));
        let volts = panel.voltage_v.map_or_else(String::new, |v| format!(", {v} V"));
        let ra = light.least_ra.map_or_else(String::new, |ra| format!(", Ra {ra} or more"));
        let what = format!("{}{cct}{volts}{ra} for panel {id}", light.kind);
        let missing = |why: String| {
            REQUIREMENT.missing(
                case,
                format!("no tape of the shop gives {what}; {why}"),
                &[Role::Rep],
                format!("underlit choose {} {id} --light … --cct … --volts …", case.id()),
            )
        };
        match choose(&case.shop.lights, &asked) {
            Ok(choice) if light.cct_k.is_some_and(|cct| gives(choice.light, cct).is_none()) => {
                findings.push(missing(format!("the channels of {} do not mix to it", choice.light.id)));
            }
            Ok(choice) => {
                let range = choice
                    .light
                    .cct_range_k
                    .map_or_else(String::new, |r| format!(", set from {} to {} K", r.warmest, r.coolest));
                findings.push(REQUIREMENT.met(format!("{what}: tape {}{range}", choice.light.id)));
            }
            Err(none) => findings.push(missing(none.remedy())),
        }
    }
    findings
}

//! Warnings about where drivers and controls stand: what is taken because nobody recorded it.

use super::verdict::Warning;
use crate::job::case::Case;
use crate::job::plan::JobPlan;
use crate::power::vocabulary::Place;
use crate::units::trimmed;

/// What is not recorded of the supply of panels whose power is being worked out.
pub(super) fn warnings(case: &Case<'_>, job: &JobPlan) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let open: Vec<_> =
        case.panels().filter(|(_, p)| p.feed_length_m.is_some() && p.supply.is_none()).collect();
    if !open.is_empty() {
        let wet = open.iter().map(|(_, p)| p.place).max().filter(|place| *place > Place::Dry);
        let matters = wet
            .map(|place| format!(" It matters here: a panel stands where it is {place}."))
            .unwrap_or_default();
        warnings.push(Warning {
            code: "driver-place-open",
            panels: open.iter().map(|(id, _)| (*id).clone()).collect(),
            message: format!(
                "where the driver stands is not recorded; assumed remote, dry, ventilated, \
                 accessible.{matters} Record it: underlit plan {} --settle --driver-at remote --driver-place \
                 dry",
                case.id()
            ),
            source: "what the records say",
        });
    }
    let mut drivers: Vec<&str> = job.circuits.groups.iter().map(|group| group.driver.as_str()).collect();
    drivers.sort_unstable();
    drivers.dedup();
    let chosen = case.panels().any(|(_, panel)| panel.light.is_some());
    if case.project.project.site.mains_v.is_none() && chosen {
        let takes: Vec<String> = drivers
            .iter()
            .filter_map(|id| case.shop.drivers.get(id))
            .map(|d| {
                format!(
                    "{} accepts {} to {} V",
                    d.id,
                    trimmed(d.mains_least_v.get(), 0),
                    trimmed(d.mains_most_v.get(), 0)
                )
            })
            .collect();
        warnings.push(Warning {
            code: "mains-open",
            panels: Vec::new(),
            message: format!(
                "the mains voltage of the site is not recorded, and drivers are chosen for it{}. Ask the licensed person, \
                 then: underlit project change {} --mains VOLTS",
                if takes.is_empty() { String::new() } else { format!("; {}", takes.join(", ")) },
                case.id()
            ),
            source: "what the records say",
        });
    }
    if case.project.project.site.code_region.is_none() && chosen {
        warnings.push(Warning {
            code: "code-region-open",
            panels: Vec::new(),
            message: format!(
                "which family of electrical codes governs the site is not recorded, so cautions name its measures in \
                 general words. Ask the licensed person, then: underlit project change {} --code-region nec|iec|other",
                case.id()
            ),
            source: "what the records say",
        });
    }
    warnings
}

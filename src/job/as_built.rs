//! What was built against what was worked out: the watts measured on the bench, panel by panel.

use super::case::Case;
use super::plan::JobPlan;
use crate::ids::PanelId;

/// A deviation beyond this is looked into before the panel leaves the bench, in percent, where the shop's rules set no limit.
/// Common practice, no source.
const USUAL_PCT: f64 = 10.0;

/// One panel's measured power against the plan.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Comparison {
    /// The panel.
    pub panel: PanelId,
    /// Its serial number.
    pub serial: String,
    /// Measured at full light, watts.
    pub measured_w: f64,
    /// At this voltage.
    pub measured_v: f64,
    /// Worked out, watts; none where the plan is not worked out.
    pub planned_w: Option<f64>,
    /// The nominal voltage that it is worked out at.
    pub nominal_v: Option<f64>,
    /// A deviation beyond this is looked into, in percent.
    pub within_pct: f64,
}

impl Comparison {
    /// How far the measured power lies from the plan, in percent of the plan; above 0 where more was measured.
    #[must_use]
    pub(crate) fn deviation_pct(&self) -> Option<f64> {
        self.planned_w.filter(|w| *w > 0.0).map(|planned| (self.measured_w / planned - 1.0) * 100.0)
    }

    /// True where the deviation has to be looked into.
    #[must_use]
    pub(crate) fn is_far_off(&self) -> bool {
        // A measured value of exactly the limit is within it, whatever the last bit says.
        self.deviation_pct().is_some_and(|pct| pct.abs() > self.within_pct + 1e-9)
    }

    /// The comparison in a sentence.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let start = format!(
            "panel {} ({}) draws {:.1} W at {:.1} V",
            self.panel, self.serial, self.measured_w, self.measured_v
        );
        match (self.planned_w, self.deviation_pct()) {
            (Some(planned), Some(pct)) => {
                let judged = if self.is_far_off() {
                    format!(
                        ", beyond {} %: look for a wrong tape, a broken joint or a wrong voltage",
                        self.within_pct
                    )
                } else {
                    String::new()
                };
                format!("{start}; worked out {planned:.1} W, {pct:+.1} %{judged}")
            }
            _ => format!("{start}; the present records give no plan to compare with"),
        }
    }
}

/// Every panel that left the bench, against the job as it is worked out.
#[must_use]
pub(crate) fn compare(case: &Case<'_>, job: &JobPlan) -> Vec<Comparison> {
    let built = case.project.as_built.iter().flat_map(|b| &b.panels);
    built
        .map(|panel| {
            let power = job.panels.get(&panel.id).and_then(|plan| plan.power.as_ref().ok());
            Comparison {
                panel: panel.id.clone(),
                serial: panel.serial.clone(),
                measured_w: panel.measured_w.0,
                measured_v: panel.measured_v.0,
                planned_w: power.map(|p| p.build.watts.0),
                nominal_v: power.and_then(|p| case.shop.lights.get(&p.tape)).map(|light| light.voltage_v.0),
                within_pct: case.shop.rules.bench.as_ref().map_or(USUAL_PCT, |bench| bench.watts_within_pct),
            }
        })
        .collect()
}

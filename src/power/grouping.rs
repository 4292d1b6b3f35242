//! Which tape hangs on which driver output, so that no output passes its limit: bin packing.
//!
//! A tape is never split. The fewest drivers come first; among those, each panel is kept on as few outputs
//! as possible. The search is exact (depth first with a lower bound) up to a fixed amount of work and says
//! whether it got that far; beyond it the better of two best-fit orders stands. Loads are compared to the
//! microwatt, so that a load of exactly the usable watts fits.

use std::fmt;

use super::packing::{Item, Limits, pack};
use crate::units::Watts;

/// One panel's tapes, each fed whole from one output.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelLoad {
    /// The panel.
    pub panel: String,
    /// Watts of each of its tapes; each above 0.
    pub tapes: Vec<Watts>,
}

/// What one driver can carry, after the shop's largest load share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Capacity {
    /// How many outputs it has; at least 1.
    pub outputs: u32,
    /// Usable watts of one output.
    pub output_w: Watts,
    /// Usable watts of the whole driver.
    pub driver_w: Watts,
}

/// One tape on its output.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placement {
    /// Index of the panel in the loads.
    pub panel: usize,
    /// Index of the tape within its panel.
    pub tape: usize,
    /// The driver, from 0.
    pub driver: usize,
    /// The output of that driver, from 0.
    pub output: usize,
}

/// Every tape on an output.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grouping {
    /// How many drivers it takes.
    pub drivers: usize,
    /// How many outputs the panels take beyond one each.
    pub extra_outputs: usize,
    /// Every tape once, by panel and tape.
    pub placements: Vec<Placement>,
    /// True where no grouping has fewer drivers, or as few with fewer extra outputs.
    pub proven_least: bool,
}

/// Why loads cannot be grouped.
#[derive(Clone, Debug, PartialEq)]
pub enum GroupingFault {
    /// There is no tape.
    NoLoad,
    /// A tape's watts are not above 0.
    NotPositive {
        /// The panel.
        panel: String,
    },
    /// One tape alone passes the limit of an output.
    TapeAboveOutput {
        /// The panel.
        panel: String,
        /// The tape's watts.
        watts: Watts,
        /// Usable watts of one output.
        usable: Watts,
    },
}

impl GroupingFault {
    /// A stable name for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        match self {
            Self::NoLoad => "grouping-no-load",
            Self::NotPositive { .. } => "grouping-load-not-positive",
            Self::TapeAboveOutput { .. } => "grouping-tape-above-output",
        }
    }

    /// What to do about it.
    #[must_use]
    pub(crate) fn remedy(&self) -> &'static str {
        match self {
            Self::NoLoad => "work out the panels' light first",
            Self::NotPositive { .. } => "work the panel's light out again: its watts must be above 0",
            Self::TapeAboveOutput { .. } => {
                "divide the lit edge into more tapes, or take a driver with more watts an output"
            }
        }
    }
}

impl fmt::Display for GroupingFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoLoad => f.write_str("there is nothing to feed"),
            Self::NotPositive { panel } => write!(f, "panel `{panel}` has a tape without a load above 0 W"),
            Self::TapeAboveOutput { panel, watts, usable } => {
                write!(f, "one tape of panel `{panel}` takes {watts}; an output carries {usable}")
            }
        }
    }
}

impl std::error::Error for GroupingFault {}

fn microwatts(watts: Watts) -> u64 {
    // Fine enough that the rounding of hundreds of tapes together stays below what anybody can measure. The upper
    // end, 1 MW, keeps sums of thousands of loads far from overflow.
    ((watts.get() * 1e6).round() as u64).clamp(1, 1_000_000_000_000)
}

/// Groups tapes on the outputs of drivers of one model.
///
/// # Errors
/// Nothing to feed, a load that is not above 0, or a tape that no output can carry.
pub fn group(loads: &[PanelLoad], capacity: Capacity) -> Result<Grouping, GroupingFault> {
    let output = microwatts(capacity.output_w).min(microwatts(capacity.driver_w));
    let outputs = capacity.outputs.max(1) as usize;
    let driver = microwatts(capacity.driver_w).min(output.saturating_mul(outputs as u64));
    let mut items = Vec::new();
    for (panel, load) in loads.iter().enumerate() {
        for (tape, &watts) in load.tapes.iter().enumerate() {
            if !(watts.get().is_finite() && watts.get() > 0.0) {
                return Err(GroupingFault::NotPositive { panel: load.panel.clone() });
            }
            if microwatts(watts) > output {
                return Err(GroupingFault::TapeAboveOutput {
                    panel: load.panel.clone(),
                    watts,
                    usable: Watts(output as f64 / 1e6),
                });
            }
            items.push(Item { panel, tape, load: microwatts(watts) });
        }
    }
    if items.is_empty() {
        return Err(GroupingFault::NoLoad);
    }
    let packed = pack(items, loads.len(), Limits { output, driver, outputs });
    let mut placements: Vec<Placement> = packed
        .chosen
        .iter()
        .map(|&(item, at)| Placement {
            panel: item.panel,
            tape: item.tape,
            driver: at / outputs,
            output: at % outputs,
        })
        .collect();
    placements.sort_by_key(|p| (p.panel, p.tape));
    Ok(Grouping {
        drivers: packed.drivers,
        extra_outputs: packed.extra_outputs,
        placements,
        proven_least: packed.proven_least,
    })
}

//! What a pack says beside its figures, as keys and figures: what they rest on, and what is taken for granted.
//!
//! The words are made from them when a pack is shown; they are no part of the sealed data.

use serde::Serialize;

use crate::job::masses::DensityFrom;
use crate::power::vocabulary::{self, Location, Place};
use crate::units::trimmed;

/// What a kind of figure rests on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "key", rename_all = "kebab-case")]
pub enum Basis {
    /// The outline's own lines.
    Outline,
    /// The lit edges, cut to the tape's marks.
    TapeLength,
    /// A tape's record.
    Tape {
        /// The tape.
        tape: String,
        /// Where its figures come from.
        basis: vocabulary::Basis,
    },
    /// The shop's record of its drivers.
    Drivers,
    /// The published tables of conductors.
    Conductors {
        /// Conductor temperature, thousandths of a degree Celsius.
        conductor_mc: i64,
        /// One joint, microohms.
        joint_uohm: i64,
    },
    /// The shop's record of its cables.
    CableCurrent,
    /// An evenly loaded tape.
    TapeDrop,
    /// Measurements of a swatch.
    LightThrough {
        /// The stone.
        stone: String,
        /// How many thicknesses were measured.
        thicknesses: i64,
    },
    /// The density of a stone.
    StoneMass {
        /// The stone.
        stone: String,
        /// Kilograms per cubic metre, at the least.
        least_kg_m3: i64,
        /// And at the most.
        most_kg_m3: i64,
        /// Where it comes from.
        from: DensityFrom,
    },
    /// Panels by their sheets, or as solid acrylic where a route lists none.
    PanelMass {
        /// Kilograms per cubic metre.
        density_kg_m3: i64,
    },
    /// Acrylic that grows with heat.
    Movement {
        /// Micrometres per metre and kelvin.
        um_per_m_k: i64,
        /// The swing, kelvins.
        swing_k: i64,
    },
    /// The sheets of the routes.
    Sheets,
}

impl Basis {
    /// The figure, the word for its basis, and from what and by which source.
    #[must_use]
    pub(crate) fn in_words(&self) -> [String; 3] {
        let row = |figure: String, basis: &str, from: String| [figure, basis.to_owned(), from];
        let plain = |figure: &str, basis: &str, from: &str| row(figure.into(), basis, from.into());
        match self {
            Basis::Outline => plain(
                "outline, lengths, area",
                "computed",
                "from the outline's own lines, arcs and splines; the drawing sheet governs",
            ),
            Basis::TapeLength => plain(
                "tape length",
                "computed",
                "lit edges along the outline, cut down to the tape's cut interval",
            ),
            Basis::Tape { tape, basis } => {
                let from = match basis {
                    vocabulary::Basis::Measured => "the shop measured its own builds",
                    vocabulary::Basis::Supplier => "the supplier states them",
                    vocabulary::Basis::Estimated => {
                        "estimated: measure a build, and set its basis in shop/lights.json"
                    }
                };
                row(format!("watts, lumens and face share of tape {tape}"), basis.word(), from.into())
            }
            Basis::Drivers => plain(
                "driver ratings, mains current, listing",
                "supplier",
                "as the shop recorded them in shop/drivers.json; a listing is never a sum",
            ),
            Basis::Conductors { conductor_mc, joint_uohm } => row(
                "resistance of conductors".into(),
                "computed",
                format!(
                    "largest by table: NEC Chapter 9 Table 8 (AWG) or IEC 60228 (mm²), copper, at {} °C; {} mΩ \
                     for each joint",
                    trimmed(*conductor_mc as f64 / 1000.0, 0),
                    trimmed(*joint_uohm as f64 / 1000.0, 1)
                ),
            ),
            Basis::CableCurrent => plain(
                "largest current of a cable or connector",
                "supplier",
                "as the shop recorded it in shop/wire.json; grouping and heat by the local code",
            ),
            Basis::TapeDrop => plain(
                "drop along the tape",
                "computed",
                "evenly loaded: I·R/2 fed at one end; fed at both I·(1−f)²·R/2, where f = R/(2·(R + R of the cable to \
                 its far end)), with that cable as long as the tape; added to the drop of its lead",
            ),
            Basis::LightThrough { stone, thicknesses } => {
                let (basis, from) = match thicknesses {
                    0 => ("not known", "no light through the stone was measured: underlit swatch measure".to_owned()),
                    1 => ("estimated", "absorbing and scattering between two surfaces, from one thickness measured; at another the range that holds nine of ten slabs".to_owned()),
                    n => ("estimated", format!("absorbing and scattering between two surfaces, fitted to {n} thicknesses measured")),
                };
                row(format!("light through {stone}"), basis, from)
            }
            Basis::StoneMass { stone, least_kg_m3, most_kg_m3, from } => {
                let range = match least_kg_m3 == most_kg_m3 {
                    true => format!("{most_kg_m3} kg/m³"),
                    false => format!("{least_kg_m3} to {most_kg_m3} kg/m³"),
                };
                let (basis, said) = match from {
                    DensityFrom::Slab => ("supplier", "as recorded for the slab"),
                    DensityFrom::Shop => ("measured", "as the shop recorded for the material"),
                    DensityFrom::Handbook => {
                        ("estimated", "handbooks' range for the material, from memory: weigh a piece")
                    }
                };
                row(format!("mass of {stone}"), basis, format!("{range}, {said}"))
            }
            Basis::PanelMass { density_kg_m3 } => row(
                "mass of panels".into(),
                "estimated",
                format!(
                    "the sheets that the route lists, by their own density or acrylic of {density_kg_m3} kg/m³ (ISO \
                     7823-1 gives about that; from memory); without a list as if solid acrylic"
                ),
            ),
            Basis::Movement { um_per_m_k, swing_k } => row(
                "movement of acrylic".into(),
                "estimated",
                format!(
                    "{} mm per m and K (handbook value, from memory) over {swing_k} K (common practice, no source)",
                    trimmed(*um_per_m_k as f64 / 1000.0, 3)
                ),
            ),
            Basis::Sheets => plain(
                "sheets of a panel",
                "supplier",
                "as the shop lists them for the route in shop/routes.json; area net of cut-outs, without waste",
            ),
        }
    }
}

/// What the sums take for granted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "key", rename_all = "kebab-case")]
pub enum Assumption {
    /// Where driver and control stand, as the panels' records say.
    DriverPlace {
        /// The panels.
        panels: Vec<String>,
        /// Where the driver is put.
        location: Location,
        /// How wet that place is.
        place: Place,
    },
    /// Where they are taken to stand, for panels whose records do not say.
    DriverPlaceTaken {
        /// The panels.
        panels: Vec<String>,
    },
    /// The mains voltage is not recorded.
    MainsNotRecorded,
    /// A controller stands beside its driver where no way to it is recorded.
    ControlBesideDriver,
    /// Every channel is on.
    AllChannelsFull,
    /// Joints of a lead.
    JointsOfLeads,
    /// Lengths one way, without waste.
    LengthsOneWay,
    /// How far a driver output is loaded.
    LoadShare {
        /// Thousandths of its rating.
        permille: i64,
    },
    /// How large a drop is planned for.
    LargestDrop {
        /// Hundredths of a percent of the nominal voltage.
        permyriad: i64,
    },
}

impl Assumption {
    /// The assumption in words; whoever builds or installs looks whether it is so.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        match self {
            Assumption::DriverPlace { panels, location, place } => {
                let kind = match location {
                    Location::InWallBox => "in a box in the wall",
                    Location::Remote => "remote, ventilated, accessible",
                };
                format!(
                    "The drivers of {} stand {kind}, where it is {place}, as their records say.",
                    panels_in_words(panels)
                )
            }
            Assumption::DriverPlaceTaken { panels } => format!(
                "Where the drivers and controls of {} stand is not recorded: assumed remote, dry, ventilated, \
                 accessible.",
                panels_in_words(panels)
            ),
            Assumption::MainsNotRecorded => {
                "The mains voltage of the site is not recorded: check that every driver accepts it.".into()
            }
            Assumption::ControlBesideDriver => {
                "A controller or an in-line dimmer stands beside its driver unless a \
                 way to it is recorded: the length of each lead is counted from there to the panel."
                    .into()
            }
            Assumption::AllChannelsFull => "Every watt is counted at full: all channels on together.".into(),
            Assumption::JointsOfLeads => "Each lead has two joints in every conductor: one at the driver or \
                 control, one at the panel. Joints within a panel are not counted."
                .into(),
            Assumption::LengthsOneWay => {
                "The lengths of leads are one way, as the engineer gave them; drops count the slack that is left \
                 behind a panel too, the bill counts no waste and no slack."
                    .into()
            }
            Assumption::LoadShare { permille } => format!(
                "A driver output is loaded to at most {} % of its rating.",
                trimmed(*permille as f64 / 10.0, 1)
            ),
            Assumption::LargestDrop { permyriad } => format!(
                "The drop from driver to the darkest place of a tape is planned to at most {} % of the nominal \
                 voltage, as a design target of the shop.",
                trimmed(*permyriad as f64 / 100.0, 2)
            ),
        }
    }
}

fn panels_in_words(panels: &[String]) -> String {
    match panels {
        [one] => format!("panel {one}"),
        several => format!("panels {}", several.join(", ")),
    }
}

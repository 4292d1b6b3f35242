//! Serving a panel years later: the space, cable and lift that its mount asks for, the sentence to be
//! acknowledged where it cannot be served, and the card that stays with the job.
//!
//! Masses are computed, not weighed. How a lift is done safely is for the people on site to plan.

use std::fmt;

use jiff::civil::Date;

use super::mount::Mount;
use crate::units::{Kilograms, Millimetres, trimmed};

/// Density taken for stone where none is stated, kilograms per cubic metre: 27 kg for each square metre and
/// 10 mm. Common practice, no source; onyx and alabaster are lighter or heavier by some percent.
pub(crate) const USUAL_STONE_KG_M3: f64 = 2700.0;

/// Density of cast acrylic, kilograms per cubic metre (ISO 7823-1 gives about 1.19 g/cm³; from memory).
pub(crate) const ACRYLIC_KG_M3: f64 = 1190.0;

/// What one person may be planned to lift at best: the load constant of the revised NIOSH lifting equation
/// (Waters et al., Ergonomics 36 (1993) 749–776; from memory). Reach, height and twist lower it.
pub(crate) const ONE_PERSON_KG: f64 = 23.0;

/// Room for a hand and a plug beside a panel, millimetres. Common practice, no source.
pub(crate) const HAND_ROOM_MM: f64 = 300.0;

/// One piece of stone in front of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct StonePiece {
    /// Its name on the drawing.
    pub name: String,
    /// Its area, square millimetres, net of openings; above 0.
    pub area_mm2: f64,
    /// Its thickness, millimetres; above 0.
    pub thickness_mm: Millimetres,
    /// Its density, kilograms per cubic metre; none for [`USUAL_STONE_KG_M3`].
    pub density_kg_m3: Option<f64>,
}

impl StonePiece {
    /// Its mass, kilograms: area × thickness × density.
    #[must_use]
    pub fn mass_kg(&self) -> Kilograms {
        mass(self.area_mm2, self.thickness_mm, self.density_kg_m3.unwrap_or(USUAL_STONE_KG_M3))
    }
}

/// The mass of a plate, kilograms.
#[must_use]
pub(crate) fn mass(area_mm2: f64, thickness_mm: Millimetres, density_kg_m3: f64) -> Kilograms {
    Kilograms(area_mm2 * 1e-6 * thickness_mm.get() * 1e-3 * density_kg_m3)
}

/// How many people a mass takes at the least.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lift {
    /// So many people by hand: one or two.
    People(u32),
    /// Lifting gear: more than two people could hold.
    Gear,
}

impl Lift {
    /// The least that a mass takes, at [`ONE_PERSON_KG`] a person.
    #[must_use]
    pub fn of(mass: Kilograms) -> Lift {
        if mass.get() <= ONE_PERSON_KG {
            Lift::People(1)
        } else if mass.get() <= 2.0 * ONE_PERSON_KG {
            Lift::People(2)
        } else {
            Lift::Gear
        }
    }
}

impl Lift {
    /// A stable name for programs: `people-1`, `people-2` or `gear`.
    #[must_use]
    pub(crate) fn code(self) -> String {
        match self {
            Lift::People(people) => format!("people-{people}"),
            Lift::Gear => "gear".into(),
        }
    }
}

impl fmt::Display for Lift {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Lift::People(1) => f.write_str("one person at the least"),
            Lift::People(people) => write!(f, "{people} people at the least"),
            Lift::Gear => f.write_str("lifting gear"),
        }
    }
}

/// The side from which a panel is served.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AccessSide {
    /// From the side or end on which the tray comes out.
    TrayEnd,
    /// From the face that people see.
    Face,
    /// From none.
    None,
}

impl AccessSide {
    /// A stable name for programs.
    #[must_use]
    pub(crate) fn code(self) -> &'static str {
        match self {
            AccessSide::TrayEnd => "tray-end",
            AccessSide::Face => "face",
            AccessSide::None => "none",
        }
    }
}

impl fmt::Display for AccessSide {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            AccessSide::TrayEnd => "from the end where the tray comes out",
            AccessSide::Face => "from the face",
            AccessSide::None => "from no side",
        })
    }
}

/// The panel to be served.
#[derive(Clone, Debug, PartialEq)]
pub struct Served {
    /// The panel's name for people.
    pub panel: String,
    /// How it is held.
    pub mount: Mount,
    /// Longer side of the smallest rectangle round it, millimetres.
    pub long_mm: Millimetres,
    /// Shorter side of the smallest rectangle round it, millimetres.
    pub short_mm: Millimetres,
    /// Its area, square millimetres, net of openings.
    pub area_mm2: f64,
    /// Its depth, millimetres.
    pub depth_mm: Millimetres,
    /// Mass of each of its pieces with their sheets, kilograms; empty to take it as one, as if solid acrylic.
    pub pieces_kg: Vec<Kilograms>,
    /// The stone in front of it.
    pub stones: Vec<StonePiece>,
}

/// What serving a panel takes.
#[derive(Clone, Debug, PartialEq)]
pub struct ServiceNeeds {
    /// From where.
    pub access: AccessSide,
    /// Free space on that side, millimetres.
    pub clearance_mm: Millimetres,
    /// Cable left loose behind the panel, millimetres, so that it comes out before it is unplugged.
    pub cable_slack_mm: Millimetres,
    /// The heaviest single thing to be moved, kilograms.
    pub heaviest_kg: Kilograms,
    /// What that thing is.
    pub heaviest: String,
    /// The least that its lift takes.
    pub lift: Lift,
    /// How it is done, step by step.
    pub steps: Vec<String>,
    /// The sentence that client and engineer acknowledge before release, word for word; none where the panel can be served.
    pub acknowledgement: Option<String>,
}

/// The sentence for a panel that cannot be served on site.
#[must_use]
pub fn no_field_service(panel: &str) -> String {
    format!(
        "Panel {panel} is fixed: it cannot be served on site. When its light fails, the stone has to be taken \
         down or broken out to reach it, and that work and the stone are not part of this order."
    )
}

/// Cable left loose behind a panel or a piece of one, millimetres, so that it comes out before it is unplugged.
#[must_use]
pub(crate) fn cable_slack(mount: Mount, long_mm: Millimetres) -> Millimetres {
    Millimetres(match mount {
        Mount::Tray => long_mm.get() + HAND_ROOM_MM,
        Mount::RemovableStone | Mount::FramedFront => HAND_ROOM_MM,
        Mount::Fixed => 0.0,
    })
}

/// What serving a panel takes by its mount.
#[must_use]
pub fn needs(served: &Served) -> ServiceNeeds {
    let solid = mass(served.area_mm2, served.depth_mm, ACRYLIC_KG_M3);
    let heaviest = served.pieces_kg.iter().copied().reduce(|most, one| if one > most { one } else { most });
    let the_panel = match (heaviest, served.pieces_kg.len()) {
        (None, _) => (solid, format!("panel {}, as if solid acrylic", served.panel)),
        (Some(kg), 1) => (kg, format!("panel {} with its sheets", served.panel)),
        (Some(kg), many) => (kg, format!("the heaviest of the {many} pieces of panel {}", served.panel)),
    };
    let stone = served
        .stones
        .iter()
        .map(|piece| (piece.mass_kg(), format!("stone {}", piece.name)))
        .fold(the_panel.clone(), |most, one| if one.0 > most.0 { one } else { most });
    let moved = match served.mount {
        Mount::Tray | Mount::FramedFront => the_panel,
        Mount::RemovableStone | Mount::Fixed => stone,
    };
    let short = served.short_mm.get();
    let (access, clearance) = match served.mount {
        Mount::Tray => (AccessSide::TrayEnd, served.long_mm.get() + HAND_ROOM_MM),
        Mount::RemovableStone => (AccessSide::Face, short + HAND_ROOM_MM),
        Mount::FramedFront => (AccessSide::Face, HAND_ROOM_MM),
        Mount::Fixed => (AccessSide::None, 0.0),
    };
    ServiceNeeds {
        access,
        clearance_mm: Millimetres(clearance),
        cable_slack_mm: cable_slack(served.mount, served.long_mm),
        heaviest_kg: moved.0,
        lift: Lift::of(moved.0),
        heaviest: moved.1,
        steps: steps(served),
        acknowledgement: (served.mount == Mount::Fixed).then(|| no_field_service(&served.panel)),
    }
}

fn steps(served: &Served) -> Vec<String> {
    const OFF: &str = "Switch the driver's circuit off and make sure that it stays off.";
    const BACK: &str = "Put everything back in the reverse order, switch on, and look at the whole face lit.";
    let between: &[&str] = match served.mount {
        Mount::Tray => &[
            "Pull the tray out as far as the loose cable lets it; the stone stays where it is.",
            "Unplug the panel's lead and lift the panel off its tray.",
        ],
        Mount::RemovableStone => &[
            "Take the stone off with the people or gear named here, and stand it on edge on soft ground.",
            "Lift the panel forward, unplug its lead and take it out.",
        ],
        Mount::FramedFront => &[
            "Loosen the front from its frame at one corner and take it off.",
            "Lift the panel forward, unplug its lead and take it out.",
        ],
        Mount::Fixed => {
            return vec![
                OFF.into(),
                "Try the driver and every joint that can be reached first: the fault may lie there.".into(),
                "The panel cannot be reached without taking the stone down or breaking it out.".into(),
            ];
        }
    };
    let first = [OFF, "Try the driver and every joint that can be reached first: the fault may lie there."];
    first.iter().chain(between).chain([&BACK]).map(|step| (*step).to_owned()).collect()
}

/// What stays with the job for the day when light fails: plain lines of label and value, steps and cautions.
#[derive(Clone, Debug, PartialEq)]
pub struct ServiceCard {
    /// Its title.
    pub title: String,
    /// Label and value, in reading order.
    pub lines: Vec<(String, String)>,
    /// What to do, in order.
    pub steps: Vec<String>,
    /// What to mind.
    pub cautions: Vec<String>,
}

/// What the other rooms know and a card shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CardFacts {
    /// The project's name for people.
    pub project: String,
    /// The light: its name and voltage.
    pub light: String,
    /// The tape: its length and watts.
    pub tape: String,
    /// The driver, its output, and where it is.
    pub driver: String,
    /// The controller or dimmer and where it is; empty where there is none.
    pub control: String,
    /// The cable between them.
    pub cable: String,
    /// When it was handed over; none before that.
    pub handed_over: Option<Date>,
}

/// The service card of one panel.
#[must_use]
pub fn card(served: &Served, facts: &CardFacts) -> ServiceCard {
    let needs = needs(served);
    let mm = |length: Millimetres| format!("{} mm", trimmed(length.get(), 0));
    let mut lines = vec![
        ("Project", facts.project.clone()),
        ("Panel", format!("{}, {} × {}", served.panel, mm(served.long_mm), mm(served.short_mm))),
        ("Light", facts.light.clone()),
        ("Tape", facts.tape.clone()),
        ("Driver", facts.driver.clone()),
        ("Control", facts.control.clone()),
        ("Cable", facts.cable.clone()),
        ("Mount", served.mount.word().into()),
        ("Served", needs.access.to_string()),
    ];
    if needs.acknowledgement.is_none() {
        lines.push(("Free space", mm(needs.clearance_mm)));
        lines.push(("Loose cable", mm(needs.cable_slack_mm)));
    }
    let mass = trimmed(needs.heaviest_kg.get(), 1);
    lines.push(("Heaviest to move", format!("{}: {mass} kg, {}", needs.heaviest, needs.lift)));
    if let Some(date) = facts.handed_over {
        lines.push(("Handed over", date.to_string()));
    }
    let mut cautions = vec![
        "Work on the mains side is for a licensed electrician, by the local code.".to_owned(),
        "Take a driver of the same voltage and rating; a larger one may exceed what the cable is laid for."
            .to_owned(),
        "The masses are computed, not weighed, at the heavy end of what is known of the stone. Plan the lift."
            .to_owned(),
    ];
    cautions.extend(needs.acknowledgement.clone());
    ServiceCard {
        title: format!("Service card: {}, panel {}", facts.project, served.panel),
        lines: lines
            .into_iter()
            .filter(|(_, value)| !value.is_empty())
            .map(|(label, value)| (label.to_owned(), value))
            .collect(),
        steps: needs.steps,
        cautions,
    }
}

//! The cautions of a job: what can hurt somebody, as far as the job's own facts say.
//!
//! A caution is a key with its figures; its words are made from them. They defer to the local code and the licensed
//! person: nothing here computes whether something is safe.

use serde::Serialize;

use super::case::Case;
use super::masses::{self, ACRYLIC_MM_PER_M_K, SWING_K};
use super::wording::Wording;
use crate::ids::PanelId;
use crate::making::mount::Mount;
use crate::making::service::{Lift, USUAL_STONE_KG_M3};
use crate::model::panel::Panel;
use crate::model::snapshot::Drawing;
use crate::model::swatch::{Material, Swatch};
use crate::power::vocabulary::{CodeRegion, Place};
use crate::units::{Kilograms, trimmed};

/// One caution: what it is about, and the figures in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "key", rename_all = "kebab-case")]
pub enum Caution {
    /// The supply side is a licensed electrician's.
    Mains {
        /// The electrical code that governs, as the licensed person named it.
        electrical_code: Option<String>,
    },
    /// Low-voltage wiring stays apart.
    LowVoltage {
        /// The family of codes, in whose words it is said; none where it is not recorded. No figure of the caution.
        #[serde(skip)]
        region: Option<CodeRegion>,
    },
    /// A panel stands where it is damp or wet.
    Water {
        /// The wettest place of the job.
        place: Place,
    },
    /// A panel stands where it is damp or wet, and the site's code has a word for what protects there.
    Wet {
        /// The wettest place of the job.
        place: Place,
        /// The family of codes; none where it is not recorded.
        region: Option<CodeRegion>,
    },
    /// Acrylic burns.
    Fire,
    /// Air behind panel and driver.
    Heat,
    /// Heavy stone.
    Weight {
        /// The panel.
        panel: String,
        /// Mass of the stone over it, whole kilograms.
        mass_kg: i64,
    },
    /// Room to grow and shrink.
    Movement {
        /// The panel.
        panel: String,
        /// By how much, tenths of a millimetre as micrometres.
        growth_um: i64,
        /// Over which swing of temperature, whole kelvins.
        swing_k: i64,
    },
    /// Heavy stone, by its material.
    StoneMass {
        /// The panel.
        panel: String,
        /// Mass of the stone over it at the least and at the most, whole kilograms.
        least_kg: i64,
        /// The most.
        most_kg: i64,
        /// The least that its lift takes: `people-1`, `people-2` or `gear`.
        lift: String,
        /// True where its record calls it alabaster and does not say which stone that is.
        which_alabaster: bool,
    },
    /// The heaviest piece of a panel.
    PieceMass {
        /// The panel.
        panel: String,
        /// How many pieces it is of.
        pieces: i64,
        /// Mass of the heaviest with its sheets and frame, tenths of a kilogram in grams.
        heaviest_g: i64,
        /// The least that its lift takes.
        lift: String,
    },
    /// Room for each piece to grow and shrink.
    PieceMovement {
        /// The panel.
        panel: String,
        /// How many pieces it is of.
        pieces: i64,
        /// By how much the longest moves, tenths of a millimetre as micrometres.
        growth_um: i64,
        /// Over which swing of temperature, whole kelvins.
        swing_k: i64,
        /// True where water that acrylic takes up is counted too.
        moist: bool,
    },
    /// Out of reach once closed in.
    Service {
        /// The panel.
        panel: String,
    },
    /// What eyes see of it.
    Glare,
    /// What it does to eyes.
    Eyes,
}

/// What a lift takes, by its code.
fn lift_in_words(code: &str) -> String {
    let all = [Lift::People(1), Lift::People(2), Lift::Gear];
    all.iter().find(|lift| lift.code() == code).map_or_else(|| code.to_owned(), ToString::to_string)
}

/// A value as it is shown with so many decimals, so that words and figures never differ.
fn shown(value: f64, decimals: usize) -> f64 {
    trimmed(value, decimals).parse().unwrap_or(value)
}

/// Every caution that bears on the job, in order, as an edition of the words has them.
#[must_use]
pub fn cautions(case: &Case<'_>, wording: Wording) -> Vec<Caution> {
    let mut list = before_panels(case, wording);
    list.extend(case.panels().flat_map(|(id, _)| of_panel(case, id, wording)));
    list.extend(AFTER_PANELS);
    list
}

/// The cautions that bear on one panel: those of the whole job, and its own.
#[must_use]
pub(crate) fn bearing_on(case: &Case<'_>, panel: &PanelId, wording: Wording) -> Vec<Caution> {
    let mut list = before_panels(case, wording);
    list.extend(of_panel(case, panel, wording));
    list.extend(AFTER_PANELS);
    list
}

const AFTER_PANELS: [Caution; 2] = [Caution::Glare, Caution::Eyes];

fn before_panels(case: &Case<'_>, wording: Wording) -> Vec<Caution> {
    let electrical_code = case.project.project.site.electrical_code.clone();
    let code_region = case.project.project.site.code_region;
    let region = match wording {
        Wording::First | Wording::Second | Wording::Third | Wording::Fourth => None,
        Wording::Fifth => code_region,
    };
    let mut list = vec![Caution::Mains { electrical_code }, Caution::LowVoltage { region }];
    let wettest = case.panels().map(|(_, p)| p.place).max();
    if let Some(place @ (Place::Damp | Place::Wet)) = wettest {
        list.push(match wording {
            Wording::First | Wording::Second => Caution::Water { place },
            Wording::Third | Wording::Fourth | Wording::Fifth => Caution::Wet { place, region: code_region },
        });
    }
    list.extend([Caution::Fire, Caution::Heat]);
    list
}

fn of_panel(case: &Case<'_>, id: &PanelId, wording: Wording) -> Vec<Caution> {
    let Some(panel) = case.project.panels.get(id) else { return Vec::new() };
    let (Some(stone), Some(drawing)) = (case.project.stone_of(panel), case.project.drawing_of(id)) else {
        return Vec::new();
    };
    let mut list = match wording {
        Wording::First | Wording::Second => in_one_piece(id, stone, drawing),
        Wording::Third | Wording::Fourth | Wording::Fifth => by_the_piece(case, id, panel, stone, drawing),
    };
    if panel.mount == Some(Mount::Fixed) {
        list.push(Caution::Service { panel: id.to_string() });
    }
    list
}

/// Mass and movement by the piece.
fn by_the_piece(
    case: &Case<'_>,
    id: &PanelId,
    panel: &Panel,
    stone: &Swatch,
    drawing: &Drawing,
) -> Vec<Caution> {
    let split = masses::split_of(case.shop, panel, drawing);
    let tape = panel.tape.as_ref().and_then(|t| case.shop.lights.get(t.as_str()));
    let depth = tape.map(|t| t.panel_depth_mm.0);
    let found = masses::of_panel(case.shop, panel, drawing, Some(stone), split.as_ref(), depth);
    let pieces = split.as_ref().map_or(1, |split| split.pieces.len()) as i64;
    let lift = |kg: f64| Lift::of(Kilograms(kg)).code();
    let mut list = Vec::new();
    if let Some([least, most]) = found.stone_kg {
        list.push(Caution::StoneMass {
            panel: id.to_string(),
            least_kg: shown(least, 0) as i64,
            most_kg: shown(most, 0) as i64,
            lift: lift(most),
            which_alabaster: stone.material == Material::Alabaster && stone.slab.density_kg_m3.is_none(),
        });
    }
    if let Some(heaviest) = found.pieces_kg.iter().copied().reduce(f64::max) {
        list.push(Caution::PieceMass {
            panel: id.to_string(),
            pieces,
            heaviest_g: (shown(heaviest, 1) * 1000.0).round() as i64,
            lift: lift(heaviest),
        });
    }
    list.push(Caution::PieceMovement {
        panel: id.to_string(),
        pieces,
        growth_um: (shown(masses::movement_mm(panel, drawing, split.as_ref()), 1) * 1000.0).round() as i64,
        swing_k: shown(SWING_K, 0) as i64,
        moist: panel.place > Place::Dry,
    });
    list
}

/// Mass and movement as the first editions have them: the panel as one piece, every stone of the usual density.
fn in_one_piece(id: &PanelId, stone: &Swatch, drawing: &Drawing) -> Vec<Caution> {
    let density = stone.slab.density_kg_m3.unwrap_or(USUAL_STONE_KG_M3);
    let mass = drawing.figures.stone_mass_kg(stone.slab.thickness_mm.0, density);
    let longest = drawing.figures.least_rectangle.long_mm;
    let growth = longest / 1000.0 * ACRYLIC_MM_PER_M_K * SWING_K;
    vec![
        Caution::Weight { panel: id.to_string(), mass_kg: shown(mass, 0) as i64 },
        Caution::Movement {
            panel: id.to_string(),
            growth_um: (shown(growth, 1) * 1000.0).round() as i64,
            swing_k: shown(SWING_K, 0) as i64,
        },
    ]
}

impl Caution {
    /// The panel that it is about; none where it is about the whole job.
    #[must_use]
    pub fn panel(&self) -> Option<&str> {
        match self {
            Caution::Weight { panel, .. }
            | Caution::Movement { panel, .. }
            | Caution::StoneMass { panel, .. }
            | Caution::PieceMass { panel, .. }
            | Caution::PieceMovement { panel, .. }
            | Caution::Service { panel } => Some(panel),
            _ => None,
        }
    }

    /// The caution in the words of an edition. Every edition so far uses the same words for the same key and region.
    #[must_use]
    pub fn in_words(&self, wording: Wording) -> String {
        match wording {
            Wording::First | Wording::Second | Wording::Third | Wording::Fourth | Wording::Fifth => {
                self.in_first_words()
            }
        }
    }

    fn in_first_words(&self) -> String {
        match self {
            Caution::Mains { electrical_code } => format!("Mains: a licensed electrician connects and tests the supply side of every driver, to {}. underlit computes; the licensed person decides.", electrical_code.as_deref().unwrap_or("the code that governs at the site")),
            Caution::LowVoltage { region: Some(CodeRegion::Iec) } => "Low voltage: keep extra-low-voltage wiring (SELV or PELV, IEC 60364-4-41) apart from mains wiring, and do not join the outputs of different drivers unless their makers allow it.".to_owned(),
            Caution::LowVoltage { region: Some(CodeRegion::Other) } => "Low voltage: keep the wiring after the drivers apart from mains wiring as the local code asks, and do not join the outputs of different drivers unless their makers allow it.".to_owned(),
            Caution::LowVoltage { region: None | Some(CodeRegion::Nec) } => "Low voltage: keep Class 2 wiring apart from mains wiring, and do not join the outputs of different drivers unless their listing allows it.".to_owned(),
            Caution::Water { place } => format!("Water: a panel of this job stands in a {place} place. Residual-current protection, bonding, the zones round baths and basins and the ingress rating of every part follow the local code."),
            Caution::Wet { place, region } => format!(
                "Water: a panel of this job stands in a {place} place. {}, bonding, the zones round baths and basins and \
                 the ingress rating of every part (IEC 60529) follow the local code.",
                match region {
                    Some(CodeRegion::Nec) => "Ground-fault circuit interrupters (GFCI, NEC 210.8)",
                    Some(CodeRegion::Iec) => "Residual-current protection of 30 mA at most (RCD, IEC 60364-4-41 and 7-701)",
                    Some(CodeRegion::Other) | None => "Residual-current protection (GFCI or RCD, as that code calls it)",
                }
            ),
            Caution::StoneMass { panel, least_kg, most_kg, lift, which_alabaster } => format!(
                "Weight: the stone over panel {panel} weighs about {} kg{}. Its lift takes {}. A stone that falls can kill.",
                if least_kg == most_kg { most_kg.to_string() } else { format!("{least_kg} to {most_kg}") },
                if *which_alabaster { ", as gypsum or as calcite: find out which alabaster it is" } else { "" },
                lift_in_words(lift)
            ),
            Caution::PieceMass { panel, pieces, heaviest_g, lift } => format!(
                "Weight: {} weighs about {} kg with its sheets. Its lift takes {}.",
                match pieces {
                    1 => format!("panel {panel}"),
                    many => format!("the heaviest of the {many} pieces of panel {panel}"),
                },
                trimmed(*heaviest_g as f64 / 1000.0, 1),
                lift_in_words(lift)
            ),
            Caution::PieceMovement { panel, pieces, growth_um, swing_k, moist } => format!(
                "Movement: {} about {} mm over {swing_k} K{}. Leave that room at its edges.",
                match pieces {
                    1 => format!("panel {panel} grows and shrinks by"),
                    many => format!("the longest of the {many} pieces of panel {panel} grows and shrinks by"),
                },
                trimmed(*growth_um as f64 / 1000.0, 1),
                if *moist { " and between dry and damp" } else { "" }
            ),
            Caution::Fire => "Fire: acrylic burns. Building codes limit light-transmitting plastics by class and by area; ask the authority before it is closed in.".to_owned(),
            Caution::Heat => "Heat: leave air behind the panel and at the driver; lagging over either shortens its life and may overheat it.".to_owned(),
            Caution::Weight { panel, mass_kg } => format!("Weight: the stone over panel {panel} weighs about {mass_kg} kg. Plan the lift and the fixing for it; a stone that falls can kill."),
            Caution::Movement { panel, growth_um, swing_k } => format!(
                "Movement: panel {panel} grows and shrinks by about {} mm over {swing_k} K. Leave that room at its edges.",
                trimmed(*growth_um as f64 / 1000.0, 1)
            ),
            Caution::Service { panel } => format!("Service: panel {panel} cannot be reached once it is closed in."),
            Caution::Glare => "Glare and flicker: look at the lit stone from where people sit and at every dimming level before it is closed in; ask the supplier for the flicker figures of driver and dimmer together (IEEE 1789).".to_owned(),
            Caution::Eyes => "Eyes: take the photobiological risk group of the light source (IEC 62471) from its supplier's report.".to_owned(),
        }
    }
}

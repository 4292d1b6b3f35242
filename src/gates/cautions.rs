//! The cautions of a job: what can hurt somebody, as far as the job's own facts say.
//!
//! A caution is a key with its figures; its words are made from them. They defer to the local code and the licensed
//! person: nothing here computes whether something is safe.

use serde::Serialize;

use super::case::Case;
use super::wording::Wording;
use crate::making::mount::Mount;
use crate::making::service::USUAL_STONE_KG_M3;
use crate::model::id::PanelId;
use crate::power::vocabulary::Place;
use crate::units::trimmed;

/// How much acrylic grows, in millimetres per metre and kelvin. Handbook value, from memory.
pub const ACRYLIC_MM_PER_M_K: f64 = 0.07;

/// The swing of temperature for which room is left, in kelvin. Common practice, no source.
pub const SWING_K: f64 = 40.0;

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
    LowVoltage,
    /// A panel stands where it is damp or wet.
    Water {
        /// The wettest place of the job.
        place: Place,
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

/// A value as it is shown with so many decimals, so that words and figures never differ.
fn shown(value: f64, decimals: usize) -> f64 {
    trimmed(value, decimals).parse().unwrap_or(value)
}

/// Every caution that bears on the job, in order.
#[must_use]
pub fn cautions(case: &Case<'_>) -> Vec<Caution> {
    let mut list = before_panels(case);
    list.extend(case.panels().flat_map(|(id, _)| of_panel(case, id)));
    list.extend(AFTER_PANELS);
    list
}

/// The cautions that bear on one panel: those of the whole job, and its own.
#[must_use]
pub fn bearing_on(case: &Case<'_>, panel: &PanelId) -> Vec<Caution> {
    let mut list = before_panels(case);
    list.extend(of_panel(case, panel));
    list.extend(AFTER_PANELS);
    list
}

const AFTER_PANELS: [Caution; 2] = [Caution::Glare, Caution::Eyes];

fn before_panels(case: &Case<'_>) -> Vec<Caution> {
    let electrical_code = case.project.project.site.electrical_code.clone();
    let mut list = vec![Caution::Mains { electrical_code }, Caution::LowVoltage];
    let wettest = case.panels().map(|(_, p)| p.place).max();
    if let Some(place @ (Place::Damp | Place::Wet)) = wettest {
        list.push(Caution::Water { place });
    }
    list.extend([Caution::Fire, Caution::Heat]);
    list
}

fn of_panel(case: &Case<'_>, id: &PanelId) -> Vec<Caution> {
    let Some(panel) = case.project.panels.get(id) else { return Vec::new() };
    let (Some(stone), Some(drawing)) = (case.project.stone_of(panel), case.project.drawing_of(id)) else {
        return Vec::new();
    };
    let density = stone.slab.density_kg_m3.unwrap_or(USUAL_STONE_KG_M3);
    let mass = drawing.figures.stone_mass_kg(stone.slab.thickness_mm.0, density);
    let longest = drawing.figures.least_rectangle.long_mm;
    let growth = longest / 1000.0 * ACRYLIC_MM_PER_M_K * SWING_K;
    let mut list = vec![
        Caution::Weight { panel: id.to_string(), mass_kg: shown(mass, 0) as i64 },
        Caution::Movement {
            panel: id.to_string(),
            growth_um: (shown(growth, 1) * 1000.0).round() as i64,
            swing_k: shown(SWING_K, 0) as i64,
        },
    ];
    if panel.mount == Some(Mount::Fixed) {
        list.push(Caution::Service { panel: id.to_string() });
    }
    list
}

impl Caution {
    /// The panel that it is about; none where it is about the whole job.
    #[must_use]
    pub fn panel(&self) -> Option<&str> {
        match self {
            Caution::Weight { panel, .. } | Caution::Movement { panel, .. } | Caution::Service { panel } => {
                Some(panel)
            }
            _ => None,
        }
    }

    /// The caution in the words of an edition. Both editions so far use the same words.
    #[must_use]
    pub fn in_words(&self, wording: Wording) -> String {
        match wording {
            Wording::First | Wording::Second => self.in_first_words(),
        }
    }

    fn in_first_words(&self) -> String {
        match self {
            Caution::Mains { electrical_code } => format!("Mains: a licensed electrician connects and tests the supply side of every driver, to {}. underlit computes; the licensed person decides.", electrical_code.as_deref().unwrap_or("the code that governs at the site")),
            Caution::LowVoltage => "Low voltage: keep Class 2 wiring apart from mains wiring, and do not join the outputs of different drivers unless their listing allows it.".to_owned(),
            Caution::Water { place } => format!("Water: a panel of this job stands in a {place} place. Residual-current protection, bonding, the zones round baths and basins and the ingress rating of every part follow the local code."),
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

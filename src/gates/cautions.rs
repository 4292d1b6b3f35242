//! The cautions of a job: what can hurt somebody, as far as the job's own facts say.
//!
//! They defer to the local code and the licensed person: nothing here computes whether something is safe.

use super::case::Case;
use crate::making::mount::Mount;
use crate::making::service::USUAL_STONE_KG_M3;
use crate::power::vocabulary::Place;
use crate::units::trimmed;

/// How much acrylic grows, in millimetres per metre and kelvin. Handbook value, from memory.
pub const ACRYLIC_MM_PER_M_K: f64 = 0.07;

/// The swing of temperature for which room is left, in kelvin. Common practice, no source.
pub const SWING_K: f64 = 40.0;

/// Every caution that bears on the job, in order.
#[must_use]
pub fn cautions(case: &Case<'_>) -> Vec<String> {
    let code =
        case.project.project.site.electrical_code.as_deref().unwrap_or("the code that governs at the site");
    let mut list = vec![
        format!("Mains: a licensed electrician connects and tests the supply side of every driver, to {code}. underlit computes; the licensed person decides."),
        "Low voltage: keep Class 2 wiring apart from mains wiring, and do not join the outputs of different drivers unless their listing allows it.".to_owned(),
    ];
    let wettest = case.panels().map(|(_, p)| p.place).max();
    if let Some(place @ (Place::Damp | Place::Wet)) = wettest {
        list.push(format!("Water: a panel of this job stands in a {place} place. Residual-current protection, bonding, the zones round baths and basins and the ingress rating of every part follow the local code."));
    }
    list.push("Fire: acrylic burns. Building codes limit light-transmitting plastics by class and by area; ask the authority before it is closed in.".to_owned());
    list.push("Heat: leave air behind the panel and at the driver; lagging over either shortens its life and may overheat it.".to_owned());
    for (id, panel) in case.panels() {
        let (Some(stone), Some(drawing)) = (case.project.stone_of(panel), case.project.drawing_of(id)) else {
            continue;
        };
        let density = stone.slab.density_kg_m3.unwrap_or(USUAL_STONE_KG_M3);
        let mass = drawing.figures.stone_mass_kg(stone.slab.thickness_mm.0, density);
        list.push(format!("Weight: the stone over panel {id} weighs about {} kg. Plan the lift and the fixing for it; a stone that falls can kill.", trimmed(mass, 0)));
        let longest = drawing.figures.least_rectangle.long_mm;
        let growth = longest / 1000.0 * ACRYLIC_MM_PER_M_K * SWING_K;
        list.push(format!(
            "Movement: panel {id} grows and shrinks by about {} mm over {} K. Leave that room at its edges.",
            trimmed(growth, 1),
            trimmed(SWING_K, 0)
        ));
        if panel.mount == Some(Mount::Fixed) {
            list.push(format!("Service: panel {id} cannot be reached once it is closed in."));
        }
    }
    list.push("Glare and flicker: look at the lit stone from where people sit and at every dimming level before it is closed in; ask the supplier for the flicker figures of driver and dimmer together (IEEE 1789).".to_owned());
    list.push("Eyes: take the photobiological risk group of the light source (IEC 62471) from its supplier's report.".to_owned());
    list
}

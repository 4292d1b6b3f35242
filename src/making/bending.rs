//! Bent panels: how a sheet is bent, and to what radius a shop bends it. Every limit is the shop's own.

use serde::{Deserialize, Serialize};

use super::routes::{Layer, Route};
use crate::units::Millimetres;
use crate::words::{Face, words};

words! {
    /// How a sheet is bent.
    Forming, "way to bend a sheet" {
        /// Held in the bend by its frame, and flat again without it.
        Cold = "cold",
        /// Softened by heat, bent over a form and cooled there.
        Heat = "heat",
    }
}

/// The least radius to which a route bends sheets of a thickness.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeastBend {
    /// How they are bent.
    pub formed: Forming,
    /// The thickest sheet that it is about; a thicker one has an entry of its own, or is not bent so.
    pub thickest_mm: Millimetres,
    /// The least radius.
    pub least_radius_mm: Millimetres,
}

/// A bend that is asked of a route.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BendNeeds {
    /// How the panel is bent.
    pub formed: Forming,
    /// The radius of the face.
    pub radius_mm: Millimetres,
    /// How far the flat outline reaches across the axis of the bend.
    pub across_mm: Millimetres,
    /// The face, which decides what sheets there are; none where it is not chosen yet.
    pub face: Option<Face>,
}

/// Why a route does not bend a panel.
#[derive(Clone, Debug, PartialEq)]
pub enum BendAgainst {
    /// It lists no least radius for a sheet of this thickness.
    NotListed {
        /// How it is to be bent.
        formed: Forming,
        /// The sheet, with its thickness; none where the route lists no sheets.
        sheet: Option<(String, Millimetres)>,
    },
    /// The radius is less than it lists for a sheet.
    TooTight {
        /// How it is to be bent.
        formed: Forming,
        /// The radius that is asked for.
        radius_mm: Millimetres,
        /// The sheet and its thickness.
        sheet: (String, Millimetres),
        /// The least radius for it.
        least_mm: Millimetres,
    },
    /// The outline is longer than a whole turn.
    PastATurn {
        /// Across the axis.
        across_mm: Millimetres,
        /// A whole turn at this radius.
        turn_mm: Millimetres,
    },
}

/// A whole turn closes within what the sheets allow a cut: ±0.5 mm. Common practice, no source.
const CUT_WITHIN_MM: f64 = 0.5;

/// The least radius that a route lists for a sheet of a thickness: of the thinnest entry that takes it.
#[must_use]
pub fn least_radius(route: &Route, formed: Forming, thickness_mm: Millimetres) -> Option<Millimetres> {
    let takes = |one: &&LeastBend| one.formed == formed && one.thickest_mm.0 >= thickness_mm.0;
    let thinnest = |a: &&LeastBend, b: &&LeastBend| a.thickest_mm.0.total_cmp(&b.thickest_mm.0);
    route.bends.iter().filter(takes).min_by(thinnest).map(|one| one.least_radius_mm)
}

/// Everything that keeps a route from bending a panel so.
#[must_use]
pub(crate) fn against(route: &Route, needs: &BendNeeds) -> Vec<BendAgainst> {
    let BendNeeds { formed, radius_mm, across_mm, face } = *needs;
    let mut against = Vec::new();
    let turn_mm = Millimetres(std::f64::consts::TAU * radius_mm.0);
    if across_mm.0 > turn_mm.0 + CUT_WITHIN_MM {
        against.push(BendAgainst::PastATurn { across_mm, turn_mm });
    }
    let sheets: Vec<&Layer> = match face {
        Some(face) => route.layers_for(face).collect(),
        None => route.layers.iter().collect(),
    };
    if sheets.is_empty() {
        against.push(BendAgainst::NotListed { formed, sheet: None });
    }
    for sheet in sheets {
        let named = (sheet.name.clone(), sheet.thickness_mm);
        match least_radius(route, formed, sheet.thickness_mm) {
            None => against.push(BendAgainst::NotListed { formed, sheet: Some(named) }),
            Some(least_mm) if radius_mm.0 < least_mm.0 => {
                against.push(BendAgainst::TooTight { formed, radius_mm, sheet: named, least_mm });
            }
            Some(_) => {}
        }
    }
    against
}

impl BendAgainst {
    /// The reason in words, with lengths as a book shows them.
    #[must_use]
    pub(crate) fn in_words(&self, length: impl Fn(&Millimetres) -> String) -> String {
        match self {
            Self::NotListed { formed, sheet: Some((name, thickness)) } => {
                format!("it lists no {formed} bend for {name} ({})", length(thickness))
            }
            Self::NotListed { formed, sheet: None } => {
                format!("it lists no sheets, so that no {formed} bend of them can be judged")
            }
            Self::TooTight { formed, radius_mm, sheet: (name, thickness), least_mm } => format!(
                "the panel is bent to {}; it bends {name} ({}) {} to at least {}",
                length(radius_mm),
                length(thickness),
                match formed {
                    Forming::Cold => "cold",
                    Forming::Heat => "by heat",
                },
                length(least_mm)
            ),
            Self::PastATurn { across_mm, turn_mm } => format!(
                "the panel is {} across the axis of its bend, and a whole turn at its radius is {}",
                length(across_mm),
                length(turn_mm)
            ),
        }
    }
}

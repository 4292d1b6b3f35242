//! What is known about a stone's colours, and what they may be at another thickness under each assumption.

use super::clusters::Clusters;
use super::recover::{Method, Recovered, Recovery, Smooth};
use super::spectrum::{Spd, Transmittance};
use super::swatch_photo::SwatchPhoto;
use super::thickness::{Basis, Beyond, Measured, ThicknessError, bracket};
use crate::units::Millimetres;

/// What is known about a stone's colours.
#[derive(Clone, Debug)]
pub struct Stone {
    body: Vec<Piece>,
    vein: Vec<Piece>,
    vein_share: f64,
}

#[derive(Clone, Debug)]
struct Piece {
    thickness_mm: Millimetres,
    found: Recovered,
}

impl Stone {
    /// A stone measured spectrally at one or more thicknesses; its vein, if any, at the same ones.
    #[must_use]
    pub fn measured(body: &[Measured], vein: &[Measured]) -> Stone {
        let pieces = |all: &[Measured]| {
            all.iter()
                .map(|m| Piece { thickness_mm: m.thickness_mm, found: Recovered::measured(&m.stone) })
                .collect()
        };
        Stone { body: pieces(body), vein: pieces(vein), vein_share: 0.0 }
    }

    /// A stone from its photo, taken over a panel whose light is known; none where its colour is one that no
    /// stone can have under that light, which means that light and photo do not belong together.
    #[must_use]
    pub fn photographed(photo: &SwatchPhoto, light: &Spd, thickness: Millimetres) -> Option<Stone> {
        let recovery = Recovery::under(light);
        let Clusters { body, vein, vein_share } = &photo.clusters;
        let piece = |t: &[f64; 3]| {
            recovery.recover(photo.xyz(*t)).map(|found| Piece { thickness_mm: thickness, found })
        };
        let body = vec![piece(body)?];
        let vein: Vec<Piece> = vein.iter().filter_map(piece).collect();
        let vein_share = if vein.is_empty() { 0.0 } else { *vein_share };
        Some(Stone { body, vein, vein_share })
    }

    /// How the spectrum of the body was come by.
    #[must_use]
    pub fn method(&self) -> Option<Method> {
        self.body.first().map(|piece| piece.found.method)
    }

    /// The body's spectrum at the first measured thickness, and what each assumption alone gives.
    #[must_use]
    pub fn body_spectra(&self) -> Option<[Transmittance; 3]> {
        let found = &self.body.first()?.found;
        let [a, b] = &found.ways;
        Some([found.stone.transmittance(), a.transmittance(), b.transmittance()])
    }

    /// The vein's spectrum at the first measured thickness; none where the stone is even.
    #[must_use]
    pub fn vein_spectrum(&self) -> Option<Transmittance> {
        self.vein.first().map(|piece| piece.found.stone.transmittance())
    }

    /// The share of the stone that is vein, 0 to 0.5; 0 where it is not known.
    #[must_use]
    pub fn vein_share(&self) -> f64 {
        self.vein_share
    }
}

/// One set of assumptions: body and vein at the slab's thickness.
pub(super) struct Scenario {
    /// The body.
    pub(super) body: Transmittance,
    /// The vein; none where the stone is even.
    pub(super) vein: Option<Transmittance>,
}

/// The main scenario first; then the other assumptions about the spectrum, then those about the thickness.
pub(super) fn scenarios(
    stone: &Stone,
    slab: Millimetres,
    beyond: Beyond,
) -> Result<(Vec<Scenario>, Basis, bool), ThicknessError> {
    type Choose = fn(&Recovered) -> &Smooth;
    let at = |pieces: &[Piece], choose: Choose| {
        let measured: Vec<Measured> = pieces
            .iter()
            .map(|p| Measured { thickness_mm: p.thickness_mm, stone: choose(&p.found).transmittance() })
            .collect();
        bracket(&measured, slab, beyond)
    };
    let ways: [Choose; 3] = [|f| &f.stone, |f| &f.ways[0], |f| &f.ways[1]];
    let mut scenarios = Vec::new();
    let mut told = (Basis::OneThickness, false);
    for (number, way) in ways.into_iter().enumerate() {
        let body = at(&stone.body, way)?;
        let vein = if stone.vein.is_empty() { None } else { Some(at(&stone.vein, way)?) };
        if number == 0 {
            told = (body.basis, body.extrapolated);
            scenarios.push(Scenario { body: body.middle, vein: vein.as_ref().map(|v| v.middle.clone()) });
            scenarios.push(Scenario { body: body.low, vein: vein.as_ref().map(|v| v.low.clone()) });
            scenarios.push(Scenario { body: body.high, vein: vein.map(|v| v.high) });
        } else {
            scenarios.push(Scenario { body: body.middle, vein: vein.map(|v| v.middle) });
        }
    }
    Ok((scenarios, told.0, told.1))
}

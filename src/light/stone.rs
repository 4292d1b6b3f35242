//! What is known about a stone's colours, and what they may be at another thickness under each assumption.

use super::colour::{delta_e00, lab};
use super::combine::{BELIEVED, CONTRADICT_FROM, View, combined, contradiction};
use super::recover::{Method, Recovered, Recovery, Smooth};
use super::spectrum::{Spd, Transmittance};
use super::swatch_photo::SwatchPhoto;
use super::thickness::{Basis, Beyond, Bracket, Measured, ThicknessError, bracket, is_one_piece};
use super::weights::POINTS;
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

/// A photo of a piece of the stone, with the light and the thickness.
#[derive(Clone, Copy, Debug)]
pub struct Photographed<'a> {
    /// What the photo told.
    pub photo: &'a SwatchPhoto,
    /// The light of the panel.
    pub light: &'a Spd,
    /// How thick the piece is.
    pub thickness_mm: Millimetres,
    /// How far its values are believed, relative: [`super::combine::BELIEVED`], or
    /// [`super::combine::BELIEVED_STAND_IN`] where the light is a typical one that stands in.
    pub believed: f64,
}

impl Photographed<'_> {
    /// What it tells about the body.
    fn view<'r>(&self, recovery: &'r Recovery) -> View<'r> {
        View { recovery, xyz: self.photo.xyz(self.photo.clusters.body), believed: self.believed }
    }
}

/// The thicknesses of the pieces that were photographed, rising.
fn thicknesses(photos: &[Photographed<'_>]) -> Vec<Millimetres> {
    let mut all: Vec<Millimetres> = photos.iter().map(|p| p.thickness_mm).collect();
    all.sort_by(|a, b| a.get().total_cmp(&b.get()));
    all.dedup_by(|a, b| is_one_piece(*a, *b));
    all
}

/// The largest CIEDE2000 by which photos of one piece contradict each other; none where a photo's colour is one that
/// no stone can have.
#[must_use]
pub(crate) fn contradiction_of(photos: &[Photographed<'_>]) -> Option<f64> {
    let recoveries: Vec<Recovery> = photos.iter().map(|p| Recovery::under(p.light)).collect();
    let mut most = 0.0f64;
    for thickness_mm in thicknesses(photos) {
        let views: Vec<View<'_>> = photos
            .iter()
            .zip(&recoveries)
            .filter(|(p, _)| is_one_piece(p.thickness_mm, thickness_mm))
            .map(|(p, recovery)| p.view(recovery))
            .collect();
        most = most.max(contradiction(&views)?);
    }
    Some(most)
}

impl Stone {
    /// A stone measured spectrally at one or more thicknesses; its vein, if any, at the same ones.
    #[must_use]
    pub(crate) fn measured(body: &[Measured], vein: &[Measured]) -> Stone {
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
        Stone::photographed_often(&[Photographed {
            photo,
            light,
            thickness_mm: thickness,
            believed: BELIEVED,
        }])
    }

    /// A stone from all its photos: those of one piece are brought together to one spectrum, pieces of several
    /// thicknesses stand beside each other. The vein is told by the photos that show one. None as for
    /// [`Stone::photographed`], and without photos.
    #[must_use]
    pub fn photographed_often(photos: &[Photographed<'_>]) -> Option<Stone> {
        let recoveries: Vec<Recovery> = photos.iter().map(|p| Recovery::under(p.light)).collect();
        let (mut body, mut vein, mut shares) = (Vec::new(), Vec::new(), Vec::new());
        for thickness_mm in thicknesses(photos) {
            let of_piece =
                || photos.iter().zip(&recoveries).filter(|(p, _)| is_one_piece(p.thickness_mm, thickness_mm));
            let views: Vec<View<'_>> = of_piece().map(|(p, recovery)| p.view(recovery)).collect();
            body.push(Piece { thickness_mm, found: combined(&views)? });
            let with_vein =
                || of_piece().filter_map(|(p, recovery)| Some((p, recovery, p.photo.clusters.vein?)));
            let views: Vec<View<'_>> = with_vein()
                .map(|(p, recovery, vein)| View { xyz: p.photo.xyz(vein), ..p.view(recovery) })
                .collect();
            if let Some(found) = combined(&views) {
                vein.push(Piece { thickness_mm, found });
                shares.extend(with_vein().map(|(p, ..)| p.photo.clusters.vein_share));
            }
        }
        let vein_share = if vein.is_empty() { 0.0 } else { shares.iter().sum::<f64>() / shares.len() as f64 };
        (!body.is_empty()).then_some(Stone { body, vein, vein_share })
    }

    /// The body's luminous transmittance under a light: at a thickness that was measured as it was measured, else in the
    /// middle of what the thickness leaves open.
    ///
    /// # Errors
    /// Where the measurements contradict each other.
    pub(crate) fn luminous(&self, thickness: Millimetres, light: &Spd) -> Result<f64, ThicknessError> {
        let own = self.body.iter().find(|p| is_one_piece(p.thickness_mm, thickness));
        let spectrum = match own {
            Some(piece) => piece.found.stone.transmittance(),
            None => at_thickness(&self.body, |f| &f.stone, thickness, Beyond::Allow)?.middle,
        };
        Ok(spectrum.luminous(light))
    }

    /// The stone as lux meters read it: for each thickness, all that passes times a factor. A thickness of which no
    /// spectrum is known joins the measured ones, with the spectrum in the middle of what these leave open.
    ///
    /// # Errors
    /// Where the measurements contradict each other.
    pub(crate) fn levelled(&self, factors: &[(Millimetres, f64)]) -> Result<Stone, ThicknessError> {
        let levelled = |measured: &[Piece]| {
            let mut pieces = measured.to_vec();
            for (thickness_mm, factor) in factors {
                if let Some(own) = pieces.iter_mut().find(|p| is_one_piece(p.thickness_mm, *thickness_mm)) {
                    own.found = own.found.scaled(*factor);
                } else if let Some(method) = measured.first().map(|p| p.found.method) {
                    let way = |choose| {
                        at_thickness(measured, choose, *thickness_mm, Beyond::Allow)
                            .map(|b| Smooth::of(&b.middle))
                    };
                    let ways = [way(|f| &f.ways[0])?, way(|f| &f.ways[1])?];
                    let found = Recovered { stone: way(|f| &f.stone)?, ways, method };
                    pieces.push(Piece { thickness_mm: *thickness_mm, found: found.scaled(*factor) });
                }
            }
            Ok(pieces)
        };
        Ok(Stone { body: levelled(&self.body)?, vein: levelled(&self.vein)?, vein_share: self.vein_share })
    }

    /// The thicknesses that are known, rising.
    #[must_use]
    pub(crate) fn thicknesses(&self) -> Vec<Millimetres> {
        let mut all: Vec<Millimetres> = self.body.iter().map(|p| p.thickness_mm).collect();
        all.sort_by(|a, b| a.get().total_cmp(&b.get()));
        all
    }

    /// How the spectrum of the body was come by.
    #[must_use]
    pub(crate) fn method(&self) -> Option<Method> {
        self.body.first().map(|piece| piece.found.method)
    }

    /// The body's spectrum at the first measured thickness, and what each assumption alone gives.
    #[must_use]
    pub(crate) fn body_spectra(&self) -> Option<[Transmittance; 3]> {
        let found = &self.body.first()?.found;
        let [a, b] = &found.ways;
        Some([found.stone.transmittance(), a.transmittance(), b.transmittance()])
    }

    /// The vein's spectrum at the first measured thickness; none where the stone is even.
    #[must_use]
    pub(crate) fn vein_spectrum(&self) -> Option<Transmittance> {
        self.vein.first().map(|piece| piece.found.stone.transmittance())
    }

    /// The share of the stone that is vein, 0 to 0.5; 0 where it is not known.
    #[must_use]
    pub fn vein_share(&self) -> f64 {
        self.vein_share
    }
}

/// What other photos or a measurement say of a stone's spectra beyond what one photo of the same piece tells alone: how
/// far ln T of body and vein lies from that.
#[derive(Clone, Debug)]
pub struct KnownBeside {
    body: [f64; POINTS],
    vein: Option<[f64; POINTS]>,
    /// Where body and vein lie: logarithms of red to green and of blue to green transmittance.
    at: [[f64; 2]; 2],
}

/// Keeps logarithms finite.
const DARKEST: f64 = 1e-9;

fn log_ratios(t: [f64; 3]) -> [f64; 2] {
    [t[0], t[2]].map(|v| (v.max(DARKEST) / t[1].max(DARKEST)).ln())
}

impl KnownBeside {
    /// How far ln T of a place of these transmittances lies from what the photo tells alone: as far as the body's, as the
    /// vein's, or between the two by where its colour lies between theirs.
    pub(super) fn shift(&self, t: [f64; 3]) -> [f64; POINTS] {
        let Some(vein) = &self.vein else { return self.body };
        let [from, to] = self.at;
        let along = [to[0] - from[0], to[1] - from[1]];
        let here = log_ratios(t);
        let length = along[0].powi(2) + along[1].powi(2);
        let share = if length > 0.0 {
            (((here[0] - from[0]) * along[0] + (here[1] - from[1]) * along[1]) / length).clamp(0.0, 1.0)
        } else {
            0.0
        };
        std::array::from_fn(|i| self.body[i] * (1.0 - share) + vein[i] * share)
    }
}

impl Stone {
    /// What this stone's spectra say beyond what one photo of a piece of it tells alone; none where the piece's
    /// thickness is not among those known, or the two differ by more than photos of one piece may.
    #[must_use]
    pub fn known_beside(
        &self,
        photo: &SwatchPhoto,
        light: &Spd,
        thickness: Millimetres,
    ) -> Option<KnownBeside> {
        let recovery = Recovery::under(light);
        let shift = |pieces: &[Piece], t: [f64; 3]| -> Option<[f64; POINTS]> {
            let known = &pieces.iter().find(|p| is_one_piece(p.thickness_mm, thickness))?.found.stone;
            let xyz = photo.xyz(t);
            let alone = recovery.recover(xyz)?.stone;
            let weights = recovery.weights();
            let scale = COMPARED_AT / xyz[1];
            let seen = weights.through(known);
            let off = |xyz: [f64; 3]| lab(xyz.map(|v| v * scale), weights.bare());
            // Brightness apart: a photo's exposure is one thing and its colour another.
            let level = xyz[1] / seen[1];
            let near = delta_e00(off(seen.map(|v| v * level)), off(xyz)) < CONTRADICT_FROM;
            let ln = |v: f64| v.max(DARKEST).ln();
            near.then(|| std::array::from_fn(|i| ln(known.0[i]) - ln(alone.0[i])))
        };
        let body = shift(&self.body, photo.clusters.body)?;
        let vein = photo.clusters.vein;
        Some(KnownBeside {
            body,
            vein: vein.and_then(|t| shift(&self.vein, t)),
            at: [photo.clusters.body, vein.unwrap_or(photo.clusters.body)].map(log_ratios),
        })
    }
}

/// Luminance at which a photo is held against what is known, relative to white.
const COMPARED_AT: f64 = 0.5;

/// One of the spectra that are left open.
type Choose = fn(&Recovered) -> &Smooth;

/// Pieces at another thickness.
fn at_thickness(
    pieces: &[Piece],
    choose: Choose,
    thickness: Millimetres,
    beyond: Beyond,
) -> Result<Bracket, ThicknessError> {
    let measured: Vec<Measured> = pieces
        .iter()
        .map(|p| Measured { thickness_mm: p.thickness_mm, stone: choose(&p.found).transmittance() })
        .collect();
    bracket(&measured, thickness, beyond)
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
    let at = |pieces: &[Piece], choose: Choose| at_thickness(pieces, choose, slab, beyond);
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

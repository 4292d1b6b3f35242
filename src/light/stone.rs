//! What is known about a stone's colours, and what they may be at another thickness under each assumption.

use super::camera::{self, CameraDraw, DRAWS};
use super::colour::{delta_e00, lab};
use super::combine::{BELIEVED, CONTRADICT_FROM, View, combined, contradiction};
use super::illuminants::typical_white;
use super::recover::{Method, Recovered, Recovery, Smooth};
use super::spectrum::{Spd, Transmittance};
use super::swatch_photo::SwatchPhoto;
use super::thickness::{Basis, Beyond, Bracket, Measured, OVER_PANEL, ThicknessError, bracket, is_one_piece};
use super::weights::{POINTS, Weights};
use crate::units::Millimetres;

/// What is known about a stone's colours.
#[derive(Clone, Debug)]
pub struct Stone {
    body: Vec<Piece>,
    vein: Vec<Piece>,
    /// All that is shown, on average; empty where the stone is even and the body is all.
    whole: Vec<Piece>,
    vein_share: f64,
}

/// Which part of a stone draws are of: each has waves of its own, and the camera's errors are the same for all.
#[derive(Clone, Copy, PartialEq)]
enum Of {
    Body,
    Vein,
    Whole,
}

#[derive(Clone, Debug)]
struct Piece {
    thickness_mm: Millimetres,
    found: Recovered,
    /// What it may be, one spectrum for each draw; empty where it was measured.
    draws: Vec<Smooth>,
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

/// One photo among those of a stone, ready for the search.
#[derive(Clone, Copy)]
struct Seen<'a> {
    number: usize,
    photo: Photographed<'a>,
    recovery: &'a Recovery,
}

impl Piece {
    /// A part of one piece from what each photo shows of it; none where a colour is none that a stone can have, and
    /// without photos.
    fn seen(thickness_mm: Millimetres, seen: &[(Seen<'_>, [f64; 3])], part: Of) -> Option<Piece> {
        let views: Vec<View<'_>> = seen
            .iter()
            .map(|(s, t)| View { xyz: s.photo.photo.xyz(*t), ..s.photo.view(s.recovery) })
            .collect();
        let found = combined(&views)?;
        let draws = (0..DRAWS)
            .map(|draw| {
                // Each photo says how far the spectrum lies from the one found; together they say the mean of that.
                let said = seen.iter().map(|(s, t)| {
                    let spread = match part {
                        Of::Whole => s.photo.photo.whole_unevenness,
                        Of::Body | Of::Vein => s.photo.photo.stone_unevenness,
                    };
                    let camera = CameraDraw::new(draw, s.number, s.photo.photo, s.photo.believed, spread);
                    let (now, meant) = (s.photo.photo.xyz(*t), camera.values(s.photo.photo, *t));
                    let fitted = s.recovery.weights().through(&found.stone);
                    let xyz = [0, 1, 2].map(|k| fitted[k] * meant[k] / now[k]);
                    s.recovery.drawn(&found, xyz, draw, part as usize)
                });
                Smooth::mean(said, seen.len())
            })
            .collect();
        Some(Piece { thickness_mm, found, draws })
    }
}

impl Piece {
    /// For each draw, what brings its luminous transmittance to that of the spectrum found, under a common white, and from
    /// there to what so many readings of a meter may mean; where there are none, to that alone.
    fn draws_at_its_level(&self, readings: Option<usize>) -> Vec<f64> {
        let Some(weights) = typical_white(COMMON_WHITE_K).map(|white| Weights::of(&white)) else {
            return Vec::new();
        };
        let level = weights.through(&self.found.stone)[1];
        let own = |(draw, d): (usize, &Smooth)| {
            let meant = readings.map_or(1.0, |readings| camera::meter(draw, readings));
            level / weights.through(d)[1].max(f64::MIN_POSITIVE) * meant
        };
        self.draws.iter().enumerate().map(own).collect()
    }

    /// All that passes times a factor, and each draw first times its own.
    fn level(&mut self, factor: f64, own: &[f64]) {
        self.found = self.found.scaled(factor);
        self.draws.iter_mut().zip(own).for_each(|(d, own)| *d = d.scaled(own * factor));
    }
}

/// What lux meters read of a stone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Metered {
    /// How thick the piece is.
    pub thickness_mm: Millimetres,
    /// What passes of what was told before.
    pub factor: f64,
    /// How many readings say so.
    pub readings: usize,
}

/// The white under which a level is settled, in kelvin.
const COMMON_WHITE_K: f64 = 4000.0;

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
                .map(|m| Piece {
                    thickness_mm: m.thickness_mm,
                    found: Recovered::measured(&m.stone),
                    draws: Vec::new(),
                })
                .collect()
        };
        Stone { body: pieces(body), vein: pieces(vein), whole: Vec::new(), vein_share: 0.0 }
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
        let (mut body, mut vein, mut whole, mut shares) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for thickness_mm in thicknesses(photos) {
            let of_piece: Vec<Seen<'_>> = photos
                .iter()
                .zip(&recoveries)
                .enumerate()
                .filter(|(_, (p, _))| is_one_piece(p.thickness_mm, thickness_mm))
                .map(|(number, (p, recovery))| Seen { number, photo: *p, recovery })
                .collect();
            let bodies: Vec<(Seen<'_>, [f64; 3])> =
                of_piece.iter().map(|s| (*s, s.photo.photo.clusters.body)).collect();
            body.push(Piece::seen(thickness_mm, &bodies, Of::Body)?);
            let veins: Vec<(Seen<'_>, [f64; 3])> =
                of_piece.iter().filter_map(|s| Some((*s, s.photo.photo.clusters.vein?))).collect();
            if let Some(piece) = Piece::seen(thickness_mm, &veins, Of::Vein) {
                vein.push(piece);
                let all: Vec<(Seen<'_>, [f64; 3])> =
                    of_piece.iter().map(|s| (*s, s.photo.photo.mean)).collect();
                whole.extend(Piece::seen(thickness_mm, &all, Of::Whole));
                shares.extend(veins.iter().map(|(s, _)| s.photo.photo.clusters.vein_share));
            }
        }
        let vein_share = if vein.is_empty() { 0.0 } else { shares.iter().sum::<f64>() / shares.len() as f64 };
        (!body.is_empty()).then_some(Stone { body, vein, whole, vein_share })
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
            None => at_thickness(&self.body, thickness, Beyond::Allow)?.middle,
        };
        Ok(spectrum.luminous(light))
    }

    /// The stone as lux meters read it: for each thickness, all that passes times a factor, as surely as its readings repeat.
    /// A thickness of which no spectrum is known joins the measured ones, with the spectrum in the middle of what these leave
    /// open.
    ///
    /// # Errors
    /// Where the measurements contradict each other.
    pub(crate) fn levelled(&self, metered: &[Metered]) -> Result<Stone, ThicknessError> {
        let with = |measured: &[Piece], thickness_mm: Millimetres| -> Result<Vec<Piece>, ThicknessError> {
            let mut pieces = measured.to_vec();
            if let Some(method) = measured.first().map(|p| p.found.method)
                && !measured.iter().any(|p| is_one_piece(p.thickness_mm, thickness_mm))
            {
                let main = at_thickness(measured, thickness_mm, Beyond::Allow)?;
                let stone = Smooth::of(&main.middle);
                let found = Recovered { ways: [stone.clone(), stone.clone()], stone, method };
                pieces.push(Piece { thickness_mm, found, draws: drawn_at(measured, &main).collect() });
            }
            Ok(pieces)
        };
        let [mut body, mut vein, mut whole] = [&self.body, &self.vein, &self.whole].map(Clone::clone);
        // It does so as far as it repeats in every draw of a photo; beside a spectrum its reading is the figure, as for the gates
        // and the pack.
        let photographed = self.body.iter().any(|piece| !piece.draws.is_empty());
        for Metered { thickness_mm, factor, readings } in metered {
            for part in [&mut body, &mut vein, &mut whole] {
                *part = with(part, *thickness_mm)?;
            }
            let of =
                |pieces: &[Piece]| pieces.iter().position(|p| is_one_piece(p.thickness_mm, *thickness_mm));
            let Some(at) = of(&body) else { continue };
            // The meter settles how much passes; what the draws leave open is colour.
            let settled = body[at].draws_at_its_level(photographed.then_some(*readings));
            body[at].level(*factor, &settled);
            for part in [&mut vein, &mut whole] {
                if let Some(at) = of(part) {
                    part[at].level(*factor, &settled);
                }
            }
        }
        Ok(Stone { body, vein, whole, vein_share: self.vein_share })
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

    /// The body's spectrum at the first measured thickness, and between which it lies in nine of ten cases.
    #[must_use]
    pub(crate) fn body_spectra(&self) -> Option<[Transmittance; 3]> {
        let piece = self.body.first()?;
        let middle = &piece.found.stone;
        let (mut low, mut high) = (middle.clone(), middle.clone());
        for i in 0..POINTS {
            if let Some([from, to]) = nine_of_ten(piece.draws.iter().map(|d| d.0[i])) {
                (low.0[i], high.0[i]) = (from.min(middle.0[i]), to.max(middle.0[i]));
            }
        }
        Some([middle, &low, &high].map(Smooth::transmittance))
    }

    /// The body's luminous transmittance under a light at the first measured thickness, between what it lies in nine of
    /// ten cases; none where it was measured spectrally.
    #[must_use]
    pub(crate) fn luminous_range(&self, light: &Spd) -> Option<[f64; 2]> {
        let weights = Weights::of(light);
        nine_of_ten(self.body.first()?.draws.iter().map(|d| weights.through(d)[1]))
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

/// Pieces at another thickness.
fn at_thickness(pieces: &[Piece], thickness: Millimetres, beyond: Beyond) -> Result<Bracket, ThicknessError> {
    let measured: Vec<Measured> = pieces
        .iter()
        .map(|p| Measured { thickness_mm: p.thickness_mm, stone: p.found.stone.transmittance() })
        .collect();
    bracket(&measured, thickness, beyond, OVER_PANEL)
}

/// What pieces may be at a thickness for which `main` is their bracket, one spectrum for each draw.
fn drawn_at<'p>(pieces: &'p [Piece], main: &'p Bracket) -> impl Iterator<Item = Smooth> + 'p {
    let ends = [&main.low, &main.high].map(Smooth::of);
    // What a draw says of the piece nearest in thickness, it says of the slab, as far as that is thicker.
    let ratio = |p: &Piece| main.thickness_mm.get() / p.thickness_mm.get();
    let nearest = pieces.iter().min_by(|a, b| ratio(a).ln().abs().total_cmp(&ratio(b).ln().abs()));
    (0..DRAWS).map(move |draw| {
        let share = camera::share(draw);
        Smooth(std::array::from_fn(|i| {
            let between =
                ends[0].0[i].max(DARKEST).ln() * (1.0 - share) + ends[1].0[i].max(DARKEST).ln() * share;
            let off = nearest.and_then(|p| {
                let drawn = p.draws.get(draw)?;
                Some((drawn.0[i].max(DARKEST) / p.found.stone.0[i].max(DARKEST)).ln() * ratio(p))
            });
            match off {
                Some(off) => (between + off).exp().min(1.0),
                None => between.exp(),
            }
        }))
    })
}

/// Between what nine of ten figures lie: the 5th and the 95th of a hundred; none of none.
pub(super) fn nine_of_ten(all: impl Iterator<Item = f64>) -> Option<[f64; 2]> {
    let mut sorted: Vec<f64> = all.filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)? as f64;
    Some([0.05, 0.95].map(|share| sorted[(last * share).round() as usize]))
}

/// Within what nine of ten figures lie; 0 of none.
pub(super) fn nine_within(all: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = all.filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get((sorted.len() * 9).div_ceil(10).saturating_sub(1)).copied().unwrap_or(0.0)
}

/// Body and vein at the slab's thickness.
pub(super) struct AtSlab {
    /// As found.
    pub(super) main: Part<Transmittance>,
    /// What they may be.
    pub(super) draws: Vec<Part<Smooth>>,
    /// What the thickness rests on.
    pub(super) basis: Basis,
    /// True where it lies beyond half or twice what was measured.
    pub(super) extrapolated: bool,
}

/// A stone's parts.
pub(super) struct Part<T> {
    /// The body.
    pub(super) body: T,
    /// The vein; none where the stone is even.
    pub(super) vein: Option<T>,
    /// All that is shown, on average; none where the body is all.
    pub(super) whole: Option<T>,
}

/// A stone at its slab's thickness.
pub(super) fn at_slab(stone: &Stone, slab: Millimetres, beyond: Beyond) -> Result<AtSlab, ThicknessError> {
    let body = at_thickness(&stone.body, slab, beyond)?;
    let of = |pieces: &[Piece]| match pieces {
        [] => Ok(None),
        some => at_thickness(some, slab, beyond).map(Some),
    };
    let (vein, whole) = (of(&stone.vein)?, of(&stone.whole)?);
    let mut veins = vein.iter().flat_map(|main| drawn_at(&stone.vein, main));
    let mut wholes = whole.iter().flat_map(|main| drawn_at(&stone.whole, main));
    let draws = drawn_at(&stone.body, &body)
        .map(|body| Part { body, vein: veins.next(), whole: wholes.next() })
        .collect();
    drop((veins, wholes));
    let (basis, extrapolated) = (body.basis, body.extrapolated);
    let [vein, whole] = [vein, whole].map(|part| part.map(|p| p.middle));
    Ok(AtSlab { main: Part { body: body.middle, vein, whole }, draws, basis, extrapolated })
}

//! What each candidate light makes of a stone: as it was found, and in every draw of what it may be.
//!
//! All candidates are judged at one exposure, each against the white that an eye takes it for. Which of them comes first is
//! [`super::look`]'s matter.

use super::colour;
use super::figures::{WhitePoint, white_point_of};
use super::illuminants::common_white;
use super::look::{Appearance, Candidate};
use super::photometry::luminance_cd_m2;
use super::spectrum::{Spd, Transmittance};
use super::stone::Part;
use super::weights::{Smooth, Weights};
use crate::units::Lux;

/// Luminance of the brightest body at the common exposure, relative to white.
const EXPOSED: f64 = 0.6;

/// What one candidate makes of the stone.
pub(super) struct Judged {
    pub(super) figures: Figures,
    pub(super) body: Appearance,
    pub(super) vein: Option<Appearance>,
}

/// The figures of it.
#[derive(Clone, Copy)]
pub(super) struct Figures {
    pub(super) transmittance: f64,
    pub(super) luminance: f64,
    pub(super) contrast: Option<f64>,
    pub(super) whole: f64,
    pub(super) chroma: f64,
    /// CIELAB of the body.
    pub(super) body: [f64; 3],
}

impl Figures {
    fn of(
        candidate: &Candidate,
        [transmittance, whole]: [f64; 2],
        body: [f64; 3],
        vein: Option<[f64; 3]>,
    ) -> Figures {
        Figures {
            transmittance,
            luminance: luminance_cd_m2(Lux(candidate.bare_lx.get() * transmittance)),
            contrast: vein.map(|vein| colour::delta_e00(body, vein)),
            whole,
            chroma: colour::chroma(body),
            body,
        }
    }
}

/// How bright each candidate's bare panel is shown, the whites at 1: these are compared at equal flux, whatever the
/// tapes give, and a coloured light at its own share of the whites' flux, as its channels give it.
#[must_use]
pub(crate) fn levels(candidates: &[Candidate]) -> Vec<f64> {
    let white: Vec<bool> = candidates.iter().map(Candidate::is_white).collect();
    let only_colours = !white.contains(&true);
    let full = candidates
        .iter()
        .zip(&white)
        .filter(|(_, white)| **white || only_colours)
        .map(|(c, _)| c.bare_lx.get())
        .fold(f64::MIN_POSITIVE, f64::max);
    candidates
        .iter()
        .zip(&white)
        .map(|(c, white)| if *white { 1.0 } else { (c.bare_lx.get() / full).min(1.0) })
        .collect()
}

/// The white that a candidate is seen against: an eye adapts to a white; none adapts to a coloured light, so that one
/// is held against the common white.
fn seen_against(candidate: &Candidate, light: &WhitePoint) -> [f64; 3] {
    if light.cct_k.is_some() && !candidate.deep {
        candidate.light.at_unit_flux().xyz()
    } else {
        common_white()
    }
}

/// The exposure that brings the brightest body of all candidates to [`EXPOSED`].
fn exposure(bodies: impl Iterator<Item = f64>) -> f64 {
    EXPOSED / bodies.fold(f64::MIN_POSITIVE, f64::max)
}

/// Judges every candidate over the stone as found, all at one exposure.
pub(super) fn judge(
    stone: &Part<Transmittance>,
    candidates: &[Candidate],
    lights: &[WhitePoint],
    levels: &[f64],
) -> Vec<Judged> {
    let seen = |light: &Spd, stone: &Transmittance| {
        let y = light.xyz()[1];
        light.xyz_through(stone).map(|v| v / y)
    };
    let exposure =
        exposure(candidates.iter().zip(levels).map(|(c, level)| seen(&c.light, &stone.body)[1] * level));
    candidates
        .iter()
        .zip(lights)
        .zip(levels)
        .map(|((candidate, light), level)| {
            let white = seen_against(candidate, light);
            let to_screen =
                colour::product(colour::XYZ_TO_SRGB, colour::adaptation(white, colour::SRGB_WHITE, 1.0));
            let appearance = |xyz: [f64; 3]| {
                let exposed = xyz.map(|v| v * exposure * level);
                let dark = xyz[1] <= 0.0;
                Appearance {
                    white: white_point_of(if dark { candidate.light.xyz() } else { xyz }),
                    lab: colour::lab(exposed, white),
                    srgb: colour::times(to_screen, exposed)
                        .map(|v| (colour::encode(v) * 255.0).round() as u8),
                }
            };
            let body_xyz = seen(&candidate.light, &stone.body);
            let body = appearance(body_xyz);
            let vein = stone.vein.as_ref().map(|v| appearance(seen(&candidate.light, v)));
            let whole = stone.whole.as_ref().map_or(body_xyz, |w| seen(&candidate.light, w));
            let figures = Figures::of(candidate, [body_xyz[1], whole[1]], body.lab, vein.map(|v| v.lab));
            Judged { figures, body, vein }
        })
        .collect()
}

/// The figures of every candidate in every draw, judged as the stone found is.
pub(super) fn judge_draws(
    draws: &[Part<Smooth>],
    candidates: &[Candidate],
    lights: &[WhitePoint],
    levels: &[f64],
) -> Vec<Vec<Figures>> {
    let weights: Vec<Weights> = candidates.iter().map(|c| Weights::of(&c.light)).collect();
    let whites: Vec<[f64; 3]> = candidates.iter().zip(lights).map(|(c, l)| seen_against(c, l)).collect();
    let one = |stone: &Part<Smooth>| {
        let bodies: Vec<[f64; 3]> = weights.iter().map(|w| w.through(&stone.body)).collect();
        let exposure = exposure(bodies.iter().zip(levels).map(|(xyz, level)| xyz[1] * level));
        (0..candidates.len())
            .map(|i| {
                let seen = |xyz: [f64; 3]| colour::lab(xyz.map(|v| v * exposure * levels[i]), whites[i]);
                let vein = stone.vein.as_ref().map(|v| seen(weights[i].through(v)));
                let whole = stone.whole.as_ref().map_or(bodies[i], |w| weights[i].through(w));
                Figures::of(&candidates[i], [bodies[i][1], whole[1]], seen(bodies[i]), vein)
            })
            .collect()
    };
    draws.iter().map(one).collect()
}

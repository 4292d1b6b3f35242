//! The light that a stone was tried over, from the best that its trial says of it: a measured spectrum, a light by name,
//! a meter's figures, those of the shop's tape; and a typical white of its CCT only where there is none of these.

use crate::fault::{Fault, Outcome};
use crate::light::combine::{BELIEVED, BELIEVED_STAND_IN};
use crate::light::mixing::white_at;
use crate::light::spectrum::Spd;
use crate::light::stand_in::{MeterFigures, white};
use crate::model::trial::Trial;
use crate::ops::reading::Reading;
use crate::power::lights::{Light, Lights};
use crate::stone::spectra::{self, KnownLight};
use crate::units::trimmed;
use crate::words::LightKind;

use super::source::attached;

/// The light of a trial, and how far it is known.
#[derive(Clone, Debug)]
pub(crate) struct TrialLight {
    /// The light; its name says what it rests on.
    pub light: KnownLight,
    /// `spectrum`, `named`, `figures`, `tape` or `typical`.
    pub by: &'static str,
    /// How far a photo's values over it are believed, relative.
    pub believed: f64,
}

/// What a trial says of its light.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Said<'a> {
    /// A spectral file's bytes, and its name.
    pub spectrum: Option<(&'a [u8], &'a str)>,
    /// A light by name.
    pub named: Option<&'a str>,
    /// CIE 1931 x and y as a meter read them.
    pub xy: Option<[f64; 2]>,
    /// Colour rendering index Ra as a meter read it.
    pub ra: Option<f64>,
    /// The shop's tape that lights the test panel.
    pub tape: Option<&'a str>,
    /// The stated colour temperature; none for a coloured light.
    pub cct_k: Option<u32>,
}

/// The light of a recorded trial; none for a coloured light of which only words are known.
///
/// # Errors
/// A spectral file that is missing, changed or unfit; an unknown light or tape; figures that are no white's.
pub(crate) fn of_trial(reading: &Reading, folder: &str, trial: &Trial) -> Outcome<Option<TrialLight>> {
    let file = trial.panel_spectrum.as_ref().map(|a| attached(reading, folder, a)).transpose()?;
    let said = Said {
        spectrum: file.as_ref().map(|(bytes, name)| (bytes.as_slice(), name.as_str())),
        named: trial.panel_light.as_deref(),
        xy: trial.panel_xy,
        ra: trial.panel_ra,
        tape: trial.panel_tape.as_ref().map(|t| t.as_str()),
        cct_k: trial.cct_k,
    };
    of(&said, &reading.shop.lights)
}

/// The light that is described so.
///
/// # Errors
/// As [`of_trial`].
pub(crate) fn of(said: &Said<'_>, lights: &Lights) -> Outcome<Option<TrialLight>> {
    if let Some((bytes, name)) = said.spectrum {
        let light = spectra::one_light(bytes, name)?.value;
        let light = KnownLight { name: "the test panel's measured spectrum".into(), ..light };
        return Ok(Some(TrialLight { light, by: "spectrum", believed: BELIEVED }));
    }
    if let Some(name) = said.named {
        return Ok(Some(TrialLight { light: spectra::named(name)?, by: "named", believed: BELIEVED }));
    }
    let stand_in = |light: Spd, by, name| {
        let light = KnownLight { light, name, measured: false };
        Ok(Some(TrialLight { light, by, believed: BELIEVED_STAND_IN }))
    };
    if said.xy.is_some() || said.ra.is_some() {
        let figures = MeterFigures { cct_k: said.cct_k.map(f64::from), xy: said.xy, ra: said.ra };
        let Some((light, _)) = white(figures) else {
            return Err(Box::new(
                Fault::usage("panel-no-white", "no white has these x, y and Ra")
                    .fix("read them once more off the bare panel; describe a coloured light by its spectrum"),
            ));
        };
        let mut read: Vec<String> = Vec::new();
        read.extend(said.xy.map(|[x, y]| format!("x {}, y {}", trimmed(x, 4), trimmed(y, 4))));
        read.extend(said.ra.map(|ra| format!("Ra {}", trimmed(ra, 1))));
        let at = said.cct_k.filter(|_| said.xy.is_none()).map_or_else(String::new, |k| format!(" at {k} K"));
        let name = format!("a white{at} that has the test panel's measured {}", read.join(", "));
        return stand_in(light, "figures", name);
    }
    let Some(cct_k) = said.cct_k else { return Ok(None) };
    if let Some(id) = said.tape {
        let known = || lights.lights.iter().map(|l| l.id.as_str()).collect::<Vec<_>>().join(", ");
        let tape = lights.get(id).ok_or_else(|| {
            Box::new(
                Fault::usage("unknown-tape", format!("the shop has no tape {id}"))
                    .fix(format!("there are: {}", known())),
            )
        })?;
        return match of_tape(tape, f64::from(cct_k)) {
            Some(light) => {
                let ra = tape.cri_ra.map_or_else(String::new, |ra| format!(", Ra {}", trimmed(ra, 1)));
                let from = if of_channels(tape) { " and the x, y of its channels" } else { "" };
                stand_in(
                    light,
                    "tape",
                    format!("white at {cct_k} K by tape {id}'s {} figures{ra}{from}", tape.basis),
                )
            }
            None => Err(Box::new(
                Fault::usage("panel-tape", format!("tape {id} gives no white at {cct_k} K"))
                    .fix("name the tape that lit the test panel, or leave it out"),
            )),
        };
    }
    Ok(Some(TrialLight { light: spectra::white(cct_k)?, by: "typical", believed: BELIEVED_STAND_IN }))
}

/// True where the tape's list states where its channels lie, and they are asked.
fn of_channels(tape: &Light) -> bool {
    match tape.kind {
        LightKind::TunableWhite | LightKind::RgbTunableWhite => tape.channels.iter().any(|c| c.xy.is_some()),
        _ => tape.offered_cct_k.len() == 1 && tape.channels.iter().any(|c| c.xy.is_some()),
    }
}

/// The white of a tape at a colour temperature by what its list states: Ra, and the chromaticity of its channels.
fn of_tape(tape: &Light, cct_k: f64) -> Option<Spd> {
    let channel = |name: &str| tape.channels.iter().find(|c| c.name == name).and_then(|c| c.xy);
    let made = |cct_k: f64, xy| white(MeterFigures { cct_k: Some(cct_k), xy, ra: tape.cri_ra }).map(|w| w.0);
    match tape.kind {
        LightKind::StaticWhite | LightKind::Rgbw => {
            tape.offered_cct_k.iter().find(|k| f64::from(**k) == cct_k)?;
            made(cct_k, channel("white").filter(|_| tape.offered_cct_k.len() == 1))
        }
        LightKind::WarmDim => {
            tape.cct_range_k.filter(|range| f64::from(range.coolest) == cct_k)?;
            made(cct_k, channel("white"))
        }
        LightKind::TunableWhite | LightKind::RgbTunableWhite => {
            let range = tape.cct_range_k?;
            let warm = made(f64::from(range.warmest), channel("warm"))?;
            let cool = made(f64::from(range.coolest), channel("cool"))?;
            white_at(&warm, &cool, cct_k).ok().map(|mix| mix.light)
        }
        LightKind::Rgb => None,
    }
}

//! How much white light leaves a panel's face at one colour temperature: from its lit edges and its tape.
//!
//! A tunable white mixes two channels in flux and is turned up until one of them is full, with coloured channels beside
//! them or without; warm-dim counts at full. An RGBW light gives its
//! white channel where that is the white asked for, and else mixes it with the colours, as far as they reach. How
//! even the light is over the face is not said here.

use super::pieces;
use crate::light::channels::Channels;
use crate::light::illuminants::channel_white;
use crate::light::mixing::white_at;
use crate::model::panel::Panel;
use crate::model::snapshot::{Drawing, Shop};
use crate::power::light_build::{LightBuild, LitFace, work_out};
use crate::power::light_choice::{self, LightRequirement};
use crate::power::lights::Light;
use crate::power::vocabulary::Place;
use crate::units::{Lux, Volts};
use crate::words::LightKind;

/// What leaves a panel's face.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PanelOutput {
    /// The tape that gives it, by its name in the shop's list.
    pub tape: String,
    /// Light that leaves the face, per area.
    pub exitance_lx: Lux,
    /// The channels alone, each at full, in the tape's order.
    pub channels: Vec<(String, Lux)>,
    /// True where the panel's record settles its face; else the first in question was taken.
    pub face_settled: bool,
}

/// What the shop's list is asked for a light. An RGBW light mixes its whites from all four channels, so that the
/// list of its white channel's colour temperatures does not bind it: [`gives`] says what it reaches.
#[must_use]
pub(crate) fn asked_of_list(
    kind: LightKind,
    voltage_v: Option<Volts>,
    cct_k: Option<u32>,
    place: Place,
) -> LightRequirement {
    LightRequirement {
        kind,
        voltage_v,
        cct_k: cct_k.filter(|_| kind != LightKind::Rgbw),
        cri_ra: None,
        cct_range_k: None,
        place,
    }
}

/// How a tape gives a white.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Gives {
    /// It is ordered at it, or set to it.
    AsListed,
    /// Its channels are mixed to it; this share of the flux is the white channel's, by typical channels.
    Mixed {
        /// The share, 0 to 1.
        white_share: f64,
    },
}

/// How a tape gives a white of this colour temperature; none where it does not.
#[must_use]
pub(crate) fn gives(tape: &Light, cct_k: u32) -> Option<Gives> {
    if tape.gives_cct(cct_k) {
        return Some(Gives::AsListed);
    }
    if tape.kind.cct_can_be_set() {
        return None;
    }
    let mix = channels(tape)?.white_at(f64::from(cct_k)).ok()?;
    (1000..=25_000).contains(&cct_k).then_some(Gives::Mixed { white_share: mix.white_share })
}

/// The coloured channels of a tape, with the white of an RGBW one, by their lumens per metre, typical ones: nobody has measured them. None for
/// other kinds, and for a white channel that no typical white is like.
#[must_use]
pub(crate) fn channels(tape: &Light) -> Option<Channels> {
    let lumens = |name: &str| tape.channels.iter().find(|c| c.name == name).map(|c| c.lumens_per_m);
    let colours = [lumens("red")?, lumens("green")?, lumens("blue")?];
    match tape.kind {
        LightKind::Rgb | LightKind::RgbTunableWhite => Channels::typical(colours, None),
        LightKind::Rgbw => {
            let cct = f64::from(*tape.offered_cct_k.first()?);
            Channels::typical(colours, Some((cct, lumens("white")?)))
        }
        LightKind::StaticWhite | LightKind::WarmDim | LightKind::TunableWhite => None,
    }
}

/// What leaves a panel's face with a kind of light at a colour temperature, by the tape that its record names,
/// where that gives it, or by the first of the shop's list that does.
///
/// # Errors
/// Everything that stands in the way, one sentence each.
pub(crate) fn output(
    shop: &Shop,
    panel: &Panel,
    drawing: &Drawing,
    kind: LightKind,
    cct_k: Option<u32>,
) -> Result<PanelOutput, Vec<String>> {
    let Some(face) = panel.face.or(panel.faces_considered.first().copied()) else {
        return Err(vec!["the face is not chosen".into()]);
    };
    let volts = panel.voltage_v.map(|v| Volts(f64::from(v)));
    let asked = asked_of_list(kind, volts, cct_k, panel.place);
    let settled = panel.tape.as_ref().and_then(|t| shop.lights.get(t.as_str()));
    let tape = match settled.filter(|tape| light_choice::against(tape, &asked).is_empty()) {
        Some(tape) => tape,
        None => {
            light_choice::choose(&shop.lights, &asked)
                .map_err(|none| vec![format!("no tape of the shop gives this light; {}", none.remedy())])?
                .light
        }
    };
    let edges = pieces::lit_edges(shop, panel, drawing, tape);
    let build = work_out(tape, &edges, LitFace { face, area_mm2: drawing.figures.area_mm2 })
        .map_err(|faults| faults.iter().map(|f| format!("{f}; {}", f.remedy())).collect::<Vec<_>>())?;
    Ok(PanelOutput {
        tape: tape.id.clone(),
        exitance_lx: white_of(tape, &build, cct_k),
        channels: build.channels.iter().map(|c| (c.name.clone(), c.exitance_lx)).collect(),
        face_settled: panel.face.is_some(),
    })
}

/// The white light of all channels together, at a colour temperature.
fn white_of(tape: &Light, build: &LightBuild, cct_k: Option<u32>) -> Lux {
    let channel = |name: &str| build.channels.iter().find(|c| c.name == name).map(|c| c.exitance_lx);
    match tape.kind {
        LightKind::Rgbw => {
            let alone = channel("white").unwrap_or(build.exitance_lx);
            let mixed = cct_k.filter(|cct| !tape.gives_cct(*cct)).and_then(|cct| {
                let channels = channels(tape)?;
                let full = channels.white.as_ref()?.xyz()[1];
                let mix = channels.white_at(f64::from(cct)).ok()?;
                Some(Lux(alone.get() * mix.light.xyz()[1] / full))
            });
            mixed.unwrap_or(alone)
        }
        LightKind::TunableWhite | LightKind::RgbTunableWhite => {
            let pair = channel("warm").zip(channel("cool")).or(match build.channels.as_slice() {
                [warm, cool] => Some((warm.exitance_lx, cool.exitance_lx)),
                _ => None,
            });
            let Some((warm, cool)) = pair else { return build.exitance_lx };
            match cct_k.and_then(|cct| cool_share(tape, cct)) {
                Some(share) => {
                    let full = |channel: Lux, share: f64| {
                        if share > 0.0 { channel.get() / share } else { f64::INFINITY }
                    };
                    Lux(full(warm, 1.0 - share).min(full(cool, share)))
                }
                None => Lux(warm.get().min(cool.get())),
            }
        }
        LightKind::StaticWhite | LightKind::WarmDim | LightKind::Rgb => build.exitance_lx,
    }
}

/// The cool channel's share of the flux at a colour temperature, with typical whites at the ends of the range.
fn cool_share(tape: &Light, cct_k: u32) -> Option<f64> {
    let range = tape.cct_range_k?;
    let (warm, cool) = (channel_white(f64::from(range.warmest))?, channel_white(f64::from(range.coolest))?);
    match white_at(&warm, &cool, f64::from(cct_k)) {
        Ok(mix) => Some(mix.cool_share),
        // The typical whites stand a little inside the nominal ends.
        Err(_) if cct_k.abs_diff(range.warmest) <= 100 => Some(0.0),
        Err(_) if cct_k.abs_diff(range.coolest) <= 100 => Some(1.0),
        Err(_) => None,
    }
}

//! How much white light leaves a panel's face at one colour temperature: from its lit edges and its tape.
//!
//! A tunable white mixes two channels in flux and is turned up until one of them is full; an RGBW light gives its
//! white channel alone. How even the light is over the face is not said here.

use super::pieces;
use crate::light::illuminants::channel_white;
use crate::light::mixing::white_at;
use crate::model::panel::Panel;
use crate::model::snapshot::{Drawing, Shop};
use crate::power::light_build::{LightBuild, LitFace, work_out};
use crate::power::light_choice::{self, LightRequirement};
use crate::power::lights::Light;
use crate::units::{Lux, Volts};
use crate::words::LightKind;

/// What leaves a panel's face.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelOutput {
    /// The tape that gives it, by its name in the shop's list.
    pub tape: String,
    /// Light that leaves the face, per area.
    pub exitance_lx: Lux,
    /// True where the panel's record settles its face; else the first in question was taken.
    pub face_settled: bool,
}

/// What leaves a panel's face with a kind of light at a colour temperature, by the tape that its record names,
/// where that gives it, or by the first of the shop's list that does.
///
/// # Errors
/// Everything that stands in the way, one sentence each.
pub fn output(
    shop: &Shop,
    panel: &Panel,
    drawing: &Drawing,
    kind: LightKind,
    cct_k: Option<u32>,
) -> Result<PanelOutput, Vec<String>> {
    let Some(face) = panel.face.or(panel.faces_considered.first().copied()) else {
        return Err(vec!["the face is not chosen".into()]);
    };
    let asked = LightRequirement {
        kind,
        voltage_v: panel.voltage_v.map(|v| Volts(f64::from(v))),
        cct_k,
        cri_ra: None,
        place: panel.place,
    };
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
        face_settled: panel.face.is_some(),
    })
}

/// The white light of all channels together, at a colour temperature.
fn white_of(tape: &Light, build: &LightBuild, cct_k: Option<u32>) -> Lux {
    let channel = |name: &str| build.channels.iter().find(|c| c.name == name).map(|c| c.exitance_lx);
    match tape.kind {
        LightKind::Rgbw => channel("white").unwrap_or(build.exitance_lx),
        LightKind::TunableWhite => {
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
        LightKind::StaticWhite | LightKind::Rgb => build.exitance_lx,
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

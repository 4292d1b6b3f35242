//! The lights of RGB and RGBW tapes that a stone is judged over: whites mixed from all channels, and deep colours.

use super::candidates::{Spectrum, Wanted, panel};
use crate::fault::{Fault, Outcome};
use crate::job::plan::light;
use crate::light::channels::Channels;
use crate::light::columns::Read;
use crate::ops::record::read_users_file;
use crate::stone::spectra;
use crate::words::LightKind;

/// The candidates of a kind of tape of the shop: its channels are typical ones in the flux that the tape states.
pub(super) fn of_tape(
    wanted: &Wanted<'_>,
    kind: LightKind,
    ccts_k: &[u32],
    say_kind: bool,
    remarks: &mut Vec<String>,
) -> Outcome<Vec<Spectrum>> {
    let lights = &wanted.reading.shop.lights;
    let settled = panel(wanted).and_then(|(_, p, _)| p.tape.as_ref()).and_then(|t| lights.get(t.as_str()));
    let Some(tape) = settled.filter(|t| t.kind == kind).or_else(|| lights.of_kind(kind).next()) else {
        return Err(Box::new(
            Fault::usage("no-such-tape", format!("the shop has no {kind} tape"))
                .fix("add one to shop/lights.json, or give measured channels with --channels FILE"),
        ));
    };
    let Some(channels) = light::channels(tape) else {
        return Err(Box::new(
            Fault::usage(
                "channels-unknown",
                format!(
                    "tape {} does not name red, green and blue, or its white is like no typical one",
                    tape.id
                ),
            )
            .fix("name its channels so in shop/lights.json, or give them measured with --channels FILE"),
        ));
    };
    remarks.push(format!(
        "the channels of tape {} are not measured: typical ones in its own flux stand in for them, so take the deep \
         colours as a first idea",
        tape.id
    ));
    Ok(settings(&channels, kind, ccts_k, say_kind, "typical", remarks))
}

/// The candidates of a file whose columns are the channels, on one scale.
pub(super) fn measured(
    file: &std::path::Path,
    ccts_k: &[u32],
    say_kind: bool,
    remarks: &mut Vec<String>,
) -> Outcome<Vec<Spectrum>> {
    let (bytes, _) = read_users_file(file)?;
    let shown = file.display().to_string();
    let Read { value, remarks: fixed } = spectra::lights(&bytes, &shown)?;
    remarks.extend(fixed.into_iter().map(|r| format!("{shown}: {r}")));
    let channel = |name: &str| {
        let named = |known: &&spectra::KnownLight| {
            known.name.rsplit(": ").next().is_some_and(|column| column.trim().eq_ignore_ascii_case(name))
        };
        value.iter().find(named).map(|known| known.light.clone())
    };
    let (Some(red), Some(green), Some(blue)) = (channel("red"), channel("green"), channel("blue")) else {
        return Err(Box::new(
            Fault::data("channels-unknown", "its columns are not named red, green and blue")
                .in_file(shown)
                .fix("name the columns red, green, blue and, where there is one, white, all on one scale"),
        ));
    };
    let white = channel("white");
    let kind = if white.is_some() { LightKind::Rgbw } else { LightKind::Rgb };
    Ok(settings(&Channels { red, green, blue, white }, kind, ccts_k, say_kind, "measured", remarks))
}

fn settings(
    channels: &Channels,
    kind: LightKind,
    ccts_k: &[u32],
    say_kind: bool,
    from: &'static str,
    remarks: &mut Vec<String>,
) -> Vec<Spectrum> {
    let of = match (say_kind, kind) {
        (false, _) => String::new(),
        (true, LightKind::RgbTunableWhite) => format!(" of {kind}"),
        (true, _) => format!(" of {}", kind.word().to_uppercase()),
    };
    let reference = match &channels.white {
        Some(white) => white.xyz()[1],
        None => channels.at([1.0; 4]).xyz()[1],
    };
    let spectrum = |label: String, cct_k: Option<u32>, light: crate::light::spectrum::Spd| {
        let relative = light.xyz()[1] / reference;
        Spectrum { label, kind, cct_k, light, from, relative: Some(relative) }
    };
    let mut all = Vec::new();
    for cct in ccts_k {
        match channels.white_at(f64::from(*cct)) {
            Ok(setting) => all.push(spectrum(format!("{cct} K{of}"), Some(*cct), setting.light)),
            Err(error) => remarks.push(format!("{cct} K{of} is left out: {error}")),
        }
    }
    for (name, drive) in channels.deep_colours() {
        all.push(spectrum(format!("{name}{of}"), None, channels.at(drive)));
    }
    all
}

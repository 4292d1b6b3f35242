//! The lights that a stone is judged over, and how much light of each the panel's face gives.

use super::{ASSUMED_LX, Asked, coloured};
use crate::fault::{Fault, Outcome};
use crate::ids::PanelId;
use crate::job::plan::light::{PanelOutput, gives, output};
use crate::light::illuminants::{channel_white, typical_white};
use crate::light::look::Candidate;
use crate::light::mixing;
use crate::light::spectrum::Spd;
use crate::model::panel::Panel;
use crate::model::snapshot::{Drawing, Snapshot};
use crate::model::swatch::Swatch;
use crate::ops::reading::Reading;
use crate::ops::record::read_users_file;
use crate::power::lights::Light;
use crate::stone::spectra;
use crate::units::{Lux, trimmed};
use crate::words::LightKind;

/// The most candidates: more do not fit a sheet that people can compare on.
const MOST: usize = 24;

/// What the candidates are gathered for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wanted<'a> {
    /// The book.
    pub reading: &'a Reading,
    /// The project.
    pub snapshot: &'a Snapshot,
    /// The stone.
    pub swatch: &'a Swatch,
    /// What is asked.
    pub asked: &'a Asked,
}

/// A candidate, with where its light and its amount come from.
#[derive(Clone, Debug)]
pub(crate) struct Lit {
    /// The candidate.
    pub candidate: Candidate,
    /// `typical`, `named` or `measured`: where its spectrum comes from.
    pub spectrum: &'static str,
    /// True where one of the shop's tapes gives this light; none where nobody can say.
    pub offered: Option<bool>,
    /// `given`, `panel`, `reading` or `assumed`: where the amount of light comes from.
    pub source: &'static str,
    /// The panel that it was worked out for.
    pub panel: Option<PanelId>,
    /// The amount of light in words.
    pub words: String,
}

/// A light before it is known how much of it there is.
pub(super) struct Spectrum {
    pub(super) label: String,
    pub(super) kind: LightKind,
    pub(super) cct_k: Option<u32>,
    pub(super) light: Spd,
    pub(super) from: &'static str,
    /// Of a setting of coloured channels: its flux over that of the white channel at full, or of all channels where
    /// there is no white one.
    pub(super) relative: Option<f64>,
}

/// Gathers the candidates in the order in which they were asked for.
///
/// # Errors
/// Everything that cannot be a candidate, each with its reason.
pub(crate) fn gather(wanted: &Wanted<'_>, remarks: &mut Vec<String>) -> Result<Vec<Lit>, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut spectra = Vec::new();
    let mut take = |found: Outcome<Vec<Spectrum>>| match found {
        Ok(found) => spectra.extend(found),
        Err(fault) => faults.push(*fault),
    };
    let asked = wanted.asked;
    let (kinds, names): (Vec<_>, Vec<_>) =
        asked.lights.iter().map(|l| (l, l.parse::<LightKind>().ok())).partition(|(_, kind)| kind.is_some());
    let kinds: Vec<LightKind> = kinds.into_iter().filter_map(|(_, kind)| kind).collect();
    let alone =
        kinds.is_empty() && asked.ccts_k.is_empty() && !(names.is_empty() && asked.spectra.is_empty());
    let alone = alone && asked.channels.is_empty() || kinds.is_empty() && !asked.channels.is_empty();
    let ccts = if asked.ccts_k.is_empty() { usual_ccts(wanted) } else { asked.ccts_k.clone() };
    if !alone {
        let kinds = if kinds.is_empty() { vec![usual_kind(wanted)] } else { kinds };
        let say_kind = kinds.len() + asked.channels.len() > 1;
        for kind in &kinds {
            if matches!(kind, LightKind::Rgb | LightKind::Rgbw) {
                take(coloured::of_tape(wanted, *kind, &ccts, say_kind, remarks));
                continue;
            }
            for cct in &ccts {
                take(white(wanted, *kind, *cct, say_kind).map(|s| vec![s]));
            }
            if *kind == LightKind::RgbTunableWhite {
                take(coloured::of_tape(wanted, *kind, &[], say_kind, remarks));
            }
        }
    }
    for file in &asked.channels {
        take(coloured::measured(file, &ccts, asked.channels.len() > 1 || !alone, remarks));
    }
    for (name, _) in names {
        take(spectra::named(name).map(|known| {
            let (label, cct_k) = (name.clone(), known.cct_k());
            let kind = LightKind::StaticWhite;
            vec![Spectrum { label, kind, cct_k, light: known.light, from: "named", relative: None }]
        }));
    }
    for file in &asked.spectra {
        take(measured(file, remarks));
    }
    if spectra.len() > MOST {
        faults.push(
            Fault::usage("too-many-lights", format!("{} lights are too many to compare", spectra.len()))
                .fix(format!("name at most {MOST}")),
        );
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    lit(wanted, spectra, remarks)
}

fn measured(file: &std::path::Path, remarks: &mut Vec<String>) -> Outcome<Vec<Spectrum>> {
    let (bytes, _) = read_users_file(file)?;
    let shown = file.file_name().map_or_else(|| file.display().to_string(), |n| n.to_string_lossy().into());
    let read = spectra::lights(&bytes, &shown)?;
    remarks.extend(read.remarks.iter().map(|r| format!("{shown}: {r}")));
    let taken = |known: spectra::KnownLight| Spectrum {
        cct_k: known.cct_k(),
        label: known.name.trim_end_matches(".csv").to_owned(),
        kind: LightKind::StaticWhite,
        light: known.light,
        from: "measured",
        relative: None,
    };
    Ok(read.value.into_iter().map(taken).collect())
}

/// The kind of light that is chosen for a panel over which the stone lies, else static white.
fn usual_kind(wanted: &Wanted<'_>) -> LightKind {
    let kind = panel(wanted).and_then(|(_, p, _)| p.light.as_ref()).map(|l| l.kind);
    kind.unwrap_or(LightKind::StaticWhite)
}

/// What the shop's tapes offer, what is chosen and what was tried, within what a typical white can be.
fn usual_ccts(wanted: &Wanted<'_>) -> Vec<u32> {
    let shop = wanted.reading.shop.lights.lights.iter().flat_map(|l| l.offered_cct_k.iter().copied());
    let chosen = wanted
        .snapshot
        .panels
        .values()
        .filter(|p| p.swatch == wanted.swatch.id)
        .filter_map(|p| p.light.as_ref()?.cct_k);
    let tried =
        wanted.snapshot.trials.values().filter(|t| t.swatch == wanted.swatch.id).filter_map(|t| t.cct_k);
    let mut all: Vec<u32> = shop.chain(chosen).chain(tried).collect();
    all.sort_unstable();
    all.dedup();
    all.retain(|cct| typical_white(f64::from(*cct)).is_some());
    if all.is_empty() { vec![2700, 3000, 3500, 4000, 5000] } else { all }
}

fn white(wanted: &Wanted<'_>, kind: LightKind, cct: u32, say_kind: bool) -> Outcome<Spectrum> {
    let label = match kind {
        _ if kind.cct_can_be_set() && say_kind => format!("{cct} K tunable"),
        LightKind::WarmDim if say_kind => format!("{cct} K {kind}"),
        _ => format!("{cct} K"),
    };
    let light = match kind {
        _ if kind.cct_can_be_set() => tunable(wanted, kind, cct)?,
        _ => spectra::white(cct)?.light,
    };
    Ok(Spectrum { label, kind, cct_k: Some(cct), light, from: "typical", relative: None })
}

/// Two typical whites at the ends of a tape's range, mixed in flux.
fn tunable(wanted: &Wanted<'_>, kind: LightKind, cct: u32) -> Outcome<Spd> {
    let lights = &wanted.reading.shop.lights;
    let settled = panel(wanted).and_then(|(_, p, _)| p.tape.as_ref()).and_then(|t| lights.get(t.as_str()));
    let tape = settled
        .filter(|t| t.kind.cct_can_be_set() && t.cct_range_k.is_some())
        .or_else(|| lights.of_kind(kind).find(|t| t.gives_cct(cct)))
        .or_else(|| lights.of_kind(kind).next());
    let Some((tape, range)) = tape.and_then(|t| Some((t, t.cct_range_k?))) else {
        return Err(Box::new(
            Fault::usage("no-tunable-white", format!("the shop has no {kind} tape"))
                .fix("add one to shop/lights.json, or ask for static-white"),
        ));
    };
    let end =
        |cct: u32| channel_white(f64::from(cct)).map_or_else(|| spectra::white(cct).map(|w| w.light), Ok);
    let (warm, cool) = (end(range.warmest)?, end(range.coolest)?);
    match mixing::white_at(&warm, &cool, f64::from(cct)) {
        Ok(mix) => Ok(mix.light),
        Err(_) if cct.abs_diff(range.warmest) <= 100 => Ok(warm),
        Err(_) if cct.abs_diff(range.coolest) <= 100 => Ok(cool),
        Err(error) => Err(Box::new(
            Fault::usage(
                "cct-out-of-range",
                format!(
                    "tape {} is set from {} to {} K, not to {cct} K",
                    tape.id, range.warmest, range.coolest
                ),
            )
            .fix(error.remedy()),
        )),
    }
}

/// The panel whose light is meant: the one asked for, or the first over which the stone lies.
pub(super) fn panel<'a>(wanted: &Wanted<'a>) -> Option<(&'a PanelId, &'a Panel, &'a Drawing)> {
    let meant = |id: &PanelId, p: &Panel| match &wanted.asked.panel {
        Some(asked) => id == asked,
        None => p.swatch == wanted.swatch.id,
    };
    let with_drawing = |(id, p): (&'a PanelId, &'a Panel)| Some((id, p, wanted.snapshot.drawing_of(id)?));
    let all: Vec<_> =
        wanted.snapshot.panels.iter().filter(|(id, p)| meant(id, p)).filter_map(with_drawing).collect();
    all.iter().find(|(_, p, _)| !p.lit_edges.is_empty()).or(all.first()).copied()
}

/// Says of each candidate how much light the panel's face gives.
fn lit(
    wanted: &Wanted<'_>,
    spectra: Vec<Spectrum>,
    remarks: &mut Vec<String>,
) -> Result<Vec<Lit>, Vec<Fault>> {
    if let Some(id) = &wanted.asked.panel
        && !wanted.snapshot.panels.contains_key(id)
    {
        let known: Vec<&str> = wanted.snapshot.panels.keys().map(PanelId::as_str).collect();
        return Err(vec![
            Fault::usage("unknown-panel", format!("there is no panel {id} in {}", wanted.asked.project))
                .fix(format!("there are: {}", known.join(", "))),
        ]);
    }
    if let Some(lx) = wanted.asked.exitance_lx
        && !(lx.is_finite() && lx > 0.0)
    {
        return Err(vec![
            Fault::usage("exitance", format!("{lx} lx is not above 0"))
                .fix("give what a meter held on the bare panel shows, above 0"),
        ]);
    }
    let shop = &wanted.reading.shop;
    let panel = panel(wanted);
    let outputs: Vec<Option<PanelOutput>> = spectra
        .iter()
        .map(|s| panel.and_then(|(_, p, drawing)| output(shop, p, drawing, s.kind, s.cct_k).ok()))
        .collect();
    let offered = |s: &Spectrum| {
        (s.from == "typical").then(|| {
            let given = |tape: &Light| s.cct_k.is_none_or(|cct| gives(tape, cct).is_some());
            shop.lights.of_kind(s.kind).any(given)
        })
    };
    // Where the panel gives no tape for one of them, another's light stands in, so that all compare.
    let stand_in = outputs.iter().flatten().next().cloned().or_else(|| {
        let (_, p, drawing) = panel?;
        let light = p.light.as_ref()?;
        output(shop, p, drawing, light.kind, light.cct_k).ok()
    });
    let (fallback_lx, fallback, fallback_words) = fallback(wanted);
    let mut out = Vec::new();
    for (s, own) in spectra.into_iter().zip(outputs) {
        let offered = offered(&s);
        if offered == Some(false) {
            remarks.push(format!("no tape of the shop gives {}", s.label));
        }
        let known = own.as_ref().or(stand_in.as_ref()).filter(|_| wanted.asked.exitance_lx.is_none());
        let (full_lx, source, panel_id, words) = match (known, panel) {
            (Some(output), Some((id, _, _))) => {
                let lx = match s.relative {
                    Some(_) => white_or_all(output),
                    None => output.exitance_lx.get(),
                };
                let words = format!(
                    "panel {id} gives {} lx at its face with tape {}, worked out",
                    trimmed(lx, 0),
                    output.tape
                );
                (lx, "panel", Some(id.clone()), words)
            }
            _ => (fallback_lx, fallback, None, fallback_words.clone()),
        };
        let lx = full_lx * s.relative.unwrap_or(1.0);
        out.push(Lit {
            candidate: Candidate {
                deep: s.relative.is_some() && s.cct_k.is_none(),
                label: s.label,
                kind: s.kind,
                light: s.light,
                bare_lx: Lux(lx),
            },
            spectrum: s.from,
            offered,
            source,
            panel: panel_id,
            words,
        });
    }
    Ok(out)
}

/// What a panel's white channel gives alone, or all its coloured channels where none is white.
fn white_or_all(output: &PanelOutput) -> f64 {
    let white = output.channels.iter().find(|(name, _)| name == "white");
    let coloured = |(name, _): &&(String, Lux)| !matches!(name.as_str(), "warm" | "cool");
    white.map_or_else(
        || output.channels.iter().filter(coloured).map(|(_, lx)| lx.get()).sum(),
        |(_, lx)| lx.get(),
    )
}

/// How much light there is where no panel says it: as given, as a meter read, or assumed.
fn fallback(wanted: &Wanted<'_>) -> (f64, &'static str, String) {
    if let Some(lx) = wanted.asked.exitance_lx {
        return (lx, "given", format!("the panel's face gives {} lx, as stated", trimmed(lx, 0)));
    }
    let trials = wanted
        .snapshot
        .trials
        .values()
        .filter(|t| t.swatch == wanted.swatch.id)
        .filter_map(|t| Some((t.date, t.bare_lx?)));
    let own = wanted.swatch.measured.iter().filter_map(|m| Some((m.date, m.bare_lx?)));
    match trials.chain(own).max_by_key(|(date, _)| *date) {
        Some((date, lx)) => (
            lx.get(),
            "reading",
            format!(
                "the test panel read {} lx on {date}; the panel to be built may give another amount",
                trimmed(lx.get(), 0)
            ),
        ),
        None => (
            ASSUMED_LX,
            "assumed",
            format!(
                "how much light the panel gives is not known yet: brightness is for {} lx at its face, an \
                 assumption; give it with --exitance",
                trimmed(ASSUMED_LX, 0)
            ),
        ),
    }
}

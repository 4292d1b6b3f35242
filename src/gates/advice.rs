//! Warnings: what common practice and the measurements say, beside a verdict. They block nothing.

use super::off_panel::off_panel;
use super::requirements::bright_enough;
use super::verdict::Warning;
use crate::ids::PanelId;
use crate::job::as_built;
use crate::job::brightness;
use crate::job::case::Case;
use crate::job::masses;
use crate::job::plan::light::{Gives, gives};
use crate::light::figures::{duv_within_tolerance, target_duv};
use crate::light::illuminants::channel_white;
use crate::light::mixing::white_at;
use crate::light::practice::{self, Standing};
use crate::light::thickness::Law;
use crate::model::panel::Panel;
use crate::model::snapshot::Shop;
use crate::model::stage::Stage;
use crate::model::swatch::Swatch;
use crate::shape::{Narrow, Outline, ShapeClass, narrow_places};
use crate::units::{Millimetres, trimmed};
use crate::words::LightKind;

/// Everything to know that blocks nothing. What is said of several panels alike is said once.
#[must_use]
pub fn warnings(case: &Case<'_>) -> Vec<Warning> {
    let mut together: Vec<Warning> = Vec::new();
    for warning in of_each(case) {
        let same =
            |w: &&mut Warning| w.code == warning.code && w.message == warning.message && !w.panels.is_empty();
        match together.iter_mut().find(same) {
            Some(said) => said.panels.extend(warning.panels),
            None => together.push(warning),
        }
    }
    together
}

/// The same, panel by panel.
pub(crate) fn of_each(case: &Case<'_>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let job = case.job();
    for (id, panel) in case.panels() {
        if let Some(stone) = case.project.stone_of(panel) {
            colour_temperature(id, panel, stone, &mut warnings);
            face(case, id, panel, stone, &mut warnings);
            luminance(case, id, panel, stone, &mut warnings);
            tint(case, id, panel, stone, &mut warnings);
        }
        lit_edges(case, id, panel, &mut warnings);
        narrow(case, id, panel, &mut warnings);
        etched(case, id, panel, &mut warnings);
        off(case, id, panel, &mut warnings);
        movement_room(case, id, panel, &mut warnings);
        if let Some(Ok(power)) = job.panels.get(id).map(|plan| &plan.power) {
            warnings.extend(power.remarks.iter().map(|message| Warning {
                code: "power",
                panels: vec![id.clone()],
                message: message.clone(),
                source: "worked out from the shop's lists",
            }));
        }
    }
    warnings.extend(super::place_advice::warnings(case));
    warnings.extend(super::hands::warnings(case));
    warnings.extend(super::supply_advice::warnings(case, job));
    for built in as_built::compare(case, job).iter().filter(|b| b.is_far_off()) {
        warnings.push(Warning {
            code: "as-built-power",
            panels: Vec::new(),
            message: built.in_words(),
            source: "common practice, no source",
        });
    }
    warnings
}

/// Looks whether a panel that goes into an opening has room there to grow by.
fn movement_room(case: &Case<'_>, id: &PanelId, panel: &Panel, warnings: &mut Vec<Warning>) {
    let (Some(sizes), Some(drawing)) = (&panel.sizes, case.project.drawing_of(id)) else { return };
    let split = masses::split_of(case.shop, panel, drawing);
    let (grows, room) = (masses::movement_mm(panel, drawing, split.as_ref()), sizes.room_mm());
    if grows > room {
        let mm = |mm: f64| case.shop.book.units.show(Millimetres(mm));
        warnings.push(Warning {
            code: "movement-room",
            panels: vec![id.clone()],
            message: format!("it may grow by {} and has {} free across it", mm(grows), mm(room)),
            source: "linear expansion of acrylic, handbook value from memory; swing of 40 K, common practice, no source",
        });
    }
}

fn colour_temperature(id: &PanelId, panel: &Panel, stone: &Swatch, warnings: &mut Vec<Warning>) {
    let Some(cct) = panel.light.as_ref().and_then(|l| l.cct_k) else { return };
    let usual = practice::cct(stone.tone, stone.texture);
    let stands = match usual.standing(f64::from(cct)) {
        Standing::BelowFloor | Standing::Unusual => "is not usual",
        Standing::Divided => "is usual for its tone and not for its pattern",
        Standing::Preferred | Standing::NoRule => return,
    };
    warnings.push(Warning {
        code: "unusual-cct",
        panels: vec![id.clone()],
        message: format!("{cct} K under {} {stands}: {}", stone.stone, usual.sentence),
        source: usual.source,
    });
}

fn face(case: &Case<'_>, id: &PanelId, panel: &Panel, stone: &Swatch, warnings: &mut Vec<Warning>) {
    let usual = practice::face(stone.slab.thickness_mm, case.shop.book.units);
    if let (Some(chosen), Some(advised)) = (panel.face, usual.face)
        && chosen != advised
    {
        warnings.push(Warning {
            code: "unusual-face",
            panels: vec![id.clone()],
            message: format!("the {chosen} face is not usual here: {}", usual.sentence),
            source: usual.source,
        });
    }
}

/// Compares the stone's luminance over the panel's own light with the room's surfaces. Thickness leaves a range:
/// what is dim even at its bright end is said as such, and what is dim at its dark end only as a doubt.
fn luminance(case: &Case<'_>, id: &PanelId, panel: &Panel, stone: &Swatch, warnings: &mut Vec<Warning>) {
    if let Some(Err(error)) = brightness::at_slab(stone, case.project) {
        warnings.push(Warning {
            code: "measurements-contradict",
            panels: Vec::new(),
            message: format!("{}: {error}; {}", stone.id, error.remedy()),
            source: "measured on the swatch and in the trials",
        });
    }
    for reading in brightness::lux_readings(stone, case.project) {
        let (Some(off), what) = (reading.too_far, reading.at.in_words()) else { continue };
        warnings.push(Warning {
            code: "measurements-contradict",
            panels: Vec::new(),
            message: format!(
                "{}: {what} read {} times what its spectrum or photo tells, so its lux readings are left out: check the \
                 readings, the panel and that it was this stone",
                stone.id,
                trimmed(off, 2)
            ),
            source: "measured on the swatch and in the trials",
        });
    }
    // From the gate of the choice on, the gate says it where the shop's rules ask for the waiver.
    if bright_enough::asked(case, id) && case.project.standing().stage >= Stage::Selection {
        return;
    }
    let Some(dim) = brightness::dim(case, id, panel, Law::Present) else { return };
    let (found, least) = (&dim.found, dim.least);
    let [low, high] = found.ratio();
    let range = |low: f64, high: f64, places: usize| {
        let (low, high) = (trimmed(low, places), trimmed(high, places));
        if low == high { low } else { format!("{low} to {high}") }
    };
    let bounds = found.stone.bounds;
    let far = if found.stone.extrapolated {
        "; the slab lies beyond half or twice the measured thickness"
    } else {
        ""
    };
    warnings.push(Warning {
        code: "dim",
        panels: vec![id.clone()],
        message: format!(
            "{} at {} {} {} times as bright as its surroundings; the shop wants {} or more. {} lx leave \
             the face, {} % pass the stone: {} cd/m² against {} cd/m²{far}",
            stone.stone,
            case.shop.book.units.show(stone.slab.thickness_mm),
            if dim.is_certain() { "will be" } else { "may be only" },
            range(low, high, 2),
            trimmed(least, 2),
            trimmed(found.panel.exitance_lx.get(), 0),
            range(bounds.low * 100.0, bounds.high * 100.0, 2),
            range(found.luminance_cd_m2[0], found.luminance_cd_m2[1], 1),
            trimmed(found.room_cd_m2, 1),
        ),
        source: "worked out from the measured stone and the panel's tape; luminance of a matt surface is illuminance times reflectance over π",
    });
}

/// How far the colour temperature of a measured panel may lie from the chosen one and still speak for it, in kelvin.
const SAME_CCT_K: u32 = 250;

/// Looks at the tint of the chosen white: of the test panel, where its spectrum was measured, and of a two-channel
/// white by typical channels, which leaves the Planckian locus in the middle of its range.
fn tint(case: &Case<'_>, id: &PanelId, panel: &Panel, stone: &Swatch, warnings: &mut Vec<Warning>) {
    let Some(light) = &panel.light else { return };
    let Some(cct) = light.cct_k else { return };
    let measured = stone.measured.iter().filter_map(|m| {
        let (own, duv) = (m.panel_cct_k?, m.found.as_ref()?.panel_duv?);
        (own.abs_diff(cct) <= SAME_CCT_K).then_some((m, own, duv))
    });
    for (m, own, duv) in measured {
        if !duv_within_tolerance(f64::from(own), duv) {
            warnings.push(Warning {
                code: "tint",
                panels: vec![id.clone()],
                message: format!(
                    "the test panel measured at {own} K (measurement {} of {}) has Duv {duv:+.4}, {} than \
                     a good white; the panel to be built should not repeat it",
                    m.id,
                    stone.id,
                    if duv > target_duv(f64::from(own)) { "greener" } else { "pinker" }
                ),
                source: "tolerance of ANSI C78.377, from memory",
            });
        }
    }
    mixed_white(case, id, panel, cct, warnings);
    let range = light
        .kind
        .cct_can_be_set()
        .then(|| case.shop.lights.of_kind(light.kind).find(|t| t.gives_cct(cct))?.cct_range_k)
        .flatten();
    let Some(range) = range else { return };
    let ends = channel_white(f64::from(range.warmest)).zip(channel_white(f64::from(range.coolest)));
    let Some(mix) = ends.and_then(|(warm, cool)| white_at(&warm, &cool, f64::from(cct)).ok()) else { return };
    if !mix.duv_within_tolerance {
        warnings.push(Warning {
            code: "tint",
            panels: vec![id.clone()],
            message: format!(
                "a white mixed from {} K and {} K lies off the whites in the middle of its range, Duv \
                 {:+.4} at {cct} K; look at it over the test panel",
                range.warmest, range.coolest, mix.white.duv
            ),
            source: "estimated with typical LED whites; tolerance of ANSI C78.377, from memory",
        });
    }
}

/// Says where a white is none of the tape's own but is mixed from all its channels.
fn mixed_white(case: &Case<'_>, id: &PanelId, panel: &Panel, cct: u32, warnings: &mut Vec<Warning>) {
    let named = panel.tape.as_ref().and_then(|tape| case.shop.lights.get(tape.as_str()));
    let tape = named
        .filter(|tape| panel.light.as_ref().is_some_and(|l| l.kind == tape.kind))
        .or_else(|| case.shop.lights.of_kind(panel.light.as_ref()?.kind).next());
    let Some(tape) = tape.filter(|tape| tape.kind == LightKind::Rgbw) else { return };
    let Some(Gives::Mixed { white_share }) = gives(tape, cct) else { return };
    let own: Vec<String> = tape.offered_cct_k.iter().map(|k| format!("{k} K")).collect();
    warnings.push(Warning {
        code: "mixed-white",
        panels: vec![id.clone()],
        message: format!(
            "tape {} has a white of {}; its {cct} K is mixed from all its channels, about {} % of the \
             flux from the white one; such a white shows colours less truly, so look at it over the test panel",
            tape.id,
            own.join(" or "),
            trimmed(white_share * 100.0, 0)
        ),
        source: "estimated with typical channels",
    });
}

/// The least web that is taken where no route states one, in millimetres.
const USUAL_LEAST_WEB_MM: f64 = 10.0;

/// Webs and necks of material that are narrower than the shop leaves, each with the least width and whose limit it is.
#[must_use]
pub(crate) fn narrow_in(
    shop: &Shop,
    panel: &Panel,
    outline: &Outline,
) -> Vec<(Narrow, Millimetres, &'static str)> {
    let stated = match &panel.route {
        Some(route) => shop.routes.get(route.as_str()).and_then(|r| r.least_web_mm),
        None => {
            shop.routes.routes.iter().filter_map(|r| r.least_web_mm).reduce(|a, b| if b < a { b } else { a })
        }
    };
    let (least, source) = match stated {
        Some(least) => (least, "the shop's routes"),
        None => (Millimetres(USUAL_LEAST_WEB_MM), practice::SOURCE),
    };
    narrow_places(outline, least.0).into_iter().map(|place| (place, least, source)).collect()
}

fn narrow(case: &Case<'_>, id: &PanelId, panel: &Panel, warnings: &mut Vec<Warning>) {
    let Some(drawing) = case.project.drawing_of(id) else { return };
    let units = case.shop.book.units;
    for (place, least, source) in narrow_in(case.shop, panel, &drawing.outline) {
        warnings.push(Warning {
            code: "narrow-web",
            panels: vec![id.clone()],
            message: format!(
                "{}; at least {} is wanted, or it may break",
                place.in_words(units),
                units.show(least)
            ),
            source,
        });
    }
}

/// A drawing with etched lines, on a panel that is not recorded as etched: from before there was a field for it.
fn etched(case: &Case<'_>, id: &PanelId, panel: &Panel, warnings: &mut Vec<Warning>) {
    let Some(drawing) = case.project.drawing_of(id) else { return };
    if panel.etching.is_none() && !drawing.outline.etchings.is_empty() {
        warnings.push(Warning {
            code: "etching-unsigned",
            panels: vec![id.clone()],
            message: format!(
                "its drawing has etched lines, and its record does not say so; record them, so that they \
                 are signed: underlit panel change {} {id} --etching \"…\"",
                case.id()
            ),
            source: practice::SOURCE,
        });
    }
}

fn off(case: &Case<'_>, id: &PanelId, panel: &Panel, warnings: &mut Vec<Warning>) {
    let drawn = case.project.drawing_of(id).map(|drawing| off_panel(panel, drawing.as_drawn(panel)));
    warnings.extend(drawn.into_iter().flatten().map(|off| Warning {
        code: "off-panel",
        panels: vec![id.clone()],
        message: format!("{}; {}", off.message, off.fix),
        source: "worked out from its drawing",
    }));
}

fn lit_edges(case: &Case<'_>, id: &PanelId, panel: &Panel, warnings: &mut Vec<Warning>) {
    let Some(drawing) = case.project.drawing_of(id) else { return };
    let lit = panel.lit_edges.len();
    if lit > 2 && drawing.figures.shape != ShapeClass::Square && drawing.figures.shape != ShapeClass::Circle {
        warnings.push(Warning {
            code: "uneven-light",
            panels: vec![id.clone()],
            message: format!(
                "{lit} lit edges on a {} light it unevenly; two opposite long edges light it better",
                drawing.figures.shape
            ),
            source: practice::SOURCE,
        });
    }
    if panel.light.as_ref().is_some_and(|l| matches!(l.kind, LightKind::Rgbw | LightKind::RgbTunableWhite)) {
        warnings.push(Warning {
            code: "deep-colours",
            panels: vec![id.clone()],
            message: practice::DEEP_COLOURS.to_owned(),
            source: practice::SOURCE,
        });
    }
}

//! The spectral plot: what the stone lets through, how sure that is, and the lights' spectra behind it (SVG).

use std::fmt::Write;

use super::drawing::{FONT, shortened};
use super::look::{Candidate, Stone};
use super::spectrum::{FIRST_NM, LAST_NM, Spd, Transmittance};
use crate::markup::escaped;

const WIDTH: f64 = 960.0;
const LEFT: f64 = 84.0;
const RIGHT: f64 = 936.0;
const TOP: f64 = 108.0;
const BOTTOM: f64 = 456.0;

/// Line colours of the lights, told apart by most kinds of colour vision (Okabe & Ito 2008, from memory).
const LIGHT_COLOURS: [&str; 8] =
    ["#d55e00", "#e69f00", "#009e73", "#0072b2", "#56b4e9", "#cc79a7", "#7f7f7f", "#000000"];
/// Their dashes, so that they are told apart without colours too; with the colours they part forty lights.
const LIGHT_DASHES: [&str; 5] = ["none", "7 3", "2 3", "11 3 2 3", "5 5"];
/// Entries of the legend beside one another, and the height of one row of them.
const LEGEND_COLUMNS: usize = 5;
const LEGEND_ROW: f64 = 24.0;

/// Draws a stone's spectra over the candidates' lights as SVG text; the same input gives the same text.
///
/// The stone's scale is on the left in percent; each light is drawn to its own peak, as only its shape
/// matters. Where the spectrum was estimated, the band holds nine of ten cases.
#[must_use]
pub fn svg(title: &str, stone: &Stone, candidates: &[Candidate]) -> String {
    let spectra = stone.body_spectra();
    let vein = stone.vein_spectrum();
    let highest =
        spectra.iter().flatten().chain(&vein).flat_map(|t| t.values().iter().copied()).fold(0.0, f64::max);
    let top = nice_top(highest);
    let entries = candidates.len() + usize::from(spectra.is_some()) + usize::from(vein.is_some());
    let height = BOTTOM + 100.0 + LEGEND_ROW * entries.div_ceil(LEGEND_COLUMNS).saturating_sub(1) as f64;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{height}\" \
         viewBox=\"0 0 {WIDTH} {height}\" font-family=\"{FONT}, sans-serif\">\
         <rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#ffffff\"/>\
         <text x=\"{LEFT}\" y=\"40\" font-size=\"22\" font-weight=\"bold\" fill=\"#222222\">{}</text>",
        escaped(&shortened(title, RIGHT - LEFT, 24.0))
    );
    let method = stone.method().map_or("nothing measured", super::recover::Method::words);
    let _ = write!(
        out,
        "<g font-size=\"14\" fill=\"#555555\"><text x=\"{LEFT}\" y=\"66\">Transmittance of the piece as \
         measured, {}</text><text x=\"{LEFT}\" y=\"86\">Band: holds nine of ten cases. Thin lines: the \
         lights, each to its own peak.</text></g>",
        escaped(method)
    );
    axes(&mut out, top);
    for (i, candidate) in candidates.iter().enumerate() {
        let colour = LIGHT_COLOURS[i % LIGHT_COLOURS.len()];
        let _ = write!(
            out,
            "<path d=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.4\" stroke-opacity=\"0.85\" \
             stroke-dasharray=\"{}\"/>",
            light_path(&candidate.light),
            LIGHT_DASHES[i % LIGHT_DASHES.len()]
        );
    }
    if let Some([body, a, b]) = &spectra {
        let _ = write!(out, "<path d=\"{}\" fill=\"#8a5a2b\" fill-opacity=\"0.18\"/>", band(a, b, top));
        let _ = write!(
            out,
            "<path d=\"{}\" fill=\"none\" stroke=\"#8a5a2b\" stroke-width=\"3\"/>",
            stone_path(body, top)
        );
    }
    if let Some(vein) = &vein {
        let _ = write!(
            out,
            "<path d=\"{}\" fill=\"none\" stroke=\"#5b2333\" stroke-width=\"3\" stroke-dasharray=\"9 5\"/>",
            stone_path(vein, top)
        );
    }
    legend(&mut out, candidates, spectra.is_some(), vein.is_some());
    out.push_str("</svg>\n");
    out
}

fn x(nm: f64) -> f64 {
    LEFT + (nm - FIRST_NM as f64) / (LAST_NM - FIRST_NM) as f64 * (RIGHT - LEFT)
}

fn y(share: f64) -> f64 {
    BOTTOM - share.clamp(0.0, 1.0) * (BOTTOM - TOP)
}

/// A scale's end that leaves a little air: 1, 2 or 5 times a power of ten, at most everything.
fn nice_top(highest: f64) -> f64 {
    let wanted = highest * 1.08;
    for power in -4..=0 {
        for step in [1.0, 2.0, 5.0] {
            let end = step * 10f64.powi(power);
            if end >= wanted {
                return end.min(1.0);
            }
        }
    }
    1.0
}

fn axes(out: &mut String, top: f64) {
    // Fifths of 5 and of 10, quarters of 2: round numbers all.
    let steps = if crate::units::trimmed(top * 1000.0, 6).starts_with('2') { 4 } else { 5 };
    for step in 0..=steps {
        let share = f64::from(step) / f64::from(steps);
        let _ = write!(
            out,
            "<path d=\"M{LEFT} {0:.1}H{RIGHT}\" stroke=\"#dddddd\"/><text x=\"{1:.1}\" y=\"{2:.1}\" \
             font-size=\"14\" text-anchor=\"end\" fill=\"#444444\">{3} %</text>",
            y(share),
            LEFT - 8.0,
            y(share) + 5.0,
            crate::units::trimmed(share * top * 100.0, 3)
        );
    }
    for nm in (400..=750).step_by(50) {
        let at = x(f64::from(nm));
        let _ = write!(
            out,
            "<path d=\"M{at:.1} {TOP}V{BOTTOM}\" stroke=\"#eeeeee\"/><text x=\"{at:.1}\" y=\"{:.1}\" \
             font-size=\"14\" text-anchor=\"middle\" fill=\"#444444\">{nm}</text>",
            BOTTOM + 22.0
        );
    }
    let _ = write!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"14\" text-anchor=\"middle\" fill=\"#444444\">wavelength, \
         nm</text><path d=\"M{LEFT} {TOP}V{BOTTOM}H{RIGHT}\" fill=\"none\" stroke=\"#444444\"/>",
        (LEFT + RIGHT) / 2.0,
        BOTTOM + 42.0
    );
}

fn path(values: impl Iterator<Item = f64>) -> String {
    let mut text = String::new();
    for (i, share) in values.enumerate().step_by(2) {
        let start = if i == 0 { 'M' } else { 'L' };
        let _ = write!(text, "{start}{:.1} {:.1}", x((FIRST_NM + i) as f64), y(share));
    }
    text
}

fn stone_path(stone: &Transmittance, top: f64) -> String {
    path(stone.values().iter().map(|t| t / top))
}

fn light_path(light: &Spd) -> String {
    let peak = light.values().iter().copied().fold(0.0, f64::max);
    // Nine tenths of the height, so that lights and axis do not touch.
    path(light.values().iter().map(|v| v / peak * 0.9))
}

fn band(a: &Transmittance, b: &Transmittance, top: f64) -> String {
    let pairs = || a.values().iter().zip(b.values());
    let upper = path(pairs().map(|(a, b)| a.max(*b) / top));
    let mut lower = String::new();
    for (i, (a, b)) in pairs().enumerate().step_by(2).collect::<Vec<_>>().into_iter().rev() {
        let _ = write!(lower, "L{:.1} {:.1}", x((FIRST_NM + i) as f64), y(a.min(*b) / top));
    }
    format!("{upper}{lower}Z")
}

fn legend(out: &mut String, candidates: &[Candidate], body: bool, vein: bool) {
    let mut entries: Vec<(&str, String, String)> = Vec::new();
    if body {
        entries.push(("body", "#8a5a2b".into(), "stroke-width=\"3\"".into()));
    }
    if vein {
        entries.push(("vein", "#5b2333".into(), "stroke-width=\"3\" stroke-dasharray=\"9 5\"".into()));
    }
    for (i, candidate) in candidates.iter().enumerate() {
        let colour = LIGHT_COLOURS[i % LIGHT_COLOURS.len()];
        let dash = LIGHT_DASHES[i % LIGHT_DASHES.len()];
        entries.push((
            &candidate.label,
            colour.into(),
            format!("stroke-width=\"2\" stroke-dasharray=\"{dash}\""),
        ));
    }
    for (i, (label, colour, style)) in entries.iter().enumerate() {
        let (column, row) = (i % LEGEND_COLUMNS, i / LEGEND_COLUMNS);
        let (left, top) = (LEFT + column as f64 * 172.0, BOTTOM + 72.0 + row as f64 * LEGEND_ROW);
        let _ = write!(
            out,
            "<path d=\"M{left:.1} {:.1}h44\" stroke=\"{colour}\" {style} fill=\"none\"/><text x=\"{:.1}\" \
             y=\"{:.1}\" font-size=\"14\" fill=\"#222222\">{}</text>",
            top - 5.0,
            left + 52.0,
            top,
            escaped(&shortened(label, 114.0, 14.0))
        );
    }
}

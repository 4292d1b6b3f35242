//! The four sides of a view, where dimensions stand: lines out of the panel, running dimensions from the datum,
//! overall dimensions and chains.

use crate::shape::Point;
use crate::units::DisplayUnits;

use super::super::canvas::{Anchor, Reading};
use super::super::ink::{ABOVE, BELOW, CAPITALS, DIMENSION, LineStyle, SMALL};
use super::super::lettering::width_mm;
use super::super::scale::Measure;
use super::Sketch;

/// Between the panel and what stands outside it, in millimetres.
pub(super) const GAP_MM: f64 = 2.5;
/// The same where lit edges are drawn beside the outline.
pub(super) const LIT_GAP_MM: f64 = 5.0;
/// Length of the slanted part of a running dimension's line, in millimetres.
const SLANT_MM: f64 = 3.0;
/// Between neighbouring running dimensions, in millimetres.
pub(super) const RUNNING_APART_MM: f64 = SMALL.size_mm * (ABOVE + BELOW) + 1.5;
/// From the last thing to a dimension line, with room for the text above it, in millimetres.
const ABOVE_LINE_MM: f64 = DIMENSION.size_mm * ABOVE + 1.6;
/// Below a dimension line, with room for the other unit, in millimetres.
const BELOW_LINE_MM: f64 = SMALL.size_mm * (ABOVE + BELOW) + 1.2;
/// Length of an arrow head, in millimetres.
pub(super) const ARROW_MM: f64 = 3.0;

/// A side of the view.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Bottom,
    Left,
    Top,
    Right,
}

/// A running dimension: a feature's distance from the datum along the side.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Running {
    /// The distance from the datum in millimetres of the panel.
    pub(super) value_mm: f64,
    /// The feature on the panel.
    pub(super) feature: Point,
}

/// All that stands on one side.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct SidePlan {
    /// Running dimensions by rising value, without the ends of the panel.
    pub(super) running: Vec<Running>,
    /// Places of the panel's own ends and of seams between them, to be chained; empty where there are none.
    pub(super) chain_mm: Vec<f64>,
    /// The overall length, and its text where it is not the bare length.
    pub(super) overall: Option<(f64, Option<Measure>)>,
}

impl SidePlan {
    fn running_depth(&self, units: DisplayUnits) -> f64 {
        let longest = self
            .running
            .iter()
            .map(|r| width_mm(&Measure::of(r.value_mm, units).both(), SMALL))
            .fold(0.0, f64::max);
        if self.running.is_empty() { 0.0 } else { SLANT_MM + longest + 2.0 }
    }

    /// How deep the side is, in millimetres on paper.
    pub(super) fn depth(&self, gap: f64, units: DisplayUnits) -> f64 {
        let line = ABOVE_LINE_MM + BELOW_LINE_MM;
        let chain = if self.chain_mm.is_empty() { 0.0 } else { line };
        let overall = if self.overall.is_some() { line } else { 0.0 };
        gap + self.running_depth(units) + chain + overall
    }
}

/// Draws what stands on a side.
pub(super) fn draw_side(sketch: &mut Sketch<'_>, side: Side, plan: &SidePlan, gap: f64) {
    let units = sketch.input.units;
    let mut out = gap;
    if !plan.running.is_empty() {
        draw_running(sketch, side, plan, gap);
        out += plan.running_depth(units);
    }
    if !plan.chain_mm.is_empty() {
        out += ABOVE_LINE_MM;
        for pair in plan.chain_mm.windows(2) {
            let text = Measure::of(pair[1] - pair[0], units);
            draw_dimension(sketch, side, (pair[0], pair[1]), out, &text);
        }
        for &place in &plan.chain_mm {
            let ends = place == plan.chain_mm[0] || Some(&place) == plan.chain_mm.last();
            let from = if ends { sketch.end_feature(side, place) } else { None };
            draw_extension(sketch, side, place, from, out + 1.5);
        }
        out += BELOW_LINE_MM;
    }
    if let Some((length, text)) = &plan.overall {
        out += ABOVE_LINE_MM;
        let text = text.clone().unwrap_or_else(|| Measure::of(*length, units));
        draw_dimension(sketch, side, (0.0, *length), out, &text);
        for place in [0.0, *length] {
            let from = sketch.end_feature(side, place);
            draw_extension(sketch, side, place, from, out + 1.5);
        }
    }
}

/// A line from the panel's end, or from beside the panel, outward.
fn draw_extension(sketch: &mut Sketch<'_>, side: Side, place_mm: f64, from: Option<Point>, to_out: f64) {
    let along = sketch.along(side, place_mm);
    let start_out = match from {
        Some(feature) => clear_of_outline(sketch, side, feature),
        None => 1.0,
    };
    let (a, b) = (sketch.place(side, along, start_out), sketch.place(side, along, to_out));
    sketch.line(a, b, LineStyle::Narrow);
}

/// How far out a line from a feature begins so that it does not run along the outline, as it would from the
/// crown of an arc.
fn clear_of_outline(sketch: &Sketch<'_>, side: Side, feature: Point) -> f64 {
    let along = match side {
        Side::Bottom | Side::Top => feature.x,
        Side::Left | Side::Right => feature.y,
    };
    let apart = if sketch.input.lit_edges.is_empty() { 1.0 } else { super::LIT_OFF_MM + 1.2 };
    let mut out = sketch.out_of(side, feature) + 1.0;
    // On a straight end the line is clear at once or never; then it begins at its usual distance.
    while out < 1.0 - super::NEAR_MM {
        let at = sketch.place(side, along, out);
        if sketch.distance_to_outline(at) >= apart {
            break;
        }
        out += 0.5;
    }
    out
}

/// A dimension line with arrows and its text: above it in the book's unit, below it in the other.
fn draw_dimension(sketch: &mut Sketch<'_>, side: Side, (from, to): (f64, f64), out: f64, text: &Measure) {
    let (from, to) = (sketch.along(side, from), sketch.along(side, to));
    let (a, b) = (sketch.place(side, from, out), sketch.place(side, to, out));
    let length = a.distance(b);
    let outside = length < 2.0 * ARROW_MM + 1.0;
    if outside {
        let way = (b - a).unit() * (2.0 * ARROW_MM);
        sketch.line(a - way, b + way, LineStyle::Narrow);
        sketch.canvas.arrow_head(a, a - way, ARROW_MM);
        sketch.canvas.arrow_head(b, b + way, ARROW_MM);
    } else {
        sketch.line(a, b, LineStyle::Narrow);
        sketch.canvas.arrow_head(a, b, ARROW_MM);
        sketch.canvas.arrow_head(b, a, ARROW_MM);
    }
    let middle = a.towards(b, 0.5);
    let (above, below) = (0.9 + BELOW * DIMENSION.size_mm * 0.2, 0.9 + CAPITALS * SMALL.size_mm);
    let (reading, first, second) = match side {
        Side::Bottom | Side::Top => {
            (Reading::Level, middle + Point::new(0.0, -above), middle + Point::new(0.0, below))
        }
        Side::Left | Side::Right => {
            (Reading::Upward, middle + Point::new(-above, 0.0), middle + Point::new(below, 0.0))
        }
    };
    sketch.write(&text.first, first, Anchor::Middle, DIMENSION, reading);
    sketch.write(&text.second, second, Anchor::Middle, SMALL, reading);
}

fn draw_running(sketch: &mut Sketch<'_>, side: Side, plan: &SidePlan, gap: f64) {
    let units = sketch.input.units;
    let depth = plan.running_depth(units);
    let length_mm = sketch.length_mm(side);
    // The datum and the far end have lines that cannot move; the others keep clear of them and each other.
    let ends = (sketch.along(side, 0.0), sketch.along(side, length_mm));
    // Text stands before its line in page order: left of it, or above it.
    let rising = ends.1 > ends.0;
    let wished: Vec<f64> = plan.running.iter().map(|r| sketch.along(side, r.value_mm)).collect();
    let low = ends.0.min(ends.1) + RUNNING_APART_MM;
    let high = ends.0.max(ends.1) - if rising { 1.2 } else { RUNNING_APART_MM };
    let mut order: Vec<usize> = (0..wished.len()).collect();
    if !rising {
        order.reverse();
    }
    let sorted: Vec<f64> = order.iter().map(|&i| wished[i]).collect();
    let spread = spread_apart(&sorted, RUNNING_APART_MM, low, high);
    for (&i, &line) in order.iter().zip(&spread) {
        let running = &plan.running[i];
        let start = sketch.place(
            side,
            wished[i],
            sketch.out_of(side, sketch.projection.point(running.feature)) + 1.0,
        );
        let bend = sketch.place(side, wished[i], gap);
        let straight = sketch.place(side, line, gap + SLANT_MM);
        let end = sketch.place(side, line, gap + depth - 0.5);
        sketch.polyline(&[start, bend, straight, end], LineStyle::Narrow);
        write_running(sketch, side, line, gap, &Measure::of(running.value_mm, units).both());
    }
    // The datum's own line carries the zero.
    let datum = sketch.along(side, 0.0);
    write_running(sketch, side, datum, gap, "0");
    if plan.overall.is_none() && plan.chain_mm.is_empty() {
        let from = sketch.end_feature(side, 0.0);
        draw_extension(sketch, side, 0.0, from, gap + depth - 0.5);
    }
}

fn write_running(sketch: &mut Sketch<'_>, side: Side, line: f64, gap: f64, text: &str) {
    let baseline = line - 0.6 - BELOW * SMALL.size_mm;
    let at = sketch.place(side, baseline, gap + SLANT_MM + 1.0);
    let (anchor, reading) = match side {
        Side::Bottom => (Anchor::End, Reading::Upward),
        Side::Top => (Anchor::Start, Reading::Upward),
        Side::Left => (Anchor::End, Reading::Level),
        Side::Right => (Anchor::Start, Reading::Level),
    };
    sketch.write(text, at, anchor, SMALL, reading);
}

/// How many running dimensions a side of a length on paper holds.
pub(super) fn most_running(length_on_paper: f64) -> usize {
    ((length_on_paper - 2.0 * RUNNING_APART_MM) / RUNNING_APART_MM).floor().max(0.0) as usize + 1
}

/// Places nearest to the wished ones (least squares) that keep `apart` and stay within `low..high`; the wished
/// ones must rise. Pool adjacent violators (Ayer et al. 1955).
fn spread_apart(wished: &[f64], apart: f64, low: f64, high: f64) -> Vec<f64> {
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (i, wish) in wished.iter().enumerate() {
        pools.push((wish - i as f64 * apart, 1));
        while pools.len() > 1 && pools[pools.len() - 2].0 > pools[pools.len() - 1].0 {
            let (b, n) = pools.pop().unwrap_or_default();
            let (a, m) = pools.pop().unwrap_or_default();
            pools.push(((a * m as f64 + b * n as f64) / (m + n) as f64, m + n));
        }
    }
    let room = high - wished.len().saturating_sub(1) as f64 * apart;
    pools
        .iter()
        .flat_map(|&(mean, count)| std::iter::repeat_n(mean.min(room).max(low.min(room)), count))
        .enumerate()
        .map(|(i, z)| z + i as f64 * apart)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::spread_apart;

    #[test]
    fn crowded_places_spread_evenly_about_their_wishes() {
        let spread = spread_apart(&[10.0, 10.0, 10.0, 50.0], 4.0, 0.0, 100.0);
        assert_eq!(spread, [6.0, 10.0, 14.0, 50.0]);
        let at_the_end = spread_apart(&[98.0, 99.0], 4.0, 0.0, 100.0);
        assert!(at_the_end[1] <= 100.0 && at_the_end[1] - at_the_end[0] >= 4.0 - 1e-9, "{at_the_end:?}");
    }
}

//! A bent panel before its tape: the edges along which tape would be bent the wrong way.
//!
//! Tape lies flat on the edge of the light guide. Along the axis of the bend that edge stays straight. Along an edge that
//! runs round the bend, tape would have to bend in its own plane, which a flat strip does not do unless it is made for it.

use crate::model::panel::{Bend, BendAxis, Panel};
use crate::model::snapshot::Drawing;
use crate::power::lights::Light;
use crate::shape::Edge;
use crate::units::{DisplayUnits, Millimetres};

/// Ends this near to one line along the axis are on it, in millimetres.
const ON_ONE_LINE_MM: f64 = 0.01;

/// How far a flat outline reaches across the axis of a bend.
#[must_use]
pub(crate) fn across_mm(bend: &Bend, drawing: &Drawing) -> Millimetres {
    Millimetres(match bend.axis {
        BendAxis::Upright => drawing.figures.width_mm,
        BendAxis::Level => drawing.figures.height_mm,
    })
}

fn runs_along(edge: &Edge, axis: BendAxis) -> bool {
    let way = edge.end() - edge.start();
    let off = match axis {
        BendAxis::Upright => way.x,
        BendAxis::Level => way.y,
    };
    edge.is_straight() && off.abs() <= ON_ONE_LINE_MM
}

/// Why a tape does not follow the lit edges of a bent panel; none where it does. A panel whose record does not say how it
/// is formed is one of before that was asked.
#[must_use]
pub(super) fn against_tape(
    units: DisplayUnits,
    panel: &Panel,
    drawing: &Drawing,
    tape: &Light,
) -> Option<String> {
    let bend = panel.bent.as_ref().filter(|bend| bend.formed.is_some())?;
    if tape.least_sideways_radius_mm.is_some_and(|least| bend.radius_mm.0 >= least.0) {
        return None;
    }
    let named = |along: bool| -> Vec<String> {
        let edges = drawing.figures.edges.iter().filter(|edge| runs_along(edge, bend.axis) == along);
        edges.map(|edge| edge.number.to_string()).collect()
    };
    let lit = |number: &String| panel.lit_edges.iter().any(|lit| lit.to_string() == *number);
    let round: Vec<String> = named(false).into_iter().filter(lit).collect();
    let allows = match tape.least_sideways_radius_mm {
        Some(least) => format!("which the tape {} allows to {} at least", tape.id, units.show(least)),
        None => format!("which the tape {} does not allow", tape.id),
    };
    let along = named(true);
    let instead = match along.as_slice() {
        [] => "no edge of this panel runs along the axis".to_owned(),
        edges => format!("light the edges along the axis instead ({})", edges.join(", ")),
    };
    let run = match round.as_slice() {
        [edge] => format!("lit edge {edge} runs"),
        [edges @ .., last] => format!("lit edges {} and {last} run", edges.join(", ")),
        [] => return None,
    };
    Some(format!(
        "{run} round the bend of {}: tape there would be bent in its own plane, {allows}; {instead}, or take a tape that \
         bends so",
        units.show(bend.radius_mm)
    ))
}

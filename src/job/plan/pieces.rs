//! How a panel is split, and where its tape runs: along the lit edges of the whole, or of each piece.

use crate::making::route_fit::usable_sheet;
use crate::making::routes::Route;
use crate::model::panel::{Panel, Seam};
use crate::model::snapshot::{Drawing, Shop};
use crate::power::light_build::LitEdge;
use crate::power::light_choice::lay;
use crate::power::lights::Light;
use crate::shape::{self, ShapeError, Sheet, SplitLimits, SplitOption, TapeLimits};
use crate::units::Millimetres;

/// How far a seam stays from a cut-out. Common practice, no source.
const CLEAR_OF_CUTOUTS_MM: f64 = 30.0;

/// The most pieces that a panel is split into.
const MOST_PIECES: usize = 24;

/// Seams closer than this are the same seam.
const SAME_SEAM_MM: f64 = 0.01;

/// What a tape can follow; where no tape is chosen yet, any edge may turn out to carry one.
#[must_use]
pub(crate) fn tape_limits(tape: Option<&Light>) -> TapeLimits {
    TapeLimits {
        shortest_mm: tape.map_or(0.0, |t| t.cut_interval_mm.0),
        least_bend_radius_mm: Some(tape.map_or(0.0, |t| t.least_bend_radius_mm.0)),
    }
}

/// How many pieces a panel's seams make of it.
#[must_use]
pub(crate) fn count(panel: &Panel, drawing: Option<&Drawing>) -> usize {
    let Some(drawing) = drawing else { return panel.seams.len() + 1 };
    shape::piece_count(&drawing.outline, &ends(&panel.seams))
}

fn ends(seams: &[Seam]) -> Vec<(shape::Point, shape::Point)> {
    let point = |p: &[Millimetres; 2]| shape::Point::new(p[0].0, p[1].0);
    seams.iter().map(|s| (point(&s.from_mm), point(&s.to_mm))).collect()
}

/// The ways to split a panel for a route, best first; one piece without seams where it fits whole.
///
/// # Errors
/// Where no split within the route's limits was found, with the reason most likely at fault.
pub fn options(
    route: &Route,
    tape: Option<&Light>,
    panel: &Panel,
    drawing: &Drawing,
) -> Result<Vec<SplitOption>, ShapeError> {
    shape::split(&drawing.outline, &limits(route, tape, panel))
}

/// The split along seams that somebody drew, judged by the same rules as a proposed one; `within_mm` is how far a drawn
/// end may be off the border.
///
/// # Errors
/// Which seam or piece breaks which rule.
pub(crate) fn along(
    route: &Route,
    tape: Option<&Light>,
    panel: &Panel,
    drawing: &Drawing,
    seams: &[Seam],
    within_mm: f64,
) -> Result<SplitOption, ShapeError> {
    shape::split_along(&drawing.outline, &ends(seams), within_mm, &limits(route, tape, panel))
}

fn limits(route: &Route, tape: Option<&Light>, panel: &Panel) -> SplitLimits {
    let (width, height) = usable_sheet(route);
    SplitLimits {
        sheet: Sheet { width_mm: width.0, height_mm: height.0 },
        least_piece_mm: route.least_width_mm.0,
        clear_of_cutouts_mm: CLEAR_OF_CUTOUTS_MM,
        tape: tape_limits(tape),
        lit_edges: panel.lit_edges.iter().map(|n| *n as usize).collect(),
        most_pieces: MOST_PIECES,
    }
}

/// The split that a panel's record settles, by the first of the shop's routes that can make it; only the panel's own route
/// where it names one. Its pieces are numbered in this order, on the sheet and in the names of the cut files.
#[must_use]
pub(crate) fn settled_by_shop(
    shop: &Shop,
    tape: Option<&Light>,
    panel: &Panel,
    drawing: &Drawing,
) -> Option<SplitOption> {
    let routes = &shop.routes.routes;
    routes
        .iter()
        .filter(|r| panel.route.as_ref().is_none_or(|wanted| wanted.as_str() == r.id))
        .find_map(|route| settled(route, tape, panel, drawing))
}

/// The split that a panel's record settles, where a route can make it: one that is proposed, or one along the seams as
/// they were drawn.
#[must_use]
pub(crate) fn settled(
    route: &Route,
    tape: Option<&Light>,
    panel: &Panel,
    drawing: &Drawing,
) -> Option<SplitOption> {
    let proposed = options(route, tape, panel, drawing).unwrap_or_default();
    let settled = proposed.into_iter().find(|o| same_seams(&seams_of(o), &panel.seams));
    settled.or_else(|| {
        let drawn = !panel.seams.is_empty();
        drawn.then(|| along(route, tape, panel, drawing, &panel.seams, SAME_SEAM_MM).ok()).flatten()
    })
}

/// The seams of a split as a record keeps them.
#[must_use]
pub fn seams_of(option: &SplitOption) -> Vec<Seam> {
    let point = |p: shape::Point| [Millimetres(p.x), Millimetres(p.y)];
    option.seams.iter().map(|s| Seam { from_mm: point(s.from), to_mm: point(s.to) }).collect()
}

fn same_seams(a: &[Seam], b: &[Seam]) -> bool {
    let near = |p: &[Millimetres; 2], q: &[Millimetres; 2]| {
        (p[0].0 - q[0].0).abs() <= SAME_SEAM_MM && (p[1].0 - q[1].0).abs() <= SAME_SEAM_MM
    };
    a.len() == b.len()
        && a.iter().zip(b).all(|(a, b)| near(&a.from_mm, &b.from_mm) && near(&a.to_mm, &b.to_mm))
}

/// The pieces of a split panel as its record settles them, by its route or the first of the shop's that can make them;
/// none where it is whole.
#[must_use]
pub(crate) fn pieces(
    shop: &Shop,
    panel: &Panel,
    drawing: &Drawing,
    tape: Option<&Light>,
) -> Option<SplitOption> {
    match (panel.seams.is_empty(), panel.route.as_ref().and_then(|r| shop.routes.get(r.as_str()))) {
        (true, _) => None,
        (false, Some(route)) => settled(route, tape, panel, drawing),
        (false, None) => shop.routes.routes.iter().find_map(|r| settled(r, tape, panel, drawing)),
    }
}

/// The longer side of the smallest rectangle round each piece, in order; of the whole where it is not split.
#[must_use]
pub(crate) fn long_sides(drawing: &Drawing, split: Option<&SplitOption>) -> Vec<Millimetres> {
    match split {
        None => vec![Millimetres(drawing.figures.least_rectangle.long_mm)],
        Some(split) => {
            let long = |piece: &shape::Piece| shape::figures(&piece.outline).least_rectangle.long_mm;
            split.pieces.iter().map(|piece| Millimetres(long(piece))).collect()
        }
    }
}

/// The lit edges with their tapes. Where the panel is split, tape ends at every seam.
#[must_use]
pub(crate) fn lit_edges(shop: &Shop, panel: &Panel, drawing: &Drawing, tape: &Light) -> Vec<LitEdge> {
    lit_edges_of(panel, drawing, tape, pieces(shop, panel, drawing, Some(tape)).as_ref())
}

/// The same, split so.
#[must_use]
pub(crate) fn lit_edges_of(
    panel: &Panel,
    drawing: &Drawing,
    tape: &Light,
    split: Option<&SplitOption>,
) -> Vec<LitEdge> {
    let lit = |number: usize| panel.lit_edges.iter().any(|n| *n as usize == number);
    let laid = |id: &str, edge: &shape::Edge| {
        lay(tape, id, Millimetres(edge.length_mm), edge.least_radius_mm.map(Millimetres))
    };
    match split {
        None => {
            let edges = drawing.figures.edges.iter().filter(|e| lit(e.number));
            edges.map(|e| laid(&e.number.to_string(), e)).collect()
        }
        Some(split) => split
            .pieces
            .iter()
            .enumerate()
            .flat_map(|(at, piece)| {
                let edges = piece.tape_edges(&tape_limits(Some(tape)));
                edges
                    .into_iter()
                    .filter(|e| lit(e.number))
                    .map(|e| LitEdge {
                        piece: at + 1,
                        ..laid(&format!("{}, piece {}", e.number, at + 1), &e)
                    })
                    .collect::<Vec<_>>()
            })
            .collect(),
    }
}

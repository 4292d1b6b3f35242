//! Which of the shop's routes builds a panel, whole or in its pieces.

use super::{bend, pieces};
use crate::making::bending::BendNeeds;
use crate::making::route_fit::{self, PanelNeeds, RouteAgainst};
use crate::making::routes::{Route, Routes};
use crate::model::panel::{Panel, PanelLight};
use crate::model::snapshot::{Drawing, Shop};
use crate::power::lights::Light;
use crate::shape::{Sheet, fit};
use crate::units::{DisplayUnits, Millimetres};
use crate::words::LightKind;

/// The route that the record names, or the first of the list that can build the panel; else what speaks
/// against each.
pub(super) fn route(
    shop: &Shop,
    panel: &Panel,
    drawing: &Drawing,
    tape: Option<&Light>,
) -> Result<String, Vec<String>> {
    let Some(light) = &panel.light else { return Err(vec!["the kind of light is not chosen".into()]) };
    let needs = needs(panel, drawing, tape, light.kind);
    let routes = match &panel.route {
        None => shop.routes.clone(),
        Some(wanted) => match shop.routes.get(wanted.as_str()) {
            Some(route) => Routes { routes: vec![route.clone()], ..shop.routes.clone() },
            None => return Err(vec![format!("the shop has no route {wanted}")]),
        },
    };
    // A panel with seams goes where its pieces go; which routes can make them is judged one by one.
    let makes_pieces = |route: &Route| pieces::settled(route, tape, panel, drawing).is_some();
    let routes = if panel.seams.is_empty() {
        routes
    } else {
        let able: Vec<Route> = routes.routes.iter().filter(|r| makes_pieces(r)).cloned().collect();
        if able.is_empty() {
            let why = "the seams do not give pieces that fit its sheet; see `underlit split`";
            return Err(routes.routes.iter().map(|r| format!("{}: {why}", r.id)).collect());
        }
        Routes { routes: able, ..routes }
    };
    let fits =
        |width: Millimetres, height: Millimetres| !panel.seams.is_empty() || whole(drawing, width, height);
    let choice = route_fit::choose(&routes, &needs, fits, |_| None);
    match choice.proposed() {
        Some(route) => Ok(route.id.clone()),
        None => Err(choice
            .verdicts
            .iter()
            .map(|v| format!("{}: {}", v.route.id, said(&v.against, shop.book.units)))
            .collect()),
    }
}

fn needs(panel: &Panel, drawing: &Drawing, tape: Option<&Light>, kind: LightKind) -> PanelNeeds {
    let figures = &drawing.figures;
    let inner = if figures.sharp_inside_corners > 0 { Some(0.0) } else { figures.least_inside_radius_mm };
    PanelNeeds {
        long_mm: Millimetres(figures.least_rectangle.long_mm),
        short_mm: Millimetres(figures.least_rectangle.short_mm),
        curved: figures.curved || figures.curved_cutouts,
        cutouts: figures.cutouts,
        least_inner_radius_mm: inner.map(Millimetres),
        kind,
        cri_ra: panel.light.as_ref().and_then(PanelLight::cri_ra),
        depth_mm: tape.map(|t| t.panel_depth_mm),
        lit_edges: panel.lit_edges.len(),
        mount: panel.mount,
        bend: panel.bent.as_ref().and_then(|bent| {
            Some(BendNeeds {
                formed: bent.formed?,
                radius_mm: bent.radius_mm,
                across_mm: bend::across_mm(bent, drawing),
                face: panel.face,
            })
        }),
        etching_mm: panel.etching_depth_mm,
        tape_width_mm: tape.and_then(|t| t.width_mm),
    }
}

fn whole(drawing: &Drawing, width: Millimetres, height: Millimetres) -> bool {
    let sheet = Sheet { width_mm: width.0, height_mm: height.0 };
    fit(&drawing.outline.outer, sheet).is_some()
}

/// The routes that would build a panel but for its size, so that a split is what helps; none where it has seams, or where
/// a route builds it whole.
#[must_use]
pub(crate) fn need_a_split<'s>(
    shop: &'s Shop,
    panel: &Panel,
    drawing: &Drawing,
    tape: Option<&Light>,
) -> Vec<&'s Route> {
    let Some(light) = panel.light.as_ref().filter(|_| panel.seams.is_empty()) else { return Vec::new() };
    let needs = needs(panel, drawing, tape, light.kind);
    let asked = |r: &Route| panel.route.as_ref().is_none_or(|wanted| wanted.as_str() == r.id);
    let choice = route_fit::choose(&shop.routes, &needs, |w, h| whole(drawing, w, h), |_| None);
    let mut found: Vec<&Route> = Vec::new();
    for verdict in choice.verdicts.iter().filter(|v| asked(v.route)) {
        match verdict.against.as_slice() {
            [] => return Vec::new(),
            [RouteAgainst::Size { .. }] => found.push(verdict.route),
            _ => {}
        }
    }
    found
}

/// What else than its size speaks against a route for a panel, in words: no split helps there. None where nothing does, or
/// where the light is not chosen yet, so that nobody can say.
#[must_use]
pub(crate) fn no_split_helps(
    units: DisplayUnits,
    panel: &Panel,
    drawing: &Drawing,
    tape: Option<&Light>,
    route: &Route,
) -> Option<String> {
    let needs = needs(panel, drawing, tape, panel.light.as_ref()?.kind);
    let against = route_fit::against(route, &needs, |_, _| true);
    (!against.is_empty()).then(|| said(&against, units))
}

fn said(against: &[RouteAgainst], units: DisplayUnits) -> String {
    let mut said: Vec<String> = against.iter().map(|why| why.in_words(units)).collect();
    if let [RouteAgainst::Size { .. }] = against {
        said.push("it can be built in pieces: see `underlit split`".into());
    }
    said.join(", ")
}

/// Every route of the shop with what speaks against it for a panel; none where it can build the panel.
#[must_use]
pub(crate) fn why(
    shop: &Shop,
    panel: &Panel,
    drawing: &Drawing,
    tape: Option<&Light>,
) -> Vec<(String, Option<String>)> {
    shop.routes
        .routes
        .iter()
        .map(|one| {
            let only = Panel { route: one.id.parse().ok(), ..panel.clone() };
            let prefix = format!("{}: ", one.id);
            let against = route(shop, &only, drawing, tape).err();
            let text = against.map(|why| {
                why.iter().map(|w| w.strip_prefix(&prefix).unwrap_or(w)).collect::<Vec<_>>().join("; ")
            });
            (one.id.clone(), text)
        })
        .collect()
}

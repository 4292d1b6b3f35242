//! Which of the shop's routes can build a panel, why the others cannot, and which to propose.
//!
//! Whether an outline fits a sheet is the shape room's to say; here it comes in as a function of the usable
//! sheet. Being too late does not stop a route from building: it puts the route behind those in time.

use super::bending::{self, BendAgainst, BendNeeds};
use super::mount::Mount;
use super::routes::{LayerKind, Route, Routes};
use crate::units::{DisplayUnits, Millimetres, trimmed};
use crate::words::LightKind;

/// Lengths closer than this are the same length.
const SAME_LENGTH_MM: f64 = 1e-6;

/// What a route is judged by.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelNeeds {
    /// Longer side of the smallest rectangle round the outline, millimetres.
    pub long_mm: Millimetres,
    /// Shorter side of the smallest rectangle round the outline, millimetres.
    pub short_mm: Millimetres,
    /// True where the outline has a curve that is not a whole circle.
    pub curved: bool,
    /// How many openings lie within the outline.
    pub cutouts: usize,
    /// The smallest inner radius, millimetres; 0 for a sharp inner corner, none where there is no inner corner.
    pub least_inner_radius_mm: Option<Millimetres>,
    /// What the light can do.
    pub kind: LightKind,
    /// The colour rendering index Ra asked for, 0 to 100; none where it does not matter.
    pub cri_ra: Option<f64>,
    /// Depth of the panel, millimetres; none where the light is not chosen yet.
    pub depth_mm: Option<Millimetres>,
    /// How many edges are lit.
    pub lit_edges: usize,
    /// How it is held; none where that is not chosen yet.
    pub mount: Option<Mount>,
    /// How it is bent; none for a flat panel, and for one whose record does not say how it is formed.
    pub bend: Option<BendNeeds>,
    /// How deep its face is etched; none where nothing is, or where nobody said how deep.
    pub etching_mm: Option<Millimetres>,
    /// How wide its tape is; none where the tape is not chosen, or its width is not stated.
    pub tape_width_mm: Option<Millimetres>,
}

/// Why a route cannot build a panel.
#[derive(Clone, Debug, PartialEq)]
pub enum RouteAgainst {
    /// It does not fit the largest sheet, turned any way.
    Size {
        /// The panel's smallest rectangle, millimetres.
        panel_mm: (Millimetres, Millimetres),
        /// The usable sheet, millimetres.
        sheet_mm: (Millimetres, Millimetres),
    },
    /// It is narrower than the route makes.
    Narrow {
        /// The panel's shorter side.
        panel_mm: Millimetres,
        /// The route's least.
        least_mm: Millimetres,
    },
    /// The route cuts no curves.
    Curved,
    /// The route cuts no openings.
    Cutouts,
    /// An inner corner is tighter than the route cuts.
    InnerRadius {
        /// The panel's.
        panel_mm: Millimetres,
        /// The route's least.
        least_mm: Millimetres,
    },
    /// The route does not build this kind of light.
    LightKind(LightKind),
    /// The route's light renders colours less well than asked.
    ColourRendering {
        /// Asked for, Ra.
        asked: f64,
        /// The route's, Ra.
        route: f64,
    },
    /// The panel is deeper than the route makes.
    Depth {
        /// The panel's.
        panel_mm: Millimetres,
        /// The route's largest.
        largest_mm: Millimetres,
    },
    /// More edges are lit than the route wires.
    LitEdges {
        /// The panel's.
        panel: usize,
        /// The route's most.
        most: u32,
    },
    /// The route is not made for this mount.
    Mount(Mount),
    /// The route does not bend its sheets so.
    Bend(BendAgainst),
    /// The face is etched deeper than the route cuts.
    Etching {
        /// Asked for.
        asked_mm: Millimetres,
        /// The route's deepest.
        deepest_mm: Millimetres,
    },
    /// The tape is wider than the light guide is thick, so that its light misses the edge.
    TapeWider {
        /// The tape's width.
        tape_mm: Millimetres,
        /// The guide's thickness.
        guide_mm: Millimetres,
    },
}

impl RouteAgainst {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Size { .. } => "size",
            Self::Narrow { .. } => "narrow",
            Self::Curved => "curved",
            Self::Cutouts => "cutouts",
            Self::InnerRadius { .. } => "inner-radius",
            Self::LightKind(_) => "light-kind",
            Self::ColourRendering { .. } => "colour-rendering",
            Self::Depth { .. } => "depth",
            Self::LitEdges { .. } => "lit-edges",
            Self::Mount(_) => "mount",
            Self::Bend(_) => "bend",
            Self::Etching { .. } => "etching",
            Self::TapeWider { .. } => "tape-width",
        }
    }
}

impl RouteAgainst {
    /// The reason in the units of a book.
    #[must_use]
    pub(crate) fn in_words(&self, units: DisplayUnits) -> String {
        let length = |length: &Millimetres| units.show(*length);
        match self {
            Self::Size { panel_mm, sheet_mm } => format!(
                "the panel is {}, its usable sheet {}",
                units.size([panel_mm.0, panel_mm.1]),
                units.size([sheet_mm.0, sheet_mm.1])
            ),
            Self::Narrow { panel_mm, least_mm } => {
                format!(
                    "the panel is {} across; the route makes at least {}",
                    length(panel_mm),
                    length(least_mm)
                )
            }
            Self::Curved => "it cuts no curved outlines".into(),
            Self::Cutouts => "it cuts no openings".into(),
            Self::InnerRadius { panel_mm, least_mm } => format!(
                "an inner corner has a radius of {}; the route cuts at least {}",
                length(panel_mm),
                length(least_mm)
            ),
            Self::LightKind(kind) => format!("it does not build {kind}"),
            Self::ColourRendering { asked, route } => {
                format!("Ra {} is asked for, its light has {}", trimmed(*asked, 0), trimmed(*route, 0))
            }
            Self::Depth { panel_mm, largest_mm } => {
                format!(
                    "the panel is {} deep; the route makes at most {}",
                    length(panel_mm),
                    length(largest_mm)
                )
            }
            Self::LitEdges { panel, most } => {
                format!("{panel} edges are lit; the route wires at most {most}")
            }
            Self::Mount(mount) => format!("it is not made for the mount {mount}"),
            Self::Bend(against) => against.in_words(length),
            Self::Etching { asked_mm, deepest_mm } => format!(
                "the face is etched {} deep; the route cuts at most {}",
                length(asked_mm),
                length(deepest_mm)
            ),
            Self::TapeWider { tape_mm, guide_mm } => format!(
                "the tape is {} wide and its light guide {} thick, so that light passes the edge by",
                length(tape_mm),
                length(guide_mm)
            ),
        }
    }
}

/// One route judged for a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct RouteVerdict<'a> {
    /// The route.
    pub route: &'a Route,
    /// Every reason why it cannot build the panel; empty where it can.
    pub against: Vec<RouteAgainst>,
    /// Business days to spare before the install date by this route, below 0 where it is too late; none where no date is set.
    pub slack_business_days: Option<i64>,
}

impl RouteVerdict<'_> {
    /// True where the route can build the panel, in time or not.
    #[must_use]
    pub fn can_build(&self) -> bool {
        self.against.is_empty()
    }

    /// True where the install date cannot be met by this route.
    #[must_use]
    pub(crate) fn late(&self) -> bool {
        self.slack_business_days.is_some_and(|slack| slack < 0)
    }
}

/// Every route judged, and the one to propose.
#[derive(Clone, Debug, PartialEq)]
pub struct RouteChoice<'a> {
    /// Every route, in the shop's order.
    pub verdicts: Vec<RouteVerdict<'a>>,
    /// Index of the proposed route: the first of the shop's order that can build in time, or, where none can in time, the least late; none where none can build.
    pub proposed: Option<usize>,
}

impl<'a> RouteChoice<'a> {
    /// The proposed route, if any can build the panel.
    #[must_use]
    pub fn proposed(&self) -> Option<&'a Route> {
        self.proposed.and_then(|index| self.verdicts.get(index)).map(|verdict| verdict.route)
    }
}

/// The sheet less its margin, millimetres: width and height.
#[must_use]
pub fn usable_sheet(route: &Route) -> (Millimetres, Millimetres) {
    let less = |side: Millimetres| Millimetres((side.get() - 2.0 * route.sheet_margin_mm.get()).max(0.0));
    (less(route.sheet_width_mm), less(route.sheet_height_mm))
}

/// Judges one route; `fits` says whether the outline goes on a usable sheet of this width and height.
pub(crate) fn against(
    route: &Route,
    needs: &PanelNeeds,
    fits: impl Fn(Millimetres, Millimetres) -> bool,
) -> Vec<RouteAgainst> {
    let mut against = Vec::new();
    let sheet_mm = usable_sheet(route);
    if !fits(sheet_mm.0, sheet_mm.1) {
        against.push(RouteAgainst::Size { panel_mm: (needs.long_mm, needs.short_mm), sheet_mm });
    }
    let across = Millimetres(needs.long_mm.get().min(needs.short_mm.get()));
    if across.get() + SAME_LENGTH_MM < route.least_width_mm.get() {
        against.push(RouteAgainst::Narrow { panel_mm: across, least_mm: route.least_width_mm });
    }
    if needs.curved && !route.curved_outlines {
        against.push(RouteAgainst::Curved);
    }
    if needs.cutouts > 0 && !route.cutouts {
        against.push(RouteAgainst::Cutouts);
    }
    if let Some(radius) = needs.least_inner_radius_mm
        && radius.get() + SAME_LENGTH_MM < route.least_inner_radius_mm.get()
    {
        against.push(RouteAgainst::InnerRadius { panel_mm: radius, least_mm: route.least_inner_radius_mm });
    }
    if !route.light_kinds.contains(&needs.kind) {
        against.push(RouteAgainst::LightKind(needs.kind));
    }
    if let Some(asked) = needs.cri_ra
        && asked > route.cri_ra
    {
        against.push(RouteAgainst::ColourRendering { asked, route: route.cri_ra });
    }
    if let Some(depth) = needs.depth_mm
        && depth.get() > route.largest_depth_mm.get() + SAME_LENGTH_MM
    {
        against.push(RouteAgainst::Depth { panel_mm: depth, largest_mm: route.largest_depth_mm });
    }
    if needs.lit_edges > route.largest_lit_edges as usize {
        against.push(RouteAgainst::LitEdges { panel: needs.lit_edges, most: route.largest_lit_edges });
    }
    if let Some(mount) = needs.mount
        && !route.mounts.contains(&mount)
    {
        against.push(RouteAgainst::Mount(mount));
    }
    if let Some(bend) = &needs.bend {
        against.extend(bending::against(route, bend).into_iter().map(RouteAgainst::Bend));
    }
    if let (Some(asked_mm), Some(deepest_mm)) = (needs.etching_mm, route.deepest_etching_mm)
        && asked_mm.get() > deepest_mm.get() + SAME_LENGTH_MM
    {
        against.push(RouteAgainst::Etching { asked_mm, deepest_mm });
    }
    let guide = route.layers.iter().find(|layer| layer.what == LayerKind::LightGuide);
    if let (Some(tape_mm), Some(guide_mm)) = (needs.tape_width_mm, guide.map(|layer| layer.thickness_mm))
        && tape_mm.get() > guide_mm.get() + SAME_LENGTH_MM
    {
        against.push(RouteAgainst::TapeWider { tape_mm, guide_mm });
    }
    against
}

/// Judges every route and proposes one.
///
/// `fits` says whether the outline goes on a usable sheet of this width and height; `slack` gives the business
/// days to spare by a route, where an install date is set.
pub fn choose<'a>(
    routes: &'a Routes,
    needs: &PanelNeeds,
    fits: impl Fn(Millimetres, Millimetres) -> bool,
    slack: impl Fn(&Route) -> Option<i64>,
) -> RouteChoice<'a> {
    let verdicts: Vec<RouteVerdict<'a>> = routes
        .routes
        .iter()
        .map(|route| RouteVerdict {
            route,
            against: against(route, needs, &fits),
            slack_business_days: slack(route),
        })
        .collect();
    let able = || verdicts.iter().enumerate().filter(|(_, verdict)| verdict.can_build());
    let in_time = able().find(|(_, verdict)| !verdict.late()).map(|(index, _)| index);
    let least_late = || {
        able()
            .max_by_key(|(index, verdict)| (verdict.slack_business_days, std::cmp::Reverse(*index)))
            .map(|(index, _)| index)
    };
    let proposed = in_time.or_else(least_late);
    RouteChoice { verdicts, proposed }
}

//! `panels/<id>.json`: one made-to-order light panel. Its outline is a drawing beside the record.
//!
//! The fields fall into three groups that different people answer for: what it is (the rep and the
//! designer), what is chosen (the client signs it), and how it is built and powered (the engineer).

use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use super::earlier_trial::NoTestPanel;
use super::site_facts::{ActualSlab, OutlineBasis};
use super::sizes::Sizes;
use crate::ids::{GroupId, PanelId, RoomId, StockId, SwatchId, ZoneId};
use crate::making::bending::Forming;
use crate::making::mount::{Mount, OpeningWay};
use crate::power::lights::CctRange;
use crate::power::vocabulary::{Location, Place};
use crate::units::{Metres, Millimetres};
use crate::words::{Face, LightKind, words};

/// The most panels that one record stands for, as the schema has it.
pub(crate) const MOST_ALIKE: u32 = 1000;

/// One made-to-order light panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Panel {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The panel's name, which is also its file's.
    pub id: PanelId,
    /// What people call it.
    pub title: String,
    /// The swatch of the stone that lies over it.
    pub swatch: SwatchId,
    /// Its outline: a drawing beside the record.
    pub outline: Attachment,
    /// Earlier outlines that somebody signed, beside the record: so that it can be told how far this one lies from them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub signed_outlines: Vec<Attachment>,
    /// What the outline was made from; none where nobody recorded it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<OutlineBasis>,
    /// The very slab that will lie over it, once it is chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slab: Option<ActualSlab>,
    /// How wet the place is.
    pub place: Place,
    /// How many are alike, each with drivers, controls and wiring of its own; none for one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<u32>,
    /// The release groups that it is built in; none where the whole job is released at once.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<GroupShare>,
    /// The faces that are in question until one is chosen.
    pub faces_considered: Vec<Face>,
    /// Why no test panel is made for it; none where one is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_test_panel: Option<NoTestPanel>,
    /// The light, once chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub light: Option<PanelLight>,
    /// The face, once chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub face: Option<Face>,
    /// The edges that carry tape, by their numbers in the outline.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lit_edges: Vec<u32>,
    /// The supply voltage of the tape, direct current, once chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<u32>,
    /// How it is held, and so whether it can be serviced, once chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mount: Option<Mount>,
    /// How it is opened for service, once chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opening: Option<Opening>,
    /// The control system, from the shop's list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control: Option<StockId>,
    /// The zone that it is switched, dimmed and coloured with; none where all panels of one control are one zone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zone: Option<ZoneId>,

    /// The route by which it is built, from the shop's list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub route: Option<StockId>,
    /// The tape, from the shop's list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tape: Option<StockId>,
    /// The driver, from the shop's list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub driver: Option<StockId>,
    /// The wire from driver to panel, from the shop's list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wire: Option<StockId>,
    /// How far it is from driver to panel, one way along the wire.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feed_length_m: Option<Metres>,
    /// Whether that was guessed or measured; none where nobody says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feed_basis: Option<FeedBasis>,
    /// Where its driver and control stand; without it, a dry place elsewhere with air and access is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supply: Option<Supply>,
    /// Where the panel is split into butted pieces.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub seams: Vec<Seam>,
    /// The ribs or bearers behind it that carry it and its stone, each by its middle line.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ribs: Vec<Seam>,
    /// What its drawing is the outline of, and what lies between its sizes; none where it is the light guide.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sizes: Option<Sizes>,

    /// How the finished panel is bent; none for a flat one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bent: Option<Bend>,
    /// What is etched into its face, in words; none where nothing is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub etching: Option<String>,
    /// How deep it is etched.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub etching_depth_mm: Option<Millimetres>,
    /// How the face stands once fitted, and so from where it is seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<Position>,
    /// What a floor has to bear, and whose word that is; none where nobody walks on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub floor: Option<Floor>,
    /// The edge that is up once fitted, by its number in the outline.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up_edge: Option<u32>,
    /// The edge at which the lead leaves, by its number in the outline.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_edge: Option<u32>,
    /// How far along that edge from its start, counter-clockwise; none for its middle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_at_mm: Option<Millimetres>,
    /// The direction in which the stone's veins run, degrees counter-clockwise from the outline's x axis, 0 up to 180.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub vein_deg: Option<f64>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Panel {
    /// A panel of which no more is known than its stone and outline, in a dry place, with a diffused face in question.
    #[must_use]
    pub(crate) fn of(id: PanelId, swatch: SwatchId, outline: Attachment) -> Self {
        Panel {
            schema: "../../../schema/panel.schema.json".into(),
            title: id.to_string(),
            id,
            swatch,
            outline,
            signed_outlines: Vec::new(),
            basis: None,
            slab: None,
            place: Place::Dry,
            quantity: None,
            groups: Vec::new(),
            faces_considered: vec![Face::Diffused],
            no_test_panel: None,
            light: None,
            face: None,
            lit_edges: Vec::new(),
            voltage_v: None,
            mount: None,
            opening: None,
            control: None,
            zone: None,
            route: None,
            tape: None,
            driver: None,
            wire: None,
            feed_length_m: None,
            feed_basis: None,
            supply: None,
            seams: Vec::new(),
            ribs: Vec::new(),
            sizes: None,
            bent: None,
            etching: None,
            etching_depth_mm: None,
            position: None,
            floor: None,
            up_edge: None,
            lead_edge: None,
            lead_at_mm: None,
            vein_deg: None,
            note: None,
        }
    }

    /// How many of it are built.
    #[must_use]
    pub(crate) fn count(&self) -> usize {
        self.quantity.map_or(1, |quantity| quantity as usize)
    }

    /// How many of it a release group takes; none where it takes none.
    #[must_use]
    pub(crate) fn count_in(&self, group: &GroupId) -> Option<usize> {
        let share = self.groups.iter().find(|share| share.group == *group)?;
        let all = if self.groups.len() == 1 { self.count() } else { 1 };
        Some(share.quantity.map_or(all, |quantity| quantity as usize))
    }

    /// The panel as one release group takes it: so many of it, in this group alone; none where it takes none.
    #[must_use]
    pub(crate) fn in_group(&self, group: &GroupId) -> Option<Panel> {
        let share = self.groups.iter().find(|share| share.group == *group)?;
        let count = self.count_in(group)? as u32;
        let quantity = (count > 1).then_some(count);
        Some(Panel { quantity, groups: vec![GroupShare { quantity, ..share.clone() }], ..self.clone() })
    }

    /// What is wrong with how many its release groups take, in words; none where they take all of them.
    #[must_use]
    pub(crate) fn miscounted(&self) -> Option<String> {
        let taken: usize = self.groups.iter().filter_map(|share| self.count_in(&share.group)).sum();
        let all = self.count();
        (!self.groups.is_empty() && taken != all)
            .then(|| format!("its release groups take {taken} of it, and {all} are to be built"))
    }
}

/// A panel's share in a release group.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GroupShare {
    /// The release group.
    pub group: GroupId,
    /// How many of the panel it takes; none for one, or for all where it is the only group.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<u32>,
    /// Where they go, in the order of their serial numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rooms: Vec<RoomId>,
}

impl GroupShare {
    /// It in words: `level-3: 7`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        self.quantity.map_or_else(|| self.group.to_string(), |quantity| format!("{}: {quantity}", self.group))
    }
}

words! {
    /// Where the length of a lead comes from.
    FeedBasis, "basis of a length of wire" {
        /// From a plan or by eye: good enough to quote by.
        Guessed = "guessed",
        /// Measured along the way that the wire takes.
        Measured = "measured",
    }
}

words! {
    /// How a face stands once fitted.
    Position, "position" {
        /// On a wall or a front: seen from the front.
        Upright = "upright",
        /// A table or a vanity top: seen from above.
        Level = "level",
        /// A ceiling: seen from below.
        Overhead = "overhead",
        /// A floor or a step that people walk on: seen from above.
        Underfoot = "underfoot",
    }
}

/// What a floor has to bear. Nothing of it is computed here.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Floor {
    /// The load that it is designed for, in kilonewtons per square metre.
    #[serde(serialize_with = "crate::units::number")]
    pub load_kn_m2: f64,
    /// What carries the stone and whoever stands on it.
    pub carried_by: String,
    /// The slip class of the surface, with the standard by which it was tested.
    pub slip: String,
    /// Whose calculation says that it holds, with its number or date.
    pub calculation: String,
}

impl Floor {
    /// In words: `3 kN/m² carried by a steel frame; slip R10; by calculation 12 of …`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let load = crate::units::trimmed(self.load_kn_m2, 2);
        format!(
            "{load} kN/m² carried by {}; slip {}; by calculation {}",
            self.carried_by, self.slip, self.calculation
        )
    }
}

words! {
    /// Which way the axis runs that a panel is bent about, on the drawing.
    BendAxis, "axis of a bend" {
        /// Along the outline's y axis.
        Upright = "upright",
        /// Along the outline's x axis.
        Level = "level",
    }
}

/// How a panel is bent. Its outline is drawn flat, as it is cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bend {
    /// The radius of the face.
    pub radius_mm: Millimetres,
    /// Which way the axis of the bend runs on the drawing.
    pub axis: BendAxis,
    /// How it is bent; none in records of before that was asked, whose radius nobody judges.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formed: Option<Forming>,
    /// Which way its face looks; none where nobody says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub face: Option<BendFace>,
}

words! {
    /// Which way the face of a bent panel looks.
    BendFace, "face of a bend" {
        /// Towards the axis, as in a niche.
        Hollow = "hollow",
        /// Away from the axis, as round a column.
        Bulging = "bulging",
    }
}

/// How a panel is opened for service.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Opening {
    /// By which way.
    pub way: OpeningWay,
    /// The edge over which the tray comes out, or along which the hinges sit, by its number in the outline.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge: Option<u32>,
}

impl Opening {
    /// In words: `tray, over edge 3`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let edge = |how: &str| self.edge.map_or_else(String::new, |edge| format!(", {how} edge {edge}"));
        match self.way {
            OpeningWay::Tray => format!("tray{}", edge("over")),
            OpeningWay::Rear => format!("from the rear{}", edge("behind")),
            OpeningWay::Hinged => format!("hinged{}", edge("along")),
            OpeningWay::LiftedOff => format!("lifted off{}", edge("at")),
        }
    }
}

/// The light of a panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PanelLight {
    /// What it can do.
    pub kind: LightKind,
    /// The colour temperature in kelvin: of the white, of warm-dim at full, or of the setting that was chosen; none for RGB.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cct_k: Option<u32>,
    /// The least colour rendering index Ra that is asked of its white; none where any will do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_ra: Option<u32>,
    /// The colour temperatures over which a tunable white is to be set, none where its setting alone is chosen; for warm-dim,
    /// those at its lowest level and at full.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cct_range_k: Option<CctRange>,
    /// The level at which it comes on, percent, at its colour temperature; none where nobody says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level_pct: Option<u32>,
}

impl PanelLight {
    /// What is chosen of the white beside its kind: `2700 K to 6500 K, on at 3000 K, 80 %`.
    #[must_use]
    pub(crate) fn white_in_words(&self) -> String {
        let dims = self.kind == LightKind::WarmDim;
        let range = self.cct_range_k.map(|CctRange { warmest, coolest }| match dims {
            true => format!("{coolest} K at full, {warmest} K at its lowest"),
            false => format!("{warmest} K to {coolest} K"),
        });
        if let (true, Some(range)) = (dims, &range) {
            let level = self.level_pct.map(|level| format!("on at {level} %"));
            return std::iter::once(range.clone()).chain(level).collect::<Vec<_>>().join(", ");
        }
        let set = self.cct_k.map(|k| match range {
            Some(_) => format!("on at {k} K"),
            None => format!("{k} K"),
        });
        let level = self.level_pct.map(|level| match (&set, &range) {
            (Some(_), Some(_)) => format!("{level} %"),
            _ => format!("on at {level} %"),
        });
        range.into_iter().chain(set).chain(level).collect::<Vec<_>>().join(", ")
    }

    /// The least colour rendering index that is asked for, as the shop's lists have it.
    #[must_use]
    pub(crate) fn cri_ra(&self) -> Option<f64> {
        self.least_ra.map(f64::from)
    }
}

/// Where the driver and the control of a panel stand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Supply {
    /// Where the driver is put.
    pub location: Location,
    /// How wet that place is.
    pub place: Place,
    /// Free space for one driver, its sides in any order; none where there is enough.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub space_mm: Option<[Millimetres; 3]>,
    /// True where the low-voltage side must be wired as Class 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class2_wiring: Option<bool>,
    /// From driver to controller, one way; none where the controller stands beside the driver.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller_m: Option<Metres>,
    /// How wet the place of the controller or in-line dimmer is; none where it is the driver's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller_place: Option<Place>,
}

impl Supply {
    /// What is taken where nothing is recorded: a dry place elsewhere with air and access.
    #[must_use]
    pub(crate) fn taken() -> Self {
        Supply {
            location: Location::Remote,
            place: Place::Dry,
            space_mm: None,
            class2_wiring: None,
            controller_m: None,
            controller_place: None,
        }
    }

    /// How wet the place of the controller or in-line dimmer is.
    #[must_use]
    pub(crate) fn control_place(&self) -> Place {
        self.controller_place.unwrap_or(self.place)
    }
}

/// A straight line in the outline's coordinates: a seam between two butted pieces, or a rib.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Seam {
    /// Where it starts.
    pub from_mm: [Millimetres; 2],
    /// Where it ends.
    pub to_mm: [Millimetres; 2],
}

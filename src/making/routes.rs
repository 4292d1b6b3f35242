//! `shop/routes.json`: the shop's ways to build a panel, with the limits and times of each.
//!
//! Limits only; judging a panel against them is in `route_fit`. Every limit is the shop's own: none is a
//! constant of the code.

use serde::{Deserialize, Serialize, Serializer};

use super::bending::LeastBend;
use super::mount::Mount;
use super::shop_fault::{MakingShopFault, duplicates};
use crate::units::{Millimetres, serialize_number};
use crate::words::{Face, LightKind, words};

/// The whole of `shop/routes.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Routes {
    /// Where the schema of this file is, relative to it.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// What is ordered beyond what is built in; common practice is taken, and said, where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allowances: Option<Allowances>,
    /// What stones weigh, by material; a handbook's range is taken for what is left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stone_densities: Vec<StoneDensity>,
    /// The ways in which panels are put in, each with what is left free.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fits: Vec<Fit>,
    /// The routes, in the order in which the shop prefers them.
    pub routes: Vec<Route>,
    /// The ways in which finished panels travel, beside each route's usual one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub freights: Vec<Freight>,
}

/// A way in which finished panels travel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Freight {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Business days on their way to the site.
    pub transit_business_days: u32,
}

/// What stone of a material weighs, as the shop weighed it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StoneDensity {
    /// The material, as swatches name it.
    pub material: String,
    /// The least, kilograms per cubic metre.
    #[serde(serialize_with = "whole_when_whole")]
    pub least_kg_m3: f64,
    /// The most, kilograms per cubic metre.
    #[serde(serialize_with = "whole_when_whole")]
    pub most_kg_m3: f64,
}

/// What the shop leaves between stone, opening, panel and light guide in one way of putting panels in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fit {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// How far the stone reaches beyond the clear opening.
    pub stone_over_mm: Millimetres,
    /// Free between the clear opening and the finished panel.
    pub clearance_mm: Millimetres,
    /// What a lit edge takes of the finished panel beside the light guide.
    pub lit_border_mm: Millimetres,
    /// The same of an edge that is not lit.
    pub plain_border_mm: Millimetres,
    /// How far the light guide stays back from a cut-out.
    pub cutout_border_mm: Millimetres,
}

/// What a shop orders beyond what is built in.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Allowances {
    /// Left between two pieces that are cut from one sheet, millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet_gap_mm: Option<Millimetres>,
    /// More tape than is built in, percent.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub tape_pct: Option<f64>,
    /// More cable than its runs and its loose ends take, percent.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub cable_pct: Option<f64>,
    /// What closes a metre of seam in one sheet, millilitres.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub seam_adhesive_ml_per_m: Option<f64>,
}

/// One way to build.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Route {
    /// Name in files and on the command line; unique in the file.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Width of the largest sheet, millimetres.
    pub sheet_width_mm: Millimetres,
    /// Height of the largest sheet, millimetres.
    pub sheet_height_mm: Millimetres,
    /// Width left free along every edge of the sheet, millimetres.
    pub sheet_margin_mm: Millimetres,
    /// The narrowest panel it can make, measured across the smallest rectangle round it, millimetres.
    pub least_width_mm: Millimetres,
    /// True where it cuts curved outlines.
    pub curved_outlines: bool,
    /// True where it cuts openings within the outline.
    pub cutouts: bool,
    /// The smallest inner radius that it cuts, millimetres.
    pub least_inner_radius_mm: Millimetres,
    /// The narrowest web or neck of material that it leaves between two cut lines, millimetres; common practice is taken,
    /// and said, where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_web_mm: Option<Millimetres>,
    /// The least radii to which it bends sheets; empty where the shop does not list them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bends: Vec<LeastBend>,
    /// The deepest etching that it cuts; none where the shop does not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deepest_etching_mm: Option<Millimetres>,
    /// The kinds of light that it builds.
    pub light_kinds: Vec<LightKind>,
    /// The highest colour rendering index Ra of the light that it builds with, 0 to 100.
    #[serde(serialize_with = "whole_when_whole")]
    pub cri_ra: f64,
    /// The deepest panel that it makes, millimetres.
    pub largest_depth_mm: Millimetres,
    /// The most lit edges that it wires.
    pub largest_lit_edges: u32,
    /// The mounts that it is made for.
    pub mounts: Vec<Mount>,
    /// The sheets that a panel is made up of, from the back to the face; empty where the shop does not list them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub layers: Vec<Layer>,
    /// What the frame round a panel or a piece weighs, kilograms per metre of its border; none where there is none.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub frame_kg_per_m: Option<f64>,
    /// Business days to make a test panel.
    pub test_panel_business_days: u32,
    /// Business days for a test panel on its way to the client.
    pub test_panel_transit_business_days: u32,
    /// Business days to get the material; they run beside the approvals.
    pub material_business_days: u32,
    /// Business days from release, with the material there, to a finished panel.
    pub build_business_days: u32,
    /// The same where the job is a rush; none where this route takes none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rush_build_business_days: Option<u32>,
    /// Business days for the finished panels on their way to the site.
    pub transit_business_days: u32,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

words! {
    /// What a sheet of a panel does.
    LayerKind, "layer" {
        /// Carries the light of the edges over the face.
        LightGuide = "light-guide",
        /// Evens the light out.
        Diffuser = "diffuser",
        /// Throws the light forward.
        Reflector = "reflector",
    }
}

/// One sheet that a panel is made up of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Layer {
    /// What it does.
    pub what: LayerKind,
    /// Name in files and bills; unique in its route.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Thickness of the sheet, millimetres.
    pub thickness_mm: Millimetres,
    /// Its density, kilograms per cubic metre; that of acrylic where it is left out.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub density_kg_m3: Option<f64>,
    /// The faces with which it is built in; empty for every face.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faces: Vec<Face>,
    /// A remark for the next reader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Route {
    /// The sheets of a panel with this face, from the back to the face.
    pub fn layers_for(&self, face: Face) -> impl Iterator<Item = &Layer> {
        self.layers.iter().filter(move |layer| layer.faces.is_empty() || layer.faces.contains(&face))
    }
}

impl Routes {
    /// The route with this id.
    #[must_use]
    pub fn get(&self, id: &str) -> Option<&Route> {
        self.routes.iter().find(|route| route.id == id)
    }

    /// Everything that the schema cannot see: ids used twice, a margin that leaves nothing of the sheet, sheets
    /// that are deeper together than any panel of the route.
    #[must_use]
    pub fn faults(&self) -> Vec<MakingShopFault> {
        let mut faults = duplicates("/routes", self.routes.iter().map(|route| route.id.as_str()));
        let materials = self.stone_densities.iter().map(|one| one.material.as_str());
        faults.extend(duplicates("/stone_densities", materials));
        faults.extend(duplicates("/fits", self.fits.iter().map(|fit| fit.id.as_str())));
        for (index, one) in
            self.stone_densities.iter().enumerate().filter(|(_, s)| s.least_kg_m3 > s.most_kg_m3)
        {
            faults.push(MakingShopFault::DensityUpsideDown {
                pointer: format!("/stone_densities/{index}/least_kg_m3"),
                id: one.material.clone(),
            });
        }
        for (index, route) in self.routes.iter().enumerate() {
            let narrow = route.sheet_width_mm.get().min(route.sheet_height_mm.get());
            if 2.0 * route.sheet_margin_mm.get() >= narrow {
                faults.push(MakingShopFault::MarginTooWide {
                    pointer: format!("/routes/{index}/sheet_margin_mm"),
                    id: route.id.clone(),
                });
            }
            let ids = route.layers.iter().map(|layer| layer.id.as_str());
            faults.extend(duplicates(&format!("/routes/{index}/layers"), ids));
            let deepest =
                Face::ALL.iter().map(|face| route.layers_for(*face).map(|l| l.thickness_mm.get()).sum());
            if deepest.fold(0.0, f64::max) > route.largest_depth_mm.get() {
                faults.push(MakingShopFault::LayersTooDeep {
                    pointer: format!("/routes/{index}/layers"),
                    id: route.id.clone(),
                });
            }
        }
        faults
    }
}

/// Writes a whole number whole, so that a file saved twice is the same file.
fn whole_when_whole<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serialize_number(*value, serializer)
}

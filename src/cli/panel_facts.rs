//! The options of `panel` for how a panel is bent, etched, fitted and fed.

use std::collections::BTreeSet;

use crate::fault::Fault;
use crate::ids::{GroupId, ZoneId};
use crate::making::bending::Forming;
use crate::model::panel::{Bend, BendAxis, BendFace, Floor, GroupShare, MOST_ALIKE, Panel, Position, Seam};
use crate::shape::Outline;
use crate::units::Millimetres;

/// A fact that can be taken out of a panel's record again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Taken {
    /// How it is bent.
    Bent,
    /// What is etched.
    Etching,
    /// How its face stands.
    Position,
    /// What it bears as a floor.
    Floor,
    /// Which edge is up.
    UpEdge,
    /// Where the lead leaves.
    LeadEdge,
    /// Which way the veins run.
    Veins,
    /// How many are alike.
    Quantity,
    /// The release groups.
    Group,
    /// The control zone.
    Zone,
    /// The ribs.
    Ribs,
}

/// How a panel is bent, etched, fitted and fed.
#[derive(Debug, clap::Args)]
pub(crate) struct FactArgs {
    /// The finished panel is bent to this radius; its outline is drawn flat. A bent panel needs a signed rendering.
    #[arg(long, value_name = "RADIUS", requires = "formed")]
    bent: Option<Millimetres>,
    /// Which way the axis of the bend runs on the drawing: upright or level; upright by default.
    #[arg(long, value_name = "AXIS", requires = "bent")]
    bend_axis: Option<BendAxis>,
    /// Which way its face looks: hollow, towards the axis, or bulging, away from it.
    #[arg(long, value_name = "WAY", requires = "bent")]
    bend_face: Option<BendFace>,
    /// How it is bent: cold or heat. The shop's routes list the least radius of each, by thickness of sheet.
    #[arg(long, value_name = "WAY", requires = "bent")]
    formed: Option<Forming>,
    /// A rib or bearer behind it, by its middle line in the drawing's coordinates, like 300mm,0mm:300mm,600mm; once for each.
    #[arg(long, value_name = "X,Y:X,Y", value_parser = super::split::rib, allow_hyphen_values = true)]
    rib: Vec<Seam>,
    /// What is etched into the face, in words; its lines stand in the drawing, letters as outlines. An etched panel needs a signed rendering.
    #[arg(long, value_name = "TEXT")]
    etching: Option<String>,
    /// How deep the etching is.
    #[arg(long, value_name = "DEPTH")]
    etching_depth: Option<Millimetres>,
    /// How the face stands once fitted: upright, level (a table or vanity top), overhead or underfoot (a floor).
    #[arg(long)]
    position: Option<Position>,
    /// The load that a floor is designed for, in kilonewtons per square metre; with the three options that follow.
    #[arg(long, value_name = "KN_PER_M2", requires_all = ["floor_carried_by", "floor_slip", "floor_calculation"])]
    floor_load: Option<f64>,
    /// What carries the stone of a floor and whoever stands on it.
    #[arg(long, value_name = "TEXT", requires = "floor_load")]
    floor_carried_by: Option<String>,
    /// The slip class of a floor's surface, with the standard by which it was tested.
    #[arg(long, value_name = "TEXT", requires = "floor_load")]
    floor_slip: Option<String>,
    /// Whose calculation says that a floor holds, with its number or date.
    #[arg(long, value_name = "TEXT", requires = "floor_load")]
    floor_calculation: Option<String>,
    /// The number of the edge that is up once fitted.
    #[arg(long, value_name = "EDGE")]
    up_edge: Option<u32>,
    /// The number of the edge at which the lead leaves.
    #[arg(long, value_name = "EDGE")]
    lead_edge: Option<u32>,
    /// How far along that edge from its start, counter-clockwise; its middle by default.
    #[arg(long, value_name = "LENGTH")]
    lead_at: Option<Millimetres>,
    /// The direction of the stone's veins, in degrees counter-clockwise from the outline's x axis.
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    veins: Option<f64>,
    /// How many are alike, each with drivers, controls and wiring of its own: one drawing, one choice and one release
    /// for all of them.
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_ALIKE)))]
    quantity: Option<u32>,
    /// The release group that it is built in, or several, each with how many it takes: level-3=7,level-4=7. Groups are
    /// released one by one.
    #[arg(long, value_name = "GROUP[=COUNT]", value_delimiter = ',', value_parser = share)]
    group: Vec<GroupShare>,
    /// The control zone: panels of one zone are switched, dimmed and coloured together, and share no driver with another's.
    #[arg(long, value_name = "ZONE")]
    zone: Option<ZoneId>,
    /// Take facts out again: bent, etching, position, floor, up-edge, lead-edge, veins, quantity, group, zone, ribs.
    #[arg(long, value_name = "FACT", value_delimiter = ',')]
    without: Vec<Taken>,
}

impl FactArgs {
    /// True where ribs are given.
    pub(crate) fn has_ribs(&self) -> bool {
        !self.rib.is_empty()
    }

    /// Puts what is given into a panel's record; `outline` is its drawing as it will be, where that is known.
    pub(crate) fn put_into(&self, panel: &mut Panel, outline: Option<&Outline>) -> Result<(), Fault> {
        for fact in &self.without {
            match fact {
                Taken::Bent => panel.bent = None,
                Taken::Etching => (panel.etching, panel.etching_depth_mm) = (None, None),
                Taken::Position => panel.position = None,
                Taken::Floor => panel.floor = None,
                Taken::UpEdge => panel.up_edge = None,
                Taken::LeadEdge => (panel.lead_edge, panel.lead_at_mm) = (None, None),
                Taken::Veins => panel.vein_deg = None,
                Taken::Quantity => panel.quantity = None,
                Taken::Group => panel.groups = Vec::new(),
                Taken::Zone => panel.zone = None,
                Taken::Ribs => panel.ribs = Vec::new(),
            }
        }
        if let Some(quantity) = self.quantity {
            panel.quantity = (quantity > 1).then_some(quantity);
        }
        if !self.group.is_empty() {
            self.share_out(panel)?;
        }
        if self.zone.is_some() {
            panel.zone.clone_from(&self.zone);
        }
        if let Some(radius_mm) = self.bent {
            let axis = self.bend_axis.unwrap_or(BendAxis::Upright);
            panel.bent = Some(Bend { radius_mm, axis, formed: self.formed, face: self.bend_face });
        }
        if !self.rib.is_empty() {
            panel.ribs.clone_from(&self.rib);
        }
        if self.etching.is_some() {
            panel.etching.clone_from(&self.etching);
        } else if panel.etching.is_none()
            && !self.without.contains(&Taken::Etching)
            && outline.is_some_and(|o| !o.etchings.is_empty())
        {
            panel.etching = Some("the lines of the drawing".into());
        }
        panel.etching_depth_mm = self.etching_depth.or(panel.etching_depth_mm);
        if panel.etching_depth_mm.is_some() && panel.etching.is_none() {
            return Err(Fault::usage("etching-words", "a depth of etching is given, and nothing is etched")
                .fix("say what: --etching \"House number 12\", with its lines in the drawing"));
        }
        panel.position = self.position.or(panel.position);
        if let (Some(load_kn_m2), Some(carried_by), Some(slip), Some(calculation)) =
            (self.floor_load, &self.floor_carried_by, &self.floor_slip, &self.floor_calculation)
        {
            if !(load_kn_m2 > 0.0 && load_kn_m2 <= 100.0) {
                return Err(Fault::usage(
                    "floor-load",
                    "the load of a floor is above 0 and at most 100 kN/m²",
                )
                .fix("take it from the structural engineer's calculation: --floor-load 5"));
            }
            let [carried_by, slip, calculation] = [carried_by, slip, calculation].map(Clone::clone);
            panel.floor = Some(Floor { load_kn_m2, carried_by, slip, calculation });
        }
        let count = outline.map(|o| crate::shape::edges(&o.outer).len());
        for (given, place) in [(self.up_edge, &mut panel.up_edge), (self.lead_edge, &mut panel.lead_edge)] {
            let Some(number) = given else { continue };
            if let Some(count) = count.filter(|count| number == 0 || number as usize > *count) {
                return Err(Fault::usage("unknown-edge", format!("the outline has no edge {number}"))
                    .fix(format!("its edges are numbered 1 to {count}")));
            }
            *place = Some(number);
        }
        if let Some(at) = self.lead_at {
            let edges = outline.map(|o| crate::shape::edges(&o.outer)).unwrap_or_default();
            let edge = edges.iter().find(|edge| Some(edge.number as u32) == panel.lead_edge);
            if edge.is_none_or(|edge| at.0 < 0.0 || at.0 > edge.length_mm) {
                return Err(Fault::usage(
                    "lead-place",
                    "the lead's place is not on the edge at which it leaves",
                )
                .fix("name the edge with --lead-edge, and a place from 0 up to its length"));
            }
            panel.lead_at_mm = Some(at);
        } else if self.lead_edge.is_some() {
            panel.lead_at_mm = None;
        }
        if let Some(degrees) = self.veins {
            if !degrees.is_finite() {
                return Err(Fault::usage("vein-direction", "the direction of the veins is not a number")
                    .fix("give degrees from 0 up to 180, such as 45"));
            }
            panel.vein_deg = Some(degrees.rem_euclid(180.0));
        }
        Ok(())
    }

    /// Puts a panel into release groups. Where each says how many it takes, that is how many there are.
    fn share_out(&self, panel: &mut Panel) -> Result<(), Fault> {
        let counts: Option<Vec<u32>> = self.group.iter().map(|share| share.quantity).collect();
        let rooms = |id: &GroupId| panel.groups.iter().find(|s| s.group == *id).map(|s| s.rooms.clone());
        let shares = self
            .group
            .iter()
            .map(|share| GroupShare { rooms: rooms(&share.group).unwrap_or_default(), ..share.clone() });
        panel.groups = shares.collect();
        if let (Some(counts), None) = (counts, self.quantity) {
            let all: u32 = counts.iter().sum();
            panel.quantity = (all > 1).then_some(all);
        }
        panel.groups.iter_mut().for_each(|share| share.quantity = share.quantity.filter(|n| *n > 1));
        let ids: BTreeSet<&GroupId> = panel.groups.iter().map(|share| &share.group).collect();
        let flaw = match ids.len() == panel.groups.len() {
            true => panel.miscounted(),
            false => Some("a release group is named twice".to_owned()),
        };
        flaw.map_or(Ok(()), |flaw| {
            Err(Fault::usage("group-count", flaw)
                .fix("say how many each group takes: --group level-3=7,level-4=7"))
        })
    }
}

/// A release group, and how many it takes.
fn share(text: &str) -> Result<GroupShare, String> {
    let (id, count) = text.split_once('=').map_or((text, None), |(id, count)| (id, Some(count)));
    let quantity = match count.map(str::parse::<u32>) {
        None => None,
        Some(Ok(count)) if (1..=MOST_ALIKE).contains(&count) => Some(count),
        Some(_) => {
            return Err(format!("say how many it takes as a whole number, 1 to {MOST_ALIKE}: level-3=7"));
        }
    };
    Ok(GroupShare {
        group: id.parse().map_err(|e: crate::ids::IdError| e.to_string())?,
        quantity,
        rooms: Vec::new(),
    })
}

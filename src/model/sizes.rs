//! The sizes of a panel that lie within each other: stone, clear opening, finished panel, light guide. The record says
//! which of them its drawing is, and what lies between; the others follow.

use serde::{Deserialize, Serialize};

use crate::ids::StockId;
use crate::shape::Inset;
use crate::units::Millimetres;
use crate::words::words;

words! {
    /// A size of a panel, from the outermost to the innermost.
    SizeOf, "size" {
        /// The edge of the stone.
        StoneEdge = "stone-edge",
        /// The clear opening that the panel goes into.
        ClearOpening = "clear-opening",
        /// The finished panel with its frame and its tape channels.
        FinishedPanel = "finished-panel",
        /// The sheet that carries the light, as it is cut.
        LightGuide = "light-guide",
    }
}

impl SizeOf {
    /// What people call it.
    #[must_use]
    pub(crate) fn in_words(self) -> &'static str {
        match self {
            SizeOf::StoneEdge => "stone edge",
            SizeOf::ClearOpening => "clear opening",
            SizeOf::FinishedPanel => "finished panel",
            SizeOf::LightGuide => "light guide",
        }
    }
}

/// What lies between the sizes of a panel, on every side of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sizes {
    /// Which of them the drawing is.
    pub outline_is: SizeOf,
    /// The fit of the shop's list that the figures are from; none where they are the job's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<StockId>,
    /// How far the stone reaches beyond the clear opening.
    pub stone_over_mm: Millimetres,
    /// Free between the clear opening and the finished panel, so that it can be put in.
    pub clearance_mm: Millimetres,
    /// Free beside that, so that the panel can grow with heat and water.
    pub movement_mm: Millimetres,
    /// What a lit edge takes of the finished panel beside the light guide: tape, channel, frame.
    pub lit_border_mm: Millimetres,
    /// The same of an edge that is not lit.
    pub plain_border_mm: Millimetres,
    /// How far the light guide stays back from a cut-out of the finished panel.
    pub cutout_border_mm: Millimetres,
    /// Edges at which the light guide ends flush with the finished panel, as at a butt joint, by their numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub butt_edges: Vec<u32>,
}

impl Sizes {
    /// What an edge takes of the finished panel beside the light guide.
    fn border_mm(&self, edge: u32, lit: bool) -> f64 {
        match (self.butt_edges.contains(&edge), lit) {
            (true, _) => 0.0,
            (_, true) => self.lit_border_mm.0,
            (_, false) => self.plain_border_mm.0,
        }
    }

    /// How far within the edge of the stone a size lies at an edge, and at a cut-out.
    fn depth_mm(&self, of: SizeOf, edge: u32, lit: bool) -> [f64; 2] {
        let opening = self.stone_over_mm.0;
        let finished = opening + self.clearance_mm.0 + self.movement_mm.0;
        match of {
            SizeOf::StoneEdge => [0.0, 0.0],
            SizeOf::ClearOpening => [opening, 0.0],
            SizeOf::FinishedPanel => [finished, 0.0],
            SizeOf::LightGuide => [finished + self.border_mm(edge, lit), self.cutout_border_mm.0],
        }
    }

    /// How far the borders of the drawing are moved for a size of a panel with so many edges, these of them lit.
    #[must_use]
    pub(crate) fn inset(&self, size: SizeOf, edges: usize, lit_edges: &[u32]) -> Inset {
        let by = |edge: u32| {
            let lit = lit_edges.contains(&edge);
            let ([to, hole], [from, drawn]) =
                (self.depth_mm(size, edge, lit), self.depth_mm(self.outline_is, edge, lit));
            [to - from, hole - drawn]
        };
        Inset { edges_mm: (1..=edges as u32).map(|edge| by(edge)[0]).collect(), cutouts_mm: by(0)[1] }
    }

    /// The room that the panel has to grow by, across it, in all.
    #[must_use]
    pub(crate) fn room_mm(&self) -> f64 {
        2.0 * (self.clearance_mm.0 + self.movement_mm.0)
    }
}

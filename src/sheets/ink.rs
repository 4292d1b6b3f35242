//! Line styles and lettering sizes of every sheet, in millimetres on paper.
//!
//! Lines follow ISO 128-2 (before 2020: ISO 128-20): widths of the series 0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1, 1.4 and
//! 2 mm, two of them in the ratio 2:1, for sheets from A4 to A2 the group 0.5 with 0.25 (series, ratio and group as public
//! descriptions of the standard and the line groups of an open CAD library give them). Lettering follows the nominal
//! heights of ISO 3098 (1.8, 2.5, 3.5, 5 mm, from public descriptions of it), which are heights of capitals. Lengths of
//! dashes as multiples of the width are from memory. All ink is black, so that a copy in black and white loses nothing.

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum LineStyle {
    /// Visible outlines: continuous, wide (ISO 128 type 01.2).
    Outline,
    /// Dimension, extension and leader lines: continuous, narrow (01.1).
    Narrow,
    /// Rules inside tables: continuous, thinner than anything that is geometry.
    Rule,
    /// Centre lines: long-dashed dotted, narrow (04.1).
    Centre,
    /// Neighbouring parts, such as joints of the stone in front: long-dashed double-dotted, narrow (05.1).
    Neighbour,
    /// Seams of a split panel: dashed, wide (02.2).
    Seam,
    /// What lies behind, such as ribs: dashed, narrow (02.1).
    Hidden,
    /// Lit edges: continuous, twice as wide as an outline, beside the edge.
    Lit,
    /// The frame of the drawing space (ISO 5457: 0.7 mm).
    Frame,
}

impl LineStyle {
    /// Every style.
    pub(crate) const ALL: &'static [LineStyle] = &[
        LineStyle::Outline,
        LineStyle::Narrow,
        LineStyle::Rule,
        LineStyle::Centre,
        LineStyle::Neighbour,
        LineStyle::Seam,
        LineStyle::Hidden,
        LineStyle::Lit,
        LineStyle::Frame,
    ];

    /// Its width in millimetres.
    #[must_use]
    pub(crate) fn width_mm(self) -> f64 {
        match self {
            LineStyle::Outline | LineStyle::Seam => 0.5,
            LineStyle::Narrow | LineStyle::Centre | LineStyle::Neighbour | LineStyle::Hidden => 0.25,
            LineStyle::Rule => 0.18,
            LineStyle::Lit => 1.0,
            LineStyle::Frame => 0.7,
        }
    }

    /// Lengths of dashes and gaps in turn, in millimetres; none for a continuous line.
    #[must_use]
    pub(crate) fn dashes_mm(self) -> &'static [f64] {
        match self {
            LineStyle::Centre => &[6.0, 0.75, 0.25, 0.75],
            LineStyle::Neighbour => &[6.0, 0.75, 0.25, 0.75, 0.25, 0.75],
            LineStyle::Seam => &[6.0, 1.5],
            LineStyle::Hidden => &[3.0, 0.75],
            _ => &[],
        }
    }

    /// The class under which the drawing names it.
    #[must_use]
    pub(crate) fn class(self) -> &'static str {
        match self {
            LineStyle::Outline => "outline",
            LineStyle::Narrow => "narrow",
            LineStyle::Rule => "rule",
            LineStyle::Centre => "centre",
            LineStyle::Neighbour => "neighbour",
            LineStyle::Seam => "seam",
            LineStyle::Hidden => "hidden",
            LineStyle::Lit => "lit",
            LineStyle::Frame => "frame",
        }
    }
}

/// How thick the letters are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Weight {
    /// The usual.
    Regular,
    /// For what must be found first.
    Bold,
}

/// A size and weight of letters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lettering {
    /// The size of the font in millimetres; capitals are [`CAPITALS`] of it.
    pub size_mm: f64,
    /// How thick.
    pub weight: Weight,
}

/// Height of capitals as a share of the size: 1462 of 2048 units in the embedded font.
pub(crate) const CAPITALS: f64 = 1462.0 / 2048.0;
/// How far a letter may reach above its baseline, as a share of the size: accented capitals are cut short.
pub(crate) const ABOVE: f64 = 0.80;
/// How far a letter may reach below its baseline, as a share of the size.
pub(crate) const BELOW: f64 = 0.24;
/// From one baseline to the next, as a share of the size.
pub(crate) const LEADING: f64 = 1.3;

/// Headings of cells: 2 mm, below ISO 3098's least height, as title blocks commonly have it; nothing is told by
/// them alone.
pub(crate) const CELL_HEADING: Lettering = Lettering { size_mm: 2.0, weight: Weight::Regular };
/// Tables, notes and secondary dimensions: capitals of 1.8 mm.
pub(crate) const SMALL: Lettering = Lettering { size_mm: 2.52, weight: Weight::Regular };
/// The same, to be found first.
pub(crate) const SMALL_BOLD: Lettering = Lettering { size_mm: 2.52, weight: Weight::Bold };
/// Dimensions: capitals of 2.5 mm.
pub(crate) const DIMENSION: Lettering = Lettering { size_mm: 3.5, weight: Weight::Regular };
/// Names in the title block: capitals of 2.5 mm.
pub(crate) const NAME: Lettering = Lettering { size_mm: 3.5, weight: Weight::Bold };
/// A marker across the sheet: capitals of 3.5 mm.
pub(crate) const MARKER: Lettering = Lettering { size_mm: 4.9, weight: Weight::Bold };

//! Paper sizes and the drawing space on them.

use crate::words::words;

words! {
    /// A size of paper. A sheets by ISO 216 and ISO 5457, the others by ASME Y14.1 (ANSI A, B and C).
    Paper, "paper size" {
        /// 297 × 210 mm.
        A4 = "a4",
        /// 420 × 297 mm.
        A3 = "a3",
        /// 594 × 420 mm.
        A2 = "a2",
        /// ANSI A, 11 × 8.5 in.
        Letter = "letter",
        /// ANSI B, 17 × 11 in.
        Tabloid = "tabloid",
        /// ANSI C, 22 × 17 in.
        AnsiC = "ansi-c",
    }
}

impl Paper {
    /// Its longer and shorter side in millimetres.
    #[must_use]
    pub fn sides_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (297.0, 210.0),
            Paper::A3 => (420.0, 297.0),
            Paper::A2 => (594.0, 420.0),
            Paper::Letter => (279.4, 215.9),
            Paper::Tabloid => (431.8, 279.4),
            Paper::AnsiC => (558.8, 431.8),
        }
    }

    /// The next larger size of its family; none after the largest.
    #[must_use]
    pub(crate) fn larger(self) -> Option<Paper> {
        match self {
            Paper::A4 => Some(Paper::A3),
            Paper::A3 => Some(Paper::A2),
            Paper::Letter => Some(Paper::Tabloid),
            Paper::Tabloid => Some(Paper::AnsiC),
            Paper::A2 | Paper::AnsiC => None,
        }
    }

    /// The name as it is shown on a sheet.
    #[must_use]
    pub(crate) fn name(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::A3 => "A3",
            Paper::A2 => "A2",
            Paper::Letter => "Letter (ANSI A)",
            Paper::Tabloid => "Tabloid (ANSI B)",
            Paper::AnsiC => "ANSI C",
        }
    }

    /// True for the sizes that an office printer takes, which may also stand upright.
    #[must_use]
    pub(crate) fn may_stand(self) -> bool {
        matches!(self, Paper::A4 | Paper::Letter)
    }
}

/// A rectangle on paper, in millimetres from the top left corner, y downward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Its left side.
    pub left: f64,
    /// Its upper side.
    pub top: f64,
    /// Its right side.
    pub right: f64,
    /// Its lower side.
    pub bottom: f64,
}

impl Area {
    /// The area from its corner, width and height.
    #[must_use]
    pub(crate) fn new(left: f64, top: f64, width: f64, height: f64) -> Self {
        Area { left, top, right: left + width, bottom: top + height }
    }

    /// Its width.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    /// Its height.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// The area grown by a margin on every side; shrunk where it is negative.
    #[must_use]
    pub fn grown(&self, by: f64) -> Area {
        Area { left: self.left - by, top: self.top - by, right: self.right + by, bottom: self.bottom + by }
    }

    /// True where both share more than a border.
    #[must_use]
    pub fn overlaps(&self, other: &Area) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// True where the other lies inside or on the border.
    #[must_use]
    pub fn holds(&self, other: &Area) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && self.right >= other.right
            && self.bottom >= other.bottom
    }
}

/// A paper lying or standing, and the drawing space on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Page {
    /// The size of paper.
    pub paper: Paper,
    /// True where the longer side is upright.
    pub standing: bool,
}

impl Page {
    /// The whole page.
    #[must_use]
    pub fn area(&self) -> Area {
        let (long, short) = self.paper.sides_mm();
        let (width, height) = if self.standing { (short, long) } else { (long, short) };
        Area::new(0.0, 0.0, width, height)
    }

    /// The drawing space inside the frame: 20 mm from the left edge, where sheets are filed, and 10 mm from the
    /// others (ISO 5457:1999, from public descriptions of it; used for both families of paper).
    #[must_use]
    pub fn frame(&self) -> Area {
        let page = self.area();
        Area { left: 20.0, top: 10.0, right: page.right - 10.0, bottom: page.bottom - 10.0 }
    }
}

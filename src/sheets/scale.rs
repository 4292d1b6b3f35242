//! Standard scales, lengths as a sheet writes them, and the scale bar.

use crate::shape::Point;
use crate::units::{DisplayUnits, MM_PER_INCH, trimmed};

use super::canvas::{Anchor, Canvas, Reading};
use super::ink::{LineStyle, SMALL};
use super::paper::Area;

/// A standard scale 1:n.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Scale(u32);

/// Full size and reductions of ISO 5455:1979, table in 5.1, for sheets in millimetres.
const METRIC: [u32; 6] = [1, 2, 5, 10, 20, 50];
/// Full, half, quarter and eighth size, then an inch, a half and a quarter of an inch to the foot: customary for
/// sheets in inches (from memory).
const INCH: [u32; 7] = [1, 2, 4, 8, 12, 24, 48];

impl Scale {
    /// The standard scales for a book's units, from the largest drawing to the smallest.
    #[must_use]
    pub(crate) fn standard(units: DisplayUnits) -> Vec<Scale> {
        match units {
            DisplayUnits::Mm => METRIC.map(Scale).to_vec(),
            DisplayUnits::In => INCH.map(Scale).to_vec(),
        }
    }

    /// How many millimetres of the thing are one millimetre on paper.
    #[must_use]
    pub fn reduction(self) -> f64 {
        f64::from(self.0)
    }
}

impl std::fmt::Display for Scale {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "1:{}", self.0)
    }
}

/// A length in the book's units, and in the other unit in square brackets (round brackets mean an auxiliary
/// dimension in ISO 129-1). The unit itself stands once on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Measure {
    /// In the book's units.
    pub first: String,
    /// In the other unit, bracketed.
    pub second: String,
}

impl Measure {
    /// A length in millimetres as this book writes it.
    #[must_use]
    pub(crate) fn of(length_mm: f64, units: DisplayUnits) -> Self {
        let mm = trimmed(length_mm, 1);
        let inches = trimmed(length_mm / MM_PER_INCH, 2);
        match units {
            DisplayUnits::Mm => Measure { first: mm, second: format!("[{inches}]") },
            DisplayUnits::In => Measure { first: inches, second: format!("[{mm}]") },
        }
    }

    /// A place, x then y, in the book's units alone.
    #[must_use]
    pub(crate) fn pair(place_mm: Point, units: DisplayUnits) -> String {
        format!("{}, {}", Measure::of(place_mm.x, units).first, Measure::of(place_mm.y, units).first)
    }

    /// Both on one line.
    #[must_use]
    pub(crate) fn both(&self) -> String {
        format!("{} {}", self.first, self.second)
    }
}

/// What the sheet says about its units.
#[must_use]
pub(crate) fn units_in_words(units: DisplayUnits) -> &'static str {
    match units {
        DisplayUnits::Mm => "mm [in]",
        DisplayUnits::In => "in [mm]",
    }
}

/// Draws a scale bar of four fields from a place rightward, at most `longest_mm` long; returns what it covers.
pub(crate) fn scale_bar(
    canvas: &mut Canvas,
    at: Point,
    longest_mm: f64,
    scale: Scale,
    units: DisplayUnits,
) -> Area {
    let (unit_mm, unit, steps): (f64, &str, &[f64]) = match units {
        DisplayUnits::Mm => (1.0, "mm", &[1.0, 2.0, 2.5, 5.0, 10.0]),
        DisplayUnits::In => (MM_PER_INCH, "in", &[1.0, 2.0, 3.0, 6.0, 12.0]),
    };
    let on_paper = |field: f64| field * unit_mm / scale.reduction();
    // A field as long as fits: round numbers of the unit, larger by tens (or feet) until too long.
    let mut field = 0.25;
    let mut factor = 1.0;
    while on_paper(factor * 4.0) <= longest_mm {
        for step in steps {
            if on_paper(step * factor * 4.0) <= longest_mm && step * factor > field {
                field = step * factor;
            }
        }
        factor *= 10.0;
    }
    let (width, height) = (on_paper(field), 1.4);
    let mut covered = Area::new(at.x, at.y, width * 4.0, height);
    for i in 0..4 {
        let left = at.x + width * f64::from(i);
        if i % 2 == 0 {
            let corners = [(left, 0.0), (left + width, 0.0), (left + width, height), (left, height)];
            canvas.solid(&corners.map(|(x, y)| Point::new(x, at.y + y)));
        }
    }
    canvas.rectangle(covered, LineStyle::Narrow);
    for i in [0, 2, 4] {
        let text = trimmed(field * f64::from(i), 2);
        let text = if i == 4 { format!("{text} {unit}") } else { text };
        let place = Point::new(at.x + width * f64::from(i), at.y + height + 3.0);
        let anchor = if i == 4 { Anchor::Start } else { Anchor::Middle };
        let place = if i == 4 { place + Point::new(-1.5, 0.0) } else { place };
        let area = canvas.write(&text, place, anchor, SMALL, Reading::Level);
        covered.right = covered.right.max(area.right);
        covered.bottom = covered.bottom.max(area.bottom);
        covered.left = covered.left.min(area.left);
    }
    covered
}

//! How many stock sheets a job's pieces are cut from: upright rectangles laid on sheets with a gap between them.
//!
//! Each piece counts as the rectangle round it, as it is laid on a sheet, and may be turned by a quarter. The search
//! tries a few orders and keeps the fewest sheets; what it finds can be cut so, and fewer sheets may do: outlines can be
//! laid closer by hand than their rectangles.

/// One piece on a sheet, millimetres from the sheet's lower left usable corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Laid {
    /// The piece, by its place in the list.
    pub piece: usize,
    /// The sheet, from 0.
    pub sheet: usize,
    /// From the left.
    pub x_mm: f64,
    /// From below.
    pub y_mm: f64,
    /// Its width as laid.
    pub width_mm: f64,
    /// Its height as laid.
    pub height_mm: f64,
}

/// All pieces on sheets.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Nest {
    /// How many sheets.
    pub sheets: usize,
    /// Every piece once, in the order of the list.
    pub laid: Vec<Laid>,
}

/// Rounding of a quarter turn is no overhang, in millimetres.
const SLACK_MM: f64 = 1e-6;

#[derive(Clone, Copy)]
struct Free {
    x: f64,
    y: f64,
    width: f64,
    height: f64,
}

impl Free {
    fn holds(&self, other: &Free) -> bool {
        self.x <= other.x + SLACK_MM
            && self.y <= other.y + SLACK_MM
            && self.x + self.width + SLACK_MM >= other.x + other.width
            && self.y + self.height + SLACK_MM >= other.y + other.height
    }

    fn meets(&self, other: &Free) -> bool {
        self.x < other.x + other.width - SLACK_MM
            && other.x < self.x + self.width - SLACK_MM
            && self.y < other.y + other.height - SLACK_MM
            && other.y < self.y + self.height - SLACK_MM
    }
}

/// By what the largest piece is told.
type SizeOf = fn(&(f64, f64)) -> f64;

/// Lays pieces (width and height, millimetres, above 0) on sheets of the usable size `sheet`, `gap_mm` apart; none where
/// a piece fits no sheet.
#[must_use]
pub(crate) fn nest(pieces: &[(f64, f64)], sheet: (f64, f64), gap_mm: f64) -> Option<Nest> {
    let orders: [SizeOf; 4] = [|p| p.0 * p.1, |p| p.0.max(p.1), |p| p.0.min(p.1), |p| p.0 + p.1];
    let mut best: Option<Nest> = None;
    for size in orders {
        let mut order: Vec<usize> = (0..pieces.len()).collect();
        order.sort_by(|a, b| size(&pieces[*b]).total_cmp(&size(&pieces[*a])));
        let found = in_order(pieces, &order, sheet, gap_mm)?;
        if best.as_ref().is_none_or(|least| found.sheets < least.sheets) {
            best = Some(found);
        }
    }
    best
}

fn in_order(pieces: &[(f64, f64)], order: &[usize], sheet: (f64, f64), gap_mm: f64) -> Option<Nest> {
    // A gap is needed between pieces and not at the sheet's own edge: each piece carries one on two of its sides, and
    // the sheet has room for it.
    let whole = Free { x: 0.0, y: 0.0, width: sheet.0 + gap_mm, height: sheet.1 + gap_mm };
    let mut free: Vec<Vec<Free>> = Vec::new();
    let mut laid = Vec::with_capacity(pieces.len());
    for &piece in order {
        let (width, height) = pieces[piece];
        let turns = [(width, height), (height, width)];
        // The place that leaves the least strip beside the piece (J. Jylänki, A Thousand Ways to Pack the Bin, 2010:
        // best short side fit over the largest free rectangles; from memory).
        let place = |at: usize, space: &Free| {
            turns
                .iter()
                .map(|(w, h)| (w + gap_mm, h + gap_mm))
                .filter(|(w, h)| *w <= space.width + SLACK_MM && *h <= space.height + SLACK_MM)
                .map(|(w, h)| {
                    ((space.width - w).min(space.height - h), at, Free { width: w, height: h, ..*space })
                })
                .reduce(|a, b| if b.0 < a.0 { b } else { a })
        };
        let found = free
            .iter()
            .enumerate()
            .find_map(|(at, spaces)| {
                spaces.iter().filter_map(|s| place(at, s)).reduce(|a, b| if b.0 < a.0 { b } else { a })
            })
            .or_else(|| place(free.len(), &whole))?;
        let (_, at, taken) = found;
        if at == free.len() {
            free.push(vec![whole]);
        }
        free[at] = without(&free[at], &taken);
        laid.push(Laid {
            piece,
            sheet: at,
            x_mm: taken.x,
            y_mm: taken.y,
            width_mm: taken.width - gap_mm,
            height_mm: taken.height - gap_mm,
        });
    }
    laid.sort_by_key(|l| l.piece);
    Some(Nest { sheets: free.len(), laid })
}

/// The largest free rectangles after one is taken.
fn without(spaces: &[Free], taken: &Free) -> Vec<Free> {
    let mut out: Vec<Free> = Vec::new();
    for space in spaces {
        if !space.meets(taken) {
            out.push(*space);
            continue;
        }
        let (right, top) = (space.x + space.width, space.y + space.height);
        let (taken_right, taken_top) = (taken.x + taken.width, taken.y + taken.height);
        out.push(Free { width: taken.x - space.x, ..*space });
        out.push(Free { x: taken_right, width: right - taken_right, ..*space });
        out.push(Free { height: taken.y - space.y, ..*space });
        out.push(Free { y: taken_top, height: top - taken_top, ..*space });
    }
    out.retain(|f| f.width > SLACK_MM && f.height > SLACK_MM);
    let all = out.clone();
    let mut at = 0;
    out.retain(|space| {
        let own = at;
        at += 1;
        // Of two alike the first stays.
        !all.iter()
            .enumerate()
            .any(|(other, f)| other != own && f.holds(space) && (!space.holds(f) || other < own))
    });
    out
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn sheets(pieces: &[(f64, f64)], gap: f64) -> Option<usize> {
        nest(pieces, (1500.0, 3000.0), gap).map(|n| n.sheets)
    }

    /// Counted by hand on a sheet of 1500 × 3000 mm.
    #[test]
    fn pieces_that_can_be_counted_by_hand() {
        assert_eq!(sheets(&[], 10.0), Some(0));
        assert_eq!(sheets(&[(1500.0, 3000.0)], 10.0), Some(1), "a gap is asked for between pieces only");
        assert_eq!(sheets(&[(3000.0, 1500.0)], 10.0), Some(1), "turned");
        assert_eq!(sheets(&[(1501.0, 1501.0)], 10.0), None);
        // Three of 1000 mm fill the length without a gap, and not with one.
        assert_eq!(sheets(&[(1500.0, 1000.0); 3], 0.0), Some(1));
        assert_eq!(sheets(&[(1500.0, 1000.0); 3], 1.0), Some(2));
        // 7 across by 14 up of 200 mm with 10 mm between; one more takes another sheet.
        assert_eq!(sheets(&[(200.0, 200.0); 98], 10.0), Some(1));
        assert_eq!(sheets(&[(200.0, 200.0); 99], 10.0), Some(2));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]
        /// Every piece lies once, inside its sheet, a gap from every other; never fewer sheets than their area takes.
        #[test]
        fn what_is_laid_can_be_cut(
            pieces in prop::collection::vec((50.0..1400.0f64, 50.0..2900.0f64), 1..14),
            gap in 0.0..20.0f64,
        ) {
            let found = nest(&pieces, (1500.0, 3000.0), gap).expect("each fits a sheet");
            prop_assert_eq!(found.laid.len(), pieces.len());
            for (at, l) in found.laid.iter().enumerate() {
                prop_assert_eq!(l.piece, at);
                let (w, h) = pieces[at];
                let same = |a: f64, b: f64| (a - b).abs() < 1e-6;
                prop_assert!(same(l.width_mm, w) && same(l.height_mm, h) || same(l.width_mm, h) && same(l.height_mm, w));
                prop_assert!(l.x_mm >= 0.0 && l.y_mm >= 0.0 && l.sheet < found.sheets);
                prop_assert!(l.x_mm + l.width_mm <= 1500.0 + 1e-5 && l.y_mm + l.height_mm <= 3000.0 + 1e-5);
                for other in found.laid[..at].iter().filter(|o| o.sheet == l.sheet) {
                    let apart = |a: f64, wide: f64, b: f64, b_wide: f64| a >= b + b_wide + gap - 1e-5 || b >= a + wide + gap - 1e-5;
                    prop_assert!(
                        apart(l.x_mm, l.width_mm, other.x_mm, other.width_mm)
                            || apart(l.y_mm, l.height_mm, other.y_mm, other.height_mm),
                        "{:?} {:?}", l, other
                    );
                }
            }
            let area: f64 = pieces.iter().map(|(w, h)| w * h).sum();
            prop_assert!(found.sheets as f64 + 1e-9 >= area / (1500.0 * 3000.0));
        }
    }
}

//! Where a cut may stand across a part: the likely places, and those that a deeper search needs.

use super::cut::Part;
use super::edges::edges;
use super::fit::fit;
use super::outline::Outline;
use super::point::Point;
use super::splitter::Splitter;

impl Splitter<'_> {
    /// Positions along a direction at which a cut makes sense and is allowed, in order; at most `most`.
    pub(super) fn positions(&self, part: &Part, across: Point, low: f64, high: f64, most: usize) -> Vec<f64> {
        self.allowed_positions(part, across, (low, high), most, &[])
    }

    /// The same and sums of a sheet's two sides, from both ends, from beside each cut-out, and a sliver off the ends.
    pub(super) fn more_positions(
        &self,
        part: &Part,
        across: Point,
        low: f64,
        high: f64,
        most: usize,
    ) -> Vec<f64> {
        let (w, h) = (self.limits.sheet.width_mm, self.limits.sheet.height_mm);
        let sums = (0..4).flat_map(|a| (0..4).map(move |b| w * f64::from(a) + h * f64::from(b)));
        let sums: Vec<f64> = sums.filter(|s| *s < high - low).collect();
        let (clear, least) = (self.limits.clear_of_cutouts_mm, self.limits.least_piece_mm);
        let reaches: Vec<(f64, f64)> = part.cutouts.iter().map(|c| c.extent(across)).collect();
        let up = std::iter::once(low).chain(reaches.iter().map(|r| r.1 + clear));
        let down = std::iter::once(high).chain(reaches.iter().map(|r| r.0 - clear));
        let up = up.flat_map(|from| sums.iter().map(move |s| from + s));
        let down = down.flat_map(|from| sums.iter().map(move |s| from - s));
        let other = part.contour().extent(across.left());
        let slanting = self.widest_across_corners(other.1 - other.0);
        let more: Vec<f64> = up
            .chain(down)
            .chain([low + least, high - least])
            .chain(slanting.into_iter().flat_map(|w| [low + w, high - w]))
            .collect();
        self.allowed_positions(part, across, (low, high), most, &more)
    }

    /// How wide a strip of a length may be that fits the sheet only across its corners, to a tenth of a millimetre; none
    /// where it fits straight, or not at all.
    fn widest_across_corners(&self, length: f64) -> Option<f64> {
        let sheet = self.limits.sheet;
        let (longer, shorter) = (sheet.width_mm.max(sheet.height_mm), sheet.width_mm.min(sheet.height_mm));
        if length <= longer || length >= longer.hypot(shorter) {
            return None;
        }
        let fits = |width: f64| fit(&Outline::rectangle(length, width).outer, sheet).is_some();
        let (mut low, mut high) = (self.limits.least_piece_mm.max(0.1), shorter);
        if !fits(low) {
            return None;
        }
        while high - low > 0.05 {
            let middle = low.midpoint(high);
            if fits(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some((low * 10.0).floor() / 10.0).filter(|w| *w >= self.limits.least_piece_mm)
    }

    fn allowed_positions(
        &self,
        part: &Part,
        across: Point,
        (low, high): (f64, f64),
        most: usize,
        more: &[f64],
    ) -> Vec<f64> {
        let (sheet, clear) = (self.limits.sheet, self.limits.clear_of_cutouts_mm);
        let reaches: Vec<(f64, f64)> = part.cutouts.iter().map(|c| c.extent(across)).collect();
        // Corners of edges, not joints of a smooth curve: inward ones are where a cut is shortest.
        let contour = part.contour();
        let corners = edges(&contour).into_iter().map(|e| across.dot(e.start()));
        let joints = self
            .joints
            .iter()
            .filter(|j| (j.to - j.from).unit().dot(across).abs() < 1e-6)
            .map(|j| across.dot(j.from));
        let shorter = sheet.width_mm.min(sheet.height_mm);
        let longer = sheet.width_mm.max(sheet.height_mm);
        let fewest = ((high - low) / longer).ceil().max(2.0) as u32;
        let even = (fewest..fewest + 3)
            .flat_map(|k| (1..k).map(move |i| (i, k)))
            .map(|(i, k)| low + (high - low) * f64::from(i) / f64::from(k));
        let full = [longer, shorter].into_iter().flat_map(|s| {
            let steps = ((high - low) / s).floor().min(8.0) as u32;
            (1..=steps).flat_map(move |n| [low + s * f64::from(n), high - s * f64::from(n)])
        });
        let clears = reaches.iter().flat_map(|(a, b)| [a - clear, b + clear]);
        let middles = reaches.iter().filter(|_| self.through_cutouts).map(|(a, b)| 0.5 * (a + b));
        let mut found: Vec<f64> = Vec::new();
        let likely = joints.chain(middles).chain(even).chain(full).chain(clears).chain(corners);
        for at in likely.chain(more.iter().copied()) {
            let inside = at > low + 1e-3 && at < high - 1e-3;
            let blocked = reaches.iter().any(|reach| too_near(*reach, at, clear, self.through_cutouts));
            if inside && !blocked && !found.iter().any(|f| (f - at).abs() < 1e-6) && found.len() < most {
                found.push(at);
            }
        }
        found.sort_by(f64::total_cmp);
        found
    }
}

/// True where a cut stands too near to a cut-out that reaches from one place to another across it. Where a cut may pass
/// through cut-outs, it does so well inside, so that no thin tip is left beside the opening.
pub(super) fn too_near((low, high): (f64, f64), at: f64, clear: f64, through: bool) -> bool {
    let within = |from: f64, to: f64| at > from + 1e-9 && at < to - 1e-9;
    if !through {
        return within(low - clear, high + clear);
    }
    let inside = clear.max(0.25 * (high - low)).min(0.5 * (high - low));
    within(low - clear, low + inside) || within(high - inside, high + clear)
}

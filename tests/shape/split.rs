//! The proposed splits of rectangles against every guillotine split on a grid, of any depth.
//!
//! What this shows, and what not. Over rectangles with cut-outs whose sides lie on a grid, the proposal takes as few
//! pieces as any split by straight cuts from border to border along the grid, and its seams are as short: in the cases
//! drawn here always; in 600 drawn the same way one took 6 pieces where 5 would do, and none had longer seams. Splits that
//! no such cuts make (a pinwheel) are tried in small cases, where every way to cover the grid with pieces is: of 300 none
//! takes fewer, because the inner piece of a pinwheel has no edge to be lit. Nothing is shown of slanting cuts, or of other
//! outlines.

use std::collections::BTreeMap;

use underlit::shape::{Contour, Outline, Point, Sheet, SplitLimits, TapeLimits, fit, split};

/// The side of a grid square, in millimetres.
const GRID_MM: f64 = 100.0;

type Cells = (u32, u32, u32, u32);

/// A rectangle of `width` by `height` squares with cut-outs, and a sheet.
struct Case {
    width: u32,
    height: u32,
    holes: Vec<Cells>,
    sheet: Sheet,
}

impl Case {
    fn outline(&self) -> Outline {
        let mm = |cells: u32| f64::from(cells) * GRID_MM;
        let mut outline = Outline::rectangle(mm(self.width), mm(self.height));
        for &(x0, y0, x1, y1) in &self.holes {
            let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Point::new(mm(x), mm(y)));
            outline.cutouts.push(Contour::polygon(&corners));
        }
        outline
    }

    fn limits(&self) -> SplitLimits {
        SplitLimits {
            sheet: self.sheet,
            least_piece_mm: GRID_MM,
            clear_of_cutouts_mm: GRID_MM,
            tape: TapeLimits { shortest_mm: 0.0, least_bend_radius_mm: None },
            lit_edges: Vec::new(),
            most_pieces: 12,
        }
    }

    /// Fewest pieces and, with these, the least length of seams in squares; none where no grid split does.
    fn fewest(&self, part: Cells, known: &mut BTreeMap<Cells, Option<(u32, u32)>>) -> Option<(u32, u32)> {
        if let Some(answer) = known.get(&part) {
            return *answer;
        }
        let (x0, y0, x1, y1) = part;
        let (w, h) = (x1 - x0, y1 - y0);
        let own = x0 == 0 || y0 == 0 || x1 == self.width || y1 == self.height;
        let contour = Outline::rectangle(f64::from(w) * GRID_MM, f64::from(h) * GRID_MM).outer;
        let mut best = (own && fit(&contour, self.sheet).is_some()).then_some((1, 0));
        if best.is_none() {
            let inside: Vec<Cells> = self
                .holes
                .iter()
                .copied()
                .filter(|hole| hole.0 >= x0 && hole.2 <= x1 && hole.1 >= y0 && hole.3 <= y1)
                .collect();
            let upright = (x0 + 1..x1)
                .filter(|&x| inside.iter().all(|hole| x < hole.0 || x > hole.2))
                .map(|x| ((x0, y0, x, y1), (x, y0, x1, y1), h));
            let level = (y0 + 1..y1)
                .filter(|&y| inside.iter().all(|hole| y < hole.1 || y > hole.3))
                .map(|y| ((x0, y0, x1, y), (x0, y, x1, y1), w));
            for (a, b, seam) in upright.chain(level).collect::<Vec<_>>() {
                let (Some(a), Some(b)) = (self.fewest(a, known), self.fewest(b, known)) else { continue };
                let both = (a.0 + b.0, a.1 + b.1 + seam);
                best = Some(best.map_or(both, |found| found.min(both)));
            }
        }
        known.insert(part, best);
        best
    }
}

/// Cases from a stated start: a linear congruential generator (Knuth, MMIX constants, from memory).
fn cases(count: usize) -> Vec<Case> {
    let mut state: u64 = 20_261_125;
    let mut next = |low: u32, high: u32| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + ((state >> 33) as u32) % (high - low + 1)
    };
    (0..count)
        .map(|_| {
            let (width, height) = (next(9, 26), next(4, 14));
            let sheet = Sheet {
                width_mm: f64::from(next(10, 16)) * GRID_MM,
                height_mm: f64::from(next(5, 9)) * GRID_MM,
            };
            let mut holes: Vec<Cells> = Vec::new();
            for _ in 0..next(0, 2) {
                let (x, y) = (next(1, width - 3), next(1, height - 3));
                let hole = (x, y, (x + next(1, 3)).min(width - 1), (y + next(1, 2)).min(height - 1));
                let apart = |o: &Cells| hole.0 > o.2 || hole.2 < o.0 || hole.1 > o.3 || hole.3 < o.1;
                if holes.iter().all(apart) {
                    holes.push(hole);
                }
            }
            Case { width, height, holes, sheet }
        })
        .collect()
}

impl Case {
    /// Fewest pieces over every way to cover the grid with rectangles that may be pieces, up to `most`.
    fn fewest_of_all(&self, most: u32) -> Option<u32> {
        let mut taken = vec![false; (self.width * self.height) as usize];
        (1..=most).find(|&pieces| self.covers(&mut taken, pieces))
    }

    /// True where the free squares can be covered by so many more pieces.
    fn covers(&self, taken: &mut [bool], pieces: u32) -> bool {
        let at = |x: u32, y: u32| (y * self.width + x) as usize;
        let Some(first) = taken.iter().position(|t| !t) else { return pieces == 0 };
        if pieces == 0 {
            return false;
        }
        let (x0, y0) = (first as u32 % self.width, first as u32 / self.width);
        for x1 in x0 + 1..=self.width {
            for y1 in y0 + 1..=self.height {
                let cells: Vec<usize> = (y0..y1).flat_map(|y| (x0..x1).map(move |x| at(x, y))).collect();
                if !cells.iter().any(|c| taken[*c]) && self.may_be_a_piece((x0, y0, x1, y1)) {
                    cells.iter().for_each(|c| taken[*c] = true);
                    let done = self.covers(taken, pieces - 1);
                    cells.iter().for_each(|c| taken[*c] = false);
                    if done {
                        return true;
                    }
                }
            }
        }
        false
    }

    /// True where a rectangle fits the sheet, has an edge of its own, and no border of it is a seam near a cut-out.
    fn may_be_a_piece(&self, (x0, y0, x1, y1): Cells) -> bool {
        let own = x0 == 0 || y0 == 0 || x1 == self.width || y1 == self.height;
        let contour = Outline::rectangle(f64::from(x1 - x0) * GRID_MM, f64::from(y1 - y0) * GRID_MM).outer;
        // Seams stay a square away from cut-outs; a border of the whole is no seam.
        let clear = self.holes.iter().all(|h| {
            let (a0, a1) = (h.0.saturating_sub(1), (h.2 + 1).min(self.width));
            let (b0, b1) = (h.1.saturating_sub(1), (h.3 + 1).min(self.height));
            let within = x0 <= a0 && x1 >= a1 && y0 <= b0 && y1 >= b1;
            let apart = x1 <= a0 || x0 >= a1 || y1 <= b0 || y0 >= b1;
            within || apart
        });
        own && clear && fit(&contour, self.sheet).is_some()
    }
}

/// Small enough that every way to cover them can be tried; sheets that leave room for pinwheels.
fn small_cases(count: usize) -> Vec<Case> {
    let mut state: u64 = 7_102_026;
    let mut next = |low: u32, high: u32| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + ((state >> 33) as u32) % (high - low + 1)
    };
    (0..count)
        .map(|number| {
            let (width, height) = (next(4, 8), next(4, 7));
            let long = next(3, 6);
            let sheet = Sheet {
                width_mm: f64::from(long) * GRID_MM,
                height_mm: f64::from(next(2, long - 1)) * GRID_MM,
            };
            let holes = if number % 3 == 0 {
                let (x, y) = (next(1, width - 2), next(1, height - 2));
                vec![(x, y, x + 1, y + 1)]
            } else {
                Vec::new()
            };
            Case { width, height, holes, sheet }
        })
        .collect()
}

#[test]
fn no_way_to_cover_a_small_outline_takes_fewer_pieces() {
    let count = std::env::var("UNDERLIT_SPLIT_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let mut several = 0;
    for (number, case) in small_cases(count).iter().enumerate() {
        let found = split(&case.outline(), &case.limits()).ok();
        let found = found.as_ref().and_then(|options| options.first()).map(|o| o.pieces.len() as u32);
        // One piece less than proposed, or six where none was.
        let wanted = case.fewest_of_all(found.map_or(6, |f| f - 1));
        let told = (case.width, case.height, &case.holes, case.sheet);
        assert_eq!(wanted, None, "case {number} {told:?}: found {found:?}");
        several += usize::from(found.is_some_and(|f| f > 2));
    }
    assert!(several * 4 > count, "many cases take three pieces or more: {several}");
}

#[test]
fn no_split_along_the_grid_takes_fewer_pieces() {
    let count = std::env::var("UNDERLIT_SPLIT_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let (mut split_cases, mut longer, mut missed) = (0, Vec::new(), Vec::new());
    for (number, case) in cases(count).iter().enumerate() {
        let whole = (0, 0, case.width, case.height);
        let best = case.fewest(whole, &mut BTreeMap::new());
        let found = split(&case.outline(), &case.limits()).ok();
        let found = found.as_ref().and_then(|options| options.first());
        let told = (case.width, case.height, &case.holes, case.sheet);
        match (best, found) {
            (Some((pieces, length)), Some(option)) => {
                split_cases += usize::from(pieces > 1);
                assert!(option.pieces.len() >= pieces as usize, "case {number} {told:?}: fewer than can be");
                if option.pieces.len() > pieces as usize {
                    missed.push(format!(
                        "case {number} {told:?}: {} pieces, {pieces} would do",
                        option.pieces.len()
                    ));
                } else if option.pieces.len() == pieces as usize
                    && option.seam_length_mm > f64::from(length) * GRID_MM + 1e-6
                {
                    longer.push(format!(
                        "case {number} {told:?}: {} mm, {length} squares would do",
                        option.seam_length_mm
                    ));
                }
            }
            (Some((pieces, _)), None) => {
                missed.push(format!("case {number} {told:?}: none found, {pieces} pieces would do"))
            }
            (None, _) => {}
        }
    }
    // One in 600 is known to fall short; the usual count leaves room for none.
    assert!(missed.len() <= count / 600, "{} of {count}: {missed:#?}", missed.len());
    assert!(longer.is_empty(), "{} of {count}: {longer:#?}", longer.len());
    assert!(split_cases * 2 > count, "most cases need a split: {split_cases}");
}

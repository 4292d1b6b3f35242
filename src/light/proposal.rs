//! Where in a photo the bare panel and the stone over it are likely to be: a proposal, which somebody confirms.
//!
//! The bare panel is the largest bright, even, near-neutral place that is not overexposed; the stone is the largest other
//! lit place. The picture is looked at in cells. Whether a proposal tells a colour is judged where every photo is
//! ([`SwatchPhoto::measure`]), and how sure it is is said. The limits here are rules of thumb: common practice, no source.

use super::area::Area;
use super::illuminants::named;
use super::picture::{Picture, linear_table};
use super::swatch_photo::{Bare, SwatchPhoto};

/// About how many cells the longer side has.
const CELLS: usize = 120;
/// 8-bit values from here on count as overexposed.
const CLIPPED_FROM: u8 = 254;
/// The largest spread of a cell of bare panel, relative to its light.
const EVEN: f64 = 0.10;
/// How far neighbouring cells of bare panel differ at most, and how far one differs from where the panel was found.
const STEP: f64 = 0.07;
const DRIFT: f64 = 0.25;
/// What white balance may do to a bare panel: least channel over greatest.
const NEUTRAL: f64 = 0.45;
/// A stone passes more than this share of the bare panel's light, where it tells anything.
const LIT: f64 = 0.008;
/// Stone and bare panel in front of one panel are no farther apart, in cells.
const NEAR: usize = CELLS / 10;
/// Smaller shares of the picture are no bare panel, and no stone.
const LEAST_BARE: f64 = 0.002;
const LEAST_STONE: f64 = 0.01;

/// How sure a proposal is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Sureness {
    /// Look twice.
    Guess,
    /// Probably right.
    Likely,
    /// Nothing speaks against it.
    Clear,
}

impl Sureness {
    /// The word for it.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Sureness::Guess => "a guess",
            Sureness::Likely => "likely",
            Sureness::Clear => "clear",
        }
    }
}

/// A place in pixels: left, top, width, height.
pub(crate) type Place = [usize; 4];

/// A proposal.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Proposal {
    /// Where the bare panel is.
    pub(crate) bare: Place,
    /// Where the stone is.
    pub(crate) stone: Place,
    /// How sure that is.
    pub(crate) sureness: Sureness,
    /// What makes it less sure, one sentence each.
    pub(crate) doubts: Vec<String>,
}

/// Finds bare panel and stone; none where no place looks like a bare panel or nothing beside it is lit.
pub(crate) fn propose(picture: &Picture) -> Option<Proposal> {
    let grid = Grid::of(picture);
    let (bare, rival) = grid.bare_panel()?;
    let light = grid.mean(&bare);
    let (stone, beside) = grid.stone(&bare, light)?;
    let (bare_place, stone_place) = (grid.place(&bare, picture)?, grid.place(&stone, picture)?);

    let mut doubts = Vec::new();
    let mut sureness = Sureness::Clear;
    let mut doubt = |to: Sureness, why: String| {
        sureness = sureness.min(to);
        doubts.push(why);
    };
    if let Some(refused) = refused(picture, bare_place, stone_place) {
        doubt(Sureness::Guess, format!("measured there, the photo would be refused: {refused}."));
    }
    let overexposed = grid.cells.iter().filter(|cell| cell.clipped).count();
    if overexposed > count(&bare) {
        doubt(Sureness::Guess, "a larger place is overexposed, and may be the bare panel.".into());
    }
    if rival {
        doubt(Sureness::Likely, "another place is as bright and even.".into());
    }
    if !beside {
        doubt(Sureness::Likely, "stone and bare panel are far apart.".into());
    }
    if grid.mean(&stone) > 0.75 * light {
        doubt(Sureness::Likely, "the stone is nearly as bright as the bare panel.".into());
    }
    Some(Proposal { bare: bare_place, stone: stone_place, sureness, doubts })
}

/// Why the photo would be refused with these places, by whatever white light; none where it would be measured.
fn refused(picture: &Picture, bare: Place, stone: Place) -> Option<String> {
    let area = |[x, y, width, height]: Place| {
        let [x, y, width, height] = [x, y, width, height].map(|n| n as f64);
        Area::Rectangle { x, y, width, height }
    };
    let light = named("LED-B3").ok()?;
    let bare = area(bare);
    SwatchPhoto::measure(picture, &area(stone), Bare::SameFrame(&bare), None, &light)
        .err()
        .map(|e| e.to_string())
}

#[derive(Clone, Debug)]
struct Cell {
    /// Mean linear light, and its least channel over the greatest.
    light: f64,
    neutral: f64,
    /// Spread of its light, relative.
    spread: f64,
    clipped: bool,
}

/// Some cells, one flag each.
type Cells = Vec<bool>;

fn count(cells: &Cells) -> usize {
    cells.iter().filter(|c| **c).count()
}

struct Grid {
    side: usize,
    across: usize,
    down: usize,
    cells: Vec<Cell>,
}

impl Grid {
    fn of(picture: &Picture) -> Grid {
        let side = picture.width.max(picture.height).div_ceil(CELLS).max(4);
        let (across, down) = (picture.width / side, picture.height / side);
        let linear = linear_table();
        let cell = |at: usize| {
            let (left, top) = (at % across * side, at / across * side);
            let (mut sum, mut squares, mut clipped) = ([0.0; 3], 0.0, 0);
            for y in top..top + side {
                for x in left..left + side {
                    let pixel = picture.pixel(x, y);
                    clipped += usize::from(pixel.iter().any(|v| *v >= CLIPPED_FROM));
                    let rgb = pixel.map(|v| linear[usize::from(v)]);
                    (0..3).for_each(|k| sum[k] += rgb[k]);
                    squares += (rgb.iter().sum::<f64>() / 3.0).powi(2);
                }
            }
            let pixels = (side * side) as f64;
            let light = sum.iter().sum::<f64>() / 3.0 / pixels;
            let greatest = sum.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
            Cell {
                light,
                neutral: sum.iter().copied().fold(f64::INFINITY, f64::min) / greatest,
                spread: (squares / pixels - light * light).max(0.0).sqrt() / light.max(1e-6),
                clipped: clipped as f64 > 0.005 * pixels,
            }
        };
        let cells = (0..across * down).map(cell).collect();
        Grid { side, across, down, cells }
    }

    fn neighbours(&self, at: usize) -> impl Iterator<Item = usize> {
        let (x, y) = (at % self.across, at / self.across);
        let (across, down) = (self.across, self.down);
        [
            (x > 0).then(|| at - 1),
            (x + 1 < across).then(|| at + 1),
            (y > 0).then(|| at - across),
            (y + 1 < down).then(|| at + across),
        ]
        .into_iter()
        .flatten()
    }

    /// The cells that can be reached from one, neighbour by neighbour.
    fn grown(&self, from: usize, may: impl Fn(usize, usize) -> bool) -> Cells {
        let mut found = vec![false; self.cells.len()];
        found[from] = true;
        let mut open = vec![from];
        while let Some(at) = open.pop() {
            for next in self.neighbours(at) {
                if !found[next] && may(at, next) {
                    found[next] = true;
                    open.push(next);
                }
            }
        }
        found
    }

    fn mean(&self, cells: &Cells) -> f64 {
        let lights = self.cells.iter().zip(cells).filter(|(_, c)| **c).map(|(cell, _)| cell.light);
        lights.sum::<f64>() / count(cells).max(1) as f64
    }

    /// The best bright, even and near-neutral place, and whether another one is nearly as good.
    fn bare_panel(&self) -> Option<(Cells, bool)> {
        let may_be =
            |cell: &Cell| !cell.clipped && cell.spread < EVEN && cell.neutral > NEUTRAL && cell.light > 0.03;
        let mut order: Vec<usize> = (0..self.cells.len()).filter(|at| may_be(&self.cells[*at])).collect();
        order.sort_by(|a, b| self.cells[*b].light.total_cmp(&self.cells[*a].light));
        let brightest = self.cells[*order.first()?].light;
        let mut taken = vec![false; self.cells.len()];
        let mut found: Vec<(f64, Cells)> = Vec::new();
        for seed in order {
            let first = self.cells[seed].light;
            if taken[seed] || first < 0.3 * brightest {
                continue;
            }
            let region = self.grown(seed, |at, next| {
                let (a, b) = (&self.cells[at], &self.cells[next]);
                may_be(b) && (a.light / b.light - 1.0).abs() < STEP && (b.light / first - 1.0).abs() < DRIFT
            });
            taken.iter_mut().zip(&region).for_each(|(t, r)| *t |= r);
            if count(&region) as f64 > LEAST_BARE * self.cells.len() as f64 {
                // Brightness counts for more than size: a stone may be larger, and even.
                let score = (self.mean(&region) / brightest).powi(3) * (count(&region) as f64).sqrt();
                found.push((score, region));
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let best = found.first()?.0;
        let rival = found.get(1).is_some_and(|second| second.0 > 0.8 * best);
        Some((found.swap_remove(0).1, rival))
    }

    /// Cells within a step of some.
    fn widened(&self, cells: &Cells) -> Cells {
        let near = |at: usize| cells[at] || self.neighbours(at).any(|n| cells[n]);
        (0..cells.len()).map(near).collect()
    }

    /// The largest lit place besides the bare panel, and whether it is beside it.
    fn stone(&self, bare: &Cells, light: f64) -> Option<(Cells, bool)> {
        let around = self.widened(&self.widened(bare));
        let other = |at: usize| !around[at] && !self.cells[at].clipped;
        let limit = self.darkness(&other).max(LIT * light);
        let lit: Cells = (0..self.cells.len())
            .map(|at| {
                let near = self.neighbours(at).filter(|n| self.cells[*n].light > limit).count();
                // A dark vein in a lit stone is stone, and a spark in the dark is none.
                other(at) && (near >= 3 || (near >= 2 && self.cells[at].light > limit))
            })
            .collect();
        let touching = (0..NEAR).fold(around.clone(), |wider, _| self.widened(&wider));
        let mut left = lit.clone();
        let mut best: Option<(usize, Cells, bool)> = None;
        while let Some(seed) = left.iter().position(|c| *c) {
            let region = self.grown(seed, |_, next| lit[next]);
            left.iter_mut().zip(&region).for_each(|(l, r)| *l &= !r);
            let beside = region.iter().zip(&touching).any(|(r, t)| *r && *t);
            let weight = count(&region) * if beside { 3 } else { 1 };
            if best.as_ref().is_none_or(|(w, ..)| weight > *w) {
                best = Some((weight, region, beside));
            }
        }
        let (_, region, beside) = best?;
        (count(&region) as f64 > LEAST_STONE * self.cells.len() as f64).then_some((region, beside))
    }

    /// The light that parts dark surroundings from a lit stone (Otsu, on the logarithm: N. Otsu, IEEE Trans. Syst. Man
    /// Cybern. 9 (1979), 62–66); 0 where the two are not far apart.
    fn darkness(&self, of: &impl Fn(usize) -> bool) -> f64 {
        let mut logs: Vec<f64> = (0..self.cells.len())
            .filter(|at| of(*at))
            .map(|at| self.cells[at].light.max(1e-5).log10())
            .collect();
        logs.sort_by(f64::total_cmp);
        let (all, total) = (logs.len() as f64, logs.iter().sum::<f64>());
        let (mut below, mut best) = (0.0, (0.0, f64::NEG_INFINITY, 0.0));
        for at in 1..logs.len() {
            below += logs[at - 1];
            let (n, m) = (at as f64, all - at as f64);
            let apart = (total - below) / m - below / n;
            let between = n * m * apart * apart;
            if between > best.0 {
                best = (between, (logs[at - 1] + logs[at]) / 2.0, apart);
            }
        }
        // Four times as bright on average, at the least.
        if best.2 > 0.6 { 10f64.powf(best.1) } else { 0.0 }
    }

    /// The largest rectangle within cells, a cell inside its border where it is wide enough, in pixels.
    fn place(&self, cells: &Cells, picture: &Picture) -> Option<Place> {
        let (mut best, mut heights) = ((0, [0; 4]), vec![0usize; self.across]);
        for y in 0..self.down {
            for x in 0..self.across {
                heights[x] = if cells[y * self.across + x] { heights[x] + 1 } else { 0 };
            }
            for left in 0..self.across {
                let mut low = usize::MAX;
                for (wide, height) in (1..).zip(heights.iter().skip(left).take_while(|h| **h > 0)) {
                    low = low.min(*height);
                    let area = low * wide;
                    if area > best.0 {
                        best = (area, [left, y + 1 - low, wide, low]);
                    }
                }
            }
        }
        let (area, [left, top, wide, high]) = best;
        let inset = |n: usize| usize::from(n > 3);
        let (dx, dy) = (inset(wide), inset(high));
        let place = [left + dx, top + dy, wide - 2 * dx, high - 2 * dy].map(|n| n * self.side);
        (area > 0 && place[0] + place[2] <= picture.width && place[1] + place[3] <= picture.height)
            .then_some(place)
    }
}

#[cfg(test)]
mod tests {
    use super::super::colour::encode;
    use super::*;

    /// A picture of a size, by the linear light at each place, with the noise of a camera.
    fn picture(width: usize, height: usize, light: impl Fn(usize, usize) -> [f64; 3]) -> Picture {
        let mut state = 7u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (f64::from(state >> 8) / f64::from(1u32 << 24) - 0.5) * 5.0
        };
        let mut rgb = Vec::with_capacity(width * height * 3);
        for y in 0..height {
            for x in 0..width {
                rgb.extend(
                    light(x, y).map(|v| (encode(v.min(1.0)) * 255.0 + noise()).clamp(0.0, 255.0) as u8),
                );
            }
        }
        Picture::of(width, height, rgb)
    }

    fn holds(truth: Place, found: Place) -> bool {
        let inside =
            |at: usize| truth[at] <= found[at] && found[at] + found[at + 2] <= truth[at] + truth[at + 2];
        inside(0) && inside(1)
    }

    /// Stone and bare panel at places, in surroundings; veins in the stone, and a panel that is darker to one side.
    fn scene(stone: Place, bare: Place, colour: [f64; 3], around: f64) -> Picture {
        let within = |[left, top, w, h]: Place, x: usize, y: usize| {
            (left..left + w).contains(&x) && (top..top + h).contains(&y)
        };
        picture(720, 480, |x, y| {
            let fall = 1.0 - 0.15 * x as f64 / 720.0;
            if within(stone, x, y) {
                let wave = (x as f64 / 23.0 + (y as f64 / 41.0).sin() * 2.0).sin();
                let vein = if wave > 0.9 { 0.45 } else { 1.0 };
                colour.map(|t| 0.75 * fall * t * vein)
            } else if within(bare, x, y) {
                [0.78, 0.74, 0.62].map(|v| v * fall)
            } else {
                [around; 3]
            }
        })
    }

    #[test]
    fn stone_and_bare_panel_are_found_where_they_are() {
        let (honey, white, dark) = ([0.30, 0.17, 0.06], [0.35, 0.33, 0.29], [0.04, 0.02, 0.012]);
        for (stone, bare) in [
            ([40, 60, 400, 360], [470, 60, 160, 360]),
            ([200, 40, 480, 400], [60, 120, 130, 240]),
            ([100, 150, 520, 300], [150, 20, 400, 120]),
        ] {
            for colour in [honey, white, dark] {
                for around in [0.0005, 0.003] {
                    let found = propose(&scene(stone, bare, colour, around)).expect("a proposal");
                    assert!(holds(bare, found.bare), "{bare:?} {found:?}");
                    assert!(holds(stone, found.stone), "{stone:?} {found:?}");
                    assert_eq!(found.sureness, Sureness::Clear, "{found:?}");
                    let large = |place: Place, of: Place| place[2] * place[3] * 2 > of[2] * of[3];
                    assert!(large(found.bare, bare) && large(found.stone, stone), "{found:?}");
                }
            }
        }
    }

    #[test]
    fn what_is_doubtful_is_said_and_nothing_is_made_up() {
        assert_eq!(propose(&picture(300, 200, |_, _| [0.001; 3])), None, "a dark room");
        assert_eq!(propose(&picture(300, 200, |_, _| [1.0; 3])), None, "overexposed");
        assert_eq!(propose(&picture(300, 200, |_, _| [0.5, 0.1, 0.02])), None, "a colour is no bare panel");
        assert_eq!(propose(&picture(3, 2, |_, _| [0.5; 3])), None, "too small");
        // Two bright places: the stone between them.
        let twins = picture(720, 480, |x, _| match x {
            0..150 | 570.. => [0.7, 0.68, 0.6],
            _ => [0.2, 0.12, 0.05],
        });
        let found = propose(&twins).expect("a proposal");
        assert!(found.sureness < Sureness::Clear && !found.doubts.is_empty(), "{found:?}");
        // The panel is overexposed, and the stone is taken for it.
        let burnt = picture(720, 480, |x, y| match (x, y % 60) {
            (0..300, _) => [1.0; 3],
            (_, 0..30) => [0.4, 0.36, 0.3],
            _ => [0.1, 0.09, 0.08],
        });
        assert!(propose(&burnt).is_none_or(|found| found.sureness == Sureness::Guess));
    }
}

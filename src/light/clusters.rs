//! Body and vein of a stone: the two colours that its picture falls into, or one where it is even.
//!
//! Two-means in CIELAB from the ends of the picture's main colour axis, then the median of the core of each
//! cluster, so that dust, glints and half-covered cells do not count. The same cells give the same answer.

use super::colour;

/// The least colour difference between two clusters that counts as a vein, CIEDE2000.
pub(crate) const LEAST_CONTRAST: f64 = 3.0;
/// The least share of the stone that counts as a vein rather than as dirt.
pub(crate) const LEAST_SHARE: f64 = 0.02;

/// The colours that a stone falls into.
#[derive(Clone, Debug, PartialEq)]
pub struct Clusters {
    /// Red, green and blue transmittance of the larger part.
    pub body: [f64; 3],
    /// The same of the smaller part; none where the stone is even.
    pub vein: Option<[f64; 3]>,
    /// The share of the stone that is vein, 0 to 0.5.
    pub vein_share: f64,
}

/// Splits cells of red, green and blue transmittance; `to_xyz` gives tristimulus values relative to `white`.
///
/// `cells` is not empty.
#[must_use]
pub(crate) fn body_and_vein(
    cells: &[[f64; 3]],
    to_xyz: impl Fn([f64; 3]) -> [f64; 3],
    white: [f64; 3],
) -> Clusters {
    let xyz: Vec<[f64; 3]> = cells.iter().map(|t| to_xyz(*t)).collect();
    // Seen as the eye exposes itself: the brightest twentieth near white.
    let mut luminances: Vec<f64> = xyz.iter().map(|v| v[1]).collect();
    luminances.sort_by(f64::total_cmp);
    let bright = luminances[(luminances.len() - 1) * 95 / 100].max(1e-9);
    let labs: Vec<[f64; 3]> =
        xyz.iter().map(|v| colour::lab(v.map(|c| c.max(0.0) * 0.8 * white[1] / bright), white)).collect();
    let whole =
        Clusters { body: median(cells, &(0..cells.len()).collect::<Vec<_>>()), vein: None, vein_share: 0.0 };
    if cells.len() < 20 {
        return whole;
    }
    let Some(mut centres) = ends_of_main_axis(&labs) else { return whole };
    let mut first: Vec<bool> = Vec::new();
    for _ in 0..40 {
        let now: Vec<bool> =
            labs.iter().map(|l| squared(*l, centres[0]) <= squared(*l, centres[1])).collect();
        if now == first {
            break;
        }
        first = now;
        for (side, centre) in centres.iter_mut().enumerate() {
            if let Some(mean) =
                mean(labs.iter().zip(&first).filter(|(_, f)| **f == (side == 0)).map(|(l, _)| *l))
            {
                *centre = mean;
            }
        }
    }
    let side = |wanted: bool, centre: [f64; 3]| {
        let mut members: Vec<usize> = (0..labs.len()).filter(|i| first[*i] == wanted).collect();
        let count = members.len();
        members.sort_by(|a, b| squared(labs[*a], centre).total_cmp(&squared(labs[*b], centre)));
        members.truncate((count * 7).div_ceil(10));
        (count as f64 / labs.len() as f64, members)
    };
    let (a, b) = (side(true, centres[0]), side(false, centres[1]));
    let (body, vein) = if a.0 >= b.0 { (a, b) } else { (b, a) };
    if vein.0 < LEAST_SHARE || body.1.is_empty() {
        return whole;
    }
    let (body_t, vein_t) = (median(cells, &body.1), median(cells, &vein.1));
    let seen = |t: [f64; 3]| colour::lab(to_xyz(t).map(|c| c.max(0.0) * 0.8 * white[1] / bright), white);
    if colour::delta_e00(seen(body_t), seen(vein_t)) < LEAST_CONTRAST {
        return whole;
    }
    Clusters { body: body_t, vein: Some(vein_t), vein_share: vein.0 }
}

fn squared(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|k| (a[k] - b[k]).powi(2)).sum()
}

fn mean(points: impl Iterator<Item = [f64; 3]>) -> Option<[f64; 3]> {
    let (mut sum, mut count) = ([0.0; 3], 0usize);
    for p in points {
        (0..3).for_each(|k| sum[k] += p[k]);
        count += 1;
    }
    (count > 0).then(|| sum.map(|s| s / count as f64))
}

/// The points two percent from either end along the first principal axis, so that a narrow vein pulls one
/// centre to itself and dirt does not; none where all points are one.
fn ends_of_main_axis(points: &[[f64; 3]]) -> Option<[[f64; 3]; 2]> {
    let centre = mean(points.iter().copied())?;
    let mut spread = [[0.0; 3]; 3];
    for p in points {
        for (i, row) in spread.iter_mut().enumerate() {
            for (j, cell) in row.iter_mut().enumerate() {
                *cell += (p[i] - centre[i]) * (p[j] - centre[j]);
            }
        }
    }
    let mut axis = [1.0, 0.3, 0.5];
    for _ in 0..60 {
        let next = colour::times(spread, axis);
        let length = next.iter().map(|v| v * v).sum::<f64>().sqrt();
        if length < 1e-9 {
            return None;
        }
        axis = next.map(|v| v / length);
    }
    let mut along: Vec<f64> =
        points.iter().map(|p| (0..3).map(|k| (p[k] - centre[k]) * axis[k]).sum()).collect();
    along.sort_by(f64::total_cmp);
    let at = |percent: usize| {
        let s = along[(along.len() - 1) * percent / 100];
        [0, 1, 2].map(|k| centre[k] + s * axis[k])
    };
    let ends = [at(2), at(98)];
    (squared(ends[0], ends[1]) > 1e-12).then_some(ends)
}

fn median(cells: &[[f64; 3]], members: &[usize]) -> [f64; 3] {
    [0, 1, 2].map(|k| {
        let mut values: Vec<f64> = members.iter().map(|i| cells[*i][k]).collect();
        values.sort_by(f64::total_cmp);
        let n = values.len();
        if n % 2 == 1 { values[n / 2] } else { (values[n / 2 - 1] + values[n / 2]) / 2.0 }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::colour::{SRGB_TO_XYZ, SRGB_WHITE, times};

    fn split(cells: &[[f64; 3]]) -> Clusters {
        body_and_vein(cells, |t| times(SRGB_TO_XYZ, t), SRGB_WHITE)
    }

    fn wobble(i: usize) -> f64 {
        1.0 + 0.04 * ((i * 7919 % 101) as f64 / 50.0 - 1.0)
    }

    #[test]
    fn a_veined_stone_gives_both_colours_and_ignores_dirt() {
        let (body, vein) = ([0.12, 0.07, 0.03], [0.06, 0.02, 0.006]);
        let mut cells: Vec<[f64; 3]> =
            (0..1000).map(|i| if i % 8 == 0 { vein } else { body }.map(|v| v * wobble(i))).collect();
        cells.extend([[0.9; 3], [0.8; 3], [0.0001; 3]]);
        let found = split(&cells);
        let close = |a: [f64; 3], b: [f64; 3]| (0..3).all(|k| (a[k] / b[k] - 1.0).abs() < 0.03);
        assert!(close(found.body, body), "{found:?}");
        assert!(found.vein.is_some_and(|v| close(v, vein)), "{found:?}");
        assert!((found.vein_share - 0.125).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn an_even_stone_has_no_vein() {
        let cells: Vec<[f64; 3]> = (0..500).map(|i| [0.1, 0.08, 0.06].map(|v| v * wobble(i))).collect();
        let found = split(&cells);
        assert_eq!((found.vein, found.vein_share), (None, 0.0));
        assert_eq!(split(&vec![[0.1; 3]; 100]).vein, None);
        assert_eq!(split(&[[0.1; 3]]).body, [0.1; 3]);
    }
}

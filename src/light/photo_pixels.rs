//! What the pixels of a photo tell: mean light of stone, bare panel and frame, with what clips, what is too dark, noise and
//! unevenness. Everything is averaged in linear light. Not here: what that makes of a stone ([`super::swatch_photo`]).

use super::area::Area;
use super::photo_error::PhotoError;
use super::picture::Picture;

/// The largest share of clipped pixels in the bare panel.
pub(crate) const CLIPPED_BARE: f64 = 0.005;
/// The largest share of clipped pixels in the stone.
pub(crate) const CLIPPED_STONE: f64 = 0.01;
/// The largest share of stone pixels too dark in some channel to tell its colour.
pub(crate) const DARK_STONE: f64 = 0.9;
/// The largest noise of the bare panel, relative to its light.
pub(crate) const NOISE: f64 = 0.10;
/// The largest unevenness of the bare panel: the spread of its light over the area, relative.
pub(crate) const UNEVEN: f64 = 0.25;
/// 8-bit values from here on count as clipped.
const CLIPPED_FROM: u8 = 254;
/// 8-bit values up to here count as too dark: one step is a quarter of the light.
const DARK_TO: u8 = 4;
/// The least side of a cell in pixels, so that noise does not tell its colour.
const LEAST_CELL: usize = 4;
/// About how many cells a stone is averaged into before its colours are told apart.
const CELLS: usize = 20_000;

/// Mean light of a picture over that of the bare panel; some thousands of pixels tell it.
pub(super) fn frame_light(picture: &Picture, bare: [f64; 3]) -> [f64; 3] {
    let linear = picture.light();
    let apart = ((picture.width * picture.height) as f64 / 10_000.0).sqrt().ceil().max(1.0) as usize;
    let (mut sum, mut count) = ([0.0; 3], 0usize);
    for y in (0..picture.height).step_by(apart) {
        for x in (0..picture.width).step_by(apart) {
            let light = linear.at(x, y);
            (0..3).for_each(|k| sum[k] += light[k]);
            count += 1;
        }
    }
    [0, 1, 2].map(|k| sum[k] / count.max(1) as f64 / bare[k])
}

/// True for a pixel at its upper end.
pub(super) fn is_clipped(pixel: [u8; 3]) -> bool {
    pixel.iter().any(|v| *v >= CLIPPED_FROM)
}

/// True for a pixel too dark in some channel to tell its colour.
pub(super) fn is_dark(pixel: [u8; 3]) -> bool {
    pixel.iter().any(|v| *v <= DARK_TO)
}

pub(super) struct Panel {
    pub(super) mean: [f64; 3],
    pub(super) noise: f64,
    pub(super) unevenness: f64,
}

pub(super) fn panel(picture: &Picture, area: &Area) -> Result<Panel, PhotoError> {
    let runs = area.runs(picture.width, picture.height).map_err(PhotoError::Bare)?;
    let linear = picture.light();
    let (mut sum, mut count, mut clipped) = ([0.0; 3], 0usize, 0usize);
    let mut steps = Vec::new();
    let (top, bottom) = (runs.first().map_or(0, |r| r.0), runs.last().map_or(0, |r| r.0) + 1);
    let left = runs.iter().map(|r| r.1.start).min().unwrap_or(0);
    let right = runs.iter().map(|r| r.1.end).max().unwrap_or(1);
    const SIDE: usize = 6;
    let mut cells = vec![(0.0, 0usize); SIDE * SIDE];
    for (row, run) in &runs {
        let mut before: Option<f64> = None;
        for x in run.clone() {
            let pixel = picture.pixel(x, *row);
            clipped += usize::from(is_clipped(pixel));
            let light = linear.at(x, *row);
            (0..3).for_each(|k| sum[k] += light[k]);
            count += 1;
            let cell = (row - top) * SIDE / (bottom - top) * SIDE + (x - left) * SIDE / (right - left);
            cells[cell].0 += light[1];
            cells[cell].1 += 1;
            if let Some(before) = before {
                steps.push((light[1] - before).abs());
            }
            before = Some(light[1]);
        }
    }
    let mean = sum.map(|s| s / count as f64);
    let clipped = clipped as f64 / count as f64;
    if clipped > CLIPPED_BARE {
        return Err(PhotoError::BareClipped(clipped));
    }
    if mean.iter().any(|v| *v < 0.02) {
        return Err(PhotoError::BareDark);
    }
    let middle = steps.len() / 2;
    let median = if steps.is_empty() { 0.0 } else { *steps.select_nth_unstable_by(middle, f64::total_cmp).1 };
    // The median step of Gaussian noise σ is 0.6745·√2·σ.
    let noise = median / (0.6745 * std::f64::consts::SQRT_2) / mean[1];
    if noise > NOISE {
        return Err(PhotoError::Noisy(noise));
    }
    let least = count / (SIDE * SIDE) / 4;
    let means: Vec<f64> = cells.iter().filter(|c| c.1 > least).map(|c| c.0 / c.1 as f64).collect();
    let average = means.iter().sum::<f64>() / means.len() as f64;
    let spread = (means.iter().map(|m| (m - average).powi(2)).sum::<f64>() / means.len() as f64).sqrt();
    let unevenness = spread / average;
    if unevenness > UNEVEN {
        return Err(PhotoError::BareUneven(unevenness));
    }
    Ok(Panel { mean, noise, unevenness })
}

pub(super) struct Seen {
    pub(super) mean: [f64; 3],
    pub(super) cells: Vec<[f64; 3]>,
    pub(super) clipped_share: f64,
    pub(super) dark_share: f64,
    pub(super) unevenness: [f64; 2],
}

/// Bands that a stone is divided into to see how uneven it is.
const BANDS: usize = 8;

/// The spread of the bands' light over the root of their number, relative: of their medians, which leave veins out, and
/// of their means.
pub(super) fn unevenness_of(cells: &[[f64; 3]]) -> [f64; 2] {
    let bands: Vec<[f64; 2]> = cells
        .chunks(cells.len().div_ceil(BANDS).max(1))
        .map(|band| {
            let mut greens: Vec<f64> = band.iter().map(|t| t[1]).collect();
            greens.sort_by(f64::total_cmp);
            [greens[greens.len() / 2], greens.iter().sum::<f64>() / greens.len() as f64]
                .map(|t| t.max(1e-6).ln())
        })
        .collect();
    let n = bands.len() as f64;
    [0, 1].map(|k| {
        let mean = bands.iter().map(|b| b[k]).sum::<f64>() / n;
        (bands.iter().map(|b| (b[k] - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0) / n).sqrt()
    })
}

/// Everything is averaged in linear light: there the light of uneven places adds up as the eye adds it, and what a
/// camera scatters cancels.
pub(super) fn stone_seen(
    picture: &Picture,
    runs: &[(usize, std::ops::Range<usize>)],
    bare: [f64; 3],
) -> Result<Seen, PhotoError> {
    let count: usize = runs.iter().map(|(_, run)| run.len()).sum();
    let side = ((count as f64 / CELLS as f64).sqrt().ceil() as usize).max(LEAST_CELL);
    let across = picture.width.div_ceil(side);
    let mut cells = vec![([0.0; 3], 0usize); across * picture.height.div_ceil(side)];
    let linear = picture.light();
    let (mut clipped, mut dark) = (0usize, 0usize);
    let mut sum = [0.0; 3];
    for (row, run) in runs {
        for x in run.clone() {
            let pixel = picture.pixel(x, *row);
            clipped += usize::from(is_clipped(pixel));
            dark += usize::from(is_dark(pixel));
            let light = linear.at(x, *row);
            let cell = &mut cells[row / side * across + x / side];
            for k in 0..3 {
                sum[k] += light[k];
                cell.0[k] += light[k];
            }
            cell.1 += 1;
        }
    }
    let clipped_share = clipped as f64 / count as f64;
    if clipped_share > CLIPPED_STONE {
        return Err(PhotoError::StoneClipped(clipped_share));
    }
    let dark_share = dark as f64 / count as f64;
    if dark_share > DARK_STONE {
        return Err(PhotoError::StoneDark(dark_share));
    }
    let over = |light: [f64; 3], n: usize| [0, 1, 2].map(|k| light[k] / n as f64 / bare[k]);
    let full: Vec<[f64; 3]> =
        cells.iter().filter(|(_, n)| *n * 2 >= side * side).map(|(light, n)| over(*light, *n)).collect();
    let mean = over(sum, count);
    let cells = if full.is_empty() { vec![mean] } else { full };
    let unevenness = unevenness_of(&cells);
    Ok(Seen { mean, cells, clipped_share, dark_share, unevenness })
}

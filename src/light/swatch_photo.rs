//! A swatch's transmittance from a photo that shows it over the lit panel, and the bare panel too.
//!
//! Stone over bare, in linear light, for red, green and blue: what the camera's white balance and exposure
//! did to both cancels. Judged here: clipping, darkness, noise, and whether the bare panel is really one.
//! How a spectrum comes of the three values is [`super::recover`]'s matter.

use std::fmt;

use super::area::{Area, AreaError};
use super::clusters::{Clusters, body_and_vein};
use super::colour::{decode, inverse, times};
use super::picture::{Picture, Space, linear_table};
use super::spectrum::Spd;

/// The largest share of clipped pixels in the bare panel.
pub const CLIPPED_BARE: f64 = 0.005;
/// The largest share of clipped pixels in the stone.
pub const CLIPPED_STONE: f64 = 0.01;
/// The largest share of stone pixels too dark in some channel to tell its colour.
pub const DARK_STONE: f64 = 0.25;
/// The largest noise of the bare panel, relative to its light.
pub const NOISE: f64 = 0.10;
/// The largest unevenness of the bare panel: the spread of its light over the area, relative.
pub const UNEVEN: f64 = 0.25;
/// 8-bit values from here on count as clipped.
const CLIPPED_FROM: u8 = 254;
/// 8-bit values up to here count as too dark: one step is a quarter of the light.
const DARK_TO: u8 = 4;
/// Blocks of this many pixels squared are averaged as they are encoded, because rounding and compression
/// scatter alike above and below there; in linear light the same scatter would lift dark colours.
const SMOOTHED: usize = 4;
/// About how many cells a stone is averaged into before its colours are told apart.
const CELLS: usize = 20_000;

/// Where the bare panel is seen.
#[derive(Clone, Copy, Debug)]
pub enum Bare<'a> {
    /// In the same picture.
    SameFrame(&'a Area),
    /// In a second picture of the same panel.
    OtherFrame {
        /// The second picture.
        picture: &'a Picture,
        /// Where the bare panel is in it.
        area: &'a Area,
        /// How many times as long (or as sensitively) the stone's picture was exposed; none takes it from
        /// what the camera wrote into both pictures.
        exposure_ratio: Option<f64>,
    },
}

/// What a photo tells about a swatch.
#[derive(Clone, Debug)]
pub struct SwatchPhoto {
    /// Linear red, green and blue of the bare panel at the stone picture's exposure; may exceed 1 where it
    /// comes from a second frame.
    pub bare: [f64; 3],
    /// The colour space of the picture.
    pub space: Space,
    /// Mean red, green and blue transmittance over the stone.
    pub mean: [f64; 3],
    /// Body and vein.
    pub clusters: Clusters,
    /// Red, green and blue transmittance of small cells of the stone.
    pub cells: Vec<[f64; 3]>,
    /// The share of clipped stone pixels.
    pub clipped_share: f64,
    /// The share of stone pixels too dark in some channel.
    pub dark_share: f64,
    /// Noise of the bare panel from pixel to pixel, relative to its light.
    pub noise: f64,
    /// Spread of the bare panel's light over its area, relative to its mean.
    pub unevenness: f64,
    /// What deserves a second look, one sentence each.
    pub remarks: Vec<String>,
    /// Linear RGB that the bare panel would have in a picture without white balance, Y = 1.
    expected: [f64; 3],
}

impl SwatchPhoto {
    /// Measures a stone in `picture`, lit by a panel whose light is known.
    ///
    /// # Errors
    /// Everything of [`PhotoError`].
    pub fn measure(
        picture: &Picture,
        stone: &Area,
        bare: Bare<'_>,
        light: &Spd,
    ) -> Result<SwatchPhoto, PhotoError> {
        let expected = expected(picture.space, light)?;
        let stone_runs = stone.runs(picture.width, picture.height).map_err(PhotoError::Stone)?;
        let (bare_picture, bare_area, ratio) = match bare {
            Bare::SameFrame(area) => (picture, area, 1.0),
            Bare::OtherFrame { picture: other, area, exposure_ratio } => {
                if other.space != picture.space {
                    return Err(PhotoError::TwoSpaces);
                }
                (other, area, exposure_ratio.or_else(|| noted_ratio(picture, other)).unwrap_or(f64::NAN))
            }
        };
        if !(ratio.is_finite() && ratio > 0.0) {
            return Err(PhotoError::ExposureUnknown);
        }
        let mut remarks = picture.remarks.clone();
        let panel = panel(bare_picture, bare_area)?;
        let bare = panel.mean.map(|v| v * ratio);
        let seen = stone_seen(picture, &stone_runs, bare)?;
        if seen.mean.iter().any(|t| *t > 1.02) {
            return Err(PhotoError::NoPanel(seen.mean));
        }
        let gain = [0, 1, 2].map(|k| bare[k] / expected[k]);
        let spread =
            gain.iter().fold(0.0f64, |a, g| a.max(*g)) / gain.iter().fold(f64::INFINITY, |a, g| a.min(*g));
        if spread > 2.0 {
            remarks.push(format!(
                "the bare panel's colour in the photo differs {spread:.1}-fold from what its light would give: \
                 the camera's white balance, or another panel than stated"
            ));
        }
        if seen.dark_share > 0.02 {
            remarks.push(format!(
                "{:.0} % of the stone is too dark in one colour to be sure of it",
                seen.dark_share * 100.0
            ));
        }
        let space = picture.space;
        let to_xyz = |t: [f64; 3]| times(space.to_xyz(), [0, 1, 2].map(|k| t[k] * expected[k]));
        let clusters = body_and_vein(&seen.cells, to_xyz, to_xyz([1.0; 3]));
        Ok(SwatchPhoto {
            bare,
            space,
            mean: seen.mean,
            clusters,
            cells: seen.cells,
            clipped_share: seen.clipped_share,
            dark_share: seen.dark_share,
            noise: panel.noise,
            unevenness: panel.unevenness,
            remarks,
            expected,
        })
    }

    /// Tristimulus values of red, green and blue transmittances under the photo's light, bare Y = 1.
    #[must_use]
    pub fn xyz(&self, t: [f64; 3]) -> [f64; 3] {
        times(self.space.to_xyz(), [0, 1, 2].map(|k| t[k] * self.expected[k]))
    }
}

/// The linear RGB of a light, Y = 1; its channels must all be lit for a photo to tell a stone's colour.
fn expected(space: Space, light: &Spd) -> Result<[f64; 3], PhotoError> {
    let xyz = light.xyz();
    let from_xyz = inverse(space.to_xyz()).ok_or(PhotoError::LightOutside)?;
    let rgb = times(from_xyz, xyz.map(|v| v / xyz[1]));
    if rgb.iter().all(|v| *v > 0.01) { Ok(rgb) } else { Err(PhotoError::LightOutside) }
}

fn noted_ratio(stone: &Picture, bare: &Picture) -> Option<f64> {
    Some(stone.exposure?.factor() / bare.exposure?.factor())
}

struct Panel {
    mean: [f64; 3],
    noise: f64,
    unevenness: f64,
}

fn panel(picture: &Picture, area: &Area) -> Result<Panel, PhotoError> {
    let runs = area.runs(picture.width, picture.height).map_err(PhotoError::Bare)?;
    let linear = linear_table();
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
            clipped += usize::from(pixel.iter().any(|v| *v >= CLIPPED_FROM));
            let light = pixel.map(|v| linear[usize::from(v)]);
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
    steps.sort_by(f64::total_cmp);
    // The median step of Gaussian noise σ is 0.6745·√2·σ.
    let noise = steps.get(steps.len() / 2).map_or(0.0, |s| s / (0.6745 * std::f64::consts::SQRT_2)) / mean[1];
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

struct Seen {
    mean: [f64; 3],
    cells: Vec<[f64; 3]>,
    clipped_share: f64,
    dark_share: f64,
}

fn stone_seen(
    picture: &Picture,
    runs: &[(usize, std::ops::Range<usize>)],
    bare: [f64; 3],
) -> Result<Seen, PhotoError> {
    let count: usize = runs.iter().map(|(_, run)| run.len()).sum();
    let columns = picture.width.div_ceil(SMOOTHED);
    let mut blocks = vec![([0u32; 3], 0u32); columns * picture.height.div_ceil(SMOOTHED)];
    let (mut clipped, mut dark) = (0usize, 0usize);
    for (row, run) in runs {
        for x in run.clone() {
            let pixel = picture.pixel(x, *row);
            clipped += usize::from(pixel.iter().any(|v| *v >= CLIPPED_FROM));
            dark += usize::from(pixel.iter().any(|v| *v <= DARK_TO));
            let block = &mut blocks[row / SMOOTHED * columns + x / SMOOTHED];
            (0..3).for_each(|k| block.0[k] += u32::from(pixel[k]));
            block.1 += 1;
        }
    }
    // Cells are whole numbers of blocks wide, as many blocks as keep their number near `CELLS`.
    let side = ((count as f64 / CELLS as f64).sqrt() / SMOOTHED as f64).ceil().max(1.0) as usize;
    let across = columns.div_ceil(side);
    let mut cells = vec![([0.0; 3], 0usize); across * blocks.len().div_ceil(columns).div_ceil(side)];
    let mut sum = [0.0; 3];
    for (i, (values, n)) in blocks.iter().enumerate().filter(|(_, block)| block.1 > 0) {
        let cell = &mut cells[i / columns / side * across + i % columns / side];
        for k in 0..3 {
            let light = decode(f64::from(values[k]) / f64::from(*n) / 255.0) * f64::from(*n);
            sum[k] += light;
            cell.0[k] += light;
        }
        cell.1 += *n as usize;
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
    let full: Vec<[f64; 3]> = cells
        .iter()
        .filter(|(_, n)| *n * 2 >= (side * SMOOTHED).pow(2))
        .map(|(light, n)| over(*light, *n))
        .collect();
    let mean = over(sum, count);
    let cells = if full.is_empty() { vec![mean] } else { full };
    Ok(Seen { mean, cells, clipped_share, dark_share })
}

/// Why a photo does not tell a stone's transmittance.
#[derive(Clone, Debug, PartialEq)]
pub enum PhotoError {
    /// The place of the stone is wrong.
    Stone(AreaError),
    /// The place of the bare panel is wrong.
    Bare(AreaError),
    /// The bare panel is overexposed, this share of it.
    BareClipped(f64),
    /// The stone is overexposed, this share of it.
    StoneClipped(f64),
    /// There is no light on what should be the bare panel.
    BareDark,
    /// The stone is underexposed in some colour, this share of it.
    StoneDark(f64),
    /// What should be the bare panel is darker than the stone, by these transmittances.
    NoPanel([f64; 3]),
    /// What should be the bare panel is too uneven to be one.
    BareUneven(f64),
    /// Too much noise.
    Noisy(f64),
    /// Two frames in different colour spaces.
    TwoSpaces,
    /// Two frames whose exposures are not known.
    ExposureUnknown,
    /// The panel's light is too coloured for the picture's colour space.
    LightOutside,
}

impl PhotoError {
    /// A stable code for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            PhotoError::Stone(_) => "photo-stone-area",
            PhotoError::Bare(_) => "photo-bare-area",
            PhotoError::BareClipped(_) => "photo-bare-clipped",
            PhotoError::StoneClipped(_) => "photo-stone-clipped",
            PhotoError::BareDark => "photo-bare-dark",
            PhotoError::StoneDark(_) => "photo-stone-dark",
            PhotoError::NoPanel(_) => "photo-no-panel",
            PhotoError::BareUneven(_) => "photo-bare-uneven",
            PhotoError::Noisy(_) => "photo-noisy",
            PhotoError::TwoSpaces => "photo-two-spaces",
            PhotoError::ExposureUnknown => "photo-exposure-unknown",
            PhotoError::LightOutside => "photo-light-outside",
        }
    }

    /// How to mend it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            PhotoError::Stone(error) | PhotoError::Bare(error) => error.remedy(),
            PhotoError::BareClipped(_) => {
                "expose shorter until the bare panel is below white, or take it in a second frame".into()
            }
            PhotoError::StoneClipped(_) => "expose shorter; the stone must stay below white".into(),
            PhotoError::BareDark => {
                "switch the panel on, and mark it where the stone does not cover it".into()
            }
            PhotoError::StoneDark(_) => {
                "expose longer, with the bare panel in a second, shorter frame; where the \
                stone itself swallows a colour, only a spectrum tells"
                    .into()
            }
            PhotoError::NoPanel(_) => "mark the bare, lit panel as such: nothing is brighter than it".into(),
            PhotoError::BareUneven(_) => {
                "mark a smaller place that shows nothing but the bare panel, evenly lit".into()
            }
            PhotoError::Noisy(_) => {
                "take the photo at a lower ISO setting, with the camera on a stand".into()
            }
            PhotoError::TwoSpaces => "export both frames in sRGB".into(),
            PhotoError::ExposureUnknown => {
                "give how many times longer the stone's frame was exposed than the bare panel's".into()
            }
            PhotoError::LightOutside => "light the swatch with a white panel for the photo".into(),
        }
    }
}

impl fmt::Display for PhotoError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |share: &f64| format!("{:.1} %", share * 100.0);
        match self {
            PhotoError::Stone(error) => write!(f, "the stone: {error}"),
            PhotoError::Bare(error) => write!(f, "the bare panel: {error}"),
            PhotoError::BareClipped(share) => {
                write!(f, "{} of the bare panel is overexposed", percent(share))
            }
            PhotoError::StoneClipped(share) => write!(f, "{} of the stone is overexposed", percent(share)),
            PhotoError::BareDark => f.write_str("there is no light where the bare panel should be"),
            PhotoError::StoneDark(share) => {
                write!(f, "{} of the stone is too dark in some colour to tell it", percent(share))
            }
            PhotoError::NoPanel(t) => write!(
                f,
                "the stone looks {:.2} times as bright as the bare panel, so that is no bare panel",
                t.iter().copied().fold(0.0, f64::max)
            ),
            PhotoError::BareUneven(spread) => {
                write!(
                    f,
                    "the light over the bare panel varies by {}, too much for one panel",
                    percent(spread)
                )
            }
            PhotoError::Noisy(noise) => write!(f, "the photo's noise is {} of the light", percent(noise)),
            PhotoError::TwoSpaces => f.write_str("the two frames are in different colour spaces"),
            PhotoError::ExposureUnknown => f.write_str("the exposures of the two frames are not known"),
            PhotoError::LightOutside => f.write_str(
                "the panel's light is so coloured that a photo under it does not tell the stone's colour",
            ),
        }
    }
}

impl std::error::Error for PhotoError {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::colour::encode;
    use crate::light::illuminants::named;

    const SIDE: usize = 60;

    /// Left half the stone, right half the bare panel, in linear light.
    fn picture(stone: [f64; 3], bare: [f64; 3]) -> Picture {
        let mut rgb = Vec::new();
        for _ in 0..SIDE {
            for x in 0..SIDE {
                let light = if x < SIDE / 2 { stone } else { bare };
                rgb.extend(light.map(|v| (encode(v) * 255.0).round() as u8));
            }
        }
        Picture { width: SIDE, height: SIDE, rgb, space: Space::Srgb, exposure: None, remarks: Vec::new() }
    }

    fn area(text: &str) -> Area {
        text.parse().unwrap_or_else(|e| panic!("{e}"))
    }

    fn measured(stone: [f64; 3], bare: [f64; 3]) -> Result<SwatchPhoto, PhotoError> {
        let light = named("LED-B3").unwrap_or_else(|e| panic!("{e}"));
        let picture = picture(stone, bare);
        SwatchPhoto::measure(&picture, &area("2,2,26,50"), Bare::SameFrame(&area("32,2,26,50")), &light)
    }

    #[test]
    fn transmittance_is_stone_over_bare_whatever_the_white_balance() {
        for balance in [[1.0, 1.0, 1.0], [0.7, 1.0, 1.3]] {
            let bare = [0, 1, 2].map(|k| [0.6, 0.55, 0.4][k] * balance[k]);
            let stone = [0, 1, 2].map(|k| bare[k] * [0.3, 0.2, 0.1][k]);
            let found = measured(stone, bare).expect("a sound photo");
            for (t, truth) in found.mean.iter().zip([0.3, 0.2, 0.1]) {
                assert!((t / truth - 1.0).abs() < 0.02, "{:?}", found.mean);
            }
            assert!(found.noise < 1e-6 && found.unevenness < 1e-6 && found.clusters.vein.is_none());
        }
    }

    #[test]
    fn photos_that_tell_nothing_are_refused() {
        let code = |stone, bare| measured(stone, bare).err().map(|e| e.code());
        assert_eq!(code([0.1; 3], [1.0; 3]), Some("photo-bare-clipped"));
        assert_eq!(code([0.1; 3], [0.001; 3]), Some("photo-bare-dark"));
        assert_eq!(code([0.5; 3], [0.3; 3]), Some("photo-no-panel"));
        assert_eq!(code([0.1, 0.1, 0.0002], [0.8; 3]), Some("photo-stone-dark"));
        assert_eq!(code([1.0; 3], [0.8; 3]), Some("photo-stone-clipped"));
        let light = named("LED-B3").expect("known");
        let plain = picture([0.1; 3], [0.8; 3]);
        let half =
            SwatchPhoto::measure(&plain, &area("2,2,20,20"), Bare::SameFrame(&area("15,2,40,50")), &light);
        assert_eq!(half.err().map(|e| e.code()), Some("photo-bare-uneven"), "half of it is stone");
        let outside =
            SwatchPhoto::measure(&plain, &area("2,2,90,20"), Bare::SameFrame(&area("32,2,20,20")), &light);
        assert_eq!(outside.err().map(|e| e.code()), Some("photo-stone-area"));
        let red = named("LED-B3").expect("known");
        let red =
            red.through(&crate::light::spectrum::Transmittance::from_fn(|i| f64::from(u8::from(i > 240))));
        let coloured = SwatchPhoto::measure(
            &plain,
            &area("2,2,20,20"),
            Bare::SameFrame(&area("32,2,20,20")),
            &red.expect("some light"),
        );
        assert_eq!(coloured.err().map(|e| e.code()), Some("photo-light-outside"));
    }

    #[test]
    fn a_noisy_photo_is_refused_and_a_usual_one_is_told() {
        let light = named("LED-B3").expect("known");
        let noisy = |depth: f64| {
            let mut p = picture([0.1; 3], [0.5; 3]);
            let mut state = 1u32;
            for v in &mut p.rgb {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let shift = (f64::from(state >> 8) / f64::from(1u32 << 24) - 0.5) * depth;
                *v = (f64::from(*v) + shift).clamp(0.0, 253.0) as u8;
            }
            SwatchPhoto::measure(&p, &area("2,2,26,50"), Bare::SameFrame(&area("32,2,26,50")), &light)
        };
        assert!(noisy(6.0).is_ok_and(|p| p.noise > 0.001));
        assert_eq!(noisy(160.0).err().map(|e| e.code()), Some("photo-noisy"));
    }

    #[test]
    fn a_second_frame_needs_its_exposure() {
        let light = named("LED-B3").expect("known");
        let long = picture([0.4, 0.3, 0.2], [0.0; 3]);
        let short = picture([0.0; 3], [0.5; 3]);
        let (stone, bare) = (area("2,2,26,50"), area("32,2,26,50"));
        let of = |exposure_ratio| Bare::OtherFrame { picture: &short, area: &bare, exposure_ratio };
        let found = SwatchPhoto::measure(&long, &stone, of(Some(8.0)), &light).expect("known exposure");
        assert!((found.mean[0] - 0.1).abs() < 0.002, "{:?}", found.mean);
        let unknown = SwatchPhoto::measure(&long, &stone, of(None), &light);
        assert_eq!(unknown.err().map(|e| e.code()), Some("photo-exposure-unknown"));
        let noted = |mut p: Picture, time_s| {
            p.exposure = Some(crate::light::picture::Exposure { time_s, f_number: 4.0, iso: 100.0 });
            p
        };
        let (long, short) = (noted(long, 0.08), noted(short, 0.01));
        let bare = Bare::OtherFrame { picture: &short, area: &bare, exposure_ratio: None };
        let found = SwatchPhoto::measure(&long, &stone, bare, &light).expect("noted exposure");
        assert!((found.mean[0] - 0.1).abs() < 0.002, "{:?}", found.mean);
    }
}

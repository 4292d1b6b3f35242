//! A swatch's transmittance from a photo that shows it over the lit panel, and the bare panel too.
//!
//! Stone over bare, in linear light, for red, green and blue: exposure cancels. A camera's white balance is undone by
//! adapting from the bare panel as it looks in the photo to the panel's own light (CAT16). Judged here: clipping,
//! darkness, noise, whether the bare panel is really one, and where the camera set its white.
//! How a spectrum comes of the three values is [`super::recover`]'s matter.

use super::area::Area;
use super::chart::Chart;
use super::clusters::{Clusters, body_and_vein};
use super::colour::{CAT16, Matrix, SRGB_WHITE, inverse, product, times};
pub use super::photo_error::PhotoError;
use super::photo_pixels::{Panel, Seen, UNEVEN, frame_light, panel, stone_seen, unevenness_of};
use super::photo_values::Values;
use super::picture::{Picture, Space};
use super::spectrum::Spd;

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
    /// True where the bare panel is in a frame of its own.
    pub two_frames: bool,
    /// True where its values were numbers, so that no step of 8 bits rounded them.
    pub(crate) exact: bool,
    /// Mean linear light of the stone's whole frame over that of the bare panel, as much as the camera's stray light
    /// comes from.
    pub frame_light: [f64; 3],
    /// How far the mean of all such stone may lie from that of the place shown: the spread of its bands over the root
    /// of their number, relative.
    pub stone_unevenness: f64,
    /// The same for the mean of body and vein together.
    pub whole_unevenness: f64,
    /// Where the camera set its white.
    pub white: WhiteSet,
    /// How far the patches of a chart are from any matrix, where one put the camera's colours right.
    pub(crate) chart_off: Option<f64>,
    /// What deserves a second look, one sentence each.
    pub remarks: Vec<String>,
    /// From red, green and blue transmittances to tristimulus values under the panel's light, bare Y = 1.
    to_panel: Matrix,
}

/// Where a camera set its white, told by how the bare panel looks in the photo.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhiteSet {
    /// The bare panel looks as its light does: the white stayed at daylight.
    Daylight,
    /// The bare panel looks white: the camera set its white by it, as phones do by themselves.
    Panel,
    /// Neither.
    Elsewhere,
}

/// Mean light of a frame that is not seen, over that of its bare panel, for the stray light in it. Common practice, no
/// source.
const FRAME_UNSEEN: f64 = 0.5;
/// How near in u', v' the bare panel must lie to where a white balance would put it.
const WHITE_NEAR: f64 = 0.02;

impl SwatchPhoto {
    /// Measures a stone in `picture`, lit by a panel whose light is known, by what a chart told of the camera where there
    /// is one.
    ///
    /// # Errors
    /// Everything of [`PhotoError`].
    pub fn measure(
        picture: &Picture,
        stone: &Area,
        bare: Bare<'_>,
        chart: Option<&Chart>,
        light: &Spd,
    ) -> Result<SwatchPhoto, PhotoError> {
        let own = light_in(picture.space, light)?;
        let stone_runs = stone.runs(picture.width, picture.height).map_err(PhotoError::Stone)?;
        let two_frames = matches!(bare, Bare::OtherFrame { .. });
        let (bare_picture, bare_area, ratio) = match bare {
            Bare::SameFrame(area) => (picture, area, 1.0),
            Bare::OtherFrame { picture: other, area, exposure_ratio } => {
                if other.space != picture.space {
                    return Err(PhotoError::TwoSpaces);
                }
                (other, area, exposure_ratio.or_else(|| noted_ratio(picture, other)).unwrap_or(f64::NAN))
            }
        };
        if chart.is_some_and(|chart| chart.space != Some(picture.space)) {
            return Err(PhotoError::TwoSpaces);
        }
        if !(ratio.is_finite() && ratio > 0.0) {
            return Err(PhotoError::ExposureUnknown);
        }
        let panel = panel(bare_picture, bare_area)?;
        let bare = panel.mean.map(|v| v * ratio);
        let seen = stone_seen(picture, &stone_runs, bare)?;
        let mut remarks = picture.remarks.clone();
        if two_frames && picture.automatic_white {
            remarks.push(
                "the camera set its white by itself, which may differ between the two frames: lock it, or show both in one"
                    .into(),
            );
        }
        let frame_light = frame_light(picture, bare);
        let taken = Taken {
            bare,
            space: picture.space,
            own,
            panel,
            seen,
            two_frames,
            frame_light,
            exact: false,
            remarks,
        };
        taken.judged(chart)
    }

    /// The same from linear values in a table, which may bring a chart's own.
    ///
    /// # Errors
    /// Everything of [`PhotoError`] that is not a matter of pixels.
    pub(crate) fn of_values(values: &Values, light: &Spd) -> Result<SwatchPhoto, PhotoError> {
        let chart = values.chart.map(|patches| Chart::of_values(patches, light)).transpose()?;
        // With a chart they may be a sensor's own, which no colour space holds.
        let own = light_in(Space::Srgb, light)?;
        let bare = mean_of(&values.bare);
        let spread = |v: &[f64; 3]| (v[1] / bare[1] - 1.0).powi(2);
        let unevenness = (values.bare.iter().map(spread).sum::<f64>() / values.bare.len() as f64).sqrt();
        if unevenness > UNEVEN {
            return Err(PhotoError::BareUneven(unevenness));
        }
        let cells: Vec<[f64; 3]> = values.stone.iter().map(|v| [0, 1, 2].map(|k| v[k] / bare[k])).collect();
        let mean = mean_of(&cells);
        let unevenness_of_stone = unevenness_of(&cells);
        let taken = Taken {
            bare,
            space: Space::Srgb,
            own,
            panel: Panel { mean: bare, noise: 0.0, unevenness },
            seen: Seen { mean, cells, clipped_share: 0.0, dark_share: 0.0, unevenness: unevenness_of_stone },
            two_frames: false,
            frame_light: [FRAME_UNSEEN; 3],
            exact: true,
            remarks: Vec::new(),
        };
        taken.judged(chart.as_ref())
    }

    /// Tristimulus values of red, green and blue transmittances under the photo's light, bare Y = 1.
    #[must_use]
    pub fn xyz(&self, t: [f64; 3]) -> [f64; 3] {
        times(self.to_panel, t)
    }
}

fn mean_of(all: &[[f64; 3]]) -> [f64; 3] {
    [0, 1, 2].map(|k| all.iter().map(|v| v[k]).sum::<f64>() / all.len() as f64)
}

/// A stone and its bare panel as they were taken, by pixels or by numbers.
struct Taken {
    bare: [f64; 3],
    space: Space,
    /// The panel's light in that space.
    own: [f64; 3],
    panel: Panel,
    seen: Seen,
    two_frames: bool,
    frame_light: [f64; 3],
    exact: bool,
    remarks: Vec<String>,
}

impl Taken {
    fn judged(self, chart: Option<&Chart>) -> Result<SwatchPhoto, PhotoError> {
        let Taken { bare, space, own, panel, seen, two_frames, frame_light, exact, mut remarks } = self;
        if seen.mean.iter().any(|t| *t > 1.02) {
            return Err(PhotoError::NoPanel(seen.mean));
        }
        let panel_white = times(space.to_xyz(), own);
        let shown_white = times(space.to_xyz(), bare).map(|v| v / luminance(space, bare));
        let white = white_set(panel_white, shown_white);
        // A sensor's own values have no white of any colour space, and a chart says what they mean.
        remarks.extend(white.remark().filter(|_| !(exact && chart.is_some())).map(str::to_owned));
        if seen.dark_share > 0.02 {
            remarks.push(format!(
                "{:.0} % of the stone is too dark in one colour to be sure of it",
                seen.dark_share * 100.0
            ));
        }
        let shown = space.to_xyz().map(|row| [0, 1, 2].map(|k| row[k] * bare[k] / luminance(space, bare)));
        let to_panel = product(by_cones(shown_white, panel_white, chart), shown);
        let to_xyz = |t: [f64; 3]| times(to_panel, t);
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
            two_frames,
            frame_light,
            exact,
            stone_unevenness: seen.unevenness[0],
            whole_unevenness: seen.unevenness[1],
            white,
            chart_off: chart.map(|chart| chart.off),
            remarks,
            to_panel,
        })
    }
}

impl WhiteSet {
    /// What it costs; nothing where the white stayed at daylight.
    fn remark(self) -> Option<&'static str> {
        match self {
            WhiteSet::Daylight => None,
            WhiteSet::Panel => Some(
                "the camera set its white by the panel, as phones do by themselves: the colours are good, but the \
                 photo cannot show whether the panel's light is the one named",
            ),
            WhiteSet::Elsewhere => Some(
                "the bare panel looks neither white nor like the light named: check the light named, and lock the \
                 camera's white balance at daylight",
            ),
        }
    }
}

fn white_set(panel: [f64; 3], shown: [f64; 3]) -> WhiteSet {
    // CIE 15:2018: u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z).
    let place = |[x, y, z]: [f64; 3]| [4.0 * x, 9.0 * y].map(|v| v / (x + 15.0 * y + 3.0 * z));
    let apart = |a: [f64; 3], b: [f64; 3]| (place(a)[0] - place(b)[0]).hypot(place(a)[1] - place(b)[1]);
    let (from_panel, from_white) = (apart(shown, panel), apart(shown, SRGB_WHITE));
    match from_panel.min(from_white) {
        near if near > WHITE_NEAR => WhiteSet::Elsewhere,
        _ if from_panel <= from_white => WhiteSet::Daylight,
        _ => WhiteSet::Panel,
    }
}

/// From tristimulus values as shown to those under the panel's light: CAT16 with full adaptation (CIE 248:2022), and a
/// chart's matrix between its two halves.
fn by_cones(shown_white: [f64; 3], panel_white: [f64; 3], chart: Option<&Chart>) -> Matrix {
    let [shown, panel] = [shown_white, panel_white].map(|white| times(CAT16, white));
    let unit = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let middle = chart.map_or(unit, |chart| chart.matrix);
    let scaled = [0, 1, 2].map(|i| [0, 1, 2].map(|k| panel[i] * middle[i][k] / shown[k]));
    // CAT16 is a constant with an inverse.
    product(inverse(CAT16).unwrap_or(unit), product(scaled, CAT16))
}

fn luminance(space: Space, rgb: [f64; 3]) -> f64 {
    times(space.to_xyz(), rgb)[1]
}

/// The linear RGB of a light, Y = 1; its channels must all be lit for a photo to tell a stone's colour.
fn light_in(space: Space, light: &Spd) -> Result<[f64; 3], PhotoError> {
    let xyz = light.xyz();
    let from_xyz = inverse(space.to_xyz()).ok_or(PhotoError::LightOutside)?;
    let rgb = times(from_xyz, xyz.map(|v| v / xyz[1]));
    if rgb.iter().all(|v| *v > 0.01) { Ok(rgb) } else { Err(PhotoError::LightOutside) }
}

fn noted_ratio(stone: &Picture, bare: &Picture) -> Option<f64> {
    Some(stone.exposure?.factor() / bare.exposure?.factor())
}

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
        Picture::of(SIDE, SIDE, rgb)
    }

    fn area(text: &str) -> Area {
        text.parse().unwrap_or_else(|e| panic!("{e}"))
    }

    fn measured(stone: [f64; 3], bare: [f64; 3]) -> Result<SwatchPhoto, PhotoError> {
        let light = named("LED-B3").unwrap_or_else(|e| panic!("{e}"));
        let picture = picture(stone, bare);
        SwatchPhoto::measure(&picture, &area("2,2,26,50"), Bare::SameFrame(&area("32,2,26,50")), None, &light)
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
        let half = SwatchPhoto::measure(
            &plain,
            &area("2,2,20,20"),
            Bare::SameFrame(&area("15,2,40,50")),
            None,
            &light,
        );
        assert_eq!(half.err().map(|e| e.code()), Some("photo-bare-uneven"), "half of it is stone");
        let outside = SwatchPhoto::measure(
            &plain,
            &area("2,2,90,20"),
            Bare::SameFrame(&area("32,2,20,20")),
            None,
            &light,
        );
        assert_eq!(outside.err().map(|e| e.code()), Some("photo-stone-area"));
        let red = named("LED-B3").expect("known");
        let red =
            red.through(&crate::light::spectrum::Transmittance::from_fn(|i| f64::from(u8::from(i > 240))));
        let coloured = SwatchPhoto::measure(
            &plain,
            &area("2,2,20,20"),
            Bare::SameFrame(&area("32,2,20,20")),
            None,
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
            SwatchPhoto::measure(&p, &area("2,2,26,50"), Bare::SameFrame(&area("32,2,26,50")), None, &light)
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
        let found = SwatchPhoto::measure(&long, &stone, of(Some(8.0)), None, &light).expect("known exposure");
        assert!((found.mean[0] - 0.1).abs() < 0.002, "{:?}", found.mean);
        let unknown = SwatchPhoto::measure(&long, &stone, of(None), None, &light);
        assert_eq!(unknown.err().map(|e| e.code()), Some("photo-exposure-unknown"));
        let noted = |mut p: Picture, time_s| {
            p.exposure = Some(crate::light::picture::Exposure { time_s, f_number: 4.0, iso: 100.0 });
            p
        };
        let (long, short) = (noted(long, 0.08), noted(short, 0.01));
        let bare = Bare::OtherFrame { picture: &short, area: &bare, exposure_ratio: None };
        let found = SwatchPhoto::measure(&long, &stone, bare, None, &light).expect("noted exposure");
        assert!((found.mean[0] - 0.1).abs() < 0.002, "{:?}", found.mean);
    }
}

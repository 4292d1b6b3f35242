//! The swatch's own photo as it would look over other lights, all in one white point and one exposure.
//!
//! The spectrum found for a pixel scales with its brightness, so what a light makes of it depends on two
//! ratios only, red to green and blue to green. A table over these two, one spectrum per entry, replaces a
//! search per pixel; between entries it runs straight. T ≤ 1 is not held here: it would break that scaling,
//! and only a nearly clear stone comes near it.

use std::num::NonZero;

use super::colour::{self, Matrix, XYZ_TO_SRGB, adaptation, product, times};
use super::figures::white_point_of;
use super::illuminants::common_white;
use super::picture::Picture;
use super::recover::{Found, Recovery, Weights};
use super::relight_pixels::Pixels;
use super::spectrum::Spd;
use super::stone::KnownBeside;
use super::swatch_photo::SwatchPhoto;

/// Step of the table in the logarithm of a ratio.
pub(super) const STEP: f64 = 0.1;
/// Entries from the middle to either end: ratios from 1:90 to 90:1.
pub(super) const REACH: usize = 45;
/// Entries along one side.
pub(super) const SIDE: usize = 2 * REACH + 1;
/// Luminance of the brightest fiftieth of the stone in the pictures, relative to white.
const BRIGHTEST: f64 = 0.8;

/// How the eye, and so the picture, takes white.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum View {
    /// One white for all lights, as a room's other light would give: warm light looks warm.
    OneWhite {
        /// Tristimulus values of that white.
        xyz: [f64; 3],
    },
    /// An eye adapted to each light in turn, by CAT16 with CIECAM16's degree of adaptation (CIE 248:2022). No eye
    /// adapts to a light that is no white: that one is seen against the common white.
    Adapted {
        /// The luminance that the eye is adapted to, in cd/m².
        luminance_cd_m2: f64,
    },
}

impl View {
    /// The matrix from tristimulus values under a light to linear sRGB on a screen.
    #[must_use]
    pub fn to_screen(self, light_xyz: [f64; 3]) -> Matrix {
        let screen = colour::SRGB_WHITE;
        match self {
            View::OneWhite { xyz } => product(XYZ_TO_SRGB, adaptation(xyz, screen, 1.0)),
            View::Adapted { .. } if white_point_of(light_xyz).cct_k.is_none() => {
                product(XYZ_TO_SRGB, adaptation(common_white(), screen, 1.0))
            }
            View::Adapted { luminance_cd_m2 } => {
                let degree = colour::adaptation_degree(luminance_cd_m2);
                product(XYZ_TO_SRGB, adaptation(light_xyz, screen, degree))
            }
        }
    }
}

/// Re-lights photos of one swatch for a set of lights.
pub struct Relight {
    /// One row of lights per entry: red, green, blue and one spare per light, per unit of green.
    pub(super) table: Vec<[f32; 4]>,
    pub(super) lights: usize,
    pub(super) exposure: f64,
    pub(super) bare: [f64; 3],
    /// The share of the stone's cells whose colour no smooth spectrum reaches, so that it was drawn towards
    /// grey.
    pub out_of_reach: f64,
}

impl Relight {
    /// Prepares to re-light a photo taken under `photographed` as it would look under each of `lights`, all
    /// at the bare panel's luminous flux of the photo.
    ///
    /// The exposure is one for all, such that the brightest fiftieth of the stone is at four fifths of white
    /// under the light that brings most out of it, or darker where a channel would clip.
    #[must_use]
    pub fn new(photo: &SwatchPhoto, photographed: &Spd, lights: &[Spd], view: View) -> Relight {
        Relight::known(photo, photographed, None, lights, &vec![1.0; lights.len()], view)
    }

    /// The same with each bare panel at its own level of luminous flux, relative to the photo's, and with what is known of
    /// the stone beside this photo, so that every pixel becomes under another light
    /// what all of it says together.
    #[must_use]
    pub fn known(
        photo: &SwatchPhoto,
        photographed: &Spd,
        beside: Option<&KnownBeside>,
        lights: &[Spd],
        levels: &[f64],
        view: View,
    ) -> Relight {
        let recovery = Recovery::under(photographed);
        let weights: Vec<Weights> = lights.iter().map(Weights::of).collect();
        let screens: Vec<Matrix> = weights.iter().map(|w| view.to_screen(w.bare())).collect();
        let (spectra, reached) = spectra(photo, &recovery);
        let mut table = Vec::with_capacity(SIDE * SIDE * lights.len());
        for (at, found) in spectra.iter().enumerate() {
            let curve = match beside {
                None => found.curve(),
                Some(beside) => {
                    let t = ratios(at);
                    recovery.brought_back(found, &beside.shift(t), photo.xyz(t))
                }
            };
            for ((weight, screen), level) in weights.iter().zip(&screens).zip(levels) {
                let xyz = weight.through_curve(&curve).map(|v| v * level);
                let rgb = within_screen(times(*screen, xyz));
                table.push([rgb[0] as f32, rgb[1] as f32, rgb[2] as f32, 0.0]);
            }
        }
        let mut relight =
            Relight { table, lights: lights.len(), exposure: 1.0, bare: photo.bare, out_of_reach: 0.0 };
        relight.exposure = relight.one_exposure(photo);
        let out = photo.cells.iter().filter(|t| !reached[relight.nearest(**t)]).count();
        relight.out_of_reach = out as f64 / photo.cells.len().max(1) as f64;
        relight
    }

    /// The exposure of all pictures: linear screen light for the bare panel's Y = 1.
    #[must_use]
    pub fn exposure(&self) -> f64 {
        self.exposure
    }

    /// Linear screen colours of one transmittance triple under each light, at the common exposure.
    #[must_use]
    pub fn colours(&self, t: [f64; 3]) -> Vec<[f64; 3]> {
        let (at, [a, b]) = self.place(t);
        (0..self.lights)
            .map(|light| {
                let entry = |cell: usize| self.table[cell * self.lights + light];
                let (p, q, r, s) = (entry(at), entry(at + 1), entry(at + SIDE), entry(at + SIDE + 1));
                [0, 1, 2].map(|k| {
                    let top = f64::from(p[k]) * (1.0 - a) + f64::from(q[k]) * a;
                    let bottom = f64::from(r[k]) * (1.0 - a) + f64::from(s[k]) * a;
                    (top * (1.0 - b) + bottom * b) * t[1] * self.exposure
                })
            })
            .collect()
    }

    /// The photo under each light, red, green, blue per pixel; `threads` share the rows and do not change
    /// the result.
    #[must_use]
    pub fn pictures(&self, photo: &Picture, threads: NonZero<usize>) -> Vec<Vec<u8>> {
        let mut pictures: Vec<Vec<u8>> = (0..self.lights).map(|_| vec![0; photo.rgb.len()]).collect();
        let chunk = photo.height.div_ceil(threads.get()).max(1) * photo.width * 3;
        let pixels = Pixels::new(self);
        std::thread::scope(|scope| {
            let mut rests: Vec<&mut [u8]> = pictures.iter_mut().map(Vec::as_mut_slice).collect();
            for rows in photo.rgb.chunks(chunk) {
                let mut parts = Vec::with_capacity(rests.len());
                for rest in &mut rests {
                    let (part, left) = std::mem::take(rest).split_at_mut(rows.len());
                    parts.push(part);
                    *rest = left;
                }
                let pixels = &pixels;
                scope.spawn(move || pixels.fill(rows, &mut parts));
            }
        });
        pictures
    }

    fn place(&self, t: [f64; 3]) -> (usize, [f64; 2]) {
        let along = |ratio: f64| {
            let at = (ratio.ln() / STEP + REACH as f64).clamp(0.0, SIDE as f64 - 1.001);
            if at.is_nan() { REACH as f64 } else { at }
        };
        let (x, y) = (along(t[0] / t[1]), along(t[2] / t[1]));
        (y as usize * SIDE + x as usize, [x.fract(), y.fract()])
    }

    fn nearest(&self, t: [f64; 3]) -> usize {
        let (at, [a, b]) = self.place(t);
        at + usize::from(a >= 0.5) + usize::from(b >= 0.5) * SIDE
    }

    fn one_exposure(&self, photo: &SwatchPhoto) -> f64 {
        let mut brightest = Vec::with_capacity(photo.cells.len());
        for t in &photo.cells {
            // A channel that clips would turn an orange stone yellow.
            let level = |c: &[f64; 3]| {
                let channel = c.iter().copied().fold(0.0, f64::max);
                times(colour::SRGB_TO_XYZ, *c)[1].max(BRIGHTEST * channel)
            };
            let most = self.colours(*t).iter().map(level).fold(0.0, f64::max);
            brightest.push(most);
        }
        brightest.sort_by(f64::total_cmp);
        let at = brightest.len().saturating_sub(1) * 98 / 100;
        brightest.get(at).filter(|v| **v > 0.0).map_or(1.0, |v| BRIGHTEST / v)
    }
}

/// Transmittances of red, green and blue of an entry of the table, green at 1.
fn ratios(at: usize) -> [f64; 3] {
    let along = |place: usize| ((place as f64 - REACH as f64) * STEP).exp();
    [along(at % SIDE), 1.0, along(at / SIDE)]
}

/// The spectrum of each entry, from the grey middle outwards, each search starting at its inner neighbour's
/// answer. Where none is found the neighbour's is kept, which draws the colour towards grey; the second list
/// says which were found.
fn spectra(photo: &SwatchPhoto, recovery: &Recovery) -> (Vec<Found>, Vec<bool>) {
    let mut found = vec![Found::clear(); SIDE * SIDE];
    let mut reached = vec![false; SIDE * SIDE];
    reached[REACH * SIDE + REACH] = true;
    for ring in 1..=REACH as i64 {
        for x in -ring..=ring {
            for y in -ring..=ring {
                if x.abs().max(y.abs()) != ring {
                    continue;
                }
                // One step towards the middle along the longer way, in proportion along the other.
                let inward = |v: i64| (v as f64 * (ring - 1) as f64 / ring as f64).round() as i64;
                let index =
                    |x: i64, y: i64| ((y + REACH as i64) as usize) * SIDE + (x + REACH as i64) as usize;
                let (here, inner) = (index(x, y), index(inward(x), inward(y)));
                let t = [(x as f64 * STEP).exp(), 1.0, (y as f64 * STEP).exp()];
                let xyz = photo.xyz(t);
                let answer = if reached[inner] && xyz.iter().all(|v| *v > 0.0) {
                    recovery.midway(xyz, &found[inner])
                } else {
                    None
                };
                reached[here] = answer.is_some();
                found[here] = answer.unwrap_or_else(|| found[inner].clone());
            }
        }
    }
    (found, reached)
}

/// A colour beyond the screen is drawn towards grey of its own luminance until it fits; only the lower ends
/// are looked at, because these do not depend on exposure.
fn within_screen(rgb: [f64; 3]) -> [f64; 3] {
    let least = rgb.iter().copied().fold(f64::INFINITY, f64::min);
    if least >= 0.0 {
        return rgb;
    }
    let grey = times(colour::SRGB_TO_XYZ, rgb)[1].max(0.0);
    let keep = grey / (grey - least);
    rgb.map(|v| (grey + (v - grey) * keep).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::area::Area;
    use crate::light::illuminants::named;
    use crate::light::picture::linear_table;
    use crate::light::swatch_photo::Bare;

    fn light(name: &str) -> Spd {
        named(name).unwrap_or_else(|e| panic!("{e}"))
    }

    /// Left three quarters a stone that goes from amber to grey, right a bare panel.
    fn swatch() -> (Picture, SwatchPhoto) {
        let (width, height) = (80usize, 40usize);
        let mut rgb = Vec::new();
        for y in 0..height {
            for x in 0..width {
                let fade = y as f64 / height as f64;
                let linear =
                    if x < 60 { [0.3, 0.12 + 0.15 * fade, 0.03 + 0.2 * fade] } else { [0.9, 0.8, 0.6] };
                rgb.extend(linear.map(|v: f64| (colour::encode(v) * 255.0).round() as u8));
            }
        }
        let picture = Picture::of(width, height, rgb);
        let area = |t: &str| t.parse::<Area>().unwrap_or_else(|e| panic!("{e}"));
        let photo = SwatchPhoto::measure(
            &picture,
            &area("0,0,58,40"),
            Bare::SameFrame(&area("62,0,18,40")),
            None,
            &light("LED-B3"),
        )
        .unwrap_or_else(|e| panic!("{e}"));
        (picture, photo)
    }

    fn one_white() -> View {
        View::OneWhite { xyz: light("LED-B3").at_unit_flux().xyz() }
    }

    #[test]
    fn the_same_light_gives_the_same_colours_back() {
        let (_, photo) = swatch();
        let relight = Relight::new(&photo, &light("LED-B3"), &[light("LED-B3")], one_white());
        let screen = one_white().to_screen(light("LED-B3").at_unit_flux().xyz());
        for t in photo.cells.iter().step_by(7) {
            let direct = times(screen, photo.xyz(*t)).map(|v| v * relight.exposure());
            let table = relight.colours(*t)[0];
            for k in 0..3 {
                assert!((direct[k] - table[k]).abs() < 0.004 * direct[1], "{direct:?} {table:?}");
            }
        }
    }

    #[test]
    fn the_table_agrees_with_a_spectrum_found_for_the_pixel() {
        let (_, photo) = swatch();
        let lights = [light("LED-B1"), light("LED-B5")];
        let relight = Relight::new(&photo, &light("LED-B3"), &lights, one_white());
        let recovery = Recovery::under(&light("LED-B3"));
        for t in photo.cells.iter().step_by(5) {
            let stone = recovery.recover(photo.xyz(*t)).expect("a real colour").stone;
            for (target, table) in lights.iter().zip(relight.colours(*t)) {
                let weights = Weights::of(target);
                let direct = times(one_white().to_screen(weights.bare()), weights.through(&stone));
                for k in 0..3 {
                    let direct = direct[k] * relight.exposure();
                    assert!((direct - table[k]).abs() < 0.005, "{direct} {table:?}");
                }
            }
        }
    }

    #[test]
    fn threads_do_not_change_a_single_byte_and_pixels_follow_the_table() {
        let (picture, photo) = swatch();
        let lights = [light("LED-B1"), light("LED-B3"), light("LED-B5")];
        let relight = Relight::new(&photo, &light("LED-B3"), &lights, one_white());
        let once = relight.pictures(&picture, NonZero::<usize>::MIN);
        for threads in [2, 3, 7, 1000] {
            assert!(
                once == relight.pictures(&picture, NonZero::new(threads).expect("not zero")),
                "{threads}"
            );
        }
        let linear = linear_table();
        for at in [0, 3 * (10 * 80 + 30), 3 * (39 * 80 + 50)] {
            let t = [0, 1, 2].map(|k| linear[usize::from(picture.rgb[at + k])] / photo.bare[k]);
            for (light, colour) in relight.colours(t).iter().enumerate() {
                for k in 0..3 {
                    let expected = (colour::encode(colour[k]) * 255.0).round();
                    assert!((f64::from(once[light][at + k]) - expected).abs() <= 1.0, "{at} {light} {k}");
                }
            }
        }
    }

    #[test]
    fn an_adapted_eye_sees_less_difference_between_lights() {
        let (_, photo) = swatch();
        let lights = [light("LED-B1"), light("LED-B5")];
        let between = |view| {
            let colours = Relight::new(&photo, &light("LED-B3"), &lights, view).colours(photo.mean);
            let lab = |c: [f64; 3]| colour::lab(times(colour::SRGB_TO_XYZ, c), colour::SRGB_WHITE);
            colour::delta_e00(lab(colours[0]), lab(colours[1]))
        };
        assert!(between(View::Adapted { luminance_cd_m2: 100.0 }) < 0.5 * between(one_white()));
    }
}

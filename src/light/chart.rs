//! A photo of the usual chart of 24 patches, lit by the panel alone: how the camera takes that light for colour, and the
//! matrix that puts it right.
//!
//! The patches' reflectances are known ([`super::chart_values`]), so the cone ratios that each should show under the panel's
//! light are. Sought is the matrix that brings what the camera shows to them, white kept, by relative least squares, and
//! with it how the light falls off across the chart, evenly in its logarithm. What is left over says how far the camera is
//! from any matrix, and whether this is the chart at all. Not here: what that makes of a stone's range ([`super::camera`]).

use super::area::Area;
use super::chart_values::{FIRST, PERMILLE, STEP};
use super::colour::{CAT16, Matrix, product, times};
use super::photo_error::PhotoError;
use super::picture::{Picture, Space};
use super::spectrum::{FIRST_NM, Spd, Transmittance};

/// Patches of a chart.
pub const PATCHES: usize = 24;
/// Columns of the chart; it has four rows.
const COLUMNS: usize = 6;
/// The greys that tell white: all of the last row but the black one, in which stray light counts.
const GREYS: std::ops::Range<usize> = 18..23;
/// The fewest patches and greys that tell a matrix. Common practice, no source.
const FEWEST: usize = 18;
const FEWEST_GREYS: usize = 4;
/// Keeps dark patches, in which stray light counts, from outweighing bright ones.
const STRAY: f64 = 0.02;
/// The least side of a patch in pixels.
const LEAST_SIDE: f64 = 8.0;
/// The part of a patch's side that is read, in its middle.
const READ: f64 = 0.5;
/// Above this root mean square of the logarithms left over, the patches are not the chart's. Common practice, no source.
const NOT_THE_CHART: f64 = 0.2;
/// What a usual camera and another copy of the chart leave over: in a picture, which leaves out patches that it cannot hold,
/// and in a sensor's own values.
pub(super) const USUAL_OFF: f64 = 0.039;
pub(super) const USUAL_OFF_VALUES: f64 = 0.05;
/// Rounds of seeking matrix and fall-off in turns.
const ROUNDS: usize = 30;

/// What a chart told of a camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chart {
    /// From ratios of CAT16's cones, stone to bare panel, as shown, to those that they stand for; white kept.
    pub(crate) matrix: Matrix,
    /// Root mean square of the logarithms of these ratios that no matrix explains.
    pub off: f64,
    /// The colour space of the chart's picture; none where its values came as numbers.
    pub(crate) space: Option<Space>,
}

impl Chart {
    /// Reads a chart in a photo; `place` has its four corners, in order around it, whichever comes first.
    ///
    /// # Errors
    /// `photo-chart…` of [`PhotoError`].
    pub fn photographed(picture: &Picture, place: &Area, light: &Spd) -> Result<Chart, PhotoError> {
        let corners = corners(picture, place)?;
        let to_cones = product(CAT16, picture.space.to_xyz());
        let mut best: Option<Chart> = None;
        // The brown patch may be at any corner, and the corners may be named either way round.
        for turn in 0..8 {
            let mut corners = corners;
            corners.rotate_left(turn / 2);
            if turn % 2 == 1 {
                corners.swap(1, 3);
            }
            let Some(shown) = read(picture, corners)? else { continue };
            let found = fitted(shown.map(|patch| patch.map(|rgb| times(to_cones, rgb))), light);
            best = [best, found].into_iter().flatten().min_by(|a, b| a.off.total_cmp(&b.off));
        }
        judged(best, Some(picture.space))
    }

    /// The same from linear values of the patches, in the chart's order.
    ///
    /// # Errors
    /// [`PhotoError::NotTheChart`].
    pub(crate) fn of_values(rgb: [[f64; 3]; PATCHES], light: &Spd) -> Result<Chart, PhotoError> {
        judged(fitted(rgb.map(|v| Some(times(product(CAT16, Space::Srgb.to_xyz()), v))), light), None)
    }
}

fn judged(found: Option<Chart>, space: Option<Space>) -> Result<Chart, PhotoError> {
    match found {
        Some(chart) if chart.off <= NOT_THE_CHART => Ok(Chart { space, ..chart }),
        other => Err(PhotoError::NotTheChart(other.map(|chart| chart.off))),
    }
}

fn corners(picture: &Picture, place: &Area) -> Result<[[f64; 2]; 4], PhotoError> {
    // Whether it lies in the picture is the area's own matter.
    place.runs(picture.width, picture.height).map_err(PhotoError::Chart)?;
    match place {
        Area::Rectangle { x, y, width, height } => {
            Ok([[*x, *y], [x + width, *y], [x + width, y + height], [*x, y + height]])
        }
        Area::Polygon(corners) => {
            corners.as_slice().try_into().map_err(|_| PhotoError::ChartCorners(corners.len()))
        }
    }
}

/// Something of each patch; none of one whose colour the picture cannot hold, as many hold no cyan.
type Patches = [Option<[f64; 3]>; PATCHES];

/// Linear light of each patch; none where the corners cannot be a chart's.
fn read(picture: &Picture, corners: [[f64; 2]; 4]) -> Result<Option<Patches>, PhotoError> {
    let linear = picture.light();
    let Some(place) = from_unit_square(corners) else { return Ok(None) };
    let apart = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let rows = PATCHES / COLUMNS;
    let across = apart(corners[0], corners[1]).min(apart(corners[3], corners[2])) / COLUMNS as f64;
    let down = apart(corners[1], corners[2]).min(apart(corners[0], corners[3])) / rows as f64;
    if across.min(down) < LEAST_SIDE {
        return Err(PhotoError::ChartSmall(across.min(down)));
    }
    let steps = ((across.max(down) * READ).ceil() as usize).clamp(4, 40);
    let (mut clipped, mut count) = (0usize, 0usize);
    let mut out = [None; PATCHES];
    for (patch, shown) in out.iter_mut().enumerate() {
        let (mut mean, mut dark) = ([0.0; 3], 0usize);
        for step in 0..steps * steps {
            let along = |at: usize| 0.5 + READ * ((at as f64 + 0.5) / steps as f64 - 0.5);
            let u = ((patch % COLUMNS) as f64 + along(step % steps)) / COLUMNS as f64;
            let v = ((patch / COLUMNS) as f64 + along(step / steps)) / rows as f64;
            let [x, y] = place(u, v);
            let within = |at: f64, size: usize| (at.max(0.0) as usize).min(size - 1);
            let (x, y) = (within(x, picture.width), within(y, picture.height));
            let pixel = picture.pixel(x, y);
            clipped += usize::from(super::photo_pixels::is_clipped(pixel));
            dark += usize::from(super::photo_pixels::is_dark(pixel));
            count += 1;
            let light = linear.at(x, y);
            (0..3).for_each(|k| mean[k] += light[k] / (steps * steps) as f64);
        }
        *shown = (dark * 10 < steps * steps).then_some(mean);
    }
    let clipped = clipped as f64 / count as f64;
    if clipped > super::photo_pixels::CLIPPED_BARE {
        return Err(PhotoError::ChartClipped(clipped));
    }
    Ok(Some(out))
}

/// The projective map from the unit square to four corners in order around them, the first at its origin (P. S. Heckbert,
/// Fundamentals of Texture Mapping and Image Warping, 1989); none where three lie on a line.
fn from_unit_square([a, b, c, d]: [[f64; 2]; 4]) -> Option<impl Fn(f64, f64) -> [f64; 2]> {
    let sum = [0, 1].map(|i| a[i] - b[i] + c[i] - d[i]);
    let (one, two) = ([0, 1].map(|i| b[i] - c[i]), [0, 1].map(|i| d[i] - c[i]));
    let cross = |p: [f64; 2], q: [f64; 2]| p[0] * q[1] - p[1] * q[0];
    let whole = cross(one, two);
    if whole.abs() < 1e-9 {
        return None;
    }
    let (g, h) = (cross(sum, two) / whole, cross(one, sum) / whole);
    Some(move |u: f64, v: f64| {
        let depth = g * u + h * v + 1.0;
        [0, 1].map(|i| ((b[i] - a[i] + g * b[i]) * u + (d[i] - a[i] + h * d[i]) * v + a[i]) / depth)
    })
}

/// The cone ratios, patch to white, that the chart shows under a light.
fn known(light: &Spd) -> [[f64; 3]; PATCHES] {
    let white = times(CAT16, light.xyz());
    PERMILLE.map(|row| {
        let patch = Transmittance::from_fn(|i| {
            let along = (FIRST_NM + i - FIRST) as f64 / STEP as f64;
            let at = (along as usize).min(row.len() - 2);
            let share = along - at as f64;
            (f64::from(row[at]) * (1.0 - share) + f64::from(row[at + 1]) * share) / 1000.0
        });
        let seen = times(CAT16, light.xyz_through(&patch));
        [0, 1, 2].map(|k| seen[k] / white[k])
    })
}

/// Where a patch lies on the chart, each way from −1 to 1.
fn place_of(patch: usize) -> [f64; 2] {
    let rows = PATCHES / COLUMNS;
    let along = |at: usize, of: usize| 2.0 * at as f64 / (of - 1) as f64 - 1.0;
    [along(patch % COLUMNS, COLUMNS), along(patch / COLUMNS, rows)]
}

/// Fits a matrix to the patches' cone values; none where they hold no light.
fn fitted(patches: Patches, light: &Spd) -> Option<Chart> {
    let known = known(light);
    let used: Vec<usize> = (0..PATCHES).filter(|i| patches[*i].is_some()).collect();
    let greys: Vec<usize> = used.iter().copied().filter(|i| GREYS.contains(i)).collect();
    if used.len() < FEWEST || greys.len() < FEWEST_GREYS {
        return None;
    }
    let cones = patches.map(Option::unwrap_or_default);
    let ln = |v: f64| v.max(1e-4).ln();
    let mut fall = [0.0; 2];
    let mut matrix: Matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let mut left = [[0.0; 3]; PATCHES];
    for _ in 0..ROUNDS {
        let level = |patch: usize| {
            let [x, y] = place_of(patch);
            (fall[0] * x + fall[1] * y).exp()
        };
        // White as the greys show it.
        let white: [f64; 3] = std::array::from_fn(|k| {
            let logs = greys
                .iter()
                .map(|i| (cones[*i][k] / level(*i)).max(f64::MIN_POSITIVE).ln() - known[*i][k].ln());
            (logs.sum::<f64>() / greys.len() as f64).exp()
        });
        let seen: [[f64; 3]; PATCHES] =
            std::array::from_fn(|i| [0, 1, 2].map(|k| cones[i][k] / level(i) / white[k]));
        for k in 0..3 {
            let [one, two] = [(k + 1) % 3, (k + 2) % 3];
            let rows = used.iter().map(|i| {
                let i = *i;
                let weight = 1.0 / (known[i][k] + STRAY);
                let off = |other: usize| (seen[i][other] - seen[i][k]) * weight;
                ([off(one), off(two)], (known[i][k] - seen[i][k]) * weight)
            });
            let [a, b] = two_unknowns(rows)?;
            matrix[k][one] = a;
            matrix[k][two] = b;
            matrix[k][k] = 1.0 - a - b;
        }
        left = std::array::from_fn(|i| {
            let meant = times(matrix, seen[i]);
            [0, 1, 2].map(|k| (ln(meant[k]) - ln(known[i][k])) * known[i][k] / (known[i][k] + STRAY))
        });
        let rows = used.iter().map(|i| (place_of(*i), (left[*i][0] + left[*i][1]) / 2.0));
        let more = two_unknowns(rows)?;
        fall = [0, 1].map(|k| fall[k] + more[k]);
    }
    let squares = used.iter().flat_map(|i| left[*i]).map(|v| v * v);
    let off = (squares.sum::<f64>() / (3 * used.len()) as f64).sqrt();
    off.is_finite().then_some(Chart { matrix, off, space: None })
}

/// Least squares for two unknowns; none where the rows do not settle them.
fn two_unknowns(rows: impl Iterator<Item = ([f64; 2], f64)>) -> Option<[f64; 2]> {
    let (mut m, mut v) = ([0.0; 3], [0.0; 2]);
    for ([a, b], goal) in rows {
        m = [m[0] + a * a, m[1] + a * b, m[2] + b * b];
        v = [v[0] + a * goal, v[1] + b * goal];
    }
    let whole = m[0] * m[2] - m[1] * m[1];
    (whole > 1e-12 * m[0] * m[2])
        .then(|| [(v[0] * m[2] - v[1] * m[1]) / whole, (v[1] * m[0] - v[0] * m[1]) / whole])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::colour::{encode, inverse};
    use crate::light::illuminants::named;

    const SIDE: usize = 20;

    fn light() -> Spd {
        named("LED-B3").unwrap_or_else(|e| panic!("{e}"))
    }

    /// A chart as a camera with this matrix in cone ratios shows it, the light falling off to the right by a quarter.
    fn picture(wrong: Matrix) -> Picture {
        let known = known(&light());
        let (white, back) = (times(CAT16, [0.95, 1.0, 1.09]), inverse(product(CAT16, Space::Srgb.to_xyz())));
        let (width, height) = (COLUMNS * SIDE, PATCHES / COLUMNS * SIDE);
        let mut rgb = Vec::new();
        for y in 0..height {
            for x in 0..width {
                let shown = times(wrong, known[y / SIDE * COLUMNS + x / SIDE]);
                let level = 0.8 - 0.2 * x as f64 / width as f64;
                let linear = times(back.expect("a constant"), [0, 1, 2].map(|k| shown[k] * white[k] * level));
                rgb.extend(linear.map(|v| (encode(v.clamp(0.0, 0.98)) * 255.0).round() as u8));
            }
        }
        Picture::of(width, height, rgb)
    }

    fn read(picture: &Picture, place: &str) -> Result<Chart, PhotoError> {
        Chart::photographed(picture, &place.parse().unwrap_or_else(|e| panic!("{e}")), &light())
    }

    const WRONG: Matrix = [[1.05, -0.08, 0.03], [0.06, 0.97, -0.03], [-0.02, 0.08, 0.94]];

    /// The matrix found undoes the camera's, whichever corner comes first and whichever way round.
    #[test]
    fn a_matrix_is_undone_and_light_that_falls_off_is_no_colour() {
        let picture = picture(WRONG);
        for place in ["0,0,120,80", "120,80 0,80 0,0 120,0", "0,80 120,80 120,0 0,0"] {
            let found = read(&picture, place).unwrap_or_else(|e| panic!("{place}: {e}"));
            assert!(found.off < 0.03, "{place}: {found:?}");
            let one = product(found.matrix, WRONG);
            for (i, row) in one.iter().enumerate() {
                for (k, v) in row.iter().enumerate() {
                    assert!((v - f64::from(u8::from(i == k))).abs() < 0.03, "{place}: {one:?}");
                }
            }
        }
    }

    #[test]
    fn what_is_no_chart_is_refused() {
        let sound = picture(WRONG);
        let code = |p: &Picture, place| read(p, place).err().map(|e| e.code());
        assert_eq!(code(&sound, "0,0,60,80"), Some("photo-chart-other"), "half of it");
        assert_eq!(code(&sound, "0,0,30,20"), Some("photo-chart-small"));
        assert_eq!(code(&sound, "0,0 120,0 60,80"), Some("photo-chart-area"));
        assert_eq!(code(&sound, "0,0,130,80"), Some("photo-chart-area"));
        let mut bright = sound.clone();
        bright.rgb.iter_mut().for_each(|v| *v = v.saturating_mul(3));
        assert_eq!(code(&bright, "0,0,120,80"), Some("photo-chart-clipped"));
        let grey = Picture::of(120, 80, vec![120; 120 * 80 * 3]);
        assert_eq!(code(&grey, "0,0,120,80"), Some("photo-chart-other"));
    }
}

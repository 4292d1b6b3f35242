//! The contact sheet: the swatch's own photo over every candidate light, side by side, with the figures.
//!
//! One white point and one exposure for all pictures (or, where asked, an eye adapted to each), so that they
//! compare fairly. The pictures show the swatch as photographed; the figures beneath are the slab's.

use std::fmt;
use std::fmt::Write;
use std::num::NonZero;

use super::area::{Area, AreaError};
use super::drawing::{DrawingError, FONT, draw, png, shortened, wrapped};
use super::figures::{duv_within_tolerance, target_duv, white_point_of};
use super::look::{Candidate, Figure, Look, Prediction, decimals, levels};
use super::picture::Picture;
use super::practice::Standing;
use super::relight::{Relight, View};
use super::spectrum::Spd;
use super::stone::KnownBeside;
use super::swatch_photo::SwatchPhoto;
use crate::markup::escaped;

/// Everything that a contact sheet shows.
#[derive(Clone, Copy, Debug)]
pub struct ContactSheet<'a> {
    /// The heading: project and stone.
    pub title: &'a str,
    /// The photo.
    pub picture: &'a Picture,
    /// Where the stone is in it.
    pub stone: &'a Area,
    /// What the photo told.
    pub photo: &'a SwatchPhoto,
    /// The light that the photo was taken under.
    pub photographed: &'a Spd,
    /// What is known of the stone beside this photo: by other photos of it, or measured.
    pub known: Option<&'a KnownBeside>,
    /// The candidates, in the order of the pictures.
    pub candidates: &'a [Candidate],
    /// The predictions for these candidates.
    pub look: &'a Look,
    /// How the eye takes white.
    pub view: View,
    /// Pixels of the photo for each millimetre of the stone, where a mark in it says so.
    pub pixels_per_mm: Option<f64>,
    /// Dark to look at, or light to print.
    pub ground: Ground,
}

/// What the pictures lie on. On white paper a dark ground costs ink; on a screen a white one dazzles beside lit stone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ground {
    /// Dark, to look at.
    Dark,
    /// Light, to print.
    Paper,
}

/// The colours of a ground.
struct Palette {
    ground: &'static str,
    ink: &'static str,
    soft: &'static str,
    /// The outline of a mark that is not filled.
    outline: &'static str,
}

impl Ground {
    const fn palette(self) -> Palette {
        match self {
            Ground::Dark => {
                Palette { ground: "#232225", ink: "#f3f1ee", soft: "#b9b5ae", outline: "#d9d5ce" }
            }
            Ground::Paper => {
                Palette { ground: "#ffffff", ink: "#1c1b1e", soft: "#55514a", outline: "#6f6a62" }
            }
        }
    }
}

const WIDTH: usize = 1920;
const MARGIN: usize = 56;
const GAP: usize = 28;
/// Room beneath a picture for its figures.
const FIGURES: usize = 176;

impl ContactSheet<'_> {
    /// The sheet as PNG; `threads` share the work and do not change a byte of it.
    ///
    /// # Errors
    /// Refuses a stone outside the photo and what cannot be drawn.
    pub fn png(&self, threads: NonZero<usize>) -> Result<Vec<u8>, SheetError> {
        let columns = match self.candidates.len() {
            0 => return Err(SheetError::NothingToShow),
            n @ 1..=4 => n.max(2),
            5 | 6 => 3,
            _ => 4,
        };
        let cell = (WIDTH - 2 * MARGIN - (columns - 1) * GAP) / columns;
        let crop = stone_of(self.picture, self.stone)?;
        let scale = self.pixels_per_mm.map(|per_mm| per_mm * cell as f64 / crop.width as f64);
        let crop = if crop.width > cell { crop.shrunk(cell) } else { repeated(&crop, cell) };
        let Palette { ground, ink, soft, .. } = self.ground.palette();
        let relight = self.relight();
        let pictures = relight.pictures(&crop, threads);
        let rows = self.candidates.len().div_ceil(columns);
        let (foot, foot_height) = self.foot(&relight);
        let top = MARGIN + 96;
        let row_height = crop.height + FIGURES;
        let height = top + rows * row_height + foot_height + MARGIN;
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{height}\" \
             font-family=\"{FONT}\"><rect width=\"100%\" height=\"100%\" fill=\"{ground}\"/>"
        );
        let words = self.heading();
        line(
            &mut svg,
            MARGIN,
            MARGIN + 30,
            38.0,
            ink,
            true,
            &shortened(self.title, (WIDTH - 2 * MARGIN) as f64, 42.0),
        );
        line(&mut svg, MARGIN, MARGIN + 68, 21.0, soft, false, &words);
        let place = |i: usize| (MARGIN + i % columns * (cell + GAP), top + i / columns * row_height);
        for (i, candidate) in self.candidates.iter().enumerate() {
            let (x, y) = place(i);
            let all = &self.look.predictions;
            if let Some(prediction) = all.iter().find(|p| p.candidate == i) {
                let alone = all.iter().filter(|p| p.could_be_best).count() == 1;
                figures(
                    &mut svg,
                    [x, y + crop.height, cell],
                    prediction,
                    candidate,
                    (all.len() > 1).then_some(alone),
                    self.ground.palette(),
                );
                if let Some(per_mm) = scale {
                    scale_bar(&mut svg, [x, y + crop.height + 8], per_mm, cell, self.ground.palette());
                }
            }
        }
        let mut y = top + rows * row_height + 34;
        for (text, colour) in &foot {
            line(&mut svg, MARGIN, y, 21.0, colour, false, text);
            y += 30;
        }
        svg.push_str("</svg>");
        let (_, _, mut sheet) = draw(&svg)?;
        for (i, picture) in pictures.iter().enumerate() {
            let (x, y) = place(i);
            for (row, pixels) in picture.chunks_exact(crop.width * 3).enumerate() {
                let at = ((y + row) * WIDTH + x) * 3;
                sheet[at..at + pixels.len()].copy_from_slice(pixels);
            }
        }
        Ok(png(WIDTH, height, &sheet)?)
    }

    /// The stone alone over each candidate, at most so many pixels wide, without heading and figures; and a bar that says how
    /// large it is in them, where the photo has a scale.
    ///
    /// # Errors
    /// Refuses a stone outside the photo.
    pub(crate) fn alone(
        &self,
        widest: usize,
        threads: NonZero<usize>,
    ) -> Result<(Vec<Picture>, Option<ScaleBar>), SheetError> {
        let stone = stone_of(self.picture, self.stone)?;
        let whole = stone.width;
        let crop = stone.shrunk(widest);
        let bar = self.pixels_per_mm.map(|per_mm| {
            let shown = crop.width as f64;
            ScaleBar::of(per_mm * shown / whole as f64, shown / 3.0)
        });
        let all = self.relight().pictures(&crop, threads);
        Ok((all.into_iter().map(|rgb| Picture { rgb, ..crop.clone() }).collect(), bar))
    }

    fn relight(&self) -> Relight {
        let lights: Vec<Spd> = self.candidates.iter().map(|c| c.light.clone()).collect();
        let levels = levels(self.candidates);
        Relight::known(self.photo, self.photographed, self.known, &lights, &levels, self.view)
    }

    fn heading(&self) -> String {
        let white = match self.view {
            View::OneWhite { xyz } => {
                let white = white_point_of(xyz);
                let at = white.cct_k.map_or_else(String::new, |k| format!(" ({k:.0} K)"));
                format!("one white point{at} and one exposure for all")
            }
            View::Adapted { luminance_cd_m2 } => format!(
                "each as an eye adapted to its light at {luminance_cd_m2:.0} cd/m² sees it (CIECAM16), one exposure for \
                 all"
            ),
        };
        format!(
            "Predicted pictures: the swatch as photographed, re-lit, {white}. Figures: the slab, {}.",
            self.look.thickness_mm
        )
    }

    /// The lines below the pictures and the height they take.
    fn foot(&self, relight: &Relight) -> (Vec<(String, &'static str)>, usize) {
        let Palette { ink, soft, .. } = self.ground.palette();
        let width = (WIDTH - 2 * MARGIN) as f64;
        let mut lines = Vec::new();
        let mut paragraph = |text: &str, colour: &'static str| {
            let mut first = text.chars();
            let sentence: String =
                first.next().map(|c| c.to_uppercase().chain(first).collect()).unwrap_or_default();
            lines.extend(wrapped(&format!("{sentence}."), width, 21.0).into_iter().map(|l| (l, colour)));
        };
        paragraph(&self.look.ranking, ink);
        paragraph(&self.look.against_practice, ink);
        paragraph(
            "the exposure puts the brightest fiftieth of the stone, under the light that brings out most, at 80 % of white; \
             predicted, not photographed; a range holds the figure in nine of ten cases",
            soft,
        );
        if self.look.predictions.iter().any(|p| !p.ranked) {
            paragraph(
                "coloured light is shown as bright as its channels make it beside the whites, and is seen against their \
                 common white",
                soft,
            );
        }
        paragraph(&format!("the stone's spectrum was {}", self.look.method.words()), soft);
        if self.look.extrapolated {
            paragraph(
                "the slab's thickness lies beyond half or twice what was measured: trust the figures less",
                soft,
            );
        }
        if relight.out_of_reach > 0.005 {
            let share = relight.out_of_reach * 100.0;
            paragraph(
                &format!(
                    "{share:.0} % of the stone has a colour that no smooth spectrum gives; it is drawn paler"
                ),
                soft,
            );
        }
        for remark in &self.photo.remarks {
            paragraph(remark, soft);
        }
        let height = 34 + lines.len() * 30;
        (lines, height)
    }
}

/// The bounding box of the stone, at most a quarter higher than wide.
fn stone_of(picture: &Picture, stone: &Area) -> Result<Picture, SheetError> {
    let runs = stone.runs(picture.width, picture.height)?;
    let (top, bottom) = (runs.first().map_or(0, |r| r.0), runs.last().map_or(0, |r| r.0) + 1);
    let left = runs.iter().map(|r| r.1.start).min().unwrap_or(0);
    let right = runs.iter().map(|r| r.1.end).max().unwrap_or(picture.width);
    let width = right - left;
    let tallest = (width * 5 / 4).max(1);
    let (top, height) = if bottom - top > tallest {
        (top + (bottom - top - tallest) / 2, tallest)
    } else {
        (top, bottom - top)
    };
    let mut rgb = Vec::with_capacity(width * height * 3);
    for row in top..top + height {
        let at = (row * picture.width + left) * 3;
        rgb.extend_from_slice(&picture.rgb[at..at + width * 3]);
    }
    Ok(Picture { width, height, rgb, luma_chroma: None, remarks: Vec::new(), ..*picture })
}

/// A picture smaller than its cell, each pixel repeated: nothing is invented between them.
fn repeated(picture: &Picture, width: usize) -> Picture {
    let height = (picture.height * width / picture.width).max(1);
    let mut rgb = Vec::with_capacity(width * height * 3);
    for y in 0..height {
        for x in 0..width {
            rgb.extend(
                picture
                    .pixel(x * picture.width / width, (y * picture.height / height).min(picture.height - 1)),
            );
        }
    }
    Picture { width, height, rgb, luma_chroma: None, remarks: Vec::new(), ..*picture }
}

fn line(svg: &mut String, x: usize, y: usize, size: f64, colour: &str, bold: bool, text: &str) {
    let weight = if bold { " font-weight=\"bold\"" } else { "" };
    // Writing to a String does not fail.
    let _ = write!(
        svg,
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" fill=\"{colour}\"{weight}>{}</text>",
        escaped(text)
    );
}

/// The figures below one picture, at a place and as wide as given; with its place in the ranking, where there are
/// several, and whether one comes first alone.
fn figures(
    svg: &mut String,
    [x, y, cell]: [usize; 3],
    prediction: &Prediction,
    candidate: &Candidate,
    alone: Option<bool>,
    palette: Palette,
) {
    let Palette { ink, soft, .. } = palette;
    let width = cell as f64;
    line(svg, x, y + 42, 32.0, ink, true, &shortened(&candidate.label, width * 0.55, 34.0));
    if let Some(alone) = alone {
        place_in_ranking(svg, x + cell, y + 16, alone, prediction, &palette);
    }
    let mut rows = Vec::new();
    let mut colour = String::new();
    if let Some(contrast) = prediction.vein_contrast {
        let _ = write!(colour, "vein contrast {} · ", spread(contrast, 1));
    }
    let _ = write!(colour, "chroma {}", spread(prediction.chroma, 0));
    rows.push(colour);
    let mut bright = format!("{} cd/m²", spread(prediction.luminance_cd_m2, 0));
    if let Some(ratio) = prediction.ratio {
        let _ = write!(bright, " · {} × the room", spread(ratio, 1));
    }
    rows.push(bright);
    rows.push(light_in_words(prediction));
    rows.push(match prediction.colour_within_de00 {
        within if within < 0.05 => "predicted from a measured spectrum".into(),
        within => format!("predicted: the colour lies within ΔE00 {within:.1}"),
    });
    for (i, text) in rows.iter().enumerate() {
        let size = 20.0f64.min(width / (text.chars().count() as f64 * 0.54));
        line(svg, x, y + 74 + i * 26, (size * 10.0).round() / 10.0, soft, false, text);
    }
}

/// How large the stone in a picture is: a bar as long as a round number of millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ScaleBar {
    /// What it stands for on the stone, in millimetres.
    pub mm: f64,
    /// How long it is in the picture, in pixels.
    pub pixels: f64,
}

impl ScaleBar {
    /// The longest of a picture's scale that is no longer than so many pixels.
    fn of(pixels_per_mm: f64, longest: f64) -> ScaleBar {
        let most = longest / pixels_per_mm;
        let power = 10f64.powf(most.log10().floor());
        let mm = [5.0, 2.0, 1.0].into_iter().map(|n| n * power).find(|mm| *mm <= most).unwrap_or(power);
        ScaleBar { mm, pixels: (mm * pixels_per_mm).round() }
    }
}

fn scale_bar(svg: &mut String, [x, y]: [usize; 2], pixels_per_mm: f64, cell: usize, palette: Palette) {
    let ScaleBar { mm, pixels: long } = ScaleBar::of(pixels_per_mm, cell as f64 / 3.0);
    let soft = palette.soft;
    // Writing to a String does not fail.
    let _ = write!(
        svg,
        "<path d=\"M{x} {y}m0 -4v8m0 -4h{long}m0 -4v8\" fill=\"none\" stroke=\"{soft}\" stroke-width=\"2\"/>"
    );
    line(svg, x + long as usize + 8, y + 5, 15.0, soft, false, &format!("{mm} mm of the stone"));
}

/// The place in the ranking as a mark that ends at `right`: filled for one that comes first alone, an outline for those
/// that the eye cannot tell apart, plain for the rest, so that it is read without colours too.
fn place_in_ranking(
    svg: &mut String,
    right: usize,
    top: usize,
    alone: bool,
    prediction: &Prediction,
    palette: &Palette,
) {
    let Palette { ink, soft, outline, .. } = palette;
    let (text, style) = match (prediction.ranked, prediction.could_be_best) {
        (false, _) => ("not ranked".to_string(), None),
        (true, true) if alone => ("comes first".to_string(), Some(("#e9b44c", "#e9b44c", "#1c1b1e"))),
        (true, true) => ("too close to call".to_string(), Some(("none", *outline, *ink))),
        (true, false) => (format!("{} in the ranking", prediction.place), None),
    };
    let width = text.chars().count() * 10 + 22;
    let left = right.saturating_sub(width);
    let baseline = top + 21;
    // Writing to a String does not fail.
    let _ = match style {
        Some((fill, stroke, ink)) => write!(
            svg,
            "<rect x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"30\" rx=\"15\" fill=\"{fill}\" \
             stroke=\"{stroke}\" stroke-width=\"1.5\"/><text x=\"{}\" y=\"{baseline}\" font-size=\"18\" \
             text-anchor=\"middle\" fill=\"{ink}\">{text}</text>",
            left + width / 2
        ),
        None => write!(
            svg,
            "<text x=\"{right}\" y=\"{baseline}\" font-size=\"18\" text-anchor=\"end\" fill=\"{soft}\">{text}</text>"
        ),
    };
}

/// The light of a picture in one line: its CCT, how far it is from a good white, and what practice says of it.
fn light_in_words(prediction: &Prediction) -> String {
    let light = &prediction.light;
    let Some(cct) = light.cct_k.filter(|_| prediction.ranked) else {
        let why = if light.cct_k.is_none() { "CCT has no meaning here" } else { "a colour and no white" };
        return format!("{why}: x {:.3}, y {:.3}", light.x, light.y);
    };
    let duv = format!("{:+.4}", (light.duv * 1e4).round() / 1e4 + 0.0).replace('-', "−");
    let tint = match duv_within_tolerance(cct, light.duv) {
        true => "",
        false if light.duv > target_duv(cct) => ", greenish",
        false => ", pinkish",
    };
    let practice = match prediction.standing {
        Standing::Preferred => " · usual practice",
        Standing::BelowFloor => " · below the usual floor",
        Standing::Divided => " · usual for its tone only",
        Standing::Unusual => " · not usual",
        Standing::NoRule => "",
    };
    format!("{cct:.0} K, Duv {duv}{tint}{practice}")
}

/// `6.2`, or `5.1–7.0` where it may lie anywhere between, with no more decimals than the range bears.
fn spread(figure: Figure, most: usize) -> String {
    let places = decimals(figure.low, figure.high, most);
    let (low, high) = (format!("{:.places$}", figure.low), format!("{:.places$}", figure.high));
    if low == high { low } else { format!("{low}–{high}") }
}

/// Why no contact sheet was made.
#[derive(Clone, Debug, PartialEq)]
pub enum SheetError {
    /// No candidate.
    NothingToShow,
    /// The stone is not in the photo.
    Stone(AreaError),
    /// It cannot be drawn.
    Drawing(DrawingError),
}

impl From<AreaError> for SheetError {
    fn from(error: AreaError) -> SheetError {
        SheetError::Stone(error)
    }
}

impl From<DrawingError> for SheetError {
    fn from(error: DrawingError) -> SheetError {
        SheetError::Drawing(error)
    }
}

impl SheetError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        match self {
            SheetError::NothingToShow => "sheet-nothing-to-show",
            SheetError::Stone(_) => "photo-stone-area",
            SheetError::Drawing(error) => error.code(),
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            SheetError::NothingToShow => "name at least one light, such as 3000 and 4000 K".into(),
            SheetError::Stone(error) => error.remedy(),
            SheetError::Drawing(error) => error.remedy().into(),
        }
    }
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SheetError::NothingToShow => f.write_str("there is no light to show the stone over"),
            SheetError::Stone(error) => write!(f, "the stone: {error}"),
            SheetError::Drawing(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for SheetError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_is_a_round_length_and_no_longer_than_a_third_of_the_picture() {
        for (per_mm, cell, mm, long) in [(4.0, 600, "50", 200), (0.3, 600, "500", 150), (30.0, 452, "5", 150)]
        {
            let mut svg = String::new();
            scale_bar(&mut svg, [10, 20], per_mm, cell, Ground::Paper.palette());
            assert!(
                svg.contains(&format!("h{long}m")) && svg.contains(&format!(">{mm} mm of the stone<")),
                "{svg}"
            );
            assert!(3 * long <= cell, "{svg}");
        }
    }
}

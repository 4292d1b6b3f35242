//! A page that shows how even the light would be: the computed luminance over a face for chosen lit edges, with
//! constant and with graded extraction. A model's picture and no drawing sheet: nothing is built or signed from it.
//!
//! Grey follows the eye: the shade's CIE 1976 lightness is that of the luminance shown, in even steps, so that the
//! picture reads the same in colour, on a grey printer and on a screen. Lines of equal luminance and nine numbers
//! say the same without any shade.

use std::fmt::Write as _;

use crate::light::colour::encode;
use crate::shape::{
    Edge, Extraction, Figures, LitEdgeAdvice, LuminancePicture, MODEL_NOTE, Outline, Point, Segment,
};
use crate::units::trimmed;

use super::canvas::{Anchor, Canvas, Reading, number};
use super::content::drawn_with;
use super::ink::{CAPITALS, LEADING, LineStyle, NAME, SMALL, SMALL_BOLD};
use super::lettering::{printable, width_mm, wrapped};
use super::paper::Area;
use super::view::Projection;

/// What the page shows.
#[derive(Clone, Debug)]
pub struct LightPage<'a> {
    /// What panel or drawing it is.
    pub title: &'a str,
    /// The outline.
    pub outline: &'a Outline,
    /// What it measures.
    pub figures: &'a Figures,
    /// Numbers of the lit edges.
    pub lit_edges: &'a [usize],
    /// The share of an edge's light that has come out after 300 mm in a guide of 8 mm.
    pub extracted_share: f64,
    /// How thick the guide is.
    pub guide_mm: f64,
    /// The pictures, one under or beside the other.
    pub pictures: &'a [(Extraction, LuminancePicture)],
    /// What common practice says of the choice.
    pub advice: Option<LitEdgeAdvice>,
}

/// The page: A4 upright, in millimetres.
const PAGE: Area = Area { left: 0.0, top: 0.0, right: 210.0, bottom: 297.0 };
const MARGIN_MM: f64 = 15.0;
/// From the head to the key: where the pictures stand.
const PICTURES: Area = Area { left: MARGIN_MM, top: 42.0, right: 210.0 - MARGIN_MM, bottom: 236.0 };
/// Room around a face for its lit edges and their numbers.
const AROUND_MM: f64 = 9.0;
/// Room above a face for what it is.
const HEADING_MM: f64 = 6.0;
/// How far the line of a lit edge stands off the edge, and how far the number.
const LIT_OFF_MM: f64 = 1.3;
const NUMBER_OFF_MM: f64 = 5.0;
const NUMBER_RADIUS_MM: f64 = 2.1;
/// Edges beyond so many show the numbers of the lit ones alone.
const MOST_NUMBERED: usize = 12;
/// The step between two shades, in CIE lightness.
const LIGHTNESS_STEP: f64 = 2.0;
/// The box of one of the nine numbers.
const NUMBER_BOX_MM: (f64, f64) = (8.6, 3.6);

/// Numbers closer than this are one number, as they are shown.
const SAME: f64 = 0.005;

/// The shade of a luminance from 0 to 1: its CIE 1976 lightness in even steps, as the sRGB grey of that lightness
/// (CIE 15, from memory; IEC 61966-2-1).
fn grey(luminance: f64) -> u8 {
    let y = luminance.clamp(0.0, 1.0);
    let lightness = if y > 216.0 / 24389.0 { 116.0 * y.cbrt() - 16.0 } else { y * 24389.0 / 27.0 };
    let lightness = (lightness / LIGHTNESS_STEP).round() * LIGHTNESS_STEP;
    let y = if lightness > 8.0 { ((lightness + 16.0) / 116.0).powi(3) } else { lightness * 27.0 / 24389.0 };
    (encode(y) * 255.0).round() as u8
}

/// Draws the page as SVG. The same input gives the same bytes.
#[must_use]
pub fn draw_light_page(page: &LightPage<'_>) -> String {
    let title = printable(&format!("How even the light would be: {}", page.title));
    let mut canvas = Canvas::new(PAGE, &title);
    head(&mut canvas, page, &title);
    let (width, height) = (page.figures.width_mm, page.figures.height_mm);
    let count = page.pictures.len().max(1) as f64;
    for (i, (extraction, picture)) in page.pictures.iter().enumerate() {
        let at = i as f64;
        let place = if width >= height {
            let each = PICTURES.height() / count;
            Area { top: PICTURES.top + each * at, bottom: PICTURES.top + each * (at + 1.0), ..PICTURES }
        } else {
            let each = PICTURES.width() / count;
            Area { left: PICTURES.left + each * at, right: PICTURES.left + each * (at + 1.0), ..PICTURES }
        };
        face(&mut canvas, page, *extraction, picture, place, i);
    }
    key(&mut canvas);
    foot(&mut canvas, page);
    canvas.svg()
}

fn head(canvas: &mut Canvas, page: &LightPage<'_>, title: &str) {
    let width = PAGE.right - 2.0 * MARGIN_MM;
    let title = wrapped(title, NAME, width).into_iter().next().unwrap_or_default();
    canvas.write(&title, Point::new(MARGIN_MM, 19.0), Anchor::Start, NAME, Reading::Level);
    let lit: Vec<String> = page.lit_edges.iter().map(usize::to_string).collect();
    let what = format!(
        "Lit: {} {} of {}. Guide of {} mm that lets out {} % in 300 mm at 8 mm; unlit edges reflect only flat light.",
        if lit.len() == 1 { "edge" } else { "edges" },
        lit.join(", "),
        page.figures.edges.len(),
        trimmed(page.guide_mm, 1),
        trimmed(100.0 * page.extracted_share, 1),
    );
    canvas.write(&what, Point::new(MARGIN_MM, 25.5), Anchor::Start, SMALL, Reading::Level);
    let box_of_model = Area { left: MARGIN_MM, top: 28.5, right: PAGE.right - MARGIN_MM, bottom: 35.0 };
    canvas.rectangle(box_of_model, LineStyle::Outline);
    let at = Point::new(PAGE.right / 2.0, 32.7);
    canvas.write(&format!("A MODEL. {MODEL_NOTE}"), at, Anchor::Middle, SMALL_BOLD, Reading::Level);
}

/// One face with its shades, lines, numbers and lit edges.
fn face(
    canvas: &mut Canvas,
    page: &LightPage<'_>,
    extraction: Extraction,
    picture: &LuminancePicture,
    place: Area,
    number_of_face: usize,
) {
    let says = |value: Option<f64>| value.map_or("none".into(), |v| format!("{v:.2}"));
    let name = match (extraction, picture.graded) {
        (Extraction::Constant, _) => "Constant extraction",
        (Extraction::Graded, true) => "Graded extraction",
        (Extraction::Graded, false) => "Graded: no straight lit edge, so constant",
    };
    let figures = format!(
        "nine points Lmin/Lmax {}, whole face {}",
        says(picture.nine_point_uniformity),
        says(Some(picture.face_uniformity))
    );
    let mut y = place.top + 3.0;
    let one_line = format!("{name}: {figures}");
    let lines = if width_mm(&one_line, SMALL_BOLD) <= place.width() {
        vec![one_line]
    } else {
        vec![name.into(), figures]
    };
    for line in &lines {
        canvas.write(line, Point::new(place.left, y), Anchor::Start, SMALL_BOLD, Reading::Level);
        y += LEADING * SMALL.size_mm;
    }
    let top = place.top + HEADING_MM + (lines.len() - 1) as f64 * LEADING * SMALL.size_mm;
    let room = Area { top, ..place }.grown(-AROUND_MM);
    let (width, height) = (page.figures.width_mm, page.figures.height_mm);
    let factor = (room.width() / width).min(room.height() / height);
    let left = room.left + 0.5 * (room.width() - width * factor);
    let bottom = room.top + 0.5 * (room.height() + height * factor);
    let projection = Projection { factor, from: page.figures.lower_left, origin: Point::new(left, bottom) };
    let contours: Vec<String> = page.outline.contours().map(|c| projection.data(&c.segments, true)).collect();
    canvas.open_clipped(&format!("face-{}", number_of_face + 1), &contours.join(""));
    shades(canvas, picture, &projection);
    for tenth in 1..10 {
        let lines = level_lines(picture, f64::from(tenth) / 10.0, &projection);
        if !lines.is_empty() {
            canvas.path(&lines, LineStyle::Rule);
        }
    }
    canvas.close();
    for (i, cutout) in page.outline.cutouts.iter().enumerate() {
        crossed_out(
            canvas,
            &format!("opening-{}-{}", number_of_face + 1, i + 1),
            &cutout.segments,
            &projection,
        );
    }
    for contour in &contours {
        canvas.path(contour, LineStyle::Outline);
    }
    for edge in &page.figures.edges {
        edge_mark(canvas, page, edge, &projection);
    }
    nine_points(canvas, page, picture, &projection);
}

/// A cut-out is crossed out, so that it is not taken for the brightest place.
fn crossed_out(canvas: &mut Canvas, id: &str, contour: &[Segment], projection: &Projection) {
    let points = projection.flattened(contour);
    let low = points
        .iter()
        .fold(Point::new(f64::INFINITY, f64::INFINITY), |a, p| Point::new(a.x.min(p.x), a.y.min(p.y)));
    let high = points.iter().fold(Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY), |a, p| {
        Point::new(a.x.max(p.x), a.y.max(p.y))
    });
    canvas.open_clipped(id, &projection.data(contour, true));
    canvas.line(low, high, LineStyle::Narrow);
    canvas.line(Point::new(low.x, high.y), Point::new(high.x, low.y), LineStyle::Narrow);
    canvas.close();
}

/// The cells, runs of one shade in one piece. Cells just outside take the shade of their neighbours: the face's own
/// border clips them.
fn shades(canvas: &mut Canvas, picture: &LuminancePicture, projection: &Projection) {
    let (columns, rows) = (picture.columns, picture.rows);
    let side = picture.step_mm * projection.factor;
    let value = |column: usize, row: usize| {
        let around = [(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1), (1, -1), (-1, 1)];
        around.into_iter().find_map(|(dx, dy): (isize, isize)| {
            let (x, y) = (column.checked_add_signed(dx)?, row.checked_add_signed(dy)?);
            if x < columns && y < rows { picture.cells[y * columns + x] } else { None }
        })
    };
    for row in 0..rows {
        let shades: Vec<Option<u8>> = (0..columns).map(|column| value(column, row).map(grey)).collect();
        let mut column = 0;
        while column < columns {
            let run = shades[column..].iter().take_while(|s| **s == shades[column]).count();
            if let Some(shade) = shades[column] {
                let first = Point::new(column as f64 * picture.step_mm, row as f64 * picture.step_mm);
                let middle = projection.point(picture.first + first);
                // Half a cell more at the ends, and a hair over the neighbours, so that no gap shows between them.
                canvas.shade(
                    Area {
                        left: middle.x - 0.5 * side - if column == 0 { side } else { 0.05 },
                        top: middle.y - 0.5 * side - if row + 1 == rows { side } else { 0.05 },
                        right: middle.x
                            + (run as f64 - 0.5) * side
                            + if column + run == columns { side } else { 0.05 },
                        bottom: middle.y + 0.5 * side + if row == 0 { side } else { 0.05 },
                    },
                    shade,
                );
            }
            column += run;
        }
    }
}

/// Lines of equal luminance as path data: marching squares between the cells' centres.
fn level_lines(picture: &LuminancePicture, level: f64, projection: &Projection) -> String {
    let mut data = String::new();
    let columns = picture.columns;
    for row in 0..picture.rows.saturating_sub(1) {
        for column in 0..columns.saturating_sub(1) {
            let corners = [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(dx, dy)| {
                let (x, y) = (column + dx, row + dy);
                let offset = Point::new(x as f64 * picture.step_mm, y as f64 * picture.step_mm);
                picture.cells[y * columns + x].map(|v| (projection.point(picture.first + offset), v))
            });
            let [Some(a), Some(b), Some(c), Some(d)] = corners else { continue };
            let ring = [a, b, c, d, a];
            let crossings: Vec<Point> = ring
                .windows(2)
                .filter(|w| (w[0].1 < level) != (w[1].1 < level))
                .map(|w| w[0].0.towards(w[1].0, (level - w[0].1) / (w[1].1 - w[0].1)))
                .collect();
            // Two crossings, or four on a saddle: taken in pairs along the ring.
            for pair in crossings.chunks_exact(2) {
                let _ = write!(
                    data,
                    "M{} {}L{} {}",
                    number(pair[0].x),
                    number(pair[0].y),
                    number(pair[1].x),
                    number(pair[1].y)
                );
            }
        }
    }
    data
}

/// The line of a lit edge outside the face, and the edge's number.
fn edge_mark(canvas: &mut Canvas, page: &LightPage<'_>, edge: &Edge, projection: &Projection) {
    let lit = page.lit_edges.contains(&edge.number);
    let points = projection.flattened(&edge.segments);
    let outward: Vec<Point> = (0..points.len())
        .map(|i| {
            let way = (points[(i + 1).min(points.len() - 1)] - points[i.saturating_sub(1)]).unit();
            // Counter-clockwise on the panel; the page's y points down.
            Point::new(-way.y, way.x)
        })
        .collect();
    if lit {
        let line: Vec<Point> = points.iter().zip(&outward).map(|(p, o)| *p + *o * LIT_OFF_MM).collect();
        canvas.polyline(&line, LineStyle::Lit);
    }
    if !lit && page.figures.edges.len() > MOST_NUMBERED {
        return;
    }
    let length: f64 = points.windows(2).map(|p| p[0].distance(p[1])).sum();
    let mut left = 0.5 * length;
    let middle = points.windows(2).enumerate().find_map(|(i, pair)| {
        let step = pair[0].distance(pair[1]);
        if step >= left && step > 0.0 {
            return Some(pair[0].towards(pair[1], left / step) + outward[i] * NUMBER_OFF_MM);
        }
        left -= step;
        None
    });
    let Some(middle) = middle else { return };
    let text = edge.number.to_string();
    let radius = NUMBER_RADIUS_MM.max(width_mm(&text, SMALL_BOLD) / 2.0 + 0.5);
    let baseline = middle + Point::new(0.0, SMALL_BOLD.size_mm * CAPITALS / 2.0);
    if lit {
        canvas.disc(middle, radius);
        canvas.write_white(&text, baseline, Anchor::Middle, SMALL_BOLD);
    } else {
        canvas.circle(middle, radius, LineStyle::Narrow);
        canvas.write(&text, baseline, Anchor::Middle, SMALL_BOLD, Reading::Level);
    }
}

/// The nine numbers where they belong; beneath the face where it is too narrow for them.
fn nine_points(
    canvas: &mut Canvas,
    page: &LightPage<'_>,
    picture: &LuminancePicture,
    projection: &Projection,
) {
    let (width, height) = (page.figures.width_mm, page.figures.height_mm);
    let place = |i: usize| projection.point(picture.nine_places[i]);
    let seen = || picture.nine_points.iter().flatten().copied();
    let (least, greatest) = (seen().fold(f64::INFINITY, f64::min), seen().fold(0.0, f64::max));
    let (box_width, box_height) = NUMBER_BOX_MM;
    let narrow = width * projection.factor / 3.0 < box_width + 0.6
        || height * projection.factor / 3.0 < box_height + 0.6;
    if narrow {
        // Row by row from above.
        let row = |r: usize| {
            let values =
                (3 * r..3 * r + 3).map(|i| picture.nine_points[i].map_or("–".into(), |v| trimmed(v, 2)));
            values.collect::<Vec<_>>().join("  ")
        };
        let text = format!("nine points, upper row first: {} / {} / {}", row(2), row(1), row(0));
        let at =
            Point::new(projection.origin.x, projection.origin.y + NUMBER_OFF_MM + NUMBER_RADIUS_MM + 3.5);
        canvas.write(&text, at, Anchor::Start, SMALL, Reading::Level);
    }
    for (i, value) in picture.nine_points.iter().enumerate() {
        let (Some(value), middle) = (value, place(i)) else { continue };
        if narrow {
            canvas.shade_disc(middle, 0.9, 255);
            canvas.disc(middle, 0.5);
            continue;
        }
        let area = Area::new(middle.x - box_width / 2.0, middle.y - box_height / 2.0, box_width, box_height);
        let baseline = middle + Point::new(0.0, SMALL.size_mm * CAPITALS / 2.0);
        let text = format!("{value:.2}");
        if *value < least + SAME && greatest - least > SAME {
            canvas.shade(area, 0);
            canvas.write_white(&text, baseline, Anchor::Middle, SMALL_BOLD);
            continue;
        }
        canvas.shade(area, 255);
        canvas.rectangle(area, LineStyle::Rule);
        let lettering = if *value > greatest - SAME && greatest - least > SAME { SMALL_BOLD } else { SMALL };
        canvas.write(&text, baseline, Anchor::Middle, lettering, Reading::Level);
    }
}

/// The scale of shades from 0 to 1 of the brightest place.
fn key(canvas: &mut Canvas) {
    let bar = Area { left: MARGIN_MM, top: 243.0, right: PAGE.right - MARGIN_MM, bottom: 248.0 };
    let heading = Point::new(MARGIN_MM, bar.top - 1.6);
    canvas.write(
        "Luminance as a share of the brightest place",
        heading,
        Anchor::Start,
        SMALL_BOLD,
        Reading::Level,
    );
    let steps = 100;
    let width = bar.width() / f64::from(steps);
    for i in 0..steps {
        let left = bar.left + f64::from(i) * width;
        let right = if i + 1 == steps { bar.right } else { left + width + 0.05 };
        canvas.shade(Area { left, right, ..bar }, grey((f64::from(i) + 0.5) / f64::from(steps)));
    }
    canvas.rectangle(bar, LineStyle::Narrow);
    for tenth in 0..=10 {
        let x = bar.left + bar.width() * f64::from(tenth) / 10.0;
        canvas.line(Point::new(x, bar.bottom), Point::new(x, bar.bottom + 1.2), LineStyle::Narrow);
        let text = trimmed(f64::from(tenth) / 10.0, 1);
        canvas.write(&text, Point::new(x, bar.bottom + 4.2), Anchor::Middle, SMALL, Reading::Level);
    }
    let words = "Fine lines: steps of 0.1. White on black: the least of the nine points; bold: the greatest. Black bars \
                 and numbers: lit edges.";
    canvas.write(words, Point::new(MARGIN_MM, bar.bottom + 9.0), Anchor::Start, SMALL, Reading::Level);
}

fn foot(canvas: &mut Canvas, page: &LightPage<'_>) {
    let width = PAGE.right - 2.0 * MARGIN_MM;
    let mut sentences: Vec<String> = Vec::new();
    if let Some(advice) = page.advice {
        sentences.push(format!("{} {}", advice.advice, advice.reason));
    }
    if let Some((at, why)) = page.pictures.iter().find_map(|(_, p)| p.dark) {
        sentences.push(format!(
            "Dark, 0.00: at x {} mm, y {} mm of the drawing {why}.",
            trimmed(at.x, 0),
            trimmed(at.y, 0)
        ));
    }
    sentences.push(
        "Not in the model: spread within the guide, scatter, and what the stone itself evens out. Try it over a lit \
         panel before you choose."
            .into(),
    );
    let mut y = 263.0;
    for (i, sentence) in sentences.iter().enumerate() {
        let lettering = if i == 0 && page.advice.is_some() { SMALL_BOLD } else { SMALL };
        for line in wrapped(&printable(sentence), lettering, width) {
            canvas.write(&line, Point::new(MARGIN_MM, y), Anchor::Start, lettering, Reading::Level);
            y += LEADING * SMALL.size_mm;
        }
        y += 1.0;
    }
    let at = Point::new(PAGE.right - MARGIN_MM, 286.0);
    let drawn = format!("Drawn with {}", drawn_with());
    canvas.write(&drawn, at, Anchor::End, SMALL, Reading::Level);
}

#[cfg(test)]
mod tests {
    use super::grey;

    #[test]
    fn shades_step_evenly_for_the_eye() {
        // CIE 1976 lightness of 18.42 % is 50; the sRGB grey of that is 119 (both from memory, tables agree).
        assert_eq!((grey(0.0), grey(0.184_187), grey(1.0)), (0, 119, 255));
        let shades: Vec<u8> = (0..=1000).map(|i| grey(f64::from(i) / 1000.0)).collect();
        assert!(shades.windows(2).all(|w| w[0] <= w[1]), "brighter is never darker");
    }
}

//! Composes a drawing sheet: the paper, the scale, the view, the tables and what spills onto further sheets.

use crate::shape::Point;
use crate::units::DisplayUnits;

use super::canvas::{Anchor, Canvas, Placed, Reading};
use super::content;
use super::error::SheetError;
use super::export::{self, About};
use super::frame::draw_frame;
use super::ink::{LEADING, LineStyle, MARKER};
use super::input::SheetInput;
use super::lettering::{UNPRINTABLE, fitted, printable};
use super::paper::{Area, Page, Paper};
use super::scale::Scale;
use super::sign_off;
use super::tables::{Region, Settable, Table, flow, flow_whole, in_reading_order};
use super::title_block::{TITLE_BLOCK_HEIGHT_MM, TITLE_BLOCK_WIDTH_MM};
use super::view::{CutOut, View, draw_view};

/// A drawn sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The first sheet, with the view.
    pub svg: String,
    /// Further sheets, where tables or notes spill; mostly none.
    pub further_svgs: Vec<String>,
    /// All sheets as one PDF.
    pub pdf: Vec<u8>,
    /// The scale of the view.
    pub scale: Scale,
    /// The paper and how it lies.
    pub page: Page,
    /// Every text of every sheet with the box that it takes, in millimetres.
    pub texts: Vec<Vec<Placed>>,
    /// The box of the panel in the view, in millimetres on the first sheet.
    pub panel: Area,
    /// What a person should know about the sheet: a larger paper taken, labels without room.
    pub remarks: Vec<String>,
}

impl Sheet {
    /// The first sheet as PNG at so many dots an inch.
    ///
    /// # Errors
    /// [`SheetError::Export`] where the resolution is not within 20 to 600.
    pub fn png(&self, dots_per_inch: f64) -> Result<Vec<u8>, SheetError> {
        export::png(&self.svg, dots_per_inch)
    }

    /// Every sheet as SVG, the first with the view.
    pub fn svgs(&self) -> impl Iterator<Item = &str> {
        std::iter::once(&self.svg).chain(&self.further_svgs).map(String::as_str)
    }
}

/// Where the view and the tables stand on the first sheet.
#[derive(Clone, Debug)]
struct Layout {
    page: Page,
    view: Area,
    regions: Vec<Region>,
}

struct Attempt {
    layout: Layout,
    scale: Scale,
    view: View,
    pages: Vec<Canvas>,
}

/// Space between the parts of a sheet, in millimetres.
const BETWEEN_MM: f64 = 3.0;

/// Draws a panel's sheet.
///
/// The scale is the largest standard one that fits; the paper is the given one, or the next larger of its family
/// where labels would find no room. The same input and version give the same bytes.
///
/// # Errors
/// Where the outline has no extent, a lit edge does not exist, the sheet's number is wrong, or the panel is too
/// large for the largest paper at the smallest scale.
pub fn draw(input: &SheetInput) -> Result<Sheet, SheetError> {
    check(input)?;
    let cutouts: Vec<CutOut> = input.outline.cutouts.iter().map(CutOut::of).collect();
    let mut best: Option<Attempt> = None;
    let mut paper = Some(input.paper);
    let mut last = input.paper;
    while let Some(size) = paper {
        last = size;
        if let Some(attempt) = on_paper(input, &cutouts, size) {
            let fewer = best.as_ref().is_none_or(|b| attempt.view.omissions.len() < b.view.omissions.len());
            if fewer {
                best = Some(attempt);
            }
        }
        if best.as_ref().is_some_and(|b| b.view.omissions.is_empty()) {
            break;
        }
        paper = size.larger();
    }
    let Some(attempt) = best else {
        let (width_mm, height_mm) = (input.figures.width_mm, input.figures.height_mm);
        return Err(SheetError::TooLarge { width_mm, height_mm, paper: last });
    };
    finish(input, attempt)
}

fn check(input: &SheetInput) -> Result<(), SheetError> {
    let f = &input.figures;
    let sound = |mm: f64| mm.is_finite() && mm > 0.0;
    if !(sound(f.width_mm) && sound(f.height_mm) && f.lower_left.is_finite()) {
        return Err(SheetError::NothingToDraw);
    }
    let edges = f.edges.len();
    if let Some(&number) = input.lit_edges.iter().find(|n| !f.edges.iter().any(|e| e.number == **n)) {
        return Err(SheetError::NoSuchEdge { number, edges });
    }
    let (number, count) = (input.sheet_number, input.sheet_count);
    if number == 0 || number > count {
        return Err(SheetError::SheetNumber { number, count });
    }
    Ok(())
}

/// The best sheet on one size of paper.
///
/// Fewest labels without room first. Then a single sheet whose view is of a good size; else the largest scale,
/// on the fewest sheets.
fn on_paper(input: &SheetInput, cutouts: &[CutOut], paper: Paper) -> Option<Attempt> {
    let mut best: Option<((usize, bool, Scale, usize), Attempt)> = None;
    let usual = tables(input, cutouts, None);
    for layout in layouts(input, paper, &usual) {
        for scale in Scale::standard(input.units) {
            let Some(view) = draw_view(input, cutouts, layout.view, scale) else { continue };
            let frame = layout.page.frame();
            let large =
                view.panel.width() >= 0.38 * frame.width() || view.panel.height() >= 0.38 * frame.height();
            let plain = view.omissions.is_empty() && !view.needs_corner_table;
            let own = if plain { Vec::new() } else { tables(input, cutouts, Some(&view)) };
            let pages = compose(input, &layout, scale, &view, if plain { &usual } else { &own });
            let single = pages.len() == 1;
            let rank = (view.omissions.len(), !(single && large), scale, pages.len());
            let complete = view.omissions.is_empty();
            if best.as_ref().is_none_or(|(r, _)| rank < *r) {
                best = Some((rank, Attempt { layout: layout.clone(), scale, view, pages }));
            }
            // A smaller scale on the same layout can only be better where labels found no room.
            if complete {
                break;
            }
        }
    }
    best.map(|(_, attempt)| attempt)
}

fn tables(input: &SheetInput, cutouts: &[CutOut], view: Option<&View>) -> Vec<Settable> {
    let mut notes = input.notes.clone();
    let block = content::title_block(input, None, String::new(), "");
    notes.extend(block.overflow().into_iter().map(|o| format!("{}: {}", o.field, o.text)));
    notes.extend(sign_off::overflow(&input.approvals, 60.0));
    if let Some(view) = view.filter(|v| !v.omissions.is_empty()) {
        notes
            .push(format!("Left to the tables for want of room on the view: {}.", view.omissions.join("; ")));
    }
    if content::has_unprintable(input) {
        notes.push(format!("{UNPRINTABLE} stands for a character that the font of this drawing lacks."));
    }
    if let Some(marker) = input.marker.as_ref().filter(|m| marker_set(m, 150.0).is_none()) {
        notes.push(printable(marker));
    }
    let mut tables = vec![content::panel_table(input), content::edge_table(input)];
    if view.is_some_and(|v| v.needs_corner_table) {
        tables.push(content::corner_table(input));
    }
    tables.push(content::cutout_table(input, cutouts));
    tables.push(content::seam_table(input));
    tables.push(Table::numbered("Cautions", &input.cautions));
    tables.push(Table::numbered("Notes", &notes));
    tables.into_iter().map(Settable::from).collect()
}

/// The ways to divide the first sheet, the simplest first.
fn layouts(input: &SheetInput, paper: Paper, tables: &[Settable]) -> Vec<Layout> {
    let mut layouts = Vec::new();
    for standing in [false, true] {
        if standing && !paper.may_stand() {
            continue;
        }
        let page = Page { paper, standing };
        let frame = page.frame();
        let marker = if input.marker.is_some() { marker_height(input, frame.width()) } else { 0.0 };
        let mut space = frame;
        space.top += marker;
        space.bottom -= TITLE_BLOCK_HEIGHT_MM;
        // Beside the title block, where it leaves room.
        let beside = Area {
            left: frame.left + BETWEEN_MM,
            top: space.bottom + 1.0,
            right: frame.right - TITLE_BLOCK_WIDTH_MM - BETWEEN_MM,
            bottom: frame.bottom - 1.0,
        };
        let mut regions = Vec::new();
        if beside.width() >= 60.0 {
            regions.push(Region::new(beside));
        } else {
            let height = sign_off::height_mm(input.approvals.len(), frame.width() - 2.0 * BETWEEN_MM);
            let height = height.min(0.3 * frame.height());
            if height > 0.0 {
                let strip = Area {
                    left: frame.left + BETWEEN_MM,
                    right: frame.right - BETWEEN_MM,
                    top: space.bottom - height,
                    bottom: space.bottom,
                };
                regions.push(Region::new(strip));
                space.bottom -= height;
            }
        }
        let column = (0.27 * frame.width()).clamp(74.0, 105.0);
        if !standing {
            let mut with_column = regions.clone();
            with_column.push(Region::new(Area {
                left: space.right - column,
                top: space.top + 1.5,
                right: space.right - BETWEEN_MM,
                bottom: space.bottom - 1.0,
            }));
            let view = Area { right: space.right - column - BETWEEN_MM, ..space };
            layouts.push(Layout { page, view, regions: with_column });
        }
        for whole in [true, false] {
            if let Some((top, columns)) = band(input, &regions, space, tables, whole) {
                let mut with_band = regions.clone();
                with_band.extend(columns);
                layouts.push(Layout { page, view: Area { bottom: top, ..space }, regions: with_band });
            }
        }
        layouts.push(Layout { page, view: space, regions });
    }
    layouts
}

/// The lowest band of columns across the sheet that holds all tables, each whole where that is asked: where it
/// begins, and its columns.
fn band(
    input: &SheetInput,
    regions: &[Region],
    space: Area,
    tables: &[Settable],
    whole: bool,
) -> Option<(f64, Vec<Region>)> {
    let count = (space.width() / 84.0).floor().max(1.0);
    let width = (space.width() - BETWEEN_MM * (count + 1.0)) / count;
    let mut height = 20.0;
    while height < 0.55 * space.height() {
        let top = space.bottom - height;
        let columns: Vec<Region> = (0..count as usize)
            .map(|i| {
                let left = space.left + BETWEEN_MM + (width + BETWEEN_MM) * i as f64;
                Region::new(Area { left, top, right: left + width, bottom: space.bottom - 1.0 })
            })
            .collect();
        let mut trial: Vec<Region> = regions.iter().chain(&columns).copied().collect();
        let mut canvas = Canvas::new(space, "");
        let signed = sign_off::draw(&mut canvas, &input.approvals, &mut trial);
        in_reading_order(&mut trial);
        let rest = match whole {
            true => flow_whole(&mut canvas, tables, &mut trial),
            false => flow(&mut canvas, tables, &mut trial),
        };
        if signed == input.approvals.len() && rest.is_empty() {
            return Some((top, columns));
        }
        height += 4.0;
    }
    None
}

/// All pages: the first with the view, further ones with what spills.
fn compose(
    input: &SheetInput,
    layout: &Layout,
    scale: Scale,
    view: &View,
    tables: &[Settable],
) -> Vec<Canvas> {
    let title = format!("{} – {}", input.identification, input.title);
    let mut first = Canvas::new(layout.page.area(), &title);
    let frame = draw_frame(&mut first, layout.page);
    marker(&mut first, input, frame);
    first.append(&view.canvas);
    let mut regions = layout.regions.clone();
    let mut signed = sign_off::draw(&mut first, &input.approvals, &mut regions);
    in_reading_order(&mut regions);
    first.open("tables");
    let mut rest = flow(&mut first, tables, &mut regions);
    first.close();
    let mut pages = vec![first];
    while signed < input.approvals.len() || !rest.is_empty() {
        let mut page = Canvas::new(layout.page.area(), &title);
        let frame = draw_frame(&mut page, layout.page);
        let top = frame.top + marker(&mut page, input, frame) + 1.5;
        let bottom = frame.bottom - TITLE_BLOCK_HEIGHT_MM - BETWEEN_MM;
        let count = (frame.width() / 125.0).floor().max(1.0);
        let width = (frame.width() - BETWEEN_MM * (count + 1.0)) / count;
        let mut regions: Vec<Region> = (0..count as usize)
            .map(|i| {
                let left = frame.left + BETWEEN_MM + (width + BETWEEN_MM) * i as f64;
                Region::new(Area { left, top, right: left + width, bottom })
            })
            .collect();
        signed += sign_off::draw(&mut page, &input.approvals[signed..], &mut regions);
        in_reading_order(&mut regions);
        page.open("tables");
        rest = flow(&mut page, &rest, &mut regions);
        page.close();
        pages.push(page);
    }
    let count = input.sheet_count as usize + pages.len() - 1;
    for (i, page) in pages.iter_mut().enumerate() {
        let sheet = format!("{}/{count}", input.sheet_number as usize + i);
        let scale = (i == 0).then_some(scale);
        content::title_block(input, scale, sheet, layout.page.paper.name()).draw(
            page,
            frame.right,
            frame.bottom,
        );
    }
    pages
}

fn marker_set(text: &str, width: f64) -> Option<super::lettering::Fitted> {
    fitted(&printable(text), MARKER, 2.5, width - 6.0, 14.0)
}

fn marker_height(input: &SheetInput, width: f64) -> f64 {
    let set = input.marker.as_ref().and_then(|text| marker_set(text, width));
    set.map_or(9.0, |s| s.height_mm() + 2.5)
}

/// Draws the marker across the top of the frame and returns its height.
fn marker(canvas: &mut Canvas, input: &SheetInput, frame: Area) -> f64 {
    let Some(text) = &input.marker else { return 0.0 };
    let height = marker_height(input, frame.width());
    let place = Area { bottom: frame.top + height, ..frame };
    canvas.open("marker");
    canvas.rectangle(place, LineStyle::Lit);
    let (lines, lettering) = match marker_set(text, frame.width()) {
        Some(set) => (set.lines, set.lettering),
        None => (vec!["SEE NOTES".into()], MARKER),
    };
    let mut y = place.top + 1.25 + lettering.size_mm * (LEADING + 0.71) / 2.0;
    for line in &lines {
        let at = Point::new((place.left + place.right) / 2.0, y);
        canvas.write(line, at, Anchor::Middle, lettering, Reading::Level);
        y += lettering.size_mm * LEADING;
    }
    canvas.close();
    height
}

fn finish(input: &SheetInput, attempt: Attempt) -> Result<Sheet, SheetError> {
    let page = attempt.layout.page;
    if let Some(what) = off_the_sheet(input, &attempt) {
        return Err(SheetError::OffTheSheet { what });
    }
    let svgs: Vec<String> = attempt.pages.iter().map(Canvas::svg).collect();
    let size = (page.area().width(), page.area().height());
    let about = About {
        title: format!("{} – {}", input.identification, input.title),
        author: input.creator.clone(),
        language: input.language.clone(),
        drawn_with: content::drawn_with(),
        content: input.outline_digest.hex(),
    };
    let pages: Vec<(&str, (f64, f64))> = svgs.iter().map(|svg| (svg.as_str(), size)).collect();
    let pdf = export::pdf(&pages, &about)?;
    let mut remarks = Vec::new();
    if page.paper != input.paper {
        remarks.push(format!("drawn on {}: {} cannot hold it", page.paper.name(), input.paper.name()));
    }
    remarks.extend(attempt.view.omissions.iter().map(|o| format!("left to the tables: {o}")));
    if content::has_unprintable(input) {
        remarks.push(format!("characters that the font lacks are shown as {UNPRINTABLE}"));
    }
    let mut svgs = svgs.into_iter();
    Ok(Sheet {
        svg: svgs.next().unwrap_or_default(),
        further_svgs: svgs.collect(),
        pdf,
        scale: attempt.scale,
        page,
        texts: attempt.pages.iter().map(|p| p.texts().to_vec()).collect(),
        panel: attempt.view.panel,
        remarks,
    })
}

/// How far a chord may stand off its curve, on paper in millimetres: a place is off the sheet beyond that.
const SLACK_MM: f64 = 0.1;

/// What would be drawn outside its place, by the lines and texts themselves and not by what was worked out of them; none
/// where all is well.
fn off_the_sheet(input: &SheetInput, attempt: &Attempt) -> Option<String> {
    let f = &input.figures;
    let own = |low: f64, size: f64| (low, low + size);
    let measured = (own(f.lower_left.x, f.width_mm), own(f.lower_left.y, f.height_mm));
    if let Some(at) = input.outline.outside(measured) {
        return Some(format!(
            "the outline reaches ({:.3}, {:.3}) mm, outside the box of {:.3} × {:.3} mm that it was measured to have",
            at.x, at.y, f.width_mm, f.height_mm
        ));
    }
    let (panel, view) = (&attempt.view.panel, &attempt.layout.view);
    let sides = [(panel.width(), f.width_mm), (panel.height(), f.height_mm)];
    let to_scale =
        sides.iter().all(|(drawn, true_mm)| (drawn * attempt.scale.reduction() - true_mm).abs() <= 1e-3);
    if !(view.grown(SLACK_MM).holds(panel) && to_scale) {
        return Some("the panel leaves the place of the view".into());
    }
    let whole = attempt.layout.page.area();
    let text = attempt.pages.iter().flat_map(Canvas::texts).find(|t| !whole.holds(&t.area));
    text.map(|t| format!("the text `{}` leaves the paper", t.text))
}

/// The paper that a book in these units most likely prints on.
#[must_use]
pub fn usual_paper(units: DisplayUnits) -> Paper {
    match units {
        DisplayUnits::Mm => Paper::A4,
        DisplayUnits::In => Paper::Letter,
    }
}

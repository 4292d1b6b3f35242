//! What the tables, notes and title block of a drawing sheet say.

use crate::shape::{Contour, EdgeKind, Point, Segment, ShapeClass};
use crate::units::{DisplayUnits, MM_PER_INCH, Metres, Millimetres, trimmed};

use super::canvas::Anchor;
use super::input::SheetInput;
use super::lettering::{UNPRINTABLE, printable};
use super::scale::{Measure, Scale, units_in_words};
use super::tables::{Column, Table};
use super::title_block::TitleBlock;
use super::view::{CutOut, letters};

/// The program that drew, and its version.
#[must_use]
pub fn drawn_with() -> String {
    format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION"))
}

pub(super) fn title_block(
    input: &SheetInput,
    scale: Option<Scale>,
    sheet: String,
    paper: &str,
) -> TitleBlock {
    let named = |name: &str, role: &str| match name.is_empty() {
        true => role.to_string(),
        false => format!("{name} ({role})"),
    };
    TitleBlock {
        legal_owner: input.legal_owner.clone(),
        title: input.title.clone(),
        identification: input.identification.clone(),
        revision: input.revision.clone(),
        date_of_issue: input.date_of_issue.clone(),
        language: input.language.clone(),
        sheet,
        creator: input.creator.clone(),
        approved_by: input.approvals.iter().map(|a| named(&a.name, &a.role)).collect::<Vec<_>>().join(", "),
        document_type: input.document_type.clone(),
        status: input.status.clone(),
        project: input.project.clone(),
        client: input.client.clone(),
        scale: scale.map(|s| s.to_string()).unwrap_or_default(),
        paper: paper.into(),
        units: units_in_words(input.units).into(),
        tolerance: input.tolerance.clone(),
        foot: format!("Outline SHA-256 {}…   Drawn with {}", input.outline_digest.short(), drawn_with()),
    }
}

/// What the panel is.
pub(super) fn panel_table(input: &SheetInput) -> Table {
    let f = &input.figures;
    let show = |mm: f64| Measure::of(mm, input.units).both();
    let lit: f64 = f.edges.iter().filter(|e| input.lit_edges.contains(&e.number)).map(|e| e.length_mm).sum();
    let lit_edges = match input.lit_edges.is_empty() {
        true => "none".to_string(),
        // The edges' own lengths: tape is cut at its marks, and how long it comes out is the build pack's to say.
        false => format!("{}; {} in all", list(&input.lit_edges), run_of_edge(lit, input.units)),
    };
    let thickness = input.stone_thickness.map(|Millimetres(t)| format!(", {} thick", show(t)));
    let mut rows: Vec<(&str, String)> = vec![
        ("Stone", format!("{}{}", input.stone, thickness.unwrap_or_default())),
        (
            "Light",
            [input.light.word(), &input.cct]
                .into_iter()
                .filter(|t| !t.is_empty())
                .collect::<Vec<_>>()
                .join(", "),
        ),
        ("Face", input.face.word().into()),
        ("Lit edges", lit_edges),
        ("Mount", input.mount.clone()),
    ];
    rows.extend(input.more.iter().map(|(name, text)| (name.as_str(), text.clone())));
    rows.extend([
        ("Shape", f.shape.word().into()),
        ("Area", format!("{} net of cut-outs", area_in_words(f.area_mm2, input.units))),
        ("Cut length", show(f.cut_length_mm)),
    ]);
    if let Some(radius) = f.least_inside_radius_mm {
        rows.push(("Least inside radius", show(radius)));
    }
    if !input.seams.is_empty() {
        rows.push(("Seams", input.seams.len().to_string()));
    }
    Table {
        heading: "Panel".into(),
        columns: vec![Column::words(""), Column::sentences("")],
        rows: rows.into_iter().map(|(name, text)| vec![name.to_string(), text]).collect(),
    }
}

/// Millimetres in one foot.
const MM_PER_FOOT: f64 = 12.0 * MM_PER_INCH;

fn run_of_edge(length_mm: f64, units: DisplayUnits) -> String {
    let (metres, feet) = (Metres(length_mm / 1000.0), trimmed(length_mm / MM_PER_FOOT, 2));
    match units {
        DisplayUnits::Mm => format!("{metres} [{feet} ft]"),
        DisplayUnits::In => format!("{feet} ft [{metres}]"),
    }
}

fn area_in_words(area_mm2: f64, units: DisplayUnits) -> String {
    let (metres, feet) = (trimmed(area_mm2 / 1e6, 3), trimmed(area_mm2 / (MM_PER_FOOT * MM_PER_FOOT), 2));
    match units {
        DisplayUnits::Mm => format!("{metres} m² [{feet} ft²]"),
        DisplayUnits::In => format!("{feet} ft² [{metres} m²]"),
    }
}

fn list(numbers: &[usize]) -> String {
    let mut numbers = numbers.to_vec();
    numbers.sort_unstable();
    numbers.dedup();
    numbers.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")
}

pub(super) fn edge_table(input: &SheetInput) -> Table {
    let show = |mm: f64| Measure::of(mm, input.units).both();
    Table {
        heading: "Edges of the panel, counter-clockwise".into(),
        columns: vec![
            Column::numbers("No."),
            Column::words("Kind"),
            Column::numbers("Length"),
            Column::numbers("Radius"),
            Column { anchor: Anchor::Middle, ..Column::words("Lit") },
        ],
        rows: input
            .figures
            .edges
            .iter()
            .map(|edge| {
                let radius = match (edge.kind, edge.least_radius_mm) {
                    (EdgeKind::Arc | EdgeKind::Circle, Some(r)) => show(r),
                    (_, Some(r)) => format!("≥ {}", show(r)),
                    (_, None) => "–".into(),
                };
                let lit = if input.lit_edges.contains(&edge.number) { "LIT" } else { "–" };
                vec![
                    edge.number.to_string(),
                    edge.kind.word().replace('-', " "),
                    show(edge.length_mm),
                    radius,
                    lit.into(),
                ]
            })
            .collect(),
    }
}

pub(super) fn corner_table(input: &SheetInput) -> Table {
    let show = |mm: f64| Measure::of(mm, input.units).both();
    Table {
        heading: "Starts of the edges, from 0 at the lower left".into(),
        columns: vec![Column::numbers("Edge"), Column::numbers("x"), Column::numbers("y")],
        rows: input
            .figures
            .edges
            .iter()
            .map(|edge| {
                let p = edge.start() - input.figures.lower_left;
                vec![edge.number.to_string(), show(p.x), show(p.y)]
            })
            .collect(),
    }
}

pub(super) fn cutout_table(input: &SheetInput, cutouts: &[CutOut]) -> Table {
    let show = |mm: f64| Measure::of(mm, input.units).both();
    Table {
        heading: "Cut-outs, centres from 0 at the lower left".into(),
        columns: vec![
            Column::words(""),
            Column::words("Kind"),
            Column::numbers("Size"),
            Column::numbers("Centre x"),
            Column::numbers("Centre y"),
        ],
        rows: cutouts
            .iter()
            .zip(&input.outline.cutouts)
            .enumerate()
            .map(|(i, (cutout, contour))| {
                let size = cutout.size(input.units);
                let centre = cutout.centre - input.figures.lower_left;
                let kind = match cutout.shape {
                    ShapeClass::Circle => "round",
                    _ if is_oval(contour) => "oval",
                    shape => shape.word(),
                };
                vec![letters(i), kind.into(), size.both(), show(centre.x), show(centre.y)]
            })
            .collect(),
    }
}

/// True for one whole ellipse.
fn is_oval(contour: &Contour) -> bool {
    matches!(&contour.segments[..], [Segment::Ellipse(e)] if e.is_whole())
}

pub(super) fn seam_table(input: &SheetInput) -> Table {
    let place = |p: Point| {
        let p = p - input.figures.lower_left;
        Measure::pair(p, input.units)
    };
    Table {
        heading: "Seams, ends from 0 at the lower left".into(),
        columns: vec![
            Column::words(""),
            Column::words("From x, y"),
            Column::words("To x, y"),
            Column::numbers("Length"),
        ],
        rows: input
            .seams
            .iter()
            .enumerate()
            .map(|(i, &(from, to))| {
                let length = Measure::of(from.distance(to), input.units).both();
                vec![format!("S{}", i + 1), place(from), place(to), length]
            })
            .collect(),
    }
}

/// True where a text of the sheet holds a character that the font lacks.
pub(super) fn has_unprintable(input: &SheetInput) -> bool {
    let texts = [
        &input.legal_owner,
        &input.identification,
        &input.date_of_issue,
        &input.title,
        &input.creator,
        &input.document_type,
        &input.revision,
        &input.status,
        &input.language,
        &input.project,
        &input.client,
        &input.stone,
        &input.cct,
        &input.mount,
        &input.tolerance,
    ];
    let more = input.more.iter().map(|(_, text)| text);
    let marks = input.outline.marks.iter().filter_map(|m| m.text.as_ref());
    let approvals = input.approvals.iter().flat_map(|a| [&a.role, &a.name]);
    texts
        .into_iter()
        .chain(&input.notes)
        .chain(&input.cautions)
        .chain(&input.marker)
        .chain(more)
        .chain(marks)
        .chain(approvals)
        .any(|text| !text.contains(UNPRINTABLE) && printable(text).contains(UNPRINTABLE))
}

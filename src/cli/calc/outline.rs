//! `calc outline`: what a drawing measures, whether it fits a sheet, and how even its light would be.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::cli::drawing_args::{DrawingArgs, doubtful_size};
use crate::cli::failure::{Exit, Outcome};
use crate::cli::light_picture::{Asked, tell};
use crate::cli::printer::Printer;
use crate::cli::split;
use crate::fault::Fault;
use crate::ops::evenness::GuideSheet;
use crate::shape::{
    self, Edge, Figures, Outline, Sheet, SplitLimits, TapeLimits, figures, fit, narrow_places, to_dxf,
    to_json, to_svg,
};
use crate::size::Size;
use crate::trust::project::shape_fault;
use crate::units::{DisplayUnits, Millimetres, trimmed};
use crate::words::counted;

/// Measure an outline: shape, area, perimeter, smallest bounding rectangle, radii and edges.
///
/// Reads DXF, SVG and JSON. The perimeter is the outer contour's; the area is net of cut-outs. Edges are numbered from
/// 1, counter-clockwise from the lowest corner.
///
/// Example: underlit calc outline desk.dxf --unit mm --outline-layer PANEL --json
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The drawing: .dxf, .svg or .json.
    file: PathBuf,
    #[command(flatten)]
    drawing: DrawingArgs,
    /// The shortest edge that takes tape.
    #[arg(long, default_value = "0mm", value_name = "LENGTH")]
    tape_shortest: Millimetres,
    /// The smallest radius that tape bends to along an edge; without it, only straight edges take tape.
    #[arg(long, value_name = "LENGTH")]
    tape_bend_radius: Option<Millimetres>,
    /// A sheet to fit it on, like 2400mmx1200mm; where it does not fit, ways to split it are compared.
    #[arg(long, value_name = "SIZE")]
    sheet: Option<Size>,
    /// With --sheet: a piece narrower than this is a sliver.
    #[arg(long, default_value = "50mm", value_name = "LENGTH")]
    least_piece: Millimetres,
    /// With --sheet: how far seams stay from cut-outs.
    #[arg(long, default_value = "25mm", value_name = "LENGTH")]
    clear_of_cutouts: Millimetres,
    /// Warn where less material than this is left between two cut lines.
    #[arg(long, default_value = "10mm", value_name = "LENGTH")]
    least_web: Millimetres,
    /// Numbers of the edges to light, like 1,3: shows how even the light would be, by a model.
    #[arg(long, value_delimiter = ',', value_name = "EDGES")]
    lit: Vec<usize>,
    /// With --lit: the share of an edge's light that has come out 300 mm from it, in a guide of 8 mm.
    #[arg(long, default_value_t = 0.63, value_name = "SHARE")]
    extracted_share: f64,
    /// With --lit: how thick the guide is; a thinner one lets out more on the same way.
    #[arg(long, default_value = "8mm", value_name = "LENGTH")]
    guide_thickness: Millimetres,
    /// With --lit: draw the computed luminance over the face here, as .svg or .png.
    #[arg(long, value_name = "FILE", requires = "lit")]
    light_picture: Option<PathBuf>,
    /// Print the outline itself instead: dxf, svg or json.
    #[arg(long = "as", value_name = "FORMAT", value_parser = ["dxf", "svg", "json"])]
    as_format: Option<String>,
}

pub(crate) fn run(args: &Args, printer: &Printer, dry_run: bool) -> Outcome {
    let outline = drawing(args, printer, dry_run)?;
    if let Some(format) = &args.as_format {
        printer.raw(match format.as_str() {
            "dxf" => to_dxf(&outline),
            "svg" => to_svg(&outline),
            _ => to_json(&outline),
        });
        return Ok(Exit::Done);
    }
    let measured = figures(&outline);
    let limits = TapeLimits {
        shortest_mm: args.tape_shortest.0,
        least_bend_radius_mm: args.tape_bend_radius.map(|r| r.0),
    };
    let mut answer = measures(&measured, &limits);
    in_words(&measured, &limits, printer);
    let narrow = narrow_places(&outline, args.least_web.0);
    for place in &narrow {
        printer.line(format!("narrow           {}", place.in_words(DisplayUnits::Mm)));
    }
    answer["narrow"] = narrow
        .iter()
        .map(|n| json!({ "width_mm": n.width_mm, "at_mm": [n.at.x, n.at.y], "between": n.between }))
        .collect();
    (answer["fit"], answer["evenness"]) = (Value::Null, Value::Null);
    if let Some(Size { width, height }) = args.sheet {
        let sheet = Sheet { width_mm: width.0, height_mm: height.0 };
        answer["fit"] = fitting(&outline, sheet, &limits, args, printer)?;
    }
    if !args.lit.is_empty() {
        answer["evenness"] = {
            let title = args.file.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
            let asked = Asked {
                title: &title,
                lit: &args.lit,
                sheet: GuideSheet {
                    extracted_share: args.extracted_share,
                    thickness_mm: args.guide_thickness,
                },
                picture: args.light_picture.as_deref(),
                dry_run,
                record: None,
            };
            tell(&outline, &measured, &asked, printer)?
        };
    }
    printer.json(&answer);
    Ok(Exit::Done)
}

fn drawing(args: &Args, printer: &Printer, dry_run: bool) -> Result<Outline, Vec<Fault>> {
    let reading = args.drawing.read(&args.file, printer, dry_run)?;
    for remark in &reading.remarks {
        printer.remark(format!("{}: {remark}", args.file.display()));
    }
    if let Some(doubt) = doubtful_size(&reading.outline) {
        printer.remark(format!("{}: {doubt} Add --unit to say otherwise", args.file.display()));
    }
    Ok(reading.outline)
}

fn measures(figures: &Figures, limits: &TapeLimits) -> Value {
    let rectangle = &figures.least_rectangle;
    let edges: Vec<Value> = figures.edges.iter().map(|e| edge(e, limits)).collect();
    json!({
        "shape": figures.shape,
        "curved": figures.curved,
        "area_mm2": figures.area_mm2,
        "perimeter_mm": figures.perimeter_mm,
        "cut_length_mm": figures.cut_length_mm,
        "etch_length_mm": figures.etch_length_mm,
        "width_mm": figures.width_mm,
        "height_mm": figures.height_mm,
        "min_rect_mm": [rectangle.short_mm, rectangle.long_mm],
        "centroid_mm": [figures.centroid.x, figures.centroid.y],
        "cutouts": figures.cutouts,
        "min_radius_mm": figures.least_radius_mm(),
        "min_inside_radius_mm": figures.least_inside_radius_mm,
        "min_outside_radius_mm": figures.least_outside_radius_mm,
        "sharp_inside_corners": figures.sharp_inside_corners,
        "edges": edges,
    })
}

fn edge(edge: &Edge, limits: &TapeLimits) -> Value {
    json!({
        "number": edge.number,
        "kind": edge.kind,
        "straight": edge.is_straight(),
        "length_mm": edge.length_mm,
        "min_radius_mm": edge.least_radius_mm,
        "from_mm": [edge.start().x, edge.start().y],
        "to_mm": [edge.end().x, edge.end().y],
        "can_carry_tape": edge.can_carry_tape(limits),
    })
}

fn in_words(figures: &Figures, limits: &TapeLimits, printer: &Printer) {
    let mm = |value: f64| format!("{} mm", trimmed(value, 3));
    let rectangle = &figures.least_rectangle;
    let curved = if figures.curved { "curved: its drawing needs to be signed" } else { "not curved" };
    printer.line(format!("shape               {} ({curved})", figures.shape));
    printer.line(format!("area                {} mm² net", trimmed(figures.area_mm2, 3)));
    printer.line(format!("perimeter        {}", mm(figures.perimeter_mm)));
    printer.line(format!("cut length          {}", mm(figures.cut_length_mm)));
    printer.line(format!("size                {} × {}", mm(figures.width_mm), mm(figures.height_mm)));
    printer.line(format!("smallest rectangle  {} × {}", mm(rectangle.short_mm), mm(rectangle.long_mm)));
    printer.line(format!("cut-outs         {}", figures.cutouts));
    if let Some(radius) = figures.least_radius_mm() {
        printer.line(format!("smallest radius     {}", mm(radius)));
    }
    if figures.sharp_inside_corners > 0 {
        let corners = counted(figures.sharp_inside_corners, "corner", "corners");
        printer.line(format!("sharp inside        {corners}"));
    }
    for edge in &figures.edges {
        let tape = if edge.can_carry_tape(limits) { "takes tape" } else { "no tape" };
        let (kind, length) = (edge.kind.word(), mm(edge.length_mm));
        printer.line(format!("edge {:<3}            {kind:<14} {length:>16}  {tape}", edge.number));
    }
}

fn fitting(
    outline: &Outline,
    sheet: Sheet,
    tape: &TapeLimits,
    args: &Args,
    printer: &Printer,
) -> Result<Value, Vec<Fault>> {
    if let Some(place) = fit(&outline.outer, sheet) {
        printer.line(format!(
            "sheet               it fits, turned {}°",
            trimmed(place.turned_rad.to_degrees(), 1)
        ));
        return Ok(json!({ "fits": true, "turned_deg": place.turned_rad.to_degrees(), "splits": [] }));
    }
    let limits = SplitLimits {
        sheet,
        least_piece_mm: args.least_piece.0,
        clear_of_cutouts_mm: args.clear_of_cutouts.0,
        // Without a radius any edge may turn out to carry tape, as in `split` before a tape is chosen.
        tape: TapeLimits { least_bend_radius_mm: tape.least_bend_radius_mm.or(Some(0.0)), ..*tape },
        lit_edges: args.lit.clone(),
        most_pieces: 12,
    };
    let name = args.file.display().to_string();
    let options = shape::split(outline, &limits).map_err(|flaw| vec![shape_fault(&name, &flaw)])?;
    printer.line("sheet               it does not fit; ways to split it, best first:");
    for (number, option) in options.iter().enumerate() {
        split::tell(number + 1, option, DisplayUnits::Mm, printer);
    }
    if let Some(best) = options.first() {
        printer.line(format!("  to acknowledge: {}", best.acknowledgement()));
    }
    let splits: Vec<Value> = options.iter().map(split::option_json).collect();
    Ok(json!({ "fits": false, "turned_deg": null, "splits": splits }))
}

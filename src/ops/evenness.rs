//! How even the light of a panel would be for chosen edges: figures, advice and a page with the pictures. A model.

use std::path::Path;

use crate::fault::Fault;
use crate::shape::{
    Extraction, Figures, LightingChoice, LitEdgeAdvice, LuminancePicture, Outline, extraction_per_mm,
    lit_edge_advice, luminance_picture,
};
use crate::sheets::{self, LightPage, draw_light_page};
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;
use crate::units::Millimetres;

/// How many cells a picture has along the longer side of the face.
const POINTS_ALONG: usize = 60;
/// Dots an inch of a picture as PNG.
const DOTS_PER_INCH: f64 = 150.0;

/// The light guide's sheet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct GuideSheet {
    /// The share of an edge's light that has come out after 300 mm in a guide of 8 mm.
    pub extracted_share: f64,
    /// How thick it is.
    pub thickness_mm: Millimetres,
}

impl GuideSheet {
    /// A usual one: common practice, no source.
    pub(crate) const USUAL: GuideSheet = GuideSheet { extracted_share: 0.63, thickness_mm: Millimetres(8.0) };
}

/// What the model says of a choice of lit edges.
#[derive(Clone, Debug)]
pub(crate) struct Evenness {
    /// With constant extraction, then with graded.
    pub pictures: Vec<(Extraction, LuminancePicture)>,
    /// What common practice says of the choice; none where it has no objection.
    pub advice: Option<LitEdgeAdvice>,
}

/// Computes both pictures.
///
/// # Errors
/// `lit-edges`, where there is no such edge or the share is not between 0 and 1.
pub(crate) fn evenness(
    outline: &Outline,
    figures: &Figures,
    lit_edges: &[usize],
    sheet: GuideSheet,
) -> Result<Evenness, Fault> {
    let GuideSheet { extracted_share, thickness_mm } = sheet;
    let refuse = |message: String, remedy: String| Err(Fault::usage("lit-edges", message).fix(remedy));
    let count = figures.edges.len();
    if let Some(unknown) = lit_edges.iter().find(|n| !figures.edges.iter().any(|e| e.number == **n)) {
        return refuse(format!("there is no edge {unknown}"), format!("edges are numbered 1 to {count}"));
    }
    if !(extracted_share > 0.0 && extracted_share < 1.0) {
        return refuse(
            format!("a share of {extracted_share} is not between 0 and 1"),
            "0.63 is usual for an 8 mm guide, 300 mm from its lit edge".into(),
        );
    }
    if !(thickness_mm.0.is_finite() && thickness_mm.0 > 0.0) {
        return refuse(
            format!("{} is an invalid thickness", thickness_mm.both()),
            "give the thickness of the guide, such as 8mm".into(),
        );
    }
    let per_mm = extraction_per_mm(extracted_share, thickness_mm.0);
    let mut pictures = Vec::new();
    for extraction in [Extraction::Constant, Extraction::Graded] {
        let choice = LightingChoice {
            lit_edges: lit_edges.to_vec(),
            extraction,
            per_mm,
            unlit_edge_reflectance: 0.0,
            points_along: POINTS_ALONG,
        };
        let Some(picture) = luminance_picture(outline, figures, &choice) else {
            return refuse(
                "no light reaches the face from these edges".into(),
                format!("choose other edges: they are numbered 1 to {count}"),
            );
        };
        pictures.push((extraction, picture));
    }
    Ok(Evenness { pictures, advice: lit_edge_advice(figures.shape, lit_edges.len()) })
}

/// Refuses a file's name that names no picture that can be written.
///
/// # Errors
/// `picture-format`.
pub(crate) fn check_name(file: &Path) -> Result<(), Fault> {
    if matches!(ending(file).as_str(), "svg" | "png") {
        return Ok(());
    }
    let message = format!("`{}` names no picture that can be written", file.display());
    Err(Fault::usage("picture-format", message).fix("name it with .svg or .png"))
}

fn ending(file: &Path) -> String {
    file.extension().and_then(|e| e.to_str()).map(str::to_ascii_lowercase).unwrap_or_default()
}

/// Writes the page with the pictures, as SVG or PNG by the ending of the file's name.
///
/// # Errors
/// `picture-format`, where the name ends otherwise; what the disk says.
pub(crate) fn write_page(file: &Path, page: &LightPage<'_>) -> Result<(), Fault> {
    check_name(file)?;
    let svg = draw_light_page(page);
    let bytes = match ending(file).as_str() {
        "svg" => svg.into_bytes(),
        _ => sheets::png(&svg, DOTS_PER_INCH)
            .map_err(|e| Fault::data(e.code(), e.to_string()).fix(e.remedy()))?,
    };
    write_whole(file, &bytes).map_err(|e| io_fault(&file.display().to_string(), "write", &e))
}

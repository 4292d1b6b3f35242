//! From the pages' SVG to PDF and PNG, with the embedded font alone.
//!
//! Both are drawn from one parsed tree of the very SVG that is handed out. Fonts of the machine are never
//! looked at, and the PDF carries no date, so the same SVG gives the same bytes everywhere.

use std::sync::{Arc, OnceLock};

use krilla::Document;
use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt as _, SvgSettings};
use resvg::{tiny_skia, usvg};

use super::error::SheetError;

/// Points of PDF in a millimetre: 72 in an inch.
const POINTS_PER_MM: f64 = 72.0 / 25.4;
/// SVG pixels in a millimetre: 96 in an inch (CSS).
const PIXELS_PER_MM: f64 = 96.0 / 25.4;

/// What a PDF says about itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct About {
    /// The title.
    pub title: String,
    /// Who made the drawing.
    pub author: String,
    /// The language as a BCP 47 tag, such as `en`.
    pub language: String,
    /// The program and version.
    pub drawn_with: String,
    /// What names this very content, such as a digest.
    pub content: String,
}

fn options() -> usvg::Options<'static> {
    static FONTS: OnceLock<Arc<usvg::fontdb::Database>> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let mut fonts = usvg::fontdb::Database::new();
        fonts.load_font_data(notosans::REGULAR_TTF.to_vec());
        fonts.load_font_data(notosans::BOLD_TTF.to_vec());
        fonts.set_sans_serif_family("Noto Sans");
        Arc::new(fonts)
    });
    usvg::Options {
        fontdb: Arc::clone(fonts),
        font_family: "Noto Sans".into(),
        // A sheet has no pictures; none is ever fetched.
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    }
}

fn parsed(svg: &str) -> Result<usvg::Tree, SheetError> {
    usvg::Tree::from_str(svg, &options())
        .map_err(|e| SheetError::Export { format: "SVG", reason: e.to_string() })
}

/// Where a named part of a page stands: left, top, width and height in millimetres; none where it is not there.
#[must_use]
pub fn extent(svg: &str, part: &str) -> Option<[f64; 4]> {
    let tree = parsed(svg).ok()?;
    let seen = tree.node_by_id(part)?.abs_stroke_bounding_box();
    let mm = |pixels: f32| (f64::from(pixels) / PIXELS_PER_MM * 100.0).round() / 100.0;
    Some([mm(seen.x()), mm(seen.y()), mm(seen.width()), mm(seen.height())])
}

/// One PDF of all pages. Each comes with its size in millimetres.
///
/// # Errors
/// [`SheetError::Export`] where a page cannot be drawn.
pub fn pdf(pages: &[(&str, (f64, f64))], about: &About) -> Result<Vec<u8>, SheetError> {
    let fail = |reason: String| SheetError::Export { format: "PDF", reason };
    let mut document = Document::new();
    for (svg, (width_mm, height_mm)) in pages {
        let tree = parsed(svg)?;
        let (width, height) = ((width_mm * POINTS_PER_MM) as f32, (height_mm * POINTS_PER_MM) as f32);
        let size = Size::from_wh(width, height).ok_or_else(|| fail("the page has no size".into()))?;
        let mut page = document.start_page_with(PageSettings::new(size));
        let mut surface = page.surface();
        surface
            .draw_svg(&tree, size, SvgSettings { embed_text: true, ..SvgSettings::default() })
            .ok_or_else(|| fail("the page cannot be drawn".into()))?;
        surface.finish();
        page.finish();
    }
    document.set_metadata(
        Metadata::new()
            .title(about.title.clone())
            .authors(vec![about.author.clone()])
            .language(about.language.clone())
            .creator(about.drawn_with.clone())
            .producer(about.drawn_with.clone())
            .document_id(about.content.clone()),
    );
    document.finish().map_err(|e| fail(format!("{e:?}")))
}

/// One page as PNG at so many dots an inch.
///
/// # Errors
/// [`SheetError::Export`] where the resolution is not within 20 to 600 or the page cannot be drawn.
pub fn png(svg: &str, dots_per_inch: f64) -> Result<Vec<u8>, SheetError> {
    let fail = |reason: String| SheetError::Export { format: "PNG", reason };
    if !(20.0..=600.0).contains(&dots_per_inch) {
        return Err(fail(format!("{dots_per_inch} dots an inch is not within 20 to 600")));
    }
    let tree = parsed(svg)?;
    let scale = (dots_per_inch / 25.4 / PIXELS_PER_MM) as f32;
    let (width, height) = ((tree.size().width() * scale).round(), (tree.size().height() * scale).round());
    let mut pixels = tiny_skia::Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| fail("the picture has no size".into()))?;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|e| fail(e.to_string()))
}

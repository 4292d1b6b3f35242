//! A job's build pack on paper: one document from cover to cautions, drawn from the pack's data.
//!
//! Every page carries the status: a pack of a job that is not released says so across the top of each page.
//! What the figures are is decided in the gates room; here they are only shown.
//!
//! | file | what it is for |
//! |---|---|
//! | `input` | what stands on the pages besides the data: names, dates, signatures |
//! | `chapters` | the chapters and their tables |
//! | `panel_page` | the page of one panel |
//! | `schedules` | circuits, drivers, wire and bill as tables |
//! | `circuit` | the circuit diagram, conductor by conductor |
//! | `pages` | pages filled with tables and diagrams, one after the other |
//! | `amounts` | whole micrometres and milliwatts as people read them |

mod amounts;
mod chapters;
mod circuit;
mod input;
mod pages;
mod panel_page;
mod schedules;

pub use input::{DateLine, Heading, PackInput, ReleaseLine, SheetPage, SignOffLine};

use super::error::SheetError;
use super::export::{About, pdf};

/// A drawn pack.
#[derive(Clone, Debug, PartialEq)]
pub struct Pack {
    /// All pages as one PDF.
    pub pdf: Vec<u8>,
    /// Each page as SVG, with its size in millimetres.
    pub pages: Vec<(String, (f64, f64))>,
}

/// Draws a pack. The same input and version give the same bytes.
///
/// # Errors
/// [`SheetError::Export`] where a page cannot be drawn.
pub fn draw(input: &PackInput<'_>) -> Result<Pack, SheetError> {
    let drawn = pages::compose(input, chapters::chapters(input));
    let about = About {
        title: format!("{} – build pack", input.heading.title),
        author: input.heading.shop.clone(),
        language: "en".into(),
        drawn_with: super::content::drawn_with(),
        content: input.sha256.clone(),
    };
    let sized: Vec<(&str, (f64, f64))> = drawn.iter().map(|(svg, size)| (svg.as_str(), *size)).collect();
    Ok(Pack { pdf: pdf(&sized, &about)?, pages: drawn })
}

//! A job's build pack on paper: one document from cover to cautions, drawn from the pack's data.
//!
//! Every page carries the status: a pack of a job that is not released says so across the top of each page.
//! What the figures are is decided in the gates room; here they are only shown.
//!
//! | file | what it is for |
//! |---|---|
//! | `input` | what stands on the pages besides the data: names, dates, signatures |
//! | `chapters` | the chapters and their tables |
//! | `panel_page` | the page of a panel |
//! | `alike` | panels that are alike, on one page and one service card |
//! | `schedules` | circuits, drivers, wire and bill as tables |
//! | `circuit` | the circuit diagram, conductor by conductor |
//! | `control_wiring` | which control line goes where |
//! | `places` | where each driver stands: a sketch |
//! | `pages` | pages filled with tables and diagrams, one after the other |
//! | `amounts` | whole micrometres and milliwatts as people read them |

mod alike;
mod amounts;
mod breakers;
mod chapters;
mod circuit;
mod control_wiring;
mod input;
mod pages;
mod panel_page;
mod places;
mod schedules;
mod test_sheet;

pub(crate) use input::{DateLine, Heading, PackInput, ReleaseLine, SheetPage, SignOffLine};

use super::canvas::Canvas;
use super::error::SheetError;
use super::export::{About, pdf};
use super::paper::Area;
use super::tables::Table;
use crate::job::pack::PackData;

/// A drawn pack.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pack {
    /// All pages as one PDF.
    pub pdf: Vec<u8>,
    /// Each page as SVG, with its size in millimetres.
    pub pages: Vec<(String, (f64, f64))>,
}

/// Draws a pack. The same input and version give the same bytes.
///
/// # Errors
/// [`SheetError::Export`] where a page cannot be drawn.
pub(crate) fn draw(input: &PackInput<'_>) -> Result<Pack, SheetError> {
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

/// How a job is fed, as a pack shows it: the outputs in use, drivers, controls, wire and joints.
#[must_use]
pub(crate) fn power_tables(data: &PackData) -> Vec<Table> {
    if data.circuits.is_empty() {
        return Vec::new();
    }
    std::iter::once(schedules::circuits(data)).chain(schedules::feeding(data)).collect()
}

/// How wide a circuit diagram is that stands alone, and what is left around it, in millimetres.
const ALONE_MM: f64 = 190.0;
const AIR_MM: f64 = 3.0;

/// The circuit diagram of each driver output in use, alone: what it is of, and the drawing.
#[must_use]
pub(crate) fn circuit_diagrams(data: &PackData) -> Vec<(String, String)> {
    let alone = |diagram: circuit::Diagram| {
        let title = format!("Driver {}, output {}", diagram.circuit.driver, diagram.circuit.output);
        let (right, bottom) = (ALONE_MM + 2.0 * AIR_MM, diagram.height_mm(ALONE_MM) + 2.0 * AIR_MM);
        let mut canvas = Canvas::new(Area { left: 0.0, top: 0.0, right, bottom }, &title);
        diagram.draw(&mut canvas, AIR_MM, AIR_MM, ALONE_MM);
        (title, canvas.svg())
    };
    schedules::diagrams(data).into_iter().map(alone).collect()
}

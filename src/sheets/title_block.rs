//! The title block: data fields of ISO 7200 within 180 mm, at the lower right of the drawing space.

use crate::shape::Point;

use super::canvas::{Anchor, Canvas, Reading};
use super::ink::{CAPITALS, CELL_HEADING, LEADING, Lettering, LineStyle, NAME, SMALL, SMALL_BOLD};
use super::lettering::{fitted, printable, width_mm};
use super::paper::Area;

/// Width of the title block in millimetres (ISO 7200).
pub(crate) const TITLE_BLOCK_WIDTH_MM: f64 = 180.0;
/// Its height in millimetres.
pub(crate) const TITLE_BLOCK_HEIGHT_MM: f64 = 41.0;
/// The smallest letters of a value, in millimetres: capitals of 1.3 mm.
const LEAST_SIZE_MM: f64 = 1.9;

/// What stands in a title block. Texts are as people wrote them.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct TitleBlock {
    /// Legal owner.
    pub legal_owner: String,
    /// Title.
    pub title: String,
    /// Identification number.
    pub identification: String,
    /// Revision.
    pub revision: String,
    /// Date of issue.
    pub date_of_issue: String,
    /// Language.
    pub language: String,
    /// Sheet number and count, such as `1/2`.
    pub sheet: String,
    /// Creator.
    pub creator: String,
    /// Approval persons.
    pub approved_by: String,
    /// Document type.
    pub document_type: String,
    /// Status.
    pub status: String,
    /// Project.
    pub project: String,
    /// Client.
    pub client: String,
    /// Scale, or what stands for it on a page without a view.
    pub scale: String,
    /// Paper size.
    pub paper: String,
    /// Units of the dimensions.
    pub units: String,
    /// General tolerance.
    pub tolerance: String,
    /// The line at its foot: digest and program.
    pub foot: String,
}

/// A text that no lettering fits into its cell: the cell refers to it, and the caller shows it in full.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Overflow {
    /// The cell's heading.
    pub field: &'static str,
    /// The text in full, printable.
    pub text: String,
}

struct Cell<'a> {
    heading: &'static str,
    value: &'a str,
    lettering: Lettering,
    /// Left, top, width and height within the block.
    at: (f64, f64, f64, f64),
}

impl TitleBlock {
    fn cells(&self) -> Vec<Cell<'_>> {
        let cell = |heading, value, lettering, at| Cell { heading, value, lettering, at };
        vec![
            cell("Created by", &self.creator, SMALL, (0.0, 0.0, 45.0, 9.0)),
            cell("Approval persons", &self.approved_by, SMALL, (45.0, 0.0, 60.0, 9.0)),
            cell("Document type", &self.document_type, SMALL, (105.0, 0.0, 40.0, 9.0)),
            cell("Status", &self.status, SMALL_BOLD, (145.0, 0.0, 35.0, 9.0)),
            cell("Project", &self.project, SMALL, (0.0, 9.0, 52.0, 9.0)),
            cell("Client", &self.client, SMALL, (52.0, 9.0, 46.0, 9.0)),
            cell("General tolerance", &self.tolerance, SMALL, (98.0, 9.0, 28.0, 9.0)),
            cell("Dimensions in", &self.units, SMALL, (126.0, 9.0, 20.0, 9.0)),
            cell("Scale", &self.scale, SMALL_BOLD, (146.0, 9.0, 14.0, 9.0)),
            cell("Paper", &self.paper, SMALL, (160.0, 9.0, 20.0, 9.0)),
            cell("Legal owner", &self.legal_owner, NAME, (0.0, 18.0, 52.0, 18.0)),
            cell("Title", &self.title, NAME, (52.0, 18.0, 64.0, 18.0)),
            cell("Identification number", &self.identification, NAME, (116.0, 18.0, 64.0, 9.0)),
            cell("Rev.", &self.revision, SMALL_BOLD, (116.0, 27.0, 11.0, 9.0)),
            cell("Date of issue", &self.date_of_issue, SMALL, (127.0, 27.0, 26.0, 9.0)),
            cell("Lang.", &self.language, SMALL, (153.0, 27.0, 12.0, 9.0)),
            cell("Sheet", &self.sheet, SMALL, (165.0, 27.0, 15.0, 9.0)),
        ]
    }

    /// The texts that do not fit into their cells even at the smallest size.
    #[must_use]
    pub(crate) fn overflow(&self) -> Vec<Overflow> {
        self.cells().into_iter().filter_map(|cell| set(&cell).err()).collect()
    }

    /// Draws the block with its lower right corner there and returns what it covers.
    pub(crate) fn draw(&self, canvas: &mut Canvas, right: f64, bottom: f64) -> Area {
        let area =
            Area { left: right - TITLE_BLOCK_WIDTH_MM, top: bottom - TITLE_BLOCK_HEIGHT_MM, right, bottom };
        canvas.open("title-block");
        for cell in self.cells() {
            let (left, top, width, height) = cell.at;
            let place = Area::new(area.left + left, area.top + top, width, height);
            canvas.rectangle(place, LineStyle::Narrow);
            let baseline = place.top + 0.6 + CELL_HEADING.size_mm * 0.8;
            let at = Point::new(place.left + 1.0, baseline);
            canvas.write(cell.heading, at, Anchor::Start, CELL_HEADING, Reading::Level);
            let (lines, lettering) = match set(&cell) {
                Ok(fit) => (fit.lines, fit.lettering),
                Err(_) => (vec!["see notes".to_string()], SMALL),
            };
            let room = place.bottom - 0.5 - (place.top + 2.9);
            let high = lines.len() as f64 * LEADING * lettering.size_mm;
            let mut y =
                place.top + 2.9 + (room - high) / 2.0 + lettering.size_mm * (LEADING + CAPITALS) / 2.0;
            for line in &lines {
                let at = Point::new(place.left + 1.5, y);
                canvas.write(line, at, Anchor::Start, lettering, Reading::Level);
                y += LEADING * lettering.size_mm;
            }
        }
        let foot = Point::new(area.left + 1.5, area.bottom - 1.6);
        let longest = TITLE_BLOCK_WIDTH_MM - 3.0;
        let length = width_mm(&self.foot, SMALL);
        let lettering = Lettering { size_mm: SMALL.size_mm * (longest / length).min(1.0), ..SMALL };
        canvas.write(&self.foot, foot, Anchor::Start, lettering, Reading::Level);
        canvas.rectangle(area, LineStyle::Outline);
        canvas.close();
        area
    }
}

fn set(cell: &Cell<'_>) -> Result<super::lettering::Fitted, Overflow> {
    let (_, _, width, height) = cell.at;
    let text = printable(cell.value);
    let text_or_dash = if text.is_empty() { "–" } else { &text };
    fitted(text_or_dash, cell.lettering, LEAST_SIZE_MM, width - 2.5, height - 3.4)
        .ok_or(Overflow { field: cell.heading, text })
}

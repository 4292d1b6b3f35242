//! Drawing sheets: from an outline and its facts to SVG, PDF and PNG.
//!
//! One source draws all three: SVG written here, from it the PDF with searchable text and the PNG. The only font
//! is the embedded Noto Sans (SIL Open Font License 1.1, from the crate `notosans`), so the same input gives the
//! same bytes on every machine. Nothing here reads a file or a clock.
//!
//! | file | what it is for |
//! |---|---|
//! | `input`, `sheet`, `content`, `error` | what stands on a drawing sheet, and how it is composed |
//! | `view/` | the panel to scale, its dimensions and labels |
//! | `light_page` | the computed luminance over a face: a model's picture |
//! | `scale` | standard scales, dual-unit lengths, scale bar |
//! | `paper`, `frame`, `title_block`, `tables`, `sign_off` | the parts that every kind of page is built of |
//! | [`pack`] | a job's build pack, from cover to cautions |
//! | `prints` | labels and order sheets, which nobody signs |
//! | `qr` | what a telephone's camera opens |
//! | `ink`, `lettering`, `canvas` | line styles, text that fits, the SVG itself |
//! | `export` | PDF and PNG from SVG |
//! | `edition` | what tells one way of drawing from another |
//! | `harmless` | what no sheet may carry, whoever drew it |
//!
#![doc = include_str!("NOTES.md")]

pub mod canvas;
mod content;
mod edition;
mod error;
mod export;
mod frame;
mod harmless;
pub mod ink;
mod input;
pub mod lettering;
mod light_page;
pub mod pack;
mod paper;
pub(crate) mod prints;
mod qr;
mod scale;
mod sheet;
pub mod sign_off;
pub mod tables;
mod title_block;
mod view;

pub use content::drawn_with;
pub use edition::EDITION;
pub(crate) use edition::drawn_by;
pub use error::SheetError;
pub use export::{About, extent, pdf, png};
pub use harmless::{harm_in_pdf, harm_in_svg};
pub use input::{Approval, SheetInput};
pub use light_page::{LightPage, draw_light_page};
pub use paper::{Area, Paper};
pub(crate) use qr::Code;
pub use scale::Scale;
pub use sheet::{Sheet, draw, usual_paper};

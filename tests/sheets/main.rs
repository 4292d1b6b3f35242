//! Drawing sheets: what holds for each, what never changes, and what other programs read in them.

mod drawing;
mod for_outside;
mod panels;
mod pictures;

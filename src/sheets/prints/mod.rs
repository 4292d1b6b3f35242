//! Prints for the bench, the parcel and the meter cupboard: labels of test panels, the order sheet, and service card
//! labels. Nobody signs them and no digest seals them: they show what the records say on the day they are made.
//!
//! | file | what it is for |
//! |---|---|
//! | `label` | one label, its letters as large as its paper allows |
//! | `order_sheet` | test panels to be made and sent, with boxes to tick |

mod label;
mod order_sheet;

pub(crate) use label::{Label, draw_label};
pub(crate) use order_sheet::{OrderSheet, Ordered, draw_order_sheet};

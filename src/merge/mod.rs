//! Typed three-way merge of records, pure: values and bytes in, values, bytes and open questions out.
//!
//! Two people changed the same book apart. Field by field: changed on one side, that side's value; changed on
//! both to the same value, that value; changed on both and not the same, an open question, while the field keeps
//! what it was before (its *base*). There is never a third value. A delete against an edit is always a question.
//! Absent is not null. Numbers are equal by value, so `1`, `1.0` and `1e0` are one.
//!
//! What is not here: git, files, and what the fields mean. The caller passes [`Layout`], a small table that says
//! which files are records and which arrays are sets or keyed collections.

mod conflict;
mod equal;
mod file;
mod layout;
mod order;
mod pointer;
mod record;

pub use conflict::{MergeConflict, Side, Who, combine};
pub use equal::{identical, same};
pub(crate) use file::{Decided, Held};
pub use file::{FileQuestion, Keep, Three, drive, merge_file};
pub use layout::{Layout, Rule, Rules, Treatment};
pub use pointer::{at, put, take};
pub use record::{Merged, Question, Touched, merge};

//! The job as a whole: power of all panels together, dates, build pack, its proof, and change sheets.
//!
//! | file | what it holds |
//! |---|---|
//! | `workshop` | a book with one job in a temporary folder, driven by the real program |
//! | `every_watt` | property: every watt of every panel is on exactly one driver output |
//! | `story` | one job from its plan to its release, and what a change after that does |
//! | `bad_input` | what does not fit or is not there, with its message and exit code |
//! | `handed_in` | the folder of a pack: links, other people's files, and a pack that was handed in |
//! | `handed_over` | photos and installation in the pack of a job that was built |
//! | `supply` | where drivers stand, and what is bought beside the circuits |
//! | `shop_lists` | flaws in the shop's lists that a schema cannot see |
#![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

#[path = "../answers/mod.rs"]
mod answers;
mod bad_input;
mod every_watt;
mod handed_in;
mod handed_over;
mod shop_lists;
mod story;
mod supply;
mod workshop;

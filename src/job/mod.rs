//! The job room: a project's snapshot worked out against the shop it is built by. Pure.
//!
//! Light, power, route, masses and the build pack follow from records alone; nothing here judges whether a job may
//! go on. That is the gates' part, which look at a [`Case`].
//!
//! | file | what it holds |
//! |---|---|
//! | [`case`] | a snapshot and its shop, with what is worked out from them once |
//! | [`plan`] | light, power and route of a job's panels |
//! | [`brightness`] | how bright a panel's stone will be |
//! | [`trials`] | what was seen on a stone, held against what was chosen |
//! | [`masses`] | what the parts of a panel weigh, and how far they move |
//! | [`cautions`] | what can hurt somebody on this job |
//! | [`wording`] | the editions of sealed sentences |
//! | [`pack`] | the data of the build pack, and their digest |
//! | `slab`, `supplied` | what is known of the very slab, and of the site's electrics |
//! | [`as_built`], `bench` | what was built against what was worked out, and against the shop's limits |
//!
#![doc = include_str!("NOTES.md")]

pub mod as_built;
pub(crate) mod bench;
pub mod brightness;
pub mod case;
pub mod cautions;
pub mod masses;
pub mod pack;
pub mod plan;
pub(crate) mod slab;
pub(crate) mod supplied;
pub mod trials;
pub mod wording;

pub use case::Case;

//! The ops room: each thing that can be done to a book, one screen each. Read, decide, write.
//!
//! Here the rooms of the floors below meet: the store reads, signing verifies, gates judge, git commits.
//! Nothing here prints, and the clock, the home folder and the person's key come in with
//! [`Surroundings`].
//!
//! | file | what it does |
//! |---|---|
//! | [`surroundings`] | what the command line hands in |
//! | [`chain`] | the roster from its first version on, verified; the fingerprint pinned in this clone |
//! | [`shop`] | the shop's sealed files |
//! | [`trust`] | does this signature count? |
//! | [`project`] | one project read, measured and judged |
//! | [`desk`] | a book opened for writing: lock, identity, one commit for each change |
//! | [`check`] | everything that is wrong with a book, at once |
//! | [`init`], [`join`], [`me`] | a new book, a fetched one, and who is asking |
//! | [`open`], [`swatch`], [`request`], [`trial`], [`panel`], [`choose`], [`plan`], [`draw`], [`handover`] | records |
//! | [`sign`], [`advance`], [`roster`], [`resolve`] | what people say |
//! | [`status`], [`board`], [`history`] | what a person reads |
//! | [`sync`] | exchange with the other clones |

pub mod advance;
pub mod chain;
pub mod check;
pub mod desk;
pub mod init;
pub mod layout;
pub mod project;
pub mod record;
pub mod resolve;
pub mod roster;
pub mod shop;
pub mod sign;
pub mod surroundings;
pub mod sync;
pub mod trust;

pub use desk::{Desk, Reading};
pub use surroundings::Surroundings;

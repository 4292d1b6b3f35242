//! The power room: from tape to mains. Pure: records and numbers in, typed answers with reasons out.
//!
//! | file | what it answers |
//! |---|---|
//! | [`lights`], [`drivers`], [`controls`], [`wire_stock`] | the shop's own records |
//! | [`shop_fault`] | what is wrong in them that a schema cannot see |
//! | [`vocabulary`] | dimming, place, location, wire table |
//! | [`light_choice`] | which light of the shop gives what a panel asks for, and how its tape is fed |
//! | [`light_build`], [`tape_drop`] | lit edges → tape, watts, amperes, light at the face, drop along the tape |
//! | [`conductor`], [`wire_run`], [`cable_choice`] | cable: resistance, drop, size, the shop's own stock |
//! | [`protection`] | what keeps cable and connectors from carrying more than they may |
//! | [`connector_choice`] | what joins a lead at either end |
//! | [`class2`] | what may be said about a driver and the Class 2 limit |
//! | [`grouping`], [`driver_choice`], [`passed_over`] | which driver, how many, and what hangs on which output |
//! | [`division`] | whether panels are better fed by drivers of several models |
//! | [`circuit_plan`] | all panels of a job on their drivers, conductor by conductor, and the bill |
//! | [`nearest`] | the smallest changes that make wiring work where it does not |
//! | [`control_choice`] | controllers for colour-changing light, dimmers against drivers |
//! | [`control_line`] | the wired lines by which controls are led, terminal by terminal |
//!
#![doc = include_str!("NOTES.md")]

pub mod cable_choice;
mod circuit_building;
pub mod circuit_plan;
pub mod class2;
pub mod conductor;
pub mod connector_choice;
pub mod control_choice;
pub mod control_line;
pub mod controls;
pub mod division;
pub mod driver_choice;
pub mod drivers;
pub mod grouping;
mod lead_building;
pub mod light_build;
pub mod light_choice;
pub mod lights;
pub mod nearest;
mod packing;
pub mod passed_over;
pub mod protection;
pub mod shop_fault;
pub mod tape_drop;
pub mod vocabulary;
pub mod wire_run;
pub mod wire_stock;
mod written;

//! Light through stone: what `calc` answers, the arithmetic against published values, and the pictures.

#[path = "../answers/mod.rs"]
mod answers;

mod calc;
mod colour_difference;
mod photo_truth;
mod pictures;
mod properties;

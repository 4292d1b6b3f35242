//! The gates, judged over jobs in memory: what trips each requirement and what fixes it, which approvals count,
//! where moves lead, what signatures seal.
//!
//! `job` makes a whole job that calls for every requirement; every case changes one thing of it. No file is
//! read but the schemas, no signature is made: whether one counts is the business of other rooms.

mod approvals;
mod asking;
mod by_the_piece;
mod coverage;
mod editions;
mod groups;
mod job;
mod moves;
mod order;
mod practice;
mod refusals;
mod release;
mod same_within;
mod supersession;
mod trips;
mod verdicts;
mod wording;

//! The guard before a shared repository, with the real binary and real git: one test for each thing that it refuses,
//! what it lets in, and what happens where it is missing.
#![allow(clippy::unwrap_used)]

#[path = "../answers/mod.rs"]
mod answers;
mod bounds;
mod bypass;
mod closed;
mod environment;
mod evidence;
#[allow(dead_code)]
#[path = "../command_line/forgery.rs"]
mod forgery;
mod growth;
mod installing;
mod load;
mod names;
mod own_hooks;
mod range;
mod rosters;
mod running;
mod scene;
mod sheets;
#[allow(dead_code)]
#[path = "../command_line/stages.rs"]
mod stages;
mod statements;
mod trees;
#[allow(dead_code)]
#[path = "../command_line/workshop.rs"]
mod workshop;

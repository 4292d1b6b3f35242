//! From a panel's edges to its drivers, wires and dates: against published tables, and as laws that hold for any job.

#[path = "../answers/mod.rs"]
mod answers;

mod calc;
mod circuits;
mod dates;
mod light;
mod numbers;
mod properties;
mod routes;
mod shop_data;
mod starter;
mod vectors;

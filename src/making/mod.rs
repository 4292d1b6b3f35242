//! The making room: how the shop builds and by when. Pure: records and dates in, typed answers out.
//!
//! | file | what it answers |
//! |---|---|
//! | [`routes`], [`route_fit`] | the shop's ways to build, and which of them can build a panel |
//! | [`bending`] | to what radius a route bends its sheets |
//! | [`mount`], [`service`] | how a panel is held, what serving it needs, the mass to lift, the service card |
//! | [`calendar`], [`business_days`] | working week, holidays and allowances; counting days |
//! | [`schedule`] | latest and earliest dates of a job, slack, the critical step |
//! | [`calendar_file`] | dates for a calendar program |
//! | [`shop_fault`] | what is wrong in the shop's records that a schema cannot see |

pub mod bending;
pub mod business_days;
pub mod calendar;
pub mod calendar_file;
pub mod mount;
pub mod nesting;
pub mod route_fit;
pub mod routes;
pub mod schedule;
pub mod service;
pub mod shop_fault;

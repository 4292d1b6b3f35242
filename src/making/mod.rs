//! The making room: how the shop builds and by when. Pure: records and dates in, typed answers out.
//!
//! | file | what it answers |
//! |---|---|
//! | [`routes`] | the shop's ways to build |
//! | [`mount`] | how a panel is held |
//! | [`calendar`] | working week, holidays and allowances |
//! | [`shop_fault`] | what is wrong in these records that a schema cannot see |

pub mod calendar;
pub mod mount;
pub mod routes;
pub mod shop_fault;

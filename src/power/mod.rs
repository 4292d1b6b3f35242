//! The power room: from tape to mains. Pure: records and numbers in, typed answers with reasons out.
//!
//! | file | what it answers |
//! |---|---|
//! | [`lights`], [`drivers`], [`controls`], [`wire_stock`] | the shop's own records |
//! | [`shop_fault`] | what is wrong in them that a schema cannot see |
//! | [`vocabulary`] | dimming, place, location, wire table |
//! | [`conductor`] | a conductor's resistance by the published tables |

pub mod conductor;
pub mod controls;
pub mod drivers;
pub mod lights;
pub mod shop_fault;
pub mod vocabulary;
pub mod wire_stock;
mod written;

//! The model room: the records of a book as types, the views that signatures seal, and names. Pure.
//!
//! | file | what it holds |
//! |---|---|
//! | [`kind`] | which path of a book holds which kind of record |
//! | [`book`], [`roster`], [`rules`] | the shop: its name, its people, its rules |
//! | [`project`], [`swatch`], [`request`], [`trial`], [`panel`], [`rendering`], [`handover`] | a project's records |
//! | [`site_facts`] | what an outline rests on, and the very slab |
//! | [`earlier_trial`] | why a panel needs no test panel |
//! | [`note`] | a remark on a record, which nobody signs |
//! | [`answer_code`] | the code by which somebody names what they answer |
//! | [`attachment`] | a file beside its record |
//! | [`statement`], [`moves`], [`stage`] | what people signed, and the stages that follow |
//! | [`supersession`] | which sign-offs stand, and which were replaced |
//! | [`view`] | which facts a signature seals |
//! | [`droppings`] | what desktops and editors leave in folders |
//! | [`conflict`], [`question`] | edits that cannot all stand, and the questions that they make |
//! | [`question_safety`] | what a question may be about |
//! | [`references`] | what a record names |
//! | [`sizes`] | the sizes of a panel that lie within each other |
//! | [`snapshot`] | one project with everything that the gates look at |
//!
#![doc = include_str!("NOTES.md")]

pub mod answer_code;
pub mod attachment;
pub mod book;
pub mod conflict;
pub mod droppings;
pub mod earlier_trial;
pub mod handover;
pub mod kind;
pub mod moves;
pub mod note;
pub mod panel;
pub mod project;
pub mod question;
pub mod question_safety;
pub mod references;
pub mod rendering;
pub mod request;
pub mod roster;
pub mod rules;
pub mod site_facts;
pub mod sizes;
pub mod snapshot;
pub mod stage;
pub mod statement;
pub mod supersession;
pub mod swatch;
pub mod trial;
pub mod view;

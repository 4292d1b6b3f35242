//! The packet: one page for somebody who has no account, no key and no program, to read, to judge and to answer by.
//!
//! It is made from a plain view of facts ([`facts`]), fetches nothing, and is the same bytes for the same book. Pure:
//! nothing here reads a file, a clock or a record.
//!
//! A packet records nothing. What a code is of is found by working out the codes of today again (`gates::asked`): the same
//! code is the same version, the same first four letters another version of the same thing. A sheet cannot bear its own
//! code, which is a digest of its bytes among others.
//!
//! | file | what it is for |
//! |---|---|
//! | [`facts`] | what a packet says, before it has words |
//! | `page` | the page from head to foot, and the same as a folder |
//! | `question` | one thing to answer: what it is, what follows from it, the four answers |
//! | `looks` | the stone re-lit |
//! | `around` | what stands around the questions: the story, what comes next, cautions, how to answer and to check |
//! | `words` | every word of the page, in each language |
//! | `page/` | style and script, as they stand in every packet |

mod around;
pub mod facts;
mod looks;
mod page;
mod question;
mod words;

pub(crate) use page::Page;
pub use page::page;
pub(crate) use words::Language;

//! The ops room: each thing that can be done to a book, one screen each. Read, decide, write.
//!
//! Here the rooms of the floors below meet: the store reads, signing verifies, gates judge, git commits.
//! Nothing here prints, and the clock, the home folder and the person's key come in with
//! [`Surroundings`].
//!
//! | file | what it does |
//! |---|---|
//! | [`surroundings`] | what the command line hands in |
//! | [`chain`] | the roster from its first version on, verified; the fingerprint pinned in this clone |
//! | [`shop`] | the shop's sealed files |
//! | [`trust`], [`statements`] | does this signature count? what people signed in a project, each file judged |
//! | [`project`] | one project read, measured and judged |
//! | [`reading`], [`desk`] | a book opened: for reading; for writing with lock, identity and one commit for each change |
//! | [`init`] | a new book, and a fetched one |
//! | [`record`], [`outline`], [`draw`], [`sheet_input`], `sheet_rows` | records, drawings and renderings |
//! | [`redraw`] | whether a sheet is what this program draws |
//! | [`evenness`] | how even the light would be: a model, with its picture |
//! | [`spectra`], [`measure`], [`look`] | lights, stones and photos out of files; what a stone will look like |
//! | [`sign`], [`advance`], [`roster`] | what people say |
//! | [`roster_redo`] | a roster version made at the same time as another owner's, made again on top |
//! | [`signed`] | what somebody said so far, for the owners to keep |
//! | [`show`] | any record in words, by the titles of its schema |
//! | [`status`], [`board`], [`history`], [`dates`], [`changes`] | what a person reads |
//! | [`news`] | what there is to tell of projects, each thing once |
//! | [`watch`] | a book followed at its remote |
//! | [`pack`] | the build pack of a job, and its proof |
//! | [`own_folder`] | a folder that is filled again and again, where nothing foreign is touched |
//! | [`packet`], [`intake`], [`answer_file`] | a page for somebody to answer by, and the answers that come back |
//! | [`check`], [`housekeeping`], [`beside`], `readings` | everything that is wrong with a book, at once; what its files that are no records may not say; what lies beside statements |
//! | [`stray`] | files that belong to no book: those that merely lie there, and those meant for records |
//! | [`alike`] | which titles and names are held against each other |
//! | [`unnamed`] | files in a project's folder that no record names |
//! | [`verify`] | a book judged from its fingerprint, with its history |
//! | [`incoming`], [`guard`] | states that lie in git and not in a folder; the judge of a push |
//! | [`repair`] | what an interrupted git or editor left, put right when asked |
//! | [`sync`], [`layout`] | exchange with the other clones |
//! | [`about`], [`questions`], [`answering`], [`resolve`] | open questions: shown, an answer worked out and judged, and given |
//! | [`proof`], [`vanished`] | whether the history shows who asked a question; questions that went away unanswered |
//! | [`noted`] | commits up to which a clone has looked at something |
//! | [`changed`] | what changed in a state, judged by one set of rules for everybody |
//! | [`differences`] | how two forms of a record differ |
//! | [`tree_files`] | a tree of the history, read like a folder |
//! | [`stock_git`] | the same merge for people who pull with their own git |
//!
#![doc = include_str!("NOTES.md")]

pub mod about;
pub mod advance;
pub mod alike;
pub mod answer_file;
pub mod answering;
pub mod beside;
pub mod board;
pub mod chain;
pub mod changed;
pub mod changes;
pub mod check;
pub mod dates;
pub mod desk;
pub mod differences;
pub mod draw;
pub mod evenness;
pub mod guard;
pub mod history;
pub mod housekeeping;
pub mod incoming;
pub mod init;
pub mod intake;
pub mod layout;
pub mod look;
pub mod measure;
mod names_shown;
pub mod new_folder;
pub mod news;
pub mod noted;
pub mod outline;
pub mod own_folder;
pub mod pack;
pub mod packet;
pub mod project;
pub mod proof;
pub mod questions;
pub mod reading;
mod readings;
pub mod record;
pub mod redraw;
pub mod repair;
pub mod resolve;
pub mod roster;
pub mod roster_redo;
pub mod sheet_input;
mod sheet_rows;
pub mod shop;
pub mod show;
pub mod sign;
pub mod signed;
pub mod spectra;
pub mod statements;
pub mod status;
pub mod stock_git;
pub mod stray;
pub mod surroundings;
pub mod sync;
pub mod tree_files;
pub mod trust;
pub mod unnamed;
pub mod vanished;
pub mod verify;
pub mod watch;

pub use desk::Desk;
pub use reading::Reading;
pub use surroundings::Surroundings;

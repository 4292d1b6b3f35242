//! The ops room: each thing that can be done to a book, one screen each. Read, decide, write.
//!
//! Here the rooms of the floors below meet: the store reads, signing verifies, gates judge, git commits.
//! Nothing here prints, and the clock, the home folder and the person's key come in with
//! [`Surroundings`](crate::trust::Surroundings).
//!
//! | file | what it does |
//! |---|---|
//! | [`reading`], [`desk`] | a book opened: for reading; for writing with lock, identity and one commit for each change |
//! | [`init`], [`new_folder`] | a new book; a folder made whole or not at all |
//! | `notes` | remarks on a project and its records |
//! | [`record`], [`outline`], [`draw`], `names_shown` | records, drawings and renderings |
//! | `shop_lists` | an entry of the shop's lists, changed and sealed |
//! | `orders` | what has to be ordered by when, and the days that a job has agreed |
//! | `copy`, `undo` | a job or panel under a new name; one's own last change taken back |
//! | [`evenness`], `evenness_record` | how even the light would be: a model, with its picture; how even panels came out beside it |
//! | `earlier_trials`, `loans` | trials of other jobs that show a stone; test panels that are out on loan |
//! | [`sign`], [`advance`], [`roster`] | what people say |
//! | `hearing` | what somebody wants to say, and who would hear it |
//! | [`signed`] | what somebody said so far, for the owners to keep |
//! | [`doctor`] | whether machine and clone are fit for the work |
//! | [`show`] | any record in words, by the titles of its schema |
//! | [`status`], [`board`], [`board_memory`], [`history`], [`dates`], [`changes`] | what a person reads |
//! | [`news`] | what there is to tell of projects, each thing once |
//! | [`watch`] | a book followed at its remote |
//! | [`pack`] | the build pack of a job, and its proof |
//! | `prints` | labels and order sheets, which nobody signs |
//! | [`own_folder`] | a folder that is filled again and again, where nothing foreign is touched |
//! | `import` | panels and running jobs out of spreadsheets, in one step |
//! | [`repair`], `repair_file` | what an interrupted git or editor left, put right when asked |
//! | [`layout`] | how the files of a book merge |
//! | [`questions`], [`answering`], [`resolve`] | open questions: shown, an answer worked out and judged, and given |
//! | [`differences`] | how two forms of a record differ |

pub mod advance;
pub mod answering;
pub mod board;
pub mod board_memory;
pub mod changes;
pub(crate) mod copy;
pub mod dates;
pub mod desk;
pub mod differences;
pub mod doctor;
pub mod draw;
pub(crate) mod earlier_trials;
pub mod evenness;
pub(crate) mod evenness_record;
mod hearing;
pub mod history;
pub mod import;
pub mod init;
pub mod layout;
pub(crate) mod loans;
mod names_shown;
pub mod new_folder;
pub mod news;
pub(crate) mod next;
pub(crate) mod notes;
pub(crate) mod orders;
pub mod outline;
pub mod own_folder;
pub mod pack;
pub(crate) mod prints;
pub mod questions;
pub mod reading;
pub mod record;
pub mod repair;
mod repair_file;
pub mod resolve;
pub mod roster;
pub mod shop_lists;
pub mod show;
pub mod sign;
pub mod signed;
pub mod status;
pub(crate) mod undo;
pub mod watch;

pub use desk::Desk;
pub use reading::Reading;

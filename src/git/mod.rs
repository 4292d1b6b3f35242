//! History of a book: commits, whole-tree merge, exchange with a remote. The only room that uses git2.
//!
//! Objects, trees, merges and history go through git2; everything that touches a network runs the user's own
//! `git`, so that agents, credential helpers, proxies and the hooks of a local remote work. What is not here:
//! what a record may hold, who may sign, what a gate asks. Those come in as values.
//!
//! On disk: the book's `.git`, and in it `underlit/`, which belongs to one clone alone.
//!
#![doc = include_str!("NOTES.md")]

mod advance;
mod altered;
mod candidates;
mod commit;
mod differences;
mod error;
mod failure;
mod folder_numbers;
mod history;
mod hub;
mod hub_setup;
mod index;
mod inspect;
mod lock;
mod look;
mod lost;
mod name;
mod part;
mod partial;
mod past;
mod push_answer;
mod raw_commit;
mod remote;
mod replay;
mod repo;
mod seen;
mod snapshot;
mod stamp;
mod stock_merge;
mod together;
mod tree_bytes;
mod tree_merge;
mod tree_questions;
mod tree_walk;
mod trees;
mod unsafe_files;
mod user_git;
mod worktree;

pub use commit::NewCommit;
pub use differences::Uninspected;
pub use error::GitError;
pub(crate) use folder_numbers::folder_numbers;
pub use history::{LogEntry, Turned};
pub use hub::{Hub, Movement, Received};
pub(crate) use hub_setup::Deed;
pub use hub_setup::Setup;
pub use inspect::Bounds;
pub(crate) use inspect::{Inspected, Inspector};
pub use lock::BookLock;
pub(crate) use lock::name_this_command;
pub use look::FolderScan;
pub(crate) use lost::LostBranch;
pub use name::{CommitId, Moment, Person};
pub(crate) use part::{Held, Part};
pub(crate) use partial::refuse_old_git;
pub use push_answer::Pushed;
pub(crate) use remote::Branches;
pub use remote::Remote;
pub use repo::Repo;
pub(crate) use repo::read_as_git_does;
pub use snapshot::{ChangeKind, Entry, PathChange, Snapshot};
pub(crate) use snapshot::{EntryKind, TreeFile};
pub(crate) use tree_merge::TreeMerge;
pub use unsafe_files::unsafe_files;
pub(crate) use user_git::OnProgress;
pub use user_git::UserGit;
pub use worktree::HandEdit;

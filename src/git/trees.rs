//! Folders of the history that nobody has judged, of which the large ones that were read last stay at hand: each commit is held
//! against the one before, and the folder of all projects is read and checked anew each time that the library is asked.

use std::cell::RefCell;
use std::collections::VecDeque;

use super::differences::Uninspected;

/// So many names make a folder large.
const LARGE: usize = 64;

/// How many stay at hand: those of two states that are compared, and of the one that comes next.
const KEPT: usize = 3;

/// The largest folder that is opened, in bytes: about 200 000 files.
const LARGEST: usize = 8 << 20;

/// The folders of a repository.
pub(super) struct Trees<'r> {
    git: &'r git2::Repository,
    large: RefCell<VecDeque<git2::Tree<'r>>>,
}

impl<'r> Trees<'r> {
    pub(super) fn of(git: &'r git2::Repository) -> Trees<'r> {
        Trees { git, large: RefCell::default() }
    }

    /// One folder, if it is of a size that people make.
    pub(super) fn bounded(&self, id: git2::Oid) -> Result<git2::Tree<'r>, Uninspected> {
        let mut large = self.large.borrow_mut();
        if let Some(tree) = large.iter().find(|tree| tree.id() == id) {
            return Ok(tree.clone());
        }
        let (size, _) = self.git.odb()?.read_header(id)?;
        if size > LARGEST {
            return Err(Uninspected::TooMuch(format!("a folder of {size} bytes of names")));
        }
        let tree = self.git.find_tree(id)?;
        if tree.len() > LARGE {
            large.truncate(KEPT - 1);
            large.push_front(tree.clone());
        }
        Ok(tree)
    }
}

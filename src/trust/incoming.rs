//! A state of the book that lies in git and not in a folder: its roster, its shop, and everything that is wrong with
//! what changed in it. `sync` judges by this what comes in, `guard` what is pushed.
//!
//! It is read through the seam that a folder is read through, so that what comes in is judged by the very code that
//! judges a book on disk.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::chain::Chain;
use super::shop;
use super::tree_files::{SHOP, TreeFiles};
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::{GitError, Snapshot};
use crate::merge::Keep;
use crate::model::kind::Kind;
use crate::model::snapshot::Shop;
use crate::store::{safe_path, strict_json};

/// The largest file for a hosting service, in bytes.
const LARGEST_FOR_THE_HOST: u64 = 64 << 10;

/// The largest that a file of some path may be, in bytes.
#[must_use]
pub(crate) fn largest(path: &str) -> u64 {
    match Kind::of_path(path) {
        Some(Kind::Signature | Kind::RosterSignature) => safe_path::LARGEST_SIGNATURE,
        Some(_) if Kind::is_for_the_host(path) => LARGEST_FOR_THE_HOST,
        Some(Kind::Attachment | Kind::Scan) | None => safe_path::LARGEST_ATTACHMENT,
        Some(_) => strict_json::LARGEST,
    }
}

/// What a reading came to, kept so that the next one of the same files costs nothing.
type Kept<T> = Result<Rc<T>, Vec<Fault>>;

/// Rosters and shops of states, each read and verified once however many states share it.
#[derive(Debug, Default)]
pub(crate) struct States {
    chains: BTreeMap<Vec<Option<String>>, Kept<Chain>>,
    shops: BTreeMap<Vec<Option<String>>, Kept<Shop>>,
}

impl States {
    /// The verified roster of a state.
    ///
    /// # Errors
    /// As [`Chain::load`].
    pub(crate) fn chain(&mut self, state: &Snapshot<'_>) -> Kept<Chain> {
        let key = digests(state, &["roster"])?;
        if let Some(kept) = self.chains.get(&key) {
            return kept.clone();
        }
        let read = TreeFiles::of(state, &["roster"]).and_then(|files| Chain::load(&files)).map(Rc::new);
        self.chains.insert(key, read.clone());
        read
    }

    /// The sealed shop of a state.
    ///
    /// # Errors
    /// As [`States::chain`] and [`shop::load`].
    pub(crate) fn shop(&mut self, state: &Snapshot<'_>) -> Kept<Shop> {
        let chain = self.chain(state)?;
        let key = digests(state, &SHOP)?;
        if let Some(kept) = self.shops.get(&key) {
            return kept.clone();
        }
        let files: Vec<&str> = shop::SEALED.iter().copied().chain([shop::CONFLICTS]).collect();
        let read = TreeFiles::of(state, &files).and_then(|files| shop::load(&files, &chain)).map(Rc::new);
        self.shops.insert(key, read.clone());
        read
    }
}

fn digests(state: &Snapshot<'_>, paths: &[&str]) -> Result<Vec<Option<String>>, Vec<Fault>> {
    Ok(paths.iter().map(|path| state.digest_at(path)).collect::<Result<_, GitError>>()?)
}

/// The sealed files that a merge has otherwise than the newest roster seals them, where what comes in has them as
/// sealed. What was made of them here is for an owner to seal, or to leave. Where what comes in is not as its own
/// owners sealed it, that is no question: it is refused.
///
/// # Errors
/// What git says.
pub(crate) fn as_sealed(
    merged: &Snapshot<'_>,
    chain: &Chain,
    theirs: &Snapshot<'_>,
) -> Result<Vec<(String, Keep)>, Vec<Fault>> {
    let mut found = Vec::new();
    for path in shop::SEALED {
        let Some(sealed) = chain.newest().sealed.get(*path) else { continue };
        let has = |state: &Snapshot<'_>| -> Result<bool, GitError> {
            Ok(state.file(path)?.is_some_and(|bytes| Sha256Digest::of(&bytes) == *sealed))
        };
        if !has(merged)? && has(theirs)? {
            found.push(((*path).to_owned(), Keep::Theirs));
        }
    }
    Ok(found)
}

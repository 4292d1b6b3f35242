//! Which places of a book's folder have to be compared with HEAD: those that look different from what was seen when
//! everything was last known to be the same.

use std::collections::BTreeSet;
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::PathBuf;

use super::look::{Again, FolderScan, GIT_FILES, Look, MOST, folder_of};
use super::seen::{Knows, Seen};
use super::stamp::Stamp;
use super::{GitError, Repo, Snapshot};

impl Repo {
    /// The paths that may differ from HEAD, as [`Repo::candidates_beneath`] of everything, from a look that is under
    /// way.
    pub(super) fn candidates_seen(
        &self,
        head: &Snapshot<'_>,
        folder_scan: FolderScan,
    ) -> Result<Vec<(String, bool)>, GitError> {
        let Look { kept, touched, as_before, into } = folder_scan.end();
        // A look that keeps nothing takes every time for settled: it only compares.
        let began = into.as_ref().map_or(i128::MAX, |(_, began)| *began);
        let knows = self.knows(head, began);
        if as_before == Some(knows) && knows.index != Stamp::NEVER {
            return Ok(Vec::new());
        }
        let known = kept.and_then(|kept| kept.seen());
        let known = known.filter(|seen: &Seen| seen.knows.surroundings == knows.surroundings);
        if let Some(mut seen) = known
            && let Some(places) = self.places(head, knows, &mut seen, touched, began)
        {
            let found = if places.is_empty() {
                Vec::new()
            } else {
                self.candidates_at(places.iter().map(String::as_str))?
            };
            self.keep_seen(seen, knows, &found, into)?;
            return Ok(found);
        }
        let mut seen = Seen::nothing(knows);
        // Seen before it is judged: what changes in between looks different the next time.
        let whole = into.is_some() && self.again(&mut seen, began, [String::new()]).is_some();
        let found = self.candidates_beneath("")?;
        if whole {
            self.keep_seen(seen, knows, &found, into)?;
        }
        Ok(found)
    }

    /// The places to be judged, with `seen` brought up to date; `None` where going through everything is better.
    fn places(
        &self,
        head: &Snapshot<'_>,
        knows: Knows,
        seen: &mut Seen,
        touched: Vec<usize>,
        began: i128,
    ) -> Option<BTreeSet<String>> {
        let mut places = std::mem::take(&mut seen.asks);
        if seen.knows.tree != knows.tree {
            let before = self.git.find_tree(seen.knows.tree).ok()?;
            let changed = self.git.diff_tree_to_tree(Some(&before), head.tree(), None).ok()?;
            places.extend(paths_of(&changed)?);
        }
        if seen.knows.index != knows.index || knows.index == Stamp::NEVER {
            let staged = self.git.diff_tree_to_index(head.tree(), None, None).ok()?;
            places.extend(paths_of(&staged)?);
        }
        let part = self.part();
        places.retain(|place| part.as_ref().is_none_or(|part| part.holds(place)));
        let folders = touched.into_iter().map(|nth| seen.folders[nth].path.clone());
        let folders: BTreeSet<String> =
            folders.chain(places.iter().map(|place| folder_of(place).to_owned())).collect();
        places.extend(self.again(seen, began, folders)?);
        let of_git = |place: &String| place.rsplit('/').next().is_some_and(|name| GIT_FILES.contains(&name));
        (places.len() <= MOST && !places.iter().any(of_git)).then_some(places)
    }

    /// Goes through folders again and tells what looks different in them.
    fn again(
        &self,
        seen: &mut Seen,
        began: i128,
        folders: impl IntoIterator<Item = String>,
    ) -> Option<BTreeSet<String>> {
        let index = self.git.index().ok()?;
        let counts = |path: &str| {
            let beneath = format!("{path}/");
            index.find_prefix(&beneath).is_ok() || !self.git.is_path_ignored(&beneath).unwrap_or(false)
        };
        let root = self.root();
        let mut again = Again { root, seen, began, counts: &counts, candidates: BTreeSet::new() };
        again.go_through(folders)?;
        Some(again.candidates)
    }

    /// Keeps what was seen, unless a merge left something open, or so much of it is to be looked at again that it would
    /// save nothing.
    fn keep_seen(
        &self,
        mut seen: Seen,
        knows: Knows,
        found: &[(String, bool)],
        into: Option<(tempfile::NamedTempFile, i128)>,
    ) -> Result<(), GitError> {
        let Some((file, _)) = into else { return Ok(()) };
        seen.knows = knows;
        seen.asks = found.iter().map(|(path, _)| path.clone()).collect();
        if found.iter().all(|(_, unmerged)| !unmerged) && seen.unsettled() <= MOST {
            seen.keep(&self.clone_local_dir()?, file);
        }
        Ok(())
    }

    /// What a judgement of the folder rests on besides the folder.
    fn knows(&self, head: &Snapshot<'_>, began: i128) -> Knows {
        let tree = head.tree().map_or(git2::Oid::ZERO_SHA1, git2::Tree::id);
        let index = self.git.path().join("index").symlink_metadata();
        let index = index.map_or(Stamp::NEVER, |found| Stamp::settled(&found, began));
        Knows { surroundings: self.ignoring(), tree, index }
    }

    /// One number for the settings and lists outside the book that say what git ignores and how it compares, and for
    /// where the book lies.
    fn ignoring(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        self.root().hash(&mut hasher);
        let mut lists = vec![self.git.commondir().join("info/exclude")];
        if let Ok(config) = self.git.config() {
            for key in ["core.filemode", "core.ignorecase", "core.symlinks", "core.autocrlf", "core.eol"] {
                config.get_string(key).ok().hash(&mut hasher);
            }
            lists.extend(config.get_path("core.excludesfile").ok());
        }
        let home = |name: &str| std::env::var_os(name).filter(|home| !home.is_empty()).map(PathBuf::from);
        lists.extend(home("XDG_CONFIG_HOME").map(|dir| dir.join("git/ignore")));
        lists.extend(home("HOME").map(|dir| dir.join(".config/git/ignore")));
        for list in lists {
            (&list, fs::read(&list).ok()).hash(&mut hasher);
        }
        hasher.finish()
    }
}

/// The paths on both sides of a comparison; `None` where one is not UTF-8.
fn paths_of(diff: &git2::Diff<'_>) -> Option<BTreeSet<String>> {
    let files = diff.deltas().flat_map(|delta| {
        let path = |file: git2::DiffFile<'_>| file.path().map(|path| path.to_str().map(ToOwned::to_owned));
        [path(delta.old_file()), path(delta.new_file())]
    });
    files.flatten().collect()
}

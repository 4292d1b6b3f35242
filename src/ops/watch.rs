//! Follows a book at its remote, and tells what happens there: each thing once, also after a restart.
//!
//! It looks at what the remote has and not at the working folder: it takes no lock, needs nobody's name, moves no
//! branch and hinders nobody who works in the clone. What was told is kept in `.git/underlit/watch.json`, one step
//! behind the telling, so that a kill tells one thing twice at most and never loses one. Without a remote it follows
//! the branch that is checked out.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::news::{self, Event, News, Told};
use crate::fault::{Fault, Outcome};
use crate::git::{CommitId, GitError, Remote, Repo, Snapshot};
use crate::ids::ProjectId;
use crate::store::{BookFolder, safe_path, write};
use crate::trust::chain;
use crate::trust::changed;
use crate::trust::incoming::States;
use crate::trust::surroundings::Surroundings;

/// What was seen and told, as it is kept.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Seen {
    /// The commit that was looked at, to its last piece of news.
    tip: Option<CommitText>,
    /// The day on which every project was looked at.
    day: Option<String>,
    /// What holds of each project and was told, by key; of the book itself under the empty name.
    told: BTreeMap<String, BTreeSet<String>>,
}

/// What there is to tell of projects, and under the empty name of the shop; or why nothing can be told of this state.
type ToldNow = Result<Vec<(String, Told)>, Vec<Fault>>;

/// A commit as text.
type CommitText = String;

/// A book that is being followed.
#[derive(Debug)]
pub(crate) struct Watch {
    repo: Repo,
    remote: Option<Remote>,
    file: PathBuf,
    local: PathBuf,
    seen: Seen,
    /// True until everything that stood at the beginning has been taken note of.
    fresh: bool,
    _one_at_a_time: File,
}

/// Where to fetch from, for a thread of its own.
#[derive(Clone, Debug)]
pub(crate) struct Errand {
    root: PathBuf,
    remote: Option<Remote>,
}

impl Errand {
    /// Fetches, where there is a remote.
    ///
    /// # Errors
    /// As [`Repo::fetch`].
    pub(crate) fn run(&self, around_git: &crate::git::UserGit) -> Outcome<()> {
        if let Some(remote) = &self.remote {
            let repo = Repo::open(&self.root)?.with_needed_past(around_git, remote)?;
            repo.fetch(around_git, remote, None)?;
        }
        Ok(())
    }
}

/// Something to tell, with the key to say that it was told.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    /// Under which project it is kept; empty for the book.
    folder: String,
    /// Its key.
    key: String,
    /// The news.
    pub news: News,
}

impl Watch {
    /// Begins to follow, or goes on where it ended.
    ///
    /// # Errors
    /// `watched-already` where another one does, and what git and the disk say.
    pub(crate) fn begin(from: &Path, remote: Option<&str>) -> Outcome<Watch> {
        let book = BookFolder::find(from)?;
        let repo = Repo::open(book.root())?;
        let local = repo.clone_local_dir()?;
        let io = |e: std::io::Error| Box::new(safe_path::io_fault(".git/underlit/watch.lock", "write", &e));
        let lock = local.join("watch.lock");
        let held = OpenOptions::new().create(true).truncate(false).write(true).open(&lock).map_err(io)?;
        match held.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let fault = Fault::io("watched-already", "another `underlit watch` follows this book here");
                return Err(Box::new(fault.fix("let it run, or end it first")));
            }
            Err(TryLockError::Error(e)) => return Err(io(e)),
        }
        let remote = match repo.remote(remote) {
            Err(GitError::NoRemote { name: None }) => None,
            found => Some(found?),
        };
        let file = local.join("watch.json");
        let (seen, fresh) = match fs::read(&file) {
            Ok(bytes) => match serde_json::from_slice(&bytes) {
                Ok(seen) => (seen, false),
                Err(e) => {
                    let fault = Fault::data("watch-unreadable", format!("what was told cannot be read: {e}"));
                    return Err(Box::new(
                        fault.in_file(".git/underlit/watch.json").fix("take the file out, to begin anew"),
                    ));
                }
            },
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => (Seen::default(), true),
            Err(e) => return Err(Box::new(safe_path::io_fault(".git/underlit/watch.json", "read", &e))),
        };
        Ok(Watch { repo, remote, file, local, seen, fresh, _one_at_a_time: held })
    }

    /// What to fetch before the next look.
    #[must_use]
    pub(crate) fn errand(&self) -> Errand {
        Errand { root: self.repo.root().to_path_buf(), remote: self.remote.clone() }
    }

    /// Looks at what is there now. At the very first look everything that stands is taken note of in silence, unless
    /// `tell_all`.
    ///
    /// # Errors
    /// What git and the disk say.
    pub(crate) fn look(
        &mut self,
        around: &Surroundings<'_>,
        tell_all: bool,
    ) -> Result<Vec<Item>, Vec<Fault>> {
        // A history that is cut off may begin elsewhere now.
        self.repo = Repo::open(self.repo.root())?;
        let tip = match &self.remote {
            Some(remote) => self.repo.last_seen(remote)?,
            None => self.repo.head()?,
        };
        let Some(tip) = tip else { return Ok(Vec::new()) };
        let day = around.today().to_string();
        let before = self.seen.tip.as_deref().and_then(|t| t.parse::<CommitId>().ok());
        let new_day = self.seen.day.as_deref() != Some(day.as_str());
        if before == Some(tip) && !new_day && !self.has_untold() {
            return Ok(Vec::new());
        }
        let (mut items, told) = self.survey(before, tip, new_day, around)?;
        match told {
            Ok(now) => {
                for (id, told) in now {
                    self.compare(&id, told, &mut items);
                }
            }
            Err(faults) => {
                let first = faults.first().map(ToString::to_string).unwrap_or_default();
                let text = format!("the remote's book fails verification: {first}");
                let news = News::of_the_book(Event::Refused, text);
                let key = format!("refused:{tip}");
                if !self.is_told("", &key) {
                    items.push(Item { folder: String::new(), key, news });
                }
            }
        }
        if self.fresh && !tell_all {
            for item in items.drain(..) {
                self.note(&item);
            }
        }
        if items.is_empty() {
            self.settle(tip, &day)?;
        } else {
            self.keep()?;
        }
        self.fresh = false;
        Ok(items)
    }

    /// What came in, and what there is to tell of every project that may have news; or why nothing can be told.
    fn survey(
        &self,
        before: Option<CommitId>,
        tip: CommitId,
        new_day: bool,
        around: &Surroundings<'_>,
    ) -> Result<(Vec<Item>, ToldNow), Vec<Fault>> {
        let after = self.repo.snapshot(tip)?;
        let old = before.and_then(|before| self.repo.snapshot(before).ok());
        let mut items = Vec::new();
        if let (Some(before), Some(_)) = (before.filter(|before| *before != tip), &old) {
            self.arrivals(before, tip, &mut items)?;
        }
        let changed = match &old {
            Some(old) => old.changes(&after, "")?,
            None => Vec::new(),
        };
        let shop_changed = changed.iter().any(|change| !change.path.starts_with("projects/"));
        let projects = if old.is_none() || new_day || shop_changed {
            projects_in(&after)?
        } else {
            changed::projects_of(&changed)
        };
        Ok((items, self.told_now(&after, &projects, around)))
    }

    /// Says that something was told.
    ///
    /// # Errors
    /// What the disk says.
    pub(crate) fn told(&mut self, item: &Item) -> Outcome<()> {
        self.note(item);
        self.keep()
    }

    fn has_untold(&self) -> bool {
        // The tip moves on only once all of its news is told.
        self.seen.tip.is_none()
    }

    fn note(&mut self, item: &Item) {
        self.seen.told.entry(item.folder.clone()).or_default().insert(item.key.clone());
    }

    fn is_told(&self, folder: &str, key: &str) -> bool {
        self.seen.told.get(folder).is_some_and(|keys| keys.contains(key))
    }

    /// All of a tip's news is told.
    fn settle(&mut self, tip: CommitId, day: &str) -> Outcome<()> {
        self.seen.tip = Some(tip.to_string());
        self.seen.day = Some(day.to_owned());
        // What came in is known by the tip from now on.
        if let Some(book) = self.seen.told.get_mut("") {
            book.retain(|key| key.starts_with("refused:") || is_of_the_shop(key));
        }
        self.keep()
    }

    fn keep(&self) -> Outcome<()> {
        let bytes = write::to_bytes(&self.seen)?;
        write::write_whole(&self.file, &bytes)
            .map_err(|e| Box::new(safe_path::io_fault(".git/underlit/watch.json", "write", &e)))
    }

    fn arrivals(&self, before: CommitId, tip: CommitId, items: &mut Vec<Item>) -> Result<(), GitError> {
        let mut commits = self.repo.log_between(before, tip)?;
        commits.reverse();
        for commit in commits {
            let key = format!("arrived:{}", commit.id);
            if self.is_told("", &key) {
                continue;
            }
            let first = commit.message.lines().next().unwrap_or_default();
            let news = News::of_the_book(Event::Arrived, format!("{} — {first}", commit.author.name));
            items.push(Item { folder: String::new(), key, news });
        }
        let lost = self.repo.log_between(tip, before)?.len();
        let key = format!("lost:{before}");
        if lost > 0 && !self.is_told("", &key) {
            let text = format!("the remote's branch was rewritten, and {lost} commits are no longer on it");
            items.push(Item { folder: String::new(), key, news: News::of_the_book(Event::Refused, text) });
        }
        Ok(())
    }

    /// What there is to tell of some projects of a state, each with its name.
    fn told_now(
        &self,
        state: &Snapshot<'_>,
        projects: &BTreeSet<ProjectId>,
        around: &Surroundings<'_>,
    ) -> ToldNow {
        let mut states = States::default();
        let (chain, shop) = (states.chain(state)?, states.shop(state)?);
        chain::compare_with_pin(&self.local, &chain)?;
        let mut found = vec![(String::new(), news::of_the_shop(&shop))];
        for id in projects {
            found.push((id.to_string(), news::of_project(state, (&chain, &shop), id, around)?));
        }
        Ok(found)
    }

    /// What of a project's news was not told; what no longer holds is forgotten.
    fn compare(&mut self, folder: &str, now: Told, items: &mut Vec<Item>) {
        if let Some(keys) = self.seen.told.get_mut(folder) {
            // Under the empty name other things of the book are kept as well.
            keys.retain(|key| now.contains_key(key) || (folder.is_empty() && !is_of_the_shop(key)));
        }
        let mut new: Vec<(String, News)> =
            now.into_iter().filter(|(key, _)| !self.is_told(folder, key)).collect();
        new.sort_by_key(|(_, news)| news.event);
        items.extend(new.into_iter().map(|(key, news)| Item { folder: folder.to_owned(), key, news }));
    }
}

/// True for the key of something that is told of the shop as long as it is so.
fn is_of_the_shop(key: &str) -> bool {
    key.starts_with("question:")
}

/// Every project of a state.
fn projects_in(state: &Snapshot<'_>) -> Result<BTreeSet<ProjectId>, GitError> {
    Ok(state.folders("projects")?.iter().filter_map(|(name, _)| name.parse().ok()).collect())
}

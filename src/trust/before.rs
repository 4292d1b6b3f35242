//! What was found sound in this clone before, so that a check of everything costs what changed since.
//!
//! A project is sound where nothing is wrong in its folder and nothing is asked about it, so that its own files, the roster,
//! the shop and this build of the program say all of it. Files count as unchanged where the file system says the same of
//! them as before; what changed just before a look is looked at again. Sheets are known by what they are drawn from
//! ([`Known`]).
//!
//! What is kept is believed only as this person left it ([`Keyed`]), and may be taken away at any time.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::alike::Noted;
use super::chain::Chain;
use super::keyed::Keyed;
use super::redraw::Known;
use super::shop;
use super::surroundings::Surroundings;
use crate::git::{CommitId, Repo, disk_time, stamp_of_all_in};
use crate::ids::ProjectId;
use crate::model::snapshot::Shop;
use crate::parallel::in_parallel;
use crate::store::{BookFiles as _, BookFolder};

/// The file beside the clone's pin.
const FILE: &str = "checked";

/// What was found before, and what is found now.
#[derive(Debug, Default)]
pub struct Before {
    /// The sheets that were drawn again and found the same.
    pub(super) sheets: Known,
    keyed: Option<Keyed>,
    build: String,
    /// The time by the clone's disk, where anything can be told apart at all.
    began: Option<i128>,
    /// What the file system says of each project's files now.
    stamps: BTreeMap<ProjectId, u64>,
    kept: Kept,
    changed: bool,
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    /// Build, roster and shop: what was found under any other is worth nothing.
    under: String,
    /// A commit in which every entry is a plain file.
    plain: Option<String>,
    sound: BTreeMap<ProjectId, Sound>,
}

/// A project in which nothing is wrong.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sound {
    /// What the file system said of its files.
    stamp: u64,
    /// How many there are.
    files: usize,
    /// What notes are made of.
    noted: Noted,
}

impl Before {
    /// What is known in a clone; nothing where there is no clone, or no home folder to keep the key in.
    #[must_use]
    pub fn open(book: &BookFolder, around: &Surroundings<'_>) -> Self {
        let local = Repo::open(book.root()).and_then(|repo| repo.clone_local_dir()).ok();
        let keyed = Keyed::of(local.as_deref(), around);
        let began = local.as_deref().filter(|_| keyed.is_some() && !around.dry_run).and_then(disk_time);
        let sheets = Known::open(&**book, around).without_end();
        Before { sheets, keyed, build: around.build.clone(), began, ..Before::default() }
    }

    /// Looks at the files of a book or of one project of it, and forgets what is not known of them any more.
    pub(super) fn begin(&mut self, book: &BookFolder, only: Option<&ProjectId>, by: Option<(&Chain, &Shop)>) {
        let (Some(keyed), Some(began), Some((chain, shop))) = (&self.keyed, self.began, by) else { return };
        let names = book.names("projects").unwrap_or_default();
        let Ok(all) = names.iter().map(|name| name.parse()).collect::<Result<Vec<ProjectId>, _>>() else {
            // A name that is no project's may be taken for one on some disks.
            self.began = None;
            return;
        };
        let under = shop::rests_on(chain, shop, &self.build).hex();
        self.kept = keyed.read(FILE).filter(|kept: &Kept| kept.under == under).unwrap_or_default();
        self.kept.under = under;
        let looked: Vec<&ProjectId> = all.iter().filter(|id| only.is_none_or(|only| only == *id)).collect();
        let stamps = in_parallel(&looked, |id| {
            stamp_of_all_in(&book.root().join("projects").join(id.as_str()), began)
        });
        let stamped = looked.iter().zip(stamps).filter_map(|(id, stamp)| Some(((*id).clone(), stamp?)));
        self.stamps = stamped.collect();
        let known = self.kept.sound.len();
        let stamps = &self.stamps;
        self.kept.sound.retain(|id, sound| match looked.binary_search(&id) {
            Ok(_) => stamps.get(id) == Some(&sound.stamp),
            Err(_) => all.contains(id),
        });
        self.changed = self.kept.sound.len() != known;
    }

    /// True for a project that is as it was when it was found sound.
    pub(super) fn is_sound(&self, id: &ProjectId) -> bool {
        self.stamps.contains_key(id) && self.kept.sound.contains_key(id)
    }

    /// The sound projects that were looked at, with how many files each has and what notes are made of.
    pub(super) fn of_the_sound(&self) -> impl Iterator<Item = (&ProjectId, usize, &Noted)> {
        let sound = self.kept.sound.iter().filter(|(id, _)| self.stamps.contains_key(*id));
        sound.map(|(id, sound)| (id, sound.files, &sound.noted))
    }

    /// Notes that nothing is wrong with a project.
    pub(super) fn found_sound(&mut self, id: &ProjectId, files: usize, noted: Noted) {
        if let Some(stamp) = self.stamps.get(id).copied().filter(|_| self.began.is_some()) {
            self.kept.sound.insert(id.clone(), Sound { stamp, files, noted });
            self.changed = true;
        }
    }

    /// A commit in which every entry is a plain file; none where none is known.
    pub(super) fn plain(&self) -> Option<CommitId> {
        self.kept.plain.as_ref()?.parse().ok()
    }

    /// Notes such a commit.
    pub(super) fn found_plain(&mut self, commit: CommitId) {
        let plain = Some(commit.to_string());
        self.changed |= self.kept.plain != plain;
        self.kept.plain = plain;
    }

    /// Keeps it for the next time.
    pub fn keep(&self, around: &Surroundings<'_>) {
        self.sheets.keep(around);
        let all = (&self.keyed, self.began.filter(|_| self.changed && !self.kept.under.is_empty()));
        if let (Some(keyed), Some(_)) = all {
            keyed.write(FILE, &self.kept);
        }
    }
}

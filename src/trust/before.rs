//! What was found sound in this clone before, so that a check of everything costs what changed since.
//!
//! A project is sound where nothing is wrong in its folder and nothing is asked about it, so that its own files, the roster,
//! the shop, the notes in HEAD and this build of the program say all of it. Files count as unchanged where the file system says the same of
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
use crate::git::{CommitId, Repo};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::model::snapshot::Shop;
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
    /// The number of each project's files now, as [`Keyed::numbers`] tells it.
    numbers: BTreeMap<ProjectId, u64>,
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
    /// The commit whose notes were held against those that lie there.
    notes: Option<String>,
    sound: BTreeMap<ProjectId, Sound>,
}

/// A project in which nothing is wrong.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sound {
    /// The number of its files.
    number: u64,
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
        let keyed = Keyed::of(local.as_deref(), around).filter(|_| !around.dry_run);
        let sheets = Known::open(&**book, around).without_end();
        Before { sheets, keyed, build: around.build.clone(), ..Before::default() }
    }

    /// Looks at the files of a book or of one project of it, and forgets what is not known of them any more.
    pub(super) fn begin(
        &mut self,
        book: &BookFolder,
        only: Option<&ProjectId>,
        by: Option<(&Chain, &Shop)>,
        repo: Option<&Repo>,
    ) {
        let (Some(keyed), Some((chain, shop))) = (&self.keyed, by) else { return };
        let names = book.names("projects").unwrap_or_default();
        let Ok(all) = names.iter().map(|name| name.parse()).collect::<Result<Vec<ProjectId>, _>>() else {
            return; // a name that is no project's may be taken for one on some disks
        };
        let under = shop::rests_on(chain, shop, &self.build).hex();
        self.kept = keyed.read(FILE).filter(|kept: &Kept| kept.under == under).unwrap_or_default();
        self.kept.under = under;
        let looked: Vec<ProjectId> =
            all.iter().filter(|id| only.is_none_or(|only| only == *id)).cloned().collect();
        let numbers = keyed.numbers(book, &looked);
        let numbered = looked.iter().zip(numbers).filter_map(|(id, number)| Some((id.clone(), number?)));
        self.numbers = numbered.collect();
        let known = self.kept.sound.len();
        let numbers = &self.numbers;
        self.kept.sound.retain(|id, sound| match looked.binary_search(id) {
            Ok(_) => numbers.get(id) == Some(&sound.number),
            Err(_) => all.contains(id),
        });
        self.changed = self.kept.sound.len() != known;
        self.hold_to_head(repo);
    }

    /// Forgets the projects of which HEAD has other notes than the commit that theirs were held against.
    fn hold_to_head(&mut self, repo: Option<&Repo>) {
        let head = repo.and_then(|repo| repo.head().ok()?);
        let now = head.map(|head| head.to_string());
        if self.kept.notes == now {
            return;
        }
        let then = self.kept.notes.as_ref().and_then(|then| then.parse().ok());
        let changes = || {
            let (repo, then, now) = (repo?, then?, head?);
            repo.snapshot(then).ok()?.changes(&repo.snapshot(now).ok()?, "").ok()
        };
        match changes() {
            Some(changes) => {
                let notes = changes.iter().filter(|change| Kind::of_path(&change.path) == Some(Kind::Note));
                for id in notes.filter_map(|note| ProjectId::of_path(&note.path)) {
                    self.kept.sound.remove(&id);
                }
            }
            None => self.kept.sound.clear(),
        }
        self.kept.notes = now;
        self.changed = true;
    }

    /// True for a project that is as it was when it was found sound.
    pub(super) fn is_sound(&self, id: &ProjectId) -> bool {
        self.numbers.contains_key(id) && self.kept.sound.contains_key(id)
    }

    /// The sound projects that were looked at, with how many files each has and what notes are made of.
    pub(super) fn of_the_sound(&self) -> impl Iterator<Item = (&ProjectId, usize, &Noted)> {
        let sound = self.kept.sound.iter().filter(|(id, _)| self.numbers.contains_key(*id));
        sound.map(|(id, sound)| (id, sound.files, &sound.noted))
    }

    /// Notes that nothing is wrong with a project.
    pub(super) fn found_sound(&mut self, id: &ProjectId, files: usize, noted: Noted) {
        if let Some(number) = self.numbers.get(id).copied() {
            self.kept.sound.insert(id.clone(), Sound { number, files, noted });
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
        if let Some(keyed) = self.keyed.as_ref().filter(|_| self.changed && !self.kept.under.is_empty()) {
            keyed.write(FILE, &self.kept);
        }
    }
}

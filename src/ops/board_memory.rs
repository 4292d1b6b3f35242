//! The rows of the last look at the board, so that the next one costs what changed since.
//!
//! A row follows from the files of its project, from the shop as its roster seals it, from the day and from this build of
//! the program. Files count as unchanged where the file system says the same of them as before, as git's own index
//! knows its files; what changed just before a look is looked at again. Rows that rest on more are never kept: those with
//! open questions (the history tells who asked them), and those of projects that cannot be read.
//!
//! What is kept is believed only as this person left it ([`Keyed`]), and may be taken away at any time.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::board::Row;
use super::reading::Reading;
use crate::ids::ProjectId;
use crate::store::BookFolder;
use crate::trust::keyed::Keyed;
use crate::trust::surroundings::Surroundings;

/// The file beside the clone's pin.
const FILE: &str = "board";

/// What the last look saw, and what this one sees.
#[derive(Debug)]
pub(crate) struct Memory {
    keyed: Option<Keyed>,
    kept: Kept,
    seen: BTreeMap<ProjectId, u64>,
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    /// Build, day and shop: rows of any other are worth nothing.
    under: String,
    rows: BTreeMap<ProjectId, (u64, Row)>,
}

impl Memory {
    /// What is known of a book; nothing where it is no clone, or questions about the shop's own files are open.
    #[must_use]
    pub(crate) fn open(reading: &Reading, around: &Surroundings<'_>) -> Memory {
        let local = reading.clone_local();
        let local = local.filter(|_| reading.shop.conflicts.is_empty() && !around.dry_run);
        let keyed = Keyed::of(local.as_deref(), around);
        let under = format!("{}\n{}", around.today(), reading.rests_on(around));
        let kept =
            keyed.as_ref().and_then(|keyed| keyed.read(FILE)).filter(|kept: &Kept| kept.under == under);
        let kept = kept.unwrap_or_else(|| Kept { under, ..Kept::default() });
        Memory { keyed, kept, seen: BTreeMap::new() }
    }

    /// Looks at each project's files, and gives the rows of those that are as they were.
    pub(crate) fn look(
        &mut self,
        book: &BookFolder,
        projects: Vec<ProjectId>,
    ) -> Vec<(ProjectId, Option<Row>)> {
        let Some(keyed) = &self.keyed else { return projects.into_iter().map(|id| (id, None)).collect() };
        let numbers = keyed.numbers(book, &projects);
        let of = |(id, number): (ProjectId, Option<u64>)| {
            let Some(number) = number else { return (id, None) };
            self.seen.insert(id.clone(), number);
            let row = self.kept.rows.get(&id).filter(|(then, _)| *then == number).map(|(_, row)| row.clone());
            (id, row)
        };
        projects.into_iter().zip(numbers).map(of).collect()
    }

    /// Keeps the rows for the next time; writes nothing where they are those that were kept.
    pub(crate) fn keep(self, rows: &[Row]) {
        let Some(keyed) = self.keyed else { return };
        let lasting = rows.iter().filter(|row| row.questions == 0 && row.faults.is_empty());
        let stamped: Vec<(u64, &Row)> =
            lasting.filter_map(|row| Some((*self.seen.get(&row.id)?, row))).collect();
        let known =
            |(stamp, row): &(u64, &Row)| self.kept.rows.get(&row.id).is_some_and(|(then, _)| then == stamp);
        if stamped.len() == self.kept.rows.len() && stamped.iter().all(known) {
            return;
        }
        let rows = stamped.into_iter().map(|(stamp, row)| (row.id.clone(), (stamp, row.clone()))).collect();
        keyed.write(FILE, &Kept { under: self.kept.under, rows });
    }
}

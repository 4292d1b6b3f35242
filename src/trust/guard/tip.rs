//! What must hold of the last commit of a push: the state that everybody works with from now on.

use super::{End, Judge, beside_records};
use crate::fault::Means;
use crate::git::{CommitId, Uninspected};
use crate::trust::chain::Chain;
use crate::trust::changed::{self, Changed, Whose};
use crate::trust::redraw::Known;
use crate::trust::tree_files::TreeFiles;
use crate::trust::verify::Start;

/// The most sheets that one push may bring to be drawn again.
const SHEETS: usize = 2_000;

impl Judge<'_, '_> {
    pub(super) fn tip(&mut self, old: Option<CommitId>, new: CommitId) -> Result<(), End> {
        let state = self.inspector.snapshot(Some(new))?;
        let chain = self.states.chain(&state)?;
        self.identity(&chain)?;
        let changes = self.inspector.changes(old, new)?;
        let mut faults = beside_records::faults(self.inspector, &old.into_iter().collect::<Vec<_>>(), new)?;
        let shop = self.states.shop(&state);
        let known = Known::upto(SHEETS);
        let changed = Changed {
            book: &TreeFiles::of_changes(&state, &changes)?,
            chain: &chain,
            rules: shop.as_ref().ok().map(|shop| &shop.rules),
            files: changed::by_path(&changes),
            unsaid: changed::unsaid_on_sheets(&state, &changes).map_err(Uninspected::from)?,
            whose: Whose::Pushed,
        };
        let of_changes = changed.faults(&known, super::ENOUGH, &|| self.in_time().map_err(|end| end.0))?;
        let marked: Vec<&String> =
            of_changes.iter().filter(|f| f.means == Means::Marked).filter_map(|f| f.file.as_ref()).collect();
        // A file with marks of a merge is no JSON either; the marks say more.
        let shop = shop.err().unwrap_or_default().into_iter();
        faults.extend(shop.filter(|f| f.file.as_ref().is_none_or(|file| !marked.contains(&file))));
        faults.extend(of_changes);
        if known.passed_over() > 0 {
            let what = format!("more than {SHEETS} sheets to be drawn again");
            return Err(Uninspected::TooMuch(what).into());
        }
        faults.dedup();
        self.judgement.findings.extend(faults.into_iter().map(Into::into));
        if old.is_none() {
            self.judgement.begun = Some(chain.fingerprint());
        }
        Ok(())
    }

    /// Whether it is the book that this repository holds, or is to hold, with the roster that it had or a later one.
    fn identity(&self, chain: &Chain) -> Result<(), End> {
        let start = match (&self.before, self.options.fingerprint) {
            (Some(before), _) => Start::after(before),
            (None, Some(told)) => Start::told(told),
            (None, None) => Start::default(),
        };
        start.holds(chain).map_err(|fault| End(vec![*fault]))
    }
}

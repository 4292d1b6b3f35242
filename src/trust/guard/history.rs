//! What must hold of every commit that comes, because no later commit can fix it.
//!
//! First the shape of all commits is judged: names, kinds, sizes, add-only files. Only a history whose shape holds is
//! read further: its rosters, its statements, its moves. Each statement is judged in the state that first has it,
//! with the roster and the rules of that state, as whoever signed it saw them.

use std::collections::{BTreeMap, BTreeSet};

use super::{End, Finding, Judge, Sorted, Where, is_of_this_machine};
use crate::fault::{Fault, Means};
use crate::git::{CommitId, Inspected, Uninspected};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::secrets;
use crate::trust::beside;
use crate::trust::changed::{self, Whose};
use crate::trust::incoming;
use crate::trust::project;
use crate::trust::tree_files::TreeFiles;
use crate::trust::verify::{moves, passage};

impl Judge<'_, '_> {
    /// Judges every commit that `new` has and `old` has not.
    pub(super) fn history(&mut self, old: Option<CommitId>, new: CommitId) -> Result<(), End> {
        let commits = self.inspector.between(&old.into_iter().collect::<Vec<_>>(), new)?;
        self.judgement.commits = commits.len();
        // Inspected twice, so that no more than one commit is held in memory.
        for id in &commits {
            self.in_time()?;
            let commit = self.inspector.inspect(*id)?;
            self.shape(&commit, old.is_none())?;
            if self.enough() {
                return Ok(());
            }
        }
        if !self.judgement.is_good() {
            return Ok(());
        }
        for id in &commits {
            self.in_time()?;
            let commit = self.inspector.inspect(*id)?;
            self.words(&commit)?;
            if self.enough() {
                break;
            }
        }
        Ok(())
    }

    /// Sorts every commit that `new` has and none of `old` has. What rests on a refused commit is not read: no roster
    /// and no statement of it could be believed.
    pub(super) fn sorted(&mut self, old: &[CommitId], new: CommitId) -> Result<Sorted, End> {
        let commits = self.inspector.between(old, new)?;
        let mut clean = BTreeSet::new();
        let mut sorted = Sorted::default();
        let coming: BTreeSet<CommitId> = commits.iter().copied().collect();
        let beginnings = commits.iter().filter(|id| self.inspector.is_beginning(**id)).count();
        for id in commits {
            if let Some(by) = self.inspector.unreadable(id) {
                let fault = Fault::data(
                    "commit-unreadable",
                    "its author or committer is malformed, so programs cannot read it",
                )
                .fix("make the commit again with git itself");
                sorted.refused.push(Finding { fault, commit: Some(Where { commit: id, by }) });
                continue;
            }
            let behind = self.inspector.parents(id)?;
            if behind.iter().any(|parent| coming.contains(parent) && !clean.contains(parent)) {
                continue;
            }
            let commit = match self.inspector.inspect(id) {
                Ok(commit) => commit,
                // More than is looked at in one go is refused like any other fault of a commit.
                Err(Uninspected::TooMuch(_)) if self.inspector.author(id).is_ok() => {
                    let by = self.inspector.author(id)?.name;
                    let fault = Fault::data("too-much", "this commit holds more than is checked at once")
                        .fix("make the change in smaller commits");
                    sorted.refused.push(Finding { fault, commit: Some(Where { commit: id, by }) });
                    continue;
                }
                Err(error) => return Err(error.into()),
            };
            // What came with the one beginning has no state before it to be judged in.
            self.by_signature = beginnings == 1 && commit.parents.is_empty() || self.taken_back.contains(&id);
            self.shape(&commit, old.is_empty())?;
            // Nor has what lies where the history is cut off: whoever takes the last state judges that as it stands now, when
            // its signer may have lost a role or a key since.
            if self.judgement.is_good()
                && !commit.cut_off
                && let Err(end) = self.words(&commit)
            {
                if is_of_this_machine(&end.0) {
                    return Err(end);
                }
                self.note(&commit, end.0);
            }
            let found = std::mem::take(&mut self.judgement.findings);
            if found.is_empty() {
                clean.insert(id);
                sorted.clean.push(id);
            }
            sorted.refused.extend(found);
            if sorted.refused.len() >= super::ENOUGH {
                break;
            }
        }
        Ok(sorted)
    }

    /// True for a fault of a move that was taken back since, or leads nowhere, in the state of a later commit.
    pub(super) fn is_taken_back(&mut self, fault: &Fault, later: CommitId) -> bool {
        let Some(path) = fault.file.as_deref().filter(|_| fault.means == Means::WrongMove) else {
            return false;
        };
        let (Some(id), Some(digest)) = (ProjectId::of_path(path), moves::digest_of(path)) else {
            return false;
        };
        let Ok(state) = self.inspector.snapshot(Some(later)) else { return false };
        let now = self.states.chain(&state).and_then(|chain| {
            let shop = self.states.shop(&state)?;
            let files = TreeFiles::of(&state, &[&format!("projects/{id}")])?;
            project::load(&files, &chain, &shop.rules, &id)
        });
        now.is_ok_and(|now| moves::is_answered(&now, digest))
    }

    fn note(&mut self, commit: &Inspected, faults: impl IntoIterator<Item = Fault>) {
        let place = Where { commit: commit.id, by: commit.author.name.clone() };
        let found = faults.into_iter().map(|fault| Finding { fault, commit: Some(place.clone()) });
        self.judgement.findings.extend(found);
    }

    /// Names, kinds, sizes, and add-only files.
    fn shape(&mut self, commit: &Inspected, first_push: bool) -> Result<(), End> {
        let mut faults = Vec::new();
        if commit.parents.is_empty() && !first_push {
            faults.push(
                Fault::trust("another-beginning", "a commit without a parent starts another book")
                    .fix("take a fresh clone with `underlit join`, and make your changes there"),
            );
        }
        faults.extend(
            commit.unsafe_paths.iter().map(|one| {
                one.fault("take it out, or give it a plain name; a book holds only ordinary files")
            }),
        );
        let mut touched = BTreeSet::new();
        for change in commit.against.iter().flatten() {
            let merge = commit.parents.len() > 1;
            if let Some(fault) = changed::add_only(&change.path, change.kind(), merge, Whose::Pushed)
                && touched.insert(change.path.as_str())
            {
                faults.push(fault);
            }
        }
        let state = self.inspector.snapshot(Some(commit.id))?;
        for change in commit.brings() {
            let Some(entry) = change.after else { continue };
            if entry.kind == crate::git::EntryKind::Submodule {
                continue; // it is unsafe, and its content lies elsewhere
            }
            let size = state.size(entry).map_err(Uninspected::from)? as u64;
            let most = incoming::largest(&change.path);
            if size > most {
                let message = format!("the file has {size} bytes; at most {most} are taken");
                faults.push(
                    Fault::data("too-large", message)
                        .in_file(&change.path)
                        .fix("keep large files outside the book, or attach a smaller copy"),
                );
            } else if state.ask(entry, secrets::holds_private_key).map_err(Uninspected::from)? {
                faults.push(secrets::fault(&change.path));
            }
        }
        self.note(commit, faults);
        Ok(())
    }

    /// Rosters, statements and moves.
    fn words(&mut self, commit: &Inspected) -> Result<(), End> {
        let state = self.inspector.snapshot(Some(commit.id))?;
        if commit.against.iter().flatten().any(|change| change.path.starts_with("roster/"))
            && let Err(faults) = self.states.chain(&state)
        {
            self.note(commit, faults);
            return Ok(());
        }
        let mut spoken: BTreeMap<ProjectId, Vec<&str>> = BTreeMap::new();
        let mut beside = Vec::new();
        for change in commit.brings() {
            let path = change.path.as_str();
            match Kind::of_path(path) {
                Some(Kind::SignOff | Kind::Move) => {
                    if let Some(id) = ProjectId::of_path(path) {
                        spoken.entry(id).or_default().push(path);
                    }
                }
                Some(Kind::Signature | Kind::Scan | Kind::RosterSignature) => beside.push(path),
                _ => {}
            }
        }
        let folders: BTreeSet<&str> = beside.iter().filter_map(|p| Some(p.rsplit_once('/')?.0)).collect();
        let files = TreeFiles::of(&state, &folders.into_iter().collect::<Vec<_>>())?;
        self.note(commit, beside::faults(&files, beside.into_iter()));
        for (id, paths) in spoken {
            let faults = match self.states.shop(&state) {
                Ok(shop) => {
                    let chain = self.states.chain(&state)?;
                    let judged =
                        passage::of_statements(&state, (&chain, &shop), &id, &paths, !self.by_signature);
                    match judged {
                        Ok(passed) => passed.missed,
                        Err(faults) if is_of_this_machine(&faults) => return Err(End(faults)),
                        Err(faults) => faults,
                    }
                }
                Err(mut faults) => {
                    faults.insert(
                        0,
                        Fault::trust(
                            "unsealed-rules",
                            "it was signed under a shop that the owners had not sealed",
                        )
                        .in_file(paths.first().copied().unwrap_or_default())
                        .fix("let an owner seal the shop first: underlit roster seal; then sign again"),
                    );
                    faults
                }
            };
            self.note(commit, faults);
        }
        Ok(())
    }
}

//! What this clone has of its own, judged before anything is sent: commits made past this program with stock git, pulled
//! past it, or made here by mistake. Where they do not pass, a branch is made again without them, and nothing is lost:
//! what passes is made again, what people signed is kept, and the old branch stays under a name of its own.

use std::path::Path;

use super::again::{MadeAgain, make_again};
use super::judge::Judge;
use super::newest::newest;
use super::stop::Stop;
use super::{Asked, Here, Progress};
use crate::fault::{Class, Fault, Means};
use crate::git::{Bounds, CommitId, GitError, Pushed, Repo};
use crate::model::roster::Role;
use crate::model::rules::Rules;
use crate::ops::reading::Me;
use crate::store::BookFolder;
use crate::trust::chain::Chain;
use crate::trust::changed::{self, Changed, Whose};
use crate::trust::guard::{self, beside_records};
use crate::trust::redraw::Known;
use crate::trust::refused::{self, Refused};

/// Judges every commit of this clone that it has not judged before. Where one does not pass, and the remote had it once
/// and has it no more, or where it is asked for, the branch is made again without it.
///
/// # Errors
/// Why commits of this clone do not pass, with whose they are and what is to be done.
pub(super) fn settle(
    here: Here<'_>,
    asked: &Asked,
    tell: &mut dyn FnMut(Progress<'_>),
) -> Result<Option<MadeAgain>, Vec<Fault>> {
    let Here { repo, local, around, .. } = here;
    let Some(head) = repo.head()? else { return Ok(None) };
    let judged = refused::judged(repo, local);
    if judged == Some(head) {
        return Ok(None);
    }
    let before: Vec<CommitId> = judged.into_iter().collect();
    let inspector = repo.inspector(Bounds::after(&before));
    let sorted = guard::sort_history(&inspector, &before, head)?;
    // What a later commit could fix is looked at too: the remote may have let go of it.
    let state = match sorted.refused.is_empty() {
        true => passes(here, judged, head)?,
        false => true,
    };
    if sorted.refused.is_empty() && state {
        return Ok(None);
    }
    let remote = repo.remote(asked.remote.as_deref()).ok();
    if let Some(remote) = remote.as_ref().filter(|_| !asked.offline) {
        tell(Progress::Fetching);
        let (fetched, _) = repo.let_go_while(here.lock, || repo.fetch(&around.git, remote, None))?;
        fetched?;
        if repo.head()? != Some(head) {
            return Err(GitError::BranchMoved { branch: repo.branch()? }.into());
        }
    }
    let bad = sorted.refused_commits();
    let theirs = remote.as_ref().map(|remote| repo.last_seen(remote)).transpose()?.flatten();
    let there = theirs.is_some_and(|tip| bad.iter().any(|id| repo.has_behind(tip, *id)));
    let was_there = remote.as_ref().is_some_and(|remote| bad.iter().all(|id| repo.was_on(remote, *id)));
    if !state && !asked.drop_refused {
        let unsent = theirs.map(|theirs| inspector.between(&[theirs], head).map_err(unread)).transpose()?;
        let gone = |remote| unsent.iter().flatten().any(|id| repo.was_on(remote, *id));
        if !remote.as_ref().is_some_and(gone) {
            return Ok(None); // one's own, which an edit may still fix
        }
    }
    if !asked.drop_refused && state && (there || !was_there) {
        let why: Vec<Fault> = sorted.refused.iter().map(|found| found.clone().into_fault()).collect();
        let name =
            remote.as_ref().map_or_else(|| "no remote".to_owned(), |r| format!("{}/{}", r.name, r.branch));
        let stands = Refused::of(&name, theirs.unwrap_or(head), &sorted, &[], &why, &around.stamp());
        let first = if there {
            let message = format!(
                "this clone's own branch has changes that do not pass ({}), taken from {name} without \
                 underlit, as with `git pull`; nothing was sent",
                stands.whose_in_words()
            );
            if !around.dry_run {
                refused::note(local, Refused { here: true, ..stands })?;
            }
            Fault::trust(refused::HERE, message).that_means(Means::Whose).fix(
                "an owner takes it off the remote: underlit sync --drop-refused; then sync again. Your own work is kept",
            )
        } else {
            Fault::new(
                why.iter().map(|fault| fault.class).max().unwrap_or(Class::Trust),
                "unsent-refused",
                format!(
                    "a commit of this clone that was not sent yet does not pass ({}); nothing was sent",
                    stands.whose_in_words()
                ),
            )
            .that_means(Means::Whose)
            .fix(
                "to take it out of your branch and keep the rest of your work: underlit sync --drop-refused; what is taken out stays under refs/underlit/set-aside/",
            )
        };
        return Err([vec![first], why].concat());
    }
    let before = judged.and_then(|judged| match repo.has_behind(head, judged) {
        true => Some(judged),
        false => repo.shared(judged, head).ok().flatten(),
    });
    let clean: Vec<CommitId> = sorted.clean.iter().rev().copied().filter(|id| state || *id != head).collect();
    let start = newest(&clean, |commit| passes(here, before, commit))?.or(before);
    let Some(start) = start else {
        let why = sorted.refused.iter().map(|found| found.clone().into_fault());
        let none = Fault::trust("no-good-state", "no commit of this clone passes, from the first one on")
            .fix("take a fresh clone from the shop: underlit join ADDRESS FOLDER");
        return Err([none].into_iter().chain(why).collect());
    };
    let own: Vec<CommitId> = inspector.between(&[start], head).map_err(unread)?;
    let own: Vec<CommitId> = own.into_iter().filter(|id| !bad.contains(id)).collect();
    if around.dry_run {
        return Ok(Some(MadeAgain {
            left_out: bad.into_iter().collect(),
            kept: own.len(),
            old: String::new(),
        }));
    }
    let made = make_again(here, (start, head), &own, tell)?;
    repo.move_branch(here.lock, Some(head), made.head, "sync: made again without what does not pass")?;
    refused::note_judged(local, made.head)?;
    let left_out = bad.into_iter().chain(made.left_out).collect();
    Ok(Some(MadeAgain { left_out, kept: made.kept, old: made.old }))
}

/// True where the state of a commit passes, as what it changes since another is checked when it comes in.
fn passes(here: Here<'_>, before: Option<CommitId>, commit: CommitId) -> Result<bool, Vec<Fault>> {
    let mut judge = Judge::new(here.repo, here.local);
    judge.pinned = false;
    match judge.state(before, commit, &[]).map_err(Stop::reason) {
        Ok(_) => Ok(true),
        Err(reason) if guard::is_of_this_machine(&reason) => Err(reason),
        Err(_) => Ok(false),
    }
}

/// The commits that could not be listed.
fn unread(why: crate::git::Uninspected) -> Vec<Fault> {
    match why {
        crate::git::Uninspected::Git(error) => error.into(),
        crate::git::Uninspected::TooMuch(what) => {
            vec![
                Fault::data("too-much", format!("there is more than can be checked at once: {what}"))
                    .fix("take a fresh clone with `underlit join`"),
            ]
        }
    }
}

/// Takes what is refused off the remote: the branch there is put to what this clone has, with everything good of the
/// refused part made again on it. What is refused stays in this clone under a name of its own.
///
/// No signed word goes with it. Every clone judges for itself, so what is taken off is what no clone takes; what is not
/// refused comes back with the next sync of whoever has it.
///
/// # Errors
/// `role` for anybody but an owner; what the remote says.
pub(super) fn drop_from_remote(
    here: Here<'_>,
    asked: &Asked,
    sorted: &guard::Sorted,
    tell: &mut dyn FnMut(Progress<'_>),
) -> Result<Option<MadeAgain>, Vec<Fault>> {
    let Here { repo, book, lock, local, around } = here;
    let remote = repo.remote(asked.remote.as_deref())?;
    let (Some(head), Some(theirs)) = (repo.head()?, repo.last_seen(&remote)?) else { return Ok(None) };
    let chain = Chain::load(book)?;
    let me = Me::asking(local, around)?;
    if !me.as_ref().is_some_and(|me| chain.newest().has_role(me, Role::Owner)) {
        let owners: Vec<String> = chain.newest().in_role(Role::Owner).map(|p| p.name.clone()).collect();
        return Err(vec![
            Fault::usage("role", "only an owner takes commits off the remote")
                .fix(format!("ask {}; your own clone is at the last good state", owners.join(" or "))),
        ]);
    }
    let inspector = repo.inspector(Bounds::default());
    // Where the last state alone does not pass, each commit shows by itself whether it fits.
    let bad = sorted.refused_commits();
    let rest = inspector.between(&[head], theirs).map_err(unread)?;
    let own: Vec<CommitId> = rest.into_iter().filter(|id| !bad.contains(id)).collect();
    if around.dry_run {
        return Ok(Some(MadeAgain {
            left_out: bad.into_iter().collect(),
            kept: own.len(),
            old: String::new(),
        }));
    }
    let made = make_again(here, (head, theirs), &own, tell)?;
    if made.head != head {
        repo.move_branch(lock, Some(head), made.head, "sync: the good of what was refused")?;
    }
    refused::note_judged(local, made.head)?;
    tell(Progress::Pushing);
    let (pushed, _) = repo.let_go_while(lock, || repo.push_back(&around.git, &remote, theirs, made.head))?;
    match pushed {
        Ok(Pushed::Race) => {
            return Err(vec![
                Fault::io("sync-race-lost", "the remote changed meanwhile; nothing was taken off it")
                    .fix("run `underlit sync --drop-refused` again; your work is safe here"),
            ]);
        }
        Ok(_) => {}
        Err(error @ (GitError::PushRefused { .. } | GitError::HookRefused { .. })) => {
            let mut faults: Vec<Fault> = error.into();
            for fault in &mut faults {
                fault.remedy = Some(format!(
                    "whoever keeps the remote puts its branch back there, once: git -C REPOSITORY update-ref refs/heads/{} {} {theirs}; then sync again. Your work is safe here",
                    remote.branch,
                    repo.shared(made.head, theirs)?
                        .map_or_else(|| "LAST-GOOD-COMMIT".to_owned(), |id| id.to_string()),
                ));
            }
            return Err(faults);
        }
        Err(error) => return Err(error.into()),
    }
    refused::clear(local)?;
    let left_out = bad.into_iter().chain(made.left_out).collect();
    Ok(Some(MadeAgain { left_out, kept: made.kept, old: made.old }))
}

/// What is wrong with this clone's own commits that were not judged yet: for a merge that another git asks for.
///
/// # Errors
/// What git and the disk say.
pub(super) fn own_faults(
    repo: &Repo,
    book: &BookFolder,
    local: &Path,
    by: (&Chain, &Rules),
) -> Result<Vec<Fault>, Vec<Fault>> {
    let mut found = Vec::new();
    if let Some(head) = repo.head()? {
        let judged: Vec<CommitId> = refused::judged(repo, local).into_iter().collect();
        let sorted = guard::sort_history(&repo.inspector(Bounds::after(&judged)), &judged, head)?;
        found.extend(sorted.refused.into_iter().map(guard::Finding::into_fault));
    }
    if found.is_empty() {
        found.extend(unsent_faults(repo, book, local, by)?);
    }
    if !found.is_empty() {
        let first = Fault::trust(
            "unsent-refused",
            "what is committed here already does not pass; nothing was merged",
        )
        .that_means(Means::Whose)
        .fix("put that right first: underlit sync says how");
        found.insert(0, first);
    }
    Ok(found)
}

/// What is wrong with the last state of what was committed here past this program and not yet judged.
pub(super) fn unsent_faults(
    repo: &Repo,
    book: &BookFolder,
    local: &Path,
    (chain, rules): (&Chain, &Rules),
) -> Result<Vec<Fault>, Vec<Fault>> {
    let (Ok(remote), Some(head)) = (repo.remote(None), repo.head()?) else { return Ok(Vec::new()) };
    let judged = refused::judged(repo, local);
    if judged == Some(head) {
        return Ok(Vec::new());
    }
    let after = repo.snapshot(head)?;
    // What was sent was checked when it was; before a first push everything is looked at.
    let before = match (judged, repo.last_seen(&remote)?) {
        (Some(judged), _) => Some(judged),
        (None, Some(seen)) => repo.shared(seen, head)?,
        (None, None) => None,
    };
    let before_all = before.is_none();
    let known: Vec<CommitId> = before.into_iter().collect();
    let before = repo.snapshot_of(before)?;
    let changes = before.changes(&after, "")?;
    let (files, unsaid) = (changed::by_path(&changes), changed::unsaid_on_sheets(&after, &changes)?);
    let changed = Changed { book, chain, rules: Some(rules), files, unsaid, whose: Whose::Own };
    let mut found = changed.faults(&Known::default(), usize::MAX, &|| Ok(()))?;
    found.extend(beside_records::faults(&repo.inspector(Bounds::after(&known)), &known, head)?);
    if before_all {
        // What is edited just now is looked at when it is taken in.
        let edits = repo.changed_paths("")?;
        found.retain(|fault| !fault.is_about(|path| edits.iter().any(|edit| edit.path == path)));
    }
    found.dedup();
    Ok(found)
}

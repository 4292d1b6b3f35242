//! Which names of a shared repository a push may move, and how.
//!
//! A book has one branch, which only ever grows. Tags may be put on its commits and stay there. Every other name is
//! refused, so that nothing can lie in a shared repository that nobody judged.

use super::{Finding, JudgeOptions, Judgement, judge};
use crate::fault::Fault;
use crate::git::{Bounds, CommitId, GitError, Hub, Inspector, Movement, Received};
use crate::words::counted;

/// The longest name of a tag.
const LONGEST_TAG: usize = 60;

/// Judges everything that one push would do.
#[must_use]
pub(crate) fn judge_push(hub: &Hub, lines: &str, bounds: Bounds, options: JudgeOptions<'_>) -> Judgement {
    judged(hub, lines, bounds, options).unwrap_or_else(|error| Judgement {
        findings: vec![Finding::from(*Box::<Fault>::from(error))],
        ..Judgement::default()
    })
}

fn judged(hub: &Hub, lines: &str, bounds: Bounds, options: JudgeOptions<'_>) -> Result<Judgement, GitError> {
    let branch = format!("refs/heads/{}", hub.branch()?);
    let received = match hub.received(lines) {
        Ok(received) => received,
        Err(_) => {
            let fault = Fault::usage("push-line", "the input is not a push: each line is `old new name`")
                .fix("git runs this as its hook; to judge by hand: underlit guard range OLD NEW");
            return Ok(Judgement { findings: vec![fault.into()], ..Judgement::default() });
        }
    };
    let inspector = hub.inspector(bounds);
    let mut whole = Judgement::default();
    // A hook that is told of nothing has not been asked by git.
    if received.is_empty() {
        whole.findings.push(
            Fault::usage("nothing-received", "the input has no line of a push")
                .fix("git runs this as its hook; to judge by hand: underlit guard range OLD NEW")
                .into(),
        );
    }
    let mut tip = hub.stands_at(&branch)?;
    for push in received.iter().filter(|push| push.name == branch) {
        let one = on_the_branch(&inspector, push, options)?;
        tip = push.new;
        whole.findings.extend(one.findings);
        whole.commits += one.commits;
        whole.begun = one.begun;
    }
    for push in received.iter().filter(|push| push.name != branch) {
        whole.findings.extend(elsewhere(hub, &inspector, push, &branch, tip)?.map(Finding::from));
    }
    Ok(whole)
}

fn on_the_branch(
    inspector: &Inspector<'_>,
    push: &Received,
    options: JudgeOptions<'_>,
) -> Result<Judgement, GitError> {
    let refused = |fault: Fault| Judgement { findings: vec![fault.into()], ..Judgement::default() };
    let (Some(new), true) = (push.new, push.movement != Movement::Removed) else {
        return Ok(refused(
            Fault::trust("branch-removed", "the book's branch must not be deleted")
                .fix("nothing to do; to leave the book, delete your own clone"),
        ));
    };
    if push.movement == Movement::Rewritten {
        return Ok(refused(rewritten(inspector, push.old, new)));
    }
    Ok(judge(inspector, push.old, new, options))
}

/// The fault of a push that leaves out what is there, naming what would be lost.
#[must_use]
pub(crate) fn rewritten(inspector: &Inspector<'_>, old: Option<CommitId>, new: CommitId) -> Fault {
    let lost = old.and_then(|old| inspector.between(&[new], old).ok()).unwrap_or_default();
    let newest = lost.last().and_then(|id| Some((id.short(), inspector.author(*id).ok()?.name)));
    let message = match newest {
        Some((id, by)) => format!(
            "this push leaves out {} that {} here already; the newest is {id} by {by}",
            counted(lost.len(), "commit", "commits"),
            if lost.len() == 1 { "is" } else { "are" },
        ),
        None => "this push leaves out what is here already".to_owned(),
    };
    Fault::trust("history-rewritten", message)
        .fix("run `underlit sync`, which brings both sides together; never push by force")
}

fn elsewhere(
    hub: &Hub,
    inspector: &Inspector<'_>,
    push: &Received,
    branch: &str,
    tip: Option<CommitId>,
) -> Result<Option<Fault>, GitError> {
    let short = branch.trim_start_matches("refs/heads/");
    let Some(tag) = push.name.strip_prefix("refs/tags/") else {
        let name = push.name.trim_start_matches("refs/heads/");
        let fault = if push.name.starts_with("refs/heads/") {
            Fault::trust("another-branch", format!("a book has one branch, {short}; {name} is not accepted"))
                .fix("bring the work into the book's branch with `underlit sync`")
        } else {
            Fault::trust("another-name", format!("{name} is neither the book's branch nor a tag"))
                .fix(format!("push the branch alone: git push REMOTE {short}"))
        };
        return Ok(Some(fault));
    };
    let plain = !tag.is_empty()
        && tag.len() <= LONGEST_TAG
        && tag.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b"-._".contains(&b));
    let fault = match (push.movement, push.new) {
        (Movement::Begun, Some(_)) if !plain => Some(
            Fault::data("tag-name", format!("the tag {tag} has a name that some systems cannot hold"))
                .fix("name it with a-z, 0-9, dots and dashes"),
        ),
        (Movement::Begun, Some(_)) if means_a_commit(tag, short) => Some(
            Fault::trust("tag-name", format!("the tag {tag} could be taken for a commit or a branch"))
                .fix("name it after what it marks, such as delivered-2027-04"),
        ),
        (Movement::Begun, Some(new)) => {
            let on_branch = match (hub.commit_of(new), tip) {
                (Ok(commit), Some(tip)) => inspector.follows(tip, commit)?,
                _ => false,
            };
            (!on_branch).then(|| {
                Fault::trust("tag-elsewhere", format!("the tag {tag} is on no commit of {short}"))
                    .fix(format!("put it on a commit of {short} that is pushed already"))
            })
        }
        _ => Some(
            Fault::trust("tag-moved", format!("the tag {tag} must not be moved or deleted"))
                .fix("make another tag with another name"),
        ),
    };
    Ok(fault)
}

/// True for a name by which git or a person would mean something else than a tag: the digits of a commit, also as
/// `git describe` writes them, the branch, or a name of git's own.
fn means_a_commit(tag: &str, branch: &str) -> bool {
    let digits = |text: &str| text.len() >= 4 && text.bytes().all(|b| b.is_ascii_hexdigit());
    let described = tag.rsplit_once("-g").is_some_and(|(_, digits_of)| digits(digits_of));
    let first = tag.split(['-', '.', '_']).next().unwrap_or(tag);
    let own = ["head", "fetch_head", "orig_head", "merge_head", "cherry_pick_head", "rebase_head", "stash"];
    digits(tag)
        || described
        || tag == branch.to_ascii_lowercase()
        || own.contains(&tag)
        || ["refs", "heads", "tags", "remotes", "origin"].contains(&first)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_that_could_be_taken_for_something_else() {
        for tag in
            ["dead", "0123456789", "main", "head", "orig_head", "refs", "heads.main", "origin", "v1-4-gdead1"]
        {
            assert!(means_a_commit(tag, "main"), "{tag}");
        }
        for tag in ["v1", "2027-04", "delivered-2027-04", "spring.2", "a1b", "wedge-glass"] {
            assert!(!means_a_commit(tag, "main"), "{tag}");
        }
    }
}

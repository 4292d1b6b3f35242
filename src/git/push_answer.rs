//! What a push came to, from what git printed: it arrived, somebody else won the race, the remote's checks refused it, or the
//! network failed.

use super::GitError;
use super::user_git::{is_progress, remote_failure, telling};

/// How a push ended that was not refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pushed {
    /// The remote took it.
    Done,
    /// There was nothing to push.
    UpToDate,
    /// Somebody else pushed first: fetch, merge and try again.
    Race,
}

/// Reads what `git push --porcelain` printed: a line per branch with flag, names and a reason.
pub(super) fn judge_push(remote: &str, stdout: &str, stderr: &str, ok: bool) -> Result<Pushed, GitError> {
    let line = stdout.lines().find_map(|line| {
        let (flag, rest) = line.split_once('\t')?;
        let (_, summary) = rest.split_once('\t')?;
        Some((flag, summary))
    });
    let Some((flag, summary)) = line else {
        return if ok { Ok(Pushed::UpToDate) } else { Err(remote_failure(remote, "push", stderr)) };
    };
    if flag != "!" {
        return if !ok {
            Err(remote_failure(remote, "push", stderr))
        } else if flag == "=" {
            Ok(Pushed::UpToDate)
        } else {
            Ok(Pushed::Done)
        };
    }
    let race = [
        "fetch first",
        "non-fast-forward",
        "stale info",
        "cannot lock ref",
        "failed to update ref",
        "failed to lock",
        "reference already exists",
        "incorrect old value",
        "is at ",
        // What a whole push says where its one branch moved in between.
        "atomic transaction failed",
    ];
    let broken =
        ["Permission denied", "Read-only file system", "No space left on device", "insufficient permission"];
    let sound = !broken.iter().any(|mark| stderr.contains(mark));
    let hook = ["hook declined", "hook refused"];
    if hook.iter().any(|mark| summary.contains(mark)) {
        return Err(GitError::HookRefused { remote: remote.to_owned(), words: hook_words(stderr) });
    }
    if sound && race.iter().any(|mark| summary.contains(mark)) {
        return Ok(Pushed::Race);
    }
    let reason = summary.rsplit_once('(').map_or(summary, |(_, reason)| reason.trim_end_matches(')'));
    let reason = if !sound || ["", "failure", "unpacker error"].contains(&reason) {
        telling(stderr)
    } else {
        reason.to_owned()
    };
    Err(GitError::PushRefused { remote: remote.to_owned(), reason })
}

/// What the remote's hook printed, without git's own frame around it; indented as it was.
fn hook_words(stderr: &str) -> Vec<String> {
    let lines = stderr.lines().filter(|line| !is_progress(line));
    let said = lines.filter_map(|line| line.strip_prefix("remote:")).map(str::trim_end);
    said.map(|line| line.strip_prefix(' ').unwrap_or(line))
        .filter(|line| !line.is_empty() && !line.starts_with("error: hook declined"))
        .map(ToOwned::to_owned)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_porcelain_lines_of_a_push() {
        let say = |line: &str| {
            judge_push("origin", &format!("To /hub\n{line}\nDone\n"), "", !line.starts_with('!'))
        };
        assert_eq!(say(" \ta:refs/heads/main\t1..2"), Ok(Pushed::Done));
        assert_eq!(say("*\ta:refs/heads/main\t[new branch]"), Ok(Pushed::Done));
        assert_eq!(say("=\ta:refs/heads/main\t[up to date]"), Ok(Pushed::UpToDate));
        for race in [
            "!\ta:refs/heads/main\t[rejected] (fetch first)",
            "!\ta:refs/heads/main\t[rejected] (non-fast-forward)",
            "!\ta:refs/heads/main\t[remote rejected] (cannot lock ref 'refs/heads/main': is at 1 but expected 2)",
            "!\ta:refs/heads/main\t[remote rejected] (failed to update ref)",
        ] {
            assert_eq!(say(race), Ok(Pushed::Race), "{race}");
        }
        assert_eq!(
            say("!\ta:refs/heads/main\t[remote rejected] (branch is currently checked out)"),
            Err(GitError::PushRefused {
                remote: "origin".into(),
                reason: "branch is currently checked out".into()
            })
        );
        let told = judge_push(
            "origin",
            "To /hub\n!\ta:refs/heads/main\t[remote rejected] (pre-receive hook declined)\nDone\n",
            "remote: no release without sign-off        \nremote: \nerror: failed to push some refs to '/hub'\n",
            false,
        );
        let words = vec!["no release without sign-off".to_owned()];
        assert_eq!(told, Err(GitError::HookRefused { remote: "origin".into(), words }));
    }
}

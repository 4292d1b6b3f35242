//! Sets a shared repository up: the hook that asks the judge, and what git itself is to refuse.

use std::path::{Path, PathBuf};

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::git::{Bounds, Deed, GitError, Hub, Setup};
use crate::trust::incoming::States;

/// The setting that holds the fingerprint of the book that a first push must bring.
pub(crate) const FINGERPRINT: &str = "underlit.fingerprint";

/// The setting that holds how long a judge may take, in seconds.
pub(crate) const SECONDS: &str = "underlit.guardSeconds";

/// How long a judge may take where nothing else is said, in seconds.
pub(crate) const USUAL_SECONDS: u64 = 300;

/// The most memory that a judge may ask for, in KiB: far more than it needs, and less than a machine has.
const MEMORY_KIB: u64 = 4 << 20;

/// By this line a hook of ours is known.
const MARK: &str = "# underlit guard: judges each push before it is taken.";

/// What the judge says to the hook where a push may be taken. An exit code alone is not believed: a shell takes an
/// empty file for a program that has nothing to do and did it well.
pub(crate) const TAKEN: &str = "underlit guard: taken";

/// How a shared repository is to be guarded.
#[derive(Clone, Debug)]
pub(crate) struct Wanted {
    /// The repository.
    pub repository: PathBuf,
    /// The program that the hook runs.
    pub program: PathBuf,
    /// The fingerprint of the book, where it is known already.
    pub fingerprint: Option<Sha256Digest>,
    /// The branch of the book, where it is not the one that HEAD names.
    pub branch: Option<String>,
    /// How long a judge may take, in seconds, where not as usual.
    pub seconds: Option<u64>,
}

/// What setting up a guard did, or would do.
#[derive(Clone, Debug)]
pub(crate) struct Installed {
    /// Each thing, in order; none where everything stood there already.
    pub deeds: Vec<Deed>,
    /// The branch that is guarded.
    pub branch: String,
    /// The fingerprint of the book that the repository holds already.
    pub holds: Option<Sha256Digest>,
}

/// Sets up the guard of a shared repository, or says what that would do.
///
/// # Errors
/// `not-bare`, `another-hook`, `no-program`, `branch-name`, `guarded-book`, `fingerprint-differs`; what git and the disk say.
pub(crate) fn install(wanted: &Wanted, dry_run: bool) -> Outcome<Installed> {
    let hub = Hub::open(&wanted.repository)?;
    if !hub.is_bare() {
        return Err(Box::new(
            Fault::usage(
                "not-bare",
                format!(
                    "{} is a clone to work in, and a guard stands before a repository that others push to",
                    wanted.repository.display()
                ),
            )
            .fix("make one with: git init --bare FOLDER.git, and let the clones push there"),
        ));
    }
    let program = program(&wanted.program)?;
    let head = hub.branch()?;
    let stands = hub.stands_at(&format!("refs/heads/{head}"))?;
    // Before a first push HEAD names whatever git was set to; books are made on `main`.
    let branch = match (&wanted.branch, stands) {
        (Some(branch), _) => branch.clone(),
        (None, Some(_)) => head,
        // HEAD may name what git was set to on that machine, beside the branch that was pushed.
        (None, None) => match hub.branches()?.as_slice() {
            [only] => only.trim_start_matches("refs/heads/").to_owned(),
            all if all.iter().any(|name| name == "refs/heads/main") || all.is_empty() => "main".to_owned(),
            _ => head,
        },
    };
    if branch.starts_with('-') || !git_takes(&branch) {
        return Err(Box::new(
            Fault::usage("branch-name", format!("`{branch}` is not a branch name")).fix("usually it is main"),
        ));
    }
    let holds = held(&hub, &branch)?;
    if let (Some(told), Some(held)) = (wanted.fingerprint, holds)
        && told != held
    {
        return Err(Box::new(
            Fault::trust(
                "fingerprint-differs",
                format!("this repository holds the book {held} already, and not {told}"),
            )
            .fix("name the repository of the other book, or leave --fingerprint out"),
        ));
    }
    let before = hub.setting(SECONDS).and_then(|text| text.parse().ok());
    let seconds = wanted.seconds.or(before).unwrap_or(USUAL_SECONDS);
    let setup = setup(wanted, &program, &branch, seconds);
    let deeds = hub.deeds(&setup).map_err(|error| match error {
        GitError::NotEmpty { path } => another_hook(&path, &program),
        other => other.into(),
    })?;
    if !dry_run {
        hub.set_up(&setup, &deeds)?;
    }
    Ok(Installed { deeds, branch, holds })
}

/// True where a guard stands before a repository on this machine.
#[must_use]
pub(crate) fn is_guarded(hub: &Hub) -> bool {
    hub.has_hook(MARK)
}

/// The fingerprint of the book that lies there already; none where nothing does.
fn held(hub: &Hub, branch: &str) -> Outcome<Option<Sha256Digest>> {
    let Some(tip) = hub.stands_at(&format!("refs/heads/{branch}"))? else { return Ok(None) };
    let inspector = hub.inspector(Bounds::default());
    let chain = inspector
        .snapshot(Some(tip))
        .map_err(|_| vec![Fault::io("git-damaged", "its newest commit cannot be read")])
        .and_then(|state| States::default().chain(&state));
    let chain = chain.map_err(|faults| {
        let why = faults.first().map_or_else(String::new, |fault| format!(": {fault}"));
        Box::new(
            Fault::trust("guarded-book", format!("{branch} there does not hold a valid book{why}"))
                .fix("put a sound book there first, or guard an empty repository; `underlit check` says what is wrong with a clone"),
        )
    })?;
    Ok(Some(chain.fingerprint()))
}

fn git_takes(branch: &str) -> bool {
    !branch.is_empty()
        && branch.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_./".contains(&b))
        && !branch.contains("..")
        && !branch.ends_with(['.', '/'])
        && !branch.starts_with(['.', '/'])
}

fn another_hook(path: &Path, program: &str) -> Box<Fault> {
    let there = path.display();
    Box::new(
        Fault::usage("another-hook", format!("another hook is at {there}; it was left as it is")).fix(format!(
            "move it away and install again; or let it hand the very lines that git gives it to: {program} guard check"
        )),
    )
}

fn program(path: &Path) -> Outcome<String> {
    let missing = |why: &str| {
        Box::new(
            Fault::usage("no-program", format!("{} {why}", path.display()))
                .fix("name where underlit lies on the machine that keeps the repository: --program /usr/local/bin/underlit"),
        )
    };
    if !path.is_absolute() {
        return Err(missing("is not an absolute path, which a hook needs"));
    }
    if !path.is_file() {
        return Err(missing("is not there"));
    }
    path.to_str()
        .filter(|text| !text.contains(['\n', '\r']))
        .map(|_| quoted(path))
        .ok_or_else(|| missing("has a name that a hook cannot hold"))
}

/// A path as a shell reads it, whatever is in it.
fn quoted(path: &Path) -> String {
    format!("'{}'", path.display().to_string().replace('\'', r"'\''"))
}

fn setup(wanted: &Wanted, program: &str, branch: &str, seconds: u64) -> Setup {
    let pair = |key: &str, value: &str| (key.to_owned(), value.to_owned());
    let mut settings = vec![
        // What git can refuse without a hook, it refuses too.
        pair("receive.denyDeletes", "true"),
        pair("receive.denyNonFastForwards", "true"),
        pair("receive.fsckObjects", "true"),
        pair("receive.shallowUpdate", "false"),
        // Whoever works on a few projects may clone those alone.
        pair("uploadpack.allowFilter", "true"),
        pair("uploadpack.allowAnySHA1InWant", "true"),
        // Who pushed what, for whoever keeps the repository.
        pair("core.logAllRefUpdates", "true"),
    ];
    if let Some(fingerprint) = &wanted.fingerprint {
        settings.push((FINGERPRINT.to_owned(), fingerprint.hex()));
    }
    if let Some(seconds) = wanted.seconds {
        settings.push((SECONDS.to_owned(), seconds.to_string()));
    }
    // A push is streamed to disk and has an end, before the hook sees it.
    let defaults = vec![
        // A pusher to a folder runs git's receiving end with settings of their own, of which one may name other hooks:
        // the repository's own wins. Git looks for it from the repository's folder, which may therefore move.
        pair("core.hooksPath", "hooks"),
        pair("receive.maxInputSize", "2147483648"),
        pair("core.bigFileThreshold", "16m"),
    ];
    Setup {
        script: script(program, seconds),
        mark: MARK.to_owned(),
        branch: Some(branch.to_owned()),
        settings,
        defaults,
    }
}

/// The hook. It needs no program but the judge, no home and no search path, and where the judge is missing or is
/// stopped, the push is refused.
fn script(program: &str, seconds: u64) -> String {
    // The judge looks at the clock itself, and says so; this ends one that has stopped looking.
    let processor = seconds.saturating_mul(3);
    format!(
        "#!/bin/sh\n\
         {MARK}\n\
         # Made by `underlit guard install`; run that again to renew it.\n\
         guard={program}\n\
         if [ ! -x \"$guard\" ]; then\n\
         \x20 echo \"underlit guard: the program $guard is missing, so nothing is taken.\" >&2\n\
         \x20 echo \"  Fix: let whoever keeps this repository install underlit there again.\" >&2\n\
         \x20 exit 6\n\
         fi\n\
         (ulimit -v {MEMORY_KIB}) 2>/dev/null && ulimit -v {MEMORY_KIB}\n\
         (ulimit -t {processor}) 2>/dev/null && ulimit -t {processor}\n\
         said=$(\"$guard\" guard check --say)\n\
         code=$?\n\
         if [ $code -gt 128 ]; then\n\
         \x20 echo \"underlit guard: the judge was stopped, so nothing is taken.\" >&2\n\
         \x20 echo \"  Fix: push in smaller parts, or ask whoever keeps this repository.\" >&2\n\
         elif [ $code -eq 0 ] && [ \"$said\" != \"{TAKEN}\" ]; then\n\
         \x20 echo \"underlit guard: $guard did not say that this push may be taken, so nothing is.\" >&2\n\
         \x20 echo \"  Fix: let whoever keeps this repository install underlit there again.\" >&2\n\
         \x20 exit 6\n\
         fi\n\
         exit $code\n"
    )
}

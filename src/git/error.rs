//! What can go wrong between a book and git, each with a stable code, a sentence and a remedy.
//!
//! What is not here: an unmergeable field. That is an open question, which is a value (`crate::merge`).

use std::fmt;
use std::path::PathBuf;

/// Why the history of a book could not be read, changed or exchanged.
///
/// `Display` says what is wrong and where; [`GitError::remedy`] says how to fix it; [`GitError::code`] is
/// stable for programs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GitError {
    /// No git repository at or above the folder.
    NoRepository {
        /// The folder that was looked at.
        path: PathBuf,
    },
    /// A git repository is already there.
    AlreadyRepository {
        /// The folder.
        path: PathBuf,
    },
    /// A bare repository has no files to work on.
    Bare {
        /// The repository.
        path: PathBuf,
    },
    /// The folder lies inside a repository but is not its top folder.
    NotTopFolder {
        /// The folder that was named.
        path: PathBuf,
        /// The top folder of its repository.
        top: PathBuf,
    },
    /// The folder belongs to another user, and git refuses to trust its settings.
    OtherOwner {
        /// The folder.
        path: PathBuf,
    },
    /// HEAD names a commit and not a branch.
    DetachedHead,
    /// Another git operation is half done.
    Busy {
        /// Which one: `merge`, `rebase`, `cherry-pick`, …
        operation: &'static str,
    },
    /// A second underlit works on the book.
    InUse {
        /// The locked file.
        lock: PathBuf,
        /// Who holds it, where that can be read.
        holder: Option<super::lock::Holder>,
    },
    /// The branch that is checked out has no commit, in a clone in which commits were made.
    BranchLost(super::lost::LostBranch),
    /// Git's index cannot be read.
    IndexUnreadable {
        /// What was found.
        words: String,
    },
    /// A lock file of git is in the way.
    GitLocked {
        /// What git said.
        words: String,
    },
    /// The index still holds paths that a git merge could not settle.
    Unmerged {
        /// The paths.
        paths: Vec<String>,
    },
    /// Only a part of the book is checked out.
    Sparse,
    /// A project that this clone does not hold lies in its folder.
    NotHeld {
        /// Its name.
        name: String,
    },
    /// The user's git is too old for a clone of a part.
    TooOld {
        /// What it says of itself.
        said: String,
    },
    /// Files that a partial clone lacks could not be had.
    NotHere {
        /// How many.
        count: usize,
        /// Why not.
        words: String,
    },
    /// The repository is stored in a way that this program cannot read.
    Unreadable {
        /// What git calls it.
        what: &'static str,
        /// The words of the library.
        words: String,
    },
    /// The book or the disk may not be written.
    NotWritable {
        /// The file or folder, or git's words.
        path: String,
    },
    /// The disk is full.
    DiskFull {
        /// The file or folder, or git's words.
        path: String,
    },
    /// A file name in the tree or folder that a book cannot hold.
    BadPath {
        /// The name, with unreadable bytes replaced.
        path: String,
        /// What is wrong with it.
        reason: &'static str,
    },
    /// A state of the book with more files and folders than are looked at.
    TooManyFiles {
        /// The most that are.
        most: usize,
        /// The folder in which the counting ended.
        at: String,
    },
    /// A path that should be a plain file is a symbolic link, a folder or something else.
    NotAFile {
        /// The path.
        path: String,
    },
    /// The name or the address of an author cannot stand in a commit.
    BadPerson {
        /// What was given.
        text: String,
    },
    /// No such commit here.
    NoSuchCommit {
        /// What was asked for.
        text: String,
    },
    /// The branch moved while the change was being made.
    BranchMoved {
        /// The branch.
        branch: String,
    },
    /// Files were edited while the result was being put in place, so nothing was overwritten.
    EditedMeanwhile {
        /// The files.
        paths: Vec<String>,
    },
    /// The book has no remote, or not the one that was named.
    NoRemote {
        /// The remote that was named, where one was.
        name: Option<String>,
    },
    /// Several remotes and none of them chosen.
    WhichRemote {
        /// The remotes.
        names: Vec<String>,
    },
    /// Nothing answers, or no repository is found, at the remote's address.
    RemoteGone {
        /// The remote.
        remote: String,
        /// Git's own words.
        words: String,
    },
    /// The key that the remote's host shows is not one that is known of it.
    HostUnknown {
        /// The remote.
        remote: String,
        /// Git's own words.
        words: String,
    },
    /// The certificate that the remote's host shows is not one that this machine trusts.
    NotTrusted {
        /// The remote.
        remote: String,
        /// Git's own words.
        words: String,
    },
    /// The remote did not accept who is asking.
    NotAdmitted {
        /// The remote.
        remote: String,
        /// Git's own words.
        words: String,
    },
    /// The network failed on the way.
    Network {
        /// The remote.
        remote: String,
        /// Git's own words.
        words: String,
    },
    /// The remote said nothing for so long that it is not waited for any more.
    RemoteSilent {
        /// The remote.
        remote: String,
        /// For how long.
        seconds: u64,
        /// What git had said until then.
        words: String,
    },
    /// The branch is no longer on the remote.
    RemoteBranchMissing {
        /// The remote.
        remote: String,
        /// The branch that was looked for.
        branch: String,
        /// The branches that are there.
        there: Vec<String>,
    },
    /// The remote's own checks said no.
    HookRefused {
        /// The remote.
        remote: String,
        /// What its hook said, one line each.
        words: Vec<String>,
    },
    /// The remote refused the push for another reason of its own.
    PushRefused {
        /// The remote.
        remote: String,
        /// The reason it gave.
        reason: String,
    },
    /// Others pushed first every time.
    RaceLost {
        /// How many times it was tried.
        attempts: u32,
    },
    /// The two histories share no commit.
    Unrelated {
        /// The remote or commit on the other side.
        other: String,
    },
    /// The history here is cut off before the commit that both sides share.
    Shallow,
    /// A clone goes into a new or empty folder only.
    NotEmpty {
        /// The folder.
        path: PathBuf,
    },
    /// The user's `git` program could not be started.
    NoGitProgram {
        /// What the system said.
        words: String,
    },
    /// The user's `git` failed in a way that has no case of its own.
    GitFailed {
        /// The git verb.
        verb: String,
        /// Git's own words.
        words: String,
    },
    /// Stored history cannot be read.
    Damaged {
        /// What was found.
        words: String,
    },
    /// This repository makes its history look otherwise than it is stored.
    AlteredHistory {
        /// By what.
        what: String,
    },
    /// Two sides made a file and a folder of the same name.
    FileAgainstFolder {
        /// The name.
        path: String,
    },
    /// A file could not be read or written.
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        words: String,
    },
}

impl GitError {
    /// A short name that stays the same from release to release.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            GitError::NoRepository { .. } => "git-no-repository",
            GitError::AlreadyRepository { .. } => "git-already-repository",
            GitError::Bare { .. } => "git-bare",
            GitError::NotTopFolder { .. } => "git-not-top-folder",
            GitError::OtherOwner { .. } => "git-other-owner",
            GitError::DetachedHead => "git-detached-head",
            GitError::Busy { .. } => "git-busy",
            GitError::InUse { .. } => "book-in-use",
            GitError::BranchLost(_) => "git-branch-lost",
            GitError::IndexUnreadable { .. } => "git-index-unreadable",
            GitError::GitLocked { .. } => "git-locked",
            GitError::Unmerged { .. } => "git-unmerged",
            GitError::Sparse => "git-sparse",
            GitError::NotHere { .. } => "not-in-this-clone",
            GitError::NotHeld { .. } => "project-not-held",
            GitError::TooOld { .. } => "git-too-old",
            GitError::Unreadable { .. } => "git-format",
            GitError::NotWritable { .. } => "git-not-writable",
            GitError::DiskFull { .. } => "disk-full",
            GitError::BadPath { .. } => "git-bad-path",
            GitError::TooManyFiles { .. } => "too-many-files",
            GitError::NotAFile { .. } => "git-not-a-file",
            GitError::BadPerson { .. } => "git-bad-person",
            GitError::NoSuchCommit { .. } => "git-no-such-commit",
            GitError::BranchMoved { .. } => "git-branch-moved",
            GitError::EditedMeanwhile { .. } => "edited-meanwhile",
            GitError::NoRemote { .. } => "no-remote",
            GitError::WhichRemote { .. } => "which-remote",
            GitError::RemoteGone { .. } => "remote-gone",
            GitError::HostUnknown { .. } => "remote-host-unknown",
            GitError::NotTrusted { .. } => "remote-not-trusted",
            GitError::NotAdmitted { .. } => "remote-not-admitted",
            GitError::Network { .. } => "network",
            GitError::RemoteSilent { .. } => "remote-silent",
            GitError::RemoteBranchMissing { .. } => "remote-branch-missing",
            GitError::HookRefused { .. } => "remote-hook-refused",
            GitError::PushRefused { .. } => "remote-push-refused",
            GitError::RaceLost { .. } => "sync-race-lost",
            GitError::Unrelated { .. } => "git-unrelated",
            GitError::Shallow => "git-shallow",
            GitError::NotEmpty { .. } => "clone-not-empty",
            GitError::NoGitProgram { .. } => "no-git-program",
            GitError::GitFailed { .. } => "git-failed",
            GitError::Damaged { .. } => "git-damaged",
            GitError::AlteredHistory { .. } => "git-altered-history",
            GitError::FileAgainstFolder { .. } => "file-against-folder",
            GitError::Io { .. } => "git-io",
        }
    }

    /// How to fix it, as a sentence.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            GitError::NoRepository { .. } => {
                "go into a book's folder, or make a book with `underlit init`".into()
            }
            GitError::AlreadyRepository { .. } => {
                "work in the repository that is there, or name another folder".into()
            }
            GitError::Bare { .. } => "clone it and work in the clone".into(),
            GitError::NotTopFolder { top, .. } => {
                format!(
                    "a book is the top folder of its repository: name {} or a folder of its own",
                    top.display()
                )
            }
            GitError::OtherOwner { path } => format!(
                "if you trust that folder: git config --global --add safe.directory '{}'",
                path.display().to_string().replace('\'', r"'\''")
            ),
            GitError::DetachedHead => {
                "go back to the book's branch, for instance with: git switch main".into()
            }
            GitError::Busy { operation } => {
                let drop = match *operation {
                    "bisect" => "git bisect reset".to_owned(),
                    other => format!("git {other} --abort"),
                };
                format!("finish it with git, or drop it with: {drop}; `underlit check --repair` does that and sets edits aside first")
            }
            GitError::InUse { holder: None, .. } => "wait until it is done, then run this again".into(),
            GitError::InUse { holder: Some(holder), .. } => {
                format!("wait until it is done, then run this again; to end it: kill {}", holder.process)
            }
            GitError::BranchLost(_) => {
                "put it back with: underlit check --repair branch; no file is touched and every commit stays".into()
            }
            GitError::IndexUnreadable { .. } => {
                "make it again from what is committed with: underlit check --repair index; no file is touched".into()
            }
            GitError::GitLocked { .. } => {
                "wait for the other git to end; if none runs, `underlit check --repair` takes the lock out".into()
            }
            GitError::Unmerged { .. } => {
                "settle them with git, or `underlit check --repair unmerged` sets them aside and puts back what is committed; what `git stash pop` brought stays in `git stash list`".into()
            }
            GitError::Sparse => {
                "underlit part puts back the part that this clone is to hold; where none was chosen, get the rest: git sparse-checkout disable".into()
            }
            GitError::NotHeld { name } => {
                format!("move what lies there out of the book; to work on that project here: underlit part --project {name}")
            }
            GitError::TooOld { .. } => "install git 2.29 or newer, or hold the whole book".into(),
            GitError::NotHere { .. } => "reach the remote once (underlit sync), then run this again".into(),
            GitError::Unreadable { what: "reftable", .. } => {
                "turn it into the usual form: git refs migrate --ref-format=files; or clone anew with --ref-format=files".into()
            }
            GitError::Unreadable { what: "sha256", .. } => {
                "a book is a repository of the usual object format: make it with git init --object-format=sha1, or with `underlit init`".into()
            }
            GitError::Unreadable { what: "partial clone", .. } => {
                "let underlit make the clone of a part: underlit join ADDRESS FOLDER --project NAME".into()
            }
            GitError::Unreadable { .. } => "clone the book anew, with no special options".into(),
            GitError::NotWritable { .. } => {
                "make the folder writable for you, or work in a clone of your own".into()
            }
            GitError::DiskFull { .. } => "make room on the disk and try again; nothing was half done".into(),
            GitError::BadPath { .. } => "rename or remove the file".into(),
            GitError::AlteredHistory { .. } => {
                "take out the file .git/info/grafts, and what `git replace --list` names with: git replace -d NAME".into()
            }
            GitError::TooManyFiles { .. } => {
                "no book is so large: ask whoever pushed it to remove that folder in a new commit; your own work is safe here".into()
            }
            GitError::NotAFile { .. } => "put a plain file in its place, or remove it".into(),
            GitError::BadPerson { .. } => "give a name and an address without < > and line breaks".into(),
            GitError::NoSuchCommit { .. } => {
                "look the commit up with `underlit history`, or run `underlit sync`".into()
            }
            GitError::BranchMoved { .. } => "run the command again".into(),
            GitError::EditedMeanwhile { .. } => "save your edits and run `underlit sync` again".into(),
            GitError::NoRemote { name: None } => "add one with: git remote add origin ADDRESS".into(),
            GitError::NoRemote { name: Some(name) } => format!("add it with: git remote add {name} ADDRESS"),
            GitError::WhichRemote { .. } => {
                "choose with: git branch --set-upstream-to REMOTE/BRANCH, or name one in the command".into()
            }
            GitError::RemoteGone { remote, .. } => {
                format!(
                    "look at the address with: git remote -v, and set it with: git remote set-url {remote} ADDRESS"
                )
            }
            GitError::HostUnknown { words, .. } if words.contains("CHANGED") => {
                "the host shows another key than before: ask its keeper by telephone whether that is right, before you take the old key out with: ssh-keygen -R HOST".into()
            }
            GitError::HostUnknown { .. } => {
                "look at the host's key with: ssh-keyscan HOST | ssh-keygen -lf -, compare it with what its keeper says by telephone, then add it: ssh-keyscan HOST >> ~/.ssh/known_hosts".into()
            }
            GitError::NotTrusted { .. } => {
                "where the host's certificate comes from an authority of your own: git config http.sslCAInfo FILE; otherwise ask the host's keeper, and send nothing".into()
            }
            GitError::NotAdmitted { .. } => {
                "check your key or password for the host, and that you may write there".into()
            }
            GitError::Network { .. } => {
                "your work is safe here; run `underlit sync` when the network is back".into()
            }
            GitError::RemoteSilent { remote, seconds, .. } => {
                format!(
                    "your work is safe here. See whether the host answers, and whether git asks for a password there: git ls-remote {remote}; for a slow host allow more time: UNDERLIT_SILENCE={} underlit …",
                    seconds.saturating_mul(5).max(1)
                )
            }
            GitError::RemoteBranchMissing { remote, there, .. } => match there.as_slice() {
                [only] => format!("if the branch was renamed: git branch --set-upstream-to {remote}/{only}"),
                _ => format!("if the branch was renamed: git branch --set-upstream-to {remote}/BRANCH"),
            },
            GitError::HookRefused { .. } => {
                "fix what it names and run `underlit sync` again; your work is safe here".into()
            }
            GitError::PushRefused { .. } => "ask whoever keeps the remote; your work is safe here".into(),
            GitError::RaceLost { .. } => "run `underlit sync` again; your work is safe here".into(),
            GitError::Unrelated { .. } => {
                "this is another book: check the address with: git remote -v".into()
            }
            GitError::Shallow => "fetch the whole history, then try again: underlit part --past".into(),
            GitError::NotEmpty { .. } => "name a new or an empty folder".into(),
            GitError::NoGitProgram { .. } => "install git, so that `git --version` works".into(),
            GitError::GitFailed { .. } => "do what git says, then try again".into(),
            GitError::Damaged { .. } => {
                "look with: git fsck --full; a fresh clone of the remote is the surest repair".into()
            }
            GitError::FileAgainstFolder { .. } => {
                "rename one of the two, commit, and run `underlit sync` again".into()
            }
            GitError::Io { .. } => "see that the file can be read and written, then try again".into(),
        }
    }
}

impl fmt::Display for GitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            GitError::NoRepository { path } => write!(f, "{} is not in a git repository", path.display()),
            GitError::AlreadyRepository { path } => {
                write!(f, "{} is a git repository already", path.display())
            }
            GitError::Bare { path } => {
                write!(f, "{} is a bare repository, without files to work on", path.display())
            }
            GitError::NotTopFolder { path, top } => {
                write!(f, "{} lies inside the repository {}", path.display(), top.display())
            }
            GitError::OtherOwner { path } => write!(f, "{} belongs to another user", path.display()),
            GitError::DetachedHead => f.write_str("HEAD is detached: no branch is checked out"),
            GitError::Busy { operation } => write!(f, "a git {operation} is half done in this book"),
            GitError::InUse { lock, holder: None } => {
                write!(f, "another underlit works on this book (it holds {})", lock.display())
            }
            GitError::InUse { holder: Some(holder), .. } => {
                write!(f, "another underlit works on this book: {holder}")
            }
            GitError::BranchLost(lost) => {
                write!(f, "the branch {} has no commit", lost.branch)?;
                match (&lost.elsewhere, lost.last) {
                    (Some(other), _) => write!(f, "; this clone's work is on the branch {other}"),
                    (None, Some(last)) => write!(f, "; it was at {}", last.short()),
                    (None, None) => Ok(()),
                }
            }
            GitError::IndexUnreadable { words } => write!(f, "git's index (.git/index) cannot be read: {words}"),
            GitError::GitLocked { words } => write!(f, "another git holds a lock: {words}"),
            GitError::Unmerged { paths } => {
                write!(f, "git could not settle {}, and has left it to you", paths.join(", "))
            }
            GitError::Sparse => f.write_str(
                "only a part of this book is checked out here (sparse checkout), and it is not the part that underlit noted, so that what is not there would count as taken out",
            ),
            GitError::NotHeld { name } => write!(f, "projects/{name} lies here, and is a project of the book that this clone does not hold"),
            GitError::TooOld { said } => write!(f, "{said} is too old for a clone that holds a part of a book"),
            GitError::NotHere { count, words } => write!(
                f,
                "this clone holds a part of the book without {}, which could not be fetched: {words}",
                crate::words::counted(*count, "file that is needed", "files that are needed")
            ),
            GitError::Unreadable { what, words } => {
                write!(f, "this repository is kept in a form that underlit cannot read ({what}): {words}")
            }
            GitError::NotWritable { path } => write!(f, "may not be written: {path}"),
            GitError::DiskFull { path } => write!(f, "the disk is full: {path}"),
            GitError::BadPath { path, reason } => write!(f, "`{path}` {reason}"),
            GitError::TooManyFiles { most, at } => write!(
                f,
                "a commit has more than {most} files and folders, or folders too deep, at `{at}`"
            ),
            GitError::NotAFile { path } => write!(f, "`{path}` is not a plain file"),
            GitError::BadPerson { text } => write!(f, "`{text}` cannot be the name or address of an author"),
            GitError::NoSuchCommit { text } => write!(f, "there is no commit {text} here"),
            GitError::BranchMoved { branch } => {
                write!(f, "the branch {branch} moved while the change was being made")
            }
            GitError::EditedMeanwhile { paths } => {
                write!(f, "edited while the result was being put in place: {}", paths.join(", "))
            }
            GitError::NoRemote { name: None } => f.write_str("this book has no remote"),
            GitError::NoRemote { name: Some(name) } => write!(f, "this book has no remote named {name}"),
            GitError::WhichRemote { names } => write!(f, "several remotes: {}", names.join(", ")),
            GitError::RemoteGone { remote, words } => write!(f, "the remote {remote} is not there: {words}"),
            GitError::HostUnknown { remote, words } => {
                write!(f, "the host of {remote} is not known here by the key that it shows: {words}")
            }
            GitError::NotTrusted { remote, words } => {
                write!(f, "the certificate of {remote} is not trusted here: {words}")
            }
            GitError::NotAdmitted { remote, words } => {
                write!(f, "the remote {remote} did not let you in: {words}")
            }
            GitError::Network { remote, words } => write!(f, "the remote {remote} was not reached: {words}"),
            GitError::RemoteSilent { remote, seconds, words } => {
                write!(f, "the remote {remote} said nothing for {seconds} s and was given up")?;
                if words.is_empty() { Ok(()) } else { write!(f, "; before that: {words}") }
            }
            GitError::RemoteBranchMissing { remote, branch, there } if there.is_empty() => {
                write!(f, "the remote {remote} has no branch {branch}")
            }
            GitError::RemoteBranchMissing { remote, branch, there } => {
                write!(f, "the remote {remote} has no branch {branch}; it has {}", there.join(", "))
            }
            GitError::HookRefused { remote, words } if words.is_empty() => {
                write!(f, "the checks of the remote {remote} refused the push without giving a reason")
            }
            GitError::HookRefused { remote, words } => {
                write!(f, "the checks of the remote {remote} refused the push:\n  {}", words.join("\n  "))
            }
            GitError::PushRefused { remote, reason } => {
                write!(f, "the remote {remote} refused the push: {reason}")
            }
            GitError::RaceLost { attempts } => write!(f, "others pushed first, {attempts} times in a row"),
            GitError::Unrelated { other } => write!(f, "this book and {other} share no history"),
            GitError::Shallow => f.write_str("the history here is cut off before what both sides share"),
            GitError::NotEmpty { path } => write!(f, "{} is not empty", path.display()),
            GitError::NoGitProgram { words } => write!(f, "the git program could not be started: {words}"),
            GitError::GitFailed { verb, words } => write!(f, "git {verb} failed: {words}"),
            GitError::Damaged { words } => write!(f, "the stored history cannot be read: {words}"),
            GitError::AlteredHistory { what } => {
                write!(f, "git shows another history here than the one that is stored: {what}")
            }
            GitError::FileAgainstFolder { path } => {
                write!(f, "one side made a file `{path}` and the other a folder of that name")
            }
            GitError::Io { path, words } => write!(f, "{}: {words}", path.display()),
        }
    }
}

impl std::error::Error for GitError {}

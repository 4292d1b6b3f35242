//! Whether a file can have changed since it was looked at, by what the file system says of it and without reading it.

use std::fs::Metadata;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::Path;

/// A change within the grain of the file system's clock leaves no trace in its times. What changed less than so many
/// nanoseconds before a look is therefore looked at again; the grain of a kernel's tick is a tenth of it or less.
const GRAIN: i128 = 100_000_000;

/// As [`GRAIN`], on disks that count whole seconds, or two of them.
const COARSE_GRAIN: i128 = 2_500_000_000;

/// One number for all that the file system says of a file or folder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stamp(pub(super) u64);

impl Stamp {
    /// Never that of any file: whatever has it is looked at each time.
    pub(super) const NEVER: Stamp = Stamp(0);

    /// What is said of something now.
    pub(super) fn of(found: &Metadata) -> Stamp {
        times(found).map_or(Stamp::NEVER, |times| Stamp::made_of(place(found), found.len(), times))
    }

    /// Where on the disk it is and what it is, its size, and when it changed at all and in its content.
    fn made_of(place: (u64, u64, u32), size: u64, times: (i128, i128)) -> Stamp {
        let mut hasher = DefaultHasher::new();
        (place, size, times).hash(&mut hasher);
        Stamp(hasher.finish() | 1)
    }

    /// As [`Stamp::of`], and [`Stamp::NEVER`] for what changed so shortly before `began` that one more change might
    /// leave the same times.
    pub(super) fn settled(found: &Metadata, began: i128) -> Stamp {
        let old = |time: i128| {
            let grain = if time % 1_000_000_000 == 0 { COARSE_GRAIN } else { GRAIN };
            time < began.saturating_sub(grain)
        };
        match times(found) {
            Some((changed, content)) if old(changed) && old(content) => Stamp::of(found),
            _ => Stamp::NEVER,
        }
    }
}

/// A folder from which others are looked at by their paths in it: the system goes through no more names than those.
#[cfg(unix)]
pub(super) struct Outlook(rustix::fd::OwnedFd);

#[cfg(unix)]
impl Outlook {
    /// From a folder; none where it cannot be opened, or is a link to one.
    pub(super) fn from(folder: &Path) -> Option<Outlook> {
        use rustix::fs::{CWD, Mode, OFlags, openat};
        let flags = OFlags::RDONLY | OFlags::DIRECTORY | OFlags::NOFOLLOW | OFlags::CLOEXEC;
        openat(CWD, folder, flags, Mode::empty()).ok().map(Outlook)
    }

    /// True where what lies at a path says what it said.
    pub(super) fn says(&self, path: &str, then: Stamp) -> bool {
        use rustix::fs::{AtFlags, statat};
        let Ok(found) = statat(&self.0, path, AtFlags::SYMLINK_NOFOLLOW) else { return false };
        // Each system has types of its own for these numbers.
        let (device, number, size) =
            (i128::from(found.st_dev), i128::from(found.st_ino), i128::from(found.st_size));
        let nanoseconds = |whole: i128, rest: i128| whole * 1_000_000_000 + rest;
        let times = (
            nanoseconds(i128::from(found.st_ctime), i128::from(found.st_ctime_nsec)),
            nanoseconds(i128::from(found.st_mtime), i128::from(found.st_mtime_nsec)),
        );
        let place = (device as u64, number as u64, i128::from(found.st_mode) as u32);
        then != Stamp::NEVER && Stamp::made_of(place, size as u64, times) == then
    }
}

/// Where the system says nothing of files that would tell them apart.
#[cfg(not(unix))]
pub(super) struct Outlook;

#[cfg(not(unix))]
impl Outlook {
    pub(super) fn from(_folder: &Path) -> Option<Outlook> {
        None
    }

    pub(super) fn says(&self, _path: &str, _then: Stamp) -> bool {
        false
    }
}

/// When something changed at all and when its content did, in nanoseconds; none where the system does not say.
#[cfg(unix)]
pub(super) fn times(found: &Metadata) -> Option<(i128, i128)> {
    use std::os::unix::fs::MetadataExt;
    let whole = |seconds: i64, rest: i64| i128::from(seconds) * 1_000_000_000 + i128::from(rest);
    Some((whole(found.ctime(), found.ctime_nsec()), whole(found.mtime(), found.mtime_nsec())))
}

#[cfg(not(unix))]
pub(super) fn times(_found: &Metadata) -> Option<(i128, i128)> {
    None
}

/// Where on the disk it is, and what it is.
#[cfg(unix)]
fn place(found: &Metadata) -> (u64, u64, u32) {
    use std::os::unix::fs::MetadataExt;
    (found.dev(), found.ino(), found.mode())
}

#[cfg(not(unix))]
fn place(_found: &Metadata) -> (u64, u64, u32) {
    (0, 0, 0)
}

/// The time by the clock of the disk on which a folder lies, in nanoseconds; none where nothing can be written there.
#[must_use]
pub(super) fn disk_time(folder: &Path) -> Option<i128> {
    Some(times(&tempfile::tempfile_in(folder).ok()?.metadata().ok()?)?.0)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

    use std::fs;

    use super::*;

    #[test]
    fn what_changed_just_now_is_looked_at_again() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("x");
        fs::write(&path, "x").unwrap();
        let found = path.metadata().unwrap();
        let (_, now) = times(&found).unwrap();
        assert_eq!(Stamp::settled(&found, now), Stamp::NEVER);
        assert_eq!(Stamp::settled(&found, now + COARSE_GRAIN + 1), Stamp::of(&found));
        let outlook = Outlook::from(dir.path()).unwrap();
        assert!(outlook.says("x", Stamp::of(&found)), "from its folder it is the same");
        assert!(!outlook.says("y", Stamp::of(&found)) && !outlook.says("x", Stamp::NEVER));
    }
}

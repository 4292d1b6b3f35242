//! Whether a file can have changed since it was looked at, by what the file system says of it and without reading it.

use std::fs::{self, Metadata};
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
        match times(found) {
            None => Stamp::NEVER,
            Some((changed, content)) => {
                let mut hasher = DefaultHasher::new();
                (place(found), found.len(), changed, content).hash(&mut hasher);
                Stamp(hasher.finish() | 1)
            }
        }
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
pub(crate) fn disk_time(folder: &Path) -> Option<i128> {
    Some(times(&tempfile::tempfile_in(folder).ok()?.metadata().ok()?)?.0)
}

/// One number for everything that lies in a folder, at any depth. None where something in it changed so shortly before
/// `began` that one more change might leave the same times, where it is neither file nor folder (a link changes where
/// nothing looks different), and where it cannot be looked at.
#[must_use]
pub(crate) fn stamp_of_all_in(folder: &Path, began: i128) -> Option<u64> {
    let mut all = 0_u64;
    let mut waiting = vec![(folder.to_owned(), 0)];
    while let Some((folder, above)) = waiting.pop() {
        for entry in fs::read_dir(&folder).ok()? {
            let entry = entry.ok()?;
            let mut hasher = DefaultHasher::new();
            // The same name in another folder is another place.
            (above, entry.file_name()).hash(&mut hasher);
            if entry.file_type().ok()?.is_dir() {
                waiting.push((entry.path(), hasher.finish()));
            } else {
                let found = entry.metadata().ok()?;
                let stamp = Stamp::settled(&found, began);
                if stamp == Stamp::NEVER || !found.is_file() {
                    return None;
                }
                stamp.0.hash(&mut hasher);
            }
            // The disk gives the entries in any order.
            all = all.wrapping_add(hasher.finish());
        }
    }
    Some(all)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

    use super::*;

    #[test]
    fn the_number_of_a_folder_changes_with_everything_in_it() {
        let room = tempfile::tempdir().unwrap();
        let at = |name: &str| room.path().join(name);
        let number = || stamp_of_all_in(room.path(), i128::MAX).unwrap();
        let mut seen = vec![number()];
        let mut differs = |what: &str| {
            let now = number();
            assert!(!seen.contains(&now), "{what}");
            assert_eq!(now, number(), "{what}: looked at again");
            seen.push(now);
        };
        fs::create_dir(at("a")).unwrap();
        differs("a folder came");
        fs::write(at("a/one"), "1").unwrap();
        differs("a file came");
        fs::write(at("a/one"), "2").unwrap();
        differs("a file changed");
        fs::rename(at("a/one"), at("one")).unwrap();
        differs("a file moved up");
        fs::write(at("a/one"), "1").unwrap();
        differs("another came in its place");
        fs::remove_file(at("one")).unwrap();
        differs("a file went");
    }

    #[test]
    fn what_changed_just_now_and_links_have_none() {
        let room = tempfile::tempdir().unwrap();
        assert!(stamp_of_all_in(room.path(), 0).is_some(), "there is nothing to change");
        fs::write(room.path().join("one"), "1").unwrap();
        let now = disk_time(room.path()).unwrap();
        assert_eq!(stamp_of_all_in(room.path(), now), None, "it may change again within the clock's grain");
        assert!(stamp_of_all_in(room.path(), now + COARSE_GRAIN + 1).is_some());
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink("one", room.path().join("two")).unwrap();
            assert_eq!(stamp_of_all_in(room.path(), i128::MAX), None, "what it leads to may change");
        }
        assert_eq!(stamp_of_all_in(&room.path().join("none"), i128::MAX), None);
    }

    #[test]
    fn what_changed_just_now_is_looked_at_again() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("x");
        fs::write(&path, "x").unwrap();
        let found = path.metadata().unwrap();
        let (_, now) = times(&found).unwrap();
        assert_eq!(Stamp::settled(&found, now), Stamp::NEVER);
        assert_eq!(Stamp::settled(&found, now + COARSE_GRAIN + 1), Stamp::of(&found));
    }
}

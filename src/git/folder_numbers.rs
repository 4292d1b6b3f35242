//! One number for all that lies in a folder: where it is the same, every file is as it was.
//!
//! Going through a folder costs several times what asking after its files by their names does. What was found there is
//! therefore kept from one look to the next: while no folder changed, no name came or went. Nothing is believed of what is
//! kept: the number is made of it only where the file system says the very same of each file and folder today, so that
//! whoever changes what is kept changes the number.
//!
//! On disk it is `underlit/looks` in the clone's `.git`; without it every folder is gone through once more.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Write as _;
use std::path::Path;

use super::stamp::{Outlook, Stamp, disk_time};
use crate::digest::Sha256Digest;
use crate::model::kind::WRITING;
use crate::parallel::in_parallel;

/// The name of the file in the clone's own folder.
const FILE: &str = "looks";

/// How the file begins.
const MARK: &[u8] = b"underlit looks 1\n";

/// The folder itself, among those beneath it.
const ITSELF: &str = ".";

/// The number of each of some folders in one. None for a folder in which something changed so shortly before that one more
/// change might leave the same times, in which something is neither file nor folder (a link changes where nothing looks
/// different), and which cannot be looked at; for all, where the disk tells no time.
///
/// What was found is kept for the next look where it `keeps`.
#[must_use]
pub(crate) fn folder_numbers(
    clone_local: &Path,
    within: &Path,
    names: &[&str],
    keeps: bool,
) -> Vec<Option<u64>> {
    let Some(began) = disk_time(clone_local) else { return vec![None; names.len()] };
    let file = clone_local.join(FILE);
    let bytes = fs::read(&file).unwrap_or_default();
    let known = kept(&bytes).unwrap_or_default();
    let found = in_parallel(names, |name| {
        let folder = within.join(name);
        match known.get(name).filter(|then| is_as_then(&folder, then)) {
            Some(then) => Some(Cow::Borrowed(*then)),
            None => gone_through(&folder, began).map(Cow::Owned),
        }
    });
    let numbers = found.iter().map(|found| found.as_deref().map(number)).collect();
    if keeps && found.iter().any(|found| matches!(found, Some(Cow::Owned(_)))) {
        let asked: BTreeSet<&str> = names.iter().copied().collect();
        let mut all = known;
        all.retain(|name, _| !asked.contains(name) && within.join(name).exists());
        all.extend(names.iter().zip(&found).filter_map(|(name, found)| Some((*name, found.as_deref()?))));
        // It only saves time, so that a full or read-only disk is no fault.
        let _ = keep(&file, clone_local, &all);
    }
    numbers
}

/// What stands for what was found in a folder.
fn number(found: &[u8]) -> u64 {
    let [a, b, c, d, e, f, g, h, ..] = *Sha256Digest::of(found).as_bytes();
    u64::from_le_bytes([a, b, c, d, e, f, g, h])
}

/// What was found in each folder by its name; none where nothing sound is kept.
fn kept(bytes: &[u8]) -> Option<BTreeMap<&str, &[u8]>> {
    let mut rest = bytes.strip_prefix(MARK)?;
    let mut all = BTreeMap::new();
    while !rest.is_empty() {
        let name = text(&mut rest)?;
        let length = usize::try_from(whole(&mut rest)?).ok()?;
        all.insert(name, rest.split_off(..length)?);
    }
    Some(all)
}

fn keep(file: &Path, clone_local: &Path, all: &BTreeMap<&str, &[u8]>) -> std::io::Result<()> {
    let mut bytes = MARK.to_vec();
    for (name, found) in all {
        put_text(&mut bytes, name);
        bytes.extend((found.len() as u64).to_le_bytes());
        bytes.extend_from_slice(found);
    }
    let mut made = tempfile::Builder::new().prefix(WRITING).tempfile_in(clone_local)?;
    // Whoever clears away what kills left half written leaves a file alone that is locked.
    made.as_file().try_lock()?;
    made.write_all(&bytes)?;
    made.persist(file)?;
    Ok(())
}

/// A name, which holds no zero, and a zero.
fn put_text(bytes: &mut Vec<u8>, text: &str) {
    bytes.extend_from_slice(text.as_bytes());
    bytes.push(0);
}

fn text<'b>(rest: &mut &'b [u8]) -> Option<&'b str> {
    let text = rest.split_off(..memchr::memchr(0, rest)?)?;
    rest.split_off_first()?;
    std::str::from_utf8(text).ok()
}

fn whole(rest: &mut &[u8]) -> Option<u64> {
    let (whole, after) = rest.split_first_chunk()?;
    *rest = after;
    Some(u64::from_le_bytes(*whole))
}

/// True where the file system says the same of a folder, of each beneath it and of each file as it did then.
fn is_as_then(folder: &Path, then: &[u8]) -> bool {
    let Some(outlook) = Outlook::from(folder).filter(|_| !then.is_empty()) else { return false };
    let (mut rest, mut path) = (then, String::new());
    while !rest.is_empty() {
        if says_so(&outlook, &mut rest, &mut path) != Some(true) {
            return false;
        }
    }
    true
}

/// The same of the next folder, and of the files directly in it.
fn says_so(outlook: &Outlook, rest: &mut &[u8], path: &mut String) -> Option<bool> {
    let at = text(rest)?;
    let mut same = outlook.says(at, Stamp(whole(rest)?));
    while same {
        let name = text(rest)?;
        if name.is_empty() {
            return Some(true);
        }
        path.clear();
        if at != ITSELF {
            path.extend([at, "/"]);
        }
        path.push_str(name);
        same = outlook.says(path, Stamp(whole(rest)?));
    }
    Some(false)
}

/// What lies in a folder: each folder by its path in it, with its stamp and its files by name, each with its own.
fn gone_through(top: &Path, began: i128) -> Option<Vec<u8>> {
    let settled =
        |found: &fs::Metadata| Some(Stamp::settled(found, began)).filter(|stamp| *stamp != Stamp::NEVER);
    let mut found = Vec::new();
    let mut waiting = vec![ITSELF.to_owned()];
    while let Some(at) = waiting.pop() {
        let folder = top.join(&at);
        // Before its names are read: one that comes meanwhile changes what is said of it.
        let itself = folder.symlink_metadata().ok().filter(fs::Metadata::is_dir)?;
        put_text(&mut found, &at);
        found.extend(settled(&itself)?.0.to_le_bytes());
        let (mut files, mut folders) = (BTreeMap::new(), Vec::new());
        for entry in fs::read_dir(&folder).ok()? {
            let entry = entry.ok()?;
            let name = entry.file_name().into_string().ok()?;
            let kind = entry.file_type().ok()?;
            if kind.is_dir() {
                folders.push(if at == ITSELF { name } else { format!("{at}/{name}") });
            } else if kind.is_file() {
                files.insert(name, settled(&entry.metadata().ok()?)?);
            } else {
                return None;
            }
        }
        for (name, stamp) in files {
            put_text(&mut found, &name);
            found.extend(stamp.0.to_le_bytes());
        }
        found.push(0);
        folders.sort_unstable_by(|a, b| b.cmp(a));
        waiting.append(&mut folders);
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

    use std::time::Duration;

    use super::*;

    /// A clone's own folder, and one with the folder `job` that is looked at.
    struct Room(tempfile::TempDir, tempfile::TempDir);

    impl Room {
        fn new() -> Room {
            let room = Room(tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
            fs::create_dir(room.at("")).unwrap();
            room
        }

        fn at(&self, name: &str) -> std::path::PathBuf {
            self.1.path().join("job").join(name)
        }

        fn numbers(&self, names: &[&str]) -> Vec<Option<u64>> {
            folder_numbers(self.0.path(), self.1.path(), names, true)
        }

        /// The number once no clock can take a change for none: from what is kept, and from nothing.
        fn number(&self) -> u64 {
            std::thread::sleep(Duration::from_millis(130));
            let kept = self.numbers(&["job"])[0].unwrap();
            fs::remove_file(self.0.path().join(FILE)).unwrap();
            assert_eq!(self.numbers(&["job"])[0], Some(kept), "from nothing it is the same");
            assert_eq!(self.numbers(&["job"])[0], Some(kept), "looked at again");
            kept
        }
    }

    #[test]
    fn the_number_of_a_folder_changes_with_everything_in_it() {
        let room = Room::new();
        let at = |name: &str| room.at(name);
        let mut seen = vec![room.number()];
        let mut differs = |what: &str| {
            let now = room.number();
            assert!(!seen.contains(&now), "{what}");
            seen.push(now);
        };
        fs::create_dir_all(at("a/b")).unwrap();
        differs("a folder came");
        fs::write(at("a/b/one"), "1").unwrap();
        differs("a file came");
        fs::write(at("a/b/one"), "2").unwrap();
        differs("a file changed");
        fs::rename(at("a/b/one"), at("one")).unwrap();
        differs("a file moved up");
        fs::write(at("a/b/one"), "1").unwrap();
        differs("another came in its place");
        fs::remove_dir(at("a/b")).unwrap_err();
        fs::remove_file(at("one")).unwrap();
        differs("a file went");
        fs::rename(at("a/b"), at("a/c")).unwrap();
        differs("a folder has another name");
    }

    #[test]
    fn what_changed_just_now_and_links_have_none() {
        let room = Room::new();
        room.number();
        fs::write(room.at("one"), "1").unwrap();
        assert_eq!(room.numbers(&["job"]), [None], "it may change again within the clock's grain");
        room.number();
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink("one", room.at("two")).unwrap();
            std::thread::sleep(Duration::from_millis(130));
            assert_eq!(room.numbers(&["job"]), [None], "what it leads to may change");
        }
        assert_eq!(room.numbers(&["none"]), [None]);
    }

    #[test]
    fn what_is_kept_of_others_stays_and_nothing_bent_is_believed() {
        let room = Room::new();
        let other = room.1.path().join("other");
        fs::create_dir(&other).unwrap();
        fs::write(room.at("one"), "1").unwrap();
        std::thread::sleep(Duration::from_millis(130));
        let both = room.numbers(&["job", "other"]);
        let file = room.0.path().join(FILE);
        let whole = fs::read(&file).unwrap();
        assert_eq!(kept(&whole).unwrap().into_keys().collect::<Vec<_>>(), ["job", "other"]);
        assert_eq!(room.numbers(&["other"]), both[1..]);
        assert_eq!(fs::read(&file).unwrap(), whole, "what is as it was is not written again");
        fs::write(room.at("two"), "2").unwrap();
        std::thread::sleep(Duration::from_millis(130));
        assert_ne!(room.numbers(&["job"]), both[..1]);
        assert_eq!(kept(&fs::read(&file).unwrap()).unwrap().len(), 2);
        let now = room.numbers(&["job", "other"]);
        let whole = fs::read(&file).unwrap();
        for at in 0..whole.len() {
            let mut bent = whole.clone();
            bent[at] ^= 1;
            fs::write(&file, bent).unwrap();
            assert_eq!(room.numbers(&["job", "other"]), now, "bent at {at}");
            fs::write(&file, &whole[..at]).unwrap();
            assert_eq!(room.numbers(&["job", "other"]), now, "cut at {at}");
        }
        fs::remove_dir(&other).unwrap();
        fs::write(room.at("two"), "3").unwrap();
        std::thread::sleep(Duration::from_millis(130));
        room.numbers(&["job"]);
        assert_eq!(kept(&fs::read(&file).unwrap()).unwrap().len(), 1, "what is gone is not kept");
    }
}

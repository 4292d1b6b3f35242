//! What the folder of a book looked like when it was last gone through, kept from one run to the next.
//!
//! For each file and folder one number stands for what the file system says of it: place, kind, mode, size, times of
//! change. Where the number is the same, the content is that which was judged then, so that a later run reads nothing
//! and judges only what is different. It is the way in which git's own index knows its files, for folders as well and
//! with nothing in it that a record or a gate rests on: without this file everything is gone through once more.
//!
//! On disk it is `underlit/folder` in the clone's `.git`, made for one version of this program and dropped by another.

use std::collections::BTreeSet;
use std::fs;
use std::hash::{DefaultHasher, Hasher};
use std::io::Write;
use std::path::Path;

use git2::Oid;
use tempfile::NamedTempFile;

use super::stamp::{Stamp, times};
use crate::model::kind::WRITING;

/// The name of the file in the clone's own folder.
const FILE: &str = "folder";

/// How the file begins.
const MARK: &[u8] = concat!("underlit folder ", env!("CARGO_PKG_VERSION"), "\n").as_bytes();

/// What else a judgement of the folder rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Knows {
    /// The settings and lists that say what is ignored, and where the folder lies.
    pub(super) surroundings: u64,
    /// The tree against which the folder was compared.
    pub(super) tree: Oid,
    /// Git's index.
    pub(super) index: Stamp,
}

/// One folder, with the files directly in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct SeenFolder<Text = String> {
    /// Its path in the book; empty for the book itself.
    pub(super) path: Text,
    /// Changes where a name comes or goes.
    pub(super) stamp: Stamp,
    /// The files by name, in byte order.
    pub(super) files: Vec<(Text, Stamp)>,
}

/// What is known of a whole book's folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Seen<Text = String> {
    /// What it was judged by.
    pub(super) knows: Knows,
    /// What differed then, to be asked about each time.
    pub(super) asks: BTreeSet<Text>,
    /// Every folder that is not ignored, by path in byte order, so that all beneath one stand together.
    pub(super) folders: Vec<SeenFolder<Text>>,
}

impl Seen {
    /// One that knows nothing yet.
    pub(super) fn nothing(knows: Knows) -> Seen {
        Seen { knows, asks: BTreeSet::new(), folders: Vec::new() }
    }

    /// Where a folder stands in the list, or would stand.
    pub(super) fn position(&self, path: &str) -> Result<usize, usize> {
        self.folders.binary_search_by(|folder| folder.path.as_str().cmp(path))
    }

    /// Where the folders beneath one stand.
    pub(super) fn beneath(&self, path: &str) -> std::ops::Range<usize> {
        if path.is_empty() {
            return self.folders.partition_point(|f| f.path.is_empty())..self.folders.len();
        }
        let (from, to) = (format!("{path}/"), format!("{path}0")); // '0' comes right after '/'
        let first = self.folders.partition_point(|f| f.path.as_str() < from.as_str());
        first..self.folders.partition_point(|f| f.path.as_str() < to.as_str())
    }

    /// How many files and folders are to be looked at each time.
    pub(super) fn unsettled(&self) -> usize {
        let never = |stamp: Stamp| usize::from(stamp == Stamp::NEVER);
        let of = |folder: &SeenFolder| folder.files.iter().map(|(_, stamp)| never(*stamp)).sum::<usize>();
        self.asks.len() + self.folders.iter().map(|folder| never(folder.stamp) + of(folder)).sum::<usize>()
    }

    /// Keeps it for the next run. It only saves time, so that a full or read-only disk is no fault.
    pub(super) fn keep(&self, clone_local: &Path, into: NamedTempFile) {
        let mut bytes = MARK.to_vec();
        let number = |bytes: &mut Vec<u8>, number: u64| bytes.extend(number.to_le_bytes());
        let text = |bytes: &mut Vec<u8>, text: &[u8]| {
            bytes.extend((text.len() as u64).to_le_bytes());
            bytes.extend(text);
        };
        number(&mut bytes, self.knows.surroundings);
        text(&mut bytes, self.knows.tree.as_bytes());
        number(&mut bytes, self.knows.index.0);
        number(&mut bytes, self.asks.len() as u64);
        for ask in &self.asks {
            text(&mut bytes, ask.as_bytes());
        }
        number(&mut bytes, self.folders.len() as u64);
        for folder in &self.folders {
            text(&mut bytes, folder.path.as_bytes());
            number(&mut bytes, folder.stamp.0);
            number(&mut bytes, folder.files.len() as u64);
            for (name, stamp) in &folder.files {
                text(&mut bytes, name.as_bytes());
                number(&mut bytes, stamp.0);
            }
        }
        let sum = checksum(&bytes);
        number(&mut bytes, sum);
        let mut file = into;
        if file.write_all(&bytes).is_ok() {
            let _ = file.persist(clone_local.join(FILE));
        }
    }
}

/// What was kept by the last run, as it lies on disk: most runs only hold the folder against it, and need none of its names
/// for themselves.
#[derive(Debug)]
pub(super) struct Kept(Vec<u8>);

impl Kept {
    /// None where nothing sound is there.
    pub(super) fn load(clone_local: &Path) -> Option<Kept> {
        let mut bytes = fs::read(clone_local.join(FILE)).ok()?;
        let (body, sum) = bytes.split_last_chunk()?;
        let sound = *sum == checksum(body).to_le_bytes();
        bytes.truncate(body.len());
        sound.then_some(Kept(bytes))
    }

    /// What it says.
    pub(super) fn seen<'b, Text: From<&'b str> + AsRef<str> + Ord>(&'b self) -> Option<Seen<Text>> {
        let mut rest = Reader(self.0.strip_prefix(MARK)?);
        let surroundings = rest.number()?;
        let tree = Oid::from_bytes(rest.bytes()?).ok()?;
        let knows = Knows { surroundings, tree, index: Stamp(rest.number()?) };
        let asks = (0..rest.number()?).map(|_| rest.text().map(Text::from)).collect::<Option<_>>()?;
        let mut seen = Seen { knows, asks, folders: Vec::new() };
        for _ in 0..rest.number()? {
            let (path, stamp) = (rest.text()?.into(), Stamp(rest.number()?));
            let files = (0..rest.number()?).map(|_| Some((rest.text()?.into(), Stamp(rest.number()?))));
            let files = files.collect::<Option<_>>()?;
            seen.folders.push(SeenFolder { path, stamp, files });
        }
        let has_itself = seen.folders.first().is_some_and(|folder| folder.path.as_ref().is_empty());
        (rest.0.is_empty() && has_itself).then_some(seen)
    }
}

/// Begins the file that will hold what is seen, and tells the file system's own time: what it stamps on it.
pub(super) fn begin(clone_local: &Path) -> Option<(NamedTempFile, i128)> {
    let file = tempfile::Builder::new().prefix(WRITING).tempfile_in(clone_local).ok()?;
    // Whoever clears away what kills left half written leaves a file alone that is locked.
    file.as_file().try_lock().ok()?;
    let (_, began) = times(&file.as_file().metadata().ok()?)?;
    Some((file, began))
}

/// Tells a torn file from a whole one.
fn checksum(bytes: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    hasher.write(bytes);
    hasher.finish()
}

struct Reader<'b>(&'b [u8]);

impl<'b> Reader<'b> {
    fn take(&mut self, length: usize) -> Option<&'b [u8]> {
        let (taken, rest) = self.0.split_at_checked(length)?;
        self.0 = rest;
        Some(taken)
    }

    fn number(&mut self) -> Option<u64> {
        Some(u64::from_le_bytes(self.take(8)?.try_into().ok()?))
    }

    fn bytes(&mut self) -> Option<&'b [u8]> {
        let length = usize::try_from(self.number()?).ok()?;
        self.take(length)
    }

    fn text(&mut self) -> Option<&'b str> {
        std::str::from_utf8(self.bytes()?).ok()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

    use super::*;

    fn sample() -> Seen {
        let folder = |path: &str, files: &[(&str, u64)]| SeenFolder {
            path: path.into(),
            stamp: Stamp(9),
            files: files.iter().map(|(name, stamp)| ((*name).to_owned(), Stamp(*stamp))).collect(),
        };
        let knows = Knows { surroundings: 7, tree: Oid::ZERO_SHA1, index: Stamp(5) };
        let asks = BTreeSet::from(["notes.txt".to_owned()]);
        let folders = ["", "a", "a-b", "a/b", "a/b/c", "a0"].map(|path| folder(path, &[("x.json", 3)]));
        Seen { knows, asks, folders: folders.to_vec() }
    }

    fn load(clone_local: &Path) -> Option<Seen> {
        Kept::load(clone_local)?.seen()
    }

    #[test]
    fn what_is_kept_comes_back_and_nothing_torn_does() {
        let dir = tempfile::tempdir().unwrap();
        let keep = |seen: &Seen| seen.keep(dir.path(), begin(dir.path()).unwrap().0);
        assert_eq!(load(dir.path()), None);
        keep(&sample());
        assert_eq!(load(dir.path()), Some(sample()));
        let whole = fs::read(dir.path().join(FILE)).unwrap();
        for cut in 0..whole.len() {
            fs::write(dir.path().join(FILE), &whole[..cut]).unwrap();
            assert_eq!(load(dir.path()), None, "cut at {cut}");
        }
        for at in 0..whole.len() {
            let mut bent = whole.clone();
            bent[at] ^= 1;
            fs::write(dir.path().join(FILE), bent).unwrap();
            assert_eq!(load(dir.path()), None, "bent at {at}");
        }
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn all_beneath_a_folder_stands_together() {
        let seen = sample();
        let beneath = |path: &str| seen.folders[seen.beneath(path)].iter().map(|f| f.path.as_str()).collect();
        let cases: [(&str, Vec<&str>); 4] = [
            ("", vec!["a", "a-b", "a/b", "a/b/c", "a0"]),
            ("a", vec!["a/b", "a/b/c"]),
            ("a/b", vec!["a/b/c"]),
            ("a-b", vec![]),
        ];
        for (path, expected) in cases {
            let found: Vec<&str> = beneath(path);
            assert_eq!(found, expected, "{path}");
        }
    }
}

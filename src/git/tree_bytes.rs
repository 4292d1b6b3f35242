//! Trees as git stores them, and the few entries in which some of them differ.
//!
//! A book of ten thousand projects has a folder with as many entries, and each of its commits changes one. So the bytes are
//! compared first, and only what lies between the same beginning and the same end is taken apart.

use super::GitError;
use super::snapshot::{Entry, EntryKind};

/// The mode of a folder.
pub(super) const FOLDER: i32 = 0o040_000;

/// One entry of a tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stored<'b> {
    pub(super) name: &'b [u8],
    /// One of the five modes that git knows.
    pub(super) mode: i32,
    pub(super) id: git2::Oid,
}

impl Stored<'_> {
    /// The file that it is; none for a folder.
    pub(super) fn file(&self) -> Option<Entry> {
        (self.mode != FOLDER).then(|| Entry { kind: EntryKind::of(self.mode), id: self.id })
    }
}

/// A folder as it is stored.
pub(super) struct StoredTree<'r>(git2::OdbObject<'r>);

impl<'r> StoredTree<'r> {
    /// Reads one.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(super) fn read(odb: &'r git2::Odb<'_>, id: git2::Oid) -> Result<Self, GitError> {
        let found = odb.read(id)?;
        if found.kind() == git2::ObjectType::Tree { Ok(StoredTree(found)) } else { Err(no_tree(id)) }
    }

    pub(super) fn id(&self) -> git2::Oid {
        self.0.id()
    }

    pub(super) fn bytes(&self) -> &[u8] {
        self.0.data()
    }

    /// Every entry.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(super) fn entries(&self) -> Result<Vec<Stored<'_>>, GitError> {
        let [found] = differing_from(0, [self.bytes()], 0).map_err(|NoTree| no_tree(self.id()))?;
        Ok(found)
    }

    /// The entry of a name.
    ///
    /// # Errors
    /// [`GitError::Damaged`].
    pub(super) fn find(&self, name: &str) -> Result<Option<Stored<'_>>, GitError> {
        let mut rest = self.bytes();
        while !rest.is_empty() {
            let (entry, length) = first(rest).map_err(|NoTree| no_tree(self.id()))?;
            if entry.name == name.as_bytes() {
                return Ok(Some(entry));
            }
            rest = &rest[length..];
        }
        Ok(None)
    }
}

/// What is said of something that is stored as a folder and is none.
fn no_tree(id: git2::Oid) -> GitError {
    GitError::Damaged { words: format!("{id} is no tree") }
}

/// Bytes that are no tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NoTree;

/// How many bytes a digest has.
const DIGEST: usize = 20;

/// How many bytes are compared in one go.
const STEP: usize = 256;

/// The entry with which bytes begin, and how long it is: its mode in octal digits, a space, its name, a zero, its digest.
fn first(bytes: &[u8]) -> Result<(Stored<'_>, usize), NoTree> {
    let space = memchr::memchr(b' ', bytes).ok_or(NoTree)?;
    let zero = space + 1 + memchr::memchr(0, &bytes[space + 1..]).ok_or(NoTree)?;
    let (digits, name) = (&bytes[..space], &bytes[space + 1..zero]);
    let id = bytes.get(zero + 1..zero + 1 + DIGEST).ok_or(NoTree)?;
    if digits.is_empty() || digits.len() > 7 || name.is_empty() {
        return Err(NoTree);
    }
    let mode = digits.iter().try_fold(0, |mode, digit| match digit {
        b'0'..=b'7' => Ok(mode * 8 + i32::from(digit - b'0')),
        _ => Err(NoTree),
    })?;
    let mode = if mode & 0o170_000 == FOLDER { FOLDER } else { EntryKind::of(mode).mode() };
    let id = git2::Oid::from_bytes(id).map_err(|_| NoTree)?;
    Ok((Stored { name, mode, id }, zero + 1 + DIGEST))
}

/// How many bytes are the same at the beginning of both.
fn alike(one: &[u8], other: &[u8]) -> usize {
    let steps = one.chunks_exact(STEP).zip(other.chunks_exact(STEP));
    let whole = steps.take_while(|(a, b)| a == b).count() * STEP;
    whole + one[whole..].iter().zip(&other[whole..]).take_while(|(a, b)| a == b).count()
}

/// How many bytes are the same at the end of both.
fn alike_at_end(one: &[u8], other: &[u8]) -> usize {
    let steps = one.rchunks_exact(STEP).zip(other.rchunks_exact(STEP));
    let whole = steps.take_while(|(a, b)| a == b).count() * STEP;
    let (one, other) = (&one[..one.len() - whole], &other[..other.len() - whole]);
    whole + one.iter().rev().zip(other.iter().rev()).take_while(|(a, b)| a == b).count()
}

/// Of each of some trees, the entries that may not be the same in all of them; one that is not there has no bytes.
///
/// # Errors
/// [`NoTree`], where that shows between the same beginning and the same end.
pub(super) fn differing<const N: usize>(trees: [&[u8]; N]) -> Result<[Vec<Stored<'_>>; N], NoTree> {
    let least = trees.iter().map(|tree| tree.len()).min().unwrap_or(0);
    let beginning = trees.iter().map(|tree| alike(trees[0], tree)).min().unwrap_or(0);
    let end = trees.iter().map(|tree| alike_at_end(trees[0], tree)).min().unwrap_or(0).min(least - beginning);
    let mut from = 0;
    while from < beginning {
        let (_, length) = first(&trees[0][from..])?;
        if from + length > beginning {
            break;
        }
        from += length;
    }
    differing_from(from, trees, end)
}

/// The same from a place on that is the beginning of an entry in all of them, where so many bytes at the end are the same.
fn differing_from<const N: usize>(
    from: usize,
    trees: [&[u8]; N],
    end: usize,
) -> Result<[Vec<Stored<'_>>; N], NoTree> {
    let mut rest = trees.map(|tree| &tree[from..]);
    let mut found = [const { Vec::new() }; N];
    // The same bytes are the same entries only from where all stand at the beginning of one.
    while let Some(longest) = (0..N).max_by_key(|side| rest[*side].len()) {
        let length = rest[longest].len();
        if length <= end && rest.iter().all(|rest| rest.len() == length) {
            break;
        }
        let (entry, length) = first(rest[longest])?;
        found[longest].push(entry);
        rest[longest] = &rest[longest][length..];
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot set its stage has to stop

    use proptest::prelude::*;

    use super::*;

    /// A tree as git stores it, of names that end in a digit and digests of a repeated byte.
    fn tree(entries: &[(u8, u8)]) -> Vec<u8> {
        let one = |(name, digest): &(u8, u8)| {
            let mode = if name % 3 == 0 { "40000" } else { "100644" };
            [format!("{mode} n{name:03}\0").as_bytes(), &[*digest; DIGEST]].concat()
        };
        entries.iter().flat_map(one).collect()
    }

    fn all(mut bytes: &[u8]) -> Vec<Stored<'_>> {
        let mut found = Vec::new();
        while !bytes.is_empty() {
            let (entry, length) = first(bytes).unwrap();
            found.push(entry);
            bytes = &bytes[length..];
        }
        found
    }

    fn check<const N: usize>(trees: [&[u8]; N]) {
        let every = trees.map(all);
        let found = differing(trees).unwrap();
        for (side, found) in found.iter().enumerate() {
            assert!(found.iter().all(|entry| every[side].contains(entry)));
            let passed_over: Vec<_> = every[side].iter().filter(|entry| !found.contains(entry)).collect();
            for entry in passed_over {
                assert!(every.iter().all(|others| others.contains(entry)), "{entry:?} is not in all");
            }
        }
        let same = trees.iter().all(|tree| *tree == trees[0]);
        assert!(!same || found.iter().all(Vec::is_empty), "the same trees differ in nothing");
    }

    #[test]
    fn the_least_is_taken_apart() {
        let many: Vec<(u8, u8)> = (0..200).map(|name| (name, 7)).collect();
        let whole = tree(&many);
        for changed in [0, 1, 99, 198, 199] {
            let mut other = many.clone();
            other[changed].1 = 8;
            let other = tree(&other);
            let found = differing([whole.as_slice(), &other]).unwrap();
            assert_eq!(found.each_ref().map(Vec::len), [1, 1], "{changed}");
            let mut gone = many.clone();
            gone.remove(changed);
            let gone = tree(&gone);
            check([whole.as_slice(), &gone]);
            check([&gone, whole.as_slice(), &other]);
            assert!(differing([whole.as_slice(), &gone]).unwrap()[0].len() <= 2, "{changed}");
        }
        check([&[], whole.as_slice()]);
        check([&[], &[]]);
        check([whole.as_slice(), &whole]);
    }

    #[test]
    fn bytes_that_are_no_tree_are_told() {
        let good = tree(&[(1, 1)]);
        for bad in
            [&good[..good.len() - 1], b"100644 \0", b"10064x a\0aaaaaaaaaaaaaaaaaaaa", b"junk", b" a\0"]
        {
            assert_eq!(differing([good.as_slice(), bad]), Err(NoTree), "{bad:?}");
        }
    }

    proptest! {
        /// Digests are drawn of bytes that names, modes and digests share, so that ends that look alike need not be.
        #[test]
        fn what_is_passed_over_is_the_same_everywhere(
            mut trees in prop::collection::vec(
                prop::collection::btree_map(0_u8..40, prop::sample::select(vec![0, 1, b' ', b'0', b'n', b'4']), 0..40),
                3,
            ),
            from_one in any::<[bool; 2]>(),
        ) {
            for (side, same) in from_one.into_iter().enumerate() {
                if same {
                    let mut like = trees[0].clone();
                    like.extend(trees[side + 1].iter().take(2));
                    trees[side + 1] = like;
                }
            }
            let bytes: Vec<Vec<u8>> =
                trees.iter().map(|one| tree(&one.iter().map(|(n, d)| (*n, *d)).collect::<Vec<_>>())).collect();
            check([bytes[0].as_slice(), &bytes[1]]);
            check([bytes[0].as_slice(), &bytes[1], &bytes[2]]);
        }
    }
}

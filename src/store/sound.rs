//! Records that a schema found nothing wrong with, by what they hold: a record that was held to its schema before, by the very
//! same program, need not be again.
//!
//! Making a schema ready costs more than all else that looking at one job does, and most records are as they were. What is
//! known beforehand is handed in by whoever can vouch for it, before the first record is read; the rest is asked as ever.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use crate::digest::Sha256Digest;
use crate::model::kind::Kind;

static SOUND: Mutex<Option<Sound>> = Mutex::new(None);

#[derive(Debug, Default)]
struct Sound {
    /// Each with whether it was asked for.
    known: HashMap<Sha256Digest, bool>,
    /// Those that were asked for, each once, in order.
    asked: Vec<Sha256Digest>,
    /// True where one of them was not known.
    grew: bool,
}

fn with<T>(look: impl FnOnce(&mut Option<Sound>) -> T) -> T {
    look(&mut SOUND.lock().unwrap_or_else(PoisonError::into_inner))
}

/// Begins to remember, with what is known already.
pub(crate) fn begin(known: impl IntoIterator<Item = Sha256Digest>) {
    let known = known.into_iter().map(|record| (record, false)).collect();
    with(|sound| *sound = Some(Sound { known, ..Sound::default() }));
}

/// Ends it: those that were asked for first, then the others, where there is anything new to remember.
pub(crate) fn end() -> Option<Vec<Sha256Digest>> {
    let Sound { known, asked, grew } = with(Option::take)?;
    let mut others: Vec<Sha256Digest> =
        known.into_iter().filter(|(_, asked)| !asked).map(|(one, _)| one).collect();
    others.sort_unstable();
    grew.then(|| asked.into_iter().chain(others).collect())
}

/// What stands for a record of a kind; none while nothing is remembered.
pub(super) fn named(kind: Kind, bytes: &[u8]) -> Option<Sha256Digest> {
    with(|sound| sound.is_some()).then(|| digest(kind, bytes))
}

/// The digest by which a record of a kind is known.
pub(crate) fn digest(kind: Kind, bytes: &[u8]) -> Sha256Digest {
    Sha256Digest::of(&[kind.name().as_bytes(), b"\n", bytes].concat())
}

/// True where it is known that nothing is wrong with it.
pub(super) fn is_known(record: Sha256Digest) -> bool {
    with(|sound| {
        let Some(Sound { known, asked, .. }) = sound else { return false };
        let Some(was_asked) = known.get_mut(&record) else { return false };
        if !std::mem::replace(was_asked, true) {
            asked.push(record);
        }
        true
    })
}

/// Remembers one with which nothing is wrong, and which was not known.
pub(super) fn found(record: Sha256Digest) {
    with(|sound| {
        if let Some(sound) = sound
            && sound.known.insert(record, true).is_none()
        {
            sound.asked.push(record);
            sound.grew = true;
        }
    });
}

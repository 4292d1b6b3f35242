//! Where trust starts. Everything else follows from here by signatures.

use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::trust::chain::{Chain, Pin};

/// What is believed before anything is read. With neither, a book is only held to itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Start {
    /// The book's fingerprint, as the shop's owner said it.
    pub fingerprint: Option<Sha256Digest>,
    /// The newest roster that was seen before, as this clone's pin or the state before a push tells it.
    pub seen: Option<Pin>,
}

impl Start {
    /// A fingerprint that somebody was told.
    #[must_use]
    pub fn told(fingerprint: Sha256Digest) -> Self {
        Start { fingerprint: Some(fingerprint), seen: None }
    }

    /// A roster that was verified before, such as that of the state before a push.
    #[must_use]
    pub fn after(chain: &Chain) -> Self {
        Start { fingerprint: Some(chain.fingerprint()), seen: Some(Pin::of(chain)) }
    }

    /// Holds a chain against it.
    ///
    /// # Errors
    /// `fingerprint-differs`, and as [`Pin::holds`].
    pub(crate) fn holds(&self, chain: &Chain) -> Outcome<()> {
        if let Some(told) = self.fingerprint.filter(|told| *told != chain.fingerprint()) {
            return Err(Box::new(
                Fault::trust(
                    "fingerprint-differs",
                    format!("the book's fingerprint is {}, and not {told}", chain.fingerprint()),
                )
                .in_file("roster/0001.json")
                .fix("this is another book; ask the shop's owner, and by telephone, which one is theirs"),
            ));
        }
        self.seen.as_ref().map_or(Ok(()), |pin| pin.holds(chain))
    }
}

//! Editions of the sentences that waivers and acknowledgements seal.
//!
//! A statement seals the very sentence that its signer saw, and the edition of the words. Whether it still fits is
//! judged in the words of its own edition: a later underlit that says the same in better words leaves every
//! signature standing, and a fact that changed still makes it stale. An edition that was ever signed is never
//! changed or taken out; better words are a new edition. Words whose meaning changes belong to a new topic or key.
//!
//! What a build pack says is sealed as keys and figures and not as words, so it has no edition.

use crate::light::thickness::Law;
use crate::model::statement::{Fact, Facts};
use crate::words::words;

words! {
    /// An edition of the sealed sentences.
    Wording, "edition of the sealed sentences" {
        /// One sentence a statement, and no edition named.
        First = "1",
        /// The edition is named; the cautions of each panel stand in a fact of their own, so that a job of any
        /// number of panels can be acknowledged.
        Second = "2",
        /// Masses and movement piece by piece, by the stone's material and the sheets that are there; protection against
        /// residual current in the terms of the site's code.
        Third = "3",
        /// How bright a stone is at a thickness that was not measured counts the stone's surfaces.
        Fourth = "4",
        /// Class 2 is named only where the code that is named for the site knows it.
        Fifth = "5",
    }
}

/// The fact that names the edition; the first edition has none.
pub const WORDING: &str = "wording";

impl Wording {
    /// The edition in which sentences are shown and signed now.
    pub const PRESENT: Wording = Wording::Fifth;

    /// The law of thickness in which its sentences give a stone's brightness.
    #[must_use]
    pub(crate) fn thickness_law(self) -> Law {
        match self {
            Wording::First | Wording::Second | Wording::Third => Law::First,
            Wording::Fourth | Wording::Fifth => Law::Present,
        }
    }

    /// The edition of a statement's facts. One that this underlit does not know is taken as the present one, so
    /// that the statement shows as not fitting rather than as nothing.
    #[must_use]
    pub fn of(facts: &Facts) -> Wording {
        match facts.get(WORDING) {
            None => Wording::First,
            Some(Fact::Text(word)) => word.parse().unwrap_or(Wording::PRESENT),
            Some(Fact::Number(_)) => Wording::PRESENT,
        }
    }
}

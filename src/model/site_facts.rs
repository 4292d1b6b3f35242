//! What a panel's outline rests on, and the very slab that will lie over it.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use crate::ids::TrialId;
use crate::words::words;

words! {
    /// What an outline was made from.
    BasisKind, "basis of an outline" {
        /// A drawing: nobody has been to the place.
        Drawing = "drawing",
        /// A template that was cut at the place.
        Template = "template",
        /// A survey of the place.
        Survey = "survey",
    }
}

impl BasisKind {
    /// True where somebody measured at the place.
    #[must_use]
    pub(crate) fn is_of_the_place(self) -> bool {
        self != BasisKind::Drawing
    }
}

/// What an outline was made from, by whom and when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OutlineBasis {
    /// What it was.
    pub kind: BasisKind,
    /// Who drew, cut or measured it.
    pub by: String,
    /// The day.
    pub date: Date,
    /// The client's file, by its name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The revision of that file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revision: Option<String>,
}

/// The very slab that will lie over a panel, where the swatch stands for its stone only.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ActualSlab {
    /// Its lot or bundle, and its own number where it has one.
    pub lot: String,
    /// A photo of this slab, lit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<Attachment>,
    /// The trial that was made on this very slab.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trial: Option<TrialId>,
    /// What is glued to its back, such as a mesh; none where nobody has looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub backing: Option<String>,
    /// Where it is filled or mended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fills: Option<String>,
    /// How the pieces of a split panel follow one another in the slab.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub book_match: Option<String>,
}
